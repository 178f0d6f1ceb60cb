//! The scan for unit starts agrees with the tree.

use porism_grammar::{next_unit_start, unit_starts};
use tree_sitter::Tree;

use crate::SAMPLES;
use crate::edits::Random;
use crate::tree::{Item, assert_total, items, parse};

/// Fails when the units of the text are not the children of the tree's root.
pub(crate) fn assert_units_are_children(text: &[u8], tree: &Tree) {
    let root = tree.root_node();
    let children: Vec<usize> = root
        .children(&mut root.walk())
        .map(|child| child.start_byte())
        .collect();
    let units = unit_starts(text);
    assert_eq!(units[0], 0);
    assert_eq!(
        units[1..],
        children[1.min(children.len())..],
        "units of {:?}: {}",
        String::from_utf8_lossy(text),
        root.to_sexp()
    );
}

/// Marks the start of each unit with `|`.
fn check(text: &str, expected: &str) {
    let mut marked = text.to_owned();
    for &start in unit_starts(text.as_bytes()).iter().rev() {
        marked.insert(start, '|');
    }
    assert_eq!(marked, expected);
    assert_units_are_children(text.as_bytes(), &parse(text.as_bytes()));
}

#[test]
fn indented_and_blank_lines_belong_to_the_unit_above() {
    check("", "|");
    check(" \n\n", "| \n\n");
    check("a", "|a");
    check("a\nb\n", "|a\n|b\n");
    check("\n\n  \na\n\n", "|\n\n  \na\n\n");
    check("a\n  b\n\n\tc\n \n\nd\n \n", "|a\n  b\n\n\tc\n \n\n|d\n \n");
    check("  a\n  b\nc", "|  a\n  b\n|c");
    check("\n  a\n\nc", "|\n  a\n\n|c");
}

#[test]
fn ends_of_line_are_lf_cr_lf_and_cr() {
    check("a\r\nb\rc\n\rd", "|a\r\n|b\r|c\n\r|d");
    check("a\u{2028}b\u{b}c\u{85}d", "|a\u{2028}b\u{b}c\u{85}d");
}

#[test]
fn a_byte_order_mark_belongs_to_the_first_unit() {
    check("\u{feff}@problem\n% c\n  d", "|\u{feff}@problem\n% c\n  d");
    check("\u{feff}\n a\nb", "|\u{feff}\n a\n|b");
    check("\u{feff}", "|\u{feff}");
    check("a\n\u{feff}@problem\n% c", "|a\n|\u{feff}@problem\n|% c");
}

#[test]
fn a_comment_directly_below_a_line_of_a_block_belongs_to_the_block() {
    check(
        "@problem\n% in\n% in\n  a\n% in\n\n% out\n  b\n@x",
        "|@problem\n% in\n% in\n  a\n% in\n\n|% out\n  b\n|@x",
    );
    check("a\n% b\n# c\n% d", "|a\n|% b\n|# c\n|% d");
}

#[test]
fn display_math_takes_a_line_of_prose_over_the_lines_below() {
    check(
        "a $$ b\nc\n  d\n% e\nf $$ g\nh",
        "|a $$ b\nc\n  d\n% e\nf $$ g\n|h",
    );
    check("$$ a $$ b $$ c\nd $$\ne", "|$$ a $$ b $$ c\nd $$\n|e");
    check("$$\nb\n\nc", "|$$\nb\n\n|c");
    check("$$\nb\n@c", "|$$\nb\n|@c");
    check("$$\nb\n#c", "|$$\nb\n|#c");
    check("$$\nb\n  @c\n  #d\ne $$", "|$$\nb\n  @c\n  #d\ne $$");
}

#[test]
fn what_only_looks_like_display_math_ends_with_its_line() {
    check("\\$$ a\nb", "|\\$$ a\n|b");
    check("$a\\$$ b\nc", "|$a\\$$ b\n|c");
    check("$a$$b$\nc", "|$a$$b$\n|c");
    check("a % $$\nb", "|a % $$\n|b");
    check("a 5% $$\nb", "|a 5% $$\nb");
    check("a %b $$\nb", "|a %b $$\nb");
    check("$5 and $$ b\nc", "|$5 and $$ b\nc");
    check("$x and $$ b\nc", "|$x and $$ b\n|c");
    check("# $$\nb", "|# $$\n|b");
    check("#$$\nb", "|#$$\nb");
    check("####### $$\nb", "|####### $$\nb");
    check("% $$\nb", "|% $$\n|b");
    check("@problem $$\nb", "|@problem $$\n|b");
    check("a\n  $$\nb $$", "|a\n  $$\n|b $$");
    check("  $$\nb $$", "|  $$\n|b $$");
}

fn random_text(random: &mut Random) -> String {
    let mut text = String::new();
    if random.below(8) == 0 {
        text.push('\u{feff}');
    }
    for _ in 0..random.below(40) {
        text.push_str(random.fragment());
    }
    text
}

#[test]
fn units_of_random_texts_are_children_of_the_root() {
    for seed in 0..20_000 {
        let text = random_text(&mut Random::new(seed));
        let tree = parse(text.as_bytes());
        assert_total(&tree, text.as_bytes());
        assert_units_are_children(text.as_bytes(), &tree);
    }
}

#[test]
fn units_of_random_bytes_are_children_of_the_root() {
    for seed in 0..20_000 {
        let mut random = Random::new(seed);
        let mut text = Vec::new();
        for _ in 0..random.below(60) {
            if random.below(3) == 0 {
                text.extend_from_slice(random.fragment().as_bytes());
            } else {
                text.push(u8::try_from(random.below(256)).expect("the number is below 256"));
            }
        }
        let tree = parse(&text);
        assert_total(&tree, &text);
        assert_units_are_children(&text, &tree);
    }
}

#[test]
fn chunks_make_no_difference() {
    for seed in 0..5_000 {
        let mut random = Random::new(seed);
        let text = random_text(&mut random);
        let whole = unit_starts(text.as_bytes());
        let longest = 1 + random.below(7);
        let mut chunked = vec![0];
        while let Some(start) = next_unit_start(
            |byte| {
                let end = (byte + 1 + random.below(longest)).min(text.len());
                &text.as_bytes()[byte..end]
            },
            chunked[chunked.len() - 1],
        ) {
            chunked.push(start);
        }
        assert_eq!(chunked, whole, "units of {text:?}");
    }
}

fn child_items(tree: &Tree, child: u32, base: usize) -> Option<Vec<Item<'_>>> {
    tree.root_node().child(child).map(|node| items(node, base))
}

/// A unit parsed by itself gives the node that it has in the tree of the whole text.
#[test]
fn a_unit_has_the_same_tree_alone() {
    let samples = SAMPLES.map(|(_, sample)| sample.to_owned());
    let texts = (0..5_000).map(|seed| random_text(&mut Random::new(seed)));
    for text in samples.into_iter().chain(texts) {
        let text = text.as_bytes();
        let whole = parse(text);
        let mut starts = unit_starts(text);
        starts.push(text.len());
        for (index, bounds) in starts.windows(2).enumerate() {
            let alone = parse(&text[bounds[0]..bounds[1]]);
            let index = u32::try_from(index).expect("the text is short");
            assert_eq!(
                child_items(&whole, index, bounds[0]),
                child_items(&alone, 0, 0),
                "unit {index} of {:?}",
                String::from_utf8_lossy(text)
            );
            assert!(alone.root_node().child_count() <= 1);
        }
    }
}
