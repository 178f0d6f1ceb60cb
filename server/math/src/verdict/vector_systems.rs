//! Linear systems of differential equations in the form x' = A x + f.
//!
//! Such a system and its answer are written anew for the components, so that they are judged like
//! any system.

use super::Piece;
use super::vectors;
use crate::expression::{Expression, Operator, Symbol};
use crate::print;
use crate::problem::Part;
use crate::read::Declared;

/// The names of the components; letters that such systems do not use.
const COMPONENTS: [&str; 4] = ["u", "v", "w", "z"];

/// The statement and the answer by components, if the statement is about an equation x' = A x.
pub(super) fn in_components(
    statement: &[Part<'_>],
    answer: &[Part<'_>],
) -> Option<(Vec<Piece>, Vec<Piece>)> {
    let is_candidate = |part: &Part<'_>| match part {
        Part::Tex(tex) => tex.contains("matrix}") && tex.contains(['\'', 'd']),
        Part::Words(_) => false,
    };
    if !statement.iter().any(is_candidate) {
        return None;
    }
    let declared = Declared::new();
    let read = |tex: &str| crate::read(tex, &declared).expression;
    let unknown = statement.iter().find_map(|part| match part {
        Part::Tex(tex) => differentiated(&read(tex)),
        Part::Words(_) => None,
    })?;
    let size = statement.iter().find_map(|part| match part {
        Part::Tex(tex) => read(tex).parts().find_map(|part| match part.operator() {
            Operator::Matrix(shape) => Some(part.operands().len() / shape.columns as usize),
            _ => None,
        }),
        Part::Words(_) => None,
    })?;
    let names = COMPONENTS.get(..size)?;
    let rows = |formula: &Expression| -> Option<String> {
        let mut found = Vec::new();
        let items = match formula.operator() {
            Operator::List | Operator::System => formula.operands(),
            _ => std::slice::from_ref(formula),
        };
        for item in items {
            let (left, right) = item.as_equation()?;
            let left = component_names(left, &unknown, names)?;
            // A matrix that has only a name here.
            let is_named = right
                .free_symbols()
                .iter()
                .any(|letter| letter != &unknown && letter.name().chars().all(char::is_uppercase));
            if is_named && component_names(item.operands().first()?, &unknown, names).is_some() {
                let is_constant = right.free_symbols().iter().all(|letter| {
                    !letter.subscript().is_empty() || letter == &unknown || letter.name() == "C"
                });
                if !is_constant {
                    return None;
                }
            }
            let right = vectors::entries_with(right, &unknown, names)?;
            if right.len() != names.len() {
                return None;
            }
            for (left, right) in left.into_iter().zip(right) {
                let row = Expression::equation(left, right);
                found.push(print::tex(
                    &row,
                    &Declared::new().unknowns(names.iter().copied()),
                ));
            }
        }
        Some(found.join(r", \quad "))
    };
    let pieces = |parts: &[Part<'_>], must: bool| -> Option<Vec<Piece>> {
        let mut pieces = Vec::new();
        for part in parts {
            pieces.push(match part {
                Part::Words(words) => Piece::Words((*words).to_owned()),
                Part::Tex(tex) => match rows(&read(tex)) {
                    Some(rows) => Piece::Tex(rows),
                    // A matrix that has a name, or an interval for the letter, is left out.
                    None if must => return None,
                    None => continue,
                },
            });
        }
        Some(pieces)
    };
    let statement = pieces(statement, false)?;
    if !statement.iter().any(|piece| matches!(piece, Piece::Tex(_))) {
        return None;
    }
    Some((statement, pieces(answer, true)?))
}

/// The vector function whose derivative stands alone on one side, beside a matrix.
fn differentiated(formula: &Expression) -> Option<Symbol> {
    let items = match formula.operator() {
        Operator::List | Operator::System => formula.operands(),
        _ => std::slice::from_ref(formula),
    };
    items.iter().find_map(|item| {
        let (left, right) = item.as_equation()?;
        let has_matrix = right
            .parts()
            .any(|part| matches!(part.operator(), Operator::Matrix(_)));
        has_matrix.then_some(())?;
        derivative_of(left)
    })
}

/// x of x', x'(t) or dx/dt.
fn derivative_of(side: &Expression) -> Option<Symbol> {
    match (side.operator(), side.operands()) {
        (Operator::Prime(1), [function]) => function.as_symbol().cloned(),
        (Operator::Derivative(_), [function, _]) => match function.operator() {
            Operator::Apply => function.operands()[0].as_symbol().cloned(),
            _ => function.as_symbol().cloned(),
        },
        (Operator::Apply, [function, _]) => derivative_of(function),
        _ => None,
    }
}

/// The left side of each component: of x, x', x(t), x'(t), x(0).
fn component_names(side: &Expression, unknown: &Symbol, names: &[&str]) -> Option<Vec<Expression>> {
    let all = |change: &dyn Fn(Expression) -> Expression| {
        names
            .iter()
            .map(|name| change(Expression::symbol(name)))
            .collect()
    };
    if derivative_of(side).as_ref() == Some(unknown) {
        return Some(all(&|name| Expression::new(Operator::Prime(1), [name])));
    }
    match (side.operator(), side.operands()) {
        (Operator::Symbol(symbol), _) if symbol == unknown => Some(all(&|name| name)),
        (Operator::Apply, [function, at]) if function.as_symbol() == Some(unknown) => {
            Some(match at.as_symbol() {
                Some(_) => all(&|name| name),
                None => all(&|name| Expression::apply(name, [at.clone()])),
            })
        }
        _ => None,
    }
}
