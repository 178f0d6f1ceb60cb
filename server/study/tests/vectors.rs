//! Mastery and readiness against worked values of the same model: 40-digit mpmath values, cross-checked with
//! scipy to 1e-10.

use porism_study::composition::{Composition, Part};
use porism_study::evidence::{Attempt, Notes, Outcome, PatternEvidence, Setting, by_pattern};
use porism_study::mastery::{CourseEvidence, Standing, estimate, faded};
use porism_study::readiness::readiness;
use porism_study::{Day, Fraction, PatternId, TopicId};
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

fn vectors() -> Value {
    serde_json::from_str(include_str!("data/vectors.json")).expect("the vectors are JSON")
}

fn number(value: &Value) -> f64 {
    value.as_f64().expect("a number")
}

fn near(found: f64, expected: &Value, what: &str) {
    let expected = number(expected);
    assert!(
        (found - expected).abs() < 1e-9,
        "{what}: {found}, expected {expected}"
    );
}

fn day(value: &Value) -> Day {
    Day(i32::try_from(value.as_i64().expect("a whole day")).expect("a day in range"))
}

/// Numbers for names, in order of appearance.
#[derive(Default)]
struct Names<'a>(Vec<&'a str>);

impl<'a> Names<'a> {
    fn id(&mut self, name: &'a str) -> u32 {
        let at = self.0.iter().position(|n| *n == name).unwrap_or_else(|| {
            self.0.push(name);
            self.0.len() - 1
        });
        u32::try_from(at).expect("few names")
    }
}

fn attempt(entry: &Value, pattern: PatternId) -> Attempt {
    let (notes, setting) = match entry["mode"].as_str() {
        Some("open") => (Notes::Open, Setting::Practice),
        Some("closed") => (Notes::Closed, Setting::Practice),
        Some("mock") => (Notes::Closed, Setting::Mock),
        other => panic!("unknown mode {other:?}"),
    };
    let outcome = match entry["outcome"].as_str() {
        Some("right") => Outcome::Right,
        Some("partly") => Outcome::Partly,
        Some("wrong") => Outcome::Wrong,
        Some("skipped") => Outcome::Skipped,
        other => panic!("unknown outcome {other:?}"),
    };
    Attempt {
        patterns: vec![pattern],
        day: day(&entry["day"]),
        notes,
        setting,
        outcome,
    }
}

fn check(case: &Value) {
    let (mut patterns, mut topics) = (Names::default(), Names::default());
    let mut topic_of: BTreeMap<PatternId, TopicId> = BTreeMap::new();
    let mut attempts = Vec::new();
    for entry in case["log"].as_array().expect("a log") {
        let pattern = PatternId(patterns.id(entry["pattern"].as_str().expect("a pattern")));
        topic_of.insert(
            pattern,
            TopicId(topics.id(entry["topic"].as_str().expect("a topic"))),
        );
        attempts.push(attempt(entry, pattern));
    }
    let mut course = CourseEvidence::new();
    for (name, topic) in case["untried"].as_object().expect("untried patterns") {
        let topic = TopicId(topics.id(topic.as_str().expect("a topic")));
        course.set_pattern(
            PatternId(patterns.id(name)),
            topic,
            PatternEvidence::default(),
        );
    }
    for (pattern, evidence) in by_pattern(&attempts) {
        course.set_pattern(pattern, topic_of[&pattern], evidence);
    }

    let standing = estimate(&course, day(&case["day"]));
    near(standing.student, &case["student"], "student");
    for (name, expected) in case["topics"].as_object().expect("topics") {
        near(standing.topics[&TopicId(topics.id(name))], expected, name);
    }
    let expected = case["patterns"].as_object().expect("patterns");
    assert_eq!(standing.patterns.len(), expected.len());
    for (name, expected) in expected {
        let found = standing.patterns[&PatternId(patterns.id(name))];
        near(found.evidence.success, &expected["S"], name);
        near(found.evidence.failure, &expected["F"], name);
        near(found.prior, &expected["prior_mean"], name);
        near(found.concentration, &expected["concentration"], name);
        near(found.mean, &expected["mean"], name);
        near(found.low, &expected["lo"], name);
        near(found.high, &expected["hi"], name);
        assert_eq!(Some(u64::from(found.days)), expected["D"].as_u64());
        assert_eq!(found.gap.map(u64::from), expected["gap"].as_u64());
    }
    check_exam(&standing, &case["exam_one_question_per_pattern"]);
}

/// An exam with one question on each pattern.
fn check_exam(standing: &Standing, expected: &Value) {
    let patterns: Vec<PatternId> = standing.patterns.keys().copied().collect();
    let questions = u32::try_from(patterns.len()).expect("few patterns");
    let exam = Composition::new([Part {
        questions,
        patterns,
    }])
    .expect("an exam");
    for (target, tail) in expected["tail"].as_object().expect("tails") {
        let target = Fraction::new(target.parse().expect("a number")).expect("a target");
        let found = readiness(standing, &exam, target, &BTreeSet::new()).expect("known patterns");
        near(found.chance, tail, "chance");
        near(
            found.expected * f64::from(questions),
            &expected["mean"],
            "expected score",
        );
        let pmf = expected["pmf"].as_array().expect("probabilities");
        assert_eq!(found.distribution.len(), pmf.len());
        for (found, expected) in found.distribution.iter().zip(pmf) {
            near(*found, expected, "probability of a score");
        }
    }
}

/// The chances of 70% that the model is known by, a day after a mock test of ten patterns.
#[test]
fn chances_after_a_mock_test_of_ten() {
    let check = |right: u32, notes, papers: &[i32], expected: f64| {
        let mut attempts = Vec::new();
        for &day in papers {
            for pattern in 0..10 {
                // A wrong answer on a different pattern of each paper.
                let wrong = (pattern + u32::try_from(day).expect("a late day")) % 10 >= right;
                attempts.push(Attempt {
                    patterns: vec![PatternId(pattern)],
                    day: Day(day),
                    notes,
                    setting: Setting::Mock,
                    outcome: if wrong {
                        Outcome::Wrong
                    } else {
                        Outcome::Right
                    },
                });
            }
        }
        let mut course = CourseEvidence::new();
        for (pattern, evidence) in by_pattern(&attempts) {
            course.set_pattern(pattern, TopicId(0), evidence);
        }
        let day = papers.last().expect("a paper") + 1;
        let patterns = (0..10).map(PatternId).collect();
        let exam = Composition::new([Part {
            questions: 10,
            patterns,
        }])
        .expect("an exam");
        let target = Fraction::new(0.7).expect("a target");
        let standing = estimate(&course, Day(day));
        let found = readiness(&standing, &exam, target, &BTreeSet::new()).expect("known patterns");
        assert!((found.chance - expected).abs() < 0.0005, "{}", found.chance);
    };
    check(3, Notes::Closed, &[0], 0.0366);
    check(9, Notes::Closed, &[0], 0.863);
    check(9, Notes::Closed, &[0, 2], 0.934);
    check(9, Notes::Open, &[0], 0.375);
}

#[test]
fn estimates_agree_with_the_worked_values() {
    let vectors = vectors();
    let cases = vectors["estimate"].as_array().expect("cases");
    assert_eq!(cases.len(), 7);
    cases.iter().for_each(check);
}

#[test]
fn fading_agrees_with_the_worked_values() {
    let vectors = vectors();
    let cases = vectors["forgetting"].as_array().expect("cases");
    assert_eq!(cases.len(), 10);
    for case in cases {
        let whole = |key: &str| u32::try_from(case[key].as_u64().expect("whole")).expect("small");
        near(
            faded(number(&case["mean"]), whole("D"), whole("gap")),
            &case["after"],
            "faded",
        );
    }
}

/// The same bytes on every platform: a change of these bits means that some step went through the
/// platform's own mathematical functions, or that the model changed.
#[test]
fn estimates_have_the_same_bits_everywhere() {
    let attempts: Vec<Attempt> = (0..40)
        .map(|n| Attempt {
            patterns: vec![PatternId(n % 3), PatternId(n % 5)],
            day: Day(i32::try_from(n * n % 17).expect("small")),
            notes: if n % 4 == 0 {
                Notes::Open
            } else {
                Notes::Closed
            },
            setting: Setting::Practice,
            outcome: if n % 7 < 4 {
                Outcome::Right
            } else {
                Outcome::Wrong
            },
        })
        .collect();
    let mut course = CourseEvidence::new();
    for (pattern, evidence) in by_pattern(&attempts) {
        course.set_pattern(pattern, TopicId(pattern.0 % 2), evidence);
    }
    let standing = estimate(&course, Day(20));
    let patterns = standing.patterns.keys().copied().collect();
    let exam = Composition::new([Part {
        questions: 7,
        patterns,
    }])
    .expect("an exam");
    let target = Fraction::new(0.7).expect("a target");
    let found = readiness(&standing, &exam, target, &BTreeSet::new()).expect("known patterns");
    let one = standing.patterns[&PatternId(1)];
    let bits = [one.mean, one.low, one.high, found.chance, found.expected].map(f64::to_bits);
    let expected = [
        0x3fe0_cde0_6ed1_efa5,
        0x3fcf_f8ec_8168_4071,
        0x3fe9_6100_2356_6150,
        0x3fd4_6720_2211_2e6a,
        0x3fe0_ef40_d310_c9a8,
    ];
    assert_eq!(bits, expected);
}
