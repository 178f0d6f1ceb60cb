//! Numbers, days and formulas in words, so that every feature says them alike.

use chrono::NaiveDate;
use notes::{Located, Span};
use study::mastery::Mastery;

/// Said beside every estimate.
pub const ESTIMATE: &str = "An estimate, not a promise.";

/// Said beside advice to practise.
pub const COURSE_RULES: &str = "Your course's own rules on materials and collaboration come first.";

/// A number of things: `1 problem`, `3 problems`.
pub fn count(n: usize, one: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        _ => format!("{n} {one}s"),
    }
}

/// A day seen from `today`: `today`, `tomorrow`, `in 5 days`, `yesterday`, `9 days ago`.
pub fn day_from(today: NaiveDate, day: NaiveDate) -> String {
    match day.signed_duration_since(today).num_days() {
        0 => "today".to_owned(),
        1 => "tomorrow".to_owned(),
        -1 => "yesterday".to_owned(),
        days if days > 0 => format!("in {days} days"),
        days => format!("{} days ago", -days),
    }
}

/// A probability with two decimals.
pub fn probability(p: f64) -> String {
    format!("{p:.2}")
}

/// A part of 1 as a percentage without decimals.
pub fn percent(part: f64) -> String {
    format!("{:.0}%", part * 100.0)
}

/// A pattern's mastery: what it rests on, the estimate, and its interval.
pub fn mastery(mastery: &Mastery) -> String {
    let estimate = format!(
        "{}, between {} and {}",
        probability(mastery.mean),
        probability(mastery.low),
        probability(mastery.high)
    );
    let Some(gap) = mastery.gap else {
        return format!("never tried: {estimate}");
    };
    let when = match gap {
        0 => "last tried today".to_owned(),
        1 => "last tried yesterday".to_owned(),
        days => format!("last tried {days} days ago"),
    };
    let recent = mastery.recent;
    match (recent.right, recent.of) {
        (_, 0) => format!("never tried with notes closed, {when}: {estimate}"),
        (right, 1) => {
            let how = if right == 1 { "right" } else { "not right" };
            format!("{how} on the one closed-notes try, {when}: {estimate}")
        }
        (right, of) => {
            format!("right on {right} of the last {of} closed-notes tries, {when}: {estimate}")
        }
    }
}

/// The text of a span of a unit on one line, with each formula in readable characters.
pub fn readable(at: &Located<'_>, span: Span) -> String {
    let mut out = String::new();
    let mut from = span.start;
    for formula in &at.entry.unit.formulas {
        if formula.whole.start < from || formula.whole.end > span.end {
            continue;
        }
        out.push_str(&at.text(Span {
            start: from,
            end: formula.whole.start,
        }));
        out.push_str(&math::readable(&at.text(formula.tex)));
        from = formula.whole.end;
    }
    out.push_str(&at.text(Span {
        start: from,
        end: span.end,
    }));
    out.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// A title, or a stand-in for a block that has none.
pub fn title(at: &Located<'_>) -> String {
    if at.block.title.is_empty() {
        let kind = at.block.kind.map_or("block", |kind| kind.word());
        format!("unnamed {kind}")
    } else {
        readable(at, at.block.title)
    }
}

/// A text cut to at most `limit` characters, with an ellipsis where something was left out.
pub fn cut(text: &str, limit: usize) -> String {
    match text.char_indices().nth(limit) {
        None => text.to_owned(),
        Some(_) => {
            let kept: String = text.chars().take(limit.saturating_sub(1)).collect();
            format!("{}…", kept.trim_end())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_are_said_from_today() {
        let day = |d| NaiveDate::from_ymd_opt(2027, 2, d).expect("a day");
        let said = |d| day_from(day(15), day(d));
        assert_eq!(
            [said(6), said(14), said(15), said(16), said(20)],
            ["9 days ago", "yesterday", "today", "tomorrow", "in 5 days"]
        );
    }

    #[test]
    fn a_long_text_is_cut_between_characters() {
        assert_eq!(cut("überall", 7), "überall");
        assert_eq!(cut("überall und", 8), "überall…");
    }
}
