//! Is this the right answer?
//!
//! [`verify`] holds an answer against the problem itself, not against a solution of our own: an
//! answer is substituted, differentiated or evaluated, so that every right form of it is right.
//! A right answer that is called wrong costs a student's trust, so a [`Verdict::Fails`] needs a
//! witness that does not hang on rounding; where there is none, the verdict is
//! [`Verdict::CannotTell`].
//!
//! One file answers for each kind of problem; [`answer`] tells how an answer is written, and
//! [`equivalence`] whether two expressions are equal.

mod answer;
mod claims;
mod equivalence;
mod interval;
mod roots;

mod calculus;
mod completeness;
mod equations;
mod expressions;
mod families;
mod functions;
mod inequalities;
mod quantities;
mod question;
mod substitution;
mod systems;
mod vector_systems;
mod vectors;
mod vocabulary;

use std::collections::BTreeSet;

use crate::expression::{Expression, Operator, Symbol};
use crate::problem::{self, Part, Task};
use crate::read::Declared;
use answer::Answer;
use question::Question;

/// What can be said of an answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// It is right.
    Holds,
    /// It is wrong.
    Fails {
        /// What is wrong, in one sentence without its final stop.
        reason: String,
        /// Where it can be seen: a point and the two values there, or the solution that is
        /// missing.
        witness: Option<String>,
    },
    /// It may be either.
    CannotTell {
        /// Why, in one sentence without its final stop.
        reason: String,
    },
}

impl Verdict {
    pub(crate) fn fails_at(reason: impl Into<String>, witness: impl Into<String>) -> Self {
        Self::Fails {
            reason: reason.into(),
            witness: Some(witness.into()),
        }
    }

    pub(crate) fn cannot_tell(reason: impl Into<String>) -> Self {
        Self::CannotTell {
            reason: reason.into(),
        }
    }
}

/// Whether an answer is right for a problem, each given as words and formulas in turn. Never
/// fails, and takes a bounded number of steps.
///
/// An answer that is right when an ambiguous formula is read the other way is right. Formulas with
/// more than 4,000 bytes together are too large to decide about.
pub fn verify(statement: &[Part<'_>], answer: &[Part<'_>]) -> Verdict {
    let length = |parts: &[Part<'_>]| -> usize {
        let formulas = parts.iter().map(|part| match part {
            Part::Tex(tex) => tex.len(),
            Part::Words(_) => 0,
        });
        formulas.sum()
    };
    if length(statement).max(length(answer)) > MAX_LENGTH {
        return Verdict::cannot_tell("too large");
    }
    let statement = tidied(statement);
    let answer = named_parts(tidied(answer));
    let usual = verify_as_read(&parts(&statement), &parts(&answer));
    if !matches!(usual, Verdict::Fails { .. }) {
        return usual;
    }
    let (other_statement, other_answer) = (otherwise(&statement), otherwise(&answer));
    let trials = [
        (other_statement.as_ref(), Some(&answer)),
        (Some(&statement), other_answer.as_ref()),
        (other_statement.as_ref(), other_answer.as_ref()),
    ];
    for trial in trials {
        let (Some(statement), Some(answer)) = trial else {
            continue;
        };
        if verify_as_read(&parts(statement), &parts(answer)) == Verdict::Holds {
            return Verdict::Holds;
        }
    }
    match vocabulary::is_understood(&parts(&statement)) {
        true => usual,
        false => Verdict::cannot_tell("what is asked is not understood"),
    }
}

/// The greatest length of all formulas of a statement or answer in bytes; those of textbooks have
/// some hundreds.
const MAX_LENGTH: usize = 4_000;

/// A piece of a statement or answer that is kept for itself.
#[derive(Clone, Debug)]
enum Piece {
    Words(String),
    Tex(String),
}

fn parts(pieces: &[Piece]) -> Vec<Part<'_>> {
    pieces
        .iter()
        .map(|piece| match piece {
            Piece::Words(words) => Part::Words(words),
            Piece::Tex(tex) => Part::Tex(tex),
        })
        .collect()
}

/// Operators that are often set as words.
const SET_AS_WORDS: [(&str, &str); 9] = [
    (r"x\text{-int", r"\text{x-int"),
    (r"y\text{-int", r"\text{y-int"),
    (r"x\text{ -int", r"\text{x-int"),
    (r"y\text{ -int", r"\text{y-int"),
    (r"\text{cis}", r"\operatorname{cis}"),
    (r"\mathrm{cis}", r"\operatorname{cis}"),
    (r"\text{proj}", r"\operatorname{proj}"),
    (r"\mathrm{proj}", r"\operatorname{proj}"),
    (r"\text{comp}", r"\operatorname{comp}"),
];

/// The pieces with the operators that are set as words, and without signs of currency.
fn tidied(parts: &[Part<'_>]) -> Vec<Piece> {
    parts
        .iter()
        .map(|part| match part {
            Part::Words(words) => Piece::Words((*words).to_owned()),
            Part::Tex(tex) => {
                let mut tex = tex.replace(r"\$", "").replace(r"\checkmark", "");
                for (words, operator) in SET_AS_WORDS {
                    if tex.contains(words) {
                        tex = tex.replace(words, operator);
                    }
                }
                Piece::Tex(tex)
            }
        })
        .collect()
}

/// The pieces of an answer with the letter of "`$y$`-intercept" as part of the word, and the
/// letters of "D: …, R: …" as the words that they stand for.
fn named_parts(pieces: Vec<Piece>) -> Vec<Piece> {
    let mut named: Vec<Piece> = Vec::with_capacity(pieces.len());
    for piece in pieces {
        match piece {
            Piece::Words(words) if words.starts_with("-int") || words.starts_with("-axis") => {
                match named.pop() {
                    Some(Piece::Tex(tex)) if tex.trim().chars().count() == 1 => {
                        named.push(Piece::Words(format!("{}{words}", tex.trim())));
                    }
                    before => {
                        named.extend(before);
                        named.push(Piece::Words(words));
                    }
                }
            }
            Piece::Tex(tex) if tex.starts_with("D:") && tex.contains("R:") => {
                let tex = tex
                    .replace("D:", r"\text{domain }")
                    .replace("R:", r"\text{range }");
                named.push(Piece::Tex(tex));
            }
            piece => named.push(piece),
        }
    }
    named
}

/// The pieces with what can be read in two ways written so that it is read the other way; none if
/// there is no such formula.
fn otherwise(pieces: &[Piece]) -> Option<Vec<Piece>> {
    let mut is_changed = false;
    let pieces = pieces
        .iter()
        .map(|piece| match piece {
            Piece::Tex(tex) => match crate::read::other_reading(tex, &Declared::new()) {
                Some(other) => {
                    is_changed = true;
                    Piece::Tex(other)
                }
                None => piece.clone(),
            },
            Piece::Words(_) => piece.clone(),
        })
        .collect();
    is_changed.then_some(pieces)
}

fn verify_as_read(statement: &[Part<'_>], answer: &[Part<'_>]) -> Verdict {
    if let Some((statement, answer)) = vector_systems::in_components(statement, answer) {
        return verify_in_components(&parts(&statement), &parts(&answer));
    }
    verify_in_components(statement, answer)
}

fn verify_in_components(statement: &[Part<'_>], answer: &[Part<'_>]) -> Verdict {
    let statement = &without_templates(&apart(statement));
    let mut problem = problem::read(statement);
    if let Ok(read) = answer::read(answer, &problem) {
        let question = Question::new(problem.clone(), statement);
        if let Some(verdict) = quantities::judge(&question, &read) {
            return verdict;
        }
    }
    let cut = answer::cut_at_words(answer);
    let of_calculus = cut.as_deref().map(parts);
    let of_calculus = of_calculus.as_deref().unwrap_or(answer);
    if let Some(verdict) = calculus::judge(&problem, statement, of_calculus) {
        return verdict;
    }
    let answer = match answer::read(answer, &problem) {
        Ok(answer) => answer,
        Err(reason) => return Verdict::cannot_tell(reason),
    };
    if matches!(
        problem.task,
        Task::Equation | Task::Inequality | Task::System | Task::Simplify | Task::Other
    ) {
        let called: BTreeSet<Symbol> = problem.main.iter().flat_map(called).collect();
        let letters: BTreeSet<Symbol> = answer
            .formulas
            .iter()
            .flat_map(Expression::free_symbols)
            .filter(|letter| {
                called.contains(letter) && !answer.formulas.iter().any(|f| is_function(f, letter))
            })
            .collect();
        if !letters.is_empty() {
            problem.main = problem.main.map(|main| uncalled(&main, &letters));
        }
    }
    judge(&Question::new(problem, statement), &answer)
}

/// The letters that are used as functions of one argument.
fn called(expression: &Expression) -> Vec<Symbol> {
    let parts = expression.parts();
    parts
        .filter_map(|part| match (part.operator(), part.operands()) {
            (Operator::Apply, [function, _]) => function.as_symbol().cloned(),
            _ => None,
        })
        .collect()
}

/// The letter is a function, its inverse, or part of a composition somewhere.
fn is_function(expression: &Expression, letter: &Symbol) -> bool {
    expression.parts().any(|part| {
        matches!(
            part.operator(),
            Operator::Apply | Operator::InverseFunction | Operator::Composition
        ) && part
            .operands()
            .first()
            .is_some_and(|function| function.mentions(letter))
    })
}

/// A statement with the words inside its formulas, as in `A = bh \text{ for } h`, as words.
fn apart<'a>(statement: &[Part<'a>]) -> Vec<Part<'a>> {
    let mut pieces = Vec::with_capacity(statement.len());
    for part in statement {
        match part {
            Part::Tex(tex) if tex.contains(r"\text{") => {
                problem::pieces_of_formula(tex, &mut pieces);
            }
            part => pieces.push(*part),
        }
    }
    pieces
}

/// A statement without the formulas that only show what an answer looks like: "in the form
/// `$a + bi$`".
pub(crate) fn without_templates<'a>(statement: &[Part<'a>]) -> Vec<Part<'a>> {
    let mut kept: Vec<Part<'a>> = Vec::with_capacity(statement.len());
    for part in statement {
        let shows_form = match (kept.last(), part) {
            (Some(Part::Words(words)), Part::Tex(_)) => {
                let words = words.trim_end().to_lowercase();
                words.ends_with(" form") || words.ends_with("form:")
            }
            _ => false,
        };
        if !shows_form {
            kept.push(*part);
        }
    }
    kept
}

/// `h(a + b)` where the answer shows that h is a number.
fn uncalled(expression: &Expression, letters: &BTreeSet<Symbol>) -> Expression {
    let changed = expression.map_operands(|operand| uncalled(operand, letters));
    match (changed.operator(), changed.operands()) {
        (Operator::Apply, [function, argument])
            if function
                .as_symbol()
                .is_some_and(|letter| letters.contains(letter)) =>
        {
            Expression::product([function.clone(), argument.clone()])
        }
        _ => changed,
    }
}

fn judge(question: &Question, answer: &Answer) -> Verdict {
    let problem = &question.problem;
    if question.says(&[
        "how many",
        "number of solutions",
        "number of real",
        "number and type",
        "number and kind",
        "nature of the",
    ]) {
        return Verdict::cannot_tell("how many there are is not checked");
    }
    let is_about_vectors = matches!(problem.task, Task::Simplify | Task::Other | Task::Sum)
        && vectors::is_asked(question)
        || matches!(problem.task, Task::Equation | Task::System)
            && vectors::names_vectors(question);
    match problem.task {
        _ if is_about_vectors => vectors::judge(question, answer),
        Task::Equation
            if question.says(&["asymptote", "intercept", "domain", "range of", "vertex"]) =>
        {
            functions::judge(question, answer)
        }
        Task::Equation | Task::Inequality | Task::System => equations::judge(question, answer),
        Task::Simplify => functions::judge_words(question, answer)
            .unwrap_or_else(|| expressions::judge(question, answer)),
        Task::Matrix => vectors::judge(question, answer),
        Task::Statement
            if question.says(&[
                "prove",
                "show that",
                "verify",
                "derive",
                "justify",
                "explain",
            ]) =>
        {
            Verdict::cannot_tell("a proof is not checked")
        }
        // "Classify the equation and state the solution."
        Task::Statement if question.says(&["solution", "solve", "domain", "range"]) => {
            functions::judge(question, answer)
        }
        Task::Statement => Verdict::cannot_tell("a proof is not checked"),
        // A finite sum is a number like any other.
        Task::Sum => expressions::judge_sum(question, answer),
        Task::Differentiate | Task::Integrate | Task::Limit | Task::Ode => {
            Verdict::cannot_tell("what is asked is not understood")
        }
        Task::Other => functions::judge(question, answer),
    }
}
