//! Whatever is typed, the tree has no error, and the tree of an edited text is the
//! tree of the text.

use tree_sitter::{InputEdit, Parser, Point, Tree};

use crate::SAMPLES;
use crate::tree::{assert_total, items, parse, parser};
use crate::units::assert_units_are_children;

/// The generator SplitMix64 (Steele, Lea and Flood 2014, figure 17; the constants are
/// from memory). Its numbers need only be mixed and repeatable here.
pub(crate) struct Random(u64);

impl Random {
    pub(crate) fn new(seed: u64) -> Self {
        Random(seed)
    }

    /// A number below `end`.
    pub(crate) fn below(&mut self, end: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut mixed = self.0;
        mixed = (mixed ^ (mixed >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        mixed = (mixed ^ (mixed >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        mixed ^= mixed >> 31;
        usize::try_from(mixed % end as u64).expect("the remainder is below a usize")
    }

    pub(crate) fn fragment(&mut self) -> &'static str {
        FRAGMENTS[self.below(FRAGMENTS.len())]
    }
}

/// What decides the shape of a line, and what looks like it.
const FRAGMENTS: [&str; 64] = [
    "\n",
    "\n",
    "\n",
    "\n\n",
    "\r\n",
    "\r",
    "\n  ",
    "\n  ",
    "\n    ",
    "\n      ",
    "\n        ",
    "\n\t",
    " ",
    "  ",
    "   ",
    "\t",
    "@",
    "\n@",
    "\n@problem ",
    "#",
    "\n## ",
    "#######",
    "%",
    " % ",
    "\n%",
    "\n  %",
    "%%",
    "85%",
    "$",
    "$",
    " $",
    "$ ",
    "$$",
    "$$",
    "\n$$\n",
    "$$$",
    "\\",
    "\\\\",
    "\\$",
    "\\%",
    "\\@",
    "\\#",
    "key: ",
    "two words: ",
    ":",
    ": ",
    "key:",
    "\n  key: ",
    "\n    key:",
    "$5",
    "$5 and $6",
    "$1,200.50",
    "$6.",
    "2",
    "a",
    "Word",
    "word ",
    "é",
    "🧮",
    "\u{2028}",
    "\u{a0}",
    "\u{200b}",
    "\0",
    "–",
];

/// The position of a byte: tree-sitter's rows end at `\n` only.
fn point(text: &[u8], byte: usize) -> Point {
    let above = &text[..byte];
    let row = above.iter().filter(|&&byte| byte == b'\n').count();
    let column = above
        .iter()
        .rev()
        .take_while(|&&byte| byte != b'\n')
        .count();
    Point { row, column }
}

/// A text and its tree, which is parsed from the tree before each edit.
struct Edited {
    parser: Parser,
    text: String,
    tree: Tree,
}

impl Edited {
    fn new(text: &str) -> Self {
        Edited {
            parser: parser(),
            text: text.to_owned(),
            tree: parse(text.as_bytes()),
        }
    }

    fn replace(&mut self, start: usize, end: usize, insert: &str) {
        let start_position = point(self.text.as_bytes(), start);
        let old_end_position = point(self.text.as_bytes(), end);
        self.text.replace_range(start..end, insert);
        let new_end = start + insert.len();
        self.tree.edit(&InputEdit {
            start_byte: start,
            old_end_byte: end,
            new_end_byte: new_end,
            start_position,
            old_end_position,
            new_end_position: point(self.text.as_bytes(), new_end),
        });
        self.tree = self
            .parser
            .parse(&self.text, Some(&self.tree))
            .expect("no parse was cancelled");
    }
}

fn check(edited: &Edited) {
    let text = edited.text.as_bytes();
    let fresh = parse(text);
    assert_total(&fresh, text);
    assert_eq!(
        items(edited.tree.root_node(), 0),
        items(fresh.root_node(), 0),
        "the edited tree of {:?} differs from its fresh tree",
        edited.text
    );
    assert_units_are_children(text, &fresh);
}

/// The start of a character at `near` or in front of it.
fn boundary(text: &str, near: usize) -> usize {
    let near = near.min(text.len());
    (0..=near)
        .rev()
        .find(|&byte| text.is_char_boundary(byte))
        .expect("the start of a text is a boundary")
}

#[test]
fn random_edits_give_the_fresh_tree_without_errors() {
    const SEQUENCES: u64 = 120;
    const EDITS: usize = 50;
    for seed in 0..SEQUENCES {
        let mut random = Random::new(seed);
        let (_, sample) = SAMPLES[random.below(SAMPLES.len())];
        let mut edited = Edited::new(sample);
        for _ in 0..EDITS {
            let start = boundary(&edited.text, random.below(edited.text.len() + 1));
            let end = if random.below(2) == 0 {
                start
            } else {
                boundary(&edited.text, start + random.below(12)).max(start)
            };
            let mut insert = String::new();
            for _ in 0..random.below(4) {
                insert.push_str(random.fragment());
            }
            edited.replace(start, end, &insert);
            check(&edited);
        }
    }
}

#[test]
fn every_half_typed_state_has_a_tree_without_errors() {
    for (_, sample) in SAMPLES {
        let mut edited = Edited::new("");
        for (byte, character) in sample.char_indices() {
            edited.replace(byte, byte, character.encode_utf8(&mut [0; 4]));
            check(&edited);
        }
        assert_eq!(edited.text, sample);
    }
}

#[test]
fn a_sample_without_any_one_line_has_a_tree_without_errors() {
    for (_, sample) in SAMPLES {
        let lines: Vec<&str> = sample.split_inclusive('\n').collect();
        for index in 0..lines.len() {
            let mut edited = Edited::new(sample);
            let start = lines[..index].concat().len();
            edited.replace(start, start + lines[index].len(), "");
            check(&edited);
            edited.replace(start, start, lines[index]);
            check(&edited);
            assert_eq!(edited.text, sample);
        }
    }
}
