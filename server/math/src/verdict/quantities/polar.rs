//! Points and equations in polar and rectangular coordinates, and curves with a parameter.

use super::{Asked, tuple, value_of};
use crate::expression::{Expression, Function, Operator, Symbol};
use crate::normal_form;
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::{Verdict, functions};
use crate::views;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    if says(&[
        "eliminate the parameter",
        "eliminating the parameter",
        "parameter",
    ]) && says(&["eliminat", "cartesian equation", "rectangular", "rewrite"])
    {
        return parameter(asked);
    }
    let to_polar = says(&[
        "to polar",
        "polar coordinates",
        "polar equation",
        "in polar form",
        "polar form",
    ]);
    let to_rectangular = says(&[
        "to rectangular",
        "rectangular coordinates",
        "rectangular equation",
        "rectangular form",
        "cartesian",
        "to a rectangular",
    ]);
    if !says(&["polar", "rectangular", "cartesian"]) {
        return None;
    }
    if to_rectangular && let [given] = asked.formulas.as_slice() {
        // z = r (cos θ + i sin θ)
        let number = value_of(given);
        let is_complex = number
            .parts()
            .any(|part| part.as_constant() == Some(crate::expression::Constant::I));
        if is_complex && number.free_symbols().is_empty() {
            return asked.value(number);
        }
    }
    let radius = Expression::symbol("r");
    let angle = Expression::symbol("θ");
    let points: Vec<&[Expression]> = asked
        .formulas
        .iter()
        .map(value_of)
        .filter_map(tuple)
        .filter(|point| point.len() == 2)
        .collect();
    if let [point] = points.as_slice() {
        let to_polar = match (to_polar, to_rectangular) {
            (true, false) => true,
            (false, true) => false,
            _ => says(&[
                "to polar",
                "rectangular point",
                "find the polar",
                "find polar",
            ]),
        };
        return self::point(asked, point, to_polar);
    }
    if !points.is_empty() || !(to_polar || to_rectangular) {
        return None;
    }
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let given = asked.formulas.iter().find(|f| f.as_equation().is_some())?;
    let has =
        |e: &Expression, names: &[&str]| e.free_symbols().iter().any(|s| names.contains(&s.name()));
    let (polar, flat) = match (has(given, &["r", "θ"]), has(claim, &["r", "θ"])) {
        (true, false) if has(claim, &["x", "y"]) => (given, claim),
        (false, true) if has(given, &["x", "y"]) => (claim, given),
        _ => return None,
    };
    let (left, right) = flat.as_equation()?;
    let (x, y) = on_curve(polar, &radius, &angle)?;
    let put = |e: &Expression| {
        e.substitute(&Symbol::new("x"), &x)
            .substitute(&Symbol::new("y"), &y)
    };
    Some(match equivalence::compare(&put(left), &put(right)) {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => Verdict::fails_at("it is another curve", witness),
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    })
}

/// x and y of the points of a polar curve, by the letter that is free on it.
fn on_curve(
    polar: &Expression,
    radius: &Expression,
    angle: &Expression,
) -> Option<(Expression, Expression)> {
    let (left, right) = polar.as_equation()?;
    let coordinates = |r: &Expression, a: &Expression| {
        let of =
            |function| Expression::product([r.clone(), Expression::function(function, a.clone())]);
        (of(Function::Cos), of(Function::Sin))
    };
    let number = |e: &Expression| e.free_symbols().is_empty();
    if left == angle && number(right) {
        return Some(coordinates(radius, right));
    }
    if let (Operator::Power, [base, exponent]) = (left.operator(), left.operands())
        && base == radius
        && exponent.as_i64() == Some(2)
        && !right.mentions(radius.as_symbol()?)
    {
        return Some(coordinates(&Expression::root(right.clone()), angle));
    }
    if left == radius && !right.mentions(radius.as_symbol()?) {
        return Some(coordinates(right, angle));
    }
    let form = normal_form::normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let (slope, rest) = views::linear_in(&form, radius)?;
    if slope.is_zero() {
        return None;
    }
    let r = Expression::negative(Expression::fraction(
        rest.to_expression(),
        slope.to_expression(),
    ));
    Some(coordinates(&r, angle))
}

/// One point in the other coordinates; each claimed pair must be it.
fn point(asked: &Asked<'_>, given: &[Expression], to_polar: bool) -> Option<Verdict> {
    let flat = |r: &Expression, a: &Expression| {
        let of =
            |function| Expression::product([r.clone(), Expression::function(function, a.clone())]);
        [of(Function::Cos), of(Function::Sin)]
    };
    let mut all = Verdict::Holds;
    for claim in &asked.answer.formulas {
        let [first, second] = tuple(value_of(claim))? else {
            return None;
        };
        let (exact, claimed) = match to_polar {
            true => ([given[0].clone(), given[1].clone()], flat(first, second)),
            false => (flat(&given[0], &given[1]), [first.clone(), second.clone()]),
        };
        let is_rounded = equivalence::has_decimal(claim);
        for (exact, claimed) in exact.iter().zip(&claimed) {
            let found = functions::equal(asked.question, exact, claimed);
            match found {
                Verdict::Holds => {}
                Verdict::Fails { .. } if is_rounded && to_polar => {
                    return Some(Verdict::cannot_tell("the answer is rounded"));
                }
                Verdict::Fails { witness, .. } => {
                    return Some(Verdict::Fails {
                        reason: "it is another point".into(),
                        witness,
                    });
                }
                doubt => all = doubt,
            }
        }
    }
    (!asked.answer.formulas.is_empty()).then_some(all)
}

/// x and y by a parameter, and a claimed equation between them.
fn parameter(asked: &Asked<'_>) -> Option<Verdict> {
    let [claim] = asked.answer.formulas.as_slice() else {
        // A range for x beside the equation is no claim that is checked.
        asked.answer.formulas.first()?.as_equation()?;
        return Some(Verdict::cannot_tell(
            "the answer says more than is understood",
        ));
    };
    let definition = |name: &str| {
        asked.formulas.iter().find_map(|formula| {
            let (left, right) = formula.as_equation()?;
            let is_named = match (left.operator(), left.operands()) {
                (Operator::Symbol(symbol), _) => symbol.name() == name,
                (Operator::Apply, [function, _]) => function.as_symbol()?.name() == name,
                _ => false,
            };
            is_named.then(|| right.clone())
        })
    };
    let (x, y) = (definition("x")?, definition("y")?);
    let (left, right) = claim.as_equation()?;
    let put = |e: &Expression| {
        e.substitute(&Symbol::new("x"), &x)
            .substitute(&Symbol::new("y"), &y)
    };
    if !claim.mentions(&Symbol::new("x")) || !claim.mentions(&Symbol::new("y")) {
        return None;
    }
    Some(match equivalence::compare(&put(left), &put(right)) {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => {
            Verdict::fails_at("points of the curve do not satisfy it", witness)
        }
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    })
}
