use notes::BlockKind;
use notes::name::nearest;

use super::Severity;
use super::check::check;
use super::mark::{Change, Mark, Part};
use super::scope::UnitScope;

check! {
    /// The word behind `@` names no kind of block.
    ///
    /// A block of an unknown kind is kept as it stands, but nothing is known about it: it is not
    /// planned, not drawn and not counted.
    ///
    /// ```porism
    /// @porblem 3.1
    ///   Solve $y' = 3y$.
    /// ```
    ///
    /// The kinds are `@course`, `@exam`, `@topic`, `@pattern`, `@problem`, `@theorem`,
    /// `@definition`, `@paper` and `@question`, in lower case. If you mean an `@` at the start of
    /// a line of prose, write `\@`. A word that may still become a kind is a hint only.
    UNKNOWN_KIND = "unknown-kind", Warning | Hint
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block().filter(|block| block.kind.is_none()) else {
        return;
    };
    let kinds = BlockKind::ALL.map(BlockKind::word);
    let typed = unit.text(block.kind_span);
    if typed.is_empty() {
        let message = format!(
            "`@` opens a block: {} or {}.",
            kinds[..8].join(", "),
            kinds[8]
        );
        marks.push(
            unit.mark(&UNKNOWN_KIND, Part::Header, message)
                .severity(Severity::Hint),
        );
        return;
    }
    let lower = typed.to_lowercase();
    let is = kinds.into_iter().find(|kind| *kind == lower);
    let begins = kinds.into_iter().find(|kind| kind.starts_with(&lower));
    let near = is.or(begins).or_else(|| nearest(&lower, kinds));
    let message = match near {
        Some(near) if is.is_some() => {
            format!("`@{typed}` is no kind of block: kinds are in lower case, `@{near}`.")
        }
        Some(near) => format!("`@{typed}` is no kind of block. Do you mean `@{near}`?"),
        None => format!(
            "`@{typed}` is no kind of block. The kinds are {} and {}; for an @ in prose write \\@.",
            kinds[..8].join(", "),
            kinds[8]
        ),
    };
    let mut mark = unit.mark(&UNKNOWN_KIND, block.kind_span, message);
    if is.is_none() && begins.is_some() {
        mark = mark.severity(Severity::Hint);
    }
    if let Some(near) = near {
        let change = Change::Replace(block.kind_span, near.to_owned());
        mark = mark.fix(format!("Write @{near}"), vec![change]);
    }
    marks.push(mark);
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    #[test]
    fn the_nearest_kind_is_named() {
        check(
            &UNKNOWN_KIND,
            "
@porblem 1
 ^^^^^^^ warning: `@porblem` is no kind of block. Do you mean `@problem`?

@Exam Final
 ^^^^ warning: `@Exam` is no kind of block: kinds are in lower case, `@exam`.

@remark
 ^^^^^^ warning: `@remark` is no kind of block. The kinds are course, exam, topic, pattern, problem, theorem, definition, paper and question; for an @ in prose write \\@.
",
        );
        assert_eq!(
            fixed(&UNKNOWN_KIND, "Write @problem", "@porblem 1\n"),
            "@problem 1\n"
        );
    }

    #[test]
    fn a_kind_being_typed_is_a_hint() {
        check(
            &UNKNOWN_KIND,
            "
@
^ hint: `@` opens a block: course, exam, topic, pattern, problem, theorem, definition, paper or question.

@pro
 ^^^ hint: `@pro` is no kind of block. Do you mean `@problem`?
",
        );
    }

    #[test]
    fn kinds_and_prose_are_not_marked() {
        check(
            &UNKNOWN_KIND,
            "@problem 1\n\n\\@home we say so\n\nmail me@example.org\n",
        );
    }
}
