//! The plan of the days left: what to relearn and practise on each day until the last exam, with
//! the mock tests on days of their own. It is worked out anew from the notes each time.

mod mocks;
mod text;

use std::collections::{BTreeMap, BTreeSet};

use chrono::{Days, NaiveDate};
use notes::value::{Learned, Moment, NotesUse};
use notes::{BlockKind, FilePath, Located, NameKey, Notebook};
use study::plan::{self, Activity, MOST_DAYS, Order};
use study::{ExamId, Minutes, PatternId};

use crate::commands::course_title;
use crate::exams::{Exam, all_exams, topic_title};
use crate::next_step::learned;
use crate::readiness::composition_of;
use crate::report::pattern_title;
use crate::standing::{CourseStanding, PatternKey, date, day};
use crate::study_time::StudyTimes;
use crate::{Analysis, words};
use mocks::place_mocks;

/// Problems that a practice block is meant for (common practice, no published source).
const BLOCK_PROBLEMS: u32 = 2;
/// Minutes of a problem of a pattern whose tries do not say how long they took (common practice,
/// no published source).
const PROBLEM_MINUTES: u32 = 8;
/// The shortest practice block, in minutes.
const SHORTEST_BLOCK: u32 = 10;
/// A practice block is rounded up to whole steps of so many minutes.
const STEP_MINUTES: u32 = 5;
/// The longest practice block.
const LONGEST_BLOCK: u32 = 60;
/// The most exams that are planned for at a time: the nearest.
pub(crate) const MOST_EXAMS: usize = 24;
/// Minutes to relearn a pattern of a topic that was never learned, or only partly (common
/// practice, no published source).
const RELEARN_MINUTES: [u32; 2] = [30, 15];

/// What to do on each day until the last exam.
#[derive(Clone, Debug, PartialEq)]
pub struct Plan {
    /// The day from which it plans.
    pub from: NaiveDate,
    /// Whether everything that was not learned is relearned before anything is practised.
    pub relearn_first: bool,
    /// The days with something to do.
    pub days: Vec<PlannedDay>,
    /// The exams it plans for, nearest first.
    pub exams: Vec<PlannedExam>,
    /// What relearning everything first costs, in points of 100 of a course's mark; `None` where
    /// nothing has to be relearned.
    pub relearn_first_costs: Option<f64>,
    /// What it assumes and what it had to leave out, each in a sentence.
    pub remarks: Vec<String>,
}

/// What to do on a day.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedDay {
    /// The day.
    pub date: NaiveDate,
    /// Its study time; on the first day what is left of it after the tries of that day.
    pub minutes: u32,
    /// The mock test of the day, if there is one.
    pub mock: Option<PlannedMock>,
    /// What to relearn and to practise.
    pub blocks: Vec<PlannedBlock>,
}

/// A mock test to sit.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedMock {
    /// The exam it prepares for.
    pub exam: String,
    /// The exam's course.
    pub course: String,
    /// The instructor's paper to sit; `None` to draw one.
    pub instructor: Option<String>,
    /// Whether notes are open.
    pub notes: NotesUse,
    /// The time allowed.
    pub minutes: u32,
    /// Its number among the mock tests for the exam, those that were sat counted, from 1.
    pub number: usize,
}

/// Some minutes on one pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedBlock {
    /// The course.
    pub course: String,
    /// The pattern, or a problem without one.
    pub pattern: String,
    /// Its topic; empty for none.
    pub topic: String,
    /// Whether it is to be relearned, rather than practised.
    pub relearn: bool,
    /// How long.
    pub minutes: u32,
    /// The problem to begin with: the one that was left alone longest.
    pub problem: Option<String>,
    /// The exam that gains most.
    pub exam: String,
    /// What it gains, in points of 100 of the course's mark.
    pub gain: f64,
    /// The gain by the minute.
    pub gain_per_minute: f64,
    /// Why it is there, in words.
    pub why: String,
}

/// What the plan does for an exam.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedExam {
    /// The exam's course.
    pub course: String,
    /// The exam.
    pub exam: String,
    /// When it is.
    pub on: Moment,
    /// Its share of the course's mark; equal shares where the notes do not say.
    pub weight: f64,
    /// The expected score with no more practice, as a part of 1.
    pub without: f64,
    /// The expected score with the plan.
    pub with: f64,
}

/// A pattern that some exam asks.
struct Asked<'a> {
    course: NameKey,
    key: PatternKey,
    topic: NameKey,
    mean: f64,
    last: Option<NaiveDate>,
    learned: Learned,
    /// Its problems, those that were left alone longest first.
    problems: Vec<Located<'a>>,
}

/// A file of this name at the top of the notes: where an editor's command writes the plan or the
/// calendar.
pub fn top_file(notebook: &Notebook, name: &str) -> FilePath {
    let mut folders = notebook.files().map(|(path, _)| path.folder());
    let first = folders.next().unwrap_or_default();
    let top = folders.fold(first, common_folder);
    match top {
        "" if first.starts_with('/') => FilePath::new(&format!("/{name}")),
        "" => FilePath::new(name),
        top => FilePath::new(&format!("{top}/{name}")),
    }
}

/// What the plan's file is called.
pub const PLAN_FILE: &str = "plan.porism";

/// The nearest folder that holds both.
fn common_folder<'a>(a: &'a str, b: &str) -> &'a str {
    let mut end = 0;
    for (part, other) in a.split('/').zip(b.split('/')) {
        if part != other {
            break;
        }
        end += part.len() + 1;
    }
    a[..end.saturating_sub(1).min(a.len())].trim_end_matches('/')
}

/// Plans the days left. With `relearn_first`, everything that was not learned comes first.
pub fn plan(analysis: &Analysis, relearn_first: bool) -> Plan {
    Planner::new(analysis).plan(relearn_first)
}

/// How many minutes of work an exam still asks for: the mock tests on the way to it, relearning
/// what was not learned, and a block for each pattern that is below the target and does not rest.
pub(crate) fn work_left(analysis: &Analysis, exam: &Exam<'_>) -> Minutes {
    let today = analysis.today();
    let standing = analysis.standings.course(&exam.course, today);
    let papers = mocks::minutes_of_mocks(analysis, exam);
    let (mut relearning, mut practice) = (0u32, 0u32);
    for (key, topic, mastery) in standing.patterns() {
        if !exam.covers(topic) {
            continue;
        }
        let relearn = relearn_minutes(learned(analysis, &exam.course, topic));
        relearning = relearning.saturating_add(relearn.unwrap_or_default());
        if mastery.mean < exam.target && !mastery.rests {
            let block = block_minutes(&problems_of(analysis, &exam.course, key));
            practice = practice.saturating_add(block);
        }
    }
    Minutes(papers.saturating_add(relearning).saturating_add(practice))
}

/// Minutes to relearn a pattern of a topic, if it has to be.
fn relearn_minutes(learned: Learned) -> Option<u32> {
    match learned {
        Learned::No => Some(RELEARN_MINUTES[0]),
        Learned::Partly => Some(RELEARN_MINUTES[1]),
        Learned::Yes => None,
    }
}

/// The problems of a pattern, or the problem without one.
fn problems_of<'a>(analysis: &'a Analysis, course: &NameKey, key: &PatternKey) -> Vec<Located<'a>> {
    match key {
        PatternKey::Named(name) => analysis.notebook.problems_of(course, name),
        PatternKey::Own(id) => analysis.notebook.block(id).into_iter().collect(),
    }
}

struct Planner<'a> {
    analysis: &'a Analysis,
    today: NaiveDate,
    exams: Vec<Exam<'a>>,
    asked: Vec<Asked<'a>>,
    input: plan::Input,
    /// The study time of each day from today on.
    minutes: Vec<u32>,
    mocks: BTreeMap<NaiveDate, PlannedMock>,
    remarks: Vec<String>,
    without_problems: Vec<String>,
}

impl<'a> Planner<'a> {
    fn new(analysis: &'a Analysis) -> Self {
        let today = analysis.today();
        let mut planner = Self {
            analysis,
            today,
            exams: Vec::new(),
            asked: Vec::new(),
            input: plan::Input {
                first: day(today),
                minutes: Vec::new(),
                exams: Vec::new(),
                patterns: Vec::new(),
            },
            minutes: Vec::new(),
            mocks: BTreeMap::new(),
            remarks: Vec::new(),
            without_problems: Vec::new(),
        };
        planner.add_exams();
        planner.add_minutes();
        planner
    }

    /// The exams ahead, each with what it asks.
    fn add_exams(&mut self) {
        let mut ahead = all_exams(self.analysis);
        ahead.retain(|exam| exam.days_left(self.today).is_some_and(|days| days > 0));
        if ahead.len() > MOST_EXAMS {
            let later = words::count(ahead.len() - MOST_EXAMS, "later exam");
            self.remarks.push(format!(
                "Only the nearest {MOST_EXAMS} exams are planned for; {later} are left out."
            ));
            ahead.truncate(MOST_EXAMS);
        }
        let mut numbers: BTreeMap<(NameKey, PatternId), PatternId> = BTreeMap::new();
        for exam in ahead {
            let standing = self.analysis.standings.course(&exam.course, self.today);
            let composition = match composition_of(&exam, &standing) {
                Ok((composition, _)) => composition,
                Err(reason) => {
                    self.remarks.push(format!(
                        "{} is not planned for: {reason}.",
                        self.name(&exam)
                    ));
                    continue;
                }
            };
            let weight = exam
                .weight
                .unwrap_or_else(|| 1.0 / self.count_of_exams(&exam.course));
            let id = ExamId(self.exams.len() as u32);
            let on = exam.on.map_or(self.today, |on| on.date);
            let of_course = plan::Exam::new(id, day(on), weight, &composition);
            let mut shares = BTreeMap::new();
            for (key, topic, _) in standing.patterns() {
                let Some(own) = standing.pattern_id(key) else {
                    continue;
                };
                let Some(share) = of_course.shares.get(&own) else {
                    continue;
                };
                let number = *numbers
                    .entry((exam.course.clone(), own))
                    .or_insert_with(|| self.add_pattern(&exam.course, key, topic, &standing));
                shares.insert(number, *share);
            }
            self.input.exams.push(plan::Exam {
                shares,
                ..of_course
            });
            self.exams.push(exam);
        }
    }

    fn count_of_exams(&self, course: &NameKey) -> f64 {
        let count = self.analysis.notebook.count_of(course, BlockKind::Exam);
        count.max(1) as f64
    }

    fn add_pattern(
        &mut self,
        course: &NameKey,
        key: &PatternKey,
        topic: &NameKey,
        standing: &CourseStanding,
    ) -> PatternId {
        let id = PatternId(self.asked.len() as u32);
        let Some(mastery) = standing.mastery(key) else {
            return id;
        };
        let mut problems = problems_of(self.analysis, course, key);
        problems.sort_by_key(|at| at.block.attempts().map(|a| a.date).max());
        let learned = learned(self.analysis, course, topic);
        let relearn = relearn_minutes(learned);
        let block = block_minutes(&problems);
        let mut pattern = plan::Pattern::new(id, mastery, Minutes(block), relearn.map(Minutes));
        if problems.is_empty() && relearn.is_none() {
            pattern.rests = true;
            self.without_problems
                .push(pattern_title(self.analysis, course, key));
        }
        self.input.patterns.push(pattern);
        self.asked.push(Asked {
            course: course.clone(),
            key: key.clone(),
            topic: topic.clone(),
            mean: mastery.mean,
            last: mastery.last.map(date),
            learned,
            problems,
        });
        id
    }

    /// The study time of each day, less that of the mock tests and of today's tries.
    fn add_minutes(&mut self) {
        let courses: BTreeSet<&NameKey> = self.exams.iter().map(|exam| &exam.course).collect();
        let times = StudyTimes::of(self.analysis, courses);
        if times.is_assumed() && !self.exams.is_empty() {
            self.remarks.push(format!(
                "{} minutes a day are assumed: write minutes: below @course.",
                crate::study_time::DEFAULT_MINUTES
            ));
        }
        let last = self
            .exams
            .iter()
            .filter_map(|exam| exam.days_left(self.today));
        let days = usize::try_from(last.max().unwrap_or_default()).unwrap_or_default();
        // One more than are planned, so that it can be said that there are more.
        let dates = (0..days.min(4 * MOST_DAYS) as u64)
            .map_while(|offset| self.today.checked_add_days(Days::new(offset)));
        self.minutes = dates.map(|date| times.on(date)).collect();
        let practised = self.practised_today();
        if let Some(first) = self.minutes.first_mut() {
            *first = first.saturating_sub(practised);
        }
        let (mocks, remarks) = place_mocks(self.analysis, self.today, &self.exams, &self.minutes);
        self.mocks = mocks;
        self.remarks.extend(remarks);
        let left = self.minutes.iter().enumerate().map(|(offset, minutes)| {
            let date = self.today.checked_add_days(Days::new(offset as u64));
            let mock = date.and_then(|date| self.mocks.get(&date));
            Minutes(minutes.saturating_sub(mock.map_or(0, |mock| mock.minutes)))
        });
        self.input.minutes = left.collect();
        if !self.exams.is_empty() && self.minutes.iter().all(|minutes| *minutes == 0) {
            self.remarks.push(
                "There is no study time before the last exam: minutes: is 0, or every day is off."
                    .to_owned(),
            );
        }
    }

    /// The minutes of today's tries.
    fn practised_today(&self) -> u32 {
        let mut seen = BTreeSet::new();
        let problems = self.asked.iter().flat_map(|asked| &asked.problems);
        let minutes = problems
            .filter(|at| seen.insert(at.id()))
            .flat_map(|at| at.block.attempts())
            .filter(|attempt| attempt.date == self.today)
            .filter_map(|attempt| attempt.duration);
        minutes.fold(0, |sum, minutes| sum.saturating_add(minutes.0))
    }

    fn plan(mut self, relearn_first: bool) -> Plan {
        let best = plan::plan(&self.input, Order::BestGain);
        let relearns = self.input.patterns.iter().any(|p| p.relearn.is_some());
        let other = relearns.then(|| plan::plan(&self.input, Order::RelearnFirst));
        let costs = other
            .as_ref()
            .map(|other| 100.0 * (best.value - other.value));
        let found = match other {
            Some(other) if relearn_first => other,
            _ => best,
        };
        self.remark(&found);
        let mut days = self.days(&found);
        days.retain(|day| day.mock.is_some() || !day.blocks.is_empty());
        let exams = self.exams.iter().zip(&self.input.exams).zip(&found.exams);
        let exams = exams.map(|((exam, planned), outcome)| PlannedExam {
            course: course_title(self.analysis, &exam.course),
            exam: exam.name(),
            on: exam.on.unwrap_or(Moment {
                date: self.today,
                time: None,
            }),
            weight: planned.weight,
            without: outcome.without,
            with: outcome.with,
        });
        Plan {
            from: self.today,
            relearn_first,
            exams: exams.collect(),
            days,
            relearn_first_costs: costs,
            remarks: self.remarks,
        }
    }

    fn days(&self, found: &plan::Plan) -> Vec<PlannedDay> {
        let mut blocks: BTreeMap<NaiveDate, Vec<PlannedBlock>> = BTreeMap::new();
        // The problem to begin with goes round.
        let mut begun: BTreeMap<PatternId, usize> = BTreeMap::new();
        for planned in &found.days {
            let of_day = blocks.entry(date(planned.day)).or_default();
            for block in &planned.blocks {
                let turn = begun.entry(block.pattern).or_default();
                if let Some(block) = self.block(block, *turn) {
                    of_day.push(block);
                }
                *turn += usize::from(block.activity == Activity::Practise);
            }
        }
        let mut dates: BTreeSet<NaiveDate> = blocks.keys().copied().collect();
        dates.extend(self.mocks.keys());
        let day = |date: NaiveDate| {
            let offset = date.signed_duration_since(self.today).num_days();
            let minutes = usize::try_from(offset)
                .ok()
                .and_then(|at| self.minutes.get(at));
            PlannedDay {
                date,
                minutes: minutes.copied().unwrap_or_default(),
                mock: self.mocks.get(&date).cloned(),
                blocks: blocks.remove(&date).unwrap_or_default(),
            }
        };
        dates.into_iter().map(day).collect()
    }

    fn block(&self, block: &plan::Block, turn: usize) -> Option<PlannedBlock> {
        let asked = self.asked.get(block.pattern.0 as usize)?;
        let exam = self.exams.get(block.exam.0 as usize)?;
        let relearn = block.activity == Activity::Relearn;
        let notebook = &self.analysis.notebook;
        let count = asked.problems.len().max(1);
        let is_own = matches!(asked.key, PatternKey::Own(_));
        let problem = asked.problems.get(turn * BLOCK_PROBLEMS as usize % count);
        let problem = problem.filter(|_| !relearn && !is_own);
        let (gain, gain_per_minute) = (100.0 * block.gain, 100.0 * block.gain_per_minute);
        let share = self
            .input
            .exams
            .get(block.exam.0 as usize)?
            .shares
            .get(&block.pattern);
        let what = match (relearn, asked.learned, asked.last) {
            (true, Learned::No, _) => "its topic was never learned".to_owned(),
            (true, ..) => "its topic was only partly learned".to_owned(),
            (false, _, None) => format!("never tried, about {}", words::probability(asked.mean)),
            (false, _, Some(last)) => format!(
                "{} now, last tried {}",
                words::probability(asked.mean),
                words::day_from(self.today, last)
            ),
        };
        let why = format!(
            "{what}; about {} of {}; gains {gain:.2} points of the course's mark in {} min, \
             {gain_per_minute:.3} a minute",
            words::percent(share.copied().unwrap_or_default()),
            exam.name(),
            block.minutes.0
        );
        Some(PlannedBlock {
            course: course_title(self.analysis, &asked.course),
            pattern: pattern_title(self.analysis, &asked.course, &asked.key),
            topic: match asked.topic.is_empty() {
                true => String::new(),
                false => topic_title(notebook, &asked.course, &asked.topic),
            },
            relearn,
            minutes: block.minutes.0,
            problem: problem.map(words::title),
            exam: exam.name(),
            gain,
            gain_per_minute,
            why,
        })
    }

    /// What the plan leaves out.
    fn remark(&mut self, found: &plan::Plan) {
        let titles = |ids: &[PatternId]| -> Vec<String> {
            let asked = ids.iter().filter_map(|id| self.asked.get(id.0 as usize));
            asked
                .map(|asked| pattern_title(self.analysis, &asked.course, &asked.key))
                .collect()
        };
        let mut remarks = Vec::new();
        let mut say = |titles: Vec<String>, what: &str| {
            if !titles.is_empty() {
                remarks.push(format!("{what}: {}.", named(&titles)));
            }
        };
        let resting: Vec<PatternId> = found
            .resting
            .iter()
            .copied()
            .filter(|id| {
                self.asked
                    .get(id.0 as usize)
                    .is_some_and(|asked| !asked.problems.is_empty())
            })
            .collect();
        say(
            titles(&resting),
            "At rest, after closed-notes success on three different days",
        );
        say(
            self.without_problems.clone(),
            "The notes have no problem for",
        );
        say(
            titles(&found.too_long),
            "Longer than the study time of any day left",
        );
        let mocks_only = self.input.minutes.iter().all(|minutes| minutes.0 == 0);
        if !mocks_only {
            say(titles(&found.left_out), "No time is left for");
        }
        if found.days_not_planned > 0 {
            remarks.push(format!(
                "Only the first {MOST_DAYS} days are planned; {} come later.",
                words::count(found.days_not_planned, "day with study time")
            ));
        }
        self.remarks.extend(remarks);
    }

    fn name(&self, exam: &Exam<'_>) -> String {
        named_exam(&exam.name(), &course_title(self.analysis, &exam.course))
    }
}

/// How many names a remark lists.
const NAMED: usize = 6;

fn named(titles: &[String]) -> String {
    let mut text = titles
        .iter()
        .take(NAMED)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    if titles.len() > NAMED {
        text.push_str(&format!(" and {} more", titles.len() - NAMED));
    }
    text
}

/// An exam with its course.
pub(crate) fn named_exam(exam: &str, course: &str) -> String {
    match course.is_empty() {
        true => exam.to_owned(),
        false => format!("{exam} of {course}"),
    }
}

/// How long a practice block takes: the median of the pattern's tries for each of its problems.
fn block_minutes(problems: &[Located<'_>]) -> u32 {
    let tries = problems.iter().flat_map(|at| at.block.attempts());
    let mut minutes: Vec<u32> = tries
        .filter_map(|attempt| attempt.duration)
        .map(|minutes| minutes.0)
        .collect();
    minutes.sort_unstable();
    let median = minutes.get(minutes.len() / 2).copied();
    let block = median
        .unwrap_or(PROBLEM_MINUTES)
        .saturating_mul(BLOCK_PROBLEMS);
    let block = block.clamp(SHORTEST_BLOCK, LONGEST_BLOCK);
    block.div_ceil(STEP_MINUTES) * STEP_MINUTES
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{self, Fixture};

    fn check(notes: &str, expected: &str) -> Plan {
        let fixture = fixture::notebook(notes);
        let plan = plan(fixture.analysis(), false);
        assert_eq!(plan.to_text(true), expected);
        plan
    }

    const NOTES: &str = "\
@course Logic
  minutes: 60 min, tue 0
  off: 2027-02-18

@exam Midterm
  on: 2027-02-19 10:00
  weight: 40%
  length: 30 min

@topic 1 Sets

@pattern union

@problem 1.1
  pattern: union
  Decide.
  tried: 2027-02-10 closed right 12 min

@problem 1.2
  pattern: union
  Decide 2.

@pattern nobody asks

@topic 2 Maps
  learned: no

@problem 2.1
  pattern: inverse
  Invert.
";

    #[test]
    fn each_day_has_its_blocks_and_every_block_its_reason() {
        check(
            NOTES,
            "\
Plan from 2027-02-15

Midterm of Logic: 2027-02-19 10:00, in 4 days
  expected score 53%, with this plan 61%

                                                        gain a min
Monday 2027-02-15: 60 of 60 min
  30 min: mock test 1 for Midterm of Logic, notes closed and timed
  Logic
    relearn  inverse                            30 min +3.09 0.103
             its topic was never learned; about 33% of Midterm; gains
             3.09 points of the course's mark in 30 min, 0.103 a minute

Wednesday 2027-02-17: 50 of 60 min
  30 min: mock test 2 for Midterm of Logic, notes closed and timed
  Logic
    practise inverse                            20 min +3.59 0.179  from 2.1
             never tried, about 0.48; about 33% of Midterm; gains 3.59
             points of the course's mark in 20 min, 0.179 a minute

Relearning everything first costs nothing: --relearn-first.
Only 2 of 3 mock tests for Midterm of Logic fit on days of their own and
into half of the study time before it.
The notes have no problem for: nobody asks.
No time is left for: union.
Assumed: a practice block takes away 15% of what is missing to full
mastery, relearning half of it, once; in between it fades. Gains are
points of 100 of the course's mark.
An estimate, not a promise. Your course's own rules on materials and
collaboration come first.
",
        );
    }

    #[test]
    fn as_notes_the_reasons_stand_on_request() {
        let fixture = fixture::notebook(NOTES);
        let plan = plan(fixture.analysis(), false);
        let (with, without) = (plan.to_notes(true), plan.to_notes(false));
        let day = |notes: &str| {
            let from = notes.find("## Wednesday").expect("the second day");
            let end = notes.find("Relearning").expect("what follows");
            notes[from..end].to_owned()
        };
        assert_eq!(
            day(&with),
            "\
## Wednesday 2027-02-17: 50 of 60 min
  30 min: mock test 2 for Midterm of Logic, notes closed and timed
  Logic
    practise inverse                            20 min +3.59 0.179  from 2.1
             never tried, about 0.48; about 33% of Midterm; gains 3.59
             points of the course's mark in 20 min, 0.179 a minute

"
        );
        assert_eq!(
            day(&without),
            "\
## Wednesday 2027-02-17: 50 of 60 min
  30 min: mock test 2 for Midterm of Logic, notes closed and timed
  Logic
    practise inverse                            20 min +3.59 0.179  from 2.1

"
        );
        for notes in [with, without] {
            assert!(notes.contains("Relearning everything first costs nothing.\n"));
            assert!(notes.starts_with("# Plan from 2027-02-15\n"));
        }
    }

    #[test]
    fn what_cannot_be_planned_is_said() {
        check(
            "@course Logic\n",
            "\
Plan from 2027-02-15

There is no exam ahead that can be planned for: write @exam with on: and
covers:.

An estimate, not a promise. Your course's own rules on materials and
collaboration come first.
",
        );
        check(
            "@course Logic\n  minutes: 0\n@exam Midterm\n  on: 2027-02-20\n@topic 1\n@problem 1\n  Decide.\n@exam Oral\n  on: 2027-02-21\n  covers: 9\n",
            "\
Plan from 2027-02-15

Midterm of Logic: 2027-02-20, in 5 days
  expected score 44%, with this plan 44%

Oral of Logic is not planned for: not known: covers: names no topic of
the course.
There is no study time before the last exam: minutes: is 0, or every day
is off.
Assumed: a practice block takes away 15% of what is missing to full
mastery, relearning half of it, once; in between it fades. Gains are
points of 100 of the course's mark.
An estimate, not a promise. Your course's own rules on materials and
collaboration come first.
",
        );
    }

    /// A course with as many kinds of problem, and an exam on this day with these fields.
    fn course(name: &str, kinds: usize, on: &str, fields: &str) -> String {
        let kinds =
            (0..kinds).map(|n| format!("@problem {n}\n  pattern: {name} {n}\n  Decide {n}.\n"));
        format!(
            "=== {name}.porism\n@course {name}\n{fields}\n@exam Exam\n  on: {on}\n  length: 30 min\n@topic 1\n{}",
            kinds.collect::<String>()
        )
    }

    fn minutes(day: &PlannedDay) -> u32 {
        let mock = day.mock.as_ref().map_or(0, |mock| mock.minutes);
        day.blocks.iter().map(|block| block.minutes).sum::<u32>() + mock
    }

    #[test]
    fn exams_share_the_minutes_and_their_mock_tests_have_days_of_their_own() {
        let notes = course("Logic", 8, "2027-02-22", "  minutes: 40")
            + &course("Waves", 8, "2027-02-23", "  minutes: 30");
        let fixture = fixture::notebook(&notes);
        let found = plan(fixture.analysis(), false);
        assert_eq!(found.exams.len(), 2);
        let mut mocks: BTreeMap<&str, usize> = BTreeMap::new();
        for day in &found.days {
            assert!(minutes(day) <= 70 && day.minutes == 70, "{day:?}");
            if let Some(mock) = &day.mock {
                *mocks.entry(&mock.course).or_default() += 1;
            }
            let patterns: BTreeSet<&str> = day.blocks.iter().map(|b| b.pattern.as_str()).collect();
            assert_eq!(
                patterns.len(),
                day.blocks.len(),
                "not twice on a day: {day:?}"
            );
        }
        assert_eq!(mocks, BTreeMap::from([("Logic", 3), ("Waves", 3)]));
        assert!(found.exams.iter().all(|exam| exam.with > exam.without));
        assert_eq!(found, plan(fixture.analysis(), false));
    }

    #[test]
    fn weight_decides_between_exams() {
        let gains = |weights: [&str; 2]| -> Vec<f64> {
            let [a, b] = weights.map(|weight| format!("2027-02-18\n  weight: {weight}"));
            let notes = course("Logic", 9, &a, "  minutes: 80") + &course("Waves", 9, &b, "");
            let fixture = fixture::notebook(&notes);
            let exams = plan(fixture.analysis(), false).exams;
            exams.iter().map(|exam| exam.with - exam.without).collect()
        };
        let [heavy, light] = gains(["50%", "10%"])[..] else {
            panic!("two exams")
        };
        assert!(heavy > light);
        let [light, heavy] = gains(["10%", "50%"])[..] else {
            panic!("two exams")
        };
        assert!(heavy > light);
    }

    #[test]
    fn what_was_done_today_is_taken_off() {
        let tried = NOTES.replace("10 closed right 12 min", "15 closed right 12 min");
        let fixture = fixture::notebook(&tried);
        let found = plan(fixture.analysis(), false);
        let today = &found.days[0];
        assert_eq!(
            (today.date, today.minutes),
            (fixture::day("2027-02-15"), 48)
        );
        assert!(today.blocks.iter().all(|block| block.pattern != "union"));
    }

    #[test]
    fn relearning_first_costs_what_it_says() {
        let fixture = fixture::notebook(NOTES);
        let best = plan(fixture.analysis(), false);
        let first = plan(fixture.analysis(), true);
        assert_eq!(best.relearn_first_costs, first.relearn_first_costs);
        let points = |plan: &Plan| -> f64 {
            plan.exams
                .iter()
                .map(|exam| 100.0 * exam.weight * exam.with)
                .sum()
        };
        let costs = best
            .relearn_first_costs
            .expect("a topic has to be relearned");
        assert!((points(&best) - points(&first) - costs).abs() < 1e-9 && costs >= 0.0);
    }

    #[test]
    fn the_plan_goes_to_the_top_of_the_notes() {
        let path = |notes: &str| {
            let fixture: Fixture = fixture::notebook(notes);
            top_file(&fixture.analysis().notebook, PLAN_FILE).to_string()
        };
        assert_eq!(
            path("=== /n/a/1.porism\n=== /n/b/c/2.porism\n"),
            "/n/plan.porism"
        );
        assert_eq!(
            path("=== /n/a/1.porism\n=== /n/ab/2.porism\n"),
            "/n/plan.porism"
        );
        assert_eq!(path("=== /a/1.porism\n=== /b/2.porism\n"), "/plan.porism");
        assert_eq!(path("=== a/1.porism\n=== 2.porism\n"), "plan.porism");
        assert_eq!(path("=== /n/1.porism\n"), "/n/plan.porism");
    }

    #[test]
    fn a_thousand_exams_take_no_time_to_speak_of() {
        let exams: String = (0..1000)
            .map(|n| format!("@exam {n}\n  on: 2027-{:02}-{:02}\n", 3 + n % 9, 1 + n % 28))
            .collect();
        let fixture = fixture::notebook(&format!(
            "@course Logic\n{exams}\n@topic 1\n@problem 1\n  Decide.\n"
        ));
        let found = plan(fixture.analysis(), false);
        assert_eq!(found.exams.len(), MOST_EXAMS);
        assert!(
            found.remarks.iter().any(|r| r.contains("976 later exams")),
            "{:?}",
            found.remarks
        );
    }
}
