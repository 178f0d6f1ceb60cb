//! What does a TeX formula say?
//!
//! [`read`] turns the TeX of one formula, without its dollar signs, into an
//! [`Expression`](crate::Expression). It never fails and never panics: what cannot be read becomes
//! an opaque part, what is missing a hole, and each carries a [`Diagnostic`] with its exact range
//! of bytes. Every part of the result knows the range it was read from.
//!
//! # Conventions
//!
//! TeX says how a formula looks, not what it means. Where authors differ, the reader follows the
//! convention below or, where both readings are in use, picks one and says so with a diagnostic of
//! class [`Class::Ambiguous`], since a silent misreading is worse than a question.
//!
//! | written | read as | note |
//! | --- | --- | --- |
//! | `y(0)`, `f(x+h)`, `x(x+1)`, `y(1-y)` | call, call, product, product | see [`Declared`] |
//! | `f^2(x)`, `\sin^2 x`, `\ln^2 x` | powers of the value | |
//! | `\sin^{-1} x`, `f^{-1}(x)` | inverse functions | not for `\ln`, `\log`, `\exp`: ambiguous |
//! | `\sin 2x \cos x` | sin(2x)·cos(x) | an argument without brackets is a run of numbers, letters, roots and fractions; it ends at a function, a sign, a power of e |
//! | `\sin(x) y`, `\ln(x+1)(x-1)` | a bracket right after the name is the whole argument | |
//! | `\sin x (y+1)`, `\ln(x)^2`, `\ln{(x)}^2`, `\sin x/2` | sin(x)·(y+1), (ln x)², (ln x)², sin(x)/2; ambiguous | `\sin \pi x/2`, with π, divides inside |
//! | `\cos^22x` | cos²(2x); ambiguous | TeX sets only the first digit |
//! | `\log x` | a logarithm of unwritten base | `\lg` has base 10, `\ln` base e |
//! | `1/2x`, `a/bc` | (1/2)x, (a/b)c; ambiguous | `12x^3 \div 4x` divides by 4x |
//! | `a/b/c`, `a \div b \div c` | from left to right | |
//! | `2\frac13` | a mixed number if no letter stands between the relations and commas around it; else a product, and ambiguous | |
//! | `-x^2`, `2^{3^2}` | -(x²), 2^(3²) | |
//! | `x^12`, `\sqrt12` | x^{12}, √12; ambiguous | TeX sets only the first digit |
//! | `x^-1`, `x^(n+1)` | as meant, and malformed | |
//! | `2n!` | 2·(n!) | |
//! | `1{,}000`, `1\,000`, `12,500` | numbers | a comma groups three digits, without a space, outside brackets; `3{,}14` is a decimal comma |
//! | `(a, b)` | a point; an interval after `\in`, with `\cup`, or with ±∞ | `[a, b]`, `[a, b)` are intervals |
//! | `\{ a \}` | a set; brackets after a number or around `[ ]` | |
//! | `\|a\|b\|` | the first bar opens, the next closes | `\lvert`, `\left\|` say it better |
//! | `e`, `i`, `\pi` | constants | not when bound as an index, primed, given an argument or declared |
//! | `y'`, `y''`, `y^{(4)}`, `\dot x` | derivatives | the variable is not written |
//! | `f_x`, `u_{xx}`, `u_{xy}` | partial derivatives of a function | `v_x` of another letter is a component |
//! | `x_1`, `v_{\text{max}}` | one symbol | `a_n`, `a_{n+1}`, `a_{ij}` have indices |
//! | `dx` | a differential at the end of an integrand, and outside when two variables have one (`M\,dx + N\,dy`); not beside coefficients a, b, c | |
//! | `\int f dx + c` | the integral ends at its differential | `\int_C P\,dx + Q\,dy` is one integral |
//! | `\lim`, `\sum` | over the product that follows, and further terms that contain its variable | `\sum a_k + 1` is ambiguous |
//! | `\frac{d}{dx} u v`, `\frac{d}{dx}(u) v` | derivative of u v; of u only, ambiguous | |
//! | `A^T`, `A^\top` | transposed | for a capital or bold letter or a matrix |
//! | `\mathbf u \times \mathbf v`, `\mathbf u \cdot \mathbf v` | vector and inner product | of vectors only: bold, arrow, column |
//! | `x = 1, x = 2`; `x = 1 \quad y = 2` | a list | |
//! | `{a+b}c` | (a+b)c; ambiguous | braces do not show |
//! | `sin x` without a backslash | the function, and malformed | |

mod arithmetic;
mod brackets;
mod calculus;
mod context;
mod environments;
mod functions;
mod names;
mod numbers;
mod operands;
mod scripts;
mod statements;
mod tokens;

use std::collections::BTreeSet;
use std::ops::Range;

use smallvec::smallvec;
use smol_str::SmolStr;

use crate::expression::{Expression, Operands, Operator, Symbol};
use context::Context;
use tokens::{Mark, Token};

/// The greatest number of brackets, braces and functions inside one another.
pub const MAX_NESTING: usize = 200;

/// The greatest length of a formula, in bytes.
pub const MAX_BYTES: usize = 131_072;

/// The greatest number of levels of an expression that was read.
pub const MAX_DEPTH: usize = 500;

/// The greatest number of diagnostics of one formula; the last one counts those left out.
pub const MAX_DIAGNOSTICS: usize = 50;

/// A formula as read.
#[derive(Clone, Debug)]
pub struct Reading {
    /// What it says. A hole if it is empty.
    pub expression: Expression,
    /// What is wrong with it, in the order of the text.
    pub diagnostics: Vec<Diagnostic>,
}

impl Reading {
    /// Everything was read, and in the one way in which it can be read.
    pub fn is_certain(&self) -> bool {
        self.diagnostics.is_empty()
    }
}

/// Something wrong with a formula.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Diagnostic {
    /// The bytes of the formula that it is about.
    pub range: Range<usize>,
    /// What was found, what was expected, and one way out.
    pub message: String,
    /// What kind of fault it is.
    pub class: Class,
}

/// The kinds of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Class {
    /// No formula: something is missing or unbalanced.
    Malformed,
    /// Perhaps a formula, with a construct that the reader does not know or a size beyond its
    /// limits.
    Unsupported,
    /// A formula that can be read in two ways; it was read in one of them.
    Ambiguous,
}

/// Which letters are functions and which are not, as known from elsewhere: the rest of a problem,
/// or the pattern that it belongs to.
///
/// Without a declaration the formula itself decides. `f`, `g`, `h`, their capitals and φ, ψ, Γ, δ,
/// ζ are functions. A letter with a prime or under `\frac{d}{dx}` is the *unknown* of a
/// differential equation: `y(0)`, `y(\pi/2)` and `y(x)` are its values, while a bracket that
/// mentions an unknown is a factor (`y(1-y)`). Another letter is a function if it is followed by
/// one letter in brackets (`p(x)`), by arguments with a comma, or by a condition (`P(X < 2)`).
/// Everything else, such as `x(x+1)` and `a(b+c)`, is a product.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Declared {
    functions: BTreeSet<SmolStr>,
    unknowns: BTreeSet<SmolStr>,
    variables: BTreeSet<SmolStr>,
}

impl Declared {
    /// Nothing is known.
    pub fn new() -> Self {
        Self::default()
    }

    /// These letters are functions, whatever their argument: `p(x+1)` is a call.
    pub fn functions<'a>(mut self, names: impl IntoIterator<Item = &'a str>) -> Self {
        self.functions.extend(names.into_iter().map(SmolStr::from));
        self
    }

    /// These letters are unknown functions of an equation: `y(0)` is a call, `y(1-y)` a product.
    pub fn unknowns<'a>(mut self, names: impl IntoIterator<Item = &'a str>) -> Self {
        self.unknowns.extend(names.into_iter().map(SmolStr::from));
        self
    }

    /// These letters are neither functions nor constants.
    pub fn variables<'a>(mut self, names: impl IntoIterator<Item = &'a str>) -> Self {
        self.variables.extend(names.into_iter().map(SmolStr::from));
        self
    }

    /// Learns from an expression which letters it uses as functions.
    ///
    /// A letter that is differentiated becomes an unknown, one that only takes arguments a
    /// function.
    pub fn learn(&mut self, expression: &Expression) {
        for part in expression.parts() {
            let Some(symbol) = part
                .operands()
                .first()
                .and_then(|first| match first.operator() {
                    Operator::Symbol(symbol) => Some(symbol),
                    Operator::Indexed => first.operands().first()?.as_symbol(),
                    _ => None,
                })
            else {
                continue;
            };
            let name = SmolStr::from(symbol.name());
            match part.operator() {
                Operator::Prime(_) | Operator::NthPrime | Operator::Derivative(_) => {
                    self.functions.remove(&name);
                    self.unknowns.insert(name);
                }
                Operator::Apply if !self.unknowns.contains(&name) => {
                    self.functions.insert(name);
                }
                _ => {}
            }
        }
    }
}

/// Reads the TeX of one formula, without its dollar signs.
///
/// ```
/// use porism_math::read::{Declared, read};
/// let reading = read(r"y'' + y = \cos 2t, \quad y(0) = 1", &Declared::new());
/// assert!(reading.is_certain());
/// assert_eq!(
///     format!("{:?}", reading.expression),
///     "(list (= (+ ('' y) y) (cos (* 2 t))) (= (apply y 0) 1))"
/// );
/// ```
pub fn read(tex: &str, declared: &Declared) -> Reading {
    read_in(tex, declared, false)
}

/// The TeX of a formula that can be read in two ways, written so that it says what [`read`] did
/// not take it for; none if it can be read in one way only.
pub(crate) fn other_reading(tex: &str, declared: &Declared) -> Option<String> {
    let is_ambiguous = |reading: &Reading| {
        let mut faults = reading.diagnostics.iter();
        faults.any(|fault| fault.class == Class::Ambiguous)
    };
    let usual = read(tex, declared);
    if !is_ambiguous(&usual) {
        return None;
    }
    let other = read_in(tex, declared, true).expression;
    (other != usual.expression).then(|| crate::print::tex(&other, declared))
}

/// Reads a formula; what can be read in two ways is read in the less usual one if `otherwise`.
fn read_in(tex: &str, declared: &Declared, otherwise: bool) -> Reading {
    if tex.len() > MAX_BYTES {
        let message = format!(
            "this formula has {} bytes, and formulas longer than {MAX_BYTES} are not read: split it",
            tex.len()
        );
        return Reading {
            expression: Expression::at(Operator::Opaque(tex.into()), Operands::new(), 0..tex.len()),
            diagnostics: vec![Diagnostic {
                range: 0..tex.len(),
                message,
                class: Class::Unsupported,
            }],
        };
    }
    let tokens = environments::without_alignment(tokens::tokens(tex), tex);
    let context = Context::new(&tokens, declared);
    let mut reader = Reader {
        tex,
        tokens,
        at: 0,
        context,
        diagnostics: Vec::new(),
        surplus: 0,
        nesting: 0,
        aborted: false,
        bars: 0,
        separator: false,
        bracketed: false,
        rows: false,
        integrand: Integrand::Outside,
        style: None,
        bound: Vec::new(),
        side: None,
        segment: (0..0, false),
        opened: usize::MAX,
        otherwise,
    };
    let expression = reader.formula();
    let mut diagnostics = reader.diagnostics;
    diagnostics.sort_by_key(|diagnostic| diagnostic.range.start);
    if reader.surplus > 0 {
        diagnostics.push(Diagnostic {
            range: 0..tex.len(),
            message: format!(
                "this formula has {} more faults; at most {MAX_DIAGNOSTICS} are named",
                reader.surplus
            ),
            class: Class::Malformed,
        });
    }
    Reading {
        expression,
        diagnostics,
    }
}

/// Where a differential may stand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Integrand {
    /// Not in an integral.
    Outside,
    /// Between an integral sign and its differential.
    Body,
    /// In brackets, a numerator or the like inside such a body.
    Inside,
}

struct Reader<'t> {
    tex: &'t str,
    tokens: Vec<Token>,
    at: usize,
    context: Context<'t>,
    diagnostics: Vec<Diagnostic>,
    /// The number of diagnostics beyond the limit.
    surplus: usize,
    nesting: usize,
    /// A limit was passed: nothing more is read or said.
    aborted: bool,
    /// The number of bars open within the innermost bracket.
    bars: u32,
    /// The innermost bracket may hold one separating bar or colon.
    separator: bool,
    /// A comma is certain to separate, since brackets are around.
    bracketed: bool,
    /// Within the innermost bracket, `\\` ends a row.
    rows: bool,
    integrand: Integrand,
    /// The alphabet that `\bf` and its relatives have chosen.
    style: Option<crate::expression::Style>,
    /// The letters bound as indices at this place.
    bound: Vec<char>,
    /// The side found at the end of what a limit's variable tends to.
    side: Option<crate::expression::Side>,
    /// The last stretch between relations that was searched for letters, and whether it has any.
    segment: (Range<usize>, bool),
    /// The token after the delimiter that opened last.
    opened: usize,
    /// What can be read in two ways is read in the less usual one.
    otherwise: bool,
}

impl Reader<'_> {
    fn peek(&self) -> Mark {
        self.peek_at(0)
    }

    fn peek_at(&self, ahead: usize) -> Mark {
        self.tokens
            .get(self.at + ahead)
            .map_or(Mark::Eof, |token| token.mark)
    }

    fn mark_at(&self, index: usize) -> Mark {
        self.tokens.get(index).map_or(Mark::Eof, |token| token.mark)
    }

    fn advance(&mut self) {
        self.at += 1;
    }

    fn eat(&mut self, mark: Mark) -> bool {
        let found = self.peek() == mark;
        if found {
            self.advance();
        }
        found
    }

    /// The byte at which the next token starts.
    fn start(&self) -> usize {
        self.tokens
            .get(self.at)
            .map_or(self.tex.len(), |token| token.start as usize)
    }

    /// The byte at which the last token ended.
    fn end(&self) -> usize {
        match self
            .at
            .checked_sub(1)
            .and_then(|last| self.tokens.get(last))
        {
            Some(token) => token.end as usize,
            None if self.at == 0 => 0,
            None => self.tex.len(),
        }
    }

    /// The range from a byte to the end of the last token.
    fn since(&self, start: usize) -> Range<usize> {
        start..self.end().max(start)
    }

    /// The range of the next token; empty at the end.
    fn here(&self) -> Range<usize> {
        match self.tokens.get(self.at) {
            Some(token) => token.range(),
            None => self.tex.len()..self.tex.len(),
        }
    }

    fn text(&self, range: Range<usize>) -> &str {
        self.tex.get(range).unwrap_or_default()
    }

    /// The node read from this byte to here. Past the limit of depth it is opaque.
    fn node(&mut self, operator: Operator, operands: Operands, start: usize) -> Expression {
        let range = self.since(start);
        if operands.iter().any(|operand| operand.depth() >= MAX_DEPTH) {
            self.abort(
                range.clone(),
                format!(
                    "this formula has more than {MAX_DEPTH} levels, and deeper ones are not \
                     read: name its parts"
                ),
            );
            return self.opaque(range);
        }
        Expression::at(operator, operands, range)
    }

    fn leaf(&self, operator: Operator, start: usize) -> Expression {
        Expression::at(operator, Operands::new(), self.since(start))
    }

    fn opaque(&self, range: Range<usize>) -> Expression {
        let tex = SmolStr::from(self.text(range.clone()));
        Expression::at(Operator::Opaque(tex), Operands::new(), range)
    }

    fn hole(&self) -> Expression {
        let place = self.end();
        Expression::at(Operator::Hole, Operands::new(), place..place)
    }

    fn unary(&mut self, operator: Operator, operand: Expression, start: usize) -> Expression {
        self.node(operator, smallvec![operand], start)
    }

    fn binary(
        &mut self,
        operator: Operator,
        left: Expression,
        right: Expression,
        start: usize,
    ) -> Expression {
        self.node(operator, smallvec![left, right], start)
    }

    fn symbol_node(&self, symbol: Symbol, start: usize) -> Expression {
        self.leaf(Operator::Symbol(symbol), start)
    }

    fn say(&mut self, class: Class, range: Range<usize>, message: String) {
        if self.aborted {
            return;
        }
        if self.diagnostics.len() + 1 >= MAX_DIAGNOSTICS {
            self.surplus += 1;
            return;
        }
        self.diagnostics.push(Diagnostic {
            range,
            message,
            class,
        });
    }

    fn malformed(&mut self, range: Range<usize>, message: impl Into<String>) {
        self.say(Class::Malformed, range, message.into());
    }

    fn unsupported(&mut self, range: Range<usize>, message: impl Into<String>) {
        self.say(Class::Unsupported, range, message.into());
    }

    fn ambiguous(&mut self, range: Range<usize>, message: impl Into<String>) {
        self.say(Class::Ambiguous, range, message.into());
    }

    /// Says that a limit was passed and reads nothing more.
    fn abort(&mut self, range: Range<usize>, message: String) {
        self.unsupported(range, message);
        self.aborted = true;
        self.at = self.tokens.len();
    }

    /// Reads one level deeper, or stops at the limit.
    fn deeper(&mut self, read: impl FnOnce(&mut Self) -> Expression) -> Expression {
        if self.nesting >= MAX_NESTING {
            let range = self.start()..self.tex.len();
            self.abort(
                range.start..(range.start + 1).min(range.end).max(range.start),
                format!(
                    "more than {MAX_NESTING} brackets, braces and functions stand inside one \
                     another here: name the inner parts"
                ),
            );
            return self.opaque(range);
        }
        self.nesting += 1;
        let expression = read(self);
        self.nesting -= 1;
        expression
    }

    /// Reads inside new brackets: bars, separators and rows outside have no part in it.
    fn enclosed<T>(&mut self, read: impl FnOnce(&mut Self) -> T) -> T {
        let outside = (
            self.bars,
            self.separator,
            self.bracketed,
            self.rows,
            self.integrand,
        );
        self.bars = 0;
        self.separator = false;
        self.rows = false;
        if self.integrand == Integrand::Body {
            self.integrand = Integrand::Inside;
        }
        let inside = read(self);
        (
            self.bars,
            self.separator,
            self.bracketed,
            self.rows,
            self.integrand,
        ) = outside;
        inside
    }
}

#[cfg(test)]
mod tests;
