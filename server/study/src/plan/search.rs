//! Finding a good schedule: the block with the best gain per minute is added again and again,
//! wherever in the days left it fits; blocks are moved and exchanged as long as that gains; then
//! parts of the schedule are taken out and filled again in other ways (the "ruin and recreate"
//! principle of Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000), and the better is kept.
//!
//! The patterns share nothing but the minutes of each day, so that a change of one schedule needs
//! only that pattern's gains again.

use super::outlook::{Fading, Offset, Outlook};
use crate::random::SplitMix64;
use std::collections::BTreeSet;

/// Changes of the value below this are rounding.
const NEGLIGIBLE: f64 = 1e-10;
/// How many schedules moving and exchanging may evaluate: a bound on its time that does not
/// depend on the machine.
const EVALUATIONS: u64 = 1_000_000;
/// How many more schedules ruin and recreate may evaluate.
const RECREATED: u64 = 120_000;
/// How many rounds of it in a row may gain nothing, and how many more for each pattern.
const VAIN_ROUNDS: (usize, usize) = (100, 10);
/// How far a pattern's gain per minute is falsely raised, at most, when a part is filled again.
const NOISE: f64 = 0.3;

/// What the search knows of a pattern.
pub(super) struct Task {
    pub(super) outlook: Outlook,
    /// Minutes of a practice block, at least 1.
    pub(super) block: u32,
    /// Minutes of relearning before the first block; 0 for none.
    pub(super) relearn: u32,
    /// The first day on which it may be practised.
    pub(super) from: Offset,
    /// The end of the days on which it may be practised (not included).
    pub(super) until: Offset,
}

/// The days on which a pattern is practised.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Schedule {
    /// Ascending.
    pub(super) practice: Vec<Offset>,
    /// The day on which it is relearned, not after the first practice; `None` when there is no
    /// practice, or nothing to relearn.
    pub(super) relearn: Option<Offset>,
}

/// A schedule for every pattern that keeps to the minutes of each day.
pub(super) struct Search<'a> {
    tasks: &'a [Task],
    fading: &'a Fading,
    left: Vec<u32>,
    schedules: Vec<Schedule>,
    values: Vec<f64>,
    /// At `[task][day]`, what a further block is worth, once it is known.
    gains: Vec<Vec<Option<f64>>>,
    evaluations: u64,
    /// What changes replaced since the last [`Search::keep`].
    replaced: Vec<Replaced>,
}

/// The state of a pattern before a change.
struct Replaced {
    task: usize,
    schedule: Schedule,
    value: f64,
    gains: Vec<Option<f64>>,
}

impl<'a> Search<'a> {
    /// Nothing scheduled yet.
    pub(super) fn new(tasks: &'a [Task], fading: &'a Fading, minutes: Vec<u32>) -> Search<'a> {
        let values = tasks
            .iter()
            .map(|task| task.outlook.value(fading, &[]))
            .collect();
        let mut search = Search {
            tasks,
            fading,
            left: minutes,
            schedules: vec![Schedule::default(); tasks.len()],
            values,
            gains: vec![Vec::new(); tasks.len()],
            evaluations: 0,
            replaced: Vec::new(),
        };
        for task in 0..tasks.len() {
            search.refresh(task);
        }
        search
    }

    /// The schedules found.
    pub(super) fn into_schedules(self) -> Vec<Schedule> {
        self.schedules
    }

    /// Adds the block with the most gain per minute until nothing more fits or gains.
    pub(super) fn add_greedily(&mut self) {
        self.add_by(&vec![1.0; self.tasks.len()]);
    }

    /// As [`Search::add_greedily`], with each pattern's gain multiplied by its factor.
    fn add_by(&mut self, factors: &[f64]) {
        while let Some((task, day)) = self.best_addition(factors) {
            let days = with(&self.schedules[task].practice, day);
            if !self.change(&[(task, days)]) {
                // `best_addition` offers only what fits.
                break;
            }
        }
    }

    fn best_addition(&mut self, factors: &[f64]) -> Option<(usize, Offset)> {
        let shortest = self.tasks.iter().map(|task| task.block).min()?;
        let open: Vec<Offset> = (0..self.left.len())
            .filter(|&day| self.left[day] >= shortest)
            .collect();
        let mut best: Option<(f64, usize, Offset)> = None;
        for (at, task) in self.tasks.iter().enumerate() {
            let first = self.schedules[at].practice.is_empty();
            let minutes = task
                .block
                .saturating_add(if first { task.relearn } else { 0 });
            for &day in &open {
                if self.left[day] < task.block {
                    continue;
                }
                let gain = self.gain(at, day);
                let rate = gain * factors[at] / f64::from(minutes);
                let better = best.is_none_or(|(most, ..)| rate > most);
                if gain > NEGLIGIBLE && better && self.fits(at, day) {
                    best = Some((rate, at, day));
                }
            }
        }
        best.map(|(_, task, day)| (task, day))
    }

    /// Whether one more block fits on the day, with the relearning it needs.
    fn fits(&self, at: usize, day: Offset) -> bool {
        let (task, schedule) = (&self.tasks[at], &self.schedules[at]);
        if self.left[day] < task.block {
            return false;
        }
        match schedule.relearn {
            _ if task.relearn == 0 => true,
            Some(relearn) if relearn <= day => true,
            // The relearning has to come before the new first block.
            _ => self.relearning_day(task, day, day, task.block).is_some(),
        }
    }

    /// The last day up to `until` that has room for the relearning, when `taken` minutes of
    /// `taken_on` are needed for a block.
    fn relearning_day(
        &self,
        task: &Task,
        until: Offset,
        taken_on: Offset,
        taken: u32,
    ) -> Option<Offset> {
        (0..=until).rev().find(|&day| {
            let taken = if day == taken_on { taken } else { 0 };
            self.left[day] >= task.relearn.saturating_add(taken)
        })
    }

    /// Replaces schedules of practice days, if they fit together, and says whether they did.
    fn change(&mut self, changes: &[(usize, Vec<Offset>)]) -> bool {
        let before: Vec<Schedule> = changes
            .iter()
            .map(|&(task, _)| self.schedules[task].clone())
            .collect();
        for (&(task, _), schedule) in changes.iter().zip(&before) {
            self.free(task, schedule);
        }
        let mut done: Vec<(usize, Schedule)> = Vec::new();
        for (task, practice) in changes {
            match self.occupy(*task, practice) {
                Some(schedule) => done.push((*task, schedule)),
                None => break,
            }
        }
        if done.len() == changes.len() {
            for (task, schedule) in done {
                self.replaced.push(Replaced {
                    task,
                    schedule: std::mem::replace(&mut self.schedules[task], schedule),
                    value: self.values[task],
                    gains: std::mem::take(&mut self.gains[task]),
                });
                self.refresh(task);
            }
            return true;
        }
        for (task, schedule) in done {
            self.free(task, &schedule);
        }
        for (&(task, _), schedule) in changes.iter().zip(&before) {
            self.take(task, schedule);
        }
        false
    }

    /// Takes the minutes of a schedule, and nothing when it does not fit.
    fn occupy(&mut self, at: usize, practice: &[Offset]) -> Option<Schedule> {
        let task = &self.tasks[at];
        if practice.iter().any(|&day| self.left[day] < task.block) {
            return None;
        }
        let mut schedule = Schedule {
            practice: practice.to_vec(),
            relearn: None,
        };
        self.take(at, &schedule);
        if let Some(&first) = practice.first()
            && task.relearn > 0
        {
            match self.relearning_day(task, first, first, 0) {
                Some(day) => {
                    self.left[day] -= task.relearn;
                    schedule.relearn = Some(day);
                }
                None => {
                    self.free(at, &schedule);
                    return None;
                }
            }
        }
        Some(schedule)
    }

    fn take(&mut self, at: usize, schedule: &Schedule) {
        for &day in &schedule.practice {
            self.left[day] -= self.tasks[at].block;
        }
        if let Some(day) = schedule.relearn {
            self.left[day] -= self.tasks[at].relearn;
        }
    }

    fn free(&mut self, at: usize, schedule: &Schedule) {
        for &day in &schedule.practice {
            self.left[day] += self.tasks[at].block;
        }
        if let Some(day) = schedule.relearn {
            self.left[day] += self.tasks[at].relearn;
        }
    }

    /// Computes the value of a pattern again, and forgets its gains.
    fn refresh(&mut self, at: usize) {
        let practice = &self.schedules[at].practice;
        self.values[at] = self.tasks[at].outlook.value(self.fading, practice);
        self.gains[at] = vec![None; self.left.len()];
        self.evaluations += 1;
    }

    /// What a further block of a pattern on a day is worth; 0 where there cannot be one.
    fn gain(&mut self, at: usize, day: Offset) -> f64 {
        if let Some(known) = self.gains[at][day] {
            return known;
        }
        let practice = &self.schedules[at].practice;
        let gain = if self.may_practise(at, day) && !practice.contains(&day) {
            self.evaluations += 1;
            let more = with(practice, day);
            self.tasks[at].outlook.value(self.fading, &more) - self.values[at]
        } else {
            0.0
        };
        self.gains[at][day] = Some(gain);
        gain
    }

    fn value(&mut self, at: usize, practice: &[Offset]) -> f64 {
        self.evaluations += 1;
        self.tasks[at].outlook.value(self.fading, practice)
    }

    /// Moves and exchanges blocks until nothing gains any more, or the evaluations are spent.
    pub(super) fn improve(&mut self) {
        loop {
            let mut better = self.shift();
            better |= self.replace();
            better |= self.exchange();
            better |= self.replace_two();
            better |= self.start_with_two();
            self.add_greedily();
            if !better || self.evaluations > EVALUATIONS {
                return;
            }
        }
    }

    /// Takes out parts of the schedule and fills them again in other ways, keeping what is better.
    pub(super) fn ruin_and_recreate(&mut self) {
        let mut random = SplitMix64::new(0);
        let budget = self.evaluations + RECREATED;
        self.keep();
        let mut value: f64 = self.values.iter().sum();
        let patience = VAIN_ROUNDS.0 + VAIN_ROUNDS.1 * self.tasks.len();
        let mut vain = 0;
        while self.evaluations < budget && vain < patience {
            // Rounds that change nothing count too.
            self.evaluations += 1 + self.tasks.len() as u64;
            self.ruin(&mut random);
            let factors: Vec<f64> = self
                .tasks
                .iter()
                .map(|_| 1.0 + NOISE * random.unit())
                .collect();
            self.add_by(&factors);
            let then: f64 = self.values.iter().sum();
            if then > value + NEGLIGIBLE {
                (value, vain) = (then, 0);
                self.keep();
            } else {
                vain += 1;
                self.undo();
            }
        }
    }

    /// Takes out the blocks of one or two days, or all blocks of a few patterns.
    fn ruin(&mut self, random: &mut SplitMix64) {
        if self.left.is_empty() || self.tasks.is_empty() {
            return;
        }
        if random.below(2) == 0 {
            let first = random.below(self.left.len());
            let second = random.below(self.left.len());
            for task in 0..self.tasks.len() {
                let practice = &self.schedules[task].practice;
                if practice.contains(&first) || practice.contains(&second) {
                    let rest = without(&without(practice, first), second);
                    self.change(&[(task, rest)]);
                }
            }
        } else {
            for _ in 0..2 + random.below(4) {
                let task = random.below(self.tasks.len());
                if !self.schedules[task].practice.is_empty() {
                    self.change(&[(task, Vec::new())]);
                }
            }
        }
    }

    /// Keeps all changes up to now.
    fn keep(&mut self) {
        self.replaced.clear();
    }

    /// Takes back all changes since the last [`Search::keep`].
    fn undo(&mut self) {
        let replaced = std::mem::take(&mut self.replaced);
        let touched: BTreeSet<usize> = replaced.iter().map(|before| before.task).collect();
        // All minutes are freed before any are taken again: the schedules of one change fit only
        // together.
        for &task in &touched {
            let schedule = std::mem::take(&mut self.schedules[task]);
            self.free(task, &schedule);
        }
        for before in replaced.into_iter().rev() {
            self.schedules[before.task] = before.schedule;
            self.values[before.task] = before.value;
            self.gains[before.task] = before.gains;
        }
        for &task in &touched {
            let schedule = self.schedules[task].clone();
            self.take(task, &schedule);
        }
    }

    /// Moves single blocks to other days.
    fn shift(&mut self) -> bool {
        let mut better = false;
        for at in 0..self.tasks.len() {
            let mut from = 0;
            while from < self.schedules[at].practice.len() && self.evaluations <= EVALUATIONS {
                let practice = &self.schedules[at].practice;
                let rest = without(practice, practice[from]);
                let mut best: Option<(f64, Vec<Offset>)> = None;
                for day in self.tasks[at].from..self.tasks[at].until {
                    if self.left[day] < self.tasks[at].block || rest.contains(&day) {
                        continue;
                    }
                    let days = with(&rest, day);
                    let value = self.value(at, &days);
                    if value > best.as_ref().map_or(self.values[at], |(v, _)| *v) + NEGLIGIBLE {
                        best = Some((value, days));
                    }
                }
                let changed = best.is_some_and(|(_, days)| self.change(&[(at, days)]));
                if changed { better = true } else { from += 1 }
            }
        }
        better
    }

    /// Replaces a block by a block of another pattern on the same day, and fills what is then
    /// left of the day.
    fn replace(&mut self) -> bool {
        let mut better = false;
        for at in 0..self.tasks.len() {
            let mut from = 0;
            while from < self.schedules[at].practice.len() && self.evaluations <= EVALUATIONS {
                let day = self.schedules[at].practice[from];
                if self.replace_one(at, day) {
                    better = true
                } else {
                    from += 1
                }
            }
        }
        better
    }

    fn replace_one(&mut self, at: usize, day: Offset) -> bool {
        let rest = without(&self.schedules[at].practice, day);
        let loss = self.values[at] - self.value(at, &rest);
        let room = self.left[day] + self.tasks[at].block;
        let mut offers: Vec<(f64, usize)> = (0..self.tasks.len())
            .filter(|&other| other != at && self.tasks[other].block <= room)
            .map(|other| (self.gain(other, day), other))
            .filter(|&(gain, _)| gain > NEGLIGIBLE)
            .collect();
        offers.sort_by(|a, b| b.0.total_cmp(&a.0));
        let worth = |gain: f64| gain > loss + NEGLIGIBLE;
        for &(gain, other) in offers.iter().take_while(|(gain, _)| worth(*gain)) {
            debug_assert!(gain > loss);
            let days = with(&self.schedules[other].practice, day);
            if self.change(&[(at, rest.clone()), (other, days)]) {
                return true;
            }
        }
        // One long block for two short ones.
        for (one, &(gain, first)) in offers.iter().enumerate() {
            for &(more, second) in &offers[one + 1..] {
                if !worth(gain + more) {
                    break;
                }
                if self.tasks[first].block + self.tasks[second].block > room {
                    continue;
                }
                let days = |search: &Self, t: usize| with(&search.schedules[t].practice, day);
                let (first_days, second_days) = (days(self, first), days(self, second));
                let changes = [
                    (at, rest.clone()),
                    (first, first_days),
                    (second, second_days),
                ];
                if self.change(&changes) {
                    return true;
                }
            }
        }
        false
    }

    /// Two patterns exchange the days of a block.
    fn exchange(&mut self) -> bool {
        let mut better = false;
        for a in 0..self.tasks.len() {
            for b in a + 1..self.tasks.len() {
                while self.evaluations <= EVALUATIONS && self.exchange_between(a, b) {
                    better = true;
                }
            }
        }
        better
    }

    fn exchange_between(&mut self, a: usize, b: usize) -> bool {
        let (of_a, of_b) = (&self.schedules[a].practice, &self.schedules[b].practice);
        let pairs: Vec<(Offset, Offset)> = of_a
            .iter()
            .flat_map(|&x| of_b.iter().map(move |&y| (x, y)))
            .filter(|(x, y)| !of_a.contains(y) && !of_b.contains(x))
            .filter(|&(x, y)| self.may_practise(a, y) && self.may_practise(b, x))
            .filter(|&(x, y)| {
                self.left[x] + self.tasks[a].block >= self.tasks[b].block
                    && self.left[y] + self.tasks[b].block >= self.tasks[a].block
            })
            .collect();
        for (x, y) in pairs {
            let days_a = with(&without(&self.schedules[a].practice, x), y);
            let days_b = with(&without(&self.schedules[b].practice, y), x);
            let now = self.values[a] + self.values[b];
            let then = self.value(a, &days_a) + self.value(b, &days_b);
            if then > now + NEGLIGIBLE && self.change(&[(a, days_a), (b, days_b)]) {
                return true;
            }
        }
        false
    }

    fn may_practise(&self, at: usize, day: Offset) -> bool {
        (self.tasks[at].from..self.tasks[at].until).contains(&day)
    }

    /// Replaces two blocks of a day by one block that is longer, or by the first block and the
    /// relearning of a pattern that was left out.
    fn replace_two(&mut self) -> bool {
        let mut better = false;
        for day in 0..self.left.len() {
            while self.evaluations <= EVALUATIONS && self.replace_two_on(day) {
                better = true;
            }
        }
        better
    }

    fn replace_two_on(&mut self, day: Offset) -> bool {
        let on_day: Vec<usize> = (0..self.tasks.len())
            .filter(|&at| self.schedules[at].practice.contains(&day))
            .collect();
        let mut losses = Vec::new();
        for &at in &on_day {
            let rest = without(&self.schedules[at].practice, day);
            losses.push(self.values[at] - self.value(at, &rest));
        }
        for (i, &a) in on_day.iter().enumerate() {
            for (j, &b) in on_day.iter().enumerate().skip(i + 1) {
                let room = self.left[day] + self.tasks[a].block + self.tasks[b].block;
                let loss = losses[i] + losses[j];
                let offer = (0..self.tasks.len())
                    .filter(|&other| other != a && other != b && self.tasks[other].block <= room)
                    .map(|other| (self.gain(other, day), other))
                    .filter(|&(gain, _)| gain > loss + NEGLIGIBLE)
                    .max_by(|x, y| x.0.total_cmp(&y.0));
                let Some((_, other)) = offer else { continue };
                let rest = |search: &Self, t: usize| without(&search.schedules[t].practice, day);
                let (rest_a, rest_b) = (rest(self, a), rest(self, b));
                let days = with(&self.schedules[other].practice, day);
                if self.change(&[(a, rest_a), (b, rest_b), (other, days)]) {
                    return true;
                }
            }
        }
        false
    }

    /// Starts patterns with two blocks at once. An untried pattern does not fade and a tried one
    /// does, so that one block long before an exam can be worth less than none, and two more.
    fn start_with_two(&mut self) -> bool {
        let mut better = false;
        for at in 0..self.tasks.len() {
            if !self.schedules[at].practice.is_empty() || self.evaluations > EVALUATIONS {
                continue;
            }
            let task = &self.tasks[at];
            let open: Vec<Offset> = (task.from..task.until)
                .filter(|&day| self.left[day] >= task.block)
                .collect();
            let mut best: Option<(f64, Vec<Offset>)> = None;
            for (i, &first) in open.iter().enumerate() {
                for &second in &open[i + 1..] {
                    let days = vec![first, second];
                    let value = self.value(at, &days);
                    if value > best.as_ref().map_or(self.values[at], |(v, _)| *v) + NEGLIGIBLE {
                        best = Some((value, days));
                    }
                }
            }
            better |= best.is_some_and(|(_, days)| self.change(&[(at, days)]));
        }
        better
    }
}

/// The days with `day` among them, ascending.
fn with(days: &[Offset], day: Offset) -> Vec<Offset> {
    let at = days.partition_point(|&d| d < day);
    let mut more = Vec::with_capacity(days.len() + 1);
    more.extend_from_slice(&days[..at]);
    more.push(day);
    more.extend_from_slice(&days[at..]);
    more
}

/// The days without `day`.
fn without(days: &[Offset], day: Offset) -> Vec<Offset> {
    days.iter().copied().filter(|&d| d != day).collect()
}
