//! What stands behind a line without being written there (LSP `textDocument/inlayHint`): behind an
//! exam's header, what to do next; behind an answer on a sheet, whether it is right.

use std::collections::BTreeMap;

use notes::{BlockKind, FilePath, Located, Span};

use crate::exams::exam;
use crate::marked_at_once::{AtOnce, answered, at_once, marks_at_once};
use crate::next_step::{Step, next};
use crate::papers::paper;
use crate::question_source::Sources;
use crate::{Analysis, words};

/// The longest that a hint says why an answer is wrong, in characters.
const WHY_LENGTH: usize = 80;

/// A hint behind a place of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InlayHint {
    /// The byte of the file behind which it stands.
    pub offset: usize,
    /// What it says.
    pub label: String,
    /// The same whole, for editors that cut the label short.
    pub whole: String,
}

/// The hints for a part of a file, from top to bottom.
pub fn inlay_hints(analysis: &Analysis, path: &FilePath, part: Span) -> Vec<InlayHint> {
    let notebook = &analysis.notebook;
    let mut hints = Vec::new();
    let mut answers = Vec::new();
    for at in notebook.blocks_in(path) {
        let header = at.in_file(at.block.header);
        let is_asked_about = |span: Span| span.end >= part.start && part.end >= span.start;
        match at.block.kind {
            Some(BlockKind::Exam) if is_asked_about(header) => {
                hints.extend(next_step(analysis, at).map(|label| InlayHint {
                    offset: header.end as usize,
                    whole: label.clone(),
                    label,
                }));
            }
            Some(BlockKind::Question) => {
                let span = answered(&at).map(|field| at.in_file(field.value_span));
                answers.extend(
                    span.filter(|span| is_asked_about(*span))
                        .map(|span| (at, span)),
                );
            }
            _ => {}
        }
    }
    hints.extend(marks(analysis, &answers));
    hints.sort_by_key(|hint| hint.offset);
    hints
}

/// What to do next for an exam.
fn next_step(analysis: &Analysis, at: Located<'_>) -> Option<String> {
    let next = next(analysis, &exam(&analysis.notebook, at))?;
    let days = match next.step {
        Step::Over | Step::NotYet | Step::Today => String::new(),
        _ => {
            let days = usize::try_from(next.days_left).unwrap_or_default();
            format!("{}: ", words::count(days, "day"))
        }
    };
    Some(format!("{days}{next}"))
}

/// Whether answers are right, each behind it.
fn marks(analysis: &Analysis, answers: &[(Located<'_>, Span)]) -> Vec<InlayHint> {
    let notebook = &analysis.notebook;
    let mut papers = BTreeMap::new();
    for (question, _) in answers {
        if let Some(at) = notebook.paper_of(question) {
            papers.entry(at.id()).or_insert_with(|| paper(notebook, at));
        }
    }
    papers.retain(|_, paper| marks_at_once(paper));
    let mut sources = BTreeMap::new();
    for paper in papers.values() {
        let of_course = || Sources::of(notebook, &paper.course);
        sources.entry(&paper.course).or_insert_with(of_course);
    }
    let mark = |(question, span): &(Located<'_>, Span)| {
        let paper = papers.get(&notebook.paper_of(question)?.id())?;
        let said = at_once(analysis, paper, sources.get(&paper.course)?, question)?;
        let (label, whole) = match said {
            AtOnce::Right => ("right".to_owned(), "right".to_owned()),
            AtOnce::Wrong(why) => (
                format!("wrong: {}", words::cut(&why, WHY_LENGTH)),
                format!("wrong: {why}"),
            ),
            AtOnce::Unclear(why) => {
                let label = "mark this one yourself";
                (label.to_owned(), format!("{label}: {why}"))
            }
        };
        Some(InlayHint {
            offset: span.end as usize,
            label,
            whole,
        })
    };
    answers.iter().filter_map(mark).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Prints the hints of the whole notes in place, each between ‹ and ›.
    fn check(text: &str, expected: &str) {
        let fixture = fixture::notebook(text);
        let mut shown = String::new();
        for (path, text) in &fixture.files {
            let mut from = 0;
            for hint in inlay_hints(fixture.analysis(), path, Span::new(0, text.len())) {
                shown.push_str(&text[from..hint.offset]);
                shown.push_str(&format!("‹{}›", hint.label));
                from = hint.offset;
            }
            shown.push_str(&text[from..]);
        }
        assert_eq!(shown, expected);
    }

    #[test]
    fn the_next_step_stands_behind_the_exam() {
        check(
            "@exam Midterm\n  on: 2027-02-20\n@exam Final\n  on: 2027-04-20\n@exam Oral\n",
            "@exam Midterm‹5 days: Sit a first mock test, notes open›\n  on: 2027-02-20\n\
             @exam Final‹Revision begins in 57 days, 2027-04-13›\n  on: 2027-04-20\n@exam Oral\n",
        );
        check(
            "@exam Midterm\n  on: 2027-02-17\n",
            "@exam Midterm‹2 days: Sit a first mock test, notes open. Only 2 days left, and the rest \
             of the way takes 4›\n  on: 2027-02-17\n",
        );
    }

    #[test]
    fn a_sheet_is_marked_as_it_is_filled() {
        let notes = |paper: &str| {
            format!(
                "@paper P\n{paper}\n@question 1\n  Solve $x^2 = 5x - 6$.\n  mine: $x = 3, x = 2$\n\
                 @question 2\n  Solve $x + 1 = 3$.\n  mine: 3 % sure\n\
                 @question 3\n  Solve $x + 2 = 3$.\n  mine: \n\
                 @question 4\n  Say why.\n  mine: $1$\n"
            )
        };
        let marked = |text: String| {
            text.replace("x = 2$\n", "x = 2$‹right›\n")
                .replace("mine: 3 %", "mine: 3‹wrong: x = 3 is no solution: at x = 3 the left side is 4, the right side 3› %")
                .replace("mine: $1$", "mine: $1$‹mark this one yourself›")
        };
        let drill = notes("  drawn: 2027-02-15");
        check(&drill, &marked(drill.clone()));
        let mock = notes("  for: Midterm\n  drawn: 2027-02-15\n  started: 2027-02-15 09:00");
        check(&mock, &mock);
        let over = notes(
            "  for: Midterm\n  drawn: 2027-02-15\n  started: 2027-02-15 09:00\n  finished: 2027-02-15 10:00",
        );
        check(&over, &marked(over.clone()));
    }

    #[test]
    fn a_spotting_round_is_marked_as_it_is_filled() {
        let notes = |said: [&str; 2]| {
            let [one, two] = said;
            format!(
                "@pattern linear\n\n@pattern exact\n\n@problem 1\n  pattern: exact\n  Decide.\n\n\
                 @paper R\n  drawn: 2027-02-15\n\n@question 1\n  of: 1\n  Decide.\n  pattern: {one}\n\n\
                 @question 2\n  of: 1\n  Decide.\n  pattern: {two}\n"
            )
        };
        check(
            &notes(["exact", "linear"]),
            &notes(["exact‹right›", "linear‹wrong: it is exact›"]),
        );
    }

    #[test]
    fn only_the_part_asked_about_has_hints() {
        let fixture = fixture::notebook("@exam A\n  on: 2027-02-20\n\n@exam B\n  on: 2027-02-20\n");
        let (path, text) = fixture.files.iter().next().expect("a file");
        let from = text.find("@exam B").expect("it is there");
        let hints = inlay_hints(fixture.analysis(), path, Span::new(from, text.len()));
        assert_eq!(hints.len(), 1);
        assert!(hints[0].offset > from);
    }
}
