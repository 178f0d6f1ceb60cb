//! How is an answer written in a textbook?

use crate::expression::{Expression, Operator};
use crate::normal_form::{self, Normal};
use crate::rational::Rational;

/// A rational number.
pub(super) fn number(value: &Rational) -> Expression {
    Expression::rational(&value.to_big())
}

/// An integer.
pub(super) fn integer(value: i64) -> Expression {
    Expression::integer(value)
}

/// A multiple: `3x`, `-x`, `\frac{1}{2} x`, and 0 for no multiple.
pub(super) fn multiple(factor: &Rational, of: Expression) -> Expression {
    if factor.is_zero() || of.as_i64() == Some(0) {
        return integer(0);
    }
    let (mut negative, mut of) = (factor.is_negative(), of);
    while let (Operator::Negative, [operand]) = (of.operator(), of.operands()) {
        negative = !negative;
        of = operand.clone();
    }
    let size = factor.abs();
    let product = match () {
        () if of.as_i64() == Some(1) => number(&size),
        () if size.is_one() => of,
        () => match (of.operator(), of.operands()) {
            (Operator::Product, factors) => {
                Expression::product(std::iter::once(number(&size)).chain(factors.iter().cloned()))
            }
            _ => Expression::product([number(&size), of]),
        },
    };
    match negative {
        true => Expression::negative(product),
        false => product,
    }
}

/// A sum without its zeros; a sum inside is taken apart.
pub(super) fn sum(terms: impl IntoIterator<Item = Expression>) -> Expression {
    let mut all = Vec::new();
    for term in terms {
        match (term.operator(), term.operands()) {
            (Operator::Sum, operands) => all.extend(operands.iter().cloned()),
            _ if term.as_i64() == Some(0) => {}
            _ => all.push(term),
        }
    }
    Expression::sum(all)
}

/// A product without its ones; a product inside is taken apart, signs come to the front.
pub(super) fn product(factors: impl IntoIterator<Item = Expression>) -> Expression {
    let mut all = Vec::new();
    let mut negative = false;
    for mut factor in factors {
        while let (Operator::Negative, [operand]) = (factor.operator(), factor.operands()) {
            negative = !negative;
            factor = operand.clone();
        }
        match (factor.operator(), factor.operands()) {
            (Operator::Product, operands) => all.extend(operands.iter().cloned()),
            _ if factor.as_i64() == Some(0) => return integer(0),
            _ if factor.as_i64() == Some(1) => {}
            _ => all.push(factor),
        }
    }
    let product = Expression::product(all);
    match negative {
        true => Expression::negative(product),
        false => product,
    }
}

/// A power, without an exponent of 1.
pub(super) fn power(base: Expression, exponent: i64) -> Expression {
    match exponent {
        0 => integer(1),
        1 => base,
        _ => Expression::power(base, integer(exponent)),
    }
}

/// A list, or its only member.
pub(super) fn list(items: Vec<Expression>) -> Expression {
    match items.len() {
        1 => items.into_iter().next().unwrap_or_else(|| integer(0)),
        _ => Expression::new(Operator::List, items),
    }
}

/// The sum of a rational number and a rational multiple of the root of a square-free integer, over
/// one denominator: `\frac{3 - \sqrt{5}}{2}`, `2 + 3i`.
pub(super) fn surd(rational: &Rational, factor: &Rational, radicand: i64) -> Expression {
    use crate::expression::Constant;
    if factor.is_zero() {
        return number(rational);
    }
    let imaginary = radicand < 0;
    let denominator = match (
        rational.denominator().as_i64(),
        factor.denominator().as_i64(),
    ) {
        (Some(a), Some(b)) if !imaginary => num_integer::lcm(a, b),
        _ => 1,
    };
    let scale = Rational::integer(denominator);
    let (above, times) = (rational * &scale, factor * &scale);
    let root = Expression::root(integer(radicand.saturating_abs()));
    let part = match (imaginary, radicand) {
        (true, -1) => multiple(&times, Expression::constant(Constant::I)),
        (true, _) => multiple(
            &times,
            Expression::product([root, Expression::constant(Constant::I)]),
        ),
        (false, _) => multiple(&times, root),
    };
    let whole = sum([number(&above), part]);
    match denominator {
        1 => whole,
        _ => match (whole.operator(), whole.operands()) {
            (Operator::Negative, [operand]) => {
                Expression::negative(Expression::fraction(operand.clone(), integer(denominator)))
            }
            _ => Expression::fraction(whole, integer(denominator)),
        },
    }
}

/// An expression collected, if that can be done; else as it is.
pub(super) fn collected(expression: &Expression) -> Expression {
    normal_form::normal(expression).map_or_else(|_| expression.clone(), |n| normal(&n))
}

/// A quotient with whole coefficients, where all coefficients are numbers.
pub(super) fn over_one_denominator(number: &Normal) -> Expression {
    let coefficients = number.numerator().terms().iter().map(|(_, value)| value);
    let below = coefficients.fold(1_i64, |below, value| {
        let denominator = value.denominator().as_i64().unwrap_or(1);
        num_integer::lcm(below, denominator)
    });
    if below == 1 || !number.denominator().is_one() {
        return normal(number);
    }
    let above = number.scale(&Rational::integer(below));
    Expression::fraction(normal(&above), integer(below))
}

/// A normal form as one writes it.
pub(super) fn normal(normal: &Normal) -> Expression {
    normal.to_expression()
}
