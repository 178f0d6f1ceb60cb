//! In which forms can a problem be written with a few laws, and which shapes do they have?
//!
//! A breadth-first search over forms of the problem: the form as written first, then those that
//! one law makes of it, and so on. It ends after four laws or 24 forms; each shape may take 4,000
//! steps of matching. Steps are counted, and no clock is asked, so that the answer is the same on
//! every machine, and the same whatever other shapes are asked for.

use std::collections::BTreeSet;

use crate::expression::{Expression, Function, Operator};
use crate::laws::{self, Law};
use crate::problem::{Problem, Task};
use crate::shape::{Form, Known, Match, Shape, Signature, Subject, without_arguments};

/// At most so many laws are used one after the other.
pub const MAX_LAWS: usize = 4;

/// At most so many forms of a problem are looked at.
pub const MAX_FORMS: usize = 24;

/// At most so many steps of matching are made for one shape.
pub const MAX_STEPS: u32 = 4_000;

/// What a search took.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Effort {
    /// How many forms of the problem were looked at: at most [`MAX_FORMS`].
    pub forms: usize,
    /// The steps of matching, of all shapes together: at most [`MAX_STEPS`] for each.
    pub steps: u64,
    /// The formula is too large to be searched, so that only what the words say was compared.
    pub is_too_large: bool,
}

/// A shape that the problem may still turn out to have.
struct Candidate<'s> {
    place: usize,
    shape: &'s Shape,
    wanted: Signature,
    budget: u32,
}

/// For each shape, how the problem has it, with as few laws as possible; and what it took to find
/// out.
pub fn classify<'s>(
    shapes: impl IntoIterator<Item = &'s Shape>,
    problem: &Problem,
) -> (Vec<Option<Match>>, Effort) {
    let mut effort = Effort::default();
    // What is to be proved of an equation is seldom its solution: only templates for statements
    // are compared, as they stand.
    let is_statement = problem.task == Task::Statement;
    let mut matches: Vec<Option<Match>> = Vec::new();
    let mut candidates: Vec<Candidate<'_>> = Vec::new();
    for (place, shape) in shapes.into_iter().enumerate() {
        matches.push(shape.fits_without_template(problem).then(Match::default));
        let Some(wanted) = shape.signature() else {
            continue;
        };
        let is_out = (is_statement && shape.compares_with_number())
            || (wanted.form.is_solved() && !solves(problem.task));
        if !is_out && shape.is_asked(problem) {
            candidates.push(Candidate {
                place,
                shape,
                wanted,
                budget: MAX_STEPS,
            });
        }
    }
    let Some(main) = &problem.main else {
        return (matches, effort);
    };
    effort.is_too_large = main.size() > MAX_SIZE || main.depth() > MAX_DEPTH || main.has_giant();
    if main.has_gap() || effort.is_too_large {
        return (matches, effort);
    }
    let start = opened(&without_arguments(main), problem);
    let known = Known::default();
    let mut seen: BTreeSet<(bool, Expression)> = [key(&start, None, &known)].into();
    let mut forms: Vec<(Vec<Law>, Expression)> = vec![(Vec::new(), start)];
    while let Some((laws, formula)) = forms.get(effort.forms).cloned() {
        effort.forms += 1;
        let signature = Signature::of(&formula);
        // Laws keep what a formula is, but for the characteristic equation of a matrix.
        let is_near = |wanted: Signature| {
            wanted.form == signature.form
                || (wanted.form == Form::Equation && signature.form == Form::Matrix)
        };
        let subject = Subject::new(formula.clone(), problem, &known);
        candidates.retain_mut(|candidate| {
            if !candidate.wanted.fits(signature) {
                return true;
            }
            let before = candidate.budget;
            let found = candidate.shape.fit(&subject, &laws, &mut candidate.budget);
            effort.steps += u64::from(before - candidate.budget);
            let is_found = found.is_some();
            matches[candidate.place] = found.or(matches[candidate.place].take());
            !is_found
        });
        let is_open = candidates.iter().any(|candidate| is_near(candidate.wanted));
        if !is_open || is_statement || laws.len() >= MAX_LAWS {
            continue;
        }
        for (law, new) in laws::successors(&formula, problem) {
            if forms.len() >= MAX_FORMS {
                break;
            }
            if seen.insert(key(&new, Some(law), &known)) {
                let mut laws = laws.clone();
                laws.push(law);
                forms.push((laws, new));
            }
        }
    }
    (matches, effort)
}

/// An equation that comes with the task is there to be solved: the curve of which the area is
/// asked, or the function that is differentiated, is no equation of a kind.
fn solves(task: Task) -> bool {
    !matches!(
        task,
        Task::Differentiate | Task::Integrate | Task::Limit | Task::Sum | Task::Simplify
    )
}

/// What makes two forms of a problem one: that they are equal when collected, unless the law is
/// about what collecting does or undoes: then, that they are written alike.
fn key(formula: &Expression, law: Option<Law>, known: &Known) -> (bool, Expression) {
    let as_written = [Law::Factor, Law::CompleteSquare, Law::OddPower, Law::Expand];
    if law.is_some_and(|law| as_written.contains(&law)) {
        return (true, formula.clone());
    }
    let number = match formula.as_equation() {
        Some((left, right)) => Expression::difference(left.clone(), right.clone()),
        None => formula.clone(),
    };
    let collected = match &*known.collected(&number) {
        Ok((normal, _)) => normal.to_expression(),
        Err(_) => formula.clone(),
    };
    (false, collected)
}

/// Formulas with more operators than this are not searched.
const MAX_SIZE: usize = 400;

/// Nor are those with more levels.
const MAX_DEPTH: usize = 60;

/// The main formula as templates are written: the determinant or inverse that the words ask for is
/// part of the formula.
fn opened(main: &Expression, problem: &Problem) -> Expression {
    let asks = |instruction| problem.instructions.contains(instruction);
    let is_matrix = matches!(main.operator(), Operator::Matrix(_));
    if problem.task != Task::Matrix || !is_matrix {
        return main.clone();
    }
    match () {
        () if asks("determinant") => Expression::function(Function::Determinant, main.clone()),
        () if asks("inverse") => Expression::power(main.clone(), Expression::integer(-1)),
        () if asks("rank") => Expression::function(Function::Rank, main.clone()),
        () if asks("trace") => Expression::function(Function::Trace, main.clone()),
        () => main.clone(),
    }
}
