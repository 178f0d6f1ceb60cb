//! Finding a good schedule: the block with the best gain per minute is added again and again,
//! wherever in the days left it fits; blocks are moved and exchanged as long as that gains; then
//! parts of the schedule are taken out and filled again in other ways (the "ruin and recreate"
//! principle of Schrimpf, Schneider, Stamm-Wilbrandt and Dueck 2000), and the best is kept. When they
//! are filled again, a minute of a day on which time is short costs more than one of another day:
//! gain per minute alone puts early what would gain nearly as much later.
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
const RECREATED: u64 = 250_000;
/// How many rounds of it there are at most, and how many more for each pattern.
const ROUNDS: (usize, usize) = (100, 30);
/// Its temperature at first and at last, as a part of what a block gains on average.
const HEAT: (f64, f64) = (0.1, 0.01);
/// After how many rounds of it the days are priced anew.
const PRICED_ANEW: usize = 50;
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
        let (factors, prices) = (vec![1.0; self.tasks.len()], vec![0.0; self.left.len()]);
        self.add_by(&factors, &prices);
    }

    /// As [`Search::add_greedily`], with each pattern's gain multiplied by its factor, and less the
    /// price of a minute of the day.
    fn add_by(&mut self, factors: &[f64], prices: &[f64]) {
        let mut open = self.open_days();
        // The best addition of each pattern stays the best as long as it fits: others can but
        // cease to fit.
        let mut offers: Vec<Option<(f64, Offset)>> = (0..self.tasks.len())
            .map(|at| self.offer(at, factors[at], prices, &open))
            .collect();
        loop {
            let mut best: Option<(f64, usize, Offset)> = None;
            for (at, &factor) in factors.iter().enumerate() {
                let beats = |offer: Option<(f64, Offset)>| {
                    offer.filter(|(rate, _)| best.is_none_or(|(most, ..)| *rate > most))
                };
                let Some((mut rate, mut day)) = beats(offers[at]) else {
                    continue;
                };
                if !self.fits(at, day) {
                    offers[at] = self.offer(at, factor, prices, &open);
                    match beats(offers[at]) {
                        Some(next) => (rate, day) = next,
                        None => continue,
                    }
                }
                best = Some((rate, at, day));
            }
            let Some((_, task, day)) = best else { return };
            let relearn = self.schedules[task].relearn;
            let days = with(&self.schedules[task].practice, day);
            if !self.change(&[(task, days)]) {
                // `offer` offers only what fits.
                return;
            }
            let moved = relearn.is_some() && relearn != self.schedules[task].relearn;
            open = self.open_days();
            for (at, &factor) in factors.iter().enumerate() {
                // Relearning that moves makes room where it was.
                if at == task || moved {
                    offers[at] = self.offer(at, factor, prices, &open);
                }
            }
        }
    }

    /// The days that have room for some block.
    fn open_days(&self) -> Vec<Offset> {
        let shortest = self.tasks.iter().map(|task| task.block).min();
        let has_room = |day: &Offset| shortest.is_some_and(|block| self.left[*day] >= block);
        (0..self.left.len()).filter(has_room).collect()
    }

    /// The addition to a pattern on one of the open days that gains the most per minute, if any fits
    /// and gains.
    fn offer(
        &mut self,
        at: usize,
        factor: f64,
        prices: &[f64],
        open: &[Offset],
    ) -> Option<(f64, Offset)> {
        let task = &self.tasks[at];
        let first = self.schedules[at].practice.is_empty();
        let relearn = if first { task.relearn } else { 0 };
        let minutes = f64::from(task.block.saturating_add(relearn));
        let mut best: Option<(f64, Offset)> = None;
        for &day in open {
            if self.left[day] < task.block {
                continue;
            }
            let gain = self.gain(at, day);
            let rate = gain * factor / minutes - prices[day];
            let better = best.is_none_or(|(most, _)| rate > most);
            if gain > NEGLIGIBLE && better && self.fits(at, day) {
                best = Some((rate, day));
            }
        }
        best
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
            let outlook = &self.tasks[at].outlook;
            outlook.value_with(self.fading, practice, day) - self.values[at]
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

    /// Takes out parts of the schedule and fills them again in other ways. What is worse is kept,
    /// too, the less of it and the more seldom the longer it goes on (simulated annealing,
    /// Kirkpatrick, Gelatt and Vecchi 1983); the best of all is what stays.
    pub(super) fn ruin_and_recreate(&mut self) {
        self.keep();
        let mut random = SplitMix64::new(0);
        let mut value: f64 = self.values.iter().sum();
        let mut best = (value, self.schedules.clone());
        let blocks: usize = self.schedules.iter().map(|s| s.practice.len()).sum();
        let nothing = |task: &Task| task.outlook.value(self.fading, &[]);
        let gained = value - self.tasks.iter().map(nothing).sum::<f64>();
        let block = gained.max(0.0) / blocks.max(1) as f64;
        let most_rounds = ROUNDS.0 + ROUNDS.1 * self.tasks.len();
        let started = self.evaluations;
        let mut prices = Vec::new();
        for round in 0..most_rounds {
            // Rounds that change nothing count too.
            self.evaluations += 1 + self.tasks.len() as u64;
            let spent = (self.evaluations - started) as f64 / RECREATED as f64;
            let done = spent.max(round as f64 / most_rounds as f64);
            if done >= 1.0 {
                break;
            }
            if round % PRICED_ANEW == 0 {
                prices = self.prices();
            }
            self.ruin(&mut random);
            let mut factor = || 1.0 + NOISE * random.unit();
            let factors: Vec<f64> = self.tasks.iter().map(|_| factor()).collect();
            let share = random.unit();
            let charged: Vec<f64> = prices.iter().map(|price| share * price).collect();
            self.add_by(&factors, &charged);
            let then: f64 = self.values.iter().sum();
            let temperature = block * HEAT.0 * libm::pow(HEAT.1 / HEAT.0, done);
            if then >= value + temperature * libm::log(1.0 - random.unit()) {
                value = then;
                self.keep();
                if value > best.0 + NEGLIGIBLE {
                    best = (value, self.schedules.clone());
                }
            } else {
                self.undo();
            }
        }
        self.replace_all(best.1);
    }

    /// What a minute of each day is worth: the gain per minute of its block that gains the least. It
    /// keeps blocks off days on which others gain more.
    fn prices(&mut self) -> Vec<f64> {
        let mut prices = vec![f64::INFINITY; self.left.len()];
        for (at, task) in self.tasks.iter().enumerate() {
            for i in 0..self.schedules[at].practice.len() {
                let practice = &self.schedules[at].practice;
                let day = practice[i];
                let rest = without(practice, day);
                let loss = self.values[at] - self.value(at, &rest);
                prices[day] = prices[day].min(loss / f64::from(task.block));
            }
        }
        // Nobody wants a minute of the other days.
        let price = |price: f64| {
            if price.is_finite() {
                price.max(0.0)
            } else {
                0.0
            }
        };
        prices.into_iter().map(price).collect()
    }

    /// Replaces the whole schedule by one that fits.
    fn replace_all(&mut self, schedules: Vec<Schedule>) {
        for (task, schedule) in std::mem::take(&mut self.schedules).iter().enumerate() {
            self.free(task, schedule);
        }
        self.schedules = schedules;
        for task in 0..self.tasks.len() {
            let schedule = self.schedules[task].clone();
            self.take(task, &schedule);
            self.refresh(task);
        }
        self.keep();
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
