//! What is a polynomial in kernels?
//!
//! A *kernel* is an expression that is not looked into: a letter, `\sin x`, `e^{x}`, `\sqrt{x+1}`
//! as the power 1/2 of `x + 1`. Exponents are rational numbers, never negative in a
//! [`Polynomial`] on its own.

use std::cmp::Ordering;

use smallvec::SmallVec;

use super::Unfit;
use crate::expression::Expression;
use crate::rational::{Rational, content};
use crate::univariate::Univariate;

/// A product of powers of kernels.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Monomial {
    // By kernel, each once, with an exponent other than 0.
    powers: SmallVec<[(Expression, Rational); 2]>,
}

/// A sum of monomials with coefficients.
#[derive(Clone, Debug, Default, PartialEq, Eq, Hash)]
pub struct Polynomial {
    // Descending, each monomial once, with a coefficient other than 0.
    terms: Vec<(Monomial, Rational)>,
}

/// The greatest number of products of terms that one calculation may need.
const MAX_PRODUCTS: usize = 40_000;

/// The greatest number of terms of a polynomial.
const MAX_TERMS: usize = 600;

/// The highest degree in one kernel that common divisors are looked for in.
const MAX_DEGREE: i64 = 60;

impl Monomial {
    /// The empty product.
    pub fn one() -> Self {
        Self::default()
    }

    /// The power of one kernel.
    pub fn power(kernel: Expression, exponent: Rational) -> Self {
        let mut powers = SmallVec::new();
        if !exponent.is_zero() {
            powers.push((kernel, exponent));
        }
        Self { powers }
    }

    /// The kernels and their exponents, by kernel.
    pub fn powers(&self) -> &[(Expression, Rational)] {
        &self.powers
    }

    /// It is the empty product.
    pub fn is_one(&self) -> bool {
        self.powers.is_empty()
    }

    /// The exponent of a kernel; 0 if it does not occur.
    pub fn exponent(&self, kernel: &Expression) -> Rational {
        match self.powers.iter().find(|(k, _)| k == kernel) {
            Some((_, exponent)) => exponent.clone(),
            None => Rational::ZERO,
        }
    }

    /// The sum of the exponents.
    pub fn degree(&self) -> Rational {
        self.powers
            .iter()
            .fold(Rational::ZERO, |sum, (_, exponent)| sum + exponent)
    }

    /// The product.
    pub fn multiply(&self, other: &Self) -> Self {
        self.combine(other, |a, b| a + b, Clone::clone)
    }

    /// The quotient; exponents may become negative.
    pub fn divide(&self, other: &Self) -> Self {
        self.combine(other, |a, b| a - b, |b| -b)
    }

    fn combine(
        &self,
        other: &Self,
        both: impl Fn(&Rational, &Rational) -> Rational,
        only: impl Fn(&Rational) -> Rational,
    ) -> Self {
        let mut powers = SmallVec::with_capacity(self.powers.len() + other.powers.len());
        let (mut left, mut right) = (
            self.powers.iter().peekable(),
            other.powers.iter().peekable(),
        );
        loop {
            let order = match (left.peek(), right.peek()) {
                (None, None) => break,
                (Some(_), None) => Ordering::Less,
                (None, Some(_)) => Ordering::Greater,
                (Some((a, _)), Some((b, _))) => a.cmp(b),
            };
            match order {
                Ordering::Less => powers.extend(left.next().cloned()),
                Ordering::Greater => {
                    powers.extend(right.next().map(|(kernel, e)| (kernel.clone(), only(e))));
                }
                Ordering::Equal => {
                    if let (Some((kernel, a)), Some((_, b))) = (left.next(), right.next()) {
                        let exponent = both(a, b);
                        if !exponent.is_zero() {
                            powers.push((kernel.clone(), exponent));
                        }
                    }
                }
            }
        }
        Self { powers }
    }

    /// Every exponent multiplied by a number.
    pub fn raise(&self, exponent: &Rational) -> Self {
        if exponent.is_zero() {
            return Self::one();
        }
        let powers = self
            .powers
            .iter()
            .map(|(kernel, e)| (kernel.clone(), e * exponent));
        Self {
            powers: powers.collect(),
        }
    }

    /// The kernels with the smaller of both exponents.
    fn common(&self, other: &Self) -> Self {
        let powers = self.powers.iter().filter_map(|(kernel, exponent)| {
            let least = other.exponent(kernel).min(exponent.clone());
            (!least.is_zero()).then(|| (kernel.clone(), least))
        });
        Self {
            powers: powers.collect(),
        }
    }

    /// The monomial split into the kernels that pass a test and the others.
    pub fn split(&self, mut test: impl FnMut(&Expression) -> bool) -> (Self, Self) {
        let (mut passed, mut others) = (Self::one(), Self::one());
        for (kernel, exponent) in &self.powers {
            match test(kernel) {
                true => &mut passed,
                false => &mut others,
            }
            .powers
            .push((kernel.clone(), exponent.clone()));
        }
        (passed, others)
    }
}

impl Ord for Monomial {
    /// By degree, then by the exponents of the kernels in their order.
    fn cmp(&self, other: &Self) -> Ordering {
        self.degree().cmp(&other.degree()).then_with(|| {
            let pairs = self.powers.iter().zip(&other.powers);
            for ((a, m), (b, n)) in pairs {
                // The kernel that comes first makes the greater monomial.
                let order = b.cmp(a).then_with(|| m.cmp(n));
                if order != Ordering::Equal {
                    return order;
                }
            }
            self.powers.len().cmp(&other.powers.len())
        })
    }
}

impl PartialOrd for Monomial {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}

impl Polynomial {
    /// 0.
    pub fn zero() -> Self {
        Self::default()
    }

    /// 1.
    pub fn one() -> Self {
        Self::constant(Rational::ONE)
    }

    /// A number.
    pub fn constant(value: Rational) -> Self {
        Self::term(Monomial::one(), value)
    }

    /// A kernel.
    pub fn kernel(kernel: Expression) -> Self {
        Self::term(Monomial::power(kernel, Rational::ONE), Rational::ONE)
    }

    /// A monomial with a coefficient.
    pub fn term(monomial: Monomial, coefficient: Rational) -> Self {
        match coefficient.is_zero() {
            true => Self::zero(),
            false => Self {
                terms: vec![(monomial, coefficient)],
            },
        }
    }

    /// The sum of terms in any order.
    pub fn from_terms(mut terms: Vec<(Monomial, Rational)>) -> Self {
        terms.sort_by(|(a, _), (b, _)| b.cmp(a));
        let mut sum: Vec<(Monomial, Rational)> = Vec::with_capacity(terms.len());
        for (monomial, coefficient) in terms {
            match sum.last_mut() {
                Some((last, total)) if *last == monomial => *total = &*total + &coefficient,
                _ => sum.push((monomial, coefficient)),
            }
        }
        sum.retain(|(_, coefficient)| !coefficient.is_zero());
        Self { terms: sum }
    }

    /// The terms, the greatest monomial first.
    pub fn terms(&self) -> &[(Monomial, Rational)] {
        &self.terms
    }

    /// It is 0.
    pub fn is_zero(&self) -> bool {
        self.terms.is_empty()
    }

    /// It is 1.
    pub fn is_one(&self) -> bool {
        self.as_constant().is_some_and(|value| value.is_one())
    }

    /// Its value, if it is a number.
    pub fn as_constant(&self) -> Option<Rational> {
        match self.terms.as_slice() {
            [] => Some(Rational::ZERO),
            [(monomial, coefficient)] if monomial.is_one() => Some(coefficient.clone()),
            _ => None,
        }
    }

    /// The only term, if there is one.
    pub fn as_term(&self) -> Option<(&Monomial, &Rational)> {
        match self.terms.as_slice() {
            [(monomial, coefficient)] => Some((monomial, coefficient)),
            _ => None,
        }
    }

    /// The coefficient of the greatest monomial; 0 of 0.
    pub fn leading(&self) -> Rational {
        self.terms
            .first()
            .map_or(Rational::ZERO, |(_, coefficient)| coefficient.clone())
    }

    /// The kernels that occur, each once, in their order.
    pub fn kernels(&self) -> Vec<&Expression> {
        let powers = self
            .terms
            .iter()
            .flat_map(|(monomial, _)| monomial.powers());
        let mut kernels: Vec<&Expression> = powers.map(|(kernel, _)| kernel).collect();
        kernels.sort_unstable();
        kernels.dedup();
        kernels
    }

    /// The sum.
    pub fn add(&self, other: &Self) -> Self {
        if self.is_zero() {
            return other.clone();
        }
        let both = self.terms.iter().chain(&other.terms).cloned();
        Self::from_terms(both.collect())
    }

    /// The difference.
    pub fn subtract(&self, other: &Self) -> Self {
        self.add(&other.scale(&Rational::integer(-1)))
    }

    /// The product with a number.
    pub fn scale(&self, factor: &Rational) -> Self {
        if factor.is_zero() {
            return Self::zero();
        }
        if factor.is_one() {
            return self.clone();
        }
        let terms = self.terms.iter().map(|(m, c)| (m.clone(), c * factor));
        Self {
            terms: terms.collect(),
        }
    }

    /// The product with a monomial.
    pub fn shift(&self, by: &Monomial) -> Self {
        if by.is_one() {
            return self.clone();
        }
        let terms = self.terms.iter().map(|(m, c)| (m.multiply(by), c.clone()));
        Self::from_terms(terms.collect())
    }

    /// The product.
    pub fn multiply(&self, other: &Self) -> Result<Self, Unfit> {
        if self.terms.len() * other.terms.len() > MAX_PRODUCTS {
            return Err(Unfit::TooLarge);
        }
        let mut terms = Vec::with_capacity(self.terms.len() * other.terms.len());
        for (m, c) in &self.terms {
            for (n, d) in &other.terms {
                terms.push((m.multiply(n), c * d));
            }
        }
        let product = Self::from_terms(terms);
        match product.terms.len() > MAX_TERMS {
            true => Err(Unfit::TooLarge),
            false => Ok(product),
        }
    }

    /// The multiple with whole coefficients without a common divisor and a positive leading one,
    /// and the number that it was divided by.
    pub fn primitive(&self) -> (Self, Rational) {
        let mut common = Rational::ZERO;
        for (_, coefficient) in &self.terms {
            common = content(&common, coefficient);
        }
        if self.leading().is_negative() {
            common = -common;
        }
        match common.reciprocal() {
            Some(factor) => (self.scale(&factor), common),
            None => (self.clone(), Rational::ONE),
        }
    }

    /// The greatest monomial that divides every term; exponents may be negative if all are.
    pub fn common_monomial(&self) -> Monomial {
        let mut terms = self.terms.iter().map(|(monomial, _)| monomial);
        let Some(first) = terms.next() else {
            return Monomial::one();
        };
        let mut common = first.clone();
        for monomial in terms {
            // A kernel that is missing has exponent 0, which is the lesser one unless the other
            // is negative.
            let missing = common.common(monomial);
            let negative = monomial.powers.iter().filter(|(kernel, exponent)| {
                exponent.is_negative() && missing.exponent(kernel).is_zero()
            });
            let mut powers = missing.powers.clone();
            powers.extend(negative.cloned());
            powers.sort_by(|(a, _), (b, _)| a.cmp(b));
            common = Monomial { powers };
        }
        common
    }

    /// The coefficients of the powers of a kernel, with the exponents descending.
    pub fn in_kernel(&self, kernel: &Expression) -> Vec<(Rational, Polynomial)> {
        let mut groups: Vec<(Rational, Vec<(Monomial, Rational)>)> = Vec::new();
        for (monomial, coefficient) in &self.terms {
            let (power, rest) = monomial.split(|k| k == kernel);
            let exponent = power.exponent(kernel);
            let term = (rest, coefficient.clone());
            match groups.iter_mut().find(|(e, _)| *e == exponent) {
                Some((_, terms)) => terms.push(term),
                None => groups.push((exponent, vec![term])),
            }
        }
        groups.sort_by(|(a, _), (b, _)| b.cmp(a));
        groups
            .into_iter()
            .map(|(exponent, terms)| (exponent, Self::from_terms(terms)))
            .collect()
    }

    /// The polynomial in one kernel with rational coefficients, if it is one, and the exponent
    /// that counts as the first power.
    pub fn as_univariate(&self) -> Option<(Expression, Rational, Univariate)> {
        let mut kernel: Option<&Expression> = None;
        let mut unit = Rational::ZERO;
        for (monomial, _) in &self.terms {
            match (monomial.powers(), kernel) {
                ([], _) => {}
                ([(found, exponent)], None) => {
                    kernel = Some(found);
                    unit = content(&unit, exponent);
                }
                ([(found, exponent)], Some(known)) if found == known => {
                    unit = content(&unit, exponent);
                }
                _ => return None,
            }
        }
        let kernel = kernel?.clone();
        // Only a fraction is a unit of its own: a polynomial in x^2 is one in x.
        let unit = match unit.is_integer() {
            true => Rational::ONE,
            false => Rational::ONE.checked_div(&unit.denominator())?,
        };
        let mut coefficients = Vec::new();
        for (monomial, coefficient) in &self.terms {
            let degree = monomial.exponent(&kernel).checked_div(&unit)?.as_i64()?;
            if !(0..=MAX_DEGREE).contains(&degree) {
                return None;
            }
            let degree = degree as usize;
            if coefficients.len() <= degree {
                coefficients.resize(degree + 1, Rational::ZERO);
            }
            coefficients[degree] = coefficient.clone();
        }
        Some((kernel, unit, Univariate::new(coefficients)))
    }

    /// The polynomial in powers of a kernel with these coefficients.
    pub fn from_univariate(kernel: &Expression, unit: &Rational, values: &Univariate) -> Self {
        let terms = values.coefficients().iter().enumerate();
        Self::from_terms(
            terms
                .filter(|(_, c)| !c.is_zero())
                .map(|(degree, coefficient)| {
                    let exponent = unit * &Rational::integer(degree as i64);
                    (
                        Monomial::power(kernel.clone(), exponent),
                        coefficient.clone(),
                    )
                })
                .collect(),
        )
    }

    /// The quotient, if the divisor divides it.
    pub fn divide_exactly(&self, divisor: &Self) -> Option<Self> {
        if let Some((monomial, coefficient)) = divisor.as_term() {
            let factor = coefficient.reciprocal()?;
            let terms = self
                .terms
                .iter()
                .map(|(m, c)| (m.divide(monomial), c * &factor));
            let quotient = Self::from_terms(terms.collect());
            let is_whole = quotient
                .terms
                .iter()
                .all(|(m, _)| m.powers.iter().all(|(_, exponent)| !exponent.is_negative()));
            return is_whole.then_some(quotient);
        }
        if self.is_zero() {
            return Some(Self::zero());
        }
        let kernel = divisor.kernels().first().map(|kernel| (*kernel).clone())?;
        let parts = divisor.in_kernel(&kernel);
        let (high, leading) = parts.first()?;
        let mut rest = self.clone();
        let mut quotient = Self::zero();
        // Each step removes the highest power, of which there are at most so many.
        for _ in 0..MAX_TERMS {
            if rest.is_zero() {
                return Some(quotient);
            }
            let (exponent, coefficient) = rest.in_kernel(&kernel).into_iter().next()?;
            if exponent < *high {
                return None;
            }
            let factor = coefficient
                .divide_exactly(leading)?
                .shift(&Monomial::power(kernel.clone(), exponent - high));
            rest = rest.subtract(&factor.multiply(divisor).ok()?);
            quotient = quotient.add(&factor);
        }
        None
    }

    /// The greatest common divisor, primitive. (Primitive remainder sequences in one kernel after
    /// the other; Knuth, The Art of Computer Programming, volume 2, section 4.6.1.)
    pub fn gcd(&self, other: &Self) -> Result<Self, Unfit> {
        let mut budget = 400;
        self.gcd_within(other, &mut budget)
    }

    fn gcd_within(&self, other: &Self, budget: &mut u32) -> Result<Self, Unfit> {
        *budget = budget.checked_sub(1).ok_or(Unfit::TooLarge)?;
        if self.is_zero() {
            return Ok(other.primitive().0);
        }
        if other.is_zero() {
            return Ok(self.primitive().0);
        }
        let (left, right) = (self.common_monomial(), other.common_monomial());
        let common = Self::term(left.common(&right), Rational::ONE);
        let strip = |polynomial: &Self, by: &Monomial| match by.is_one() {
            true => polynomial.clone(),
            false => {
                let terms = polynomial.terms.iter();
                Self::from_terms(terms.map(|(m, c)| (m.divide(by), c.clone())).collect())
            }
        };
        let (mut a, mut b) = (strip(self, &left), strip(other, &right));
        if a.terms.len() <= 1 || b.terms.len() <= 1 {
            return Ok(common);
        }
        if let (Some((k, u, p)), Some((l, v, q))) = (a.as_univariate(), b.as_univariate())
            && k == l
            && u == v
        {
            let gcd = Self::from_univariate(&k, &u, &p.gcd(&q));
            return common.multiply(&gcd);
        }
        // What divides both is free of a kernel that only one of them has: it divides the
        // coefficients.
        loop {
            let mine = a.kernels().into_iter().find(|k| !b.has_kernel(k)).cloned();
            let theirs = b.kernels().into_iter().find(|k| !a.has_kernel(k)).cloned();
            match (mine, theirs) {
                (None, None) => break,
                (Some(kernel), _) => a = a.kernel_content(&kernel, budget)?,
                (_, Some(kernel)) => b = b.kernel_content(&kernel, budget)?,
            }
            if a.terms.len() <= 1 || b.terms.len() <= 1 {
                return Ok(common);
            }
        }
        let Some(kernel) = a.kernels().first().map(|kernel| (*kernel).clone()) else {
            return Ok(common);
        };
        let (content_a, content_b) = (
            a.kernel_content(&kernel, budget)?,
            b.kernel_content(&kernel, budget)?,
        );
        let contents = content_a.gcd_within(&content_b, budget)?;
        let exactly = |p: &Self, q: &Self| p.divide_exactly(q).ok_or(Unfit::TooLarge);
        let (mut a, mut b) = (exactly(&a, &content_a)?, exactly(&b, &content_b)?);
        if a.highest(&kernel) < b.highest(&kernel) {
            std::mem::swap(&mut a, &mut b);
        }
        while !b.is_zero() {
            let rest = a.pseudo_remainder(&b, &kernel, budget)?;
            let rest = match rest.is_zero() {
                true => rest,
                false => {
                    let content = rest.kernel_content(&kernel, budget)?;
                    exactly(&rest, &content)?.primitive().0
                }
            };
            (a, b) = (b, rest);
        }
        let gcd = match a.has_kernel(&kernel) {
            true => contents.multiply(&a)?,
            false => contents,
        };
        Ok(common.multiply(&gcd)?.primitive().0)
    }

    fn has_kernel(&self, kernel: &Expression) -> bool {
        let mut powers = self
            .terms
            .iter()
            .flat_map(|(monomial, _)| monomial.powers());
        powers.any(|(found, _)| found == kernel)
    }

    fn highest(&self, kernel: &Expression) -> Rational {
        let exponents = self
            .terms
            .iter()
            .map(|(monomial, _)| monomial.exponent(kernel));
        exponents.max().unwrap_or(Rational::ZERO)
    }

    /// The greatest common divisor of the coefficients of the powers of a kernel.
    fn kernel_content(&self, kernel: &Expression, budget: &mut u32) -> Result<Self, Unfit> {
        let mut content = Self::zero();
        for (_, coefficient) in self.in_kernel(kernel) {
            content = content.gcd_within(&coefficient, budget)?;
            if content.as_constant().is_some() {
                return Ok(Self::one());
            }
        }
        Ok(content)
    }

    /// The remainder of a multiple that can be divided without fractions.
    fn pseudo_remainder(
        &self,
        divisor: &Self,
        kernel: &Expression,
        budget: &mut u32,
    ) -> Result<Self, Unfit> {
        let parts = divisor.in_kernel(kernel);
        let Some((high, leading)) = parts.first() else {
            return Err(Unfit::TooLarge);
        };
        let mut rest = self.clone();
        loop {
            *budget = budget.checked_sub(1).ok_or(Unfit::TooLarge)?;
            let Some((exponent, coefficient)) = rest.in_kernel(kernel).into_iter().next() else {
                return Ok(rest);
            };
            if exponent < *high {
                return Ok(rest);
            }
            let shift = Monomial::power(kernel.clone(), exponent - high);
            let subtracted = divisor.multiply(&coefficient)?.shift(&shift);
            rest = rest.multiply(leading)?.subtract(&subtracted).primitive().0;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn letter(name: &str) -> Polynomial {
        Polynomial::kernel(Expression::symbol(name))
    }

    fn polynomial() -> impl Strategy<Value = Polynomial> {
        prop::collection::vec((0..3_i64, 0..3_i64, -4..5_i64), 1..4).prop_map(|terms| {
            Polynomial::from_terms(
                terms
                    .into_iter()
                    .map(|(m, n, c)| {
                        let x = Monomial::power(Expression::symbol("x"), m.into());
                        let y = Monomial::power(Expression::symbol("y"), n.into());
                        (x.multiply(&y), c.into())
                    })
                    .collect(),
            )
        })
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        #[test]
        fn a_common_factor_is_found(a in polynomial(), b in polynomial(), common in polynomial()) {
            let (left, right) = (a.multiply(&common).unwrap(), b.multiply(&common).unwrap());
            let gcd = left.gcd(&right).unwrap();
            if !left.is_zero() && !right.is_zero() {
                prop_assert!(left.divide_exactly(&gcd).is_some());
                prop_assert!(right.divide_exactly(&gcd).is_some());
                prop_assert!(gcd.divide_exactly(&common).is_some(), "{gcd:?}");
                prop_assert_eq!(&gcd, &right.gcd(&left).unwrap());
            }
        }

        #[test]
        fn division_undoes_multiplication(a in polynomial(), b in polynomial()) {
            if !b.is_zero() {
                let product = a.multiply(&b).unwrap();
                prop_assert_eq!(product.divide_exactly(&b), Some(a));
            }
        }

        #[test]
        fn monomials_are_in_one_order(a in polynomial(), b in polynomial(), c in polynomial()) {
            let greatest = |p: &Polynomial| p.terms.first().map(|(m, _)| m.clone());
            let (a, b, c) = (greatest(&a), greatest(&b), greatest(&c));
            prop_assert_eq!(a.cmp(&b), b.cmp(&a).reverse());
            if a <= b && b <= c {
                prop_assert!(a <= c);
            }
        }
    }

    #[test]
    fn what_does_not_divide_is_refused() {
        let sum = letter("x").add(&letter("y"));
        assert_eq!(letter("x").divide_exactly(&sum), None);
        assert_eq!(sum.divide_exactly(&letter("x")), None);
        assert_eq!(sum.gcd(&letter("x")).unwrap(), Polynomial::one());
    }
}
