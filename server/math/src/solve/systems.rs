//! What solves a system of linear equations?

use super::{Key, formula, words, write};
use crate::expression::{Expression, Symbol};
use crate::linear::Matrix;
use crate::normal_form::normal;
use crate::problem::Problem;
use crate::rational::Rational;
use crate::views;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let unknowns: Vec<Symbol> = problem
        .variables
        .iter()
        .filter(|variable| main.mentions(variable))
        .cloned()
        .collect();
    let mut sorted = unknowns.clone();
    sorted.sort();
    let rows = main.operands();
    let matrix = rows
        .iter()
        .map(|row| row_of(row, &sorted))
        .collect::<Option<Vec<_>>>()
        .and_then(Matrix::new)
        .ok_or("the system is not linear with rational coefficients")?;
    let (reduced, pivots) = matrix.reduced();
    let count = sorted.len();
    if pivots.last() == Some(&count) {
        return words("no solution");
    }
    let free: Vec<usize> = (0..count)
        .filter(|column| !pivots.contains(column))
        .collect();
    let parameters = match free.len() {
        0 | 1 => ["t"].as_slice(),
        2 => ["s", "t"].as_slice(),
        _ => return Err("more than two unknowns are free".into()),
    };
    let used = |name: &str| sorted.iter().any(|symbol| symbol.name() == name);
    if !free.is_empty() && parameters.iter().any(|name| used(name)) {
        return Err("the usual letter for a parameter is an unknown".into());
    }
    let mut items = Vec::with_capacity(count);
    for (column, symbol) in sorted.iter().enumerate() {
        let name = Expression::new(crate::expression::Operator::Symbol(symbol.clone()), []);
        let value = match pivots.iter().position(|pivot| *pivot == column) {
            None => {
                let place = free.iter().position(|f| *f == column).unwrap_or(0);
                Expression::symbol(parameters[place])
            }
            Some(row) => {
                let row = &reduced.rows()[row];
                let constant = write::number(&row[count]);
                let others = free.iter().enumerate().map(|(place, column)| {
                    write::multiple(&-&row[*column], Expression::symbol(parameters[place]))
                });
                write::sum(std::iter::once(constant).chain(others))
            }
        };
        items.push(Expression::equation(name, value));
    }
    formula(write::list(items))
}

/// The coefficients of the unknowns and the right side.
fn row_of(row: &Expression, unknowns: &[Symbol]) -> Option<Vec<Rational>> {
    let (left, right) = row.as_equation()?;
    let difference = normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let mut coefficients = vec![Rational::ZERO; unknowns.len() + 1];
    let is_unknown = |kernel: &Expression| unknowns.iter().any(|u| kernel.mentions(u));
    for (monomial, coefficient) in views::coefficients(&difference, is_unknown)? {
        let value = coefficient.as_constant()?;
        match monomial.powers() {
            [] => coefficients[unknowns.len()] = -value,
            [(kernel, exponent)] if exponent.is_one() => {
                let place = unknowns
                    .iter()
                    .position(|u| kernel.as_symbol() == Some(u))?;
                coefficients[place] = value;
            }
            _ => return None,
        }
    }
    Some(coefficients)
}
