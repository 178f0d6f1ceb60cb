//! Each case of `test/corpus` parses to the tree it shows. The files have the format
//! of `tree-sitter test`.

use std::fs;
use std::path::{Path, PathBuf};

use crate::tree::{assert_total, parse, s_expression};

#[derive(Debug, PartialEq, Eq)]
struct Case {
    name: String,
    text: Vec<u8>,
    tree: String,
}

fn is_rule(line: &[u8], mark: u8) -> bool {
    let line = line.trim_ascii_end();
    line.len() >= 3 && line.iter().all(|&byte| byte == mark)
}

/// A header between two rules of `=`, then the text, a rule of `-` and the tree. The
/// text ends in front of the end of line above the rule.
fn cases(file: &[u8]) -> Vec<Case> {
    let lines: Vec<&[u8]> = file.split_inclusive(|&byte| byte == b'\n').collect();
    let mut cases = Vec::new();
    let mut rest = &lines[..];
    while let Some(start) = rest.iter().position(|line| is_rule(line, b'=')) {
        let name = String::from_utf8_lossy(rest[start + 1]).trim().to_owned();
        assert!(
            is_rule(rest[start + 2], b'='),
            "no rule under the name {name:?}"
        );
        rest = &rest[start + 3..];
        let end = rest
            .iter()
            .position(|line| is_rule(line, b'-'))
            .unwrap_or_else(|| panic!("no rule of dashes in {name:?}"));
        let mut text = rest[..end].concat();
        text.pop();
        if text.last() == Some(&b'\r') {
            text.pop();
        }
        rest = &rest[end + 1..];
        let next = rest.iter().position(|line| is_rule(line, b'='));
        let tree = rest[..next.unwrap_or(rest.len())].concat();
        rest = &rest[next.unwrap_or(rest.len())..];
        cases.push(Case {
            name,
            text,
            tree: one_line(&String::from_utf8_lossy(&tree)),
        });
    }
    cases
}

fn one_line(tree: &str) -> String {
    let words: Vec<&str> = tree.split_whitespace().collect();
    words.join(" ").replace(" )", ")")
}

fn corpus() -> Vec<PathBuf> {
    let directory = Path::new(env!("CARGO_MANIFEST_DIR")).join("test/corpus");
    let mut files: Vec<PathBuf> = fs::read_dir(directory)
        .expect("the corpus is a directory")
        .map(|entry| entry.expect("an entry of the corpus can be read").path())
        .collect();
    files.sort();
    files
}

#[test]
fn corpus_cases_parse_to_their_trees() {
    let mut failures = Vec::new();
    let mut count = 0;
    for path in corpus() {
        let file = fs::read(&path).expect("a file of the corpus can be read");
        let cases = cases(&file);
        assert!(!cases.is_empty(), "no case in {}", path.display());
        for Case { name, text, tree } in cases {
            count += 1;
            let parsed = parse(&text);
            assert_total(&parsed, &text);
            let found = s_expression(parsed.root_node());
            if one_line(&found) != tree {
                failures.push(format!("{}: {name}\n{found}", path.display()));
            }
        }
    }
    assert!(
        failures.is_empty(),
        "{} of {count} cases gave another tree:\n\n{}",
        failures.len(),
        failures.join("\n\n")
    );
}

#[test]
fn a_case_is_read_to_the_byte() {
    assert_eq!(
        cases(b"====\nName\n====\na\r\n\n---\n\n(b\n  (c))\n\n====\nNext\n====\nx\n---\n(y)\n"),
        [
            Case {
                name: "Name".into(),
                text: b"a\r\n".into(),
                tree: "(b (c))".into(),
            },
            Case {
                name: "Next".into(),
                text: b"x".into(),
                tree: "(y)".into(),
            },
        ]
    );
}
