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
    check("Solve $x + 2 = 5$.", 0);
    check_none("Hello.", "what is asked is not understood");
    check_none(r"Compute $\frac{1}{$.", "what is asked is not understood");
}
