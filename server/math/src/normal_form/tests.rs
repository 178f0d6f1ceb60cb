use super::*;
use crate::evaluate::{Point, value};
use crate::expression::Symbol;
use crate::read::{Declared, read};
use proptest::prelude::*;

fn expression(tex: &str) -> Expression {
    let reading = read(tex, &Declared::new());
    assert!(reading.is_certain(), "{tex}: {:?}", reading.diagnostics);
    reading.expression
}

/// The canonical way to write the normal form.
fn check(tex: &str) -> String {
    match normal(&expression(tex)) {
        Ok(normal) => crate::print::tex(&normal.to_expression(), &Declared::new()),
        Err(unfit) => format!("{unfit:?}"),
    }
}

fn check_equal(left: &str, right: &str) {
    let (a, b) = (normal(&expression(left)), normal(&expression(right)));
    assert_eq!(a, b, "{left} and {right}: {} {}", check(left), check(right));
}

#[test]
fn collects_polynomials() {
    check_equal("(x + 1)(x - 1)", "x^2 - 1");
    check_equal("(x + y)^3", "x^3 + 3x^2 y + 3 x y^2 + y^3");
    check_equal("2(a + b) - 2a", "2b");
    check_equal("0.25 x", r"\frac{x}{4}");
    check_equal("x - x", "0");
}

#[test]
fn reduces_fractions() {
    check_equal(r"\frac{x^2 - 9}{x - 3}", "x + 3");
    check_equal(r"\frac{1}{x - 1} + \frac{1}{x + 1}", r"\frac{2x}{x^2 - 1}");
    check_equal(r"\frac{x^2 - y^2}{x^2 + 2xy + y^2}", r"\frac{x - y}{x + y}");
    check_equal(r"\frac{1}{1 + \frac{1}{x}}", r"\frac{x}{x + 1}");
    check_equal(r"\frac{x^3 y - x y^3}{x y}", "(x + y)(x - y)");
    assert_eq!(check(r"\frac{1}{x - x}"), "Undefined");
}

#[test]
fn simplifies_roots_of_numbers() {
    check_equal(r"\sqrt{8}", r"2\sqrt{2}");
    check_equal(r"\sqrt{2} \cdot \sqrt{6}", r"2 \sqrt{3}");
    check_equal(r"\frac{1}{\sqrt{2}}", r"\frac{\sqrt{2}}{2}");
    check_equal(r"\frac{1}{1 + \sqrt{2}}", r"\sqrt{2} - 1");
    check_equal(r"27^{2/3}", "9");
    check_equal(r"\sqrt[3]{-8}", "-2");
    check_equal(r"\sqrt{-4}", "2i");
    check_equal(r"\frac{1}{i}", "-i");
    check_equal(r"(1 + i)^2", "2i");
    check_equal(r"\sqrt{\frac{3}{4}}", r"\frac{\sqrt 3}{2}");
    check_equal(r"\frac{2}{\sqrt[3]{4}}", r"\sqrt[3]{2}");
}

#[test]
fn keeps_the_sign_of_letters_open() {
    check_equal(r"\sqrt{x^2}", "|x|");
    check_equal(r"\sqrt{x^4}", "x^2");
    check_equal(r"(\sqrt{x})^2", "x");
    check_equal(r"\sqrt{x^2 + 2x + 1}", "|x + 1|");
    check_equal(r"\sqrt{4x}", r"2\sqrt{x}");
    check_equal(r"|x|^2", "x^2");
    check_equal(r"|-2x|", "2|x|");
    check_equal(r"|1 - x|", "|x - 1|");
    check_equal(r"\sqrt{x + 1} \sqrt{x + 1}", "x + 1");
    check_equal(r"(x + 1)^{3/2}", r"(x + 1)\sqrt{x + 1}");
    check_equal(r"\frac{x + 1}{\sqrt{x + 1}}", r"\sqrt{x + 1}");
    assert_ne!(check(r"\sqrt{xy}"), check(r"\sqrt{x}\sqrt{y}"));
    assert_ne!(check(r"\sqrt{x^2}"), check("x"));
}

#[test]
fn merges_exponentials() {
    check_equal(r"e^{x} e^{2x}", "e^{3x}");
    check_equal(r"\frac{1}{e^{x}}", "e^{-x}");
    check_equal(r"(e^{x})^2", "e^{2x}");
    check_equal(r"4^{x}", "2^{2x}");
    check_equal(r"2^{x + 3}", r"8 \cdot 2^{x}");
    check_equal(r"6^{x}", r"2^{x} \cdot 3^{x}");
    check_equal(r"e^{2 \ln x}", "x^2");
    check_equal(r"\exp(x)", "e^{x}");
    check_equal(r"(-1)^{n + 1}", "-(-1)^n");
    check_equal(r"(-1)^{2n}", "1");
    check_equal(r"x^{n} x", "x^{n + 1}");
    check_equal(r"\ln e^{x}", "x");
    check_equal(r"\ln 8", r"3 \ln 2");
}

#[test]
fn knows_values_of_functions() {
    check_equal(r"\sin \frac{\pi}{6}", r"\frac12");
    check_equal(r"\cos \frac{7\pi}{4}", r"\frac{\sqrt{2}}{2}");
    check_equal(r"\tan \frac{\pi}{3}", r"\sqrt{3}");
    check_equal(r"\sin(-x)", r"-\sin x");
    check_equal(r"\cos(1 - x)", r"\cos(x - 1)");
    check_equal(r"\arctan 1", r"\frac{\pi}{4}");
    check_equal(r"\arcsin \frac{\sqrt{3}}{2}", r"\frac{\pi}{3}");
    check_equal(r"\arccos(-\frac12)", r"\frac{2\pi}{3}");
    check_equal(r"\log_8 4", r"\frac23");
    check_equal("5!", "120");
    assert_eq!(check(r"\tan \frac{\pi}{2}"), "Undefined");
}

#[test]
fn laws_of_functions_are_not_part_of_it() {
    assert_ne!(check(r"\sin^2 x + \cos^2 x"), check("1"));
    assert_ne!(check(r"\ln(xy)"), check(r"\ln x + \ln y"));
    assert_ne!(check(r"\sin 2x"), check(r"2 \sin x \cos x"));
}

#[test]
fn is_written_readably() {
    assert_eq!(check("1 + x^2 - 3x"), "x^2 - 3x + 1");
    assert_eq!(check(r"\frac{x}{2} + \frac{1}{x}"), r"\frac{x^2 + 2}{2x}");
    assert_eq!(check(r"e^{2x} \cdot x \cdot e^{y}"), "x e^{2x + y}");
    assert_eq!(check(r"\frac{-3}{2x + 4}"), r"-\frac{3}{2x + 4}");
}

#[test]
fn says_what_was_done() {
    let steps = |tex: &str| normal_with_steps(&expression(tex)).expect("a number").1;
    assert!(steps("x^2 + 3x + 1").is_empty());
    assert!(steps("2x^3 - 1").is_empty());
    assert!(steps(r"\frac{1}{x}").is_empty());
    assert!(steps("(x + 1)(x + 2)").contains(Steps::EXPAND));
    assert!(steps("2(x + 1)").contains(Steps::EXPAND));
    assert!(steps("x + 2x").contains(Steps::COLLECT));
    assert!(steps(r"\frac1x + \frac{1}{x + 1}").contains(Steps::COMMON_DENOMINATOR));
    assert!(steps(r"\frac{x^2}{x}").contains(Steps::CANCEL));
    assert!(steps("x^2 x^3").contains(Steps::POWERS));
    assert!(steps(r"\sqrt{8}").contains(Steps::VALUES));
}

#[test]
fn large_input_is_refused_or_kept_whole() {
    assert_eq!(check("(a + b + c + d)^{99}"), "(a + b + c + d)^{99}");
    check_equal("2(2x + 1)^{100} - (2x + 1)^{100}", "(2x + 1)^{100}");
    let product = "(a + b + c)(d + e + f)(g + h + k)(l + m + n)(p + q + r)(s + t + u)(v + w + x)";
    assert_eq!(check(product), "TooLarge");
    assert_eq!(check(r"\begin{bmatrix} 1 & 2 \end{bmatrix}"), "NoNumber");
}

/// Formulas over the letters x and y, and the same with the operands of sums and products in
/// another order.
fn formula() -> impl Strategy<Value = (Expression, Expression)> {
    let both = |e: Expression| (e.clone(), e);
    let leaf = prop_oneof![
        Just(both(Expression::symbol("x"))),
        Just(both(Expression::symbol("y"))),
        (-4..5_i64).prop_map(move |n| both(Expression::integer(n))),
        Just(both(Expression::fraction(
            Expression::integer(2),
            Expression::integer(3)
        ))),
    ];
    leaf.prop_recursive(4, 14, 3, |inner| {
        let several = prop::collection::vec(inner.clone(), 2..4);
        let reorder = |build: fn(Vec<Expression>) -> Expression| {
            move |parts: Vec<(Expression, Expression)>| {
                let (left, mut right): (Vec<_>, Vec<_>) = parts.into_iter().unzip();
                right.reverse();
                (build(left), build(right))
            }
        };
        let unary = |build: fn(Expression) -> Expression| {
            move |(a, b): (Expression, Expression)| (build(a), build(b))
        };
        prop_oneof![
            3 => several.clone().prop_map(reorder(Expression::sum)),
            3 => several.prop_map(reorder(Expression::product)),
            2 => (inner.clone(), inner.clone()).prop_map(|((a, b), (c, d))| {
                (Expression::fraction(a, c), Expression::fraction(b, d))
            }),
            1 => inner.clone().prop_map(unary(Expression::negative)),
            1 => (inner.clone(), 2..4_i64).prop_map(|((a, b), n)| {
                let n = Expression::integer(n);
                (Expression::power(a, n.clone()), Expression::power(b, n))
            }),
            1 => inner.clone().prop_map(unary(|e| Expression::function(Function::Sin, e))),
            1 => inner.clone().prop_map(unary(|e| Expression::function(Function::Abs, e))),
            1 => inner.clone().prop_map(unary(|e| Expression::function(Function::Exp, e))),
            1 => inner.clone().prop_map(unary(Expression::root)),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(400))]

    #[test]
    fn is_blind_to_the_order_of_operands((left, right) in formula()) {
        prop_assert_eq!(normal(&left), normal(&right));
    }

    #[test]
    fn is_idempotent((formula, _) in formula()) {
        if let Ok(once) = normal(&formula) {
            prop_assert_eq!(normal(&once.to_expression()), Ok(once));
        }
    }

    #[test]
    fn keeps_the_value((formula, _) in formula(), x in 1..40_i64, y in 1..40_i64) {
        if let Ok(normal) = normal(&formula) {
            let point = Point::new()
                .with(Symbol::new("x"), x as f64 / 16.0)
                .with(Symbol::new("y"), y as f64 / 16.0);
            let (before, after) = (value(&formula, &point), value(&normal.to_expression(), &point));
            if let (Ok(before), Ok(after)) = (before, after) {
                let error = (before - after).abs();
                let size = before.abs().max(1.0);
                // Roots of negative numbers have a value that is not real; there the sign of
                // x - 1 in |x - 1| says nothing.
                let is_real = before.is_real() && after.is_real();
                prop_assert!(!is_real || error <= 1e-6 * size, "{before:?} {after:?} {normal:?}");
            }
        }
    }
}
