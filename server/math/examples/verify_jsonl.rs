//! Reads problems and answers, one JSON object to a line with the fields `tex`, `answer` and
//! `prompt`, and writes each with its verdict.

use std::io::{BufRead, Write};

use porism_math::problem::Part;
use porism_math::verdict::{Verdict, verify};

/// Prose with formulas between dollar signs or `\(` and `\)`.
fn prose(text: &str) -> Vec<Part<'_>> {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some((before, open)) = ["$", "\\("]
        .iter()
        .filter_map(|open| Some((rest.find(open)?, *open)))
        .min()
    {
        let after = &rest[before + open.len()..];
        let close = if open == "$" { "$" } else { "\\)" };
        let end = after.find(close).unwrap_or(after.len());
        parts.push(Part::Words(&rest[..before]));
        parts.push(Part::Tex(&after[..end]));
        rest = after.get(end + close.len()..).unwrap_or_default();
    }
    parts.push(Part::Words(rest));
    parts
}

/// Prose, or the bare TeX of one formula.
fn parts(text: &str) -> Vec<Part<'_>> {
    match text.contains('$') || text.contains("\\(") {
        true => prose(text),
        false => vec![Part::Tex(text)],
    }
}

fn main() -> std::io::Result<()> {
    let mut out = std::io::stdout().lock();
    for line in std::io::stdin().lock().lines() {
        let line = line?;
        if line.trim().is_empty() {
            continue;
        }
        let item: serde_json::Value = serde_json::from_str(&line)?;
        let text = |key: &str| item[key].as_str().unwrap_or_default();
        let mut statement = prose(text("prompt"));
        statement.extend(parts(text("tex")));
        let (verdict, reason, witness) = match verify(&statement, &parts(text("answer"))) {
            Verdict::Holds => ("holds", String::new(), None),
            Verdict::Fails { reason, witness } => ("fails", reason, witness),
            Verdict::CannotTell { reason } => ("cannot-tell", reason, None),
        };
        let mut told = item.clone();
        told["verdict"] = verdict.into();
        told["reason"] = reason.into();
        told["witness"] = witness.into();
        writeln!(out, "{told}")?;
    }
    Ok(())
}
