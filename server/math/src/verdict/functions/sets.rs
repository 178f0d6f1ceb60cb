//! Where is a function defined, and which values does it take?

use super::Givens;
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::verdict::Verdict;
use crate::verdict::answer::Answer;
use crate::verdict::claims::{self, Claim, Region};
use crate::verdict::completeness;
use crate::verdict::equivalence::{self, Equivalence};
use crate::verdict::inequalities::Set;
use crate::verdict::interval::{Interval, Outside, Reading, Tape};
use crate::verdict::question::{Domain, Question};
use crate::verdict::roots;
use crate::verdict::substitution::Holds;

/// The verdict for the domain of the only function.
pub(in crate::verdict) fn domain(
    givens: &Givens,
    question: &Question,
    answer: &Answer,
) -> Option<Verdict> {
    let x = givens.letter()?;
    let body = with_bases(&givens.unfold(givens.body()?), &x);
    let region = region(answer, &x)?;
    let mut edges = Vec::new();
    edges_of(&body, &mut edges);
    edges.retain(|edge| edge.mentions(&x));
    let holds = |value: &Expression| is_defined(&body, &x, value);
    let is_critical = |value: &Expression| {
        edges.iter().any(|edge| {
            claims::bounds(&edge.substitute(&x, value)).is_some_and(|at| at.contains(0.0))
        })
    };
    let set = Set {
        variable: &x,
        curves: &edges,
        domain: &stated(question, &x),
        reading: Reading::default(),
        is_critical: &is_critical,
        holds: &holds,
    };
    Some(set.verdict(&region))
}

/// The formula with a number for every letter that is the base of a logarithm: where it is defined
/// does not depend on the base.
fn with_bases(body: &Expression, x: &Symbol) -> Expression {
    let bases: Vec<Symbol> = body
        .parts()
        .filter_map(|part| match (part.operator(), part.operands()) {
            (Operator::Function(Function::LogBase), [_, base]) => base.as_symbol().cloned(),
            _ => None,
        })
        .filter(|base| base != x)
        .collect();
    bases.iter().fold(body.clone(), |body, base| {
        body.substitute(base, &Expression::integer(2))
    })
}

/// The verdict for the numbers where a formula has no value: "for which x is it undefined?"
pub(in crate::verdict) fn excluded(
    givens: &Givens,
    question: &Question,
    answer: &Answer,
) -> Option<Verdict> {
    let x = givens.letter()?;
    let variable = Expression::new(Operator::Symbol(x.clone()), []);
    let mut formulas = Vec::new();
    for formula in &answer.formulas {
        let value = match formula.as_relation() {
            Some((left, Relation::Equal | Relation::NotEqual, right))
                if left.as_symbol() == Some(&x) =>
            {
                right.clone()
            }
            Some(_) => return None,
            None => formula.clone(),
        };
        let values = match value.operator() {
            Operator::Set | Operator::List => value.operands().to_vec(),
            _ => vec![value],
        };
        formulas.extend(
            values
                .into_iter()
                .map(|value| Expression::relation(variable.clone(), Relation::NotEqual, value)),
        );
    }
    if formulas.is_empty() {
        return None;
    }
    let answer = Answer {
        formulas,
        ..Answer::default()
    };
    domain(givens, question, &answer)
}

/// The set that an answer names, whether it is of x or of another letter.
fn region(answer: &Answer, letter: &Symbol) -> Option<Region> {
    let free = answer.formulas.iter().find_map(|formula| {
        formula
            .as_relation()
            .and_then(|(left, _, right)| left.as_symbol().or(right.as_symbol()).cloned())
    });
    let named = answer
        .formulas
        .iter()
        .map(|formula| match (formula.operator(), formula.operands()) {
            // `D: (−∞, 3)`, `D = (−∞, 3)`.
            (Operator::Ratio, [_, set]) => set.clone(),
            (Operator::Relation(relations), [left, set])
                if left
                    .as_symbol()
                    .is_some_and(|l| l.name().chars().all(char::is_uppercase))
                    && matches!(relations[0], Relation::Equal | Relation::Colon) =>
            {
                set.clone()
            }
            _ => formula.clone(),
        })
        .collect();
    let answer = Answer {
        formulas: named,
        words: answer.words.clone(),
        ..Answer::default()
    };
    for letter in free.iter().chain([letter]) {
        match claims::read(&answer, letter) {
            Ok(Claim::Nothing) => return Some(Region::Empty),
            Ok(Claim::Everything) => return Some(Region::Whole),
            Ok(Claim::Region(region)) => return Some(region),
            Ok(Claim::Values(values)) => {
                let points = values.into_iter().map(|value| Region::Point(value.value));
                return Some(Region::Union(points.collect()));
            }
            Err(_) => {}
        }
    }
    None
}

fn stated(question: &Question, letter: &Symbol) -> Domain {
    let mut domain = question.domain(letter);
    // The words "domain" and "range" are no domain, and degrees do not matter.
    domain.in_degrees = false;
    domain
}

/// Expressions that are 0 where the domain begins or ends.
fn edges_of(expression: &Expression, edges: &mut Vec<Expression>) {
    let operands = expression.operands();
    match (expression.operator(), operands) {
        (Operator::Fraction, [_, below]) => edges.push(below.clone()),
        (Operator::Root, [radicand]) | (Operator::NthRoot, [radicand, _]) => {
            edges.push(radicand.clone());
        }
        (Operator::Power, [base, exponent]) if exponent.as_i64().is_none_or(|e| e < 0) => {
            edges.push(base.clone());
        }
        (Operator::Function(function), [argument, ..]) => match function {
            Function::Ln | Function::Log | Function::LogBase => edges.push(argument.clone()),
            Function::Arcsin | Function::Arccos => {
                let one = Expression::integer(1);
                edges.push(Expression::difference(argument.clone(), one.clone()));
                edges.push(Expression::sum([argument.clone(), one]));
            }
            Function::Tan | Function::Sec => {
                edges.push(Expression::function(Function::Cos, argument.clone()));
            }
            Function::Cot | Function::Csc => {
                edges.push(Expression::function(Function::Sin, argument.clone()));
            }
            _ => {}
        },
        _ => {}
    }
    operands.iter().for_each(|operand| edges_of(operand, edges));
}

/// Whether an expression has a real value at a number.
fn is_defined(body: &Expression, letter: &Symbol, value: &Expression) -> Holds {
    let here = body.substitute(letter, value);
    match Tape::new(&here, &[], Reading::default()).map(|tape| tape.over(&[])) {
        Some(Ok(over)) if over.is_total => Holds::Yes,
        Some(Err(Outside::Other)) | None => Holds::Unknown,
        Some(Err(outside)) => Holds::Outside(outside),
        Some(Ok(_)) => match crate::normal_form::normal(&here) {
            Err(crate::normal_form::Unfit::Undefined) => Holds::Outside(Outside::DivisionByZero),
            Ok(_) => Holds::Yes,
            Err(_) => Holds::Unknown,
        },
    }
}

/// The number of operations that one search for a place with a given value may take.
const BUDGET: u64 = 60_000;

/// The verdict for the range of the only function.
pub(super) fn range(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let body = givens.unfold(givens.body()?);
    let x = givens.letter()?;
    let y = Symbol::new(match x.name() {
        "y" => "x",
        _ => "y",
    });
    let region = region(answer, &y)?;
    let stated = stated(question, &x);
    let window = match &stated.region {
        None => vec![(-12.3, 12.3), (12.3, 20_001.3), (-20_001.3, -12.3)],
        Some(Region::Span {
            low,
            high,
            low_closed,
            high_closed,
        }) if (low.is_none() || *low_closed) && (high.is_none() || *high_closed) => {
            let at = |end: &Option<Expression>, open: f64| match end {
                None => Some(open),
                Some(end) => claims::bounds(end).map(|at| at.middle()),
            };
            vec![(at(low, -20_001.3)?, at(high, 20_001.3)?)]
        }
        Some(_) => {
            return Some(Verdict::cannot_tell(
                "ranges over an interval are not checked",
            ));
        }
    };
    let far = |side: f64| {
        window
            .iter()
            .any(|(low, high)| low * side > 2e4 || high * side > 2e4)
    };
    let tails: Vec<Tail> = [1.0, -1.0]
        .into_iter()
        .filter(|side| far(*side))
        .map(|side| Tail::new(&body, &x, side))
        .collect();
    let is_periodic = has_circular(&body);
    let holds = |value: &Expression| {
        let difference = Expression::difference(body.clone(), value.clone());
        if is_never_zero(&difference) {
            return Holds::No("no x has this value".into());
        }
        let Some(curve) = completeness::curve_of(&difference, &x, Reading::default()) else {
            return Holds::Unknown;
        };
        let mut budget = BUDGET;
        let mut is_complete = true;
        let mut is_possible = false;
        for (low, high) in &window {
            let zeros = roots::zeros(&curve, Interval::new(*low, *high), &mut budget);
            is_complete &= zeros.is_complete;
            for zero in zeros.found {
                if zero.is_certain {
                    return Holds::Yes;
                }
                // A value that is only touched, as at a vertex.
                let near = zero.within;
                if places_near(near)
                    .iter()
                    .any(|place| vanishes(&difference.substitute(&x, place)))
                {
                    return Holds::Yes;
                }
                // Far out it is a value that is only approached.
                is_possible |= near.middle().abs() < 50.0;
            }
        }
        let Some(wanted) = claims::bounds(value) else {
            return Holds::Unknown;
        };
        for tail in &tails {
            match tail.takes(wanted.middle()) {
                Some(true) => return Holds::Yes,
                Some(false) => {}
                None => is_complete &= is_periodic,
            }
        }
        match (is_complete, is_possible) {
            (true, false) => Holds::No("no x has this value".into()),
            _ => Holds::Unknown,
        }
    };
    let set = Set {
        variable: &y,
        curves: &[],
        domain: &Domain::default(),
        reading: Reading::default(),
        is_critical: &|_| false,
        holds: &holds,
    };
    Some(match set.verdict(&region) {
        Verdict::Fails { reason, witness } => Verdict::Fails {
            reason: match reason.starts_with("a solution") {
                true => "a value is missing".into(),
                false => "a number in the answer is no value".into(),
            },
            witness: witness.map(|told| told.replace("is a solution, but", "is a value, but")),
        },
        other => other,
    })
}

/// What values a function takes far out on one side, as far as a few of them show.
struct Tail {
    /// At greater and greater distances; empty if it has no values there.
    values: Vec<f64>,
}

impl Tail {
    fn new(body: &Expression, letter: &Symbol, side: f64) -> Self {
        let tape = Tape::new(body, std::slice::from_ref(letter), Reading::default());
        let distances = [20_001.3, 1e6, 1e9, 1e12, 1e15];
        let values = distances.iter().map_while(|distance| {
            let found = tape.as_ref()?.at(side * distance).ok()?.values;
            found.middle().is_finite().then(|| found.middle())
        });
        Self {
            values: values.collect(),
        }
    }

    /// Whether a value is taken beyond the places that were searched; none if that is not clear.
    fn takes(&self, wanted: f64) -> Option<bool> {
        let [first, .., last] = self.values.as_slice() else {
            return Some(false);
        };
        let steps: Vec<f64> = self
            .values
            .windows(2)
            .map(|pair| pair[1] - pair[0])
            .collect();
        let scale = 1e-9 * (1.0 + wanted.abs());
        if steps.iter().all(|step| step.abs() <= scale) {
            // It has come to rest.
            return match (wanted - last).abs() > 1e-6 * (1.0 + wanted.abs()) {
                true => Some(false),
                false => None,
            };
        }
        let rises = steps.iter().all(|step| *step >= 0.0);
        let falls = steps.iter().all(|step| *step <= 0.0);
        if !rises && !falls {
            return None;
        }
        let (low, high) = (first.min(*last), first.max(*last));
        if low + scale < wanted && wanted < high - scale {
            return Some(true);
        }
        // Before the first place it was searched; beyond the last one it may still be taken.
        let is_behind = if rises { wanted < low } else { wanted > high };
        let comes_to_rest = steps
            .windows(2)
            .all(|pair| pair[1].abs() <= 0.1 * pair[0].abs() + scale);
        match is_behind || comes_to_rest && (wanted - last).abs() > 1e-3 * (1.0 + wanted.abs()) {
            true => Some(false),
            false => None,
        }
    }
}

/// A circular function occurs, so that the values far out are those near 0.
fn has_circular(expression: &Expression) -> bool {
    expression.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Function(
                Function::Sin
                    | Function::Cos
                    | Function::Tan
                    | Function::Cot
                    | Function::Sec
                    | Function::Csc
            )
        )
    })
}

/// Numbers that a zero may be exactly: short fractions, also of π.
fn places_near(near: Interval) -> Vec<Expression> {
    use crate::expression::Constant;
    let slack = near.width() + 1e-4;
    let mut places = Vec::new();
    for (unit, is_pi) in [(1.0, false), (std::f64::consts::PI, true)] {
        for denominator in [1.0, 2.0, 3.0, 4.0, 6.0] {
            let numerator = libm::round(near.middle() * denominator / unit);
            if (numerator * unit / denominator - near.middle()).abs() > slack {
                continue;
            }
            let place = crate::rational::Rational::fraction(numerator as i64, denominator as i64);
            let place = Expression::rational(&place.to_big());
            places.push(match is_pi {
                true => Expression::product([place, Expression::constant(Constant::Pi)]),
                false => place,
            });
        }
    }
    places
}

/// A number is 0.
fn vanishes(value: &Expression) -> bool {
    crate::normal_form::normal(value).is_ok_and(|value| value.is_zero())
        || equivalence::same_number(value, &Expression::integer(0)) == Equivalence::Equal
}

/// The numerator is a number other than 0, or one power of a positive number.
fn is_never_zero(difference: &Expression) -> bool {
    let Ok(normal) = crate::normal_form::normal(difference) else {
        return false;
    };
    let Some((monomial, coefficient)) = normal.numerator().as_term() else {
        return false;
    };
    !coefficient.is_zero()
        && monomial.powers().iter().all(|(kernel, _)| {
            match (kernel.operator(), kernel.operands()) {
                (Operator::Power, [base, _]) => {
                    claims::bounds(base).is_some_and(|base| base.low > 0.0)
                }
                (Operator::Function(Function::Exp), _) => true,
                _ => claims::bounds(kernel).is_some_and(|value| !value.contains(0.0)),
            }
        })
}
