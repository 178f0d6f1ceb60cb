//! The documents that the client has open, kept in step with it.
//!
//! While a document is open its text is the client's, not the disk's. The protocol has no way to
//! ask for that text, so the server must not lose a change; where it does (a notification could
//! not be read, a document outgrew the limit), the document is set aside: nothing is answered
//! from a stale text until the client sends the whole text again, which it does when the document
//! is saved or opened again.
//!
//! A gap in the version numbers is no loss: LSP 3.17 says only that "the version number of a
//! document will increase after each change", and real clients skip numbers. What is lost is
//! noticed where it happens, when the notification is read. As a second net the client is asked
//! to send the text with every save (`save.includeText`), and a text that differs from the
//! server's replaces it.

use std::collections::BTreeMap;
use std::ops::Range;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use ide::{FilePath, Workspace};
use ropey::Rope;
use tower_lsp::lsp_types::TextDocumentContentChangeEvent;
use tracing::{debug, warn};

use super::position::{self, Encoding};
use super::uri::Uri;
use crate::files::LARGEST;

/// A document that the client has open.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Document {
    /// Its URI as the client spells it.
    pub(crate) uri: Uri,
    /// The version of the text.
    pub(crate) version: i32,
    /// Whether the server has the client's text.
    pub(crate) step: Step,
}

/// Whether the server's text of a document is the client's.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Step {
    /// It is.
    In,
    /// A change could not be read.
    Lost,
    /// The text is larger than the server reads.
    TooLarge,
    /// Reading the text panicked.
    Failed,
}

impl Step {
    /// What to tell the user; nothing while all is well.
    pub(crate) fn warning(self) -> Option<String> {
        match self {
            Self::In => None,
            Self::Lost => Some(
                "A change of this file could not be read, so nothing in it is checked now. \
                 Save it, or close and open it again."
                    .to_owned(),
            ),
            Self::TooLarge => Some(format!(
                "This file is larger than {} MiB, so nothing in it is checked. Split it into \
                 several files.",
                LARGEST >> 20
            )),
            Self::Failed => Some(
                "Reading this file failed in the server, so nothing in it is checked; the file \
                 is unchanged. Save it to try again."
                    .to_owned(),
            ),
        }
    }
}

/// The open documents by path, as a snapshot shares them.
pub(crate) type OpenDocuments = Arc<BTreeMap<FilePath, Document>>;

/// The open documents and the notebook that they are part of.
pub(crate) struct Documents {
    /// The notebook.
    pub(crate) workspace: Workspace,
    open: OpenDocuments,
    paths: BTreeMap<Uri, FilePath>,
    encoding: Encoding,
}

/// Edits with more untouched bytes than this between them are handed on apart.
const NEAR: usize = 4096;

/// A notification with more changes than this is handed on as one change.
const MANY: usize = 32;

impl Documents {
    /// No document is open.
    pub(crate) fn new(workspace: Workspace, encoding: Encoding) -> Self {
        Self {
            workspace,
            open: OpenDocuments::default(),
            paths: BTreeMap::new(),
            encoding,
        }
    }

    /// The open documents.
    pub(crate) fn open_documents(&self) -> &OpenDocuments {
        &self.open
    }

    /// Whether the client has a file open.
    pub(crate) fn is_open(&self, path: &FilePath) -> bool {
        self.open.contains_key(path)
    }

    /// Opens a document. A second URI for a file that is open already is refused.
    pub(crate) fn open(&mut self, uri: Uri, path: FilePath, version: i32, text: &str) -> bool {
        if self
            .open
            .get(&path)
            .is_some_and(|document| document.uri != uri)
        {
            return false;
        }
        let step = self.set_text(&path, text);
        self.paths.insert(uri.clone(), path.clone());
        Arc::make_mut(&mut self.open).insert(path, Document { uri, version, step });
        true
    }

    /// Applies the changes of one notification, in order.
    pub(crate) fn change(
        &mut self,
        uri: &Uri,
        version: i32,
        changes: &[TextDocumentContentChangeEvent],
    ) {
        let Some(path) = self.paths.get(uri).cloned() else {
            warn!(%uri, "a change of a document that is not open");
            return;
        };
        let Some(document) = self.open.get(&path) else {
            return;
        };
        if version <= document.version {
            warn!(%uri, version, after = document.version, "versions do not increase");
        }
        // All that stands before the last whole text is overwritten by it.
        let whole = changes.iter().rposition(|change| change.range.is_none());
        let (mut step, edits) = match whole {
            Some(at) => (self.set_text(&path, &changes[at].text), &changes[at + 1..]),
            None => (document.step, changes),
        };
        if step == Step::In {
            step = self.edit(&path, edits);
        } else if whole.is_none() {
            debug!(%uri, version, "a change on top of a lost one is set aside too");
        }
        self.update(&path, |document| {
            document.version = version;
            document.step = step;
        });
    }

    /// Compares the text that was saved with the server's, and takes it over.
    pub(crate) fn save(&mut self, uri: &Uri, text: &str) {
        let Some(path) = self.paths.get(uri).cloned() else {
            return;
        };
        let Some(document) = self.open.get(&path) else {
            return;
        };
        let own = self.workspace.analysis().notebook.file(&path);
        if document.step == Step::In && own.is_some_and(|own| own.text() == text) {
            return;
        }
        if document.step == Step::In {
            warn!(%uri, version = document.version, "the saved text is not the server's; taking it over");
        }
        let step = self.set_text(&path, text);
        self.update(&path, |document| document.step = step);
    }

    /// Sets a document aside because a notification about it could not be read.
    pub(crate) fn lose(&mut self, uri: &Uri) {
        let Some(path) = self.paths.get(uri).cloned() else {
            return;
        };
        self.workspace.remove(&path);
        self.update(&path, |document| document.step = Step::Lost);
    }

    /// Sets a document aside because reading it panicked. The notebook is left alone: see
    /// [`Documents::rebuild`].
    pub(crate) fn fail(&mut self, uri: &Uri) {
        let Some(path) = self.paths.get(uri).cloned() else {
            return;
        };
        self.update(&path, |document| document.step = Step::Failed);
    }

    /// Reads all files into a fresh notebook, but those set aside. Returns the paths of files
    /// that cannot be read without a panic; they are left out.
    pub(crate) fn rebuild(&mut self, fresh: Workspace) -> Vec<FilePath> {
        let old = std::mem::replace(&mut self.workspace, fresh);
        let mut failed = Vec::new();
        for (path, file) in old.analysis().notebook.files() {
            let aside = self
                .open
                .get(path)
                .is_some_and(|document| document.step != Step::In);
            if aside {
                continue;
            }
            let text = file.text().to_string();
            let read = AssertUnwindSafe(|| self.workspace.set_text(path, &text));
            if catch_unwind(read).is_err() {
                failed.push(path.clone());
            }
        }
        for path in &failed {
            self.update(path, |document| document.step = Step::Failed);
        }
        failed
    }

    /// Closes a document and returns its path: from now on the text on disk counts.
    pub(crate) fn close(&mut self, uri: &Uri) -> Option<FilePath> {
        let path = self.paths.remove(uri)?;
        Arc::make_mut(&mut self.open).remove(&path);
        Some(path)
    }

    fn update(&mut self, path: &FilePath, change: impl FnOnce(&mut Document)) {
        if let Some(document) = Arc::make_mut(&mut self.open).get_mut(path) {
            change(document);
        }
    }

    fn set_text(&mut self, path: &FilePath, text: &str) -> Step {
        if text.len() as u64 > LARGEST {
            self.workspace.remove(path);
            return Step::TooLarge;
        }
        self.workspace.set_text(path, text);
        Step::In
    }

    fn edit(&mut self, path: &FilePath, edits: &[TextDocumentContentChangeEvent]) -> Step {
        let near = if edits.len() > MANY { usize::MAX } else { NEAR };
        let Some(file) = self.workspace.analysis().notebook.file(path) else {
            return Step::Lost;
        };
        let mut text = file.text().clone();
        let mut pending: Option<Replaced> = None;
        for edit in edits {
            // Whole texts were dealt with before.
            let Some(range) = edit.range else { continue };
            let bytes = position::byte_range(&text, range, self.encoding);
            if (text.len_bytes() - bytes.len() + edit.text.len()) as u64 > LARGEST {
                self.workspace.remove(path);
                return Step::TooLarge;
            }
            pending = match pending {
                Some(earlier) if earlier.is_within(&bytes, near) => Some(earlier),
                Some(earlier) => {
                    self.hand_on(path, &text, earlier);
                    None
                }
                None => None,
            };
            let chars = text.byte_to_char(bytes.start)..text.byte_to_char(bytes.end);
            text.remove(chars.clone());
            text.insert(chars.start, &edit.text);
            pending = Some(match pending {
                Some(earlier) => earlier.then(&bytes, edit.text.len()),
                None => Replaced {
                    old: bytes.clone(),
                    new: bytes.start..bytes.start + edit.text.len(),
                },
            });
        }
        if let Some(last) = pending {
            self.hand_on(path, &text, last);
        }
        Step::In
    }

    /// Gives the notebook what stands in `text` where something was replaced.
    fn hand_on(&mut self, path: &FilePath, text: &Rope, replaced: Replaced) {
        let new = text.byte_slice(replaced.new).to_string();
        self.workspace.edit(path, replaced.old, &new);
    }
}

/// What some edits replaced, as one: these bytes of the text before, by those of the text after.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Replaced {
    old: Range<usize>,
    new: Range<usize>,
}

impl Replaced {
    /// Whether an edit of the text after is at most `near` bytes away.
    fn is_within(&self, bytes: &Range<usize>, near: usize) -> bool {
        bytes.start <= self.new.end.saturating_add(near)
            && self.new.start <= bytes.end.saturating_add(near)
    }

    /// With one more edit, which replaces `bytes` of the text after by `len` bytes.
    fn then(self, bytes: &Range<usize>, len: usize) -> Self {
        let before = self.new.start.saturating_sub(bytes.start);
        let behind = bytes.end.saturating_sub(self.new.end);
        let start = self.new.start - before;
        let end = self.new.end + behind - bytes.len() + len;
        Self {
            old: self.old.start - before..self.old.end + behind,
            new: start..end,
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;
    use tower_lsp::lsp_types::{Position, Range as LspRange};

    use super::*;

    const URI: &str = "file:///notes/a.porism";

    fn uri() -> Uri {
        Uri::parse(URI).unwrap()
    }

    fn path() -> FilePath {
        FilePath::new("/notes/a.porism")
    }

    fn opened(text: &str) -> Documents {
        let mut documents = Documents::new(Workspace::default(), Encoding::Utf16);
        assert!(documents.open(uri(), path(), 1, text));
        documents
    }

    fn text(documents: &Documents) -> Option<String> {
        documents
            .workspace
            .analysis()
            .notebook
            .file(&path())
            .map(|file| file.text().to_string())
    }

    fn step(documents: &Documents) -> Step {
        documents.open_documents()[&path()].step
    }

    /// A change of a range on one line, `line:start-end`.
    fn change(place: &str, text: &str) -> TextDocumentContentChangeEvent {
        let (line, characters) = place.split_once(':').unwrap();
        let (start, end) = characters.split_once('-').unwrap();
        let at = |character: &str| Position::new(line.parse().unwrap(), character.parse().unwrap());
        TextDocumentContentChangeEvent {
            range: Some(LspRange::new(at(start), at(end))),
            range_length: None,
            text: text.to_owned(),
        }
    }

    fn whole(text: &str) -> TextDocumentContentChangeEvent {
        TextDocumentContentChangeEvent {
            range: None,
            range_length: None,
            text: text.to_owned(),
        }
    }

    fn check(before: &str, changes: &[TextDocumentContentChangeEvent], after: &str) {
        let mut documents = opened(before);
        documents.change(&uri(), 2, changes);
        assert_eq!(text(&documents).as_deref(), Some(after));
        assert_eq!(documents.open_documents()[&path()].version, 2);
        assert_eq!(step(&documents), Step::In);
    }

    #[test]
    fn each_change_is_in_terms_of_the_text_after_the_one_before() {
        check(
            "abc\ndef",
            &[change("1:0-1", ""), change("1:0-2", "xyz")],
            "abc\nxyz",
        );
        check("a𝔾b", &[change("0:3-4", "c"), change("0:1-3", "")], "ac");
        check(
            "",
            &[change("0:0-0", "@topic 1\n"), change("1:0-0", "a")],
            "@topic 1\na",
        );
    }

    #[test]
    fn a_whole_text_replaces_all_that_was_before() {
        check("abc", &[whole("new")], "new");
        check(
            "abc",
            &[change("0:0-1", "x"), whole("new"), change("0:3-3", "er")],
            "newer",
        );
    }

    #[test]
    fn positions_past_the_end_are_the_end() {
        check("abc\n", &[change("7:0-9", "x")], "abc\nx");
        check("abc\nd", &[change("0:9-9", "x")], "abcx\nd");
    }

    #[test]
    fn versions_may_skip_numbers() {
        let mut documents = opened("a");
        documents.change(&uri(), 40, &[change("0:1-1", "b")]);
        documents.change(&uri(), 50, &[change("0:2-2", "c")]);
        assert_eq!(
            (text(&documents).as_deref(), step(&documents)),
            (Some("abc"), Step::In)
        );
    }

    #[test]
    fn a_lost_change_sets_the_document_aside_until_a_whole_text_comes() {
        let mut documents = opened("abc");
        documents.lose(&uri());
        documents.change(&uri(), 3, &[change("0:0-1", "x")]);
        assert_eq!((text(&documents), step(&documents)), (None, Step::Lost));
        documents.change(&uri(), 4, &[whole("xyz")]);
        assert_eq!(
            (text(&documents).as_deref(), step(&documents)),
            (Some("xyz"), Step::In)
        );
    }

    #[test]
    fn a_saved_text_ends_every_difference() {
        let mut documents = opened("abc");
        documents.lose(&uri());
        documents.save(&uri(), "saved");
        assert_eq!(
            (text(&documents).as_deref(), step(&documents)),
            (Some("saved"), Step::In)
        );
        documents.save(&uri(), "other");
        assert_eq!(text(&documents).as_deref(), Some("other"));
    }

    #[test]
    fn a_text_that_outgrows_the_limit_is_set_aside() {
        let mut documents = opened("abc");
        let large = "a".repeat(LARGEST as usize - 2);
        documents.change(&uri(), 2, &[change("0:0-0", &large)]);
        assert_eq!((text(&documents), step(&documents)), (None, Step::TooLarge));
        documents.change(&uri(), 3, &[change("0:0-9", "")]);
        assert_eq!(step(&documents), Step::TooLarge);
        documents.change(&uri(), 4, &[whole("small")]);
        assert_eq!(
            (text(&documents).as_deref(), step(&documents)),
            (Some("small"), Step::In)
        );
    }

    #[test]
    fn a_fresh_notebook_has_all_files_but_the_one_that_failed() {
        let mut documents = opened("abc");
        let other = FilePath::new("/notes/b.porism");
        documents.workspace.set_text(&other, "other");
        documents.fail(&uri());
        assert!(documents.rebuild(Workspace::default()).is_empty());
        let texts = documents.workspace.analysis().notebook.files();
        let texts: Vec<_> = texts
            .map(|(path, file)| (path.clone(), file.text().to_string()))
            .collect();
        assert_eq!(texts, [(other, "other".to_owned())]);
        assert_eq!(step(&documents), Step::Failed);
        documents.save(&uri(), "abc");
        assert_eq!(
            (text(&documents).as_deref(), step(&documents)),
            (Some("abc"), Step::In)
        );
    }

    #[test]
    fn a_second_name_for_an_open_file_is_refused() {
        let mut documents = opened("abc");
        let other = Uri::parse("file:///link/a.porism").unwrap();
        assert!(!documents.open(other.clone(), path(), 1, "xyz"));
        documents.change(&other, 2, &[whole("xyz")]);
        assert_eq!(text(&documents).as_deref(), Some("abc"));
    }

    #[test]
    fn a_closed_document_is_known_no_longer() {
        let mut documents = opened("abc");
        assert_eq!(documents.close(&uri()), Some(path()));
        assert_eq!(documents.close(&uri()), None);
        assert!(documents.open_documents().is_empty());
    }

    fn edits() -> impl Strategy<Value = Vec<(u32, u32, u32, String)>> {
        prop::collection::vec((0..6u32, 0..12u32, 0..12u32, "[a@ \n$é𝔾]{0,8}"), 1..50)
    }

    proptest! {
        #[test]
        fn a_document_is_the_text_that_its_changes_make(
            before in "[a@ \n$é𝔾]{0,60}",
            edits in edits(),
            batch in 1..40usize,
        ) {
            let mut documents = opened(&before);
            let mut expected = before;
            for (i, edits) in edits.chunks(batch).enumerate() {
                let changes: Vec<_> = edits
                    .iter()
                    .map(|(line, a, b, text)| change(&format!("{line}:{}-{}", a.min(b), a.max(b)), text))
                    .collect();
                for change in &changes {
                    let range = change.range.unwrap();
                    let bytes = position::byte_range(&Rope::from_str(&expected), range, Encoding::Utf16);
                    expected.replace_range(bytes, &change.text);
                }
                documents.change(&uri(), i as i32 + 2, &changes);
                prop_assert_eq!(text(&documents), Some(expected.clone()));
            }
        }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(16))]

        #[test]
        fn far_edits_are_handed_on_apart_and_near_ones_as_one(
            edits in prop::collection::vec((0..30_000usize, 0..40usize, "[a\n@]{0,9}"), 1..40),
        ) {
            let before = "a line of notes\n".repeat(2000);
            let mut documents = Documents::new(Workspace::default(), Encoding::Utf8);
            documents.open(uri(), path(), 1, &before);
            let mut expected = before;
            let mut changes = Vec::new();
            for (at, len, text) in edits {
                let rope = Rope::from_str(&expected);
                let end = (at + len).min(expected.len());
                let range = position::range(&rope, at.min(end)..end, Encoding::Utf8);
                changes.push(TextDocumentContentChangeEvent {
                    range: Some(range),
                    range_length: None,
                    text: text.clone(),
                });
                expected.replace_range(at.min(end)..end, &text);
            }
            documents.change(&uri(), 2, &changes);
            prop_assert_eq!(text(&documents), Some(expected));
        }
    }
}
