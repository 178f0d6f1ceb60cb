//! Gives other problems of the same kind from lines of JSON.
//!
//! A line in: `{"statement": "Solve $x^2 - 4 = 0$.", "n": 3, "seed": 1}`, formulas between dollar
//! signs. A line out: `{"siblings": [{"statement", "answer"}], "reason" or null, "keys": [..]}`,
//! where the keys are those of the given problem. The reference tests check these with another
//! computer algebra system.
//!
//! ```text
//! echo '{"statement": "Solve $x^2 - 4 = 0$."}' | cargo run -p porism-math --example siblings_jsonl
//! ```

#![expect(
    clippy::print_stdout,
    reason = "the output is the purpose of this program"
)]

use std::io::BufRead;

use porism_math::print::tex;
use porism_math::problem::{self, Part};
use porism_math::read::Declared;
use porism_math::sibling::{siblings, text};
use porism_math::solve::{Key, solve};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for line in std::io::stdin().lock().lines() {
        let input: Value = serde_json::from_str(&line?)?;
        println!("{}", answer(&input));
    }
    Ok(())
}

fn answer(input: &Value) -> Value {
    let statement = input["statement"].as_str().unwrap_or_default();
    let parts: Vec<Part<'_>> = statement
        .split('$')
        .enumerate()
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .filter(|part| !matches!(part, Part::Words("")))
        .collect();
    let problem = problem::read(&parts);
    let mut declared = Declared::new();
    for formula in problem.main.iter().chain(&problem.conditions) {
        declared.learn(formula);
    }
    let keys: Vec<String> = match solve(&problem) {
        Ok(keys) => keys
            .iter()
            .map(|key| match key {
                Key::Formula(formula) => format!("${}$", tex(formula, &declared)),
                Key::Words(words) => (*words).to_owned(),
            })
            .collect(),
        Err(reason) => vec![format!("! {reason}")],
    };
    let count = input["n"].as_u64().unwrap_or(3) as usize;
    let seed = input["seed"].as_u64().unwrap_or(0);
    let given = siblings(&parts, seed, count);
    let found: Vec<Value> = given
        .found
        .iter()
        .map(|sibling| {
            json!({
                "statement": text(&sibling.statement),
                "answer": text(&sibling.answer),
            })
        })
        .collect();
    json!({
        "task": format!("{:?}", problem.task),
        "keys": keys,
        "siblings": found,
        "reason": given.reason,
    })
}
