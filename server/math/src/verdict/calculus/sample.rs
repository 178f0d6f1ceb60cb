//! Do two quantities agree, wherever both have a value?
//!
//! They are computed at places that are the same on every run and are no special values of any
//! elementary function. A difference counts only if rounding cannot explain it.

use super::program::Leaves;
use crate::expression::{Expression, Function, Operator, Written};

/// What letters stand for, where it matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Role {
    /// It varies: positive and negative.
    Variable,
    /// A given constant: positive, as books take it.
    Parameter,
    /// A whole number from 1 on.
    Whole,
}

/// What comparing showed.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Comparison {
    /// They agree.
    Equal,
    /// They differ; a place and the two values there.
    Different(Witness),
    /// They agree in some places and not in others, or could hardly be computed anywhere.
    Unknown,
}

/// A place where two quantities differ.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Witness {
    pub(super) place: Vec<f64>,
    pub(super) left: f64,
    pub(super) right: f64,
}

/// Whether two values agree: yes, no, or too close to say.
pub(super) fn agree(left: f64, right: f64) -> Option<bool> {
    let distance = (left - right).abs();
    let size = left.abs().max(right.abs());
    if distance <= 1e-9 * size || (distance <= 1e-12 && (left == 0.0 || right == 0.0)) {
        return Some(true);
    }
    if size < 1e-7 {
        return None;
    }
    match distance > 1e-6 * size {
        true => Some(false),
        false => None,
    }
}

/// Tries at finding places where both have a value, and how many such places are enough.
const TRIES: usize = 96;
const ENOUGH: usize = 14;

/// Compares two quantities that are functions of the values of some leaves. `smooth` says that no
/// part of them is pieced together ([`is_smooth`]), so that they agree everywhere or hardly
/// anywhere.
pub(super) fn compare(
    roles: &[Role],
    smooth: bool,
    mut of: impl FnMut(&[f64]) -> Option<(f64, f64)>,
) -> Comparison {
    if roles.is_empty() {
        return match of(&[]) {
            Some((left, right)) => match agree(left, right) {
                Some(true) => Comparison::Equal,
                Some(false) => Comparison::Different(Witness {
                    place: Vec::new(),
                    left,
                    right,
                }),
                None => Comparison::Unknown,
            },
            None => Comparison::Unknown,
        };
    }
    // Counted apart where all letters are positive.
    let (mut same, mut other) = ([0_usize; 2], [0_usize; 2]);
    let mut witness = None;
    for attempt in 0..TRIES {
        if same[0] + same[1] + other[0] + other[1] >= ENOUGH {
            break;
        }
        let place = place(roles, attempt);
        let Some((left, right)) = of(&place) else {
            continue;
        };
        let side = usize::from(place.iter().any(|value| *value < 0.0));
        match agree(left, right) {
            Some(true) => same[side] += 1,
            Some(false) => {
                other[side] += 1;
                witness.get_or_insert(Witness { place, left, right });
            }
            None => {}
        }
    }
    let (agreed, differed) = (same[0] + same[1], other[0] + other[1]);
    let only_whole = roles.iter().all(|role| *role == Role::Whole);
    let enough = if only_whole { 3 } else { 5 };
    if differed == 0 {
        return match agreed >= enough {
            true => Comparison::Equal,
            false => Comparison::Unknown,
        };
    }
    if same[0] >= 4 && other[0] == 0 && !smooth {
        return Comparison::Equal;
    }
    let clear = match smooth {
        true => differed >= 2 && differed >= agreed,
        false => differed >= 3 && (agreed == 0 || (other[0] >= 3 && same[0] * 4 <= other[0])),
    };
    match witness {
        Some(witness) if clear => Comparison::Different(simpler(roles, witness, &mut of)),
        _ => Comparison::Unknown,
    }
}

/// A place that a student can put in by hand, if the quantities differ at one.
fn simpler(
    roles: &[Role],
    witness: Witness,
    of: &mut impl FnMut(&[f64]) -> Option<(f64, f64)>,
) -> Witness {
    for first in [2.0, 1.0, 3.0, 0.5, 4.0, -1.0, -2.0, 0.25, 5.0, 10.0] {
        let place: Vec<f64> = (0..roles.len())
            .map(|rank| match roles[rank] {
                Role::Whole => (2 + rank) as f64,
                _ if rank == 0 => first,
                // Different letters have different values, or x − y would vanish.
                _ => (1 + rank) as f64 + if first == (1 + rank) as f64 { 2.0 } else { 0.0 },
            })
            .collect();
        if let Some((left, right)) = of(&place)
            && agree(left, right) == Some(false)
            && (left - right).abs() > 1e-3 * left.abs().max(right.abs())
            && left.abs().max(right.abs()) > 1e-3
        {
            return Witness { place, left, right };
        }
    }
    witness
}

/// The values for one attempt.
pub(super) fn place(roles: &[Role], attempt: usize) -> Vec<f64> {
    roles
        .iter()
        .enumerate()
        .map(|(rank, role)| {
            let share = fraction(attempt as u64, rank as u64);
            match role {
                Role::Whole => (1 + (attempt + 2 * rank) % 7) as f64,
                Role::Parameter => 0.4 + 2.9 * share,
                Role::Variable => match attempt % 6 {
                    0 | 3 => 0.05 + 0.9 * share,
                    1 => 1.0 + 2.0 * share,
                    2 => -0.9 + 1.75 * share,
                    4 => 3.0 + 4.0 * share,
                    _ => -5.0 + 6.0 * share,
                },
            }
        })
        .collect()
}

/// A number in (0, 1) that looks random (the finalizer of SplitMix64: Steele, Lea and Flood,
/// Fast splittable pseudorandom number generators, 2014).
pub(super) fn fraction(attempt: u64, rank: u64) -> f64 {
    let mut z = (attempt * 64 + rank + 1).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^= z >> 31;
    ((z >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
}

/// No part of it is pieced together, so that two such formulas which agree on an interval agree
/// everywhere.
pub(super) fn is_smooth(expression: &Expression) -> bool {
    expression.parts().all(|part| match part.operator() {
        Operator::Root | Operator::NthRoot | Operator::Piecewise => false,
        Operator::Power => {
            part.operands()[1].as_i64().is_some() || {
                let exponent = &part.operands()[1];
                !matches!(
                    exponent.operator(),
                    Operator::Fraction | Operator::Number(_)
                ) && !matches!(exponent.operator(), Operator::Negative
                    if matches!(exponent.operands()[0].operator(), Operator::Fraction))
            }
        }
        Operator::Function(function) => !matches!(
            function,
            Function::Abs
                | Function::Floor
                | Function::Ceiling
                | Function::Sign
                | Function::Max
                | Function::Min
                | Function::Arcsin
                | Function::Arccos
                | Function::Arctan
                | Function::Arccot
                | Function::Arcsec
                | Function::Arccsc
                | Function::Arcosh
                | Function::Arcoth
                | Function::Arsech
        ),
        _ => true,
    })
}

/// What each leaf stands for: the variables vary, `n`, `m` and the like are whole numbers, all
/// other letters are given constants.
pub(super) fn roles(leaves: &Leaves, variables: &[Expression]) -> Vec<Role> {
    leaves
        .as_slice()
        .iter()
        .map(|leaf| {
            if variables.contains(leaf) {
                return Role::Variable;
            }
            match leaf.as_symbol() {
                Some(symbol) if ["n", "m", "N", "j"].contains(&symbol.name()) => Role::Whole,
                Some(_) => Role::Parameter,
                None => Role::Variable,
            }
        })
        .collect()
}

/// `x = 2, y = 3`: the values of the leaves at a place; empty if there are none.
pub(super) fn told(leaves: &Leaves, place: &[f64]) -> String {
    let told: Vec<String> = leaves
        .as_slice()
        .iter()
        .zip(place)
        .map(|(leaf, value)| format!("{} = {}", crate::print::plain(leaf), number(*value)))
        .collect();
    told.join(", ")
}

/// A number to four significant digits or so, as a student would write it.
pub(super) fn number(value: f64) -> String {
    digits(value, 4)
}

/// Two numbers with as many digits as are needed to tell them apart.
pub(super) fn numbers(left: f64, right: f64) -> (String, String) {
    for count in [4, 6, 9, 12] {
        let (l, r) = (digits(left, count), digits(right, count));
        if l != r {
            return (l, r);
        }
    }
    (format!("{left:e}"), format!("{right:e}"))
}

/// A number with one digit more than a rounded one shows.
pub(super) fn digits_like(value: f64, rounded: &Expression) -> String {
    let written = rounded
        .parts()
        .find_map(|part| match part.as_number()?.written() {
            Written::Decimal { places } => Some(places as usize),
            _ => None,
        });
    match written {
        Some(places) if value.abs() < 1e9 => {
            let places = (places + 1).min(15);
            format!("{value:.places$}").replace('-', "−")
        }
        _ => number(value),
    }
}

fn digits(value: f64, count: usize) -> String {
    let size = value.abs();
    if size == 0.0 {
        return "0".into();
    }
    if !(1e-4..1e9).contains(&size) {
        return format!("{:.*e}", count - 1, value);
    }
    let whole = libm::floor(libm::log10(size)) as i32 + 1;
    let places = (count as i32 - whole).max(0) as usize;
    let text = format!("{value:.places$}");
    let text = match text.contains('.') {
        true => text.trim_end_matches('0').trim_end_matches('.'),
        false => &text,
    };
    match text {
        "-0" => "0".into(),
        _ => text.replace('-', "−"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn writes_numbers_as_students_do() {
        let cases = [
            (7.0, "7"),
            (-0.5, "−0.5"),
            (1.0 / 3.0, "0.3333"),
            (12345.678, "12346"),
            (0.0, "0"),
        ];
        for (value, expected) in cases {
            assert_eq!(number(value), expected);
        }
        assert_eq!(numbers(1.000_01, 1.0), ("1.00001".into(), "1".into()));
    }

    #[test]
    fn a_difference_must_show_in_more_than_one_place() {
        let roles = [Role::Variable];
        let one = compare(&roles, true, |at| Some((at[0] * at[0], at[0] * at[0])));
        assert_eq!(one, Comparison::Equal);
        let two = compare(&roles, true, |at| Some((at[0] * at[0], at[0])));
        assert!(matches!(two, Comparison::Different(witness) if witness.place == [2.0]));
        // |x| and x, as far as books care, are the same.
        let three = compare(&roles, false, |at| Some((at[0].abs(), at[0])));
        assert_eq!(three, Comparison::Equal);
    }
}
