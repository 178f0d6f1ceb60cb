//! The text of a drawn paper.

use notes::{BlockKind, FilePath, Key, Located, Place};

use crate::Analysis;
use crate::new_field::line_ending;
use crate::question_pool::{Asked, Purpose};

/// What stands on a drawn paper besides its questions.
pub(crate) struct Page<'p> {
    /// Comments above everything, each a line.
    pub(crate) preface: &'p [&'p str],
    /// The course, where the file's folder does not tell.
    pub(crate) course: Option<String>,
    pub(crate) title: &'p str,
    /// The fields of the paper, in order; an empty value waits for the student.
    pub(crate) fields: Vec<(Key, String)>,
    /// What is to be done with the questions.
    pub(crate) purpose: Purpose,
    /// A file of the notes whose line ends the paper has.
    pub(crate) beside: &'p FilePath,
}

impl Page<'_> {
    /// The whole text with these questions.
    pub(crate) fn text<'a>(
        &self,
        analysis: &Analysis,
        questions: impl Iterator<Item = &'a Asked<'a>>,
    ) -> String {
        let mut lines: Vec<String> = self.preface.iter().map(|line| (*line).to_owned()).collect();
        lines.push(String::new());
        if let Some(course) = self.course.as_ref().filter(|course| !course.is_empty()) {
            lines.push(format!("@course {course}"));
            lines.push(String::new());
        }
        lines.push(format!("@paper {}", self.title));
        for (key, value) in &self.fields {
            lines.push(format!("  {}: {value}", key.word()));
        }
        for (number, asked) in (1..).zip(questions) {
            lines.push(String::new());
            lines.push(format!("@question {number}"));
            if let Some(name) = name_of(&asked.at) {
                lines.push(format!("  of: {name}"));
            }
            if let Some(seed) = asked.seed {
                lines.push(format!("  {}: {seed}", Key::Seed.word()));
            }
            let points = asked.at.block.count(Key::Points);
            if let Some(points) = points.filter(|_| self.purpose == Purpose::Solving) {
                lines.push(format!("  points: {points}"));
            }
            lines.extend(asked.text.lines().map(|line| format!("  {line}")));
            lines.push(String::new());
            match self.purpose {
                Purpose::Solving => {
                    if asked.at.block.kind == Some(BlockKind::Problem) {
                        lines.push("  mine: ".to_owned());
                    }
                    lines.push("  mark: ".to_owned());
                }
                Purpose::Spotting => lines.push("  pattern: ".to_owned()),
            }
        }
        lines.push(String::new());
        let file = analysis.notebook.file(self.beside);
        let line_ending =
            file.map_or_else(|| "\n".to_owned(), |file| line_ending(file, usize::MAX));
        lines.join(&line_ending)
    }
}

/// The name by which a question can refer to a block. Without one it is found by its text: a comma
/// would cut the name, and a formula that is not closed would run on into the question.
pub(crate) fn name_of(at: &Located<'_>) -> Option<String> {
    let title = at.title();
    let is_open = |formula: &notes::Formula| formula.place == Place::Title && !formula.closed;
    let is_cut = title.contains(',') || at.entry.unit.formulas.iter().any(is_open);
    (!title.is_empty() && !is_cut).then_some(title)
}
