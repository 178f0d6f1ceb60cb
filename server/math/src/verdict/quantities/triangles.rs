//! The other trigonometric functions of an angle of which one and the quadrant are known.

use super::{Asked, agrees, number};
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::verdict::Verdict;
use crate::verdict::equivalence;
use crate::verdict::substitution;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    if !asked.says(&[
        "quadrant",
        "find the remaining",
        "the other five",
        "find the exact value",
        "find ",
    ]) {
        return None;
    }
    let mut known = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let (function, angle) = circular(left)?;
        Some((function, angle, number(right)?))
    });
    let ((function, angle, value), None) = (known.next()?, known.next()) else {
        return None;
    };
    let at = angle_with(function, value, quadrant(asked, &angle)?)?;
    let of = |function: Function| {
        let (sin, cos) = (libm::sin(at), libm::cos(at));
        match function {
            Function::Sin => sin,
            Function::Cos => cos,
            Function::Tan => sin / cos,
            Function::Cot => cos / sin,
            Function::Sec => 1.0 / cos,
            _ => 1.0 / sin,
        }
    };
    // `\sin 2θ`, `\cos \frac{θ}{2}`: any formula in the angle alone.
    let others: Vec<&Expression> = asked
        .formulas
        .iter()
        .filter(|formula| {
            let free = formula.free_symbols();
            free.len() == 1
                && free.contains(&angle)
                && circular(formula).is_none()
                && formula
                    .parts()
                    .any(|part| matches!(part.operator(), Operator::Function(_)))
                && !matches!(formula.operator(), Operator::Relation(_))
        })
        .collect();
    if let ([wanted], [claim]) = (others.as_slice(), asked.answer.formulas.as_slice()) {
        let exact = number(&wanted.substitute(&angle, &substitution::exactly(at)))?;
        let claimed = match claim.as_equation() {
            Some((_, right)) => right,
            None => claim,
        };
        return Some(match agrees(exact, claimed)? {
            true => Verdict::Holds,
            false => Verdict::fails_at(
                "it is another value",
                format!("it is about {}", equivalence::number(exact)),
            ),
        });
    }
    let wanted: Vec<Function> = asked
        .formulas
        .iter()
        .filter_map(|formula| {
            let (function, of) = circular(formula)?;
            (of == angle).then_some(function)
        })
        .collect();
    let mut decided = 0;
    for (place, claim) in asked.answer.formulas.iter().enumerate() {
        let (function, value) = match claim.as_equation() {
            Some((left, right)) => {
                let (function, of) = circular(left)?;
                if of != angle {
                    return None;
                }
                (function, right)
            }
            None if wanted.len() == asked.answer.formulas.len() => (wanted[place], claim),
            None => return None,
        };
        let exact = of(function);
        if !agrees(exact, value)? {
            return Some(Verdict::fails_at(
                "it is another value",
                format!(
                    "it is about {}, and not {}",
                    equivalence::number(exact),
                    equivalence::number(number(value)?)
                ),
            ));
        }
        decided += 1;
    }
    (decided > 0).then_some(Verdict::Holds)
}

/// A circular function of a letter.
fn circular(expression: &Expression) -> Option<(Function, Symbol)> {
    match (expression.operator(), expression.operands()) {
        (
            Operator::Function(
                function @ (Function::Sin
                | Function::Cos
                | Function::Tan
                | Function::Cot
                | Function::Sec
                | Function::Csc),
            ),
            [argument],
        ) => Some((*function, argument.as_symbol()?.clone())),
        _ => None,
    }
}

/// The quadrant of the angle, as words, an interval or a sign say.
fn quadrant(asked: &Asked<'_>, angle: &Symbol) -> Option<u8> {
    let words = &asked.question.words;
    let named = [
        ("quadrant iv", 4),
        ("quadrant iii", 3),
        ("quadrant ii", 2),
        ("quadrant i", 1),
        ("fourth quadrant", 4),
        ("third quadrant", 3),
        ("second quadrant", 2),
        ("first quadrant", 1),
        ("quadrant 4", 4),
        ("quadrant 3", 3),
        ("quadrant 2", 2),
        ("quadrant 1", 1),
        ("acute", 1),
    ];
    if let Some((_, quadrant)) = named.iter().find(|(name, _)| words.contains(name)) {
        return Some(*quadrant);
    }
    asked
        .formulas
        .iter()
        .find_map(|formula| {
            match (formula.operator(), formula.operands()) {
                // π/2 < θ < π
                (Operator::Relation(_), [low, middle, high])
                    if middle.as_symbol() == Some(angle) =>
                {
                    let turn = std::f64::consts::FRAC_PI_2;
                    let (low, high) = (number(low)? / turn, number(high)? / turn);
                    let is_one = (high - low - 1.0).abs() < 1e-9;
                    let quadrant = libm::round(low).rem_euclid(4.0);
                    is_one.then_some(quadrant as u8 + 1)
                }
                _ => None,
            }
        })
        .or_else(|| {
            // The signs of two functions.
            let sign = |value: f64| value > 0.0;
            let mut signs: Vec<(Function, bool)> = Vec::new();
            for formula in &asked.formulas {
                let (left, relation, right) = formula.as_relation()?;
                let (function, of) = circular(left)?;
                if of != *angle {
                    return None;
                }
                signs.push(match relation {
                    Relation::Equal => (function, sign(number(right)?)),
                    Relation::Greater if right.as_i64() == Some(0) => (function, true),
                    Relation::Less if right.as_i64() == Some(0) => (function, false),
                    _ => return None,
                });
            }
            let fits = |quadrant: u8| {
                signs.iter().all(|(function, is_positive)| {
                    let positive = match function {
                        Function::Sin | Function::Csc => quadrant <= 2,
                        Function::Cos | Function::Sec => quadrant == 1 || quadrant == 4,
                        _ => quadrant == 1 || quadrant == 3,
                    };
                    positive == *is_positive
                })
            };
            let mut found = (1..=4).filter(|quadrant| fits(*quadrant));
            match (found.next(), found.next()) {
                (Some(only), None) => Some(only),
                _ => None,
            }
        })
}

/// The angle of a quadrant with a given value of a function.
fn angle_with(function: Function, value: f64, quadrant: u8) -> Option<f64> {
    use std::f64::consts::{FRAC_PI_2, PI};
    let acute = match function {
        Function::Sin => libm::asin(value.abs()),
        Function::Cos => libm::acos(value.abs()),
        Function::Tan => libm::atan(value.abs()),
        Function::Cot => FRAC_PI_2 - libm::atan(value.abs()),
        Function::Sec => libm::acos(1.0 / value.abs()),
        Function::Csc => libm::asin(1.0 / value.abs()),
        _ => return None,
    };
    let at = match quadrant {
        1 => acute,
        2 => PI - acute,
        3 => PI + acute,
        _ => 2.0 * PI - acute,
    };
    // The sign of the given value must be that of the quadrant.
    let (sin, cos) = (libm::sin(at), libm::cos(at));
    let there = match function {
        Function::Sin => sin,
        Function::Cos => cos,
        Function::Tan => sin / cos,
        Function::Cot => cos / sin,
        Function::Sec => 1.0 / cos,
        _ => 1.0 / sin,
    };
    ((there - value).abs() < 1e-9 * (1.0 + value.abs())).then_some(at)
}
