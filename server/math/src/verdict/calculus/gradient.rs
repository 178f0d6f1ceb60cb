//! Is this the gradient, or the derivative in a direction?

use super::Context;
use super::derivative::asked;
use super::program::{Leaves, compile, symbol_expression};
use super::quantity::{Quantity, all};
use super::question::{self, Claim};
use super::sample;
use crate::expression::{Expression, Operator};
use crate::verdict::Verdict;

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(asked) = asked(context) else {
        return Verdict::cannot_tell("it is not clear what is to be differentiated");
    };
    let mut slopes = Vec::new();
    for letter in &asked.variables {
        match crate::derivative::derivative(&asked.body, letter) {
            Some(slope) => slopes.push(slope),
            None => return Verdict::cannot_tell("the derivative could not be taken"),
        }
    }
    let mut at = asked.at.clone();
    let directional = context.question.says(&["directional", "direction of"]);
    let direction = direction(context, slopes.len());
    // `P(1, 2)`: a point with a name.
    let named = context.question.formulas.iter().find_map(|formula| {
        match (formula.operator(), formula.operands()) {
            (Operator::Apply, [name, point @ ..])
                if name
                    .as_symbol()
                    .is_some_and(|name| name.name().chars().all(char::is_uppercase))
                    && point.len() == slopes.len()
                    && point.iter().all(|entry| entry.free_symbols().is_empty()) =>
            {
                Some(point)
            }
            _ => None,
        }
    });
    if let Some(point) = named {
        at = asked
            .variables
            .iter()
            .cloned()
            .zip(point.iter().cloned())
            .collect();
    }
    let steepest = context.question.says(&[
        "maximum rate of change",
        "maximum value of the directional derivative",
        "maximum directional derivative",
    ]);
    if (directional || steepest) && at.is_empty() {
        // The point is the first pair or triple that is not the direction.
        let point = context.question.formulas.iter().find_map(|formula| {
            let is_point = matches!(
                formula.operator(),
                Operator::Tuple(crate::expression::Brackets::Round) | Operator::Interval(_)
            );
            (is_point && formula.operands().len() == slopes.len()).then(|| formula.operands())
        });
        if let Some(point) = point {
            at = asked
                .variables
                .iter()
                .cloned()
                .zip(point.iter().cloned())
                .collect();
        }
    }
    for slope in &mut slopes {
        for (letter, value) in &at {
            *slope = slope.substitute(letter, value);
        }
    }
    let variables: Vec<Expression> = asked.variables.iter().map(symbol_expression).collect();
    let verdicts: Vec<Verdict> = context
        .reply
        .claims
        .iter()
        .map(|claim| {
            if steepest {
                let Some(true) = claim
                    .values
                    .last()
                    .map(|value| question::components(value).is_none())
                else {
                    return Verdict::cannot_tell("the direction is not checked here");
                };
                let square = |d: &Expression| Expression::power(d.clone(), Expression::integer(2));
                let length = Expression::root(Expression::sum(slopes.iter().map(square)));
                return compare(
                    context,
                    &length,
                    claim,
                    &variables,
                    "the greatest rate of change",
                );
            }
            if directional {
                let Some(direction) = &direction else {
                    return Verdict::cannot_tell("the direction is not understood");
                };
                let products = slopes.iter().zip(direction);
                let above = Expression::sum(
                    products.map(|(s, d)| Expression::product([s.clone(), d.clone()])),
                );
                let square = |d: &Expression| Expression::power(d.clone(), Expression::integer(2));
                let length = Expression::root(Expression::sum(direction.iter().map(square)));
                let slope = Expression::fraction(above, length);
                return compare(
                    context,
                    &slope,
                    claim,
                    &variables,
                    "the derivative in this direction",
                );
            }
            let Some(value) = claim.values.last() else {
                return Verdict::cannot_tell("the answer holds no vector");
            };
            let Some(components) = question::components(value) else {
                return Verdict::cannot_tell("the answer holds no vector");
            };
            if components.len() != slopes.len() {
                return Verdict::fails_at(
                    "it has another number of components",
                    format!(
                        "the gradient has {}, the answer {}",
                        slopes.len(),
                        components.len()
                    ),
                );
            }
            all(slopes
                .iter()
                .zip(components)
                .zip(&asked.variables)
                .map(|((slope, component), letter)| {
                    let claim = Claim {
                        label: None,
                        values: vec![component.clone()],
                        rounded: None,
                        whole: component,
                    };
                    let name = format!("the derivative by {}", letter.name());
                    compare(context, slope, &claim, &variables, &name)
                })
                .collect::<Vec<_>>())
        })
        .collect();
    all(verdicts)
}

fn direction(context: &Context<'_>, count: usize) -> Option<Vec<Expression>> {
    let formulas = context.question.formulas.iter().rev();
    formulas
        .map(|formula| formula.as_equation().map_or(formula, |(_, right)| right))
        .filter(|formula| !matches!(formula.operator(), Operator::Interval(_)))
        .find_map(question::components)
        .filter(|components| components.len() == count)
}

fn compare(
    context: &Context<'_>,
    truth: &Expression,
    claim: &Claim,
    variables: &[Expression],
    name: &str,
) -> Verdict {
    let mut leaves = Leaves::default();
    let program = match compile(truth, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let value = |place: &[f64]| program.value(place, context.budget);
    let quantity = Quantity {
        name,
        leaves,
        variables: variables.to_vec(),
        smooth: sample::is_smooth(truth),
        tolerance: 0.0,
        value: &value,
    };
    quantity.judge(context, claim)
}
