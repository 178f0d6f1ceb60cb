//! Writes `src/` anew from `grammar.js`: `cargo run -p porism-grammar --example generate`.

use std::path::Path;
use std::process::ExitCode;

use tree_sitter_generate::{OptLevel, generate_parser_in_directory};

/// Debian's editors accept 13 and 14, current ones 13 to 15.
const ABI: usize = 14;

fn main() -> ExitCode {
    let grammar = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut diagnostics = Vec::new();
    let result = generate_parser_in_directory(
        grammar,
        None::<&Path>,
        None::<&Path>,
        ABI,
        std::env::args().nth(1).as_deref(),
        Some("native"),
        true,
        OptLevel::default(),
        &mut diagnostics,
    );
    for diagnostic in &diagnostics {
        eprintln!("{diagnostic}");
    }
    match result {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("{error}");
            ExitCode::FAILURE
        }
    }
}
