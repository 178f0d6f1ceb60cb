//! The exams, the days on which revision begins, the plan and its mock tests as a calendar file
//! (RFC 5545), to be imported, and imported again when the notes have changed.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use chrono::{Days, NaiveDate, NaiveDateTime};
use chrono_tz::Tz;
use notes::Key;
use notes::value::{Minutes, Moment, NotesUse};

use crate::commands::course_title;
use crate::exams::{Exam, all_exams, topic_title};
use crate::ical::{Property, Writer, content_lines, escaped, unescaped};
use crate::plan::{PlannedDay, PlannedMock, named_exam, plan};
use crate::zone::{course_zone, instant, vtimezone, zone};
use crate::{Analysis, words};

/// By which the program knows its own calendars.
const PRODUCT: &str = "-//Porism//Porism//EN";
/// Behind the `@` of every UID.
const HOST: &str = "porism";

/// What a calendar is made with, besides the notes.
#[derive(Clone, Copy, Debug, Default)]
pub struct CalendarRequest<'a> {
    /// The student's zone by its IANA name, for courses that do not say theirs.
    pub zone: Option<&'a str>,
    /// The calendar that was made before, if there is one: what changed since gets a higher
    /// sequence number, and what is gone is cancelled.
    pub before: Option<&'a str>,
}

/// A calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Calendar {
    /// The text of the file.
    pub text: String,
    /// How many exams it holds.
    pub exams: usize,
    /// How many days of the plan.
    pub days: usize,
    /// How many mock tests.
    pub mocks: usize,
    /// How many events were cancelled.
    pub cancelled: usize,
    /// What to know of it, each in a sentence.
    pub remarks: Vec<String>,
}

impl Calendar {
    /// What it holds, in words.
    pub fn summary(&self) -> String {
        let mut said = format!(
            "{}, {} and {}",
            words::count(self.exams, "exam"),
            words::count(self.days, "planned day"),
            words::count(self.mocks, "mock test"),
        );
        if self.cancelled > 0 {
            said.push_str(&format!("; {} cancelled", self.cancelled));
        }
        said
    }
}

/// Why no calendar is made.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoCalendar {
    /// The calendar that was there before is not one of ours.
    Foreign,
    /// There is no zone of this name.
    UnknownZone(String),
}

impl fmt::Display for NoCalendar {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Foreign => f.write_str(
                "holds something else than a calendar by porism, and is left as it is; name another file",
            ),
            Self::UnknownZone(name) => write!(
                f,
                "there is no time zone {name}; names are those of the IANA database, such as Europe/Berlin"
            ),
        }
    }
}

/// An event: its content lines without UID, DTSTAMP and SEQUENCE.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Event {
    lines: Vec<String>,
}

/// An event of the calendar that was made before.
#[derive(Clone, Debug)]
struct Earlier {
    event: Event,
    stamp: String,
    sequence: u32,
    /// The first day of it.
    starts: Option<NaiveDate>,
}

/// Makes the calendar. Same notes, instant, zone and earlier calendar: same bytes.
pub fn calendar(analysis: &Analysis, request: CalendarRequest<'_>) -> Result<Calendar, NoCalendar> {
    let own_zone = match request.zone {
        Some(name) => Some(zone(name).ok_or_else(|| NoCalendar::UnknownZone(name.to_owned()))?),
        None => None,
    };
    let earlier = match request.before {
        Some(text) => earlier(text).ok_or(NoCalendar::Foreign)?,
        None => BTreeMap::new(),
    };
    let mut make = Make {
        analysis,
        own_zone,
        events: BTreeMap::new(),
        zones: BTreeMap::new(),
        remarks: Vec::new(),
    };
    let exams = all_exams(analysis);
    let dated: Vec<&Exam<'_>> = exams.iter().filter(|exam| exam.on.is_some()).collect();
    for exam in &dated {
        make.exam(exam);
    }
    if dated.len() < exams.len() {
        let n = words::count(exams.len() - dated.len(), "exam");
        make.remarks.push(format!("{n} without a date left out."));
    }
    let plan = plan(analysis, false);
    let (mut days, mut mocks) = (0, 0);
    for day in &plan.days {
        mocks += usize::from(day.mock.is_some());
        days += usize::from(!day.blocks.is_empty());
        make.planned(day);
    }
    let (text, cancelled) = make.text(&earlier);
    Ok(Calendar {
        text,
        exams: dated.len(),
        days,
        mocks,
        cancelled,
        remarks: make.remarks,
    })
}

struct Make<'a> {
    analysis: &'a Analysis,
    own_zone: Option<Tz>,
    /// The events by UID.
    events: BTreeMap<String, Event>,
    /// The local times that occur in each zone.
    zones: BTreeMap<String, (Tz, BTreeSet<NaiveDateTime>)>,
    remarks: Vec<String>,
}

impl Make<'_> {
    fn exam(&mut self, exam: &Exam<'_>) {
        let Some(on) = exam.on else { return };
        let course = course_title(self.analysis, &exam.course);
        let name = named_exam(&exam.name(), &course);
        let identity = identity(&format!("{}\n{}", exam.course, exam.at.block.name));
        let mut event = Event::new(&name);
        let length = exam.at.block.duration(Key::Length);
        self.when(&mut event, exam, on, length, &name);
        if let Some(room) = exam.at.field_text(Key::Room) {
            event.text("LOCATION", &room);
        }
        event.text("DESCRIPTION", &self.description(exam));
        for (days, when) in [(7, "in a week"), (3, "in three days")] {
            event.lines.extend([
                "BEGIN:VALARM".to_owned(),
                "ACTION:DISPLAY".to_owned(),
                format!("DESCRIPTION:{}", escaped(&format!("{name} {when}"))),
                format!("TRIGGER:-P{days}D"),
                "END:VALARM".to_owned(),
            ]);
        }
        self.add(format!("exam-{identity}@{HOST}"), event);
        if let Some(start) = exam.window_start.filter(|start| *start < on.date) {
            let mut event = Event::new(&format!("Revision begins: {name}"));
            event.all_day(start);
            event.text(
                "DESCRIPTION",
                &format!("The exam is on {on}. What to do next: porism next"),
            );
            self.add(format!("window-{identity}@{HOST}"), event);
        }
    }

    /// Says when an exam is.
    fn when(
        &mut self,
        event: &mut Event,
        exam: &Exam<'_>,
        on: Moment,
        length: Option<Minutes>,
        name: &str,
    ) {
        let Some(time) = on.time else {
            return event.all_day_busy(on.date);
        };
        let local = on.date.and_time(time);
        let said = course_zone(self.analysis, &exam.course);
        if let Some((unknown, None)) = &said {
            self.remarks.push(format!(
                "There is no time zone {unknown}, which the course of {name} names."
            ));
        }
        let zone = said.and_then(|(_, zone)| zone).or(self.own_zone);
        let Some(zone) = zone else {
            self.remarks.push(format!(
                "The time of {name} has no time zone: write zone: below @course, such as Europe/Berlin."
            ));
            event.lines.push(format!("DTSTART:{}", stamp(local)));
            if let Some(end) = length.and_then(|length| later(local, length)) {
                event.lines.push(format!("DTEND:{}", stamp(end)));
            }
            return;
        };
        let Some(start) = instant(zone, local) else {
            self.remarks.push(format!(
                "{name} is on {on}, which the clocks of {zone} skip: it is set down for the whole day."
            ));
            return event.all_day_busy(on.date);
        };
        let (_, times) = self
            .zones
            .entry(zone.name().to_owned())
            .or_insert_with(|| (zone, BTreeSet::new()));
        times.insert(local);
        event
            .lines
            .push(format!("DTSTART;TZID={zone}:{}", stamp(local)));
        let end = length.and_then(|Minutes(minutes)| {
            start.checked_add_signed(chrono::Duration::minutes(minutes.into()))
        });
        if let Some(end) = end {
            times.insert(end.naive_local());
            event
                .lines
                .push(format!("DTEND;TZID={zone}:{}", stamp(end.naive_local())));
        }
    }

    fn description(&self, exam: &Exam<'_>) -> String {
        let notebook = &self.analysis.notebook;
        let topics: Vec<String> = exam
            .topics
            .iter()
            .map(|topic| topic_title(notebook, &exam.course, topic))
            .collect();
        let mut lines = Vec::new();
        if !topics.is_empty() {
            lines.push(format!("Covers {}", topics.join("; ")));
        }
        lines.push(format!("Target {}", words::percent(exam.target)));
        lines.extend(
            exam.at
                .field_text(Key::Notes)
                .map(|notes| format!("Notes: {notes}")),
        );
        lines.join("\n")
    }

    fn planned(&mut self, day: &PlannedDay) {
        if let Some(mock) = &day.mock {
            let name = named_exam(&mock.exam, &mock.course);
            let identity = identity(&format!("{}\n{}", mock.course, mock.exam));
            let mut event = Event::new(&mock_title(mock, &name));
            event.all_day(day.date);
            event.text("DESCRIPTION", LIMITS);
            let uid = format!("mock-{}-{identity}@{HOST}", mock.number);
            self.add(uid, event);
        }
        if day.blocks.is_empty() {
            return;
        }
        let minutes: u32 = day.blocks.iter().map(|block| block.minutes).sum();
        let mut event = Event::new(&format!(
            "Study {minutes} min, {}",
            words::count(day.blocks.len(), "block")
        ));
        event.all_day(day.date);
        let blocks = day.blocks.iter().map(|block| {
            let activity = if block.relearn { "relearn" } else { "practise" };
            let from = block
                .problem
                .as_ref()
                .map(|problem| format!(", from {problem}"));
            format!(
                "{} min: {activity} {}{} ({})",
                block.minutes,
                block.pattern,
                from.unwrap_or_default(),
                named_exam(&block.exam, &block.course)
            )
        });
        let mut lines: Vec<String> = blocks.collect();
        lines.push(LIMITS.to_owned());
        event.text("DESCRIPTION", &lines.join("\n"));
        self.add(format!("plan-{}@{HOST}", day.date), event);
    }

    fn add(&mut self, uid: String, event: Event) {
        // Of two exams of one name in one course the first counts, as everywhere.
        self.events.entry(uid).or_insert(event);
    }

    /// The text, and how many events of the earlier calendar are cancelled in it.
    fn text(&self, earlier: &BTreeMap<String, Earlier>) -> (String, usize) {
        let today = self.analysis.today();
        let now = format!("{}T000000Z", today.format("%Y%m%d"));
        let mut out = Writer::default();
        out.line("BEGIN:VCALENDAR");
        out.line("VERSION:2.0");
        out.line(&format!("PRODID:{PRODUCT}"));
        out.line("CALSCALE:GREGORIAN");
        for (zone, times) in self.zones.values() {
            for line in vtimezone(*zone, times) {
                out.line(&line);
            }
        }
        let mut cancelled = 0;
        let mut uids: BTreeSet<&String> = self.events.keys().collect();
        uids.extend(earlier.keys());
        for uid in uids {
            let before = earlier.get(uid);
            let event = match (self.events.get(uid), before) {
                (Some(event), _) => event.clone(),
                (None, Some(before)) if before.starts.is_some_and(|starts| starts >= today) => {
                    cancelled += 1;
                    before.event.cancelled()
                }
                // What is past and no longer planned stays in the calendar as it is.
                (None, _) => continue,
            };
            let (stamp, sequence) = match before {
                None => (now.as_str(), 0),
                Some(before) if before.event == event => (before.stamp.as_str(), before.sequence),
                Some(before) => (now.as_str(), before.sequence.saturating_add(1)),
            };
            out.line("BEGIN:VEVENT");
            out.line(&format!("UID:{uid}"));
            out.line(&format!("DTSTAMP:{stamp}"));
            out.line(&format!("SEQUENCE:{sequence}"));
            for line in &event.lines {
                out.line(line);
            }
            out.line("END:VEVENT");
        }
        out.line("END:VCALENDAR");
        (out.into_text(), cancelled)
    }
}

/// Below every entry that comes from the plan.
const LIMITS: &str = "An estimate, not a promise. Your course's own rules on materials and \
    collaboration come first.";

fn mock_title(mock: &PlannedMock, exam: &str) -> String {
    let notes = match mock.notes {
        NotesUse::Open => "notes open",
        NotesUse::Closed => "notes closed",
    };
    let minutes = mock.minutes;
    match &mock.instructor {
        Some(paper) => format!("Sit {paper}: {exam}, {notes}, {minutes} min"),
        None => format!("Mock test {}: {exam}, {notes}, {minutes} min", mock.number),
    }
}

impl Event {
    fn new(summary: &str) -> Self {
        let mut event = Self { lines: Vec::new() };
        event.text("SUMMARY", summary);
        event
    }

    fn text(&mut self, name: &str, text: &str) {
        self.lines.push(format!("{name}:{}", escaped(text)));
    }

    /// The whole day, without taking up its time.
    fn all_day(&mut self, date: NaiveDate) {
        self.all_day_busy(date);
        self.lines.push("TRANSP:TRANSPARENT".to_owned());
    }

    /// The whole day; it ends before the next one begins (RFC 5545, section 3.6.1).
    fn all_day_busy(&mut self, date: NaiveDate) {
        let day = |date: NaiveDate| date.format("%Y%m%d").to_string();
        self.lines.push(format!("DTSTART;VALUE=DATE:{}", day(date)));
        if let Some(next) = date.checked_add_days(Days::new(1)) {
            self.lines.push(format!("DTEND;VALUE=DATE:{}", day(next)));
        }
    }

    /// The same, called off.
    fn cancelled(&self) -> Self {
        let is_status = |line: &String| line.starts_with("STATUS:");
        if self.lines.iter().any(|line| line == CANCELLED) {
            return self.clone();
        }
        let mut lines: Vec<String> = self
            .lines
            .iter()
            .filter(|l| !is_status(l))
            .cloned()
            .collect();
        lines.insert(0, CANCELLED.to_owned());
        Self { lines }
    }
}

const CANCELLED: &str = "STATUS:CANCELLED";

fn stamp(local: NaiveDateTime) -> String {
    local.format("%Y%m%dT%H%M%S").to_string()
}

fn later(local: NaiveDateTime, Minutes(minutes): Minutes) -> Option<NaiveDateTime> {
    local.checked_add_signed(chrono::Duration::minutes(minutes.into()))
}

/// A name that stays the same as long as the text does.
fn identity(text: &str) -> String {
    format!("{:016x}", crate::drawn_paper::fnv_1a(text))
}

/// The events of an earlier calendar by UID; `None` if it is not one of ours.
fn earlier(text: &str) -> Option<BTreeMap<String, Earlier>> {
    let lines = content_lines(text);
    let product = format!("PRODID:{PRODUCT}");
    if lines.is_empty() {
        return Some(BTreeMap::new());
    }
    let is_ours = lines.first()?.1 == "BEGIN:VCALENDAR"
        && lines.iter().take(8).any(|(_, line)| *line == product);
    if !is_ours {
        return None;
    }
    let mut events = BTreeMap::new();
    let mut open: Option<(Option<String>, Earlier)> = None;
    for (_, line) in &lines {
        if line == "BEGIN:VEVENT" {
            let event = Event { lines: Vec::new() };
            open = Some((
                None,
                Earlier {
                    event,
                    stamp: String::new(),
                    sequence: 0,
                    starts: None,
                },
            ));
            continue;
        }
        if line == "END:VEVENT" {
            if let Some((Some(uid), event)) = open.take() {
                events.insert(uid, event);
            }
            continue;
        }
        let Some((uid, event)) = &mut open else {
            continue;
        };
        let Some(property) = Property::read(line) else {
            continue;
        };
        match property.name.as_str() {
            "UID" => *uid = Some(unescaped(property.value)),
            "DTSTAMP" => event.stamp = property.value.to_owned(),
            "SEQUENCE" => event.sequence = property.value.parse().unwrap_or_default(),
            name => {
                if name == "DTSTART" {
                    let day = property.value.get(..8);
                    event.starts =
                        day.and_then(|day| NaiveDate::parse_from_str(day, "%Y%m%d").ok());
                }
                event.event.lines.push(line.to_string());
            }
        }
    }
    Some(events)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    const NOTES: &str = "\
@course Waves
  zone: Europe/Berlin

@exam First midterm, part 1
  on: 2027-02-26 10:00
  length: 75 min
  covers: 1.1
  room: Hall 2; left

@exam Final
  on: 2027-04-10
  weight: 50%

@topic 1.1 Waves

@problem 1
  pattern: standing
  Decide.
";

    fn made(notes: &str, zone: Option<&str>, before: Option<&str>) -> Result<Calendar, NoCalendar> {
        let fixture = fixture::notebook(notes);
        calendar(fixture.analysis(), CalendarRequest { zone, before })
    }

    /// The lines of the first event whose UID begins so, unfolded, without the UID.
    fn check(calendar: &Calendar, uid: &str, expected: &str) {
        let lines = content_lines(&calendar.text);
        let all: Vec<&str> = lines.iter().map(|(_, line)| line.as_ref()).collect();
        let text = all.join("\n");
        let events = text.split("BEGIN:VEVENT\n").skip(1);
        let event = events
            .map(|event| event.split("END:VEVENT").next().unwrap_or_default())
            .find(|event| event.starts_with(&format!("UID:{uid}")))
            .and_then(|event| event.split_once('\n'));
        assert_eq!(event.map(|(_, rest)| rest), Some(expected), "{text}");
    }

    #[test]
    fn a_timed_exam_is_in_its_zone_and_has_alarms() {
        let made = made(NOTES, None, None).expect("a calendar");
        check(
            &made,
            "exam-",
            "DTSTAMP:20270215T000000Z
SEQUENCE:0
SUMMARY:First midterm\\, part 1 of Waves
DTSTART;TZID=Europe/Berlin:20270226T100000
DTEND;TZID=Europe/Berlin:20270226T111500
LOCATION:Hall 2\\; left
DESCRIPTION:Covers 1.1 Waves\\nTarget 70%
BEGIN:VALARM
ACTION:DISPLAY
DESCRIPTION:First midterm\\, part 1 of Waves in a week
TRIGGER:-P7D
END:VALARM
BEGIN:VALARM
ACTION:DISPLAY
DESCRIPTION:First midterm\\, part 1 of Waves in three days
TRIGGER:-P3D
END:VALARM
",
        );
        assert_eq!(made.remarks, Vec::<String>::new());
        assert!(
            made.text
                .contains("BEGIN:VTIMEZONE\r\nTZID:Europe/Berlin\r\n")
        );
    }

    #[test]
    fn a_calendar_made_again_differs_only_where_the_notes_do() {
        let first = made(NOTES, None, None).expect("a calendar");
        let again = made(NOTES, None, Some(&first.text)).expect("a calendar");
        assert_eq!(first.text, again.text);
        let moved = NOTES.replace("2027-02-26 10:00", "2027-02-27 10:00");
        let second = made(&moved, None, Some(&first.text)).expect("a calendar");
        assert!(second.text.contains("SEQUENCE:1\r\n"));
        assert!(
            second.text.contains("SEQUENCE:0\r\n"),
            "the final is as it was"
        );
        let third = made(&moved, None, Some(&second.text)).expect("a calendar");
        assert_eq!(second.text, third.text);
    }

    #[test]
    fn what_is_gone_is_cancelled() {
        let first = made(NOTES, None, None).expect("a calendar");
        let gone = NOTES.replace("@exam Final", "@exam Last");
        let second = made(&gone, None, Some(&first.text)).expect("a calendar");
        assert!(second.cancelled >= 1);
        let event = second
            .text
            .split("BEGIN:VEVENT")
            .find(|e| e.contains("SUMMARY:Final of Waves"));
        let event = event.expect("it is still there");
        assert!(
            event.contains("SEQUENCE:1\r\nSTATUS:CANCELLED\r\n"),
            "{event}"
        );
        let third = made(&gone, None, Some(&second.text)).expect("a calendar");
        assert_eq!(second.text, third.text);
    }

    #[test]
    fn times_need_a_zone() {
        let floating = NOTES.replace("  zone: Europe/Berlin\n", "");
        let made_so = |zone| made(&floating, zone, None);
        let without = made_so(None).expect("a calendar");
        assert!(
            without.remarks[0].contains("has no time zone"),
            "{:?}",
            without.remarks
        );
        assert!(without.text.contains("DTSTART:20270226T100000\r\n"));
        let with = made_so(Some("America/New_York")).expect("a calendar");
        assert!(
            with.text
                .contains("DTSTART;TZID=America/New_York:20270226T100000\r\n")
        );
        assert_eq!(
            made_so(Some("Mars/Olympus")).map_err(|e| e.to_string()),
            Err("there is no time zone Mars/Olympus; names are those of the IANA database, such as \
                 Europe/Berlin".to_owned())
        );
    }

    #[test]
    fn a_time_that_the_clocks_skip_takes_the_whole_day() {
        let notes = NOTES.replace("2027-02-26 10:00", "2027-03-28 02:30");
        let made = made(&notes, None, None).expect("a calendar");
        assert!(
            made.remarks[0].contains("which the clocks of Europe/Berlin skip"),
            "{:?}",
            made.remarks
        );
        assert!(
            made.text
                .contains("DTSTART;VALUE=DATE:20270328\r\nDTEND;VALUE=DATE:20270329\r\n")
        );
    }

    #[test]
    fn another_calendar_is_left_alone() {
        for foreign in [
            "BEGIN:VCALENDAR\r\nPRODID:-//Other//EN\r\nEND:VCALENDAR\r\n",
            "shopping list",
        ] {
            assert_eq!(made(NOTES, None, Some(foreign)), Err(NoCalendar::Foreign));
        }
        assert!(made(NOTES, None, Some("")).is_ok());
        assert!(made("", None, None).is_ok());
    }

    #[test]
    fn every_line_is_short_and_ends_with_both_signs() {
        let made = made(
            &NOTES.replace("Waves", "Wellenlehre für Fortgeschrittene und Übende"),
            None,
            None,
        )
        .expect("a calendar");
        let rest = made.text.replace("\r\n", "");
        assert!(!rest.contains(['\r', '\n']));
        assert!(made.text.split("\r\n").all(|line| line.len() <= 75));
    }
}
