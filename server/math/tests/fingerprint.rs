//! Fingerprints of problems as students write them: what is the same problem in disguise, and what
//! only looks like it.

use porism_math::fingerprint::Fingerprint;
use porism_math::problem::{self, Part, Problem};
use proptest::prelude::*;

fn read(statement: &str) -> Problem {
    let pieces = statement.split('$').enumerate();
    let parts: Vec<Part<'_>> = pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect();
    problem::read(&parts)
}

fn check(statement: &str) -> Option<Fingerprint> {
    read(statement).fingerprint
}

fn pairs(table: &str) -> impl Iterator<Item = (&str, &str)> {
    table
        .lines()
        .filter(|line| !line.is_empty() && !line.starts_with('%'))
        .map(|line| line.split_once(" | ").expect("two problems on a line"))
}

#[test]
fn problems_in_disguise_are_equal() {
    let mut count = 0;
    let mut wrong = Vec::new();
    for (left, right) in pairs(include_str!("fingerprint/disguises.txt")) {
        count += 1;
        if check(left).is_none() || check(left) != check(right) {
            wrong.push(format!(
                "{left} | {right}\n  {:?}\n  {:?}",
                read(left),
                read(right)
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {count}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(count >= 60);
}

#[test]
fn near_misses_differ() {
    let mut count = 0;
    let mut wrong = Vec::new();
    for (left, right) in pairs(include_str!("fingerprint/near_misses.txt")) {
        count += 1;
        if check(left).is_none() || check(right).is_none() || check(left) == check(right) {
            wrong.push(format!(
                "{left} | {right}\n  {:?}\n  {:?}",
                read(left),
                read(right)
            ));
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {count}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(count >= 60);
}

#[test]
fn words_without_a_formula_have_no_fingerprint() {
    let statements = [
        "",
        "State the mean value theorem.",
        "A ladder of $5$ m leans against a wall, its foot $3$ m away. How high does it reach?",
        "Any $n + 1$ vectors of $\\mathbb{R}^n$ are linearly dependent.",
        "Two trains start at noon with speeds $v$ and $w$. When do they meet?",
        "Solve $\\frac{x - 1}{x$.",
    ];
    for statement in statements {
        assert_eq!(check(statement), None, "{statement}");
    }
}

/// A formula of which the numbers, the letters and the order are still open.
#[derive(Clone, Debug)]
enum Open {
    Variable,
    Parameter,
    Sum(Vec<Open>),
    Product(Vec<Open>),
    Quotient(Box<Open>, Box<Open>),
    Power(Box<Open>, i64),
    Function(&'static str, Box<Open>),
}

fn open() -> impl Strategy<Value = Open> {
    let leaf = prop_oneof![4 => Just(Open::Variable), 1 => Just(Open::Parameter)];
    leaf.prop_recursive(4, 16, 3, |inner| {
        let function = prop::sample::select(vec![r"\sin", r"\cos", r"\ln", r"\sqrt", r"\tan"]);
        prop_oneof![
            prop::collection::vec(inner.clone(), 2..4).prop_map(Open::Sum),
            prop::collection::vec(inner.clone(), 2..4).prop_map(Open::Product),
            (inner.clone(), inner.clone())
                .prop_map(|(a, b)| Open::Quotient(Box::new(a), Box::new(b))),
            (inner.clone(), 2..4_i64).prop_map(|(a, n)| Open::Power(Box::new(a), n)),
            (function, inner).prop_map(|(f, a)| Open::Function(f, Box::new(a))),
        ]
    })
}

/// One way to write an open formula: other seeds give other numbers and another order.
struct Writer {
    state: u64,
    variable: &'static str,
    parameter: &'static str,
}

impl Writer {
    fn random(&mut self, below: u64) -> u64 {
        self.state = self
            .state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1);
        (self.state >> 33) % below
    }

    /// A number other than 0 and 1: whole or not, above or below 0.
    fn number(&mut self) -> String {
        let whole = self.random(9) + 2;
        match self.random(6) {
            0 => format!("(-{whole})"),
            1 => format!("{whole}.5"),
            2 => format!("(-0.{whole})"),
            3 => format!(r"\frac{{{whole}}}{{13}}"),
            4 => format!(r"\left(-\frac{{1}}{{{whole}}}\right)"),
            _ => whole.to_string(),
        }
    }

    fn shuffled<'o>(&mut self, items: &'o [Open]) -> Vec<&'o Open> {
        let mut items: Vec<&Open> = items.iter().collect();
        for last in (1..items.len()).rev() {
            let other = self.random(last as u64 + 1) as usize;
            items.swap(last, other);
        }
        items
    }

    fn write(&mut self, open: &Open) -> String {
        match open {
            Open::Variable => self.variable.to_owned(),
            Open::Parameter => self.parameter.to_owned(),
            Open::Sum(terms) => {
                let mut sum = String::new();
                for term in self.shuffled(terms) {
                    // A coefficient of 1 is a coefficient; but before a sum any other one would have
                    // to be multiplied out.
                    let number = match self.random(9) {
                        0 => String::new(),
                        _ if matches!(term, Open::Sum(_)) => String::new(),
                        _ => self.number(),
                    };
                    let term = self.write(term);
                    sum += &format!("+ {number}({term})");
                }
                sum[1..].to_owned()
            }
            Open::Product(factors) => {
                let number = self.number();
                let factors = self.shuffled(factors);
                let factors: Vec<String> = factors
                    .into_iter()
                    .map(|f| format!("({})", self.write(f)))
                    .collect();
                match self.random(2) {
                    0 => format!("{number} {}", factors.join(r" \cdot ")),
                    _ => format!("{} {number}", factors.join("")),
                }
            }
            Open::Quotient(above, below) => {
                let (above, below) = (self.write(above), self.write(below));
                match self.random(2) {
                    0 => format!(r"\frac{{{above}}}{{{below}}}"),
                    _ => format!("({above})/({below})"),
                }
            }
            Open::Power(base, exponent) => format!("({})^{{{exponent}}}", self.write(base)),
            Open::Function(r"\sqrt", argument) => match self.random(2) {
                0 => format!(r"\sqrt{{{}}}", self.write(argument)),
                _ => format!("({})^{{1/2}}", self.write(argument)),
            },
            Open::Function(function, argument) => {
                format!(r"{function}\left({}\right)", self.write(argument))
            }
        }
    }
}

/// The derivative of an open formula, written with the letters and numbers of a seed; none if it
/// does not contain its variable.
fn derivative(open: &Open, seed: u64) -> Option<String> {
    let (variable, parameter) = match seed % 3 {
        0 => ("x", "a"),
        1 => ("t", "c"),
        _ => ("s", "b"),
    };
    let mut writer = Writer {
        state: seed,
        variable,
        parameter,
    };
    let body = writer.write(open);
    let varies = has_variable(open);
    varies.then(|| format!(r"Find $\frac{{d}}{{d{variable}}} \left[{body}\right]$."))
}

fn has_variable(open: &Open) -> bool {
    match open {
        Open::Variable => true,
        Open::Parameter => false,
        Open::Sum(items) | Open::Product(items) => items.iter().any(has_variable),
        Open::Quotient(a, b) => has_variable(a) || has_variable(b),
        Open::Power(a, _) | Open::Function(_, a) => has_variable(a),
    }
}

/// A quadratic with this leading coefficient and these roots over one denominator.
fn quadratic(leading: i64, roots: (i64, i64), letter: &str) -> String {
    let (a, b) = (-leading * (roots.0 + roots.1), leading * roots.0 * roots.1);
    format!("{leading}{letter}^2 + ({a}){letter} + ({b}) = 0")
}

/// Problems with gaps for numbers: `N` for any number other than 0 and 1, `P` for one above 0. What
/// stands in the gaps decides nothing here.
const NUMBERED: [&str; 34] = [
    "Solve $N x + N = N$.",
    "Solve $N(x + N) - N x = N$.",
    r"Solve $\frac{x}{P} + \frac{x}{N} = N$.",
    "Solve $P x + N < N$.",
    "Solve $N < P x + N \\le 99$.",
    "Solve $|N x + N| = P$.",
    "Solve $|N x + N| < P$.",
    r"Solve $\ln(N x + N) = N$.",
    r"Solve $\sqrt{N x + N} = P$.",
    r"Solve $P e^{N x} = P$.",
    r"Solve for $h$: $V = N \pi r^2 h$.",
    "Expand $(N x + N)(N x + N)$.",
    "Expand $(N x + N)^3$.",
    r"Write as one logarithm: $\ln x + P \ln y$.",
    r"Find the derivative of $f(x) = N x^3 + N \sin(N x)$.",
    r"Differentiate $\frac{N x + N}{N x^2 + N}$.",
    r"Differentiate $N e^{N x} \cos(N x)$.",
    r"Find $\frac{dy}{dx}$ if $N x^2 + N x y = N y^3$.",
    r"Evaluate $\int N e^{N x}\,dx$.",
    r"Evaluate $\int N x \sin(N x)\,dx$.",
    r"Evaluate $\int (N x^3 + N x + N)\,dx$.",
    r"Evaluate $\int N \cos(N x)\,dx$.",
    r"Evaluate $\lim_{x \to 0} \frac{\sin(N x)}{N x}$.",
    r"Evaluate $\lim_{x \to \infty} \frac{P x^2 + N x}{P x^2 + N}$.",
    r"Solve $y' = N x + N$.",
    r"Solve $y' + N y = N x$.",
    r"Solve $y' = N x y$.",
    r"Solve $y'' + P y = 0$.",
    r"Solve $y' = N y$, $y(0) = N$.",
    r"Does $\sum_{n=1}^{\infty} \frac{N}{n^2 + P}$ converge?",
    r"Find the determinant of $\begin{bmatrix} N & N \\ N & N \end{bmatrix}$.",
    r"Multiply $\begin{bmatrix} N & N \\ N & N \end{bmatrix} \begin{bmatrix} N & N \\ N & N \end{bmatrix}$.",
    r"Find the tangent line to $y = N x^3 + N x$ at $x = N$.",
    r"Find the partial derivatives of $f(x, y) = N x^2 y + N y$.",
];

/// A problem with numbers in its gaps, other ones for each seed.
fn numbered(problem: &str, seed: u64) -> String {
    let mut writer = Writer {
        state: seed.wrapping_add(1).wrapping_mul(0x9e37_79b9_7f4a_7c15),
        variable: "x",
        parameter: "a",
    };
    let mut text = String::new();
    let mut characters = problem.chars().peekable();
    let mut before = ' ';
    while let Some(c) = characters.next() {
        let is_gap = !before.is_alphabetic()
            && before != '\\'
            && characters.peek().is_none_or(|next| !next.is_alphabetic());
        match c {
            'N' if is_gap => text += &writer.number(),
            'P' if is_gap => text += &(writer.random(40) + 2).to_string(),
            _ => text.push(c),
        }
        before = c;
    }
    text
}

/// Numbers that are calculated with, in each order, and with signs and brackets as people write them.
#[test]
fn arithmetic_is_the_same_in_any_order() {
    let same: [&[&str]; 7] = [
        &[
            r"-0.5 \cdot -12",
            r"-12 \cdot -0.5",
            r"(-7)(-2.5)",
            r"-3.5 \times (-9)",
        ],
        &[
            r"-0.5 \cdot 12",
            r"-12 \cdot 0.5",
            r"7 \cdot (-2.5)",
            r"-(3.5 \cdot 9)",
        ],
        &["17 + 25", "25 + 17", "36 + 48"],
        &["17 - 25", "-25 + 17", "48 - 36"],
        &["-17 - 25", "-25 - 17", "-48 + (-36)"],
        &[r"7 - \frac{3}{4}", r"\frac{-3}{4} + 9", r"2 + \frac{5}{-6}"],
        &[
            r"\frac{2}{3} \cdot \left(-\frac{5}{7}\right)",
            r"-\frac{4}{5} \cdot \frac{6}{11}",
        ],
    ];
    let prints: Vec<Option<Fingerprint>> = same
        .iter()
        .map(|group| {
            let first = check(&format!("Calculate ${}$.", group[0]));
            for other in *group {
                assert_eq!(check(&format!("Calculate ${other}$.")), first, "{other}");
            }
            first
        })
        .collect();
    for (place, print) in prints.iter().enumerate() {
        assert!(
            print.is_some() && !prints[..place].contains(print),
            "{:?}",
            same[place]
        );
    }
}

proptest! {
    #[test]
    fn numbers_are_seen_through(problem in prop::sample::select(&NUMBERED[..]), left in 0..10_000_u64, right in 0..10_000_u64) {
        let (left, right) = (numbered(problem, left), numbered(problem, right));
        prop_assert!(check(&left).is_some(), "{}", left);
        prop_assert_eq!(check(&left), check(&right), "{} | {}", left, right);
    }

    #[test]
    fn a_derivative_is_seen_through(open in open(), left in 0..1_000_u64, right in 0..1_000_u64) {
        let (left, right) = (derivative(&open, left), derivative(&open, right));
        if let (Some(left), Some(right)) = (left, right) {
            prop_assert!(check(&left).is_some(), "{left}");
            prop_assert_eq!(check(&left), check(&right), "{} {}", left, right);
        }
    }

    #[test]
    fn quadratics_are_alike_if_their_roots_are(
        leading in 1..5_i64,
        roots in (1..9_i64, -9..-1_i64),
        other in (10..19_i64, 1..9_i64),
    ) {
        let simple = check("Solve $x^2 - 5x + 6 = 0$.");
        let left = check(&format!("Solve ${}$.", quadratic(leading, (roots.0, 10 + other.1), "x")));
        let right = check(&format!("Solve ${}$.", quadratic(-leading, other, "y")));
        prop_assert_eq!(left, right);
        prop_assert_eq!(left, simple);
        let double = check(&format!("Solve ${}$.", quadratic(leading, (roots.0, roots.0), "x")));
        prop_assert_ne!(double, simple);
        prop_assert_eq!(double, check(&format!("Solve ${}$.", quadratic(1, (other.0, other.0), "z"))));
        // x^2 + p x + q with p^2 < 4 q.
        let complex = |p: i64, q: i64| check(&format!("Solve $x^2 + {p}x + {} = 0$.", p * p + q));
        prop_assert_eq!(complex(roots.0, other.0), complex(other.1, leading));
        prop_assert_ne!(complex(roots.0, other.0), simple);
    }

    #[test]
    fn no_statement_is_a_trap(statement in r"[ a-z$^{}()+=\\xy0-9',|]{0,60}") {
        let _ = check(&statement);
    }
}
