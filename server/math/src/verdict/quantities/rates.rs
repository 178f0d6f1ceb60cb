//! Average rates of change, and integrals by a rule for a number of steps.

use super::{Asked, number};
use crate::expression::{Bounds, Expression, Operator, Symbol};
use crate::verdict::Verdict;

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    if asked.says(&["average rate of change"]) {
        return average_rate(asked);
    }
    if asked.says(&[
        "find the differential",
        "the differential of",
        "differential dy",
        "differential dz",
        "total differential",
        "differential of the function",
    ]) {
        return differential(asked);
    }
    numerical(asked)
}

fn average_rate(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letter = asked.givens.letter()?;
    let (low, high) = asked.interval().or_else(|| {
        // "from x = 1 to x = 3".
        let mut places = asked.formulas.iter().filter_map(|formula| {
            let (left, right) = formula.as_equation()?;
            (left.as_symbol() == Some(&letter)).then(|| right.clone())
        });
        Some((places.next()?, places.next()?))
    })?;
    let rise = Expression::difference(
        body.substitute(&letter, &high),
        body.substitute(&letter, &low),
    );
    asked.value(&Expression::fraction(
        rise,
        Expression::difference(high, low),
    ))
}

/// `dy = f'(x) dx`.
fn differential(asked: &Asked<'_>) -> Option<Verdict> {
    let body = asked.givens.body()?;
    let letters: Vec<Symbol> = body.free_symbols().into_iter().collect();
    if letters.is_empty() || letters.len() > 4 {
        return None;
    }
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let claimed = match claim.as_equation() {
        Some((left, right)) if matches!(left.operator(), Operator::Differential) => right,
        Some(_) => return None,
        None => claim,
    };
    let has_differential = claimed
        .parts()
        .any(|part| matches!(part.operator(), Operator::Differential));
    if !has_differential {
        return Some(Verdict::fails_at(
            "it is no differential",
            format!("the factor d{} is missing", letters[0].name()),
        ));
    }
    let mut claimed = claimed.clone();
    let mut terms = Vec::new();
    for letter in &letters {
        let slope = crate::derivative::derivative(body, letter)?;
        let mark = Symbol::new("□").with_subscript(letter.name());
        let kernel = Expression::new(Operator::Symbol(mark), []);
        claimed = without_differential(&claimed, letter, &kernel);
        terms.push(Expression::product([slope, kernel]));
    }
    let exact = Expression::sum(terms);
    Some(crate::verdict::functions::equal(
        asked.question,
        &exact,
        &claimed,
    ))
}

fn without_differential(expression: &Expression, of: &Symbol, by: &Expression) -> Expression {
    match (expression.operator(), expression.operands()) {
        (Operator::Differential, [inner]) if inner.as_symbol() == Some(of) => by.clone(),
        _ => expression.map_operands(|operand| without_differential(operand, of, by)),
    }
}

/// Rules that estimate an integral.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Rule {
    Left,
    Right,
    Middle,
    Trapezoid,
    Simpson,
}

/// The greatest number of steps.
const MAX_STEPS: i64 = 60;

fn numerical(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    if says(&[
        "error",
        "how large",
        "smallest n",
        "as a sum",
        "set up",
        "limit of",
    ]) {
        return None;
    }
    let rule = match () {
        () if says(&["trapezoid"]) => Some(Rule::Trapezoid),
        () if says(&["simpson"]) => Some(Rule::Simpson),
        () if says(&[
            "midpoint rule",
            "midpoints",
            "midpoint riemann",
            "midpoint sum",
        ]) =>
        {
            Some(Rule::Middle)
        }
        () if says(&[
            "left endpoint",
            "left-endpoint",
            "left-hand",
            "left riemann",
            "left sum",
        ]) =>
        {
            Some(Rule::Left)
        }
        () if says(&[
            "right endpoint",
            "right-endpoint",
            "right-hand",
            "right riemann",
            "right sum",
        ]) =>
        {
            Some(Rule::Right)
        }
        () => None,
    };
    let (body, letter, low, high) = integral(asked)?;
    // L_4, R_4, M_4, T_4, S_4 name their rules.
    let named: Vec<(Rule, i64)> = asked.formulas.iter().filter_map(rule_named).collect();
    if !named.is_empty() {
        let claims = &asked.answer.formulas;
        if claims.len() != named.len() {
            return None;
        }
        let mut all = Verdict::Holds;
        for ((rule, steps), claim) in named.iter().zip(claims) {
            let named = claim
                .as_equation()
                .and_then(|(left, _)| rule_named(left))
                .unwrap_or((*rule, *steps));
            let exact = estimate(&body, &letter, &low, &high, named.0, named.1)?;
            match one(asked, &exact, super::value_of(claim)) {
                Verdict::Holds => {}
                fails @ Verdict::Fails { .. } => return Some(fails),
                doubt => all = doubt,
            }
        }
        return Some(all);
    }
    let rule = rule?;
    let steps = asked
        .given(&["n"])
        .and_then(Expression::as_i64)
        .or_else(|| steps_in(&asked.question.words))?;
    let exact = estimate(&body, &letter, &low, &high, rule, steps)?;
    let claimed = asked.only_value()?;
    Some(one(asked, &exact, claimed))
}

/// A claim is rounded in any case, where it has a decimal point.
fn one(asked: &Asked<'_>, exact: &Expression, claimed: &Expression) -> Verdict {
    crate::verdict::functions::equal(asked.question, exact, claimed)
}

fn rule_named(formula: &Expression) -> Option<(Rule, i64)> {
    let (name, steps) = match (formula.operator(), formula.operands()) {
        (Operator::Symbol(symbol), _) => (symbol.name(), symbol.subscript().parse().ok()?),
        (Operator::Indexed, [letter, index]) => (letter.as_symbol()?.name(), index.as_i64()?),
        _ => return None,
    };
    let rule = match name {
        "L" => Rule::Left,
        "R" => Rule::Right,
        "M" => Rule::Middle,
        "T" => Rule::Trapezoid,
        "S" => Rule::Simpson,
        _ => return None,
    };
    Some((rule, steps))
}

/// "with 4 subintervals", "using six rectangles".
fn steps_in(words: &str) -> Option<i64> {
    const NAMES: [&str; 10] = [
        "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten",
    ];
    if let Some(place) = words.find("n=").or_else(|| words.find("n =")) {
        let rest = words[place + 2..].trim_start_matches([' ', '=']);
        let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
        if let Ok(steps) = digits.parse() {
            return Some(steps);
        }
    }
    let words: Vec<&str> = words.split_whitespace().collect();
    words.windows(3).chain(words.windows(2)).find_map(|pair| {
        let last = pair.last()?;
        let counts = ["subinterval", "rectangle", "trapezoid", "interval", "step"];
        counts
            .iter()
            .any(|name| last.starts_with(name))
            .then_some(())?;
        let first = pair[0];
        let named = NAMES.iter().position(|name| *name == first);
        named
            .map(|place| place as i64 + 1)
            .or_else(|| first.parse().ok())
    })
}

/// What is integrated, and between which bounds.
fn integral(asked: &Asked<'_>) -> Option<(Expression, Symbol, Expression, Expression)> {
    for formula in &asked.formulas {
        if let (Operator::Integral(integration), [body, letter, low, high]) =
            (formula.operator(), formula.operands())
            && integration.bounds == Bounds::Between
        {
            return Some((
                asked.givens.unfold(body),
                letter.as_symbol()?.clone(),
                low.clone(),
                high.clone(),
            ));
        }
    }
    let (low, high) = asked.interval()?;
    Some((
        asked.givens.body()?.clone(),
        asked.givens.letter()?,
        low,
        high,
    ))
}

fn estimate(
    body: &Expression,
    letter: &Symbol,
    low: &Expression,
    high: &Expression,
    rule: Rule,
    steps: i64,
) -> Option<Expression> {
    let is_odd = rule == Rule::Simpson && steps % 2 != 0;
    if !(1..=MAX_STEPS).contains(&steps) || is_odd {
        return None;
    }
    number(low)?;
    number(high)?;
    let whole = |n: i64| Expression::integer(n);
    let width = Expression::fraction(
        Expression::difference(high.clone(), low.clone()),
        whole(steps),
    );
    // At so many half steps from the lower bound.
    let at = |halves: i64| {
        let along =
            Expression::product([Expression::fraction(whole(halves), whole(2)), width.clone()]);
        body.substitute(letter, &Expression::sum([low.clone(), along]))
    };
    let weighted = |weight: i64, value: Expression| Expression::product([whole(weight), value]);
    let (terms, divisor): (Vec<Expression>, i64) = match rule {
        Rule::Left => ((0..steps).map(|k| at(2 * k)).collect(), 1),
        Rule::Right => ((1..=steps).map(|k| at(2 * k)).collect(), 1),
        Rule::Middle => ((0..steps).map(|k| at(2 * k + 1)).collect(), 1),
        Rule::Trapezoid => (
            (0..=steps)
                .map(|k| weighted(if k == 0 || k == steps { 1 } else { 2 }, at(2 * k)))
                .collect(),
            2,
        ),
        Rule::Simpson => (
            (0..=steps)
                .map(|k| {
                    let weight = match k {
                        0 => 1,
                        k if k == steps => 1,
                        k if k % 2 == 1 => 4,
                        _ => 2,
                    };
                    weighted(weight, at(2 * k))
                })
                .collect(),
            3,
        ),
    };
    Some(Expression::product([
        Expression::fraction(width.clone(), whole(divisor)),
        Expression::sum(terms),
    ]))
}
