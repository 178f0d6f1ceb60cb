//! What drill sheets and spotting rounds have in common.

use std::collections::BTreeSet;
use std::fmt;

use notes::{FilePath, Key};
use study::drill::{self, Sheet};
use study::selection::{Candidate, Source};

use crate::drawn_paper::{
    DrawnPaper, DrawnQuestion, course_to_name, default_seed, new_path, new_title,
};
use crate::page::Page;
use crate::papers::{PaperUse, papers};
use crate::question_pool::{Asked, Pool, Purpose, last_paper_sources};
use crate::reasons::Say;
use crate::sheet_scope::Scope;
use crate::standing::CourseStanding;
use crate::{Analysis, words};

/// What stands above every drill sheet.
const DRILL: [&str; 5] = [
    "% A drill sheet, drawn from your notes. Write your final answer behind mine: and it",
    "% is marked when you record the marks. What cannot be marked so, mark yourself:",
    "% right, partly, wrong, skipped or a score such as 3/4. If you look things up,",
    "% change notes: to open. The course's own rules on materials and collaboration come",
    "% first.",
];

/// What stands above every spotting round.
const SPOTTING: [&str; 3] = [
    "% A spotting round, drawn from your notes. Solve nothing: behind pattern: write what",
    "% kind of problem each is. Then record the round: that marks it. The course's own",
    "% rules on materials and collaboration come first.",
];

/// Why no sheet was drawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoSheet {
    /// There is no problem to ask.
    NothingToAsk(String),
    /// There is no problem of which the pattern could be named.
    NothingToSpot(String),
    /// All problems belong to papers of the instructor's that were not sat yet.
    HeldBack(String),
    /// No question was asked for.
    NoQuestions,
}

impl fmt::Display for NoSheet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NothingToAsk(about) => write!(
                f,
                "There is no problem to ask of {about} yet: mark some with @problem, and say their \
                 kind with pattern:."
            ),
            Self::NothingToSpot(about) => write!(
                f,
                "There is no problem of {about} that says its kind: write pattern: below its problems."
            ),
            Self::HeldBack(said) => f.write_str(said),
            Self::NoQuestions => f.write_str("A sheet of 0 questions: ask for at least one."),
        }
    }
}

/// A sheet that is being drawn.
pub(crate) struct Drawing<'a, 's> {
    analysis: &'a Analysis,
    scope: &'s Scope,
    purpose: Purpose,
    path: FilePath,
    pub(crate) seed: u32,
}

impl<'a, 's> Drawing<'a, 's> {
    /// A sheet about `scope`; the seed, where none is asked for, follows from the date, what it is
    /// about and the sheets that are there.
    pub(crate) fn new(
        analysis: &'a Analysis,
        scope: &'s Scope,
        purpose: Purpose,
        seed: Option<u32>,
    ) -> Self {
        let word = match purpose {
            Purpose::Solving => "drill",
            Purpose::Spotting => "spotting",
        };
        let what = format!("{word} {}", scope.title());
        let today = analysis.today();
        let blocks = scope.blocks(analysis);
        let files = analysis.notebook.files().map(|(path, _)| path);
        let own = blocks.first().map(|at| at.path);
        let beside = own.into_iter().chain(files).next().cloned();
        let beside = beside.unwrap_or_else(|| FilePath::new(""));
        let (path, number) = new_path(analysis, &scope.course, &beside, &what, today);
        Self {
            analysis,
            scope,
            purpose,
            path,
            seed: seed.unwrap_or_else(|| default_seed(today, &scope.course, &what, number)),
        }
    }

    /// Nothing to ask so far; the last sheet of this use is asked again only in need.
    pub(crate) fn pool<'p>(&self, standing: &'p CourseStanding) -> Pool<'a, 'p>
    where
        's: 'p,
    {
        let wanted = match self.purpose {
            Purpose::Solving => PaperUse::Drill,
            Purpose::Spotting => PaperUse::Spotting,
        };
        let mut earlier = papers(&self.analysis.notebook, &self.scope.course);
        earlier.retain(|paper| paper.purpose() == wanted);
        let last = last_paper_sources(self.analysis, &self.scope.course, &earlier);
        Pool::new(
            self.analysis,
            &self.scope.course,
            standing,
            self.purpose,
            last,
        )
    }

    /// Whether there is something to ask, and something is asked for.
    pub(crate) fn check(
        &self,
        pool: &Pool<'_, '_>,
        candidates: usize,
        questions: Option<u32>,
    ) -> Result<(), NoSheet> {
        if questions == Some(0) {
            return Err(NoSheet::NoQuestions);
        }
        if candidates > 0 {
            return Ok(());
        }
        let about = match self.scope.title() {
            "" => "these notes".to_owned(),
            title => title.to_owned(),
        };
        Err(match (pool.held_back_in_words(), self.purpose) {
            (Some(said), _) => NoSheet::HeldBack(said),
            (None, Purpose::Solving) => NoSheet::NothingToAsk(about),
            (None, Purpose::Spotting) => NoSheet::NothingToSpot(about),
        })
    }

    /// Draws the sheet, and what its questions ask.
    pub(crate) fn draw(
        &self,
        pool: &Pool<'a, '_>,
        candidates: &mut Vec<Candidate>,
        draw: impl Fn(&[Candidate]) -> Sheet,
    ) -> (Sheet, Vec<Asked<'a>>) {
        pool.draw(
            self.seed,
            candidates,
            |candidates| candidates.iter_mut().collect(),
            |candidates| draw(candidates),
            |sheet| {
                let questions = sheet.questions.iter();
                questions.map(|q| (q.problem, q.source)).collect()
            },
        )
    }

    /// The sheet as a new file of the notes. Where no number of questions was `wanted`, fewer than
    /// usual are nothing to speak of.
    pub(crate) fn finish(
        self,
        pool: &Pool<'a, '_>,
        standing: &CourseStanding,
        (drawn, asked): (Sheet, Vec<Asked<'a>>),
        wanted: bool,
    ) -> DrawnPaper {
        let say = Say {
            analysis: self.analysis,
            course: &self.scope.course,
            standing,
            purpose: self.purpose,
        };
        let whys = drawn
            .questions
            .iter()
            .map(|question| say.why_on_sheet(question.source, &question.reason));
        let questions: Vec<(Asked<'_>, String)> = asked.into_iter().zip(whys).collect();
        let kinds = drawn
            .questions
            .iter()
            .map(|question| question.reason.pattern);
        let kinds: BTreeSet<_> = kinds.collect();
        let is_news = |shortfall: &&drill::Shortfall| match shortfall {
            drill::Shortfall::FewerThanAsked { .. } => wanted,
            // There is nothing to mix.
            drill::Shortfall::SamePatternInARow(_) => kinds.len() > 1,
            drill::Shortfall::NothingToAsk(_) => true,
        };
        let lacks = drawn.shortfalls.iter().filter(is_news);
        let mut shortfalls: Vec<String> = lacks.map(|lack| say.sheet_shortfall(lack)).collect();
        let sources = drawn.questions.iter().map(|question| question.source);
        if self.purpose == Purpose::Solving {
            shortfalls.extend(say.stale(sources));
        } else if sources.clone().all(|source| source != Source::Untried) {
            shortfalls.push(format!(
                "{} spotted before: more problems would help.",
                match questions.len() {
                    1 => "The question was".to_owned(),
                    n => format!("All {} were", words::count(n, "question")),
                }
            ));
        }
        shortfalls.extend(pool.held_back_in_words());

        let (preface, sheet, alone): (&[&str], _, _) = match self.purpose {
            Purpose::Solving => (&DRILL, "drill sheet", "Drill sheet"),
            Purpose::Spotting => (&SPOTTING, "spotting round", "Spotting round"),
        };
        let stem = match self.scope.title() {
            "" => alone.to_owned(),
            title => format!("{title}, {sheet}"),
        };
        let title = new_title(self.analysis, &self.scope.course, &stem, 1);
        let mut fields = self.scope.fields(self.analysis);
        fields.push((Key::Drawn, self.analysis.today().to_string()));
        fields.push((Key::Seed, self.seed.to_string()));
        if self.purpose == Purpose::Solving {
            fields.push((Key::Notes, "closed".to_owned()));
        }
        let own = questions.first().map(|(asked, _)| asked.at.path);
        let page = Page {
            preface,
            course: course_to_name(self.analysis, &self.path, &self.scope.course),
            title: &title,
            fields,
            purpose: self.purpose,
            beside: own.unwrap_or(&self.path),
        };
        let text = page.text(self.analysis, questions.iter().map(|(asked, _)| asked));
        let question = |(asked, why): (Asked<'_>, String)| DrawnQuestion {
            source: asked.at.id(),
            text: asked.text,
            seed: asked.seed,
            why,
        };
        DrawnPaper {
            path: self.path,
            text,
            title,
            seed: self.seed,
            questions: questions.into_iter().map(question).collect(),
            shortfalls,
        }
    }
}

/// A sheet's text without the comments above it and without blanks at the ends of lines.
#[cfg(test)]
pub(crate) fn without_preface(text: &str) -> String {
    let lines = text.lines().map(str::trim_end);
    let lines = lines.skip_while(|line| line.is_empty() || line.starts_with('%'));
    lines.map(|line| format!("{line}\n")).collect()
}
