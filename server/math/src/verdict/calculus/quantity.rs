//! Does a formula of an answer equal a quantity that we can compute?

use super::Context;
use super::program::{Leaves, Program, compile};
use super::question::Claim;
use super::sample::{self, Comparison, Role, Witness};
use crate::expression::{Expression, Number, Operator, Written};
use crate::verdict::Verdict;
use num_rational::BigRational;

/// A quantity as a function of the values of some leaves.
pub(super) struct Quantity<'a> {
    /// What a witness calls it: "the derivative".
    pub(super) name: &'a str,
    pub(super) leaves: Leaves,
    /// The leaves that vary; others are given constants.
    pub(super) variables: Vec<Expression>,
    /// No part of what it is computed from is pieced together.
    pub(super) smooth: bool,
    /// How far off the values may be, as a share of them.
    pub(super) tolerance: f64,
    pub(super) value: &'a dyn Fn(&[f64]) -> Option<f64>,
}

impl Quantity<'_> {
    /// Whether the formulas of a claim equal the quantity.
    pub(super) fn judge(&self, context: &Context<'_>, claim: &Claim) -> Verdict {
        let mut verdicts: Vec<Verdict> = claim
            .values
            .iter()
            .map(|value| self.equals(context, value))
            .collect();
        if let Some(rounded) = &claim.rounded {
            match self.leaves.len() {
                0 => verdicts.push(self.is_about(context, rounded)),
                _ => verdicts.push(Verdict::cannot_tell("a rounded formula is not checked")),
            }
        }
        all(verdicts)
    }

    /// Whether one formula equals the quantity.
    pub(super) fn equals(&self, context: &Context<'_>, formula: &Expression) -> Verdict {
        if super::program::signed_infinity(formula).is_some() {
            return match self.leaves.len() {
                0 => match (self.value)(&[]) {
                    Some(value) => Verdict::fails_at(
                        format!("{} is finite", self.name),
                        format!("it is {}", sample::number(value)),
                    ),
                    None => Verdict::cannot_tell(format!("{} cannot be computed", self.name)),
                },
                _ => {
                    Verdict::cannot_tell(format!("{} cannot be compared with infinity", self.name))
                }
            };
        }
        let mut leaves = self.leaves.clone();
        let formula = context.question.expanded(formula);
        let program = match compile(&formula, &mut leaves) {
            Ok(program) => program,
            Err(reason) => return Verdict::cannot_tell(reason),
        };
        let known = self.leaves.len();
        let mut roles = sample::roles(&leaves, &self.variables);
        for role in roles.iter_mut().skip(known) {
            *role = Role::Variable;
        }
        let smooth = self.smooth && sample::is_smooth(&formula);
        let comparison = sample::compare(&roles, smooth, |place| {
            let left = (self.value)(place.get(..known)?)?;
            let right = program.value(place, context.budget)?;
            let is_close = (left - right).abs() <= self.tolerance * left.abs().max(right.abs());
            Some((if is_close { right } else { left }, right))
        });
        match comparison {
            Comparison::Equal => Verdict::Holds,
            Comparison::Different(witness) => {
                self.differs(context, &formula, &program, &leaves, witness)
            }
            Comparison::Unknown if context.budget.is_spent() => {
                Verdict::cannot_tell(super::program::TOO_LARGE)
            }
            Comparison::Unknown => Verdict::cannot_tell(format!(
                "{} and the answer could not be compared in enough places",
                self.name
            )),
        }
    }

    fn differs(
        &self,
        context: &Context<'_>,
        formula: &Expression,
        program: &Program,
        leaves: &Leaves,
        witness: Witness,
    ) -> Verdict {
        let slack = rounding_slack(formula, leaves, &witness.place, context).unwrap_or(0.0);
        let distance = (witness.left - witness.right).abs();
        if distance <= slack * 1.001 {
            let size = witness.left.abs().max(1e-300);
            return match slack <= 0.02 * size || written_decimal(formula).is_some() {
                true => Verdict::Holds,
                false => Verdict::cannot_tell("the answer is rounded"),
            };
        }
        let _ = program;
        let (left, right) = sample::numbers(witness.left, witness.right);
        let told = sample::told(leaves, &witness.place);
        let shown = match told.is_empty() {
            true => format!("{} is {left}, the answer is {right}", self.name),
            false => format!(
                "at {told}, {} is {left}, the answer gives {right}",
                self.name
            ),
        };
        Verdict::fails_at(format!("it is not {}", self.name), shown)
    }

    fn is_about(&self, context: &Context<'_>, rounded: &Expression) -> Verdict {
        let Some(value) = (self.value)(&[]) else {
            return Verdict::cannot_tell(format!("{} cannot be computed", self.name));
        };
        match is_rounded(value, rounded, context) {
            Some(true) => Verdict::Holds,
            Some(false) => Verdict::fails_at(
                format!("{} is not about this", self.name),
                format!("it is {}", sample::digits_like(value, rounded)),
            ),
            None => Verdict::cannot_tell("a rounded value is not understood"),
        }
    }
}

/// Several claims hold together only if each does.
pub(super) fn all(verdicts: impl IntoIterator<Item = Verdict>) -> Verdict {
    let mut held = false;
    let mut unknown = None;
    for verdict in verdicts {
        match verdict {
            Verdict::Fails { .. } => return verdict,
            Verdict::Holds => held = true,
            Verdict::CannotTell { .. } => {
                unknown.get_or_insert(verdict);
            }
        }
    }
    match (held, unknown) {
        (_, Some(unknown)) => unknown,
        (true, None) => Verdict::Holds,
        (false, None) => Verdict::cannot_tell("the answer holds no formula"),
    }
}

/// A number of which the decimals are written, and the unit of the last one.
fn written_decimal(formula: &Expression) -> Option<(f64, f64)> {
    match (formula.operator(), formula.operands()) {
        (Operator::Negative, [operand]) => {
            let (value, unit) = written_decimal(operand)?;
            Some((-value, unit))
        }
        (Operator::Number(number), _) => match number.written() {
            Written::Decimal { places } => {
                Some((number.to_f64(), libm::pow(10.0, -f64::from(places))))
            }
            _ => None,
        },
        _ => None,
    }
}

/// Whether a formula with rounded numbers is about a value: within the last digit that is written.
fn is_rounded(value: f64, rounded: &Expression, context: &Context<'_>) -> Option<bool> {
    let (written, unit) = match written_decimal(rounded) {
        Some(known) => known,
        None => {
            let written = compile(rounded, &mut Leaves::default()).ok()?;
            let written = written.value(&[], context.budget)?;
            let slack = rounding_slack(rounded, &Leaves::default(), &[], context)?;
            let whole = if rounded.as_i64().is_some() { 1.0 } else { 0.0 };
            (written, slack.max(whole).max(5e-3 * written.abs()))
        }
    };
    Some((value - written).abs() < unit * (1.0 - 1e-6))
}

/// By how much a formula changes at a place when its decimals change within their last digit; 0 if
/// there are none that look rounded.
fn rounding_slack(
    formula: &Expression,
    leaves: &Leaves,
    place: &[f64],
    context: &Context<'_>,
) -> Option<f64> {
    if let Some((_, unit)) = written_decimal(formula) {
        return Some(unit * (1.0 - 1e-6));
    }
    let looks_rounded = |part: &Expression| match part.operator() {
        Operator::Number(number) => match number.written() {
            Written::Decimal { places } => places >= 2 && !context.is_given(part),
            _ => false,
        },
        _ => false,
    };
    let count = formula.parts().filter(|part| looks_rounded(part)).count();
    if count == 0 || count > 12 {
        return Some(0.0);
    }
    let value = |formula: &Expression| {
        let program = compile(formula, &mut leaves.clone()).ok()?;
        program.value(place, context.budget)
    };
    let before = value(formula)?;
    let mut slack = 0.0;
    for chosen in 0..count {
        let mut seen = 0;
        let changed = replace(formula, &mut |part| {
            if !looks_rounded(part) {
                return None;
            }
            seen += 1;
            if seen != chosen + 1 {
                return None;
            }
            let number = part.as_number()?;
            let Written::Decimal { places } = number.written() else {
                return None;
            };
            let unit = BigRational::new(1.into(), num_bigint::BigInt::from(10).pow(places.min(40)));
            let value = number.value() + unit;
            Some(Expression::number(Number::exact(value)))
        });
        slack += (value(&changed)? - before).abs();
    }
    Some(slack)
}

/// The expression with the parts for which there is a replacement replaced.
pub(super) fn replace(
    expression: &Expression,
    by: &mut impl FnMut(&Expression) -> Option<Expression>,
) -> Expression {
    match by(expression) {
        Some(replacement) => replacement,
        None => {
            let operands: Vec<Expression> = expression
                .operands()
                .iter()
                .map(|operand| replace(operand, by))
                .collect();
            expression.with_operands(operands)
        }
    }
}
