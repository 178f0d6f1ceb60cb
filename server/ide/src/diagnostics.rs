//! What is amiss in the notes, or worth knowing today: findings, each with a code, a place, a
//! message and perhaps ways out.
//!
//! One check, one file, one code; the checks are listed in [`CHECKS`], and the documentation
//! comment of each is also its page in the reference and what [`crate::explain`] shows.
//! [`check_all`] checks a notebook from nothing; a [`Checker`] follows its edits and checks again
//! only what an edit may have changed.

use notes::{FilePath, Span};

use crate::edit::NotebookEdit;

mod check;
mod checker;
mod mark;
mod problem;
mod scope;
mod watch;

// What a line says by itself.
mod ambiguous_tex;
mod broken_shape;
mod broken_tex;
mod empty_value;
mod field_twice;
mod impossible_date;
mod unclosed_math;
mod unknown_field;
mod unknown_kind;
mod unread_tex;
mod unreadable_value;

// What a block says in its course and on its day.
mod before_term;
mod future_date;
mod no_coverage;
mod no_date;
mod no_pattern;
mod no_result;

// What blocks say of each other.
mod defined_twice;
mod lost_source;
mod other_kind;
mod overlapping_patterns;
mod same_problem;
mod same_text;
mod unknown_name;
mod unrecorded_marks;
mod unused_pattern;
mod wrong_answer;

// What there is to do for an exam.
mod exams_collide;
mod idle_window;
mod never_closed;
mod not_ready;
mod nothing_to_practise;
mod points_disagree;
mod skipped_hour;
mod too_much_work;
mod unknown_zone;

#[cfg(test)]
mod demo;
#[cfg(test)]
mod testing;

pub use ambiguous_tex::AMBIGUOUS_TEX;
pub use before_term::BEFORE_TERM;
pub use broken_shape::BROKEN_SHAPE;
pub use broken_tex::BROKEN_TEX;
pub use check::{Check, Severity};
pub use checker::{Checker, Updated, check_all};
pub use defined_twice::DEFINED_TWICE;
pub use empty_value::EMPTY_VALUE;
pub use exams_collide::EXAMS_COLLIDE;
pub use field_twice::FIELD_TWICE;
pub use future_date::FUTURE_DATE;
pub use idle_window::IDLE_WINDOW;
pub use impossible_date::IMPOSSIBLE_DATE;
pub use lost_source::LOST_SOURCE;
pub use never_closed::NEVER_CLOSED;
pub use no_coverage::NO_COVERAGE;
pub use no_date::NO_DATE;
pub use no_pattern::NO_PATTERN;
pub use no_result::NO_RESULT;
pub use not_ready::NOT_READY;
pub use nothing_to_practise::NOTHING_TO_PRACTISE;
pub use other_kind::OTHER_KIND;
pub use overlapping_patterns::OVERLAPPING_PATTERNS;
pub use points_disagree::POINTS_DISAGREE;
pub(crate) use problem::answer_of;
pub use problem::work_out;
pub use same_problem::SAME_PROBLEM;
pub use same_text::SAME_TEXT;
pub use skipped_hour::SKIPPED_HOUR;
pub use too_much_work::TOO_MUCH_WORK;
pub use unclosed_math::UNCLOSED_MATH;
pub use unknown_field::UNKNOWN_FIELD;
pub use unknown_kind::UNKNOWN_KIND;
pub use unknown_name::UNKNOWN_NAME;
pub use unknown_zone::UNKNOWN_ZONE;
pub use unread_tex::UNREAD_TEX;
pub use unreadable_value::UNREADABLE_VALUE;
pub use unrecorded_marks::UNRECORDED_MARKS;
pub use unused_pattern::UNUSED_PATTERN;
pub use wrong_answer::WRONG_ANSWER;

/// Every check: first those of a line, then those of a block, of blocks with each other, and of
/// exams.
pub static CHECKS: [&Check; 36] = [
    &UNKNOWN_KIND,
    &UNKNOWN_FIELD,
    &FIELD_TWICE,
    &EMPTY_VALUE,
    &UNREADABLE_VALUE,
    &IMPOSSIBLE_DATE,
    &UNCLOSED_MATH,
    &BROKEN_TEX,
    &UNREAD_TEX,
    &AMBIGUOUS_TEX,
    &BROKEN_SHAPE,
    &NO_PATTERN,
    &OTHER_KIND,
    &WRONG_ANSWER,
    &FUTURE_DATE,
    &BEFORE_TERM,
    &NO_DATE,
    &NO_COVERAGE,
    &NO_RESULT,
    &UNKNOWN_ZONE,
    &UNKNOWN_NAME,
    &DEFINED_TWICE,
    &UNUSED_PATTERN,
    &OVERLAPPING_PATTERNS,
    &SAME_PROBLEM,
    &SAME_TEXT,
    &LOST_SOURCE,
    &UNRECORDED_MARKS,
    &POINTS_DISAGREE,
    &NOTHING_TO_PRACTISE,
    &NEVER_CLOSED,
    &IDLE_WINDOW,
    &NOT_READY,
    &EXAMS_COLLIDE,
    &SKIPPED_HOUR,
    &TOO_MUCH_WORK,
];

/// Something found by a check, at a place of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Finding {
    /// The check's code.
    pub code: &'static str,
    /// How grave it is.
    pub severity: Severity,
    /// The file.
    pub path: FilePath,
    /// The bytes it is about, counted from the start of the file.
    pub span: Span,
    /// One or two sentences: what was found, what was expected, a way out.
    pub message: String,
    /// Other places that it is about.
    pub related: Vec<Related>,
    /// Whether the marked block can be left out; editors show it faded.
    pub unnecessary: bool,
    /// Ways out that can be taken as they are, the likeliest first.
    pub fixes: Vec<Fix>,
}

/// Another place that a finding is about.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Related {
    /// The file.
    pub path: FilePath,
    /// The bytes, counted from the start of the file.
    pub span: Span,
    /// What the place has to do with the finding.
    pub message: String,
}

/// A way out.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fix {
    /// What it does, as an order: "Write `separable`".
    pub title: String,
    /// The edit that does it.
    pub edit: NotebookEdit,
}
