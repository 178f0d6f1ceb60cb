//! What is the limit?

use std::cmp::Ordering;

use super::growth::{growth, is_bounded};
use super::tidy::tidy;
use super::{Key, formula, words, write};
use crate::derivative::derivative;
use crate::evaluate::{Point, real_value};
use crate::expression::{Constant, Expression, Function, Operator, Side, Symbol};
use crate::normal_form::normal;
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface;
use crate::views::{self, Truth};

/// What an expression tends to.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Limit {
    /// A number.
    Value(Expression),
    /// Infinity, or minus infinity.
    Infinite(bool),
    /// Nothing.
    None,
}

pub(super) fn solve(_problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (Operator::Limit(side), [body, variable, point]) = (main.operator(), main.operands())
    else {
        return Err("it is no single limit".into());
    };
    let variable = variable.as_symbol().ok_or("it is no limit in a letter")?;
    let infinity = || Expression::constant(Constant::Infinity);
    match limit(body, variable, point, *side)? {
        Limit::Value(value) => formula(value),
        Limit::Infinite(true) => formula(infinity()),
        Limit::Infinite(false) => formula(Expression::negative(infinity())),
        Limit::None => words("does not exist"),
    }
}

/// What the parts of the body tend to: the form of the limit, such as 0/0, ∞/∞ or 1^∞.
pub(super) fn form(main: &Expression) -> Vec<i8> {
    let (Operator::Limit(side), [body, variable, point]) = (main.operator(), main.operands())
    else {
        return Vec::new();
    };
    let Some(variable) = variable.as_symbol() else {
        return Vec::new();
    };
    let mut form = Vec::new();
    add_form(body, variable, &mut form, &|part: &Expression| {
        limit(part, variable, point, *side).ok()
    });
    form
}

fn add_form(
    body: &Expression,
    variable: &Symbol,
    form: &mut Vec<i8>,
    limit: &impl Fn(&Expression) -> Option<Limit>,
) {
    let operands = body.operands();
    let tendency = |part: &Expression| match limit(part) {
        None => 0,
        Some(Limit::None) => 1,
        Some(Limit::Infinite(false)) => 2,
        Some(Limit::Infinite(true)) => 3,
        Some(Limit::Value(value)) => match normal(&value).ok().and_then(|v| v.as_constant()) {
            Some(value) if value.is_zero() => 4,
            Some(value) if value.is_one() => 5,
            _ => 6,
        },
    };
    // Whether a number is 1 matters in a power only.
    let plain = |tendency: i8| if tendency == 5 { 6 } else { tendency };
    match body.operator() {
        Operator::Power => form.extend(operands.iter().map(tendency)),
        Operator::Sum => form.extend(operands.iter().map(tendency).map(plain)),
        Operator::Fraction | Operator::Product => {
            // Signs and constant factors say nothing.
            let is_factor = *body.operator() == Operator::Product;
            let parts = operands
                .iter()
                .filter(|part| !is_factor || part.mentions(variable))
                .map(tendency)
                .map(plain);
            form.extend(parts.map(|tendency| if tendency == 2 { 3 } else { tendency }));
        }
        Operator::Negative | Operator::Root | Operator::Function(_) => {
            for operand in operands {
                add_form(operand, variable, form, limit);
            }
        }
        _ => {}
    }
}

/// The limit of an expression at a point or at infinity.
pub(super) fn limit(
    body: &Expression,
    variable: &Symbol,
    point: &Expression,
    side: Side,
) -> Result<Limit, String> {
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let minus = matches!((point.operator(), point.operands()), (Operator::Negative, [inner])
        if inner.as_constant() == Some(Constant::Infinity));
    if minus {
        let turned = body.substitute(variable, &Expression::negative(name));
        return at_infinity(&turned, variable);
    }
    if point.as_constant() == Some(Constant::Infinity) {
        return at_infinity(body, variable);
    }
    if !body.mentions(variable) {
        return Ok(Limit::Value(body.clone()));
    }
    at_point(body, variable, point, side)
}

fn unknown() -> String {
    "no method of a first course finds the limit".into()
}

fn at_infinity(body: &Expression, variable: &Symbol) -> Result<Limit, String> {
    if let Some(found) = growth(body, variable) {
        let order = found.against_constant();
        return match order {
            Ordering::Less => Ok(Limit::Value(write::integer(0))),
            _ if found.alternates => Ok(Limit::None),
            Ordering::Equal => Ok(Limit::Value(tidy(&write::normal(&found.factor)))),
            Ordering::Greater => {
                let sign = views::sign(&found.factor).ok_or_else(unknown)?;
                Ok(Limit::Infinite(sign > 0))
            }
        };
    }
    // A difference of roots by its conjugate.
    if let (Operator::Sum, [first, second]) = (body.operator(), body.operands()) {
        let square = |of: &Expression| write::power(of.clone(), 2);
        let above = Expression::difference(square(first), square(second));
        let above = normal(&above).ok().map(|above| write::normal(&above));
        let conjugate = Expression::difference(first.clone(), second.clone());
        let quotient = above.map(|above| Expression::fraction(above, conjugate));
        if let Some(found) = quotient.and_then(|quotient| growth(&quotient, variable)) {
            return match found.against_constant() {
                Ordering::Less => Ok(Limit::Value(write::integer(0))),
                Ordering::Equal => Ok(Limit::Value(tidy(&write::normal(&found.factor)))),
                Ordering::Greater => Err(unknown()),
            };
        }
    }
    // A bounded factor beside one that tends to 0.
    let term = surface::factors(body);
    let (mut bounded, mut rest) = (false, Vec::new());
    for factor in &term.factors {
        let one = surface::Term {
            coefficient: Rational::ONE,
            factors: [factor.clone()].into_iter().collect(),
        };
        let factor = one.to_expression();
        match growth(&factor, variable).is_none() && is_bounded(&factor, variable) {
            true => bounded = true,
            false => rest.push(factor),
        }
    }
    if bounded
        && let Some(found) = growth(&write::product(rest), variable)
        && found.against_constant() == Ordering::Less
    {
        return Ok(Limit::Value(write::integer(0)));
    }
    if let Some(found) = power_to_e(body, variable)? {
        return Ok(found);
    }
    // x = 1/t with t from above; roots are taken out of the brackets.
    let t = Symbol::new("t_inverse");
    let turned = inverted(body, variable, &t).ok_or_else(unknown)?;
    at_point(&turned, &t, &write::integer(0), Side::Above)
}

/// f^g with f to 1 or infinity: e to the limit of g ln f.
fn power_to_e(body: &Expression, variable: &Symbol) -> Result<Option<Limit>, String> {
    let (Operator::Power, [base, exponent]) = (body.operator(), body.operands()) else {
        return Ok(None);
    };
    if !exponent.mentions(variable) || !base.mentions(variable) {
        return Ok(None);
    }
    let ln = Expression::function(Function::Ln, base.clone());
    let t = Symbol::new("t_inverse");
    let product = Expression::product([exponent.clone(), ln]);
    let turned = inverted(&product, variable, &t).ok_or_else(unknown)?;
    let inner = at_point(&turned, &t, &write::integer(0), Side::Above)?;
    Ok(Some(exponential(inner)))
}

fn exponential(inner: Limit) -> Limit {
    match inner {
        Limit::Value(value) => Limit::Value(write::collected(&Expression::power(
            Expression::constant(Constant::E),
            value,
        ))),
        Limit::Infinite(true) => Limit::Infinite(true),
        Limit::Infinite(false) => Limit::Value(write::integer(0)),
        Limit::None => Limit::None,
    }
}

/// The expression at x = 1/t for small positive t: the root of a polynomial of even degree is a power
/// of t times the root of the polynomial with its coefficients turned round.
fn inverted(body: &Expression, variable: &Symbol, t: &Symbol) -> Option<Expression> {
    let name = Expression::new(Operator::Symbol(t.clone()), []);
    if let (Operator::Root, [radicand]) = (body.operator(), body.operands())
        && radicand.mentions(variable)
    {
        let polynomial = views::univariate(&normal(radicand).ok()?, variable)?;
        let degree = polynomial.degree();
        let turned: Vec<Rational> = polynomial.coefficients().iter().rev().cloned().collect();
        let turned =
            super::expressions::polynomial(&crate::univariate::Univariate::new(turned), &name);
        let below = match degree % 2 {
            0 => write::power(name, (degree / 2) as i64),
            _ => return None,
        };
        return Some(Expression::fraction(Expression::root(turned), below));
    }
    if body.as_symbol() == Some(variable) {
        return Some(Expression::fraction(write::integer(1), name));
    }
    let mut fits = true;
    let changed = body.map_operands(|operand| {
        inverted(operand, variable, t).unwrap_or_else(|| {
            fits = false;
            operand.clone()
        })
    });
    fits.then_some(changed)
}

/// At a finite point: the value, or l'Hôpital's rule.
fn at_point(
    body: &Expression,
    variable: &Symbol,
    point: &Expression,
    side: Side,
) -> Result<Limit, String> {
    if let (Operator::Power, [base, exponent]) = (body.operator(), body.operands())
        && exponent.mentions(variable)
        && base.mentions(variable)
    {
        let ln = Expression::function(Function::Ln, base.clone());
        let inner = at_point(
            &Expression::product([exponent.clone(), ln]),
            variable,
            point,
            side,
        )?;
        return Ok(exponential(inner));
    }
    if has_corner(body, variable, point) {
        return corner(body, variable, point, side);
    }
    let number = normal(body).map_err(|_| unknown())?;
    let (mut above, mut below) = (
        number.numerator_expression(),
        number.denominator_expression(),
    );
    for _ in 0..6 {
        let (top, bottom) = (
            value_at(&above, variable, point),
            value_at(&below, variable, point),
        );
        let (Some(top), Some(bottom)) = (top, bottom) else {
            break;
        };
        match (views::is_zero(&top), views::is_zero(&bottom)) {
            (_, Truth::No) => {
                let quotient = top.divide(&bottom).map_err(|_| unknown())?;
                return Ok(Limit::Value(tidy(&write::normal(&quotient))));
            }
            (Truth::No, Truth::Yes) => {
                let whole = Expression::fraction(above, below);
                return infinite(&whole, variable, point, side);
            }
            (Truth::Yes, Truth::Yes) => {
                let slope = |e: &Expression| derivative(e, variable).map(|d| tidy(&d));
                let (Some(up), Some(down)) = (slope(&above), slope(&below)) else {
                    break;
                };
                let quotient = normal(&Expression::fraction(up, down)).map_err(|_| unknown())?;
                above = quotient.numerator_expression();
                below = quotient.denominator_expression();
            }
            _ => break,
        }
    }
    if let Some(sign) = vanishing_logarithm(body, variable, point) {
        return Ok(Limit::Infinite(sign < 0));
    }
    // x ln x: the limit far out of what the inverse gives.
    if point.as_i64() == Some(0) && side == Side::Above {
        let name = Expression::new(Operator::Symbol(variable.clone()), []);
        let turned = body.substitute(variable, &Expression::fraction(write::integer(1), name));
        let turned = without_inverse_logarithm(&turned);
        if let Some(found) = growth(&turned, variable) {
            return match found.against_constant() {
                Ordering::Less => Ok(Limit::Value(write::integer(0))),
                Ordering::Equal => Ok(Limit::Value(tidy(&write::normal(&found.factor)))),
                Ordering::Greater => Ok(Limit::Infinite(
                    views::sign(&found.factor).ok_or_else(unknown)? > 0,
                )),
            };
        }
    }
    Err(unknown())
}

/// The sign of the only logarithm in a sum whose argument tends to 0, where all other terms have a
/// value.
fn vanishing_logarithm(body: &Expression, variable: &Symbol, point: &Expression) -> Option<i32> {
    let mut sign = None;
    for term in surface::terms(body) {
        if value_at(&term.to_expression(), variable, point).is_some() {
            continue;
        }
        let [factor] = term.factors.as_slice() else {
            return None;
        };
        let is_one = matches!(&factor.exponent, surface::Exponent::Number(e) if e.is_one());
        let part = factor.base.part().filter(|_| is_one && sign.is_none())?;
        let (Operator::Function(Function::Ln), [argument]) = (part.operator(), part.operands())
        else {
            return None;
        };
        let argument = match (argument.operator(), argument.operands()) {
            (Operator::Function(Function::Abs), [inner]) => inner,
            _ => argument,
        };
        value_at(argument, variable, point).filter(crate::normal_form::Normal::is_zero)?;
        sign = Some(term.coefficient.signum());
    }
    sign
}

/// `\ln(3/x)` as `\ln 3 - \ln x`.
fn without_inverse_logarithm(expression: &Expression) -> Expression {
    let inner = expression.map_operands(without_inverse_logarithm);
    if let (Operator::Function(Function::Ln), [argument]) = (inner.operator(), inner.operands())
        && let (Operator::Fraction, [above, below]) = (argument.operator(), argument.operands())
        && surface::number(above).is_some_and(|above| above.is_positive())
    {
        let ln = |of: &Expression| Expression::function(Function::Ln, of.clone());
        return match above.as_i64() {
            Some(1) => Expression::negative(ln(below)),
            _ => Expression::difference(ln(above), ln(below)),
        };
    }
    inner
}

fn value_at(
    expression: &Expression,
    variable: &Symbol,
    point: &Expression,
) -> Option<crate::normal_form::Normal> {
    let value = views::expression_at(expression, variable, point)?;
    // A logarithm of 0 is kept by collecting.
    real_value(&value.to_expression(), &Point::new()).ok()?;
    Some(value)
}

/// An absolute value whose argument vanishes at the point.
fn has_corner(body: &Expression, variable: &Symbol, point: &Expression) -> bool {
    body.parts()
        .any(|part| match (part.operator(), part.operands()) {
            (Operator::Function(Function::Abs), [argument]) => {
                value_at(argument, variable, point).is_some_and(|value| value.is_zero())
            }
            _ => false,
        })
}

fn corner(
    body: &Expression,
    variable: &Symbol,
    point: &Expression,
    side: Side,
) -> Result<Limit, String> {
    let at = real_value(point, &Point::new()).map_err(|_| unknown())?;
    let from = |step: f64, side: Side| {
        let near = Point::new().with(variable.clone(), at + step);
        at_point(&without_bars(body, &near), variable, point, side)
    };
    match side {
        Side::Above => from(1e-4, side),
        Side::Below => from(-1e-4, side),
        Side::Both => {
            let (below, above) = (from(-1e-4, Side::Below)?, from(1e-4, Side::Above)?);
            Ok(if below == above { below } else { Limit::None })
        }
    }
}

/// Absolute values taken by the sign of the argument near a point.
fn without_bars(body: &Expression, near: &Point) -> Expression {
    let inner = body.map_operands(|operand| without_bars(operand, near));
    match (inner.operator(), inner.operands()) {
        (Operator::Function(Function::Abs), [argument]) => match real_value(argument, near) {
            Ok(value) if value < 0.0 => Expression::negative(argument.clone()),
            Ok(_) => argument.clone(),
            Err(_) => inner,
        },
        _ => inner,
    }
}

/// A number over 0: infinite with the sign beside the point.
fn infinite(
    whole: &Expression,
    variable: &Symbol,
    point: &Expression,
    side: Side,
) -> Result<Limit, String> {
    let at = real_value(point, &Point::new()).map_err(|_| unknown())?;
    let sign = |step: f64| {
        let near = Point::new().with(variable.clone(), at + step);
        real_value(whole, &near).map(|value| value > 0.0).ok()
    };
    let (below, above) = (sign(-1e-5), sign(1e-5));
    match side {
        Side::Above => above.map(Limit::Infinite).ok_or_else(unknown),
        Side::Below => below.map(Limit::Infinite).ok_or_else(unknown),
        Side::Both => match (below, above) {
            (Some(a), Some(b)) if a == b => Ok(Limit::Infinite(a)),
            (Some(_), Some(_)) => Ok(Limit::None),
            _ => Err(unknown()),
        },
    }
}
