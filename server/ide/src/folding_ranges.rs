//! What can be folded away in a file (LSP `textDocument/foldingRange`).

use notes::{BlockKind, Content, FilePath, Span};

use crate::Analysis;

/// A part of a file that can be folded.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Fold {
    /// From the first byte that stays visible on its line to the end of the last folded line.
    pub span: Span,
    /// What it is.
    pub kind: FoldKind,
}

/// What a fold holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FoldKind {
    /// Notes or a block.
    Region,
    /// Comments.
    Comment,
}

/// The folds of a file: blocks of several lines, long fields, display formulas, what stands below
/// a heading, a topic, a paper or a course, and runs of comment lines. Only parts of more than one
/// line fold.
pub fn folding_ranges(analysis: &Analysis, path: &FilePath) -> Vec<Fold> {
    let Some(file) = analysis.notebook.file(path) else {
        return Vec::new();
    };
    let text = file.text();
    let mut folds = Vec::new();
    let mut add = |start: usize, end: usize, kind| {
        let end = end.min(text.len_bytes());
        if end > start && text.byte_to_line(start) < text.byte_to_line(end) {
            folds.push(Fold {
                span: Span::new(start, end),
                kind,
            });
        }
    };
    let mut sections: Vec<(u8, usize)> = Vec::new();
    let mut comments: Option<(usize, usize)> = None;
    let mut end = 0;
    for entry in file.entries() {
        let start = entry.start as usize;
        let text_end = start
            + file
                .slice(start..start + entry.unit.len as usize)
                .trim_end()
                .len();
        if entry.unit.content == Content::Comment {
            comments = Some((comments.map_or(start, |(first, _)| first), text_end));
        } else if let Some((first, last)) = comments.take() {
            add(first, last, FoldKind::Comment);
        }
        let depth = match &entry.unit.content {
            Content::Block(block) => match block.kind {
                Some(BlockKind::Course) => Some(0),
                Some(BlockKind::Topic | BlockKind::Paper) => Some(1),
                _ => None,
            },
            Content::Heading { level, .. } => Some(1 + level),
            _ => None,
        };
        if let Some(depth) = depth {
            while let Some((_, first)) = sections.pop_if(|(d, _)| *d >= depth) {
                add(first, end, FoldKind::Region);
            }
            sections.push((depth, start));
        }
        if let Content::Block(block) = &entry.unit.content {
            // A section's own fold holds its block.
            if depth.is_none() {
                add(
                    start,
                    block.extent.shifted(start).end as usize,
                    FoldKind::Region,
                );
            }
            for field in &block.fields {
                let span = field.key_span.joined(field.value_span).shifted(start);
                add(span.start as usize, span.end as usize, FoldKind::Region);
            }
        }
        for formula in entry.unit.formulas.iter().filter(|formula| formula.display) {
            let whole = formula.whole.shifted(start);
            add(whole.start as usize, whole.end as usize, FoldKind::Region);
        }
        end = text_end;
    }
    if let Some((first, last)) = comments {
        add(first, last, FoldKind::Comment);
    }
    while let Some((_, first)) = sections.pop() {
        add(first, end, FoldKind::Region);
    }
    folds.sort();
    folds.dedup();
    folds
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    /// Prints each fold as its first and last line.
    fn check(text: &str) -> Vec<String> {
        let fixture = notebook(text);
        let path = FilePath::new("notes.porism");
        let text = &fixture.files[&path];
        let line = |at: u32| {
            let start = text[..at as usize].rfind('\n').map_or(0, |at| at + 1);
            text[start..].lines().next().unwrap_or("").trim().to_owned()
        };
        folding_ranges(fixture.analysis(), &path)
            .iter()
            .map(|fold| {
                format!(
                    "{} .. {} {:?}",
                    line(fold.span.start),
                    line(fold.span.end),
                    fold.kind
                )
            })
            .collect()
    }

    #[test]
    fn blocks_fields_sections_and_comments_fold() {
        assert_eq!(
            check(
                "% one\n% two\n@topic 1\n# Lecture\nprose\n@theorem T\n  Let it be.\n  proof:\n    \
                 First.\n    Last.\n\n@topic 2\n@problem p\n"
            ),
            [
                "% one .. % two Comment",
                "@topic 1 .. Last. Region",
                "# Lecture .. Last. Region",
                "@theorem T .. Last. Region",
                "proof: .. Last. Region",
                "@topic 2 .. @problem p Region",
            ]
        );
    }
}
