//! What does a shape say of a formula as it is written?
//!
//! Problems that ask for another form of an expression differ in how the expression is written,
//! which the ordinary laws of algebra do not see: `\frac{1}{x} + \frac{1}{y}` is a sum, and equals
//! a fraction.

use crate::expression::{Constant, Expression, Function, Operator, Relation};
use crate::normal_form::normal;
use crate::rational::Rational;
use crate::surface;

/// One statement: "the formula contains a root", "the formula is not written as a sum".
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Written {
    is_negated: bool,
    says: Says,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Says {
    /// Something stands somewhere in it.
    Contains(Thing),
    /// The formula as a whole is this.
    Is(Thing),
}

/// What can be said to stand in a formula, by its name.
const THINGS: [(&str, Thing); 33] = [
    ("sum", Thing::Sum),
    ("product", Thing::Product),
    ("product of sums", Thing::ProductOfSums),
    ("power", Thing::Power),
    ("power of a sum", Thing::PowerOfSum),
    ("negative exponent", Thing::NegativeExponent),
    ("rational exponent", Thing::RationalExponent),
    ("fraction", Thing::Fraction),
    ("fraction in a fraction", Thing::NestedFraction),
    ("sum below", Thing::SumBelow),
    ("division", Thing::Fraction),
    ("root", Thing::Root),
    ("root below", Thing::RootBelow),
    ("logarithm", Thing::Logarithm),
    ("several logarithms", Thing::SeveralLogarithms),
    ("exponential", Thing::Exponential),
    ("trigonometric function", Thing::Trigonometric),
    (
        "inverse trigonometric function",
        Thing::InverseTrigonometric,
    ),
    ("absolute value", Thing::Absolute),
    ("factorial", Thing::Factorial),
    ("imaginary unit", Thing::ImaginaryUnit),
    ("letter", Thing::Letter),
    ("several letters", Thing::SeveralLetters),
    ("matrix", Thing::Matrix),
    ("product of matrices", Thing::ProductOfMatrices),
    ("vector", Thing::Vector),
    ("function", Thing::AnyFunction),
    ("common factor", Thing::CommonFactor),
    ("derivative", Thing::Derivative),
    ("integral", Thing::Integral),
    ("limit", Thing::Limit),
    ("equation", Thing::Equation),
    ("compound inequality", Thing::Chain),
];

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Thing {
    Sum,
    Product,
    ProductOfSums,
    Power,
    PowerOfSum,
    NegativeExponent,
    RationalExponent,
    Fraction,
    NestedFraction,
    SumBelow,
    Root,
    RootBelow,
    Logarithm,
    SeveralLogarithms,
    Exponential,
    Trigonometric,
    InverseTrigonometric,
    Absolute,
    Factorial,
    ImaginaryUnit,
    Letter,
    SeveralLetters,
    Matrix,
    ProductOfMatrices,
    Vector,
    AnyFunction,
    CommonFactor,
    Derivative,
    Integral,
    Limit,
    Equation,
    Chain,
}

impl Written {
    /// The condition is about the formula as it is written.
    pub(super) fn is_one(condition: &str) -> bool {
        let mut words = condition.split_whitespace();
        words.next() == Some("the") && words.next() == Some("formula")
    }

    /// Reads such a condition; the error names the words that are not understood.
    pub(super) fn read(condition: &str) -> Result<Self, String> {
        let words: Vec<&str> = condition
            .trim_end_matches('.')
            .split_whitespace()
            .skip(2)
            .collect();
        let (is_negated, contains, thing) = match words.as_slice() {
            ["contains" | "has", thing @ ..] => (false, true, thing),
            ["does", "not", "contain" | "have", thing @ ..] => (true, true, thing),
            ["is", "not", "written", "as", thing @ ..] | ["is", "not", thing @ ..] => {
                (true, false, thing)
            }
            ["is", "written", "as", thing @ ..] | ["is", thing @ ..] => (false, false, thing),
            others => return Err(others.join(" ")),
        };
        let name = thing
            .iter()
            .skip_while(|word| matches!(**word, "a" | "an" | "the" | "any" | "no"))
            .copied()
            .collect::<Vec<_>>()
            .join(" ");
        let found = THINGS
            .iter()
            .find(|(known, _)| *known == name || format!("{known}s") == name);
        let Some((_, thing)) = found else {
            return Err(name);
        };
        let says = match contains {
            true => Says::Contains(*thing),
            false => Says::Is(*thing),
        };
        Ok(Self { is_negated, says })
    }

    /// What can be named, for messages.
    pub(super) fn known() -> String {
        let names: Vec<&str> = THINGS.iter().map(|(name, _)| *name).collect();
        names.join(", ")
    }

    /// Whether it is true of a formula.
    pub(super) fn holds(self, formula: &Expression) -> bool {
        let holds = match self.says {
            Says::Is(thing) => thing.is(unsigned(formula)),
            Says::Contains(Thing::CommonFactor) => has_common_factor(formula),
            Says::Contains(Thing::SeveralLetters) => formula.free_symbols().len() > 1,
            Says::Contains(Thing::SeveralLogarithms) => {
                let logarithms = formula.parts().filter(|part| Thing::Logarithm.is(part));
                logarithms.count() > 1
            }
            Says::Contains(thing) => formula.parts().any(|part| thing.is(part)),
        };
        holds != self.is_negated
    }
}

/// Without a minus sign before the whole.
fn unsigned(formula: &Expression) -> &Expression {
    match (formula.operator(), formula.operands()) {
        (Operator::Negative, [inner]) => inner,
        _ => formula,
    }
}

impl Thing {
    fn is(self, part: &Expression) -> bool {
        let operands = part.operands();
        let function = match part.operator() {
            Operator::Function(function) => Some(*function),
            _ => None,
        };
        let exponent = match (part.operator(), operands) {
            (Operator::Power, [_, exponent]) => Some(exponent),
            _ => None,
        };
        let is_below = |test: fn(&Expression) -> bool| match (part.operator(), operands) {
            (Operator::Fraction, [_, below]) => below.parts().any(test),
            _ => false,
        };
        match self {
            Thing::Sum => *part.operator() == Operator::Sum,
            Thing::Product => *part.operator() == Operator::Product,
            Thing::ProductOfSums => {
                let sums = operands.iter().filter(|factor| is_sum(factor));
                *part.operator() == Operator::Product && sums.count() > 0
            }
            Thing::Power => exponent.is_some(),
            Thing::PowerOfSum => {
                exponent.and_then(Expression::as_i64).is_some_and(|n| n > 1) && is_sum(&operands[0])
            }
            Thing::NegativeExponent => exponent.is_some_and(|exponent| {
                surface::number(exponent).is_some_and(|value| value.is_negative())
            }),
            Thing::RationalExponent => exponent.is_some_and(|exponent| {
                surface::number(exponent).is_some_and(|value| !value.is_integer())
            }),
            Thing::Fraction => *part.operator() == Operator::Fraction,
            Thing::NestedFraction => {
                *part.operator() == Operator::Fraction
                    && operands
                        .iter()
                        .flat_map(Expression::parts)
                        .any(|inner| *inner.operator() == Operator::Fraction && !is_number(inner))
            }
            Thing::SumBelow => is_below(|below| *below.operator() == Operator::Sum),
            Thing::Root => is_root(part),
            Thing::RootBelow => is_below(is_root),
            Thing::Logarithm => {
                matches!(
                    function,
                    Some(Function::Ln | Function::Log | Function::LogBase)
                )
            }
            Thing::Exponential => {
                function == Some(Function::Exp)
                    || exponent
                        .is_some_and(|exponent| exponent.parts().any(|p| p.as_symbol().is_some()))
            }
            Thing::Trigonometric => function.is_some_and(|f| f as u32 <= Function::Csc as u32),
            Thing::InverseTrigonometric => function.is_some_and(|f| {
                (Function::Arcsin as u32..=Function::Arccsc as u32).contains(&(f as u32))
            }),
            Thing::Absolute => function == Some(Function::Abs),
            Thing::Factorial => function == Some(Function::Factorial),
            Thing::ImaginaryUnit => part.as_constant() == Some(Constant::I),
            Thing::Letter => part.as_symbol().is_some(),
            Thing::SeveralLogarithms => false,
            Thing::SeveralLetters => part.free_symbols().len() > 1,
            Thing::Matrix => matches!(part.operator(), Operator::Matrix(_)),
            Thing::ProductOfMatrices => {
                let matrices = operands.iter().filter(|part| Thing::Matrix.is(part));
                *part.operator() == Operator::Product && matrices.count() > 1
            }
            Thing::Vector => matches!(part.operator(), Operator::Tuple(_)),
            Thing::AnyFunction => function.is_some(),
            Thing::CommonFactor => has_common_factor(part),
            Thing::Derivative => matches!(
                part.operator(),
                Operator::Prime(_)
                    | Operator::NthPrime
                    | Operator::Derivative(_)
                    | Operator::Differential
            ),
            Thing::Integral => matches!(part.operator(), Operator::Integral(_)),
            Thing::Limit => matches!(part.operator(), Operator::Limit(_)),
            Thing::Equation => part.as_equation().is_some(),
            Thing::Chain => match part.operator() {
                Operator::Relation(relations) => {
                    relations.len() > 1
                        && relations.iter().all(|relation| {
                            matches!(
                                relation,
                                Relation::Less
                                    | Relation::LessOrEqual
                                    | Relation::Greater
                                    | Relation::GreaterOrEqual
                            )
                        })
                }
                Operator::Logic(_) => operands.iter().all(|operand| {
                    operand
                        .as_relation()
                        .is_some_and(|(_, relation, _)| relation != Relation::Equal)
                }),
                _ => false,
            },
        }
    }
}

fn is_sum(part: &Expression) -> bool {
    match (part.operator(), part.operands()) {
        (Operator::Sum, _) => true,
        (Operator::Power, [base, exponent]) => is_sum(base) && exponent.as_i64().is_some(),
        _ => false,
    }
}

fn is_root(part: &Expression) -> bool {
    matches!(part.operator(), Operator::Root | Operator::NthRoot)
}

fn is_number(part: &Expression) -> bool {
    part.parts().all(|part| part.as_symbol().is_none())
}

/// A number other than 1 or a letter divides every term of a sum.
fn has_common_factor(formula: &Expression) -> bool {
    if *formula.operator() != Operator::Sum {
        return false;
    }
    let Ok(number) = normal(formula) else {
        return false;
    };
    let Some(polynomial) = number.as_polynomial() else {
        return false;
    };
    let (_, content) = polynomial.primitive();
    let is_whole = polynomial.terms().iter().all(|(_, c)| c.is_integer());
    let common = polynomial.common_monomial();
    let has_number = is_whole && content.abs() > Rational::ONE;
    polynomial.terms().len() > 1 && (has_number || !common.is_one())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    #[track_caller]
    fn check(condition: &str, holds: &[&str], fails: &[&str]) {
        assert!(Written::is_one(condition), "{condition}");
        let written = Written::read(condition).expect("a known condition");
        for (formulas, expected) in [(holds, true), (fails, false)] {
            for tex in formulas {
                let formula = read(tex, &Declared::new()).expression;
                assert_eq!(written.holds(&formula), expected, "{condition}: {tex}");
            }
        }
    }

    #[test]
    fn sees_how_formulas_are_written() {
        check(
            "the formula is written as a sum",
            &["x + 1", "-(x + 1)"],
            &["2(x + 1)", r"\frac{x + 1}{2}"],
        );
        check(
            "the formula contains a root",
            &[r"3 + \sqrt{2}", r"\sqrt[3]{x}"],
            &["x^{1/2}", "x"],
        );
        check(
            "the formula does not contain letters",
            &[r"\sqrt{2} + \pi"],
            &["x"],
        );
        check(
            "the formula contains a fraction in a fraction",
            &[r"\frac{1 + \frac{1}{x}}{x}"],
            &[r"\frac{1}{x} + \frac{1}{y}", r"\frac{\frac{1}{2}}{x}"],
        );
        check(
            "the formula has a common factor",
            &["6x + 9", "x^2 - x", "2xy + 4y"],
            &["2x + 3", "x^2 - 4", r"\frac{x}{2} + 1", "2x"],
        );
        check(
            "the formula is written as a power of a sum",
            &["(x + 1)^3"],
            &["x^3", "(x + 1)(x + 2)"],
        );
        check(
            "the formula is a compound inequality",
            &["1 < x < 2", r"1 \le 2x + 3 < 7"],
            &["x < 2", "x = 2"],
        );
    }

    #[test]
    fn says_what_is_not_known() {
        assert_eq!(
            Written::read("the formula contains a banana"),
            Err("banana".to_owned())
        );
        assert_eq!(Written::read("the formula sings"), Err("sings".to_owned()));
        assert!(!Written::is_one("the f is 0"));
    }
}
