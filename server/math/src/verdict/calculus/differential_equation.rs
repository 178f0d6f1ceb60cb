//! Is this the solution of the differential equation?
//!
//! An answer is put into the equation: it is developed into a Taylor polynomial, explicitly or along
//! the curve that it defines, and what is left over must vanish. Each initial value is looked at,
//! and the constants that are free are counted by the rank of the matrix of their effects.

mod system;

use super::Context;
use super::implicit::Curve;
use super::jet::Jet;
use super::program::{Leaves, Program, compile, symbol_expression};
use super::question::Claim;
use super::sample;
use crate::expression::{Expression, Operator, Relation};
use crate::verdict::Verdict;
use system::{System, letter};

pub(super) use system::is_differential;

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
    use crate::expression::Symbol;

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
