//! Is this the solution of the differential equation?
//!
//! An answer is put into the equation: it is developed into a Taylor polynomial, explicitly or along
//! the curve that it defines, and what is left over must vanish. Each initial value is looked at,
//! and the constants that are free are counted by the rank of the matrix of their effects.

use super::Context;
use super::implicit::Curve;
use super::jet::Jet;
use super::program::{Leaves, Program, compile, symbol_expression};
use super::question::{Claim, NamedDerivative, named_derivative};
use super::sample;
use crate::derivative::derivative;
use crate::expression::{Expression, Operator, Relation, Symbol};
use crate::verdict::Verdict;

/// The greatest order that is followed.
const MAX_ORDER: u32 = 8;

/// Equations for unknown functions of one variable.
struct System {
    by: Symbol,
    functions: Vec<Unknown>,
    equations: Vec<Equation>,
    conditions: Vec<Condition>,
    /// Letters of the equations that are neither.
    given: Vec<Symbol>,
}

/// An unknown function and the order to which it is differentiated.
#[derive(Clone, Debug)]
struct Unknown {
    name: Symbol,
    order: u32,
}

/// An equation in letters of our own for the derivatives.
struct Equation {
    /// The terms, of which the sum is zero.
    terms: Vec<Expression>,
}

/// y^(k)(a) = b.
struct Condition {
    function: usize,
    order: u32,
    at: Expression,
    value: Expression,
}

/// The letter that stands for the derivative of this order of a function.
fn letter(name: &Symbol, order: u32) -> Symbol {
    match order {
        0 => name.clone(),
        _ => name.with_subscript(&format!("{}′{order}", name.subscript())),
    }
}

/// A formula is an equation about derivatives of unknown functions.
pub(super) fn is_differential(formula: &Expression) -> bool {
    let Some((left, right)) = formula.as_equation() else {
        return false;
    };
    let holds_unknown = |side: &Expression| {
        side.parts().any(|part| match part.operator() {
            Operator::Prime(_) => part.operands()[0].as_symbol().is_some(),
            Operator::Derivative(_) => named_derivative(part).is_some() || is_of_unknown(part),
            Operator::Differential => true,
            _ => false,
        })
    };
    let is_value = |side: &Expression| {
        named_derivative(side).is_some_and(|named| {
            !named.at.is_empty() && named.at.iter().all(|(_, at)| at.as_symbol().is_none())
        })
    };
    let has_integral = formula
        .parts()
        .any(|part| matches!(part.operator(), Operator::Integral(_)));
    (holds_unknown(left) || holds_unknown(right)) && !is_value(left) && !has_integral
}

fn is_of_unknown(derivative: &Expression) -> bool {
    derivative.operands()[0]
        .parts()
        .any(|part| matches!(part.operator(), Operator::Prime(_) | Operator::Apply))
}

impl System {
    fn asked(context: &Context<'_>) -> Result<Self, String> {
        let question = context.question;
        let equations: Vec<&Expression> = question
            .formulas
            .iter()
            .filter(|formula| is_differential(formula))
            .collect();
        let (by, names) = letters(context, &equations)?;
        let mut functions: Vec<Unknown> = names
            .into_iter()
            .map(|name| Unknown { name, order: 1 })
            .collect();
        let mut read = Vec::new();
        for equation in &equations {
            for (left, right) in pairs(equation) {
                let zero = Expression::difference(left, right);
                let mut plain = rewrite(&zero, &by, &mut functions)?;
                // M dx + N dy = 0
                if zero
                    .parts()
                    .any(|part| matches!(part.operator(), Operator::Differential))
                {
                    plain = super::quantity::replace(&plain, &mut |part| match (
                        part.operator(),
                        part.operands(),
                    ) {
                        (Operator::Differential, [variable]) => {
                            let variable = variable.as_symbol()?;
                            match *variable == by {
                                true => Some(Expression::integer(1)),
                                false => Some(symbol_expression(&letter(variable, 1))),
                            }
                        }
                        _ => None,
                    });
                }
                let terms = match (plain.operator(), plain.operands()) {
                    (Operator::Sum, terms) => terms.iter().flat_map(spread).collect(),
                    _ => vec![plain],
                };
                read.push(Equation { terms });
            }
        }
        if read.is_empty() {
            return Err("the differential equation is not understood".into());
        }
        let mut known = vec![by.clone()];
        for function in &functions {
            known.extend((0..=function.order).map(|order| letter(&function.name, order)));
        }
        let mut given = Vec::new();
        for equation in &read {
            for symbol in equation.terms.iter().flat_map(Expression::free_symbols) {
                if !known.contains(&symbol) && !given.contains(&symbol) {
                    given.push(symbol);
                }
            }
        }
        let mut system = Self {
            by,
            functions,
            equations: read,
            conditions: Vec::new(),
            given,
        };
        system.conditions = system.read_conditions(context)?;
        for condition in &system.conditions {
            let letters = condition.at.free_symbols().into_iter();
            for symbol in letters.chain(condition.value.free_symbols()) {
                if !system.given.contains(&symbol) {
                    system.given.push(symbol);
                }
            }
        }
        Ok(system)
    }

    fn read_conditions(&self, context: &Context<'_>) -> Result<Vec<Condition>, String> {
        let mut conditions = Vec::new();
        let formulas = &context.question.formulas;
        for (place, formula) in formulas.iter().enumerate() {
            if is_differential(formula) {
                continue;
            }
            let Some((left, right)) = formula.as_equation() else {
                continue;
            };
            let sides = match formula.operands() {
                [first, middle @ .., last] if middle.len() == 1 => {
                    vec![(first, last), (&middle[0], last)]
                }
                _ => vec![(left, right)],
            };
            for (left, right) in sides {
                let named = match (left.operator(), left.operands()) {
                    (Operator::Apply, [function, at]) if function.as_symbol().is_some() => {
                        NamedDerivative {
                            function: function.clone(),
                            by: Vec::new(),
                            at: vec![(None, at.clone())],
                        }
                    }
                    _ => match named_derivative(left) {
                        Some(named) => named,
                        None => continue,
                    },
                };
                let function = named.function.as_symbol();
                let Some(function) = self
                    .functions
                    .iter()
                    .position(|known| Some(&known.name) == function)
                else {
                    continue;
                };
                let [(_, at)] = named.at.as_slice() else {
                    continue;
                };
                if at.as_symbol() == Some(&self.by) {
                    continue;
                }
                conditions.push(Condition {
                    function,
                    order: named.order(),
                    at: at.clone(),
                    value: right.clone(),
                });
            }
            // "y = 1 when x = 0"
            if let (Some(name), [function]) = (left.as_symbol(), self.functions.as_slice())
                && *name == function.name
                && crate::surface::number(right).is_some()
            {
                let is_at = |other: &&Expression| {
                    other.as_equation().is_some_and(|(letter, value)| {
                        letter.as_symbol() == Some(&self.by)
                            && crate::surface::number(value).is_some()
                    })
                };
                let after = formulas[place..].iter().find(is_at);
                if let Some((_, at)) = after
                    .or_else(|| formulas.iter().find(is_at))
                    .and_then(Expression::as_equation)
                {
                    conditions.push(Condition {
                        function: 0,
                        order: 0,
                        at: at.clone(),
                        value: right.clone(),
                    });
                }
            }
        }
        // "through the point (1, 2)"
        if conditions.is_empty()
            && self.functions.len() == 1
            && let Some(point) = formulas.iter().find(|formula| {
                matches!(
                    formula.operator(),
                    Operator::Tuple(_) | Operator::Interval(_)
                ) && formula.operands().len() == 2
            })
        {
            conditions.push(Condition {
                function: 0,
                order: 0,
                at: point.operands()[0].clone(),
                value: point.operands()[1].clone(),
            });
        }
        Ok(conditions)
    }

    fn total_order(&self) -> usize {
        self.functions.iter().map(|f| f.order as usize).sum()
    }

    fn length(&self) -> usize {
        let order = self.functions.iter().map(|f| f.order).max().unwrap_or(1);
        let wanted = self.conditions.iter().map(|c| c.order).max().unwrap_or(0);
        order.max(wanted) as usize + 1
    }
}

/// A term in its summands, so that their sizes tell how exact their sum can be.
fn spread(term: &Expression) -> Vec<Expression> {
    match (term.operator(), term.operands()) {
        (Operator::Sum, terms) => terms.iter().flat_map(spread).collect(),
        (Operator::Negative, [inner]) => spread(inner)
            .into_iter()
            .map(Expression::negative)
            .collect(),
        _ => vec![term.clone()],
    }
}

/// The sides of an equation; `a = b = c` is two, and an equation of vectors one for each component.
fn pairs(equation: &Expression) -> Vec<(Expression, Expression)> {
    equation
        .operands()
        .windows(2)
        .map(|pair| (pair[0].clone(), pair[1].clone()))
        .collect()
}

/// The independent letter and the unknown functions.
fn letters(
    context: &Context<'_>,
    equations: &[&Expression],
) -> Result<(Symbol, Vec<Symbol>), String> {
    let mut by: Option<Symbol> = None;
    let mut functions: Vec<Symbol> = Vec::new();
    let mut differentials: Vec<Symbol> = Vec::new();
    let mut add = |symbol: &Symbol| {
        if !functions.contains(symbol) {
            functions.push(symbol.clone());
        }
    };
    for part in equations.iter().flat_map(|equation| equation.parts()) {
        match (part.operator(), part.operands()) {
            (Operator::Prime(_), [function]) => {
                if let Some(symbol) = function.as_symbol() {
                    add(symbol);
                }
            }
            (Operator::Derivative(orders), [function, variables @ ..]) => {
                if orders.partial && variables.len() > 1 {
                    return Err("partial differential equations are not checked".into());
                }
                if let Some(variable) = variables.first().and_then(Expression::as_symbol) {
                    match &by {
                        Some(known) if known != variable => {
                            return Err("partial differential equations are not checked".into());
                        }
                        _ => by = Some(variable.clone()),
                    }
                }
                match (function.operator(), function.operands()) {
                    (Operator::Symbol(symbol), _) => add(symbol),
                    (Operator::Apply, [name, argument]) => {
                        if let Some(symbol) = name.as_symbol() {
                            add(symbol);
                        }
                        if by.is_none() {
                            by = argument.as_symbol().cloned();
                        }
                    }
                    _ => {}
                }
            }
            (Operator::Apply, [function, argument]) => {
                let inner = match (function.operator(), function.operands()) {
                    (Operator::Prime(_), [inner]) => inner.as_symbol(),
                    _ => None,
                };
                if let (Some(_), Some(argument)) = (inner, argument.as_symbol()) {
                    by.get_or_insert(argument.clone());
                }
            }
            (Operator::Differential, [variable]) => {
                if let Some(symbol) = variable.as_symbol()
                    && !differentials.contains(symbol)
                {
                    differentials.push(symbol.clone());
                }
            }
            _ => {}
        }
    }
    if functions.is_empty() {
        let [first, second] = differentials.as_slice() else {
            return Err("the unknown function is not understood".into());
        };
        // The letter that comes later is the function, as in M dx + N dy; but time is no function.
        let second_is_later = match (first.name(), second.name()) {
            ("t", _) => true,
            (_, "t") => false,
            _ => first < second,
        };
        let (x, y) = match second_is_later {
            true => (first, second),
            false => (second, first),
        };
        return Ok((x.clone(), vec![y.clone()]));
    }
    let by = match by {
        Some(by) => by,
        None => independent(context, equations, &functions)
            .ok_or("the independent variable is not understood")?,
    };
    functions.retain(|function| *function != by);
    Ok((by, functions))
}

/// The letter by which primes differentiate: one that occurs in the equation or the answer.
fn independent(
    context: &Context<'_>,
    equations: &[&Expression],
    functions: &[Symbol],
) -> Option<Symbol> {
    let claims = context.reply.claims.iter().map(|claim| &claim.whole);
    let in_equations = equations.iter().flat_map(|e| e.free_symbols());
    let in_claims = claims.flat_map(Expression::free_symbols);
    // `y(t) = ...` says it.
    let argument = |function: &Expression, argument: &Expression| {
        let inner = match (function.operator(), function.operands()) {
            (Operator::Prime(_), [inner]) => inner,
            _ => function,
        };
        let is_unknown = inner
            .as_symbol()
            .is_some_and(|name| functions.contains(name));
        is_unknown.then(|| argument.as_symbol().cloned()).flatten()
    };
    let all = context.question.formulas.iter();
    let all = all.chain(context.reply.claims.iter().map(|claim| &claim.whole));
    let said =
        all.flat_map(Expression::parts)
            .find_map(|part| match (part.operator(), part.operands()) {
                (Operator::Apply, [function, only]) => argument(function, only),
                _ => None,
            });
    if said.is_some() {
        return said;
    }
    let usual = ["x", "t", "s", "θ", "r", "z", "u"];
    let mut found: Vec<Symbol> = in_equations.filter(|s| !functions.contains(s)).collect();
    let rank = |symbol: &Symbol| usual.iter().position(|name| *name == symbol.name());
    found.retain(|symbol| rank(symbol).is_some() && symbol.subscript().is_empty());
    if found.is_empty() {
        found = in_claims.filter(|s| !functions.contains(s)).collect();
        found.retain(|symbol| rank(symbol).is_some() && symbol.subscript().is_empty());
    }
    found.sort_by_key(|symbol| rank(symbol));
    found.into_iter().next().or_else(|| Some(Symbol::new("x")))
}

/// The formula with letters in the place of the unknown functions' derivatives; orders are noted.
fn rewrite(
    formula: &Expression,
    by: &Symbol,
    functions: &mut Vec<Unknown>,
) -> Result<Expression, String> {
    let unknown = |name: &Symbol, functions: &[Unknown]| {
        functions.iter().position(|known| known.name == *name)
    };
    let note = |place: usize, order: u32, functions: &mut Vec<Unknown>| {
        if order > MAX_ORDER {
            return Err(super::program::TOO_LARGE.to_owned());
        }
        functions[place].order = functions[place].order.max(order);
        Ok(symbol_expression(&letter(&functions[place].name, order)))
    };
    if let Some(named) = named_derivative(formula)
        && let Some(name) = named.function.as_symbol()
        && let Some(place) = unknown(name, functions)
    {
        let is_here = named.at.iter().all(|(_, at)| at.as_symbol() == Some(by));
        return match is_here {
            true => note(place, named.order(), functions),
            false => Err("an equation with a delay is not checked".into()),
        };
    }
    match (formula.operator(), formula.operands()) {
        (Operator::Apply, [function, argument]) => {
            if let Some(place) = function
                .as_symbol()
                .and_then(|name| unknown(name, functions))
            {
                return match argument.as_symbol() == Some(by) {
                    true => Ok(symbol_expression(&functions[place].name)),
                    false => Err("an equation with a delay is not checked".into()),
                };
            }
            Err("an unknown function is not understood".into())
        }
        // The derivative of a formula that holds the unknown: by the chain rule.
        (Operator::Derivative(orders), [inner, variable]) if variable.as_symbol() == Some(by) => {
            let mut inner = rewrite(inner, by, functions)?;
            for _ in 0..orders.orders.iter().sum::<u32>().min(MAX_ORDER) {
                inner = total(&inner, by, functions).ok_or("a derivative could not be taken")?;
            }
            Ok(inner)
        }
        (Operator::Prime(order), [inner]) if inner.as_symbol().is_none() => {
            let mut inner = rewrite(inner, by, functions)?;
            for _ in 0..(*order).min(MAX_ORDER) {
                inner = total(&inner, by, functions).ok_or("a derivative could not be taken")?;
            }
            Ok(inner)
        }
        (_, operands) => {
            let operands: Result<Vec<Expression>, String> = operands
                .iter()
                .map(|operand| rewrite(operand, by, functions))
                .collect();
            Ok(formula.with_operands(operands?))
        }
    }
}

/// The derivative along a solution.
fn total(formula: &Expression, by: &Symbol, functions: &mut [Unknown]) -> Option<Expression> {
    let mut terms = vec![derivative(formula, by)?];
    for function in functions.iter_mut() {
        for order in 0..=function.order {
            let now = letter(&function.name, order);
            if formula.mentions(&now) {
                let next = symbol_expression(&letter(&function.name, order + 1));
                terms.push(Expression::product([derivative(formula, &now)?, next]));
                function.order = function.order.max(order + 1);
            }
        }
    }
    Some(Expression::sum(terms))
}

/// One function or curve of an answer.
enum Solution {
    /// y = g(x), for each unknown function.
    Explicit(Vec<Program>),
    /// F(x, y) = 0; the letter that is solved for last, if there is one.
    Implicit(Box<Curve>, Program),
}

/// An answer ready to be put in.
struct Candidate {
    solution: Solution,
    /// The independent letter, for implicit solutions the function, the given letters, then the
    /// constants.
    leaves: Leaves,
    /// The places of the constants.
    constants: Vec<usize>,
    sources: Vec<Expression>,
}

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    let system = match System::asked(context) {
        Ok(system) => system,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    let candidates = match candidates(context, &system) {
        Ok(candidates) => candidates,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    if candidates.is_empty() {
        return Verdict::cannot_tell("the answer holds no formula");
    }
    let mut unknown = None;
    let mut rank = 0;
    let mut some_start = false;
    for candidate in &candidates {
        match satisfies(context, &system, candidate) {
            Verdict::Holds => {}
            verdict @ Verdict::Fails { .. } => return verdict,
            verdict => {
                unknown.get_or_insert(verdict);
            }
        }
        if system.conditions.is_empty() {
            rank = rank.max(count_constants(context, &system, candidate).unwrap_or(usize::MAX));
        } else {
            match starts(context, &system, candidate) {
                Verdict::Holds => some_start = true,
                // One branch of ± may miss the initial value.
                verdict if candidates.len() == 1 => match verdict {
                    Verdict::Fails { .. } => return verdict,
                    verdict => {
                        unknown.get_or_insert(verdict);
                    }
                },
                _ => {}
            }
        }
    }
    if let Some(unknown) = unknown {
        return unknown;
    }
    if !system.conditions.is_empty() {
        return match some_start || candidates.len() == 1 {
            true => Verdict::Holds,
            false => Verdict::Fails {
                reason: "it misses the initial value".into(),
                witness: None,
            },
        };
    }
    let wanted = system.total_order();
    let question = context.question;
    let wants_one = question.says(&["particular", "a solution", "one solution", "any solution"])
        && !question.says(&["general"]);
    if rank < wanted && !wants_one {
        let needs = match wanted {
            1 => "the general solution has a free constant".to_owned(),
            _ => format!("the general solution has {wanted} independent constants"),
        };
        let has = match rank {
            0 => "the answer has none".to_owned(),
            1 => "the answer has one".to_owned(),
            _ => format!("the answer has {rank}"),
        };
        return match question.says(&["general", "solve", "find", "solution"]) {
            true => Verdict::fails_at("a constant is missing", format!("{needs}, {has}")),
            false => Verdict::cannot_tell(format!("{needs}, {has}")),
        };
    }
    Verdict::Holds
}

fn candidates(context: &Context<'_>, system: &System) -> Result<Vec<Candidate>, String> {
    let claims = &context.reply.claims;
    if system.functions.len() > 1 {
        return Ok(vec![together(system, claims)?]);
    }
    let mut found = Vec::new();
    for claim in claims {
        for formula in signs(&claim.whole) {
            if let Some(candidate) = candidate(context, system, &formula)? {
                found.push(candidate);
            }
        }
    }
    Ok(found)
}

/// Both readings of a formula with ±.
fn signs(formula: &Expression) -> Vec<Expression> {
    let has = formula
        .parts()
        .any(|part| matches!(part.operator(), Operator::PlusMinus | Operator::MinusPlus));
    if !has {
        return vec![formula.clone()];
    }
    [true, false]
        .into_iter()
        .map(|upper| {
            super::quantity::replace(formula, &mut |part| {
                let is_plus = match part.operator() {
                    Operator::PlusMinus => upper,
                    Operator::MinusPlus => !upper,
                    _ => return None,
                };
                let inner = part.operands()[0].clone();
                Some(if is_plus {
                    inner
                } else {
                    Expression::negative(inner)
                })
            })
        })
        .collect()
}

/// An answer with a formula for each function.
fn together(system: &System, claims: &[Claim]) -> Result<Candidate, String> {
    let mut leaves = Leaves::of_symbols(std::iter::once(&system.by).chain(&system.given));
    let known = leaves.len();
    let mut programs = Vec::new();
    let mut sources = Vec::new();
    for function in &system.functions {
        let named = claims.iter().find(|claim| match &claim.label {
            Some(label) => match (label.operator(), label.operands()) {
                (Operator::Apply, [name, ..]) => name.as_symbol() == Some(&function.name),
                _ => label.as_symbol() == Some(&function.name),
            },
            None => false,
        });
        let value = named
            .and_then(|claim| claim.values.last())
            .ok_or("the answer does not name each function")?;
        programs.push(compile(value, &mut leaves)?);
        sources.push(value.clone());
    }
    if claims.len() != system.functions.len() {
        return Err("the answer holds more formulas than functions".into());
    }
    Ok(Candidate {
        solution: Solution::Explicit(programs),
        constants: (known..leaves.len()).collect(),
        leaves,
        sources,
    })
}

/// The answer y = g(x), or a curve.
fn candidate(
    context: &Context<'_>,
    system: &System,
    formula: &Expression,
) -> Result<Option<Candidate>, String> {
    let function = &system.functions[0].name;
    let explicit = match formula.operator() {
        Operator::Relation(relations) => {
            if relations.iter().any(|relation| {
                matches!(
                    relation,
                    Relation::NotEqual
                        | Relation::Less
                        | Relation::LessOrEqual
                        | Relation::Greater
                        | Relation::GreaterOrEqual
                        | Relation::In
                )
            }) {
                // A remark about a constant or the domain.
                return Ok(None);
            }
            let sides = formula.operands();
            let (left, right) = (&sides[0], &sides[sides.len() - 1]);
            let named = match (left.operator(), left.operands()) {
                (Operator::Symbol(name), _) => Some(name),
                (Operator::Apply, [name, argument]) => {
                    let name = name.as_symbol();
                    match argument.as_symbol() == Some(&system.by) || name != Some(function) {
                        true => name,
                        false => return Ok(None),
                    }
                }
                (Operator::Indexed, [name, ..]) => name.as_symbol(),
                _ => None,
            };
            match named {
                Some(name) if (name.name() == function.name()) && !right.mentions(function) => {
                    Some(right.clone())
                }
                Some(name)
                    if name.name() != function.name()
                        && name.name() != system.by.name()
                        && !right.mentions(function)
                        && !right.mentions(&system.by) =>
                {
                    // `C = 3`: a remark.
                    return Ok(None);
                }
                _ => None,
            }
        }
        _ if formula.mentions(function) => None,
        _ => Some(formula.clone()),
    };
    match explicit {
        Some(value) => {
            let value = context.question.expanded(&value);
            let mut leaves = Leaves::of_symbols(std::iter::once(&system.by).chain(&system.given));
            let known = leaves.len();
            let program = compile(&value, &mut leaves)?;
            Ok(Some(Candidate {
                solution: Solution::Explicit(vec![program]),
                constants: (known..leaves.len()).collect(),
                leaves,
                sources: vec![value],
            }))
        }
        None => {
            let Some((left, right)) = formula.as_equation() else {
                return Err("the answer is not understood".into());
            };
            let zero = Expression::difference(left.clone(), right.clone());
            let zero = super::quantity::replace(&zero, &mut |part| match (
                part.operator(),
                part.operands(),
            ) {
                (Operator::Apply, [name, argument])
                    if name.as_symbol() == Some(function)
                        && argument.as_symbol() == Some(&system.by) =>
                {
                    Some(name.clone())
                }
                _ => None,
            });
            if !zero.mentions(function) {
                return Err("the answer does not hold the unknown function".into());
            }
            let mut leaves =
                Leaves::of_symbols([&system.by, function].into_iter().chain(&system.given));
            let known = leaves.len();
            let program = compile(&zero, &mut leaves)?;
            let constants: Vec<usize> = (known..leaves.len()).collect();
            let curve = Curve::with_leaves(
                system.by.clone(),
                function.clone(),
                leaves.clone(),
                program.clone(),
            );
            Ok(Some(Candidate {
                solution: Solution::Implicit(Box::new(curve), program),
                constants,
                leaves,
                sources: vec![zero],
            }))
        }
    }
}

/// The functions developed about a place, with the values of all leaves.
fn develop(
    context: &Context<'_>,
    candidate: &Candidate,
    values: &mut [f64],
    length: usize,
) -> Option<Vec<Jet>> {
    let budget = context.budget;
    match &candidate.solution {
        Solution::Explicit(programs) => {
            let jets: Vec<Jet> = values
                .iter()
                .enumerate()
                .map(|(place, value)| match place {
                    0 => Jet::variable(*value, length),
                    _ => Jet::constant(*value, length),
                })
                .collect();
            programs
                .iter()
                .map(|program| program.jet(&jets, length, budget))
                .collect()
        }
        Solution::Implicit(curve, program) => {
            // With a constant to choose, every point lies on one of the curves.
            let solved = candidate
                .constants
                .iter()
                .any(|place| solve_for(program, *place, values, context).is_some());
            if !solved {
                curve.solve(values, budget)?;
            }
            Some(vec![curve.develop(values, length, budget)?])
        }
    }
}

/// Chooses one leaf so that the program is zero, by the secant method.
fn solve_for(
    program: &Program,
    place: usize,
    values: &mut [f64],
    context: &Context<'_>,
) -> Option<()> {
    let start = values[place];
    let at = |value: f64, values: &mut [f64]| {
        values[place] = value;
        program.value(values, context.budget)
    };
    let (mut a, mut b) = (start, start + 0.7);
    let (Some(mut fa), Some(mut fb)) = (at(a, values), at(b, values)) else {
        values[place] = start;
        return None;
    };
    for _ in 0..40 {
        if fb == 0.0 || (b - a).abs() <= 1e-15 * b.abs() {
            values[place] = b;
            return Some(());
        }
        if fa == fb {
            break;
        }
        let next = b - fb * (b - a) / (fb - fa);
        (a, fa) = (b, fb);
        b = next;
        fb = match at(b, values) {
            Some(value) if b.is_finite() => value,
            _ => break,
        };
        if fb.abs() <= 1e-15 {
            values[place] = b;
            return Some(());
        }
    }
    values[place] = start;
    None
}

/// Values for all leaves of a candidate.
fn values(system: &System, candidate: &Candidate, attempt: usize) -> Vec<f64> {
    let implicit = matches!(candidate.solution, Solution::Implicit(..));
    (0..candidate.leaves.len())
        .map(|place| {
            let share = sample::fraction(attempt as u64 + 1000, place as u64);
            let is_given = place > usize::from(implicit)
                && place <= system.given.len() + usize::from(implicit);
            match attempt % 4 {
                _ if is_given => 0.4 + 1.9 * share,
                0 | 2 => 0.1 + 1.4 * share,
                1 => -1.5 + 3.0 * share,
                _ => 1.0 + 2.5 * share,
            }
        })
        .collect()
}

/// What is left over when the solution is put into the equations must vanish.
fn satisfies(context: &Context<'_>, system: &System, candidate: &Candidate) -> Verdict {
    let mut leaves = Leaves::of_symbols(std::iter::once(&system.by).chain(&system.given));
    let mut places = Vec::new();
    for (at, function) in system.functions.iter().enumerate() {
        for order in 0..=function.order {
            let place = leaves.place(&symbol_expression(&letter(&function.name, order)));
            places.push((place, at, order));
        }
    }
    let mut equations = Vec::new();
    for equation in &system.equations {
        let terms: Result<Vec<Program>, String> = equation
            .terms
            .iter()
            .map(|term| compile(term, &mut leaves))
            .collect();
        match terms {
            Ok(terms) => equations.push(terms),
            Err(reason) => return Verdict::cannot_tell(reason),
        }
    }
    let implicit = matches!(candidate.solution, Solution::Implicit(..));
    // Complementary solutions solve the equation without its right side.
    let (mut fits, mut misses) = (0, 0);
    let mut witness = None;
    for attempt in 0..60 {
        if fits + misses >= 10 {
            break;
        }
        let mut at = values(system, candidate, attempt);
        let Some(jets) = develop(context, candidate, &mut at, system.length()) else {
            continue;
        };
        let mut all = vec![0.0; leaves.len()];
        all[0] = at[0];
        for place in 0..system.given.len() {
            all[1 + place] = at[1 + place + usize::from(implicit)];
        }
        for (place, function, order) in &places {
            all[*place] = jets[*function].derivative(*order as usize);
        }
        for terms in &equations {
            let (mut sum, mut size) = (0.0, 0.0_f64);
            let mut defined = true;
            for term in terms {
                match term.value(&all, context.budget) {
                    Some(value) => {
                        sum += value;
                        size += value.abs();
                    }
                    None => defined = false,
                }
            }
            if !defined {
                continue;
            }
            if sum.abs() <= 1e-8 * size {
                fits += 1;
            } else if sum.abs() > 1e-5 * size && size > 1e-7 {
                misses += 1;
                witness.get_or_insert((at.clone(), sum, jets.clone()));
            }
        }
    }
    match (fits, misses) {
        (5.., 0) => Verdict::Holds,
        (_, 3..) if fits <= misses * (system.equations.len().max(1)) => {
            let Some((at, sum, jets)) = witness else {
                return Verdict::cannot_tell("the answer could not be put in");
            };
            let x = system.by.name();
            let mut told = format!("at {x} = {}", sample::number(at[0]));
            if let [jet] = jets.as_slice() {
                told.push_str(&format!(
                    " it has {} = {}",
                    system.functions[0].name.name(),
                    sample::number(jet.value())
                ));
            }
            Verdict::fails_at(
                "it does not satisfy the differential equation",
                format!(
                    "{told}, where the two sides differ by {}",
                    sample::number(sum.abs())
                ),
            )
        }
        _ if context.budget.is_spent() => Verdict::cannot_tell(super::program::TOO_LARGE),
        _ => Verdict::cannot_tell("the answer could hardly be put into the equation"),
    }
}

/// Each initial value.
fn starts(context: &Context<'_>, system: &System, candidate: &Candidate) -> Verdict {
    let implicit = matches!(candidate.solution, Solution::Implicit(..));
    let mut unknown = None;
    for condition in &system.conditions {
        let mut agreed = 0;
        for attempt in 0..12 {
            let mut at = values(system, candidate, attempt * 4);
            let mut given = Leaves::of_symbols(&system.given);
            let numbers: Vec<f64> = at[1 + usize::from(implicit)..]
                .iter()
                .take(system.given.len())
                .copied()
                .collect();
            let mut number = |formula: &Expression| {
                let program = compile(formula, &mut given).ok()?;
                program.value(&numbers, context.budget)
            };
            let (Some(place), Some(value)) = (number(&condition.at), number(&condition.value))
            else {
                return Verdict::cannot_tell("an initial value is not understood");
            };
            at[0] = place;
            let found = match &candidate.solution {
                Solution::Explicit(_) => {
                    let length = condition.order as usize + 1;
                    develop(context, candidate, &mut at, length)
                        .map(|jets| jets[condition.function].derivative(condition.order as usize))
                }
                Solution::Implicit(curve, _) if condition.order > 0 => {
                    let start = system.conditions.iter().find(|c| c.order == 0);
                    start.and_then(|start| number(&start.value)).and_then(|y| {
                        at[1] = y;
                        let length = condition.order as usize + 1;
                        let jet = curve.develop(&at, length, context.budget)?;
                        Some(jet.derivative(condition.order as usize))
                    })
                }
                Solution::Implicit(_, program) => {
                    at[1] = value;
                    // How far the point lies from the curve, by the slope of F.
                    program.value(&at, context.budget).and_then(|miss| {
                        let mut moved = at.clone();
                        moved[1] += 1e-4;
                        let beside = program.value(&moved, context.budget)?;
                        let slope = (beside - miss) / 1e-4;
                        let distance = miss / slope;
                        let far = if distance.is_finite() {
                            distance.abs()
                        } else {
                            miss.abs()
                        };
                        Some(if far < 1e-8 { value } else { value + far })
                    })
                }
            };
            let Some(found) = found else {
                continue;
            };
            let close = (found - value).abs() <= 1e-8 * (1.0 + value.abs());
            if close {
                agreed += 1;
                if agreed >= 3 || (candidate.constants.is_empty() && system.given.is_empty()) {
                    agreed = agreed.max(3);
                    break;
                }
                continue;
            }
            let decimals = candidate
                .sources
                .iter()
                .flat_map(Expression::parts)
                .any(|part| {
                    part.as_number().is_some_and(|number| {
                        !matches!(number.written(), crate::expression::Written::Exact)
                    })
                });
            if decimals && (found - value).abs() <= 0.02 * (1.0 + value.abs()) {
                unknown.get_or_insert(Verdict::cannot_tell("the answer is rounded"));
                break;
            }
            if (found - value).abs() <= 1e-5 * (1.0 + value.abs()) {
                unknown.get_or_insert(Verdict::cannot_tell("the values are too close to tell"));
                break;
            }
            let name = system.functions[condition.function].name.name();
            let primes = "′".repeat(condition.order as usize);
            let (shown, wanted) = sample::numbers(found, value);
            let place = sample::number(place);
            let witness = match implicit {
                true => format!("the point ({place}, {wanted}) does not lie on it"),
                false => format!("{name}{primes}({place}) is {shown}, and should be {wanted}"),
            };
            return Verdict::fails_at("it misses an initial value", witness);
        }
        if agreed == 0 && unknown.is_none() {
            unknown = Some(Verdict::cannot_tell(
                "an initial value could not be looked at",
            ));
        }
    }
    unknown.unwrap_or(Verdict::Holds)
}

/// The number of independent constants: the rank of the derivatives of y, y′, … by the constants.
fn count_constants(context: &Context<'_>, system: &System, candidate: &Candidate) -> Option<usize> {
    if candidate.constants.is_empty() {
        return Some(0);
    }
    if let Solution::Implicit(..) = candidate.solution {
        // A curve through every point, and through every direction there if there are two.
        return Some(candidate.constants.len());
    }
    let order = system.total_order();
    let mut best = 0;
    for attempt in 0..6 {
        let at = values(system, candidate, attempt);
        let mut rows: Vec<Vec<f64>> = Vec::new();
        for place in &candidate.constants {
            let step = 1e-4 * (1.0 + at[*place].abs());
            let moved = |by: f64| {
                let mut moved = at.clone();
                moved[*place] += by;
                develop(context, candidate, &mut moved, system.length())
            };
            let (Some(up), Some(down)) = (moved(step), moved(-step)) else {
                continue;
            };
            let mut row = Vec::new();
            for (function, (up, down)) in system.functions.iter().zip(up.iter().zip(&down)) {
                for order in 0..function.order as usize {
                    row.push((up.derivative(order) - down.derivative(order)) / (2.0 * step));
                }
            }
            rows.push(row);
        }
        best = best.max(rank(rows));
        if best >= order {
            break;
        }
    }
    Some(best)
}

/// The rank of a matrix, by elimination with the greatest pivots; what is less than a millionth of
/// its row is rounding.
fn rank(mut rows: Vec<Vec<f64>>) -> usize {
    for row in &mut rows {
        let size = row
            .iter()
            .fold(0.0_f64, |size, entry| size.max(entry.abs()));
        if size > 0.0 {
            row.iter_mut().for_each(|entry| *entry /= size);
        }
    }
    let columns = rows.first().map_or(0, Vec::len);
    let mut rank = 0;
    for column in 0..columns {
        let pivot = (rank..rows.len())
            .max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()));
        let Some(pivot) = pivot.filter(|pivot| rows[*pivot][column].abs() > 1e-6) else {
            continue;
        };
        rows.swap(rank, pivot);
        for row in rank + 1..rows.len() {
            let factor = rows[row][column] / rows[rank][column];
            let (above, below) = rows.split_at_mut(row);
            for (entry, pivot) in below[0].iter_mut().zip(&above[rank]) {
                *entry -= factor * pivot;
            }
        }
        rank += 1;
    }
    rank
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn multiples_of_one_solution_have_rank_one() {
        assert_eq!(rank(vec![vec![1.0, 2.0], vec![2.0, 4.0]]), 1);
        assert_eq!(rank(vec![vec![1.0, 2.0], vec![2.0, 4.1]]), 2);
        assert_eq!(rank(vec![vec![0.0, 0.0]]), 0);
    }

    #[test]
    fn letters_of_derivatives_do_not_clash() {
        let y = Symbol::new("y");
        assert_ne!(letter(&y, 1), letter(&y, 2));
        assert_ne!(letter(&y.with_subscript("1"), 1), letter(&y, 1));
    }
}
