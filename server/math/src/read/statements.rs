//! Lists, connectives and relations.

use smallvec::{SmallVec, smallvec};

use super::tokens::{Delimiter, Mark};
use super::{Class, Reader};
use crate::expression::{Connective, Expression, Operands, Operator, Quantifier, Relation};

/// A word between formulas that says how they belong together.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Word {
    And,
    Or,
    Iff,
    Implies,
    /// A condition follows.
    If,
    /// The remaining cases.
    Otherwise,
    /// Any other text.
    Other,
    /// No word at all.
    None,
}

impl Word {
    pub(super) fn of(text: &str) -> Self {
        let text = text.trim_matches(|c: char| c.is_whitespace() || ",;:.~".contains(c));
        match text {
            "and" | "und" => Self::And,
            "or" => Self::Or,
            "iff" | "if and only if" => Self::Iff,
            "implies" | "so" | "then" | "hence" | "therefore" => Self::Implies,
            "otherwise" | "else" | "elsewhere" => Self::Otherwise,
            "if" | "for" | "when" | "where" | "whenever" | "provided" | "provided that"
            | "with" | "as" | "for all" | "such that" | "on" | "if and" | "given" | "at" => {
                Self::If
            }
            _ => Self::Other,
        }
    }
}

impl Reader<'_> {
    /// The whole formula.
    pub(super) fn formula(&mut self) -> Expression {
        let (items, rows) = self.sequence();
        debug_assert!(self.at >= self.tokens.len(), "everything is read");
        if items.is_empty() {
            let range = 0..self.tex.len();
            self.malformed(
                range.clone(),
                "this formula is empty: write one, or take it out",
            );
            return Expression::at(Operator::Hole, Operands::new(), range);
        }
        self.collect(items, rows, 0)
    }

    /// One expression out of several: a system of rows, or a list.
    pub(super) fn collect(&mut self, mut items: Operands, rows: bool, start: usize) -> Expression {
        match items.len() {
            0 => {
                let place = self.here();
                self.malformed(place, "nothing stands before this: write what is missing");
                self.hole()
            }
            1 => items.remove(0),
            _ => self.node(
                if rows {
                    Operator::System
                } else {
                    Operator::List
                },
                items,
                start,
            ),
        }
    }

    /// Formulas up to the end of the text, the cell or the bracket, and whether rows separate
    /// them.
    pub(super) fn sequence(&mut self) -> (Operands, bool) {
        let mut items = Operands::new();
        let mut rows = false;
        loop {
            self.separators(items.is_empty(), &mut rows);
            if self.at_end_of_sequence() {
                if self.nesting > 0 || self.at >= self.tokens.len() {
                    return (items, rows);
                }
                let stray = self.stray_closer();
                items.extend(stray);
                continue;
            }
            let before = self.at;
            let item = self.statement();
            items.push(item);
            if self.at == before {
                // Nothing can start here: keep it as it stands.
                let opaque = self.unreadable();
                items.pop();
                items.push(opaque);
            }
        }
    }

    /// Skips what stands between two items.
    fn separators(&mut self, first: bool, rows: &mut bool) {
        let mut commas = 0;
        loop {
            match self.peek() {
                Mark::Comma | Mark::Semicolon => {
                    commas += 1;
                    if first && commas == 1 || commas == 2 {
                        let range = self.here();
                        self.malformed(
                            range,
                            "nothing stands before this comma: write what is missing, or take it \
                             out",
                        );
                    }
                }
                Mark::Gap => {}
                Mark::Row if !self.rows => *rows = true,
                // A full stop or question mark that ends the sentence around the formula.
                Mark::Point
                    if !matches!(self.peek_at(1), Mark::Digit(_)) && self.only_closers_after(1) => {
                }
                Mark::Open if self.peek_at(1) == Mark::Close => self.advance(),
                Mark::Align if !self.rows && self.nesting == 0 => {}
                Mark::Text
                    if !first
                        && matches!(
                            self.word(),
                            Word::And | Word::Or | Word::Implies | Word::Iff
                        ) => {}
                _ => return,
            }
            self.advance();
        }
    }

    /// Nothing but the ends of brackets, cells and the text follows.
    fn only_closers_after(&self, ahead: usize) -> bool {
        matches!(
            self.peek_at(ahead),
            Mark::Eof
                | Mark::Close
                | Mark::Right
                | Mark::Row
                | Mark::Align
                | Mark::End
                | Mark::Gap
                | Mark::Text
                | Mark::Delimiter(Delimiter::RoundClose)
        )
    }

    pub(super) fn at_end_of_sequence(&self) -> bool {
        match self.peek() {
            Mark::Eof | Mark::Close | Mark::Right | Mark::End => true,
            Mark::Align => self.rows || self.nesting > 0,
            Mark::Row => self.rows,
            Mark::Delimiter(delimiter) if delimiter.closes() => true,
            Mark::Delimiter(Delimiter::Bar | Delimiter::DoubleBar) | Mark::BigBar => {
                self.bars > 0 && self.at != self.opened || self.separator && !self.bar_opens()
            }
            Mark::Mid | Mark::Middle => self.separator,
            Mark::Colon => self.separator,
            Mark::Over | Mark::Choose => true,
            _ => false,
        }
    }

    /// A closing mark that nothing has opened.
    fn stray_closer(&mut self) -> Option<Expression> {
        let start = self.start();
        let right = self.eat(Mark::Right);
        if !right || self.peek() != Mark::Eof {
            self.advance();
        }
        let range = self.since(start);
        let text = self.text(range.clone()).to_owned();
        self.malformed(
            range.clone(),
            format!("`{text}` closes nothing: take it out, or open it where it begins"),
        );
        Some(self.opaque(range))
    }

    /// A mark that cannot start anything, kept verbatim.
    fn unreadable(&mut self) -> Expression {
        let start = self.start();
        let mark = self.peek();
        self.advance();
        let range = self.since(start);
        let text = self.text(range.clone()).to_owned();
        match mark {
            Mark::Unknown => self.unsupported(
                range.clone(),
                format!(
                    "`{text}` is not known here: write the formula with standard commands, or \
                     leave it for reading only"
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
                format!("`{text}` cannot stand here: something is missing before it"),
            ),
        }
        self.opaque(range)
    }

    /// The connecting word at the next token, which is a text.
    pub(super) fn word(&self) -> Word {
        match self.tokens.get(self.at) {
            Some(token) if token.mark == Mark::Text => Word::of(self.words(token.range())),
            _ => Word::Other,
        }
    }

    /// What stands in the braces of a command such as `\text{...}`.
    pub(super) fn words(&self, range: std::ops::Range<usize>) -> &str {
        let text = self.text(range);
        // A piece of a text that holds formulas has no braces of its own.
        if !text.starts_with('\\') {
            return text;
        }
        let open = text.find('{').map_or(text.len(), |open| open + 1);
        let inside = &text[open..];
        inside.strip_suffix('}').unwrap_or(inside)
    }

    /// A statement with its connectives, or any other formula.
    pub(super) fn statement(&mut self) -> Expression {
        let start = self.start();
        let mut left = self.disjunction();
        loop {
            let connective = match self.peek() {
                Mark::Logic(
                    connective @ (Connective::Implies | Connective::ImpliedBy | Connective::Iff),
                ) => connective,
                Mark::Text => match self.word() {
                    Word::Iff => Connective::Iff,
                    Word::Implies => Connective::Implies,
                    Word::If => {
                        self.advance();
                        let condition = self.right_side(start, Self::disjunction);
                        left = self.binary(Operator::Given, left, condition, start);
                        continue;
                    }
                    _ => return left,
                },
                Mark::Quantifier(quantifier) => {
                    // `x^2 \ge 0 \quad \forall x` names its variable afterwards.
                    self.advance();
                    let binding = self.right_side(start, Self::relation);
                    let operator = Operator::Quantified(quantifier);
                    left = self.binary(operator, binding, left, start);
                    continue;
                }
                Mark::Gap if matches!(self.mark_after_gaps(), Mark::Logic(_)) => {
                    self.skip_gaps();
                    continue;
                }
                Mark::Gap
                    if self.mark_after_gaps() == Mark::Text
                        && self.word_after_gaps() == Word::If =>
                {
                    self.skip_gaps();
                    continue;
                }
                _ => return left,
            };
            let mut operands: Operands = smallvec![left];
            while self.at_connective(connective, word_of(connective)) {
                self.advance();
                self.skip_gaps();
                let right = self.right_side(start, Self::disjunction);
                operands.push(right);
            }
            left = self.node(Operator::Logic(connective), operands, start);
        }
    }

    fn skip_gaps(&mut self) {
        while self.peek() == Mark::Gap {
            self.advance();
        }
    }

    pub(super) fn mark_after_gaps(&self) -> Mark {
        let mut ahead = 0;
        while self.peek_at(ahead) == Mark::Gap {
            ahead += 1;
        }
        self.peek_at(ahead)
    }

    fn word_after_gaps(&self) -> Word {
        let mut at = self.at;
        while self.mark_at(at) == Mark::Gap {
            at += 1;
        }
        match self.tokens.get(at) {
            Some(token) if token.mark == Mark::Text => Word::of(self.words(token.range())),
            _ => Word::Other,
        }
    }

    /// What must follow a sign; a hole and a word about it if nothing does.
    fn right_side(
        &mut self,
        start: usize,
        read: impl FnOnce(&mut Self) -> Expression,
    ) -> Expression {
        if self.at_end_of_sequence() || matches!(self.peek(), Mark::Comma | Mark::Semicolon) {
            let sign = self.at.saturating_sub(1);
            let range = self
                .tokens
                .get(sign)
                .map_or(start..start, |token| token.range());
            let text = self.text(range.clone()).to_owned();
            self.malformed(
                range,
                format!("nothing stands after `{text}`: write what belongs there"),
            );
            return self.hole();
        }
        read(self)
    }

    // The common case, a relation alone, passes through as few calls as can be: the depth of the
    // stack limits how deep formulas nest.
    fn disjunction(&mut self) -> Expression {
        let start = self.start();
        let first = match self.peek() {
            Mark::Logic(Connective::Not) | Mark::Quantifier(_) => self.quantified(),
            _ => self.relation(),
        };
        match self.peek() {
            Mark::Logic(_) | Mark::Text | Mark::Gap => self.disjunction_after(first, start),
            _ => first,
        }
    }

    fn disjunction_after(&mut self, first: Expression, start: usize) -> Expression {
        let first = self.conjunction_after(first, start);
        if !self.at_connective(Connective::Or, Word::Or) {
            return first;
        }
        let mut operands: Operands = smallvec![first];
        while self.at_connective(Connective::Or, Word::Or) {
            self.advance();
            self.skip_gaps();
            let begin = self.start();
            let operand = self.right_side(start, Self::quantified);
            operands.push(self.conjunction_after(operand, begin));
        }
        self.node(Operator::Logic(Connective::Or), operands, start)
    }

    fn conjunction_after(&mut self, first: Expression, start: usize) -> Expression {
        if !self.at_connective(Connective::And, Word::And) {
            return first;
        }
        let mut operands: Operands = smallvec![first];
        while self.at_connective(Connective::And, Word::And) {
            self.advance();
            self.skip_gaps();
            let operand = self.right_side(start, Self::quantified);
            operands.push(operand);
        }
        self.node(Operator::Logic(Connective::And), operands, start)
    }

    fn at_connective(&mut self, connective: Connective, word: Word) -> bool {
        if self.peek() == Mark::Gap
            && (self.mark_after_gaps() == Mark::Logic(connective)
                || self.mark_after_gaps() == Mark::Text && self.word_after_gaps() == word)
        {
            self.skip_gaps();
        }
        match self.peek() {
            Mark::Logic(found) => found == connective,
            Mark::Text => self.word() == word,
            _ => false,
        }
    }

    fn quantified(&mut self) -> Expression {
        match self.peek() {
            Mark::Logic(Connective::Not) => {
                let start = self.start();
                self.advance();
                self.deeper(|reader| {
                    let operand = reader.right_side(start, Self::quantified);
                    reader.unary(Operator::Logic(Connective::Not), operand, start)
                })
            }
            Mark::Quantifier(quantifier) => self.deeper(|reader| reader.quantifier(quantifier)),
            _ => self.relation(),
        }
    }

    fn quantifier(&mut self, mut quantifier: Quantifier) -> Expression {
        let start = self.start();
        self.advance();
        if quantifier == Quantifier::Exists && self.eat(Mark::Bang) {
            quantifier = Quantifier::ExistsUnique;
        }
        let separator = std::mem::replace(&mut self.separator, true);
        let binding = self.right_side(start, Self::relation);
        self.separator = separator;
        let mut separated = false;
        while matches!(
            self.peek(),
            Mark::Comma | Mark::Colon | Mark::Gap | Mark::Mid
        ) || self.peek() == Mark::Text && self.word() == Word::If
        {
            self.advance();
            separated = true;
        }
        let is_nested = matches!(self.peek(), Mark::Quantifier(_));
        if !separated && !is_nested && !self.starts_factor() {
            let range = self.since(start);
            self.malformed(
                range,
                "this says for which values, but not what holds: write the statement after a \
                 comma",
            );
            let hole = self.hole();
            return self.binary(Operator::Quantified(quantifier), binding, hole, start);
        }
        // What is quantified reaches as far as it can.
        let statement = self.right_side(start, Self::statement);
        self.binary(Operator::Quantified(quantifier), binding, statement, start)
    }

    /// Sides with relations between them.
    pub(super) fn relation(&mut self) -> Expression {
        let start = self.start();
        let first = if self.relation_sign().is_some() {
            let range = self.here();
            let text = self.text(range.clone()).to_owned();
            self.malformed(
                range,
                format!("nothing stands before `{text}`: write the left side"),
            );
            self.hole()
        } else {
            self.side()
        };
        if self.relation_sign().is_none() {
            return self.modulus(first, start);
        }
        let mut sides: Operands = smallvec![first];
        let mut signs: SmallVec<[Relation; 2]> = SmallVec::new();
        while let Some((sign, length)) = self.relation_sign() {
            self.at += length;
            signs.push(sign);
            // `a_n \to \infty \quad (n \to \infty)`: a gap never stands inside a relation.
            let side = self.right_side(start, Self::side);
            sides.push(side);
        }
        let relation = self.node(Operator::Relation(signs), sides, start);
        self.modulus(relation, start)
    }

    /// `\pmod n` after a statement.
    fn modulus(&mut self, statement: Expression, start: usize) -> Expression {
        if self.peek() == Mark::Gap && self.mark_after_gaps() == Mark::Modulus {
            self.skip_gaps();
        }
        if !self.eat(Mark::Modulus) {
            return statement;
        }
        let modulus = self.argument("\\pmod", "the modulus", r"\pmod{n}");
        self.binary(Operator::Modulo, statement, modulus, start)
    }

    /// The relation at the next tokens, and how many they are.
    pub(super) fn relation_sign(&self) -> Option<(Relation, usize)> {
        match self.peek() {
            Mark::Relation(relation) => Some((relation, 1)),
            Mark::Not => match self.peek_at(1) {
                Mark::Relation(relation) => Some((negated(relation)?, 2)),
                Mark::Mid => Some((Relation::DoesNotDivide, 2)),
                _ => None,
            },
            Mark::Mid if !self.separator => Some((Relation::Divides, 1)),
            Mark::Delimiter(Delimiter::Bar)
                if self.bars == 0
                    && !self.separator
                    && self.peek_at(1) != Mark::Down
                    && self.bars_are_odd() =>
            {
                Some((Relation::Divides, 1))
            }
            Mark::Colon if !self.separator && self.colon_is_relation() => {
                Some((Relation::Colon, 1))
            }
            _ => None,
        }
    }

    /// The colon at the next token introduces a map such as `f : A \to B`.
    fn colon_is_relation(&self) -> bool {
        self.tokens[self.at + 1..]
            .iter()
            .take_while(|token| {
                !matches!(
                    token.mark,
                    Mark::Comma | Mark::Colon | Mark::Row | Mark::Gap
                )
            })
            .take(64)
            .any(|token| matches!(token.mark, Mark::Relation(Relation::To | Relation::MapsTo)))
    }

    /// One side of a relation: a sum, or sums with colons between them.
    fn side(&mut self) -> Expression {
        let start = self.start();
        let first = self.sum();
        match self.peek() {
            Mark::Colon => self.ratio_after(first, start),
            _ => first,
        }
    }

    fn ratio_after(&mut self, first: Expression, start: usize) -> Expression {
        let is_ratio =
            |reader: &Self| reader.peek() == Mark::Colon && reader.relation_sign().is_none();
        if self.separator || !is_ratio(self) {
            return first;
        }
        let mut terms: Operands = smallvec![first];
        while is_ratio(self) {
            self.advance();
            let term = self.right_side(start, Self::sum);
            terms.push(term);
        }
        self.node(Operator::Ratio, terms, start)
    }

    /// Reports a class of fault about the last tokens read.
    pub(super) fn say_since(&mut self, class: Class, start: usize, message: &str) {
        let range = self.since(start);
        self.say(class, range, message.to_owned());
    }
}

/// The word that stands for a connective.
fn word_of(connective: Connective) -> Word {
    match connective {
        Connective::And => Word::And,
        Connective::Or => Word::Or,
        Connective::Iff => Word::Iff,
        Connective::Implies => Word::Implies,
        Connective::ImpliedBy | Connective::Not => Word::None,
    }
}

fn negated(relation: Relation) -> Option<Relation> {
    Some(match relation {
        Relation::Equal => Relation::NotEqual,
        Relation::In => Relation::NotIn,
        Relation::Subset | Relation::SubsetOrEqual => Relation::NotSubset,
        Relation::Divides => Relation::DoesNotDivide,
        Relation::Less => Relation::GreaterOrEqual,
        Relation::Greater => Relation::LessOrEqual,
        Relation::LessOrEqual => Relation::Greater,
        Relation::GreaterOrEqual => Relation::Less,
        _ => return None,
    })
}
