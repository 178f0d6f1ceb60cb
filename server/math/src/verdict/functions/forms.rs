//! Numbers and other forms that words ask for: common divisors, remainders, discriminants, an
//! equation written another way.

use super::{Givens, equal, figures, is_infinite, right_of, whole};
use crate::expression::{Expression, Function, Operator};
use crate::normal_form::{self, Normal};
use crate::verdict::Verdict;
use crate::verdict::answer::Answer;
use crate::verdict::equivalence;
use crate::verdict::question::Question;
use crate::verdict::substitution::{self, Holds};
use crate::views;

/// The verdict for a question that asks for such a form, if it does.
pub(super) fn judge(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let asks = |phrases: &[&str]| question.says(phrases);
    match () {
        () if asks(&["greatest common", "gcf", "gcd"]) => common(givens, question, answer, true),
        () if asks(&["least common", "lcm", "lcd"]) => common(givens, question, answer, false),
        () if asks(&["remainder"]) => remainder(givens, question, answer),
        () if asks(&["discriminant"]) => {
            let body = zero_form(givens)?;
            let x = only_letter(&body)?;
            let polynomial = views::univariate(&normal_form::normal(&body).ok()?, &x)?;
            if polynomial.degree() != 2 {
                return None;
            }
            let [c, b, a] = polynomial.coefficients() else {
                return None;
            };
            let value = b * b - crate::rational::Rational::integer(4) * a * c;
            let claimed = right_of(answer.formulas.first()?);
            // The equation may be multiplied by a number before: only the sign is sure then.
            let found = equal(question, &Expression::rational(&value.to_big()), claimed);
            Some(found)
        }
        () => equation_form(givens, question, answer),
    }
}

fn only_letter(expression: &Expression) -> Option<crate::expression::Symbol> {
    let free = expression.free_symbols();
    (free.len() == 1).then(|| free.into_iter().next()).flatten()
}

/// The formula, or the difference of the sides of the equation.
fn zero_form(givens: &Givens) -> Option<Expression> {
    if let [(left, right)] = givens.equations.as_slice()
        && left.as_symbol().is_none()
    {
        return Some(Expression::difference(left.clone(), right.clone()));
    }
    givens.body().cloned()
}

/// The greatest common divisor or least common multiple of numbers or polynomials.
fn common(
    givens: &Givens,
    question: &Question,
    answer: &Answer,
    is_divisor: bool,
) -> Option<Verdict> {
    if question.says(&["factor out", "factor the", "using the"]) || givens.expressions.len() < 2 {
        return None;
    }
    let [claimed] = answer.formulas.as_slice() else {
        return None;
    };
    let numbers = givens.expressions.iter().all(|e| e.as_i64().is_some());
    if numbers {
        let function = if is_divisor {
            Function::Gcd
        } else {
            Function::Lcm
        };
        let exact = Expression::new(Operator::Function(function), givens.expressions.clone());
        return Some(equal(question, &exact, right_of(claimed)));
    }
    // Of monomials and polynomials, with the common divisor of the numbers in front.
    let polynomials: Option<Vec<_>> = givens
        .expressions
        .iter()
        .map(|e| normal_form::normal(e).ok()?.as_polynomial().cloned())
        .collect();
    let polynomials = polynomials?;
    let mut result = polynomials.first()?.clone();
    for other in &polynomials[1..] {
        let contents = crate::rational::content(&result.primitive().1, &other.primitive().1);
        let divisor = result.gcd(other).ok()?.scale(&contents);
        result = match is_divisor {
            true => divisor,
            false => result.multiply(other).ok()?.divide_exactly(&divisor)?,
        };
    }
    let exact = Normal::whole(result).to_expression();
    let found = equal(question, &exact, right_of(claimed));
    match found {
        // The sign is a convention.
        Verdict::Fails { .. } => Some(
            match equal(question, &Expression::negative(exact), right_of(claimed)) {
                Verdict::Holds => Verdict::Holds,
                _ => found,
            },
        ),
        other => Some(other),
    }
}

/// "Find the remainder when … is divided by …".
fn remainder(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let [claimed] = answer.formulas.as_slice() else {
        return None;
    };
    let dividend_and_divisor = match givens.expressions.as_slice() {
        [one] => match (one.operator(), one.operands()) {
            (Operator::Fraction, [a, b]) => Some((a.clone(), b.clone())),
            _ => None,
        },
        [a, b] => Some((a.clone(), b.clone())),
        _ => None,
    };
    let (dividend, divisor) = match (
        dividend_and_divisor,
        givens.functions.as_slice(),
        givens.expressions.as_slice(),
    ) {
        (Some(pair), _, _) => pair,
        (None, [(_, _, body)], [divisor]) if !matches!(divisor.operator(), Operator::Apply) => {
            (body.clone(), divisor.clone())
        }
        _ => {
            let why = "what is divided by what is not understood";
            return question
                .says(&["remainder when"])
                .then(|| Verdict::cannot_tell(why));
        }
    };
    // "f(x) is divided by": what the function is.
    let dividend = match (
        givens.functions.as_slice(),
        dividend.operator(),
        dividend.operands(),
    ) {
        ([(name, _, body)], Operator::Apply, [function, _])
            if function.as_symbol() == Some(name) =>
        {
            body.clone()
        }
        _ => dividend,
    };
    let x = only_letter(&divisor)?;
    let p = views::univariate(&normal_form::normal(&dividend).ok()?, &x)?;
    let d = views::univariate(&normal_form::normal(&divisor).ok()?, &x)?;
    let (_, rest) = p.divide(&d)?;
    let kernel = Expression::new(Operator::Symbol(x), []);
    let exact =
        normal_form::Polynomial::from_univariate(&kernel, &crate::rational::Rational::ONE, &rest);
    let exact = match rest.is_zero() {
        true => whole(0),
        false => Normal::whole(exact).to_expression(),
    };
    let quotient = Expression::fraction(dividend, divisor);
    if question.says(&["quotient", "divide "])
        && equal(question, &quotient, right_of(claimed)) == Verdict::Holds
    {
        // Both in one formula.
        return Some(Verdict::Holds);
    }
    match question.says(&["quotient"]) {
        // A quotient alone, or both in a form that is not equal.
        true => None,
        false => Some(equal(question, &exact, right_of(claimed))),
    }
}

/// An equation written in another form: a line, a circle, a power for a logarithm.
fn equation_form(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let is_asked = question.says(&[
        "form",
        "rewrite",
        "write",
        "express",
        "convert",
        "equivalent",
        "complete the square",
    ]);
    let ([(left, right)], [claimed]) = (givens.equations.as_slice(), answer.formulas.as_slice())
    else {
        return function_form(givens, question, answer);
    };
    let (m, s) = claimed.as_equation()?;
    if !is_asked || is_infinite(claimed) {
        return None;
    }
    let given = Expression::equation(left.clone(), right.clone());
    if given.free_symbols().is_empty() && claimed.free_symbols().is_empty() {
        // `log₂ 8 = 3` and `2³ = 8`: both are true, or the second is wrong.
        let claimed = Expression::equation(m.clone(), s.clone());
        return Some(match substitution::holds(&claimed, Default::default()) {
            Holds::Yes => Verdict::Holds,
            Holds::No(sides) => Verdict::fails_at("the equation is not true", sides),
            _ => Verdict::cannot_tell("the sides of the answer cannot be compared"),
        });
    }
    let solved = m
        .as_symbol()
        .is_some_and(|letter| given.free_symbols().contains(letter) && !s.mentions(letter));
    let found = figures::same_figure(&given, claimed);
    match found {
        Verdict::CannotTell { .. } if solved => None,
        found => Some(found),
    }
}

/// `f(x) = …` written another way, as in vertex form.
fn function_form(givens: &Givens, question: &Question, answer: &Answer) -> Option<Verdict> {
    let ([(_, letters, body)], [claimed]) =
        (givens.functions.as_slice(), answer.formulas.as_slice())
    else {
        return None;
    };
    let is_asked = question.says(&["form", "rewrite", "complet", "factor", "expand", "simplif"])
        && givens.expressions.is_empty();
    let right = right_of(claimed);
    if !is_asked
        || right
            .free_symbols()
            .iter()
            .any(|letter| !letters.contains(letter))
    {
        return None;
    }
    match equivalence::compare(body, right) {
        equivalence::Equivalence::Equal => Some(Verdict::Holds),
        equivalence::Equivalence::Different(witness) => {
            Some(Verdict::fails_at("it is not the same function", witness))
        }
        equivalence::Equivalence::Unknown(reason) => Some(Verdict::cannot_tell(reason)),
    }
}
