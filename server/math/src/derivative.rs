//! What is the derivative of an expression?

use crate::expression::{Bounds, Constant, Expression, Function, Operator, Symbol};

/// The derivative with respect to a letter, not simplified; none if some part of the expression
/// cannot be differentiated. Other letters are constants.
///
/// The rules are those of the tables (Abramowitz and Stegun, Handbook of Mathematical Functions,
/// 3.3, 4.1, 4.2, 4.3.105 to 4.3.110, 4.4.52 to 4.4.57, 4.5.71 to 4.5.76, 4.6.37 to 4.6.42).
pub fn derivative(expression: &Expression, by: &Symbol) -> Option<Expression> {
    if expression.depth() > MAX_DEPTH {
        return None;
    }
    differentiate(expression, by)
}

/// Expressions with more levels than this are not differentiated.
const MAX_DEPTH: usize = 100;

fn differentiate(expression: &Expression, by: &Symbol) -> Option<Expression> {
    if !expression.mentions(by) {
        return Some(zero());
    }
    let operands = expression.operands();
    Some(match (expression.operator(), operands) {
        (Operator::Symbol(_), _) => one(),
        (Operator::Sum, _) => {
            let terms: Option<Vec<_>> = operands
                .iter()
                .map(|term| differentiate(term, by))
                .collect();
            Expression::sum(terms?.into_iter().filter(|term| !is_zero(term)))
        }
        (Operator::Product, _) => {
            let mut terms = Vec::new();
            for (place, factor) in operands.iter().enumerate() {
                let slope = differentiate(factor, by)?;
                if !is_zero(&slope) {
                    let others = operands.iter().enumerate().filter(|(at, _)| *at != place);
                    let others = others.map(|(_, factor)| factor.clone());
                    terms.push(times(slope, Expression::product(others)));
                }
            }
            Expression::sum(terms)
        }
        (Operator::Negative, [operand]) => Expression::negative(differentiate(operand, by)?),
        (Operator::Fraction, [above, below]) => {
            let slope = differentiate(above, by)?;
            if !below.mentions(by) {
                return Some(Expression::fraction(slope, below.clone()));
            }
            let numerator = Expression::difference(
                times(slope, below.clone()),
                times(above.clone(), differentiate(below, by)?),
            );
            Expression::fraction(numerator, square(below))
        }
        (Operator::Power, [base, exponent]) => power(base, exponent, by)?,
        (Operator::Root, [radicand]) => {
            let slope = differentiate(radicand, by)?;
            Expression::fraction(slope, times(Expression::integer(2), expression.clone()))
        }
        (Operator::NthRoot, [radicand, degree]) => {
            let exponent = Expression::fraction(one(), degree.clone());
            power(radicand, &exponent, by)?
        }
        (Operator::Percent, [operand]) => expression.with_operands([differentiate(operand, by)?]),
        (Operator::Function(Function::LogBase), [argument, base]) => {
            let ln = |e: &Expression| Expression::function(Function::Ln, e.clone());
            let quotient = Expression::fraction(ln(argument), ln(base));
            differentiate(&quotient, by)?
        }
        (Operator::Function(function), [argument]) => {
            let outer = outer(*function, argument)?;
            times(differentiate(argument, by)?, outer)
        }
        // The integral without bounds is a function whose derivative is the integrand.
        (Operator::Integral(integration), [integrand, variable])
            if integration.bounds == Bounds::None && variable.as_symbol() == Some(by) =>
        {
            integrand.clone()
        }
        // Leibniz's rule (Abramowitz and Stegun, 3.3.7).
        (Operator::Integral(integration), [integrand, variable, from, to])
            if integration.bounds == Bounds::Between && integration.variables == 1 =>
        {
            let variable = variable.as_symbol()?;
            let mut terms = Vec::new();
            for (bound, sign) in [(to, 1), (from, -1)] {
                if bound.mentions(by) {
                    let end = times(
                        integrand.substitute(variable, bound),
                        differentiate(bound, by)?,
                    );
                    terms.push(if sign > 0 {
                        end
                    } else {
                        Expression::negative(end)
                    });
                }
            }
            if variable != by && integrand.mentions(by) {
                let slope = differentiate(integrand, by)?;
                terms.push(expression.with_operands([
                    slope,
                    expression.operands()[1].clone(),
                    from.clone(),
                    to.clone(),
                ]));
            }
            match terms.len() {
                0 => zero(),
                1 => terms.remove(0),
                _ => Expression::sum(terms),
            }
        }
        // Between its jumps and bends the derivative of a function in cases is that of each case.
        (Operator::Piecewise, rows) => {
            let mut slopes = Vec::with_capacity(rows.len());
            for (place, row) in rows.iter().enumerate() {
                slopes.push(match place % 2 {
                    0 => differentiate(row, by)?,
                    _ => row.clone(),
                });
            }
            expression.with_operands(slopes)
        }
        _ => return None,
    })
}

fn power(base: &Expression, exponent: &Expression, by: &Symbol) -> Option<Expression> {
    if !exponent.mentions(by) {
        let less = match exponent.as_i64() {
            Some(exponent) => Expression::integer(exponent - 1),
            None => Expression::difference(exponent.clone(), one()),
        };
        let outer = match less.as_i64() {
            Some(0) => one(),
            Some(1) => base.clone(),
            _ => Expression::power(base.clone(), less),
        };
        let outer = times(exponent.clone(), outer);
        return Some(times(differentiate(base, by)?, outer));
    }
    let itself = Expression::power(base.clone(), exponent.clone());
    let logarithm = match base.as_constant() {
        Some(Constant::E) => one(),
        _ => Expression::function(Function::Ln, base.clone()),
    };
    // u^v = e^{v ln u}
    let by_exponent = times(differentiate(exponent, by)?, logarithm);
    let inner = match base.mentions(by) {
        false => by_exponent,
        true => {
            let by_base = times(exponent.clone(), differentiate(base, by)?);
            Expression::sum([by_exponent, Expression::fraction(by_base, base.clone())])
        }
    };
    Some(times(inner, itself))
}

/// The derivative of a function at its argument.
fn outer(function: Function, u: &Expression) -> Option<Expression> {
    let f = |function: Function| Expression::function(function, u.clone());
    let minus = Expression::negative;
    let over = |below: Expression| Expression::fraction(one(), below);
    let root = Expression::root;
    let plus_one = || Expression::sum([square(u), one()]);
    let minus_one = || Expression::difference(square(u), one());
    let one_minus = || Expression::difference(one(), square(u));
    let size = || Expression::function(Function::Abs, u.clone());
    Some(match function {
        Function::Sin => f(Function::Cos),
        Function::Cos => minus(f(Function::Sin)),
        Function::Tan => square(&f(Function::Sec)),
        Function::Cot => minus(square(&f(Function::Csc))),
        Function::Sec => times(f(Function::Sec), f(Function::Tan)),
        Function::Csc => minus(times(f(Function::Csc), f(Function::Cot))),
        Function::Arcsin => over(root(one_minus())),
        Function::Arccos => minus(over(root(one_minus()))),
        Function::Arctan => over(plus_one()),
        Function::Arccot => minus(over(plus_one())),
        Function::Arcsec => over(times(size(), root(minus_one()))),
        Function::Arccsc => minus(over(times(size(), root(minus_one())))),
        Function::Sinh => f(Function::Cosh),
        Function::Cosh => f(Function::Sinh),
        Function::Tanh => square(&f(Function::Sech)),
        Function::Coth => minus(square(&f(Function::Csch))),
        Function::Sech => minus(times(f(Function::Sech), f(Function::Tanh))),
        Function::Csch => minus(times(f(Function::Csch), f(Function::Coth))),
        Function::Arsinh => over(root(plus_one())),
        Function::Arcosh => over(root(minus_one())),
        Function::Artanh | Function::Arcoth => over(one_minus()),
        Function::Arsech => minus(over(times(u.clone(), root(one_minus())))),
        Function::Arcsch => minus(over(times(size(), root(plus_one())))),
        Function::Erf => {
            let bell = Expression::power(Expression::constant(Constant::E), minus(square(u)));
            let pi = Expression::root(Expression::constant(Constant::Pi));
            Expression::fraction(times(Expression::integer(2), bell), pi)
        }
        Function::Exp => f(Function::Exp),
        Function::Ln => over(u.clone()),
        // Without a written base the base is 10, as where it is evaluated.
        Function::Log => {
            let ten = Expression::function(Function::Ln, Expression::integer(10));
            over(times(u.clone(), ten))
        }
        Function::Abs => Expression::fraction(u.clone(), f(Function::Abs)),
        _ => return None,
    })
}

fn times(left: Expression, right: Expression) -> Expression {
    if left.as_i64() == Some(1) {
        return right;
    }
    if right.as_i64() == Some(1) {
        return left;
    }
    Expression::product([left, right])
}

fn square(base: &Expression) -> Expression {
    Expression::power(base.clone(), Expression::integer(2))
}

fn zero() -> Expression {
    Expression::integer(0)
}

fn one() -> Expression {
    Expression::integer(1)
}

fn is_zero(expression: &Expression) -> bool {
    expression.as_i64() == Some(0)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::evaluate::{Point, real_value};
    use crate::read::{Declared, read};

    /// Compares with the difference quotient.
    fn check(tex: &str) {
        let body = read(tex, &Declared::new()).expression;
        let x = Symbol::new("x");
        let slope = derivative(&body, &x).unwrap_or_else(|| panic!("{tex} has a derivative"));
        let at = |e: &Expression, x: f64| {
            let point = Point::new()
                .with(Symbol::new("x"), x)
                .with(Symbol::new("a"), 1.7);
            real_value(e, &point)
        };
        let mut compared = 0;
        for x in [0.31, 0.7, 1.3, 2.9] {
            let (h, exact) = (1e-5, at(&slope, x));
            if let (Ok(exact), Ok(low), Ok(high)) = (exact, at(&body, x - h), at(&body, x + h)) {
                let quotient = (high - low) / (2.0 * h);
                let error = (quotient - exact).abs();
                assert!(
                    error < 1e-6 * exact.abs().max(1.0),
                    "{tex} at {x}: {quotient} {exact}"
                );
                compared += 1;
            }
        }
        assert!(compared >= 1, "{tex} is defined somewhere");
    }

    #[test]
    fn agrees_with_the_difference_quotient() {
        for tex in [
            "x^3 - 2x + 5",
            r"x^2 e^{a x}",
            r"\frac{x^2 + 1}{x - a}",
            r"\sqrt{x^2 + 1}",
            r"\sqrt[3]{x}",
            r"x^{x}",
            r"a^{x}",
            r"\frac{x}{a}",
            r"\log_2 x",
            r"\log x",
            r"|x - a|",
            r"\ln(\sin^2 x + 2)",
        ] {
            check(tex);
        }
        for function in [
            r"\sin", r"\cos", r"\tan", r"\cot", r"\sec", r"\csc", r"\arcsin", r"\arccos",
            r"\arctan", r"\sinh", r"\cosh", r"\tanh", r"\coth", r"\exp", r"\ln",
        ] {
            check(&format!(r"{function}(x)"));
            check(&format!(r"{function}(x^2 / a)"));
        }
    }

    #[test]
    fn refuses_what_it_does_not_know() {
        for tex in [r"\lfloor x \rfloor", r"\iint_R x\,dA", "x!"] {
            let body = read(tex, &Declared::new()).expression;
            assert_eq!(derivative(&body, &Symbol::new("x")), None, "{tex}");
        }
    }
}
