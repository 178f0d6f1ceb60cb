//! Marking what the student says in a spotting round: the pattern behind `pattern:` is held against
//! those of the problem that the question was drawn from.

use notes::{BlockKind, Key, Located, NameKey, NamedThing};

use crate::Analysis;
use crate::drawn_paper::list;
use crate::sheet_scope::pattern_title;

/// How a kind was named.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum OwnKind {
    /// Rightly.
    Right,
    /// Wrongly.
    Wrong {
        /// What was said.
        said: String,
        /// What it is.
        is: String,
    },
    /// There is no pattern of this name in the course.
    Unknown(String),
    /// The problem it was drawn from says no kind any more.
    NoKind,
}

/// The mark of a question in a spotting round; `None` where nothing is named yet. `source` is the
/// problem that it was drawn from. A problem of several patterns is named rightly by each of them.
pub fn own_kind(
    analysis: &Analysis,
    course: &NameKey,
    question: &Located<'_>,
    source: &Located<'_>,
) -> Option<OwnKind> {
    let said = question.block.names(Key::Pattern);
    if said.is_empty() {
        return None;
    }
    let notebook = &analysis.notebook;
    let is_pattern = |name: &NameKey| {
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Pattern,
            name: name.clone(),
        };
        notebook.definition(&thing).is_some() || !notebook.problems_of(course, name).is_empty()
    };
    if let Some(unknown) = said.iter().find(|named| !is_pattern(&named.key)) {
        return Some(OwnKind::Unknown(unknown.key.to_string()));
    }
    let own: Vec<&NameKey> = source
        .block
        .names(Key::Pattern)
        .iter()
        .map(|named| &named.key)
        .collect();
    if own.is_empty() {
        return Some(OwnKind::NoKind);
    }
    if said.iter().all(|named| own.contains(&&named.key)) {
        return Some(OwnKind::Right);
    }
    let title = |name: &NameKey| pattern_title(analysis, course, name);
    let said: Vec<String> = said.iter().map(|named| title(&named.key)).collect();
    let is: Vec<String> = own.into_iter().map(title).collect();
    Some(OwnKind::Wrong {
        said: list(&said, "and"),
        is: list(&is, "and"),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    fn check(said: &str, patterns: &str) -> Option<OwnKind> {
        let fixture = fixture::notebook(&format!(
            "@pattern Separable\n\n@pattern linear\n\n@problem 1\n  pattern: {patterns}\n  Decide.\n\n\
             @paper R\n  drawn: 2027-02-15\n\n@question 1\n  of: 1\n  Decide.\n  pattern: {said}\n"
        ));
        let analysis = fixture.analysis();
        let path = notes::FilePath::new("notes.porism");
        let of = |kind| {
            let mut blocks = analysis.notebook.blocks_in(&path);
            blocks
                .find(|at| at.block.kind == Some(kind))
                .expect("a block")
        };
        let (question, source) = (of(BlockKind::Question), of(BlockKind::Problem));
        own_kind(analysis, &NameKey::default(), &question, &source)
    }

    #[test]
    fn a_kind_is_held_against_those_of_the_problem() {
        assert_eq!(check("", "separable"), None);
        assert_eq!(check("separable", "Separable"), Some(OwnKind::Right));
        assert_eq!(check("linear", "separable, linear"), Some(OwnKind::Right));
        let wrong = OwnKind::Wrong {
            said: "linear".to_owned(),
            is: "Separable".to_owned(),
        };
        assert_eq!(check("linear", "separable"), Some(wrong));
        let both = OwnKind::Wrong {
            said: "Separable and linear".to_owned(),
            is: "Separable".to_owned(),
        };
        assert_eq!(check("separable, linear", "separable"), Some(both));
        assert_eq!(
            check("separ", "separable"),
            Some(OwnKind::Unknown("separ".to_owned()))
        );
        assert_eq!(check("linear", ""), Some(OwnKind::NoKind));
    }
}
