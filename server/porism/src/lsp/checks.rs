//! The findings of the notebook, kept up to date with its changes.
//!
//! Whoever needs findings (the publisher, a request for diagnostics or for code actions) first
//! lets the checker take in what was touched since the last one who did. A burst of changes is
//! thus checked once, however many changes it has.

use std::collections::BTreeSet;
use std::sync::Arc;

use ide::diagnostics::{Checker, Finding};
use ide::{Delta, FilePath};
use tokio::sync::{Mutex, OwnedMutexGuard};
use tokio::task::JoinError;
use tower_lsp::jsonrpc::{Error, Result};
use tower_lsp::lsp_types::{Diagnostic, DiagnosticSeverity, Range};

use super::capabilities::NAME;
use super::convert;
use super::documents::Step;
use super::queue::Queue;
use super::snapshot::Snapshot;

/// The checker, shared by all who need findings.
#[derive(Clone, Default)]
pub(crate) struct Checks(Arc<Mutex<State>>);

#[derive(Default)]
struct State {
    checker: Checker,
    /// Set while the checker works: still set afterwards, it panicked and is worth nothing.
    at_work: bool,
    /// Files whose findings changed since the publisher last asked.
    touched: BTreeSet<FilePath>,
    /// Whether a course's standing changed since the publisher last asked.
    standing_touched: bool,
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
        let shared = self.0.clone();
        let queue = queue.clone();
        let checked = tokio::spawn(async move {
            let mut state = shared.lock_owned().await;
            let (snapshot, delta) = queue.check().await.map_err(|_| Error::internal_error())?;
            let work = tokio::task::spawn_blocking(move || {
                state.take_in(&snapshot, &delta);
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
        self.at_work = false;
        self.touched.extend(updated.files);
        self.standing_touched |= !delta.courses.is_empty();
    }
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
        let findings = self.findings(path);
        findings
            .iter()
            .map(|finding| convert::diagnostic(&self.snapshot, finding))
            .collect()
    }

    /// The files whose findings changed since this was last asked.
    pub(crate) fn take_touched(&mut self) -> BTreeSet<FilePath> {
        std::mem::take(&mut self.state.touched)
    }

    /// Whether a standing changed since this was last asked.
    pub(crate) fn take_standing_touched(&mut self) -> bool {
        std::mem::take(&mut self.state.standing_touched)
    }
}
