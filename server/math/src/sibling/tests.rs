//! Siblings of problems.

use super::*;
use crate::normal_form::normal;
use crate::views;

/// The statement with formulas between dollar signs, as parts.
fn parts(statement: &str) -> Vec<Part<'_>> {
    let pieces = statement.split('$').enumerate();
    pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .filter(|part| !matches!(part, Part::Words("")))
        .collect()
}

/// Every sibling is verified, of the original's kind, and different from it and from the others.
fn check(statement: &str, count: usize) {
    let original = parts(statement);
    let given = siblings(&original, 1, count);
    assert_eq!(
        (given.found.len(), &given.reason),
        (count, &None),
        "{statement}"
    );
    assert_eq!(siblings(&original, 1, count), given, "the seed decides");
    let problem = problem::read(&original);
    let fingerprint = problem.fingerprint;
    let kind = Kind::of(&problem);
    let keys = solve::solve(&problem).expect("a key of the original");
    let outlines: Vec<String> = keys
        .iter()
        .map(|key| kind::outline(key, problem.task))
        .collect();
    let mut seen = vec![statement.to_owned()];
    for sibling in &given.found {
        let parts: Vec<Part<'_>> = sibling.statement.iter().map(Piece::as_part).collect();
        let key: Vec<Part<'_>> = sibling.answer.iter().map(Piece::as_part).collect();
        let text = text(&sibling.statement);
        let problem = problem::read(&parts);
        assert_eq!(problem.fingerprint, fingerprint, "{text}");
        assert_eq!(Kind::of(&problem), kind, "{text}");
        let keys = solve::solve(&problem).expect("a key");
        let same = keys.iter().zip(&outlines).any(|(key, outline)| {
            kind::outline(key, problem.task) == *outline && self::is_key(key, sibling)
        });
        assert!(same, "{text}");
        assert_eq!(verdict::verify(&parts, &key), Verdict::Holds, "{text}");
        assert!(!seen.contains(&text), "{text}");
        seen.push(text);
    }
}

/// The key is the one that the sibling was given, and nothing in it is clumsy.
fn is_key(key: &Key, sibling: &Sibling) -> bool {
    let written = match key {
        Key::Formula(formula) => {
            assert_eq!(look::faults(formula), BTreeSet::new(), "{sibling:?}");
            Piece::Tex(print::tex(formula, &Declared::new()))
        }
        Key::Words(words) => Piece::Words((*words).to_owned()),
    };
    sibling.answer == [written]
}

/// There is none, for this reason.
fn check_none(statement: &str, reason: &str) {
    let given = siblings(&parts(statement), 1, 1);
    let expected = Siblings {
        found: Vec::new(),
        reason: Some(reason.to_owned()),
    };
    assert_eq!(given, expected, "{statement}");
}

#[test]
fn gives_none_where_nothing_is_asked_or_known() {
    check_none("Hello.", "what is asked is not understood");
    check_none(r"Compute $\frac{1}{$.", "what is asked is not understood");
}

#[test]
fn a_hint_does_not_come_apart_from_its_problem() {
    let reason = "it is not clear how its formulas belong together";
    check_none(
        "Solve $x^2 - 4 = 0$. Hint: look at $(x - 2)(x + 2)$.",
        reason,
    );
    check_none("Differentiate $(x^2 + 1)^5$. Use $u = x^2 + 1$.", reason);
}

#[test]
fn draws_equations_and_inequalities() {
    check("Solve $3x + 7 = 22$.", 3);
    check("Solve $x^2 - 5x + 6 = 0$.", 3);
    check(r"Solve $\sqrt{2x + 3} = x$.", 2);
    check(r"Solve $\log_2 x + \log_2 (x - 2) = 3$.", 2);
    check(r"Solve $2 \sin x = 1$ on $[0, 2\pi)$.", 1);
    check("Solve $x^2 - x - 6 > 0$.", 3);
}

#[test]
fn draws_systems_and_matrices() {
    check(
        r"Solve $\begin{cases} x + 2y = 5 \\ 3x - y = 1 \end{cases}$.",
        3,
    );
    check(
        r"Compute $\begin{bmatrix} 2 & 1 \\ 5 & 3 \end{bmatrix}^{-1}$.",
        3,
    );
    check(
        r"Find the eigenvalues of $\begin{bmatrix} 4 & 1 \\ 2 & 3 \end{bmatrix}$.",
        3,
    );
}

#[test]
fn draws_calculus() {
    check("Differentiate $x^2 e^{3x}$.", 3);
    check(r"Find $\int x e^{2x}\,dx$.", 3);
    check(r"Find $\lim_{x \to 3} \frac{x^2 - 9}{x - 3}$.", 3);
    check(
        r"Find $\sum_{n=0}^{\infty} 6 \left( \frac{1}{7} \right)^n$.",
        3,
    );
}

#[test]
fn keeps_the_words_and_the_way_of_writing() {
    let statement =
        r"Solve by Cramer's rule: $\begin{cases} 3x + 2y = 7 \\ x + 4y = 9 \end{cases}$.";
    for sibling in siblings(&parts(statement), 2, 5).found {
        let text = text(&sibling.statement);
        assert!(
            text.starts_with(r"Solve by Cramer's rule: $\begin{cases} "),
            "{text}"
        );
        assert!(text.ends_with(r" \end{cases}$."), "{text}");
    }
}

#[test]
fn draws_differential_equations() {
    check("Solve $y' = x y$ with $y(0) = 3$.", 2);
    check(r"Solve $y' + 3y = 6 y^2$.", 2);
    check("Solve $y'' - 5y' + 6y = 0$.", 2);
    check(r"Solve $y'' - 3y' + 2y = 4 e^{3x}$.", 2);
}

/// The statements of some siblings.
fn drawn(statement: &str) -> Vec<Sibling> {
    let original = parts(statement);
    let found: Vec<Sibling> = (0..3)
        .flat_map(|seed| siblings(&original, seed, 5).found)
        .collect();
    assert!(found.len() >= 9, "{statement}: {}", found.len());
    found
}

fn main_of(sibling: &Sibling) -> Expression {
    let parts: Vec<Part<'_>> = sibling.statement.iter().map(Piece::as_part).collect();
    problem::read(&parts).main.expect("a formula")
}

#[test]
fn the_form_of_a_limit_stays() {
    // 0/0 stays: a 4 in the place of the 1 made it 3/0.
    for sibling in drawn(r"Find $\lim_{x \to 0} \frac{1 - \cos 9x}{x^2}$.") {
        assert!(!text(&sibling.answer).contains(r"\infty"), "{sibling:?}");
    }
    // 1^∞ stays: with a 4 it grew beyond all bounds.
    for sibling in drawn(r"Find $\lim_{x \to \infty} \left(1 + \frac{5}{x}\right)^{4x}$.") {
        let text = text(&sibling.statement);
        assert!(text.contains(r"\left(1 "), "{text}");
        assert!(self::text(&sibling.answer).contains("e^"), "{sibling:?}");
    }
}

#[test]
fn every_term_of_a_series_exists() {
    for sibling in drawn(r"Does $\sum_{n=1}^{\infty} \frac{(-1)^n}{n + 4}$ converge?") {
        let text = text(&sibling.statement);
        assert!(!text.contains("n - "), "{text}");
    }
    check_none(
        r"Does $\sum_{n=1}^{\infty} \frac{(-1)^n}{n - 4}$ converge?",
        "a term of the series has no value",
    );
}

#[test]
fn the_unknown_stays_in_an_inequality() {
    for sibling in drawn(r"Solve $5 - 2x \le 3x + 15$.") {
        let main = main_of(&sibling);
        let (left, _, right) = main.as_relation().expect("an inequality");
        let difference = Expression::difference(left.clone(), right.clone());
        let difference = normal(&difference).expect("a number");
        let x = crate::expression::Symbol::new("x");
        assert!(views::depends_on(&difference, &x), "{sibling:?}");
    }
    check_none(
        "Solve $2x + 3 > 2x + 1$.",
        "it does not depend on the unknown",
    );
}

#[test]
fn keys_look_like_those_of_a_textbook() {
    for statement in [
        "Solve $8x = 3$.",
        r"Solve $5^{2x} = 7$.",
        r"Solve $2^{x + 1} = 3^{x}$.",
        r"Find $\int \frac{1}{x^2 + 4}\,dx$.",
        r"Evaluate $\int_0^{2} \frac{1}{x^2 + 4}\,dx$.",
        r"Differentiate $\arcsin 3x$.",
    ] {
        for sibling in drawn(statement) {
            let text = text(&sibling.answer);
            for clumsy in [r"}{1}", "+ -", "- -", "^1", r"\ln 1", r"{1}x", " 1x", "0x"] {
                assert!(!text.contains(clumsy), "{text}");
            }
            let formula = crate::read(text.trim_matches('$'), &Declared::new()).expression;
            assert_eq!(look::faults(&formula), BTreeSet::new(), "{text}");
        }
    }
}

#[test]
fn solutions_stay_of_their_kind() {
    // A double root, a pair of complex ones, a root that is extraneous.
    check("Solve $x^2 - 6x + 9 = 0$.", 3);
    check("Solve $x^2 + 2x + 5 = 0$.", 3);
    check(r"Solve $\sqrt{x + 6} = x$.", 3);
    check("Solve $x^2 + 4 > 0$.", 3);
    check(
        r"Solve $\begin{cases} 2x - y = 4 \\ 6x - 3y = 5 \end{cases}$.",
        3,
    );
    check(
        r"Solve $\begin{cases} x - 2y = 3 \\ 2x - 4y = 6 \end{cases}$.",
        3,
    );
    check("Solve $y'' - 4y' + 4y = 0$.", 3);
    check("Solve $y'' + 4y' + 13y = 0$.", 3);
    for sibling in drawn(r"Evaluate $\int_1^3 (x^2 + 2x)\,dx$.") {
        let main = main_of(&sibling);
        let [.., low, high] = main.operands() else {
            unreachable!("an integral with bounds");
        };
        assert!(matches!(main.operator(), Operator::Integral(_)));
        assert!(low.as_i64() < high.as_i64(), "{sibling:?}");
    }
}

#[test]
fn draws_about_functions() {
    check(
        "Find the equation of the tangent line to $y = x^2 - 3x + 1$ at $x = 2$.",
        3,
    );
    check(
        r"Find the inverse function of $f(x) = \frac{x + 1}{x - 2}$.",
        3,
    );
    check(r"Find the domain of $f(x) = \sqrt{x - 3}$.", 3);
    check("Find the vertex of $y = x^2 - 6x + 2$.", 3);
    check("Find the Laplace transform of $e^{3t}$.", 3);
    check(
        "Find the area between the curves $y = x^2$ and $y = 2x$.",
        3,
    );
    check(
        r"Find the interval of convergence of $\sum_{n=1}^{\infty} \frac{(x - 2)^n}{n 3^n}$.",
        3,
    );
    check(
        r"Solve $\begin{cases} x^2 + y^2 = 25 \\ x + y = 7 \end{cases}$.",
        3,
    );
}
