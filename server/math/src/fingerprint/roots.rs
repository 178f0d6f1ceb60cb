//! What do the hidden numbers of a polynomial say about the method?

use smallvec::SmallVec;

use super::mask::{Mask, Place};
use crate::expression::{Expression, Function, Operator};
use crate::rational::{Rational, content};
use crate::stable_hash::Digest;
use crate::surface::{self, Base, Exponent, Factor, Term};
use crate::univariate::Univariate;

/// Polynomials of a higher degree than this are not looked into.
const MAX_DEGREE: i64 = 12;

/// What a polynomial is in: `x`, `\sin x`, `\sqrt x`, `e^{2x}`.
#[derive(Clone, Copy)]
pub(super) struct Kernel<'a> {
    inner: Inner<'a>,
    /// Only even roots of the part occur, so that no value is negative.
    is_root: bool,
}

#[derive(Clone, Copy)]
enum Inner<'a> {
    Part(&'a Expression),
    /// A power whose exponent varies. The base is e where there is none.
    Exponential {
        base: Option<(i64, i64)>,
        of: &'a Expression,
    },
}

impl Inner<'_> {
    fn is_same(&self, other: &Self) -> bool {
        match (self, other) {
            (Inner::Part(a), Inner::Part(b)) => a == b,
            (Inner::Exponential { base: a, of: x }, Inner::Exponential { base: b, of: y }) => {
                a == b && x == y
            }
            _ => false,
        }
    }
}

/// A sum as a polynomial in one kernel with rational coefficients, if it is one.
pub(super) fn polynomial<'a>(
    mask: &Mask<'_>,
    terms: &[Term<'a>],
) -> Option<(Kernel<'a>, Univariate)> {
    let mut kernel: Option<Inner<'a>> = None;
    let mut powers: SmallVec<[(Rational, Rational); 6]> = SmallVec::new();
    for term in terms {
        let mut power = Rational::ZERO;
        let mut coefficient = term.coefficient.clone();
        for factor in &term.factors {
            let (inner, exponent, extra) = kernel_power(mask, factor)?;
            match &kernel {
                Some(known) if !known.is_same(&inner) => return None,
                Some(_) => {}
                None => kernel = Some(inner),
            }
            power = power + exponent;
            coefficient = coefficient * extra;
        }
        powers.push((power, coefficient));
    }
    let inner = kernel?;
    // A polynomial in x^2 is one in x; only exponentials and roots have a unit of their own.
    let mut unit = match inner {
        Inner::Part(_) => Rational::ONE,
        Inner::Exponential { .. } => Rational::ZERO,
    };
    for (power, _) in &powers {
        unit = content(&unit, power);
    }
    let lowest = powers.iter().map(|(power, _)| power).min()?.clone();
    let shift = if lowest.is_negative() {
        lowest
    } else {
        Rational::ZERO
    };
    let mut coefficients: Vec<Rational> = Vec::new();
    for (power, coefficient) in powers {
        let degree = (power - &shift).checked_div(&unit)?.as_i64()?;
        if !(0..=MAX_DEGREE).contains(&degree) {
            return None;
        }
        let degree = degree as usize;
        if coefficients.len() <= degree {
            coefficients.resize(degree + 1, Rational::ZERO);
        }
        coefficients[degree] = &coefficients[degree] + &coefficient;
    }
    let is_root = unit
        .denominator()
        .as_i64()
        .is_some_and(|denominator| denominator % 2 == 0)
        && matches!(inner, Inner::Part(_));
    Some((Kernel { inner, is_root }, Univariate::new(coefficients)))
}

/// The kernel of a factor, its exponent, and a number that was taken out of it.
fn kernel_power<'a>(
    mask: &Mask<'_>,
    factor: &Factor<'a>,
) -> Option<(Inner<'a>, Rational, Rational)> {
    match (&factor.exponent, factor.base) {
        (Exponent::Number(exponent), Base::Part(part)) => {
            let is_kernel = mask.varies(part)
                && !matches!(part.operator(), Operator::Product | Operator::Fraction);
            is_kernel.then(|| (Inner::Part(part), exponent.clone(), Rational::ONE))
        }
        (Exponent::Number(_), Base::E) => None,
        (Exponent::Symbolic { exponent, negated }, base) => {
            let base = match base {
                Base::E => None,
                Base::Part(part) => Some(surface::number(part)?),
            };
            let mut multiplier = None;
            let mut shift = Rational::ZERO;
            for term in surface::terms(exponent) {
                match term.factors.as_slice() {
                    [] => shift = shift + term.coefficient,
                    [
                        Factor {
                            base: Base::Part(of),
                            exponent: Exponent::Number(one),
                        },
                    ] if one.is_one() && multiplier.is_none() => {
                        multiplier = Some((term.coefficient, *of));
                    }
                    _ => return None,
                }
            }
            let (mut multiplier, of) = multiplier?;
            let mut extra = Rational::ONE;
            let base = match base {
                None if shift.is_zero() => None,
                None => return None,
                Some(base) if base.is_positive() && !base.is_one() => {
                    extra = base.pow(shift.as_i64()?)?;
                    let (root, exponent) = primitive_root(&base)?;
                    multiplier = multiplier * Rational::integer(exponent);
                    Some(root)
                }
                Some(_) => return None,
            };
            if *negated {
                multiplier = -multiplier;
                extra = extra.reciprocal()?;
            }
            Some((Inner::Exponential { base, of }, multiplier, extra))
        }
    }
}

/// The number of which a positive number other than 1 is a whole power, and the exponent: 8 is
/// 2^3, 1/9 is 3^(-2).
fn primitive_root(number: &Rational) -> Option<((i64, i64), i64)> {
    if number.is_one() || !number.is_positive() {
        return None;
    }
    for degree in (2..=20_u32).rev() {
        if let Some(root) = number.root(degree) {
            let (root, exponent) = primitive_root(&root)?;
            return Some((root, exponent * i64::from(degree)));
        }
    }
    let (n, d) = number.as_fraction()?;
    match n < d {
        true => Some(((d, n), -1)),
        false => Some(((n, d), 1)),
    }
}

/// The kinds of the roots of a polynomial: how many are rational and how often each counts, and
/// for the rest whether they are real. None for a linear polynomial, whose one root is rational.
pub(super) fn kinds(polynomial: &Univariate) -> Option<Digest> {
    if polynomial.degree() < 2 {
        return None;
    }
    let mut kinds: SmallVec<[Digest; 6]> = SmallVec::new();
    let mut add = |kind: u64, multiplicity: u32| {
        kinds.push(Digest::tag(kind).with(multiplicity.into()));
    };
    if let Some(discriminant) = polynomial
        .discriminant()
        .filter(|_| polynomial.degree() == 2)
    {
        // The quadratic is by far the most frequent, and needs no factoring.
        match () {
            () if discriminant.is_zero() => add(0, 2),
            () if discriminant.is_negative() => add(2, 1),
            () if discriminant.is_square() => {
                add(0, 1);
                add(0, 1);
            }
            () => add(1, 1),
        }
    } else {
        for (factor, multiplicity) in polynomial.square_free_factors() {
            let (roots, rest) = factor.rational_roots();
            for root in roots {
                add(if root.is_zero() { 3 } else { 0 }, multiplicity);
            }
            match rest.degree() {
                0 => {}
                degree => {
                    let real = rest.count_real_roots(None, None) as u64;
                    add(16 * degree as u64 + real, multiplicity);
                }
            }
        }
    }
    Some(Digest::tag(polynomial.degree() as u64).then(Digest::of_bag(&mut kinds)))
}

/// The factors of a product that numerator and denominator share, and those that differ in the
/// sign of one term only.
pub(super) fn common(mask: &Mask<'_>, term: &Term<'_>) -> Option<Digest> {
    let polynomials: SmallVec<[(Univariate, bool); 4]> = term
        .factors
        .iter()
        .filter_map(|factor| {
            let Exponent::Number(exponent) = &factor.exponent else {
                return None;
            };
            let part = factor.base.part()?;
            let (_, polynomial) = polynomial(mask, &surface::terms(part))?;
            Some((polynomial, exponent.is_negative()))
        })
        .collect();
    let mut bits: SmallVec<[Digest; 6]> = SmallVec::new();
    for (place, (left, is_below)) in polynomials.iter().enumerate() {
        for (right, other_is_below) in &polynomials[place + 1..] {
            if is_below != other_is_below {
                bits.push(Digest::tag(left.gcd(right).degree() as u64));
            } else if left.degree() == 1 && right.degree() == 1 {
                let (l, r) = (left.primitive(), right.primitive());
                let opposite = l.coefficient(0) == -r.coefficient(0)
                    && l.leading() == r.leading()
                    && !l.coefficient(0).is_zero();
                bits.push(Digest::tag(
                    32 + u64::from(opposite) + 2 * u64::from(l == r),
                ));
            }
        }
    }
    match bits.is_empty() {
        true => None,
        false => Some(Digest::of_bag(&mut bits)),
    }
}

/// The sign of the highest coefficient of a polynomial, or of the first term that varies.
pub(super) fn leading_is_negative(mask: &Mask<'_>, terms: &[Term<'_>]) -> bool {
    match polynomial(mask, terms) {
        Some((_, polynomial)) => polynomial.leading().is_negative(),
        None => {
            let varying = terms.iter().filter(|term| {
                let mut parts = term.factors.iter().filter_map(|factor| factor.base.part());
                parts.any(|part| mask.varies(part))
            });
            // The sum is the same whatever its order, and so must be the choice of a term.
            let first = varying.min_by_key(|term| mask.product(term, Place::PLAIN));
            first.is_some_and(|term| term.coefficient.is_negative())
        }
    }
}

/// What the values that an isolated kernel must take say: `|u| = -1` has no solution, `\sin u = 2`
/// neither, `\sin u = 1/2` an angle that one knows.
pub(super) fn isolated(mask: &Mask<'_>, terms: &[Term<'_>], is_order: bool) -> Option<Digest> {
    let (kernel, polynomial) = polynomial(mask, terms)?;
    let count = |low: Option<i64>, high: Option<i64>| {
        let (low, high) = (low.map(Rational::integer), high.map(Rational::integer));
        polynomial.count_real_roots(low.as_ref(), high.as_ref()) as u64
    };
    let is_root = |value: i64| polynomial.at(&Rational::integer(value)).is_zero();
    let hash = match kernel.inner {
        Inner::Exponential { base, .. } => {
            let (roots, rest) = polynomial.rational_roots();
            let powers = roots.iter().filter(|root| {
                let (Some(base), true) = (base, root.is_positive()) else {
                    return root.is_one();
                };
                root.is_one() || primitive_root(root).is_some_and(|(root, _)| root == base)
            });
            Digest::tag(1)
                .with(count(Some(0), None))
                .with(powers.count() as u64)
                .with((rest.degree() > 0).into())
        }
        _ if kernel.is_root => Digest::tag(2).with(count(Some(0), None) + u64::from(is_root(0))),
        Inner::Part(part) => match part.operator() {
            Operator::Function(Function::Abs) => Digest::tag(3)
                .with(count(Some(0), None))
                .with(is_root(0).into()),
            Operator::Function(Function::Sin | Function::Cos) => {
                let inside = count(Some(-1), Some(1)) + u64::from(is_root(-1));
                let (roots, _) = polynomial.rational_roots();
                let known = roots
                    .iter()
                    .filter(|root| matches!(root.as_fraction(), Some((-1..=1, 1 | 2))));
                Digest::tag(4).with(inside).with(known.count() as u64)
            }
            Operator::Function(Function::Tan) => {
                let (roots, _) = polynomial.rational_roots();
                let known = roots.iter().filter(|r| matches!(r.as_i64(), Some(-1..=1)));
                Digest::tag(5).with(known.count() as u64)
            }
            _ if is_order && polynomial.degree() >= 2 => {
                // Where there is no real root, everything or nothing is a solution.
                Digest::tag(6).with(u64::from(count(None, None) > 0))
            }
            _ => return None,
        },
    };
    Some(hash)
}

/// What the numbers in a calculation say: which roots are whole, which radicands have the same
/// square-free part, which denominators are equal, which logarithms are whole.
pub(super) fn of_numbers(expression: &Expression) -> Digest {
    let operands = expression.operands();
    match expression.operator() {
        Operator::Root | Operator::NthRoot => {
            let degree = operands.get(1).and_then(surface::number);
            let degree = degree.and_then(|d| d.as_i64()).unwrap_or(2).clamp(1, 64) as u32;
            match operands.first().and_then(surface::number) {
                Some(radicand) => Digest::tag(1)
                    .with(radicand.is_negative().into())
                    .with(radicand.root(degree).is_some().into())
                    .with(u64::from(!is_power_free(&radicand, degree))),
                None => Digest::tag(0),
            }
        }
        Operator::Power => {
            let exponent = operands.get(1).and_then(surface::number);
            let base = operands.first().and_then(surface::number);
            match (base, exponent) {
                (Some(base), Some(exponent)) => {
                    let degree = exponent.denominator().as_i64().unwrap_or(1).clamp(1, 64);
                    Digest::tag(2)
                        .with(base.is_negative().into())
                        .with(exponent.is_negative().into())
                        .with(degree as u64)
                        .with(exponent.numerator().as_i64().unwrap_or(0).rem_euclid(2) as u64)
                        .with(base.root(degree as u32).is_some().into())
                }
                _ => Digest::tag(0),
            }
        }
        Operator::Sum => {
            let terms = surface::terms(expression);
            let mut kinds: SmallVec<[Digest; 6]> = SmallVec::new();
            for term in &terms {
                let kind = number_kind(term);
                let alike = terms
                    .iter()
                    .filter(|other| number_kind(other) == kind)
                    .count();
                kinds.push(Digest::tag(alike as u64));
            }
            Digest::tag(3).then(Digest::of_bag(&mut kinds))
        }
        Operator::Function(Function::LogBase | Function::Log) => {
            let argument = operands.first().and_then(surface::number);
            let base = match operands.get(1) {
                Some(base) => surface::number(base),
                None => Some(Rational::integer(10)),
            };
            let is_whole = match (argument, base) {
                (Some(argument), Some(base)) if argument.is_positive() && base.is_positive() => {
                    match (primitive_root(&argument), primitive_root(&base)) {
                        _ if argument.is_one() => 1,
                        (Some((a, m)), Some((b, n))) if a == b => 2 + u64::from(m % n == 0),
                        _ => 0,
                    }
                }
                _ => 4,
            };
            Digest::tag(4).with(is_whole)
        }
        _ => Digest::tag(0),
    }
}

/// What terms must have in common to be added at once: the denominator, or the square-free part
/// below the root.
fn number_kind(term: &Term<'_>) -> Option<Rational> {
    match term.factors.as_slice() {
        [] => Some(term.coefficient.denominator()),
        [
            Factor {
                base: Base::Part(part),
                exponent: Exponent::Number(half),
            },
        ] if *half == Rational::fraction(1, 2) => square_free_part(&surface::number(part)?),
        _ => None,
    }
}

/// The number without its square divisors, negated so that it is no denominator.
fn square_free_part(radicand: &Rational) -> Option<Rational> {
    let mut left = radicand.as_i64().filter(|radicand| *radicand > 0)?;
    for root in 2..1_000 {
        let square = root * root;
        if square > left {
            break;
        }
        while left % square == 0 {
            left /= square;
        }
    }
    Some(Rational::integer(-left))
}

fn is_power_free(radicand: &Rational, degree: u32) -> bool {
    let (Some(radicand), true) = (radicand.as_i64(), degree >= 2) else {
        return true;
    };
    let powers = (2..1_000_i64).map_while(|root| {
        root.checked_pow(degree)
            .filter(|power| *power <= radicand.abs())
    });
    radicand == 0 || !powers.into_iter().any(|power| radicand % power == 0)
}
