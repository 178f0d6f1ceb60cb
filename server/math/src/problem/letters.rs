//! Which letters are to be found, which ones vary, and which ones stand for numbers?

use std::collections::BTreeSet;

use super::Task;
use crate::expression::{Expression, Operator, Relation, Symbol};

/// The letters with a role.
#[derive(Default)]
pub(super) struct Letters {
    /// Functions that are to be found.
    pub(super) unknowns: Vec<Symbol>,
    /// Letters that are to be found or that formulas vary with.
    pub(super) variables: Vec<Symbol>,
}

/// Letters that authors use for what varies, the likelier ones first.
const USUAL_VARIABLES: [&str; 12] = ["x", "t", "y", "z", "u", "v", "w", "s", "n", "θ", "r", "k"];

/// The roles of the letters in a problem's formulas.
pub(super) fn roles(task: Task, main: Option<&Expression>, conditions: &[Expression]) -> Letters {
    let mut letters = Letters::default();
    let Some(main) = main else {
        return letters;
    };
    let add = |list: &mut Vec<Symbol>, symbol: &Symbol| {
        if !list.contains(symbol) {
            list.push(symbol.clone());
        }
    };
    for part in main.parts() {
        let operands = part.operands();
        match part.operator() {
            Operator::Prime(_) | Operator::NthPrime => {
                if let Some(symbol) = operands.first().and_then(Expression::as_symbol) {
                    add(&mut letters.unknowns, symbol);
                }
            }
            Operator::Derivative(_) => {
                let by = operands[1..].iter().filter_map(Expression::as_symbol);
                by.for_each(|symbol| add(&mut letters.variables, symbol));
                if task != Task::Differentiate
                    && let Some(symbol) = function_name(&operands[0])
                {
                    add(&mut letters.unknowns, symbol);
                }
            }
            Operator::Integral(integration) => {
                let by = operands.iter().skip(1).take(integration.variables as usize);
                by.filter_map(Expression::as_symbol)
                    .for_each(|symbol| add(&mut letters.variables, symbol));
            }
            Operator::Limit(_) | Operator::Series(..) => {
                part.bound_variables()
                    .iter()
                    .filter_map(Expression::as_symbol)
                    .for_each(|symbol| add(&mut letters.variables, symbol));
            }
            Operator::Apply => {
                let [function, arguments @ ..] = operands else {
                    continue;
                };
                let differentiated = function
                    .as_symbol()
                    .is_some_and(|symbol| letters.unknowns.contains(symbol));
                if differentiated || task == Task::Differentiate {
                    arguments
                        .iter()
                        .filter_map(Expression::as_symbol)
                        .for_each(|symbol| add(&mut letters.variables, symbol));
                }
            }
            Operator::Differential if task == Task::Ode => {
                if let Some(symbol) = operands.first().and_then(Expression::as_symbol) {
                    add(&mut letters.variables, symbol);
                }
            }
            _ => {}
        }
    }
    letters
        .variables
        .retain(|symbol| !letters.unknowns.contains(symbol));
    if task == Task::Ode && letters.unknowns.is_empty() && letters.variables.len() == 2 {
        // M dx + N dy = 0: the letter that comes later is the function.
        if let Some(last) = letters.variables.iter().max().cloned() {
            letters.variables.retain(|symbol| *symbol != last);
            letters.unknowns.push(last);
        }
    }
    if task == Task::Sum && !letters.variables.is_empty() {
        // For which x does it converge?
        let free = main.free_symbols();
        let usual = free.iter().filter(|s| matches!(s.name(), "x" | "z" | "t"));
        usual.for_each(|symbol| add(&mut letters.variables, symbol));
    }
    if !letters.variables.is_empty() {
        return letters;
    }
    let mut free = main.free_symbols();
    free.retain(|symbol| !letters.unknowns.contains(symbol) && !is_called(main, symbol));
    match task {
        // The letters of a curve are both variables, whatever is asked about it.
        Task::Other | Task::Differentiate if main.as_equation().is_some() => {
            free.retain(|symbol| matches!(symbol.name(), "x" | "y" | "z"));
            letters.variables = match free.is_empty() {
                true => main_variable(main, None, conditions).into_iter().collect(),
                false => free.into_iter().collect(),
            };
        }
        Task::System | Task::Matrix | Task::Simplify => {
            // All usual letters; if there is none, all.
            let usual: Vec<Symbol> = free.iter().filter(|s| rank(s).is_some()).cloned().collect();
            letters.variables = match usual.is_empty() {
                true => free.into_iter().collect(),
                false => usual,
            };
        }
        _ => letters.variables.extend(
            main_variable(main, None, conditions)
                .filter(|symbol| !letters.unknowns.contains(symbol)),
        ),
    }
    letters
}

/// The letter that a formula varies with: the argument of the function it defines, a letter that
/// stands alone among the conditions ("for which `$k$`"), the only letter, or the likeliest one.
pub(super) fn main_variable(
    body: &Expression,
    definition: Option<&Expression>,
    conditions: &[Expression],
) -> Option<Symbol> {
    if let Some((left, _)) = definition.and_then(Expression::as_equation)
        && let (Operator::Apply, [_, argument]) = (left.operator(), left.operands())
        && let Some(symbol) = argument.as_symbol()
    {
        return Some(symbol.clone());
    }
    let mut free: BTreeSet<Symbol> = body.free_symbols();
    free.retain(|symbol| !is_called(body, symbol));
    let alone = conditions
        .iter()
        .filter_map(|condition| match condition.as_relation() {
            Some((left, Relation::In, _)) => left.as_symbol(),
            _ => condition.as_symbol(),
        })
        .find(|symbol| free.contains(*symbol));
    if let Some(symbol) = alone {
        return Some(symbol.clone());
    }
    match free.len() {
        0 => None,
        1 => free.pop_first(),
        _ => {
            let likeliest = free
                .iter()
                .filter_map(|symbol| Some((rank(symbol)?, symbol)))
                .min();
            likeliest.map(|(_, symbol)| symbol.clone())
        }
    }
}

fn rank(symbol: &Symbol) -> Option<usize> {
    USUAL_VARIABLES
        .iter()
        .position(|name| *name == symbol.name())
}

/// It is used as a function, or as a sequence.
fn is_called(expression: &Expression, symbol: &Symbol) -> bool {
    expression.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Apply | Operator::Indexed | Operator::Prime(_) | Operator::InverseFunction
        ) && part.operands().first().and_then(Expression::as_symbol) == Some(symbol)
    })
}

fn function_name(expression: &Expression) -> Option<&Symbol> {
    match (expression.operator(), expression.operands()) {
        (Operator::Symbol(symbol), _) => Some(symbol),
        (Operator::Apply, [function, ..]) => function.as_symbol(),
        _ => None,
    }
}
