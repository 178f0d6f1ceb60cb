use chrono::NaiveDate;
use notes::value::Value;
use notes::{Block, Span};

use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// A try, a spotting or a mark is dated after today.
    ///
    /// A record of what has not happened yet is a slip, mostly of the month or of the year. It is
    /// left out of every estimate until its day comes.
    ///
    /// ```porism
    /// @problem 1.2
    ///   pattern: separable
    ///   Solve $y' = xy$.
    ///   tried: 2027-12-10 closed right 6 min
    /// ```
    ///
    /// Write the day of the try.
    FUTURE_DATE = "future-date", Warning
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block() else { return };
    let today = unit.analysis.today();
    for record in records(block).filter(|record| record.date > today) {
        let message = format!(
            "{} is still to come: today is {today}. This record does not count before its day.",
            record.date
        );
        marks.push(unit.mark(&FUTURE_DATE, record.span, message));
    }
}

/// A dated record of something that was done.
pub(super) struct Record {
    pub(super) date: NaiveDate,
    pub(super) span: Span,
}

/// The tries, spottings and marks from outside of a block.
pub(super) fn records(block: &Block) -> impl Iterator<Item = Record> {
    block.fields.iter().filter_map(|field| {
        let (date, span) = match &field.value {
            Value::Attempt(attempt) => (attempt.date, attempt.date_span),
            Value::Spotting(spotting) => (spotting.date, spotting.date_span),
            Value::OutsideMark(mark) => (mark.date, mark.date_span),
            _ => return None,
        };
        Some(Record { date, span })
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, check_on};

    #[test]
    fn a_record_of_tomorrow_is_marked() {
        check(
            &FUTURE_DATE,
            "
@topic 1
  quiz: 2027-02-16 4/10
        ^^^^^^^^^^ warning: 2027-02-16 is still to come: today is 2027-02-15. This record does not count before its day.

@problem 1
  tried: 2028-02-10 closed right
         ^^^^^^^^^^ warning: 2028-02-10 is still to come: today is 2027-02-15. This record does not count before its day.
  spotted: 2027-03-01 right
           ^^^^^^^^^^ warning: 2027-03-01 is still to come: today is 2027-02-15. This record does not count before its day.
",
        );
    }

    #[test]
    fn today_is_not_marked() {
        check(
            &FUTURE_DATE,
            "@problem 1\n  tried: 2027-02-15 closed right\n",
        );
        check_on(
            "2027-02-16",
            &FUTURE_DATE,
            "@topic 1\n  quiz: 2027-02-16 4/10\n",
        );
    }
}
