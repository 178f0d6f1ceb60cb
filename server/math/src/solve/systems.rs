//! What solves a system of equations?

use super::equations::{self, Solution};
use super::functions::point;
use super::{Key, formula, polynomials, words, write};
use crate::evaluate::{Point, real_value};
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
        .and_then(Matrix::new);
    let Some(matrix) = matrix else {
        return nonlinear(rows, &sorted);
    };
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

/// Two equations in two unknowns, linear in the squares of both, or one of them linear in an unknown
/// that is then put into the other.
fn nonlinear(rows: &[Expression], unknowns: &[Symbol]) -> Result<Vec<Key>, String> {
    let ([first, second], [x, y]) = (rows, unknowns) else {
        return Err("only systems of two equations in two unknowns are solved".into());
    };
    let points = match in_squares(rows, unknowns) {
        Some(points) => points,
        None => {
            let mut found = None;
            for (row, other) in [(first, second), (second, first)] {
                for (letter, kept) in [(y, x), (x, y)] {
                    found = found.or_else(|| substituted(row, other, letter, kept));
                }
            }
            let points = found.ok_or("neither equation can be solved for an unknown")?;
            points?
        }
    };
    let mut points: Vec<(f64, f64, [Expression; 2])> = points
        .into_iter()
        .filter_map(|[a, b]| {
            let at = |e: &Expression| real_value(e, &Point::new()).ok();
            Some((at(&a)?, at(&b)?, [a, b]))
        })
        .collect();
    points.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.total_cmp(&b.1)));
    points.dedup_by(|a, b| a.2 == b.2);
    match points.is_empty() {
        true => words("no solution"),
        false => {
            let points = points.into_iter().map(|(_, _, [a, b])| point(a, b));
            formula(write::list(points.collect()))
        }
    }
}

type Points = Vec<[Expression; 2]>;

/// The solutions of a linear system for the squares of the unknowns.
fn in_squares(rows: &[Expression], unknowns: &[Symbol]) -> Option<Points> {
    let mut matrix = Vec::new();
    for row in rows {
        let (left, right) = row.as_equation()?;
        let difference = normal(&Expression::difference(left.clone(), right.clone())).ok()?;
        let mut entries = vec![Rational::ZERO; 3];
        for (monomial, coefficient) in difference.as_polynomial()?.terms() {
            match monomial.powers() {
                [] => entries[2] = -coefficient,
                [(kernel, exponent)] if exponent.as_i64() == Some(2) => {
                    let place = unknowns
                        .iter()
                        .position(|u| kernel.as_symbol() == Some(u))?;
                    entries[place] = coefficient.clone();
                }
                _ => return None,
            }
        }
        matrix.push(entries);
    }
    let (reduced, pivots) = Matrix::new(matrix)?.reduced();
    if pivots != [0, 1] {
        return None;
    }
    let square = |row: usize| reduced.rows()[row][2].clone();
    if square(0).is_negative() || square(1).is_negative() {
        return Some(Vec::new());
    }
    let values = |square: Rational| -> Option<Vec<Expression>> {
        let (outside, radicand) = polynomials::square_root(&square)?;
        let root = |sign: i64| {
            let factor = &outside * &Rational::integer(sign);
            match radicand {
                1 => write::number(&factor),
                _ => write::surd(&Rational::ZERO, &factor, radicand),
            }
        };
        Some(match square.is_zero() {
            true => vec![write::integer(0)],
            false => vec![root(-1), root(1)],
        })
    };
    let (across, up) = (values(square(0))?, values(square(1))?);
    let pairs = across
        .iter()
        .flat_map(|a| up.iter().map(|b| [a.clone(), b.clone()]));
    Some(pairs.collect())
}

/// One equation solved for a letter in which it is linear, and put into the other.
fn substituted(
    row: &Expression,
    other: &Expression,
    letter: &Symbol,
    kept: &Symbol,
) -> Option<Result<Points, String>> {
    let difference = |row: &Expression| {
        let (left, right) = row.as_equation()?;
        Some(Expression::difference(left.clone(), right.clone()))
    };
    let name = Expression::new(crate::expression::Operator::Symbol(letter.clone()), []);
    let (slope, rest) = views::linear_in(&normal(&difference(row)?).ok()?, &name)?;
    slope.as_constant().filter(|slope| !slope.is_zero())?;
    let value = rest.negate().divide(&slope).ok()?.to_expression();
    let equation = difference(other)?.substitute(letter, &value);
    let found = match equations::zeros(&equation, kept) {
        Ok((found, _)) => found,
        Err(reason) => return Some(Err(reason)),
    };
    let mut points = Vec::new();
    for solution in found {
        let Solution::Number(at) = solution else {
            return Some(Err("a solution is an angle".into()));
        };
        let there = normal(&value.substitute(kept, &at)).ok()?;
        let there = super::tidy::tidy(&write::normal(&there));
        points.push(match letter < kept {
            true => [there, at],
            false => [at, there],
        });
    }
    Some(Ok(points))
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
