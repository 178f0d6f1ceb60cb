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
use study::paper::Kind;

use crate::draw_paper::{DrawRequest, draw_paper};
use crate::edit::NotebookEdit;
use crate::exams::all_exams;
use crate::new_field::add_comment_on_top;
use crate::papers::{Paper, papers};
use crate::question_source::Sources;
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

/// Whether reasons are offered: for a drawn paper that does not show them and was begun to be marked
/// or is finished. Before, they would give away the kinds, and recognising these is a part of the
/// exam.
pub(crate) fn offers_reasons(paper: &Paper<'_>) -> bool {
    let block = paper.at.block;
    let is_marked = |question: &Located<'_>| {
        let mark = question.block.field(Key::Mark);
        mark.is_some_and(|field| field.value != Value::Empty)
    };
    paper.drawn.is_some()
        && block.count(Key::Seed).is_some()
        && (block.moment(Key::Finished).is_some() || paper.questions().any(is_marked))
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
    if !all_exams(analysis).iter().any(|exam| paper.is_for(exam)) {
        return Err(NoReasons::NoExam);
    }
    // A mock test that was recorded on the day it was drawn left tries of that same day.
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
    let kind = match asked.first()?.block.kind {
        Some(BlockKind::Problem) => Kind::Problems,
        _ => Kind::Theorems,
    };
    let seeds = paper.questions().map(|q| q.block.count(Key::Seed));
    let asked: Vec<(UnitId, Option<u32>)> = asked.iter().map(Located::id).zip(seeds).collect();
    let exams = all_exams(&then);
    let count = u32::try_from(asked.len()).ok();
    let requests = [None, count].map(|questions| DrawRequest {
        notes: NotesUse::Closed,
        kind: Some(kind),
        questions,
        seed: Some(seed),
    });
    let mut again = exams
        .iter()
        .filter(|exam| paper.is_for(exam))
        .flat_map(|exam| requests.map(|request| draw_paper(&then, exam, request)))
        .flatten();
    let same = again.find(|again| {
        let questions = again.questions.iter();
        let questions: Vec<_> = questions.map(|q| (q.source.clone(), q.seed)).collect();
        questions == asked
    })?;
    Some(same.questions.into_iter().map(|q| q.why).collect())
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
    let mut tries = Vec::new();
    for kind in [
        BlockKind::Problem,
        BlockKind::Theorem,
        BlockKind::Definition,
    ] {
        for at in then.analysis().notebook.of_kind(&paper.course, kind) {
            for field in at.block.fields_of(Key::Tried) {
                if let Value::Attempt(attempt) = &field.value
                    && (attempt.date > date || (recorded && attempt.mock && attempt.date == date))
                {
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
