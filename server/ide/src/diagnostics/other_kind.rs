use notes::{Key, Located, NameKey};

use super::check::check;
use super::mark::{Change, Mark};
use super::problem::ProblemScope;
use crate::kinds::Kind;
use crate::words;

check! {
    /// A problem is tagged with a pattern whose shape it does not have, and it has that of another.
    ///
    /// Its tries count for the wrong kind, so that one estimate is too high and another too low; and
    /// recognising the kind decides how to begin. Shapes are compared with the problem as written
    /// and after up to four laws of algebra.
    ///
    /// ```porism
    /// @pattern linear equation
    ///   shape: $a x + b = 0$ where a, b are numbers; a is not 0
    ///
    /// @pattern quadratic equation
    ///   shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0
    ///
    /// @problem 1.2
    ///   pattern: linear equation
    ///   Solve $x^2 = 5x - 6$.
    /// ```
    ///
    /// Name the other pattern, or both; or give the pattern that you named another `shape:` line if
    /// this problem belongs to it. Nothing is said where the one pattern reduces to the other, where
    /// a pattern that you named has no shape, or where no shape fits.
    OTHER_KIND = "other-kind", Warning
}

pub(super) fn check(problem: &ProblemScope<'_, '_>, kinds: &[Kind<'_>], marks: &mut Vec<Mark>) {
    let Some(field) = problem.at.block.field(Key::Pattern) else {
        return;
    };
    let tags = problem.at.block.names(Key::Pattern);
    let patterns = tags.iter().map(|tag| problem.catalogue.get(&tag.key));
    // Of a pattern without a shape nothing can be said.
    let Some(patterns) = patterns.collect::<Option<Vec<_>>>() else {
        return;
    };
    let Some(best) = kinds.first().filter(|_| !patterns.is_empty()) else {
        return;
    };
    let fits = |kind: &Kind<'_>| {
        patterns.iter().any(|pattern| {
            pattern.name == kind.pattern.name
                || reduces(&kind.pattern.at, &pattern.name)
                || reduces(&pattern.at, &kind.pattern.name)
        })
    };
    if kinds.iter().any(fits) {
        return;
    }
    let title = |at| format!("`{}`", words::cut(&words::title(at), 40));
    let titles: Vec<String> = patterns.iter().map(|pattern| title(&pattern.at)).collect();
    let named = match &titles[..] {
        [one] => format!("No shape of {one} fits this problem"),
        _ => format!("No shape of {} fits this problem", titles.join(" or ")),
    };
    let message = format!("{named}. It matches {}.", in_words(best));
    let mut mark = problem.mark(&OTHER_KIND, field.value_span, message);
    mark = mark.related(
        &best.pattern.at.id(),
        super::mark::Part::Header,
        "the pattern that it matches",
    );
    for kind in kinds.iter().take(super::no_pattern::OFFERED) {
        let title = format!("Tag it as {} instead", super::no_pattern::offered(kind));
        let change = Change::Replace(field.value_span, kind.pattern.at.title());
        mark = mark.fix(title, vec![change]);
    }
    marks.push(mark);
}

/// A kind with the laws that show it.
fn in_words(kind: &Kind<'_>) -> String {
    let title = words::cut(&kind.title(), 40);
    match kind.steps() {
        Some(steps) => format!("`{title}` after {steps}"),
        None => format!("`{title}`"),
    }
}

/// Whether a pattern says that it reduces to another.
fn reduces(pattern: &Located<'_>, to: &NameKey) -> bool {
    let mut names = pattern.block.names(Key::ReducesTo).iter();
    names.any(|named| named.key == *to)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    const PATTERNS: &str = "
@pattern linear equation
  shape: $a x + b = 0$ where a, b are numbers; a is not 0

@pattern quadratic equation
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

@pattern no shape

@pattern by factors
  reduces to: linear equation
  shape: $p q = 0$ where p is linear in x; q is linear in x
";

    fn check_below(problems: &str) {
        check(&OTHER_KIND, &format!("{PATTERNS}{problems}"));
    }

    #[test]
    fn a_tag_that_no_shape_bears_out_is_marked() {
        check_below(
            "
@problem 1
  pattern: linear equation
           ^^^^^^^^^^^^^^^ warning: No shape of `linear equation` fits this problem. It matches `quadratic equation`. [notes.porism \"@pattern quadratic equation\": the pattern that it matches]
  Solve $x^2 = 5x - 6$.
",
        );
    }

    #[test]
    fn a_tag_that_fits_or_cannot_be_judged_is_not_marked() {
        check_below(
            "
@problem 1
  pattern: quadratic equation
  Solve $x^2 = 5x - 6$.

@problem 2
  pattern: linear equation, quadratic equation
  Solve $x^2 = 5x - 6$.

@problem 3
  pattern: no shape
  Solve $x^2 = 5x - 6$.

@problem 4
  pattern: no shape, linear equation
  Solve $x^2 = 5x - 6$.

@problem 5
  pattern: linear equation
  Solve $\\sin x = x$.

@problem 6
  pattern: linear equation
  Say why.
",
        );
    }

    #[test]
    fn the_way_out_names_what_fits() {
        let text = format!(
            "{PATTERNS}\n@problem 1\n  pattern: linear equation\n  Solve $x^2 = 5x - 6$.\n"
        );
        let after = fixed(&OTHER_KIND, "Tag it as quadratic equation instead", &text);
        assert!(
            after.ends_with("@problem 1\n  pattern: quadratic equation\n  Solve $x^2 = 5x - 6$.\n"),
            "{after}"
        );
    }
}
