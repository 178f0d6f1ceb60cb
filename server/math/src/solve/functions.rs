//! What is the value, the inverse or the domain of a function?

use std::collections::BTreeMap;

use super::{Key, formula, graphs, inequalities, power_series, transforms, write};
use crate::derivative::derivative;
use crate::expression::{Brackets, Constant, Expression, Function, Operator, Symbol};
use crate::normal_form::normal;
use crate::problem::Problem;
use crate::views;

/// A function that a problem defines: its name if it has one, its letter, and its formula.
#[derive(Clone, Debug)]
pub(super) struct Definition {
    pub(super) name: Option<Expression>,
    pub(super) variable: Symbol,
    pub(super) body: Expression,
}

impl Definition {
    /// `f(x) = ...`, `y = ...`, or a formula in one letter.
    pub(super) fn of(formula: &Expression) -> Option<Self> {
        let (left, body) = match formula.as_equation() {
            Some((left, body)) => (Some(left), body),
            None => (None, formula),
        };
        let variable = match left.map(|left| (left.operator(), left.operands())) {
            Some((Operator::Apply, [_, argument])) => argument.as_symbol()?.clone(),
            Some((Operator::Symbol(name), _)) if body.mentions(name) => return None,
            Some((Operator::Symbol(_), _)) | None => {
                let mut letters = body.free_symbols().into_iter();
                match (letters.next(), letters.next()) {
                    (Some(letter), None) => letter,
                    _ => return None,
                }
            }
            _ => return None,
        };
        let is_number = !matches!(
            body.operator(),
            Operator::Relation(_) | Operator::System | Operator::List
        );
        is_number.then(|| Self {
            name: left.cloned(),
            variable,
            body: body.clone(),
        })
    }

    pub(super) fn letter(&self) -> Expression {
        Expression::new(Operator::Symbol(self.variable.clone()), [])
    }
}

/// A problem about a function or a curve; what is asked stands in the instructions.
pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let asked = |word: &str| problem.instructions.contains(word);
    // `y = x^2, (2, 4)`: a curve and what is said of it.
    if let (Operator::List, [first, rest @ ..]) = (main.operator(), main.operands())
        && first.as_equation().is_some()
        && rest.iter().all(|item| item.as_equation().is_none())
    {
        let mut parted = problem.clone();
        parted.conditions.extend(rest.iter().cloned());
        return solve(&parted, first);
    }
    if asked("Laplace") {
        return transforms::solve(problem, main);
    }
    if asked("Taylor") || asked("power series") {
        return power_series::taylor(problem, main);
    }
    if asked("inverse function") {
        return inverse(main);
    }
    if asked("domain") && !asked("range") {
        let definition = Definition::of(main).ok_or("the function is not understood")?;
        return inequalities::domain(&definition.body, &definition.variable);
    }
    if let Some(keys) = graphs::solve(problem, main) {
        return keys;
    }
    value(problem, main)
}

/// The inverse of a function in whose formula the letter occurs linearly above and below.
fn inverse(main: &Expression) -> Result<Vec<Key>, String> {
    let definition = Definition::of(main).ok_or("the function is not understood")?;
    let value = Expression::symbol("value");
    let difference = Expression::difference(definition.body.clone(), value);
    let difference = normal(&difference).map_err(|_| "it cannot be collected")?;
    let above = crate::normal_form::Normal::whole(difference.numerator().clone());
    let linear = views::linear_in(&above, &definition.letter());
    let solution = match linear.filter(|(slope, _)| !slope.is_zero()) {
        Some((slope, rest)) => {
            let solution = rest
                .negate()
                .divide(&slope)
                .map_err(|_| "it cannot be divided")?;
            write::over_one_denominator(&solution)
        }
        None => peeled(&definition).ok_or("no method of a first course inverts it")?,
    };
    let letter = definition.letter();
    let solution = solution.substitute(&Symbol::new("value"), &letter);
    let name = match definition.name.map(|name| (name.operator().clone(), name)) {
        Some((Operator::Apply, name)) => {
            let function = name.operands().first().ok_or("the function has no name")?;
            let inverse = Expression::new(Operator::InverseFunction, [function.clone()]);
            Expression::apply(inverse, [letter])
        }
        _ => Expression::symbol("y"),
    };
    formula(Expression::equation(name, solution))
}

/// The letter in terms of the value of a function, step by step from outside.
fn peeled(definition: &Definition) -> Option<Expression> {
    let is_letter = |kernel: &Expression| kernel.mentions(&definition.variable);
    let mut known = Expression::symbol("value");
    let mut body = definition.body.clone();
    for _ in 0..6 {
        if body.as_symbol() == Some(&definition.variable) {
            return Some(known);
        }
        let number = normal(&body).ok()?;
        let mut kernel = None;
        let mut rest = write::integer(0);
        for (monomial, coefficient) in views::coefficients(&number, is_letter)? {
            match monomial.powers() {
                [] => rest = write::normal(&coefficient),
                [(found, exponent)] if kernel.is_none() => {
                    kernel = Some((found.clone(), exponent.clone(), coefficient));
                }
                _ => return None,
            }
        }
        let (kernel, exponent, slope) = kernel?;
        let moved = Expression::difference(known, rest);
        let quotient = Expression::fraction(moved, write::normal(&slope));
        let moved = write::over_one_denominator(&normal(&quotient).ok()?);
        // kernel^exponent = moved
        let rooted = match exponent.as_fraction()? {
            (1, 1) => moved,
            (1, d) => Expression::power(moved, write::integer(d)),
            (n, 1) if n > 1 && n % 2 == 1 => {
                Expression::new(Operator::NthRoot, [moved, write::integer(n)])
            }
            _ => return None,
        };
        let is_e = |base: &Expression| base.as_constant() == Some(Constant::E);
        (body, known) = match (kernel.operator(), kernel.operands()) {
            (Operator::Symbol(_) | Operator::Sum, _) => (kernel.clone(), rooted),
            (Operator::Power, [base, inner]) if is_e(base) => {
                (inner.clone(), Expression::function(Function::Ln, rooted))
            }
            (Operator::Function(Function::Ln), [inner]) => {
                let e = Expression::constant(Constant::E);
                (inner.clone(), Expression::power(e, rooted))
            }
            _ => return None,
        };
    }
    None
}

/// f(3), f(a + 1), (f ∘ g)(x).
fn value(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let formulas = || std::iter::once(main).chain(&problem.conditions);
    let mut known: BTreeMap<Symbol, Definition> = BTreeMap::new();
    for given in formulas().flat_map(|formula| match formula.operator() {
        Operator::List | Operator::System => formula.operands().to_vec(),
        _ => vec![formula.clone()],
    }) {
        if let Some(definition) = Definition::of(&given)
            && let Some(name) = &definition.name
            && let (Operator::Apply, [function, _]) = (name.operator(), name.operands())
            && let Some(function) = function.as_symbol()
        {
            known.insert(function.clone(), definition);
        }
    }
    let mut wanted = formulas().filter(|formula| {
        formula.as_equation().is_none()
            && formula
                .parts()
                .any(|part| matches!(part.operator(), Operator::Apply))
    });
    let (Some(wanted), None) = (wanted.next(), wanted.next()) else {
        return Err("problems of this kind are not solved".into());
    };
    let unfolded = unfold(wanted, &known, 8).ok_or("a function in it is not given")?;
    let value = normal(&unfolded).map_err(|_| "there is no value there")?;
    formula(write::normal(&value))
}

fn unfold(
    expression: &Expression,
    known: &BTreeMap<Symbol, Definition>,
    depth: u32,
) -> Option<Expression> {
    let mut is_known = depth > 0;
    let inner = expression.map_operands(|operand| {
        unfold(operand, known, depth.saturating_sub(1)).unwrap_or_else(|| {
            is_known = false;
            operand.clone()
        })
    });
    if !is_known {
        return None;
    }
    let (Operator::Apply, [function, arguments @ ..]) = (inner.operator(), inner.operands()) else {
        return Some(inner);
    };
    let argument = match arguments {
        [one] => one.clone(),
        _ => return None,
    };
    let functions = match function.operator() {
        Operator::Composition => function.operands(),
        _ => std::slice::from_ref(function),
    };
    functions
        .iter()
        .rev()
        .try_fold(argument, |value, function| {
            let (name, order) = match (function.operator(), function.operands()) {
                (Operator::Prime(order), [name]) => (name, *order),
                _ => (function, 0),
            };
            let definition = known.get(name.as_symbol()?)?;
            let slope = (0..order.min(4)).try_fold(definition.body.clone(), |slope, _| {
                derivative(&slope, &definition.variable)
            })?;
            Some(slope.substitute(&definition.variable, &value))
        })
}

/// A point in the plane.
pub(super) fn point(x: Expression, y: Expression) -> Expression {
    Expression::new(Operator::Tuple(Brackets::Round), [x, y])
}
