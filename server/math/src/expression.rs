//! What is a formula, once it has been read?
//!
//! An [`Expression`] is an [`Operator`] and its operands, which are expressions. Every operator,
//! whatever it means, keeps its operands in one ordered list, so that walking, rewriting,
//! hashing and matching are written once; the layout of the list is part of the operator's
//! documentation and is matched with slices:
//!
//! ```
//! use porism_math::expression::{Expression, Operator};
//! let square = Expression::power(Expression::symbol("x"), Expression::integer(2));
//! match (square.operator(), square.operands()) {
//!     (Operator::Power, [base, exponent]) => {
//!         assert_eq!(base, &Expression::symbol("x"));
//!         assert_eq!(exponent.as_i64(), Some(2));
//!     }
//!     _ => unreachable!("a power was built"),
//! }
//! ```
//!
//! # A faithful tree, not a normal form
//!
//! The tree says what is on the page: `x - y` is a sum of `x` and the negative of `y`, `\frac12`
//! is a fraction of two integers, `0.25` a decimal of two places, `2(x+1)` a product that nobody
//! has expanded, and `(a + b) + c` a sum inside a sum. What a student must *do* can be seen only
//! there. Nothing is evaluated, reordered or cancelled, neither on reading nor by the
//! constructors. Canonical forms are types of their own, built from this one.
//!
//! Only differences without mathematical content are dropped: spacing, the size and (where they
//! merely group) the presence of brackets, `\frac ab` against `a/b`, `2x` against `2 \cdot x`.
//!
//! # Equality, order, cost
//!
//! Equality, order and hash are those of the tree; the place in the text from which an
//! expression was read ([`Expression::range`]) takes no part. A clone is a reference count. The
//! number of nodes and the depth are kept, so that a caller can refuse what is too large before
//! walking it.

use std::collections::BTreeSet;
use std::fmt;
use std::hash::{Hash, Hasher};
use std::ops::Range;
use std::sync::Arc;

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};
use smallvec::SmallVec;
use smol_str::SmolStr;

/// A formula or a part of one: an [`Operator`] and its operands.
#[derive(Clone)]
pub struct Expression(Arc<Node>);

struct Node {
    operator: Operator,
    operands: Operands,
    hash: u64,
    size: u32,
    depth: u32,
    start: u32,
    end: u32,
}

/// The operands of one expression, in the order that its [`Operator`] documents.
pub type Operands = SmallVec<[Expression; 2]>;

/// What an expression is, with everything about it that is not itself an expression.
///
/// The square brackets give the operands, in order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Operator {
    // Leaves.
    /// A number as written: an integer, or a decimal. `[]`
    Number(Number),
    /// A letter or a name. `[]`
    Symbol(Symbol),
    /// A number or set with a name of its own: π, e, i, ∞, ℝ, ∅. `[]`
    Constant(Constant),
    /// Words inside a formula, as in `\text{no solution}`. `[]`
    Text(SmolStr),
    /// TeX that could not be read, kept verbatim. `[]`
    Opaque(SmolStr),
    /// A place where an operand is missing or was left blank on purpose (`\square`). `[]`
    Hole,
    /// Something left out by the writer: `\dots`. `[]`
    Ellipsis,

    // Arithmetic.
    /// A sum; a difference is the sum with a [`Operator::Negative`]. `[term, term, ...]`, at
    /// least two when read.
    Sum,
    /// A product, however it is written. `[factor, factor, ...]`, at least two when read.
    Product,
    /// The opposite: a leading or subtracting minus sign. `[operand]`
    Negative,
    /// A plus-or-minus sign before an operand; `a \pm b` is the sum of `a` and this. `[operand]`
    PlusMinus,
    /// A minus-or-plus sign before an operand, opposite to every [`Operator::PlusMinus`] in the
    /// formula. `[operand]`
    MinusPlus,
    /// A fraction or quotient. `[numerator, denominator]`
    Fraction,
    /// A mixed number: a whole and a proper fraction of literal integers. `[whole, numerator,
    /// denominator]`
    Mixed,
    /// A power. `[base, exponent]`
    Power,
    /// A square root. `[radicand]`
    Root,
    /// A root of stated degree. `[radicand, degree]`
    NthRoot,
    /// So many hundredths. `[operand]`
    Percent,
    /// So many degrees of arc. `[operand]`
    Degrees,
    /// A ratio written with a colon. `[term, term, ...]`
    Ratio,

    // Functions.
    /// A function that the reader knows. `[argument, ...]`
    Function(Function),
    /// A declared or recognised function at arguments; the function is a symbol, a derivative, an
    /// inverse or a combination of these. `[function, argument, ...]`
    Apply,
    /// The inverse function `f^{-1}` of a function given by name. `[function]`
    InverseFunction,
    /// A composition `f \circ g`. `[outer, ..., inner]`
    Composition,
    /// A member of a sequence, an entry, or a component: a letter with indices such as `a_{n+1}`.
    /// `[letter, index, ...]`
    Indexed,

    // Calculus.
    /// A derivative of this order, written with primes or dots. `[function]`
    Prime(u32),
    /// A derivative of symbolic order, `f^{(n)}`. `[function, order]`
    NthPrime,
    /// A derivative with respect to named variables, with the order for each. `[operand,
    /// variable, ...]`
    Derivative(Box<Differentiation>),
    /// A differential: `dx`. `[variable]`
    Differential,
    /// An integral. `[integrand, variable * variables, then the bounds]`; when no variable is
    /// counted the differentials stand in the integrand, as in `\int_C P\,dx + Q\,dy`.
    Integral(Integration),
    /// A limit. `[body, variable, point]`
    Limit(Side),
    /// A sum, product, union or intersection over an index, or over a condition. `[body, index,
    /// bounds]`, or `[body, condition]`, or `[body]`, as told by [`SeriesRange`].
    Series(SeriesOperator, SeriesRange),
    /// The value at a point or the difference between two: `F(x) |_a^b`. `[operand, upper]` or
    /// `[operand, lower, upper]`; where the variable is named, the bounds are equations.
    EvaluatedAt,

    // Statements.
    /// A chain of relations: `a < b \le c` has two. `[first, second, ...]`, one more than there
    /// are relations.
    Relation(SmallVec<[Relation; 2]>),
    /// A congruence's modulus. `[statement, modulus]`
    Modulo,
    /// Statements joined by a connective. `[statement, ...]`
    Logic(Connective),
    /// A statement for all or for some values. `[variable or condition, statement]`
    Quantified(Quantifier),
    /// A condition attached to an event or expression: `A \mid B`. `[event, condition]`
    Given,

    // Collections.
    /// Formulas side by side, separated by commas. `[item, ...]`
    List,
    /// Statements that hold together, one to a row. `[row, ...]`
    System,
    /// A value for each of several cases. `[value, condition, value, condition, ...]`; a condition
    /// "otherwise" is a text.
    Piecewise,
    /// A matrix, row by row. `[entry, ...]`
    Matrix(Shape),
    /// A point or vector in components. `[component, ...]`
    Tuple(Brackets),
    /// A set given by its members. `[member, ...]`
    Set,
    /// A set given by a condition. `[element, condition]`
    SetBuilder,
    /// An interval. `[lower, upper]`
    Interval(Ends),
    /// An operation on sets. `[operand, ...]`
    SetOperation(SetOperation),
    /// The inner product of vectors. `[left, right]`
    Dot,
    /// The vector product. `[left, right]`
    Cross,
}

/// An exact number and the way it was written.
///
/// `0.5`, `0.50` and `1/2` have the same [`value`](Number::value) and are different numbers here,
/// since the digits say how far a rounded answer can be trusted. Numbers that were read are never
/// negative: the sign is a [`Operator::Negative`].
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Number {
    value: Value,
    written: Written,
}

// An integer that fits is always `Small`, so that derived equality is equality of values.
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Value {
    Small(i64),
    Big(Arc<BigRational>),
}

/// How a number was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Written {
    /// Without a decimal point, or computed.
    Exact,
    /// With a decimal point and so many digits after it.
    Decimal {
        /// The number of digits after the point.
        places: u32,
    },
    /// With digits that repeat for ever.
    Repeating {
        /// The number of digits after the point and before the repeating ones.
        places: u32,
        /// The number of repeating digits.
        period: u32,
    },
}

/// A letter or a name, with its subscript and its typographic style.
///
/// Greek letters are kept as Unicode letters (`α`). The subscript holds digits and words, which
/// distinguish one letter from another (`x_1`, `v_{\text{max}}`); a subscript that is a formula
/// makes a [`Operator::Indexed`].
#[derive(Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Symbol {
    name: SmolStr,
    subscript: SmolStr,
    style: Style,
    accent: Accent,
}

/// The alphabet of a symbol.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Style {
    /// As mathematics is set: `x`.
    #[default]
    Plain,
    /// `\mathbf{x}`, `\boldsymbol{x}`, `{\bf x}`.
    Bold,
    /// `\mathrm{x}`, `\operatorname{name}`, `\mathsf{x}`.
    Roman,
    /// `\mathcal{x}`, `\mathscr{x}`.
    Calligraphic,
    /// `\mathbb{x}`.
    Blackboard,
    /// `\mathfrak{x}`.
    Fraktur,
}

/// A mark above a symbol.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Accent {
    /// No mark.
    #[default]
    None,
    /// `\vec{x}`, `\overrightarrow{AB}`.
    Vector,
    /// `\hat{x}`.
    Hat,
    /// `\bar{x}`, `\overline{x}`.
    Bar,
    /// `\tilde{x}`.
    Tilde,
}

/// Numbers and sets with a name of their own.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Constant {
    /// The ratio of a circle's circumference to its diameter.
    Pi,
    /// The base of natural logarithms.
    E,
    /// The imaginary unit.
    I,
    /// Infinity; minus infinity is its negative.
    Infinity,
    /// The set without members.
    EmptySet,
    /// The natural numbers.
    Naturals,
    /// The integers.
    Integers,
    /// The rational numbers.
    Rationals,
    /// The real numbers.
    Reals,
    /// The complex numbers.
    Complexes,
    /// Truth, as an answer.
    True,
    /// Falsehood, as an answer.
    False,
}

/// Functions that the reader knows by name or notation.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names are those of the standard notation")]
pub enum Function {
    Sin,
    Cos,
    Tan,
    Cot,
    Sec,
    Csc,
    Arcsin,
    Arccos,
    Arctan,
    Arccot,
    Arcsec,
    Arccsc,
    Sinh,
    Cosh,
    Tanh,
    Coth,
    Sech,
    Csch,
    Arsinh,
    Arcosh,
    Artanh,
    Arcoth,
    Arsech,
    Arcsch,
    Exp,
    /// The natural logarithm.
    Ln,
    /// A logarithm whose base is not written: 10 in school algebra, e in later courses.
    Log,
    /// A logarithm of stated base. `[argument, base]`
    LogBase,
    /// The absolute value or modulus.
    Abs,
    Norm,
    Floor,
    Ceiling,
    Sign,
    Factorial,
    DoubleFactorial,
    /// A binomial coefficient. `[n, k]`
    Binomial,
    /// The number of arrangements. `[n, k]`
    Permutations,
    Gcd,
    Lcm,
    Max,
    Min,
    Sup,
    Inf,
    /// The remainder of a division. `[dividend, divisor]`
    Remainder,
    RealPart,
    ImaginaryPart,
    Argument,
    Conjugate,
    Gamma,
    Erf,
    Determinant,
    Trace,
    Rank,
    Dimension,
    Kernel,
    Transpose,
    Gradient,
    Divergence,
    Curl,
    Laplacian,
    /// The change of a quantity, `\Delta x`.
    Change,
    /// The number of members of a set.
    Cardinality,
    Complement,
    Probability,
    Expectation,
    Variance,
}

/// The orders of a derivative with respect to each of its variables.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Differentiation {
    /// Written with `\partial`.
    pub partial: bool,
    /// The order for each variable, in the order of the variables. Written order is kept: in
    /// `\partial^2 f / \partial x \partial y` the variable `y` is last.
    pub orders: SmallVec<[u32; 2]>,
}

/// What is written about an integral besides the integrand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Integration {
    /// The number of integral signs written together: 2 for `\iint`.
    pub signs: u8,
    /// A closed path or surface: `\oint`.
    pub closed: bool,
    /// The number of variables of integration among the operands.
    pub variables: u8,
    /// The bounds among the operands.
    pub bounds: Bounds,
}

/// The bounds of an integral, and the operands that hold them.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Bounds {
    /// An indefinite integral. `[]`
    None,
    /// A region or a path. `[region]`
    Region,
    /// From a lower to an upper bound. `[lower, upper]`
    Between,
}

/// The side from which a limit is taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// From both sides.
    Both,
    /// From below: `x \to a^-`.
    Below,
    /// From above: `x \to a^+`.
    Above,
}

/// The operation that a [`Operator::Series`] repeats.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names say it")]
pub enum SeriesOperator {
    Sum,
    Product,
    Union,
    Intersection,
}

/// The range of a [`Operator::Series`], and the operands after its body.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum SeriesRange {
    /// Nothing is written. `[]`
    Unstated,
    /// Only the index. `[index]`
    Index,
    /// A first value of the index; the end is not written. `[index, from]`
    From,
    /// A first and a last value of the index. `[index, from, to]`
    Between,
    /// A condition such as `d \mid n`. `[condition]`
    Condition,
}

/// A sign between two sides.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names are those of the signs")]
pub enum Relation {
    Equal,
    NotEqual,
    Less,
    LessOrEqual,
    Greater,
    GreaterOrEqual,
    /// `\approx`, `\simeq`.
    Approximately,
    /// `\equiv`: identically equal, or congruent.
    Equivalent,
    /// `\sim`: asymptotic, similar, distributed as.
    Similar,
    /// `\cong`.
    Congruent,
    /// `\propto`.
    Proportional,
    /// `:=`.
    Defined,
    In,
    NotIn,
    /// `\ni`.
    Contains,
    Subset,
    SubsetOrEqual,
    NotSubset,
    Superset,
    SupersetOrEqual,
    /// `\to`: tends to, or maps into.
    To,
    /// `\mapsto`.
    MapsTo,
    /// `a : b`, as in `f : A \to B`.
    Colon,
    Perpendicular,
    Parallel,
    Divides,
    DoesNotDivide,
    /// `\ll`.
    MuchLess,
    /// `\gg`.
    MuchGreater,
}

/// A sign between statements.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Connective {
    Implies,
    ImpliedBy,
    Iff,
    And,
    Or,
    Not,
}

/// A quantifier.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Quantifier {
    ForAll,
    Exists,
    ExistsUnique,
}

/// An operation on sets.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the names say it")]
pub enum SetOperation {
    Union,
    Intersection,
    Difference,
    /// The Cartesian product.
    Product,
    DirectSum,
}

/// The layout of a matrix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Shape {
    /// The number of columns; the number of rows follows from that of the entries.
    pub columns: u32,
    /// A vertical rule after so many columns: an augmented matrix.
    pub rule: Option<u32>,
}

/// The brackets around components.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Brackets {
    /// `(a, b)`: a point, and, for two numbers, also the open interval.
    Round,
    /// `\langle a, b \rangle`.
    Angle,
    /// `[a, b, c]`.
    Square,
}

/// Which ends belong to an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Ends {
    /// The lower end belongs to it.
    pub lower_closed: bool,
    /// The upper end belongs to it.
    pub upper_closed: bool,
}

impl Expression {
    /// An expression from its parts, at no place in the text.
    ///
    /// The operands must be laid out as the operator documents; nothing checks it.
    pub fn new(operator: Operator, operands: impl IntoIterator<Item = Expression>) -> Self {
        Self::at(operator, operands.into_iter().collect(), 0..0)
    }

    /// An expression that was read from this range of bytes.
    pub(crate) fn at(operator: Operator, operands: Operands, range: Range<usize>) -> Self {
        let mut hasher = TreeHasher(0);
        operator.hash(&mut hasher);
        let (mut size, mut depth) = (1_u32, 0);
        for operand in &operands {
            hasher.write_u64(operand.0.hash);
            size = size.saturating_add(operand.0.size);
            depth = depth.max(operand.0.depth);
        }
        Self(Arc::new(Node {
            operator,
            operands,
            hash: hasher.finish(),
            size,
            depth: depth.saturating_add(1),
            start: u32::try_from(range.start).unwrap_or(u32::MAX),
            end: u32::try_from(range.end).unwrap_or(u32::MAX),
        }))
    }

    /// The same expression, as read from this range of bytes.
    pub fn with_range(self, range: Range<usize>) -> Self {
        if self.range() == range {
            return self;
        }
        Self::at(self.0.operator.clone(), self.0.operands.clone(), range)
    }

    /// A number.
    pub fn number(number: Number) -> Self {
        Self::new(Operator::Number(number), [])
    }

    /// An integer. A negative one is the negative of a number, as a reader would give.
    pub fn integer(value: i64) -> Self {
        Self::rational(&BigRational::from_integer(value.into()))
    }

    /// A rational number as a reader would give it: a fraction of integers, with the sign in front.
    pub fn rational(value: &BigRational) -> Self {
        let whole = |n: BigInt| Self::number(Number::exact(BigRational::from_integer(n)));
        let numerator = whole(value.numer().abs());
        let magnitude = match value.is_integer() {
            true => numerator,
            false => Self::fraction(numerator, whole(value.denom().clone())),
        };
        match value.is_negative() {
            true => Self::negative(magnitude),
            false => magnitude,
        }
    }

    /// A symbol in plain style, without a subscript.
    pub fn symbol(name: &str) -> Self {
        Self::new(Operator::Symbol(Symbol::new(name)), [])
    }

    /// A constant.
    pub fn constant(constant: Constant) -> Self {
        Self::new(Operator::Constant(constant), [])
    }

    /// A sum: the only term if there is one, and 0 if there is none.
    pub fn sum(terms: impl IntoIterator<Item = Expression>) -> Self {
        Self::of_several(Operator::Sum, terms, 0)
    }

    /// A product: the only factor if there is one, and 1 if there is none.
    pub fn product(factors: impl IntoIterator<Item = Expression>) -> Self {
        Self::of_several(Operator::Product, factors, 1)
    }

    fn of_several(
        operator: Operator,
        operands: impl IntoIterator<Item = Expression>,
        neutral: i64,
    ) -> Self {
        let mut operands: Operands = operands.into_iter().collect();
        match operands.len() {
            0 => Self::integer(neutral),
            1 => operands.remove(0),
            _ => Self::at(operator, operands, 0..0),
        }
    }

    /// The opposite, as a minus sign in front.
    pub fn negative(operand: Expression) -> Self {
        Self::new(Operator::Negative, [operand])
    }

    /// A difference: a sum with a negative term.
    pub fn difference(left: Expression, right: Expression) -> Self {
        Self::sum([left, Self::negative(right)])
    }

    /// A fraction.
    pub fn fraction(numerator: Expression, denominator: Expression) -> Self {
        Self::new(Operator::Fraction, [numerator, denominator])
    }

    /// A power.
    pub fn power(base: Expression, exponent: Expression) -> Self {
        Self::new(Operator::Power, [base, exponent])
    }

    /// A square root.
    pub fn root(radicand: Expression) -> Self {
        Self::new(Operator::Root, [radicand])
    }

    /// A known function of one argument.
    pub fn function(function: Function, argument: Expression) -> Self {
        Self::new(Operator::Function(function), [argument])
    }

    /// A named function at arguments.
    pub fn apply(function: Expression, arguments: impl IntoIterator<Item = Expression>) -> Self {
        Self::new(Operator::Apply, std::iter::once(function).chain(arguments))
    }

    /// A relation of two sides.
    pub fn relation(left: Expression, relation: Relation, right: Expression) -> Self {
        Self::new(
            Operator::Relation(SmallVec::from_slice(&[relation])),
            [left, right],
        )
    }

    /// An equation.
    pub fn equation(left: Expression, right: Expression) -> Self {
        Self::relation(left, Relation::Equal, right)
    }

    /// What the expression is.
    pub fn operator(&self) -> &Operator {
        &self.0.operator
    }

    /// Its operands, in the order that the operator documents.
    pub fn operands(&self) -> &[Expression] {
        &self.0.operands
    }

    /// The bytes of the text from which it was read; empty if it was built otherwise.
    pub fn range(&self) -> Range<usize> {
        self.0.start as usize..self.0.end as usize
    }

    /// The number of operators in the tree, leaves included. Saturates.
    pub fn size(&self) -> usize {
        self.0.size as usize
    }

    /// The number of levels of the tree: 1 for a leaf.
    pub fn depth(&self) -> usize {
        self.0.depth as usize
    }

    /// Both are one and the same value in memory, which implies that they are equal.
    pub fn is_same(&self, other: &Expression) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }

    /// The number, if it is one as written (without a sign).
    pub fn as_number(&self) -> Option<&Number> {
        match self.operator() {
            Operator::Number(number) => Some(number),
            _ => None,
        }
    }

    /// The small integer, if it is one as written, a leading minus sign included.
    pub fn as_i64(&self) -> Option<i64> {
        match (self.operator(), self.operands()) {
            (Operator::Number(number), _) => number.as_i64(),
            (Operator::Negative, [operand]) => operand.as_number()?.as_i64()?.checked_neg(),
            _ => None,
        }
    }

    /// The symbol, if it is one.
    pub fn as_symbol(&self) -> Option<&Symbol> {
        match self.operator() {
            Operator::Symbol(symbol) => Some(symbol),
            _ => None,
        }
    }

    /// The constant, if it is one.
    pub fn as_constant(&self) -> Option<Constant> {
        match self.operator() {
            Operator::Constant(constant) => Some(*constant),
            _ => None,
        }
    }

    /// The two sides and the sign, if it is a relation of two sides.
    pub fn as_relation(&self) -> Option<(&Expression, Relation, &Expression)> {
        match (self.operator(), self.operands()) {
            (Operator::Relation(relations), [left, right]) if relations.len() == 1 => {
                Some((left, relations[0], right))
            }
            _ => None,
        }
    }

    /// The two sides, if it is an equation of two sides.
    pub fn as_equation(&self) -> Option<(&Expression, &Expression)> {
        match self.as_relation()? {
            (left, Relation::Equal, right) => Some((left, right)),
            _ => None,
        }
    }

    /// Whether this is an interval, with its bounds and ends; `(a, b)` is one as much as a point.
    pub fn as_interval(&self) -> Option<(&Expression, &Expression, Ends)> {
        match (self.operator(), self.operands()) {
            (Operator::Interval(ends), [lower, upper]) => Some((lower, upper, *ends)),
            (Operator::Tuple(Brackets::Round), [lower, upper]) => Some((
                lower,
                upper,
                Ends {
                    lower_closed: false,
                    upper_closed: false,
                },
            )),
            _ => None,
        }
    }

    /// The same operator over other operands, at no place in the text.
    ///
    /// The operands must be laid out as the operator documents.
    pub fn with_operands(&self, operands: impl IntoIterator<Item = Expression>) -> Self {
        Self::new(self.operator().clone(), operands)
    }

    /// The same operator over changed operands; the same value if none changes.
    pub fn map_operands(&self, mut change: impl FnMut(&Expression) -> Expression) -> Self {
        let mut changed = false;
        let operands: Operands = self
            .operands()
            .iter()
            .map(|operand| {
                let new = change(operand);
                changed |= !new.is_same(operand);
                new
            })
            .collect();
        match changed {
            true => Self::at(self.operator().clone(), operands, self.range()),
            false => self.clone(),
        }
    }

    /// This expression and every part of it, each before its own parts, from left to right.
    pub fn parts(&self) -> Parts<'_> {
        Parts { stack: vec![self] }
    }

    /// The smallest part that was read from text around this byte.
    pub fn part_at(&self, offset: usize) -> Option<&Expression> {
        self.parts()
            .filter(|part| part.range().contains(&offset))
            .min_by_key(|part| part.range().len())
    }

    /// Some part is this symbol, free or bound.
    pub fn mentions(&self, symbol: &Symbol) -> bool {
        self.parts().any(|part| part.as_symbol() == Some(symbol))
    }

    /// It is written as vectors are (bold, with an arrow, in components), or built from such.
    pub fn is_vector(&self) -> bool {
        match self.operator() {
            Operator::Symbol(symbol) => symbol.is_vector(),
            Operator::Tuple(_) | Operator::Cross => true,
            Operator::Matrix(shape) => {
                shape.columns == 1 || shape.columns as usize == self.operands().len()
            }
            Operator::Function(Function::Gradient | Function::Curl) => true,
            Operator::Negative | Operator::Sum | Operator::Product => {
                self.operands().iter().any(Expression::is_vector)
            }
            Operator::Fraction | Operator::Prime(_) | Operator::Apply | Operator::Derivative(_) => {
                self.operands().first().is_some_and(Expression::is_vector)
            }
            _ => false,
        }
    }

    /// Some number in it [has too many digits](Number::is_giant) to calculate with.
    pub fn has_giant(&self) -> bool {
        self.parts()
            .any(|part| part.as_number().is_some_and(Number::is_giant))
    }

    /// Some part could not be read or is missing.
    pub fn has_gap(&self) -> bool {
        self.parts()
            .any(|part| matches!(part.operator(), Operator::Opaque(_) | Operator::Hole))
    }

    /// The operands that name the variables bound in the first operand, and nowhere outside.
    ///
    /// The variable of an indefinite integral and that of a derivative are free: the value
    /// depends on them.
    pub fn bound_variables(&self) -> &[Expression] {
        let operands = self.operands();
        let count = match self.operator() {
            Operator::Integral(integration) if integration.bounds != Bounds::None => {
                integration.variables as usize
            }
            Operator::Limit(_) => 1,
            Operator::Series(_, SeriesRange::Index | SeriesRange::From | SeriesRange::Between) => 1,
            _ => 0,
        };
        operands.get(1..=count).unwrap_or_default()
    }

    /// The symbols on which the value depends, names of functions included.
    pub fn free_symbols(&self) -> BTreeSet<Symbol> {
        fn collect<'a>(
            part: &'a Expression,
            bound: &mut Vec<&'a Symbol>,
            free: &mut BTreeSet<Symbol>,
        ) {
            if let Some(symbol) = part.as_symbol() {
                if !bound.contains(&symbol) {
                    free.insert(symbol.clone());
                }
                return;
            }
            let variables = part.bound_variables();
            let outside = bound.len();
            bound.extend(variables.iter().filter_map(Expression::as_symbol));
            for (place, operand) in part.operands().iter().enumerate() {
                if place == 1 + variables.len() {
                    // The bounds are outside the scope of the variables.
                    bound.truncate(outside);
                }
                collect(operand, bound, free);
            }
            bound.truncate(outside);
        }
        let mut free = BTreeSet::new();
        collect(self, &mut Vec::new(), &mut free);
        free
    }

    /// The expression with every free occurrence of the symbol replaced.
    ///
    /// A bound variable that would capture a symbol of the replacement is renamed first.
    pub fn substitute(&self, symbol: &Symbol, replacement: &Expression) -> Expression {
        if self.as_symbol() == Some(symbol) {
            return replacement.clone();
        }
        if !self.mentions(symbol) {
            return self.clone();
        }
        let variables = self.bound_variables();
        let is_bound = variables
            .iter()
            .any(|variable| variable.as_symbol() == Some(symbol));
        let captured = match is_bound || variables.is_empty() {
            true => None,
            false => variables
                .iter()
                .find_map(|v| v.as_symbol().filter(|v| replacement.mentions(v))),
        };
        if let Some(captured) = captured {
            let fresh = (0..)
                .map(|number: u32| captured.with_subscript(&format!("{number}")))
                .find(|fresh| !self.mentions(fresh) && !replacement.mentions(fresh))
                .unwrap_or_else(|| captured.clone());
            let fresh = Expression::new(Operator::Symbol(fresh), []);
            let scope = 0..=variables.len();
            let mut place = 0..;
            let renamed = self.map_operands(|operand| match place.next() {
                Some(here) if scope.contains(&here) => operand.replace_symbol(captured, &fresh),
                _ => operand.clone(),
            });
            return renamed.substitute(symbol, replacement);
        }
        let mut place = 0..;
        self.map_operands(|operand| match place.next() {
            Some(here) if is_bound && here <= variables.len() => operand.clone(),
            _ => operand.substitute(symbol, replacement),
        })
    }

    /// The expression with every occurrence of the symbol replaced, bound ones too.
    fn replace_symbol(&self, symbol: &Symbol, replacement: &Expression) -> Expression {
        match self.as_symbol() == Some(symbol) {
            true => replacement.clone(),
            false => self.map_operands(|operand| operand.replace_symbol(symbol, replacement)),
        }
    }
}

/// Walks an expression, each part before its own parts.
pub struct Parts<'a> {
    stack: Vec<&'a Expression>,
}

impl<'a> Iterator for Parts<'a> {
    type Item = &'a Expression;

    fn next(&mut self) -> Option<&'a Expression> {
        let part = self.stack.pop()?;
        self.stack.extend(part.operands().iter().rev());
        Some(part)
    }
}

impl PartialEq for Expression {
    fn eq(&self, other: &Self) -> bool {
        self.is_same(other)
            || (self.0.hash == other.0.hash
                && self.0.size == other.0.size
                && self.0.operator == other.0.operator
                && self.0.operands == other.0.operands)
    }
}

impl Eq for Expression {}

impl PartialOrd for Expression {
    fn partial_cmp(&self, other: &Self) -> Option<std::cmp::Ordering> {
        Some(self.cmp(other))
    }
}

impl Ord for Expression {
    fn cmp(&self, other: &Self) -> std::cmp::Ordering {
        if self.is_same(other) {
            return std::cmp::Ordering::Equal;
        }
        (self.operator().cmp(other.operator())).then_with(|| self.operands().cmp(other.operands()))
    }
}

impl Hash for Expression {
    fn hash<H: Hasher>(&self, state: &mut H) {
        state.write_u64(self.0.hash);
    }
}

/// The tree as nested lists: `(+ x (- 1))`. For tests and messages about the reader itself; see
/// the printer for what a person reads.
impl fmt::Debug for Expression {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let name: std::borrow::Cow<'_, str> = match self.operator() {
            Operator::Number(number) => return write!(f, "{number:?}"),
            Operator::Symbol(symbol) => return write!(f, "{symbol:?}"),
            Operator::Constant(constant) => return write!(f, "{constant:?}"),
            Operator::Text(text) => return write!(f, "{text:?}"),
            Operator::Opaque(tex) => return write!(f, "(opaque {tex:?})"),
            Operator::Hole => return f.write_str("_"),
            Operator::Ellipsis => return f.write_str("..."),
            Operator::Sum => "+".into(),
            Operator::Product => "*".into(),
            Operator::Negative => "-".into(),
            Operator::PlusMinus => "+-".into(),
            Operator::MinusPlus => "-+".into(),
            Operator::Fraction => "/".into(),
            Operator::Power => "^".into(),
            Operator::Function(function) => format!("{function:?}").to_lowercase().into(),
            Operator::Prime(order) => "'".repeat((*order).min(4) as usize).into(),
            Operator::Derivative(by) => {
                let orders: Vec<String> = by.orders.iter().map(u32::to_string).collect();
                let sign = if by.partial { "partial" } else { "d" };
                format!("{sign}:{}", orders.join(",")).into()
            }
            Operator::Integral(integration) => {
                let mut name = "integral".to_owned();
                if integration.signs != 1 {
                    name += &format!(":{}", integration.signs);
                }
                if integration.closed {
                    name += ":closed";
                }
                if integration.variables != 1 {
                    name += &format!(":by{}", integration.variables);
                }
                name.into()
            }
            Operator::Limit(Side::Both) => "limit".into(),
            Operator::Limit(Side::Below) => "limit:below".into(),
            Operator::Limit(Side::Above) => "limit:above".into(),
            Operator::Series(operator, range) => match range {
                SeriesRange::Condition => format!("series:{operator:?}:where").to_lowercase(),
                _ => format!("series:{operator:?}").to_lowercase(),
            }
            .into(),
            Operator::Relation(relations) => {
                let signs: Vec<&str> = relations.iter().map(|r| r.sign()).collect();
                signs.join(" ").into()
            }
            Operator::Logic(connective) => format!("{connective:?}").to_lowercase().into(),
            Operator::Quantified(quantifier) => format!("{quantifier:?}").to_lowercase().into(),
            Operator::Matrix(shape) => match shape.rule {
                Some(rule) => format!("matrix:{}|{rule}", shape.columns),
                None => format!("matrix:{}", shape.columns),
            }
            .into(),
            Operator::Tuple(brackets) => match brackets {
                Brackets::Round => "tuple".into(),
                Brackets::Angle => "tuple:angle".into(),
                Brackets::Square => "tuple:square".into(),
            },
            Operator::Interval(ends) => match (ends.lower_closed, ends.upper_closed) {
                (true, true) => "interval:[]".into(),
                (true, false) => "interval:[)".into(),
                (false, true) => "interval:(]".into(),
                (false, false) => "interval:()".into(),
            },
            Operator::SetOperation(operation) => format!("{operation:?}").to_lowercase().into(),
            other => format!("{other:?}").to_lowercase().into(),
        };
        write!(f, "({name}")?;
        for operand in self.operands() {
            write!(f, " {operand:?}")?;
        }
        f.write_str(")")
    }
}

impl Relation {
    /// The sign in plain text.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Equal => "=",
            Self::NotEqual => "≠",
            Self::Less => "<",
            Self::LessOrEqual => "≤",
            Self::Greater => ">",
            Self::GreaterOrEqual => "≥",
            Self::Approximately => "≈",
            Self::Equivalent => "≡",
            Self::Similar => "∼",
            Self::Congruent => "≅",
            Self::Proportional => "∝",
            Self::Defined => ":=",
            Self::In => "∈",
            Self::NotIn => "∉",
            Self::Contains => "∋",
            Self::Subset => "⊂",
            Self::SubsetOrEqual => "⊆",
            Self::NotSubset => "⊄",
            Self::Superset => "⊃",
            Self::SupersetOrEqual => "⊇",
            Self::To => "→",
            Self::MapsTo => "↦",
            Self::Colon => ":",
            Self::Perpendicular => "⊥",
            Self::Parallel => "∥",
            Self::Divides => "∣",
            Self::DoesNotDivide => "∤",
            Self::MuchLess => "≪",
            Self::MuchGreater => "≫",
        }
    }

    /// The relation that holds between the sides when they are exchanged, if it has a sign.
    pub fn reversed(self) -> Option<Self> {
        Some(match self {
            Self::Equal
            | Self::NotEqual
            | Self::Approximately
            | Self::Equivalent
            | Self::Similar
            | Self::Congruent
            | Self::Proportional
            | Self::Perpendicular
            | Self::Parallel => self,
            Self::Less => Self::Greater,
            Self::Greater => Self::Less,
            Self::LessOrEqual => Self::GreaterOrEqual,
            Self::GreaterOrEqual => Self::LessOrEqual,
            Self::MuchLess => Self::MuchGreater,
            Self::MuchGreater => Self::MuchLess,
            Self::In => Self::Contains,
            Self::Contains => Self::In,
            Self::Subset => Self::Superset,
            Self::Superset => Self::Subset,
            Self::SubsetOrEqual => Self::SupersetOrEqual,
            Self::SupersetOrEqual => Self::SubsetOrEqual,
            Self::Defined
            | Self::NotIn
            | Self::NotSubset
            | Self::To
            | Self::MapsTo
            | Self::Colon
            | Self::Divides
            | Self::DoesNotDivide => return None,
        })
    }
}

impl Number {
    /// A number that was written exactly, or computed.
    pub fn exact(value: BigRational) -> Self {
        Self {
            value: Value::new(value),
            written: Written::Exact,
        }
    }

    /// A number and the way it was written. The value must have that many digits.
    pub fn written_as(value: BigRational, written: Written) -> Self {
        Self {
            value: Value::new(value),
            written,
        }
    }

    /// An integer, not negative when it stands for one that was read.
    pub fn integer(value: i64) -> Self {
        Self {
            value: Value::Small(value),
            written: Written::Exact,
        }
    }

    /// Its value.
    pub fn value(&self) -> BigRational {
        match &self.value {
            Value::Small(value) => BigRational::from_integer((*value).into()),
            Value::Big(value) => (**value).clone(),
        }
    }

    /// The way it was written.
    pub fn written(&self) -> Written {
        self.written
    }

    /// Its value, if that is an integer of 64 bits, however it was written.
    pub fn as_i64(&self) -> Option<i64> {
        match self.value {
            Value::Small(value) => Some(value),
            Value::Big(_) => None,
        }
    }

    /// It has more digits than anybody calculates with by hand or by heart: above 1,200, above or
    /// below the fraction bar. Exact arithmetic is not done with such numbers.
    pub fn is_giant(&self) -> bool {
        match &self.value {
            Value::Small(_) => false,
            Value::Big(value) => value.numer().bits().max(value.denom().bits()) > 4_000,
        }
    }

    /// Its value is an integer, however it was written.
    pub fn is_integer(&self) -> bool {
        match &self.value {
            Value::Small(_) => true,
            Value::Big(value) => value.is_integer(),
        }
    }

    /// The nearest floating-point number; infinite when out of range.
    pub fn to_f64(&self) -> f64 {
        match &self.value {
            Value::Small(value) => *value as f64,
            Value::Big(value) => value.to_f64().unwrap_or(f64::NAN),
        }
    }
}

impl Value {
    fn new(value: BigRational) -> Self {
        match value
            .denom()
            .is_one()
            .then(|| value.numer().to_i64())
            .flatten()
        {
            Some(small) => Self::Small(small),
            None => Self::Big(Arc::new(value)),
        }
    }
}

impl fmt::Debug for Number {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write_digits(f, &self.value(), self.written)
    }
}

/// The digits of a number as it was written; `(3)` stands for repeating ones.
pub(crate) fn write_digits(
    out: &mut impl fmt::Write,
    value: &BigRational,
    written: Written,
) -> fmt::Result {
    let (places, period) = match written {
        Written::Exact if value.is_integer() => return write!(out, "{}", value.numer()),
        Written::Exact => return write!(out, "{}/{}", value.numer(), value.denom()),
        Written::Decimal { places } => (places, 0),
        Written::Repeating { places, period } => (places, period),
    };
    let ten = BigInt::from(10);
    let shown = value.abs() * BigRational::from_integer(ten.pow(places + period));
    let digits = shown.to_integer().to_string();
    let after = (places + period) as usize;
    let digits = format!("{digits:0>width$}", width = after + 1);
    let (whole, fraction) = digits.split_at(digits.len() - after);
    let sign = if value.is_negative() && !value.is_zero() {
        "-"
    } else {
        ""
    };
    let (fixed, repeating) = fraction.split_at(places as usize);
    match repeating {
        "" => write!(out, "{sign}{whole}.{fixed}"),
        _ => write!(out, "{sign}{whole}.{fixed}({repeating})"),
    }
}

impl Symbol {
    /// A symbol in plain style, without a subscript.
    pub fn new(name: &str) -> Self {
        Self {
            name: name.into(),
            subscript: SmolStr::default(),
            style: Style::Plain,
            accent: Accent::None,
        }
    }

    /// The letter or name, without its subscript.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// The digits or words below it; empty if there are none.
    pub fn subscript(&self) -> &str {
        &self.subscript
    }

    /// Its alphabet.
    pub fn style(&self) -> Style {
        self.style
    }

    /// The mark above it.
    pub fn accent(&self) -> Accent {
        self.accent
    }

    /// The same symbol with another subscript.
    pub fn with_subscript(&self, subscript: &str) -> Self {
        Self {
            subscript: subscript.into(),
            ..self.clone()
        }
    }

    /// The same symbol in another alphabet.
    pub fn with_style(&self, style: Style) -> Self {
        Self {
            style,
            ..self.clone()
        }
    }

    /// The same symbol with a mark above it.
    pub fn with_accent(&self, accent: Accent) -> Self {
        Self {
            accent,
            ..self.clone()
        }
    }

    /// It is set as vectors are: bold or with an arrow.
    pub fn is_vector(&self) -> bool {
        self.style == Style::Bold || self.accent == Accent::Vector
    }
}

impl fmt::Debug for Symbol {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.style {
            Style::Plain => {}
            Style::Bold => f.write_str("bold:")?,
            Style::Roman => f.write_str("roman:")?,
            Style::Calligraphic => f.write_str("cal:")?,
            Style::Blackboard => f.write_str("bb:")?,
            Style::Fraktur => f.write_str("frak:")?,
        }
        match self.accent {
            Accent::None => {}
            Accent::Vector => f.write_str("vec:")?,
            Accent::Hat => f.write_str("hat:")?,
            Accent::Bar => f.write_str("bar:")?,
            Accent::Tilde => f.write_str("tilde:")?,
        }
        // So that the letters E and I are told from the constants.
        if matches!(self.name.as_str(), "E" | "I") && self.subscript.is_empty() {
            f.write_str("letter:")?;
        }
        f.write_str(&self.name)?;
        match self.subscript.as_str() {
            "" => Ok(()),
            subscript => write!(f, "_{subscript}"),
        }
    }
}

/// A fast hash of trees, the same on every platform.
struct TreeHasher(u64);

impl TreeHasher {
    fn mix(&mut self, word: u64) {
        // The multiplier is the golden ratio in 64 bits, as in Fibonacci hashing (Knuth, The Art
        // of Computer Programming, volume 3, section 6.4).
        self.0 = (self.0.rotate_left(23) ^ word).wrapping_mul(0x9e37_79b9_7f4a_7c15);
    }
}

impl Hasher for TreeHasher {
    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            self.mix(u64::from_le_bytes(word));
        }
    }

    fn write_u8(&mut self, value: u8) {
        self.mix(value.into());
    }

    fn write_u32(&mut self, value: u32) {
        self.mix(value.into());
    }

    fn write_u64(&mut self, value: u64) {
        self.mix(value);
    }

    fn write_i64(&mut self, value: i64) {
        self.mix(value as u64);
    }

    fn write_usize(&mut self, value: usize) {
        self.mix(value as u64);
    }

    fn write_isize(&mut self, value: isize) {
        self.mix(value as u64);
    }

    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 29)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn x() -> Expression {
        Expression::symbol("x")
    }

    #[test]
    fn equality_ignores_the_place_in_the_text() {
        let read = x().with_range(3..4);
        assert_eq!(read, x());
        assert_eq!(read.range(), 3..4);
        assert!(!read.is_same(&x()));
    }

    #[test]
    fn numbers_differ_when_written_differently() {
        let half = BigRational::new(1.into(), 2.into());
        let short = Number::written_as(half.clone(), Written::Decimal { places: 1 });
        let long = Number::written_as(half.clone(), Written::Decimal { places: 2 });
        assert_ne!(short, long);
        assert_eq!(short.value(), long.value());
        assert_eq!(format!("{short:?} {long:?}"), "0.5 0.50");
        let sixth = BigRational::new(1.into(), 6.into());
        let repeating = Number::written_as(
            sixth,
            Written::Repeating {
                places: 1,
                period: 1,
            },
        );
        assert_eq!(format!("{repeating:?}"), "0.1(6)");
        let big = Number::exact(BigRational::from_integer(BigInt::from(10).pow(30)));
        assert_eq!(big.as_i64(), None);
        assert!(big.is_integer());
    }

    #[test]
    fn constructors_give_what_a_reader_gives() {
        let value = BigRational::new((-3).into(), 4.into());
        assert_eq!(format!("{:?}", Expression::rational(&value)), "(- (/ 3 4))");
        assert_eq!(format!("{:?}", Expression::integer(-2)), "(- 2)");
        assert_eq!(Expression::integer(-2).as_i64(), Some(-2));
        assert_eq!(format!("{:?}", Expression::sum([])), "0");
        assert_eq!(format!("{:?}", Expression::product([x()])), "x");
        assert_eq!(
            format!("{:?}", Expression::difference(x(), Expression::integer(1))),
            "(+ x (- 1))"
        );
    }

    #[test]
    fn size_and_depth_are_kept() {
        let sum = Expression::sum([x(), Expression::root(x())]);
        assert_eq!((sum.size(), sum.depth()), (4, 3));
        assert_eq!(sum.parts().count(), 4);
    }

    fn definite_integral(body: Expression, variable: &str, upper: Expression) -> Expression {
        let integration = Integration {
            signs: 1,
            closed: false,
            variables: 1,
            bounds: Bounds::Between,
        };
        Expression::new(
            Operator::Integral(integration),
            [
                body,
                Expression::symbol(variable),
                Expression::integer(0),
                upper,
            ],
        )
    }

    #[test]
    fn bound_variables_are_not_free() {
        let integral = definite_integral(
            Expression::product([x(), Expression::symbol("a")]),
            "x",
            x(),
        );
        let free: Vec<String> = integral
            .free_symbols()
            .iter()
            .map(|s| format!("{s:?}"))
            .collect();
        assert_eq!(free, ["a", "x"], "x is free in the upper bound only");
    }

    #[test]
    fn substitution_leaves_bound_variables_and_avoids_capture() {
        let integral = definite_integral(
            Expression::product([Expression::symbol("t"), Expression::symbol("a")]),
            "t",
            x(),
        );
        let t = Symbol::new("t");
        assert_eq!(integral.substitute(&t, &x()), integral);
        let captured = integral.substitute(&Symbol::new("a"), &Expression::symbol("t"));
        assert_eq!(format!("{captured:?}"), "(integral (* t_0 t) t_0 0 x)");
        let outside = integral.substitute(&Symbol::new("x"), &Expression::integer(1));
        assert_eq!(format!("{outside:?}"), "(integral (* t a) t 0 1)");
    }

    #[test]
    fn mapping_without_a_change_keeps_the_value() {
        let sum = Expression::sum([x(), Expression::integer(1)]);
        assert!(sum.map_operands(Clone::clone).is_same(&sum));
    }
}
