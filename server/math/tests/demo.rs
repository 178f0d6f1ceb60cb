//! Every problem of the demo notebook that is tagged with a pattern has one of the pattern's
//! shapes, if the pattern has any.

#![expect(
    clippy::disallowed_methods,
    reason = "the demo notebook is read from its files"
)]

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use porism_math::problem::{self, Part};
use porism_math::shape::{self, Shape};

/// The fields of a block that are not its statement.
const FIELDS: [&str; 14] = [
    "from", "pattern", "topic", "points", "hint", "hints", "answer", "solution", "tried",
    "spotted", "shape", "cue", "method", "fresh",
];

/// Problems that are of a kind only after work that is no law: the determinant becomes triangular
/// by two row moves.
const EXPLAINED: [(&str, &str); 1] = [("2.1.7", "triangular determinant")];

#[derive(Default)]
struct Block {
    title: String,
    fields: Vec<(String, String)>,
    statement: String,
}

fn blocks(text: &str, kind: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut inside = false;
    for line in text.lines() {
        if !line.starts_with(char::is_whitespace) && !line.is_empty() {
            let title = line.strip_prefix(kind).filter(|rest| rest.starts_with(' '));
            inside = title.is_some();
            if let Some(title) = title {
                blocks.push(Block {
                    title: title.trim().to_lowercase(),
                    ..Block::default()
                });
            }
            continue;
        }
        let Some(block) = blocks.last_mut().filter(|_| inside) else {
            continue;
        };
        let depth = line.len() - line.trim_start().len();
        let line = line.trim();
        if line.is_empty() {
            continue;
        }
        if depth > 2 && !block.fields.is_empty() {
            // More of the field above.
            continue;
        }
        match line.split_once(": ") {
            Some((key, value)) if FIELDS.contains(&key) => {
                block.fields.push((key.to_owned(), value.to_owned()));
            }
            _ if line.starts_with('%') => {}
            _ => block.statement += &format!("{line}\n"),
        }
    }
    blocks
}

fn values<'a>(block: &'a Block, key: &'a str) -> impl Iterator<Item = &'a str> {
    let fields = block.fields.iter().filter(move |(found, _)| found == key);
    fields.map(|(_, value)| value.as_str())
}

fn files(folder: &Path, found: &mut Vec<PathBuf>) {
    let mut entries: Vec<PathBuf> = std::fs::read_dir(folder)
        .expect("the demo's folder")
        .map(|entry| entry.expect("an entry of the folder").path())
        .collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            files(&path, found);
        } else if path
            .extension()
            .is_some_and(|extension| extension == "porism")
        {
            found.push(path);
        }
    }
}

fn read(statement: &str) -> problem::Problem {
    let pieces = statement.split('$').enumerate();
    let parts: Vec<Part<'_>> = pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect();
    problem::read(&parts)
}

#[test]
fn problems_have_the_shapes_they_are_tagged_with() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo");
    let mut found = Vec::new();
    files(&demo, &mut found);
    let texts: Vec<String> = found
        .iter()
        .map(|path| std::fs::read_to_string(path).expect("a file of the demo"))
        .collect();
    let mut shapes: BTreeMap<String, Vec<Shape>> = BTreeMap::new();
    for block in texts.iter().flat_map(|text| blocks(text, "@pattern")) {
        for written in values(&block, "shape") {
            let (shape, diagnostics) = shape::read(written);
            assert!(diagnostics.is_empty(), "{written}: {diagnostics:?}");
            shapes.entry(block.title.clone()).or_default().push(shape);
        }
    }
    assert!(shapes.len() > 10, "the demo has patterns with shapes");
    let mut count = 0;
    let mut missing = Vec::new();
    for block in texts.iter().flat_map(|text| blocks(text, "@problem")) {
        let problem = read(&block.statement);
        let names = values(&block, "pattern").flat_map(|names| names.split(','));
        for name in names.map(|name| name.trim().to_lowercase()) {
            let Some(shapes) = shapes.get(&name) else {
                continue;
            };
            count += 1;
            if EXPLAINED.contains(&(block.title.as_str(), name.as_str())) {
                continue;
            }
            if !shapes
                .iter()
                .any(|shape| shape::matches(shape, &problem).is_some())
            {
                missing.push(format!(
                    "{} {name}: {}",
                    block.title,
                    block.statement.trim()
                ));
            }
        }
    }
    assert!(count > 100, "{count} problems are tagged");
    assert!(
        missing.is_empty(),
        "{} of {count}:\n{}",
        missing.len(),
        missing.join("\n")
    );
}
