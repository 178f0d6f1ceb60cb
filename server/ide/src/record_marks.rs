//! Writing the marks of a paper back to the problems it was drawn from, as one edit over all
//! files that the editor can undo.
//!
//! Each marked question gives its source a line `tried: <date> closed mock right`, without `mock` if
//! the paper is a drill sheet, whose questions count as practice. The date is the
//! day on which the paper was finished, else started, else today. The paper is stamped
//! `recorded:`, so that nothing is counted twice; and a problem that has a mock try of that day
//! already keeps it, so that a stamp that was lost does no harm either.

use std::fmt;

use chrono::NaiveDate;
use notes::value::{NotesUse, Outcome, Value};
use notes::{Key, Located, UnitId};

use crate::edit::NotebookEdit;
use crate::new_field::{add_field, set_field};
use crate::own_answers::{OwnMark, own_mark};
use crate::papers::{Paper, PaperUse};
use crate::question_source::{NoSource, Sources};
use crate::{Analysis, words};

/// What to do with questions that have no mark while others have one.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unmarked {
    /// Ask: nothing is recorded.
    Refuse,
    /// They were passed over: they are marked and recorded as skipped.
    Skipped,
}

/// The edit that records a paper, and what to say about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedMarks {
    /// The change: a `tried:` line for each problem and the paper's stamp.
    pub edit: NotebookEdit,
    /// The day of the tries.
    pub date: NaiveDate,
    /// Whether notes were open.
    pub notes: NotesUse,
    /// Every question, in order.
    pub questions: Vec<RecordedQuestion>,
    /// The questions that had no mark and were marked by their answers, with what is wrong with
    /// those that are wrong.
    pub by_answer: Vec<(String, Option<String>)>,
}

/// What became of one question's mark.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedQuestion {
    /// The question's title, as `question 3`.
    pub title: String,
    /// The mark.
    pub outcome: Outcome,
    /// Where it went.
    pub fate: Fate,
}

/// Where a mark went.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Fate {
    /// A line was added to this problem.
    Written(UnitId),
    /// This problem has a mock try of the day already.
    AlreadyThere(UnitId),
    /// The problem is no longer in the notes: the mark stays in the paper only.
    NoSource,
}

/// Why nothing was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum RecordRefusal {
    /// The paper has no questions but problems, which hold their own tries.
    OnlyProblems,
    /// The paper has neither questions nor problems.
    Empty,
    /// The marks were recorded before.
    AlreadyRecorded {
        /// What `recorded:` says.
        when: String,
    },
    /// No question has a mark.
    NoMarks,
    /// Some questions have no mark.
    SomeUnmarked(Vec<String>),
    /// Some answers cannot be marked: each question with the reason.
    Unclear(Vec<(String, String)>),
    /// Some marks cannot be read: each question with what was found.
    Unreadable(Vec<(String, String)>),
    /// Some questions have two marks.
    MarkedTwice(Vec<String>),
    /// The day of the paper cannot be read: the field and what was found.
    UnreadableDay(Key, String),
    /// The paper says that it was sat on a day that is still to come.
    FutureDay(NaiveDate),
    /// It is not clear which problems some questions were drawn from.
    Ambiguous(Vec<(String, NoSource)>),
}

impl fmt::Display for RecordRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::OnlyProblems => f.write_str(
                "This paper holds problems, not questions: write a tried: line below each problem, \
                 such as tried: 2027-02-21 closed mock right.",
            ),
            Self::Empty => f.write_str("This paper has no questions."),
            Self::AlreadyRecorded { when } => write!(
                f,
                "The marks of this paper were recorded before ({when}). To correct one, change the \
                 tried: line of its problem."
            ),
            Self::NoMarks => f.write_str(
                "No question has a mark yet: behind mark: write right, partly, wrong, skipped or a \
                 score such as 3/4.",
            ),
            Self::SomeUnmarked(questions) => write!(
                f,
                "No mark yet: {}. Mark them, or record them as skipped.",
                questions.join(", ")
            ),
            Self::Unclear(answers) => {
                let said: Vec<String> = answers
                    .iter()
                    .map(|(question, why)| format!("{question} ({why})"))
                    .collect();
                write!(
                    f,
                    "Mark these yourself, as their answers cannot be checked: {}.",
                    said.join(", ")
                )
            }
            Self::Unreadable(marks) => {
                let said: Vec<String> = marks
                    .iter()
                    .map(|(question, found)| format!("{question} has {found}"))
                    .collect();
                write!(
                    f,
                    "Cannot read a mark: {}; expected right, partly, wrong, skipped or a score such \
                     as 3/4.",
                    said.join(", ")
                )
            }
            Self::MarkedTwice(questions) => write!(
                f,
                "More than one mark: {}. Keep one mark: line for each question.",
                questions.join(", ")
            ),
            Self::UnreadableDay(key, found) => write!(
                f,
                "Cannot read {}: {found}; expected a date such as 2027-02-26, or \
                 2027-02-26 10:00.",
                key.word()
            ),
            Self::FutureDay(date) => write!(
                f,
                "The paper says it was sat on {date}, which is still to come. Correct finished: or \
                 started: first."
            ),
            Self::Ambiguous(questions) => {
                let said: Vec<String> = questions
                    .iter()
                    .map(|(question, why)| format!("{question}: {why}"))
                    .collect();
                write!(
                    f,
                    "Nothing was recorded, as it is not clear where to. {}. Give the problem its \
                     own name, and write it behind of:.",
                    said.join("; ")
                )
            }
        }
    }
}

impl RecordedMarks {
    /// What was recorded, in a few sentences.
    pub fn summary(&self) -> String {
        let notes = match self.notes {
            NotesUse::Open => "open",
            NotesUse::Closed => "closed",
        };
        let mut said = format!(
            "Recorded {} of {}, notes {notes}: {}.",
            words::count(self.questions.len(), "mark"),
            self.date,
            outcomes(&self.questions)
        );
        let with = |fate: fn(&Fate) -> bool| {
            let found = self
                .questions
                .iter()
                .filter(|question| fate(&question.fate));
            found
                .map(|question| question.title.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        };
        let there = with(|fate| matches!(fate, Fate::AlreadyThere(_)));
        if !there.is_empty() {
            said.push_str(&format!(" Already there, not written again: {there}."));
        }
        if !self.by_answer.is_empty() {
            let right = self.by_answer.iter().filter(|(_, wrong)| wrong.is_none());
            let right = Some(right.count()).filter(|right| *right > 0);
            let wrong = self.by_answer.iter().filter_map(|(question, wrong)| {
                let why = wrong.as_ref()?;
                Some(format!("{question} wrong ({why})"))
            });
            let right = right.map(|right| format!("{right} right"));
            let marked: Vec<String> = right.into_iter().chain(wrong).collect();
            said.push_str(&format!(" Marked by their answers: {}.", marked.join(", ")));
        }
        let gone = with(|fate| matches!(fate, Fate::NoSource));
        if !gone.is_empty() {
            said.push_str(&format!(
                " No problem found in the notes, so that the mark stays in the paper only: {gone}."
            ));
        }
        said
    }
}

/// How many questions went how.
fn outcomes(questions: &[RecordedQuestion]) -> String {
    let count = |wanted: fn(Outcome) -> bool| {
        questions
            .iter()
            .filter(|question| wanted(question.outcome))
            .count()
    };
    let groups = [
        (count(|o| o == Outcome::Right), "right"),
        (count(|o| o == Outcome::Partly), "partly"),
        (count(|o| o == Outcome::Wrong), "wrong"),
        (count(|o| o == Outcome::Skipped), "skipped"),
        (count(|o| matches!(o, Outcome::Score(_))), "with a score"),
    ];
    let said = groups
        .into_iter()
        .filter(|(n, _)| *n > 0)
        .map(|(n, word)| format!("{n} {word}"));
    said.collect::<Vec<_>>().join(", ")
}

/// The edit that writes a paper's marks back to its problems.
pub fn record_marks(
    analysis: &Analysis,
    paper: &Paper<'_>,
    unmarked: Unmarked,
) -> Result<RecordedMarks, RecordRefusal> {
    if paper.is_recorded() {
        let when = paper.at.field_text(Key::Recorded).unwrap_or_default();
        return Err(RecordRefusal::AlreadyRecorded { when });
    }
    let sources = Sources::of(&analysis.notebook, &paper.course);
    let marks = marks(analysis, paper, &sources, unmarked)?;
    let date = sat_on(paper, analysis.today())?;
    let notes = if paper.closed_notes {
        NotesUse::Closed
    } else {
        NotesUse::Open
    };

    let found: Vec<_> = marks
        .iter()
        .map(|mark| sources.find(&mark.question))
        .collect();
    let unclear = |(mark, found): (&Mark<'_>, &Result<Located<'_>, NoSource>)| match found {
        Err(why @ NoSource::Ambiguous { .. }) => Some((mark.title(), why.clone())),
        _ => None,
    };
    let unclear: Vec<_> = marks.iter().zip(&found).filter_map(unclear).collect();
    if !unclear.is_empty() {
        return Err(RecordRefusal::Ambiguous(unclear));
    }

    let is_mock = paper.purpose() == PaperUse::MockTest;
    let mut edit = NotebookEdit::default();
    let by_answer = marks.iter().filter_map(Mark::by_answer).collect();
    let mut questions = Vec::new();
    for (mark, source) in marks.iter().zip(found) {
        let fate = match source {
            Err(_) => Fate::NoSource,
            Ok(at) if is_mock && has_mock_try(&at, date) => Fate::AlreadyThere(at.id()),
            Ok(at) => {
                add_field(
                    &mut edit,
                    &at,
                    Key::Tried,
                    &try_of(date, notes, is_mock, mark),
                );
                Fate::Written(at.id())
            }
        };
        if mark.is_missing {
            set_field(
                &mut edit,
                &mark.question,
                Key::Mark,
                &mark.outcome.to_string(),
            );
        }
        questions.push(RecordedQuestion {
            title: mark.title(),
            outcome: mark.outcome,
            fate,
        });
    }
    let now = analysis.now.format("%Y-%m-%d %H:%M").to_string();
    set_field(&mut edit, &paper.at, Key::Recorded, &now);
    Ok(RecordedMarks {
        edit,
        date,
        notes,
        questions,
        by_answer,
    })
}

/// What a `tried:` line says.
fn try_of(date: NaiveDate, notes: NotesUse, is_mock: bool, mark: &Mark<'_>) -> String {
    let notes = match notes {
        NotesUse::Open => "open",
        NotesUse::Closed => "closed",
    };
    let mock = if is_mock { " mock" } else { "" };
    let has_other_numbers = mark.question.block.field(Key::Seed).is_some();
    let remark = if has_other_numbers {
        ", other numbers"
    } else {
        ""
    };
    format!("{date} {notes}{mock} {}{remark}", mark.outcome)
}

fn has_mock_try(at: &Located<'_>, date: NaiveDate) -> bool {
    at.block
        .attempts()
        .any(|attempt| attempt.mock && attempt.date == date)
}

/// A question with its mark.
struct Mark<'a> {
    question: Located<'a>,
    outcome: Outcome,
    /// Whether the mark is to be written into the paper, too.
    is_missing: bool,
    /// How the answer was marked, where there was no mark.
    own: Option<OwnMark>,
}

impl Mark<'_> {
    fn title(&self) -> String {
        title(&self.question)
    }

    /// The question, and what is wrong with its answer, if the answer was marked.
    fn by_answer(&self) -> Option<(String, Option<String>)> {
        match self.own.as_ref()? {
            OwnMark::Right => Some((self.title(), None)),
            OwnMark::Wrong(why) => Some((self.title(), Some(why.clone()))),
            OwnMark::Unclear(_) => None,
        }
    }
}

/// How a message names a question.
pub(crate) fn title(question: &Located<'_>) -> String {
    match question.title() {
        title if title.is_empty() => "a question without a number".to_owned(),
        title => format!("question {title}"),
    }
}

/// The marks of a paper's questions, in order.
fn marks<'a>(
    analysis: &Analysis,
    paper: &Paper<'a>,
    sources: &Sources<'_>,
    unmarked: Unmarked,
) -> Result<Vec<Mark<'a>>, RecordRefusal> {
    let (mut marks, mut missing) = (Vec::new(), Vec::new());
    let mut unclear = Vec::new();
    let (mut unreadable, mut twice) = (Vec::new(), Vec::new());
    let is_question = |item: &&Located<'a>| item.block.kind == Some(notes::BlockKind::Question);
    for question in paper.items.iter().filter(is_question) {
        let written = question.block.fields_of(Key::Mark);
        let written: Vec<_> = written
            .filter(|field| field.value != Value::Empty)
            .collect();
        match written[..] {
            [] => {
                let source = sources.find(question).ok();
                let own = own_mark(analysis, question, source.as_ref());
                let outcome = match &own {
                    Some(OwnMark::Right) => Outcome::Right,
                    Some(OwnMark::Wrong(_)) => Outcome::Wrong,
                    Some(OwnMark::Unclear(why)) => {
                        unclear.push((title(question), why.clone()));
                        Outcome::Skipped
                    }
                    None => {
                        missing.push(title(question));
                        Outcome::Skipped
                    }
                };
                marks.push(Mark {
                    question: *question,
                    outcome,
                    is_missing: true,
                    own,
                });
            }
            [field] => match &field.value {
                Value::Mark(outcome) => {
                    marks.push(Mark {
                        question: *question,
                        outcome: *outcome,
                        is_missing: false,
                        own: None,
                    });
                }
                _ => unreadable.push((title(question), question.text(field.value_span))),
            },
            _ => twice.push(title(question)),
        }
    }
    if !unreadable.is_empty() {
        return Err(RecordRefusal::Unreadable(unreadable));
    }
    if !twice.is_empty() {
        return Err(RecordRefusal::MarkedTwice(twice));
    }
    if !unclear.is_empty() {
        return Err(RecordRefusal::Unclear(unclear));
    }
    match (marks.len(), missing.len()) {
        (0, _) if paper.items.is_empty() => Err(RecordRefusal::Empty),
        (0, _) => Err(RecordRefusal::OnlyProblems),
        (all, without) if all == without => Err(RecordRefusal::NoMarks),
        (_, 0) => Ok(marks),
        _ if unmarked == Unmarked::Skipped => Ok(marks),
        _ => Err(RecordRefusal::SomeUnmarked(missing)),
    }
}

/// The day on which the paper was sat.
fn sat_on(paper: &Paper<'_>, today: NaiveDate) -> Result<NaiveDate, RecordRefusal> {
    for key in [Key::Finished, Key::Started] {
        if let Some(Value::Unreadable(unreadable)) = paper.at.block.field(key).map(|f| &f.value) {
            return Err(RecordRefusal::UnreadableDay(key, unreadable.found.clone()));
        }
    }
    match paper.stated_day() {
        Some(date) if date > today => Err(RecordRefusal::FutureDay(date)),
        stated => Ok(stated.unwrap_or(today)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::papers::papers;

    const NOTES: &str = "\
=== course.porism
@course Algebra
=== 1.porism
@topic 1.1 Lines

@problem 1.1.1
  pattern: slope
  Find the slope of $y = 3x + 1$.
  answer: $3$
  tried: 2027-02-01 open right 2 min
  spotted: 2027-02-02 right

@problem 1.1.2
  Find the slope of $2y = x$.
=== 2.porism
@problem
\tWhere does $y = 2x$ meet $y = x + 1$?
\tanswer: $(1, 2)$
=== papers/mock.porism
@paper Mock test 1
  for: Midterm
  notes: closed
  finished: 2027-02-14 15:00
";

    /// Records the paper, whose questions are appended to [`NOTES`]; gives the changed files and
    /// the summary, or the refusal.
    fn recorded(notes: &str, unmarked: Unmarked) -> Result<(String, String), String> {
        let fixture = fixture::notebook(notes);
        let notebook = &fixture.analysis().notebook;
        let mut found = notebook
            .courses()
            .into_iter()
            .flat_map(|c| papers(notebook, &c));
        let paper = found.next().expect("a paper");
        let marks =
            record_marks(fixture.analysis(), &paper, unmarked).map_err(|r| r.to_string())?;
        Ok((fixture.after(&marks.edit), marks.summary()))
    }

    fn check(questions: &str, expected: &str) {
        let (after, summary) =
            recorded(&format!("{NOTES}{questions}"), Unmarked::Refuse).expect("it is recorded");
        assert_eq!(format!("{after}\n{summary}"), expected);
    }

    fn check_refused(questions: &str, expected: &str) {
        assert_eq!(
            recorded(&format!("{NOTES}{questions}"), Unmarked::Refuse),
            Err(expected.into())
        );
    }

    const QUESTIONS: &str = "
@question 1
  of: 1.1.1
  Find the slope of $y = 3x + 1$.
  mark: right

@question 2
  Where does $y = 2x$ meet $y = x + 1$?
  my first attempt was y = 2
  mine: $(1, 2)$
  mark: 3/4

@question 3
  of: 1.1.2
  Find the slope of $2y = x$.
  mark:
";

    #[test]
    fn answers_without_a_mark_are_marked() {
        let fixture = fixture::notebook(
            "@problem 1\n  Solve $x^2 = 5x - 6$.\n  answer: $x = 2$, $x = 3$\n\n@problem 2\n  Solve $x + 1 = 3$.\n\n\
             @paper P\n\n@question 1\n  of: 1\n  Solve $x^2 = 5x - 6$.\n  mine: $x = 3$ or $x = 2$\n  mark:\n\n\
             @question 2\n  of: 2\n  Solve $x + 1 = 3$.\n  mine: x = 4\n  mark: \n",
        );
        let analysis = fixture.analysis();
        let all = papers(&analysis.notebook, &notes::NameKey::default());
        let done = record_marks(analysis, &all[0], Unmarked::Refuse).expect("marks");
        let after = fixture.after(&done.edit);
        assert!(
            after.contains("$x = 3$\n  tried: 2027-02-15 closed mock right\n"),
            "{after}"
        );
        assert!(
            after.contains("= 3$.\n  tried: 2027-02-15 closed mock wrong\n"),
            "{after}"
        );
        assert!(after.contains("  mark: right\n"), "{after}");
        assert!(after.ends_with("  mark: wrong\n"), "{after}");
        let said = done.summary();
        assert!(
            said.contains("Marked by their answers: 1 right, question 2 wrong ("),
            "{said}"
        );
    }

    #[test]
    fn a_drill_sheet_is_practice() {
        let fixture = fixture::notebook(
            "@problem 1\n  Solve $x + 1 = 3$.\n  tried: 2027-02-15 closed mock wrong\n\n\
             @paper P\n  pattern: linear\n  drawn: 2027-02-15\n  notes: open\n\n\
             @question 1\n  of: 1\n  Solve $x + 1 = 3$.\n  mine: $x = 2$\n  mark:\n",
        );
        let analysis = fixture.analysis();
        let all = papers(&analysis.notebook, &notes::NameKey::default());
        let done = record_marks(analysis, &all[0], Unmarked::Refuse).expect("marks");
        let after = fixture.after(&done.edit);
        let tries = "closed mock wrong\n  tried: 2027-02-15 open right\n";
        assert!(after.contains(tries), "{after}");
    }

    #[test]
    fn versions_with_other_numbers_are_tries_of_their_problem() {
        let fixture = fixture::notebook(
            "@problem 1\n  Solve $x + 1 = 3$.\n  answer: $x = 2$\n\n\
             @paper P\n  drawn: 2027-02-15\n\n\
             @question 1\n  of: 1\n  seed: 4\n  Solve $x + 5 = 9$.\n  mine: $x = 4$\n  mark:\n\n\
             @question 2\n  of: 1\n  seed: 5\n  Solve $x + 2 = 9$.\n  mine: $x = 2$\n  mark:\n",
        );
        let analysis = fixture.analysis();
        let all = papers(&analysis.notebook, &notes::NameKey::default());
        let done = record_marks(analysis, &all[0], Unmarked::Refuse).expect("marks");
        let after = fixture.after(&done.edit);
        let tries = "  tried: 2027-02-15 closed right, other numbers\n  \
                     tried: 2027-02-15 closed wrong, other numbers\n";
        assert!(after.contains(tries), "{after}");
    }

    #[test]
    fn an_answer_that_cannot_be_checked_is_left_to_the_student() {
        let fixture = fixture::notebook(
            "@problem 1\n  Say why.\n\n@paper P\n\n@question 1\n  of: 1\n  Say why.\n  mine: because\n",
        );
        let analysis = fixture.analysis();
        let all = papers(&analysis.notebook, &notes::NameKey::default());
        for unmarked in [Unmarked::Refuse, Unmarked::Skipped] {
            let refused = record_marks(analysis, &all[0], unmarked).expect_err("a refusal");
            let said = refused.to_string();
            assert!(
                said.starts_with(
                    "Mark these yourself, as their answers cannot be checked: question 1 ("
                ),
                "{said}"
            );
        }
    }

    #[test]
    fn each_mark_becomes_a_try_of_its_problem() {
        let marked = QUESTIONS.replace("mark:\n", "mark: wrong\n");
        check(
            &marked,
            &format!(
                "\
=== 1.porism
@topic 1.1 Lines

@problem 1.1.1
  pattern: slope
  Find the slope of $y = 3x + 1$.
  answer: $3$
  tried: 2027-02-01 open right 2 min
  tried: 2027-02-14 closed mock right
  spotted: 2027-02-02 right

@problem 1.1.2
  Find the slope of $2y = x$.
  tried: 2027-02-14 closed mock wrong
=== 2.porism
@problem
\tWhere does $y = 2x$ meet $y = x + 1$?
\tanswer: $(1, 2)$
\ttried: 2027-02-14 closed mock 3/4
=== papers/mock.porism
@paper Mock test 1
  for: Midterm
  notes: closed
  finished: 2027-02-14 15:00
  recorded: 2027-02-15 12:00
{marked}
Recorded 3 marks of 2027-02-14, notes closed: 1 right, 1 wrong, 1 with a score."
            ),
        );
    }

    #[test]
    fn questions_without_a_mark_are_asked_about_or_skipped() {
        check_refused(
            QUESTIONS,
            "No mark yet: question 3. Mark them, or record them as skipped.",
        );
        let (after, summary) =
            recorded(&format!("{NOTES}{QUESTIONS}"), Unmarked::Skipped).expect("it is recorded");
        assert!(
            after.contains(
                "  Find the slope of $2y = x$.\n  tried: 2027-02-14 closed mock skipped\n"
            )
        );
        assert!(
            after.ends_with("  Find the slope of $2y = x$.\n  mark: skipped\n"),
            "{after}"
        );
        assert!(
            summary.ends_with("1 right, 1 skipped, 1 with a score."),
            "{summary}"
        );
    }

    #[test]
    fn nothing_is_recorded_twice() {
        let (after, _) =
            recorded(&format!("{NOTES}{QUESTIONS}"), Unmarked::Skipped).expect("it is recorded");
        let course = "=== course.porism\n@course Algebra\n";
        assert_eq!(
            recorded(&format!("{course}{after}"), Unmarked::Skipped),
            Err(
                "The marks of this paper were recorded before (2027-02-15 12:00). To correct one, \
                 change the tried: line of its problem."
                    .to_owned()
            )
        );
        // The stamp was lost, the tries were not.
        let unstamped = after.replace("  recorded: 2027-02-15 12:00\n", "");
        let (stamped, summary) =
            recorded(&format!("{course}{unstamped}"), Unmarked::Skipped).expect("it is recorded");
        assert!(
            stamped.starts_with("@paper Mock test 1\n"),
            "only the paper changes: {stamped}"
        );
        assert!(
            summary
                .ends_with("Already there, not written again: question 1, question 2, question 3."),
            "{summary}"
        );
    }

    #[test]
    fn what_cannot_be_recorded_is_said() {
        let question = |mark: &str| format!("\n@question 1\n  of: 1.1.1\n  Find.\n{mark}");
        check_refused("", "This paper has no questions.");
        check_refused(
            "\n@problem R1\n  Solve $x = 1$.\n",
            "This paper holds problems, not questions: write a tried: line below each problem, such \
             as tried: 2027-02-21 closed mock right.",
        );
        check_refused(
            &question(""),
            "No question has a mark yet: behind mark: write right, partly, wrong, skipped or a score \
             such as 3/4.",
        );
        check_refused(
            &question("  mark: rigth\n"),
            "Cannot read a mark: question 1 has rigth; expected right, partly, wrong, skipped or a \
             score such as 3/4.",
        );
        check_refused(
            &question("  mark: right\n  mark: wrong\n"),
            "More than one mark: question 1. Keep one mark: line for each question.",
        );
    }

    #[test]
    fn the_day_is_that_of_the_paper() {
        let with_day = |day: &str| {
            let notes =
                format!("{NOTES}{QUESTIONS}").replace("  finished: 2027-02-14 15:00\n", day);
            recorded(&notes, Unmarked::Skipped).map(|(_, summary)| summary)
        };
        let day = |field: &str| with_day(field).expect("it is recorded")[20..30].to_owned();
        assert_eq!(day("  started: 2027-02-12 09:00\n"), "2027-02-12");
        assert_eq!(
            day("  drawn: 2027-02-10\n"),
            "2027-02-15",
            "drawn is not sat"
        );
        assert_eq!(
            with_day("  finished: 2072-02-14\n"),
            Err("The paper says it was sat on 2072-02-14, which is still to come. Correct finished: \
                 or started: first."
                .to_owned())
        );
        assert_eq!(
            with_day("  finished: 2027-02-30\n"),
            Err(
                "Cannot read finished: 2027-02-30; expected a date such as 2027-02-26, or \
                 2027-02-26 10:00."
                    .to_owned()
            )
        );
    }

    #[test]
    fn notes_open_is_recorded_as_open() {
        let notes = format!("{NOTES}{QUESTIONS}").replace("notes: closed", "notes: open");
        let (after, _) = recorded(&notes, Unmarked::Skipped).expect("it is recorded");
        assert!(
            after.contains("tried: 2027-02-14 open mock right\n"),
            "{after}"
        );
        // What an exam allows in words is no open book.
        let notes = format!("{NOTES}{QUESTIONS}").replace("notes: closed", "notes: one sheet");
        let (after, _) = recorded(&notes, Unmarked::Skipped).expect("it is recorded");
        assert!(
            after.contains("tried: 2027-02-14 closed mock right\n"),
            "{after}"
        );
    }

    #[test]
    fn a_problem_is_found_wherever_it_went() {
        let question =
            "\n@question 1\n  of: 1.1.1\n  Find the slope of $y = 3x + 1$.\n  mark: right\n";
        let find = |change: &dyn Fn(String) -> String| {
            let notes = change(format!("{NOTES}{question}"));
            let fixture = fixture::notebook(&notes);
            let notebook = &fixture.analysis().notebook;
            let paper = papers(notebook, &notes::NameKey::new("Algebra")).remove(0);
            let marks = record_marks(fixture.analysis(), &paper, Unmarked::Refuse).expect("a mark");
            let fate = &marks.questions[0].fate;
            match fate {
                Fate::Written(id) => {
                    format!("{} {}", id.file, notebook.block(id).expect("it").title())
                }
                Fate::AlreadyThere(_) => "there".to_owned(),
                Fate::NoSource => marks.summary(),
            }
        };
        assert_eq!(find(&|notes| notes), "1.porism 1.1.1");
        assert_eq!(
            find(&|notes| notes.replace("=== 1.porism", "=== moved.porism")),
            "moved.porism 1.1.1"
        );
        // Renumbered, and the old number given away.
        assert_eq!(
            find(&|notes| notes
                .replace("@problem 1.1.1", "@problem 1.1.9")
                .replace("@problem 1.1.2", "@problem 1.1.1")),
            "1.porism 1.1.9"
        );
        // The name was dropped.
        assert_eq!(
            find(&|notes| notes.replace("@problem 1.1.1", "@problem")),
            "1.porism "
        );
        // The statement was mended after the paper was drawn.
        assert_eq!(
            find(&|notes| notes.replace(
                "  pattern: slope\n  Find the slope",
                "  pattern: slope\n  Find the gradient"
            )),
            "1.porism 1.1.1"
        );
        let (from, to) = ("@problem 1.1.1", "@problem 1.1.2");
        let without = |notes: String| {
            let (start, end) = (notes.find(from).expect("it"), notes.find(to).expect("it"));
            format!("{}{}", &notes[..start], &notes[end..])
        };
        assert_eq!(
            find(&without),
            "Recorded 1 mark of 2027-02-14, notes closed: 1 right. No problem found in the notes, so \
             that the mark stays in the paper only: question 1."
        );
    }

    #[test]
    fn two_problems_of_one_name_are_told_apart_by_their_text() {
        let twice = "\n@question 1\n  of: 7\n  Solve $x = 2$.\n  mark: right\n\n@problem 7\n  Solve $x = 1$.\n";
        // Below a paper a problem belongs to it, and is still a problem of the course.
        let notes = format!("{NOTES}{twice}\n@problem 7\n  Solve $x = 2$.\n");
        let (after, _) = recorded(&notes, Unmarked::Refuse).expect("it is recorded");
        assert!(
            after.ends_with("Solve $x = 2$.\n  tried: 2027-02-14 closed mock right\n"),
            "{after}"
        );
        assert_eq!(
            recorded(&notes.replace("Solve $x = 2$.\n  mark", "Solve $x = 3$.\n  mark"), Unmarked::Refuse),
            Err("Nothing was recorded, as it is not clear where to. question 1: 2 blocks are called \
                 7, and none of them asks this. Give the problem its own name, and write it behind of:."
                .to_owned())
        );
    }

    #[test]
    fn theorems_are_found_by_their_title() {
        let notes = format!(
            "{NOTES}\n@question 1\n  of: Mean value, for slopes\n  State and prove: Mean value, for slopes\n  mark: partly\n\
             === 3.porism\n@theorem Mean value, for slopes\n  There is a point.\n"
        );
        let (after, _) = recorded(&notes, Unmarked::Refuse).expect("it is recorded");
        assert!(
            after.contains("  There is a point.\n  tried: 2027-02-14 closed mock partly\n"),
            "{after}"
        );
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(96))]

        /// Whatever stands around the problems, recording only puts lines in.
        #[test]
        fn recording_touches_nothing_but_the_lines_it_adds(
            bodies in proptest::collection::vec(
                proptest::collection::vec(
                    proptest::sample::select(vec![
                        "  Find $x$ in $x + 1 = 2$.", "\tSolve it.", "      deeper", "", "  pattern: a, b",
                        "  answer: $1$", "  % note", "  hint: look,", "    and see", "  spotted: 2027-01-01 right",
                        "  old: a word", "  $$ x", "    = y $$", "% aside", "  solution:", "        by hand",
                    ]),
                    0..8,
                ),
                1..5,
            ),
            crlf: bool,
            final_newline: bool,
        ) {
            let mut notes = String::from("@course Algebra\n\n");
            for (n, body) in bodies.iter().enumerate() {
                notes.push_str(&format!("@problem {n}\n{}\nProse.\n\n", body.join("\n")));
            }
            if !final_newline {
                notes.truncate(notes.trim_end().len());
            }
            if crlf {
                notes = notes.replace('\n', "\r\n");
            }
            let (path, paper_path) = (crate::FilePath::new("n.porism"), crate::FilePath::new("p.porism"));
            let mut workspace = crate::Workspace::from_files(fixture::now(), [("n.porism", notes.as_str())]);
            let mut text = String::from("@paper Mock\n\n");
            for at in workspace.analysis().notebook.blocks_in(&path).skip(1) {
                let asked = crate::question_source::question_text(&at).unwrap_or_default();
                let (n, asked) = (at.title(), asked.replace('\n', "\n  "));
                text.push_str(&format!("@question {n}\n  of: {n}\n  {asked}\n  mark: right\n"));
            }
            workspace.set_text(&paper_path, &text);
            let analysis = workspace.analysis().clone();
            let found = papers(&analysis.notebook, &notes::NameKey::new("Algebra")).remove(0);
            let marks = record_marks(&analysis, &found, Unmarked::Refuse).expect("all are marked");
            for (path, before) in [(&path, &notes), (&paper_path, &text)] {
                let edits = marks.edit.files.get(path).cloned().unwrap_or_default();
                for edit in &edits {
                    let at = edit.span.start as usize;
                    proptest::prop_assert!(edit.span.is_empty());
                    let line_ends = before[at..].is_empty() || before[at..].starts_with(['\r', '\n']);
                    proptest::prop_assert!(line_ends, "{:?} at {:?}", edit, &before[at..]);
                    let line = edit.text.trim_start_matches(['\r', '\n']);
                    let breaks = &edit.text[..edit.text.len() - line.len()];
                    proptest::prop_assert_eq!(breaks, if crlf && path.as_str() == "n.porism" { "\r\n" } else { "\n" });
                    let line = line.trim_start_matches([' ', '\t']);
                    proptest::prop_assert!(
                        ["tried: 2027-02-15 closed mock right", "recorded: 2027-02-15 12:00"].contains(&line)
                    );
                }
                workspace.set_text(path, &crate::edit::applied(before, &edits).expect("edits that fit"));
            }
            // Every problem got its try, and reads as before otherwise.
            let after = &workspace.analysis().notebook;
            for (old, new) in analysis.notebook.blocks_in(&path).zip(after.blocks_in(&path)) {
                if old.block.kind != Some(notes::BlockKind::Problem) {
                    continue;
                }
                proptest::prop_assert_eq!(new.block.attempts().count(), 1, "{}", notes);
                proptest::prop_assert_eq!(&old.statement(), &new.statement());
                proptest::prop_assert_eq!(old.block.fields.len() + 1, new.block.fields.len());
            }
        }
    }
}
