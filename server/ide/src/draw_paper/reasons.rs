//! Why each question was chosen, and what a paper lacks, in words.

use chrono::NaiveDate;
use notes::{BlockKind, NameKey, NamedThing};
use study::paper::{Kind, Shortfall};
use study::selection::{Reason, Source};
use study::{PatternId, TopicId};

use super::topic_title;
use crate::exams::Exam;
use crate::standing::{CourseStanding, PatternKey, date as date_of};
use crate::{Analysis, words};

/// What is needed to say things of a paper.
pub(super) struct Say<'a> {
    pub(super) analysis: &'a Analysis,
    pub(super) exam: &'a Exam<'a>,
    pub(super) standing: &'a CourseStanding,
    pub(super) today: NaiveDate,
}

impl Say<'_> {
    fn pattern(&self, pattern: PatternId) -> String {
        let notebook = &self.analysis.notebook;
        let key = self.standing.patterns().map(|(key, ..)| key);
        let key = key
            .into_iter()
            .find(|key| self.standing.pattern_id(key) == Some(pattern));
        match key {
            Some(PatternKey::Named(name)) => {
                let thing = NamedThing {
                    course: self.exam.course.clone(),
                    kind: BlockKind::Pattern,
                    name: name.clone(),
                };
                let definition = notebook.definition(&thing);
                definition.map_or_else(|| name.to_string(), |at| words::title(&at))
            }
            Some(PatternKey::Own(_)) | None => "a problem of no pattern".to_owned(),
        }
    }

    fn topic(&self, topic: TopicId) -> String {
        let topic = self.exam.topics.get(topic.0 as usize);
        topic.map_or_else(String::new, |topic| {
            topic_title(self.analysis, self.exam, topic)
        })
    }

    /// Why a question was chosen.
    pub(super) fn why(&self, topic: &NameKey, source: Source, reason: &Reason) -> String {
        let topic = topic_title(self.analysis, self.exam, topic);
        let mut why = format!("{topic}: ");
        let mastery = words::probability(reason.mastery);
        match reason.pattern.map(|pattern| self.pattern(pattern)) {
            None => why.push_str(&format!(
                "of no pattern, at the course's level of {mastery}"
            )),
            Some(pattern) if reason.untried_pattern => {
                why.push_str(&format!("{pattern} was never tried (about {mastery})"));
            }
            Some(pattern) => match (reason.place, reason.of) {
                (_, 1) => why.push_str(&format!(
                    "{pattern} is its only kind with problems ({mastery})"
                )),
                (1, of) => why.push_str(&format!(
                    "{pattern} is the weakest of {of} kinds ({mastery})"
                )),
                (place, of) => why.push_str(&format!(
                    "{pattern} is number {place} of {of} kinds from the weakest ({mastery})"
                )),
            },
        }
        if let Some(partner) = reason.partner {
            why.push_str(&format!(", easily confused with {}", self.pattern(partner)));
        }
        let tried = reason
            .last_tried
            .map(|day| words::day_from(self.today, date_of(day)));
        why.push_str(&match (source, tried) {
            (Source::SkipList, _) => "; known already, nothing fresher is left".to_owned(),
            (Source::LastPaper, _) => "; on the last paper, nothing fresher is left".to_owned(),
            (_, None) => "; a fresh problem".to_owned(),
            (_, Some(tried)) => format!("; last tried {tried}"),
        });
        why
    }

    pub(super) fn shortfall(&self, shortfall: &Shortfall, kind: Kind) -> String {
        let one = match kind {
            Kind::Problems => "problem",
            Kind::Theorems => "theorem",
        };
        match shortfall {
            Shortfall::NothingCovered => "No section is covered.".to_owned(),
            Shortfall::FewerThanAsked { asked, drawn } => format!(
                "{} instead of {asked}: the notes hold no more that may be asked together.",
                words::count(*drawn as usize, "question")
            ),
            Shortfall::NothingToAsk(topic) => {
                format!("{} has no {one} to ask.", self.topic(*topic))
            }
            Shortfall::FewFromSection {
                topic,
                drawn,
                same_shape,
            } => {
                let mut said = format!(
                    "Only {} from {}",
                    words::count(*drawn as usize, "question"),
                    self.topic(*topic)
                );
                if *same_shape > 0 {
                    said.push_str(&format!(
                        ": {} of it would repeat a question with other numbers",
                        words::count(*same_shape as usize, one)
                    ));
                }
                said.push('.');
                said
            }
            Shortfall::LeftOut(topic) => {
                format!(
                    "No question from {}: there are more sections than questions.",
                    self.topic(*topic)
                )
            }
            Shortfall::UnusualCount {
                asked,
                fewest,
                most,
            } => {
                format!("{asked} questions; {fewest} to {most} are usual.")
            }
            Shortfall::TooMany { asked } => format!(
                "{asked} questions are too many for one paper; it has at most {}.",
                study::selection::MOST_QUESTIONS
            ),
            Shortfall::SamePatternInARow(pattern) => format!(
                "Two questions in a row are of the kind {}: no order was found without.",
                self.pattern(*pattern)
            ),
        }
    }

    /// How many questions are not fresh, and why.
    pub(super) fn stale(&self, sources: impl Iterator<Item = Source>) -> Vec<String> {
        let sources: Vec<Source> = sources.collect();
        let count = |wanted| sources.iter().filter(|source| **source == wanted).count();
        let mut said = Vec::new();
        for (n, why) in [
            (count(Source::SkipList), "known already"),
            (count(Source::LastPaper), "on the last paper, too"),
        ] {
            if n > 0 {
                let verb = if n == 1 { "is" } else { "are" };
                said.push(format!(
                    "{} {verb} {why}: nothing fresher is left. More problems would help.",
                    words::count(n, "question")
                ));
            }
        }
        said
    }
}
