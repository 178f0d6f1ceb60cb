//! What does the whole formula say about its letters?
//!
//! One pass over the tokens, before reading, finds the letters that are primed, differentiated or
//! given arguments, and whether `dx` is a differential. With the declarations from elsewhere this
//! decides between a call and a product.

use smallvec::SmallVec;

use super::Declared;
use super::tokens::{Delimiter, Mark, Token};
use crate::expression::{Connective, SetOperation, Style};

/// The letters that are functions unless something else is declared.
const FUNCTION_LETTERS: &str = "fghFGHφϕψΦΨΓζδ";

/// Letters that name a quantity more often than a coefficient: at 0 in brackets they are called.
const QUANTITY_LETTERS: &str = "yuvwspNPQTVYθ";

/// What is known of a formula before it is read.
pub(super) struct Context<'t> {
    declared: &'t Declared,
    letters: SmallVec<[(char, Letter); 8]>,
    /// Whether `d` before a letter makes a differential outside integrals.
    pub(super) differentials: Differentials,
    /// `\over` or `\choose` occurs.
    pub(super) splits: bool,
    /// Sets are united or intersected, or probabilities taken.
    pub(super) sets: bool,
}

/// What `dx` is, outside integrals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Differentials {
    /// A product of d and x.
    Never,
    /// A differential.
    Always,
    /// Probably a differential.
    Perhaps,
}

#[derive(Clone, Copy, Default)]
struct Letter {
    primed: bool,
    applied: bool,
    /// It has a subscript such as `xx`, as partial derivatives have.
    partial: bool,
}

/// What a letter is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Standing {
    /// A function: a bracket after it holds arguments.
    Function,
    /// The unknown function of a differential equation.
    Unknown,
    /// A letter of which nothing is known.
    Letter,
    /// Declared not to be a function.
    Variable,
}

/// What a bracket after a letter holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Call {
    /// Arguments.
    Arguments,
    /// A factor.
    Factor,
    /// Probably a factor.
    Unclear,
}

impl<'t> Context<'t> {
    pub(super) fn new(tokens: &[Token], declared: &'t Declared) -> Self {
        let mut context = Self {
            declared,
            letters: SmallVec::new(),
            differentials: Differentials::Never,
            splits: false,
            sets: false,
        };
        let mut differentials: SmallVec<[char; 4]> = SmallVec::new();
        let (mut thin, mut coefficients, mut upright) = (false, 0, false);
        for (index, token) in tokens.iter().enumerate() {
            match token.mark {
                Mark::Letter(letter) => {
                    if letter == 'c' || letter == 'b' || letter == 'a' {
                        coefficients |= 1 << (letter as u32 - 'a' as u32);
                    }
                    if letter == 'd'
                        && let Some(variable) = variable_after(tokens, index + 1)
                    {
                        if !differentials.contains(&variable) {
                            differentials.push(variable);
                        }
                        thin |= token.thin;
                        upright |= index > 0
                            && matches!(
                                tokens[index - 1].mark,
                                Mark::Style(Style::Roman) | Mark::StyleSwitch(Style::Roman)
                            );
                        if is_derivative_of(tokens, index) {
                            context.letter(variable).primed = true;
                        }
                    }
                    context.follow(tokens, index, letter);
                }
                Mark::Partial => {
                    if let Some(variable) = variable_after(tokens, index + 1)
                        && is_derivative_of(tokens, index)
                    {
                        context.letter(variable).primed = true;
                    }
                }
                Mark::DotAccent(_) => {
                    if let Some(variable) = variable_after(tokens, index + 1) {
                        context.letter(variable).primed = true;
                    }
                }
                Mark::Over | Mark::Choose => context.splits = true,
                Mark::SetOperation(
                    SetOperation::Union | SetOperation::Intersection | SetOperation::Difference,
                ) => context.sets = true,
                _ => {}
            }
        }
        // In a formula with coefficients a, b, c the letter d is one more of them.
        let is_coefficient = coefficients & 0b100 != 0 && coefficients & 0b011 != 0;
        context.differentials = match differentials.len() {
            0 => Differentials::Never,
            _ if upright || thin => Differentials::Always,
            _ if is_coefficient => Differentials::Never,
            1 => Differentials::Perhaps,
            _ => Differentials::Always,
        };
        context
    }

    /// Notes what follows a letter: primes, arguments, subscripts.
    fn follow(&mut self, tokens: &[Token], index: usize, letter: char) {
        let mark = |at: usize| tokens.get(at).map_or(Mark::Eof, |token| token.mark);
        let mut at = index + 1;
        if mark(at) == Mark::Down {
            // A subscript of letters that are variables, at least two: a second derivative.
            if mark(at + 1) == Mark::Open {
                let close = matching(tokens, at + 1);
                let inside = &tokens[(at + 2).min(close)..close];
                let variables = inside
                    .iter()
                    .all(|token| matches!(token.mark, Mark::Letter(v) if "xyztrsθ".contains(v)));
                self.letter(letter).partial |= inside.len() > 1 && variables;
                at = close + 1;
            } else {
                at += 2;
            }
        }
        let mut primed = false;
        loop {
            match mark(at) {
                Mark::Prime => {
                    primed = true;
                    at += 1;
                }
                Mark::Up if mark(at + 1) == Mark::Prime => {
                    primed = true;
                    at += 2;
                }
                Mark::Up if mark(at + 1) == Mark::Open => {
                    let close = matching(tokens, at + 1);
                    let inside = &tokens[(at + 2).min(close)..close];
                    match inside {
                        [first, ..] if first.mark == Mark::Prime => primed = true,
                        [open, digits @ .., end]
                            if open.mark == Mark::Delimiter(Delimiter::RoundOpen)
                                && end.mark == Mark::Delimiter(Delimiter::RoundClose)
                                && !digits.is_empty()
                                && digits.iter().all(|t| matches!(t.mark, Mark::Digit(_))) =>
                        {
                            primed = true;
                        }
                        _ => {}
                    }
                    at = close + 1;
                }
                _ => break,
            }
        }
        if primed {
            self.letter(letter).primed = true;
        }
        if mark(at) == Mark::Left {
            at += 1;
        }
        if mark(at) == Mark::Delimiter(Delimiter::RoundOpen) {
            let argument = match mark(at + 1) {
                Mark::Letter(argument) if argument != letter => Some(argument),
                _ => None,
            };
            let end = if mark(at + 2) == Mark::Right {
                at + 3
            } else {
                at + 2
            };
            if argument.is_some() && mark(end) == Mark::Delimiter(Delimiter::RoundClose) {
                self.letter(letter).applied = true;
            }
        }
    }

    fn letter(&mut self, letter: char) -> &mut Letter {
        let place = match self.letters.iter().position(|(known, _)| *known == letter) {
            Some(place) => place,
            None => {
                self.letters.push((letter, Letter::default()));
                self.letters.len() - 1
            }
        };
        &mut self.letters[place].1
    }

    fn known(&self, name: &str) -> Letter {
        let mut characters = name.chars();
        let (Some(letter), None) = (characters.next(), characters.next()) else {
            return Letter::default();
        };
        self.letters
            .iter()
            .find(|(known, _)| *known == letter)
            .map_or_else(Letter::default, |(_, letter)| *letter)
    }

    /// What this name is.
    pub(super) fn standing(&self, name: &str) -> Standing {
        if self.declared.variables.contains(name) {
            return Standing::Variable;
        }
        if self.declared.unknowns.contains(name) {
            return Standing::Unknown;
        }
        if self.declared.functions.contains(name) || FUNCTION_LETTERS.contains(name) {
            return Standing::Function;
        }
        let letter = self.known(name);
        match (letter.primed, letter.applied) {
            (true, _) => Standing::Unknown,
            (false, true) => Standing::Function,
            (false, false) => Standing::Letter,
        }
    }

    /// `e` and `i` are constants here.
    pub(super) fn is_constant(&self, name: &str) -> bool {
        let letter = self.known(name);
        !letter.primed
            && !letter.applied
            && !self.declared.variables.contains(name)
            && !self.declared.functions.contains(name)
            && !self.declared.unknowns.contains(name)
    }

    /// Subscripts of this letter are variables of differentiation.
    pub(super) fn has_partial_derivatives(&self, name: &str) -> bool {
        "fgh".contains(name)
            || self.known(name).partial
            || self.declared.functions.contains(name)
            || self.declared.unknowns.contains(name)
            || (self.known(name).applied && !"PpTSLCB".contains(name))
    }

    /// What a bracket after this name holds; `open` and `close` are its tokens, `starts` and
    /// `ends` say that nothing else stands on this side of a relation.
    pub(super) fn call(
        &self,
        tokens: &[Token],
        callee: Callee<'_>,
        open: usize,
        close: usize,
    ) -> Call {
        let standing = match self.standing(callee.name) {
            Standing::Variable => return Call::Factor,
            standing => standing,
        };
        let mut inside = &tokens[(open + 1).min(close)..close];
        if let [rest @ .., last] = inside
            && last.mark == Mark::Right
        {
            inside = rest;
        }
        if inside.is_empty() {
            return Call::Arguments;
        }
        let mut depth = 0_i32;
        let (mut comma, mut statement, mut letters, mut itself, mut unknown) =
            (false, false, 0, false, false);
        let mut bars = 0;
        for (place, token) in inside.iter().enumerate() {
            match token.mark {
                Mark::Open => depth += 1,
                Mark::Close => depth -= 1,
                Mark::Delimiter(delimiter) if delimiter.opens() => depth += 1,
                Mark::Delimiter(delimiter) if delimiter.closes() => depth -= 1,
                Mark::Comma if depth == 0 => comma = true,
                Mark::Delimiter(Delimiter::Bar) if depth == 0 => bars += 1,
                Mark::Relation(_)
                | Mark::Mid
                | Mark::SetOperation(_)
                | Mark::Logic(Connective::And | Connective::Or | Connective::Not)
                    if depth == 0 =>
                {
                    statement = true;
                }
                Mark::Letter(letter) => {
                    letters += 1;
                    let mut buffer = [0; 4];
                    let name: &str = letter.encode_utf8(&mut buffer);
                    let is_value = matches!(
                        inside.get(place + 1).map(|token| token.mark),
                        Some(Mark::Delimiter(Delimiter::RoundOpen) | Mark::Left | Mark::Prime)
                    );
                    itself |= !is_value && name == callee.name;
                    unknown |= !is_value && self.standing(name) == Standing::Unknown;
                }
                _ => {}
            }
        }
        // An odd bar stands before a condition, as in `P(A|B)`.
        if comma || statement || bars % 2 == 1 {
            return Call::Arguments;
        }
        let is_letter = is_single_letter(inside);
        let is_number = letters == 0;
        match standing {
            Standing::Function | Standing::Variable => match itself {
                true => Call::Factor,
                false => Call::Arguments,
            },
            Standing::Unknown => match (itself || unknown, is_number || is_letter) {
                (true, _) => Call::Factor,
                (false, true) => Call::Arguments,
                (false, false) => Call::Unclear,
            },
            Standing::Letter if itself => Call::Factor,
            Standing::Letter if is_letter || callee.side_alone && is_number => Call::Arguments,
            Standing::Letter if callee.primed => match is_number {
                true => Call::Arguments,
                false => Call::Unclear,
            },
            Standing::Letter if is_number => {
                let is_zero = matches!(inside, [zero] if zero.mark == Mark::Digit(0));
                if is_zero && !callee.subscript && QUANTITY_LETTERS.contains(callee.name) {
                    Call::Arguments
                } else if callee.subscript || inside[0].mark == Mark::Minus {
                    Call::Factor
                } else {
                    Call::Unclear
                }
            }
            Standing::Letter => {
                // A step function or an impulse is written as a call of a shifted time.
                let is_shift = inside.len() > 2
                    && inside[0].mark == Mark::Letter('t')
                    && inside[1].mark == Mark::Minus;
                match callee.name == "u" && is_shift {
                    true => Call::Unclear,
                    false => Call::Factor,
                }
            }
        }
    }
}

/// The name before a bracket.
#[derive(Clone, Copy)]
pub(super) struct Callee<'a> {
    pub(super) name: &'a str,
    /// It has a subscript.
    pub(super) subscript: bool,
    /// It has primes.
    pub(super) primed: bool,
    /// Nothing but the name and the bracket stands on its side of an equation.
    pub(super) side_alone: bool,
}

/// A letter, perhaps in a style or with an accent or a subscript, and nothing else.
fn is_single_letter(inside: &[Token]) -> bool {
    let mut letters = 0;
    let mut after_down = false;
    for token in inside {
        match token.mark {
            Mark::Letter(_) if after_down => {}
            Mark::Letter(_) => letters += 1,
            Mark::Style(_) | Mark::Accent(_) | Mark::Open | Mark::Close => {}
            Mark::Down => {
                after_down = true;
                continue;
            }
            Mark::Digit(_) if after_down => {}
            _ => return false,
        }
    }
    letters == 1
}

/// The letter that starts at this token, whatever its style.
fn variable_after(tokens: &[Token], mut at: usize) -> Option<char> {
    // `\mathrm{d}x` closes its group before the variable.
    if tokens.get(at)?.mark == Mark::Close && at >= 2 && tokens[at - 2].mark == Mark::Open {
        at += 1;
    }
    loop {
        match tokens.get(at)?.mark {
            Mark::Letter(letter) => return Some(letter),
            Mark::Style(_) | Mark::Accent(_) | Mark::Open => at += 1,
            _ => return None,
        }
    }
}

/// The `d` or `∂` at this token begins the numerator of a derivative of the letter after it.
fn is_derivative_of(tokens: &[Token], index: usize) -> bool {
    let sign = tokens[index].mark;
    tokens[index + 1..]
        .iter()
        .zip(&tokens[index + 2..])
        .zip(tokens.get(index + 3..).unwrap_or_default())
        .take(6)
        .any(|((first, second), third)| {
            (first.mark == Mark::Slash && second.mark == sign)
                || (first.mark == Mark::Close
                    && second.mark == Mark::Open
                    && (third.mark == sign || third.mark == Mark::Style(Style::Roman)))
        })
}

/// The token that closes the group opened by this one, or the last token.
pub(super) fn matching(tokens: &[Token], open: usize) -> usize {
    let mut depth = 0_usize;
    for (index, token) in tokens.iter().enumerate().skip(open) {
        match token.mark {
            Mark::Open => depth += 1,
            Mark::Close => {
                depth = depth.saturating_sub(1);
                if depth == 0 {
                    return index;
                }
            }
            _ => {}
        }
    }
    tokens.len()
}

/// The token that closes the round bracket opened by this one, or one past the last token.
pub(super) fn matching_round(tokens: &[Token], open: usize) -> usize {
    let mut depth = 0_usize;
    for (index, token) in tokens.iter().enumerate().skip(open) {
        match token.mark {
            Mark::Delimiter(Delimiter::RoundOpen) => depth += 1,
            Mark::Delimiter(Delimiter::RoundClose) => {
                depth = depth.saturating_sub(1);
                if depth == 0 {
                    return index;
                }
            }
            _ => {}
        }
    }
    tokens.len()
}
