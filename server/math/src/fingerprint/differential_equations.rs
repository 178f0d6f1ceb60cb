//! What do the numbers of a differential equation say about the method?

use smallvec::SmallVec;

use super::calculus;
use super::mask::{Mask, Place};
use crate::derivative::derivative;
use crate::expression::{Constant, Expression, Function, Operator};
use crate::normal_form::normal;
use crate::rational::Rational;
use crate::stable_hash::Digest;
use crate::surface::{self, Base, Exponent, Factor, Term};
use crate::univariate::Univariate;

const LINEAR: u64 = 50;

/// The hash of an equation that is linear in the unknown function; none for any other.
pub(super) fn hash(mask: &Mask<'_>, main: &Expression) -> Option<Digest> {
    let (left, right) = main.as_equation()?;
    let mut terms = surface::terms(left);
    surface::collect_terms(right, true, &mut terms);
    // Of each term with the unknown function, the order of the derivative and what multiplies it.
    let mut with: SmallVec<[(u32, Term<'_>); 4]> = SmallVec::new();
    let mut without: SmallVec<[Term<'_>; 3]> = SmallVec::new();
    for term in terms {
        if term.coefficient.is_zero() {
            continue;
        }
        match split(mask, term)? {
            (Some(order), rest) => with.push((order, rest)),
            (None, rest) => without.push(rest),
        }
    }
    let order = with.iter().map(|(order, _)| *order).max()?;
    if order == 0 {
        return None;
    }
    let mut coefficients: SmallVec<[Digest; 4]> = with
        .iter()
        .map(|(order, rest)| mask.product(rest, Place::PLAIN).with((*order).into()))
        .collect();
    let mut hash = Digest::tag(LINEAR)
        .with(order.into())
        .then(Digest::of_bag(&mut coefficients));
    let characteristic = characteristic(&with);
    if let Some(characteristic) = &characteristic {
        hash = hash.then(calculus::kinds(characteristic));
    } else if let Some(indicial) = indicial(mask, &with) {
        hash = hash.then(calculus::kinds(&indicial));
    }
    let mut right: SmallVec<[Digest; 4]> = without
        .iter()
        .map(|term| {
            let shape = mask.product(term, Place::PLAIN);
            match &characteristic {
                Some(characteristic) => shape.with(resonance(mask, term, characteristic)),
                None => shape,
            }
        })
        .collect();
    Some(hash.then(Digest::of_bag(&mut right)))
}

/// The order of the derivative of the unknown in a term, and the other factors; the whole is none
/// if the term is not linear in the unknown.
fn split<'a>(mask: &Mask<'_>, term: Term<'a>) -> Option<(Option<u32>, Term<'a>)> {
    let mut order = None;
    let mut rest = Term {
        coefficient: term.coefficient,
        factors: surface::Factors::new(),
    };
    for factor in term.factors {
        let found = factor
            .base
            .part()
            .and_then(|part| derivative_order(mask, part));
        match (found, &factor.exponent) {
            (Some(found), Exponent::Number(exponent)) if exponent.is_one() && order.is_none() => {
                order = Some(found);
            }
            _ if mentions_unknown(mask, &factor) => return None,
            _ => rest.factors.push(factor),
        }
    }
    Some((order, rest))
}

/// The order, if a part is the unknown function or a derivative of it.
fn derivative_order(mask: &Mask<'_>, part: &Expression) -> Option<u32> {
    match (part.operator(), part.operands()) {
        _ if mask.names_unknown(part) => Some(0),
        (Operator::Prime(order), [function]) if mask.names_unknown(function) => Some(*order),
        (Operator::Derivative(by), [function, _])
            if by.orders.len() == 1 && mask.names_unknown(function) =>
        {
            Some(by.orders[0])
        }
        (Operator::Apply, [function, arguments @ ..])
            if arguments
                .iter()
                .all(|a| a.as_symbol().is_some_and(|a| mask.is_variable(a))) =>
        {
            // y''(x)
            derivative_order(mask, function)
        }
        _ => None,
    }
}

fn mentions_unknown(mask: &Mask<'_>, factor: &Factor<'_>) -> bool {
    let mentions = |part: &Expression| {
        part.parts().any(|part| {
            matches!(part.operator(), Operator::Differential)
                || part
                    .as_symbol()
                    .is_some_and(|symbol| mask.is_unknown(symbol))
        })
    };
    let in_exponent = match &factor.exponent {
        Exponent::Symbolic { exponent, .. } => mentions(exponent),
        Exponent::Number(_) => false,
    };
    in_exponent || factor.base.part().is_some_and(mentions)
}

/// The characteristic polynomial, if all coefficients are plain numbers.
fn characteristic(with: &[(u32, Term<'_>)]) -> Option<Univariate> {
    let mut coefficients = Vec::new();
    for (order, rest) in with {
        if !rest.factors.is_empty() || *order > 12 {
            return None;
        }
        add_at(&mut coefficients, *order as usize, &rest.coefficient);
    }
    Some(Univariate::new(coefficients))
}

/// The polynomial for the powers that solve an equation in which the power of the variable is the
/// order of the derivative (Cauchy-Euler).
fn indicial(mask: &Mask<'_>, with: &[(u32, Term<'_>)]) -> Option<Univariate> {
    let mut sum = Univariate::new(Vec::new());
    for (order, rest) in with {
        let power = match rest.factors.as_slice() {
            [] => 0,
            [
                Factor {
                    base: Base::Part(part),
                    exponent: Exponent::Number(exponent),
                },
            ] if part.as_symbol().is_some_and(|s| mask.is_variable(s)) => exponent.as_i64()?,
            _ => return None,
        };
        if power != i64::from(*order) || power > 12 {
            return None;
        }
        let mut product = Univariate::constant(rest.coefficient.clone());
        for step in 0..power {
            let factor = Univariate::new(vec![Rational::integer(-step), Rational::ONE]);
            product = product.multiply(&factor);
        }
        sum = sum.add(&product);
    }
    Some(sum)
}

fn add_at(coefficients: &mut Vec<Rational>, place: usize, value: &Rational) {
    if coefficients.len() <= place {
        coefficients.resize(place + 1, Rational::ZERO);
    }
    coefficients[place] = &coefficients[place] + value;
}

/// How often the rate of a right side is a root of the characteristic polynomial: 0 for a plain
/// guess, more for resonance; 99 if the right side has no rate.
fn resonance(mask: &Mask<'_>, term: &Term<'_>, characteristic: &Univariate) -> u64 {
    let mut real = Rational::ZERO;
    let mut imaginary = Rational::ZERO;
    for factor in &term.factors {
        match (&factor.exponent, factor.base) {
            (Exponent::Symbolic { exponent, negated }, Base::E) => match rate(mask, exponent) {
                Some(rate) if *negated => real = real - rate,
                Some(rate) => real = real + rate,
                None => return 99,
            },
            (Exponent::Number(exponent), Base::Part(part)) => {
                match (part.operator(), part.operands()) {
                    (Operator::Function(Function::Sin | Function::Cos), [argument])
                        if exponent.is_one() && imaginary.is_zero() =>
                    {
                        match rate(mask, argument) {
                            Some(rate) => imaginary = rate.abs(),
                            None => return 99,
                        }
                    }
                    (Operator::Symbol(symbol), _)
                        if mask.is_variable(symbol) && exponent.as_i64().is_some_and(|e| e > 0) => {
                    }
                    (Operator::Sum, _) if exponent.is_one() => {}
                    _ => return 99,
                }
            }
            _ => return 99,
        }
    }
    let divisor = match imaginary.is_zero() {
        true => Univariate::new(vec![-real, Rational::ONE]),
        false => {
            let size = &real * &real + &imaginary * &imaginary;
            Univariate::new(vec![size, real * Rational::integer(-2), Rational::ONE])
        }
    };
    let mut times = 0;
    let mut rest = characteristic.clone();
    while rest.degree() >= divisor.degree() {
        match rest.divide(&divisor) {
            Some((quotient, remainder)) if remainder.is_zero() => rest = quotient,
            _ => break,
        }
        times += 1;
    }
    times
}

/// The number by which the variable is multiplied, if the expression is such a product.
fn rate(mask: &Mask<'_>, expression: &Expression) -> Option<Rational> {
    match surface::terms(expression).as_slice() {
        [
            Term {
                coefficient,
                factors,
            },
        ] => match factors.as_slice() {
            [
                Factor {
                    base: Base::Part(part),
                    exponent: Exponent::Number(exponent),
                },
            ] if exponent.is_one() && part.as_symbol().is_some_and(|s| mask.is_variable(s)) => {
                Some(coefficient.clone())
            }
            _ => None,
        },
        _ => None,
    }
}

/// Whether an equation written with differentials, `M dx + N dy = 0`, is exact.
pub(super) fn exactness(main: &Expression) -> Option<bool> {
    let (left, right) = main.as_equation()?;
    let mut terms = surface::terms(left);
    surface::collect_terms(right, true, &mut terms);
    // The coefficient of the differential of each letter.
    let mut sides: SmallVec<[(Expression, Vec<Expression>); 2]> = SmallVec::new();
    for term in &terms {
        if term.coefficient.is_zero() {
            continue;
        }
        let mut letter = None;
        let mut factors = vec![Expression::rational(&term.coefficient.to_big())];
        for factor in &term.factors {
            let e = Expression::constant(Constant::E);
            let part = factor.base.part().unwrap_or(&e);
            match (part.operator(), part.operands(), &factor.exponent) {
                (Operator::Differential, [of], _) => letter = Some(of.clone()),
                (_, _, Exponent::Number(exponent)) => factors.push(match exponent.is_one() {
                    true => part.clone(),
                    false => {
                        Expression::power(part.clone(), Expression::rational(&exponent.to_big()))
                    }
                }),
                (_, _, Exponent::Symbolic { exponent, negated }) => {
                    let exponent = match negated {
                        true => Expression::negative((*exponent).clone()),
                        false => (*exponent).clone(),
                    };
                    factors.push(Expression::power(part.clone(), exponent));
                }
            }
        }
        let product = Expression::product(factors);
        let letter = letter?;
        match sides.iter_mut().find(|(known, _)| *known == letter) {
            Some((_, sum)) => sum.push(product),
            None => sides.push((letter, vec![product])),
        }
    }
    let [(x, m), (y, n)] = sides.as_slice() else {
        return None;
    };
    let slope = |sum: &[Expression], by: &Expression| {
        let sum = Expression::sum(sum.iter().cloned());
        normal(&derivative(&sum, by.as_symbol()?)?).ok()
    };
    Some(slope(m, y)? == slope(n, x)?)
}
