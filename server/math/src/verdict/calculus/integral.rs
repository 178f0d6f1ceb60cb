//! Is this the value of the integral?

use super::Context;
use super::antiderivative;
use super::definite::{Integral, Value};
use super::program::{Leaves, compile};
use super::quantity::{Quantity, all};
use super::question::Claim;
use super::sample;
use crate::expression::{Bounds, Expression, Integration, Operator, SetOperation};
use crate::verdict::Verdict;

/// What an answer says about convergence.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Said {
    Converges,
    Diverges,
    Nothing,
}

/// What the words of an answer say.
pub(super) fn said(words: &str) -> Said {
    if words.contains("diverge")
        || words.contains("does not converge")
        || words.contains("not exist")
        || words.contains(" dne ")
    {
        return Said::Diverges;
    }
    match words.contains("converge") {
        true => Said::Converges,
        false => Said::Nothing,
    }
}

/// A quantity as a function of the values of its leaves.
type Function<'a> = dyn Fn(&[f64]) -> Option<f64> + 'a;

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let question = context.question;
    let definite = question.formulas.iter().find_map(|formula| {
        let sides = match formula.operator() {
            Operator::Relation(_) => formula.operands(),
            _ => std::slice::from_ref(formula),
        };
        let mut sides = sides.iter();
        sides.find(|side| {
            side.parts().any(|part| {
                matches!(part.operator(), Operator::Integral(integration)
                    if integration.bounds == Bounds::Between)
            })
        })
    });
    match definite {
        Some(definite) => value(context, &question.expanded(definite), "the integral"),
        None => {
            let is_region = |operator: &Operator| {
                matches!(operator, Operator::Integral(integration)
                    if integration.bounds == Bounds::Region || integration.variables != 1)
            };
            if let Some(iterated) = over_rectangle(context) {
                return value(context, &question.expanded(&iterated), "the integral");
            }
            if question.has(is_region) {
                return Verdict::cannot_tell("integrals over regions and paths are not checked");
            }
            match antiderivative::asked(context) {
                Some(asked) => antiderivative::judge(context, &asked),
                None => Verdict::cannot_tell("it is not clear what is to be integrated"),
            }
        }
    }
}

/// A double integral over a rectangle that a formula gives, as an iterated one.
fn over_rectangle(context: &Context<'_>) -> Option<Expression> {
    let formulas = &context.question.formulas;
    let (body, region) =
        formulas
            .iter()
            .find_map(|formula| match (formula.operator(), formula.operands()) {
                (Operator::Integral(integration), [body, _, region])
                    if integration.bounds == Bounds::Region && integration.signs == 2 =>
                {
                    Some((body, region))
                }
                _ => None,
            })?;
    let set = match region.as_symbol() {
        Some(_) => formulas.iter().find_map(|formula| {
            let (left, right) = formula.as_equation()?;
            (left == region).then_some(right)
        })?,
        None => region,
    };
    let named = |name: &str| Expression::symbol(name);
    let ranges: Vec<(Expression, Expression, Expression)> = match (set.operator(), set.operands()) {
        (Operator::SetOperation(SetOperation::Product), [first, second]) => {
            let (a, b, _) = first.as_interval()?;
            let (c, d, _) = second.as_interval()?;
            vec![
                (named("x"), a.clone(), b.clone()),
                (named("y"), c.clone(), d.clone()),
            ]
        }
        (Operator::SetBuilder, [_, condition]) => condition
            .operands()
            .iter()
            .map(|chain| match (chain.operator(), chain.operands()) {
                (Operator::Relation(_), [low, letter, high]) => {
                    letter.as_symbol()?;
                    Some((letter.clone(), low.clone(), high.clone()))
                }
                _ => None,
            })
            .collect::<Option<Vec<_>>>()?,
        _ => return None,
    };
    if ranges.len() != 2 {
        return None;
    }
    // Bounds that hold the other letter belong inside.
    let mut ranges = ranges;
    let holds_letters = |(_, low, high): &(Expression, Expression, Expression)| {
        !low.free_symbols().is_empty() || !high.free_symbols().is_empty()
    };
    ranges.sort_by_key(holds_letters);
    if holds_letters(&ranges[0]) {
        return None;
    }
    let kind = Integration {
        signs: 1,
        closed: false,
        variables: 1,
        bounds: Bounds::Between,
    };
    let iterated = ranges
        .into_iter()
        .rev()
        .fold(body.clone(), |inner, (letter, low, high)| {
            Expression::new(Operator::Integral(kind), [inner, letter, low, high])
        });
    Some(iterated)
}

/// The claims about the value of a formula that holds a definite integral.
pub(super) fn value(context: &Context<'_>, formula: &Expression, name: &str) -> Verdict {
    let said = said(&context.reply.words);
    let claims = &context.reply.claims;
    if let (Operator::Integral(_), [body, variable, from, to]) =
        (formula.operator(), formula.operands())
        && let Some(variable) = variable.as_symbol()
    {
        let integral = match Integral::new(body, variable, from, to) {
            Ok(integral) => integral,
            Err(reason) => return Verdict::cannot_tell(reason),
        };
        return one(
            context,
            &integral,
            said,
            claims,
            name,
            sample::is_smooth(body),
        );
    }
    let mut leaves = Leaves::default();
    let program = match compile(formula, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    if claims.is_empty() || said == Said::Diverges {
        return Verdict::cannot_tell("convergence is not checked here");
    }
    let value = |place: &[f64]| program.value(place, context.budget);
    let quantity = Quantity {
        name,
        leaves,
        variables: Vec::new(),
        smooth: false,
        tolerance: 1e-8,
        value: &value,
    };
    all(claims
        .iter()
        .map(|claim| quantity.judge(context, claim))
        .collect::<Vec<_>>())
}

fn one(
    context: &Context<'_>,
    integral: &Integral,
    said: Said,
    claims: &[Claim],
    name: &str,
    smooth: bool,
) -> Verdict {
    let count = integral.parameters();
    // The first parameters that come to something.
    let places = (0..4).map(|attempt| {
        (0..count)
            .map(|rank| 0.5 + 2.0 * sample::fraction(attempt, rank as u64))
            .collect::<Vec<f64>>()
    });
    let first = places
        .map(|place| integral.value(&place, context))
        .find(|value| *value != Value::Unknown)
        .unwrap_or(Value::Unknown);
    let infinite = claims.iter().find_map(|claim| {
        let value = claim.values.last()?;
        super::program::signed_infinity(value)
    });
    match first {
        Value::Unknown if context.budget.is_spent() => {
            Verdict::cannot_tell(super::program::TOO_LARGE)
        }
        Value::Unknown => Verdict::cannot_tell(format!("{name} could not be computed")),
        Value::Diverges(_) if count > 0 && said == Said::Nothing => {
            Verdict::cannot_tell("whether it converges may depend on the letters")
        }
        Value::Diverges(sign) => match (said, infinite) {
            (Said::Converges, _) => Verdict::Fails {
                reason: format!("{name} diverges"),
                witness: None,
            },
            (_, Some(positive)) => match sign {
                Some(sign) if sign == positive => Verdict::Holds,
                Some(_) => Verdict::Fails {
                    reason: format!("{name} tends to infinity with the other sign"),
                    witness: None,
                },
                None => Verdict::cannot_tell("it diverges, but perhaps not to infinity"),
            },
            (Said::Diverges, None) => Verdict::Holds,
            (Said::Nothing, None) if claims.is_empty() => {
                Verdict::cannot_tell("the answer holds no formula")
            }
            (Said::Nothing, None) => Verdict::Fails {
                reason: format!("{name} diverges"),
                witness: None,
            },
        },
        Value::Finite { value, error } => {
            if said == Said::Diverges || infinite.is_some() {
                return match count {
                    0 => Verdict::fails_at(
                        format!("{name} converges"),
                        format!("its value is about {}", sample::number(value)),
                    ),
                    _ => Verdict::cannot_tell("whether it converges may depend on the letters"),
                };
            }
            if claims.is_empty() {
                return match said {
                    Said::Converges if count == 0 => Verdict::Holds,
                    _ => Verdict::cannot_tell("the answer holds no formula"),
                };
            }
            let (leaves, value): (Leaves, Box<Function<'_>>) = match count {
                0 => (Leaves::default(), Box::new(move |_: &[f64]| Some(value))),
                _ => (
                    Leaves::of(integral.leaves.as_slice()[..count].iter().cloned()),
                    Box::new(|place: &[f64]| match integral.value(place, context) {
                        Value::Finite { value, error } if error < 1e-8 * (1.0 + value.abs()) => {
                            Some(value)
                        }
                        _ => None,
                    }),
                ),
            };
            let quantity = Quantity {
                name,
                leaves,
                variables: Vec::new(),
                smooth,
                tolerance: if count == 0 { 1e-7 } else { 1e-8 },
                value: &*value,
            };
            let claims = claims.iter().filter(|claim| !claim.values.is_empty());
            let verdict = all(claims
                .map(|claim| quantity.judge(context, claim))
                .collect::<Vec<_>>());
            match verdict {
                // A difference must be greater than what quadrature may be off.
                Verdict::Fails { .. }
                    if error > 1e-6 * (1.0 + value(&[]).map_or(0.0, f64::abs)) =>
                {
                    Verdict::cannot_tell(format!("{name} could not be computed exactly enough"))
                }
                verdict => verdict,
            }
        }
    }
}
