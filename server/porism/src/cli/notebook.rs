//! A notebook read from disk.

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};

use ide::edit::{NotebookEdit, applied};
use ide::{FilePath, Workspace};

use super::{Failure, terminal};
use crate::files::Found;
use crate::{clock, files};

/// The notes of a folder.
pub(crate) struct Notebook {
    pub(crate) workspace: Workspace,
    /// The folder with links resolved.
    pub(crate) folder: PathBuf,
    /// The folder as the user named it.
    given: PathBuf,
}

/// Reads the notes of a folder. What cannot be read is named on standard error, and the rest
/// counts.
pub(crate) fn read(folder: &Path) -> Result<Notebook, Failure> {
    let resolved = fs::canonicalize(folder)
        .map_err(|problem| Failure::new(format_args!("{}: {problem}", folder.display())))?;
    if !resolved.is_dir() {
        return Err(Failure::new(format_args!(
            "{} is no folder; give the folder of the notes",
            folder.display()
        )));
    }
    let mut workspace = Workspace::new(clock::now());
    let mut skipped = Vec::new();
    let mut count = 0;
    files::walk(
        std::slice::from_ref(&resolved),
        &BTreeMap::new(),
        &mut |found| match found {
            Found::Note(note) => {
                count += 1;
                workspace.set_text(&note.path, &note.text);
            }
            // Nothing was read before that could be the same.
            Found::Same(_) => {}
            Found::Skipped(one) => skipped.push(one),
        },
    );
    if let Some(warning) = files::warning(&skipped) {
        terminal::warn(&warning);
    }
    if count == 0 {
        return Err(Failure::new(format_args!(
            "no notes in {}: their names end in .{}; try porism demo",
            folder.display(),
            files::EXTENSION
        )));
    }
    Ok(Notebook {
        workspace,
        folder: resolved,
        given: folder.to_owned(),
    })
}

/// Reads one file of notes.
pub(crate) fn read_file(file: &Path) -> Result<Workspace, Failure> {
    let named = |problem: &dyn std::fmt::Display| {
        Failure::new(format_args!("{}: {problem}", file.display()))
    };
    let resolved = fs::canonicalize(file).map_err(|problem| named(&problem))?;
    let note = files::read(&resolved)
        .map_err(|skipped| Failure::new(files::warning(&[skipped]).unwrap_or_default()))?;
    let mut workspace = Workspace::new(clock::now());
    workspace.set_text(&note.path, &note.text);
    Ok(workspace)
}

impl Notebook {
    /// The title of the course, where the notes have but one.
    pub(crate) fn only_course(&self) -> Result<String, Failure> {
        let titles = ide::commands::course_titles(self.workspace.analysis());
        match &titles[..] {
            [] => Ok(String::new()),
            [one] => Ok(one.clone()),
            several => Err(Failure::new(format_args!(
                "these notes have several courses: {}; say which with --course",
                several.join(", ")
            ))),
        }
    }

    /// The path of a file of this notebook as the user sees it: from the folder down.
    pub(crate) fn shown(&self, path: &FilePath) -> String {
        let system = files::system_path(path);
        let inside = system.strip_prefix(&self.folder).unwrap_or(&system);
        inside.display().to_string()
    }

    /// The path of a file of this notebook as the user would type it.
    pub(crate) fn typed(&self, path: &FilePath) -> String {
        let inside = self.shown(path);
        match self.given == Path::new(".") {
            true => inside,
            false => self.given.join(inside).display().to_string(),
        }
    }

    /// What to add to a command that works on the folder of this notebook.
    pub(crate) fn folder_argument(&self) -> String {
        match self.given == Path::new(".") {
            true => String::new(),
            false => format!(" {}", terminal::quoted(&self.given.display().to_string())),
        }
    }

    /// What to add to a command that works on a file of this notebook.
    pub(crate) fn option(&self) -> String {
        match self.given == Path::new(".") {
            true => String::new(),
            false => format!(" --in {}", self.given.display()),
        }
    }

    /// The notebook's name for a file that the user named.
    pub(crate) fn path_of(&self, file: &Path) -> Result<FilePath, Failure> {
        let named = |problem: &dyn std::fmt::Display| {
            Failure::new(format_args!("{}: {problem}", file.display()))
        };
        let resolved = fs::canonicalize(file).map_err(|problem| named(&problem))?;
        let path = files::file_path(&resolved).ok_or_else(|| named(&"its path is not Unicode"))?;
        if self.workspace.analysis().notebook.file(&path).is_none() {
            return Err(named(&format_args!(
                "not a file of the notes in {}; name their folder with --in",
                self.folder.display()
            )));
        }
        Ok(path)
    }

    /// Makes a change on disk: each file whole or not at all, new files first.
    pub(crate) fn make(&self, edit: &NotebookEdit) -> Result<(), Failure> {
        let folders = std::slice::from_ref(&self.folder);
        let named = |path: &FilePath, problem: files::Problem| {
            Failure::new(format_args!("{}: {problem}", self.shown(path)))
        };
        let mut replacements = Vec::new();
        for (path, edits) in &edit.files {
            let file = self.workspace.analysis().notebook.file(path);
            let before = file.map_or_else(String::new, |file| file.text().to_string());
            let after = applied(&before, edits).ok_or_else(|| {
                Failure::new(format_args!(
                    "{}: an edit does not fit the text",
                    self.shown(path)
                ))
            })?;
            replacements.push((path, before, after));
        }
        for (path, text) in &edit.created {
            files::create(&files::system_path(path), text, folders)
                .map_err(|problem| named(path, problem))?;
        }
        for (path, before, after) in replacements {
            files::replace(&files::system_path(path), &before, &after, folders)
                .map_err(|problem| named(path, problem))?;
        }
        Ok(())
    }
}
