//! Why each question was chosen, and what a paper or a sheet lacks, in words.

use notes::{BlockKind, NameKey, NamedThing};
use study::paper::{Kind, Shortfall};
use study::selection::{Reason, Source};
use study::{PatternId, TopicId, drill};

use crate::exams::topic_title;
use crate::question_pool::Purpose;
use crate::standing::{CourseStanding, PatternKey, date as date_of};
use crate::{Analysis, words};

/// What is needed to say things of a paper.
pub(crate) struct Say<'a> {
    pub(crate) analysis: &'a Analysis,
    pub(crate) course: &'a NameKey,
    pub(crate) standing: &'a CourseStanding,
    pub(crate) purpose: Purpose,
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
                    course: self.course.clone(),
                    kind: BlockKind::Pattern,
                    name: name.clone(),
                };
                let definition = notebook.definition(&thing);
                definition.map_or_else(|| name.to_string(), |at| words::title(&at))
            }
            Some(PatternKey::Own(_)) | None => "a problem of no pattern".to_owned(),
        }
    }

    fn topic(&self, topics: &[NameKey], topic: TopicId) -> String {
        let topic = topics.get(topic.0 as usize);
        topic.map_or_else(String::new, |topic| {
            topic_title(&self.analysis.notebook, self.course, topic)
        })
    }

    /// Why a question of a section was chosen.
    pub(crate) fn why(&self, topic: &NameKey, source: Source, reason: &Reason) -> String {
        let topic = topic_title(&self.analysis.notebook, self.course, topic);
        let mut why = format!("{topic}: ");
        let mastery = words::probability(reason.mastery);
        match reason.pattern.map(|pattern| self.pattern(pattern)) {
            None => why.push_str(&format!(
                "of no pattern, at the course's level of {mastery}"
            )),
            Some(pattern) if reason.untried_pattern => {
                why.push_str(&format!("{pattern} was never tried (about {mastery})"));
            }
            Some(pattern) if reason.of == 1 => {
                why.push_str(&format!(
                    "{pattern} is its only kind with problems ({mastery})"
                ));
            }
            Some(pattern) => why.push_str(&place(&pattern, reason)),
        }
        self.go_on(&mut why, source, reason);
        why
    }

    /// Why a question of a sheet on patterns was chosen.
    pub(crate) fn why_on_sheet(&self, source: Source, reason: &Reason) -> String {
        let pattern = reason.pattern.map(|pattern| self.pattern(pattern));
        let pattern = pattern.unwrap_or_else(|| "of no pattern".to_owned());
        let mastery = words::probability(reason.mastery);
        let mut why = match (reason.of, reason.untried_pattern) {
            (_, true) => format!("{pattern} was never tried (about {mastery})"),
            (1, false) => format!("{pattern} ({mastery})"),
            (_, false) => place(&pattern, reason),
        };
        self.go_on(&mut why, source, reason);
        why
    }

    /// Adds what the pattern is confused with, and how fresh the question is.
    fn go_on(&self, why: &mut String, source: Source, reason: &Reason) {
        if let Some(partner) = reason.partner {
            why.push_str(&format!(", easily confused with {}", self.pattern(partner)));
        }
        let tried = reason
            .last_tried
            .map(|day| words::day_from(self.analysis.today(), date_of(day)));
        let done = match self.purpose {
            Purpose::Solving => "tried",
            Purpose::Spotting => "spotted",
        };
        why.push_str(&match (source, tried) {
            (Source::FreshNumbers { .. }, _) => "; done before, with other numbers now".to_owned(),
            (Source::SkipList, _) => "; known already, nothing fresher is left".to_owned(),
            (Source::LastPaper, _) => "; on the last paper, nothing fresher is left".to_owned(),
            (_, None) => "; a fresh problem".to_owned(),
            (_, Some(tried)) => format!("; last {done} {tried}"),
        });
    }

    pub(crate) fn shortfall(
        &self,
        topics: &[NameKey],
        shortfall: &Shortfall,
        kind: Kind,
    ) -> String {
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
                format!("{} has no {one} to ask.", self.topic(topics, *topic))
            }
            Shortfall::FewFromSection {
                topic,
                drawn,
                same_shape,
            } => {
                let mut said = format!(
                    "Only {} from {}",
                    words::count(*drawn as usize, "question"),
                    self.topic(topics, *topic)
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
                    self.topic(topics, *topic)
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

    /// What a sheet lacks.
    pub(crate) fn sheet_shortfall(&self, shortfall: &drill::Shortfall) -> String {
        match shortfall {
            drill::Shortfall::FewerThanAsked {
                asked,
                chosen,
                same_shape,
            } => {
                let mut said = format!(
                    "{} instead of {asked}: the notes hold no more that may be asked together",
                    words::count(*chosen as usize, "question")
                );
                if *same_shape > 0 {
                    said.push_str(&format!(
                        "; {} would repeat a question with other numbers",
                        words::count(*same_shape as usize, "problem")
                    ));
                }
                said.push('.');
                said
            }
            drill::Shortfall::NothingToAsk(pattern) => {
                format!("{} has no problem to ask.", self.pattern(*pattern))
            }
            drill::Shortfall::SamePatternInARow(pattern) => {
                self.shortfall(&[], &Shortfall::SamePatternInARow(*pattern), Kind::Problems)
            }
        }
    }

    /// How many questions are not fresh, and why.
    pub(crate) fn stale(&self, sources: impl Iterator<Item = Source>) -> Vec<String> {
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

fn place(pattern: &str, reason: &Reason) -> String {
    let mastery = words::probability(reason.mastery);
    match (reason.place, reason.of) {
        (1, of) => format!("{pattern} is the weakest of {of} kinds ({mastery})"),
        (place, of) => {
            format!("{pattern} is number {place} of {of} kinds from the weakest ({mastery})")
        }
    }
}
