use notes::value::Value;
use notes::{BlockKind, Key};

use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// A problem does not say what kind of problem it is.
    ///
    /// What you can do on a fresh problem is estimated for each pattern from the tries of all its
    /// problems. A problem without a pattern stands alone: its tries say nothing of any other, and
    /// a mock test cannot trade it for another of its kind.
    ///
    /// ```porism
    /// @problem 2.3
    ///   Show that the sum of two odd numbers is even.
    /// ```
    ///
    /// Name the approach that the problem calls for in `pattern:`. If it is one of a kind, leave it
    /// as it is.
    NO_PATTERN = "no-pattern", Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((BlockKind::Problem, at)) = unit.known() else {
        return;
    };
    match at.block.field(Key::Pattern) {
        Some(field) if field.value == Value::Empty => marks.push(unit.mark(
            &NO_PATTERN,
            field.key_span,
            "Nothing stands behind `pattern:` yet. Name the kind of problem this is.",
        )),
        Some(_) => {}
        None => marks.push(unit.mark(
            &NO_PATTERN,
            super::mark::Part::Header,
            "No `pattern:` says what kind of problem this is, so its tries count for this problem \
             alone. Name the approach it calls for.",
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_problem_without_a_pattern_is_marked() {
        check(
            &NO_PATTERN,
            "
@problem 1
^^^^^^^^^^ information: No `pattern:` says what kind of problem this is, so its tries count for this problem alone. Name the approach it calls for.
  Solve $y' = y$.

@problem 2
  pattern:
  ^^^^^^^ information: Nothing stands behind `pattern:` yet. Name the kind of problem this is.
",
        );
    }

    #[test]
    fn other_blocks_need_none() {
        check(
            &NO_PATTERN,
            "@problem 1\n  pattern: p\n\n@theorem T\n\n@definition D\n\n@pro\n",
        );
    }
}
