//! Trees as the tests compare and print them.

use std::fmt::Write as _;
use std::ops::Range;

use tree_sitter::{Node, Parser, Tree, TreeCursor};

pub(crate) fn parser() -> Parser {
    let mut parser = Parser::new();
    parser
        .set_language(&porism_grammar::LANGUAGE.into())
        .expect("the ABI of the language is one that the library reads");
    parser
}

pub(crate) fn parse(text: &[u8]) -> Tree {
    parser().parse(text, None).expect("no parse was cancelled")
}

/// A node of the tree in preorder.
#[derive(Debug, PartialEq, Eq)]
pub(crate) struct Item<'tree> {
    pub(crate) depth: usize,
    pub(crate) field: Option<&'tree str>,
    pub(crate) kind: &'tree str,
    pub(crate) range: Range<usize>,
}

/// All nodes below `node` and itself, in preorder. Ranges count from `base`.
pub(crate) fn items(node: Node<'_>, base: usize) -> Vec<Item<'_>> {
    let mut items = Vec::new();
    visit(&mut node.walk(), 0, &mut |cursor, depth| {
        let node = cursor.node();
        items.push(Item {
            depth,
            field: cursor.field_name(),
            kind: node.kind(),
            range: node.start_byte() - base..node.end_byte() - base,
        });
    });
    items
}

/// Fails when the tree has a node that is an error or that the parser has made up.
pub(crate) fn assert_total(tree: &Tree, text: &[u8]) {
    let root = tree.root_node();
    let mut is_total = root.kind() == "source_file" && !root.has_error();
    visit(&mut root.walk(), 0, &mut |cursor, _| {
        is_total &= !cursor.node().is_error() && !cursor.node().is_missing();
    });
    assert!(
        is_total,
        "the tree of {:?} has errors: {}",
        String::from_utf8_lossy(text),
        root.to_sexp()
    );
}

/// Named nodes as an S-expression with one node a line.
pub(crate) fn s_expression(node: Node<'_>) -> String {
    let mut output = String::new();
    let mut open = 0;
    visit(&mut node.walk(), 0, &mut |cursor, depth| {
        if !cursor.node().is_named() {
            return;
        }
        // Anonymous nodes have no named children, so depths are depths of named nodes.
        output.push_str(&")".repeat(open - depth));
        open = depth + 1;
        if depth > 0 {
            output.push('\n');
            output.push_str(&"  ".repeat(depth));
        }
        if let Some(field) = cursor.field_name() {
            write!(output, "{field}: ").expect("a String takes any text");
        }
        write!(output, "({}", cursor.node().kind()).expect("a String takes any text");
    });
    output.push_str(&")".repeat(open));
    output
}

fn visit<'tree>(
    cursor: &mut TreeCursor<'tree>,
    depth: usize,
    act: &mut impl FnMut(&TreeCursor<'tree>, usize),
) {
    act(cursor, depth);
    if cursor.goto_first_child() {
        loop {
            visit(cursor, depth + 1, act);
            if !cursor.goto_next_sibling() {
                break;
            }
        }
        cursor.goto_parent();
    }
}
