//! A problem of the notes with other numbers: its words as they stand, its formulas changed, and a key
//! that was verified.

use std::collections::BTreeSet;

use notes::{BlockKind, Located, NameKey, Place, ShapeKey};

use crate::Analysis;
use crate::kinds::Catalogue;
use crate::question_source::question_text;
use crate::wording::{Wording, with_formulas};

/// A problem with other numbers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct FreshNumbers {
    /// What it asks, in lines joined by line feeds.
    pub(crate) text: String,
    /// Its key.
    pub(crate) answer: String,
    /// The number that it was drawn with.
    pub(crate) seed: u32,
}

/// So many seeds are tried before it is said that all is taken.
const SEEDS_TRIED: u32 = 12;

/// Whether a problem may have siblings, as far as can be told at a glance: it is a problem with a
/// formula that is understood.
pub(crate) fn may_vary(at: &Located<'_>) -> bool {
    let reading = at.block.reading.as_ref();
    at.block.kind == Some(BlockKind::Problem)
        && reading.is_some_and(|reading| reading.fingerprint.is_some())
        && formulas(at).next().is_some()
        && formulas(at).all(|formula| formula.closed)
}

fn formulas<'a>(at: &Located<'a>) -> impl Iterator<Item = &'a notes::Formula> {
    let all = at.entry.unit.formulas.iter();
    all.filter(|formula| formula.place == Place::Statement)
}

/// A problem with other numbers than its own and than those of `taken` (see [`numbers_of`]), drawn
/// with `seed` or one of the next. The error says why there is none, in one sentence without its
/// final stop.
pub(crate) fn fresh_numbers(
    analysis: &Analysis,
    at: &Located<'_>,
    seed: u32,
    taken: &BTreeSet<String>,
) -> Result<FreshNumbers, String> {
    let text = question_text(at).filter(|_| may_vary(at));
    let text = text.ok_or("there is no formula in it that is understood")?;
    let wording = Wording::of_text(&text);
    let course = analysis.notebook.course_of(at.path, at.entry);
    let catalogue = Catalogue::of_course(&analysis.notebook, &course);
    let kinds = |wording: &Wording| {
        let problem = math::problem::read(&wording.parts());
        let kinds = catalogue.kinds(&analysis.mathematics, wording, &problem);
        kinds.into_iter().map(|kind| kind.pattern.name).collect()
    };
    let own: BTreeSet<NameKey> = kinds(&wording);
    let mut is_other_kind = false;
    for seed in (0..SEEDS_TRIED).map(|next| seed.wrapping_add(next)) {
        let siblings = analysis.mathematics.sibling(&wording, seed.into());
        let Some(sibling) = siblings.found.first() else {
            let reason = siblings.reason.clone();
            return Err(reason.unwrap_or_else(|| "none was found".to_owned()));
        };
        let text = with_formulas(&text, &sibling.statement);
        if taken.contains(&bare(&text)) {
            continue;
        }
        // What the student's own shapes tell apart, too, must stay.
        is_other_kind = kinds(&Wording::of_text(&text)) != own;
        if !is_other_kind {
            return Ok(FreshNumbers {
                text,
                answer: Wording::of_pieces(&sibling.answer).text(false),
                seed,
            });
        }
    }
    Err(match is_other_kind {
        true => "with other numbers it becomes a problem of another kind".to_owned(),
        false => "those that can be made are in the notes already".to_owned(),
    })
}

/// The problems of the course that are this one with other numbers, and itself, each by its text as
/// [`fresh_numbers`] compares it.
pub(crate) fn numbers_of(
    analysis: &Analysis,
    course: &NameKey,
    at: &Located<'_>,
) -> BTreeSet<String> {
    let reading = at.block.reading.as_ref();
    let fingerprint = reading.and_then(|reading| reading.fingerprint);
    let key = fingerprint.map(|fingerprint| ShapeKey {
        course: course.clone(),
        fingerprint,
    });
    let alike = key.iter().flat_map(|key| analysis.notebook.same_shape(key));
    let texts = alike.filter_map(|other| question_text(&other));
    texts
        .chain(question_text(at))
        .map(|text| bare(&text))
        .collect()
}

/// A text without its blanks and the signs around formulas.
pub(crate) fn bare(text: &str) -> String {
    let signs = |c: char| c == '$' || c.is_whitespace();
    text.chars().filter(|c| !signs(*c)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::verify::{Verdict, verify};

    /// The versions of the first problem of the notes, drawn with some seeds.
    fn check(text: &str, taken: &BTreeSet<String>) -> Vec<Result<FreshNumbers, String>> {
        let fixture = fixture::notebook(text);
        let analysis = fixture.analysis();
        let course = NameKey::default();
        let mut problems = analysis.notebook.of_kind(&course, BlockKind::Problem);
        let at = problems.next().expect("a problem");
        let of_seed = |seed| fresh_numbers(analysis, &at, seed, taken);
        let found: Vec<_> = (0..8).map(of_seed).collect();
        assert_eq!(found, (0..8).map(of_seed).collect::<Vec<_>>());
        for fresh in found.iter().flatten() {
            let statement = crate::classify::Statement {
                text: &fresh.text,
                prompt: "",
            };
            let verdict = verify(&analysis.mathematics, statement, "", &fresh.answer);
            assert_eq!(verdict, Verdict::Holds, "{fresh:?}");
        }
        found
    }

    #[test]
    fn numbers_that_are_taken_are_not_given_again() {
        let notes = "@problem 1\n  Solve $2x + 3 = 9$, please.\n";
        let first = check(notes, &BTreeSet::new());
        let own = bare("Solve $2x + 3 = 9$, please.");
        let mut taken = BTreeSet::new();
        for fresh in first.iter().flatten() {
            assert!(fresh.text.ends_with("$, please."), "{fresh:?}");
            assert_ne!(bare(&fresh.text), own);
            taken.insert(bare(&fresh.text));
        }
        assert_eq!(first.iter().flatten().count(), 8);
        for fresh in check(notes, &taken).iter().flatten() {
            assert!(!taken.contains(&bare(&fresh.text)), "{fresh:?}");
        }
    }

    #[test]
    fn the_kind_by_the_students_own_shapes_stays() {
        let notes = "@pattern even\n  shape: $a x = b$ where a, b are numbers; b > 100\n\n\
            @problem 1\n  Solve $3x = 105$.\n";
        let found = check(notes, &BTreeSet::new());
        assert!(found.iter().any(Result::is_ok), "{found:?}");
        for fresh in found.iter().flatten() {
            let right = fresh.text.rsplit_once("= ").expect("an equation").1;
            let right: i64 = right.trim_end_matches("$.").parse().expect("a number");
            assert!(right > 100, "{fresh:?}");
        }
    }

    #[test]
    fn why_there_are_none_is_said() {
        for (statement, reason) in [
            ("Prove that $1 < 2$ by hand.", None),
            (
                "Say why.",
                Some("there is no formula in it that is understood"),
            ),
        ] {
            let found = check(&format!("@problem 1\n  {statement}\n"), &BTreeSet::new());
            for none in found {
                let said = none.expect_err("no numbers");
                assert!(reason.is_none_or(|reason| reason == said), "{said}");
            }
        }
    }
}
