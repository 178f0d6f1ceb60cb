//! Is this the right answer about a system of equations?

use std::collections::BTreeSet;

use super::Verdict;
use super::answer::{self, Answer, Outcome};
use super::claims;
use super::equivalence;
use super::interval::{Interval, Reading, Tape};
use super::question::Question;
use super::substitution::{self, Holds};
use crate::derivative::derivative;
use crate::expression::{Connective, Expression, Operator, Relation, Symbol};
use crate::linear::Matrix;
use crate::normal_form::{self, Normal};
use crate::rational::Rational;

/// A formula that is several equations.
pub(super) fn is_system(main: &Expression) -> bool {
    match (main.operator(), main.operands()) {
        (Operator::System, _) => true,
        (Operator::List | Operator::Logic(Connective::And), items) => {
            items.len() > 1 && items.iter().all(|item| item.as_equation().is_some())
        }
        (Operator::Relation(relations), _) => {
            relations.len() > 1 && relations.iter().all(|r| *r == Relation::Equal)
        }
        _ => false,
    }
}

/// One claimed solution: a value for each letter.
type Assignment = Vec<(Symbol, Expression)>;

/// What an answer claims of a system.
enum Claim {
    Nothing,
    InfinitelyMany,
    Solutions(Vec<Assignment>),
    /// All points where these equations hold.
    Figure(Vec<(Expression, Expression)>),
}

/// The verdict for a system of equations.
pub(super) fn judge(question: &Question, main: &Expression, answer: &Answer) -> Verdict {
    let mut equations: Vec<(Expression, Expression)> = Vec::new();
    let mut conditions: Vec<Expression> = Vec::new();
    match (main.operator(), main.operands()) {
        (Operator::Relation(_), sides) => {
            equations.extend(
                sides
                    .windows(2)
                    .map(|pair| (pair[0].clone(), pair[1].clone())),
            );
        }
        (_, rows) => {
            for row in rows {
                match row.as_equation() {
                    Some((left, right)) => equations.push((left.clone(), right.clone())),
                    None => conditions.push(row.clone()),
                }
            }
        }
    }
    if !conditions.is_empty() {
        return Verdict::cannot_tell("systems with inequalities are not solved");
    }
    if equations.len() > 12 {
        return Verdict::cannot_tell("too large");
    }
    let mut letters: BTreeSet<Symbol> = BTreeSet::new();
    for (left, right) in &equations {
        letters.extend(left.free_symbols());
        letters.extend(right.free_symbols());
    }
    if question.says(&[
        "for which",
        "for what",
        "value of",
        "values of",
        "find all values",
    ]) && question.says(&[
        "no solution",
        "inconsistent",
        "consistent",
        "infinitely many",
        "unique solution",
        "exactly one solution",
        "one solution",
        "nontrivial",
        "non-trivial",
    ]) {
        return with_parameter(question, &equations, &letters, answer).unwrap_or_else(|| {
            Verdict::cannot_tell("what is asked of the letter is not understood")
        });
    }
    if letters.is_empty() || letters.len() > 8 {
        return Verdict::cannot_tell("the system has no letters, or too many");
    }
    let mut letters: Vec<Symbol> = letters.into_iter().collect();
    let mut claim = read(answer, &letters);
    let mut constants = Vec::new();
    if claim.is_err() && question.problem.variables.len() < letters.len() {
        // Some letters stand for numbers.
        let (unknown, others): (Vec<Symbol>, Vec<Symbol>) = letters
            .iter()
            .cloned()
            .partition(|letter| question.problem.variables.contains(letter));
        if let Ok(found) = read(answer, &unknown) {
            letters = unknown;
            constants = others;
            claim = Ok(found);
        }
    }
    let claim = match claim {
        Ok(claim) => claim,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    for trial in 0..3 {
        let values: Assignment = constants
            .iter()
            .enumerate()
            .map(|(rank, letter)| {
                let value = equivalence::coordinate(trial, rank);
                (letter.clone(), substitution::exactly(value))
            })
            .collect();
        let put = |e: &Expression| substitution::replace(e, &values);
        let equations: Vec<_> = equations.iter().map(|(l, r)| (put(l), put(r))).collect();
        let claim = match &claim {
            Claim::Nothing => Claim::Nothing,
            Claim::InfinitelyMany => Claim::InfinitelyMany,
            Claim::Figure(rows) => {
                Claim::Figure(rows.iter().map(|(l, r)| (put(l), put(r))).collect())
            }
            Claim::Solutions(list) => Claim::Solutions(
                list.iter()
                    .map(|one| one.iter().map(|(s, e)| (s.clone(), put(e))).collect())
                    .collect(),
            ),
        };
        let found = verdict(question, &equations, &letters, &claim);
        if !matches!(found, Verdict::Holds) || constants.is_empty() {
            return found;
        }
    }
    Verdict::Holds
}

/// For which values of a letter a linear system has no, one, or many solutions.
fn with_parameter(
    question: &Question,
    equations: &[(Expression, Expression)],
    letters: &BTreeSet<Symbol>,
    answer: &Answer,
) -> Option<Verdict> {
    let unknown: Vec<Symbol> = letters
        .iter()
        .filter(|letter| {
            ["x", "y", "z", "w"].contains(&letter.name())
                && !(letter.name() == "w" && letters.len() < 4)
        })
        .cloned()
        .collect();
    let mut others = letters.iter().filter(|letter| !unknown.contains(letter));
    let (parameter, None) = (others.next()?, others.next()) else {
        return None;
    };
    let claimed = match claims::read(answer, parameter).ok()? {
        claims::Claim::Values(values) => values,
        _ => return None,
    };
    let wanted = match () {
        () if question.says(&["no solution", "inconsistent"]) => 0,
        () if question.says(&["infinitely many", "nontrivial", "non-trivial"]) => 2,
        _ => return None,
    };
    let kind = |value: &Expression| -> Option<i32> {
        let put: Vec<(Expression, Expression)> = equations
            .iter()
            .map(|(l, r)| {
                (
                    l.substitute(parameter, value),
                    r.substitute(parameter, value),
                )
            })
            .collect();
        let system = linear(&put, &unknown)?;
        Some(match (system.solution(), system.freedom()) {
            (None, _) => 0,
            (Some(_), 0) => 1,
            _ => 2,
        })
    };
    for claim in &claimed {
        let found = kind(&claim.value)?;
        if found != wanted {
            let told = ["no solution", "one solution", "infinitely many solutions"];
            return Some(Verdict::fails_at(
                "the system has other solutions there",
                format!(
                    "for {} there is {}",
                    substitution::assignment(parameter, &claim.value),
                    told[found as usize]
                ),
            ));
        }
    }
    // Whole and half numbers that are not claimed.
    for twice in -40..=40 {
        let value = Expression::rational(&Rational::fraction(twice, 2).to_big());
        let is_claimed = claimed.iter().any(|claim| {
            equivalence::same_number(&claim.value, &value) == equivalence::Equivalence::Equal
        });
        if !is_claimed && kind(&value) == Some(wanted) {
            return Some(Verdict::fails_at(
                "a value is missing",
                format!("also for {}", substitution::assignment(parameter, &value)),
            ));
        }
    }
    Some(Verdict::Holds)
}

/// Reads what an answer claims.
fn read(answer: &Answer, letters: &[Symbol]) -> Result<Claim, String> {
    match answer.outcome() {
        Some(Outcome::Nothing) => return Ok(Claim::Nothing),
        Some(Outcome::InfinitelyMany | Outcome::Everything)
            if answer
                .formulas
                .iter()
                .all(|f| !matches!(f.operator(), Operator::Tuple(_))) =>
        {
            return Ok(Claim::InfinitelyMany);
        }
        Some(Outcome::Undefined | Outcome::Prime) => {
            return Err("the answer is not a solution".into());
        }
        _ => {}
    }
    if let [only] = answer.formulas.as_slice()
        && let (Operator::SetBuilder, [element, condition]) = (only.operator(), only.operands())
        && matches!(element.operator(), Operator::Tuple(_))
        && let Some((left, right)) = condition.as_equation()
    {
        return Ok(Claim::Figure(vec![(left.clone(), right.clone())]));
    }
    let mut solutions: Vec<Assignment> = Vec::new();
    let mut open: Assignment = Vec::new();
    let mut items = Vec::new();
    for formula in &answer.formulas {
        flatten(formula, &mut items);
    }
    if items.is_empty() {
        return match answer.formulas.iter().any(|f| {
            matches!(f.as_constant(), Some(crate::expression::Constant::EmptySet))
                || matches!((f.operator(), f.operands()), (Operator::Set, []))
        }) {
            true => Ok(Claim::Nothing),
            false => Err("the answer has no formula".into()),
        };
    }
    let bare: Vec<&Expression> = items
        .iter()
        .filter(|item| claims::is_number_form(item) && item.as_symbol().is_none())
        .collect();
    if bare.len() == items.len() && bare.len() == letters.len() {
        // `2, −1` without brackets.
        let pairs = letters.iter().cloned().zip(bare.into_iter().cloned());
        return Ok(Claim::Solutions(vec![pairs.collect()]));
    }
    for item in &items {
        match (item.operator(), item.operands()) {
            (Operator::Tuple(_) | Operator::Matrix(_), values) => {
                solutions.push(tuple(values, letters)?);
            }
            (Operator::Relation(relations), [left, right]) if relations[0] == Relation::Equal => {
                match (left.operator(), left.operands(), right.operator()) {
                    // A column of letters and a column of numbers.
                    (Operator::Matrix(_), names, Operator::Matrix(_)) => {
                        let names: Option<Vec<Symbol>> =
                            names.iter().map(|name| name.as_symbol().cloned()).collect();
                        let names = names.ok_or("the answer is not understood")?;
                        solutions.push(tuple(right.operands(), &names)?);
                    }
                    // `(x, y) = (2, −1)`.
                    (Operator::Tuple(_), names, Operator::Tuple(_)) => {
                        let names: Option<Vec<Symbol>> =
                            names.iter().map(|name| name.as_symbol().cloned()).collect();
                        let names = names.ok_or("the answer is not understood")?;
                        solutions.push(tuple(right.operands(), &names)?);
                    }
                    (Operator::Symbol(symbol), _, Operator::Tuple(_) | Operator::Matrix(_))
                        if !letters.contains(symbol) =>
                    {
                        solutions.push(tuple(right.operands(), letters)?);
                    }
                    (Operator::Symbol(symbol), _, _) if letters.contains(symbol) => {
                        if open.iter().any(|(known, _)| known == symbol) {
                            solutions.push(std::mem::take(&mut open));
                        }
                        open.push((symbol.clone(), right.clone()));
                    }
                    (Operator::Symbol(_), _, _) => {
                        return Err("a letter in the answer is not in the problem".into());
                    }
                    _ => return Err("the answer is not understood".into()),
                }
            }
            // `z is any number`, `t ∈ ℝ`.
            (Operator::Symbol(_), _) => {}
            (Operator::Relation(relations), [left, _])
                if relations[0] == Relation::In && left.as_symbol().is_some() => {}
            _ => return Err("the answer is not understood".into()),
        }
    }
    if !open.is_empty() {
        solutions.push(open);
    }
    for solution in &solutions {
        if solution
            .iter()
            .any(|(_, value)| !claims::is_number_form(value))
        {
            return Err("the answer is not understood".into());
        }
    }
    match solutions.is_empty() {
        true => Err("the answer names no solution".into()),
        false => Ok(Claim::Solutions(solutions)),
    }
}

fn tuple(values: &[Expression], letters: &[Symbol]) -> Result<Assignment, String> {
    match values.len() == letters.len() {
        true => Ok(letters
            .iter()
            .cloned()
            .zip(values.iter().cloned())
            .collect()),
        false => Err(format!(
            "the answer has {} numbers for {} letters",
            values.len(),
            letters.len()
        )),
    }
}

fn flatten(formula: &Expression, items: &mut Vec<Expression>) {
    match (formula.operator(), formula.operands()) {
        (Operator::Set | Operator::List | Operator::System, parts) => {
            parts.iter().for_each(|part| flatten(part, items));
        }
        (Operator::Logic(Connective::And | Connective::Or), parts) => {
            parts.iter().for_each(|part| flatten(part, items));
        }
        (Operator::SetBuilder, [element, condition])
            if matches!(condition.as_relation(), Some((_, Relation::In, _))) =>
        {
            flatten(element, items);
        }
        (Operator::Constant(crate::expression::Constant::EmptySet), _) => {}
        // `x = y = 3`.
        (Operator::Relation(relations), sides)
            if relations.len() > 1 && relations.iter().all(|r| *r == Relation::Equal) =>
        {
            if let Some(value) = sides.last() {
                items.extend(
                    sides[..sides.len() - 1]
                        .iter()
                        .map(|side| Expression::equation(side.clone(), value.clone())),
                );
            }
        }
        _ => items.push(formula.clone()),
    }
}

fn verdict(
    question: &Question,
    equations: &[(Expression, Expression)],
    letters: &[Symbol],
    claim: &Claim,
) -> Verdict {
    let linear = linear(equations, letters);
    match claim {
        Claim::Nothing => match &linear {
            Some(system) => match system.solution() {
                None => Verdict::Holds,
                Some(point) => Verdict::fails_at(
                    "there is a solution",
                    format!("{} is a solution", told(letters, &point)),
                ),
            },
            None => match missing(equations, letters, &[]) {
                Some(Ok(told)) => {
                    Verdict::fails_at("there is a solution", format!("{told} is a solution"))
                }
                Some(Err(reason)) => Verdict::cannot_tell(reason),
                None => Verdict::Holds,
            },
        },
        Claim::InfinitelyMany => match &linear {
            Some(system) if system.solution().is_none() => Verdict::fails_at(
                "there is no solution",
                "elimination leaves an equation that is never true",
            ),
            Some(system) if system.freedom() > 0 => Verdict::Holds,
            Some(system) => Verdict::fails_at(
                "there is only one solution",
                match system.solution() {
                    Some(point) => format!("it is {}", told(letters, &point)),
                    None => "elimination leaves no letter free".into(),
                },
            ),
            None => Verdict::cannot_tell("the solutions of this system are not counted"),
        },
        Claim::Figure(figure) => match (&linear, self::linear(figure, letters)) {
            (Some(system), Some(figure)) => {
                let rows = |system: &LinearSystem| -> Vec<Vec<Rational>> {
                    let all = system.reduced.rows().iter();
                    all.filter(|row| row.iter().any(|entry| !entry.is_zero()))
                        .cloned()
                        .collect()
                };
                match rows(system) == rows(&figure) {
                    true => Verdict::Holds,
                    false => Verdict::fails_at(
                        "these are other points",
                        "elimination leaves another equation",
                    ),
                }
            }
            _ => Verdict::cannot_tell("the solutions of this system are not counted"),
        },
        Claim::Solutions(list) => {
            solutions_verdict(question, equations, letters, list, linear.as_ref())
        }
    }
}

fn solutions_verdict(
    question: &Question,
    equations: &[(Expression, Expression)],
    letters: &[Symbol],
    list: &[Assignment],
    linear: Option<&LinearSystem>,
) -> Verdict {
    // Signs may be meant each alone or together.
    let mut first_fault = None;
    for linked in [false, true] {
        let mut points = Vec::new();
        for solution in list {
            let as_tuple = Expression::new(
                Operator::List,
                solution.iter().map(|(_, value)| value.clone()),
            );
            for signed in answer::with_signs(&as_tuple, linked) {
                let pairs = solution.iter().map(|(letter, _)| letter.clone());
                points.push(
                    pairs
                        .zip(signed.operands().iter().cloned())
                        .collect::<Assignment>(),
                );
            }
        }
        let found = points_verdict(question, equations, letters, &points, linear);
        if matches!(found, Verdict::Holds) {
            return found;
        }
        first_fault = first_fault.or(Some(found));
        if list.iter().flatten().all(|(_, value)| {
            !value
                .parts()
                .any(|p| matches!(p.operator(), Operator::PlusMinus | Operator::MinusPlus))
        }) {
            break;
        }
    }
    first_fault.unwrap_or_else(|| Verdict::cannot_tell("the answer names no solution"))
}

fn points_verdict(
    question: &Question,
    equations: &[(Expression, Expression)],
    letters: &[Symbol],
    points: &[Assignment],
    linear: Option<&LinearSystem>,
) -> Verdict {
    let mut numbers: Vec<Vec<f64>> = Vec::new();
    let mut freedom = 0;
    for point in points {
        // Letters without a value, and letters in values, may be any number.
        let mut free: BTreeSet<Symbol> = letters
            .iter()
            .filter(|letter| point.iter().all(|(known, _)| known != *letter))
            .cloned()
            .collect();
        // `(x, 3 − x)`: a letter that stands for itself.
        let mut assigned: Assignment = Vec::new();
        for (letter, value) in point {
            match value.as_symbol() == Some(letter) {
                true => {
                    free.insert(letter.clone());
                }
                false => assigned.push((letter.clone(), value.clone())),
            }
        }
        for (_, value) in &assigned {
            free.extend(value.free_symbols());
        }
        if free
            .iter()
            .any(|letter| assigned.iter().any(|(known, _)| known == letter))
        {
            return Verdict::cannot_tell("a letter in the answer is given in terms of itself");
        }
        freedom = freedom.max(free.len());
        let trials = if free.is_empty() { 1 } else { 4 };
        for trial in 0..trials {
            let mut all: Assignment = free
                .iter()
                .enumerate()
                .map(|(rank, letter)| {
                    let value = match trial {
                        0 => 1.0 + rank as f64,
                        1 => -2.0 - rank as f64,
                        _ => equivalence::coordinate(trial + 12, rank),
                    };
                    (letter.clone(), substitution::exactly(value))
                })
                .collect();
            let values: Assignment = assigned
                .iter()
                .map(|(letter, value)| (letter.clone(), substitution::replace(value, &all)))
                .collect();
            all.extend(values);
            all.retain(|(letter, _)| letters.contains(letter));
            match check(question, equations, &all) {
                Ok(()) => {}
                Err(verdict) => return verdict,
            }
            if free.is_empty() {
                let place: Option<Vec<f64>> = letters
                    .iter()
                    .map(|letter| {
                        let (_, value) = all.iter().find(|(known, _)| known == letter)?;
                        claims::bounds(value).map(Interval::middle)
                    })
                    .collect();
                numbers.extend(place);
            }
        }
    }
    if let Some(system) = linear {
        return match system.freedom().cmp(&freedom) {
            std::cmp::Ordering::Greater if freedom == 0 => Verdict::fails_at(
                "there are infinitely many solutions",
                "elimination leaves a letter free",
            ),
            std::cmp::Ordering::Greater => Verdict::fails_at(
                "there are more solutions",
                format!("{} letters are free", system.freedom()),
            ),
            _ => Verdict::Holds,
        };
    }
    if freedom > 0 {
        return Verdict::cannot_tell("whether there are more solutions is not known");
    }
    if numbers.len() < points.len() {
        // Complex solutions hold, and are not searched.
        return Verdict::Holds;
    }
    match missing(equations, letters, &numbers) {
        Some(Ok(told)) => {
            Verdict::fails_at("a solution is missing", format!("{told} is a solution too"))
        }
        Some(Err(reason)) => Verdict::cannot_tell(reason),
        None => Verdict::Holds,
    }
}

/// Whether every equation holds at a point.
fn check(
    question: &Question,
    equations: &[(Expression, Expression)],
    point: &Assignment,
) -> Result<(), Verdict> {
    let is_decimal = question.is_rounded()
        || point
            .iter()
            .any(|(_, value)| equivalence::has_decimal(value));
    for (left, right) in equations {
        let statement = Expression::equation(
            substitution::replace(left, point),
            substitution::replace(right, point),
        );
        let at: Vec<String> = point
            .iter()
            .map(|(letter, value)| substitution::assignment(letter, value))
            .collect();
        let at = at.join(", ");
        match substitution::holds(&statement, Reading::default()) {
            Holds::Yes => {}
            Holds::No(_) if is_decimal && holds_nearly(left, right, point) => {}
            Holds::No(sides) => {
                return Err(Verdict::fails_at(
                    format!(
                        "an equation does not hold: {}",
                        super::equations::shown(&Expression::equation(left.clone(), right.clone()))
                    ),
                    format!("at {at} {sides}"),
                ));
            }
            Holds::Outside(outside) => {
                return Err(Verdict::fails_at(
                    "an equation has no value there",
                    format!("{at} {}", outside.told()),
                ));
            }
            Holds::Unknown => {
                return Err(Verdict::cannot_tell(format!(
                    "the sides cannot be compared at {at}"
                )));
            }
        }
    }
    Ok(())
}

/// The sides are equal for some of the numbers that decimals may be rounded from.
fn holds_nearly(left: &Expression, right: &Expression, point: &Assignment) -> bool {
    let letters: Vec<Symbol> = point.iter().map(|(letter, _)| letter.clone()).collect();
    let at: Option<Vec<Interval>> = point
        .iter()
        .map(|(_, value)| {
            equivalence::rounded_bounds(value, super::interval::Decimals::Rounded, true)
                .filter(|_| equivalence::has_decimal(value))
                .or_else(|| claims::bounds(value))
        })
        .collect();
    let difference = Expression::difference(left.clone(), right.clone());
    let tape = Tape::new(&difference, &letters, Reading::default());
    match (tape, at) {
        (Some(tape), Some(at)) => tape.over(&at).is_ok_and(|over| over.values.contains(0.0)),
        _ => false,
    }
}

/// A system whose equations are linear with numbers for coefficients.
struct LinearSystem {
    reduced: Matrix,
    pivots: Vec<usize>,
    letters: usize,
}

impl LinearSystem {
    fn is_consistent(&self) -> bool {
        !self.pivots.contains(&self.letters)
    }

    /// The number of letters that may be any number.
    fn freedom(&self) -> usize {
        self.letters.saturating_sub(self.pivots.len())
    }

    /// A solution, if there is one.
    fn solution(&self) -> Option<Vec<Expression>> {
        if !self.is_consistent() {
            return None;
        }
        let mut values = vec![Expression::integer(0); self.letters];
        for (row, pivot) in self.pivots.iter().enumerate() {
            let value = self.reduced.rows().get(row)?.get(self.letters)?;
            *values.get_mut(*pivot)? = Expression::rational(&value.to_big());
        }
        Some(values)
    }
}

fn linear(equations: &[(Expression, Expression)], letters: &[Symbol]) -> Option<LinearSystem> {
    let mut rows = Vec::with_capacity(equations.len());
    for (left, right) in equations {
        let difference = Expression::difference(left.clone(), right.clone());
        rows.push(linear_row(
            &normal_form::normal(&difference).ok()?,
            letters,
        )?);
    }
    let (reduced, pivots) = Matrix::new(rows)?.reduced();
    Some(LinearSystem {
        reduced,
        pivots,
        letters: letters.len(),
    })
}

/// The coefficients of a linear form, and the opposite of its constant.
pub(super) fn linear_row(form: &Normal, letters: &[Symbol]) -> Option<Vec<Rational>> {
    let polynomial = form.as_polynomial()?;
    let mut row = vec![Rational::ZERO; letters.len() + 1];
    for (monomial, coefficient) in polynomial.terms() {
        let place = match monomial.powers() {
            [] => letters.len(),
            [(kernel, exponent)] if exponent.is_one() => {
                let symbol = kernel.as_symbol()?;
                letters.iter().position(|letter| letter == symbol)?
            }
            _ => return None,
        };
        row[place] = match monomial.powers().is_empty() {
            true => -coefficient,
            false => coefficient.clone(),
        };
    }
    Some(row)
}

fn told(letters: &[Symbol], values: &[Expression]) -> String {
    let parts: Vec<String> = letters
        .iter()
        .zip(values)
        .map(|(letter, value)| substitution::assignment(letter, value))
        .collect();
    parts.join(", ")
}

/// The number of operations that a search may take.
const BUDGET: u64 = 1_200_000;

/// A real solution that is not among the known ones; an error if the search came to no end.
fn missing(
    equations: &[(Expression, Expression)],
    letters: &[Symbol],
    known: &[Vec<f64>],
) -> Option<Result<String, String>> {
    if letters.len() > 3 || equations.len() < letters.len() {
        return Some(Err("the solutions of this system are not searched".into()));
    }
    let differences: Vec<Expression> = equations
        .iter()
        .map(|(left, right)| Expression::difference(left.clone(), right.clone()))
        .map(|difference| match normal_form::normal(&difference) {
            // Without denominators: what is found is put into the equations as they stand.
            Ok(normal) => normal.numerator_expression(),
            Err(_) => difference,
        })
        .collect();
    let tapes: Option<Vec<Tape>> = differences
        .iter()
        .map(|difference| Tape::new(difference, letters, Reading::default()))
        .collect();
    let slopes: Option<Vec<Vec<Tape>>> = differences[..letters.len()]
        .iter()
        .map(|difference| {
            letters
                .iter()
                .map(|letter| {
                    let slope = normal_form::collected(&derivative(difference, letter)?);
                    Tape::new(&slope, letters, Reading::default())
                })
                .collect()
        })
        .collect();
    let (Some(tapes), Some(slopes)) = (tapes, slopes) else {
        return Some(Err("the solutions of this system are not searched".into()));
    };
    let search = Search {
        equations,
        letters,
        tapes,
        slopes,
        known,
    };
    let mut budget = BUDGET;
    let mut searched = 0;
    let far = known
        .iter()
        .flatten()
        .fold(0.0_f64, |far, value| far.max(value.abs()));
    for size in [10.3_f64, 41.7, 300.9] {
        let size = size.max(1.3 * far);
        match search.within(size, &mut budget) {
            Some(Some(told)) => return Some(Ok(told)),
            Some(None) => searched += 1,
            None => break,
        }
    }
    match searched {
        0 => Some(Err("there are too many places to look at".into())),
        _ => None,
    }
}

struct Search<'a> {
    equations: &'a [(Expression, Expression)],
    letters: &'a [Symbol],
    tapes: Vec<Tape>,
    slopes: Vec<Vec<Tape>>,
    known: &'a [Vec<f64>],
}

impl Search<'_> {
    /// Looks for a solution with coordinates up to a size; none if the budget is spent.
    fn within(&self, size: f64, budget: &mut u64) -> Option<Option<String>> {
        let start = vec![Interval::new(-size, 1.01 * size); self.letters.len()];
        let mut boxes = vec![start];
        let mut places: Vec<Vec<f64>> = Vec::new();
        let cost: u64 = self.tapes.iter().map(|tape| tape.len() as u64 + 2).sum();
        while let Some(current) = boxes.pop() {
            *budget = budget.checked_sub(cost)?;
            let may_hold = self.tapes.iter().all(|tape| {
                tape.over(&current)
                    .is_ok_and(|over| over.values.contains(0.0))
            });
            if !may_hold {
                continue;
            }
            let (widest, width) = current
                .iter()
                .enumerate()
                .map(|(place, side)| (place, side.width()))
                .fold(
                    (0, 0.0),
                    |best, side| if side.1 > best.1 { side } else { best },
                );
            if width < 2e-3 {
                let middle: Vec<f64> = current.iter().map(|side| side.middle()).collect();
                let is_near =
                    |other: &Vec<f64>| other.iter().zip(&middle).all(|(a, b)| (a - b).abs() < 2e-2);
                if self.known.iter().any(is_near) || places.iter().any(is_near) {
                    continue;
                }
                if let Some(told) = self.solution_near(&middle) {
                    return Some(Some(told));
                }
                places.push(middle);
                if places.len() > 300 {
                    return None;
                }
                continue;
            }
            let side = current[widest];
            let cut = side.middle();
            for half in [Interval::new(side.low, cut), Interval::new(cut, side.high)] {
                let mut part = current.clone();
                part[widest] = half;
                boxes.push(part);
            }
        }
        Some(None)
    }

    /// A solution that Newton's method reaches from a place, if it is one for certain and not
    /// among the known ones.
    fn solution_near(&self, start: &[f64]) -> Option<String> {
        let size = self.letters.len();
        let mut at = start.to_vec();
        let mut determinant = 0.0;
        for _ in 0..40 {
            let here: Vec<Interval> = at.iter().map(|value| Interval::point(*value)).collect();
            let mut rows: Vec<Vec<f64>> = Vec::new();
            for (tape, slopes) in self.tapes.iter().zip(&self.slopes) {
                let mut row = Vec::new();
                for slope in slopes {
                    row.push(slope.over(&here).ok()?.values.middle());
                }
                row.push(tape.over(&here).ok()?.values.middle());
                rows.push(row);
            }
            let (step, found) = solve(rows, size)?;
            determinant = found;
            let mut change: f64 = 0.0;
            for (value, step) in at.iter_mut().zip(&step) {
                *value -= step;
                change = change.max(step.abs());
            }
            if change < 1e-13 {
                break;
            }
        }
        let moved = at.iter().zip(start).any(|(a, b)| (a - b).abs() > 0.05);
        if moved || at.iter().any(|value| !value.is_finite()) {
            return None;
        }
        let is_known = |other: &Vec<f64>| {
            other
                .iter()
                .zip(&at)
                .all(|(a, b)| (a - b).abs() < 1e-5 * (1.0 + b.abs()))
        };
        if self.known.iter().any(is_known) {
            return None;
        }
        // A short fraction near it can be put into the equations as they stand.
        let exact: Option<Assignment> = self
            .letters
            .iter()
            .zip(&at)
            .map(|(letter, value)| {
                let within = Interval::new(value - 1e-7, value + 1e-7);
                Some((letter.clone(), substitution::short_fraction(within)?))
            })
            .collect();
        if let Some(point) = exact
            && self.equations.iter().all(|(left, right)| {
                let statement = Expression::equation(
                    substitution::replace(left, &point),
                    substitution::replace(right, &point),
                );
                substitution::holds(&statement, Reading::default()) == Holds::Yes
            })
        {
            let parts: Vec<String> = point
                .iter()
                .map(|(letter, value)| substitution::assignment(letter, value))
                .collect();
            return Some(parts.join(", "));
        }
        let here: Vec<Interval> = at.iter().map(|value| Interval::point(*value)).collect();
        let is_zero = self.tapes.iter().all(|tape| {
            tape.over(&here).is_ok_and(|over| {
                over.is_total && over.values.low.abs().max(over.values.high.abs()) < 1e-8
            })
        });
        let is_defined = self.equations.iter().all(|(left, right)| {
            [left, right].iter().all(|side| {
                Tape::new(side, self.letters, Reading::default())
                    .is_some_and(|tape| tape.over(&here).is_ok_and(|over| over.is_total))
            })
        });
        if !(is_zero && is_defined && determinant.abs() > 1e-4) {
            return None;
        }
        let parts: Vec<String> = self
            .letters
            .iter()
            .zip(&at)
            .map(|(letter, value)| {
                format!(
                    "{} ≈ {}",
                    equivalence::name(letter),
                    equivalence::number(*value)
                )
            })
            .collect();
        Some(parts.join(", "))
    }
}

/// The solution of a linear system by elimination with partial pivoting, and the determinant.
fn solve(mut rows: Vec<Vec<f64>>, size: usize) -> Option<(Vec<f64>, f64)> {
    let mut determinant = 1.0;
    for column in 0..size {
        let best = (column..size)
            .max_by(|a, b| rows[*a][column].abs().total_cmp(&rows[*b][column].abs()))?;
        rows.swap(column, best);
        let head = rows[column][column];
        determinant *= head;
        if head.abs() < 1e-12 || !head.is_finite() {
            return None;
        }
        for row in 0..size {
            if row != column {
                let factor = rows[row][column] / head;
                let pivot = rows[column].clone();
                for (entry, above) in rows[row].iter_mut().zip(&pivot) {
                    *entry -= factor * above;
                }
            }
        }
    }
    let step = (0..size)
        .map(|row| rows[row][size] / rows[row][row])
        .collect();
    Some((step, determinant))
}
