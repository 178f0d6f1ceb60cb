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
