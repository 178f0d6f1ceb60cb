//! What do the numbers of an integral, a limit or a series say about the method?

use smallvec::SmallVec;

use super::mask::{Mask, Place};
use super::roots;
use crate::expression::{Bounds, Constant, Expression, Function, Operator, SeriesRange, Symbol};
use crate::rational::{Rational, content};
use crate::stable_hash::Digest;
use crate::surface::{self, Base, Exponent, Factor, Term};
use crate::univariate::Univariate;

/// The hash of an integral.
pub(super) fn integral(mask: &Mask<'_>, integral: &Expression, place: Place) -> Digest {
    let Operator::Integral(integration) = integral.operator() else {
        return mask.in_order(integral, place);
    };
    let operands = integral.operands();
    let variables = integration.variables as usize;
    let body = &operands[0];
    let variable = operands.get(1).and_then(Expression::as_symbol);
    let inner = Place {
        roots: false,
        roots_below: true,
        below_root: false,
        one_rule: place.one_rule || is_by_power_rule(body, variable),
    };
    let mut hash = mask
        .operator(integral.operator())
        .then(mask.hash(body, inner));
    for variable in operands.iter().skip(1).take(variables) {
        hash = hash.then(mask.hash(variable, inner));
    }
    let bounds = &operands[(1 + variables).min(operands.len())..];
    for bound in bounds {
        hash = hash.then(mask.hash(bound, Place::PLAIN));
    }
    if let (Some(variable), 1) = (variable, variables) {
        let between = match (integration.bounds, bounds) {
            (Bounds::Between, [lower, upper]) => Some((lower, upper)),
            _ => None,
        };
        hash = hash.then(integrand(mask, body, variable, between));
    }
    hash
}

/// Every term is a power of the variable, or of one linear expression, other than 1 over it.
fn is_by_power_rule(body: &Expression, variable: Option<&Symbol>) -> bool {
    let is_plain = |term: &Term<'_>| match term.factors.as_slice() {
        [] => true,
        [
            Factor {
                base: Base::Part(part),
                exponent: Exponent::Number(_),
            },
        ] => match variable {
            Some(variable) => {
                part.as_symbol() == Some(variable)
                    || univariate(part, variable).is_some_and(|p| p.degree() == 1)
            }
            None => false,
        },
        _ => false,
    };
    surface::terms(body).iter().all(is_plain)
}

/// A polynomial in the variable with rational coefficients, multiplied out.
fn univariate(expression: &Expression, variable: &Symbol) -> Option<Univariate> {
    let mut sum = Univariate::new(Vec::new());
    for term in surface::terms(expression) {
        let mut product = Univariate::constant(term.coefficient.clone());
        for factor in &term.factors {
            product = product.multiply(&factor_polynomial(factor, variable)?);
        }
        sum = sum.add(&product);
    }
    Some(sum)
}

/// A factor with a small positive whole exponent as a polynomial.
fn factor_polynomial(factor: &Factor<'_>, variable: &Symbol) -> Option<Univariate> {
    let (Exponent::Number(exponent), Base::Part(part)) = (&factor.exponent, factor.base) else {
        return None;
    };
    let exponent = exponent.as_i64().filter(|e| (1..=8).contains(e))?;
    let base = match part.as_symbol() {
        Some(symbol) if symbol == variable => Univariate::new(vec![Rational::ZERO, Rational::ONE]),
        Some(_) => return None,
        None if matches!(
            part.operator(),
            Operator::Sum | Operator::Product | Operator::Negative | Operator::Fraction
        ) =>
        {
            univariate(part, variable)?
        }
        None => return None,
    };
    let mut power = base.clone();
    for _ in 1..exponent {
        power = power.multiply(&base);
        if power.degree() > 24 {
            return None;
        }
    }
    Some(power)
}

/// Numerator and denominator of a term whose factors are polynomials.
fn quotient(term: &Term<'_>, variable: &Symbol) -> Option<(Univariate, Univariate)> {
    let mut numerator = Univariate::constant(Rational::ONE);
    let mut denominator = numerator.clone();
    for factor in &term.factors {
        match &factor.exponent {
            Exponent::Number(exponent) if exponent.is_negative() => {
                let upright = Factor {
                    base: factor.base,
                    exponent: Exponent::Number(-exponent),
                };
                denominator = denominator.multiply(&factor_polynomial(&upright, variable)?);
            }
            _ => numerator = numerator.multiply(&factor_polynomial(factor, variable)?),
        }
    }
    Some((numerator, denominator))
}

/// What the numbers in an integrand say: whether a factor is the derivative of what stands inside
/// another one, whether a fraction is improper, and where it is not defined.
fn integrand(
    mask: &Mask<'_>,
    body: &Expression,
    variable: &Symbol,
    bounds: Option<(&Expression, &Expression)>,
) -> Digest {
    let mut hash = Digest::tag(1);
    if let [term] = surface::terms(body).as_slice() {
        if let Some((numerator, denominator)) = quotient(term, variable) {
            hash = hash
                .with((numerator.degree() >= denominator.degree()).into())
                .with(numerator.gcd(&denominator).degree() as u64);
        }
        hash = hash.with(substitutes(term, variable));
    }
    let Some((lower, upper)) = bounds else {
        return hash;
    };
    let (low, high) = (surface::number(lower), surface::number(upper));
    if let (Some(low), Some(high)) = (&low, &high) {
        hash = hash.with((*low == -high).into());
    }
    for part in body.parts() {
        let inner = match (part.operator(), part.operands()) {
            (Operator::Function(Function::Abs), [inner]) => inner,
            (Operator::Fraction, [_, denominator]) => denominator,
            _ => continue,
        };
        if let Some(polynomial) = univariate(inner, variable)
            && let (Some(low), Some(high)) = (&low, &high)
        {
            let low_end = polynomial.at(low).is_zero();
            let inside = polynomial.count_real_roots(Some(low), Some(high));
            hash = hash.with(u64::from(low_end) + 2 * u64::from(inside > 0));
        }
    }
    let _ = mask;
    hash
}

/// In how many ways the polynomial factors are, up to a number, the derivative of what stands
/// inside the other factor.
fn substitutes(term: &Term<'_>, variable: &Symbol) -> u64 {
    let mut count = 0;
    for (place, factor) in term.factors.iter().enumerate() {
        let inner = match (&factor.exponent, factor.base) {
            (Exponent::Symbolic { exponent, .. }, _) => *exponent,
            (Exponent::Number(exponent), Base::Part(part)) => {
                match (part.operator(), part.operands()) {
                    (Operator::Function(_), [argument]) => argument,
                    (Operator::Sum, _) if !exponent.is_one() => part,
                    _ => continue,
                }
            }
            _ => continue,
        };
        let Some(inner) = univariate(inner, variable).filter(|inner| inner.degree() > 1) else {
            continue;
        };
        let others = term
            .factors
            .iter()
            .enumerate()
            .filter(|(at, _)| *at != place);
        let outer = others.into_iter().try_fold(
            Univariate::constant(Rational::ONE),
            |product, (_, factor)| Some(product.multiply(&factor_polynomial(factor, variable)?)),
        );
        if let Some(outer) = outer {
            count += u64::from(outer.primitive() == inner.derivative().primitive());
        }
    }
    count
}

/// The hash of a limit.
pub(super) fn limit(mask: &Mask<'_>, limit: &Expression, place: Place) -> Digest {
    let [body, variable, point] = limit.operands() else {
        return mask.in_order(limit, place);
    };
    let inner = Place {
        roots: false,
        roots_below: false,
        below_root: false,
        ..place
    };
    let hash = mask
        .operator(limit.operator())
        .then(mask.hash(body, inner))
        .then(mask.hash(variable, inner))
        .then(mask.hash(point, Place::PLAIN));
    let Some(variable) = variable.as_symbol() else {
        return hash;
    };
    let terms = surface::terms(body);
    let bits = match surface::number(point) {
        Some(point) => match terms.as_slice() {
            [term] => at_point(term, variable, &point),
            _ => Digest::tag(0),
        },
        None if is_infinite(point) => match terms.as_slice() {
            [term] => at_infinity(term, variable),
            terms => leading_cancel(terms, variable),
        },
        None => Digest::tag(0),
    };
    hash.then(bits)
}

fn is_infinite(point: &Expression) -> bool {
    point
        .parts()
        .any(|part| part.as_constant() == Some(Constant::Infinity))
}

/// How often each polynomial in a term vanishes at a point.
fn at_point(term: &Term<'_>, variable: &Symbol, point: &Rational) -> Digest {
    let mut orders: SmallVec<[Digest; 4]> = SmallVec::new();
    for factor in &term.factors {
        let inner = match (&factor.exponent, factor.base) {
            (Exponent::Symbolic { exponent, .. }, _) => *exponent,
            (Exponent::Number(_), Base::Part(part)) => match (part.operator(), part.operands()) {
                (Operator::Function(_), [argument]) => argument,
                _ => part,
            },
            _ => continue,
        };
        let Some(polynomial) = univariate(inner, variable) else {
            // Parts of a sum such as \sqrt{x + 4} - 2 decide together, and exactly if the root is.
            orders.push(Digest::tag(vanishes(inner, variable, point)));
            continue;
        };
        let sign = match &factor.exponent {
            Exponent::Number(exponent) => u64::from(exponent.is_negative()),
            Exponent::Symbolic { negated, .. } => u64::from(*negated),
        };
        orders.push(Digest::tag(8 + multiplicity(polynomial, point)).with(sign));
    }
    Digest::of_bag(&mut orders)
}

/// How often a polynomial vanishes at a point, at most 4.
fn multiplicity(mut polynomial: Univariate, point: &Rational) -> u64 {
    let mut order = 0;
    while order < 4 && !polynomial.is_zero() && polynomial.at(point).is_zero() {
        polynomial = polynomial.derivative();
        order += 1;
    }
    order
}

/// 1 if a sum of polynomials and of roots of them is 0 at a point, 2 if it is not, 0 if that is
/// not known.
fn vanishes(expression: &Expression, variable: &Symbol, point: &Rational) -> u64 {
    let mut sum = Rational::ZERO;
    for term in surface::terms(expression) {
        let mut value = term.coefficient.clone();
        for factor in &term.factors {
            let (Exponent::Number(exponent), Base::Part(part)) = (&factor.exponent, factor.base)
            else {
                return 0;
            };
            let Some(inner) = univariate(part, variable).map(|inner| inner.at(point)) else {
                return 0;
            };
            let Some((n, d)) = exponent.as_fraction() else {
                return 0;
            };
            let root = u32::try_from(d).ok().and_then(|d| inner.root(d));
            match root.and_then(|root| root.pow(n)) {
                Some(power) => value = value * power,
                None => return 0,
            }
        }
        sum = sum + value;
    }
    1 + u64::from(!sum.is_zero())
}

/// Which of numerator and denominator grows faster.
fn at_infinity(term: &Term<'_>, variable: &Symbol) -> Digest {
    match quotient(term, variable) {
        Some((numerator, denominator)) => {
            let order = numerator.degree().cmp(&denominator.degree());
            Digest::tag(order as i8 as u64)
        }
        None => {
            let degrees: Option<SmallVec<[Rational; 4]>> = term
                .factors
                .iter()
                .map(|factor| {
                    let Exponent::Number(exponent) = &factor.exponent else {
                        return None;
                    };
                    let inner = univariate(factor.base.part()?, variable)?;
                    Some(Rational::integer(inner.degree() as i64) * exponent)
                })
                .collect();
            match degrees {
                Some(degrees) => {
                    let total = degrees.into_iter().fold(Rational::ZERO, |sum, d| sum + d);
                    Digest::tag(4 + (total.signum() + 1) as u64)
                }
                None => Digest::tag(8),
            }
        }
    }
}

/// Whether the leading parts of a difference of roots cancel.
fn leading_cancel(terms: &[Term<'_>], variable: &Symbol) -> Digest {
    let mut leading: Vec<(Rational, Rational)> = Vec::new();
    for term in terms {
        let mut degree = Rational::ZERO;
        let mut coefficient = term.coefficient.clone();
        for factor in &term.factors {
            let (Exponent::Number(exponent), Base::Part(part)) = (&factor.exponent, factor.base)
            else {
                return Digest::tag(16);
            };
            let Some(inner) = univariate(part, variable) else {
                return Digest::tag(16);
            };
            degree = degree + Rational::integer(inner.degree() as i64) * exponent;
            let power = exponent
                .as_fraction()
                .and_then(|(n, d)| inner.leading().root(u32::try_from(d).ok()?)?.pow(n));
            match power {
                Some(power) => coefficient = coefficient * power,
                None => return Digest::tag(17),
            }
        }
        leading.push((degree, coefficient));
    }
    let highest = leading.iter().map(|(degree, _)| degree).max().cloned();
    let sum = leading
        .iter()
        .filter(|(degree, _)| Some(degree) == highest.as_ref())
        .fold(Rational::ZERO, |sum, (_, c)| sum + c);
    Digest::tag(18 + u64::from(sum.is_zero()))
}

/// The hash of a series.
pub(super) fn series(mask: &Mask<'_>, series: &Expression, place: Place) -> Digest {
    let Operator::Series(_, range) = series.operator() else {
        return mask.in_order(series, place);
    };
    let operands = series.operands();
    let body = &operands[0];
    let index = operands.get(1).and_then(Expression::as_symbol);
    let terms = surface::terms(body);
    let is_power = match (terms.as_slice(), index) {
        ([term], Some(index)) => match term.factors.as_slice() {
            [factor] => factor.base.part().and_then(Expression::as_symbol) == Some(index),
            _ => false,
        },
        _ => false,
    };
    let inner = Place {
        roots: false,
        roots_below: true,
        below_root: false,
        one_rule: place.one_rule || is_power,
    };
    let mut hash = mask
        .operator(series.operator())
        .then(mask.hash(body, inner));
    if *range == SeriesRange::Condition {
        return operands[1..]
            .iter()
            .fold(hash, |hash, operand| hash.then(mask.hash(operand, inner)));
    }
    // Where a series starts changes its sum, not the method.
    for bound in operands.iter().skip(3) {
        hash = hash.then(mask.hash(bound, Place::PLAIN));
    }
    let (Some(index), [term]) = (index, terms.as_slice()) else {
        return hash;
    };
    hash.then(growth(term, index))
}

/// How the terms of a series grow: the ratio of a geometric factor against 1, the power of the
/// index, and whether the roots of a denominator differ by whole numbers.
fn growth(term: &Term<'_>, index: &Symbol) -> Digest {
    let mut ratio = Rational::ONE;
    let mut power = Some(Rational::ZERO);
    let mut denominator = Some(Univariate::constant(Rational::ONE));
    let mut base_limits: SmallVec<[Digest; 2]> = SmallVec::new();
    for factor in &term.factors {
        match (&factor.exponent, factor.base) {
            (Exponent::Symbolic { exponent, negated }, Base::Part(base)) => {
                let multiplier = surface::terms(exponent)
                    .iter()
                    .filter(|term| !term.factors.is_empty())
                    .map(|term| term.coefficient.clone())
                    .fold(Rational::ZERO, |sum, c| sum + c);
                let multiplier = if *negated { -multiplier } else { multiplier };
                match (surface::number(base), multiplier.as_i64()) {
                    (Some(base), Some(multiplier)) => match base.pow(multiplier) {
                        Some(power) => ratio = ratio * power,
                        None => power = None,
                    },
                    _ => {
                        power = None;
                        base_limits.push(limit_of_base(base, index));
                    }
                }
            }
            (Exponent::Number(exponent), Base::Part(base)) => match univariate(base, index) {
                Some(inner) => {
                    let degree = Rational::integer(inner.degree() as i64) * exponent;
                    power = power.map(|power| power + degree);
                    if exponent.is_negative() {
                        let times = (-exponent).as_i64().filter(|times| *times <= 4);
                        denominator = match (denominator, times) {
                            (Some(product), Some(times)) => Some(
                                (0..times).fold(product, |product, _| product.multiply(&inner)),
                            ),
                            _ => None,
                        };
                    }
                }
                None => power = None,
            },
            _ => power = None,
        }
    }
    let mut hash = Digest::tag(1)
        .with(ratio.abs().cmp(&Rational::ONE) as i8 as u64)
        .with(ratio.is_negative().into())
        .then(Digest::of_bag(&mut base_limits));
    if let Some(power) = power {
        // Compared with a p-series: convergent for p > 1, absolutely for alternating ones.
        let class = match -power {
            p if p > Rational::ONE => 3,
            p if p == Rational::ONE => 2,
            p if p.is_positive() => 1,
            _ => 0,
        };
        hash = hash.with(class);
    }
    if let Some(denominator) = denominator.filter(|d| d.degree() > 1) {
        let (roots, rest) = denominator.rational_roots();
        let telescopes = rest.degree() == 0
            && roots.windows(2).all(|pair| {
                let distance = &pair[1] - &pair[0];
                distance.is_integer() && !distance.is_zero()
            });
        hash = hash.with(telescopes.into());
    }
    hash
}

/// What the base of an n-th power tends to, against 1.
fn limit_of_base(base: &Expression, index: &Symbol) -> Digest {
    let terms = surface::terms(base);
    let [term] = terms.as_slice() else {
        return Digest::tag(2);
    };
    let Some((numerator, denominator)) = quotient(term, index) else {
        return Digest::tag(2);
    };
    match numerator.degree().cmp(&denominator.degree()) {
        std::cmp::Ordering::Equal => {
            let limit = (&term.coefficient * &numerator.leading())
                .checked_div(&denominator.leading())
                .map_or(Rational::ZERO, |limit| limit.abs());
            Digest::tag(3).with(limit.cmp(&Rational::ONE) as i8 as u64)
        }
        order => Digest::tag(4).with(order as i8 as u64),
    }
}

/// How the multiples of one argument that occur in trigonometric functions, or in exponents, are
/// related: `\sin 2x` beside `\cos x` is half of a double angle, alone it is as good as `\sin x`.
pub(super) fn multiples(mask: &Mask<'_>, main: &Expression) -> Digest {
    // Of each family, the mask of the argument without its number, the number, and the function.
    let mut found: SmallVec<[(u64, Digest, Rational, Digest); 6]> = SmallVec::new();
    for part in main.parts() {
        let (family, argument, function) = match (part.operator(), part.operands()) {
            (Operator::Function(function), [argument])
                if (*function as u64) <= Function::Csc as u64 =>
            {
                (0, argument, *function as u64)
            }
            (Operator::Function(Function::Exp), [argument]) => (1, argument, 0),
            (Operator::Power, [base, argument])
                if base.as_constant() == Some(Constant::E)
                    && surface::number(argument).is_none() =>
            {
                (1, argument, 0)
            }
            _ => continue,
        };
        let terms = surface::terms(argument);
        let varying: SmallVec<[&Term<'_>; 2]> = terms
            .iter()
            .filter(|term| {
                let mut parts = term.factors.iter().filter_map(|factor| factor.base.part());
                parts.any(|part| mask.varies(part))
            })
            .collect();
        if let [term] = varying.as_slice() {
            let rest = mask.product(term, Place::PLAIN);
            found.push((
                family,
                rest,
                term.coefficient.clone(),
                Digest::tag(function),
            ));
        }
    }
    let mut ratios: SmallVec<[Digest; 6]> = SmallVec::new();
    for (family, rest, number, function) in &found {
        let group = found.iter().filter(|(f, r, ..)| f == family && r == rest);
        let unit = group.fold(Rational::ZERO, |unit, (_, _, n, _)| content(&unit, n));
        if found
            .iter()
            .filter(|(f, r, ..)| f == family && r == rest)
            .count()
            < 2
        {
            continue;
        }
        let ratio = number.checked_div(&unit).and_then(|ratio| ratio.as_i64());
        let ratio = match (ratio, family) {
            (Some(ratio), 1) => ratio.clamp(-4, 4) as u64,
            (Some(ratio), _) => ratio.abs().min(4) as u64,
            (None, _) => 99,
        };
        ratios.push(Digest::tag(*family).with(ratio).then(*function));
    }
    Digest::of_bag(&mut ratios)
}

/// The kinds of roots, for others that hold a polynomial already.
pub(super) fn kinds(polynomial: &Univariate) -> Digest {
    roots::kinds(polynomial).unwrap_or(Digest::tag(polynomial.degree() as u64))
}
