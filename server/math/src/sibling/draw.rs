//! Which numbers are put in place of a problem's own?
//!
//! Numbers are drawn at the size of those they replace. Where that would seldom give a sane answer,
//! the answer is drawn first, and some of the numbers follow from it: a root of an equation and the
//! coefficient that makes it one, the solution of a system and its right sides, the point of a
//! limit and the constants that make numerator and denominator vanish there.

use std::collections::BTreeMap;

use super::literals::{self, Literal, Role};
use super::random::Random;
use crate::evaluate::exact;
use crate::expression::{Expression, Operator, Symbol};
use crate::normal_form::normal;
use crate::problem::{Problem, Task};
use crate::rational::Rational;

/// How much may change.
#[derive(Clone, Copy, Debug)]
pub(super) struct Liberty {
    /// Coefficients of 1 that are not written may change.
    pub(super) unwritten: bool,
    /// Exponents may change.
    pub(super) exponents: bool,
    /// Numbers of one digit may become larger ones.
    pub(super) wide: bool,
}

/// The values for all formulas of a statement, in order; none if they are not such as one writes.
pub(super) fn draw(
    random: &mut Random,
    problem: &Problem,
    formulas: &[(Expression, Vec<Literal>)],
    liberty: Liberty,
) -> Option<Vec<Vec<i64>>> {
    // Equal numbers are often equal for a reason: x - 2 below and x to 2.
    let together = random.percent(40);
    let mut renamed: BTreeMap<(bool, i64), i64> = BTreeMap::new();
    let mut values: Vec<Vec<i64>> = Vec::with_capacity(formulas.len());
    // One coefficient of 1 at most: with more of them a problem soon looks contrived.
    let unwritten = formulas.iter().flat_map(|(_, literals)| literals);
    let unwritten = unwritten.filter(|l| l.role == Role::Unwritten).count() as i64;
    let mut chosen = match liberty.unwritten {
        true => random.between(0, unwritten),
        false => unwritten,
    };
    for (_, literals) in formulas {
        let mut drawn: Vec<i64> = Vec::with_capacity(literals.len());
        for literal in literals {
            let mut value = fresh(random, literal, liberty);
            if literal.role == Role::Unwritten {
                if chosen == 0 {
                    value *= match random.percent(25) {
                        true => [4, 9, 16][random.between(0, 2) as usize],
                        false => random.between(2, 6),
                    };
                    if literal.is_signed && random.percent(15) {
                        value = -value;
                    }
                }
                chosen -= 1;
            }
            let is_kept = matches!(literal.role, Role::Unwritten | Role::Exponent);
            if together && !is_kept {
                let key = (literal.places > 0, literal.value.abs());
                let size = *renamed.entry(key).or_insert(value.abs());
                value = value.signum() * size;
            }
            drawn.push(value);
        }
        values.push(drawn);
    }
    if liberty.unwritten && random.percent(30) {
        scale_arguments(random, formulas, &mut values);
    }
    if random.percent(75) {
        fit(random, problem, formulas, &mut values);
    }
    let mut all = formulas.iter().zip(&values);
    all.all(|((_, literals), values)| is_usual(literals, values))
        .then_some(values)
}

/// Puts a multiple of the letter in its place in the arguments of all functions: `\sin x + \cos 2x`
/// becomes `\sin 3x + \cos 6x`. The other numbers stay.
fn scale_arguments(
    random: &mut Random,
    formulas: &[(Expression, Vec<Literal>)],
    values: &mut [Vec<i64>],
) {
    let factor = random.between(2, 5);
    for ((_, literals), values) in formulas.iter().zip(values) {
        for (literal, value) in literals.iter().zip(values) {
            let is_scaled = literal.in_argument
                && literal.places == 0
                && matches!(literal.role, Role::Unwritten | Role::Coefficient);
            *value = match is_scaled {
                true => literal.value.saturating_mul(factor),
                false => literal.value,
            };
        }
    }
}

/// Fractions are in lowest terms, and signs stand where one would write them.
fn is_usual(literals: &[Literal], values: &[i64]) -> bool {
    let numbers = literals.iter().zip(values);
    let signs = numbers
        .clone()
        .all(|(literal, value)| literal.is_signed || *value * literal.value > 0);
    let pairs = literals.windows(2).zip(values.windows(2));
    let fractions = pairs.into_iter().all(|(literals, values)| {
        literals[1].role != Role::Denominator
            || num_integer::gcd(literals[0].value, literals[1].value) != 1
            || num_integer::gcd(values[0], values[1]) == 1
    });
    // 2x + 4 = 6 is x + 2 = 3.
    let common = |values: &mut dyn Iterator<Item = i64>| values.fold(0, num_integer::gcd);
    let terms = |literal: &Literal| {
        matches!(
            literal.role,
            Role::Constant | Role::Coefficient | Role::Unwritten
        )
    };
    let before = common(&mut literals.iter().filter(|l| terms(l)).map(|l| l.value));
    let after = common(&mut numbers.filter(|(l, _)| terms(l)).map(|(_, value)| *value));
    let is_alone = literals.iter().filter(|l| terms(l)).count() < 2;
    signs && fractions && (before != 1 || after == 1 || is_alone)
}

/// A number of the size of the one it replaces.
fn fresh(random: &mut Random, literal: &Literal, liberty: Liberty) -> i64 {
    let &Literal { role, value, .. } = literal;
    let size = value.abs();
    let new = match role {
        Role::Unwritten => size,
        Role::Exponent if liberty.exponents && random.percent(50) => {
            random.between(2, (size + 2).max(4))
        }
        Role::Exponent => size,
        _ if random.percent(12) => size,
        // A 1 in a sum is often there for a reason: e^x - 1, 1 - cos x.
        Role::Constant if size == 1 && random.percent(40) => size,
        Role::Coefficient => between_sizes(random, size, 2, liberty),
        Role::Base | Role::Denominator if size > 1 => between_sizes(random, size, 2, liberty),
        Role::Constant | Role::Numerator | Role::Base | Role::Denominator => {
            between_sizes(random, size, 1, liberty)
        }
    };
    match literal.is_signed {
        true if role == Role::Coefficient && random.percent(12) => -new * value.signum(),
        true if role != Role::Unwritten && random.percent(25) => -new * value.signum(),
        true => new * value.signum(),
        false => new,
    }
}

/// Another perfect square for one, another cube for a cube: they are there for a reason.
fn alike(random: &mut Random, size: i64) -> Option<i64> {
    let powers: Vec<i64> = [2, 3, 4]
        .into_iter()
        .filter(|power| (2..=12_i64).any(|root| root.pow(*power) == size))
        .flat_map(|power| {
            let most = greatest(size).max([36, 64, 81][power as usize - 2]);
            let powers = (1..=12_i64).map(move |root| root.pow(power));
            powers.filter(move |value| *value <= most)
        })
        .collect();
    let last = powers.len().checked_sub(1)?;
    powers.get(random.between(0, last as i64) as usize).copied()
}

fn between_sizes(random: &mut Random, size: i64, least: i64, liberty: Liberty) -> i64 {
    if random.percent(40)
        && let Some(value) = alike(random, size).filter(|value| *value >= least)
    {
        return value;
    }
    let most = match liberty.wide {
        true => greatest(size).max(25),
        false => greatest(size),
    };
    // Small numbers are the more usual ones.
    match random.percent(50) {
        true => random.between(least, most.min(5 + size / 4).max(least)),
        false => random.between(least, most),
    }
}

/// The greatest number that a textbook would put in the place of one of this size.
pub(super) fn greatest(size: i64) -> i64 {
    match size {
        0..=9 => 9,
        10..=99 => (2 * size).clamp(30, 99),
        _ => size.saturating_mul(2),
    }
}

/// Lets some of the numbers follow from an answer that is drawn.
fn fit(
    random: &mut Random,
    problem: &Problem,
    formulas: &[(Expression, Vec<Literal>)],
    values: &mut [Vec<i64>],
) {
    for ((formula, literals), values) in formulas.iter().zip(values) {
        match (problem.task, formula.operator(), formula.operands()) {
            (Task::Equation | Task::System, Operator::Relation(_), [_, _]) => {
                let point: BTreeMap<Symbol, Rational> = problem
                    .variables
                    .iter()
                    .map(|variable| (variable.clone(), Rational::integer(random.between(-6, 9))))
                    .collect();
                let slots = 0..literals.len();
                match problem.task == Task::Equation && random.percent(50) {
                    true => {
                        let other = point
                            .keys()
                            .map(|variable| {
                                (variable.clone(), Rational::integer(random.between(-6, 9)))
                            })
                            .collect();
                        two(random, formula, literals, values, [&point, &other]);
                    }
                    false => {
                        solve_for_one(random, literals, values, slots, |values| {
                            difference(&literals::with_values(formula, values), &point)
                        });
                    }
                }
            }
            (Task::System, Operator::System, rows) => {
                let point: BTreeMap<Symbol, Rational> = problem
                    .variables
                    .iter()
                    .map(|variable| (variable.clone(), Rational::integer(random.between(-5, 7))))
                    .collect();
                let mut start = 0;
                for (place, row) in rows.iter().enumerate() {
                    let end = start + literals::literals(row).len();
                    fit_row(random, formula, place, literals, values, start..end, &point);
                    start = end;
                }
            }
            (Task::Limit, Operator::Limit(_), [body, variable, _]) => {
                let ([above, below], Operator::Fraction, Some(variable)) =
                    (body.operands(), body.operator(), variable.as_symbol())
                else {
                    continue;
                };
                let drawn = literals::with_values(formula, values);
                let Some(point) = drawn
                    .operands()
                    .get(2)
                    .and_then(|point| value_of(point, &BTreeMap::new()))
                else {
                    continue;
                };
                let point: BTreeMap<Symbol, Rational> = [(variable.clone(), point)].into();
                let middle = literals::literals(above).len();
                let end = middle + literals::literals(below).len();
                for (place, slots) in [(0, 0..middle), (1, middle..end)] {
                    let part = |whole: &Expression| {
                        whole.operands().first()?.operands().get(place).cloned()
                    };
                    solve_for_one(random, literals, values, slots, |values| {
                        value_of(&part(&literals::with_values(formula, values))?, &point)
                    });
                }
            }
            _ => {}
        }
    }
}

fn fit_row(
    random: &mut Random,
    system: &Expression,
    place: usize,
    literals: &[Literal],
    values: &mut [i64],
    slots: std::ops::Range<usize>,
    point: &BTreeMap<Symbol, Rational>,
) {
    // The right side follows, if it is a number; else any coefficient.
    let last = slots.end.saturating_sub(1);
    let difference = |values: &[i64]| {
        difference(
            literals::with_values(system, values)
                .operands()
                .get(place)?,
            point,
        )
    };
    if literals.get(last).is_some_and(|l| l.role == Role::Constant)
        && solve_for_one(random, literals, values, last..slots.end, difference)
    {
        return;
    }
    solve_for_one(random, literals, values, slots, difference);
}

/// Two numbers follow from two roots.
fn two(
    random: &mut Random,
    formula: &Expression,
    literals: &[Literal],
    values: &mut [i64],
    points: [&BTreeMap<Symbol, Rational>; 2],
) {
    let free: Vec<usize> = (0..literals.len())
        .filter(|s| is_free(&literals[*s]))
        .collect();
    if free.len() < 2 {
        return;
    }
    let first = random.between(0, free.len() as i64 - 1) as usize;
    let mut second = random.between(0, free.len() as i64 - 2) as usize;
    if second >= first {
        second += 1;
    }
    let slots = [free[first], free[second]];
    let mut trial = values.to_vec();
    let mut at = |a: i64, b: i64, point| {
        trial[slots[0]] = a;
        trial[slots[1]] = b;
        difference(&literals::with_values(formula, &trial), point)
    };
    // c + a u + b v = 0 at each point.
    let mut rows = Vec::with_capacity(2);
    for point in points {
        let (Some(both), Some(by_first), Some(by_second), Some(far)) = (
            at(2, 2, point),
            at(3, 2, point),
            at(2, 3, point),
            at(5, 7, point),
        ) else {
            return;
        };
        let (a, b) = (&by_first - &both, &by_second - &both);
        let constant = &both - &(Rational::integer(2) * (&a + &b));
        if far != &constant + &(Rational::integer(5) * &a + Rational::integer(7) * &b) {
            return;
        }
        rows.push((a, b, -constant));
    }
    let [(a, b, c), (d, e, f)] = &rows[..] else {
        return;
    };
    let determinant = a * e - b * d;
    let (Some(u), Some(v)) = (
        (c * e - b * f).checked_div(&determinant),
        (a * f - c * d).checked_div(&determinant),
    ) else {
        return;
    };
    if let (Some(u), Some(v)) = (fits(&literals[slots[0]], &u), fits(&literals[slots[1]], &v)) {
        values[slots[0]] = u;
        values[slots[1]] = v;
    }
}

/// Changes one of the numbers so that a quantity that depends on it linearly becomes 0.
fn solve_for_one(
    random: &mut Random,
    literals: &[Literal],
    values: &mut [i64],
    slots: std::ops::Range<usize>,
    quantity: impl Fn(&[i64]) -> Option<Rational>,
) -> bool {
    let mut free: Vec<usize> = slots.filter(|slot| is_free(&literals[*slot])).collect();
    let mut trial = values.to_vec();
    while !free.is_empty() {
        let slot = free.swap_remove(random.between(0, free.len() as i64 - 1) as usize);
        let mut at = |value: i64| {
            trial[slot] = value;
            quantity(&trial)
        };
        let found = (|| {
            let (two, three, seven) = (at(2)?, at(3)?, at(7)?);
            let slope = &three - &two;
            if seven != &two + &(Rational::integer(5) * &slope) {
                return None;
            }
            let value = Rational::integer(2) - two.checked_div(&slope)?;
            fits(&literals[slot], &value)
        })();
        if let Some(value) = found {
            values[slot] = value;
            return true;
        }
        trial[slot] = values[slot];
    }
    false
}

fn is_free(literal: &Literal) -> bool {
    literal.places == 0 && matches!(literal.role, Role::Constant | Role::Coefficient)
}

/// The value, if it is whole, not 0, and of a size that may stand there.
fn fits(literal: &Literal, value: &Rational) -> Option<i64> {
    let value = value.as_i64()?;
    let most = match literal.role {
        // The product of two numbers of one digit is what one expects at the end.
        Role::Constant => greatest(literal.value.abs()).max(40),
        _ => greatest(literal.value.abs()).max(25),
    };
    let least = i64::from(literal.role == Role::Coefficient);
    (value.abs() > least && value.abs() <= most).then_some(value)
}

fn difference(relation: &Expression, point: &BTreeMap<Symbol, Rational>) -> Option<Rational> {
    let (left, _, right) = relation.as_relation()?;
    Some(value_of(left, point)? - value_of(right, point)?)
}

fn value_of(expression: &Expression, point: &BTreeMap<Symbol, Rational>) -> Option<Rational> {
    let values = point
        .iter()
        .map(|(symbol, value)| (symbol.clone(), value.to_big()))
        .collect();
    if let Some(value) = exact(expression, &values) {
        return Some(Rational::from(value));
    }
    // The cosine of 0, the logarithm of 1.
    let known = point
        .iter()
        .fold(expression.clone(), |known, (symbol, value)| {
            known.substitute(symbol, &Expression::rational(&value.to_big()))
        });
    normal(&known).ok()?.as_constant()
}
