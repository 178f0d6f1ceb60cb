//! What the checks of a problem's mathematics may look at, and what they wait for.

use std::collections::BTreeMap;

use math::problem::Problem;
use notes::{BlockKind, Key, Located, NameKey, NamedThing, UnitId};

use super::Check;
use super::mark::{Mark, Part};
use super::scope::thing;
use crate::Analysis;
use crate::kinds::Catalogue;
use crate::wording::Wording;

/// The catalogue of each course that was asked about.
#[derive(Default)]
pub(super) struct Catalogues<'a>(BTreeMap<NameKey, Catalogue<'a>>);

impl<'a> Catalogues<'a> {
    pub(super) fn of(&mut self, analysis: &'a Analysis, course: &NameKey) -> &Catalogue<'a> {
        self.0
            .entry(course.clone())
            .or_insert_with(|| Catalogue::of_course(&analysis.notebook, course))
    }
}

/// A problem in its course.
pub(super) struct ProblemScope<'a, 'c> {
    pub(super) analysis: &'a Analysis,
    pub(super) at: Located<'a>,
    pub(super) course: NameKey,
    pub(super) catalogue: &'c Catalogue<'a>,
    pub(super) statement: Wording,
    pub(super) reading: &'a Problem,
    /// What stands behind `answer:`, if that says anything.
    pub(super) answer: Option<Wording>,
}

impl<'a, 'c> ProblemScope<'a, 'c> {
    /// The problem of this identity, if there is one.
    pub(super) fn new(
        analysis: &'a Analysis,
        id: &UnitId,
        catalogues: &'c mut Catalogues<'a>,
    ) -> Option<Self> {
        let at = analysis.notebook.block(id)?;
        if at.block.kind != Some(BlockKind::Problem) {
            return None;
        }
        let course = analysis.notebook.course_of(at.path, at.entry);
        Some(Self {
            analysis,
            at,
            catalogue: catalogues.of(analysis, &course),
            course,
            statement: Wording::of_statement(&at),
            reading: at.block.reading.as_ref()?,
            answer: answer_of(&at),
        })
    }

    /// A name of the course.
    pub(super) fn pattern_thing(&self, name: &NameKey) -> NamedThing {
        thing(&self.course, BlockKind::Pattern, name)
    }

    /// A finding in this problem.
    pub(super) fn mark(
        &self,
        check: &'static Check,
        part: impl Into<Part>,
        message: impl Into<String>,
    ) -> Mark {
        check.mark(&self.at.id(), part, message)
    }
}

/// What stands behind a block's `answer:`, if that says anything.
pub(crate) fn answer_of(at: &Located<'_>) -> Option<Wording> {
    let field = at.block.field(Key::Answer)?;
    (!field.value_span.is_empty()).then(|| Wording::of_field(at, field))
}

/// Works out what the checks of these problems ask the mathematics.
pub fn work_out(analysis: &Analysis, units: impl IntoIterator<Item = UnitId>) {
    let mut catalogues = Catalogues::default();
    for id in units {
        let Some(problem) = ProblemScope::new(analysis, &id, &mut catalogues) else {
            continue;
        };
        let mathematics = &analysis.mathematics;
        problem
            .catalogue
            .kinds(mathematics, &problem.statement, problem.reading);
        if let Some(answer) = &problem.answer {
            mathematics.verdict(&problem.statement, answer);
        }
    }
}
