//! How is a shape written?

use std::collections::BTreeSet;
use std::ops::Range;

use super::conditions::{Condition, Predicate, Subject};
use super::template::Template;
use super::written::Written;
use super::{Shape, WordConditions};
use crate::expression::{Constant, Expression, Operator, Relation, Symbol};
use crate::problem::instructions_in;
use crate::read::{Class, Declared, Diagnostic};
use crate::views::Basic;

/// Reads `$template$ where condition; condition`. Never fails; the diagnostics' ranges are bytes
/// of `text`.
pub fn read(text: &str) -> (Shape, Vec<Diagnostic>) {
    let mut reader = Reader {
        text,
        diagnostics: Vec::new(),
        asks: BTreeSet::new(),
        refuses: BTreeSet::new(),
        written: Vec::new(),
    };
    let (template, conditions) = reader.shape();
    let words = WordConditions {
        asks: reader.asks,
        refuses: reader.refuses,
        written: reader.written,
    };
    let shape = Shape::new(text, template, conditions, words);
    reader
        .diagnostics
        .sort_by_key(|diagnostic| diagnostic.range.start);
    (shape, reader.diagnostics)
}

struct Reader<'t> {
    text: &'t str,
    diagnostics: Vec<Diagnostic>,
    asks: BTreeSet<&'static str>,
    refuses: BTreeSet<&'static str>,
    written: Vec<Written>,
}

/// What a condition may say, for messages.
const KNOWN: &str = "a number, an integer, positive, 0, linear in x, a polynomial in x of degree \
                     1 .. 3, a perfect square, a power of b, a sum of powers of x, a sum of basic \
                     functions of x, a sum of basic integrands in x, an exponential polynomial in x, a product of different \
                     factors in x";

impl<'t> Reader<'t> {
    fn say(&mut self, range: Range<usize>, message: String) {
        self.diagnostics.push(Diagnostic {
            range,
            message,
            class: Class::Malformed,
        });
    }

    fn slice(&self, range: &Range<usize>) -> &'t str {
        self.text.get(range.clone()).unwrap_or_default()
    }

    /// The range without the spaces at both ends.
    fn trimmed(&self, range: Range<usize>) -> Range<usize> {
        let slice = self.slice(&range);
        let start = range.start + (slice.len() - slice.trim_start().len());
        start..start + slice.trim().len()
    }

    fn shape(&mut self) -> (Option<Template>, Vec<Condition>) {
        let all = self.trimmed(0..self.text.len());
        if is_about_problem(self.slice(&all)) {
            // Some kinds of problem are known by the words alone.
            for part in split(self.text, all, |c| c == ';') {
                let part = self.trimmed(part);
                if !part.is_empty() {
                    self.about_problem(part);
                }
            }
            return (None, Vec::new());
        }
        let Some(open) = find(self.text, 0, '$') else {
            let message = "a shape starts with a formula between dollar signs, such as \
                           $a x + b = 0$ where a, b are numbers"
                .to_owned();
            self.say(all, message);
            return (None, Vec::new());
        };
        let before = self.trimmed(0..open);
        if !before.is_empty() {
            let found = self.slice(&before);
            let message = format!(
                "`{found}` stands before the formula of the shape, where nothing is expected: \
                 start with the formula"
            );
            self.say(before, message);
        }
        let signs = if self.text[open..].starts_with("$$") {
            2
        } else {
            1
        };
        let start = open + signs;
        let Some(close) = find(self.text, start, '$') else {
            let message = "the formula of the shape has no closing dollar sign".to_owned();
            self.say(open..all.end, message);
            return (None, Vec::new());
        };
        let rest = self.trimmed(close + signs.min(self.text.len() - close)..self.text.len());
        let conditions = self.conditions(rest);
        let tex = start..close;
        let template = self.template(tex, &conditions);
        self.check_letters(&template, &conditions);
        let conditions: Vec<Condition> = conditions.into_iter().map(|(c, _)| c).collect();
        match template {
            Some(template) => {
                let (template, conditions) = Template::new(template, conditions);
                (Some(template), conditions)
            }
            None => (None, conditions),
        }
    }

    /// "asks for a tangent line", "asks to factor": what the words of a problem say; "the formula
    /// contains a root": how it is written.
    fn about_problem(&mut self, range: Range<usize>) {
        let found = self.slice(&range).trim_end_matches('.');
        if Written::is_one(found) {
            match Written::read(found) {
                Ok(written) => self.written.push(written),
                Err(unknown) => {
                    let message = format!(
                        "`{unknown}` is nothing that can be said of how a formula is written; it \
                         may contain, or be: {}",
                        Written::known()
                    );
                    self.say(range, message);
                }
            }
            return;
        }
        if !asks(found) && !refuses(found) {
            let message = format!(
                "`{found}` speaks of a letter, and the shape has no formula: start with one"
            );
            self.say(range, message);
            return;
        }
        let instructions = instructions_in(found);
        if instructions.is_empty() {
            let message = format!(
                "`{found}` names nothing that the words of a problem are known to ask; write it \
                 as a textbook does, such as `asks to factor` or `asks for the tangent line`"
            );
            self.say(range, message);
        }
        match refuses(found) {
            true => self.refuses.extend(instructions),
            false => self.asks.extend(instructions),
        }
    }

    fn template(
        &mut self,
        tex: Range<usize>,
        conditions: &[(Condition, Range<usize>)],
    ) -> Option<Expression> {
        if self.slice(&tex).trim().is_empty() {
            self.say(
                tex.start - 1..tex.end + 1,
                "the formula of the shape is empty".to_owned(),
            );
            return None;
        }
        // A letter that a condition speaks of is a hole, also if authors use it for a constant.
        let names: Vec<String> = conditions
            .iter()
            .flat_map(|(condition, _)| condition.expressions())
            .flat_map(Expression::free_symbols)
            .map(|symbol| symbol.name().to_owned())
            .collect();
        let mut declared = Declared::new().variables(names.iter().map(String::as_str));
        let first = crate::read(self.slice(&tex), &declared);
        declared.learn(&first.expression);
        let reading = crate::read(self.slice(&tex), &declared);
        let is_sound = reading
            .diagnostics
            .iter()
            .all(|diagnostic| diagnostic.class == Class::Ambiguous);
        for diagnostic in reading.diagnostics {
            let range = diagnostic.range.start + tex.start..diagnostic.range.end + tex.start;
            self.diagnostics.push(Diagnostic {
                range,
                ..diagnostic
            });
        }
        (is_sound && !reading.expression.has_gap()).then_some(reading.expression)
    }

    /// Every letter that a condition speaks of must occur in the formula; those that something
    /// depends on need not.
    fn check_letters(
        &mut self,
        template: &Option<Expression>,
        conditions: &[(Condition, Range<usize>)],
    ) {
        let Some(template) = template else { return };
        let mut letters = template.free_symbols();
        letters.extend(template.parts().filter_map(Expression::as_symbol).cloned());
        for (condition, range) in conditions {
            if let Condition::Is { predicate, .. } = condition {
                match predicate {
                    Predicate::DependsOn(by) | Predicate::DependsOnlyOn(by) => {
                        letters.extend(by.iter().cloned());
                    }
                    Predicate::Polynomial { letter, .. }
                    | Predicate::SumOfBasic { letter, .. }
                    | Predicate::SeveralFactors(letter)
                    | Predicate::ExponentialPolynomial(letter) => {
                        letters.insert(letter.clone());
                    }
                    _ => {}
                }
            }
            for symbol in condition
                .expressions()
                .into_iter()
                .flat_map(Expression::free_symbols)
            {
                if !letters.contains(&symbol) {
                    let message = format!(
                        "`{symbol:?}` does not occur in the formula of the shape: name a letter \
                         of the formula"
                    );
                    self.say(range.clone(), message);
                    letters.insert(symbol);
                }
            }
        }
    }

    fn conditions(&mut self, rest: Range<usize>) -> Vec<(Condition, Range<usize>)> {
        let slice = self.slice(&rest);
        if slice.is_empty() {
            return Vec::new();
        }
        let word = slice
            .find(|c: char| !c.is_alphabetic())
            .unwrap_or(slice.len());
        let introduction = &slice[..word];
        let start = match introduction.to_lowercase().as_str() {
            "where" | "with" | "if" | "when" => rest.start + word,
            _ => {
                let found = first_words(slice);
                let message = format!(
                    "`{found}` follows the formula of the shape, where only conditions are \
                     expected: write `where` before them"
                );
                self.say(rest.start..rest.start + found.len(), message);
                return Vec::new();
            }
        };
        let mut conditions = Vec::new();
        for part in split(self.text, start..rest.end, |c| c == ';') {
            let part = self.trimmed(part);
            let mut part = part;
            while self.slice(&part).ends_with('.') {
                part = self.trimmed(part.start..part.end - 1);
            }
            if part.is_empty() {
                continue;
            }
            match is_about_problem(self.slice(&part)) {
                true => self.about_problem(part),
                false => self.condition(part, &mut conditions),
            }
        }
        conditions
    }

    /// Reads one condition; "f at a is 0 and g at a is 0" gives two.
    fn condition(&mut self, range: Range<usize>, found: &mut Vec<(Condition, Range<usize>)>) {
        let words = words(self.text, range.clone());
        let verb = words.iter().position(|word| {
            matches!(
                &self.text[word.clone()],
                "is" | "are" | "depends" | "depend" | "does" | "do"
            )
        });
        let Some(verb) = verb else {
            if let Some(condition) = self.comparison(&range) {
                found.push((condition, range));
            }
            return;
        };
        // A second verb after an "and" starts another condition.
        let second = words
            .iter()
            .enumerate()
            .skip(verb + 1)
            .find(|(place, word)| {
                &self.text[(*word).clone()] == "and"
                    && words[*place..].iter().any(|word| {
                        matches!(
                            &self.text[word.clone()],
                            "is" | "are" | "depends" | "depend" | "does" | "do"
                        )
                    })
            });
        let end = match second {
            Some((_, and)) => {
                let rest = self.trimmed(and.end..range.end);
                let end = self.trimmed(range.start..and.start).end;
                self.condition(rest, found);
                end
            }
            None => range.end,
        };
        let range = range.start..end;
        let subjects = self.trimmed(range.start..words[verb].start);
        let subjects = self.subjects(subjects, &range);
        let said = match &self.text[words[verb].clone()] {
            "is" | "are" => words[verb].end,
            // "depends on" and "does not depend on" are read with their verb.
            _ => words[verb].start,
        };
        let said = self.trimmed(said..range.end);
        if let Some(subjects) = subjects
            && let Some(condition) = self.said(said, subjects)
        {
            found.push((condition, range));
        }
    }

    fn comparison(&mut self, range: &Range<usize>) -> Option<Condition> {
        let expression = self.formula(range.clone())?;
        match expression.operator() {
            Operator::Relation(relations) => Some(Condition::Compare {
                sides: expression.operands().to_vec(),
                relations: relations.to_vec(),
            }),
            _ => {
                let found = self.slice(range);
                let message = format!(
                    "`{found}` is no condition: say what a letter is or is not ({KNOWN}), what it \
                     depends on, or compare two numbers"
                );
                self.say(range.clone(), message);
                None
            }
        }
    }

    /// The formula in a range of the text, with or without dollar signs.
    fn formula(&mut self, range: Range<usize>) -> Option<Expression> {
        let mut range = self.trimmed(range);
        let slice = self.slice(&range);
        if slice.len() >= 2 && slice.starts_with('$') && slice.ends_with('$') {
            range = self.trimmed(range.start + 1..range.end - 1);
        }
        // In conditions a letter is a letter, and never a function.
        let letters: Vec<String> = self
            .slice(&range)
            .chars()
            .filter(|c| c.is_alphabetic())
            .map(String::from)
            .collect();
        let declared = Declared::new().variables(letters.iter().map(String::as_str));
        let source = self
            .slice(&range)
            .replace("<=", r"\le ")
            .replace(">=", r"\ge ");
        let source = source.replace("!=", r"\ne ");
        let is_same = source.len() == range.len();
        let reading = crate::read(&source, &declared);
        let fault = reading
            .diagnostics
            .into_iter()
            .find(|diagnostic| diagnostic.class != Class::Ambiguous);
        if let Some(fault) = fault {
            let at = match is_same {
                true => fault.range.start + range.start..fault.range.end + range.start,
                false => range,
            };
            self.diagnostics.push(Diagnostic { range: at, ..fault });
            return None;
        }
        (!reading.expression.has_gap()).then_some(reading.expression)
    }

    /// "a, b and f at c": what a condition speaks of.
    fn subjects(&mut self, range: Range<usize>, whole: &Range<usize>) -> Option<Vec<Subject>> {
        if range.is_empty() {
            let message = "this condition does not say what it speaks of: start with a letter of \
                           the formula"
                .to_owned();
            self.say(whole.clone(), message);
            return None;
        }
        let mut subjects = Vec::new();
        for part in split(self.text, range, |c| c == ',') {
            for part in self.split_at_word(part, "and") {
                let part = self.trimmed(part);
                if part.is_empty() {
                    continue;
                }
                let mut pieces = self.split_at_word(part, "at").into_iter();
                let subject = pieces.next()?;
                let expression = self.formula(subject)?;
                let at = match pieces.next() {
                    Some(point) => Some(self.formula(point)?),
                    None => None,
                };
                subjects.push(Subject { expression, at });
            }
        }
        (!subjects.is_empty()).then_some(subjects)
    }

    fn split_at_word(&self, range: Range<usize>, word: &str) -> Vec<Range<usize>> {
        let mut parts = Vec::new();
        let mut start = range.start;
        for found in words(self.text, range.clone()) {
            if &self.text[found.clone()] == word {
                parts.push(start..found.start);
                start = found.end;
            }
        }
        parts.push(start..range.end);
        parts
    }

    /// What is said of the subjects: the words after "is".
    fn said(&mut self, range: Range<usize>, subjects: Vec<Subject>) -> Option<Condition> {
        let all: Vec<Range<usize>> = words(self.text, range.clone());
        let mut at = 0;
        let mut negated = false;
        if let ["does" | "do", "not", ..] | ["not", ..] = self.words_from(&all, 0).as_slice() {
            negated = true;
            at = match &self.text[all[0].clone()] {
                "not" => 1,
                _ => 2,
            };
        }
        while let Some("a" | "an" | "the" | "any") = self.words_from(&all, at).first().copied() {
            // `a` may also be a letter of the formula: "b is a" and "b is a + 1".
            let is_letter = &self.text[all[at].clone()] == "a"
                && self
                    .words_from(&all, at + 1)
                    .first()
                    .is_none_or(|word| !word.chars().next().is_some_and(char::is_alphabetic));
            if is_letter {
                break;
            }
            at += 1;
        }
        let words = self.words_from(&all, at);
        let rest_from = |count: usize| {
            let start = all.get(at + count).map_or(range.end, |word| word.start);
            start..range.end
        };
        let predicate = match words.as_slice() {
            ["number" | "numbers" | "constant" | "constants"] => Predicate::Number,
            ["real", "number" | "numbers"] => Predicate::Number,
            ["integer" | "integers"] | ["whole"] | ["whole", "number" | "numbers"] => {
                Predicate::Integer
            }
            ["rational"] | ["rational", "number" | "numbers"] => Predicate::Rational,
            ["positive"] | ["positive", "number" | "numbers"] => Predicate::Positive,
            ["negative"] | ["negative", "number" | "numbers"] => Predicate::Negative,
            ["nonzero"] | ["non-zero"] => {
                negated = !negated;
                Predicate::Equals(Expression::integer(0))
            }
            ["zero"] => Predicate::Equals(Expression::integer(0)),
            ["even"] => Predicate::Even,
            ["odd"] => Predicate::Odd,
            ["infinite"] | ["infinity"] | ["unbounded"] => Predicate::Infinite,
            ["infinite" | "unbounded", "between", _, ..] => {
                let [low, high] = self.split_at_word(rest_from(2), "and").try_into().ok()?;
                Predicate::InfiniteBetween(self.formula(low)?, self.formula(high)?)
            }
            ["expression" | "expressions" | "function" | "functions"] => Predicate::Anything,
            ["perfect", "square" | "squares"] | ["square" | "squares"] => Predicate::PerfectSquare,
            ["perfect", "cube" | "cubes"] => Predicate::PerfectCube,
            ["power" | "powers", "of", _, ..] => Predicate::PowerOf(self.formula(rest_from(2))?),
            ["linear", "in", _] => self.polynomial(rest_from(2), 1, Some(1))?,
            ["quadratic", "in", _] => self.polynomial(rest_from(2), 2, Some(2))?,
            ["cubic", "in", _] => self.polynomial(rest_from(2), 3, Some(3))?,
            ["exponential", "polynomial" | "polynomials", "in", letter] => {
                Predicate::ExponentialPolynomial(self.letter(letter, &all[at + 3])?)
            }
            ["sum" | "sums", "of", "powers", "of", letter] => Predicate::SumOfBasic {
                letter: self.letter(letter, &all[at + 4])?,
                functions: Basic::Powers,
            },
            ["sum" | "sums", "of", "basic", "functions", "of", letter] => Predicate::SumOfBasic {
                letter: self.letter(letter, &all[at + 5])?,
                functions: Basic::Derivatives,
            },
            ["sum" | "sums", "of", "basic", "integrands", "in", letter] => Predicate::SumOfBasic {
                letter: self.letter(letter, &all[at + 5])?,
                functions: Basic::Integrals,
            },
            [
                "product" | "products",
                "of",
                "different",
                "factors",
                "in",
                letter,
            ] => Predicate::SeveralFactors(self.letter(letter, &all[at + 5])?),
            ["polynomial" | "polynomials", "in", letter, degree @ ..] => {
                let letter = self.letter(letter, &all[at + 2])?;
                let (low, high) = self.degrees(degree, &rest_from(3))?;
                Predicate::Polynomial { letter, low, high }
            }
            ["function" | "functions", "of", ..] => {
                Predicate::DependsOnlyOn(self.letters(rest_from(2))?)
            }
            ["free" | "independent", "of", ..] => {
                negated = !negated;
                Predicate::DependsOn(self.letters(rest_from(2))?)
            }
            ["depends" | "depend", "only", "on", ..] => {
                Predicate::DependsOnlyOn(self.letters(rest_from(3))?)
            }
            ["depends" | "depend", "on", ..] => Predicate::DependsOn(self.letters(rest_from(2))?),
            ["different"] | ["distinct"] | ["different", "numbers"] | ["distinct", "numbers"] => {
                let expressions = subjects.into_iter().map(|s| s.expression).collect();
                return Some(Condition::Different(expressions));
            }
            ["equal", "to", _, ..] => Predicate::Equals(self.formula(rest_from(2))?),
            ["greater" | "larger" | "more", "than", _, ..] => {
                return self.compared(subjects, Relation::Greater, negated, rest_from(2));
            }
            ["less" | "smaller", "than", _, ..] => {
                return self.compared(subjects, Relation::Less, negated, rest_from(2));
            }
            ["at", "least", _, ..] => {
                return self.compared(subjects, Relation::GreaterOrEqual, negated, rest_from(2));
            }
            ["at", "most", _, ..] => {
                return self.compared(subjects, Relation::LessOrEqual, negated, rest_from(2));
            }
            words => {
                let is_formula = words.iter().all(|word| {
                    word.starts_with(['\\', '$'])
                        || word.chars().count() <= 1
                        || !word.chars().all(char::is_alphabetic)
                });
                let said = self.trimmed(rest_from(0));
                if said.is_empty() || !is_formula {
                    let found = self.slice(&range);
                    let message = format!(
                        "`{found}` is nothing that a condition can say; it can say: {KNOWN}, or \
                         what a letter depends on"
                    );
                    let range = if range.is_empty() {
                        range.start.saturating_sub(2)..range.end
                    } else {
                        range
                    };
                    self.say(range, message);
                    return None;
                }
                let value = self.formula(said)?;
                match value.as_constant() {
                    Some(Constant::Infinity) => Predicate::Infinite,
                    _ => Predicate::Equals(value),
                }
            }
        };
        Some(Condition::Is {
            subjects,
            negated,
            predicate,
        })
    }

    fn compared(
        &mut self,
        subjects: Vec<Subject>,
        relation: Relation,
        negated: bool,
        rest: Range<usize>,
    ) -> Option<Condition> {
        let bound = self.formula(rest.clone())?;
        let opposite = match relation {
            Relation::Greater => Relation::LessOrEqual,
            Relation::Less => Relation::GreaterOrEqual,
            Relation::GreaterOrEqual => Relation::Less,
            _ => Relation::Greater,
        };
        let relation = if negated { opposite } else { relation };
        match subjects.as_slice() {
            [
                Subject {
                    expression,
                    at: None,
                },
            ] => Some(Condition::Compare {
                sides: vec![expression.clone(), bound],
                relations: vec![relation],
            }),
            _ => {
                let message =
                    "compare one number at a time, each in a condition of its own".to_owned();
                self.say(rest, message);
                None
            }
        }
    }

    fn words_from(&self, all: &[Range<usize>], from: usize) -> Vec<&'t str> {
        all.get(from..)
            .unwrap_or_default()
            .iter()
            .map(|word| &self.text[word.clone()])
            .collect()
    }

    fn polynomial(
        &mut self,
        range: Range<usize>,
        low: u32,
        high: Option<u32>,
    ) -> Option<Predicate> {
        let range = self.trimmed(range);
        let letter = self.letter(self.slice(&range), &range)?;
        Some(Predicate::Polynomial { letter, low, high })
    }

    fn letter(&mut self, word: &str, range: &Range<usize>) -> Option<Symbol> {
        let expression = self.formula(range.clone())?;
        match expression.as_symbol() {
            Some(symbol) => Some(symbol.clone()),
            None => {
                self.say(
                    range.clone(),
                    format!("`{word}` is not a letter: name one, such as x"),
                );
                None
            }
        }
    }

    fn letters(&mut self, range: Range<usize>) -> Option<Vec<Symbol>> {
        let mut letters = Vec::new();
        for part in split(self.text, range.clone(), |c| c == ',') {
            for part in self.split_at_word(part, "and") {
                let part = self.trimmed(part);
                if !part.is_empty() {
                    letters.push(self.letter(self.slice(&part), &part)?);
                }
            }
        }
        if letters.is_empty() {
            self.say(
                range,
                "say which letter it depends on, such as x".to_owned(),
            );
            return None;
        }
        Some(letters)
    }

    /// "of degree 2", "of degree 1 .. 4", "of degree at most 3".
    fn degrees(&mut self, words: &[&str], range: &Range<usize>) -> Option<(u32, Option<u32>)> {
        let number = |word: &str| word.parse::<u32>().ok();
        let degrees = match words {
            [] => Some((0, None)),
            ["of", "degree", one] => match one.split_once("..") {
                Some((low, high)) => number(low).zip(number(high)).map(|(l, h)| (l, Some(h))),
                None => number(one).map(|degree| (degree, Some(degree))),
            },
            ["of", "degree", low, "..", high] | ["of", "degree", low, "to", high] => number(low)
                .zip(number(high))
                .map(|(low, high)| (low, Some(high))),
            ["of", "degree", "at", "most", high] => number(high).map(|high| (0, Some(high))),
            ["of", "degree", "at", "least", low] => number(low).map(|low| (low, None)),
            _ => None,
        };
        match degrees {
            Some((low, Some(high))) if low > high => {
                let message = format!("the degrees {low} .. {high} run backwards");
                self.say(range.clone(), message);
                None
            }
            Some(degrees) => Some(degrees),
            None => {
                let found = self.slice(range);
                let message =
                    format!("`{found}` is no degree: write `of degree 2` or `of degree 1 .. 4`");
                self.say(range.clone(), message);
                None
            }
        }
    }
}

/// A condition on the problem itself, not on what fills a hole.
fn is_about_problem(condition: &str) -> bool {
    asks(condition) || refuses(condition) || Written::is_one(condition)
}

/// A condition on what the words of a problem do not say.
fn refuses(condition: &str) -> bool {
    let mut words = condition.split_whitespace();
    words.next() == Some("does")
        && words.next() == Some("not")
        && words.next() == Some("ask")
        && matches!(words.next(), Some("to" | "for" | "about"))
}

/// A condition on the words of a problem.
fn asks(condition: &str) -> bool {
    let mut words = condition.split_whitespace();
    words.next() == Some("asks") && matches!(words.next(), Some("to" | "for" | "about"))
}

/// The place of a character that is not escaped.
fn find(text: &str, from: usize, wanted: char) -> Option<usize> {
    let mut escaped = false;
    for (place, c) in text.get(from..)?.char_indices() {
        if c == wanted && !escaped {
            return Some(from + place);
        }
        escaped = c == '\\' && !escaped;
    }
    None
}

/// The parts of a range between separators that stand outside dollar signs, brackets and braces.
fn split(
    text: &str,
    range: Range<usize>,
    is_separator: impl Fn(char) -> bool,
) -> Vec<Range<usize>> {
    let mut parts = Vec::new();
    let mut start = range.start;
    let mut depth = 0_i32;
    let mut in_formula = false;
    for (place, c) in text[range.clone()].char_indices() {
        let place = range.start + place;
        match c {
            '$' => in_formula = !in_formula,
            '(' | '[' | '{' => depth += 1,
            ')' | ']' | '}' => depth -= 1,
            _ if is_separator(c) && depth <= 0 && !in_formula => {
                parts.push(start..place);
                start = place + c.len_utf8();
            }
            _ => {}
        }
    }
    parts.push(start..range.end);
    parts
}

/// The words of a range; a formula between dollar signs is one word.
fn words(text: &str, range: Range<usize>) -> Vec<Range<usize>> {
    let mut words = Vec::new();
    let mut start: Option<usize> = None;
    let mut in_formula = false;
    for (place, c) in text[range.clone()].char_indices() {
        let place = range.start + place;
        if c == '$' {
            in_formula = !in_formula;
        }
        let ends = (c.is_whitespace() || c == ',') && !in_formula;
        match (ends, start) {
            (true, Some(from)) => {
                words.push(from..place);
                start = None;
            }
            (false, None) => start = Some(place),
            _ => {}
        }
    }
    words.extend(start.map(|from| from..range.end));
    words
}

fn first_words(text: &str) -> &str {
    let end = text
        .char_indices()
        .filter(|(_, c)| c.is_whitespace())
        .nth(1)
        .map_or(text.len(), |(place, _)| place);
    &text[..end]
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The shape's text, with carets below what each diagnostic is about and its message.
    fn check(text: &str) -> String {
        let (_, diagnostics) = read(text);
        let mut shown = text.to_owned();
        for Diagnostic { range, message, .. } in diagnostics {
            let before = text[..range.start].chars().count();
            let width = text[range].chars().count().max(1);
            shown += &format!("\n{}{} {message}", " ".repeat(before), "^".repeat(width));
        }
        shown
    }

    fn check_fine(text: &str) {
        assert_eq!(check(text), text);
        assert!(read(text).0.template().is_some());
    }

    #[test]
    fn reads_conditions_in_words() {
        check_fine("$a x + b = 0$");
        check_fine("$a x + b = 0$ where a, b are numbers; a is not 0");
        check_fine("$y' = f g$ where f depends only on x; g depends on y; f does not depend on y");
        check_fine(
            "$u^n$ where u is a polynomial in x of degree 1 .. 4; n is an integer; n is even",
        );
        check_fine("$u$ where u is a polynomial in x of degree at most 3 and u at 2 is 0");
        check_fine(
            "$a x^2 + b x + c = 0$ where $b^2 - 4 a c$ is a perfect square; a, b, c are different",
        );
        check_fine(r"$\lim_{x \to a} \frac{f}{g}$ where f at a is infinite; g at a is not 0");
        check_fine(
            "$b^x = c$ where c is a power of b; b > 1; c >= 1; 0 < c < 100; b is greater than 1",
        );
        check_fine("$f(x) = c$ where f is a function of x; c is free of x; f at 1 is c.");
        check_fine(r"$\alpha x = b$ where \alpha is positive; b is a number");
    }

    #[test]
    fn says_what_is_wrong_and_where() {
        assert_eq!(
            check("a x + b = 0"),
            "a x + b = 0\n^^^^^^^^^^^ a shape starts with a formula between dollar signs, such as \
             $a x + b = 0$ where a, b are numbers"
        );
        assert_eq!(
            check("$a x + b = 0"),
            "$a x + b = 0\n^^^^^^^^^^^^ the formula of the shape has no closing dollar sign"
        );
        assert_eq!(
            check("$a x = 0$ a is a number"),
            "$a x = 0$ a is a number\n          ^^^^ `a is` follows the formula of the shape, where \
             only conditions are expected: write `where` before them"
        );
        assert_eq!(
            check("$a x = 0$ where k is a number"),
            "$a x = 0$ where k is a number\n                ^^^^^^^^^^^^^ `k` does not occur in the \
             formula of the shape: name a letter of the formula"
        );
        let unknown = check("$a x = 0$ where a is prime");
        assert!(
            unknown.contains(
                "\n                     ^^^^^ `prime` is nothing that a condition can say"
            ),
            "{unknown}"
        );
        let backwards = check("$u = 0$ where u is a polynomial in x of degree 4 .. 1");
        assert!(
            backwards.ends_with("the degrees 4 .. 1 run backwards"),
            "{backwards}"
        );
        let broken = check(r"$\frac{a}{x = 0$ where a is a number");
        assert!(broken.contains("\n      "), "{broken}");
        assert!(read(r"$\frac{a}{x = 0$").0.template().is_none());
    }

    #[test]
    fn no_text_is_a_trap() {
        for text in [
            "",
            "$",
            "$$",
            "$$$",
            "$ $ where",
            "$x$ where ;;;",
            "$x$ where x",
            "$x$ where is",
            "$x$ where x is",
            "$x$ where x is not",
            "$x$ where x is a",
            "$x$ where , is 0",
            "$x$ where x at is 0",
            "$x$ where x depends on",
            "$x$ where x is linear in",
            "$x$ where x is a polynomial in x of degree",
            "$x$ where $ is 0",
            "é$x$ where é is ü",
            "$x$ where x is 0 and",
            "$x$ where x is 0 and y is",
            "$x$where x is 0",
        ] {
            let (shape, diagnostics) = read(text);
            assert_eq!(shape.text(), text);
            for diagnostic in diagnostics {
                assert!(
                    text.get(diagnostic.range.clone()).is_some(),
                    "{text}: {diagnostic:?}"
                );
            }
        }
    }
}
