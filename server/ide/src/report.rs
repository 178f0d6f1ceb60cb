//! Where the student stands: every exam with its readiness, and every pattern by topic.

use std::fmt;

use chrono::NaiveDate;
use notes::value::{Moment, Score};
use notes::{BlockKind, Key, NameKey, NamedThing};
use study::calibration::Calibration;

use crate::exams::{Exam, exams, practised_of, topic_title};
use crate::past_estimates::{PastEstimate, calibration_in_words, past_estimate, past_estimates};
use crate::readiness::{ExamReadiness, NoReadiness, TopicCost, on_day};
use crate::standing::{CourseStanding, PatternKey, date};
use crate::{Analysis, readiness, words};

/// Where the student stands on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct Report {
    /// The day.
    pub on: NaiveDate,
    /// The courses, by name.
    pub courses: Vec<CourseReport>,
    /// How past estimates fared, over all courses.
    pub calibration: Option<Calibration>,
}

/// Where the student stands in one course.
#[derive(Clone, Debug, PartialEq)]
pub struct CourseReport {
    /// The course's title; empty for notes of no course.
    pub title: String,
    /// Whether there are at least five tries, without which the estimates say little.
    pub enough_evidence: bool,
    /// Tries up to the day, marks from outside included.
    pub tries: u32,
    /// The exams, dated ones first by date.
    pub exams: Vec<ExamReport>,
    /// The topics in the course's order; last, without a title, what belongs to none.
    pub topics: Vec<TopicReport>,
}

/// How an exam stands.
#[derive(Clone, Debug, PartialEq)]
pub struct ExamReport {
    /// The exam's title.
    pub title: String,
    /// When it is.
    pub on: Option<Moment>,
    /// The first day of its window, on which revision starts.
    pub window_start: Option<NaiveDate>,
    /// The score to reach, as a part of 1.
    pub target: f64,
    /// The score that was reached.
    pub result: Option<Score>,
    /// What was estimated before it, when it is past and has its result.
    pub past: Option<PastEstimate>,
    /// The readiness, or why there is none.
    pub readiness: Result<ExamReadiness, NoReadiness>,
    /// The readiness, or why there is none, in words.
    pub reason: String,
    /// What the covered topics are expected to cost, dearest first: title, and part of the score.
    pub costs: Vec<(String, f64)>,
    /// The same in words, where there is more than one topic.
    pub costs_most: Option<String>,
}

/// How a topic stands.
#[derive(Clone, Debug, PartialEq)]
pub struct TopicReport {
    /// The topic's title; empty for what belongs to no topic.
    pub title: String,
    /// Its patterns, and its tried problems that have none, weakest first.
    pub patterns: Vec<PatternReport>,
    /// How many of its problems have no pattern and were never tried.
    pub untried_without_pattern: usize,
}

/// How a pattern stands.
#[derive(Clone, Debug, PartialEq)]
pub struct PatternReport {
    /// The pattern's title, or that of a problem without one.
    pub title: String,
    /// The probability of a right answer on a fresh problem, notes closed.
    pub mastery: f64,
    /// The 5% and the 95% quantile of that estimate.
    pub between: (f64, f64),
    /// Tries up to the day.
    pub tries: usize,
    /// Different days of practice up to the day.
    pub days: u32,
    /// The day of the last one.
    pub last: Option<NaiveDate>,
}

/// A course that the notes do not have.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NoCourse {
    /// What was asked for.
    pub asked: String,
    /// The courses there are.
    pub courses: Vec<String>,
}

impl fmt::Display for NoCourse {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.courses.is_empty() {
            true => write!(
                f,
                "No course is called {}: there is none in these notes.",
                self.asked
            ),
            false => {
                write!(
                    f,
                    "No course is called {}. There are: {}.",
                    self.asked,
                    self.courses.join(", ")
                )
            }
        }
    }
}

/// Finds a course by its title.
pub fn find_course(analysis: &Analysis, asked: &str) -> Result<NameKey, NoCourse> {
    let mut courses = analysis.notebook.courses();
    let key = NameKey::new(asked);
    if courses.contains(&key) {
        return Ok(key);
    }
    courses.retain(|course| !course.is_empty());
    let titles = courses
        .iter()
        .map(|course| title_of_course(analysis, course));
    Err(NoCourse {
        asked: asked.to_owned(),
        courses: titles.collect(),
    })
}

/// Where the student stands on a day, in one course or in all, from the tries up to that day.
pub fn standing(
    analysis: &Analysis,
    on: NaiveDate,
    course: Option<&str>,
) -> Result<Report, NoCourse> {
    let mut courses = analysis.notebook.courses();
    if let Some(asked) = course {
        courses = vec![find_course(analysis, asked)?];
    }
    let reports = courses
        .iter()
        .map(|course| course_report(analysis, course, on));
    let says_something =
        |report: &CourseReport| !report.exams.is_empty() || !report.topics.is_empty();
    let courses = match course {
        Some(_) => reports.collect(),
        None => reports.filter(says_something).collect(),
    };
    Ok(Report {
        on,
        courses,
        calibration: past_estimates(analysis, on),
    })
}

fn title_of_course(analysis: &Analysis, course: &NameKey) -> String {
    crate::commands::course_title(analysis, course)
}

fn course_report(analysis: &Analysis, course: &NameKey, on: NaiveDate) -> CourseReport {
    let estimates = analysis.standings.course(course, on);
    let exams = exams(analysis, course);
    let exams = exams.iter().map(|exam| exam_report(analysis, exam, on));
    let mut topics: Vec<TopicReport> = Vec::new();
    let defined = analysis.notebook.topics(course);
    for (topic, at) in &defined {
        topics.push(topic_report(
            analysis,
            course,
            topic,
            words::title(at),
            &estimates,
            on,
        ));
    }
    // Topics that patterns name and nobody defines, and what belongs to none.
    let is_defined = |topic: &NameKey| defined.iter().any(|(key, _)| key == topic);
    let others: std::collections::BTreeSet<&NameKey> = estimates
        .patterns()
        .map(|(_, topic, _)| topic)
        .filter(|topic| !is_defined(topic))
        .collect();
    for topic in others.into_iter().rev() {
        let title = topic.to_string();
        topics.push(topic_report(analysis, course, topic, title, &estimates, on));
    }
    topics.retain(|topic| !topic.title.is_empty() || !topic.patterns.is_empty());
    CourseReport {
        title: title_of_course(analysis, course),
        enough_evidence: estimates.standing.enough_evidence,
        tries: estimates.standing.tries,
        exams: exams.collect(),
        topics,
    }
}

fn exam_report(analysis: &Analysis, exam: &Exam<'_>, on: NaiveDate) -> ExamReport {
    let readiness = on_day(analysis, exam, on);
    let of = readiness.as_ref().ok();
    let cost = |cost: &TopicCost| {
        let title = topic_title(&analysis.notebook, &exam.course, &cost.topic);
        (title, cost.lost)
    };
    ExamReport {
        title: words::title(&exam.at),
        on: exam.on,
        window_start: exam.window_start,
        target: exam.target,
        result: exam.at.block.score(Key::Result),
        past: past_estimate(analysis, exam, on),
        reason: match &readiness {
            Ok(readiness) => readiness::in_words(readiness, exam),
            Err(reason) => reason.to_string(),
        },
        costs: of.map_or_else(Vec::new, |of| of.costs.iter().map(cost).collect()),
        costs_most: of.and_then(|of| readiness::costs_in_words(analysis, exam, of)),
        readiness,
    }
}

fn topic_report(
    analysis: &Analysis,
    course: &NameKey,
    topic: &NameKey,
    title: String,
    estimates: &CourseStanding,
    on: NaiveDate,
) -> TopicReport {
    let mut patterns: Vec<PatternReport> = Vec::new();
    for (key, of, mastery) in estimates.patterns() {
        let is_own = matches!(key, PatternKey::Own(_));
        if of != topic || (is_own && mastery.last.is_none()) {
            continue;
        }
        patterns.push(PatternReport {
            title: pattern_title(analysis, course, key),
            mastery: mastery.mean,
            between: (mastery.low, mastery.high),
            tries: tries_of(analysis, course, key, on),
            days: mastery.days,
            last: mastery.last.map(date),
        });
    }
    patterns.sort_by(|a, b| {
        a.mastery
            .total_cmp(&b.mastery)
            .then_with(|| a.title.cmp(&b.title))
    });
    let practised = practised_of(&analysis.notebook, course, topic);
    let is_untried = |at: &&notes::Located<'_>| {
        at.block.names(Key::Pattern).is_empty() && at.block.attempts().all(|a| a.date > on)
    };
    let untried_without_pattern = practised.iter().filter(is_untried).count();
    TopicReport {
        title,
        patterns,
        untried_without_pattern,
    }
}

/// The title of a pattern, or of a problem without one.
pub(crate) fn pattern_title(analysis: &Analysis, course: &NameKey, key: &PatternKey) -> String {
    let notebook = &analysis.notebook;
    match key {
        PatternKey::Named(name) => {
            let thing = NamedThing {
                course: course.clone(),
                kind: BlockKind::Pattern,
                name: name.clone(),
            };
            notebook
                .definition(&thing)
                .map_or_else(|| name.to_string(), |at| words::title(&at))
        }
        PatternKey::Own(id) => notebook.block(id).map_or_else(String::new, |at| {
            let kind = at.block.kind.map_or("", BlockKind::word);
            match at.block.title.is_empty() {
                true => words::title(&at),
                false => format!("{kind} {}", words::title(&at)),
            }
        }),
    }
}

/// The tries of a pattern up to a day.
fn tries_of(analysis: &Analysis, course: &NameKey, key: &PatternKey, on: NaiveDate) -> usize {
    let problems = match key {
        PatternKey::Named(name) => analysis.notebook.problems_of(course, name),
        PatternKey::Own(id) => analysis.notebook.block(id).into_iter().collect(),
    };
    problems
        .iter()
        .flat_map(|at| at.block.attempts())
        .filter(|a| a.date <= on)
        .count()
}

/// The width to which sentences are broken, in characters.
const WIDTH: usize = 72;
/// The width of a pattern's title.
const TITLE: usize = 32;

impl Report {
    /// The report as text, at most 80 characters wide.
    pub fn to_text(&self) -> String {
        let mut out = Lines::default();
        out.line(0, &format!("Standing on {}", self.on));
        for course in &self.courses {
            out.line(0, "");
            let title = match course.title.is_empty() {
                true => "Notes of no course",
                false => &course.title,
            };
            out.line(0, title);
            if !course.enough_evidence {
                out.line(
                    2,
                    "Too little evidence yet: fewer than five tries in this course.",
                );
            }
            for exam in &course.exams {
                self.exam(exam, &mut out);
            }
            self.topics(&course.topics, &mut out);
        }
        if let Some(calibration) = &self.calibration {
            out.line(0, "");
            out.line(0, &calibration_in_words(calibration));
        }
        out.line(0, "");
        out.line(
            0,
            "An estimate, not a promise. \"now\" is the chance of a right answer on a fresh problem, \
             notes closed; it lies between the two numbers beside it nine times of ten.",
        );
        out.into_text()
    }

    fn exam(&self, exam: &ExamReport, out: &mut Lines) {
        out.line(0, "");
        let Some(on) = exam.on else {
            out.line(2, &format!("{}: no date yet", exam.title));
            return self.exam_readiness(exam, out);
        };
        out.line(
            2,
            &format!(
                "{}: {on}, {}",
                exam.title,
                words::day_from(self.on, on.date)
            ),
        );
        if on.date < self.on {
            match exam.result {
                Some(result) => {
                    out.line(4, &format!("result {result}"));
                    if let Some(past) = &exam.past {
                        out.line(4, &past.in_words());
                    }
                }
                None => out.line(4, "no result yet: write it behind result:"),
            }
            return;
        }
        if let Some(start) = exam.window_start {
            let verb = if start <= self.on { "began" } else { "begins" };
            out.line(
                4,
                &format!(
                    "revision {verb} {}, {start}",
                    words::day_from(self.on, start)
                ),
            );
        }
        self.exam_readiness(exam, out);
    }

    fn exam_readiness(&self, exam: &ExamReport, out: &mut Lines) {
        out.line(4, &exam.reason);
        if let Ok(readiness) = &exam.readiness {
            out.line(4, &readiness::score_in_words(readiness));
        }
        if let Some(costs) = &exam.costs_most {
            out.line(4, costs);
        }
    }

    fn topics(&self, topics: &[TopicReport], out: &mut Lines) {
        if topics.iter().any(|topic| !topic.patterns.is_empty()) {
            out.line(0, "");
            out.row("", ["now", "between", "tries", "last tried"]);
        }
        for (i, topic) in topics.iter().enumerate() {
            if i > 0 || topic.patterns.is_empty() {
                out.line(0, "");
            }
            let title = match topic.title.is_empty() {
                true => "of no topic",
                false => &topic.title,
            };
            out.line(2, title);
            for pattern in &topic.patterns {
                let (low, high) = pattern.between;
                let between = format!("{}-{}", words::probability(low), words::probability(high));
                let last = pattern.last.map(|day| words::day_from(self.on, day));
                let columns = [
                    &words::probability(pattern.mastery),
                    &between,
                    &pattern.tries.to_string(),
                    last.as_deref().unwrap_or("never"),
                ];
                out.row(&words::cut(&pattern.title, TITLE), columns);
            }
            if topic.untried_without_pattern > 0 {
                let problems = words::count(topic.untried_without_pattern, "problem");
                out.line(4, &format!("{problems} of no kind, never tried"));
            } else if topic.patterns.is_empty() {
                out.line(4, "nothing to practise yet");
            }
        }
    }
}

/// Lines of text under construction.
#[derive(Default)]
pub(crate) struct Lines {
    text: String,
}

impl Lines {
    /// The text.
    pub(crate) fn into_text(self) -> String {
        self.text
    }

    /// Appends a paragraph, broken between words; further lines are indented as the first.
    pub(crate) fn line(&mut self, indentation: usize, text: &str) {
        let mut width = 0;
        for (i, word) in text.split_whitespace().enumerate() {
            let length = word.chars().count();
            if i == 0 || width + 1 + length > WIDTH {
                if i > 0 {
                    self.text.push('\n');
                }
                self.text.extend(std::iter::repeat_n(' ', indentation));
                width = indentation;
            } else {
                self.text.push(' ');
                width += 1;
            }
            self.text.push_str(word);
            width += length;
        }
        self.text.push('\n');
    }

    /// Appends a line as it is.
    pub(crate) fn exact(&mut self, line: &str) {
        self.text.push_str(line);
        self.text.push('\n');
    }

    /// Appends a row of the table of patterns.
    fn row(&mut self, title: &str, [now, between, tries, last]: [&str; 4]) {
        let fill = TITLE.saturating_sub(title.chars().count());
        let row = format!(
            "    {title}{:fill$} {now:>4}  {between:<9}  {tries:>5}  {last}",
            ""
        );
        self.text.push_str(row.trim_end());
        self.text.push('\n');
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{self, day};

    fn check(notes: &str, on: &str, course: Option<&str>, expected: &str) {
        let fixture = fixture::notebook(notes);
        let said = match standing(fixture.analysis(), day(on), course) {
            Ok(report) => report.to_text(),
            Err(none) => none.to_string(),
        };
        assert_eq!(said, expected);
        for line in said.lines() {
            assert!(line.chars().count() <= 80, "{line}");
        }
    }

    const NOTES: &str = "\
=== a.porism
@course Linear algebra

@exam Quiz
  on: 2027-02-01
  result: 7/10

@exam Midterm
  on: 2027-02-20 10:00
  covers: 1.1, 1.2
  target: 85%

@exam Oral

@topic 1.1 Systems of $n$ equations

@pattern elimination

@pattern a title of more words than there is room for
  topic: 1.1

@problem 1
  pattern: elimination
  Decide.
  tried: 2027-02-06 closed right
  tried: 2027-02-07 closed right
  tried: 2027-02-14 closed wrong
  tried: 2027-02-14 closed right

@problem 2
  Decide 2.
  tried: 2027-02-14 open partly

@problem 3
  Decide 3.

@topic 1.2 Determinants
=== b.porism
@course Geometry
@problem
  Decide it.
";

    const CLOSING: &str = "
An estimate, not a promise. \"now\" is the chance of a right answer on a
fresh problem, notes closed; it lies between the two numbers beside it
nine times of ten.
";

    #[test]
    fn every_exam_and_pattern_is_there() {
        check(
            NOTES,
            "2027-02-15",
            Some("linear Algebra"),
            &format!(
                "{}{CLOSING}",
                "\
Standing on 2027-02-15

Linear algebra

  Quiz: 2027-02-01, 14 days ago
    result 7/10
    the day before: expected score 44%, between 8% and 75%, a 10% chance
    for 70% or more; 70% lies inside

  Midterm: 2027-02-20 10:00, in 5 days
    revision began 2 days ago, 2027-02-13
    not ready: less than a 5% chance for 85% or more; not counted, as
    there is nothing to practise: 1.2
    expected score 54%, between 17% and 83%

  Oral: no date yet
    not ready: a 20% chance for 70% or more; not counted, as there is
    nothing to practise: 1.2
    expected score 54%, between 17% and 83%

                                      now  between    tries  last tried
  1.1 Systems of n equations
    a title of more words than ther… 0.52  0.11-0.92      0  never
    problem 2                        0.53  0.14-0.90      1  yesterday
    elimination                      0.59  0.26-0.88      4  yesterday
    1 problem of no kind, never tried

  1.2 Determinants
    nothing to practise yet

Past estimates, 1 exam: 26 points of 100 too low on average, off by 26;
1 of 1 scores inside the interval (fewer than five exams: too little to
tell).
"
            ),
        );
    }

    #[test]
    fn a_past_day_knows_only_the_tries_up_to_then() {
        check(
            NOTES,
            "2027-02-06",
            Some("linear Algebra"),
            &format!(
                "{}{CLOSING}",
                "\
Standing on 2027-02-06

Linear algebra
  Too little evidence yet: fewer than five tries in this course.

  Quiz: 2027-02-01, 5 days ago
    result 7/10
    the day before: expected score 44%, between 8% and 75%, a 10% chance
    for 70% or more; 70% lies inside

  Midterm: 2027-02-20 10:00, in 14 days
    revision begins in 7 days, 2027-02-13
    not ready: a 10% chance for 85% or more; not counted, as there is
    nothing to practise: 1.2
    expected score 58%, between 25% and 92%

  Oral: no date yet
    not ready: a 30% chance for 70% or more; not counted, as there is
    nothing to practise: 1.2
    expected score 58%, between 25% and 92%

                                      now  between    tries  last tried
  1.1 Systems of n equations
    a title of more words than ther… 0.56  0.14-0.94      0  never
    elimination                      0.62  0.24-0.94      1  today
    2 problems of no kind, never tried

  1.2 Determinants
    nothing to practise yet

Past estimates, 1 exam: 26 points of 100 too low on average, off by 26;
1 of 1 scores inside the interval (fewer than five exams: too little to
tell).
"
            ),
        );
    }

    #[test]
    fn a_course_that_is_not_there_is_said() {
        check(
            NOTES,
            "2027-02-15",
            Some("Algebra"),
            "No course is called Algebra. There are: Geometry, Linear algebra.",
        );
        check(
            "",
            "2027-02-15",
            Some("Algebra"),
            "No course is called Algebra: there is none in these notes.",
        );
        check(
            "",
            "2027-02-15",
            None,
            &format!("Standing on 2027-02-15\n{CLOSING}"),
        );
    }
}
