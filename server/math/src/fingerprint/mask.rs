//! What is left of a formula when numbers and letters are masked?

use smallvec::SmallVec;

use super::{calculus, differential_equations, linear_algebra, roots};
use crate::expression::{Expression, Function, Operator, Relation, Symbol};
use crate::problem::{Problem, Task};
use crate::rational::Rational;
use crate::stable_hash::Digest;
use crate::surface::{self, Base, Exponent, Factor, Term, Terms};

/// What the masks of the letters are, and what is asked.
pub(super) struct Mask<'p> {
    pub(super) problem: &'p Problem,
    letters: SmallVec<[(&'p Symbol, Digest); 8]>,
}

/// Where in a problem a part of it stands: what of its numbers matters there.
#[derive(Clone, Copy)]
pub(super) struct Place {
    /// The method depends on the roots of a polynomial.
    pub(super) roots: bool,
    /// The method depends on the roots of polynomials in denominators and below roots.
    pub(super) roots_below: bool,
    /// This is the radicand of an even root.
    pub(super) below_root: bool,
    /// All exponents but 1, -1 and 1/2 are treated alike, by one rule.
    pub(super) one_rule: bool,
}

impl Place {
    /// Only the structure matters.
    pub(super) const PLAIN: Self = Self {
        roots: false,
        roots_below: false,
        below_root: false,
        one_rule: false,
    };
}

// Tags of nodes; the operators that are not flattened are tagged by themselves.
const NUMBER: u64 = 1;
const SUM: u64 = 2;
const PRODUCT: u64 = 3;
const POWER: u64 = 4;
const RELATION: u64 = 5;
const DEFINITION: u64 = 6;
const DERIVATIVE: u64 = 7;
const LETTER: u64 = 8;
const OPERATOR: u64 = 9;
const EXPONENTIAL: u64 = 10;
const SIGNS: u64 = 11;
const ARITHMETIC: u64 = 12;
const E: u64 = 13;
const MARKED: u64 = 14;
const COMMON: u64 = 15;

impl<'p> Mask<'p> {
    pub(super) fn new(problem: &'p Problem) -> Self {
        let mut letters: SmallVec<[(&Symbol, Digest); 8]> = SmallVec::new();
        let formulas = problem.main.iter().chain(&problem.conditions);
        for part in formulas.flat_map(Expression::parts) {
            if let Some(symbol) = part.as_symbol()
                && !letters.iter().any(|(known, _)| *known == symbol)
            {
                let role = match () {
                    () if problem.unknowns.contains(symbol) => 0,
                    () if problem.variables.contains(symbol) => 1,
                    () => 2,
                };
                // A name of several letters is no variable that could be renamed.
                let name = match symbol.name().chars().nth(1) {
                    Some(_) => Digest::of(&symbol.name()),
                    None => Digest::tag(symbol.is_vector().into()),
                };
                letters.push((symbol, Digest::tag(LETTER).with(role).then(name)));
            }
        }
        Self { problem, letters }
    }

    /// Tells letters of the same role apart by where they stand: each is marked in turn, and the
    /// hash of the whole with the mark is its new mask.
    pub(super) fn refine(&mut self, whole: impl Fn(&Self) -> Digest) {
        let masks: SmallVec<[Digest; 8]> = self.letters.iter().map(|(_, mask)| *mask).collect();
        let is_shared = |mask: &Digest| masks.iter().filter(|other| *other == mask).count() > 1;
        // Beyond so many letters the number of passes would be the cost of a fingerprint.
        if masks.len() > 24 || !masks.iter().any(is_shared) {
            return;
        }
        let mut refined = masks.clone();
        for place in 0..masks.len() {
            if is_shared(&masks[place]) {
                self.letters[place].1 = masks[place].with(MARKED);
                refined[place] = masks[place].then(whole(self));
                self.letters[place].1 = masks[place];
            }
        }
        for ((_, mask), refined) in self.letters.iter_mut().zip(refined) {
            *mask = refined;
        }
    }

    pub(super) fn is_variable(&self, symbol: &Symbol) -> bool {
        self.problem.variables.contains(symbol)
    }

    pub(super) fn is_unknown(&self, symbol: &Symbol) -> bool {
        self.problem.unknowns.contains(symbol)
    }

    /// Some letter that varies, or is to be found, occurs in it.
    pub(super) fn varies(&self, expression: &Expression) -> bool {
        expression.parts().any(|part| {
            part.as_symbol()
                .is_some_and(|symbol| self.is_variable(symbol) || self.is_unknown(symbol))
        })
    }

    /// The hash of the formula that the problem is about.
    pub(super) fn main(&self, main: &Expression) -> Digest {
        let task = self.problem.task;
        let place = Place {
            roots: matches!(
                task,
                Task::Equation
                    | Task::Inequality
                    | Task::System
                    | Task::Simplify
                    | Task::Statement
                    | Task::Other
            ),
            roots_below: matches!(task, Task::Integrate | Task::Sum),
            below_root: false,
            one_rule: task == Task::Differentiate,
        };
        let is_arithmetic = !main.parts().any(|part| {
            matches!(
                part.operator(),
                Operator::Symbol(_) | Operator::Matrix(_) | Operator::Tuple(_)
            )
        });
        if is_arithmetic {
            return self.arithmetic(main);
        }
        let multiples = match task {
            Task::Differentiate | Task::Ode | Task::Matrix | Task::System => Digest::tag(0),
            _ => calculus::multiples(self, main),
        };
        match task {
            Task::Ode => {
                if let Some(hash) = differential_equations::hash(self, main) {
                    return hash;
                }
                if let Some(is_exact) = differential_equations::exactness(main) {
                    return self.hash(main, place).with(is_exact.into());
                }
            }
            Task::System | Task::Matrix => {
                if let Some(hash) = linear_algebra::hash(self, main) {
                    return hash;
                }
            }
            _ => {}
        }
        self.hash(main, place).then(multiples)
    }

    /// The hash of a condition.
    pub(super) fn condition(&self, condition: &Expression) -> Digest {
        self.hash(condition, Place::PLAIN)
    }

    /// The hash of an expression.
    pub(super) fn hash(&self, expression: &Expression, place: Place) -> Digest {
        let operands = expression.operands();
        match expression.operator() {
            Operator::Sum
            | Operator::Negative
            | Operator::Product
            | Operator::Fraction
            | Operator::Power
            | Operator::Root
            | Operator::NthRoot
            | Operator::Number(_)
            | Operator::Mixed
            | Operator::Percent
            | Operator::Function(Function::Exp) => self.sum(&surface::terms(expression), place),
            Operator::Symbol(symbol) => self.letter(symbol),
            Operator::Constant(crate::expression::Constant::E) => Digest::tag(E),
            Operator::Relation(relations) => self.relation(expression, relations, place),
            Operator::Prime(order) => match operands {
                [function] => self.derivative(u64::from(*order), function, place),
                _ => self.in_order(expression, place),
            },
            Operator::Derivative(by) if by.orders.len() == 1 && !by.partial => match operands {
                [function, _] if self.names_unknown(function) => {
                    self.derivative(by.orders[0].into(), function, place)
                }
                _ => self.in_order(expression, place),
            },
            // y(x), where x is what y depends on, is y.
            Operator::Apply if self.names_unknown(expression) => self.hash(&operands[0], place),
            Operator::Integral(_) => calculus::integral(self, expression, place),
            Operator::Limit(_) => calculus::limit(self, expression, place),
            Operator::Series(..) => calculus::series(self, expression, place),
            Operator::Function(function) => self.function(*function, operands, place),
            Operator::Matrix(_) => linear_algebra::matrix(self, expression, place),
            Operator::System | Operator::Set | Operator::List | Operator::Logic(_) => {
                let mut items: SmallVec<[Digest; 4]> =
                    operands.iter().map(|item| self.hash(item, place)).collect();
                self.operator(expression.operator())
                    .then(Digest::of_bag(&mut items))
            }
            _ => self.in_order(expression, place),
        }
    }

    /// The hash of an operator over operands whose order counts.
    pub(super) fn in_order(&self, expression: &Expression, place: Place) -> Digest {
        let operands = expression.operands().iter();
        operands.fold(self.operator(expression.operator()), |hash, operand| {
            hash.then(self.hash(operand, place))
        })
    }

    pub(super) fn operator(&self, operator: &Operator) -> Digest {
        Digest::tag(OPERATOR).then(Digest::of(operator))
    }

    fn letter(&self, symbol: &Symbol) -> Digest {
        let found = self.letters.iter().find(|(letter, _)| *letter == symbol);
        found.map_or(Digest::tag(LETTER), |(_, mask)| *mask)
    }

    fn derivative(&self, order: u64, function: &Expression, place: Place) -> Digest {
        let function = self.hash(function, place);
        Digest::tag(DERIVATIVE).with(order).then(function)
    }

    /// It is a function that is to be found, with or without the letter that it depends on.
    pub(super) fn names_unknown(&self, expression: &Expression) -> bool {
        match (expression.operator(), expression.operands()) {
            (Operator::Symbol(symbol), _) => self.is_unknown(symbol),
            (Operator::Apply, [function, arguments @ ..]) => {
                function.as_symbol().is_some_and(|f| self.is_unknown(f))
                    && arguments
                        .iter()
                        .all(|a| a.as_symbol().is_some_and(|a| self.is_variable(a)))
            }
            _ => false,
        }
    }

    fn function(&self, function: Function, operands: &[Expression], place: Place) -> Digest {
        // The natural logarithm of a later course is the logarithm without a base; the base is a
        // number like others, and only its coincidence with other bases matters.
        let tag = match function {
            Function::Ln | Function::Log | Function::LogBase => Function::Log,
            _ => function,
        };
        let mut hash = Digest::tag(OPERATOR).with(tag as u64);
        let inner = Place {
            roots: place.roots && function == Function::Abs,
            ..place
        };
        let arguments = match function {
            Function::Log | Function::LogBase => &operands[..operands.len().min(1)],
            _ => operands,
        };
        for argument in arguments {
            hash = hash.then(self.hash(argument, inner));
        }
        if function == Function::LogBase
            && let [_, base] = operands
            && self.varies(base)
        {
            hash = hash.then(self.hash(base, inner));
        }
        hash
    }

    /// The hash of a sum of terms, and of their coefficients' properties where they matter.
    pub(super) fn sum(&self, terms: &Terms<'_>, place: Place) -> Digest {
        if let [term] = terms.as_slice() {
            return self.product(term, place);
        }
        let mut hashes: SmallVec<[Digest; 6]> =
            terms.iter().map(|term| self.product(term, place)).collect();
        let polynomial = match place.one_rule {
            true => None,
            false => roots::polynomial(self, terms),
        };
        // The signs of a polynomial's coefficients say less than its roots do.
        let signs = match &polynomial {
            Some(_) => None,
            None => self.signs(terms, &hashes, place),
        };
        let mut hash = Digest::tag(SUM).then(Digest::of_bag(&mut hashes));
        if let Some(signs) = signs {
            hash = hash.then(signs);
        }
        if let Some((_, polynomial)) = polynomial {
            if place.roots
                && let Some(kinds) = roots::kinds(&polynomial)
            {
                hash = hash.then(kinds);
            }
            if place.below_root && polynomial.degree() > 1 {
                hash = hash.with(polynomial.leading().is_negative().into());
            }
        }
        hash
    }

    /// The signs of those terms whose sign changes the method, and which of their coefficients
    /// are equal in size: `\ln x + \ln y` is not `\ln x - \ln y`, and a difference of squares not
    /// a sum of squares. The opposite of the whole has the same signs.
    fn signs(&self, terms: &Terms<'_>, hashes: &[Digest], place: Place) -> Option<Digest> {
        if place.one_rule {
            return None;
        }
        let telling: SmallVec<[(Digest, &Rational); 6]> = terms
            .iter()
            .zip(hashes)
            .filter(|(term, _)| self.has_telling_sign(term))
            .map(|(term, hash)| (*hash, &term.coefficient))
            .collect();
        if telling.len() < 2 {
            return None;
        }
        // That coefficients are equal matters where functions may be combined.
        let functions = terms.iter().filter(|term| has_function(term)).count();
        let variant = |flip: bool| {
            let mut signs: SmallVec<[Digest; 6]> = telling
                .iter()
                .map(|(hash, coefficient)| {
                    let equal = telling
                        .iter()
                        .filter(|(_, other)| functions > 1 && other.abs() == coefficient.abs())
                        .count();
                    hash.with((coefficient.is_negative() != flip).into())
                        .with(equal as u64)
                })
                .collect();
            Digest::of_bag(&mut signs)
        };
        Some(Digest::tag(SIGNS).then(variant(false).min(variant(true))))
    }

    fn has_telling_sign(&self, term: &Term<'_>) -> bool {
        let is_power = |factor: &Factor<'_>| match &factor.exponent {
            Exponent::Number(exponent) => !exponent.is_one(),
            Exponent::Symbolic { .. } => false,
        };
        has_function(term) || term.factors.iter().any(is_power)
    }

    /// The hash of a product; its coefficient is masked.
    pub(super) fn product(&self, term: &Term<'_>, place: Place) -> Digest {
        match term.factors.as_slice() {
            [] => return Digest::tag(NUMBER),
            [factor] => return self.factor(factor, place),
            _ => {}
        }
        let mut factors: SmallVec<[Digest; 4]> = term
            .factors
            .iter()
            .map(|factor| self.factor(factor, place))
            .collect();
        let mut hash = Digest::tag(PRODUCT).then(Digest::of_bag(&mut factors));
        if place.roots
            && let Some(common) = roots::common(self, term)
        {
            hash = hash.with(COMMON).then(common);
        }
        hash
    }

    /// The hash of a power.
    pub(super) fn factor(&self, factor: &Factor<'_>, place: Place) -> Digest {
        match &factor.exponent {
            Exponent::Number(exponent) => {
                let is_below = exponent.is_negative() || !exponent.is_integer();
                let inner = Place {
                    roots: place.roots || (place.roots_below && is_below),
                    below_root: exponent.denominator().as_i64().is_some_and(|d| d % 2 == 0),
                    ..place
                };
                let base = self.base(factor.base, inner);
                match self.exponent_class(factor, exponent, place) {
                    None => base,
                    Some(class) => Digest::tag(POWER).then(base).then(class),
                }
            }
            Exponent::Symbolic { exponent, negated } => {
                let number = factor.base.part().and_then(surface::number);
                let base = match (factor.base, &number) {
                    (Base::E, _) => Digest::tag(E),
                    (_, Some(value)) => Digest::tag(NUMBER).with(match () {
                        // (-1)^n alternates.
                        () if value.is_negative() => 1,
                        () => 0,
                    }),
                    _ => self.base(factor.base, place).with((*negated).into()),
                };
                let inner = Place {
                    roots: false,
                    ..place
                };
                let mut terms = surface::terms(exponent);
                if number.is_some_and(|value| value.is_negative()) {
                    // (-1)^{n+1} alternates as (-1)^n does.
                    terms.retain(|term| !term.factors.is_empty());
                }
                let exponent = self.sum(&terms, inner);
                Digest::tag(EXPONENTIAL).then(base).then(exponent)
            }
        }
    }

    fn base(&self, base: Base<'_>, place: Place) -> Digest {
        match base {
            Base::E => Digest::tag(E),
            Base::Part(part) => match surface::number(part) {
                Some(_) => Digest::tag(NUMBER),
                None => match part.operator() {
                    // A fraction or product in brackets would be flattened into this very power.
                    Operator::Product | Operator::Fraction | Operator::Negative => {
                        self.sum(&surface::terms(part), place).with(PRODUCT)
                    }
                    // A root whose degree is a letter is no power with a number for its exponent.
                    Operator::NthRoot if surface::number(&part.operands()[1]).is_none() => {
                        self.in_order(part, place)
                    }
                    Operator::Power | Operator::Root | Operator::NthRoot => {
                        self.sum(&surface::terms(part), place).with(POWER)
                    }
                    _ => self.hash(part, place),
                },
            },
        }
    }

    /// What of an exponent matters: nothing of 1, small ones as they are, and of others the sign,
    /// whether they are whole, and, where it decides about roots or symmetry, whether they are
    /// even.
    fn exponent_class(
        &self,
        factor: &Factor<'_>,
        exponent: &Rational,
        place: Place,
    ) -> Option<Digest> {
        if exponent.is_one() {
            return None;
        }
        let Some((n, d)) = exponent.as_fraction() else {
            return Some(Digest::tag(0).with(exponent.is_negative().into()));
        };
        let is_special = (n == -1 && d == 1) || (n.abs() == 1 && d == 2);
        let is_small = n.abs() <= 4 && d <= 4;
        if is_special || (is_small && !place.one_rule) {
            return Some(Digest::tag(1).with(n as u64).with(d as u64));
        }
        let is_sum = factor
            .base
            .part()
            .is_some_and(|part| *part.operator() == Operator::Sum);
        let parity = match () {
            () if place.one_rule || (is_sum && !place.roots) => 2,
            () => (n.rem_euclid(2) + 3 * d.rem_euclid(2)) as u64,
        };
        let class = u64::from(d > 1) << 1 | u64::from(n < 0);
        Some(Digest::tag(2).with(class).with(parity))
    }

    fn relation(&self, expression: &Expression, relations: &[Relation], place: Place) -> Digest {
        let operands = expression.operands();
        let ([left, right], [relation]) = (operands, relations) else {
            return self.chain(operands, relations, place);
        };
        if is_definition(left, *relation) {
            let inner = Place {
                roots: false,
                ..place
            };
            return Digest::tag(DEFINITION)
                .then(self.hash(left, inner))
                .then(self.hash(right, inner));
        }
        let is_order = matches!(
            relation,
            Relation::Less | Relation::LessOrEqual | Relation::Greater | Relation::GreaterOrEqual
        );
        if *relation != Relation::Equal && !is_order {
            let relation = Digest::tag(RELATION).with(*relation as u64);
            return relation
                .then(self.hash(left, place))
                .then(self.hash(right, place));
        }
        let mut terms = surface::terms(left);
        surface::collect_terms(right, true, &mut terms);
        terms.retain(|term| !term.coefficient.is_zero());
        let mut hash = Digest::tag(RELATION).then(self.sum(&terms, place));
        if is_order {
            // An order that is read from the other side, or after a change of sign, is the same.
            let flips = roots::leading_is_negative(self, &terms);
            let is_less = matches!(relation, Relation::Less | Relation::LessOrEqual);
            let is_strict = matches!(relation, Relation::Less | Relation::Greater);
            hash = hash.with((is_less != flips).into()).with(is_strict.into());
        }
        if place.roots
            && let Some(bits) = roots::isolated(self, &terms, is_order)
        {
            hash = hash.then(bits);
        }
        hash
    }

    /// `a < b \le c`; the same as read from the other end.
    fn chain(&self, operands: &[Expression], relations: &[Relation], place: Place) -> Digest {
        let is_reversed = relations
            .iter()
            .all(|r| matches!(r, Relation::Greater | Relation::GreaterOrEqual));
        let mut hash = Digest::tag(RELATION).with(relations.len() as u64);
        let mut add = |operand: &Expression, relation: Option<Relation>| {
            hash = hash.then(self.hash(operand, place));
            if let Some(relation) = relation {
                hash = hash.with(relation as u64);
            }
        };
        match is_reversed {
            false => {
                for (place, operand) in operands.iter().enumerate() {
                    add(operand, relations.get(place).copied());
                }
            }
            true => {
                for (place, operand) in operands.iter().enumerate().rev() {
                    let relation = place.checked_sub(1).and_then(|at| relations[at].reversed());
                    add(operand, relation);
                }
            }
        }
        hash
    }

    /// The hash of a formula without letters: what is calculated, with the class of each number.
    fn arithmetic(&self, expression: &Expression) -> Digest {
        let tag = Digest::tag(ARITHMETIC);
        let operands = expression.operands();
        match expression.operator() {
            Operator::Number(number) => {
                let written = match (number.written(), number.as_i64()) {
                    (crate::expression::Written::Exact, Some(0)) => 0,
                    (crate::expression::Written::Exact, Some(1)) => 1,
                    (crate::expression::Written::Exact, _) => 2,
                    _ => 3,
                };
                tag.with(written)
            }
            Operator::Sum => {
                let mut items: SmallVec<[Digest; 6]> = SmallVec::new();
                self.summands(expression, &mut items);
                let hash = tag.then(self.operator(expression.operator()));
                hash.then(Digest::of_bag(&mut items))
                    .then(roots::of_numbers(expression))
            }
            Operator::Product | Operator::Negative | Operator::Fraction => {
                let mut signed = Signed::default();
                self.factors_of_numbers(expression, &mut signed);
                match (signed.signs, signed.factors.as_slice()) {
                    (0, [factor]) => *factor,
                    (signs, _) => tag
                        .then(self.operator(&Operator::Product))
                        .with(signs)
                        .then(Digest::of_bag(&mut signed.factors)),
                }
            }
            Operator::Power | Operator::Root | Operator::NthRoot => {
                let hash = tag.then(self.operator(expression.operator()));
                operands
                    .iter()
                    .fold(hash, |hash, operand| hash.then(self.arithmetic(operand)))
                    .then(roots::of_numbers(expression))
            }
            Operator::Function(Function::Log | Function::Ln | Function::LogBase) => {
                let hash = tag.with(Function::Log as u64);
                operands
                    .iter()
                    .fold(hash, |hash, operand| hash.then(self.arithmetic(operand)))
                    .then(roots::of_numbers(expression))
            }
            operator => {
                let hash = tag.then(self.operator(operator));
                operands
                    .iter()
                    .fold(hash, |hash, operand| hash.then(self.arithmetic(operand)))
            }
        }
    }

    fn summands(&self, expression: &Expression, items: &mut SmallVec<[Digest; 6]>) {
        for operand in expression.operands() {
            match operand.operator() {
                Operator::Sum => self.summands(operand, items),
                _ => items.push(self.arithmetic(operand)),
            }
        }
    }

    /// The factors without their signs, which may stand before any of them: `-2 \cdot 3` is
    /// calculated as `2 \cdot (-3)` is.
    fn factors_of_numbers(&self, expression: &Expression, signed: &mut Signed) {
        match (expression.operator(), expression.operands()) {
            (Operator::Negative, [operand]) => {
                signed.signs += 1;
                self.factors_of_numbers(operand, signed);
            }
            (Operator::Product, operands) => {
                for operand in operands {
                    self.factors_of_numbers(operand, signed);
                }
            }
            (Operator::Fraction, [above, below]) => {
                let sides = [above, below].map(|side| {
                    let mut inner = Signed::default();
                    self.factors_of_numbers(side, &mut inner);
                    signed.signs += inner.signs;
                    Digest::of_bag(&mut inner.factors)
                });
                let fraction = Digest::tag(ARITHMETIC).then(self.operator(expression.operator()));
                signed.factors.push(fraction.then(sides[0]).then(sides[1]));
            }
            _ => signed.factors.push(self.arithmetic(expression)),
        }
    }
}

/// The factors of a product of numbers, and how many minus signs stand before them.
#[derive(Default)]
struct Signed {
    signs: u64,
    factors: SmallVec<[Digest; 6]>,
}

/// A function other than the exponential one and the factorial is a factor.
fn has_function(term: &Term<'_>) -> bool {
    term.factors.iter().any(|factor| {
        factor.base.part().is_some_and(|base| {
            matches!(base.operator(), Operator::Function(function)
                if !matches!(function, Function::Exp | Function::Factorial))
        })
    })
}

/// `f(x) = ...` and `a_{n+1} = ...` say what something is; they are not to be solved.
fn is_definition(left: &Expression, relation: Relation) -> bool {
    match relation {
        Relation::Defined => true,
        Relation::Equal => match (left.operator(), left.operands()) {
            (Operator::Apply, [_, arguments @ ..]) => arguments
                .iter()
                .all(|argument| argument.as_symbol().is_some()),
            (Operator::Indexed, _) => true,
            _ => false,
        },
        _ => false,
    }
}
