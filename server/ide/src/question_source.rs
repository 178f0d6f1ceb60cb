//! From problem to question and back: the text that a drawn paper asks, and the problem that a
//! question was drawn from.
//!
//! A question says its source by name, in `of:`. Names move: problems are renumbered, put into
//! another file, or have none. So the text decides where it can, the name where the text was
//! mended since, and last the shape:
//!
//! 1. the block of that name whose text is the question's;
//! 2. a block of another name (or of none) whose text is the question's;
//! 3. the block of that name, if there is only one, or the one whose text is the beginning of the
//!    question's: the student may have written below it;
//! 4. a block of another name whose text is the beginning of the question's;
//! 5. the only problem of the course that has the question's fingerprint.

use std::cell::OnceCell;
use std::collections::BTreeMap;
use std::fmt;

use notes::{BlockKind, Key, Located, NameKey, NamedThing, Notebook, ShapeKey};

use crate::words;

/// The kinds of block that a question may be drawn from, in the order in which a name is looked
/// up.
const KINDS: [BlockKind; 3] = [
    BlockKind::Problem,
    BlockKind::Theorem,
    BlockKind::Definition,
];

/// Why a question's source is not known.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoSource {
    /// Nothing in the course has its name, its text or its shape.
    Gone,
    /// Several blocks have its name, and none its text.
    Ambiguous {
        /// The name.
        name: String,
        /// How many blocks have it.
        count: usize,
    },
}

impl fmt::Display for NoSource {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Gone => f.write_str("the problem it was drawn from is no longer in the notes"),
            Self::Ambiguous { name, count } => {
                write!(
                    f,
                    "{count} blocks are called {name}, and none of them asks this"
                )
            }
        }
    }
}

/// What may be asked in a course, for all questions of a paper. The table by text, which grows with
/// the course, is built when a question is first not found by its name.
#[derive(Debug)]
pub struct Sources<'a> {
    notebook: &'a Notebook,
    course: NameKey,
    by_text: OnceCell<BTreeMap<String, Located<'a>>>,
}

impl<'a> Sources<'a> {
    /// The problems, theorems and definitions of a course.
    pub fn of(notebook: &'a Notebook, course: &NameKey) -> Self {
        Self {
            notebook,
            course: course.clone(),
            by_text: OnceCell::new(),
        }
    }

    fn by_text(&self) -> &BTreeMap<String, Located<'a>> {
        self.by_text.get_or_init(|| {
            let mut by_text = BTreeMap::new();
            for at in KINDS
                .into_iter()
                .flat_map(|kind| self.notebook.of_kind(&self.course, kind))
            {
                if let Some(text) = question_text(&at) {
                    // Of two with the same text, the first in reading order stands for both.
                    by_text.entry(compared(&text)).or_insert(at);
                }
            }
            by_text
        })
    }

    /// The block that a question was drawn from.
    pub fn find(&self, question: &Located<'_>) -> Result<Located<'a>, NoSource> {
        let texts = texts_of(question);
        let named = self.named(question);
        let own = |at: &Located<'a>| question_text(at).map(|text| compared(&text));
        let named_with = |text: &String| named.iter().find(|at| own(at).as_ref() == Some(text));
        let any_with = |text: &String| self.by_text().get(text);
        if let Some(at) = texts.first().and_then(named_with) {
            return Ok(*at);
        }
        // With numbers of its own no text but its name leads back.
        if let ([only], true) = (&named[..], question.block.field(Key::Seed).is_some()) {
            return Ok(*only);
        }
        if let Some(at) = texts.first().and_then(any_with) {
            return Ok(*at);
        }
        if let [only] = named[..] {
            return Ok(only);
        }
        // The longest beginning comes first.
        if let Some(at) = texts
            .iter()
            .find_map(named_with)
            .or_else(|| texts.iter().find_map(any_with))
        {
            return Ok(*at);
        }
        if let Some(first) = named.first() {
            return Err(NoSource::Ambiguous {
                name: words::title(first),
                count: named.len(),
            });
        }
        let reading = question.block.reading.as_ref();
        let fingerprint = reading
            .and_then(|reading| reading.fingerprint)
            .ok_or(NoSource::Gone)?;
        let key = ShapeKey {
            course: self.course.clone(),
            fingerprint,
        };
        let mut alike = self.notebook.same_shape(&key);
        match (alike.next(), alike.next()) {
            (Some(only), None) => Ok(only),
            _ => Err(NoSource::Gone),
        }
    }

    /// The blocks that `of:` names: of the first kind that has the name.
    fn named(&self, question: &Located<'_>) -> Vec<Located<'a>> {
        // A title may hold a comma, at which a list of names is cut: first the whole is tried.
        let whole = question.field_text(Key::Of).map(|text| NameKey::new(&text));
        let first = question
            .block
            .names(Key::Of)
            .first()
            .map(|named| named.key.clone());
        for name in whole.into_iter().chain(first) {
            for kind in KINDS {
                let thing = NamedThing {
                    course: self.course.clone(),
                    kind,
                    name: name.clone(),
                };
                let found: Vec<Located<'a>> = self.notebook.definitions(&thing).collect();
                if !found.is_empty() {
                    return found;
                }
            }
        }
        Vec::new()
    }
}

/// The texts under which a question may have been drawn: its statement, and the statement without
/// its last lines, because the student may have written below it.
fn texts_of(question: &Located<'_>) -> Vec<String> {
    let statement = question.statement();
    let lines: Vec<&str> = statement.lines().collect();
    (1..=lines.len())
        .rev()
        .map(|kept| compared(&lines[..kept].join("\n")))
        .collect()
}

/// A text as it is compared: spacing and line ends are seen through.
fn compared(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// What a drawn paper asks of a block, in lines joined by line feeds; `None` where it says nothing
/// to ask. A problem is asked word for word. A theorem is to be stated and proved, a definition
/// stated, so of these only the title is shown; a theorem without a title is only to be proved.
pub fn question_text(at: &Located<'_>) -> Option<String> {
    let title = at.title();
    let text = match at.block.kind? {
        BlockKind::Theorem if !title.is_empty() => format!("State and prove: {title}"),
        BlockKind::Definition if !title.is_empty() => format!("State the definition: {title}"),
        BlockKind::Theorem => format!("Prove: {}", asked_lines(at)),
        BlockKind::Problem => asked_lines(at),
        _ => return None,
    };
    let says_something = !text.trim().is_empty() && text != "Prove: ";
    says_something.then_some(text)
}

/// Keys whose line would give a question away, should it have slipped into a statement because the
/// block cannot have such a field or the key is misspelt.
const TELLING: [Key; 10] = [
    Key::Answer,
    Key::ConfusedWith,
    Key::Hint,
    Key::Method,
    Key::Pattern,
    Key::Proof,
    Key::ReducesTo,
    Key::Solution,
    Key::Spotted,
    Key::Tried,
];

/// The statement's lines, without those that would give the answer or the approach away.
fn asked_lines(at: &Located<'_>) -> String {
    let tells = |key: &str| {
        let words = TELLING.iter().map(|key| key.word());
        let plain = key.split_whitespace().collect::<Vec<_>>().join(" ");
        words.clone().any(|word| word == plain) || notes::name::nearest(&plain, words).is_some()
    };
    let mut lines = Vec::new();
    for line in &at.block.statement {
        let field = at
            .block
            .unknown_fields
            .iter()
            .find(|field| field.key_span.start == line.start);
        let text = at.text(*line).replace("\r\n", "\n").replace('\r', "\n");
        // A line that reads like a field reaches over the deeper lines below it, with what is
        // remarked between them.
        let text = if field.is_some() {
            without_comments(&text)
        } else {
            text
        };
        match field.map(|field| at.text(field.key_span)) {
            Some(key) if tells(&key) => {}
            // In a question this line would be a field of its own.
            Some(key)
                if BlockKind::Question
                    .fields()
                    .any(|rule| rule.key.word() == key) =>
            {
                lines.push(capitalised(&text));
            }
            _ => lines.push(text),
        }
    }
    lines.join("\n")
}

/// The lines without their comments: from a `%` between blanks to the end of the line.
fn without_comments(text: &str) -> String {
    let kept = text.lines().filter_map(|line| {
        let starts = line.match_indices('%').map(|(at, _)| at).find(|at| {
            let rest = line[*at..].trim_start_matches('%');
            line[..*at].ends_with([' ', '\t']) && (rest.is_empty() || rest.starts_with([' ', '\t']))
        });
        let kept = starts.map_or(line, |at| &line[..at]).trim_end();
        (!kept.is_empty() && !line.trim_start().starts_with('%')).then_some(kept)
    });
    kept.collect::<Vec<_>>().join("\n")
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
