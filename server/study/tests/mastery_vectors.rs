//! Mastery against worked values of the same model: 40-digit mpmath values, cross-checked with
//! scipy to 1e-10.

use porism_study::evidence::{Attempt, Notes, Outcome, PatternEvidence, Setting, by_pattern};
use porism_study::mastery::{CourseEvidence, estimate, faded};
use porism_study::{Day, PatternId, TopicId};
use serde_json::Value;
use std::collections::BTreeMap;

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
