//! Why the questions of a drawn paper were chosen: a comment below each question's header, which the
//! editor can take out again.
//!
//! The reasons are not kept in the paper. The same notes, exam, day and seed give the same paper, so
//! the paper is drawn again as on its day: without itself, without papers and tries that came later.
//! Only where that gives the very questions of the paper are its reasons told.

use std::fmt;

use chrono::{NaiveDate, NaiveTime};
use notes::value::{NotesUse, Value};
use notes::{BlockKind, Key, Located, UnitId};
use study::drill::Arrangement;
use study::paper::Kind;

use crate::draw_drill::{DrillRequest, draw_drill};
use crate::draw_paper::{DrawRequest, draw_paper};
use crate::draw_spotting::{SpottingRequest, draw_spotting};
use crate::drawn_paper::DrawnPaper;
use crate::edit::NotebookEdit;
use crate::exams::all_exams;
use crate::new_field::add_comment_on_top;
use crate::papers::{Paper, PaperUse, papers};
use crate::question_source::Sources;
use crate::sheet_scope::Scope;
use crate::{Analysis, Workspace, words};

/// What a reason begins with, behind the comment's sign.
const LABEL: &str = "Chosen: ";

/// The edit that shows a paper's reasons.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShownReasons {
    /// The change: a comment for each question.
    pub edit: NotebookEdit,
    /// How many questions get one.
    pub shown: usize,
}

/// Why no reasons are shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoReasons {
    /// The paper has no `drawn:` and `seed:`, or no questions: it was not drawn from the notes.
    NotDrawn,
    /// No exam of the paper's course has the title that `for:` gives.
    NoExam,
    /// The reasons are there already.
    AllShown,
    /// The notes no longer give this paper.
    Changed,
}

impl fmt::Display for NoReasons {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NotDrawn => {
                "This paper was not drawn from the notes (it has no drawn:, seed: or no questions), so \
                 there are no reasons to show."
            }
            Self::NoExam => {
                "The exam of this paper is not in the notes, so its reasons cannot be worked out: \
                 correct for:."
            }
            Self::AllShown => "The questions show why they were chosen already.",
            Self::Changed => {
                "The notes have changed since this paper was drawn and no longer give the same \
                 questions, so why these were chosen cannot be told any more."
            }
        })
    }
}

impl ShownReasons {
    /// What was shown, in a sentence.
    pub fn summary(&self) -> String {
        format!(
            "Added why {} chosen, by the estimates of the day it was drawn.",
            match self.shown {
                1 => "1 question was".to_owned(),
                n => format!("{} were", words::count(n, "question")),
            }
        )
    }
}

/// Whether reasons are offered: for a drawn paper that does not show them and was begun to be marked,
/// is finished or recorded. Before, they would give away the kinds, and recognising these is a part of the
/// exam.
pub(crate) fn offers_reasons(paper: &Paper<'_>) -> bool {
    let block = paper.at.block;
    let is_marked = |question: &Located<'_>| {
        let mark = question.block.field(Key::Mark);
        mark.is_some_and(|field| field.value != Value::Empty)
    };
    paper.drawn.is_some()
        && block.count(Key::Seed).is_some()
        && (block.moment(Key::Finished).is_some()
            || paper.is_recorded()
            || paper.questions().any(is_marked))
        && !paper.questions().all(is_shown)
}

/// Whether a question shows its reason.
fn is_shown(question: &Located<'_>) -> bool {
    let start = question.entry.start as usize;
    let text = question
        .file
        .slice(start..start + question.block.extent.end as usize);
    let mut comments = text
        .lines()
        .filter_map(|line| line.trim_start().strip_prefix("% "));
    comments.any(|comment| comment.starts_with(LABEL))
}

/// The edit that adds to each question of a drawn paper why it was chosen.
pub fn show_reasons(analysis: &Analysis, paper: &Paper<'_>) -> Result<ShownReasons, NoReasons> {
    let questions: Vec<_> = paper.questions().collect();
    let (Some(drawn), Some(seed)) = (paper.drawn, paper.at.block.count(Key::Seed)) else {
        return Err(NoReasons::NotDrawn);
    };
    if questions.is_empty() {
        return Err(NoReasons::NotDrawn);
    }
    if questions.iter().all(|question| is_shown(question)) {
        return Err(NoReasons::AllShown);
    }
    let is_mock = paper.purpose() == PaperUse::MockTest;
    if is_mock && !all_exams(analysis).iter().any(|exam| paper.is_for(exam)) {
        return Err(NoReasons::NoExam);
    }
    // A paper that was recorded on the day it was drawn left records of that same day.
    let ways: &[bool] = match paper.is_recorded() {
        true => &[true, false],
        false => &[false],
    };
    let reasons = ways
        .iter()
        .find_map(|&recorded| drawn_again(analysis, paper, drawn.date, seed, recorded))
        .ok_or(NoReasons::Changed)?;
    let (mut edit, mut shown) = (NotebookEdit::default(), 0);
    for (question, why) in questions.into_iter().zip(reasons) {
        if !is_shown(question) {
            add_comment_on_top(&mut edit, question, &format!("{LABEL}{why}"));
            shown += 1;
        }
    }
    Ok(ShownReasons { edit, shown })
}

/// The reasons of the paper drawn again as on its day; `None` if other questions come out. With
/// `recorded`, tries in mock tests of that very day are left out, too.
fn drawn_again(
    analysis: &Analysis,
    paper: &Paper<'_>,
    date: NaiveDate,
    seed: u32,
    recorded: bool,
) -> Option<Vec<String>> {
    let then = as_on(analysis, paper, date, recorded);
    let sources = Sources::of(&then.notebook, &paper.course);
    let asked: Vec<_> = paper
        .questions()
        .map(|question| sources.find(question).ok())
        .collect::<Option<_>>()?;
    let theorems = asked.first()?.block.kind != Some(BlockKind::Problem);
    let seeds = paper.questions().map(|q| q.block.count(Key::Seed));
    let asked: Vec<(UnitId, Option<u32>)> = asked.iter().map(Located::id).zip(seeds).collect();
    let count = u32::try_from(asked.len()).ok();
    let mut again = match paper.purpose() {
        PaperUse::MockTest => mock_tests(&then, paper, theorems, count, seed),
        PaperUse::Drill => drills(&then, paper, count, seed),
        PaperUse::Spotting => rounds(&then, paper, count, seed),
    }
    .into_iter();
    let same = again.find(|again| {
        let questions = again.questions.iter();
        let questions: Vec<_> = questions.map(|q| (q.source.clone(), q.seed)).collect();
        questions == asked
    })?;
    Some(same.questions.into_iter().map(|q| q.why).collect())
}

/// The mock tests that a paper may be: with the usual number of questions, or `count`.
fn mock_tests(
    then: &Analysis,
    paper: &Paper<'_>,
    theorems: bool,
    count: Option<u32>,
    seed: u32,
) -> Vec<DrawnPaper> {
    let kind = match theorems {
        true => Kind::Theorems,
        false => Kind::Problems,
    };
    let requests = [None, count].map(|questions| DrawRequest {
        notes: NotesUse::Closed,
        kind: Some(kind),
        questions,
        seed: Some(seed),
    });
    let exams = all_exams(then);
    let exams = exams.iter().filter(|exam| paper.is_for(exam));
    exams
        .flat_map(|exam| requests.map(|request| draw_paper(then, exam, request)))
        .flatten()
        .collect()
}

/// The drill sheets that a paper may be.
fn drills(then: &Analysis, paper: &Paper<'_>, count: Option<u32>, seed: u32) -> Vec<DrawnPaper> {
    let Some(scope) = scope(then, paper) else {
        return Vec::new();
    };
    let mut all = Vec::new();
    for arrangement in [Arrangement::Mixed, Arrangement::Blocked] {
        all.extend([None, count].into_iter().filter_map(|questions| {
            let request = DrillRequest {
                arrangement,
                questions,
                seed: Some(seed),
            };
            draw_drill(then, &scope, request).ok()
        }));
    }
    all
}

/// The spotting rounds that a paper may be.
fn rounds(then: &Analysis, paper: &Paper<'_>, count: Option<u32>, seed: u32) -> Vec<DrawnPaper> {
    let Some(scope) = scope(then, paper) else {
        return Vec::new();
    };
    let requests = [None, count].map(|questions| SpottingRequest {
        questions,
        seed: Some(seed),
    });
    let rounds = requests.map(|request| draw_spotting(then, &scope, request));
    rounds.into_iter().flatten().collect()
}

/// What a sheet is about, as its fields say.
fn scope(then: &Analysis, paper: &Paper<'_>) -> Option<Scope> {
    let names = |key| {
        let names = paper.at.block.names(key).iter();
        names.map(|named| named.key.to_string()).collect::<Vec<_>>()
    };
    let (patterns, topics) = (names(Key::Pattern), names(Key::Topic));
    Scope::find(then, Some(paper.course.as_str()), &patterns, &topics).ok()
}

/// The notes as they were when a paper was drawn, as far as dates tell.
fn as_on(analysis: &Analysis, paper: &Paper<'_>, date: NaiveDate, recorded: bool) -> Analysis {
    let mut then = Workspace::from_analysis(analysis.clone());
    then.set_now(date.and_time(NaiveTime::MIN));
    for other in papers(&analysis.notebook, &paper.course) {
        let later = other.drawn.is_some_and(|drawn| {
            drawn.date > date || (drawn.date == date && other.at.path > paper.at.path)
        });
        if later {
            then.remove(other.at.path);
        }
    }
    then.remove(paper.at.path);
    let is_mock = paper.purpose() == PaperUse::MockTest;
    let mut tries = Vec::new();
    for kind in [
        BlockKind::Problem,
        BlockKind::Theorem,
        BlockKind::Definition,
    ] {
        for at in then.analysis().notebook.of_kind(&paper.course, kind) {
            for field in &at.block.fields {
                let is_later = match &field.value {
                    Value::Attempt(attempt) => {
                        let is_of_paper = recorded && (attempt.mock || !is_mock);
                        attempt.date > date || (is_of_paper && attempt.date == date)
                    }
                    Value::Spotting(spotting) => {
                        spotting.date > date || (recorded && spotting.date == date)
                    }
                    _ => false,
                };
                if is_later {
                    let start = at.in_file(field.key_span).start as usize;
                    let end = at.in_file(field.value_span).end as usize;
                    tries.push((at.path.clone(), start..end));
                }
            }
        }
    }
    // From the end of each file, so that the places before stay where they are.
    tries.sort_by_key(|(path, range)| (path.clone(), std::cmp::Reverse(range.start)));
    for (path, range) in tries {
        then.edit(&path, range, "");
    }
    then.analysis().clone()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exams::exams;
    use crate::fixture;
    use notes::NameKey;

    const NOTES: &str = "\
=== course.porism
@course Algebra

@exam Midterm
  on: 2027-02-20
  questions: 2

@topic 1 Systems

@pattern elimination

@problem 1.1
  pattern: elimination
  Solve $x + y = 1$, $x - y = 3$.
  tried: 2027-02-06 open right

@topic 2 Determinants

@pattern row expansion

@problem 2.1
  pattern: row expansion
  Find the determinant of $A$.
";
    const REASONS: [&str; 2] = [
        "  % Chosen: 2 Determinants: row expansion was never tried (about 0.45); a fresh problem",
        "  % Chosen: 1 Systems: elimination is its only kind with problems (0.45); done before, with other numbers now",
    ];

    /// The notes with a paper that was drawn from them.
    fn with_paper() -> String {
        let fixture = fixture::notebook(NOTES);
        let exam = exams(fixture.analysis(), &NameKey::new("Algebra")).remove(0);
        let request = DrawRequest {
            seed: Some(7),
            ..DrawRequest::with_notes(NotesUse::Closed)
        };
        let paper = draw_paper(fixture.analysis(), &exam, request).expect("a paper");
        format!("{NOTES}=== {}\n{}", paper.path, paper.text)
    }

    /// Shows the reasons of the first paper: the lines that are added, sorted, and what is said.
    fn check(notes: &str, expected: &[&str]) {
        let fixture = fixture::notebook(notes);
        let paper = papers(&fixture.analysis().notebook, &NameKey::new("Algebra")).remove(0);
        let said = match show_reasons(fixture.analysis(), &paper) {
            Ok(shown) => {
                let after = fixture.after(&shown.edit);
                let mut lines: Vec<String> = Vec::new();
                let mut before = fixture.files[paper.at.path].lines().peekable();
                for line in after.lines() {
                    if before.next_if_eq(&line).is_none() {
                        lines.push(line.to_owned());
                    }
                }
                assert_eq!(before.next(), None, "nothing else changes");
                lines.sort_unstable_by(|a, b| b.cmp(a));
                // With its reasons the paper asks the same, and says them once only.
                let mut again = fixture::notebook(notes).workspace;
                again.set_text(paper.at.path, &after);
                let found = papers(&again.analysis().notebook, &paper.course).remove(0);
                for (one, other) in found.questions().zip(paper.questions()) {
                    assert_eq!(one.statement(), other.statement());
                }
                assert_eq!(
                    show_reasons(again.analysis(), &found),
                    Err(NoReasons::AllShown)
                );
                assert!(!offers_reasons(&found));
                lines.push(shown.summary());
                lines
            }
            Err(none) => vec![none.to_string()],
        };
        assert_eq!(said, expected);
    }

    const SHOWN: [&str; 3] = [
        REASONS[0],
        REASONS[1],
        "Added why 2 questions were chosen, by the estimates of the day it was drawn.",
    ];

    #[test]
    fn reasons_stand_below_the_questions() {
        check(&with_paper(), &SHOWN);
    }

    #[test]
    fn what_came_after_the_paper_does_not_count() {
        let tried = |line: &str| {
            with_paper().replace(
                "determinant of $A$.\n=== ",
                &format!("determinant of $A$.\n{line}=== "),
            )
        };
        // Recorded on its day, tried later, and another paper drawn later.
        let recorded = tried("  tried: 2027-02-15 closed mock right\n")
            .replace("  finished: \n", "  finished: \n  recorded: 2027-02-15\n");
        assert_eq!(recorded.matches("2027-02-15").count(), 4, "{recorded}");
        check(&recorded, &SHOWN);
        check(&tried("  tried: 2027-02-16 closed wrong\n"), &SHOWN);
        let later = "=== papers/z.porism\n@paper Z\n  for: Midterm\n  drawn: 2027-02-16\n\n\
            @question 1\n  of: 2.1\n  Find the determinant of $A$.\n";
        check(&format!("{}{later}", with_paper()), &SHOWN);
    }

    /// The notes with a sheet that was drawn from them with seed 5, filled in and recorded that day.
    fn with_sheet(draw: impl Fn(&Analysis, &Scope) -> DrawnPaper, said: &str) -> String {
        let fixture = fixture::notebook(NOTES);
        let scope = Scope::find(fixture.analysis(), Some("Algebra"), &[], &["1".to_owned()]);
        let sheet = draw(fixture.analysis(), &scope.expect("a scope"));
        let recorded = "  drawn: 2027-02-15\n  recorded: 2027-02-15 12:00\n";
        let text = sheet.text.replace("  drawn: 2027-02-15\n", recorded);
        let notes = NOTES.replacen("open right\n", &format!("open right\n{said}\n"), 1);
        format!("{notes}=== {}\n{text}", sheet.path)
    }

    #[test]
    fn sheets_have_reasons_too() {
        for (arrangement, questions) in
            [(Arrangement::Blocked, None), (Arrangement::Mixed, Some(2))]
        {
            let request = DrillRequest {
                arrangement,
                questions,
                seed: Some(5),
            };
            let notes = with_sheet(
                |then, scope| draw_drill(then, scope, request).expect("a sheet"),
                "  tried: 2027-02-15 closed wrong",
            );
            let count = questions.unwrap_or(5) as usize;
            let why = "  % Chosen: elimination (0.45); done before, with other numbers now";
            let said = format!(
                "Added why {count} questions were chosen, by the estimates of the day it was drawn."
            );
            let mut expected = vec![why; count];
            expected.push(&said);
            check(&notes, &expected);
        }
        let request = SpottingRequest {
            questions: None,
            seed: Some(5),
        };
        let notes = with_sheet(
            |then, scope| draw_spotting(then, scope, request).expect("a round"),
            "  spotted: 2027-02-15 right",
        );
        check(
            &notes,
            &[
                "  % Chosen: elimination (0.45); a fresh problem",
                "Added why 1 question was chosen, by the estimates of the day it was drawn.",
            ],
        );
    }

    #[test]
    fn a_paper_that_the_notes_no_longer_give_is_said() {
        let changed = with_paper().replacen("@problem 1.1\n", "@problem 1.0\n  pattern: elimination\n  Solve $x + y = 2$, $x = y$.\n\n@problem 1.1\n  tried: 2027-02-14 closed right\n", 1);
        check(&changed, &[&NoReasons::Changed.to_string()]);
        let gone = with_paper().replace("  for: Midterm\n", "  for: Final\n");
        check(&gone, &[&NoReasons::NoExam.to_string()]);
        let no_seed = with_paper().replacen("  seed: 7\n", "", 1);
        check(&no_seed, &[&NoReasons::NotDrawn.to_string()]);
        check(
            &format!("{NOTES}\n@paper Sheet\n  by: instructor\n"),
            &[&NoReasons::NotDrawn.to_string()],
        );
    }

    #[test]
    fn reasons_are_offered_once_the_paper_is_being_marked() {
        let offers = |notes: &str| {
            let fixture = fixture::notebook(notes);
            offers_reasons(&papers(&fixture.analysis().notebook, &NameKey::new("Algebra"))[0])
        };
        let notes = with_paper();
        assert!(!offers(&notes));
        assert!(offers(&notes.replacen("  mark: ", "  mark: right", 1)));
        assert!(offers(
            &notes.replace("  finished: ", "  finished: 2027-02-15 13:00")
        ));
        assert!(!offers(
            &notes
                .replacen("  mark: ", "  mark: right", 1)
                .replacen("  seed: 7\n", "", 1)
        ));
    }
}
