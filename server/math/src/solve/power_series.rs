//! Where does a power series converge, and which one is that of a function?

use super::functions::Definition;
use super::growth::growth;
use super::{Key, formula, series, write};
use crate::derivative::derivative;
use crate::expression::{Constant, Ends, Expression, Operator, Symbol};
use crate::normal_form::normal;
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent};
use crate::views;

/// The radius, and the interval, in which a series of powers of a letter converges.
pub(super) fn convergence(
    body: &Expression,
    index: &Symbol,
    wants_interval: bool,
    wants_both: bool,
) -> Result<Vec<Key>, String> {
    let letters: Vec<Symbol> = body
        .free_symbols()
        .into_iter()
        .filter(|letter| letter != index)
        .collect();
    let [letter] = letters.as_slice() else {
        return Err("there is not one letter beside the index".into());
    };
    let bad = || "it is no power series with known coefficients".to_owned();
    let linear = |of: &Expression, by: &Symbol| {
        let name = Expression::new(Operator::Symbol(by.clone()), []);
        let (slope, rest) = views::linear_in(&normal(of).ok()?, &name)?;
        Some((slope.as_constant()?, rest.as_constant()?))
    };
    // (α x + β)^(k n + m), and the coefficient beside it.
    let term = surface::factors(body);
    let mut power = None;
    let mut rest = vec![write::number(&term.coefficient)];
    // The base of the exponentials in the coefficient.
    let mut base = Rational::ONE;
    for factor in &term.factors {
        let one = surface::Term {
            coefficient: Rational::ONE,
            factors: [factor.clone()].into_iter().collect(),
        };
        let whole = one.to_expression();
        match (&factor.exponent, factor.base) {
            (
                Exponent::Symbolic {
                    exponent,
                    negated: false,
                },
                Base::Part(part),
            ) if part.mentions(letter) && power.is_none() => {
                let (k, _) = linear(exponent, index).ok_or_else(bad)?;
                let k = k.as_i64().filter(|k| (1..=4).contains(k)).ok_or_else(bad)?;
                power = Some((linear(part, letter).ok_or_else(bad)?, k));
            }
            (Exponent::Symbolic { exponent, negated }, Base::Part(part))
                if !part.mentions(index) && !part.mentions(letter) =>
            {
                let value = surface::number(part).ok_or_else(bad)?;
                let (slope, _) = linear(exponent, index).ok_or_else(bad)?;
                let slope = slope.as_i64().ok_or_else(bad)?;
                let slope = if *negated { -slope } else { slope };
                base = base * value.pow(slope).ok_or_else(bad)?;
                rest.push(whole);
            }
            _ if whole.mentions(letter) => return Err(bad()),
            _ => rest.push(whole),
        }
    }
    let ((slope, shift), k) = power.ok_or_else(bad)?;
    let coefficient = write::product(rest);
    let size = growth(&coefficient, index).ok_or_else(bad)?;
    let infinity = || Expression::constant(Constant::Infinity);
    let radius_is = |value: Expression| Expression::equation(Expression::symbol("R"), value);
    if size.factorial.is_negative() {
        let ends = Ends {
            lower_closed: false,
            upper_closed: false,
        };
        let all = [Expression::negative(infinity()), infinity()];
        let interval = Expression::new(Operator::Interval(ends), all);
        return formula(match (wants_interval, wants_both) {
            (_, true) => write::list(vec![radius_is(infinity()), interval]),
            (true, _) => interval,
            (false, _) => radius_is(infinity()),
        });
    }
    let base = base.abs();
    let is_plain = (size.rate - libm::log(base.to_f64())).abs() < 1e-9;
    if !size.factorial.is_zero() || !is_plain {
        return Err(bad());
    }
    // |α x + β|^k < 1 / base
    let reach = base
        .reciprocal()
        .and_then(|reach| reach.root(k as u32))
        .ok_or_else(bad)?;
    let radius = reach.checked_div(&slope.abs()).ok_or_else(bad)?;
    let centre = (-&shift).checked_div(&slope).ok_or_else(bad)?;
    if !wants_interval {
        return formula(radius_is(write::number(&radius)));
    }
    let ends = [&centre - &radius, &centre + &radius];
    let closed: Vec<Option<bool>> = ends
        .iter()
        .map(|end| {
            let there = body.substitute(letter, &write::number(end));
            series::converges_at(&plain_powers(&there), index)
        })
        .collect();
    let [Some(lower_closed), Some(upper_closed)] = closed.as_slice() else {
        return Err("whether it converges at the ends is not known".into());
    };
    let closed = Ends {
        lower_closed: *lower_closed,
        upper_closed: *upper_closed,
    };
    let [low, high] = &ends;
    let interval = Expression::new(
        Operator::Interval(closed),
        [write::number(low), write::number(high)],
    );
    formula(match wants_both {
        true => write::list(vec![radius_is(write::number(&radius)), interval]),
        false => interval,
    })
}

/// Bases without a letter as plain numbers.
fn plain_powers(expression: &Expression) -> Expression {
    match expression.free_symbols().is_empty() {
        true => write::collected(expression),
        false => expression.map_operands(plain_powers),
    }
}

/// The Taylor polynomial of the degree that a condition names.
pub(super) fn taylor(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let definition = Definition::of(main).ok_or("the function is not understood")?;
    let x = &definition.variable;
    let (mut degree, mut centre) = (None, write::integer(0));
    for condition in &problem.conditions {
        if let Some((left, right)) = condition.as_equation() {
            let is_named = |name: &str| left.as_symbol().is_some_and(|s| s.name() == name);
            match right.as_i64() {
                Some(n) if is_named("n") => degree = Some(n),
                _ if left.as_symbol() == Some(x) || is_named("a") || is_named("c") => {
                    centre = right.clone();
                }
                _ => return Err("a condition is not understood".into()),
            }
        } else if let Some(n) = condition.as_i64() {
            degree = Some(n);
        } else if let (Operator::Power, [base, n]) = (condition.operator(), condition.operands())
            && base.as_symbol() == Some(x)
        {
            degree = n.as_i64();
        } else if condition.as_symbol().is_none() {
            return Err("a condition is not understood".into());
        }
    }
    let degree = degree
        .filter(|degree| (1..=8).contains(degree))
        .ok_or("no degree is given in a formula")?;
    let shifted = match centre.as_i64() {
        Some(0) => definition.letter(),
        _ => write::sum([
            definition.letter(),
            write::collected(&Expression::negative(centre.clone())),
        ]),
    };
    let mut terms = Vec::new();
    let mut slope = definition.body.clone();
    let mut factorial = Rational::ONE;
    for order in 0..=degree {
        if order > 0 {
            let next = derivative(&slope, x).ok_or("a part of it cannot be differentiated")?;
            slope = super::tidy::tidy(&next);
            factorial = factorial * Rational::integer(order);
        }
        let value = normal(&slope.substitute(x, &centre)).map_err(|_| "it has no value there")?;
        let value = value.scale(&factorial.reciprocal().ok_or("it has no value there")?);
        let power = write::power(shifted.clone(), order);
        terms.push(match value.as_constant() {
            Some(value) => write::multiple(&value, power),
            None => write::product([write::normal(&value), power]),
        });
    }
    formula(write::sum(terms))
}
