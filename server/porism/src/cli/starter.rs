//! `porism starter`: patterns to begin with.

use std::io::Write;

use ide::commands::{Command, run};
use ide::starter::SUBJECTS;
use ide::words;

use super::arguments::Starter;
use super::{Failure, Outcome, notebook, terminal};

/// Inserts the patterns of the subjects into a course, or lists the subjects.
pub(crate) fn starter(arguments: &Starter) -> Result<Outcome, Failure> {
    let mut out = terminal::output();
    if arguments.subjects.is_empty() {
        for subject in &SUBJECTS {
            let count = words::count(subject.names().count(), "pattern");
            writeln!(out, "{:26}{count}", subject.name)?;
        }
        writeln!(out, "Insert those of a subject with --subject NAME.")?;
        return Ok(Outcome::Clean);
    }
    for subject in &arguments.subjects {
        // Read again each time: the patterns of one subject may name those of another.
        let notebook = notebook::read(&arguments.notes.folder)?;
        let course = match &arguments.course {
            Some(course) => course.clone(),
            None => notebook.only_course()?,
        };
        let command = Command::InsertStarterPatterns {
            course,
            subject: subject.clone(),
        };
        let done = run(notebook.workspace.analysis(), &command).map_err(Failure::new)?;
        notebook.make(&done.edit)?;
        writeln!(out, "{}", terminal::filled(&done.message))?;
    }
    Ok(Outcome::Clean)
}
