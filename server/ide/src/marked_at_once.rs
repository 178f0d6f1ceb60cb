//! What may be said of a student's answer as soon as it is written: in a drill sheet and a spotting
//! round at once, in a mock test only when its time is over, as in the exam.

use notes::value::Value;
use notes::{Key, Located};

use crate::Analysis;
use crate::own_answers::{OwnMark, own_mark};
use crate::own_kinds::{OwnKind, own_kind};
use crate::papers::{Paper, PaperUse, is_spotting};
use crate::question_source::Sources;

/// What is said of an answer or a kind that was named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum AtOnce {
    /// It is right.
    Right,
    /// It is not, and what is wrong with it or what it is.
    Wrong(String),
    /// It is for the student to mark, and why.
    Unclear(String),
}

/// Whether the questions of a paper are marked as they are answered.
pub(crate) fn marks_at_once(paper: &Paper<'_>) -> bool {
    let is_over = || paper.at.block.moment(Key::Finished).is_some() || paper.is_recorded();
    let is_drawn = || paper.at.block.field(Key::Drawn).is_some();
    match paper.purpose() {
        PaperUse::Drill | PaperUse::Spotting => is_drawn(),
        PaperUse::MockTest => is_over(),
    }
}

/// The field of a question in which the student answers, if something stands in it.
pub(crate) fn answered<'a>(question: &Located<'a>) -> Option<&'a notes::Field> {
    let key = match is_spotting(question) {
        true => Key::Pattern,
        false => Key::Mine,
    };
    let field = question.block.field(key)?;
    (field.value != Value::Empty && !field.value_span.is_empty()).then_some(field)
}

/// What is said of what the student wrote below a question; nothing where there is nothing yet, or
/// nothing to hold it against.
pub(crate) fn at_once(
    analysis: &Analysis,
    paper: &Paper<'_>,
    sources: &Sources<'_>,
    question: &Located<'_>,
) -> Option<AtOnce> {
    answered(question)?;
    let source = sources.find(question).ok();
    if !is_spotting(question) {
        return Some(match own_mark(analysis, question, source.as_ref())? {
            OwnMark::Right => AtOnce::Right,
            OwnMark::Wrong(why) => AtOnce::Wrong(why),
            OwnMark::Unclear(why) => AtOnce::Unclear(why),
        });
    }
    match own_kind(analysis, &paper.course, question, &source?)? {
        OwnKind::Right => Some(AtOnce::Right),
        OwnKind::Wrong { is, .. } => Some(AtOnce::Wrong(format!("it is {is}"))),
        // A check says so of a name that is not known.
        OwnKind::Unknown(_) | OwnKind::NoKind => None,
    }
}
