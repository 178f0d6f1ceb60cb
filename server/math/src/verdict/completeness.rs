//! Does an equation have a solution that is not among those claimed?

use super::claims::Membership;
use super::equations::{Equation, Solution};
use super::equivalence::{self, Equivalence, Value};
use super::interval::{Interval, Reading, Tape};
use super::roots::{self, Curve, Zero};
use super::substitution::{self, Holds};
use crate::derivative::derivative;
use crate::expression::{Constant, Expression, Function, Operator, Symbol};
use crate::normal_form;
use crate::rational::Rational;
use crate::univariate::Univariate;

/// A solution that is missing.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Missing {
    /// None that could be found.
    Nothing,
    /// This one: "x = −3".
    Root(String),
    /// Every number is a solution.
    Everything,
    /// The search came to no end; the reason.
    Unknown(String),
}

/// The number of operations that a search may take.
const BUDGET: u64 = 400_000;

/// The greatest degree of a polynomial whose roots are counted.
const MAX_DEGREE: usize = 40;

/// The solutions of an equation that are not in the list.
pub(super) fn missing(equation: &Equation, known: &[Solution]) -> Missing {
    let difference = Expression::difference(equation.left.clone(), equation.right.clone());
    if let Ok(normal) = normal_form::normal(&difference) {
        if normal.is_zero() {
            return match has_values(equation) {
                true => Missing::Everything,
                false => Missing::Unknown("the sides have no value".into()),
            };
        }
        let numerator = normal.numerator();
        if numerator.as_constant().is_some() {
            return Missing::Nothing;
        }
        if let Some((kernel, unit, polynomial)) = numerator.as_univariate()
            && kernel.as_symbol() == Some(&equation.variable)
            && unit.is_one()
        {
            if polynomial.degree() > MAX_DEGREE {
                return Missing::Unknown("too large".into());
            }
            let expression = normal.numerator_expression();
            return of_polynomial(equation, known, &polynomial, &expression);
        }
    }
    if let Equivalence::Equal = equivalence::compare(&equation.left, &equation.right) {
        return Missing::Everything;
    }
    if equation.is_complex || known.iter().any(|s| matches!(s, Solution::Complex(_))) {
        return match known.is_empty() {
            true => Missing::Unknown("complex solutions of this equation are not searched".into()),
            false => Missing::Nothing,
        };
    }
    in_windows(equation, known)
}

/// The sides have values somewhere.
fn has_values(equation: &Equation) -> bool {
    [0, 1, 2, -1, -2, 5, -5]
        .iter()
        .any(|value| equation.at(&Expression::integer(*value)) == Holds::Yes)
}

fn of_polynomial(
    equation: &Equation,
    known: &[Solution],
    polynomial: &Univariate,
    expression: &Expression,
) -> Missing {
    let common = polynomial.gcd(&polynomial.derivative());
    let square_free = match polynomial.divide(&common) {
        Some((quotient, _)) => quotient.primitive(),
        None => polynomial.clone(),
    };
    let real: Vec<Interval> = distinct(known);
    let complex: Vec<_> = known
        .iter()
        .filter_map(|solution| match solution {
            Solution::Complex(value) => Some(*value),
            Solution::Real(_) => None,
        })
        .collect();
    let total_real = square_free.count_real_roots(None, None);
    if (equation.is_complex || !complex.is_empty()) && equation.domain.region.is_none() {
        if let Some(missing) = missing_complex(equation, &square_free, &real, &complex) {
            return Missing::Root(missing);
        }
        return Missing::Nothing;
    }
    if equation.domain.region.is_none() && real.len() >= total_real {
        return Missing::Nothing;
    }
    // Some root is not claimed; it counts if it is a solution of the equation as it stands.
    let (rational, rest) = square_free.rational_roots();
    for root in rational {
        let value = Expression::rational(&root.to_big());
        let at = Interval::of_number(&crate::expression::Number::exact(root.to_big()));
        if real.iter().any(|known| near(*known, at)) || !is_in_domain(equation, at) {
            continue;
        }
        match equation.at(&value) {
            Holds::Yes => return Missing::Root(told(equation, &value)),
            Holds::Unknown => {
                return Missing::Unknown(format!(
                    "the sides cannot be compared at {}",
                    told(equation, &value)
                ));
            }
            Holds::No(_) | Holds::Outside(_) => {}
        }
    }
    if rest.degree() == 0 || rest.count_real_roots(None, None) == 0 {
        return Missing::Nothing;
    }
    let Some(curve) = curve_of(expression, &equation.variable, Reading::default()) else {
        return Missing::Unknown("the roots cannot be bounded".into());
    };
    let bound = rest.root_bound().to_f64().min(1e12) + 1.0;
    let mut budget = BUDGET;
    let zeros = roots::zeros(&curve, Interval::new(-bound, bound), &mut budget);
    for zero in zeros.found {
        if real.iter().any(|known| near(*known, zero.within))
            || !is_in_domain(equation, zero.within)
        {
            continue;
        }
        // A whole root was looked at above; a place without a value is no solution.
        let is_root = changes_sign(&rest, zero.within);
        if is_root && is_defined(equation, zero.within) {
            return Missing::Root(about(equation, zero.within));
        }
    }
    Missing::Nothing
}

fn changes_sign(polynomial: &Univariate, within: Interval) -> bool {
    let slack = 1e-9 * (1.0 + within.middle().abs());
    let at = |value: f64| {
        num_rational::BigRational::from_float(value)
            .map(|value| polynomial.at(&Rational::from(value)).signum())
    };
    match (at(within.low - slack), at(within.high + slack)) {
        (Some(a), Some(b)) => a * b < 0,
        _ => false,
    }
}

/// Neither side is without a value throughout.
fn is_defined(equation: &Equation, within: Interval) -> bool {
    [&equation.left, &equation.right].iter().all(|side| {
        Tape::new(
            side,
            std::slice::from_ref(&equation.variable),
            equation.reading,
        )
        .is_none_or(|tape| tape.over(&[within]).is_ok())
    })
}

/// The different real solutions among those claimed.
fn distinct(known: &[Solution]) -> Vec<Interval> {
    let mut distinct: Vec<Interval> = Vec::new();
    for solution in known {
        if let Solution::Real(bounds) = solution
            && !distinct.iter().any(|other| near(*other, *bounds))
        {
            distinct.push(*bounds);
        }
    }
    distinct
}

fn near(a: Interval, b: Interval) -> bool {
    let slack = 1e-7 * (1.0 + a.middle().abs());
    a.low - slack <= b.high && b.low <= a.high + slack
}

fn is_in_domain(equation: &Equation, at: Interval) -> bool {
    match &equation.domain.region {
        None => true,
        Some(region) => region.holds(at) == Membership::Inside,
    }
}

/// A root of a polynomial that is not among the claimed ones, real or not.
fn missing_complex(
    equation: &Equation,
    polynomial: &Univariate,
    real: &[Interval],
    complex: &[crate::evaluate::Complex],
) -> Option<String> {
    let mut distinct: Vec<crate::evaluate::Complex> = Vec::new();
    for value in complex {
        let apart = |other: &crate::evaluate::Complex| {
            libm::hypot(other.re - value.re, other.im - value.im) > 1e-9 * (1.0 + value.abs())
        };
        if distinct.iter().all(apart) {
            distinct.push(*value);
        }
    }
    if real.len() + distinct.len() >= polynomial.degree() {
        return None;
    }
    let roots = all_roots(polynomial)?;
    for root in roots {
        let is_near = |re: f64, im: f64| {
            libm::hypot(root.0 - re, root.1 - im) <= 1e-6 * (1.0 + libm::hypot(re, im))
        };
        let is_known = distinct.iter().any(|value| is_near(value.re, value.im))
            || real.iter().any(|value| is_near(value.middle(), 0.0));
        // A real root must be one of the equation as it stands.
        let at = Interval::new(root.0 - 1e-9, root.0 + 1e-9);
        if !is_known && (root.1.abs() > 1e-9 || is_defined(equation, at)) {
            let value = crate::evaluate::Complex::new(root.0, root.1);
            return Some(format!(
                "{} ≈ {}",
                equivalence::name(&equation.variable),
                equivalence::complex(value)
            ));
        }
    }
    None
}

/// All complex roots of a square-free polynomial, about. (The method of Durand and Kerner.)
fn all_roots(polynomial: &Univariate) -> Option<Vec<(f64, f64)>> {
    let leading = polynomial.leading().to_f64();
    let coefficients: Vec<f64> = polynomial
        .coefficients()
        .iter()
        .map(|c| c.to_f64() / leading)
        .collect();
    if coefficients.iter().any(|c| !c.is_finite()) {
        return None;
    }
    let times = |a: (f64, f64), b: (f64, f64)| (a.0 * b.0 - a.1 * b.1, a.0 * b.1 + a.1 * b.0);
    let at = |x: (f64, f64)| {
        coefficients.iter().rev().fold((0.0, 0.0), |sum, c| {
            let product = times(sum, x);
            (product.0 + c, product.1)
        })
    };
    let degree = polynomial.degree();
    let size = polynomial.root_bound().to_f64().min(1e6);
    let mut roots: Vec<(f64, f64)> = (0..degree)
        .map(|place| {
            let angle = 0.4 + std::f64::consts::TAU * place as f64 / degree as f64;
            let radius = size.min(1.0 + 0.5 * size);
            (radius * libm::cos(angle), radius * libm::sin(angle))
        })
        .collect();
    for _ in 0..500 {
        let mut change: f64 = 0.0;
        for place in 0..degree {
            let mut below = (1.0, 0.0);
            for (other, root) in roots.iter().enumerate() {
                if other != place {
                    below = times(below, (roots[place].0 - root.0, roots[place].1 - root.1));
                }
            }
            let norm = below.0 * below.0 + below.1 * below.1;
            if norm == 0.0 {
                return None;
            }
            let value = at(roots[place]);
            let step = times(value, (below.0 / norm, -below.1 / norm));
            roots[place] = (roots[place].0 - step.0, roots[place].1 - step.1);
            change = change.max(libm::hypot(step.0, step.1));
        }
        if change < 1e-13 * size.max(1.0) {
            break;
        }
    }
    roots
        .iter()
        .all(|(re, im)| re.is_finite() && im.is_finite())
        .then_some(roots)
}

/// The difference of the sides as a function of the variable.
pub(super) fn curve(equation: &Equation) -> Option<Curve> {
    let difference = Expression::difference(equation.left.clone(), equation.right.clone());
    curve_of(&difference, &equation.variable, equation.reading)
}

pub(super) fn curve_of(
    expression: &Expression,
    variable: &Symbol,
    reading: Reading,
) -> Option<Curve> {
    let letters = std::slice::from_ref(variable);
    let function = Tape::new(expression, letters, reading)?;
    let is_continuous = !expression.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Function(Function::Floor | Function::Ceiling | Function::Sign)
        )
    });
    let slope = derivative(expression, variable)
        .filter(|slope| slope.size() < 20 * expression.size() + 200)
        .map(|slope| normal_form::collected(&slope))
        .and_then(|slope| Tape::new(&slope, letters, reading));
    Some(Curve {
        function,
        slope,
        is_continuous,
    })
}

/// Windows that are searched one after the other; their borders are no usual roots.
const WINDOWS: [(f64, f64); 7] = [
    (-12.3, 12.3),
    (12.3, 101.3),
    (-101.3, -12.3),
    (101.3, 10_001.3),
    (-10_001.3, -101.3),
    (10_001.3, 1e8),
    (-1e8, -10_001.3),
];

/// The variable occurs in trigonometric functions alone.
pub(super) fn is_periodic(equation: &Equation) -> bool {
    fn outside(expression: &Expression, variable: &Symbol) -> bool {
        match expression.operator() {
            Operator::Symbol(symbol) => symbol == variable,
            Operator::Function(
                Function::Sin
                | Function::Cos
                | Function::Tan
                | Function::Cot
                | Function::Sec
                | Function::Csc,
            ) => false,
            _ => expression
                .operands()
                .iter()
                .any(|operand| outside(operand, variable)),
        }
    }
    let variable = &equation.variable;
    let mentions = equation.left.mentions(variable) || equation.right.mentions(variable);
    mentions && !outside(&equation.left, variable) && !outside(&equation.right, variable)
}

fn in_windows(equation: &Equation, known: &[Solution]) -> Missing {
    let Some(curve) = curve(equation) else {
        return Missing::Unknown("the sides cannot be bounded".into());
    };
    let known = distinct(known);
    let mut budget = BUDGET;
    let pi = std::f64::consts::PI;
    if let Some(region) = &equation.domain.region {
        let ends: Vec<Interval> = region
            .ends()
            .into_iter()
            .filter_map(super::claims::bounds)
            .collect();
        let low = ends.iter().map(|end| end.low).fold(f64::INFINITY, f64::min);
        let high = ends
            .iter()
            .map(|end| end.high)
            .fold(f64::NEG_INFINITY, f64::max);
        if ends.len() >= 2 && low < high {
            let slack = 1e-3;
            let window = Interval::new(low - slack, high + slack);
            let zeros = roots::zeros(&curve, window, &mut budget);
            return match first_missing(equation, &known, &zeros.found) {
                Some(told) => Missing::Root(told),
                None if zeros.is_complete => Missing::Nothing,
                None => Missing::Unknown("the interval holds too many places to look at".into()),
            };
        }
    }
    if is_periodic(equation) {
        // A full turn, and others that a list may be meant for.
        let turn = roots::zeros(
            &curve,
            Interval::new(-pi - 0.01, 2.0 * pi + 0.01),
            &mut budget,
        );
        if !turn.is_complete {
            return Missing::Unknown("there are too many places to look at".into());
        }
        let within = |low: f64, high: f64, zero: &Zero| {
            zero.within.high >= low - 1e-6 && zero.within.low < high - 1e-6
        };
        let missing_in = |low: f64, high: f64| {
            let inside: Vec<Zero> = turn
                .found
                .iter()
                .filter(|zero| within(low, high, zero))
                .copied()
                .collect();
            first_missing(equation, &known, &inside)
        };
        let Some(told) = missing_in(0.0, 2.0 * pi) else {
            return match equation.wants_all && !known.is_empty() {
                true => Missing::Root(format!(
                    "{} ≈ {}, and so on after each full turn",
                    equivalence::name(&equation.variable),
                    equivalence::number(known[0].middle() + 2.0 * pi)
                )),
                false => Missing::Nothing,
            };
        };
        let others = [(-pi, pi), (-pi / 2.0, pi / 2.0), (0.0, pi), (0.0, pi / 2.0)];
        let may_be_meant = !known.is_empty()
            && !equation.wants_all
            && others
                .iter()
                .any(|(low, high)| missing_in(*low, *high + 2e-6).is_none());
        return match may_be_meant {
            true => Missing::Unknown("which solutions are wanted is not said".into()),
            false => Missing::Root(told),
        };
    }
    let mut searched = 0;
    for (low, high) in WINDOWS {
        let zeros = roots::zeros(&curve, Interval::new(low, high), &mut budget);
        if let Some(told) = first_missing(equation, &known, &zeros.found) {
            return Missing::Root(told);
        }
        if !zeros.is_complete {
            break;
        }
        searched += 1;
    }
    match searched {
        0 => Missing::Unknown("there are too many places to look at".into()),
        _ => Missing::Nothing,
    }
}

/// The first zero that is a solution in the domain and not known.
pub(super) fn first_missing(
    equation: &Equation,
    known: &[Interval],
    zeros: &[Zero],
) -> Option<String> {
    for zero in zeros {
        let slack = zero.within.width();
        let wide = Interval::new(zero.within.low - slack, zero.within.high + slack);
        if known.iter().any(|known| near(*known, wide)) {
            continue;
        }
        for candidate in candidates(zero.within) {
            if equation.at(&candidate) == Holds::Yes {
                let Value::Real(at) = equivalence::value(&candidate, equation.reading) else {
                    continue;
                };
                if is_in_domain(equation, at) {
                    return Some(told(equation, &candidate));
                }
            }
        }
        if zero.is_certain
            && is_in_domain(equation, zero.within)
            && is_defined(equation, zero.within)
        {
            return Some(about(equation, zero.within));
        }
    }
    None
}

/// Short numbers near a place: fractions and multiples of π.
fn candidates(within: Interval) -> Vec<Expression> {
    let middle = within.middle();
    let slack = within.width() + 1e-6 * (1.0 + middle.abs());
    let mut found = Vec::new();
    for denominator in [1_i64, 2, 3, 4, 5, 6, 7, 8, 9, 10, 12, 16] {
        let numerator = libm::round(middle * denominator as f64);
        if (numerator / denominator as f64 - middle).abs() <= slack && numerator.abs() < 1e9 {
            let value = Rational::fraction(numerator as i64, denominator);
            found.push(Expression::rational(&value.to_big()));
            break;
        }
    }
    let pi = std::f64::consts::PI;
    for denominator in [1_i64, 2, 3, 4, 6, 8, 12, 5, 10, 24] {
        let numerator = libm::round(middle / pi * denominator as f64);
        let is_near = (numerator * pi / denominator as f64 - middle).abs() <= slack;
        if is_near && numerator != 0.0 && numerator.abs() < 1e4 {
            let pi = Expression::constant(Constant::Pi);
            let numerator = numerator as i64;
            let above = match numerator.abs() {
                1 => pi,
                n => Expression::product([Expression::integer(n), pi]),
            };
            let value = match denominator {
                1 => above,
                d => Expression::fraction(above, Expression::integer(d)),
            };
            found.push(match numerator < 0 {
                true => Expression::negative(value),
                false => value,
            });
            break;
        }
    }
    found
}

fn told(equation: &Equation, value: &Expression) -> String {
    match equation.domain.in_degrees {
        true => match super::claims::bounds(value) {
            Some(at) => about(equation, at),
            None => substitution::assignment(&equation.variable, value),
        },
        false => substitution::assignment(&equation.variable, value),
    }
}

fn about(equation: &Equation, within: Interval) -> String {
    let name = equivalence::name(&equation.variable);
    match equation.domain.in_degrees {
        true => format!(
            "{name} ≈ {}°",
            equivalence::number(within.middle() * 180.0 / std::f64::consts::PI)
        ),
        false => format!("{name} ≈ {}", equivalence::number(within.middle())),
    }
}
