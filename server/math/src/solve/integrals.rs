//! What is the integral?

use super::antiderivative::antiderivative;
use super::limits::{self, Limit};
use super::tidy::tidy;
use super::{Key, formula, words, write};
use crate::expression::{Bounds, Constant, Expression, Operator, Side, Symbol};
use crate::normal_form::normal;
use crate::problem::Problem;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (Operator::Integral(integration), operands) = (main.operator(), main.operands()) else {
        return Err("it is no single integral".into());
    };
    if integration.signs != 1 || integration.variables != 1 || integration.closed {
        return Err("only integrals in one letter are solved".into());
    }
    let variable = operands[1]
        .as_symbol()
        .ok_or("it is no integral in a letter")?;
    let found =
        antiderivative(&operands[0], variable).ok_or("no method of a first course applies")?;
    match (integration.bounds, &operands[2..]) {
        (Bounds::None, _) => {
            if problem.conditions.iter().any(|c| c.as_equation().is_some()) {
                return Err("a condition is given beside the integral".into());
            }
            formula(write::sum([found, Expression::symbol("C")]))
        }
        (Bounds::Between, [low, high]) => {
            let asks_only = problem.instructions.contains("converge");
            let value = definite(&operands[0], &found, variable, low, high)?;
            match value {
                Some(_) if asks_only && !problem.instructions.contains("compute") => {
                    words("converges")
                }
                Some(value) => formula(value),
                None => words("diverges"),
            }
        }
        _ => Err("it is no single integral".into()),
    }
}

fn is_infinite(bound: &Expression) -> bool {
    bound
        .parts()
        .any(|part| part.as_constant() == Some(Constant::Infinity))
}

/// The difference at the bounds; none where it diverges.
pub(super) fn definite(
    body: &Expression,
    found: &Expression,
    variable: &Symbol,
    low: &Expression,
    high: &Expression,
) -> Result<Option<Expression>, String> {
    let mut ends = Vec::new();
    for (bound, side) in [(high, Side::Below), (low, Side::Above)] {
        let here = body.substitute(variable, bound);
        let is_regular = !is_infinite(bound) && normal(&here).is_ok();
        let value = match is_regular {
            true => Some(found.substitute(variable, bound)),
            false => match limits::limit(found, variable, bound, side)? {
                Limit::Value(value) => Some(value),
                Limit::Infinite(_) => None,
                Limit::None => return Err("the antiderivative has no limit at a bound".into()),
            },
        };
        match value {
            Some(value) => ends.push(value),
            None => return Ok(None),
        }
    }
    let [upper, lower] = ends.as_slice() else {
        return Err("a bound is missing".into());
    };
    let difference = Expression::difference(upper.clone(), lower.clone());
    let value = normal(&difference).map_err(|_| "the antiderivative has no value at a bound")?;
    Ok(Some(tidy(&write::normal(&value))))
}
