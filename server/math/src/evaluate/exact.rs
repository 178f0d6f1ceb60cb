//! Values that are rational by arithmetic alone.

use std::collections::BTreeMap;

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, Pow, Signed, ToPrimitive, Zero};

use super::MAX_STEPS;
use crate::expression::{Expression, Function, Operator, SeriesOperator, SeriesRange, Symbol};

/// The greatest number of bits of a numerator or denominator.
const MAX_BITS: u64 = 20_000;

/// The exact value of an expression where it is rational and can be had by arithmetic, roots of
/// perfect powers, factorials, rounding and finite sums; `None` where it is not, where a symbol
/// has no value, and where the numbers grow beyond 20,000 bits or the work beyond
/// [`MAX_STEPS`].
pub fn exact(
    expression: &Expression,
    values: &BTreeMap<Symbol, BigRational>,
) -> Option<BigRational> {
    Evaluation {
        values: values.clone(),
        steps: 0,
    }
    .value(expression)
}

struct Evaluation {
    values: BTreeMap<Symbol, BigRational>,
    steps: u32,
}

impl Evaluation {
    fn value(&mut self, expression: &Expression) -> Option<BigRational> {
        self.steps += 1;
        if self.steps > MAX_STEPS {
            return None;
        }
        let value = match (expression.operator(), expression.operands()) {
            (Operator::Number(number), _) => number.value(),
            (Operator::Symbol(symbol), _) => self.values.get(symbol)?.clone(),
            (Operator::Sum, terms) => {
                let mut sum = BigRational::zero();
                for term in terms {
                    sum = small(sum + self.value(term)?)?;
                }
                sum
            }
            (Operator::Product, factors) => {
                let mut product = BigRational::one();
                for factor in factors {
                    product = small(product * self.value(factor)?)?;
                }
                product
            }
            (Operator::Negative, [operand]) => -self.value(operand)?,
            (Operator::Fraction, [numerator, denominator]) => {
                quotient(self.value(numerator)?, self.value(denominator)?)?
            }
            (Operator::Mixed, [whole, numerator, denominator]) => {
                self.value(whole)? + quotient(self.value(numerator)?, self.value(denominator)?)?
            }
            (Operator::Power, [base, exponent]) => {
                let base = self.value(base)?;
                let exponent = self.value(exponent)?;
                power(base, &exponent)?
            }
            (Operator::Root, [radicand]) => root(&self.value(radicand)?, 2)?,
            (Operator::NthRoot, [radicand, degree]) => {
                let degree = self.integer(degree)?.to_u32()?;
                root(&self.value(radicand)?, degree)?
            }
            (Operator::Percent, [operand]) => {
                self.value(operand)? / BigRational::from_integer(100.into())
            }
            (Operator::Function(function), arguments) => self.function(*function, arguments)?,
            (Operator::Series(operator, SeriesRange::Between), [body, index, from, to]) => {
                self.series(*operator, body, index, from, to)?
            }
            _ => return None,
        };
        small(value)
    }

    fn integer(&mut self, expression: &Expression) -> Option<BigInt> {
        let value = self.value(expression)?;
        value.is_integer().then(|| value.to_integer())
    }

    fn function(&mut self, function: Function, arguments: &[Expression]) -> Option<BigRational> {
        let whole = BigRational::from_integer;
        Some(match (function, arguments) {
            (Function::Abs, [argument]) => self.value(argument)?.abs(),
            (Function::Floor, [argument]) => self.value(argument)?.floor(),
            (Function::Ceiling, [argument]) => self.value(argument)?.ceil(),
            (Function::Sign, [argument]) => self.value(argument)?.signum(),
            (Function::Factorial, [argument]) => {
                let n = self.integer(argument)?.to_u64()?;
                whole(self.product((1..=n).map(BigInt::from))?)
            }
            (Function::DoubleFactorial, [argument]) => {
                let n = self.integer(argument)?.to_u64()?;
                whole(self.product((1..=n).rev().step_by(2).map(BigInt::from))?)
            }
            (Function::Binomial, [n, k]) => {
                let n = self.integer(n)?.to_u64()?;
                let k = self.integer(k)?.to_u64()?;
                match k > n {
                    true => BigRational::zero(),
                    false => {
                        let k = k.min(n - k);
                        let above = self.product((n - k + 1..=n).map(BigInt::from))?;
                        let below = self.product((1..=k).map(BigInt::from))?;
                        BigRational::new(above, below)
                    }
                }
            }
            (Function::Gcd, [_, ..]) => {
                let mut result = BigInt::zero();
                for argument in arguments {
                    result = result.gcd(&self.integer(argument)?);
                }
                whole(result)
            }
            (Function::Lcm, [_, ..]) => {
                let mut result = BigInt::one();
                for argument in arguments {
                    result = result.lcm(&self.integer(argument)?);
                }
                whole(result)
            }
            (Function::Remainder, [dividend, divisor]) => {
                let (dividend, divisor) = (self.integer(dividend)?, self.integer(divisor)?);
                if divisor.is_zero() {
                    return None;
                }
                whole(dividend.mod_floor(&divisor))
            }
            (Function::Max | Function::Min, [_, _, ..]) => {
                let mut best: Option<BigRational> = None;
                for argument in arguments {
                    let value = self.value(argument)?;
                    best = Some(match best {
                        None => value,
                        Some(best) if function == Function::Max => best.max(value),
                        Some(best) => best.min(value),
                    });
                }
                best?
            }
            _ => return None,
        })
    }

    fn product(&mut self, factors: impl Iterator<Item = BigInt>) -> Option<BigInt> {
        let mut product = BigInt::one();
        for factor in factors {
            self.steps += 1;
            product *= factor;
            if self.steps > MAX_STEPS || product.bits() > MAX_BITS {
                return None;
            }
        }
        Some(product)
    }

    fn series(
        &mut self,
        operator: SeriesOperator,
        body: &Expression,
        index: &Expression,
        from: &Expression,
        to: &Expression,
    ) -> Option<BigRational> {
        let index = index.as_symbol()?.clone();
        let from = self.integer(from)?.to_i64()?;
        let to = self.integer(to)?.to_i64()?;
        let mut total = match operator {
            SeriesOperator::Sum => BigRational::zero(),
            SeriesOperator::Product => BigRational::one(),
            _ => return None,
        };
        let outside = self.values.get(&index).cloned();
        for place in from..=to {
            self.values
                .insert(index.clone(), BigRational::from_integer(place.into()));
            let value = self.value(body)?;
            total = small(match operator {
                SeriesOperator::Sum => total + value,
                _ => total * value,
            })?;
            // Long fractions cost time by the square of their length: their divisor is sought.
            let words = u32::try_from(total.denom().bits() / 512).unwrap_or(u32::MAX);
            self.steps = self
                .steps
                .saturating_add(words.saturating_mul(words).saturating_mul(8));
        }
        match outside {
            Some(value) => self.values.insert(index, value),
            None => self.values.remove(&index),
        };
        Some(total)
    }
}

fn small(value: BigRational) -> Option<BigRational> {
    (value.numer().bits() <= MAX_BITS && value.denom().bits() <= MAX_BITS).then_some(value)
}

fn quotient(above: BigRational, below: BigRational) -> Option<BigRational> {
    (!below.is_zero()).then(|| above / below)
}

/// A rational power, where it is rational.
fn power(base: BigRational, exponent: &BigRational) -> Option<BigRational> {
    let degree = exponent.denom().to_u32()?;
    let times = exponent.numer().to_i32()?;
    let base = match degree {
        1 => base,
        _ => root(&base, degree)?,
    };
    let bits = base.numer().bits().max(base.denom().bits());
    if base.is_zero() {
        return match times {
            1.. => Some(base),
            0 => Some(BigRational::one()),
            _ => None,
        };
    }
    if bits.checked_mul(u64::from(times.unsigned_abs()))? > MAX_BITS {
        // Powers of one and minus one stay small, whatever the exponent.
        return base.abs().is_one().then(|| match times % 2 == 0 {
            true => BigRational::one(),
            false => base,
        });
    }
    Some(Pow::pow(base, times))
}

/// The real root of this degree, where it is rational.
fn root(radicand: &BigRational, degree: u32) -> Option<BigRational> {
    if degree == 0 || radicand.is_negative() && degree.is_multiple_of(2) {
        return None;
    }
    let of = |number: &BigInt| {
        let root = number.nth_root(degree);
        (Pow::pow(&root, degree) == *number).then_some(root)
    };
    Some(BigRational::new(
        of(radicand.numer())?,
        of(radicand.denom())?,
    ))
}
