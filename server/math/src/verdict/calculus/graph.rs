//! Are these the critical numbers, the extrema, the intervals of increase and of concavity?

use super::Context;
use super::jet::Jet;
use super::program::{Leaves, Program, compile, signed_infinity, symbol_expression};
use super::quantity::all;
use super::question;
use super::sample;
use super::zeros::zeros;
use crate::expression::{Expression, Function, Operator, SetOperation, Symbol};
use crate::verdict::Verdict;

/// A function whose graph is asked about.
struct Graph {
    letter: Symbol,
    program: Program,
    /// Where one of these vanishes the function may have no derivative: what stands in absolute
    /// values, roots and broken powers.
    bends: Vec<Program>,
}

/// What is said of a place or an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Said {
    Increasing,
    Decreasing,
    ConcaveUp,
    ConcaveDown,
    Critical,
    Inflection,
}

/// Places beyond this are not looked for.
const WINDOW: f64 = 12.0;

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(graph) = asked(context) else {
        return Verdict::cannot_tell("the function is not understood");
    };
    let question = context.question;
    let intervals = question.says(&["increasing", "decreasing", "concav", "concave"]);
    match intervals {
        true => graph.intervals(context),
        false if question.says(&["critical", "stationary"]) => {
            graph.places(context, Said::Critical)
        }
        false if question.says(&["inflection"]) => graph.places(context, Said::Inflection),
        false => Verdict::cannot_tell("what is asked about the graph is not checked"),
    }
}

fn asked(context: &Context<'_>) -> Option<Graph> {
    let question = context.question;
    let definition = question.definitions.first();
    let body = match definition {
        Some(definition) => definition.body.clone(),
        None => question.formulas.first()?.clone(),
    };
    let letter = match definition.and_then(|d| d.variables.first()) {
        Some(letter) => letter.clone(),
        None => question::variables(&body).into_iter().next()?,
    };
    let mut leaves = Leaves::of([symbol_expression(&letter)]);
    let program = compile(&body, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let bends = body
        .parts()
        .filter_map(|part| match (part.operator(), part.operands()) {
            (Operator::Function(Function::Abs), [inner])
            | (Operator::Root, [inner])
            | (Operator::NthRoot, [inner, _]) => Some(inner),
            (Operator::Power, [base, exponent]) if exponent.as_i64().is_none() => Some(base),
            _ => None,
        })
        .filter(|inner| inner.mentions(&letter))
        .filter_map(|inner| {
            let mut leaves = Leaves::of([symbol_expression(&letter)]);
            compile(inner, &mut leaves)
                .ok()
                .filter(|_| leaves.len() == 1)
        })
        .collect();
    Some(Graph {
        letter,
        program,
        bends,
    })
}

impl Graph {
    /// The derivative of this order.
    fn slope(&self, at: f64, order: usize, context: &Context<'_>) -> Option<f64> {
        let jet = Jet::variable(at, order + 1);
        let jet = self.program.jet(&[jet], order + 1, context.budget)?;
        Some(jet.derivative(order))
    }

    fn value(&self, at: f64, context: &Context<'_>) -> Option<f64> {
        self.program.value(&[at], context.budget)
    }

    /// The places that a claim names: `x = 2`, `2`, `(2, 5)`, `\{1, 2\}`, ±.
    fn claimed(&self, context: &Context<'_>, said: Said) -> Option<Vec<f64>> {
        let number = |value: &Expression| {
            let program = compile(value, &mut Leaves::default()).ok()?;
            program.value(&[], context.budget)
        };
        let mut found = Vec::new();
        for claim in &context.reply.claims {
            if claim
                .label
                .as_ref()
                .is_some_and(|label| label.as_symbol() != Some(&self.letter))
            {
                return None;
            }
            for value in &claim.values {
                match (value.operator(), value.operands()) {
                    (Operator::Interval(_) | Operator::Tuple(_), [x, y]) => {
                        let (x, y) = (number(x)?, number(y)?);
                        let there = self.value(x, context)?;
                        // A pair that is no point of the graph may be two places, or wrong.
                        if (there - y).abs() > 1e-6 * (1.0 + y.abs()) {
                            return match said {
                                Said::Inflection => Some(vec![f64::NAN]),
                                _ => None,
                            };
                        }
                        found.push(x);
                    }
                    (Operator::Set | Operator::List, members) => {
                        for member in members {
                            found.push(number(member)?);
                        }
                    }
                    (Operator::PlusMinus, [inner]) => {
                        let inner = number(inner)?;
                        found.extend([inner, -inner]);
                    }
                    _ => found.push(number(value)?),
                }
            }
        }
        Some(found)
    }

    fn places(&self, context: &Context<'_>, said: Said) -> Verdict {
        let order = if said == Said::Inflection { 2 } else { 1 };
        let x = self.letter.name();
        let name = match said {
            Said::Inflection => "a point of inflection",
            _ => "a critical number",
        };
        let Some(claimed) = self.claimed(context, said) else {
            return Verdict::cannot_tell("the answer is not understood");
        };
        let words = &context.reply.words;
        let denies = words.contains("none") || words.contains(" no ");
        if claimed.is_empty() && !denies {
            return Verdict::cannot_tell("the answer holds no formula");
        }
        for at in &claimed {
            if at.is_nan() {
                return Verdict::Fails {
                    reason: "a point of the answer does not lie on the graph".into(),
                    witness: None,
                };
            }
            if self.value(*at, context).is_none() {
                return Verdict::fails_at(
                    format!("it is not {name}"),
                    format!(
                        "the function is not defined at {x} = {}",
                        sample::number(*at)
                    ),
                );
            }
            let Some(slope) = self.slope(*at, order, context) else {
                continue;
            };
            let beside = self.slope(at + 0.1, order, context).unwrap_or(1.0).abs();
            let derivative = if order == 1 {
                "derivative"
            } else {
                "second derivative"
            };
            if slope.abs() > 1e-5 * (beside + 1e-3) {
                return Verdict::fails_at(
                    format!("it is not {name}"),
                    format!(
                        "at {x} = {} the {derivative} is {}, not 0",
                        sample::number(*at),
                        sample::number(slope)
                    ),
                );
            }
        }
        let bounds = interval(context, &self.letter);
        let (low, high) = bounds.unwrap_or((-WINDOW - 0.013, WINDOW + 0.017));
        let found = zeros(low, high, 900, |at| self.slope(at, order, context));
        if said == Said::Critical
            && let Some(at) = self.bend(context, low, high, &claimed)
        {
            return Verdict::fails_at(
                format!("{name} is missing"),
                format!("at {x} = {} there is no derivative", sample::number(at)),
            );
        }
        if context.budget.is_spent() || found.len() > 8 {
            return Verdict::cannot_tell("all of them could not be found");
        }
        for at in found {
            let is_end = (at - low).abs() < 1e-6 || (at - high).abs() < 1e-6;
            let is_known = claimed
                .iter()
                .any(|c| (c - at).abs() <= 1e-5 * (1.0 + at.abs()));
            // An inflection needs a change of sign.
            let changes = said != Said::Inflection || {
                let sides = (
                    self.slope(at - 1e-3, order, context),
                    self.slope(at + 1e-3, order, context),
                );
                matches!(sides, (Some(a), Some(b)) if a * b < 0.0)
            };
            if !is_known && !is_end && changes {
                return Verdict::fails_at(
                    format!("{name} is missing"),
                    format!("also at {x} = {}", sample::number(at)),
                );
            }
        }
        Verdict::Holds
    }

    /// A place inside the interval, not among the claimed ones, where the function has a value and
    /// values on both sides, but no derivative.
    fn bend(&self, context: &Context<'_>, low: f64, high: f64, claimed: &[f64]) -> Option<f64> {
        let candidates = self
            .bends
            .iter()
            .flat_map(|bend| zeros(low, high, 900, |at| bend.value(&[at], context.budget)));
        candidates.into_iter().find(|at| {
            let is_known = claimed
                .iter()
                .any(|c| (c - at).abs() <= 1e-5 * (1.0 + at.abs()));
            let is_inside = *at > low + 1e-6 && *at < high - 1e-6;
            let sides = (
                self.slope(at - 1e-7, 1, context),
                self.slope(at + 1e-7, 1, context),
            );
            let breaks = match sides {
                (Some(left), Some(right)) => {
                    (left - right).abs() > 1e-2 * (1.0 + left.abs()) || left.abs() > 1e2
                }
                _ => false,
            };
            !is_known && is_inside && breaks && self.value(*at, context).is_some()
        })
    }

    fn intervals(&self, context: &Context<'_>) -> Verdict {
        let reply = context.reply;
        let mut verdicts = Vec::new();
        let mut said_of: Vec<(Said, Vec<(f64, f64)>)> = Vec::new();
        let mut rest = reply.words.as_str();
        let mut last = None;
        for claim in &reply.claims {
            let Some(mark) = rest.find('$') else {
                return Verdict::cannot_tell("the answer is not understood");
            };
            last = keyword(&rest[..mark]).or(last);
            rest = &rest[mark + 1..];
            let said = last.or_else(|| keyword(&context.question.words));
            let (Some(said), Some(value)) = (said, claim.values.last()) else {
                return Verdict::cannot_tell("the answer is not understood");
            };
            let Some(intervals) = intervals(value, &self.letter, context) else {
                return Verdict::cannot_tell("the answer is not understood");
            };
            match said_of.iter_mut().find(|(known, _)| *known == said) {
                Some((_, known)) => known.extend(intervals),
                None => said_of.push((said, intervals)),
            }
        }
        for (said, intervals) in &said_of {
            verdicts.push(self.behaves(context, *said, intervals));
        }
        all(verdicts)
    }

    fn behaves(&self, context: &Context<'_>, said: Said, intervals: &[(f64, f64)]) -> Verdict {
        let (order, sign, name) = match said {
            Said::Increasing => (1, 1.0, "increasing"),
            Said::Decreasing => (1, -1.0, "decreasing"),
            Said::ConcaveUp => (2, 1.0, "concave up"),
            Said::ConcaveDown => (2, -1.0, "concave down"),
            Said::Critical | Said::Inflection => return Verdict::cannot_tell("not understood"),
        };
        let (low, high) =
            interval(context, &self.letter).unwrap_or((-WINDOW - 0.013, WINDOW + 0.017));
        let mut looked = 0;
        for step in 0..=700 {
            let at = low + (high - low) * (f64::from(step) + 0.37) / 701.0;
            let Some(slope) = self.slope(at, order, context) else {
                continue;
            };
            let beside = intervals
                .iter()
                .any(|(from, to)| (at - from).abs() < 1e-3 || (at - to).abs() < 1e-3);
            if beside || slope.abs() < 1e-9 {
                continue;
            }
            looked += 1;
            let inside = intervals.iter().any(|(from, to)| *from < at && at < *to);
            if inside != (slope * sign > 0.0) {
                let is = if slope * sign > 0.0 { "is" } else { "is not" };
                return Verdict::fails_at(
                    format!("these are not the intervals where it is {name}"),
                    format!(
                        "at {} = {} the function {is} {name}",
                        self.letter.name(),
                        sample::number(at)
                    ),
                );
            }
        }
        let far = intervals.iter().any(|(from, to)| {
            [from, to]
                .iter()
                .any(|end| end.is_finite() && end.abs() > WINDOW)
        });
        match looked > 100 && !far && !context.budget.is_spent() {
            true => Verdict::Holds,
            false => Verdict::cannot_tell("the function could hardly be computed"),
        }
    }
}

/// The interval to which the statement restricts the letter.
fn interval(context: &Context<'_>, letter: &Symbol) -> Option<(f64, f64)> {
    let formulas = context.question.formulas.iter();
    formulas
        .filter(|formula| {
            matches!(formula.operator(), Operator::Interval(_))
                || matches!(formula.operands(), [_, middle, _] if middle.as_symbol() == Some(letter))
        })
        .find_map(|formula| intervals(formula, letter, context)?.first().copied())
        .filter(|(low, high)| low.is_finite() && high.is_finite())
}

/// The last word that says how a function behaves.
fn keyword(words: &str) -> Option<Said> {
    let known = [
        ("increas", Said::Increasing),
        ("decreas", Said::Decreasing),
        ("concave up", Said::ConcaveUp),
        ("concave down", Said::ConcaveDown),
        ("upward", Said::ConcaveUp),
        ("downward", Said::ConcaveDown),
    ];
    let found = known
        .iter()
        .filter_map(|(word, said)| Some((words.rfind(word)?, *said)));
    found.max_by_key(|(at, _)| *at).map(|(_, said)| said)
}

/// Intervals of numbers: one, a union, or an inequality for the letter.
fn intervals(
    value: &Expression,
    letter: &Symbol,
    context: &Context<'_>,
) -> Option<Vec<(f64, f64)>> {
    use crate::expression::{Constant, Relation};
    let number = |value: &Expression| match signed_infinity(value) {
        Some(true) => Some(f64::INFINITY),
        Some(false) => Some(f64::NEG_INFINITY),
        None => compile(value, &mut Leaves::default())
            .ok()?
            .value(&[], context.budget),
    };
    match (value.operator(), value.operands()) {
        (Operator::Constant(Constant::Reals), _) => Some(vec![(f64::NEG_INFINITY, f64::INFINITY)]),
        (Operator::Constant(Constant::EmptySet), _) => Some(Vec::new()),
        (Operator::Interval(_) | Operator::Tuple(_), [low, high]) => {
            Some(vec![(number(low)?, number(high)?)])
        }
        (Operator::SetOperation(SetOperation::Union), parts) => {
            let mut all = Vec::new();
            for part in parts {
                all.extend(intervals(part, letter, context)?);
            }
            Some(all)
        }
        (Operator::Relation(relations), [low, middle, high])
            if middle.as_symbol() == Some(letter)
                && relations
                    .iter()
                    .all(|r| matches!(r, Relation::Less | Relation::LessOrEqual)) =>
        {
            Some(vec![(number(low)?, number(high)?)])
        }
        (Operator::Relation(relations), [left, right]) if left.as_symbol() == Some(letter) => {
            let at = number(right)?;
            match relations[0] {
                Relation::Less | Relation::LessOrEqual => Some(vec![(f64::NEG_INFINITY, at)]),
                Relation::Greater | Relation::GreaterOrEqual => Some(vec![(at, f64::INFINITY)]),
                _ => None,
            }
        }
        _ => None,
    }
}
