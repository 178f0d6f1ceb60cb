//! Drawing a mock test for an exam into a new file of the notebook, or a round of theorems.
//!
//! The paper is a file in the notes' own format, so that every feature works in it. It asks the
//! problems word for word, those that were tried before with other numbers where that can be done,
//! and shows no answer, no hint and no pattern: recognising the kind is a part of the exam. What could
//! not be had is said, never passed over.
//!
//! A question names its source in `of:`. A problem without a name, or with one that cannot be
//! listed, is found by its text instead: see [`crate::question_source`].

use std::fmt;

use notes::Key;
use notes::value::{Minutes, NotesRule, NotesUse};
use study::TopicId;
use study::paper::{Kind, Request, Section, Shortfall, Spread, draw};

use crate::drawn_paper::{
    DrawnPaper, DrawnQuestion, course_to_name, default_seed, list, new_path, new_title,
};
use crate::exams::{self, Exam, practised_of, topic_title};
use crate::page::Page;
use crate::papers::{Paper, papers_for};
use crate::question_pool::{Asked, Pool, Purpose, confusable, last_paper_sources};
use crate::reasons::Say;
use crate::standing::day;
use crate::{Analysis, words};

/// The most questions of a mock test when the exam says how many it has (common practice, no
/// published source).
const MOST_BY_DEFAULT: u32 = 25;
/// The number of questions that an exam's length is taken to be for, when it does not say and the
/// student asks for another number than usual.
const USUAL_QUESTIONS: u32 = study::composition::DEFAULT_QUESTIONS;
/// The time allowed is rounded up to whole steps of so many minutes.
const STEP_MINUTES: u32 = 5;

/// What stands above every mock test.
const PREFACE: [&str; 4] = [
    "% Drawn from your notes: an estimate of the exam, not a promise. The course's own",
    "% rules on materials and collaboration come first. Pass over what is hard and",
    "% come back. Then mark each question: right, partly, wrong, skipped or a score",
    "% such as 3/4, and record the marks.",
];

/// What to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrawRequest {
    /// Whether the paper is to be sat with notes open.
    pub notes: NotesUse,
    /// What to ask; `None` for problems, or theorems where there is nothing else.
    pub kind: Option<Kind>,
    /// How many questions; `None` for as many as the exam has, or else two or three from each
    /// section, 10 to 25 in all (four or five theorems).
    pub questions: Option<u32>,
    /// Another seed gives another paper; `None` for one that follows from the date, the exam and
    /// the papers that are there already.
    pub seed: Option<u32>,
}

impl DrawRequest {
    /// The usual paper.
    pub fn with_notes(notes: NotesUse) -> Self {
        Self {
            notes,
            kind: None,
            questions: None,
            seed: None,
        }
    }
}

/// Why no paper was drawn.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DrawRefusal {
    /// The exam has no title, which the paper would name.
    UnnamedExam,
    /// The exam covers no topic that is defined.
    NothingCovered(String),
    /// No covered topic has anything of the kind to ask.
    NothingToAsk {
        /// The exam.
        exam: String,
        /// The covered topics.
        topics: Vec<String>,
        /// What was wanted.
        kind: &'static str,
    },
    /// No question was asked for.
    NoQuestions,
}

impl fmt::Display for DrawRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnnamedExam => f.write_str(
                "This exam has no title: write one behind @exam, so that papers can name it.",
            ),
            Self::NothingCovered(exam) => write!(
                f,
                "{exam} covers no topic of its course: define topics with @topic, or correct covers:."
            ),
            Self::NothingToAsk { exam, topics, kind } => write!(
                f,
                "There is no {kind} to ask for {exam} yet: mark some with @{kind} below {}.",
                list(topics, "or")
            ),
            Self::NoQuestions => f.write_str("A paper of 0 questions: ask for at least one."),
        }
    }
}

/// A practice paper by the instructor for the exam that was not sat yet: it comes first, whole,
/// before any drawn paper.
pub fn offered_first<'a>(analysis: &'a Analysis, exam: &Exam<'_>) -> Option<Paper<'a>> {
    let mut papers = papers_for(&analysis.notebook, exam).into_iter();
    papers.find(|paper| paper.by_instructor && !paper.items.is_empty() && paper.sitting().is_none())
}

/// Draws a paper for an exam. Same notes, date and request: same bytes.
pub fn draw_paper(
    analysis: &Analysis,
    exam: &Exam<'_>,
    request: DrawRequest,
) -> Result<DrawnPaper, DrawRefusal> {
    if exam.at.block.name.is_empty() {
        return Err(DrawRefusal::UnnamedExam);
    }
    if exam.topics.is_empty() {
        return Err(DrawRefusal::NothingCovered(words::title(&exam.at)));
    }
    if request.questions == Some(0) {
        return Err(DrawRefusal::NoQuestions);
    }
    let today = analysis.today();
    let (course, title_of_exam) = (&exam.course, exam.at.title());
    let (path, number) = new_path(analysis, course, exam.at.path, &title_of_exam, today);
    let seed = request
        .seed
        .unwrap_or_else(|| default_seed(today, course, exam.at.block.name.as_str(), number));
    let standing = analysis.standings.course(course, today);
    let last = last_paper_sources(analysis, course, &papers_for(&analysis.notebook, exam));
    let mut pool = Pool::new(analysis, course, &standing, Purpose::Solving, last);
    let mut sections = sections(analysis, exam, &mut pool);
    let has = |kind| {
        let mut candidates = sections.iter().flat_map(|section| &section.candidates);
        candidates.any(|candidate| candidate.theorem == (kind == Kind::Theorems))
    };
    let kind = request
        .kind
        .unwrap_or(match has(Kind::Problems) || !has(Kind::Theorems) {
            true => Kind::Problems,
            false => Kind::Theorems,
        });
    if !has(kind) {
        return Err(DrawRefusal::NothingToAsk {
            exam: words::title(&exam.at),
            topics: exam
                .topics
                .iter()
                .map(|topic| topic_title(&analysis.notebook, course, topic))
                .collect(),
            kind: match kind {
                Kind::Problems => "problem",
                Kind::Theorems => "theorem",
            },
        });
    }
    let of_exam = exam.questions.filter(|n| *n > 0 && kind == Kind::Problems);
    let count = request
        .questions
        .or(of_exam.map(|n| n.min(MOST_BY_DEFAULT)));
    let confusable = confusable(analysis, course, &standing);
    let request_of = Request {
        kind,
        spread: match exam.points {
            None => Spread::WeakFirst,
            Some(_) => Spread::ByWeight,
        },
        count,
        seed: seed.into(),
        day: day(today),
    };
    let (drawn, asked) = pool.draw(
        seed,
        &mut sections,
        |sections| {
            let sections = sections.iter_mut();
            sections
                .flat_map(|section| &mut section.candidates)
                .collect()
        },
        |sections| draw(sections, &standing.standing, &confusable, request_of),
        |paper| {
            let questions = paper.questions.iter();
            questions.map(|q| (q.problem, q.source)).collect()
        },
    );

    let say = Say {
        analysis,
        course,
        standing: &standing,
        purpose: Purpose::Solving,
    };
    let whys = drawn.questions.iter().filter_map(|question| {
        let topic = exam.topics.get(question.topic.0 as usize)?;
        Some(say.why(topic, question.source, &question.reason))
    });
    let questions: Vec<(Asked<'_>, String)> = asked.into_iter().zip(whys).collect();
    let mut shortfalls: Vec<String> = drawn
        .shortfalls
        .iter()
        // The exam's own number of questions is no unusual wish.
        .filter(|s| request.questions.is_some() || !matches!(s, Shortfall::UnusualCount { .. }))
        .map(|shortfall| say.shortfall(&exam.topics, shortfall, kind))
        .collect();
    shortfalls.extend(say.stale(drawn.questions.iter().map(|question| question.source)));
    shortfalls.extend(pool.held_back_in_words());

    let what = match kind {
        Kind::Problems => "mock test",
        Kind::Theorems => "theorem round",
    };
    let sat = papers_for(&analysis.notebook, exam);
    let sat = sat.iter().filter(|p| !p.by_instructor).count();
    let title = new_title(
        analysis,
        course,
        &format!("{title_of_exam}, {what}"),
        sat + 1,
    );
    let mut fields = vec![
        (Key::For, title_of_exam),
        (Key::Drawn, today.to_string()),
        (Key::Seed, seed.to_string()),
    ];
    let length = length(exam, kind, questions.len() as u32, request.questions);
    fields.extend(length.map(|length| (Key::Length, length.to_string())));
    fields.push((Key::Notes, notes_allowed(exam, request.notes)));
    fields.extend([Key::Started, Key::Finished].map(|key| (key, String::new())));
    let page = Page {
        preface: &PREFACE,
        course: course_to_name(analysis, &path, course),
        title: &title,
        fields,
        purpose: Purpose::Solving,
        beside: exam.at.path,
    };
    let text = page.text(analysis, questions.iter().map(|(asked, _)| asked));
    let questions = questions
        .into_iter()
        .map(|(asked, why)| DrawnQuestion {
            source: asked.at.id(),
            text: asked.text,
            seed: asked.seed,
            why,
        })
        .collect();
    Ok(DrawnPaper {
        path,
        text,
        title,
        seed,
        questions,
        shortfalls,
    })
}

/// The sections of an exam that count for something, numbered as its topics.
fn sections<'a>(analysis: &'a Analysis, exam: &Exam<'_>, pool: &mut Pool<'a, '_>) -> Vec<Section> {
    let notebook = &analysis.notebook;
    // As an exam's questions are spread when nothing else is known of it.
    let sizes = exam.topics.iter().map(|topic| {
        let patterns = exams::patterns_of(notebook, &exam.course, topic);
        (topic, patterns.len())
    });
    let parts = exam.parts(&sizes.collect());
    let section = |(number, topic)| {
        let weight = *parts.get(topic)?;
        Some(Section {
            topic: TopicId(number),
            weight,
            candidates: pool.candidates(practised_of(notebook, &exam.course, topic)),
        })
    };
    (0..).zip(&exam.topics).filter_map(section).collect()
}

/// What a paper allows: a closed-notes paper allows what the exam allows.
fn notes_allowed(exam: &Exam<'_>, notes: NotesUse) -> String {
    match (notes, exam.at.block.notes_rule()) {
        (NotesUse::Open, _) => "open".to_owned(),
        (NotesUse::Closed, Some(NotesRule::Other)) => {
            let allowed = exam.at.field_text(Key::Notes).unwrap_or_default();
            allowed.split_whitespace().collect::<Vec<_>>().join(" ")
        }
        (NotesUse::Closed, _) => "closed".to_owned(),
    }
}

/// The time allowed: the exam's, in proportion to the questions.
fn length(exam: &Exam<'_>, kind: Kind, drawn: u32, wanted: Option<u32>) -> Option<Minutes> {
    let Minutes(whole) = exam
        .at
        .block
        .duration(Key::Length)
        .filter(|_| kind == Kind::Problems)?;
    let of = match exam.questions.filter(|n| *n > 0) {
        Some(questions) => questions,
        None if wanted.is_some() => USUAL_QUESTIONS.max(drawn),
        None => return Some(Minutes(whole)),
    };
    if of == drawn {
        return Some(Minutes(whole));
    }
    let share = (u64::from(whole) * u64::from(drawn)).div_ceil(u64::from(of));
    let share = u32::try_from(share).unwrap_or(whole);
    Some(Minutes(
        share
            .div_ceil(STEP_MINUTES)
            .max(1)
            .saturating_mul(STEP_MINUTES),
    ))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exams::exams;
    use crate::fixture::{self, Fixture};
    use crate::papers::papers;
    use crate::question_source::{Sources, question_text};
    use notes::{FilePath, Key, NameKey};

    const COURSE: &str = "\
=== algebra/course.porism
@course Linear algebra

@exam Midterm, part 1
@exam Midterm
  on: 2027-02-20
  length: 60 min
  covers: 1.1, 1.2
  questions: 2
  notes: one sheet of
    formulas
=== algebra/1.porism
@topic 1.1 Systems

@pattern elimination
  confused with: substitution

@pattern substitution

@problem 1.1.1
  pattern: elimination
  points: 4
  Solve the system
  $$ x + y = 1,
     x - y = 3. $$
  hint: add them
  answer: $x = 2$, $y = -1$ % checked
  solution: by hand
  tried: 2027-02-06 open right

@topic 1.2 Determinants

@problem
  pattern: expand along a row
  hints: look for zeros
  mine: a row of $3 \\times 3$ zeros % really
  Find $\\det A$.
";

    fn draw_for<'a>(fixture: &'a Fixture, exam: &str) -> Exam<'a> {
        let courses = fixture.analysis().notebook.courses();
        let mut all = courses
            .iter()
            .flat_map(|course| exams(fixture.analysis(), course));
        all.find(|found| found.at.block.name == NameKey::new(exam))
            .expect("the exam")
    }

    fn drawn(notes: &str, request: DrawRequest) -> Result<DrawnPaper, String> {
        let fixture = fixture::notebook(notes);
        let exam = draw_for(&fixture, "midterm");
        draw_paper(fixture.analysis(), &exam, request).map_err(|refusal| refusal.to_string())
    }

    fn closed() -> DrawRequest {
        DrawRequest::with_notes(NotesUse::Closed)
    }

    fn check(notes: &str, request: DrawRequest, expected: &str) {
        let paper = drawn(notes, request).expect("a paper");
        let preface = PREFACE.join("\n");
        let text = paper.text.strip_prefix(&preface).expect("the preface");
        let lines = text
            .lines()
            .map(str::trim_end)
            .collect::<Vec<_>>()
            .join("\n");
        assert_eq!(
            format!("=== {}\n{}", paper.path, lines.trim_start()),
            expected
        );
    }

    /// The problems of a paper, in order of their names.
    fn names(paper: &DrawnPaper) -> Vec<String> {
        let mut names: Vec<String> = paper
            .text
            .lines()
            .filter_map(|line| Some(line.strip_prefix("  of: ")?.to_owned()))
            .collect();
        names.sort();
        names
    }

    #[test]
    fn a_paper_asks_and_gives_nothing_away() {
        check(
            COURSE,
            DrawRequest {
                seed: Some(4711),
                ..closed()
            },
            "\
=== algebra/papers/midterm-2027-02-15-1.porism
@paper Midterm, mock test 1
  for: Midterm
  drawn: 2027-02-15
  seed: 4711
  length: 1 h
  notes: one sheet of formulas
  started:
  finished:

@question 1
  Mine: a row of $3 \\times 3$ zeros
  Find $\\det A$.

  mine:
  mark:

@question 2
  of: 1.1.1
  seed: 75541
  points: 4
  Solve the system
  $$ x + y = -4,
       x - y = 2. $$

  mine:
  mark:",
        );
    }

    /// A course with `topics` sections of three patterns each, with `problems` problems for each
    /// pattern. The statements are words, so that no two have one shape.
    fn big(topics: usize, problems: usize) -> String {
        let mut text = String::from(
            "=== course.porism\n@course Logic\n@exam Midterm\n  length: 50 min\n=== notes.porism\n",
        );
        for t in 1..=topics {
            text.push_str(&format!("@topic 1.{t} Part {t}\n\n"));
            for p in 1..=3 {
                text.push_str(&format!("@pattern kind {t}.{p}\n\n"));
                for n in 1..=problems {
                    text.push_str(&format!(
                        "@problem 1.{t}.{p}.{n}\n  pattern: kind {t}.{p}\n  Decide case {t}.{p}.{n}.\n\n"
                    ));
                }
            }
        }
        text
    }

    #[test]
    fn same_notes_date_and_seed_give_the_same_bytes() {
        let notes = big(4, 5);
        let first = drawn(&notes, closed()).expect("a paper");
        assert_eq!(first, drawn(&notes, closed()).expect("a paper"));
        let other = drawn(
            &notes,
            DrawRequest {
                seed: Some(first.seed + 1),
                ..closed()
            },
        );
        assert_ne!(names(&first), names(&other.expect("a paper")));
        let same = DrawRequest {
            seed: Some(first.seed),
            ..closed()
        };
        assert_eq!(first, drawn(&notes, same).expect("a paper"));
    }

    #[test]
    fn two_or_three_from_each_section() {
        let paper = drawn(&big(5, 5), closed()).expect("a paper");
        assert_eq!(paper.questions.len(), 13);
        assert_eq!(paper.shortfalls, Vec::<String>::new());
        for t in 1..=5 {
            let section = format!("1.{t}.");
            let from = names(&paper)
                .iter()
                .filter(|name| name.starts_with(&section))
                .count();
            assert!([2, 3].contains(&from), "{from} from {section}");
        }
        // What the topics count for, where the exam says so; a topic without points is not asked.
        let points = "50 min\n  questions: 20\n  points: 1.1 .. 1.2 50, 1.3 40, 1.4 10";
        let paper = drawn(&big(5, 9).replace("50 min", points), closed()).expect("a paper");
        let from = |t: u32| {
            let section = format!("1.{t}.");
            let names = names(&paper);
            names
                .iter()
                .filter(|name| name.starts_with(&section))
                .count()
        };
        assert_eq!([1, 2, 3, 4, 5].map(from), [5, 5, 8, 2, 0]);
        // The exam's own number, and its length in proportion.
        let notes = big(5, 5).replace("50 min", "50 min\n  questions: 20");
        let paper = drawn(&notes, closed()).expect("a paper");
        assert_eq!(paper.questions.len(), 20);
        assert!(paper.text.contains("  length: 50 min\n"));
        let ten = DrawRequest {
            questions: Some(10),
            ..closed()
        };
        assert!(
            drawn(&notes, ten)
                .expect("a paper")
                .text
                .contains("  length: 25 min\n")
        );
    }

    #[test]
    fn what_could_not_be_had_is_said() {
        let paper = drawn(&big(1, 1), closed()).expect("a paper");
        assert_eq!(
            paper.shortfalls,
            ["3 questions instead of 10: the notes hold no more that may be asked together."]
        );
        let notes = big(2, 2).replace("@exam Midterm", "@exam Midterm\n  covers: 1.1 .. 1.3")
            + "@topic 1.3 Nothing yet\n";
        let paper = drawn(
            &notes,
            DrawRequest {
                questions: Some(4),
                ..closed()
            },
        )
        .expect("a paper");
        assert_eq!(
            paper.shortfalls,
            [
                "1.3 Nothing yet has no problem to ask.",
                "4 questions; 10 to 25 are usual."
            ]
        );
    }

    #[test]
    fn nothing_of_the_last_paper_while_there_is_something_else() {
        let mut notes = big(4, 2);
        let first = drawn(&notes, closed()).expect("a paper");
        notes.push_str(&format!("=== {}\n{}", first.path, first.text));
        let second = drawn(&notes, closed()).expect("a paper");
        assert_eq!(second.path.as_str(), "papers/midterm-2027-02-15-2.porism");
        assert_eq!(second.title, "Midterm, mock test 2");
        let (first, again) = (names(&first), names(&second));
        assert!(
            again.iter().all(|name| !first.contains(name)),
            "{first:?} {again:?}"
        );
        assert_eq!(second.shortfalls, Vec::<String>::new());
        // Two are left of the twelve of two sections; the others were asked.
        let mut small = big(2, 2);
        let first = drawn(&small, closed()).expect("a paper");
        small.push_str(&format!("=== {}\n{}", first.path, first.text));
        let second = drawn(&small, closed()).expect("a paper");
        assert_eq!(
            second.shortfalls,
            [
                "8 questions are on the last paper, too: nothing fresher is left. More problems would help."
            ]
        );
    }

    #[test]
    fn no_two_questions_of_one_shape_and_the_known_ones_last() {
        let notes = "=== c.porism\n@course Equations\n@exam Midterm\n@topic 1 Linear\n\n\
            @problem a\n  Solve $2x + 3 = 9$.\n\n@problem b\n  Solve $5x + 7 = 22$.\n\n\
            @problem c\n  Decide.\n\n@problem d\n  Decide.\n";
        let paper = drawn(notes, closed()).expect("a paper");
        assert_eq!(paper.questions.len(), 2, "{}", paper.text);
        let two = DrawRequest {
            questions: Some(1),
            ..closed()
        };
        // The other of the two was done right with notes closed, so this one can be skipped.
        let known = notes.replace("22$.\n", "22$.\n  tried: 2027-02-10 closed right\n");
        for seed in 0..8 {
            let paper = drawn(
                &known,
                DrawRequest {
                    seed: Some(seed),
                    ..two
                },
            )
            .expect("a paper");
            assert!(paper.text.contains("  Decide."), "{}", paper.text);
        }
    }

    #[test]
    fn what_cannot_be_drawn_is_said() {
        let refused = |notes: &str, request| drawn(notes, request).expect_err("no paper");
        let none = "=== c.porism\n@course Logic\n@exam Midterm\n";
        assert_eq!(
            refused(none, closed()),
            "Midterm covers no topic of its course: define topics with @topic, or correct covers:."
        );
        assert_eq!(
            refused(&format!("{none}@topic 1 Sets\n@topic 2 Maps\n"), closed()),
            "There is no problem to ask for Midterm yet: mark some with @problem below 1 Sets or 2 Maps."
        );
        let theorems = DrawRequest {
            kind: Some(Kind::Theorems),
            ..closed()
        };
        assert_eq!(
            refused(&big(1, 1), theorems),
            "There is no theorem to ask for Midterm yet: mark some with @theorem below 1.1 Part 1."
        );
        assert_eq!(
            refused(
                &big(1, 1),
                DrawRequest {
                    questions: Some(0),
                    ..closed()
                }
            ),
            "A paper of 0 questions: ask for at least one."
        );
        let unnamed = big(1, 1).replace("@exam Midterm", "@exam");
        let fixture = fixture::notebook(&unnamed);
        let exam = draw_for(&fixture, "");
        assert_eq!(
            draw_paper(fixture.analysis(), &exam, closed()),
            Err(DrawRefusal::UnnamedExam)
        );
    }

    #[test]
    fn the_instructors_paper_comes_first_and_keeps_its_problems() {
        let notes = big(4, 3)
            + "=== sheet.porism\n@paper Review sheet\n  for: Midterm\n  by: Instructor\n\n"
            + "@problem R1\n  topic: 1.1\n  Decide R1.\n\n@problem R2\n  topic: 1.1\n  Decide R2.\n";
        let fixture = fixture::notebook(&notes);
        let exam = draw_for(&fixture, "midterm");
        let offered = offered_first(fixture.analysis(), &exam).expect("the review sheet");
        assert_eq!(offered.at.title(), "Review sheet");
        let all = DrawRequest {
            questions: Some(100),
            ..closed()
        };
        let paper = drawn(&notes, all).expect("a paper");
        assert!(!names(&paper).contains(&"R1".to_owned()));
        assert_eq!(
            paper.shortfalls.last().map(String::as_str),
            Some("The problems of Review sheet were kept back: sit that paper first, whole.")
        );
        // Nothing is kept for an exam that is past.
        let past = notes.replace("@exam Midterm\n", "@exam Midterm\n  on: 2027-02-14\n");
        let paper = drawn(&past, all).expect("a paper");
        assert!(names(&paper).contains(&"R1".to_owned()));
        // Half of its problems tried on one day: it was sat, and is the last paper.
        let sat = notes.replace(
            "Decide R1.\n",
            "Decide R1.\n  tried: 2027-02-13 closed mock right\n",
        );
        let fixture = fixture::notebook(&sat);
        let exam = draw_for(&fixture, "midterm");
        assert!(offered_first(fixture.analysis(), &exam).is_none());
        let paper = draw_paper(fixture.analysis(), &exam, all).expect("a paper");
        assert!(names(&paper).contains(&"R2".to_owned()));
    }

    #[test]
    fn a_paper_in_a_folder_of_several_courses_names_its_own() {
        let notes = big(1, 4) + "=== other.porism\n@course Geometry\n";
        let notes = notes.replace("=== notes.porism\n", "");
        let paper = drawn(&notes, closed()).expect("a paper");
        assert!(
            paper
                .text
                .contains("\n\n@course Logic\n\n@paper Midterm, mock test 1\n"),
            "{}",
            paper.text
        );
        let paper = drawn(&big(1, 4), closed()).expect("a paper");
        assert!(!paper.text.contains("@course"));
    }

    #[test]
    fn theorems_are_asked_for_by_title_where_there_is_nothing_else() {
        let notes = "=== c.porism\n@course Analysis\n@exam Midterm\n  length: 60 min\n@topic 1 Limits\n\n\
            @theorem Squeeze\n  If $a \\le b \\le c$, then so are the limits.\n  proof: by hand\n\n\
            @definition Limit\n  A number $L$ with …\n\n@theorem\n  Limits are unique.\n";
        let paper = drawn(notes, closed()).expect("a paper");
        let asked: Vec<&str> = paper
            .text
            .lines()
            .filter(|line| line.starts_with("  "))
            .skip(6)
            .collect();
        let mut asked: Vec<&str> = asked
            .into_iter()
            .filter(|line| !line.starts_with("  mark"))
            .collect();
        asked.sort_unstable();
        assert_eq!(
            asked,
            [
                "  Prove: Limits are unique.",
                "  State and prove: Squeeze",
                "  State the definition: Limit",
                "  of: Limit",
                "  of: Squeeze",
            ]
        );
        assert!(!paper.text.contains("length") && !paper.text.contains("mine"));
    }

    #[test]
    fn the_paper_has_the_line_ends_of_the_exams_file() {
        let notes = big(1, 4).replace("=== notes.porism\n", "");
        let mut workspace = crate::Workspace::new(fixture::now());
        let text = notes
            .replace("=== course.porism\n", "")
            .replace('\n', "\r\n");
        workspace.set_text(&FilePath::new("c.porism"), &text);
        let found = exams(workspace.analysis(), &NameKey::new("Logic"));
        let paper = draw_paper(workspace.analysis(), &found[0], closed()).expect("a paper");
        assert_eq!(
            paper.text.matches('\n').count(),
            paper.text.matches("\r\n").count()
        );
        assert!(paper.text.ends_with("  mark: \r\n"));
    }

    #[test]
    fn reasons_are_said_on_request() {
        let paper = drawn(
            COURSE,
            DrawRequest {
                seed: Some(4711),
                ..closed()
            },
        )
        .expect("a paper");
        let why: Vec<&str> = paper
            .questions
            .iter()
            .map(|question| question.why.as_str())
            .collect();
        assert_eq!(
            why,
            [
                "1.2 Determinants: expand along a row was never tried (about 0.45); a fresh problem",
                "1.1 Systems: elimination is its only kind with problems (0.45); done before, with other numbers now",
            ]
        );
    }

    #[test]
    fn every_question_finds_its_source_when_the_marks_are_recorded() {
        let notes = big(3, 3)
            .replace("@problem 1.1.1.1", "@problem")
            .replace("@problem 1.2.2.2", "@problem Sets, maps");
        let paper = drawn(
            &notes,
            DrawRequest {
                questions: Some(27),
                ..closed()
            },
        )
        .expect("a paper");
        assert_eq!(paper.questions.len(), 27);
        assert_eq!(names(&paper).len(), 25);
        let marked = paper.text.replace("  mark: \n", "  mark: right\n");
        let fixture = fixture::notebook(&format!("{notes}=== {}\n{marked}", paper.path));
        let notebook = &fixture.analysis().notebook;
        let found = papers(notebook, &NameKey::new("Logic")).remove(0);
        let refuse = crate::record_marks::Unmarked::Refuse;
        let marks = crate::record_marks::record_marks(fixture.analysis(), &found, refuse);
        let marks = marks.expect("all are marked");
        for (question, drawn) in marks.questions.iter().zip(&paper.questions) {
            assert_eq!(
                question.fate,
                crate::record_marks::Fate::Written(drawn.source.clone())
            );
        }
    }

    #[test]
    fn a_drawn_paper_has_nothing_amiss() {
        for notes in [COURSE.to_owned(), big(5, 4)] {
            let paper = drawn(&notes, closed()).expect("a paper");
            let fixture = fixture::notebook(&format!("{notes}=== {}\n{}", paper.path, paper.text));
            let found = crate::diagnostics::check_all(fixture.analysis()).remove(&paper.path);
            let found = found.unwrap_or_default();
            let said: Vec<&str> = found
                .iter()
                .map(|finding| finding.message.as_str())
                .collect();
            assert_eq!(said, Vec::<&str>::new());
        }
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig::with_cases(96))]

        /// Whatever the problems look like, the paper that is drawn from them reads as a paper of as
        /// many questions, and every question finds a problem that asks the same.
        #[test]
        fn any_problems_can_be_drawn_and_found_again(
            problems in proptest::collection::vec(
                (
                    proptest::sample::select(vec![
                        "", "1", "2", "1.2", "a, b", "@c", "$x$ of % d", "$$ e", "mark: f", "1  2",
                    ]),
                    proptest::sample::select(vec!["problem", "problem", "theorem", "definition"]),
                    proptest::collection::vec(
                        proptest::sample::select(vec![
                            "  Find $x$.", "\tSolve it. % by hand", "      deeper", "", "  pattern: a, b",
                            "  answer: $1$", "  % note", "  hint: look,", "    and see", "  old: a word",
                            "  $$ x", "    = y $$", "  of: z", "  mark: right", "  hints: no", "  \\% @x # y",
                            "  points: 3", "  tried: 2027-02-01 closed right", "  $",
                        ]),
                        0..7,
                    ),
                ),
                1..14,
            ),
            seed in 0u32..1000,
            theorems: bool,
            crlf: bool,
        ) {
            let mut notes = String::from("@course Logic\n\n@exam Midterm\n\n@topic 1 Sets\n\n");
            for (title, kind, body) in &problems {
                notes.push_str(&format!("@{kind} {title}\n{}\n\n", body.join("\n")));
            }
            if crlf {
                notes = notes.replace('\n', "\r\n");
            }
            let path = FilePath::new("n.porism");
            let mut workspace = crate::Workspace::new(fixture::now());
            workspace.set_text(&path, &notes);
            let analysis = workspace.analysis().clone();
            let exam = exams(&analysis, &NameKey::new("Logic")).remove(0);
            let kind = if theorems { Kind::Theorems } else { Kind::Problems };
            let request = DrawRequest { kind: Some(kind), seed: Some(seed), ..closed() };
            let Ok(paper) = draw_paper(&analysis, &exam, request) else { return Ok(()) };
            let again = draw_paper(&analysis, &exam, request);
            proptest::prop_assert_eq!(Ok(&paper), again.as_ref());

            workspace.set_text(&paper.path, &paper.text);
            let found = papers(&workspace.analysis().notebook, &exam.course).remove(0);
            proptest::prop_assert_eq!(found.items.len(), paper.questions.len());
            let sources = Sources::of(&workspace.analysis().notebook, &exam.course);
            for (item, drawn) in found.items.iter().zip(&paper.questions) {
                let of = analysis.notebook.block(&drawn.source).expect("it is there");
                let text = question_text(&of).expect("it was asked");
                let source = sources.find(item);
                proptest::prop_assert!(source.is_ok(), "{}\n{}", source.expect_err("none"), paper.text);
                let source = source.expect("a source");
                proptest::prop_assert_eq!(question_text(&source), Some(text.clone()), "{}", paper.text);
                let asked = item.statement().replace(['\r', '\n'], " ");
                let words = |text: &str| text.split_whitespace().collect::<Vec<_>>().join(" ");
                proptest::prop_assert_eq!(words(&asked), words(&text));
                let keys: Vec<Key> = item.block.fields.iter().map(|field| field.key).collect();
                let allowed = [Key::Of, Key::Points, Key::Mine, Key::Mark];
                proptest::prop_assert!(keys.iter().all(|key| allowed.contains(key)));
                let blank = item.block.field(Key::Mark).map(|field| field.value == notes::value::Value::Empty);
                proptest::prop_assert_eq!(blank, Some(true), "{}", paper.text);
            }
        }
    }
}
