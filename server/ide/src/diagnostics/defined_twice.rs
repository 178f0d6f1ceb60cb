use std::collections::BTreeMap;

use notes::{BlockKind, FilePath, Located, NameKey, NamedThing, Notebook};

use super::Severity;
use super::check::check;
use super::mark::{Mark, Part};
use super::scope::{own_name, thing};

check! {
    /// A name is defined twice in a course.
    ///
    /// Only one of the two definitions is used: what the other says of its cue, its date or its
    /// topic is ignored.
    ///
    /// ```porism
    /// @pattern integrating factor
    ///   cue: linear and of first order
    ///
    /// @pattern Integrating factor
    ///   cue: y and y' to the first power
    /// ```
    ///
    /// Merge the two, or give one of them another name. A `@course` or `@topic` line without fields
    /// only sets the place of what follows, and may be repeated. Problems in different topics and
    /// papers may share a name. Where two of one place or two exams share one it is a hint, and a
    /// warning once a drawn question or a paper goes by the name.
    DEFINED_TWICE = "defined-twice", Warning | Hint
}

pub(super) fn check(notebook: &Notebook, thing: &NamedThing, marks: &mut Vec<Mark>) {
    let says = |at: &Located<'_>| !at.block.fields.is_empty() || !at.block.statement.is_empty();
    let own = |at: &Located<'_>| own_name(notebook, at).as_ref() == Some(thing);
    let definitions = notebook.definitions(thing).filter(own);
    match thing.kind {
        BlockKind::Course | BlockKind::Topic => {
            mark_all(definitions.filter(says), thing, Severity::Warning, marks);
        }
        BlockKind::Pattern => {
            let mut all: Vec<Located<'_>> = definitions.collect();
            // The one that counts goes first: the first that says something.
            if let Some(counts) = all.iter().position(says) {
                all[..=counts].rotate_right(1);
            }
            mark_all(all.into_iter(), thing, Severity::Warning, marks);
        }
        BlockKind::Exam | BlockKind::Problem | BlockKind::Theorem | BlockKind::Definition => {
            if is_mentioned(notebook, thing) {
                mark_all(definitions, thing, Severity::Warning, marks);
                return;
            }
            let mut places: BTreeMap<PlaceKey<'_>, Vec<Located<'_>>> = BTreeMap::new();
            for at in definitions {
                let context = &at.entry.context;
                let paper = context.paper.map(|order| (at.path, order));
                let place = match thing.kind {
                    BlockKind::Exam => (None, None),
                    _ => (context.topic.as_ref(), paper),
                };
                places.entry(place).or_default().push(at);
            }
            for definitions in places.into_values() {
                mark_all(definitions.into_iter(), thing, Severity::Hint, marks);
            }
        }
        // Nothing goes by the name of a paper or of a question.
        BlockKind::Paper | BlockKind::Question => {}
    }
}

/// The topic and the paper under which a problem stands.
type PlaceKey<'a> = (Option<&'a NameKey>, Option<(&'a FilePath, u64)>);

/// Whether a paper names the exam, or a drawn question the problem, theorem or definition.
fn is_mentioned(notebook: &Notebook, named: &NamedThing) -> bool {
    let kind = match named.kind {
        BlockKind::Exam => BlockKind::Exam,
        // Questions mention whatever they were drawn from as a problem.
        _ => BlockKind::Problem,
    };
    notebook
        .references(&thing(&named.course, kind, &named.name))
        .next()
        .is_some()
}

/// Marks every definition but the first.
fn mark_all<'a>(
    mut definitions: impl Iterator<Item = Located<'a>>,
    thing: &NamedThing,
    severity: Severity,
    marks: &mut Vec<Mark>,
) {
    let Some(first) = definitions.next() else {
        return;
    };
    let first = first.id();
    let kind = thing.kind.word();
    for at in definitions {
        let name = crate::words::cut(&at.title(), 60);
        let message = match thing.kind {
            BlockKind::Exam => format!(
                "Another exam of this course is called `{name}`, so a paper for one may go to the \
                 other. Rename one of them."
            ),
            BlockKind::Problem | BlockKind::Theorem | BlockKind::Definition => format!(
                "Another {kind} of this course is called `{name}`, so a question drawn from one \
                 may go to the other. Rename one of them."
            ),
            _ => format!(
                "@{kind} `{name}` is defined twice, and this definition is not used. Merge the \
                 two, or rename one."
            ),
        };
        let mark = DEFINED_TWICE.mark(&at.id(), Part::Header, message);
        marks.push(
            mark.severity(severity)
                .related(&first, Part::Header, "the other one"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn the_definition_that_is_not_used_is_marked() {
        check(
            &DEFINED_TWICE,
            "
=== a.porism
@pattern Exact
^^^^^^^^^^^^^^ warning: @pattern `Exact` is defined twice, and this definition is not used. Merge the two, or rename one. [b.porism \"@pattern exact\": the other one]

@exam Final
  on: 2027-06-14

@topic 1.4 Linear equations
  learned: no
=== b.porism
@pattern exact
  cue: two equal derivatives

@exam  final
^^^^^^^^^^^^ hint: Another exam of this course is called `final`, so a paper for one may go to the other. Rename one of them. [a.porism \"@exam Final\": the other one]
  on: 2027-06-15

@topic 1.4 First-order equations
^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^^ warning: @topic `1.4 First-order equations` is defined twice, and this definition is not used. Merge the two, or rename one. [a.porism \"@topic 1.4 Linear equations\": the other one]
  learned: yes
",
        );
    }

    #[test]
    fn problems_of_one_name_in_one_place_are_a_hint() {
        check(
            &DEFINED_TWICE,
            "
@topic 1

@problem 1

@problem 1
^^^^^^^^^^ hint: Another problem of this course is called `1`, so a question drawn from one may go to the other. Rename one of them. [notes.porism \"@problem 1\": the other one]

@topic 2

@problem 1
",
        );
    }

    #[test]
    fn problems_that_questions_go_by_are_a_warning() {
        check(
            &DEFINED_TWICE,
            "
@topic 1

@problem 1

@topic 2

@problem 1
^^^^^^^^^^ warning: Another problem of this course is called `1`, so a question drawn from one may go to the other. Rename one of them. [notes.porism \"@problem 1\": the other one]

@paper P

@question 1
  of: 1
",
        );
    }

    #[test]
    fn context_lines_and_other_courses_are_not_marked() {
        check(
            &DEFINED_TWICE,
            "
@course A
  target: 80%

@topic 1.4 Linear equations
  learned: no

@pattern exact

@course B

@pattern exact

@course A

@topic 1.4

@topic 1.5 Review

@topic 2.5 Review

@question 1

@question 1

@theorem

@theorem
",
        );
    }
}
