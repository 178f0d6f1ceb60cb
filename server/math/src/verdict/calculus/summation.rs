//! What is the sum of an infinite series?
//!
//! Where the terms fall off like a geometric series they are added up; where they alternate, by the
//! acceleration of Cohen, Rodriguez Villegas and Zagier (Convergence acceleration of alternating
//! series, 2000, algorithm 1); otherwise by the formula of Euler and Maclaurin (Abramowitz and
//! Stegun, 23.1.30).

use super::Context;
use super::germ::{Approach, Germ, Tendency, expand};
use super::jet::Jet;
use super::program::{Leaves, Program, compile, symbol_expression};
use super::quadrature;
use crate::expression::{Constant, Expression, Operator, SeriesOperator, SeriesRange, Symbol};

/// An infinite series.
pub(super) struct Series {
    pub(super) body: Expression,
    pub(super) index: Symbol,
    from: Expression,
    /// Letters besides the index.
    pub(super) leaves: Leaves,
    program: Option<Program>,
    first: Option<Program>,
}

impl Series {
    /// The series that a formula is.
    pub(super) fn read(formula: &Expression) -> Option<Self> {
        let (Operator::Series(SeriesOperator::Sum, range), operands) =
            (formula.operator(), formula.operands())
        else {
            return None;
        };
        let (body, index, from) = match (range, operands) {
            (SeriesRange::Between, [body, index, from, to])
                if to.as_constant() == Some(Constant::Infinity) =>
            {
                (body, index, from.clone())
            }
            (SeriesRange::From, [body, index, from]) => (body, index, from.clone()),
            (SeriesRange::Index, [body, index]) => (body, index, Expression::integer(1)),
            // `\sum a_n` without a range.
            (SeriesRange::Unstated, [body]) => {
                let index = ["n", "k", "m", "j", "i"].into_iter().map(Symbol::new);
                let index = index.into_iter().find(|letter| body.mentions(letter))?;
                return Some(Self::of(body.clone(), index, Expression::integer(1)));
            }
            _ => return None,
        };
        Some(Self::of(body.clone(), index.as_symbol()?.clone(), from))
    }

    fn of(body: Expression, index: Symbol, from: Expression) -> Self {
        let mut letters = body.free_symbols();
        letters.remove(&index);
        let leaves = Leaves::of_symbols(&letters);
        let mut all = leaves.clone();
        all.place(&symbol_expression(&index));
        let count = all.len();
        let program = compile(&body, &mut all).ok().filter(|_| all.len() == count);
        let first = compile(&from, &mut leaves.clone()).ok();
        Self {
            body,
            index,
            from,
            leaves,
            program,
            first,
        }
    }

    /// The first index, where it is a number.
    fn start(&self, context: &Context<'_>) -> Option<i64> {
        match self.from.as_i64() {
            Some(start) => Some(start),
            None => {
                let value = self.first.as_ref()?.value(&[], context.budget)?;
                (value == libm::round(value)).then_some(value as i64)
            }
        }
    }

    pub(super) fn germ(&self, letters: &[f64], context: &Context<'_>) -> Option<Germ> {
        let leaves = self.leaves.as_slice().iter().cloned();
        let others: Vec<(Expression, f64)> = leaves.zip(letters.iter().copied()).collect();
        expand(
            &self.body,
            &self.index,
            Approach::Whole,
            &others,
            context.budget,
        )
    }

    /// Whether it converges, and absolutely, for these values of the letters.
    pub(super) fn converges(&self, letters: &[f64], context: &Context<'_>) -> Option<(bool, bool)> {
        self.germ(letters, context)?.converges()
    }

    /// The terms change sign from each to the next for ever; at least they do not tend to zero.
    pub(super) fn terms_tend_to(&self, letters: &[f64], context: &Context<'_>) -> Option<Tendency> {
        Some(self.germ(letters, context)?.tendency())
    }

    fn term(&self, index: f64, letters: &[f64], context: &Context<'_>) -> Option<f64> {
        let mut place = letters.to_vec();
        place.push(index);
        self.program.as_ref()?.value(&place, context.budget)
    }

    /// The sum, if it converges and can be computed to nine digits.
    pub(super) fn sum(&self, letters: &[f64], context: &Context<'_>) -> Option<f64> {
        if !self.converges(letters, context)?.0 {
            return None;
        }
        let start = self.start(context)? as f64;
        self.geometric(start, letters, context)
            .or_else(|| self.alternating(start, letters, context))
            .or_else(|| self.smooth(start, letters, context))
    }

    fn geometric(&self, start: f64, letters: &[f64], context: &Context<'_>) -> Option<f64> {
        let (mut sum, mut small) = (0.0, 0);
        let mut largest = 0.0_f64;
        for step in 0..600 {
            let term = self.term(start + f64::from(step), letters, context)?;
            sum += term;
            largest = largest.max(term.abs());
            small = match term.abs() <= 1e-17 * largest.max(1e-300) {
                true => small + 1,
                false => 0,
            };
            if small >= 3 {
                return Some(sum);
            }
            // Terms that fall off like a power never become small enough.
            if step == 60 && term.abs() > 1e-2 * largest {
                return None;
            }
        }
        None
    }

    fn alternating(&self, start: f64, letters: &[f64], context: &Context<'_>) -> Option<f64> {
        let mut sum = 0.0;
        for step in 0..8 {
            sum += self.term(start + f64::from(step), letters, context)?;
        }
        let start = start + 8.0;
        let accelerated = |count: i32| {
            let root = libm::pow(3.0 + libm::sqrt(8.0), f64::from(count));
            let d = (root + 1.0 / root) / 2.0;
            let (mut b, mut c, mut s) = (-1.0, -d, 0.0);
            let mut sign = 0.0;
            for k in 0..count {
                let term = self.term(start + f64::from(k), letters, context)?;
                let size = if k % 2 == 0 { term } else { -term };
                if k == 0 {
                    sign = size.signum();
                }
                if size.signum() != sign {
                    return None;
                }
                c = b - c;
                s += c * size;
                let k = f64::from(k);
                let n = f64::from(count);
                b = (k + n) * (k - n) * b / ((k + 0.5) * (k + 1.0));
            }
            Some(s / d)
        };
        let (one, two) = (accelerated(18)?, accelerated(24)?);
        ((one - two).abs() <= 1e-10 * (1.0 + (sum + two).abs())).then_some(sum + two)
    }

    fn smooth(&self, start: f64, letters: &[f64], context: &Context<'_>) -> Option<f64> {
        let program = self.program.as_ref()?;
        let beyond = |count: f64| {
            let mut sum = 0.0;
            let mut index = start;
            while index < start + count {
                sum += self.term(index, letters, context)?;
                index += 1.0;
            }
            let mut jets: Vec<Jet> = letters.iter().map(|v| Jet::constant(*v, 8)).collect();
            jets.push(Jet::variable(index, 8));
            let jet = program.jet(&jets, 8, context.budget)?;
            let integral =
                quadrature::integrate(index, f64::INFINITY, |at| self.term(at, letters, context))?;
            if integral.error > 1e-10 * (1.0 + integral.value.abs()) {
                return None;
            }
            // B₂/2!, B₄/4!, B₆/6!, B₈/8!
            let bernoulli = [1.0 / 12.0, -1.0 / 720.0, 1.0 / 30240.0, -1.0 / 1_209_600.0];
            let corrections = bernoulli.iter().enumerate();
            let correction: f64 = corrections
                .map(|(k, b)| b * jet.derivative(2 * k + 1))
                .sum();
            Some(sum + integral.value + jet.value() / 2.0 - correction)
        };
        let (one, two) = (beyond(16.0)?, beyond(24.0)?);
        ((one - two).abs() <= 1e-9 * (1.0 + two.abs())).then_some(two)
    }
}
