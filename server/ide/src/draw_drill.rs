//! Drawing a drill sheet: questions on patterns or topics of the student's choice, blocked or mixed,
//! into a new file of the notes.
//!
//! The sheet is a paper like a mock test, but for no exam and without a clock: its marks count as
//! practice.

use std::collections::BTreeSet;

use study::PatternId;
use study::drill::{Arrangement, Request, drill};
use study::selection::Candidate;

use crate::Analysis;
use crate::drawn_paper::DrawnPaper;
use crate::question_pool::{Purpose, confusable};
use crate::sheet::{Drawing, NoSheet};
use crate::sheet_scope::Scope;
use crate::standing::{CourseStanding, PatternKey, day};

/// Questions of a drill sheet for each pattern when nobody says how many: in one session nine
/// problems of a kind taught no more than three (Rohrer and Taylor 2006).
const FROM_EACH_PATTERN: usize = 3;
/// The fewest and the most questions when nobody says how many (common practice, no published
/// source).
const USUAL: (usize, usize) = (5, 20);

/// What to draw.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DrillRequest {
    /// In which order to ask.
    pub arrangement: Arrangement,
    /// How many questions; `None` for three of each pattern, 5 to 20 in all.
    pub questions: Option<u32>,
    /// Another seed gives another sheet; `None` for one that follows from the date, the patterns
    /// and the sheets that are there already.
    pub seed: Option<u32>,
}

/// Draws a drill sheet. Same notes, date and request: same bytes.
pub fn draw_drill(
    analysis: &Analysis,
    scope: &Scope,
    request: DrillRequest,
) -> Result<DrawnPaper, NoSheet> {
    let sheet = Drawing::new(analysis, scope, Purpose::Solving, request.seed);
    let standing = analysis.standings.course(&scope.course, analysis.today());
    let mut pool = sheet.pool(&standing);
    let mut candidates = pool.candidates(scope.blocks(analysis));
    sheet.check(&pool, candidates.len(), request.questions)?;
    let patterns = wanted(scope, &standing, &candidates);
    let usual = (FROM_EACH_PATTERN * patterns.len()).clamp(USUAL.0, USUAL.1);
    let count = request.questions.unwrap_or(usual as u32);
    let confusable = confusable(analysis, &scope.course, &standing);
    let drawn = sheet.draw(&pool, &mut candidates, |candidates| {
        drill(
            candidates,
            &patterns,
            request.arrangement,
            &standing.standing,
            &confusable,
            Request {
                count,
                seed: sheet.seed.into(),
                day: day(analysis.today()),
            },
        )
    });
    Ok(sheet.finish(&pool, &standing, drawn, request.questions.is_some()))
}

/// The patterns of a sheet: those that were named, and those of the topics' problems.
fn wanted(
    scope: &Scope,
    standing: &CourseStanding,
    candidates: &[Candidate],
) -> BTreeSet<PatternId> {
    let named = scope.patterns.iter();
    let named = named.filter_map(|name| standing.pattern_id(&PatternKey::Named(name.clone())));
    let of_topics = candidates
        .iter()
        .filter(|_| scope.patterns.is_empty() || !scope.topics.is_empty())
        .flat_map(|candidate| candidate.patterns.iter().copied());
    named.chain(of_topics).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::sheet::without_preface;

    const NOTES: &str = "\
=== waves/course.porism
@course Waves
=== waves/1.porism
@topic 1.1 Separable equations

@pattern separable
  confused with: linear

@pattern linear

@pattern exact

@problem 1
  pattern: separable
  points: 3
  Decide one.
  answer: yes

@problem 2
  pattern: separable
  Decide two.
  tried: 2027-02-10 closed right

@problem 3
  pattern: linear
  Decide three.
  tried: 2027-02-10 closed wrong

@problem
  pattern: linear
  Decide four.
";

    fn drawn(
        patterns: &[&str],
        topics: &[&str],
        arrangement: Arrangement,
        questions: Option<u32>,
    ) -> Result<DrawnPaper, String> {
        let fixture = fixture::notebook(NOTES);
        let owned = |names: &[&str]| {
            let names = names.iter();
            names.map(|name| (*name).to_owned()).collect::<Vec<_>>()
        };
        let scope = Scope::find(fixture.analysis(), None, &owned(patterns), &owned(topics));
        let request = DrillRequest {
            arrangement,
            questions,
            seed: Some(7),
        };
        let scope = scope.map_err(|why| why.to_string())?;
        let sheet = draw_drill(fixture.analysis(), &scope, request);
        let again = draw_drill(fixture.analysis(), &scope, request);
        assert_eq!(sheet, again, "the same notes give the same sheet");
        sheet.map_err(|why| why.to_string())
    }

    #[test]
    fn a_sheet_asks_what_is_fresh_first() {
        let sheet = drawn(&["separable"], &[], Arrangement::Blocked, None).expect("a sheet");
        assert_eq!(
            sheet.path.as_str(),
            "waves/papers/drill-separable-2027-02-15-1.porism"
        );
        assert_eq!(
            without_preface(&sheet.text),
            "\
@paper separable, drill sheet 1
  pattern: separable
  drawn: 2027-02-15
  seed: 7
  notes: closed

@question 1
  of: 1
  points: 3
  Decide one.

  mine:
  mark:

@question 2
  of: 2
  Decide two.

  mine:
  mark:
"
        );
        let why: Vec<&str> = sheet.questions.iter().map(|q| q.why.as_str()).collect();
        assert_eq!(
            why,
            [
                "separable (0.46); a fresh problem",
                "separable (0.46); known already, nothing fresher is left",
            ]
        );
        // That a sheet of the usual length was not filled is no news; that it is short is.
        assert_eq!(
            sheet.shortfalls,
            ["1 question is known already: nothing fresher is left. More problems would help."]
        );
    }

    #[test]
    fn patterns_are_blocked_or_mixed() {
        let asked = |arrangement| {
            let sheet = drawn(&["separable, linear"], &[], arrangement, None).expect("a sheet");
            let lines = sheet
                .text
                .lines()
                .filter(|line| line.starts_with("  Decide"));
            lines.map(|line| line.trim().to_owned()).collect::<Vec<_>>()
        };
        let blocked = asked(Arrangement::Blocked);
        assert_eq!(
            blocked,
            [
                "Decide four.",
                "Decide three.",
                "Decide one.",
                "Decide two."
            ]
        );
        let mixed = asked(Arrangement::Mixed);
        assert_ne!(mixed, blocked);
        let is_linear = |text: &String| text.contains("three") || text.contains("four");
        let linear: Vec<bool> = mixed.iter().map(is_linear).collect();
        assert!(
            linear.windows(2).all(|pair| pair[0] != pair[1]),
            "{mixed:?}"
        );
    }

    #[test]
    fn a_topic_takes_all_its_kinds() {
        let sheet = drawn(&[], &["1.1"], Arrangement::Mixed, Some(9)).expect("a sheet");
        assert_eq!(sheet.questions.len(), 4);
        assert_eq!(sheet.title, "1.1 Separable equations, drill sheet 1");
        assert_eq!(
            sheet.shortfalls[0],
            "4 questions instead of 9: the notes hold no more that may be asked together."
        );
        assert!(sheet.text.contains("  topic: 1.1\n"), "{}", sheet.text);
    }

    #[test]
    fn what_is_known_is_asked_with_other_numbers() {
        let fixture = fixture::notebook(
            "@topic 1.1 Lines\n\n@pattern linear\n\n@problem 1\n  pattern: linear\n  Solve $2x + 3 = 9$.\n  \
             answer: $x = 3$\n  tried: 2027-02-10 closed right\n\n@problem 2\n  pattern: linear\n  \
             Prove that $x = x$.\n  tried: 2027-02-10 closed right\n\n@problem\n  pattern: linear\n  \
             Solve $5x + 1 = 3x - 7$.\n  tried: 2027-02-10 closed right\n",
        );
        let analysis = fixture.analysis();
        let names = ["linear".to_owned()];
        let scope = Scope::find(analysis, None, &names, &[]).expect("a scope");
        let request = DrillRequest {
            arrangement: Arrangement::Blocked,
            questions: Some(5),
            seed: Some(7),
        };
        let sheet = draw_drill(analysis, &scope, request).expect("a sheet");
        assert_eq!(
            sheet,
            draw_drill(analysis, &scope, request).expect("the same")
        );
        let fresh: Vec<_> = sheet
            .questions
            .iter()
            .filter(|q| q.seed.is_some())
            .collect();
        // The others have no name to be found by, or no numbers that can be changed.
        assert_eq!(fresh.len(), 5, "{}", sheet.text);
        let mut texts: Vec<&str> = fresh.iter().map(|q| q.text.as_str()).collect();
        texts.push("Solve $2x + 3 = 9$.");
        texts.sort_unstable();
        texts.dedup();
        assert_eq!(texts.len(), 6, "{texts:?}");
        for question in fresh {
            assert!(
                question.text.starts_with("Solve $") && question.why.ends_with("other numbers now"),
                "{question:?}"
            );
            let seed = question.seed.expect("it has one");
            assert!(
                sheet
                    .text
                    .contains(&format!("  of: 1\n  seed: {seed}\n  {}\n", question.text)),
                "{}",
                sheet.text
            );
        }
    }

    #[test]
    fn what_cannot_be_drawn_is_said() {
        let refused = |patterns: &[&str], questions| {
            drawn(patterns, &[], Arrangement::Mixed, questions).expect_err("no sheet")
        };
        assert_eq!(
            refused(&["exact"], None),
            "There is no problem to ask of exact yet: mark some with @problem, and say their kind \
             with pattern:."
        );
        assert_eq!(
            refused(&["linear"], Some(0)),
            "A sheet of 0 questions: ask for at least one."
        );
        let some = drawn(&["linear, exact"], &[], Arrangement::Mixed, None).expect("a sheet");
        assert!(
            some.shortfalls
                .contains(&"exact has no problem to ask.".to_owned()),
            "{:?}",
            some.shortfalls
        );
    }
}
