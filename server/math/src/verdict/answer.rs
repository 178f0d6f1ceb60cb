//! How is an answer written?

use std::collections::BTreeSet;

use crate::expression::{Connective, Expression, Operator, Relation, Symbol};
use crate::problem::{Part, Problem};
use crate::read::{Class, Declared};

/// An answer as it was understood.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Answer {
    /// The formulas, in the order of the text; a list `x = 1, x = 2` is several, and so are
    /// statements joined by "or". Those that the words call extraneous are left out.
    pub(super) formulas: Vec<Expression>,
    /// The words between them, in small letters.
    pub(super) words: String,
    /// The words in front of each formula, since the one before it; empty for an answer that was
    /// not read from text.
    pub(super) labels: Vec<String>,
    /// Which formulas are called roots of which multiplicity.
    pub(super) multiplicities: Vec<(usize, u32)>,
}

/// What an answer says in words instead of a formula.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Outcome {
    /// There is no solution.
    Nothing,
    /// Every number is a solution.
    Everything,
    /// There are infinitely many solutions.
    InfinitelyMany,
    /// There is no value, or no limit.
    Undefined,
    /// It cannot be factored.
    Prime,
}

/// Phrases that make an outcome, in the order in which they are looked for.
const OUTCOMES: [(&str, Outcome); 40] = [
    ("no real solution", Outcome::Nothing),
    ("no solution", Outcome::Nothing),
    ("no real number solution", Outcome::Nothing),
    ("no real-number solution", Outcome::Nothing),
    ("no real root", Outcome::Nothing),
    ("no root", Outcome::Nothing),
    ("no zero", Outcome::Nothing),
    ("no real zero", Outcome::Nothing),
    ("no such", Outcome::Nothing),
    ("has no real", Outcome::Nothing),
    ("empty set", Outcome::Nothing),
    ("the empty", Outcome::Nothing),
    ("inconsistent", Outcome::Nothing),
    ("contradiction", Outcome::Nothing),
    ("infinitely many", Outcome::InfinitelyMany),
    ("infinite number of solution", Outcome::InfinitelyMany),
    ("infinite solution", Outcome::InfinitelyMany),
    ("dependent system", Outcome::InfinitelyMany),
    ("identity", Outcome::Everything),
    ("all real number", Outcome::Everything),
    ("all reals", Outcome::Everything),
    ("every real", Outcome::Everything),
    ("any real", Outcome::Everything),
    ("all number", Outcome::Everything),
    ("all x", Outcome::Everything),
    ("does not exist", Outcome::Undefined),
    ("dne", Outcome::Undefined),
    ("undefined", Outcome::Undefined),
    ("not defined", Outcome::Undefined),
    ("not a real", Outcome::Undefined),
    ("not real", Outcome::Undefined),
    ("not possible", Outcome::Undefined),
    ("impossible", Outcome::Undefined),
    ("prime", Outcome::Prime),
    ("not factorable", Outcome::Prime),
    ("cannot be factored", Outcome::Prime),
    ("not be factored", Outcome::Prime),
    ("does not factor", Outcome::Prime),
    ("irreducible", Outcome::Prime),
    ("unfactorable", Outcome::Prime),
];

/// Words that are written in formulas without a sign that they are words.
const BARE_WORDS: [&str; 96] = [
    "one",
    "two",
    "complex",
    "imaginary",
    "rational",
    "irrational",
    "even",
    "odd",
    "neither",
    "or",
    "and",
    "no",
    "real",
    "solution",
    "solutions",
    "all",
    "number",
    "numbers",
    "undefined",
    "does",
    "not",
    "exist",
    "dne",
    "prime",
    "infinitely",
    "many",
    "dependent",
    "inconsistent",
    "none",
    "identity",
    "contradiction",
    "is",
    "are",
    "the",
    "set",
    "empty",
    "root",
    "roots",
    "except",
    "for",
    "any",
    "every",
    "where",
    "an",
    "integer",
    "integers",
    "with",
    "extraneous",
    "cannot",
    "be",
    "factored",
    "factorable",
    "defined",
    "domain",
    "range",
    "linearly",
    "independent",
    "diverges",
    "converges",
    "yes",
    "true",
    "false",
    "approximately",
    "about",
    "only",
    "system",
    "to",
    "infinite",
    "invertible",
    "singular",
    "exists",
    "maximum",
    "minimum",
    "max",
    "min",
    "local",
    "relative",
    "absolute",
    "value",
    "vertex",
    "axis",
    "slope",
    "rank",
    "nullity",
    "quotient",
    "remainder",
    "center",
    "radius",
    "saddle",
    "conservative",
    "orthogonal",
    "parallel",
    "perpendicular",
    "amplitude",
    "period",
    "midline",
];

impl Answer {
    /// What the words say.
    pub(super) fn outcome(&self) -> Option<Outcome> {
        if self.formulas.is_empty()
            && ["none", "n/a"].contains(&self.words.trim_matches([' ', '.']))
        {
            return Some(Outcome::Nothing);
        }
        let found = OUTCOMES
            .iter()
            .find(|(phrase, _)| self.words.contains(phrase));
        match found {
            None if self.formulas.is_empty()
                && self.words.contains("dependent")
                && !self.words.contains("independent") =>
            {
                Some(Outcome::InfinitelyMany)
            }
            found => found.map(|(_, outcome)| *outcome),
        }
    }

    /// One of these is among the words.
    pub(super) fn says(&self, phrases: &[&str]) -> bool {
        phrases.iter().any(|phrase| self.words.contains(phrase))
    }
}

/// Reads an answer; the error says why it cannot be read.
pub(super) fn read(parts: &[Part<'_>], problem: &Problem) -> Result<Answer, String> {
    // A letter that the problem does not take for a constant is none here.
    let is_letter = |name: &&str| {
        let mut formulas = problem.main.iter().chain(&problem.conditions);
        formulas.any(|formula| formula.mentions(&Symbol::new(name)))
    };
    let mut declared = Declared::new().variables(["e", "i"].into_iter().filter(is_letter));
    for known in problem.main.iter().chain(&problem.conditions) {
        declared.learn(known);
    }
    let has_formula = parts.iter().any(|part| matches!(part, Part::Tex(_)));
    let mut formulas = Vec::new();
    let mut words = String::new();
    let mut labels: Vec<String> = Vec::new();
    let mut multiplicities = Vec::new();
    let mut label = String::new();
    // Whether the last formula may still be called extraneous.
    let mut can_drop = false;
    for part in parts {
        let pieces = match part {
            Part::Words(text) if !has_formula => split(text, true),
            Part::Words(text) => with_numbers(text),
            Part::Tex(tex) => split(tex, false),
        };
        for piece in pieces {
            match piece {
                Piece::Words(text) => {
                    let text = text.to_lowercase();
                    if ["extraneous", "reject", "does not check", "not a solution"]
                        .iter()
                        .any(|phrase| text.contains(phrase))
                        && can_drop
                    {
                        formulas.pop();
                        labels.truncate(formulas.len());
                        can_drop = false;
                    }
                    if let Some(multiplicity) = multiplicity_in(&text)
                        && let Some(last) = formulas.len().checked_sub(1)
                    {
                        multiplicities.push((last, multiplicity));
                    }
                    words.push_str(&text);
                    words.push(' ');
                    label.push_str(&text);
                    label.push(' ');
                }
                Piece::Tex(tex) => {
                    // `= 5`, `≈ 2.64`: what stands before the sign is the problem.
                    let mut tex = tex.as_str();
                    for sign in [r"\approx", "=", "≈", r"\doteq"] {
                        if let Some(rest) = tex.trim_start().strip_prefix(sign) {
                            tex = rest.trim_start();
                            if sign != "=" {
                                words.push_str("about ");
                            }
                        }
                    }
                    let reading = crate::read(tex, &declared);
                    if let Some(fault) = reading
                        .diagnostics
                        .iter()
                        .find(|fault| fault.class == Class::Malformed)
                    {
                        return Err(format!("the answer cannot be read: {}", fault.message));
                    }
                    can_drop = true;
                    let mut said = reading.expression;
                    if is_about_multiplicity(&label)
                        && let Some(last) = formulas.len().checked_sub(1)
                    {
                        // What follows the number in the same formula is the next answer.
                        let (count, rest) = match said.operator() {
                            Operator::List => {
                                (said.operands().first().cloned(), &said.operands()[1..])
                            }
                            _ => (Some(said.clone()), &[][..]),
                        };
                        if let Some(times) = count.as_ref().and_then(answer_number) {
                            multiplicities.push((last, times));
                            label.clear();
                            if rest.is_empty() {
                                continue;
                            }
                            said = Expression::new(Operator::List, rest.to_vec());
                        }
                    }
                    let before = formulas.len();
                    add(&said, &mut formulas, &mut words);
                    formulas.retain(|formula| !matches!(formula.operator(), Operator::Hole));
                    for place in before..formulas.len() {
                        labels.push(match place == before {
                            true => std::mem::take(&mut label),
                            false => String::new(),
                        });
                    }
                }
            }
        }
    }
    Ok(Answer {
        formulas,
        words,
        labels,
        multiplicities,
    })
}

/// The words end with the name of what the next number counts.
fn is_about_multiplicity(words: &str) -> bool {
    // A number after the word is the count already: "(multiplicity 2), 3".
    let words = words.trim_end_matches(|c: char| !c.is_alphanumeric());
    ["multiplicity", "multiplicity of", "mult", "multiplicity is"]
        .iter()
        .any(|end| words.ends_with(end))
}

/// A small whole number.
fn answer_number(formula: &Expression) -> Option<u32> {
    let number = u32::try_from(formula.as_i64()?).ok()?;
    (1..=20).contains(&number).then_some(number)
}

/// "(multiplicity 2)", "double root".
fn multiplicity_in(words: &str) -> Option<u32> {
    if let Some(place) = words.find("multiplicity") {
        let rest = words[place + "multiplicity".len()..].trim_start_matches([' ', ':', '=']);
        let rest = rest.trim_start_matches("of ");
        let digits: String = rest.chars().take_while(char::is_ascii_digit).collect();
        if let Ok(number) = digits.parse() {
            return Some(number);
        }
        let words = ["one", "two", "three", "four", "five", "six"];
        let named = words.iter().position(|word| rest.starts_with(word));
        return named.map(|place| place as u32 + 1);
    }
    None
}

/// Adds what a formula says to the formulas and words.
fn add(expression: &Expression, formulas: &mut Vec<Expression>, words: &mut String) {
    match expression.operator() {
        Operator::List | Operator::Logic(Connective::Or) => {
            for item in expression.operands() {
                add(item, formulas, words);
            }
        }
        Operator::Text(text) => {
            words.push_str(&text.to_lowercase());
            words.push(' ');
        }
        _ => formulas.push(expression.clone()),
    }
}

#[derive(Debug, PartialEq)]
enum Piece {
    Words(String),
    Tex(String),
}

/// An answer cut at the words in its formulas, where these have commands, too: "converges to
/// \\frac12". `None` where there are none.
pub(super) fn cut_at_words(parts: &[Part<'_>]) -> Option<Vec<super::Piece>> {
    let mut is_cut = false;
    let mut cut = Vec::new();
    for part in parts {
        match part {
            Part::Tex(tex) if tex.contains('\\') => {
                for piece in split(tex, false) {
                    is_cut |= matches!(piece, Piece::Words(_));
                    cut.push(match piece {
                        Piece::Words(words) => super::Piece::Words(words),
                        Piece::Tex(tex) => super::Piece::Tex(tex),
                    });
                }
            }
            Part::Tex(tex) => cut.push(super::Piece::Tex((*tex).to_owned())),
            Part::Words(words) => cut.push(super::Piece::Words((*words).to_owned())),
        }
    }
    is_cut.then_some(cut)
}

/// Words between formulas, with the numbers that stand among them as formulas: "amplitude 3, period
/// `$\pi$`". A number within brackets belongs to the words: "(2 solutions)".
fn with_numbers(text: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut words = String::new();
    let mut depth = 0_i32;
    for word in text.split_inclusive(char::is_whitespace) {
        let bare = word.trim().trim_end_matches([',', ';', '.', ':']);
        let digits = bare.trim_start_matches(['-', '−']);
        let is_number = depth == 0
            && digits.starts_with(|c: char| c.is_ascii_digit())
            && digits.chars().all(|c| c.is_ascii_digit() || c == '.')
            && bare.chars().count() <= digits.chars().count() + 1;
        depth += word.matches('(').count() as i32 - word.matches(')').count() as i32;
        match is_number {
            true => {
                if !words.trim().is_empty() {
                    pieces.push(Piece::Words(std::mem::take(&mut words)));
                }
                pieces.push(Piece::Tex(bare.replace('−', "-")));
                words = word.trim()[bare.len()..].to_owned();
                words.push(' ');
            }
            false => words.push_str(word),
        }
    }
    if !words.trim().is_empty() || pieces.is_empty() {
        pieces.push(Piece::Words(words));
    }
    pieces
}

/// Cuts a formula at the words in it that stand outside every brace and environment.
fn split(tex: &str, is_prose: bool) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut formula = String::new();
    let mut depth = 0_i32;
    let mut rest = tex;
    let end_formula = |formula: &mut String, pieces: &mut Vec<Piece>| {
        let trimmed = formula.trim_matches(|c: char| {
            c.is_whitespace() || c == ',' || c == ';' || c == '.' || c == '~'
        });
        let trimmed = trimmed.trim_start_matches([':', ' ']);
        let trimmed = trimmed
            .trim_end_matches(r"\quad")
            .trim_end_matches(r"\qquad")
            .trim_end_matches(r"\;")
            .trim_end_matches(r"\,")
            .trim_matches(|c: char| c.is_whitespace() || c == ',');
        // A control space whose space was trimmed.
        let trimmed = match trimmed.strip_suffix('\\') {
            Some(rest) if !rest.ends_with('\\') => rest.trim_end_matches([',', ';', ' ', '.']),
            _ => trimmed,
        };
        if !trimmed.is_empty() && trimmed != "\\" {
            pieces.push(Piece::Tex(trimmed.to_owned()));
        }
        formula.clear();
    };
    while let Some(first) = rest.chars().next() {
        if first == '\\' {
            let name_end = rest[1..]
                .find(|c: char| !c.is_ascii_alphabetic())
                .map_or(rest.len(), |end| end + 1);
            if name_end == 1 {
                // A control symbol such as `\{` or `\,`.
                let length = rest[1..].chars().next().map_or(1, |c| 1 + c.len_utf8());
                match &rest[..length] {
                    r"\{" => depth += 1,
                    r"\}" => depth -= 1,
                    _ => {}
                }
                formula.push_str(&rest[..length]);
                rest = &rest[length..];
                continue;
            }
            let name = &rest[1..name_end];
            let after = &rest[name_end..];
            let opened = after.trim_start();
            if matches!(
                name,
                "text" | "mbox" | "textrm" | "textit" | "textbf" | "textnormal"
            ) && depth == 0
                && let Some(inside) = opened.strip_prefix('{')
                && let Some(close) = closing(inside)
            {
                end_formula(&mut formula, &mut pieces);
                let words = &inside[..close];
                // Words may hold formulas of their own: `\text{where $n$ is an integer}`.
                for (place, piece) in words.split('$').enumerate() {
                    match place % 2 {
                        0 if piece.trim().is_empty() => {}
                        0 => pieces.push(Piece::Words(piece.to_owned())),
                        _ => pieces.push(Piece::Tex(piece.to_owned())),
                    }
                }
                rest = &inside[close + 1..];
                // A power of a unit: `\text{cm}^2`.
                if let Some(power) = rest.trim_start().strip_prefix('^') {
                    rest = match power
                        .strip_prefix('{')
                        .and_then(|inside| closing(inside).map(|close| &inside[close + 1..]))
                    {
                        Some(behind) => behind,
                        None => &power[power.chars().next().map_or(0, char::len_utf8)..],
                    };
                }
                continue;
            }
            match name {
                "begin" => depth += 1,
                "end" => depth -= 1,
                _ => {}
            }
            formula.push_str(&rest[..name_end]);
            rest = after;
            continue;
        }
        if first.is_ascii_alphabetic() && depth == 0 {
            let end = rest
                .find(|c: char| !c.is_ascii_alphabetic())
                .unwrap_or(rest.len());
            let word = &rest[..end];
            let is_word = end > 1 && BARE_WORDS.contains(&word.to_lowercase().as_str())
                || is_prose && end > 3;
            if is_word {
                end_formula(&mut formula, &mut pieces);
                match pieces.last_mut() {
                    Some(Piece::Words(words)) => {
                        words.push(' ');
                        words.push_str(word);
                    }
                    _ => pieces.push(Piece::Words(word.to_owned())),
                }
            } else {
                formula.push_str(word);
            }
            rest = &rest[end..];
            continue;
        }
        match first {
            '{' => depth += 1,
            '}' => depth -= 1,
            _ => {}
        }
        formula.push(first);
        rest = &rest[first.len_utf8()..];
    }
    end_formula(&mut formula, &mut pieces);
    pieces
}

/// Where the brace that was opened before the text is closed.
fn closing(text: &str) -> Option<usize> {
    let mut depth = 0;
    let mut escaped = false;
    for (place, c) in text.char_indices() {
        match c {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '{' => depth += 1,
            '}' if depth == 0 => return Some(place),
            '}' => depth -= 1,
            _ => {}
        }
    }
    None
}

/// The formulas that an expression with signs ± stands for, each sign alone if `linked` is false,
/// else all upper signs together and all lower ones. At most 16.
pub(super) fn with_signs(expression: &Expression, linked: bool) -> Vec<Expression> {
    let signs = expression
        .parts()
        .filter(|part| matches!(part.operator(), Operator::PlusMinus | Operator::MinusPlus))
        .count();
    if signs == 0 {
        return vec![expression.clone()];
    }
    let has_opposite = expression
        .parts()
        .any(|part| matches!(part.operator(), Operator::MinusPlus));
    let choices = match linked || has_opposite || signs > 4 {
        true => vec![0, u32::MAX],
        false => (0..1_u32 << signs).collect(),
    };
    choices
        .into_iter()
        .map(|choice| {
            let mut place = 0;
            choose_signs(expression, choice, &mut place)
        })
        .collect()
}

fn choose_signs(expression: &Expression, choice: u32, place: &mut u32) -> Expression {
    let is_lower = |place: &mut u32| {
        let lower = choice >> (*place).min(31) & 1 == 1;
        *place += 1;
        lower
    };
    match (expression.operator(), expression.operands()) {
        (Operator::PlusMinus, [operand]) => {
            let lower = is_lower(place);
            let operand = choose_signs(operand, choice, place);
            if lower {
                Expression::negative(operand)
            } else {
                operand
            }
        }
        (Operator::MinusPlus, [operand]) => {
            let lower = is_lower(place);
            let operand = choose_signs(operand, choice, place);
            if lower {
                operand
            } else {
                Expression::negative(operand)
            }
        }
        _ => expression.map_operands(|operand| choose_signs(operand, choice, place)),
    }
}

/// The letters of an answer that stand for any integer: those called integers, and those usual for
/// it, unless the problem uses them.
pub(super) fn integer_letters(answer: &Answer, used: &BTreeSet<Symbol>) -> BTreeSet<Symbol> {
    let mut letters = BTreeSet::new();
    for formula in &answer.formulas {
        if let Some((left, Relation::In, _)) = formula.as_relation()
            && let Some(symbol) = left.as_symbol()
        {
            letters.insert(symbol.clone());
        }
        for symbol in formula.free_symbols() {
            if ["n", "k", "m", "j", "l"].contains(&symbol.name()) {
                letters.insert(symbol);
            }
        }
    }
    letters.retain(|letter| !used.contains(letter));
    letters
}

#[cfg(test)]
mod tests {
    use super::*;

    fn plain(expression: &Expression) -> String {
        crate::print::plain(expression).replace('−', "-")
    }

    fn check(tex: &str, formulas: &[&str], outcome: Option<Outcome>) {
        let problem = crate::problem::read(&[Part::Tex("x^2 = y")]);
        let answer = read(&[Part::Tex(tex)], &problem).expect("can be read");
        let found: Vec<String> = answer.formulas.iter().map(plain).collect();
        assert_eq!(found, formulas, "{tex}");
        assert_eq!(answer.outcome(), outcome, "{tex}");
    }

    #[test]
    fn words_and_formulas_are_told_apart() {
        check(r"x = 1, x = 4", &["x = 1", "x = 4"], None);
        check(r"-2 \text{ or } 5", &["-2", "5"], None);
        check("x = -2 or x = 5", &["x = -2", "x = 5"], None);
        check(r"x = 2 \text{ (double root)}", &["x = 2"], None);
        check(r"\text{no solution}", &[], Some(Outcome::Nothing));
        check("no real solutions", &[], Some(Outcome::Nothing));
        check("DNE", &[], Some(Outcome::Undefined));
        check(r"\text{all real numbers}", &[], Some(Outcome::Everything));
        check(
            r"\text{infinitely many solutions}",
            &[],
            Some(Outcome::InfinitelyMany),
        );
        check(r"\text{dependent}", &[], Some(Outcome::InfinitelyMany));
        check(r"\text{prime}", &[], Some(Outcome::Prime));
        check(r"x = 3; \; x = -5 \text{ is extraneous}", &["x = 3"], None);
        check(
            r"x = 3 \text{; } x = -5 \text{ is extraneous}",
            &["x = 3"],
            None,
        );
        check(
            r"x = \pi n \text{ where $n$ is an integer}",
            &["x = πn", "n"],
            None,
        );
        check(r"x + 7 \text{, } x \ne -4", &["x + 7", "x ≠ -4"], None);
        check(r"12 \text{ cm}", &["12"], None);
    }

    #[test]
    fn signs_are_chosen_alone_or_together() {
        let check = |tex: &str, linked: bool, expected: &[&str]| {
            let expression = crate::read(tex, &Declared::new()).expression;
            let found: Vec<String> = with_signs(&expression, linked).iter().map(plain).collect();
            assert_eq!(found, expected, "{tex}");
        };
        check(r"\pm 3", false, &["3", "-3"]);
        check(
            r"(\pm 5, \pm 1)",
            false,
            &["(5, 1)", "(-5, 1)", "(5, -1)", "(-5, -1)"],
        );
        check(r"(\pm 5, \pm 1)", true, &["(5, 1)", "(-5, -1)"]);
        check(r"(\pm 2, \mp 4)", false, &["(2, -4)", "(-2, 4)"]);
        check("7", false, &["7"]);
    }
}
