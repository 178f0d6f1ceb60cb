//! Findings as they are kept: in terms of their unit, so that they stand when the unit moves.

use notes::{Block, Entry, File, FilePath, Key, Located, Notebook, Span, UnitId};

use super::{Check, Finding, Fix, Related, Severity};
use crate::edit::{NotebookEdit, TextEdit};

/// A finding in terms of its unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Mark {
    pub(super) check: &'static Check,
    pub(super) severity: Severity,
    pub(super) spot: Spot,
    pub(super) message: String,
    pub(super) related: Vec<(Spot, String)>,
    pub(super) unnecessary: bool,
    pub(super) fixes: Vec<MarkFix>,
}

/// A part of a unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Spot {
    pub(super) unit: UnitId,
    pub(super) part: Part,
}

/// Which part of a unit. Parts of units other than the one that was checked are named, as their
/// bytes may change without another check.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Part {
    /// The block's header.
    Header,
    /// The value of the block's first field with this key; the header if there is none.
    Value(Key),
    /// Bytes of the unit.
    Bytes(Span),
}

impl From<Span> for Part {
    fn from(span: Span) -> Self {
        Self::Bytes(span)
    }
}

/// A way out, in terms of the unit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct MarkFix {
    pub(super) title: String,
    pub(super) changes: Vec<Change>,
}

/// One change of a fix. Text is written with line feeds and gets the file's line ends.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Change {
    /// Puts text in place of bytes of the unit.
    Replace(Span, String),
    /// Takes out the lines that hold these bytes of the unit.
    RemoveLines(Span),
    /// Adds a block behind everything in the file.
    Append(String),
}

impl Change {
    /// The changes of an edit that keeps to the block's own file and unit.
    pub(super) fn of(at: &Located<'_>, make: impl FnOnce(&mut NotebookEdit)) -> Vec<Self> {
        let mut edit = NotebookEdit::default();
        make(&mut edit);
        let start = at.entry.start;
        let edits = edit.files.remove(at.path).unwrap_or_default().into_iter();
        let change = |edit: TextEdit| {
            let span = Span {
                start: edit.span.start.saturating_sub(start),
                end: edit.span.end.saturating_sub(start),
            };
            Self::Replace(span, edit.text.replace("\r\n", "\n"))
        };
        edits.map(change).collect()
    }
}

impl Mark {
    pub(super) fn severity(mut self, severity: Severity) -> Self {
        debug_assert!(
            self.check.severities.contains(&severity),
            "{}",
            self.check.code
        );
        self.severity = severity;
        self
    }

    pub(super) fn related(mut self, unit: &UnitId, part: Part, message: impl Into<String>) -> Self {
        let spot = Spot {
            unit: unit.clone(),
            part,
        };
        self.related.push((spot, message.into()));
        self
    }

    pub(super) fn unnecessary(mut self) -> Self {
        self.unnecessary = true;
        self
    }

    pub(super) fn fix(mut self, title: impl Into<String>, changes: Vec<Change>) -> Self {
        self.fixes.push(MarkFix {
            title: title.into(),
            changes,
        });
        self
    }

    /// The files that the finding stands in and points to.
    pub(super) fn files(&self) -> impl Iterator<Item = &FilePath> {
        let related = self.related.iter().map(|(spot, _)| &spot.unit.file);
        std::iter::once(&self.spot.unit.file).chain(related)
    }

    /// The finding in terms of the files; `None` if its unit is gone.
    pub(super) fn resolved(&self, notebook: &Notebook) -> Option<Finding> {
        let mut finding = self.resolved_without_fixes(notebook)?;
        let (path, unit) = (&self.spot.unit.file, self.spot.unit.order);
        let file = notebook.file(path)?;
        let start = file.entries()[file.index_of(unit)?].start as usize;
        let fixes = self.fixes.iter().map(|fix| fix.resolved(path, file, start));
        finding.fixes.extend(fixes);
        Some(finding)
    }

    /// The finding without its ways out.
    pub(super) fn resolved_without_fixes(&self, notebook: &Notebook) -> Option<Finding> {
        let related = |(spot, message): &(Spot, String)| {
            let (_, span) = spot.resolved(notebook)?;
            let path = spot.unit.file.clone();
            Some(Related {
                path,
                span,
                message: message.clone(),
            })
        };
        let (_, span) = self.spot.resolved(notebook)?;
        Some(Finding {
            code: self.check.code,
            severity: self.severity,
            path: self.spot.unit.file.clone(),
            span,
            message: self.message.clone(),
            related: self.related.iter().filter_map(related).collect(),
            unnecessary: self.unnecessary,
            fixes: Vec::new(),
        })
    }
}

impl Spot {
    fn resolved<'a>(&self, notebook: &'a Notebook) -> Option<(&'a File, Span)> {
        let file = notebook.file(&self.unit.file)?;
        let entry = &file.entries()[file.index_of(self.unit.order)?];
        Some((file, self.part.in_unit(entry).shifted(entry.start as usize)))
    }
}

impl Part {
    fn in_unit(self, entry: &Entry) -> Span {
        let block = entry.unit.block();
        let header = block.map_or(Span::at(0), |block| block.header);
        let value = |block: &Block, key| Some(block.field(key)?.value_span);
        match self {
            Self::Header => header,
            Self::Value(key) => block.and_then(|block| value(block, key)).unwrap_or(header),
            Self::Bytes(span) => span,
        }
    }
}

impl MarkFix {
    fn resolved(&self, path: &FilePath, file: &File, unit_start: usize) -> Fix {
        let mut edit = NotebookEdit::default();
        let crlf = file.text().line(0).chars().any(|c| c == '\r');
        let ended = |text: &str| match crlf {
            true => text.replace('\n', "\r\n"),
            false => text.to_owned(),
        };
        for change in &self.changes {
            match change {
                Change::Replace(span, text) => {
                    edit.replace(path, span.shifted(unit_start), ended(text));
                }
                Change::RemoveLines(span) => {
                    edit.replace(path, whole_lines(file, span.shifted(unit_start)), "");
                }
                Change::Append(block) => {
                    let text = file.text();
                    let last = text.chars_at(text.len_chars()).reversed().next();
                    let gap = if matches!(last, Some('\n' | '\r')) {
                        "\n"
                    } else {
                        "\n\n"
                    };
                    let end = Span::at(text.len_bytes());
                    edit.replace(path, end, ended(&format!("{gap}{block}")));
                }
            }
        }
        Fix {
            title: self.title.clone(),
            edit,
        }
    }
}

/// The lines that a span touches, with their ends.
fn whole_lines(file: &File, span: Span) -> Span {
    let text = file.text();
    let first = text.byte_to_line(span.start as usize);
    let last = text.byte_to_line(span.end as usize);
    Span::new(text.line_to_byte(first), text.line_to_byte(last + 1))
}
