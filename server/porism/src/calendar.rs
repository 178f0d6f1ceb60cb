//! The calendar file on disk, and the zone of this computer.

use std::fs;
use std::io;
use std::path::Path;

use ide::Analysis;
use ide::calendar::{Calendar, CalendarRequest, calendar};

use crate::files;

/// Makes the calendar anew from the one in this file, if there is one, and writes it there, whole
/// or not at all. The message of a failure names the file.
pub(crate) fn write(
    analysis: &Analysis,
    path: &Path,
    zone: Option<&str>,
) -> Result<Calendar, String> {
    let named = |problem: &dyn std::fmt::Display| format!("{}: {problem}", path.display());
    let path = std::path::absolute(path).map_err(|problem| named(&problem))?;
    let before = match fs::metadata(&path) {
        Ok(about) if about.len() > files::LARGEST => {
            return Err(named(
                &"is too large for a calendar by porism; name another file",
            ));
        }
        Ok(_) => {
            let text = fs::read_to_string(&path);
            Some(text.map_err(|problem| named(&problem))?)
        }
        Err(problem) if problem.kind() == io::ErrorKind::NotFound => None,
        Err(problem) => return Err(named(&problem)),
    };
    let request = CalendarRequest {
        zone,
        before: before.as_deref(),
    };
    let made = calendar(analysis, request).map_err(|refusal| named(&refusal))?;
    let folder = path.parent().map(Path::to_path_buf).into_iter();
    let folders: Vec<_> = folder.collect();
    let written = match &before {
        Some(before) if *before == made.text => Ok(()),
        Some(before) => {
            // What is behind a link is in a folder of its own.
            let target = fs::canonicalize(&path).map_err(|problem| named(&problem))?;
            let folders: Vec<_> = target.parent().map(Path::to_path_buf).into_iter().collect();
            files::replace(&target, before, &made.text, &folders)
        }
        None if folders.iter().all(|folder| folder.is_dir()) => {
            files::create(&path, &made.text, &folders)
        }
        None => return Err(named(&"its folder does not exist")),
    };
    written.map_err(|problem| named(&problem))?;
    Ok(made)
}

/// The name of this computer's time zone, if it has one: `TZ` where that names a zone, else what
/// the system says.
pub(crate) fn own_zone() -> Option<String> {
    let is_zone = |name: &String| ide::zone::zone(name).is_some();
    let variable = std::env::var("TZ").ok();
    let variable = variable.map(|name| name.trim_start_matches(':').to_owned());
    variable
        .filter(is_zone)
        .or_else(|| iana_time_zone::get_timezone().ok().filter(is_zone))
}

#[cfg(test)]
mod tests {
    use ide::Workspace;

    use super::*;
    use crate::clock;

    #[test]
    fn a_calendar_is_replaced_and_another_file_is_not() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("exams.ics");
        let notes = "@exam Final\n  on: 2027-02-20\n";
        let workspace = Workspace::from_files(clock::now(), [("a.porism", notes)]);
        let first = write(workspace.analysis(), &path, None).unwrap();
        assert_eq!(fs::read_to_string(&path).unwrap(), first.text);
        assert_eq!(
            write(workspace.analysis(), &path, None).unwrap().text,
            first.text
        );
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
        fs::write(&path, "bread").unwrap();
        let refused = write(workspace.analysis(), &path, None).unwrap_err();
        assert!(
            refused.contains("something else than a calendar"),
            "{refused}"
        );
        assert_eq!(fs::read_to_string(&path).unwrap(), "bread");
        let nowhere = write(workspace.analysis(), &folder.path().join("no/a.ics"), None);
        assert!(nowhere.unwrap_err().contains("its folder does not exist"));
    }
}
