//! What a check may look at: a unit in its course, a course on its day.

use chrono::NaiveDate;
use notes::{
    Block, BlockKind, Entry, File, FilePath, Key, Located, NameKey, NamedThing, Notebook, Span,
    UnitId,
};

use super::Check;
use super::mark::{Mark, Part};
use crate::Analysis;
use crate::exams::{Exam, exams};

/// A unit and where it belongs.
pub(super) struct UnitScope<'a> {
    pub(super) analysis: &'a Analysis,
    pub(super) id: &'a UnitId,
    pub(super) path: &'a FilePath,
    pub(super) file: &'a File,
    pub(super) entry: &'a Entry,
    pub(super) course: NameKey,
}

impl<'a> UnitScope<'a> {
    /// The unit of this identity, if it is there.
    pub(super) fn new(analysis: &'a Analysis, id: &'a UnitId) -> Option<Self> {
        let notebook = &analysis.notebook;
        let file = notebook.file(&id.file)?;
        let entry = &file.entries()[file.index_of(id.order)?];
        let course = notebook.course_of(&id.file, entry);
        Some(Self {
            analysis,
            id,
            path: &id.file,
            file,
            entry,
            course,
        })
    }

    pub(super) fn notebook(&self) -> &'a Notebook {
        &self.analysis.notebook
    }

    /// The block, if the unit is one.
    pub(super) fn block(&self) -> Option<&'a Block> {
        self.entry.unit.block()
    }

    /// The block in its place, if the unit is one of a known kind.
    pub(super) fn known(&self) -> Option<(BlockKind, Located<'a>)> {
        let block = self.block()?;
        let at = Located {
            order: self.id.order,
            path: self.path,
            file: self.file,
            entry: self.entry,
            block,
        };
        Some((block.kind?, at))
    }

    /// The text of a span of the unit.
    pub(super) fn text(&self, span: Span) -> String {
        self.file
            .slice(span.shifted(self.entry.start as usize).range())
    }

    /// A finding in this unit.
    pub(super) fn mark(
        &self,
        check: &'static Check,
        part: impl Into<Part>,
        message: impl Into<String>,
    ) -> Mark {
        check.mark(self.id, part, message)
    }
}

/// A course on the day of the analysis.
pub(super) struct CourseScope<'a> {
    pub(super) analysis: &'a Analysis,
    pub(super) course: &'a NameKey,
    pub(super) today: NaiveDate,
    /// The exams of the course, by date.
    pub(super) exams: Vec<Exam<'a>>,
}

impl<'a> CourseScope<'a> {
    pub(super) fn new(analysis: &'a Analysis, course: &'a NameKey) -> Self {
        let exams = exams(analysis, course);
        Self {
            analysis,
            course,
            today: analysis.today(),
            exams,
        }
    }

    pub(super) fn notebook(&self) -> &'a Notebook {
        &self.analysis.notebook
    }

    /// A topic's block, by the key under which [`Notebook::topics`] lists it.
    pub(super) fn topic(&self, key: &NameKey) -> Option<Located<'a>> {
        self.notebook()
            .definition(&thing(self.course, BlockKind::Topic, key))
    }
}

/// A name in a course. Courses themselves are known everywhere.
pub(super) fn thing(course: &NameKey, kind: BlockKind, name: &NameKey) -> NamedThing {
    let course = match kind {
        BlockKind::Course => NameKey::default(),
        _ => course.clone(),
    };
    NamedThing {
        course,
        kind,
        name: name.clone(),
    }
}

/// The one name under which a block is compared with others of its kind: a topic's label if it has
/// one, else the title.
pub(super) fn own_name(notebook: &Notebook, at: &Located<'_>) -> Option<NamedThing> {
    let kind = at.block.kind?;
    let course = notebook.course_of(at.path, at.entry);
    let name = match kind {
        BlockKind::Topic => notebook.topic_key(at)?,
        _ => at.block.name.clone(),
    };
    (!name.is_empty()).then(|| thing(&course, kind, &name))
}

/// Something practised of a topic that fits, if there is one: a problem, theorem or definition
/// that names the topic, stands under it, or whose first pattern belongs to it. Looks no further
/// than the first.
pub(super) fn find_practised<'a>(
    notebook: &'a Notebook,
    course: &NameKey,
    topic: &NameKey,
    fits: impl Fn(&Located<'a>) -> bool,
) -> Option<Located<'a>> {
    notebook
        .members(course, topic)
        .find_map(|at| match at.block.kind? {
            kind if kind.is_practised() => fits(&at).then_some(at),
            BlockKind::Pattern => {
                let pattern = thing(course, BlockKind::Pattern, &at.block.name);
                let mentions = notebook.references(&pattern);
                let mut found = mentions.filter_map(|site| {
                    let at = notebook.block(&site.unit)?;
                    let field = at.block.fields.get(site.field)?;
                    let practised = at.block.kind?.is_practised() && field.key == Key::Pattern;
                    practised.then_some(at)
                });
                found.find(|at| fits(at) && notebook.topic_of(at).as_ref() == Some(topic))
            }
            _ => None,
        })
}
