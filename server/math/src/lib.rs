//! Reads TeX formulas and sees through their numbers.
//!
//! In reading order:
//!
//! * [`expression`]: what a formula is, once it has been read, and how to build and walk one;
//! * [`problem`]: what a statement asks;
//! * [`fingerprint`]: whether two problems are the same one with other numbers and letters;
//! * [`shape`]: whether a problem is of a given kind;
//! * [`rational`] and [`univariate`]: exact numbers, and polynomials in one variable.

use std::ops::Range;

pub mod expression;
pub mod fingerprint;
pub mod problem;
pub mod rational;
pub mod shape;
pub mod univariate;

pub use expression::{Expression, Operator};

/// Something in a formula that cannot be read, or only in part.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// The bytes of the text that it is about.
    pub range: Range<usize>,
    /// What was found and what to do.
    pub message: String,
    /// How bad it is.
    pub class: Class,
}

/// How bad a [`Diagnostic`] is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// The TeX is broken.
    Malformed,
    /// The TeX may be right but is beyond what is understood.
    Unsupported,
}

/// The names that are functions in a formula.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Declared {}

/// A formula as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// The formula.
    pub expression: Expression,
    /// What could not be read.
    pub diagnostics: Vec<Diagnostic>,
}

/// Reads a formula. Never fails.
pub fn read(tex: &str, _declared: &Declared) -> Reading {
    Reading {
        expression: Expression::new(Operator::Opaque(tex.into()), []),
        diagnostics: Vec::new(),
    }
}
