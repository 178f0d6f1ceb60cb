//! Numbers: digits in groups, decimals, repeating decimals, mixed numbers.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, Zero};
use smallvec::smallvec;

use super::tokens::Mark;
use super::{Class, Reader};
use crate::expression::{Expression, Number, Operator, Written};

impl Reader<'_> {
    pub(super) fn number(&mut self) -> Expression {
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
            && (self.at == first || !self.tokens[self.at].spaced)
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
                    && !self.is_list_of_numbers()
            }
            _ => false,
        };
        if separates {
            self.advance();
        }
        separates
    }

    /// Some comma without a space stands before something else than three digits, as in `2,5,14,125`,
    /// so that commas separate.
    fn is_list_of_numbers(&self) -> bool {
        (1..self.tokens.len()).any(|at| {
            self.tokens[at].mark == Mark::Comma
                && self.tokens.get(at + 1).is_some_and(|next| !next.spaced)
                && matches!(self.mark_at(at - 1), Mark::Digit(_))
                && matches!(self.mark_at(at + 1), Mark::Digit(_))
                && !self.is_group_of_three(at + 1)
        })
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
            // `0.000\,047`: digits in groups of three.
            let goes_on = places.is_multiple_of(3) && self.is_group_of_three(self.at);
            if self.tokens[self.at].spaced && places > 0 && !goes_on {
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

    /// Digits right after a one-digit argument: TeX leaves them outside.
    pub(super) fn more_digits(&mut self, first: Expression, start: usize) -> Expression {
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
        let after_first = self.at;
        while is_adjacent(self) {
            self.advance();
        }
        let range = self.since(start);
        let digits = self.text(range.clone()).to_owned();
        if self.text(0..start).ends_with(['√', '∛', '∜']) {
            return self.digits(&digits, start);
        }
        self.ambiguous(
            range,
            format!(
                "without braces only the first digit belongs to it; it is read with all of them: \
                 write `{{{digits}}}`"
            ),
        );
        if self.otherwise {
            self.at = after_first;
            return first;
        }
        self.digits(&digits, start)
    }

    /// The integer written with these digits; anything else among them is left out.
    fn digits(&mut self, digits: &str, start: usize) -> Expression {
        let digits: Vec<u8> = digits.bytes().filter(u8::is_ascii_digit).collect();
        let value = BigInt::parse_bytes(&digits, 10).unwrap_or_default();
        let number = Number::exact(BigRational::from_integer(value));
        self.leaf(Operator::Number(number), start)
    }

    /// A whole number was read, a proper fraction of literal integers follows, and there are no
    /// letters around: a mixed number.
    pub(super) fn mixed_number_follows(&mut self, whole: &Expression) -> bool {
        self.peek() == Mark::Fraction
            && is_plain_integer(whole)
            && self
                .literal_fraction(self.at)
                .is_some_and(|(above, below)| 0 < above && above < below)
            && self.is_arithmetic()
    }

    /// The numerator and denominator of the fraction at this token, if both are literal integers.
    fn literal_fraction(&self, at: usize) -> Option<(u64, u64)> {
        let integer = |mut at: usize| {
            let braced = self.mark_at(at) == Mark::Open;
            at += usize::from(braced);
            let mut value = 0_u64;
            let first = at;
            while let Mark::Digit(digit) = self.mark_at(at) {
                value = value.checked_mul(10)?.checked_add(digit.into())?;
                at += 1;
                if !braced {
                    break;
                }
            }
            let complete = at > first && (!braced || self.mark_at(at) == Mark::Close);
            complete.then_some((value, at + usize::from(braced)))
        };
        let (above, next) = integer(at + 1)?;
        let (below, _) = integer(next)?;
        Some((above, below))
    }

    pub(super) fn mixed_number(&mut self, whole: Expression, start: usize) -> Expression {
        self.advance();
        let numerator = self.argument("\\frac", "a numerator", r"\frac{a}{b}");
        let denominator = self.argument("\\frac", "a denominator", r"\frac{a}{b}");
        let mixed = self.node(
            Operator::Mixed,
            smallvec![whole, numerator, denominator],
            start,
        );
        self.postfix(mixed, start)
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
}

/// A literal integer without point.
pub(super) fn is_plain_integer(expression: &Expression) -> bool {
    expression
        .as_number()
        .is_some_and(|number| number.written() == Written::Exact && number.is_integer())
}

/// A fraction of literal integers between 0 and 1.
pub(super) fn is_proper_fraction(expression: &Expression) -> bool {
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
