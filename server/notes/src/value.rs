//! What a field says: the values, and how each is read.
//!
//! Reading never fails: a value that cannot be read is [`Value::Unreadable`], which says what was
//! found and what was expected, and the rest of the block stands.

use std::fmt;

use chrono::{Datelike, NaiveDate, NaiveDateTime, NaiveTime, Weekday};

use crate::vocabulary::{BlockKind, ValueKind};
use crate::{Label, NameKey, Span};

/// The value of one field. Spans count from the start of the unit.
#[derive(Clone, Debug, PartialEq)]
pub enum Value {
    /// Nothing stands behind the colon yet.
    Empty,
    /// Words and formulas, to be taken from the text.
    Text,
    /// Names of blocks of a kind.
    Names(BlockKind, Vec<Named>),
    /// A date, perhaps with a time.
    Moment(Moment),
    /// A length of time.
    Duration(Minutes),
    /// Study time a day.
    StudyTime(StudyTime),
    /// Days without study.
    DaysOff(Vec<Days>),
    /// A score.
    Score(Score),
    /// A whole number.
    Count(u32),
    /// One try.
    Attempt(Attempt),
    /// One spotting.
    Spotting(Spotting),
    /// A mark from outside.
    OutsideMark(OutsideMark),
    /// Whether a topic was learned.
    Learned(Learned),
    /// Topics that an exam covers.
    Coverage(Vec<Covered>),
    /// What topics count for in an exam.
    TopicPoints(Vec<TopicPoints>),
    /// When revision starts.
    Start(Start),
    /// The mark of a question.
    Mark(Outcome),
    /// What an exam or paper allows.
    NotesRule(NotesRule),
    /// A shape; its reading is in the block's [`crate::Block::shapes`].
    Shape,
    /// Something that cannot be read.
    Unreadable(Unreadable),
}

/// A name in a list of names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Named {
    /// The name as it is compared.
    pub key: NameKey,
    /// Where it stands.
    pub span: Span,
}

/// Why a value cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unreadable {
    /// The part that does not fit.
    pub span: Span,
    /// What was found there.
    pub found: String,
    /// What is expected, as the end of a sentence.
    pub expected: &'static str,
    /// Whether it is a date in form, but no day of the calendar.
    pub impossible_date: bool,
}

/// A day, perhaps with a time of day, local to the student.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment {
    /// The day.
    pub date: NaiveDate,
    /// The time of day, if it was given.
    pub time: Option<NaiveTime>,
}

impl Moment {
    /// The instant, taking the start of the day where no time was given.
    pub fn start(self) -> NaiveDateTime {
        self.date.and_time(self.time.unwrap_or(NaiveTime::MIN))
    }
}

impl fmt::Display for Moment {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.date.format("%Y-%m-%d"))?;
        match self.time {
            Some(time) => write!(f, " {}", time.format("%H:%M")),
            None => Ok(()),
        }
    }
}

/// A length of time in whole minutes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(pub u32);

impl fmt::Display for Minutes {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.0 / 60, self.0 % 60) {
            (0, minutes) => write!(f, "{minutes} min"),
            (hours, 0) => write!(f, "{hours} h"),
            (hours, minutes) => write!(f, "{hours} h {minutes} min"),
        }
    }
}

/// Study time a day.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct StudyTime {
    /// On a day of which nothing else is said.
    pub usual: Minutes,
    /// On other days; of two that hold a day the later one counts.
    pub exceptions: Vec<(Days, Minutes)>,
}

impl StudyTime {
    /// The study time of a day.
    pub fn on(&self, day: NaiveDate) -> Minutes {
        let mut exceptions = self.exceptions.iter().rev();
        let found = exceptions.find(|(days, _)| days.holds(day));
        found.map_or(self.usual, |(_, minutes)| *minutes)
    }
}

/// Some days.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Days {
    /// Weekdays from one to another, around the end of the week if need be.
    Weekdays(Weekday, Weekday),
    /// Dates from one to another.
    Dates(NaiveDate, NaiveDate),
}

impl Days {
    /// Whether a day is among these.
    pub fn holds(&self, day: NaiveDate) -> bool {
        match *self {
            Self::Weekdays(first, last) => {
                day.weekday().days_since(first) <= last.days_since(first)
            }
            Self::Dates(first, last) => first <= day && day <= last,
        }
    }
}

/// A score, held in thousandths of a point so that equal scores are equal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Score {
    /// Points got, in thousandths.
    pub got: u32,
    /// Points to be had, in thousandths; never 0.
    pub out_of: u32,
    /// Whether it was written as a percentage.
    pub percent: bool,
}

impl Score {
    /// The score as a part of 1. It is over 1 where extra credit was given.
    pub fn fraction(self) -> f64 {
        f64::from(self.got) / f64::from(self.out_of)
    }
}

impl fmt::Display for Score {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let number = |n: u32| f64::from(n) / 1000.0;
        if self.percent {
            write!(f, "{}%", number(self.got))
        } else {
            write!(f, "{}/{}", number(self.got), number(self.out_of))
        }
    }
}

/// Whether notes were open during a try.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum NotesUse {
    /// Notes were open.
    Open,
    /// Notes were closed.
    Closed,
}

/// How a try went.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outcome {
    /// Right.
    Right,
    /// Partly right.
    Partly,
    /// Wrong.
    Wrong,
    /// Passed over.
    Skipped,
    /// A score.
    Score(Score),
}

impl fmt::Display for Outcome {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Right => f.write_str("right"),
            Self::Partly => f.write_str("partly"),
            Self::Wrong => f.write_str("wrong"),
            Self::Skipped => f.write_str("skipped"),
            Self::Score(score) => score.fmt(f),
        }
    }
}

/// One try of a problem or theorem.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Attempt {
    /// The day of the try.
    pub date: NaiveDate,
    /// Where the date stands.
    pub date_span: Span,
    /// Whether notes were open. A record that does not say counts as open, the weaker evidence.
    pub notes: NotesUse,
    /// Whether it was a question of a mock test.
    pub mock: bool,
    /// How it went.
    pub outcome: Outcome,
    /// How long it took.
    pub duration: Option<Minutes>,
    /// What the student remarked.
    pub remark: Option<Span>,
}

/// One spotting: was the kind of the problem named at sight?
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Spotting {
    /// The day.
    pub date: NaiveDate,
    /// Where the date stands.
    pub date_span: Span,
    /// Whether the kind was named rightly.
    pub right: bool,
}

/// A mark from outside: a quiz or homework of a topic.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct OutsideMark {
    /// The day.
    pub date: NaiveDate,
    /// Where the date stands.
    pub date_span: Span,
    /// The score.
    pub score: Score,
}

/// Whether a topic was learned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Learned {
    /// Never learned.
    No,
    /// Partly learned.
    Partly,
    /// Learned.
    Yes,
}

/// One item of what an exam covers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Covered {
    /// What is covered.
    pub what: Coverage,
    /// Where it stands.
    pub span: Span,
}

/// One item of what topics count for in an exam: all its topics together.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TopicPoints {
    /// The topics.
    pub covered: Covered,
    /// The points, in thousandths.
    pub points: u32,
}

/// Topics that one item of `covers:` or of an exam's `points:` names.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Coverage {
    /// The topics with this label and below it.
    Label(Label),
    /// The topics from one label to another, with all below them.
    Range(Label, Label),
    /// The topic of this name.
    Name(NameKey),
}

impl Coverage {
    /// Whether a topic is among these: its block, and the key it is known by.
    pub fn holds(&self, key: &NameKey, topic: &crate::Block) -> bool {
        match (self, &topic.label) {
            (Self::Label(label), Some(own)) => label.holds(own),
            (Self::Range(first, last), Some(own)) => first.range_holds(last, own),
            (Self::Name(name), _) => name == key || *name == topic.name || *name == topic.bare_name,
            (_, None) => false,
        }
    }
}

impl Value {
    /// The items that name topics of an exam by label, range or name.
    pub fn covered(&self) -> impl Iterator<Item = &Covered> {
        let (covers, points): (&[Covered], &[TopicPoints]) = match self {
            Self::Coverage(items) => (items, &[]),
            Self::TopicPoints(items) => (&[], items),
            _ => (&[], &[]),
        };
        covers.iter().chain(points.iter().map(|item| &item.covered))
    }
}

/// When revision for an exam starts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Start {
    /// So many days before the exam.
    DaysBefore(u32),
    /// On a day.
    On(NaiveDate),
}

/// What an exam or paper allows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NotesRule {
    /// No notes.
    Closed,
    /// Notes open.
    Open,
    /// Something of its own, in words: a sheet of formulas, say. Counts as closed.
    Other,
}

/// Reads the value of a field. `text` is the value with comments blanked, `at` the offset of its
/// first byte in the unit.
pub fn read(kind: ValueKind, text: &str, at: usize) -> Value {
    let word = Piece { text, at }.trimmed();
    if word.text.is_empty() {
        return Value::Empty;
    }
    let read = match kind {
        ValueKind::Text => return Value::Text,
        ValueKind::Shape => return Value::Shape,
        ValueKind::Names(of) => Ok(Value::Names(of, names(word))),
        ValueKind::Moment => moment(word).map(Value::Moment),
        ValueKind::Duration => duration_or_minutes(word).map(Value::Duration),
        ValueKind::StudyTime => study_time(word).map(Value::StudyTime),
        ValueKind::DaysOff => days_off(word).map(Value::DaysOff),
        ValueKind::Score => score(word).map(Value::Score),
        ValueKind::Count => count(word).map(Value::Count),
        ValueKind::Attempt => attempt(word).map(Value::Attempt),
        ValueKind::Spotting => spotting(word).map(Value::Spotting),
        ValueKind::OutsideMark => outside_mark(word).map(Value::OutsideMark),
        ValueKind::Learned => learned(word).map(Value::Learned),
        ValueKind::Coverage => coverage(word).map(Value::Coverage),
        ValueKind::TopicPoints => topic_points(word).map(Value::TopicPoints),
        ValueKind::Start => start(word).map(Value::Start),
        ValueKind::Mark => outcome(word).map(Value::Mark),
        ValueKind::NotesRule => Ok(Value::NotesRule(notes_rule(word.text))),
    };
    read.unwrap_or_else(|misfit| {
        Value::Unreadable(Unreadable {
            span: misfit.piece.span(),
            found: misfit
                .piece
                .text
                .split_whitespace()
                .collect::<Vec<_>>()
                .join(" "),
            expected: misfit.expected.unwrap_or(kind.expected()),
            impossible_date: misfit.impossible_date,
        })
    })
}

/// A part of a value and where it stands in the unit.
#[derive(Clone, Copy, Debug)]
struct Piece<'a> {
    text: &'a str,
    at: usize,
}

impl<'a> Piece<'a> {
    fn slice(self, start: usize, end: usize) -> Self {
        Self {
            text: &self.text[start..end],
            at: self.at + start,
        }
    }

    fn trimmed(self) -> Self {
        let start = self.text.len() - self.text.trim_start().len();
        self.slice(start, start + self.text.trim().len())
    }

    fn span(self) -> Span {
        Span::new(self.at, self.at + self.text.len())
    }

    fn words(self) -> impl Iterator<Item = Self> {
        self.text.split_whitespace().map(move |word| {
            let start = word.as_ptr() as usize - self.text.as_ptr() as usize;
            self.slice(start, start + word.len())
        })
    }

    /// The parts between commas that stand outside `$ … $`.
    fn list(self) -> Vec<Self> {
        let mut parts = Vec::new();
        let (mut start, mut in_math, mut escaped) = (0, false, false);
        for (i, c) in self.text.char_indices() {
            match c {
                _ if escaped => escaped = false,
                '\\' => escaped = true,
                '$' => in_math = !in_math,
                ',' if !in_math => {
                    parts.push(self.slice(start, i).trimmed());
                    start = i + 1;
                }
                _ => {}
            }
        }
        parts.push(self.slice(start, self.text.len()).trimmed());
        parts.retain(|part| !part.text.is_empty());
        parts
    }
}

struct Misfit<'a> {
    piece: Piece<'a>,
    expected: Option<&'static str>,
    impossible_date: bool,
}

impl<'a> Misfit<'a> {
    fn at(piece: Piece<'a>) -> Self {
        Self {
            piece,
            expected: None,
            impossible_date: false,
        }
    }

    fn expecting(piece: Piece<'a>, expected: &'static str) -> Self {
        Self {
            piece,
            expected: Some(expected),
            impossible_date: false,
        }
    }
}

type Read<'a, T> = Result<T, Misfit<'a>>;

fn names(piece: Piece<'_>) -> Vec<Named> {
    let named = |part: Piece<'_>| Named {
        key: NameKey::new(part.text),
        span: part.span(),
    };
    piece.list().into_iter().map(named).collect()
}

fn date(piece: Piece<'_>) -> Read<'_, NaiveDate> {
    const EXPECTED: &str = "a date such as 2027-02-26";
    let bytes = piece.text.as_bytes();
    let in_form = bytes.len() == 10
        && bytes.iter().enumerate().all(|(i, b)| match i {
            4 | 7 => *b == b'-',
            _ => b.is_ascii_digit(),
        });
    if !in_form {
        return Err(Misfit::expecting(piece, EXPECTED));
    }
    let number = |range: std::ops::Range<usize>| piece.text[range].parse::<u32>().unwrap_or(0);
    NaiveDate::from_ymd_opt(number(0..4) as i32, number(5..7), number(8..10)).ok_or(Misfit {
        piece,
        expected: Some("a day of the calendar"),
        impossible_date: true,
    })
}

fn time(piece: Piece<'_>) -> Read<'_, NaiveTime> {
    let misfit = || Misfit::expecting(piece, "a time of day such as 10:00");
    let (hour, minute) = piece.text.split_once(':').ok_or_else(misfit)?;
    let number = |text: &str| {
        let digits = (1..=2).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_digit());
        digits.then(|| text.parse::<u32>().ok()).flatten()
    };
    number(hour)
        .zip(number(minute).filter(|_| minute.len() == 2))
        .and_then(|(hour, minute)| NaiveTime::from_hms_opt(hour, minute, 0))
        .ok_or_else(misfit)
}

fn moment(piece: Piece<'_>) -> Read<'_, Moment> {
    // ISO 8601 joins date and time with a T; people write a space.
    if let Some((day, clock)) = piece.text.split_once('T')
        && day.len() == 10
    {
        let at = day.len();
        let date = date(piece.slice(0, at))?;
        let time = time(piece.slice(at + 1, at + 1 + clock.len()))?;
        return Ok(Moment {
            date,
            time: Some(time),
        });
    }
    let mut words = piece.words();
    let date = date(words.next().unwrap_or(piece))?;
    let time = words.next().map(time).transpose()?;
    match words.next() {
        Some(rest) => Err(Misfit::expecting(rest, "nothing behind the time")),
        None => Ok(Moment { date, time }),
    }
}

/// A number with at most three decimals, in thousandths.
fn thousandths(text: &str) -> Option<u32> {
    let (whole, decimals) = text.split_once('.').unwrap_or((text, ""));
    let digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || whole.len() > 6 || decimals.len() > 3 {
        return None;
    }
    if !digits(whole) || !digits(decimals) || (decimals.is_empty() && text.contains('.')) {
        return None;
    }
    let decimals: u32 = format!("{decimals:0<3}").parse().ok()?;
    Some(whole.parse::<u32>().ok()? * 1000 + decimals)
}

fn score(piece: Piece<'_>) -> Read<'_, Score> {
    let compact: String = piece.text.split_whitespace().collect();
    score_text(&compact).ok_or_else(|| Misfit::expecting(piece, ValueKind::Score.expected()))
}

fn score_text(text: &str) -> Option<Score> {
    if let Some(number) = text.strip_suffix('%') {
        return Some(Score {
            got: thousandths(number)?,
            out_of: 100_000,
            percent: true,
        });
    }
    let (got, out_of) = text.split_once('/')?;
    let (got, out_of) = (thousandths(got)?, thousandths(out_of)?);
    (out_of > 0).then_some(Score {
        got,
        out_of,
        percent: false,
    })
}

fn count(piece: Piece<'_>) -> Read<'_, u32> {
    let digits = piece.text.bytes().all(|b| b.is_ascii_digit());
    let number = digits.then(|| piece.text.parse().ok()).flatten();
    number.ok_or_else(|| Misfit::at(piece))
}

/// Reads `75 min`, `1 h`, `1 h 15 min`, `1h15`, from the front of the words; gives the length and
/// how many words it took.
fn duration(words: &[Piece<'_>]) -> Option<(Minutes, usize)> {
    let mut minutes: u32 = 0;
    let mut taken = 0;
    let mut number: Option<u32> = None;
    // Splits each word where digits meet letters, so that "75min" reads as "75 min".
    for (i, word) in words.iter().enumerate() {
        let mut rest = word.text;
        while !rest.is_empty() {
            let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
            if digits > 0 {
                if number.is_some() || digits > 5 {
                    return (taken > 0).then_some((Minutes(minutes), taken));
                }
                number = rest[..digits].parse().ok();
                rest = &rest[digits..];
                // "1h15": digits that end a word in which an hour stood are minutes.
                let after_hours = rest.is_empty() && word.text.len() > digits;
                if after_hours && let Some(n) = number.take() {
                    minutes = minutes.saturating_add(n);
                    taken = i + 1;
                }
                continue;
            }
            let letters = rest.bytes().take_while(u8::is_ascii_alphabetic).count();
            let factor = match &rest[..letters] {
                "h" | "hour" | "hours" => Some(60),
                "m" | "min" | "mins" | "minute" | "minutes" => Some(1),
                _ => None,
            };
            let (Some(n), Some(factor)) = (number.take(), factor) else {
                return (taken > 0).then_some((Minutes(minutes), taken));
            };
            minutes = minutes.saturating_add(n.saturating_mul(factor));
            rest = &rest[letters..];
            if rest.is_empty() {
                taken = i + 1;
            }
        }
    }
    (taken > 0).then_some((Minutes(minutes), taken))
}

fn duration_or_minutes(piece: Piece<'_>) -> Read<'_, Minutes> {
    if let Ok(minutes) = count(piece) {
        return Ok(Minutes(minutes));
    }
    let words: Vec<_> = piece.words().collect();
    match duration(&words) {
        Some((minutes, taken)) if taken == words.len() => Ok(minutes),
        Some((_, taken)) => Err(Misfit::at(words[taken])),
        None => Err(Misfit::at(piece)),
    }
}

fn study_time<'a>(piece: Piece<'a>) -> Read<'a, StudyTime> {
    let mut parts = piece.list().into_iter();
    let usual = duration_or_minutes(parts.next().unwrap_or(piece))?;
    let exception = |part: Piece<'a>| {
        let (days, rest) = days(part)?;
        let minutes = duration_or_minutes(rest).map_err(|misfit| {
            let piece = if rest.text.is_empty() {
                part
            } else {
                misfit.piece
            };
            Misfit::expecting(piece, "a length of time behind the day, such as sat 2 h")
        })?;
        Ok((days, minutes))
    };
    let exceptions = parts.map(exception).collect::<Result<_, _>>()?;
    Ok(StudyTime { usual, exceptions })
}

fn days_off<'a>(piece: Piece<'a>) -> Read<'a, Vec<Days>> {
    let day_off = |part: Piece<'a>| match days(part)? {
        (days, rest) if rest.text.is_empty() => Ok(days),
        (_, rest) => Err(Misfit::at(rest)),
    };
    piece.list().into_iter().map(day_off).collect()
}

/// Days at the front of a piece, and what stands behind them.
fn days(piece: Piece<'_>) -> Read<'_, (Days, Piece<'_>)> {
    const EXPECTED: &str = "a weekday such as sat, or a date such as 2027-02-20";
    let word_end = |piece: Piece<'_>| {
        let end = piece.text.find(char::is_whitespace);
        let dots = piece.text.find("..");
        end.into_iter()
            .chain(dots)
            .min()
            .unwrap_or(piece.text.len())
    };
    let end = word_end(piece);
    let first = piece.slice(0, end);
    let mut rest = piece.slice(end, piece.text.len()).trimmed();
    let mut last = first;
    if rest.text.starts_with("..") {
        let dots = rest.text.len() - rest.text.trim_start_matches('.').len();
        let behind = rest.slice(dots, rest.text.len()).trimmed();
        let end = word_end(behind);
        last = behind.slice(0, end);
        rest = behind.slice(end, behind.text.len()).trimmed();
    }
    if let (Some(first), Some(last)) = (weekday(first.text), weekday(last.text)) {
        return Ok((Days::Weekdays(first, last), rest));
    }
    let day = |piece| {
        date(piece).map_err(|misfit: Misfit<'_>| match misfit.impossible_date {
            true => misfit,
            false => Misfit::expecting(misfit.piece, EXPECTED),
        })
    };
    let dates = (day(first)?, day(last)?);
    if dates.0 > dates.1 {
        return Err(Misfit::expecting(
            last,
            "a range that goes forward, such as 2027-03-13 .. 2027-03-21",
        ));
    }
    Ok((Days::Dates(dates.0, dates.1), rest))
}

/// A weekday by its English name or the first three letters of it.
fn weekday(word: &str) -> Option<Weekday> {
    // The library also takes what lies between the two.
    let word = word.to_lowercase();
    let day: Weekday = word.strip_suffix('s').unwrap_or(&word).parse().ok()?;
    Some(day)
}

fn outcome(piece: Piece<'_>) -> Read<'_, Outcome> {
    Ok(match piece.text.to_lowercase().as_str() {
        "right" => Outcome::Right,
        "partly" => Outcome::Partly,
        "wrong" => Outcome::Wrong,
        "skipped" => Outcome::Skipped,
        _ => match score(piece) {
            Ok(score) => Outcome::Score(score),
            Err(_) => return Err(Misfit::expecting(piece, ValueKind::Mark.expected())),
        },
    })
}

fn attempt(piece: Piece<'_>) -> Read<'_, Attempt> {
    let comma = piece.text.find(',').unwrap_or(piece.text.len());
    let remark = piece
        .slice((comma + 1).min(piece.text.len()), piece.text.len())
        .trimmed();
    let words: Vec<_> = piece.slice(0, comma).words().collect();
    let first = *words.first().unwrap_or(&piece);
    let date_read = date(first)?;
    let (mut notes, mut mock, mut how, mut time_taken) = (None, false, None, None);
    let mut i = 1;
    while i < words.len() {
        let word = words[i];
        match word.text.to_lowercase().as_str() {
            "open" if notes.is_none() => notes = Some(NotesUse::Open),
            "closed" if notes.is_none() => notes = Some(NotesUse::Closed),
            "mock" if !mock => mock = true,
            _ => {
                if how.is_none()
                    && let Ok(outcome) = outcome(word)
                {
                    how = Some(outcome);
                } else if time_taken.is_none()
                    && let Some((minutes, taken)) = duration(&words[i..])
                {
                    time_taken = Some(minutes);
                    i += taken;
                    continue;
                } else {
                    return Err(Misfit::expecting(
                        word,
                        "open or closed, one of right, partly, wrong, skipped or a score, \
                         a time such as 11 min, and a remark behind a comma",
                    ));
                }
            }
        }
        i += 1;
    }
    let Some(outcome) = how else {
        return Err(Misfit::expecting(
            piece,
            "how it went: right, partly, wrong, skipped or a score",
        ));
    };
    Ok(Attempt {
        date: date_read,
        date_span: first.span(),
        notes: notes.unwrap_or(NotesUse::Open),
        mock,
        outcome,
        duration: time_taken,
        remark: (!remark.text.is_empty()).then(|| remark.span()),
    })
}

fn spotting(piece: Piece<'_>) -> Read<'_, Spotting> {
    let words: Vec<_> = piece.words().collect();
    let first = *words.first().unwrap_or(&piece);
    let day = date(first)?;
    let right = match words
        .get(1)
        .map(|w| w.text.trim_end_matches(',').to_lowercase())
    {
        Some(word) if word == "right" => true,
        Some(word) if word == "wrong" => false,
        _ => return Err(Misfit::at(*words.get(1).unwrap_or(&piece))),
    };
    Ok(Spotting {
        date: day,
        date_span: first.span(),
        right,
    })
}

fn outside_mark(piece: Piece<'_>) -> Read<'_, OutsideMark> {
    let end = piece
        .text
        .find(char::is_whitespace)
        .unwrap_or(piece.text.len());
    let day = piece.slice(0, end);
    let date = date(day)?;
    let rest = piece.slice(end, piece.text.len()).trimmed();
    // A remark may follow behind a comma, as in a record of a try.
    let score_end = rest.text.find(',').unwrap_or(rest.text.len());
    let score = score(if rest.text.is_empty() {
        piece
    } else {
        rest.slice(0, score_end)
    })?;
    Ok(OutsideMark {
        date,
        date_span: day.span(),
        score,
    })
}

fn learned(piece: Piece<'_>) -> Read<'_, Learned> {
    Ok(match piece.text.to_lowercase().as_str() {
        "no" => Learned::No,
        "partly" => Learned::Partly,
        "yes" => Learned::Yes,
        _ => return Err(Misfit::at(piece)),
    })
}

fn coverage(piece: Piece<'_>) -> Read<'_, Vec<Covered>> {
    piece.list().into_iter().map(covered).collect()
}

fn covered(part: Piece<'_>) -> Read<'_, Covered> {
    let what = if let Some(dots) = part.text.find("..") {
        let last = part.slice(dots, part.text.len());
        let last = last.slice(
            last.text.len() - last.text.trim_start_matches('.').len(),
            last.text.len(),
        );
        let ends = [part.slice(0, dots).trimmed(), last.trimmed()];
        let label = |end: Piece<'_>| Label::split(end.text).0;
        match ends.map(label) {
            [Some(first), Some(last)] if first <= last => Coverage::Range(first, last),
            [Some(_), Some(_)] => {
                return Err(Misfit::expecting(
                    part,
                    "a range that goes upward, such as 1.1 .. 1.5",
                ));
            }
            _ => {
                return Err(Misfit::expecting(
                    part,
                    "a range of topic labels, such as 1.1 .. 1.5",
                ));
            }
        }
    } else {
        match Label::split(part.text) {
            (Some(label), _) => Coverage::Label(label),
            (None, _) => Coverage::Name(NameKey::new(part.text)),
        }
    };
    Ok(Covered {
        what,
        span: part.span(),
    })
}

fn topic_points(piece: Piece<'_>) -> Read<'_, Vec<TopicPoints>> {
    piece.list().into_iter().map(points_of_topics).collect()
}

/// Topics and, as the last word, their points; the word *points* may follow.
fn points_of_topics(part: Piece<'_>) -> Read<'_, TopicPoints> {
    let mut words: Vec<Piece<'_>> = part.words().collect();
    words.pop_if(|word| ["point", "points"].contains(&&*word.text.to_lowercase()));
    let number = words.pop();
    let (Some(points), Some(last)) = (
        number.and_then(|word| thousandths(word.text.strip_suffix('%').unwrap_or(word.text))),
        words.last(),
    ) else {
        return Err(Misfit::at(part));
    };
    let end = last.at + last.text.len() - part.at;
    Ok(TopicPoints {
        covered: covered(part.slice(0, end))?,
        points,
    })
}

fn start(piece: Piece<'_>) -> Read<'_, Start> {
    if let Ok(date) = date(piece) {
        return Ok(Start::On(date));
    }
    let mut words = piece.words();
    let days = count(words.next().unwrap_or(piece)).map_err(|misfit| Misfit {
        impossible_date: false,
        expected: None,
        ..misfit
    })?;
    let rest: Vec<_> = words.collect();
    let unit = rest.first().map(|w| w.text.to_lowercase());
    let factor = match unit.as_deref() {
        Some("day" | "days") => 1,
        Some("week" | "weeks") => 7,
        _ => return Err(Misfit::at(*rest.first().unwrap_or(&piece))),
    };
    match rest.get(1) {
        None => {}
        Some(word) if word.text.eq_ignore_ascii_case("before") && rest.len() == 2 => {}
        Some(word) => return Err(Misfit::at(*word)),
    }
    Ok(Start::DaysBefore(days.saturating_mul(factor)))
}

fn notes_rule(text: &str) -> NotesRule {
    match text.to_lowercase().as_str() {
        "closed" => NotesRule::Closed,
        "open" => NotesRule::Open,
        _ => NotesRule::Other,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads `text` as a value of `kind` and prints it on one line.
    fn check(kind: ValueKind, text: &str) -> String {
        match read(kind, text, 0) {
            Value::Empty => "empty".into(),
            Value::Text => "text".into(),
            Value::Shape => "shape".into(),
            Value::Moment(moment) => moment.to_string(),
            Value::Duration(minutes) => minutes.to_string(),
            Value::Score(score) => score.to_string(),
            Value::Count(n) => n.to_string(),
            Value::Attempt(a) => {
                let mock = if a.mock { " mock" } else { "" };
                let time = a.duration.map_or(String::new(), |m| format!(" {m}"));
                let remark = a
                    .remark
                    .map_or(String::new(), |s| format!(" ({})", &text[s.range()]));
                format!("{} {:?}{mock} {}{time}{remark}", a.date, a.notes, a.outcome)
            }
            Value::Spotting(s) => format!("{} {}", s.date, s.right),
            Value::OutsideMark(m) => format!("{} {}", m.date, m.score),
            Value::Mark(outcome) => outcome.to_string(),
            Value::Start(start) => format!("{start:?}"),
            Value::Learned(learned) => format!("{learned:?}"),
            Value::NotesRule(rule) => format!("{rule:?}"),
            Value::StudyTime(time) => {
                let others = time.exceptions.iter();
                let others = others.map(|(days, minutes)| format!("; {days:?} {minutes}"));
                format!("{}{}", time.usual, others.collect::<String>())
            }
            Value::DaysOff(days) => format!("{days:?}"),
            Value::Names(_, names) => names
                .iter()
                .map(|n| n.key.as_str())
                .collect::<Vec<_>>()
                .join("; "),
            Value::Coverage(items) => {
                let items: Vec<String> = items.iter().map(topics).collect();
                items.join("; ")
            }
            Value::TopicPoints(items) => items
                .iter()
                .map(|item| format!("{}: {}", topics(&item.covered), item.points))
                .collect::<Vec<_>>()
                .join("; "),
            Value::Unreadable(u) => format!("found {:?}, expected {}", u.found, u.expected),
        }
    }

    fn topics(item: &Covered) -> String {
        match &item.what {
            Coverage::Label(label) => format!("label {label}"),
            Coverage::Range(a, b) => format!("{a} to {b}"),
            Coverage::Name(name) => format!("name {name}"),
        }
    }

    #[test]
    fn points_stand_behind_the_topics_that_share_them() {
        assert_eq!(
            check(
                ValueKind::TopicPoints,
                "1.1 .. 1.5 40, 2.1 7.5 points, Review of waves 1 point, 3 20%"
            ),
            "1.1 to 1.5: 40000; label 2.1: 7500; name review of waves: 1000; label 3: 20000"
        );
        for text in [
            "1.1 .. 1.5",
            "40",
            "40 points",
            "1.1 forty",
            "1.5 .. 1.1 40",
        ] {
            let found = check(ValueKind::TopicPoints, text);
            assert!(found.starts_with("found"), "{text}: {found}");
        }
    }

    #[test]
    fn dates_and_times_are_iso_8601() {
        // ISO 8601-1:2019, 5.2.2.1 (calendar date) and 5.4.2.1 (date and time), from memory.
        assert_eq!(
            check(ValueKind::Moment, " 2027-02-26 10:00 "),
            "2027-02-26 10:00"
        );
        assert_eq!(check(ValueKind::Moment, "2028-02-29"), "2028-02-29");
        assert_eq!(
            check(ValueKind::Moment, "2027-02-26T09:30"),
            "2027-02-26 09:30"
        );
        assert_eq!(
            check(ValueKind::Moment, "2027-02-30"),
            "found \"2027-02-30\", expected a day of the calendar"
        );
        assert_eq!(
            check(ValueKind::Moment, "26 February"),
            "found \"26\", expected a date such as 2027-02-26"
        );
        assert_eq!(
            check(ValueKind::Moment, "2027-02-26 25:00"),
            "found \"25:00\", expected a time of day such as 10:00"
        );
        assert_eq!(check(ValueKind::Moment, ""), "empty");
    }

    #[test]
    fn durations_read_as_people_write_them() {
        for text in ["75 min", "75min", "1 h 15 min", "1h15", "1h 15m", "75"] {
            assert_eq!(check(ValueKind::Duration, text), "1 h 15 min", "{text}");
        }
        assert_eq!(check(ValueKind::Duration, "2 h"), "2 h");
        assert!(check(ValueKind::Duration, "soon").starts_with("found \"soon\""));
        assert!(check(ValueKind::Duration, "75 min sharp").starts_with("found \"sharp\""));
    }

    #[test]
    fn study_time_may_differ_by_weekday_and_date() {
        assert_eq!(check(ValueKind::StudyTime, "90"), "1 h 30 min");
        assert_eq!(
            check(
                ValueKind::StudyTime,
                "60 min, Mon .. wed 45 min, saturday 2 h, sun 0, 2027-02-20 30 min"
            ),
            "1 h; Weekdays(Mon, Wed) 45 min; Weekdays(Sat, Sat) 2 h; Weekdays(Sun, Sun) 0 min; \
             Dates(2027-02-20, 2027-02-20) 30 min"
        );
        let found = |text| check(ValueKind::StudyTime, text);
        assert!(found("60 min, sat").contains("expected a length of time behind the day"));
        assert!(found("60 min, someday 2 h").starts_with("found \"someday\", expected a weekday"));
        assert!(found("60 min, 2027-02-30 2 h").contains("a day of the calendar"));
        let Value::StudyTime(time) =
            read(ValueKind::StudyTime, "60, fri .. mon 20, 2027-02-20 0", 0)
        else {
            panic!("it can be read")
        };
        // 2027-02-15 is a Monday.
        let on = |day| {
            time.on(NaiveDate::from_ymd_opt(2027, 2, day).expect("a day"))
                .0
        };
        assert_eq!(
            [15, 16, 18, 19, 20, 21, 22].map(on),
            [20, 60, 60, 20, 0, 20, 20]
        );
    }

    #[test]
    fn days_off_are_weekdays_dates_and_ranges() {
        assert_eq!(
            check(
                ValueKind::DaysOff,
                "sundays, 2027-02-20, 2027-03-13..2027-03-21"
            ),
            "[Weekdays(Sun, Sun), Dates(2027-02-20, 2027-02-20), Dates(2027-03-13, 2027-03-21)]"
        );
        let found = |text| check(ValueKind::DaysOff, text);
        assert!(found("2027-03-21 .. 2027-03-13").contains("goes forward"));
        assert!(found("sun 2 h").starts_with("found \"2 h\""));
        assert!(found("sun .. 2027-03-13").contains("expected a weekday"));
    }

    #[test]
    fn scores_are_parts_or_percentages() {
        assert_eq!(check(ValueKind::Score, "17/20"), "17/20");
        assert_eq!(check(ValueKind::Score, "7.5 / 10"), "7.5/10");
        assert_eq!(check(ValueKind::Score, "85%"), "85%");
        assert_eq!(check(ValueKind::Score, "62.5%"), "62.5%");
        assert!(check(ValueKind::Score, "3/0").starts_with("found \"3/0\""));
        assert!(check(ValueKind::Score, "good").starts_with("found \"good\""));
    }

    #[test]
    fn a_record_takes_its_words_in_any_order() {
        let cases = [
            (
                "2027-02-19 open right 11 min",
                "2027-02-19 Open right 11 min",
            ),
            (
                "2027-02-21 closed wrong 9 min, lost the constant",
                "2027-02-21 Closed wrong 9 min (lost the constant)",
            ),
            (
                "2027-02-21 9 min wrong closed",
                "2027-02-21 Closed wrong 9 min",
            ),
            (
                "2027-02-22 closed mock skipped",
                "2027-02-22 Closed mock skipped",
            ),
            (
                "2027-02-22 closed 3/4 1 h 5 min",
                "2027-02-22 Closed 3/4 1 h 5 min",
            ),
            ("2027-02-22 right", "2027-02-22 Open right"),
        ];
        for (text, expected) in cases {
            assert_eq!(check(ValueKind::Attempt, text), expected);
        }
        assert!(check(ValueKind::Attempt, "2027-02-22 closed").contains("expected how it went"));
        assert!(
            check(ValueKind::Attempt, "2027-02-22 closed rigth").starts_with("found \"rigth\"")
        );
        assert!(check(ValueKind::Attempt, "yesterday right").starts_with("found \"yesterday\""));
    }

    #[test]
    fn lists_split_at_commas_outside_math() {
        let names = ValueKind::Names(BlockKind::Pattern);
        assert_eq!(
            check(names, "Separable,  integrating\n  factor"),
            "separable; integrating factor"
        );
        assert_eq!(
            check(names, "$f(x, y)$ form, exact,"),
            "$f(x, y)$ form; exact"
        );
        assert_eq!(
            check(ValueKind::Coverage, "1.1 .. 1.5, 2.1, Review"),
            "1.1 to 1.5; label 2.1; name review"
        );
        assert!(check(ValueKind::Coverage, "1.5 .. 1.1").contains("goes upward"));
    }

    #[test]
    fn revision_starts_so_many_days_before() {
        assert_eq!(check(ValueKind::Start, "7 days before"), "DaysBefore(7)");
        assert_eq!(check(ValueKind::Start, "2 weeks"), "DaysBefore(14)");
        assert_eq!(check(ValueKind::Start, "2027-02-01"), "On(2027-02-01)");
        assert!(check(ValueKind::Start, "soon").starts_with("found \"soon\""));
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_reading_fail(text in "(?s).{0,40}") {
            for rule in crate::vocabulary::FIELDS {
                if let Value::Unreadable(u) = read(rule.value, &text, 3) {
                    let range = u.span.range();
                    proptest::prop_assert!(range.start >= 3 && range.end <= text.len() + 3);
                    proptest::prop_assert!(text.is_char_boundary(range.start - 3));
                    proptest::prop_assert!(text.is_char_boundary(range.end - 3));
                }
            }
        }
    }
}
