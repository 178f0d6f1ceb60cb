//! In which forms can a problem be written with a few laws, and which shapes do they have?
//!
//! A breadth-first search over forms of the problem: the form as written first, then those that
//! one law makes of it, and so on. It ends after four laws or 64 forms; each shape may take 4,000
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
pub const MAX_FORMS: usize = 64;

/// At most so many steps of matching are made for one shape.
pub const MAX_STEPS: u32 = 4_000;

/// For each shape, how the problem has it, with as few laws as possible.
pub(crate) fn classify(shapes: &[&Shape], problem: &Problem) -> Vec<Option<Match>> {
    let mut matches: Vec<Option<Match>> = shapes
        .iter()
        .map(|shape| shape.fits_without_template(problem).then(Match::default))
        .collect();
    let Some(main) = &problem.main else {
        return matches;
    };
    // What is to be proved of an equation is seldom its solution: only templates for statements
    // are compared, as they stand.
    let is_statement = problem.task == Task::Statement;
    if main.has_gap() || main.size() > MAX_SIZE || main.depth() > MAX_DEPTH {
        return matches;
    }
    let mut budgets = vec![MAX_STEPS; shapes.len()];
    let start = opened(&without_arguments(main), problem);
    let known = Known::default();
    let mut seen: BTreeSet<Expression> = [key(&start, None, &known)].into();
    let mut forms: Vec<(Vec<Law>, Expression)> = vec![(Vec::new(), start)];
    let mut at = 0;
    while at < forms.len() {
        let (laws, formula) = forms[at].clone();
        at += 1;
        let signature = Signature::of(&formula);
        let subject = Subject::new(formula.clone(), problem, &known);
        // Laws keep what a formula is, but for the characteristic equation of a matrix.
        let mut is_open = false;
        for ((shape, found), budget) in shapes.iter().zip(&mut matches).zip(&mut budgets) {
            let Some(wanted) = shape.signature() else {
                continue;
            };
            if found.is_some()
                || !shape.is_asked(problem)
                || (is_statement && shape.compares_with_number())
                || (wanted.form.is_solved() && !solves(problem.task))
            {
                continue;
            }
            is_open |= wanted.form == signature.form
                || (wanted.form == Form::Equation && signature.form == Form::Matrix);
            if wanted.fits(signature) {
                *found = shape.fit(&subject, &laws, budget);
            }
        }
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
    matches
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
/// about what collecting undoes.
fn key(formula: &Expression, law: Option<Law>, known: &Known) -> Expression {
    if matches!(law, Some(Law::Factor | Law::CompleteSquare | Law::OddPower)) {
        return formula.clone();
    }
    let number = match formula.as_equation() {
        Some((left, right)) => Expression::difference(left.clone(), right.clone()),
        None => formula.clone(),
    };
    match &*known.collected(&number) {
        Ok((normal, _)) => normal.to_expression(),
        Err(_) => formula.clone(),
    }
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
