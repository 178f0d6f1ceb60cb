//! What is known about the values of functions without changing their form?

use num_bigint::BigInt;
use num_integer::Integer;
use num_traits::{One, Signed, Zero};

use super::{Collector, Monomial, Normal, Polynomial, Steps, Unfit};
use crate::expression::{Constant, Expression, Function, Operator};
use crate::rational::Rational;

/// The largest prime that numbers are divided by.
const MAX_PRIME: u32 = 10_000;

/// The prime factors of a positive whole number and how often each divides it. A factor without
/// small divisors counts as prime.
pub(super) fn prime_factors(number: &Rational) -> Result<Vec<(BigInt, i64)>, Unfit> {
    let mut factors: Vec<(BigInt, i64)> = Vec::new();
    if let Some(mut left) = number.as_i64() {
        let mut candidate = 2;
        while candidate * candidate <= left && candidate <= i64::from(MAX_PRIME) {
            let mut times = 0;
            while left % candidate == 0 {
                left /= candidate;
                times += 1;
            }
            if times > 0 {
                factors.push((candidate.into(), times));
            }
            candidate += if candidate == 2 { 1 } else { 2 };
        }
        if left > 1 {
            factors.push((left.into(), 1));
        }
        return Ok(factors);
    }
    let mut left = number.to_big().numer().abs();
    if left.bits() > 512 {
        return Err(Unfit::TooLarge);
    }
    for candidate in 2..MAX_PRIME {
        let prime = BigInt::from(candidate);
        let mut times = 0;
        while !left.is_zero() && left.is_multiple_of(&prime) {
            left /= &prime;
            times += 1;
        }
        if times > 0 {
            factors.push((prime, times));
        }
    }
    if !left.is_one() {
        factors.push((left, 1));
    }
    Ok(factors)
}

/// A power of a kernel that can be written without it, or with a smaller exponent.
pub(super) fn is_unsettled(kernel: &Expression, exponent: &Rational) -> bool {
    let beyond = || exponent.is_negative() || *exponent >= Rational::ONE;
    match kernel.operator() {
        Operator::Number(_) => beyond(),
        Operator::Sum | Operator::Product | Operator::Negative | Operator::Fraction => {
            let is_long = exponent
                .as_i64()
                .is_some_and(|exponent| is_too_long(written_terms(kernel), exponent));
            beyond() && !is_long
        }
        Operator::Constant(Constant::I) => beyond() && !exponent.is_one(),
        Operator::Function(Function::Abs) => {
            exponent.as_i64().is_some_and(|exponent| exponent % 2 == 0)
        }
        Operator::Power => {
            kernel.operands()[0].as_i64() == Some(-1) && exponent.is_integer() && !exponent.is_one()
        }
        _ => false,
    }
}

/// The power of a sum of so many terms is too long to be written out.
pub(super) fn is_too_long(terms: usize, exponent: i64) -> bool {
    let growth = libm::pow(exponent as f64, terms.saturating_sub(1) as f64);
    terms > 1 && (exponent > 64 || growth > 4_000.0)
}

/// The terms of a sum, or of the longer part of a fraction.
fn written_terms(kernel: &Expression) -> usize {
    match kernel.operator() {
        Operator::Sum => kernel.operands().len(),
        Operator::Fraction => kernel
            .operands()
            .iter()
            .map(written_terms)
            .max()
            .unwrap_or(1),
        Operator::Negative => kernel.operands().iter().map(written_terms).sum(),
        _ => 1,
    }
}

/// No real value of the kernel is below 0.
pub(super) fn is_never_negative(kernel: &Expression) -> bool {
    match kernel.operator() {
        Operator::Number(_) | Operator::Constant(Constant::Pi | Constant::E) => true,
        Operator::Function(
            Function::Abs | Function::Norm | Function::Cosh | Function::Factorial,
        ) => true,
        Operator::Power => {
            let base = &kernel.operands()[0];
            base.as_i64() != Some(-1) && is_never_negative(base)
        }
        _ => false,
    }
}

/// What to multiply a denominator with, so that one square root, or i, disappears from it.
pub(super) fn conjugate(denominator: &Polynomial) -> Option<Polynomial> {
    let half = Rational::fraction(1, 2);
    for kernel in denominator.kernels() {
        let root = match kernel.operator() {
            Operator::Constant(Constant::I) => Rational::ONE,
            Operator::Number(_)
            | Operator::Sum
            | Operator::Product
            | Operator::Negative
            | Operator::Fraction => half.clone(),
            _ => continue,
        };
        let parts = denominator.in_kernel(kernel);
        let has_root = parts.iter().any(|(exponent, _)| *exponent == root);
        let is_simple = parts.iter().all(|(e, _)| e.is_zero() || *e == root);
        if !has_root || !is_simple {
            continue;
        }
        // a + b r times a - b r; and b r alone times r.
        let root = Monomial::power(kernel.clone(), root);
        let minus = Rational::integer(-1);
        let with: &Polynomial = &parts.iter().find(|(exponent, _)| !exponent.is_zero())?.1;
        return Some(
            match parts.iter().find(|(exponent, _)| exponent.is_zero()) {
                Some((_, without)) => without.add(&with.shift(&root).scale(&minus)),
                None => Polynomial::term(root, Rational::ONE),
            },
        );
    }
    // Roots of numbers of a higher degree, if they are alone.
    let (monomial, _) = denominator.as_term()?;
    let mut missing = Monomial::one();
    for (kernel, exponent) in monomial.powers() {
        if matches!(kernel.operator(), Operator::Number(_)) && !exponent.is_integer() {
            missing = missing.multiply(&Monomial::power(kernel.clone(), Rational::ONE - exponent));
        }
    }
    (!missing.is_one()).then(|| Polynomial::term(missing, Rational::ONE))
}

/// The argument of the natural logarithm, if exactly one is a factor of the monomial, and what is
/// left of it.
pub(super) fn only_logarithm(monomial: &Monomial) -> Option<(Expression, Monomial)> {
    let (logarithms, rest) =
        monomial.split(|kernel| matches!(kernel.operator(), Operator::Function(Function::Ln)));
    match logarithms.powers() {
        [(kernel, exponent)] if exponent.is_one() => Some((kernel.operands()[0].clone(), rest)),
        _ => None,
    }
}

impl Collector {
    /// A power of a kernel for which [`is_unsettled`] holds.
    pub(super) fn settled_power(
        &mut self,
        kernel: &Expression,
        exponent: &Rational,
    ) -> Result<Normal, Unfit> {
        self.did(Steps::POWERS);
        match (kernel.operator(), kernel.operands()) {
            (Operator::Number(number), _) => {
                let base = Normal::constant(number.into());
                let whole = exponent.floor();
                let rest = exponent - &whole;
                let whole = self.power(&base, &whole)?;
                let rest = Polynomial::term(Monomial::power(kernel.clone(), rest), Rational::ONE);
                self.multiply(&whole, &Normal::whole(rest))
            }
            (Operator::Constant(Constant::I), _) => {
                let exponent = exponent.as_i64().ok_or(Unfit::TooLarge)?.rem_euclid(4);
                let sign = Rational::integer(if exponent >= 2 { -1 } else { 1 });
                let i = Monomial::power(kernel.clone(), Rational::integer(exponent % 2));
                Ok(Normal::whole(Polynomial::term(i, sign)))
            }
            (Operator::Function(Function::Abs), [argument]) => {
                let argument = self.normal(argument)?;
                self.power(&argument, exponent)
            }
            (Operator::Power, _) => {
                let exponent = exponent.as_i64().ok_or(Unfit::TooLarge)?.rem_euclid(2);
                let power = Monomial::power(kernel.clone(), Rational::integer(exponent));
                Ok(Normal::whole(Polynomial::term(power, Rational::ONE)))
            }
            _ => {
                let base = self.normal(kernel)?;
                let whole = exponent.floor();
                let rest = exponent - &whole;
                let whole = self.power(&base, &whole)?;
                let rest = Polynomial::term(Monomial::power(kernel.clone(), rest), Rational::ONE);
                self.multiply(&whole, &Normal::whole(rest))
            }
        }
    }

    /// The absolute value.
    pub(super) fn absolute(&mut self, normal: &Normal) -> Result<Normal, Unfit> {
        if let Some(number) = normal.as_constant() {
            return Ok(Normal::constant(number.abs()));
        }
        let size = |polynomial: &Polynomial| -> Normal {
            match polynomial.as_term() {
                Some((monomial, coefficient)) => {
                    let mut product = Monomial::one();
                    for (kernel, exponent) in monomial.powers() {
                        let is_even = exponent.as_i64().is_some_and(|e| e % 2 == 0);
                        let kernel =
                            match is_even || !exponent.is_integer() || is_never_negative(kernel) {
                                true => kernel.clone(),
                                false => Expression::function(Function::Abs, kernel.clone()),
                            };
                        product = product.multiply(&Monomial::power(kernel, exponent.clone()));
                    }
                    Normal::whole(Polynomial::term(product, coefficient.abs()))
                }
                None => {
                    // The size of a sum is that of its opposite.
                    let (primitive, content) = polynomial.primitive();
                    let inside = Normal::whole(primitive).to_expression();
                    let size = Expression::function(Function::Abs, inside);
                    Normal::kernel(size).scale(&content.abs())
                }
            }
        };
        let above = size(normal.numerator());
        let above = match above.as_polynomial() {
            Some(polynomial) => self.settled(polynomial.clone())?,
            None => above,
        };
        if normal.denominator().is_one() {
            return Ok(above);
        }
        let below = self.invert(&size(normal.denominator()))?;
        self.multiply(&above, &below)
    }

    /// A function other than the exponential one.
    pub(super) fn function(
        &mut self,
        function: Function,
        arguments: &[Expression],
    ) -> Result<Normal, Unfit> {
        let mut normals = Vec::with_capacity(arguments.len());
        for argument in arguments {
            normals.push(self.normal(argument)?);
        }
        let kernel = |normals: &[Normal]| {
            let arguments = normals.iter().map(Normal::to_expression);
            Normal::kernel(Expression::new(Operator::Function(function), arguments))
        };
        let [argument] = normals.as_slice() else {
            return match (function, normals.as_slice()) {
                (Function::LogBase, [argument, base]) => {
                    let known = logarithm_of_numbers(argument, base);
                    Ok(known.map_or_else(|| kernel(&normals), Normal::constant))
                }
                _ => Ok(kernel(&normals)),
            };
        };
        if let Some(value) = self.known_value(function, argument)? {
            self.did(Steps::VALUES);
            return Ok(value);
        }
        match function {
            Function::Abs => self.absolute(argument),
            Function::Sin
            | Function::Tan
            | Function::Cot
            | Function::Csc
            | Function::Arcsin
            | Function::Arctan
            | Function::Sinh
            | Function::Tanh
            | Function::Coth
            | Function::Csch
            | Function::Arsinh
            | Function::Artanh
            | Function::Sign
            | Function::Erf
                if argument.numerator().leading().is_negative() =>
            {
                Ok(kernel(&[argument.negate()]).negate())
            }
            Function::Cos | Function::Sec | Function::Cosh | Function::Sech
                if argument.numerator().leading().is_negative() =>
            {
                Ok(kernel(&[argument.negate()]))
            }
            _ => Ok(kernel(&normals)),
        }
    }

    /// The value at an argument for which it is known exactly.
    fn known_value(
        &mut self,
        function: Function,
        argument: &Normal,
    ) -> Result<Option<Normal>, Unfit> {
        let number = argument.as_constant();
        let constant = |value: i64| Some(Normal::constant(Rational::integer(value)));
        let zero = argument.is_zero();
        Ok(match function {
            Function::Sin
            | Function::Cos
            | Function::Tan
            | Function::Cot
            | Function::Sec
            | Function::Csc => match multiple_of_pi(argument) {
                Some(multiple) => self.at_multiple_of_pi(function, &multiple)?,
                None => None,
            },
            Function::Arcsin
            | Function::Arctan
            | Function::Sinh
            | Function::Tanh
            | Function::Arsinh
            | Function::Artanh
            | Function::Sign
            | Function::Erf
                if zero =>
            {
                constant(0)
            }
            Function::Cosh | Function::Sech if zero => constant(1),
            Function::Arctan | Function::Arcsin | Function::Arccos => {
                inverse_value(function, argument)
            }
            Function::Ln => self.natural_logarithm(argument)?,
            Function::Log if number.as_ref().is_some_and(Rational::is_one) => constant(0),
            Function::Sign => {
                number.map(|n| Normal::constant(Rational::integer(n.signum().into())))
            }
            Function::Floor => number.map(|n| Normal::constant(n.floor())),
            Function::Ceiling => number.map(|n| Normal::constant(-(-n).floor())),
            Function::Factorial => {
                let n = number
                    .and_then(|n| n.as_i64())
                    .filter(|n| (0..=20).contains(n));
                n.map(|n| Normal::constant(Rational::integer((1..=n).product())))
            }
            Function::RealPart | Function::Conjugate if number.is_some() => {
                number.map(Normal::constant)
            }
            Function::ImaginaryPart if number.is_some() => constant(0),
            _ => None,
        })
    }

    /// The sine of a multiple of π/12 and its relatives. (Abramowitz and Stegun, Handbook of
    /// Mathematical Functions, 4.3.46; the values at π/12 and 5π/12 are left as they are.)
    fn at_multiple_of_pi(
        &mut self,
        function: Function,
        multiple: &Rational,
    ) -> Result<Option<Normal>, Unfit> {
        // In twelfths of π, from 0 up to 24.
        let Some(twelfths) = (multiple * &Rational::integer(12)).as_i64() else {
            return Ok(None);
        };
        let twelfths = twelfths.rem_euclid(24);
        let mut sine = |twelfths: i64| -> Result<Option<Normal>, Unfit> {
            let twelfths = twelfths.rem_euclid(24);
            let (sign, twelfths) = match twelfths >= 12 {
                true => (-1, twelfths - 12),
                false => (1, twelfths),
            };
            let square = match twelfths.min(12 - twelfths) {
                0 => Rational::ZERO,
                2 => Rational::fraction(1, 4),
                3 => Rational::fraction(1, 2),
                4 => Rational::fraction(3, 4),
                6 => Rational::ONE,
                _ => return Ok(None),
            };
            let size = self.power(&Normal::constant(square), &Rational::fraction(1, 2))?;
            Ok(Some(size.scale(&Rational::integer(sign))))
        };
        let (Some(sin), Some(cos)) = (sine(twelfths)?, sine(twelfths + 6)?) else {
            return Ok(None);
        };
        let one = Normal::constant(Rational::ONE);
        let mut quotient = |above: &Normal, below: &Normal| -> Result<Option<Normal>, Unfit> {
            let below = self.invert(below)?;
            self.multiply(above, &below).map(Some)
        };
        match function {
            Function::Sin => Ok(Some(sin)),
            Function::Cos => Ok(Some(cos)),
            Function::Tan => quotient(&sin, &cos),
            Function::Cot => quotient(&cos, &sin),
            Function::Sec => quotient(&one, &cos),
            _ => quotient(&one, &sin),
        }
    }

    /// The logarithm of a positive number or of a power of e, as far as it is known.
    fn natural_logarithm(&mut self, argument: &Normal) -> Result<Option<Normal>, Unfit> {
        if argument.is_zero() {
            return Err(Unfit::Undefined);
        }
        let (Some((above, number)), Some((below, divisor))) = (
            argument.numerator().as_term(),
            argument.denominator().as_term(),
        ) else {
            return Ok(None);
        };
        let number = number / divisor;
        let monomial = above.divide(below);
        let is_power_of_e = |kernel: &Expression| match (kernel.operator(), kernel.operands()) {
            (Operator::Constant(Constant::E), _) => true,
            (Operator::Power, [base, _]) => base.as_constant() == Some(Constant::E),
            _ => false,
        };
        let (powers, rest) = monomial.split(is_power_of_e);
        let (roots, rest) = rest.split(|kernel| matches!(kernel.operator(), Operator::Number(_)));
        let is_alone = rest.is_one();
        if !number.is_positive() || (!is_alone && (powers.is_one() && number.is_one())) {
            return Ok(None);
        }
        if !is_alone {
            // The logarithm of a product with letters is left as it is: their signs are unknown.
            return Ok(None);
        }
        let mut sum = Normal::constant(Rational::ZERO);
        for (kernel, exponent) in powers.powers() {
            let exponent = match kernel.operands() {
                [_, inner] => self.normal(inner)?.scale(exponent),
                _ => Normal::constant(exponent.clone()),
            };
            sum = self.add(&sum, &exponent)?;
        }
        let mut primes: Vec<(BigInt, Rational)> = Vec::new();
        for (part, sign) in [(number.numerator(), 1), (number.denominator(), -1)] {
            for (prime, times) in prime_factors(&part)? {
                primes.push((prime, Rational::integer(sign * times)));
            }
        }
        for (kernel, exponent) in roots.powers() {
            if let Some(number) = kernel.as_number() {
                primes.push((number.value().to_integer(), exponent.clone()));
            }
        }
        if let [(_, times)] = primes.as_slice()
            && times.is_one()
            && powers.is_one()
        {
            // The logarithm of a prime.
            return Ok(None);
        }
        for (prime, times) in primes {
            let prime = num_rational::BigRational::from_integer(prime);
            let logarithm = Expression::function(Function::Ln, Expression::rational(&prime));
            sum = self.add(&sum, &Normal::kernel(logarithm).scale(&times))?;
        }
        Ok(Some(sum))
    }
}

/// The number by which π is multiplied.
fn multiple_of_pi(argument: &Normal) -> Option<Rational> {
    if argument.is_zero() {
        return Some(Rational::ZERO);
    }
    let (monomial, coefficient) = argument.as_polynomial()?.as_term()?;
    match monomial.powers() {
        [(kernel, exponent)] if exponent.is_one() && kernel.as_constant() == Some(Constant::Pi) => {
            Some(coefficient.clone())
        }
        _ => None,
    }
}

/// The angle whose sine, cosine or tangent is a known value.
fn inverse_value(function: Function, argument: &Normal) -> Option<Normal> {
    // The square of the argument with its sign tells the known ones apart.
    let square = match argument.as_constant() {
        Some(number) => &number * &number,
        None => {
            let (monomial, coefficient) = argument.as_polynomial()?.as_term()?;
            let [(kernel, exponent)] = monomial.powers() else {
                return None;
            };
            if *exponent != Rational::fraction(1, 2) {
                return None;
            }
            coefficient * coefficient * Rational::from(kernel.as_number()?)
        }
    };
    let sign = Rational::integer(match argument.numerator().leading().is_negative() {
        true => -1,
        false => 1,
    });
    let fraction = |twelfths: i64| Rational::fraction(twelfths, 12) * &sign;
    let sine = match square.as_fraction()? {
        (0, 1) => fraction(0),
        (1, 4) => fraction(2),
        (1, 2) => fraction(3),
        (3, 4) => fraction(4),
        (1, 1) => fraction(6),
        _ => fraction(12),
    };
    let angle = match function {
        Function::Arcsin if sine.abs() < Rational::ONE => sine,
        Function::Arccos if sine.abs() < Rational::ONE => Rational::fraction(1, 2) - sine,
        Function::Arctan => match square.as_fraction()? {
            (0, 1) => fraction(0),
            (1, 3) => fraction(2),
            (1, 1) => fraction(3),
            (3, 1) => fraction(4),
            _ => return None,
        },
        _ => return None,
    };
    Some(Normal::kernel(Expression::constant(Constant::Pi)).scale(&angle))
}

/// The logarithm of a number to a base that is a number, if it is rational.
fn logarithm_of_numbers(argument: &Normal, base: &Normal) -> Option<Rational> {
    if argument == base {
        return Some(Rational::ONE);
    }
    let (argument, base) = (argument.as_constant()?, base.as_constant()?);
    if !argument.is_positive() || !base.is_positive() || base.is_one() {
        return None;
    }
    if argument.is_one() {
        return Some(Rational::ZERO);
    }
    let factors = |number: &Rational| -> Option<Vec<(BigInt, i64)>> {
        let mut factors = prime_factors(&number.numerator()).ok()?;
        let below = prime_factors(&number.denominator()).ok()?;
        factors.extend(below.into_iter().map(|(prime, times)| (prime, -times)));
        factors.sort();
        Some(factors)
    };
    let (above, below) = (factors(&argument)?, factors(&base)?);
    let mut ratio: Option<Rational> = None;
    if above.len() != below.len() {
        return None;
    }
    for ((p, m), (q, n)) in above.iter().zip(&below) {
        let quotient = Rational::fraction(*m, *n);
        if p != q || ratio.as_ref().is_some_and(|ratio| *ratio != quotient) {
            return None;
        }
        ratio = Some(quotient);
    }
    ratio
}
