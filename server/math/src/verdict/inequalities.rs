//! Is a set of numbers the set where a statement in one variable holds?
//!
//! The line is cut at the ends of the claimed set and at the places where the sides of the
//! statement are equal or lose their values. Between two cuts nothing changes, so that one number
//! from each piece and the cuts themselves decide.

use std::collections::BTreeSet;

use super::Verdict;
use super::answer::Answer;
use super::claims::{self, Claim, Membership, Region};
use super::completeness;
use super::equations;
use super::equivalence;
use super::interval::{Interval, Reading};
use super::question::{Domain, Question};
use super::roots;
use super::substitution::{self, Holds};
use crate::expression::{Expression, Operator, Symbol};

/// The verdict for an inequality, or for several joined by "and" or "or".
pub(super) fn judge(question: &Question, statement: &Expression, answer: &Answer) -> Verdict {
    let free: BTreeSet<Symbol> = statement.free_symbols();
    let Some(variable) = equations::variable(question, &free, answer) else {
        return Verdict::cannot_tell("the inequality has no letter to solve for");
    };
    if free.len() > 1 {
        return Verdict::cannot_tell("inequalities in several letters are not solved");
    }
    let region = match claims::read(answer, &variable) {
        Ok(Claim::Nothing) => Region::Empty,
        Ok(Claim::Everything) => Region::Whole,
        Ok(Claim::Region(region)) => region,
        Ok(Claim::Values(values)) => Region::Union(
            values
                .into_iter()
                .map(|claimed| Region::Point(claimed.value))
                .collect(),
        ),
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let domain = question.domain(&variable);
    let plainly = region_verdict(statement, &variable, &region, &domain, Reading::default());
    if matches!(plainly, Verdict::Holds) || !equivalence::has_log(statement) {
        return plainly;
    }
    let reading = Reading {
        natural_logarithm: true,
        ..Reading::default()
    };
    match region_verdict(statement, &variable, &region, &domain, reading) {
        Verdict::Holds => Verdict::Holds,
        _ => plainly,
    }
}

/// The number of operations that the search for cuts may take.
const BUDGET: u64 = 300_000;

/// Numbers that are tried besides those between the cuts.
const USUAL: [f64; 17] = [
    0.0, 1.0, -1.0, 2.0, -2.0, 3.0, -3.0, 5.0, -5.0, 0.5, -0.5, 10.0, -10.0, 100.0, -100.0, 1000.0,
    -1000.0,
];

/// The verdict for a claimed set of numbers where a statement holds.
pub(super) fn region_verdict(
    statement: &Expression,
    variable: &Symbol,
    region: &Region,
    domain: &Domain,
    reading: Reading,
) -> Verdict {
    let curves: Vec<Expression> = sides(statement)
        .into_iter()
        .map(|(left, right)| Expression::difference(left.clone(), right.clone()))
        .collect();
    let set = Set {
        variable,
        curves: &curves,
        domain,
        reading,
        is_critical: &|end| is_critical(statement, variable, end, reading),
        holds: &|value| substitution::holds(&statement.substitute(variable, value), reading),
    };
    set.verdict(region)
}

/// A set of numbers that is given by a test.
pub(super) struct Set<'a> {
    pub(super) variable: &'a Symbol,
    /// Where one of these is 0 or loses its value the set may begin or end.
    pub(super) curves: &'a [Expression],
    pub(super) domain: &'a Domain,
    pub(super) reading: Reading,
    /// Whether the set may begin or end exactly at a number.
    pub(super) is_critical: &'a dyn Fn(&Expression) -> bool,
    /// Whether a number belongs to the set.
    pub(super) holds: &'a dyn Fn(&Expression) -> Holds,
}

impl Set<'_> {
    /// The verdict for a claim of what the set is.
    pub(super) fn verdict(&self, region: &Region) -> Verdict {
        let Set {
            variable,
            domain,
            reading,
            ..
        } = *self;
        let ends = region.ends();
        if ends.iter().any(|end| !end.free_symbols().is_empty()) {
            return Verdict::cannot_tell("the ends of the set hold letters");
        }
        let mut cuts: Vec<f64> = Vec::new();
        // Ends that may be rounded, with the distance within which nothing is decided.
        let mut soft: Vec<(f64, f64)> = Vec::new();
        for end in &ends {
            let Some(at) = claims::bounds(end) else {
                return Verdict::cannot_tell("an end of the set cannot be computed");
            };
            cuts.push(at.middle());
            if equivalence::has_decimal(end) && !(self.is_critical)(end) {
                let Some(wide) =
                    equivalence::rounded_bounds(end, super::interval::Decimals::Loose, false)
                else {
                    return Verdict::cannot_tell("an end of the set cannot be computed");
                };
                soft.push((at.middle(), wide.width()));
            }
        }
        let mut exact: Vec<Expression> = ends
            .iter()
            .filter(|end| {
                claims::bounds(end).is_some_and(|at| soft.iter().all(|(s, _)| *s != at.middle()))
            })
            .map(|end| (*end).clone())
            .collect();
        let mut budget = BUDGET;
        for curve in self.curves {
            let Some(curve) = completeness::curve_of(curve, variable, reading) else {
                continue;
            };
            for (low, high) in [(-12.3, 12.3), (12.3, 1001.3), (-1001.3, -12.3)] {
                let zeros = roots::zeros(&curve, Interval::new(low, high), &mut budget);
                for zero in zeros.found.iter().take(60) {
                    let middle = zero.within.middle();
                    if soft.iter().all(|(at, width)| (at - middle).abs() > *width) {
                        cuts.push(middle);
                    }
                    let rounded = libm::round(middle * 12.0);
                    let slack = zero.within.width() + 1e-6;
                    if (rounded / 12.0 - middle).abs() <= slack {
                        let value = crate::rational::Rational::fraction(rounded as i64, 12);
                        exact.push(Expression::rational(&value.to_big()));
                    }
                }
            }
        }
        cuts.sort_by(f64::total_cmp);
        cuts.dedup_by(|a, b| (*a - *b).abs() <= 1e-6 * (1.0 + a.abs()));
        let mut samples: Vec<Expression> = Vec::new();
        for pair in cuts.windows(2) {
            let width = pair[1] - pair[0];
            let within = Interval::new(pair[0] + 0.2 * width, pair[1] - 0.2 * width);
            samples.push(
                substitution::short_fraction(within)
                    .unwrap_or_else(|| substitution::exactly(within.middle())),
            );
        }
        if let (Some(first), Some(last)) = (cuts.first(), cuts.last()) {
            samples.push(substitution::exactly(libm::floor(first - 0.6)));
            samples.push(substitution::exactly(libm::ceil(last + 0.6)));
        }
        for cut in &cuts {
            // The decimal places of an end say how far it can be off.
            let off = soft
                .iter()
                .find(|(at, _)| at == cut)
                .map_or(0.001, |(_, width)| (2.0 * width).max(0.001));
            for side in [-1.0, 1.0] {
                let near = cut + side * off * (1.0 + cut.abs());
                let slack = 0.2 * off * (1.0 + cut.abs());
                samples.extend(substitution::short_fraction(Interval::new(
                    near - slack,
                    near + slack,
                )));
            }
        }
        samples.extend(USUAL.iter().map(|value| substitution::exactly(*value)));
        samples.extend(exact);
        let mut decided = 0;
        let mut unclear = false;
        for sample in samples {
            let Some(at) = claims::bounds(&sample) else {
                continue;
            };
            let is_soft = soft
                .iter()
                .any(|(end, width)| (end - at.middle()).abs() <= *width);
            if is_soft {
                continue;
            }
            if let Some(region) = &domain.region
                && region.holds(at) != Membership::Inside
            {
                continue;
            }
            let claimed = match region.holds(at) {
                Membership::Inside => true,
                Membership::Outside => false,
                Membership::Unclear => {
                    unclear = true;
                    continue;
                }
            };
            let told = substitution::assignment(variable, &sample);
            match ((self.holds)(&sample), claimed) {
                (Holds::Yes, true) | (Holds::No(_) | Holds::Outside(_), false) => decided += 1,
                (Holds::Unknown, _) => unclear = true,
                (Holds::Yes, false) => {
                    return Verdict::fails_at(
                        "a solution is missing",
                        format!("{told} is a solution, but not in the answer"),
                    );
                }
                (Holds::No(sides), true) => {
                    return Verdict::fails_at(
                        "a number in the answer is no solution",
                        format!("at {told} {sides}"),
                    );
                }
                (Holds::Outside(outside), true) => {
                    return Verdict::fails_at(
                        "a number in the answer is no solution",
                        format!("{told} {}", outside.told()),
                    );
                }
            }
        }
        match (decided, unclear) {
            (4.., false) => Verdict::Holds,
            (8.., true) => Verdict::Holds,
            _ => Verdict::cannot_tell("the statement cannot be decided at enough numbers"),
        }
    }
}

/// The sides of every relation in a statement.
fn sides(statement: &Expression) -> Vec<(&Expression, &Expression)> {
    match (statement.operator(), statement.operands()) {
        (Operator::Relation(_), sides) => {
            sides.windows(2).map(|pair| (&pair[0], &pair[1])).collect()
        }
        (_, parts) => parts.iter().flat_map(sides).collect(),
    }
}

/// The sides of a relation are equal there, or have no value.
fn is_critical(
    statement: &Expression,
    variable: &Symbol,
    at: &Expression,
    reading: Reading,
) -> bool {
    sides(statement).into_iter().any(|(left, right)| {
        let equation = Expression::equation(
            left.substitute(variable, at),
            right.substitute(variable, at),
        );
        matches!(
            substitution::holds(&equation, reading),
            Holds::Yes | Holds::Outside(_)
        )
    })
}
