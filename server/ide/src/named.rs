//! Which name stands at a place: in a reference of a field, or as the title of a block.

use notes::value::{Coverage, Value};
use notes::{BlockKind, FilePath, Label, Located, NameKey, NamedThing, Notebook, Span};

/// A name at a place of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NamedAt {
    /// What is named.
    pub thing: NamedThing,
    /// Where, counted from the start of the file.
    pub span: Span,
    /// Whether this is the title of the block itself, rather than a reference to it.
    pub is_title: bool,
}

/// The name at a byte of a file: of a block when the byte stands in its header's title, of what a
/// field refers to when it stands in a list of names.
pub fn named_at(notebook: &Notebook, path: &FilePath, offset: usize) -> Option<NamedAt> {
    let at = notebook.block_at(path, offset)?;
    let kind = at.block.kind?;
    let title = at.in_file(at.block.title);
    if title.touches(offset) && !title.is_empty() {
        let course = notebook.course_of(at.path, at.entry);
        let name = notebook.topic_key(&at).filter(|_| kind == BlockKind::Topic);
        let name = name.unwrap_or_else(|| at.block.name.clone());
        return Some(NamedAt {
            thing: thing(course, kind, name),
            span: title,
            is_title: true,
        });
    }
    references_of(notebook, &at)
        .into_iter()
        .find(|named| named.span.touches(offset))
}

/// Every reference in a block's fields, in order. The ends of a range of topics are two.
pub fn references_of(notebook: &Notebook, at: &Located<'_>) -> Vec<NamedAt> {
    let course = notebook.course_of(at.path, at.entry);
    let mut found = Vec::new();
    let mut refer = |kind, name: NameKey, span| {
        let thing = thing(course.clone(), kind, name);
        found.push(NamedAt {
            thing,
            span: at.in_file(span),
            is_title: false,
        });
    };
    for field in &at.block.fields {
        match &field.value {
            Value::Names(kind, names) => {
                for named in names {
                    refer(
                        practised_kind(notebook, &course, *kind, &named.key),
                        named.key.clone(),
                        named.span,
                    );
                }
            }
            value => {
                for item in value.covered() {
                    match &item.what {
                        Coverage::Label(label) => {
                            refer(BlockKind::Topic, label_key(label), item.span);
                        }
                        Coverage::Name(name) => refer(BlockKind::Topic, name.clone(), item.span),
                        Coverage::Range(first, last) => {
                            let text = at.text(item.span);
                            let start = item.span.start as usize;
                            let dots = text.find("..").unwrap_or(text.len());
                            let first_end = text[..dots].trim_end().len();
                            let rest = text[dots..].trim_start_matches('.');
                            let last_start = text.len() - rest.trim_start().len();
                            refer(
                                BlockKind::Topic,
                                label_key(first),
                                Span::new(start, start + first_end),
                            );
                            refer(
                                BlockKind::Topic,
                                label_key(last),
                                Span::new(start + last_start, start + text.len()),
                            );
                        }
                    }
                }
            }
        }
    }
    found
}

/// A question's source may be a problem, a theorem or a definition: the first kind that defines
/// the name.
fn practised_kind(
    notebook: &Notebook,
    course: &NameKey,
    kind: BlockKind,
    name: &NameKey,
) -> BlockKind {
    if kind != BlockKind::Problem {
        return kind;
    }
    [
        BlockKind::Problem,
        BlockKind::Theorem,
        BlockKind::Definition,
    ]
    .into_iter()
    .find(|kind| {
        let thing = thing(course.clone(), *kind, name.clone());
        notebook.definitions(&thing).next().is_some()
    })
    .unwrap_or(kind)
}

fn label_key(label: &Label) -> NameKey {
    NameKey::new(&label.to_string())
}

fn thing(course: NameKey, kind: BlockKind, name: NameKey) -> NamedThing {
    // Courses are known everywhere.
    let course = if kind == BlockKind::Course {
        NameKey::default()
    } else {
        course
    };
    NamedThing { course, kind, name }
}
