use math::Class;
use notes::{BlockKind, Formula, Key, Place};

use super::Severity;
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// The TeX of a formula is broken.
    ///
    /// A brace or an `\end` is missing, or an argument or an operand. What the formula says cannot be
    /// used, and with a brace missing it could not be typeset either.
    ///
    /// ```porism
    /// @problem 3.1
    ///   pattern: cancel a factor
    ///   Find $\lim_{x \to 4} \frac{x^2 - 16}{x - 4$.
    /// ```
    ///
    /// The mark shows where the reading stopped; the mistake is there or a little before. Where only
    /// an operand is missing the finding is for information: in words about a sign, as in "the
    /// relation $\sim$", it is meant so. In prose, titles and proofs such signs are not marked.
    BROKEN_TEX = "broken-tex", Warning | Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    for formula in &unit.entry.unit.formulas {
        let mut faults = formula
            .faults
            .iter()
            .filter(|f| f.class == Class::Malformed)
            .peekable();
        // A shape is read as a shape, and has a check of its own.
        if faults.peek().is_none() || field_of(unit, formula) == Some(Key::Shape) {
            continue;
        }
        let severity = match is_balanced(&unit.text(formula.tex)) {
            false => Severity::Warning,
            true if is_to_be_understood(unit, formula) => Severity::Information,
            true => continue,
        };
        for fault in faults {
            let mark = unit.mark(&BROKEN_TEX, fault.span, sentence(&fault.message));
            marks.push(mark.severity(severity));
        }
    }
}

/// Whether what a formula says is used: it stands in the statement of a problem or question, or is
/// an answer.
pub(super) fn is_to_be_understood(unit: &UnitScope<'_>, formula: &Formula) -> bool {
    let asks = |(kind, _)| matches!(kind, BlockKind::Problem | BlockKind::Question);
    match formula.place {
        Place::Statement => unit.known().is_some_and(asks),
        _ => is_answer(unit, formula),
    }
}

/// Whether a formula stands in an answer.
pub(super) fn is_answer(unit: &UnitScope<'_>, formula: &Formula) -> bool {
    matches!(field_of(unit, formula), Some(Key::Answer | Key::Mine))
}

/// The key of the field in which a formula stands.
fn field_of(unit: &UnitScope<'_>, formula: &Formula) -> Option<Key> {
    match formula.place {
        Place::Field(i) => Some(unit.block()?.fields.get(i)?.key),
        _ => None,
    }
}

/// What was found, as a sentence of its own.
pub(super) fn sentence(message: &str) -> String {
    let mut letters = message.chars();
    let first: String = letters
        .next()
        .into_iter()
        .flat_map(char::to_uppercase)
        .collect();
    let end = if message.ends_with(['.', '!', '?']) {
        ""
    } else {
        "."
    };
    format!("{first}{}{end}", letters.as_str())
}

/// Whether braces, environments and `\left … \right` match, so that TeX could typeset the formula
/// as far as they go.
fn is_balanced(tex: &str) -> bool {
    let mut open: Vec<&str> = Vec::new();
    let mut rest = tex;
    while let Some(at) = rest.find(['\\', '{', '}']) {
        let (mark, behind) = rest[at..].split_at(1);
        rest = behind;
        let closes = match mark {
            "{" => {
                open.push("{");
                continue;
            }
            "}" => "{",
            _ => {
                let word = rest
                    .find(|c: char| !c.is_ascii_alphabetic())
                    .unwrap_or(rest.len());
                let (command, behind) = rest.split_at(word);
                let argument = behind.strip_prefix('{').and_then(|arg| arg.split_once('}'));
                match (command, argument) {
                    ("begin", Some((name, behind))) => {
                        open.push(name);
                        rest = behind;
                        continue;
                    }
                    ("end", Some((name, behind))) => {
                        rest = behind;
                        name
                    }
                    ("left", _) => {
                        open.push("\\left");
                        rest = behind;
                        continue;
                    }
                    ("right", _) => {
                        rest = behind;
                        "\\left"
                    }
                    // The character behind a backslash stands for itself.
                    ("", _) => {
                        let mut letters = rest.chars();
                        letters.next();
                        rest = letters.as_str();
                        continue;
                    }
                    _ => {
                        rest = behind;
                        continue;
                    }
                }
            }
        };
        if open.pop() != Some(closes) {
            return false;
        }
    }
    open.is_empty()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, findings};

    #[test]
    fn a_brace_that_is_never_closed_is_a_warning_anywhere() {
        for text in [
            "@problem 1\n  Find $\\frac{x^2}{x - 4$.\n",
            "@problem 1\n  answer: $\\sqrt{2$\n",
            "@pattern p\n  cue: $\\sqrt{2$\n",
            "@topic 1 About $e^{x$\n",
            "Then $e^{x$ grows.\n",
        ] {
            let found = findings(text);
            let own = found.iter().find(|finding| finding.code == BROKEN_TEX.code);
            assert_eq!(own.map(|f| f.severity), Some(Severity::Warning), "{text}");
        }
    }

    #[test]
    fn the_mark_stands_where_the_reading_stopped() {
        check(
            &BROKEN_TEX,
            "
@problem 1
  Simplify $x^2 + 1 -$.
                    ^ information: Nothing stands after `-`: write what is to be added or taken away.
",
        );
    }

    #[test]
    fn signs_in_words_about_them_are_not_marked() {
        check(
            &BROKEN_TEX,
            "That is what the $0 <$ says, and $\\{$ opens a set.\n\n@theorem About $\\sim$\n  \
             The relation $\\sim$ is symmetric.\n\n@problem 1\n  Find $\\{x : x > 1\\}$.\n",
        );
    }

    #[test]
    fn balance_is_that_of_braces_environments_and_delimiters() {
        for tex in [
            r"\frac{a}{b}",
            r"\{ a \}",
            r"\left( \frac{a}{b} \right]",
            r"\begin{cases} a \\ b \end{cases}",
            r"\\{a}",
            r"\",
            "",
        ] {
            assert!(is_balanced(tex), "{tex}");
        }
        for tex in [
            r"\frac{a}{b",
            "a}",
            r"\left( a",
            r"\begin{cases} a",
            r"\begin{a} \end{b}",
            r"\left( { \right) }",
        ] {
            assert!(!is_balanced(tex), "{tex}");
        }
    }
}
