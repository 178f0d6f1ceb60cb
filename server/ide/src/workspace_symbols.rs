//! Finding a block of the notebook by part of its name (LSP `workspace/symbol`).

use notes::{BlockKind, FilePath, Span};

use crate::{Analysis, words};

/// A block found by name.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FoundSymbol {
    /// Its title.
    pub name: String,
    /// What it is.
    pub kind: BlockKind,
    /// The course it belongs to, as it is compared; may be empty.
    pub container: String,
    /// Its file.
    pub path: FilePath,
    /// Its title in the file, or its header.
    pub span: Span,
}

/// The named blocks whose name holds the letters of `query` in order, whatever the case: whole
/// names first, then names that start with it, then names that hold it, then the rest; in reading
/// order among equals. An empty query finds every block but problems and questions, of which a
/// notebook may have thousands.
pub fn workspace_symbols(analysis: &Analysis, query: &str) -> Vec<FoundSymbol> {
    let notebook = &analysis.notebook;
    let query = query.to_lowercase();
    let mut found = Vec::new();
    for course in notebook.courses() {
        for kind in BlockKind::ALL {
            let many = matches!(kind, BlockKind::Problem | BlockKind::Question);
            if query.is_empty() && many {
                continue;
            }
            for at in notebook.of_kind(&course, kind) {
                let name = at.block.name.as_str();
                let Some(rank) = rank(name, &query) else {
                    continue;
                };
                if name.is_empty() {
                    continue;
                }
                let symbol = FoundSymbol {
                    name: words::title(&at),
                    kind,
                    container: course.to_string(),
                    path: at.path.clone(),
                    span: at.in_file(at.block.title),
                };
                found.push((rank, symbol));
            }
        }
    }
    found.sort_by(|(a, x), (b, y)| (a, &x.path, x.span).cmp(&(b, &y.path, y.span)));
    found.into_iter().map(|(_, symbol)| symbol).collect()
}

fn rank(name: &str, query: &str) -> Option<u8> {
    if name == query {
        Some(0)
    } else if name.starts_with(query) {
        Some(1)
    } else if name.contains(query) {
        Some(2)
    } else {
        let mut letters = name.chars();
        query
            .chars()
            .all(|c| letters.any(|letter| letter == c))
            .then_some(3)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    fn check(query: &str) -> Vec<String> {
        let fixture = notebook(
            "@course Analysis\n@pattern ratio test\n@pattern comparison\n@topic 2 Series\n\
             @problem ratio\n  Sum.\n=== b.porism\n@course Algebra\n@pattern rotation\n",
        );
        let found = workspace_symbols(fixture.analysis(), query);
        found
            .into_iter()
            .map(|symbol| format!("{} ({})", symbol.name, symbol.container))
            .collect()
    }

    #[test]
    fn the_best_matches_come_first() {
        assert_eq!(
            check("Ratio"),
            [
                "ratio (analysis)",
                "ratio test (analysis)",
                "rotation (algebra)"
            ]
        );
        assert_eq!(check("zzz"), [""; 0]);
    }

    #[test]
    fn nothing_asked_finds_everything_but_problems() {
        assert_eq!(check("").len(), 6);
    }
}
