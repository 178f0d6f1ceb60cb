//! `porism verify`: whether an answer is right.

use std::io::Write;

use ide::classify::Statement;
use ide::mathematics::Mathematics;
use ide::verify::{self, Verdict, verdict_word};
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::arguments::Verify;
use super::{Failure, Outcome, jsonl, terminal};

/// Verifies what is given on the command line, or each line of standard input.
pub(crate) fn verify(arguments: &Verify) -> Result<Outcome, Failure> {
    let mathematics = Mathematics::default();
    if arguments.lines.jsonl {
        return jsonl::answer_lines(
            |id, item: Item| {
                let statement = Statement {
                    text: &item.tex,
                    prompt: item.prompt.as_deref().unwrap_or_default(),
                };
                let kind = item.kind.as_deref().unwrap_or_default();
                Line::new(
                    id,
                    &verify::verify(&mathematics, statement, kind, &item.answer),
                )
            },
            Line::refused,
        );
    }
    let statement = Statement {
        text: arguments.statement.tex.as_deref().unwrap_or_default(),
        prompt: &arguments.statement.prompt,
    };
    let answer = arguments.answer.as_deref().unwrap_or_default();
    let verdict = verify::verify(&mathematics, statement, "", answer);
    let mut out = terminal::output();
    let style = terminal::STRONG;
    let (word, why) = match &verdict {
        Verdict::Holds => ("holds", None),
        Verdict::Fails { .. } => ("fails", verify::objection(&verdict)),
        Verdict::CannotTell { .. } => ("cannot tell", verify::objection(&verdict)),
    };
    match why {
        Some(why) => writeln!(out, "{style}{word}{style:#}: {why}")?,
        None => writeln!(out, "{style}{word}{style:#}")?,
    }
    Ok(match verdict {
        Verdict::Fails { .. } => Outcome::Findings,
        _ => Outcome::Clean,
    })
}

#[derive(Deserialize)]
struct Item {
    tex: String,
    answer: String,
    prompt: Option<String>,
    kind: Option<String>,
}

#[derive(Serialize)]
struct Line {
    id: Value,
    verdict: &'static str,
    reason: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    witness: Option<String>,
}

impl Line {
    fn new(id: Value, verdict: &Verdict) -> Self {
        let (reason, witness) = match verdict {
            Verdict::Holds => ("it holds in the problem as written".to_owned(), None),
            Verdict::Fails { reason, witness } => (reason.clone(), witness.clone()),
            Verdict::CannotTell { reason } => (reason.clone(), None),
        };
        Self {
            id,
            verdict: verdict_word(verdict),
            reason,
            witness,
        }
    }

    fn refused(id: Value, reason: String) -> Self {
        Self {
            id,
            verdict: "cannot-tell",
            reason,
            witness: None,
        }
    }
}
