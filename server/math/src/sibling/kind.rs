//! Is a drawn problem of the same kind as the original?
//!
//! The fingerprint sees through the numbers; what it leaves out, and what the way to the answer
//! depends on as well, is compared here: the form of a limit, the sizes of a series' terms, whether
//! a solution is extraneous, the order of bounds, and what the key is made of.

use std::collections::BTreeSet;

use crate::evaluate::{Point, real_value};
use crate::expression::{Bounds, Constant, Expression, Function, Operator, SetOperation};
use crate::laws::Law;
use crate::problem::{Problem, Task};
use crate::shape::{self, Shape};
use crate::solve::{self, Key};

/// What the numbers of a problem say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Kind {
    /// The two bounds of each interval and integral are in order.
    ordered: Vec<bool>,
    /// What the method of solution depends on.
    method: Vec<i8>,
}

impl Kind {
    /// The kind of a problem that is known to have the same fingerprint as another one.
    pub(super) fn of(problem: &Problem) -> Self {
        let formulas = problem.main.iter().chain(&problem.conditions);
        let ordered = formulas.flat_map(Expression::parts).filter_map(|part| {
            match (part.operator(), part.operands()) {
                (Operator::Interval(_), [low, high]) => is_less(low, high),
                (Operator::Integral(integral), [.., low, high])
                    if integral.bounds == Bounds::Between =>
                {
                    is_less(low, high)
                }
                _ => None,
            }
        });
        Self {
            ordered: ordered.collect(),
            method: solve::method(problem),
        }
    }
}

fn is_less(low: &Expression, high: &Expression) -> Option<bool> {
    let value = |bound: &Expression| real_value(bound, &Point::new()).ok();
    Some(value(low)? < value(high)?)
}

/// How a problem has some shapes.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Fit {
    /// The laws that lead to each.
    laws: Vec<Option<Vec<Law>>>,
    /// The one that tells its kind best.
    best: Option<usize>,
}

impl Fit {
    /// How a problem has each of the shapes.
    pub(super) fn of(shapes: &[Shape], problem: &Problem) -> Self {
        let found = shape::classify(shapes, problem);
        Self {
            best: shape::best_first(shapes, &found).first().copied(),
            laws: found
                .into_iter()
                .map(|found| found.map(|found| found.laws))
                .collect(),
        }
    }

    /// Both have the same shapes, and the same one tells their kind best; by the same laws, if that
    /// is wanted, too.
    pub(super) fn is_like(&self, other: &Self, by_laws: bool) -> bool {
        let mut pairs = self.laws.iter().zip(&other.laws);
        self.best == other.best
            && match by_laws {
                true => self.laws == other.laws,
                false => pairs.all(|(one, other)| one.is_some() == other.is_some()),
            }
    }
}

/// What a key is made of, its numbers left out.
pub(super) fn outline(key: &Key, task: Task) -> String {
    match key {
        Key::Words(words) => (*words).to_owned(),
        Key::Formula(formula) => of_formula(formula, task),
    }
}

fn of_formula(formula: &Expression, task: Task) -> String {
    let operands = formula.operands();
    let inner = || -> Vec<String> { operands.iter().map(|o| of_formula(o, task)).collect() };
    match formula.operator() {
        Operator::List | Operator::Set | Operator::System => {
            let mut items = inner();
            items.sort();
            if items.iter().any(|item| item.contains("Pi")) {
                // How many angles there are, and whether one of them is 0, says nothing.
                return "angles".to_owned();
            }
            format!("{{{}}}", items.join(", "))
        }
        Operator::SetOperation(SetOperation::Union) => inner().join(" ∪ "),
        Operator::Interval(ends) => format!(
            "{}{}{}",
            if ends.lower_closed { "[" } else { "(" },
            inner().join(", "),
            if ends.upper_closed { "]" } else { ")" },
        ),
        Operator::Relation(relations) => {
            let signs = relations.iter().map(|relation| relation.sign());
            let signs: Vec<&str> = signs.chain([""]).collect();
            let sides = inner().into_iter().zip(signs);
            sides.map(|(side, sign)| format!("{side} {sign}")).collect()
        }
        Operator::Matrix(shape) => format!("{} of {}", operands.len(), shape.columns),
        Operator::Tuple(_) => format!("tuple of {}", operands.len()),
        Operator::Negative if of_infinity(formula) => "-oo".to_owned(),
        _ => item(formula, task),
    }
}

fn of_infinity(formula: &Expression) -> bool {
    let mut parts = formula.parts();
    parts.any(|part| part.as_constant() == Some(Constant::Infinity))
}

/// The functions, constants, letters and roots of a value.
fn item(formula: &Expression, task: Task) -> String {
    let mut functions: BTreeSet<Function> = BTreeSet::new();
    let mut constants: BTreeSet<Constant> = BTreeSet::new();
    let (mut has_root, mut has_power, mut is_below) = (false, false, false);
    for part in formula.parts() {
        match (part.operator(), part.operands()) {
            (Operator::Function(function), _) => {
                functions.insert(*function);
            }
            (Operator::Constant(constant), _) => {
                constants.insert(*constant);
            }
            (Operator::Root | Operator::NthRoot, _) => has_root = true,
            (Operator::Power, [_, exponent]) => {
                has_power |= !exponent.free_symbols().is_empty();
            }
            (Operator::Fraction, [_, below]) => is_below |= !below.free_symbols().is_empty(),
            _ => {}
        }
    }
    let letters = formula.free_symbols();
    let letters: Vec<&str> = letters.iter().map(|letter| letter.name()).collect();
    format!(
        "{}{functions:?}{constants:?}{letters:?}{}{}{}",
        if formula.as_i64() == Some(0) { "0" } else { "" },
        if has_root { "√" } else { "" },
        if has_power { "^" } else { "" },
        if is_below && task == Task::Simplify {
            "/"
        } else {
            ""
        },
    )
}
