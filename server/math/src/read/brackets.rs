//! Brackets and bars: grouping, points, intervals, sets, absolute values.

use smallvec::smallvec;

use super::tokens::{Delimiter, Mark};
use super::{Class, Reader};
use crate::expression::{
    Brackets, Constant, Ends, Expression, Function, Operands, Operator, Relation,
};

/// What stands in a bracket, and the mark that closed it.
struct Content {
    items: Operands,
    rows: bool,
    /// The condition after a separating bar or colon.
    condition: Option<Expression>,
    closer: Option<Delimiter>,
    /// `\left. ... \right|` and the like: one side is invisible.
    invisible: bool,
    start: usize,
}

impl Reader<'_> {
    /// A bracket with what follows it: scripts, or the arguments of a function in brackets.
    pub(super) fn bracket(&mut self) -> Expression {
        let start = self.start();
        let opener = self.opener();
        let before = self.at;
        let inside = self.bracket_alone();
        // Bounds after a square bracket or after `\right|` evaluate what is inside.
        let last = self.mark_at(self.at.wrapping_sub(1));
        let is_evaluation = match opener {
            Some(Delimiter::SquareOpen) => {
                last == Mark::Delimiter(Delimiter::SquareClose) && self.has_both_scripts()
            }
            None => {
                matches!(
                    last,
                    Mark::Delimiter(Delimiter::Bar | Delimiter::SquareClose)
                ) && matches!(self.peek(), Mark::Down | Mark::Up)
            }
            _ => false,
        };
        if is_evaluation {
            let (lower, upper) = self.bounds();
            let value = self.evaluated(inside, lower, upper, start);
            return self.postfix(value, start);
        }
        if opener == Some(Delimiter::RoundOpen)
            && self.at > before
            && self.is_function_in_brackets(&inside)
        {
            let primes = self.primes();
            let function = match primes {
                0 => inside,
                _ => self.unary(Operator::Prime(primes), inside, start),
            };
            let value = self.called_with_bracket(function, start);
            return self.postfix(value, start);
        }
        self.postfix(inside, start)
    }

    /// The delimiter that opens at the next token; none for `\left.`.
    fn opener(&self) -> Option<Delimiter> {
        match (self.peek(), self.peek_at(1)) {
            (Mark::Delimiter(delimiter), _) | (Mark::Left, Mark::Delimiter(delimiter)) => {
                Some(delimiter)
            }
            (Mark::BigBar, _) => Some(Delimiter::Bar),
            (Mark::Left, Mark::Relation(Relation::Less)) => Some(Delimiter::AngleOpen),
            _ => None,
        }
    }

    /// `^` and `_` both follow, in either order.
    fn has_both_scripts(&self) -> bool {
        let first = self.peek();
        if !matches!(first, Mark::Up | Mark::Down) {
            return false;
        }
        let after = match self.peek_at(1) {
            Mark::Open => super::context::matching(&self.tokens, self.at + 1) + 1,
            Mark::Minus => self.at + 3,
            _ => self.at + 2,
        };
        matches!(
            (first, self.mark_at(after)),
            (Mark::Up, Mark::Down) | (Mark::Down, Mark::Up)
        )
    }

    /// A combination of functions such as `f + g` or `f \circ g`, whose value is taken by what
    /// follows in brackets.
    fn is_function_in_brackets(&self, inside: &Expression) -> bool {
        match inside.operator() {
            Operator::Composition | Operator::InverseFunction => true,
            Operator::Sum | Operator::Product | Operator::Fraction | Operator::Negative => {
                let mut symbols = inside.parts().filter(|part| part.operands().is_empty());
                symbols.all(|part| {
                    part.as_symbol()
                        .is_some_and(|symbol| "fgh".contains(symbol.name()))
                        || part.as_number().is_some()
                }) && inside
                    .parts()
                    .any(|part| part.as_symbol().is_some_and(|s| "fgh".contains(s.name())))
                    && !inside
                        .parts()
                        .any(|part| matches!(part.operator(), Operator::Apply))
            }
            Operator::Prime(_) => inside
                .operands()
                .first()
                .is_some_and(|function| self.is_function_in_brackets(function)),
            _ => false,
        }
    }

    /// The arguments in the bracket that follows.
    pub(super) fn arguments(&mut self) -> Operands {
        let content = self.content();
        let start = content.start;
        if content.items.is_empty() {
            self.malformed(
                self.since(start),
                "these brackets are empty: write the argument, as in `f(x)`",
            );
            return smallvec![self.hole()];
        }
        match content.condition {
            Some(condition) => {
                let event = self.collect(content.items, false, start);
                smallvec![self.binary(Operator::Given, event, condition, start)]
            }
            None => content.items,
        }
    }

    /// From an opening delimiter to the closing one.
    fn content(&mut self) -> Content {
        let start = self.start();
        let sized = self.eat(Mark::Left);
        let opener = match self.peek() {
            Mark::Delimiter(delimiter) => {
                self.advance();
                Some(delimiter)
            }
            Mark::BigBar => {
                self.advance();
                Some(Delimiter::Bar)
            }
            Mark::Relation(Relation::Less) if sized => {
                self.advance();
                Some(Delimiter::AngleOpen)
            }
            Mark::Point if sized => {
                self.advance();
                None
            }
            _ => {
                self.malformed(
                    self.since(start),
                    "a bracket must follow `\\left`: write `\\left(`, or `\\left.` for none",
                );
                None
            }
        };
        let is_bar = matches!(opener, Some(Delimiter::Bar | Delimiter::DoubleBar)) && !sized;
        let content = self.enclosed(|reader| {
            reader.bracketed = true;
            reader.separator = match opener {
                Some(Delimiter::BraceOpen) => reader.has_separator(true),
                Some(Delimiter::RoundOpen) => reader.has_separator(false),
                _ => false,
            };
            if is_bar {
                reader.bars = 1;
            }
            reader.opened = reader.at;
            let (items, rows) = reader.sequence();
            let separates = reader.separator
                && match reader.peek() {
                    Mark::Mid | Mark::Colon => true,
                    Mark::Delimiter(Delimiter::Bar) | Mark::BigBar => true,
                    Mark::Middle => {
                        reader.advance();
                        true
                    }
                    _ => false,
                };
            let condition = separates.then(|| {
                reader.advance();
                reader.separator = false;
                let begin = reader.start();
                let (items, rows) = reader.sequence();
                reader.collect(items, rows, begin)
            });
            (items, rows, condition)
        });
        let (items, rows, condition) = content;
        let (closer, closed) = self.closer(opener, sized, start);
        Content {
            items,
            rows,
            condition,
            invisible: opener.is_none() || closed && closer.is_none(),
            closer,
            start,
        }
    }

    /// Reads the closing delimiter; none if it is invisible or missing, and whether there is one.
    fn closer(
        &mut self,
        opener: Option<Delimiter>,
        sized: bool,
        start: usize,
    ) -> (Option<Delimiter>, bool) {
        if sized && self.eat(Mark::Right) {
            return match self.peek() {
                Mark::Delimiter(delimiter) => {
                    self.advance();
                    (Some(delimiter), true)
                }
                Mark::Relation(Relation::Greater) => {
                    self.advance();
                    (Some(Delimiter::AngleClose), true)
                }
                Mark::Point => {
                    self.advance();
                    (None, true)
                }
                _ => {
                    let range = self.here();
                    self.malformed(
                        range,
                        "a bracket must follow `\\right`: write `\\right)`, or `\\right.` for none",
                    );
                    (None, true)
                }
            };
        }
        if !sized {
            match (self.peek(), opener) {
                (Mark::Delimiter(delimiter), Some(opener))
                    if delimiter.closes()
                        && (delimiter == opener.partner() || is_interval(opener, delimiter)) =>
                {
                    self.advance();
                    return (Some(delimiter), true);
                }
                (Mark::Delimiter(Delimiter::Bar), Some(Delimiter::Bar))
                | (Mark::BigBar, Some(Delimiter::Bar)) => {
                    self.advance();
                    return (Some(Delimiter::Bar), true);
                }
                (Mark::Delimiter(Delimiter::DoubleBar), Some(Delimiter::DoubleBar)) => {
                    self.advance();
                    return (Some(Delimiter::DoubleBar), true);
                }
                _ => {}
            }
        }
        let opening = start..(start + 1).min(self.tex.len());
        let end = self
            .tokens
            .iter()
            .find(|t| t.start as usize == start)
            .map_or(opening.end, |t| t.end as usize);
        let opening = start..end.max(opening.start);
        let text = self.text(opening.clone()).to_owned();
        let way_out = match opener {
            _ if sized => "`\\right` and a bracket".to_owned(),
            Some(Delimiter::RoundOpen) => "`)`".to_owned(),
            Some(Delimiter::SquareOpen) => "`]`".to_owned(),
            Some(Delimiter::BraceOpen) => "`\\}`".to_owned(),
            Some(Delimiter::Bar) => "`|`, or use `\\lvert` and `\\rvert`,".to_owned(),
            _ => "the closing bracket".to_owned(),
        };
        self.malformed(
            opening,
            format!("this `{text}` is never closed: write {way_out} where it ends"),
        );
        // A closing bracket of another kind was meant for this one.
        if let Mark::Delimiter(delimiter) = self.peek()
            && delimiter.closes()
        {
            self.advance();
            return (Some(delimiter), true);
        }
        (None, false)
    }

    /// One separating bar or `\mid`, or a colon where one separates, stands in the bracket that
    /// just opened.
    fn has_separator(&self, with_colon: bool) -> bool {
        let (mut depth, mut bars, mut sign) = (0_i32, 0, false);
        for token in self.tokens[self.at..].iter().take(1_000) {
            match token.mark {
                Mark::Open | Mark::Left => depth += 1,
                Mark::Right => depth -= 1,
                Mark::Close => {
                    depth -= 1;
                    if depth < 0 {
                        break;
                    }
                }
                Mark::Delimiter(Delimiter::Bar) | Mark::BigBar if depth == 0 => bars += 1,
                Mark::Delimiter(delimiter) if delimiter.opens() => depth += 1,
                Mark::Delimiter(delimiter) if delimiter.closes() => {
                    depth -= 1;
                    if depth < 0 {
                        break;
                    }
                }
                Mark::Mid | Mark::Middle if depth == 0 => sign = true,
                Mark::Colon if depth == 0 => sign |= with_colon,
                _ => {}
            }
        }
        sign || bars % 2 == 1
    }

    /// From the bar at the next token to the end of the bracket, the number of bars is odd.
    pub(super) fn bars_are_odd(&self) -> bool {
        let (mut depth, mut bars) = (0_i32, 0);
        for token in self.tokens[self.at..].iter().take(1_000) {
            match token.mark {
                Mark::Open | Mark::Left => depth += 1,
                Mark::Close | Mark::Right => {
                    depth -= 1;
                    if depth < 0 {
                        break;
                    }
                }
                Mark::Delimiter(Delimiter::Bar) | Mark::BigBar if depth == 0 => bars += 1,
                Mark::Delimiter(delimiter) if delimiter.opens() => depth += 1,
                Mark::Delimiter(delimiter) if delimiter.closes() => {
                    depth -= 1;
                    if depth < 0 {
                        break;
                    }
                }
                _ => {}
            }
        }
        bars % 2 == 1
    }

    /// The bar at the next token, where an operand may start, opens an absolute value.
    pub(super) fn bar_opens(&self) -> bool {
        let at_operand = self.at == 0
            || self.at == self.opened
            || match self.mark_at(self.at - 1) {
                Mark::Plus
                | Mark::Minus
                | Mark::PlusMinus
                | Mark::MinusPlus
                | Mark::CenterDot
                | Mark::Times
                | Mark::Star
                | Mark::Slash
                | Mark::Divide
                | Mark::Relation(_)
                | Mark::Comma
                | Mark::Semicolon
                | Mark::Open
                | Mark::Align
                | Mark::Row
                | Mark::Gap
                | Mark::Logic(_)
                | Mark::Function(_)
                | Mark::Mid
                | Mark::Text
                | Mark::SetOperation(_)
                | Mark::Limit => true,
                Mark::Delimiter(delimiter) => delimiter.opens(),
                _ => false,
            };
        if at_operand && !(self.at > 0 && self.mark_at(self.at - 1) == Mark::Right) {
            return true;
        }
        if self.bars > 0 || matches!(self.peek_at(1), Mark::Down | Mark::Up) {
            return false;
        }
        if self.peek() == Mark::Delimiter(Delimiter::DoubleBar) {
            return true;
        }
        !(self.separator || self.bars_are_odd())
    }

    /// A bracket without what follows it.
    pub(super) fn bracket_alone(&mut self) -> Expression {
        let before = self.at;
        let opener = self.opener();
        let mut content = self.content();
        let start = content.start;
        let items = std::mem::take(&mut content.items);
        if content.invisible {
            return self.half_open(opener, content, items);
        }
        let closer = content.closer;
        if items.is_empty() && !matches!(opener, Some(Delimiter::BraceOpen)) {
            self.malformed(
                self.since(start),
                "these brackets are empty: write what belongs in them",
            );
            return self.hole();
        }
        match opener {
            Some(Delimiter::Bar | Delimiter::BarOpen) => {
                self.bars_around(items, content.rows, start)
            }
            Some(Delimiter::DoubleBar | Delimiter::DoubleBarOpen) => {
                let inside = self.collect(items, content.rows, start);
                self.unary(Operator::Function(Function::Norm), inside, start)
            }
            Some(Delimiter::FloorOpen) => {
                let inside = self.collect(items, content.rows, start);
                self.unary(Operator::Function(Function::Floor), inside, start)
            }
            Some(Delimiter::CeilingOpen) => {
                let inside = self.collect(items, content.rows, start);
                self.unary(Operator::Function(Function::Ceiling), inside, start)
            }
            Some(Delimiter::AngleOpen) => self.node(Operator::Tuple(Brackets::Angle), items, start),
            Some(Delimiter::BraceOpen) => self.set(items, content, before),
            _ => self.round_or_square(opener, closer, items, content),
        }
    }

    /// `\left\{ ... \right.` around the rows of a system, `\left. ... \right|` around a value.
    fn half_open(
        &mut self,
        opener: Option<Delimiter>,
        content: Content,
        mut items: Operands,
    ) -> Expression {
        let start = content.start;
        if opener == Some(Delimiter::BraceOpen) && items.len() == 1 {
            let inside = items.remove(0);
            return self.cases_of_matrix(inside, start);
        }
        self.collect(
            items,
            content.rows || opener == Some(Delimiter::BraceOpen),
            start,
        )
    }

    fn bars_around(&mut self, items: Operands, rows: bool, start: usize) -> Expression {
        let inside = self.collect(items, rows, start);
        let function = match inside.operator() {
            Operator::Matrix(_) => Function::Determinant,
            Operator::Set | Operator::SetBuilder | Operator::SetOperation(_) => {
                Function::Cardinality
            }
            _ => Function::Abs,
        };
        self.unary(Operator::Function(function), inside, start)
    }

    /// Braces that show: a set, or, in old arithmetic, one more kind of bracket.
    fn set(&mut self, mut items: Operands, content: Content, before: usize) -> Expression {
        let start = content.start;
        if let Some(condition) = content.condition {
            let element = self.collect(items, content.rows, start);
            return self.binary(Operator::SetBuilder, element, condition, start);
        }
        if items.is_empty() {
            return self.leaf(Operator::Constant(Constant::EmptySet), start);
        }
        let holds_brackets = self.tokens[before + 1..self.at]
            .iter()
            .any(|token| token.mark == Mark::Delimiter(Delimiter::SquareOpen));
        let after_number =
            before > 0 && matches!(self.mark_at(before - 1), Mark::Digit(_) | Mark::CenterDot);
        let is_arithmetic = items.len() == 1
            && matches!(items[0].operator(), Operator::Sum | Operator::Product)
            && (holds_brackets || after_number);
        if is_arithmetic {
            return items.remove(0);
        }
        self.node(Operator::Set, items, start)
    }

    fn round_or_square(
        &mut self,
        opener: Option<Delimiter>,
        closer: Option<Delimiter>,
        mut items: Operands,
        content: Content,
    ) -> Expression {
        let start = content.start;
        let is_mixed = matches!(
            (opener, closer),
            (Some(Delimiter::RoundOpen), Some(Delimiter::SquareClose))
                | (Some(Delimiter::SquareOpen), Some(Delimiter::RoundClose))
        );
        if let Some(condition) = content.condition {
            let event = self.collect(items, content.rows, start);
            return self.binary(Operator::Given, event, condition, start);
        }
        if content.rows {
            return self.node(Operator::System, items, start);
        }
        let ends = Ends {
            lower_closed: opener == Some(Delimiter::SquareOpen),
            upper_closed: closer == Some(Delimiter::SquareClose),
        };
        match items.len() {
            1 if is_mixed => {
                self.say_since(
                    Class::Malformed,
                    start,
                    "these brackets do not match: close with the kind that was opened, or write \
                     an interval with a comma, as in `[a, b)`",
                );
                items.remove(0)
            }
            1 => items.remove(0),
            2 if is_mixed || ends.lower_closed => self.node(Operator::Interval(ends), items, start),
            2 if items.iter().any(is_infinite) => self.node(Operator::Interval(ends), items, start),
            2 if self.follows_membership(start) => {
                let is_tuple = items.iter().any(|item| {
                    !item.operands().is_empty() && matches!(item.operator(), Operator::Relation(_))
                });
                match is_tuple {
                    true => self.node(Operator::Tuple(Brackets::Round), items, start),
                    false => self.node(Operator::Interval(ends), items, start),
                }
            }
            _ if is_mixed => {
                self.say_since(
                    Class::Malformed,
                    start,
                    "an interval has two ends: write `[a, b)`",
                );
                self.node(Operator::Tuple(Brackets::Round), items, start)
            }
            _ if ends.lower_closed => self.node(Operator::Tuple(Brackets::Square), items, start),
            _ => self.node(Operator::Tuple(Brackets::Round), items, start),
        }
    }

    /// `\in` stands right before this byte.
    fn follows_membership(&self, start: usize) -> bool {
        let before = self.tokens[..self.at]
            .iter()
            .rposition(|token| (token.start as usize) < start && token.end as usize <= start);
        before.is_some_and(|at| {
            matches!(
                self.mark_at(at),
                Mark::Relation(Relation::In | Relation::NotIn)
            )
        })
    }
}

/// Brackets that differ make a half-open interval.
fn is_interval(opener: Delimiter, closer: Delimiter) -> bool {
    matches!(
        (opener, closer),
        (Delimiter::RoundOpen, Delimiter::SquareClose)
            | (Delimiter::SquareOpen, Delimiter::RoundClose)
    )
}

fn is_infinite(expression: &Expression) -> bool {
    match expression.operator() {
        Operator::Constant(Constant::Infinity) => true,
        Operator::Negative => expression.operands().first().is_some_and(is_infinite),
        _ => false,
    }
}
