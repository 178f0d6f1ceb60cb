//! The tree-sitter grammar of Porism notes.
//!
//! The grammar is total: every text gives a tree without ERROR and MISSING nodes,
//! as long as it holds no NUL character. Map NUL to another one-byte character
//! before parsing, because the generated lexer takes it for the end of the text.
//!
//! A text is a sequence of *units*: a line that starts in column 0 and what
//! belongs to it. [`unit_starts`] and [`next_unit_start`] find them without a parse.

mod units;

use tree_sitter_language::LanguageFn;

pub use units::{next_unit_start, unit_starts};

#[expect(unsafe_code, reason = "the generated parser is a C function")]
mod parser {
    use super::LanguageFn;

    unsafe extern "C" {
        fn tree_sitter_porism() -> *const ();
    }

    /// The language, for `tree_sitter::Language::new` or `Language::from`.
    // SAFETY: the function is compiled from the generated `src/parser.c` and gives a
    // pointer to a static language.
    pub const LANGUAGE: LanguageFn = unsafe { LanguageFn::from_raw(tree_sitter_porism) };
}

pub use parser::LANGUAGE;

/// Types of nodes, their fields and children, as JSON.
pub const NODE_TYPES: &str = include_str!("../../src/node-types.json");

/// Captures for colours.
pub const HIGHLIGHTS_QUERY: &str = include_str!("../../queries/highlights.scm");

/// `@fold` on what can be folded.
pub const FOLDS_QUERY: &str = include_str!("../../queries/folds.scm");

/// TeX as `latex`.
pub const INJECTIONS_QUERY: &str = include_str!("../../queries/injections.scm");

/// Scopes, definitions and references.
pub const LOCALS_QUERY: &str = include_str!("../../queries/locals.scm");

/// Definitions and references for an index of names.
pub const TAGS_QUERY: &str = include_str!("../../queries/tags.scm");
