//! What does the statement ask of which functions: the equations, in letters of our own for the
//! derivatives, and the initial values.

use super::super::Context;
use super::super::program::symbol_expression;
use super::super::question::{NamedDerivative, named_derivative};
use crate::derivative::derivative;
use crate::expression::{Expression, Operator, Symbol};

/// The greatest order that is followed.
pub(super) const MAX_ORDER: u32 = 8;

/// Equations for unknown functions of one variable.
pub(super) struct System {
    pub(super) by: Symbol,
    pub(super) functions: Vec<Unknown>,
    pub(super) equations: Vec<Equation>,
    pub(super) conditions: Vec<Condition>,
    /// Letters of the equations that are neither.
    pub(super) given: Vec<Symbol>,
}

/// An unknown function and the order to which it is differentiated.
#[derive(Clone, Debug)]
pub(super) struct Unknown {
    pub(super) name: Symbol,
    pub(super) order: u32,
}

/// An equation in letters of our own for the derivatives.
pub(super) struct Equation {
    /// The terms, of which the sum is zero.
    pub(super) terms: Vec<Expression>,
}

/// y^(k)(a) = b.
pub(super) struct Condition {
    pub(super) function: usize,
    pub(super) order: u32,
    pub(super) at: Expression,
    pub(super) value: Expression,
}

/// The letter that stands for the derivative of this order of a function.
pub(super) fn letter(name: &Symbol, order: u32) -> Symbol {
    match order {
        0 => name.clone(),
        _ => name.with_subscript(&format!("{}′{order}", name.subscript())),
    }
}

/// A formula is an equation about derivatives of unknown functions.
pub(in crate::verdict::calculus) fn is_differential(formula: &Expression) -> bool {
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

pub(super) fn is_of_unknown(derivative: &Expression) -> bool {
    derivative.operands()[0]
        .parts()
        .any(|part| matches!(part.operator(), Operator::Prime(_) | Operator::Apply))
}

impl System {
    pub(super) fn asked(context: &Context<'_>) -> Result<Self, String> {
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
                    plain = super::super::quantity::replace(&plain, &mut |part| match (
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

    pub(super) fn total_order(&self) -> usize {
        self.functions.iter().map(|f| f.order as usize).sum()
    }

    pub(super) fn length(&self) -> usize {
        let order = self.functions.iter().map(|f| f.order).max().unwrap_or(1);
        let wanted = self.conditions.iter().map(|c| c.order).max().unwrap_or(0);
        order.max(wanted) as usize + 1
    }
}

/// A term in its summands, so that their sizes tell how exact their sum can be.
pub(super) fn spread(term: &Expression) -> Vec<Expression> {
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
pub(super) fn pairs(equation: &Expression) -> Vec<(Expression, Expression)> {
    equation
        .operands()
        .windows(2)
        .map(|pair| (pair[0].clone(), pair[1].clone()))
        .collect()
}

/// The independent letter and the unknown functions.
pub(super) fn letters(
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
pub(super) fn independent(
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
pub(super) fn rewrite(
    formula: &Expression,
    by: &Symbol,
    functions: &mut Vec<Unknown>,
) -> Result<Expression, String> {
    let unknown = |name: &Symbol, functions: &[Unknown]| {
        functions.iter().position(|known| known.name == *name)
    };
    let note = |place: usize, order: u32, functions: &mut Vec<Unknown>| {
        if order > MAX_ORDER {
            return Err(super::super::program::TOO_LARGE.to_owned());
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
pub(super) fn total(
    formula: &Expression,
    by: &Symbol,
    functions: &mut [Unknown],
) -> Option<Expression> {
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
