use notes::value::Value;
use notes::{BlockKind, Key};

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::UnitScope;

check! {
    /// An exam is past, and its result is not written down.
    ///
    /// The result is the best evidence there is of whether the estimates were right.
    ///
    /// ```porism
    /// @exam Entry test
    ///   on: 2027-01-22
    ///   covers: 1.1, 1.2
    /// ```
    ///
    /// Write `result:` and the score when you know it, such as `17/20`.
    NO_RESULT = "no-result", Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((BlockKind::Exam, at)) = unit.known() else {
        return;
    };
    let Some(on) = at.block.moment(Key::On) else {
        return;
    };
    let result = at.block.field(Key::Result);
    let is_empty = result.is_none_or(|field| field.value == Value::Empty);
    if on.date < unit.analysis.today() && is_empty {
        let message = format!(
            "This exam was on {}. Write `result:` and the score, such as 17/20, when you know it.",
            on.date
        );
        marks.push(unit.mark(&NO_RESULT, Part::Header, message));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, check_on};

    #[test]
    fn a_past_exam_without_a_result_is_marked() {
        check(
            &NO_RESULT,
            "
@exam Quiz
^^^^^^^^^^ information: This exam was on 2027-02-14. Write `result:` and the score, such as 17/20, when you know it.
  on: 2027-02-14
",
        );
    }

    #[test]
    fn the_day_of_the_exam_is_not_past() {
        check(&NO_RESULT, "@exam Quiz\n  on: 2027-02-15 08:00\n");
        check_on(
            "2027-03-01",
            &NO_RESULT,
            "@exam Quiz\n  on: 2027-02-15\n  result: 8/10\n",
        );
    }
}
