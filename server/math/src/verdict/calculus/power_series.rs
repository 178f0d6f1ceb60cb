//! Is this where the power series converges?

use super::Context;
use super::program::{Leaves, compile, signed_infinity, symbol_expression};
use super::quantity::all;
use super::sample;
use super::summation::Series;
use crate::expression::{Expression, Operator, Symbol};
use crate::verdict::Verdict;

/// A power series and its centre.
struct PowerSeries {
    series: Series,
    centre: f64,
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let Some(power) = asked(context) else {
        return Verdict::cannot_tell("the power series is not understood");
    };
    let words = &context.reply.words;
    let asks_radius_first = context.question.says(&["radius"]);
    let mut verdicts = Vec::new();
    for claim in &context.reply.claims {
        let Some(value) = claim.values.last() else {
            continue;
        };
        let is_letter = |name: &str| {
            claim
                .label
                .as_ref()
                .and_then(Expression::as_symbol)
                .is_some_and(|s| s.name() == name)
        };
        if let Some(interval) = interval(value, &power) {
            verdicts.push(power.holds_on(context, &interval));
        } else if is_letter("R")
            || is_letter("r")
            || is_letter("ρ")
            || (asks_radius_first && claim.label.is_none())
        {
            verdicts.push(power.has_radius(context, value));
        } else {
            verdicts.push(Verdict::cannot_tell("the answer is not understood"));
        }
    }
    if verdicts.is_empty() {
        if words.contains("all ") || words.contains("every") {
            verdicts.push(power.holds_on(context, &Interval::all()));
        } else {
            return Verdict::cannot_tell("the answer holds no formula");
        }
    }
    all(verdicts)
}

/// Where a series is said to converge.
struct Interval {
    low: Option<Expression>,
    high: Option<Expression>,
    low_closed: bool,
    high_closed: bool,
}

impl Interval {
    fn all() -> Self {
        Self {
            low: None,
            high: None,
            low_closed: false,
            high_closed: false,
        }
    }
}

fn interval(value: &Expression, power: &PowerSeries) -> Option<Interval> {
    use crate::expression::{Brackets, Constant, Function, Relation};
    if value.as_constant() == Some(Constant::Reals) {
        return Some(Interval::all());
    }
    if let Some((low, high, ends)) = value.as_interval() {
        let end = |end: &Expression| signed_infinity(end).is_none().then(|| end.clone());
        return Some(Interval {
            low: end(low),
            high: end(high),
            low_closed: ends.lower_closed,
            high_closed: ends.upper_closed,
        });
    }
    match (value.operator(), value.operands()) {
        (Operator::Tuple(brackets), [low, high]) => {
            let closed = *brackets == Brackets::Square;
            Some(Interval {
                low: Some(low.clone()),
                high: Some(high.clone()),
                low_closed: closed,
                high_closed: closed,
            })
        }
        // `{2}`: the centre alone.
        (Operator::Set, [only]) => Some(Interval {
            low: Some(only.clone()),
            high: Some(only.clone()),
            low_closed: true,
            high_closed: true,
        }),
        (Operator::Relation(relations), [low, _, high]) => {
            let closed = |relation: &Relation| *relation == Relation::LessOrEqual;
            let is_order = |r: &Relation| matches!(r, Relation::Less | Relation::LessOrEqual);
            relations.iter().all(is_order).then(|| Interval {
                low: Some(low.clone()),
                high: Some(high.clone()),
                low_closed: closed(&relations[0]),
                high_closed: closed(&relations[1]),
            })
        }
        // |x - a| < R
        (Operator::Relation(relations), [size, radius])
            if matches!(relations[0], Relation::Less | Relation::LessOrEqual)
                && matches!(size.operator(), Operator::Function(Function::Abs)) =>
        {
            let centre =
                Expression::rational(&num_rational::BigRational::from_float(power.centre)?);
            let closed = relations[0] == Relation::LessOrEqual;
            Some(Interval {
                low: Some(Expression::difference(centre.clone(), radius.clone())),
                high: Some(Expression::sum([centre, radius.clone()])),
                low_closed: closed,
                high_closed: closed,
            })
        }
        _ => None,
    }
}

fn asked(context: &Context<'_>) -> Option<PowerSeries> {
    let question = context.question;
    let formula = question.formulas.iter().find_map(|formula| {
        formula
            .parts()
            .find(|part| matches!(part.operator(), Operator::Series(..)))
    })?;
    let series = Series::read(&question.expanded(formula))?;
    let [letter] = series.leaves.as_slice() else {
        return None;
    };
    let letter = letter.as_symbol()?.clone();
    let centre = centre(&series.body, &letter, context)?;
    Some(PowerSeries { series, centre })
}

/// Where the base of a power that holds the letter vanishes.
fn centre(body: &Expression, letter: &Symbol, context: &Context<'_>) -> Option<f64> {
    let base = body
        .parts()
        .find_map(|part| match (part.operator(), part.operands()) {
            (Operator::Power, [base, exponent])
                if base.mentions(letter) && !exponent.mentions(letter) =>
            {
                Some(base)
            }
            _ => None,
        })?;
    let mut leaves = Leaves::of([symbol_expression(letter)]);
    let program = compile(base, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let at = |x: f64| program.value(&[x], context.budget);
    let (zero, one, two) = (at(0.0)?, at(1.0)?, at(2.0)?);
    let slope = one - zero;
    let is_linear = (two - 2.0 * one + zero).abs() < 1e-9 * (1.0 + slope.abs());
    match is_linear && slope != 0.0 {
        true => Some(-zero / slope + 0.0),
        // x² and the like.
        false => (zero == 0.0).then_some(0.0),
    }
}

impl PowerSeries {
    fn converges(&self, at: f64, context: &Context<'_>) -> Option<bool> {
        if at == self.centre {
            return Some(true);
        }
        self.series
            .converges(&[at], context)
            .map(|(converges, _)| converges)
    }

    /// The radius as the series itself shows it.
    fn has_radius(&self, context: &Context<'_>, value: &Expression) -> Verdict {
        let told = |at: f64, converges: bool| {
            Verdict::fails_at(
                "it is not the radius of convergence",
                format!(
                    "at {} = {} the series {}",
                    self.letter(),
                    sample::number(at),
                    if converges { "converges" } else { "diverges" }
                ),
            )
        };
        let (inside, outside) = if signed_infinity(value) == Some(true) {
            (vec![40.0, -40.0], vec![])
        } else {
            let radius = compile(value, &mut Leaves::default()).ok();
            let Some(radius) = radius.and_then(|p| p.value(&[], context.budget)) else {
                return Verdict::cannot_tell("the radius is not understood");
            };
            match radius {
                radius if radius < 0.0 => return told(self.centre, true),
                0.0 => (vec![], vec![1e-3, -1e-3]),
                _ => (
                    vec![0.99 * radius, -0.99 * radius],
                    vec![1.01 * radius, -1.01 * radius],
                ),
            }
        };
        for (offsets, wanted) in [(inside, true), (outside, false)] {
            for offset in offsets {
                let at = self.centre + offset;
                match self.converges(at, context) {
                    Some(converges) if converges == wanted => {}
                    Some(converges) => return told(at, converges),
                    None => return Verdict::cannot_tell("convergence could not be decided"),
                }
            }
        }
        Verdict::Holds
    }

    fn letter(&self) -> String {
        let leaf = self.series.leaves.as_slice().first();
        leaf.map(crate::print::plain).unwrap_or_default()
    }

    fn holds_on(&self, context: &Context<'_>, interval: &Interval) -> Verdict {
        let number = |end: &Option<Expression>, open: f64| match end {
            None => Some(open),
            Some(end) => compile(end, &mut Leaves::default())
                .ok()?
                .value(&[], context.budget),
        };
        let low = number(&interval.low, f64::NEG_INFINITY);
        let high = number(&interval.high, f64::INFINITY);
        let (Some(low), Some(high)) = (low, high) else {
            return Verdict::cannot_tell("the ends of the interval are not understood");
        };
        let span = match (low.is_finite(), high.is_finite()) {
            (true, true) => (high - low) / 2.0,
            _ => 10.0,
        };
        let mut wanted: Vec<(f64, bool)> = Vec::new();
        if span == 0.0 {
            wanted.extend([(low, true), (low + 1e-3, false), (low - 1e-3, false)]);
        } else {
            for (end, closed, outwards) in [
                (low, interval.low_closed, -1.0),
                (high, interval.high_closed, 1.0),
            ] {
                match end.is_finite() {
                    true => wanted.extend([
                        (end + outwards * 0.01 * span, false),
                        (end - outwards * 0.01 * span, true),
                        (end, closed),
                    ]),
                    false => wanted.push((self.centre + outwards * 40.0, true)),
                }
            }
        }
        let mut unknown = false;
        for (at, wanted) in wanted {
            match self.converges(at, context) {
                Some(converges) if converges == wanted => {}
                Some(converges) => {
                    return Verdict::fails_at(
                        "it is not where the series converges",
                        format!(
                            "at {} = {} the series {}",
                            self.letter(),
                            sample::number(at),
                            if converges { "converges" } else { "diverges" }
                        ),
                    );
                }
                None => unknown = true,
            }
        }
        match unknown {
            true => Verdict::cannot_tell("convergence could not be decided everywhere"),
            false => Verdict::Holds,
        }
    }
}
