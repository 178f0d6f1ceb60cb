//! Where a name is mentioned (LSP `textDocument/references`).

use notes::{BlockKind, FilePath, Span};

use crate::Analysis;
use crate::definition::place;
use crate::named::{named_at, references_of};

/// A mention of a name.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Mention {
    /// The file.
    pub path: FilePath,
    /// The name there.
    pub span: Span,
}

/// Finds every mention of the name at a byte of a file, in reading order; with its definitions
/// where `with_definitions` says so. A topic is found under its label and under its name. The
/// problems that stand under a topic do not mention it.
pub fn references(
    analysis: &Analysis,
    path: &FilePath,
    offset: usize,
    with_definitions: bool,
) -> Vec<Mention> {
    let notebook = &analysis.notebook;
    let Some(named) = named_at(notebook, path, offset) else {
        return Vec::new();
    };
    let definitions: Vec<_> = notebook.definitions(&named.thing).collect();
    let mut names = vec![named.thing.name.clone()];
    if named.thing.kind == BlockKind::Topic {
        for at in &definitions {
            names.extend([at.block.name.clone(), at.block.bare_name.clone()]);
            names.extend(notebook.topic_key(at));
        }
    }
    // A question refers to its source as a problem, whatever kind the source is.
    let mut kinds = vec![named.thing.kind];
    if named.thing.kind.is_practised() && named.thing.kind != BlockKind::Problem {
        kinds.push(BlockKind::Problem);
    }
    let mut mentions = Vec::new();
    for name in &names {
        for kind in &kinds {
            let mut thing = named.thing.clone();
            (thing.kind, thing.name) = (*kind, name.clone());
            for site in notebook.references(&thing) {
                let Some(at) = notebook.block(&site.unit) else {
                    continue;
                };
                for mention in references_of(notebook, &at) {
                    if names.contains(&mention.thing.name) && (kinds.contains(&mention.thing.kind))
                    {
                        mentions.push(Mention {
                            path: at.path.clone(),
                            span: mention.span,
                        });
                    }
                }
            }
        }
    }
    if with_definitions {
        mentions.extend(definitions.iter().map(|at| {
            let place = place(at);
            Mention {
                path: place.path,
                span: place.name,
            }
        }));
    }
    mentions.sort();
    mentions.dedup();
    mentions
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    /// Prints every mention as its file and line.
    fn check(text: &str, with_definitions: bool) -> Vec<String> {
        let fixture = notebook(text);
        let (path, offset) = fixture.cursor();
        let mentions = references(fixture.analysis(), path, offset, with_definitions);
        let line = |mention: &Mention| {
            let text = &fixture.files[&mention.path];
            let start = text[..mention.span.start as usize]
                .rfind('\n')
                .map_or(0, |at| at + 1);
            let line = text[start..].lines().next().unwrap_or("").trim();
            format!("{}: {line} [{}]", mention.path, &text[mention.span.range()])
        };
        mentions.iter().map(line).collect()
    }

    #[test]
    fn a_pattern_is_mentioned_by_problems_and_partners() {
        assert_eq!(
            check(
                "@pattern sep<|>arable\n@pattern exact\n  confused with: separable\n\
                 === p.porism\n@problem 1\n  pattern: Separable\n",
                true
            ),
            [
                "notes.porism: @pattern separable [separable]",
                "notes.porism: confused with: separable [separable]",
                "p.porism: pattern: Separable [Separable]",
            ]
        );
    }

    #[test]
    fn a_topic_is_mentioned_by_label_and_by_name() {
        assert_eq!(
            check(
                "@topic 1.4 Linear<|> equations\n@exam E\n  covers: 1.4\n@exam F\n  \
                 covers: linear equations\n@problem 1\n  topic: 1.4 Linear equations\n",
                false
            ),
            [
                "notes.porism: covers: 1.4 [1.4]",
                "notes.porism: covers: linear equations [linear equations]",
                "notes.porism: topic: 1.4 Linear equations [1.4 Linear equations]",
            ]
        );
    }
}
