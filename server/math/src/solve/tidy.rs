//! How is a result tidied without multiplying everything out?

use crate::expression::{Constant, Expression, Function, Operator};
use crate::normal_form::normal;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent};

use super::write;

/// The expression with its numbers calculated, equal factors and terms merged, and its factors in the
/// usual order. Brackets stay unless multiplying them out makes the whole shorter.
pub(super) fn tidy(expression: &Expression) -> Expression {
    let tidied = structure(expression);
    shorter(tidied)
}

/// The collected form, if it is no longer.
fn shorter(tidied: Expression) -> Expression {
    match normal(&tidied) {
        Ok(number) => {
            let collected = number.to_expression();
            match weight(&collected) <= weight(&tidied) {
                true => collected,
                false => tidied,
            }
        }
        Err(_) => tidied,
    }
}

/// Roots and negative powers count more than what is written without them.
fn weight(expression: &Expression) -> usize {
    let extra = expression.parts().filter(|part| match part.operator() {
        Operator::Fraction => part.operands().iter().any(|operand| {
            operand
                .parts()
                .any(|p| matches!(p.operator(), Operator::Fraction))
        }),
        Operator::Number(number) => number.as_i64().is_none_or(|n| n >= 1_000),
        _ => false,
    });
    expression.size() + 4 * extra.count()
}

fn structure(expression: &Expression) -> Expression {
    let inner = expression.map_operands(structure);
    match inner.operator() {
        Operator::Sum
        | Operator::Negative
        | Operator::Product
        | Operator::Fraction
        | Operator::Power
        | Operator::Root
        | Operator::NthRoot => {
            let is_number = inner.parts().all(|part| part.as_symbol().is_none());
            match is_number {
                true => write::collected(&inner),
                false => sum(&inner),
            }
        }
        Operator::Function(Function::Exp) => match inner.operands() {
            [exponent] => Expression::power(Expression::constant(Constant::E), exponent.clone()),
            _ => inner,
        },
        Operator::Function(_) if inner.parts().all(|part| part.as_symbol().is_none()) => {
            write::collected(&inner)
        }
        _ => inner,
    }
}

/// A factor: its base, and its exponent as a number and a symbolic part.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Power {
    base: Expression,
    number: Rational,
    symbolic: Vec<Expression>,
}

fn sum(expression: &Expression) -> Expression {
    let mut terms: Vec<(Vec<Power>, Rational)> = Vec::new();
    for term in surface::terms(expression) {
        let mut powers: Vec<Power> = Vec::new();
        for factor in &term.factors {
            let base = match factor.base {
                Base::E => Expression::constant(Constant::E),
                Base::Part(part) => part.clone(),
            };
            let (number, symbolic) = match &factor.exponent {
                Exponent::Number(exponent) => (exponent.clone(), Vec::new()),
                Exponent::Symbolic { exponent, negated } => {
                    let exponent = match negated {
                        true => Expression::negative((*exponent).clone()),
                        false => (*exponent).clone(),
                    };
                    (Rational::ZERO, vec![exponent])
                }
            };
            // A power of a power is one power, where the inner exponent is whole.
            match powers.iter_mut().find(|known| known.base == base) {
                Some(known) => {
                    known.number = &known.number + &number;
                    known.symbolic.extend(symbolic);
                }
                None => powers.push(Power {
                    base,
                    number,
                    symbolic,
                }),
            }
        }
        powers.retain(|power| !power.number.is_zero() || !power.symbolic.is_empty());
        let mut key = powers.clone();
        key.sort();
        match terms.iter_mut().find(|(known, _)| {
            let mut known = known.clone();
            known.sort();
            known == key
        }) {
            Some((_, coefficient)) => *coefficient = &*coefficient + &term.coefficient,
            None => terms.push((powers, term.coefficient.clone())),
        }
    }
    let written = terms
        .into_iter()
        .filter(|(_, coefficient)| !coefficient.is_zero())
        .map(|(powers, coefficient)| term(powers, &coefficient));
    let whole = write::sum(written.collect::<Vec<_>>());
    match whole.operator() {
        Operator::Sum => shorter(whole),
        _ => whole,
    }
}

/// Letters first, then brackets, functions, exponentials.
fn rank(base: &Expression, power: &Power) -> u8 {
    match base.operator() {
        Operator::Symbol(_) => 1,
        Operator::Number(_) | Operator::Constant(_) if !power.symbolic.is_empty() => 5,
        Operator::Number(_) | Operator::Constant(_) => 0,
        Operator::Function(_) => 4,
        Operator::Sum if power.number != Rational::ONE => 2,
        _ => 3,
    }
}

fn term(mut powers: Vec<Power>, coefficient: &Rational) -> Expression {
    powers.sort_by_key(|power| rank(&power.base, power));
    let mut above = Vec::new();
    let mut below = Vec::new();
    for power in powers {
        let Power {
            base,
            number,
            symbolic,
        } = power;
        if symbolic.is_empty() {
            let target = match number.is_negative() {
                true => &mut below,
                false => &mut above,
            };
            target.push(rational_power(base, &number.abs()));
        } else {
            let constant = write::number(&number);
            let exponent = super::tidy::tidy(&write::sum(symbolic.into_iter().chain([constant])));
            match exponent.as_i64() {
                Some(0) => {}
                Some(1) => above.push(base),
                _ => above.push(Expression::power(base, exponent)),
            }
        }
    }
    let size = coefficient.abs();
    let whole = match below.is_empty() {
        true => write::multiple(&size, write::product(above)),
        false => {
            let above = write::multiple(&size.numerator(), write::product(above));
            let below = write::multiple(&size.denominator(), write::product(below));
            Expression::fraction(above, below)
        }
    };
    match coefficient.is_negative() {
        true => Expression::negative(whole),
        false => whole,
    }
}

fn rational_power(base: Expression, exponent: &Rational) -> Expression {
    match exponent.as_fraction() {
        Some((1, 1)) => base,
        Some((1, 2)) => Expression::root(base),
        _ => Expression::power(base, write::number(exponent)),
    }
}
