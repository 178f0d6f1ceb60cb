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
                        number => (number + 1).to_string(),
                    };
                    let term = self.write(term);
                    sum += &format!("+ {number}({term})");
                }
                sum[1..].to_owned()
            }
            Open::Product(factors) => {
                let number = self.random(9) + 2;
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

proptest! {
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
