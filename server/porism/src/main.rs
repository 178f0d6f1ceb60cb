//! The `porism` program.
fn main() {}
