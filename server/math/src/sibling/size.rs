//! Is an answer as simple as another one?

use crate::expression::{Constant, Expression, Operator};
use crate::solve::Key;

/// How large the numbers and the formula of a key are.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Size {
    /// The words, if it is no formula.
    words: Option<&'static str>,
    /// It is infinite.
    is_infinite: bool,
    /// The number of solutions, of intervals, of entries.
    items: usize,
    /// The greatest integer that stands in it.
    number: i64,
    /// The greatest denominator of a plain fraction; 1 if there is none.
    denominator: i64,
    /// The number of roots.
    roots: usize,
    /// The number of operators.
    operators: usize,
}

impl Size {
    /// The size of a key.
    pub(super) fn of(key: &Key) -> Self {
        let mut size = Self {
            words: None,
            is_infinite: false,
            items: 0,
            number: 0,
            denominator: 1,
            roots: 0,
            operators: 0,
        };
        match key {
            Key::Formula(formula) => {
                size.operators = formula.size();
                let is_infinity = |e: &Expression| e.as_constant() == Some(Constant::Infinity);
                size.is_infinite = match (formula.operator(), formula.operands()) {
                    (Operator::Negative, [operand]) => is_infinity(operand),
                    _ => is_infinity(formula),
                };
                let has_angles = formula
                    .parts()
                    .any(|part| part.as_constant() == Some(Constant::Pi));
                size.items = match formula.operator() {
                    // Of angles there may be more or fewer.
                    Operator::List if has_angles => 1,
                    Operator::List | Operator::SetOperation(_) | Operator::Matrix(_) => {
                        formula.operands().len()
                    }
                    _ => 1,
                };
                for part in formula.parts() {
                    size.count(part);
                }
            }
            Key::Words(words) => size.words = Some(words),
        }
        size
    }

    fn count(&mut self, part: &Expression) {
        match (part.operator(), part.operands()) {
            (Operator::Number(number), _) => {
                self.number = self.number.max(number.as_i64().unwrap_or(i64::MAX));
            }
            (Operator::Fraction, [_, below]) => {
                if let Some(below) = below.as_i64() {
                    self.denominator = self.denominator.max(below);
                }
            }
            (Operator::Root | Operator::NthRoot, _) => self.roots += 1,
            _ => {}
        }
    }

    /// It is as simple as the other, nearly or at least roughly.
    pub(super) fn fits(&self, other: &Self, is_loose: bool) -> bool {
        let times = if is_loose { 3 } else { 2 };
        let number = other
            .number
            .saturating_mul(times)
            .max(if is_loose { 50 } else { 20 });
        let denominator = match (other.denominator, is_loose) {
            (1, false) => 1,
            (1, true) => 4,
            (d, _) => d.saturating_mul(times).max(9),
        };
        let operators = match is_loose {
            true => 2 * other.operators + 6,
            false => other.operators + other.operators / 3 + 3,
        };
        self.words == other.words
            && self.is_infinite == other.is_infinite
            && self.items == other.items
            && self.number <= number
            && self.denominator <= denominator
            && self.roots <= other.roots + usize::from(is_loose)
            && self.operators <= operators
    }
}
