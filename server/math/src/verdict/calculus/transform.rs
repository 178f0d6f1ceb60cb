//! Is this the Laplace transform, or the function that has it?
//!
//! Both questions are one: ∫₀^∞ e^{−st} f(t) dt must equal F(s), for some s beyond which the integral
//! converges.

use super::Context;
use super::definite::{Integral, Value};
use super::program::{Leaves, compile};
use super::quantity::all;
use super::sample;
use crate::expression::{Constant, Expression, Operator, Style, Symbol};
use crate::verdict::Verdict;

/// The operator 𝓛, however it is set.
pub(super) fn is_laplace(function: &Expression) -> bool {
    function.as_symbol().is_some_and(|symbol| {
        symbol.name() == "ℒ"
            || (symbol.name() == "L"
                && matches!(symbol.style(), Style::Calligraphic | Style::Plain))
    })
}

/// A transform that a formula names: its operand, and whether it is the inverse one.
pub(super) fn named(formula: &Expression) -> Option<(Expression, bool)> {
    let (Operator::Apply, [function, operand]) = (formula.operator(), formula.operands()) else {
        return None;
    };
    let operand = match (operand.operator(), operand.operands()) {
        (Operator::Set, [only]) => only.clone(),
        _ => operand.clone(),
    };
    match (function.operator(), function.operands()) {
        (Operator::InverseFunction, [inner]) if is_laplace(inner) => Some((operand, true)),
        _ if is_laplace(function) => Some((operand, false)),
        _ => None,
    }
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let question = context.question;
    let written = question
        .formulas
        .iter()
        .find_map(|formula| match formula.as_equation() {
            Some((left, right)) => named(left).or_else(|| named(right)),
            None => named(formula),
        });
    let (given, inverse) = match written {
        Some(written) => written,
        None => {
            let body = match question.definitions.first() {
                Some(definition) => definition.body.clone(),
                None => match question.formulas.first() {
                    Some(formula) => formula.clone(),
                    None => return Verdict::cannot_tell("the function is not understood"),
                },
            };
            (body, question.says(&["inverse"]))
        }
    };
    let given = question.expanded(&given);
    let claims = context.reply.claims.iter().filter_map(|claim| {
        let label = claim.label.as_ref();
        // `\mathcal{L}\{f\} = ...` is a name, too.
        let _ = label;
        claim.values.last()
    });
    let verdicts: Vec<Verdict> = claims
        .map(|value| match inverse {
            true => hold(context, value, &given, true),
            false => hold(context, &given, value, false),
        })
        .collect();
    all(verdicts)
}

fn hold(
    context: &Context<'_>,
    original: &Expression,
    image: &Expression,
    inverse: bool,
) -> Verdict {
    let (t, s) = (Symbol::new("t"), Symbol::new("s"));
    let usual =
        |expression: &Expression, first: &Symbol, other: &str| match expression.mentions(first) {
            true => first.clone(),
            false => Symbol::new(other),
        };
    let t = usual(
        original,
        &t,
        if original.mentions(&Symbol::new("x")) {
            "x"
        } else {
            "t"
        },
    );
    let s = usual(
        image,
        &s,
        if image.mentions(&Symbol::new("p")) {
            "p"
        } else {
            "s"
        },
    );
    if original.mentions(&s) || image.mentions(&t) {
        return Verdict::cannot_tell("the letters of the transform are not understood");
    }
    let symbol = super::program::symbol_expression;
    let decay = Expression::power(
        Expression::constant(Constant::E),
        Expression::negative(Expression::product([symbol(&s), symbol(&t)])),
    );
    let body = Expression::product([decay, original.clone()]);
    let infinity = Expression::constant(Constant::Infinity);
    let integral = match Integral::new(&body, &t, &Expression::integer(0), &infinity) {
        Ok(integral) => integral,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let count = integral.parameters();
    let mut leaves = Leaves::of(integral.leaves.as_slice()[..count].iter().cloned());
    let image = match compile(image, &mut leaves) {
        Ok(image) => image,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let place_of_s = leaves.place(&symbol(&s));
    let (mut agreed, mut differed) = (0, None);
    for attempt in 0..8 {
        let mut place: Vec<f64> = (0..leaves.len())
            .map(|rank| 0.5 + 2.0 * sample::fraction(attempt, rank as u64))
            .collect();
        place[place_of_s] = 9.0 + 2.3 * attempt as f64;
        let Value::Finite { value, error } = integral.value(&place[..count], context) else {
            continue;
        };
        let Some(given) = image.value(&place, context.budget) else {
            continue;
        };
        let size = value.abs().max(given.abs());
        let distance = (value - given).abs();
        if distance <= 1e-7 * size + 20.0 * error {
            agreed += 1;
        } else if distance > 1e-4 * size + 1e3 * error {
            differed.get_or_insert((place[place_of_s], value, given));
        }
        if agreed >= 4 {
            break;
        }
    }
    match (agreed, differed) {
        (3.., None) => Verdict::Holds,
        (0, Some((at, value, given))) => {
            let (value, given) = sample::numbers(value, given);
            let told = match inverse {
                true => format!(
                    "at {} = {} its transform is {value}, and should be {given}",
                    s.name(),
                    sample::number(at)
                ),
                false => format!(
                    "at {} = {} the transform is {value}, the answer gives {given}",
                    s.name(),
                    sample::number(at)
                ),
            };
            Verdict::fails_at(
                match inverse {
                    true => "it is not the inverse transform",
                    false => "it is not the transform",
                },
                told,
            )
        }
        _ if context.budget.is_spent() => Verdict::cannot_tell(super::program::TOO_LARGE),
        _ => Verdict::cannot_tell("the transform could not be computed"),
    }
}
