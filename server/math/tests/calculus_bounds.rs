//! Does every problem of calculus end, without a panic and in a bounded number of steps?

use porism_math::problem::Part;
use porism_math::verdict::{Verdict, verify};
use proptest::prelude::*;

/// Pieces from which problems and answers are put together at random.
const PIECES: [&str; 58] = [
    "x",
    "y",
    "n",
    "t",
    "C",
    "2",
    "0",
    "-",
    "+",
    "=",
    "(",
    ")",
    "{",
    "}",
    "^",
    "_",
    r"\frac",
    r"\int",
    r"\int_0^1",
    r"\int_0^\infty",
    r"\lim_{x\to 0}",
    r"\lim_{n\to\infty}",
    r"\sum_{n=1}^\infty",
    r"\sum_{k=1}^{9}",
    r"\sin",
    r"\ln",
    "e^",
    "y'",
    "y''",
    r"\frac{dy}{dx}",
    "dx",
    "dy",
    r"\,dx",
    "!",
    "|",
    ",",
    r"\infty",
    r"\pi",
    r"\sqrt",
    r"\sqrt[n]",
    r"\pm",
    r"\cdots",
    "f(x)",
    "f'(2)",
    "y(0)",
    "^{99}",
    r"\text{diverges}",
    r"\text{DNE}",
    r"\left(",
    r"\right)",
    "[",
    "]",
    "<",
    r"\mathcal{L}",
    r"\langle",
    r"\rangle",
    r"\begin{cases}",
    r"\lfloor",
];

const PROMPTS: [&str; 22] = [
    "Find the derivative.",
    "Find the second derivative.",
    "Find dy/dx by implicit differentiation.",
    "Find the tangent line at $x = 1$.",
    "Find the gradient.",
    "Evaluate the integral.",
    "Find the general antiderivative.",
    "Evaluate the limit, or say that it does not exist.",
    "Find the limit of the sequence.",
    "Find the sum of the series.",
    "Determine whether the series converges.",
    "Find the interval of convergence.",
    "Find the Taylor polynomial of degree 3 at $a = 1$.",
    "Find the general solution.",
    "Solve the initial value problem.",
    "Find the Laplace transform.",
    "Find the inverse Laplace transform.",
    "Find the area of the region bounded by the curves.",
    "Find the critical numbers.",
    "Find the intervals where it is increasing.",
    "Find the volume of the solid about the x-axis.",
    "",
];

fn prose(text: &str) -> Vec<Part<'_>> {
    let pieces = text.split('$').enumerate();
    let parts = pieces.map(|(place, piece)| match place % 2 {
        0 => Part::Words(piece),
        _ => Part::Tex(piece),
    });
    parts.collect()
}

fn check(prompt: &str, tex: &str, answer: &str) -> Verdict {
    let mut statement = prose(prompt);
    statement.push(Part::Tex(tex));
    verify(&statement, &[Part::Tex(answer)])
}

fn formula() -> impl Strategy<Value = String> {
    prop::collection::vec(prop::sample::select(&PIECES[..]), 0..14).prop_map(|all| all.join(" "))
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 600, ..ProptestConfig::default() })]

    #[test]
    fn any_text_gets_a_verdict(
        prompt in prop::sample::select(&PROMPTS[..]),
        tex in formula(),
        answer in formula(),
    ) {
        let once = check(prompt, &tex, &answer);
        prop_assert_eq!(once, check(prompt, &tex, &answer));
    }
}

#[test]
fn what_is_too_large_is_said_to_be() {
    let tower = format!("{}x{}", "e^{".repeat(60), "}".repeat(60));
    let nested = format!("{}x{}", r"\int_0^1 ".repeat(9), r"\,dx".repeat(9));
    for (prompt, tex, answer) in [
        ("Find the derivative.", tower.as_str(), "1"),
        ("Evaluate the integral.", nested.as_str(), "1"),
        (
            "Find the sum.",
            r"\sum_{k=1}^{100000} \sum_{j=1}^{100000} kj",
            "1",
        ),
        (
            "Find the sum of the series.",
            r"\sum_{n=1}^\infty \sum_{m=1}^\infty \frac{1}{n^2 m^2}",
            "1",
        ),
        (
            "Evaluate the limit.",
            r"\lim_{n\to\infty} \frac{(n!)!}{n^{n^n}}",
            "1",
        ),
        (
            "Find the derivative.",
            r"\frac{d^{500}}{dx^{500}} \sin x",
            r"\sin x",
        ),
        ("Find the sum.", r"\sum_{k=1}^{99999999999} k!", "1"),
    ] {
        let verdict = check(prompt, tex, answer);
        assert!(
            matches!(verdict, Verdict::CannotTell { .. }),
            "{tex}: {verdict:?}"
        );
    }
}
