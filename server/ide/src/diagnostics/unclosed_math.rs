use notes::{Formula, Span};

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
    /// Close the formula, or write `\$` for a dollar sign.
    UNCLOSED_MATH = "unclosed-math", Warning
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
        let close = Change::Replace(Span::at(end_of_tex(unit, formula)), sign.to_owned());
        let mark = unit.mark(&UNCLOSED_MATH, formula.whole, message);
        marks.push(mark.fix(format!("Close the formula with {sign}"), vec![close]));
    }
}

/// Where the closing sign would go: at the end of the formula's last line, in front of what ends
/// the sentence.
fn end_of_tex(unit: &UnitScope<'_>, formula: &Formula) -> usize {
    let text = unit.text(formula.tex);
    let tex = text
        .trim_end()
        .trim_end_matches(['.', ',', ';', ':', '!', '?']);
    formula.tex.start as usize + tex.trim_end().len()
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
  answer: $e^x  % or a multiple
          ^^^^ warning: This formula has no closing $. Close it, or write \\$ for a dollar sign.
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
