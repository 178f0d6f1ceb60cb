//! A set of numbers written another way: inequalities, intervals, sets.

use super::Asked;
use crate::expression::{Connective, Expression, Operator, Relation};
use crate::verdict::answer::Answer;
use crate::verdict::{Verdict, inequalities};

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let asks = [
        "interval notation",
        "set-builder",
        "set builder",
        "inequality notation",
        "as an inequality",
        "as inequalities",
        "in terms of inequalit",
        "using inequalit",
        "as an interval",
    ];
    let writes = ["write", "express", "rewrite", "convert", "represent"];
    if !asked.says(&asks) || !asked.says(&writes) || asked.says(&["solve", "domain", "range"]) {
        return None;
    }
    let main = asked.question.problem.main.as_ref()?;
    if let Some(statement) = statement(main) {
        return Some(inequalities::judge(
            asked.question,
            &statement,
            asked.answer,
        ));
    }
    // The set is given, and the answer says where it is: the same question the other way round.
    let is_set = matches!(
        main.operator(),
        Operator::Interval(_) | Operator::SetOperation(_)
    ) || matches!(
        (main.operator(), main.operands()),
        (Operator::Tuple(_), [_, _])
    );
    let claimed: Option<Vec<Expression>> = asked.answer.formulas.iter().map(statement).collect();
    let mut claimed = claimed.filter(|claimed| is_set && !claimed.is_empty())?;
    let claimed = match claimed.len() {
        1 => claimed.pop()?,
        _ => Expression::new(Operator::Logic(Connective::Or), claimed),
    };
    let given = Answer {
        formulas: vec![main.clone()],
        ..Answer::default()
    };
    let mut question = asked.question.clone();
    question.problem.conditions.clear();
    Some(inequalities::judge(&question, &claimed, &given))
}

/// An inequality, several, or what a set in braces says of its members.
fn statement(formula: &Expression) -> Option<Expression> {
    let orders = |relations: &[Relation]| {
        relations.iter().all(|relation| {
            matches!(
                relation,
                Relation::Less
                    | Relation::LessOrEqual
                    | Relation::Greater
                    | Relation::GreaterOrEqual
                    | Relation::NotEqual
            )
        })
    };
    match (formula.operator(), formula.operands()) {
        (Operator::Relation(relations), _) if orders(relations) => Some(formula.clone()),
        (Operator::Logic(_), parts) => {
            let parts: Option<Vec<Expression>> = parts.iter().map(statement).collect();
            Some(formula.with_operands(parts?))
        }
        (Operator::SetBuilder, [_, condition]) => statement(condition),
        _ => None,
    }
}
