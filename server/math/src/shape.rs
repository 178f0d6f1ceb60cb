//! Which kind of problem is this?
//!
//! A [`Shape`] is a template and conditions, as a pattern's `shape:` field has them:
//!
//! ```text
//! $y' + p y = q$ where p, q depend only on x; p is not 0
//! ```
//!
//! The letters of the template are *holes*, filled by parts of the problem, or *variables*, which
//! stand for a letter of the problem. A letter is a variable if something else depends on it, is
//! differentiated or integrated by it, or if no condition says anything of it; else it is a hole.
//! A hole of which no condition says otherwise, as the point of a limit, may be anything.
//!
//! Other conditions speak of the problem itself: what its words ask ("asks to factor", "asks for the
//! tangent line"), and how its formula is written ("the formula contains a root", "the formula is
//! written as a sum"). A shape may consist of these alone, without a template.
//!
//! The match is modulo the ordinary laws of algebra: equations are compared as they stand, solved
//! for what the template isolates, and with everything on one side; a coefficient of 1 or 0 is a
//! coefficient, except that the highest power of a polynomial equation must be there. What a
//! student must do beyond moving terms is told by the [laws](crate::laws) of the match.

mod conditions;
mod matching;
mod read;
mod template;
mod written;

use std::cmp::Reverse;
use std::collections::{BTreeMap, BTreeSet};

pub use read::read;

use crate::expression::{Expression, Symbol};
use crate::laws::Law;
use crate::problem::{Problem, Task};
use crate::search;
use crate::surface;
use conditions::Condition;
pub(crate) use matching::{Known, Subject};
use template::Template;
pub(crate) use template::{Form, Signature, without_arguments};
use written::Written;

/// A template and conditions on its holes.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    text: String,
    // None if there is no formula that can be read.
    template: Option<Template>,
    conditions: Vec<Condition>,
    words: WordConditions,
    generality: i32,
}

/// What a shape says of the problem itself, and not of what fills a hole.
#[derive(Clone, Debug, Default, PartialEq)]
struct WordConditions {
    /// What the words of a problem must ask.
    asks: BTreeSet<&'static str>,
    /// What they must not ask.
    refuses: BTreeSet<&'static str>,
    /// How the problem's formula must be written.
    written: Vec<Written>,
}

/// How a problem has a shape.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Match {
    /// The laws that lead from the problem as written to a form that the template fits, in the
    /// order in which they are used. Reordering, moving terms to the other side and collecting
    /// like terms are not told.
    pub laws: Vec<Law>,
    /// Terms were moved to another side.
    is_rearranged: bool,
    /// What fills each hole of the template.
    pub holes: BTreeMap<Symbol, Expression>,
}

impl Shape {
    fn new(
        text: &str,
        template: Option<Template>,
        conditions: Vec<Condition>,
        mut words: WordConditions,
    ) -> Self {
        // "asks for a substitution; does not ask for a trigonometric substitution" is not against
        // substitutions.
        words.refuses = &words.refuses - &words.asks;
        let generality = match &template {
            Some(template) => {
                template.generality() - conditions.iter().map(Condition::weight).sum::<i32>()
            }
            None => 0,
        } - words.written.len() as i32;
        Self {
            text: text.to_owned(),
            template,
            conditions,
            words,
            generality,
        }
    }

    /// The shape as it was written.
    pub fn text(&self) -> &str {
        &self.text
    }

    /// Nothing could be read of it, so that no problem has it.
    pub fn is_empty(&self) -> bool {
        self.template.is_none() && self.words.asks.is_empty() && self.words.written.is_empty()
    }

    /// How well a match with this shape tells what kind a problem is of.
    pub fn rank(&self, found: &Match) -> Rank {
        Rank {
            named: Reverse(self.words.asks.len()),
            laws: found.laws.iter().map(|law| law.weight()).sum(),
            is_rearranged: found.is_rearranged,
            generality: self.generality,
        }
    }

    /// The template, if there is one.
    pub fn template(&self) -> Option<&Expression> {
        self.template.as_ref().map(|template| &template.written)
    }
}

impl Shape {
    /// The words of the problem ask what the shape wants them to ask, and its formula is written
    /// as the shape says.
    pub(crate) fn is_asked(&self, problem: &Problem) -> bool {
        self.words.asks.is_subset(&problem.instructions)
            && self.words.refuses.is_disjoint(&problem.instructions)
            && self.words.written.iter().all(|written| {
                problem
                    .main
                    .as_ref()
                    .is_some_and(|main| written.holds(main))
            })
    }

    /// The shape has no template, and the problem has all that it says.
    pub(crate) fn fits_without_template(&self, problem: &Problem) -> bool {
        let is_told = !self.words.asks.is_empty();
        let says_something = is_told || !self.words.written.is_empty();
        // Without a word about what is asked, it is about expressions to be written otherwise.
        let is_task = is_told || matches!(problem.task, Task::Simplify | Task::Matrix);
        self.template.is_none() && says_something && is_task && self.is_asked(problem)
    }

    /// What a formula must be like; none if the shape has no template.
    pub(crate) fn signature(&self) -> Option<Signature> {
        self.template.as_ref().map(|template| template.signature)
    }

    /// One side of its template is a plain number, as of an equation that is to be solved.
    pub(crate) fn compares_with_number(&self) -> bool {
        let sides = self
            .template
            .iter()
            .filter_map(|template| template.body.as_relation());
        sides.into_iter().any(|(left, _, right)| {
            surface::number(left).is_some() || surface::number(right).is_some()
        })
    }

    /// How a form of a problem has the shape, where these laws have led to the form. Takes steps
    /// from the budget.
    pub(crate) fn fit(
        &self,
        subject: &Subject<'_>,
        laws: &[Law],
        budget: &mut u32,
    ) -> Option<Match> {
        let template = self.template.as_ref()?;
        let found = matching::find(template, &self.conditions, subject, budget)?;
        let mut once: Vec<Law> = Vec::new();
        for law in laws.iter().copied().chain(found.laws) {
            if !once.contains(&law) {
                once.push(law);
            }
        }
        let letters = template.holes.iter().map(|hole| hole.letter.clone());
        Some(Match {
            is_rearranged: found.is_rearranged,
            laws: once,
            holes: letters.zip(found.holes).collect(),
        })
    }
}

/// How a problem has a shape, with as few laws as possible; none if it has not, or if that is not
/// found within the limits of the [search].
pub fn matches(shape: &Shape, problem: &Problem) -> Option<Match> {
    classify([shape], problem).pop()?
}

/// For each shape, how the problem has it. One search serves all of them.
pub fn classify<'s>(
    shapes: impl IntoIterator<Item = &'s Shape>,
    problem: &Problem,
) -> Vec<Option<Match>> {
    search::classify(shapes, problem).0
}

/// Orders the matches of one problem, the best first: what the words ask for by name, then what
/// needs the fewest and lightest laws, then what stands there as written, then the most specific
/// shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Rank {
    named: Reverse<usize>,
    laws: u32,
    is_rearranged: bool,
    generality: i32,
}

/// The places of the shapes that a problem has, the best match first.
pub fn best_first(shapes: &[Shape], found: &[Option<Match>]) -> Vec<usize> {
    let ranks = shapes.iter().zip(found).map(|(shape, found)| {
        let found = found.as_ref()?;
        Some(shape.rank(found))
    });
    let mut places: Vec<(Rank, usize)> = ranks
        .enumerate()
        .filter_map(|(place, rank)| Some((rank?, place)))
        .collect();
    places.sort();
    places.into_iter().map(|(_, place)| place).collect()
}
