//! What a drill sheet or a spotting round is about: patterns and topics of a course, by name.

use std::fmt;

use notes::{BlockKind, Key, Located, NameKey, NamedThing};

use crate::exams::{Exam, practised_of, topic_title};
use crate::{Analysis, words};

/// Patterns and topics of a course; none for the whole course.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scope {
    /// The course; empty for notes of no course.
    pub course: NameKey,
    /// The patterns.
    pub patterns: Vec<NameKey>,
    /// The topics.
    pub topics: Vec<NameKey>,
    /// What it is called.
    title: String,
}

/// Why the patterns and topics are not found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoScope {
    /// The course is not in the notes.
    NoCourse(String),
    /// No pattern or topic of this name is in the notes, or in the course.
    Unknown {
        /// What was asked for: a pattern or a topic.
        kind: BlockKind,
        /// The name.
        asked: String,
        /// A name that is near it.
        near: Option<String>,
    },
    /// Several courses have all that was asked for.
    SeveralCourses(Vec<String>),
}

impl fmt::Display for NoScope {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NoCourse(asked) => write!(f, "No course is called {asked} in these notes."),
            Self::Unknown {
                kind,
                asked,
                near: Some(near),
            } => write!(
                f,
                "No {} is called {asked}. Did you mean {near}?",
                kind.word()
            ),
            Self::Unknown { kind, asked, .. } => write!(
                f,
                "No {} is called {asked}: write @{} {asked} to define it.",
                kind.word(),
                kind.word()
            ),
            Self::SeveralCourses(courses) => write!(
                f,
                "Several courses have that: {}. Say which.",
                courses.join(", ")
            ),
        }
    }
}

impl Scope {
    /// The topics that an exam covers.
    pub fn of_exam(exam: &Exam<'_>) -> Self {
        Self {
            course: exam.course.clone(),
            patterns: Vec::new(),
            topics: exam.topics.clone(),
            title: exam.at.title(),
        }
    }

    /// Finds patterns and topics, in a course or in the one that has them all. A list of names
    /// separated by commas may be given as one.
    pub fn find(
        analysis: &Analysis,
        course: Option<&str>,
        patterns: &[String],
        topics: &[String],
    ) -> Result<Self, NoScope> {
        let notebook = &analysis.notebook;
        let courses = match course {
            Some(course) => {
                let key = NameKey::new(course);
                if !key.is_empty() && !notebook.courses().contains(&key) {
                    return Err(NoScope::NoCourse(course.to_owned()));
                }
                vec![key]
            }
            None => notebook.courses(),
        };
        let mut found = Vec::new();
        let mut refusal = None;
        for course in &courses {
            match Self::in_course(analysis, course, patterns, topics) {
                Ok(scope) => found.push(scope),
                // The refusal that knows a way out says the most.
                Err(why @ NoScope::Unknown { near: Some(_), .. }) => refusal = Some(why),
                Err(why) => refusal = refusal.or(Some(why)),
            }
        }
        match found.len() {
            1 => Ok(found.remove(0)),
            0 => Err(refusal.unwrap_or_else(|| NoScope::NoCourse(String::new()))),
            _ => Err(NoScope::SeveralCourses(
                found
                    .iter()
                    .map(|scope| crate::commands::course_title(analysis, &scope.course))
                    .collect(),
            )),
        }
    }

    fn in_course(
        analysis: &Analysis,
        course: &NameKey,
        patterns: &[String],
        topics: &[String],
    ) -> Result<Self, NoScope> {
        let patterns = names(analysis, course, BlockKind::Pattern, patterns)?;
        let topics = names(analysis, course, BlockKind::Topic, topics)?;
        let title = match (&patterns[..], &topics[..]) {
            ([pattern], []) => pattern_title(analysis, course, pattern),
            ([], [topic]) => topic_title(&analysis.notebook, course, topic),
            _ => crate::commands::course_title(analysis, course),
        };
        Ok(Self {
            course: course.clone(),
            patterns,
            topics,
            title,
        })
    }

    /// What it is called: the pattern, the topic or the exam, else the course; may be empty.
    pub fn title(&self) -> &str {
        &self.title
    }

    /// What there is to practise.
    pub(crate) fn blocks<'a>(&self, analysis: &'a Analysis) -> Vec<Located<'a>> {
        let notebook = &analysis.notebook;
        let mut blocks: Vec<Located<'a>> = Vec::new();
        for pattern in &self.patterns {
            blocks.extend(notebook.problems_of(&self.course, pattern));
        }
        for topic in &self.topics {
            blocks.extend(practised_of(notebook, &self.course, topic));
        }
        if self.is_whole() {
            blocks.extend(notebook.of_kind(&self.course, BlockKind::Problem));
        }
        blocks.sort_by_key(|at| at.id());
        blocks.dedup_by_key(|at| at.id());
        blocks
    }

    /// Whether it is the whole course.
    pub(crate) fn is_whole(&self) -> bool {
        self.patterns.is_empty() && self.topics.is_empty()
    }

    /// The fields of a paper that say what it is about. A name with a comma cannot be listed.
    pub(crate) fn fields(&self, analysis: &Analysis) -> Vec<(Key, String)> {
        let list = |names: Vec<String>| {
            let names = names.into_iter().filter(|name| !name.contains(','));
            names.collect::<Vec<_>>().join(", ")
        };
        let patterns = self.patterns.iter();
        let patterns = patterns.map(|name| pattern_title(analysis, &self.course, name));
        let topics = self.topics.iter().map(ToString::to_string);
        let fields = [
            (Key::Topic, list(topics.collect())),
            (Key::Pattern, list(patterns.collect())),
        ];
        let given = fields.into_iter().filter(|(_, names)| !names.is_empty());
        given.collect()
    }
}

/// A pattern's title as it was typed, its formulas too; its name where nothing defines it.
pub(crate) fn pattern_title(analysis: &Analysis, course: &NameKey, name: &NameKey) -> String {
    let definition = analysis.notebook.definition(&NamedThing {
        course: course.clone(),
        kind: BlockKind::Pattern,
        name: name.clone(),
    });
    definition.map_or_else(|| name.to_string(), |at| at.title())
}

/// The names of blocks of a kind, each one of `given` or of a list that it is.
fn names(
    analysis: &Analysis,
    course: &NameKey,
    kind: BlockKind,
    given: &[String],
) -> Result<Vec<NameKey>, NoScope> {
    let mut found = Vec::new();
    for text in given {
        let whole = name(analysis, course, kind, text);
        match whole {
            Some(name) => found.push(name),
            None => {
                let parts = text
                    .split(',')
                    .map(str::trim)
                    .filter(|part| !part.is_empty());
                for part in parts {
                    let one = name(analysis, course, kind, part);
                    found.push(one.ok_or_else(|| unknown(analysis, course, kind, part))?);
                }
            }
        }
    }
    let mut once = Vec::new();
    for name in found {
        if !once.contains(&name) {
            once.push(name);
        }
    }
    Ok(once)
}

fn name(analysis: &Analysis, course: &NameKey, kind: BlockKind, text: &str) -> Option<NameKey> {
    let notebook = &analysis.notebook;
    let name = NameKey::new(text);
    match kind {
        BlockKind::Topic => {
            let key = notebook.canonical_topic(course, name);
            let topics = notebook.topics(course);
            topics.iter().any(|(topic, _)| *topic == key).then_some(key)
        }
        _ => {
            let thing = NamedThing {
                course: course.clone(),
                kind,
                name: name.clone(),
            };
            // A pattern need not be defined to have problems.
            let is_used = || !notebook.problems_of(course, &name).is_empty();
            (notebook.definition(&thing).is_some() || is_used()).then_some(name)
        }
    }
}

fn unknown(analysis: &Analysis, course: &NameKey, kind: BlockKind, asked: &str) -> NoScope {
    let all = analysis.notebook.of_kind(course, kind);
    let titles: Vec<String> = all.map(|at| words::title(&at)).collect();
    let keys: Vec<NameKey> = titles.iter().map(|title| NameKey::new(title)).collect();
    let key = NameKey::new(asked);
    let near = notes::name::nearest(key.as_str(), keys.iter().map(NameKey::as_str));
    let near = near.and_then(|near| keys.iter().position(|key| key.as_str() == near));
    NoScope::Unknown {
        kind,
        asked: asked.to_owned(),
        near: near.map(|at| titles[at].clone()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    const NOTES: &str = "\
=== a.porism
@course Algebra
@topic 1.1 Lines, planes
@pattern slope
@pattern root
@problem 1
  pattern: factor
  Decide.
=== b/b.porism
@course Analysis
@topic 1.1 Limits
@pattern squeeze
";

    fn check(course: Option<&str>, patterns: &[&str], topics: &[&str], expected: &str) {
        let fixture = fixture::notebook(NOTES);
        let owned = |names: &[&str]| {
            names
                .iter()
                .map(|name| (*name).to_owned())
                .collect::<Vec<_>>()
        };
        let found = Scope::find(fixture.analysis(), course, &owned(patterns), &owned(topics));
        let said = match found {
            Ok(scope) => format!(
                "{} {:?} {:?} {:?}",
                scope.title(),
                scope
                    .patterns
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>(),
                scope
                    .topics
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>(),
                scope.fields(fixture.analysis())
            ),
            Err(why) => why.to_string(),
        };
        assert_eq!(said, expected);
    }

    #[test]
    fn names_are_found_in_the_course_that_has_them() {
        check(
            None,
            &["Slope"],
            &[],
            "slope [\"slope\"] [] [(Pattern, \"slope\")]",
        );
        check(
            None,
            &["slope, root", "factor"],
            &["Lines, planes"],
            "Algebra [\"slope\", \"root\", \"factor\"] [\"1.1\"] \
             [(Topic, \"1.1\"), (Pattern, \"slope, root, factor\")]",
        );
        check(
            Some("analysis"),
            &[],
            &["1.1"],
            "1.1 Limits [] [\"1.1\"] [(Topic, \"1.1\")]",
        );
        check(Some("analysis"), &[], &[], "Analysis [] [] []");
    }

    #[test]
    fn what_is_not_found_is_said() {
        check(
            None,
            &["sloppe"],
            &[],
            "No pattern is called sloppe. Did you mean slope?",
        );
        check(
            None,
            &["sandwich"],
            &[],
            "No pattern is called sandwich: write @pattern sandwich to define it.",
        );
        check(
            None,
            &[],
            &["1.1"],
            "Several courses have that: Algebra, Analysis. Say which.",
        );
        check(
            Some("Logic"),
            &[],
            &[],
            "No course is called Logic in these notes.",
        );
        check(
            Some("Analysis"),
            &[],
            &["2"],
            "No topic is called 2: write @topic 2 to define it.",
        );
    }
}
