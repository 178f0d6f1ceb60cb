//! One consistent state of the notebook, as a request sees it.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use ide::{Analysis, FilePath, Span};
use ropey::Rope;
use tower_lsp::lsp_types::{Location, Range, TextDocumentPositionParams, Url};

use super::documents::{OpenDocuments, Step};
use super::position::{self, Encoding};
use super::uri::Uri;
use crate::files;

/// One state of the notebook and of the open documents. A clone costs next to nothing.
#[derive(Clone)]
pub(crate) struct Snapshot {
    /// The notebook.
    pub(crate) analysis: Analysis,
    /// The documents that the client has open.
    pub(crate) documents: OpenDocuments,
    /// The folders of the workspace.
    pub(crate) folders: Arc<[Folder]>,
    /// How positions are counted.
    pub(crate) encoding: Encoding,
}

/// A folder of the workspace.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Folder {
    /// Its path as the client spells it.
    pub(crate) given: PathBuf,
    /// Its path with all links resolved.
    pub(crate) resolved: PathBuf,
}

impl Folder {
    /// The folder with this URI, if it is a folder of this machine.
    pub(crate) fn new(uri: &Uri) -> Option<Self> {
        let given = uri.to_path()?;
        let resolved = resolve(&given);
        Some(Self { given, resolved })
    }
}

/// A path with its links resolved as far as it exists.
fn resolve(path: &Path) -> PathBuf {
    fs::canonicalize(path).unwrap_or_else(|_| match (path.parent(), path.file_name()) {
        (Some(parent), Some(name)) => resolve(parent).join(name),
        _ => path.to_owned(),
    })
}

/// The path by which the notebook knows the document with this URI. A document without a file is
/// known by its URI.
pub(crate) fn path_of(uri: &Uri) -> FilePath {
    let file = uri
        .to_path()
        .and_then(|path| files::file_path(&resolve(&path)));
    file.unwrap_or_else(|| FilePath::new(uri.as_str()))
}

impl Snapshot {
    /// The path of a document about which something is asked. `None` if it is not in the
    /// notebook or not in step with the client, in which case there is nothing to answer.
    pub(crate) fn path(&self, url: &Url) -> Option<FilePath> {
        let uri = Uri::from(url.clone());
        let open = self
            .documents
            .iter()
            .find(|(_, document)| document.uri == uri);
        let path = match open {
            Some((path, document)) if document.step == Step::In => path.clone(),
            Some(_) => return None,
            None => path_of(&uri),
        };
        self.text(&path)?;
        Some(path)
    }

    /// The file and the byte that a request is about.
    pub(crate) fn place(&self, at: &TextDocumentPositionParams) -> Option<(FilePath, usize)> {
        let path = self.path(&at.text_document.uri)?;
        let offset = position::offset(self.text(&path)?, at.position, self.encoding);
        Some((path, offset))
    }

    /// The text of a file.
    pub(crate) fn text(&self, path: &FilePath) -> Option<&Rope> {
        self.analysis.notebook.file(path).map(|file| file.text())
    }

    /// The URI of a file, in the client's spelling where it is known.
    pub(crate) fn url(&self, path: &FilePath) -> Option<Url> {
        if let Some(document) = self.documents.get(path) {
            return Some(document.uri.clone().into());
        }
        let file = files::system_path(path);
        let spelled = self
            .folders
            .iter()
            .find_map(|folder| Some(folder.given.join(file.strip_prefix(&folder.resolved).ok()?)))
            .unwrap_or(file);
        let uri = Uri::from_path(&spelled).or_else(|| Uri::parse(path.as_str()))?;
        Some(uri.into())
    }

    /// The version of a file that the client has open.
    pub(crate) fn version(&self, path: &FilePath) -> Option<i32> {
        self.documents.get(path).map(|document| document.version)
    }

    /// The range of a span of a file.
    pub(crate) fn range(&self, path: &FilePath, span: Span) -> Range {
        match self.text(path) {
            Some(text) => position::range(text, span.range(), self.encoding),
            None => Range::default(),
        }
    }

    /// The bytes of a range of a file.
    pub(crate) fn span(&self, path: &FilePath, range: Range) -> Option<Span> {
        Some(position::byte_range(self.text(path)?, range, self.encoding).into())
    }

    /// The place of a span, for the client to go to.
    pub(crate) fn location(&self, path: &FilePath, span: Span) -> Option<Location> {
        Some(Location::new(self.url(path)?, self.range(path, span)))
    }
}

/// Places for the client to go to, of many spans in few files.
pub(crate) struct Places<'a> {
    snapshot: &'a Snapshot,
    urls: BTreeMap<FilePath, Option<Url>>,
}

impl<'a> Places<'a> {
    pub(crate) fn new(snapshot: &'a Snapshot) -> Self {
        let urls = BTreeMap::new();
        Self { snapshot, urls }
    }

    /// The range of a span of a file.
    pub(crate) fn range(&self, path: &FilePath, span: Span) -> Range {
        self.snapshot.range(path, span)
    }

    /// The place of a span, for the client to go to.
    pub(crate) fn location(&mut self, path: &FilePath, span: Span) -> Option<Location> {
        let url = match self.urls.get(path) {
            Some(url) => url.clone(),
            None => {
                let url = self.snapshot.url(path);
                self.urls.insert(path.clone(), url.clone());
                url
            }
        };
        Some(Location::new(url?, self.range(path, span)))
    }
}

#[cfg(test)]
mod tests {
    use ide::Workspace;

    use super::*;
    use crate::lsp::documents::Documents;

    fn snapshot(documents: &Documents, folders: &[Folder]) -> Snapshot {
        Snapshot {
            analysis: documents.workspace.analysis().clone(),
            documents: documents.open_documents().clone(),
            folders: folders.into(),
            encoding: Encoding::Utf16,
        }
    }

    #[test]
    fn a_document_without_a_file_is_known_by_its_uri() {
        let uri = Uri::parse("untitled:Untitled-1").unwrap();
        let path = path_of(&uri);
        assert_eq!(path.as_str(), "untitled:Untitled-1");
        let mut documents = Documents::new(Workspace::default(), Encoding::Utf16);
        let mut before = snapshot(&documents, &[]);
        assert_eq!(before.path(&uri.clone().into()), None);
        assert!(documents.open(uri.clone(), path.clone(), 1, "@topic 1\n"));
        before = snapshot(&documents, &[]);
        assert_eq!(before.path(&uri.clone().into()), Some(path.clone()));
        assert_eq!(before.url(&path), Some(uri.into()));
    }

    #[test]
    fn a_document_that_is_out_of_step_is_not_answered_about() {
        let uri = Uri::parse("untitled:a").unwrap();
        let mut documents = Documents::new(Workspace::default(), Encoding::Utf16);
        documents.open(uri.clone(), path_of(&uri), 1, "text");
        documents.lose(&uri);
        assert_eq!(snapshot(&documents, &[]).path(&uri.into()), None);
    }

    #[cfg(unix)]
    #[test]
    fn files_keep_the_spelling_of_their_folder() {
        let folder = tempfile::tempdir().unwrap();
        let real = fs::canonicalize(folder.path()).unwrap();
        fs::create_dir(real.join("real")).unwrap();
        fs::write(real.join("real/a b.porism"), "").unwrap();
        std::os::unix::fs::symlink("real", real.join("link")).unwrap();
        let root = Folder::new(&Uri::from_path(&real.join("link")).unwrap()).unwrap();
        assert_eq!(root.resolved, real.join("real"));

        let spelled = Uri::from_path(&real.join("link/a b.porism")).unwrap();
        let path = path_of(&spelled);
        assert_eq!(files::system_path(&path), real.join("real/a b.porism"));
        let documents = Documents::new(Workspace::default(), Encoding::Utf16);
        assert_eq!(
            snapshot(&documents, &[root]).url(&path),
            Some(spelled.clone().into())
        );
        let unsaved = Uri::from_path(&real.join("link/papers/new.porism")).unwrap();
        assert_eq!(
            files::system_path(&path_of(&unsaved)),
            real.join("real/papers/new.porism")
        );
    }
}
