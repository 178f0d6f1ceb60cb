//! Places that calculus names: rest and horizontal tangents, the mean value theorem, equilibria,
//! Newton's method, and the letter that makes a function continuous.

use super::{Asked, tuple, value_of};
use crate::derivative::derivative;
use crate::expression::{Ends, Expression, Operator, Relation, Symbol};
use crate::verdict::answer::Answer;
use crate::verdict::question::Question;
use crate::verdict::{Verdict, equations, functions};

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    match () {
        () if says(&["mean value theorem", "rolle"]) && says(&["find", "value"]) => {
            mean_value(asked)
        }
        () if says(&["newton's method", "newton’s method", "newton method"]) => {
            // Its values are near the solutions, but none of them.
            let unknown = || Verdict::cannot_tell("where the method begins is not understood");
            Some(newton(asked).unwrap_or_else(unknown))
        }
        () if says(&["equilibri"]) => equilibria(asked),
        () if says(&["continuous", "continuity"])
            && says(&["value of", "values of", "constant"]) =>
        {
            continuity(asked)
        }
        () if says(&[
            "at rest",
            "tangent is horizontal",
            "tangent line is horizontal",
            "horizontal tangent",
        ]) =>
        {
            level(asked)
        }
        () if says(&[
            "hit the ground",
            "hits the ground",
            "reach the ground",
            "strike the ground",
        ]) =>
        {
            on_the_ground(asked)
        }
        () if says(&["is a factor of"]) => factor(asked),
        () => None,
    }
}

/// Where a height is 0, from the time 0 on.
fn on_the_ground(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    if body.free_symbols().len() != 1 {
        return None;
    }
    // Seconds and the like are words; a letter in front is the time.
    let formulas: Vec<Expression> = asked
        .answer
        .formulas
        .iter()
        .map(|formula| value_of(formula).clone())
        .collect();
    let variable = Expression::new(Operator::Symbol(letter), []);
    let answer = Answer {
        formulas: formulas
            .into_iter()
            .map(|value| Expression::equation(variable.clone(), value))
            .collect(),
        ..Answer::default()
    };
    let mut problem = asked.question.problem.clone();
    let from_zero = Expression::relation(
        variable.clone(),
        Relation::GreaterOrEqual,
        Expression::integer(0),
    );
    problem.conditions = vec![from_zero];
    let question = Question {
        problem,
        words: asked.question.words.clone(),
        formulas: Vec::new(),
    };
    let zero = Expression::equation(body.clone(), Expression::integer(0));
    Some(equations::judge_formula(&question, &zero, &answer))
}

/// "Find k so that x - 2 is a factor": the value at its zero is 0.
fn factor(asked: &Asked<'_>) -> Option<Verdict> {
    let x = Symbol::new("x");
    let mut formulas = asked
        .formulas
        .iter()
        .filter(|formula| formula.mentions(&x) && formula.as_symbol().is_none());
    let (divisor, body, None) = (formulas.next()?, formulas.next()?, formulas.next()) else {
        return None;
    };
    let line = crate::views::univariate(&crate::normal_form::normal(divisor).ok()?, &x)?;
    if line.degree() != 1 {
        return None;
    }
    let zero = (-line.coefficient(0)).checked_div(&line.coefficient(1))?;
    let body = match body.as_equation() {
        Some((_, right)) => right,
        None => body,
    };
    let there = body.substitute(&x, &super::of_rational(&zero));
    if there.free_symbols().len() != 1 {
        return None;
    }
    Some(solutions(
        asked,
        there,
        Expression::integer(0),
        None,
        asked.answer,
    ))
}

/// The verdict for the solutions of an equation for a letter.
fn solutions(
    asked: &Asked<'_>,
    left: Expression,
    right: Expression,
    interval: Option<(Expression, Expression)>,
    answer: &Answer,
) -> Verdict {
    let mut problem = asked.question.problem.clone();
    let ends = Ends {
        lower_closed: false,
        upper_closed: false,
    };
    problem.conditions = interval
        .map(|(low, high)| Expression::new(Operator::Interval(ends), [low, high]))
        .into_iter()
        .collect();
    let question = Question {
        problem,
        words: "solve".into(),
        formulas: Vec::new(),
    };
    equations::judge_formula(&question, &Expression::equation(left, right), answer)
}

/// f'(c) = (f(b) - f(a)) / (b - a) between a and b.
fn mean_value(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let (low, high) = asked.interval()?;
    let c = asked
        .answer
        .formulas
        .iter()
        .find_map(|formula| formula.as_relation()?.0.as_symbol().cloned())
        .unwrap_or_else(|| Symbol::new("c"));
    let c_expression = Expression::new(Operator::Symbol(c), []);
    let slope = derivative(body, &letter)?.substitute(&letter, &c_expression);
    let rise = Expression::difference(
        body.substitute(&letter, &high),
        body.substitute(&letter, &low),
    );
    let mean = Expression::fraction(rise, Expression::difference(high.clone(), low.clone()));
    let mean = crate::normal_form::collected(&mean);
    Some(solutions(
        asked,
        slope,
        mean,
        Some((low, high)),
        asked.answer,
    ))
}

/// x - f(x) / f'(x), as often as the number of the value that is asked for says.
fn newton(asked: &Asked<'_>) -> Option<Verdict> {
    // A function, or the zero form of the equation.
    let of_equation = || {
        let mut forms = asked.givens.equations.iter().filter_map(|(left, right)| {
            let free = Expression::difference(left.clone(), right.clone());
            let plain = free.free_symbols().len() == 1
                && free.free_symbols().iter().all(|s| s.subscript().is_empty())
                && left.as_symbol().is_none()
                && !matches!(left.operator(), Operator::Indexed);
            plain.then_some(free)
        });
        match (forms.next(), forms.next()) {
            (Some(only), None) => Some(only),
            _ => None,
        }
    };
    let body = &match asked.givens.body() {
        Some(body) => body.clone(),
        None => of_equation()?,
    };
    let letter = match asked.givens.letter() {
        Some(letter) => letter,
        None => body.free_symbols().into_iter().next()?,
    };
    let numbered = |formula: &Expression| -> Option<i64> {
        match (formula.operator(), formula.operands()) {
            (Operator::Symbol(symbol), _) if symbol.name() == letter.name() => {
                symbol.subscript().parse().ok()
            }
            (Operator::Indexed, [name, index]) if name.as_symbol() == Some(&letter) => {
                index.as_i64()
            }
            _ => None,
        }
    };
    let (start, first) = asked.formulas.iter().find_map(|formula| {
        let (left, right) = formula.as_equation()?;
        Some((numbered(left)?, right.clone()))
    })?;
    let wanted = asked.formulas.iter().find_map(numbered)?;
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let steps = wanted - start;
    if !(1..=3).contains(&steps) {
        return None;
    }
    let slope = derivative(body, &letter)?;
    let mut at = first;
    for _ in 0..steps {
        let step = Expression::fraction(
            body.substitute(&letter, &at),
            slope.substitute(&letter, &at),
        );
        at = crate::normal_form::collected(&Expression::difference(at, step));
        if at.size() > 2_000 {
            return Some(Verdict::cannot_tell("too large"));
        }
    }
    Some(functions::equal(asked.question, &at, value_of(claim)))
}

/// The zeros of the right side of y' = f(y).
fn equilibria(asked: &Asked<'_>) -> Option<Verdict> {
    if asked.says(&["classify", "stability", "stable"]) {
        return None;
    }
    let right = asked.formulas.iter().find_map(|formula| {
        let (left, right) = formula.as_equation()?;
        matches!(
            left.operator(),
            Operator::Prime(1) | Operator::Derivative(_)
        )
        .then_some(right)
    })?;
    let letters = right.free_symbols();
    if letters.len() != 1 {
        return None;
    }
    let zero = Expression::integer(0);
    Some(solutions(asked, right.clone(), zero, None, asked.answer))
}

/// Where the derivative vanishes: places, or points of the graph.
fn level(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let slope = derivative(body, &letter)?;
    let mut formulas = Vec::new();
    for formula in &asked.answer.formulas {
        match tuple(value_of(formula)) {
            Some([x, y]) => {
                let there = body.substitute(&letter, x);
                match functions::equal(asked.question, &there, y) {
                    Verdict::Holds => {}
                    Verdict::Fails { witness, .. } => {
                        return Some(Verdict::Fails {
                            reason: "a point does not lie on the graph".into(),
                            witness,
                        });
                    }
                    doubt => return Some(doubt),
                }
                formulas.push(x.clone());
            }
            Some(_) => return None,
            None => formulas.push(formula.clone()),
        }
    }
    let answer = Answer {
        formulas,
        words: asked.answer.words.clone(),
        ..Answer::default()
    };
    Some(solutions(
        asked,
        slope,
        Expression::integer(0),
        asked.interval(),
        &answer,
    ))
}

/// Two cases of a function that must agree where they meet.
fn continuity(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.functions.first().map(|(_, _, body)| body)?;
    let letter = asked.givens.functions.first()?.1.first()?;
    let (Operator::Piecewise, [first, low, second, high]) = (body.operator(), body.operands())
    else {
        return None;
    };
    let bound = |condition: &Expression| -> Option<Expression> {
        let (left, relation, right) = condition.as_relation()?;
        match (left.as_symbol() == Some(letter), relation) {
            (
                true,
                Relation::Less
                | Relation::LessOrEqual
                | Relation::Greater
                | Relation::GreaterOrEqual
                | Relation::Equal
                | Relation::NotEqual,
            ) => Some(right.clone()),
            _ => None,
        }
    };
    let at = bound(low)?;
    if bound(high).is_some_and(|other| other != at) {
        return None;
    }
    let is_point = |condition: &Expression| {
        matches!(
            condition.as_relation(),
            Some((_, Relation::Equal | Relation::NotEqual, _))
        )
    };
    if is_point(low) || is_point(high) {
        return None;
    }
    let (left, right) = (
        first.substitute(letter, &at),
        second.substitute(letter, &at),
    );
    let letters: std::collections::BTreeSet<Symbol> = left
        .free_symbols()
        .union(&right.free_symbols())
        .cloned()
        .collect();
    if letters.len() != 1 {
        return None;
    }
    Some(solutions(asked, left, right, None, asked.answer))
}
