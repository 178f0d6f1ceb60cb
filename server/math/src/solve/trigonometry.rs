//! Which angles have a given sine, cosine or tangent?

use crate::expression::{Constant, Expression, Function, Operator, Relation, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::views;

use super::equations::replaced;
use super::write;

/// The angles π (at + k period) for all whole numbers k.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Angles {
    at: Rational,
    period: Rational,
}

impl Angles {
    /// `\frac{\pi}{6} + 2\pi n`.
    pub(super) fn to_expression(&self) -> Expression {
        let n = Expression::symbol("n");
        let period = times_pi(&self.period);
        let period = match (period.operator(), period.operands()) {
            (Operator::Fraction, [above, below]) => {
                Expression::fraction(write::product([above.clone(), n]), below.clone())
            }
            _ => write::product([period, n]),
        };
        write::sum([times_pi(&self.at), period])
    }

    /// Some of the angles.
    pub(super) fn first(&self, count: i64) -> Vec<Expression> {
        (0..count)
            .map(|k| times_pi(&(&self.at + &(&self.period * &Rational::integer(k)))))
            .collect()
    }
}

/// A multiple of π: `\frac{5\pi}{6}`.
pub(super) fn times_pi(factor: &Rational) -> Expression {
    if factor.is_zero() {
        return write::integer(0);
    }
    let above = write::multiple(
        &factor.numerator().abs(),
        Expression::constant(Constant::Pi),
    );
    let size = match factor.denominator().is_one() {
        true => above,
        false => Expression::fraction(above, write::number(&factor.denominator())),
    };
    match factor.is_negative() {
        true => Expression::negative(size),
        false => size,
    }
}

/// The factor of π, if the expression is a rational multiple of it.
pub(super) fn factor_of_pi(expression: &Expression) -> Option<Rational> {
    let number = normal(expression).ok()?;
    if number.is_zero() {
        return Some(Rational::ZERO);
    }
    let pi = normal(&Expression::constant(Constant::Pi)).ok()?;
    number.divide(&pi).ok()?.as_constant()
}

/// The angle between -π/2 and π/2, or for the cosine between 0 and π, in units of π, that has this
/// value.
fn principal(function: Function, value: &Expression) -> Option<Rational> {
    let root = |n: i64, d: i64| {
        Expression::fraction(Expression::root(write::integer(n)), write::integer(d))
    };
    let sines = [
        (write::integer(0), Rational::ZERO),
        (
            Expression::fraction(write::integer(1), write::integer(2)),
            Rational::fraction(1, 6),
        ),
        (root(2, 2), Rational::fraction(1, 4)),
        (root(3, 2), Rational::fraction(1, 3)),
        (write::integer(1), Rational::fraction(1, 2)),
    ];
    let tangents = [
        (write::integer(0), Rational::ZERO),
        (root(3, 3), Rational::fraction(1, 6)),
        (write::integer(1), Rational::fraction(1, 4)),
        (
            Expression::root(write::integer(3)),
            Rational::fraction(1, 3),
        ),
    ];
    let table: &[(Expression, Rational)] = match function {
        Function::Tan => &tangents,
        _ => &sines,
    };
    let value = normal(value).ok()?;
    let found = table.iter().find_map(|(known, angle)| {
        let known = normal(known).ok()?;
        match (value == known, value == known.negate()) {
            (true, _) => Some(angle.clone()),
            (_, true) => Some(-angle),
            _ => None,
        }
    })?;
    Some(match function {
        Function::Cos => Rational::fraction(1, 2) - found,
        _ => found,
    })
}

/// The angle between 0 and π with this cosine, if it is one of the usual ones.
pub(super) fn angle_of_cosine(value: &Expression) -> Option<Expression> {
    principal(Function::Cos, value).map(|angle| times_pi(&angle))
}

/// The letter's values for which a function of a linear argument has this value.
pub(super) fn inverse(
    function: Function,
    argument: &Expression,
    rational: Option<&Rational>,
    value: &Expression,
    variable: &Symbol,
) -> Result<Vec<Angles>, String> {
    let one = Rational::ONE;
    let (function, value, rational) = match function {
        Function::Sin | Function::Cos | Function::Tan => {
            (function, value.clone(), rational.cloned())
        }
        Function::Csc | Function::Sec | Function::Cot => {
            let turned = match function {
                Function::Csc => Function::Sin,
                Function::Sec => Function::Cos,
                _ => Function::Tan,
            };
            let over = Expression::fraction(write::integer(1), value.clone());
            (
                turned,
                write::collected(&over),
                rational.and_then(Rational::reciprocal),
            )
        }
        _ => return Err("a function in it cannot be undone".into()),
    };
    if matches!(function, Function::Sin | Function::Cos)
        && rational.as_ref().is_some_and(|value| value.abs() > one)
    {
        return Ok(Vec::new());
    }
    let angle = principal(function, &value).ok_or("an angle in it is none of the usual ones")?;
    let two = Rational::integer(2);
    let families: Vec<(Rational, Rational)> = match function {
        Function::Tan => vec![(angle, one)],
        Function::Sin => vec![(angle.clone(), two.clone()), (one - angle, two)],
        _ => vec![(angle.clone(), two.clone()), (-angle, two)],
    };
    // argument = k x + c
    let number = normal(argument).map_err(|_| "an argument cannot be collected")?;
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let (slope, rest) = views::linear_in(&number, &name).ok_or("an argument is not linear")?;
    let slope = slope
        .as_constant()
        .filter(|slope| !slope.is_zero())
        .ok_or("an argument is not linear")?;
    let shift = factor_of_pi(&rest.to_expression()).ok_or("an argument is shifted by no angle")?;
    let families = families.into_iter().map(|(at, period)| Angles {
        at: &(at - &shift) / &slope,
        period: (&period / &slope).abs(),
    });
    Ok(families.collect())
}

/// The same angles in as few families as these rules give: none twice, and two families half a
/// period apart are one.
pub(super) fn merged(families: Vec<Angles>) -> Vec<Angles> {
    let reduced = |family: Angles| {
        let turns = (&family.at / &family.period).floor();
        Angles {
            at: &family.at - &(&turns * &family.period),
            period: family.period,
        }
    };
    let mut all: Vec<Angles> = Vec::new();
    for family in families.into_iter().map(reduced) {
        if !all.contains(&family) {
            all.push(family);
        }
    }
    let half = Rational::fraction(1, 2);
    'again: loop {
        for first in 0..all.len() {
            for second in 0..all.len() {
                let (a, b) = (&all[first], &all[second]);
                let middle = &a.period * &half;
                if first != second && a.period == b.period && &b.at - &a.at == middle {
                    let merged = Angles {
                        at: a.at.clone(),
                        period: middle,
                    };
                    all.retain({
                        let (a, b) = (a.clone(), b.clone());
                        move |family| *family != a && *family != b
                    });
                    if !all.contains(&merged) {
                        all.push(merged);
                    }
                    continue 'again;
                }
            }
        }
        break;
    }
    all.sort();
    all
}

/// Bounds in units of π, and whether each belongs to the domain.
pub(super) struct Domain {
    low: (Rational, bool),
    high: (Rational, bool),
}

/// The interval on which angles are wanted; none if all are.
pub(super) fn domain(problem: &Problem) -> Result<Option<Domain>, String> {
    for condition in &problem.conditions {
        if condition.as_symbol().is_some() {
            continue;
        }
        let bad = || "the domain is no interval between multiples of π".to_owned();
        let interval = match condition.as_relation() {
            Some((_, Relation::In, right)) => right.clone(),
            _ => condition.clone(),
        };
        if interval.as_constant() == Some(Constant::Reals) {
            continue;
        }
        if let Some((low, high, ends)) = interval.as_interval() {
            let low = factor_of_pi(low).ok_or_else(bad)?;
            let high = factor_of_pi(high).ok_or_else(bad)?;
            return Ok(Some(Domain {
                low: (low, ends.lower_closed),
                high: (high, ends.upper_closed),
            }));
        }
        if let (Operator::Relation(relations), [low, _, high]) =
            (condition.operator(), condition.operands())
        {
            let low = factor_of_pi(low).ok_or_else(bad)?;
            let high = factor_of_pi(high).ok_or_else(bad)?;
            let closed = |relation: &Relation| match relation {
                Relation::Less => Some(false),
                Relation::LessOrEqual => Some(true),
                _ => None,
            };
            if let [first, second] = relations.as_slice() {
                return Ok(Some(Domain {
                    low: (low, closed(first).ok_or_else(bad)?),
                    high: (high, closed(second).ok_or_else(bad)?),
                }));
            }
        }
        return Err(bad());
    }
    Ok(None)
}

/// The angles in the domain, ascending.
pub(super) fn within(families: &[Angles], domain: &Domain) -> Result<Vec<Expression>, String> {
    let mut angles = Vec::new();
    for family in families {
        let first = (&(&domain.low.0 - &family.at) / &family.period).floor();
        let mut angle = &family.at + &(&first * &family.period);
        for _ in 0..200 {
            let above = match domain.low.1 {
                true => angle >= domain.low.0,
                false => angle > domain.low.0,
            };
            let below = match domain.high.1 {
                true => angle <= domain.high.0,
                false => angle < domain.high.0,
            };
            if above && below && !angles.contains(&angle) {
                angles.push(angle.clone());
            }
            if angle > domain.high.0 {
                break;
            }
            angle = &angle + &family.period;
        }
    }
    if angles.len() > 40 {
        return Err("there are too many angles".into());
    }
    angles.sort();
    Ok(angles.iter().map(times_pi).collect())
}

/// a sin u cos u + c as the sine of 2u, and a sin u + b cos u + c as that of u and a usual angle.
fn one_wave(
    terms: &[(crate::normal_form::Monomial, Normal)],
    sine: &Expression,
    cosine: &Expression,
    argument: &Expression,
) -> Option<Expression> {
    let (mut a, mut b, mut both, mut constant) = (None, None, None, None);
    for (monomial, coefficient) in terms {
        let (of_sine, of_cosine) = (monomial.exponent(sine), monomial.exponent(cosine));
        let count = monomial.powers().len();
        match (of_sine.as_i64()?, of_cosine.as_i64()?, count) {
            (0, 0, 0) => constant = Some(coefficient.clone()),
            (1, 0, 1) => a = Some(coefficient.clone()),
            (0, 1, 1) => b = Some(coefficient.clone()),
            (1, 1, 2) => both = Some(coefficient.clone()),
            _ => return None,
        }
    }
    let constant = constant.unwrap_or_else(|| Normal::constant(Rational::ZERO));
    if let (None, None, Some(both)) = (&a, &b, &both) {
        let double = write::product([write::integer(2), argument.clone()]);
        let wave = Expression::function(Function::Sin, write::collected(&double));
        let half = both.scale(&Rational::fraction(1, 2));
        return Some(write::sum([
            write::product([half.to_expression(), wave]),
            constant.to_expression(),
        ]));
    }
    let (Some(a), Some(b), None) = (a, b, both) else {
        return None;
    };
    let square = a.multiply(&a).ok()?.add(&b.multiply(&b).ok()?).ok()?;
    let (outside, radicand) = super::polynomials::square_root(&square.as_constant()?)?;
    let size = match radicand {
        1 => write::number(&outside),
        _ => write::surd(&Rational::ZERO, &outside, radicand),
    };
    let share = write::collected(&Expression::fraction(a.to_expression(), size.clone()));
    let angle = principal(Function::Cos, &share)?;
    let angle = match views::sign(&b)? < 0 {
        true => -angle,
        false => angle,
    };
    let wave = Expression::function(
        Function::Sin,
        write::sum([argument.clone(), times_pi(&angle)]),
    );
    Some(write::sum([
        write::product([size, wave]),
        constant.to_expression(),
    ]))
}

/// A sum of sines and cosines in one of them only, by the Pythagorean identity, by the double-angle
/// formulas, or as a tangent; none if none of these applies.
pub(super) fn one_function(expression: &Expression, variable: &Symbol) -> Option<Expression> {
    let calls: Vec<(Function, &Expression)> = expression
        .parts()
        .filter_map(|part| match (part.operator(), part.operands()) {
            (Operator::Function(f @ (Function::Sin | Function::Cos)), [argument])
                if argument.mentions(variable) =>
            {
                Some((*f, argument))
            }
            _ => None,
        })
        .collect();
    let (_, smallest) = calls.first()?;
    let half = |argument: &Expression| {
        let ratio = normal(argument)
            .ok()?
            .divide(&normal(smallest).ok()?)
            .ok()?;
        ratio.as_constant()
    };
    let ratios: Vec<Rational> = calls.iter().map(|(_, a)| half(a)).collect::<Option<_>>()?;
    let unit = ratios.iter().min()?.clone();
    let place = ratios.iter().position(|ratio| *ratio == unit)?;
    let base = calls[place].1.clone();
    let sine = Expression::function(Function::Sin, base.clone());
    let cosine = Expression::function(Function::Cos, base.clone());
    let two = Rational::integer(2);
    if let Some(double) = ratios.iter().position(|ratio| *ratio == &unit * &two) {
        let argument = calls[double].1;
        let has_cosine = calls
            .iter()
            .any(|(function, a)| *function == Function::Cos && **a == base);
        let doubled = [
            (
                Function::Sin,
                Expression::product([write::integer(2), sine.clone(), cosine.clone()]),
            ),
            (
                Function::Cos,
                match has_cosine {
                    true => Expression::difference(
                        Expression::product([write::integer(2), write::power(cosine.clone(), 2)]),
                        write::integer(1),
                    ),
                    false => Expression::difference(
                        write::integer(1),
                        Expression::product([write::integer(2), write::power(sine.clone(), 2)]),
                    ),
                },
            ),
        ];
        let mut changed = expression.clone();
        for (function, by) in doubled {
            let call = Expression::function(function, argument.clone());
            changed = replaced(&changed, &call, &by);
        }
        return Some(changed);
    }
    if ratios.iter().any(|ratio| *ratio != unit) {
        return None;
    }
    let number = normal(expression).ok()?;
    let kernels = |kernel: &Expression| kernel.mentions(variable);
    let terms = views::coefficients(&Normal::whole(number.numerator().clone()), kernels)?;
    // a sin u + b cos u = 0 is tan u = -b/a.
    if let [(first, a), (second, b)] = terms.as_slice() {
        let power = |monomial: &crate::normal_form::Monomial, kernel: &Expression| {
            monomial.powers().len() == 1 && monomial.exponent(kernel).is_one()
        };
        let pair = match () {
            () if power(first, &sine) && power(second, &cosine) => Some((a, b)),
            () if power(first, &cosine) && power(second, &sine) => Some((b, a)),
            () => None,
        };
        if let Some((a, b)) = pair {
            let tangent = Expression::function(Function::Tan, base);
            return Some(write::sum([
                write::product([a.to_expression(), tangent]),
                b.to_expression(),
            ]));
        }
    }
    if let Some(simpler) = one_wave(&terms, &sine, &cosine, &base) {
        return Some(simpler);
    }
    for (gone, kept) in [(&cosine, &sine), (&sine, &cosine)] {
        let is_even = |exponent: Rational| exponent.as_i64().is_some_and(|e| e % 2 == 0 && e >= 0);
        if !terms
            .iter()
            .all(|(monomial, _)| is_even(monomial.exponent(gone)))
        {
            continue;
        }
        let square = Expression::difference(write::integer(1), write::power(kept.clone(), 2));
        let mut sum = Vec::new();
        for (monomial, coefficient) in &terms {
            let mut factors = vec![coefficient.to_expression()];
            for (kernel, exponent) in monomial.powers() {
                let exponent = exponent.as_i64()?;
                factors.push(match kernel == gone {
                    true => write::power(square.clone(), exponent / 2),
                    false => write::power(kernel.clone(), exponent),
                });
            }
            sum.push(Expression::product(factors));
        }
        return Some(Expression::sum(sum));
    }
    None
}
