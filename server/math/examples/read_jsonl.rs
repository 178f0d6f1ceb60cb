//! Reads formulas from lines of JSON and writes what they say as lines of JSON.
//!
//! A line in: `{"tex": "\\frac{x}{2}", "at": {"x": 3}}`; `at` may be missing, and may be a list of
//! points. With `"prompt"`, the instruction of an exercise, the fingerprint is that of the exercise.
//! A line out: `{"certain", "diagnostics": [{"start", "end", "class", "message"}], "fingerprint",
//! "plain", "printed", "structure", "values": [[re, im] or null]}`. The reference tests compare
//! these with another computer algebra system.
//!
//! ```text
//! echo '{"tex": "\\sin x", "at": {"x": 1}}' | cargo run -p porism-math --example read_jsonl
//! ```

#![expect(
    clippy::print_stdout,
    reason = "the output is the purpose of this program"
)]

use std::io::BufRead;

use porism_math::evaluate::{Point, value};
use porism_math::print::{plain, tex};
use porism_math::problem::read_exercise;
use porism_math::read::{Declared, read};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for line in std::io::stdin().lock().lines() {
        let input: Value = serde_json::from_str(&line?)?;
        println!("{}", answer(&input));
    }
    Ok(())
}

fn answer(input: &Value) -> Value {
    let formula = input["tex"].as_str().unwrap_or_default();
    let declared = Declared::new();
    let reading = read(formula, &declared);
    let diagnostics: Vec<Value> = reading
        .diagnostics
        .iter()
        .map(|diagnostic| {
            json!({
                "start": diagnostic.range.start,
                "end": diagnostic.range.end,
                "class": format!("{:?}", diagnostic.class),
                "message": diagnostic.message,
            })
        })
        .collect();
    let points: Vec<&Value> = match &input["at"] {
        Value::Array(points) => points.iter().collect(),
        Value::Null => Vec::new(),
        point => vec![point],
    };
    let symbols = reading.expression.free_symbols();
    let values: Vec<Value> = points
        .into_iter()
        .map(|given| {
            let mut point = Point::new();
            for symbol in &symbols {
                if let Some(number) = given[format!("{symbol:?}")].as_f64() {
                    point.set(symbol.clone(), number);
                }
            }
            match value(&reading.expression, &point) {
                Ok(value) => json!([value.re, value.im]),
                Err(_) => Value::Null,
            }
        })
        .collect();
    let prompt = input["prompt"].as_str().unwrap_or_default();
    let fingerprint = read_exercise(prompt, formula).fingerprint;
    json!({
        "fingerprint": fingerprint.map(|fingerprint| fingerprint.to_string()),
        "certain": reading.is_certain(),
        "diagnostics": diagnostics,
        "plain": plain(&reading.expression),
        "printed": tex(&reading.expression, &declared),
        "structure": format!("{:?}", reading.expression),
        "values": values,
    })
}
