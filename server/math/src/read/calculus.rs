//! Derivatives, differentials, integrals, limits, sums over an index, values between bounds.

use smallvec::{SmallVec, smallvec};

use super::context::matching;
use super::tokens::{Delimiter, Mark};
use super::{Class, Integrand, Reader};
use crate::expression::{
    Accent, Bounds, Differentiation, Expression, Integration, Number, Operands, Operator, Relation,
    SeriesOperator, SeriesRange, Side, Style, Symbol,
};

/// The parts of `\frac{d^2 y}{dx^2}`.
struct DerivativeParts {
    partial: bool,
    order: u32,
    /// The tokens of the operand in the numerator; empty if it follows the fraction.
    operand: std::ops::Range<usize>,
    variables: Operands,
    orders: SmallVec<[u32; 2]>,
    /// The token after the fraction.
    after: usize,
}

impl Reader<'_> {
    /// The sign `d` or `∂` at this token: how many tokens it has and whether it is `∂`.
    fn derivative_sign(&self, at: usize) -> Option<(usize, bool)> {
        match (self.mark_at(at), self.mark_at(at + 1), self.mark_at(at + 2)) {
            (Mark::Partial, _, _) => Some((1, true)),
            (Mark::Letter('d'), _, _) => Some((1, false)),
            (Mark::Style(Style::Roman), Mark::Letter('d'), _) => Some((2, false)),
            (
                Mark::Style(Style::Roman) | Mark::Open,
                Mark::Open | Mark::StyleSwitch(Style::Roman),
                Mark::Letter('d'),
            ) if self.mark_at(at + 3) == Mark::Close => Some((4, false)),
            _ => None,
        }
    }

    /// A differential starts at this token: the number of tokens of its `d`.
    pub(super) fn differential_length(&self, at: usize) -> Option<usize> {
        let (length, partial) = self.derivative_sign(at)?;
        if partial {
            return None;
        }
        let names_variable = match self.mark_at(at + length) {
            Mark::Letter(_) => true,
            Mark::Style(_) | Mark::Accent(_) => matches!(
                (self.mark_at(at + length + 1), self.mark_at(at + length + 2)),
                (Mark::Letter(_), _) | (Mark::Open, Mark::Letter(_) | Mark::Style(_))
            ),
            _ => false,
        };
        names_variable.then_some(length)
    }

    /// A differential: its `d` and its variable.
    pub(super) fn differential(&mut self, start: usize) -> Expression {
        let length = self
            .derivative_sign(self.at)
            .map_or(1, |(length, _)| length);
        self.at += length;
        let variable = match self.variable() {
            Some(variable) => variable,
            None => self.hole(),
        };
        self.unary(Operator::Differential, variable, start)
    }

    /// The variable of a derivative or differential: a letter with its style and subscript.
    fn variable(&mut self) -> Option<Expression> {
        let start = self.start();
        let (mut style, mut accent) = (Style::Plain, Accent::None);
        let mut braces = 0;
        let letter = loop {
            match self.peek() {
                Mark::Style(found) => style = found,
                Mark::Accent(found) => accent = found,
                Mark::Open if style != Style::Plain || accent != Accent::None => braces += 1,
                Mark::Letter(letter) => break letter,
                _ => return None,
            }
            self.advance();
        };
        self.advance();
        for _ in 0..braces {
            self.eat(Mark::Close);
        }
        let mut buffer = [0; 4];
        let mut symbol = Symbol::new(letter.encode_utf8(&mut buffer))
            .with_style(style)
            .with_accent(accent);
        if self.peek() == Mark::Down {
            self.advance();
            match self.below() {
                super::scripts::Below::Literal(literal) => {
                    symbol = symbol.with_subscript(&literal);
                }
                super::scripts::Below::Formula(index) => {
                    let letter = self.symbol_node(symbol, start);
                    return Some(self.binary(Operator::Indexed, letter, index, start));
                }
            }
        }
        Some(self.symbol_node(symbol, start))
    }

    /// An order after `d`: `^2` or `^{2}`. A symbolic order gives none and stays unread.
    fn order(&mut self) -> Option<u32> {
        if self.peek() != Mark::Up {
            return Some(1);
        }
        match (self.peek_at(1), self.peek_at(2), self.peek_at(3)) {
            (Mark::Digit(order), _, _) => {
                self.at += 2;
                Some(order.into())
            }
            (Mark::Open, Mark::Digit(order), Mark::Close) => {
                self.at += 4;
                Some(order.into())
            }
            _ => None,
        }
    }

    /// `\frac` at this token is a derivative.
    pub(super) fn is_derivative_fraction(&self, at: usize) -> bool {
        let inside = match self.mark_at(at + 1) {
            Mark::Open => at + 2,
            _ => at + 1,
        };
        if self.derivative_sign(inside).is_none() {
            return false;
        }
        let below = match self.mark_at(at + 1) {
            Mark::Open => matching(&self.tokens, at + 1) + 1,
            _ => at + 2,
        };
        self.mark_at(below) == Mark::Open && self.derivative_sign(below + 1).is_some()
    }

    /// `\frac{dy}{dx}` and its relatives, if the fraction at the next token is one.
    pub(super) fn derivative_fraction(&mut self) -> Option<Expression> {
        if !self.is_derivative_fraction(self.at) {
            return None;
        }
        let begin = self.at;
        let start = self.start();
        let Some(parts) = self.derivative_parts() else {
            self.at = begin;
            return None;
        };
        Some(self.derivative(parts, start))
    }

    fn derivative_parts(&mut self) -> Option<DerivativeParts> {
        self.advance();
        let braced = self.peek() == Mark::Open;
        let close = match braced {
            true => matching(&self.tokens, self.at),
            false => self.at + 1,
        };
        self.at += usize::from(braced);
        let (length, partial) = self.derivative_sign(self.at)?;
        self.at += length;
        let order = self.order()?;
        let operand = self.at.min(close)..close;
        self.at = close + usize::from(braced);
        if !self.eat(Mark::Open) {
            return None;
        }
        let (variables, orders) = self.denominator_variables(partial)?;
        if !self.eat(Mark::Close) {
            return None;
        }
        Some(DerivativeParts {
            partial,
            order,
            operand,
            variables,
            orders,
            after: self.at,
        })
    }

    /// `dx^2`, `\partial x \partial y`, up to the end of the group.
    fn denominator_variables(&mut self, partial: bool) -> Option<(Operands, SmallVec<[u32; 2]>)> {
        let mut variables = Operands::new();
        let mut orders: SmallVec<[u32; 2]> = SmallVec::new();
        while let Some((length, found_partial)) = self.derivative_sign(self.at) {
            if found_partial != partial {
                return None;
            }
            self.at += length;
            variables.push(self.variable()?);
            orders.push(self.order()?);
        }
        (!variables.is_empty()).then_some((variables, orders))
    }

    fn derivative(&mut self, parts: DerivativeParts, start: usize) -> Expression {
        let total: u32 = parts.orders.iter().sum();
        if total != parts.order {
            self.at = parts.after;
            self.say_since(
                Class::Malformed,
                start,
                "the orders above and below do not agree: write `\\frac{d^2 y}{dx^2}`",
            );
        }
        let operand = match parts.operand.is_empty() {
            true => {
                self.at = parts.after;
                self.operand_of_operator(start)
            }
            false => {
                self.at = parts.operand.start;
                let begin = self.start();
                let operand = self.enclosed(|reader| {
                    // The numerator is read as if it stood alone.
                    reader.integrand = Integrand::Outside;
                    let (items, rows) = reader.sequence_within(parts.operand.end);
                    reader.collect(items, rows, begin)
                });
                self.at = parts.after.min(self.tokens.len()).max(if self.aborted {
                    self.tokens.len()
                } else {
                    0
                });
                operand
            }
        };
        let symbol = operand.as_symbol().cloned();
        let by = Differentiation {
            partial: parts.partial,
            orders: parts.orders,
        };
        let mut operands: Operands = smallvec![operand];
        operands.extend(parts.variables);
        let derivative = self.node(Operator::Derivative(Box::new(by)), operands, start);
        self.derivative_at_arguments(derivative, symbol, start)
    }

    /// `\frac{dy}{dx}(0)`: the derivative at a point.
    fn derivative_at_arguments(
        &mut self,
        derivative: Expression,
        symbol: Option<Symbol>,
        start: usize,
    ) -> Expression {
        let open = match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(Delimiter::RoundOpen), _) => self.at,
            (Mark::Left, Mark::Delimiter(Delimiter::RoundOpen)) => self.at + 1,
            _ => return derivative,
        };
        let Some(symbol) = symbol else {
            return derivative;
        };
        match self.call_or_product_of(&symbol, open, start) {
            true => self.call_with_bracket(derivative, start),
            false => derivative,
        }
    }

    /// What `\frac{d}{dx}` is applied to: a bracket right after it, or the product that follows.
    fn operand_of_operator(&mut self, start: usize) -> Expression {
        if !self.starts_factor() && !matches!(self.peek(), Mark::Minus) {
            self.say_since(
                Class::Unsupported,
                start,
                "a differential operator by itself is not read: write what it is applied to, as \
                 in `\\frac{d}{dx} f(x)`",
            );
            return self.hole();
        }
        let is_bracket = matches!(self.peek(), Mark::Delimiter(_) | Mark::Left);
        if !is_bracket {
            return self.product();
        }
        let operand = self.factor();
        if self.starts_factor() && !self.at_differential() {
            self.say_since(
                Class::Ambiguous,
                start,
                "the derivative may be of the bracket only, as it is read, or of the whole \
                 product: put brackets around all of it, or a `\\cdot` after the bracket",
            );
        }
        operand
    }

    /// `dy/dx` written in line, at its first `d`.
    pub(super) fn inline_derivative(&mut self) -> Option<Expression> {
        let begin = self.at;
        let start = self.start();
        let found = self.inline_parts(start);
        if found.is_none() {
            self.at = begin;
        }
        found
    }

    fn inline_parts(&mut self, start: usize) -> Option<Expression> {
        let (length, partial) = self.derivative_sign(self.at)?;
        self.at += length;
        let order = self.order()?;
        let operand = match self.peek() {
            Mark::Slash => None,
            _ => Some(self.variable()?),
        };
        if !self.eat(Mark::Slash) {
            return None;
        }
        let (length, below) = self.derivative_sign(self.at)?;
        if below != partial {
            return None;
        }
        self.at += length;
        let variable = self.variable()?;
        let below = self.order()?;
        if below != order {
            return None;
        }
        let operand = match operand {
            Some(operand) => operand,
            None => self.operand_of_operator(start),
        };
        let symbol = operand.as_symbol().cloned();
        let by = Differentiation {
            partial,
            orders: smallvec![order],
        };
        let operator = Operator::Derivative(Box::new(by));
        let derivative = self.node(operator, smallvec![operand, variable], start);
        Some(self.derivative_at_arguments(derivative, symbol, start))
    }

    /// `\partial_x f`, or the boundary `\partial D`.
    pub(super) fn partial_operator(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        if self.eat(Mark::Down) {
            let index = match self.below() {
                super::scripts::Below::Formula(index) => index,
                super::scripts::Below::Literal(literal) => {
                    self.leaf(Operator::Symbol(Symbol::new(&literal)), start)
                }
            };
            let variables: Operands = match index.operator() {
                Operator::Product => index.operands().into(),
                _ => smallvec![index],
            };
            let mut orders: SmallVec<[u32; 2]> = SmallVec::new();
            let mut distinct = Operands::new();
            for variable in variables {
                match (distinct.last(), orders.last_mut()) {
                    (Some(last), Some(order)) if *last == variable => *order += 1,
                    _ => {
                        distinct.push(variable);
                        orders.push(1);
                    }
                }
            }
            if !self.starts_factor() {
                self.say_since(
                    Class::Unsupported,
                    start,
                    "a differential operator by itself is not read: write what it is applied to",
                );
                return self.hole();
            }
            let operand = self.factor();
            let by = Differentiation {
                partial: true,
                orders,
            };
            let mut operands: Operands = smallvec![operand];
            operands.extend(distinct);
            return self.node(Operator::Derivative(Box::new(by)), operands, start);
        }
        if let Mark::Letter(letter) = self.peek() {
            self.advance();
            let symbol = Symbol::new(&format!("∂{letter}"));
            return self.symbol_node(symbol, start);
        }
        self.say_since(
            Class::Unsupported,
            start,
            "`\\partial` by itself is not read: write a derivative, as in \
             `\\frac{\\partial f}{\\partial x}`",
        );
        let range = self.since(start);
        self.opaque(range)
    }

    /// `_` and `^` in either order.
    pub(super) fn bounds(&mut self) -> (Option<Expression>, Option<Expression>) {
        let (mut lower, mut upper) = (None, None);
        let outside = std::mem::replace(&mut self.integrand, Integrand::Outside);
        loop {
            match self.peek() {
                Mark::Down if lower.is_none() => {
                    self.advance();
                    lower = Some(self.argument("_", "a lower bound", r"\int_{a}^{b}"));
                }
                Mark::Up if upper.is_none() => {
                    self.advance();
                    upper = Some(self.argument("^", "an upper bound", r"\int_{a}^{b}"));
                }
                _ => break,
            }
        }
        self.integrand = outside;
        (lower, upper)
    }

    /// The value of an expression at a point or between bounds.
    pub(super) fn evaluated(
        &mut self,
        inside: Expression,
        lower: Option<Expression>,
        upper: Option<Expression>,
        start: usize,
    ) -> Expression {
        let mut operands: Operands = smallvec![inside];
        operands.extend(lower);
        operands.extend(upper);
        self.node(Operator::EvaluatedAt, operands, start)
    }

    pub(super) fn integral(&mut self, signs: u8, closed: bool) -> Expression {
        let start = self.start();
        self.advance();
        let (lower, upper) = self.bounds();
        let outside = std::mem::replace(&mut self.integrand, Integrand::Body);
        let (body, variables) = self.integrand_body(signs, start);
        self.integrand = outside;
        let bounds = match (&lower, &upper) {
            (None, None) => Bounds::None,
            (Some(_), Some(_)) => Bounds::Between,
            (Some(_), None) => Bounds::Region,
            (None, Some(_)) => {
                self.say_since(
                    Class::Malformed,
                    start,
                    "this integral has an upper bound only: write the lower one too, as in \
                     `\\int_{a}^{b}`",
                );
                Bounds::Region
            }
        };
        let integration = Integration {
            signs,
            closed,
            variables: u8::try_from(variables.len()).unwrap_or(u8::MAX),
            bounds,
        };
        let mut operands: Operands = smallvec![body];
        operands.extend(variables);
        operands.extend(lower);
        operands.extend(upper);
        self.node(Operator::Integral(integration), operands, start)
    }

    /// The integrand and the variables of its differentials.
    fn integrand_body(&mut self, signs: u8, start: usize) -> (Expression, Operands) {
        let body_start = self.start();
        if self.at_differential() && !self.form_follows() {
            return self.bare_differential(signs, start);
        }
        let mut terms = Operands::new();
        let mut variables = Operands::new();
        let mut is_form = false;
        loop {
            if !self.starts_factor() && !self.is_sum_sign() {
                break;
            }
            let term_start = self.start();
            let term = self.term();
            if self.at_differential() {
                if is_form || self.form_follows() {
                    is_form = true;
                    let differential_start = self.start();
                    let differential = self.differential(differential_start);
                    terms.push(times(term, differential));
                    if self.is_sum_sign() {
                        continue;
                    }
                    break;
                }
                terms.push(term);
                while self.at_differential() && variables.len() < usize::from(signs) {
                    let differential_start = self.start();
                    let differential = self.differential(differential_start);
                    variables.extend(differential.operands().iter().cloned());
                }
                break;
            }
            if terms.is_empty()
                && let Some((rest, variable)) = without_differential(&term)
            {
                terms.push(rest.with_range(self.since(term_start)));
                variables.push(variable);
                break;
            }
            if term
                .parts()
                .any(|part| matches!(part.operator(), Operator::Differential))
            {
                is_form = true;
            }
            terms.push(term);
            if !self.is_sum_sign() || is_form && !self.form_follows_sign() {
                break;
            }
        }
        if terms.is_empty() {
            self.say_since(
                Class::Malformed,
                start,
                "this integral has no integrand: write it with its differential, as in \
                 `\\int f(x)\\,dx`",
            );
            return (self.hole(), variables);
        }
        let body = match terms.len() {
            1 => terms.remove(0),
            _ => self.node(Operator::Sum, terms, body_start),
        };
        if variables.is_empty() && !is_form && !self.is_abstract(&body) {
            self.say_since(
                Class::Malformed,
                start,
                "this integral has no differential: write `\\,dx` at its end, with its variable",
            );
        }
        (body, variables)
    }

    fn is_sum_sign(&self) -> bool {
        matches!(
            self.peek(),
            Mark::Plus | Mark::Minus | Mark::PlusMinus | Mark::MinusPlus
        )
    }

    /// `\int dx`, and `\int dx\, f(x)` as physicists write it.
    fn bare_differential(&mut self, signs: u8, start: usize) -> (Expression, Operands) {
        let place = self.start();
        let mut variables = Operands::new();
        while self.at_differential() && variables.len() < usize::from(signs) {
            let begin = self.start();
            let differential = self.differential(begin);
            variables.extend(differential.operands().iter().cloned());
        }
        let one = Expression::at(
            Operator::Number(Number::integer(1)),
            Operands::new(),
            place..place,
        );
        if !self.starts_factor() || self.at_differential() {
            return (one, variables);
        }
        self.integrand = Integrand::Outside;
        let body = self.product();
        self.say_since(
            Class::Ambiguous,
            start,
            "the differential stands first; what follows is read as the integrand: write the \
             differential last",
        );
        (body, variables)
    }

    /// After the differential at the next tokens, a sum goes on to another differential.
    fn form_follows(&self) -> bool {
        let Some(length) = self.differential_length(self.at) else {
            return false;
        };
        let mut at = self.at + length;
        while matches!(
            self.mark_at(at),
            Mark::Style(_) | Mark::Accent(_) | Mark::Open
        ) {
            at += 1;
        }
        at += 1;
        while self.mark_at(at) == Mark::Close
            && self.mark_at(at.wrapping_sub(1)) != Mark::Close
            && matches!(
                self.mark_at(self.at + length),
                Mark::Style(_) | Mark::Accent(_)
            )
        {
            at += 1;
        }
        self.form_from(at)
    }

    fn form_follows_sign(&self) -> bool {
        self.form_from(self.at)
    }

    fn form_from(&self, at: usize) -> bool {
        if !matches!(self.mark_at(at), Mark::Plus | Mark::Minus) {
            return false;
        }
        let mut depth = 0_i32;
        for (index, token) in self.tokens.iter().enumerate().skip(at) {
            match token.mark {
                Mark::Open | Mark::Left => depth += 1,
                Mark::Close | Mark::Right => depth -= 1,
                Mark::Delimiter(delimiter) if delimiter.opens() => depth += 1,
                Mark::Delimiter(delimiter) if delimiter.closes() => depth -= 1,
                Mark::Relation(_)
                | Mark::Comma
                | Mark::Semicolon
                | Mark::Gap
                | Mark::Row
                | Mark::Align
                | Mark::Text
                | Mark::Logic(_)
                | Mark::Integral { .. }
                | Mark::End => return false,
                _ if depth == 0 && self.differential_length(index).is_some() => return true,
                _ => {}
            }
            if depth < 0 {
                return false;
            }
        }
        false
    }

    /// Functions only: `\int_a^b f` needs no differential.
    fn is_abstract(&self, body: &Expression) -> bool {
        body.parts().all(|part| match part.operator() {
            Operator::Symbol(symbol) => {
                symbol.is_vector()
                    || symbol.style() != Style::Plain
                    || matches!(
                        self.context.standing(symbol.name()),
                        super::context::Standing::Function | super::context::Standing::Unknown
                    )
            }
            Operator::Constant(_) | Operator::Apply => false,
            Operator::Opaque(_) | Operator::Hole => true,
            _ => true,
        })
    }

    pub(super) fn limit(&mut self) -> Expression {
        let start = self.start();
        self.advance();
        if !self.eat(Mark::Down) {
            let body = self.body_of("limit", start);
            let (variable, point) = (self.hole(), self.hole());
            self.say_since(
                Class::Malformed,
                start,
                "this limit does not say what tends where: write `\\lim_{x \\to a}`",
            );
            return self.node(
                Operator::Limit(Side::Both),
                smallvec![body, variable, point],
                start,
            );
        }
        let (variable, point, side) = self.approach(start);
        self.limit_body(variable, point, side, start)
    }

    /// `\underset{x \to 0}{\lim}` with the script at the next token and the body from `body` on.
    pub(super) fn limit_with_script(&mut self, start: usize, body: usize) -> Expression {
        let (variable, point, side) = self.approach(start);
        if !self.aborted {
            self.at = body;
        }
        self.limit_body(variable, point, side, start)
    }

    fn limit_body(
        &mut self,
        variable: Expression,
        point: Expression,
        side: Side,
        start: usize,
    ) -> Expression {
        let body_start = self.start();
        let mut body = self.body_of("limit", start);
        if let Some(symbol) = variable.as_symbol().cloned()
            && let Some(reach) = self.reach(&symbol)
        {
            body = self.sum_after(body, body_start, reach + 1);
        }
        self.node(
            Operator::Limit(side),
            smallvec![body, variable, point],
            start,
        )
    }

    /// What a limit or a sum is taken of.
    fn body_of(&mut self, what: &str, start: usize) -> Expression {
        if self.starts_factor() || self.is_sum_sign() {
            return self.product();
        }
        self.say_since(
            Class::Malformed,
            start,
            &format!("this {what} has nothing after it: write what it is taken of"),
        );
        self.hole()
    }

    /// `x \to a^+` in a limit's subscript.
    fn approach(&mut self, start: usize) -> (Expression, Expression, Side) {
        let script = self.start();
        let braced = self.eat(Mark::Open);
        let outside = self.side.take();
        let nesting = self.nesting;
        self.nesting += 1;
        let found = self.enclosed(|reader| {
            reader.integrand = Integrand::Outside;
            let variable = reader.sum();
            let mut side = Side::Both;
            match reader.peek() {
                Mark::Relation(Relation::To) => {}
                Mark::Rises => side = Side::Below,
                Mark::Falls => side = Side::Above,
                _ => return None,
            }
            reader.advance();
            if !braced || !reader.starts_factor() && !reader.is_sum_sign() {
                return None;
            }
            let point = reader.sum();
            if let Some(found) = reader.side.take() {
                side = found;
            }
            Some((variable, point, side))
        });
        self.nesting = nesting;
        self.side = outside;
        if braced {
            self.close_group(script);
        }
        match found {
            Some(found) => found,
            None => {
                self.say_since(
                    Class::Malformed,
                    start,
                    "this limit does not say what tends where: write `\\lim_{x \\to a}`",
                );
                (self.hole(), self.hole(), Side::Both)
            }
        }
    }

    /// The last token, within this sum, that is the bound letter: terms up to there belong to the
    /// body, since the letter means nothing outside.
    fn reach(&self, variable: &Symbol) -> Option<usize> {
        if !self.is_sum_sign() {
            return None;
        }
        let mut letters = variable.name().chars();
        let (Some(letter), None) = (letters.next(), letters.next()) else {
            return None;
        };
        let mut depth = 0_i32;
        let mut last = None;
        for (index, token) in self.tokens.iter().enumerate().skip(self.at) {
            match token.mark {
                Mark::Open | Mark::Left => depth += 1,
                Mark::Close | Mark::Right => depth -= 1,
                Mark::Delimiter(Delimiter::Bar) if self.bars > 0 && depth == 0 => break,
                Mark::Delimiter(delimiter) if delimiter.opens() => depth += 1,
                Mark::Delimiter(delimiter) if delimiter.closes() => depth -= 1,
                Mark::Letter(found) if found == letter => last = Some(index),
                Mark::Letter('d')
                    if self.integrand == Integrand::Body
                        && depth == 0
                        && self.differential_length(index).is_some() =>
                {
                    break;
                }
                Mark::Limit | Mark::Series(_) | Mark::Integral { .. } => break,
                Mark::Relation(_)
                | Mark::Comma
                | Mark::Semicolon
                | Mark::Gap
                | Mark::Row
                | Mark::Align
                | Mark::Text
                | Mark::Logic(_)
                | Mark::End
                    if depth == 0 =>
                {
                    break;
                }
                _ => {}
            }
            if depth < 0 {
                break;
            }
        }
        last
    }

    pub(super) fn series(&mut self, operator: SeriesOperator) -> Expression {
        let start = self.start();
        self.advance();
        let bound = self.bound.len();
        // The index is known before its range is read, so that `i` is no imaginary unit.
        let script = match (self.peek(), self.peek_at(1)) {
            (Mark::Down, Mark::Open) => self.peek_at(2),
            (Mark::Down, single) => single,
            _ => Mark::Eof,
        };
        if let Mark::Letter(letter) = script {
            self.bound.push(letter);
            if (self.peek_at(1), self.peek_at(3)) == (Mark::Open, Mark::Comma)
                && let Mark::Letter(second) = self.peek_at(4)
            {
                self.bound.push(second);
            }
        }
        let (lower, upper) = self.bounds();
        let body_start = self.start();
        let outside = (self.separator, self.bracketed);
        let mut body = self.body_of("sum", start);
        (self.separator, self.bracketed) = outside;
        let mut range = SeriesRange::Unstated;
        let mut scripts = Operands::new();
        match lower
            .as_ref()
            .map(|lower| (lower.as_equation(), lower.as_symbol()))
        {
            None => {}
            Some((Some((index, from)), _)) if index.as_symbol().is_some() => {
                range = SeriesRange::From;
                scripts.push(index.clone());
                scripts.push(from.clone());
            }
            Some((_, Some(_))) => {
                range = SeriesRange::Index;
                scripts.extend(lower.clone());
            }
            Some(_) => {
                range = SeriesRange::Condition;
                scripts.extend(lower.clone());
            }
        }
        match (upper, range) {
            (None, _) => {}
            (Some(upper), SeriesRange::From) => {
                range = SeriesRange::Between;
                scripts.push(upper);
            }
            (Some(_), _) => self.say_since(
                Class::Unsupported,
                start,
                "an upper bound is read only above an index with a first value: write \
                 `\\sum_{n=1}^{N}`, or put all of the condition below",
            ),
        }
        let index = scripts.first().and_then(Expression::as_symbol).cloned();
        match index.as_ref().and_then(|index| self.reach(index)) {
            Some(reach) => body = self.sum_after(body, body_start, reach + 1),
            None => self.constant_after_series(operator, start),
        }
        self.bound.truncate(bound);
        let mut operands: Operands = smallvec![body];
        operands.extend(scripts);
        self.node(Operator::Series(operator, range), operands, start)
    }

    /// `\sum 2k + 1`: the number after it may have been meant to be summed.
    fn constant_after_series(&mut self, operator: SeriesOperator, start: usize) {
        if operator != SeriesOperator::Sum
            || !matches!(self.peek(), Mark::Plus | Mark::Minus)
            || !matches!(self.peek_at(1), Mark::Digit(_))
            || matches!(self.mark_at(self.at.wrapping_sub(1)), Mark::Delimiter(_))
        {
            return;
        }
        let mut ahead = 1;
        while matches!(self.peek_at(ahead), Mark::Digit(_) | Mark::Point) {
            ahead += 1;
        }
        let ends = matches!(
            self.peek_at(ahead),
            Mark::Eof | Mark::Relation(_) | Mark::Comma | Mark::Plus | Mark::Minus | Mark::Close
        );
        if ends {
            self.say_since(
                Class::Ambiguous,
                start,
                "the number after this sum is read as added once, at the end: put brackets around \
                 what is summed",
            );
        }
    }
}

/// `integrand \cdot dx` as one product.
fn times(integrand: Expression, differential: Expression) -> Expression {
    let range = integrand.range().start..differential.range().end;
    match (integrand.operator(), integrand.operands()) {
        (Operator::Negative, [operand]) => {
            let inside = times(operand.clone(), differential);
            Expression::at(Operator::Negative, smallvec![inside], range)
        }
        (Operator::Product, factors) => {
            let mut factors: Operands = factors.into();
            factors.push(differential);
            Expression::at(Operator::Product, factors, range)
        }
        _ => Expression::at(Operator::Product, smallvec![integrand, differential], range),
    }
}

/// The integrand without the one differential in its numerator or among its factors, and the
/// variable; `\int \frac{x\,dx}{x+1}`.
fn without_differential(term: &Expression) -> Option<(Expression, Expression)> {
    let one = || Expression::integer(1);
    match (term.operator(), term.operands()) {
        (Operator::Differential, [variable]) => Some((one(), variable.clone())),
        (Operator::Negative, [operand]) => {
            let (rest, variable) = without_differential(operand)?;
            Some((
                Expression::at(Operator::Negative, smallvec![rest], term.range()),
                variable,
            ))
        }
        (Operator::Fraction, [numerator, denominator]) => {
            let (rest, variable) = without_differential(numerator)?;
            let fraction = smallvec![rest, denominator.clone()];
            Some((
                Expression::at(Operator::Fraction, fraction, term.range()),
                variable,
            ))
        }
        (Operator::Product, factors) => {
            let place = factors
                .iter()
                .position(|factor| without_differential(factor).is_some())?;
            let (rest, variable) = without_differential(&factors[place])?;
            let mut others: Operands = factors.into();
            match rest.as_i64() == Some(1)
                && matches!(factors[place].operator(), Operator::Differential)
            {
                true => {
                    others.remove(place);
                }
                false => others[place] = rest,
            }
            let product = match others.len() {
                1 => others.remove(0),
                _ => Expression::at(Operator::Product, others, term.range()),
            };
            Some((product, variable))
        }
        _ => None,
    }
}
