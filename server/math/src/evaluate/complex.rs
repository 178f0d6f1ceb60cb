//! Complex numbers, and elementary functions of them with principal values.

use std::ops::{Add, Mul, Neg, Sub};

use crate::expression::Function;

/// A complex number in floating point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Complex {
    /// The real part.
    pub re: f64,
    /// The imaginary part.
    pub im: f64,
}

impl From<f64> for Complex {
    fn from(re: f64) -> Self {
        Self { re, im: 0.0 }
    }
}

impl Complex {
    pub(super) const ZERO: Self = Self { re: 0.0, im: 0.0 };
    pub(super) const ONE: Self = Self { re: 1.0, im: 0.0 };
    pub(super) const I: Self = Self { re: 0.0, im: 1.0 };

    /// A number from its parts.
    pub fn new(re: f64, im: f64) -> Self {
        Self { re, im }
    }

    /// The imaginary part is zero.
    pub fn is_real(self) -> bool {
        self.im == 0.0
    }

    /// Both parts are finite.
    pub fn is_finite(self) -> bool {
        self.re.is_finite() && self.im.is_finite()
    }

    /// The absolute value.
    pub fn abs(self) -> f64 {
        match self.is_real() {
            true => self.re.abs(),
            false => libm::hypot(self.re, self.im),
        }
    }

    /// The argument, in (−π, π].
    pub fn arg(self) -> f64 {
        libm::atan2(self.im, self.re)
    }

    /// The quotient, unless the divisor is zero.
    pub fn divided_by(self, divisor: Self) -> Option<Self> {
        if divisor == Self::ZERO {
            return None;
        }
        if divisor.is_real() {
            return Some(Self::new(self.re / divisor.re, self.im / divisor.re));
        }
        // Dividing by the greater part first avoids overflow (Smith, Algorithm 116, 1962).
        let Self { re: c, im: d } = divisor;
        if c.abs() >= d.abs() {
            let ratio = d / c;
            let scale = c + d * ratio;
            Some(Self::new(
                (self.re + self.im * ratio) / scale,
                (self.im - self.re * ratio) / scale,
            ))
        } else {
            let ratio = c / d;
            let scale = c * ratio + d;
            Some(Self::new(
                (self.re * ratio + self.im) / scale,
                (self.im * ratio - self.re) / scale,
            ))
        }
    }

    /// The principal square root.
    pub fn sqrt(self) -> Self {
        if self.is_real() {
            return match self.re >= 0.0 {
                true => Self::from(libm::sqrt(self.re)),
                false => Self::new(0.0, libm::sqrt(-self.re)),
            };
        }
        let magnitude = libm::sqrt((self.abs() + self.re.abs()) / 2.0);
        let other = self.im.abs() / (2.0 * magnitude);
        match self.re >= 0.0 {
            true => Self::new(magnitude, other.copysign(self.im)),
            false => Self::new(other, magnitude.copysign(self.im)),
        }
    }

    /// The exponential.
    pub fn exp(self) -> Self {
        let magnitude = libm::exp(self.re);
        match self.is_real() {
            true => Self::from(magnitude),
            false => Self::new(
                magnitude * libm::cos(self.im),
                magnitude * libm::sin(self.im),
            ),
        }
    }

    /// The principal logarithm, unless this is zero.
    pub fn ln(self) -> Option<Self> {
        match self {
            Self::ZERO => None,
            Self { re, im: 0.0 } if re > 0.0 => Some(Self::from(libm::log(re))),
            _ => Some(Self::new(libm::log(self.abs()), self.arg())),
        }
    }

    /// The principal power. Zero has powers of positive real part only, and 0⁰ is 1.
    pub fn pow(self, exponent: Self) -> Option<Self> {
        if exponent == Self::ZERO {
            return Some(Self::ONE);
        }
        if self == Self::ZERO {
            return (exponent.re > 0.0).then_some(Self::ZERO);
        }
        if exponent.is_real() {
            if self.is_real() && (self.re > 0.0 || exponent.re == libm::floor(exponent.re)) {
                return Some(Self::from(libm::pow(self.re, exponent.re)));
            }
            if exponent.re == libm::floor(exponent.re) && exponent.re.abs() <= 1024.0 {
                return self.integer_power(exponent.re as i32);
            }
        }
        Some((self.ln()? * exponent).exp())
    }

    fn integer_power(self, exponent: i32) -> Option<Self> {
        let mut base = self;
        let mut rest = exponent.unsigned_abs();
        let mut power = Self::ONE;
        while rest > 0 {
            if rest % 2 == 1 {
                power = power * base;
            }
            base = base * base;
            rest /= 2;
        }
        match exponent < 0 {
            true => Self::ONE.divided_by(power),
            false => Some(power),
        }
    }
}

impl Add for Complex {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self::new(self.re + other.re, self.im + other.im)
    }
}

impl Sub for Complex {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self::new(self.re - other.re, self.im - other.im)
    }
}

impl Mul for Complex {
    type Output = Self;
    fn mul(self, other: Self) -> Self {
        if self.is_real() && other.is_real() {
            return Self::from(self.re * other.re);
        }
        Self::new(
            self.re * other.re - self.im * other.im,
            self.re * other.im + self.im * other.re,
        )
    }
}

impl Neg for Complex {
    type Output = Self;
    fn neg(self) -> Self {
        // Minus zero would choose the other side of a branch cut.
        Self::new(0.0 - self.re, 0.0 - self.im)
    }
}

type Elementary = fn(Complex) -> Option<Complex>;

/// An elementary function of one argument; its value does not exist everywhere.
pub(super) fn elementary(function: Function) -> Option<Elementary> {
    use Function as F;
    Some(match function {
        F::Sin => |z| Some(sin(z)),
        F::Cos => |z| Some(cos(z)),
        F::Tan => |z| quotient(sin(z), cos(z)),
        F::Cot => |z| quotient(cos(z), sin(z)),
        F::Sec => |z| quotient(Complex::ONE, cos(z)),
        F::Csc => |z| quotient(Complex::ONE, sin(z)),
        F::Arcsin => arcsin,
        F::Arccos => |z| match z.is_real() && z.re.abs() <= 1.0 {
            true => Some(libm::acos(z.re).into()),
            false => Some(Complex::from(std::f64::consts::FRAC_PI_2) - arcsin(z)?),
        },
        F::Arctan => arctan,
        // The branch with values in (0, π), as in most calculus courses.
        F::Arccot => |z| Some(Complex::from(std::f64::consts::FRAC_PI_2) - arctan(z)?),
        F::Arcsec => |z| {
            let inverse = Complex::ONE.divided_by(z)?;
            elementary(F::Arccos)?(inverse)
        },
        F::Arccsc => |z| arcsin(Complex::ONE.divided_by(z)?),
        F::Sinh => |z| Some(sinh(z)),
        F::Cosh => |z| Some(cosh(z)),
        F::Tanh => |z| match z.is_real() {
            true => Some(libm::tanh(z.re).into()),
            false => quotient(sinh(z), cosh(z)),
        },
        F::Coth => |z| quotient(cosh(z), sinh(z)),
        F::Sech => |z| quotient(Complex::ONE, cosh(z)),
        F::Csch => |z| quotient(Complex::ONE, sinh(z)),
        F::Arsinh => arsinh,
        F::Arcosh => arcosh,
        F::Artanh => artanh,
        F::Arcoth => |z| artanh(Complex::ONE.divided_by(z)?),
        F::Arsech => |z| arcosh(Complex::ONE.divided_by(z)?),
        F::Arcsch => |z| arsinh(Complex::ONE.divided_by(z)?),
        F::Exp => |z| Some(z.exp()),
        F::Ln => Complex::ln,
        F::Abs => |z| Some(z.abs().into()),
        F::RealPart => |z| Some(z.re.into()),
        F::ImaginaryPart => |z| Some(z.im.into()),
        F::Argument => |z| match z == Complex::ZERO {
            true => None,
            false => Some(z.arg().into()),
        },
        F::Conjugate => |z| Some(Complex::new(z.re, -z.im)),
        F::Gamma => |z| z.is_real().then(|| libm::tgamma(z.re).into()),
        F::Erf => |z| z.is_real().then(|| libm::erf(z.re).into()),
        _ => return None,
    })
}

/// A quotient at which the divisor is zero but for rounding does not exist.
fn quotient(above: Complex, below: Complex) -> Option<Complex> {
    match below.abs() <= 1e-15 {
        true => None,
        false => above.divided_by(below),
    }
}

fn sin(z: Complex) -> Complex {
    match z.is_real() {
        true => libm::sin(z.re).into(),
        false => Complex::new(
            libm::sin(z.re) * libm::cosh(z.im),
            libm::cos(z.re) * libm::sinh(z.im),
        ),
    }
}

fn cos(z: Complex) -> Complex {
    match z.is_real() {
        true => libm::cos(z.re).into(),
        false => Complex::new(
            libm::cos(z.re) * libm::cosh(z.im),
            -libm::sin(z.re) * libm::sinh(z.im),
        ),
    }
}

fn sinh(z: Complex) -> Complex {
    match z.is_real() {
        true => libm::sinh(z.re).into(),
        false => Complex::new(
            libm::sinh(z.re) * libm::cos(z.im),
            libm::cosh(z.re) * libm::sin(z.im),
        ),
    }
}

fn cosh(z: Complex) -> Complex {
    match z.is_real() {
        true => libm::cosh(z.re).into(),
        false => Complex::new(
            libm::cosh(z.re) * libm::cos(z.im),
            libm::sinh(z.re) * libm::sin(z.im),
        ),
    }
}

// The logarithmic forms are those of the NIST Digital Library of Mathematical Functions, sections
// 4.23 and 4.37.

fn arcsin(z: Complex) -> Option<Complex> {
    if z.is_real() && z.re.abs() <= 1.0 {
        return Some(libm::asin(z.re).into());
    }
    let root = (Complex::ONE - z * z).sqrt();
    let logarithm = (Complex::I * z + root).ln()?;
    Some(-(Complex::I * logarithm))
}

fn arctan(z: Complex) -> Option<Complex> {
    if z.is_real() {
        return Some(libm::atan(z.re).into());
    }
    let logarithm = (Complex::ONE - Complex::I * z).ln()? - (Complex::ONE + Complex::I * z).ln()?;
    Some(Complex::new(0.0, 0.5) * logarithm)
}

fn arsinh(z: Complex) -> Option<Complex> {
    if z.is_real() {
        return Some(libm::asinh(z.re).into());
    }
    (z + (z * z + Complex::ONE).sqrt()).ln()
}

fn arcosh(z: Complex) -> Option<Complex> {
    if z.is_real() && z.re >= 1.0 {
        return Some(libm::acosh(z.re).into());
    }
    (z + (z + Complex::ONE).sqrt() * (z - Complex::ONE).sqrt()).ln()
}

fn artanh(z: Complex) -> Option<Complex> {
    if z.is_real() && z.re.abs() < 1.0 {
        return Some(libm::atanh(z.re).into());
    }
    let logarithm = (Complex::ONE + z).ln()? - (Complex::ONE - z).ln()?;
    Some(Complex::from(0.5) * logarithm)
}
