//! What is the Laplace transform, or the function that has it?
//!
//! By the table of transforms of t^n e^(at), e^(at) sin bt and e^(at) cos bt (Abramowitz and Stegun,
//! Handbook of Mathematical Functions, 29.3.1 to 29.3.20), term by term.

use super::expressions::{self, Piece};
use super::tidy::tidy;
use super::{Key, formula, polynomials, write};
use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent, Term};
use crate::views;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (body, is_inverse) = operand(main).unwrap_or_else(|| {
        let body = match main.as_equation() {
            Some((_, right)) => right.clone(),
            None => main.clone(),
        };
        (body, problem.instructions.contains("inverse"))
    });
    if body.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Prime(_) | Operator::Derivative(_) | Operator::Apply
        )
    }) {
        return Err("only transforms of formulas are calculated".into());
    }
    let letters: Vec<Symbol> = body.free_symbols().into_iter().collect();
    let letter = |usual: &str| match letters.as_slice() {
        [] => Ok(Symbol::new(usual)),
        [one] => Ok(one.clone()),
        _ => Err("there is more than one letter".to_owned()),
    };
    match is_inverse {
        true => original(&body, &letter("s")?),
        false => image(&body, &letter("t")?),
    }
}

/// What the sign for the transform stands before, and whether it is the inverse one.
fn operand(main: &Expression) -> Option<(Expression, bool)> {
    let (Operator::Apply, [function, operand]) = (main.operator(), main.operands()) else {
        return None;
    };
    let operand = match (operand.operator(), operand.operands()) {
        (Operator::Set, [only]) => only.clone(),
        _ => operand.clone(),
    };
    let is_sign = |of: &Expression| {
        of.as_symbol()
            .is_some_and(|s| matches!(s.name(), "ℒ" | "L"))
    };
    match (function.operator(), function.operands()) {
        (Operator::InverseFunction, [inner]) if is_sign(inner) => Some((operand, true)),
        _ if is_sign(function) => Some((operand, false)),
        _ => None,
    }
}

const UNKNOWN: &str = "a term of it is not in the table of transforms";

fn image(body: &Expression, t: &Symbol) -> Result<Vec<Key>, String> {
    let expanded = write::collected(body);
    let mut terms = Vec::new();
    for term in surface::terms(&expanded) {
        terms.push(of_term(&term, t).ok_or(UNKNOWN)?);
    }
    formula(write::sum(terms))
}

/// c t^n e^(at), times sin bt or cos bt.
fn of_term(term: &Term<'_>, t: &Symbol) -> Option<Expression> {
    let name = Expression::new(Operator::Symbol(t.clone()), []);
    let slope = |argument: &Expression| {
        let (slope, rest) = views::linear_in(&normal(argument).ok()?, &name)?;
        rest.is_zero().then(|| slope.as_constant())?
    };
    let (mut power, mut rate, mut wave) = (0_i64, Rational::ZERO, None);
    for factor in &term.factors {
        match (&factor.exponent, factor.base) {
            (Exponent::Symbolic { exponent, negated }, base) => {
                let is_e = match base {
                    Base::E => true,
                    Base::Part(part) => part.as_constant() == Some(Constant::E),
                };
                let found = slope(exponent).filter(|_| is_e)?;
                rate = &rate + &if *negated { -found } else { found };
            }
            (Exponent::Number(exponent), Base::Part(part)) => {
                let exponent = exponent.as_i64().filter(|e| (1..=6).contains(e))?;
                match (part.operator(), part.operands()) {
                    (Operator::Symbol(symbol), _) if symbol == t => power += exponent,
                    (
                        Operator::Function(
                            f @ (Function::Sin | Function::Cos | Function::Sinh | Function::Cosh),
                        ),
                        [argument],
                    ) if exponent == 1 && wave.is_none() => wave = Some((*f, slope(argument)?)),
                    _ => return None,
                }
            }
            _ => return None,
        }
    }
    let s = Expression::symbol("s");
    let shifted = write::sum([s, write::number(&-&rate)]);
    let sign = Rational::integer(i64::from(term.coefficient.signum()));
    let size = term.coefficient.abs();
    let quotient = |above: Expression, below: Expression| {
        let above = write::multiple(&size.numerator(), above);
        let below = write::multiple(&size.denominator(), below);
        write::multiple(&sign, Expression::fraction(above, below))
    };
    match wave {
        None => {
            let factorial = (1..=power).product::<i64>();
            let size = &size * &Rational::integer(factorial);
            let above = write::number(&size.numerator());
            let below = write::multiple(&size.denominator(), write::power(shifted, power + 1));
            Some(write::multiple(&sign, Expression::fraction(above, below)))
        }
        Some((function, b)) => {
            let square = match function {
                Function::Sin | Function::Cos => &b * &b,
                _ => -(&b * &b),
            };
            let below = write::sum([write::power(shifted.clone(), 2), write::number(&square)]);
            let is_even = matches!(function, Function::Cos | Function::Cosh);
            match (power, is_even) {
                (0, true) => Some(quotient(shifted, below)),
                (0, false) => {
                    let size = &term.coefficient * &b;
                    let above = write::number(&size.numerator().abs());
                    let below = write::multiple(&size.denominator(), below);
                    let sign = Rational::integer(i64::from(size.signum()));
                    Some(write::multiple(&sign, Expression::fraction(above, below)))
                }
                // The derivative of the transform, with the opposite sign.
                (1, false) if rate.is_zero() => {
                    let above = write::multiple(
                        &(&(&term.coefficient * &b) * &Rational::integer(2)),
                        shifted,
                    );
                    Some(Expression::fraction(above, write::power(below, 2)))
                }
                _ => None,
            }
        }
    }
}

fn original(body: &Expression, s: &Symbol) -> Result<Vec<Key>, String> {
    let bad = "it is no quotient of polynomials whose factors are known";
    let number = normal(body).map_err(|_| bad)?;
    let part = |p: &crate::normal_form::Polynomial| views::univariate(&Normal::whole(p.clone()), s);
    let (above, below) = (
        part(number.numerator()).ok_or(bad)?,
        part(number.denominator()).ok_or(bad)?,
    );
    let (whole, pieces) = expressions::pieces(&above, &below).ok_or(bad)?;
    if !whole.is_zero() {
        return Err("it is no transform of a function".into());
    }
    let mut terms = Vec::new();
    for piece in &pieces {
        terms.push(of_piece(piece).ok_or(UNKNOWN)?);
    }
    formula(write::sum(terms))
}

fn of_piece(piece: &Piece) -> Option<Expression> {
    let t = Expression::symbol("t");
    let grown = |rate: &Rational, of: Expression| match rate.is_zero() {
        true => of,
        false => {
            let exponent = write::multiple(rate, t.clone());
            let growth = Expression::power(Expression::constant(Constant::E), exponent);
            write::product([of, growth])
        }
    };
    let leading = piece.below.leading();
    if piece.below.degree() == 1 {
        // c / (k s - m)^n
        let power = i64::from(piece.power);
        let rate = (-piece.below.coefficient(0)).checked_div(&leading)?;
        let factorial = (1..power).product::<i64>();
        let below = leading.pow(power)? * Rational::integer(factorial);
        let factor = piece.above.coefficient(0).checked_div(&below)?;
        let letters = write::power(t.clone(), power - 1);
        return Some(write::multiple(&factor, grown(&rate, letters)));
    }
    if piece.power != 1 {
        return None;
    }
    // (B s + C) / (k ((s - a)^2 + b^2))
    let two = Rational::integer(2);
    let a = (-piece.below.coefficient(1)).checked_div(&(&two * &leading))?;
    let square = piece.below.coefficient(0).checked_div(&leading)? - &a * &a;
    if !square.is_positive() {
        return None;
    }
    let (outside, radicand) = polynomials::square_root(&square)?;
    if radicand != 1 {
        return None;
    }
    let b = outside;
    let rise = piece.above.coefficient(1).checked_div(&leading)?;
    let rest = piece.above.coefficient(0).checked_div(&leading)? + &rise * &a;
    let angle = write::multiple(&b, t.clone());
    let cosine = Expression::function(Function::Cos, angle.clone());
    let sine = Expression::function(Function::Sin, angle);
    let waves = [
        write::multiple(&rise, grown(&a, cosine)),
        write::multiple(&rest.checked_div(&b)?, grown(&a, sine)),
    ];
    Some(tidy_sum(waves))
}

fn tidy_sum(terms: [Expression; 2]) -> Expression {
    let tidied = terms.iter().map(tidy);
    write::sum(tidied.collect::<Vec<_>>())
}
