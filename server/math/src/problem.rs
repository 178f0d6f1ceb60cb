//! What does a problem's statement ask?
//!
//! A statement is words and formulas in turn. The words say what is to be done ([`Task`],
//! [`Problem::instructions`]), and with which formula: the *main* formula is the one that is asked
//! about, and the others are conditions, such as `$y(0) = 1$` after "with" or `$[0, 2\pi]$` after
//! "on". The words are English; without a word that is known, the main formula alone decides.

mod exercise;
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
    /// It stands in the instruction of a group of exercises.
    is_introduced: bool,
}

/// Reads a statement. Never fails.
///
/// A last sentence that is nothing but formulas is an exercise below an instruction, as textbooks
/// print them for a whole group: what is asked about is there, and formulas of the instruction say
/// for which letter, on which interval or in which form.
pub fn read(parts: &[Part<'_>]) -> Problem {
    let parts = exercise::split(parts);
    let introduced = exercise::introduced(&parts);
    let is_bare = introduced.is_some();
    let words = Words::read(&parts);
    let (mut formulas, is_sound) = read_formulas(&parts, &words, introduced.unwrap_or(0));
    let mut instructions = words.instructions();
    wanted_derivatives(&mut formulas, &mut instructions);
    let (main, conditions) = choose(formulas);
    let main = main.map(tidied);
    infer(main.as_ref(), &conditions, &mut instructions);
    // A heading above a bare formula asks for nothing; "Find the discriminant" does, even where it
    // is not known what for.
    let is_silent =
        words.are_silent() || (is_bare && instructions.is_empty() && !words.ask_for_something());
    let task = task(main.as_ref(), is_silent, &instructions);
    let main = main.map(|main| completed(main, task, &instructions, &conditions));
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
        remainder: match is_silent {
            true => None,
            false => words.remainder(task),
        },
    };
    if is_sound {
        // A formula that had to be mended may have been meant otherwise.
        problem.fingerprint = fingerprint::of(&problem);
    }
    problem
}

/// What a text asks, each as one word of our own: "the tangent line to" asks for a tangent line.
pub fn instructions_in(text: &str) -> BTreeSet<&'static str> {
    Words::instructions_in(text)
}

/// Reads a textbook's exercise: the instruction that is printed once for a group of exercises, and
/// the exercise itself, which is a formula, or a sentence with formulas between dollar signs (or
/// `\\(` and `\\)`). Never fails.
pub fn read_exercise(instruction: &str, exercise: &str) -> Problem {
    read(&exercise_parts(instruction, exercise))
}

/// The words and formulas of a textbook's exercise, as [`read_exercise`] takes them.
pub fn exercise_parts<'a>(instruction: &'a str, exercise: &'a str) -> Vec<Part<'a>> {
    let (instruction, exercise) = (instruction.trim(), exercise.trim());
    let mut parts = exercise::parts(instruction);
    if !parts.is_empty() {
        // An instruction need not end with a full stop.
        parts.push(Part::Words("."));
    }
    match exercise::has_formula_marks(exercise) || exercise::is_prose(exercise) {
        true => parts.extend(exercise::parts(exercise)),
        false => parts.push(Part::Tex(exercise)),
    }
    parts
}

/// The pieces of a formula without marks: words between its parts, such as `\text{ for }`, are words.
pub(crate) fn pieces_of_formula<'a>(tex: &'a str, parts: &mut Vec<Part<'a>>) {
    exercise::formula_parts(tex, parts);
}

/// The letters e and i where the words say that one is to be found: "solve for `$i$`".
pub(crate) fn solved_constants(parts: &[Part<'_>]) -> Vec<&'static str> {
    let mut found = Vec::new();
    for letter in ["e", "i"] {
        let in_words = parts.iter().any(|part| match part {
            Part::Words(words) => words
                .to_lowercase()
                .split(|c: char| !c.is_alphanumeric())
                .collect::<Vec<_>>()
                .windows(2)
                .any(|pair| pair == ["for", letter]),
            Part::Tex(_) => false,
        });
        let apart = parts.windows(2).any(|pair| match pair {
            [Part::Words(words), Part::Tex(tex)] => {
                let words = words.trim_end().to_lowercase();
                tex.trim() == letter
                    && ["for", "for the variable", "value of"].iter().any(|lead| {
                        words
                            .strip_suffix(lead)
                            .is_some_and(|rest| !rest.ends_with(char::is_alphabetic))
                    })
            }
            _ => false,
        });
        if in_words || apart {
            found.push(letter);
        }
    }
    found
}

/// The formulas, read with what all of them say about which letters are functions, and whether
/// none of them is malformed.
fn read_formulas(parts: &[Part<'_>], words: &Words<'_>, introduced: usize) -> (Vec<Formula>, bool) {
    let tex: Vec<&str> = parts
        .iter()
        .filter_map(|part| match part {
            Part::Tex(tex) => Some(*tex),
            Part::Words(_) => None,
        })
        .collect();
    let mut declared = Declared::new().variables(solved_constants(parts));
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
    for (place, expression) in expressions.into_iter().enumerate() {
        let position = words.positions().get(place).unwrap_or(&Position::Asked);
        let is_introduced = place < introduced;
        match (expression.operator(), expression.operands()) {
            // `y' = y, \quad y(0) = 1` and `\int x e^{x^2}\,dx, \quad u = x^2` are written as one
            // formula and meant as two.
            (Operator::List, items) if items.iter().any(is_statement) => {
                // An integral that comes first is what the others are said of.
                let leads = items.first().is_some_and(|first| !is_statement(first));
                formulas.extend(items.iter().enumerate().map(|(at, item)| Formula {
                    expression: item.clone(),
                    position: match leads && at > 0 {
                        true => Position::Condition,
                        false => *position,
                    },
                    is_introduced,
                }));
            }
            _ => formulas.push(Formula {
                expression,
                position: *position,
                is_introduced,
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
            // `0 ≤ x < 2π` says where x is.
            [low, middle, high]
                if middle.as_symbol().is_some() && is_constant(low) && is_constant(high) =>
            {
                1
            }
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
    let has_introduced = formulas.iter().any(|formula| formula.is_introduced);
    let score = |formula: &Formula| {
        let weight = weight(&formula.expression);
        match formula.position {
            // "Write in the form `$a + bi$`. `$5$`"
            _ if weight == 0
                && has_introduced
                && !formula.is_introduced
                && formula.expression.as_symbol().is_none() =>
            {
                4
            }
            _ if weight == 0 => 0,
            _ if formula.is_introduced => weight,
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
        formula.position == position
            && formula.is_introduced == formulas[best].is_introduced
            && belong_together(&formulas[best].expression, formula)
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
fn task(main: Option<&Expression>, is_silent: bool, instructions: &BTreeSet<&'static str>) -> Task {
    let asked = |instruction: &str| instructions.contains(instruction);
    let any = |list: &[&str]| list.iter().any(|instruction| asked(instruction));
    // "State the domain" asks for the domain, and "Solve and explain" for a solution.
    let is_told = instructions
        .iter()
        .any(|instruction| !matches!(*instruction, "prove" | "state" | "justify" | "real"));
    if asked("prove") || ((asked("state") || asked("justify")) && !is_told) {
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
    let solves = asked("solve") || is_silent;
    let algebra = ["simplify", "expand", "combine", "compute", "solve"];
    if any(&DERIVATIVES) || (any(&DERIVATIVE_RULES) && !any(&algebra)) {
        return Task::Differentiate;
    }
    if asked("integrate") {
        return Task::Integrate;
    }
    if (is_differential_equation || (is_system && has_derivative)) && (solves || any(&ODE_METHODS))
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
        "orthonormal",
        "trace",
        "invertible",
        "linear combination",
        "dot product",
        "cross product",
        "projection",
        "angle",
        "magnitude",
        "unit vector",
    ];
    let has_vector = main.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Matrix(_) | Operator::Tuple(_) | Operator::Function(Function::Determinant)
        ) || part.as_symbol().is_some_and(Symbol::is_vector)
    });
    if has_vector && vectors.iter().any(|instruction| asked(instruction)) {
        return Task::Matrix;
    }
    if has_matrix && !is_system {
        return Task::Matrix;
    }
    let has_arrow = main
        .parts()
        .any(|part| *part.operator() == Operator::Tuple(Brackets::Angle));
    if has_arrow && !is_equation && (is_silent || any(&["compute", "simplify"])) {
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
            () if asked("limit") || (asked("converge") && asked("sequence")) => Task::Limit,
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
    let is_long = has(|operator| matches!(operator, Operator::Series(..) | Operator::Ellipsis));
    match () {
        () if top(|operator| matches!(operator, Operator::Integral(_))) => Task::Integrate,
        () if top(|operator| matches!(operator, Operator::Limit(_))) => Task::Limit,
        () if top(|operator| matches!(operator, Operator::Series(..))) => Task::Sum,
        () if top(|operator| matches!(operator, Operator::Derivative(_))) => Task::Differentiate,
        () if asked("limit") || (asked("converge") && asked("sequence")) => Task::Limit,
        () if asked("converge") || (asked("sum") && is_long) => Task::Sum,
        () if any(&NOT_SIMPLIFIED) => Task::Other,
        () if any(&COMPUTES) || asked("sum") || is_silent => Task::Simplify,
        () => Task::Other,
    }
}

/// Instructions that ask for a derivative.
const DERIVATIVES: [&str; 6] = [
    "differentiate",
    "second derivative",
    "third derivative",
    "partial derivative",
    "logarithmic differentiation",
    "implicit",
];

/// Rules for derivatives; those for exponents and logarithms have the same names.
const DERIVATIVE_RULES: [&str; 4] = ["product rule", "quotient rule", "chain rule", "power rule"];

/// Instructions that ask to solve an equation with derivatives in it.
const ODE_METHODS: [&str; 12] = [
    "Bernoulli",
    "Cauchy-Euler",
    "general solution",
    "particular solution",
    "separate",
    "integrating factor",
    "undetermined coefficients",
    "variation of parameters",
    "Laplace",
    "power series",
    "exact equation",
    "long run",
];

/// Instructions that ask to bring an expression into another form.
const COMPUTES: [&str; 17] = [
    "simplify",
    "compute",
    "expand",
    "factor",
    "rationalise",
    "combine",
    "complete the square",
    "partial fractions",
    "polar",
    "complex",
    "approximate",
    "rewrite",
    "divide",
    "gcd",
    "lcm",
    "modulus",
    "standard form",
];

/// Instructions that ask about an expression as a function, or for something else than its value.
const NOT_SIMPLIFIED: [&str; 24] = [
    "graph",
    "domain",
    "range",
    "asymptotes",
    "intercepts",
    "vertex",
    "slope",
    "tangent line",
    "critical points",
    "extrema",
    "inflection",
    "monotonic",
    "concavity",
    "continuous",
    "differentiable",
    "area",
    "volume",
    "Newton",
    "Taylor",
    "power series",
    "Laplace",
    "Fourier",
    "inverse function",
    "Wronskian",
];

/// A derivative that the words ask for by its sign: "Find `$\frac{dy}{dx}$`". Taken out of the
/// formulas.
fn wanted_derivatives(formulas: &mut Vec<Formula>, instructions: &mut BTreeSet<&'static str>) {
    let is_wanted = |formula: &Formula| {
        formula.position == Position::Asked && bare_derivative(&formula.expression).is_some()
    };
    let has_other = formulas.iter().any(|formula| {
        !is_wanted(formula)
            && weight(&formula.expression) > 0
            && !formula.expression.parts().any(|part| {
                matches!(
                    part.operator(),
                    Operator::Prime(_) | Operator::Derivative(_)
                )
            })
    });
    if !has_other {
        return;
    }
    formulas.retain(|formula| {
        if !is_wanted(formula) {
            return true;
        }
        match bare_derivative(&formula.expression) {
            Some((_, true)) => instructions.insert("partial derivative"),
            Some((1, _)) => instructions.insert("differentiate"),
            Some((2, _)) => instructions.insert("second derivative"),
            Some((3, _)) => instructions.insert("third derivative"),
            _ => return true,
        };
        false
    });
}

/// The order of a derivative of a named function and nothing else, and whether it is partial.
fn bare_derivative(expression: &Expression) -> Option<(u32, bool)> {
    let is_letter = |e: &Expression| e.as_symbol().is_some();
    match (expression.operator(), expression.operands()) {
        (Operator::Prime(order), [function]) if is_letter(function) => Some((*order, false)),
        (Operator::Apply, [function, arguments @ ..]) if arguments.iter().all(is_letter) => {
            bare_derivative(function)
        }
        (Operator::Derivative(by), [function, ..])
            if is_letter(function)
                || matches!((function.operator(), function.operands()),
                    (Operator::Apply, [name, arguments @ ..])
                        if is_letter(name) && arguments.iter().all(is_letter)) =>
        {
            Some((by.orders.iter().sum(), by.partial))
        }
        _ => None,
    }
}

/// What the formulas say about the instructions: to differentiate an equation that is not solved
/// for a letter is implicit differentiation; where f is given, to find f(2) is to find a value, and
/// f(g(x)) a composition.
fn infer(
    main: Option<&Expression>,
    conditions: &[Expression],
    instructions: &mut BTreeSet<&'static str>,
) {
    if main.is_some_and(|main| matches!(main.operator(), Operator::Matrix(_))) {
        instructions.extend(conditions.iter().filter_map(wanted_of_matrix));
    }
    let Some((left, right)) = main.and_then(Expression::as_equation) else {
        return;
    };
    if let (Operator::Apply, [function, _]) = (left.operator(), left.operands())
        && let Some(function) = function.as_symbol()
    {
        instructions.extend(
            conditions
                .iter()
                .filter_map(|wanted| wanted_of(function, wanted)),
        );
    }
    let differentiates = DERIVATIVES
        .iter()
        .any(|instruction| instructions.contains(instruction));
    let is_solved = match left.as_symbol() {
        Some(symbol) => !right.mentions(symbol),
        None => matches!(left.operator(), Operator::Apply | Operator::Indexed),
    };
    if differentiates && !is_solved {
        instructions.insert("implicit");
    }
}

/// What is asked of a matrix that is given, by a formula with its name: "Find `$\det A$`".
fn wanted_of_matrix(wanted: &Expression) -> Option<&'static str> {
    let [first, rest @ ..] = wanted.operands() else {
        return None;
    };
    first.as_symbol()?;
    match (wanted.operator(), rest) {
        (Operator::Function(Function::Determinant | Function::Abs), _) => Some("determinant"),
        (Operator::Function(Function::Rank), _) => Some("rank"),
        (Operator::Function(Function::Trace), _) => Some("trace"),
        (Operator::Power, [exponent]) if exponent.as_i64() == Some(-1) => Some("inverse"),
        _ => None,
    }
}

/// What is asked of a function that is given, by a formula in which it is used.
fn wanted_of(function: &Symbol, wanted: &Expression) -> Option<&'static str> {
    if is_statement(wanted) || !wanted.mentions(function) {
        return None;
    }
    let is_call = |part: &Expression| *part.operator() == Operator::Apply;
    let argument = |part: &Expression| match (part.operator(), part.operands()) {
        (Operator::Apply, [called, argument]) if called.as_symbol() == Some(function) => {
            Some(argument.clone())
        }
        _ => None,
    };
    let arguments: Vec<Expression> = wanted.parts().filter_map(argument).collect();
    let is_composed = arguments
        .iter()
        .any(|argument| argument.parts().any(is_call))
        || wanted
            .parts()
            .any(|part| *part.operator() == Operator::Composition);
    let is_other = arguments
        .iter()
        .any(|argument| argument.as_symbol().is_none());
    match () {
        () if is_composed => Some("composition"),
        () if is_other && *wanted.operator() == Operator::Fraction => Some("difference quotient"),
        () if is_other && *wanted.operator() == Operator::Apply => Some("value"),
        () => None,
    }
}

/// `A = \begin{bmatrix} ... \end{bmatrix}` as the matrix.
fn tidied(main: Expression) -> Expression {
    match main.as_equation() {
        Some((left, right))
            if left.as_symbol().is_some() && matches!(right.operator(), Operator::Matrix(_)) =>
        {
            let has_letters = right.parts().any(|part| part.as_symbol().is_some());
            match has_letters {
                true => main.clone(),
                false => right.clone(),
            }
        }
        _ => main,
    }
}

/// The main formula with what the words say about it: "the derivative of" a formula is the
/// derivative.
fn completed(
    main: Expression,
    task: Task,
    instructions: &BTreeSet<&'static str>,
    conditions: &[Expression],
) -> Expression {
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
            let order = match () {
                () if instructions.contains("third derivative") => 3,
                () if instructions.contains("second derivative") => 2,
                () => 1,
            };
            let by = Differentiation {
                partial: instructions.contains("partial derivative"),
                orders: [order].into_iter().collect(),
            };
            Expression::new(
                Operator::Derivative(Box::new(by)),
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
