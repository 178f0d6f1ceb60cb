//! What is an exact number to calculate with?
//!
//! A [`Rational`] is a fraction of integers of any size. Nearly all numbers in exercises are
//! small, so a fraction of two 64-bit integers is kept without allocating; what does not fit
//! falls back to big integers. Both are in lowest terms, and what fits is always small, so that
//! derived equality and hashing are those of values.

use std::cmp::Ordering;
use std::fmt;
use std::ops::{Add, Div, Mul, Neg, Sub};
use std::sync::Arc;

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive};

use crate::expression::Number;
use crate::modular::{PRIME, inverse, product};

/// An exact fraction.
#[derive(Clone, PartialEq, Eq, Hash)]
pub struct Rational(Repr);

#[derive(Clone, PartialEq, Eq, Hash)]
enum Repr {
    // In lowest terms, the denominator positive. The numerator is never `i64::MIN`.
    Small(i64, i64),
    Big(Arc<BigRational>),
}

impl Rational {
    /// 0.
    pub const ZERO: Self = Self(Repr::Small(0, 1));
    /// 1.
    pub const ONE: Self = Self(Repr::Small(1, 1));

    /// A whole number.
    pub fn integer(value: i64) -> Self {
        Self::from_i128(value.into(), 1)
    }

    /// A fraction. The denominator must not be 0.
    pub fn fraction(numerator: i64, denominator: i64) -> Self {
        Self::from_i128(numerator.into(), denominator.into())
    }

    fn from_i128(mut numerator: i128, mut denominator: i128) -> Self {
        debug_assert!(denominator != 0, "a denominator is not 0");
        if denominator < 0 {
            (numerator, denominator) = (-numerator, -denominator);
        }
        if denominator != 1 {
            let common = gcd(numerator.unsigned_abs(), denominator.unsigned_abs()) as i128;
            numerator /= common;
            denominator /= common;
        }
        match (i64::try_from(numerator), i64::try_from(denominator)) {
            (Ok(n), Ok(d)) if n != i64::MIN => Self(Repr::Small(n, d)),
            _ => Self(Repr::Big(Arc::new(BigRational::new_raw(
                numerator.into(),
                denominator.into(),
            )))),
        }
    }

    fn from_big(value: BigRational) -> Self {
        match (value.numer().to_i64(), value.denom().to_i64()) {
            (Some(n), Some(d)) if n != i64::MIN => Self(Repr::Small(n, d)),
            _ => Self(Repr::Big(Arc::new(value))),
        }
    }

    /// The same value with big integers.
    pub fn to_big(&self) -> BigRational {
        match &self.0 {
            Repr::Small(n, d) => BigRational::new_raw((*n).into(), (*d).into()),
            Repr::Big(value) => (**value).clone(),
        }
    }

    /// Its value, if that is a whole number of 64 bits.
    pub fn as_i64(&self) -> Option<i64> {
        match self.0 {
            Repr::Small(n, 1) => Some(n),
            _ => None,
        }
    }

    /// Its numerator and denominator in lowest terms, if both have 64 bits.
    pub fn as_fraction(&self) -> Option<(i64, i64)> {
        match self.0 {
            Repr::Small(n, d) => Some((n, d)),
            Repr::Big(_) => None,
        }
    }

    /// Its numerator, in lowest terms.
    pub fn numerator(&self) -> Self {
        match &self.0 {
            Repr::Small(n, _) => Self(Repr::Small(*n, 1)),
            Repr::Big(value) => Self::from_big(value.numer().clone().into()),
        }
    }

    /// Its denominator, in lowest terms and positive.
    pub fn denominator(&self) -> Self {
        match &self.0 {
            Repr::Small(_, d) => Self(Repr::Small(*d, 1)),
            Repr::Big(value) => Self::from_big(value.denom().clone().into()),
        }
    }

    /// The nearest floating-point number; infinite when out of range.
    pub fn to_f64(&self) -> f64 {
        match &self.0 {
            // Exact below 2^53, and one rounding for the quotient.
            Repr::Small(n, d) if n.unsigned_abs() < 1 << 53 && *d < 1 << 53 => {
                *n as f64 / *d as f64
            }
            _ => self.to_big().to_f64().unwrap_or(f64::NAN),
        }
    }

    /// It is 0.
    pub fn is_zero(&self) -> bool {
        matches!(self.0, Repr::Small(0, _))
    }

    /// It is 1.
    pub fn is_one(&self) -> bool {
        matches!(self.0, Repr::Small(1, 1))
    }

    /// It is a whole number.
    pub fn is_integer(&self) -> bool {
        match &self.0 {
            Repr::Small(_, d) => *d == 1,
            Repr::Big(value) => value.is_integer(),
        }
    }

    /// It is below 0.
    pub fn is_negative(&self) -> bool {
        match &self.0 {
            Repr::Small(n, _) => *n < 0,
            Repr::Big(value) => value.is_negative(),
        }
    }

    /// It is above 0.
    pub fn is_positive(&self) -> bool {
        !self.is_negative() && !self.is_zero()
    }

    /// Its distance from 0.
    pub fn abs(&self) -> Self {
        match self.is_negative() {
            true => -self,
            false => self.clone(),
        }
    }

    /// -1, 0 or 1.
    pub fn signum(&self) -> i32 {
        match self {
            _ if self.is_zero() => 0,
            _ if self.is_negative() => -1,
            _ => 1,
        }
    }

    /// 1 over it; none for 0.
    pub fn reciprocal(&self) -> Option<Self> {
        match &self.0 {
            Repr::Small(0, _) => None,
            Repr::Small(n, d) => Some(Self::from_i128((*d).into(), (*n).into())),
            Repr::Big(value) => Some(Self::from_big(value.recip())),
        }
    }

    /// The quotient; none when divided by 0.
    pub fn checked_div(&self, other: &Self) -> Option<Self> {
        Some(self * &other.reciprocal()?)
    }

    /// A whole power. None for 0 to a negative power, and for a result of more than about 4,000
    /// bits.
    pub fn pow(&self, exponent: i64) -> Option<Self> {
        if exponent < 0 {
            return self.reciprocal()?.pow(exponent.checked_neg()?);
        }
        if self.is_zero() || self.is_one() {
            return Some(match exponent {
                0 => Self::ONE,
                _ => self.clone(),
            });
        }
        let bits = match &self.0 {
            Repr::Small(n, d) => {
                64 - n
                    .unsigned_abs()
                    .max(d.unsigned_abs())
                    .leading_zeros()
                    .min(63)
            }
            Repr::Big(value) => value.numer().bits().max(value.denom().bits()).min(4_096) as u32,
        };
        if exponent
            .checked_mul(bits.into())
            .is_none_or(|total| total > 4_096)
            && !self.is_unit()
        {
            return None;
        }
        let mut result = Self::ONE;
        let (mut base, mut left) = (self.clone(), exponent);
        while left > 0 {
            if left & 1 == 1 {
                result = &result * &base;
            }
            left >>= 1;
            if left > 0 {
                base = &base * &base;
            }
        }
        Some(result)
    }

    fn is_unit(&self) -> bool {
        matches!(self.0, Repr::Small(-1 | 1, 1))
    }

    /// The root of this degree, if it is rational and real: the positive one of even degree, the
    /// real one of odd degree.
    pub fn root(&self, degree: u32) -> Option<Self> {
        if degree == 0 || (degree.is_multiple_of(2) && self.is_negative()) {
            return None;
        }
        if self.is_zero() {
            return Some(Self::ZERO);
        }
        if let Repr::Small(n, d) = self.0 {
            let numerator = exact_root(n.unsigned_abs(), degree)?;
            let denominator = exact_root(d.unsigned_abs(), degree)?;
            return Some(Self::from_i128(
                i128::from(n.signum()) * i128::from(numerator),
                denominator.into(),
            ));
        }
        let big = self.to_big();
        let exact = |value: &BigInt| {
            let root = value.nth_root(degree);
            (root.pow(degree) == *value).then_some(root)
        };
        Some(Self::from_big(BigRational::new(
            exact(big.numer())?,
            exact(big.denom())?,
        )))
    }

    /// The residue modulo [`PRIME`]; none if that divides the denominator.
    pub(crate) fn residue(&self) -> Option<u64> {
        let (above, below) = match &self.0 {
            Repr::Small(above, below) => {
                let of = |value: i64| u64::try_from(value.rem_euclid(PRIME as i64)).ok();
                (of(*above)?, of(*below)?)
            }
            Repr::Big(value) => {
                let of = |value: &BigInt| value.mod_floor(&BigInt::from(PRIME)).to_u64();
                (of(value.numer())?, of(value.denom())?)
            }
        };
        match below {
            0 => None,
            1 => Some(above),
            below => Some(product(above, inverse(below))),
        }
    }

    /// It is the square of a rational number.
    pub fn is_square(&self) -> bool {
        self.root(2).is_some()
    }

    /// The greatest whole number that is not above it.
    pub fn floor(&self) -> Self {
        match &self.0 {
            Repr::Small(n, d) => Self(Repr::Small(n.div_euclid(*d), 1)),
            Repr::Big(value) => Self::from_big(value.floor()),
        }
    }
}

/// The greatest common divisor of numerators over the least common multiple of denominators: the
/// positive number by which both are whole multiples without a common factor.
pub fn content(left: &Rational, right: &Rational) -> Rational {
    if left.is_zero() {
        return right.abs();
    }
    if right.is_zero() {
        return left.abs();
    }
    if let (Repr::Small(a, b), Repr::Small(c, d)) = (&left.0, &right.0) {
        let numerator = gcd(a.unsigned_abs().into(), c.unsigned_abs().into()) as i128;
        let (b, d) = (i128::from(*b), i128::from(*d));
        let common = gcd(b as u128, d as u128) as i128;
        return Rational::from_i128(numerator, b / common * d);
    }
    let (left, right) = (left.to_big(), right.to_big());
    Rational::from_big(BigRational::new(
        left.numer().gcd(right.numer()),
        left.denom().lcm(right.denom()),
    ))
}

fn gcd(mut a: u128, mut b: u128) -> u128 {
    while b != 0 {
        if let (Ok(mut x), Ok(mut y)) = (u64::try_from(a), u64::try_from(b)) {
            while y != 0 {
                (x, y) = (y, x % y);
            }
            return x.into();
        }
        (a, b) = (b, a % b);
    }
    a
}

/// The whole root of this degree, if there is one.
fn exact_root(value: u64, degree: u32) -> Option<u64> {
    if value <= 1 || degree == 1 {
        return Some(value);
    }
    if degree >= 64 {
        return None;
    }
    let guess = libm::round(libm::pow(value as f64, 1.0 / f64::from(degree))) as u64;
    (guess.saturating_sub(1)..=guess + 1).find(|root| root.checked_pow(degree) == Some(value))
}

impl From<&Number> for Rational {
    fn from(number: &Number) -> Self {
        match number.as_i64() {
            Some(value) => Self::integer(value),
            None => Self::from_big(number.value()),
        }
    }
}

impl From<BigRational> for Rational {
    fn from(value: BigRational) -> Self {
        Self::from_big(value)
    }
}

impl From<i64> for Rational {
    fn from(value: i64) -> Self {
        Self::integer(value)
    }
}

macro_rules! operator {
    ($trait:ident, $method:ident, $small:expr, $big:expr) => {
        impl $trait<&Rational> for &Rational {
            type Output = Rational;

            fn $method(self, other: &Rational) -> Rational {
                if let (Repr::Small(a, b), Repr::Small(c, d)) = (&self.0, &other.0) {
                    let parts = (
                        i128::from(*a),
                        i128::from(*b),
                        i128::from(*c),
                        i128::from(*d),
                    );
                    let small: Option<Rational> = $small(parts);
                    if let Some(small) = small {
                        return small;
                    }
                }
                Rational::from_big($big(self.to_big(), other.to_big()))
            }
        }

        impl $trait for Rational {
            type Output = Rational;

            fn $method(self, other: Rational) -> Rational {
                (&self).$method(&other)
            }
        }

        impl $trait<&Rational> for Rational {
            type Output = Rational;

            fn $method(self, other: &Rational) -> Rational {
                (&self).$method(other)
            }
        }
    };
}

// A product of two 64-bit integers has 126 bits and a sum of two such products 127, so that only
// the denominators' product beside them needs no check either.
operator!(
    Add,
    add,
    |(a, b, c, d): (i128, i128, i128, i128)| match (b, d) {
        (1, 1) => Some(Rational::from_i128(a + c, 1)),
        _ => Some(Rational::from_i128((a * d).checked_add(c * b)?, b * d)),
    },
    |left: BigRational, right: BigRational| left + right
);
operator!(
    Sub,
    sub,
    |(a, b, c, d): (i128, i128, i128, i128)| match (b, d) {
        (1, 1) => Some(Rational::from_i128(a - c, 1)),
        _ => Some(Rational::from_i128((a * d).checked_sub(c * b)?, b * d)),
    },
    |left: BigRational, right: BigRational| left - right
);
operator!(
    Mul,
    mul,
    |(a, b, c, d): (i128, i128, i128, i128)| Some(Rational::from_i128(a * c, b * d)),
    |left: BigRational, right: BigRational| left * right
);

impl Div<&Rational> for &Rational {
    type Output = Rational;

    /// The quotient. The divisor must not be 0; see [`Rational::checked_div`].
    fn div(self, other: &Rational) -> Rational {
        self.checked_div(other)
            .expect("the divisor was found not to be 0")
    }
}

impl Neg for &Rational {
    type Output = Rational;

    fn neg(self) -> Rational {
        match &self.0 {
            Repr::Small(n, d) => Rational(Repr::Small(-n, *d)),
            Repr::Big(value) => Rational::from_big(-&**value),
        }
    }
}

impl Neg for Rational {
    type Output = Rational;

    fn neg(self) -> Rational {
        -&self
    }
}

impl Ord for Rational {
    fn cmp(&self, other: &Self) -> Ordering {
        match (&self.0, &other.0) {
            (Repr::Small(a, b), Repr::Small(c, d)) => {
                (i128::from(*a) * i128::from(*d)).cmp(&(i128::from(*c) * i128::from(*b)))
            }
            _ => self.to_big().cmp(&other.to_big()),
        }
    }
}

impl PartialOrd for Rational {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl fmt::Display for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match &self.0 {
            Repr::Small(n, 1) => write!(f, "{n}"),
            Repr::Small(n, d) => write!(f, "{n}/{d}"),
            Repr::Big(value) if value.denom().is_one() => write!(f, "{}", value.numer()),
            Repr::Big(value) => write!(f, "{}/{}", value.numer(), value.denom()),
        }
    }
}

impl fmt::Debug for Rational {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        fmt::Display::fmt(self, f)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn any_rational() -> impl Strategy<Value = Rational> {
        let near_the_edge = prop_oneof![
            Just(i64::MAX),
            Just(i64::MIN),
            Just(i64::MIN + 1),
            -20..20_i64,
            any::<i64>()
        ];
        let denominator = prop_oneof![1..20_i64, 1..i64::MAX, Just(i64::MAX)];
        (near_the_edge, denominator).prop_map(|(n, d)| Rational::fraction(n, d))
    }

    proptest! {
        #[test]
        fn calculates_as_big_fractions_do(a in any_rational(), b in any_rational()) {
            prop_assert_eq!((&a + &b).to_big(), a.to_big() + b.to_big());
            prop_assert_eq!((&a - &b).to_big(), a.to_big() - b.to_big());
            prop_assert_eq!((&a * &b).to_big(), a.to_big() * b.to_big());
            prop_assert_eq!((-&a).to_big(), -a.to_big());
            prop_assert_eq!(a.cmp(&b), a.to_big().cmp(&b.to_big()));
            prop_assert_eq!(a.floor().to_big(), a.to_big().floor());
            if !b.is_zero() {
                prop_assert_eq!((&a / &b).to_big(), a.to_big() / b.to_big());
            }
        }

        #[test]
        fn small_results_are_kept_small(a in any_rational(), b in any_rational()) {
            // The round trip through big integers must come back to an equal value, which holds
            // only if what fits is small on every path.
            let sum = &a + &b;
            prop_assert_eq!(&sum - &b, a.clone());
            prop_assert_eq!(&(&a * &b) - &(&a * &b), Rational::ZERO);
        }

        #[test]
        fn roots_undo_powers(n in -200..200_i64, d in 1..200_i64, degree in 1..5_u32) {
            let base = Rational::fraction(n, d);
            let power = base.pow(degree.into()).expect("small");
            let expected = if degree % 2 == 0 { base.abs() } else { base };
            prop_assert_eq!(power.root(degree), Some(expected));
        }

        #[test]
        fn content_divides_both(a in any_rational(), b in any_rational()) {
            let c = content(&a, &b);
            if !c.is_zero() {
                prop_assert!((&a / &c).is_integer() && (&b / &c).is_integer());
            }
        }
    }

    #[test]
    fn refuses_what_is_too_large_or_undefined() {
        assert_eq!(Rational::integer(7).pow(1_000_000), None);
        assert_eq!(Rational::ZERO.pow(-1), None);
        assert_eq!(Rational::integer(-1).pow(1_000_001), Some((-1).into()));
        assert_eq!(Rational::ONE.checked_div(&Rational::ZERO), None);
        assert_eq!(Rational::integer(2).root(2), None);
        assert_eq!(Rational::integer(-4).root(2), None);
        assert_eq!(Rational::integer(-8).root(3), Some((-2).into()));
        assert!(Rational::fraction(9, 16).is_square());
    }

    #[test]
    fn prints_in_lowest_terms() {
        assert_eq!(Rational::fraction(-6, 4).to_string(), "-3/2");
        assert_eq!(Rational::fraction(6, -3).to_string(), "-2");
    }
}
