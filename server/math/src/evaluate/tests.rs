//! Formulas and points in, values out.

use std::collections::BTreeMap;

use num_rational::BigRational;

use super::*;
use crate::read::{Declared, read};

fn point() -> Point {
    Point::new()
        .with(Symbol::new("x"), 2.0)
        .with(Symbol::new("y"), -3.0)
        .with(Symbol::new("n"), 5.0)
}

/// The value of a formula at x = 2, y = -3, n = 5, in 10 significant digits.
fn check(tex: &str, expected: &str) {
    let expression = read(tex, &Declared::new()).expression;
    let found = match value(&expression, &point()) {
        Ok(value) if value.is_real() => format!("{:.9e}", value.re),
        Ok(value) => format!("{:.9e} {:+.9e}i", value.re, value.im),
        Err(error) => format!("{error:?}"),
    };
    let expected = match expected.parse::<f64>() {
        Ok(number) => format!("{number:.9e}"),
        Err(_) => expected.to_owned(),
    };
    assert_eq!(found, expected, "{tex}");
}

#[test]
fn arithmetic() {
    check("-x^2 + 3y - 1", "-14");
    check(r"2\frac13 - \frac{1}{3}", "2");
    check(r"\frac{x}{x - 2}", "Domain");
    check(r"5\% \cdot 40", "2");
    check("0^0", "1");
    check(r"2^{3^2}", "512");
    check(r"\sqrt[3]{-8}", "-2");
    check(r"(-8)^{1/3}", "-2");
    check(r"(-8)^{2/3}", "4");
    check("x z", "Symbol(z)");
    check(r"\infty", "Unsupported");
}

#[test]
fn complex_values() {
    check(r"\sqrt{-4}", "0.000000000e0 +2.000000000e0i");
    check("i^{35}", "0.000000000e0 -1.000000000e0i");
    check(
        r"(1+i)^4",
        "-4.000000000e0 +0.000000000e0i".trim_end_matches(" +0.000000000e0i"),
    );
    check(r"\frac{1+i}{1-i}", "0.000000000e0 +1.000000000e0i");
}

#[test]
fn functions() {
    // Abramowitz and Stegun, Handbook of Mathematical Functions, tables 4.6 and 4.2.
    check(r"\sin 1", "0.8414709848");
    check(r"\cos 1", "0.5403023059");
    check(r"\ln x", "0.6931471806");
    check(r"\log x", "0.3010299957");
    check(r"\log_2 8 + \lg 100", "5");
    check(r"\tan \frac{\pi}{2}", "Domain");
    check(r"\ln 0", "Domain");
    check(r"\sin 30^\circ", "0.5");
    check(r"\sin^{-1} 1", "1.5707963268");
    check(r"\cosh^2 x - \sinh^2 x", "1");
    check(r"|y| + \lfloor -2.5 \rfloor + \lceil 2.5 \rceil", "3");
    check(r"n! + \binom{n}{2} + \gcd(12, 18) + \max(x, y)", "138");
    check(
        r"\begin{vmatrix}0 & 2 & 1 \\ 3 & -1 & 1 \\ 4 & 0 & 1\end{vmatrix}",
        "6",
    );
    check(r"\|(3, 4)\|", "5");
}

#[test]
fn sums_and_cases() {
    check(r"\sum_{k=3}^{7} k^2", "135");
    check(r"\prod_{k=1}^{n} k", "120");
    check(r"\sum_{k=1}^{1000000} k", "Steps");
    check(
        r"\begin{cases} 1 & x < 0 \\ 7 & x \ge 2 \\ 0 & \text{otherwise} \end{cases}",
        "7",
    );
    check(r"\int_0^1 x\,dx", "Unsupported");
}

#[test]
fn statements() {
    let check = |tex: &str, expected: Result<bool, Undefined>| {
        let statement = read(tex, &Declared::new()).expression;
        assert_eq!(truth(&statement, &point()), expected, "{tex}");
    };
    check("y < 0 < x", Ok(true));
    check(r"x^2 = 4 \text{ and } y > 0", Ok(false));
    check(r"x \in (0, 2]", Ok(true));
    check(r"x \in (-\infty, 2)", Ok(false));
    check(r"\sqrt{2} \approx 1.414", Ok(true));
    check(r"\sqrt{2} \approx 1.42", Ok(true));
    check(r"\sqrt{2} \approx 1.43", Ok(false));
    check(r"z = 1", Err(Undefined::Symbol(Symbol::new("z"))));
}

#[test]
fn exact_values() {
    let check = |tex: &str, expected: &str| {
        let expression = read(tex, &Declared::new()).expression;
        let values = BTreeMap::from([(Symbol::new("x"), BigRational::new(2.into(), 3.into()))]);
        let found = exact(&expression, &values).map_or("none".to_owned(), |v| v.to_string());
        assert_eq!(found, expected, "{tex}");
    };
    check(r"\frac{x^2}{2} - 0.25", "-1/36");
    check(r"0.1\overline{6}", "1/6");
    check(r"2\frac13", "7/3");
    check(r"\sqrt{\frac{4}{9}} + 8^{2/3} + \sqrt[3]{-27}", "5/3");
    check(r"\sqrt{2}", "none");
    check(r"\sum_{i=1}^{15} 2(3)^i", "43046718");
    check(r"20! \cdot \binom{6}{3}", "48658040163532800000");
    check(r"2^{100000}", "none");
    check(r"(-1)^{100001}", "-1");
    check(r"\frac{1}{x - \frac23}", "none");
}
