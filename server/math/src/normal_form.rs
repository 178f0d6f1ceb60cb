//! Which expressions are equal by collecting alone?
//!
//! A [`Normal`] is a quotient of two polynomials in kernels, without a common divisor: products
//! are multiplied out, like terms collected, fractions brought to one denominator and reduced,
//! roots of numbers simplified. Powers of one base are merged, and exponentials are split into
//! powers of `e^{m}` for monomials m, so that `e^{2x}` is the square of `e^{x}`. Functions are
//! kernels: that `\sin^2 x + \cos^2 x` is 1 or `\ln ab = \ln a + \ln b` are laws, not part of
//! collecting.
//!
//! Two expressions with the same normal form are equal wherever both are defined. The converse
//! holds for rational functions of letters; not for functions between which there are identities.
//!
//! Nothing is assumed about the sign of a letter: `\sqrt{x^2}` is `|x|`. Powers with a fraction for
//! an exponent are the real ones of a first course (`x^{1/2}` needs x ≥ 0, `x^{1/3}` does not). A
//! power of −1 with a letter for an exponent is an alternating sign: the exponent is an integer.

mod express;
mod functions;
mod polynomial;

use std::ops::BitOr;

use num_traits::One;

pub use polynomial::{Monomial, Polynomial};

use crate::expression::{Constant, Expression, Function, Operator};
use crate::rational::Rational;

/// A quotient of polynomials in kernels.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Normal {
    // Without a common divisor. The denominator is primitive, and 1 if the numerator is 0.
    numerator: Polynomial,
    denominator: Polynomial,
}

/// Why an expression has no normal form.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Unfit {
    /// It divides by 0, or is otherwise without a value everywhere.
    Undefined,
    /// It is no number: a statement, a matrix, a gap.
    NoNumber,
    /// It is too large to be multiplied out.
    TooLarge,
}

/// What had to be done to reach a normal form, beyond reordering. A set.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Steps(u16);

impl Steps {
    /// Like terms were added.
    pub const COLLECT: Self = Self(1);
    /// Brackets were multiplied out.
    pub const EXPAND: Self = Self(2);
    /// Fractions were brought to a common denominator.
    pub const COMMON_DENOMINATOR: Self = Self(4);
    /// A fraction was reduced.
    pub const CANCEL: Self = Self(8);
    /// Powers were merged.
    pub const POWERS: Self = Self(16);
    /// A function or root of numbers was replaced by its value.
    pub const VALUES: Self = Self(32);

    /// Nothing was done.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The others.
    pub fn without(self, steps: Self) -> Self {
        Self(self.0 & !steps.0)
    }

    /// All of these are among them.
    pub fn contains(self, others: Self) -> bool {
        self.0 & others.0 == others.0
    }
}

impl BitOr for Steps {
    type Output = Self;

    fn bitor(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }
}

/// Expressions with more operators than this have no normal form.
const MAX_SIZE: usize = 3_000;

/// Nor have expressions with more levels than this.
const MAX_DEPTH: usize = 80;

/// The normal form of an expression.
pub fn normal(expression: &Expression) -> Result<Normal, Unfit> {
    normal_with_steps(expression).map(|(normal, _)| normal)
}

/// The normal form of an expression, and what had to be done to reach it.
pub fn normal_with_steps(expression: &Expression) -> Result<(Normal, Steps), Unfit> {
    if expression.size() > MAX_SIZE || expression.depth() > MAX_DEPTH {
        return Err(Unfit::TooLarge);
    }
    let mut collector = Collector {
        steps: Steps::default(),
        budget: 2_000,
    };
    let normal = collector.normal(expression)?;
    Ok((normal, collector.steps))
}

/// The expression with every part that is a number in normal form; a canonical way to write it.
/// Parts without a normal form keep theirs.
pub fn collected(expression: &Expression) -> Expression {
    match normal(expression) {
        Ok(normal) => normal.to_expression(),
        Err(Unfit::TooLarge) => expression.clone(),
        Err(_) => expression.map_operands(collected),
    }
}

impl Normal {
    /// A number.
    pub fn constant(value: Rational) -> Self {
        Self::whole(Polynomial::constant(value))
    }

    /// A kernel by itself.
    pub fn kernel(kernel: Expression) -> Self {
        Self::whole(Polynomial::kernel(kernel))
    }

    /// A polynomial.
    pub fn whole(numerator: Polynomial) -> Self {
        Self {
            numerator,
            denominator: Polynomial::one(),
        }
    }

    /// How many terms stand above and below.
    pub fn size(&self) -> usize {
        self.numerator.terms().len() + self.denominator.terms().len()
    }

    /// The polynomial above.
    pub fn numerator(&self) -> &Polynomial {
        &self.numerator
    }

    /// The polynomial below: primitive, its greatest monomial with a positive coefficient.
    pub fn denominator(&self) -> &Polynomial {
        &self.denominator
    }

    /// It is 0.
    pub fn is_zero(&self) -> bool {
        self.numerator.is_zero()
    }

    /// Its value, if it is a rational number.
    pub fn as_constant(&self) -> Option<Rational> {
        match self.denominator.is_one() {
            true => self.numerator.as_constant(),
            false => None,
        }
    }

    /// The polynomial, if nothing stands below it.
    pub fn as_polynomial(&self) -> Option<&Polynomial> {
        self.denominator.is_one().then_some(&self.numerator)
    }

    /// The terms, with negative exponents for what stands below, if that is one monomial.
    pub fn laurent_terms(&self) -> Option<Vec<(Monomial, Rational)>> {
        let (monomial, coefficient) = self.denominator.as_term()?;
        let factor = coefficient.reciprocal()?;
        let terms = self.numerator.terms().iter();
        Some(
            terms
                .map(|(m, c)| (m.divide(monomial), c * &factor))
                .collect(),
        )
    }

    /// Every kernel, above and below.
    pub fn kernels(&self) -> Vec<&Expression> {
        let mut kernels = self.numerator.kernels();
        kernels.extend(self.denominator.kernels());
        kernels.sort_unstable();
        kernels.dedup();
        kernels
    }

    /// The opposite.
    pub fn negate(&self) -> Self {
        self.scale(&Rational::integer(-1))
    }

    /// The product with a number.
    pub fn scale(&self, factor: &Rational) -> Self {
        match factor.is_zero() {
            true => Self::constant(Rational::ZERO),
            false => Self {
                numerator: self.numerator.scale(factor),
                denominator: self.denominator.clone(),
            },
        }
    }

    /// The sum.
    pub fn add(&self, other: &Self) -> Result<Self, Unfit> {
        Collector::fresh().add(self, other)
    }

    /// The difference.
    pub fn subtract(&self, other: &Self) -> Result<Self, Unfit> {
        Collector::fresh().add(self, &other.negate())
    }

    /// The product.
    pub fn multiply(&self, other: &Self) -> Result<Self, Unfit> {
        Collector::fresh().multiply(self, other)
    }

    /// The quotient.
    pub fn divide(&self, other: &Self) -> Result<Self, Unfit> {
        let mut collector = Collector::fresh();
        let inverse = collector.invert(other)?;
        collector.multiply(self, &inverse)
    }

    /// The power with a rational exponent.
    pub fn pow(&self, exponent: &Rational) -> Result<Self, Unfit> {
        Collector::fresh().power(self, exponent)
    }

    /// A canonical way to write what stands above.
    pub fn numerator_expression(&self) -> Expression {
        express::polynomial(&self.numerator)
    }

    /// A canonical way to write what stands below.
    pub fn denominator_expression(&self) -> Expression {
        express::polynomial(&self.denominator)
    }

    /// A canonical way to write it.
    pub fn to_expression(&self) -> Expression {
        express::quotient(&self.numerator, &self.denominator)
    }
}

/// Works out normal forms, and keeps account of what was done.
struct Collector {
    steps: Steps,
    /// Calculations left.
    budget: u32,
}

impl Collector {
    fn fresh() -> Self {
        Self {
            steps: Steps::default(),
            budget: 2_000,
        }
    }

    fn spend(&mut self) -> Result<(), Unfit> {
        self.budget = self.budget.checked_sub(1).ok_or(Unfit::TooLarge)?;
        Ok(())
    }

    fn did(&mut self, step: Steps) {
        self.steps = self.steps | step;
    }

    fn normal(&mut self, expression: &Expression) -> Result<Normal, Unfit> {
        self.spend()?;
        let operands = expression.operands();
        match (expression.operator(), operands) {
            (Operator::Number(number), _) if number.is_giant() => Err(Unfit::TooLarge),
            (Operator::Number(number), _) => Ok(Normal::constant(number.into())),
            (Operator::Symbol(_), _) => Ok(Normal::kernel(expression.clone().with_range(0..0))),
            (Operator::Constant(constant), _) => match constant {
                Constant::Pi | Constant::E | Constant::I => {
                    Ok(Normal::kernel(Expression::constant(*constant)))
                }
                _ => Err(Unfit::NoNumber),
            },
            (Operator::Sum, terms) => {
                let mut sum = Normal::constant(Rational::ZERO);
                for term in terms {
                    let term = self.normal(term)?;
                    sum = self.add(&sum, &term)?;
                }
                Ok(sum)
            }
            (Operator::Product, factors) => {
                let mut product = Normal::constant(Rational::ONE);
                for factor in factors {
                    let factor = self.normal(factor)?;
                    product = self.multiply(&product, &factor)?;
                }
                Ok(product)
            }
            (Operator::Negative, [operand]) => Ok(self.normal(operand)?.negate()),
            (Operator::Fraction, [numerator, denominator]) => {
                let numerator = self.normal(numerator)?;
                let denominator = self.normal(denominator)?;
                let inverse = self.invert(&denominator)?;
                self.multiply(&numerator, &inverse)
            }
            (Operator::Mixed, [whole, numerator, denominator]) => {
                let whole = self.normal(whole)?;
                let numerator = self.normal(numerator)?;
                let denominator = self.normal(denominator)?;
                let inverse = self.invert(&denominator)?;
                let fraction = self.multiply(&numerator, &inverse)?;
                self.add(&whole, &fraction)
            }
            (Operator::Percent, [operand]) => {
                Ok(self.normal(operand)?.scale(&Rational::fraction(1, 100)))
            }
            (Operator::Degrees, [operand]) => {
                let degrees = self.normal(operand)?.scale(&Rational::fraction(1, 180));
                self.multiply(
                    &degrees,
                    &Normal::kernel(Expression::constant(Constant::Pi)),
                )
            }
            (Operator::Power, [base, exponent]) => {
                let exponent = self.normal(exponent)?;
                let base = self.normal(base)?;
                match exponent.as_constant() {
                    Some(exponent) => self.power(&base, &exponent),
                    None => self.symbolic_power(&base, &exponent),
                }
            }
            (Operator::Root, [radicand]) => {
                let radicand = self.normal(radicand)?;
                self.power(&radicand, &Rational::fraction(1, 2))
            }
            (Operator::NthRoot, [radicand, degree]) => {
                let radicand = self.normal(radicand)?;
                let degree = self.normal(degree)?;
                let exponent = self.invert(&degree)?;
                match exponent.as_constant() {
                    Some(exponent) => self.power(&radicand, &exponent),
                    None => self.symbolic_power(&radicand, &exponent),
                }
            }
            (Operator::Function(Function::Exp), [exponent]) => {
                let exponent = self.normal(exponent)?;
                let base = Normal::kernel(Expression::constant(Constant::E));
                match exponent.as_constant() {
                    Some(exponent) => self.power(&base, &exponent),
                    None => self.symbolic_power(&base, &exponent),
                }
            }
            (Operator::Function(function), arguments) => self.function(*function, arguments),
            (
                Operator::Apply
                | Operator::Indexed
                | Operator::Prime(_)
                | Operator::NthPrime
                | Operator::Derivative(_)
                | Operator::Integral(_)
                | Operator::Limit(_)
                | Operator::Series(..)
                | Operator::EvaluatedAt
                | Operator::InverseFunction
                | Operator::Composition
                | Operator::Differential,
                _,
            ) => {
                let operands: Result<Vec<Expression>, Unfit> =
                    operands.iter().map(|operand| self.part(operand)).collect();
                Ok(Normal::kernel(expression.with_operands(operands?)))
            }
            _ => Err(Unfit::NoNumber),
        }
    }

    /// A part of a kernel, in a canonical way to write it.
    fn part(&mut self, expression: &Expression) -> Result<Expression, Unfit> {
        match self.normal(expression) {
            Ok(normal) => Ok(normal.to_expression()),
            Err(Unfit::NoNumber) => Ok(expression.clone().with_range(0..0)),
            Err(unfit) => Err(unfit),
        }
    }

    fn add(&mut self, left: &Normal, right: &Normal) -> Result<Normal, Unfit> {
        self.spend()?;
        if left.is_zero() {
            return Ok(right.clone());
        }
        if right.is_zero() {
            return Ok(left.clone());
        }
        if left.denominator == right.denominator {
            let numerator = left.numerator.add(&right.numerator);
            let terms = left.numerator.terms().len() + right.numerator.terms().len();
            if numerator.terms().len() < terms {
                self.did(Steps::COLLECT);
            }
            if left.denominator.is_one() {
                return Ok(Normal::whole(numerator));
            }
            return self.reduced(numerator, left.denominator.clone());
        }
        if left.denominator.as_constant().is_none() || right.denominator.as_constant().is_none() {
            self.did(Steps::COMMON_DENOMINATOR);
        }
        let common = left.denominator.gcd(&right.denominator)?;
        let divide = |p: &Polynomial| p.divide_exactly(&common).ok_or(Unfit::TooLarge);
        let (rest_left, rest_right) = (divide(&left.denominator)?, divide(&right.denominator)?);
        let first = left.numerator.multiply(&rest_right)?;
        let second = right.numerator.multiply(&rest_left)?;
        let denominator = left.denominator.multiply(&rest_right)?;
        let sum = self.settled(first.add(&second))?;
        let below = self.settled(denominator)?;
        let inverse = self.invert(&below)?;
        self.multiply(&sum, &inverse)
    }

    fn multiply(&mut self, left: &Normal, right: &Normal) -> Result<Normal, Unfit> {
        self.spend()?;
        if left.is_zero() || right.is_zero() {
            return Ok(Normal::constant(Rational::ZERO));
        }
        if let Some(number) = left.as_constant() {
            if !number.is_one() && right.numerator.terms().len() > 1 {
                self.did(Steps::EXPAND);
            }
            return Ok(right.scale(&number));
        }
        if let Some(number) = right.as_constant() {
            if !number.is_one() && left.numerator.terms().len() > 1 {
                self.did(Steps::EXPAND);
            }
            return Ok(left.scale(&number));
        }
        for (a, b) in [
            (&left.numerator, &right.numerator),
            (&left.denominator, &right.denominator),
        ] {
            if a.as_constant().is_none() && b.as_constant().is_none() {
                match a.terms().len() > 1 || b.terms().len() > 1 {
                    true => self.did(Steps::EXPAND),
                    false if a.kernels().iter().any(|k| b.kernels().contains(k)) => {
                        self.did(Steps::POWERS);
                    }
                    false => {}
                }
            }
        }
        let above = self.product(&left.numerator, &right.numerator)?;
        let below = self.product(&left.denominator, &right.denominator)?;
        // Products of roots may have become sums or quotients.
        if below.is_constant_one() {
            return match above.denominator.is_one() {
                true => Ok(above),
                false => self.reduced(above.numerator, above.denominator),
            };
        }
        let numerator = self.product_of_settled(&above.numerator, &below.denominator)?;
        let denominator = self.product_of_settled(&above.denominator, &below.numerator)?;
        self.reduced(numerator, denominator)
    }

    /// A product in which nothing can meet that has to be simplified.
    fn product_of_settled(&mut self, a: &Polynomial, b: &Polynomial) -> Result<Polynomial, Unfit> {
        let product = self.product(a, b)?;
        match product.denominator.is_one() {
            true => Ok(product.numerator),
            // A root that was moved below again: the rare case is left to the limits.
            false => Err(Unfit::TooLarge),
        }
    }

    fn product(&mut self, a: &Polynomial, b: &Polynomial) -> Result<Normal, Unfit> {
        if a.is_one() {
            return Ok(Normal::whole(b.clone()));
        }
        if b.is_one() {
            return Ok(Normal::whole(a.clone()));
        }
        let product = a.multiply(b)?;
        self.settled(product)
    }

    /// Replaces powers of kernels that are no longer kernels: the square of a root, of i, of an
    /// absolute value.
    fn settled(&mut self, polynomial: Polynomial) -> Result<Normal, Unfit> {
        let is_unsettled = polynomial.terms().iter().any(|(monomial, _)| {
            monomial
                .powers()
                .iter()
                .any(|(kernel, exponent)| functions::is_unsettled(kernel, exponent))
        });
        if !is_unsettled {
            return Ok(Normal::whole(polynomial));
        }
        let mut sum = Normal::constant(Rational::ZERO);
        for (monomial, coefficient) in polynomial.terms() {
            let (loose, firm) =
                (monomial.powers().iter()).partition::<Vec<_>, _>(|(kernel, exponent)| {
                    functions::is_unsettled(kernel, exponent)
                });
            let firm = firm
                .into_iter()
                .fold(Monomial::one(), |product, (kernel, exponent)| {
                    product.multiply(&Monomial::power(kernel.clone(), exponent.clone()))
                });
            let mut term = Normal::whole(Polynomial::term(firm, coefficient.clone()));
            for (kernel, exponent) in loose {
                let power = self.settled_power(kernel, exponent)?;
                term = self.multiply(&term, &power)?;
            }
            sum = self.add(&sum, &term)?;
        }
        Ok(sum)
    }

    /// A quotient in lowest terms, without roots below where they can be moved above.
    fn reduced(&mut self, numerator: Polynomial, denominator: Polynomial) -> Result<Normal, Unfit> {
        self.spend()?;
        if denominator.is_zero() {
            return Err(Unfit::Undefined);
        }
        if numerator.is_zero() {
            return Ok(Normal::constant(Rational::ZERO));
        }
        if let Some(conjugate) = functions::conjugate(&denominator) {
            let above = self.product(&numerator, &conjugate)?;
            let below = self.product(&denominator, &conjugate)?;
            let inverse = self.invert(&below)?;
            return self.multiply(&above, &inverse);
        }
        let (mut numerator, mut denominator) = (numerator, denominator);
        let common = numerator.gcd(&denominator)?;
        if !common.is_one() {
            self.did(Steps::CANCEL);
            let divide = |p: &Polynomial| p.divide_exactly(&common).ok_or(Unfit::TooLarge);
            (numerator, denominator) = (divide(&numerator)?, divide(&denominator)?);
        }
        let (denominator, factor) = denominator.primitive();
        let factor = factor.reciprocal().ok_or(Unfit::Undefined)?;
        Ok(Normal {
            numerator: numerator.scale(&factor),
            denominator,
        })
    }

    fn invert(&mut self, normal: &Normal) -> Result<Normal, Unfit> {
        if normal.is_zero() {
            return Err(Unfit::Undefined);
        }
        self.reduced(normal.denominator.clone(), normal.numerator.clone())
    }

    /// A power with a rational exponent.
    fn power(&mut self, base: &Normal, exponent: &Rational) -> Result<Normal, Unfit> {
        self.spend()?;
        if exponent.is_one() {
            return Ok(base.clone());
        }
        if exponent.is_zero() {
            return match base.is_zero() {
                true => Err(Unfit::Undefined),
                false => Ok(Normal::constant(Rational::ONE)),
            };
        }
        if exponent.is_negative() {
            let inverse = self.invert(base)?;
            return self.power(&inverse, &-exponent);
        }
        if base.is_zero() {
            return Ok(Normal::constant(Rational::ZERO));
        }
        match exponent.as_i64() {
            Some(exponent) => self.whole_power(base, exponent),
            None if exponent.is_integer() => Err(Unfit::TooLarge),
            None => self.root_power(base, exponent),
        }
    }

    fn whole_power(&mut self, base: &Normal, exponent: i64) -> Result<Normal, Unfit> {
        let single = |p: &Polynomial| p.as_term().map(|(m, c)| (m.clone(), c.clone()));
        if let (Some((above, c)), Some((below, d))) =
            (single(&base.numerator), single(&base.denominator))
        {
            let by = Rational::integer(exponent);
            let coefficient = c
                .checked_div(&d)
                .and_then(|quotient| quotient.pow(exponent));
            let coefficient = coefficient.ok_or(Unfit::TooLarge)?;
            let powers = || above.powers().iter().chain(below.powers());
            if powers().count() > 1 || powers().any(|(_, power)| !power.is_one()) {
                self.did(Steps::POWERS);
            }
            let above = self.settled(Polynomial::term(above.raise(&by), coefficient))?;
            let below = self.settled(Polynomial::term(below.raise(&by), Rational::ONE))?;
            let below = self.invert(&below)?;
            return self.multiply(&above, &below);
        }
        let terms = base
            .numerator
            .terms()
            .len()
            .max(base.denominator.terms().len());
        if functions::is_too_long(terms, exponent) {
            // Too long to be written out: a kernel of its own.
            let kernel = base.to_expression();
            let power = Monomial::power(kernel, Rational::integer(exponent));
            return Ok(Normal::whole(Polynomial::term(power, Rational::ONE)));
        }
        self.did(Steps::EXPAND);
        let mut power = base.clone();
        for _ in 1..exponent {
            power = self.multiply(&power, base)?;
        }
        Ok(power)
    }

    /// A power with a positive exponent that is no integer.
    fn root_power(&mut self, base: &Normal, exponent: &Rational) -> Result<Normal, Unfit> {
        let (n, d) = exponent.as_fraction().ok_or(Unfit::TooLarge)?;
        let is_even = d % 2 == 0;
        if let Some(number) = base.as_constant() {
            return self.root_of_number(&number, exponent);
        }
        // The whole part first: the rest is between 0 and 1.
        let whole = n.div_euclid(d);
        let rest = Rational::fraction(n.rem_euclid(d), d);
        let outside = match whole {
            0 => Normal::constant(Rational::ONE),
            _ => self.whole_power(base, whole)?,
        };
        if let (Some((above, c)), Some((below, d))) =
            (base.numerator.as_term(), base.denominator.as_term())
        {
            let number = c.checked_div(d).ok_or(Unfit::Undefined)?;
            let inside = self.root_of_monomial(&number, &above.divide(below), &rest, is_even)?;
            return self.multiply(&outside, &inside);
        }
        // A sum or a quotient of sums: its content comes out, the rest is a kernel.
        let (above, mut number) = base.numerator.primitive();
        let mut sign = Rational::ONE;
        if number.is_negative() {
            number = -number;
            sign = Rational::integer(-1);
        }
        let mut result = self.root_of_number(&number, &rest)?;
        let mut kernel = Normal {
            numerator: above,
            denominator: base.denominator.clone(),
        };
        if sign.is_negative() {
            match is_even {
                true => kernel = kernel.negate(),
                // An odd root of the opposite is the opposite of the root.
                false if rest.numerator().as_i64().is_some_and(|n| n % 2 != 0) => {
                    result = result.negate();
                }
                false => {}
            }
        }
        if let Some(root) = self.root_of_square(&kernel, &rest)? {
            result = self.multiply(&result, &root)?;
        } else {
            let power = Monomial::power(kernel.to_expression(), rest);
            let power = Normal::whole(Polynomial::term(power, Rational::ONE));
            result = self.multiply(&result, &power)?;
        }
        self.multiply(&outside, &result)
    }

    /// The root of a sum in one letter that is a perfect power: `\sqrt{x^2 + 2x + 1}` is
    /// `|x + 1|`.
    fn root_of_square(
        &mut self,
        base: &Normal,
        exponent: &Rational,
    ) -> Result<Option<Normal>, Unfit> {
        let Some((kernel, unit, polynomial)) =
            base.as_polynomial().and_then(Polynomial::as_univariate)
        else {
            return Ok(None);
        };
        let Some((n, d)) = exponent.as_fraction() else {
            return Ok(None);
        };
        let factors = polynomial.square_free_factors();
        let leading = factors
            .iter()
            .fold(polynomial.leading(), |rest, (factor, times)| {
                let power = factor.leading().pow((*times).into());
                power
                    .and_then(|power| rest.checked_div(&power))
                    .unwrap_or(rest)
            });
        if !leading.is_one() || !factors.iter().all(|(_, times)| i64::from(*times) % d == 0) {
            return Ok(None);
        }
        let mut product = Normal::constant(Rational::ONE);
        for (factor, times) in factors {
            let factor = Normal::whole(Polynomial::from_univariate(&kernel, &unit, &factor));
            let power = i64::from(times) / d * n;
            let base = match d % 2 == 0 && power % 2 != 0 {
                true => self.absolute(&factor)?,
                false => factor,
            };
            let power = self.whole_power(&base, power)?;
            product = self.multiply(&product, &power)?;
        }
        self.did(Steps::POWERS);
        Ok(Some(product))
    }

    /// A number to an exponent that is no integer.
    fn root_of_number(&mut self, number: &Rational, exponent: &Rational) -> Result<Normal, Unfit> {
        let (n, d) = exponent.as_fraction().ok_or(Unfit::TooLarge)?;
        if number.is_negative() {
            let positive = self.root_of_number(&-number, exponent)?;
            return match d % 2 == 0 {
                // i to the same power, for which only the square root is a kernel.
                true if d == 2 => {
                    let i = Normal::kernel(Expression::constant(Constant::I));
                    let power = self.whole_power(&i, n.rem_euclid(4))?;
                    self.multiply(&positive, &power)
                }
                true => Err(Unfit::NoNumber),
                false if n % 2 != 0 => Ok(positive.negate()),
                false => Ok(positive),
            };
        }
        if number.is_zero() {
            return Ok(Normal::constant(Rational::ZERO));
        }
        let mut coefficient = Rational::ONE;
        let mut monomial = Monomial::one();
        let (numerator, denominator) = (number.numerator(), number.denominator());
        for (part, sign) in [(numerator, 1), (denominator, -1)] {
            for (prime, times) in functions::prime_factors(&part)? {
                let total = exponent * &Rational::integer(sign * times);
                let whole = total.floor();
                let rest = &total - &whole;
                let base = Rational::from(num_rational::BigRational::from_integer(prime.clone()));
                let power = whole.as_i64().and_then(|whole| base.pow(whole));
                coefficient = coefficient * power.ok_or(Unfit::TooLarge)?;
                let kernel = Expression::number(crate::expression::Number::exact(
                    num_rational::BigRational::new(prime, One::one()),
                ));
                monomial = monomial.multiply(&Monomial::power(kernel, rest));
            }
        }
        if !coefficient.is_one() {
            self.did(Steps::VALUES);
        }
        self.settled(Polynomial::term(monomial, coefficient))
    }

    /// A monomial, which may have negative exponents, to an exponent between 0 and 1.
    fn root_of_monomial(
        &mut self,
        number: &Rational,
        monomial: &Monomial,
        exponent: &Rational,
        is_even: bool,
    ) -> Result<Normal, Unfit> {
        let mut inside = Monomial::one();
        let mut outside = Monomial::one();
        let mut absolute = Normal::constant(Rational::ONE);
        for (kernel, power) in monomial.powers() {
            let raised = power * exponent;
            let single = Monomial::power(kernel.clone(), raised.clone());
            let is_even_power = power.as_i64().is_some_and(|power| power % 2 == 0);
            if !is_even || functions::is_never_negative(kernel) || !power.is_integer() {
                outside = outside.multiply(&single);
            } else if is_even_power {
                // An even power is not negative, though its base may be.
                if raised.as_i64().is_some_and(|raised| raised % 2 == 0) {
                    outside = outside.multiply(&single);
                } else {
                    let size = self.absolute(&Normal::kernel(kernel.clone()))?;
                    let size = match raised.is_integer() {
                        true => self.power(&size, &raised)?,
                        false => self.root_of_absolute(&size, &raised)?,
                    };
                    absolute = self.multiply(&absolute, &size)?;
                }
            } else {
                inside = inside.multiply(&Monomial::power(kernel.clone(), power.clone()));
            }
        }
        let number_is_negative = is_even && number.is_negative();
        let coefficient = match number_is_negative {
            true => self.root_of_number(&-number, exponent)?,
            false => self.root_of_number(number, exponent)?,
        };
        if inside.powers().len() == 1 && !number_is_negative {
            // One base, whose sign the power itself demands.
            outside = outside.multiply(&inside.raise(exponent));
            inside = Monomial::one();
        }
        let mut result = self.laurent(outside)?;
        result = self.multiply(&result, &coefficient)?;
        result = self.multiply(&result, &absolute)?;
        if inside.is_one() && !number_is_negative {
            return Ok(result);
        }
        let sign = Rational::integer(if number_is_negative { -1 } else { 1 });
        let radicand = self.laurent(inside)?.scale(&sign);
        if let Some(number) = radicand.as_constant() {
            let root = self.root_of_number(&number, exponent)?;
            return self.multiply(&result, &root);
        }
        let power = Monomial::power(radicand.to_expression(), exponent.clone());
        let power = Normal::whole(Polynomial::term(power, Rational::ONE));
        self.multiply(&result, &power)
    }

    fn root_of_absolute(&mut self, size: &Normal, exponent: &Rational) -> Result<Normal, Unfit> {
        match (
            size.as_polynomial().and_then(Polynomial::as_term),
            size.as_constant(),
        ) {
            (_, Some(number)) => self.root_of_number(&number, exponent),
            (Some((monomial, coefficient)), _) => {
                let root = self.root_of_number(coefficient, exponent)?;
                let power = self.laurent(monomial.raise(exponent))?;
                self.multiply(&root, &power)
            }
            _ => Err(Unfit::TooLarge),
        }
    }

    /// A monomial, with what has a negative exponent below.
    fn laurent(&mut self, monomial: Monomial) -> Result<Normal, Unfit> {
        let (mut above, mut below) = (Monomial::one(), Monomial::one());
        for (kernel, exponent) in monomial.powers() {
            let target = match exponent.is_negative() {
                true => &mut below,
                false => &mut above,
            };
            *target = target.multiply(&Monomial::power(kernel.clone(), exponent.abs()));
        }
        let above = self.settled(Polynomial::term(above, Rational::ONE))?;
        let below = self.settled(Polynomial::term(below, Rational::ONE))?;
        let below = self.invert(&below)?;
        self.multiply(&above, &below)
    }

    /// A power whose exponent is no rational number.
    fn symbolic_power(&mut self, base: &Normal, exponent: &Normal) -> Result<Normal, Unfit> {
        self.spend()?;
        if base.is_zero() {
            return Err(Unfit::Undefined);
        }
        if let Some(number) = base.as_constant() {
            return self.number_to(&number, exponent);
        }
        let Some((monomial, coefficient)) = base.as_polynomial().and_then(Polynomial::as_term)
        else {
            if base.numerator.is_one() && !base.denominator.is_one() {
                let inverse = self.invert(base)?;
                return self.symbolic_power(&inverse, &exponent.negate());
            }
            return self.kernel_to(&base.to_expression(), exponent);
        };
        let (monomial, coefficient) = (monomial.clone(), coefficient.clone());
        let mut product = self.number_to(&coefficient, exponent)?;
        for (kernel, power) in monomial.powers() {
            let power = self.kernel_to(kernel, &exponent.scale(power))?;
            product = self.multiply(&product, &power)?;
        }
        Ok(product)
    }

    fn number_to(&mut self, number: &Rational, exponent: &Normal) -> Result<Normal, Unfit> {
        if number.is_one() {
            return Ok(Normal::constant(Rational::ONE));
        }
        let mut product = Normal::constant(Rational::ONE);
        if number.is_negative() {
            let sign = Expression::integer(-1);
            product = self.kernel_to(&sign, exponent)?;
        }
        let size = number.abs();
        let parts = [(size.numerator(), 1), (size.denominator(), -1)];
        for (part, sign) in parts {
            for (prime, times) in functions::prime_factors(&part)? {
                let kernel = Expression::number(crate::expression::Number::exact(
                    num_rational::BigRational::new(prime, One::one()),
                ));
                let exponent = exponent.scale(&Rational::integer(sign * times));
                let power = self.kernel_to(&kernel, &exponent)?;
                product = self.multiply(&product, &power)?;
            }
        }
        Ok(product)
    }

    /// A kernel or a number to an exponent that is no rational number: one power for each term of
    /// the exponent.
    fn kernel_to(&mut self, base: &Expression, exponent: &Normal) -> Result<Normal, Unfit> {
        let mut product = Normal::constant(Rational::ONE);
        // A power of a power, as written by `Monomial::power` for an exponential kernel.
        let (base, inner) = match (base.operator(), base.operands()) {
            (Operator::Power, [inner_base, inner_exponent]) => {
                (inner_base, Some(self.normal(inner_exponent)?))
            }
            _ => (base, None),
        };
        let exponent = match inner {
            Some(inner) => self.multiply(exponent, &inner)?,
            None => exponent.clone(),
        };
        let Some(terms) = exponent.laurent_terms() else {
            // A fraction with a sum below: one kernel, up to its numeric content.
            let (primitive, number) = exponent.numerator.primitive();
            let exponent = Normal {
                numerator: primitive,
                denominator: exponent.denominator.clone(),
            };
            let kernel = Expression::power(base.clone(), exponent.to_expression());
            return self.laurent(Monomial::power(kernel, number));
        };
        for (monomial, coefficient) in terms {
            if monomial.is_one() {
                let base = self.normal(base)?;
                let power = self.power(&base, &coefficient)?;
                product = self.multiply(&product, &power)?;
                continue;
            }
            let (mut monomial, mut coefficient) = (monomial, coefficient);
            let mut base = base.clone();
            if base.as_constant() == Some(Constant::E)
                && let Some((log, rest)) = functions::only_logarithm(&monomial)
            {
                // e^{c \ln u} is u^c.
                let argument = self.normal(&log)?;
                if rest.is_one() {
                    let power = self.power(&argument, &coefficient)?;
                    product = self.multiply(&product, &power)?;
                    continue;
                }
                base = log;
                monomial = rest;
            }
            if base.as_i64() == Some(-1) {
                // An alternating sign has period 2.
                let rest = coefficient.as_i64().map(|c| c.rem_euclid(2));
                match rest {
                    Some(0) => continue,
                    Some(rest) => coefficient = Rational::integer(rest),
                    None => {}
                }
            }
            let exponent = express::monomial(&monomial, &Rational::ONE);
            let kernel = Expression::power(base, exponent);
            let power = self.laurent(Monomial::power(kernel, coefficient))?;
            product = self.multiply(&product, &power)?;
        }
        Ok(product)
    }
}

impl Normal {
    /// It is 1.
    pub(crate) fn is_constant_one(&self) -> bool {
        self.numerator.is_one() && self.denominator.is_one()
    }
}

#[cfg(test)]
mod tests;
