//! `porism record` and `porism answers`: a paper's marks, and its answers.

use std::io::Write;

use ide::commands::{Command, PaperName, run};
use ide::record_marks::Unmarked;

use super::arguments::{Answers, PaperFile, Record};
use super::{Failure, Outcome, notebook, terminal};

/// Writes the marks of a paper back to the problems it was drawn from.
pub(crate) fn record(arguments: &Record) -> Result<Outcome, Failure> {
    let unmarked = match arguments.skip_rest {
        true => Unmarked::Skipped,
        false => Unmarked::Refuse,
    };
    change(&arguments.file, |paper| Command::RecordMarks {
        paper,
        unmarked,
    })
}

/// Adds the answers to a paper.
pub(crate) fn answers(arguments: &Answers) -> Result<Outcome, Failure> {
    change(&arguments.file, |paper| Command::ShowAnswers { paper })
}

fn change(
    file: &PaperFile,
    command: impl FnOnce(PaperName) -> Command,
) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&file.folder)?;
    let path = notebook.path_of(&file.paper)?;
    let title = file.title.clone().unwrap_or_default();
    let done = run(
        notebook.workspace.analysis(),
        &command(PaperName { path, title }),
    )
    .map_err(Failure::new)?;
    notebook.make(&done.edit)?;
    writeln!(terminal::output(), "{}", done.message)?;
    Ok(Outcome::Clean)
}
