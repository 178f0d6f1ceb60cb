use notes::value::Value;
use notes::{BlockKind, Key};

use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// Nothing stands behind the colon of a field.
    ///
    /// An empty field says nothing; it is the same as no field at all.
    ///
    /// ```porism
    /// @topic 1.4 First-order linear equations
    ///   learned:
    /// ```
    ///
    /// Fill it in, or take the line out. The blanks of a drawn paper, `mine:` and `mark:`, are there
    /// to be filled in and are not marked.
    EMPTY_VALUE = "empty-value", Hint
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((kind, at)) = unit.known() else {
        return;
    };
    for field in at
        .block
        .fields
        .iter()
        .filter(|field| field.value == Value::Empty)
    {
        // Checks of their own speak of these.
        let spoken_of = matches!(
            (kind, field.key),
            (BlockKind::Problem, Key::Pattern)
                | (BlockKind::Exam, Key::On | Key::Covers)
                | (BlockKind::Paper, Key::Started | Key::Finished)
                | (BlockKind::Question, Key::Mine | Key::Mark | Key::Pattern)
        );
        if spoken_of {
            continue;
        }
        let rule = kind.field(field.key);
        let message = match rule {
            Some(rule) => format!(
                "Nothing stands behind `{}:` yet; expected {}.",
                field.key.word(),
                rule.value.expected()
            ),
            None => format!("Nothing stands behind `{}:` yet.", field.key.word()),
        };
        marks.push(unit.mark(&EMPTY_VALUE, field.key_span, message));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn an_empty_field_is_a_hint() {
        check(
            &EMPTY_VALUE,
            "
@topic 1
  learned:
  ^^^^^^^ hint: Nothing stands behind `learned:` yet; expected no, partly or yes.
  pages: 3-9
",
        );
    }

    #[test]
    fn blanks_of_a_paper_and_values_on_the_next_line_are_not_marked() {
        check(
            &EMPTY_VALUE,
            "@theorem T\n  proof:\n    By induction.\n\n@question 1\n  mine:\n  mark:\n",
        );
    }
}
