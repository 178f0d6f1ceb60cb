//! How fast does an expression grow far out?
//!
//! The leading behaviour c · (n!)^f · b^n · n^p · (ln n)^q of what a first course has, compared in
//! that order. Roots and powers are taken of it, sums keep the leading term if it does not cancel.

use std::cmp::Ordering;

use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::normal_form::{Normal, normal};
use crate::rational::Rational;
use crate::views;

/// The leading behaviour.
#[derive(Clone, Debug)]
pub(super) struct Growth {
    /// The constant factor.
    pub(super) factor: Normal,
    /// The sign alternates from each whole number to the next.
    pub(super) alternates: bool,
    pub(super) factorial: Rational,
    /// The logarithm of the base of the exponential; e for a factorial's quotient counts in it.
    pub(super) rate: f64,
    /// The base is exactly 1 where the rate is 0.
    pub(super) power: Rational,
    pub(super) logarithm: Rational,
}

impl Growth {
    fn constant(factor: Normal) -> Self {
        Self {
            factor,
            alternates: false,
            factorial: Rational::ZERO,
            rate: 0.0,
            power: Rational::ZERO,
            logarithm: Rational::ZERO,
        }
    }

    fn one() -> Self {
        Self::constant(Normal::constant(Rational::ONE))
    }

    /// Which one is larger far out.
    pub(super) fn compare(&self, other: &Self) -> Ordering {
        let rates = match (self.rate - other.rate).abs() < 1e-12 {
            true => Ordering::Equal,
            false => self.rate.total_cmp(&other.rate),
        };
        self.factorial
            .cmp(&other.factorial)
            .then(rates)
            .then(self.power.cmp(&other.power))
            .then(self.logarithm.cmp(&other.logarithm))
    }

    /// Against a constant: less tends to 0, greater to infinity.
    pub(super) fn against_constant(&self) -> Ordering {
        self.compare(&Self::one())
    }

    fn times(&self, other: &Self) -> Option<Self> {
        Some(Self {
            factor: self.factor.multiply(&other.factor).ok()?,
            alternates: self.alternates != other.alternates,
            factorial: &self.factorial + &other.factorial,
            rate: self.rate + other.rate,
            power: &self.power + &other.power,
            logarithm: &self.logarithm + &other.logarithm,
        })
    }

    fn raised(&self, exponent: &Rational) -> Option<Self> {
        Some(Self {
            factor: self.factor.pow(exponent).ok()?,
            alternates: self.alternates && exponent.as_i64()?.rem_euclid(2) == 1,
            factorial: &self.factorial * exponent,
            rate: self.rate * exponent.to_f64(),
            power: &self.power * exponent,
            logarithm: &self.logarithm * exponent,
        })
    }
}

/// The leading behaviour as a letter tends to infinity; none where it is not known.
pub(super) fn growth(expression: &Expression, by: &Symbol) -> Option<Growth> {
    if !expression.mentions(by) {
        let factor = normal(expression).ok()?;
        return (views::is_zero(&factor) == views::Truth::No).then(|| Growth::constant(factor));
    }
    let operands = expression.operands();
    match (expression.operator(), operands) {
        (Operator::Symbol(_), _) => Some(Growth {
            power: Rational::ONE,
            ..Growth::one()
        }),
        (Operator::Negative, [operand]) => {
            let inner = growth(operand, by)?;
            Some(Growth {
                factor: inner.factor.negate(),
                ..inner
            })
        }
        (Operator::Product, _) => {
            let mut all = Growth::one();
            for operand in operands {
                all = all.times(&growth(operand, by)?)?;
            }
            Some(all)
        }
        (Operator::Fraction, [above, below]) => {
            let below = growth(below, by)?.raised(&Rational::integer(-1))?;
            growth(above, by)?.times(&below)
        }
        (Operator::Sum, _) => {
            // Polynomials first: their leading terms may cancel.
            let number = normal(expression).ok();
            if let Some(number) = &number
                && let Some(polynomial) = views::univariate(number, by)
            {
                return Some(Growth {
                    factor: Normal::constant(polynomial.leading()),
                    power: Rational::integer(polynomial.degree() as i64),
                    ..Growth::one()
                });
            }
            if let Some(number) = &number
                && !number.denominator().is_one()
            {
                let part = |p: &crate::normal_form::Polynomial| {
                    views::univariate(&Normal::whole(p.clone()), by)
                };
                if let (Some(above), Some(below)) =
                    (part(number.numerator()), part(number.denominator()))
                    && !above.is_zero()
                {
                    let degrees = above.degree() as i64 - below.degree() as i64;
                    return Some(Growth {
                        factor: Normal::constant(above.leading().checked_div(&below.leading())?),
                        power: Rational::integer(degrees),
                        ..Growth::one()
                    });
                }
            }
            let mut leading: Option<Growth> = None;
            for operand in operands {
                let Some(next) = growth(operand, by) else {
                    // What stays bounded does not matter beside what grows.
                    if is_bounded(operand, by) {
                        continue;
                    }
                    return None;
                };
                leading = match leading {
                    None => Some(next),
                    Some(known) => match known.compare(&next) {
                        Ordering::Greater => Some(known),
                        Ordering::Less => Some(next),
                        Ordering::Equal if known.alternates == next.alternates => {
                            let factor = known.factor.add(&next.factor).ok()?;
                            if views::is_zero(&factor) != views::Truth::No {
                                return None;
                            }
                            Some(Growth { factor, ..known })
                        }
                        Ordering::Equal => return None,
                    },
                };
            }
            let has_bounded = operands
                .iter()
                .any(|o| growth(o, by).is_none() && is_bounded(o, by));
            leading.filter(|l| !has_bounded || l.against_constant() == Ordering::Greater)
        }
        (Operator::Root, [radicand]) => growth(radicand, by)?.raised(&Rational::fraction(1, 2)),
        (Operator::NthRoot, [radicand, degree]) => {
            growth(radicand, by)?.raised(&crate::surface::number(degree)?.reciprocal()?)
        }
        (Operator::Function(Function::Exp), [exponent]) => {
            exponential(&Expression::constant(Constant::E), exponent, by)
        }
        (Operator::Power, [base, exponent]) => match exponent.mentions(by) {
            false => growth(base, by)?.raised(&crate::surface::number(exponent)?),
            true => exponential(base, exponent, by),
        },
        (Operator::Function(Function::Factorial), [argument]) => {
            let polynomial = views::univariate(&normal(argument).ok()?, by)?;
            let (slope, shift) = (polynomial.coefficient(1), polynomial.coefficient(0));
            if polynomial.degree() != 1 || !slope.is_positive() {
                return None;
            }
            // Stirling: (k n + s)! ~ const (n!)^k k^(k n) n^(s + (1 - k)/2).
            let k = slope.to_f64();
            let power = shift + (Rational::ONE - &slope) * Rational::fraction(1, 2);
            Some(Growth {
                factorial: slope,
                rate: k * libm::log(k),
                power,
                ..Growth::one()
            })
        }
        (Operator::Function(Function::Ln | Function::Log | Function::LogBase), [argument, ..]) => {
            let inner = growth(argument, by)?;
            let is_power =
                inner.factorial.is_zero() && inner.rate == 0.0 && inner.power.is_positive();
            match is_power {
                true => Some(Growth {
                    factor: Normal::constant(inner.power.clone()),
                    logarithm: Rational::ONE,
                    ..Growth::one()
                }),
                false => None,
            }
        }
        (Operator::Function(Function::Arctan), [argument]) => {
            let inner = growth(argument, by)?;
            let sign = views::sign(&inner.factor)?;
            let half_pi = Expression::fraction(
                Expression::constant(Constant::Pi),
                Expression::integer(2 * i64::from(sign)),
            );
            (inner.against_constant() == Ordering::Greater)
                .then(|| normal(&half_pi).ok().map(Growth::constant))
                .flatten()
        }
        // sin u ~ u and the like where u tends to 0.
        (Operator::Function(Function::Sin | Function::Tan | Function::Arcsin), [argument]) => {
            let inner = growth(argument, by)?;
            (inner.against_constant() == Ordering::Less).then_some(inner)
        }
        _ => None,
    }
}

fn exponential(base: &Expression, exponent: &Expression, by: &Symbol) -> Option<Growth> {
    if base.as_i64() == Some(-1) {
        // (-1)^(n + c)
        let polynomial = views::univariate(&normal(exponent).ok()?, by)?;
        let (slope, shift) = (
            polynomial.coefficient(1).as_i64()?,
            polynomial.coefficient(0).as_i64()?,
        );
        let sign = if shift.rem_euclid(2) == 0 { 1 } else { -1 };
        return (polynomial.degree() == 1).then(|| Growth {
            factor: Normal::constant(Rational::integer(sign)),
            alternates: slope.rem_euclid(2) == 1,
            ..Growth::one()
        });
    }
    if base.mentions(by) {
        // n^n = n! e^n / sqrt(2 pi n), and only that.
        let is_self = base.as_symbol() == Some(by) && exponent.as_symbol() == Some(by);
        let polynomial = views::univariate(&normal(exponent).ok()?, by)?;
        if is_self {
            return Some(Growth {
                factorial: Rational::ONE,
                rate: 1.0,
                power: Rational::fraction(-1, 2),
                ..Growth::one()
            });
        }
        // u^n with u tending to a constant c other than 1: (c)^n up to a smaller factor.
        let inner = growth(base, by)?;
        if inner.against_constant() != Ordering::Equal || polynomial.degree() != 1 {
            return None;
        }
        let value = crate::evaluate::real_value(
            &inner.factor.to_expression(),
            &crate::evaluate::Point::new(),
        )
        .ok()?;
        return ((value.abs() - 1.0).abs() > 1e-9).then(|| Growth {
            rate: libm::log(value.abs()) * polynomial.coefficient(1).to_f64(),
            alternates: value < 0.0,
            ..Growth::one()
        });
    }
    let value = crate::evaluate::real_value(base, &crate::evaluate::Point::new()).ok()?;
    let number = normal(exponent).ok()?;
    let name = Expression::new(Operator::Symbol(by.clone()), []);
    let (slope, rest) = views::linear_in(&number, &name)?;
    let slope = slope.as_constant()?;
    if views::depends_on(&rest, by) {
        return None;
    }
    let negative = value < 0.0;
    if negative && slope.as_i64().is_none() {
        return None;
    }
    let factor = normal(&Expression::power(base.clone(), rest.to_expression())).ok()?;
    let rate = libm::log(value.abs()) * slope.to_f64();
    Some(Growth {
        factor,
        alternates: negative && slope.as_i64().is_some_and(|s| s.rem_euclid(2) == 1),
        rate: if value.abs() == 1.0 { 0.0 } else { rate },
        ..Growth::one()
    })
}

/// It stays between two numbers.
pub(super) fn is_bounded(expression: &Expression, by: &Symbol) -> bool {
    match (expression.operator(), expression.operands()) {
        _ if !expression.mentions(by) => true,
        (Operator::Function(Function::Sin | Function::Cos | Function::Arctan), _) => true,
        (Operator::Negative | Operator::Product | Operator::Sum, operands) => {
            operands.iter().all(|operand| is_bounded(operand, by))
        }
        (Operator::Power, [base, exponent]) => match base.as_i64() {
            Some(-1) => true,
            _ => exponent.as_i64().is_some_and(|e| e > 0) && is_bounded(base, by),
        },
        _ => false,
    }
}
