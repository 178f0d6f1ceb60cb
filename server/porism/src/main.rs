//! The `porism` program.
mod files;
mod lsp;
fn main() {}
