//! The notebook as features see it, and as edits change it.

use std::ops::Range;
use std::sync::Arc;

use chrono::{NaiveDate, NaiveDateTime};
use notes::{Delta, File, FilePath, Notebook, UnitReader};

use crate::mathematics::Mathematics;
use crate::standing::Standings;

/// A consistent state of the notebook on a day. A clone is a snapshot and costs next to nothing.
#[derive(Clone, Debug, Default)]
pub struct Analysis {
    /// Files, facts and index.
    pub notebook: Notebook,
    /// The tries of each course, folded.
    pub standings: Standings,
    /// What the mathematics says, shared by all states of the notebook.
    pub mathematics: Arc<Mathematics>,
    /// The instant at which questions are asked, local to the student.
    pub now: NaiveDateTime,
}

impl Analysis {
    /// The day on which questions are asked.
    pub fn today(&self) -> NaiveDate {
        self.now.date()
    }
}

/// The notebook that edits change. Each change is applied at once and costs what it touched; what
/// it touched is kept until [`Workspace::take_delta`] asks for it.
#[derive(Default)]
pub struct Workspace {
    analysis: Analysis,
    reader: UnitReader,
    pending: Delta,
}

impl Workspace {
    /// An empty notebook at an instant.
    pub fn new(now: NaiveDateTime) -> Self {
        Self {
            analysis: Analysis {
                now,
                ..Analysis::default()
            },
            ..Self::default()
        }
    }

    /// A workspace that goes on from a state of the notebook, which stays as it is.
    pub fn from_analysis(analysis: Analysis) -> Self {
        Self {
            analysis,
            ..Self::default()
        }
    }

    /// A notebook of these files, each a path and its text.
    pub fn from_files<'a>(
        now: NaiveDateTime,
        files: impl IntoIterator<Item = (&'a str, &'a str)>,
    ) -> Self {
        let mut workspace = Self::new(now);
        for (path, text) in files {
            workspace.set_text(&FilePath::new(path), text);
        }
        workspace
    }

    /// The present state.
    pub fn analysis(&self) -> &Analysis {
        &self.analysis
    }

    /// Gives a file this text.
    pub fn set_text(&mut self, path: &FilePath, text: &str) {
        let delta = self
            .analysis
            .notebook
            .set_text(path, text, &mut self.reader);
        self.apply(delta);
    }

    /// Adds a file that was read elsewhere, on another thread say.
    pub fn insert(&mut self, path: &FilePath, file: File) {
        let delta = self.analysis.notebook.insert(path, file);
        self.apply(delta);
    }

    /// Replaces bytes of a file; both ends must lie on character boundaries.
    pub fn edit(&mut self, path: &FilePath, range: Range<usize>, replacement: &str) {
        let notebook = &mut self.analysis.notebook;
        let delta = notebook.edit(path, range, replacement, &mut self.reader);
        self.apply(delta);
    }

    /// Takes a file out of the notebook.
    pub fn remove(&mut self, path: &FilePath) {
        let delta = self.analysis.notebook.remove(path);
        self.apply(delta);
    }

    /// Sets the instant at which questions are asked.
    pub fn set_now(&mut self, now: NaiveDateTime) {
        self.analysis.now = now;
    }

    /// What was touched since this was last called.
    pub fn take_delta(&mut self) -> Delta {
        std::mem::take(&mut self.pending)
    }

    fn apply(&mut self, delta: Delta) {
        self.analysis
            .standings
            .update(&self.analysis.notebook, &delta);
        self.pending.merge(delta);
    }
}
