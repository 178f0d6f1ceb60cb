//! What are the roots and factors of a polynomial in one variable?
//!
//! Exact arithmetic on dense coefficients. The methods are the classical ones: Euclid's algorithm
//! for common divisors, Yun's for square-free parts, the rational root theorem, and Sturm's
//! theorem for the number of real roots (all in Knuth, The Art of Computer Programming, volume 2,
//! section 4.6, and in its exercises).

use crate::modular::{PRIME, inverse, product};
use crate::rational::{Rational, content};

/// A polynomial in one variable with rational coefficients.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Univariate {
    // From the constant up; the last one is not 0. The zero polynomial has none.
    coefficients: Vec<Rational>,
}

/// The most candidates that the search for rational roots divides by.
const ROOT_CANDIDATES: usize = 4_000;

impl Univariate {
    /// The polynomial with these coefficients, from the constant up.
    pub fn new(mut coefficients: Vec<Rational>) -> Self {
        while coefficients.last().is_some_and(Rational::is_zero) {
            coefficients.pop();
        }
        Self { coefficients }
    }

    /// A constant.
    pub fn constant(value: Rational) -> Self {
        Self::new(vec![value])
    }

    /// The coefficients from the constant up; the last one is not 0, and 0 has none.
    pub fn coefficients(&self) -> &[Rational] {
        &self.coefficients
    }

    /// The coefficient of this power.
    pub fn coefficient(&self, degree: usize) -> Rational {
        self.coefficients
            .get(degree)
            .cloned()
            .unwrap_or(Rational::ZERO)
    }

    /// The degree; 0 for the zero polynomial too.
    pub fn degree(&self) -> usize {
        self.coefficients.len().saturating_sub(1)
    }

    /// It is the zero polynomial.
    pub fn is_zero(&self) -> bool {
        self.coefficients.is_empty()
    }

    /// The coefficient of the highest power; 0 for the zero polynomial.
    pub fn leading(&self) -> Rational {
        self.coefficients.last().cloned().unwrap_or(Rational::ZERO)
    }

    /// Its value at a point.
    pub fn at(&self, point: &Rational) -> Rational {
        let mut value = Rational::ZERO;
        for coefficient in self.coefficients.iter().rev() {
            value = &(&value * point) + coefficient;
        }
        value
    }

    /// Its value at a floating-point number.
    pub fn at_f64(&self, point: f64) -> f64 {
        let coefficients = self.coefficients.iter().rev();
        coefficients.fold(0.0, |value, c| value * point + c.to_f64())
    }

    /// The sum.
    pub fn add(&self, other: &Self) -> Self {
        let length = self.coefficients.len().max(other.coefficients.len());
        Self::new(
            (0..length)
                .map(|i| self.coefficient(i) + other.coefficient(i))
                .collect(),
        )
    }

    /// The difference.
    pub fn subtract(&self, other: &Self) -> Self {
        self.add(&other.scale(&Rational::integer(-1)))
    }

    /// The product with a number.
    pub fn scale(&self, factor: &Rational) -> Self {
        Self::new(self.coefficients.iter().map(|c| c * factor).collect())
    }

    /// The product.
    pub fn multiply(&self, other: &Self) -> Self {
        if self.is_zero() || other.is_zero() {
            return Self::new(Vec::new());
        }
        let mut product = vec![Rational::ZERO; self.degree() + other.degree() + 1];
        for (i, a) in self.coefficients.iter().enumerate() {
            for (j, b) in other.coefficients.iter().enumerate() {
                product[i + j] = &product[i + j] + &(a * b);
            }
        }
        Self::new(product)
    }

    /// Quotient and remainder; none for division by 0.
    pub fn divide(&self, divisor: &Self) -> Option<(Self, Self)> {
        let reciprocal = divisor.leading().reciprocal()?;
        let mut rest = self.coefficients.clone();
        let shift = divisor.degree();
        let mut quotient = vec![Rational::ZERO; rest.len().saturating_sub(shift)];
        for place in (0..quotient.len()).rev() {
            let factor = &rest[place + shift] * &reciprocal;
            if !factor.is_zero() {
                for (i, c) in divisor.coefficients.iter().enumerate() {
                    rest[place + i] = &rest[place + i] - &(&factor * c);
                }
            }
            quotient[place] = factor;
        }
        Some((Self::new(quotient), Self::new(rest)))
    }

    /// The derivative.
    pub fn derivative(&self) -> Self {
        let terms = self.coefficients.iter().enumerate().skip(1);
        Self::new(
            terms
                .map(|(i, c)| c * &Rational::integer(i as i64))
                .collect(),
        )
    }

    /// The multiple with whole coefficients without a common divisor, and a positive leading one.
    pub fn primitive(&self) -> Self {
        let mut common = Rational::ZERO;
        for coefficient in &self.coefficients {
            common = content(&common, coefficient);
        }
        if self.leading().is_negative() {
            common = -common;
        }
        match common.reciprocal() {
            Some(factor) if !factor.is_one() => self.scale(&factor),
            _ => self.clone(),
        }
    }

    /// The greatest common divisor, primitive; 0 only if both are 0.
    pub fn gcd(&self, other: &Self) -> Self {
        if self.degree().min(other.degree()) > 1 && are_coprime(self, other) {
            return Self::constant(Rational::ONE);
        }
        let (mut a, mut b) = (self.primitive(), other.primitive());
        while !b.is_zero() {
            let rest = match a.divide(&b) {
                Some((_, rest)) => rest,
                None => break,
            };
            (a, b) = (b, rest.primitive());
        }
        a
    }

    /// The discriminant of a quadratic or a cubic.
    pub fn discriminant(&self) -> Option<Rational> {
        let n = Rational::integer;
        match self.coefficients.as_slice() {
            [c, b, a] => Some(b * b - n(4) * a * c),
            [d, c, b, a] => {
                let (bb, cc) = (b * b, c * c);
                let first = &bb * &cc - n(4) * a * (c * &cc);
                let second = n(18) * a * b * c * d;
                let third = n(4) * (b * &bb) * d + n(27) * (a * a) * (d * d);
                Some(first + second - third)
            }
            _ => None,
        }
    }

    /// No factor that contains the variable divides it twice.
    pub fn is_square_free(&self) -> bool {
        self.gcd(&self.derivative()).degree() == 0
    }

    /// Square-free factors and how often each divides it, the multiplicities ascending. Their
    /// product is the polynomial up to a number. (Yun's algorithm.)
    pub fn square_free_factors(&self) -> Vec<(Self, u32)> {
        let mut factors = Vec::new();
        if self.degree() == 0 {
            return factors;
        }
        let derivative = self.derivative();
        let common = self.gcd(&derivative);
        let divide = |a: &Self, b: &Self| a.divide(b).map_or_else(|| a.clone(), |(q, _)| q);
        let mut rest = divide(self, &common);
        let mut other = divide(&derivative, &common).subtract(&rest.derivative());
        let mut multiplicity = 1;
        while rest.degree() > 0 {
            let factor = rest.gcd(&other);
            rest = divide(&rest, &factor);
            other = divide(&other, &factor).subtract(&rest.derivative());
            if factor.degree() > 0 {
                factors.push((factor, multiplicity));
            }
            multiplicity += 1;
        }
        factors
    }

    /// The rational roots, ascending, each as often as it divides, and what is left when they are
    /// divided out. Coefficients beyond 64 bits, or with very many divisors, are searched in part
    /// only: then a rational root may be missing from the list, and is one of the rest.
    pub fn rational_roots(&self) -> (Vec<Rational>, Self) {
        let mut roots = Vec::new();
        let mut rest = self.primitive();
        while rest.degree() > 0 && rest.coefficients[0].is_zero() {
            roots.push(Rational::ZERO);
            rest.coefficients.remove(0);
        }
        while let Some(root) = rest.some_rational_root() {
            let linear = Self::new(vec![-&root, Rational::ONE]);
            match rest.divide(&linear) {
                Some((quotient, remainder)) if remainder.is_zero() => rest = quotient.primitive(),
                _ => break,
            }
            roots.push(root);
        }
        roots.sort();
        (roots, rest)
    }

    /// A root that is rational and not 0. The polynomial is primitive and its constant not 0.
    fn some_rational_root(&self) -> Option<Rational> {
        match self.coefficients.as_slice() {
            [] | [_] => None,
            [b, a] => Some(-(b / a)),
            [c, b, a] => {
                let four = Rational::integer(4);
                let root = (b * b - four * a * c).root(2)?;
                Some(&(root - b) / &(a + a))
            }
            coefficients => {
                let constant = coefficients[0].as_i64()?.unsigned_abs();
                let leading = self.leading().as_i64()?.unsigned_abs();
                let denominators = divisors(leading);
                let mut tried = 0;
                for numerator in divisors(constant) {
                    for &denominator in &denominators {
                        if num_integer::gcd(numerator, denominator) != 1 {
                            continue;
                        }
                        tried += 1;
                        if tried > ROOT_CANDIDATES {
                            return None;
                        }
                        let (n, d) = (numerator as i64, denominator as i64);
                        for n in [n, -n] {
                            let candidate = Rational::fraction(n, d);
                            if self.at(&candidate).is_zero() {
                                return Some(candidate);
                            }
                        }
                    }
                }
                None
            }
        }
    }

    /// The number of different real roots above `low` and up to `high`; without bounds, of all.
    /// (Sturm's theorem.)
    pub fn count_real_roots(&self, low: Option<&Rational>, high: Option<&Rational>) -> usize {
        if self.degree() == 0 {
            return 0;
        }
        // Without multiple roots the chain decides at a root as well; and since `primitive` makes
        // both leading coefficients positive, the second is still the derivative of the first.
        let common = self.gcd(&self.derivative());
        let square_free = self
            .divide(&common)
            .map_or_else(|| self.clone(), |(q, _)| q);
        let first = square_free.primitive();
        let second = first.derivative().primitive();
        let mut chain = vec![first, second];
        while let [.., a, b] = chain.as_slice() {
            match a.divide(b) {
                Some((_, rest)) if !rest.is_zero() => {
                    let negative = rest.leading().is_negative();
                    let rest = rest.primitive();
                    // `primitive` made the sign positive; the chain needs the opposite remainder.
                    chain.push(match negative {
                        true => rest,
                        false => rest.scale(&Rational::integer(-1)),
                    });
                }
                _ => break,
            }
        }
        let changes = |signs: &mut dyn Iterator<Item = i32>| {
            let mut previous = 0;
            let mut changes = 0_usize;
            for sign in signs.filter(|sign| *sign != 0) {
                changes += usize::from(previous != 0 && sign != previous);
                previous = sign;
            }
            changes
        };
        let at_low = match low {
            Some(low) => changes(&mut chain.iter().map(|p| p.at(low).signum())),
            None => changes(&mut chain.iter().map(|p| {
                let sign = p.leading().signum();
                if p.degree() % 2 == 1 { -sign } else { sign }
            })),
        };
        let at_high = match high {
            Some(high) => changes(&mut chain.iter().map(|p| p.at(high).signum())),
            None => changes(&mut chain.iter().map(|p| p.leading().signum())),
        };
        at_low.saturating_sub(at_high)
    }

    /// A bound above the size of every real and complex root. (Cauchy's bound.)
    pub fn root_bound(&self) -> Rational {
        let Some(reciprocal) = self.leading().reciprocal() else {
            return Rational::ONE;
        };
        let others = &self.coefficients[..self.degree()];
        let largest = others.iter().map(|c| (c * &reciprocal).abs()).max();
        Rational::ONE + largest.unwrap_or(Rational::ZERO)
    }
}

/// The positive divisors, ascending; of a number above 10^12, those that pair with a divisor up to
/// 10^6.
fn divisors(value: u64) -> Vec<u64> {
    let mut small = Vec::new();
    let mut large = Vec::new();
    for candidate in 1..=1_000_000 {
        if candidate * candidate > value {
            break;
        }
        if value.is_multiple_of(candidate) {
            small.push(candidate);
            if candidate * candidate != value {
                large.push(value / candidate);
            }
        }
    }
    small.extend(large.into_iter().rev());
    small
}

/// Polynomials that have no common factor modulo a prime, by which neither's degree falls, have none.
/// (Knuth, The Art of Computer Programming 2, section 4.6.1.) False where that does not decide.
fn are_coprime(left: &Univariate, right: &Univariate) -> bool {
    let (Some(mut a), Some(mut b)) = (residues(left), residues(right)) else {
        return false;
    };
    if a.len() < b.len() {
        (a, b) = (b, a);
    }
    // Euclid's algorithm; the last coefficient is never 0.
    while b.len() > 1 {
        let Some(inverse) = b.last().map(|leading| inverse(*leading)) else {
            return false;
        };
        while a.len() >= b.len() {
            let factor = a.last().map_or(0, |leading| product(*leading, inverse));
            let shift = a.len() - b.len();
            for (place, coefficient) in b.iter().enumerate() {
                let subtracted = PRIME - product(factor, *coefficient);
                a[shift + place] = (a[shift + place] + subtracted) % PRIME;
            }
            while a.last() == Some(&0) {
                a.pop();
            }
        }
        (a, b) = (b, a);
    }
    // What is left divides both: a constant, or everything.
    b.len() == 1
}

/// The coefficients modulo the prime; none if it divides a denominator or the leading coefficient.
fn residues(polynomial: &Univariate) -> Option<Vec<u64>> {
    let coefficients = polynomial.coefficients.iter();
    let residues: Option<Vec<u64>> = coefficients.map(Rational::residue).collect();
    residues.filter(|residues| residues.last().is_some_and(|leading| *leading != 0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn polynomial(coefficients: &[i64]) -> Univariate {
        Univariate::new(coefficients.iter().map(|c| (*c).into()).collect())
    }

    fn with_roots(roots: &[i64]) -> Univariate {
        roots.iter().fold(polynomial(&[1]), |product, root| {
            product.multiply(&polynomial(&[-root, 1]))
        })
    }

    proptest! {
        #[test]
        fn division_leaves_a_smaller_rest(
            a in prop::collection::vec(-9..10_i64, 0..7),
            b in prop::collection::vec(-9..10_i64, 1..4),
        ) {
            let (a, b) = (polynomial(&a), polynomial(&b));
            match a.divide(&b) {
                None => prop_assert!(b.is_zero()),
                Some((quotient, rest)) => {
                    prop_assert_eq!(quotient.multiply(&b).add(&rest), a);
                    prop_assert!(rest.is_zero() || rest.degree() < b.degree());
                }
            }
        }

        #[test]
        fn finds_the_roots_it_was_made_of(mut roots in prop::collection::vec(-9..10_i64, 1..5)) {
            let made = with_roots(&roots).multiply(&polynomial(&[1, 0, 1]));
            let (found, rest) = made.rational_roots();
            roots.sort();
            prop_assert_eq!(found, roots.iter().map(|r| Rational::from(*r)).collect::<Vec<_>>());
            prop_assert_eq!(rest, polynomial(&[1, 0, 1]));
            let mut different = roots.clone();
            different.dedup();
            prop_assert_eq!(made.count_real_roots(None, None), different.len());
            let positive = different.iter().filter(|root| **root > 0).count();
            prop_assert_eq!(made.count_real_roots(Some(&Rational::ZERO), None), positive);
            prop_assert!(roots.iter().all(|root| Rational::from(*root).abs() < made.root_bound()));
            let mut product = polynomial(&[1]);
            for (factor, times) in made.square_free_factors() {
                prop_assert!(factor.is_square_free());
                for _ in 0..times {
                    product = product.multiply(&factor);
                }
            }
            prop_assert_eq!(product.primitive(), made.primitive());
        }
    }

    /// The discriminants of x^3 + p x + q and of x^2 + b x + c: Abramowitz and Stegun, Handbook of
    /// Mathematical Functions (1964), 3.8.1 and 3.8.2.
    #[test]
    fn discriminants_are_the_published_ones() {
        let (p, q) = (-7, 6);
        let expected = Rational::integer(-4 * p * p * p - 27 * q * q);
        assert_eq!(polynomial(&[q, p, 0, 1]).discriminant(), Some(expected));
        assert_eq!(polynomial(&[6, -5, 1]).discriminant(), Some(Rational::ONE));
    }

    #[test]
    fn counts_roots_that_are_not_rational() {
        assert_eq!(polynomial(&[-2, 0, 1]).count_real_roots(None, None), 2);
        assert_eq!(polynomial(&[2, 0, 1]).count_real_roots(None, None), 0);
        assert_eq!(polynomial(&[-1, 1, 0, 1]).count_real_roots(None, None), 1);
        assert_eq!(polynomial(&[1, -1, 0, -1]).count_real_roots(None, None), 1);
        let (low, high) = (Rational::ZERO, Rational::ONE);
        let cubic = polynomial(&[-1, 1, 0, 1]);
        assert_eq!(cubic.count_real_roots(Some(&low), Some(&high)), 1);
    }
}
