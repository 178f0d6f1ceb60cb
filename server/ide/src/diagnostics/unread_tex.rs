use math::Class;

use super::broken_tex::{is_to_be_understood, sentence};
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// A formula in a problem is beyond what is understood.
    ///
    /// The TeX may well be right. But the formula is not seen through: the problem is not compared
    /// with others by it, and an answer like it is not judged. Formulas in prose, titles and proofs
    /// need not be understood and are never marked.
    ///
    /// ```porism
    /// @problem 5.1
    ///   pattern: knot invariants
    ///   Compute $\writhe{K_3}$.
    /// ```
    ///
    /// Nothing needs to be done. Where a simpler way of writing says the same, it may be understood.
    UNREAD_TEX = "unread-tex", Hint
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let formulas = unit.entry.unit.formulas.iter();
    for formula in formulas.filter(|formula| is_to_be_understood(unit, formula)) {
        for fault in formula
            .faults
            .iter()
            .filter(|f| f.class == Class::Unsupported)
        {
            marks.push(unit.mark(&UNREAD_TEX, fault.span, sentence(&fault.message)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, findings};

    #[test]
    fn an_unknown_command_in_a_problem_is_a_hint() {
        let found = findings("@problem 1\n  Compute $1 + \\writhe{K}$.\n");
        let own: Vec<_> = found.iter().filter(|f| f.code == UNREAD_TEX.code).collect();
        assert_eq!(own.len(), 1, "{found:?}");
        assert!(own[0].message.contains("writhe"), "{}", own[0].message);
    }

    #[test]
    fn prose_and_proofs_need_not_be_understood() {
        check(
            &UNREAD_TEX,
            "The $\\writhe{K}$ counts.\n\n@theorem T\n  About $\\writhe{K}$.\n  proof: $\\writhe{K}$\n\n\
             @problem 1\n  Solve $x + 1 = 2$.\n  hint: $\\writhe{K}$\n",
        );
    }
}
