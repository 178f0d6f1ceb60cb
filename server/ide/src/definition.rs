//! Where a name is defined (LSP `textDocument/definition`).

use notes::{FilePath, Span};

use crate::Analysis;
use crate::named::named_at;

/// A place in the notebook.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Place {
    /// The file.
    pub path: FilePath,
    /// The whole block.
    pub block: Span,
    /// The name in it, or the header where the name is empty.
    pub name: Span,
}

/// A definition found from a name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Definition {
    /// The name under the cursor.
    pub origin: Span,
    /// The blocks that define it: one, unless it is defined twice.
    pub places: Vec<Place>,
}

/// Finds the blocks that define the name at a byte of a file. Blocks that only set the context
/// again, a `@topic` without a body say, are left out when another says more.
pub fn definition(analysis: &Analysis, path: &FilePath, offset: usize) -> Option<Definition> {
    let notebook = &analysis.notebook;
    let named = named_at(notebook, path, offset)?;
    let all: Vec<_> = notebook.definitions(&named.thing).collect();
    let says =
        |at: &&notes::Located<'_>| !at.block.fields.is_empty() || !at.block.statement.is_empty();
    let mut chosen: Vec<_> = all.iter().filter(says).collect();
    if chosen.is_empty() {
        chosen = all.iter().take(1).collect();
    }
    let places: Vec<Place> = chosen.into_iter().map(place).collect();
    (!places.is_empty()).then_some(Definition {
        origin: named.span,
        places,
    })
}

/// The place of a block.
pub(crate) fn place(at: &notes::Located<'_>) -> Place {
    let name = if at.block.title.is_empty() {
        at.block.header
    } else {
        at.block.title
    };
    Place {
        path: at.path.clone(),
        block: at.in_file(at.block.extent),
        name: at.in_file(name),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    /// Prints the name under the cursor and the lines that define it.
    fn check(text: &str) -> String {
        let fixture = notebook(text);
        let (path, offset) = fixture.cursor();
        let Some(found) = definition(fixture.analysis(), path, offset) else {
            return "nothing".to_owned();
        };
        let origin = &fixture.files[path][found.origin.range()];
        let places = found.places.iter().map(|place| {
            let text = &fixture.files[&place.path];
            format!(
                "{}: {}",
                place.path,
                text[place.block.range()].lines().next().unwrap_or("")
            )
        });
        format!("{origin} -> {}", places.collect::<Vec<_>>().join(", "))
    }

    #[test]
    fn a_pattern_is_found_from_a_problem() {
        assert_eq!(
            check(
                "@problem 1\n  pattern: exact, sep<|>arable\n\
                 === other.porism\n@pattern Separable\n  cue: y apart from x\n"
            ),
            "separable -> other.porism: @pattern Separable"
        );
    }

    #[test]
    fn both_ends_of_a_range_of_topics_are_names() {
        let text = "@topic 1.1 A\n@topic 1.5 B\n@exam E\n  covers: ";
        assert_eq!(
            check(&format!("{text}1.<|>1 .. 1.5\n")),
            "1.1 -> notes.porism: @topic 1.1 A"
        );
        assert_eq!(
            check(&format!("{text}1.1 .. 1.<|>5\n")),
            "1.5 -> notes.porism: @topic 1.5 B"
        );
    }

    #[test]
    fn a_question_finds_the_theorem_it_was_drawn_from() {
        assert_eq!(
            check(
                "@theorem Rolle\n  Let $f$ be continuous.\n@paper P\n@question 1\n  of: ro<|>lle\n"
            ),
            "rolle -> notes.porism: @theorem Rolle"
        );
    }

    #[test]
    fn a_line_that_only_sets_the_context_is_no_rival() {
        assert_eq!(
            check("@topic 1.1 A\n  learned: no\n@topic 1.1\n@exam E\n  covers: 1<|>.1\n"),
            "1.1 -> notes.porism: @topic 1.1 A"
        );
    }

    #[test]
    fn what_is_not_defined_is_not_found() {
        assert_eq!(check("@problem 1\n  pattern: no<|>ne\n"), "nothing");
        assert_eq!(check("prose <|>\n"), "nothing");
    }
}
