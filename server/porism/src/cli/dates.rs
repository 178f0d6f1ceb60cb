//! `porism dates`: exams from an instructor's or registrar's calendar.

use std::fs;
use std::io::Write;

use ide::dates::{DatesRequest, dates as take};
use ide::words;

use super::arguments::Dates;
use super::{Failure, Outcome, notebook, terminal};
use crate::{calendar, files};

/// Adds the exams of a calendar to the notes, and says what was added and what was not.
pub(crate) fn dates(arguments: &Dates) -> Result<Outcome, Failure> {
    let file = &arguments.file;
    let named = |problem: &dyn std::fmt::Display| {
        Failure::new(format_args!("{}: {problem}", file.display()))
    };
    let about = fs::metadata(file).map_err(|problem| named(&problem))?;
    if about.len() > files::LARGEST {
        return Err(named(&format_args!(
            "{} MiB are more than the {} MiB that are read",
            about.len() >> 20,
            files::LARGEST >> 20
        )));
    }
    let bytes = fs::read(file).map_err(|problem| named(&problem))?;
    let text = String::from_utf8_lossy(&bytes);
    let notebook = notebook::read(&arguments.folder)?;
    let zone = arguments.zone.clone().or_else(calendar::own_zone);
    if let Some(unknown) = zone
        .as_deref()
        .filter(|name| ide::zone::zone(name).is_none())
    {
        return Err(Failure::new(format_args!(
            "there is no time zone {unknown}; names are those of the IANA database, such as Europe/Berlin"
        )));
    }
    let request = DatesRequest {
        course: arguments.course.as_deref(),
        zone: zone.as_deref(),
        all: arguments.all,
    };
    let found = take(notebook.workspace.analysis(), &text, request).map_err(|none| named(&none))?;
    notebook.make(&found.edit)?;
    let mut out = terminal::output();
    for (title, date) in &found.added {
        writeln!(out, "added {date}  {title}")?;
    }
    let added = words::count(found.added.len(), "exam");
    writeln!(
        out,
        "{added} added, {} known already, {} past.",
        found.known, found.past
    )?;
    if found.passed_over > 0 {
        let events = words::count(found.passed_over, "event");
        let said = format!(
            "{events} passed over, for the title has none of the words exam, midterm, final, quiz or \
             test: --all takes all."
        );
        writeln!(out, "{}", terminal::filled(&said))?;
    }
    if !found.added.is_empty() {
        writeln!(out, "Write covers: and target: below each.")?;
    }
    for remark in &found.remarks {
        terminal::warn(remark);
    }
    Ok(Outcome::Clean)
}
