//! Does the series converge, and to what?

use super::expressions;
use super::growth::{Growth, growth};
use super::{Key, formula, power_series, words, write};
use crate::evaluate::{Point, Undefined, exact, value};
use crate::expression::{Expression, Operator, SeriesOperator, SeriesRange, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::univariate::Univariate;
use crate::views;
use std::cmp::Ordering;
use std::collections::BTreeMap;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (Operator::Series(SeriesOperator::Sum, range), operands) =
        (main.operator(), main.operands())
    else {
        return Err("it is no single sum".into());
    };
    let asked = |word: &str| problem.instructions.contains(word);
    let (body, index) = match operands {
        [body, index, ..] => (body, index.as_symbol().ok_or("the index is no letter")?),
        _ => return Err("the sum has no index".into()),
    };
    if asked("radius") {
        return power_series::convergence(
            body,
            index,
            asked("interval of convergence"),
            asked("radius and interval"),
        );
    }
    let is_infinite = match (range, operands) {
        (SeriesRange::Between, [_, _, _, high]) => {
            high.as_constant() == Some(crate::expression::Constant::Infinity)
        }
        _ => true,
    };
    if !is_infinite {
        let value = exact(main, &BTreeMap::new()).ok_or("the sum cannot be calculated exactly")?;
        return formula(write::number(&Rational::from(value)));
    }
    // Each term must have a value.
    let first = operands
        .get(2)
        .and_then(crate::surface::number)
        .and_then(|start| start.as_i64())
        .unwrap_or(1);
    let is_defined = |n: i64| {
        let point = Point::new().with(index.clone(), n as f64);
        !matches!(value(body, &point), Err(Undefined::Domain))
    };
    let vanishes_below = body.parts().any(|part| {
        let (Operator::Fraction, [_, below]) = (part.operator(), part.operands()) else {
            return false;
        };
        let below = normal(below)
            .ok()
            .and_then(|b| views::univariate(&b, index));
        below.is_some_and(|below| {
            let (roots, _) = below.rational_roots();
            let mut roots = roots.iter().filter_map(Rational::as_i64);
            roots.any(|root| root >= first)
        })
    });
    if vanishes_below || !(first..first.saturating_add(60)).all(is_defined) {
        return Err("a term of the series has no value".into());
    }
    if asked("converge") || asked("absolutely") {
        return convergence(body, index, asked("absolutely"));
    }
    let start = operands
        .get(2)
        .and_then(crate::surface::number)
        .and_then(|start| start.as_i64())
        .ok_or("the first value of the index is no number")?;
    let sum = geometric(body, index, start)
        .or_else(|| telescoping(body, index, start))
        .ok_or("it is neither a geometric nor a telescoping series")?;
    formula(write::number(&sum))
}

/// The series converges; none if that is not known.
pub(super) fn converges_at(body: &Expression, index: &Symbol) -> Option<bool> {
    let growth = growth(body, index)?;
    let vanish = growth.against_constant() == Ordering::Less;
    Some(converges(&growth) || (growth.alternates && vanish))
}

fn convergence(body: &Expression, index: &Symbol, absolutely: bool) -> Result<Vec<Key>, String> {
    let Some(growth) = growth(body, index) else {
        return bounded(body, index, absolutely);
    };
    let absolute = converges(&growth);
    let vanish = growth.against_constant() == Ordering::Less;
    let converges = absolute || (growth.alternates && vanish);
    words(match (converges, absolute, absolutely) {
        (false, ..) => "diverges",
        (true, true, true) => "converges absolutely",
        (true, false, true) => "converges conditionally",
        (true, _, false) => "converges",
    })
}

/// A bounded factor beside one whose series converges: by comparison.
fn bounded(body: &Expression, index: &Symbol, absolutely: bool) -> Result<Vec<Key>, String> {
    let term = crate::surface::factors(body);
    let mut rest = Vec::new();
    for factor in &term.factors {
        let one = crate::surface::Term {
            coefficient: Rational::ONE,
            factors: [factor.clone()].into_iter().collect(),
        };
        let factor = one.to_expression();
        if growth(&factor, index).is_some() || !super::growth::is_bounded(&factor, index) {
            rest.push(factor);
        }
    }
    let majorant = growth(&write::product(rest), index);
    match majorant.is_some_and(|majorant| converges(&majorant)) {
        true if absolutely => words("converges absolutely"),
        true => words("converges"),
        false => Err("how fast its terms grow is not known".into()),
    }
}

/// How the terms behave far out: what decides which test one uses.
pub(super) fn growth_class(main: &Expression) -> Vec<i8> {
    let (Operator::Series(SeriesOperator::Sum, _), [body, index, ..]) =
        (main.operator(), main.operands())
    else {
        return Vec::new();
    };
    let Some(growth) = index.as_symbol().and_then(|index| growth(body, index)) else {
        return Vec::new();
    };
    let order = |order: Ordering| order as i8;
    let rate = match growth.rate.abs() < 1e-12 {
        true => Ordering::Equal,
        false => growth.rate.total_cmp(&0.0),
    };
    let is_plain = growth.factorial.is_zero() && rate == Ordering::Equal;
    vec![
        i8::from(growth.alternates),
        order(growth.against_constant()),
        growth.factorial.signum() as i8,
        order(rate),
        // Beside an exponential the power does not matter.
        match is_plain {
            true => order(growth.power.cmp(&Rational::integer(-1))),
            false => 0,
        },
        growth.logarithm.signum() as i8,
    ]
}

/// The series of the sizes converges. (Ratio test, then comparison with the series of
/// 1/(n^p (ln n)^q).)
fn converges(growth: &Growth) -> bool {
    match growth.factorial.signum() {
        1 => return false,
        -1 => return true,
        _ => {}
    }
    if growth.rate.abs() > 1e-12 {
        return growth.rate < 0.0;
    }
    let minus_one = Rational::integer(-1);
    match growth.power.cmp(&minus_one) {
        Ordering::Less => true,
        Ordering::Greater => false,
        Ordering::Equal => growth.logarithm < minus_one,
    }
}

fn at(body: &Expression, index: &Symbol, value: i64) -> Option<Rational> {
    normal(&body.substitute(index, &write::integer(value)))
        .ok()?
        .as_constant()
}

/// a/(1 - r) for a constant quotient r of neighbours.
fn geometric(body: &Expression, index: &Symbol, start: i64) -> Option<Rational> {
    let terms: Vec<Rational> = (start..start + 5)
        .map(|n| at(body, index, n))
        .collect::<Option<_>>()?;
    let name = Expression::new(Operator::Symbol(index.clone()), []);
    let next = body.substitute(index, &write::sum([name, write::integer(1)]));
    let ratio = normal(&Expression::fraction(next, body.clone()))
        .ok()?
        .as_constant();
    let ratio = match ratio {
        Some(ratio) => ratio,
        // A sum of geometric series is none; its terms show it.
        None => {
            let ratio = terms[1].checked_div(&terms[0])?;
            let is_constant = terms.windows(2).all(|pair| pair[1] == &pair[0] * &ratio);
            if !is_constant {
                return None;
            }
            ratio
        }
    };
    match ratio.abs() < Rational::ONE {
        true => terms[0].checked_div(&(Rational::ONE - ratio)),
        false => None,
    }
}

/// The sum of a quotient of polynomials whose pieces cancel: simple roots that differ by whole
/// numbers.
fn telescoping(body: &Expression, index: &Symbol, start: i64) -> Option<Rational> {
    let number = normal(body).ok()?;
    let part = |p: &crate::normal_form::Polynomial| -> Option<Univariate> {
        views::univariate(&Normal::whole(p.clone()), index)
    };
    let (above, below) = (part(number.numerator())?, part(number.denominator())?);
    let (whole, pieces) = expressions::pieces(&above, &below)?;
    if !whole.is_zero() {
        return None;
    }
    // c / (n - r) each, with the c adding up to 0.
    let mut shifts: Vec<(Rational, Rational)> = Vec::new();
    for piece in &pieces {
        if piece.power != 1 || piece.below.degree() != 1 {
            return None;
        }
        let slope = piece.below.leading();
        let coefficient = piece.above.coefficient(0).checked_div(&slope)?;
        shifts.push((
            -(piece.below.coefficient(0).checked_div(&slope)?),
            coefficient,
        ));
    }
    let total = shifts.iter().fold(Rational::ZERO, |sum, (_, c)| sum + c);
    if !total.is_zero() {
        return None;
    }
    let lowest = shifts.iter().map(|(root, _)| root).min()?.clone();
    // With m = n - lowest, each piece c/(m - d) leaves the terms up to the index where all overlap.
    let mut sum = Rational::ZERO;
    for (root, coefficient) in &shifts {
        let distance = (root - &lowest).as_i64().filter(|d| (0..=30).contains(d))?;
        // sum over n >= start of 1/(n - root), less the common tail that begins at lowest.
        for step in 0..distance {
            let place = Rational::integer(start) - root + Rational::integer(step);
            sum = sum + coefficient * &place.reciprocal()?;
        }
    }
    Some(sum)
}
