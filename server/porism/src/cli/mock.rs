//! `porism mock`: a mock test for an exam.

use std::io::Write;

use ide::commands::find_exam;
use ide::draw_paper::{DrawRequest, draw_paper, offered_first};
use ide::drawn_paper::DrawnPaper;
use ide::{PaperKind, words};

use super::arguments::{Mock, NotesUse};
use super::notebook::{self, Notebook};
use super::{Failure, Outcome, terminal};

/// Draws a mock test into a new file and says where.
pub(crate) fn mock(arguments: &Mock) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let request = DrawRequest {
        notes: match arguments.allow {
            NotesUse::Closed => ide::NotesUse::Closed,
            NotesUse::Open => ide::NotesUse::Open,
        },
        kind: arguments.theorems.then_some(PaperKind::Theorems),
        questions: arguments.questions,
        seed: arguments.seed,
    };
    let exam = arguments.exam.as_deref();
    let paper = draw(&notebook, arguments.course.as_deref(), exam, request)?;
    let mut out = terminal::output();
    if arguments.print {
        write!(out, "{}", paper.text)?;
    } else {
        notebook.make(&paper.edit())?;
        told(&notebook, &paper, "your marks", &mut out)?;
    }
    if arguments.why {
        reasons(&notebook, &paper, &mut out)?;
    }
    Ok(Outcome::Clean)
}

/// Says why each question was chosen.
pub(crate) fn reasons(
    notebook: &Notebook,
    paper: &DrawnPaper,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let analysis = notebook.workspace.analysis();
    writeln!(out)?;
    for (number, question) in paper.questions.iter().enumerate() {
        let source = analysis.notebook.block(&question.source);
        let title = source.map_or_else(String::new, |at| words::title(&at));
        writeln!(out, "{:2}. {title}: {}", number + 1, question.why)?;
    }
    Ok(())
}

/// Draws a paper; the notebook stays as it is. What comes before it, an instructor's paper, is
/// said on standard error.
pub(crate) fn draw(
    notebook: &Notebook,
    course: Option<&str>,
    exam: Option<&str>,
    request: DrawRequest,
) -> Result<DrawnPaper, Failure> {
    let analysis = notebook.workspace.analysis();
    let exam = find_exam(analysis, course, exam).map_err(Failure::new)?;
    let paper = draw_paper(analysis, &exam, request).map_err(Failure::new)?;
    if let Some(first) = offered_first(analysis, &exam) {
        terminal::warn(&format!(
            "take {} in {} first: it is the instructor's and not taken yet.",
            words::title(&first.at),
            notebook.typed(first.at.path)
        ));
    }
    Ok(paper)
}

/// Says what was drawn, where it lies, and what is to be written into it.
pub(crate) fn told(
    notebook: &Notebook,
    paper: &DrawnPaper,
    to_write: &str,
    out: &mut impl Write,
) -> Result<(), Failure> {
    let style = terminal::STRONG;
    let count = words::count(paper.questions.len(), "question");
    writeln!(out, "Drew {style}{}{style:#}: {count}, in", paper.title)?;
    let typed = notebook.typed(&paper.path);
    writeln!(out, "  {typed}")?;
    let varied = paper.varied_in_words();
    for shortfall in varied.iter().chain(&paper.shortfalls) {
        writeln!(out, "{}", terminal::filled(shortfall))?;
    }
    writeln!(out, "Write {to_write} into it; then:")?;
    writeln!(out, "  porism record {typed}{}", notebook.option())?;
    Ok(())
}
