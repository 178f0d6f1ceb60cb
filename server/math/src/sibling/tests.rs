//! Siblings of problems.

use super::*;

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
    let fingerprint = problem::read(&original).fingerprint;
    let mut seen = vec![statement.to_owned()];
    for sibling in &given.found {
        let parts: Vec<Part<'_>> = sibling.statement.iter().map(Piece::as_part).collect();
        let key: Vec<Part<'_>> = sibling.answer.iter().map(Piece::as_part).collect();
        let text = text(&sibling.statement);
        assert_eq!(problem::read(&parts).fingerprint, fingerprint, "{text}");
        assert_eq!(verdict::verify(&parts, &key), Verdict::Holds, "{text}");
        assert!(!seen.contains(&text), "{text}");
        seen.push(text);
    }
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
