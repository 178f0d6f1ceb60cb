//! Is this the Taylor polynomial or series of the function?

use super::Context;
use super::derivative;
use super::jet::Jet;
use super::program::{Leaves, Program, compile, symbol_expression};
use super::quantity::all;
use super::question;
use super::sample;
use crate::expression::{Expression, Operator, Symbol};
use crate::verdict::Verdict;

struct Function {
    letter: Symbol,
    program: Program,
    centre: f64,
}

/// Coefficients beyond this order are not looked at.
const MAX_ORDER: usize = 24;

pub(super) fn judge(context: &Context<'_>) -> Verdict {
    if let Some(question) = with_degree_in_words(context.question) {
        return judge(&Context {
            question: &question,
            ..*context
        });
    }
    let Some(function) = asked(context) else {
        return Verdict::cannot_tell("the function is not understood");
    };
    let claims = &context.reply.claims;
    if claims.is_empty() {
        return Verdict::cannot_tell("the answer holds no formula");
    }
    let verdicts: Vec<Verdict> = claims
        .iter()
        .map(|claim| match claim.values.last() {
            Some(value) => hold(context, &function, value),
            None => Verdict::cannot_tell("the answer holds no formula"),
        })
        .collect();
    all(verdicts)
}

/// The question with its last power in words: "up to `$x^4$`" says that the degree is 4. None if no
/// formula says so.
fn with_degree_in_words<'a>(question: &question::Question<'a>) -> Option<question::Question<'a>> {
    const LEADS: [&str; 7] = [
        "up to",
        "through",
        "including",
        "up to the",
        "through the",
        "including the",
        "as far as",
    ];
    let mut places = question.words.match_indices('$').enumerate();
    let (rank, at, degree) = places.find_map(|(rank, (at, _))| {
        let before = question.words[..at].trim_end();
        let says_last = LEADS.iter().any(|lead| before.ends_with(lead));
        let formula = question.formulas.get(rank)?;
        let degree = match (formula.operator(), formula.operands()) {
            (Operator::Power, [base, exponent]) if base.as_symbol().is_some() => {
                exponent.as_i64()?
            }
            _ => return None,
        };
        (says_last && degree > 0).then_some((rank, at, degree))
    })?;
    let words = format!(
        "{}degree {degree} {}",
        &question.words[..at],
        &question.words[at + 1..]
    );
    Some(question.without_formula(rank, words))
}

fn asked(context: &Context<'_>) -> Option<Function> {
    let question = context.question;
    let asked = derivative::asked(context)?;
    let letter = match question
        .definitions
        .first()
        .and_then(|d| d.variables.first())
    {
        Some(letter) => letter.clone(),
        None => question::variables(&asked.body).into_iter().next()?,
    };
    let mut leaves = Leaves::of([symbol_expression(&letter)]);
    let program = compile(&asked.body, &mut leaves)
        .ok()
        .filter(|_| leaves.len() == 1)?;
    let number = |value: &Expression| {
        let program = compile(value, &mut Leaves::default()).ok()?;
        program.value(&[], context.budget)
    };
    // "centred at $a = 2$", "about $x = 1$", "at $\frac{\pi}{4}$", "at a = 2"
    let mut centre = None;
    for formula in &question.formulas {
        if let Some((left, right)) = formula.as_equation() {
            let named = left.as_symbol().map(|s| s.name().to_owned());
            if matches!(named.as_deref(), Some("a" | "c")) || left.as_symbol() == Some(&letter) {
                centre = centre.or(number(right));
            }
        }
    }
    let words = &question.words;
    if centre.is_none() {
        for lead in ["at $", "about $", "around $", "powers of $", "near $"] {
            if let Some(before) = words.find(lead) {
                let place = words[..before].matches('$').count();
                let formula = question.formulas.get(place)?;
                centre = match lead {
                    // "in powers of $x - 2$"
                    "powers of $" => {
                        let mut leaves = Leaves::of([symbol_expression(&letter)]);
                        let shift = compile(formula, &mut leaves).ok()?;
                        shift.value(&[0.0], context.budget).map(|value| -value)
                    }
                    _ => number(formula),
                };
            }
        }
    }
    if centre.is_none() {
        for lead in [" a = ", " x = ", " a=", " x=", " c = ", " c="] {
            if let Some(at) = words.find(lead) {
                let rest = words[at + lead.len()..].split_whitespace().next()?;
                let tex = rest.trim_matches(|c: char| c == '.' || c == ',');
                let reading = crate::read(tex, &crate::Declared::new());
                centre = number(&reading.expression);
            }
        }
    }
    let is_maclaurin = question.says(&["maclaurin"]);
    Some(Function {
        letter,
        program,
        centre: centre.or(is_maclaurin.then_some(0.0)).unwrap_or(0.0),
    })
}

fn hold(context: &Context<'_>, function: &Function, value: &Expression) -> Verdict {
    let (value, open) = without_dots(value);
    let has_series = value
        .parts()
        .any(|part| matches!(part.operator(), Operator::Series(..)));
    let mut leaves = Leaves::of([symbol_expression(&function.letter)]);
    let program = match compile(&value, &mut leaves) {
        Ok(program) if leaves.len() == 1 => program,
        Ok(_) => return Verdict::cannot_tell("the answer holds a letter of its own"),
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    if has_series {
        return sums(context, function, &program);
    }
    let length = MAX_ORDER + 2;
    let develop = |program: &Program| {
        program.jet(
            &[Jet::variable(function.centre, length)],
            length,
            context.budget,
        )
    };
    let Some(truth) = develop(&function.program) else {
        return Verdict::cannot_tell("the function has no Taylor series at this place");
    };
    let Some(given) = develop(&program) else {
        return Verdict::cannot_tell("the answer could not be developed");
    };
    let size = (0..length).fold(0.0_f64, |size, k| size.max(given.coefficient(k).abs()));
    let degree = (0..length)
        .rev()
        .find(|k| given.coefficient(*k).abs() > 1e-12 * size);
    let degree = degree.unwrap_or(0);
    if degree > MAX_ORDER {
        return Verdict::cannot_tell("the answer is no polynomial");
    }
    let wanted = degree_in_words(context);
    if let Some(wanted) = wanted {
        let is_short =
            (degree + 1..=wanted.min(MAX_ORDER)).find(|k| truth.coefficient(*k).abs() > 1e-10);
        if let Some(missing) = is_short {
            return Verdict::fails_at(
                "a term is missing",
                format!(
                    "the coefficient of degree {missing} is {}",
                    sample::number(truth.coefficient(missing))
                ),
            );
        }
        if degree > wanted && !open {
            return Verdict::cannot_tell("the answer has a greater degree than is asked for");
        }
    }
    let rounded = value.parts().any(|part| {
        part.as_number()
            .is_some_and(|n| !matches!(n.written(), crate::expression::Written::Exact))
    });
    for order in 0..=degree {
        let (right, wrong) = (truth.coefficient(order), given.coefficient(order));
        if (right - wrong).abs() > 1e-8 * (1e-3 + right.abs().max(wrong.abs())) {
            if rounded && (right - wrong).abs() < 0.02 * (1.0 + right.abs()) {
                return Verdict::cannot_tell("the answer is rounded");
            }
            let (right, wrong) = sample::numbers(right, wrong);
            return Verdict::fails_at(
                format!("the coefficient of degree {order} is wrong"),
                format!("it is {right}, the answer has {wrong}"),
            );
        }
    }
    if let Some(count) = count_in_words(&context.question.words) {
        let nonzero = (0..=degree)
            .filter(|k| given.coefficient(*k).abs() > 1e-12 * size)
            .count();
        if nonzero != count {
            return Verdict::fails_at(
                "it has another number of terms",
                format!("{count} are asked for, the answer has {nonzero}"),
            );
        }
    }
    Verdict::Holds
}

/// "of degree 3", "third-degree", "$T_3$", "order 4".
fn degree_in_words(context: &Context<'_>) -> Option<usize> {
    let words = &context.question.words;
    for lead in ["degree ", "order "] {
        if let Some(at) = words.find(lead) {
            let rest = &words[at + lead.len()..];
            let word = rest.split_whitespace().next()?;
            let word = word.trim_matches(|c: char| !c.is_alphanumeric() && c != '$');
            if let Ok(degree) = word.parse() {
                return Some(degree);
            }
            let place = words[..at].matches('$').count();
            if word.starts_with('$') {
                let formula = context.question.formulas.get(place)?;
                let number = formula.as_equation().map_or(formula, |(_, right)| right);
                return usize::try_from(number.as_i64()?).ok();
            }
        }
    }
    let ordinals = [
        ("linear approx", 1),
        ("linearization", 1),
        ("quadratic approx", 2),
        ("first-degree", 1),
        ("second-degree", 2),
        ("third-degree", 3),
        ("fourth-degree", 4),
        ("fifth-degree", 5),
        ("2nd-degree", 2),
        ("3rd-degree", 3),
        ("4th-degree", 4),
        ("second degree", 2),
        ("third degree", 3),
        ("fourth degree", 4),
        ("second-order", 2),
        ("third-order", 3),
        ("fourth-order", 4),
    ];
    if let Some((_, degree)) = ordinals.iter().find(|(phrase, _)| words.contains(phrase)) {
        return Some(*degree);
    }
    // `T_3(x)`, `P_4(x)` as what is asked for, and `n = 3`.
    context.question.formulas.iter().find_map(|formula| {
        if let Some((left, right)) = formula.as_equation()
            && left.as_symbol().is_some_and(|s| s.name() == "n")
        {
            return usize::try_from(right.as_i64()?).ok();
        }
        let name = match (formula.operator(), formula.operands()) {
            (Operator::Apply, [name, ..]) => name,
            _ => formula,
        };
        let symbol = name.as_symbol()?;
        match ["T", "P"].contains(&symbol.name()) {
            true => symbol.subscript().parse().ok(),
            false => None,
        }
    })
}

/// "the first four nonzero terms"
fn count_in_words(words: &str) -> Option<usize> {
    let counts = [
        ("two", 2),
        ("three", 3),
        ("four", 4),
        ("five", 5),
        ("six", 6),
    ];
    counts
        .iter()
        .find(|(name, _)| {
            [" nonzero", " non-zero", " terms that are not zero"]
                .iter()
                .any(|kind| words.contains(&format!("first {name}{kind}")))
        })
        .map(|(_, count)| *count)
}

/// A sum without its dots, and whether it had any.
fn without_dots(value: &Expression) -> (Expression, bool) {
    match (value.operator(), value.operands()) {
        (Operator::Sum, terms) => {
            let is_dots = |term: &Expression| match (term.operator(), term.operands()) {
                (Operator::Ellipsis, _) => true,
                (Operator::Negative, [inner]) => matches!(inner.operator(), Operator::Ellipsis),
                _ => false,
            };
            let kept: Vec<Expression> = terms
                .iter()
                .filter(|term| !is_dots(term))
                .cloned()
                .collect();
            // `... + \frac{(-1)^n x^{2n+1}}{(2n+1)!} + ...`: the general term is no term.
            let mut general = false;
            let kept: Vec<Expression> = kept
                .into_iter()
                .filter(|term| {
                    let has_index = term
                        .free_symbols()
                        .iter()
                        .any(|s| ["n", "k"].contains(&s.name()));
                    general |= has_index;
                    !has_index
                })
                .collect();
            let open = kept.len() < terms.len();
            (Expression::sum(kept), open)
        }
        _ => (value.clone(), false),
    }
}

/// A series in closed form must have the values of the function close to its centre.
fn sums(context: &Context<'_>, function: &Function, program: &Program) -> Verdict {
    let mut agreed = 0;
    for offset in [0.05, -0.04, 0.1, -0.08, 0.02, 0.15, -0.12] {
        let at = [function.centre + offset];
        let (Some(truth), Some(given)) = (
            function.program.value(&at, context.budget),
            program.value(&at, context.budget),
        ) else {
            continue;
        };
        if (truth - given).abs() <= 1e-9 * (1e-3 + truth.abs()) {
            agreed += 1;
        } else {
            let (truth, given) = sample::numbers(truth, given);
            return Verdict::fails_at(
                "the series has another sum",
                format!(
                    "at {} = {} the function is {truth}, the series {given}",
                    function.letter.name(),
                    sample::number(at[0])
                ),
            );
        }
    }
    match agreed >= 3 {
        true => Verdict::Holds,
        false => Verdict::cannot_tell("the series could not be summed"),
    }
}
