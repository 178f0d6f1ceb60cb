//! Which numbers of a formula can be replaced, and how is it written with others?
//!
//! A [`Literal`] is a number as it stands in the formula, with the sign before it, or a coefficient
//! of 1 that is not written. Zeros, the `-1` of an alternating sign, the point at which an initial
//! value is given and bounds with π are part of the structure and no literals.

use std::ops::Range;

use num_bigint::BigInt;
use num_rational::BigRational;

use crate::expression::{
    Bounds, Brackets, Constant, Expression, Function, Number, Operator, Written,
};
use crate::read::{Declared, read};

/// What a number is in its formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// A term, an entry, a bound: any number other than 0.
    Constant,
    /// A written coefficient.
    Coefficient,
    /// A coefficient of 1 that is not written.
    Unwritten,
    /// An exponent or the degree of a root.
    Exponent,
    /// A positive number raised to a power, a base of logarithms.
    Base,
    /// The numerator of a plain fraction.
    Numerator,
    /// The denominator of the plain fraction that was begun just before.
    Denominator,
}

/// A number in a formula.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Literal {
    /// What it is there.
    pub(super) role: Role,
    /// Its value with its sign; for a decimal, in units of the last place.
    pub(super) value: i64,
    /// The number of digits after the decimal point.
    pub(super) places: u32,
    /// It may change its sign: it stands as a term.
    pub(super) is_signed: bool,
    /// It stands in the argument of a function.
    pub(super) in_argument: bool,
    /// Where it is written, without its sign; empty for what is not written.
    pub(super) range: Range<usize>,
}

/// The literals of a formula, from left to right.
pub(super) fn literals(formula: &Expression) -> Vec<Literal> {
    let mut found = Vec::new();
    Walk {
        visit: &mut |literal: Literal| {
            let value = literal.value;
            found.push(literal);
            value
        },
        leads: false,
        in_argument: false,
    }
    .term(formula, false);
    found
}

/// The formula with other values for its literals, which come in the order of [`literals`].
pub(super) fn with_values(formula: &Expression, values: &[i64]) -> Expression {
    let mut values = values.iter();
    Walk {
        visit: &mut |literal: Literal| values.next().copied().unwrap_or(literal.value),
        leads: false,
        in_argument: false,
    }
    .term(formula, false)
}

/// The TeX of the formula with other values for its literals, written as the author wrote it: only
/// the numbers and their signs are replaced. None where that would say something else.
pub(super) fn tex_with_values(
    tex: &str,
    formula: &Expression,
    literals: &[Literal],
    values: &[i64],
    declared: &Declared,
) -> Option<String> {
    let mut written = String::with_capacity(tex.len() + 8);
    let mut copied = 0;
    let mut changes: Vec<(&Literal, &i64)> = literals
        .iter()
        .zip(values)
        .filter(|(literal, value)| literal.value != **value)
        .collect();
    changes.sort_by_key(|(literal, _)| literal.range.start);
    for (literal, value) in changes {
        let Range { start, end } = literal.range;
        let before = tex.get(copied..start)?;
        if (literal.value < 0) == (*value < 0) {
            written.push_str(before);
        } else {
            // The sign stands before the number, or is to stand there.
            let bare = before.trim_end();
            let gap = &before[bare.len()..];
            match bare.chars().next_back() {
                Some('+') => {
                    written.push_str(&bare[..bare.len() - 1]);
                    written.push('-');
                    written.push_str(gap);
                }
                Some('-') => {
                    let rest = &bare[..bare.len() - 1];
                    written.push_str(rest);
                    let ahead = format!("{}{rest}", &tex[..copied]);
                    let is_first = match ahead.trim_end().chars().next_back() {
                        None => true,
                        Some(last) => "{(&=[,<>|\\^".contains(last),
                    };
                    if !is_first {
                        written.push('+');
                        written.push_str(gap);
                    }
                }
                _ => {
                    written.push_str(before);
                    written.push('-');
                }
            }
        }
        let size = value.unsigned_abs();
        match literal.places {
            _ if size == 1 && literal.range.is_empty() => {}
            0 => written.push_str(&size.to_string()),
            places => {
                let unit = 10_u64.pow(places);
                let width = places as usize;
                written.push_str(&format!("{}.{:0width$}", size / unit, size % unit));
            }
        }
        copied = end;
    }
    written.push_str(tex.get(copied..)?);
    let reading = read(&written, declared);
    (reading.expression == with_values(formula, values)).then_some(written)
}

struct Walk<'a> {
    visit: &'a mut dyn FnMut(Literal) -> i64,
    /// The next number leads a sum, an argument or a denominator, where one writes no minus sign.
    leads: bool,
    in_argument: bool,
}

/// The integer, or the decimal in units of its last place.
fn written(expression: &Expression) -> Option<(i64, u32)> {
    let number = expression.as_number()?;
    match number.written() {
        Written::Exact => Some((number.as_i64()?, 0)),
        Written::Decimal { places } if places <= 6 => {
            let unit = BigRational::from_integer(BigInt::from(10).pow(places));
            let scaled = Number::exact(number.value() * unit);
            Some((scaled.as_i64()?, places))
        }
        _ => None,
    }
}

fn number(value: i64, places: u32) -> Expression {
    let size = BigInt::from(value.unsigned_abs());
    if places == 0 {
        return Expression::number(Number::exact(BigRational::from_integer(size)));
    }
    let value = BigRational::new(size, BigInt::from(10).pow(places));
    Expression::number(Number::written_as(value, Written::Decimal { places }))
}

fn start_of(expression: &Expression) -> Range<usize> {
    let start = expression.range().start;
    start..start
}

fn signed(negative: bool, size: Expression) -> Expression {
    match negative {
        true => Expression::negative(size),
        false => size,
    }
}

fn is_number_fraction(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Fraction, [above, below]) => {
            matches!(written(above), Some((1.., 0))) && matches!(written(below), Some((2.., 0)))
        }
        _ => false,
    }
}

/// A multiple of π, or unbounded: one keeps such bounds.
fn is_special(expression: &Expression) -> bool {
    expression.parts().any(|part| {
        matches!(
            part.as_constant(),
            Some(Constant::Pi | Constant::Infinity | Constant::E)
        )
    })
}

impl Walk<'_> {
    fn literal(
        &mut self,
        role: Role,
        (value, places): (i64, u32),
        is_signed: bool,
        range: Range<usize>,
    ) -> i64 {
        let leads = std::mem::take(&mut self.leads);
        let is_signed = is_signed && !(leads && value > 0);
        (self.visit)(Literal {
            role,
            value,
            places,
            is_signed,
            in_argument: self.in_argument,
            range,
        })
    }

    /// A numerator and denominator; the sign of the whole and the fraction.
    fn fraction(
        &mut self,
        fraction: &Expression,
        negative: bool,
        signs: bool,
    ) -> (bool, Expression) {
        let [above, below] = fraction.operands() else {
            return (negative, fraction.clone());
        };
        let (Some((n, _)), Some((d, _))) = (written(above), written(below)) else {
            return (negative, fraction.clone());
        };
        let n = self.literal(
            Role::Numerator,
            (if negative { -n } else { n }, 0),
            signs,
            above.range(),
        );
        let d = self.literal(Role::Denominator, (d, 0), false, below.range());
        (n < 0, Expression::fraction(number(n, 0), number(d, 0)))
    }

    /// An expression that stands as a term, whatever its sign.
    fn term(&mut self, term: &Expression, negative: bool) -> Expression {
        let operands = term.operands();
        let sign = if negative { -1 } else { 1 };
        match (term.operator(), operands) {
            (Operator::Negative, [operand]) => self.term(operand, !negative),
            (Operator::Number(_), _) => match written(term) {
                Some((value, places)) if value != 0 => {
                    let value =
                        self.literal(Role::Constant, (sign * value, places), true, term.range());
                    signed(value < 0, number(value, places))
                }
                _ => signed(negative, term.clone()),
            },
            (Operator::Fraction, _) if is_number_fraction(term) => {
                let (negative, fraction) = self.fraction(term, negative, true);
                signed(negative, fraction)
            }
            (Operator::Fraction, [above, below]) => {
                if matches!(above.operator(), Operator::Sum) {
                    let above = self.factor(above);
                    let below = self.below(below);
                    return signed(negative, Expression::fraction(above, below));
                }
                let above = self.term(above, negative);
                let below = self.below(below);
                match (above.operator(), above.operands()) {
                    (Operator::Negative, [above]) => {
                        Expression::negative(Expression::fraction(above.clone(), below))
                    }
                    _ => Expression::fraction(above, below),
                }
            }
            (Operator::Product, [first, rest @ ..]) => {
                let mut factors = Vec::with_capacity(operands.len());
                let (negative, skip) = match written(first) {
                    Some((value, places)) if value != 0 => {
                        let value = self.literal(
                            Role::Coefficient,
                            (sign * value, places),
                            true,
                            first.range(),
                        );
                        if value.abs() != 1 || places > 0 {
                            factors.push(number(value, places));
                        }
                        (value < 0, true)
                    }
                    _ if is_number_fraction(first) => {
                        let (negative, fraction) = self.fraction(first, negative, true);
                        factors.push(fraction);
                        (negative, true)
                    }
                    _ => {
                        let value = self.literal(Role::Unwritten, (sign, 0), true, start_of(term));
                        if value.abs() != 1 {
                            factors.push(number(value, 0));
                        }
                        (value < 0, false)
                    }
                };
                let rest = if skip { rest } else { operands };
                for factor in rest {
                    factors.push(self.factor(factor));
                }
                signed(negative, Expression::product(factors))
            }
            (
                Operator::Symbol(_)
                | Operator::Power
                | Operator::Root
                | Operator::NthRoot
                | Operator::Function(_)
                | Operator::Prime(_),
                _,
            ) if !is_alternating(term) && !is_matrix(term) => {
                // 2^n is no multiple of 1 that one would write another number before; e^x is.
                let value = self.literal(Role::Unwritten, (sign, 0), true, start_of(term));
                let body = self.factor(term);
                let body = match value.abs() {
                    1 => body,
                    size => match body.operator() {
                        Operator::Product => Expression::product(
                            std::iter::once(number(size, 0)).chain(body.operands().iter().cloned()),
                        ),
                        _ => Expression::product([number(size, 0), body]),
                    },
                };
                signed(value < 0, body)
            }
            _ => signed(negative, self.factor(term)),
        }
    }

    /// A denominator, the argument of a function: a term that is written without a sign.
    fn bare(&mut self, expression: &Expression) -> Expression {
        self.leads = true;
        let bare = match expression.operator() {
            Operator::Sum => self.factor(expression),
            _ => self.term(expression, false),
        };
        self.leads = false;
        bare
    }

    fn below(&mut self, expression: &Expression) -> Expression {
        match written(expression) {
            Some((value @ 2.., 0)) => {
                let value = self.literal(Role::Base, (value, 0), false, expression.range());
                number(value, 0)
            }
            _ => self.bare(expression),
        }
    }

    fn factor(&mut self, factor: &Expression) -> Expression {
        let operands = factor.operands();
        match (factor.operator(), operands) {
            (Operator::Number(_), _) => match written(factor) {
                Some((value, places)) if value != 0 => {
                    let value = self.literal(Role::Base, (value, places), false, factor.range());
                    number(value, places)
                }
                _ => factor.clone(),
            },
            (Operator::Fraction, _) if is_number_fraction(factor) => {
                self.fraction(factor, false, false).1
            }
            (Operator::Fraction | Operator::Negative, _) => self.term(factor, false),
            (Operator::Sum, terms) => Expression::sum(
                terms
                    .iter()
                    .map(|term| self.term(term, false))
                    .collect::<Vec<_>>(),
            ),
            (Operator::Power, [base, exponent]) => {
                if is_alternating(factor) {
                    return factor.clone();
                }
                let base = match base.operator() {
                    Operator::Negative => self.term(base, false),
                    _ => self.factor(base),
                };
                Expression::power(base, self.exponent(exponent))
            }
            (Operator::NthRoot, [radicand, degree]) => {
                let radicand = self.bare(radicand);
                let degree = self.exponent(degree);
                Expression::new(Operator::NthRoot, [radicand, degree])
            }
            (Operator::Function(Function::LogBase), [argument, base]) => {
                let argument = self.bare(argument);
                let base = self.factor(base);
                factor.with_operands([argument, base])
            }
            (Operator::Root | Operator::Function(_), _) => {
                let outside = self.in_argument;
                self.in_argument |= matches!(factor.operator(), Operator::Function(_));
                let changed =
                    factor.with_operands(operands.iter().map(|o| self.bare(o)).collect::<Vec<_>>());
                self.in_argument = outside;
                changed
            }
            // y(0) = 1: the point stays; so do conditions that only name an interval.
            (Operator::Relation(_), [left, right])
                if matches!(left.operator(), Operator::Apply) =>
            {
                let right = self.term(right, false);
                factor.with_operands([left.clone(), right])
            }
            (Operator::Apply, [function, arguments @ ..]) => {
                let arguments: Vec<Expression> = arguments
                    .iter()
                    .map(|argument| match written(argument) {
                        Some((1.., _)) => self.term(argument, false),
                        _ => argument.clone(),
                    })
                    .collect();
                Expression::apply(function.clone(), arguments)
            }
            (Operator::Integral(integration), [body, rest @ ..]) => {
                let body = self.bare(body);
                let variables = integration.variables as usize;
                let mut all = vec![body];
                for (place, operand) in rest.iter().enumerate() {
                    let is_bound = place >= variables && integration.bounds == Bounds::Between;
                    all.push(match is_bound && !is_special(operand) {
                        true => self.constants_only(operand),
                        false => operand.clone(),
                    });
                }
                factor.with_operands(all)
            }
            (Operator::Limit(_), [body, variable, point]) => {
                let body = self.bare(body);
                let point = match is_special(point) {
                    true => point.clone(),
                    false => self.constants_only(point),
                };
                factor.with_operands([body, variable.clone(), point])
            }
            // The first value of the index stays: it belongs to the kind of the series.
            (Operator::Series(..), [body, rest @ ..]) => {
                let mut all = vec![self.bare(body)];
                for (place, operand) in rest.iter().enumerate() {
                    all.push(match place {
                        2 if !is_special(operand) => self.constants_only(operand),
                        _ => operand.clone(),
                    });
                }
                factor.with_operands(all)
            }
            (Operator::Derivative(_), [body, rest @ ..]) => {
                let body = self.bare(body);
                factor.with_operands(std::iter::once(body).chain(rest.iter().cloned()))
            }
            (Operator::Interval(_) | Operator::Tuple(Brackets::Round), _) if is_special(factor) => {
                factor.clone()
            }
            (
                Operator::Prime(_)
                | Operator::NthPrime
                | Operator::Differential
                | Operator::Symbol(_)
                | Operator::Constant(_)
                | Operator::Indexed
                | Operator::Quantified(_),
                _,
            ) => factor.clone(),
            (
                Operator::Relation(_)
                | Operator::Matrix(_)
                | Operator::Tuple(_)
                | Operator::Interval(_)
                | Operator::Set
                | Operator::Piecewise
                | Operator::Percent
                | Operator::Degrees,
                _,
            ) => factor.with_operands(
                operands
                    .iter()
                    .map(|o| self.term(o, false))
                    .collect::<Vec<_>>(),
            ),
            _ => factor.with_operands(operands.iter().map(|o| self.factor(o)).collect::<Vec<_>>()),
        }
    }

    fn exponent(&mut self, exponent: &Expression) -> Expression {
        match (exponent.operator(), exponent.operands()) {
            (Operator::Number(_), _) => match written(exponent) {
                Some((value, places)) if value > 1 => {
                    let value =
                        self.literal(Role::Exponent, (value, places), false, exponent.range());
                    number(value, places)
                }
                _ => exponent.clone(),
            },
            // An inverse, a reciprocal: the exponent says what is done.
            (Operator::Negative, [operand]) if written(operand).is_some() => {
                Expression::negative(self.exponent(operand))
            }
            (Operator::Fraction, [above, below]) if is_number_fraction(exponent) => {
                Expression::fraction(self.exponent(above), self.exponent(below))
            }
            _ => self.bare(exponent),
        }
    }

    fn constants_only(&mut self, expression: &Expression) -> Expression {
        let inner = match (expression.operator(), expression.operands()) {
            (Operator::Negative, [operand]) => operand,
            _ => expression,
        };
        match written(inner).is_some() || is_number_fraction(inner) {
            true => self.term(expression, false),
            false => expression.clone(),
        }
    }
}

/// `(-1)^n`.
fn is_alternating(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Power, [base, _]) => base.as_i64() == Some(-1),
        _ => false,
    }
}

/// A matrix, a power of one, its determinant: there is no coefficient to be written before it.
fn is_matrix(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Matrix(_) | Operator::Tuple(_), _) => true,
        (Operator::Power, [base, _]) => is_matrix(base),
        (
            Operator::Function(
                Function::Determinant
                | Function::Trace
                | Function::Rank
                | Function::Transpose
                | Function::Norm,
            ),
            _,
        ) => true,
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The formula with its literals replaced by 2, 3, 4, ... in turn, their signs kept, and the
    /// unwritten ones left as they are.
    fn check(input: &str, expected: &str) {
        let formula = read(input, &Declared::new()).expression;
        let found = literals(&formula);
        let same: Vec<i64> = found.iter().map(|literal| literal.value).collect();
        assert_eq!(with_values(&formula, &same), formula, "{input}");
        let mut next = 1;
        let values: Vec<i64> = found
            .iter()
            .map(|literal| match literal.role {
                Role::Unwritten => literal.value,
                _ => {
                    next += 1;
                    next * literal.value.signum()
                }
            })
            .collect();
        let printed = tex_with_values(input, &formula, &found, &values, &Declared::new());
        assert_eq!(printed.as_deref(), Some(expected), "{input}");
    }

    #[test]
    fn replaces_numbers_and_keeps_the_structure() {
        check("x^2 - 5x + 6 = 0", "x^2 - 3x + 4 = 0");
        check(r"\frac{3x + 1}{7}", r"\frac{2x + 3}{4}");
        check(r"-\frac{5}{x^2 - 9}", r"-\frac{2}{x^3 - 4}");
        check(r"\frac{1}{3} \sin 4x", r"\frac{2}{3} \sin 4x");
        check(r"\int_1^5 x e^{-3x}\,dx", r"\int_3^4 x e^{-2x}\,dx");
        check(
            r"\lim_{x \to 7} \frac{x^2 - 49}{x - 7}",
            r"\lim_{x \to 5} \frac{x^2 - 3}{x - 4}",
        );
        check(
            r"\sum_{n=1}^{\infty} \frac{(-1)^n}{9^n}",
            r"\sum_{n=1}^{\infty} \frac{(-1)^n}{2^n}",
        );
        check(
            r"\begin{bmatrix} 1 & 0 \\ -5 & 7 \end{bmatrix}^{-1}",
            r"\begin{bmatrix} 2 & 0 \\ -3 & 4 \end{bmatrix}^{-1}",
        );
        check(r"0.25x = 1.5", r"0.02x = 0.3");
    }

    #[test]
    fn changes_signs_where_they_stand() {
        let check = |input: &str, values: &[i64], expected: Option<&str>| {
            let formula = read(input, &Declared::new()).expression;
            let found = literals(&formula);
            let written = tex_with_values(input, &formula, &found, values, &Declared::new());
            assert_eq!(written.as_deref(), expected, "{input}");
        };
        check("x^2 - 5x + 6 = 0", &[1, 2, 3, -4], Some("x^2 + 3x - 4 = 0"));
        check(
            "x^2 - 5x + 6 = 0",
            &[-3, 2, -5, 6],
            Some("-3x^2 - 5x + 6 = 0"),
        );
        check("-2x + 6 = 0", &[5, 6], Some("5x + 6 = 0"));
        check(
            r"\begin{bmatrix} 1 & 2 \\ -5 & 7 \end{bmatrix}",
            &[-1, 2, 5, 7],
            Some(r"\begin{bmatrix} -1 & 2 \\ 5 & 7 \end{bmatrix}"),
        );
        check(r"\frac{1}{3} \sin 4x", &[-2, 3, 4], None);
    }
}
