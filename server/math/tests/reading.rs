//! Laws of reading and printing, on random text and on formulas with random faults.

use std::ops::Range;

use porism_math::print::{plain, readable, tex};
use porism_math::read::{Class, Declared, MAX_NESTING, Reading, read};
use proptest::prelude::*;

/// Formulas of every kind that the reader knows; each reads without a diagnostic.
const FORMULAS: &[&str] = &[
    r"-3x^2 + \frac{1}{2}y - 0.25",
    r"\sin^2 2x\cos x + \ln|x| - \log_2(x+1)",
    r"y'' - 8y' + 16y = 0, \quad y(0) = 1, \quad y'(0) = 10",
    r"\frac{d^2y}{dx^2} + 3\frac{dy}{dx} = e^{-x}",
    r"\frac{\partial^2 u}{\partial x\,\partial t} = u_{xx}",
    r"\int_0^{\pi} x\sin x\,dx = \left[F(x)\right]_0^{\pi}",
    r"\oint_C P\,dx + Q\,dy",
    r"\lim_{x \to 0^+} \frac{\sin x}{x}",
    r"\sum_{n=1}^{\infty} \frac{(-1)^{n}}{n^2}",
    r"\begin{bmatrix} 1 & -2 \\ a & \frac{b}{3} \end{bmatrix}^{-1}",
    r"\begin{cases} x + y = 3 \\ x - y = 1 \end{cases}",
    r"|x| = \begin{cases} x & x \ge 0 \\ -x & \text{otherwise} \end{cases}",
    r"\begin{aligned} a &= b + c \\ &= d \end{aligned}",
    r"\{x \in \mathbb{R} \mid x^2 < 2\} \cup [3, \infty)",
    r"\forall \epsilon > 0,\ \exists \delta > 0,\ |x - a| < \delta \implies |f(x) - L| < \epsilon",
    r"\mathbf{u} \times \mathbf{v} = \langle 1, 2, 3 \rangle",
    r"x = \frac{-b \pm \sqrt{b^2 - 4ac}}{2a} \text{ or } x = \sqrt[3]{2}",
    r"\mathcal{L}^{-1}\left\{\frac{1}{s^2 + 1}\right\}",
    r"\operatorname{proj}_{(1,2,3)}(3,2,1)",
    r"45^{\circ} + 5\% + 1{,}000 + 0.\overline{3}",
    r"a \equiv b \pmod{n}, \binom{n}{k} = \frac{n!}{k!(n-k)!}",
    "∫₀¹ x² dx ≤ √2 × π",
];

/// Marks with a meaning, for random formulas that are nearly right.
const MARKS: &[&str] = &[
    "x",
    "y",
    "f",
    "d",
    "e",
    "i",
    "2",
    "10",
    "0",
    ".",
    ",",
    "+",
    "-",
    "=",
    "<",
    "/",
    "^",
    "_",
    "'",
    "!",
    "(",
    ")",
    "[",
    "]",
    "{",
    "}",
    "|",
    "&",
    r"\\",
    r"\{",
    r"\}",
    r"\|",
    r"\left",
    r"\right",
    r"\left(",
    r"\right)",
    r"\frac",
    r"\sqrt",
    r"\sin",
    r"\ln",
    r"\log_2",
    r"\int",
    r"\sum",
    r"\lim",
    r"\lim_{x\to 0}",
    r"\sum_{k=1}^{n}",
    r"\,dx",
    r"\cdot",
    r"\times",
    r"\pm",
    r"\le",
    r"\in",
    r"\cup",
    r"\mid",
    r"\to",
    r"\infty",
    r"\pi",
    r"\alpha",
    r"\mathbf",
    r"\mathbb{R}",
    r"\vec",
    r"\bar",
    r"\overline",
    r"\dot",
    r"\text{ or }",
    r"\text{if }",
    r"\text{",
    r"\quad",
    r"\begin{cases}",
    r"\end{cases}",
    r"\begin{bmatrix}",
    r"\end{bmatrix}",
    r"\begin{aligned}",
    r"\end{aligned}",
    r"\begin{array}{cc|c}",
    r"\end{array}",
    r"\frac{d}{dx}",
    r"\partial",
    r"\nabla",
    r"\circ",
    r"\forall",
    r"\implies",
    r"\neg",
    r"\binom",
    r"\operatorname{tr}",
    r"\over",
    r"\unknown",
    r"\big|",
    "²",
    "√",
    "½",
    "≤",
    "″",
    "\u{301}",
    "\u{0}",
    "%",
    "$",
    "~",
    r"\pmod",
    r"\bmod",
    r"\substack",
    r"\underset",
    r"\underbrace",
    r"\begin{",
    r"\not",
    ":",
];

/// What holds of every reading.
fn check(text: &str) -> Reading {
    let reading = read(text, &Declared::new());
    let is_inside = |range: &Range<usize>| {
        range.start <= range.end
            && range.end <= text.len()
            && text.is_char_boundary(range.start)
            && text.is_char_boundary(range.end)
    };
    for diagnostic in &reading.diagnostics {
        assert!(is_inside(&diagnostic.range), "{diagnostic:?} in {text:?}");
        assert!(!diagnostic.message.is_empty());
    }
    for part in reading.expression.parts() {
        assert!(
            is_inside(&part.range()),
            "{:?} of {part:?} in {text:?}",
            part.range()
        );
    }
    // Whatever could not be read has been said.
    if reading.expression.has_gap()
        && ![r"\square", r"\_", "?", "□"]
            .iter()
            .any(|blank| text.contains(blank))
    {
        let blank_cell = text.contains("begin");
        assert!(
            blank_cell || !reading.is_certain(),
            "{:?} in {text:?}",
            reading.expression
        );
    }
    assert!(!readable(text).is_empty());
    assert_eq!(read(text, &Declared::new()).expression, reading.expression);
    reading
}

/// What was read without doubt reads back from print as the same expression.
fn check_round_trip(text: &str) {
    let reading = check(text);
    let printed = tex(&reading.expression, &Declared::new());
    assert!(!plain(&reading.expression).is_empty(), "{text:?}");
    if reading.is_certain() {
        let again = read(&printed, &Declared::new());
        assert_eq!(
            again.expression, reading.expression,
            "{text:?} printed as {printed:?}"
        );
    }
}

#[test]
fn formulas_read_without_doubt_and_round_trip() {
    for formula in FORMULAS {
        let reading = check(formula);
        assert!(reading.is_certain(), "{formula}: {:?}", reading.diagnostics);
        check_round_trip(formula);
    }
}

#[test]
fn a_brace_that_opens_before_a_prime_and_is_not_closed_is_read() {
    check("x^{'");
    check("x^{\\prime + 1");
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(500))]

    #[test]
    fn any_text_is_read(text in any::<String>()) {
        check(&text);
    }

    #[test]
    fn any_marks_are_read(
        marks in prop::collection::vec(prop::sample::select(MARKS), 0..24),
        spaced in any::<bool>(),
    ) {
        check(&marks.join(if spaced { " " } else { "" }));
    }

    #[test]
    fn formulas_with_a_fault_are_read(
        formula in prop::sample::select(FORMULAS),
        from in any::<prop::sample::Index>(),
        length in 0_usize..6,
        mark in prop::sample::select(MARKS),
    ) {
        let mut characters: Vec<char> = formula.chars().collect();
        let from = from.index(characters.len());
        let to = (from + length).min(characters.len());
        characters.splice(from..to, mark.chars());
        check(&characters.into_iter().collect::<String>());
    }
}

/// Random formulas of the language of school algebra and calculus.
fn formula() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        prop::sample::select(vec![
            "x", "y", "a", "n", "t", r"\theta", r"\pi", "e", "C_1", "a_n"
        ])
        .prop_map(str::to_owned),
        (0_u32..200).prop_map(|number| number.to_string()),
        Just("0.25".to_owned()),
        Just(r"\infty".to_owned()),
    ];
    leaf.prop_recursive(5, 40, 3, |inner| {
        prop_oneof![
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a}) + ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("{a} - ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!(r"({a}) \cdot ({b})")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!(r"\frac{{{a}}}{{{b}}}")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!("({a})^{{{b}}}")),
            inner.clone().prop_map(|a| format!("-({a})")),
            inner.clone().prop_map(|a| format!(r"\sqrt{{{a}}}")),
            inner.clone().prop_map(|a| format!(r"\sin({a})")),
            inner.clone().prop_map(|a| format!(r"\ln^2({a})")),
            inner.clone().prop_map(|a| format!(r"\left|{a}\right|")),
            inner.clone().prop_map(|a| format!("f({a})")),
            inner.clone().prop_map(|a| format!("g'({a})")),
            inner.clone().prop_map(|a| format!(r"\int ({a})\,dx")),
            (inner.clone(), inner.clone())
                .prop_map(|(a, b)| format!(r"\int_{{{a}}}^{{{b}}} x^2\,dx")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!(r"\lim_{{x \to {a}}} ({b})")),
            (inner.clone(), inner.clone())
                .prop_map(|(a, b)| format!(r"\sum_{{k=1}}^{{{a}}} ({b})")),
            (inner.clone(), inner.clone())
                .prop_map(|(a, b)| format!(r"\begin{{bmatrix}} {a} & {b} \end{{bmatrix}}")),
            (inner.clone(), inner.clone()).prop_map(|(a, b)| format!(r"\binom{{{a}}}{{{b}}}")),
            inner.clone().prop_map(|a| format!("({a})!")),
            inner.prop_map(|a| format!(r"\frac{{d}}{{dx}}[{a}]")),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn print_reads_back(left in formula(), right in formula()) {
        check_round_trip(&left);
        check_round_trip(&format!("{left} = {right}"));
        check_round_trip(&format!(r"{left} < 1, {right} \ge 2"));
    }
}

/// The message about a limit, and the class.
fn limit_message(text: &str) -> (Class, String) {
    let reading = check(text);
    let diagnostic = reading
        .diagnostics
        .iter()
        .find(|d| d.class == Class::Unsupported)
        .expect("a limit is passed");
    (diagnostic.class, diagnostic.message.clone())
}

#[test]
fn nesting_is_read_to_the_limit_and_no_further() {
    let nested = |open: &str, inside: &str, close: &str, depth: usize| {
        format!("{}{inside}{}", open.repeat(depth), close.repeat(depth))
    };
    for (open, close) in [
        ("(", ")"),
        ("{", "}"),
        (r"\frac{1}{", "}"),
        (r"\sqrt{", "}"),
        ("x^{", "}"),
        (r"\sin(", ")"),
        (r"\left(1+", r"\right)"),
        (r"\left|1 - ", r"\right|"),
        ("f(", ")"),
        ("a_{", "}"),
    ] {
        let count = open.matches(['(', '{', '|']).count().max(1);
        let fits = nested(open, "x", close, (MAX_NESTING - 2) / count / 2);
        assert!(check(&fits).is_certain(), "{open}");
        let (_, message) = limit_message(&nested(open, "x", close, 2 * MAX_NESTING));
        assert!(message.contains("200"), "{message}");
        // And far beyond, in an unbalanced text.
        check(&open.repeat(10_000));
    }
    for run in [
        r"\sin ",
        r"\sqrt ",
        "-",
        r"\neg ",
        r"\forall x ",
        "'",
        "!",
        "^",
        "_",
        "/",
        r"\lim_{x\to 0} ",
    ] {
        check(&format!("x{}", run.repeat(5_000)));
        check(&run.repeat(5_000));
    }
}

#[test]
fn a_chain_of_divisions_is_no_deeper_than_the_limit() {
    let (_, message) = limit_message(&vec!["a"; 3_000].join("/"));
    assert!(message.contains("500 levels"), "{message}");
}

#[test]
fn long_formulas_are_read_whole() {
    let sum = vec!["x^2"; 10_000].join(" + ");
    assert_eq!(check(&sum).expression.operands().len(), 10_000);
    let product = vec!["x"; 10_000].join(" ");
    assert_eq!(check(&product).expression.operands().len(), 10_000);
    let list = (0..10_000)
        .map(|n| n.to_string())
        .collect::<Vec<_>>()
        .join(", ");
    assert_eq!(check(&list).expression.operands().len(), 10_000);
    let matrix = format!(
        r"\begin{{bmatrix}} {} \end{{bmatrix}}",
        vec!["1 & 2"; 5_000].join(r" \\ ")
    );
    assert_eq!(check(&matrix).expression.operands().len(), 10_000);
}

#[test]
fn too_long_a_formula_is_kept_and_said() {
    let (_, message) = limit_message(&"x".repeat(200_000));
    assert!(message.contains("131072"), "{message}");
}

/// Repeats that make a careless reader quadratic.
#[test]
fn long_texts_of_one_mark_are_read() {
    for mark in MARKS {
        let text = mark.repeat(10_000 / mark.len());
        assert!(
            read(&text, &Declared::new()).expression.size() > 0,
            "{mark}"
        );
    }
    for mark in ["x", "(", "|", "{", "_", r"\cdot", r"x\,"] {
        let text = mark.repeat(100_000 / mark.len());
        assert!(
            read(&text, &Declared::new()).expression.size() > 0,
            "{mark}"
        );
    }
}
