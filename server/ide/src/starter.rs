//! A set of patterns to begin with, subject by subject.

use std::collections::BTreeSet;
use std::sync::OnceLock;

use chrono::NaiveDateTime;
use math::shape::{self, Shape};
use notes::NameKey;

use crate::Workspace;

/// The patterns of one subject.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Subject {
    /// A word or two to choose it by.
    pub name: &'static str,
    /// The patterns, in the format of notes.
    pub text: &'static str,
}

/// Declares a subject by the name of its file.
macro_rules! subject {
    ($name:literal) => {
        Subject {
            name: $name,
            text: include_str!(concat!("../../demo/starter/", $name, ".porism")),
        }
    };
}

/// The subjects, in the order in which a first year meets them.
pub static SUBJECTS: [Subject; 10] = [
    subject!("algebra"),
    subject!("equations"),
    subject!("inequalities-and-systems"),
    subject!("limits"),
    subject!("derivatives"),
    subject!("integrals"),
    subject!("series"),
    subject!("differential-equations"),
    subject!("matrices"),
    subject!("proofs"),
];

impl Subject {
    /// The names of its patterns.
    pub fn names(&self) -> impl Iterator<Item = NameKey> {
        let lines = self.text.lines();
        let titles = lines.filter_map(|line| line.strip_prefix("@pattern "));
        titles.map(NameKey::new)
    }
}

/// Whether a pattern of the set has this name.
pub fn has(name: &NameKey) -> bool {
    static NAMES: OnceLock<BTreeSet<NameKey>> = OnceLock::new();
    let names = NAMES.get_or_init(|| SUBJECTS.iter().flat_map(Subject::names).collect());
    names.contains(name)
}

/// The shapes of all patterns of the set.
pub fn shapes() -> &'static [Shape] {
    static SHAPES: OnceLock<Vec<Shape>> = OnceLock::new();
    SHAPES.get_or_init(|| {
        let lines = SUBJECTS.iter().flat_map(|subject| subject.text.lines());
        let written = lines.filter_map(|line| line.trim_start().strip_prefix("shape: "));
        written.map(|written| shape::read(written).0).collect()
    })
}

/// A notebook of all subjects, each in a file of its own.
pub fn notebook(now: NaiveDateTime) -> Workspace {
    let mut workspace = Workspace::new(now);
    for subject in &SUBJECTS {
        let path = notes::FilePath::new(&format!("{}.porism", subject.name));
        workspace.set_text(&path, subject.text);
    }
    workspace
}
