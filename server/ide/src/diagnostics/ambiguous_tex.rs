use math::Class;

use super::Severity;
use super::broken_tex::{is_answer, is_to_be_understood, sentence};
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// A formula in a problem can be read in two ways.
    ///
    /// It was read in one of them, and the message says in which. If you mean the other, the problem
    /// is taken for another one, or a right answer for a wrong one.
    ///
    /// ```porism
    /// @problem 6.2
    ///   pattern: product rule
    ///   Differentiate $x \sin x$.
    ///   answer: $\sin x (x + 1)$
    /// ```
    ///
    /// Add the brackets or braces that leave only one reading. In an answer this is for information,
    /// in a question a hint.
    AMBIGUOUS_TEX = "ambiguous-tex", Information | Hint
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let formulas = unit.entry.unit.formulas.iter();
    for formula in formulas.filter(|formula| is_to_be_understood(unit, formula)) {
        let severity = match is_answer(unit, formula) {
            true => Severity::Information,
            false => Severity::Hint,
        };
        for fault in formula
            .faults
            .iter()
            .filter(|f| f.class == Class::Ambiguous)
        {
            let mark = unit.mark(&AMBIGUOUS_TEX, fault.span, sentence(&fault.message));
            marks.push(mark.severity(severity));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, findings};

    #[test]
    fn two_readings_are_said_gravest_in_an_answer() {
        let found = findings("@problem 1\n  Find $1/2x$.\n  answer: $1/2x$\n");
        let own: Vec<_> = found
            .iter()
            .filter(|f| f.code == AMBIGUOUS_TEX.code)
            .collect();
        let severities: Vec<_> = own.iter().map(|f| f.severity).collect();
        assert_eq!(
            severities,
            [Severity::Hint, Severity::Information],
            "{found:?}"
        );
    }

    #[test]
    fn one_reading_and_prose_are_not_marked() {
        check(
            &AMBIGUOUS_TEX,
            "Here $1/2x$ is small.\n\n@problem 1\n  Find $\\frac{1}{2} x$.\n  answer: $\\frac{x}{2}$\n",
        );
    }
}
