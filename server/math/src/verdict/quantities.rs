//! Is this the right answer to a question for something that the words name: the terms of a
//! sequence, a period, a focus, the greatest value?
//!
//! Each file answers for one family of questions, and for none that it does not understand. An
//! answer with several parts, each under its name, is right if each part is.

mod arithmetic;
mod asymptotes;
mod conics;
mod counts;
mod extremes;
mod fields;
mod notation;
mod parts;
mod places;
mod polar;
mod rates;
mod sequences;
mod space;
mod symmetry;
mod triangles;
mod waves;

use super::Verdict;
use super::answer::Answer;
use super::equivalence;
use super::functions::{self, Givens};
use super::interval::{Reading, Tape};
use super::question::Question;
use crate::expression::{Expression, Operator, Relation, Symbol};
use crate::rational::Rational;

/// A question with what it gives, and its answer.
struct Asked<'a> {
    question: &'a Question,
    answer: &'a Answer,
    givens: Givens,
    /// All formulas of the statement in the order of the text; a list is several.
    formulas: Vec<Expression>,
}

/// The verdict for a question for something that the words name; none if it is not one.
pub(super) fn judge(question: &Question, answer: &Answer) -> Option<Verdict> {
    let asked = Asked::new(question, answer);
    if let Some(verdict) = parts::judge(&asked) {
        return Some(verdict);
    }
    asked.judge_one()
}

impl<'a> Asked<'a> {
    fn new(question: &'a Question, answer: &'a Answer) -> Self {
        Self {
            question,
            answer,
            givens: Givens::new(question),
            formulas: question.formulas.clone(),
        }
    }

    /// The verdict for a question with one answer.
    fn judge_one(&self) -> Option<Verdict> {
        arithmetic::judge(self)
            .or_else(|| notation::judge(self))
            .or_else(|| fields::judge(self))
            .or_else(|| sequences::judge(self))
            .or_else(|| rates::judge(self))
            .or_else(|| waves::judge(self))
            .or_else(|| conics::judge(self))
            .or_else(|| triangles::judge(self))
            .or_else(|| symmetry::judge(self))
            .or_else(|| places::judge(self))
            .or_else(|| extremes::judge(self))
            .or_else(|| polar::judge(self))
            .or_else(|| space::judge(self))
            .or_else(|| counts::judge(self))
            .or_else(|| asymptotes::judge(self))
            .or_else(|| self.excluded())
    }

    /// Numbers for which an expression is undefined, or that a letter must not have.
    fn excluded(&self) -> Option<Verdict> {
        let asks = [
            "is undefined",
            "are undefined",
            "is not defined",
            "restrictions on the variable",
            "restrictions on x",
            "excluded value",
            "is discontinuous",
            "find the discontinuities",
            "points of discontinuity",
        ];
        let is_formula = self
            .formulas
            .iter()
            .any(|formula| matches!(value_of(formula).operator(), Operator::Fraction));
        (self.says(&asks) && is_formula)
            .then(|| functions::sets::excluded(&self.givens, self.question, self.answer))
            .flatten()
    }

    fn says(&self, phrases: &[&str]) -> bool {
        self.question.says(phrases)
    }

    /// The only formula of the answer, without a name or sign in front of it.
    fn only_value(&self) -> Option<&Expression> {
        match self.answer.formulas.as_slice() {
            [only] => Some(value_of(only)),
            _ => None,
        }
    }

    /// The verdict for one number or expression.
    fn value(&self, exact: &Expression) -> Option<Verdict> {
        let only = self.answer.formulas.first()?;
        if self.answer.formulas.len() > 1 {
            return None;
        }
        let sides = match only.operator() {
            Operator::Relation(relations)
                if relations
                    .iter()
                    .all(|r| matches!(r, Relation::Equal | Relation::Approximately)) =>
            {
                let sides = only.operands();
                let skip = usize::from(is_name(&sides[0]));
                &sides[skip..]
            }
            Operator::Relation(_) => return None,
            _ => std::slice::from_ref(only),
        };
        let mut all = Verdict::Holds;
        for side in sides {
            match functions::equal(self.question, exact, side) {
                Verdict::Holds => {}
                fails @ Verdict::Fails { .. } => return Some(fails),
                doubt => all = doubt,
            }
        }
        Some(all)
    }

    /// The value that an equation `letter = value` among the formulas gives.
    fn given(&self, letters: &[&str]) -> Option<&Expression> {
        self.formulas.iter().find_map(|formula| {
            let (left, right) = formula.as_equation()?;
            letters.contains(&left.as_symbol()?.name()).then_some(right)
        })
    }

    /// The interval that the statement names, with numbers for ends.
    fn interval(&self) -> Option<(Expression, Expression)> {
        let is_number = |e: &Expression| e.free_symbols().is_empty() && number(e).is_some();
        let letter = self.givens.letter();
        self.formulas
            .iter()
            .find_map(|formula| match (formula.operator(), formula.operands()) {
                (Operator::Interval(_), [low, high]) if is_number(low) && is_number(high) => {
                    Some((low.clone(), high.clone()))
                }
                (Operator::Tuple(crate::expression::Brackets::Square), [low, high])
                    if is_number(low) && is_number(high) =>
                {
                    Some((low.clone(), high.clone()))
                }
                (Operator::Relation(relations), [low, middle, high])
                    if middle.as_symbol().is_some()
                        && middle.as_symbol() == letter.as_ref()
                        && relations
                            .iter()
                            .all(|r| matches!(r, Relation::Less | Relation::LessOrEqual))
                        && is_number(low)
                        && is_number(high) =>
                {
                    Some((low.clone(), high.clone()))
                }
                _ => None,
            })
    }
}

/// A name for something rather than its value.
fn is_name(side: &Expression) -> bool {
    match side.operator() {
        Operator::Symbol(_) | Operator::Apply | Operator::Prime(_) => true,
        // The divergence as `∇ · F`, as any product with a field.
        Operator::Dot => side.operands().iter().all(|part| {
            part.as_symbol().is_some() || matches!(part.operator(), Operator::Function(_))
        }),
        // The amplitude as `|A|`.
        Operator::Function(
            crate::expression::Function::Abs | crate::expression::Function::Norm,
        ) => side.operands()[0].as_symbol().is_some(),
        Operator::Indexed => side.operands()[0].as_symbol().is_some(),
        _ => false,
    }
}

/// The value behind a name: of `y = 3` it is 3.
fn value_of(formula: &Expression) -> &Expression {
    match (formula.operator(), formula.operands()) {
        (Operator::Relation(relations), [left, right, ..])
            if matches!(relations[0], Relation::Equal | Relation::Approximately)
                && is_name(left) =>
        {
            right
        }
        _ => formula,
    }
}

/// The value of an expression without letters as a floating-point number.
fn number(expression: &Expression) -> Option<f64> {
    if !expression.free_symbols().is_empty() {
        return None;
    }
    match equivalence::value(expression, Reading::default()) {
        equivalence::Value::Real(found) => Some(found.middle()),
        _ => None,
    }
}

/// The value of an expression without letters, if it is rational.
fn rational(expression: &Expression) -> Option<Rational> {
    crate::evaluate::exact(expression, &Default::default()).map(Rational::from)
}

fn of_rational(value: &Rational) -> Expression {
    Expression::rational(&value.to_big())
}

/// The values of an expression with one letter.
fn function<'a>(body: &Expression, letter: &Symbol) -> Option<impl Fn(f64) -> Option<f64> + 'a> {
    let tape = Tape::new(body, std::slice::from_ref(letter), Reading::default())?;
    Some(move |at: f64| {
        let found = tape.at(at).ok()?;
        let middle = found.values.middle();
        (middle.is_finite() && found.values.width() < 1e-3 * (1.0 + middle.abs())).then_some(middle)
    })
}

/// Two numbers are as near as digits allow, or a rounded claim is near enough.
fn agrees(exact: f64, claimed: &Expression) -> Option<bool> {
    let value = number(claimed)?;
    let slack = match equivalence::has_decimal(claimed) {
        true => {
            let bounds =
                equivalence::rounded_bounds(claimed, super::interval::Decimals::Rounded, false)?;
            bounds.width() / 2.0 + 1e-9
        }
        false => 1e-7 * (1.0 + exact.abs()),
    };
    Some((exact - value).abs() <= slack)
}

/// The points and tuples that an expression is or holds, with ± for both.
fn tuple(expression: &Expression) -> Option<&[Expression]> {
    match expression.operator() {
        Operator::Tuple(_) | Operator::Interval(_) => Some(expression.operands()),
        _ => None,
    }
}
