//! `porism calendar`: exams, plan and mock tests for a calendar.

use std::io::Write;

use ide::calendar::{CalendarRequest, calendar as make};

use super::arguments::Calendar;
use super::{Failure, Outcome, notebook, terminal};
use crate::calendar;

/// Writes the calendar into a file, or prints it.
pub(crate) fn calendar(arguments: &Calendar) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let zone = arguments.zone.clone().or_else(calendar::own_zone);
    let zone = zone.as_deref();
    let made = match &arguments.to {
        Some(path) => calendar::write(analysis, path, zone).map_err(Failure::new)?,
        None => make(analysis, CalendarRequest { zone, before: None }).map_err(Failure::new)?,
    };
    for remark in &made.remarks {
        terminal::warn(remark);
    }
    let mut out = terminal::output();
    match &arguments.to {
        Some(path) => writeln!(out, "{}: {}.", path.display(), made.summary())?,
        None => write!(out, "{}", made.text)?,
    }
    Ok(Outcome::Clean)
}
