//! What one try of a problem says about its patterns, and what all tries of one pattern say
//! together on a given day.

use crate::{Day, Fraction, PatternId};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Each unit of evidence that a later day brings multiplies what was known before by this.
const NEWER_EVIDENCE_KEEPS: f64 = 0.9;
/// Evidence loses half its weight in this many days.
const HALF_LIFE_DAYS: f64 = 60.0;
/// How much of a success counts when the notes were open.
const OPEN_NOTES_SUCCESS: f64 = 0.25;
/// How many closed-notes tries a summary looks back on.
pub const RECENT_TRIES: u32 = 8;

/// Whether the student could look at the notes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Notes {
    /// Notes, books or worked solutions were at hand.
    Open,
    /// Everything from memory.
    Closed,
}

/// Where the try was made.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Setting {
    /// On its own, without a clock that matters.
    Practice,
    /// In a whole timed paper.
    Mock,
}

/// How a try ended.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Outcome {
    /// Wholly right.
    Right,
    /// Right in part.
    Partly,
    /// Wrong.
    Wrong,
    /// Passed over.
    Skipped,
    /// Marked with a score.
    Score(Fraction),
}

impl Outcome {
    /// Wholly right, by word or by full score.
    #[must_use]
    pub fn is_right(self) -> bool {
        match self {
            Outcome::Right => true,
            Outcome::Score(score) => score == Fraction::ONE,
            Outcome::Partly | Outcome::Wrong | Outcome::Skipped => false,
        }
    }

    /// Nothing right: wrong, passed over, or a score of 0.
    #[must_use]
    pub fn is_failure(self) -> bool {
        match self {
            Outcome::Wrong | Outcome::Skipped => true,
            Outcome::Score(score) => score == Fraction::ZERO,
            Outcome::Right | Outcome::Partly => false,
        }
    }
}

/// Pseudo-counts of right and wrong answers. Both are finite and at least 0.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence {
    /// The share of a right answer.
    pub success: f64,
    /// The share of a wrong answer.
    pub failure: f64,
}

impl Evidence {
    /// Success and failure together.
    #[must_use]
    pub fn total(self) -> f64 {
        self.success + self.failure
    }

    fn scaled(self, factor: f64) -> Evidence {
        Evidence {
            success: self.success * factor,
            failure: self.failure * factor,
        }
    }

    fn plus(self, other: Evidence) -> Evidence {
        Evidence {
            success: self.success + other.success,
            failure: self.failure + other.failure,
        }
    }
}

/// The evidence of one try.
///
/// A closed-notes try counts one right or wrong answer; a success with open notes counts a
/// quarter, because open-book scores look better at first and not later (Agarwal, Karpicke, Kang,
/// Roediger and McDermott 2008). The quarter and the weights of *partly* and *skipped* are
/// conventions. A problem that was passed over counts as wrong in a mock test, as half a wrong
/// answer in closed-notes practice, and not at all with open notes.
#[must_use]
pub fn evidence(notes: Notes, setting: Setting, outcome: Outcome) -> Evidence {
    let (success, failure) = match (outcome, notes, setting) {
        (Outcome::Right, _, _) => (1.0, 0.0),
        (Outcome::Partly, _, _) => (0.5, 0.5),
        (Outcome::Wrong, _, _) | (Outcome::Skipped, Notes::Closed, Setting::Mock) => (0.0, 1.0),
        (Outcome::Skipped, Notes::Closed, Setting::Practice) => (0.0, 0.5),
        (Outcome::Skipped, Notes::Open, _) => (0.0, 0.0),
        (Outcome::Score(score), _, _) => (score.get(), 1.0 - score.get()),
    };
    let weight = match notes {
        Notes::Open => OPEN_NOTES_SUCCESS,
        Notes::Closed => 1.0,
    };
    Evidence {
        success: success * weight,
        failure,
    }
}

/// One try of one pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Try {
    /// The day of the try.
    pub day: Day,
    /// Whether the notes were open.
    pub notes: Notes,
    /// Practice or a mock test.
    pub setting: Setting,
    /// How it ended.
    pub outcome: Outcome,
    /// How many patterns the problem has; each gets an equal share of the evidence. 0 counts as 1.
    pub patterns: u32,
}

impl Try {
    fn share(self) -> f64 {
        1.0 / f64::from(self.patterns.max(1))
    }

    fn evidence(self) -> Evidence {
        evidence(self.notes, self.setting, self.outcome).scaled(self.share())
    }
}

/// All tries of one pattern, folded by day, so that its state on any day is found without going
/// through them again. Cheap to clone.
///
/// Built from the tries in any order; within one day their order decides only which of them are
/// the most recent in [`PatternEvidence::recent_closed`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct PatternEvidence {
    /// Ascending by day; a day without evidence (nothing but problems passed over with the notes
    /// open) is not in it.
    days: Arc<[PractisedDay]>,
    /// The closed-notes tries, ascending by day: the day, and whether the answer was right.
    closed: Arc<[(Day, bool)]>,
}

/// The state of a pattern at the end of a day on which it was practised.
#[derive(Clone, Copy, Debug, PartialEq)]
struct PractisedDay {
    day: Day,
    folded: Evidence,
    /// The sum of the shares of all tries up to this day.
    tries: f64,
    success_days: u32,
}

/// What the tries of a pattern up to a day say on that day.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Practised {
    /// The decayed evidence.
    pub evidence: Evidence,
    /// The number of different days of practice, at least 1.
    pub days: u32,
    /// The last of them.
    pub last: Day,
    /// The number of tries, a try of a problem of k patterns counting 1/k.
    pub tries: f64,
    /// The number of different days with a closed-notes success since the last day with a
    /// closed-notes failure: see [`PatternEvidence::rests`].
    pub success_days: u32,
}

/// The most recent closed-notes tries of a pattern, at most [`RECENT_TRIES`] of them.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RecentClosed {
    /// How many of them were wholly right.
    pub right: u32,
    /// How many there are.
    pub of: u32,
}

impl PatternEvidence {
    /// Folds the tries of one pattern.
    ///
    /// Evidence is summed by day; the sum n of a day counts as √n when it is more than 1 (nine
    /// tries in one sitting count as three: Rohrer and Taylor 2006 found no gain from nine over
    /// three in one session). Each later day then multiplies what came before by
    /// 0.9^(its evidence) · 2^(−days between / 60).
    pub fn new(tries: impl IntoIterator<Item = Try>) -> PatternEvidence {
        let mut tries: Vec<Try> = tries.into_iter().collect();
        tries.sort_by_key(|t| t.day);
        let closed = tries
            .iter()
            .filter(|t| t.notes == Notes::Closed)
            .map(|t| (t.day, t.outcome.is_right()))
            .collect();
        let mut days: Vec<PractisedDay> = Vec::new();
        for sitting in tries.chunk_by(|a, b| a.day == b.day) {
            let Some(found) = Sitting::of(sitting) else {
                continue;
            };
            let day = sitting[0].day;
            let before = days.last();
            let kept = before.map_or(Evidence::default(), |before| {
                let newer = libm::pow(NEWER_EVIDENCE_KEEPS, found.evidence.total());
                before
                    .folded
                    .scaled(newer * fading_factor(day.since(before.day)))
            });
            let success_days = before.map_or(0, |before| before.success_days);
            days.push(PractisedDay {
                day,
                folded: kept.plus(found.evidence),
                tries: before.map_or(0.0, |before| before.tries) + found.tries,
                success_days: match found.closed {
                    ClosedNotes::Failed => 0,
                    ClosedNotes::Succeeded => success_days + 1,
                    ClosedNotes::Neither => success_days,
                },
            });
        }
        PatternEvidence {
            days: days.into(),
            closed,
        }
    }

    /// The state on `day`, or `None` when nothing was practised up to then. Later tries do not
    /// count: the state is the one that was known on that day.
    #[must_use]
    pub fn on(&self, day: Day) -> Option<Practised> {
        let days = self.days.partition_point(|d| d.day <= day);
        let last = self.days[..days].last()?;
        Some(Practised {
            evidence: last.folded.scaled(fading_factor(day.since(last.day))),
            days: u32::try_from(days).unwrap_or(u32::MAX),
            last: last.day,
            tries: last.tries,
            success_days: last.success_days,
        })
    }

    /// How the most recent closed-notes tries up to `day` went.
    #[must_use]
    pub fn recent_closed(&self, day: Day) -> RecentClosed {
        let known = &self.closed[..self.closed.partition_point(|&(d, _)| d <= day)];
        let recent = known.iter().rev().take(RECENT_TRIES as usize);
        recent.fold(RecentClosed::default(), |sum, &(_, right)| RecentClosed {
            right: sum.right + u32::from(right),
            of: sum.of + 1,
        })
    }

    /// The last day up to `day` with a closed-notes success.
    #[must_use]
    pub fn last_closed_success(&self, day: Day) -> Option<Day> {
        let known = &self.closed[..self.closed.partition_point(|&(d, _)| d <= day)];
        known
            .iter()
            .rev()
            .find(|&&(_, right)| right)
            .map(|&(day, _)| day)
    }

    /// Whether the pattern may rest on `day`: closed-notes success on three different days, and no
    /// closed-notes failure since (three correct recalls, then spaced relearning: Rawson and
    /// Dunlosky 2011; that a failure ends the rest is a convention).
    #[must_use]
    pub fn rests(&self, day: Day) -> bool {
        self.on(day)
            .is_some_and(|practised| practised.success_days >= DAYS_OF_SUCCESS)
    }
}

/// Days of closed-notes success after which a pattern rests (Rawson and Dunlosky 2011).
const DAYS_OF_SUCCESS: u32 = 3;

/// What is left of evidence after `days` days.
fn fading_factor(days: i64) -> f64 {
    libm::exp2(-(days as f64) / HALF_LIFE_DAYS)
}

/// What one day's tries of a pattern say, if anything.
struct Sitting {
    evidence: Evidence,
    tries: f64,
    closed: ClosedNotes,
}

enum ClosedNotes {
    Succeeded,
    Failed,
    Neither,
}

impl Sitting {
    fn of(tries: &[Try]) -> Option<Sitting> {
        let telling: Vec<(Try, Evidence)> = tries
            .iter()
            .map(|&t| (t, t.evidence()))
            .filter(|(_, evidence)| evidence.total() > 0.0)
            .collect();
        if telling.is_empty() {
            return None;
        }
        let sum = Evidence {
            success: sorted_sum(telling.iter().map(|(_, evidence)| evidence.success)),
            failure: sorted_sum(telling.iter().map(|(_, evidence)| evidence.failure)),
        };
        let n = sum.total();
        let closed = telling.iter().filter(|(t, _)| t.notes == Notes::Closed);
        let mut closed = closed.map(|(t, _)| t.outcome);
        Some(Sitting {
            evidence: if n > 1.0 {
                sum.scaled(1.0 / n.sqrt())
            } else {
                sum
            },
            tries: sorted_sum(telling.iter().map(|(t, _)| t.share())),
            closed: if closed.clone().any(Outcome::is_failure) {
                ClosedNotes::Failed
            } else if closed.any(Outcome::is_right) {
                ClosedNotes::Succeeded
            } else {
                ClosedNotes::Neither
            },
        })
    }
}

/// The sum in ascending order, so that it does not depend on the order of the numbers.
fn sorted_sum(numbers: impl Iterator<Item = f64>) -> f64 {
    let mut numbers: Vec<f64> = numbers.collect();
    numbers.sort_by(f64::total_cmp);
    numbers.iter().sum()
}

/// One dated try of a problem, with all the patterns of the problem.
#[derive(Clone, Debug, PartialEq)]
pub struct Attempt {
    /// The patterns of the problem, each once; repeated ones count once.
    pub patterns: Vec<PatternId>,
    /// The day of the try.
    pub day: Day,
    /// Whether the notes were open.
    pub notes: Notes,
    /// Practice or a mock test.
    pub setting: Setting,
    /// How it ended.
    pub outcome: Outcome,
}

/// The evidence of every pattern that `attempts` touch, each try shared equally among the
/// patterns of its problem.
#[must_use]
pub fn by_pattern<'a>(
    attempts: impl IntoIterator<Item = &'a Attempt>,
) -> BTreeMap<PatternId, PatternEvidence> {
    let mut tries: BTreeMap<PatternId, Vec<Try>> = BTreeMap::new();
    for attempt in attempts {
        let first =
            |&(at, pattern): &(usize, &PatternId)| !attempt.patterns[..at].contains(pattern);
        let patterns = attempt
            .patterns
            .iter()
            .enumerate()
            .filter(first)
            .map(|(_, pattern)| *pattern);
        let count = u32::try_from(patterns.clone().count()).unwrap_or(u32::MAX);
        for pattern in patterns {
            tries.entry(pattern).or_default().push(Try {
                day: attempt.day,
                notes: attempt.notes,
                setting: attempt.setting,
                outcome: attempt.outcome,
                patterns: count,
            });
        }
    }
    tries
        .into_iter()
        .map(|(pattern, tries)| (pattern, PatternEvidence::new(tries)))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use Notes::{Closed, Open};
    use Outcome::{Partly, Right, Skipped, Wrong};
    use Setting::{Mock, Practice};

    fn closed(day: i32, outcome: Outcome) -> Try {
        Try {
            day: Day(day),
            notes: Closed,
            setting: Practice,
            outcome,
            patterns: 1,
        }
    }

    /// The table of conventions; the scored rows follow from its text.
    #[test]
    fn evidence_of_one_try() {
        let check = |notes, setting, outcome, success, failure| {
            assert_eq!(
                evidence(notes, setting, outcome),
                Evidence { success, failure }
            );
        };
        for setting in [Practice, Mock] {
            check(Closed, setting, Right, 1.0, 0.0);
            check(Closed, setting, Partly, 0.5, 0.5);
            check(Closed, setting, Wrong, 0.0, 1.0);
            check(Open, setting, Right, 0.25, 0.0);
            check(Open, setting, Partly, 0.125, 0.5);
            check(Open, setting, Wrong, 0.0, 1.0);
            check(Open, setting, Skipped, 0.0, 0.0);
            let three_quarters = Outcome::Score(Fraction::ratio(3, 4).expect("3 is less than 4"));
            check(Closed, setting, three_quarters, 0.75, 0.25);
            check(Open, setting, three_quarters, 0.1875, 0.25);
        }
        check(Closed, Practice, Skipped, 0.0, 0.5);
        check(Closed, Mock, Skipped, 0.0, 1.0);
    }

    #[test]
    fn nine_tries_in_one_sitting_count_as_three() {
        let found = PatternEvidence::new((0..9).map(|_| closed(5, Right))).on(Day(5));
        let evidence = found.expect("practised on day 5").evidence;
        assert!((evidence.success - 3.0).abs() < 1e-15);
        assert_eq!(evidence.failure, 0.0);
    }

    #[test]
    fn a_problem_of_two_patterns_gives_each_a_half() {
        let attempt = Attempt {
            patterns: vec![PatternId(7), PatternId(2), PatternId(7)],
            day: Day(1),
            notes: Closed,
            setting: Practice,
            outcome: Right,
        };
        let found = by_pattern([&attempt]);
        assert_eq!(
            found.keys().copied().collect::<Vec<_>>(),
            [PatternId(2), PatternId(7)]
        );
        for evidence in found.values() {
            let practised = evidence.on(Day(1)).expect("practised on day 1");
            assert_eq!(
                practised.evidence,
                Evidence {
                    success: 0.5,
                    failure: 0.0
                }
            );
            assert_eq!(practised.tries, 0.5);
        }
    }

    #[test]
    fn later_tries_do_not_change_what_was_known_before() {
        let early = PatternEvidence::new([closed(0, Right), closed(4, Wrong)]);
        let late = PatternEvidence::new([closed(9, Right), closed(4, Wrong), closed(0, Right)]);
        for day in [-1, 0, 3, 4, 8] {
            assert_eq!(early.on(Day(day)), late.on(Day(day)), "day {day}");
            assert_eq!(early.recent_closed(Day(day)), late.recent_closed(Day(day)));
        }
        assert_eq!(late.on(Day(-1)), None);
        assert_ne!(early.on(Day(9)), late.on(Day(9)));
    }

    #[test]
    fn passing_over_with_open_notes_is_no_practice() {
        let skipped = Try {
            day: Day(2),
            notes: Open,
            setting: Practice,
            outcome: Skipped,
            patterns: 1,
        };
        assert_eq!(PatternEvidence::new([skipped]).on(Day(2)), None);
    }

    #[test]
    fn the_last_eight_closed_notes_tries() {
        let outcomes = [
            Wrong, Wrong, Right, Partly, Right, Right, Right, Right, Right, Wrong,
        ];
        let found = PatternEvidence::new((0..).zip(outcomes).map(|(d, o)| closed(d, o)));
        assert_eq!(
            found.recent_closed(Day(100)),
            RecentClosed { right: 6, of: 8 }
        );
        assert_eq!(
            found.recent_closed(Day(2)),
            RecentClosed { right: 1, of: 3 }
        );
        assert_eq!(found.last_closed_success(Day(100)), Some(Day(8)));
        assert_eq!(found.last_closed_success(Day(1)), None);
    }

    #[test]
    fn a_pattern_rests_after_three_days_of_success_and_no_failure_since() {
        let check = |outcomes: &[(i32, Outcome)], rests| {
            let tries = outcomes.iter().map(|&(day, outcome)| closed(day, outcome));
            assert_eq!(
                PatternEvidence::new(tries).rests(Day(50)),
                rests,
                "{outcomes:?}"
            );
        };
        check(&[(1, Right), (2, Right), (3, Right)], true);
        check(&[(1, Right), (1, Right), (1, Right)], false);
        check(&[(1, Wrong), (2, Right), (3, Right), (4, Right)], true);
        check(&[(1, Right), (2, Right), (3, Right), (4, Wrong)], false);
        check(&[(1, Right), (2, Right), (3, Partly), (4, Right)], true);
    }
}
