//! What are the value and the first derivatives of a function, computed together?
//!
//! A [`Jet`] is a Taylor polynomial: the coefficients c₀ … cₙ of a function about a point, so that
//! the k-th derivative there is k!·cₖ. Arithmetic on jets is that of power series (Griewank and
//! Walther, Evaluating Derivatives, 2nd edition, table 13.2), which differentiates a formula as
//! often as is needed without writing a derivative down. Values are real: what has no real value
//! has none here.

use smallvec::{SmallVec, smallvec};

/// The coefficients of a Taylor polynomial, the constant one first; there is at least one.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Jet(SmallVec<[f64; 4]>);

impl Jet {
    /// A constant, to so many coefficients.
    pub(super) fn constant(value: f64, length: usize) -> Self {
        let mut coefficients: SmallVec<[f64; 4]> = smallvec![0.0; length.max(1)];
        coefficients[0] = value;
        Self(coefficients)
    }

    /// The variable itself at this value.
    pub(super) fn variable(value: f64, length: usize) -> Self {
        let mut jet = Self::constant(value, length);
        if length > 1 {
            jet.0[1] = 1.0;
        }
        jet
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// The value at the point.
    pub(super) fn value(&self) -> f64 {
        self.0[0]
    }

    pub(super) fn coefficient(&self, order: usize) -> f64 {
        self.0.get(order).copied().unwrap_or(0.0)
    }

    pub(super) fn set(&mut self, order: usize, value: f64) {
        if let Some(coefficient) = self.0.get_mut(order) {
            *coefficient = value;
        }
    }

    /// The derivative of this order at the point.
    pub(super) fn derivative(&self, order: usize) -> f64 {
        let factorial: f64 = (1..=order).map(|factor| factor as f64).product();
        self.coefficient(order) * factorial
    }

    /// The jet of the derivative, shorter by one.
    pub(super) fn differentiated(&self) -> Self {
        if self.len() == 1 {
            return Self::constant(f64::NAN, 1);
        }
        let terms = self.0.iter().enumerate().skip(1);
        Self(terms.map(|(order, c)| order as f64 * c).collect())
    }

    /// The same jet with fewer coefficients.
    pub(super) fn truncated(&self, length: usize) -> Self {
        Self(self.0.iter().take(length.max(1)).copied().collect())
    }

    pub(super) fn is_finite(&self) -> bool {
        self.0.iter().all(|c| c.is_finite())
    }

    fn is_constant(&self) -> bool {
        self.0[1..].iter().all(|c| *c == 0.0)
    }

    fn map(&self, change: impl FnMut(f64) -> f64) -> Self {
        Self(self.0.iter().copied().map(change).collect())
    }

    pub(super) fn add_to(&mut self, other: &Self) {
        for (mine, other) in self.0.iter_mut().zip(&other.0) {
            *mine += other;
        }
    }

    pub(super) fn add(&self, other: &Self) -> Self {
        let mut sum = self.clone();
        sum.add_to(other);
        sum
    }

    pub(super) fn subtract(&self, other: &Self) -> Self {
        self.add(&other.negative())
    }

    pub(super) fn negative(&self) -> Self {
        self.map(|c| 0.0 - c)
    }

    pub(super) fn scale(&self, factor: f64) -> Self {
        self.map(|c| c * factor)
    }

    pub(super) fn multiply(&self, other: &Self) -> Self {
        let length = self.len().min(other.len());
        let term = |order: usize| (0..=order).map(|k| self.0[k] * other.0[order - k]).sum();
        Self((0..length).map(term).collect())
    }

    /// The quotient, unless the divisor is zero at the point.
    pub(super) fn divide(&self, divisor: &Self) -> Option<Self> {
        let head = divisor.0[0];
        if head == 0.0 {
            return None;
        }
        let length = self.len().min(divisor.len());
        let mut quotient: SmallVec<[f64; 4]> = SmallVec::with_capacity(length);
        for order in 0..length {
            let known: f64 = (0..order).map(|k| quotient[k] * divisor.0[order - k]).sum();
            quotient.push((self.0[order] - known) / head);
        }
        Some(Self(quotient))
    }

    /// The function whose derivative this is, with a value at the point; longer by one.
    fn integrated(&self, value: f64) -> Self {
        let terms = self.0.iter().enumerate();
        let rest = terms.map(|(order, c)| c / (order + 1) as f64);
        Self(std::iter::once(value).chain(rest).collect())
    }

    /// A function of this jet from its value and the derivative of the function at it, as a jet of
    /// one coefficient fewer.
    fn compose(&self, value: f64, slope: impl FnOnce(&Self) -> Option<Self>) -> Option<Self> {
        if self.len() == 1 || self.is_constant() {
            return Some(Self::constant(value, self.len()));
        }
        let slope = slope(&self.truncated(self.len() - 1))?;
        Some(self.differentiated().multiply(&slope).integrated(value))
    }

    pub(super) fn exp(&self) -> Self {
        let mut result: SmallVec<[f64; 4]> = smallvec![libm::exp(self.0[0])];
        for order in 1..self.len() {
            let term = |k: usize| k as f64 * self.0[k] * result[order - k];
            let sum: f64 = (1..=order).map(term).sum();
            result.push(sum / order as f64);
        }
        Self(result)
    }

    pub(super) fn ln(&self) -> Option<Self> {
        match self.0[0] > 0.0 {
            true => self.compose(libm::log(self.0[0]), |u| one(u).divide(u)),
            false => None,
        }
    }

    /// Sine and cosine.
    pub(super) fn sin_cos(&self) -> (Self, Self) {
        let mut sine: SmallVec<[f64; 4]> = smallvec![libm::sin(self.0[0])];
        let mut cosine: SmallVec<[f64; 4]> = smallvec![libm::cos(self.0[0])];
        for order in 1..self.len() {
            let (mut s, mut c) = (0.0, 0.0);
            for k in 1..=order {
                let slope = k as f64 * self.0[k];
                s += slope * cosine[order - k];
                c -= slope * sine[order - k];
            }
            sine.push(s / order as f64);
            cosine.push(c / order as f64);
        }
        (Self(sine), Self(cosine))
    }

    /// Hyperbolic sine and cosine.
    pub(super) fn sinh_cosh(&self) -> (Self, Self) {
        let mut sine: SmallVec<[f64; 4]> = smallvec![libm::sinh(self.0[0])];
        let mut cosine: SmallVec<[f64; 4]> = smallvec![libm::cosh(self.0[0])];
        for order in 1..self.len() {
            let (mut s, mut c) = (0.0, 0.0);
            for k in 1..=order {
                let slope = k as f64 * self.0[k];
                s += slope * cosine[order - k];
                c += slope * sine[order - k];
            }
            sine.push(s / order as f64);
            cosine.push(c / order as f64);
        }
        (Self(sine), Self(cosine))
    }

    pub(super) fn tanh(&self) -> Option<Self> {
        if self.is_constant() {
            return Some(Self::constant(libm::tanh(self.0[0]), self.len()));
        }
        let (sine, cosine) = self.sinh_cosh();
        sine.divide(&cosine)
    }

    pub(super) fn sqrt(&self) -> Option<Self> {
        if self.0[0] < 0.0 {
            return None;
        }
        if self.0[0] == 0.0 {
            return self.is_constant().then(|| self.clone());
        }
        let mut root: SmallVec<[f64; 4]> = smallvec![libm::sqrt(self.0[0])];
        for order in 1..self.len() {
            let known: f64 = (1..order).map(|k| root[k] * root[order - k]).sum();
            root.push((self.0[order] - known) / (2.0 * root[0]));
        }
        Some(Self(root))
    }

    /// A power with a whole number for its exponent.
    pub(super) fn integer_power(&self, exponent: i64) -> Option<Self> {
        if self.len() == 1 || self.is_constant() {
            if self.0[0] == 0.0 && exponent < 0 {
                return None;
            }
            let value = libm::pow(self.0[0], exponent as f64);
            return Some(Self::constant(value, self.len()));
        }
        if exponent.unsigned_abs() > 64 && self.0[0] != 0.0 {
            return self.real_power_of_size(exponent as f64);
        }
        let mut base = self.clone();
        let mut rest = exponent.unsigned_abs();
        let mut power = one(self);
        while rest > 0 {
            if rest % 2 == 1 {
                power = power.multiply(&base);
            }
            rest /= 2;
            if rest > 0 {
                base = base.multiply(&base);
            }
        }
        match exponent < 0 {
            true => one(self).divide(&power),
            false => Some(power),
        }
    }

    /// A power with a constant exponent; the base is not zero, and if it is negative the exponent
    /// is whole.
    fn real_power_of_size(&self, exponent: f64) -> Option<Self> {
        let head = self.0[0];
        let mut power: SmallVec<[f64; 4]> = smallvec![libm::pow(head, exponent)];
        for order in 1..self.len() {
            let term = |k: usize| {
                (exponent * k as f64 - (order - k) as f64) * self.0[k] * power[order - k]
            };
            let sum: f64 = (1..=order).map(term).sum();
            power.push(sum / (order as f64 * head));
        }
        Some(Self(power))
    }

    /// The real power with this exponent: of a positive base, or where the exponent is whole.
    pub(super) fn power(&self, exponent: &Self) -> Option<Self> {
        if exponent.is_constant() {
            let exponent = exponent.0[0];
            if exponent == libm::floor(exponent) && exponent.abs() < 1e9 {
                return self.integer_power(exponent as i64);
            }
            return match self.0[0] {
                base if base > 0.0 => self.real_power_of_size(exponent),
                0.0 if exponent > 0.0 && self.is_constant() => Some(self.clone()),
                _ => None,
            };
        }
        Some(exponent.multiply(&self.ln()?).exp())
    }

    /// A power whose exponent is a fraction with an odd denominator, real for every base.
    pub(super) fn odd_root_power(&self, numerator: i64, denominator: i64) -> Option<Self> {
        let exponent = numerator as f64 / denominator as f64;
        match self.0[0] {
            base if base > 0.0 => self.real_power_of_size(exponent),
            0.0 => match self.is_constant() && exponent > 0.0 {
                true => Some(self.clone()),
                false => None,
            },
            _ => {
                let power = self.negative().real_power_of_size(exponent)?;
                Some(match numerator % 2 == 0 {
                    true => power,
                    false => power.negative(),
                })
            }
        }
    }

    pub(super) fn abs(&self) -> Option<Self> {
        match self.0[0] {
            value if value > 0.0 => Some(self.clone()),
            value if value < 0.0 => Some(self.negative()),
            _ => self.is_constant().then(|| self.clone()),
        }
    }

    pub(super) fn arcsin(&self) -> Option<Self> {
        match self.0[0].abs() <= 1.0 {
            true => self.compose(libm::asin(self.0[0]), |u| {
                one(u).divide(&one(u).subtract(&u.multiply(u)).sqrt()?)
            }),
            false => None,
        }
    }

    pub(super) fn arccos(&self) -> Option<Self> {
        let half_turn = Self::constant(std::f64::consts::FRAC_PI_2, self.len());
        Some(half_turn.subtract(&self.arcsin()?))
    }

    pub(super) fn arctan(&self) -> Option<Self> {
        self.compose(libm::atan(self.0[0]), |u| {
            one(u).divide(&one(u).add(&u.multiply(u)))
        })
    }

    pub(super) fn arsinh(&self) -> Option<Self> {
        self.compose(libm::asinh(self.0[0]), |u| {
            one(u).divide(&one(u).add(&u.multiply(u)).sqrt()?)
        })
    }

    pub(super) fn arcosh(&self) -> Option<Self> {
        match self.0[0] >= 1.0 {
            true => self.compose(libm::acosh(self.0[0]), |u| {
                one(u).divide(&u.multiply(u).subtract(&one(u)).sqrt()?)
            }),
            false => None,
        }
    }

    pub(super) fn artanh(&self) -> Option<Self> {
        match self.0[0].abs() < 1.0 {
            true => self.compose(libm::atanh(self.0[0]), |u| {
                one(u).divide(&one(u).subtract(&u.multiply(u)))
            }),
            false => None,
        }
    }

    pub(super) fn erf(&self) -> Option<Self> {
        self.compose(libm::erf(self.0[0]), |u| {
            let bell = u.multiply(u).negative().exp();
            Some(bell.scale(std::f64::consts::FRAC_2_SQRT_PI))
        })
    }

    /// The gamma function, where only its value is needed.
    pub(super) fn gamma(&self) -> Option<Self> {
        let value = self.0[0];
        let is_pole = value <= 0.0 && value == libm::floor(value);
        match self.is_constant() && !is_pole {
            true => {
                let mut gamma = libm::tgamma(value);
                if value == libm::floor(value) && value < 20.0 {
                    gamma = libm::round(gamma);
                }
                Some(Self::constant(gamma, self.len()))
            }
            false => None,
        }
    }

    /// A function that is constant between its jumps.
    pub(super) fn step(&self, of: impl FnOnce(f64) -> f64) -> Self {
        Self::constant(of(self.0[0]), self.len())
    }
}

/// The constant 1, as long as another jet.
pub(super) fn one(like: &Jet) -> Jet {
    Jet::constant(1.0, like.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tells_the_derivatives_of_the_exponential_of_the_sine() {
        // e^{sin x}: 1, 1, 1, 0, -3, -8 at 0 (by hand).
        let jet = Jet::variable(0.0, 6).sin_cos().0.exp();
        let derivatives: Vec<f64> = (0..6).map(|order| jet.derivative(order)).collect();
        for (found, expected) in derivatives.iter().zip([1.0, 1.0, 1.0, 0.0, -3.0, -8.0]) {
            assert!((found - expected).abs() < 1e-12, "{derivatives:?}");
        }
    }

    #[test]
    fn inverse_functions_undo_functions() {
        let x = Jet::variable(0.4, 6);
        let (sine, _) = x.sin_cos();
        let (sinh, cosh) = x.sinh_cosh();
        for back in [
            sine.arcsin(),
            sinh.arsinh(),
            cosh.arcosh(),
            x.tanh().and_then(|t| t.artanh()),
            x.exp().ln(),
            x.multiply(&x).sqrt(),
            x.integer_power(3)
                .and_then(|cube| cube.odd_root_power(1, 3)),
            x.integer_power(-3)
                .and_then(|cube| cube.odd_root_power(-1, 3)),
        ] {
            let back = back.expect("0.4 is in the domain");
            for order in 0..6 {
                let error = back.coefficient(order) - x.coefficient(order);
                assert!(error.abs() < 1e-9, "{back:?}");
            }
        }
    }
}
