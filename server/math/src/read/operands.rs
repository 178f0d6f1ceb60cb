//! One operand: what may stand where a factor is expected, groups in braces, and the arguments of
//! TeX commands.

use super::tokens::{Delimiter, Mark};
use super::{Class, Reader};
use crate::expression::{Expression, Function, Number, Operator};

impl Reader<'_> {
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
                match self.mixed_number_follows(&number) {
                    true => self.mixed_number(number, start),
                    false => self.postfix(number, start),
                }
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
            && self.opened != before
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
                if !self.text(0..start).ends_with(['√', '∛', '∜']) {
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
}
