//! How long the computations of the crate take on large inputs: `cargo bench -p porism-study`.
//!
//! Each line prints the least and the median of several runs. Inputs are made from a fixed seed.

use porism_study::plan::{Exam, Input, Order, Pattern, plan};
use porism_study::{Day, ExamId, Minutes, PatternId};
use std::hint::black_box;
use std::time::Duration;

fn main() {
    plans();
}

/// Prints the least and the median time of `runs` runs of `work`.
#[allow(
    clippy::disallowed_methods,
    clippy::print_stdout,
    reason = "a benchmark reads the clock and prints what it measured"
)]
fn measure<T>(what: &str, runs: usize, mut work: impl FnMut() -> T) {
    let mut times: Vec<Duration> = (0..runs)
        .map(|_| {
            let start = std::time::Instant::now();
            black_box(work());
            start.elapsed()
        })
        .collect();
    times.sort_unstable();
    println!("{what:<60} {:>10.2?} {:>10.2?}", times[0], times[runs / 2]);
}

/// A linear congruential generator with the constants of Knuth's MMIX: fixed inputs, no more.
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, bound: u32) -> u32 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % u64::from(bound)) as u32
    }

    fn unit(&mut self) -> f64 {
        f64::from(self.below(1 << 20)) / f64::from(1 << 20)
    }
}

fn plans() {
    for (patterns, days, exams) in [(60, 14, 3), (400, 60, 8)] {
        let input = planning_problem(patterns, days, exams);
        let what = format!("plan {patterns} patterns, {days} days, {exams} exams");
        measure(&what, 5, || plan(&input, Order::BestGain));
    }
}

fn planning_problem(patterns: u32, days: u32, exams: u32) -> Input {
    let mut numbers = Numbers(u64::from(patterns));
    let day = |offset: u32| Day(i32::try_from(offset).expect("few days"));
    let pattern = |numbers: &mut Numbers, id| {
        let never = numbers.below(5) == 0;
        Pattern {
            pattern: PatternId(id),
            mastery: 0.1 + 0.8 * numbers.unit() * if never { 0.2 } else { 1.0 },
            days: if never { 0 } else { 1 + numbers.below(4) },
            last: (!never).then(|| Day(-1 - i32::try_from(numbers.below(40)).expect("few"))),
            block: Minutes(8 + numbers.below(8)),
            relearn: never.then_some(Minutes(20)),
            rests: false,
        }
    };
    let patterns: Vec<Pattern> = (0..patterns).map(|id| pattern(&mut numbers, id)).collect();
    let exams = (0..exams)
        .map(|id| {
            let asked: Vec<PatternId> = patterns
                .iter()
                .map(|p| p.pattern)
                .filter(|_| numbers.below(2) == 0)
                .collect();
            let share = 1.0 / asked.len() as f64;
            Exam {
                exam: ExamId(id),
                day: day(days * (id + 1) / exams),
                weight: f64::from(10 + numbers.below(40)),
                shares: asked.into_iter().map(|p| (p, share)).collect(),
            }
        })
        .collect();
    let minutes = (0..days)
        .map(|_| Minutes(30 + 15 * numbers.below(5)))
        .collect();
    Input {
        first: Day(0),
        minutes,
        exams,
        patterns,
    }
}
