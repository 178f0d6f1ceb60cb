//! How is a formula put together, when brackets and signs are looked through?
//!
//! A sum inside a sum, a minus sign before a product, a fraction and a negative power are ways of
//! writing. This view flattens them: an expression is a list of [`Term`]s, each an exact
//! coefficient and a list of [`Factor`]s with their exponents. Nothing is multiplied out,
//! collected or reordered, and nothing is copied: the parts are those of the expression.

use smallvec::SmallVec;

use crate::expression::{Constant, Expression, Function, Operator};
use crate::rational::Rational;

/// A summand: a coefficient and factors.
#[derive(Clone, Debug)]
pub(crate) struct Term<'a> {
    /// All plain numbers in it, multiplied.
    pub(crate) coefficient: Rational,
    /// Everything else, in the order of the text.
    pub(crate) factors: Factors<'a>,
}

/// The factors of a [`Term`].
pub(crate) type Factors<'a> = SmallVec<[Factor<'a>; 3]>;

/// The summands of an expression.
pub(crate) type Terms<'a> = SmallVec<[Term<'a>; 3]>;

/// A base and its exponent.
#[derive(Clone, Debug)]
pub(crate) struct Factor<'a> {
    /// The base; of an exponential function, the constant e.
    pub(crate) base: Base<'a>,
    /// The exponent.
    pub(crate) exponent: Exponent<'a>,
}

/// What is raised to a power.
#[derive(Clone, Copy, Debug)]
pub(crate) enum Base<'a> {
    /// A part of the expression.
    Part(&'a Expression),
    /// The number e, where the exponential function is written as a function.
    E,
}

impl Term<'_> {
    /// The term as an expression.
    pub(crate) fn to_expression(&self) -> Expression {
        let number = |value: &Rational| Expression::rational(&value.to_big());
        let mut factors = Vec::new();
        let size = self.coefficient.abs();
        if !size.is_one() || self.factors.is_empty() {
            factors.push(number(&size));
        }
        for factor in &self.factors {
            let base = match factor.base {
                Base::E => Expression::constant(Constant::E),
                Base::Part(part) => part.clone(),
            };
            factors.push(match &factor.exponent {
                Exponent::Number(exponent) if exponent.is_one() => base,
                Exponent::Number(exponent) => Expression::power(base, number(exponent)),
                Exponent::Symbolic { exponent, negated } => {
                    let exponent = match negated {
                        true => Expression::negative((*exponent).clone()),
                        false => (*exponent).clone(),
                    };
                    Expression::power(base, exponent)
                }
            });
        }
        let product = Expression::product(factors);
        match self.coefficient.is_negative() {
            true => Expression::negative(product),
            false => product,
        }
    }
}

impl<'a> Base<'a> {
    /// The part of the expression, if it is one.
    pub(crate) fn part(self) -> Option<&'a Expression> {
        match self {
            Base::Part(part) => Some(part),
            Base::E => None,
        }
    }
}

/// An exponent.
#[derive(Clone, Debug)]
pub(crate) enum Exponent<'a> {
    /// A plain number, 1 included.
    Number(Rational),
    /// Anything else, and whether it stands in a denominator.
    Symbolic {
        /// The exponent as written.
        exponent: &'a Expression,
        /// It is to be negated.
        negated: bool,
    },
}

/// The summands of an expression; one, if it is no sum.
pub(crate) fn terms(expression: &Expression) -> Terms<'_> {
    let mut terms = Terms::new();
    collect_terms(expression, false, &mut terms);
    terms
}

/// Appends the summands of an expression, or of its opposite.
pub(crate) fn collect_terms<'a>(expression: &'a Expression, negated: bool, terms: &mut Terms<'a>) {
    match expression.operator() {
        Operator::Sum => {
            for operand in expression.operands() {
                collect_terms(operand, negated, terms);
            }
        }
        Operator::Negative => {
            for operand in expression.operands() {
                collect_terms(operand, !negated, terms);
            }
        }
        _ => {
            let mut term = factors(expression);
            if negated {
                term.coefficient = -term.coefficient;
            }
            terms.push(term);
        }
    }
}

/// The factors of an expression; a sum is one factor.
pub(crate) fn factors(expression: &Expression) -> Term<'_> {
    let mut term = Term {
        coefficient: Rational::ONE,
        factors: Factors::new(),
    };
    collect_factors(expression, false, &mut term);
    term
}

fn collect_factors<'a>(expression: &'a Expression, inverted: bool, term: &mut Term<'a>) {
    if let Some(value) = number(expression) {
        match inverted {
            false => {
                term.coefficient = &term.coefficient * &value;
                return;
            }
            true => {
                if let Some(quotient) = term.coefficient.checked_div(&value) {
                    term.coefficient = quotient;
                    return;
                }
            }
        }
    }
    let sign = |value: Rational| if inverted { -value } else { value };
    let (base, exponent) = match (expression.operator(), expression.operands()) {
        (Operator::Product, operands) => {
            for operand in operands {
                collect_factors(operand, inverted, term);
            }
            return;
        }
        (Operator::Negative, [operand]) => {
            term.coefficient = -&term.coefficient;
            return collect_factors(operand, inverted, term);
        }
        (Operator::Fraction, [numerator, denominator]) => {
            collect_factors(numerator, inverted, term);
            return collect_factors(denominator, !inverted, term);
        }
        (Operator::Power, [base, exponent]) => match number(exponent) {
            Some(exponent) => (Base::Part(base), Exponent::Number(sign(exponent))),
            None => (
                Base::Part(base),
                Exponent::Symbolic {
                    exponent,
                    negated: inverted,
                },
            ),
        },
        (Operator::Function(Function::Exp), [exponent]) => match number(exponent) {
            Some(exponent) => (Base::E, Exponent::Number(sign(exponent))),
            None => (
                Base::E,
                Exponent::Symbolic {
                    exponent,
                    negated: inverted,
                },
            ),
        },
        (Operator::Root, [radicand]) => (
            Base::Part(radicand),
            Exponent::Number(sign(Rational::fraction(1, 2))),
        ),
        (Operator::NthRoot, [radicand, degree]) => {
            match number(degree).and_then(|degree| degree.reciprocal()) {
                Some(exponent) => (Base::Part(radicand), Exponent::Number(sign(exponent))),
                None => (
                    Base::Part(expression),
                    Exponent::Number(sign(Rational::ONE)),
                ),
            }
        }
        _ => (
            Base::Part(expression),
            Exponent::Number(sign(Rational::ONE)),
        ),
    };
    // A power of a power, or of e written as a letter, keeps its base as written.
    let base = match base.part().and_then(Expression::as_constant) {
        Some(Constant::E) => Base::E,
        _ => base,
    };
    term.factors.push(Factor { base, exponent });
}

/// The value, if the expression is a plain rational number as people write one: an integer, a
/// decimal, a fraction or mixed number of them, a percentage, with or without a sign, or a whole
/// power of one.
pub(crate) fn number(expression: &Expression) -> Option<Rational> {
    match (expression.operator(), expression.operands()) {
        (Operator::Number(number), _) => Some(Rational::from(number)),
        (Operator::Negative, [operand]) => Some(-number(operand)?),
        (Operator::Fraction, [numerator, denominator]) => {
            number(numerator)?.checked_div(&number(denominator)?)
        }
        (Operator::Mixed, [whole, numerator, denominator]) => {
            Some(number(whole)? + number(numerator)?.checked_div(&number(denominator)?)?)
        }
        (Operator::Percent, [operand]) => Some(number(operand)? * Rational::fraction(1, 100)),
        (Operator::Power, [base, exponent]) => number(base)?.pow(number(exponent)?.as_i64()?),
        _ => None,
    }
}
