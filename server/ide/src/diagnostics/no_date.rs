use notes::value::Value;
use notes::{BlockKind, Key};

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::UnitScope;

check! {
    /// An exam does not say when it is.
    ///
    /// Without its day there is no plan, no readiness on the day, and no warning when two exams
    /// collide.
    ///
    /// ```porism
    /// @exam Second midterm
    ///   covers: 3.1, 3.2
    /// ```
    ///
    /// Write `on:` with the date, and the time of day if you know it, as soon as it is announced.
    NO_DATE = "no-date", Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((BlockKind::Exam, at)) = unit.known() else {
        return;
    };
    let part = match at.block.field(Key::On) {
        None => Part::Header,
        Some(field) if field.value == Value::Empty => field.key_span.into(),
        Some(_) => return,
    };
    let message = "Nothing says when this exam is, so nothing can be planned for it. Write `on:` \
                   and its date, such as 2027-02-26 10:00.";
    marks.push(unit.mark(&NO_DATE, part, message));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn an_exam_without_a_date_is_marked() {
        check(
            &NO_DATE,
            "
@exam Final
^^^^^^^^^^^ information: Nothing says when this exam is, so nothing can be planned for it. Write `on:` and its date, such as 2027-02-26 10:00.

@exam Oral
  on:   % not known yet
  ^^ information: Nothing says when this exam is, so nothing can be planned for it. Write `on:` and its date, such as 2027-02-26 10:00.
",
        );
    }

    #[test]
    fn a_date_that_cannot_be_read_is_another_matter() {
        check(
            &NO_DATE,
            "@exam Final\n  on: 2027-06-31\n\n@exam Oral\n  on: 2027-06-30\n",
        );
    }
}
