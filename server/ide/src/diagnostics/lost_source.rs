use notes::{BlockKind, Key, Located, NameKey, NamedThing};

use super::check::check;
use super::mark::Mark;
use super::scope::thing;
use crate::Analysis;
use crate::papers::Paper;

check! {
    /// A question of a drawn paper names a problem that the course does not have.
    ///
    /// The problem was renamed or deleted since the paper was drawn. The question's mark can then be
    /// written back only if a problem with the same text or the same shape is still there.
    ///
    /// ```porism
    /// @paper Mock test 1
    ///   drawn: 2027-02-13
    ///
    /// @question 1
    ///   of: 1.2.3
    ///   Solve $y' = y^2 \cos x$.
    /// ```
    ///
    /// Write the name that the problem has now. Papers whose marks are recorded are left alone.
    LOST_SOURCE = "lost-source", Information
}

/// The kinds of block that questions are drawn from.
pub(super) const SOURCES: [BlockKind; 3] = [
    BlockKind::Problem,
    BlockKind::Theorem,
    BlockKind::Definition,
];

pub(super) fn check(analysis: &Analysis, paper: &Paper<'_>, marks: &mut Vec<Mark>) {
    if paper.is_recorded() {
        return;
    }
    let notebook = &analysis.notebook;
    let is_there = |name: &NameKey| {
        SOURCES.iter().any(|kind| {
            notebook
                .definitions(&thing(&paper.course, *kind, name))
                .next()
                .is_some()
        })
    };
    for question in paper.questions() {
        let names = source_names(question);
        if names.is_empty() || names.iter().any(is_there) {
            continue;
        }
        let Some(field) = question.block.field(Key::Of) else {
            continue;
        };
        let name = crate::words::cut(&question.text(field.value_span), 60);
        let message = format!(
            "No problem of the course is called `{name}` any more, so this question may not find \
             the one it was drawn from."
        );
        marks.push(LOST_SOURCE.mark(&question.id(), field.value_span, message));
    }
}

/// The names by which a question's source is looked up. A title may hold a comma, at which a list
/// of names is cut.
fn source_names(question: &Located<'_>) -> Vec<NameKey> {
    let first = question
        .block
        .names(Key::Of)
        .first()
        .map(|named| named.key.clone());
    let whole = question.field_text(Key::Of).map(|text| NameKey::new(&text));
    whole.into_iter().chain(first).collect()
}

/// The names whose coming and going concerns a paper.
pub(super) fn asked_for(paper: &Paper<'_>) -> Vec<NamedThing> {
    let names = paper.questions().flat_map(source_names);
    let things = |name: NameKey| SOURCES.map(|kind| thing(&paper.course, kind, &name));
    names.flat_map(things).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_question_of_a_renamed_problem_is_marked() {
        check(
            &LOST_SOURCE,
            "
@problem 1.1

@theorem Mean value, first

@paper Mock test
  drawn: 2027-02-13

@question 1
  of: 1.1

@question 2
  of: 1.2
      ^^^ information: No problem of the course is called `1.2` any more, so this question may not find the one it was drawn from.

@question 3
  of: mean value, first

@question 4
  of:
",
        );
    }

    #[test]
    fn a_recorded_paper_is_left_alone() {
        check(
            &LOST_SOURCE,
            "@paper Mock test\n  drawn: 2027-02-13\n  recorded: 2027-02-14\n\n@question 1\n  of: 1.2\n",
        );
    }
}
