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
