//! What a schedule of practice days is worth for one pattern: the part of the plan's value that
//! does not depend on the other patterns.

use super::{FADING, Input, PRACTICE_REMOVES, Pattern, RELEARNING_REMOVES};
use crate::Day;

/// A day of the plan, counted from its first.
pub(super) type Offset = usize;

/// How odds fade, tabulated: (1 + gap)^(−0.15/√days).
pub(super) struct Fading {
    /// At `[days][gap]`; row 0 is not used.
    kept: Vec<Vec<f64>>,
}

impl Fading {
    /// For up to `most_days` days of practice and gaps of up to `longest_gap` days.
    pub(super) fn new(most_days: usize, longest_gap: usize) -> Fading {
        let row = |days: usize| {
            (0..=longest_gap)
                .map(|gap| kept(days as f64, gap as f64))
                .collect::<Vec<f64>>()
        };
        let rows = (1..=most_days).map(row);
        Fading {
            kept: std::iter::once(Vec::new()).chain(rows).collect(),
        }
    }
}

/// The part of the odds that is left `gap` days after the last of `days` days of practice.
fn kept(days: f64, gap: f64) -> f64 {
    libm::exp(-(FADING / days.sqrt()) * libm::log1p(gap))
}

/// What the exams give for one pattern, whatever its practice days.
pub(super) struct Outlook {
    /// The odds of a right answer on each day of the plan, without any practice.
    unpractised: Vec<f64>,
    /// Different days of practice before the plan.
    days: usize,
    relearns: bool,
    /// The exams: day and the pattern's weight, in the order of the exams.
    exams: Vec<(Offset, f64)>,
    /// Those that ask the pattern, by day.
    asked: Vec<(Offset, f64)>,
}

impl Outlook {
    /// `exam_days` are the days of the exams, in the order of `input.exams`; `None` for an exam
    /// that is over.
    pub(super) fn new(
        pattern: &Pattern,
        input: &Input,
        exam_days: &[Option<Offset>],
        last_day: Offset,
    ) -> Outlook {
        let mastery = pattern.mastery.clamp(1e-9, 1.0 - 1e-9);
        let odds = mastery / (1.0 - mastery);
        let gap = |offset: Offset| {
            let today = Day(input.first.0.saturating_add_unsigned(offset as u32));
            pattern.last.map_or(0, |last| today.since(last)).max(0) as f64
        };
        let unpractised = (0..=last_day)
            .map(|offset| match (pattern.days, pattern.last) {
                (1.., Some(_)) => odds * kept(f64::from(pattern.days), gap(offset)),
                _ => odds,
            })
            .collect();
        let weight = |exam: &super::Exam| {
            let share = exam.shares.get(&pattern.pattern).copied().unwrap_or(0.0);
            let weight = exam.weight * share;
            if weight.is_finite() {
                weight.max(0.0)
            } else {
                0.0
            }
        };
        let exams: Vec<(Offset, f64)> = input
            .exams
            .iter()
            .zip(exam_days)
            .map(|(exam, day)| day.map_or((0, 0.0), |day| (day, weight(exam))))
            .collect();
        let mut asked = exams.clone();
        asked.retain(|&(_, weight)| weight > 0.0);
        asked.sort_by_key(|&(day, _)| day);
        let days = match pattern.last {
            None => 0,
            Some(_) => (pattern.days as usize).min(MOST_DAYS_OF_PRACTICE),
        };
        Outlook {
            unpractised,
            days,
            relearns: pattern.relearn.is_some(),
            exams,
            asked,
        }
    }

    /// Different days of practice before the plan.
    pub(super) fn days(&self) -> usize {
        self.days
    }

    /// Whether some exam asks the pattern after the first day of the plan.
    pub(super) fn is_asked(&self) -> bool {
        self.exams
            .iter()
            .any(|&(day, weight)| weight > 0.0 && day > 0)
    }

    /// The last day of practice that still counts for an exam, if there is one.
    pub(super) fn last_useful_day(&self) -> Option<Offset> {
        let asked = self.exams.iter().filter(|(_, weight)| *weight > 0.0);
        asked.filter_map(|&(day, _)| day.checked_sub(1)).max()
    }

    /// The weight of the pattern in each exam, in the order of the exams.
    pub(super) fn weights(&self) -> impl Iterator<Item = f64> + '_ {
        self.exams.iter().map(|&(_, weight)| weight)
    }

    /// The mastery on the day of each exam, in the order of the exams, with practice on these
    /// days (ascending); `relearned` unless what was never learned stays so.
    pub(super) fn masteries<'a>(
        &'a self,
        fading: &'a Fading,
        practice: &'a [Offset],
        relearned: bool,
    ) -> impl Iterator<Item = f64> + 'a {
        self.exams.iter().map(move |&(exam, _)| {
            let odds = self.odds(fading, practice, exam, relearned);
            odds / (1.0 + odds)
        })
    }

    fn odds(&self, fading: &Fading, practice: &[Offset], on: Offset, relearned: bool) -> f64 {
        let mut state: Option<Practised> = None;
        for &day in practice.iter().take_while(|&&day| day < on) {
            state = Some(self.practise(fading, state, day, relearned));
        }
        self.later(fading, state, on)
    }

    /// The weighted sum over the exams of the mastery with practice on these days (ascending).
    pub(super) fn value(&self, fading: &Fading, practice: &[Offset]) -> f64 {
        self.value_if(fading, practice.iter().copied(), true)
    }

    /// As [`Outlook::value`], with practice on one day more.
    pub(super) fn value_with(&self, fading: &Fading, practice: &[Offset], more: Offset) -> f64 {
        let at = practice.partition_point(|&day| day < more);
        let (before, after) = practice.split_at(at);
        let days = before.iter().chain(std::iter::once(&more)).chain(after);
        self.value_if(fading, days.copied(), true)
    }

    /// As [`Outlook::value`], were the pattern practised without being relearned.
    pub(super) fn value_without_relearning(&self, fading: &Fading, practice: &[Offset]) -> f64 {
        self.value_if(fading, practice.iter().copied(), false)
    }

    fn value_if(
        &self,
        fading: &Fading,
        practice: impl Iterator<Item = Offset>,
        relearned: bool,
    ) -> f64 {
        let mut practice = practice.peekable();
        let mut state: Option<Practised> = None;
        let mut value = 0.0;
        for &(exam, weight) in &self.asked {
            while let Some(day) = practice.next_if(|&day| day < exam) {
                state = Some(self.practise(fading, state, day, relearned));
            }
            let odds = self.later(fading, state, exam);
            value += weight * odds / (1.0 + odds);
        }
        value
    }

    /// A practice block: 1 − m falls by the part that practice removes, and by the part that
    /// relearning removes when it is the first block of a pattern that has to be relearned.
    fn practise(
        &self,
        fading: &Fading,
        before: Option<Practised>,
        day: Offset,
        relearned: bool,
    ) -> Practised {
        let relearns = relearned && self.relearns && before.is_none();
        let removed = if relearns {
            1.0 - RELEARNING_REMOVES
        } else {
            1.0
        };
        // With odds o, 1 − m is 1/(1 + o).
        let missing = (1.0 - PRACTICE_REMOVES) * removed;
        Practised {
            odds: (1.0 + self.later(fading, before, day)) / missing - 1.0,
            days: before.map_or(self.days, |before| before.days) + 1,
            last: day,
        }
    }

    fn later(&self, fading: &Fading, state: Option<Practised>, day: Offset) -> f64 {
        match state {
            None => self.unpractised[day],
            Some(state) => state.odds * fading.kept[state.days][day - state.last],
        }
    }
}

/// Beyond this many days of practice the odds hardly fade any more slowly.
pub(super) const MOST_DAYS_OF_PRACTICE: usize = 400;

#[derive(Clone, Copy)]
struct Practised {
    odds: f64,
    days: usize,
    last: Offset,
}
