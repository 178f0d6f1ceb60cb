//! Is this the right answer?
//!
//! [`verify`] holds an answer against the problem itself, not against a solution of our own: an
//! answer is substituted, differentiated or evaluated, so that every right form of it is right.
//! A right answer that is called wrong costs a student's trust, so a [`Verdict::Fails`] needs a
//! witness that does not hang on rounding; where there is none, the verdict is
//! [`Verdict::CannotTell`].
//!
//! One file answers for each kind of problem; [`answer`] tells how an answer is written, and
//! [`equivalence`] whether two expressions are equal.

mod answer;
mod equivalence;

mod calculus;
mod equations;
mod expressions;
mod vectors;

use crate::problem::{self, Part, Problem, Task};
use answer::Answer;

/// What can be said of an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is right.
    Holds,
    /// It is wrong.
    Fails {
        /// What is wrong, in one sentence without its final stop.
        reason: String,
        /// Where it can be seen: a point and the two values there, or the solution that is
        /// missing.
        witness: Option<String>,
    },
    /// It may be either.
    CannotTell {
        /// Why, in one sentence without its final stop.
        reason: String,
    },
}

impl Verdict {
    pub(crate) fn fails_at(reason: impl Into<String>, witness: impl Into<String>) -> Self {
        Self::Fails {
            reason: reason.into(),
            witness: Some(witness.into()),
        }
    }

    pub(crate) fn cannot_tell(reason: impl Into<String>) -> Self {
        Self::CannotTell {
            reason: reason.into(),
        }
    }
}

/// Whether an answer is right for a problem, each given as words and formulas in turn. Never
/// fails, and takes a bounded number of steps.
pub fn verify(statement: &[Part<'_>], answer: &[Part<'_>]) -> Verdict {
    let problem = problem::read(statement);
    if let Some(verdict) = calculus::judge(&problem, statement, answer) {
        return verdict;
    }
    let answer = match answer::read(answer, &problem) {
        Ok(answer) => answer,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    judge(&problem, &answer)
}

fn judge(problem: &Problem, answer: &Answer) -> Verdict {
    match problem.task {
        Task::Equation | Task::Inequality | Task::System => equations::judge(problem, answer),
        Task::Simplify => expressions::judge(problem, answer),
        Task::Matrix => vectors::judge(problem, answer),
        Task::Statement => Verdict::cannot_tell("a proof is not checked"),
        Task::Differentiate
        | Task::Integrate
        | Task::Limit
        | Task::Sum
        | Task::Ode
        | Task::Other => Verdict::cannot_tell("what is asked is not understood"),
    }
}
