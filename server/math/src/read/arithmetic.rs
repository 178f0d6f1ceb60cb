//! Sums, products, powers, fractions, roots and numbers.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Zero};
use smallvec::smallvec;

use super::tokens::{Delimiter, Mark};
use super::{Class, Integrand, Reader};
use crate::expression::{
    Brackets, Expression, Function, Number, Operands, Operator, SetOperation, Side, Written,
};

/// What a superscript says.
pub(super) enum Raised {
    /// A power.
    Exponent(Expression),
    /// `(4)` or `(n)`: the order of a derivative.
    Order(Expression),
    /// Degrees of arc.
    Degrees,
    /// Transposed.
    Transposed,
    /// A lone star, as on a conjugate or an optimum.
    Star,
    /// A lone sign: the side of a limit.
    Side(Side),
}

/// The marks around a letter: below, above, and the number of primes.
#[derive(Default)]
pub(super) struct Scripts {
    pub(super) below: Option<Below>,
    pub(super) above: Option<Raised>,
    pub(super) primes: u32,
}

/// A subscript.
pub(super) enum Below {
    /// Digits or words.
    Literal(smol_str::SmolStr),
    /// A formula.
    Formula(Expression),
}

impl Reader<'_> {
    /// Terms with signs between them, and unions and intersections.
    pub(super) fn sum(&mut self) -> Expression {
        let start = self.start();
        let first = self.term();
        self.sum_after(first, start, usize::MAX)
    }

    /// A term with the sign in front of it.
    pub(super) fn term(&mut self) -> Expression {
        let start = self.start();
        let sign = match self.peek() {
            Mark::Plus => None,
            Mark::Minus => Some(Operator::Negative),
            Mark::PlusMinus => Some(Operator::PlusMinus),
            Mark::MinusPlus => Some(Operator::MinusPlus),
            _ => return self.product(),
        };
        self.advance();
        let term = self.product_after_sign();
        match sign {
            Some(sign) => self.unary(sign, term, start),
            None => term,
        }
    }

    /// What a sign stands before.
    fn product_after_sign(&mut self) -> Expression {
        if self.starts_factor() || self.at_sign() || self.at_differential() {
            return self.product();
        }
        let sign = self.tokens[self.at - 1].range();
        let text = self.text(sign.clone()).to_owned();
        self.malformed(
            sign,
            format!("nothing stands after `{text}`: write what is to be added or taken away"),
        );
        self.hole()
    }

    fn at_sign(&self) -> bool {
        matches!(
            self.peek(),
            Mark::Plus | Mark::Minus | Mark::PlusMinus | Mark::MinusPlus
        )
    }

    /// The rest of a sum after its first term; stops before the first sign at or after the token
    /// `limit`.
    pub(super) fn sum_after(
        &mut self,
        first: Expression,
        start: usize,
        limit: usize,
    ) -> Expression {
        let mut sum = first;
        loop {
            if self.at >= limit {
                return sum;
            }
            match self.peek() {
                Mark::Plus | Mark::Minus | Mark::PlusMinus | Mark::MinusPlus => {
                    let mut terms: Operands = smallvec![sum];
                    while self.at_sign() && self.at < limit {
                        let term = self.term();
                        terms.push(term);
                    }
                    sum = self.node(Operator::Sum, terms, start);
                }
                Mark::SetOperation(operation) => sum = self.set_operation(operation, sum, start),
                Mark::Delimiter(Delimiter::Bar) | Mark::BigBar
                    if self.bars == 0 && matches!(self.peek_at(1), Mark::Down | Mark::Up) =>
                {
                    let is_sum = matches!(sum.operator(), Operator::Sum);
                    self.advance();
                    let (lower, upper) = self.bounds();
                    sum = self.evaluated(sum, lower, upper, start);
                    if is_sum {
                        self.say_since(
                            Class::Ambiguous,
                            start,
                            "the bar may belong to the whole sum, as read, or to its last term: \
                             put brackets around what it belongs to, as in \
                             `\\left[ \\right]_a^b`",
                        );
                    }
                }
                _ => return sum,
            }
        }
    }

    fn set_operation(
        &mut self,
        operation: SetOperation,
        first: Expression,
        start: usize,
    ) -> Expression {
        let mut operands: Operands = smallvec![interval_of(first)];
        while self.peek() == Mark::SetOperation(operation) {
            self.advance();
            if !self.starts_factor() {
                let sign = self.tokens[self.at - 1].range();
                let text = self.text(sign.clone()).to_owned();
                self.malformed(
                    sign,
                    format!("nothing stands after `{text}`: write the other set"),
                );
                operands.push(self.hole());
                break;
            }
            let operand = self.product();
            operands.push(interval_of(operand));
        }
        if matches!(self.peek(), Mark::SetOperation(_))
            || operands.iter().any(|operand| {
                matches!(operand.operator(), Operator::SetOperation(other) if *other != operation)
                    && operand.range().start == start
            })
        {
            let range = self.here();
            self.ambiguous(
                range,
                "which of these operations on sets comes first? Put brackets around it; they are \
                 read from left to right",
            );
        }
        self.node(Operator::SetOperation(operation), operands, start)
    }

    /// Factors, written side by side or with signs between them.
    pub(super) fn product(&mut self) -> Expression {
        let start = self.start();
        let first = self.signed_factor();
        self.product_after(smallvec![first], start)
    }

    /// The rest of a product after its first factors.
    pub(super) fn product_after(&mut self, mut factors: Operands, start: usize) -> Expression {
        // Where the run of factors began that no sign separates.
        let mut run = 0;
        loop {
            if self.at_differential() {
                break;
            }
            match self.peek() {
                sign @ (Mark::CenterDot | Mark::Times | Mark::Star) => {
                    self.advance();
                    let right = self.right_factor(sign);
                    let left_is_vector = factors.iter().any(Expression::is_vector);
                    let right_is_vector = right.is_vector() || is_vector_differential(&right);
                    if left_is_vector && right_is_vector && sign != Mark::Star {
                        let left = self.product_node(std::mem::take(&mut factors), start);
                        let operator = if sign == Mark::Times {
                            Operator::Cross
                        } else {
                            Operator::Dot
                        };
                        factors.push(self.binary(operator, left, right, start));
                        run = 0;
                        continue;
                    }
                    if sign == Mark::Times
                        && (is_set(&right) || factors.iter().any(is_set))
                        && factors.len() == 1
                    {
                        let mut sets: Operands = std::mem::take(&mut factors);
                        if let Operator::SetOperation(SetOperation::Product) = sets[0].operator() {
                            sets = sets[0].operands().into();
                        }
                        sets.push(right);
                        let product = Operator::SetOperation(SetOperation::Product);
                        factors.push(self.node(product, sets, start));
                        continue;
                    }
                    run = factors.len();
                    factors.push(right);
                }
                Mark::Slash => {
                    self.advance();
                    let run_start = factors[run].range().start;
                    let numerator: Operands = factors.drain(run..).collect();
                    let numerator = self.product_node(numerator, run_start);
                    let denominator = self.right_factor(Mark::Slash);
                    let fraction =
                        self.binary(Operator::Fraction, numerator, denominator, run_start);
                    if self.starts_factor() && !self.at_differential() {
                        self.slash_is_unclear(run_start);
                    }
                    factors.push(fraction);
                }
                Mark::Divide => {
                    self.advance();
                    let numerator = self.product_node(std::mem::take(&mut factors), start);
                    let divisor_start = self.start();
                    let first = self.right_factor(Mark::Divide);
                    let mut divisors: Operands = smallvec![first];
                    while self.starts_factor() && !self.at_differential() {
                        if matches!(self.peek(), Mark::Delimiter(_) | Mark::Left) {
                            self.say_since(
                                Class::Ambiguous,
                                start,
                                "it is not clear whether the bracket is divided by as well: \
                                 write a fraction, as in `\\frac{a}{b}`",
                            );
                        }
                        let divisor = self.factor();
                        divisors.push(divisor);
                    }
                    let divisor = self.product_node(divisors, divisor_start);
                    factors.push(self.binary(Operator::Fraction, numerator, divisor, start));
                    run = 0;
                }
                Mark::Remainder => {
                    self.advance();
                    let dividend = self.product_node(std::mem::take(&mut factors), start);
                    let divisor = self.right_factor(Mark::Remainder);
                    let remainder = Operator::Function(Function::Remainder);
                    factors.push(self.binary(remainder, dividend, divisor, start));
                    run = 0;
                }
                Mark::Circle => {
                    let Some(outer) = factors.pop() else { break };
                    let outer_start = outer.range().start;
                    let mut functions: Operands = smallvec![outer];
                    while self.eat(Mark::Circle) {
                        let inner = self.right_factor(Mark::Circle);
                        functions.push(inner);
                    }
                    let composition = self.node(Operator::Composition, functions, outer_start);
                    factors.push(self.called_with_bracket(composition, outer_start));
                }
                Mark::Mid if self.separator => break,
                _ if self.starts_factor() => {
                    let Some(last) = factors.last() else { break };
                    let may_be_mixed = self.peek() == Mark::Fraction && is_plain_integer(last);
                    let digit_after_letter = matches!(self.peek(), Mark::Digit(_))
                        && matches!(self.mark_at(self.at.wrapping_sub(1)), Mark::Letter(_));
                    let before = self.at;
                    let factor = self.factor();
                    if self.at == before {
                        break;
                    }
                    if digit_after_letter {
                        self.say_since(
                            Class::Ambiguous,
                            factors[factors.len() - 1].range().start,
                            "a number after a letter is read as a factor: write it before the \
                             letter, or as in `x^2` or `x_2`",
                        );
                    }
                    if may_be_mixed
                        && is_proper_fraction(&factor)
                        && let Some(whole) = factors.pop()
                    {
                        let whole_start = whole.range().start;
                        factors.extend(self.mixed_number(whole, factor, whole_start));
                        continue;
                    }
                    factors.push(factor);
                }
                _ => break,
            }
        }
        self.product_node(factors, start)
    }

    fn product_node(&mut self, mut factors: Operands, start: usize) -> Expression {
        match factors.len() {
            1 => factors.remove(0),
            _ => self.node(Operator::Product, factors, start),
        }
    }

    fn slash_is_unclear(&mut self, start: usize) {
        let mut range = self.since(start);
        range.end = self.here().end.max(range.end);
        let text = self.text(self.since(start)).to_owned();
        self.ambiguous(
            range,
            format!(
                "it is not clear what `{text}` divides by: it is read as a fraction times the \
                 rest; write `\\frac{{a}}{{b}} c` or `a/(b c)`"
            ),
        );
    }

    /// A whole number before a proper fraction: a mixed number in plain arithmetic.
    fn mixed_number(&mut self, whole: Expression, part: Expression, start: usize) -> Operands {
        if self.is_arithmetic() {
            let operands = smallvec![
                whole,
                part.operands()[0].clone(),
                part.operands()[1].clone()
            ];
            return smallvec![self.node(Operator::Mixed, operands, start)];
        }
        self.say_since(
            Class::Ambiguous,
            start,
            "this may be a mixed number or a product; beside letters it is read as a product: \
             write the sum `2 + \\frac13`, an improper fraction, or a `\\cdot` between them",
        );
        smallvec![whole, part]
    }

    /// No letter stands between the relations, commas and row ends around this place.
    fn is_arithmetic(&mut self) -> bool {
        let here = self.at.saturating_sub(1);
        if self.segment.0.contains(&here) {
            return !self.segment.1;
        }
        let separates = |mark: Mark| {
            matches!(
                mark,
                Mark::Relation(_)
                    | Mark::Comma
                    | Mark::Semicolon
                    | Mark::Row
                    | Mark::Align
                    | Mark::Gap
                    | Mark::Text
                    | Mark::Logic(_)
                    | Mark::Begin
                    | Mark::End
            )
        };
        let before = self.tokens[..here]
            .iter()
            .rposition(|token| separates(token.mark));
        let after = self.tokens[here..]
            .iter()
            .position(|token| separates(token.mark));
        let from = before.map_or(0, |place| place + 1);
        let to = after.map_or(self.tokens.len(), |place| here + place);
        let letters = self.tokens[from..to]
            .iter()
            .any(|token| matches!(token.mark, Mark::Letter(_)));
        self.segment = (from..to, letters);
        !letters
    }

    /// The factor that a multiplication or division sign needs on its right.
    fn right_factor(&mut self, sign: Mark) -> Expression {
        if self.starts_factor() || self.at_sign() {
            return self.signed_factor();
        }
        if self.at_differential() && sign != Mark::Slash {
            let start = self.start();
            return self.differential(start);
        }
        let range = self.tokens[self.at - 1].range();
        let text = self.text(range.clone()).to_owned();
        self.malformed(
            range,
            format!("nothing stands after `{text}`: write what to multiply or divide by"),
        );
        self.hole()
    }

    /// A factor with the signs in front of it.
    pub(super) fn signed_factor(&mut self) -> Expression {
        if !self.at_sign() {
            return self.factor();
        }
        let mut signs: Vec<(Mark, usize)> = Vec::new();
        while self.at_sign() {
            if signs.len() >= super::MAX_NESTING {
                let range = self.here();
                self.abort(
                    range.clone(),
                    format!(
                        "more than {} signs stand in a row: write one",
                        super::MAX_NESTING
                    ),
                );
                return self.opaque(range);
            }
            signs.push((self.peek(), self.start()));
            self.advance();
        }
        let mut factor = match self.starts_factor() {
            true => self.factor(),
            false => {
                self.at -= 1;
                let sign = self.here();
                self.advance();
                let text = self.text(sign.clone()).to_owned();
                self.malformed(
                    sign,
                    format!("nothing stands after `{text}`: write what it belongs to"),
                );
                self.hole()
            }
        };
        for (sign, start) in signs.into_iter().rev() {
            let operator = match sign {
                Mark::Minus => Operator::Negative,
                Mark::PlusMinus => Operator::PlusMinus,
                Mark::MinusPlus => Operator::MinusPlus,
                _ => continue,
            };
            factor = self.unary(operator, factor, start);
        }
        factor
    }

    /// The next token can start a factor.
    pub(super) fn starts_factor(&self) -> bool {
        match self.peek() {
            Mark::Letter(_)
            | Mark::Digit(_)
            | Mark::Function(_)
            | Mark::Lg
            | Mark::Named(_)
            | Mark::Fraction
            | Mark::Binomial
            | Mark::Root
            | Mark::Constant(_)
            | Mark::Style(_)
            | Mark::StyleSwitch(_)
            | Mark::Accent(_)
            | Mark::DotAccent(_)
            | Mark::Overline
            | Mark::OperatorName
            | Mark::Begin
            | Mark::Ellipsis
            | Mark::Limit
            | Mark::Integral { .. }
            | Mark::Series(_)
            | Mark::Partial
            | Mark::Nabla
            | Mark::Blank
            | Mark::Transparent
            | Mark::Annotated
            | Mark::Overset
            | Mark::Underset
            | Mark::Substack
            | Mark::Figure(_)
            | Mark::Currency
            | Mark::Open
            | Mark::Left => true,
            Mark::Point => matches!(self.peek_at(1), Mark::Digit(_)),
            Mark::Top => true,
            Mark::Text => self.is_unit(),
            Mark::Delimiter(Delimiter::Bar | Delimiter::DoubleBar) | Mark::BigBar => {
                self.bar_opens()
            }
            Mark::Delimiter(delimiter) => delimiter.opens(),
            // Kept as opaque factors, so that one unknown command does not spoil its formula.
            Mark::Unknown | Mark::Stray(_) => true,
            _ => false,
        }
    }

    /// The text at the next token is a short word, as units are, right after an operand.
    fn is_unit(&self) -> bool {
        let Some(token) = self.tokens.get(self.at) else {
            return false;
        };
        let words = self.words(token.range()).trim();
        let after_operand = self.at > 0
            && !matches!(
                self.mark_at(self.at - 1),
                Mark::Gap | Mark::Comma | Mark::Semicolon | Mark::Row | Mark::Align
            );
        self.word() == super::statements::Word::Other
            && (!after_operand
                || words.len() <= 16 && !words.contains(' ') && !words.ends_with(':'))
    }

    /// One operand with the scripts and signs after it.
    pub(super) fn factor(&mut self) -> Expression {
        self.deeper(Self::factor_here)
    }

    fn factor_here(&mut self) -> Expression {
        let start = self.start();
        match self.peek() {
            Mark::Letter(_) | Mark::Style(_) | Mark::Accent(_) | Mark::Partial => {
                let named = self.named();
                self.postfix(named, start)
            }
            Mark::Digit(_) | Mark::Point => {
                let number = self.number();
                self.postfix(number, start)
            }
            Mark::Function(function) => self.known_function(function),
            Mark::Lg => self.common_logarithm(),
            Mark::Named(name) => {
                self.advance();
                self.named_operator(name, start)
            }
            Mark::OperatorName => {
                let range = self.here();
                self.advance();
                let name = self.words(range).trim().to_owned();
                self.named_operator(&name, start)
            }
            Mark::Delimiter(_) | Mark::Left | Mark::BigBar => self.bracket(),
            Mark::Open => self.group_factor(),
            Mark::Limit => self.limit(),
            Mark::Series(operator) => self.series(operator),
            Mark::Integral { signs, closed } => self.integral(signs, closed),
            Mark::Nabla => self.nabla(),
            Mark::Fraction => self.fraction(),
            _ => {
                let atom = self.atom();
                self.postfix(atom, start)
            }
        }
    }

    /// An operand without what may follow it: also the whole of a TeX argument without braces.
    fn atom(&mut self) -> Expression {
        let start = self.start();
        let mark = self.peek();
        match mark {
            Mark::Constant(constant) => {
                self.advance();
                self.leaf(Operator::Constant(constant), start)
            }
            Mark::Top => {
                self.advance();
                self.leaf(Operator::Constant(crate::expression::Constant::True), start)
            }
            Mark::Root => self.root(),
            Mark::Binomial => {
                self.advance();
                let upper = self.argument("\\binom", "the upper number", r"\binom{n}{k}");
                let lower = self.argument("\\binom", "the lower number", r"\binom{n}{k}");
                self.binary(Operator::Function(Function::Binomial), upper, lower, start)
            }
            Mark::Ellipsis => {
                self.advance();
                self.leaf(Operator::Ellipsis, start)
            }
            Mark::Blank => {
                self.advance();
                self.leaf(Operator::Hole, start)
            }
            Mark::Text => {
                let range = self.here();
                self.advance();
                let words = self.words(range).trim().into();
                self.leaf(Operator::Text(words), start)
            }
            Mark::Currency => {
                self.advance();
                self.leaf(Operator::Text("$".into()), start)
            }
            Mark::Begin => self.environment(),
            Mark::Transparent => {
                self.advance();
                self.argument("this command", "its content", r"\boxed{x}")
            }
            Mark::Annotated => {
                self.advance();
                let inside = self.argument("the brace", "what it spans", r"\underbrace{x}_{n}");
                while matches!(self.peek(), Mark::Up | Mark::Down) {
                    self.advance();
                    // The note below the brace is no part of the formula.
                    self.note();
                }
                inside
            }
            Mark::Overset | Mark::Underset => self.stacked(),
            Mark::Overline => self.overline(),
            Mark::DotAccent(order) => {
                self.advance();
                let inside = self.argument("the dot", "what it stands above", r"\dot{x}");
                self.unary(Operator::Prime(order.into()), inside, start)
            }
            Mark::Figure(figure) => {
                self.advance();
                let mut name = figure.to_string();
                while let Mark::Letter(letter) = self.peek() {
                    name.push(letter);
                    self.advance();
                }
                self.symbol_node(crate::expression::Symbol::new(&name), start)
            }
            Mark::StyleSwitch(style) => {
                self.advance();
                self.style = Some(style);
                match self.starts_factor() {
                    true => self.factor(),
                    false => self.hole(),
                }
            }
            Mark::Substack => {
                self.advance();
                self.argument("\\substack", "its rows", r"\substack{a \\ b}")
            }
            Mark::Letter(_) | Mark::Style(_) | Mark::Accent(_) | Mark::Partial => self.named(),
            Mark::Digit(_) | Mark::Point => self.number(),
            Mark::Fraction | Mark::Limit | Mark::Series(_) | Mark::Integral { .. } => {
                self.factor_here()
            }
            _ => self.unknown_command(),
        }
    }

    /// A command or character without meaning here, kept verbatim with its arguments.
    fn unknown_command(&mut self) -> Expression {
        let start = self.start();
        let mark = self.peek();
        self.advance();
        if mark == Mark::Unknown {
            while self.peek() == Mark::Open {
                self.at =
                    (super::context::matching(&self.tokens, self.at) + 1).min(self.tokens.len());
            }
        }
        let range = self.since(start);
        let text = self.text(range.clone()).to_owned();
        match mark {
            Mark::Unknown => self.unsupported(
                range.clone(),
                format!(
                    "`{text}` is not known here: write it with standard commands, or leave the \
                     formula for reading only"
                ),
            ),
            Mark::Stray(character) => self.malformed(
                range.clone(),
                format!(
                    "`{character}` has no meaning in a formula: take it out, or put words in \
                     `\\text{{ }}`"
                ),
            ),
            _ => self.malformed(
                range.clone(),
                format!("`{text}` cannot stand here: write an operand"),
            ),
        }
        self.opaque(range)
    }

    /// Skips one argument that is not part of the formula.
    fn note(&mut self) {
        match self.peek() {
            Mark::Open => {
                self.at =
                    (super::context::matching(&self.tokens, self.at) + 1).min(self.tokens.len());
            }
            Mark::Eof => {}
            _ => self.advance(),
        }
    }

    /// `\overset{a}{b}`, `\underset{a}{b}`: `b`, with `a` below it if it is an operator.
    fn stacked(&mut self) -> Expression {
        let under = self.peek() == Mark::Underset;
        self.advance();
        let start = self.start();
        let note = self.at;
        self.note();
        let after = self.at;
        if under && self.peek() == Mark::Open && self.peek_at(1) == Mark::Limit {
            // `\underset{x \to 0}{\lim} f(x)`: the note is the limit's subscript.
            self.at += 3;
            let body = self.at;
            self.at = note;
            return self.limit_with_script(start, body);
        }
        self.at = after;
        self.argument("the stacked sign", "the sign itself", r"\overset{a}{=}")
    }

    /// `\over` and `\choose` split the group; otherwise the content of a group is a formula.
    pub(super) fn group(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        let style = self.style;
        if let Mark::StyleSwitch(switch) = self.peek() {
            self.advance();
            self.style = Some(switch);
            if switch == crate::expression::Style::Roman
                && let Some(word) = self.letters_to_close()
            {
                self.style = style;
                return self.upright(&word, start);
            }
        }
        let group = self.enclosed(|reader| {
            let (items, rows) = reader.sequence();
            let content = reader.collect(items, rows, start);
            let split = reader.peek();
            if !matches!(split, Mark::Over | Mark::Choose) {
                return content;
            }
            reader.advance();
            let (items, rows) = reader.sequence();
            let below = reader.collect(items, rows, start);
            let operator = match split {
                Mark::Over => Operator::Fraction,
                _ => Operator::Function(Function::Binomial),
            };
            reader.binary(operator, content, below, start)
        });
        self.style = style;
        self.close_group(start);
        group
    }

    /// The letters from here to the end of the group, if nothing else is in it; moves behind it.
    pub(super) fn letters_to_close(&mut self) -> Option<String> {
        let mut word = String::new();
        let mut at = self.at;
        while let Mark::Letter(letter) = self.mark_at(at) {
            word.push(letter);
            at += 1;
        }
        let complete = !word.is_empty() && self.mark_at(at) == Mark::Close;
        if complete {
            self.at = at + 1;
        }
        complete.then_some(word)
    }

    pub(super) fn close_group(&mut self, start: usize) {
        if self.eat(Mark::Close) {
            return;
        }
        // What else stops a sequence inside braces belongs to no bracket here.
        let found = self.here();
        let text = self.text(found.clone()).to_owned();
        match text.as_str() {
            "" => self.malformed(
                start..(start + 1).min(self.tex.len()),
                "this `{` is never closed: write `}` where it ends",
            ),
            _ => {
                self.malformed(
                    found,
                    format!("`{text}` cannot stand here: close the braces opened before it first"),
                );
                self.at = (self.closing_brace()).min(self.tokens.len());
            }
        }
    }

    /// The token after the brace that closes the group in which the next token stands.
    fn closing_brace(&self) -> usize {
        let mut depth = 0_usize;
        for (index, token) in self.tokens.iter().enumerate().skip(self.at) {
            match token.mark {
                Mark::Open => depth += 1,
                Mark::Close if depth == 0 => return index + 1,
                Mark::Close => depth -= 1,
                _ => {}
            }
        }
        self.tokens.len()
    }

    /// A group that is a factor of its own.
    fn group_factor(&mut self) -> Expression {
        let start = self.start();
        if self.peek_at(1) == Mark::Close {
            self.at += 2;
            return match self.starts_factor() {
                true => self.factor(),
                false if matches!(self.peek(), Mark::Up | Mark::Down) => {
                    let hole = self.hole();
                    self.malformed(
                        start..self.end(),
                        "this script stands on nothing: write what it belongs to",
                    );
                    self.postfix(hole, start)
                }
                false => {
                    self.malformed(
                        start..self.end(),
                        "these braces are empty: write what belongs in them",
                    );
                    self.hole()
                }
            };
        }
        let before = self.at;
        let group = self.group();
        let is_sum = matches!(
            group.operator(),
            Operator::Sum | Operator::Negative | Operator::PlusMinus | Operator::Relation(_)
        );
        let has_brackets = matches!(self.mark_at(before + 1), Mark::Delimiter(_) | Mark::Left);
        let stuck_before = before > 0
            && matches!(
                self.mark_at(before - 1),
                Mark::Letter(_) | Mark::Digit(_) | Mark::Close | Mark::Delimiter(_) | Mark::Minus
            )
            && !matches!(self.mark_at(before - 1), Mark::Delimiter(open) if open.opens());
        if is_sum
            && !has_brackets
            && (stuck_before
                || self.starts_factor()
                || matches!(self.peek(), Mark::Up | Mark::Prime | Mark::Bang))
        {
            self.say_since(
                Class::Ambiguous,
                start,
                "braces do not show on the page; these are read like brackets: write `( )` if you \
                 mean brackets",
            );
        }
        self.postfix(group, start)
    }

    /// A TeX argument: a group, or one token.
    pub(super) fn argument(&mut self, owner: &str, what: &str, example: &str) -> Expression {
        let start = self.start();
        match self.peek() {
            Mark::Open if self.peek_at(1) == Mark::Close => {
                self.at += 2;
                self.malformed(
                    self.since(start),
                    format!("`{owner}` needs {what}, and these braces are empty: write it as in `{example}`"),
                );
                self.hole()
            }
            Mark::Open => self.deeper(Self::group),
            Mark::Digit(digit) => {
                self.advance();
                let number = self.leaf(Operator::Number(Number::integer(digit.into())), start);
                if owner != "\\frac" && owner != "\\binom" {
                    self.more_digits(number, start)
                } else {
                    number
                }
            }
            Mark::Letter(letter) => {
                self.advance();
                let mut buffer = [0; 4];
                self.letter_or_constant(letter.encode_utf8(&mut buffer), start)
            }
            Mark::Minus if matches!(self.peek_at(1), Mark::Digit(_) | Mark::Letter(_)) => {
                self.advance();
                let inner = self.argument(owner, what, example);
                self.malformed(
                    self.since(start),
                    format!("only the sign belongs to `{owner}` here: put all of it in braces, as in `{example}`"),
                );
                self.unary(Operator::Negative, inner, start)
            }
            Mark::Delimiter(Delimiter::RoundOpen) => {
                let inner = self.deeper(Self::bracket_alone);
                if !self.text(0..start).ends_with('√') {
                    self.malformed(
                        self.since(start),
                        format!("`{owner}` reaches only to the bracket here, and is read with all of it: put it in braces, as in `{example}`"),
                    );
                }
                inner
            }
            _ if self.starts_factor() && !matches!(self.peek(), Mark::Delimiter(_)) => {
                self.deeper(Self::atom)
            }
            _ => {
                self.malformed(
                    self.tokens
                        .get(self.at.wrapping_sub(1))
                        .map_or(start..start, |t| t.range()),
                    format!("`{owner}` needs {what}: write it as in `{example}`"),
                );
                self.hole()
            }
        }
    }

    /// Digits right after a one-digit argument: TeX leaves them outside.
    fn more_digits(&mut self, first: Expression, start: usize) -> Expression {
        let is_adjacent = |reader: &Self| {
            matches!(reader.peek(), Mark::Digit(_))
                && reader
                    .tokens
                    .get(reader.at)
                    .is_some_and(|token| !token.spaced)
        };
        if !is_adjacent(self) {
            return first;
        }
        while is_adjacent(self) {
            self.advance();
        }
        let range = self.since(start);
        let digits = self.text(range.clone()).to_owned();
        if start > 0 && self.text(0..start).ends_with('√') {
            return self.digits(&digits, start);
        }
        self.ambiguous(
            range,
            format!(
                "without braces only the first digit belongs to it; it is read with all of them: \
                 write `{{{digits}}}`"
            ),
        );
        self.digits(&digits, start)
    }

    /// The integer written with these digits; anything else among them is left out.
    fn digits(&mut self, digits: &str, start: usize) -> Expression {
        let value = digits
            .bytes()
            .filter(u8::is_ascii_digit)
            .fold(BigInt::zero(), |value, digit| value * 10 + (digit - b'0'));
        let number = Number::exact(BigRational::from_integer(value));
        self.leaf(Operator::Number(number), start)
    }

    fn root(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        if self.peek() != Mark::Delimiter(Delimiter::SquareOpen) {
            let radicand = self.argument("\\sqrt", "what stands under the root", r"\sqrt{x}");
            return self.unary(Operator::Root, radicand, start);
        }
        let open = self.start();
        self.advance();
        let degree = self.enclosed(|reader| {
            let (items, rows) = reader.sequence();
            reader.collect(items, rows, open)
        });
        if !self.eat(Mark::Delimiter(Delimiter::SquareClose)) {
            self.malformed(
                open..open + 1,
                "this `[` is never closed: write the degree of the root as in `\\sqrt[3]{x}`",
            );
        }
        let radicand = self.argument("\\sqrt", "what stands under the root", r"\sqrt[3]{x}");
        self.binary(Operator::NthRoot, radicand, degree, start)
    }

    pub(super) fn fraction(&mut self) -> Expression {
        let start = self.start();
        if let Some(derivative) = self.derivative_fraction() {
            return self.postfix(derivative, start);
        }
        self.advance();
        let numerator = self.argument("\\frac", "a numerator", r"\frac{a}{b}");
        let denominator = self.argument("\\frac", "a denominator", r"\frac{a}{b}");
        let fraction = self.binary(Operator::Fraction, numerator, denominator, start);
        self.postfix(fraction, start)
    }

    fn number(&mut self) -> Expression {
        let start = self.start();
        let mut value: Option<u64> = Some(0);
        let first = self.at;
        let mut glued = false;
        while let Mark::Digit(digit) = self.peek() {
            if self.at > first && self.tokens[self.at].spaced {
                // `1\,000` groups three digits; any other space inside a number is suspicious.
                glued |= !self.is_group_of_three(self.at) || !self.tokens[self.at].thin;
            }
            value = value
                .and_then(|value| value.checked_mul(10)?.checked_add(digit.into()))
                .filter(|value| i64::try_from(*value).is_ok());
            self.advance();
            if self.skip_group_separator(first) {
                continue;
            }
        }
        if glued {
            self.say_since(
                Class::Ambiguous,
                start,
                "the space in this number does not show on the page; it is read as one number: \
                 write a sign between two, or `1\\,000`",
            );
        }
        let is_decimal = (matches!(self.peek(), Mark::Point) || self.peek() == Mark::NumberComma)
            && !self.tokens[self.at].spaced
            && (matches!(self.peek_at(1), Mark::Digit(_))
                || self.peek_at(1) == Mark::Overline
                || matches!(self.peek_at(1), Mark::Accent(_) | Mark::DotAccent(_))
                    && self.at > first);
        if is_decimal {
            return self.decimal(start, first);
        }
        match value {
            Some(value) => {
                let value = i64::try_from(value).unwrap_or(i64::MAX);
                self.leaf(Operator::Number(Number::integer(value)), start)
            }
            None => {
                let digits = self.text(self.since(start)).to_owned();
                self.digits(&digits, start)
            }
        }
    }

    /// Three digits and no fourth start at this token.
    fn is_group_of_three(&self, at: usize) -> bool {
        let digit = |offset: usize| matches!(self.mark_at(at + offset), Mark::Digit(_));
        let unspaced = |offset: usize| self.tokens.get(at + offset).is_some_and(|t| !t.spaced);
        digit(0) && digit(1) && digit(2) && unspaced(1) && unspaced(2) && !(digit(3) && unspaced(3))
    }

    /// Skips a comma between groups of three digits.
    fn skip_group_separator(&mut self, first: usize) -> bool {
        let starts_with_zero = self.mark_at(first) == Mark::Digit(0);
        let separates = match self.peek() {
            Mark::NumberComma => !starts_with_zero && self.is_group_of_three(self.at + 1),
            Mark::Comma => {
                let next = self.tokens.get(self.at + 1);
                !starts_with_zero
                    && self.at - first <= 3 + 4 * ((self.at - first) / 4)
                    && self.tokens[self.at].spaced.eq(&false)
                    && next.is_some_and(|token| !token.spaced)
                    && self.is_group_of_three(self.at + 1)
                    && (!self.bracketed || self.mark_at(self.at + 1) == Mark::Digit(0))
            }
            _ => false,
        };
        if separates {
            self.advance();
        }
        separates
    }

    /// The rest of a decimal, from its point on.
    fn decimal(&mut self, start: usize, first: usize) -> Expression {
        let digit_of = |mark: Mark| match mark {
            Mark::Digit(digit) => Some(digit),
            _ => None,
        };
        let mut scaled: BigInt = self.tokens[first..self.at]
            .iter()
            .filter_map(|token| digit_of(token.mark))
            .fold(BigInt::zero(), |value, digit| value * 10 + digit);
        self.advance();
        let mut places = 0_u32;
        while let Mark::Digit(digit) = self.peek() {
            if self.tokens[self.at].spaced && places > 0 {
                break;
            }
            scaled = scaled * 10 + digit;
            places += 1;
            self.advance();
        }
        let ten = BigInt::from(10);
        if let Some(period) = self.repeating_digits() {
            let length = period.len() as u32;
            let repeating = period
                .iter()
                .fold(BigInt::zero(), |value, digit| value * 10 + digit);
            let nines = ten.pow(length) - 1;
            let value = BigRational::new(scaled * &nines + repeating, nines * ten.pow(places));
            let written = Written::Repeating {
                places,
                period: length,
            };
            return self.leaf(Operator::Number(Number::written_as(value, written)), start);
        }
        if self.peek() == Mark::Ellipsis {
            self.advance();
            self.say_since(
                Class::Unsupported,
                start,
                "the digits of this number go on, and no one can tell how: write the repeating \
                 ones as in `0.\\overline{3}`, or `\\approx` before the digits that you know",
            );
            let range = self.since(start);
            return self.opaque(range);
        }
        let value = BigRational::new(scaled, ten.pow(places));
        self.leaf(
            Operator::Number(Number::written_as(value, Written::Decimal { places })),
            start,
        )
    }

    /// `\overline{12}`, `\bar{3}` or `\dot{3}` after the digits of a decimal.
    fn repeating_digits(&mut self) -> Option<Vec<u8>> {
        if !matches!(
            self.peek(),
            Mark::Overline | Mark::Accent(crate::expression::Accent::Bar) | Mark::DotAccent(1)
        ) {
            return None;
        }
        let mut at = self.at + 1;
        let braced = self.mark_at(at) == Mark::Open;
        at += usize::from(braced);
        let mut period = Vec::new();
        while let Mark::Digit(digit) = self.mark_at(at) {
            period.push(digit);
            at += 1;
            if !braced {
                break;
            }
        }
        if period.is_empty() || braced && self.mark_at(at) != Mark::Close {
            return None;
        }
        self.at = at + usize::from(braced);
        Some(period)
    }

    /// Scripts, primes, factorials and per cent after an operand.
    pub(super) fn postfix(&mut self, mut operand: Expression, start: usize) -> Expression {
        let mut raised = false;
        loop {
            match self.peek() {
                Mark::Up => {
                    let script = self.at;
                    self.advance();
                    let above = self.raised();
                    if raised {
                        let range = self.tokens[script].range();
                        self.malformed(
                            range,
                            "a second exponent follows the first: put one of them in braces, as \
                             in `{x^2}^3` or `x^{2^3}`",
                        );
                    }
                    raised = true;
                    operand = self.raise(operand, above, start);
                }
                Mark::Down => {
                    let script = self.start();
                    self.advance();
                    let below = self.below();
                    operand = self.index(operand, below, start, script);
                }
                Mark::Prime => {
                    let primes = self.primes();
                    if operand.as_number().is_some() {
                        self.say_since(
                            Class::Unsupported,
                            start,
                            "minutes and feet are not read: write the number with its unit in \
                             words, as in `\\text{ft}`",
                        );
                    }
                    operand = self.unary(Operator::Prime(primes), operand, start);
                }
                Mark::Bang => {
                    self.advance();
                    let is_double = self.peek() == Mark::Bang
                        && self.tokens.get(self.at).is_some_and(|token| !token.spaced);
                    let function = match is_double {
                        true => {
                            self.advance();
                            Function::DoubleFactorial
                        }
                        false => Function::Factorial,
                    };
                    operand = self.unary(Operator::Function(function), operand, start);
                }
                Mark::Percent => {
                    self.advance();
                    operand = self.unary(Operator::Percent, operand, start);
                }
                Mark::Degree => {
                    self.advance();
                    operand = self.unary(Operator::Degrees, operand, start);
                }
                _ => return operand,
            }
        }
    }

    pub(super) fn primes(&mut self) -> u32 {
        let mut primes = 0;
        while self.eat(Mark::Prime) {
            primes += 1;
        }
        primes
    }

    /// The operand with its superscript.
    pub(super) fn raise(&mut self, operand: Expression, above: Raised, start: usize) -> Expression {
        match above {
            Raised::Exponent(exponent) => {
                // A call raised to a power: `\ln(x)^2` is dealt with where functions are read.
                self.binary(Operator::Power, operand, exponent, start)
            }
            Raised::Order(order) => {
                // Only a function has derivatives; a bracketed exponent elsewhere is a power.
                match operand.operator() {
                    Operator::Symbol(_) | Operator::Sum | Operator::Product | Operator::Apply
                        if order.as_i64().is_some() =>
                    {
                        let times = order
                            .as_i64()
                            .and_then(|n| u32::try_from(n).ok())
                            .unwrap_or(0);
                        self.unary(Operator::Prime(times), operand, start)
                    }
                    _ => self.binary(Operator::Power, operand, order, start),
                }
            }
            Raised::Degrees => self.unary(Operator::Degrees, operand, start),
            Raised::Transposed => {
                self.unary(Operator::Function(Function::Transpose), operand, start)
            }
            Raised::Star => {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "a star above this is not read: give it a letter of its own",
                );
                let range = self.since(start);
                self.opaque(range)
            }
            Raised::Side(side) => {
                self.side = Some(side);
                operand
            }
        }
    }

    /// A superscript, after its `^`.
    pub(super) fn raised(&mut self) -> Raised {
        let braced = self.peek() == Mark::Open;
        let inner = usize::from(braced);
        let closes =
            |reader: &Self, length: usize| !braced || reader.peek_at(inner + length) == Mark::Close;
        let lone = match self.peek_at(inner) {
            Mark::Circle | Mark::Degree => Some(Raised::Degrees),
            Mark::Top => Some(Raised::Transposed),
            Mark::Star => Some(Raised::Star),
            Mark::Plus if braced || !self.operand_follows_sign() => Some(Raised::Side(Side::Above)),
            Mark::Minus if braced || !self.operand_follows_sign() => {
                Some(Raised::Side(Side::Below))
            }
            _ => None,
        };
        if let Some(lone) = lone
            && closes(self, 1)
        {
            self.at += inner + 1 + inner;
            return lone;
        }
        if braced
            && self.peek_at(1) == Mark::Delimiter(Delimiter::RoundOpen)
            && let Some(close) = self.round_bracket_fills_group()
        {
            let start = self.start();
            self.advance();
            let order = self.deeper(Self::bracket_alone);
            self.at = self.at.max(close);
            self.close_group(start);
            return Raised::Order(order);
        }
        Raised::Exponent(self.argument("^", "an exponent", "x^{n+1}"))
    }

    /// The sign after `^` has an operand right behind it, as in `x^-1`.
    fn operand_follows_sign(&self) -> bool {
        self.tokens.get(self.at + 1).is_some_and(|token| {
            !token.spaced && matches!(token.mark, Mark::Digit(_) | Mark::Letter(_))
        })
    }

    /// The group at the next token holds one round bracket and nothing else; its closing token.
    fn round_bracket_fills_group(&self) -> Option<usize> {
        let close = super::context::matching_round(&self.tokens, self.at + 1);
        (self.mark_at(close + 1) == Mark::Close).then_some(close + 1)
    }

    /// A subscript, after its `_`.
    pub(super) fn below(&mut self) -> Below {
        let start = self.start();
        let braced = usize::from(self.peek() == Mark::Open);
        // Digits, or one word.
        let mut at = self.at + braced;
        while matches!(self.mark_at(at), Mark::Digit(_)) {
            at += 1;
            if braced == 0 {
                break;
            }
        }
        let digits = at > self.at + braced;
        if digits && (braced == 0 || self.mark_at(at) == Mark::Close) {
            let first = self.tokens[self.at + braced].range().start;
            let last = self.tokens[at - 1].range().end;
            self.at = at + braced;
            let literal = self.text(first..last).to_owned();
            if braced == 0
                && matches!(self.peek(), Mark::Digit(_))
                && self.tokens.get(self.at).is_some_and(|token| !token.spaced)
            {
                while matches!(self.peek(), Mark::Digit(_)) {
                    self.advance();
                }
                let range = self.since(start);
                let digits = self.text(range.clone()).to_owned();
                self.ambiguous(
                    range,
                    format!(
                        "without braces only the first digit is a subscript; it is read with all \
                         of them: write `_{{{digits}}}`"
                    ),
                );
                return Below::Literal(digits.into());
            }
            return Below::Literal(literal.into());
        }
        if self.peek_at(braced) == Mark::Text && (braced == 0 || self.peek_at(2) == Mark::Close) {
            let words = self
                .words(self.tokens[self.at + braced].range())
                .trim()
                .to_owned();
            self.at += 1 + 2 * braced;
            return Below::Literal(words.into());
        }
        if self.peek_at(braced) == Mark::Style(crate::expression::Style::Roman) {
            let begin = self.at;
            self.at += braced + 1;
            if self.eat(Mark::Open)
                && let Some(word) = self.letters_to_close()
                && (braced == 0 || self.eat(Mark::Close))
            {
                return Below::Literal(word.into());
            }
            self.at = begin;
        }
        Below::Formula(self.argument("_", "a subscript", "x_{n+1}"))
    }

    /// The operand with a subscript that is not part of a name.
    fn index(
        &mut self,
        operand: Expression,
        below: Below,
        start: usize,
        script: usize,
    ) -> Expression {
        let index = match below {
            Below::Formula(index) => index,
            Below::Literal(literal) => match literal.parse::<i64>() {
                Ok(number) => self.leaf(Operator::Number(Number::integer(number)), script),
                Err(_) => self.leaf(Operator::Text(literal), script),
            },
        };
        match operand.operator() {
            Operator::Symbol(_) | Operator::Apply | Operator::Prime(_) => {
                self.binary(Operator::Indexed, operand, index, start)
            }
            Operator::Number(_) => {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "a number in another base is not read: write it in base ten",
                );
                let range = self.since(start);
                self.opaque(range)
            }
            _ => {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "a subscript on this is not read: give it a letter of its own",
                );
                let range = self.since(start);
                self.opaque(range)
            }
        }
    }

    /// The next tokens are the differential that ends the integrand being read.
    pub(super) fn at_differential(&self) -> bool {
        self.integrand == Integrand::Body && self.differential_length(self.at).is_some()
    }
}

/// A round pair that touches a union or an intersection is an interval.
fn interval_of(expression: Expression) -> Expression {
    match expression.operator() {
        Operator::Tuple(Brackets::Round) if expression.operands().len() == 2 => {
            let ends = crate::expression::Ends {
                lower_closed: false,
                upper_closed: false,
            };
            Expression::at(
                Operator::Interval(ends),
                expression.operands().into(),
                expression.range(),
            )
        }
        _ => expression,
    }
}

/// A literal integer without point.
fn is_plain_integer(expression: &Expression) -> bool {
    expression
        .as_number()
        .is_some_and(|number| number.written() == Written::Exact && number.is_integer())
}

/// A fraction of literal integers between 0 and 1.
fn is_proper_fraction(expression: &Expression) -> bool {
    match (expression.operator(), expression.operands()) {
        (Operator::Fraction, [numerator, denominator]) => {
            is_plain_integer(numerator)
                && is_plain_integer(denominator)
                && numerator
                    .as_number()
                    .zip(denominator.as_number())
                    .is_some_and(|(above, below)| {
                        above.value() < below.value() && !above.value().is_zero()
                            || above.value().is_one() && below.value().is_zero()
                    })
        }
        _ => false,
    }
}

fn is_vector_differential(expression: &Expression) -> bool {
    matches!(expression.operator(), Operator::Differential)
        && expression.operands().first().is_some_and(|variable| {
            variable.is_vector()
                || variable
                    .as_symbol()
                    .is_some_and(|s| s.name() == "r" || s.name() == "S")
        })
}

/// The expression is a set by its notation.
fn is_set(expression: &Expression) -> bool {
    use crate::expression::Constant;
    match expression.operator() {
        Operator::Constant(constant) => matches!(
            constant,
            Constant::Naturals
                | Constant::Integers
                | Constant::Rationals
                | Constant::Reals
                | Constant::Complexes
                | Constant::EmptySet
        ),
        Operator::Set
        | Operator::SetBuilder
        | Operator::Interval(_)
        | Operator::SetOperation(_) => true,
        Operator::Power => expression.operands().first().is_some_and(is_set),
        _ => false,
    }
}
