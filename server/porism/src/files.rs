//! The files of a notebook on disk: found, read, and replaced whole or not at all.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::fs::{self, File, Permissions};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};
use std::time::SystemTime;

use ide::FilePath;
use ignore::WalkBuilder;

/// What the names of note files end in.
pub(crate) const EXTENSION: &str = "porism";

/// The largest file that is read, in bytes.
pub(crate) const LARGEST: u64 = 16 << 20;

/// How many skipped files a warning names; the log names all.
const NAMED: usize = 10;

/// The byte order mark that some editors put before UTF-8. Editors hide it from the text that
/// they show, so offsets do not count it.
const BYTE_ORDER_MARK: &str = "\u{feff}";

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct NoteFile {
    /// Its path with all links resolved, as the notebook knows it.
    pub(crate) path: FilePath,
    /// Its text.
    pub(crate) text: String,
    /// What the system said of it before it was read.
    pub(crate) stamp: Stamp,
}

/// By what a file that changed is told from one that did not.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Stamp {
    modified: Option<SystemTime>,
    len: u64,
}

impl Stamp {
    /// Whether the file was written later than when it had another stamp.
    pub(crate) fn is_after(&self, other: &Self) -> bool {
        self.modified > other.modified
    }
}

/// What a walk comes upon.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Found {
    /// A file that was read.
    Note(NoteFile),
    /// A file that is as it was.
    Same(FilePath),
    /// A file or folder that was left out.
    Skipped(Skipped),
}

/// A file or folder that was left out, and why.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Skipped {
    /// The path, as it was found.
    pub(crate) path: PathBuf,
    /// The reason, as the end of a sentence that starts with the path.
    pub(crate) reason: String,
}

impl Skipped {
    fn new(path: &Path, reason: impl fmt::Display) -> Self {
        Self {
            path: path.to_owned(),
            reason: reason.to_string(),
        }
    }
}

impl fmt::Display for Skipped {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}: {}", self.path.display(), self.reason)
    }
}

/// One message that names what was skipped; `None` if nothing was.
pub(crate) fn warning(skipped: &[Skipped]) -> Option<String> {
    if skipped.is_empty() {
        return None;
    }
    let mut text = String::from("Not read, so nothing in it counts:");
    for one in skipped.iter().take(NAMED) {
        text.push_str(&format!("\n{one}"));
    }
    if skipped.len() > NAMED {
        text.push_str(&format!(
            "\nand {} more, all named in the log",
            skipped.len() - NAMED
        ));
    }
    Some(text)
}

/// Whether a path names a note file.
pub(crate) fn is_note(path: &Path) -> bool {
    path.extension()
        .is_some_and(|extension| extension == EXTENSION)
}

/// Walks folders for note files, in the order of their names, and hands over each one. A file
/// whose stamp is `known` is not read again. Hidden folders and `node_modules` are passed by;
/// what version control ignores is not, for notes may well be private. Links are followed, and a
/// file that is reached twice counts once.
pub(crate) fn walk(
    folders: &[PathBuf],
    known: &BTreeMap<FilePath, Stamp>,
    found: &mut dyn FnMut(Found),
) {
    let Some((first, rest)) = folders.split_first() else {
        return;
    };
    let mut builder = WalkBuilder::new(first);
    for folder in rest {
        builder.add(folder);
    }
    builder
        .standard_filters(false)
        .hidden(true)
        .follow_links(true);
    builder.sort_by_file_name(Ord::cmp);
    builder.filter_entry(|entry| entry.depth() == 0 || entry.file_name() != "node_modules");
    let mut seen = BTreeSet::new();
    for entry in builder.build() {
        match entry {
            Ok(entry) => {
                let file = entry.file_type().is_some_and(|kind| !kind.is_dir());
                if file && is_note(entry.path()) {
                    match read_unless(entry.path(), known) {
                        Found::Note(NoteFile { path, .. }) | Found::Same(path)
                            if !seen.insert(path.clone()) => {}
                        other => found(other),
                    }
                }
            }
            Err(problem) => {
                if let Some(skipped) = unwalkable(&problem) {
                    found(Found::Skipped(skipped));
                }
            }
        }
    }
}

/// What a problem on the walk hides; `None` if it hides no notes.
fn unwalkable(problem: &ignore::Error) -> Option<Skipped> {
    use ignore::Error;
    match problem {
        Error::Partial(problems) => problems.iter().find_map(unwalkable),
        Error::WithLineNumber { err, .. } | Error::WithDepth { err, .. } => unwalkable(err),
        Error::Loop { ancestor, child } => {
            let reason = format!("a link back to {}", ancestor.display());
            Some(Skipped::new(child, reason))
        }
        Error::WithPath { path, err } => match err.io_error() {
            // A dangling link may be to anything; only one that is called a note hides notes.
            Some(io) if io.kind() == io::ErrorKind::NotFound && !is_note(path) => None,
            Some(io) => Some(Skipped::new(path, io.kind())),
            None => unwalkable(err),
        },
        _ => None,
    }
}

/// Reads a note file.
pub(crate) fn read(path: &Path) -> Result<NoteFile, Skipped> {
    match read_unless(path, &BTreeMap::new()) {
        Found::Note(note) => Ok(note),
        Found::Skipped(skipped) => Err(skipped),
        Found::Same(_) => unreachable!("no file is known"),
    }
}

/// Reads a note file, unless it has the stamp that is known of it.
fn read_unless(path: &Path, known: &BTreeMap<FilePath, Stamp>) -> Found {
    let skipped = |reason: &dyn fmt::Display| Found::Skipped(Skipped::new(path, reason));
    let resolved = match fs::canonicalize(path) {
        Ok(resolved) => resolved,
        Err(problem) => return skipped(&problem.kind()),
    };
    let Some(name) = file_path(&resolved) else {
        return skipped(&"its path is not Unicode");
    };
    match stamp(&resolved) {
        Ok(stamp) if known.get(&name) == Some(&stamp) => Found::Same(name),
        Ok(stamp) => match read_text(&resolved) {
            Ok((text, _)) => Found::Note(NoteFile {
                path: name,
                text,
                stamp,
            }),
            Err(problem) => skipped(&problem),
        },
        Err(problem) => skipped(&problem),
    }
}

/// The stamp of a file that may be read.
fn stamp(path: &Path) -> Result<Stamp, Problem> {
    // Asked before opening: a pipe that is called a note would never open.
    let metadata = fs::metadata(path)?;
    if !metadata.is_file() {
        return Err(Problem::NotAFile);
    }
    if metadata.len() > LARGEST {
        return Err(Problem::TooLarge);
    }
    Ok(Stamp {
        modified: metadata.modified().ok(),
        len: metadata.len(),
    })
}

/// The text of a file, and whether a byte order mark stood before it.
fn read_text(path: &Path) -> Result<(String, bool), Problem> {
    stamp(path)?;
    let mut bytes = Vec::new();
    File::open(path)?
        .take(LARGEST + 1)
        .read_to_end(&mut bytes)?;
    if bytes.len() as u64 > LARGEST {
        return Err(Problem::TooLarge);
    }
    let text = String::from_utf8(bytes).map_err(|problem| {
        let offset = problem.utf8_error().valid_up_to();
        let line = problem.as_bytes()[..offset]
            .iter()
            .filter(|byte| **byte == b'\n')
            .count()
            + 1;
        Problem::NotUtf8 { line }
    })?;
    match text.strip_prefix(BYTE_ORDER_MARK) {
        Some(rest) => Ok((rest.to_owned(), true)),
        None => Ok((text, false)),
    }
}

/// Why a file cannot be read or written.
#[derive(Debug)]
pub(crate) enum Problem {
    /// The system says no.
    Io(io::Error),
    /// A folder, a pipe or a device.
    NotAFile,
    /// More than [`LARGEST`] bytes.
    TooLarge,
    /// Bytes that are no UTF-8, first on this line.
    NotUtf8 {
        /// Counted from 1.
        line: usize,
    },
    /// Not in a folder of the notebook.
    Outside,
    /// The text on disk is not the one that the change was made for.
    Changed,
    /// There is a file of this name already.
    Exists,
}

impl From<io::Error> for Problem {
    fn from(problem: io::Error) -> Self {
        Self::Io(problem)
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Io(problem) => problem.fmt(f),
            Self::NotAFile => f.write_str("not a regular file"),
            Self::TooLarge => {
                write!(
                    f,
                    "larger than {} MiB; split it into several files",
                    LARGEST >> 20
                )
            }
            Self::NotUtf8 { line } => {
                write!(
                    f,
                    "not UTF-8, first on line {line}; save it with the encoding UTF-8"
                )
            }
            Self::Outside => f.write_str("not in a folder of the notebook, so left as it is"),
            Self::Changed => {
                f.write_str("changed on disk in the meantime, so left as it is; try again")
            }
            Self::Exists => f.write_str("exists already, so left as it is"),
        }
    }
}

/// Replaces the text of a file in one of the folders, if it still is `before`. The file is whole
/// at every instant: the old text or the new. Its mode stays, and a link stays a link.
pub(crate) fn replace(
    path: &Path,
    before: &str,
    after: &str,
    folders: &[PathBuf],
) -> Result<(), Problem> {
    let target = fs::canonicalize(path)?;
    if !is_within(&target, folders) {
        return Err(Problem::Outside);
    }
    let (text, marked) = read_text(&target)?;
    if text != before {
        return Err(Problem::Changed);
    }
    let mode = fs::metadata(&target)?.permissions();
    let mut file = temporary_beside(&target)?;
    if marked {
        file.write_all(BYTE_ORDER_MARK.as_bytes())?;
    }
    file.write_all(after.as_bytes())?;
    file.as_file().set_permissions(mode)?;
    file.as_file().sync_all()?;
    file.persist(&target).map_err(|problem| problem.error)?;
    Ok(())
}

/// Writes a new file in one of the folders, with the folders above it that are missing. An older
/// file of this name stays as it is.
pub(crate) fn create(path: &Path, text: &str, folders: &[PathBuf]) -> Result<(), Problem> {
    let parent = path.parent().ok_or(Problem::Outside)?;
    let existing = parent
        .ancestors()
        .find(|folder| folder.exists())
        .ok_or(Problem::Outside)?;
    let plain = path
        .components()
        .all(|part| !matches!(part, std::path::Component::ParentDir));
    if !plain || !is_within(&fs::canonicalize(existing)?, folders) {
        return Err(Problem::Outside);
    }
    fs::create_dir_all(parent)?;
    let mut file = temporary_beside(path)?;
    file.write_all(text.as_bytes())?;
    file.as_file().sync_all()?;
    file.persist_noclobber(path)
        .map_err(|problem| match problem.error.kind() {
            io::ErrorKind::AlreadyExists => Problem::Exists,
            _ => Problem::Io(problem.error),
        })?;
    Ok(())
}

/// A new file in the folder of `path`, with the mode that the user gives to new files.
fn temporary_beside(path: &Path) -> io::Result<tempfile::NamedTempFile> {
    let folder = path.parent().unwrap_or(Path::new("."));
    let mut builder = tempfile::Builder::new();
    // The name is hidden, so that a walk at this moment passes it by.
    builder.prefix(".porism-");
    if let Some(mode) = mode_of_new_files() {
        builder.permissions(mode);
    }
    builder.tempfile_in(folder)
}

#[cfg(unix)]
fn mode_of_new_files() -> Option<Permissions> {
    use std::os::unix::fs::PermissionsExt;
    // The system takes away what the user's mask forbids.
    Some(Permissions::from_mode(0o666))
}

#[cfg(not(unix))]
fn mode_of_new_files() -> Option<Permissions> {
    None
}

/// Whether a resolved path lies in one of the folders.
fn is_within(path: &Path, folders: &[PathBuf]) -> bool {
    folders
        .iter()
        .filter_map(|folder| fs::canonicalize(folder).ok())
        .any(|folder| path.starts_with(folder))
}

/// The path by which the notebook knows a file: `/` between folders on every system. `None` if
/// the path is not Unicode.
pub(crate) fn file_path(path: &Path) -> Option<FilePath> {
    let text = path.to_str()?;
    if !cfg!(windows) {
        return Some(FilePath::new(text));
    }
    // The system gives resolved paths in their verbatim form.
    let share = text
        .strip_prefix(r"\\?\UNC\")
        .map(|rest| format!(r"\\{rest}"));
    let text = share.as_deref().unwrap_or(text);
    Some(FilePath::new(
        &text
            .strip_prefix(r"\\?\")
            .unwrap_or(text)
            .replace('\\', "/"),
    ))
}

/// The path of a file of the notebook on this system.
pub(crate) fn system_path(path: &FilePath) -> PathBuf {
    if cfg!(windows) {
        path.as_str().replace('/', "\\").into()
    } else {
        path.as_str().into()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A folder with these files, each a path and its bytes.
    fn folder(files: &[(&str, &[u8])]) -> tempfile::TempDir {
        // The prefix is not the usual one, which is hidden and would be passed by.
        let folder = tempfile::Builder::new().prefix("notes").tempdir().unwrap();
        for (path, bytes) in files {
            let path = folder.path().join(path);
            fs::create_dir_all(path.parent().unwrap()).unwrap();
            fs::write(path, bytes).unwrap();
        }
        folder
    }

    /// One line for each file that a walk finds or skips, with paths relative to the folder.
    fn walked(folder: &Path) -> Vec<String> {
        let root = fs::canonicalize(folder).unwrap();
        let mut lines = Vec::new();
        walk(
            std::slice::from_ref(&root),
            &BTreeMap::new(),
            &mut |found| {
                let line = match found {
                    Found::Note(note) => format!("{} {:?}", note.path, note.text),
                    Found::Same(path) => format!("same {path}"),
                    Found::Skipped(skipped) => format!("skipped {skipped}"),
                };
                lines.push(
                    line.replace(&format!("{}/", root.display()), "")
                        .replace(root.to_str().unwrap(), "."),
                );
            },
        );
        lines
    }

    #[test]
    fn notes_are_found_in_the_order_of_their_names() {
        let folder = folder(&[
            ("b.porism", b"two"),
            ("a/z.porism", b"one"),
            ("c.porism.bak", b"no"),
            ("c.txt", b"no"),
            (".hidden/a.porism", b"no"),
            (".a.porism", b"no"),
            ("node_modules/a.porism", b"no"),
            (".gitignore", b"*.porism"),
        ]);
        assert_eq!(
            walked(folder.path()),
            ["a/z.porism \"one\"", "b.porism \"two\""]
        );
    }

    #[test]
    fn what_cannot_be_read_is_named_and_the_rest_is_read() {
        let large = vec![b'a'; LARGEST as usize + 1];
        let folder = folder(&[
            ("good.porism", b"\xef\xbb\xbfmarked"),
            ("latin.porism", b"caf\xe9"),
            ("large.porism", &large),
        ]);
        assert_eq!(
            walked(folder.path()),
            [
                "good.porism \"marked\"",
                "skipped large.porism: larger than 16 MiB; split it into several files",
                "skipped latin.porism: not UTF-8, first on line 1; save it with the encoding UTF-8",
            ]
        );
    }

    #[cfg(unix)]
    #[test]
    fn links_are_followed_once_and_loops_are_named() {
        use std::os::unix::fs::symlink;
        let folder = folder(&[("a/one.porism", b"one")]);
        symlink("a/one.porism", folder.path().join("again.porism")).unwrap();
        symlink("..", folder.path().join("a/up")).unwrap();
        symlink("nowhere", folder.path().join("dangling")).unwrap();
        symlink("nowhere", folder.path().join("gone.porism")).unwrap();
        let lines = walked(folder.path());
        assert_eq!(lines[0], "a/one.porism \"one\"");
        assert_eq!(lines[1], "skipped a/up: a link back to .");
        assert!(lines[2].starts_with("skipped gone.porism: "), "{lines:?}");
        assert_eq!(lines.len(), 3, "{lines:?}");
    }

    #[cfg(unix)]
    #[test]
    fn a_pipe_is_not_opened() {
        let folder = folder(&[]);
        let pipe = folder.path().join("pipe.porism");
        let made = std::process::Command::new("mkfifo")
            .arg(&pipe)
            .status()
            .unwrap();
        assert!(made.success());
        assert_eq!(
            walked(folder.path()),
            ["skipped pipe.porism: not a regular file"]
        );
    }

    #[test]
    fn a_file_that_is_as_it_was_is_not_read_again() {
        let folder = folder(&[("a.porism", b"one"), ("b.porism", b"two")]);
        let folders = [folder.path().to_owned()];
        let mut known = BTreeMap::new();
        walk(&folders, &known.clone(), &mut |found| match found {
            Found::Note(note) => drop(known.insert(note.path, note.stamp)),
            other => panic!("{other:?}"),
        });
        fs::write(folder.path().join("b.porism"), "longer").unwrap();
        let mut lines = Vec::new();
        walk(&folders, &known, &mut |found| match found {
            Found::Note(note) => lines.push(format!("read {:?}", note.text)),
            Found::Same(path) => {
                lines.push(format!("same {}", path.as_str().ends_with("a.porism")))
            }
            Found::Skipped(skipped) => panic!("{skipped}"),
        });
        assert_eq!(lines, ["same true", "read \"longer\""]);
    }

    #[test]
    fn a_warning_names_ten_and_counts_the_rest() {
        let skipped: Vec<Skipped> = (0..12)
            .map(|i| Skipped::new(Path::new(&format!("{i}.porism")), "unreadable"))
            .collect();
        assert_eq!(warning(&[]), None);
        let text = warning(&skipped).unwrap();
        assert_eq!(text.lines().count(), 12);
        assert!(text.ends_with("and 2 more, all named in the log"), "{text}");
    }

    #[test]
    fn a_replacement_is_whole_and_only_of_the_text_it_was_made_for() {
        let folder = folder(&[("a.porism", b"\xef\xbb\xbfold")]);
        let folders = [folder.path().to_owned()];
        let path = folder.path().join("a.porism");
        let stale = replace(&path, "older", "new", &folders);
        assert!(matches!(stale, Err(Problem::Changed)), "{stale:?}");
        replace(&path, "old", "new", &folders).unwrap();
        assert_eq!(fs::read(&path).unwrap(), b"\xef\xbb\xbfnew");
        assert_eq!(
            fs::read_dir(folder.path()).unwrap().count(),
            1,
            "no temporary file stays"
        );
    }

    #[cfg(unix)]
    #[test]
    fn mode_and_link_survive_a_replacement() {
        use std::os::unix::fs::{PermissionsExt, symlink};
        let folder = folder(&[("real/a.porism", b"old")]);
        let folders = [folder.path().to_owned()];
        let real = folder.path().join("real/a.porism");
        fs::set_permissions(&real, Permissions::from_mode(0o640)).unwrap();
        let link = folder.path().join("a.porism");
        symlink("real/a.porism", &link).unwrap();
        replace(&link, "old", "new", &folders).unwrap();
        assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
        assert_eq!(fs::read(&real).unwrap(), b"new");
        assert_eq!(
            fs::metadata(&real).unwrap().permissions().mode() & 0o777,
            0o640
        );
    }

    #[cfg(unix)]
    #[test]
    fn nothing_is_written_outside_the_folders() {
        use std::os::unix::fs::symlink;
        let outside = folder(&[("a.porism", b"old")]);
        let inside = folder(&[]);
        let folders = [inside.path().to_owned()];
        symlink(
            outside.path().join("a.porism"),
            inside.path().join("a.porism"),
        )
        .unwrap();
        symlink(outside.path(), inside.path().join("papers")).unwrap();
        let replaced = replace(&inside.path().join("a.porism"), "old", "new", &folders);
        assert!(matches!(replaced, Err(Problem::Outside)), "{replaced:?}");
        for path in ["papers/b.porism", "../b.porism", "x/../../b.porism"] {
            let created = create(&inside.path().join(path), "new", &folders);
            assert!(
                matches!(created, Err(Problem::Outside)),
                "{path}: {created:?}"
            );
        }
        assert_eq!(fs::read(outside.path().join("a.porism")).unwrap(), b"old");
        assert_eq!(fs::read_dir(outside.path()).unwrap().count(), 1);
    }

    #[test]
    fn a_new_file_never_overwrites_an_older_one() {
        let folder = folder(&[]);
        let folders = [folder.path().to_owned()];
        let path = folder.path().join("papers/first.porism");
        create(&path, "one", &folders).unwrap();
        let again = create(&path, "two", &folders);
        assert!(matches!(again, Err(Problem::Exists)), "{again:?}");
        assert_eq!(fs::read(&path).unwrap(), b"one");
    }

    #[cfg(unix)]
    #[test]
    fn a_new_file_has_the_mode_that_the_user_gives_to_new_files() {
        use std::os::unix::fs::PermissionsExt;
        let folder = folder(&[("usual.porism", b"")]);
        let path = folder.path().join("new.porism");
        create(&path, "", &[folder.path().to_owned()]).unwrap();
        let mode = |path: &Path| fs::metadata(path).unwrap().permissions().mode();
        assert_eq!(mode(&path), mode(&folder.path().join("usual.porism")));
    }

    #[cfg(unix)]
    #[test]
    fn a_path_comes_back_from_the_notebook() {
        let path = Path::new("/my notes/é.porism");
        assert_eq!(system_path(&file_path(path).unwrap()), path);
    }
}
