use notes::{BlockKind, Key, NamedThing, Notebook};

use super::check::check;
use super::mark::{Mark, Part};
use crate::starter;

check! {
    /// A pattern is defined, but no problem names it.
    ///
    /// There is nothing to practise it with, and no try can count for it: its estimate stays a
    /// guess from the rest of the course.
    ///
    /// ```porism
    /// @pattern reduction of order
    ///   cue: one solution is given
    ///   method: put y = u times the given one
    /// ```
    ///
    /// Add a problem of the kind, or name the pattern in one that you have. Nothing is said of a
    /// pattern of the starter set that belongs to no topic: it stands ready for a problem that fits.
    UNUSED_PATTERN = "unused-pattern", Information
}

pub(super) fn check(notebook: &Notebook, thing: &NamedThing, marks: &mut Vec<Mark>) {
    if thing.kind != BlockKind::Pattern {
        return;
    }
    let Some(at) = notebook.definition(thing) else {
        return;
    };
    if starter::has(&at.block.name) && notebook.topic_of(&at).is_none() {
        return;
    }
    let is_used = notebook.references(thing).any(|site| {
        notebook.block(&site.unit).is_some_and(|at| {
            let practised = at.block.kind.is_some_and(BlockKind::is_practised);
            practised
                && at
                    .block
                    .fields
                    .get(site.field)
                    .is_some_and(|f| f.key == Key::Pattern)
        })
    });
    if !is_used {
        let message = "No problem names this pattern yet, so there is nothing to practise it with.";
        marks.push(UNUSED_PATTERN.mark(&at.id(), Part::Header, message));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_pattern_that_only_patterns_name_is_marked() {
        check(
            &UNUSED_PATTERN,
            "
@pattern exact
^^^^^^^^^^^^^^ information: No problem names this pattern yet, so there is nothing to practise it with.

@pattern separable
  confused with: exact

@problem 1
  pattern: separable
",
        );
    }

    #[test]
    fn a_theorem_uses_the_pattern_of_its_proof() {
        check(
            &UNUSED_PATTERN,
            "@pattern induction\n\n@theorem T\n  pattern: Induction\n",
        );
    }
}
