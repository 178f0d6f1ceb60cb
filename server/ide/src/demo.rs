//! Moving the dates of the demo notebook, so that its exams lie ahead on the day it is unpacked.

use chrono::{Datelike, Days, NaiveDate};
use notes::{File, Span, UnitReader};
use ropey::Rope;

/// The length of an ISO date, `YYYY-MM-DD`.
const DATE_LENGTH: usize = 10;

/// The text with every ISO date outside formulas moved by whole days. Nothing but the digits of
/// dates changes, so every byte keeps its place.
///
/// What looks like a date and is no day of the calendar (2027-02-30) is moved to the nearest month
/// in which it is no day either, so that it stays the mistake it was. A date that would leave the
/// years 0 to 9999 stays.
pub fn shift_dates(text: &str, days: i64) -> String {
    let file = File::new(Rope::from_str(text), &mut UnitReader::default());
    let formulas: Vec<Span> = file
        .entries()
        .iter()
        .flat_map(|entry| {
            let start = entry.start as usize;
            entry
                .unit
                .formulas
                .iter()
                .map(move |formula| formula.whole.shifted(start))
        })
        .collect();
    let mut out = String::with_capacity(text.len());
    let mut from = 0;
    for at in dates(text) {
        let date = &text[at..at + DATE_LENGTH];
        let in_formula = formulas.partition_point(|formula| (formula.end as usize) <= at);
        let in_formula = formulas
            .get(in_formula)
            .is_some_and(|f| (f.start as usize) <= at);
        if let Some(moved) = moved(date, days).filter(|_| !in_formula) {
            out.push_str(&text[from..at]);
            out.push_str(&moved);
            from = at + DATE_LENGTH;
        }
    }
    out.push_str(&text[from..]);
    out
}

/// Where something in the form of an ISO date stands, with no digit beside it.
fn dates(text: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    let is_digit = |at: usize| bytes.get(at).is_some_and(u8::is_ascii_digit);
    let in_form = |at: usize| {
        (0..DATE_LENGTH).all(|i| match i {
            4 | 7 => bytes.get(at + i) == Some(&b'-'),
            _ => is_digit(at + i),
        })
    };
    let alone = |at: usize| {
        let before = at.checked_sub(1).is_some_and(is_digit);
        !before && !is_digit(at + DATE_LENGTH)
    };
    (0..bytes.len())
        .filter(|at| in_form(*at) && alone(*at))
        .collect()
}

/// A date that is `days` later; `None` where it cannot be written.
fn moved(date: &str, days: i64) -> Option<String> {
    let number = |range: std::ops::Range<usize>| date[range].parse::<u32>().ok();
    let (year, month, day) = (number(0..4)? as i32, number(5..7)?, number(8..10)?);
    if let Some(date) = NaiveDate::from_ymd_opt(year, month, day) {
        return written(later(date, days)?, None);
    }
    let Some(first) = NaiveDate::from_ymd_opt(year, month, 1) else {
        // No month of that number: only the year can move.
        let moved = later(NaiveDate::from_ymd_opt(year, 1, 1)?, days)?;
        let years = moved.year() - year;
        let year = u32::try_from(year + years)
            .ok()
            .filter(|year| *year <= 9999)?;
        return Some(format!("{year:04}-{month:02}-{day:02}"));
    };
    let near = later(first, days)?;
    // Day 29 is missing in February of three years of four, day 30 in every February; of years
    // that end a century two in a row may have none missing.
    (0..=12 * 8)
        .flat_map(|months| [-months, months])
        .filter_map(|months| month_off(near, months))
        .find(|month| NaiveDate::from_ymd_opt(month.year(), month.month(), day).is_none())
        .and_then(|month| written(month, Some(day)))
}

fn later(date: NaiveDate, days: i64) -> Option<NaiveDate> {
    match u64::try_from(days) {
        Ok(days) => date.checked_add_days(Days::new(days)),
        Err(_) => date.checked_sub_days(Days::new(days.unsigned_abs())),
    }
}

/// The first day of the month that is so many months later.
fn month_off(date: NaiveDate, months: i32) -> Option<NaiveDate> {
    let months = date
        .year()
        .checked_mul(12)?
        .checked_add(date.month0() as i32 + months)?;
    NaiveDate::from_ymd_opt(months.div_euclid(12), months.rem_euclid(12) as u32 + 1, 1)
}

/// A date in ten characters, with another day if one is given.
fn written(date: NaiveDate, day: Option<u32>) -> Option<String> {
    let year = u32::try_from(date.year())
        .ok()
        .filter(|year| *year <= 9999)?;
    Some(format!(
        "{year:04}-{:02}-{:02}",
        date.month(),
        day.unwrap_or(date.day())
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, days: i64, expected: &str) {
        assert_eq!(shift_dates(text, days), expected);
    }

    #[test]
    fn dates_move_and_nothing_else_does() {
        check(
            "@exam E\n  on: 2027-02-26 10:00\n\n2027-02-27. See papers/2027-02-13-mock.porism.\n",
            3,
            "@exam E\n  on: 2027-03-01 10:00\n\n2027-03-02. See papers/2027-02-16-mock.porism.\n",
        );
        check(
            "2027-02-26T10:00, 2028-02-28",
            1,
            "2027-02-27T10:00, 2028-02-29",
        );
        check("2027-01-01", -1, "2026-12-31");
        for other in [
            "12027-02-26",
            "2027-02-261",
            "2027-2-26",
            "2027/02/26",
            "é2027-02",
        ] {
            check(other, 1, other);
        }
    }

    #[test]
    fn formulas_stay() {
        check(
            "It is $2027-02-26$ on 2027-02-26.\n",
            1,
            "It is $2027-02-26$ on 2027-02-27.\n",
        );
        check(
            "  2027-02-26\n\n$$ 2027-02-26\n$$ 2027-02-26\n",
            1,
            "  2027-02-27\n\n$$ 2027-02-26\n$$ 2027-02-27\n",
        );
    }

    #[test]
    fn a_day_that_is_none_stays_none() {
        for days in [-400, -45, 0, 31, 45, 90, 200, 365, 1500] {
            for date in [
                "2027-02-30",
                "2027-02-29",
                "2027-04-31",
                "2027-06-00",
                "2027-13-05",
                "2027-01-99",
            ] {
                let moved = shift_dates(date, days);
                assert_eq!(
                    moved.parse::<NaiveDate>().ok(),
                    None,
                    "{date} by {days}: {moved}"
                );
                assert_eq!(&moved[8..], &date[8..]);
            }
        }
        check("2027-02-30", 45, "2027-02-30");
        check("2027-02-30", 365, "2028-02-30");
        check("2027-04-31", 31, "2027-04-31");
    }

    #[test]
    fn what_cannot_be_written_stays() {
        check("9999-12-31", 1, "9999-12-31");
        check("0000-01-01", -1, "0000-01-01");
        check("2027-02-26", i64::MIN, "2027-02-26");
    }

    proptest::proptest! {
        #[test]
        fn every_byte_keeps_its_place(text in "[-$0-9 é\n]{0,60}(2027-02-2[0-9])?[- $0-9]{0,9}", days in -999i64..999) {
            let moved = shift_dates(&text, days);
            proptest::prop_assert_eq!(moved.len(), text.len());
            for (a, b) in text.bytes().zip(moved.bytes()) {
                proptest::prop_assert!(a == b || (a.is_ascii_digit() && b.is_ascii_digit()));
            }
        }

        #[test]
        fn moving_back_undoes_it(day in 700_000i32..760_000, days in -9_999i64..9_999) {
            let date = NaiveDate::from_num_days_from_ce_opt(day).expect("a day");
            let text = format!("on: {date}\n");
            proptest::prop_assert_eq!(shift_dates(&shift_dates(&text, days), -days), text);
        }
    }
}
