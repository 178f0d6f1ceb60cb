//! Reads problems and answers from lines of JSON and writes verdicts as lines of JSON.
//!
//! A line in: `{"tex": "x^2 = 9", "answer": "x = \\pm 3", "prompt": "Solve."}`; `prompt` may be
//! missing; `tex` and `answer` are one formula each, or prose with formulas between dollar signs.
//! A line out: `{"verdict", "reason", "witness"}`. The reference tests compare these with another
//! computer algebra system.
//!
//! ```text
//! echo '{"tex": "x^2 = 9", "answer": "3"}' | cargo run -p porism-math --example verify_jsonl
//! ```

#![expect(
    clippy::print_stdout,
    reason = "the output is the purpose of this program"
)]

use std::io::BufRead;

use porism_math::problem::Part;
use porism_math::verdict::{Verdict, verify};
use serde_json::{Value, json};

fn main() -> Result<(), Box<dyn std::error::Error>> {
    for line in std::io::stdin().lock().lines() {
        let input: Value = serde_json::from_str(&line?)?;
        let text = |key: &str| input[key].as_str().unwrap_or_default();
        let mut statement = parts(text("prompt"), false);
        statement.extend(parts(text("tex"), true));
        let answer = parts(text("answer"), true);
        let output = match verify(&statement, &answer) {
            Verdict::Holds => json!({"verdict": "holds"}),
            Verdict::Fails { reason, witness } => {
                json!({"verdict": "fails", "reason": reason, "witness": witness})
            }
            Verdict::CannotTell { reason } => json!({"verdict": "cannot-tell", "reason": reason}),
        };
        println!("{output}");
    }
    Ok(())
}

/// A text as words and formulas; one without a dollar sign is all formula or all words.
fn parts(text: &str, is_formula: bool) -> Vec<Part<'_>> {
    if is_formula && !text.contains('$') {
        return vec![Part::Tex(text)];
    }
    let pieces = text.split('$').enumerate();
    pieces
        .filter(|(_, piece)| !piece.trim().is_empty())
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect()
}
