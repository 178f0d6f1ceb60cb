//! Is this the right answer about a function, a formula or a figure that it describes?

use super::answer::Answer;
use super::question::Question;
use super::{Verdict, equations};

/// The verdict for a problem whose formula alone does not say what is asked.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    let Some(main) = &question.problem.main else {
        return Verdict::cannot_tell("what is asked is not understood");
    };
    if main.as_equation().is_some() && is_solved_for_a_letter(question, answer) {
        return equations::judge(question, answer);
    }
    Verdict::cannot_tell("what is asked is not understood")
}

/// The problem is one equation in several letters, and the answer gives one of them by the others.
fn is_solved_for_a_letter(question: &Question, answer: &Answer) -> bool {
    let Some(main) = &question.problem.main else {
        return false;
    };
    let free = main.free_symbols();
    answer.formulas.iter().any(|formula| {
        formula.as_equation().is_some_and(|(left, right)| {
            left.as_symbol()
                .is_some_and(|letter| free.contains(letter) && !right.mentions(letter))
                && formula != main
        })
    })
}
