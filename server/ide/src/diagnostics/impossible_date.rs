use notes::value::Value;

use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// A date that is in no calendar.
    ///
    /// It is written as dates are, but the month has no such day or the year no such month. It
    /// cannot be meant, and the field counts as if it were not there.
    ///
    /// ```porism
    /// @exam Midterm
    ///   on: 2027-02-29
    ///   covers: 1
    /// ```
    ///
    /// Look the date up and write the right one.
    IMPOSSIBLE_DATE = "impossible-date", Error
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block() else { return };
    for field in &block.fields {
        let Value::Unreadable(fault) = &field.value else {
            continue;
        };
        if fault.impossible_date {
            let message = format!(
                "There is no {} in the calendar, so this `{}:` does not count.",
                fault.found,
                field.key.word()
            );
            marks.push(unit.mark(&IMPOSSIBLE_DATE, fault.span, message));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_day_that_the_month_does_not_have_is_an_error() {
        check(
            &IMPOSSIBLE_DATE,
            "
@exam Midterm
  on: 2027-02-29 10:00
      ^^^^^^^^^^ error: There is no 2027-02-29 in the calendar, so this `on:` does not count.

@problem 1
  tried: 2027-13-01 open right
         ^^^^^^^^^^ error: There is no 2027-13-01 in the calendar, so this `tried:` does not count.
",
        );
    }

    #[test]
    fn the_leap_day_of_a_leap_year_is_not_marked() {
        check(
            &IMPOSSIBLE_DATE,
            "@exam E\n  on: 2028-02-29\n\n@exam F\n  on: 29 February\n",
        );
    }
}
