//! Is this the right answer about equations, inequalities and systems?
//!
//! Every claimed solution is put into the equation as it stands; then the equation is searched for
//! solutions that the answer leaves out. Letters that stand for numbers are given several values,
//! and the answer must be right for each.

use std::collections::BTreeSet;

use super::answer::{self, Answer};
use super::claims::{self, Claim, Claimed, Membership};
use super::completeness::{self, Missing};
use super::equivalence::{self, Equivalence, Value};
use super::families;
use super::interval::{Decimals, Interval, Reading};
use super::question::{Domain, Question};
use super::roots;
use super::substitution::{self, Holds};
use super::{Verdict, inequalities, systems};
use crate::evaluate::Complex;
use crate::expression::{Constant, Expression, Operator, Relation, Symbol};
use crate::print;
use crate::problem::Task;

/// The verdict for a problem about equations, inequalities and systems.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    match &question.problem.main {
        Some(main) => judge_formula(question, main, answer),
        None => Verdict::cannot_tell("there is no formula to solve"),
    }
}

/// The verdict for the solutions of a formula: an equation, an inequality or a system.
pub(super) fn judge_formula(question: &Question, main: &Expression, answer: &Answer) -> Verdict {
    let problem = &question.problem;
    if main.size() > MAX_SIZE || answer.formulas.iter().any(|f| f.size() > MAX_SIZE) {
        return Verdict::cannot_tell("too large");
    }
    if problem.task == Task::System || systems::is_system(main) {
        return systems::judge(question, main, answer);
    }
    match main.operator() {
        Operator::Relation(relations)
            if relations.len() == 1
                && matches!(relations[0], Relation::Equal | Relation::Equivalent) =>
        {
            let [left, right] = main.operands() else {
                return Verdict::cannot_tell("there is no equation to solve");
            };
            // "Find the zeros of f(x) = …".
            let zero = Expression::integer(0);
            let (left, right) = match left.operator() {
                Operator::Apply if question.says(&["zero", "root", "solve", "solution"]) => {
                    (right, &zero)
                }
                _ => (left, right),
            };
            judge_equation(question, left, right, answer)
        }
        Operator::Relation(_) | Operator::Logic(_) | Operator::List => {
            inequalities::judge(question, main, answer)
        }
        // "Find the zeros of" an expression.
        _ if claims::is_number_form(main) && question.says(&["zero", "root", "solve"]) => {
            judge_equation(question, main, &Expression::integer(0), answer)
        }
        _ => Verdict::cannot_tell("there is no equation to solve"),
    }
}

/// Formulas with more nodes are not solved.
const MAX_SIZE: usize = 3_000;

/// An equation in one variable, with numbers for every other letter.
#[derive(Clone, Debug)]
pub(super) struct Equation {
    pub(super) left: Expression,
    pub(super) right: Expression,
    pub(super) variable: Symbol,
    pub(super) domain: Domain,
    pub(super) reading: Reading,
    /// The words speak of complex numbers.
    pub(super) is_complex: bool,
    /// The words ask for rounded numbers.
    pub(super) is_rounded: bool,
    /// The words ask for all solutions.
    pub(super) wants_all: bool,
}

impl Equation {
    pub(super) fn at(&self, value: &Expression) -> Holds {
        let left = self.left.substitute(&self.variable, value);
        let right = self.right.substitute(&self.variable, value);
        let statement = Expression::equation(left, right);
        substitution::holds(&statement, self.reading)
    }

    /// A claimed value as an angle in radians, if the variable is in degrees.
    pub(super) fn in_radians(&self, value: &Expression) -> Expression {
        let has_unit = value.parts().any(|part| {
            matches!(part.operator(), Operator::Degrees) || part.as_constant() == Some(Constant::Pi)
        });
        match self.domain.in_degrees && !has_unit {
            true => Expression::new(Operator::Degrees, [value.clone()]),
            false => value.clone(),
        }
    }

    fn told(&self, value: &Expression) -> String {
        substitution::assignment(&self.variable, value)
    }
}

/// A claimed solution that is one.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Solution {
    Real(Interval),
    Complex(Complex),
}

fn judge_equation(
    question: &Question,
    left: &Expression,
    right: &Expression,
    answer: &Answer,
) -> Verdict {
    let mut free: BTreeSet<Symbol> = left.free_symbols();
    free.extend(right.free_symbols());
    let Some(variable) = variable(question, &free, answer) else {
        return match free.is_empty() {
            true => Verdict::cannot_tell("the equation has no letter to solve for"),
            false => Verdict::cannot_tell("which letter to solve for is not said"),
        };
    };
    // `k = 3` beside the equation: a letter with a given value.
    let given: Vec<(Symbol, Expression)> = question
        .problem
        .conditions
        .iter()
        .filter_map(Expression::as_equation)
        .filter_map(|(l, r)| Some((l.as_symbol()?.clone(), r.clone())))
        .filter(|(l, r)| *l != variable && free.contains(l) && r.free_symbols().is_empty())
        .collect();
    let left = substitution::replace(left, &given);
    let right = substitution::replace(right, &given);
    let others: Vec<Symbol> = free
        .into_iter()
        .filter(|symbol| *symbol != variable && given.iter().all(|(known, _)| known != symbol))
        .collect();
    if let Some(verdict) = several_letters(&left, &right, &others, answer) {
        return verdict;
    }
    let claim = match claims::read(answer, &variable) {
        Ok(claim) => claim,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let mut used: BTreeSet<Symbol> = others.iter().cloned().collect();
    used.insert(variable.clone());
    let integers = answer::integer_letters(answer, &used);
    let equation = Equation {
        domain: question.domain(&variable),
        reading: Reading::default(),
        is_complex: question.is_complex() || asks_for_all_zeros(question),
        is_rounded: question.is_rounded(),
        wants_all: question.says(&[
            "all solution",
            "general",
            "all real solution",
            "all angle",
            "every solution",
        ]),
        left,
        right,
        variable,
    };
    let with_reading = |natural_logarithm: bool| {
        let equation = Equation {
            reading: Reading {
                natural_logarithm,
                decimals: Decimals::Exact,
            },
            ..equation.clone()
        };
        match others.is_empty() {
            true => verdict(&equation, &claim, &integers),
            false => with_parameters(&equation, &claim, &integers, &others),
        }
    };
    let found = with_reading(false);
    if found == Verdict::Holds && !answer.multiplicities.is_empty() {
        return multiplicities(&equation, answer);
    }
    let has_log = equivalence::has_log(&equation.left) || equivalence::has_log(&equation.right);
    if matches!(found, Verdict::Holds) || !has_log {
        return found;
    }
    match with_reading(true) {
        Verdict::Holds => Verdict::Holds,
        _ => found,
    }
}

/// Whether every root has the multiplicity that the answer names.
fn multiplicities(equation: &Equation, answer: &Answer) -> Verdict {
    let difference = Expression::difference(equation.left.clone(), equation.right.clone());
    for (place, claimed) in &answer.multiplicities {
        let Some(formula) = answer.formulas.get(*place) else {
            continue;
        };
        let root = match formula.as_equation() {
            Some((_, right)) => right,
            None => formula,
        };
        // ± gives roots of one kind.
        let Some(root) = answer::with_signs(root, false).into_iter().next() else {
            continue;
        };
        let Some(found) = multiplicity(&difference, &equation.variable, &root) else {
            return Verdict::cannot_tell("the multiplicity of a root is not known");
        };
        if found != *claimed {
            let told = equation.told(&root);
            return Verdict::fails_at(
                "a root has another multiplicity",
                format!("{told} has the multiplicity {found}"),
            );
        }
    }
    Verdict::Holds
}

/// How often a root is one: the first derivative that does not vanish there.
fn multiplicity(formula: &Expression, variable: &Symbol, root: &Expression) -> Option<u32> {
    let normal = crate::normal_form::normal(formula).ok()?;
    let mut slope = normal.numerator_expression();
    for order in 0..=20 {
        let here = crate::normal_form::normal(&slope.substitute(variable, root)).ok()?;
        if !here.is_zero() {
            return Some(order);
        }
        slope = crate::normal_form::collected(&crate::derivative::derivative(&slope, variable)?);
    }
    None
}

/// "Find all zeros": those that are not real are meant, too.
fn asks_for_all_zeros(question: &Question) -> bool {
    question.says(&[
        "all zeros",
        "all the zeros",
        "all of the zeros",
        "all roots",
        "all the roots",
        "all of the roots",
    ]) && !question.says(&["real", "rational", "graph", "intercept"])
}

/// One complex equation for several real letters, as `x + yi = 3 − 2i`.
fn several_letters(
    left: &Expression,
    right: &Expression,
    others: &[Symbol],
    answer: &Answer,
) -> Option<Verdict> {
    let mut values: Vec<(Symbol, Expression)> = Vec::new();
    for formula in &answer.formulas {
        let (letter, value) = formula.as_equation()?;
        let letter = letter.as_symbol()?.clone();
        let is_new = values.iter().all(|(known, _)| *known != letter);
        if !is_new || !value.free_symbols().is_empty() {
            return None;
        }
        values.push((letter, value.clone()));
    }
    let is_complex = left
        .parts()
        .chain(right.parts())
        .any(|part| part.as_constant() == Some(Constant::I));
    if values.len() < 2 || values.len() != others.len() + 1 || !is_complex {
        return None;
    }
    let statement = Expression::equation(
        substitution::replace(left, &values),
        substitution::replace(right, &values),
    );
    Some(match substitution::holds(&statement, Reading::default()) {
        Holds::Yes => Verdict::Holds,
        Holds::No(sides) => Verdict::fails_at("the equation does not hold", sides),
        _ => Verdict::cannot_tell("the sides cannot be compared"),
    })
}

/// The letter to solve for.
pub(super) fn variable(
    question: &Question,
    free: &BTreeSet<Symbol>,
    answer: &Answer,
) -> Option<Symbol> {
    let mut from_answer = answer
        .formulas
        .iter()
        .filter_map(|formula| match formula.operator() {
            Operator::Relation(_) => {
                let first = formula.operands()[0].as_symbol()?;
                let rest = formula.operands()[1..].iter();
                let is_isolated = rest.clone().all(|side| !side.mentions(first));
                let plain = first.with_subscript("");
                match () {
                    () if !is_isolated => None,
                    () if free.contains(first) => Some(first.clone()),
                    () if free.contains(&plain) => Some(plain),
                    () => None,
                }
            }
            _ => None,
        });
    let named = question
        .named_letter()
        .filter(|letter| free.contains(letter));
    let usual = question
        .problem
        .variables
        .first()
        .filter(|letter| free.contains(*letter))
        .cloned();
    let only = (free.len() == 1)
        .then(|| free.iter().next().cloned())
        .flatten();
    only.or_else(|| from_answer.next())
        .or(named)
        .or(usual)
        .or_else(|| free.iter().next().cloned())
}

/// The verdict for a claim about an equation with numbers for all letters but the variable.
fn verdict(equation: &Equation, claim: &Claim, integers: &BTreeSet<Symbol>) -> Verdict {
    match claim {
        Claim::Nothing => match completeness::missing(equation, &[]) {
            Missing::Root(told) => {
                Verdict::fails_at("there is a solution", format!("{told} is a solution"))
            }
            Missing::Everything => Verdict::fails_at(
                "there are solutions",
                "both sides are equal for every value",
            ),
            Missing::Nothing => Verdict::Holds,
            Missing::Unknown(reason) => Verdict::cannot_tell(reason),
        },
        Claim::Everything => match equivalence::compare(&equation.left, &equation.right) {
            Equivalence::Equal => Verdict::Holds,
            Equivalence::Different(witness) => {
                Verdict::fails_at("it is not true for every value", witness)
            }
            Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
        },
        Claim::Region(region) => {
            let statement = Expression::equation(equation.left.clone(), equation.right.clone());
            inequalities::region_verdict(
                &statement,
                &equation.variable,
                region,
                &equation.domain,
                equation.reading,
            )
        }
        Claim::Values(values) => {
            let is_family =
                |claimed: &Claimed| !claims::parameters(&claimed.value, integers).is_empty();
            if let Some(stranger) = values
                .iter()
                .flat_map(|claimed| claimed.value.free_symbols())
                .find(|symbol| !integers.contains(symbol))
            {
                return Verdict::cannot_tell(format!(
                    "the letter {} in the answer is not in the problem",
                    equivalence::name(&stranger)
                ));
            }
            if values.iter().any(is_family) {
                return families::verdict(equation, values, integers);
            }
            let mut solutions = Vec::new();
            let mut doubt = None;
            for claimed in values {
                match accept(equation, claimed) {
                    Accepted::Yes(solution) => solutions.push(solution),
                    Accepted::No(verdict) => return verdict,
                    Accepted::Unclear(reason) => doubt = Some(reason),
                }
            }
            if let Some(reason) = doubt {
                return Verdict::cannot_tell(reason);
            }
            match completeness::missing(equation, &solutions) {
                Missing::Nothing => Verdict::Holds,
                Missing::Everything => Verdict::fails_at(
                    "there are other solutions",
                    "both sides are equal for every value",
                ),
                Missing::Root(told) => {
                    Verdict::fails_at("a solution is missing", format!("also has the root {told}"))
                }
                Missing::Unknown(reason) => Verdict::cannot_tell(reason),
            }
        }
    }
}

/// Whether a claimed solution is one.
pub(super) enum Accepted {
    Yes(Solution),
    No(Verdict),
    Unclear(String),
}

/// Whether a claimed solution without letters is one.
pub(super) fn accept(equation: &Equation, claimed: &Claimed) -> Accepted {
    let value = equation.in_radians(&claimed.value);
    let told = equation.told(&claimed.value);
    if let Some((other, is_rounded)) = &claimed.other {
        match equivalence::compare_rounded(&claimed.value, other, *is_rounded) {
            Equivalence::Equal => {}
            Equivalence::Different(witness) => {
                return Accepted::No(Verdict::fails_at(
                    "the two forms of the solution are not equal",
                    witness,
                ));
            }
            Equivalence::Unknown(reason) => return Accepted::Unclear(reason),
        }
    }
    let is_rounded = claimed.is_rounded || equation.is_rounded;
    match equation.at(&value) {
        Holds::Yes => {
            let solution = match equivalence::value(&value, equation.reading) {
                Value::Real(bounds) => Solution::Real(bounds),
                Value::Complex(value) => Solution::Complex(value),
                _ => return Accepted::Unclear("the value of the answer cannot be computed".into()),
            };
            if let (Solution::Real(bounds), Some(region)) = (&solution, &equation.domain.region) {
                match region.holds(*bounds) {
                    Membership::Inside => {}
                    Membership::Unclear => {
                        return Accepted::Unclear("the interval is not understood".into());
                    }
                    Membership::Outside => {
                        return Accepted::No(Verdict::fails_at(
                            "a solution is not in the given interval",
                            format!("{told} is outside it"),
                        ));
                    }
                }
            }
            Accepted::Yes(solution)
        }
        Holds::No(sides) => {
            if is_rounded || equivalence::has_decimal(&claimed.value) {
                match rounded(equation, &value, is_rounded) {
                    Some(Ok(within)) => return Accepted::Yes(Solution::Real(within)),
                    Some(Err(reason)) => return Accepted::Unclear(reason),
                    None => {}
                }
            }
            Accepted::No(Verdict::fails_at(
                format!("{told} is no solution"),
                format!("at {told} {sides}"),
            ))
        }
        Holds::Outside(outside) => Accepted::No(Verdict::fails_at(
            format!("{told} is extraneous"),
            format!("{told} is extraneous: it {}", outside.told()),
        )),
        Holds::Unknown => Accepted::Unclear(format!("the sides cannot be compared at {told}")),
    }
}

/// The solution that a claimed value is a rounding of, if there is one; an error if there may be.
fn rounded(
    equation: &Equation,
    value: &Expression,
    is_rounded: bool,
) -> Option<Result<Interval, String>> {
    let curve = completeness::curve(equation)?;
    for decimals in [Decimals::Rounded, Decimals::Loose] {
        let allowed = equivalence::rounded_bounds(value, decimals, is_rounded)?;
        let mut budget = 100_000;
        let zeros = roots::zeros(&curve, allowed, &mut budget);
        let slack = 1e-6 * (1.0 + allowed.middle().abs());
        let near = zeros.found.iter().find(|zero| {
            // A pole is no zero.
            zero.is_certain
                || curve
                    .function
                    .at(zero.within.middle())
                    .is_ok_and(|at| at.values.low.abs().min(at.values.high.abs()) < 1e-3)
        });
        if let Some(zero) = near {
            if equivalence::ends_before(degrees_of(equation, zero.within, value), value) {
                return None;
            }
            let within = Interval::new(zero.within.low - slack, zero.within.high + slack);
            return Some(match decimals {
                Decimals::Rounded => Ok(within),
                _ => Err("the last digit may have been rounded on the way".into()),
            });
        }
    }
    None
}

/// A zero in the unit in which the value was claimed.
fn degrees_of(_equation: &Equation, within: Interval, value: &Expression) -> Interval {
    match value.operator() {
        Operator::Degrees => {
            let factor = 180.0 / std::f64::consts::PI;
            Interval::new(within.low * factor, within.high * factor)
        }
        _ => within,
    }
}

/// How often letters are given values.
const TRIALS: usize = 6;

/// The verdict for an equation with letters that stand for numbers.
fn with_parameters(
    equation: &Equation,
    claim: &Claim,
    integers: &BTreeSet<Symbol>,
    others: &[Symbol],
) -> Verdict {
    let mut held = 0;
    let mut failed = Vec::new();
    let mut reason = None;
    for trial in 0..TRIALS {
        let values: Vec<(Symbol, Expression)> = others
            .iter()
            .enumerate()
            .map(|(rank, letter)| {
                let value = equivalence::coordinate(trial, rank);
                (letter.clone(), substitution::exactly(value))
            })
            .collect();
        let put = |expression: &Expression| substitution::replace(expression, &values);
        let claim = match claim {
            Claim::Nothing => Claim::Nothing,
            Claim::Everything => Claim::Everything,
            Claim::Region(region) => Claim::Region(region.map(&put)),
            Claim::Values(list) => Claim::Values(
                list.iter()
                    .map(|claimed| Claimed {
                        value: put(&claimed.value),
                        is_rounded: claimed.is_rounded,
                        other: claimed.other.as_ref().map(|(o, r)| (put(o), *r)),
                    })
                    .collect(),
            ),
        };
        let equation = Equation {
            left: put(&equation.left),
            right: put(&equation.right),
            ..equation.clone()
        };
        match verdict(&equation, &claim, integers) {
            Verdict::Holds => held += 1,
            Verdict::Fails { reason, witness } => {
                // A formula may be meant for other values of the letters.
                let has_no_value = witness.as_ref().is_some_and(|w| w.contains("extraneous"));
                if !has_no_value {
                    let at: Vec<String> = values
                        .iter()
                        .map(|(letter, value)| substitution::assignment(letter, value))
                        .collect();
                    failed.push((
                        reason,
                        witness.map(|w| format!("for {}: {w}", at.join(", "))),
                    ));
                }
            }
            Verdict::CannotTell { reason: why } => reason = Some(why),
        }
    }
    let is_incomplete = |failed: &[(String, Option<String>)]| {
        failed
            .iter()
            .all(|(reason, _)| reason == "a solution is missing")
    };
    match (held, failed.len()) {
        (2.., 0) => Verdict::Holds,
        (_, 2..) if is_incomplete(&failed) && claims_positive_root(claim) => {
            Verdict::cannot_tell("there is another solution, which may be left out on purpose")
        }
        (0, 2..) => {
            let (reason, witness) = failed.swap_remove(0);
            Verdict::Fails { reason, witness }
        }
        _ => Verdict::cannot_tell(
            reason.unwrap_or_else(|| "it depends on the values of the letters".into()),
        ),
    }
}

/// The answer is one root without a sign, as formulas for lengths are given.
fn claims_positive_root(claim: &Claim) -> bool {
    match claim {
        Claim::Values(list) => match list.as_slice() {
            [only] => {
                only.value.parts().any(|part| {
                    matches!(
                        part.operator(),
                        Operator::Root | Operator::NthRoot | Operator::Power
                    )
                }) && !matches!(only.value.operator(), Operator::Negative)
            }
            _ => false,
        },
        _ => false,
    }
}

/// An expression in short form for a message.
pub(super) fn shown(expression: &Expression) -> String {
    print::plain(expression)
}
