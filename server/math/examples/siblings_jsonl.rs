//! Gives other problems of the same kind from lines of JSON.
//!
//! A line in: `{"statement": "Solve $x^2 - 4 = 0$.", "n": 3, "seed": 1}`, formulas between dollar
//! signs, and optionally the formula alone as `"tex"`, after the words of the statement. A line out:
//! `{"siblings": [{"statement", "answer", "read"}], "reason" or null, "keys", "task"}`, where the keys
//! are those of the given problem and `read` is the structure of the formulas. All siblings have the
//! same of the starter patterns' shapes. The reference tests check them with another computer algebra
//! system.
//!
//! ```text
//! echo '{"statement": "Solve $x^2 - 4 = 0$."}' | cargo run -p porism-math --example siblings_jsonl
//! ```

#![expect(
    clippy::print_stdout,
    reason = "the output is the purpose of this program"
)]
#![expect(
    clippy::disallowed_methods,
    reason = "the starter patterns are read from their files"
)]

use std::io::BufRead;
use std::path::Path;

use porism_math::Expression;
use porism_math::print::tex;
use porism_math::problem::{self, Part};
use porism_math::read::{Declared, read};
use porism_math::shape::{self, Shape};
use porism_math::sibling::{Piece, Sibling, siblings_with_shapes, text};
use porism_math::solve::{Key, solve};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let shapes = starter_shapes()?;
    for line in std::io::stdin().lock().lines() {
        let input: Value = serde_json::from_str(&line?)?;
        println!("{}", answer(&input, &shapes));
    }
    Ok(())
}

/// The shapes of the starter patterns.
fn starter_shapes() -> std::io::Result<Vec<Shape>> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/starter");
    let mut files: Vec<_> = std::fs::read_dir(folder)?.collect::<Result<_, _>>()?;
    files.sort_by_key(std::fs::DirEntry::path);
    let mut shapes = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(file.path())?;
        let lines = text.lines();
        let written = lines.filter_map(|line| line.trim_start().strip_prefix("shape: "));
        shapes.extend(written.map(|written| shape::read(written).0));
    }
    Ok(shapes)
}

fn answer(input: &Value, shapes: &[Shape]) -> Value {
    let statement = input["statement"].as_str().unwrap_or_default();
    let mut parts: Vec<Part<'_>> = statement
        .split('$')
        .enumerate()
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .filter(|part| !matches!(part, Part::Words("")))
        .collect();
    if let Some(tex) = input["tex"].as_str() {
        if !parts.is_empty() {
            parts.push(Part::Words(" "));
        }
        parts.push(Part::Tex(tex));
    }
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
    let given = siblings_with_shapes(&parts, shapes, seed, count);
    let found: Vec<Value> = given
        .found
        .iter()
        .map(|sibling| {
            json!({
                "statement": text(&sibling.statement),
                "answer": text(&sibling.answer),
                "read": structure(sibling),
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

/// What the formulas of a sibling say, as nested lists: what is asked about, the conditions, and the
/// answer.
fn structure(sibling: &Sibling) -> Value {
    let parts: Vec<Part<'_>> = sibling.statement.iter().map(Piece::as_part).collect();
    let problem = problem::read(&parts);
    let mut declared = Declared::new();
    for formula in problem.main.iter().chain(&problem.conditions) {
        declared.learn(formula);
    }
    let shown = |expression: &Expression| format!("{expression:?}");
    let answers = sibling.answer.iter().map(|piece| match piece {
        Piece::Words(words) => words.clone(),
        Piece::Tex(tex) => shown(&read(tex, &declared).expression),
    });
    json!({
        "main": problem.main.as_ref().map(shown),
        "conditions": problem.conditions.iter().map(shown).collect::<Vec<_>>(),
        "instructions": problem.instructions,
        "answer": answers.collect::<Vec<_>>(),
    })
}
