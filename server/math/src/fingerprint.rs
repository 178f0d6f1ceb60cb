//! Are two problems the same one with other numbers and letters?
//!
//! A [`Fingerprint`] is a hash of the surface of a problem (the submodule `mask`: numbers become
//! classes, letters are known by their roles only, what commutes has no order, the sides of an
//! equation may be swapped), and of those properties of the hidden numbers on which the method
//! depends: the kinds of the roots of a polynomial, whether a system has one solution, whether a
//! series is alternating, and so on. Masking alone would take `$x^2 + 4 = 0$` for another
//! `$x^2 - 4 = 0$`.
//!
//! Where it is not clear that two problems call for the same method, they differ: that a twin is
//! missed costs the student little, a false one costs an exercise that was needed.

mod calculus;
mod differential_equations;
mod linear_algebra;
mod mask;
mod roots;

use std::fmt;

use crate::expression::{Expression, Operator};
use crate::problem::{Problem, Task};
use crate::stable_hash::Digest;
use mask::Mask;

/// What a problem looks like when numbers and letters are seen through.
///
/// Equal fingerprints mean: the same problem in disguise. The value is the same on every platform.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Fingerprint(u128);

/// Formulas beyond this size have no fingerprint: nothing of a student's is that long.
const MAX_SIZE: usize = 4_000;

/// Nor have formulas with more levels than this.
const MAX_DEPTH: usize = 150;

/// The fingerprint of a problem, if it has a formula to go by.
pub fn of(problem: &Problem) -> Option<Fingerprint> {
    let words = problem.remainder;
    let main = problem.main.as_ref()?;
    let size = problem.conditions.iter().map(Expression::size);
    if size.sum::<usize>() + main.size() > MAX_SIZE || main.depth() > MAX_DEPTH || main.has_gap() {
        return None;
    }
    let mut formulas = problem.conditions.iter().chain([main]);
    if formulas.any(Expression::has_giant) {
        return None;
    }
    let is_usable = match problem.task {
        _ if problem.conditions.iter().any(|c| c.depth() > MAX_DEPTH) => false,
        Task::Statement | Task::Other => {
            main.size() > 3 && (words.is_some() || !problem.instructions.is_empty())
        }
        _ => true,
    };
    if !is_usable {
        return None;
    }
    let mut mask = Mask::new(problem);
    let mut hash = Digest::tag(problem.task as u64);
    if let Some(words) = words {
        hash = hash.then(words);
    }
    for instruction in &problem.instructions {
        // These are accounted for by the task, and may as well be left out of the statement.
        if !matches!(
            *instruction,
            "solve" | "compute" | "differentiate" | "integrate" | "limit" | "general solution"
        ) {
            hash = hash.then(Digest::of(instruction));
        }
    }
    let formulas = |mask: &Mask<'_>| {
        let mut conditions: Vec<Digest> = problem
            .conditions
            .iter()
            .filter(|condition| !is_wanted(condition, problem))
            .map(|condition| mask.condition(condition))
            .collect();
        let conditions = Digest::of_bag(&mut conditions);
        mask.main(main).then(conditions)
    };
    mask.refine(formulas);
    Some(Fingerprint(hash.then(formulas(&mask)).0))
}

/// The letter that is to be found, as in "solve for `$x$`".
fn is_wanted(condition: &Expression, problem: &Problem) -> bool {
    match condition.operator() {
        Operator::Symbol(symbol) => {
            problem.variables.contains(symbol) || problem.unknowns.contains(symbol)
        }
        _ => false,
    }
}

impl fmt::Display for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:032x}", self.0)
    }
}

impl fmt::Debug for Fingerprint {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Fingerprint({self})")
    }
}
