//! Is this the line that touches a curve, or stands upright on it?

use super::Context;
use super::derivative;
use super::implicit::{self, Curve};
use super::jet::Jet;
use super::program::{Leaves, compile, symbol_expression};
use super::quantity::all;
use super::sample;
use crate::expression::{Expression, Operator, Symbol};
use crate::verdict::Verdict;

/// A line through a point, with its direction.
struct Line {
    x: Symbol,
    y: Symbol,
    point: [f64; 2],
    direction: [f64; 2],
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(mut line) = explicit(context).or_else(|| on_curve(context)) else {
        return Verdict::cannot_tell("the curve or its point is not understood");
    };
    let normal = context
        .question
        .says(&["normal line", "line normal", "perpendicular"]);
    let name = if normal {
        "normal line"
    } else {
        "tangent line"
    };
    if normal {
        let [x, y] = line.direction;
        line.direction = [-y, x];
    }
    let verdicts: Vec<Verdict> = context
        .reply
        .claims
        .iter()
        .map(|claim| hold(context, &line, &claim.whole, name))
        .collect();
    all(verdicts)
}

/// The graph of a function at a value of its variable.
fn explicit(context: &Context<'_>) -> Option<Line> {
    let definition = context.question.definitions.first()?;
    let asked = derivative::asked(context)?;
    let x = asked.variables.first()?.clone();
    if asked.body.free_symbols().iter().any(|symbol| *symbol != x) {
        return None;
    }
    let (_, at) = asked.at.iter().find(|(letter, _)| *letter == x)?;
    let at = compile(at, &mut Leaves::default()).ok()?;
    let at = at.value(&[], context.budget)?;
    let mut leaves = Leaves::of_symbols([&x]);
    let program = compile(&asked.body, &mut leaves).ok()?;
    let jet = program.jet(&[Jet::variable(at, 2)], 2, context.budget)?;
    let y = match definition.variables.is_empty() {
        true => definition.name.clone(),
        false => Symbol::new("y"),
    };
    Some(Line {
        x,
        y,
        point: [at, jet.value()],
        direction: [1.0, jet.coefficient(1)],
    })
}

fn on_curve(context: &Context<'_>) -> Option<Line> {
    let curve = Curve::asked(context)?;
    if curve.leaves.len() != 2 {
        return None;
    }
    let point = implicit::point(context, &curve)?;
    let jet = curve.develop(&point, 2, context.budget)?;
    Some(Line {
        x: curve.x.clone(),
        y: curve.y.clone(),
        point,
        direction: [1.0, jet.coefficient(1)],
    })
}

fn hold(context: &Context<'_>, line: &Line, claim: &Expression, name: &str) -> Verdict {
    let zero = match claim.as_equation() {
        Some((left, right)) => {
            let left = match left.operator() {
                // `L(x) = ...`, `T(x) = ...`
                Operator::Apply => symbol_expression(&line.y),
                _ => left.clone(),
            };
            Expression::difference(left, right.clone())
        }
        None if matches!(claim.operator(), Operator::Relation(_)) => {
            return Verdict::cannot_tell("the answer is not the equation of a line");
        }
        None => Expression::difference(symbol_expression(&line.y), claim.clone()),
    };
    let mut leaves = Leaves::of_symbols([&line.x, &line.y]);
    let program = match compile(&zero, &mut leaves) {
        Ok(program) if leaves.len() == 2 => program,
        Ok(_) => return Verdict::cannot_tell("the answer holds a letter of its own"),
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let at = |along: f64, across: f64| {
        let [dx, dy] = line.direction;
        let x = line.point[0] + along * dx - across * dy;
        let y = line.point[1] + along * dy + across * dx;
        program
            .value(&[x, y], context.budget)
            .map(|value| (x, y, value))
    };
    // The size of what is beside the line tells what counts as zero on it.
    let beside = [at(0.0, 1.0), at(1.0, -1.0)];
    let [Some(one), Some(other)] = beside else {
        return Verdict::cannot_tell("the line of the answer could not be computed");
    };
    let size = one.2.abs().max(other.2.abs());
    if size < 1e-9 {
        return Verdict::cannot_tell("the answer is no equation of a line");
    }
    let decimals = claim.parts().any(|part| {
        part.as_number()
            .is_some_and(|n| !matches!(n.written(), crate::expression::Written::Exact))
    });
    for along in [0.0, 1.0, -2.0, 3.5] {
        let Some((x, y, value)) = at(along, 0.0) else {
            return Verdict::cannot_tell("the line of the answer could not be computed");
        };
        if value.abs() > 1e-7 * size.max(1.0) {
            if decimals && value.abs() < 0.05 * size {
                return Verdict::cannot_tell("the answer is rounded");
            }
            return Verdict::fails_at(
                format!("it is not the {name}"),
                format!(
                    "the {name} goes through ({}, {}), the line of the answer does not",
                    sample::number(x),
                    sample::number(y)
                ),
            );
        }
    }
    Verdict::Holds
}
