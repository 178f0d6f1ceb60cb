//! From dated tries to what to do next: pure computations on numbers, ids and days. Today and
//! every seed are arguments; the same arguments give the same bytes on every platform.
//!
//! In reading order: [`evidence`] (what tries say), [`mastery`] (how well each pattern is known),
//! [`composition`] (what an exam asks), [`readiness`] (the score to expect).

pub mod composition;
pub mod evidence;
pub mod mastery;
pub mod readiness;

mod beta;
mod random;
mod units;

pub use units::{Day, ExamId, Fraction, Minutes, PaperId, PatternId, ProblemId, TopicId};
