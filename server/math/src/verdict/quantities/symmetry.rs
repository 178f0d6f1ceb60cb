//! Is a function even or odd?

use super::Asked;
use crate::expression::{Expression, Operator};
use crate::verdict::Verdict;
use crate::verdict::equivalence::{self, Equivalence};

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    if !asked.says(&["even, odd", "odd, even", "even or odd", "odd or even"]) {
        return None;
    }
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let words = &asked.answer.words;
    let says = |word: &str| {
        words
            .split(|c: char| !c.is_alphabetic())
            .any(|found| found == word)
    };
    let claimed = match (says("even"), says("odd"), says("neither")) {
        (_, _, true) => "neither",
        (true, false, _) => "even",
        (false, true, _) => "odd",
        _ => return None,
    };
    let opposite = Expression::negative(Expression::new(Operator::Symbol(letter.clone()), []));
    let mirrored = body.substitute(&letter, &opposite);
    let same = equivalence::compare(&mirrored, body);
    let turned = equivalence::compare(&mirrored, &Expression::negative(body.clone()));
    let found = match (&same, &turned) {
        (Equivalence::Equal, Equivalence::Equal) => return None,
        (Equivalence::Equal, _) => "even",
        (_, Equivalence::Equal) => "odd",
        (Equivalence::Different(_), Equivalence::Different(_)) => "neither",
        _ => return Some(Verdict::cannot_tell("f(−x) cannot be compared with f(x)")),
    };
    Some(match found == claimed {
        true => Verdict::Holds,
        false => Verdict::fails_at(format!("it is not {claimed}"), format!("it is {found}")),
    })
}
