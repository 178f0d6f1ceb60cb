//! Compiles the generated parser and the scanner.

fn main() {
    let mut build = cc::Build::new();
    build
        .std("c11")
        .include("src")
        .flag_if_supported("-Wno-unused-parameter");
    for file in ["src/parser.c", "src/scanner.c"] {
        build.file(file);
        println!("cargo:rerun-if-changed={file}");
    }
    build.compile("tree-sitter-porism");
}
