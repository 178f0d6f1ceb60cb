//! How is an expression written down?
//!
//! [`plain`] writes Unicode text for a hover or a list, on one line: `y″ − 8y′ + 16y = 0`,
//! `√(x² + 1)`, `[1, 2; 3, 4]`. [`tex`] writes TeX that reads back as the same expression.
//! [`readable`] goes from TeX to plain text and never gives up.

mod plain;
mod tex;

use std::fmt;

use crate::expression::{Expression, Function, Operator};
use crate::read::{Declared, read};

/// The expression as one line of Unicode text. Not meant to be read back.
pub fn plain(expression: &Expression) -> String {
    let mut out = String::new();
    plain::write(&mut out, expression);
    out
}

/// The expression as TeX, without dollar signs.
///
/// Reading the result with the same declarations gives the same expression, provided that the
/// expression is one that reading can give: built from parts that were read, or as a reader
/// would build them (a negative number as a negative, no sum inside a sum without need).
pub fn tex(expression: &Expression, declared: &Declared) -> String {
    let pretty = tex::write(expression, tex::Care::Pretty);
    let reading = read(&pretty, declared);
    if reading.expression == *expression && reading.is_certain() {
        return pretty;
    }
    let safe = tex::write(expression, tex::Care::Safe);
    match read(&safe, declared).expression == *expression {
        true => safe,
        false => pretty,
    }
}

/// The TeX of a formula as one line of Unicode text; never empty.
///
/// Parts that cannot be read appear as their own text without backslashes and braces.
pub fn readable(formula: &str) -> String {
    let text = plain(&read(formula, &Declared::new()).expression);
    let text = text.trim();
    match text.is_empty() {
        true => "□".to_owned(),
        false => text.to_owned(),
    }
}

impl fmt::Display for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&plain(self))
    }
}

/// How tightly an operator holds its operands together. Greater holds tighter.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Tightness {
    List,
    Statement,
    Relation,
    Sum,
    /// A sign in front.
    Sign,
    Product,
    /// A function before its argument, an integral, a limit.
    Prefix,
    Power,
    Atom,
}

fn tightness(expression: &Expression) -> Tightness {
    match expression.operator() {
        Operator::List => Tightness::List,
        Operator::Logic(_) | Operator::Quantified(_) | Operator::Given => Tightness::Statement,
        Operator::Relation(_) | Operator::Modulo | Operator::Ratio => Tightness::Relation,
        Operator::Sum | Operator::SetOperation(_) => Tightness::Sum,
        Operator::Negative | Operator::PlusMinus | Operator::MinusPlus => Tightness::Sign,
        Operator::Product
        | Operator::Cross
        | Operator::Dot
        | Operator::Composition
        | Operator::Mixed
        | Operator::Function(Function::Remainder)
        | Operator::Differential => Tightness::Product,
        Operator::Integral(_)
        | Operator::Limit(_)
        | Operator::Series(..)
        | Operator::Derivative(_)
        | Operator::EvaluatedAt => Tightness::Prefix,
        Operator::Function(function) => match function {
            Function::Abs
            | Function::Norm
            | Function::Floor
            | Function::Ceiling
            | Function::Binomial
            | Function::Conjugate
            | Function::Cardinality => Tightness::Atom,
            Function::Factorial
            | Function::DoubleFactorial
            | Function::Transpose
            | Function::Complement => Tightness::Power,
            Function::Determinant
                if expression
                    .operands()
                    .first()
                    .is_some_and(|of| matches!(of.operator(), Operator::Matrix(_))) =>
            {
                Tightness::Atom
            }
            _ => Tightness::Prefix,
        },
        Operator::Power
        | Operator::Percent
        | Operator::Degrees
        | Operator::Prime(_)
        | Operator::NthPrime
        | Operator::InverseFunction => Tightness::Power,
        // One level below an atom where it is written with a slash.
        Operator::Fraction => Tightness::Atom,
        _ => Tightness::Atom,
    }
}

/// The name of a function that is written before its argument.
fn function_name(function: Function) -> &'static str {
    match function {
        Function::Sin => "sin",
        Function::Cos => "cos",
        Function::Tan => "tan",
        Function::Cot => "cot",
        Function::Sec => "sec",
        Function::Csc => "csc",
        Function::Arcsin => "arcsin",
        Function::Arccos => "arccos",
        Function::Arctan => "arctan",
        Function::Arccot => "arccot",
        Function::Arcsec => "arcsec",
        Function::Arccsc => "arccsc",
        Function::Sinh => "sinh",
        Function::Cosh => "cosh",
        Function::Tanh => "tanh",
        Function::Coth => "coth",
        Function::Sech => "sech",
        Function::Csch => "csch",
        Function::Arsinh => "arsinh",
        Function::Arcosh => "arcosh",
        Function::Artanh => "artanh",
        Function::Arcoth => "arcoth",
        Function::Arsech => "arsech",
        Function::Arcsch => "arcsch",
        Function::Exp => "exp",
        Function::Ln => "ln",
        Function::Log | Function::LogBase => "log",
        Function::Sign => "sgn",
        Function::Gcd => "gcd",
        Function::Lcm => "lcm",
        Function::Max => "max",
        Function::Min => "min",
        Function::Sup => "sup",
        Function::Inf => "inf",
        Function::RealPart => "Re",
        Function::ImaginaryPart => "Im",
        Function::Argument => "arg",
        Function::Gamma => "Γ",
        Function::Erf => "erf",
        Function::Determinant => "det",
        Function::Trace => "tr",
        Function::Rank => "rank",
        Function::Dimension => "dim",
        Function::Kernel => "ker",
        Function::Probability => "Pr",
        Function::Expectation => "E",
        Function::Variance => "Var",
        Function::Gradient => "grad",
        Function::Divergence => "div",
        Function::Curl => "curl",
        Function::Permutations => "P",
        // These have signs of their own.
        Function::Abs
        | Function::Norm
        | Function::Floor
        | Function::Ceiling
        | Function::Factorial
        | Function::DoubleFactorial
        | Function::Binomial
        | Function::Remainder
        | Function::Conjugate
        | Function::Transpose
        | Function::Laplacian
        | Function::Change
        | Function::Cardinality
        | Function::Complement => "",
    }
}

#[cfg(test)]
mod tests;
