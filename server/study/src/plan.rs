//! The plan of the days left: which patterns to practise on which day, so that the expected scores
//! of the coming exams, by weight, become as large as the minutes allow.
//!
//! The model assumes that a practice block takes [`PRACTICE_REMOVES`] of what is missing to full
//! mastery, that relearning what was never learned takes [`RELEARNING_REMOVES`] of it once, and
//! that the odds fade in between as in [`crate::mastery`]. These are assumptions about the future,
//! and the output is to say so.

mod outlook;
mod search;

use crate::composition::Composition;
use crate::evidence::Evidence;
use crate::mastery::{FADING, Mastery, PATTERN_WEIGHT};
use crate::{Day, ExamId, Minutes, PatternId};
use outlook::{Fading, Offset, Outlook};
use search::{Schedule, Search, Task};
use std::collections::{BTreeMap, BTreeSet};

/// The part of 1 − mastery that a practice block is assumed to remove.
pub const PRACTICE_REMOVES: f64 = 0.15;
/// The part of 1 − mastery that relearning is assumed to remove, once.
pub const RELEARNING_REMOVES: f64 = 0.5;
/// The most days that are planned ahead.
pub const MOST_DAYS: usize = 200;

/// What to plan for.
#[derive(Clone, Debug, PartialEq)]
pub struct Input {
    /// The first day of the plan.
    pub first: Day,
    /// The minutes for study on that day and on each one after it.
    pub minutes: Vec<Minutes>,
    /// The coming exams. One on or before the first day cannot be prepared for any more.
    pub exams: Vec<Exam>,
    /// The patterns. Those that no exam asks are left out.
    pub patterns: Vec<Pattern>,
}

/// A coming exam.
#[derive(Clone, Debug, PartialEq)]
pub struct Exam {
    /// Which one.
    pub exam: ExamId,
    /// Its day; practice counts up to the day before.
    pub day: Day,
    /// What its whole score is worth, in any unit; below 0 or not finite counts as 0.
    pub weight: f64,
    /// The part of its score that each pattern makes up.
    pub shares: BTreeMap<PatternId, f64>,
}

impl Exam {
    /// The exam with the shares that its composition gives.
    #[must_use]
    pub fn new(exam: ExamId, day: Day, weight: f64, composition: &Composition) -> Exam {
        let questions = f64::from(composition.questions());
        let expected = composition.expected_questions();
        let shares = expected
            .into_iter()
            .map(|(p, n)| (p, n / questions))
            .collect();
        Exam {
            exam,
            day,
            weight,
            shares,
        }
    }
}

/// A pattern that can be practised.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pattern {
    /// Which one.
    pub pattern: PatternId,
    /// The mastery at the end of its last day of practice, before any fading; from 0 to 1.
    pub mastery: f64,
    /// Different days of practice up to now.
    pub days: u32,
    /// The last of them; `None` for an untried pattern, which does not fade. On the first day of the
    /// plan: nothing is planned for the pattern on that day any more.
    pub last: Option<Day>,
    /// The time of a practice block; 0 counts as 1.
    pub block: Minutes,
    /// The time of relearning, for a pattern of a topic that was not learned.
    pub relearn: Option<Minutes>,
    /// Whether it rests, and is not to be practised: after closed-notes success on three different
    /// days (Rawson and Dunlosky 2011).
    pub rests: bool,
}

impl Pattern {
    /// The pattern as its estimate on any day has it.
    #[must_use]
    pub fn new(
        pattern: PatternId,
        estimate: &Mastery,
        block: Minutes,
        relearn: Option<Minutes>,
    ) -> Pattern {
        let Evidence { success, .. } = estimate.evidence;
        let unfaded = (PATTERN_WEIGHT * estimate.prior + success) / estimate.concentration;
        Pattern {
            pattern,
            mastery: if estimate.last.is_some() {
                unfaded
            } else {
                estimate.mean
            },
            days: estimate.days,
            last: estimate.last,
            block,
            relearn,
            // A topic that has to be relearned is not known, whatever its exercises say.
            rests: estimate.rests && relearn.is_none(),
        }
    }
}

/// In which order to do things.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Order {
    /// Whatever gains the most.
    BestGain,
    /// Relearn everything that was not learned before anything is practised: the student's choice,
    /// and it costs [`Plan::value`] of the one plan less that of the other.
    RelearnFirst,
}

/// What to do on each day.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The days with a block, ascending.
    pub days: Vec<PlannedDay>,
    /// Each coming exam, in the order of the input.
    pub exams: Vec<Outcome>,
    /// The weighted sum of the expected scores, with the plan.
    pub value: f64,
    /// The same with no more practice at all.
    pub value_of_nothing: f64,
    /// Patterns that rest.
    pub resting: Vec<PatternId>,
    /// Asked patterns whose block, or relearning, is longer than the study time of any day left.
    pub too_long: Vec<PatternId>,
    /// Asked patterns for which no time is left.
    pub left_out: Vec<PatternId>,
    /// How many days with study time come after the first [`MOST_DAYS`] and before an exam: they
    /// are not planned yet.
    pub days_not_planned: usize,
}

/// The blocks of one day.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedDay {
    /// Which day.
    pub day: Day,
    /// What to do, relearning first, then the most gain per minute.
    pub blocks: Vec<Block>,
    /// Study time that is left.
    pub left: Minutes,
}

/// Some minutes on one pattern.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Block {
    /// The pattern.
    pub pattern: PatternId,
    /// What to do with it.
    pub activity: Activity,
    /// How long.
    pub minutes: Minutes,
    /// What the plan's value would lose without the block.
    pub gain: f64,
    /// The gain by the minute.
    pub gain_per_minute: f64,
    /// The exam that gains the most.
    pub exam: ExamId,
}

/// What to do in a block.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Activity {
    /// Learn what was not learned.
    Relearn,
    /// Work problems, notes closed.
    Practise,
}

/// What the plan does for an exam.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Outcome {
    /// Which exam.
    pub exam: ExamId,
    /// The expected score with no more practice, from 0 to the sum of the shares.
    pub without: f64,
    /// The expected score with the plan.
    pub with: f64,
}

/// Plans the days left: a lookahead greedy choice (the best gain per minute over all patterns and
/// days) and local search. The same input gives the same plan.
#[must_use]
pub fn plan(input: &Input, order: Order) -> Plan {
    let relearn_first = || Problem::new(input).relearn_first();
    if order == Order::RelearnFirst {
        return relearn_first();
    }
    let problem = Problem::new(input);
    let best = problem.finish(&problem.search());
    if problem.tasks.iter().all(|task| task.relearn == 0) {
        return best;
    }
    // The search is not exact, and may do better where it has less to choose from.
    let other = relearn_first();
    if other.value > best.value {
        other
    } else {
        best
    }
}

/// The input in the search's terms.
struct Problem<'a> {
    input: &'a Input,
    /// The patterns that can be practised, by number; `tasks` has the same order.
    patterns: Vec<&'a Pattern>,
    tasks: Vec<Task>,
    fading: Fading,
    /// Up to the day before the last exam.
    minutes: Vec<u32>,
    exam_days: Vec<Option<Offset>>,
    /// Asked patterns that are not in `patterns`: their outlook counts in the value.
    others: Vec<(&'a Pattern, Outlook)>,
    too_long: Vec<PatternId>,
    days_not_planned: usize,
}

impl<'a> Problem<'a> {
    fn new(input: &'a Input) -> Problem<'a> {
        // Beyond `MOST_DAYS` an exam counts as if it came right after the planned days.
        let offset = |exam: &Exam| usize::try_from(exam.day.since(input.first)).ok();
        let exam_days: Vec<Option<Offset>> = input
            .exams
            .iter()
            .map(|e| offset(e).map(|day| day.min(MOST_DAYS)))
            .collect();
        let last_exam = exam_days.iter().flatten().copied().max().unwrap_or(0);
        let horizon = last_exam.min(input.minutes.len());
        let minutes: Vec<u32> = input.minutes[..horizon]
            .iter()
            .map(|m| m.0.min(24 * 60))
            .collect();
        let last_offset = input.exams.iter().filter_map(offset).max().unwrap_or(0);
        let beyond = horizon..last_offset.min(input.minutes.len()).max(horizon);

        let mut by_number: Vec<&Pattern> = input.patterns.iter().collect();
        by_number.sort_by_key(|p| p.pattern);
        by_number.dedup_by_key(|p| p.pattern);
        let mut problem = Problem {
            input,
            patterns: Vec::new(),
            tasks: Vec::new(),
            fading: Fading::new(0, 0),
            days_not_planned: input.minutes[beyond].iter().filter(|m| m.0 > 0).count(),
            minutes,
            exam_days,
            others: Vec::new(),
            too_long: Vec::new(),
        };
        for pattern in by_number {
            let outlook = Outlook::new(pattern, input, &problem.exam_days, last_exam);
            problem.add(pattern, outlook);
        }
        let most_days = problem
            .tasks
            .iter()
            .map(|task| task.outlook.days())
            .max()
            .unwrap_or(0);
        problem.fading = Fading::new(most_days + horizon, last_exam);
        problem
    }

    fn add(&mut self, pattern: &'a Pattern, outlook: Outlook) {
        let task = Task {
            block: pattern.block.0.max(1),
            relearn: pattern.relearn.map_or(0, |minutes| minutes.0),
            // What was practised on the first day already has had its block.
            from: usize::from(pattern.last.is_some_and(|last| last >= self.input.first)),
            until: outlook
                .last_useful_day()
                .map_or(0, |day| day + 1)
                .min(self.minutes.len()),
            outlook,
        };
        let most = self.minutes[..task.until]
            .iter()
            .copied()
            .max()
            .unwrap_or(0);
        let too_long = task.until > 0 && task.block.max(task.relearn) > most && most > 0;
        if too_long && !pattern.rests {
            self.too_long.push(pattern.pattern);
        }
        if pattern.rests || too_long || !task.outlook.is_asked() {
            self.others.push((pattern, task.outlook));
        } else {
            self.patterns.push(pattern);
            self.tasks.push(task);
        }
    }

    /// A good schedule for every task.
    fn search(&self) -> Vec<Schedule> {
        let mut search = Search::new(&self.tasks, &self.fading, self.minutes.clone());
        search.add_greedily();
        search.improve();
        search.ruin_and_recreate();
        search.improve();
        search.into_schedules()
    }

    /// All relearning first, the one that gains the most by the minute foremost, each on the first
    /// day with room; practice from the day on which the last of it is done.
    fn relearn_first(mut self) -> Plan {
        let gain = |task: &Task| {
            let whole = |practice: &[Offset]| task.outlook.value(&self.fading, practice);
            let last = task.until.saturating_sub(1);
            (whole(&[last]) - whole(&[])) / f64::from(task.relearn.max(1))
        };
        let mut order: Vec<(usize, f64)> = self
            .tasks
            .iter()
            .enumerate()
            .filter(|(_, task)| task.relearn > 0 && task.until > 0)
            .map(|(at, task)| (at, gain(task)))
            .collect();
        order.sort_by(|a, b| b.1.total_cmp(&a.1));
        let mut relearned: BTreeMap<usize, Offset> = BTreeMap::new();
        for (at, _) in order {
            let task = &self.tasks[at];
            let room = |day: &Offset| self.minutes[*day] >= task.relearn;
            if let Some(day) = (0..task.until).find(room) {
                self.minutes[day] -= task.relearn;
                relearned.insert(at, day);
            }
        }
        let practice_from = relearned.values().copied().max().unwrap_or(0);
        for (at, task) in self.tasks.iter_mut().enumerate() {
            if task.relearn > 0 && !relearned.contains_key(&at) {
                // Without relearning there is no practice.
                task.until = 0;
            }
            task.relearn = 0;
            task.from = task.from.max(practice_from.min(task.until));
        }
        let mut schedules = self.search();
        for (&at, &day) in &relearned {
            schedules[at].relearn = Some(day);
            self.minutes[day] += self.patterns[at].relearn.map_or(0, |minutes| minutes.0);
        }
        self.finish(&schedules)
    }

    fn finish(&self, schedules: &[Schedule]) -> Plan {
        let mut left = self.minutes.clone();
        let mut blocks: BTreeMap<Offset, Vec<Block>> = BTreeMap::new();
        let mut left_out = Vec::new();
        for ((pattern, task), schedule) in self.patterns.iter().zip(&self.tasks).zip(schedules) {
            if schedule.practice.is_empty() {
                left_out.push(pattern.pattern);
            }
            for (day, block) in self.blocks(pattern, task, schedule) {
                left[day] -= block.minutes.0;
                blocks.entry(day).or_default().push(block);
            }
        }
        let days = blocks
            .into_iter()
            .map(|(offset, mut blocks)| {
                blocks.sort_by(|a, b| {
                    a.activity
                        .cmp(&b.activity)
                        .then(b.gain_per_minute.total_cmp(&a.gain_per_minute))
                        .then(a.pattern.cmp(&b.pattern))
                });
                let day = self
                    .input
                    .first
                    .plus(u32::try_from(offset).unwrap_or(u32::MAX));
                PlannedDay {
                    day,
                    blocks,
                    left: Minutes(left[offset]),
                }
            })
            .collect();
        let resting: BTreeSet<PatternId> = self
            .others
            .iter()
            .filter(|(p, _)| p.rests)
            .map(|(p, _)| p.pattern)
            .collect();
        Plan {
            days,
            exams: self.outcomes(schedules),
            value: self.value(schedules),
            value_of_nothing: self.value(&vec![Schedule::default(); schedules.len()]),
            resting: resting.into_iter().collect(),
            too_long: self.too_long.clone(),
            left_out,
            days_not_planned: self.days_not_planned,
        }
    }

    fn value(&self, schedules: &[Schedule]) -> f64 {
        let tasks = self.tasks.iter().zip(schedules);
        let planned: f64 = tasks
            .map(|(task, s)| task.outlook.value(&self.fading, &s.practice))
            .sum();
        let others: f64 = self
            .others
            .iter()
            .map(|(_, o)| o.value(&self.fading, &[]))
            .sum();
        planned + others
    }

    /// The blocks of a pattern with their days.
    fn blocks(&self, pattern: &Pattern, task: &Task, schedule: &Schedule) -> Vec<(Offset, Block)> {
        let value = |practice: &[Offset]| task.outlook.value(&self.fading, practice);
        let block = |activity, minutes: u32, gain: f64, other: &[Offset], relearned| Block {
            pattern: pattern.pattern,
            activity,
            minutes: Minutes(minutes),
            gain,
            gain_per_minute: gain / f64::from(minutes.max(1)),
            exam: self.gains_most(task, &schedule.practice, other, relearned),
        };
        let mut blocks = Vec::new();
        let whole = value(&schedule.practice);
        if let Some(day) = schedule.relearn {
            let gain = whole
                - task
                    .outlook
                    .value_without_relearning(&self.fading, &schedule.practice);
            let minutes = pattern.relearn.map_or(0, |minutes| minutes.0);
            blocks.push((
                day,
                block(Activity::Relearn, minutes, gain, &schedule.practice, false),
            ));
        }
        for &day in &schedule.practice {
            let rest: Vec<Offset> = schedule
                .practice
                .iter()
                .copied()
                .filter(|&d| d != day)
                .collect();
            let gain = whole - value(&rest);
            blocks.push((
                day,
                block(Activity::Practise, task.block, gain, &rest, true),
            ));
        }
        blocks
    }

    /// The exam that gains the most from `practice` over `other`.
    fn gains_most(
        &self,
        task: &Task,
        practice: &[Offset],
        other: &[Offset],
        relearned: bool,
    ) -> ExamId {
        let with = task.outlook.masteries(&self.fading, practice, true);
        let without = task.outlook.masteries(&self.fading, other, relearned);
        let gains = with.zip(without).map(|(with, without)| with - without);
        let weights = task.outlook.weights();
        let best = gains
            .zip(weights)
            .map(|(gain, weight)| gain * weight)
            .enumerate();
        let best = best.max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        self.input.exams[best.map_or(0, |(at, _)| at)].exam
    }

    fn outcomes(&self, schedules: &[Schedule]) -> Vec<Outcome> {
        let mut outcomes: Vec<Outcome> = self
            .input
            .exams
            .iter()
            .map(|exam| Outcome {
                exam: exam.exam,
                without: 0.0,
                with: 0.0,
            })
            .collect();
        let nothing = Schedule::default();
        let planned = self
            .patterns
            .iter()
            .copied()
            .zip(self.tasks.iter().map(|t| &t.outlook));
        let planned = planned.zip(schedules);
        let others = self
            .others
            .iter()
            .map(|(pattern, outlook)| ((*pattern, outlook), &nothing));
        for ((pattern, outlook), schedule) in planned.chain(others) {
            let without = outlook.masteries(&self.fading, &[], true);
            let with = outlook.masteries(&self.fading, &schedule.practice, true);
            let exams = self
                .input
                .exams
                .iter()
                .zip(&self.exam_days)
                .zip(&mut outcomes);
            for (((exam, day), outcome), (without, with)) in exams.zip(without.zip(with)) {
                let share = exam.shares.get(&pattern.pattern).copied().unwrap_or(0.0);
                if day.is_some() && share.is_finite() {
                    outcome.without += share.max(0.0) * without;
                    outcome.with += share.max(0.0) * with;
                }
            }
        }
        // An exam that is over has no expected score any more.
        outcomes
            .into_iter()
            .zip(&self.exam_days)
            .filter_map(|(outcome, day)| day.map(|_| outcome))
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;
    use serde_json::Value;

    fn near(found: f64, expected: f64) {
        assert!(
            (found - expected).abs() < 1e-9,
            "{found}, expected {expected}"
        );
    }

    /// The worked instance: 40-digit mpmath values, cross-checked with scipy; its optimum by
    /// trying every schedule.
    struct Worked {
        input: Input,
        vectors: Value,
    }

    impl Worked {
        fn new() -> Worked {
            let vectors: Value = serde_json::from_str(include_str!("../tests/data/vectors.json"))
                .expect("the vectors are JSON");
            let planner = vectors["planner"].clone();
            let whole = |value: &Value| i32::try_from(value.as_i64().expect("whole")).expect("i32");
            let minutes = |value: &Value| Minutes(whole(value).unsigned_abs());
            let list = |value: &Value| value.as_array().expect("a list").clone();
            let patterns: Vec<Value> = list(&planner["patterns"]);
            let number = |name: &Value| {
                let at = patterns
                    .iter()
                    .position(|p| p["name"] == *name)
                    .expect("a pattern");
                PatternId(u32::try_from(at).expect("few"))
            };
            let input = Input {
                first: Day(0),
                minutes: list(&planner["minutes"]).iter().map(minutes).collect(),
                exams: (0..)
                    .zip(list(&planner["exams"]))
                    .map(|(id, exam)| Exam {
                        exam: ExamId(id),
                        day: Day(whole(&exam["day"])),
                        weight: 1.0,
                        shares: exam["weight"]
                            .as_object()
                            .expect("weights")
                            .iter()
                            .map(|(p, w)| {
                                (number(&Value::from(p.as_str())), w.as_f64().expect("w"))
                            })
                            .collect(),
                    })
                    .collect(),
                patterns: patterns
                    .iter()
                    .map(|p| Pattern {
                        pattern: number(&p["name"]),
                        mastery: p["p"].as_f64().expect("a number"),
                        days: whole(&p["D"]).unsigned_abs(),
                        last: (p["never"] == false).then(|| Day(whole(&p["last"]))),
                        block: minutes(&p["cost"]),
                        relearn: Some(minutes(&p["relearn"])).filter(|m| m.0 > 0),
                        rests: false,
                    })
                    .collect(),
            };
            Worked {
                input,
                vectors: planner,
            }
        }

        fn number(&self, key: &str) -> f64 {
            self.vectors[key].as_f64().expect("a number")
        }

        /// The schedules under a key, relearning on the first day of practice.
        fn schedules(&self, key: &str) -> Vec<Schedule> {
            let days = self.vectors[key].as_object().expect("days by pattern");
            days.values()
                .zip(&self.input.patterns)
                .map(|(days, pattern)| {
                    let days = days.as_array().expect("days").iter();
                    let practice: Vec<Offset> = days
                        .map(|d| usize::try_from(d.as_u64().expect("a day")).expect("small"))
                        .collect();
                    let relearn = pattern.relearn.and(practice.first().copied());
                    Schedule { practice, relearn }
                })
                .collect()
        }
    }

    #[test]
    fn the_value_of_a_schedule_agrees_with_the_worked_instance() {
        let worked = Worked::new();
        let problem = Problem::new(&worked.input);
        near(
            problem.value(&vec![Schedule::default(); 4]),
            worked.number("value_nothing"),
        );
        near(
            problem.value(&worked.schedules("optimal_days")),
            worked.number("optimum"),
        );
        near(
            problem.value(&worked.schedules("greedy_days")),
            worked.number("greedy"),
        );
    }

    #[test]
    fn a_day_more_is_worth_the_same_as_the_whole_schedule() {
        let worked = Worked::new();
        let problem = Problem::new(&worked.input);
        for task in &problem.tasks {
            for more in 0..task.until {
                let others: Vec<Offset> = (0..task.until).filter(|d| (d + more) % 2 == 1).collect();
                let mut whole = others.clone();
                whole.push(more);
                whole.sort_unstable();
                let outlook = &task.outlook;
                let value = outlook.value(&problem.fading, &whole);
                near(outlook.value_with(&problem.fading, &others, more), value);
                let masteries = outlook.masteries(&problem.fading, &whole, true);
                near(
                    masteries.zip(outlook.weights()).map(|(m, w)| m * w).sum(),
                    value,
                );
            }
        }
    }

    #[test]
    fn the_gains_of_the_greedy_choice_agree_with_the_worked_instance() {
        let worked = Worked::new();
        let problem = Problem::new(&worked.input);
        let mut schedules = vec![Schedule::default(); 4];
        let trace = worked.vectors["greedy_trace"].as_array().expect("a trace");
        assert_eq!(trace.len(), 11);
        for choice in trace {
            let before = problem.value(&schedules);
            let name = choice["pattern"].as_str().expect("a name");
            let at = ["a", "b", "c", "d"]
                .iter()
                .position(|n| *n == name)
                .expect("a pattern");
            let day = usize::try_from(choice["day"].as_u64().expect("a day")).expect("small");
            schedules[at].practice.push(day);
            schedules[at].practice.sort_unstable();
            let gain = problem.value(&schedules) - before;
            near(gain, choice["gain"].as_f64().expect("a gain"));
        }
        // Relearning that may move to an earlier day makes the greedy choice better than there.
        let mut search = Search::new(&problem.tasks, &problem.fading, problem.minutes.clone());
        search.add_greedily();
        assert!(problem.value(&search.into_schedules()) >= worked.number("greedy"));
    }

    #[test]
    fn the_plan_of_the_worked_instance_is_near_its_optimum() {
        let worked = Worked::new();
        let optimum = exhaustive(&worked.input);
        // The optimum of the vectors has the relearning on the day of the first practice; free to
        // come earlier, it can only be better.
        assert!(optimum >= worked.number("optimum") - 1e-9);
        let found = plan(&worked.input, Order::BestGain);
        check_feasible(&worked.input, &found);
        assert!(found.value > worked.number("greedy"), "{}", found.value);
        assert!(found.value <= optimum + 1e-9);
        assert!(found.value > 0.98 * optimum, "{} of {optimum}", found.value);
        assert!(
            found.value >= worked.number("optimum") - 0.5,
            "{}",
            found.value
        );
    }

    /// The best value of all schedules, by trying them all: the test's oracle.
    fn exhaustive(input: &Input) -> f64 {
        let problem = Problem::new(input);
        let rest: f64 = problem
            .others
            .iter()
            .map(|(_, o)| o.value(&problem.fading, &[]))
            .sum();
        let options: Vec<Vec<(f64, Vec<u32>)>> = problem
            .tasks
            .iter()
            .map(|task| all_schedules(task, &problem))
            .collect();
        // The best that the remaining patterns could give, were there time for everything.
        let mut most = vec![0.0; options.len() + 1];
        for at in (0..options.len()).rev() {
            most[at] = most[at + 1] + options[at].first().map_or(0.0, |best| best.0);
        }
        let mut best = 0.0;
        search_all(
            &options,
            &most,
            0,
            0.0,
            &mut problem.minutes.clone(),
            &mut best,
        );
        best + rest
    }

    /// Every schedule of a pattern, as its value and the minutes it takes of each day, the most
    /// valuable first.
    fn all_schedules(task: &Task, problem: &Problem) -> Vec<(f64, Vec<u32>)> {
        let days = problem.minutes.len();
        let mut all = Vec::new();
        for chosen in 0u32..1 << task.until {
            let practice: Vec<Offset> = (0..task.until).filter(|d| chosen >> d & 1 == 1).collect();
            if practice.first().is_some_and(|&first| first < task.from) {
                continue;
            }
            let value = task.outlook.value(&problem.fading, &practice);
            let mut minutes = vec![0; days];
            practice.iter().for_each(|&day| minutes[day] += task.block);
            match practice.first() {
                Some(&first) if task.relearn > 0 => {
                    for relearn in 0..=first {
                        let mut minutes = minutes.clone();
                        minutes[relearn] += task.relearn;
                        all.push((value, minutes));
                    }
                }
                _ => all.push((value, minutes)),
            }
        }
        all.retain(|(_, needed)| needed.iter().zip(&problem.minutes).all(|(n, m)| n <= m));
        all.sort_by(|a, b| b.0.total_cmp(&a.0));
        all
    }

    fn search_all(
        options: &[Vec<(f64, Vec<u32>)>],
        most: &[f64],
        at: usize,
        value: f64,
        left: &mut Vec<u32>,
        best: &mut f64,
    ) {
        let Some(choices) = options.get(at) else {
            *best = best.max(value);
            return;
        };
        for (gain, needed) in choices {
            if value + gain + most[at + 1] <= *best {
                break;
            }
            if needed.iter().zip(&*left).all(|(n, l)| n <= l) {
                left.iter_mut().zip(needed).for_each(|(l, n)| *l -= n);
                search_all(options, most, at + 1, value + gain, left, best);
                left.iter_mut().zip(needed).for_each(|(l, n)| *l += n);
            }
        }
    }

    /// What every plan promises, and its value recomputed from the model's own words.
    fn check_feasible(input: &Input, plan: &Plan) {
        let mut practice: BTreeMap<PatternId, Vec<Day>> = BTreeMap::new();
        let mut relearned: BTreeMap<PatternId, Day> = BTreeMap::new();
        for day in &plan.days {
            let used: u32 = day.blocks.iter().map(|b| b.minutes.0).sum();
            let offset = usize::try_from(day.day.since(input.first)).expect("not before the first");
            assert_eq!(
                used + day.left.0,
                input.minutes[offset].0.min(1440),
                "{day:?}"
            );
            for block in &day.blocks {
                assert!(block.gain >= 0.0 && block.gain_per_minute.is_finite());
                match block.activity {
                    Activity::Practise => {
                        practice.entry(block.pattern).or_default().push(day.day);
                    }
                    Activity::Relearn => {
                        assert_eq!(relearned.insert(block.pattern, day.day), None);
                    }
                }
            }
        }
        let mut value = 0.0;
        for pattern in &input.patterns {
            let days = practice.get(&pattern.pattern).cloned().unwrap_or_default();
            assert!(
                days.windows(2).all(|pair| pair[0] < pair[1]),
                "twice on a day"
            );
            assert!(days.is_empty() || !pattern.rests);
            if let (Some(first), Some(minutes)) = (days.first(), pattern.relearn)
                && minutes.0 > 0
            {
                assert!(relearned[&pattern.pattern] <= *first);
            }
            for exam in input.exams.iter().filter(|exam| exam.day >= input.first) {
                let share = exam.shares.get(&pattern.pattern).copied().unwrap_or(0.0);
                value += exam.weight * share * mastery_on(pattern, &days, exam.day);
            }
        }
        assert!(
            (plan.value - value).abs() < 1e-6 * value.max(1.0),
            "{} {value}",
            plan.value
        );
    }

    /// The mastery with practice on these days, as the model words it.
    fn mastery_on(pattern: &Pattern, practice: &[Day], on: Day) -> f64 {
        let (mut m, mut days, mut last) = (
            pattern.mastery.clamp(1e-9, 1.0 - 1e-9),
            pattern.days,
            pattern.last,
        );
        let fade = |m: f64, days: u32, last: Option<Day>, on: Day| match last {
            Some(last) if days > 0 => {
                let gap = u32::try_from(on.since(last)).unwrap_or(0);
                crate::mastery::faded(m, days, gap)
            }
            _ => m,
        };
        for (at, &day) in practice.iter().filter(|&&day| day < on).enumerate() {
            m = fade(m, days, last, day);
            if at == 0 && pattern.relearn.is_some() {
                m = 1.0 - (1.0 - m) / 2.0;
            }
            m = 1.0 - (1.0 - m) * 0.85;
            (days, last) = (days + 1, Some(day));
        }
        fade(m, days, last, on)
    }

    fn any_input(patterns: usize, days: usize) -> impl Strategy<Value = Input> {
        let pattern = (
            0.0f64..=1.0,
            0u32..5,
            prop::option::weighted(0.8, -300i32..=0),
            0u32..25,
            prop::option::weighted(0.4, 0u32..40),
            prop::bool::weighted(0.1),
        );
        let pattern = pattern.prop_map(|(mastery, days, last, block, relearn, rests)| Pattern {
            pattern: PatternId(0),
            mastery,
            days: if last.is_some() { days.max(1) } else { 0 },
            last: last.map(Day),
            block: Minutes(block),
            relearn: relearn.map(Minutes),
            rests,
        });
        let shares = prop::collection::btree_map((0u32..6).prop_map(PatternId), 0.0f64..3.0, 0..5);
        let exam = (-1i32..9, 0.0f64..4.0, shares).prop_map(|(day, weight, shares)| Exam {
            exam: ExamId(0),
            day: Day(day),
            weight,
            shares,
        });
        let minutes = prop::collection::vec((0u32..50).prop_map(Minutes), 0..=days);
        let patterns = prop::collection::vec(pattern, 0..=patterns);
        (patterns, prop::collection::vec(exam, 0..4), minutes).prop_map(
            |(mut patterns, mut exams, minutes)| {
                (0..)
                    .zip(&mut patterns)
                    .for_each(|(id, p)| p.pattern = PatternId(id));
                (0..)
                    .zip(&mut exams)
                    .for_each(|(id, e)| e.exam = ExamId(id));
                Input {
                    first: Day(0),
                    minutes,
                    exams,
                    patterns,
                }
            },
        )
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(100))]

        #[test]
        fn a_plan_is_feasible_and_near_the_optimum(input in any_input(4, 4)) {
            let found = plan(&input, Order::BestGain);
            check_feasible(&input, &found);
            let optimum = exhaustive(&input);
            prop_assert!(found.value <= optimum + 1e-6);
            let (gain, possible) =
                (found.value - found.value_of_nothing, optimum - found.value_of_nothing);
            prop_assert!(gain >= 0.7 * possible - 1e-6, "{gain} of {possible}");
            let expected: f64 = input.exams.iter().filter(|e| e.day >= input.first)
                .zip(&found.exams).map(|(e, outcome)| e.weight * outcome.with).sum();
            prop_assert!((expected - found.value).abs() < 1e-6);
        }

        #[test]
        fn relearning_first_is_feasible_and_never_gains(input in any_input(6, 8)) {
            let best = plan(&input, Order::BestGain);
            let relearn_first = plan(&input, Order::RelearnFirst);
            check_feasible(&input, &relearn_first);
            let days = |activity| relearn_first.days.iter()
                .filter(move |d| d.blocks.iter().any(|b| b.activity == activity)).map(|d| d.day);
            if let (Some(relearned), Some(practised)) =
                (days(Activity::Relearn).max(), days(Activity::Practise).min()) {
                prop_assert!(relearned <= practised);
            }
            prop_assert!(relearn_first.value <= best.value);
        }

        #[test]
        fn the_order_of_the_patterns_is_irrelevant(input in any_input(6, 8), seed: u64) {
            let mut shuffled = input.clone();
            crate::random::SplitMix64::new(seed).shuffle(&mut shuffled.patterns);
            prop_assert_eq!(plan(&input, Order::BestGain), plan(&shuffled, Order::BestGain));
        }
    }

    fn pattern(id: u32, mastery: f64) -> Pattern {
        Pattern {
            pattern: PatternId(id),
            mastery,
            days: 1,
            last: Some(Day(-1)),
            block: Minutes(10),
            relearn: None,
            rests: false,
        }
    }

    fn one_exam(day: i32, minutes: &[u32], patterns: Vec<Pattern>) -> Input {
        let shares = patterns.iter().map(|p| (p.pattern, 1.0)).collect();
        let exam = Exam {
            exam: ExamId(5),
            day: Day(day),
            weight: 1.0,
            shares,
        };
        let minutes = minutes.iter().map(|&m| Minutes(m)).collect();
        Input {
            first: Day(0),
            minutes,
            exams: vec![exam],
            patterns,
        }
    }

    #[test]
    fn what_cannot_be_planned_is_named() {
        let patterns = vec![
            pattern(0, 0.5),
            Pattern {
                rests: true,
                ..pattern(1, 0.5)
            },
            Pattern {
                block: Minutes(31),
                ..pattern(2, 0.5)
            },
            Pattern {
                relearn: Some(Minutes(45)),
                ..pattern(3, 0.5)
            },
            pattern(4, 0.999),
        ];
        let mut input = one_exam(2, &[10, 10, 30], patterns);
        let found = plan(&input, Order::BestGain);
        assert_eq!(found.resting, [PatternId(1)]);
        assert_eq!(found.too_long, [PatternId(2), PatternId(3)]);
        assert_eq!(found.left_out, [PatternId(4)]);
        let on: Vec<(Day, usize)> = found.days.iter().map(|d| (d.day, d.blocks.len())).collect();
        // Nothing on the day of the exam.
        assert_eq!(on, [(Day(0), 1), (Day(1), 1)]);
        assert_eq!(found.days[0].blocks[0].exam, ExamId(5));

        input.minutes = vec![Minutes(60); 900];
        input.exams[0].day = Day(900);
        assert_eq!(
            plan(&input, Order::BestGain).days_not_planned,
            900 - MOST_DAYS
        );
        input.exams[0].day = Day(0);
        let over = plan(&input, Order::BestGain);
        assert_eq!((over.days.len(), over.exams.len()), (0, 1));
        near(over.value, over.value_of_nothing);
    }

    #[test]
    fn extremes_neither_overflow_nor_divide_by_zero() {
        let extreme = |id, mastery| Pattern {
            block: Minutes(u32::MAX * id),
            relearn: Some(Minutes(u32::MAX)),
            days: u32::MAX,
            last: Some(Day(i32::MIN)),
            ..pattern(id, mastery)
        };
        let mut input = one_exam(3, &[u32::MAX, 0, 7], vec![extreme(0, 0.0), extreme(1, 1.0)]);
        input.exams[0].weight = f64::NAN;
        assert_eq!(plan(&input, Order::BestGain).value, 0.0);
        input.exams[0].weight = 1.0;
        input.first = Day(i32::MAX - 1);
        input.exams[0].day = Day(i32::MAX);
        for order in [Order::BestGain, Order::RelearnFirst] {
            let found = plan(&input, order);
            assert!(found.value.is_finite());
            assert_eq!(found.too_long, [PatternId(0), PatternId(1)]);
        }
        input.minutes = vec![Minutes(0); 9];
        assert_eq!(plan(&input, Order::BestGain).left_out.len(), 2);
    }

    #[test]
    fn a_pattern_as_its_estimate_has_it() {
        use crate::evidence::{Notes, Outcome as Answer, PatternEvidence, Setting, Try};
        use crate::mastery::{CourseEvidence, estimate};
        let tried = |day| Try {
            day: Day(day),
            notes: Notes::Closed,
            setting: Setting::Practice,
            outcome: Answer::Right,
            patterns: 1,
        };
        let mut course = CourseEvidence::new();
        let tries = PatternEvidence::new([tried(0), tried(2), tried(5)]);
        course.set_pattern(PatternId(1), crate::TopicId(0), tries);
        let estimate = estimate(&course, Day(9)).patterns[&PatternId(1)];
        let found = Pattern::new(PatternId(1), &estimate, Minutes(12), None);
        near(crate::mastery::faded(found.mastery, 3, 4), estimate.mean);
        assert_eq!(
            (found.days, found.last, found.rests),
            (3, Some(Day(5)), true)
        );
        let unlearned = Pattern::new(PatternId(1), &estimate, Minutes(12), Some(Minutes(30)));
        assert!(!unlearned.rests);
    }
}
