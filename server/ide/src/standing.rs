//! Where the student stands: the tries of the notes, folded for the model of `study`.
//!
//! The tries of each course are kept as evidence by pattern, and an edit replaces the evidence of
//! the patterns whose tries it touched. The estimates of a course are worked out when somebody
//! asks, and kept until the next such edit or the next day.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::{Arc, Mutex};

use chrono::{Datelike, NaiveDate};
use imbl::OrdMap;
use notes::value::{NotesUse, Outcome, OutsideMark, Score, Value};
use notes::{BlockKind, Delta, Key, Located, NameKey, NamedThing, Notebook, UnitId};
use study::evidence::{self, PatternEvidence, Try};
use study::mastery::{self, CourseEvidence, Mastery, Standing};
use study::{Day, Fraction, PatternId, TopicId};

/// What mastery is estimated of: a pattern, or a problem that has none and stands for itself.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum PatternKey {
    /// A pattern, by name.
    Named(NameKey),
    /// A problem without a pattern.
    Own(UnitId),
}

/// The tries of every course.
#[derive(Clone, Debug, Default)]
pub struct Standings {
    courses: OrdMap<NameKey, Arc<CourseTries>>,
}

/// The tries of one course, folded by pattern.
#[derive(Debug, Default)]
pub struct CourseTries {
    evidence: CourseEvidence,
    patterns: Numbered<PatternKey>,
    topics: Numbered<NameKey>,
    latest: Mutex<Option<Arc<CourseStanding>>>,
}

/// The estimates of one course on one day.
#[derive(Debug)]
pub struct CourseStanding {
    /// What the model says.
    pub standing: Standing,
    patterns: Numbered<PatternKey>,
    topics: Numbered<NameKey>,
}

/// Keys with the numbers under which the model knows them.
#[derive(Clone, Debug)]
struct Numbered<K> {
    numbers: BTreeMap<K, u32>,
    keys: Vec<K>,
}

impl<K> Default for Numbered<K> {
    fn default() -> Self {
        Self {
            numbers: BTreeMap::new(),
            keys: Vec::new(),
        }
    }
}

impl<K: Ord + Clone> Numbered<K> {
    fn number(&mut self, key: &K) -> u32 {
        if let Some(number) = self.numbers.get(key) {
            return *number;
        }
        let number = self.keys.len() as u32;
        self.numbers.insert(key.clone(), number);
        self.keys.push(key.clone());
        number
    }
}

/// The model's number for a calendar day.
pub fn day(date: NaiveDate) -> Day {
    Day(date.num_days_from_ce())
}

/// The calendar day behind the model's number.
pub fn date(day: Day) -> NaiveDate {
    NaiveDate::from_num_days_from_ce_opt(day.0).unwrap_or(NaiveDate::MAX)
}

impl CourseStanding {
    /// The estimate of a pattern, or of a problem without one.
    pub fn mastery(&self, key: &PatternKey) -> Option<&Mastery> {
        self.standing
            .patterns
            .get(&PatternId(*self.patterns.numbers.get(key)?))
    }

    /// The level of a topic, strictly between 0 and 1.
    pub fn topic(&self, topic: &NameKey) -> Option<f64> {
        self.standing
            .topics
            .get(&TopicId(*self.topics.numbers.get(topic)?))
            .copied()
    }

    /// Every pattern, and every tried problem without one, with its topic (empty for none).
    pub fn patterns(&self) -> impl Iterator<Item = (&PatternKey, &NameKey, &Mastery)> {
        self.patterns.numbers.iter().filter_map(|(key, number)| {
            let mastery = self.standing.patterns.get(&PatternId(*number))?;
            Some((
                key,
                self.topics.keys.get(mastery.topic.0 as usize)?,
                mastery,
            ))
        })
    }

    /// The number under which the model knows a pattern.
    pub fn pattern_id(&self, key: &PatternKey) -> Option<PatternId> {
        self.patterns.numbers.get(key).copied().map(PatternId)
    }

    /// The number under which the model knows a topic.
    pub fn topic_id(&self, topic: &NameKey) -> Option<TopicId> {
        self.topics.numbers.get(topic).copied().map(TopicId)
    }
}

impl Standings {
    /// The estimates of a course on a day. A course without a try has no patterns estimated from
    /// anything but the first guess.
    pub fn course(&self, course: &NameKey, on: NaiveDate) -> Arc<CourseStanding> {
        match self.courses.get(course) {
            Some(tries) => tries.on(day(on)),
            None => Arc::new(CourseTries::default().estimate(day(on))),
        }
    }

    /// Takes in what an edit changed.
    pub(crate) fn update(&mut self, notebook: &Notebook, delta: &Delta) {
        let renamed: BTreeSet<&NameKey> = delta
            .defined
            .iter()
            .filter(|thing| thing.kind == BlockKind::Topic)
            .map(|thing| &thing.course)
            .collect();
        for course in &delta.courses {
            let tries = match self.courses.get(course) {
                // A topic that comes, goes or gets another name may take in any number of
                // patterns that mention it: the course is folded anew.
                Some(tries) if !renamed.contains(course) => tries.patched(notebook, course, delta),
                _ => CourseTries::of(notebook, course),
            };
            self.courses.insert(course.clone(), Arc::new(tries));
        }
    }
}

impl CourseTries {
    fn on(&self, day: Day) -> Arc<CourseStanding> {
        // A panic while the lock is held would leave only an old estimate behind.
        let mut latest = self
            .latest
            .lock()
            .unwrap_or_else(|poisoned| poisoned.into_inner());
        match &*latest {
            Some(standing) if standing.standing.day == day => standing.clone(),
            _ => {
                let standing = Arc::new(self.estimate(day));
                *latest = Some(standing.clone());
                standing
            }
        }
    }

    fn estimate(&self, day: Day) -> CourseStanding {
        CourseStanding {
            standing: mastery::estimate(&self.evidence, day),
            patterns: self.patterns.clone(),
            topics: self.topics.clone(),
        }
    }

    /// Folds a whole course.
    fn of(notebook: &Notebook, course: &NameKey) -> Self {
        let mut tries = Self::default();
        let mut keys: BTreeSet<PatternKey> = BTreeSet::new();
        for at in notebook.of_kind(course, BlockKind::Pattern) {
            keys.insert(PatternKey::Named(at.block.name.clone()));
        }
        for kind in [
            BlockKind::Problem,
            BlockKind::Theorem,
            BlockKind::Definition,
        ] {
            for at in notebook.of_kind(course, kind) {
                keys.extend(pattern_keys(&at));
            }
        }
        for key in keys {
            tries.set(notebook, course, &key);
        }
        for at in notebook.of_kind(course, BlockKind::Topic) {
            tries.set_marks(notebook, course, &at);
        }
        tries
    }

    /// Folds again what an edit touched.
    fn patched(&self, notebook: &Notebook, course: &NameKey, delta: &Delta) -> Self {
        let mut tries = Self {
            evidence: self.evidence.clone(),
            patterns: self.patterns.clone(),
            topics: self.topics.clone(),
            latest: Mutex::new(None),
        };
        let mut keys: BTreeSet<PatternKey> = BTreeSet::new();
        for thing in delta.used.iter().chain(&delta.defined) {
            if thing.kind == BlockKind::Pattern && thing.course == *course {
                keys.insert(PatternKey::Named(thing.name.clone()));
            }
        }
        for id in &delta.units {
            keys.insert(PatternKey::Own(id.clone()));
            let Some(at) = notebook.block(id) else {
                continue;
            };
            if notebook.course_of(at.path, at.entry) != *course {
                continue;
            }
            match at.block.kind {
                Some(BlockKind::Pattern) => {
                    keys.insert(PatternKey::Named(at.block.name.clone()));
                }
                Some(BlockKind::Topic) => tries.set_marks(notebook, course, &at),
                Some(kind) if kind.is_practised() => keys.extend(pattern_keys(&at)),
                _ => {}
            }
        }
        for key in keys {
            tries.set(notebook, course, &key);
        }
        tries
    }

    /// Sets the evidence of one pattern from the notebook as it is now.
    fn set(&mut self, notebook: &Notebook, course: &NameKey, key: &PatternKey) {
        let problems = match key {
            PatternKey::Named(name) => notebook.problems_of(course, name),
            PatternKey::Own(id) => {
                let own = notebook.block(id).filter(|at| {
                    at.block.kind.is_some_and(BlockKind::is_practised)
                        && at.block.names(Key::Pattern).is_empty()
                        && notebook.course_of(at.path, at.entry) == *course
                });
                own.into_iter().collect()
            }
        };
        let definition = match key {
            PatternKey::Named(name) => notebook.definition(&NamedThing {
                course: course.clone(),
                kind: BlockKind::Pattern,
                name: name.clone(),
            }),
            PatternKey::Own(_) => None,
        };
        if problems.is_empty() && definition.is_none() {
            if let Some(number) = self.patterns.numbers.get(key) {
                self.evidence.remove_pattern(PatternId(*number));
            }
            return;
        }
        let of_definition = definition.and_then(|at| notebook.topic_of(&at));
        let topic = of_definition
            .or_else(|| problems.iter().find_map(|at| notebook.topic_of(at)))
            .unwrap_or_default();
        let tries = problems.iter().flat_map(tries_of).collect::<Vec<_>>();
        self.evidence.set_pattern(
            PatternId(self.patterns.number(key)),
            TopicId(self.topics.number(&topic)),
            PatternEvidence::new(tries),
        );
    }

    /// Sets the marks from outside of a topic.
    fn set_marks(&mut self, notebook: &Notebook, course: &NameKey, at: &Located<'_>) {
        let Some(topic) = notebook.topic_key(at) else {
            return;
        };
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Topic,
            name: topic.clone(),
        };
        let mut tries = Vec::new();
        for at in notebook.definitions(&thing) {
            for field in &at.block.fields {
                if let Value::OutsideMark(mark) = &field.value {
                    tries.push(mark_as_try(mark, field.key));
                }
            }
        }
        self.evidence.set_marks(
            TopicId(self.topics.number(&topic)),
            PatternEvidence::new(tries),
        );
    }
}

/// The patterns to which a problem gives evidence: those it names, or itself.
pub fn pattern_keys(at: &Located<'_>) -> Vec<PatternKey> {
    let mut keys: Vec<PatternKey> = Vec::new();
    for named in at.block.names(Key::Pattern) {
        let key = PatternKey::Named(named.key.clone());
        if !keys.contains(&key) {
            keys.push(key);
        }
    }
    if keys.is_empty() {
        keys.push(PatternKey::Own(at.id()));
    }
    keys
}

fn tries_of(at: &Located<'_>) -> Vec<Try> {
    let patterns = pattern_keys(at).len() as u32;
    let as_try = |attempt: &notes::value::Attempt| Try {
        day: day(attempt.date),
        notes: match attempt.notes {
            NotesUse::Open => evidence::Notes::Open,
            NotesUse::Closed => evidence::Notes::Closed,
        },
        setting: match attempt.mock {
            true => evidence::Setting::Mock,
            false => evidence::Setting::Practice,
        },
        outcome: outcome(attempt.outcome),
        patterns,
    };
    at.block.attempts().map(as_try).collect()
}

/// A quiz is sat with notes closed; homework is done with notes open.
fn mark_as_try(mark: &OutsideMark, key: Key) -> Try {
    Try {
        day: day(mark.date),
        notes: match key {
            Key::Quiz => evidence::Notes::Closed,
            _ => evidence::Notes::Open,
        },
        setting: evidence::Setting::Practice,
        outcome: evidence::Outcome::Score(fraction(mark.score)),
        patterns: 1,
    }
}

fn outcome(outcome: Outcome) -> evidence::Outcome {
    match outcome {
        Outcome::Right => evidence::Outcome::Right,
        Outcome::Partly => evidence::Outcome::Partly,
        Outcome::Wrong => evidence::Outcome::Wrong,
        Outcome::Skipped => evidence::Outcome::Skipped,
        Outcome::Score(score) => evidence::Outcome::Score(fraction(score)),
    }
}

/// A score as a part of 1; extra credit counts as full marks.
pub fn fraction(score: Score) -> Fraction {
    Fraction::new(score.fraction().min(1.0)).unwrap_or(Fraction::ZERO)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{Workspace, fixture};
    use notes::FilePath;

    #[test]
    fn a_try_makes_no_other_course_be_estimated_anew() {
        let course = |name: &str| {
            let problems = (0..20).map(|n| {
                format!("@problem {n}\n  pattern: p{n}\n  Decide {n}.\n  tried: 2027-02-10 closed right\n")
            });
            format!("@course {name}\n@topic 1\n{}", problems.collect::<String>())
        };
        let names = ["Algebra", "Geometry", "Logic"];
        let mut workspace = Workspace::new(fixture::now());
        for name in names {
            workspace.set_text(&FilePath::new(&format!("{name}/a.porism")), &course(name));
        }
        let on = fixture::now().date();
        let estimates = |workspace: &Workspace| {
            names.map(|name| {
                workspace
                    .analysis()
                    .standings
                    .course(&NameKey::new(name), on)
            })
        };
        let before = estimates(&workspace);
        let path = FilePath::new("Geometry/a.porism");
        let text = course("Geometry").replacen("closed right", "closed wrong", 1);
        workspace.set_text(&path, &text);
        let after = estimates(&workspace);
        let anew: Vec<&str> = names
            .into_iter()
            .zip(before.iter().zip(&after))
            .filter(|(_, (before, after))| !Arc::ptr_eq(before, after))
            .map(|(name, _)| name)
            .collect();
        assert_eq!(anew, ["Geometry"]);
    }
}
