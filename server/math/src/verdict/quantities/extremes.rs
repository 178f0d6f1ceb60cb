//! The greatest and least values of a function of one variable.

use super::{Asked, agrees, function, number, tuple, value_of};
use crate::derivative::derivative;
use crate::expression::{Expression, Operator, Relation, Symbol};
use crate::verdict::Verdict;
use crate::verdict::completeness;
use crate::verdict::equivalence;
use crate::verdict::interval::{Interval, Reading};
use crate::verdict::roots;

/// Operations for the search of critical numbers.
const BUDGET: u64 = 60_000;

/// What is looked for.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Greatest,
    Least,
    Either,
}

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    let (max, min) = (says(&["maxim", "max "]), says(&["minim", "min "]));
    if !(max || min)
        || says(&["how many", "graph", "fence", "profit", "cost"])
        || asked.answer.formulas.is_empty()
    {
        return None;
    }
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    if body.free_symbols().len() != 1 {
        return None;
    }
    if says(&["local", "relative"]) {
        return local(asked, body, &letter);
    }
    let is_named = |words: &str, name: &str| words.contains(name);
    let words = &asked.answer.words;
    let kind = match (max, min) {
        (true, false) => Kind::Greatest,
        (false, true) => Kind::Least,
        _ => match (is_named(words, "max"), is_named(words, "min")) {
            (true, false) => Kind::Greatest,
            (false, true) => Kind::Least,
            (false, false) if asked.interval().is_none() => Kind::Either,
            _ => return None,
        },
    };
    let (low, high) = match asked.interval() {
        Some((low, high)) => (number(&low)?, number(&high)?),
        None => return of_parabola(asked, body, &letter, kind),
    };
    let of = function(body, &letter)?;
    let mut places = vec![low, high];
    // Continuous where the derivative is, as far as can be seen.
    let slope = derivative(body, &letter)?;
    let curve = completeness::curve_of(&slope, &letter, Reading::default())?;
    let mut budget = BUDGET;
    let zeros = roots::zeros(&curve, Interval::new(low, high), &mut budget);
    places.extend(zeros.found.iter().map(|zero| zero.within.middle()));
    let values: Option<Vec<f64>> = places.iter().map(|at| of(*at)).collect();
    let values = values?;
    let is_better = |a: f64, b: f64| match kind {
        Kind::Greatest => a > b,
        _ => a < b,
    };
    let best = values
        .iter()
        .copied()
        .reduce(|best, value| if is_better(value, best) { value } else { best })?;
    // A grid shows what the search for zeros of the derivative may have left out.
    let scale = values
        .iter()
        .fold(1e-9_f64, |most, value| most.max(value.abs()));
    for step in 0..=400 {
        let at = low + (high - low) * f64::from(step) / 400.0;
        let value = of(at)?;
        if is_better(value, best) && (value - best).abs() > 1e-7 * scale {
            return None;
        }
    }
    let best_places: Vec<f64> = places
        .iter()
        .zip(&values)
        .filter(|(_, value)| (*value - best).abs() <= 1e-7 * scale)
        .map(|(at, _)| *at)
        .collect();
    compare(asked, &letter, best, &best_places, kind)
}

/// The local maxima or minima over all numbers; one kind is asked for.
fn local(asked: &Asked<'_>, body: &Expression, letter: &Symbol) -> Option<Verdict> {
    let kind = match (
        asked.says(&["maxim", "max "]),
        asked.says(&["minim", "min "]),
    ) {
        (true, false) => Kind::Greatest,
        (false, true) => Kind::Least,
        _ => return None,
    };
    let of = function(body, letter)?;
    let slope = derivative(body, letter)?;
    let curve = completeness::curve_of(&slope, letter, Reading::default())?;
    let mut budget = BUDGET;
    let zeros = roots::zeros(&curve, Interval::new(-20.3, 20.3), &mut budget);
    if !zeros.is_complete {
        return None;
    }
    let mut found: Vec<(f64, f64)> = Vec::new();
    for zero in &zeros.found {
        let at = zero.within.middle();
        let here = of(at)?;
        let beside = [of(at - 1e-3)?, of(at + 1e-3)?];
        let is_extreme = match kind {
            Kind::Greatest => beside.iter().all(|value| *value < here),
            _ => beside.iter().all(|value| *value > here),
        };
        if is_extreme {
            found.push((at, here));
        }
    }
    let name = if kind == Kind::Greatest {
        "maximum"
    } else {
        "minimum"
    };
    let told = |(x, y): &(f64, f64)| {
        let number = equivalence::number;
        format!("{} at {} = {}", number(*y), letter.name(), number(*x))
    };
    // Values, places, or both, in the order of the answer.
    let mut places: Vec<Expression> = Vec::new();
    let mut values: Vec<Expression> = Vec::new();
    for formula in &asked.answer.formulas {
        for formula in crate::verdict::answer::with_signs(formula, false) {
            match (formula.as_equation(), tuple(value_of(&formula))) {
                (_, Some([x, y])) => {
                    places.push(x.clone());
                    values.push(y.clone());
                }
                (Some((left, right)), None) if left.as_symbol() == Some(letter) => {
                    places.push(right.clone());
                }
                (Some((left, right)), None) => {
                    if let (Operator::Apply, [_, at]) = (left.operator(), left.operands()) {
                        places.push(at.clone());
                    }
                    values.push(right.clone());
                }
                (None, None) => values.push(formula.clone()),
                _ => return None,
            }
        }
    }
    for place in &places {
        let mut is_one = false;
        for (x, _) in &found {
            is_one |= agrees(*x, place)?;
        }
        if !is_one {
            let all: Vec<String> = found.iter().map(told).collect();
            return Some(Verdict::fails_at(
                format!("there is no {name}"),
                match all.is_empty() {
                    true => format!("there is no {name} anywhere"),
                    false => all.join(", "),
                },
            ));
        }
    }
    for value in &values {
        let mut is_one = false;
        for (_, y) in &found {
            is_one |= agrees(*y, value)?;
        }
        if !is_one {
            let all: Vec<String> = found.iter().map(told).collect();
            return Some(Verdict::fails_at(
                format!("it is not the value of a {name}"),
                all.join(", "),
            ));
        }
    }
    match places.len() {
        0 => None,
        count if count < found.len() => Some(Verdict::fails_at(
            format!("a {name} is missing"),
            found.iter().map(told).collect::<Vec<_>>().join(", "),
        )),
        _ => Some(Verdict::Holds),
    }
}

/// The vertex of a quadratic function over all numbers.
fn of_parabola(
    asked: &Asked<'_>,
    body: &Expression,
    letter: &Symbol,
    kind: Kind,
) -> Option<Verdict> {
    let polynomial = crate::views::univariate(&crate::normal_form::normal(body).ok()?, letter)?;
    if polynomial.degree() != 2 {
        return None;
    }
    let lead = polynomial.leading().to_f64();
    let at = -polynomial.coefficient(1).to_f64() / (2.0 * lead);
    let value = polynomial.at_f64(at);
    let found = if lead < 0.0 {
        Kind::Greatest
    } else {
        Kind::Least
    };
    let words = &asked.answer.words;
    let claimed = match (words.contains("max"), words.contains("min")) {
        (true, false) => Some(Kind::Greatest),
        (false, true) => Some(Kind::Least),
        _ => None,
    };
    if claimed.is_some_and(|claimed| claimed != found) {
        let name = if lead < 0.0 { "a maximum" } else { "a minimum" };
        return Some(Verdict::fails_at(
            "it is of the other kind",
            format!("it is {name}"),
        ));
    }
    if kind != Kind::Either && kind != found {
        return None;
    }
    compare(asked, letter, value, &[at], found)
}

/// Compares a claimed value, or a value and a place, or a point.
fn compare(
    asked: &Asked<'_>,
    letter: &Symbol,
    best: f64,
    places: &[f64],
    kind: Kind,
) -> Option<Verdict> {
    let name = if kind == Kind::Greatest {
        "maximum"
    } else {
        "minimum"
    };
    let wrong_value = || {
        Verdict::fails_at(
            format!("it is not the {name}"),
            format!("the {name} is {}", equivalence::number(best)),
        )
    };
    let wrong_place = || {
        Verdict::fails_at(
            format!("the {name} is at another place"),
            format!(
                "it is at {} = {}",
                letter.name(),
                equivalence::number(places[0])
            ),
        )
    };
    let at_place = |claimed: &Expression| -> Option<bool> {
        for place in places {
            if agrees(*place, claimed)? {
                return Some(true);
            }
        }
        Some(false)
    };
    let mut saw_value = false;
    for (rank, formula) in asked.answer.formulas.iter().enumerate() {
        if let Some((left, relation, right)) = formula.as_relation() {
            if !matches!(relation, Relation::Equal | Relation::Approximately) {
                return None;
            }
            if let (Operator::Apply, [_, at]) = (left.operator(), left.operands())
                && number(at).is_some()
                && !at_place(at)?
            {
                return Some(match agrees(best, right)? {
                    true => wrong_place(),
                    false => wrong_value(),
                });
            }
            match left.as_symbol() {
                Some(found) if found == letter => {
                    if !at_place(right)? {
                        return Some(wrong_place());
                    }
                    continue;
                }
                _ => {
                    if !agrees(best, right)? {
                        return Some(wrong_value());
                    }
                    saw_value = true;
                    continue;
                }
            }
        }
        match tuple(value_of(formula)) {
            Some([x, y]) => {
                if !agrees(best, y)? {
                    return Some(wrong_value());
                }
                if !at_place(x)? {
                    return Some(wrong_place());
                }
                saw_value = true;
            }
            Some(_) => return None,
            None if rank == 0 => {
                if !agrees(best, formula)? {
                    return Some(wrong_value());
                }
                saw_value = true;
            }
            None => return None,
        }
    }
    saw_value.then_some(Verdict::Holds)
}
