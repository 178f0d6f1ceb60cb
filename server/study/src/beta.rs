//! The beta distribution: its distribution function and its quantiles, bit for bit the same on
//! every platform (`libm` instead of the platform's own `exp`, `log` and `lgamma`).

/// The most terms of the continued fraction. It needs about the square root of the larger
/// parameter; parameters here stay below a few thousand.
const TERMS: u32 = 20_000;

/// The regularised incomplete beta function I_x(a, b), for positive `a` and `b`, where `y` is
/// 1 − x (given apart, so that neither end of the range loses digits).
///
/// The continued fraction is that of the NIST Digital Library of Mathematical Functions, 8.17.22,
/// evaluated by Lentz's method as modified by Thompson and Barnett (1986); the symmetry
/// I_x(a, b) = 1 − I_y(b, a) is 8.17.4 of the same.
fn regularised_incomplete(a: f64, b: f64, x: f64, y: f64) -> f64 {
    if x <= 0.0 {
        return 0.0;
    }
    if y <= 0.0 {
        return 1.0;
    }
    let front = libm::exp(a * libm::log(x) + b * libm::log(y) - ln_beta(a, b));
    if x < (a + 1.0) / (a + b + 2.0) {
        (front * continued_fraction(a, b, x) / a).min(1.0)
    } else {
        (1.0 - front * continued_fraction(b, a, y) / b).max(0.0)
    }
}

/// ln B(a, b).
fn ln_beta(a: f64, b: f64) -> f64 {
    libm::lgamma(a) + libm::lgamma(b) - libm::lgamma(a + b)
}

fn continued_fraction(a: f64, b: f64, x: f64) -> f64 {
    const TINY: f64 = 1e-300;
    let away_from_zero = |v: f64| if v.abs() < TINY { TINY } else { v };
    let mut c = 1.0;
    let mut d = 1.0 / away_from_zero(1.0 - (a + b) * x / (a + 1.0));
    let mut value = d;
    for m in 1..=TERMS {
        let m = f64::from(m);
        let even = m * (b - m) * x / ((a + 2.0 * m - 1.0) * (a + 2.0 * m));
        let odd = -(a + m) * (a + b + m) * x / ((a + 2.0 * m) * (a + 2.0 * m + 1.0));
        let mut step = 1.0;
        for coefficient in [even, odd] {
            d = 1.0 / away_from_zero(1.0 + coefficient * d);
            c = away_from_zero(1.0 + coefficient / c);
            step = c * d;
            value *= step;
        }
        if (step - 1.0).abs() < 1e-16 {
            break;
        }
    }
    value
}

/// The x at which a beta variable with parameters `a` and `b` lies below x with probability `p`.
///
/// `a`, `b` positive and finite, `p` strictly between 0 and 1; the answer is from 0 to 1 (and 0 or
/// 1 themselves where the true value is too near to be told from them). Newton's method on the
/// logit of x, kept inside a bracket that bisection narrows, so it ends for every input.
pub(crate) fn quantile(a: f64, b: f64, p: f64) -> f64 {
    let ln_beta = ln_beta(a, b);
    // Beyond these the logistic function is 0 or 1 to the last bit of a double.
    let (mut low, mut high) = (-745.0, 745.0);
    let mut u = libm::log(a / b).clamp(-700.0, 700.0);
    for _ in 0..200 {
        let (x, y) = (logistic(u), logistic(-u));
        let excess = regularised_incomplete(a, b, x, y) - p;
        if excess > 0.0 {
            high = u;
        } else {
            low = u;
        }
        let slope = libm::exp(a * libm::log(x) + b * libm::log(y) - ln_beta);
        let newton = u - excess / slope;
        let next = if newton > low && newton < high {
            newton
        } else {
            (low + high) / 2.0
        };
        if excess == 0.0 || (next - u).abs() <= 1e-15 * u.abs().max(1.0) {
            break;
        }
        u = next;
    }
    logistic(u)
}

/// The logistic function 1 / (1 + e^−u).
pub(crate) fn logistic(u: f64) -> f64 {
    if u >= 0.0 {
        1.0 / (1.0 + libm::exp(-u))
    } else {
        let odds = libm::exp(u);
        odds / (1.0 + odds)
    }
}

/// The log odds ln(p / (1 − p)), of a `p` strictly between 0 and 1.
pub(crate) fn logit(p: f64) -> f64 {
    libm::log(p) - libm::log1p(-p)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn check(a: f64, b: f64, p: f64, expected: f64) {
        let found = quantile(a, b, p);
        assert!(
            (found - expected).abs() < 1e-12,
            "quantile({a}, {b}, {p}) = {found}"
        );
    }

    /// Beta(1, 1) is uniform, Beta(a, 1) has x = p^(1/a), Beta(1/2, 1/2) is the arcsine law:
    /// closed forms of the definition.
    #[test]
    fn quantiles_with_a_closed_form() {
        check(1.0, 1.0, 0.37, 0.37);
        check(3.0, 1.0, 0.05, libm::pow(0.05, 1.0 / 3.0));
        check(1.0, 4.0, 0.95, 1.0 - libm::pow(0.05, 0.25));
        let arcsine = |p: f64| libm::pow(libm::sin(core::f64::consts::FRAC_PI_2 * p), 2.0);
        check(0.5, 0.5, 0.05, arcsine(0.05));
        check(0.5, 0.5, 0.5, 0.5);
        check(0.5, 0.5, 0.95, arcsine(0.95));
    }

    #[test]
    fn a_tail_too_thin_for_a_double_is_0_or_1() {
        assert!(quantile(0.002, 3.0, 0.05) <= f64::from_bits(1));
        assert_eq!(quantile(3.0, 0.002, 0.95), 1.0);
    }

    proptest! {
        #[test]
        fn a_quantile_undoes_the_distribution_function(
            a in 0.05f64..400.0, b in 0.05f64..400.0, p in 0.01f64..0.99,
        ) {
            let x = quantile(a, b, p);
            prop_assert!((0.0..=1.0).contains(&x));
            if x > 1e-12 && x < 1.0 - 1e-6 {
                let back = regularised_incomplete(a, b, x, 1.0 - x);
                prop_assert!((back - p).abs() < 1e-10, "{back} for {p}");
            }
        }

        #[test]
        fn quantiles_grow_with_p_and_mirror(a in 1e-6f64..5e3, b in 1e-6f64..5e3) {
            let (low, high) = (quantile(a, b, 0.05), quantile(a, b, 0.95));
            prop_assert!(low <= high, "{low} {high}");
            prop_assert!((quantile(b, a, 0.95) - (1.0 - low)).abs() < 1e-9);
        }
    }
}
