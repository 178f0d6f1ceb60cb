//! Each feature once, through the protocol.

use porism_tests::session::{Session, Start};
use serde_json::{Value, json};

const NOTES: &str = "\
@course Waves

@exam First midterm
  on: 2027-02-26 10:00
  covers: 1.1

@topic 1.1 Separable equations

@pattern separable
  cue: a product

% one line
% another

@problem 1.1.1
  pattern: separable
  Solve $y' = x y$, 𝔾.
  answer: $y = C e^{x^2/2}$

@problem 1.1.2
  pattern: seperable
  Solve $y' = \\frac{x}{y}$.
  answer: $y^2 = x^2 + C$
";

/// A session in which the notes are open, with a client of this name.
fn opened(client: &str) -> (tempfile::TempDir, Session) {
    let folder = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    let mut session = Start::new(folder.path()).client(client).start();
    session.open("waves.porism", NOTES);
    (folder, session)
}

/// The names in a list of symbols or proposals, those below each in brackets.
fn outline(symbols: &Value) -> String {
    let names: Vec<String> = symbols
        .as_array()
        .expect("a list")
        .iter()
        .map(|symbol| {
            let name = symbol["name"].as_str().expect("a name");
            match symbol.get("children") {
                Some(children) => format!("{name} [{}]", outline(children)),
                None => name.to_owned(),
            }
        })
        .collect();
    names.join(", ")
}

#[test]
fn hover_is_markdown_where_the_client_shows_it() {
    for (client, kind) in [
        ("vscode-1.139.1", "markdown"),
        ("emacs30.1-eglot1.17", "plaintext"),
    ] {
        let (_folder, mut session) = opened(client);
        let place = session.at("waves.porism", "separable\n  Solve");
        let hover = session.request("textDocument/hover", place);
        assert_eq!(hover["contents"]["kind"], kind);
        let text = hover["contents"]["value"].as_str().expect("text");
        assert!(
            text.contains("separable") && text.contains("a product"),
            "{text}"
        );
        assert_eq!(
            hover["range"]["start"],
            json!({ "line": 15, "character": 11 })
        );
        assert_eq!(
            hover["range"]["end"],
            json!({ "line": 15, "character": 20 })
        );
        session.finish();
    }
}

#[test]
fn completion_proposes_names_and_replaces_what_is_typed() {
    let (_folder, mut session) = opened("vscode-1.139.1");
    let place = session.at("waves.porism", "erable\n  Solve $y' = \\frac");
    let list = session.request("textDocument/completion", place);
    let item = &list[0];
    assert_eq!(item["label"], "separable", "{list}");
    assert_eq!(item["textEdit"]["newText"], "separable");
    assert_eq!(
        item["textEdit"]["range"]["start"],
        json!({ "line": 20, "character": 11 })
    );
    session.finish();
}

#[test]
fn definition_and_references_find_each_other() {
    let (_folder, mut session) = opened("vscode-1.139.1");
    let place = session.at("waves.porism", "separable\n  Solve");
    let found = session.request("textDocument/definition", place.clone());
    assert_eq!(
        found[0]["range"]["start"],
        json!({ "line": 8, "character": 9 })
    );
    let mut params = place;
    params["context"] = json!({ "includeDeclaration": false });
    let found = session.request("textDocument/references", params);
    let lines: Vec<_> = found
        .as_array()
        .expect("a list")
        .iter()
        .map(|one| one["range"]["start"]["line"].clone())
        .collect();
    assert_eq!(lines, [json!(15)]);
    session.finish();
}

#[test]
fn the_outline_nests() {
    let (_folder, mut session) = opened("vscode-1.139.1");
    let params = session.about("waves.porism", json!({}));
    let symbols = session.request("textDocument/documentSymbol", params);
    assert_eq!(
        outline(&symbols),
        "Waves [First midterm, 1.1 Separable equations [separable, 1.1.1, 1.1.2]]"
    );
    let found = session.request("workspace/symbol", json!({ "query": "sepa" }));
    assert_eq!(outline(&found), "separable, 1.1 Separable equations");
    session.finish();
}

#[test]
fn blocks_and_comments_fold() {
    let (_folder, mut session) = opened("vscode-1.139.1");
    let params = session.about("waves.porism", json!({}));
    let folds = session.request("textDocument/foldingRange", params);
    let folded = |first: u32, last: u32, kind: &str| {
        folds.as_array().expect("a list").iter().any(|fold| {
            fold["startLine"] == first && fold["endLine"] == last && fold["kind"] == kind
        })
    };
    assert!(folded(8, 9, "region"), "the pattern: {folds}");
    assert!(folded(11, 12, "comment"), "the comments: {folds}");
    session.finish();
}

#[test]
fn a_quick_fix_is_offered_for_our_own_finding_whatever_the_client_sends() {
    // One client sends no findings with its question and asks about whole lines.
    let (_folder, mut session) = opened("kate-22.12.3");
    let range = json!({
        "start": { "line": 20, "character": 0 },
        "end": { "line": 20, "character": 20 },
    });
    let mut more = json!({ "range": range, "context": { "diagnostics": [] } });
    let params = session.about("waves.porism", more.clone());
    let actions = session.request("textDocument/codeAction", params);
    let fix = actions
        .as_array()
        .expect("a list")
        .iter()
        .find(|action| action["kind"] == "quickfix")
        .expect("a way out of the unknown name");
    assert!(
        fix["title"]
            .as_str()
            .is_some_and(|title| title.contains("separable")),
        "{fix}"
    );
    assert_eq!(fix["diagnostics"][0]["code"], "unknown-name");
    let edits = &fix["edit"]["changes"][session.uri("waves.porism")];
    assert_eq!(edits[0]["newText"], "separable");

    more["context"]["only"] = json!(["refactor"]);
    let params = session.about("waves.porism", more);
    let actions = session.request("textDocument/codeAction", params);
    let kinds: Vec<_> = actions
        .as_array()
        .expect("a list")
        .iter()
        .map(|action| action["kind"].as_str().expect("a kind"))
        .collect();
    // Kinds are a hierarchy, separated by dots (LSP 3.17, "Code Action Kind").
    let is_refactor = |kind: &&str| kind.split('.').next() == Some("refactor");
    assert!(
        !kinds.is_empty() && kinds.iter().all(is_refactor),
        "{kinds:?}"
    );
    session.finish();
}

#[test]
fn lenses_tell_and_do() {
    let (_folder, mut session) = opened("vscode-1.139.1");
    let params = session.about("waves.porism", json!({}));
    let lenses = session.request("textDocument/codeLens", params);
    let lenses = lenses.as_array().expect("a list");
    let draw = lenses
        .iter()
        .find(|lens| lens["command"]["command"] == "porism.drawPaper")
        .expect("an exam can be drawn for");
    assert_eq!(draw["range"]["start"]["line"], 2);
    let telling = lenses.iter().find(|lens| lens["command"]["command"] == "");
    assert!(telling.is_some(), "the exam's standing is told: {lenses:?}");
    let params = json!({ "command": "", "arguments": [] });
    assert_eq!(
        session.request("workspace/executeCommand", params),
        Value::Null
    );
    session.finish();
}

#[test]
fn positions_are_counted_as_agreed() {
    let clients = [
        ("vscode-1.139.1", "utf-16", 24),
        ("helix-25.07.1", "utf-8", 28),
    ];
    for (client, encoding, end) in clients {
        let folder = tempfile::Builder::new()
            .prefix("notes")
            .tempdir()
            .expect("a folder");
        let mut session = Start::new(folder.path()).client(client).spawn();
        let offered = session.initialize();
        assert_eq!(offered["capabilities"]["positionEncoding"], encoding);
        session.open("a.porism", "@course Waves, 𝔾 and 𝔽\n");
        let params = session.about("a.porism", json!({}));
        let symbols = session.request("textDocument/documentSymbol", params);
        let expected = json!({ "line": 0, "character": end });
        assert_eq!(symbols[0]["selectionRange"]["end"], expected, "{symbols}");
        session.finish();
    }
}
