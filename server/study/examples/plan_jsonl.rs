//! Reads one planning problem as a JSON object from each line of standard input and writes its
//! plan as one line of JSON: the side of the reference tests that is under test.
//!
//! `{"order": "gain", "minutes": [60, 45], "exams": [{"day": 2, "weight": 1.0, "shares": {"0":
//! 0.5}}], "patterns": [{"mastery": 0.4, "days": 1, "last": -3, "block": 10, "relearn": null}]}`:
//! days count from the first of the plan, patterns are numbered in their order, and `order` is
//! `gain` or `relearn_first`.

use porism_study::plan::{Activity, Exam, Input, Order, Pattern, plan};
use porism_study::{Day, ExamId, Minutes, PatternId};
use serde_json::{Value, json};
use std::collections::BTreeMap;
use std::io::{BufRead as _, Write as _};

type Failure = Box<dyn std::error::Error>;

fn main() -> Result<(), Failure> {
    let mut output = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let problem: Value = serde_json::from_str(&line?)?;
        writeln!(output, "{}", answer(&problem)?)?;
    }
    Ok(())
}

fn answer(problem: &Value) -> Result<Value, Failure> {
    let order = match problem["order"].as_str() {
        Some("gain") => Order::BestGain,
        Some("relearn_first") => Order::RelearnFirst,
        other => return Err(format!("no such order: {other:?}").into()),
    };
    let minutes = list(&problem["minutes"]).map(|m| whole(m).map(Minutes));
    let input = Input {
        first: Day(0),
        minutes: minutes.collect::<Result<_, _>>()?,
        exams: (0..)
            .zip(list(&problem["exams"]))
            .map(exam)
            .collect::<Result<_, _>>()?,
        patterns: (0..)
            .zip(list(&problem["patterns"]))
            .map(pattern)
            .collect::<Result<_, _>>()?,
    };
    let found = plan(&input, order);
    let blocks: Vec<Value> = found
        .days
        .iter()
        .flat_map(|day| day.blocks.iter().map(move |block| (day.day, block)))
        .map(|(day, block)| {
            let relearn = block.activity == Activity::Relearn;
            json!({
                "day": day.0, "pattern": block.pattern.0, "relearn": relearn,
                "minutes": block.minutes.0, "gain": block.gain,
            })
        })
        .collect();
    Ok(json!({ "value": found.value, "nothing": found.value_of_nothing, "blocks": blocks }))
}

fn exam((id, value): (u32, &Value)) -> Result<Exam, Failure> {
    let mut shares = BTreeMap::new();
    for (pattern, share) in value["shares"].as_object().into_iter().flatten() {
        shares.insert(PatternId(pattern.parse()?), number(share)?);
    }
    Ok(Exam {
        exam: ExamId(id),
        day: day(&value["day"])?,
        weight: number(&value["weight"])?,
        shares,
    })
}

fn pattern((id, value): (u32, &Value)) -> Result<Pattern, Failure> {
    Ok(Pattern {
        pattern: PatternId(id),
        mastery: number(&value["mastery"])?,
        days: whole(&value["days"])?,
        last: if value["last"].is_null() {
            None
        } else {
            Some(day(&value["last"])?)
        },
        block: Minutes(whole(&value["block"])?),
        relearn: if value["relearn"].is_null() {
            None
        } else {
            Some(Minutes(whole(&value["relearn"])?))
        },
        rests: false,
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

fn number(value: &Value) -> Result<f64, Failure> {
    value
        .as_f64()
        .ok_or_else(|| format!("not a number: {value}").into())
}
