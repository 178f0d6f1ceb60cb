//! `porism record` and `porism answers`: a paper's marks, and its answers.

use std::io::Write;

use ide::commands::{Command, PaperName, run};
use ide::record_marks::Unmarked;

use super::arguments::{Answers, PaperFile, Record};
use super::{Failure, Outcome, notebook, terminal};

/// Writes the marks of a paper back to the problems it was drawn from.
pub(crate) fn record(arguments: &Record) -> Result<Outcome, Failure> {
    let command = |paper: PaperName, unmarked| Command::RecordMarks { paper, unmarked };
    let skipping = |paper| command(paper, Unmarked::Skipped);
    if arguments.skip_rest {
        return change(&arguments.file, skipping, None);
    }
    let refusing = |paper| command(paper, Unmarked::Refuse);
    change(&arguments.file, refusing, Some((&skipping, "--skip-rest")))
}

/// Adds the answers to a paper.
pub(crate) fn answers(arguments: &Answers) -> Result<Outcome, Failure> {
    change(
        &arguments.file,
        |paper| Command::ShowAnswers { paper },
        None,
    )
}

/// Another command, and the option that stands for it.
type WayOut<'a> = (&'a dyn Fn(PaperName) -> Command, &'a str);

/// Runs a command on a paper. Where it is refused and the way out is not, that is told.
fn change(
    file: &PaperFile,
    command: impl FnOnce(PaperName) -> Command,
    way_out: Option<WayOut<'_>>,
) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&file.folder)?;
    let path = notebook.path_of(&file.paper)?;
    let title = file.title.clone().unwrap_or_default();
    let paper = PaperName { path, title };
    let analysis = notebook.workspace.analysis();
    let done = run(analysis, &command(paper.clone())).map_err(|why| {
        let is_way_out = |(other, _): &WayOut<'_>| run(analysis, &other(paper)).is_ok();
        Failure::new(match way_out.filter(is_way_out) {
            Some((_, option)) => format!("{why} To record the others: {option}."),
            None => why,
        })
    })?;
    notebook.make(&done.edit)?;
    writeln!(terminal::output(), "{}", done.message)?;
    Ok(Outcome::Clean)
}
