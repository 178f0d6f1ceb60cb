//! How ready the student is for an exam: the notes' exams and papers, put to the model of `study`.

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

use chrono::NaiveDate;
use notes::NameKey;
use notes::value::Moment;
use study::composition::{
    Allotment, Composition, DEFAULT_QUESTIONS, MOST_QUESTIONS, NoComposition,
};
use study::readiness::{CLOSED_PAPER_DAYS, Label, Readiness, readiness};
use study::{Day, Fraction, PatternId, TopicId};

use crate::exams::{Exam, topic_title};
use crate::papers::{Paper, papers_for};
use crate::standing::{CourseStanding, day};
use crate::{Analysis, words};

/// The readiness for an exam, with what it leaves out.
#[derive(Clone, Debug, PartialEq)]
pub struct ExamReadiness {
    /// What the model says.
    pub estimate: Readiness,
    /// How many questions the exam is taken to have.
    pub questions: u32,
    /// Covered topics without a pattern or problem: the exam may ask of them, and they are not
    /// counted.
    pub unknown_topics: Vec<NameKey>,
    /// Whether the course has the five tries without which an estimate says little.
    pub enough_evidence: bool,
    /// What each covered topic is expected to cost, dearest first. Together with the expected
    /// score they make up the whole.
    pub costs: Vec<TopicCost>,
}

/// What a topic is expected to cost.
#[derive(Clone, Debug, PartialEq)]
pub struct TopicCost {
    /// The topic.
    pub topic: NameKey,
    /// The part of the whole score that is expected to be lost on it, from 0 to 1.
    pub lost: f64,
}

/// Why no readiness can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum NoReadiness {
    /// The exam is past.
    Past(Moment),
    /// The exam covers no topic that is defined.
    NothingCovered,
    /// No covered topic has a pattern or a problem.
    NothingToPractise,
    /// The exam is said to have no questions.
    NoQuestions,
    /// The exam has more questions than can be reckoned with.
    TooManyQuestions(u64),
    /// The exam's points go to topics without a pattern or problem.
    NoPoints,
}

impl fmt::Display for NoReadiness {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Past(on) => write!(f, "the exam was on {}", on.date),
            Self::NothingCovered => f.write_str("not known: covers: names no topic of the course"),
            Self::NothingToPractise => {
                f.write_str("not known: no covered topic has a pattern or a problem yet")
            }
            Self::NoPoints => f.write_str(
                "not known: points: gives none to a covered topic with a pattern or a problem",
            ),
            Self::NoQuestions => f.write_str("not known: the exam is said to have 0 questions"),
            Self::TooManyQuestions(n) => write!(
                f,
                "not known: {n} questions are more than the {MOST_QUESTIONS} that can be reckoned with"
            ),
        }
    }
}

/// The readiness for an exam today: the probability of reaching its target on a fresh closed-notes
/// paper, its questions spread over the covered topics in proportion to their patterns.
pub fn of_exam(analysis: &Analysis, exam: &Exam<'_>) -> Result<ExamReadiness, NoReadiness> {
    on_day(analysis, exam, analysis.today())
}

/// The readiness for an exam on a day, as the tries up to then tell it.
pub fn on_day(
    analysis: &Analysis,
    exam: &Exam<'_>,
    date: NaiveDate,
) -> Result<ExamReadiness, NoReadiness> {
    if let Some(on) = exam.on
        && exam.is_past(date)
    {
        return Err(NoReadiness::Past(on));
    }
    let standing = analysis.standings.course(&exam.course, date);
    let (composition, unknown_topics) = composition_of(exam, &standing)?;
    let target = Fraction::new(exam.target).unwrap_or(Fraction::ONE);
    let papers = closed_paper_days(analysis, exam);
    let estimate = readiness(&standing.standing, &composition, target, &papers)
        .expect("the composition was made of the standing's own patterns");
    Ok(ExamReadiness {
        estimate,
        questions: composition.questions(),
        unknown_topics,
        enough_evidence: standing.standing.enough_evidence,
        costs: costs(exam, &standing, &composition),
    })
}

/// What the exam is taken to be made of, and the covered topics of which nothing is known.
pub(crate) fn composition_of(
    exam: &Exam<'_>,
    standing: &CourseStanding,
) -> Result<(Composition, Vec<NameKey>), NoReadiness> {
    let mut covered: BTreeMap<TopicId, Vec<PatternId>> = BTreeMap::new();
    for topic in &exam.topics {
        if let Some(id) = standing.topic_id(topic) {
            covered.insert(id, Vec::new());
        }
    }
    for (key, _, mastery) in standing.patterns() {
        if let Some(patterns) = covered.get_mut(&mastery.topic)
            && let Some(id) = standing.pattern_id(key)
        {
            patterns.push(id);
        }
    }
    let is_unknown = |topic: &&NameKey| {
        if exam.is_without_points(topic) {
            return false;
        }
        let known = standing.topic_id(topic).and_then(|id| covered.get(&id));
        known.is_none_or(|patterns| patterns.is_empty())
    };
    let unknown_topics: Vec<NameKey> = exam.topics.iter().filter(is_unknown).cloned().collect();
    if exam.topics.is_empty() {
        return Err(NoReadiness::NothingCovered);
    }
    if unknown_topics.len() == exam.topics.len() {
        return Err(NoReadiness::NothingToPractise);
    }
    let questions = exam.questions.unwrap_or(DEFAULT_QUESTIONS);
    let composition = match &exam.points {
        None => Composition::spread(questions, &covered),
        Some(parts) => {
            let topics = |topics: &[NameKey]| {
                let ids = topics.iter().filter_map(|topic| standing.topic_id(topic));
                ids.map(|id| (id, covered.get(&id).cloned().unwrap_or_default()))
                    .collect()
            };
            let allotments: Vec<Allotment> = parts
                .iter()
                .map(|(points, of)| Allotment {
                    points: *points,
                    topics: topics(of),
                })
                .collect();
            Composition::allotted(questions, &allotments)
        }
    };
    let composition = composition.map_err(|none| match none {
        NoComposition::NothingCovered => NoReadiness::NothingCovered,
        NoComposition::NoPatterns => NoReadiness::NothingToPractise,
        NoComposition::NoQuestions => NoReadiness::NoQuestions,
        NoComposition::TooManyQuestions(n) => NoReadiness::TooManyQuestions(n),
        NoComposition::NoPoints => NoReadiness::NoPoints,
    })?;
    Ok((composition, unknown_topics))
}

/// What each topic is expected to cost: its questions by what is missing to full mastery.
fn costs(exam: &Exam<'_>, standing: &CourseStanding, composition: &Composition) -> Vec<TopicCost> {
    let expected = composition.expected_questions();
    let mut lost: BTreeMap<TopicId, f64> = BTreeMap::new();
    for (pattern, questions) in expected {
        if let Some(mastery) = standing.standing.patterns.get(&pattern) {
            let part = questions / f64::from(composition.questions());
            *lost.entry(mastery.topic).or_default() += part * (1.0 - mastery.mean);
        }
    }
    let cost = |topic: &NameKey| {
        let lost = *lost.get(&standing.topic_id(topic)?)?;
        let topic = topic.clone();
        Some(TopicCost { topic, lost })
    };
    let mut costs: Vec<TopicCost> = exam.topics.iter().filter_map(cost).collect();
    // Stable, so that topics of one cost stay in the course's order.
    costs.sort_by(|a, b| b.lost.total_cmp(&a.lost));
    costs
}

/// The fewest questions of a usual paper.
const USUAL_FEWEST: u32 = 10;

/// Whether a paper shows what the exam asks: one of less than half as many questions as the exam
/// or a usual paper has shows too little (a convention).
pub(crate) fn is_whole(paper: &Paper<'_>, exam: &Exam<'_>) -> bool {
    let whole = exam.questions.unwrap_or(USUAL_FEWEST).min(USUAL_FEWEST);
    2 * paper.items.len() >= whole as usize
}

/// The days on which a whole paper for the exam was sat with notes closed.
fn closed_paper_days(analysis: &Analysis, exam: &Exam<'_>) -> BTreeSet<Day> {
    let papers = papers_for(&analysis.notebook, exam).into_iter();
    papers
        .filter(|paper| is_whole(paper, exam))
        .filter_map(|paper| paper.sitting())
        .filter(|sitting| sitting.closed_notes)
        .map(|sitting| day(sitting.date))
        .collect()
}

/// The readiness in words, rounded to tenths: finer figures would claim more than is known.
pub fn in_words(readiness: &ExamReadiness, exam: &Exam<'_>) -> String {
    let estimate = &readiness.estimate;
    let mut said = format!(
        "{}: {} for {} or more",
        label(estimate.label),
        chance(estimate),
        words::percent(exam.target)
    );
    if let Some(missing) = papers_missing(estimate) {
        said.push_str("; ");
        said.push_str(&missing);
    }
    if !readiness.unknown_topics.is_empty() {
        let topics: Vec<&str> = readiness
            .unknown_topics
            .iter()
            .map(NameKey::as_str)
            .collect();
        said.push_str(&format!(
            "; not counted, as there is nothing to practise: {}",
            topics.join(", ")
        ));
    }
    said
}

/// The score to expect, with the interval in which it lies nine times of ten.
pub fn score_in_words(readiness: &ExamReadiness) -> String {
    let estimate = &readiness.estimate;
    format!(
        "expected score {}, between {} and {}",
        words::percent(estimate.expected),
        words::percent(estimate.low),
        words::percent(estimate.high)
    )
}

/// How many topics are named among those that cost most.
const COSTLY: usize = 3;

/// The topics that cost most, with the part of the score that each is expected to cost; `None`
/// where there is only one.
pub fn costs_in_words(
    analysis: &Analysis,
    exam: &Exam<'_>,
    readiness: &ExamReadiness,
) -> Option<String> {
    let costly = readiness.costs.iter().filter(|cost| cost.lost >= 0.005);
    let costly: Vec<String> = costly
        .take(COSTLY)
        .map(|cost| {
            let title = topic_title(&analysis.notebook, &exam.course, &cost.topic);
            format!("{title} ({})", words::percent(cost.lost))
        })
        .collect();
    (readiness.costs.len() > 1 && !costly.is_empty())
        .then(|| format!("costs most: {}", costly.join(", ")))
}

/// The readiness in a few words, for a line above the exam.
pub fn short(readiness: &ExamReadiness) -> String {
    let estimate = &readiness.estimate;
    let said = format!("{} ({})", label(estimate.label), chance(estimate));
    match readiness.enough_evidence {
        true => said,
        false => format!("{said} · too little evidence yet"),
    }
}

/// The word for a readiness.
pub fn label(label: Label) -> &'static str {
    match label {
        Label::NotReady => "not ready",
        Label::Close => "close",
        Label::Ready => "ready",
    }
}

/// The chance in tenths.
pub fn chance(estimate: &Readiness) -> String {
    match estimate.tenths() {
        0 => "less than a 5% chance".to_owned(),
        // "a 80% chance" would be wrong English.
        8 => "an 80% chance".to_owned(),
        10 => "more than a 95% chance".to_owned(),
        tenths => format!("a {}0% chance", tenths),
    }
}

/// What only papers can show, where the chance alone would do.
fn papers_missing(estimate: &Readiness) -> Option<String> {
    let held_back = estimate.label == Label::Close && estimate.chance >= study::readiness::READY;
    held_back.then(|| {
        let so_far = match estimate.closed_paper_days {
            0 => "none yet".to_owned(),
            n => format!("{n} so far"),
        };
        format!("ready needs closed-notes papers on {CLOSED_PAPER_DAYS} different days, {so_far}")
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exams::exams;
    use crate::fixture;

    /// Prints the readiness for the first exam of the notes.
    fn check(notes: &str, expected: &str) {
        let fixture = fixture::notebook(notes);
        let course = NameKey::new("Logic");
        let exam = exams(fixture.analysis(), &course).remove(0);
        let said = match of_exam(fixture.analysis(), &exam) {
            Ok(readiness) => in_words(&readiness, &exam),
            Err(reason) => reason.to_string(),
        };
        assert_eq!(said, expected);
    }

    /// A course with a problem of each of 6 kinds, each with these tries.
    fn course(exam: &str, tries: &str) -> String {
        let mut notes = format!("@course Logic\n@exam Final\n{exam}\n@topic 1 Sets\n");
        for n in 1..=6 {
            notes.push_str(&format!(
                "@problem {n}\n  pattern: p{n}\n  Decide {n}.\n{tries}\n"
            ));
        }
        notes
    }

    fn paper(date: &str, questions: usize) -> String {
        let question = "@question 1\n  Decide.\n  mark: right\n\n";
        format!(
            "@paper {date}\n  for: Final\n  recorded: {date}\n\n{}",
            question.repeat(questions)
        )
    }

    #[test]
    fn ready_needs_two_whole_papers_on_different_days() {
        let tries = "  tried: 2027-02-13 closed right\n  tried: 2027-02-14 closed right\n";
        let notes = course("  target: 60%\n", tries);
        let close = "close: more than a 95% chance for 60% or more; ready needs closed-notes papers \
                     on 2 different days, ";
        check(&notes, &format!("{close}none yet"));
        let one = format!("{notes}\n{}", paper("2027-02-13", 5));
        check(&one, &format!("{close}1 so far"));
        check(
            &format!("{one}{}", paper("2027-02-13", 5)),
            &format!("{close}1 so far"),
        );
        check(
            &format!("{one}{}", paper("2027-02-14", 4)),
            &format!("{close}1 so far"),
        );
        let open = paper("2027-02-14", 5).replace("  recorded", "  notes: open\n  recorded");
        check(&format!("{one}{open}"), &format!("{close}1 so far"));
        check(
            &format!("{one}{}", paper("2027-02-14", 5)),
            "ready: more than a 95% chance for 60% or more",
        );
    }

    #[test]
    fn what_is_expected_and_what_costs_most_is_said() {
        let tried = |n: u32| format!("@problem {n}\n  pattern: p{n}\n  Decide {n}.\n");
        let right = "  tried: 2027-02-13 closed right\n  tried: 2027-02-14 closed right\n";
        let fixture = fixture::notebook(&format!(
            "@course Logic\n@exam Final\n@topic 1 Sets\n{}{right}@topic 2 Maps\n{}{}@topic 3 Sums\n",
            tried(1),
            tried(2),
            tried(3)
        ));
        let exam = exams(fixture.analysis(), &NameKey::new("Logic")).remove(0);
        let found = of_exam(fixture.analysis(), &exam).expect("a readiness");
        assert_eq!(
            score_in_words(&found),
            "expected score 57%, between 25% and 92%"
        );
        assert_eq!(
            costs_in_words(fixture.analysis(), &exam, &found).expect("several topics"),
            "costs most: 2 Maps (32%), 1 Sets (11%)"
        );
        let whole: f64 = found.costs.iter().map(|cost| cost.lost).sum();
        // The score's distribution spreads with the day of the exam; its mean hardly moves.
        assert!(
            (whole + found.estimate.expected - 1.0).abs() < 0.01,
            "{whole}"
        );
    }

    #[test]
    fn points_decide_what_a_topic_costs() {
        let notes = "@course Logic\n@exam Final\n  questions: 10\n  points: 1 90, 2 10\n\
                     @topic 1 Sets\n@problem 1\n  pattern: p\n  Decide 1.\n\
                     @topic 2 Maps\n@problem 2\n  pattern: q\n  Decide 2.\n\
                     @topic 3 Sums\n@problem 3\n  pattern: r\n  Decide 3.\n";
        let fixture = fixture::notebook(notes);
        let exam = exams(fixture.analysis(), &NameKey::new("Logic")).remove(0);
        assert_eq!(exam.topics, ["1", "2"].map(NameKey::new));
        let found = of_exam(fixture.analysis(), &exam).expect("a readiness");
        let lost: Vec<f64> = found.costs.iter().map(|cost| cost.lost).collect();
        assert!((lost[0] - 9.0 * lost[1]).abs() < 1e-12, "{lost:?}");
        assert_eq!(found.unknown_topics, []);
    }

    #[test]
    fn what_is_not_known_is_said() {
        check(
            &(course("  covers: 1 .. 2\n", "") + "@topic 2 Maps\n"),
            "not ready: a 10% chance for 70% or more; not counted, as there is nothing to practise: 2",
        );
        check(
            "@course Logic\n@exam Final\n  covers: 7\n@topic 1 Sets\n",
            "not known: covers: names no topic of the course",
        );
        check(
            &(course("  covers: 1\n  points: 2 40\n", "") + "@topic 2 Maps\n"),
            "not known: points: gives none to a covered topic with a pattern or a problem",
        );
        check(
            "@course Logic\n@exam Final\n@topic 1 Sets\n",
            "not known: no covered topic has a pattern or a problem yet",
        );
        check(
            &course("  on: 2027-02-14\n", ""),
            "the exam was on 2027-02-14",
        );
        check(
            &course("  questions: 0\n", ""),
            "not known: the exam is said to have 0 questions",
        );
        check(
            &course("  questions: 300\n", ""),
            "not known: 300 questions are more than the 200 that can be reckoned with",
        );
    }
}
