//! Documents while they are open: what is answered, and what is told of them.

use std::fs;

use porism_tests::session::{Session, Start};
use serde_json::{Value, json};

const NOTES: &str = "\
@course Waves

@topic 1.1 Separable equations

@pattern separable
  cue: a product

@problem 1.1.1
  pattern: separable
  Solve $y' = x y$.
  answer: $y = C e^{x^2/2}$
";

fn folder() -> tempfile::TempDir {
    tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder")
}

/// The codes of some diagnostics.
fn codes(diagnostics: &[Value]) -> Vec<&str> {
    diagnostics
        .iter()
        .filter_map(|one| one["code"].as_str())
        .collect()
}

/// A session in which `a.porism` is open.
fn opened(folder: &tempfile::TempDir) -> Session {
    let mut session = Start::new(folder.path()).start();
    session.open("a.porism", NOTES);
    session
}

#[test]
fn findings_follow_the_text() {
    let folder = folder();
    let mut session = opened(&folder);
    let before = session.wait_diagnostics("a.porism");
    assert!(!codes(&before).contains(&"unknown-name"), "{before:?}");
    let at = NOTES.find("pattern: separable").expect("there") + "pattern: ".len();
    session.edit("a.porism", at..at + 4, "Sepp");
    let after = session.wait_diagnostics("a.porism");
    assert!(codes(&after).contains(&"unknown-name"), "{after:?}");
    session.edit("a.porism", at..at + 4, "sepa");
    let mended = session.wait_diagnostics("a.porism");
    assert_eq!(codes(&mended), codes(&before));
    session.finish();
}

#[test]
fn a_burst_of_changes_does_not_cost_a_check_each() {
    let folder = folder();
    let mut session = opened(&folder);
    session.wait_diagnostics("a.porism");
    let heard = session.heard().len();
    for _ in 0..200 {
        session.edit("a.porism", 0..0, "x\n");
    }
    session.wait_diagnostics("a.porism");
    let published = session.heard()[heard..]
        .iter()
        .filter(|message| message["method"] == "textDocument/publishDiagnostics")
        .count();
    assert!(published < 100, "{published} times for 200 changes");
    session.finish();
}

#[test]
fn a_request_sees_the_change_that_was_sent_before_it() {
    let folder = folder();
    let mut session = opened(&folder);
    for i in 0..50 {
        session.replace("a.porism", &format!("@topic 1.{i} Sets\n"));
        let params = session.about("a.porism", json!({}));
        let symbols = session.request("textDocument/documentSymbol", params);
        let name = symbols[0]["name"].as_str().expect("a name").to_owned();
        assert!(name.contains(&format!("1.{i}")), "{name} in round {i}");
    }
    session.finish();
}

#[test]
fn a_position_past_the_end_is_the_end() {
    let folder = folder();
    let mut session = opened(&folder);
    let far = json!({ "position": { "line": 4_000_000_000_u32, "character": u32::MAX >> 1 } });
    for method in [
        "textDocument/hover",
        "textDocument/completion",
        "textDocument/definition",
    ] {
        let params = session.about("a.porism", far.clone());
        session.request(method, params);
    }
    session.finish();
}

#[test]
fn nothing_is_said_of_a_document_that_nobody_knows() {
    let folder = folder();
    let mut session = opened(&folder);
    for (method, more) in [
        (
            "textDocument/hover",
            json!({ "position": { "line": 0, "character": 0 } }),
        ),
        ("textDocument/documentSymbol", json!({})),
        ("textDocument/foldingRange", json!({})),
        ("textDocument/codeLens", json!({})),
    ] {
        let params = session.about("nowhere.porism", more);
        assert_eq!(session.request(method, params), Value::Null, "{method}");
    }
    session.notify(
        "textDocument/didChange",
        json!({
            "textDocument": { "uri": session.uri("nowhere.porism"), "version": 2 },
            "contentChanges": [{ "text": "x" }],
        }),
    );
    session.finish();
}

#[test]
fn an_unsaved_buffer_is_checked_like_a_file() {
    let folder = folder();
    let mut session = Start::new(folder.path()).start();
    session.open("untitled:Untitled-1", "@exam Final\n");
    let diagnostics = session.wait_diagnostics("untitled:Untitled-1");
    assert!(codes(&diagnostics).contains(&"no-date"), "{diagnostics:?}");
    session.close("untitled:Untitled-1");
    session.wait_published("untitled:Untitled-1", "no diagnostics", |params| {
        params["diagnostics"].as_array().is_some_and(Vec::is_empty)
    });
    session.finish();
}

#[test]
fn files_that_are_not_open_count_and_are_told_of() {
    let folder = folder();
    fs::write(
        folder.path().join("patterns.porism"),
        "@course Waves\n\n@pattern exact\n  cue: it\n",
    )
    .expect("written");
    fs::write(folder.path().join("exam.porism"), "@exam Final\n").expect("written");
    let mut session = Start::new(folder.path()).start();
    let told = session.wait_published("exam.porism", "the exam without a date", |params| {
        params.get("version").is_none()
    });
    assert!(codes(&told).contains(&"no-date"), "{told:?}");
    session.open("a.porism", "@problem 1\n  pattern: exact\n  Solve it.\n");
    let place = session.at("a.porism", "exact");
    let found = session.request("textDocument/definition", place);
    assert_eq!(found[0]["uri"], session.uri("patterns.porism"));
    session.finish();
}

#[test]
fn a_client_without_a_folder_sees_the_notes_beside_the_open_one() {
    let folder = folder();
    fs::write(
        folder.path().join("patterns.porism"),
        "@course Waves\n\n@pattern exact\n  cue: it\n",
    )
    .expect("written");
    let mut session = Start::new(folder.path()).without_folder().start();
    session.open("a.porism", "@problem 1\n  pattern: exact\n  Solve it.\n");
    let place = session.at("a.porism", "exact");
    let found = session.request("textDocument/definition", place);
    assert_eq!(found[0]["uri"], session.uri("patterns.porism"));
    session.finish();
}

#[test]
fn a_closed_file_is_what_the_disk_says() {
    let folder = folder();
    fs::write(folder.path().join("a.porism"), "@topic 1 Disk\n").expect("written");
    let mut session = Start::new(folder.path()).start();
    session.open("a.porism", "@topic 1 Editor\n");
    for (query, there) in [("Editor", true), ("Disk", false)] {
        let found = session.request("workspace/symbol", json!({ "query": query }));
        assert_eq!(
            found.as_array().is_some_and(|found| !found.is_empty()),
            there,
            "{query}"
        );
    }
    session.close("a.porism");
    let found = session.request("workspace/symbol", json!({ "query": "Disk" }));
    assert_eq!(found.as_array().map(Vec::len), Some(1));
    session.finish();
}

#[test]
fn files_may_change_behind_the_editor() {
    let folder = folder();
    let watching = json!({
        "workspace": { "didChangeWatchedFiles": { "dynamicRegistration": true } },
    });
    let mut session = Start::new(folder.path()).capabilities(watching).start();
    let wish = session.wait_message("client/registerCapability");
    let registration = &wish["registrations"][0];
    assert_eq!(registration["method"], "workspace/didChangeWatchedFiles");
    fs::write(folder.path().join("new.porism"), "@topic 1 Fresh\n").expect("written");
    let changes = json!({ "changes": [{ "uri": session.uri("new.porism"), "type": 1 }] });
    session.notify("workspace/didChangeWatchedFiles", changes);
    let found = session.request("workspace/symbol", json!({ "query": "fresh" }));
    assert_eq!(found.as_array().map(Vec::len), Some(1));
    fs::remove_file(folder.path().join("new.porism")).expect("removed");
    let changes = json!({ "changes": [{ "uri": session.uri("new.porism"), "type": 3 }] });
    session.notify("workspace/didChangeWatchedFiles", changes);
    let found = session.request("workspace/symbol", json!({ "query": "fresh" }));
    assert_eq!(found.as_array().map(Vec::len), Some(0));
    session.finish();
}

#[test]
fn a_change_that_cannot_be_read_stops_answers_until_the_text_is_known_again() {
    let folder = folder();
    let mut session = opened(&folder);
    session.wait_diagnostics("a.porism");
    let uri = session.uri("a.porism");
    session.notify(
        "textDocument/didChange",
        json!({ "textDocument": { "uri": uri, "version": 2 }, "contentChanges": "none" }),
    );
    let told = session.wait_published("a.porism", "a warning", |params| {
        params["diagnostics"][0]["message"]
            .as_str()
            .is_some_and(|text| text.contains("Save"))
    });
    assert_eq!(told.len(), 1);
    let params = session.about("a.porism", json!({}));
    assert_eq!(
        session.request("textDocument/documentSymbol", params.clone()),
        Value::Null
    );
    session.save("a.porism");
    let symbols = session.request("textDocument/documentSymbol", params);
    assert!(symbols.is_array(), "{symbols}");
    session.request("shutdown", Value::Null);
    session.notify("exit", Value::Null);
    assert_eq!(session.wait_exit().code(), Some(0));
}

#[test]
fn a_client_that_asks_for_findings_is_not_sent_any() {
    let folder = folder();
    fs::write(folder.path().join("exam.porism"), "@exam Final\n").expect("written");
    let mut session = Start::new(folder.path()).client("vscode-1.139.1").start();
    session.open("a.porism", "@exam Midterm\n");
    let params = session.about("a.porism", json!({}));
    let report = session.request("textDocument/diagnostic", params.clone());
    let items = report["items"].as_array().expect("a full report").clone();
    assert!(codes(&items).contains(&"no-date"), "{report}");
    let mut again = params;
    again["previousResultId"] = report["resultId"].clone();
    let report = session.request("textDocument/diagnostic", again);
    assert_eq!(report["kind"], "unchanged");

    let all = session.request("workspace/diagnostic", json!({ "previousResultIds": [] }));
    let uris: Vec<_> = all["items"]
        .as_array()
        .expect("a list")
        .iter()
        .map(|i| &i["uri"])
        .collect();
    assert_eq!(
        uris,
        [
            &json!(session.uri("a.porism")),
            &json!(session.uri("exam.porism"))
        ]
    );
    let pushed = |message: &&Value| message["method"] == "textDocument/publishDiagnostics";
    assert_eq!(session.heard().iter().filter(pushed).count(), 0);
    session.finish();
}

#[test]
fn a_client_that_asks_is_told_when_another_file_changed_its_findings() {
    let folder = folder();
    let mut session = Start::new(folder.path()).client("neovim-0.12.4").start();
    session.open(
        "problem.porism",
        "@course Waves\n\n@problem 1\n  pattern: exact\n  Solve it.\n",
    );
    let params = session.about("problem.porism", json!({}));
    let report = session.request("textDocument/diagnostic", params.clone());
    let before = report["items"].as_array().expect("a full report").clone();
    assert!(codes(&before).contains(&"unknown-name"), "{report}");
    session.open(
        "patterns.porism",
        "@course Waves\n\n@pattern exact\n  cue: it\n",
    );
    session.wait_message("workspace/diagnostic/refresh");
    let report = session.request("textDocument/diagnostic", params);
    let after = report["items"].as_array().expect("a full report").clone();
    assert!(!codes(&after).contains(&"unknown-name"), "{report}");
    session.finish();
}
