//! Changes to make to a notebook: plain data that the binary turns into an editor's edit or into
//! an atomic replacement of files.

use std::collections::BTreeMap;

use notes::{FilePath, Span};

/// One replacement in a file.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct TextEdit {
    /// The bytes to replace, counted from the start of the file; empty for an insertion.
    pub span: Span,
    /// What to put there.
    pub text: String,
}

/// A change over several files, to be made and undone as one.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct NotebookEdit {
    /// The edits of each file: ascending, not overlapping, all in terms of the text before.
    pub files: BTreeMap<FilePath, Vec<TextEdit>>,
    /// Files to create, with their text. A file of this name must not exist yet.
    pub created: BTreeMap<FilePath, String>,
}

impl NotebookEdit {
    /// Adds a replacement, keeping the file's edits in order.
    pub fn replace(&mut self, path: &FilePath, span: Span, text: impl Into<String>) {
        let edits = self.files.entry(path.clone()).or_default();
        let at = edits.partition_point(|edit| edit.span.start <= span.start);
        edits.insert(
            at,
            TextEdit {
                span,
                text: text.into(),
            },
        );
    }

    /// Whether nothing would change.
    pub fn is_empty(&self) -> bool {
        self.files.is_empty() && self.created.is_empty()
    }
}

/// Applies edits to a text; `None` if one reaches past the end, splits a character or overlaps
/// the one before it.
pub fn applied(text: &str, edits: &[TextEdit]) -> Option<String> {
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for edit in edits {
        let range = edit.span.range();
        if range.start < at {
            return None;
        }
        out.push_str(text.get(at..range.start)?);
        text.get(range.clone())?;
        out.push_str(&edit.text);
        at = range.end;
    }
    out.push_str(text.get(at..)?);
    Some(out)
}
