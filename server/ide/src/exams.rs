//! Exams: when they are, what they cover, and what there is to practise for them.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use notes::value::{Moment, NotesRule, Start, TopicPoints, Value};
use notes::{Block, BlockKind, Key, Located, NameKey, NamedThing, Notebook};

use crate::{Analysis, words};

/// Days before an exam at which revision starts when the exam does not say (common practice, no
/// published source).
pub const WINDOW_DAYS: u32 = 7;

/// The score aimed at when neither the exam nor its course gives a target.
pub const DEFAULT_TARGET: f64 = 0.7;

/// An exam and what follows from its fields.
#[derive(Clone, Debug)]
pub struct Exam<'a> {
    /// The block.
    pub at: Located<'a>,
    /// Its course.
    pub course: NameKey,
    /// When it is.
    pub on: Option<Moment>,
    /// The first day of its window, on which revision starts.
    pub window_start: Option<NaiveDate>,
    /// The topics it covers, in the course's order. An exam that does not say covers all.
    pub topics: Vec<NameKey>,
    /// The score to reach, as a part of 1.
    pub target: f64,
    /// Whether the exam or its course gives the target.
    pub target_given: bool,
    /// Its share of the course's mark, as a part of 1.
    pub weight: Option<f64>,
    /// How many questions it has.
    pub questions: Option<u32>,
    /// What covered topics count for, each topic once: points in thousandths, with the topics that
    /// share them. `None` where the exam does not say.
    pub points: Option<Vec<(u32, Vec<NameKey>)>>,
    /// Whether notes are closed; an exam that does not say is closed-notes.
    pub closed_notes: bool,
}

impl Exam<'_> {
    /// Whole days from `today` to the exam; negative when it is past.
    pub fn days_left(&self, today: NaiveDate) -> Option<i64> {
        Some(self.on?.date.signed_duration_since(today).num_days())
    }

    /// Whether revision has started and the exam is not past.
    pub fn window_open(&self, today: NaiveDate) -> bool {
        let Some((start, on)) = self.window_start.zip(self.on) else {
            return false;
        };
        start <= today && today <= on.date
    }

    /// Whether the exam is past.
    pub fn is_past(&self, today: NaiveDate) -> bool {
        self.days_left(today).is_some_and(|days| days < 0)
    }

    /// Whether the exam covers a topic.
    pub fn covers(&self, topic: &NameKey) -> bool {
        self.topics.contains(topic)
    }

    /// Whether the exam gives points, and none to a topic.
    pub fn is_without_points(&self, topic: &NameKey) -> bool {
        self.points.as_ref().is_some_and(|parts| {
            !parts
                .iter()
                .any(|(points, topics)| *points > 0 && topics.contains(topic))
        })
    }

    /// The part of the exam that each covered topic makes up, in any unit: its points, which topics
    /// of one item share in proportion to their `sizes`, or else its size.
    pub fn parts(&self, sizes: &BTreeMap<&NameKey, usize>) -> BTreeMap<NameKey, f64> {
        let size = |topic: &NameKey| sizes.get(topic).copied().unwrap_or(1).max(1) as f64;
        let Some(points) = &self.points else {
            let parts = self.topics.iter();
            return parts.map(|topic| (topic.clone(), size(topic))).collect();
        };
        let mut parts = BTreeMap::new();
        for (points, topics) in points {
            let all: f64 = topics.iter().map(size).sum();
            let each = topics
                .iter()
                .map(|topic| (topic.clone(), f64::from(*points) * size(topic) / all));
            parts.extend(each.filter(|(_, part)| *part > 0.0));
        }
        parts
    }

    /// The title as it was typed, or a stand-in.
    pub fn name(&self) -> String {
        exam_name(&self.at)
    }
}

/// The exams of a course: dated ones by date, then the others in reading order.
pub fn exams<'a>(analysis: &'a Analysis, course: &NameKey) -> Vec<Exam<'a>> {
    let notebook = &analysis.notebook;
    let topics = notebook.topics(course);
    let mut exams: Vec<Exam<'_>> = notebook
        .of_kind(course, BlockKind::Exam)
        .map(|at| exam_among(notebook, at, course.clone(), &topics))
        .collect();
    exams.sort_by_key(|exam| (exam.on.is_none(), exam.on.map(Moment::start)));
    exams
}

/// The exams of every course, by date.
pub fn all_exams(analysis: &Analysis) -> Vec<Exam<'_>> {
    let courses = analysis.notebook.courses();
    let mut all: Vec<Exam<'_>> = courses
        .iter()
        .flat_map(|course| exams(analysis, course))
        .collect();
    all.sort_by_key(|exam| (exam.on.is_none(), exam.on.map(Moment::start)));
    all
}

/// An exam's title as it was typed, or a stand-in.
pub fn exam_name(exam: &Located<'_>) -> String {
    let title = exam.title();
    if title.is_empty() {
        "the exam".to_owned()
    } else {
        title
    }
}

/// When an exam is, and the first day of its window, on which revision starts.
pub fn window(exam: &Block) -> (Option<Moment>, Option<NaiveDate>) {
    let on = exam.moment(Key::On);
    let start = match exam.field(Key::Start).map(|field| &field.value) {
        Some(Value::Start(start)) => *start,
        _ => Start::DaysBefore(WINDOW_DAYS),
    };
    let first = match start {
        Start::On(date) => Some(date),
        Start::DaysBefore(days) => on.map(|on| {
            let days = Days::new(days.into());
            on.date.checked_sub_days(days).unwrap_or(NaiveDate::MIN)
        }),
    };
    (on, first)
}

/// Reads an exam's block.
pub fn exam<'a>(notebook: &'a Notebook, at: Located<'a>) -> Exam<'a> {
    let course = notebook.course_of(at.path, at.entry);
    let topics = notebook.topics(&course);
    exam_among(notebook, at, course, &topics)
}

/// Reads an exam's block, with the topics of its course at hand.
fn exam_among<'a>(
    notebook: &Notebook,
    at: Located<'a>,
    course: NameKey,
    topics: &[(NameKey, Located<'_>)],
) -> Exam<'a> {
    let (on, window_start) = window(at.block);
    let of_course = notebook
        .definition(&NamedThing {
            course: NameKey::default(),
            kind: BlockKind::Course,
            name: course.clone(),
        })
        .and_then(|at| at.block.score(Key::Target));
    let target = at.block.score(Key::Target).or(of_course);
    let covered = covered_topics(&at, topics);
    Exam {
        on,
        window_start,
        points: points(&at, topics, &covered),
        topics: covered,
        target: target.map_or(DEFAULT_TARGET, |score| score.fraction().min(1.0)),
        target_given: target.is_some(),
        weight: at.block.score(Key::Weight).map(|score| score.fraction()),
        questions: at.block.count(Key::Questions),
        closed_notes: at.block.notes_rule() != Some(NotesRule::Open),
        at,
        course,
    }
}

/// An exam that does not say what it covers covers what it gives points to, or else everything.
fn covered_topics(at: &Located<'_>, topics: &[(NameKey, Located<'_>)]) -> Vec<NameKey> {
    let covers = at.block.field(Key::Covers).map(|field| &field.value);
    let is_covered = |(key, topic): &&(NameKey, Located<'_>)| match covers {
        Some(Value::Coverage(items)) => items.iter().any(|item| item.what.holds(key, topic.block)),
        _ => points_items(at).is_none_or(|items| {
            let item = items.iter().rev().find(|item| holds(item, key, topic));
            item.is_some_and(|item| item.points > 0)
        }),
    };
    topics
        .iter()
        .filter(is_covered)
        .map(|(key, _)| key.clone())
        .collect()
}

fn points_items<'a>(at: &Located<'a>) -> Option<&'a [TopicPoints]> {
    match &at.block.field(Key::Points)?.value {
        Value::TopicPoints(items) => Some(items),
        _ => None,
    }
}

fn holds(item: &TopicPoints, key: &NameKey, topic: &Located<'_>) -> bool {
    item.covered.what.holds(key, topic.block)
}

/// The points of covered topics. Of two items that hold a topic the later one counts.
fn points(
    at: &Located<'_>,
    topics: &[(NameKey, Located<'_>)],
    covered: &[NameKey],
) -> Option<Vec<(u32, Vec<NameKey>)>> {
    let items = points_items(at)?;
    let mut found: Vec<(u32, Vec<NameKey>)> =
        items.iter().map(|item| (item.points, Vec::new())).collect();
    for (key, topic) in topics.iter().filter(|(key, _)| covered.contains(key)) {
        if let Some(item) = items.iter().rposition(|item| holds(item, key, topic)) {
            found[item].1.push(key.clone());
        }
    }
    Some(found)
}

/// A topic's title, by the key under which [`Notebook::topics`] lists it; the key itself where
/// nothing defines it.
pub fn topic_title(notebook: &Notebook, course: &NameKey, topic: &NameKey) -> String {
    let definition = notebook.definition(&NamedThing {
        course: course.clone(),
        kind: BlockKind::Topic,
        name: topic.clone(),
    });
    definition.map_or_else(|| topic.to_string(), |at| words::title(&at))
}

/// What there is to practise of a topic: problems, theorems and definitions that name it, stand
/// under it, or whose first pattern belongs to it; in reading order.
pub fn practised_of<'a>(
    notebook: &'a Notebook,
    course: &NameKey,
    topic: &NameKey,
) -> Vec<Located<'a>> {
    let mut found: Vec<Located<'a>> = Vec::new();
    for at in notebook.members_of(course, topic) {
        match at.block.kind {
            Some(kind) if kind.is_practised() => found.push(at),
            Some(BlockKind::Pattern) => {
                let problems = notebook.problems_of(course, &at.block.name);
                found.extend(
                    problems
                        .into_iter()
                        .filter(|p| notebook.topic_of(p).as_ref() == Some(topic)),
                );
            }
            _ => {}
        }
    }
    found.sort_by_key(|at| at.id());
    found.dedup_by_key(|at| at.id());
    found
}

/// The patterns of a topic that are defined, in reading order.
pub fn patterns_of<'a>(
    notebook: &'a Notebook,
    course: &NameKey,
    topic: &NameKey,
) -> Vec<Located<'a>> {
    let members = notebook.members_of(course, topic);
    members
        .into_iter()
        .filter(|at| at.block.kind == Some(BlockKind::Pattern))
        .collect()
}
