//! What does a problem say besides its formula: a domain, degrees, complex numbers?

use super::claims::{self, Region};
use crate::expression::{Expression, Operator, Symbol};
use crate::problem::{Part, Problem};
use crate::read::{Class, Declared};

/// A problem and its words.
#[derive(Clone, Debug)]
pub(super) struct Question {
    pub(super) problem: Problem,
    /// All words, in small letters.
    pub(super) words: String,
    /// All formulas of the statement, in the order of the text.
    pub(super) formulas: Vec<Expression>,
}

/// Where solutions are looked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Domain {
    /// None if nothing is said.
    pub(super) region: Option<Region>,
    /// The variable is an angle in degrees.
    pub(super) in_degrees: bool,
}

impl Question {
    pub(super) fn new(problem: Problem, statement: &[Part<'_>]) -> Self {
        let mut words = String::new();
        for part in statement {
            match part {
                Part::Words(text) => words.push_str(&text.to_lowercase()),
                // "the $x$-intercepts", "solve for $y$": a letter that is part of a word.
                Part::Tex(tex) if tex.trim().chars().count() == 1 => words.push_str(tex.trim()),
                Part::Tex(_) => words.push(' '),
            }
        }
        let mut declared = Declared::new().variables(crate::problem::solved_constants(statement));
        let mut formulas = Vec::new();
        for part in statement {
            if let Part::Tex(tex) = part {
                let read = crate::read(tex, &declared).expression;
                declared.learn(&read);
                match read.operator() {
                    Operator::List | Operator::System => {
                        formulas.extend(read.operands().iter().cloned());
                    }
                    _ => formulas.push(read),
                }
            }
        }
        Self {
            problem,
            words,
            formulas,
        }
    }

    /// One of these phrases is among the words.
    pub(super) fn says(&self, phrases: &[&str]) -> bool {
        phrases.iter().any(|phrase| self.words.contains(phrase))
    }

    /// The words or formulas speak of complex numbers.
    pub(super) fn is_complex(&self) -> bool {
        self.says(&["complex", "imaginary", "nonreal", "non-real"])
    }

    /// The words ask for rounded numbers.
    pub(super) fn is_rounded(&self) -> bool {
        !self.says(&["without a calculator", "without using a calculator"])
            && self.says(&[
                "round",
                "approximat",
                "nearest",
                "decimal",
                "significant",
                "calculator",
                "estimate",
            ])
    }

    /// The letter named by "solve for y", if it is not in a formula of its own.
    pub(super) fn named_letter(&self) -> Option<Symbol> {
        let mut words = self
            .words
            .split(|c: char| !(c.is_alphanumeric() || c == '\\' || c == '_'))
            .filter(|word| !word.is_empty());
        while let Some(word) = words.next() {
            if !["for", "variable", "respect", "of"].contains(&word) {
                continue;
            }
            let next = words.clone().next()?;
            if next.chars().count() == 1 && next != "a" && next.chars().all(char::is_alphabetic) {
                return Some(Symbol::new(next));
            }
        }
        None
    }

    /// The domain of a variable.
    pub(super) fn domain(&self, variable: &Symbol) -> Domain {
        let mut regions = Vec::new();
        let mut in_degrees = self.says(&["degree"]);
        for condition in &self.problem.conditions {
            if let Some(region) = claims::region(condition, variable)
                && region
                    .ends()
                    .iter()
                    .all(|end| end.free_symbols().is_empty())
            {
                in_degrees |= has_degrees(condition);
                regions.push(region);
            }
        }
        if regions.is_empty() {
            for condition in self.written_conditions() {
                if let Some(region) = claims::region(&condition, variable)
                    && region
                        .ends()
                        .iter()
                        .all(|end| end.free_symbols().is_empty())
                {
                    in_degrees |= has_degrees(&condition);
                    regions.push(region);
                }
            }
        }
        Domain {
            region: match regions.len() {
                0 => None,
                1 => regions.pop(),
                _ => Some(Region::Intersection(regions)),
            },
            in_degrees,
        }
    }

    /// Formulas that stand among the words without dollar signs: an interval in brackets, a chain
    /// of inequalities.
    fn written_conditions(&self) -> Vec<Expression> {
        let mut found = Vec::new();
        let words = &self.words;
        for (start, c) in words.char_indices() {
            if !matches!(c, '[' | '(') || !words[start..].contains(',') {
                continue;
            }
            let Some(length) = words[start..].find([']', ')']) else {
                continue;
            };
            let text = &words[start..start + length + 1];
            if text.contains(',') && text.len() < 60 {
                found.extend(formula(text));
            }
        }
        for sign in ["<", "\\le", "≤", "\\lt"] {
            if let Some(place) = words.find(sign) {
                let before = words[..place].trim_end();
                let start = before
                    .rfind([' ', '$', ',', ':'])
                    .map_or(0, |space| space + 1);
                let rest = &words[start..];
                let end = rest.find(['.', ',', ';', '$']).unwrap_or(rest.len());
                found.extend(formula(rest[..end].trim()));
            }
        }
        found
    }
}

fn has_degrees(expression: &Expression) -> bool {
    expression
        .parts()
        .any(|part| matches!(part.operator(), Operator::Degrees))
}

fn formula(tex: &str) -> Option<Expression> {
    let tex = tex
        .replace('π', r"\pi ")
        .replace('≤', r"\le ")
        .replace('°', r"^\circ ")
        .replace('∞', r"\infty ")
        .replace('θ', r"\theta ");
    let reading = crate::read(&tex, &Declared::new());
    let is_sound = reading
        .diagnostics
        .iter()
        .all(|fault| fault.class != Class::Malformed);
    is_sound.then_some(reading.expression)
}
