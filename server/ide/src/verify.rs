//! Is an answer right for a problem, outside any notes?

pub use math::verdict::Verdict;

use crate::classify::Statement;
use crate::mathematics::Mathematics;
use crate::wording::Wording;

/// Verifies an answer, given as a formula or as words with formulas between dollar signs. `kind`
/// is what is to be done, in the words of [`crate::classify::task_word`], where it is known and the
/// statement has no instruction; it may be empty. Never fails.
pub fn verify(
    mathematics: &Mathematics,
    statement: Statement<'_>,
    kind: &str,
    answer: &str,
) -> Verdict {
    let prompt = match statement.prompt.trim() {
        "" => instruction(kind),
        prompt => prompt,
    };
    let statement = Statement {
        prompt,
        ..statement
    };
    mathematics.verdict(&statement.wording(), &Wording::of_text(answer))
}

/// A verdict in one word, and why.
pub fn verdict_word(verdict: &Verdict) -> &'static str {
    match verdict {
        Verdict::Holds => "holds",
        Verdict::Fails { .. } => "fails",
        Verdict::CannotTell { .. } => "cannot-tell",
    }
}

/// A verdict as a sentence says it of an answer; none for one that holds.
pub fn objection(verdict: &Verdict) -> Option<String> {
    let text = match verdict {
        Verdict::Holds => return None,
        Verdict::Fails {
            reason,
            witness: Some(witness),
        } => format!("{reason}: {witness}"),
        Verdict::Fails { reason, .. } | Verdict::CannotTell { reason } => reason.clone(),
    };
    Some(text)
}

/// The instruction that a textbook prints above problems of a kind.
fn instruction(kind: &str) -> &'static str {
    match kind {
        "equation" => "Solve the equation.",
        "inequality" => "Solve the inequality.",
        "system" => "Solve the system.",
        "simplify" => "Simplify.",
        "differentiate" => "Find the derivative.",
        "integrate" => "Find the integral.",
        "limit" => "Find the limit.",
        "sum" => "Find the sum.",
        "ode" => "Solve the differential equation.",
        _ => "",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str, prompt: &str, kind: &str, answer: &str, expected: &str) {
        let mathematics = Mathematics::default();
        let verdict = verify(&mathematics, Statement { text, prompt }, kind, answer);
        assert_eq!(
            verdict_word(&verdict),
            expected,
            "{text}: {answer}: {verdict:?}"
        );
        assert_eq!(objection(&verdict).is_none(), expected == "holds");
    }

    #[test]
    fn answers_are_held_against_the_problem() {
        check("x^2 = 5x - 6", "", "", "x = 2, x = 3", "holds");
        check("x^2 = 5x - 6", "", "", "x = 2", "fails");
        check(
            "Solve $x^2 = 5x - 6$.",
            "",
            "",
            "$x = 2$ or $x = 3$",
            "holds",
        );
        check("x^2", "Find the derivative.", "", "2x", "holds");
        check("x^2", "", "differentiate", "3x", "fails");
        check("Prove that $x = x$.", "", "", "clear", "cannot-tell");
    }

    #[test]
    fn an_answer_is_verified_once() {
        let mathematics = Mathematics::default();
        let statement = Statement {
            text: "x^2 = 4",
            prompt: "",
        };
        for _ in 0..3 {
            verify(&mathematics, statement, "", "x = 2");
        }
        assert_eq!(mathematics.answers_verified(), 1);
    }
}
