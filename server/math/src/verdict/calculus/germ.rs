//! How does an expression behave as a letter approaches a place?
//!
//! A [`Germ`] is the beginning of an asymptotic expansion in a positive quantity h that tends to
//! zero: terms c · hᵖ · Lᵠ · e^E with L = ln(1/h), where E is itself a sum of terms that grow without
//! bound, the greatest first, and a bound for what is left out. Sums and products of such expansions,
//! powers, exponentials and logarithms are expansions again (Hardy, Orders of Infinity, 1910), so
//! that the leading term, and with it the limit, follows by arithmetic. Along whole numbers a term
//! may change its sign from each to the next.

use std::cmp::Ordering;

use smallvec::SmallVec;

use super::jet::Jet;
use super::program::{Budget, Leaves, compile, literal_fraction, signed_infinity};
use crate::expression::{Constant, Expression, Function, Operator, Symbol};

/// The order of a term: hᵖ · Lᵠ · e^E.
#[derive(Clone, Debug, PartialEq, Default)]
pub(super) struct Monomial {
    /// The terms c · hᵖ · Lᵠ of E as (p, q, c), the greatest first.
    exponent: SmallVec<[(f64, f64, f64); 2]>,
    power: f64,
    logarithms: f64,
}

#[derive(Clone, Debug, PartialEq)]
struct Term {
    coefficient: f64,
    /// It has the factor (−1)ⁿ.
    alternates: bool,
    monomial: Monomial,
}

/// The beginning of an expansion.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Germ {
    /// The greatest first.
    terms: Vec<Term>,
    /// What is left out is at most of this order; none if nothing is.
    rest: Option<Monomial>,
}

/// What an expression tends to.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Tendency {
    Finite(f64),
    /// Plus (`true`) or minus infinity.
    Infinite(bool),
    /// It changes sign for ever, without becoming small.
    Alternates,
    /// Its size stays below some bound or grows as told by a monomial; nothing else is known.
    Unknown,
}

/// Numbers closer than this, as a share of what they are made of, are the same.
const NEAR: f64 = 1e-10;

/// Terms that are kept, and steps of a series.
const TERMS: usize = 9;
const STEPS: usize = 10;

impl Monomial {
    fn one() -> Self {
        Self::default()
    }

    fn power(power: f64) -> Self {
        Self {
            power,
            ..Self::default()
        }
    }

    fn logarithm() -> Self {
        Self {
            logarithms: 1.0,
            ..Self::default()
        }
    }

    fn multiply(&self, other: &Self) -> Self {
        let mut exponent = self.exponent.clone();
        for (p, q, c) in &other.exponent {
            match exponent.iter_mut().find(|(a, b, _)| (a, b) == (p, q)) {
                Some(known) => {
                    let size = known.2.abs() + c.abs();
                    known.2 += c;
                    if known.2.abs() <= NEAR * size {
                        known.2 = 0.0;
                    }
                }
                None => exponent.push((*p, *q, *c)),
            }
        }
        exponent.retain(|(_, _, c)| *c != 0.0);
        exponent.sort_by(|a, b| growth((b.0, b.1), (a.0, a.1)));
        Self {
            exponent,
            power: tidy(self.power + other.power, self.power),
            logarithms: tidy(self.logarithms + other.logarithms, self.logarithms),
        }
    }

    fn raise(&self, exponent: f64) -> Self {
        Self {
            exponent: self
                .exponent
                .iter()
                .map(|(p, q, c)| (*p, *q, c * exponent))
                .collect(),
            power: self.power * exponent,
            logarithms: self.logarithms * exponent,
        }
    }

    /// Which is greater in the end.
    fn compare(&self, other: &Self) -> Ordering {
        let ratio = self.multiply(&other.raise(-1.0));
        ratio.size()
    }

    /// Greater: it grows without bound; less: it tends to zero.
    fn size(&self) -> Ordering {
        if let Some((_, _, c)) = self.exponent.first() {
            return c.total_cmp(&0.0);
        }
        if self.power.abs() > 1e-9 {
            return 0.0_f64.total_cmp(&self.power);
        }
        match self.logarithms.abs() > 1e-9 {
            true => self.logarithms.total_cmp(&0.0),
            false => Ordering::Equal,
        }
    }

    fn is_same(&self, other: &Self) -> bool {
        self.compare(other) == Ordering::Equal
    }
}

/// Which of h^p L^q and h^r L^s is greater in the end.
fn growth(one: (f64, f64), other: (f64, f64)) -> Ordering {
    match (one.0 - other.0).abs() > 1e-9 {
        true => other.0.total_cmp(&one.0),
        false => one.1.total_cmp(&other.1),
    }
}

fn tidy(sum: f64, part: f64) -> f64 {
    match sum.abs() <= 1e-12 * part.abs() {
        true => 0.0,
        false => sum,
    }
}

impl Germ {
    fn constant(value: f64) -> Self {
        Self::term(value, Monomial::one())
    }

    fn term(coefficient: f64, monomial: Monomial) -> Self {
        let term = Term {
            coefficient,
            alternates: false,
            monomial,
        };
        Self {
            terms: match coefficient == 0.0 {
                true => Vec::new(),
                false => vec![term],
            },
            rest: None,
        }
    }

    /// Something that stays between two bounds.
    fn bounded() -> Self {
        Self {
            terms: Vec::new(),
            rest: Some(Monomial::one()),
        }
    }

    /// Sorts and merges terms; `sizes` are those of what each came from.
    fn tidied(mut terms: Vec<(Term, f64)>, mut rest: Option<Monomial>) -> Self {
        terms.sort_by(|a, b| {
            b.0.monomial
                .compare(&a.0.monomial)
                .then(a.0.alternates.cmp(&b.0.alternates))
        });
        let mut merged: Vec<(Term, f64)> = Vec::with_capacity(terms.len());
        for (term, size) in terms {
            match merged.last_mut() {
                Some((last, sum))
                    if last.alternates == term.alternates
                        && last.monomial.is_same(&term.monomial) =>
                {
                    last.coefficient += term.coefficient;
                    *sum += size;
                }
                _ => merged.push((term, size)),
            }
        }
        let mut kept: Vec<Term> = Vec::with_capacity(merged.len());
        for (term, size) in merged {
            if term.coefficient == 0.0 || term.coefficient.abs() <= NEAR * size {
                continue;
            }
            if let Some(rest) = &rest
                && term.monomial.compare(rest) != Ordering::Greater
            {
                break;
            }
            if kept.len() == TERMS {
                rest = Some(match rest {
                    Some(rest) if rest.compare(&term.monomial) == Ordering::Greater => rest,
                    _ => term.monomial,
                });
                break;
            }
            kept.push(term);
        }
        Self { terms: kept, rest }
    }

    fn add(&self, other: &Self) -> Self {
        let terms = self.terms.iter().chain(&other.terms);
        let terms = terms
            .map(|term| (term.clone(), term.coefficient.abs()))
            .collect();
        Self::tidied(terms, greater(self.rest.clone(), other.rest.clone()))
    }

    fn scale(&self, factor: f64) -> Self {
        if factor == 0.0 {
            return Self::constant(0.0);
        }
        let mut scaled = self.clone();
        for term in &mut scaled.terms {
            term.coefficient *= factor;
        }
        scaled
    }

    fn multiply(&self, other: &Self) -> Self {
        let mut terms = Vec::with_capacity(self.terms.len() * other.terms.len());
        for one in &self.terms {
            for two in &other.terms {
                let coefficient = one.coefficient * two.coefficient;
                let term = Term {
                    coefficient,
                    alternates: one.alternates != two.alternates,
                    monomial: one.monomial.multiply(&two.monomial),
                };
                terms.push((term, coefficient.abs()));
            }
        }
        let product =
            |rest: &Option<Monomial>, lead: Option<&Monomial>| Some(rest.as_ref()?.multiply(lead?));
        let rest = greater(
            product(&self.rest, other.size()),
            product(&other.rest, self.size()),
        );
        Self::tidied(terms, rest)
    }

    /// The order of the whole; none for zero.
    fn size(&self) -> Option<&Monomial> {
        self.terms
            .first()
            .map(|term| &term.monomial)
            .or(self.rest.as_ref())
    }

    /// The leading term, if it alone decides.
    fn leading(&self) -> Option<&Term> {
        let first = self.terms.first()?;
        match self.terms.get(1) {
            Some(second) if second.monomial.is_same(&first.monomial) => None,
            _ => Some(first),
        }
    }

    /// What it is when divided by its leading term, less one.
    fn relative(&self) -> Option<Self> {
        let lead = self.leading()?;
        let inverse = Self {
            terms: vec![Term {
                coefficient: 1.0 / lead.coefficient,
                alternates: lead.alternates,
                monomial: lead.monomial.raise(-1.0),
            }],
            rest: None,
        };
        let others = Self {
            terms: self.terms[1..].to_vec(),
            rest: self.rest.clone(),
        };
        Some(others.multiply(&inverse))
    }

    /// Σ aₖ uᵏ, where this germ u tends to zero.
    fn series(&self, coefficients: impl Fn(usize) -> f64) -> Self {
        let mut sum = Self::constant(coefficients(0));
        let mut power = Self::constant(1.0);
        let Some(size) = self.size().cloned() else {
            return sum;
        };
        for step in 1..=STEPS {
            power = power.multiply(self);
            sum = sum.add(&power.scale(coefficients(step)));
        }
        let beyond = size.raise((STEPS + 1) as f64);
        Self::tidied(
            sum.terms
                .iter()
                .map(|t| (t.clone(), t.coefficient.abs()))
                .collect(),
            greater(sum.rest, Some(beyond)),
        )
    }

    fn inverse(&self) -> Option<Self> {
        self.raise(-1.0, true)
    }

    /// A constant power; `whole` says that a negative number may be raised to it.
    fn raise(&self, exponent: f64, whole: bool) -> Option<Self> {
        if exponent == 0.0 {
            return Some(Self::constant(1.0));
        }
        if self.terms.is_empty() {
            return match (&self.rest, exponent > 0.0) {
                (None, true) => Some(Self::constant(0.0)),
                (Some(rest), true) => Some(Self {
                    terms: Vec::new(),
                    rest: Some(rest.raise(exponent)),
                }),
                _ => None,
            };
        }
        let lead = self.leading()?;
        if !whole && (lead.coefficient < 0.0 || lead.alternates) {
            return None;
        }
        let relative = self.relative()?;
        let factor = Self {
            terms: vec![Term {
                coefficient: libm::pow(lead.coefficient, exponent),
                alternates: lead.alternates && libm::fmod(exponent, 2.0) != 0.0,
                monomial: lead.monomial.raise(exponent),
            }],
            rest: None,
        };
        let binomial = |k: usize| {
            (0..k)
                .map(|j| (exponent - j as f64) / (j + 1) as f64)
                .product::<f64>()
        };
        Some(factor.multiply(&relative.series(binomial)))
    }

    /// What grows, what stays, what vanishes.
    fn parts(&self) -> Option<(Vec<Term>, f64, Self)> {
        let (mut grows, mut stays, mut vanishes) = (Vec::new(), 0.0, Vec::new());
        for term in &self.terms {
            match term.monomial.size() {
                Ordering::Greater => grows.push(term.clone()),
                Ordering::Equal if term.alternates => return None,
                Ordering::Equal => stays += term.coefficient,
                Ordering::Less => vanishes.push(term.clone()),
            }
        }
        if let Some(rest) = &self.rest
            && rest.size() != Ordering::Less
        {
            return None;
        }
        let vanishing = Self {
            terms: vanishes,
            rest: self.rest.clone(),
        };
        Some((grows, stays, vanishing))
    }

    fn exp(&self) -> Option<Self> {
        let (grows, stays, vanishing) = self.parts()?;
        let mut monomial = Monomial::one();
        for term in grows {
            if term.alternates || !term.monomial.exponent.is_empty() {
                return None;
            }
            let (p, q) = (term.monomial.power, term.monomial.logarithms);
            match p.abs() < 1e-9 && (q - 1.0).abs() < 1e-9 {
                true => monomial.power -= term.coefficient,
                false => monomial.exponent.push((p, q, term.coefficient)),
            }
        }
        let mut factorial = [1.0; STEPS + 1];
        for k in 1..=STEPS {
            factorial[k] = factorial[k - 1] * k as f64;
        }
        let series = vanishing.series(|k| 1.0 / factorial[k]);
        Some(Self::term(libm::exp(stays), monomial).multiply(&series))
    }

    fn ln(&self) -> Option<Self> {
        let lead = self.leading()?;
        if lead.coefficient <= 0.0 || lead.alternates || lead.monomial.logarithms.abs() > 1e-9 {
            return None;
        }
        let mut sum = Self::constant(libm::log(lead.coefficient));
        sum = sum.add(&Self::term(-lead.monomial.power, Monomial::logarithm()));
        for (power, logarithms, c) in &lead.monomial.exponent {
            let monomial = Monomial {
                power: *power,
                logarithms: *logarithms,
                ..Monomial::default()
            };
            sum = sum.add(&Self::term(*c, monomial));
        }
        let relative = self.relative()?;
        let series = relative.series(|k| match k {
            0 => 0.0,
            k if k % 2 == 1 => 1.0 / k as f64,
            k => -1.0 / k as f64,
        });
        Some(sum.add(&series))
    }

    /// A function with a Taylor series at the value to which this tends.
    fn analytic(&self, of: impl Fn(&Jet) -> Option<Jet>) -> Option<Self> {
        let (grows, stays, vanishing) = self.parts()?;
        if !grows.is_empty() {
            return None;
        }
        if vanishing.size().is_none() {
            return Some(Self::constant(of(&Jet::constant(stays, 1))?.value()));
        }
        let jet = of(&Jet::variable(stays, STEPS + 1))?;
        let size = (0..=STEPS).fold(0.0_f64, |size, k| size.max(jet.coefficient(k).abs()));
        if !size.is_finite() {
            return None;
        }
        Some(vanishing.series(|k| match jet.coefficient(k) {
            c if c.abs() <= 1e-14 * size => 0.0,
            c => c,
        }))
    }

    fn is_growing(&self) -> bool {
        self.size()
            .is_some_and(|size| size.size() == Ordering::Greater)
    }

    /// What it tends to.
    pub(super) fn tendency(&self) -> Tendency {
        let rest_vanishes = self
            .rest
            .as_ref()
            .is_none_or(|rest| rest.size() == Ordering::Less);
        let Some(first) = self.terms.first() else {
            return match rest_vanishes {
                true => Tendency::Finite(0.0),
                false => Tendency::Unknown,
            };
        };
        match first.monomial.size() {
            Ordering::Less => Tendency::Finite(0.0),
            _ if self.leading().is_none() => match first.monomial.size() {
                Ordering::Equal if rest_vanishes => Tendency::Alternates,
                _ => Tendency::Unknown,
            },
            _ if first.alternates => Tendency::Alternates,
            Ordering::Equal if rest_vanishes => Tendency::Finite(first.coefficient),
            Ordering::Equal => Tendency::Unknown,
            Ordering::Greater => Tendency::Infinite(first.coefficient > 0.0),
        }
    }

    /// For the terms of a series, h = 1/n: whether their sum converges, and whether it does so
    /// absolutely. None if it cannot be told.
    pub(super) fn converges(&self) -> Option<(bool, bool)> {
        let summable = |monomial: &Monomial| {
            if let Some((_, _, c)) = monomial.exponent.first() {
                return *c < 0.0;
            }
            match (monomial.power - 1.0).abs() < 1e-9 {
                true => monomial.logarithms < -1.0 - 1e-9,
                false => monomial.power > 1.0,
            }
        };
        let rest_is_summable = self.rest.as_ref().is_none_or(summable);
        let Some(first) = self.terms.first() else {
            return rest_is_summable.then_some((true, true));
        };
        if summable(&first.monomial) {
            return Some((true, true));
        }
        if first.monomial.size() != Ordering::Less {
            return match (self.leading(), self.tendency()) {
                // The terms do not tend to zero.
                (Some(_), _) | (None, Tendency::Alternates) => Some((false, false)),
                _ => None,
            };
        }
        if !rest_is_summable {
            return None;
        }
        let mut steady = self.terms.iter().filter(|term| !term.alternates);
        let (mut sum, mut all) = (0, 0);
        for term in steady.by_ref() {
            all += 1;
            sum += usize::from(summable(&term.monomial));
        }
        match all == sum {
            // What does not alternate is summable; what does has terms that decrease to zero.
            true => Some((true, false)),
            false => Some((false, false)),
        }
    }
}

fn greater(one: Option<Monomial>, other: Option<Monomial>) -> Option<Monomial> {
    match (one, other) {
        (Some(one), Some(other)) => Some(match one.compare(&other) {
            Ordering::Less => other,
            _ => one,
        }),
        (one, other) => one.or(other),
    }
}

/// Where a letter goes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Approach {
    /// To a number, from above (`true`) or from below.
    Number(f64, bool),
    /// To plus or minus infinity.
    Infinity(bool),
    /// To infinity through the whole numbers.
    Whole,
}

/// The expansion of an expression as a letter approaches a place, where other letters have these
/// values. None where there is none of this form, or where it is not real.
pub(super) fn expand(
    expression: &Expression,
    letter: &Symbol,
    approach: Approach,
    others: &[(Expression, f64)],
    budget: &Budget,
) -> Option<Germ> {
    Expansion {
        letter,
        approach,
        others,
        budget,
    }
    .of(expression)
}

struct Expansion<'a> {
    letter: &'a Symbol,
    approach: Approach,
    others: &'a [(Expression, f64)],
    budget: &'a Budget,
}

impl Expansion<'_> {
    fn of(&self, expression: &Expression) -> Option<Germ> {
        self.budget.take(60)?;
        Some(match (expression.operator(), expression.operands()) {
            (Operator::Number(number), _) => Germ::constant(number.to_f64()),
            (Operator::Symbol(symbol), _) if symbol == self.letter => match self.approach {
                Approach::Number(place, above) => {
                    let side = if above { 1.0 } else { -1.0 };
                    Germ::constant(place).add(&Germ::term(side, Monomial::power(1.0)))
                }
                Approach::Infinity(positive) => {
                    Germ::term(if positive { 1.0 } else { -1.0 }, Monomial::power(-1.0))
                }
                Approach::Whole => Germ::term(1.0, Monomial::power(-1.0)),
            },
            (Operator::Symbol(_), _) => {
                let known = self.others.iter().find(|(leaf, _)| leaf == expression)?;
                Germ::constant(known.1)
            }
            (Operator::Constant(Constant::Pi), _) => Germ::constant(std::f64::consts::PI),
            (Operator::Constant(Constant::E), _) => Germ::constant(std::f64::consts::E),
            (Operator::Sum, terms) => {
                let mut sum = Germ::constant(0.0);
                for term in terms {
                    sum = sum.add(&self.of(term)?);
                }
                sum
            }
            (Operator::Product, factors) => {
                let mut product = Germ::constant(1.0);
                for factor in factors {
                    product = product.multiply(&self.of(factor)?);
                }
                product
            }
            (Operator::Negative, [operand]) => self.of(operand)?.scale(-1.0),
            (Operator::Fraction, [above, below]) => {
                let (above, below) = (self.of(above)?, self.of(below)?);
                above.multiply(&below.inverse()?)
            }
            (Operator::Mixed, [whole, above, below]) => {
                let (above, below) = (self.of(above)?, self.of(below)?);
                self.of(whole)?.add(&above.multiply(&below.inverse()?))
            }
            (Operator::Power, [base, exponent]) => self.power(base, exponent)?,
            (Operator::Root, [radicand]) => self.of(radicand)?.raise(0.5, false)?,
            (Operator::NthRoot, [radicand, degree]) => match degree.as_i64() {
                Some(degree) if degree > 0 => self.odd_power(&self.of(radicand)?, 1, degree)?,
                _ => {
                    let degree = self.of(degree)?.inverse()?;
                    self.of(radicand)?.ln()?.multiply(&degree).exp()?
                }
            },
            (Operator::Percent, [operand]) => self.of(operand)?.scale(0.01),
            (Operator::Degrees, [operand]) => self.of(operand)?.scale(std::f64::consts::PI / 180.0),
            (Operator::Function(Function::LogBase), [argument, base]) => {
                let (argument, base) = (self.of(argument)?, self.of(base)?);
                argument.ln()?.multiply(&base.ln()?.inverse()?)
            }
            (Operator::Function(Function::Binomial), [n, k]) => {
                let difference = Expression::difference(n.clone(), k.clone());
                let below = self.factorial(k)?.multiply(&self.factorial(&difference)?);
                self.factorial(n)?.multiply(&below.inverse()?)
            }
            (Operator::Function(Function::Factorial), [argument]) => self.factorial(argument)?,
            (Operator::Function(function), [argument]) => {
                self.function(*function, &self.of(argument)?)?
            }
            (Operator::Piecewise, rows) => {
                let chosen = rows.chunks(2).find_map(|row| {
                    let [value, condition] = row else {
                        return Some(None);
                    };
                    match self.holds(condition) {
                        Some(true) => Some(Some(value)),
                        Some(false) => None,
                        None => Some(None),
                    }
                })?;
                self.of(chosen?)?
            }
            _ => self.taylor(expression)?,
        })
    }

    /// The Taylor polynomial of what is computed as a whole, such as an integral with a bound that
    /// varies.
    fn taylor(&self, expression: &Expression) -> Option<Germ> {
        let Approach::Number(place, above) = self.approach else {
            return None;
        };
        let mut leaves = Leaves::of_symbols([self.letter]);
        let program = compile(expression, &mut leaves).ok()?;
        let mut jets = vec![Jet::variable(place, STEPS + 1)];
        for leaf in &leaves.as_slice()[1..] {
            let known = self.others.iter().find(|(other, _)| other == leaf)?;
            jets.push(Jet::constant(known.1, STEPS + 1));
        }
        let jet = program.jet(&jets, STEPS + 1, self.budget)?;
        let size = (0..=STEPS).fold(0.0_f64, |size, k| size.max(jet.coefficient(k).abs()));
        let step = Germ::term(if above { 1.0 } else { -1.0 }, Monomial::power(1.0));
        Some(step.series(|k| match jet.coefficient(k) {
            // Sums of quadrature are exact to so many digits only.
            c if c.abs() <= 1e-13 * size => 0.0,
            c => c,
        }))
    }

    /// Whether a condition holds close to the place.
    fn holds(&self, condition: &Expression) -> Option<bool> {
        use crate::expression::Relation;
        match (condition.operator(), condition.operands()) {
            (Operator::Text(words), _) => {
                (words.contains("otherwise") || words == "else").then_some(true)
            }
            (Operator::Relation(relations), sides) => {
                for (pair, relation) in sides.windows(2).zip(relations) {
                    let difference = Expression::difference(pair[0].clone(), pair[1].clone());
                    let difference = self.of(&difference)?;
                    let sign = match difference.leading() {
                        Some(term) if !term.alternates => term.coefficient.total_cmp(&0.0),
                        None if difference.rest.is_none() => Ordering::Equal,
                        _ => return None,
                    };
                    let holds = match relation {
                        Relation::Less => sign == Ordering::Less,
                        Relation::LessOrEqual => sign != Ordering::Greater,
                        Relation::Greater => sign == Ordering::Greater,
                        Relation::GreaterOrEqual => sign != Ordering::Less,
                        Relation::Equal => sign == Ordering::Equal,
                        Relation::NotEqual => sign != Ordering::Equal,
                        _ => return None,
                    };
                    if !holds {
                        return Some(false);
                    }
                }
                Some(true)
            }
            _ => None,
        }
    }

    fn power(&self, base: &Expression, exponent: &Expression) -> Option<Germ> {
        if let Some((numerator, denominator)) = literal_fraction(exponent) {
            let base = self.of(base)?;
            return match denominator {
                1 => base.raise(numerator as f64, true),
                _ => self.odd_power(&base, numerator, denominator),
            };
        }
        if base.as_constant() == Some(Constant::E) {
            return self.of(exponent)?.exp();
        }
        let (base, exponent) = (self.of(base)?, self.of(exponent)?);
        if self.approach == Approach::Whole
            && let ([only], None) = (base.terms.as_slice(), &base.rest)
            && only.coefficient < 0.0
            && only.monomial == Monomial::one()
            && !only.alternates
        {
            // (−b)ⁿ alternates.
            let sign = alternation(&exponent, 1.0)?;
            let size = Germ::constant(-only.coefficient).ln()?;
            return Some(exponent.multiply(&size).exp()?.multiply(&sign));
        }
        if exponent.rest.is_none() {
            let constant = match exponent.terms.as_slice() {
                [] => Some(0.0),
                [only] if only.monomial == Monomial::one() && !only.alternates => {
                    Some(only.coefficient)
                }
                _ => None,
            };
            if let Some(constant) = constant {
                return base.raise(constant, constant == libm::floor(constant));
            }
        }
        exponent.multiply(&base.ln()?).exp()
    }

    fn odd_power(&self, base: &Germ, numerator: i64, denominator: i64) -> Option<Germ> {
        let exponent = numerator as f64 / denominator as f64;
        let is_negative = base.leading().is_some_and(|term| term.coefficient < 0.0);
        match is_negative && denominator % 2 != 0 {
            true => {
                let sign = if numerator % 2 == 0 { 1.0 } else { -1.0 };
                Some(base.scale(-1.0).raise(exponent, false)?.scale(sign))
            }
            false => base.raise(exponent, false),
        }
    }

    /// By Stirling's formula (Abramowitz and Stegun, 6.1.40).
    fn factorial(&self, argument: &Expression) -> Option<Germ> {
        let u = self.of(argument)?;
        if !u.is_growing() {
            return u.add(&Germ::constant(1.0)).analytic(Jet::gamma);
        }
        if u.leading()?.coefficient < 0.0 {
            return None;
        }
        let inverse = u.inverse()?;
        let cube = inverse.multiply(&inverse).multiply(&inverse);
        let half_ln_turn = 0.5 * libm::log(2.0 * std::f64::consts::PI);
        let logarithm = u
            .add(&Germ::constant(0.5))
            .multiply(&u.ln()?)
            .add(&u.scale(-1.0))
            .add(&Germ::constant(half_ln_turn))
            .add(&inverse.scale(1.0 / 12.0))
            .add(&cube.scale(-1.0 / 360.0));
        // The next term of the formula is of the fifth order.
        let rest = inverse.size()?.raise(5.0);
        let logarithm = Germ::tidied(
            logarithm
                .terms
                .iter()
                .map(|t| (t.clone(), t.coefficient.abs()))
                .collect(),
            greater(logarithm.rest, Some(rest)),
        );
        logarithm.exp()
    }

    fn function(&self, function: Function, u: &Germ) -> Option<Germ> {
        use Function as F;
        let half_turn = std::f64::consts::FRAC_PI_2;
        let inverse = || u.inverse();
        Some(match function {
            F::Exp => u.exp()?,
            F::Ln => u.ln()?,
            F::Log => match self.budget.natural_logarithm {
                true => u.ln()?,
                false => u.ln()?.scale(1.0 / std::f64::consts::LN_10),
            },
            F::Sin | F::Cos => match u.analytic(|jet| {
                let (sine, cosine) = jet.sin_cos();
                Some(if function == F::Sin { sine } else { cosine })
            }) {
                Some(germ) => germ,
                None => self.turning(function, u),
            },
            F::Tan => {
                let (sine, cosine) = (self.function(F::Sin, u)?, self.function(F::Cos, u)?);
                sine.multiply(&cosine.inverse()?)
            }
            F::Cot => {
                let (sine, cosine) = (self.function(F::Sin, u)?, self.function(F::Cos, u)?);
                cosine.multiply(&sine.inverse()?)
            }
            F::Sec => self.function(F::Cos, u)?.inverse()?,
            F::Csc => self.function(F::Sin, u)?.inverse()?,
            F::Arctan => match u.is_growing() {
                true => {
                    let Some(lead) = u.leading().filter(|lead| !lead.alternates) else {
                        return Some(Germ::bounded());
                    };
                    let side = half_turn * lead.coefficient.signum();
                    let rest = inverse()?.analytic(Jet::arctan)?;
                    Germ::constant(side).add(&rest.scale(-1.0))
                }
                false => u.analytic(Jet::arctan).unwrap_or_else(Germ::bounded),
            },
            F::Arccot => {
                let arctan = self.function(F::Arctan, u)?;
                Germ::constant(half_turn).add(&arctan.scale(-1.0))
            }
            F::Arcsin => u.analytic(Jet::arcsin)?,
            F::Arccos => u.analytic(Jet::arccos)?,
            F::Arcsec => inverse()?.analytic(Jet::arccos)?,
            F::Arccsc => inverse()?.analytic(Jet::arcsin)?,
            F::Sinh | F::Cosh | F::Tanh | F::Coth | F::Sech | F::Csch => {
                let (up, down) = (u.exp()?, u.scale(-1.0).exp()?);
                let sinh = up.add(&down.scale(-1.0)).scale(0.5);
                let cosh = up.add(&down).scale(0.5);
                match function {
                    F::Sinh => sinh,
                    F::Cosh => cosh,
                    F::Tanh => sinh.multiply(&cosh.inverse()?),
                    F::Coth => cosh.multiply(&sinh.inverse()?),
                    F::Sech => cosh.inverse()?,
                    _ => sinh.inverse()?,
                }
            }
            F::Arsinh => match u.is_growing() {
                true => {
                    let root = u.multiply(u).add(&Germ::constant(1.0)).raise(0.5, false)?;
                    u.add(&root).ln()?
                }
                false => u.analytic(Jet::arsinh)?,
            },
            F::Arcosh => {
                let root = u.multiply(u).add(&Germ::constant(-1.0)).raise(0.5, false)?;
                u.add(&root).ln()?
            }
            F::Artanh => u.analytic(Jet::artanh)?,
            F::Erf => u.analytic(Jet::erf)?,
            F::Gamma => u.analytic(Jet::gamma)?,
            F::Abs => match u.leading() {
                Some(lead) if !lead.alternates => u.scale(lead.coefficient.signum()),
                Some(_) if u.terms.len() == 1 => {
                    let mut size = u.clone();
                    size.terms[0].alternates = false;
                    size.terms[0].coefficient = size.terms[0].coefficient.abs();
                    size
                }
                _ => Germ {
                    terms: Vec::new(),
                    rest: u.size().cloned(),
                },
            },
            F::Sign => {
                let lead = u.leading().filter(|lead| !lead.alternates)?;
                Germ::constant(lead.coefficient.signum())
            }
            F::Floor | F::Ceiling => {
                let (grows, stays, vanishing) = u.parts()?;
                if !grows.is_empty() {
                    return Some(u.add(&Germ::bounded()));
                }
                let whole = libm::round(stays);
                if (stays - whole).abs() > 1e-9 {
                    return Some(Germ::constant(match function {
                        F::Floor => libm::floor(stays),
                        _ => libm::ceil(stays),
                    }));
                }
                let above = match vanishing.leading() {
                    Some(term) if !term.alternates => Some(term.coefficient > 0.0),
                    None if vanishing.rest.is_none() => None,
                    _ => return None,
                };
                Germ::constant(match (function, above) {
                    (F::Floor, Some(false)) => whole - 1.0,
                    (F::Ceiling, Some(true)) => whole + 1.0,
                    _ => whole,
                })
            }
            _ => return None,
        })
    }

    /// Sine or cosine of what grows without bound: between −1 and 1; along whole numbers, of
    /// multiples of π, it alternates.
    fn turning(&self, function: Function, u: &Germ) -> Germ {
        if self.approach == Approach::Whole
            && let Some(sign) = alternation(u, std::f64::consts::PI)
            && let Some((_, stays, vanishing)) = u.parts()
        {
            let rest = vanishing.add(&Germ::constant(stays));
            let value = rest.analytic(|jet| {
                let (sine, cosine) = jet.sin_cos();
                Some(if function == Function::Sin {
                    sine
                } else {
                    cosine
                })
            });
            if let Some(value) = value {
                let value = match &value.terms.as_slice() {
                    [only] if only.coefficient.abs() < 1e-12 => Germ::constant(0.0),
                    _ => value,
                };
                return sign.multiply(&value);
            }
        }
        Germ::bounded()
    }
}

/// (−1) to the power of u/unit, where that is a whole multiple of n and a whole number.
fn alternation(u: &Germ, unit: f64) -> Option<Germ> {
    let mut alternates = false;
    let mut sign = 1.0;
    for term in &u.terms {
        if term.alternates || !term.monomial.exponent.is_empty() {
            return None;
        }
        let (power, logarithms) = (term.monomial.power, term.monomial.logarithms);
        let share = term.coefficient / unit;
        let whole = libm::round(share);
        let is_whole = (share - whole).abs() < 1e-9 && logarithms == 0.0;
        match power {
            -1.0 if is_whole => alternates = libm::fmod(whole, 2.0) != 0.0,
            0.0 if unit == 1.0 && is_whole => {
                if libm::fmod(whole, 2.0) != 0.0 {
                    sign = -1.0;
                }
            }
            // A remainder that is no multiple of the unit is looked at by the caller.
            0.0 if unit != 1.0 => {}
            power if power > 0.0 && unit != 1.0 => {}
            _ => return None,
        }
    }
    if unit == 1.0 && u.rest.is_some() {
        return None;
    }
    Some(Germ {
        terms: vec![Term {
            coefficient: sign,
            alternates,
            monomial: Monomial::one(),
        }],
        rest: None,
    })
}

/// The place that a limit's point names.
pub(super) fn approach(point: f64, side: Option<bool>) -> Vec<Approach> {
    match (point.is_finite(), side) {
        (false, _) => vec![Approach::Infinity(point > 0.0)],
        (true, Some(above)) => vec![Approach::Number(point, above)],
        (true, None) => vec![
            Approach::Number(point, true),
            Approach::Number(point, false),
        ],
    }
}

/// Infinity or minus infinity as a number.
pub(super) fn infinity(expression: &Expression) -> Option<f64> {
    signed_infinity(expression).map(|positive| match positive {
        true => f64::INFINITY,
        false => f64::NEG_INFINITY,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::read::{Declared, read};

    fn check(tex: &str, letter: &str, approach: Approach, expected: Tendency) {
        let expression = read(tex, &Declared::new()).expression;
        let budget = Budget::new(true);
        let germ = expand(&expression, &Symbol::new(letter), approach, &[], &budget);
        let found = germ.as_ref().map_or(Tendency::Unknown, Germ::tendency);
        let is_same = match (found, expected) {
            (Tendency::Finite(a), Tendency::Finite(b)) => (a - b).abs() < 1e-9,
            (found, expected) => found == expected,
        };
        assert!(
            is_same,
            "{tex} tends to {found:?}, not {expected:?}: {germ:?}"
        );
    }

    #[test]
    fn tells_limits() {
        use Tendency::{Alternates, Finite, Infinite};
        let (zero, infinity) = (Approach::Number(0.0, true), Approach::Infinity(true));
        let e = std::f64::consts::E;
        for (tex, approach, expected) in [
            (r"\frac{\sin x}{x}", zero, Finite(1.0)),
            (r"\frac{1-\cos x}{x^2}", zero, Finite(0.5)),
            (r"\frac{e^x - 1 - x}{x^2}", zero, Finite(0.5)),
            (r"\frac{\tan x - \sin x}{x^3}", zero, Finite(0.5)),
            (r"x\ln x", zero, Finite(0.0)),
            (r"x^x", zero, Finite(1.0)),
            (r"(1+x)^{1/x}", zero, Finite(e)),
            (r"\left(1+\frac{2}{x}\right)^{x}", infinity, Finite(e * e)),
            (r"x\sin\frac1x", zero, Finite(0.0)),
            (r"\frac{\ln x}{x}", infinity, Finite(0.0)),
            (r"\frac{x^{10}}{e^x}", infinity, Finite(0.0)),
            (r"\sqrt{x^2+x}-x", infinity, Finite(0.5)),
            (r"\frac{3x^2-1}{2x^2+x}", infinity, Finite(1.5)),
            (r"\arctan x", infinity, Finite(std::f64::consts::FRAC_PI_2)),
            (r"\frac{1}{x}", zero, Infinite(true)),
            (r"\ln x", zero, Infinite(false)),
            (r"e^{-1/x}", zero, Finite(0.0)),
            (r"\frac{\sqrt{x+4}-2}{x}", zero, Finite(0.25)),
            (r"\frac{|x|}{x}", zero, Finite(1.0)),
            (
                r"\left(\frac{1}{x}-\frac{1}{\sin x}\right)",
                zero,
                Finite(0.0),
            ),
            (r"\frac{\cosh x - 1}{x^2}", zero, Finite(0.5)),
            (r"x^{1/x}", infinity, Finite(1.0)),
        ] {
            check(tex, "x", approach, expected);
        }
        for (tex, expected) in [
            (r"\frac{n!}{n^n}", Finite(0.0)),
            (r"\frac{n}{\sqrt[n]{n!}}", Finite(e)),
            (r"(-1)^n\frac{n}{n+1}", Alternates),
            (r"\frac{(-1)^n}{n}", Finite(0.0)),
            (r"\frac{\cos n\pi}{n^2}", Finite(0.0)),
            (r"\frac{2^n}{n!}", Finite(0.0)),
            (
                r"\frac{(2n)!}{(n!)^2 4^n}\sqrt{n}",
                Finite(1.0 / libm::sqrt(std::f64::consts::PI)),
            ),
        ] {
            check(tex, "n", Approach::Whole, expected);
        }
    }

    #[test]
    fn tells_whether_series_converge() {
        let budget = Budget::new(true);
        for (tex, expected) in [
            (r"\frac{1}{n^2}", Some((true, true))),
            (r"\frac1n", Some((false, false))),
            (r"\frac{(-1)^n}{n}", Some((true, false))),
            (r"\frac{1}{n\ln n}", Some((false, false))),
            (r"\frac{1}{n(\ln n)^2}", Some((true, true))),
            (r"\frac{n^2}{2^n}", Some((true, true))),
            (r"\frac{n!}{3^n}", Some((false, false))),
            (r"\frac{n^n}{n!\,3^n}", Some((true, true))),
            (r"\frac{\sin n}{n^2}", Some((true, true))),
            (r"\frac{n}{n+1}", Some((false, false))),
            (r"\sin\frac1n", Some((false, false))),
            (r"\frac{(-1)^n\sqrt n}{n+3}", Some((true, false))),
        ] {
            let expression = read(tex, &Declared::new()).expression;
            let germ = expand(
                &expression,
                &Symbol::new("n"),
                Approach::Whole,
                &[],
                &budget,
            );
            assert_eq!(
                germ.as_ref().and_then(Germ::converges),
                expected,
                "{tex}: {germ:?}"
            );
        }
    }
}
