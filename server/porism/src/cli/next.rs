//! `porism next`: what to do next for each exam.

use std::io::Write;

use ide::NotesUse;
use ide::commands::{Command, find_exam};
use ide::next_step::{Next, Step, next_steps};
use ide::words;
use serde::Serialize;

use super::arguments::{self, Format};
use super::notebook::{self, Notebook};
use super::{Failure, Outcome, json, terminal};

/// Prints one line for each exam, nearest first, and the command that does it.
pub(crate) fn next(arguments: &arguments::Next) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let course = arguments.course.as_deref();
    let exam = arguments.exam.as_deref();
    if exam.is_some() {
        find_exam(analysis, course, exam).map_err(Failure::new)?;
    }
    let course = match course {
        Some(course) => Some(ide::report::find_course(analysis, course).map_err(Failure::new)?),
        None => None,
    };
    let nexts = next_steps(analysis, course.as_ref(), exam);
    match arguments.format {
        Format::Text => print(&notebook, &nexts)?,
        Format::Json => json::print(&NextJson {
            on: analysis.today().to_string(),
            note: words::ESTIMATE,
            exams: nexts
                .iter()
                .map(|next| exam_json(&notebook, next))
                .collect(),
        })?,
    }
    Ok(Outcome::Clean)
}

fn print(notebook: &Notebook, nexts: &[Next]) -> Result<(), Failure> {
    let mut out = terminal::output();
    let style = terminal::STRONG;
    let today = notebook.workspace.analysis().today();
    if nexts.is_empty() {
        writeln!(
            out,
            "Nothing: no exam with a date lies ahead in these notes."
        )?;
        return Ok(());
    }
    for next in nexts {
        let of = match next.course.is_empty() {
            true => String::new(),
            false => format!(" of {}", next.course),
        };
        let when = words::day_from(today, next.on.date);
        writeln!(
            out,
            "{style}{}{of}{style:#}, {}, {when}",
            next.exam, next.on
        )?;
        for line in terminal::filled_to(&next.to_string(), terminal::width() - 2).lines() {
            writeln!(out, "  {line}")?;
        }
        if let Some(how) = how(notebook, next) {
            writeln!(out, "    {how}")?;
        }
    }
    let limits = format!("{} {}", words::ESTIMATE, words::COURSE_RULES);
    writeln!(out, "\n{}", terminal::filled(&limits))?;
    Ok(())
}

/// The command to type, or the place to go to.
fn how(notebook: &Notebook, next: &Next) -> Option<String> {
    match &next.action.as_ref()?.1 {
        Command::DrawPaper { notes, .. } => {
            let open = match notes {
                NotesUse::Open => " --allow open",
                NotesUse::Closed => "",
            };
            let course = match next.course.is_empty() {
                true => String::new(),
                false => format!(" --course {}", terminal::quoted(&next.course)),
            };
            Some(format!(
                "porism mock{}{course} --exam {}{open}",
                notebook.folder_argument(),
                terminal::quoted(&next.exam)
            ))
        }
        Command::DrawDrill { patterns, .. } => {
            let course = match next.course.is_empty() {
                true => String::new(),
                false => format!(" --course {}", terminal::quoted(&next.course)),
            };
            Some(format!(
                "porism drill{}{course} --patterns {}",
                notebook.folder_argument(),
                terminal::quoted(patterns)
            ))
        }
        Command::ShowPlace { path, span } => {
            let file = notebook.workspace.analysis().notebook.file(path)?;
            let line = file.text().byte_to_line(span.start as usize) + 1;
            Some(format!("{}:{line}", notebook.typed(path)))
        }
        _ => None,
    }
}

/// What `--format json` prints; JSON.md says what each field means.
#[derive(Serialize)]
struct NextJson<'a> {
    on: String,
    note: &'static str,
    exams: Vec<ExamJson<'a>>,
}

#[derive(Serialize)]
struct ExamJson<'a> {
    course: &'a str,
    exam: &'a str,
    date: String,
    time: Option<String>,
    days_left: i64,
    in_window: bool,
    step: &'static str,
    line: &'a str,
    about: &'a [String],
    without_problems: &'a [String],
    days_needed: Option<i64>,
    alarm: Option<String>,
    command: Option<String>,
}

fn exam_json<'a>(notebook: &Notebook, next: &'a Next) -> ExamJson<'a> {
    ExamJson {
        course: &next.course,
        exam: &next.exam,
        date: next.on.date.to_string(),
        time: next.on.time.map(|time| time.format("%H:%M").to_string()),
        days_left: next.days_left,
        in_window: !matches!(next.step, Step::NotYet | Step::Over),
        step: next.step.word(),
        line: &next.line,
        about: &next.about,
        without_problems: &next.without_problems,
        days_needed: next.alarm.map(|alarm| alarm.needed),
        alarm: next.alarm.map(ide::next_step::alarm_in_words),
        command: how(notebook, next),
    }
}
