//! Which numbers satisfy an inequality?
//!
//! The line is cut where the two sides are equal and where one of them is not defined; on each
//! piece the inequality holds everywhere or nowhere, which a point of it shows.

use super::equations::{self, Solution};
use super::{Key, words, write};
use crate::evaluate::{Point, real_value, truth};
use crate::expression::{
    Constant, Ends, Expression, Function, Operator, Relation, SetOperation, Symbol,
};
use crate::normal_form::normal;
use crate::problem::Problem;

/// A place where the line is cut.
struct Cut {
    at: f64,
    written: Expression,
    /// It satisfies the inequality.
    belongs: bool,
}

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let [variable] = problem.variables.as_slice() else {
        return Err("there is not one unknown".into());
    };
    of_statement(main, variable)
}

/// The solution of an inequality, as an interval and as an inequality.
pub(super) fn of_statement(main: &Expression, variable: &Symbol) -> Result<Vec<Key>, String> {
    let Operator::Relation(relations) = main.operator() else {
        return Err("it is no inequality".into());
    };
    let operands = main.operands();
    let mut cuts: Vec<Cut> = Vec::new();
    for (place, relation) in relations.iter().enumerate() {
        let (left, right) = (&operands[place], &operands[place + 1]);
        let difference = Expression::difference(left.clone(), right.clone());
        let is_empty = normal(&difference).is_ok_and(|d| !crate::views::depends_on(&d, variable));
        if is_empty {
            return Err("it does not depend on the unknown".into());
        }
        let is_weak = matches!(relation, Relation::LessOrEqual | Relation::GreaterOrEqual);
        if difference.mentions(variable) {
            let (found, _) = equations::zeros(&difference, variable)?;
            add(&mut cuts, found, is_weak)?;
        }
    }
    add_edges(main, variable, &mut cuts)?;
    cuts.sort_by(|a, b| a.at.total_cmp(&b.at));
    if relations.len() > 1 {
        // A bound of one relation must satisfy the others.
        for cut in &mut cuts {
            cut.belongs &= nearly_holds(main, variable, cut.at);
        }
    }
    set(main, variable, &cuts)
}

/// Where an expression has a value: all real numbers from which roots, quotients and logarithms can
/// be taken.
pub(super) fn domain(body: &Expression, variable: &Symbol) -> Result<Vec<Key>, String> {
    // It can be compared with itself wherever it has a value.
    let itself = Expression::relation(body.clone(), Relation::LessOrEqual, body.clone());
    let zero = || write::integer(0);
    let parts = body
        .parts()
        .filter_map(|part| match (part.operator(), part.operands()) {
            (Operator::Root, [radicand]) => Some(Expression::relation(
                radicand.clone(),
                Relation::GreaterOrEqual,
                zero(),
            )),
            (Operator::Function(Function::Ln | Function::Log | Function::LogBase), [of, ..]) => {
                Some(Expression::relation(of.clone(), Relation::Greater, zero()))
            }
            _ => None,
        });
    let all = Expression::new(Operator::List, std::iter::once(itself).chain(parts));
    let mut cuts = Vec::new();
    add_edges(&all, variable, &mut cuts)?;
    cuts.sort_by(|a, b| a.at.total_cmp(&b.at));
    set(&all, variable, &cuts)
}

/// Cuts where a part of an inequality ceases to be defined.
fn add_edges(main: &Expression, variable: &Symbol, cuts: &mut Vec<Cut>) -> Result<(), String> {
    for part in main.parts() {
        let edge = match (part.operator(), part.operands()) {
            (Operator::Fraction, [_, below]) => below,
            (Operator::Root, [radicand]) => radicand,
            (Operator::Function(Function::Ln | Function::Log | Function::LogBase), [of, ..]) => of,
            _ => continue,
        };
        if edge.mentions(variable) {
            let (found, _) = equations::zeros(edge, variable)?;
            // The edge of a root's domain may belong to the solution.
            let mut more = Vec::new();
            add(&mut more, found, false)?;
            for mut cut in more {
                if matches!(part.operator(), Operator::Root) {
                    cut.belongs = holds(main, variable, cut.at);
                }
                match cuts
                    .iter_mut()
                    .find(|known| (known.at - cut.at).abs() < 1e-9)
                {
                    Some(known) => known.belongs &= matches!(part.operator(), Operator::Root),
                    None => cuts.push(cut),
                }
            }
        }
    }
    Ok(())
}

fn add(cuts: &mut Vec<Cut>, found: Vec<Solution>, belongs: bool) -> Result<(), String> {
    for solution in found {
        let Solution::Number(written) = solution else {
            return Err("the bounds are angles".into());
        };
        let at = real_value(&written, &Point::new()).map_err(|_| "a bound has no value")?;
        if !cuts.iter().any(|known| (known.at - at).abs() < 1e-9) {
            cuts.push(Cut {
                at,
                written,
                belongs,
            });
        }
    }
    Ok(())
}

fn holds(main: &Expression, variable: &Symbol, at: f64) -> bool {
    truth(main, &Point::new().with(variable.clone(), at)).unwrap_or(false)
}

/// It holds at the point or right beside it.
fn nearly_holds(main: &Expression, variable: &Symbol, at: f64) -> bool {
    [-1e-7, 0.0, 1e-7]
        .iter()
        .any(|shift| holds(main, variable, at + shift))
}

/// The solution as intervals and as inequalities.
fn set(main: &Expression, variable: &Symbol, cuts: &[Cut]) -> Result<Vec<Key>, String> {
    let infinity = || Expression::constant(Constant::Infinity);
    let count = cuts.len();
    // Pieces and cuts in turn, from the left.
    let piece = |place: usize| {
        let at = match (place.checked_sub(1).map(|p| cuts[p].at), cuts.get(place)) {
            (None, None) => 0.3,
            (None, Some(high)) => high.at - 1.37,
            (Some(low), None) => low + 1.37,
            (Some(low), Some(high)) => low + 0.4371 * (high.at - low),
        };
        holds(main, variable, at)
    };
    let pieces: Vec<bool> = (0..=count).map(piece).collect();
    let mut intervals: Vec<(Option<usize>, Option<usize>)> = Vec::new();
    let mut points: Vec<usize> = Vec::new();
    let mut start: Option<Option<usize>> = None;
    for place in 0..=count {
        if pieces[place] && start.is_none() {
            start = Some(place.checked_sub(1));
        }
        let is_isolated =
            place < count && cuts[place].belongs && !pieces[place] && !pieces[place + 1];
        if is_isolated {
            points.push(place);
        }
        let ends_here = place == count || !pieces[place + 1] || !cuts[place].belongs;
        if pieces[place] && ends_here {
            let end = (place < count).then_some(place);
            if let Some(start) = start.take() {
                intervals.push((start, end));
            }
        }
    }
    if intervals.is_empty() && points.is_empty() {
        return words("no solution");
    }
    if intervals == [(None, None)] {
        return Ok(vec![
            Key::Words("all real numbers"),
            Key::Formula(Expression::new(
                Operator::Interval(Ends {
                    lower_closed: false,
                    upper_closed: false,
                }),
                [Expression::negative(infinity()), infinity()],
            )),
        ]);
    }
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    if intervals.is_empty() {
        let items = points
            .iter()
            .map(|place| Expression::equation(name.clone(), cuts[*place].written.clone()));
        return Ok(vec![Key::Formula(write::list(items.collect()))]);
    }
    if !points.is_empty() {
        return Err("the solution has isolated points".into());
    }
    let closed = |end: &Option<usize>| end.is_some_and(|place| cuts[place].belongs);
    let bound = |end: &Option<usize>| end.map(|place| cuts[place].written.clone());
    let sets: Vec<Expression> = intervals
        .iter()
        .map(|(low, high)| {
            let ends = Ends {
                lower_closed: closed(low),
                upper_closed: closed(high),
            };
            Expression::new(
                Operator::Interval(ends),
                [
                    bound(low).unwrap_or_else(|| Expression::negative(infinity())),
                    bound(high).unwrap_or_else(infinity),
                ],
            )
        })
        .collect();
    let statements: Vec<Expression> = intervals
        .iter()
        .map(|(low, high)| inequality(&name, bound(low), closed(low), bound(high), closed(high)))
        .collect();
    let as_set = match sets.len() {
        1 => sets.into_iter().next(),
        _ => Some(Expression::new(
            Operator::SetOperation(SetOperation::Union),
            sets,
        )),
    };
    let as_set = as_set.map(Key::Formula);
    let as_statement = (statements.len() == 1)
        .then(|| statements.into_iter().next())
        .flatten()
        .map(Key::Formula);
    // One interval is read more easily as an inequality.
    let is_linear = normal(&main.operands()[0])
        .ok()
        .and_then(|left| crate::views::degree_in(&left, variable))
        == Some(1);
    Ok(match is_linear {
        true => as_statement.into_iter().chain(as_set).collect(),
        false => as_set.into_iter().chain(as_statement).collect(),
    })
}

fn inequality(
    name: &Expression,
    low: Option<Expression>,
    low_closed: bool,
    high: Option<Expression>,
    high_closed: bool,
) -> Expression {
    let less = |closed: bool| match closed {
        true => Relation::LessOrEqual,
        false => Relation::Less,
    };
    let name = name.clone();
    match (low, high) {
        (Some(low), Some(high)) => Expression::new(
            Operator::Relation([less(low_closed), less(high_closed)].into_iter().collect()),
            [low, name, high],
        ),
        (Some(low), None) => {
            let sign = match low_closed {
                true => Relation::GreaterOrEqual,
                false => Relation::Greater,
            };
            Expression::relation(name, sign, low)
        }
        (None, Some(high)) => Expression::relation(name, less(high_closed), high),
        (None, None) => {
            Expression::relation(name, Relation::In, Expression::constant(Constant::Reals))
        }
    }
}
