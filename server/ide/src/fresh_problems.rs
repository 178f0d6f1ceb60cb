//! Fresh problems with the numbers of others, outside any notes.

use math::sibling;

use crate::classify::Statement;
use crate::starter;
use crate::wording::Wording;

/// Fresh problems.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FreshProblems {
    /// Each problem with its key, as they are written in the place of the statement.
    pub found: Vec<FreshProblem>,
    /// Why there are fewer than were asked for, in one sentence without its final stop.
    pub reason: Option<String>,
}

/// A fresh problem with its key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FreshProblem {
    /// The statement: a bare formula where the original is one.
    pub statement: String,
    /// The key.
    pub answer: String,
}

/// The most problems that are given at once.
pub const MOST: usize = sibling::MAX_COUNT;

/// So many are drawn for each that is kept where the instruction has numbers of its own.
const PASSED_OVER: usize = 12;

/// Problems like a statement with other numbers, with their keys, of the same starter patterns. Same
/// seed: same problems.
pub fn fresh_problems(statement: Statement<'_>, seed: u64, count: usize) -> FreshProblems {
    let prompt = Wording::of_text("").after(statement.prompt);
    let pieces_in_front = prompt.parts().len();
    let wording = statement.wording();
    // Numbers of the instruction would change as well; those where they do are passed over.
    let drawn = match prompt.has_formula() {
        true => count.saturating_mul(PASSED_OVER).min(MOST),
        false => count,
    };
    let siblings = sibling::siblings_with_shapes(&wording.parts(), starter::shapes(), seed, drawn);
    let is_bare = Wording::of_text(statement.text).parts().len() == 1;
    let keeps_prompt = |sibling: &&sibling::Sibling| {
        let own = sibling.statement.get(..pieces_in_front).unwrap_or_default();
        Wording::of_pieces(own) == prompt
    };
    let found = siblings.found.iter().filter(keeps_prompt).map(|sibling| {
        // The instruction stays where it was.
        let own = sibling.statement.get(pieces_in_front..).unwrap_or_default();
        FreshProblem {
            statement: Wording::of_pieces(own).text(is_bare),
            answer: Wording::of_pieces(&sibling.answer).text(is_bare),
        }
    });
    let found: Vec<FreshProblem> = found.take(count).collect();
    let why = "with the numbers of the instruction as they are there are no more".to_owned();
    let reason = (found.len() < count).then(|| siblings.reason.unwrap_or(why));
    FreshProblems { found, reason }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, prompt: &str) -> FreshProblems {
        let statement = Statement { text, prompt };
        let fresh = fresh_problems(statement, 7, 3);
        assert_eq!(fresh, fresh_problems(statement, 7, 3), "{text}");
        for problem in &fresh.found {
            let mathematics = crate::mathematics::Mathematics::default();
            let own = Statement {
                text: &problem.statement,
                prompt,
            };
            let verdict = crate::verify::verify(&mathematics, own, "", &problem.answer);
            assert_eq!(verdict, math::verdict::Verdict::Holds, "{problem:?}");
        }
        fresh
    }

    #[test]
    fn a_bare_formula_gives_bare_formulas() {
        let fresh = check("x^2 - 5x + 6 = 0", "Solve.");
        assert_eq!((fresh.found.len(), &fresh.reason), (3, &None));
        for problem in &fresh.found {
            assert!(!problem.statement.contains(['$', 'S']), "{problem:?}");
        }
    }

    #[test]
    fn words_stay() {
        let fresh = check("Solve $x^2 - 5x + 6 = 0$, please.", "");
        assert_eq!(fresh.found.len(), 3, "{fresh:?}");
        for problem in &fresh.found {
            assert!(problem.statement.starts_with("Solve $"), "{problem:?}");
            assert!(problem.statement.ends_with("$, please."), "{problem:?}");
        }
    }

    #[test]
    fn the_numbers_of_an_instruction_stay() {
        for prompt in ["Find $f'(2)$.", "Find f'(2)."] {
            let fresh = check("f(x) = x^3 - 5x", prompt);
            assert_eq!(fresh.found.len(), 3, "{fresh:?}");
        }
    }

    #[test]
    fn where_there_are_none_the_reason_is_said() {
        let fresh = check("Prove that $x = x$.", "");
        assert!(
            fresh.found.is_empty() && fresh.reason.is_some(),
            "{fresh:?}"
        );
    }
}
