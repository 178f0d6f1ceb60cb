//! How long the computations of the crate take on large inputs: `cargo bench -p porism-study`.
//!
//! Each line prints the least and the median of several runs. Inputs are made from a fixed seed.

use porism_study::composition::Composition;
use porism_study::evidence::{Attempt, Notes, Outcome, PatternEvidence, Setting, by_pattern};
use porism_study::mastery::{CourseEvidence, Standing, estimate};
use porism_study::paper::{Kind, Request, Section, Spread, draw};
use porism_study::plan::{Exam, Input, Order, Pattern, plan};
use porism_study::readiness::readiness;
use porism_study::selection::{Candidate, ShapeId};
use porism_study::{Day, ExamId, Fraction, Minutes, PatternId, ProblemId, TopicId};
use std::collections::{BTreeMap, BTreeSet};
use std::hint::black_box;
use std::time::Duration;

fn main() {
    estimates();
    exams();
    papers();
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

/// Patterns of the invented course, ten to a topic.
const PATTERNS: u32 = 400;

fn topic(pattern: PatternId) -> TopicId {
    TopicId(pattern.0 / 10)
}

fn attempts(count: u32) -> Vec<Attempt> {
    let mut numbers = Numbers(1);
    let outcomes = [
        Outcome::Right,
        Outcome::Right,
        Outcome::Partly,
        Outcome::Wrong,
    ];
    (0..count)
        .map(|_| Attempt {
            patterns: vec![PatternId(numbers.below(PATTERNS))],
            day: Day(i32::try_from(numbers.below(120)).expect("few days")),
            notes: if numbers.below(4) == 0 {
                Notes::Open
            } else {
                Notes::Closed
            },
            setting: Setting::Practice,
            outcome: outcomes[numbers.below(4) as usize],
        })
        .collect()
}

fn course(attempts: &[Attempt]) -> CourseEvidence {
    let mut course = CourseEvidence::new();
    for pattern in (0..PATTERNS).map(PatternId) {
        course.set_pattern(pattern, topic(pattern), PatternEvidence::default());
    }
    for (pattern, evidence) in by_pattern(attempts) {
        course.set_pattern(pattern, topic(pattern), evidence);
    }
    course
}

fn standing() -> Standing {
    estimate(&course(&attempts(5_000)), Day(120))
}

fn estimates() {
    let attempts = attempts(100_000);
    measure("fold 100,000 tries of 400 patterns", 9, || {
        course(&attempts)
    });
    let course = course(&attempts);
    measure("estimate 400 patterns", 21, || estimate(&course, Day(120)));
}

fn exams() {
    let standing = standing();
    for (topics, questions) in [(3, 25), (40, 25), (40, 200)] {
        let covered: BTreeMap<TopicId, Vec<PatternId>> = (0..topics)
            .map(|t| (TopicId(t), (10 * t..10 * t + 10).map(PatternId).collect()))
            .collect();
        let exam = Composition::spread(questions, &covered).expect("an exam");
        let what = format!(
            "readiness, {questions} questions on {} patterns",
            10 * topics
        );
        let target = Fraction::new(0.7).expect("a target");
        measure(&what, 21, || {
            readiness(&standing, &exam, target, &BTreeSet::new())
        });
    }
}

fn papers() {
    let standing = standing();
    for problems in [10_000, 100_000] {
        let mut numbers = Numbers(2);
        let mut sections: Vec<Section> = (0..10)
            .map(|t| Section {
                topic: TopicId(t),
                weight: 1.0,
                candidates: Vec::new(),
            })
            .collect();
        for id in 0..problems {
            let pattern = PatternId(numbers.below(100));
            let tried = numbers.below(2) == 0;
            sections[topic(pattern).0 as usize]
                .candidates
                .push(Candidate {
                    problem: ProblemId(id),
                    patterns: vec![pattern],
                    shape: Some(ShapeId(u64::from(numbers.below(problems / 4)))),
                    variants: 9 * u32::from(numbers.below(3) == 0),
                    in_last_paper: numbers.below(1000) == 0,
                    skip: tried && numbers.below(2) == 0,
                    last_tried: tried.then(|| Day(i32::try_from(numbers.below(120)).expect("few"))),
                    theorem: false,
                });
        }
        let confusable: Vec<(PatternId, PatternId)> = (0..50)
            .map(|p| (PatternId(2 * p), PatternId(2 * p + 1)))
            .collect();
        let request = Request {
            kind: Kind::Problems,
            spread: Spread::WeakFirst,
            count: Some(25),
            seed: 1,
            day: Day(120),
        };
        let what = format!("draw 25 questions from {problems} problems");
        measure(&what, 9, || {
            draw(&sections, &standing, &confusable, request)
        });
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
