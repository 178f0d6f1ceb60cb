//! The facts of one unit: a line in column 0 and the indented lines below it.
//!
//! They are a pure function of the unit's text, with spans counted from its first byte, so that
//! they stand when the unit moves and are read again only when its own text changes.

use tree_sitter::{Node, Parser, TreeCursor};

use crate::formulas;
use crate::name::Label;
use crate::value::{self, Value};
use crate::vocabulary::{BlockKind, Key};
use crate::{NameKey, Span};

/// What one unit says.
#[derive(Clone, Debug, PartialEq)]
pub struct Unit {
    /// Number of bytes, with the blank lines that follow.
    pub len: u32,
    /// What the unit is.
    pub content: Content,
    /// Its formulas, in the order in which they stand.
    pub formulas: Vec<Formula>,
    /// What could not be read, apart from values and formulas.
    pub faults: Vec<Fault>,
}

/// What a unit is.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// A block.
    Block(Box<Block>),
    /// A heading: 1 to 6, and its title.
    Heading {
        /// Number of `#`.
        level: u8,
        /// The title, which may be empty.
        title: Span,
    },
    /// Notes.
    Prose,
    /// A comment.
    Comment,
    /// Blank lines at the start of a file, or nothing.
    Blank,
}

/// A block: its header, fields and statement.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// The kind, if the word behind `@` names one.
    pub kind: Option<BlockKind>,
    /// The word behind `@`; empty for a bare `@`.
    pub kind_span: Span,
    /// From `@` to the end of the title.
    pub header: Span,
    /// The title, without spaces around it; empty if there is none.
    pub title: Span,
    /// The title as it is compared.
    pub name: NameKey,
    /// The label that a topic's title starts with.
    pub label: Option<Label>,
    /// The title without that label, as it is compared; the same as `name` without a label.
    pub bare_name: NameKey,
    /// The fields whose key the format knows for this kind of block, in order.
    pub fields: Vec<Field>,
    /// Body lines that read like fields, but whose key this kind of block does not have. Each
    /// also counts as a line of the statement where its first word is no known key at all.
    pub unknown_fields: Vec<UnknownField>,
    /// The lines of the statement, without line ends.
    pub statement: Vec<Span>,
    /// What the statement asks, seen through its numbers; for practised blocks and questions.
    pub reading: Option<math::problem::Problem>,
    /// The shapes of a pattern, one for each `shape:` field in order.
    pub shapes: Vec<formulas::ShapeFact>,
    /// Everything from the first byte to the end of the last line with text.
    pub extent: Span,
}

/// A field of a block.
#[derive(Clone, Debug, PartialEq)]
pub struct Field {
    /// The key.
    pub key: Key,
    /// Where the key stands.
    pub key_span: Span,
    /// The value's text without spaces around it; empty, behind the colon, if there is none.
    pub value_span: Span,
    /// The value.
    pub value: Value,
}

/// A body line that reads like a field of no known key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct UnknownField {
    /// Where the key stands.
    pub key_span: Span,
    /// The key, if other kinds of block have it.
    pub elsewhere: Option<Key>,
}

/// A formula between dollar signs.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Formula {
    /// With its dollar signs.
    pub whole: Span,
    /// The TeX between them.
    pub tex: Span,
    /// Whether it stands between double dollar signs.
    pub display: bool,
    /// Whether its closing sign was found.
    pub closed: bool,
    /// Where it stands.
    pub place: Place,
    /// What could not be read in it; spans count from the start of the unit.
    pub faults: Vec<formulas::TexFault>,
}

/// Where in a unit a formula stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Place {
    /// In a header's or heading's title.
    Title,
    /// In a block's field, by its index in [`Block::fields`].
    Field(usize),
    /// In a block's statement.
    Statement,
    /// In prose.
    Prose,
}

/// Something in a unit that does not fit the format.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Fault {
    /// Where it stands.
    pub span: Span,
    /// What is wrong.
    pub kind: FaultKind,
}

/// What may be wrong with a unit's form.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum FaultKind {
    /// A `$` or `$$` without its closing sign.
    UnclosedMath,
    /// A word behind `@` that names no kind of block.
    UnknownKind,
    /// A field that stands twice in a block and may stand once.
    FieldTwice,
    /// Text that the grammar could not place. The grammar is total, so this never happens unless
    /// the grammar has a defect.
    Unplaced,
}

impl Unit {
    /// The block, if the unit is one.
    pub fn block(&self) -> Option<&Block> {
        match &self.content {
            Content::Block(block) => Some(block),
            _ => None,
        }
    }

    /// The formula at `offset`, counted from the start of the unit.
    pub fn formula_at(&self, offset: usize) -> Option<&Formula> {
        self.formulas
            .iter()
            .find(|formula| formula.whole.touches(offset))
    }
}

impl Block {
    /// The first field with this key.
    pub fn field(&self, key: Key) -> Option<&Field> {
        self.fields.iter().find(|field| field.key == key)
    }

    /// Every field with this key.
    pub fn fields_of(&self, key: Key) -> impl Iterator<Item = &Field> {
        self.fields.iter().filter(move |field| field.key == key)
    }

    /// The names in the field with this key.
    pub fn names(&self, key: Key) -> &[value::Named] {
        match self.field(key).map(|field| &field.value) {
            Some(Value::Names(_, names)) => names,
            _ => &[],
        }
    }

    /// The moment in the field with this key.
    pub fn moment(&self, key: Key) -> Option<value::Moment> {
        match self.field(key)?.value {
            Value::Moment(moment) => Some(moment),
            _ => None,
        }
    }

    /// The score in the field with this key.
    pub fn score(&self, key: Key) -> Option<value::Score> {
        match self.field(key)?.value {
            Value::Score(score) => Some(score),
            _ => None,
        }
    }

    /// The length of time in the field with this key.
    pub fn duration(&self, key: Key) -> Option<value::Minutes> {
        match self.field(key)?.value {
            Value::Duration(minutes) => Some(minutes),
            _ => None,
        }
    }

    /// The number in the field with this key.
    pub fn count(&self, key: Key) -> Option<u32> {
        match self.field(key)?.value {
            Value::Count(count) => Some(count),
            _ => None,
        }
    }

    /// What the block says of notes.
    pub fn notes_rule(&self) -> Option<value::NotesRule> {
        match self.field(Key::Notes)?.value {
            Value::NotesRule(rule) => Some(rule),
            _ => None,
        }
    }

    /// The tries that could be read, in the order in which they stand.
    pub fn attempts(&self) -> impl Iterator<Item = &value::Attempt> {
        self.fields_of(Key::Tried)
            .filter_map(|field| match &field.value {
                Value::Attempt(attempt) => Some(attempt),
                _ => None,
            })
    }

    /// The spottings that could be read, in the order in which they stand.
    pub fn spottings(&self) -> impl Iterator<Item = &value::Spotting> {
        self.fields_of(Key::Spotted)
            .filter_map(|field| match &field.value {
                Value::Spotting(spotting) => Some(spotting),
                _ => None,
            })
    }

    /// Whether some try was right with notes closed.
    pub fn done_right_closed(&self) -> bool {
        self.attempts().any(|attempt| {
            attempt.notes == value::NotesUse::Closed
                && match attempt.outcome {
                    value::Outcome::Right => true,
                    value::Outcome::Score(score) => score.got >= score.out_of,
                    _ => false,
                }
        })
    }
}

/// Reads units. Holds the parser, so that its memory is used again.
pub struct UnitReader {
    parser: Parser,
    /// The text with NUL replaced, and later with comments blanked.
    masked: Vec<u8>,
}

impl Default for UnitReader {
    fn default() -> Self {
        let mut parser = Parser::new();
        parser
            .set_language(&grammar::LANGUAGE.into())
            .expect("the grammar's ABI is one that the library reads");
        Self {
            parser,
            masked: Vec::new(),
        }
    }
}

impl UnitReader {
    /// Reads the facts of one unit.
    pub fn read(&mut self, text: &str) -> Unit {
        self.masked.clear();
        // The generated lexer cannot match NUL; a unit separator is as meaningless in notes.
        self.masked
            .extend(text.bytes().map(|b| if b == 0 { 0x1f } else { b }));
        let tree = self.parser.parse(&self.masked, None);
        let mut unit = Unit {
            len: text.len() as u32,
            content: Content::Blank,
            formulas: Vec::new(),
            faults: Vec::new(),
        };
        let Some(tree) = tree else {
            // Parsing stops early only when it is told to, and it is not.
            return unit;
        };
        let root = tree.root_node();
        if root.has_error() {
            unit.faults.push(Fault {
                span: span_of(root),
                kind: FaultKind::Unplaced,
            });
        }
        blank_comments(&mut root.walk(), &mut self.masked);
        let masked = String::from_utf8_lossy(&self.masked);
        let mut walk = root.walk();
        for node in root.named_children(&mut walk) {
            match node.kind() {
                "block" => read_block(node, &masked, &mut unit),
                "heading" => {
                    let marker = node
                        .child_by_field_name("marker")
                        .map_or(1, |m| m.byte_range().len());
                    let title = node.child_by_field_name("title");
                    let title =
                        title.map_or(Span::at(node.end_byte()), |t| trimmed(&masked, span_of(t)));
                    collect_math(node, text, Place::Title, &mut unit);
                    unit.content = Content::Heading {
                        level: marker.clamp(1, 6) as u8,
                        title,
                    };
                }
                "prose" => {
                    collect_math(node, text, Place::Prose, &mut unit);
                    unit.content = Content::Prose;
                }
                "comment" if unit.content == Content::Blank => unit.content = Content::Comment,
                _ => {}
            }
        }
        unit
    }
}

fn span_of(node: Node<'_>) -> Span {
    node.byte_range().into()
}

fn trimmed(text: &str, span: Span) -> Span {
    let slice = &text[span.range()];
    let start = span.start as usize + (slice.len() - slice.trim_start().len());
    Span::new(start, start + slice.trim().len())
}

/// Overwrites every comment with spaces, so that values can be sliced from the text.
fn blank_comments(walk: &mut TreeCursor<'_>, masked: &mut [u8]) {
    loop {
        let node = walk.node();
        if node.kind() == "comment" {
            masked[node.byte_range()].fill(b' ');
        } else if walk.goto_first_child() {
            continue;
        }
        while !walk.goto_next_sibling() {
            if !walk.goto_parent() {
                return;
            }
        }
    }
}

/// Appends the formulas below `node`.
fn collect_math(node: Node<'_>, text: &str, place: Place, unit: &mut Unit) {
    let mut walk = node.walk();
    for child in node.named_children(&mut walk) {
        let kind = child.kind();
        match kind {
            "inline_math" | "display_math" | "unclosed_math" => {
                let whole = span_of(child);
                let tex = child.child_by_field_name("tex").map(span_of);
                let signs = text[whole.range()]
                    .bytes()
                    .take_while(|b| *b == b'$')
                    .count()
                    .min(2);
                let display = kind == "display_math" || (kind == "unclosed_math" && signs == 2);
                let inner = Span::at(whole.start as usize + signs.min(whole.len()));
                let tex = tex.unwrap_or(inner);
                let closed = kind != "unclosed_math";
                let faults = match closed {
                    true => formulas::faults(&text[tex.range()], tex.start as usize),
                    false => Vec::new(),
                };
                if !closed {
                    unit.faults.push(Fault {
                        span: whole,
                        kind: FaultKind::UnclosedMath,
                    });
                }
                unit.formulas.push(Formula {
                    whole,
                    tex,
                    display,
                    closed,
                    place,
                    faults,
                });
            }
            "title" | "value" => collect_math(child, text, place, unit),
            _ => {}
        }
    }
}

fn read_block(node: Node<'_>, masked: &str, unit: &mut Unit) {
    let header = node.child_by_field_name("header").unwrap_or(node);
    let kind_span = header
        .child_by_field_name("kind")
        .map_or(Span::at(header.start_byte() + 1), span_of);
    let kind = BlockKind::from_word(&masked[kind_span.range()]);
    let title = match header.child_by_field_name("title") {
        Some(title) => trimmed(masked, span_of(title)),
        None => Span::at(kind_span.end as usize),
    };
    let title_text = &masked[title.range()];
    let (label, bare) = match kind {
        Some(BlockKind::Topic) => Label::split(title_text),
        _ => (None, title_text),
    };
    if kind.is_none() && !kind_span.is_empty() {
        unit.faults.push(Fault {
            span: kind_span,
            kind: FaultKind::UnknownKind,
        });
    }
    collect_math(header, masked, Place::Title, unit);
    let mut block = Block {
        kind,
        kind_span,
        header: Span::new(header.start_byte(), title.end.max(kind_span.end) as usize),
        title,
        name: NameKey::new(title_text),
        bare_name: NameKey::new(bare),
        label,
        fields: Vec::new(),
        unknown_fields: Vec::new(),
        statement: Vec::new(),
        reading: None,
        shapes: Vec::new(),
        extent: Span::at(header.start_byte()),
    };
    block.extent = block.header;
    let mut walk = node.walk();
    for child in node.named_children(&mut walk) {
        let line = trimmed(masked, span_of(child));
        match child.kind() {
            "field" => read_field(child, masked, &mut block, unit),
            "statement" if !line.is_empty() => {
                block.statement.push(line);
                collect_math(child, masked, Place::Statement, unit);
            }
            _ => continue,
        }
        block.extent = block.extent.joined(line);
    }
    if kind.is_some_and(|kind| kind.is_practised() || kind == BlockKind::Question) {
        block.reading = Some(formulas::read_problem(masked, &block, &unit.formulas));
    }
    for field in block.fields.iter().filter(|field| field.key == Key::Shape) {
        block
            .shapes
            .push(formulas::read_shape(masked, field.value_span));
    }
    unit.content = Content::Block(Box::new(block));
}

fn read_field(node: Node<'_>, masked: &str, block: &mut Block, unit: &mut Unit) {
    let Some(key_node) = node.child_by_field_name("key") else {
        return;
    };
    let key_span = span_of(key_node);
    let key = Key::from_word(&masked[key_span.range()]);
    // A block of an unknown kind keeps what its fields say: the kind may be a slip.
    let rule = key.and_then(|key| match block.kind {
        Some(kind) => kind.field(key),
        None => crate::vocabulary::FIELDS
            .iter()
            .find(|rule| rule.key == key),
    });
    let Some(rule) = rule else {
        block.unknown_fields.push(UnknownField {
            key_span,
            elsewhere: key,
        });
        block.statement.push(trimmed(masked, span_of(node)));
        collect_math(node, masked, Place::Statement, unit);
        return;
    };
    let value_span = match node.child_by_field_name("value") {
        Some(value) => trimmed(masked, span_of(value)),
        None => Span::at((key_span.end as usize + 1).min(node.end_byte())),
    };
    if !rule.repeats && block.field(rule.key).is_some() {
        unit.faults.push(Fault {
            span: key_span,
            kind: FaultKind::FieldTwice,
        });
    }
    let value = value::read(
        rule.value,
        &masked[value_span.range()],
        value_span.start as usize,
    );
    collect_math(node, masked, Place::Field(block.fields.len()), unit);
    block.fields.push(Field {
        key: rule.key,
        key_span,
        value_span,
        value,
    });
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reads one unit and prints its facts, a line each.
    fn check(text: &str) -> String {
        let unit = UnitReader::default().read(text);
        let slice = |span: Span| &text[span.range()];
        let mut out: Vec<String> = Vec::new();
        match &unit.content {
            Content::Block(block) => {
                let kind = block.kind.map_or("?", BlockKind::word);
                let label = block
                    .label
                    .as_ref()
                    .map_or(String::new(), |l| format!(" [{l}]"));
                out.push(format!("{kind} {:?}{label}", slice(block.title)));
                for field in &block.fields {
                    let value = match &field.value {
                        Value::Unreadable(u) => format!("unreadable {:?}", u.found),
                        Value::Empty => "empty".to_owned(),
                        _ => format!("{:?}", slice(field.value_span)),
                    };
                    out.push(format!("{} = {value}", field.key.word()));
                }
                for unknown in &block.unknown_fields {
                    out.push(format!("unknown {:?}", slice(unknown.key_span)));
                }
                for line in &block.statement {
                    out.push(format!("says {:?}", slice(*line)));
                }
            }
            Content::Heading { level, title } => {
                out.push(format!("heading {level} {:?}", slice(*title)))
            }
            Content::Prose => out.push("prose".to_owned()),
            Content::Comment => out.push("comment".to_owned()),
            Content::Blank => out.push("blank".to_owned()),
        }
        for formula in &unit.formulas {
            let sign = if formula.display { "$$" } else { "$" };
            out.push(format!(
                "math {sign}{}{sign} {:?}",
                slice(formula.tex),
                formula.place
            ));
        }
        for fault in &unit.faults {
            out.push(format!("fault {:?} {:?}", fault.kind, slice(fault.span)));
        }
        out.join("\n")
    }

    #[test]
    fn a_problem_has_fields_and_a_statement() {
        let facts = check(
            "@problem 1.4.7   % from the lecture\n  from: p. 52\n  pattern: integrating factor\n  \
             Solve $y' + 3y = x$ with $y(0) = 1$.\n  answer: $y = 1$\n    or so\n  \
             tried: 2027-02-19 open right 11 min\n",
        );
        assert_eq!(
            facts,
            "problem \"1.4.7\"\n\
             from = \"p. 52\"\n\
             pattern = \"integrating factor\"\n\
             answer = \"$y = 1$\\n    or so\"\n\
             tried = \"2027-02-19 open right 11 min\"\n\
             says \"Solve $y' + 3y = x$ with $y(0) = 1$.\"\n\
             math $y' + 3y = x$ Statement\n\
             math $y(0) = 1$ Statement\n\
             math $y = 1$ Field(2)"
        );
    }

    #[test]
    fn a_topic_has_a_label() {
        assert_eq!(
            check("@topic 1.4 First-order linear\n  learned: no   % yet\n"),
            "topic \"1.4 First-order linear\" [1.4]\nlearned = \"no\""
        );
    }

    #[test]
    fn what_cannot_be_read_spoils_its_own_line() {
        assert_eq!(
            check("@exam Final\n  on: 2027-02-30\n  length:\n  covers: 1.1\n  colour: red\n"),
            "exam \"Final\"\non = unreadable \"2027-02-30\"\nlength = empty\ncovers = \"1.1\"\n\
             unknown \"colour\"\nsays \"colour: red\""
        );
        assert_eq!(check("@"), "? \"\"");
        assert_eq!(check("@exma F\n"), "? \"F\"\nfault UnknownKind \"exma\"");
        assert_eq!(
            check("see $x + 1\n"),
            "prose\nmath $x + 1$ Prose\nfault UnclosedMath \"$x + 1\""
        );
    }

    #[test]
    fn a_field_that_may_stand_once_is_flagged_the_second_time() {
        let facts = check("@exam F\n  on: 2027-02-26\n  on: 2027-02-27\n");
        assert!(facts.contains("fault FieldTwice \"on\""), "{facts}");
    }

    #[test]
    fn prose_headings_and_comments() {
        assert_eq!(
            check("## Linear equations\n"),
            "heading 2 \"Linear equations\""
        );
        assert_eq!(check("% nothing\n"), "comment");
        assert_eq!(check("\n\n"), "blank");
        assert_eq!(check("We paid $5 and $6.\n"), "prose");
        assert_eq!(
            check("Then\n  $$ x^2\n  + 1 $$\n"),
            "prose\nmath $$ x^2\n  + 1 $$ Prose"
        );
    }

    proptest::proptest! {
        #[test]
        fn no_text_makes_reading_fail(text in "(?s)@?[a-z]{0,8}[ -~\n\r\t$@:%\\u{0}é]{0,60}") {
            let unit = UnitReader::default().read(&text);
            proptest::prop_assert!(!unit.faults.iter().any(|f| f.kind == FaultKind::Unplaced));
            for formula in &unit.formulas {
                proptest::prop_assert!(text.get(formula.tex.range()).is_some());
            }
        }
    }
}
