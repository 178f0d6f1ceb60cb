//! How is a normal form written?

use crate::expression::{Constant, Expression, Operator};
use crate::normal_form::{Monomial, Polynomial};
use crate::rational::Rational;

/// A quotient of polynomials.
pub(super) fn quotient(numerator: &Polynomial, denominator: &Polynomial) -> Expression {
    if denominator.is_one() {
        return polynomial(numerator);
    }
    if let Some((above, coefficient)) = numerator.as_term() {
        if let Some((below, divisor)) = denominator.as_term() {
            let coefficient = coefficient / divisor;
            return fraction(above, below, &coefficient);
        }
        let sign = coefficient.is_negative();
        let above = monomial(above, &coefficient.numerator().abs());
        let scaled = denominator.scale(&coefficient.denominator());
        let whole = Expression::fraction(above, polynomial(&scaled));
        return match sign {
            true => Expression::negative(whole),
            false => whole,
        };
    }
    // The numerator's common denominator goes below.
    let (_, content) = numerator.primitive();
    let below = content.denominator();
    Expression::fraction(
        polynomial(&numerator.scale(&below)),
        polynomial(&denominator.scale(&below)),
    )
}

/// A sum of terms.
pub(super) fn polynomial(polynomial: &Polynomial) -> Expression {
    let terms = polynomial.terms().iter();
    Expression::sum(terms.map(|(m, coefficient)| monomial(m, coefficient)))
}

/// A term.
pub(super) fn monomial(monomial: &Monomial, coefficient: &Rational) -> Expression {
    let (mut above, mut below) = (Monomial::one(), Monomial::one());
    for (kernel, exponent) in monomial.powers() {
        let target = match exponent.is_negative() && !is_exponential(kernel) {
            true => &mut below,
            false => &mut above,
        };
        let exponent = match is_exponential(kernel) {
            true => exponent.clone(),
            false => exponent.abs(),
        };
        *target = target.multiply(&Monomial::power(kernel.clone(), exponent));
    }
    fraction(&above, &below, coefficient)
}

fn fraction(above: &Monomial, below: &Monomial, coefficient: &Rational) -> Expression {
    let size = coefficient.abs();
    let mut upper = factors(above);
    let mut lower = factors(below);
    let number = |value: &Rational| Expression::rational(&value.to_big());
    let term = if lower.is_empty() {
        // A plain fraction stands before the letters.
        if upper.is_empty() || !size.is_one() {
            upper.insert(0, number(&size));
        }
        Expression::product(upper)
    } else {
        if upper.is_empty() || !size.numerator().is_one() {
            upper.insert(0, number(&size.numerator()));
        }
        if !size.denominator().is_one() {
            lower.insert(0, number(&size.denominator()));
        }
        Expression::fraction(Expression::product(upper), Expression::product(lower))
    };
    match coefficient.is_negative() {
        true => Expression::negative(term),
        false => term,
    }
}

fn is_exponential(kernel: &Expression) -> bool {
    matches!(kernel.operator(), Operator::Power)
}

/// The factors of a monomial with positive exponents; exponentials of one base are merged.
fn factors(monomial: &Monomial) -> Vec<Expression> {
    let mut factors = Vec::new();
    let mut exponentials: Vec<(Expression, Vec<Expression>)> = Vec::new();
    for (kernel, exponent) in monomial.powers() {
        match (kernel.operator(), kernel.operands()) {
            (Operator::Power, [base, inner]) => {
                let term = multiple(inner, exponent);
                match exponentials.iter_mut().find(|(known, _)| known == base) {
                    Some((_, terms)) => terms.push(term),
                    None => exponentials.push((base.clone(), vec![term])),
                }
            }
            (Operator::Constant(Constant::E), _) => {
                let term = Expression::rational(&exponent.to_big());
                let e = kernel.clone();
                match exponentials.iter_mut().find(|(known, _)| *known == e) {
                    Some((_, terms)) => terms.push(term),
                    None => exponentials.push((e, vec![term])),
                }
            }
            _ => factors.push(power(kernel, exponent)),
        }
    }
    for (base, mut terms) in exponentials {
        // The constant of an exponent comes last.
        terms.sort_by_key(|term| term.parts().all(|part| part.as_symbol().is_none()));
        let exponent = Expression::sum(terms);
        factors.push(match exponent.as_i64() {
            Some(1) => base,
            _ => Expression::power(base, exponent),
        });
    }
    factors
}

/// A multiple of an exponent that is one term.
fn multiple(exponent: &Expression, by: &Rational) -> Expression {
    if by.is_one() {
        return exponent.clone();
    }
    let size = by.abs();
    let number = Expression::rational(&size.to_big());
    let product = match (exponent.operator(), exponent.operands()) {
        _ if size.is_one() => exponent.clone(),
        (Operator::Product, operands) => {
            Expression::product(std::iter::once(number).chain(operands.iter().cloned()))
        }
        _ => Expression::product([number, exponent.clone()]),
    };
    match by.is_negative() {
        true => Expression::negative(product),
        false => product,
    }
}

fn power(kernel: &Expression, exponent: &Rational) -> Expression {
    if exponent.is_one() {
        return kernel.clone();
    }
    if *exponent == Rational::fraction(1, 2) {
        return Expression::root(kernel.clone());
    }
    Expression::power(kernel.clone(), Expression::rational(&exponent.to_big()))
}
