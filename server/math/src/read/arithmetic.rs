//! Sums and products: terms with signs between them, factors side by side.

use smallvec::smallvec;

use super::numbers::{is_plain_integer, is_proper_fraction};
use super::tokens::{Delimiter, Mark};
use super::{Class, Integrand, Reader};
use crate::expression::{Brackets, Expression, Function, Operands, Operator, SetOperation};

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
                    let right_is_vector = right.is_vector() || is_vector_differential(&right);
                    if right_is_vector
                        && sign != Mark::Star
                        && factors.iter().any(Expression::is_vector)
                    {
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
                        && factors.len() == 1
                        && (is_set(&right) || is_set(&factors[0]))
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
                    if may_be_mixed && is_proper_fraction(&factor) {
                        let whole = factors[factors.len() - 1].range().start;
                        self.say_since(
                            Class::Ambiguous,
                            whole,
                            "this may be a mixed number or a product; beside letters it is read \
                             as a product: write the sum `2 + \\frac13`, an improper fraction, or a \
                             `\\cdot` between them",
                        );
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
        match self.at_sign() {
            true => self.factor_after_signs(),
            false => self.factor(),
        }
    }

    fn factor_after_signs(&mut self) -> Expression {
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
