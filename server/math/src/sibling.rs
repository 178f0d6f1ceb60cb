//! Another problem of the same kind?
//!
//! [`siblings`] gives problems with the words and the structure of a given one and other numbers,
//! each with its key. Numbers are drawn at the size of those they replace, where possible from an
//! answer that was drawn first; a drawn problem is kept only if
//!
//! * it has the fingerprint of the original: the same problem once numbers are seen through; and
//!   what the method depends on beyond it is the same: the form of a limit, the growth of a series'
//!   terms, whether a solution is extraneous,
//! * it has the same of the given shapes, and the same one tells its kind best,
//! * it can be solved exactly, and its key is made of the same things and no uglier than that of the
//!   original,
//! * problem and key are written as a textbook would print them,
//! * its key holds when it is verified against the problem.
//!
//! The same seed gives the same problems on every platform. Nothing is shown that was not verified:
//! where too few are found within the limit of steps, the reason is told.

mod draw;
mod kind;
mod literals;
mod look;
mod random;
mod size;
#[cfg(test)]
mod tests;

use std::collections::BTreeSet;

use crate::expression::{Expression, Operator, Relation};
use crate::fingerprint::{self, Fingerprint};
use crate::print;
use crate::problem::{self, Part, Problem, Task};
use crate::read::{Class, Declared};
use crate::shape::Shape;
use crate::solve::{self, Key};
use crate::stable_hash::Digest;
use crate::verdict::{self, Verdict};
use draw::Liberty;
use kind::{Fit, Kind};
use literals::Literal;
use look::Fault;
use random::Random;
use size::Size;

/// A piece of a statement or of a key, owned.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Piece {
    /// Words.
    Words(String),
    /// The TeX of one formula, without its dollar signs.
    Tex(String),
}

/// A fresh problem with its key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sibling {
    /// The words of the original, with other formulas.
    pub statement: Vec<Piece>,
    /// The key.
    pub answer: Vec<Piece>,
}

/// What was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Siblings {
    /// The problems, each different from the original and from the others.
    pub found: Vec<Sibling>,
    /// Why there are fewer than were asked for, in one sentence without its final stop.
    pub reason: Option<String>,
}

impl Piece {
    /// The piece as a part of a statement.
    pub fn as_part(&self) -> Part<'_> {
        match self {
            Self::Words(words) => Part::Words(words),
            Self::Tex(tex) => Part::Tex(tex),
        }
    }
}

/// The pieces as notes write them, formulas between dollar signs.
pub fn text(pieces: &[Piece]) -> String {
    let pieces = pieces.iter().map(|piece| match piece {
        Piece::Words(words) => words.clone(),
        Piece::Tex(tex) => format!("${tex}$"),
    });
    pieces.collect()
}

/// The work of one call, in units of a drawn problem.
const MAX_STEPS: u32 = 12_000;

/// A solved problem costs so many units, a classified and a verified one so many more.
const STEPS_TO_SOLVE: u32 = 4;
const STEPS_TO_CLASSIFY: u32 = 10;
const STEPS_TO_VERIFY: u32 = 20;

/// At most so many problems are given at once.
pub const MAX_COUNT: usize = 200;

/// Problems like a given one with other numbers, with their keys: `count` of them, or fewer and the
/// reason. The statement is words and formulas in turn, as for [`problem::read`]. Takes a bounded
/// number of steps.
pub fn siblings(statement: &[Part<'_>], seed: u64, count: usize) -> Siblings {
    siblings_with_shapes(statement, &[], seed, count)
}

/// The same, where each problem has those of the shapes that the given one has, and no other of
/// them.
pub fn siblings_with_shapes(
    statement: &[Part<'_>],
    shapes: &[Shape],
    seed: u64,
    count: usize,
) -> Siblings {
    let mut found = Vec::new();
    let reason = match Search::new(statement, shapes, seed) {
        Ok(mut search) => search.run(count.min(MAX_COUNT), &mut found),
        Err(reason) => Some(reason),
    };
    let reason = reason.filter(|_| found.len() < count);
    Siblings { found, reason }
}

/// The key of a problem: solved, and verified against the problem. The error says why there is none,
/// in one sentence without its final stop. Takes a bounded number of steps.
pub fn key(statement: &[Part<'_>]) -> Result<Vec<Piece>, String> {
    let problem = problem::read(&verdict::without_templates(statement));
    let (_, declared) = formulas(statement)?;
    let mut why = "none was found".to_owned();
    for key in solve::solve(&problem)? {
        let answer = pieces(&key, &declared);
        let parts: Vec<Part<'_>> = answer.iter().map(Piece::as_part).collect();
        match verdict::verify(statement, &parts) {
            Verdict::Holds => return Ok(answer),
            Verdict::Fails { reason, .. } | Verdict::CannotTell { reason } => why = reason,
        }
    }
    Err(format!("its answer could not be verified: {why}"))
}

struct Search<'a> {
    statement: &'a [Part<'a>],
    original: Problem,
    fingerprint: Fingerprint,
    /// The formulas of the statement with their literals, in order.
    formulas: Vec<(Expression, Vec<Literal>)>,
    /// The TeX of the formulas.
    written: Vec<&'a str>,
    declared: Declared,
    kind: Kind,
    shapes: &'a [Shape],
    /// How the original has the shapes.
    fit: Fit,
    keys: Vec<Original>,
    /// What one would not print in the formulas of the original.
    faults: BTreeSet<Fault>,
    random: Random,
    /// The TeX of the formulas of the original and of all problems found so far.
    known: Vec<Vec<String>>,
    /// What was drawn so far with the present liberty.
    tried: BTreeSet<Vec<String>>,
    steps: u32,
    /// How far the drawn problems came.
    rejected: Rejected,
}

/// A key of the original.
struct Original {
    size: Size,
    outline: String,
    faults: BTreeSet<Fault>,
}

impl Original {
    fn of(key: &Key, task: Task) -> Self {
        Self {
            size: Size::of(key),
            outline: kind::outline(key, task),
            faults: faults_of(key),
        }
    }
}

fn faults_of(key: &Key) -> BTreeSet<Fault> {
    match key {
        Key::Formula(formula) => look::faults(formula),
        Key::Words(_) => BTreeSet::new(),
    }
}

#[derive(Default)]
struct Rejected {
    kind: u32,
    unsolved: u32,
    ugly: u32,
    unverified: u32,
    last: Option<String>,
}

impl<'a> Search<'a> {
    fn new(statement: &'a [Part<'a>], shapes: &'a [Shape], seed: u64) -> Result<Self, String> {
        let original = problem::read(&verdict::without_templates(statement));
        let Some(fingerprint) = fingerprint(&original) else {
            return Err("what is asked is not understood".into());
        };
        let (formulas, declared) = formulas(statement)?;
        let formulas: Vec<(Expression, Vec<Literal>)> = formulas
            .into_iter()
            .map(|formula| {
                let literals = literals::literals(&formula);
                (formula, literals)
            })
            .collect();
        let mut conditions = original.conditions.iter();
        if conditions
            .any(|condition| !is_understood(condition) && !literals::literals(condition).is_empty())
        {
            return Err("it is not clear how its formulas belong together".into());
        }
        if formulas.iter().all(|(_, literals)| literals.is_empty()) {
            return Err("there is no number in it to be changed".into());
        }
        let keys = solve::solve(&original)?;
        let keys: Vec<Original> = keys
            .iter()
            .map(|k| Original::of(k, original.task))
            .collect();
        let faults = formulas
            .iter()
            .flat_map(|(formula, _)| look::faults(formula));
        let faults = faults.collect();
        let (kind, fit) = (Kind::of(&original), Fit::of(shapes, &original));
        let written: Vec<&str> = statement.iter().filter_map(tex_of).collect();
        let shown = written.iter().map(|tex| (*tex).to_owned()).collect();
        Ok(Self {
            statement,
            original,
            fingerprint,
            formulas,
            written,
            declared,
            kind,
            shapes,
            fit,
            keys,
            faults,
            random: Random::new(seed),
            known: vec![shown],
            tried: BTreeSet::new(),
            steps: 0,
            rejected: Rejected::default(),
        })
    }

    /// The reason why no more were found.
    fn run(&mut self, count: usize, found: &mut Vec<Sibling>) -> Option<String> {
        // What changes least is tried first; each stage has a share of the steps.
        let stages = [
            (false, false, false, 40),
            (true, false, false, 60),
            (true, true, false, 80),
            (true, true, true, 100),
        ];
        for (unwritten, exponents, is_loose, share) in stages {
            let liberty = Liberty {
                unwritten,
                exponents,
                wide: is_loose,
            };
            self.tried.clear();
            while self.steps < MAX_STEPS / 100 * share {
                if found.len() >= count {
                    return None;
                }
                self.steps += 1;
                if let Some(sibling) = self.attempt(liberty, is_loose) {
                    found.push(sibling);
                }
            }
        }
        (found.len() < count).then(|| self.rejected.reason())
    }

    fn attempt(&mut self, liberty: Liberty, is_loose: bool) -> Option<Sibling> {
        let values = draw::draw(&mut self.random, &self.original, &self.formulas, liberty)?;
        let formulas = self.formulas.iter().zip(&self.written).zip(&values);
        let tex: Vec<String> = formulas
            .map(|(((formula, literals), tex), values)| {
                literals::tex_with_values(tex, formula, literals, values, &self.declared)
                    .unwrap_or_else(|| {
                        print::tex(&literals::with_values(formula, values), &self.declared)
                    })
            })
            .collect();
        if self.known.contains(&tex) || !self.tried.insert(tex.clone()) {
            return None;
        }
        if !self.is_printable(&tex) {
            self.rejected.ugly += 1;
            return None;
        }
        let mut formulas = tex.iter();
        let statement: Vec<Piece> = self
            .statement
            .iter()
            .map(|part| match part {
                Part::Words(words) => Piece::Words((*words).to_owned()),
                Part::Tex(_) => Piece::Tex(formulas.next().cloned().unwrap_or_default()),
            })
            .collect();
        let parts: Vec<Part<'_>> = statement.iter().map(Piece::as_part).collect();
        let problem = problem::read(&verdict::without_templates(&parts));
        if fingerprint(&problem) != Some(self.fingerprint) || problem.task != self.original.task {
            self.rejected.kind += 1;
            return None;
        }
        self.steps += STEPS_TO_SOLVE;
        if Kind::of(&problem) != self.kind {
            self.rejected.kind += 1;
            return None;
        }
        let keys = match solve::solve(&problem) {
            Ok(keys) => keys,
            Err(reason) => {
                self.rejected.unsolved += 1;
                self.rejected.last.get_or_insert(reason);
                return None;
            }
        };
        // The first key is the usual one; the others are those of other customs.
        for (key, original) in keys.iter().zip(&self.keys) {
            if kind::outline(key, problem.task) != original.outline {
                self.rejected.kind += 1;
                continue;
            }
            if !Size::of(key).fits(&original.size, is_loose)
                || !faults_of(key).is_subset(&original.faults)
            {
                self.rejected.ugly += 1;
                continue;
            }
            self.steps += STEPS_TO_CLASSIFY;
            // What changes little should not need other laws; further on any way there will do.
            let by_laws = !liberty.unwritten;
            if !Fit::of(self.shapes, &problem).is_like(&self.fit, by_laws) {
                self.rejected.kind += 1;
                return None;
            }
            let answer = pieces(key, &self.declared);
            let key: Vec<Part<'_>> = answer.iter().map(Piece::as_part).collect();
            self.steps += STEPS_TO_VERIFY;
            match verdict::verify(&parts, &key) {
                Verdict::Holds => {
                    self.known.push(tex);
                    return Some(Sibling { statement, answer });
                }
                Verdict::Fails { reason, .. } | Verdict::CannotTell { reason } => {
                    self.rejected.unverified += 1;
                    self.rejected.last = Some(reason);
                }
            }
        }
        None
    }

    /// The formulas have no fault that those of the original have not.
    fn is_printable(&self, tex: &[String]) -> bool {
        tex.iter().all(|tex| {
            let formula = crate::read(tex, &self.declared).expression;
            look::faults(&formula).is_subset(&self.faults)
        })
    }
}

fn pieces(key: &Key, declared: &Declared) -> Vec<Piece> {
    match key {
        Key::Formula(formula) => vec![Piece::Tex(print::tex(formula, declared))],
        Key::Words(words) => vec![Piece::Words((*words).to_owned())],
    }
}

impl Rejected {
    fn reason(&self) -> String {
        let most = self
            .kind
            .max(self.unsolved)
            .max(self.ugly)
            .max(self.unverified);
        match (&self.last, most) {
            (Some(reason), _) if self.unverified > 0 => {
                format!("the keys of the problems drawn could not be verified: {reason}")
            }
            (Some(reason), most) if most == self.unsolved => {
                format!("the problems drawn could not be solved: {reason}")
            }
            (_, most) if most == self.ugly && most > 0 => {
                "the answers of the problems drawn are not as simple as that of this one".into()
            }
            (_, most) if most == self.kind && most > 0 => {
                "with other numbers it becomes a problem of another kind".into()
            }
            _ => "there are no more problems of this kind with numbers of this size".into(),
        }
    }
}

/// The fingerprint; of "find `$f(3)$`", too, where the words alone tell nothing.
fn fingerprint(problem: &Problem) -> Option<Fingerprint> {
    problem.fingerprint.or_else(|| {
        let is_defined = problem.task == Task::Other && !problem.conditions.is_empty();
        let remainder = Some(Digest::tag(0)).filter(|_| is_defined);
        fingerprint::of(&Problem {
            remainder,
            ..problem.clone()
        })
    })
}

/// A condition whose numbers may change by themselves: a value, an interval, a point, a function that
/// is defined. A hint, such as `$u = x^2 + 1$`, would have to change with what it is about.
fn is_understood(condition: &Expression) -> bool {
    let is_constant = |e: &Expression| e.free_symbols().is_empty();
    match (condition.operator(), condition.operands()) {
        (Operator::Interval(_) | Operator::Tuple(_) | Operator::Apply, _) => true,
        (Operator::Relation(relations), [left, right]) => {
            relations[0] != Relation::Equal
                || is_constant(right)
                || matches!(left.operator(), Operator::Apply)
        }
        (Operator::Relation(_), _) => true,
        _ => is_constant(condition) || condition.as_symbol().is_some(),
    }
}

fn tex_of<'a>(part: &Part<'a>) -> Option<&'a str> {
    match part {
        Part::Tex(tex) => Some(tex),
        Part::Words(_) => None,
    }
}

/// The formulas of a statement, read with what all of them say about which letters are functions.
fn formulas(statement: &[Part<'_>]) -> Result<(Vec<Expression>, Declared), String> {
    let tex: Vec<&str> = statement.iter().filter_map(tex_of).collect();
    let mut declared = Declared::new();
    for tex in &tex {
        let reading = crate::read(tex, &declared);
        let mut faults = reading.diagnostics.iter();
        if let Some(fault) = faults.find(|fault| fault.class == Class::Malformed) {
            return Err(format!("a formula cannot be read: {}", fault.message));
        }
        declared.learn(&reading.expression);
    }
    let formulas = tex
        .iter()
        .map(|tex| crate::read(tex, &declared).expression)
        .collect();
    Ok((formulas, declared))
}
