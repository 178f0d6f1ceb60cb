//! Which numbers does an answer claim to be the solutions in one variable?

use std::collections::BTreeSet;

use super::answer::{self, Answer, Outcome};
use super::equivalence::{self, Value};
use super::interval::{Interval, Reading};
use crate::expression::{
    Brackets, Connective, Constant, Expression, Function, Operator, Relation, SetOperation, Symbol,
};

/// What an answer claims.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Claim {
    /// There is no solution.
    Nothing,
    /// Every number is a solution.
    Everything,
    /// These are the solutions; each may hold letters that stand for any integer.
    Values(Vec<Claimed>),
    /// The solutions are the members of this set.
    Region(Region),
}

/// One claimed solution.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Claimed {
    pub(super) value: Expression,
    /// It was written with a sign for "about".
    pub(super) is_rounded: bool,
    /// Another form of the same value, as in `x = \ln 5 \approx 1.609`, and whether that is
    /// rounded.
    pub(super) other: Option<(Expression, bool)>,
}

/// A set of real numbers.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Region {
    /// All real numbers.
    Whole,
    /// None.
    Empty,
    /// The numbers between two ends; an end that is missing is infinite.
    Span {
        low: Option<Expression>,
        high: Option<Expression>,
        low_closed: bool,
        high_closed: bool,
    },
    /// One number.
    Point(Expression),
    /// All numbers but those of a region.
    Except(Box<Region>),
    Union(Vec<Region>),
    Intersection(Vec<Region>),
}

/// Whether a number belongs to a set.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Membership {
    Inside,
    Outside,
    /// It is so near an end that the digits do not tell.
    Unclear,
}

/// Reads the claims of an answer about a variable; the error says what is not understood.
pub(super) fn read(answer: &Answer, variable: &Symbol) -> Result<Claim, String> {
    let mut reader = Reader {
        variable,
        values: Vec::new(),
        regions: Vec::new(),
        is_nothing: false,
        is_conjunction: answer.words.contains(" and ") || answer.words.trim() == "and",
        excludes: false,
    };
    let formulas = &answer.formulas;
    match answer.outcome() {
        Some(Outcome::Nothing) => return Ok(Claim::Nothing),
        Some(Outcome::Everything | Outcome::InfinitelyMany)
            if formulas.iter().all(|f| f.as_symbol().is_some()) =>
        {
            return Ok(Claim::Everything);
        }
        Some(Outcome::Everything) if answer.says(&["except", "but not", "other than"]) => {
            let points = formulas.iter().flat_map(points_of).map(Region::Point);
            return Ok(Claim::Region(Region::Except(Box::new(Region::Union(
                points.collect(),
            )))));
        }
        Some(Outcome::Everything) => {}
        Some(Outcome::Undefined | Outcome::Prime | Outcome::InfinitelyMany) => {
            return Err("the answer is not a solution".into());
        }
        None => {}
    }
    if formulas.is_empty() {
        return Err("the answer has no formula".into());
    }
    for formula in formulas {
        reader.add(formula, formulas.len() > 1)?;
    }
    let Reader {
        mut values,
        mut regions,
        is_nothing,
        is_conjunction,
        ..
    } = reader;
    match (values.is_empty(), regions.len()) {
        (true, 0) if is_nothing => Ok(Claim::Nothing),
        (true, 0) => Err("the answer names no number".into()),
        (false, 0) => Ok(Claim::Values(values)),
        (true, 1) => {
            let region = regions.remove(0);
            Ok(match region {
                Region::Whole => Claim::Everything,
                Region::Empty => Claim::Nothing,
                region => Claim::Region(region),
            })
        }
        (true, _) if is_conjunction || regions.iter().all(|r| matches!(r, Region::Except(_))) => {
            Ok(Claim::Region(Region::Intersection(regions)))
        }
        // `x ≤ 4, x ≠ 1`: what is excluded is excluded from all the others.
        (true, _) => {
            let (except, mut others): (Vec<_>, Vec<_>) = regions
                .into_iter()
                .partition(|region| matches!(region, Region::Except(_)));
            let union = match others.len() {
                1 => others.remove(0),
                _ => Region::Union(others),
            };
            Ok(Claim::Region(match except.is_empty() {
                true => union,
                false => {
                    let mut all = except;
                    all.push(union);
                    Region::Intersection(all)
                }
            }))
        }
        (false, _) if regions.iter().all(|r| matches!(r, Region::Except(_))) => {
            // `x = 3, x ≠ 1`: a remark on what is excluded.
            Ok(Claim::Values(values))
        }
        (false, _) => {
            regions.extend(values.drain(..).map(|claimed| Region::Point(claimed.value)));
            Ok(Claim::Region(Region::Union(regions)))
        }
    }
}

struct Reader<'a> {
    variable: &'a Symbol,
    values: Vec<Claimed>,
    regions: Vec<Region>,
    is_nothing: bool,
    is_conjunction: bool,
    /// The last formula excluded a number, as `x ≠ −5` in `x ≠ −5, 3`.
    excludes: bool,
}

impl Reader<'_> {
    fn add(&mut self, formula: &Expression, is_one_of_many: bool) -> Result<(), String> {
        match (formula.operator(), formula.operands()) {
            (Operator::Symbol(symbol), _) if is_one_of_many && symbol != self.variable => Ok(()),
            (Operator::Constant(Constant::EmptySet), _) => {
                self.is_nothing = true;
                Ok(())
            }
            (Operator::Constant(Constant::Integers | Constant::Naturals), _) => Ok(()),
            (Operator::Set, []) => {
                self.is_nothing = true;
                Ok(())
            }
            (Operator::Set, members) => {
                members.iter().try_for_each(|member| self.add(member, true))
            }
            (Operator::List | Operator::Logic(Connective::Or), items) => {
                items.iter().try_for_each(|item| self.add(item, true))
            }
            (Operator::Logic(Connective::And), items)
                if items.iter().all(|item| self.is_value(item)) =>
            {
                items.iter().try_for_each(|item| self.add(item, true))
            }
            (Operator::Relation(relations), sides)
                if relations
                    .iter()
                    .all(|r| matches!(r, Relation::Equal | Relation::Approximately)) =>
            {
                self.add_chain(relations, sides)
            }
            (Operator::Relation(relations), [left, right]) if relations[0] == Relation::In => {
                if left
                    .as_symbol()
                    .is_some_and(|symbol| symbol != self.variable)
                    && right.as_constant().is_some()
                {
                    // `n ∈ ℤ`.
                    return Ok(());
                }
                match (right.operator(), right.operands()) {
                    (Operator::Set, members) => {
                        members.iter().try_for_each(|member| self.add(member, true))
                    }
                    _ => {
                        let region = region(right, self.variable)
                            .ok_or("the set in the answer is not understood")?;
                        self.regions.push(region);
                        Ok(())
                    }
                }
            }
            // `{x | x = π n, n ∈ ℤ}` and the like.
            (Operator::SetBuilder, [element, condition])
                if element.as_symbol() == Some(self.variable)
                    && condition.as_equation().is_some() =>
            {
                self.add(condition, false)
            }
            (Operator::SetBuilder, [element, condition])
                if element.as_symbol() != Some(self.variable)
                    && matches!(condition.as_relation(), Some((_, Relation::In, _))) =>
            {
                self.add(element, false)
            }
            _ if self.is_value(formula) && self.excludes => {
                let points = points_of(formula).into_iter().map(Region::Point);
                self.regions
                    .push(Region::Except(Box::new(Region::Union(points.collect()))));
                Ok(())
            }
            _ if self.is_value(formula) => {
                self.push(formula, false, None);
                Ok(())
            }
            _ => {
                let region = region(formula, self.variable)
                    .ok_or("the answer names no number and no set of numbers")?;
                self.excludes = matches!(region, Region::Except(_));
                self.regions.push(region);
                Ok(())
            }
        }
    }

    /// `x = a`, `x = a ≈ b`, `a ≈ b`.
    fn add_chain(&mut self, relations: &[Relation], sides: &[Expression]) -> Result<(), String> {
        let first = &sides[0];
        let starts = first
            .as_symbol()
            .is_some_and(|symbol| symbol == self.variable || symbol.name() == self.variable.name());
        let (rest, signs) = match starts {
            true => (&sides[1..], &relations[1..]),
            false => (sides, relations),
        };
        let is_rounded = starts && relations[0] == Relation::Approximately;
        let Some(value) = rest.first() else {
            return Err("the answer names no number".into());
        };
        if !(starts || self.is_value(value) && signs.first() == Some(&Relation::Approximately)) {
            // `3 = x`.
            if let [left, right] = sides
                && right.as_symbol() == Some(self.variable)
                && self.is_value(left)
            {
                self.push(left, false, None);
                return Ok(());
            }
            return Err("the answer is an equation for something else".into());
        }
        if matches!(value.operator(), Operator::Set) {
            return self.add(value, true);
        }
        if let Some(region) = region(value, self.variable)
            && !self.is_value(value)
        {
            self.regions.push(region);
            return Ok(());
        }
        let other = rest.last().filter(|_| rest.len() > 1).map(|other| {
            (
                other.clone(),
                signs.last() == Some(&Relation::Approximately),
            )
        });
        self.push(value, is_rounded, other);
        Ok(())
    }

    fn push(&mut self, value: &Expression, is_rounded: bool, other: Option<(Expression, bool)>) {
        let has_signs = value
            .parts()
            .any(|part| matches!(part.operator(), Operator::PlusMinus | Operator::MinusPlus));
        if !has_signs {
            self.values.push(Claimed {
                value: value.clone(),
                is_rounded,
                other,
            });
            return;
        }
        for value in answer::with_signs(value, false) {
            self.values.push(Claimed {
                value,
                is_rounded,
                other: None,
            });
        }
    }

    fn is_value(&self, expression: &Expression) -> bool {
        is_number_form(expression) && !expression.mentions(self.variable)
    }
}

/// It is written with the operators of arithmetic and functions alone, so that it can be a number.
pub(super) fn is_number_form(expression: &Expression) -> bool {
    expression.parts().all(|part| {
        matches!(
            part.operator(),
            Operator::Number(_)
                | Operator::Symbol(_)
                | Operator::Constant(Constant::Pi | Constant::E | Constant::I)
                | Operator::Sum
                | Operator::Product
                | Operator::Negative
                | Operator::PlusMinus
                | Operator::MinusPlus
                | Operator::Fraction
                | Operator::Mixed
                | Operator::Power
                | Operator::Root
                | Operator::NthRoot
                | Operator::Percent
                | Operator::Degrees
                | Operator::Function(_)
                | Operator::Indexed
        )
    })
}

fn points_of(formula: &Expression) -> Vec<Expression> {
    match (formula.operator(), formula.operands()) {
        (Operator::Set | Operator::List, members) => members.to_vec(),
        (Operator::Relation(_), [_, right]) => answer::with_signs(right, false),
        _ => answer::with_signs(formula, false),
    }
}

/// The set of numbers that an expression stands for.
pub(super) fn region(expression: &Expression, variable: &Symbol) -> Option<Region> {
    match (expression.operator(), expression.operands()) {
        (Operator::Constant(Constant::Reals), _) => Some(Region::Whole),
        (Operator::Constant(Constant::EmptySet), _) => Some(Region::Empty),
        (Operator::Interval(ends), [low, high]) => {
            span(low, ends.lower_closed, high, ends.upper_closed)
        }
        (Operator::Tuple(Brackets::Round), [low, high]) => span(low, false, high, false),
        (Operator::Tuple(Brackets::Square), [low, high]) => span(low, true, high, true),
        (Operator::Set, members) => Some(Region::Union(
            members
                .iter()
                .flat_map(|member| answer::with_signs(member, false))
                .map(Region::Point)
                .collect(),
        )),
        (Operator::SetOperation(SetOperation::Union) | Operator::Logic(Connective::Or), parts) => {
            let parts: Option<Vec<Region>> =
                parts.iter().map(|part| region(part, variable)).collect();
            Some(Region::Union(parts?))
        }
        // `x ≠ −3, 3`: one sign for several numbers.
        (Operator::List, [first, rest @ ..])
            if matches!(first.as_relation(), Some((_, Relation::NotEqual, _)))
                && rest.iter().all(is_number_form) =>
        {
            let mut parts = vec![region(first, variable)?];
            parts.extend(
                rest.iter()
                    .flat_map(points_of)
                    .map(|point| Region::Except(Box::new(Region::Point(point)))),
            );
            Some(Region::Intersection(parts))
        }
        (
            Operator::SetOperation(SetOperation::Intersection)
            | Operator::Logic(Connective::And)
            | Operator::List
            | Operator::System,
            parts,
        ) => {
            let parts: Option<Vec<Region>> =
                parts.iter().map(|part| region(part, variable)).collect();
            Some(Region::Intersection(parts?))
        }
        (Operator::SetOperation(SetOperation::Difference), [from, without]) => {
            Some(Region::Intersection(vec![
                region(from, variable)?,
                Region::Except(Box::new(region(without, variable)?)),
            ]))
        }
        (Operator::SetBuilder, [element, condition]) => {
            let symbol = match element.as_relation() {
                Some((left, Relation::In, _)) => left.as_symbol(),
                _ => element.as_symbol(),
            };
            let says_real = |part: &Expression| matches!(part.operator(), Operator::Text(text) if text.contains("real"));
            match condition.parts().any(says_real) {
                true => Some(Region::Whole),
                false => region(condition, symbol?),
            }
        }
        // `|x| ≥ 3` stands for two inequalities.
        (Operator::Relation(relations), [left, right])
            if matches!(left.operator(), Operator::Function(Function::Abs))
                && left.operands()[0].as_symbol() == Some(variable)
                && is_number_form(right) =>
        {
            let opposite = Expression::negative(right.clone());
            let above = bounded(relations[0], right, variable)?;
            let below = bounded(relations[0].reversed()?, &opposite, variable)?;
            match relations[0] {
                Relation::Less | Relation::LessOrEqual => {
                    Some(Region::Intersection(vec![above, below]))
                }
                Relation::Greater | Relation::GreaterOrEqual => {
                    Some(Region::Union(vec![above, below]))
                }
                _ => None,
            }
        }
        (Operator::Relation(relations), sides) => {
            let mut parts = Vec::new();
            for (place, relation) in relations.iter().enumerate() {
                let (left, right) = (&sides[place], &sides[place + 1]);
                let is_variable = |side: &Expression| side.as_symbol() == Some(variable);
                let (relation, bound) = match (is_variable(left), is_variable(right)) {
                    (true, false) => (*relation, right),
                    (false, true) => (relation.reversed()?, left),
                    _ => return None,
                };
                parts.push(bounded(relation, bound, variable)?);
            }
            match parts.len() {
                1 => parts.pop(),
                _ => Some(Region::Intersection(parts)),
            }
        }
        _ => None,
    }
}

/// The numbers that stand in a relation to a bound.
fn bounded(relation: Relation, bound: &Expression, variable: &Symbol) -> Option<Region> {
    let bound_at = |closed: bool, is_low: bool| {
        let infinite = infinity(bound).is_some();
        let bound = (!infinite).then(|| bound.clone());
        if bound.as_ref().is_some_and(|bound| !is_number_form(bound)) {
            return None;
        }
        Some(match is_low {
            true => Region::Span {
                low: bound,
                high: None,
                low_closed: closed,
                high_closed: false,
            },
            false => Region::Span {
                low: None,
                high: bound,
                low_closed: false,
                high_closed: closed,
            },
        })
    };
    match relation {
        Relation::Less => bound_at(false, false),
        Relation::LessOrEqual => bound_at(true, false),
        Relation::Greater => bound_at(false, true),
        Relation::GreaterOrEqual => bound_at(true, true),
        Relation::NotEqual => Some(Region::Except(Box::new(Region::Union(
            points_of(bound).into_iter().map(Region::Point).collect(),
        )))),
        Relation::Equal => Some(Region::Union(
            points_of(bound).into_iter().map(Region::Point).collect(),
        )),
        Relation::In => region(bound, variable),
        Relation::NotIn => Some(Region::Except(Box::new(region(bound, variable)?))),
        _ => None,
    }
}

fn span(
    low: &Expression,
    low_closed: bool,
    high: &Expression,
    high_closed: bool,
) -> Option<Region> {
    let end = |bound: &Expression| match infinity(bound) {
        Some(_) => Some(None),
        None if is_number_form(bound) => Some(Some(bound.clone())),
        None => None,
    };
    let (low_end, high_end) = (end(low)?, end(high)?);
    Some(Region::Span {
        low_closed: low_closed && low_end.is_some(),
        high_closed: high_closed && high_end.is_some(),
        low: low_end,
        high: high_end,
    })
}

/// The sign of an infinity.
fn infinity(expression: &Expression) -> Option<i32> {
    match (expression.operator(), expression.operands()) {
        (Operator::Constant(Constant::Infinity), _) => Some(1),
        (Operator::Negative, [operand]) => infinity(operand).map(|sign| -sign),
        _ => None,
    }
}

impl Region {
    /// The ends and single points, in no order.
    pub(super) fn ends(&self) -> Vec<&Expression> {
        match self {
            Self::Whole | Self::Empty => Vec::new(),
            Self::Span { low, high, .. } => low.iter().chain(high).collect(),
            Self::Point(point) => vec![point],
            Self::Except(region) => region.ends(),
            Self::Union(parts) | Self::Intersection(parts) => {
                parts.iter().flat_map(Self::ends).collect()
            }
        }
    }

    /// The same set with every end changed.
    pub(super) fn map(&self, change: &impl Fn(&Expression) -> Expression) -> Self {
        let all = |parts: &[Self]| parts.iter().map(|part| part.map(change)).collect();
        match self {
            Self::Whole => Self::Whole,
            Self::Empty => Self::Empty,
            Self::Span {
                low,
                high,
                low_closed,
                high_closed,
            } => Self::Span {
                low: low.as_ref().map(change),
                high: high.as_ref().map(change),
                low_closed: *low_closed,
                high_closed: *high_closed,
            },
            Self::Point(point) => Self::Point(change(point)),
            Self::Except(region) => Self::Except(Box::new(region.map(change))),
            Self::Union(parts) => Self::Union(all(parts)),
            Self::Intersection(parts) => Self::Intersection(all(parts)),
        }
    }

    /// Whether a number belongs to it, given by its bounds. A number whose bounds overlap with
    /// those of an end is taken to be that end.
    pub(super) fn holds(&self, number: Interval) -> Membership {
        use Membership as M;
        match self {
            Self::Whole => M::Inside,
            Self::Empty => M::Outside,
            Self::Point(point) => match bounds(point) {
                Some(point) if point.meets(number) => M::Inside,
                Some(_) => M::Outside,
                None => M::Unclear,
            },
            Self::Span {
                low,
                high,
                low_closed,
                high_closed,
            } => {
                let side = |end: &Option<Expression>, closed: bool, is_low: bool| match end {
                    None => M::Inside,
                    Some(end) => match bounds(end) {
                        None => M::Unclear,
                        Some(end) if end.meets(number) => match closed {
                            true => M::Inside,
                            false => M::Outside,
                        },
                        Some(end) => match (end.high < number.low) == is_low {
                            true => M::Inside,
                            false => M::Outside,
                        },
                    },
                };
                both(
                    side(low, *low_closed, true),
                    side(high, *high_closed, false),
                )
            }
            Self::Except(region) => opposite(region.holds(number)),
            Self::Union(parts) => opposite(parts.iter().fold(M::Inside, |all, part| {
                both(all, opposite(part.holds(number)))
            })),
            Self::Intersection(parts) => parts
                .iter()
                .fold(M::Inside, |all, part| both(all, part.holds(number))),
        }
    }
}

fn opposite(membership: Membership) -> Membership {
    match membership {
        Membership::Inside => Membership::Outside,
        Membership::Outside => Membership::Inside,
        Membership::Unclear => Membership::Unclear,
    }
}

fn both(a: Membership, b: Membership) -> Membership {
    match (a, b) {
        (Membership::Outside, _) | (_, Membership::Outside) => Membership::Outside,
        (Membership::Inside, Membership::Inside) => Membership::Inside,
        _ => Membership::Unclear,
    }
}

/// The bounds of an expression without letters.
pub(super) fn bounds(expression: &Expression) -> Option<Interval> {
    match equivalence::value(expression, Reading::default()) {
        Value::Real(found) => Some(found),
        _ => None,
    }
}

/// The letters in a value that stand for any integer.
pub(super) fn parameters(value: &Expression, integers: &BTreeSet<Symbol>) -> Vec<Symbol> {
    value
        .free_symbols()
        .into_iter()
        .filter(|symbol| integers.contains(symbol))
        .collect()
}
