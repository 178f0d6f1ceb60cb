//! What does a problem's statement ask?
//!
//! A statement is words and formulas in turn. The words say what is to be done ([`Task`],
//! [`Problem::instructions`]), and with which formula: the *main* formula is the one that is asked
//! about, and the others are conditions, such as `$y(0) = 1$` after "with" or `$[0, 2\pi]$` after
//! "on". The words are English; without a word that is known, the main formula alone decides.

mod letters;
mod words;

use std::collections::BTreeSet;

use crate::expression::{
    Bounds, Brackets, Differentiation, Expression, Function, Integration, Operator, Relation,
    Symbol,
};
use crate::fingerprint::{self, Fingerprint};
use crate::read::{Class, Declared};
use crate::stable_hash::Digest;
use crate::surface;
use words::{Position, Words};

/// A piece of a statement.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Part<'a> {
    /// Words.
    Words(&'a str),
    /// The TeX of one formula, without its dollar signs.
    Tex(&'a str),
}

/// What is to be done.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Task {
    /// Solve an equation.
    Equation,
    /// Solve an inequality.
    Inequality,
    /// Solve several equations together.
    System,
    /// Bring an expression into another form, or compute its value.
    Simplify,
    /// Differentiate.
    Differentiate,
    /// Integrate.
    Integrate,
    /// Find a limit.
    Limit,
    /// Find a sum, or decide whether there is one.
    Sum,
    /// Solve a differential equation.
    Ode,
    /// Compute with matrices or vectors.
    Matrix,
    /// State or prove something.
    Statement,
    /// Anything else.
    Other,
}

/// A problem's statement as it was understood.
#[derive(Clone, Debug, PartialEq)]
pub struct Problem {
    /// What is to be done.
    pub task: Task,
    /// What it looks like when numbers and letters are seen through; none if there is no formula
    /// to go by.
    pub fingerprint: Option<Fingerprint>,
    /// The formula that is asked about. Where the words ask for a derivative or an integral of a
    /// formula, it is that derivative or integral.
    pub main: Option<Expression>,
    /// What else is given: initial values, domains, definitions, in the order of the text.
    pub conditions: Vec<Expression>,
    /// The functions that are to be found.
    pub unknowns: Vec<Symbol>,
    /// The letters that are to be found or that the formulas vary with; other letters stand for
    /// numbers.
    pub variables: Vec<Symbol>,
    /// What the words ask beyond the task, each as one word of our own.
    pub instructions: BTreeSet<&'static str>,
    /// A hash of what the words say beyond the task and the instructions.
    pub(crate) remainder: Option<Digest>,
}

/// A formula and how the words before it introduce it.
struct Formula {
    expression: Expression,
    position: Position,
}

/// Reads a statement. Never fails.
pub fn read(parts: &[Part<'_>]) -> Problem {
    let words = Words::read(parts);
    let (formulas, is_sound) = read_formulas(parts, &words);
    let instructions = words.instructions();
    let (main, conditions) = choose(formulas);
    let task = task(main.as_ref(), &words, &instructions);
    let main = main.map(|main| completed(main, task, &conditions));
    let mut letters = letters::roles(task, main.as_ref(), &conditions);
    if instructions.contains("eigenvalues") {
        // What is asked for has a name of its own.
        let lambda = Symbol::new("λ");
        if !letters.variables.contains(&lambda) {
            letters.variables.push(lambda);
        }
    }
    let mut problem = Problem {
        task,
        fingerprint: None,
        main,
        conditions,
        unknowns: letters.unknowns,
        variables: letters.variables,
        instructions,
        remainder: words.remainder(task),
    };
    if is_sound {
        // A formula that had to be mended may have been meant otherwise.
        problem.fingerprint = fingerprint::of(&problem);
    }
    problem
}

/// The formulas, read with what all of them say about which letters are functions, and whether
/// none of them is malformed.
fn read_formulas(parts: &[Part<'_>], words: &Words<'_>) -> (Vec<Formula>, bool) {
    let tex: Vec<&str> = parts
        .iter()
        .filter_map(|part| match part {
            Part::Tex(tex) => Some(*tex),
            Part::Words(_) => None,
        })
        .collect();
    let mut declared = Declared::new();
    let mut is_sound = true;
    let mut expressions: Vec<Expression> = Vec::with_capacity(tex.len());
    for tex in &tex {
        let reading = crate::read(tex, &declared);
        let mut faults = reading.diagnostics.iter();
        is_sound &= faults.all(|fault| fault.class != Class::Malformed);
        declared.learn(&reading.expression);
        expressions.push(reading.expression);
    }
    if tex.len() > 1 {
        // What a later formula says holds for the earlier ones too.
        for (tex, expression) in tex.iter().zip(&mut expressions) {
            *expression = crate::read(tex, &declared).expression;
        }
    }
    let mut formulas = Vec::with_capacity(tex.len());
    for (expression, position) in expressions.into_iter().zip(words.positions()) {
        match (expression.operator(), expression.operands()) {
            // `y' = y, \quad y(0) = 1` is written as one formula and meant as two.
            (Operator::List, items) if items.iter().all(is_statement) => {
                formulas.extend(items.iter().map(|item| Formula {
                    expression: item.clone(),
                    position: *position,
                }));
            }
            _ => formulas.push(Formula {
                expression,
                position: *position,
            }),
        }
    }
    (formulas, is_sound)
}

fn is_statement(expression: &Expression) -> bool {
    matches!(expression.operator(), Operator::Relation(_))
}

/// Formulas with more levels than this are not understood.
const MAX_DEPTH: usize = 150;

/// How likely a formula is the one that the problem is about: 0 for a bare letter or number.
fn weight(expression: &Expression) -> u32 {
    match expression.operator() {
        _ if expression.depth() > MAX_DEPTH => 0,
        Operator::Hole
        | Operator::Opaque(_)
        | Operator::Text(_)
        | Operator::Ellipsis
        | Operator::Symbol(_)
        | Operator::Constant(_)
        | Operator::Indexed => 0,
        _ if surface::number(expression).is_some() => 0,
        Operator::Apply | Operator::Prime(_) | Operator::NthPrime => 1,
        Operator::Interval(_) => 1,
        Operator::Relation(_) => match expression.operands() {
            [left, right] if is_given_value(left, right) => 1,
            [left, _] if left.as_symbol().is_some() && is_membership(expression) => 1,
            _ => 3,
        },
        _ => 2,
    }
}

/// `\lambda = 5`, `y(0) = 1`, `a_1 = 2`: the value of something.
fn is_given_value(left: &Expression, right: &Expression) -> bool {
    let names = match (left.operator(), left.operands()) {
        (Operator::Symbol(_), _) => true,
        (Operator::Indexed, [_, index]) => surface::number(index).is_some(),
        (Operator::Apply, [_, arguments @ ..]) => arguments.iter().all(is_constant),
        _ => false,
    };
    names && is_constant(right)
}

fn is_membership(expression: &Expression) -> bool {
    matches!(expression.operator(), Operator::Relation(relations)
        if relations.iter().all(|r| matches!(r, Relation::In | Relation::Colon)))
}

/// No letter occurs in it.
fn is_constant(expression: &Expression) -> bool {
    expression.parts().all(|part| part.as_symbol().is_none())
}

/// The main formula and the others.
fn choose(formulas: Vec<Formula>) -> (Option<Expression>, Vec<Expression>) {
    let score = |formula: &Formula| {
        let weight = weight(&formula.expression);
        match formula.position {
            _ if weight == 0 => 0,
            Position::Asked => 10 + weight,
            // "Let f(x) = x^2. Find f'(2)": what is asked about is what was given.
            Position::Given => 8 + 2 * weight,
            Position::Condition => weight,
        }
    };
    let best = formulas
        .iter()
        .enumerate()
        .map(|(place, formula)| (score(formula), std::cmp::Reverse(place)))
        .filter(|(score, _)| *score > 0)
        .max();
    let Some((_, std::cmp::Reverse(best))) = best else {
        let conditions = formulas.into_iter().map(|f| f.expression).collect();
        return (None, conditions);
    };
    let position = formulas[best].position;
    let joins = |formula: &Formula| {
        formula.position == position && belong_together(&formulas[best].expression, formula)
    };
    let together: Vec<bool> = formulas
        .iter()
        .enumerate()
        .map(|(place, formula)| place == best || joins(formula))
        .collect();
    let mut main = Vec::new();
    let mut conditions = Vec::new();
    for (formula, together) in formulas.into_iter().zip(together) {
        match together {
            true => main.push(formula.expression),
            false => conditions.push(formula.expression),
        }
    }
    let joined = match main.len() {
        1 => main.pop(),
        _ if main.iter().all(|part| part.as_equation().is_some()) => {
            Some(Expression::new(Operator::System, main))
        }
        _ => Some(Expression::new(Operator::List, main)),
    };
    (joined, conditions)
}

/// Both are equations in the same letters, or both vectors or matrices.
fn belong_together(main: &Expression, other: &Formula) -> bool {
    let other = &other.expression;
    match (main.operator(), other.operator()) {
        (Operator::Tuple(_), Operator::Tuple(_)) => true,
        (Operator::Matrix(_), Operator::Matrix(_)) => true,
        (Operator::Relation(_), Operator::Relation(_)) => {
            weight(other) == 3
                && main.as_equation().is_some()
                && other.as_equation().is_some()
                && !is_definition(main)
                && !is_definition(other)
                && !main.free_symbols().is_disjoint(&other.free_symbols())
        }
        _ => false,
    }
}

/// `f(x) = ...`, `a_{n+1} = ...`.
fn is_definition(expression: &Expression) -> bool {
    expression
        .as_equation()
        .is_some_and(|(left, _)| matches!(left.operator(), Operator::Apply | Operator::Indexed))
}

/// What is to be done, from the words and the main formula.
fn task(
    main: Option<&Expression>,
    words: &Words<'_>,
    instructions: &BTreeSet<&'static str>,
) -> Task {
    let asked = |instruction: &str| instructions.contains(instruction);
    if asked("prove") || asked("state") {
        return Task::Statement;
    }
    let Some(main) = main else {
        return Task::Other;
    };
    let has = |wanted: fn(&Operator) -> bool| main.parts().any(|part| wanted(part.operator()));
    let is_equation = main.as_equation().is_some();
    let has_derivative = has(|operator| {
        matches!(
            operator,
            Operator::Prime(_) | Operator::NthPrime | Operator::Derivative(_)
        )
    });
    let is_differential_equation = is_equation
        && (has_derivative
            || (has(|operator| matches!(operator, Operator::Differential))
                && !has(|operator| matches!(operator, Operator::Integral(_)))));
    let is_system = matches!(main.operator(), Operator::System);
    let has_matrix = has(|operator| matches!(operator, Operator::Matrix(_)));
    let solves = asked("solve") || words.are_silent();
    if asked("differentiate") {
        return Task::Differentiate;
    }
    if asked("integrate") {
        return Task::Integrate;
    }
    if (is_differential_equation || (is_system && has_derivative))
        && (solves || asked("general solution"))
    {
        return Task::Ode;
    }
    let vectors = [
        "eigenvalues",
        "eigenvectors",
        "determinant",
        "rank",
        "diagonalise",
        "independent",
        "span",
        "basis",
        "null space",
        "column space",
        "row reduce",
        "orthogonal",
        "trace",
    ];
    let has_vector = main.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Matrix(_) | Operator::Tuple(_) | Operator::Function(Function::Determinant)
        )
    });
    if has_vector && vectors.iter().any(|instruction| asked(instruction)) {
        return Task::Matrix;
    }
    if has_matrix && !is_system {
        return Task::Matrix;
    }
    if is_system {
        return match solves || asked("Cramer") || asked("eliminate") || asked("substitute") {
            true => Task::System,
            false => Task::Other,
        };
    }
    if let Operator::Relation(relations) = main.operator() {
        let is_defined = is_definition(main) || main.operands()[0].as_symbol().is_some();
        let orders = relations.iter().all(|relation| {
            matches!(
                relation,
                Relation::Less
                    | Relation::LessOrEqual
                    | Relation::Greater
                    | Relation::GreaterOrEqual
            )
        });
        let by_formula = |task| match solves || asked("for which") {
            true => task,
            false => Task::Other,
        };
        return match () {
            () if asked("limit") => Task::Limit,
            () if asked("converge") || asked("sum") => Task::Sum,
            () if orders => by_formula(Task::Inequality),
            // What is asked of a function that is defined is told by the other words.
            () if is_definition(main) && !asked("solve") => Task::Other,
            () if is_defined && !asked("solve") && !asked("for which") => Task::Other,
            () if relations
                .iter()
                .all(|relation| *relation == Relation::Equal) =>
            {
                by_formula(Task::Equation)
            }
            () => Task::Other,
        };
    }
    let top = |wanted: fn(&Operator) -> bool| {
        surface::terms(main).iter().any(|term| {
            term.factors.iter().any(|factor| {
                factor
                    .base
                    .part()
                    .is_some_and(|part| wanted(part.operator()))
            })
        })
    };
    let computes = [
        "simplify",
        "compute",
        "expand",
        "factor",
        "rationalise",
        "combine",
        "complete the square",
        "partial fractions",
    ];
    match () {
        () if top(|operator| matches!(operator, Operator::Integral(_))) => Task::Integrate,
        () if top(|operator| matches!(operator, Operator::Limit(_))) => Task::Limit,
        () if top(|operator| matches!(operator, Operator::Series(..))) => Task::Sum,
        () if top(|operator| matches!(operator, Operator::Derivative(_))) => Task::Differentiate,
        () if asked("limit") => Task::Limit,
        () if asked("converge") || asked("sum") => Task::Sum,
        () if computes.iter().any(|instruction| asked(instruction)) => Task::Simplify,
        () if words.are_silent() => Task::Simplify,
        () => Task::Other,
    }
}

/// The main formula with what the words say about it: "the derivative of" a formula is the
/// derivative.
fn completed(main: Expression, task: Task, conditions: &[Expression]) -> Expression {
    let body = match main.as_equation() {
        // y = ..., f(x) = ...: what is differentiated is the right side.
        Some((left, right)) if is_definition(&main) || left.as_symbol().is_some() => right.clone(),
        Some(_) => return main,
        None => main.clone(),
    };
    let has = |wanted: fn(&Operator) -> bool| body.parts().any(|part| wanted(part.operator()));
    match task {
        Task::Differentiate
            if !has(|operator| {
                matches!(operator, Operator::Derivative(_) | Operator::Prime(_))
            }) =>
        {
            let Some(variable) = letters::main_variable(&body, Some(&main), conditions) else {
                return main;
            };
            let once = Differentiation {
                partial: false,
                orders: [1].into_iter().collect(),
            };
            Expression::new(
                Operator::Derivative(Box::new(once)),
                [body, Expression::new(Operator::Symbol(variable), [])],
            )
        }
        Task::Integrate if !has(|operator| matches!(operator, Operator::Integral(_))) => {
            let Some(variable) = letters::main_variable(&body, Some(&main), conditions) else {
                return main;
            };
            let indefinite = Integration {
                signs: 1,
                closed: false,
                variables: 1,
                bounds: Bounds::None,
            };
            Expression::new(
                Operator::Integral(indefinite),
                [body, Expression::new(Operator::Symbol(variable), [])],
            )
        }
        _ => main,
    }
}

/// A point in the plane or an interval is written alike; a vector has brackets of any kind.
pub(crate) fn is_vector(expression: &Expression) -> bool {
    match expression.operator() {
        Operator::Tuple(Brackets::Round | Brackets::Angle | Brackets::Square) => true,
        Operator::Matrix(shape) => shape.columns == 1,
        _ => false,
    }
}
