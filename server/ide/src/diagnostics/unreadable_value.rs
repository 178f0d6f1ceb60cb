use notes::Field;
use notes::value::{Unreadable, Value};
use notes::vocabulary::ValueKind;

use super::Severity;
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// The value of a field cannot be read.
    ///
    /// A record that cannot be read does not count, and a date that cannot be read is in no plan.
    ///
    /// ```porism
    /// @problem 1.2
    ///   pattern: separable
    ///   Solve $y' = xy$.
    ///   tried: 2027-02-10 closed rigth 6 min
    /// ```
    ///
    /// The message names what was found and what is expected in its place. Dates are written as
    /// `2027-02-26`, lengths of time as `75 min`, scores as `17/20` or `85%`, tries as a date, `open`
    /// or `closed`, the outcome and the time taken. A value that looks half typed is for information
    /// only.
    UNREADABLE_VALUE = "unreadable-value", Warning | Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((kind, at)) = unit.known() else {
        return;
    };
    for field in &at.block.fields {
        let Value::Unreadable(fault) = &field.value else {
            continue;
        };
        if fault.impossible_date {
            continue;
        }
        let message = format!(
            "`{}:` cannot be read: found `{}`, expected {}.",
            field.key.word(),
            crate::words::cut(&fault.found, 40),
            fault.expected
        );
        let mut mark = unit.mark(&UNREADABLE_VALUE, fault.span, message);
        let rule = kind.field(field.key);
        let text = unit.text(field.value_span);
        if rule.is_some_and(|rule| is_half_typed(rule.value, &text, field, fault)) {
            mark = mark.severity(Severity::Information);
        }
        marks.push(mark);
    }
}

/// Whether the value may be on the way to one that can be read, were typing to go on at its end.
fn is_half_typed(kind: ValueKind, text: &str, field: &Field, fault: &Unreadable) -> bool {
    let start = (fault.span.start - field.value_span.start) as usize;
    let fault_text = text.get(start..).unwrap_or_default();
    if fault.span.end != field.value_span.end {
        // A number is at fault as long as its unit is not whole.
        let (number, unit) = fault_text
            .split_at_checked(fault.span.len())
            .unwrap_or_default();
        let units: &[&str] = match kind {
            ValueKind::Attempt | ValueKind::Duration | ValueKind::StudyTime => {
                &["minutes", "hours"]
            }
            ValueKind::Start => &["days", "weeks"],
            _ => &[],
        };
        return is_number(number) && is_start_of(unit.trim(), units);
    }
    let last = fault_text
        .split_whitespace()
        .next_back()
        .unwrap_or_default();
    // What is missing at the end is told of the whole value.
    if begins_with_date(text) && start == 0 {
        return matches!(
            kind,
            ValueKind::Attempt | ValueKind::Spotting | ValueKind::OutsideMark
        );
    }
    if start == 0 && takes_date(kind) && is_start_of_date(last) {
        return true;
    }
    let words: &[&str] = match kind {
        ValueKind::Attempt => &[
            "open", "closed", "right", "partly", "wrong", "skipped", "mock", "minutes", "hours",
        ],
        ValueKind::Spotting => &["right", "wrong"],
        ValueKind::Mark => &["right", "partly", "wrong", "skipped"],
        ValueKind::Learned => &["no", "partly", "yes"],
        ValueKind::Duration => &["minutes", "hours"],
        ValueKind::StudyTime | ValueKind::DaysOff => &[
            "minutes",
            "hours",
            "monday",
            "tuesday",
            "wednesday",
            "thursday",
            "friday",
            "saturday",
            "sunday",
        ],
        ValueKind::Start => &["days", "weeks", "before"],
        _ => &[],
    };
    if is_start_of(last, words) {
        return true;
    }
    match kind {
        // A number waits for its unit, its total or its percent sign.
        ValueKind::Attempt
        | ValueKind::OutsideMark
        | ValueKind::Score
        | ValueKind::Mark
        | ValueKind::Duration
        | ValueKind::StudyTime
        | ValueKind::Start => is_number(last.strip_suffix('/').unwrap_or(last)),
        ValueKind::Moment => last.len() < 5 && is_start_of_time(last),
        ValueKind::Coverage | ValueKind::TopicPoints => {
            fault_text.split_once("..").is_some_and(|(first, second)| {
                first
                    .trim()
                    .starts_with(second.trim_matches(['.', ' ', '\t']))
            })
        }
        _ => false,
    }
}

fn is_start_of(text: &str, words: &[&str]) -> bool {
    let lower = text.to_lowercase();
    !lower.is_empty() && words.iter().any(|word| word.starts_with(&lower))
}

fn takes_date(kind: ValueKind) -> bool {
    matches!(
        kind,
        ValueKind::Moment
            | ValueKind::Attempt
            | ValueKind::Spotting
            | ValueKind::OutsideMark
            | ValueKind::Start
    )
}

fn is_number(text: &str) -> bool {
    text.starts_with(|c: char| c.is_ascii_digit())
        && text.bytes().all(|b| b.is_ascii_digit() || b == b'.')
}

fn is_start_of_date(text: &str) -> bool {
    let fits = |(i, b): (usize, u8)| match i {
        4 | 7 => b == b'-',
        _ => b.is_ascii_digit(),
    };
    !text.is_empty() && text.len() < 10 && text.bytes().enumerate().all(fits)
}

fn begins_with_date(text: &str) -> bool {
    text.get(..10)
        .is_some_and(|date| date.parse::<chrono::NaiveDate>().is_ok())
}

fn is_start_of_time(text: &str) -> bool {
    let (hours, minutes) = text.split_once(':').unwrap_or((text, ""));
    let digits = |text: &str| text.bytes().all(|b| b.is_ascii_digit());
    (1..=2).contains(&hours.len()) && minutes.len() <= 1 && digits(hours) && digits(minutes)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn the_part_that_does_not_fit_is_marked() {
        check(
            &UNREADABLE_VALUE,
            "
@exam Final
  on: next Monday
      ^^^^ warning: `on:` cannot be read: found `next`, expected a date such as 2027-02-26.
  length: 75 min sharp
                 ^^^^^ warning: `length:` cannot be read: found `sharp`, expected a length of time such as 75 min or 1 h 15 min.
  covers: 1.5 .. 1.1
          ^^^^^^^^^^ warning: `covers:` cannot be read: found `1.5 .. 1.1`, expected a range that goes upward, such as 1.1 .. 1.5.
  start: 7 dogs before
           ^^^^ warning: `start:` cannot be read: found `dogs`, expected a number of days such as 7 days before, or a date.
  target: good
          ^^^^ warning: `target:` cannot be read: found `good`, expected a score such as 17/20 or 85%.
",
        );
    }

    #[test]
    fn half_typed_values_are_mild() {
        let typed = [
            ("exam", "on: 2027-02"),
            ("exam", "on: 2027-02-26 1"),
            ("exam", "on: 2027-02-26 10:"),
            ("exam", "length: 1 h 1"),
            ("exam", "length: 75 mi"),
            ("exam", "length: 1 h 15 mi"),
            ("exam", "target: 17/"),
            ("exam", "target: 8"),
            ("exam", "covers: 1.1 .. 1"),
            ("exam", "covers: 1.1 .."),
            ("exam", "start: 7"),
            ("exam", "start: 7 da"),
            ("problem", "tried: 2027-02-1"),
            ("problem", "tried: 2027-02-10"),
            ("problem", "tried: 2027-02-10 clos"),
            ("problem", "tried: 2027-02-10 closed"),
            ("problem", "tried: 2027-02-10 closed ri"),
            ("problem", "tried: 2027-02-10 closed right 7"),
            ("problem", "tried: 2027-02-10 closed right 7 mi"),
            ("problem", "spotted: 2027-02-10"),
            ("topic", "quiz: 2027-02-03 4/"),
            ("topic", "quiz: 2027-02-03"),
            ("topic", "learned: part"),
        ];
        for (kind, line) in typed {
            let text = format!("@{kind} x\n  {line}\n");
            let found = crate::diagnostics::testing::findings(&text);
            let own: Vec<_> = found
                .iter()
                .filter(|f| f.code == UNREADABLE_VALUE.code)
                .collect();
            let severities: Vec<_> = own.iter().map(|f| f.severity).collect();
            assert_eq!(severities, [Severity::Information], "{line}");
        }
    }

    #[test]
    fn values_that_can_be_read_are_not_marked() {
        check(
            &UNREADABLE_VALUE,
            "@exam Final\n  on: 2027-06-14 10:00\n  length: 1h15\n  covers: 1.1 .. 1.5, Review\n  \
             notes: one sheet\n",
        );
    }
}
