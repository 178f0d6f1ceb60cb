use math::verdict::Verdict;
use notes::Key;

use super::check::check;
use super::mark::Mark;
use super::problem::ProblemScope;
use crate::verify::objection;

check! {
    /// The answer of a problem is wrong.
    ///
    /// It was put into the problem itself: substituted, differentiated, or worked out at several
    /// points. So every right form of an answer is right, and an answer is called wrong only with a
    /// witness: a point at which it fails, or a solution that is missing.
    ///
    /// ```porism
    /// @problem 1.3
    ///   Solve $x^2 = 5x - 6$.
    ///   answer: $x = 2$ or $x = 4$
    /// ```
    ///
    /// Correct the answer, or the statement if that is where the slip is. An answer that cannot be
    /// checked is left in peace; hover over the problem to see why.
    WRONG_ANSWER = "wrong-answer", Error
}

pub(super) fn check(problem: &ProblemScope<'_, '_>, verdict: &Verdict, marks: &mut Vec<Mark>) {
    let Some(field) = problem.at.block.field(Key::Answer) else {
        return;
    };
    if !matches!(verdict, Verdict::Fails { .. }) {
        return;
    }
    let why = objection(verdict).unwrap_or_default();
    let message = format!("This answer does not hold: {}.", why.trim_end_matches('.'));
    marks.push(problem.mark(&WRONG_ANSWER, field.value_span, message));
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::findings;

    /// The answers that are marked, and what is said of them.
    fn check(text: &str) -> Vec<(String, String)> {
        let found = findings(text).into_iter();
        let own = found.filter(|finding| finding.code == WRONG_ANSWER.code);
        own.map(|finding| (text[finding.span.range()].to_owned(), finding.message))
            .collect()
    }

    #[test]
    fn a_wrong_answer_is_marked_with_a_witness() {
        let found = check("@problem 1\n  Solve $x^2 = 5x - 6$.\n  answer: $x = 2$ or $x = 4$\n");
        let [(marked, said)] = &found[..] else {
            panic!("{found:?}")
        };
        assert_eq!(marked, "$x = 2$ or $x = 4$");
        assert!(said.starts_with("This answer does not hold: "), "{said}");
        assert!(said.contains('4') || said.contains('3'), "{said}");
        let found = check(
            "@problem 2\n  Solve $y'' - 4y' + 4y = 0$ with $y(0) = 3$, $y'(0) = 5$.\n  answer: $y = (3 + 5x) e^{2x}$\n",
        );
        assert_eq!(found.len(), 1, "{found:?}");
    }

    #[test]
    fn right_answers_and_those_that_cannot_be_checked_are_not_marked() {
        let found = check(
            "@problem 1\n  Solve $x^2 = 5x - 6$.\n  answer: $x = 3$ or $x = 2$\n\n\
             @problem 2\n  Prove that $1 < 2$.\n  answer: clear\n\n\
             @problem 3\n  Solve $x = 1$.\n  answer:\n\n@problem 4\n  Solve $x = 1$.\n\n\
             @theorem 5\n  $x = 1$.\n",
        );
        assert_eq!(found, []);
    }
}
