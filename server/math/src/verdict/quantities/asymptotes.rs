//! Asymptotes of functions that are not rational: logarithms, exponentials, roots.

use super::{Asked, agrees, function};
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::normal_form;
use crate::verdict::Verdict;
use crate::verdict::answer;
use crate::verdict::equivalence;
use crate::views;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    if !asked.says(&["asymptote"]) || asked.says(&["slant", "oblique"]) {
        return None;
    }
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let normal = normal_form::normal(body).ok();
    let is_rational = normal.as_ref().is_some_and(|normal| {
        views::univariate(
            &normal_form::Normal::whole(normal.numerator().clone()),
            &letter,
        )
        .is_some()
            && views::univariate(
                &normal_form::Normal::whole(normal.denominator().clone()),
                &letter,
            )
            .is_some()
    });
    if is_rational {
        return None;
    }
    let (vertical, horizontal) = (asked.says(&["vertical"]), asked.says(&["horizontal"]));
    let logarithm = logarithm_of_line(body, &letter);
    let mut upright: Vec<Expression> = Vec::new();
    let mut level: Vec<Expression> = Vec::new();
    for formula in &asked.answer.formulas {
        for formula in answer::with_signs(formula, false) {
            match formula.as_relation() {
                Some((left, Relation::Equal, right)) if left.as_symbol() == Some(&letter) => {
                    upright.push(right.clone());
                }
                Some((left, Relation::Equal, right)) if left.as_symbol().is_some() => {
                    level.push(right.clone());
                }
                _ => return None,
            }
        }
    }
    let mut decided = false;
    if let Some(argument) = &logarithm
        && (vertical || !horizontal)
    {
        let [claimed] = upright.as_slice() else {
            return None;
        };
        let at = argument.substitute(&letter, claimed);
        let zero = Expression::integer(0);
        match equivalence::same_number(&at, &zero) {
            equivalence::Equivalence::Equal => decided = true,
            equivalence::Equivalence::Different(_) => {
                return Some(Verdict::fails_at(
                    "it is no vertical asymptote",
                    format!(
                        "the logarithm is not taken of 0 at {} = {}",
                        letter.name(),
                        crate::verdict::equations::shown(claimed)
                    ),
                ));
            }
            equivalence::Equivalence::Unknown(_) => return None,
        }
    } else if !upright.is_empty() || vertical {
        return None;
    }
    if horizontal || !vertical && logarithm.is_none() {
        let of = function(body, &letter)?;
        let ends = [rest(&of, 1.0), rest(&of, -1.0)];
        let found: Vec<f64> = ends.iter().filter_map(|end| *end).collect();
        for claimed in &level {
            let mut is_one = false;
            for at in &found {
                is_one |= agrees(*at, claimed)? || near(*at, claimed);
            }
            if !is_one {
                return match found.len() {
                    2 => Some(Verdict::fails_at(
                        "it is no horizontal asymptote",
                        "far out the values come near other numbers",
                    )),
                    _ => None,
                };
            }
        }
        let is_known = |at: f64| level.iter().any(|claimed| near(at, claimed));
        if let Some(missing) = found.iter().find(|at| !is_known(**at)) {
            return Some(Verdict::fails_at(
                "a horizontal asymptote is missing",
                format!("also y = {}", equivalence::number(*missing)),
            ));
        }
        decided |= !level.is_empty();
    }
    decided.then_some(Verdict::Holds)
}

fn near(at: f64, claimed: &Expression) -> bool {
    super::number(claimed).is_some_and(|value| (value - at).abs() <= 1e-5 * (1.0 + at.abs()))
}

/// The number at which the values come to rest far out on one side.
fn rest(of: &impl Fn(f64) -> Option<f64>, side: f64) -> Option<f64> {
    // Exponential functions leave the range of floating-point numbers early.
    for distances in [[1e4, 1e6, 1e8], [30.0, 60.0, 90.0]] {
        let values: Option<Vec<f64>> = distances.iter().map(|at| of(side * at)).collect();
        let Some(values) = values else { continue };
        let scale = 1e-5 * (1.0 + values[2].abs());
        if (values[2] - values[1]).abs() < scale && (values[1] - values[0]).abs() < 100.0 * scale {
            return Some(values[2]);
        }
    }
    None
}

/// What the only logarithm is taken of, if that is linear.
fn logarithm_of_line(body: &Expression, letter: &Symbol) -> Option<Expression> {
    let mut logarithms = body.parts().filter(|part| {
        matches!(
            part.operator(),
            Operator::Function(Function::Ln | Function::Log | Function::LogBase)
        ) && part.operands()[0].mentions(letter)
    });
    let (only, None) = (logarithms.next()?, logarithms.next()) else {
        return None;
    };
    let argument = &only.operands()[0];
    let polynomial = views::univariate(&normal_form::normal(argument).ok()?, letter)?;
    (polynomial.degree() == 1).then(|| argument.clone())
}
