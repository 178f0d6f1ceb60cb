//! Exams from somebody's calendar (RFC 5545): an instructor's or a registrar's.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use chrono::{Duration, NaiveDate, NaiveDateTime, TimeZone, Utc};
use chrono_tz::Tz;
use notes::value::{Minutes, Moment};
use notes::{BlockKind, Key, NameKey, NamedThing, Span};
use rrule::RRuleSet;

use crate::commands::course_title;
use crate::edit::NotebookEdit;
use crate::exams::all_exams;
use crate::ical::{Property, content_lines, unescaped};
use crate::new_field::line_ending;
use crate::zone::{course_zone, zone};
use crate::{Analysis, words};

/// Words by which an event is known to be an exam.
const EXAM_WORDS: [&str; 14] = [
    "exam",
    "exams",
    "examination",
    "examinations",
    "midterm",
    "midterms",
    "mid-term",
    "final",
    "finals",
    "quiz",
    "quizzes",
    "test",
    "tests",
    "resit",
];
/// How many days ahead repeated events are followed.
const DAYS_AHEAD: i64 = 400;
/// The most exams that are added at a time.
const MOST_ADDED: usize = 200;
/// The most repeated events that are followed; of the others the first occurrence counts.
const MOST_RULES: usize = 50;
/// The most occurrences of one event.
const MOST_OCCURRENCES: u16 = 100;
/// The longest title, in characters.
const LONGEST_TITLE: usize = 120;
/// How many remarks are made.
const MOST_REMARKS: usize = 20;

/// What to take from a calendar.
#[derive(Clone, Copy, Debug, Default)]
pub struct DatesRequest<'a> {
    /// The course that the exams belong to; the only one of the notes if not given.
    pub course: Option<&'a str>,
    /// The student's zone by its IANA name, where the course does not say its own.
    pub zone: Option<&'a str>,
    /// Take every event, rather than those that are called exam, midterm, final, quiz or test.
    pub all: bool,
}

/// What comes of a calendar.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Dates {
    /// The exams to add, as a change of the notes.
    pub edit: NotebookEdit,
    /// The exams that are added: title and date.
    pub added: Vec<(String, String)>,
    /// How many events the notes have already.
    pub known: usize,
    /// How many events are not called exams.
    pub passed_over: usize,
    /// How many events are past.
    pub past: usize,
    /// What else to know, each in a sentence.
    pub remarks: Vec<String>,
}

/// Why nothing is taken from a calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoDates {
    /// It is no calendar.
    NoCalendar,
    /// The notes have no course.
    NoCourse,
    /// The notes have several courses, and none was named.
    Several(Vec<String>),
    /// No course has this name.
    Unknown(String),
}

impl fmt::Display for NoDates {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoCalendar => f.write_str("holds no calendar: BEGIN:VCALENDAR is missing"),
            Self::NoCourse => f.write_str(
                "the notes have no course that the exams could belong to: write @course",
            ),
            Self::Several(courses) => write!(
                f,
                "the notes have several courses; name one with --course: {}",
                courses.join(", ")
            ),
            Self::Unknown(why) => f.write_str(why),
        }
    }
}

/// An event as it stands in the calendar.
#[derive(Clone, Debug, Default)]
struct Event {
    line: usize,
    uid: String,
    summary: String,
    location: String,
    start: Option<Start>,
    end: Option<Start>,
    duration: Option<i64>,
    /// RRULE, RDATE and EXDATE lines.
    rules: Vec<String>,
    recurrence: Option<Start>,
    cancelled: bool,
}

/// A start or an end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Start {
    Day(NaiveDate),
    /// A local time of a zone; of no zone, or of an unknown one, a time local to the student.
    Time(NaiveDateTime, Option<Tz>),
}

impl Start {
    fn naive(self) -> NaiveDateTime {
        match self {
            Self::Day(day) => day.and_time(chrono::NaiveTime::MIN),
            Self::Time(time, _) => time,
        }
    }

    fn with(self, naive: NaiveDateTime) -> Self {
        match self {
            Self::Day(_) => Self::Day(naive.date()),
            Self::Time(_, zone) => Self::Time(naive, zone),
        }
    }

    /// As the student sees it, whose zone this is.
    fn seen_from(self, own: Option<Tz>) -> Moment {
        match self {
            Self::Day(date) => Moment { date, time: None },
            Self::Time(local, zone) => {
                let there = zone.and_then(|zone| zone.from_local_datetime(&local).earliest());
                let seen = match (there, own) {
                    (Some(there), Some(own)) => there.with_timezone(&own).naive_local(),
                    _ => local,
                };
                Moment {
                    date: seen.date(),
                    time: Some(seen.time()),
                }
            }
        }
    }
}

/// Reads a calendar and works out which exams to add to the notes. Events that the notes have
/// already, by their UID or by their title, are not added again.
pub fn dates(analysis: &Analysis, text: &str, request: DatesRequest<'_>) -> Result<Dates, NoDates> {
    let lines = content_lines(text);
    let is_begin = |line: &str| line.trim().eq_ignore_ascii_case("BEGIN:VCALENDAR");
    if !lines.iter().any(|(_, line)| is_begin(line)) {
        return Err(NoDates::NoCalendar);
    }
    let course = find_course(analysis, request.course)?;
    let own = course_zone(analysis, &course)
        .and_then(|(_, zone)| zone)
        .or_else(|| request.zone.and_then(zone));
    let mut take = Take {
        analysis,
        course,
        own,
        dates: Dates::default(),
        rules: 0,
        left_out: 0,
    };
    let events = take.read(&lines);
    take.add(events, request.all);
    Ok(take.dates)
}

fn find_course(analysis: &Analysis, asked: Option<&str>) -> Result<NameKey, NoDates> {
    if let Some(asked) = asked {
        return crate::report::find_course(analysis, asked)
            .map_err(|none| NoDates::Unknown(none.to_string()));
    }
    let mut courses = analysis.notebook.courses();
    courses.retain(|course| !course.is_empty());
    match courses.len() {
        0 => Err(NoDates::NoCourse),
        1 => Ok(courses.remove(0)),
        _ => Err(NoDates::Several(
            courses
                .iter()
                .map(|course| course_title(analysis, course))
                .collect(),
        )),
    }
}

struct Take<'a> {
    analysis: &'a Analysis,
    course: NameKey,
    own: Option<Tz>,
    dates: Dates,
    /// Repeated events followed so far.
    rules: usize,
    /// Remarks that were not made.
    left_out: usize,
}

impl Take<'_> {
    fn remark(&mut self, remark: String) {
        match self.dates.remarks.len() < MOST_REMARKS {
            true => self.dates.remarks.push(remark),
            false => self.left_out += 1,
        }
    }

    /// The events of a calendar; what stands in components inside them does not count.
    fn read(&mut self, lines: &[(usize, std::borrow::Cow<'_, str>)]) -> Vec<Event> {
        let mut events = Vec::new();
        let mut open: Option<Event> = None;
        let mut inside = 0usize;
        let mut unreadable = 0;
        for (number, line) in lines {
            let Some(property) = Property::read(line) else {
                unreadable += 1;
                continue;
            };
            let value = property.value.trim();
            match (property.name.as_str(), &mut open) {
                ("BEGIN", None) if value.eq_ignore_ascii_case("VEVENT") => {
                    open = Some(Event {
                        line: *number,
                        ..Event::default()
                    });
                    inside = 0;
                }
                ("BEGIN", Some(_)) => inside += 1,
                ("END", Some(_)) if inside > 0 => inside -= 1,
                ("END", Some(_)) => events.extend(open.take()),
                (_, Some(event)) if inside == 0 => self.property(event, &property, line),
                _ => {}
            }
        }
        if let Some(event) = open {
            self.remark(format!(
                "The event on line {} does not end: it is left out.",
                event.line
            ));
        }
        if unreadable > 0 {
            let lines = words::count(unreadable, "line");
            self.remark(format!("{lines} of the calendar cannot be read."));
        }
        events
    }

    fn property(&mut self, event: &mut Event, property: &Property<'_>, line: &str) {
        let one_line = |value: &str| {
            let text = unescaped(value);
            text.split_whitespace().collect::<Vec<_>>().join(" ")
        };
        match property.name.as_str() {
            "UID" => event.uid = one_line(property.value),
            "SUMMARY" => event.summary = one_line(property.value),
            "LOCATION" => event.location = one_line(property.value),
            "DTSTART" => event.start = self.start(property, event.line),
            "DTEND" => event.end = self.start(property, event.line),
            "RECURRENCE-ID" => event.recurrence = self.start(property, event.line),
            "DURATION" => event.duration = minutes(property.value),
            "STATUS" => event.cancelled = property.value.trim().eq_ignore_ascii_case("CANCELLED"),
            "RRULE" | "RDATE" | "EXDATE" => event.rules.push(line.to_owned()),
            _ => {}
        }
    }

    /// A DATE or DATE-TIME (RFC 5545, sections 3.3.4 and 3.3.5).
    fn start(&mut self, property: &Property<'_>, line: usize) -> Option<Start> {
        let value = property.value.trim();
        let (day, time) = value.split_once(['T', 't']).unwrap_or((value, ""));
        let date = NaiveDate::parse_from_str(day, "%Y%m%d")
            .ok()
            .filter(|_| day.len() == 8);
        let Some(date) = date else {
            self.remark(format!(
                "The event on line {line} has the date {}, which is none.",
                words::cut(value, 30)
            ));
            return None;
        };
        if time.is_empty() {
            return Some(Start::Day(date));
        }
        let (clock, is_utc) = match time.strip_suffix(['Z', 'z']) {
            Some(clock) => (clock, true),
            None => (time, false),
        };
        let Ok(clock) = chrono::NaiveTime::parse_from_str(clock, "%H%M%S") else {
            self.remark(format!(
                "The event on line {line} has the time {}, which is none.",
                words::cut(time, 30)
            ));
            return None;
        };
        let local = date.and_time(clock);
        let own_zone = match property.parameter("TZID") {
            _ if is_utc => Some(Tz::UTC),
            None => None,
            Some(name) => {
                let found = zone_of(name);
                if found.is_none() {
                    self.remark(format!(
                        "The event on line {line} is in the time zone {}, which is not known: its time \
                         is taken as yours.",
                        words::cut(name, 40)
                    ));
                }
                found
            }
        };
        if own_zone.is_some() && self.own.is_none() {
            self.remark(format!(
                "Your time zone is not known, so the time of the event on line {line} is that of its \
                 own: write zone: below @course."
            ));
        }
        Some(Start::Time(local, own_zone))
    }

    fn add(&mut self, events: Vec<Event>, all: bool) {
        let today = self.analysis.today();
        let mut changed: BTreeMap<(String, NaiveDateTime), Event> = BTreeMap::new();
        let mut masters = Vec::new();
        for event in events {
            match event.recurrence {
                Some(of) => {
                    changed.insert((event.uid.clone(), of.naive()), event);
                }
                None => masters.push(event),
            }
        }
        let mut found: Vec<(String, Moment, Event)> = Vec::new();
        for event in masters {
            if event.cancelled {
                continue;
            }
            if !all && !is_exam(&event.summary) {
                self.dates.passed_over += 1;
                continue;
            }
            let Some(start) = event.start else {
                self.remark(format!("The event on line {} has no start.", event.line));
                continue;
            };
            let repeats = event.rules.iter().any(|line| !line.starts_with("EXDATE"));
            for occurrence in self.occurrences(&event, start, today) {
                let key = (event.uid.clone(), occurrence.naive());
                let mut one = event.clone();
                let mut at = occurrence;
                if let Some(other) = changed.get(&key) {
                    if other.cancelled {
                        continue;
                    }
                    at = other.start.unwrap_or(occurrence);
                    one = Event {
                        rules: Vec::new(),
                        ..other.clone()
                    };
                    if one.summary.is_empty() {
                        one.summary.clone_from(&event.summary);
                    }
                }
                let moment = at.seen_from(self.own);
                let mut uid = event.uid.clone();
                if repeats && !uid.is_empty() {
                    uid.push_str(&format!(" {}", occurrence.naive().date()));
                }
                if repeats {
                    one.summary.push_str(&format!(" ({})", moment.date));
                }
                if moment.date < today {
                    self.dates.past += 1;
                    continue;
                }
                one.duration = one.duration.or_else(|| {
                    let end = one.end.or(event.end)?.naive();
                    let from = one.start.or(event.start)?.naive();
                    Some(end.signed_duration_since(from).num_minutes())
                });
                found.push((uid, moment, one));
            }
        }
        found.sort_by(|a, b| (a.1, &a.2.summary).cmp(&(b.1, &b.2.summary)));
        self.write(found);
        if self.left_out > 0 {
            let more = words::count(self.left_out, "more remark");
            self.dates.remarks.push(format!("and {more}"));
        }
    }

    /// The occurrences of an event that are not long past or far ahead.
    fn occurrences(&mut self, event: &Event, start: Start, today: NaiveDate) -> Vec<Start> {
        if event.rules.is_empty() {
            return vec![start];
        }
        let only_first = |take: &mut Self, why: &str| {
            take.remark(format!(
                "{} on line {} repeats {why}: only its first date counts.",
                words::cut(&event.summary, 40),
                event.line
            ));
            vec![start]
        };
        let often = ["SECONDLY", "MINUTELY", "HOURLY"];
        let upper: Vec<String> = event
            .rules
            .iter()
            .map(|rule| rule.to_ascii_uppercase())
            .collect();
        if upper
            .iter()
            .any(|rule| often.iter().any(|word| rule.contains(word)))
        {
            return only_first(self, "more often than daily");
        }
        self.rules += 1;
        if self.rules > MOST_RULES {
            return only_first(self, "like more events than are followed");
        }
        // The rules are followed in the event's own zone; a local time counts in UTC here, and
        // stays the local time that it is.
        let zone = match start {
            Start::Time(_, Some(zone)) => zone,
            _ => Tz::UTC,
        };
        let stamp = start.naive().format("%Y%m%dT%H%M%S");
        let mut text = match zone {
            Tz::UTC => format!("DTSTART:{stamp}Z\n"),
            zone => format!("DTSTART;TZID={zone}:{stamp}\n"),
        };
        for rule in &event.rules {
            text.push_str(&in_zone(rule, zone));
            text.push('\n');
        }
        let Ok(set) = text.parse::<RRuleSet>() else {
            return only_first(self, "by a rule that cannot be read");
        };
        let instant = |date: NaiveDate| {
            Utc.from_utc_datetime(&date.and_time(chrono::NaiveTime::MIN))
                .with_timezone(&rrule::Tz::UTC)
        };
        let result = set
            .after(instant(today - Duration::days(1)))
            .before(instant(today + Duration::days(DAYS_AHEAD)))
            .all(MOST_OCCURRENCES);
        if result.limited {
            self.remark(format!(
                "{} on line {} repeats more often than can be followed: its first {} dates count.",
                words::cut(&event.summary, 40),
                event.line,
                result.dates.len()
            ));
        }
        let local = |at: &chrono::DateTime<rrule::Tz>| start.with(at.naive_local());
        result.dates.iter().map(local).collect()
    }

    /// Writes the exams that are not known yet into the course's file.
    fn write(&mut self, found: Vec<(String, Moment, Event)>) {
        let exams = all_exams(self.analysis);
        let mut uids: BTreeMap<String, (String, Option<Moment>)> = BTreeMap::new();
        let mut titles: BTreeMap<NameKey, Option<Moment>> = BTreeMap::new();
        for exam in &exams {
            if let Some(uid) = exam.at.field_text(Key::Uid) {
                let uid = uid.split_whitespace().collect::<Vec<_>>().join(" ");
                uids.insert(uid, (exam.name(), exam.on));
            }
            if exam.course == self.course {
                titles.insert(exam.at.block.name.clone(), exam.on);
            }
        }
        let mut blocks = Vec::new();
        let mut too_many = 0;
        let mut taken: BTreeSet<String> = BTreeSet::new();
        for (uid, moment, event) in found {
            let title = title(&event.summary);
            let known = uids.get(&uid).filter(|_| !uid.is_empty()).cloned();
            let known = known.or_else(|| {
                let on = titles.get(&NameKey::new(&title))?;
                Some((title.clone(), *on))
            });
            if let Some((name, on)) = known {
                self.dates.known += 1;
                if on != Some(moment) {
                    let here = on.map_or_else(|| "no date".to_owned(), |on| on.to_string());
                    self.remark(format!(
                        "{name} is on {moment} in the calendar, and the notes say {here}."
                    ));
                }
                continue;
            }
            if !uid.is_empty() && !taken.insert(uid.clone()) {
                continue;
            }
            if blocks.len() == MOST_ADDED {
                too_many += 1;
                continue;
            }
            titles.insert(NameKey::new(&title), Some(moment));
            let mut block = vec![format!("@exam {title}"), format!("  on: {moment}")];
            let length = event.duration.filter(|m| (1..=12 * 60).contains(m));
            if let (Some(length), true) = (length, moment.time.is_some()) {
                block.push(format!("  length: {}", Minutes(length as u32)));
            }
            if !event.location.is_empty() {
                block.push(format!("  room: {}", plain(&event.location)));
            }
            if !uid.is_empty() {
                block.push(format!("  uid: {}", plain(&uid)));
            }
            blocks.push(block);
            self.dates.added.push((title, moment.to_string()));
        }
        if too_many > 0 {
            let events = words::count(too_many, "event");
            self.remark(format!(
                "{events} left out: at most {MOST_ADDED} exams are added at a time."
            ));
        }
        self.insert(&blocks);
    }

    /// Puts the blocks behind the course's last exam, or behind the course.
    fn insert(&mut self, blocks: &[Vec<String>]) {
        let notebook = &self.analysis.notebook;
        let course = notebook.definition(&NamedThing {
            course: NameKey::default(),
            kind: BlockKind::Course,
            name: self.course.clone(),
        });
        let Some(course) = course.filter(|_| !blocks.is_empty()) else {
            return;
        };
        let exams = notebook.of_kind(&self.course, BlockKind::Exam);
        let here = exams.filter(|at| at.path == course.path);
        let last = here.last().unwrap_or(course);
        let end = last.in_file(last.block.extent).end as usize;
        let text = course.file.text();
        let rest = text.bytes_at(end.min(text.len_bytes()));
        let place = end + rest.take_while(|b| *b != b'\n' && *b != b'\r').count();
        let ending = line_ending(course.file, usize::MAX);
        let mut added = String::new();
        for block in blocks {
            added.push_str(&ending);
            for line in block {
                added.push_str(&ending);
                added.push_str(line);
            }
        }
        self.dates.edit.replace(course.path, Span::at(place), added);
    }
}

/// Whether an event is called an exam.
fn is_exam(summary: &str) -> bool {
    let lower = summary.to_lowercase();
    lower
        .split(|c: char| !c.is_alphanumeric() && c != '-')
        .any(|word| EXAM_WORDS.contains(&word))
}

/// A zone as calendars name it: some put a path before the name.
fn zone_of(name: &str) -> Option<Tz> {
    let parts: Vec<&str> = name.trim().split('/').collect();
    (0..parts.len()).find_map(|from| zone(&parts[from..].join("/")))
}

/// A rule as it is followed in a zone: dates without a time start the day, times without a zone
/// are in this one, and UNTIL is in UTC, as the standard wants it and not every calendar has it.
fn in_zone(rule: &str, zone: Tz) -> String {
    let Some(property) = Property::read(rule) else {
        return rule.to_owned();
    };
    let utc = |value: &str| {
        let (day, time) = value.split_once(['T', 't']).unwrap_or((value, "000000"));
        let time = time.trim_end_matches(['Z', 'z']);
        format!("{day}T{time}Z")
    };
    match property.name.as_str() {
        "RRULE" => {
            let parts = property.value.split(';').map(|part| {
                let until = part
                    .get(..6)
                    .filter(|name| name.eq_ignore_ascii_case("UNTIL="))
                    .and(part.get(6..));
                match until {
                    // The whole last day counts where it has no time.
                    Some(until) if !until.contains(['T', 't']) => format!("UNTIL={until}T235959Z"),
                    Some(until) => format!("UNTIL={}", utc(until)),
                    None => part.to_owned(),
                }
            });
            format!("RRULE:{}", parts.collect::<Vec<_>>().join(";"))
        }
        name => {
            let values = property.value.split(',').map(str::trim);
            let is_utc = property.value.ends_with(['Z', 'z']) || zone == Tz::UTC;
            let in_utc = values.clone().map(utc).collect::<Vec<_>>().join(",");
            if is_utc {
                return format!("{name}:{in_utc}");
            }
            let local = in_utc.replace('Z', "");
            let own = property.parameter("TZID").and_then(zone_of).unwrap_or(zone);
            format!("{name};TZID={own}:{local}")
        }
    }
}

/// A title that a header can hold.
fn title(summary: &str) -> String {
    let title = plain(&words::cut(summary, LONGEST_TITLE));
    match title.is_empty() {
        true => "Exam".to_owned(),
        false => title,
    }
}

/// Text in which nothing is a formula or a comment.
fn plain(text: &str) -> String {
    let mut out = String::new();
    for c in text.chars().filter(|c| !c.is_control()) {
        if matches!(c, '$' | '%') {
            out.push('\\');
        }
        out.push(c);
    }
    out.trim().to_owned()
}

/// A DURATION (RFC 5545, section 3.3.6), in minutes.
fn minutes(value: &str) -> Option<i64> {
    let rest = value.trim().trim_start_matches('+').strip_prefix('P')?;
    let (mut sum, mut number): (i64, Option<i64>) = (0, None);
    for c in rest.chars() {
        if let Some(digit) = c.to_digit(10) {
            let so_far = number.unwrap_or(0);
            number = Some(so_far.checked_mul(10)?.checked_add(digit.into())?);
            continue;
        }
        let of = match c.to_ascii_uppercase() {
            'T' => continue,
            'W' => 7 * 24 * 60,
            'D' => 24 * 60,
            'H' => 60,
            'M' => 1,
            'S' => 0,
            _ => return None,
        };
        sum = sum.checked_add(number.take()?.checked_mul(of)?)?;
    }
    Some(sum)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use proptest::prelude::*;

    const NOTES: &str =
        "@course Waves\n  zone: America/New_York\n\n@exam Quiz\n  on: 2027-02-20\n\n@topic 1 A\n";

    fn calendar(events: &[&str]) -> String {
        let events = events
            .iter()
            .map(|event| format!("BEGIN:VEVENT\n{event}\nEND:VEVENT\n"));
        format!(
            "BEGIN:VCALENDAR\nVERSION:2.0\n{}END:VCALENDAR\n",
            events.collect::<String>()
        )
        .replace('\n', "\r\n")
    }

    /// Prints what is added to the notes, then the remarks.
    fn check(events: &[&str], expected: &str) {
        let fixture = fixture::notebook(NOTES);
        let found = dates(
            fixture.analysis(),
            &calendar(events),
            DatesRequest::default(),
        )
        .expect("a calendar");
        let edits = found.edit.files.values().flatten();
        let mut said: Vec<String> = edits
            .map(|edit| edit.text.trim_start().to_owned())
            .collect();
        said.extend(found.remarks.iter().cloned());
        assert_eq!(said.join("\n---\n"), expected);
        let after = fixture.after(&found.edit);
        if !found.edit.is_empty() {
            assert!(
                after.starts_with("@course Waves\n") && after.ends_with("\n@topic 1 A\n"),
                "{after}"
            );
        }
    }

    #[test]
    fn an_event_becomes_an_exam() {
        check(
            &[
                "UID:a@b\nSUMMARY:Midterm\\, 50% of $x$\nDTSTART;TZID=America/New_York:20270226T100000\n\
               DTEND;TZID=America/New_York:20270226T111500\nLOCATION:Hall 2\\; left\nBEGIN:VALARM\n\
               SUMMARY:Alarm\nTRIGGER:-P1D\nEND:VALARM",
            ],
            "@exam Midterm, 50\\% of \\$x\\$\n  on: 2027-02-26 10:00\n  length: 1 h 15 min\n  \
             room: Hall 2; left\n  uid: a@b",
        );
        check(
            &["UID:a@b\nSUMMARY:Final exam\nDTSTART;VALUE=DATE:20270426"],
            "@exam Final exam\n  on: 2027-04-26\n  uid: a@b",
        );
        check(&["SUMMARY:Lecture\nDTSTART:20270226T100000Z"], "");
    }

    #[test]
    fn times_of_other_zones_are_seen_from_here() {
        check(
            &[
                "UID:a\nSUMMARY:Exam A\nDTSTART:20270226T150000Z\nDURATION:PT1H30M",
                "UID:b\nSUMMARY:Exam B\nDTSTART;TZID=/x/Europe/Berlin:20270226T100000",
                "UID:c\nSUMMARY:Exam C\nDTSTART;TZID=Mars:20270226T100000",
            ],
            "@exam Exam B\n  on: 2027-02-26 04:00\n  uid: b\n\n@exam Exam A\n  on: 2027-02-26 10:00\n  \
             length: 1 h 30 min\n  uid: a\n\n@exam Exam C\n  on: 2027-02-26 10:00\n  uid: c\n---\n\
             The event on line 14 is in the time zone Mars, which is not known: its time is taken as yours.",
        );
    }

    #[test]
    fn repeated_events_are_followed() {
        check(
            &[
                "UID:w\nSUMMARY:Weekly test\nDTSTART;TZID=America/New_York:20270205T090000\n\
               RRULE:FREQ=WEEKLY;UNTIL=20270312\nEXDATE;TZID=America/New_York:20270226T090000",
                "UID:w\nRECURRENCE-ID;TZID=America/New_York:20270305T090000\nSUMMARY:Weekly test\n\
               DTSTART;TZID=America/New_York:20270306T110000",
            ],
            "@exam Weekly test (2027-02-19)\n  on: 2027-02-19 09:00\n  uid: w 2027-02-19\n\n\
             @exam Weekly test (2027-03-06)\n  on: 2027-03-06 11:00\n  uid: w 2027-03-05\n\n\
             @exam Weekly test (2027-03-12)\n  on: 2027-03-12 09:00\n  uid: w 2027-03-12",
        );
    }

    #[test]
    fn known_events_are_not_added_again() {
        let events = calendar(&["UID:a@b\nSUMMARY:Final\nDTSTART;VALUE=DATE:20270426"]);
        let first = fixture::notebook(NOTES);
        let found = dates(first.analysis(), &events, DatesRequest::default()).expect("a calendar");
        let second = fixture::notebook(
            &first
                .after(&found.edit)
                .replace("@exam Final", "@exam The last one"),
        );
        let again = dates(second.analysis(), &events, DatesRequest::default()).expect("a calendar");
        assert!(again.edit.is_empty() && again.known == 1 && again.remarks.is_empty());
        let moved = events.replace("20270426", "20270427");
        let again = dates(second.analysis(), &moved, DatesRequest::default()).expect("a calendar");
        assert!(again.edit.is_empty());
        assert_eq!(
            again.remarks,
            ["The last one is on 2027-04-27 in the calendar, and the notes say 2027-04-26."]
        );
        check(&["UID:q\nSUMMARY:quiz\nDTSTART;VALUE=DATE:20270220"], "");
    }

    #[test]
    fn rules_that_never_end_are_bounded() {
        let first = "only its first date counts.";
        for rule in ["FREQ=SECONDLY", "FREQ=WEEKLY;BYMONTH=99", "nonsense"] {
            let fixture = fixture::notebook(NOTES);
            let event = format!("UID:w\nSUMMARY:Test\nDTSTART:20270301T090000Z\nRRULE:{rule}");
            let found = dates(
                fixture.analysis(),
                &calendar(&[&event]),
                DatesRequest::default(),
            )
            .expect("a calendar");
            assert_eq!(found.added.len(), 1, "{rule}");
            assert!(found.remarks[0].ends_with(first), "{:?}", found.remarks);
        }
        let fixture = fixture::notebook(NOTES);
        let daily = "UID:w\nSUMMARY:Test\nDTSTART:19700301T090000Z\nRRULE:FREQ=DAILY";
        let never = "UID:n\nSUMMARY:Test\nDTSTART:20270301T090000Z\nRRULE:FREQ=YEARLY;BYMONTH=2;BYMONTHDAY=30";
        let found = dates(
            fixture.analysis(),
            &calendar(&[daily, never]),
            DatesRequest::default(),
        )
        .expect("a calendar");
        // One of them was yesterday.
        assert_eq!(found.added.len(), usize::from(MOST_OCCURRENCES) - 1);
        let many: Vec<&str> = std::iter::repeat_n(daily, 500).collect();
        let found = dates(
            fixture.analysis(),
            &calendar(&many),
            DatesRequest::default(),
        )
        .expect("a calendar");
        assert!(found.remarks.len() <= MOST_REMARKS + 1);
    }

    #[test]
    fn what_is_wrong_is_said() {
        let refused = |notes: &str, text: &str, course| {
            let fixture = fixture::notebook(notes);
            let request = DatesRequest {
                course,
                ..DatesRequest::default()
            };
            dates(fixture.analysis(), text, request)
                .expect_err("refused")
                .to_string()
        };
        let empty = calendar(&[]);
        assert_eq!(
            refused(NOTES, "bread", None),
            "holds no calendar: BEGIN:VCALENDAR is missing"
        );
        assert!(refused("", &empty, None).contains("write @course"));
        let two = "=== a.porism\n@course A\n=== b.porism\n@course B\n";
        assert_eq!(
            refused(two, &empty, None),
            "the notes have several courses; name one with --course: A, B"
        );
        assert!(refused(NOTES, &empty, Some("Wave")).contains("No course is called Wave"));
        check(
            &[
                "UID:a\nSUMMARY:Test\nDTSTART:2027-02-26",
                "UID:b\nSUMMARY:Test\nnonsense",
            ],
            "The event on line 3 has the date 2027-02-26, which is none.\n---\n1 line of the calendar \
             cannot be read.\n---\nThe event on line 3 has no start.\n---\nThe event on line 8 has no start.",
        );
    }

    proptest! {
        #[test]
        fn any_calendar_is_read(lines in prop::collection::vec(
            "(BEGIN:VEVENT|END:VEVENT|END:X|SUMMARY:Test|UID:[ab]|DTSTART(;TZID=[A-Z/a-z]{0,9})?:[0-9TZ]{0,16}|RRULE:FREQ=(DAILY|YEARLY|X);COUNT=[0-9]{0,3}|[ -~]{0,20})", 0..30
        )) {
            let fixture = fixture::notebook(NOTES);
            let text = format!("BEGIN:VCALENDAR\n{}\n", lines.join("\n"));
            let found = dates(fixture.analysis(), &text, DatesRequest::default()).expect("a calendar");
            if !found.edit.is_empty() {
                let after = fixture.after(&found.edit);
                prop_assert_eq!(after.matches("@exam").count(), 1 + found.added.len());
            }
        }
    }
}
