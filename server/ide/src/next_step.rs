//! What to do next for an exam: one line, worked out from the notes, with the command that does it.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use chrono::NaiveDate;
use notes::value::{Learned, Moment, NotesUse, Outcome, Value};
use notes::{BlockKind, Key, Located, NameKey, NamedThing};
use study::drill::Arrangement;
use study::next_step::{Alarm, CoveredPattern, Rung, Situation, next_step};
use study::{PaperId, PatternId, TopicId};

use crate::commands::{Command, course_title};
use crate::draw_paper::offered_first;
use crate::exams::{Exam, all_exams, exams, topic_title};
use crate::papers::{Paper, papers_for};
use crate::question_source::Sources;
use crate::readiness::{is_whole, of_exam};
use crate::report::pattern_title;
use crate::sheet_scope::pattern_title as pattern_name;
use crate::standing::{CourseStanding, PatternKey, date, day, pattern_keys};
use crate::{Analysis, words};

/// What to do next for an exam.
#[derive(Clone, Debug, PartialEq)]
pub struct Next {
    /// The exam's course; empty for notes of no course.
    pub course: String,
    /// The exam.
    pub exam: String,
    /// When it is.
    pub on: Moment,
    /// Whole days from today to the exam; negative when it is past.
    pub days_left: i64,
    /// The step.
    pub step: Step,
    /// What the step is about: topics to relearn, patterns to practise.
    pub about: Vec<String>,
    /// Holes for which the notes have no problem.
    pub without_problems: Vec<String>,
    /// Set when the days left are fewer than the rest of the way takes.
    pub alarm: Option<Alarm>,
    /// The step in one line.
    pub line: String,
    /// What does it: what to call it, and the command.
    pub action: Option<(String, Command)>,
}

/// A step of the way to an exam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// The exam is over: write down its result.
    Over,
    /// The exam is today.
    Today,
    /// Revision has not begun.
    NotYet,
    /// Relearn topics.
    Relearn,
    /// Take a first paper with notes open.
    FirstPaper,
    /// Take a paper with notes closed.
    ClosedPaper,
    /// Practise the patterns that are holes.
    FillHoles,
    /// Take a fresh paper with notes closed.
    FreshPaper,
    /// Ready: a little practice.
    KeepWarm,
}

impl Step {
    /// The step as programs know it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Over => "over",
            Self::Today => "today",
            Self::NotYet => "not-yet",
            Self::Relearn => "relearn",
            Self::FirstPaper => "first-paper",
            Self::ClosedPaper => "closed-paper",
            Self::FillHoles => "fill-holes",
            Self::FreshPaper => "fresh-paper",
            Self::KeepWarm => "keep-warm",
        }
    }
}

impl fmt::Display for Next {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.line)?;
        match self.alarm {
            Some(alarm) => write!(f, ". {}", alarm_in_words(alarm)),
            None => Ok(()),
        }
    }
}

/// The alarm in words. The numbers of days are common practice.
pub fn alarm_in_words(alarm: Alarm) -> String {
    format!(
        "Only {} left, and the rest of the way takes {}",
        words::count(usize::try_from(alarm.left).unwrap_or_default(), "day"),
        alarm.needed
    )
}

/// Days for which an exam that is over is reminded of.
const REMINDED_DAYS: i64 = 30;

/// What to do next for each exam with a date, nearest first: those ahead, and those of the last
/// weeks without a result. `course` and `exam` narrow it down.
pub fn next_steps(analysis: &Analysis, course: Option<&NameKey>, exam: Option<&str>) -> Vec<Next> {
    let mut exams = all_exams(analysis);
    let exam = exam.map(NameKey::new);
    exams.retain(|one| {
        course.is_none_or(|course| one.course == *course)
            && exam.as_ref().is_none_or(|exam| one.at.block.name == *exam)
    });
    let nexts = exams.iter().filter_map(|exam| next(analysis, exam));
    nexts
        .filter(|next| next.step != Step::Over || next.days_left >= -REMINDED_DAYS)
        .collect()
}

/// What to do next for an exam; `None` for one without a date, and for one that is over and has
/// its result.
pub fn next(analysis: &Analysis, exam: &Exam<'_>) -> Option<Next> {
    let on = exam.on?;
    let today = analysis.today();
    let prepared = Prepared::of(analysis, exam);
    let step = next_step(&prepared.situation(on, exam.window_start.unwrap_or(on.date)));
    let say = Say {
        analysis,
        exam,
        prepared: &prepared,
    };
    let mut next = Next {
        course: course_title(analysis, &exam.course),
        exam: exam.name(),
        on,
        days_left: on.date.signed_duration_since(today).num_days(),
        step: Step::Over,
        about: Vec::new(),
        without_problems: Vec::new(),
        alarm: step.alarm,
        line: String::new(),
        action: None,
    };
    match step.rung {
        Rung::Over => {
            if exam.at.block.score(Key::Result).is_some() {
                return None;
            }
            next.line = "Write down the result: result: and the score".to_owned();
            next.action = Some(("Go to the exam".to_owned(), show(&exam.at)));
        }
        Rung::Today => {
            next.step = Step::Today;
            next.line = match on.time {
                Some(time) => format!("Today at {}", time.format("%H:%M")),
                None => "Today".to_owned(),
            };
            if let Some(room) = exam.at.field_text(Key::Room) {
                next.line.push_str(&format!(", {room}"));
            }
        }
        Rung::NotYet { start } => {
            next.step = Step::NotYet;
            let start = date(start);
            let when = words::day_from(today, start);
            next.line = format!("Revision begins {when}, {start}");
        }
        Rung::Relearn { topics } => {
            next.step = Step::Relearn;
            next.about = topics.iter().map(|topic| say.topic(*topic)).collect();
            next.line = format!("Relearn {}", listed(&next.about));
            next.action = say.relearn(&topics);
        }
        Rung::FirstPaper { instructor } => {
            next.step = Step::FirstPaper;
            next.line = say.paper(instructor, "a first mock test", "notes open");
            next.action = say.sit(instructor, NotesUse::Open);
        }
        Rung::ClosedPaper { instructor } => {
            next.step = Step::ClosedPaper;
            next.line = say.paper(instructor, "a mock test", "notes closed and timed");
            next.action = say.sit(instructor, NotesUse::Closed);
        }
        Rung::FillHoles {
            patterns,
            without_problems,
        } => {
            next.step = Step::FillHoles;
            next.about = patterns.iter().map(|id| say.pattern(*id)).collect();
            next.without_problems = without_problems.iter().map(|id| say.pattern(*id)).collect();
            next.line = format!("Fill the holes: {}", listed(&next.about));
            next.action = say.practise(&patterns);
        }
        Rung::FreshPaper {
            instructor,
            not_before,
            without_problems,
        } => {
            next.step = Step::FreshPaper;
            next.without_problems = without_problems.iter().map(|id| say.pattern(*id)).collect();
            let fresh = say.paper(instructor, "a fresh mock test", "notes closed and timed");
            next.line = match date(not_before) == today {
                true => fresh,
                false => format!(
                    "{fresh}, {} or later: papers on different days show more",
                    words::day_from(today, date(not_before))
                ),
            };
            next.action = say.sit(instructor, NotesUse::Closed);
        }
        Rung::KeepWarm => {
            next.step = Step::KeepWarm;
            next.line = "Ready: a little practice each day keeps it so".to_owned();
        }
    }
    if !next.without_problems.is_empty() {
        next.line.push_str(&format!(
            "; no problem in the notes for {}",
            listed(&next.without_problems)
        ));
    }
    Some(next)
}

/// How many names stand in a line.
const NAMED: usize = 3;

fn listed(names: &[String]) -> String {
    let shown = names.iter().take(NAMED).map(String::as_str);
    let mut text = shown.collect::<Vec<_>>().join(", ");
    if names.len() > NAMED {
        text.push_str(&format!(" and {} more", names.len() - NAMED));
    }
    text
}

fn show(at: &Located<'_>) -> Command {
    Command::ShowPlace {
        path: at.path.clone(),
        span: at.in_file(at.block.header),
    }
}

/// The preparation for an exam so far.
pub(crate) struct Prepared<'a> {
    today: NaiveDate,
    standing: std::sync::Arc<CourseStanding>,
    /// Covered topics that were not, or only partly, learned, as indices into the exam's topics.
    unlearned: Vec<TopicId>,
    /// The instructor's paper that was not sat yet.
    instructor: Option<Paper<'a>>,
    open_papers: Vec<NaiveDate>,
    closed_papers: Vec<NaiveDate>,
    readiness: Option<study::readiness::Label>,
    patterns: Vec<CoveredPattern>,
    /// The covered patterns by their numbers.
    keys: BTreeMap<PatternId, PatternKey>,
}

impl<'a> Prepared<'a> {
    pub(crate) fn of(analysis: &'a Analysis, exam: &Exam<'_>) -> Self {
        let notebook = &analysis.notebook;
        let today = analysis.today();
        let standing = analysis.standings.course(&exam.course, today);
        let unlearned = (0..).zip(&exam.topics).filter_map(|(number, topic)| {
            (learned(analysis, &exam.course, topic) != Learned::Yes).then_some(TopicId(number))
        });
        let papers = papers_for(notebook, exam);
        let sat = |closed: bool| -> Vec<NaiveDate> {
            let whole = papers.iter().filter(|paper| is_whole(paper, exam));
            let sittings = whole.filter_map(Paper::sitting);
            let of_kind = sittings.filter(|sitting| sitting.closed_notes == closed);
            of_kind.map(|sitting| sitting.date).collect()
        };
        let missed = Missed::of(analysis, exam);
        let mut keys = BTreeMap::new();
        let mut patterns = Vec::new();
        for (key, topic, mastery) in standing.patterns() {
            let Some(id) = standing.pattern_id(key).filter(|_| exam.covers(topic)) else {
                continue;
            };
            let problems = match key {
                PatternKey::Named(name) => notebook.problems_of(&exam.course, name),
                PatternKey::Own(id) => notebook.block(id).into_iter().collect(),
            };
            keys.insert(id, key.clone());
            patterns.push(CoveredPattern {
                pattern: id,
                mastery: mastery.mean,
                missed: missed.patterns.contains(key),
                recovered: missed
                    .day
                    .is_some_and(|day| recovered(&problems, day, today)),
                has_problems: !problems.is_empty(),
            });
        }
        Self {
            today,
            unlearned: unlearned.collect(),
            instructor: offered_first(analysis, exam),
            open_papers: sat(false),
            closed_papers: sat(true),
            readiness: of_exam(analysis, exam).ok().map(|of| of.estimate.label),
            standing,
            patterns,
            keys,
        }
    }

    /// The situation for an exam on a day whose revision starts on another.
    pub(crate) fn situation(&self, on: Moment, start: NaiveDate) -> Situation {
        Situation {
            today: day(self.today),
            exam: day(on.date),
            start: day(start),
            unlearned: self.unlearned.clone(),
            instructor_paper: self.instructor.as_ref().map(|_| PaperId(0)),
            open_papers: self.open_papers.iter().copied().map(day).collect(),
            closed_papers: self.closed_papers.iter().copied().map(day).collect(),
            readiness: self.readiness,
            patterns: self.patterns.clone(),
        }
    }

    /// How many whole papers were sat for the exam.
    pub(crate) fn papers_sat(&self) -> usize {
        self.open_papers.len() + self.closed_papers.len()
    }

    /// Whether notes are open in each of the papers that the way to the exam still takes: one
    /// with notes open, one with notes closed, and a fresh one.
    pub(crate) fn papers_left(&self) -> Vec<NotesUse> {
        use study::readiness::Label;
        let all = [NotesUse::Open, NotesUse::Closed, NotesUse::Closed];
        let done = match self.readiness {
            Some(Label::Ready) => all.len(),
            _ if !self.closed_papers.is_empty() => 2,
            Some(Label::Close) => 1,
            _ => usize::from(!self.open_papers.is_empty()),
        };
        all[done..].to_vec()
    }

    /// The instructor's paper that was not sat yet.
    pub(crate) fn instructor(&self) -> Option<&Paper<'a>> {
        self.instructor.as_ref()
    }
}

/// Whether a topic was learned. One that does not say was.
pub(crate) fn learned(analysis: &Analysis, course: &NameKey, topic: &NameKey) -> Learned {
    let definition = analysis.notebook.definition(&NamedThing {
        course: course.clone(),
        kind: BlockKind::Topic,
        name: topic.clone(),
    });
    let field = definition.and_then(|at| Some(at.block.field(Key::Learned)?.value.clone()));
    match field {
        Some(Value::Learned(learned)) => learned,
        _ => Learned::Yes,
    }
}

/// What the last closed-notes papers asked without getting a right answer.
#[derive(Default)]
pub(crate) struct Missed {
    /// The day of the last of these papers.
    pub(crate) day: Option<NaiveDate>,
    pub(crate) patterns: BTreeSet<PatternKey>,
    /// The exams whose papers these were, this one left out: their holes are carried over.
    pub(crate) carried_from: BTreeMap<PatternKey, String>,
}

impl Missed {
    /// The misses of the last closed-notes paper for the exam, and those of earlier exams of the
    /// course that cover some of its topics.
    pub(crate) fn of(analysis: &Analysis, exam: &Exam<'_>) -> Self {
        let mut missed = Self::default();
        let earlier = exams(analysis, &exam.course).into_iter().filter(|other| {
            other.is_past(analysis.today())
                && other.at.id() != exam.at.id()
                && other.topics.iter().any(|topic| exam.covers(topic))
        });
        for other in earlier {
            missed.add(analysis, &other, Some(other.name()));
        }
        missed.add(analysis, exam, None);
        missed
    }

    fn add(&mut self, analysis: &Analysis, exam: &Exam<'_>, carried_from: Option<String>) {
        let papers = papers_for(&analysis.notebook, exam);
        let today = analysis.today();
        let closed = papers.iter().filter_map(|paper| {
            let sitting = paper.sitting()?;
            let counts = sitting.closed_notes && sitting.date <= today && is_whole(paper, exam);
            counts.then_some((paper, sitting.date))
        });
        let Some((paper, date)) = closed.max_by_key(|(_, date)| *date) else {
            return;
        };
        self.day = self.day.max(Some(date));
        let sources = Sources::of(&analysis.notebook, &exam.course);
        for item in &paper.items {
            let (source, right) = match item.block.kind {
                Some(BlockKind::Question) => {
                    let mark = item.block.field(Key::Mark).map(|field| &field.value);
                    let right = match mark {
                        Some(Value::Mark(outcome)) => is_right(*outcome),
                        _ => false,
                    };
                    (sources.find(item).ok(), right)
                }
                _ => {
                    let mut tries = item.block.attempts();
                    let right = tries.any(|a| a.date == date && is_right(a.outcome));
                    (Some(*item), right)
                }
            };
            for key in source.iter().flat_map(pattern_keys) {
                if right {
                    continue;
                }
                if let Some(exam) = &carried_from {
                    self.carried_from.insert(key.clone(), exam.clone());
                }
                self.patterns.insert(key);
            }
        }
    }
}

/// Holes of a past exam that an exam covers too, each with the exam it comes from: patterns that
/// its last closed-notes paper asked without a right answer, and that had no closed-notes success
/// since.
pub fn carried_over(analysis: &Analysis, exam: &Exam<'_>) -> Vec<(String, String)> {
    let missed = Missed::of(analysis, exam);
    let prepared = Prepared::of(analysis, exam);
    let carried = missed.carried_from.iter().filter_map(|(key, from)| {
        let id = prepared.standing.pattern_id(key)?;
        let pattern = prepared.patterns.iter().find(|p| p.pattern == id)?;
        (!pattern.recovered).then(|| {
            let title = pattern_title(analysis, &exam.course, key);
            (title, from.clone())
        })
    });
    carried.collect()
}

fn is_right(outcome: Outcome) -> bool {
    match outcome {
        Outcome::Right => true,
        Outcome::Score(score) => score.got >= score.out_of,
        Outcome::Partly | Outcome::Wrong | Outcome::Skipped => false,
    }
}

/// Whether some problem was right with notes closed since a paper of that day, the paper itself
/// left out.
fn recovered(problems: &[Located<'_>], paper: NaiveDate, today: NaiveDate) -> bool {
    let mut tries = problems.iter().flat_map(|at| at.block.attempts());
    tries.any(|a| {
        a.notes == NotesUse::Closed
            && is_right(a.outcome)
            && a.date <= today
            && (a.date > paper || (a.date == paper && !a.mock))
    })
}

/// What is needed to say a step.
struct Say<'a> {
    analysis: &'a Analysis,
    exam: &'a Exam<'a>,
    prepared: &'a Prepared<'a>,
}

impl Say<'_> {
    fn topic_key(&self, topic: TopicId) -> Option<&NameKey> {
        self.exam.topics.get(topic.0 as usize)
    }

    fn topic(&self, topic: TopicId) -> String {
        self.topic_key(topic).map_or_else(String::new, |topic| {
            topic_title(&self.analysis.notebook, &self.exam.course, topic)
        })
    }

    fn pattern(&self, pattern: PatternId) -> String {
        self.prepared
            .keys
            .get(&pattern)
            .map_or_else(String::new, |key| {
                pattern_title(self.analysis, &self.exam.course, key)
            })
    }

    fn paper(&self, instructor: Option<PaperId>, drawn: &str, how: &str) -> String {
        match self.prepared.instructor().filter(|_| instructor.is_some()) {
            Some(paper) => format!(
                "Sit {}, {how}: it is the instructor's",
                words::title(&paper.at)
            ),
            None => format!("Sit {drawn}, {how}"),
        }
    }

    /// Shows the instructor's paper, or draws one.
    fn sit(&self, instructor: Option<PaperId>, notes: NotesUse) -> Option<(String, Command)> {
        if let Some(paper) = self.prepared.instructor().filter(|_| instructor.is_some()) {
            return Some((
                format!("Go to {}", words::title(&paper.at)),
                show(&paper.at),
            ));
        }
        if self.exam.at.block.name.is_empty() {
            return None;
        }
        let draw = Command::DrawPaper {
            course: self.exam.course.to_string(),
            exam: self.exam.at.title(),
            notes,
            questions: None,
            seed: None,
            kind: None,
        };
        Some(("Draw it".to_owned(), draw))
    }

    /// Shows the first topic to relearn.
    fn relearn(&self, topics: &[TopicId]) -> Option<(String, Command)> {
        let topic = self.topic_key(*topics.first()?)?;
        let at = self.analysis.notebook.definition(&NamedThing {
            course: self.exam.course.clone(),
            kind: BlockKind::Topic,
            name: topic.clone(),
        })?;
        Some((format!("Go to {}", words::title(&at)), show(&at)))
    }

    /// Draws a drill sheet on the holes. Problems of no pattern have no name to draw by: where
    /// there is nothing else, the first is shown, one that was never tried if there is one.
    fn practise(&self, patterns: &[PatternId]) -> Option<(String, Command)> {
        let names = patterns
            .iter()
            .filter_map(|id| match self.prepared.keys.get(id)? {
                PatternKey::Named(name) if !name.as_str().contains(',') => {
                    Some(pattern_name(self.analysis, &self.exam.course, name))
                }
                _ => None,
            });
        let names: Vec<String> = names.collect();
        if !names.is_empty() {
            let drill = Command::DrawDrill {
                course: self.exam.course.to_string(),
                patterns: names.join(", "),
                topics: String::new(),
                arrangement: Arrangement::Mixed,
                questions: None,
                seed: None,
            };
            return Some(("Draw a drill sheet on them".to_owned(), drill));
        }
        let problems = match self.prepared.keys.get(patterns.first()?)? {
            PatternKey::Named(name) => {
                let notebook = &self.analysis.notebook;
                notebook.problems_of(&self.exam.course, name)
            }
            PatternKey::Own(id) => self.analysis.notebook.block(id).into_iter().collect(),
        };
        let last = |at: &&Located<'_>| at.block.attempts().map(|a| a.date).max();
        let at = problems.iter().min_by_key(last)?;
        Some((format!("Go to {}", words::title(at)), show(at)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Prints what to do next for every exam of the notes: the line, and what does it.
    fn check(notes: &str, expected: &[&str]) {
        let fixture = fixture::notebook(notes);
        let nexts = next_steps(fixture.analysis(), None, None);
        let said: Vec<String> = nexts
            .iter()
            .map(|next| match &next.action {
                Some((what, command)) => {
                    format!("{}: {next} [{what}, {}]", next.exam, command.name())
                }
                None => format!("{}: {next}", next.exam),
            })
            .collect();
        assert_eq!(said, expected);
    }

    /// A course with an exam in ten days whose revision has begun, and two kinds of problem.
    fn course(more: &str) -> String {
        format!(
            "@course Logic\n@exam Final\n  on: 2027-02-25 09:00\n  start: 2027-02-10\n{more}\n\
             @topic 1 Sets\n\n@pattern union\n\n@pattern limit\n\n@problem 1\n  pattern: union\n  Decide.\n\n\
             @problem 2\n  pattern: limit\n  Decide 2.\n"
        )
    }

    /// A paper that was sat, with these marks of problems 1, 2, 1, 2, 1, 2.
    fn paper(title: &str, notes: &str, date: &str, marks: [&str; 2]) -> String {
        let question = |n: usize| {
            let (of, asks) = [(1, "Decide."), (2, "Decide 2.")][n % 2];
            let mark = marks[n % 2];
            format!("@question {n}\n  of: {of}\n  {asks}\n  mark: {mark}\n\n")
        };
        let questions: String = (0..6).map(question).collect();
        format!("@paper {title}\n  for: Final\n  notes: {notes}\n  recorded: {date}\n\n{questions}")
    }

    #[test]
    fn the_way_to_an_exam_goes_step_by_step() {
        check(
            &course("").replace("start: 2027-02-10", "start: 2027-02-20"),
            &["Final: Revision begins in 5 days, 2027-02-20"],
        );
        let unlearned = course("").replace("1 Sets\n", "1 Sets\n  learned: no\n");
        check(
            &unlearned,
            &["Final: Relearn 1 Sets [Go to 1 Sets, porism.showPlace]"],
        );
        let open = course("");
        check(
            &open,
            &["Final: Sit a first mock test, notes open [Draw it, porism.drawPaper]"],
        );
        let closed = format!("{open}{}", paper("A", "open", "2027-02-11", ["right"; 2]));
        check(
            &closed,
            &["Final: Sit a mock test, notes closed and timed [Draw it, porism.drawPaper]"],
        );
        let holes = format!(
            "{closed}{}",
            paper("B", "closed", "2027-02-12", ["right", "wrong"])
        );
        check(
            &holes,
            &["Final: Fill the holes: limit, union [Draw a drill sheet on them, porism.drawDrill]"],
        );
        let right = "  tried: 2027-02-14 closed right\n";
        let filled = holes
            .replace(
                "  Decide.\n\n@problem 2",
                &format!("  Decide.\n{right}\n@problem 2"),
            )
            .replacen("  Decide 2.\n", &format!("  Decide 2.\n{right}"), 1);
        check(
            &filled,
            &["Final: Sit a fresh mock test, notes closed and timed [Draw it, porism.drawPaper]"],
        );
        let sheet = "@paper Sheet\n  for: Final\n  by: instructor\n\n@problem S1\n  topic: 1\n  Decide S1.\n";
        check(
            &format!("{open}{sheet}"),
            &[
                "Final: Sit Sheet, notes open: it is the instructor's [Go to Sheet, porism.showPlace]",
            ],
        );
    }

    #[test]
    fn too_few_days_are_said() {
        check(
            &course("").replace("2027-02-25 09:00", "2027-02-17"),
            &[
                "Final: Sit a first mock test, notes open. Only 2 days left, and the rest of the way \
               takes 4 [Draw it, porism.drawPaper]",
            ],
        );
    }

    #[test]
    fn the_day_itself_and_the_days_after_have_their_line() {
        let on = |day: &str, more: &str| course(more).replace("2027-02-25 09:00", day);
        check(
            &on("2027-02-15 14:00", "  room: H 1"),
            &["Final: Today at 14:00, H 1"],
        );
        check(
            &on("2027-02-01", ""),
            &[
                "Final: Write down the result: result: and the score [Go to the exam, porism.showPlace]",
            ],
        );
        check(&on("2027-02-01", "  result: 7/10"), &[]);
        check(&on("2027-01-01", ""), &[]);
        check("@exam Final\n", &[]);
    }

    #[test]
    fn holes_without_a_problem_are_named() {
        let notes = course("").replace("  pattern: limit\n", "");
        let notes = format!(
            "{notes}{}",
            paper("B", "closed", "2027-02-12", ["right"; 2])
        );
        check(
            &notes,
            &[
                "Final: Fill the holes: union, problem 2; no problem in the notes for limit \
               [Draw a drill sheet on them, porism.drawDrill]",
            ],
        );
    }

    #[test]
    fn holes_of_a_past_exam_are_carried_over_until_they_are_filled() {
        let notes = format!(
            "{}@exam Last\n  on: 2027-02-27\n  start: 2027-02-01\n",
            course("  covers: 1\n  result: 5/10").replace("2027-02-25 09:00", "2027-02-13")
                + &paper("B", "closed", "2027-02-12", ["right", "wrong"])
        );
        let carried = |notes: &str| {
            let fixture = fixture::notebook(notes);
            let exams = exams(fixture.analysis(), &NameKey::new("Logic"));
            let last = exams.last().expect("two exams");
            carried_over(fixture.analysis(), last)
        };
        assert_eq!(carried(&notes), [("limit".to_owned(), "Final".to_owned())]);
        let filled = notes.replacen(
            "  Decide 2.\n",
            "  Decide 2.\n  tried: 2027-02-14 closed right\n",
            1,
        );
        assert_eq!(carried(&filled), []);
    }
}
