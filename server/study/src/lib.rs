//! From dated tries to what to do next: pure computations on numbers, ids and days. Today and
//! every seed are arguments; the same arguments give the same bytes on every platform.
//!
//! In reading order: [`evidence`] (what tries say), [`mastery`] (how well each pattern is known),
//! [`composition`] (what an exam asks), [`readiness`] (the score to expect), [`paper`] (a mock
//! test), [`drill`] (sheets on chosen patterns; both choose from [`selection`]'s candidates),
//! [`plan`] (the days left), [`collisions`] (too much work for them), [`next_step`] (what to do for
//! an exam now), [`calibration`] (how good past predictions were).

pub mod calibration;
pub mod collisions;
pub mod composition;
pub mod drill;
pub mod evidence;
pub mod mastery;
pub mod next_step;
pub mod paper;
pub mod plan;
pub mod readiness;
pub mod selection;

mod beta;
mod interleave;
mod random;
mod units;

pub use units::{Day, ExamId, Fraction, Minutes, PaperId, PatternId, ProblemId, TopicId};
