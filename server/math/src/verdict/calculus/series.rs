//! Is this the sum of the series, and does it converge?

use super::Context;
use super::integral::{Said, said};
use super::program::{Leaves, compile, signed_infinity};
use super::quantity::{Quantity, all};
use super::question::Claim;
use super::sample;
use super::summation::Series;
use crate::expression::{Expression, Operator};
use crate::verdict::Verdict;

/// What an answer says of the way a series converges.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Way {
    Absolutely,
    Conditionally,
    Either,
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let question = context.question;
    let formula = question.formulas.iter().find_map(|formula| {
        let sides = match formula.operator() {
            Operator::Relation(_) => formula.operands(),
            _ => std::slice::from_ref(formula),
        };
        sides.iter().find(|side| {
            side.parts()
                .any(|part| matches!(part.operator(), Operator::Series(..)))
        })
    });
    let Some(formula) = formula else {
        return Verdict::cannot_tell("the series is not understood");
    };
    let formula = question.expanded(formula);
    match Series::read(&formula) {
        Some(series) => infinite(context, &series),
        None => value(context, &formula),
    }
}

fn infinite(context: &Context<'_>, series: &Series) -> Verdict {
    let question = context.question;
    let words = &context.reply.words;
    let said = first_said(words);
    let way = match () {
        () if words.contains("conditional") => Way::Conditionally,
        () if words.contains("not absolute") => Way::Conditionally,
        () if words.contains("absolute") => Way::Absolutely,
        () => Way::Either,
    };
    let numbers: Vec<&Claim> = context
        .reply
        .claims
        .iter()
        .filter(|claim| !claim.values.is_empty())
        .collect();
    let asks_sum = question.says(&[
        "sum",
        "evaluate",
        "find its",
        "if it converges",
        "if convergent",
        "value",
    ]);
    let infinite_claim = numbers
        .iter()
        .find_map(|claim| signed_infinity(claim.values.last()?));
    let wants_sum = said == Said::Nothing && way == Way::Either
        || (asks_sum && words.contains("to $"))
        || (asks_sum && numbers.len() == 1 && numbers[0].label.is_none());
    let count = series.leaves.len();
    let roles = sample::roles(&series.leaves, series.leaves.as_slice());
    let place: Vec<f64> = match count {
        0 => Vec::new(),
        _ => sample::place(&roles, 0).iter().map(|v| v * 0.3).collect(),
    };
    let known = series.converges(&place, context);
    if context.budget.is_spent() {
        return Verdict::cannot_tell(super::program::TOO_LARGE);
    }
    let Some((converges, absolutely)) = known else {
        return Verdict::cannot_tell("whether the series converges could not be found");
    };
    if said != Said::Nothing || way != Way::Either || infinite_claim.is_some() {
        if count > 0 {
            return Verdict::cannot_tell("whether it converges may depend on the letters");
        }
        let diverges = said == Said::Diverges || infinite_claim.is_some();
        if diverges {
            return match converges {
                false => Verdict::Holds,
                true => Verdict::Fails {
                    reason: "the series converges".into(),
                    witness: series
                        .sum(&[], context)
                        .map(|sum| format!("its sum is about {}", sample::number(sum))),
                },
            };
        }
        if !converges {
            return Verdict::Fails {
                reason: "the series diverges".into(),
                witness: match series.terms_tend_to(&[], context) {
                    Some(super::germ::Tendency::Finite(0.0)) | None => None,
                    Some(_) => Some("its terms do not tend to zero".into()),
                },
            };
        }
        match (way, absolutely) {
            (Way::Absolutely, false) => {
                return Verdict::fails_at(
                    "it converges only conditionally",
                    "the series of absolute values diverges",
                );
            }
            (Way::Conditionally, true) => {
                return Verdict::fails_at(
                    "it converges absolutely",
                    "the series of absolute values converges",
                );
            }
            _ => {}
        }
        if !wants_sum || numbers.is_empty() {
            return Verdict::Holds;
        }
    } else if numbers.is_empty() {
        return Verdict::cannot_tell("the answer holds no formula");
    }
    if !converges {
        return match count {
            0 => Verdict::Fails {
                reason: "the series diverges".into(),
                witness: None,
            },
            _ => Verdict::cannot_tell("whether it converges may depend on the letters"),
        };
    }
    let sum = |letters: &[f64]| series.sum(letters, context);
    if count == 0 && sum(&[]).is_none() {
        return Verdict::cannot_tell("the sum could not be computed");
    }
    let quantity = Quantity {
        name: "the sum",
        leaves: series.leaves.clone(),
        variables: series.leaves.as_slice().to_vec(),
        smooth: true,
        tolerance: 1e-9,
        value: &sum,
    };
    all(numbers
        .iter()
        .map(|claim| quantity.judge(context, claim))
        .collect::<Vec<_>>())
}

/// What is said first: "converges, although the harmonic series diverges".
fn first_said(words: &str) -> Said {
    let at = |word: &str| words.find(word).unwrap_or(usize::MAX);
    match said(words) {
        Said::Diverges if at("converge") < at("diverge") && !words.contains("not converge") => {
            Said::Converges
        }
        said => said,
    }
}

/// A formula with finite sums in it, or with infinite ones that converge fast.
fn value(context: &Context<'_>, formula: &Expression) -> Verdict {
    let mut leaves = Leaves::default();
    let program = match compile(formula, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let value = |place: &[f64]| program.value(place, context.budget);
    if leaves.len() == 0 && value(&[]).is_none() {
        return Verdict::cannot_tell("the sum could not be computed");
    }
    let quantity = Quantity {
        name: "the sum",
        leaves,
        variables: Vec::new(),
        smooth: true,
        tolerance: 0.0,
        value: &value,
    };
    let claims = context
        .reply
        .claims
        .iter()
        .filter(|claim| !claim.values.is_empty());
    all(claims
        .map(|claim| quantity.judge(context, claim))
        .collect::<Vec<_>>())
}
