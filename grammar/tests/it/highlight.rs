//! The colours of `test/highlight`, whose comments have the format of `tree-sitter test`:
//! carets below what has a colour, or `<-` for the column of the comment itself.

use std::fs;
use std::path::Path;

use porism_grammar::{HIGHLIGHTS_QUERY, INJECTIONS_QUERY, LANGUAGE, LOCALS_QUERY};
use tree_sitter_highlight::{HighlightConfiguration, HighlightEvent, Highlighter};

/// The name of the innermost colour of each byte.
fn colours(text: &str) -> Vec<Option<String>> {
    let mut configuration = HighlightConfiguration::new(
        LANGUAGE.into(),
        "porism",
        HIGHLIGHTS_QUERY,
        INJECTIONS_QUERY,
        LOCALS_QUERY,
    )
    .expect("the queries fit the grammar");
    let names: Vec<String> = configuration
        .query
        .capture_names()
        .iter()
        .map(|&name| name.to_owned())
        .collect();
    configuration.configure(&names);
    let mut colours = vec![None; text.len()];
    let mut open = Vec::new();
    let mut highlighter = Highlighter::new();
    let events = highlighter
        .highlight(&configuration, text.as_bytes(), None, None, |_| None)
        .expect("the text can be parsed");
    for event in events {
        match event.expect("nothing cancels") {
            HighlightEvent::HighlightStart(colour) => open.push(names[colour.0].clone()),
            HighlightEvent::HighlightEnd => {
                open.pop();
            }
            HighlightEvent::Source { start, end } => {
                colours[start..end].fill(open.last().cloned());
            }
        }
    }
    colours
}

#[derive(Debug)]
struct Assertion {
    columns: std::ops::Range<usize>,
    is_negative: bool,
    name: String,
}

fn assertion(line: &str) -> Option<Assertion> {
    let comment = line.find(|character: char| !character.is_whitespace())?;
    let rest = line[comment..].strip_prefix('%')?;
    let marks = rest.trim_start();
    let column = line.len() - marks.len();
    let (columns, rest) = match marks.strip_prefix("<-") {
        Some(rest) => (comment..comment + 1, rest),
        None => {
            let rest = marks.trim_start_matches('^');
            (column..column + marks.len() - rest.len(), rest)
        }
    };
    let name = rest.trim();
    (!columns.is_empty() && !name.is_empty()).then(|| Assertion {
        columns,
        is_negative: name.starts_with('!'),
        name: name.trim_start_matches('!').to_owned(),
    })
}

fn check(path: &Path) {
    let text = fs::read_to_string(path).expect("the file can be read");
    let colours = colours(&text);
    let mut count = 0;
    let mut start = 0;
    let mut above = 0..0;
    for (index, line) in text.split_inclusive('\n').enumerate() {
        if let Some(Assertion {
            columns,
            is_negative,
            name,
        }) = assertion(line)
        {
            count += 1;
            for column in columns {
                let byte = above.start + column;
                let place = format!("{}:{}: column {column}", path.display(), index + 1);
                assert!(byte < above.end, "{place}: the line above is shorter");
                let found = colours[byte].as_deref();
                assert!(
                    found.is_some() && (found == Some(&name)) != is_negative,
                    "{place}: found {found:?}, expected {name:?}"
                );
            }
        } else {
            above = start..start + line.trim_end().len();
        }
        start += line.len();
    }
    assert!(count > 0, "no assertion in {}", path.display());
}

#[test]
fn blocks_have_their_colours() {
    check(&Path::new(env!("CARGO_MANIFEST_DIR")).join("test/highlight/blocks.porism"));
}

#[test]
fn prose_has_its_colours() {
    check(&Path::new(env!("CARGO_MANIFEST_DIR")).join("test/highlight/prose.porism"));
}

#[test]
fn plain_text_has_no_colour() {
    let text =
        "Costs $5 and $6 at 85%.\n  on: is no field here\n@problem\n  Solve.\n  on: Monday\n";
    let mut plain = String::new();
    for (character, colour) in text.chars().zip(colours(text)) {
        let is_kept = colour.is_none() || character == '\n';
        plain.push(if is_kept { character } else { '_' });
    }
    assert_eq!(
        plain,
        "Costs $5 and $6 at 85%.\n  on: is no field here\n________\n  Solve.\n  ___ Monday\n"
    );
}
