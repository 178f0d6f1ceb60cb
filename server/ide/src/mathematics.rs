//! What the mathematics says of problems and answers, worked out once for each wording.
//!
//! The results are the same whenever they are worked out, so all snapshots of a notebook share one
//! table of them. A feature that answers a request works out what it needs; checks, which are many,
//! ask only for what is known, and what is not is worked out in the background.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

use math::problem::Problem;
use math::shape::{self, Match, Shape};
use math::sibling::{self, Siblings};
use math::verdict::Verdict;

use crate::memo::Memo;
use crate::wording::Wording;

/// The results so far.
#[derive(Debug, Default)]
pub struct Mathematics {
    matches: Mutex<Memo<Wording, Arc<Matches>>>,
    verdicts: Mutex<Memo<(Wording, Wording), Verdict>>,
    siblings: Mutex<Memo<(Wording, u64), Arc<Siblings>>>,
    classified: AtomicUsize,
    verified: AtomicUsize,
}

/// How a problem has each of the shapes that it was compared with, by the shape's text.
type Matches = BTreeMap<Box<str>, Option<Arc<Match>>>;

impl Mathematics {
    /// How a problem has each shape; `None` if that is not known of one of them.
    pub(crate) fn known_matches<'s>(
        &self,
        statement: &Wording,
        shapes: impl IntoIterator<Item = &'s Shape>,
    ) -> Option<Vec<Option<Arc<Match>>>> {
        let known = lock(&self.matches).get(statement).unwrap_or_default();
        let of = |shape: &Shape| known.get(shape.text()).cloned();
        shapes.into_iter().map(of).collect()
    }

    /// How a problem has each shape. `problem` is what the statement asks.
    pub(crate) fn matches(
        &self,
        statement: &Wording,
        problem: &Problem,
        shapes: &[&Shape],
    ) -> Vec<Option<Arc<Match>>> {
        let known = lock(&self.matches).get(statement).unwrap_or_default();
        let is_new = |shape: &&Shape| !known.contains_key(shape.text());
        let new: Vec<&Shape> = shapes.iter().copied().filter(is_new).collect();
        let all = match new.is_empty() {
            true => known,
            false => {
                self.classified.fetch_add(1, Ordering::Relaxed);
                let found = shape::classify(new.iter().copied(), problem);
                let found = new.iter().zip(found);
                let mut all = Matches::clone(&known);
                all.extend(found.map(|(shape, found)| (shape.text().into(), found.map(Arc::new))));
                let all = Arc::new(all);
                lock(&self.matches).put(statement.clone(), all.clone());
                all
            }
        };
        let of = |shape: &&Shape| all.get(shape.text()).cloned().flatten();
        shapes.iter().map(of).collect()
    }

    /// Whether an answer is right for a statement, if that has been worked out before.
    pub(crate) fn known_verdict(&self, statement: &Wording, answer: &Wording) -> Option<Verdict> {
        lock(&self.verdicts).get(&(statement.clone(), answer.clone()))
    }

    /// Whether an answer is right for a statement.
    pub(crate) fn verdict(&self, statement: &Wording, answer: &Wording) -> Verdict {
        if let Some(known) = self.known_verdict(statement, answer) {
            return known;
        }
        self.verified.fetch_add(1, Ordering::Relaxed);
        let verdict = math::verdict::verify(&statement.parts(), &answer.parts());
        let key = (statement.clone(), answer.clone());
        lock(&self.verdicts).put(key, verdict.clone());
        verdict
    }

    /// A problem like a statement with other numbers, drawn with a seed: one, or the reason why there
    /// is none.
    pub(crate) fn sibling(&self, statement: &Wording, seed: u64) -> Arc<Siblings> {
        let key = (statement.clone(), seed);
        if let Some(known) = lock(&self.siblings).get(&key) {
            return known;
        }
        let siblings = Arc::new(sibling::siblings(&statement.parts(), seed, 1));
        lock(&self.siblings).put(key, siblings.clone());
        siblings
    }

    /// How many answers were verified that had not been verified before.
    pub fn answers_verified(&self) -> usize {
        self.verified.load(Ordering::Relaxed)
    }

    /// How many problems were compared with shapes that they had not been compared with before.
    pub fn problems_classified(&self) -> usize {
        self.classified.load(Ordering::Relaxed)
    }
}

/// A result is put into its table whole, so that a panic elsewhere leaves nothing half done.
fn lock<T>(table: &Mutex<T>) -> MutexGuard<'_, T> {
    table.lock().unwrap_or_else(PoisonError::into_inner)
}
