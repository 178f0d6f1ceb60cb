//! What can be seen of a number once it is collected?
//!
//! Each function looks at a [`Normal`] in one way: as a polynomial in chosen kernels, as linear in
//! one, as free of a letter, as a product of a part for each of two letters, at a point. None of
//! them divides by what may be 0.

use crate::evaluate::{Point, value};
use crate::expression::{Expression, Function, Operator, Symbol};
use crate::normal_form::{Monomial, Normal, Polynomial, normal};
use crate::rational::Rational;
use crate::univariate::Univariate;

/// Whether something holds, as far as that can be decided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Truth {
    /// It does not hold.
    No,
    /// It cannot be decided.
    Unknown,
    /// It holds.
    Yes,
}

impl Truth {
    /// A decided truth.
    pub fn of(holds: bool) -> Self {
        match holds {
            true => Self::Yes,
            false => Self::No,
        }
    }

    /// The opposite.
    pub fn negate(self) -> Self {
        match self {
            Self::Yes => Self::No,
            Self::No => Self::Yes,
            Self::Unknown => Self::Unknown,
        }
    }
}

/// The coefficients of the products of the kernels that pass a test, the greatest product first;
/// none if such a kernel stands below and not as a common factor.
pub fn coefficients(
    number: &Normal,
    mut is_kernel: impl FnMut(&Expression) -> bool,
) -> Option<Vec<(Monomial, Normal)>> {
    let mut below = Monomial::one();
    let mut denominator = number.denominator().clone();
    if denominator.kernels().into_iter().any(&mut is_kernel) {
        let common = denominator.common_monomial();
        (below, _) = common.split(&mut is_kernel);
        let rest = Polynomial::term(below.clone(), Rational::ONE);
        denominator = denominator.divide_exactly(&rest)?;
        if denominator.kernels().into_iter().any(&mut is_kernel) {
            return None;
        }
    }
    let mut groups: Vec<(Monomial, Vec<(Monomial, Rational)>)> = Vec::new();
    for (monomial, coefficient) in number.numerator().terms() {
        let (kernels, rest) = monomial.split(&mut is_kernel);
        let term = (rest, coefficient.clone());
        match groups.iter_mut().find(|(known, _)| *known == kernels) {
            Some((_, terms)) => terms.push(term),
            None => groups.push((kernels, vec![term])),
        }
    }
    let is_whole = denominator.is_one();
    let below_all = Normal::whole(denominator);
    let mut coefficients = Vec::with_capacity(groups.len());
    for (kernels, terms) in groups {
        let coefficient = Normal::whole(Polynomial::from_terms(terms));
        let coefficient = match is_whole {
            true => coefficient,
            false => coefficient.divide(&below_all).ok()?,
        };
        coefficients.push((kernels.divide(&below), coefficient));
    }
    Some(coefficients)
}

/// A and B, if the number is A k + B for the kernel k, with k in neither.
pub fn linear_in(number: &Normal, kernel: &Expression) -> Option<(Normal, Normal)> {
    let mut slope = Normal::constant(Rational::ZERO);
    let mut rest = slope.clone();
    let holds = |k: &Expression| k == kernel || contains(k, kernel);
    for (monomial, coefficient) in coefficients(number, holds)? {
        match monomial.powers() {
            [] => rest = coefficient,
            [(found, exponent)] if found == kernel && exponent.is_one() => slope = coefficient,
            _ => return None,
        }
    }
    Some((slope, rest))
}

/// One expression is a part of another.
fn contains(whole: &Expression, part: &Expression) -> bool {
    whole.size() > part.size() && whole.parts().any(|p| p == part)
}

/// A letter occurs in it.
pub fn depends_on(number: &Normal, symbol: &Symbol) -> bool {
    number
        .kernels()
        .iter()
        .any(|kernel| kernel.mentions(symbol))
}

/// The degree in a letter, if the number is a polynomial in it whose coefficients do not depend
/// on it; 0 for what does not.
pub fn degree_in(number: &Normal, symbol: &Symbol) -> Option<u32> {
    let below = number.denominator().kernels();
    if below.iter().any(|kernel| kernel.mentions(symbol)) {
        return None;
    }
    let mut degree = 0;
    for (monomial, _) in number.numerator().terms() {
        for (kernel, exponent) in monomial.powers() {
            if kernel.as_symbol() == Some(symbol) {
                let exponent = exponent.as_i64().and_then(|e| u32::try_from(e).ok())?;
                degree = degree.max(exponent);
            } else if kernel.mentions(symbol) {
                return None;
            }
        }
    }
    Some(degree)
}

/// The polynomial in a letter with rational coefficients, if the number is one.
pub fn univariate(number: &Normal, symbol: &Symbol) -> Option<Univariate> {
    let polynomial = number.as_polynomial()?;
    if let Some(value) = polynomial.as_constant() {
        return Some(Univariate::constant(value));
    }
    let (kernel, unit, values) = polynomial.as_univariate()?;
    (kernel.as_symbol() == Some(symbol) && unit.is_one()).then_some(values)
}

/// The value at a point of a letter, if it has one.
pub fn at(number: &Normal, symbol: &Symbol, point: &Expression) -> Option<Normal> {
    normal(&number.to_expression().substitute(symbol, point)).ok()
}

/// The value of an expression at a point of a letter. Where numerator and denominator of a
/// fraction both vanish there is none.
pub fn expression_at(
    expression: &Expression,
    symbol: &Symbol,
    point: &Expression,
) -> Option<Normal> {
    normal(&expression.substitute(symbol, point)).ok()
}

/// A factor for each of two groups of kernels, if the number is such a product: the first holds
/// the kernels that pass the first test, and all numbers; the second those that pass the second.
/// A kernel that passes both or neither makes the number no such product.
pub fn separate(
    number: &Normal,
    mut first: impl FnMut(&Expression) -> bool,
    mut second: impl FnMut(&Expression) -> bool,
) -> Option<(Normal, Normal)> {
    if number
        .kernels()
        .into_iter()
        .any(|kernel| first(kernel) == second(kernel))
    {
        return None;
    }
    let mut split = |polynomial: &Polynomial| -> Option<(Polynomial, Polynomial)> {
        // A table of coefficients of rank 1: every row is a multiple of the first.
        let mut rows: Vec<(Monomial, Vec<(Monomial, Rational)>)> = Vec::new();
        for (monomial, coefficient) in polynomial.terms() {
            let (outer, inner) = monomial.split(&mut first);
            let term = (inner, coefficient.clone());
            match rows.iter_mut().find(|(known, _)| *known == outer) {
                Some((_, terms)) => terms.push(term),
                None => rows.push((outer, vec![term])),
            }
        }
        let mut of_second: Option<Polynomial> = None;
        let mut of_first = Vec::new();
        for (outer, terms) in rows {
            let (primitive, content) = Polynomial::from_terms(terms).primitive();
            match &of_second {
                Some(known) if *known != primitive => return None,
                Some(_) => {}
                None => of_second = Some(primitive),
            }
            of_first.push((outer, content));
        }
        Some((Polynomial::from_terms(of_first), of_second?))
    };
    let (above_first, above_second) = split(number.numerator())?;
    let (below_first, below_second) = split(number.denominator())?;
    let divide = |a: Polynomial, b: Polynomial| Normal::whole(a).divide(&Normal::whole(b)).ok();
    Some((
        divide(above_first, below_first)?,
        divide(above_second, below_second)?,
    ))
}

/// Whether the number is 0 wherever it is defined. What the normal form cannot decide is
/// calculated at some points.
pub fn is_zero(number: &Normal) -> Truth {
    if number.is_zero() {
        return Truth::Yes;
    }
    let kernels = number.kernels();
    // Different monomials of letters are independent, and a number other than 0 is none.
    if kernels.iter().all(|kernel| kernel.as_symbol().is_some()) {
        return Truth::No;
    }
    let Some(values) = sample(number) else {
        return Truth::Unknown;
    };
    match values
        .iter()
        .any(|(value, size)| value.abs() > 1e-9 * size.max(1e-9))
    {
        true => Truth::No,
        false => Truth::Unknown,
    }
}

/// Like [`is_zero`], but what vanishes at every point where it was calculated counts as 0.
pub fn is_zero_at_points(number: &Normal) -> Truth {
    match is_zero(number) {
        Truth::Unknown if sample(number).is_some_and(|values| values.len() >= 4) => Truth::Yes,
        truth => truth,
    }
}

/// The number is a polynomial in the letter with at least two different factors over the rational
/// numbers, as the denominator of a fraction that can be split.
pub fn has_several_factors(number: &Normal, symbol: &Symbol) -> bool {
    let Some(polynomial) = univariate(number, symbol) else {
        return false;
    };
    let mut factors = 0;
    for (square_free, _) in polynomial.square_free_factors() {
        let (roots, left) = square_free.rational_roots();
        factors += roots.len() + usize::from(left.degree() > 0);
    }
    factors > 1
}

/// Which functions stand in a table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Basic {
    /// Powers only.
    Powers,
    /// Those of which every table has the derivative.
    Derivatives,
    /// Those of which every table has the integral.
    Integrals,
}

/// Each term of the number is, but for factors without the letter, a power of the letter or one of
/// the functions of the letter that stand in a table.
pub fn is_sum_of_basic(number: &Normal, symbol: &Symbol, functions: Basic) -> bool {
    let is_letter = |e: &Expression| e.as_symbol() == Some(symbol);
    let Some(terms) = number.laurent_terms() else {
        return false;
    };
    terms.iter().all(|(monomial, _)| {
        let powers = monomial.powers().iter();
        let with_letter: Vec<_> = powers
            .filter(|(kernel, _)| kernel.mentions(symbol))
            .collect();
        match with_letter.as_slice() {
            [] => true,
            [(kernel, _)] if is_letter(kernel) => true,
            [(kernel, exponent)] if functions != Basic::Powers => {
                let is_one = exponent.is_one();
                match (kernel.operator(), kernel.operands()) {
                    (Operator::Function(Function::Sec | Function::Csc), [argument])
                        if functions == Basic::Integrals =>
                    {
                        is_letter(argument) && *exponent == Rational::integer(2)
                    }
                    (Operator::Function(function), [argument]) => {
                        let is_known = match functions {
                            Basic::Integrals => is_integral_in_tables(*function),
                            _ => is_in_tables(*function),
                        };
                        is_one && is_letter(argument) && is_known
                    }
                    (Operator::Function(Function::LogBase), [argument, base]) => {
                        let is_known = functions == Basic::Derivatives;
                        is_one && is_known && is_letter(argument) && !base.mentions(symbol)
                    }
                    (Operator::Power, [base, power]) => {
                        is_one && is_letter(power) && !base.mentions(symbol)
                    }
                    _ => false,
                }
            }
            _ => false,
        }
    })
}

fn is_integral_in_tables(function: Function) -> bool {
    matches!(
        function,
        Function::Sin | Function::Cos | Function::Sinh | Function::Cosh | Function::Exp
    )
}

fn is_in_tables(function: Function) -> bool {
    matches!(
        function,
        Function::Sin
            | Function::Cos
            | Function::Tan
            | Function::Cot
            | Function::Sec
            | Function::Csc
            | Function::Arcsin
            | Function::Arccos
            | Function::Arctan
            | Function::Sinh
            | Function::Cosh
            | Function::Tanh
            | Function::Ln
            | Function::Log
            | Function::Exp
    )
}

/// Each term of the number is a product of whole powers of the letter, exponentials, sines and
/// cosines of multiples of it, and factors without it.
pub fn is_exponential_polynomial(number: &Normal, symbol: &Symbol) -> bool {
    let is_linear = |argument: &Expression| {
        normal(argument).is_ok_and(|argument| degree_in(&argument, symbol) == Some(1))
    };
    let Some(terms) = number.laurent_terms() else {
        return false;
    };
    terms.iter().all(|(monomial, _)| {
        monomial.powers().iter().all(|(kernel, exponent)| {
            let is_whole = exponent.is_integer() && !exponent.is_negative();
            match (kernel.operator(), kernel.operands()) {
                _ if !kernel.mentions(symbol) => true,
                _ if kernel.as_symbol() == Some(symbol) => is_whole,
                (Operator::Function(Function::Sin | Function::Cos), [argument]) => {
                    is_whole && is_linear(argument)
                }
                (Operator::Power, [base, power]) => !base.mentions(symbol) && is_linear(power),
                _ => false,
            }
        })
    })
}

/// The sign of a number that does not depend on any letter.
pub fn sign(number: &Normal) -> Option<i32> {
    if let Some(value) = number.as_constant() {
        return Some(value.signum());
    }
    let expression = number.to_expression();
    if expression.parts().any(|part| part.as_symbol().is_some()) {
        return None;
    }
    let value = value(&expression, &Point::new()).ok()?;
    match value.is_real() && value.re.abs() > 1e-9 {
        true => Some(if value.re > 0.0 { 1 } else { -1 }),
        false => None,
    }
}

/// Values at some points, with the size of the largest part of each; none if it has no value at
/// any.
fn sample(number: &Normal) -> Option<Vec<(f64, f64)>> {
    let expression = number.numerator_expression();
    let symbols: Vec<Symbol> = expression.free_symbols().into_iter().collect();
    let mut values = Vec::new();
    for round in 0..6 {
        let mut point = Point::new();
        for (place, symbol) in symbols.iter().enumerate() {
            // Points without a pattern that an identity of its own could fit.
            let step = libm::sin((round * 7 + place * 3 + 1) as f64);
            point.set(symbol.clone(), 1.1 + 0.37 * round as f64 + 0.21 * step);
        }
        let terms = crate::surface::terms(&expression).len().max(1);
        if let Ok(found) = value(&expression, &point)
            && found.abs().is_finite()
        {
            let mut size: f64 = 0.0;
            for operand in expression.operands().iter().take(terms) {
                if let Ok(part) = value(operand, &point) {
                    size = size.max(part.abs());
                }
            }
            values.push((found.abs(), size));
        }
    }
    (!values.is_empty()).then_some(values)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    fn number(tex: &str) -> Normal {
        normal(&read(tex, &Declared::new()).expression).expect("a number")
    }

    fn x() -> Symbol {
        Symbol::new("x")
    }

    fn mentions(name: &str) -> impl FnMut(&Expression) -> bool {
        let symbol = Symbol::new(name);
        move |kernel| kernel.mentions(&symbol)
    }

    #[test]
    fn sees_polynomials_in_kernels() {
        let seen = coefficients(&number(r"x y^2 + \sin x \cdot y + 3"), mentions("y"));
        let seen: Vec<Normal> = seen
            .expect("a polynomial")
            .into_iter()
            .map(|(_, c)| c)
            .collect();
        assert_eq!(seen, [number("x"), number(r"\sin x"), number("3")]);
        // y/(x + 1) has the coefficient 1/(x + 1); 1/(y + 1) is no polynomial in y.
        let seen = coefficients(&number(r"\frac{y}{x + 1}"), mentions("y")).expect("linear");
        assert_eq!(seen[0].1, number(r"\frac{1}{x + 1}"));
        assert_eq!(
            coefficients(&number(r"\frac{1}{y + 1}"), mentions("y")),
            None
        );
    }

    #[test]
    fn sees_what_is_linear() {
        let y = Expression::symbol("y");
        let (slope, rest) = linear_in(&number(r"\frac{3y + x}{x - 1}"), &y).expect("linear");
        assert_eq!(slope, number(r"\frac{3}{x - 1}"));
        assert_eq!(rest, number(r"\frac{x}{x - 1}"));
        assert_eq!(linear_in(&number(r"y + \sin y"), &y), None);
        assert_eq!(linear_in(&number(r"y^2"), &y), None);
    }

    #[test]
    fn sees_degrees() {
        assert_eq!(degree_in(&number(r"(x + 1)^3 - a x"), &x()), Some(3));
        assert_eq!(degree_in(&number(r"\sin a"), &x()), Some(0));
        assert_eq!(degree_in(&number(r"\sin x"), &x()), None);
        assert_eq!(degree_in(&number(r"\sqrt x"), &x()), None);
        assert_eq!(degree_in(&number(r"\frac{x^2 - 1}{x - 1}"), &x()), Some(1));
    }

    #[test]
    fn separates_products() {
        let check = |tex: &str, f: &str, g: &str| {
            let parts = separate(&number(tex), mentions("x"), mentions("y"));
            assert_eq!(parts, Some((number(f), number(g))), "{tex}");
        };
        check("y + x y", "1 + x", "y");
        check(r"\frac{1 + y}{1 + x}", r"\frac{1}{1 + x}", "1 + y");
        check("x y + 2x + 3y + 6", "x + 3", "y + 2");
        check(r"e^{x + y}", r"e^{x}", r"e^{y}");
        check("5", "5", "1");
        assert_eq!(
            separate(&number("x + y"), mentions("x"), mentions("y")),
            None
        );
        assert_eq!(
            separate(&number(r"\sin(xy)"), mentions("x"), mentions("y")),
            None
        );
    }

    #[test]
    fn tests_for_zero() {
        assert_eq!(is_zero(&number("(x + 1)^2 - x^2 - 2x - 1")), Truth::Yes);
        assert_eq!(is_zero(&number("x - y")), Truth::No);
        assert_eq!(is_zero(&number(r"\sin x - x")), Truth::No);
        assert_eq!(is_zero(&number(r"\sin^2 x + \cos^2 x - 1")), Truth::Unknown);
    }

    #[test]
    fn knows_values_and_signs() {
        let two = Expression::integer(2);
        assert_eq!(at(&number("x^2 - 4"), &x(), &two), Some(number("0")));
        assert_eq!(at(&number(r"\frac{1}{x - 2}"), &x(), &two), None);
        assert_eq!(sign(&number(r"\sqrt 2 - 2")), Some(-1));
        assert_eq!(sign(&number("a")), None);
    }
}
