//! The tree-sitter grammar of Porism notes.
