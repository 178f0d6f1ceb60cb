//! Which laws of algebra lead from one form of a problem to another?
//!
//! A *law* rewrites a formula; a *method* solves it. "Take the logarithm of both sides" is a law,
//! "undo the logarithm" a method: were it a law, every logarithmic problem would be a quadratic.
//! Each law has a direction; some change the domain on which the formula is defined, and a
//! solution must then be tried in the problem as written.

use crate::expression::{Constant, Expression, Function, Operator, Relation, Symbol};
use crate::normal_form::{Normal, Polynomial, Steps, normal, normal_with_steps};
use crate::problem::Problem;
use crate::rational::Rational;
use crate::surface::{self, Base, Exponent};
use crate::views;

/// A named rewriting.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Law {
    /// Multiply out brackets.
    Expand,
    /// Bring fractions to a common denominator.
    CommonDenominator,
    /// Reduce a fraction.
    Cancel,
    /// Merge powers of one base.
    PowerLaws,
    /// Replace a function or root of numbers by its value.
    KnownValue,
    /// Take a numeric factor out of an integral, a limit or a sum.
    ConstantFactor,
    /// Take out a common factor, or write a sum as a product.
    FactorOut,
    /// Divide by the coefficient of the highest term.
    DivideByCoefficient,
    /// Multiply both sides by a denominator.
    ClearDenominators,
    /// Factor polynomials.
    Factor,
    /// Complete a square.
    CompleteSquare,
    /// ln u + ln v = ln uv, c ln u = ln u^c.
    MergeLogarithms,
    /// ln uv = ln u + ln v, ln u^c = c ln u.
    SplitLogarithms,
    /// log_a u = ln u / ln a.
    ChangeOfBase,
    /// Take the logarithm of both sides.
    TakeLogarithms,
    /// sin²u = 1 − cos²u.
    SineSquared,
    /// cos²u = 1 − sin²u.
    CosineSquared,
    /// sin²u + cos²u = 1.
    PythagoreanSum,
    /// sec²u = 1 + tan²u, and the like.
    SecantSquared,
    /// tan²u = sec²u − 1, and the like.
    TangentSquared,
    /// sin 2u = 2 sin u cos u.
    DoubleAngleSine,
    /// cos 2u = 1 − 2 sin²u.
    DoubleAngleToSine,
    /// cos 2u = 2 cos²u − 1.
    DoubleAngleToCosine,
    /// cos²u − sin²u = cos 2u, 2 sin u cos u = sin 2u.
    MergeDoubleAngle,
    /// sin²u = (1 − cos 2u)/2, cos²u = (1 + cos 2u)/2.
    HalfAngle,
    /// sin³u = (1 − cos²u) sin u, and other odd powers.
    OddPower,
    /// tan u = sin u / cos u, and the other quotients.
    Quotients,
    /// sin u cos v = (sin(u + v) + sin(u − v))/2, and the like.
    ProductToSum,
    /// An equation without y is one of lower order in v = y'.
    LowerOrder,
    /// M dx + N dy = 0 as y' = −M/N.
    Differentials,
    /// The eigenvalues of A are the roots of det(A − λI).
    CharacteristicEquation,
    /// sinh u = (e^u − e^(−u))/2, and the like.
    HyperbolicDefinition,
    /// Absolute convergence is the convergence of the series of absolute values.
    AbsoluteTerms,
}

impl Law {
    /// What the law says.
    pub fn statement(self) -> &'static str {
        match self {
            Law::Expand => "multiply out the brackets",
            Law::CommonDenominator => "bring the fractions to a common denominator",
            Law::Cancel => "reduce the fraction",
            Law::PowerLaws => "merge powers of one base",
            Law::KnownValue => "replace a function of numbers by its value",
            Law::ConstantFactor => "take the numeric factor out",
            Law::FactorOut => "take out a common factor",
            Law::DivideByCoefficient => "divide by the coefficient of the highest term",
            Law::ClearDenominators => "multiply both sides by the denominator",
            Law::Factor => "factor the polynomial",
            Law::CompleteSquare => "complete the square",
            Law::MergeLogarithms => "ln u + ln v = ln uv",
            Law::SplitLogarithms => "ln uv = ln u + ln v",
            Law::ChangeOfBase => "log_a u = ln u / ln a",
            Law::TakeLogarithms => "take the logarithm of both sides",
            Law::SineSquared => "sin²u = 1 − cos²u",
            Law::CosineSquared => "cos²u = 1 − sin²u",
            Law::PythagoreanSum => "sin²u + cos²u = 1",
            Law::SecantSquared => "sec²u = 1 + tan²u",
            Law::TangentSquared => "tan²u = sec²u − 1",
            Law::DoubleAngleSine => "sin 2u = 2 sin u cos u",
            Law::DoubleAngleToSine => "cos 2u = 1 − 2 sin²u",
            Law::DoubleAngleToCosine => "cos 2u = 2 cos²u − 1",
            Law::MergeDoubleAngle => "cos²u − sin²u = cos 2u, 2 sin u cos u = sin 2u",
            Law::HalfAngle => "sin²u = (1 − cos 2u)/2, cos²u = (1 + cos 2u)/2",
            Law::OddPower => "sin³u = (1 − cos²u) sin u",
            Law::Quotients => "tan u = sin u / cos u",
            Law::ProductToSum => "sin u cos v = (sin(u + v) + sin(u − v))/2",
            Law::LowerOrder => "an equation without y has lower order in v = y'",
            Law::Differentials => "divide M dx + N dy = 0 by N dx",
            Law::CharacteristicEquation => "eigenvalues solve det(A − λI) = 0",
            Law::AbsoluteTerms => "absolute convergence is that of the absolute values",
            Law::HyperbolicDefinition => "sinh u = (e^u − e^(−u))/2",
        }
    }

    /// What is done by the law, as in "after clearing denominators".
    pub fn step(self) -> String {
        let step = match self {
            Law::Expand => "multiplying out",
            Law::CommonDenominator => "taking a common denominator",
            Law::Cancel => "reducing the fraction",
            Law::PowerLaws => "merging powers",
            Law::KnownValue => "working out a known value",
            Law::ConstantFactor => "taking the number out in front",
            Law::FactorOut => "taking out a common factor",
            Law::DivideByCoefficient => "dividing by the leading coefficient",
            Law::ClearDenominators => "clearing denominators",
            Law::Factor => "factoring",
            Law::CompleteSquare => "completing the square",
            Law::MergeLogarithms => "merging logarithms",
            Law::SplitLogarithms => "splitting the logarithm",
            Law::ChangeOfBase => "changing the base",
            Law::TakeLogarithms => "taking logarithms",
            Law::LowerOrder => "writing v for y'",
            Law::Differentials => "dividing by the differential",
            Law::CharacteristicEquation => "writing det(A − λI) = 0",
            Law::AbsoluteTerms => "taking absolute values",
            other => return format!("using {}", other.statement()),
        };
        step.to_owned()
    }

    /// How far the law leads from the formula as it is written: tidying up is light.
    pub(crate) fn weight(self) -> u32 {
        match self {
            Law::Expand
            | Law::CommonDenominator
            | Law::Cancel
            | Law::PowerLaws
            | Law::KnownValue
            | Law::ConstantFactor
            | Law::DivideByCoefficient
            | Law::Differentials => 1,
            Law::FactorOut => 2,
            _ => 3,
        }
    }

    /// A solution of the new form need not be one of the old, or the other way round: both must be
    /// tried where either is not defined.
    pub fn changes_domain(self) -> bool {
        matches!(
            self,
            Law::Cancel
                | Law::DivideByCoefficient
                | Law::ClearDenominators
                | Law::MergeLogarithms
                | Law::SplitLogarithms
                | Law::TakeLogarithms
                | Law::Quotients
                | Law::Differentials
        )
    }

    /// The laws that collecting used.
    pub(crate) fn of_steps(steps: Steps) -> impl Iterator<Item = Law> {
        [
            (Steps::EXPAND, Law::Expand),
            (Steps::COMMON_DENOMINATOR, Law::CommonDenominator),
            (Steps::CANCEL, Law::Cancel),
            (Steps::POWERS, Law::PowerLaws),
            (Steps::VALUES, Law::KnownValue),
        ]
        .into_iter()
        .filter(move |(step, _)| steps.contains(*step))
        .map(|(_, law)| law)
    }
}

/// Every formula that one law makes of this one.
pub(crate) fn successors(formula: &Expression, problem: &Problem) -> Vec<(Law, Expression)> {
    let mut found = Vec::new();
    let mut add = |law: Law, new: Option<Expression>| {
        if let Some(new) = new
            && new != *formula
            && new.size() <= MAX_SIZE
        {
            found.push((law, new));
        }
    };
    let is_equation = formula.as_equation().is_some();
    if matches!(formula.operator(), Operator::Derivative(_)) {
        // The rule goes by how the function is written; only logarithms are better split before.
        add(Law::SplitLogarithms, rewrite(formula, &split_logarithm));
        return found;
    }
    if matches!(formula.operator(), Operator::Integral(_)) {
        add(Law::Expand, expanded_integrand(formula));
    }
    let has_function = |test: fn(Function) -> bool| {
        formula.parts().any(|part| match part.operator() {
            Operator::Function(function) => test(*function),
            _ => false,
        })
    };
    let has_prime = formula
        .parts()
        .any(|part| matches!(part.operator(), Operator::Prime(_)));
    if has_function(is_logarithm) {
        add(Law::MergeLogarithms, merge_logarithms(formula));
        add(Law::SplitLogarithms, rewrite(formula, &split_logarithm));
        add(Law::ChangeOfBase, rewrite(formula, &change_base));
    }
    if has_function(is_trigonometric) {
        add(
            Law::SineSquared,
            rewrite_powers(formula, Function::Sin, Function::Cos),
        );
        add(
            Law::CosineSquared,
            rewrite_powers(formula, Function::Cos, Function::Sin),
        );
        add(Law::PythagoreanSum, rewrite(formula, &pythagorean_sum));
        add(Law::SecantSquared, rewrite(formula, &secant_squared));
        add(Law::TangentSquared, rewrite(formula, &tangent_squared));
        if is_equation {
            add(Law::DoubleAngleSine, rewrite(formula, &double_sine));
        }
        add(
            Law::DoubleAngleToSine,
            rewrite(formula, &|e| double_cosine(e, Function::Sin)),
        );
        add(
            Law::DoubleAngleToCosine,
            rewrite(formula, &|e| double_cosine(e, Function::Cos)),
        );
        add(Law::MergeDoubleAngle, rewrite(formula, &merge_double_angle));
        if !is_equation {
            add(Law::HalfAngle, rewrite(formula, &half_angle));
            add(Law::OddPower, rewrite(formula, &odd_power));
        }
        if !is_equation || has_several_waves(formula) {
            add(Law::Quotients, rewrite(formula, &quotients));
        }
        add(Law::ProductToSum, rewrite(formula, &product_to_sum));
    }
    if has_function(is_hyperbolic) {
        add(Law::HyperbolicDefinition, rewrite(formula, &hyperbolic));
    }
    if is_equation && !has_prime {
        add(Law::ClearDenominators, clear_denominators(formula, problem));
        add(Law::TakeLogarithms, take_logarithms(formula, problem));
    }
    if is_equation && has_prime {
        add(Law::LowerOrder, lower_order(formula, problem));
    }
    if is_equation {
        add(Law::Differentials, differentials(formula, problem));
    }
    if !has_prime {
        add(Law::Factor, rewrite(formula, &factor));
        let is_integral = matches!(formula.operator(), Operator::Integral(_));
        if is_integral {
            add(Law::CompleteSquare, rewrite(formula, &complete_square));
        }
    }
    if problem.instructions.contains("absolutely") {
        add(Law::AbsoluteTerms, absolute_terms(formula));
    }
    add(
        Law::CharacteristicEquation,
        characteristic_equation(formula, problem),
    );
    found
}

/// Formulas that grow beyond this are not followed.
const MAX_SIZE: usize = 400;

/// The expression with every part changed that the rule changes, the inner ones first; none if
/// there is none.
fn rewrite(
    expression: &Expression,
    rule: &dyn Fn(&Expression) -> Option<Expression>,
) -> Option<Expression> {
    fn go(expression: &Expression, rule: &dyn Fn(&Expression) -> Option<Expression>) -> Expression {
        let inner = expression.map_operands(|operand| go(operand, rule));
        rule(&inner).unwrap_or(inner)
    }
    let new = go(expression, rule);
    (!new.is_same(expression) && new != *expression).then_some(new)
}

fn integer(value: i64) -> Expression {
    Expression::integer(value)
}

fn number(value: &Rational) -> Expression {
    Expression::rational(&value.to_big())
}

fn square(base: Expression) -> Expression {
    Expression::power(base, integer(2))
}

fn call(function: Function, argument: &Expression) -> Expression {
    Expression::function(function, argument.clone())
}

fn is_logarithm(function: Function) -> bool {
    matches!(function, Function::Ln | Function::Log | Function::LogBase)
}

fn is_trigonometric(function: Function) -> bool {
    function as u32 <= Function::Csc as u32
}

fn is_hyperbolic(function: Function) -> bool {
    (Function::Sinh as u32..=Function::Csch as u32).contains(&(function as u32))
}

// -------------------------------------------------------------------------------------------
// Logarithms.

/// The function, its base, and its argument.
fn logarithm(expression: &Expression) -> Option<(Function, Option<&Expression>, &Expression)> {
    match (expression.operator(), expression.operands()) {
        (Operator::Function(f @ (Function::Ln | Function::Log)), [argument]) => {
            Some((*f, None, argument))
        }
        (Operator::Function(Function::LogBase), [argument, base]) => {
            Some((Function::LogBase, Some(base), argument))
        }
        _ => None,
    }
}

fn logarithm_of(like: &Expression, argument: Expression) -> Expression {
    match like.operands() {
        [_, base] => like.with_operands([argument, base.clone()]),
        _ => like.with_operands([argument]),
    }
}

/// Sums of logarithms of one base as one logarithm: in an equation those of both sides.
fn merge_logarithms(formula: &Expression) -> Option<Expression> {
    if let Some((left, right)) = formula.as_equation() {
        let mut terms = surface::terms(left);
        surface::collect_terms(right, true, &mut terms);
        let merged = match merge_terms(&terms) {
            Some(merged) => merged,
            // Logarithms in brackets.
            None => {
                let zero = Expression::difference(left.clone(), right.clone());
                let collected = normal(&zero).ok()?.to_expression();
                merge_terms(&surface::terms(&collected))?
            }
        };
        return Some(Expression::equation(merged, integer(0)));
    }
    rewrite(formula, &|part| match part.operator() {
        Operator::Sum => merge_terms(&surface::terms(part)),
        _ => None,
    })
}

fn merge_terms(terms: &[surface::Term<'_>]) -> Option<Expression> {
    let mut logarithms: Vec<(Rational, &Expression)> = Vec::new();
    let mut others: Vec<Expression> = Vec::new();
    for term in terms {
        if let [factor] = term.factors.as_slice()
            && let (Base::Part(part), Exponent::Number(exponent)) = (factor.base, &factor.exponent)
            && exponent.is_one()
            && logarithm(part).is_some()
        {
            logarithms.push((term.coefficient.clone(), part));
        } else if !term.coefficient.is_zero() {
            others.push(term.to_expression());
        }
    }
    let (_, first) = *logarithms.first()?;
    let (function, base, _) = logarithm(first)?;
    let (same, different): (Vec<_>, Vec<_>) = logarithms
        .into_iter()
        .partition(|(_, part)| logarithm(part).is_some_and(|(f, b, _)| f == function && b == base));
    let is_merged = same.len() == 1 && same[0].0.is_one();
    if is_merged {
        return None;
    }
    let (mut above, mut below) = (Vec::new(), Vec::new());
    for (coefficient, part) in same {
        let (_, _, argument) = logarithm(part)?;
        let size = coefficient.abs();
        let power = match size.is_one() {
            true => argument.clone(),
            false => Expression::power(argument.clone(), number(&size)),
        };
        match coefficient.is_negative() {
            true => below.push(power),
            false => above.push(power),
        }
    }
    let argument = match (above.is_empty(), below.is_empty()) {
        (_, true) => Expression::product(above),
        (true, _) => Expression::fraction(integer(1), Expression::product(below)),
        _ => Expression::fraction(Expression::product(above), Expression::product(below)),
    };
    let argument = match normal(&argument) {
        Ok(normal) => normal.to_expression(),
        Err(_) => argument,
    };
    let mut sum = vec![logarithm_of(first, argument)];
    sum.extend(others);
    for (coefficient, part) in different {
        sum.push(Expression::product([number(&coefficient), part.clone()]));
    }
    Some(Expression::sum(sum))
}

fn split_logarithm(part: &Expression) -> Option<Expression> {
    let (_, _, argument) = logarithm(part)?;
    let term = surface::factors(argument);
    let several = term.factors.len() + usize::from(!term.coefficient.is_one()) > 1;
    let has_power = term.factors.iter().any(|factor| match &factor.exponent {
        Exponent::Number(exponent) => !exponent.is_one(),
        Exponent::Symbolic { .. } => true,
    });
    if !several && !has_power {
        return None;
    }
    let mut sum = Vec::new();
    if !term.coefficient.is_one() {
        sum.push(logarithm_of(part, number(&term.coefficient)));
    }
    for factor in &term.factors {
        let base = match factor.base {
            Base::E => Expression::constant(Constant::E),
            Base::Part(part) => part.clone(),
        };
        let inner = logarithm_of(part, base);
        sum.push(match &factor.exponent {
            Exponent::Number(exponent) if exponent.is_one() => inner,
            Exponent::Number(exponent) => Expression::product([number(exponent), inner]),
            Exponent::Symbolic { exponent, negated } => {
                let exponent = match negated {
                    true => Expression::negative((*exponent).clone()),
                    false => (*exponent).clone(),
                };
                Expression::product([exponent, inner])
            }
        });
    }
    Some(Expression::sum(sum))
}

fn change_base(part: &Expression) -> Option<Expression> {
    match logarithm(part)? {
        (Function::LogBase, Some(base), argument) => Some(Expression::fraction(
            call(Function::Ln, argument),
            call(Function::Ln, base),
        )),
        _ => None,
    }
}

/// a^u = b^v as u ln a = v ln b, where both sides are products of powers.
fn take_logarithms(formula: &Expression, problem: &Problem) -> Option<Expression> {
    let (left, right) = formula.as_equation()?;
    let side = |side: &Expression| -> Option<(Expression, bool)> {
        let term = surface::factors(side);
        if term.coefficient.is_negative() || term.coefficient.is_zero() {
            return None;
        }
        let mut sum = Vec::new();
        let mut has_exponent = false;
        if !term.coefficient.is_one() {
            sum.push(call(Function::Ln, &number(&term.coefficient)));
        }
        for factor in &term.factors {
            let Exponent::Symbolic { exponent, negated } = &factor.exponent else {
                return None;
            };
            has_exponent |= exponent.parts().any(|part| {
                part.as_symbol()
                    .is_some_and(|s| problem.variables.contains(s))
            });
            let exponent = match negated {
                true => Expression::negative((*exponent).clone()),
                false => (*exponent).clone(),
            };
            sum.push(match factor.base {
                Base::E => exponent,
                Base::Part(base) => {
                    let base_value = surface::number(base)?;
                    if !base_value.is_positive() {
                        return None;
                    }
                    Expression::product([exponent, call(Function::Ln, base)])
                }
            });
        }
        Some((Expression::sum(sum), has_exponent))
    };
    let (left, first) = side(left)?;
    let (right, second) = side(right)?;
    (first || second).then(|| Expression::equation(left, right))
}

// -------------------------------------------------------------------------------------------
// Trigonometry.

/// The function and its argument, for a power of one with a positive whole exponent.
fn power_of_function(part: &Expression) -> Option<(Function, &Expression, i64)> {
    let (base, exponent) = match (part.operator(), part.operands()) {
        (Operator::Power, [base, exponent]) => (base, exponent.as_i64()?),
        _ => (part, 1),
    };
    match (base.operator(), base.operands()) {
        (Operator::Function(function), [argument]) if exponent > 0 => {
            Some((*function, argument, exponent))
        }
        _ => None,
    }
}

/// Even powers of one function by the other.
fn rewrite_powers(formula: &Expression, from: Function, to: Function) -> Option<Expression> {
    rewrite(formula, &|part| {
        let (function, argument, exponent) = power_of_function(part)?;
        if function != from || exponent % 2 != 0 || exponent > 8 {
            return None;
        }
        let other = Expression::difference(integer(1), square(call(to, argument)));
        Some(match exponent {
            2 => other,
            _ => Expression::power(other, integer(exponent / 2)),
        })
    })
}

/// Terms with the same coefficient in sin²u and cos²u become that coefficient.
fn pythagorean_sum(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Sum {
        return None;
    }
    let terms = surface::terms(part);
    let squared = |term: &surface::Term<'_>| -> Option<(Function, Expression)> {
        let [factor] = term.factors.as_slice() else {
            return None;
        };
        let two = Rational::integer(2);
        match (factor.base, &factor.exponent) {
            (Base::Part(base), Exponent::Number(exponent)) if *exponent == two => {
                let (function, argument, _) = power_of_function(base)?;
                Some((function, argument.clone()))
            }
            _ => None,
        }
    };
    for (i, first) in terms.iter().enumerate() {
        let Some((Function::Sin, u)) = squared(first) else {
            continue;
        };
        for (j, second) in terms.iter().enumerate() {
            let Some((Function::Cos, v)) = squared(second) else {
                continue;
            };
            if u == v && first.coefficient == second.coefficient {
                let mut sum = vec![number(&first.coefficient)];
                let others = terms
                    .iter()
                    .enumerate()
                    .filter(|(at, _)| *at != i && *at != j);
                sum.extend(others.map(|(_, term)| term.to_expression()));
                return Some(Expression::sum(sum));
            }
        }
    }
    None
}

fn secant_squared(part: &Expression) -> Option<Expression> {
    let (function, argument, exponent) = power_of_function(part)?;
    let tangent = match function {
        Function::Sec => Function::Tan,
        Function::Csc => Function::Cot,
        _ => return None,
    };
    (exponent == 2).then(|| Expression::sum([integer(1), square(call(tangent, argument))]))
}

fn tangent_squared(part: &Expression) -> Option<Expression> {
    let (function, argument, exponent) = power_of_function(part)?;
    let secant = match function {
        Function::Tan => Function::Sec,
        Function::Cot => Function::Csc,
        _ => return None,
    };
    (exponent == 2).then(|| Expression::difference(square(call(secant, argument)), integer(1)))
}

/// At least two different trigonometric functions occur: of one alone, the inverse is taken.
fn has_several_waves(formula: &Expression) -> bool {
    let mut first = None;
    formula.parts().any(|part| match part.operator() {
        Operator::Function(function) if is_trigonometric(*function) => {
            *first.get_or_insert(*function) != *function
        }
        _ => false,
    })
}

/// Half of an argument that is an even multiple of something.
fn half(argument: &Expression) -> Option<Expression> {
    let terms = surface::terms(argument);
    let [term] = terms.as_slice() else {
        return None;
    };
    let half = &term.coefficient / &Rational::integer(2);
    if term.factors.is_empty() || !half.is_integer() || half.is_zero() {
        return None;
    }
    let mut halved = term.clone();
    halved.coefficient = half;
    Some(halved.to_expression())
}

fn double_sine(part: &Expression) -> Option<Expression> {
    match (part.operator(), part.operands()) {
        (Operator::Function(Function::Sin), [argument]) => {
            let half = half(argument)?;
            Some(Expression::product([
                integer(2),
                call(Function::Sin, &half),
                call(Function::Cos, &half),
            ]))
        }
        _ => None,
    }
}

fn double_cosine(part: &Expression, to: Function) -> Option<Expression> {
    match (part.operator(), part.operands()) {
        (Operator::Function(Function::Cos), [argument]) => {
            let half = half(argument)?;
            let twice = Expression::product([integer(2), square(call(to, &half))]);
            Some(match to {
                Function::Sin => Expression::difference(integer(1), twice),
                _ => Expression::difference(twice, integer(1)),
            })
        }
        _ => None,
    }
}

fn twice(argument: &Expression) -> Expression {
    let double = Expression::product([integer(2), argument.clone()]);
    match normal(&double) {
        Ok(normal) => normal.to_expression(),
        Err(_) => double,
    }
}

/// sin u cos u, and cos²u − sin²u.
fn merge_double_angle(part: &Expression) -> Option<Expression> {
    match part.operator() {
        Operator::Product => {
            let mut term = surface::factors(part);
            let find = |term: &surface::Term<'_>, wanted: Function| {
                term.factors.iter().position(|factor| {
                    matches!(&factor.exponent, Exponent::Number(e) if e.is_one())
                        && factor.base.part().and_then(power_of_function).is_some_and(
                            |(function, _, exponent)| function == wanted && exponent == 1,
                        )
                })
            };
            let sine = find(&term, Function::Sin)?;
            let cosine = find(&term, Function::Cos)?;
            let argument = |at: usize| Some(&term.factors[at].base.part()?.operands()[0]);
            if argument(sine)? != argument(cosine)? {
                return None;
            }
            let merged = call(Function::Sin, &twice(argument(sine)?));
            let (high, low) = (sine.max(cosine), sine.min(cosine));
            term.factors.remove(high);
            term.factors.remove(low);
            term.coefficient = &term.coefficient / &Rational::integer(2);
            let rest = term.to_expression();
            Some(match rest.as_i64() {
                Some(1) => merged,
                _ => Expression::product([rest, merged]),
            })
        }
        Operator::Sum => {
            let terms = surface::terms(part);
            for (i, first) in terms.iter().enumerate() {
                for (j, second) in terms.iter().enumerate() {
                    if i == j || first.coefficient != -&second.coefficient {
                        continue;
                    }
                    let of = |term: &surface::Term<'_>| -> Option<(Function, Expression)> {
                        let [factor] = term.factors.as_slice() else {
                            return None;
                        };
                        match &factor.exponent {
                            Exponent::Number(e) if *e == Rational::integer(2) => {
                                let (f, u, _) = power_of_function(factor.base.part()?)?;
                                Some((f, u.clone()))
                            }
                            _ => None,
                        }
                    };
                    if let (Some((Function::Cos, u)), Some((Function::Sin, v))) =
                        (of(first), of(second))
                        && u == v
                    {
                        let merged = call(Function::Cos, &twice(&u));
                        let mut sum =
                            vec![Expression::product([number(&first.coefficient), merged])];
                        let others = terms
                            .iter()
                            .enumerate()
                            .filter(|(at, _)| *at != i && *at != j);
                        sum.extend(others.map(|(_, term)| term.to_expression()));
                        return Some(Expression::sum(sum));
                    }
                }
            }
            None
        }
        _ => None,
    }
}

fn half_angle(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Power {
        return None;
    }
    let (function, argument, exponent) = power_of_function(part)?;
    if exponent % 2 != 0 || exponent > 6 {
        return None;
    }
    let cosine = call(Function::Cos, &twice(argument));
    let above = match function {
        Function::Sin => Expression::difference(integer(1), cosine),
        Function::Cos => Expression::sum([integer(1), cosine]),
        _ => return None,
    };
    let squared = Expression::fraction(above, integer(2));
    Some(match exponent {
        2 => squared,
        _ => Expression::power(squared, integer(exponent / 2)),
    })
}

fn odd_power(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Power {
        return None;
    }
    let (function, argument, exponent) = power_of_function(part)?;
    let other = match function {
        Function::Sin => Function::Cos,
        Function::Cos => Function::Sin,
        _ => return None,
    };
    if exponent < 3 || exponent % 2 == 0 || exponent > 9 {
        return None;
    }
    let squared = Expression::difference(integer(1), square(call(other, argument)));
    let power = match exponent / 2 {
        1 => squared,
        n => Expression::power(squared, integer(n)),
    };
    Some(Expression::product([power, call(function, argument)]))
}

fn quotients(part: &Expression) -> Option<Expression> {
    let (function, argument) = match (part.operator(), part.operands()) {
        (Operator::Function(function), [argument]) => (*function, argument),
        _ => return None,
    };
    let (sine, cosine) = (call(Function::Sin, argument), call(Function::Cos, argument));
    Some(match function {
        Function::Tan => Expression::fraction(sine, cosine),
        Function::Cot => Expression::fraction(cosine, sine),
        Function::Sec => Expression::fraction(integer(1), cosine),
        Function::Csc => Expression::fraction(integer(1), sine),
        _ => return None,
    })
}

fn product_to_sum(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Product {
        return None;
    }
    let mut term = surface::factors(part);
    let waves: Vec<usize> = term
        .factors
        .iter()
        .enumerate()
        .filter(|(_, factor)| {
            matches!(&factor.exponent, Exponent::Number(e) if e.is_one())
                && factor
                    .base
                    .part()
                    .and_then(power_of_function)
                    .is_some_and(|(f, _, n)| n == 1 && matches!(f, Function::Sin | Function::Cos))
        })
        .map(|(at, _)| at)
        .collect();
    let [first, second] = waves.as_slice() else {
        return None;
    };
    let of = |at: usize| power_of_function(term.factors[at].base.part()?);
    let ((f, u, _), (g, v, _)) = (of(*first)?, of(*second)?);
    if u == v {
        return None;
    }
    // sin u cos v: the sine comes first.
    let ((f, u), (g, v)) = match (f, g) {
        (Function::Cos, Function::Sin) => ((g, v), (f, u)),
        _ => ((f, u), (g, v)),
    };
    let sum = Expression::sum([u.clone(), v.clone()]);
    let difference = Expression::difference(u.clone(), v.clone());
    let tidy = |e: Expression| normal(&e).map_or(e.clone(), |normal| normal.to_expression());
    let (sum, difference) = (tidy(sum), tidy(difference));
    let pair = match (f, g) {
        (Function::Sin, Function::Cos) => {
            Expression::sum([call(Function::Sin, &sum), call(Function::Sin, &difference)])
        }
        (Function::Sin, _) => {
            Expression::difference(call(Function::Cos, &difference), call(Function::Cos, &sum))
        }
        _ => Expression::sum([call(Function::Cos, &difference), call(Function::Cos, &sum)]),
    };
    term.factors.remove(*second);
    term.factors.remove(*first);
    term.coefficient = &term.coefficient / &Rational::integer(2);
    Some(Expression::product([term.to_expression(), pair]))
}

fn hyperbolic(part: &Expression) -> Option<Expression> {
    let (function, argument) = match (part.operator(), part.operands()) {
        (Operator::Function(function), [argument]) => (*function, argument),
        _ => return None,
    };
    let e = |u: Expression| Expression::power(Expression::constant(Constant::E), u);
    let (plus, minus) = (
        e(argument.clone()),
        e(Expression::negative(argument.clone())),
    );
    Some(match function {
        Function::Sinh => Expression::fraction(Expression::difference(plus, minus), integer(2)),
        Function::Cosh => Expression::fraction(Expression::sum([plus, minus]), integer(2)),
        Function::Tanh => Expression::fraction(
            Expression::difference(plus.clone(), minus.clone()),
            Expression::sum([plus, minus]),
        ),
        _ => return None,
    })
}

// -------------------------------------------------------------------------------------------
// Equations.

/// Both sides multiplied by what stands below, if it varies.
fn clear_denominators(formula: &Expression, problem: &Problem) -> Option<Expression> {
    let (left, right) = formula.as_equation()?;
    let varies = |below: &Polynomial| {
        below.kernels().iter().any(|kernel| {
            kernel.parts().any(|part| {
                part.as_symbol()
                    .is_some_and(|s| problem.variables.contains(s))
            })
        })
    };
    // Multiplied term by term: a factor that cancels in the whole is still there, with its root.
    let whole = Expression::difference(left.clone(), right.clone());
    if let Some((cleared, multiple)) = cleared_sum(&whole) {
        return varies(&multiple).then(|| Expression::equation(cleared, integer(0)));
    }
    let zero = normal(&whole).ok()?;
    varies(zero.denominator())
        .then(|| Expression::equation(zero.numerator_expression(), integer(0)))
}

/// A sum times the least common multiple of the denominators of its terms, and that multiple.
fn cleared_sum(sum: &Expression) -> Option<(Expression, Polynomial)> {
    let terms: Option<Vec<Normal>> = surface::terms(sum)
        .iter()
        .map(|term| normal(&term.to_expression()).ok())
        .collect();
    let terms = terms?;
    let mut multiple = Polynomial::one();
    for term in &terms {
        let below = term.denominator();
        let common = multiple.gcd(below).ok()?;
        multiple = multiple.multiply(&below.divide_exactly(&common)?).ok()?;
    }
    let factor = Normal::whole(multiple.clone());
    let mut cleared = Normal::constant(Rational::ZERO);
    for term in &terms {
        cleared = cleared.add(&term.multiply(&factor).ok()?).ok()?;
    }
    cleared
        .denominator()
        .is_one()
        .then(|| (cleared.to_expression(), multiple))
}

/// y'' = f(x, y') as an equation of first order in y', which then counts as the function.
fn lower_order(formula: &Expression, problem: &Problem) -> Option<Expression> {
    let unknown = problem.unknowns.first()?;
    let mut lowest = u32::MAX;
    for part in formula.parts() {
        if let (Operator::Prime(order), [function]) = (part.operator(), part.operands())
            && function.as_symbol() == Some(unknown)
        {
            lowest = lowest.min(*order);
        }
    }
    if lowest == u32::MAX {
        return None;
    }
    // y itself must not occur.
    fn occurs(expression: &Expression, unknown: &Symbol) -> bool {
        match (expression.operator(), expression.operands()) {
            (Operator::Symbol(symbol), _) => symbol == unknown,
            (Operator::Prime(_), [function]) if function.as_symbol() == Some(unknown) => false,
            (_, operands) => operands.iter().any(|operand| occurs(operand, unknown)),
        }
    }
    if occurs(formula, unknown) {
        return None;
    }
    let lowered = rewrite(formula, &|part| match (part.operator(), part.operands()) {
        (Operator::Prime(order), [function]) if function.as_symbol() == Some(unknown) => {
            Some(match order - lowest {
                0 => function.clone(),
                order => Expression::new(Operator::Prime(order), [function.clone()]),
            })
        }
        _ => None,
    })?;
    lowered
        .parts()
        .any(|part| matches!(part.operator(), Operator::Prime(_)))
        .then_some(lowered)
}

/// M dx + N dy = 0 as y' = −M/N.
fn differentials(formula: &Expression, problem: &Problem) -> Option<Expression> {
    let (left, right) = formula.as_equation()?;
    let zero = normal(&Expression::difference(left.clone(), right.clone())).ok()?;
    let unknown = problem.unknowns.first()?;
    let variable = problem.variables.first()?;
    let d = |symbol: &Symbol| {
        Expression::new(
            Operator::Differential,
            [Expression::new(Operator::Symbol(symbol.clone()), [])],
        )
    };
    let (n, rest) = views::linear_in(&zero, &d(unknown))?;
    let (m, rest) = views::linear_in(&rest, &d(variable))?;
    if n.is_zero() || m.is_zero() || !rest.is_zero() {
        return None;
    }
    let slope = m.negate().divide(&n).ok()?;
    let function = Expression::new(Operator::Symbol(unknown.clone()), []);
    Some(Expression::equation(
        Expression::new(Operator::Prime(1), [function]),
        slope.to_expression(),
    ))
}

/// det(A − λI) = 0, where eigenvalues are asked for.
fn characteristic_equation(formula: &Expression, problem: &Problem) -> Option<Expression> {
    if !problem.instructions.contains("eigenvalues") {
        return None;
    }
    let Operator::Matrix(shape) = formula.operator() else {
        return None;
    };
    let columns = shape.columns as usize;
    let entries = formula.operands();
    if columns == 0 || columns * columns != entries.len() {
        return None;
    }
    let lambda = Expression::symbol("λ");
    let shifted =
        entries
            .iter()
            .enumerate()
            .map(|(place, entry)| match place / columns == place % columns {
                true => Expression::difference(entry.clone(), lambda.clone()),
                false => entry.clone(),
            });
    let determinant = Expression::function(
        Function::Determinant,
        formula.with_operands(shifted.collect::<Vec<_>>()),
    );
    Some(Expression::relation(
        determinant,
        Relation::Equal,
        integer(0),
    ))
}

/// A series without the alternating sign of its terms.
fn absolute_terms(formula: &Expression) -> Option<Expression> {
    if !matches!(formula.operator(), Operator::Series(..)) {
        return None;
    }
    let body = formula.operands().first()?;
    let mut term = surface::factors(body);
    let before = term.factors.len();
    term.factors.retain(|factor| {
        let is_sign = factor.base.part().and_then(surface::number) == Some(Rational::integer(-1));
        !(is_sign && matches!(factor.exponent, Exponent::Symbolic { .. }))
    });
    if term.factors.len() == before {
        return None;
    }
    term.coefficient = term.coefficient.abs();
    let rest = formula.operands()[1..].iter().cloned();
    Some(formula.with_operands(std::iter::once(term.to_expression()).chain(rest)))
}

/// The integral with small powers of sums multiplied out in its integrand.
fn expanded_integrand(formula: &Expression) -> Option<Expression> {
    let (body, rest) = formula.operands().split_first()?;
    let is_small = body
        .parts()
        .all(|part| match (part.operator(), part.operands()) {
            (Operator::Power, [base, exponent]) if *base.operator() == Operator::Sum => {
                matches!(exponent.as_i64(), Some(0..=3))
            }
            _ => true,
        });
    let (expanded, steps) = normal_with_steps(body).ok()?;
    (is_small && steps.contains(Steps::EXPAND)).then(|| {
        let rest = rest.iter().cloned();
        formula.with_operands(std::iter::once(expanded.to_expression()).chain(rest))
    })
}

// -------------------------------------------------------------------------------------------
// Polynomials.

/// A sum that is a polynomial in one kernel as a product of its factors over the rational numbers.
fn factor(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Sum {
        return None;
    }
    let number_of = normal(part).ok()?;
    let polynomial = number_of.as_polynomial()?;
    let common = polynomial.common_monomial();
    let rest = polynomial.divide_exactly(&Polynomial::term(common.clone(), Rational::ONE))?;
    let (primitive, content) = rest.primitive();
    let mut factors: Vec<Expression> = Vec::new();
    if !content.is_one() {
        factors.push(number(&content));
    }
    if !common.is_one() {
        let common = Normal::whole(Polynomial::term(common, Rational::ONE));
        factors.push(common.to_expression());
    }
    let outside = factors.len();
    match primitive.as_univariate() {
        Some((kernel, unit, values)) if values.degree() > 1 => {
            for (square_free, times) in values.square_free_factors() {
                let (roots, left) = square_free.rational_roots();
                let mut pieces: Vec<crate::univariate::Univariate> = roots
                    .iter()
                    .map(|root| {
                        let below = root.denominator();
                        crate::univariate::Univariate::new(vec![-root.numerator(), below])
                    })
                    .collect();
                if left.degree() > 0 {
                    pieces.push(left.primitive());
                }
                for piece in pieces {
                    let piece = Polynomial::from_univariate(&kernel, &unit, &piece);
                    let piece = Normal::whole(piece).to_expression();
                    factors.push(match times {
                        1 => piece,
                        _ => Expression::power(piece, integer(times.into())),
                    });
                }
            }
        }
        _ => factors.push(Normal::whole(primitive.clone()).to_expression()),
    }
    let product = Expression::product(factors.clone());
    let is_product = factors.len() > outside + 1
        || (factors.len() > 1 && outside > 0)
        || matches!(product.operator(), Operator::Power);
    // The content was taken out of the whole, and the leading coefficients out of the roots: what
    // comes out must be what went in.
    let same = normal(&product).ok()? == number_of;
    (is_product && same).then_some(product)
}

/// A quadratic in one letter as a square and a number.
fn complete_square(part: &Expression) -> Option<Expression> {
    if *part.operator() != Operator::Sum {
        return None;
    }
    let number_of = normal(part).ok()?;
    let (kernel, unit, values) = number_of.as_polynomial()?.as_univariate()?;
    if !unit.is_one() || values.degree() != 2 || values.coefficient(1).is_zero() {
        return None;
    }
    let a = values.leading();
    let shift = &values.coefficient(1) / &(&a + &a);
    let rest = values.coefficient(0) - &a * &(&shift * &shift);
    let squared = square(Expression::sum([kernel, number(&shift)]));
    let squared = match a.is_one() {
        true => squared,
        false => Expression::product([number(&a), squared]),
    };
    Some(match rest.is_zero() {
        true => squared,
        false => Expression::sum([squared, number(&rest)]),
    })
}
