//! What is the answer?
//!
//! [`solve`] gives exact keys as a textbook prints them, for the kinds of problem of a first
//! university year: by the method that is taught for each, not by a general algorithm. What it
//! cannot do, it says. A key is no proof of itself: [`crate::verdict`] checks it without knowing how
//! it was found.

mod antiderivative;
mod derivatives;
mod differential_equations;
mod equations;
mod expressions;
mod functions;
mod graphs;
mod growth;
mod inequalities;
mod integrals;
mod limits;
mod matrices;
mod polynomials;
mod power_series;
mod series;
mod systems;
mod textbook;
mod tidy;
mod transforms;
mod trigonometry;
mod write;

use crate::expression::Expression;
use crate::problem::{Problem, Task};

/// The key of a problem.
#[derive(Clone, Debug, PartialEq)]
pub enum Key {
    /// A formula: a value, an equation `y = ...`, a list `x = 1, x = 2`, a set.
    Formula(Expression),
    /// Words, such as "no solution" or "converges".
    Words(&'static str),
}

/// The keys of a problem, the usual form first: several where there are different customs of writing
/// it. The error says why there is none, in one sentence without its final stop.
pub fn solve(problem: &Problem) -> Result<Vec<Key>, String> {
    let Some(main) = &problem.main else {
        return Err("there is no formula to go by".into());
    };
    if main.size() > MAX_SIZE || main.has_gap() {
        return Err("the formula is too large".into());
    }
    let keys = match problem.task {
        Task::Equation => equations::solve(problem, main),
        Task::Inequality => inequalities::solve(problem, main),
        Task::System => systems::solve(problem, main),
        Task::Simplify => expressions::solve(problem, main),
        Task::Differentiate => derivatives::solve(problem, main),
        Task::Integrate => integrals::solve(problem, main),
        Task::Limit => limits::solve(problem, main),
        Task::Sum => series::solve(problem, main),
        Task::Ode => differential_equations::solve(problem, main),
        Task::Matrix => matrices::solve(problem, main),
        Task::Other => functions::solve(problem, main),
        _ => Err("problems of this kind are not solved".into()),
    };
    Ok(keys?.into_iter().map(textbook::printed).collect())
}

/// What the numbers of a problem say about the way to its answer, where a fingerprint does not tell:
/// equal lists for problems of one fingerprint mean that the way is the same. Empty where there is
/// nothing more to say.
pub(crate) fn method(problem: &Problem) -> Vec<i8> {
    let Some(main) = problem.main.as_ref().filter(|main| main.size() <= MAX_SIZE) else {
        return Vec::new();
    };
    match problem.task {
        Task::Equation => equations::extraneous(problem, main),
        Task::Limit => limits::form(main),
        Task::Sum => series::growth_class(main),
        _ => Vec::new(),
    }
}

/// Formulas of more operators are not solved.
const MAX_SIZE: usize = 400;

/// A formula as the only key.
fn formula(formula: Expression) -> Result<Vec<Key>, String> {
    Ok(vec![Key::Formula(formula)])
}

/// Words as the only key.
fn words(words: &'static str) -> Result<Vec<Key>, String> {
    Ok(vec![Key::Words(words)])
}
