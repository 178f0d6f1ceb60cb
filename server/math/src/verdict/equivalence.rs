//! Are two expressions equal wherever both have a value?

use crate::evaluate::{self, Point};
use crate::expression::{Expression, Symbol};
use crate::normal_form;
use crate::print;
use std::collections::BTreeSet;

/// What is known of two expressions.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Equivalence {
    /// They are equal.
    Equal,
    /// They are not: a sentence that names a point and the two values there.
    Different(String),
    /// Neither could be shown; the reason.
    Unknown(String),
}

/// Places where expressions are compared, the same on every run: for each letter its own sequence
/// of numbers that are no special value of any elementary function.
const PLACES: usize = 14;

/// Compares two expressions by collecting, and where that does not decide, at points.
pub(super) fn compare(left: &Expression, right: &Expression) -> Equivalence {
    if let (Ok(l), Ok(r)) = (normal_form::normal(left), normal_form::normal(right))
        && let Ok(difference) = l.subtract(&r)
        && difference.is_zero()
    {
        return Equivalence::Equal;
    }
    let letters: BTreeSet<Symbol> = left
        .free_symbols()
        .union(&right.free_symbols())
        .cloned()
        .collect();
    let mut agreed = 0;
    let mut against: Vec<String> = Vec::new();
    for place in 0..PLACES {
        let (point, told) = point(&letters, place);
        let (Ok(l), Ok(r)) = (
            evaluate::value(left, &point),
            evaluate::value(right, &point),
        ) else {
            continue;
        };
        let distance = evaluate::Complex::new(l.re - r.re, l.im - r.im).abs();
        if distance <= 1e-9 * (1.0 + l.abs().max(r.abs())) {
            agreed += 1;
        } else if distance > 1e-6 * (1.0 + l.abs().max(r.abs())) {
            against.push(format!(
                "{told}{} is {:.6}, {} is {:.6}",
                print::plain(left),
                l.re,
                print::plain(right),
                r.re
            ));
        }
    }
    match (agreed, against.len()) {
        (0, 2..) => Equivalence::Different(against.swap_remove(0)),
        (0, 1) if letters.is_empty() => Equivalence::Different(against.swap_remove(0)),
        (12.., 0) => Equivalence::Equal,
        (1.., 0) if letters.is_empty() => Equivalence::Equal,
        _ => Equivalence::Unknown("too few places where both sides have a value".into()),
    }
}

fn point(letters: &BTreeSet<Symbol>, place: usize) -> (Point, String) {
    let mut point = Point::new();
    let mut told = Vec::new();
    for (rank, letter) in letters.iter().enumerate() {
        let fraction = ((place * 37 + rank * 61 + 17) % 97) as f64 / 97.0;
        let value = match place % 3 {
            0 => 0.1 + 2.0 * fraction,
            1 => 1.0 + 4.0 * fraction,
            _ => -3.0 * fraction - 0.07,
        };
        point.set(letter.clone(), value);
        told.push(format!("{} = {value:.4}", letter.name()));
    }
    match told.is_empty() {
        true => (point, String::new()),
        false => (point, format!("at {} ", told.join(", "))),
    }
}
