//! The `porism` program.
mod lsp;
fn main() {}
