//! What is the derivative?

use super::tidy::tidy;
use super::{Key, formula, write};
use crate::derivative::derivative;
use crate::expression::{Expression, Operator, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::views;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let asked = |word: &str| problem.instructions.contains(word);
    if asked("by definition") && main.as_equation().is_some() {
        return Err("derivatives of this kind are not solved".into());
    }
    if asked("implicit") || main.as_equation().is_some() {
        return implicit(problem, main);
    }
    let (Operator::Derivative(by), [body, variable]) = (main.operator(), main.operands()) else {
        return Err("it is no derivative in one letter".into());
    };
    let variable = variable
        .as_symbol()
        .ok_or("it is no derivative in one letter")?;
    let order = match () {
        () if asked("second derivative") => 2,
        () if asked("third derivative") => 3,
        () => by.orders.first().copied().unwrap_or(1),
    };
    let mut result = body.clone();
    for _ in 0..order.min(4) {
        let slope = derivative(&result, variable).ok_or("a part of it cannot be differentiated")?;
        result = tidy(&slope);
    }
    // "at x = 2", "f'(2)"
    let at = problem.conditions.iter().find_map(|condition| {
        if let (Operator::Apply, [function, argument]) =
            (condition.operator(), condition.operands())
        {
            let is_slope = matches!(function.operator(), Operator::Prime(n) if *n == order);
            return (is_slope && argument.free_symbols().is_empty()).then_some(argument);
        }
        let (left, right) = condition.as_equation()?;
        (left.as_symbol() == Some(variable) && !right.mentions(variable)).then_some(right)
    });
    match at {
        Some(at) => {
            let value = normal(&result.substitute(variable, at))
                .map_err(|_| "there is no value at the point")?;
            formula(write::normal(&value))
        }
        None => formula(result),
    }
}

/// dy/dx from an equation in x and y.
fn implicit(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (left, right) = main.as_equation().ok_or("it is no equation")?;
    let letters: Vec<Symbol> = main.free_symbols().into_iter().collect();
    let [x, y] = letters.as_slice() else {
        return Err("there are not two letters".into());
    };
    if problem.variables.contains(y) && !problem.variables.contains(x) && x.name() != "x" {
        return Err("it is not clear which letter depends on the other".into());
    }
    let difference = Expression::difference(left.clone(), right.clone());
    let part = |by: &Symbol| {
        let slope = derivative(&difference, by).ok_or("a part of it cannot be differentiated")?;
        normal(&slope).map_err(|_| "a part of it cannot be collected")
    };
    let (by_x, by_y): (Normal, Normal) = (part(x)?, part(y)?);
    if views::is_zero(&by_y) != views::Truth::No {
        return Err("the second letter does not occur".into());
    }
    let slope = by_x
        .negate()
        .divide(&by_y)
        .map_err(|_| "it cannot be divided")?;
    formula(write::normal(&slope))
}
