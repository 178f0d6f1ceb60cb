//! Reads one course as a JSON object from each line of standard input and writes its estimates as
//! one line of JSON: the side of the reference tests that is under test.
//!
//! `{"day": 18, "patterns": {"0": 2}, "log": [{"patterns": [0], "day": 3, "notes": "closed",
//! "setting": "practice", "outcome": "right"}], "marks": [{"topic": 2, "day": 3, "score": 0.4}],
//! "exam": {"questions": 12, "covers": [2], "target": 0.7}}`: `patterns` gives the topic of each
//! pattern; `outcome` may be a number, a score from 0 to 1; `marks` and `exam` may be left out.

use porism_study::composition::Composition;
use porism_study::evidence::{Attempt, Notes, Outcome, PatternEvidence, Setting, Try, by_pattern};
use porism_study::mastery::{CourseEvidence, Standing, estimate};
use porism_study::readiness::readiness;
use porism_study::{Day, Fraction, PatternId, TopicId};
use serde_json::{Map, Value, json};
use std::collections::{BTreeMap, BTreeSet};
use std::io::{BufRead as _, Write as _};

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let mut output = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let course: Value = serde_json::from_str(&line?)?;
        writeln!(output, "{}", answer(&course)?)?;
    }
    Ok(())
}

fn answer(course: &Value) -> Result<Value, Failure> {
    let attempts: Vec<Attempt> = list(&course["log"])
        .map(attempt)
        .collect::<Result<_, _>>()?;
    let mut by_pattern = by_pattern(&attempts);
    let mut evidence = CourseEvidence::new();
    let mut topics: BTreeMap<TopicId, Vec<PatternId>> = BTreeMap::new();
    for (pattern, topic) in course["patterns"].as_object().into_iter().flatten() {
        let (pattern, topic) = (PatternId(pattern.parse()?), TopicId(whole(topic)?));
        evidence.set_pattern(
            pattern,
            topic,
            by_pattern.remove(&pattern).unwrap_or_default(),
        );
        topics.entry(topic).or_default().push(pattern);
    }
    let mut marks: BTreeMap<TopicId, Vec<Try>> = BTreeMap::new();
    for mark in list(&course["marks"]) {
        marks
            .entry(TopicId(whole(&mark["topic"])?))
            .or_default()
            .push(Try {
                day: day(&mark["day"])?,
                notes: Notes::Closed,
                setting: Setting::Mock,
                outcome: Outcome::Score(fraction(&mark["score"])?),
                patterns: 1,
            });
    }
    for (topic, marks) in marks {
        evidence.set_marks(topic, PatternEvidence::new(marks));
    }
    let standing = estimate(&evidence, day(&course["day"])?);
    let mut answer = standing_as_json(&standing);
    if let Some(exam) = course.get("exam") {
        answer["exam"] = exam_as_json(exam, &standing, &topics)?;
    }
    Ok(answer)
}

fn standing_as_json(standing: &Standing) -> Value {
    let topics: Map<String, Value> = standing
        .topics
        .iter()
        .map(|(t, level)| (t.0.to_string(), json!(level)))
        .collect();
    let patterns: Map<String, Value> = standing
        .patterns
        .iter()
        .map(|(id, m)| {
            let estimate = json!({
                "success": m.evidence.success, "failure": m.evidence.failure, "days": m.days,
                "gap": m.gap, "prior": m.prior, "concentration": m.concentration,
                "mean": m.mean, "low": m.low, "high": m.high,
                "recent_right": m.recent.right, "recent_of": m.recent.of,
            });
            (id.0.to_string(), estimate)
        })
        .collect();
    json!({
        "student": standing.student, "topics": topics, "patterns": patterns,
        "tries": standing.tries, "enough": standing.enough_evidence,
    })
}

fn exam_as_json(
    exam: &Value,
    standing: &Standing,
    topics: &BTreeMap<TopicId, Vec<PatternId>>,
) -> Result<Value, Failure> {
    let mut covered = BTreeMap::new();
    for topic in list(&exam["covers"]) {
        let topic = TopicId(whole(topic)?);
        covered.insert(topic, topics.get(&topic).cloned().unwrap_or_default());
    }
    let composition = match Composition::spread(whole(&exam["questions"])?, &covered) {
        Ok(composition) => composition,
        Err(reason) => return Ok(json!({ "nothing": format!("{reason:?}") })),
    };
    let found = readiness(
        standing,
        &composition,
        fraction(&exam["target"])?,
        &BTreeSet::new(),
    );
    let found = found.map_err(|unknown| format!("{unknown:?}"))?;
    let parts: Vec<Value> = composition
        .parts()
        .iter()
        .map(|part| {
            let patterns: Vec<u32> = part.patterns.iter().map(|p| p.0).collect();
            json!({ "questions": part.questions, "patterns": patterns })
        })
        .collect();
    Ok(json!({
        "parts": parts, "distribution": found.distribution, "chance": found.chance,
        "expected": found.expected, "low": found.low, "high": found.high,
    }))
}

fn attempt(entry: &Value) -> Result<Attempt, Failure> {
    let word = |key: &str| entry[key].as_str().unwrap_or_default();
    let patterns = list(&entry["patterns"]).map(|p| whole(p).map(PatternId));
    Ok(Attempt {
        patterns: patterns.collect::<Result<_, _>>()?,
        day: day(&entry["day"])?,
        notes: match word("notes") {
            "open" => Notes::Open,
            "closed" => Notes::Closed,
            other => return Err(format!("notes are open or closed, not {other:?}").into()),
        },
        setting: match word("setting") {
            "practice" => Setting::Practice,
            "mock" => Setting::Mock,
            other => return Err(format!("a setting is practice or mock, not {other:?}").into()),
        },
        outcome: match word("outcome") {
            "right" => Outcome::Right,
            "partly" => Outcome::Partly,
            "wrong" => Outcome::Wrong,
            "skipped" => Outcome::Skipped,
            _ => Outcome::Score(fraction(&entry["outcome"])?),
        },
    })
}

fn list(value: &Value) -> impl Iterator<Item = &Value> {
    value.as_array().into_iter().flatten()
}

fn whole(value: &Value) -> Result<u32, Failure> {
    let number = value
        .as_u64()
        .ok_or_else(|| format!("not a whole number: {value}"))?;
    Ok(u32::try_from(number)?)
}

fn day(value: &Value) -> Result<Day, Failure> {
    let number = value
        .as_i64()
        .ok_or_else(|| format!("not a day: {value}"))?;
    Ok(Day(i32::try_from(number)?))
}

fn fraction(value: &Value) -> Result<Fraction, Failure> {
    let number = value.as_f64().and_then(Fraction::new);
    number.ok_or_else(|| format!("not a number from 0 to 1: {value}").into())
}
