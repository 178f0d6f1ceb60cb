use notes::Key;
use notes::value::Value;

use super::check::check;
use super::mark::{Change, Mark, Part};
use super::problem::ProblemScope;
use crate::kinds::Kind;
use crate::tag_problems::set_pattern;
use crate::words;

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
    /// Name the approach that the problem calls for in `pattern:`. Where the problem has the shape of
    /// a pattern of the course, as written or after a few laws of algebra, the pattern is offered. If
    /// the problem is one of a kind, leave it as it is.
    NO_PATTERN = "no-pattern", Information
}

/// The most kinds that are offered for one problem.
pub(super) const OFFERED: usize = 3;

/// `kinds` are the kinds that the problem is of, as far as they are known yet.
pub(super) fn check(problem: &ProblemScope<'_, '_>, kinds: &[Kind<'_>], marks: &mut Vec<Mark>) {
    let at = &problem.at;
    let (part, message) = match at.block.field(Key::Pattern) {
        Some(field) if field.value == Value::Empty => (
            Part::Bytes(field.key_span),
            "Nothing stands behind `pattern:` yet.",
        ),
        Some(_) => return,
        None => (
            Part::Header,
            "No `pattern:` says what kind of problem this is, so its tries count for this problem \
             alone.",
        ),
    };
    let what_to_do = match kinds.first() {
        Some(kind) => format!("It matches `{}`.", words::cut(&kind.title(), 40)),
        None => "Name the approach it calls for.".to_owned(),
    };
    let mut mark = problem.mark(&NO_PATTERN, part, format!("{message} {what_to_do}"));
    for kind in kinds.iter().take(OFFERED) {
        let title = format!("Tag it as {}", offered(kind));
        let name = kind.pattern.at.title();
        let change = Change::of(at, |edit| set_pattern(edit, at, &name));
        mark = mark.fix(title, change);
    }
    marks.push(mark);
}

/// A kind as a way out names it, with the laws that show it.
pub(super) fn offered(kind: &Kind<'_>) -> String {
    let title = words::cut(&kind.title(), 40);
    match kind.steps() {
        Some(steps) => format!("{title} (after {steps})"),
        None => title,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    const PATTERNS: &str = "\
@pattern quadratic equation
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

";

    #[test]
    fn the_pattern_that_fits_is_offered() {
        let check_fix = |problem: &str, title: &str, expected: &str| {
            let after = fixed(&NO_PATTERN, title, &format!("{PATTERNS}{problem}"));
            assert_eq!(after.strip_prefix(PATTERNS), Some(expected));
        };
        check_fix(
            "@problem 1  % from the lecture\n    Solve $x^2 = 5x - 6$.\n",
            "Tag it as quadratic equation",
            "@problem 1  % from the lecture\n    pattern: quadratic equation\n    Solve $x^2 = 5x - 6$.\n",
        );
        check_fix(
            "@problem 1\n  Solve $x^2 = 5x - 6$.\n  pattern:\n",
            "Tag it as quadratic equation",
            "@problem 1\n  Solve $x^2 = 5x - 6$.\n  pattern: quadratic equation\n",
        );
        check_fix(
            "@problem 1\n  Solve $\\frac{6}{x} = 5 - x$.\n",
            "Tag it as quadratic equation (after clearing denominators)",
            "@problem 1\n  pattern: quadratic equation\n  Solve $\\frac{6}{x} = 5 - x$.\n",
        );
        check(
            &NO_PATTERN,
            &format!(
                "{PATTERNS}@problem 1
^^^^^^^^^^ information: No `pattern:` says what kind of problem this is, so its tries count for this problem alone. It matches `quadratic equation`.
  Solve $x^2 = 5x - 6$.
"
            ),
        );
    }

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
  ^^^^^^^ information: Nothing stands behind `pattern:` yet. Name the approach it calls for.
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
