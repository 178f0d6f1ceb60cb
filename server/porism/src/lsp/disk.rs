//! The notebook's files on disk: those that the client does not have open.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use ide::FilePath;
use tracing::{info, warn};

use super::documents::Documents;
use super::snapshot::Folder;
use super::uri::Uri;
use crate::files::{self, Found, Skipped, Stamp};

/// How long after a walk the disk is taken to be as it was.
const FRESH: Duration = Duration::from_secs(2);

/// What is known of the disk.
#[derive(Default)]
pub(crate) struct Disk {
    folders: Arc<[Folder]>,
    /// The files that the notebook has from disk.
    stamps: BTreeMap<FilePath, Stamp>,
    /// What the walk under way came upon so far.
    seen: Option<BTreeSet<FilePath>>,
    /// The folders of the next walk.
    next: Vec<PathBuf>,
    walked: Option<Instant>,
    skipped: Vec<Skipped>,
    /// What the user was told of: once is enough.
    told: BTreeSet<String>,
}

/// A walk to make on another thread.
pub(crate) struct Walk {
    folders: Vec<PathBuf>,
    known: BTreeMap<FilePath, Stamp>,
}

impl Walk {
    /// Makes the walk.
    pub(crate) fn run(&self, found: &mut dyn FnMut(Found)) {
        files::walk(&self.folders, &self.known, found);
    }

    /// The folders to walk through.
    pub(crate) fn folders(&self) -> &[PathBuf] {
        &self.folders
    }
}

impl Disk {
    /// The folders of the workspace.
    pub(crate) fn folders(&self) -> &Arc<[Folder]> {
        &self.folders
    }

    /// Adds folders to the workspace and takes others out of it, with their files. The files of
    /// new folders are read by the next walk.
    pub(crate) fn set_folders(
        &mut self,
        documents: &mut Documents,
        added: &[Uri],
        removed: &[Uri],
    ) {
        let removed: Vec<Folder> = removed.iter().filter_map(Folder::new).collect();
        let added: Vec<Folder> = added.iter().filter_map(Folder::new).collect();
        let kept = self
            .folders
            .iter()
            .filter(|folder| !removed.contains(folder))
            .cloned();
        self.folders = kept.chain(added.iter().cloned()).collect();
        let gone: Vec<FilePath> = self
            .stamps
            .keys()
            .filter(|path| !self.is_inside(path))
            .cloned()
            .collect();
        for path in gone {
            self.forget(documents, &path);
        }
        self.next
            .extend(added.into_iter().map(|folder| folder.resolved));
    }

    /// Asks for a walk through all folders, unless there was one a moment ago.
    pub(crate) fn suspect(&mut self) {
        if self.walked.is_none_or(|walked| walked.elapsed() > FRESH) {
            self.next = self
                .folders
                .iter()
                .map(|folder| folder.resolved.clone())
                .collect();
        }
    }

    /// The walk to start now, if one is due and none is under way.
    pub(crate) fn start_walk(&mut self) -> Option<Walk> {
        if self.seen.is_some() || self.next.is_empty() {
            return None;
        }
        self.seen = Some(BTreeSet::new());
        Some(Walk {
            folders: std::mem::take(&mut self.next),
            known: self.stamps.clone(),
        })
    }

    /// Whether a walk is under way or due.
    pub(crate) fn is_walking(&self) -> bool {
        self.seen.is_some() || !self.next.is_empty()
    }

    /// Takes in what a walk came upon.
    pub(crate) fn found(&mut self, documents: &mut Documents, found: Found) {
        match found {
            Found::Note(note) => {
                self.see(&note.path);
                // The file may have been read again while the walk went on.
                let newer = self
                    .stamps
                    .get(&note.path)
                    .is_some_and(|at| at.is_after(&note.stamp));
                if !newer && !documents.is_open(&note.path) {
                    self.stamps.insert(note.path.clone(), note.stamp);
                    documents.workspace.set_text(&note.path, &note.text);
                }
            }
            Found::Same(path) => self.see(&path),
            Found::Skipped(skipped) => self.skipped.push(skipped),
        }
    }

    fn see(&mut self, path: &FilePath) {
        if let Some(seen) = &mut self.seen {
            seen.insert(path.clone());
        }
    }

    /// Ends a walk: what it did not come upon is looked for once more.
    pub(crate) fn walk_ended(&mut self, documents: &mut Documents, folders: &[PathBuf]) {
        let seen = self.seen.take().unwrap_or_default();
        self.walked = Some(Instant::now());
        let within = |path: &FilePath| {
            let path = files::system_path(path);
            folders.iter().any(|folder| path.starts_with(folder))
        };
        let missed: Vec<FilePath> = self
            .stamps
            .keys()
            .filter(|path| !seen.contains(path) && within(path))
            .cloned()
            .collect();
        for path in missed {
            self.read(documents, &path);
        }
        info!(files = self.stamps.len(), "walked through the notebook");
    }

    /// Takes over what stands on disk under a path, unless the client has the file open.
    pub(crate) fn read(&mut self, documents: &mut Documents, path: &FilePath) {
        if documents.is_open(path) {
            return;
        }
        let file = files::system_path(path);
        if !file.is_absolute() || !self.is_inside(path) {
            self.forget(documents, path);
            return;
        }
        match files::read(&file) {
            Ok(note) => {
                self.stamps.insert(note.path.clone(), note.stamp);
                documents.workspace.set_text(&note.path, &note.text);
            }
            Err(skipped) => {
                self.forget(documents, path);
                if file.exists() {
                    self.skipped.push(skipped);
                }
            }
        }
    }

    fn forget(&mut self, documents: &mut Documents, path: &FilePath) {
        self.stamps.remove(path);
        if !documents.is_open(path) {
            documents.workspace.remove(path);
        }
    }

    /// Whether a path lies in one of the folders.
    pub(crate) fn is_inside(&self, path: &FilePath) -> bool {
        let path: &Path = &files::system_path(path);
        self.folders
            .iter()
            .any(|folder| path.starts_with(&folder.resolved))
    }

    /// One warning about what was skipped and not told of before.
    pub(crate) fn take_warning(&mut self) -> Option<String> {
        let mut fresh = std::mem::take(&mut self.skipped);
        fresh.retain(|skipped| self.told.insert(skipped.to_string()));
        for skipped in &fresh {
            warn!("skipped {skipped}");
        }
        files::warning(&fresh)
    }
}

#[cfg(test)]
mod tests {
    use std::fs;

    use ide::Workspace;

    use super::*;
    use crate::lsp::position::Encoding;
    use crate::lsp::snapshot::path_of;

    /// A notebook on disk, with what the server knows of it.
    struct Notebook {
        folder: tempfile::TempDir,
        disk: Disk,
        documents: Documents,
    }

    impl Notebook {
        fn new(files: &[(&str, &str)]) -> Self {
            let folder = tempfile::Builder::new().prefix("notes").tempdir().unwrap();
            let documents = Documents::new(Workspace::default(), Encoding::Utf16);
            let mut notebook = Self {
                folder,
                disk: Disk::default(),
                documents,
            };
            for (name, text) in files {
                notebook.write(name, text);
            }
            let uri = Uri::from_path(notebook.folder.path()).unwrap();
            notebook
                .disk
                .set_folders(&mut notebook.documents, &[uri], &[]);
            notebook.walk();
            notebook
        }

        fn write(&self, name: &str, text: &str) {
            let path = self.folder.path().join(name);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, text).unwrap();
        }

        fn uri(&self, name: &str) -> Uri {
            Uri::from_path(&self.folder.path().join(name)).unwrap()
        }

        fn open(&mut self, name: &str, text: &str) {
            let uri = self.uri(name);
            let path = path_of(&uri);
            assert!(self.documents.open(uri, path, 1, text));
        }

        fn walk(&mut self) {
            let walk = self.disk.start_walk().expect("a walk is due");
            let mut found = Vec::new();
            walk.run(&mut |one| found.push(one));
            for one in found {
                self.disk.found(&mut self.documents, one);
            }
            self.disk.walk_ended(&mut self.documents, walk.folders());
            assert!(!self.disk.is_walking());
        }

        /// Name and text of every file of the notebook.
        fn texts(&self) -> Vec<String> {
            let files = self.documents.workspace.analysis().notebook.files();
            files
                .map(|(path, file)| {
                    let name = path.as_str().rsplit('/').next().unwrap();
                    format!("{name} {}", file.text())
                })
                .collect()
        }
    }

    #[test]
    fn a_walk_reads_what_changed_and_forgets_what_went() {
        let mut notebook = Notebook::new(&[("a.porism", "one"), ("b/c.porism", "two")]);
        assert_eq!(notebook.texts(), ["a.porism one", "c.porism two"]);
        fs::remove_dir_all(notebook.folder.path().join("b")).unwrap();
        notebook.write("a.porism", "longer");
        notebook.write("d.porism", "three");
        notebook.disk.walked = None;
        notebook.disk.suspect();
        notebook.walk();
        assert_eq!(notebook.texts(), ["a.porism longer", "d.porism three"]);
    }

    #[test]
    fn the_disk_is_not_walked_again_a_moment_later() {
        let mut notebook = Notebook::new(&[]);
        notebook.disk.suspect();
        assert!(!notebook.disk.is_walking());
    }

    #[test]
    fn an_open_document_counts_before_its_file() {
        let mut notebook = Notebook::new(&[("a.porism", "disk")]);
        notebook.open("a.porism", "editor");
        let path = path_of(&notebook.uri("a.porism"));
        notebook.disk.read(&mut notebook.documents, &path);
        notebook.disk.walked = None;
        notebook.disk.suspect();
        notebook.walk();
        assert_eq!(notebook.texts(), ["a.porism editor"]);
        notebook.documents.close(&notebook.uri("a.porism"));
        notebook.disk.read(&mut notebook.documents, &path);
        assert_eq!(notebook.texts(), ["a.porism disk"]);
    }

    #[test]
    fn a_folder_leaves_with_its_files() {
        let mut notebook = Notebook::new(&[("a.porism", "one"), ("b.porism", "two")]);
        notebook.open("b.porism", "open");
        let uri = Uri::from_path(notebook.folder.path()).unwrap();
        notebook
            .disk
            .set_folders(&mut notebook.documents, &[], &[uri]);
        assert_eq!(notebook.texts(), ["b.porism open"]);
    }

    #[test]
    fn a_file_outside_the_folders_counts_while_it_is_open() {
        let mut notebook = Notebook::new(&[]);
        let other = tempfile::tempdir().unwrap();
        fs::write(other.path().join("x.porism"), "disk").unwrap();
        let uri = Uri::from_path(&other.path().join("x.porism")).unwrap();
        let path = path_of(&uri);
        assert!(
            notebook
                .documents
                .open(uri.clone(), path.clone(), 1, "editor")
        );
        assert_eq!(notebook.texts(), ["x.porism editor"]);
        notebook.documents.close(&uri);
        notebook.disk.read(&mut notebook.documents, &path);
        assert!(notebook.texts().is_empty());
    }

    #[test]
    fn what_is_skipped_is_told_once() {
        let mut notebook = Notebook::new(&[]);
        fs::write(notebook.folder.path().join("bad.porism"), b"\xff").unwrap();
        for expected in [true, false] {
            notebook.disk.walked = None;
            notebook.disk.suspect();
            notebook.walk();
            let warning = notebook.disk.take_warning();
            assert_eq!(
                warning.is_some_and(|text| text.contains("bad.porism")),
                expected
            );
        }
    }
}
