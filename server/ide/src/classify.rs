//! What kind of problem is a formula or a statement, outside any notes?

use std::collections::BTreeMap;

use math::problem::Task;
use math::{Declared, Expression, Operator, print};

use crate::kinds::{Catalogue, Kind};
use crate::mathematics::Mathematics;
use crate::wording::{Unread, Wording, unread};

/// A statement on its own.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Statement<'a> {
    /// A formula, or words with formulas between dollar signs.
    pub text: &'a str,
    /// An instruction in front of it, as a textbook prints one above a group of problems; it may be
    /// empty.
    pub prompt: &'a str,
}

/// What a statement was understood as.
#[derive(Clone, Debug, PartialEq)]
pub struct Classified {
    /// Whether every formula could be read.
    pub is_read: bool,
    /// What could not be read, or can be read in two ways; bytes of the statement's text.
    pub unread: Vec<Unread>,
    /// What is to be done, in one word.
    pub task: &'static str,
    /// The same for all problems that are this one with other numbers; none if there is no formula
    /// to go by.
    pub fingerprint: Option<String>,
    /// The kinds, the likeliest first.
    pub kinds: Vec<ClassifiedKind>,
}

/// A kind that a statement is of.
#[derive(Clone, Debug, PartialEq)]
pub struct ClassifiedKind {
    /// The pattern's title.
    pub pattern: String,
    /// The laws that show it, in the order in which they are used.
    pub laws: Vec<&'static str>,
    /// What fills each hole of the shape, by its letter, in TeX.
    pub holes: BTreeMap<String, String>,
}

impl Statement<'_> {
    /// The statement as words and formulas.
    pub fn wording(&self) -> Wording {
        Wording::of_text(self.text).after(self.prompt)
    }
}

/// Classifies a statement by the patterns of a catalogue. Never fails.
pub fn classify(
    catalogue: &Catalogue<'_>,
    mathematics: &Mathematics,
    statement: Statement<'_>,
) -> Classified {
    let wording = statement.wording();
    let problem = math::problem::read(&wording.parts());
    let unread = unread(statement.text);
    let kinds = catalogue.kinds(mathematics, &wording, &problem);
    Classified {
        is_read: wording.has_formula() && !unread.iter().any(|one| one.is_grave),
        unread,
        task: task_word(problem.task),
        fingerprint: problem
            .fingerprint
            .map(|fingerprint| fingerprint.to_string()),
        kinds: kinds.iter().map(classified).collect(),
    }
}

fn classified(kind: &Kind<'_>) -> ClassifiedKind {
    let declared = Declared::new();
    let holes = kind.found.holes.iter();
    ClassifiedKind {
        pattern: kind.title(),
        laws: kind.found.laws.iter().map(|law| law.statement()).collect(),
        holes: holes
            .map(|(letter, filling)| {
                let letter = Expression::new(Operator::Symbol(letter.clone()), []);
                (print::plain(&letter), print::tex(filling, &declared))
            })
            .collect(),
    }
}

/// What is to be done, in one word.
pub fn task_word(task: Task) -> &'static str {
    match task {
        Task::Equation => "equation",
        Task::Inequality => "inequality",
        Task::System => "system",
        Task::Simplify => "simplify",
        Task::Differentiate => "differentiate",
        Task::Integrate => "integrate",
        Task::Limit => "limit",
        Task::Sum => "sum",
        Task::Ode => "ode",
        Task::Matrix => "matrix",
        Task::Statement => "statement",
        Task::Other => "other",
    }
}
