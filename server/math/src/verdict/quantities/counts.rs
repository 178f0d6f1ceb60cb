//! How many solutions a quadratic equation has, and of which kind.

use super::Asked;
use crate::expression::{Expression, Operator};
use crate::normal_form;
use crate::rational::Rational;
use crate::verdict::Verdict;
use crate::views;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let asks = [
        "number of solutions",
        "number of real solutions",
        "number and type",
        "number and kind",
        "how many solutions",
        "how many real solutions",
        "how many real roots",
        "nature of the",
        "type of solutions",
        "types of solutions",
        "type of solution",
        "number of x-intercepts",
    ];
    if !asked.says(&asks) {
        return None;
    }
    let mut equations = asked.formulas.iter().filter_map(|formula| {
        let (left, right) = formula.as_equation()?;
        let body = match left.operator() {
            Operator::Apply => right.clone(),
            _ if left.as_symbol().is_some_and(|y| !right.mentions(y)) => right.clone(),
            _ => Expression::difference(left.clone(), right.clone()),
        };
        Some(body)
    });
    let (body, None) = (equations.next()?, equations.next()) else {
        return None;
    };
    let letter = body.free_symbols().into_iter().next()?;
    let polynomial = views::univariate(&normal_form::normal(&body).ok()?, &letter)?;
    let [c, b, a] = polynomial.coefficients() else {
        return None;
    };
    let discriminant = b * b - Rational::integer(4) * a * c;
    let words = format!(" {} ", asked.answer.words);
    let says = |phrases: &[&str]| phrases.iter().any(|phrase| words.contains(phrase));
    // A number by itself counts what the question speaks of; the discriminant may stand before it.
    let number = match asked.answer.formulas.as_slice() {
        [] => None,
        [only] => Some(only.as_i64()?),
        _ => return None,
    };
    let is_complex = says(&["complex", "imaginary", "nonreal", "non-real"]);
    let claimed = match () {
        () if says(&["two", "2 "]) || number == Some(2) => 2,
        () if says(&["no real", "none", " no "]) || number == Some(0) => 0,
        () if says(&["one", "double", "repeated", "equal", "1 "]) || number == Some(1) => 1,
        () => return None,
    };
    let (count, kind) = match discriminant.signum() {
        0 => (1, "one real solution"),
        1 => (2, "two real solutions"),
        _ => (0, "no real solution, but two complex ones"),
    };
    let told = || format!("the discriminant is {discriminant}: there is {kind}");
    let wrong = |reason: &str| Some(Verdict::fails_at(reason, told()));
    match (claimed, is_complex) {
        (2, true) if count == 0 => {}
        (2, false) if count == 0 && says(&["not real"]) => {}
        (_, true) => return wrong("the solutions are of another kind"),
        (claimed, false) if claimed != count => return wrong("it is another number"),
        _ => {}
    }
    let is_square = discriminant.is_square();
    if says(&["irrational"]) && is_square || says(&[" rational"]) && !is_square {
        return wrong("the solutions are of another kind");
    }
    Some(Verdict::Holds)
}
