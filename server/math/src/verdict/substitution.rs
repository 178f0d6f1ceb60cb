//! Does a statement hold when its letters are replaced?

use std::collections::BTreeMap;

use super::equivalence::{self, Value};
use super::interval::{Interval, Outside, Reading, Tape};
use crate::evaluate;
use crate::expression::{Connective, Constant, Expression, Operator, Relation, Symbol};
use crate::normal_form::{self, Unfit};

/// Whether a statement without letters holds.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Holds {
    Yes,
    /// It does not: "the left side is 7, the right side 5".
    No(String),
    /// A side has no value.
    Outside(Outside),
    Unknown,
}

/// How two numbers compare.
#[derive(Clone, Debug, PartialEq)]
enum Order {
    Equal,
    Less,
    Greater,
    /// Not equal, and at least one of them is not real.
    Apart,
}

/// An expression with letters replaced by others.
pub(super) fn replace(expression: &Expression, values: &[(Symbol, Expression)]) -> Expression {
    values
        .iter()
        .fold(expression.clone(), |changed, (symbol, value)| {
            changed.substitute(symbol, value)
        })
}

/// Whether a statement without letters holds.
pub(super) fn holds(statement: &Expression, reading: Reading) -> Holds {
    match (statement.operator(), statement.operands()) {
        (Operator::Relation(relations), sides) => {
            for (place, relation) in relations.iter().enumerate() {
                match relation_holds(&sides[place], *relation, &sides[place + 1], reading) {
                    Holds::Yes => {}
                    other => return other,
                }
            }
            Holds::Yes
        }
        (Operator::Logic(Connective::And) | Operator::List | Operator::System, parts) => {
            let mut all = Holds::Yes;
            for part in parts {
                match holds(part, reading) {
                    Holds::Yes => {}
                    Holds::Unknown => all = Holds::Unknown,
                    other => return other,
                }
            }
            all
        }
        (Operator::Logic(Connective::Or), parts) => {
            let mut any = None;
            for part in parts {
                match holds(part, reading) {
                    Holds::Yes => return Holds::Yes,
                    Holds::Unknown => any = Some(Holds::Unknown),
                    other => any = any.or(Some(other)),
                }
            }
            any.unwrap_or(Holds::Unknown)
        }
        _ => Holds::Unknown,
    }
}

fn relation_holds(
    left: &Expression,
    relation: Relation,
    right: &Expression,
    reading: Reading,
) -> Holds {
    let (order, told) = match order(left, right, reading) {
        Ok(found) => found,
        Err(other) => return other,
    };
    let is_true = match (relation, &order) {
        (Relation::Equal | Relation::Equivalent, order) => *order == Order::Equal,
        (Relation::NotEqual, order) => *order != Order::Equal,
        (_, Order::Apart) => return Holds::Outside(Outside::Other),
        (Relation::Less, order) => *order == Order::Less,
        (Relation::LessOrEqual, order) => *order != Order::Greater,
        (Relation::Greater, order) => *order == Order::Greater,
        (Relation::GreaterOrEqual, order) => *order != Order::Less,
        _ => return Holds::Unknown,
    };
    match is_true {
        true => Holds::Yes,
        false => Holds::No(told),
    }
}

fn order(
    left: &Expression,
    right: &Expression,
    reading: Reading,
) -> Result<(Order, String), Holds> {
    let none = BTreeMap::new();
    if let (Some(a), Some(b)) = (evaluate::exact(left, &none), evaluate::exact(right, &none)) {
        let order = match a.cmp(&b) {
            std::cmp::Ordering::Less => Order::Less,
            std::cmp::Ordering::Equal => Order::Equal,
            std::cmp::Ordering::Greater => Order::Greater,
        };
        let told = told(
            &crate::rational::Rational::from(a).to_string(),
            &crate::rational::Rational::from(b).to_string(),
        );
        return Ok((order, told));
    }
    if !is_imaginary(left) && !is_imaginary(right) {
        // Among real numbers a side without a value is not saved by complex numbers.
        for side in [left, right] {
            if let Some(Err(outside)) = Tape::new(side, &[], reading).map(|tape| tape.over(&[]))
                && outside != Outside::Other
            {
                return Err(Holds::Outside(outside));
            }
        }
    }
    let values = (
        equivalence::value(left, reading),
        equivalence::value(right, reading),
    );
    match values {
        (Value::None(outside), _) | (_, Value::None(outside)) => Err(Holds::Outside(outside)),
        (Value::Real(a), Value::Real(b)) => {
            if !a.meets(b) {
                let order = match a.high < b.low {
                    true => Order::Less,
                    false => Order::Greater,
                };
                let told = told(
                    &equivalence::number(a.middle()),
                    &equivalence::number(b.middle()),
                );
                // Rounding in the 15th digit may tear apart what is equal.
                let is_close = (a.middle() - b.middle()).abs()
                    <= 1e-9 * a.middle().abs().max(b.middle().abs()).max(1e-6);
                return match is_close && is_zero(left, right) == Some(true) {
                    true => Ok((Order::Equal, told)),
                    false => Ok((order, told)),
                };
            }
            match is_zero(left, right) {
                Some(true) => Ok((Order::Equal, String::new())),
                None => Err(Holds::Outside(Outside::DivisionByZero)),
                Some(false) => {
                    let size = a.low.abs().max(a.high.abs()).max(1e-3);
                    match size.is_finite() && a.width().max(b.width()) <= 1e-7 * size {
                        true => Ok((Order::Equal, String::new())),
                        false => Err(Holds::Unknown),
                    }
                }
            }
        }
        (Value::Unknown, _) | (_, Value::Unknown) => match is_zero(left, right) {
            Some(true) => Ok((Order::Equal, String::new())),
            _ => Err(Holds::Unknown),
        },
        (a, b) => {
            let complex = |value: &Value| match value {
                Value::Real(found) => evaluate::Complex::from(found.middle()),
                Value::Complex(found) => *found,
                _ => evaluate::Complex::from(f64::NAN),
            };
            let (a, b) = (complex(&a), complex(&b));
            let distance = evaluate::Complex::new(a.re - b.re, a.im - b.im).abs();
            let size = a.abs().max(b.abs()).max(1e-3);
            match () {
                () if distance <= 1e-9 * size => Ok((Order::Equal, String::new())),
                () if distance > 1e-6 * size => Ok((
                    Order::Apart,
                    told(&equivalence::complex(a), &equivalence::complex(b)),
                )),
                () => match is_zero(left, right) {
                    Some(true) => Ok((Order::Equal, String::new())),
                    _ => Err(Holds::Unknown),
                },
            }
        }
    }
}

fn is_imaginary(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| part.as_constant() == Some(Constant::I))
}

/// Whether two numbers are equal by collecting; none if one of them is undefined.
fn is_zero(left: &Expression, right: &Expression) -> Option<bool> {
    let (l, r) = match (normal_form::normal(left), normal_form::normal(right)) {
        (Err(Unfit::Undefined), _) | (_, Err(Unfit::Undefined)) => return None,
        (Ok(l), Ok(r)) => (l, r),
        _ => return Some(false),
    };
    Some(l.subtract(&r).is_ok_and(|difference| difference.is_zero()))
}

fn told(left: &str, right: &str) -> String {
    format!(
        "the left side is {}, the right side {}",
        left.replace('-', "−"),
        right.replace('-', "−")
    )
}

/// A letter and its value, as it is told.
pub(super) fn assignment(letter: &Symbol, value: &Expression) -> String {
    format!(
        "{} = {}",
        equivalence::name(letter),
        crate::print::plain(value)
    )
}

/// The rational number that a floating-point number is, as an expression.
pub(super) fn exactly(value: f64) -> Expression {
    match num_rational::BigRational::from_float(value) {
        Some(value) => Expression::rational(&value),
        None => Expression::integer(0),
    }
}

/// A short fraction in an interval, the one with the smallest denominator up to 4096.
pub(super) fn short_fraction(within: Interval) -> Option<Expression> {
    for denominator in [
        1_i64, 2, 4, 5, 8, 10, 16, 20, 32, 64, 100, 128, 256, 1000, 4096,
    ] {
        let low = libm::ceil(within.low * denominator as f64);
        if low <= libm::floor(within.high * denominator as f64) && low.abs() < 1e15 {
            let value = crate::rational::Rational::fraction(low as i64, denominator);
            return Some(Expression::rational(&value.to_big()));
        }
    }
    None
}
