//! Exams whose preparations overlap with more work than there are minutes: to be known on the day
//! the dates are typed, while something can still be done about it.

use crate::{Day, ExamId, Minutes};
use std::collections::BTreeSet;

/// A preparation longer than this counts from this many days before its exam.
const LONGEST_WINDOW: i64 = 366;

/// The preparation for one exam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Window {
    /// Which exam.
    pub exam: ExamId,
    /// The first day of the preparation.
    pub from: Day,
    /// The day of the exam, which is not a day of preparation any more.
    pub until: Day,
    /// How much there is to do.
    pub work: Minutes,
}

/// Days in which some preparations must be done wholly, and cannot be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Collision {
    /// The exams, by number; a single one has too much work for its own days.
    pub exams: Vec<ExamId>,
    /// The first of the days.
    pub from: Day,
    /// The day after the last of them.
    pub until: Day,
    /// Minutes of work.
    pub needed: u64,
    /// Minutes of study time.
    pub available: u64,
}

/// The collisions among `windows`, where `minutes` is the study time of a day: empty when, and
/// only when, all the work can be done in its windows, split over days as need be.
///
/// That is so when, from the first day of any window to the last day of any, the windows that lie
/// wholly between do not need more than there is (the processor demand criterion of real-time
/// scheduling: Baruah, Rosier and Howell 1990). Of the spans that fail, those are given that
/// contain no other one.
#[must_use]
pub fn collisions(windows: &[Window], minutes: impl Fn(Day) -> Minutes) -> Vec<Collision> {
    let windows: Vec<Window> = windows
        .iter()
        .filter(|w| w.work.0 > 0)
        .map(shortened)
        .collect();
    let starts: BTreeSet<Day> = windows.iter().map(|w| w.from).collect();
    let ends: BTreeSet<Day> = windows.iter().map(|w| w.until).collect();
    let mut found: Vec<Collision> = Vec::new();
    // From the latest start, so that the shorter spans are there before the longer.
    for &from in starts.iter().rev() {
        let mut available = 0;
        let mut counted = from;
        for &until in ends.range(from..) {
            let inside: Vec<&Window> = windows
                .iter()
                .filter(|w| from <= w.from && w.until <= until)
                .collect();
            if inside.is_empty() {
                continue;
            }
            // Days that belong to no window at all may lie in between, any number of them.
            available += study_time(&windows, counted, until, &minutes);
            counted = until;
            let needed = inside.iter().map(|w| u64::from(w.work.0)).sum();
            let contains = |c: &Collision| from <= c.from && c.until <= until;
            if needed > available && !found.iter().any(contains) {
                let exams: BTreeSet<ExamId> = inside.iter().map(|w| w.exam).collect();
                let exams = exams.into_iter().collect();
                found.push(Collision {
                    exams,
                    from,
                    until,
                    needed,
                    available,
                });
            }
        }
    }
    found.sort_by_key(|c| (c.from, c.until));
    found
}

fn shortened(window: &Window) -> Window {
    let late = window.until.0.saturating_sub(LONGEST_WINDOW as i32);
    let from = window.from.max(Day(late));
    // A preparation that would begin after its exam has no day at all.
    Window {
        from: from.min(window.until),
        ..*window
    }
}

/// The study time from `from` until `until` on days that belong to some window.
fn study_time(windows: &[Window], from: Day, until: Day, minutes: &impl Fn(Day) -> Minutes) -> u64 {
    let mut sum = 0;
    let mut next = from;
    let mut spans: Vec<(Day, Day)> = windows
        .iter()
        .map(|w| (w.from.max(from), w.until.min(until)))
        .collect();
    spans.sort_unstable();
    for (start, end) in spans {
        let mut day = start.max(next);
        while day < end {
            sum += u64::from(minutes(day).0);
            day = day.plus(1);
        }
        next = next.max(end);
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn window(exam: u32, from: i32, until: i32, work: u32) -> Window {
        Window {
            exam: ExamId(exam),
            from: Day(from),
            until: Day(until),
            work: Minutes(work),
        }
    }

    /// With an hour a day; each collision as exams, first day, end, needed and available minutes.
    fn check(windows: &[Window], expected: &[(&[u32], i32, i32, u64, u64)]) {
        let found = collisions(windows, |_| Minutes(60));
        let found: Vec<(Vec<u32>, i32, i32, u64, u64)> = found
            .iter()
            .map(|c| {
                let exams = c.exams.iter().map(|e| e.0).collect();
                (exams, c.from.0, c.until.0, c.needed, c.available)
            })
            .collect();
        let expected: Vec<(Vec<u32>, i32, i32, u64, u64)> = expected
            .iter()
            .map(|&(e, from, until, n, a)| (e.to_vec(), from, until, n, a))
            .collect();
        assert_eq!(found, expected);
    }

    #[test]
    fn overlapping_windows_collide_only_when_the_work_is_too_much() {
        check(&[window(1, 0, 7, 240), window(2, 3, 10, 240)], &[]);
        check(
            &[window(1, 0, 7, 400), window(2, 3, 10, 300)],
            &[(&[1, 2], 0, 10, 700, 600)],
        );
        check(&[window(1, 0, 7, 420), window(2, 7, 14, 420)], &[]);
    }

    #[test]
    fn one_exam_can_be_too_much_by_itself() {
        check(
            &[window(1, 0, 2, 121), window(2, 0, 9, 60)],
            &[(&[1], 0, 2, 121, 120)],
        );
        check(&[window(1, 5, 5, 10)], &[(&[1], 5, 5, 10, 0)]);
        check(&[window(1, 9, 5, 10)], &[(&[1], 5, 5, 10, 0)]);
    }

    #[test]
    fn far_apart_and_extreme_days_take_no_time() {
        check(
            &[
                window(1, i32::MIN, i32::MIN, 5),
                window(2, i32::MAX, i32::MAX, 0),
            ],
            &[(&[1], i32::MIN, i32::MIN, 5, 0)],
        );
        check(
            &[window(1, i32::MIN, 0, 60), window(2, 0, i32::MAX, 60)],
            &[],
        );
        let far = [
            window(1, -2_000_000_000, -1_999_999_999, 61),
            window(2, 0, 1, 60),
        ];
        check(&far, &[(&[1], -2_000_000_000, -1_999_999_999, 61, 60)]);
    }

    /// Whether the work fits, by doing the nearest exam's first, minute by minute: the rule that
    /// succeeds whenever any does (earliest deadline first: Horn 1974).
    fn fits(windows: &[Window], minutes: &[u32]) -> bool {
        let mut work: Vec<u32> = windows.iter().map(|w| w.work.0).collect();
        for (day, &minutes) in (0..).zip(minutes) {
            for _ in 0..minutes {
                let next = (0..windows.len())
                    .filter(|&w| work[w] > 0)
                    .filter(|&w| windows[w].from <= Day(day) && Day(day) < windows[w].until)
                    .min_by_key(|&w| windows[w].until);
                if let Some(next) = next {
                    work[next] -= 1;
                }
            }
        }
        work.iter().all(|&left| left == 0)
    }

    proptest! {
        #[test]
        fn no_collision_exactly_when_the_work_fits(
            windows in prop::collection::vec((0i32..12, 0i32..8, 0u32..12), 0..5),
            minutes in prop::collection::vec(0u32..6, 20),
        ) {
            let windows: Vec<Window> = (0..).zip(windows)
                .map(|(exam, (from, days, work))| window(exam, from, from + days, work)).collect();
            let study = |day: Day| Minutes(minutes[usize::try_from(day.0).expect("in range")]);
            let found = collisions(&windows, study);
            prop_assert_eq!(found.is_empty(), fits(&windows, &minutes));
            prop_assert!(found.iter().all(|c| c.needed > c.available));
        }
    }
}
