//! Do families of solutions such as π/6 + 2πn hold, and are they all?

use std::collections::BTreeSet;

use super::Verdict;
use super::claims::{self, Claimed};
use super::completeness;
use super::equations::{self, Accepted, Equation, Solution};
use super::interval::Interval;
use super::question::Domain;
use super::roots;
use crate::expression::{Expression, Symbol};

/// The number of operations that a search may take.
const BUDGET: u64 = 600_000;

/// The integers that are put into a family.
const INTEGERS: std::ops::RangeInclusive<i64> = -30..=30;

/// The verdict for claimed solutions of which some hold a letter for any integer.
pub(super) fn verdict(
    equation: &Equation,
    values: &[Claimed],
    integers: &BTreeSet<Symbol>,
) -> Verdict {
    if equation
        .domain
        .region
        .as_ref()
        .is_some_and(|region| region.ends().len() >= 2)
    {
        return Verdict::cannot_tell("the solutions in an interval are asked for");
    }
    let anywhere = Equation {
        domain: Domain {
            region: None,
            in_degrees: equation.domain.in_degrees,
        },
        ..equation.clone()
    };
    // How far the solutions are apart that one family gives.
    let mut step: f64 = 0.0;
    for claimed in values {
        let letters = claims::parameters(&claimed.value, integers);
        match letters.as_slice() {
            [] => {}
            [letter] => {
                let at = |n: i64| {
                    let value = claimed.value.substitute(letter, &Expression::integer(n));
                    claims::bounds(&anywhere.in_radians(&value)).map(Interval::middle)
                };
                match (at(0), at(2)) {
                    (Some(first), Some(second)) => step = step.max((second - first).abs() / 2.0),
                    _ => return Verdict::cannot_tell("the family of solutions cannot be computed"),
                }
            }
            _ => return Verdict::cannot_tell("the answer has two letters for integers"),
        }
    }
    if !(1e-3..1e3).contains(&step) {
        return Verdict::cannot_tell("the family of solutions is not understood");
    }
    let window = Interval::new(-1.05 * step, 1.55 * step);
    let padded = Interval::new(window.low - 0.01 * step, window.high + 0.01 * step);
    let mut known = Vec::new();
    let mut doubt = None;
    for claimed in values {
        let letters = claims::parameters(&claimed.value, integers);
        let members: Vec<Expression> = match letters.first() {
            None => vec![claimed.value.clone()],
            Some(letter) => INTEGERS
                .map(|n| claimed.value.substitute(letter, &Expression::integer(n)))
                .collect(),
        };
        let mut checked = 0;
        for value in members {
            let Some(at) = claims::bounds(&anywhere.in_radians(&value)) else {
                continue;
            };
            if !padded.meets(at) && checked >= 1 {
                continue;
            }
            if !padded.meets(at) && at.middle().abs() > 3.0 * step {
                continue;
            }
            checked += 1;
            let member = Claimed {
                value,
                is_rounded: claimed.is_rounded,
                other: None,
            };
            match equations::accept(&anywhere, &member) {
                Accepted::Yes(Solution::Real(bounds)) => known.push(bounds),
                Accepted::Yes(Solution::Complex(_)) => {}
                Accepted::No(verdict) => return verdict,
                Accepted::Unclear(reason) => doubt = Some(reason),
            }
        }
    }
    if let Some(reason) = doubt {
        return Verdict::cannot_tell(reason);
    }
    let Some(curve) = completeness::curve(&anywhere) else {
        return Verdict::cannot_tell("the sides cannot be bounded");
    };
    let mut budget = BUDGET;
    let zeros = roots::zeros(&curve, window, &mut budget);
    match completeness::first_missing(&anywhere, &known, &zeros.found) {
        Some(told) => {
            Verdict::fails_at("solutions are missing", format!("{told} is a solution too"))
        }
        None if zeros.is_complete => Verdict::Holds,
        None => Verdict::cannot_tell("there are too many places to look at"),
    }
}
