//! Is a formula written as a textbook would print it?

use std::collections::BTreeSet;

use crate::expression::{Constant, Expression, Function, Operator};
use crate::rational::Rational;
use crate::surface::{self, Term};

/// What one would not print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Fault {
    /// `\frac{6}{4}`, `\frac{6x}{4}`, `\frac{8}{1}`, `\frac{0}{x}`.
    Unreduced,
    /// `1x`, `0x`, `2 \cdot 3 x`.
    Factor,
    /// `x^1`, `x^0`, `1^x`.
    Power,
    /// `x + 0`, `2 + x + 3`, `2x + 3x`.
    Term,
    /// `x + -3`, `2(-3)`, `-(-x)`, `\frac{1}{-2}`.
    Sign,
    /// `\ln 1`, `\ln e^2`, `\log_2 8`, `\sin \pi`, `|-3|`: its value is a plain number.
    Value,
    /// `\frac{\ln 8}{\ln 2}`: a quotient of logarithms that is a plain number.
    Logarithms,
    /// `\sqrt{8}`, `\sqrt{9}`, `\frac{1}{\sqrt{2}}`.
    Root,
    /// A fraction inside a fraction.
    Compound,
}

/// All that one would not print in a formula.
pub(super) fn faults(formula: &Expression) -> BTreeSet<Fault> {
    formula.parts().filter_map(fault).collect()
}

fn is_integer(expression: &Expression, value: i64) -> bool {
    expression.as_i64() == Some(value)
}

fn is_plain(expression: &Expression) -> bool {
    expression.as_number().is_some()
}

/// The first thing that one would not print at the top of a formula.
fn fault(part: &Expression) -> Option<Fault> {
    let operands = part.operands();
    match (part.operator(), operands) {
        (Operator::Fraction, [above, below]) => fraction(above, below),
        (Operator::Product, _) => product(operands),
        (Operator::Power, [base, exponent]) => {
            let is_trivial = is_integer(exponent, 1)
                || is_integer(exponent, 0)
                || is_integer(base, 1)
                || is_integer(base, 0);
            is_trivial.then_some(Fault::Power)
        }
        (Operator::Sum, _) => {
            let numbers = operands.iter().filter(|term| match term.operands() {
                [inner] if matches!(term.operator(), Operator::Negative) => is_plain(inner),
                _ => is_plain(term),
            });
            let is_doubled = numbers.count() > 1
                || operands.iter().any(|t| is_integer(t, 0))
                || has_like_terms(part);
            is_doubled.then_some(Fault::Term)
        }
        (Operator::Negative, [operand]) => {
            let is_double =
                matches!(operand.operator(), Operator::Negative) || is_integer(operand, 0);
            is_double.then_some(Fault::Sign)
        }
        (Operator::Root, [radicand]) => {
            let radicand = surface::number(radicand)?;
            is_reducible_root(&radicand).then_some(Fault::Root)
        }
        (Operator::Function(function), _) => is_known(*function, operands).then_some(Fault::Value),
        _ => None,
    }
}

/// Two terms are multiples of the same.
fn has_like_terms(sum: &Expression) -> bool {
    let terms = surface::terms(sum);
    let mut units: Vec<Expression> = terms
        .into_iter()
        .filter(|term| !term.factors.is_empty())
        .map(|term| {
            let unit = Term {
                coefficient: Rational::ONE,
                ..term
            };
            unit.to_expression()
        })
        .collect();
    let count = units.len();
    units.sort();
    units.dedup();
    units.len() < count
}

fn fraction(above: &Expression, below: &Expression) -> Option<Fault> {
    if matches!(below.operator(), Operator::Negative) {
        return Some(Fault::Sign);
    }
    if is_integer(below, 1) || is_integer(above, 0) {
        return Some(Fault::Unreduced);
    }
    let is_logarithm = |e: &Expression| {
        matches!(
            e.operator(),
            Operator::Function(Function::Ln | Function::Log)
        ) && e.operands().first().is_some_and(is_plain)
    };
    if is_logarithm(above) && is_logarithm(below) && above.operator() == below.operator() {
        let power = |e: &Expression| surface::number(e.operands().first()?);
        if let (Some(above), Some(below)) = (power(above), power(below))
            && are_powers_of_one(&above, &below)
        {
            return Some(Fault::Logarithms);
        }
    }
    let has_fraction = |e: &Expression| {
        let terms = surface::terms(e);
        terms.iter().any(|term| !term.coefficient.is_integer())
            || e.parts()
                .any(|p| matches!(p.operator(), Operator::Fraction))
    };
    let is_number = |e: &Expression| e.parts().all(|p| p.as_symbol().is_none());
    if (is_number(above) && has_fraction(above)) || (is_number(below) && has_fraction(below)) {
        return Some(Fault::Compound);
    }
    let has_root = |e: &Expression| e.parts().any(|p| matches!(p.operator(), Operator::Root));
    if is_number(above) && is_number(below) && has_root(below) {
        return Some(Fault::Root);
    }
    let (above, below) = (content(above)?, content(below)?);
    (num_integer::gcd(above, below) > 1).then_some(Fault::Unreduced)
}

/// The greatest integer that divides all terms.
fn content(sum: &Expression) -> Option<i64> {
    let terms = surface::terms(sum);
    terms.iter().try_fold(0, |content, term: &Term<'_>| {
        Some(num_integer::gcd(content, term.coefficient.as_i64()?))
    })
}

fn product(factors: &[Expression]) -> Option<Fault> {
    let is_number = |e: &&Expression| {
        is_plain(e)
            || matches!((e.operator(), e.operands()), (Operator::Fraction, [a, b])
                if is_plain(a) && is_plain(b))
    };
    if factors.iter().filter(is_number).count() > 1
        || factors.iter().any(|f| is_integer(f, 1) || is_integer(f, 0))
    {
        return Some(Fault::Factor);
    }
    let has_sign = |e: &Expression| matches!(e.operator(), Operator::Negative);
    factors.iter().any(has_sign).then_some(Fault::Sign)
}

/// A perfect square, or one times something.
fn is_reducible_root(radicand: &Rational) -> bool {
    let Some(radicand) = radicand.as_i64() else {
        return true;
    };
    (2..=100).any(|root| radicand % (root * root) == 0) || radicand < 2
}

/// Both are whole powers of one number.
fn are_powers_of_one(first: &Rational, second: &Rational) -> bool {
    (1..=8_i64).any(|m| {
        (1..=8_i64).any(|n| match (first.pow(m), second.pow(n)) {
            (Some(first), Some(second)) => first == second,
            _ => false,
        })
    })
}

/// A function whose value at this argument is a plain number that one knows.
fn is_known(function: Function, operands: &[Expression]) -> bool {
    let Some(argument) = operands.first() else {
        return false;
    };
    match function {
        Function::Ln => {
            let is_power_of_e = match (argument.operator(), argument.operands()) {
                (Operator::Power, [base, _]) => base.as_constant() == Some(Constant::E),
                _ => argument.as_constant() == Some(Constant::E),
            };
            is_integer(argument, 1) || is_power_of_e
        }
        Function::Log => surface::number(argument)
            .is_some_and(|a| are_powers_of_one(&a, &Rational::integer(10)) || a.is_one()),
        Function::LogBase => {
            let base = operands.get(1).and_then(surface::number);
            match (surface::number(argument), base) {
                (Some(argument), Some(base)) => {
                    argument.is_one() || are_powers_of_one(&argument, &base)
                }
                _ => false,
            }
        }
        Function::Sin | Function::Cos | Function::Tan | Function::Abs | Function::Exp => {
            argument.parts().all(|part| match part.operator() {
                Operator::Symbol(_) | Operator::Function(_) => false,
                Operator::Constant(constant) => *constant == Constant::Pi,
                _ => true,
            }) && (is_integer(argument, 0)
                || function == Function::Abs
                || argument
                    .parts()
                    .any(|part| part.as_constant() == Some(Constant::Pi)))
        }
        Function::Arctan | Function::Arcsin | Function::Arccos => {
            matches!(argument.as_i64(), Some(0 | 1))
        }
        _ => false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    fn check(tex: &str, expected: &[Fault]) {
        let formula = read(tex, &Declared::new()).expression;
        let expected: BTreeSet<Fault> = expected.iter().copied().collect();
        assert_eq!(faults(&formula), expected, "{tex}");
    }

    #[test]
    fn finds_what_one_would_not_print() {
        check(r"\frac{8}{1}", &[Fault::Unreduced]);
        check(r"\frac{6x}{4}", &[Fault::Unreduced]);
        check(r"\frac{2x + 4}{6y}", &[Fault::Unreduced]);
        check(r"1x", &[Fault::Factor]);
        check(r"0x + 2", &[Fault::Factor]);
        check(r"3 \cdot 4 x", &[Fault::Factor]);
        check(r"x^1", &[Fault::Power]);
        check(r"x + -3", &[]);
        check(r"x - -3", &[Fault::Sign]);
        check(r"2(-3)", &[Fault::Sign]);
        check(r"x + 0", &[Fault::Term]);
        check(r"2 + x - 3", &[Fault::Term]);
        check(r"\frac{1}{4}x - \frac{1}{8}x", &[Fault::Term]);
        check(r"\ln 1", &[Fault::Value]);
        check(r"3 \ln e", &[Fault::Value]);
        check(r"\log_2 8", &[Fault::Value]);
        check(r"\cos \pi", &[Fault::Value]);
        check(r"\frac{\ln 8}{\ln 2}", &[Fault::Logarithms]);
        check(r"\sqrt{8}", &[Fault::Root]);
        check(r"\frac{1}{\sqrt{2}}", &[Fault::Root]);
        check(r"\frac{\frac{1}{2}}{3}", &[Fault::Compound]);
    }

    #[test]
    fn finds_nothing_in_what_one_prints() {
        for tex in [
            r"x^2 - 5x + 6 = 0",
            r"-\frac{3}{4} x",
            r"\frac{x^2 - 4}{2x - 4}",
            r"\frac{\ln 5}{\ln 2}",
            r"\frac{3 - \sqrt{5}}{2}",
            r"\frac{\pi}{6} + 2\pi n",
            r"\frac{1}{2} \ln(x^2 + 1) + C",
            r"(-\infty, 3] \cup [5, \infty)",
            r"C_1 e^{-2x} + C_2 e^{3x}",
            r"\sin 2x",
        ] {
            check(tex, &[]);
        }
    }
}
