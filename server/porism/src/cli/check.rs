//! `porism check`: what does not fit in the notes of a folder.

use std::collections::BTreeMap;
use std::io::Write;

use annotate_snippets::{AnnotationKind, Group, Level, Renderer, Snippet};
use ide::diagnostics::{self, Finding, Severity};
use ide::{Analysis, FilePath, Span, words};
use serde::Serialize;

use super::arguments::{Check, Format};
use super::notebook::{self, Notebook};
use super::{Failure, Outcome, terminal};

/// Checks the notes of a folder and prints the findings.
pub(crate) fn check(arguments: &Check) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let least = if arguments.hints {
        Severity::Hint
    } else {
        Severity::Information
    };
    let findings = findings(notebook.workspace.analysis(), least);
    match arguments.format {
        Format::Text => print(&notebook, &findings, arguments.hints)?,
        Format::Json => print_json(&notebook, &findings)?,
    }
    let errors = findings
        .iter()
        .any(|finding| finding.severity == Severity::Error);
    Ok(if errors {
        Outcome::Findings
    } else {
        Outcome::Clean
    })
}

/// The findings that are at least so grave, in reading order.
pub(crate) fn findings(analysis: &Analysis, least: Severity) -> Vec<Finding> {
    let mut findings: Vec<Finding> = diagnostics::check_all(analysis)
        .into_values()
        .flatten()
        .collect();
    findings.retain(|finding| finding.severity <= least);
    findings
}

/// Prints findings with the lines they are about, and how many there are.
pub(crate) fn print(notebook: &Notebook, findings: &[Finding], hints: bool) -> Result<(), Failure> {
    let mut out = terminal::output();
    let renderer = Renderer::styled().term_width(terminal::width());
    let mut counts: BTreeMap<Severity, usize> = BTreeMap::new();
    for finding in findings {
        *counts.entry(finding.severity).or_default() += 1;
        writeln!(out, "{}\n", render(&renderer, notebook, finding))?;
    }
    let files = notebook.workspace.analysis().notebook.files().count();
    let counted: Vec<String> = counts
        .iter()
        .map(|(severity, count)| match severity {
            Severity::Information => format!("{count} to know"),
            severity => words::count(*count, &severity.to_string()),
        })
        .collect();
    let said = if counted.is_empty() {
        "nothing to say".to_owned()
    } else {
        counted.join(", ")
    };
    writeln!(out, "{}: {said}.", words::count(files, "file"))?;
    if !findings.is_empty() {
        let more = if hints {
            ""
        } else {
            " Hints are shown with --hints."
        };
        writeln!(
            out,
            "porism explain CODE explains a code in brackets.{more}"
        )?;
    }
    Ok(())
}

fn render(renderer: &Renderer, notebook: &Notebook, finding: &Finding) -> String {
    let level = match finding.severity {
        Severity::Error => Level::ERROR,
        Severity::Warning => Level::WARNING,
        Severity::Information => Level::NOTE,
        Severity::Hint => Level::HELP,
    };
    let main = Lines::around(notebook, &finding.path, finding.span);
    let title = level.primary_title(&finding.message).id(finding.code);
    let snippet = Snippet::source(&main.text)
        .line_start(main.first_line)
        .path(&main.shown)
        .annotation(AnnotationKind::Primary.span(main.marked.clone()));
    let mut groups = vec![title.element(snippet)];
    let related: Vec<(Lines, &str)> = finding
        .related
        .iter()
        .map(|one| {
            (
                Lines::around(notebook, &one.path, one.span),
                one.message.as_str(),
            )
        })
        .collect();
    for (lines, message) in &related {
        let snippet = Snippet::source(&lines.text)
            .line_start(lines.first_line)
            .path(&lines.shown)
            .annotation(AnnotationKind::Context.span(lines.marked.clone()));
        groups.push(Group::with_title(Level::NOTE.secondary_title(*message)).element(snippet));
    }
    renderer.render(&groups).to_string()
}

/// The lines of a file that a span touches.
struct Lines {
    shown: String,
    text: String,
    first_line: usize,
    marked: std::ops::Range<usize>,
}

/// A span over more lines than this is shown by its first line.
const LINES_SHOWN: usize = 4;

impl Lines {
    fn around(notebook: &Notebook, path: &FilePath, span: Span) -> Self {
        let shown = notebook.shown(path);
        let Some(file) = notebook.workspace.analysis().notebook.file(path) else {
            return Self {
                shown,
                text: String::new(),
                first_line: 1,
                marked: 0..0,
            };
        };
        let text = file.text();
        let range = span.range();
        let end = range.end.min(text.len_bytes());
        let start = range.start.min(end);
        let first = text.byte_to_line(start);
        let mut last = text.byte_to_line(end);
        let mut end = end;
        if last - first >= LINES_SHOWN {
            last = first;
            end = text.line_to_byte(first + 1);
        }
        let line_start = text.line_to_byte(first);
        let line_end = if last + 1 < text.len_lines() {
            text.line_to_byte(last + 1)
        } else {
            text.len_bytes()
        };
        let lines = file.slice(line_start..line_end);
        let kept = lines.trim_end_matches(['\n', '\r']).len();
        let end = (end - line_start).min(kept);
        let start = (start - line_start).min(end);
        Self {
            shown,
            text: lines[..kept].to_owned(),
            first_line: first + 1,
            marked: start..end,
        }
    }
}

#[derive(Serialize)]
struct JsonFinding<'a> {
    code: &'a str,
    severity: String,
    message: &'a str,
    #[serde(flatten)]
    place: JsonPlace,
    unnecessary: bool,
    related: Vec<JsonRelated<'a>>,
}

#[derive(Serialize)]
struct JsonPlace {
    file: String,
    /// Bytes from the start of the file.
    start: u32,
    end: u32,
    /// Counted from 1.
    line: usize,
    /// Counted from 1, in characters.
    column: usize,
}

#[derive(Serialize)]
struct JsonRelated<'a> {
    message: &'a str,
    #[serde(flatten)]
    place: JsonPlace,
}

fn print_json(notebook: &Notebook, findings: &[Finding]) -> Result<(), Failure> {
    let place = |path: &FilePath, span: Span| {
        let (line, column) = line_and_column(notebook, path, span.start as usize);
        JsonPlace {
            file: notebook.shown(path),
            start: span.start,
            end: span.end,
            line,
            column,
        }
    };
    let found: Vec<JsonFinding<'_>> = findings
        .iter()
        .map(|finding| JsonFinding {
            code: finding.code,
            severity: finding.severity.to_string(),
            message: &finding.message,
            place: place(&finding.path, finding.span),
            unnecessary: finding.unnecessary,
            related: finding
                .related
                .iter()
                .map(|one| JsonRelated {
                    message: &one.message,
                    place: place(&one.path, one.span),
                })
                .collect(),
        })
        .collect();
    let mut out = std::io::stdout().lock();
    serde_json::to_writer_pretty(&mut out, &found).map_err(Failure::new)?;
    writeln!(out)?;
    Ok(())
}

fn line_and_column(notebook: &Notebook, path: &FilePath, offset: usize) -> (usize, usize) {
    let Some(file) = notebook.workspace.analysis().notebook.file(path) else {
        return (1, 1);
    };
    let text = file.text();
    let offset = offset.min(text.len_bytes());
    let line = text.byte_to_line(offset);
    let column = text.byte_to_char(offset) - text.line_to_char(line);
    (line + 1, column + 1)
}
