//! The files of `src/` are those that `grammar.js` gives.

use std::fs;
use std::path::Path;

use tree_sitter_generate::{OptLevel, generate_parser_in_directory};

/// As in `examples/generate.rs`.
const ABI: usize = 14;

const GENERATED: [&str; 6] = [
    "grammar.json",
    "node-types.json",
    "parser.c",
    "tree_sitter/alloc.h",
    "tree_sitter/array.h",
    "tree_sitter/parser.h",
];

#[test]
fn generated_files_are_fresh() {
    let grammar = Path::new(env!("CARGO_MANIFEST_DIR"));
    let fresh = Path::new(env!("CARGO_TARGET_TMPDIR")).join("porism-grammar-src");
    let mut diagnostics = Vec::new();
    generate_parser_in_directory(
        grammar,
        Some(&fresh),
        None::<&Path>,
        ABI,
        None,
        Some("native"),
        true,
        OptLevel::default(),
        &mut diagnostics,
    )
    .expect("the grammar has no conflict");
    assert_eq!(diagnostics, []);
    for file in GENERATED {
        let read = |directory: &Path| fs::read(directory.join(file)).expect("the file is there");
        assert!(
            read(&fresh) == read(&grammar.join("src")),
            "src/{file} is stale: run `cargo run -p porism-grammar --example generate`"
        );
    }
}

#[test]
fn the_language_has_the_abi_that_editors_read() {
    let language = tree_sitter::Language::from(porism_grammar::LANGUAGE);
    assert_eq!(language.abi_version(), ABI);
}
