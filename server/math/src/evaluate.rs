//! What is the value of an expression at a point?
//!
//! [`exact`] gives a rational number where the value is one by arithmetic alone; [`value`] a
//! floating-point number, complex where the real numbers do not suffice; [`truth`] says whether a
//! statement holds there. Elementary functions come from `libm`, so that every platform gives the
//! same digits.
//!
//! The conventions are those of a first course: principal values of roots, powers, logarithms and
//! inverse functions; but the odd root of a negative number is real, also as a power with a
//! fraction for its exponent (`\sqrt[3]{-8}` and `(-8)^{1/3}` are −2). `\log` without a base has
//! base 10 unless [`Point::natural_logarithm`] says otherwise.
//!
//! Nothing here approximates a limit: integrals, limits, infinite sums and derivatives have no
//! value ([`Undefined::Unsupported`]).

mod complex;
mod exact;

use std::collections::BTreeMap;

pub use complex::Complex;
pub use exact::exact;

use crate::expression::{
    Connective, Constant, Expression, Function, Operator, Relation, SeriesOperator, SeriesRange,
    Symbol, Written,
};

/// The greatest number of operators that one evaluation works through.
pub const MAX_STEPS: u32 = 100_000;

/// Values for the symbols of an expression.
#[derive(Clone, Debug, Default)]
pub struct Point {
    values: BTreeMap<Symbol, Complex>,
    natural_logarithm: bool,
}

impl Point {
    /// No symbol has a value.
    pub fn new() -> Self {
        Self::default()
    }

    /// The same point with a value for one more symbol.
    pub fn with(mut self, symbol: Symbol, value: impl Into<Complex>) -> Self {
        self.values.insert(symbol, value.into());
        self
    }

    /// Sets the value of a symbol.
    pub fn set(&mut self, symbol: Symbol, value: impl Into<Complex>) {
        self.values.insert(symbol, value.into());
    }

    /// `\log` without a base has base e, as in courses after calculus.
    pub fn natural_logarithm(mut self) -> Self {
        self.natural_logarithm = true;
        self
    }
}

/// Why an expression has no value at a point.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Undefined {
    /// This symbol has no value there.
    Symbol(Symbol),
    /// The value does not exist: a division by zero, the logarithm of zero.
    Domain,
    /// The value is beyond the range of floating-point numbers.
    Overflow,
    /// The expression has parts without a number for a value, or whose value needs a limit.
    Unsupported,
    /// The evaluation needs more than [`MAX_STEPS`] steps.
    Steps,
}

/// The value of an expression at a point.
pub fn value(expression: &Expression, point: &Point) -> Result<Complex, Undefined> {
    let mut evaluation = Evaluation {
        point: point.clone(),
        steps: 0,
    };
    let value = evaluation.value(expression)?;
    match value.is_finite() {
        true => Ok(value),
        false => Err(Undefined::Overflow),
    }
}

/// The value of an expression at a point, if it is real.
///
/// An imaginary part that rounding alone can explain is dropped.
pub fn real_value(expression: &Expression, point: &Point) -> Result<f64, Undefined> {
    let value = value(expression, point)?;
    match value.im.abs() <= 1e-12 * value.abs().max(1e-300) {
        true => Ok(value.re),
        false => Err(Undefined::Domain),
    }
}

/// Whether a statement holds at a point. Equations are compared to a relative error of 10⁻⁹.
pub fn truth(statement: &Expression, point: &Point) -> Result<bool, Undefined> {
    Evaluation {
        point: point.clone(),
        steps: 0,
    }
    .truth(statement)
}

struct Evaluation {
    point: Point,
    steps: u32,
}

impl Evaluation {
    fn step(&mut self) -> Result<(), Undefined> {
        self.steps += 1;
        match self.steps > MAX_STEPS {
            true => Err(Undefined::Steps),
            false => Ok(()),
        }
    }

    fn value(&mut self, expression: &Expression) -> Result<Complex, Undefined> {
        self.step()?;
        match (expression.operator(), expression.operands()) {
            (Operator::Number(number), _) => Ok(number.to_f64().into()),
            (Operator::Symbol(symbol), _) => self
                .point
                .values
                .get(symbol)
                .copied()
                .ok_or_else(|| Undefined::Symbol(symbol.clone())),
            (Operator::Constant(constant), _) => match constant {
                Constant::Pi => Ok(std::f64::consts::PI.into()),
                Constant::E => Ok(std::f64::consts::E.into()),
                Constant::I => Ok(Complex::I),
                _ => Err(Undefined::Unsupported),
            },
            (Operator::Sum, terms) => {
                let mut sum = Complex::ZERO;
                for term in terms {
                    sum = sum + self.value(term)?;
                }
                Ok(sum)
            }
            (Operator::Product, factors) => {
                let mut product = Complex::ONE;
                for factor in factors {
                    product = product * self.value(factor)?;
                }
                Ok(product)
            }
            (Operator::Negative, [operand]) => Ok(-self.value(operand)?),
            (Operator::Fraction, [numerator, denominator]) => {
                let (above, below) = (self.value(numerator)?, self.value(denominator)?);
                above.divided_by(below).ok_or(Undefined::Domain)
            }
            (Operator::Mixed, [whole, numerator, denominator]) => {
                let whole = self.value(whole)?;
                let (above, below) = (self.value(numerator)?, self.value(denominator)?);
                Ok(whole + above.divided_by(below).ok_or(Undefined::Domain)?)
            }
            (Operator::Power, [base, exponent]) => self.power(base, exponent),
            (Operator::Root, [radicand]) => Ok(self.value(radicand)?.sqrt()),
            (Operator::NthRoot, [radicand, degree]) => {
                let radicand = self.value(radicand)?;
                let degree = self.value(degree)?;
                root(radicand, degree).ok_or(Undefined::Domain)
            }
            (Operator::Percent, [operand]) => Ok(self.value(operand)? * Complex::from(0.01)),
            (Operator::Degrees, [operand]) => {
                Ok(self.value(operand)? * Complex::from(std::f64::consts::PI / 180.0))
            }
            (Operator::Function(function), arguments) => self.function(*function, arguments),
            (Operator::Series(operator, SeriesRange::Between), [body, index, from, to]) => {
                self.series(*operator, body, index, from, to)
            }
            (Operator::Piecewise, rows) => {
                for row in rows.chunks(2) {
                    let [value, condition] = row else {
                        return Err(Undefined::Unsupported);
                    };
                    let holds = match condition.operator() {
                        Operator::Text(words) => words.contains("otherwise") || words == "else",
                        _ => self.truth(condition)?,
                    };
                    if holds {
                        return self.value(value);
                    }
                }
                Err(Undefined::Domain)
            }
            _ => Err(Undefined::Unsupported),
        }
    }

    fn power(&mut self, base: &Expression, exponent: &Expression) -> Result<Complex, Undefined> {
        let value = self.value(base)?;
        // The odd root of a negative number is real.
        if value.is_real()
            && value.re < 0.0
            && let Some((numerator, denominator)) = odd_fraction(exponent)
        {
            let magnitude = libm::pow(-value.re, numerator as f64 / denominator as f64);
            return Ok(Complex::from(if numerator % 2 == 0 {
                magnitude
            } else {
                -magnitude
            }));
        }
        let exponent = self.value(exponent)?;
        value.pow(exponent).ok_or(Undefined::Domain)
    }

    fn series(
        &mut self,
        operator: SeriesOperator,
        body: &Expression,
        index: &Expression,
        from: &Expression,
        to: &Expression,
    ) -> Result<Complex, Undefined> {
        let index = index.as_symbol().ok_or(Undefined::Unsupported)?.clone();
        let (from, to) = (self.integer(from)?, self.integer(to)?);
        let outside = self.point.values.get(&index).copied();
        let mut total = match operator {
            SeriesOperator::Sum => Complex::ZERO,
            SeriesOperator::Product => Complex::ONE,
            _ => return Err(Undefined::Unsupported),
        };
        let mut result = Ok(());
        for place in from..=to {
            self.point.set(index.clone(), place as f64);
            match self.value(body) {
                Ok(value) if operator == SeriesOperator::Sum => total = total + value,
                Ok(value) => total = total * value,
                Err(error) => {
                    result = Err(error);
                    break;
                }
            }
        }
        match outside {
            Some(value) => self.point.set(index, value),
            None => {
                self.point.values.remove(&index);
            }
        }
        result.map(|()| total)
    }

    /// A value that is an integer of moderate size.
    fn integer(&mut self, expression: &Expression) -> Result<i64, Undefined> {
        let value = self.value(expression)?;
        let rounded = libm::round(value.re);
        match value.is_real() && (value.re - rounded).abs() < 1e-9 && rounded.abs() < 1e15 {
            true => Ok(rounded as i64),
            false => Err(Undefined::Domain),
        }
    }

    fn reals(&mut self, arguments: &[Expression]) -> Result<Vec<f64>, Undefined> {
        let mut values = Vec::with_capacity(arguments.len());
        for argument in arguments {
            let value = self.value(argument)?;
            if !value.is_real() {
                return Err(Undefined::Domain);
            }
            values.push(value.re);
        }
        Ok(values)
    }

    fn function(
        &mut self,
        function: Function,
        arguments: &[Expression],
    ) -> Result<Complex, Undefined> {
        use Function as F;
        if let [argument] = arguments
            && let Some(elementary) = complex::elementary(function)
        {
            let value = self.value(argument)?;
            return elementary(value).ok_or(Undefined::Domain);
        }
        match (function, arguments) {
            (F::Log, [argument]) => {
                let value = self.value(argument)?.ln().ok_or(Undefined::Domain)?;
                match self.point.natural_logarithm {
                    true => Ok(value),
                    false => Ok(value * Complex::from(1.0 / std::f64::consts::LN_10)),
                }
            }
            (F::LogBase, [argument, base]) => {
                let value = self.value(argument)?.ln().ok_or(Undefined::Domain)?;
                let base = self.value(base)?.ln().ok_or(Undefined::Domain)?;
                value.divided_by(base).ok_or(Undefined::Domain)
            }
            (F::Floor, [_]) => Ok(libm::floor(self.reals(arguments)?[0]).into()),
            (F::Ceiling, [_]) => Ok(libm::ceil(self.reals(arguments)?[0]).into()),
            (F::Sign, [_]) => {
                let value = self.reals(arguments)?[0];
                Ok(if value == 0.0 { 0.0 } else { value.signum() }.into())
            }
            (F::Factorial, [_]) => {
                let value = self.reals(arguments)?[0];
                match value < 0.0 && value == libm::floor(value) {
                    true => Err(Undefined::Domain),
                    false if value == libm::floor(value) => {
                        Ok(libm::round(libm::tgamma(value + 1.0)).into())
                    }
                    false => Ok(libm::tgamma(value + 1.0).into()),
                }
            }
            (F::DoubleFactorial, [argument]) => {
                let mut factor = self.integer(argument)?;
                let mut product = 1.0;
                while factor > 1 {
                    self.step()?;
                    product *= factor as f64;
                    factor -= 2;
                }
                Ok(product.into())
            }
            (F::Binomial | F::Permutations, [n, k]) => {
                let (n, k) = (self.value(n)?, self.integer(k)?);
                if !n.is_real() || k < 0 {
                    return Err(Undefined::Domain);
                }
                let mut product = 1.0;
                for place in 0..k {
                    self.step()?;
                    product *= n.re - place as f64;
                    if function == F::Binomial {
                        product /= (place + 1) as f64;
                    }
                }
                Ok(product.into())
            }
            (F::Gcd, [_, ..]) => {
                let mut result = 0;
                for argument in arguments {
                    result = num_integer::gcd(result, self.integer(argument)?);
                }
                Ok((result as f64).into())
            }
            (F::Lcm, [_, ..]) => {
                let mut result = 1_i64;
                for argument in arguments {
                    let (a, b) = (result, self.integer(argument)?);
                    let divisor = num_integer::gcd(a, b);
                    result = match divisor {
                        0 => 0,
                        _ => (a / divisor)
                            .checked_mul(b)
                            .ok_or(Undefined::Overflow)?
                            .abs(),
                    };
                }
                Ok((result as f64).into())
            }
            (F::Max, [_, _, ..]) => Ok(self
                .reals(arguments)?
                .into_iter()
                .fold(f64::NEG_INFINITY, f64::max)
                .into()),
            (F::Min, [_, _, ..]) => Ok(self
                .reals(arguments)?
                .into_iter()
                .fold(f64::INFINITY, f64::min)
                .into()),
            (F::Max | F::Min, [set]) if matches!(set.operator(), Operator::Set) => {
                self.function(function, set.operands())
            }
            (F::Remainder, [_, _]) => {
                let values = self.reals(arguments)?;
                match values[1] == 0.0 {
                    true => Err(Undefined::Domain),
                    false => {
                        Ok((values[0] - values[1] * libm::floor(values[0] / values[1])).into())
                    }
                }
            }
            (F::Determinant, [matrix]) => self.determinant(matrix),
            (F::Abs, [argument]) => match argument.operator() {
                // The absolute value of a vector is its length.
                Operator::Tuple(_) => self.length(argument.operands()),
                _ => Err(Undefined::Unsupported),
            },
            (F::Norm, [argument]) => match argument.operator() {
                Operator::Tuple(_) => self.length(argument.operands()),
                _ => Ok(self.value(argument)?.abs().into()),
            },
            _ => Err(Undefined::Unsupported),
        }
    }

    fn length(&mut self, components: &[Expression]) -> Result<Complex, Undefined> {
        let values = self.reals(components)?;
        Ok(libm::sqrt(values.iter().map(|value| value * value).sum()).into())
    }

    /// By elimination with partial pivoting.
    fn determinant(&mut self, matrix: &Expression) -> Result<Complex, Undefined> {
        let Operator::Matrix(shape) = matrix.operator() else {
            return Err(Undefined::Unsupported);
        };
        let size = shape.columns as usize;
        if size * size != matrix.operands().len() {
            return Err(Undefined::Domain);
        }
        let mut entries = Vec::with_capacity(size * size);
        for entry in matrix.operands() {
            entries.push(self.value(entry)?);
        }
        let mut determinant = Complex::ONE;
        for column in 0..size {
            let Some(pivot) = (column..size).max_by(|a, b| {
                let (a, b) = (
                    entries[a * size + column].abs(),
                    entries[b * size + column].abs(),
                );
                a.total_cmp(&b)
            }) else {
                return Ok(determinant);
            };
            if pivot != column {
                for place in 0..size {
                    entries.swap(pivot * size + place, column * size + place);
                }
                determinant = -determinant;
            }
            let head = entries[column * size + column];
            determinant = determinant * head;
            for row in column + 1..size {
                self.step()?;
                let Some(factor) = entries[row * size + column].divided_by(head) else {
                    return Ok(Complex::ZERO);
                };
                for place in column..size {
                    entries[row * size + place] =
                        entries[row * size + place] - factor * entries[column * size + place];
                }
            }
        }
        Ok(determinant)
    }

    fn truth(&mut self, statement: &Expression) -> Result<bool, Undefined> {
        self.step()?;
        match (statement.operator(), statement.operands()) {
            (Operator::Relation(relations), sides) => {
                for (place, relation) in relations.iter().enumerate() {
                    let (left, right) = (&sides[place], &sides[place + 1]);
                    if !self.relation(left, *relation, right)? {
                        return Ok(false);
                    }
                }
                Ok(true)
            }
            (Operator::Logic(connective), statements) => self.connective(*connective, statements),
            (Operator::List | Operator::System, statements) => {
                self.connective(Connective::And, statements)
            }
            _ => Err(Undefined::Unsupported),
        }
    }

    fn connective(
        &mut self,
        connective: Connective,
        statements: &[Expression],
    ) -> Result<bool, Undefined> {
        let mut truths = Vec::with_capacity(statements.len());
        for statement in statements {
            truths.push(self.truth(statement)?);
        }
        Ok(match connective {
            Connective::And => truths.iter().all(|holds| *holds),
            Connective::Or => truths.iter().any(|holds| *holds),
            Connective::Not => !truths.iter().any(|holds| *holds),
            Connective::Iff => truths.windows(2).all(|pair| pair[0] == pair[1]),
            Connective::Implies => truths.windows(2).all(|pair| !pair[0] || pair[1]),
            Connective::ImpliedBy => truths.windows(2).all(|pair| pair[0] || !pair[1]),
        })
    }

    fn relation(
        &mut self,
        left: &Expression,
        relation: Relation,
        right: &Expression,
    ) -> Result<bool, Undefined> {
        if let (Relation::In | Relation::NotIn, Some((lower, upper, ends))) =
            (relation, right.as_interval())
        {
            let value = self.reals(std::slice::from_ref(left))?[0];
            let above = match signed_infinity(lower) {
                Some(infinity) => value > infinity,
                None => {
                    let lower = self.reals(std::slice::from_ref(lower))?[0];
                    value > lower || ends.lower_closed && value == lower
                }
            };
            let below = match signed_infinity(upper) {
                Some(infinity) => value < infinity,
                None => {
                    let upper = self.reals(std::slice::from_ref(upper))?[0];
                    value < upper || ends.upper_closed && value == upper
                }
            };
            return Ok((above && below) == (relation == Relation::In));
        }
        let (left_value, right_value) = (self.value(left)?, self.value(right)?);
        let difference = (left_value - right_value).abs();
        let scale = left_value.abs().max(right_value.abs()).max(1.0);
        let equal = difference <= 1e-9 * scale;
        match relation {
            Relation::Equal | Relation::Defined => return Ok(equal),
            Relation::NotEqual => return Ok(!equal),
            Relation::Approximately => {
                // A rounded number is right if the value lies within its last printed digit.
                let unit = decimal_unit(right).max(decimal_unit(left));
                return Ok(difference <= unit.max(1e-9 * scale));
            }
            _ => {}
        }
        if !left_value.is_real() || !right_value.is_real() {
            return Err(Undefined::Domain);
        }
        let (left, right) = (left_value.re, right_value.re);
        match relation {
            Relation::Less => Ok(left < right),
            Relation::LessOrEqual => Ok(left <= right || equal),
            Relation::Greater => Ok(left > right),
            Relation::GreaterOrEqual => Ok(left >= right || equal),
            _ => Err(Undefined::Unsupported),
        }
    }
}

/// The unit of the last digit of a number that was written as a decimal; 0 for others.
fn decimal_unit(expression: &Expression) -> f64 {
    match (expression.operator(), expression.operands()) {
        (Operator::Negative, [operand]) => decimal_unit(operand),
        (Operator::Number(number), _) => match number.written() {
            Written::Decimal { places } => libm::pow(10.0, -f64::from(places)),
            _ => 0.0,
        },
        _ => 0.0,
    }
}

fn signed_infinity(expression: &Expression) -> Option<f64> {
    match (expression.operator(), expression.operands()) {
        (Operator::Constant(Constant::Infinity), _) => Some(f64::INFINITY),
        (Operator::Negative, [operand]) => signed_infinity(operand).map(|infinity| -infinity),
        _ => None,
    }
}

/// A literal fraction in lowest terms with an odd denominator greater than 1.
fn odd_fraction(exponent: &Expression) -> Option<(i64, i64)> {
    let (negative, fraction) = match (exponent.operator(), exponent.operands()) {
        (Operator::Negative, [operand]) => (true, operand),
        _ => (false, exponent),
    };
    let (Operator::Fraction, [numerator, denominator]) = (fraction.operator(), fraction.operands())
    else {
        return None;
    };
    let (above, below) = (numerator.as_i64()?, denominator.as_i64()?);
    let divisor = num_integer::gcd(above, below);
    if divisor == 0 {
        return None;
    }
    let (above, below) = (above / divisor, below / divisor);
    (below > 1 && below % 2 == 1).then_some((if negative { -above } else { above }, below))
}

/// The root of this degree: real for an odd degree of a real number, else the principal one.
fn root(radicand: Complex, degree: Complex) -> Option<Complex> {
    let is_odd = degree.is_real() && libm::fabs(libm::fmod(degree.re, 2.0)) == 1.0;
    if radicand.is_real() && radicand.re < 0.0 && is_odd {
        let magnitude = libm::pow(-radicand.re, 1.0 / degree.re);
        return Some(Complex::from(-magnitude));
    }
    radicand.pow(Complex::ONE.divided_by(degree)?)
}

#[cfg(test)]
mod tests;
