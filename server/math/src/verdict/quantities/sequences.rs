//! Terms, formulas and sums of sequences.

use super::{Asked, of_rational, rational, value_of};
use crate::expression::{Expression, Operator, Symbol};
use crate::rational::Rational;
use crate::verdict::Verdict;
use crate::verdict::expressions::ordinal;
use crate::verdict::functions;

/// The greatest number of a term that is computed.
const MAX_TERM: i64 = 400;

/// The numbers that words name.
const NUMBERS: [&str; 12] = [
    "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten", "eleven",
    "twelve",
];

/// A sequence by what the statement says of it.
enum Sequence {
    /// `a_n = …`, with its letter.
    Formula(Expression, Symbol),
    /// `a_n = …a_{n-1}…` with the first terms; the sequence's letter and the index.
    Recursive {
        name: Symbol,
        index: Symbol,
        body: Expression,
        shift: i64,
        first: Vec<(i64, Rational)>,
    },
    /// Its first terms, from number 1 on.
    Listed(Vec<Rational>),
    /// First term and common difference.
    Arithmetic(Rational, Rational),
    /// First term and common ratio.
    Geometric(Rational, Rational),
}

pub(super) fn judge(asked: &Asked<'_>) -> Option<Verdict> {
    let says = |phrases: &[&str]| asked.says(phrases);
    if says(&[
        "converge",
        "diverge",
        "limit",
        "bounded",
        "monotonic",
        "taylor",
        "maclaurin",
    ]) {
        return None;
    }
    let about_terms = says(&["terms of", "first"]) && says(&["term"]);
    let asks_formula = says(&[
        "explicit formula",
        "explicit rule",
        "general term",
        "nth term",
        "n th term",
        "nthterm",
        "n -th term",
        "formula for the sequence",
        "general formula",
    ]);
    let asks_recursive = says(&["recursive formula", "recursive rule"]);
    let is_sum = says(&["sum"]);
    let sequence = sequence(asked);
    match () {
        () if asks_recursive => recursive_formula(asked, &sequence?),
        () if asks_formula && !is_sum && !about_terms => formula(asked, &sequence?),
        () if about_terms && !is_sum => first_terms(asked, &sequence?),
        () if says(&["common difference"]) && !says(&["term"]) => match sequence? {
            Sequence::Listed(terms) => asked.value(&of_rational(&difference(&terms)?)),
            _ => None,
        },
        () if says(&["common ratio"]) && !says(&["term"]) => match sequence? {
            Sequence::Listed(terms) => asked.value(&of_rational(&ratio(&terms)?)),
            _ => None,
        },
        () if is_sum && !says(&["first"]) && has_ellipsis(asked) => infinite_sum(asked),
        () if is_sum => partial_sum(asked, &sequence?),
        () if says(&["sequence", "term"]) => one_term(asked, &sequence?),
        () => None,
    }
}

fn has_ellipsis(asked: &Asked<'_>) -> bool {
    asked.formulas.iter().any(|f| {
        f.parts()
            .any(|part| matches!(part.operator(), Operator::Ellipsis))
    })
}

/// A letter with one index: `a_n`, `a_{n-1}`, `a_1`.
fn indexed(expression: &Expression) -> Option<(Symbol, Expression)> {
    match (expression.operator(), expression.operands()) {
        (Operator::Indexed, [letter, index]) => Some((letter.as_symbol()?.clone(), index.clone())),
        (Operator::Symbol(symbol), _) if !symbol.subscript().is_empty() => {
            let number: i64 = symbol.subscript().parse().ok()?;
            Some((symbol.with_subscript(""), Expression::integer(number)))
        }
        _ => None,
    }
}

/// What the statement says of a sequence.
fn sequence(asked: &Asked<'_>) -> Option<Sequence> {
    let mut known: Vec<(i64, Rational)> = Vec::new();
    let mut general = None;
    for formula in &asked.formulas {
        if let Some((left, right)) = formula.as_equation() {
            if let Some((name, index)) = indexed(left) {
                match (index.as_i64(), index.as_symbol()) {
                    (Some(number), _) => known.push((number, rational(right)?)),
                    (None, Some(letter)) => {
                        general = Some((name, letter.clone(), right.clone(), 0));
                    }
                    // a_{n+1} = …
                    (None, None) => {
                        let free = index.free_symbols();
                        let letter = free.into_iter().next()?;
                        let shift = rational(&index.substitute(&letter, &Expression::integer(0)))?;
                        general = Some((name, letter, right.clone(), shift.as_i64()?));
                    }
                }
            } else if let (Operator::Apply, [name, index]) = (left.operator(), left.operands())
                && let Some(letter) = index.as_symbol()
                && ["n", "k"].contains(&letter.name())
            {
                general = Some((name.as_symbol()?.clone(), letter.clone(), right.clone(), 0));
            }
        }
    }
    if let Some((name, index, body, shift)) = general {
        let calls_itself = body
            .parts()
            .any(|part| indexed(part).is_some_and(|(letter, _)| letter == name));
        return match calls_itself {
            false if shift == 0 => Some(Sequence::Formula(body, index)),
            true if !known.is_empty() => Some(Sequence::Recursive {
                name,
                index,
                body,
                shift,
                first: known,
            }),
            _ => None,
        };
    }
    let first = || {
        known
            .iter()
            .find(|(number, _)| *number == 1)
            .map(|(_, value)| value.clone())
    };
    let step = |names: &[&str]| asked.given(names).and_then(rational);
    if let Some(first) = first() {
        if let Some(step) = step(&["d"]) {
            return Some(Sequence::Arithmetic(first, step));
        }
        if let Some(step) = step(&["r"]) {
            return Some(Sequence::Geometric(first, step));
        }
        // Two terms decide.
        if let Some((number, other)) = known.iter().find(|(number, _)| *number > 1) {
            if asked.says(&["arithmetic"]) {
                let steps = Rational::integer(number - 1);
                let step = (other - &first).checked_div(&steps)?;
                return Some(Sequence::Arithmetic(first, step));
            }
            if asked.says(&["geometric"]) && *number == 2 {
                return Some(Sequence::Geometric(
                    first.clone(),
                    other.checked_div(&first)?,
                ));
            }
        }
        if known.len() < 3 {
            return None;
        }
    }
    listed(asked).map(Sequence::Listed)
}

/// Numbers side by side, with something left out at the end or not.
fn listed(asked: &Asked<'_>) -> Option<Vec<Rational>> {
    let numbers = |items: &[Expression]| -> Option<Vec<Rational>> {
        items
            .iter()
            .filter(|item| !matches!(item.operator(), Operator::Ellipsis))
            .map(rational)
            .collect()
    };
    for formula in &asked.formulas {
        let body = value_of(formula);
        if let (Operator::Set | Operator::Tuple(_), items) = (body.operator(), body.operands())
            && let Some(found) = numbers(items)
            && found.len() >= 3
        {
            return Some(found);
        }
    }
    // "the `$n$`th term of": a letter is no term.
    let terms: Vec<Expression> = asked
        .formulas
        .iter()
        .filter(|formula| formula.as_symbol().is_none())
        .cloned()
        .collect();
    let found = numbers(&terms)?;
    (found.len() >= 3).then_some(found)
}

fn difference(terms: &[Rational]) -> Option<Rational> {
    let step = terms.get(1)? - terms.first()?;
    terms
        .windows(2)
        .all(|pair| &pair[1] - &pair[0] == step)
        .then_some(step)
}

fn ratio(terms: &[Rational]) -> Option<Rational> {
    let ratio = terms.get(1)?.checked_div(terms.first()?)?;
    terms
        .windows(2)
        .all(|pair| pair[1].checked_div(&pair[0]).as_ref() == Some(&ratio))
        .then_some(ratio)
}

impl Sequence {
    /// The terms from number 1 to a number.
    fn terms(&self, count: i64) -> Option<Vec<Expression>> {
        if !(1..=MAX_TERM).contains(&count) {
            return None;
        }
        match self {
            Self::Formula(body, letter) => Some(
                (1..=count)
                    .map(|n| body.substitute(letter, &Expression::integer(n)))
                    .collect(),
            ),
            Self::Arithmetic(first, step) => Some(
                (0..count)
                    .map(|n| of_rational(&(first + &(step * &Rational::integer(n)))))
                    .collect(),
            ),
            Self::Geometric(first, ratio) => (0..count)
                .map(|n| Some(of_rational(&(first * &ratio.pow(n)?))))
                .collect(),
            Self::Listed(terms) => {
                if count as usize <= terms.len() {
                    return Some(terms[..count as usize].iter().map(of_rational).collect());
                }
                let first = terms.first()?.clone();
                match (difference(terms), ratio(terms)) {
                    (Some(step), _) => Self::Arithmetic(first, step).terms(count),
                    (None, Some(ratio)) => Self::Geometric(first, ratio).terms(count),
                    (None, None) => None,
                }
            }
            Self::Recursive {
                name,
                index,
                body,
                shift,
                first,
            } => {
                let mut known = first.clone();
                let start = known.iter().map(|(number, _)| *number).min()?;
                if start != 1 {
                    return None;
                }
                for number in 1..=count {
                    if known.iter().any(|(at, _)| *at == number) {
                        continue;
                    }
                    let here = body.substitute(index, &Expression::integer(number - shift));
                    let put = put_terms(&here, name, &known)?;
                    known.push((number, rational(&put)?));
                }
                (1..=count)
                    .map(|number| {
                        let (_, value) = known.iter().find(|(at, _)| *at == number)?;
                        Some(of_rational(value))
                    })
                    .collect()
            }
        }
    }
}

/// An expression with the known terms of a sequence put in; none if one is not known.
fn put_terms(
    expression: &Expression,
    name: &Symbol,
    known: &[(i64, Rational)],
) -> Option<Expression> {
    if let Some((letter, index)) = indexed(expression)
        && letter == *name
    {
        let number = rational(&index)?.as_i64()?;
        let (_, value) = known.iter().find(|(at, _)| *at == number)?;
        return Some(of_rational(value));
    }
    let operands: Option<Vec<Expression>> = expression
        .operands()
        .iter()
        .map(|operand| put_terms(operand, name, known))
        .collect();
    Some(expression.with_operands(operands?))
}

/// The count that the words name: "the first five terms".
fn count_in(words: &str) -> Option<i64> {
    let rest = &words[words.find("first")? + "first".len()..];
    let word = rest.split_whitespace().next()?;
    let word = word.trim_matches(|c: char| !c.is_alphanumeric());
    if let Some(place) = NUMBERS.iter().position(|name| *name == word) {
        return Some(place as i64 + 1);
    }
    word.parse().ok()
}

fn first_terms(asked: &Asked<'_>, sequence: &Sequence) -> Option<Verdict> {
    let mut claimed = Vec::new();
    for formula in &asked.answer.formulas {
        let value = value_of(formula);
        match value.operator() {
            Operator::Set | Operator::Tuple(_) => claimed.extend(value.operands().iter().cloned()),
            _ => claimed.push(value.clone()),
        }
    }
    claimed.retain(|term| !matches!(term.operator(), Operator::Ellipsis));
    let count = claimed.len() as i64;
    if count < 2 {
        return None;
    }
    if let Some(wanted) = count_in(&asked.question.words)
        && wanted > count
    {
        return Some(Verdict::fails_at(
            "terms are missing",
            format!("there are {count}, and {wanted} are asked for"),
        ));
    }
    let mut all = Verdict::Holds;
    for (number, (exact, claimed)) in (1..).zip(sequence.terms(count)?.iter().zip(&claimed)) {
        match functions::equal(asked.question, exact, claimed) {
            Verdict::Holds => {}
            Verdict::Fails { witness, .. } => {
                return Some(Verdict::Fails {
                    reason: format!("term {number} is another number"),
                    witness,
                });
            }
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// The number of the term that is asked for.
fn one_term(asked: &Asked<'_>, sequence: &Sequence) -> Option<Verdict> {
    let named = asked.formulas.iter().find_map(|formula| {
        let (_, index) = indexed(formula)?;
        index.as_i64()
    });
    let number = named.or_else(|| ordinal(&asked.question.words))?;
    let exact = sequence.terms(number)?.pop()?;
    asked.value(&exact)
}

/// A claimed formula for the terms.
fn formula(asked: &Asked<'_>, sequence: &Sequence) -> Option<Verdict> {
    if matches!(sequence, Sequence::Formula(..)) {
        return None;
    }
    let [claim] = asked.answer.formulas.as_slice() else {
        return None;
    };
    let claimed = value_of(claim);
    let free = claimed.free_symbols();
    let letter = free
        .iter()
        .find(|letter| ["n", "k", "x"].contains(&letter.name()));
    let letter = match (letter, free.len()) {
        (Some(letter), 1) => letter.clone(),
        (None, 0) => Symbol::new("n"),
        _ => return None,
    };
    if claimed.parts().any(|part| indexed(part).is_some()) {
        return None;
    }
    let count = match sequence {
        Sequence::Listed(terms) => terms.len() as i64,
        _ => 6,
    };
    let start = match asked.says(&["n=0", "starting with 0", "n \\ge 0"]) {
        true => 0,
        false => 1,
    };
    let mut all = Verdict::Holds;
    for (place, exact) in sequence.terms(count)?.iter().enumerate() {
        let n = start + place as i64;
        let here = claimed.substitute(&letter, &Expression::integer(n));
        match functions::equal(asked.question, exact, &here) {
            Verdict::Holds => {}
            Verdict::Fails { witness, .. } => {
                return Some(Verdict::Fails {
                    reason: format!("the formula does not give term {n}"),
                    witness,
                });
            }
            doubt => all = doubt,
        }
    }
    Some(all)
}

/// A claimed rule that gives a term from the one before, with the first term.
fn recursive_formula(asked: &Asked<'_>, sequence: &Sequence) -> Option<Verdict> {
    let mut rule = None;
    let mut first = None;
    for claim in &asked.answer.formulas {
        let (left, right) = claim.as_equation()?;
        let (name, index) = indexed(left)?;
        match index.as_i64() {
            Some(1) => first = rational(right),
            Some(_) => return None,
            None => rule = Some((name, index, right.clone())),
        }
    }
    let (name, index, body) = rule?;
    let letter = index.free_symbols().into_iter().next()?;
    let shift = rational(&index.substitute(&letter, &Expression::integer(0)))?.as_i64()?;
    let count = match sequence {
        Sequence::Listed(terms) => terms.len() as i64,
        _ => 6,
    };
    let terms: Option<Vec<Rational>> = sequence.terms(count)?.iter().map(rational).collect();
    let known: Vec<(i64, Rational)> = (1..).zip(terms?).collect();
    if let Some(first) = first
        && first != known[0].1
    {
        return Some(Verdict::fails_at(
            "the first term is another number",
            format!("it is {}", known[0].1),
        ));
    }
    for (number, value) in &known[1..] {
        let here = body.substitute(&letter, &Expression::integer(number - shift));
        let put = rational(&put_terms(&here, &name, &known)?)?;
        if put != *value {
            return Some(Verdict::fails_at(
                "the rule does not give the terms",
                format!("term {number} is {value}, and not {put}"),
            ));
        }
    }
    Some(Verdict::Holds)
}

/// The sum of the first terms.
fn partial_sum(asked: &Asked<'_>, sequence: &Sequence) -> Option<Verdict> {
    if matches!(sequence, Sequence::Listed(_)) && !has_ellipsis(asked) {
        return None;
    }
    let count = count_in(&asked.question.words)
        .or_else(|| rational(asked.given(&["n"])?)?.as_i64())
        .filter(|count| *count > 1)?;
    let terms = sequence.terms(count)?;
    asked.value(&Expression::sum(terms))
}

/// The sum of `2 + 1.6 + 1.28 + …`.
fn infinite_sum(asked: &Asked<'_>) -> Option<Verdict> {
    let is_dots = |term: &Expression| match (term.operator(), term.operands()) {
        (Operator::Ellipsis, _) => true,
        (Operator::Negative, [inner]) => matches!(inner.operator(), Operator::Ellipsis),
        _ => false,
    };
    let formula = asked.formulas.iter().find(|formula| {
        matches!(formula.operator(), Operator::Sum)
            && formula.operands().last().is_some_and(is_dots)
    })?;
    let terms: Option<Vec<Rational>> = formula.operands()[..formula.operands().len() - 1]
        .iter()
        .map(rational)
        .collect();
    let terms = terms?;
    if terms.len() < 3 {
        return None;
    }
    let ratio = ratio(&terms)?;
    if ratio.abs() >= Rational::ONE {
        return match asked
            .answer
            .says(&["diverge", "does not exist", "no sum", "not converge"])
        {
            true => Some(Verdict::Holds),
            false if asked.answer.formulas.is_empty() => None,
            false => Some(Verdict::fails_at(
                "it diverges",
                format!("the common ratio is {ratio}"),
            )),
        };
    }
    if asked.answer.says(&["diverge"]) {
        return Some(Verdict::fails_at(
            "it converges",
            format!("the common ratio is {ratio}"),
        ));
    }
    let below = Rational::ONE - &ratio;
    asked.value(&of_rational(&terms[0].checked_div(&below)?))
}
