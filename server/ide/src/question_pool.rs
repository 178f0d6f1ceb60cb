//! What may be asked: the problems, theorems and definitions of a course as the choice of questions
//! sees them.

use std::collections::{BTreeMap, BTreeSet};

use notes::value::NotesUse;
use notes::{BlockKind, Key, Located, NameKey, NamedThing, UnitId};
use study::ProblemId;
use study::selection::{Candidate, Confusable, MOST_QUESTIONS, ShapeId, Source};

use crate::drawn_paper::{list, seed_of};
use crate::exams;
use crate::fresh_numbers::{bare, fresh_numbers, may_vary, numbers_of};
use crate::page::name_of;
use crate::papers::{Paper, papers};
use crate::question_source::{Sources, question_text};
use crate::standing::{CourseStanding, PatternKey, day, pattern_keys};
use crate::{Analysis, words};

/// Something that may be asked.
#[derive(Clone, Debug)]
pub(crate) struct Asked<'a> {
    pub(crate) at: Located<'a>,
    pub(crate) text: String,
    /// The number that its numbers were drawn with, where they are not those of the notes.
    pub(crate) seed: Option<u32>,
}

/// How often the numbers of some problems can be changed.
#[derive(Debug, Default)]
struct Limits {
    /// Of the problems where a search for numbers was in vain.
    most: BTreeMap<ProblemId, u32>,
    /// How many searches were in vain.
    in_vain: usize,
}

/// After so many searches in vain no numbers are changed any more: these take the longest.
const MOST_IN_VAIN: usize = 24;

impl Limits {
    fn apply(&self, candidate: &mut Candidate) {
        let most = match self.in_vain < MOST_IN_VAIN {
            true => self.most.get(&candidate.problem).copied(),
            false => Some(0),
        };
        candidate.variants = most.map_or(candidate.variants, |most| most.min(candidate.variants));
    }
}

/// What is to be done with the questions.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Purpose {
    /// They are solved: what counts is when a problem was tried.
    Solving,
    /// Their kind is named: what counts is when a problem was spotted.
    Spotting,
}

/// Everything that may be asked.
pub(crate) struct Pool<'a, 's> {
    analysis: &'a Analysis,
    course: &'s NameKey,
    standing: &'s CourseStanding,
    purpose: Purpose,
    /// What is asked, numbered as the candidates are.
    asked: Vec<Asked<'a>>,
    numbers: BTreeMap<UnitId, u32>,
    shapes: Shapes,
    /// What the last paper asked.
    last: BTreeSet<UnitId>,
    /// The problems of the instructor's papers that were not sat yet.
    kept: BTreeMap<UnitId, String>,
    /// The papers for which problems were held back.
    held_back: BTreeSet<String>,
}

impl<'a, 's> Pool<'a, 's> {
    /// Nothing so far. `last` is what the last paper asked, which is asked again only in need.
    pub(crate) fn new(
        analysis: &'a Analysis,
        course: &'s NameKey,
        standing: &'s CourseStanding,
        purpose: Purpose,
        last: BTreeSet<UnitId>,
    ) -> Self {
        Self {
            analysis,
            course,
            standing,
            purpose,
            asked: Vec::new(),
            numbers: BTreeMap::new(),
            shapes: Shapes::default(),
            last,
            kept: held_back(analysis, course),
            held_back: BTreeSet::new(),
        }
    }

    /// The candidates among some blocks of the course. A block that is given twice is one.
    pub(crate) fn candidates(
        &mut self,
        blocks: impl IntoIterator<Item = Located<'a>>,
    ) -> Vec<Candidate> {
        let blocks = blocks.into_iter();
        blocks.filter_map(|at| self.candidate(at)).collect()
    }

    fn candidate(&mut self, at: Located<'a>) -> Option<Candidate> {
        if let Some(paper) = self.kept.get(&at.id()) {
            self.held_back.insert(paper.clone());
            return None;
        }
        let text = question_text(&at)?;
        let (shape, shape_known) =
            self.shapes
                .meet(self.analysis, self.course, self.purpose, &at, &text);
        let next = self.asked.len() as u32;
        let problem = *self.numbers.entry(at.id()).or_insert(next);
        let patterns = pattern_keys(&at);
        let patterns = patterns
            .iter()
            .filter_map(|key| self.standing.pattern_id(key));
        let candidate = Candidate {
            problem: ProblemId(problem),
            patterns: patterns.collect(),
            shape: Some(shape),
            variants: self.variants(&at),
            in_last_paper: self.last.contains(&at.id()),
            skip: shape_known || self.purpose.is_known(&at),
            last_tried: self.purpose.last(&at).map(day),
            theorem: at.block.kind != Some(BlockKind::Problem),
        };
        if problem == next {
            self.asked.push(Asked {
                at,
                text,
                seed: None,
            });
        }
        Some(candidate)
    }

    /// How often a problem may be asked with other numbers, as far as can be told at a glance.
    fn variants(&self, at: &Located<'a>) -> u32 {
        // With other numbers it is found by its name alone.
        let is_found = || {
            let name = NamedThing {
                course: self.course.clone(),
                kind: BlockKind::Problem,
                name: at.block.name.clone(),
            };
            name_of(at).is_some() && self.analysis.notebook.definitions(&name).count() == 1
        };
        match self.purpose == Purpose::Solving && may_vary(at) && is_found() {
            true => MOST_QUESTIONS,
            false => 0,
        }
    }

    /// Draws, and makes the numbers of the questions that are to have fresh ones. Where there are
    /// none the problems are not to vary, and it is drawn anew.
    ///
    /// `candidates` gives what `draw` chooses from, `chosen` what it chose. Same seed: same numbers.
    pub(crate) fn draw<S, D>(
        &self,
        seed: u32,
        from: &mut S,
        candidates: impl for<'c> Fn(&'c mut S) -> Vec<&'c mut Candidate>,
        draw: impl Fn(&S) -> D,
        chosen: impl Fn(&D) -> Vec<(ProblemId, Source)>,
    ) -> (D, Vec<Asked<'a>>) {
        let mut limits = Limits::default();
        loop {
            let drawn = draw(from);
            // Each time around some problem may vary less often than before.
            match self.ask(seed, &chosen(&drawn), &mut limits) {
                Some(asked) => return (drawn, asked),
                None => candidates(from).into_iter().for_each(|c| limits.apply(c)),
            }
        }
    }

    /// What some candidates ask; `None` if some of them have fewer numbers than it takes, which
    /// `limits` then says.
    fn ask(
        &self,
        seed: u32,
        chosen: &[(ProblemId, Source)],
        limits: &mut Limits,
    ) -> Option<Vec<Asked<'a>>> {
        let mut taken: BTreeMap<ProblemId, BTreeSet<String>> = BTreeMap::new();
        let mut asked = Vec::new();
        let mut is_short = false;
        for &(problem, source) in chosen {
            let Some(own) = self.asked.get(problem.0 as usize) else {
                continue;
            };
            let Source::FreshNumbers { copy } = source else {
                asked.push(own.clone());
                continue;
            };
            let taken = taken
                .entry(problem)
                .or_insert_with(|| numbers_of(self.analysis, self.course, &own.at));
            let name = &own.at.block.name;
            let number = seed_of(&format!("{seed}\n{name}\n{copy}"));
            match fresh_numbers(self.analysis, &own.at, number, taken) {
                Ok(fresh) => {
                    taken.insert(bare(&fresh.text));
                    asked.push(Asked {
                        at: own.at,
                        text: fresh.text,
                        seed: Some(fresh.seed),
                    });
                }
                Err(_) => {
                    let most = limits.most.entry(problem).or_insert(copy);
                    *most = copy.min(*most);
                    limits.in_vain += 1;
                    is_short = true;
                }
            }
        }
        (!is_short).then_some(asked)
    }

    /// Whose problems were held back, in a sentence.
    pub(crate) fn held_back_in_words(&self) -> Option<String> {
        let papers: Vec<String> = self.held_back.iter().cloned().collect();
        (!papers.is_empty()).then(|| {
            format!(
                "The problems of {} were kept back: sit {} first, whole.",
                list(&papers, "and"),
                if papers.len() == 1 {
                    "that paper"
                } else {
                    "those papers"
                }
            )
        })
    }
}

impl Purpose {
    /// Whether the last time was a success: a right try with notes closed, or a kind named rightly.
    fn is_known(self, at: &Located<'_>) -> bool {
        match self {
            Self::Solving => is_known(at),
            Self::Spotting => {
                let last = at.block.spottings().max_by_key(|spotting| spotting.date);
                last.is_some_and(|spotting| spotting.right)
            }
        }
    }

    /// The last time.
    fn last(self, at: &Located<'_>) -> Option<chrono::NaiveDate> {
        match self {
            Self::Solving => at.block.attempts().map(|attempt| attempt.date).max(),
            Self::Spotting => at.block.spottings().map(|spotting| spotting.date).max(),
        }
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
        course: &NameKey,
        purpose: Purpose,
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
                let course = course.clone();
                let key = notes::ShapeKey {
                    course,
                    fingerprint,
                };
                analysis
                    .notebook
                    .same_shape(&key)
                    .any(|other| purpose.is_known(&other))
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
fn held_back(analysis: &Analysis, course: &NameKey) -> BTreeMap<UnitId, String> {
    let mut exams = exams::exams(analysis, course);
    exams.retain(|exam| !exam.is_past(analysis.today()));
    let is_kept = |paper: &Paper<'_>| {
        paper.by_instructor
            && paper.sitting().is_none()
            && exams.iter().any(|exam| paper.is_for(exam))
    };
    let mut kept = BTreeMap::new();
    for paper in papers(&analysis.notebook, course)
        .iter()
        .filter(|paper| is_kept(paper))
    {
        let title = words::title(&paper.at);
        kept.extend(paper.items.iter().map(|item| (item.id(), title.clone())));
    }
    kept
}

/// What the last of some papers of a course asked.
pub(crate) fn last_paper_sources(
    analysis: &Analysis,
    course: &NameKey,
    papers: &[Paper<'_>],
) -> BTreeSet<UnitId> {
    let when = |paper: &Paper<'_>| {
        let sat = paper.sitting().map(|sitting| sitting.date);
        sat.max(paper.drawn.map(|drawn| drawn.date))
    };
    // A paper of the instructor's that was not sat is not the last one, but the next.
    let dated = papers.iter().filter(|paper| when(paper).is_some());
    let Some(last) = dated.max_by_key(|paper| when(paper)) else {
        return BTreeSet::new();
    };
    let sources = Sources::of(&analysis.notebook, course);
    let source_of = |item: &Located<'_>| match item.block.kind {
        Some(BlockKind::Question) => sources.find(item).ok().map(|at| at.id()),
        _ => Some(item.id()),
    };
    last.items.iter().filter_map(source_of).collect()
}

/// The patterns of a course that are mistaken for each other, as the notes say.
pub(crate) fn confusable(
    analysis: &Analysis,
    course: &NameKey,
    standing: &CourseStanding,
) -> Vec<Confusable> {
    let patterns = analysis.notebook.of_kind(course, BlockKind::Pattern);
    let number = |name: &NameKey| standing.pattern_id(&PatternKey::Named(name.clone()));
    let mut pairs = BTreeSet::new();
    for at in patterns {
        for partner in at.block.names(Key::ConfusedWith) {
            pairs.extend(number(&at.block.name).zip(number(&partner.key)));
        }
    }
    pairs.into_iter().collect()
}
