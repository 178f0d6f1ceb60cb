//! Writes `src/` anew from `grammar.js`: `cargo run -p porism-grammar --example generate`.

use std::error::Error;
use std::path::Path;

use tree_sitter_generate::{OptLevel, generate_parser_in_directory};

/// Debian's editors accept 13 and 14, current ones 13 to 15.
const ABI: usize = 14;

fn main() -> Result<(), Box<dyn Error>> {
    let mut diagnostics = Vec::new();
    generate_parser_in_directory(
        env!("CARGO_MANIFEST_DIR"),
        None::<&Path>,
        None::<&Path>,
        ABI,
        None,
        Some("native"),
        true,
        OptLevel::default(),
        &mut diagnostics,
    )?;
    match diagnostics.first() {
        Some(diagnostic) => Err(diagnostic.to_string().into()),
        None => Ok(()),
    }
}
