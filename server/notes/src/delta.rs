//! What a change of the notebook touched, so that only what depends on it is checked again.

use std::collections::BTreeSet;

use crate::{BlockKind, FilePath, NameKey, UnitId};

/// A name in its course. Courses themselves are known everywhere: their course is empty.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NamedThing {
    /// The course; empty where a file belongs to none.
    pub course: NameKey,
    /// The kind of block.
    pub kind: BlockKind,
    /// The name. A topic is known by its whole title, by its label and by the title without it.
    pub name: NameKey,
}

/// A problem's shape in its course.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ShapeKey {
    /// The course.
    pub course: NameKey,
    /// What the problem looks like with its numbers seen through.
    pub fingerprint: math::fingerprint::Fingerprint,
}

/// What changed between two states of a notebook.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Delta {
    /// Units that were added, removed, changed, or put into another context.
    pub units: BTreeSet<UnitId>,
    /// Names that gained or lost a block that defines them.
    pub defined: BTreeSet<NamedThing>,
    /// Names that gained or lost a mention, or of which a mentioning block's tries changed.
    pub used: BTreeSet<NamedThing>,
    /// Shapes that gained or lost a problem, or of which a problem's tries changed.
    pub shapes: BTreeSet<ShapeKey>,
    /// Courses in which something changed that a standing or an exam depends on.
    pub courses: BTreeSet<NameKey>,
    /// Files whose text changed, appeared or went.
    pub files: BTreeSet<FilePath>,
    /// How many units were read.
    pub units_read: usize,
}

impl Delta {
    /// Adds a later change to this one.
    pub fn merge(&mut self, later: Delta) {
        self.units.extend(later.units);
        self.defined.extend(later.defined);
        self.used.extend(later.used);
        self.shapes.extend(later.shapes);
        self.courses.extend(later.courses);
        self.files.extend(later.files);
        self.units_read += later.units_read;
    }
}
