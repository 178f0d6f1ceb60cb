//! What is an expression in another form?

use super::tidy::tidy;
use super::{Key, formula, write};
use crate::expression::{Expression, Function, Operator, Symbol};
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::univariate::Univariate;
use crate::views;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let asked = |word: &str| problem.instructions.contains(word);
    let body = match main.as_equation() {
        Some((_, right)) => right,
        None => main,
    };
    if asked("partial fractions") {
        return partial_fractions(body);
    }
    if asked("factor") {
        return factored(body);
    }
    if asked("complete the square") {
        return square(body);
    }
    if asked("combine") {
        return combined(body);
    }
    let has_vectors = body
        .parts()
        .any(|part| matches!(part.operator(), Operator::Tuple(_) | Operator::Matrix(_)));
    if has_vectors {
        return super::matrices::solve(problem, main);
    }
    if asked("expand")
        && let Some(sum) = expanded_logarithm(body)
    {
        return formula(sum);
    }
    let number = normal(body).map_err(|_| "it cannot be collected")?;
    if asked("expand") {
        return formula(write::normal(&number));
    }
    let collected = write::normal(&number);
    let tidied = tidy(body);
    // A quotient is given with its factors, if that is how it was cancelled.
    match collected == *body {
        true => formula(tidied),
        false => Ok(vec![Key::Formula(collected), Key::Formula(tidied)]),
    }
}

/// The only letter.
fn letter(body: &Expression) -> Option<Symbol> {
    let mut letters = body.free_symbols().into_iter();
    let letter = letters.next()?;
    letters.next().is_none().then_some(letter)
}

/// A polynomial with its rational factors: the content, linear factors, and what is left.
pub(super) fn factors(polynomial: &Univariate, letter: &Expression) -> Option<Vec<Expression>> {
    let write_polynomial = |p: &Univariate| {
        Normal::whole(crate::normal_form::Polynomial::from_univariate(
            letter,
            &Rational::ONE,
            p,
        ))
        .to_expression()
    };
    let primitive = polynomial.primitive();
    let content = polynomial.leading().checked_div(&primitive.leading())?;
    let mut all = Vec::new();
    let mut product = Univariate::constant(content.clone());
    for (factor, multiplicity) in primitive.square_free_factors() {
        let (roots, rest) = factor.rational_roots();
        let mut linear: Vec<Univariate> = roots
            .iter()
            .map(|root| Univariate::new(vec![-root.numerator(), root.denominator()]))
            .collect();
        if rest.degree() > 3 {
            return None;
        }
        if rest.degree() > 0 {
            linear.push(rest.primitive());
        }
        for factor in linear {
            for _ in 0..multiplicity {
                product = product.multiply(&factor);
            }
            all.push(write::power(write_polynomial(&factor), multiplicity.into()));
        }
    }
    let scale = polynomial.leading().checked_div(&product.leading())? * content;
    // A bare letter stands first.
    all.sort_by_key(|factor| {
        let base = match (factor.operator(), factor.operands()) {
            (Operator::Power, [base, _]) => base,
            _ => factor,
        };
        base.as_symbol().is_none()
    });
    let mut factors = Vec::new();
    if !scale.is_one() {
        factors.push(write::number(&scale));
    }
    factors.extend(all);
    Some(factors)
}

fn factored(body: &Expression) -> Result<Vec<Key>, String> {
    let number = normal(body).map_err(|_| "it cannot be collected")?;
    if let Some(letter) = letter(body) {
        let polynomial = views::univariate(&number, &letter).ok_or("it is no polynomial")?;
        let name = Expression::new(Operator::Symbol(letter), []);
        let factors = factors(&polynomial, &name).ok_or("its factors are not all known")?;
        let product = write::product(factors);
        if product == *body {
            return Err("it is factored already".into());
        }
        return formula(product);
    }
    two_letters(&number)
}

/// A homogeneous polynomial in two letters, by way of their quotient.
fn two_letters(number: &Normal) -> Result<Vec<Key>, String> {
    let bad = "only polynomials in one letter and homogeneous ones in two are factored";
    let polynomial = number.as_polynomial().ok_or(bad)?;
    let common = polynomial.common_monomial();
    let mut letters: Vec<Expression> = polynomial.kernels().into_iter().cloned().collect();
    letters.sort();
    let [x, y] = letters.as_slice() else {
        return Err(bad.into());
    };
    if let Some(product) = grouped(polynomial, x, y) {
        return formula(product);
    }
    let degree = polynomial
        .terms()
        .first()
        .map(|(m, _)| m.degree())
        .ok_or(bad)?;
    if polynomial.terms().iter().any(|(m, _)| m.degree() != degree) {
        return Err(bad.into());
    }
    let low = common.exponent(y).as_i64().ok_or(bad)?;
    let mut coefficients = Vec::new();
    for (monomial, coefficient) in polynomial.terms() {
        let power = monomial
            .exponent(x)
            .as_i64()
            .filter(|p| (0..12).contains(p))
            .ok_or(bad)?;
        let power = power as usize;
        if coefficients.len() <= power {
            coefficients.resize(power + 1, Rational::ZERO);
        }
        coefficients[power] = coefficient.clone();
    }
    let polynomial = Univariate::new(coefficients);
    let factors = factors(&polynomial, x).ok_or("its factors are not all known")?;
    let mut all = Vec::new();
    for factor in factors {
        let (base, exponent) = match (factor.operator(), factor.operands()) {
            (Operator::Power, [base, exponent]) => (base.clone(), exponent.as_i64().unwrap_or(1)),
            _ => (factor.clone(), 1),
        };
        all.push(write::power(homogenised(&base, x, y).ok_or(bad)?, exponent));
    }
    all.insert(
        usize::from(all.first().is_some_and(|f| f.as_i64().is_some())),
        write::power(y.clone(), low),
    );
    formula(write::product(all))
}

/// p x y + q x + r y + s as (a x + b)(c y + d).
fn grouped(
    polynomial: &crate::normal_form::Polynomial,
    x: &Expression,
    y: &Expression,
) -> Option<Expression> {
    let mut values = [(); 4].map(|()| Rational::ZERO);
    for (monomial, coefficient) in polynomial.terms() {
        let powers = (
            monomial.exponent(x).as_i64()?,
            monomial.exponent(y).as_i64()?,
        );
        let place = [(1, 1), (1, 0), (0, 1), (0, 0)]
            .iter()
            .position(|p| *p == powers)?;
        values[place] = coefficient.clone();
    }
    let [p, q, r, s] = &values;
    if values.iter().any(Rational::is_zero) || p * s != q * r {
        return None;
    }
    // The brackets with y: p y + q, of which r y + s is a multiple.
    let unit = crate::rational::content(p, q);
    let unit = if p.is_negative() { -unit } else { unit };
    let (c, d) = (p.checked_div(&unit)?, q.checked_div(&unit)?);
    let b = r.checked_div(&c)?;
    let bracket = |slope: &Rational, of: &Expression, shift: &Rational| {
        write::sum([write::multiple(slope, of.clone()), write::number(shift)])
    };
    Some(write::product([bracket(&unit, x, &b), bracket(&c, y, &d)]))
}

/// p(x/y) times the power of y that makes it a polynomial.
fn homogenised(base: &Expression, x: &Expression, y: &Expression) -> Option<Expression> {
    let number = normal(base).ok()?;
    let polynomial = views::univariate(&number, x.as_symbol()?)?;
    let degree = polynomial.degree() as i64;
    let terms = polynomial.coefficients().iter().enumerate().rev();
    let terms = terms.map(|(power, coefficient)| {
        let power = power as i64;
        let letters = write::product([
            write::power(x.clone(), power),
            write::power(y.clone(), degree - power),
        ]);
        write::multiple(coefficient, letters)
    });
    Some(write::sum(terms.collect::<Vec<_>>()))
}

/// a (x + h)^2 + k.
fn square(body: &Expression) -> Result<Vec<Key>, String> {
    let letter = letter(body).ok_or("there is not one letter")?;
    let number = normal(body).map_err(|_| "it cannot be collected")?;
    let polynomial = views::univariate(&number, &letter)
        .filter(|p| p.degree() == 2)
        .ok_or("it is no quadratic")?;
    let name = Expression::new(Operator::Symbol(letter), []);
    let a = polynomial.leading();
    let half = Rational::fraction(1, 2);
    let h = &(&polynomial.coefficient(1) * &half) / &a;
    let k = polynomial.coefficient(0) - &a * &(&h * &h);
    let inner = write::sum([name, write::number(&h)]);
    formula(write::sum([
        write::multiple(&a, write::power(inner, 2)),
        write::number(&k),
    ]))
}

/// Logarithms merged into one.
fn combined(body: &Expression) -> Result<Vec<Key>, String> {
    let mut base: Option<(Function, Option<Expression>)> = None;
    let (mut above, mut below) = (Vec::new(), Vec::new());
    for term in crate::surface::terms(body) {
        let part = match term.factors.as_slice() {
            [factor] => factor.base.part(),
            _ => None,
        };
        let part = part.ok_or("a term is no logarithm")?;
        let found = match (part.operator(), part.operands()) {
            (Operator::Function(f @ (Function::Ln | Function::Log)), [argument]) => {
                ((*f, None), argument)
            }
            (Operator::Function(f @ Function::LogBase), [argument, base]) => {
                ((*f, Some(base.clone())), argument)
            }
            _ => return Err("a term is no logarithm".into()),
        };
        if base.as_ref().is_some_and(|known| *known != found.0) {
            return Err("the logarithms have different bases".into());
        }
        base = Some(found.0);
        let exponent = term.coefficient.abs();
        let power = match exponent.as_fraction() {
            Some((1, 1)) => found.1.clone(),
            Some((1, 2)) => Expression::root(found.1.clone()),
            _ => Expression::power(found.1.clone(), write::number(&exponent)),
        };
        match term.coefficient.is_negative() {
            true => below.push(power),
            false => above.push(power),
        }
    }
    let (function, base) = base.ok_or("there is no logarithm")?;
    let argument = match below.is_empty() {
        true => write::product(above),
        false => Expression::fraction(write::product(above), write::product(below)),
    };
    let argument = tidy(&argument);
    formula(Expression::new(
        Operator::Function(function),
        std::iter::once(argument).chain(base),
    ))
}

/// The logarithm of a product, quotient or power as a sum of multiples of logarithms.
fn expanded_logarithm(body: &Expression) -> Option<Expression> {
    let (Operator::Function(Function::Ln | Function::Log | Function::LogBase), [argument, ..]) =
        (body.operator(), body.operands())
    else {
        return None;
    };
    let term = crate::surface::factors(argument);
    let logarithm = |of: Expression| {
        let base = body.operands().iter().skip(1).cloned();
        Expression::new(body.operator().clone(), std::iter::once(of).chain(base))
    };
    let mut terms = Vec::new();
    for (number, sign) in [
        (term.coefficient.numerator(), 1),
        (term.coefficient.denominator(), -1),
    ] {
        if !number.is_one() {
            let value = write::collected(&logarithm(write::number(&number)));
            terms.push(write::multiple(&Rational::integer(sign), value));
        }
    }
    for factor in &term.factors {
        let crate::surface::Exponent::Number(exponent) = &factor.exponent else {
            return None;
        };
        let part = factor.base.part()?.clone();
        terms.push(write::multiple(exponent, logarithm(part)));
    }
    (terms.len() > 1 || term.factors.len() == 1).then(|| write::sum(terms))
}

/// A proper part of a quotient: coefficients of the numerator, the denominator's base, its power.
pub(super) struct Piece {
    pub(super) above: Univariate,
    pub(super) below: Univariate,
    pub(super) power: u32,
}

/// The whole part and the pieces of a quotient of polynomials; none if the denominator's factors are
/// not linear or quadratic. (By comparing coefficients; any calculus book.)
pub(super) fn pieces(
    numerator: &Univariate,
    denominator: &Univariate,
) -> Option<(Univariate, Vec<Piece>)> {
    let (whole, rest) = numerator.divide(denominator)?;
    let mut bases: Vec<(Univariate, u32)> = Vec::new();
    for (factor, multiplicity) in denominator.square_free_factors() {
        let (roots, left) = factor.rational_roots();
        for root in roots {
            let linear = Univariate::new(vec![-root.numerator(), root.denominator()]);
            bases.push((linear, multiplicity));
        }
        match left.degree() {
            0 => {}
            2 => bases.push((left.primitive(), multiplicity)),
            _ => return None,
        }
    }
    // One unknown for each coefficient of each piece; compare with the rest.
    let size = denominator.degree();
    let mut columns: Vec<Univariate> = Vec::new();
    let mut places: Vec<(usize, u32)> = Vec::new();
    for (place, (base, multiplicity)) in bases.iter().enumerate() {
        let mut power = Univariate::constant(Rational::ONE);
        for exponent in 1..=*multiplicity {
            power = power.multiply(base);
            let (cofactor, remainder) = denominator.divide(&power)?;
            if !remainder.is_zero() {
                return None;
            }
            for degree in 0..base.degree() {
                let mut monomial = vec![Rational::ZERO; degree];
                monomial.push(Rational::ONE);
                columns.push(cofactor.multiply(&Univariate::new(monomial)));
                places.push((place, exponent));
            }
        }
    }
    if columns.len() != size || size == 0 {
        return None;
    }
    let rows = (0..size).map(|degree| {
        let entries = columns.iter().map(|column| column.coefficient(degree));
        entries.chain([rest.coefficient(degree)]).collect()
    });
    let (reduced, pivots) = crate::linear::Matrix::new(rows.collect())?.reduced();
    if pivots != (0..size).collect::<Vec<_>>() {
        return None;
    }
    let mut pieces: Vec<Piece> = Vec::new();
    let mut place = 0;
    while place < size {
        let (base, power) = places[place];
        let degree = bases[base].0.degree();
        let above = (0..degree).map(|d| reduced.rows()[place + d][size].clone());
        let above = Univariate::new(above.collect());
        if !above.is_zero() {
            pieces.push(Piece {
                above,
                below: bases[base].0.clone(),
                power,
            });
        }
        place += degree;
    }
    Some((whole, pieces))
}

/// A polynomial in a letter.
pub(super) fn polynomial(values: &Univariate, letter: &Expression) -> Expression {
    let terms = crate::normal_form::Polynomial::from_univariate(letter, &Rational::ONE, values);
    Normal::whole(terms).to_expression()
}

fn partial_fractions(body: &Expression) -> Result<Vec<Key>, String> {
    let letter = letter(body).ok_or("there is not one letter")?;
    let number = normal(body).map_err(|_| "it cannot be collected")?;
    let part = |p: &crate::normal_form::Polynomial| {
        views::univariate(&Normal::whole(p.clone()), &letter)
            .ok_or("it is no quotient of polynomials")
    };
    let (above, below) = (part(number.numerator())?, part(number.denominator())?);
    let (whole, pieces) =
        pieces(&above, &below).ok_or("the denominator's factors are not known")?;
    let name = Expression::new(Operator::Symbol(letter), []);
    let mut terms = vec![polynomial(&whole, &name)];
    for piece in &pieces {
        let unit = piece.above.primitive();
        let scale = piece.above.leading().checked_div(&unit.leading());
        let scale = scale.ok_or("a coefficient is 0")?;
        let below = write::power(polynomial(&piece.below, &name), piece.power.into());
        let above = write::multiple(&scale.numerator().abs(), polynomial(&unit, &name));
        let below = write::multiple(&scale.denominator(), below);
        let fraction = Expression::fraction(above, below);
        terms.push(match scale.is_negative() {
            true => Expression::negative(fraction),
            false => fraction,
        });
    }
    formula(write::sum(terms))
}
