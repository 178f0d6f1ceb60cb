//! The findings of the notebook, kept up to date with its changes.
//!
//! Whoever needs findings (the publisher, a request for diagnostics or for code actions) first
//! lets the checker take in what was touched since the last one who did. A burst of changes is
//! thus checked once, however many changes it has.
//!
//! What the checks ask the mathematics is worked out in the background, part by part, and taken in
//! the same way: see [`work_in_background`].

use std::collections::{BTreeSet, VecDeque};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;
use std::time::{Duration, Instant};

use ide::diagnostics::{Checker, Finding, work_out};
use ide::{Delta, FilePath, UnitId};
use tokio::sync::{Mutex, Notify, OwnedMutexGuard};
use tokio::task::JoinError;
use tower_lsp::jsonrpc::{Error, Result};
use tower_lsp::lsp_types::{Diagnostic, DiagnosticSeverity, Range};
use tracing::error;

use super::capabilities::NAME;
use super::convert;
use super::documents::Step;
use super::queue::Queue;
use super::service::message;
use super::snapshot::{Places, Snapshot};

/// The checker, shared by all who need findings.
#[derive(Clone, Default)]
pub(crate) struct Checks {
    state: Arc<Mutex<State>>,
    /// Notified when there is something to work out.
    due: Arc<Notify>,
}

#[derive(Default)]
struct State {
    checker: Checker,
    /// Set while the checker works: still set afterwards, it panicked and is worth nothing.
    at_work: bool,
    /// Files whose findings changed since the publisher last asked.
    touched: BTreeSet<FilePath>,
    /// Files whose findings only point to other bytes of a file since the publisher last asked.
    pointing: BTreeSet<FilePath>,
    /// Whether a course's standing changed since the publisher last asked, or the kinds of its
    /// problems, which lenses count.
    standing_touched: bool,
    /// The state of the notebook that was checked last.
    latest: Option<Snapshot>,
    /// What was worked out since then.
    worked_out: BTreeSet<UnitId>,
    /// What cannot be worked out, by a defect: left alone until it is another thing.
    given_up: BTreeSet<UnitId>,
}

/// A state of the notebook with its findings.
pub(crate) struct Checked {
    /// The notebook.
    pub(crate) snapshot: Snapshot,
    state: OwnedMutexGuard<State>,
}

impl Checks {
    /// The state of the notebook after all that has been put into the queue, with its findings.
    ///
    /// A request that is cancelled while it waits does not stop the work: what the queue has told
    /// once of what was touched it does not tell again.
    pub(crate) async fn catch_up(&self, queue: &Queue) -> Result<Checked> {
        let (shared, due) = (self.state.clone(), self.due.clone());
        let queue = queue.clone();
        let checked = tokio::spawn(async move {
            let mut state = shared.lock_owned().await;
            let (snapshot, delta) = queue.check().await.map_err(|_| Error::internal_error())?;
            let work = tokio::task::spawn_blocking(move || {
                state.take_in(&snapshot, &delta);
                if state.wanted().next().is_some() {
                    due.notify_one();
                }
                Checked { snapshot, state }
            });
            work.await.map_err(failed)
        });
        checked.await.map_err(failed)?
    }
}

/// The error of a task that did not end well. Whoever asked makes an answer of its panic.
fn failed(error: JoinError) -> Error {
    match error.try_into_panic() {
        Ok(panic) => std::panic::resume_unwind(panic),
        Err(_) => Error::internal_error(),
    }
}

impl State {
    fn take_in(&mut self, snapshot: &Snapshot, delta: &Delta) {
        if self.at_work {
            self.checker = Checker::default();
        }
        self.at_work = true;
        let updated = self.checker.update(&snapshot.analysis, delta);
        let worked_out = std::mem::take(&mut self.worked_out);
        let resumed = self.checker.resume(&snapshot.analysis, worked_out);
        self.at_work = false;
        self.touched.extend(updated.files);
        self.pointing.extend(updated.pointing);
        self.touched.extend(resumed.files);
        let kinds_touched = updated.problems_checked + resumed.problems_checked > 0;
        self.standing_touched |= !delta.courses.is_empty() || kinds_touched;
        self.given_up.retain(|id| !delta.units.contains(id));
        self.latest = Some(snapshot.clone());
    }

    /// What is to be worked out.
    fn wanted(&self) -> impl Iterator<Item = &UnitId> {
        let waiting = self.checker.waiting().iter();
        waiting.filter(|id| !self.given_up.contains(id))
    }
}

/// Works out what is wanted, in parts, for as long as the session lasts. `changed` is notified
/// after each part.
pub(crate) async fn work_in_background(checks: Checks, changed: Arc<Notify>) {
    loop {
        checks.due.notified().await;
        let part = checks.state.lock().await.part();
        let Some((snapshot, part)) = part else {
            continue;
        };
        let worked = tokio::task::spawn_blocking(move || work(&snapshot, part));
        let Ok((worked_out, given_up)) = worked.await else {
            continue;
        };
        let mut state = checks.state.lock().await;
        state.worked_out.extend(worked_out);
        state.given_up.extend(given_up);
        drop(state);
        changed.notify_one();
    }
}

/// The most problems of a part.
const PART: usize = 256;

/// After this long, what a part has come to is shown, and what is typed meanwhile is looked at.
const LENGTH_OF_PART: Duration = Duration::from_millis(150);

impl State {
    /// What to work out next: what the client has open first.
    fn part(&self) -> Option<(Snapshot, Vec<UnitId>)> {
        let snapshot = self.latest.clone()?;
        let is_open = |id: &&UnitId| snapshot.documents.contains_key(&id.file);
        let open = self.wanted().filter(is_open);
        let closed = self.wanted().filter(|id| !is_open(id));
        let part: Vec<UnitId> = open.chain(closed).take(PART).cloned().collect();
        (!part.is_empty()).then_some((snapshot, part))
    }
}

/// Works on a part for as long as it may take. Gives what was worked out and what panicked.
fn work(snapshot: &Snapshot, part: Vec<UnitId>) -> (Vec<UnitId>, Vec<UnitId>) {
    let until = Instant::now() + LENGTH_OF_PART;
    let mut left: VecDeque<UnitId> = part.into();
    let (mut begun, mut given_up) = (Vec::new(), Vec::new());
    while !left.is_empty() && (begun.is_empty() || Instant::now() < until) {
        let next = std::iter::from_fn(|| {
            let is_due = begun.is_empty() || Instant::now() < until;
            let id = if is_due { left.pop_front() } else { None };
            begun.extend(id.clone());
            id
        });
        let worked = catch_unwind(AssertUnwindSafe(|| work_out(&snapshot.analysis, next)));
        if let Err(panic) = worked {
            error!(reason = message(&*panic), about = ?begun.last(), "working it out panicked");
            given_up.extend(begun.pop());
        }
    }
    (begun, given_up)
}

impl Checked {
    /// The findings of a file.
    pub(crate) fn findings(&self, path: &FilePath) -> Vec<Finding> {
        self.state.checker.findings(&self.snapshot.analysis, path)
    }

    /// What the client is to show of a file: its findings, or why it has none.
    pub(crate) fn diagnostics(&self, path: &FilePath) -> Vec<Diagnostic> {
        let step = self
            .snapshot
            .documents
            .get(path)
            .map_or(Step::In, |document| document.step);
        if let Some(message) = step.warning() {
            return vec![Diagnostic {
                range: Range::default(),
                severity: Some(DiagnosticSeverity::WARNING),
                source: Some(NAME.to_owned()),
                message,
                ..Diagnostic::default()
            }];
        }
        let checker = &self.state.checker;
        let findings = checker.findings_without_fixes(&self.snapshot.analysis, path);
        let mut places = Places::new(&self.snapshot);
        findings
            .iter()
            .map(|finding| convert::diagnostic(&mut places, finding))
            .collect()
    }

    /// The files whose findings changed since this was last asked.
    pub(crate) fn take_touched(&mut self) -> BTreeSet<FilePath> {
        std::mem::take(&mut self.state.touched)
    }

    /// The files whose findings only point to other bytes than when this was last asked.
    pub(crate) fn take_pointing(&mut self) -> BTreeSet<FilePath> {
        std::mem::take(&mut self.state.pointing)
    }

    /// Whether a standing changed since this was last asked.
    pub(crate) fn take_standing_touched(&mut self) -> bool {
        std::mem::take(&mut self.state.standing_touched)
    }
}
