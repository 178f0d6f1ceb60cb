//! `porism classify`: what kind of problem something is.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

use ide::Workspace;
use ide::classify::{self, Classified, Statement};
use ide::kinds::Catalogue;
use ide::starter;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use super::arguments::Classify;
use super::{Failure, Outcome, jsonl, notebook, terminal};
use crate::clock;

/// Classifies what is given on the command line, or each line of standard input.
pub(crate) fn classify(arguments: &Classify) -> Result<Outcome, Failure> {
    let workspace = workspace(arguments.patterns.as_deref())?;
    let analysis = workspace.analysis();
    let catalogue = Catalogue::of_all(&analysis.notebook);
    if catalogue.patterns().is_empty() {
        return Err(Failure::new(
            "these notes have no pattern with a shape: write shape: below a @pattern",
        ));
    }
    let classified = |text: &str, prompt: &str| {
        let statement = Statement { text, prompt };
        classify::classify(&catalogue, &analysis.mathematics, statement)
    };
    if arguments.lines.jsonl {
        return jsonl::answer_lines(
            |id, item: Item| Line::new(id, classified(&item.tex, &item.prompt)),
            Line::refused,
        );
    }
    let text = arguments.statement.tex.as_deref().unwrap_or_default();
    print(&classified(text, &arguments.statement.prompt))?;
    Ok(Outcome::Clean)
}

/// The notes whose patterns count.
fn workspace(patterns: Option<&Path>) -> Result<Workspace, Failure> {
    match patterns {
        None => Ok(starter::notebook(clock::now())),
        Some(path) if path.is_dir() => Ok(notebook::read(path)?.workspace),
        Some(path) => notebook::read_file(path),
    }
}

#[derive(Deserialize)]
struct Item {
    tex: String,
    #[serde(default)]
    prompt: String,
}

#[derive(Serialize)]
struct Line {
    id: Value,
    read: bool,
    diagnostics: Vec<Diagnostic>,
    kind: &'static str,
    fingerprint: Option<String>,
    matches: Vec<Match>,
    #[serde(skip_serializing_if = "Option::is_none")]
    reason: Option<String>,
}

#[derive(Serialize)]
struct Diagnostic {
    /// Bytes from the start of `tex`.
    start: u32,
    end: u32,
    message: String,
}

#[derive(Serialize)]
struct Match {
    pattern: String,
    laws: Vec<&'static str>,
    holes: BTreeMap<String, String>,
}

impl Line {
    fn new(id: Value, classified: Classified) -> Self {
        let diagnostics = classified.unread.into_iter();
        let kinds = classified.kinds.into_iter();
        Self {
            id,
            read: classified.is_read,
            diagnostics: diagnostics
                .map(|unread| Diagnostic {
                    start: unread.span.start,
                    end: unread.span.end,
                    message: unread.message,
                })
                .collect(),
            kind: classified.task,
            fingerprint: classified.fingerprint,
            matches: kinds
                .map(|kind| Match {
                    pattern: kind.pattern,
                    laws: kind.laws,
                    holes: kind.holes,
                })
                .collect(),
            reason: None,
        }
    }

    fn refused(id: Value, reason: String) -> Self {
        Self {
            id,
            read: false,
            diagnostics: Vec::new(),
            kind: "other",
            fingerprint: None,
            matches: Vec::new(),
            reason: Some(reason),
        }
    }
}

fn print(classified: &Classified) -> Result<(), Failure> {
    let mut out = terminal::output();
    for unread in &classified.unread {
        terminal::warn(&format!(
            "bytes {} to {}: {}",
            unread.span.start, unread.span.end, unread.message
        ));
    }
    let style = terminal::STRONG;
    writeln!(out, "What is asked: {}", classified.task)?;
    if classified.kinds.is_empty() {
        writeln!(out, "No pattern has a shape that fits.")?;
    }
    for kind in &classified.kinds {
        writeln!(out, "{style}{}{style:#}", kind.pattern)?;
        for law in &kind.laws {
            writeln!(out, "  after: {law}")?;
        }
        let holes = kind.holes.iter();
        let holes: Vec<String> = holes.map(|(hole, by)| format!("{hole} = {by}")).collect();
        if !holes.is_empty() {
            writeln!(out, "  with {}", holes.join(", "))?;
        }
    }
    Ok(())
}
