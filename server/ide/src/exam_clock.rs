//! The clock of a paper that is being sat: it runs from the stamps in the notes alone, so that it
//! goes on wherever it was left.

use std::fmt;

use chrono::{Duration, NaiveDateTime, Timelike};
use notes::value::{Minutes, Moment, Value};
use notes::{BlockKind, Key};

use crate::commands::PaperName;
use crate::edit::NotebookEdit;
use crate::new_field::set_field;
use crate::papers::{Paper, paper};
use crate::{Analysis, words};

/// A paper that is being sat.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Running {
    /// The paper.
    pub paper: PaperName,
    /// Its title, to be shown.
    pub title: String,
    /// When it was started.
    pub started: NaiveDateTime,
    /// When its time is up.
    pub ends: NaiveDateTime,
}

/// Minutes before the end at which it is said that the end is near.
const NEAR_END: i64 = 5;

impl Running {
    /// Minutes left, those begun counted as whole; 0 when the time is up.
    pub fn minutes_left(&self, now: NaiveDateTime) -> i64 {
        let seconds = self.ends.signed_duration_since(now).num_seconds().max(0);
        seconds.div_euclid(60) + i64::from(seconds % 60 > 0)
    }

    /// The part of the time that has passed, in per cent.
    pub fn percent(&self, now: NaiveDateTime) -> u32 {
        let whole = self.ends.signed_duration_since(self.started).num_seconds();
        let passed = now.signed_duration_since(self.started).num_seconds();
        let percent = 100 * passed.clamp(0, whole.max(0)) / whole.max(1);
        u32::try_from(percent).unwrap_or_default()
    }

    /// The time left, in words.
    pub fn left_in_words(&self, now: NaiveDateTime) -> String {
        format!("{} min left", self.minutes_left(now))
    }

    /// What is to be said when the clock goes from one instant to another: at half time, five
    /// minutes before the end, and at the end; of several that were passed the last.
    pub fn message(&self, before: NaiveDateTime, now: NaiveDateTime) -> Option<String> {
        let half = self.started + self.ends.signed_duration_since(self.started) / 2;
        let near = self.ends - Duration::minutes(NEAR_END);
        let passed = |instant: NaiveDateTime| before < instant && instant <= now;
        let title = &self.title;
        if passed(self.ends) {
            return Some(format!(
                "{title}: time is up. Finish the paper when you stop."
            ));
        }
        if passed(near) && self.started < near {
            return Some(format!("{title}: {}.", self.left_in_words(now)));
        }
        let half_said = passed(half) && half < near;
        half_said.then(|| format!("{title}: half time, {}.", self.left_in_words(now)))
    }
}

/// The papers that are being sat: started at a time of day, not finished, with time left.
pub fn running(analysis: &Analysis) -> Vec<Running> {
    let notebook = &analysis.notebook;
    let mut found = Vec::new();
    for course in notebook.courses() {
        for at in notebook.of_kind(&course, BlockKind::Paper) {
            let one = clock_of(&paper(notebook, at));
            found.extend(one.filter(|one| one.started <= analysis.now && analysis.now < one.ends));
        }
    }
    found
}

/// The clock of a paper that was started and not finished, whether or not its time is up.
fn clock_of(paper: &Paper<'_>) -> Option<Running> {
    let block = paper.at.block;
    if is_given(paper, Key::Finished) || paper.is_recorded() {
        return None;
    }
    let started = block.moment(Key::Started)?;
    let started = started.date.and_time(started.time?);
    let Minutes(length) = block.duration(Key::Length)?;
    Some(Running {
        paper: PaperName {
            path: paper.at.path.clone(),
            title: paper.at.title(),
        },
        title: words::title(&paper.at),
        started,
        ends: started.checked_add_signed(Duration::minutes(length.into()))?,
    })
}

fn is_given(paper: &Paper<'_>, key: Key) -> bool {
    let field = paper.at.block.field(key).map(|field| &field.value);
    field.is_some_and(|value| *value != Value::Empty)
}

/// Whether a paper can be started, as far as it says: it was not, and has nothing marked.
pub fn can_start(paper: &Paper<'_>) -> bool {
    !is_given(paper, Key::Started) && !is_given(paper, Key::Finished) && !paper.is_recorded()
}

/// Whether a paper was started and not finished.
pub fn can_finish(paper: &Paper<'_>) -> bool {
    is_given(paper, Key::Started) && !is_given(paper, Key::Finished) && !paper.is_recorded()
}

/// Why a paper cannot be started or finished.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoStamp {
    /// It was recorded.
    Recorded(String),
    /// It was started already.
    Started(String, String),
    /// It was not started yet.
    NotStarted(String),
    /// It was finished already.
    Finished(String, String),
}

impl fmt::Display for NoStamp {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Recorded(title) => write!(f, "{title} was recorded already: draw a fresh paper."),
            Self::Started(title, when) => write!(
                f,
                "{title} was started already ({when}): empty started: to start it anew."
            ),
            Self::NotStarted(title) => {
                write!(
                    f,
                    "{title} was not started yet: write started: with a date and time."
                )
            }
            Self::Finished(title, when) => write!(
                f,
                "{title} was finished already ({when}): empty finished: to go on."
            ),
        }
    }
}

/// A stamp, and what to say of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Stamped {
    /// The change of the notes.
    pub edit: NotebookEdit,
    /// What to say.
    pub message: String,
}

/// Stamps a paper with the instant at which it is started.
pub fn start_paper(analysis: &Analysis, paper: &Paper<'_>) -> Result<Stamped, NoStamp> {
    let title = words::title(&paper.at);
    let said = |key| paper.at.field_text(key).unwrap_or_default();
    if paper.is_recorded() {
        return Err(NoStamp::Recorded(title));
    }
    if is_given(paper, Key::Finished) {
        return Err(NoStamp::Finished(title, said(Key::Finished)));
    }
    if is_given(paper, Key::Started) {
        return Err(NoStamp::Started(title, said(Key::Started)));
    }
    let now = now(analysis);
    let mut edit = NotebookEdit::default();
    set_field(&mut edit, &paper.at, Key::Started, &now.to_string());
    let notes = if paper.closed_notes {
        "notes closed"
    } else {
        "notes open"
    };
    let message = match paper.at.block.duration(Key::Length) {
        Some(length) => {
            let ends = now.start() + Duration::minutes(length.0.into());
            format!(
                "{title}: {length}, until {}; {notes}.",
                ends.format("%H:%M")
            )
        }
        None => format!("{title} has no length:, so there is no time to keep; {notes}."),
    };
    Ok(Stamped { edit, message })
}

/// Stamps a paper with the instant at which it is finished.
pub fn finish_paper(analysis: &Analysis, paper: &Paper<'_>) -> Result<Stamped, NoStamp> {
    let title = words::title(&paper.at);
    if is_given(paper, Key::Finished) {
        let when = paper.at.field_text(Key::Finished).unwrap_or_default();
        return Err(NoStamp::Finished(title, when));
    }
    if paper.is_recorded() {
        return Err(NoStamp::Recorded(title));
    }
    let Some(started) = paper.at.block.moment(Key::Started) else {
        return Err(NoStamp::NotStarted(title));
    };
    let now = now(analysis);
    let mut edit = NotebookEdit::default();
    set_field(&mut edit, &paper.at, Key::Finished, &now.to_string());
    let mut message = format!("{title}: finished");
    if started.time.is_some() {
        let took = now
            .start()
            .signed_duration_since(started.start())
            .num_minutes();
        message.push_str(&format!(" after {took} min"));
        if let Some(Minutes(length)) = paper.at.block.duration(Key::Length) {
            message.push_str(&match took - i64::from(length) {
                over if over > 0 => format!(", {over} more than the {length} allowed"),
                _ => format!(" of {length}"),
            });
        }
    }
    message.push_str(". Mark it now, while you remember.");
    Ok(Stamped { edit, message })
}

/// The instant of a stamp: whole minutes, as notes have them.
fn now(analysis: &Analysis) -> Moment {
    let time = analysis.now.time();
    Moment {
        date: analysis.now.date(),
        time: time.with_second(0).and_then(|time| time.with_nanosecond(0)),
    }
}

/// How a paper gets on: the time each question has, and where one should be by now.
pub fn pace(analysis: &Analysis, paper: &Paper<'_>) -> Option<String> {
    let Minutes(length) = paper.at.block.duration(Key::Length)?;
    let questions: Vec<u32> = paper
        .items
        .iter()
        .map(|item| item.block.count(Key::Points).unwrap_or(1).max(1))
        .collect();
    let points: u64 = questions.iter().map(|points| u64::from(*points)).sum();
    if points == 0 {
        return None;
    }
    let each = f64::from(length) / questions.len() as f64;
    let Some(clock) = clock_of(paper) else {
        return Some(format!(
            "{} in {length} min: {each:.0} min each.",
            words::count(questions.len(), "question")
        ));
    };
    let answered = paper.items.iter().filter(|item| {
        [Key::Mine, Key::Mark].iter().any(|key| {
            let field = item.block.field(*key).map(|field| &field.value);
            field.is_some_and(|value| *value != Value::Empty)
        })
    });
    let answered = answered.count();
    // The question whose share of the time, by points, is running now.
    let passed = analysis
        .now
        .signed_duration_since(clock.started)
        .num_seconds();
    let (mut due, mut sum, mut until) = (questions.len(), 0, clock.ends);
    for (number, points_of) in questions.iter().enumerate() {
        sum += u64::from(*points_of);
        let share =
            i64::from(length) * 60 * i64::try_from(sum).ok()? / i64::try_from(points).ok()?;
        if share > passed {
            (due, until) = (number + 1, clock.started + Duration::seconds(share));
            break;
        }
    }
    let mut said = format!(
        "{}; an even pace is at question {due} of {} until {}",
        clock.left_in_words(analysis.now),
        questions.len(),
        until.format("%H:%M")
    );
    if answered > 0 {
        said.push_str(&format!("; {answered} answered"));
    }
    said.push_str(". Pass over what is hard and come back.");
    Some(said)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::papers::papers;
    use notes::NameKey;

    /// A paper of four questions that takes 80 minutes, with this head; it is noon.
    fn notes(head: &str) -> String {
        let questions: String = (1..=4)
            .map(|n| format!("\n@question {n}\n  Decide {n}.\n  mark: \n"))
            .collect();
        format!("@paper Mock\n  length: 80 min\n{head}{questions}")
    }

    fn with_paper<T>(text: &str, work: impl FnOnce(&fixture::Fixture, &Paper<'_>) -> T) -> T {
        let fixture = fixture::notebook(text);
        let paper = papers(&fixture.analysis().notebook, &NameKey::default()).remove(0);
        work(&fixture, &paper)
    }

    /// Starts or finishes the paper, and prints the first lines of the notes after it.
    fn check(
        stamp: fn(&Analysis, &Paper<'_>) -> Result<Stamped, NoStamp>,
        head: &str,
        expected: &str,
    ) {
        let said = with_paper(&notes(head), |fixture, paper| {
            match stamp(fixture.analysis(), paper) {
                Ok(stamped) => {
                    let after = fixture.after(&stamped.edit);
                    let head = after.split("\n\n").next().unwrap_or_default();
                    format!("{head}\n{}", stamped.message)
                }
                Err(why) => why.to_string(),
            }
        });
        assert_eq!(said, expected);
    }

    #[test]
    fn a_paper_is_started_once() {
        check(
            start_paper,
            "  started: \n",
            "@paper Mock\n  length: 80 min\n  started: 2027-02-15 12:00\n\
             Mock: 1 h 20 min, until 13:20; notes closed.",
        );
        check(
            start_paper,
            "  notes: open\n",
            "@paper Mock\n  length: 80 min\n  notes: open\n  started: 2027-02-15 12:00\n\
             Mock: 1 h 20 min, until 13:20; notes open.",
        );
        check(
            start_paper,
            "  started: 2027-02-15 11:00\n",
            "Mock was started already (2027-02-15 11:00): empty started: to start it anew.",
        );
        check(
            start_paper,
            "  recorded: 2027-02-15\n",
            "Mock was recorded already: draw a fresh paper.",
        );
    }

    #[test]
    fn a_paper_is_finished_once() {
        check(
            finish_paper,
            "  started: 2027-02-15 10:30\n  finished: \n",
            "@paper Mock\n  length: 80 min\n  started: 2027-02-15 10:30\n  finished: 2027-02-15 12:00\n\
             Mock: finished after 90 min, 10 more than the 80 allowed. Mark it now, while you remember.",
        );
        check(
            finish_paper,
            "",
            "Mock was not started yet: write started: with a date and time.",
        );
        check(
            finish_paper,
            "  finished: 2027-02-15 11:00\n",
            "Mock was finished already (2027-02-15 11:00): empty finished: to go on.",
        );
    }

    #[test]
    fn the_clock_runs_from_the_stamps() {
        let clocks = |head: &str| {
            let fixture = fixture::notebook(&notes(head));
            let clocks = running(fixture.analysis());
            let left = clocks.iter().map(|one| {
                (
                    one.minutes_left(fixture::now()),
                    one.percent(fixture::now()),
                )
            });
            left.collect::<Vec<_>>()
        };
        assert_eq!(clocks("  started: 2027-02-15 11:40\n"), [(60, 25)]);
        assert_eq!(clocks("  started: 2027-02-15 12:00\n"), [(80, 0)]);
        for none in [
            "",
            "  started: \n",
            "  started: 2027-02-15\n",
            "  started: 2027-02-15 10:40\n",
            "  started: 2027-02-15 12:01\n",
            "  started: 2027-02-15 11:40\n  finished: 2027-02-15 11:50\n",
            "  started: 2027-02-15 11:40\n  recorded: 2027-02-15\n",
        ] {
            assert_eq!(clocks(none), [], "{none}");
        }
        assert_eq!(
            running(fixture::notebook("@paper A\n  started: 2027-02-15 11:40\n").analysis()),
            []
        );
    }

    #[test]
    fn three_messages_are_said_once_each() {
        let fixture = fixture::notebook(&notes("  started: 2027-02-15 11:40\n"));
        let clock = running(fixture.analysis()).remove(0);
        let start = clock.started;
        let mut said = Vec::new();
        // Every 7 seconds, from before the start until after the end.
        for step in -10..800 {
            let before = start + Duration::seconds(7 * step);
            let now = before + Duration::seconds(7);
            said.extend(clock.message(before, now));
        }
        assert_eq!(
            said,
            [
                "Mock: half time, 40 min left.",
                "Mock: 5 min left.",
                "Mock: time is up. Finish the paper when you stop.",
            ]
        );
        // A short paper has no half time of its own, and a long sleep brings the last message only.
        let short = Running {
            ends: start + Duration::minutes(5),
            ..clock.clone()
        };
        assert_eq!(short.message(start, start + Duration::minutes(4)), None);
        let late = clock
            .message(start, start + Duration::hours(9))
            .expect("a message");
        assert!(late.contains("time is up"), "{late}");
    }

    #[test]
    fn the_pace_follows_the_points() {
        let pace_of =
            |text: &str| with_paper(text, |fixture, paper| pace(fixture.analysis(), paper));
        assert_eq!(
            pace_of(&notes("")).as_deref(),
            Some("4 questions in 80 min: 20 min each.")
        );
        let started = notes("  started: 2027-02-15 11:30\n");
        assert_eq!(
            pace_of(&started).as_deref(),
            Some(
                "50 min left; an even pace is at question 2 of 4 until 12:10. \
                 Pass over what is hard and come back."
            )
        );
        let weighted = started
            .replacen("  Decide 1.\n", "  points: 5\n  Decide 1.\n", 1)
            .replacen("mark: \n", "mark: right\n", 1);
        assert_eq!(
            pace_of(&weighted).as_deref(),
            Some(
                "50 min left; an even pace is at question 1 of 4 until 12:20; 1 answered. \
                 Pass over what is hard and come back."
            )
        );
        assert_eq!(pace_of("@paper A\n  length: 10 min\n"), None);
    }
}
