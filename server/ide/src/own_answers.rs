//! Marking the student's own answers: what stands behind `mine:` is held against the question
//! itself, so that every right form of an answer is right; where that cannot tell, against the key.

use math::problem::Part;
use math::verdict::{Verdict, verify};
use notes::{Key, Located};

use crate::Analysis;
use crate::diagnostics::answer_of;
use crate::verify::objection;
use crate::wording::Wording;

/// How an answer was marked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OwnMark {
    /// It is right.
    Right,
    /// It is wrong, and why.
    Wrong(String),
    /// It has to be marked by hand, and why.
    Unclear(String),
}

/// The mark of a question's own answer; `None` where there is no answer. `source` is the problem
/// that it was drawn from, with the key.
pub fn own_mark(
    analysis: &Analysis,
    question: &Located<'_>,
    source: Option<&Located<'_>>,
) -> Option<OwnMark> {
    let field = question.block.field(Key::Mine)?;
    if field.value_span.is_empty() {
        return None;
    }
    let mine = Wording::of_field(question, field);
    // An answer is a formula, even where its dollar signs were left out.
    let mine = match mine.has_formula() {
        true => mine,
        false => Wording::of_text(&question.text(field.value_span)),
    };
    let statement = Wording::of_statement(question);
    let mathematics = &analysis.mathematics;
    let verdict = mathematics.verdict(&statement, &mine);
    let key = source.and_then(answer_of);
    let asks_the_same = source.is_some_and(|at| same(&Wording::of_statement(at), &statement));
    let key = key.filter(|_| asks_the_same);
    Some(match verdict {
        Verdict::Holds => OwnMark::Right,
        Verdict::Fails { .. } => {
            let is_key_wrong = key.as_ref().is_some_and(|key| {
                let verdict = mathematics.verdict(&statement, key);
                matches!(verdict, Verdict::Fails { .. })
            });
            match is_key_wrong {
                true => OwnMark::Unclear("the key does not hold either".to_owned()),
                false => OwnMark::Wrong(objection(&verdict).unwrap_or_default()),
            }
        }
        Verdict::CannotTell { reason } => match key {
            Some(key) if agrees(&key, &mine) => OwnMark::Right,
            _ => OwnMark::Unclear(reason),
        },
    })
}

/// Whether two texts are the same but for spacing and dollar signs.
fn same(one: &Wording, other: &Wording) -> bool {
    let joined = |wording: &Wording| {
        let text = wording.text(false).replace('$', "");
        text.split_whitespace().collect::<Vec<_>>().join(" ")
    };
    joined(one) == joined(other)
}

/// Whether an answer is the key in the same or another form.
fn agrees(key: &Wording, mine: &Wording) -> bool {
    if same(key, mine) {
        return true;
    }
    let ([Part::Tex(key)], [Part::Tex(mine)]) = (&key.parts()[..], &mine.parts()[..]) else {
        return false;
    };
    // What the key says, as the value of a letter that no key has.
    let valued = |tex: &str| format!("\\Xi = {tex}");
    let (asked, said) = (valued(key), valued(mine));
    let holds = |asked: &str, said: &str| {
        let statement = [Part::Words("Solve "), Part::Tex(asked)];
        verify(&statement, &[Part::Tex(said)]) == Verdict::Holds
    };
    match key.contains('=') {
        true => holds(key, mine),
        false => holds(&asked, &said),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Marks the first question of the notes, drawn from the first problem.
    fn check(text: &str) -> Option<OwnMark> {
        let fixture = fixture::notebook(text);
        let analysis = fixture.analysis();
        let path = notes::FilePath::new("notes.porism");
        let of = |kind| {
            let mut blocks = analysis.notebook.blocks_in(&path);
            blocks.find(|at| at.block.kind == Some(kind))
        };
        let question = of(notes::BlockKind::Question).expect("a question");
        own_mark(analysis, &question, of(notes::BlockKind::Problem).as_ref())
    }

    #[test]
    fn an_answer_is_held_against_the_question() {
        let question = |mine: &str| {
            format!("@paper P\n@question 1\n  Solve $x^2 = 5x - 6$.\n  mine: {mine}\n")
        };
        assert_eq!(check(&question("$x = 3, x = 2$")), Some(OwnMark::Right));
        assert_eq!(check(&question("x = 3, x = 2")), Some(OwnMark::Right));
        let wrong = check(&question("x = 3"));
        assert!(matches!(wrong, Some(OwnMark::Wrong(_))), "{wrong:?}");
        assert_eq!(check(&question("")), None);
    }

    #[test]
    fn what_cannot_be_worked_out_is_held_against_the_key() {
        let notes = |key: &str, mine: &str| {
            format!(
                "@problem 1\n  Say which number it is.\n  answer: {key}\n\n@paper P\n@question 1\n  of: 1\n  \
                 Say which number it is.\n  mine: {mine}\n"
            )
        };
        assert_eq!(
            check(&notes("$\\frac{1}{2}$", "$0.5$")),
            Some(OwnMark::Right)
        );
        assert_eq!(
            check(&notes("the first", "the  first")),
            Some(OwnMark::Right)
        );
        let unclear = check(&notes("$\\frac{1}{2}$", "$0.6$"));
        assert!(matches!(unclear, Some(OwnMark::Unclear(_))), "{unclear:?}");
    }

    #[test]
    fn a_wrong_key_marks_nobody() {
        let found = check(
            "@problem 1\n  Solve $x = 2$.\n  answer: $x = 3$\n\n@paper P\n@question 1\n  of: 1\n  \
             Solve $x = 2$.\n  mine: $x = 4$\n",
        );
        assert!(matches!(found, Some(OwnMark::Unclear(_))), "{found:?}");
    }
}
