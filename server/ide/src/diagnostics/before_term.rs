use chrono::NaiveDate;
use notes::{BlockKind, Key, NameKey, Notebook, UnitId};

use super::check::check;
use super::future_date::records;
use super::mark::{Mark, Part};
use super::scope::{UnitScope, thing};

check! {
    /// A try or a mark is dated before the first day of the course.
    ///
    /// It is most likely a slip of the year or of the month, and it makes everything tried since
    /// look older than it is.
    ///
    /// ```porism
    /// @course Linear algebra
    ///   term: 2027-01-04
    ///
    /// @problem 1.1
    ///   pattern: elimination
    ///   Solve $2x + 3 = 7$.
    ///   tried: 2026-01-19 open right 3 min
    /// ```
    ///
    /// Write the day of the try, or correct the `term:` of the course.
    BEFORE_TERM = "before-term", Warning
}

/// The first day of a course and the block that says so.
pub(super) fn term_of(notebook: &Notebook, course: &NameKey) -> Option<(UnitId, NaiveDate)> {
    let at = notebook.definition(&thing(course, BlockKind::Course, course))?;
    Some((at.id(), at.block.moment(Key::Term)?.date))
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    // The index does not file a block of an unknown kind under its course.
    let Some((_, at)) = unit.known() else { return };
    let mut records = records(at.block).peekable();
    if records.peek().is_none() {
        return;
    }
    let Some((course, term)) = term_of(unit.notebook(), &unit.course) else {
        return;
    };
    for record in records.filter(|record| record.date < term) {
        let message = format!(
            "{} is before the term, which starts on {term}.",
            record.date
        );
        let mark = unit.mark(&BEFORE_TERM, record.span, message);
        marks.push(mark.related(&course, Part::Value(Key::Term), "the first day of the term"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_try_before_the_term_is_marked() {
        check(
            &BEFORE_TERM,
            "
=== ode/course.porism
@course ODE
  term: 2027-01-04
=== ode/one.porism
@problem 1
  tried: 2026-12-19 open right 10 min
         ^^^^^^^^^^ warning: 2026-12-19 is before the term, which starts on 2027-01-04. [ode/course.porism \"2027-01-04\": the first day of the term]
  tried: 2027-01-04 open right 10 min
",
        );
    }

    #[test]
    fn a_course_that_does_not_say_when_it_starts_takes_any_day() {
        check(
            &BEFORE_TERM,
            "@course ODE\n  term: spring\n\n@problem 1\n  tried: 2026-12-19 open right\n",
        );
    }
}
