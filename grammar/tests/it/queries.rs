//! Each query fits the grammar and finds what it is for.

use porism_grammar::{
    FOLDS_QUERY, HIGHLIGHTS_QUERY, INJECTIONS_QUERY, LANGUAGE, LOCALS_QUERY, NODE_TYPES, TAGS_QUERY,
};
use tree_sitter::{Query, QueryCursor, StreamingIterator as _};
use tree_sitter_tags::{TagsConfiguration, TagsContext};

use crate::SAMPLES;
use crate::tree::parse;

/// The text of each capture of the query with its name, in the order of the text.
fn captures(query: &str, text: &str) -> Vec<String> {
    let query = Query::new(&LANGUAGE.into(), query).expect("the query fits the grammar");
    let tree = parse(text.as_bytes());
    let mut cursor = QueryCursor::new();
    let mut found = cursor.captures(&query, tree.root_node(), text.as_bytes());
    let mut captures = Vec::new();
    while let Some((found, index)) = found.next() {
        let capture = found.captures()[*index];
        let name = query.capture_names()[capture.index as usize];
        if !name.starts_with('_') {
            captures.push(format!("{name}: {}", &text[capture.node.byte_range()]));
        }
    }
    captures
}

#[test]
fn every_query_fits_the_grammar_and_matches_a_sample() {
    for query in [
        HIGHLIGHTS_QUERY,
        FOLDS_QUERY,
        INJECTIONS_QUERY,
        LOCALS_QUERY,
        TAGS_QUERY,
    ] {
        let (_, sample) = SAMPLES[0];
        assert!(!captures(query, sample).is_empty(), "no match of {query}");
    }
}

#[test]
fn folds_are_blocks_fields_and_display_math() {
    assert_eq!(
        captures(FOLDS_QUERY, "# a\n@problem b\n  proof:\n    $$ c\n    $$\n"),
        [
            "fold: @problem b\n  proof:\n    $$ c\n    $$",
            "fold: proof:\n    $$ c\n    $$",
            "fold: $$ c\n    $$",
        ]
    );
}

#[test]
fn tex_is_injected_as_latex() {
    let query = Query::new(&LANGUAGE.into(), INJECTIONS_QUERY).expect("the query fits");
    let settings = query.property_settings(0);
    assert_eq!(settings.len(), 1);
    assert_eq!(&*settings[0].key, "injection.language");
    assert_eq!(settings[0].value.as_deref(), Some("latex"));
    assert_eq!(
        captures(INJECTIONS_QUERY, "a $b$ $5 $$\nc\n$$ $d"),
        [
            "injection.content: b",
            "injection.content: \nc\n",
            "injection.content: d"
        ]
    );
}

#[test]
fn locals_are_patterns() {
    assert_eq!(
        captures(
            LOCALS_QUERY,
            "@pattern By parts\n@problem a\n  pattern: by parts\n  from: p. 3\n"
        )[1..],
        ["local.definition: By parts", "local.reference: by parts"]
    );
}

#[test]
fn tags_are_titles_and_what_names_them() {
    let text = "# Series\n@topic 5.1\n@pattern Telescoping\n@problem 1\n  pattern: telescoping\n\
                @theorem Root test\n@question 2\n  of: 1\n@exam\n@unknown a\n  for: b\n";
    let configuration =
        TagsConfiguration::new(LANGUAGE.into(), TAGS_QUERY, "").expect("the query fits");
    let mut context = TagsContext::new();
    let (tags, has_error) = context
        .generate_tags(&configuration, text.as_bytes(), None)
        .expect("the text can be parsed");
    assert!(!has_error);
    let tags: Vec<String> = tags
        .map(|tag| {
            let tag = tag.expect("nothing cancels");
            let kind = configuration.syntax_type_name(tag.syntax_type_id);
            let role = if tag.is_definition { "is" } else { "names" };
            format!("{} {role} a {kind}", &text[tag.name_range])
        })
        .collect();
    assert_eq!(
        tags,
        [
            "Series is a section",
            "5.1 is a section",
            "Telescoping is a pattern",
            "1 is a problem",
            "telescoping names a pattern",
            "Root test is a statement",
            "2 is a problem",
            "1 names a problem",
            "b names a section",
        ]
    );
}

#[test]
fn node_types_name_the_nodes() {
    for kind in [
        "block",
        "comment",
        "display_math",
        "escape",
        "field",
        "heading",
        "heading_marker",
        "header",
        "inline_math",
        "key",
        "kind",
        "prose",
        "source_file",
        "statement",
        "tex",
        "text",
        "title",
        "unclosed_math",
        "value",
    ] {
        assert!(
            NODE_TYPES.contains(&format!("\"type\": \"{kind}\"")),
            "{kind}"
        );
    }
}
