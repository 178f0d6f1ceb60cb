//! `porism demo`: a notebook to try things on.

use std::fs;
use std::io::{self, Write};
use std::path::Path;

use chrono::NaiveDate;
use ide::demo::shift_dates;
use ide::diagnostics::Severity;
use ide::draw_paper::DrawRequest;
use ide::{NotesUse, report};
use include_dir::{Dir, include_dir};

use super::arguments::Demo;
use super::{Failure, Outcome, check, mock, notebook, terminal};
use crate::clock;

static NOTEBOOK: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/../demo/notebook");

/// The day that is today in the demo's files.
const REFERENCE_DAY: &str = include_str!("../../../demo/REFERENCE_DAY");

/// Unpacks the demo notebook, checks it, shows the standing, and draws a mock test.
pub(crate) fn demo(arguments: &Demo) -> Result<Outcome, Failure> {
    let folder = &arguments.folder;
    make_empty_folder(folder)?;
    let reference: NaiveDate = REFERENCE_DAY
        .trim()
        .parse()
        .map_err(|_| Failure::new("the demo was built with a reference day that is no date"))?;
    let days = clock::now()
        .date()
        .signed_duration_since(reference)
        .num_days();
    unpack(&NOTEBOOK, folder, days)?;

    let notebook = notebook::read(folder)?;
    let analysis = notebook.workspace.analysis();
    let mut out = terminal::output();
    let style = terminal::STRONG;
    writeln!(out, "{style}What the checks say{style:#}\n")?;
    let grave = check::findings(analysis, Severity::Warning);
    let known = check::findings(analysis, Severity::Information).len() - grave.len();
    check::print(&notebook, &grave, true)?;
    let shown = folder.display();
    writeln!(out, "{known} more to know: porism check {shown}\n")?;

    let report = report::standing(analysis, analysis.today(), None).map_err(Failure::new)?;
    writeln!(out, "{}", report.to_text())?;

    let request = DrawRequest::with_notes(NotesUse::Closed);
    let paper = mock::draw(&notebook, None, None, request)?;
    notebook.make(&paper.edit())?;
    mock::told(&notebook, &paper, "your marks", &mut out)?;
    let how = format!(
        "Open {} in your editor. The pages in editors/ say how to set up Neovim, Emacs and Visual \
         Studio Code; any other editor with a language client starts `porism serve`. The notes are \
         invented, and a few mistakes in them are planted.",
        notebook.typed(&paper.path)
    );
    writeln!(out, "\n{}", terminal::filled(&how))?;
    Ok(Outcome::Clean)
}

/// Makes the folder, which may be there when it is empty.
fn make_empty_folder(folder: &Path) -> Result<(), Failure> {
    let named = |problem: &dyn std::fmt::Display| {
        Failure::new(format_args!("{}: {problem}", folder.display()))
    };
    match fs::read_dir(folder) {
        Ok(mut entries) => match entries.next() {
            None => Ok(()),
            Some(_) => Err(named(
                &"is not empty, and nothing in it is touched; name another folder",
            )),
        },
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => {
            fs::create_dir_all(folder).map_err(|problem| named(&problem))
        }
        Err(problem) => Err(named(&problem)),
    }
}

/// Writes the files of the demo, with their dates moved by whole days.
fn unpack(dir: &Dir<'_>, folder: &Path, days: i64) -> Result<(), Failure> {
    for file in dir.files() {
        let path = file.path().to_str().unwrap_or_default();
        let path = folder.join(shift_dates(path, days));
        let text = file.contents_utf8().unwrap_or_default();
        if let Some(parent) = path.parent() {
            fs::create_dir_all(parent)?;
        }
        let mut new = fs::File::create_new(&path)?;
        new.write_all(shift_dates(text, days).as_bytes())?;
    }
    dir.dirs().try_for_each(|below| unpack(below, folder, days))
}
