//! The outline of a file (LSP `textDocument/documentSymbol`).

use notes::{BlockKind, Content, FilePath, Located, Span};

use crate::{Analysis, words};

/// An entry of an outline.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Symbol {
    /// What it is called.
    pub name: String,
    /// A little more, in a few words; may be empty.
    pub detail: String,
    /// What it is.
    pub kind: SymbolKind,
    /// Everything that belongs to it.
    pub span: Span,
    /// Its name, inside `span`.
    pub selection: Span,
    /// What is below it.
    pub children: Vec<Symbol>,
}

/// What an entry of an outline is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SymbolKind {
    /// A block.
    Block(BlockKind),
    /// A heading of the prose.
    Heading,
}

/// The outline of a file: headings and blocks, with what follows a course, a topic, a paper or a
/// heading below it.
pub fn document_symbols(analysis: &Analysis, path: &FilePath) -> Vec<Symbol> {
    let Some(file) = analysis.notebook.file(path) else {
        return Vec::new();
    };
    // What is open at a place: the depth of each, and the symbol so far.
    let mut open: Vec<(u8, Symbol)> = Vec::new();
    let mut roots: Vec<Symbol> = Vec::new();
    let mut end = 0;
    for entry in file.entries() {
        let start = entry.start as usize;
        let next = match &entry.unit.content {
            Content::Block(block) => {
                let at = Located {
                    order: entry.order,
                    path,
                    file,
                    entry,
                    block,
                };
                let Some(kind) = block.kind else {
                    end = at.in_file(block.extent).end;
                    continue;
                };
                let depth = match kind {
                    BlockKind::Course => 0,
                    BlockKind::Topic | BlockKind::Paper => 1,
                    _ => LEAF,
                };
                let selection = if block.title.is_empty() {
                    block.header
                } else {
                    block.title
                };
                let symbol = Symbol {
                    name: words::cut(&words::title(&at), 80),
                    detail: detail(analysis, &at),
                    kind: SymbolKind::Block(kind),
                    span: at.in_file(block.extent),
                    selection: at.in_file(selection),
                    children: Vec::new(),
                };
                Some((depth, symbol))
            }
            Content::Heading { level, title } if !title.is_empty() => {
                let title = title.shifted(start);
                let symbol = Symbol {
                    name: words::cut(file.slice(title.range()).trim(), 80),
                    detail: String::new(),
                    kind: SymbolKind::Heading,
                    span: Span::new(start, title.end as usize),
                    selection: title,
                    children: Vec::new(),
                };
                // Headings stand below a topic, and below headings of a lower level.
                Some((1 + level, symbol))
            }
            _ => None,
        };
        let text_end = start
            + file
                .slice(start..start + entry.unit.len as usize)
                .trim_end()
                .len();
        if let Some((depth, symbol)) = next {
            close(&mut open, &mut roots, depth, end);
            open.push((depth, symbol));
        }
        end = end.max(text_end as u32);
    }
    close(&mut open, &mut roots, 0, end);
    roots
}

/// Deeper than any heading: a block that nothing stands below.
const LEAF: u8 = 10;

/// Closes what is open at `depth` or deeper, at byte `end`.
fn close(open: &mut Vec<(u8, Symbol)>, roots: &mut Vec<Symbol>, depth: u8, end: u32) {
    while open.last().is_some_and(|(d, _)| *d >= depth) {
        let Some((own_depth, mut symbol)) = open.pop() else {
            return;
        };
        if own_depth < LEAF {
            symbol.span.end = symbol.span.end.max(end);
        }
        match open.last_mut() {
            Some((_, parent)) => parent.children.push(symbol),
            None => roots.push(symbol),
        }
    }
}

fn detail(analysis: &Analysis, at: &Located<'_>) -> String {
    use notes::Key;
    let block = at.block;
    match block.kind {
        Some(BlockKind::Exam) => match block.moment(Key::On) {
            Some(on) => format!("{on}, {}", words::day_from(analysis.today(), on.date)),
            None => "no date".to_owned(),
        },
        Some(kind) if kind.is_practised() || kind == BlockKind::Question => {
            let line = block
                .statement
                .first()
                .map(|line| words::readable(at, *line));
            words::cut(&line.unwrap_or_default(), 60)
        }
        Some(BlockKind::Pattern) => {
            let cue = block
                .field(Key::Cue)
                .map(|field| words::readable(at, field.value_span));
            words::cut(&cue.unwrap_or_default(), 60)
        }
        _ => String::new(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    fn check(text: &str) -> String {
        fn print(symbols: &[Symbol], depth: usize, out: &mut String) {
            for symbol in symbols {
                let detail = if symbol.detail.is_empty() {
                    String::new()
                } else {
                    format!(" ({})", symbol.detail)
                };
                out.push_str(&format!("{}{}{detail}\n", "  ".repeat(depth), symbol.name));
                assert!(symbol.span.start <= symbol.selection.start);
                assert!(symbol.selection.end <= symbol.span.end, "{symbol:?}");
                for child in &symbol.children {
                    assert!(
                        symbol.span.start <= child.span.start && child.span.end <= symbol.span.end
                    );
                }
                print(&symbol.children, depth + 1, out);
            }
        }
        let fixture = notebook(text);
        let mut out = String::new();
        print(
            &document_symbols(fixture.analysis(), &FilePath::new("notes.porism")),
            0,
            &mut out,
        );
        out
    }

    #[test]
    fn topics_and_papers_hold_what_follows_them() {
        assert_eq!(
            check(
                "@course Analysis\n@exam Final\n  on: 2027-02-20\n@topic 1 Limits\n# Lecture\n\
                 @problem a\n  Find $\\frac{1}{2}$.\n@topic 2 Series\n@pattern ratio\n  cue: powers\n\
                 @paper P\n@question 1\n  Say it.\n"
            ),
            "Analysis\n  \
               Final (2027-02-20, in 5 days)\n  \
               1 Limits\n    Lecture\n      a (Find 1/2.)\n  \
               2 Series\n    ratio (powers)\n  \
               P\n    1 (Say it.)\n"
        );
    }

    #[test]
    fn half_typed_blocks_have_a_place() {
        assert_eq!(check("@problem\n@\n@pro\n#\n"), "unnamed problem\n");
    }
}
