//! Where is a function defined, and which values does it take?

use super::Givens;
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::verdict::Verdict;
use crate::verdict::answer::Answer;
use crate::verdict::claims::{self, Claim, Region};
use crate::verdict::completeness;
use crate::verdict::inequalities::Set;
use crate::verdict::interval::{Interval, Outside, Reading, Tape};
use crate::verdict::question::{Domain, Question};
use crate::verdict::roots;
use crate::verdict::substitution::Holds;

/// The verdict for the domain of the only function.
pub(super) fn domain(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let body = givens.unfold(givens.body()?);
    let x = givens.letter()?;
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
        Some(_) => {
            return Some(Verdict::cannot_tell(
                "ranges over an interval are not checked",
            ));
        }
    };
    let holds = |value: &Expression| {
        let difference = Expression::difference(body.clone(), value.clone());
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
                for denominator in [1.0, 2.0, 3.0, 4.0, 6.0] {
                    let numerator = libm::round(near.middle() * denominator);
                    let place =
                        crate::rational::Rational::fraction(numerator as i64, denominator as i64);
                    let place = Expression::rational(&place.to_big());
                    let here = difference.substitute(&x, &place);
                    let slack = near.width() + 1e-4;
                    if (numerator / denominator - near.middle()).abs() <= slack
                        && crate::normal_form::normal(&here).is_ok_and(|here| here.is_zero())
                    {
                        return Holds::Yes;
                    }
                }
                // Far out it is a value that is only approached.
                is_possible |= near.middle().abs() < 50.0;
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
