use notes::Key;

use super::broken_tex::sentence;
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// The shape of a pattern cannot be read.
    ///
    /// A shape is a formula whose letters are holes, then perhaps `where` and conditions. Without it
    /// the pattern is still a pattern, but a problem that does not name it is not recognised as one
    /// of the kind.
    ///
    /// ```porism
    /// @pattern separable
    ///   shape: y' = f g where f depends only on x; g depends only on y
    /// ```
    ///
    /// Here the dollar signs are missing: `$y' = f g$ where …`. The message says which part does not
    /// fit. Conditions are separated by semicolons.
    BROKEN_SHAPE = "broken-shape", Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block() else { return };
    let fields = block.fields.iter().filter(|field| field.key == Key::Shape);
    for (field, shape) in fields.zip(&block.shapes) {
        // One that is about to be typed has a check of its own.
        if field.value_span.is_empty() {
            continue;
        }
        for fault in &shape.faults {
            marks.push(unit.mark(&BROKEN_SHAPE, fault.span, sentence(&fault.message)));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, findings};

    #[test]
    fn a_shape_without_a_formula_is_marked() {
        let text = "@pattern p\n  shape: $y' = f g$\n  shape: y' = f g where f is a number\n";
        let found = findings(text);
        let own: Vec<_> = found
            .iter()
            .filter(|f| f.code == BROKEN_SHAPE.code)
            .collect();
        assert!(
            own.iter()
                .all(|finding| finding.severity == crate::diagnostics::Severity::Information),
            "{found:?}"
        );
        let marked: Vec<&str> = own.iter().map(|f| &text[f.span.range()]).collect();
        assert!(!marked.is_empty(), "{found:?}");
        let second = text.find("y' = f g where").expect("the second shape");
        assert!(
            own.iter()
                .all(|finding| finding.span.start as usize >= second),
            "{marked:?}"
        );
    }

    #[test]
    fn a_shape_with_conditions_and_an_empty_one_are_not_marked() {
        check(
            &BROKEN_SHAPE,
            "@pattern p\n  shape: $a x + b = 0$ where a, b are numbers; a is not 0\n  shape:\n",
        );
    }
}
