//! The text of a drawn paper.

use chrono::NaiveDate;
use notes::value::{Minutes, NotesRule, NotesUse};
use notes::{BlockKind, Key, Located, Place};
use study::paper::Kind;

use super::pool::Asked;
use crate::Analysis;
use crate::exams::Exam;
use crate::new_field::line_ending;

/// The number of questions that an exam's length is taken to be for, when it does not say and the
/// student asks for another number than usual.
const USUAL_QUESTIONS: u32 = study::composition::DEFAULT_QUESTIONS;
/// The time allowed is rounded up to whole steps of so many minutes.
const STEP_MINUTES: u32 = 5;

/// What the head of a paper says.
pub(super) struct Heading<'a> {
    /// The course, where the file's folder does not tell.
    pub(super) course: Option<String>,
    pub(super) title: &'a str,
    pub(super) date: NaiveDate,
    pub(super) seed: u32,
    pub(super) length: Option<Minutes>,
    pub(super) notes: NotesUse,
}

/// What stands above every drawn paper.
pub(super) const PREFACE: [&str; 4] = [
    "% Drawn from your notes: an estimate of the exam, not a promise. The course's own",
    "% rules on materials and collaboration come first. Pass over what is hard and",
    "% come back. Then mark each question: right, partly, wrong, skipped or a score",
    "% such as 3/4, and record the marks.",
];

pub(super) fn text_of<'a>(
    analysis: &Analysis,
    exam: &Exam<'_>,
    heading: &Heading<'_>,
    questions: impl Iterator<Item = &'a Asked<'a>>,
) -> String {
    let mut lines: Vec<String> = PREFACE.map(str::to_owned).to_vec();
    lines.push(String::new());
    if let Some(course) = heading.course.as_ref().filter(|course| !course.is_empty()) {
        lines.push(format!("@course {course}"));
        lines.push(String::new());
    }
    lines.push(format!("@paper {}", heading.title));
    lines.push(format!("  for: {}", exam.at.title()));
    lines.push(format!("  drawn: {}", heading.date));
    lines.push(format!("  seed: {}", heading.seed));
    if let Some(length) = heading.length {
        lines.push(format!("  length: {length}"));
    }
    lines.push(format!("  notes: {}", notes_allowed(exam, heading.notes)));
    lines.push("  started: ".to_owned());
    lines.push("  finished: ".to_owned());
    for (number, asked) in (1..).zip(questions) {
        lines.push(String::new());
        lines.push(format!("@question {number}"));
        if let Some(name) = name_of(&asked.at) {
            lines.push(format!("  of: {name}"));
        }
        if let Some(points) = asked.at.block.count(Key::Points) {
            lines.push(format!("  points: {points}"));
        }
        lines.extend(asked.text.lines().map(|line| format!("  {line}")));
        lines.push(String::new());
        if asked.at.block.kind == Some(BlockKind::Problem) {
            lines.push("  mine: ".to_owned());
        }
        lines.push("  mark: ".to_owned());
    }
    lines.push(String::new());
    let file = analysis.notebook.file(exam.at.path);
    let line_ending = file.map_or_else(|| "\n".to_owned(), |file| line_ending(file, usize::MAX));
    lines.join(&line_ending)
}

/// The name by which a question can refer to a block. Without one it is found by its text: a comma
/// would cut the name, and a formula that is not closed would run on into the question.
fn name_of(at: &Located<'_>) -> Option<String> {
    let title = at.title();
    let is_open = |formula: &notes::Formula| formula.place == Place::Title && !formula.closed;
    let is_cut = title.contains(',') || at.entry.unit.formulas.iter().any(is_open);
    (!title.is_empty() && !is_cut).then_some(title)
}

/// What a paper allows: a closed-notes paper allows what the exam allows.
fn notes_allowed(exam: &Exam<'_>, notes: NotesUse) -> String {
    match (notes, exam.at.block.notes_rule()) {
        (NotesUse::Open, _) => "open".to_owned(),
        (NotesUse::Closed, Some(NotesRule::Other)) => {
            let allowed = exam.at.field_text(Key::Notes).unwrap_or_default();
            allowed.split_whitespace().collect::<Vec<_>>().join(" ")
        }
        (NotesUse::Closed, _) => "closed".to_owned(),
    }
}

/// The time allowed: the exam's, in proportion to the questions.
pub(super) fn length(
    exam: &Exam<'_>,
    kind: Kind,
    drawn: u32,
    wanted: Option<u32>,
) -> Option<Minutes> {
    let Minutes(whole) = exam
        .at
        .block
        .duration(Key::Length)
        .filter(|_| kind == Kind::Problems)?;
    let of = match exam.questions.filter(|n| *n > 0) {
        Some(questions) => questions,
        None if wanted.is_some() => USUAL_QUESTIONS.max(drawn),
        None => return Some(Minutes(whole)),
    };
    if of == drawn {
        return Some(Minutes(whole));
    }
    let share = (u64::from(whole) * u64::from(drawn)).div_ceil(u64::from(of));
    let share = u32::try_from(share).unwrap_or(whole);
    Some(Minutes(
        share
            .div_ceil(STEP_MINUTES)
            .max(1)
            .saturating_mul(STEP_MINUTES),
    ))
}
