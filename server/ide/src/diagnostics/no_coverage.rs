use notes::value::Value;
use notes::{BlockKind, Key};

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::UnitScope;

check! {
    /// An exam does not say what it covers.
    ///
    /// It is then taken to cover every topic of its course, also those that come after it.
    ///
    /// ```porism
    /// @exam First midterm
    ///   on: 2027-03-12
    /// ```
    ///
    /// Write `covers:` with the labels of the topics, such as `1.1 .. 1.5, 2.1`. For a final exam of
    /// the whole course leave it out.
    NO_COVERAGE = "no-coverage", Hint
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((BlockKind::Exam, at)) = unit.known() else {
        return;
    };
    let part = match at.block.field(Key::Covers) {
        // What it gives points to is what it covers.
        None if at.block.field(Key::Points).is_some() => return,
        None => Part::Header,
        Some(field) if field.value == Value::Empty => field.key_span.into(),
        Some(_) => return,
    };
    let message = "Nothing says what this exam covers, so it is taken to cover the whole course. \
                   Write `covers:` and the topics, such as 1.1 .. 1.5, 2.1.";
    marks.push(unit.mark(&NO_COVERAGE, part, message));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn an_exam_without_topics_is_a_hint() {
        check(
            &NO_COVERAGE,
            "
@exam Final
^^^^^^^^^^^ hint: Nothing says what this exam covers, so it is taken to cover the whole course. Write `covers:` and the topics, such as 1.1 .. 1.5, 2.1.
  on: 2027-06-14
",
        );
    }

    #[test]
    fn an_exam_with_topics_is_not_marked() {
        check(
            &NO_COVERAGE,
            "@exam Final\n  covers: 1 .. 3\n\n@exam Other\n  points: 1 20, 2 30\n\n@paper Final\n",
        );
    }
}
