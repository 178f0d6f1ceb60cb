//! How is an answer written?

use crate::expression::{Expression, Operator};
use crate::problem::{Part, Problem};
use crate::read::{Class, Declared};

/// An answer as it was understood.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Answer {
    /// The formulas, in the order of the text; a list `x = 1, x = 2` is several.
    pub(super) formulas: Vec<Expression>,
    /// The words between them, in small letters.
    pub(super) words: String,
}

/// Reads an answer; the error says why it cannot be read.
pub(super) fn read(parts: &[Part<'_>], problem: &Problem) -> Result<Answer, String> {
    let mut declared = Declared::new();
    for known in problem.main.iter().chain(&problem.conditions) {
        declared.learn(known);
    }
    let mut formulas = Vec::new();
    let mut words = String::new();
    for part in parts {
        match part {
            Part::Words(text) => {
                words.push_str(&text.to_lowercase());
                words.push(' ');
            }
            Part::Tex(tex) => {
                let reading = crate::read(tex, &declared);
                if let Some(fault) = reading
                    .diagnostics
                    .iter()
                    .find(|fault| fault.class == Class::Malformed)
                {
                    return Err(format!("the answer cannot be read: {}", fault.message));
                }
                match reading.expression.operator() {
                    Operator::List => formulas.extend(reading.expression.operands().to_vec()),
                    _ => formulas.push(reading.expression),
                }
            }
        }
    }
    Ok(Answer { formulas, words })
}
