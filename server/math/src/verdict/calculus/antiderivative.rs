//! Is this an antiderivative?

use super::Context;
use super::jet::Jet;
use super::program::{Leaves, compile, symbol_expression};
use super::quantity::{all, replace};
use super::question;
use super::sample::{self, Comparison};
use crate::expression::{Bounds, Expression, Operator, Symbol};
use crate::verdict::Verdict;

/// The integrand of an indefinite integral and its letter.
pub(super) struct Asked {
    pub(super) integrand: Expression,
    pub(super) by: Symbol,
}

/// The indefinite integral that is asked for: as written, or of the formula that stands alone.
pub(super) fn asked(context: &Context<'_>) -> Option<Asked> {
    let question = context.question;
    for formula in &question.formulas {
        let written = match formula.as_equation() {
            Some((left, right)) => match right.operator() {
                Operator::Integral(_) => right,
                _ => left,
            },
            None => formula,
        };
        if let (Operator::Integral(integration), [integrand, letter]) =
            (written.operator(), written.operands())
            && integration.bounds == Bounds::None
            && integration.variables == 1
        {
            return Some(Asked {
                integrand: question.expanded(integrand),
                by: letter.as_symbol()?.clone(),
            });
        }
    }
    // A sum or multiple of indefinite integrals is the integral of what its derivative is.
    for formula in &question.formulas {
        let by = formula.parts().find_map(|part| match part.operator() {
            Operator::Integral(integration) if integration.bounds == Bounds::None => {
                part.operands().get(1)?.as_symbol()
            }
            _ => None,
        });
        if let Some(by) = by
            && !matches!(formula.operator(), Operator::Relation(_))
        {
            return Some(Asked {
                integrand: crate::derivative::derivative(formula, by)?,
                by: by.clone(),
            });
        }
    }
    let definition = question.definitions.first();
    let integrand = match definition {
        Some(definition) => definition.body.clone(),
        None => question
            .formulas
            .iter()
            .find(|formula| {
                !matches!(
                    formula.operator(),
                    Operator::Relation(_) | Operator::Interval(_)
                ) && formula.as_symbol().is_none()
            })?
            .clone(),
    };
    let by = match definition.and_then(|definition| definition.variables.first()) {
        Some(variable) => variable.clone(),
        None => question::variables(&integrand)
            .into_iter()
            .next()
            .unwrap_or_else(|| Symbol::new("x")),
    };
    Some(Asked { integrand, by })
}

pub(super) fn judge(context: &Context<'_>, asked: &Asked) -> Verdict {
    let claims = &context.reply.claims;
    let [claim] = claims.as_slice() else {
        return match claims.is_empty() {
            true => Verdict::cannot_tell("the answer holds no formula"),
            false => Verdict::cannot_tell("the answer holds several formulas"),
        };
    };
    let verdicts: Vec<Verdict> = claim
        .values
        .iter()
        .map(|value| hold(context, asked, value))
        .collect();
    let verdict = all(verdicts);
    if let Some((at, wanted)) = given_value(context, asked)
        && verdict == Verdict::Holds
    {
        return goes_through(context, asked, claim.values.last(), &at, &wanted);
    }
    // An integral sign without bounds stands for all antiderivatives.
    let general = !context
        .question
        .says(&["an antiderivative", "one antiderivative", "a formula"]);
    let has_integral = claim.values.iter().any(holds_integral);
    if verdict == Verdict::Holds && general && !has_integral {
        let own = claim
            .values
            .last()
            .map(|value| letters_of_its_own(asked, value));
        if own.is_some_and(|own| own.is_empty()) {
            return Verdict::Fails {
                reason: "the constant of integration is missing".into(),
                witness: None,
            };
        }
    }
    verdict
}

/// A place and the value that the antiderivative has there: "that satisfies `$F(1) = 5$`", "whose
/// graph passes through `$(1, 5)$`".
fn given_value(context: &Context<'_>, asked: &Asked) -> Option<(Expression, Expression)> {
    let is_number = |e: &Expression| e.free_symbols().is_empty();
    let question = context.question;
    question
        .formulas
        .iter()
        .find_map(|formula| match (formula.operator(), formula.operands()) {
            (Operator::Tuple(_) | Operator::Interval(_), [at, value])
                if question.says(&["through"]) && is_number(at) && is_number(value) =>
            {
                Some((at.clone(), value.clone()))
            }
            (Operator::Relation(_), [left, value]) => match (left.operator(), left.operands()) {
                (Operator::Apply, [name, at])
                    if is_number(at)
                        && is_number(value)
                        && name.as_symbol().is_some_and(|name| {
                            *name != asked.by && question.definition(name).is_none()
                        }) =>
                {
                    Some((at.clone(), value.clone()))
                }
                _ => None,
            },
            _ => None,
        })
}

/// Whether an antiderivative has the value that is given for a place.
fn goes_through(
    context: &Context<'_>,
    asked: &Asked,
    claimed: Option<&Expression>,
    at: &Expression,
    wanted: &Expression,
) -> Verdict {
    let number = |e: &Expression| {
        let program = compile(e, &mut Leaves::default()).ok()?;
        program.value(&[], context.budget)
    };
    let Some(claimed) = claimed else {
        return Verdict::cannot_tell("the answer holds no formula");
    };
    let own = letters_of_its_own(asked, claimed);
    if let Some(letter) = own.first() {
        return Verdict::fails_at(
            "the constant is not determined",
            format!("the answer still holds {}", letter.name()),
        );
    }
    let found = number(&claimed.substitute(&asked.by, at)).zip(number(wanted));
    let Some((found, wanted)) = found else {
        return Verdict::cannot_tell("the given value could not be compared");
    };
    match (found - wanted).abs() <= 1e-9 * (1.0 + wanted.abs()) {
        true => Verdict::Holds,
        false => {
            let (found, wanted) = sample::numbers(found, wanted);
            Verdict::fails_at(
                "it misses the given value",
                format!("it should be {wanted}, the answer gives {found}"),
            )
        }
    }
}

/// An integral without bounds is part of it, as in reduction formulas.
fn holds_integral(value: &Expression) -> bool {
    value.parts().any(|part| {
        matches!(part.operator(), Operator::Integral(integration)
            if integration.bounds == Bounds::None)
    })
}

/// Letters that stand for constants.
fn letters_of_its_own(asked: &Asked, value: &Expression) -> Vec<Symbol> {
    let known = asked.integrand.free_symbols();
    let own = value.free_symbols().into_iter();
    own.filter(|symbol| *symbol != asked.by && !known.contains(symbol))
        .collect()
}

/// Whether the derivative of a formula is the integrand.
fn hold(context: &Context<'_>, asked: &Asked, value: &Expression) -> Verdict {
    let mut order = 1;
    let mut value = value.clone();
    // An answer that holds an integral, as reduction formulas do, is differentiated on paper.
    if holds_integral(&value) {
        match crate::derivative::derivative(&value, &asked.by) {
            Some(slope) => (value, order) = (slope, 0),
            None => return Verdict::cannot_tell("the derivative of the answer could not be taken"),
        }
    }
    let by = symbol_expression(&asked.by);
    let mut leaves = Leaves::of([by.clone()]);
    let integrand = match compile(&asked.integrand, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let known = leaves.len();
    let claimed = match compile(&value, &mut leaves) {
        Ok(program) => program,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let mut variables = vec![by];
    variables.extend(leaves.as_slice()[known..].iter().cloned());
    let roles = sample::roles(&leaves, &variables);
    let smooth = sample::is_smooth(&asked.integrand) && sample::is_smooth(&without_abs_ln(&value));
    let comparison = sample::compare(&roles, smooth, |place| {
        let wanted = integrand.value(&place[..known], context.budget)?;
        let length = order + 1;
        let jets: Vec<Jet> = place
            .iter()
            .enumerate()
            .map(|(at, value)| match at {
                0 => Jet::variable(*value, length),
                _ => Jet::constant(*value, length),
            })
            .collect();
        let given = claimed.jet(&jets, length, context.budget)?;
        Some((wanted, given.coefficient(order)))
    });
    match comparison {
        Comparison::Equal => Verdict::Holds,
        Comparison::Different(witness) => {
            let (wanted, given) = sample::numbers(witness.left, witness.right);
            let told: Vec<(Expression, f64)> = leaves
                .as_slice()
                .iter()
                .cloned()
                .zip(witness.place.iter().copied())
                .take(known)
                .collect();
            let (shown, values): (Vec<_>, Vec<_>) = told.into_iter().unzip();
            let told = sample::told(&Leaves::of(shown), &values);
            Verdict::fails_at(
                "its derivative is not the integrand",
                format!(
                    "at {told} the derivative of the answer is {given}, the integrand is {wanted}"
                ),
            )
        }
        Comparison::Unknown if context.budget.is_spent() => {
            Verdict::cannot_tell(super::program::TOO_LARGE)
        }
        Comparison::Unknown => {
            Verdict::cannot_tell("the answer could not be differentiated in enough places")
        }
    }
}

/// The logarithm of an absolute value has the derivative of the logarithm.
fn without_abs_ln(value: &Expression) -> Expression {
    use crate::expression::Function;
    replace(
        value,
        &mut |part| match (part.operator(), part.operands()) {
            (Operator::Function(Function::Ln | Function::Log), [argument])
                if matches!(argument.operator(), Operator::Function(Function::Abs)) =>
            {
                Some(Expression::function(
                    Function::Ln,
                    argument.operands()[0].clone(),
                ))
            }
            // Their derivatives are algebraic, with one branch.
            (Operator::Function(Function::Arctan | Function::Arccot), [argument]) => {
                Some(without_abs_ln(argument))
            }
            _ => None,
        },
    )
}
