use notes::value::Value;
use notes::{FaultKind, Field};

use super::check::check;
use super::mark::{Change, Mark, Part};
use super::scope::UnitScope;

check! {
    /// A field that may stand once stands twice in a block.
    ///
    /// Only the first is used, so what the second says is lost without a word.
    ///
    /// ```porism
    /// @exam Oral exam
    ///   on: 2027-06-14
    ///   covers: 1
    ///   on: 2027-06-16
    /// ```
    ///
    /// Keep one of the two. Names that belong together stand in one field, separated by commas.
    FIELD_TWICE = "field-twice", Warning
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block() else { return };
    let twice = unit
        .entry
        .unit
        .faults
        .iter()
        .filter(|f| f.kind == FaultKind::FieldTwice);
    for fault in twice {
        let second = block
            .fields
            .iter()
            .find(|field| field.key_span == fault.span);
        let Some(second) = second else { continue };
        let Some(first) = block.field(second.key) else {
            continue;
        };
        let word = second.key.word();
        let message = format!("`{word}:` stands twice in this block; only the first is used.");
        let mut mark = unit.mark(&FIELD_TWICE, second.key_span, message).related(
            unit.id,
            Part::Bytes(first.key_span),
            "the first",
        );
        if let (Value::Names(..), Value::Names(..)) = (&first.value, &second.value) {
            let added = format!(", {}", unit.text(second.value_span));
            mark = mark.fix(
                format!("Join the two `{word}:` into one"),
                vec![
                    Change::Replace(notes::Span::at(first.value_span.end as usize), added),
                    Change::RemoveLines(lines_of(second)),
                ],
            );
        }
        marks.push(mark.fix(
            format!("Delete the second `{word}:`"),
            vec![Change::RemoveLines(lines_of(second))],
        ));
    }
}

fn lines_of(field: &Field) -> notes::Span {
    field.key_span.joined(field.value_span)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    #[test]
    fn the_second_is_marked() {
        check(
            &FIELD_TWICE,
            "
@exam Final
  on: 2027-06-14
  on: 2027-06-16
  ^^ warning: `on:` stands twice in this block; only the first is used. [notes.porism \"on\": the first]
",
        );
    }

    #[test]
    fn two_lists_of_names_can_be_joined() {
        let text = "@problem 1\n  pattern: a\n  Solve.\n  pattern: b,\n    c\n  points: 3\n";
        assert_eq!(
            fixed(&FIELD_TWICE, "Join the two `pattern:` into one", text),
            "@problem 1\n  pattern: a, b,\n    c\n  Solve.\n  points: 3\n"
        );
        assert_eq!(
            fixed(&FIELD_TWICE, "Delete the second `pattern:`", text),
            "@problem 1\n  pattern: a\n  Solve.\n  points: 3\n"
        );
    }

    #[test]
    fn a_field_that_may_repeat_is_not_marked() {
        check(
            &FIELD_TWICE,
            "@problem 1\n  tried: 2027-02-01 right\n  tried: 2027-02-02 right\n",
        );
    }
}
