//! What is an antiderivative?
//!
//! By the methods of a first course in turn: the table with a linear inner function, substitution,
//! parts, powers of sine and cosine, partial fractions, roots of quadratics.

use super::equations::replaced;
use super::expressions::{self, Piece};
use super::tidy::tidy;
use super::{polynomials, write};
use crate::derivative::derivative;
use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::normal_form::normal;
use crate::rational::Rational;
use crate::surface;
use crate::univariate::Univariate;
use crate::views;

/// Methods are nested at most so deep.
const MAX_DEPTH: u32 = 6;

/// An antiderivative, tidied, without a constant; none if no method applies.
pub(super) fn antiderivative(body: &Expression, by: &Symbol) -> Option<Expression> {
    let mut search = Search { by, budget: 400 };
    search
        .integrate(body, MAX_DEPTH)
        .map(|found| tidy_terms(&found))
}

/// Each term tidied by itself: antiderivatives are sums that one does not bring together.
pub(super) fn tidy_terms(sum: &Expression) -> Expression {
    match (sum.operator(), sum.operands()) {
        (Operator::Sum, terms) => {
            merged(write::sum(terms.iter().map(tidy_terms).collect::<Vec<_>>()))
        }
        (Operator::Negative, [operand]) => {
            write::multiple(&Rational::integer(-1), tidy_terms(operand))
        }
        _ => tidy(sum),
    }
}

/// Multiples of the same added up: `\frac{1}{4} x - \frac{1}{8} x`.
fn merged(sum: Expression) -> Expression {
    let mut found: Vec<(Expression, Rational)> = Vec::new();
    let mut is_merged = false;
    for term in surface::terms(&sum) {
        let unit = surface::Term {
            coefficient: Rational::ONE,
            factors: term.factors.clone(),
        };
        let unit = unit.to_expression();
        match found.iter_mut().find(|(known, _)| *known == unit) {
            Some((_, total)) => {
                *total = &*total + &term.coefficient;
                is_merged = true;
            }
            None => found.push((unit, term.coefficient.clone())),
        }
    }
    match is_merged {
        true => {
            let terms = found.into_iter().filter(|(_, total)| !total.is_zero());
            write::sum(
                terms
                    .map(|(unit, total)| write::multiple(&total, unit))
                    .collect::<Vec<_>>(),
            )
        }
        false => sum,
    }
}

struct Search<'a> {
    by: &'a Symbol,
    budget: u32,
}

fn call(function: Function, argument: &Expression) -> Expression {
    Expression::function(function, argument.clone())
}

fn over(above: Expression, below: Expression) -> Expression {
    Expression::fraction(above, below)
}

fn ln_abs(of: &Expression) -> Expression {
    call(Function::Ln, &call(Function::Abs, of))
}

impl Search<'_> {
    fn letter(&self) -> Expression {
        Expression::new(Operator::Symbol(self.by.clone()), [])
    }

    fn has(&self, expression: &Expression) -> bool {
        expression.mentions(self.by)
    }

    /// a and b, if the expression is a x + b with rational a, not 0.
    fn linear(&self, expression: &Expression) -> Option<(Rational, Expression)> {
        let number = normal(expression).ok()?;
        let (slope, rest) = views::linear_in(&number, &self.letter())?;
        let slope = slope.as_constant().filter(|slope| !slope.is_zero())?;
        Some((slope, rest.to_expression()))
    }

    fn univariate(&self, expression: &Expression) -> Option<Univariate> {
        views::univariate(&normal(expression).ok()?, self.by)
    }

    fn integrate(&mut self, body: &Expression, depth: u32) -> Option<Expression> {
        self.budget = self.budget.checked_sub(1)?;
        if depth == 0 || body.size() > 200 {
            return None;
        }
        if !self.has(body) {
            return Some(write::product([body.clone(), self.letter()]));
        }
        let terms = surface::terms(body);
        if terms.len() > 1 {
            let each: Option<Vec<Expression>> = terms
                .iter()
                .map(|term| self.term(&term.to_expression(), depth))
                .collect();
            return match each {
                Some(each) => Some(write::sum(each)),
                // Some sums can only be integrated as a whole.
                None => self.expanded(body, depth),
            };
        }
        self.term(body, depth)
    }

    /// One term: its constants are taken out.
    fn term(&mut self, term: &Expression, depth: u32) -> Option<Expression> {
        let parts = surface::factors(term);
        let (mut constant, mut rest) = (Vec::new(), Vec::new());
        for factor in &parts.factors {
            let one = surface::Term {
                coefficient: Rational::ONE,
                factors: [factor.clone()].into_iter().collect(),
            };
            let factor = one.to_expression();
            match self.has(&factor) {
                true => rest.push(factor),
                false => constant.push(factor),
            }
        }
        let found = match rest.is_empty() {
            true => self.letter(),
            false => self.varying(&rest, depth)?,
        };
        let constant = write::product(constant);
        Some(spread(&parts.coefficient, &constant, found))
    }

    /// A product of factors that all contain the letter, without a coefficient.
    fn varying(&mut self, factors: &[Expression], depth: u32) -> Option<Expression> {
        let product = write::product(factors.iter().cloned());
        if let [factor] = factors
            && let Some(found) = self.table(factor)
        {
            return Some(found);
        }
        if let Some(found) = self.rational(&product) {
            return Some(found);
        }
        if let Some(found) = self.quadratic_root(&product) {
            return Some(found);
        }
        if let Some(found) = self.trigonometric(factors, depth) {
            return Some(found);
        }
        if let Some(found) = self.secants(factors, depth) {
            return Some(found);
        }
        if let Some(found) = self.substitution(&product, depth) {
            return Some(found);
        }
        if let Some(found) = self.exponential_wave(&product) {
            return Some(found);
        }
        if let Some(found) = self.parts(&product, depth) {
            return Some(found);
        }
        if let Some(found) = self.shifted(&product, depth) {
            return Some(found);
        }
        if let Some(found) = self.rooted(&product, depth) {
            return Some(found);
        }
        self.expanded(&product, depth)
    }

    /// Multiplied out, if that makes more terms.
    fn expanded(&mut self, body: &Expression, depth: u32) -> Option<Expression> {
        let expanded = write::collected(body);
        match expanded != *body && surface::terms(&expanded).len() > 1 {
            true => {
                let terms = surface::terms(&expanded);
                let each: Option<Vec<Expression>> = terms
                    .iter()
                    .map(|term| self.term(&term.to_expression(), depth - 1))
                    .collect();
                Some(write::sum(each?))
            }
            false => None,
        }
    }

    /// The table of elementary integrals, with a linear argument.
    fn table(&self, factor: &Expression) -> Option<Expression> {
        let (base, exponent) = match (factor.operator(), factor.operands()) {
            (Operator::Power, [base, exponent]) => (base.clone(), exponent.clone()),
            (Operator::Root, [radicand]) => {
                (radicand.clone(), over(write::integer(1), write::integer(2)))
            }
            _ => (factor.clone(), write::integer(1)),
        };
        let minus = |e: Expression| write::multiple(&Rational::integer(-1), e);
        if !self.has(&base) {
            // b^(a x + c)
            let (slope, _) = self.linear(&exponent)?;
            let divisor = match base.as_constant() {
                Some(Constant::E) => write::number(&slope),
                _ => write::multiple(&slope, call(Function::Ln, &base)),
            };
            return Some(
                match slope.is_one() && base.as_constant() == Some(Constant::E) {
                    true => factor.clone(),
                    false => match crate::surface::number(&divisor) {
                        Some(divisor) => write::multiple(&divisor.reciprocal()?, factor.clone()),
                        None => over(factor.clone(), divisor),
                    },
                },
            );
        }
        if self.has(&exponent) {
            return None;
        }
        let exponent = surface::number(&exponent)?;
        if let Some((slope, _)) = self.linear(&base) {
            if exponent == Rational::integer(-1) {
                return Some(write::multiple(&slope.reciprocal()?, ln_abs(&base)));
            }
            let next = &exponent + &Rational::ONE;
            let factor = (&slope * &next).reciprocal()?;
            return Some(write::multiple(
                &factor,
                Expression::power(base, write::number(&next)),
            ));
        }
        let (Operator::Function(function), [argument]) = (base.operator(), base.operands()) else {
            return None;
        };
        let (slope, _) = self.linear(argument)?;
        let found = match (function, exponent.as_i64()?) {
            (Function::Sin, 1) => minus(call(Function::Cos, argument)),
            (Function::Cos, 1) => call(Function::Sin, argument),
            (Function::Tan, 1) => minus(ln_abs(&call(Function::Cos, argument))),
            (Function::Cot, 1) => ln_abs(&call(Function::Sin, argument)),
            (Function::Sec, 1) => ln_abs(&write::sum([
                call(Function::Sec, argument),
                call(Function::Tan, argument),
            ])),
            (Function::Csc, 1) => minus(ln_abs(&write::sum([
                call(Function::Csc, argument),
                call(Function::Cot, argument),
            ]))),
            (Function::Sec, 2) | (Function::Cos, -2) => call(Function::Tan, argument),
            (Function::Csc, 2) | (Function::Sin, -2) => minus(call(Function::Cot, argument)),
            (Function::Tan, 2) => {
                let tangent = call(Function::Tan, argument);
                return Some(write::sum([
                    write::multiple(&slope.reciprocal()?, tangent),
                    minus(self.letter()),
                ]));
            }
            (Function::Sinh, 1) => call(Function::Cosh, argument),
            (Function::Cosh, 1) => call(Function::Sinh, argument),
            (Function::Sech, 2) => call(Function::Tanh, argument),
            (Function::Exp, 1) => base.clone(),
            _ => return None,
        };
        Some(write::multiple(&slope.reciprocal()?, found))
    }

    /// A quotient of polynomials by partial fractions.
    fn rational(&self, product: &Expression) -> Option<Expression> {
        let number = normal(product).ok()?;
        let part = |p: &crate::normal_form::Polynomial| {
            views::univariate(&crate::normal_form::Normal::whole(p.clone()), self.by)
        };
        let (above, below) = (part(number.numerator())?, part(number.denominator())?);
        if below.degree() == 0 {
            // Powers of a bracket are not multiplied out here.
            return match product.operator() {
                Operator::Power => None,
                _ => Some(self.polynomial(&above.scale(&below.leading().reciprocal()?))),
            };
        }
        // g'/g at once: its denominator need not be factored.
        if above.primitive() == below.derivative().primitive() {
            let factor = above.leading().checked_div(&below.derivative().leading())?;
            let inner = expressions::polynomial(&below, &self.letter());
            let inner = match below.count_real_roots(None, None) {
                0 => inner,
                _ => call(Function::Abs, &inner),
            };
            return Some(write::multiple(&factor, call(Function::Ln, &inner)));
        }
        let (whole, pieces) = expressions::pieces(&above, &below)?;
        let mut terms = vec![self.polynomial(&whole)];
        for piece in &pieces {
            terms.extend(self.piece(piece)?);
        }
        Some(write::sum(terms))
    }

    fn polynomial(&self, values: &Univariate) -> Expression {
        let mut primitive = vec![Rational::ZERO];
        for (degree, coefficient) in values.coefficients().iter().enumerate() {
            primitive.push(coefficient / &Rational::integer(degree as i64 + 1));
        }
        expressions::polynomial(&Univariate::new(primitive), &self.letter())
    }

    fn piece(&self, piece: &Piece) -> Option<Vec<Expression>> {
        let below = expressions::polynomial(&piece.below, &self.letter());
        if piece.below.degree() == 1 {
            let factor = piece
                .above
                .coefficient(0)
                .checked_div(&piece.below.leading())?;
            return Some(vec![match piece.power {
                1 => write::multiple(&factor, ln_abs(&below)),
                power => {
                    let power = i64::from(power) - 1;
                    let factor = -factor.checked_div(&Rational::integer(power))?;
                    let quotient = over(
                        write::number(&factor.numerator().abs()),
                        write::multiple(&factor.denominator(), write::power(below, power)),
                    );
                    write::multiple(&Rational::integer(i64::from(factor.signum())), quotient)
                }
            }]);
        }
        if piece.power != 1 {
            return None;
        }
        // (B x + C) / (a x^2 + b x + c)
        let (a, b) = (piece.below.coefficient(2), piece.below.coefficient(1));
        let two = Rational::integer(2);
        let rise = piece.above.coefficient(1).checked_div(&(&two * &a))?;
        let rest = piece.above.coefficient(0) - &rise * &b;
        let discriminant = piece.below.discriminant()?;
        let mut terms = Vec::new();
        if !rise.is_zero() {
            let inner = match discriminant.is_negative() {
                true => below.clone(),
                false => call(Function::Abs, &below),
            };
            terms.push(write::multiple(&rise, call(Function::Ln, &inner)));
        }
        if !rest.is_zero() {
            if !discriminant.is_negative() {
                return None;
            }
            // 2 / √D arctan((2 a x + b) / √D)
            let (outside, radicand) = polynomials::square_root(&-discriminant)?;
            let root = write::surd(&Rational::ZERO, &outside, radicand);
            let root = match radicand {
                1 => write::number(&outside),
                _ => root,
            };
            let inner = write::sum([
                write::multiple(&(&two * &a), self.letter()),
                write::number(&b),
            ]);
            let angle = tidy(&over(inner, root.clone()));
            let scale = tidy(&over(write::number(&(&two * &rest)), root));
            terms.push(write::product([scale, call(Function::Arctan, &angle)]));
        }
        Some(terms)
    }

    /// Roots of a number plus or minus a square.
    fn quadratic_root(&self, product: &Expression) -> Option<Expression> {
        let root = product
            .parts()
            .find_map(|part| match (part.operator(), part.operands()) {
                (Operator::Root, [radicand]) => Some(radicand.clone()),
                (Operator::Power, [base, exponent]) => {
                    let exponent = surface::number(exponent)?;
                    (exponent.denominator() == Rational::integer(2)).then(|| base.clone())
                }
                _ => None,
            })?;
        let inner = self.univariate(&root)?;
        if inner.degree() != 2 || !inner.coefficient(1).is_zero() {
            return None;
        }
        let (c, a) = (inner.coefficient(0), inner.coefficient(2));
        let sqrt = Expression::root(root.clone());
        let one = over(write::integer(1), sqrt.clone());
        // Both are positive, so that their squares decide.
        let is = |of: &Expression| {
            let quotient = over(product.clone(), of.clone());
            let square = |e: &Expression| match (e.operator(), e.operands()) {
                (Operator::Root, [radicand]) => radicand.clone(),
                (Operator::Power, [base, exponent]) => {
                    let twice = write::product([write::integer(2), exponent.clone()]);
                    Expression::power(base.clone(), write::collected(&twice))
                }
                _ => write::power(e.clone(), 2),
            };
            let squared = squared(&quotient, &square);
            let quotient = normal(&squared).ok();
            quotient
                .and_then(|q| q.as_constant())
                .is_some_and(|q| q.is_one())
        };
        let x = self.letter();
        // Abramowitz and Stegun, 3.3.44 and 3.3.47, by substitution.
        if !c.is_zero() && is(&over(one.clone(), write::power(x.clone(), 2))) {
            let quotient = over(sqrt, x);
            return Some(write::multiple(&-c.reciprocal()?, quotient));
        }
        if !c.is_zero() && is(&over(one.clone(), root.clone())) {
            let factor = c.reciprocal()?;
            let below = write::multiple(&factor.denominator(), sqrt);
            return Some(over(write::multiple(&factor.numerator(), x), below));
        }
        let slope = polynomials::square_root(&a.abs())?;
        if slope.1 != 1 {
            return None;
        }
        let slope = slope.0;
        let size = polynomials::square_root(&c.abs())?;
        let radius = write::surd(&Rational::ZERO, &size.0, size.1);
        let radius = match size.1 {
            1 => write::number(&size.0),
            _ => radius,
        };
        let half = Rational::fraction(1, 2);
        let scaled = write::multiple(&slope, x.clone());
        if a.is_negative() && c.is_positive() {
            let angle = call(Function::Arcsin, &tidy(&over(scaled, radius)));
            let inverse = slope.reciprocal()?;
            if is(&one) {
                return Some(write::multiple(&inverse, angle));
            }
            let whole = write::multiple(&half, write::product([x.clone(), sqrt.clone()]));
            if is(&sqrt) {
                let factor = &(&c * &half) * &inverse;
                return Some(write::sum([whole, write::multiple(&factor, angle)]));
            }
            if a == Rational::integer(-1) && is(&over(write::power(x, 2), sqrt)) {
                let minus = write::multiple(&Rational::integer(-1), whole);
                return Some(write::sum([minus, write::multiple(&(&c * &half), angle)]));
            }
            return None;
        }
        if a.is_positive() && is(&one) {
            let inside = write::sum([scaled, sqrt]);
            let inside = match c.is_positive() {
                true => inside,
                false => call(Function::Abs, &inside),
            };
            return Some(write::multiple(
                &slope.reciprocal()?,
                call(Function::Ln, &inside),
            ));
        }
        // The same logarithm beside half the product, 3.3.41.
        if a.is_one() && (is(&sqrt) || is(&over(write::power(x.clone(), 2), sqrt.clone()))) {
            let inside = write::sum([x.clone(), sqrt.clone()]);
            let inside = match c.is_positive() {
                true => inside,
                false => call(Function::Abs, &inside),
            };
            let sign = Rational::integer(if is(&sqrt) { 1 } else { -1 });
            let whole = write::multiple(&half, write::product([x, sqrt]));
            let logarithm = call(Function::Ln, &inside);
            return Some(write::sum([
                whole,
                write::multiple(&(&(&c * &half) * &sign), logarithm),
            ]));
        }
        None
    }

    /// Products of powers of sine and cosine of one linear argument.
    fn trigonometric(&mut self, factors: &[Expression], depth: u32) -> Option<Expression> {
        let mut argument: Option<Expression> = None;
        let (mut sines, mut cosines) = (0_i64, 0_i64);
        let mut waves: Vec<(Function, Expression)> = Vec::new();
        for factor in factors {
            let (base, exponent) = match (factor.operator(), factor.operands()) {
                (Operator::Power, [base, exponent]) => (base, exponent.as_i64()?),
                _ => (factor, 1),
            };
            let (Operator::Function(function), [of]) = (base.operator(), base.operands()) else {
                return None;
            };
            waves.push((*function, of.clone()));
            match &argument {
                Some(known) if known != of => {
                    return match factors.len() {
                        2 if exponent == 1 => self.two_waves(factors),
                        _ => None,
                    };
                }
                _ => argument = Some(of.clone()),
            }
            match function {
                Function::Sin => sines += exponent,
                Function::Cos => cosines += exponent,
                _ => return None,
            }
        }
        let argument = argument?;
        let (slope, _) = self.linear(&argument)?;
        let (sine, cosine) = (
            call(Function::Sin, &argument),
            call(Function::Cos, &argument),
        );
        let is_odd = |exponent: i64| exponent > 0 && exponent % 2 == 1;
        if !(0..=8).contains(&sines.abs()) || !(0..=8).contains(&cosines.abs()) {
            return None;
        }
        let u = Expression::symbol("u");
        let turned = Expression::difference(write::integer(1), write::power(u.clone(), 2));
        if is_odd(cosines) && sines >= 0 || is_odd(sines) && cosines >= 0 {
            // The odd power gives the differential, the rest turns into the other function.
            let (odd, other, name, sign) =
                match is_odd(cosines) && !(is_odd(sines) && sines < cosines) {
                    true => (cosines, sines, sine, 1),
                    false => (sines, cosines, cosine, -1),
                };
            let inner =
                Expression::product([write::power(turned, (odd - 1) / 2), write::power(u, other)]);
            let inner = write::collected(&inner);
            let symbol = Symbol::new("u");
            let found = Search {
                by: &symbol,
                budget: 50,
            }
            .integrate(&inner, 3)?;
            let found = found.substitute(&symbol, &name);
            let factor = Rational::integer(sign).checked_div(&slope)?;
            return Some(spread(&factor, &write::integer(1), found));
        }
        if sines >= 0 && cosines >= 0 && sines % 2 == 0 && cosines % 2 == 0 {
            let double = write::collected(&Expression::product([write::integer(2), argument]));
            let wave = call(Function::Cos, &double);
            let half = |minus: bool| {
                let wave = match minus {
                    true => Expression::negative(wave.clone()),
                    false => wave.clone(),
                };
                over(write::sum([write::integer(1), wave]), write::integer(2))
            };
            let lowered = Expression::product([
                write::power(half(true), sines / 2),
                write::power(half(false), cosines / 2),
            ]);
            return self.integrate(&write::collected(&lowered), depth - 1);
        }
        None
    }

    /// Products of powers of secant and tangent, or of cosecant and cotangent, of one linear argument.
    fn secants(&mut self, factors: &[Expression], depth: u32) -> Option<Expression> {
        let mut argument: Option<&Expression> = None;
        let (mut tangents, mut secants, mut is_turned) = (0_i64, 0_i64, false);
        for (place, factor) in factors.iter().enumerate() {
            let (base, exponent) = match (factor.operator(), factor.operands()) {
                (Operator::Power, [base, exponent]) => (base, exponent.as_i64()?),
                _ => (factor, 1),
            };
            let (Operator::Function(function), [of]) = (base.operator(), base.operands()) else {
                return None;
            };
            if argument.is_some_and(|known| known != of) || !(1..=6).contains(&exponent) {
                return None;
            }
            argument = Some(of);
            let turned = match function {
                Function::Tan | Function::Sec => false,
                Function::Cot | Function::Csc => true,
                _ => return None,
            };
            if place > 0 && turned != is_turned {
                return None;
            }
            is_turned = turned;
            match function {
                Function::Tan | Function::Cot => tangents += exponent,
                _ => secants += exponent,
            }
        }
        let argument = argument?.clone();
        let (slope, _) = self.linear(&argument)?;
        let (tangent, secant, sign) = match is_turned {
            false => (Function::Tan, Function::Sec, 1),
            true => (Function::Cot, Function::Csc, -1),
        };
        let (tangent, secant) = (call(tangent, &argument), call(secant, &argument));
        let factor = Rational::integer(sign).checked_div(&slope)?;
        let u = Expression::symbol("u");
        let by = |body: Expression, name: &Expression| {
            let symbol = Symbol::new("u");
            let body = write::collected(&body);
            let found = Search {
                by: &symbol,
                budget: 50,
            }
            .integrate(&body, 3)?;
            Some(found.substitute(&symbol, name))
        };
        let one = write::integer(1);
        if secants > 0 && secants % 2 == 0 {
            // sec^2 is the derivative of the tangent.
            let square = write::sum([one.clone(), write::power(u.clone(), 2)]);
            let body = Expression::product([
                write::power(square, (secants - 2) / 2),
                write::power(u, tangents),
            ]);
            return Some(spread(&factor, &one, by(body, &tangent)?));
        }
        if secants > 0 && tangents % 2 == 1 {
            // sec tan is the derivative of the secant.
            let square = Expression::difference(write::power(u.clone(), 2), one.clone());
            let body = Expression::product([
                write::power(square, (tangents - 1) / 2),
                write::power(u, secants - 1),
            ]);
            return Some(spread(&factor, &one, by(body, &secant)?));
        }
        if secants == 0 && tangents >= 2 {
            // tan^n = tan^(n - 2) (sec^2 - 1)
            let next = write::power(tangent.clone(), tangents - 1);
            let first =
                write::multiple(&factor.checked_div(&Rational::integer(tangents - 1))?, next);
            let rest = self.integrate(&write::power(tangent, tangents - 2), depth - 1)?;
            return Some(write::sum([
                first,
                spread(&Rational::integer(-1), &one, rest),
            ]));
        }
        if (secants, tangents) == (3, 0) {
            // By parts; Abramowitz and Stegun, 4.3.127.
            let half = &Rational::fraction(1, 2) * &factor;
            let logarithm = ln_abs(&write::sum([secant.clone(), tangent.clone()]));
            return Some(write::sum([
                write::multiple(&half, write::product([secant, tangent])),
                write::multiple(&(&half * &Rational::integer(sign)), logarithm),
            ]));
        }
        None
    }

    /// sin ax cos bx and the like, as a sum.
    fn two_waves(&mut self, factors: &[Expression]) -> Option<Expression> {
        let [first, second] = factors else {
            return None;
        };
        let of = |e: &Expression| match (e.operator(), e.operands()) {
            (Operator::Function(f @ (Function::Sin | Function::Cos)), [a]) => Some((*f, a.clone())),
            _ => None,
        };
        let ((f, a), (g, b)) = (of(first)?, of(second)?);
        let ((f, a), (g, b)) = match (f, g) {
            (Function::Cos, Function::Sin) => ((g, b), (f, a)),
            pair => ((pair.0, a), (pair.1, b)),
        };
        let plus = write::collected(&write::sum([a.clone(), b.clone()]));
        let minus = write::collected(&Expression::difference(a, b));
        let (function, sign) = match (f, g) {
            (Function::Sin, Function::Cos) => (Function::Sin, 1),
            (Function::Sin, _) => (Function::Cos, -1),
            _ => (Function::Cos, 1),
        };
        let terms = write::sum([
            write::multiple(&Rational::fraction(1, 2), call(function, &minus)),
            write::multiple(&Rational::fraction(sign, 2), call(function, &plus)),
        ]);
        self.integrate(&terms, 2)
    }

    /// A part whose derivative is a factor of the rest.
    fn substitution(&mut self, product: &Expression, depth: u32) -> Option<Expression> {
        let mut candidates: Vec<&Expression> = product
            .parts()
            .filter(|part| {
                self.has(part)
                    && part.as_symbol().is_none()
                    && *part != product
                    && !matches!(part.operator(), Operator::Negative)
            })
            .collect();
        // The inner ones last: a larger substitution leaves less.
        candidates.sort_by_key(|part| std::cmp::Reverse(part.size()));
        candidates.dedup();
        let name = Symbol::new("substitute");
        let named = Expression::new(Operator::Symbol(name.clone()), []);
        for inner in candidates.into_iter().take(12) {
            if self.linear(inner).is_some() {
                continue;
            }
            let Some(slope) = derivative(inner, self.by) else {
                continue;
            };
            let replaced = replaced(product, inner, &named);
            let Ok(rest) = normal(&over(replaced, slope)) else {
                continue;
            };
            let rest = rest.to_expression();
            if self.has(&rest) {
                continue;
            }
            let found = Search {
                by: &name,
                budget: self.budget.min(60),
            }
            .integrate(&rest, depth - 1);
            if let Some(found) = found {
                let found = found.substitute(&name, inner);
                return Some(without_bars(&found, self.by));
            }
        }
        None
    }

    /// e^(a x) sin(b x) and e^(a x) cos(b x). (Bronshtein and Semendyayev, table of integrals.)
    fn exponential_wave(&self, product: &Expression) -> Option<Expression> {
        let parts = surface::factors(product);
        let [first, second] = parts.factors.as_slice() else {
            return None;
        };
        let mut rate = None;
        let mut wave = None;
        for factor in [first, second] {
            match (&factor.exponent, factor.base) {
                (surface::Exponent::Symbolic { exponent, negated }, surface::Base::E) => {
                    let (slope, _) = self.linear(exponent)?;
                    let sign = if *negated { -1 } else { 1 };
                    rate = Some(slope * Rational::integer(sign));
                }
                (surface::Exponent::Number(one), surface::Base::Part(part)) if one.is_one() => {
                    match (part.operator(), part.operands()) {
                        (Operator::Function(f @ (Function::Sin | Function::Cos)), [argument]) => {
                            wave = Some((*f, argument.clone(), self.linear(argument)?.0));
                        }
                        _ => return None,
                    }
                }
                _ => return None,
            }
        }
        let (a, (function, argument, b)) = (rate?, wave?);
        let (sine, cosine) = (
            call(Function::Sin, &argument),
            call(Function::Cos, &argument),
        );
        let inner = match function {
            Function::Sin => [
                write::multiple(&a, sine),
                write::multiple(&-b.clone(), cosine),
            ],
            _ => [write::multiple(&a, cosine), write::multiple(&b, sine)],
        };
        let exponential = Expression::power(
            Expression::constant(Constant::E),
            write::multiple(&a, self.letter()),
        );
        let below = (&a * &a) + &b * &b;
        let above = write::product([exponential, write::sum(inner)]);
        Some(match below.is_one() {
            true => above,
            false => over(above, write::number(&below)),
        })
    }

    /// Integration by parts: a polynomial is differentiated, or a logarithm or an inverse function.
    fn parts(&mut self, product: &Expression, depth: u32) -> Option<Expression> {
        let parts = surface::factors(product);
        let mut polynomial = Vec::new();
        let mut others = Vec::new();
        for factor in &parts.factors {
            let one = surface::Term {
                coefficient: Rational::ONE,
                factors: [factor.clone()].into_iter().collect(),
            };
            let factor = one.to_expression();
            match self.univariate(&factor).is_some() {
                true => polynomial.push(factor),
                false => others.push(factor),
            }
        }
        let is_inverse = |e: &Expression| {
            let base = match (e.operator(), e.operands()) {
                (Operator::Power, [base, _]) => base,
                _ => e,
            };
            matches!(
                base.operator(),
                Operator::Function(
                    Function::Ln
                        | Function::Arctan
                        | Function::Arcsin
                        | Function::Arccos
                        | Function::Log
                        | Function::LogBase
                )
            )
        };
        let inverse = others.iter().position(is_inverse);
        let (kept, rest) = match inverse {
            Some(place) => {
                let inverse = others.remove(place);
                (
                    inverse,
                    write::product(polynomial.into_iter().chain(others)),
                )
            }
            None if !polynomial.is_empty() && !others.is_empty() => {
                (write::product(polynomial), write::product(others))
            }
            None => return None,
        };
        let integrated = self.integrate(&rest, depth - 1)?;
        let integrated = tidy(&integrated);
        let slope = derivative(&kept, self.by)?;
        let next = tidy(&write::product([slope, integrated.clone()]));
        let next = self.integrate(&next, depth - 1)?;
        Some(write::sum([
            write::product([kept, integrated]),
            spread(&Rational::integer(-1), &write::integer(1), next),
        ]))
    }

    /// The root of the letter gets a name.
    fn rooted(&mut self, product: &Expression, depth: u32) -> Option<Expression> {
        let root = product.parts().find(|part| {
            matches!(part.operator(), Operator::Root)
                && part.operands().first().and_then(Expression::as_symbol) == Some(self.by)
        })?;
        let name = Symbol::new("substitute");
        let named = Expression::new(Operator::Symbol(name.clone()), []);
        let body = replaced(product, root, &named);
        let body = body.substitute(self.by, &write::power(named.clone(), 2));
        let body = write::product([write::integer(2), named, body]);
        let found = Search {
            by: &name,
            budget: self.budget.min(60),
        }
        .integrate(&write::collected(&body), depth - 1)?;
        Some(without_bars(&found.substitute(&name, root), self.by))
    }

    /// A root or power of a linear expression beside a polynomial: the linear expression gets a name.
    fn shifted(&mut self, product: &Expression, depth: u32) -> Option<Expression> {
        let inner = product.parts().find_map(|part| {
            let base = match (part.operator(), part.operands()) {
                (Operator::Root, [radicand]) => radicand,
                (Operator::Power, [base, _]) => base,
                _ => return None,
            };
            (matches!(base.operator(), Operator::Sum) && self.linear(base).is_some())
                .then(|| base.clone())
        })?;
        let (slope, constant) = self.linear(&inner)?;
        let name = Symbol::new("substitute");
        let named = Expression::new(Operator::Symbol(name.clone()), []);
        let replaced = replaced(product, &inner, &named);
        let back = over(
            Expression::difference(named, constant),
            write::number(&slope),
        );
        let body = write::collected(&replaced.substitute(self.by, &back));
        let found = Search {
            by: &name,
            budget: self.budget.min(60),
        }
        .integrate(&body, depth - 1)?;
        let found = found.substitute(&name, &inner);
        Some(spread(&slope.reciprocal()?, &write::integer(1), found))
    }
}

/// The square of a product or quotient, factor by factor.
fn squared(expression: &Expression, square: &impl Fn(&Expression) -> Expression) -> Expression {
    match expression.operator() {
        Operator::Product | Operator::Fraction => {
            expression.map_operands(|operand| squared(operand, square))
        }
        Operator::Number(_) => write::power(expression.clone(), 2),
        _ => square(expression),
    }
}

/// A multiple of a sum, term by term.
fn spread(factor: &Rational, constant: &Expression, sum: Expression) -> Expression {
    match (sum.operator(), sum.operands()) {
        (Operator::Sum, terms) => write::sum(
            terms
                .iter()
                .map(|term| spread(factor, constant, term.clone()))
                .collect::<Vec<_>>(),
        ),
        _ => match constant.as_i64() {
            Some(1) => write::multiple(factor, sum),
            _ => write::multiple(factor, write::product([constant.clone(), sum])),
        },
    }
}

/// `\ln |u|` as `\ln u`, where u is never negative.
fn without_bars(expression: &Expression, by: &Symbol) -> Expression {
    let inner = expression.map_operands(|operand| without_bars(operand, by));
    if let (Operator::Function(Function::Abs), [of]) = (inner.operator(), inner.operands())
        && is_positive(of, by)
    {
        return of.clone();
    }
    inner
}

fn is_positive(of: &Expression, by: &Symbol) -> bool {
    if let Some(polynomial) = normal(of).ok().and_then(|n| views::univariate(&n, by)) {
        return polynomial.count_real_roots(None, None) == 0 && polynomial.leading().is_positive();
    }
    let positive_term = |term: &Expression| match (term.operator(), term.operands()) {
        (Operator::Power, [base, _]) => base.as_constant() == Some(Constant::E),
        (Operator::Number(_), _) => true,
        (Operator::Product, operands) => operands.iter().all(|o| match o.operator() {
            Operator::Number(_) => true,
            Operator::Power => o.operands()[0].as_constant() == Some(Constant::E),
            _ => false,
        }),
        _ => false,
    };
    match (of.operator(), of.operands()) {
        (Operator::Sum, terms) => terms.iter().all(positive_term),
        _ => positive_term(of),
    }
}
