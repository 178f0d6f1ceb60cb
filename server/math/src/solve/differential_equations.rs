//! What solves a differential equation?
//!
//! One method for each kind that a first course has: an integral, an integrating factor, separation,
//! the substitutions of Bernoulli and of a quotient, exactness; for the second order the
//! characteristic equation, undetermined coefficients and powers of x.

use super::antiderivative::{antiderivative, tidy_terms};
use super::equations::replaced;
use super::polynomials::{self, Root};
use super::tidy::tidy;
use super::{Key, formula, write};
use crate::derivative::derivative;
use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::linear::Matrix;
use crate::normal_form::{Normal, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent};
use crate::univariate::Univariate;
use crate::views::{self, Truth};

struct Equation {
    x: Symbol,
    y: Symbol,
    /// Values of y, y' at a point: the order, the point, the value.
    initial: Vec<(usize, Rational, Rational)>,
}

/// The derivatives of y get names of their own.
fn slope_name(order: u32) -> Symbol {
    Symbol::new("y").with_subscript(&format!("derivative{order}"))
}

fn named(symbol: &Symbol) -> Expression {
    Expression::new(Operator::Symbol(symbol.clone()), [])
}

fn c() -> Expression {
    Expression::symbol("C")
}

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let (left, right) = main.as_equation().ok_or("it is no single equation")?;
    let [y] = problem.unknowns.as_slice() else {
        return Err("there is not one unknown function".into());
    };
    let x = match problem.variables.as_slice() {
        [x] => x.clone(),
        [] => {
            let letters = main.free_symbols();
            let t = Symbol::new("t");
            match letters.contains(&t) && *y != t {
                true => t,
                false => Symbol::new("x"),
            }
        }
        _ => return Err("there is not one variable".into()),
    };
    let mut equation = Equation {
        x,
        y: y.clone(),
        initial: Vec::new(),
    };
    for condition in &problem.conditions {
        equation.initial.push(equation.initial_value(condition)?);
    }
    let difference = Expression::difference(left.clone(), right.clone());
    if difference
        .parts()
        .any(|part| matches!(part.operator(), Operator::Differential))
    {
        return equation
            .exact(&difference)
            .or_else(|reason| equation.as_slope(&difference).map_err(|_| reason));
    }
    let difference = equation.renamed(&difference);
    let has = |order: u32| difference.mentions(&slope_name(order));
    match (has(3) || has(4), has(2)) {
        (true, _) => equation.higher_order(&difference),
        (false, true) => equation.second_order(&difference),
        (false, false) => equation.first_order(&difference),
    }
}

impl Equation {
    /// The order of the derivative of the unknown function, if the expression is one; 0 for itself.
    fn order(&self, expression: &Expression) -> Option<u32> {
        match (expression.operator(), expression.operands()) {
            (Operator::Symbol(symbol), _) if *symbol == self.y => Some(0),
            (Operator::Prime(order), [function]) => Some(self.order(function)? + order),
            (Operator::Derivative(by), [function, variable])
                if by.orders.len() == 1 && variable.as_symbol() == Some(&self.x) =>
            {
                Some(self.order(function)? + by.orders[0])
            }
            (Operator::Apply, [function, argument]) if argument.as_symbol() == Some(&self.x) => {
                self.order(function)
            }
            _ => None,
        }
    }

    fn renamed(&self, expression: &Expression) -> Expression {
        match self.order(expression) {
            Some(0) => named(&self.y),
            Some(order) => named(&slope_name(order)),
            None => expression.map_operands(|operand| self.renamed(operand)),
        }
    }

    fn initial_value(&self, condition: &Expression) -> Result<(usize, Rational, Rational), String> {
        let bad = "a condition is no initial value with rational numbers";
        let (left, right) = condition.as_equation().ok_or(bad)?;
        let (Operator::Apply, [function, point]) = (left.operator(), left.operands()) else {
            return Err(bad.into());
        };
        let order = self.order(function).ok_or(bad)? as usize;
        let point = surface::number(point).ok_or(bad)?;
        let value = surface::number(right).ok_or(bad)?;
        Ok((order, point, value))
    }

    fn is_y(&self) -> Expression {
        named(&self.y)
    }

    fn answer(&self, value: Expression) -> Result<Vec<Key>, String> {
        formula(Expression::equation(self.is_y(), value))
    }

    /// The solution with its constant found from the initial value.
    fn with_initial(&self, solution: &Expression) -> Result<Expression, String> {
        let [(0, point, value)] = self.initial.as_slice() else {
            return match self.initial.is_empty() {
                true => Ok(solution.clone()),
                false => Err("there are more initial values than constants".into()),
            };
        };
        let at = solution.substitute(&self.x, &write::number(point));
        let difference = Expression::difference(at, write::number(value));
        let number = normal(&difference).map_err(|_| "the initial value is not in the domain")?;
        let number = Normal::whole(number.numerator().clone());
        let (slope, rest) = views::linear_in(&number, &c())
            .filter(|(slope, _)| views::is_zero(slope) == Truth::No)
            .ok_or("the constant is not found from the initial value")?;
        let constant = rest
            .negate()
            .divide(&slope)
            .map_err(|_| "it cannot be divided")?;
        let found = solution.substitute(&Symbol::new("C"), &constant.to_expression());
        Ok(tidy_terms(&found))
    }

    fn integral(&self, body: &Expression, by: &Symbol) -> Result<Expression, String> {
        antiderivative(&tidy(body), by).ok_or_else(|| "an integral in it is not known".into())
    }

    fn first_order(&self, difference: &Expression) -> Result<Vec<Key>, String> {
        let number = normal(difference).map_err(|_| "it cannot be collected")?;
        let number = Normal::whole(number.numerator().clone());
        let (slope, rest) = views::linear_in(&number, &named(&slope_name(1)))
            .filter(|(slope, _)| !slope.is_zero())
            .ok_or("it is not linear in the derivative")?;
        let f = rest
            .negate()
            .divide(&slope)
            .map_err(|_| "it cannot be divided")?;
        let shown = f.to_expression();
        if !shown.mentions(&self.y) {
            let found = self.integral(&shown, &self.x)?;
            return self.answer(self.with_initial(&write::sum([found, c()]))?);
        }
        if let Some((a, b)) = views::linear_in(&f, &self.is_y()) {
            let solution = self.linear(&a.to_expression(), &b.to_expression())?;
            return self.answer(self.with_initial(&solution)?);
        }
        if let Some(keys) = self.quotient(&f)? {
            return Ok(keys);
        }
        if let Some(keys) = self.bernoulli(&f)? {
            return Ok(keys);
        }
        let (has_x, has_y) = (
            |e: &Expression| e.mentions(&self.x),
            |e: &Expression| e.mentions(&self.y),
        );
        if let Some((g, h)) = views::separate(&f, has_x, has_y) {
            return self.separated(&g, &h);
        }
        self.inner_sum(&f)
    }

    /// y' = a y + b: y = u (∫ b/u + C) with u' = a u.
    fn linear(&self, a: &Expression, b: &Expression) -> Result<Expression, String> {
        let exponent = self.integral(a, &self.x)?;
        let basis = exponential(&exponent);
        if b.as_i64() == Some(0) {
            return Ok(tidy(&write::product([c(), basis])));
        }
        let body = write::collected(&Expression::fraction(b.clone(), basis.clone()));
        let found = self.integral(&body, &self.x)?;
        let particular = tidy(&Expression::product([found, basis.clone()]));
        let homogeneous = tidy(&write::product([c(), basis]));
        Ok(write::sum([particular, homogeneous]))
    }

    /// y' = a y + b y^n by v = y^(1-n).
    fn bernoulli(&self, f: &Normal) -> Result<Option<Vec<Key>>, String> {
        let y = self.is_y();
        let Some(terms) = views::coefficients(f, |kernel| kernel.mentions(&self.y)) else {
            return Ok(None);
        };
        let power = |monomial: &crate::normal_form::Monomial| match monomial.powers() {
            [(kernel, exponent)] if *kernel == y => exponent.as_i64(),
            _ => None,
        };
        let [(first, a), (second, b)] = terms.as_slice() else {
            return Ok(None);
        };
        let (n, a, b) = match (power(first), power(second)) {
            (Some(1), Some(n)) => (n, a, b),
            (Some(n), Some(1)) => (n, b, a),
            _ => return Ok(None),
        };
        let scale = Rational::integer(1 - n);
        let v = self.linear(
            &a.scale(&scale).to_expression(),
            &b.scale(&scale).to_expression(),
        )?;
        if n == 2 {
            // 1/y = v, so that the initial value is 1/y0.
            let mut turned = Equation {
                x: self.x.clone(),
                y: self.y.clone(),
                initial: Vec::new(),
            };
            for (order, point, value) in &self.initial {
                let value = value.reciprocal().ok_or("the initial value is 0")?;
                turned.initial.push((*order, point.clone(), value));
            }
            let v = turned.with_initial(&v)?;
            return self
                .answer(tidy_fraction(&Expression::fraction(write::integer(1), v)))
                .map(Some);
        }
        if !self.initial.is_empty() {
            return Ok(None);
        }
        let left = match 1 - n {
            exponent @ 1.. => write::power(y, exponent),
            exponent => Expression::fraction(write::integer(1), write::power(y, -exponent)),
        };
        formula(Expression::equation(left, v)).map(Some)
    }

    /// y' = g(x) h(y).
    fn separated(&self, g: &Normal, h: &Normal) -> Result<Vec<Key>, String> {
        let below = Expression::fraction(write::integer(1), h.to_expression());
        let left = self.integral(&write::collected(&below), &self.y)?;
        let right = self.integral(&g.to_expression(), &self.x)?;
        let y = self.is_y();
        // The left side undone, where that is usual.
        let term = surface::factors(&left);
        if let [factor] = term.factors.as_slice() {
            let right_over = |by: &Rational| -> Option<Expression> {
                let scaled = normal(&right).ok()?.scale(&by.reciprocal()?);
                Some(write::sum([tidy(&scaled.to_expression()), c()]))
            };
            let scaled = right_over(&term.coefficient).ok_or("it cannot be divided")?;
            match (factor.base, &factor.exponent) {
                (Base::Part(part), Exponent::Number(exponent)) if *part == y => {
                    return self.power_solution(exponent, &scaled);
                }
                (Base::Part(part), Exponent::Number(one)) if one.is_one() => {
                    if let (Operator::Function(Function::Arctan), [inner]) =
                        (part.operator(), part.operands())
                        && *inner == y
                        && self.initial.is_empty()
                    {
                        return self.answer(Expression::function(Function::Tan, scaled));
                    }
                }
                _ => {}
            }
        }
        if !self.initial.is_empty() {
            return Err("the solution is not found in closed form".into());
        }
        formula(Expression::equation(left.clone(), write::sum([right, c()])))
    }

    /// y^k = G + C.
    fn power_solution(&self, exponent: &Rational, right: &Expression) -> Result<Vec<Key>, String> {
        let y = self.is_y();
        let right = match self.initial.as_slice() {
            [(0, point, value)] => {
                let power = exponent
                    .as_i64()
                    .and_then(|exponent| value.pow(exponent))
                    .ok_or("the initial value is not in the domain")?;
                let turned = Equation {
                    x: self.x.clone(),
                    y: self.y.clone(),
                    initial: vec![(0, point.clone(), power)],
                };
                turned.with_initial(right)?
            }
            [] => right.clone(),
            _ => return Err("there are more initial values than constants".into()),
        };
        match exponent.as_i64() {
            Some(1) => self.answer(right),
            Some(-1) => self.answer(tidy_fraction(&Expression::fraction(
                write::integer(1),
                right,
            ))),
            Some(2) if !self.initial.is_empty() => {
                let root = Expression::root(right);
                match self.initial.iter().all(|(_, _, value)| value.is_positive()) {
                    true => self.answer(root),
                    false => self.answer(Expression::negative(root)),
                }
            }
            Some(k @ 2..) if self.initial.is_empty() => {
                formula(Expression::equation(write::power(y, k), right))
            }
            Some(k @ ..-1) if self.initial.is_empty() => formula(Expression::equation(
                Expression::fraction(write::integer(1), write::power(y, -k)),
                right,
            )),
            _ => Err("the solution is not found in closed form".into()),
        }
    }

    /// A function of y/x by v = y/x: x v' = F(v) - v.
    fn quotient(&self, f: &Normal) -> Result<Option<Vec<Key>>, String> {
        let v = Symbol::new("v");
        let x = named(&self.x);
        let replaced = f
            .to_expression()
            .substitute(&self.y, &Expression::product([named(&v), x.clone()]));
        let Ok(number) = normal(&replaced) else {
            return Ok(None);
        };
        if views::depends_on(&number, &self.x) || !self.initial.is_empty() {
            return Ok(None);
        }
        let rate = Expression::difference(number.to_expression(), named(&v));
        let rate = normal(&rate).map_err(|_| "it cannot be collected")?;
        let logarithm =
            Expression::function(Function::Ln, Expression::function(Function::Abs, x.clone()));
        let shown = rate.to_expression();
        let term = surface::factors(&shown);
        let [factor] = term.factors.as_slice() else {
            return Ok(None);
        };
        let exponent = match (factor.base, &factor.exponent) {
            (Base::Part(part), Exponent::Number(exponent)) if part.as_symbol() == Some(&v) => {
                exponent.as_i64()
            }
            _ => None,
        };
        let y = self.is_y();
        match exponent {
            // v v' x = k: v^2 = 2 k ln|x| + C.
            Some(-1) => {
                let twice = &Rational::integer(2) * &term.coefficient;
                let inner = write::sum([write::multiple(&twice, logarithm), c()]);
                let right = write::product([write::power(x, 2), inner]);
                formula(Expression::equation(write::power(y, 2), right)).map(Some)
            }
            // v' x = k v^2: -1/v = k ln|x| + C.
            Some(2) => {
                let below = write::sum([write::multiple(&term.coefficient, logarithm), c()]);
                self.answer(Expression::negative(Expression::fraction(x, below)))
                    .map(Some)
            }
            _ => Ok(None),
        }
    }

    /// y' = (a x + y)^2 by naming the sum: u' = a + u^2.
    fn inner_sum(&self, f: &Normal) -> Result<Vec<Key>, String> {
        let none = || "no method of a first course solves it".to_owned();
        let (x, y) = (named(&self.x), self.is_y());
        let polynomial = f.as_polynomial().ok_or_else(none)?;
        let of = |factors: &[(&Expression, i64)]| {
            let powers = factors.iter().map(|(letter, exponent)| {
                crate::normal_form::Monomial::power((*letter).clone(), Rational::integer(*exponent))
            });
            let monomial = powers.fold(crate::normal_form::Monomial::one(), |m, p| m.multiply(&p));
            let found = polynomial.terms().iter().find(|(m, _)| *m == monomial);
            found.map_or(Rational::ZERO, |(_, coefficient)| coefficient.clone())
        };
        let (xx, xy, yy) = (of(&[(&x, 2)]), of(&[(&x, 1), (&y, 1)]), of(&[(&y, 2)]));
        let half = &xy * &Rational::fraction(1, 2);
        let root = half
            .root(2)
            .filter(|root| !root.is_zero())
            .ok_or_else(none)?;
        let fits = polynomial.terms().len() == 3 && yy.is_one() && xx == &half * &half;
        if !fits || !self.initial.is_empty() {
            return Err(none());
        }
        let angle = write::sum([write::multiple(&root, x.clone()), c()]);
        let tangent = Expression::function(Function::Tan, angle);
        self.answer(write::sum([
            write::multiple(&root, tangent),
            write::multiple(&-half, x),
        ]))
    }

    /// M dx + N dy = 0.
    fn exact(&self, difference: &Expression) -> Result<Vec<Key>, String> {
        let bad = "it is no exact equation";
        let differential = |of: &Symbol| Expression::new(Operator::Differential, [named(of)]);
        let (dx, dy) = (Symbol::new("dx"), Symbol::new("dy"));
        let mut replaced =
            super::equations::replaced(difference, &differential(&self.x), &named(&dx));
        replaced = super::equations::replaced(&replaced, &differential(&self.y), &named(&dy));
        let number = normal(&replaced).map_err(|_| bad)?;
        let (m, rest) = views::linear_in(&number, &named(&dx)).ok_or(bad)?;
        let (n, rest) = views::linear_in(&rest, &named(&dy)).ok_or(bad)?;
        if !rest.is_zero() || !self.initial.is_empty() {
            return Err(bad.into());
        }
        let (m, n) = (m.to_expression(), n.to_expression());
        let cross = |e: &Expression, by: &Symbol| normal(&derivative(e, by)?).ok();
        if cross(&m, &self.y) != cross(&n, &self.x) {
            return Err(bad.into());
        }
        let first = self.integral(&m, &self.x)?;
        let known = derivative(&first, &self.y).ok_or(bad)?;
        let rest = write::collected(&Expression::difference(n, known));
        let second = match rest.as_i64() {
            Some(0) => write::integer(0),
            _ => self.integral(&rest, &self.y)?,
        };
        formula(Expression::equation(write::sum([first, second]), c()))
    }

    fn second_order(&self, difference: &Expression) -> Result<Vec<Key>, String> {
        let bad = "it is not linear with constant coefficients";
        let number = normal(difference).map_err(|_| "it cannot be collected")?;
        let names = [self.is_y(), named(&slope_name(1)), named(&slope_name(2))];
        let mut coefficients = [(); 3].map(|()| Normal::constant(Rational::ZERO));
        let mut rest = Normal::constant(Rational::ZERO);
        let is_unknown = |kernel: &Expression| {
            names
                .iter()
                .any(|n| n.as_symbol().is_some_and(|n| kernel.mentions(n)))
        };
        for (monomial, coefficient) in views::coefficients(&number, is_unknown).ok_or(bad)? {
            match monomial.powers() {
                [] => rest = coefficient,
                [(kernel, exponent)] if exponent.is_one() => {
                    let place = names.iter().position(|name| name == kernel).ok_or(bad)?;
                    coefficients[place] = coefficient;
                }
                _ => return Err(bad.into()),
            }
        }
        let constants: Option<Vec<Rational>> =
            coefficients.iter().map(Normal::as_constant).collect();
        let Some(constants) = constants else {
            return match rest.is_zero() {
                true => self.euler(&coefficients),
                false => Err(bad.into()),
            };
        };
        let characteristic = Univariate::new(constants);
        let roots = polynomials::roots(&characteristic).ok_or("its roots are not known")?;
        let mut basis = Vec::new();
        for root in &roots {
            basis.extend(self.modes(root));
        }
        let particular = match rest.is_zero() {
            true => write::integer(0),
            false => self.particular(&characteristic, &rest.negate().to_expression())?,
        };
        let double = matches!(roots.as_slice(), [root] if root.multiplicity == 2);
        let wave = roots.iter().any(|root| !root.is_real());
        self.combination(basis, particular, double || wave)
    }

    /// M dx + N dy = 0 as an equation for the slope.
    fn as_slope(&self, difference: &Expression) -> Result<Vec<Key>, String> {
        let of = |letter: &Symbol| Expression::new(Operator::Differential, [named(letter)]);
        let turned = replaced(difference, &of(&self.y), &named(&slope_name(1)));
        let turned = replaced(&turned, &of(&self.x), &write::integer(1));
        self.first_order(&turned)
    }

    /// A linear equation of order 3 or 4 with constant coefficients and 0 on the right.
    fn higher_order(&self, difference: &Expression) -> Result<Vec<Key>, String> {
        let bad = "of higher order only linear equations with constant coefficients and 0 on the \
                   right are solved";
        if !self.initial.is_empty() {
            return Err("initial values of equations of higher order are not used".into());
        }
        let number = normal(difference).map_err(|_| bad)?;
        let names = [0, 1, 2, 3, 4].map(|order| match order {
            0 => self.y.clone(),
            _ => slope_name(order),
        });
        let mut coefficients = vec![Rational::ZERO; names.len()];
        for (monomial, coefficient) in number.as_polynomial().ok_or(bad)?.terms() {
            let [(kernel, exponent)] = monomial.powers() else {
                return Err(bad.into());
            };
            let place = names.iter().position(|n| kernel.as_symbol() == Some(n));
            if !exponent.is_one() {
                return Err(bad.into());
            }
            coefficients[place.ok_or(bad)?] = coefficient.clone();
        }
        let roots =
            polynomials::roots(&Univariate::new(coefficients)).ok_or("its roots are not known")?;
        let basis = roots.iter().flat_map(|root| self.modes(root));
        let terms = basis.enumerate().map(|(place, mode)| {
            let constant = Symbol::new("C").with_subscript(&(place + 1).to_string());
            times(named(&constant), &mode)
        });
        self.answer(write::sum(terms.collect::<Vec<_>>()))
    }

    /// The solutions that belong to a root; of a complex pair, to its first one only.
    fn modes(&self, root: &Root) -> Vec<Expression> {
        let x = named(&self.x);
        let rate = |factor: &Expression| exponential(&write::product([factor.clone(), x.clone()]));
        if !root.is_real() {
            if root.factor.is_negative() {
                return Vec::new();
            }
            let frequency = write::surd(&Rational::ZERO, &root.factor, -root.radicand);
            let frequency = match root.radicand {
                -1 => write::number(&root.factor),
                _ => frequency,
            };
            let argument = write::product([frequency, x.clone()]);
            let decay = match root.rational.is_zero() {
                true => write::integer(1),
                false => rate_of(&root.rational, &x),
            };
            return [Function::Cos, Function::Sin]
                .map(|f| write::product([decay.clone(), Expression::function(f, argument.clone())]))
                .to_vec();
        }
        let mode = match root.as_rational() {
            Some(value) if value.is_zero() => write::integer(1),
            Some(value) => rate_of(value, &x),
            None => rate(&root.to_expression()),
        };
        (0..i64::from(root.multiplicity))
            .map(|power| write::product([write::power(x.clone(), power), mode.clone()]))
            .collect()
    }

    /// C_1 u + C_2 v + particular, with the constants found from the initial values.
    fn combination(
        &self,
        basis: Vec<Expression>,
        particular: Expression,
        in_brackets: bool,
    ) -> Result<Vec<Key>, String> {
        let [u, v] = basis.as_slice() else {
            return Err("there are not two solutions".into());
        };
        if self.initial.is_empty() {
            let constant = |number: &str| {
                Expression::new(
                    Operator::Symbol(Symbol::new("C").with_subscript(number)),
                    [],
                )
            };
            let (first, second) = (constant("1"), constant("2"));
            let homogeneous = match in_brackets.then(|| common(u, v)).flatten() {
                Some((shared, u, v)) => write::product([
                    shared,
                    write::sum([write::product([first, u]), write::product([second, v])]),
                ]),
                None => write::sum([times(first, u), times(second, v)]),
            };
            return self.answer(write::sum([homogeneous, particular]));
        }
        let mut rows = Vec::new();
        for (order, point, value) in &self.initial {
            let at = |e: &Expression| -> Option<Rational> {
                let mut e = e.clone();
                for _ in 0..*order {
                    e = derivative(&e, &self.x)?;
                }
                normal(&e.substitute(&self.x, &write::number(point)))
                    .ok()?
                    .as_constant()
            };
            let bad = "the constants are not rational";
            let (a, b) = (at(u).ok_or(bad)?, at(v).ok_or(bad)?);
            rows.push(vec![a, b, value - &at(&particular).ok_or(bad)?]);
        }
        let (reduced, pivots) = Matrix::new(rows)
            .ok_or("there are no initial values")?
            .reduced();
        if pivots != [0, 1] || self.initial.len() != 2 {
            return Err("the initial values do not give the constants".into());
        }
        let (a, b) = (&reduced.rows()[0][2], &reduced.rows()[1][2]);
        let homogeneous = match common(u, v) {
            Some((shared, u, v)) if in_brackets && !a.is_zero() && !b.is_zero() => {
                write::product([
                    shared,
                    write::sum([write::multiple(a, u), write::multiple(b, v)]),
                ])
            }
            _ => write::sum([write::multiple(a, u.clone()), write::multiple(b, v.clone())]),
        };
        self.answer(write::sum([homogeneous, particular]))
    }

    /// A x^2 y'' + B x y' + C y = 0 by powers of x.
    fn euler(&self, coefficients: &[Normal; 3]) -> Result<Vec<Key>, String> {
        let bad = "its coefficients are neither constant nor powers of the variable";
        let x = named(&self.x);
        let over = |number: &Normal, power: i64| -> Option<Rational> {
            let below = normal(&write::power(x.clone(), power)).ok()?;
            number.divide(&below).ok()?.as_constant()
        };
        // A common power of x does not matter.
        let (c, b, a) = (0..3)
            .find_map(|shift: i64| {
                Some((
                    over(&coefficients[0], -shift)?,
                    over(&coefficients[1], 1 - shift)?,
                    over(&coefficients[2], 2 - shift)?,
                ))
            })
            .ok_or(bad)?;
        let characteristic = Univariate::new(vec![c, &b - &a, a]);
        let roots = polynomials::roots(&characteristic).ok_or("its roots are not known")?;
        let logarithm = Expression::function(Function::Ln, x.clone());
        let power = |exponent: &Rational| match exponent.as_fraction() {
            Some((n, 1)) if n >= 0 => write::power(x.clone(), n),
            Some((n, 1)) => Expression::fraction(write::integer(1), write::power(x.clone(), -n)),
            _ => Expression::power(x.clone(), write::number(exponent)),
        };
        let mut basis = Vec::new();
        for root in &roots {
            if !root.is_real() {
                if root.factor.is_negative() {
                    continue;
                }
                if root.radicand != -1 {
                    return Err("its roots are not rational".into());
                }
                let argument = write::multiple(&root.factor, logarithm.clone());
                for f in [Function::Cos, Function::Sin] {
                    let wave = Expression::function(f, argument.clone());
                    basis.push(tidy(&write::product([power(&root.rational), wave])));
                }
                continue;
            }
            let value = root.as_rational().ok_or("its roots are not rational")?;
            basis.push(power(value));
            if root.multiplicity == 2 {
                basis.push(write::product([power(value), logarithm.clone()]));
            }
        }
        let in_brackets = roots.len() == 1 || roots.iter().any(|root| !root.is_real());
        self.combination(basis, write::integer(0), in_brackets)
    }

    /// A particular solution by undetermined coefficients.
    fn particular(&self, equation: &Univariate, right: &Expression) -> Result<Expression, String> {
        let mut groups: Vec<(Rational, Rational, Univariate, Univariate)> = Vec::new();
        for term in surface::terms(right) {
            let (rate, frequency, cosine, sine) = self
                .wave(&term)
                .ok_or("the right side is no sum of trial functions")?;
            match groups.iter_mut().find(|g| g.0 == rate && g.1 == frequency) {
                Some(group) => {
                    group.2 = group.2.add(&cosine);
                    group.3 = group.3.add(&sine);
                }
                None => groups.push((rate, frequency, cosine, sine)),
            }
        }
        let mut terms = Vec::new();
        for (rate, frequency, cosine, sine) in groups {
            let (p, q) = trial(equation, &rate, &frequency, &cosine, &sine)
                .ok_or("the trial has no solution")?;
            let x = named(&self.x);
            let decay = match rate.is_zero() {
                true => write::integer(1),
                false => rate_of(&rate, &x),
            };
            let polynomial = |p: &Univariate| super::expressions::polynomial(p, &x);
            let argument = write::multiple(&frequency, x.clone());
            let waves = match frequency.is_zero() {
                true => vec![(p, write::integer(1))],
                false => vec![
                    (p, Expression::function(Function::Cos, argument.clone())),
                    (q, Expression::function(Function::Sin, argument)),
                ],
            };
            for (p, wave) in waves {
                let written = write::product([decay.clone(), wave]);
                match written.as_i64() {
                    Some(1) => terms.push(polynomial(&p)),
                    _ if p.is_zero() => {}
                    _ => terms.push(tidy(&write::product([polynomial(&p), written]))),
                }
            }
        }
        Ok(write::sum(terms))
    }

    /// A term c x^m e^(a x) cos(b x) or sin(b x): a, b, and the polynomials before the two waves.
    fn wave(
        &self,
        term: &surface::Term<'_>,
    ) -> Option<(Rational, Rational, Univariate, Univariate)> {
        let (mut rate, mut frequency) = (Rational::ZERO, Rational::ZERO);
        let mut is_sine = false;
        let mut power = 0_usize;
        let slope = |e: &Expression| {
            let polynomial = views::univariate(&normal(e).ok()?, &self.x)?;
            (polynomial.degree() == 1 && polynomial.coefficient(0).is_zero())
                .then(|| polynomial.coefficient(1))
        };
        for factor in &term.factors {
            match (factor.base, &factor.exponent) {
                (Base::E, Exponent::Symbolic { exponent, negated }) => {
                    let slope = slope(exponent)?;
                    rate = if *negated { rate - slope } else { rate + slope };
                }
                (Base::Part(part), Exponent::Number(exponent)) => {
                    if part.as_symbol() == Some(&self.x) {
                        power += usize::try_from(exponent.as_i64()?)
                            .ok()
                            .filter(|p| *p <= 6)?;
                        continue;
                    }
                    match (part.operator(), part.operands()) {
                        (Operator::Function(f @ (Function::Sin | Function::Cos)), [argument])
                            if exponent.is_one() && frequency.is_zero() =>
                        {
                            frequency = slope(argument)?;
                            is_sine = *f == Function::Sin;
                        }
                        _ => return None,
                    }
                }
                _ => return None,
            }
        }
        let mut values = vec![Rational::ZERO; power];
        values.push(term.coefficient.clone());
        let values = Univariate::new(values);
        let zero = Univariate::new(Vec::new());
        Some(match is_sine {
            true => (rate, frequency, zero, values),
            false => (rate, frequency, values, zero),
        })
    }
}

/// The polynomials P and Q with L(e^(a x)(P cos b x + Q sin b x)) = e^(a x)(R cos b x + S sin b x).
fn trial(
    equation: &Univariate,
    rate: &Rational,
    frequency: &Rational,
    right_cosine: &Univariate,
    right_sine: &Univariate,
) -> Option<(Univariate, Univariate)> {
    let degree = right_cosine.degree().max(right_sine.degree());
    let is_wave = !frequency.is_zero();
    // L acts on the pair (P, Q).
    let step = |(p, q): &(Univariate, Univariate)| {
        (
            p.derivative().add(&p.scale(rate)).add(&q.scale(frequency)),
            q.derivative()
                .add(&q.scale(rate))
                .subtract(&p.scale(frequency)),
        )
    };
    let act = |pair: (Univariate, Univariate)| {
        let mut sum = (Univariate::new(Vec::new()), Univariate::new(Vec::new()));
        let mut power = pair;
        for coefficient in equation.coefficients() {
            sum = (
                sum.0.add(&power.0.scale(coefficient)),
                sum.1.add(&power.1.scale(coefficient)),
            );
            power = step(&power);
        }
        sum
    };
    for shift in 0..=2_usize {
        let mut columns = Vec::new();
        let mut places = Vec::new();
        for power in shift..=degree + shift {
            let mut values = vec![Rational::ZERO; power];
            values.push(Rational::ONE);
            let monomial = Univariate::new(values);
            let zero = Univariate::new(Vec::new());
            columns.push(act((monomial.clone(), zero.clone())));
            places.push((power, false));
            if is_wave {
                columns.push(act((zero, monomial)));
                places.push((power, true));
            }
        }
        let count = columns.len();
        let rows = (0..=degree + shift).flat_map(|d| {
            let cosine = columns.iter().map(|c| c.0.coefficient(d));
            let sine = columns.iter().map(|c| c.1.coefficient(d));
            [
                cosine
                    .chain([right_cosine.coefficient(d)])
                    .collect::<Vec<_>>(),
                sine.chain([right_sine.coefficient(d)]).collect(),
            ]
        });
        let (reduced, pivots) = Matrix::new(rows.collect())?.reduced();
        if pivots.len() != count || pivots.last() == Some(&count) {
            continue;
        }
        let (mut p, mut q) = (
            vec![Rational::ZERO; degree + shift + 1],
            vec![Rational::ZERO; degree + shift + 1],
        );
        for (row, (power, is_sine)) in places.iter().enumerate() {
            let target = if *is_sine { &mut q } else { &mut p };
            target[*power] = reduced.rows()[row][count].clone();
        }
        return Some((Univariate::new(p), Univariate::new(q)));
    }
    None
}

/// e^(k x), with a fraction for k below: e^(x/2).
fn rate_of(rate: &Rational, x: &Expression) -> Expression {
    let above = write::multiple(&rate.numerator().abs(), x.clone());
    let size = match rate.is_integer() {
        true => above,
        false => Expression::fraction(above, write::number(&rate.denominator())),
    };
    let exponent = match rate.is_negative() {
        true => Expression::negative(size),
        false => size,
    };
    Expression::power(Expression::constant(Constant::E), exponent)
}

/// e to a sum, with logarithms undone: e^(k ln|u| + v) = u^k e^v.
fn exponential(exponent: &Expression) -> Expression {
    let mut factors = Vec::new();
    let mut rest = Vec::new();
    for term in surface::terms(exponent) {
        if let [factor] = term.factors.as_slice()
            && let (Base::Part(part), Exponent::Number(one)) = (factor.base, &factor.exponent)
            && one.is_one()
            && let (Operator::Function(Function::Ln), [argument]) =
                (part.operator(), part.operands())
        {
            let argument = match (argument.operator(), argument.operands()) {
                (Operator::Function(Function::Abs), [inner]) => inner.clone(),
                _ => argument.clone(),
            };
            factors.push(match term.coefficient.as_fraction() {
                Some((1, 1)) => argument,
                Some((-1, 1)) => Expression::fraction(write::integer(1), argument),
                Some((n @ ..=-1, 1)) => {
                    Expression::fraction(write::integer(1), write::power(argument, -n))
                }
                _ => Expression::power(argument, write::number(&term.coefficient)),
            });
        } else {
            rest.push(term.to_expression());
        }
    }
    let rest = write::sum(rest);
    if rest.as_i64() != Some(0) {
        factors.push(Expression::power(Expression::constant(Constant::E), rest));
    }
    match factors.len() {
        1 => factors.remove(0),
        _ => tidy(&Expression::product(factors)),
    }
}

/// A constant and a solution, over the solution's denominator if it has one.
fn times(constant: Expression, solution: &Expression) -> Expression {
    match (solution.operator(), solution.operands()) {
        (Operator::Fraction, [one, below]) if one.as_i64() == Some(1) => {
            Expression::fraction(constant, below.clone())
        }
        _ => write::product([constant, solution.clone()]),
    }
}

/// What two solutions share, and what is left of each: e^(a x) of a double root or of a wave.
fn common(u: &Expression, v: &Expression) -> Option<(Expression, Expression, Expression)> {
    let is_shared = |e: &Expression| match (e.operator(), e.operands()) {
        (Operator::Power, [_, exponent]) => exponent.as_i64().is_none() || e == u,
        (Operator::Symbol(_) | Operator::Fraction, _) => true,
        _ => false,
    };
    let factors = |e: &Expression| match e.operator() {
        Operator::Product => e.operands().to_vec(),
        _ => vec![e.clone()],
    };
    let (us, vs) = (factors(u), factors(v));
    let shared = us.iter().find(|f| is_shared(f) && vs.contains(f))?.clone();
    let left = |all: &[Expression]| {
        let mut all = all.to_vec();
        if let Some(place) = all.iter().position(|f| *f == shared) {
            all.remove(place);
        }
        write::product(all)
    };
    Some((shared.clone(), left(&us), left(&vs)))
}

/// 1 over a sum, without fractions in the sum.
fn tidy_fraction(fraction: &Expression) -> Expression {
    let [above, below] = fraction.operands() else {
        return fraction.clone();
    };
    let mut scale = Rational::ONE;
    for term in surface::terms(below) {
        let denominator = term.coefficient.denominator();
        if let (Some(a), Some(b)) = (scale.as_i64(), denominator.as_i64()) {
            scale = Rational::integer(num_integer::lcm(a, b));
        }
    }
    if below.mentions(&Symbol::new("C")) {
        // The constant takes any factor in.
        return fraction.clone();
    }
    let terms: Vec<Expression> = surface::terms(below)
        .iter()
        .map(|term| {
            let mut term = term.clone();
            term.coefficient = &term.coefficient * &scale;
            term.to_expression()
        })
        .collect();
    Expression::fraction(write::multiple(&scale, above.clone()), write::sum(terms))
}
