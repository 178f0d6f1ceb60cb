//! What are the roots and factors of a polynomial, exactly?

use crate::expression::Expression;
use crate::rational::Rational;
use crate::univariate::Univariate;

use super::write;

/// A root that can be written: a + b √d, with a square-free integer d that is not 1.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Root {
    pub(super) rational: Rational,
    pub(super) factor: Rational,
    /// Square-free; 1 where the root is rational, negative where it is not real.
    pub(super) radicand: i64,
    pub(super) multiplicity: u32,
}

impl Root {
    pub(super) fn rational(value: Rational, multiplicity: u32) -> Self {
        Self {
            rational: value,
            factor: Rational::ZERO,
            radicand: 1,
            multiplicity,
        }
    }

    pub(super) fn is_real(&self) -> bool {
        self.radicand > 0 || self.factor.is_zero()
    }

    pub(super) fn as_rational(&self) -> Option<&Rational> {
        self.factor.is_zero().then_some(&self.rational)
    }

    /// Its value, if it is real.
    pub(super) fn value(&self) -> Option<f64> {
        self.is_real().then(|| {
            self.rational.to_f64() + self.factor.to_f64() * libm::sqrt(self.radicand as f64)
        })
    }

    pub(super) fn to_expression(&self) -> Expression {
        write::surd(&self.rational, &self.factor, self.radicand)
    }
}

/// The square-free part of an integer and the number whose square was taken out.
pub(super) fn square_free(number: i64) -> Option<(i64, i64)> {
    let (mut rest, mut outside) = (number.checked_abs()?, 1_i64);
    if rest == 0 || rest > 1_000_000_000_000 {
        return None;
    }
    let mut divisor = 2_i64;
    while divisor * divisor <= rest && divisor < 100_000 {
        while rest % (divisor * divisor) == 0 {
            rest /= divisor * divisor;
            outside *= divisor;
        }
        divisor += 1;
    }
    Some((rest * number.signum(), outside))
}

/// The square root of a rational number: b and d with b √d, d square-free, b positive.
pub(super) fn square_root(number: &Rational) -> Option<(Rational, i64)> {
    let (n, d) = number.as_fraction()?;
    // √(n/d) = √(n d) / d
    let (radicand, outside) = square_free(n.checked_mul(d)?)?;
    Some((Rational::fraction(outside, d), radicand))
}

/// All roots, complex ones too, real ones ascending and first; none if some cannot be written with
/// square roots of rational numbers.
pub(super) fn roots(polynomial: &Univariate) -> Option<Vec<Root>> {
    let mut roots = Vec::new();
    for (factor, multiplicity) in polynomial.square_free_factors() {
        let (rational, rest) = factor.rational_roots();
        roots.extend(
            rational
                .into_iter()
                .map(|root| Root::rational(root, multiplicity)),
        );
        let two = Rational::integer(2);
        match rest.degree() {
            0 => {}
            2 => {
                let twice = &two * &rest.coefficient(2);
                let middle = (-rest.coefficient(1)).checked_div(&twice)?;
                let (b, d) = square_root(&rest.discriminant()?)?;
                let b = b.checked_div(&twice)?.abs();
                for factor in [-&b, b] {
                    roots.push(Root {
                        rational: middle.clone(),
                        factor,
                        radicand: d,
                        multiplicity,
                    });
                }
            }
            // x^4 + p x^2 + q with rational squares.
            4 if rest.coefficient(1).is_zero() && rest.coefficient(3).is_zero() => {
                let inner = Univariate::new(vec![
                    rest.coefficient(0),
                    rest.coefficient(2),
                    rest.coefficient(4),
                ]);
                let (squares, left) = inner.rational_roots();
                if left.degree() > 0 {
                    return None;
                }
                for square in squares {
                    let (b, d) = square_root(&square)?;
                    for factor in [-&b, b] {
                        roots.push(Root {
                            rational: Rational::ZERO,
                            factor,
                            radicand: d,
                            multiplicity,
                        });
                    }
                }
            }
            _ => return None,
        }
    }
    roots.sort_by(|a, b| match (a.value(), b.value()) {
        (Some(a), Some(b)) => a.total_cmp(&b),
        (Some(_), None) => std::cmp::Ordering::Less,
        (None, Some(_)) => std::cmp::Ordering::Greater,
        // The one with the positive imaginary part first.
        (None, None) => a.rational.cmp(&b.rational).then(b.factor.cmp(&a.factor)),
    });
    Some(roots)
}
