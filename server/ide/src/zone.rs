//! Time zones: that of a course, and how one is described in a calendar.

use std::collections::BTreeSet;

use chrono::{DateTime, Datelike, NaiveDateTime, Offset, TimeZone, Utc};
use chrono_tz::{OffsetComponents, Tz};
use notes::{BlockKind, Key, NameKey, NamedThing};

use crate::Analysis;

/// A zone by its name in the IANA database, as `Europe/Berlin`.
pub fn zone(name: &str) -> Option<Tz> {
    name.trim().parse().ok()
}

/// What a course says of its zone: the name, and the zone if there is one of that name.
pub(crate) fn course_zone(analysis: &Analysis, course: &NameKey) -> Option<(String, Option<Tz>)> {
    let thing = NamedThing {
        course: NameKey::default(),
        kind: BlockKind::Course,
        name: course.clone(),
    };
    let mut definitions = analysis.notebook.definitions(&thing);
    let name = definitions.find_map(|at| at.field_text(Key::Zone))?;
    let zone = zone(&name);
    Some((name, zone))
}

/// The instant of a local time. Of an hour that comes twice the first counts (RFC 5545, section
/// 3.3.5); an hour that is skipped has none.
pub(crate) fn instant(zone: Tz, local: NaiveDateTime) -> Option<DateTime<Tz>> {
    zone.from_local_datetime(&local).earliest()
}

/// The first and last year of which transitions are listed.
const YEARS: std::ops::RangeInclusive<i32> = 1970..=2200;

/// A VTIMEZONE component for a zone, as content lines: every transition from the year before the
/// first of these local times to the year after the last (RFC 5545, section 3.6.5).
pub(crate) fn vtimezone(zone: Tz, times: &BTreeSet<NaiveDateTime>) -> Vec<String> {
    let year = |time: Option<&NaiveDateTime>| time.map_or(*YEARS.start(), |time| time.year());
    let first = (year(times.first()) - 1).clamp(*YEARS.start(), *YEARS.end());
    let last = (year(times.last()) + 1).clamp(first, *YEARS.end());
    let start = Utc.with_ymd_and_hms(first, 1, 1, 0, 0, 0).single();
    let end = Utc.with_ymd_and_hms(last + 1, 1, 1, 0, 0, 0).single();
    let mut lines = vec!["BEGIN:VTIMEZONE".to_owned(), format!("TZID:{zone}")];
    if let (Some(start), Some(end)) = (start, end) {
        let initial = seconds(zone, start);
        lines.extend(observance(zone, start, initial, start.naive_utc()));
        let mut at = start;
        while let Some(transition) = next_transition(zone, at, end) {
            let before = seconds(zone, transition - chrono::Duration::seconds(1));
            // A transition happens at a local time of the offset before it.
            let local = transition.naive_utc() + chrono::Duration::seconds(before.into());
            lines.extend(observance(zone, transition, before, local));
            at = transition;
        }
    }
    lines.push("END:VTIMEZONE".to_owned());
    lines
}

fn seconds(zone: Tz, at: DateTime<Utc>) -> i32 {
    let offset = zone.offset_from_utc_datetime(&at.naive_utc());
    offset.fix().local_minus_utc()
}

/// The first instant after `at` and before `end` from which another offset holds.
fn next_transition(zone: Tz, at: DateTime<Utc>, end: DateTime<Utc>) -> Option<DateTime<Utc>> {
    let state = |seconds: i64| {
        let at = DateTime::from_timestamp(seconds, 0)?.naive_utc();
        let offset = zone.offset_from_utc_datetime(&at);
        Some((offset.fix().local_minus_utc(), offset.dst_offset()))
    };
    let now = state(at.timestamp());
    let (mut low, end) = (at.timestamp(), end.timestamp());
    // No zone has changed back within three days.
    let mut high = loop {
        let next = low + 3 * 24 * 3600;
        if state(next) != now {
            break next;
        }
        if next >= end {
            return None;
        }
        low = next;
    };
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        match state(middle) == now {
            true => low = middle,
            false => high = middle,
        }
    }
    DateTime::from_timestamp(high, 0).filter(|_| high < end)
}

fn observance(zone: Tz, at: DateTime<Utc>, before: i32, local: NaiveDateTime) -> [String; 6] {
    let offset = zone.offset_from_utc_datetime(&at.naive_utc());
    let kind = match offset.dst_offset().is_zero() {
        true => "STANDARD",
        false => "DAYLIGHT",
    };
    [
        format!("BEGIN:{kind}"),
        format!("DTSTART:{}", local.format("%Y%m%dT%H%M%S")),
        format!("TZOFFSETFROM:{}", utc_offset(before)),
        format!("TZOFFSETTO:{}", utc_offset(offset.fix().local_minus_utc())),
        format!("TZNAME:{}", crate::ical::escaped(&offset.to_string())),
        format!("END:{kind}"),
    ]
}

/// An offset from UTC as RFC 5545, section 3.3.14 writes it.
fn utc_offset(seconds: i32) -> String {
    let sign = if seconds < 0 { '-' } else { '+' };
    let seconds = seconds.abs();
    let (hours, minutes, rest) = (seconds / 3600, seconds / 60 % 60, seconds % 60);
    match rest {
        0 => format!("{sign}{hours:02}{minutes:02}"),
        _ => format!("{sign}{hours:02}{minutes:02}{rest:02}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::NaiveDate;

    fn at(y: i32, m: u32, d: u32, h: u32) -> NaiveDateTime {
        let day = NaiveDate::from_ymd_opt(y, m, d).expect("a day");
        day.and_hms_opt(h, 0, 0).expect("a time")
    }

    /// RFC 5545, section 3.6.5, gives these two transitions of New York in 2007 in its examples
    /// (from memory).
    #[test]
    fn new_york_is_as_in_the_standard() {
        let zone = zone("America/New_York").expect("a zone");
        let lines = vtimezone(zone, &BTreeSet::from([at(2007, 6, 1, 9)])).join("\n");
        for part in [
            "BEGIN:DAYLIGHT\nDTSTART:20070311T020000\nTZOFFSETFROM:-0500\nTZOFFSETTO:-0400\nTZNAME:EDT\nEND:DAYLIGHT",
            "BEGIN:STANDARD\nDTSTART:20071104T020000\nTZOFFSETFROM:-0400\nTZOFFSETTO:-0500\nTZNAME:EST\nEND:STANDARD",
        ] {
            assert!(lines.contains(part), "{lines}");
        }
        // The year before and the year after, two transitions each, and where it starts.
        assert_eq!(lines.matches("DTSTART").count(), 7);
    }

    #[test]
    fn zones_without_summer_time_have_one_observance() {
        let zone = zone("Asia/Kolkata").expect("a zone");
        let lines = vtimezone(zone, &BTreeSet::from([at(2027, 2, 20, 9)]));
        assert_eq!(
            lines.join("\n"),
            "BEGIN:VTIMEZONE\nTZID:Asia/Kolkata\nBEGIN:STANDARD\nDTSTART:20260101T000000\n\
             TZOFFSETFROM:+0530\nTZOFFSETTO:+0530\nTZNAME:IST\nEND:STANDARD\nEND:VTIMEZONE"
        );
    }

    #[test]
    fn an_hour_that_is_skipped_has_no_instant() {
        let zone = zone("Europe/Berlin").expect("a zone");
        // Summer time began there on 2027-03-28 at 2:00 by the rule in force since 1996 (Directive
        // 2000/84/EC): the last Sunday in March.
        assert_eq!(instant(zone, at(2027, 3, 28, 2)), None);
        let twice = instant(zone, at(2027, 10, 31, 2)).expect("twice");
        assert_eq!(twice.naive_utc(), at(2027, 10, 31, 0));
    }

    #[test]
    fn offsets_have_seconds_where_need_be() {
        assert_eq!(utc_offset(-3600 * 5), "-0500");
        assert_eq!(utc_offset(20_700), "+0545");
        // RFC 5545, section 3.3.14: seconds may follow.
        assert_eq!(utc_offset(-(44 * 60 + 30)), "-004430");
    }
}
