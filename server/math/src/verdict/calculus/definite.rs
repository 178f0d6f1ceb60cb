//! What is the value of a definite integral, and is there one?
//!
//! Before anything is summed, the places where the integrand may grow beyond all bounds are looked
//! for: where a denominator, the argument of a logarithm, a cosine under a secant vanishes. Near such
//! a place, and towards infinity, the integrand behaves like a power, and the power tells whether
//! the integral converges.

use super::Context;
use super::program::{Leaves, Program, compile, signed_infinity, symbol_expression};
use super::quadrature;
use crate::expression::{Expression, Function, Operator, Symbol};

/// What an integral comes to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Value {
    /// A number, and how far off it may be.
    Finite {
        value: f64,
        error: f64,
    },
    /// There is none; the sign of infinity, where it is one.
    Diverges(Option<bool>),
    Unknown,
}

/// An integral over one variable, ready to be computed.
pub(super) struct Integral {
    body: Program,
    /// Where one of these vanishes the integrand may be singular or bent.
    watched: Vec<Program>,
    from: Bound,
    to: Bound,
    /// The variable's place among the leaves is the last of these.
    pub(super) leaves: Leaves,
    oscillates: bool,
}

enum Bound {
    At(Program),
    Infinite(bool),
}

impl Integral {
    /// The leaves begin with the letters that the bounds and the integrand hold besides the variable.
    pub(super) fn new(
        body: &Expression,
        variable: &Symbol,
        from: &Expression,
        to: &Expression,
    ) -> Result<Self, String> {
        let mut leaves = Leaves::default();
        let mut letters = body.free_symbols();
        letters.extend(from.free_symbols());
        letters.extend(to.free_symbols());
        letters.remove(variable);
        for letter in &letters {
            leaves.place(&symbol_expression(letter));
        }
        leaves.place(&symbol_expression(variable));
        let count = leaves.len();
        let bound = |bound: &Expression, leaves: &mut Leaves| match signed_infinity(bound) {
            Some(positive) => Ok(Bound::Infinite(positive)),
            None => Ok::<_, String>(Bound::At(compile(bound, leaves)?)),
        };
        let (from, to) = (bound(from, &mut leaves)?, bound(to, &mut leaves)?);
        let program = compile(body, &mut leaves)?;
        let mut watched = Vec::new();
        for part in watched_parts(body, variable) {
            watched.push(compile(&part, &mut leaves)?);
        }
        if leaves.len() > count {
            return Err("the integrand holds an unknown function".into());
        }
        let oscillates = body.parts().any(|part| {
            matches!(
                part.operator(),
                Operator::Function(
                    Function::Sin | Function::Cos | Function::Tan | Function::Sec | Function::Csc
                )
            ) && part.mentions(variable)
        });
        Ok(Self {
            body: program,
            watched,
            from,
            to,
            leaves,
            oscillates,
        })
    }

    /// The number of letters besides the variable.
    pub(super) fn parameters(&self) -> usize {
        self.leaves.len() - 1
    }

    /// The value for these values of the letters.
    pub(super) fn value(&self, parameters: &[f64], context: &Context<'_>) -> Value {
        let mut place: Vec<f64> = parameters.to_vec();
        place.push(0.0);
        let end = |bound: &Bound| match bound {
            Bound::Infinite(true) => Some(f64::INFINITY),
            Bound::Infinite(false) => Some(f64::NEG_INFINITY),
            Bound::At(program) => program.value(&place, context.budget),
        };
        let (Some(from), Some(to)) = (end(&self.from), end(&self.to)) else {
            return Value::Unknown;
        };
        if from == to {
            return Value::Finite {
                value: 0.0,
                error: 0.0,
            };
        }
        let (low, high, sign) = match from < to {
            true => (from, to, 1.0),
            false => (to, from, -1.0),
        };
        let run = OneRun {
            integral: self,
            parameters,
            context,
        };
        match run.over(low, high) {
            Value::Finite { value, error } => Value::Finite {
                value: sign * value,
                error,
            },
            Value::Diverges(positive) => {
                Value::Diverges(positive.map(|positive| positive == (sign > 0.0)))
            }
            Value::Unknown => Value::Unknown,
        }
    }
}

/// Parts of an integrand whose zeros are singularities or bends.
fn watched_parts(body: &Expression, variable: &Symbol) -> Vec<Expression> {
    let mut found: Vec<Expression> = Vec::new();
    let mut add = |part: Expression| {
        if part.mentions(variable) && !found.contains(&part) {
            found.push(part);
        }
    };
    for part in body.parts() {
        let function =
            |function, argument: &Expression| Expression::function(function, argument.clone());
        match (part.operator(), part.operands()) {
            (Operator::Fraction, [_, below]) => {
                for factor in factors(below) {
                    add(factor);
                }
            }
            (Operator::Power, [base, _]) => {
                for factor in factors(base) {
                    add(factor);
                }
            }
            (Operator::Root, [radicand]) | (Operator::NthRoot, [radicand, _]) => {
                add(radicand.clone());
            }
            (Operator::Function(kind), [argument]) => match kind {
                Function::Ln | Function::Log | Function::Abs | Function::Sign => {
                    add(argument.clone());
                }
                Function::Tan | Function::Sec => add(function(Function::Cos, argument)),
                Function::Cot | Function::Csc => add(function(Function::Sin, argument)),
                Function::Coth | Function::Csch => add(argument.clone()),
                Function::Floor | Function::Ceiling => {
                    let turned = Expression::product([
                        Expression::constant(crate::expression::Constant::Pi),
                        argument.clone(),
                    ]);
                    add(Expression::function(Function::Sin, turned));
                }
                _ => {}
            },
            (Operator::Function(Function::LogBase), [argument, _]) => add(argument.clone()),
            (Operator::Function(Function::Max | Function::Min), [left, right]) => {
                add(Expression::difference(left.clone(), right.clone()));
            }
            (Operator::Piecewise, rows) => {
                for row in rows.chunks(2) {
                    let Some(condition) = row.get(1) else {
                        continue;
                    };
                    for relation in condition.parts() {
                        if let Operator::Relation(_) = relation.operator() {
                            for sides in relation.operands().windows(2) {
                                add(Expression::difference(sides[0].clone(), sides[1].clone()));
                            }
                        }
                    }
                }
            }
            _ => {}
        }
    }
    found
}

fn factors(product: &Expression) -> Vec<Expression> {
    match (product.operator(), product.operands()) {
        (Operator::Product, parts) => parts.iter().flat_map(factors).collect(),
        (Operator::Negative, [inner]) => factors(inner),
        (Operator::Power, [base, _]) | (Operator::Root, [base]) => factors(base),
        _ => vec![product.clone()],
    }
}

struct OneRun<'a> {
    integral: &'a Integral,
    parameters: &'a [f64],
    context: &'a Context<'a>,
}

/// How an integrand behaves near a place.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Growth {
    /// The integral up to there exists.
    Integrable,
    /// It does not; the sign of the integrand.
    Infinite(bool),
    Unclear,
}

/// Points on which zeros of the watched parts are looked for.
const GRID: usize = 160;

impl OneRun<'_> {
    fn run(&self, program: &Program, at: f64) -> Option<f64> {
        let mut place: smallvec::SmallVec<[f64; 4]> = self.parameters.iter().copied().collect();
        place.push(at);
        program.value(&place, self.context.budget)
    }

    fn body(&self, at: f64) -> Option<f64> {
        self.run(&self.integral.body, at)
    }

    fn over(&self, low: f64, high: f64) -> Value {
        let breaks = self.breaks(low, high);
        let mut ends = vec![low];
        ends.extend(breaks);
        ends.push(high);
        let mut signs: Vec<bool> = Vec::new();
        let mut unclear = false;
        for (place, end) in ends.iter().enumerate() {
            let mut sides = Vec::new();
            if place > 0 {
                sides.push(self.growth(*end, -1.0, *end - ends[place - 1]));
            }
            if place + 1 < ends.len() {
                sides.push(self.growth(*end, 1.0, ends[place + 1] - *end));
            }
            for growth in sides {
                match growth {
                    Growth::Integrable => {}
                    Growth::Infinite(positive) => signs.push(positive),
                    Growth::Unclear => unclear = true,
                }
            }
        }
        if let Some(first) = signs.first() {
            let same = signs.iter().all(|sign| sign == first);
            return Value::Diverges((same && !unclear).then_some(*first));
        }
        if unclear {
            return Value::Unknown;
        }
        let (mut value, mut error) = (0.0, 0.0);
        let mut pieces: Vec<(f64, f64)> = Vec::new();
        for pair in ends.windows(2) {
            match (pair[0].is_finite(), pair[1].is_finite()) {
                (false, false) => {
                    pieces.push((pair[0], 0.0));
                    pieces.push((0.0, pair[1]));
                }
                // From the place nearest to zero on, powers of two apart.
                _ => pieces.push((pair[0], pair[1])),
            }
        }
        for (low, high) in pieces {
            match quadrature::integrate(low, high, |at| self.body(at)) {
                Some(piece) => {
                    value += piece.value;
                    error += piece.error;
                }
                None => return Value::Unknown,
            }
        }
        match error <= 1e-4 * (1.0 + f64::abs(value)) {
            true => Value::Finite { value, error },
            false => Value::Unknown,
        }
    }

    /// Zeros of the watched parts inside the interval, in order.
    fn breaks(&self, low: f64, high: f64) -> Vec<f64> {
        let mut found: Vec<f64> = Vec::new();
        let place = |step: usize| {
            let share = (step as f64 + 0.5) / GRID as f64;
            match (low.is_finite(), high.is_finite()) {
                (true, true) => low + (high - low) * share,
                // Denser near the finite end.
                (true, false) => low + 1e-3 * libm::exp(share * 16.0) - 1e-3,
                (false, true) => high - 1e-3 * libm::exp((1.0 - share) * 16.0) + 1e-3,
                (false, false) => 40.0 * libm::sinh((share - 0.5) * 12.0) / 200.0,
            }
        };
        for watched in &self.integral.watched {
            let mut before: Option<(f64, f64)> = None;
            let mut two_before: Option<(f64, f64)> = None;
            for step in 0..GRID {
                let at = place(step);
                let Some(value) = self.run(watched, at) else {
                    (two_before, before) = (None, None);
                    continue;
                };
                if value == 0.0 {
                    found.push(at);
                } else if let Some((left, left_value)) = before {
                    if (left_value < 0.0) != (value < 0.0) && left_value != 0.0 {
                        if let Some(zero) = self.bisect(watched, left, at, left_value < 0.0) {
                            found.push(zero);
                        }
                    } else if let Some((first, first_value)) = two_before
                        && left_value.abs() < first_value.abs()
                        && left_value.abs() <= value.abs()
                        && let Some(zero) = self.touch(watched, first, at)
                    {
                        found.push(zero);
                    }
                }
                two_before = before;
                before = Some((at, value));
            }
        }
        found.retain(|at| {
            let span = 1e-12 * (1.0 + at.abs());
            *at > low + span && *at < high - span
        });
        found.sort_by(f64::total_cmp);
        found.dedup_by(|a, b| (*a - *b).abs() <= 1e-9 * (1.0 + a.abs()));
        found.truncate(24);
        for at in &mut found {
            *at = snapped(*at);
        }
        found
    }

    fn bisect(&self, watched: &Program, left: f64, right: f64, rising: bool) -> Option<f64> {
        let (mut left, mut right) = (left, right);
        for _ in 0..60 {
            let middle = f64::midpoint(left, right);
            let value = self.run(watched, middle)?;
            if value == 0.0 {
                return Some(middle);
            }
            match (value < 0.0) == rising {
                true => left = middle,
                false => right = middle,
            }
        }
        Some(f64::midpoint(left, right))
    }

    /// A zero without a change of sign, where the part is smallest.
    fn touch(&self, watched: &Program, left: f64, right: f64) -> Option<f64> {
        let (mut left, mut right) = (left, right);
        let start = self.run(watched, left)?.abs();
        for _ in 0..70 {
            let (a, b) = (left + (right - left) / 3.0, right - (right - left) / 3.0);
            match self.run(watched, a)?.abs() < self.run(watched, b)?.abs() {
                true => right = b,
                false => left = a,
            }
        }
        let middle = snapped(f64::midpoint(left, right));
        (self.run(watched, middle)?.abs() < 1e-9 * start).then_some(middle)
    }

    /// Whether the integral up to a place exists, coming from one side. `room` is the distance to
    /// the next place.
    fn growth(&self, end: f64, side: f64, room: f64) -> Growth {
        let infinite = !end.is_finite();
        // Distances at which the integrand is looked at; towards infinity, distances from zero.
        let at = |exponent: f64| {
            let distance = libm::pow(10.0, exponent);
            match infinite {
                true => end.signum() * distance,
                false => end + side * distance,
            }
        };
        let span = match room.is_finite() {
            true => libm::log10(room.max(1e-300)).min(0.0),
            false => 0.0,
        };
        // Where the end is zero, smaller distances are exact.
        let exponents: [f64; 4] = match (infinite, end == 0.0) {
            (true, _) => [3.0, 6.0, 10.0, 15.0],
            (false, true) => [-4.0, -8.0, -16.0, -30.0],
            (false, false) => [-2.5, -4.0, -5.5, -7.0],
        };
        let mut values = Vec::new();
        for exponent in exponents {
            let exponent = if infinite { exponent } else { exponent + span };
            match self.body(at(exponent)) {
                Some(value) => values.push((exponent, value)),
                None => values.push((exponent, f64::NAN)),
            }
        }
        let defined: Vec<(f64, f64)> = values
            .into_iter()
            .filter(|(_, value)| !value.is_nan())
            .collect();
        if infinite && self.integral.oscillates {
            return self.oscillating(end.signum());
        }
        if defined.len() < 2 {
            // Beyond the range of numbers.
            let Some(first) = [2.0, 1.0, 0.0].iter().find_map(|e| {
                let exponent = if infinite { *e } else { span - 1.0 - *e / 4.0 };
                self.body(at(exponent))
            }) else {
                return Growth::Unclear;
            };
            return match infinite && first.abs() < 1e-30 {
                true => Growth::Integrable,
                false => Growth::Unclear,
            };
        }
        if defined.iter().all(|(_, value)| *value == 0.0) {
            return Growth::Integrable;
        }
        let (last, before) = (defined[defined.len() - 1], defined[defined.len() - 2]);
        if last.1 == 0.0 {
            // It vanished faster than numbers can tell.
            return Growth::Integrable;
        }
        if before.1 == 0.0 || (before.1 < 0.0) != (last.1 < 0.0) {
            return match infinite {
                true => Growth::Unclear,
                false if last.1.abs() < 1e6 => Growth::Integrable,
                false => Growth::Unclear,
            };
        }
        let power = (libm::log10(last.1.abs()) - libm::log10(before.1.abs())) / (last.0 - before.0);
        let positive = last.1 > 0.0;
        let margin = 0.04;
        if (power + 1.0).abs() < margin {
            // Like 1/x, or 1/x times a power of the logarithm.
            return self.harmonic(&defined, positive);
        }
        match (infinite, power < -1.0) {
            (true, true) | (false, false) => Growth::Integrable,
            _ => Growth::Infinite(positive),
        }
    }

    /// The integrand behaves like the reciprocal: a power of the logarithm decides.
    fn harmonic(&self, values: &[(f64, f64)], positive: bool) -> Growth {
        let scaled: Vec<(f64, f64)> = values
            .iter()
            .map(|(exponent, value)| {
                (
                    exponent.abs() * std::f64::consts::LN_10,
                    value.abs() * libm::pow(10.0, *exponent),
                )
            })
            .collect();
        let (last, before) = (scaled[scaled.len() - 1], scaled[scaled.len() - 2]);
        let power =
            (libm::log(last.1) - libm::log(before.1)) / (libm::log(last.0) - libm::log(before.0));
        match power {
            power if power > -0.9 => Growth::Infinite(positive),
            power if power < -1.25 => Growth::Integrable,
            power if (power + 1.0).abs() < 0.02 => Growth::Infinite(positive),
            _ => Growth::Unclear,
        }
    }

    /// Towards infinity, with a sine or cosine: only a bound on its size can be told.
    fn oscillating(&self, side: f64) -> Growth {
        let largest = |from: f64| {
            (0..24)
                .filter_map(|step| self.body(side * (from + f64::from(step) * 0.61)))
                .fold(0.0_f64, |size, value| size.max(value.abs()))
        };
        let (near, far) = (largest(1e3), largest(1e6));
        if near < 1e-30 {
            return Growth::Integrable;
        }
        let power = (libm::log10(far.max(1e-300)) - libm::log10(near)) / 3.0;
        match power < -1.2 {
            true => Growth::Integrable,
            false => Growth::Unclear,
        }
    }
}

/// A place that is a simple fraction, or one of π, but for rounding.
fn snapped(at: f64) -> f64 {
    for unit in [1.0, std::f64::consts::PI] {
        for below in [1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0] {
            let above = at * below / unit;
            let whole = libm::round(above);
            if (above - whole).abs() < 1e-8 && whole.abs() < 1e6 {
                return whole * unit / below;
            }
        }
    }
    at
}
