//! What exactly is asked, and what is answered?
//!
//! A [`Question`] is the statement as words and formulas in turn, with the functions that it
//! defines; a [`Claim`] is one formula of an answer, apart from the name that it is given.

use smallvec::SmallVec;

use crate::expression::{Differentiation, Expression, Function, Operator, Relation, Style, Symbol};
use crate::problem::{Part, Problem};
use crate::read::{Class, Declared};

/// A statement in words and formulas.
#[derive(Debug)]
pub(super) struct Question<'a> {
    pub(super) problem: &'a Problem,
    /// The words in small letters, in order, with ` $ ` in the place of each formula.
    pub(super) words: String,
    pub(super) formulas: Vec<Expression>,
    pub(super) definitions: Vec<Definition>,
    declared: Declared,
}

/// A function that the statement defines: `f(x) = x^2`, `y = x^2`.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Definition {
    pub(super) name: Symbol,
    /// Its variables; empty where only a letter is defined.
    pub(super) variables: Vec<Symbol>,
    pub(super) body: Expression,
}

/// One formula of an answer.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Claim {
    /// What the formula is said to be: `f'(x)`, `y`.
    pub(super) label: Option<Expression>,
    /// What it is said to equal, each in another form.
    pub(super) values: Vec<Expression>,
    /// What it is said to be about.
    pub(super) rounded: Option<Expression>,
    /// The formula as a whole, where it is no equation or a chain of something else.
    pub(super) whole: Expression,
}

/// An answer in words and formulas.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Reply {
    /// The words in small letters, with ` $ ` in the place of each formula.
    pub(super) words: String,
    pub(super) claims: Vec<Claim>,
}

/// A formula or words, in small letters.
enum Piece {
    Words(String),
    Formula(Expression),
}

impl<'a> Question<'a> {
    /// Reads a statement; the error says what cannot be read.
    pub(super) fn read(statement: &[Part<'_>], problem: &'a Problem) -> Result<Self, String> {
        let mut declared = Declared::new().variables(crate::problem::solved_constants(statement));
        for _ in 0..2 {
            // What a later formula says holds for the earlier ones too.
            for piece in pieces(statement, &declared)? {
                if let Piece::Formula(formula) = piece {
                    declared.learn(&formula);
                }
            }
            if statement.len() < 3 {
                break;
            }
        }
        let (words, formulas) = words_and_formulas(pieces(statement, &declared)?);
        let definitions = formulas.iter().filter_map(definition).collect();
        Ok(Self {
            problem,
            words,
            formulas,
            definitions,
            declared,
        })
    }

    /// The question without one of its formulas, and with other words.
    pub(super) fn without_formula(&self, place: usize, words: String) -> Self {
        let mut formulas = self.formulas.clone();
        if place < formulas.len() {
            formulas.remove(place);
        }
        let definitions = formulas.iter().filter_map(definition).collect();
        Self {
            problem: self.problem,
            words,
            formulas,
            definitions,
            declared: self.declared.clone(),
        }
    }

    /// One of these phrases is among the words.
    pub(super) fn says(&self, phrases: &[&str]) -> bool {
        phrases.iter().any(|phrase| self.words.contains(phrase))
    }

    /// Some part of some formula has such an operator.
    pub(super) fn has(&self, wanted: fn(&Operator) -> bool) -> bool {
        let mut parts = self.formulas.iter().flat_map(Expression::parts);
        parts.any(|part| wanted(part.operator()))
    }

    /// The function of this name.
    pub(super) fn definition(&self, name: &Symbol) -> Option<&Definition> {
        self.definitions.iter().find(|known| known.name == *name)
    }

    /// Reads an answer with what the statement says of the letters.
    pub(super) fn reply(&self, answer: &[Part<'_>]) -> Result<Reply, String> {
        let mut declared = self.declared.clone();
        for piece in pieces(answer, &declared)? {
            if let Piece::Formula(formula) = piece {
                declared.learn(&formula);
            }
        }
        let (words, formulas) = words_and_formulas(pieces(answer, &declared)?);
        let claims = formulas.into_iter().map(claim).collect();
        Ok(Reply { words, claims })
    }

    /// A formula with the functions that the statement defines put in for their values and
    /// derivatives.
    pub(super) fn expanded(&self, expression: &Expression) -> Expression {
        self.expand(expression, 8)
    }

    fn expand(&self, expression: &Expression, depth: usize) -> Expression {
        if depth == 0 || self.definitions.is_empty() {
            return expression.clone();
        }
        let called = match (expression.operator(), expression.operands()) {
            (Operator::Apply, [function, arguments @ ..]) => self.call(function, arguments),
            _ => None,
        };
        match called {
            Some(value) => self.expand(&value, depth - 1),
            None => expression.map_operands(|operand| self.expand(operand, depth)),
        }
    }

    fn call(&self, function: &Expression, arguments: &[Expression]) -> Option<Expression> {
        let (name, order) = match (function.operator(), function.operands()) {
            (Operator::Symbol(name), _) => (name, 0),
            (Operator::Prime(order), [inner]) => (inner.as_symbol()?, *order),
            _ => return None,
        };
        let definition = self.definition(name)?;
        if definition.variables.len() != arguments.len() {
            return None;
        }
        let mut body = definition.body.clone();
        for _ in 0..order {
            body = crate::derivative::derivative(&body, definition.variables.first()?)?;
        }
        // One after the other would mix up the letters of f(y, x).
        let fresh: Vec<Expression> = (0..arguments.len())
            .map(|place| Expression::symbol(&format!("argument{place}")))
            .collect();
        for (variable, fresh) in definition.variables.iter().zip(&fresh) {
            body = body.substitute(variable, fresh);
        }
        for (fresh, argument) in fresh.iter().zip(arguments) {
            body = body.substitute(fresh.as_symbol()?, argument);
        }
        Some(body)
    }
}

fn pieces(parts: &[Part<'_>], declared: &Declared) -> Result<Vec<Piece>, String> {
    let mut found = Vec::new();
    for part in parts {
        match part {
            Part::Words(text) => found.push(Piece::Words(text.to_lowercase())),
            Part::Tex(tex) => {
                for (is_text, piece) in split_words(tex) {
                    if is_text {
                        found.push(Piece::Words(piece.to_lowercase()));
                        continue;
                    }
                    let piece = without_punctuation(piece);
                    if piece.is_empty() {
                        continue;
                    }
                    let reading = crate::read(piece, declared);
                    let mut faults = reading.diagnostics.iter();
                    if let Some(fault) = faults.find(|fault| fault.class == Class::Malformed) {
                        return Err(format!("a formula cannot be read: {}", fault.message));
                    }
                    listed(&reading.expression, &mut found);
                }
            }
        }
    }
    Ok(found)
}

/// Punctuation and spacing around a formula that words interrupt.
fn without_punctuation(tex: &str) -> &str {
    let mut rest = tex;
    loop {
        let before = rest;
        rest = rest.trim().trim_end_matches(['.', ',', ';', ':']);
        rest = rest.trim_start_matches([',', ';', ':']);
        for space in ["\\quad", "\\qquad", "\\;", "\\,", "\\ ", "\\\\", "~"] {
            rest = rest.strip_prefix(space).unwrap_or(rest);
            rest = rest.strip_suffix(space).unwrap_or(rest);
        }
        // "≈ 0.747": the rest of a sentence.
        for sign in ["\\approx", "\\doteq", "≈", "="] {
            if let Some(after) = rest.strip_prefix(sign)
                && !after.starts_with(|c: char| c.is_alphabetic() && sign.starts_with('\\'))
            {
                rest = after;
            }
        }
        if rest == before {
            return rest;
        }
    }
}

/// Words that are written without `\\text` as well.
const PLAIN_WORDS: [&str; 6] = [
    "converge",
    "diverge",
    "convergent",
    "divergent",
    "exist",
    "dne",
];

/// A formula cut at its words, also where an answer is prose without dollar signs.
fn split_words(tex: &str) -> Vec<(bool, &str)> {
    let is_word = |word: &&str| {
        let word = word.trim_matches(|c: char| c.is_ascii_punctuation());
        word.len() > 1 && word.chars().all(char::is_alphabetic)
    };
    let is_plain = !tex.contains('\\')
        && tex.split_whitespace().filter(is_word).any(|word| {
            let word = word.to_lowercase();
            PLAIN_WORDS.iter().any(|known| word.contains(known))
        });
    match is_plain {
        false
            if !tex.contains('\\')
                && tex
                    .split_whitespace()
                    .any(|word| ["and", "or"].contains(&word)) =>
        {
            let mut found = Vec::new();
            let mut start = 0;
            for (at, word) in words_of(tex) {
                if ["and", "or"].contains(&word) {
                    found.push((false, &tex[start..at]));
                    found.push((true, word));
                    start = at + word.len();
                }
            }
            found.push((false, &tex[start..]));
            found
        }
        false => split_text(tex),
        true => tex
            .split_whitespace()
            .map(|word| (is_word(&word), word))
            .collect(),
    }
}

/// The words of a text with their places.
fn words_of(text: &str) -> impl Iterator<Item = (usize, &str)> {
    text.split_whitespace()
        .map(move |word| (word.as_ptr() as usize - text.as_ptr() as usize, word))
}

/// The TeX of a formula, cut at the words that stand in it outside of braces and environments.
fn split_text(tex: &str) -> Vec<(bool, &str)> {
    let bytes = tex.as_bytes();
    let mut found = Vec::new();
    let (mut depth, mut environments, mut start, mut at) = (0_i32, 0_i32, 0, 0);
    while at < bytes.len() {
        match bytes[at] {
            b'\\' => {
                let rest = &tex[at..];
                let length = rest[1..]
                    .find(|c: char| !c.is_ascii_alphabetic())
                    .map_or(rest.len(), |length| length + 1);
                let name = &rest[1..length.max(1)];
                match name {
                    "begin" => environments += 1,
                    "end" => environments -= 1,
                    "left" => depth += 1,
                    "right" => depth -= 1,
                    _ => {}
                }
                let is_text = matches!(name, "text" | "textrm" | "mbox" | "textit" | "textbf");
                if is_text && depth == 0 && environments == 0 {
                    let after = tex[at + length..].trim_start();
                    let open = tex.len() - after.len();
                    if let Some(close) = after.starts_with('{').then(|| after.find('}')).flatten()
                        && !matches!(bytes.get(at.wrapping_sub(1)), Some(b'_' | b'^'))
                    {
                        found.push((false, &tex[start..at]));
                        found.push((true, &tex[open + 1..open + close]));
                        at = open + close + 1;
                        // A power of a unit: `\text{cm}^2`.
                        if tex[at..].starts_with('^') {
                            let power = &tex[at + 1..];
                            at += 1 + match power.strip_prefix('{').and_then(|p| p.find('}')) {
                                Some(end) => end + 2,
                                None => power.chars().next().map_or(0, char::len_utf8),
                            };
                        }
                        start = at;
                        continue;
                    }
                }
                at += length.max(2);
                // `\\` and `\{` are two bytes; what follows may be any character.
                while at < bytes.len() && !tex.is_char_boundary(at) {
                    at += 1;
                }
                continue;
            }
            b'{' => depth += 1,
            b'}' => depth -= 1,
            _ => {}
        }
        at += 1;
    }
    found.push((false, &tex[start.min(tex.len())..]));
    found
}

fn listed(expression: &Expression, found: &mut Vec<Piece>) {
    match expression.operator() {
        Operator::List | Operator::System => {
            for item in expression.operands() {
                listed(item, found);
            }
        }
        Operator::Text(words) => found.push(Piece::Words(words.to_lowercase())),
        Operator::Hole => {}
        _ => found.push(Piece::Formula(expression.clone())),
    }
}

fn words_and_formulas(pieces: Vec<Piece>) -> (String, Vec<Expression>) {
    let mut words = String::from(" ");
    let mut formulas = Vec::new();
    for piece in pieces {
        match piece {
            Piece::Words(text) => {
                for word in text.split_whitespace() {
                    words.push_str(word);
                    words.push(' ');
                }
            }
            Piece::Formula(formula) => {
                words.push_str("$ ");
                formulas.push(formula);
            }
        }
    }
    (words, formulas)
}

fn definition(formula: &Expression) -> Option<Definition> {
    let (left, body) = match formula.as_relation() {
        Some((left, Relation::Equal | Relation::Defined, right)) => (left, right),
        _ => return None,
    };
    let is_number = crate::surface::number(body).is_some()
        || body.free_symbols().is_empty()
            && left
                .as_symbol()
                .is_some_and(|letter| ["x", "t", "a", "θ"].contains(&letter.name()));
    if is_number && !matches!(left.operator(), Operator::Apply) {
        // `x = 2` and `x = \pi/4` are places, no functions.
        return None;
    }
    match (left.operator(), left.operands()) {
        (Operator::Symbol(name), _) if !body.mentions(name) => Some(Definition {
            name: name.clone(),
            variables: Vec::new(),
            body: body.clone(),
        }),
        (Operator::Apply, [function, arguments @ ..]) => {
            let name = function.as_symbol()?;
            let variables: Option<Vec<Symbol>> =
                arguments.iter().map(|a| a.as_symbol().cloned()).collect();
            let calls_itself = body.parts().any(|part| part.as_symbol() == Some(name));
            (!calls_itself).then_some(Definition {
                name: name.clone(),
                variables: variables?,
                body: body.clone(),
            })
        }
        _ => None,
    }
}

fn claim(formula: Expression) -> Claim {
    let mut claim = Claim {
        label: None,
        values: Vec::new(),
        rounded: None,
        whole: formula.clone(),
    };
    let (relations, sides): (SmallVec<[Relation; 2]>, _) =
        match (formula.operator(), formula.operands()) {
            (Operator::Relation(relations), sides)
                if relations.iter().all(|relation| {
                    matches!(
                        relation,
                        Relation::Equal | Relation::Defined | Relation::Approximately
                    )
                }) =>
            {
                (relations.clone(), sides)
            }
            _ => {
                claim.values.push(formula);
                return claim;
            }
        };
    for (place, side) in sides.iter().enumerate() {
        let is_about = place > 0 && relations[place - 1] == Relation::Approximately;
        match place {
            0 if is_label(side) => claim.label = Some(side.clone()),
            _ if is_about => {
                claim.rounded = Some(side.clone());
            }
            _ if is_label(side) && place + 1 < sides.len() => {}
            _ => claim.values.push(side.clone()),
        }
    }
    claim
}

/// A name for something rather than its value.
pub(super) fn is_label(side: &Expression) -> bool {
    match (side.operator(), side.operands()) {
        (Operator::Symbol(_), _) => true,
        (Operator::Apply, [function, ..]) => is_function_name(function),
        (Operator::Prime(_) | Operator::NthPrime, [inner, ..]) => is_function_name(inner),
        (Operator::Derivative(_), [inner, ..]) => {
            is_function_name(inner)
                || (matches!(inner.operator(), Operator::Apply) && is_label(inner))
        }
        (Operator::EvaluatedAt, [inner, ..]) => is_label(inner),
        (Operator::Indexed, [letter, ..]) => letter.as_symbol().is_some(),
        (Operator::Function(Function::Gradient), [_]) => true,
        // A directional derivative, `D_u f`.
        (Operator::Product, [first, rest @ ..]) => {
            let is_d = first.as_symbol().is_some_and(|s| s.name() == "D")
                || matches!((first.operator(), first.operands()),
                    (Operator::Indexed, [d, ..]) if d.as_symbol().is_some_and(|s| s.name() == "D"));
            is_d && rest
                .iter()
                .all(|factor| is_label(factor) || is_point(factor))
        }
        (Operator::Limit(_) | Operator::Integral(_), _) => true,
        _ => false,
    }
}

fn is_point(expression: &Expression) -> bool {
    matches!(
        expression.operator(),
        Operator::Tuple(_) | Operator::Interval(_)
    )
}

fn is_function_name(function: &Expression) -> bool {
    match (function.operator(), function.operands()) {
        (Operator::Symbol(_), _) => true,
        (Operator::Prime(_) | Operator::InverseFunction | Operator::NthPrime, [inner, ..]) => {
            is_function_name(inner)
        }
        (Operator::Derivative(_), [inner, ..]) => is_function_name(inner),
        // (f g)'
        (Operator::Product | Operator::Composition, parts) => {
            parts.iter().all(|part| part.as_symbol().is_some())
        }
        _ => false,
    }
}

/// A derivative that a formula names: of which function, how often by which letter, and where.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct NamedDerivative {
    pub(super) function: Expression,
    /// The letters and orders; a prime names no letter.
    pub(super) by: Vec<(Option<Symbol>, u32)>,
    /// The arguments, where they are given.
    pub(super) at: Vec<(Option<Symbol>, Expression)>,
}

impl NamedDerivative {
    pub(super) fn order(&self) -> u32 {
        self.by.iter().map(|(_, order)| order).sum()
    }
}

/// `f'(2)`, `\frac{dy}{dx}`, `f_{xy}(1, 2)`, `y''`, `\frac{dy}{dx}|_{x=1}`.
pub(super) fn named_derivative(expression: &Expression) -> Option<NamedDerivative> {
    match (expression.operator(), expression.operands()) {
        (Operator::Prime(order), [function]) => Some(NamedDerivative {
            function: function.clone(),
            by: vec![(None, *order)],
            at: Vec::new(),
        }),
        (Operator::Derivative(orders), [function, variables @ ..]) => {
            if function.as_symbol().is_none() && !matches!(function.operator(), Operator::Apply) {
                return None;
            }
            let Differentiation { orders, .. } = &**orders;
            let mut by = Vec::new();
            for (variable, order) in variables.iter().zip(orders) {
                by.push((Some(variable.as_symbol()?.clone()), *order));
            }
            let (function, at) = match (function.operator(), function.operands()) {
                (Operator::Apply, [name, arguments @ ..]) => (
                    name.clone(),
                    arguments.iter().map(|a| (None, a.clone())).collect(),
                ),
                _ => (function.clone(), Vec::new()),
            };
            Some(NamedDerivative { function, by, at })
        }
        (Operator::Apply, [function, arguments @ ..]) => {
            let mut named = named_derivative(function)?;
            named.at = arguments.iter().map(|a| (None, a.clone())).collect();
            Some(named)
        }
        (Operator::EvaluatedAt, [inner, bounds @ ..]) => {
            let mut named = named_derivative(inner)?;
            for bound in bounds {
                match (bound.as_equation(), bound.operator()) {
                    (Some((left, right)), _) => {
                        named.at.push((left.as_symbol().cloned(), right.clone()));
                    }
                    (None, Operator::List | Operator::Tuple(_)) => {
                        for item in bound.operands() {
                            match item.as_equation() {
                                Some((left, right)) => {
                                    named.at.push((left.as_symbol().cloned(), right.clone()));
                                }
                                None => named.at.push((None, item.clone())),
                            }
                        }
                    }
                    _ => named.at.push((None, bound.clone())),
                }
            }
            Some(named)
        }
        _ => None,
    }
}

/// Letters that authors use for what varies, the likelier ones first.
const USUAL: [&str; 13] = [
    "x", "t", "y", "z", "u", "v", "w", "s", "θ", "r", "q", "p", "n",
];

/// The letters with which an expression varies, the likeliest first; constants have other names.
pub(super) fn variables(body: &Expression) -> Vec<Symbol> {
    let mut found: Vec<(usize, Symbol)> = body
        .free_symbols()
        .into_iter()
        .filter(|symbol| symbol.subscript().is_empty())
        .filter_map(|symbol| {
            let rank = USUAL.iter().position(|name| *name == symbol.name())?;
            Some((rank, symbol))
        })
        .collect();
    found.sort();
    let found: Vec<Symbol> = found.into_iter().map(|(_, symbol)| symbol).collect();
    match found.is_empty() {
        true => body.free_symbols().into_iter().take(1).collect(),
        false => found,
    }
}

/// The components of a vector: a tuple, a column, or a sum along unit vectors i, j, k.
pub(super) fn components(vector: &Expression) -> Option<Vec<Expression>> {
    match (vector.operator(), vector.operands()) {
        (Operator::Tuple(_), parts) => Some(parts.to_vec()),
        (Operator::Matrix(shape), parts)
            if shape.columns == 1 || parts.len() == shape.columns as usize =>
        {
            Some(parts.to_vec())
        }
        // A pair of numbers is read as an interval.
        (Operator::Interval(_), parts) => Some(parts.to_vec()),
        _ => {
            let units: Vec<Symbol> = vector
                .free_symbols()
                .into_iter()
                .filter(|symbol| {
                    ["i", "j", "k"].contains(&symbol.name())
                        && (symbol.style() == Style::Bold
                            || symbol.is_vector()
                            || symbol.accent() != crate::expression::Accent::None)
                })
                .collect();
            if units.is_empty() {
                return None;
            }
            let count = match units.iter().any(|unit| unit.name() == "k") {
                true => 3,
                false => 2,
            };
            let component = |name: &str| {
                units.iter().fold(vector.clone(), |sum, unit| {
                    let value = i64::from(unit.name() == name);
                    sum.substitute(unit, &Expression::integer(value))
                })
            };
            Some(
                ["i", "j", "k"]
                    .into_iter()
                    .take(count)
                    .map(component)
                    .collect(),
            )
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn words_in_a_formula_are_words() {
        let cut =
            split_text(r"f(x) = x^2 \text{ at } x = 2, c_{\text{max}} \left\{ \text{a} \right\}");
        assert_eq!(cut.len(), 3);
        assert_eq!(cut[1], (true, " at "));
        for odd in [r"\", r"\é", r"\text{", r"\text", "}\\\\é"] {
            assert!(!split_text(odd).is_empty());
        }
    }
}
