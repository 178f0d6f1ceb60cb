//! What is the value of a formula, many times and with its derivatives?
//!
//! A formula is compiled once into a [`Program`] whose leaves are places in a list of values, and
//! then run on [`Jet`]s. Integrals with bounds and series inside it are computed where it is run;
//! derivatives inside it are taken when it is compiled. What has no real value has none.
//!
//! Every node that is worked through is counted against a [`Budget`], so that no formula takes
//! long, however it nests.

use std::cell::Cell;

use super::jet::{Jet, one};
use super::quadrature;
use crate::derivative::derivative;
use crate::expression::{
    Bounds, Connective, Constant, Expression, Function, Operator, Relation, SeriesOperator,
    SeriesRange, Symbol,
};

/// The steps that are left for one verdict.
#[derive(Debug)]
pub(super) struct Budget {
    left: Cell<u64>,
    /// `\log` without a base has base e.
    pub(super) natural_logarithm: bool,
}

impl Budget {
    /// Enough for what a textbook asks; some hundredths of a second.
    pub(super) const STEPS: u64 = 750_000;

    pub(super) fn new(natural_logarithm: bool) -> Self {
        Self {
            left: Cell::new(Self::STEPS),
            natural_logarithm,
        }
    }

    /// Takes so many steps; none if there are not so many left.
    pub(super) fn take(&self, steps: u64) -> Option<()> {
        let left = self.left.get();
        match left >= steps {
            true => {
                self.left.set(left - steps);
                Some(())
            }
            false => {
                self.left.set(0);
                None
            }
        }
    }

    pub(super) fn is_spent(&self) -> bool {
        self.left.get() == 0
    }
}

/// The leaves of some formulas, each with its place in the list of values.
#[derive(Clone, Debug, Default)]
pub(super) struct Leaves(Vec<Expression>);

impl Leaves {
    /// These leaves have the first places.
    pub(super) fn of(leaves: impl IntoIterator<Item = Expression>) -> Self {
        Self(leaves.into_iter().collect())
    }

    pub(super) fn of_symbols<'a>(symbols: impl IntoIterator<Item = &'a Symbol>) -> Self {
        Self::of(symbols.into_iter().map(symbol_expression))
    }

    pub(super) fn as_slice(&self) -> &[Expression] {
        &self.0
    }

    pub(super) fn len(&self) -> usize {
        self.0.len()
    }

    /// The place of a leaf, which is added if it is new.
    pub(super) fn place(&mut self, leaf: &Expression) -> usize {
        match self.0.iter().position(|known| known == leaf) {
            Some(place) => place,
            None => {
                self.0.push(leaf.clone());
                self.0.len() - 1
            }
        }
    }
}

pub(super) fn symbol_expression(symbol: &Symbol) -> Expression {
    Expression::new(Operator::Symbol(symbol.clone()), [])
}

/// A formula ready to run.
#[derive(Clone, Debug)]
pub(super) struct Program(Node);

#[derive(Clone, Debug)]
enum Node {
    Number(f64),
    Leaf(usize),
    /// A variable bound inside: so many places from the end of the list of bound ones.
    Bound(usize),
    Sum(Vec<Node>),
    Product(Vec<Node>),
    Negative(Box<Node>),
    Quotient(Box<(Node, Node)>),
    IntegerPower(Box<Node>, i64),
    OddRootPower(Box<Node>, i64, i64),
    Power(Box<(Node, Node)>),
    Root(Box<Node>),
    NthRoot(Box<(Node, Node)>),
    Scaled(Box<Node>, f64),
    Function(Function, Box<Node>),
    LogBase(Box<(Node, Node)>),
    Binomial(Box<(Node, Node)>),
    Extreme(Function, Vec<Node>),
    Repeated(SeriesOperator, Box<Repeated>),
    Integral(Box<Integral>),
    Piecewise(Vec<(Node, Condition)>),
}

#[derive(Clone, Debug)]
struct Repeated {
    body: Node,
    from: Node,
    /// None: for ever.
    to: Option<Node>,
}

#[derive(Clone, Debug)]
struct Integral {
    body: Node,
    from: Bound,
    to: Bound,
}

#[derive(Clone, Debug)]
enum Bound {
    At(Node),
    Infinite(bool),
}

#[derive(Clone, Debug)]
enum Condition {
    Otherwise,
    Chain(Vec<Node>, Vec<Relation>),
    All(Vec<Condition>),
    Any(Vec<Condition>),
}

/// Formulas with more levels than this are not compiled.
const MAX_DEPTH: usize = 120;

/// Formulas with more parts than this are not compiled.
const MAX_SIZE: usize = 20_000;

/// Why a formula cannot be compiled.
pub(super) const TOO_LARGE: &str = "too large";

/// Compiles a formula; new leaves are added to the list. The error says what stands in the way.
pub(super) fn compile(expression: &Expression, leaves: &mut Leaves) -> Result<Program, String> {
    if expression.depth() > MAX_DEPTH || expression.size() > MAX_SIZE {
        return Err(TOO_LARGE.into());
    }
    let mut compiler = Compiler {
        leaves,
        bound: Vec::new(),
    };
    Ok(Program(compiler.node(expression)?))
}

struct Compiler<'a> {
    leaves: &'a mut Leaves,
    bound: Vec<Symbol>,
}

impl Compiler<'_> {
    fn nodes(&mut self, expressions: &[Expression]) -> Result<Vec<Node>, String> {
        expressions.iter().map(|e| self.node(e)).collect()
    }

    fn pair(&mut self, left: &Expression, right: &Expression) -> Result<Box<(Node, Node)>, String> {
        Ok(Box::new((self.node(left)?, self.node(right)?)))
    }

    fn node(&mut self, expression: &Expression) -> Result<Node, String> {
        let unknown = || {
            Err(format!(
                "`{}` has no value",
                crate::print::plain(expression)
            ))
        };
        Ok(match (expression.operator(), expression.operands()) {
            (Operator::Number(number), _) => Node::Number(number.to_f64()),
            (Operator::Symbol(symbol), _) => match self.bound.iter().rposition(|b| b == symbol) {
                Some(place) => Node::Bound(place),
                None => Node::Leaf(self.leaves.place(expression)),
            },
            (Operator::Constant(Constant::Pi), _) => Node::Number(std::f64::consts::PI),
            (Operator::Constant(Constant::E), _) => Node::Number(std::f64::consts::E),
            (Operator::Constant(Constant::Infinity), _) => {
                return Err("infinity is not a number".into());
            }
            (Operator::Constant(Constant::I), _) => {
                return Err("complex numbers are not followed here".into());
            }
            (Operator::Sum, terms) => Node::Sum(self.nodes(terms)?),
            (Operator::Product, factors) => Node::Product(self.nodes(factors)?),
            (Operator::Negative, [operand]) => Node::Negative(Box::new(self.node(operand)?)),
            (Operator::Fraction, [above, below]) => Node::Quotient(self.pair(above, below)?),
            (Operator::Mixed, [whole, above, below]) => Node::Sum(vec![
                self.node(whole)?,
                Node::Quotient(self.pair(above, below)?),
            ]),
            (Operator::Power, [base, exponent]) => {
                if let Some((numerator, denominator)) = literal_fraction(exponent) {
                    let base = Box::new(self.node(base)?);
                    match denominator {
                        1 => Node::IntegerPower(base, numerator),
                        _ if denominator % 2 != 0 => {
                            Node::OddRootPower(base, numerator, denominator)
                        }
                        _ => {
                            let exponent = numerator as f64 / denominator as f64;
                            Node::Power(Box::new((*base, Node::Number(exponent))))
                        }
                    }
                } else if base.as_constant() == Some(Constant::E) {
                    Node::Function(Function::Exp, Box::new(self.node(exponent)?))
                } else {
                    Node::Power(self.pair(base, exponent)?)
                }
            }
            (Operator::Root, [radicand]) => Node::Root(Box::new(self.node(radicand)?)),
            (Operator::NthRoot, [radicand, degree]) => match degree.as_i64() {
                Some(degree) if degree > 0 && degree % 2 == 1 => {
                    Node::OddRootPower(Box::new(self.node(radicand)?), 1, degree)
                }
                _ => Node::NthRoot(self.pair(radicand, degree)?),
            },
            (Operator::Percent, [operand]) => Node::Scaled(Box::new(self.node(operand)?), 0.01),
            (Operator::Degrees, [operand]) => {
                let degree = std::f64::consts::PI / 180.0;
                Node::Scaled(Box::new(self.node(operand)?), degree)
            }
            (Operator::Function(Function::LogBase), [argument, base]) => {
                Node::LogBase(self.pair(argument, base)?)
            }
            (Operator::Function(Function::Binomial), [n, k]) => Node::Binomial(self.pair(n, k)?),
            (Operator::Function(function @ (Function::Max | Function::Min)), [_, _, ..]) => {
                Node::Extreme(*function, self.nodes(expression.operands())?)
            }
            (Operator::Function(function), [argument]) if is_followed(*function) => {
                Node::Function(*function, Box::new(self.node(argument)?))
            }
            (
                Operator::Series(
                    operator @ (SeriesOperator::Sum | SeriesOperator::Product),
                    SeriesRange::Between | SeriesRange::From,
                ),
                [body, index, from, rest @ ..],
            ) => {
                let Some(index) = index.as_symbol() else {
                    return unknown();
                };
                let from = self.node(from)?;
                let to = match rest {
                    [to] if to.as_constant() != Some(Constant::Infinity) => Some(self.node(to)?),
                    _ => None,
                };
                self.bound.push(index.clone());
                let body = self.node(body);
                self.bound.pop();
                let body = body?;
                Node::Repeated(*operator, Box::new(Repeated { body, from, to }))
            }
            (Operator::Integral(integration), [body, variable, from, to])
                if integration.bounds == Bounds::Between && integration.variables == 1 =>
            {
                let Some(variable) = variable.as_symbol() else {
                    return unknown();
                };
                let (from, to) = (self.bound_of(from)?, self.bound_of(to)?);
                self.bound.push(variable.clone());
                let body = self.node(body);
                self.bound.pop();
                let body = body?;
                Node::Integral(Box::new(Integral { body, from, to }))
            }
            (Operator::Piecewise, rows) => {
                let mut cases = Vec::new();
                for row in rows.chunks(2) {
                    let [value, condition] = row else {
                        return unknown();
                    };
                    cases.push((self.node(value)?, self.condition(condition)?));
                }
                Node::Piecewise(cases)
            }
            (Operator::Derivative(orders), [body, variables @ ..])
                if body.as_symbol().is_none() && !matches!(body.operator(), Operator::Apply) =>
            {
                let mut body = body.clone();
                for (variable, order) in variables.iter().zip(&orders.orders) {
                    let Some(symbol) = variable.as_symbol() else {
                        return unknown();
                    };
                    for _ in 0..*order {
                        let Some(next) = derivative(&body, symbol) else {
                            return unknown();
                        };
                        if next.size() > MAX_SIZE {
                            return Err(TOO_LARGE.into());
                        }
                        body = next;
                    }
                }
                self.node(&body)?
            }
            (Operator::EvaluatedAt, [body, bounds @ ..]) => {
                let Some(values) = evaluated_at(body, bounds) else {
                    return unknown();
                };
                match values.as_slice() {
                    [only] => self.node(only)?,
                    [lower, upper] => Node::Sum(vec![
                        self.node(upper)?,
                        Node::Negative(Box::new(self.node(lower)?)),
                    ]),
                    _ => return unknown(),
                }
            }
            _ if is_unknown_value(expression) && self.bound.is_empty() => {
                Node::Leaf(self.leaves.place(expression))
            }
            _ => return unknown(),
        })
    }

    fn bound_of(&mut self, bound: &Expression) -> Result<Bound, String> {
        match signed_infinity(bound) {
            Some(positive) => Ok(Bound::Infinite(positive)),
            None => Ok(Bound::At(self.node(bound)?)),
        }
    }

    fn condition(&mut self, condition: &Expression) -> Result<Condition, String> {
        match (condition.operator(), condition.operands()) {
            (Operator::Text(words), _) if words.contains("otherwise") || words == "else" => {
                Ok(Condition::Otherwise)
            }
            (Operator::Relation(relations), sides) => {
                Ok(Condition::Chain(self.nodes(sides)?, relations.to_vec()))
            }
            (Operator::Logic(Connective::And) | Operator::List | Operator::System, parts) => {
                let parts: Result<_, _> = parts.iter().map(|part| self.condition(part)).collect();
                Ok(Condition::All(parts?))
            }
            (Operator::Logic(Connective::Or), parts) => {
                let parts: Result<_, _> = parts.iter().map(|part| self.condition(part)).collect();
                Ok(Condition::Any(parts?))
            }
            _ => Err("a condition of a case is not understood".into()),
        }
    }
}

/// `F |_{x = 1}`, `F |_0^1`: the values of `F` there, the lower one first.
fn evaluated_at(body: &Expression, bounds: &[Expression]) -> Option<Vec<Expression>> {
    let named = bounds.iter().find_map(|b| b.as_equation()?.0.as_symbol());
    let free = body.free_symbols();
    let variable = match named {
        Some(symbol) => symbol.clone(),
        None if free.len() == 1 => free.into_iter().next()?,
        None => free.into_iter().find(|symbol| symbol.name() == "x")?,
    };
    let values = bounds.iter().map(|bound| {
        let at = bound.as_equation().map_or(bound, |(_, right)| right);
        match at.as_constant() {
            Some(Constant::Infinity) => None,
            _ => Some(body.substitute(&variable, at)),
        }
    });
    values.collect()
}

/// An unknown function, its value at some argument, or a derivative of it.
fn is_unknown_value(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Prime(_), [function]) => function.as_symbol().is_some(),
        (Operator::Derivative(_), [function, ..]) => {
            function.as_symbol().is_some() || is_unknown_value(function)
        }
        (Operator::Apply, [function, ..]) => {
            function.as_symbol().is_some() || matches!(function.operator(), Operator::Prime(_))
        }
        (Operator::Indexed, [_, ..]) => true,
        _ => false,
    }
}

pub(super) fn signed_infinity(expression: &Expression) -> Option<bool> {
    match (expression.operator(), expression.operands()) {
        (Operator::Constant(Constant::Infinity), _) => Some(true),
        (Operator::Negative, [operand]) => signed_infinity(operand).map(|positive| !positive),
        (Operator::Sum, [operand]) => signed_infinity(operand),
        _ => None,
    }
}

/// An integer or a fraction of integers as written, in lowest terms with a positive denominator.
pub(super) fn literal_fraction(expression: &Expression) -> Option<(i64, i64)> {
    crate::surface::number(expression)?.as_fraction()
}

fn is_followed(function: Function) -> bool {
    use Function as F;
    matches!(
        function,
        F::Sin
            | F::Cos
            | F::Tan
            | F::Cot
            | F::Sec
            | F::Csc
            | F::Arcsin
            | F::Arccos
            | F::Arctan
            | F::Arccot
            | F::Arcsec
            | F::Arccsc
            | F::Sinh
            | F::Cosh
            | F::Tanh
            | F::Coth
            | F::Sech
            | F::Csch
            | F::Arsinh
            | F::Arcosh
            | F::Artanh
            | F::Arcoth
            | F::Arsech
            | F::Arcsch
            | F::Exp
            | F::Ln
            | F::Log
            | F::Abs
            | F::Floor
            | F::Ceiling
            | F::Sign
            | F::Factorial
            | F::DoubleFactorial
            | F::Gamma
            | F::Erf
    )
}

/// A run of a program.
struct Run<'a> {
    leaves: &'a [Jet],
    bound: Vec<Jet>,
    length: usize,
    budget: &'a Budget,
}

impl Program {
    /// The value where the leaves have these values.
    pub(super) fn value(&self, leaves: &[f64], budget: &Budget) -> Option<f64> {
        let leaves: smallvec::SmallVec<[Jet; 4]> = leaves
            .iter()
            .map(|value| Jet::constant(*value, 1))
            .collect();
        Some(self.jet(&leaves, 1, budget)?.value())
    }

    /// The jet of this length where the leaves have these jets.
    pub(super) fn jet(&self, leaves: &[Jet], length: usize, budget: &Budget) -> Option<Jet> {
        let mut run = Run {
            leaves,
            bound: Vec::new(),
            length,
            budget,
        };
        let jet = run.node(&self.0)?;
        jet.is_finite().then_some(jet)
    }
}

/// The greatest number of terms that a series inside a formula may have.
const MAX_TERMS: u64 = 2_000;

impl Run<'_> {
    fn constant(&self, value: f64) -> Jet {
        Jet::constant(value, self.length)
    }

    fn node(&mut self, node: &Node) -> Option<Jet> {
        self.budget.take(self.length as u64)?;
        match node {
            Node::Number(value) => Some(self.constant(*value)),
            Node::Leaf(place) => self
                .leaves
                .get(*place)
                .map(|jet| jet.truncated(self.length)),
            Node::Bound(place) => self.bound.get(*place).cloned(),
            Node::Sum(terms) => {
                let mut sum = self.constant(0.0);
                for term in terms {
                    sum.add_to(&self.node(term)?);
                }
                Some(sum)
            }
            Node::Product(factors) => {
                let mut product: Option<Jet> = None;
                for factor in factors {
                    let factor = self.node(factor)?;
                    product = Some(match product {
                        Some(product) => product.multiply(&factor),
                        None => factor,
                    });
                }
                Some(product.unwrap_or_else(|| self.constant(1.0)))
            }
            Node::Negative(operand) => Some(self.node(operand)?.negative()),
            Node::Quotient(pair) => {
                let (above, below) = (self.node(&pair.0)?, self.node(&pair.1)?);
                above.divide(&below)
            }
            Node::IntegerPower(base, exponent) => self.node(base)?.integer_power(*exponent),
            Node::OddRootPower(base, numerator, denominator) => {
                self.node(base)?.odd_root_power(*numerator, *denominator)
            }
            Node::Power(pair) => {
                let (base, exponent) = (self.node(&pair.0)?, self.node(&pair.1)?);
                base.power(&exponent)
            }
            Node::Root(radicand) => self.node(radicand)?.sqrt(),
            Node::NthRoot(pair) => {
                let (radicand, degree) = (self.node(&pair.0)?, self.node(&pair.1)?);
                radicand.power(&one(&degree).divide(&degree)?)
            }
            Node::Scaled(operand, factor) => Some(self.node(operand)?.scale(*factor)),
            Node::Function(function, argument) => {
                let argument = self.node(argument)?;
                self.function(*function, &argument)
            }
            Node::LogBase(pair) => {
                let (argument, base) = (self.node(&pair.0)?, self.node(&pair.1)?);
                argument.ln()?.divide(&base.ln()?)
            }
            Node::Binomial(pair) => {
                let (n, k) = (self.node(&pair.0)?.value(), self.node(&pair.1)?.value());
                if k < 0.0 || k != libm::floor(k) || k > 1_000.0 {
                    return None;
                }
                self.budget.take(k as u64)?;
                let factors = (0..k as u32).map(f64::from);
                let product = factors.map(|j| (n - j) / (j + 1.0)).product();
                Some(self.constant(product))
            }
            Node::Extreme(function, nodes) => {
                let mut best: Option<Jet> = None;
                for node in nodes {
                    let jet = self.node(node)?;
                    let is_better = best.as_ref().is_none_or(|best| match function {
                        Function::Max => jet.value() > best.value(),
                        _ => jet.value() < best.value(),
                    });
                    if is_better {
                        best = Some(jet);
                    }
                }
                best
            }
            Node::Repeated(operator, repeated) => self.repeated(*operator, repeated),
            Node::Integral(integral) => self.integral(integral),
            Node::Piecewise(cases) => {
                for (value, condition) in cases {
                    if self.holds(condition)? {
                        return self.node(value);
                    }
                }
                None
            }
        }
    }

    fn holds(&mut self, condition: &Condition) -> Option<bool> {
        Some(match condition {
            Condition::Otherwise => true,
            Condition::Chain(sides, relations) => {
                let mut values = Vec::with_capacity(sides.len());
                for side in sides {
                    values.push(self.node(side)?.value());
                }
                for (pair, relation) in values.windows(2).zip(relations) {
                    let (left, right) = (pair[0], pair[1]);
                    let holds = match relation {
                        Relation::Equal => left == right,
                        Relation::NotEqual => left != right,
                        Relation::Less => left < right,
                        Relation::LessOrEqual => left <= right,
                        Relation::Greater => left > right,
                        Relation::GreaterOrEqual => left >= right,
                        _ => return None,
                    };
                    if !holds {
                        return Some(false);
                    }
                }
                true
            }
            Condition::All(parts) => {
                for part in parts {
                    if !self.holds(part)? {
                        return Some(false);
                    }
                }
                true
            }
            Condition::Any(parts) => {
                for part in parts {
                    if self.holds(part)? {
                        return Some(true);
                    }
                }
                false
            }
        })
    }

    fn repeated(&mut self, operator: SeriesOperator, repeated: &Repeated) -> Option<Jet> {
        let from = whole(self.node(&repeated.from)?.value())?;
        let to = match &repeated.to {
            Some(to) => Some(whole(self.node(to)?.value())?),
            None => None,
        };
        let is_sum = operator == SeriesOperator::Sum;
        let mut total = self.constant(if is_sum { 0.0 } else { 1.0 });
        let mut small = 0;
        let mut terms = 0;
        let mut index = from;
        while to.is_none_or(|to| index <= to) {
            terms += 1;
            if terms > MAX_TERMS {
                return None;
            }
            let value = self.constant(index as f64);
            self.bound.push(value);
            let term = self.node(&repeated.body);
            self.bound.pop();
            let term = term?;
            match is_sum {
                true => total.add_to(&term),
                false => total = total.multiply(&term),
            }
            if to.is_none() {
                if !is_sum {
                    return None;
                }
                let is_small = (0..self.length).all(|order| {
                    let size = total.coefficient(order).abs().max(1e-30);
                    term.coefficient(order).abs() <= 1e-18 * size
                });
                small = if is_small { small + 1 } else { 0 };
                if small >= 4 {
                    return Some(total);
                }
            }
            index += 1;
        }
        Some(total)
    }

    fn integral(&mut self, integral: &Integral) -> Option<Jet> {
        let end = |run: &mut Self, bound: &Bound| match bound {
            Bound::At(node) => Some(quadrature::End::At(run.node(node)?)),
            Bound::Infinite(positive) => Some(quadrature::End::Infinite(*positive)),
        };
        let (from, to) = (end(self, &integral.from)?, end(self, &integral.to)?);
        let mut sum = quadrature::integrate_jets(&from, &to, self.length, |at| {
            self.bound.push(at);
            let value = self.node(&integral.body);
            self.bound.pop();
            value
        })?;
        if sum.len() > self.length {
            sum = sum.truncated(self.length);
        }
        Some(sum)
    }

    fn function(&mut self, function: Function, u: &Jet) -> Option<Jet> {
        use Function as F;
        let inverse = || one(u).divide(u);
        Some(match function {
            F::Sin => u.sin_cos().0,
            F::Cos => u.sin_cos().1,
            F::Tan => {
                let (sine, cosine) = u.sin_cos();
                divide_clearly(&sine, &cosine)?
            }
            F::Cot => {
                let (sine, cosine) = u.sin_cos();
                divide_clearly(&cosine, &sine)?
            }
            F::Sec => divide_clearly(&one(u), &u.sin_cos().1)?,
            F::Csc => divide_clearly(&one(u), &u.sin_cos().0)?,
            F::Arcsin => u.arcsin()?,
            F::Arccos => u.arccos()?,
            F::Arctan => u.arctan()?,
            F::Arccot => {
                Jet::constant(std::f64::consts::FRAC_PI_2, self.length).subtract(&u.arctan()?)
            }
            F::Arcsec => inverse()?.arccos()?,
            F::Arccsc => inverse()?.arcsin()?,
            F::Sinh => u.sinh_cosh().0,
            F::Cosh => u.sinh_cosh().1,
            F::Tanh => u.tanh()?,
            F::Coth => one(u).divide(&u.tanh()?)?,
            F::Sech => one(u).divide(&u.sinh_cosh().1)?,
            F::Csch => one(u).divide(&u.sinh_cosh().0)?,
            F::Arsinh => u.arsinh()?,
            F::Arcosh => u.arcosh()?,
            F::Artanh => u.artanh()?,
            F::Arcoth => inverse()?.artanh()?,
            F::Arsech => inverse()?.arcosh()?,
            F::Arcsch => inverse()?.arsinh()?,
            F::Exp => u.exp(),
            F::Ln => u.ln()?,
            F::Log => match self.budget.natural_logarithm {
                true => u.ln()?,
                false => u.ln()?.scale(1.0 / std::f64::consts::LN_10),
            },
            F::Abs => u.abs()?,
            F::Floor => u.step(libm::floor),
            F::Ceiling => u.step(libm::ceil),
            F::Sign => u.step(|value| if value == 0.0 { 0.0 } else { value.signum() }),
            F::Factorial => u.add(&one(u)).gamma()?,
            F::DoubleFactorial => {
                let mut factor = whole(u.value())?;
                if factor > 300 {
                    return None;
                }
                let mut product = 1.0;
                while factor > 1 {
                    product *= factor as f64;
                    factor -= 2;
                }
                self.constant(product)
            }
            F::Gamma => u.gamma()?,
            F::Erf => u.erf()?,
            _ => return None,
        })
    }
}

/// A quotient at which the divisor is zero but for rounding does not exist.
fn divide_clearly(above: &Jet, below: &Jet) -> Option<Jet> {
    match below.value().abs() <= 1e-15 {
        true => None,
        false => above.divide(below),
    }
}

fn whole(value: f64) -> Option<i64> {
    let rounded = libm::round(value);
    ((value - rounded).abs() < 1e-9 && rounded.abs() < 1e9).then_some(rounded as i64)
}
