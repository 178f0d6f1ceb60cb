//! What solves an equation in one unknown?

use super::{Key, words, write};
use crate::evaluate::{Point, value};
use crate::expression::{Expression, Operator, Symbol};
use crate::normal_form::normal;
use crate::problem::Problem;
use crate::views;

use super::polynomials;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let [variable] = problem.variables.as_slice() else {
        return Err("there is not one unknown".into());
    };
    let (left, right) = main.as_equation().ok_or("it is no equation")?;
    let difference = Expression::difference(left.clone(), right.clone());
    let solutions = roots(&difference, variable)?;
    let real: Vec<Expression> = solutions;
    if real.is_empty() {
        return words("no solution");
    }
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let items = real
        .into_iter()
        .map(|root| Expression::equation(name.clone(), root));
    Ok(vec![Key::Formula(write::list(items.collect()))])
}

/// Where an expression is 0.
fn roots(expression: &Expression, variable: &Symbol) -> Result<Vec<Expression>, String> {
    let number = normal(expression).map_err(|_| "it cannot be collected")?;
    let polynomial = views::univariate(
        &crate::normal_form::Normal::whole(number.numerator().clone()),
        variable,
    )
    .ok_or("it is no polynomial equation")?;
    let roots = polynomials::roots(&polynomial).ok_or("the roots cannot be written exactly")?;
    let roots = roots.into_iter().map(|root| root.to_expression());
    Ok(roots
        .filter(|root| is_root(expression, variable, root))
        .collect())
}

/// The expression has a value there, and it is 0.
fn is_root(expression: &Expression, variable: &Symbol, root: &Expression) -> bool {
    let Ok(at) = value(root, &Point::new()) else {
        return false;
    };
    let point = Point::new().with(variable.clone(), at);
    value(expression, &point).is_ok_and(|found| found.abs() < 1e-8 * (1.0 + at.abs()))
}
