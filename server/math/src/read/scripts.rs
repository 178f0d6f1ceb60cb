//! Superscripts, subscripts, primes and the signs after an operand.

use super::tokens::{Delimiter, Mark};
use super::{Class, Reader};
use crate::expression::{Expression, Function, Number, Operator, Side};

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
    /// The byte after the letter and its subscript.
    pub(super) name_end: usize,
}

/// A subscript.
pub(super) enum Below {
    /// Digits or words.
    Literal(smol_str::SmolStr),
    /// A formula.
    Formula(Expression),
}

impl Reader<'_> {
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
            Raised::Exponent(exponent) if is_transposition(&operand, &exponent) => {
                self.unary(Operator::Function(Function::Transpose), operand, start)
            }
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
            let literal: String = self.tokens[self.at + braced..at]
                .iter()
                .filter_map(|token| match token.mark {
                    Mark::Digit(digit) => Some(char::from(b'0' + digit)),
                    _ => None,
                })
                .collect();
            self.at = at + braced;
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
            // Said already.
            Operator::Opaque(_) | Operator::Hole => operand,
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
}

/// A matrix, or a product or sum of capital or bold letters, raised to the letter T.
fn is_transposition(base: &Expression, exponent: &Expression) -> bool {
    let is_matrix = |part: &Expression| match part.operator() {
        Operator::Symbol(symbol) => {
            symbol.is_vector()
                || symbol
                    .name()
                    .starts_with(|letter: char| letter.is_uppercase())
        }
        _ => true,
    };
    exponent
        .as_symbol()
        .is_some_and(|symbol| symbol.name() == "T")
        && match base.operator() {
            Operator::Matrix(_) => true,
            Operator::Product | Operator::Sum => base.parts().all(is_matrix),
            _ => false,
        }
}
