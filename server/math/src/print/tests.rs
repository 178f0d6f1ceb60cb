//! Formulas in, text out.

use super::{plain, readable, tex};
use crate::expression::Expression;
use crate::read::{Declared, read};

/// What is read from the formula, as plain text.
#[track_caller]
fn check_plain(formula: &str, text: &str) {
    assert_eq!(
        plain(&read(formula, &Declared::new()).expression),
        text,
        "{formula}"
    );
}

/// What is read from the formula, as TeX; this reads back.
#[track_caller]
fn check_tex(formula: &str, printed: &str) {
    let expression = read(formula, &Declared::new()).expression;
    assert_eq!(tex(&expression, &Declared::new()), printed, "{formula}");
    assert_eq!(
        read(printed, &Declared::new()).expression,
        expression,
        "{formula}"
    );
}

#[test]
fn plain_text_of_arithmetic_and_algebra() {
    check_plain(r"-3x^2+\frac12x-0.50", "−3x² + 1/2·x − 0.50");
    check_plain(r"\frac{x+1}{2(x-1)}", "(x + 1)/(2(x − 1))");
    check_plain(
        r"\sqrt{x^2+1} + \sqrt[3]{y} + \sqrt[n]{2}",
        "√(x² + 1) + ∛y + ⁿ√2",
    );
    check_plain(r"x^{n+1}y^{-2}", "x^(n + 1)·y⁻²");
    check_plain(
        r"x = \frac{-b \pm \sqrt{b^2-4ac}}{2a}",
        "x = (−b ± √(b² − 4ac))/(2a)",
    );
    check_plain(r"2\frac13 + 5\% + 45^\circ", "2 1/3 + 5% + 45°");
    check_plain(r"x_1 + a_{n+1} + v_{\text{max}}", "x₁ + aₙ₊₁ + v_max");
    check_plain(r"|x-1| \le 3", "|x − 1| ≤ 3");
    check_plain(r"0.1\overline{6}", "0.1(6)…");
}

#[test]
fn plain_text_of_functions_and_calculus() {
    check_plain(r"\sin^2 2x \cos x", "sin²(2x)·cos(x)");
    check_plain(r"\int x \sin x \, dx", "∫ x·sin(x) dx");
    check_plain(r"\int_0^1 x^2 dx", "∫₀¹ x² dx");
    check_plain(r"\int_0^\pi x\,dx", "∫[0..π] x dx");
    check_plain(r"y'' - 8y' + 16y = 0", "y″ − 8y′ + 16y = 0");
    check_plain(r"y^{(4)} + f^{(n)}(0)", "y⁽⁴⁾ + f^(n)(0)");
    check_plain(
        r"\frac{d^2y}{dx^2} = \frac{\partial u}{\partial t}",
        "d²y/dx² = ∂u/∂t",
    );
    check_plain(r"\lim_{x \to 0^+} \frac{\sin x}{x}", "lim[x→0⁺] sin(x)/x");
    check_plain(r"\sum_{n=1}^\infty \frac{1}{n^2}", "∑[n = 1..∞] 1/n²");
    check_plain(r"\left[x^2\right]_0^1", "[x²]₀¹");
    check_plain(r"\log_2 x + \ln|x|", "log₂(x) + ln(|x|)");
}

#[test]
fn plain_text_of_statements_and_collections() {
    check_plain(
        r"\begin{bmatrix} 1 & a+b \\ -3 & \frac12 \end{bmatrix}",
        "[1, a + b; −3, 1/2]",
    );
    check_plain(
        r"\begin{vmatrix} a & b \\ c & d \end{vmatrix}",
        "|a, b; c, d|",
    );
    check_plain(
        r"\begin{cases} x + y = 3 \\ x - y = 1 \end{cases}",
        "{ x + y = 3; x − y = 1 }",
    );
    check_plain(
        r"f(x) = \begin{cases} x & x > 0 \\ 0 & \text{otherwise} \end{cases}",
        "f(x) = { x if x > 0; 0 otherwise }",
    );
    check_plain(r"(-\infty, -3) \cup [1, \infty)", "(−∞, −3) ∪ [1, ∞)");
    check_plain(r"x = 1 \text{ or } x \in \mathbb{Z}", "x = 1 or x ∈ ℤ");
    check_plain(
        r"a \equiv b \pmod n \implies n \mid a - b",
        "a ≡ b (mod n) ⇒ n ∣ a − b",
    );
}

#[test]
fn readable_text_never_gives_up() {
    assert_eq!(readable(""), "□");
    assert_eq!(readable("{}"), "□");
    assert_eq!(readable(r"\frac{1}{2"), "1/2");
    assert_eq!(readable(r"x + \mystery{a}{b}"), "x + mystery a b");
    assert_eq!(readable(r"\text{no solution}"), "no solution");
    assert_eq!(readable("%"), "□");
}

#[test]
fn printed_tex_is_as_a_person_writes() {
    check_tex(r"2 \cdot x\cdot y", "2x y");
    check_tex(r"\sin(x)\cos(x)", r"\sin x\cos x");
    check_tex(r"\sin(2x)\cdot y", r"\sin(2x)y");
    check_tex(r"\frac{d}{dx}(x^2)", r"\frac{d}{dx}\left[x^2\right]");
    check_tex("x(x+1)", "x(x + 1)");
    check_tex("√2 × π", r"\sqrt{2}\pi");
    check_tex(r"x\cdot(y)", "x y");
}

#[test]
fn printed_tex_keeps_what_a_prettier_form_would_change() {
    // Without a sign between them these would be a call, a mixed number, a differential.
    check_tex(r"f \cdot (x+1)", r"f \cdot (x + 1)");
    check_tex(r"2 \cdot \frac{1}{3}", r"2 \cdot \frac{1}{3}");
    check_tex(r"d \cdot x", r"d \cdot x");
    check_tex(r"(\lim_{x \to 0} x) + x", r"(\lim_{x \to 0} x) + x");
    check_tex(r"x \cdot 2", r"x \cdot 2");
}

#[test]
fn numbers_that_were_computed_print_as_fractions() {
    let third = num_rational::BigRational::new((-1).into(), 3.into());
    let expression = Expression::rational(&third);
    assert_eq!(plain(&expression), "−1/3");
    assert_eq!(tex(&expression, &Declared::new()), r"-\frac{1}{3}");
}
