//! Amplitude, period, phase shift and midline of `A sin(Bx + C) + D` and its relatives.

use super::{Asked, number, value_of};
use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::normal_form;
use crate::verdict::{Verdict, functions};
use crate::views;

/// A trigonometric function of a linear argument, times a number, plus a number.
struct Wave {
    function: Function,
    /// What stands before the letter in the argument, and what is added there.
    rate: Expression,
    shift: Expression,
    factor: Expression,
    level: Expression,
}

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    let wanted = [
        "amplitude",
        "period",
        "phase shift",
        "midline",
        "vertical shift",
    ];
    let names = wanted.iter().filter(|name| says(&[name]));
    if names.count() != 1 || says(&["periodic payment", "write an equation", "write a"]) {
        return None;
    }
    let wave = wave(asked.givens.body()?, &asked.givens.letter()?)?;
    let absolute = |e: &Expression| Expression::function(Function::Abs, e.clone());
    match () {
        () if says(&["amplitude"]) => {
            let has_one = matches!(wave.function, Function::Sin | Function::Cos);
            if !has_one {
                return asked.answer.formulas.is_empty().then_some(Verdict::Holds);
            }
            asked.value(&absolute(&wave.factor))
        }
        () if says(&["phase shift"]) => {
            let shift =
                Expression::negative(Expression::fraction(wave.shift.clone(), wave.rate.clone()));
            let told = |side: &str| asked.answer.says(&[side]);
            let is_left = number(&shift)? < 0.0;
            match (told("left"), told("right")) {
                (true, false) if !is_left => Some(Verdict::fails_at(
                    "it is the other direction",
                    "the graph is moved to the right",
                )),
                (false, true) if is_left => Some(Verdict::fails_at(
                    "it is the other direction",
                    "the graph is moved to the left",
                )),
                (true, false) | (false, true) => {
                    let claimed = absolute(value_of(asked.answer.formulas.first()?));
                    Some(functions::equal(
                        asked.question,
                        &absolute(&shift),
                        &claimed,
                    ))
                }
                _ => asked.value(&shift),
            }
        }
        () if says(&["period"]) => {
            let turns = match wave.function {
                Function::Tan | Function::Cot => 1,
                _ => 2,
            };
            let length = Expression::product([
                Expression::integer(turns),
                Expression::constant(Constant::Pi),
            ]);
            asked.value(&Expression::fraction(length, absolute(&wave.rate)))
        }
        () => asked.value(&wave.level),
    }
}

fn wave(body: &Expression, letter: &Symbol) -> Option<Wave> {
    let mut parts = body.parts().filter(|part| {
        matches!(
            part.operator(),
            Operator::Function(
                Function::Sin
                    | Function::Cos
                    | Function::Tan
                    | Function::Cot
                    | Function::Sec
                    | Function::Csc
            )
        )
    });
    let (part, None) = (parts.next()?, parts.next()) else {
        return None;
    };
    let Operator::Function(function) = part.operator() else {
        return None;
    };
    let mark = Symbol::new("□");
    let kernel = Expression::new(Operator::Symbol(mark), []);
    let outside = replaced(body, part, &kernel);
    if outside.mentions(letter) {
        return None;
    }
    let outside = normal_form::normal(&outside).ok()?;
    let (factor, level) = views::linear_in(&outside, &kernel)?;
    let argument = normal_form::normal(part.operands().first()?).ok()?;
    let (rate, shift) = views::linear_in(
        &argument,
        &Expression::new(Operator::Symbol(letter.clone()), []),
    )?;
    if rate.is_zero() || factor.is_zero() {
        return None;
    }
    Some(Wave {
        function: *function,
        rate: rate.to_expression(),
        shift: shift.to_expression(),
        factor: factor.to_expression(),
        level: level.to_expression(),
    })
}

fn replaced(expression: &Expression, part: &Expression, by: &Expression) -> Expression {
    match expression == part {
        true => by.clone(),
        false => expression.map_operands(|operand| replaced(operand, part, by)),
    }
}
