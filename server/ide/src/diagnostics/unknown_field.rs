use notes::name::nearest;
use notes::vocabulary::FIELDS;

use super::Severity;
use super::check::check;
use super::mark::{Change, Mark};
use super::scope::UnitScope;

check! {
    /// A line of a block reads like a field, but its key is none that this kind of block has.
    ///
    /// The line is taken as part of the block's text, so what it says is not used: no answer is
    /// judged by a misspelt `answer:`, a date in the wrong block is in no calendar.
    ///
    /// ```porism
    /// @problem 4.2
    ///   pattern: telescoping sum
    ///   Find $\sum_{n=1}^{\infty} \frac{1}{n(n+1)}$.
    ///   anwser: $1$
    /// ```
    ///
    /// Write the key as the format has it, or move the line to the block that has such a field. A
    /// word before a colon that is far from every key is left alone, as it is likely prose.
    UNKNOWN_FIELD = "unknown-field", Warning | Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((kind, at)) = unit.known() else {
        return;
    };
    for unknown in &at.block.unknown_fields {
        let typed = unit.text(unknown.key_span);
        let block = kind.word();
        if let Some(key) = unknown.elsewhere {
            let rules = FIELDS.iter().filter(|rule| rule.key == key);
            let mut having: Vec<String> = Vec::new();
            for kind in rules.flat_map(|rule| rule.kinds) {
                having.push(format!("@{}", kind.word()));
            }
            let message = format!(
                "`{typed}:` is a field of {}, not of @{block}, so this line counts as text.",
                listed(&having)
            );
            let mark = unit.mark(&UNKNOWN_FIELD, unknown.key_span, message);
            marks.push(mark.severity(Severity::Information));
        } else if let Some(near) = nearest(&typed, kind.fields().map(|rule| rule.key.word())) {
            let message = format!(
                "@{block} has no field `{typed}:`, so this line counts as text. Do you mean \
                 `{near}:`?"
            );
            let change = Change::Replace(unknown.key_span, near.to_owned());
            let mark = unit.mark(&UNKNOWN_FIELD, unknown.key_span, message);
            marks.push(mark.fix(format!("Write {near}:"), vec![change]));
        }
    }
}

fn listed(words: &[String]) -> String {
    match words {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    #[test]
    fn the_nearest_key_of_the_kind_is_named() {
        check(
            &UNKNOWN_FIELD,
            "
@problem 1
  hints: try a sum
  ^^^^^ warning: @problem has no field `hints:`, so this line counts as text. Do you mean `hint:`?
  covers: 1.1
  ^^^^^^ information: `covers:` is a field of @exam, not of @problem, so this line counts as text.
  cue: it has one
  ^^^ information: `cue:` is a field of @pattern, not of @problem, so this line counts as text.
",
        );
        let text = "@pattern p\n  reduce to: q\n";
        assert_eq!(
            fixed(&UNKNOWN_FIELD, "Write reduces to:", text),
            "@pattern p\n  reduces to: q\n"
        );
    }

    #[test]
    fn prose_with_a_colon_is_left_alone() {
        check(
            &UNKNOWN_FIELD,
            "@problem 1\n  Find the sum.\n  remember: both sides\n  note well: no table\n  \
             Two cases: $x = 0$, or not.\n  from: p. 3\n",
        );
    }
}
