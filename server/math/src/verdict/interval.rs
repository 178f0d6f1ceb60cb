//! Between which bounds does the value of an expression lie?
//!
//! A [`Tape`] is an expression made ready to be evaluated many times. It is evaluated over a box of
//! intervals, with every bound rounded outward, so that what the bounds exclude is excluded
//! whatever the rounding. (Moore, Kearfott and Cloud, Introduction to Interval Analysis (2009),
//! chapters 2 to 5.)
//!
//! The numbers are real and the conventions those of [`crate::evaluate`]: odd roots of negative
//! numbers are real, even ones have no value.

use crate::expression::{
    Constant, Expression, Function, Number, Operator, SeriesOperator, SeriesRange, Symbol, Written,
};
use std::f64::consts::{E, FRAC_PI_2, LN_10, PI};

/// The greatest number of operations of a tape.
const MAX_OPERATIONS: usize = 20_000;

/// Real numbers between two bounds, which may be infinite. The lower bound is never the greater.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Interval {
    pub(super) low: f64,
    pub(super) high: f64,
}

/// Where a value lies.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Enclosure {
    /// All values over the box lie in it.
    pub(super) values: Interval,
    /// There is a value everywhere in the box.
    pub(super) is_total: bool,
}

/// Why there is no value anywhere in a box.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Outside {
    /// A divisor is 0.
    DivisionByZero,
    /// A root of even degree is taken of a negative number.
    RootOfNegative,
    /// The logarithm of a negative number.
    LogarithmOfNegative,
    /// The logarithm of 0.
    LogarithmOfZero,
    /// A power of a negative number, or of 0, that is not real.
    Power,
    /// An inverse function of a number that is no value of the function.
    Inverse,
    /// The numbers are too large, or no real number is meant.
    Other,
}

impl Outside {
    /// What a value of the variable does that is outside: "makes the logarithm of a negative
    /// number".
    pub(super) fn told(self) -> &'static str {
        match self {
            Self::DivisionByZero => "makes a denominator 0",
            Self::RootOfNegative => "makes the even root of a negative number",
            Self::LogarithmOfNegative => "makes the logarithm of a negative number",
            Self::LogarithmOfZero => "makes the logarithm of 0",
            Self::Power => "makes a power that is not real",
            Self::Inverse => "makes an inverse function of a number outside its domain",
            Self::Other => "makes an expression without a value",
        }
    }
}

impl Interval {
    pub(super) const WHOLE: Self = Self {
        low: f64::NEG_INFINITY,
        high: f64::INFINITY,
    };

    /// The numbers between two bounds in either order.
    pub(super) fn new(a: f64, b: f64) -> Self {
        match (a.is_nan() || b.is_nan(), a <= b) {
            (true, _) => Self::WHOLE,
            (false, true) => Self { low: a, high: b },
            (false, false) => Self { low: b, high: a },
        }
    }

    pub(super) fn point(value: f64) -> Self {
        Self::new(value, value)
    }

    /// The bounds of a number that may have no floating-point form.
    pub(super) fn of_number(number: &Number) -> Self {
        if let Some(value) = number.as_i64()
            && value.unsigned_abs() < 1 << 53
        {
            return Self::point(value as f64);
        }
        let value = number.to_f64();
        if number.is_integer() {
            return Self::new(value.next_down(), value.next_up());
        }
        // A decimal such as 0.5 is a floating-point number; most are not.
        let exact = num_rational::BigRational::from_float(value);
        match exact.is_some_and(|exact| exact == number.value()) {
            true => Self::point(value),
            false => Self::new(value.next_down(), value.next_up()),
        }
    }

    pub(super) fn width(self) -> f64 {
        self.high - self.low
    }

    /// A number in it: the middle if it is bounded.
    pub(super) fn middle(self) -> f64 {
        match (self.low.is_finite(), self.high.is_finite()) {
            (true, true) => self.low + (self.high - self.low) / 2.0,
            (true, false) => self.low.abs().max(1.0) * 2.0,
            (false, true) => -self.high.abs().max(1.0) * 2.0,
            (false, false) => 0.0,
        }
    }

    pub(super) fn contains(self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }

    pub(super) fn meets(self, other: Self) -> bool {
        self.low <= other.high && other.low <= self.high
    }

    /// So narrow that two numbers in it are the same to about ten digits.
    pub(super) fn is_narrow(self) -> bool {
        let size = self.low.abs().max(self.high.abs());
        size.is_finite() && self.width() <= 1e-9 * size.max(1e-3)
    }

    pub(super) fn negate(self) -> Self {
        Self {
            low: -self.high,
            high: -self.low,
        }
    }

    pub(super) fn add(self, other: Self) -> Self {
        Self::new(
            sum_below(self.low, other.low),
            -sum_below(-self.high, -other.high),
        )
    }

    pub(super) fn multiply(self, other: Self) -> Self {
        let pairs = [
            (self.low, other.low),
            (self.low, other.high),
            (self.high, other.low),
            (self.high, other.high),
        ];
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for (a, b) in pairs {
            low = low.min(product_below(a, b));
            high = high.max(-product_below(-a, b));
        }
        Self::new(low, high)
    }

    /// The quotients, and whether there is one for every pair; none if the divisor is 0.
    pub(super) fn divide(self, other: Self) -> Option<(Self, bool)> {
        if other.low == 0.0 && other.high == 0.0 {
            return None;
        }
        if other.contains(0.0) {
            // From one side of 0 the sign is known.
            let half = match (other.low == 0.0, other.high == 0.0) {
                (true, _) if self.low >= 0.0 => {
                    Self::new(quotient_below(self.low, other.high), f64::INFINITY)
                }
                (true, _) if self.high <= 0.0 => {
                    Self::new(f64::NEG_INFINITY, -quotient_below(-self.high, other.high))
                }
                _ => Self::WHOLE,
            };
            return Some((half, false));
        }
        let mut low = f64::INFINITY;
        let mut high = f64::NEG_INFINITY;
        for a in [self.low, self.high] {
            for b in [other.low, other.high] {
                low = low.min(quotient_below(a, b));
                high = high.max(-quotient_below(-a, b));
            }
        }
        Some((Self::new(low, high), true))
    }

    /// A whole power that is not negative.
    fn whole_power(self, exponent: u32) -> Self {
        if exponent == 0 {
            return Self::point(1.0);
        }
        let (small, large) = match self.low >= 0.0 || exponent % 2 == 1 {
            true => (self.low, self.high),
            false if self.high <= 0.0 => (-self.high, -self.low),
            false => (0.0, self.high.max(-self.low)),
        };
        let power = |base: f64| {
            let mut result = Self::point(1.0);
            let mut square = Self::point(base);
            let mut left = exponent;
            while left > 0 {
                if left & 1 == 1 {
                    result = result.multiply(square);
                }
                left >>= 1;
                if left > 0 {
                    square = square.multiply(square);
                }
            }
            result
        };
        Self::new(power(small).low, power(large).high)
    }

    /// Applies a function that grows, computed to a few units in the last place.
    fn growing(self, function: impl Fn(f64) -> f64) -> Self {
        Self::new(below(function(self.low)), above(function(self.high)))
    }

    fn falling(self, function: impl Fn(f64) -> f64) -> Self {
        Self::new(below(function(self.high)), above(function(self.low)))
    }

    fn intersect(self, other: Self) -> Option<Self> {
        let (low, high) = (self.low.max(other.low), self.high.min(other.high));
        (low <= high).then_some(Self { low, high })
    }

    fn absolute(self) -> Self {
        match () {
            () if self.low >= 0.0 => self,
            () if self.high <= 0.0 => self.negate(),
            () => Self::new(0.0, self.high.max(-self.low)),
        }
    }

    fn sine(self) -> Self {
        if !(self.low.abs() < 1e9 && self.high.abs() < 1e9) || self.width() >= 2.0 * PI {
            return Self::new(-1.0, 1.0);
        }
        let (a, b) = (libm::sin(self.low), libm::sin(self.high));
        // A bound that is nearly at a crest may be on either side of it.
        let slack = 1e-15 * (1.0 + self.low.abs().max(self.high.abs()));
        let crest = |at: f64| {
            let low = libm::floor((self.low - slack - at) / (2.0 * PI));
            let high = libm::floor((self.high + slack - at) / (2.0 * PI));
            high > low
        };
        let high = if crest(FRAC_PI_2) {
            1.0
        } else {
            above(a.max(b)).min(1.0)
        };
        let low = if crest(-FRAC_PI_2) {
            -1.0
        } else {
            below(a.min(b)).max(-1.0)
        };
        Self::new(low, high)
    }

    fn cosine(self) -> Self {
        // The rounding of this shift is far below the slack that the sine allows for, and is
        // given back by widening.
        let by = Self::new(FRAC_PI_2, FRAC_PI_2.next_up());
        self.add(by).sine()
    }
}

fn sum_below(a: f64, b: f64) -> f64 {
    let sum = a + b;
    if !sum.is_finite() {
        return match a.is_infinite() || b.is_infinite() {
            true if sum.is_nan() => f64::NEG_INFINITY,
            true => sum,
            false if sum > 0.0 => f64::MAX,
            false => sum,
        };
    }
    // The error of a sum is a floating-point number. (Knuth, The Art of Computer Programming,
    // volume 2, section 4.2.2, theorem B.)
    let part = sum - a;
    let error = (a - (sum - part)) + (b - part);
    if error < 0.0 { sum.next_down() } else { sum }
}

fn product_below(a: f64, b: f64) -> f64 {
    if a == 0.0 || b == 0.0 {
        return 0.0;
    }
    let product = a * b;
    if !product.is_finite() {
        return match a.is_infinite() || b.is_infinite() || product < 0.0 {
            true => product,
            false => f64::MAX,
        };
    }
    match product.abs() > 1e-250 && a.mul_add(b, -product) >= 0.0 {
        true => product,
        false => product.next_down(),
    }
}

fn quotient_below(a: f64, b: f64) -> f64 {
    if a == 0.0 || b.is_infinite() {
        return match a.is_infinite() {
            true => f64::NEG_INFINITY,
            false if (a < 0.0) == (b < 0.0) => 0.0,
            false if a == 0.0 => 0.0,
            false => -f64::MIN_POSITIVE,
        };
    }
    let quotient = a / b;
    if !quotient.is_finite() {
        return match a.is_infinite() || quotient < 0.0 {
            true => quotient,
            false => f64::MAX,
        };
    }
    let is_exact = quotient.abs() > 1e-250 && quotient.mul_add(b, -a) == 0.0;
    if is_exact {
        quotient
    } else {
        quotient.next_down()
    }
}

/// A lower bound for a value that is computed to a few units in the last place.
fn below(value: f64) -> f64 {
    match value.is_finite() {
        true => value - value.abs() * 1e-15 - 1e-300,
        false => value,
    }
}

fn above(value: f64) -> f64 {
    match value.is_finite() {
        true => value + value.abs() * 1e-15 + 1e-300,
        false => value,
    }
}

#[derive(Clone, Debug)]
enum Operation {
    Constant(Interval),
    Letter(usize),
    Sum(usize),
    Product(usize),
    Negative,
    Quotient,
    /// A power with this whole number, not negative.
    Whole(u32),
    /// A power with a fraction in lowest terms, the denominator above 1.
    Fractional(i64, i64),
    Power,
    Root(u32),
    Logarithm,
    Minimum(usize),
    Maximum(usize),
    Function(Function),
}

/// An expression made ready to be evaluated.
#[derive(Clone, Debug)]
pub(super) struct Tape {
    operations: Vec<Operation>,
}

/// How an expression is to be understood.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Reading {
    /// `\log` without a base has base e.
    pub(super) natural_logarithm: bool,
    /// What a decimal stands for.
    pub(super) decimals: Decimals,
}

/// What a number with a decimal point stands for.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Decimals {
    /// Itself.
    #[default]
    Exact,
    /// What it was rounded or cut from: half a unit of its last digit less, or up to one more.
    Rounded,
    /// What it may have become by rounding on the way: up to a good unit of its last digit off.
    Loose,
}

impl Tape {
    /// Makes an expression ready; its letters are numbered as in the list. None if it has other
    /// letters, or parts that have no bounds here.
    pub(super) fn new(
        expression: &Expression,
        letters: &[Symbol],
        reading: Reading,
    ) -> Option<Self> {
        let mut tape = Self {
            operations: Vec::with_capacity(expression.size()),
        };
        tape.push(expression, letters, reading)?;
        Some(tape)
    }

    /// The number of operations.
    pub(super) fn len(&self) -> usize {
        self.operations.len()
    }

    fn put(&mut self, operation: Operation) -> Option<()> {
        self.operations.push(operation);
        (self.operations.len() <= MAX_OPERATIONS).then_some(())
    }

    fn push_all(
        &mut self,
        list: &[Expression],
        letters: &[Symbol],
        reading: Reading,
    ) -> Option<()> {
        list.iter()
            .try_for_each(|operand| self.push(operand, letters, reading))
    }

    fn push(
        &mut self,
        expression: &Expression,
        letters: &[Symbol],
        reading: Reading,
    ) -> Option<()> {
        let operands = expression.operands();
        match (expression.operator(), operands) {
            (Operator::Number(number), _) => {
                let mut value = Interval::of_number(number);
                if let Written::Decimal { places } = number.written() {
                    let unit = libm::pow(10.0, -f64::from(places));
                    let (less, more) = match reading.decimals {
                        Decimals::Exact => (0.0, 0.0),
                        Decimals::Rounded => (0.501, 1.0),
                        Decimals::Loose => (1.2, 1.2),
                    };
                    value = Interval::new(value.low - less * unit, value.high + more * unit);
                }
                self.put(Operation::Constant(value))
            }
            (Operator::Symbol(symbol), _) => {
                let place = letters.iter().position(|letter| letter == symbol)?;
                self.put(Operation::Letter(place))
            }
            (Operator::Constant(constant), _) => {
                let value = match constant {
                    Constant::Pi => Interval::new(PI, PI.next_up()),
                    Constant::E => Interval::new(E, E.next_up()),
                    _ => return None,
                };
                self.put(Operation::Constant(value))
            }
            (Operator::Sum, _) => {
                self.push_all(operands, letters, reading)?;
                self.put(Operation::Sum(operands.len()))
            }
            (Operator::Product, _) => {
                self.push_all(operands, letters, reading)?;
                self.put(Operation::Product(operands.len()))
            }
            (Operator::Negative, [_]) => {
                self.push_all(operands, letters, reading)?;
                self.put(Operation::Negative)
            }
            (Operator::Fraction, [_, _]) => {
                self.push_all(operands, letters, reading)?;
                self.put(Operation::Quotient)
            }
            (Operator::Mixed, [whole, numerator, denominator]) => {
                self.push(whole, letters, reading)?;
                self.push(numerator, letters, reading)?;
                self.push(denominator, letters, reading)?;
                self.put(Operation::Quotient)?;
                self.put(Operation::Sum(2))
            }
            (Operator::Power, [base, exponent]) => {
                self.push_power(base, exponent, letters, reading)
            }
            (Operator::Root, [_]) => {
                self.push_all(operands, letters, reading)?;
                self.put(Operation::Root(2))
            }
            (Operator::NthRoot, [radicand, degree]) => {
                let degree = u32::try_from(degree.as_i64()?).ok()?;
                if !(2..=1000).contains(&degree) {
                    return None;
                }
                self.push(radicand, letters, reading)?;
                self.put(Operation::Root(degree))
            }
            (Operator::Percent, [operand]) => {
                self.push(operand, letters, reading)?;
                self.put(Operation::Constant(Interval::point(100.0)))?;
                self.put(Operation::Quotient)
            }
            (Operator::Degrees, [operand]) => {
                self.push(operand, letters, reading)?;
                self.put(Operation::Constant(Interval::new(PI, PI.next_up())))?;
                self.put(Operation::Product(2))?;
                self.put(Operation::Constant(Interval::point(180.0)))?;
                self.put(Operation::Quotient)
            }
            (Operator::Function(function), _) => {
                self.push_function(*function, operands, letters, reading)
            }
            (Operator::Series(operator, SeriesRange::Between), [body, index, from, to]) => {
                let index = index.as_symbol()?;
                let (from, to) = (from.as_i64()?, to.as_i64()?);
                let count = usize::try_from(to.checked_sub(from)?.checked_add(1)?).ok()?;
                if count > 2_000 {
                    return None;
                }
                for place in from..=to {
                    let term = body.substitute(index, &Expression::integer(place));
                    self.push(&term, letters, reading)?;
                }
                match operator {
                    SeriesOperator::Sum => self.put(Operation::Sum(count)),
                    SeriesOperator::Product => self.put(Operation::Product(count)),
                    _ => None,
                }
            }
            _ => None,
        }
    }

    fn push_power(
        &mut self,
        base: &Expression,
        exponent: &Expression,
        letters: &[Symbol],
        reading: Reading,
    ) -> Option<()> {
        if base.as_constant() == Some(Constant::E) {
            self.push(exponent, letters, reading)?;
            return self.put(Operation::Function(Function::Exp));
        }
        self.push(base, letters, reading)?;
        let number = match exponent.size() <= 4 {
            true => crate::surface::number(exponent).and_then(|number| number.as_fraction()),
            false => None,
        };
        match number {
            Some((n, 1)) if (0..=4000).contains(&n) => self.put(Operation::Whole(n as u32)),
            Some((n, 1)) if (-4000..0).contains(&n) => {
                self.put(Operation::Whole(-n as u32))?;
                // The reciprocal.
                let power = self.operations.pop()?;
                self.put(power)?;
                self.put(Operation::Fractional(-1, 1))
            }
            Some((n, d)) if d > 1 && d <= 1000 && n.abs() <= 4000 => {
                self.put(Operation::Fractional(n, d))
            }
            _ => {
                self.push(exponent, letters, reading)?;
                self.put(Operation::Power)
            }
        }
    }

    fn push_function(
        &mut self,
        function: Function,
        arguments: &[Expression],
        letters: &[Symbol],
        reading: Reading,
    ) -> Option<()> {
        use Function as F;
        match (function, arguments) {
            (F::Log, [argument]) => {
                self.push(argument, letters, reading)?;
                self.put(Operation::Function(F::Ln))?;
                if reading.natural_logarithm {
                    return Some(());
                }
                self.put(Operation::Constant(Interval::new(
                    LN_10.next_down(),
                    LN_10.next_up(),
                )))?;
                self.put(Operation::Quotient)
            }
            (F::LogBase, [argument, base]) => {
                self.push(argument, letters, reading)?;
                self.push(base, letters, reading)?;
                self.put(Operation::Logarithm)
            }
            (F::Max | F::Min, [first, ..]) => {
                let list = match (arguments.len(), first.operator()) {
                    (1, Operator::Set) => first.operands(),
                    _ => arguments,
                };
                self.push_all(list, letters, reading)?;
                self.put(match function {
                    F::Max => Operation::Maximum(list.len()),
                    _ => Operation::Minimum(list.len()),
                })
            }
            (
                F::Factorial | F::Binomial | F::Permutations | F::Gcd | F::Lcm | F::DoubleFactorial,
                _,
            ) => {
                let whole = Expression::new(Operator::Function(function), arguments.to_vec());
                let value = crate::evaluate::exact(&whole, &Default::default())?;
                self.put(Operation::Constant(Interval::of_number(&Number::exact(
                    value,
                ))))
            }
            (F::RealPart | F::Conjugate, [argument]) => self.push(argument, letters, reading),
            (
                F::Sin
                | F::Cos
                | F::Tan
                | F::Cot
                | F::Sec
                | F::Csc
                | F::Arcsin
                | F::Arccos
                | F::Arctan
                | F::Arccot
                | F::Arcsec
                | F::Arccsc
                | F::Sinh
                | F::Cosh
                | F::Tanh
                | F::Coth
                | F::Sech
                | F::Csch
                | F::Arsinh
                | F::Arcosh
                | F::Artanh
                | F::Exp
                | F::Ln
                | F::Abs
                | F::Floor
                | F::Ceiling
                | F::Sign,
                [argument],
            ) => {
                self.push(argument, letters, reading)?;
                self.put(Operation::Function(function))
            }
            _ => None,
        }
    }

    /// The bounds over a box, which gives an interval for each letter.
    pub(super) fn over(&self, at: &[Interval]) -> Result<Enclosure, Outside> {
        let mut stack: Vec<Interval> = Vec::with_capacity(16);
        let mut is_total = true;
        for operation in &self.operations {
            let value = match operation {
                Operation::Constant(value) => *value,
                Operation::Letter(place) => at.get(*place).copied().ok_or(Outside::Other)?,
                Operation::Sum(count) => {
                    let start = stack.len().saturating_sub(*count);
                    let mut drained = stack.drain(start..);
                    let first = drained.next().unwrap_or(Interval::point(0.0));
                    drained.fold(first, Interval::add)
                }
                Operation::Product(count) => {
                    let start = stack.len().saturating_sub(*count);
                    let mut drained = stack.drain(start..);
                    let first = drained.next().unwrap_or(Interval::point(1.0));
                    drained.fold(first, Interval::multiply)
                }
                Operation::Minimum(count) => {
                    let start = stack.len().saturating_sub(*count);
                    let pick = |a: Interval, b: Interval| {
                        Interval::new(a.low.min(b.low), a.high.min(b.high))
                    };
                    stack.drain(start..).reduce(pick).ok_or(Outside::Other)?
                }
                Operation::Maximum(count) => {
                    let start = stack.len().saturating_sub(*count);
                    let pick = |a: Interval, b: Interval| {
                        Interval::new(a.low.max(b.low), a.high.max(b.high))
                    };
                    stack.drain(start..).reduce(pick).ok_or(Outside::Other)?
                }
                Operation::Quotient => {
                    let divisor = stack.pop().ok_or(Outside::Other)?;
                    let dividend = stack.pop().ok_or(Outside::Other)?;
                    let (value, total) = dividend.divide(divisor).ok_or(Outside::DivisionByZero)?;
                    is_total &= total;
                    value
                }
                Operation::Power => {
                    let exponent = stack.pop().ok_or(Outside::Other)?;
                    let base = stack.pop().ok_or(Outside::Other)?;
                    power(base, exponent, &mut is_total)?
                }
                Operation::Logarithm => {
                    let base = stack.pop().ok_or(Outside::Other)?;
                    let argument = stack.pop().ok_or(Outside::Other)?;
                    let above = logarithm(argument, &mut is_total)?;
                    let below = logarithm(base, &mut is_total)?;
                    let (value, total) = above.divide(below).ok_or(Outside::DivisionByZero)?;
                    is_total &= total;
                    value
                }
                single => {
                    let operand = stack.pop().ok_or(Outside::Other)?;
                    apply(single, operand, &mut is_total)?
                }
            };
            stack.push(value);
        }
        let values = stack.pop().ok_or(Outside::Other)?;
        Ok(Enclosure { values, is_total })
    }

    /// The bounds at a number.
    pub(super) fn at(&self, value: f64) -> Result<Enclosure, Outside> {
        self.over(&[Interval::point(value)])
    }
}

fn apply(operation: &Operation, x: Interval, is_total: &mut bool) -> Result<Interval, Outside> {
    Ok(match operation {
        Operation::Negative => x.negate(),
        Operation::Whole(exponent) => x.whole_power(*exponent),
        Operation::Fractional(-1, 1) => {
            let one = Interval::point(1.0);
            let (value, total) = one.divide(x).ok_or(Outside::DivisionByZero)?;
            *is_total &= total;
            value
        }
        Operation::Fractional(n, d) => {
            let root = root(x, *d as u32, is_total)?;
            let value = root.whole_power(n.unsigned_abs() as u32);
            match *n < 0 {
                true => return apply(&Operation::Fractional(-1, 1), value, is_total),
                false => value,
            }
        }
        Operation::Root(degree) => root(x, *degree, is_total)?,
        Operation::Function(function) => elementary(*function, x, is_total)?,
        _ => return Err(Outside::Other),
    })
}

fn root(x: Interval, degree: u32, is_total: &mut bool) -> Result<Interval, Outside> {
    let power = |value: f64| -> f64 {
        let magnitude = match degree {
            2 => libm::sqrt(value.abs()),
            3 => libm::cbrt(value.abs()),
            _ => libm::pow(value.abs(), 1.0 / f64::from(degree)),
        };
        if value < 0.0 { -magnitude } else { magnitude }
    };
    let bound = |value: f64, outward: fn(f64) -> f64| -> f64 {
        let root = power(value);
        let is_exact = match degree {
            2 => root.mul_add(root, -value.abs()) == 0.0,
            _ => {
                libm::round(root) == root
                    && root.abs() < 1e5
                    && libm::pow(root, f64::from(degree)) == value
            }
        };
        if is_exact {
            root
        } else {
            outward(outward(root))
        }
    };
    if degree % 2 == 1 {
        return Ok(Interval::new(bound(x.low, below), bound(x.high, above)));
    }
    if x.high < 0.0 {
        return Err(Outside::RootOfNegative);
    }
    *is_total &= x.low >= 0.0;
    let low = if x.low <= 0.0 {
        0.0
    } else {
        bound(x.low, below)
    };
    Ok(Interval::new(low, bound(x.high, above)))
}

fn logarithm(x: Interval, is_total: &mut bool) -> Result<Interval, Outside> {
    if x.high < 0.0 {
        return Err(Outside::LogarithmOfNegative);
    }
    if x.high == 0.0 {
        return Err(Outside::LogarithmOfZero);
    }
    *is_total &= x.low > 0.0;
    let low = match x.low <= 0.0 {
        true => f64::NEG_INFINITY,
        false if x.low == 1.0 => 0.0,
        false => below(libm::log(x.low)),
    };
    let high = if x.high == 1.0 {
        0.0
    } else {
        above(libm::log(x.high))
    };
    Ok(Interval::new(low, high))
}

fn exponential(x: Interval) -> Interval {
    let low = if x.low == 0.0 {
        1.0
    } else {
        below(libm::exp(x.low)).max(0.0)
    };
    let high = match libm::exp(x.high) {
        _ if x.high == 0.0 => 1.0,
        value => above(value),
    };
    Interval::new(low.min(f64::MAX), high)
}

fn power(base: Interval, exponent: Interval, is_total: &mut bool) -> Result<Interval, Outside> {
    if exponent.low == exponent.high
        && exponent.low == libm::round(exponent.low)
        && exponent.low.abs() <= 4000.0
    {
        let value = base.whole_power(exponent.low.abs() as u32);
        return match exponent.low < 0.0 {
            true => apply(&Operation::Fractional(-1, 1), value, is_total),
            false => Ok(value),
        };
    }
    if base.high < 0.0 {
        // At whole exponents there is a value, and there may be some in the box.
        return match libm::ceil(exponent.low) > libm::floor(exponent.high) {
            true => Err(Outside::Power),
            false => {
                *is_total = false;
                Ok(Interval::WHOLE)
            }
        };
    }
    if base.low < 0.0 {
        *is_total = false;
        return Ok(Interval::WHOLE);
    }
    if base.low == 0.0 && base.high == 0.0 {
        return match () {
            () if exponent.low > 0.0 => Ok(Interval::point(0.0)),
            () if exponent.high < 0.0 => Err(Outside::DivisionByZero),
            () => {
                *is_total = false;
                Ok(Interval::new(0.0, 1.0))
            }
        };
    }
    if base.low == 0.0 {
        *is_total &= exponent.low > 0.0;
    }
    let mut ignored = true;
    let logarithm = logarithm(base, &mut ignored)?;
    Ok(exponential(exponent.multiply(logarithm)))
}

fn elementary(function: Function, x: Interval, is_total: &mut bool) -> Result<Interval, Outside> {
    use Function as F;
    let one = Interval::point(1.0);
    let mut reciprocal = |of: Interval| -> Result<Interval, Outside> {
        let (value, total) = one.divide(of).ok_or(Outside::DivisionByZero)?;
        *is_total &= total;
        Ok(value)
    };
    Ok(match function {
        F::Exp => exponential(x),
        F::Ln => logarithm(x, is_total)?,
        F::Abs => x.absolute(),
        F::Sin => x.sine(),
        F::Cos => x.cosine(),
        F::Sec => reciprocal(x.cosine())?,
        F::Csc => reciprocal(x.sine())?,
        F::Tan | F::Cot => {
            let at = if function == F::Tan { FRAC_PI_2 } else { 0.0 };
            let slack = 1e-15 * (1.0 + x.low.abs().max(x.high.abs()));
            let branch = |value: f64| libm::floor((value - at) / PI);
            if !(x.low.abs() < 1e9 && x.high.abs() < 1e9)
                || x.width() >= PI
                || branch(x.low - slack) != branch(x.high + slack)
            {
                *is_total = false;
                return Ok(Interval::WHOLE);
            }
            match function {
                F::Tan => x.growing(libm::tan),
                _ => x.falling(|value| 1.0 / libm::tan(value)),
            }
        }
        F::Arcsin | F::Arccos => {
            let inside = x
                .intersect(Interval::new(-1.0, 1.0))
                .ok_or(Outside::Inverse)?;
            *is_total &= inside == x;
            match function {
                F::Arcsin => inside.growing(libm::asin),
                _ => inside.falling(libm::acos),
            }
        }
        F::Arcsec | F::Arccsc => {
            let inverted = match x.contains(0.0) {
                true if x.absolute().high < 1.0 => return Err(Outside::Inverse),
                true => Interval::WHOLE,
                false => reciprocal(x)?,
            };
            let inner = if function == F::Arcsec {
                F::Arccos
            } else {
                F::Arcsin
            };
            return elementary(inner, inverted, is_total);
        }
        F::Arctan => x.growing(libm::atan),
        F::Arccot => x
            .falling(|value| FRAC_PI_2 - libm::atan(value))
            .add(Interval::new(-1e-15, 1e-15)),
        F::Sinh => x.growing(libm::sinh),
        F::Tanh => x.growing(libm::tanh),
        F::Cosh => x.absolute().growing(libm::cosh),
        F::Coth => reciprocal(x.growing(libm::tanh))?,
        F::Sech => reciprocal(x.absolute().growing(libm::cosh))?,
        F::Csch => reciprocal(x.growing(libm::sinh))?,
        F::Arsinh => x.growing(libm::asinh),
        F::Arcosh => {
            let inside = x
                .intersect(Interval::new(1.0, f64::INFINITY))
                .ok_or(Outside::Inverse)?;
            *is_total &= inside == x;
            inside.growing(libm::acosh)
        }
        F::Artanh => {
            let inside = x
                .intersect(Interval::new(-1.0, 1.0))
                .ok_or(Outside::Inverse)?;
            *is_total &= inside == x && x.low > -1.0 && x.high < 1.0;
            inside.growing(libm::atanh)
        }
        F::Floor => Interval::new(libm::floor(x.low), libm::floor(x.high)),
        F::Ceiling => Interval::new(libm::ceil(x.low), libm::ceil(x.high)),
        F::Sign => {
            let sign = |value: f64| if value == 0.0 { 0.0 } else { value.signum() };
            Interval::new(sign(x.low), sign(x.high))
        }
        _ => return Err(Outside::Other),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};
    use proptest::prelude::*;

    fn tape(tex: &str) -> Tape {
        let expression = read(tex, &Declared::new()).expression;
        Tape::new(&expression, &[Symbol::new("x")], Reading::default()).expect("has bounds")
    }

    const FORMULAS: [&str; 14] = [
        r"x^3 - 2x^2 + \frac{x}{3} - 0.1",
        r"\frac{x^2 - 1}{x + 2}",
        r"\sin x \cos 3x",
        r"\tan x - \cot 2x",
        r"e^{-x^2} + 2^x",
        r"\ln(x^2 + 1) - \log_3 |x|",
        r"\sqrt{x + 5} - \sqrt[3]{x}",
        r"x^{2/3} + x^{-2}",
        r"\arctan x + \arcsin \frac{x}{9}",
        r"\cosh x - \tanh x",
        r"|x - 1| + |x + 2|",
        r"\lfloor x \rfloor + \sec x",
        r"\max(x, 1 - x)",
        r"\sum_{k=1}^{5} x^k",
    ];

    proptest! {
        #[test]
        fn bounds_hold_every_value(
            formula in 0..FORMULAS.len(), low in -8.0..8.0_f64, width in 0.0..3.0_f64, part in 0.0..1.0_f64,
        ) {
            let tex = FORMULAS[formula];
            let tape = tape(tex);
            let inside = low + width * part;
            let over = tape.over(&[Interval::new(low, low + width)]);
            match (over, tape.at(inside)) {
                (Ok(over), Ok(at)) => {
                    prop_assert!(over.values.meets(at.values), "{tex} at {inside}: {over:?} {at:?}");
                    let point = crate::evaluate::Point::new().with(Symbol::new("x"), inside);
                    let expression = read(tex, &Declared::new()).expression;
                    if let Ok(value) = crate::evaluate::real_value(&expression, &point) {
                        let slack = 1e-12 * (1.0 + value.abs());
                        prop_assert!(at.values.low <= value + slack && value - slack <= at.values.high, "{tex} at {inside}: {at:?} {value}");
                        prop_assert!(at.values.width() <= 1e-9 * (1.0 + value.abs()) || !at.is_total || value.abs() > 1e5, "{at:?}");
                    }
                }
                (Err(_), inside) => prop_assert!(inside.is_err(), "{tex}"),
                (Ok(over), Err(_)) => prop_assert!(!over.is_total, "{tex}"),
            }
        }
    }

    #[test]
    fn whole_numbers_stay_exact() {
        let check = |tex: &str, at: f64, value: f64| {
            let found = tape(tex).at(at).expect("a value").values;
            assert_eq!(found, Interval::point(value), "{tex}");
        };
        check("3x^2 - 4x + 1", 5.0, 56.0);
        check(r"\sqrt{x} + \frac{x}{4}", 16.0, 8.0);
        check(r"\sqrt[3]{x}", -27.0, -3.0);
        check("(-2)^x", 3.0, -8.0);
        check(r"\ln x + e^{x - 1}", 1.0, 1.0);
    }

    #[test]
    fn says_why_there_is_no_value() {
        let check = |tex: &str, at: f64, why: Outside| {
            assert_eq!(tape(tex).at(at), Err(why), "{tex}");
        };
        check(r"\frac{1}{x - 3}", 3.0, Outside::DivisionByZero);
        check(r"\log(x - 5)", 2.0, Outside::LogarithmOfNegative);
        check(r"\ln(x - 5)", 5.0, Outside::LogarithmOfZero);
        check(r"\sqrt{x}", -4.0, Outside::RootOfNegative);
        check(r"\arcsin x", 2.0, Outside::Inverse);
        check("(-2)^x", 0.5, Outside::Power);
    }
}
