//! What solves an equation in one unknown?
//!
//! Solutions are found by the methods of a first course: collecting, factoring, the quadratic
//! formula, naming a repeated part, squaring a root, splitting an absolute value, merging
//! logarithms, comparing exponents. Each is then put into the equation as it was given, so that
//! extraneous ones are dropped.

use super::polynomials::{self, Root};
use super::trigonometry::{self, Angles};
use super::{Key, words, write};
use crate::evaluate::{Point, real_value, truth, value};
use crate::expression::{Constant, Expression, Function, Operator, Relation, Symbol};
use crate::normal_form::{Normal, Polynomial, normal};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::views;

/// What solves an equation.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Solution {
    /// A number.
    Number(Expression),
    /// An angle and those that differ by a whole multiple of a period.
    Angles(Angles),
}

/// Equations are taken apart at most so often.
const MAX_DEPTH: u32 = 8;

pub(super) fn solve(problem: &Problem, main: &Expression) -> Result<Vec<Key>, String> {
    let [variable] = problem.variables.as_slice() else {
        return Err("there is not one unknown".into());
    };
    let main = super::matrices::expanded(main);
    let (left, right) = main.as_equation().ok_or("it is no equation")?;
    let difference = Expression::difference(left.clone(), right.clone());
    let others = main.free_symbols().len() > 1;
    if others {
        return literal(&difference, variable);
    }
    let is_real = problem.conditions.iter().any(|c| {
        matches!(c.as_relation(), Some((_, Relation::In, right))
            if right.as_constant() == Some(Constant::Reals))
    });
    if normal(&difference).is_ok_and(|d| d.is_zero()) {
        return words("all real numbers");
    }
    let (found, complex) = zeros(&difference, variable)?;
    key(
        problem,
        variable,
        found,
        if is_real { Vec::new() } else { complex },
    )
}

/// A formula for a letter among others, where it occurs linearly.
fn literal(difference: &Expression, variable: &Symbol) -> Result<Vec<Key>, String> {
    let number = normal(difference).map_err(|_| "it cannot be collected")?;
    let number = Normal::whole(number.numerator().clone());
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let (slope, rest) = views::linear_in(&number, &name)
        .filter(|(slope, _)| !slope.is_zero())
        .ok_or("the letter that is wanted does not occur linearly")?;
    let solution = rest
        .negate()
        .divide(&slope)
        .map_err(|_| "it cannot be divided")?;
    super::formula(Expression::equation(name, write::normal(&solution)))
}

/// The list of solutions, those outside the domain left out.
fn key(
    problem: &Problem,
    variable: &Symbol,
    found: Vec<Solution>,
    complex: Vec<Expression>,
) -> Result<Vec<Key>, String> {
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let listed = |values: Vec<Expression>| {
        let items = values
            .into_iter()
            .map(|root| Expression::equation(name.clone(), root));
        Key::Formula(write::list(items.collect()))
    };
    let mut numbers: Vec<Expression> = Vec::new();
    let mut angles: Vec<Angles> = Vec::new();
    for solution in found {
        match solution {
            Solution::Number(number) if !numbers.contains(&number) => numbers.push(number),
            Solution::Number(_) => {}
            Solution::Angles(family) => angles.push(family),
        }
    }
    if !angles.is_empty() {
        if !numbers.is_empty() {
            return Err("angles and numbers are mixed".into());
        }
        let angles = trigonometry::merged(angles);
        return match trigonometry::domain(problem)? {
            Some(domain) => {
                let values = trigonometry::within(&angles, &domain)?;
                match values.is_empty() {
                    true => words("no solution"),
                    false => Ok(vec![listed(values)]),
                }
            }
            None => Ok(vec![listed(
                angles.iter().map(Angles::to_expression).collect(),
            )]),
        };
    }
    let mut values: Vec<(f64, Expression)> = Vec::new();
    for number in numbers {
        let at = real_value(&number, &Point::new()).map_err(|_| "a root has no value")?;
        let point = Point::new().with(variable.clone(), at);
        let holds = |condition: &Expression| truth(condition, &point).unwrap_or(true);
        let restricts = |condition: &&Expression| condition.mentions(variable);
        if problem.conditions.iter().filter(restricts).all(holds) {
            values.push((at, number));
        }
    }
    values.sort_by(|a, b| a.0.total_cmp(&b.0));
    let values: Vec<Expression> = values.into_iter().map(|(_, number)| number).collect();
    match (values.is_empty(), complex.is_empty()) {
        (true, true) => words("no solution"),
        (true, false) => Ok(vec![listed(complex), Key::Words("no real solution")]),
        (false, true) => Ok(vec![listed(values)]),
        (false, false) => {
            let all = values.iter().cloned().chain(complex).collect();
            Ok(vec![listed(all), listed(values)])
        }
    }
}

/// Where an expression in one letter is 0: the real solutions, and the complex roots of a
/// polynomial.
pub(super) fn zeros(
    expression: &Expression,
    variable: &Symbol,
) -> Result<(Vec<Solution>, Vec<Expression>), String> {
    let mut complex = Vec::new();
    let number = normal(expression).map_err(|_| "it cannot be collected")?;
    if let Some(polynomial) = views::univariate(&number, variable)
        && let Some(roots) = polynomials::roots(&polynomial)
    {
        let roots = roots.iter().filter(|root| !root.is_real());
        complex = roots.map(Root::to_expression).collect();
    }
    let candidates = of_zero(expression, variable, MAX_DEPTH)?;
    let solutions = candidates.into_iter().filter(|solution| match solution {
        Solution::Number(number) => is_root(expression, variable, number),
        Solution::Angles(angles) => {
            // A whole period of the equation is tried.
            angles
                .first(12)
                .iter()
                .all(|angle| is_root(expression, variable, angle))
        }
    });
    Ok((solutions.collect(), complex))
}

/// Whether one of the numbers that the method gives does not solve the equation as it was given.
pub(super) fn extraneous(problem: &Problem, main: &Expression) -> Vec<i8> {
    let (Some((left, right)), [variable]) = (main.as_equation(), problem.variables.as_slice())
    else {
        return Vec::new();
    };
    if main.free_symbols().len() > 1 {
        return Vec::new();
    }
    let difference = Expression::difference(left.clone(), right.clone());
    let Ok(candidates) = of_zero(&difference, variable, MAX_DEPTH) else {
        return Vec::new();
    };
    let is_extraneous = |solution: &Solution| match solution {
        Solution::Number(number) => !is_root(&difference, variable, number),
        Solution::Angles(_) => false,
    };
    vec![i8::from(candidates.iter().any(is_extraneous))]
}

/// The expression has a real value there, and it is 0.
fn is_root(expression: &Expression, variable: &Symbol, root: &Expression) -> bool {
    let Ok(at) = value(root, &Point::new()) else {
        return false;
    };
    let point = Point::new().with(variable.clone(), at);
    is_defined(expression, &point)
        && value(expression, &point).is_ok_and(|found| found.abs() < 1e-7 * (1.0 + at.abs()))
}

/// Logarithms have positive arguments and even roots none below 0.
fn is_defined(expression: &Expression, point: &Point) -> bool {
    expression.parts().all(|part| {
        let Some(argument) = part.operands().first() else {
            return true;
        };
        match part.operator() {
            Operator::Function(Function::Ln | Function::Log | Function::LogBase) => {
                real_value(argument, point).is_ok_and(|value| value > 1e-9)
            }
            Operator::Root => real_value(argument, point).is_ok_and(|value| value > -1e-9),
            _ => true,
        }
    })
}

fn number(value: Expression) -> Solution {
    Solution::Number(value)
}

/// Candidates for zeros; some may be extraneous.
fn of_zero(
    expression: &Expression,
    variable: &Symbol,
    depth: u32,
) -> Result<Vec<Solution>, String> {
    if depth == 0 {
        return Err("it takes too many steps".into());
    }
    if let Some(expression) = without_absolute_value(expression, variable) {
        let mut found = Vec::new();
        for case in expression {
            found.extend(of_zero(&case, variable, depth - 1)?);
        }
        return Ok(found);
    }
    if let Some(merged) = merged_logarithms(expression, variable) {
        return of_zero(&merged, variable, depth - 1);
    }
    let number_form = normal(expression).map_err(|_| "it cannot be collected")?;
    let numerator = number_form.numerator().clone();
    if numerator.is_zero() {
        return Err("every number solves it".into());
    }
    if !views::depends_on(&Normal::whole(numerator.clone()), variable) {
        return Ok(Vec::new());
    }
    let mut found = Vec::new();
    // Common factors first.
    let common = numerator.common_monomial();
    let (factors, _) = common.split(|kernel| kernel.mentions(variable));
    let rest = numerator
        .divide_exactly(&Polynomial::term(common.clone(), Rational::ONE))
        .ok_or("it cannot be divided")?;
    for (kernel, exponent) in factors.powers() {
        let is_exponential = matches!(kernel.operator(), Operator::Power);
        if exponent.is_positive() && !is_exponential {
            found.extend(inverse(
                kernel,
                &Rational::ONE,
                &Rational::ZERO.into(),
                variable,
                depth,
            )?);
        }
    }
    if !views::depends_on(&Normal::whole(rest.clone()), variable) {
        return Ok(found);
    }
    found.extend(of_polynomial(&rest, variable, depth)?);
    Ok(found)
}

/// A number that a kernel is to equal.
struct Value {
    rational: Option<Rational>,
    expression: Expression,
}

impl From<Rational> for Value {
    fn from(rational: Rational) -> Self {
        Self {
            expression: write::number(&rational),
            rational: Some(rational),
        }
    }
}

impl From<&Root> for Value {
    fn from(root: &Root) -> Self {
        Self {
            rational: root.as_rational().cloned(),
            expression: root.to_expression(),
        }
    }
}

impl Value {
    fn sign(&self) -> f64 {
        real_value(&self.expression, &Point::new()).unwrap_or(f64::NAN)
    }
}

fn of_polynomial(
    polynomial: &Polynomial,
    variable: &Symbol,
    depth: u32,
) -> Result<Vec<Solution>, String> {
    if let Some((kernel, unit, values)) = polynomial.as_univariate() {
        if kernel.as_symbol() == Some(variable) && unit.is_one() {
            if let Some(roots) = polynomials::roots(&values) {
                let real = roots.iter().filter(|root| root.is_real());
                return Ok(real.map(|root| number(root.to_expression())).collect());
            }
            return in_a_power(&values).ok_or_else(|| "the roots cannot be written exactly".into());
        }
        if let (Operator::Power, Some(value), degree) =
            (kernel.operator(), two_terms(&values), values.degree())
        {
            let unit = &unit * &Rational::integer(degree as i64);
            return inverse(&kernel, &unit, &value.into(), variable, depth);
        }
        let roots = polynomials::roots(&values).ok_or("the roots cannot be written exactly")?;
        let mut found = Vec::new();
        for root in roots.iter().filter(|root| root.is_real()) {
            found.extend(inverse(&kernel, &unit, &root.into(), variable, depth)?);
        }
        return Ok(found);
    }
    let whole = Normal::whole(polynomial.clone());
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    if let Some((slope, rest)) = views::linear_in(&whole, &name)
        && !slope.is_zero()
    {
        let solution = rest
            .negate()
            .divide(&slope)
            .map_err(|_| "it cannot be divided")?;
        return Ok(vec![number(write::normal(&solution))]);
    }
    if let Some(found) = one_kernel(&whole, variable, depth) {
        return found;
    }
    let expression = whole.to_expression();
    if let Some(simpler) = trigonometry::one_function(&expression, variable) {
        return of_zero(&simpler, variable, depth - 1);
    }
    if let Some(found) = equal_powers(polynomial, variable)? {
        return Ok(found);
    }
    without_root(&expression, variable)
        .ok_or_else(|| "no method of a first course solves it".into())
        .and_then(|simpler| of_zero(&simpler, variable, depth - 1))
}

/// The value of the highest power, where nothing but a number stands beside it.
fn two_terms(values: &crate::univariate::Univariate) -> Option<Rational> {
    let is_plain = (1..values.degree()).all(|degree| values.coefficient(degree).is_zero());
    match is_plain && values.degree() > 1 {
        true => (-values.coefficient(0)).checked_div(&values.leading()),
        false => None,
    }
}

/// The real zeros of a polynomial in x^3 or x^5.
fn in_a_power(values: &crate::univariate::Univariate) -> Option<Vec<Solution>> {
    let degrees = values.coefficients().iter().enumerate();
    let degrees = degrees.filter(|(_, c)| !c.is_zero()).map(|(d, _)| d);
    let power = degrees.fold(0, num_integer::gcd);
    if power < 3 || power.is_multiple_of(2) {
        return None;
    }
    let inner = values.coefficients().iter().step_by(power).cloned();
    let roots = polynomials::roots(&crate::univariate::Univariate::new(inner.collect()))?;
    let mut found = Vec::new();
    for root in roots.iter().filter(|root| root.is_real()) {
        let root = root.as_rational()?;
        let sign = Rational::integer(i64::from(root.signum()));
        let size = match root.abs().root(u32::try_from(power).ok()?) {
            Some(size) => write::number(&size),
            None => Expression::new(
                Operator::NthRoot,
                [write::number(&root.abs()), write::integer(power as i64)],
            ),
        };
        found.push(number(write::multiple(&sign, size)));
    }
    Some(found)
}

/// A kernel that occurs linearly beside numbers such as √3.
fn one_kernel(
    whole: &Normal,
    variable: &Symbol,
    depth: u32,
) -> Option<Result<Vec<Solution>, String>> {
    let terms = views::coefficients(whole, |kernel| kernel.mentions(variable))?;
    let mut kernel = None;
    let (mut slope, mut rest) = (None, Normal::constant(Rational::ZERO));
    for (monomial, coefficient) in terms {
        match monomial.powers() {
            [] => rest = coefficient,
            [(found, exponent)] if exponent.is_one() && kernel.is_none() => {
                kernel = Some(found.clone());
                slope = Some(coefficient);
            }
            _ => return None,
        }
    }
    let value = rest.negate().divide(&slope?).ok()?;
    let value = Value {
        rational: value.as_constant(),
        expression: write::normal(&value),
    };
    Some(inverse(&kernel?, &Rational::ONE, &value, variable, depth))
}

/// Where a kernel to a power equals a number.
fn inverse(
    kernel: &Expression,
    unit: &Rational,
    value: &Value,
    variable: &Symbol,
    depth: u32,
) -> Result<Vec<Solution>, String> {
    let again = |left: &Expression, right: Expression| {
        of_zero(
            &Expression::difference(left.clone(), right),
            variable,
            depth - 1,
        )
    };
    let sign = value.sign();
    match (kernel.operator(), kernel.operands()) {
        (Operator::Power, [base, exponent]) => {
            // base^(unit exponent) = value
            if sign <= 0.0 {
                return Ok(Vec::new());
            }
            let logarithm = logarithm(base, value).ok_or("the base is no number")?;
            again(&write::multiple(unit, exponent.clone()), logarithm)
        }
        (Operator::Constant(Constant::E), _) => Err("the base is no letter".into()),
        _ if !unit.is_one() => {
            let (n, d) = unit.as_fraction().ok_or("an exponent is too large")?;
            if d % 2 == 0 && sign < 0.0 {
                return Ok(Vec::new());
            }
            let raised = write::power(value.expression.clone(), d);
            again(&write::power(kernel.clone(), n), write::collected(&raised))
        }
        (Operator::Symbol(_), _) => Ok(vec![number(value.expression.clone())]),
        (Operator::Function(Function::Ln), [argument]) => again(
            argument,
            power_of(&Expression::constant(Constant::E), value),
        ),
        (Operator::Function(Function::Log), [argument]) => {
            again(argument, power_of(&write::integer(10), value))
        }
        (Operator::Function(Function::LogBase), [argument, base]) => {
            again(argument, power_of(base, value))
        }
        (Operator::Function(Function::Abs), [argument]) => match sign {
            _ if sign < 0.0 => Ok(Vec::new()),
            _ => {
                let mut found = again(argument, value.expression.clone())?;
                found.extend(again(
                    argument,
                    Expression::negative(value.expression.clone()),
                )?);
                Ok(found)
            }
        },
        (Operator::Function(function), [argument]) => {
            let rational = value.rational.as_ref();
            trigonometry::inverse(*function, argument, rational, &value.expression, variable)
                .map(|found| found.into_iter().map(Solution::Angles).collect())
        }
        (Operator::Sum, _) => again(kernel, value.expression.clone()),
        _ => Err("a part of it cannot be undone".into()),
    }
}

/// b^v.
fn power_of(base: &Expression, value: &Value) -> Expression {
    let power = Expression::power(base.clone(), value.expression.clone());
    match &value.rational {
        Some(exponent) if exponent.is_zero() => write::integer(1),
        Some(exponent) if exponent.is_one() => base.clone(),
        _ => write::collected(&power),
    }
}

/// The exponent that makes a power of the base equal to a positive value.
fn logarithm(base: &Expression, value: &Value) -> Option<Expression> {
    let ln = |of: &Expression| Expression::function(Function::Ln, of.clone());
    if let Some(one) = &value.rational
        && one.is_one()
    {
        return Some(write::integer(0));
    }
    if base.as_constant() == Some(Constant::E) {
        return Some(ln(&value.expression));
    }
    let rational = crate::surface::number(base)?;
    if let Some(value) = &value.rational
        && let Some(exponent) = exponent_of(value, &rational)
    {
        return Some(write::number(&exponent));
    }
    Some(Expression::fraction(ln(&value.expression), ln(base)))
}

/// The rational exponent with small numbers that makes one number a power of another.
fn exponent_of(value: &Rational, base: &Rational) -> Option<Rational> {
    for denominator in 1..=6_i64 {
        for numerator in -12..=12_i64 {
            if value.pow(denominator)? == base.pow(numerator)? {
                return Some(Rational::fraction(numerator, denominator));
            }
        }
    }
    None
}

/// The cases of the first absolute value that contains the letter.
fn without_absolute_value(expression: &Expression, variable: &Symbol) -> Option<[Expression; 2]> {
    let absolute = expression.parts().find(|part| {
        matches!(part.operator(), Operator::Function(Function::Abs)) && part.mentions(variable)
    })?;
    let inner = absolute.operands().first()?;
    Some([
        replaced(expression, absolute, inner),
        replaced(expression, absolute, &Expression::negative(inner.clone())),
    ])
}

/// The expression with every occurrence of a part replaced.
pub(super) fn replaced(expression: &Expression, part: &Expression, by: &Expression) -> Expression {
    match expression == part {
        true => by.clone(),
        false => expression.map_operands(|operand| replaced(operand, part, by)),
    }
}

/// A root of the letter on one side, and both sides squared; none if there is no such root.
fn without_root(expression: &Expression, variable: &Symbol) -> Option<Expression> {
    let root = expression
        .parts()
        .find(|part| matches!(part.operator(), Operator::Root) && part.mentions(variable))?;
    let radicand = root.operands().first()?;
    let name = Expression::symbol("root");
    let named = normal(&replaced(expression, root, &name)).ok()?;
    let named = Normal::whole(named.numerator().clone());
    let (slope, rest) = views::linear_in(&named, &name)?;
    let square = |number: &Normal| number.pow(&Rational::integer(2)).ok();
    let radicand = normal(radicand).ok()?;
    let left = square(&slope)?.multiply(&radicand).ok()?;
    Some(left.subtract(&square(&rest)?).ok()?.to_expression())
}

/// a^u = c b^v by logarithms of both sides.
fn equal_powers(
    polynomial: &Polynomial,
    variable: &Symbol,
) -> Result<Option<Vec<Solution>>, String> {
    let [(first, a), (second, b)] = polynomial.terms() else {
        return Ok(None);
    };
    if a.is_negative() == b.is_negative() {
        return Ok(None);
    }
    let ln = |of: Expression| Expression::function(Function::Ln, of);
    let mut terms = Vec::new();
    for (monomial, coefficient, sign) in [(first, a, 1), (second, b, -1)] {
        if !coefficient.abs().is_one() {
            terms.push(write::multiple(
                &Rational::integer(sign),
                ln(write::number(&coefficient.abs())),
            ));
        }
        for (kernel, exponent) in monomial.powers() {
            let factor = exponent * &Rational::integer(sign);
            match (kernel.operator(), kernel.operands()) {
                (Operator::Power, [base, inner]) if !base.mentions(variable) => {
                    let logarithm = match base.as_constant() {
                        Some(Constant::E) => write::integer(1),
                        _ => ln(base.clone()),
                    };
                    terms.push(write::multiple(
                        &factor,
                        write::product([inner.clone(), logarithm]),
                    ));
                }
                _ if !kernel.mentions(variable) => {
                    terms.push(write::multiple(&factor, ln(kernel.clone())));
                }
                _ => return Ok(None),
            }
        }
    }
    let difference = normal(&write::sum(terms)).map_err(|_| "it cannot be collected")?;
    if let Some(polynomial) = views::univariate(&difference, variable)
        && polynomial.degree() == 2
        && let Some(roots) = polynomials::roots(&polynomial)
    {
        let real = roots.iter().filter(|root| root.is_real());
        return Ok(Some(
            real.map(|root| number(root.to_expression())).collect(),
        ));
    }
    let name = Expression::new(Operator::Symbol(variable.clone()), []);
    let Some((slope, rest)) = views::linear_in(&difference, &name) else {
        return Ok(None);
    };
    let solution = rest
        .negate()
        .divide(&slope)
        .map_err(|_| "it cannot be divided")?;
    Ok(Some(vec![number(write::normal(&solution))]))
}

/// Logarithms of one base with whole coefficients, merged and undone; none if there are not at
/// least two of them.
fn merged_logarithms(expression: &Expression, variable: &Symbol) -> Option<Expression> {
    let mut base: Option<Expression> = None;
    let mut constant = Vec::new();
    let (mut above, mut below) = (Vec::new(), Vec::new());
    let mut count = 0;
    for term in crate::surface::terms(expression) {
        let expression = term.to_expression();
        if !expression.mentions(variable) {
            constant.push(expression);
            continue;
        }
        let [factor] = term.factors.as_slice() else {
            return None;
        };
        // The square of a logarithm is no logarithm.
        if !matches!(&factor.exponent, crate::surface::Exponent::Number(e) if e.is_one()) {
            return None;
        }
        let part = factor.base.part()?;
        let (argument, of) = match (part.operator(), part.operands()) {
            (Operator::Function(Function::Ln), [argument]) => {
                (argument, Expression::constant(Constant::E))
            }
            (Operator::Function(Function::Log), [argument]) => (argument, write::integer(10)),
            (Operator::Function(Function::LogBase), [argument, base]) => (argument, base.clone()),
            _ => return None,
        };
        match &base {
            Some(known) if *known != of => return None,
            _ => base = Some(of),
        }
        let times = term.coefficient.as_i64().filter(|times| times.abs() <= 4)?;
        match times > 0 {
            true => above.push(write::power(argument.clone(), times)),
            false => below.push(write::power(argument.clone(), -times)),
        }
        count += 1;
    }
    if count < 2 {
        return None;
    }
    let base = base?;
    let constant = write::sum(constant);
    let exponent = match (constant.operator(), constant.operands()) {
        // log_b of numbers among the constants: b to it is that number.
        (Operator::Negative, [operand]) => operand.clone(),
        _ => write::multiple(&Rational::integer(-1), constant),
    };
    let right = match (exponent.operator(), exponent.operands()) {
        (Operator::Function(Function::Ln | Function::Log | Function::LogBase), [argument, ..]) => {
            argument.clone()
        }
        _ => {
            let value = Value {
                rational: crate::surface::number(&exponent),
                expression: exponent,
            };
            power_of(&base, &value)
        }
    };
    Some(Expression::difference(
        write::product(above),
        write::product(std::iter::once(right).chain(below)),
    ))
}
