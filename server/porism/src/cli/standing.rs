//! `porism standing`: where the student stands.

use std::io::Write;

use ide::report;

use super::arguments::Standing;
use super::{Failure, Outcome, notebook, terminal};

/// Prints each exam and each pattern, as they stand today or stood on a past day.
pub(crate) fn standing(arguments: &Standing) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let on = arguments.on.unwrap_or(analysis.today());
    let report =
        report::standing(analysis, on, arguments.course.as_deref()).map_err(Failure::new)?;
    write!(terminal::output(), "{}", report.to_text())?;
    Ok(Outcome::Clean)
}
