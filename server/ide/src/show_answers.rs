//! Showing the answers of a drawn paper: each question gets the answer of the problem it was drawn
//! from, or else one that is worked out and verified, as lines that the editor can take out again.

use std::collections::BTreeSet;
use std::fmt;

use notes::{BlockKind, Key, Located};

use crate::edit::NotebookEdit;
use crate::fresh_numbers::{bare, fresh_numbers};
use crate::new_field::set_field;
use crate::papers::Paper;
use crate::question_source::Sources;
use crate::wording::Wording;
use crate::{Analysis, words};

/// The edit that shows a paper's answers.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ShownAnswers {
    /// The change: an `answer:` for each question that has none yet.
    pub edit: NotebookEdit,
    /// How many questions get an answer.
    pub shown: usize,
    /// Those of them whose answer is not from the notes, but was worked out and verified.
    pub worked_out: Vec<String>,
    /// The questions whose problem has no answer in the notes, or is no longer there.
    pub missing: Vec<String>,
}

/// Why no answer is shown.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoAnswers {
    /// The paper has no questions.
    NoQuestions,
    /// Every question shows its answer already.
    AllShown,
    /// No question's problem has an answer in the notes.
    NoneKnown,
}

impl fmt::Display for NoAnswers {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::NoQuestions => "This paper has no questions to show answers of.",
            Self::AllShown => "Every question shows its answer already.",
            Self::NoneKnown => {
                "The notes hold no answers for this paper, and none could be worked out: write answer: \
                 below its problems."
            }
        })
    }
}

impl ShownAnswers {
    /// What was shown, in a sentence or two.
    pub fn summary(&self) -> String {
        let mut said = format!("Added {}.", words::count(self.shown, "answer"));
        if !self.worked_out.is_empty() {
            said.push_str(&format!(
                " Worked out, not from the notes: {}.",
                self.worked_out.join(", ")
            ));
        }
        if !self.missing.is_empty() {
            said.push_str(&format!(
                " No answer in the notes: {}.",
                self.missing.join(", ")
            ));
        }
        said
    }
}

/// The edit that adds an `answer:` to each question of a paper: the answer of its source, else its
/// solution; of a theorem the statement and the proof, of a definition the statement.
pub fn show_answers(analysis: &Analysis, paper: &Paper<'_>) -> Result<ShownAnswers, NoAnswers> {
    let sources = Sources::of(&analysis.notebook, &paper.course);
    let (mut edit, mut shown, mut there) = (NotebookEdit::default(), 0, 0);
    let (mut missing, mut worked_out) = (Vec::new(), Vec::new());
    for question in paper.questions() {
        if question.field_text(Key::Answer).is_some() {
            there += 1;
            continue;
        }
        let title = || format!("question {}", question.title());
        let source = sources.find(question).ok();
        let has_own_numbers = question.block.count(Key::Seed).is_some();
        let from_notes = source.as_ref().filter(|_| !has_own_numbers);
        let answer = from_notes.and_then(answer_of).or_else(|| {
            let answer = own_answer(analysis, question, source.as_ref())?;
            worked_out.push(title());
            Some(answer)
        });
        match answer {
            Some(answer) => {
                set_field(&mut edit, question, Key::Answer, &answer);
                shown += 1;
            }
            None => missing.push(title()),
        }
    }
    match (shown, there, missing.len()) {
        (0, 0, 0) => Err(NoAnswers::NoQuestions),
        (0, _, 0) => Err(NoAnswers::AllShown),
        (0, ..) => Err(NoAnswers::NoneKnown),
        _ => Ok(ShownAnswers {
            edit,
            shown,
            worked_out,
            missing,
        }),
    }
}

/// The answer of a question that the notes hold none for: as it was made with its numbers, else
/// solved.
fn own_answer(
    analysis: &Analysis,
    question: &Located<'_>,
    source: Option<&Located<'_>>,
) -> Option<String> {
    let seed = question.block.count(Key::Seed);
    if let (Some(seed), Some(source)) = (seed, source)
        && let Ok(fresh) = fresh_numbers(analysis, source, seed, &BTreeSet::new())
        && bare(&question.statement()).starts_with(&bare(&fresh.text))
    {
        return Some(fresh.answer);
    }
    if source.is_some_and(|at| at.block.kind != Some(BlockKind::Problem)) {
        return None;
    }
    let statement = Wording::of_statement(question);
    let answer = math::sibling::key(&statement.parts()).ok()?;
    Some(Wording::of_pieces(&answer).text(false))
}

/// The answer of a problem, theorem or definition, in lines; `None` if it has none.
fn answer_of(source: &Located<'_>) -> Option<String> {
    let statement = || Some(source.statement()).filter(|text| !text.trim().is_empty());
    match source.block.kind? {
        BlockKind::Problem => source
            .field_text(Key::Answer)
            .or_else(|| source.field_text(Key::Solution)),
        BlockKind::Theorem => {
            let proof = source
                .field_text(Key::Proof)
                .map(|proof| format!("Proof: {proof}"));
            // Without a title the question shows the statement itself.
            let statement = statement().filter(|_| !source.block.title.is_empty());
            match (statement, proof) {
                (Some(statement), Some(proof)) => Some(format!("{statement}\n{proof}")),
                (statement, proof) => statement.or(proof),
            }
        }
        BlockKind::Definition => statement(),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::papers::papers;

    const NOTES: &str = "\
=== course.porism
@course Algebra

@problem 1
  Solve $x + 1 = 3$.
  answer: $x = 2$,
      and nothing else % checked

@problem 2
  Where is $x^2$ least?
  solution: It is never negative, and 0 at 0.

@problem 3
  Why?

@theorem Bound
  There is a bound.
  proof: Take the largest.
=== papers/p.porism
@paper Mock
";

    fn check(questions: &str, expected: &str) {
        let fixture = fixture::notebook(&format!("{NOTES}{questions}"));
        let paper = papers(
            &fixture.analysis().notebook,
            &notes::NameKey::new("Algebra"),
        )
        .remove(0);
        let said = match show_answers(fixture.analysis(), &paper) {
            Ok(shown) => {
                let after = fixture.after(&shown.edit);
                let after = after
                    .strip_prefix("@paper Mock\n")
                    .expect("the paper comes first");
                format!("{after}{}", shown.summary())
            }
            Err(none) => none.to_string(),
        };
        assert_eq!(said, expected);
    }

    #[test]
    fn answers_come_from_the_problems() {
        check(
            "@question 1\n  of: 1\n  Solve $x + 1 = 3$.\n\n  mine: $x = 2$\n  mark: right\n\n\
             @question 2\n  Where is $x^2$ least?\n\n  mine:\n  mark:\n\n\
             @question 3\n  of: 3\n  Why?\n  mark:\n\n\
             @question 4\n  of: Bound\n  State and prove: Bound\n  mark:\n",
            "@question 1\n  of: 1\n  Solve $x + 1 = 3$.\n\n  mine: $x = 2$\n  mark: right\n  answer: $x = 2$,\n      and nothing else\n\n\
             @question 2\n  Where is $x^2$ least?\n\n  mine:\n  mark:\n  answer: It is never negative, and 0 at 0.\n\n\
             @question 3\n  of: 3\n  Why?\n  mark:\n\n\
             @question 4\n  of: Bound\n  State and prove: Bound\n  mark:\n  answer: There is a bound.\n      Proof: Take the largest.\n\
             Added 3 answers. No answer in the notes: question 3.",
        );
    }

    #[test]
    fn answers_that_the_notes_do_not_hold_are_worked_out() {
        check(
            "@question 1\n  of: 1\n  seed: 5\n  Solve $x + 4 = 9$.\n  mark:\n\n\
             @question 2\n  Find $\\int_0^1 3 x^2\\,dx$.\n  mark:\n",
            "@question 1\n  of: 1\n  seed: 5\n  Solve $x + 4 = 9$.\n  mark:\n  answer: $x = 5$\n\n\
             @question 2\n  Find $\\int_0^1 3 x^2\\,dx$.\n  mark:\n  answer: $1$\n\
             Added 2 answers. Worked out, not from the notes: question 1, question 2.",
        );
    }

    #[test]
    fn answers_that_are_there_stay() {
        check(
            "@question 1\n  of: 1\n  Solve $x + 1 = 3$.\n  answer: 2\n",
            "Every question shows its answer already.",
        );
        check(
            "@question 1\n  of: 1\n  Solve $x + 1 = 3$.\n  answer: 2\n@question 2\n  of: 2\n  Where?\n  answer:\n",
            "@question 1\n  of: 1\n  Solve $x + 1 = 3$.\n  answer: 2\n@question 2\n  of: 2\n  Where?\n  answer: It is never negative, and 0 at 0.\n\
             Added 1 answer.",
        );
    }

    #[test]
    fn what_cannot_be_shown_is_said() {
        check("", "This paper has no questions to show answers of.");
        check(
            "@question 1\n  of: 3\n  Why?\n",
            "The notes hold no answers for this paper, and none could be worked out: write answer: \
                 below its problems.",
        );
    }
}
