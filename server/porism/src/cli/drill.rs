//! `porism drill` and `porism spotting`: a sheet of questions on patterns or topics.

use std::io::Write;

use ide::commands::find_exam;
use ide::draw_drill::{DrillRequest, draw_drill};
use ide::draw_spotting::{SpottingRequest, draw_spotting};
use ide::drawn_paper::DrawnPaper;
use ide::sheet_scope::Scope;
use ide::{Arrangement, words};
use serde::Serialize;

use super::arguments::{About, Drill, Format, Order, Sheet, Spotting};
use super::notebook::{self, Notebook};
use super::{Failure, Outcome, json, mock, terminal};

/// Draws a drill sheet into a new file and says where.
pub(crate) fn drill(arguments: &Drill) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.about.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let scope = scope(&notebook, &arguments.about)?;
    let request = DrillRequest {
        arrangement: match arguments.order {
            Order::Mixed => Arrangement::Mixed,
            Order::Blocked => Arrangement::Blocked,
        },
        questions: arguments.sheet.n,
        seed: arguments.sheet.seed,
    };
    let sheet = draw_drill(analysis, &scope, request).map_err(Failure::new)?;
    give(&notebook, &sheet, &arguments.sheet, "your answers")
}

/// Draws a spotting round into a new file and says where.
pub(crate) fn spotting(arguments: &Spotting) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.about.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let scope = match &arguments.exam {
        Some(exam) => {
            let course = arguments.about.course.as_deref();
            Scope::of_exam(&find_exam(analysis, course, Some(exam)).map_err(Failure::new)?)
        }
        None => scope(&notebook, &arguments.about)?,
    };
    let request = SpottingRequest {
        questions: arguments.sheet.n,
        seed: arguments.sheet.seed,
    };
    let round = draw_spotting(analysis, &scope, request).map_err(Failure::new)?;
    give(&notebook, &round, &arguments.sheet, "the kinds")
}

fn scope(notebook: &Notebook, about: &About) -> Result<Scope, Failure> {
    let course = about.course.as_deref();
    let analysis = notebook.workspace.analysis();
    let only = match (about.patterns.is_empty() && about.topics.is_empty(), course) {
        // Nothing that could tell the course.
        (true, None) => Some(notebook.only_course()?),
        _ => None,
    };
    let course = course.or(only.as_deref());
    Scope::find(analysis, course, &about.patterns, &about.topics).map_err(Failure::new)
}

/// Writes or prints a sheet, and says what was drawn.
fn give(
    notebook: &Notebook,
    sheet: &DrawnPaper,
    how: &Sheet,
    to_write: &str,
) -> Result<Outcome, Failure> {
    let mut out = terminal::output();
    if how.print {
        write!(out, "{}", sheet.text)?;
    } else {
        notebook.make(&sheet.edit())?;
        match how.format {
            Format::Text => mock::told(notebook, sheet, to_write, &mut out)?,
            Format::Json => json::print(&SheetJson::new(notebook, sheet))?,
        }
    }
    if how.why && how.format == Format::Text {
        mock::reasons(notebook, sheet, &mut out)?;
    }
    Ok(Outcome::Clean)
}

/// What `--format json` prints; JSON.md says what each field means.
#[derive(Serialize)]
struct SheetJson<'a> {
    file: String,
    title: &'a str,
    seed: u32,
    questions: Vec<QuestionJson<'a>>,
    remarks: &'a [String],
}

#[derive(Serialize)]
struct QuestionJson<'a> {
    problem: String,
    text: &'a str,
    why: &'a str,
}

impl<'a> SheetJson<'a> {
    fn new(notebook: &Notebook, sheet: &'a DrawnPaper) -> Self {
        let analysis = notebook.workspace.analysis();
        let questions = sheet.questions.iter().map(|question| {
            let source = analysis.notebook.block(&question.source);
            QuestionJson {
                problem: source.map_or_else(String::new, |at| words::title(&at)),
                text: &question.text,
                why: &question.why,
            }
        });
        Self {
            file: notebook.typed(&sheet.path),
            title: &sheet.title,
            seed: sheet.seed,
            questions: questions.collect(),
            remarks: &sheet.shortfalls,
        }
    }
}
