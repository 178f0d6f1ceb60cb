//! `porism siblings`: fresh problems with other numbers.

use std::io::Write;

use ide::classify::Statement;
use ide::fresh_problems::{FreshProblems, MOST, fresh_problems};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::arguments::Siblings;
use super::{Failure, Outcome, jsonl, terminal};

/// Gives fresh problems for what is given on the command line, or for each line of standard input.
pub(crate) fn siblings(arguments: &Siblings) -> Result<Outcome, Failure> {
    if arguments.lines.jsonl {
        return jsonl::answer_lines(
            |id, item: Item| {
                let statement = Statement {
                    text: &item.tex,
                    prompt: item.prompt.as_deref().unwrap_or_default(),
                };
                let seed = item.seed.unwrap_or(arguments.seed);
                let count = item.n.unwrap_or(arguments.n);
                Line::new(id, fresh_problems(statement, seed, count.min(MOST)))
            },
            |id, reason| {
                let fresh = FreshProblems {
                    found: Vec::new(),
                    reason: Some(reason),
                };
                Line::new(id, fresh)
            },
        );
    }
    let statement = Statement {
        text: arguments.statement.tex.as_deref().unwrap_or_default(),
        prompt: &arguments.statement.prompt,
    };
    let fresh = fresh_problems(statement, arguments.seed, arguments.n.min(MOST));
    let mut out = terminal::output();
    for problem in &fresh.found {
        writeln!(out, "{}", problem.statement)?;
        writeln!(out, "  answer: {}", problem.answer)?;
    }
    if let Some(reason) = fresh.reason {
        terminal::warn(&format!(
            "{} of {}: {reason}",
            fresh.found.len(),
            arguments.n
        ));
    }
    Ok(Outcome::Clean)
}

#[derive(Deserialize)]
struct Item {
    tex: String,
    prompt: Option<String>,
    n: Option<usize>,
    seed: Option<u64>,
}

#[derive(Serialize)]
struct Line {
    id: Value,
    siblings: Vec<Sibling>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
}

#[derive(Serialize)]
struct Sibling {
    tex: String,
    answer: String,
}

impl Line {
    fn new(id: Value, fresh: FreshProblems) -> Self {
        let found = fresh.found.into_iter();
        Self {
            id,
            siblings: found
                .map(|problem| Sibling {
                    tex: problem.statement,
                    answer: problem.answer,
                })
                .collect(),
            reason: fresh.reason,
        }
    }
}
