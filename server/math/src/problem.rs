//! What does a problem's statement ask?

use crate::fingerprint::Fingerprint;

/// A piece of a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part<'a> {
    /// Words.
    Words(&'a str),
    /// The TeX of one formula, without its dollar signs.
    Tex(&'a str),
}

/// What is to be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Task {
    /// Solve an equation.
    Equation,
    /// Solve an inequality.
    Inequality,
    /// Solve several equations together.
    System,
    /// Bring an expression into another form, or compute its value.
    Simplify,
    /// Differentiate.
    Differentiate,
    /// Integrate.
    Integrate,
    /// Find a limit.
    Limit,
    /// Find a sum, or decide whether there is one.
    Sum,
    /// Solve a differential equation.
    Ode,
    /// Compute with a matrix.
    Matrix,
    /// State or prove something.
    Statement,
    /// Anything else.
    Other,
}

/// A problem's statement as it was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// What is to be done.
    pub task: Task,
    /// What it looks like when numbers are seen through; none if there is no formula to go by.
    pub fingerprint: Option<Fingerprint>,
}

/// Reads a statement. Never fails.
pub fn read(_parts: &[Part<'_>]) -> Problem {
    Problem {
        task: Task::Other,
        fingerprint: None,
    }
}
