//! How does a textbook print a key?
//!
//! Nothing is computed here: fractions of constants are joined, and of two terms the positive one comes
//! first.

use super::{Key, write};
use crate::expression::{Expression, Operator};

/// A key as it is printed.
pub(super) fn printed(key: Key) -> Key {
    match key {
        Key::Formula(formula) => Key::Formula(form(&formula)),
        words @ Key::Words(_) => words,
    }
}

fn form(formula: &Expression) -> Expression {
    let inner = formula.map_operands(form);
    match (inner.operator(), inner.operands()) {
        (Operator::Product, [first, rest @ ..]) => {
            joined(first, rest).unwrap_or_else(|| inner.clone())
        }
        (Operator::Sum, terms) => positive_first(terms).unwrap_or_else(|| inner.clone()),
        (Operator::Negative, [operand]) => match (operand.operator(), operand.operands()) {
            (Operator::Negative, [operand]) => operand.clone(),
            _ => inner,
        },
        _ => inner,
    }
}

/// `\frac{1}{3} \pi` as `\frac{\pi}{3}`, where no letter occurs.
fn joined(first: &Expression, rest: &[Expression]) -> Option<Expression> {
    let (Operator::Fraction, [above, below]) = (first.operator(), first.operands()) else {
        return None;
    };
    let is_constant = |e: &Expression| {
        e.free_symbols().is_empty() && !matches!(e.operator(), Operator::Fraction | Operator::Sum)
    };
    if above.as_number().is_none() || below.as_number().is_none() || !rest.iter().all(is_constant) {
        return None;
    }
    let above = write::product(std::iter::once(above.clone()).chain(rest.iter().cloned()));
    Some(Expression::fraction(above, below.clone()))
}

/// `-8x + 1` as `1 - 8x`; the constant of integration stays at the end.
fn positive_first(terms: &[Expression]) -> Option<Expression> {
    let is_negative = |term: &Expression| matches!(term.operator(), Operator::Negative);
    let is_constant =
        |term: &Expression| term.as_symbol().is_some_and(|symbol| symbol.name() == "C");
    let is_short = match terms {
        [_, _] => true,
        [_, _, last] => is_constant(last),
        _ => false,
    };
    let (first, second) = (terms.first()?, terms.get(1)?);
    if !is_short || !is_negative(first) || is_negative(second) || is_constant(second) {
        return None;
    }
    let mut turned = terms.to_vec();
    turned.swap(0, 1);
    Some(Expression::sum(turned))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    fn check(tex: &str, expected: &str) {
        let formula = read(tex, &Declared::new()).expression;
        let Key::Formula(printed) = printed(Key::Formula(formula)) else {
            unreachable!("a formula stays one");
        };
        assert_eq!(crate::print::tex(&printed, &Declared::new()), expected);
    }

    #[test]
    fn joins_and_reorders() {
        check(r"\frac{1}{3}\pi", r"\frac{\pi}{3}");
        check(r"\frac{2}{3}\sqrt{5}", r"\frac{2\sqrt{5}}{3}");
        check(r"\frac{1}{3}x", r"\frac{1}{3}x");
        check(r"\sqrt{-16x^2 + 1}", r"\sqrt{1 - 16x^2}");
        check(r"-\cos x + \sin x + C", r"\sin x - \cos x + C");
        check(r"-\cos x + C", r"-\cos x + C");
        check(r"-x^2 + 3x - 1", r"-x^2 + 3x - 1");
    }
}
