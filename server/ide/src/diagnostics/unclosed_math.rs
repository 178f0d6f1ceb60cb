use notes::{Formula, Span};

use super::Severity;
use super::check::check;
use super::mark::{Change, Mark};
use super::scope::UnitScope;

check! {
    /// A formula has no closing `$` or `$$`.
    ///
    /// A `$` closes on its own line. Without its closing sign the rest of the line counts as TeX, and
    /// the formula is not read: the problem has no shape to be told by, an answer cannot be judged.
    ///
    /// ```porism
    /// @problem 1.4.2
    ///   pattern: separable
    ///   Solve $y' = \cos x with $y(0) = 1$.
    /// ```
    ///
    /// Close the formula, or write `\$` for a dollar sign. At the end of what stands there, without
    /// the mark that ends a sentence, the formula may still be on its way, and the finding is for
    /// information only.
    UNCLOSED_MATH = "unclosed-math", Warning | Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    for formula in unit
        .entry
        .unit
        .formulas
        .iter()
        .filter(|formula| !formula.closed)
    {
        let sign = if formula.display { "$$" } else { "$" };
        let message = format!(
            "This formula has no closing {sign}. Close it, or write \\$ for a dollar sign."
        );
        let mut mark = unit.mark(&UNCLOSED_MATH, formula.whole, message);
        if is_on_its_way(unit, formula) {
            mark = mark.severity(Severity::Information);
        }
        if let Some(end) = end_of_tex(unit, formula) {
            let close = Change::Replace(Span::at(end), sign.to_owned());
            mark = mark.fix(format!("Close the formula with {sign}"), vec![close]);
        }
        marks.push(mark);
    }
}

/// Whether typing may go on in the formula: nothing follows it, and no sentence ends with it.
fn is_on_its_way(unit: &UnitScope<'_>, formula: &Formula) -> bool {
    let rest = Span::new(formula.whole.end as usize, unit.entry.unit.len as usize);
    let tex = unit.text(formula.tex);
    unit.text(rest).trim().is_empty() && !tex.trim_end().ends_with(['.', '?'])
}

/// Where the closing sign would go: at the end of the formula's last line, in front of what ends
/// the sentence. `None` behind a backslash, which would take the sign for itself.
fn end_of_tex(unit: &UnitScope<'_>, formula: &Formula) -> Option<usize> {
    let text = unit.text(formula.tex);
    let tex = text.trim_end();
    let without = tex.trim_end_matches(['.', ',', ';', ':', '!', '?']);
    // The mark is part of a command, such as a thin space.
    let tex = if without.ends_with('\\') {
        tex
    } else {
        without
    };
    let tex = tex.trim_end();
    let backslashes = tex.bytes().rev().take_while(|b| *b == b'\\').count();
    (backslashes % 2 == 0).then_some(formula.tex.start as usize + tex.len())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    #[test]
    fn a_formula_without_its_closing_sign_is_marked() {
        check(
            &UNCLOSED_MATH,
            "
Multiply by $x$, or by $x^2.
                       ^^^^^ warning: This formula has no closing $. Close it, or write \\$ for a dollar sign.

@problem 1
  Solve $$ y' = y
        ^^^^^^^^^ warning: This formula has no closing $$. Close it, or write \\$ for a dollar sign.
  answer: $e^x
          ^^^^ information: This formula has no closing $. Close it, or write \\$ for a dollar sign.
",
        );
        assert_eq!(
            fixed(
                &UNCLOSED_MATH,
                "Close the formula with $",
                "or by $x^2.  \n"
            ),
            "or by $x^2$.  \n"
        );
        assert_eq!(
            fixed(
                &UNCLOSED_MATH,
                "Close the formula with $",
                "so $\\int x\\,\n"
            ),
            "so $\\int x\\,$\n"
        );
        assert_eq!(
            fixed(&UNCLOSED_MATH, "Close the formula with $", "@pattern $\n"),
            "@pattern $$\n"
        );
    }

    #[test]
    fn closed_formulas_and_amounts_are_not_marked() {
        check(
            &UNCLOSED_MATH,
            "We paid $5 and \\$6 for $x$ and\n  $$ x\n  + 1 $$\n",
        );
    }
}
