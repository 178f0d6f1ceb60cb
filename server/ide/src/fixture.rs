//! Notebooks for tests, written as text: a line `=== path` starts a file, `<|>` marks a cursor.

use std::collections::BTreeMap;

use chrono::{NaiveDate, NaiveDateTime};
use notes::FilePath;

use crate::edit::{NotebookEdit, applied};
use crate::{Analysis, Workspace};

/// A notebook that was read from a test's text.
pub(crate) struct Fixture {
    /// The notebook, at noon of 2027-02-15.
    pub(crate) workspace: Workspace,
    /// The text of each file, without cursors.
    pub(crate) files: BTreeMap<FilePath, String>,
    /// Where `<|>` stood, in order.
    pub(crate) cursors: Vec<(FilePath, usize)>,
}

/// The instant at which the tests' questions are asked.
pub(crate) fn now() -> NaiveDateTime {
    day("2027-02-15")
        .and_hms_opt(12, 0, 0)
        .expect("noon is a time of day")
}

/// A day from its date.
pub(crate) fn day(date: &str) -> NaiveDate {
    date.parse().expect("an ISO date")
}

/// Reads a notebook. What stands above the first `=== path` is the file `notes.porism`.
pub(crate) fn notebook(text: &str) -> Fixture {
    let mut files: BTreeMap<FilePath, String> = BTreeMap::new();
    let mut cursors = Vec::new();
    let mut path = FilePath::new("notes.porism");
    for line in text.split_inclusive('\n') {
        if let Some(name) = line.strip_prefix("=== ") {
            path = FilePath::new(name.trim());
            files.entry(path.clone()).or_default();
            continue;
        }
        let file = files.entry(path.clone()).or_default();
        let mut parts = line.split("<|>");
        file.push_str(parts.next().unwrap_or_default());
        for part in parts {
            cursors.push((path.clone(), file.len()));
            file.push_str(part);
        }
    }
    let texts = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()));
    let workspace = Workspace::from_files(now(), texts);
    Fixture {
        workspace,
        files,
        cursors,
    }
}

impl Fixture {
    /// The notebook's state.
    pub(crate) fn analysis(&self) -> &Analysis {
        self.workspace.analysis()
    }

    /// The only cursor.
    pub(crate) fn cursor(&self) -> (&FilePath, usize) {
        let [(path, offset)] = &self.cursors[..] else {
            panic!("one <|> is expected")
        };
        (path, *offset)
    }

    /// The files that an edit changes or creates, as they are after it, each below its `=== path`
    /// (without it when there is only one).
    pub(crate) fn after(&self, edit: &NotebookEdit) -> String {
        let mut changed: BTreeMap<&FilePath, String> = BTreeMap::new();
        for (path, edits) in &edit.files {
            let before = self.files.get(path).map_or("", String::as_str);
            changed.insert(
                path,
                applied(before, edits).expect("edits that fit the text"),
            );
        }
        for (path, text) in &edit.created {
            assert!(!self.files.contains_key(path), "{path} exists already");
            changed.insert(path, text.clone());
        }
        if let (1, Some(text)) = (changed.len(), changed.values().next()) {
            return text.clone();
        }
        changed
            .iter()
            .map(|(path, text)| format!("=== {path}\n{text}"))
            .collect()
    }
}
