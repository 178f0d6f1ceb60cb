//! What may be asked for an exam, section by section.

use std::collections::{BTreeMap, BTreeSet};

use notes::value::NotesUse;
use notes::{BlockKind, Key, Located, NameKey, UnitId};
use study::paper::{Kind, Section};
use study::selection::{Candidate, Confusable, ShapeId};
use study::{ProblemId, TopicId};

use super::list;
use crate::exams::{self, Exam, practised_of};
use crate::papers::{Paper, papers, papers_for};
use crate::question_source::{Sources, question_text};
use crate::standing::{CourseStanding, PatternKey, day, pattern_keys};
use crate::{Analysis, words};

/// Something that may be asked.
pub(super) struct Asked<'a> {
    pub(super) at: Located<'a>,
    pub(super) text: String,
}

/// Everything that may be asked for an exam.
pub(super) struct Pool<'a> {
    /// The sections, numbered as the exam's topics; their candidates are numbered as `asked`.
    pub(super) sections: Vec<Section>,
    pub(super) asked: Vec<Asked<'a>>,
    /// The instructor's papers that were not sat yet and whose problems were kept for them.
    held_back: Vec<String>,
}

impl<'a> Pool<'a> {
    pub(super) fn of(analysis: &'a Analysis, exam: &Exam<'_>, standing: &CourseStanding) -> Self {
        let notebook = &analysis.notebook;
        let held_back = held_back(analysis, exam);
        let mut kept_for = BTreeSet::new();
        let last: BTreeSet<UnitId> = last_paper_sources(analysis, exam);
        let mut pool = Self {
            sections: Vec::new(),
            asked: Vec::new(),
            held_back: Vec::new(),
        };
        let mut numbers: BTreeMap<UnitId, u32> = BTreeMap::new();
        let mut shapes = Shapes::default();
        // As an exam's questions are spread when nothing else is known of it.
        let sizes = exam.topics.iter().map(|topic| {
            let patterns = exams::patterns_of(notebook, &exam.course, topic);
            (topic, patterns.len())
        });
        let parts = exam.parts(&sizes.collect());
        for (number, topic) in (0..).zip(&exam.topics) {
            let Some(&weight) = parts.get(topic) else {
                continue;
            };
            let mut candidates = Vec::new();
            for at in practised_of(notebook, &exam.course, topic) {
                if let Some(paper) = held_back.get(&at.id()) {
                    kept_for.insert(paper.clone());
                    continue;
                }
                let Some(text) = question_text(&at) else {
                    continue;
                };
                let (shape, shape_known) = shapes.meet(analysis, exam, &at, &text);
                let problem = *numbers.entry(at.id()).or_insert(pool.asked.len() as u32);
                candidates.push(Candidate {
                    problem: ProblemId(problem),
                    patterns: pattern_keys(&at)
                        .iter()
                        .filter_map(|key| standing.pattern_id(key))
                        .collect(),
                    shape: Some(shape),
                    can_vary: false,
                    in_last_paper: last.contains(&at.id()),
                    skip: shape_known || is_known(&at),
                    last_tried: at.block.attempts().map(|attempt| day(attempt.date)).max(),
                    theorem: at.block.kind != Some(BlockKind::Problem),
                });
                if problem as usize == pool.asked.len() {
                    pool.asked.push(Asked { at, text });
                }
            }
            pool.sections.push(Section {
                topic: TopicId(number),
                weight,
                candidates,
            });
        }
        pool.held_back.extend(kept_for);
        pool
    }

    pub(super) fn has(&self, kind: Kind) -> bool {
        let mut candidates = self.sections.iter().flat_map(|section| &section.candidates);
        candidates.any(|candidate| candidate.theorem == (kind == Kind::Theorems))
    }

    pub(super) fn default_kind(&self) -> Kind {
        match self.has(Kind::Problems) || !self.has(Kind::Theorems) {
            true => Kind::Problems,
            false => Kind::Theorems,
        }
    }

    pub(super) fn held_back_in_words(&self) -> Option<String> {
        (!self.held_back.is_empty()).then(|| {
            format!(
                "The problems of {} were kept back: sit {} first, whole.",
                list(&self.held_back, "and"),
                if self.held_back.len() == 1 {
                    "that paper"
                } else {
                    "those papers"
                }
            )
        })
    }
}

/// What two blocks share that ask the same with other numbers.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Shape {
    /// Problems with a formula to go by.
    Fingerprint(math::fingerprint::Fingerprint),
    /// The others: their text.
    Text(NameKey),
}

/// The shapes met so far, each with its number and whether some problem of it is known.
#[derive(Default)]
struct Shapes {
    met: BTreeMap<Shape, (ShapeId, bool)>,
}

impl Shapes {
    fn meet(
        &mut self,
        analysis: &Analysis,
        exam: &Exam<'_>,
        at: &Located<'_>,
        text: &str,
    ) -> (ShapeId, bool) {
        let reading = at.block.reading.as_ref();
        let fingerprint = reading.and_then(|reading| reading.fingerprint);
        let is_problem = at.block.kind == Some(BlockKind::Problem);
        let shape = match fingerprint.filter(|_| is_problem) {
            Some(fingerprint) => Shape::Fingerprint(fingerprint),
            None => Shape::Text(NameKey::new(text)),
        };
        let next = ShapeId(self.met.len() as u64);
        let known = || match fingerprint.filter(|_| is_problem) {
            Some(fingerprint) => {
                let course = exam.course.clone();
                let key = notes::ShapeKey {
                    course,
                    fingerprint,
                };
                analysis
                    .notebook
                    .same_shape(&key)
                    .any(|other| is_known(&other))
            }
            None => false,
        };
        *self.met.entry(shape).or_insert_with(|| (next, known()))
    }
}

/// Whether the last try with notes closed was right.
fn is_known(at: &Located<'_>) -> bool {
    let closed = at
        .block
        .attempts()
        .filter(|attempt| attempt.notes == NotesUse::Closed);
    let last = closed.max_by_key(|attempt| attempt.date);
    last.is_some_and(|attempt| match attempt.outcome {
        notes::value::Outcome::Right => true,
        notes::value::Outcome::Score(score) => score.got >= score.out_of,
        _ => false,
    })
}

/// The problems of the instructor's papers that were not sat yet and prepare for an exam still to
/// come, each with the title of its paper.
fn held_back(analysis: &Analysis, exam: &Exam<'_>) -> BTreeMap<UnitId, String> {
    let mut exams = exams::exams(analysis, &exam.course);
    exams.retain(|exam| !exam.is_past(analysis.today()));
    let is_kept = |paper: &Paper<'_>| {
        paper.by_instructor
            && paper.sitting().is_none()
            && exams.iter().any(|exam| paper.is_for(exam))
    };
    let mut kept = BTreeMap::new();
    for paper in papers(&analysis.notebook, &exam.course)
        .iter()
        .filter(|paper| is_kept(paper))
    {
        let title = words::title(&paper.at);
        kept.extend(paper.items.iter().map(|item| (item.id(), title.clone())));
    }
    kept
}

/// What the last paper for the exam asked.
fn last_paper_sources(analysis: &Analysis, exam: &Exam<'_>) -> BTreeSet<UnitId> {
    let papers = papers_for(&analysis.notebook, exam);
    let when = |paper: &Paper<'_>| {
        let sat = paper.sitting().map(|sitting| sitting.date);
        sat.max(paper.drawn.map(|drawn| drawn.date))
    };
    // A paper of the instructor's that was not sat is not the last one, but the next.
    let dated = papers.iter().filter(|paper| when(paper).is_some());
    let Some(last) = dated.max_by_key(|paper| when(paper)) else {
        return BTreeSet::new();
    };
    let sources = Sources::of(&analysis.notebook, &exam.course);
    let source_of = |item: &Located<'_>| match item.block.kind {
        Some(BlockKind::Question) => sources.find(item).ok().map(|at| at.id()),
        _ => Some(item.id()),
    };
    last.items.iter().filter_map(source_of).collect()
}

/// The patterns that are mistaken for each other, as the notes say.
pub(super) fn confusable(
    analysis: &Analysis,
    exam: &Exam<'_>,
    standing: &CourseStanding,
) -> Vec<Confusable> {
    let patterns = analysis.notebook.of_kind(&exam.course, BlockKind::Pattern);
    let number = |name: &NameKey| standing.pattern_id(&PatternKey::Named(name.clone()));
    let mut pairs = BTreeSet::new();
    for at in patterns {
        for partner in at.block.names(Key::ConfusedWith) {
            pairs.extend(number(&at.block.name).zip(number(&partner.key)));
        }
    }
    pairs.into_iter().collect()
}
