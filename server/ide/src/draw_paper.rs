//! Drawing a mock test for an exam into a new file of the notebook, or a round of theorems.
//!
//! The paper is a file in the notes' own format, so that every feature works in it. It asks the
//! problems word for word and shows no answer, no hint and no pattern: recognising the kind is a
//! part of the exam. What could not be had is said, never passed over.
//!
//! A question names its source in `of:`. A problem without a name, or with one that cannot be
//! listed, is found by its text instead: see [`crate::question_source`].

mod page;
mod pool;
mod reasons;

use std::collections::BTreeSet;
use std::fmt;

use chrono::NaiveDate;
use notes::value::NotesUse;
use notes::{BlockKind, FilePath, NameKey, NamedThing, UnitId};
use study::paper::{Kind, Request, Shortfall, Spread, draw};

use crate::edit::NotebookEdit;
use crate::exams::Exam;
use crate::papers::{Paper, papers, papers_for};
use crate::standing::day;
use crate::{Analysis, words};
use page::{Heading, length, text_of};
use pool::{Asked, Pool, confusable};
use reasons::Say;

/// The most questions of a mock test when the exam says how many it has (common practice, no
/// published source).
const MOST_BY_DEFAULT: u32 = 25;
/// The longest part of a file name that is taken from an exam's title, in characters.
const SLUG_LENGTH: usize = 40;
/// Seeds that nobody chose are below this, short enough to type again.
const SEEDS: u64 = 1_000_000;

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

/// A drawn paper.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnPaper {
    /// The new file; there is none of this name in the notebook.
    pub path: FilePath,
    /// Its text.
    pub text: String,
    /// The paper's title.
    pub title: String,
    /// The seed it was drawn with.
    pub seed: u32,
    /// Its questions, in order.
    pub questions: Vec<DrawnQuestion>,
    /// What could not be had, each in a sentence.
    pub shortfalls: Vec<String>,
}

/// One question of a drawn paper.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnQuestion {
    /// The problem, theorem or definition it was drawn from.
    pub source: UnitId,
    /// Why it was chosen, in words.
    pub why: String,
}

impl DrawnPaper {
    /// The paper as a change of the notebook.
    pub fn edit(&self) -> NotebookEdit {
        let mut edit = NotebookEdit::default();
        edit.created.insert(self.path.clone(), self.text.clone());
        edit
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
    let (path, number) = new_path(analysis, exam, today);
    let seed = request
        .seed
        .unwrap_or_else(|| default_seed(exam, today, number));
    let standing = analysis.standings.course(&exam.course, today);
    let pool = Pool::of(analysis, exam, &standing);
    let kind = request.kind.unwrap_or_else(|| pool.default_kind());
    if !pool.has(kind) {
        return Err(DrawRefusal::NothingToAsk {
            exam: words::title(&exam.at),
            topics: exam
                .topics
                .iter()
                .map(|topic| topic_title(analysis, exam, topic))
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
    let drawn = draw(
        &pool.sections,
        &standing.standing,
        &confusable(analysis, exam, &standing),
        Request {
            kind,
            spread: match exam.points {
                None => Spread::WeakFirst,
                Some(_) => Spread::ByWeight,
            },
            count,
            seed: seed.into(),
            day: day(today),
        },
    );

    let say = Say {
        analysis,
        exam,
        standing: &standing,
        today,
    };
    let questions: Vec<(&Asked<'_>, String)> = drawn
        .questions
        .iter()
        .filter_map(|question| {
            let asked = pool.asked.get(question.problem.0 as usize)?;
            let topic = exam.topics.get(question.topic.0 as usize)?;
            Some((asked, say.why(topic, question.source, &question.reason)))
        })
        .collect();
    let mut shortfalls: Vec<String> = drawn
        .shortfalls
        .iter()
        // The exam's own number of questions is no unusual wish.
        .filter(|s| request.questions.is_some() || !matches!(s, Shortfall::UnusualCount { .. }))
        .map(|shortfall| say.shortfall(shortfall, kind))
        .collect();
    shortfalls.extend(say.stale(drawn.questions.iter().map(|question| question.source)));
    shortfalls.extend(pool.held_back_in_words());

    let title = new_title(analysis, exam, kind);
    let text = text_of(
        analysis,
        exam,
        &Heading {
            course: (analysis.notebook.course_at(&path, 0) != exam.course)
                .then(|| course_title(analysis, &exam.course)),
            title: &title,
            date: today,
            seed,
            length: length(exam, kind, questions.len() as u32, request.questions),
            notes: request.notes,
        },
        questions.iter().map(|(asked, _)| *asked),
    );
    let questions = questions
        .into_iter()
        .map(|(asked, why)| DrawnQuestion {
            source: asked.at.id(),
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

/// The first free file name, and its number.
fn new_path(analysis: &Analysis, exam: &Exam<'_>, today: NaiveDate) -> (FilePath, u32) {
    let course = course_thing(&exam.course);
    let home = analysis.notebook.definition(&course);
    let folder = home.map_or(exam.at.path.folder(), |at| at.path.folder());
    let folder = if folder.is_empty() {
        String::new()
    } else {
        format!("{folder}/")
    };
    let slug = slug(&exam.at.title());
    let mut number = 1;
    loop {
        let path = FilePath::new(&format!("{folder}papers/{slug}-{today}-{number}.porism"));
        if analysis.notebook.file(&path).is_none() {
            return (path, number);
        }
        number += 1;
    }
}

/// An exam's title as a part of a file name: its letters and digits, in lower case.
fn slug(title: &str) -> String {
    let mut slug = String::new();
    for c in title.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            slug.push(c);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug: String = slug.chars().take(SLUG_LENGTH).collect();
    match slug.trim_end_matches('-') {
        "" => "exam".to_owned(),
        slug => slug.to_owned(),
    }
}

/// A title that no paper of the course has yet.
fn new_title(analysis: &Analysis, exam: &Exam<'_>, kind: Kind) -> String {
    let what = match kind {
        Kind::Problems => "mock test",
        Kind::Theorems => "theorem round",
    };
    let titles: BTreeSet<NameKey> = papers(&analysis.notebook, &exam.course)
        .iter()
        .map(|p| p.at.block.name.clone())
        .collect();
    let drawn = papers_for(&analysis.notebook, exam)
        .iter()
        .filter(|p| !p.by_instructor)
        .count();
    let mut number = drawn + 1;
    loop {
        let title = format!("{}, {what} {number}", exam.at.title());
        if !titles.contains(&NameKey::new(&title)) {
            return title;
        }
        number += 1;
    }
}

/// The seed of a paper for which none is asked: it follows from the date, the exam and the paper's
/// number.
fn default_seed(exam: &Exam<'_>, today: NaiveDate, number: u32) -> u32 {
    let text = format!("{today}\n{}\n{}\n{number}", exam.course, exam.at.block.name);
    (fnv_1a(&text) % SEEDS) as u32
}

/// The 64-bit FNV-1a hash of Fowler, Noll and Vo: the same on every platform.
pub(crate) fn fnv_1a(text: &str) -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    text.bytes().fold(OFFSET, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(PRIME)
    })
}

fn course_thing(course: &NameKey) -> NamedThing {
    NamedThing {
        course: NameKey::default(),
        kind: BlockKind::Course,
        name: course.clone(),
    }
}

fn course_title(analysis: &Analysis, course: &NameKey) -> String {
    let definition = analysis.notebook.definition(&course_thing(course));
    definition.map_or_else(|| course.to_string(), |at| at.title())
}

fn topic_title(analysis: &Analysis, exam: &Exam<'_>, topic: &NameKey) -> String {
    let thing = NamedThing {
        course: exam.course.clone(),
        kind: BlockKind::Topic,
        name: topic.clone(),
    };
    let definition = analysis.notebook.definition(&thing);
    definition.map_or_else(|| topic.to_string(), |at| words::title(&at))
}

/// Items as a list in a sentence: `a, b and c`.
fn list(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::page::PREFACE;
    use super::*;
    use crate::exams::exams;
    use crate::fixture::{self, Fixture};
    use crate::question_source::{Sources, question_text};
    use notes::Key;

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
  points: 4
  Solve the system
  $$ x + y = 1,
       x - y = 3. $$

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
    fn fnv_1a_gives_the_published_values() {
        // Test vectors of the algorithm's authors for 64 bits (values from memory).
        assert_eq!(fnv_1a(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv_1a("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv_1a("foobar"), 0x8594_4171_f739_67e8);
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
                "1.1 Systems: elimination is its only kind with problems (0.45); last tried 9 days ago",
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
