//! Drawing a spotting round: problems of which the student says only of what kind they are, into a
//! new file of the notes.
//!
//! Recognising the kind decides how to begin; a round practises that alone. Recording
//! the round marks what is written behind `pattern:` and gives each problem a `spotted:` line.

use study::drill::{Request, spotting_round};

use crate::Analysis;
use crate::drawn_paper::DrawnPaper;
use crate::question_pool::{Purpose, confusable};
use crate::sheet::{Drawing, NoSheet};
use crate::sheet_scope::Scope;
use crate::standing::day;
use notes::{BlockKind, Key};

/// How many questions a round has when nobody says (common practice, no published source).
const USUAL: u32 = 12;

/// What to draw.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct SpottingRequest {
    /// How many questions; `None` for twelve.
    pub questions: Option<u32>,
    /// Another seed gives another round; `None` for one that follows from the date, the patterns
    /// and the rounds that are there already.
    pub seed: Option<u32>,
}

/// Draws a spotting round. Same notes, date and request: same bytes.
pub fn draw_spotting(
    analysis: &Analysis,
    scope: &Scope,
    request: SpottingRequest,
) -> Result<DrawnPaper, NoSheet> {
    let sheet = Drawing::new(analysis, scope, Purpose::Spotting, request.seed);
    let standing = analysis.standings.course(&scope.course, analysis.today());
    let mut pool = sheet.pool(&standing);
    let mut blocks = scope.blocks(analysis);
    blocks.retain(|at| {
        at.block.kind == Some(BlockKind::Problem) && !at.block.names(Key::Pattern).is_empty()
    });
    let mut candidates = pool.candidates(blocks);
    sheet.check(&pool, candidates.len(), request.questions)?;
    let confusable = confusable(analysis, &scope.course, &standing);
    let round = sheet.draw(&pool, &mut candidates, |candidates| {
        spotting_round(
            candidates,
            &standing.standing,
            &confusable,
            Request {
                count: request.questions.unwrap_or(USUAL),
                seed: sheet.seed.into(),
                day: day(analysis.today()),
            },
        )
    });
    Ok(sheet.finish(&pool, &standing, round, request.questions.is_some()))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::sheet::without_preface;

    const NOTES: &str = "\
@topic 1.1 Equations

@pattern separable
  confused with: linear

@pattern linear

@problem 1
  pattern: separable
  points: 3
  hint: part them
  Decide one.
  answer: yes

@problem 2
  pattern: linear
  Decide two.
  spotted: 2027-02-10 right

@problem 3
  Decide three.

@theorem Bound
  pattern: linear
  There is one.
";

    fn drawn(
        notes: &str,
        topics: &[String],
        request: SpottingRequest,
    ) -> Result<DrawnPaper, String> {
        let fixture = fixture::notebook(notes);
        let scope = Scope::find(fixture.analysis(), None, &[], topics);
        let scope = scope.map_err(|why| why.to_string())?;
        draw_spotting(fixture.analysis(), &scope, request).map_err(|why| why.to_string())
    }

    #[test]
    fn a_round_asks_for_the_kind_and_gives_nothing_away() {
        let request = SpottingRequest {
            questions: None,
            seed: Some(3),
        };
        let round = drawn(NOTES, &["1.1".to_owned()], request).expect("a round");
        assert_eq!(
            round.path.as_str(),
            "papers/spotting-1-1-equations-2027-02-15-1.porism"
        );
        let mut blocks: Vec<String> = without_preface(&round.text)
            .split("@question")
            .map(|part| part.trim_start_matches([' ', '1', '2']).to_owned())
            .collect();
        blocks.sort();
        assert_eq!(
            blocks,
            [
                "\n  of: 1\n  Decide one.\n\n  pattern:\n\n",
                "\n  of: 2\n  Decide two.\n\n  pattern:\n",
                "@paper 1.1 Equations, spotting round 1\n  topic: 1.1\n  drawn: 2027-02-15\n  seed: 3\n\n",
            ]
        );
        assert_eq!(round.shortfalls, Vec::<String>::new());
    }

    #[test]
    fn what_cannot_be_drawn_is_said() {
        let none = drawn("@problem 1\n  Decide.\n", &[], SpottingRequest::default());
        assert_eq!(
            none.expect_err("no round"),
            "There is no problem of these notes that says its kind: write pattern: below its problems."
        );
        let spotted = NOTES.replace("answer: yes", "spotted: 2027-02-11 wrong");
        let round = drawn(&spotted, &[], SpottingRequest::default()).expect("a round");
        assert_eq!(
            round.shortfalls,
            ["All 2 questions were spotted before: more problems would help."]
        );
    }
}
