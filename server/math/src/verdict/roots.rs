//! Where is a function of one variable 0?
//!
//! A window is cut into ever smaller boxes; a box is dropped as soon as bounds show that the
//! function has no zero in it. What is left is either shown to hold a zero, by opposite signs at
//! its ends, or told as a place where there may be one.

use super::interval::{Interval, Tape};

/// A place that may hold a zero.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Zero {
    pub(super) within: Interval,
    /// The function is defined there and changes its sign.
    pub(super) is_certain: bool,
}

/// The zeros in a window.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Zeros {
    /// In ascending order.
    pub(super) found: Vec<Zero>,
    /// The whole window was searched.
    pub(super) is_complete: bool,
}

/// A function and, where it is known, its derivative.
#[derive(Clone, Debug)]
pub(super) struct Curve {
    pub(super) function: Tape,
    pub(super) slope: Option<Tape>,
    /// Without jumps where it is defined.
    pub(super) is_continuous: bool,
}

/// The greatest number of places that are told.
const MAX_ZEROS: usize = 400;

/// The smallest width of a box, for numbers around 1.
const FINEST: f64 = 1e-7;

/// The zeros in a window; the budget is the number of operations that may be spent, and what is
/// spent is taken from it.
pub(super) fn zeros(curve: &Curve, window: Interval, budget: &mut u64) -> Zeros {
    let mut boxes = vec![window];
    let mut found: Vec<Zero> = Vec::new();
    let mut is_complete = true;
    let cost = |tape: &Tape| tape.len() as u64 + 2;
    let spend = |budget: &mut u64, amount: u64| match budget.checked_sub(amount) {
        Some(left) => {
            *budget = left;
            true
        }
        None => {
            *budget = 0;
            false
        }
    };
    while let Some(current) = boxes.pop() {
        if !spend(budget, cost(&curve.function)) || found.len() >= MAX_ZEROS {
            is_complete = false;
            break;
        }
        let Ok(over) = curve.function.over(&[current]) else {
            continue;
        };
        if !over.values.contains(0.0) {
            continue;
        }
        let middle = current.middle();
        let width = current.width();
        if width <= FINEST * (1.0 + middle.abs()) {
            keep(
                &mut found,
                Zero {
                    within: current,
                    is_certain: false,
                },
            );
            continue;
        }
        if over.is_total
            && curve.is_continuous
            && let Some(slope) = &curve.slope
            && width < 1e6
        {
            if !spend(budget, cost(slope) + 2 * cost(&curve.function)) {
                is_complete = false;
                break;
            }
            if let Ok(slope_over) = slope.over(&[current])
                && slope_over.is_total
            {
                if !slope_over.values.contains(0.0) {
                    // It grows or falls throughout: at most one zero.
                    if let Some(zero) = only_zero(curve, current, budget) {
                        keep(&mut found, zero);
                    }
                    continue;
                }
                // The mean value form; Moore, Kearfott and Cloud, section 6.3.
                if let Ok(at_middle) = curve.function.at(middle) {
                    let spread = Interval::new(current.low - middle, current.high - middle);
                    let form = at_middle.values.add(slope_over.values.multiply(spread));
                    if !form.contains(0.0) {
                        continue;
                    }
                }
            }
        }
        // From the lowest box on, so that zeros are found in order.
        boxes.push(Interval::new(middle, current.high));
        boxes.push(Interval::new(current.low, middle));
    }
    let mut zeros: Vec<Zero> = Vec::new();
    found.sort_by(|a, b| a.within.low.total_cmp(&b.within.low));
    for zero in found {
        match zeros.last_mut() {
            Some(last) if zero.within.low <= last.within.high => {
                last.within =
                    Interval::new(last.within.low, last.within.high.max(zero.within.high));
                last.is_certain |= zero.is_certain;
            }
            _ => zeros.push(zero),
        }
    }
    for zero in &mut zeros {
        if !zero.is_certain && curve.is_continuous && spend(budget, 3 * cost(&curve.function)) {
            zero.is_certain = changes_sign(curve, zero.within);
        }
    }
    Zeros {
        found: zeros,
        is_complete,
    }
}

fn keep(found: &mut Vec<Zero>, zero: Zero) {
    if let Some(last) = found.last_mut()
        && zero.within.low <= last.within.high
        && last.within.low <= zero.within.high
        && last.is_certain == zero.is_certain
    {
        last.within = Interval::new(
            last.within.low.min(zero.within.low),
            last.within.high.max(zero.within.high),
        );
        return;
    }
    found.push(zero);
}

/// The sign of a function at a number, if it is clear.
fn sign(function: &Tape, at: f64) -> Option<i32> {
    let values = function.at(at).ok()?.values;
    match () {
        () if values.low > 0.0 => Some(1),
        () if values.high < 0.0 => Some(-1),
        () => None,
    }
}

/// The zero in a box over which the function grows or falls.
fn only_zero(curve: &Curve, within: Interval, budget: &mut u64) -> Option<Zero> {
    let function = &curve.function;
    let at = |value: f64| function.at(value).ok().map(|found| found.values);
    let (low, high) = (at(within.low)?, at(within.high)?);
    if low.low > 0.0 && high.low > 0.0 || low.high < 0.0 && high.high < 0.0 {
        return None;
    }
    let (Some(first), Some(last)) = (sign(function, within.low), sign(function, within.high))
    else {
        // An end is itself as good as a zero.
        let end = if low.contains(0.0) {
            within.low
        } else {
            within.high
        };
        let slack = FINEST * (1.0 + end.abs());
        return Some(Zero {
            within: Interval::new(
                (end - slack).max(within.low),
                (end + slack).min(within.high),
            ),
            is_certain: false,
        });
    };
    let (mut a, mut b) = (within.low, within.high);
    if first == last {
        return None;
    }
    for _ in 0..200 {
        if b - a <= 1e-12 * (1.0 + a.abs()) {
            break;
        }
        match budget.checked_sub(function.len() as u64) {
            Some(left) => *budget = left,
            None => break,
        }
        let middle = a + (b - a) / 2.0;
        match sign(function, middle) {
            Some(found) if found == first => a = middle,
            Some(_) => b = middle,
            None => {
                let slack = 1e-12 * (1.0 + middle.abs());
                (a, b) = ((middle - slack).max(a), (middle + slack).min(b));
                break;
            }
        }
    }
    Some(Zero {
        within: Interval::new(a, b),
        is_certain: true,
    })
}

/// The function is defined on and around a box and has opposite signs on its two sides.
fn changes_sign(curve: &Curve, within: Interval) -> bool {
    let slack = within.width().max(FINEST * (1.0 + within.middle().abs()));
    let around = Interval::new(within.low - slack, within.high + slack);
    let is_total = curve
        .function
        .over(&[around])
        .is_ok_and(|over| over.is_total);
    let (low, high) = (
        sign(&curve.function, around.low),
        sign(&curve.function, around.high),
    );
    is_total && low.is_some() && high.is_some() && low != high
}

#[cfg(test)]
mod tests {
    use super::super::interval::Reading;
    use super::*;
    use crate::expression::Symbol;
    use crate::read::{Declared, read};
    use std::f64::consts::{E, PI};

    fn check(tex: &str, low: f64, high: f64, expected: &[(f64, bool)]) {
        let expression = read(tex, &Declared::new()).expression;
        let x = Symbol::new("x");
        let tape =
            |e: &crate::Expression| Tape::new(e, std::slice::from_ref(&x), Reading::default());
        let curve = Curve {
            function: tape(&expression).expect("has bounds"),
            slope: crate::derivative::derivative(&expression, &x).and_then(|d| tape(&d)),
            is_continuous: true,
        };
        let mut budget = 2_000_000;
        let zeros = zeros(&curve, Interval::new(low, high), &mut budget);
        assert!(zeros.is_complete, "{tex}");
        let found: Vec<(f64, bool)> = zeros
            .found
            .iter()
            .map(|zero| (zero.within.middle(), zero.is_certain))
            .collect();
        assert_eq!(found.len(), expected.len(), "{tex}: {found:?}");
        for ((at, certain), (wanted, surely)) in found.iter().zip(expected) {
            assert!((at - wanted).abs() < 1e-3, "{tex}: {found:?}");
            assert_eq!(certain, surely, "{tex}: {found:?}");
        }
    }

    #[test]
    fn zeros_are_found_and_nothing_else() {
        check("x^2 - 5", -10.0, 10.0, &[(-2.23607, true), (2.23607, true)]);
        check(r"\sin x", 1.0, 7.0, &[(PI, true), (2.0 * PI, true)]);
        check(
            r"e^x - 3x",
            -50.0,
            50.0,
            &[(0.61906, true), (1.51213, true)],
        );
        check(r"\ln x - 1", -5.0, 5.0, &[(E, true)]);
        check(r"|x - 1| - 2", -8.0, 9.0, &[(-1.0, true), (3.0, true)]);
        check(r"x^2 + 1", -9.0, 9.0, &[]);
        // A zero that is only touched, and one at the edge of the domain, are possible.
        check(r"\sin x - 1", 0.0, 3.0, &[(PI / 2.0, false)]);
        check(r"\sqrt{x - 2}", 0.0, 7.0, &[(2.0, false)]);
    }
}
