//! How a session with the language server begins and ends.

use std::fs;
use std::process::Command;

use porism_tests::session::{Session, Start};
use serde_json::{Value, json};

fn folder() -> tempfile::TempDir {
    tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder")
}

fn started(folder: &tempfile::TempDir) -> Session {
    Start::new(folder.path()).start()
}

#[test]
fn a_session_begins_and_ends() {
    let folder = folder();
    let mut session = Start::new(folder.path()).spawn();
    let offered = session.initialize();
    assert_eq!(offered["serverInfo"]["name"], "porism");
    assert_eq!(offered["capabilities"]["positionEncoding"], "utf-16");
    assert_eq!(
        offered["capabilities"]["textDocumentSync"]["change"], 2,
        "incremental"
    );
    session.finish();
}

#[test]
fn exit_ends_the_process_while_the_input_stays_open() {
    let folder = folder();
    let mut session = started(&folder);
    assert_eq!(session.request("shutdown", Value::Null), Value::Null);
    session.notify("exit", Value::Null);
    assert_eq!(session.wait_exit().code(), Some(0));
}

#[test]
fn exit_without_shutdown_is_a_failure() {
    let folder = folder();
    let mut session = started(&folder);
    session.notify("exit", Value::Null);
    assert_eq!(session.wait_exit().code(), Some(1));
}

#[test]
fn exit_before_initialize_ends_the_process_too() {
    let folder = folder();
    let mut session = Start::new(folder.path()).spawn();
    session.notify("exit", Value::Null);
    assert_eq!(session.wait_exit().code(), Some(1));
}

#[test]
fn shutdown_and_exit_in_one_breath_are_both_heard() {
    let folder = folder();
    let mut session = started(&folder);
    let id = session.send_request("shutdown", Value::Null);
    session.notify("exit", Value::Null);
    assert_eq!(session.answer(id), Ok(Value::Null));
    assert_eq!(session.wait_exit().code(), Some(0));
}

#[test]
fn nothing_is_answered_after_shutdown() {
    let folder = folder();
    let mut session = started(&folder);
    session.request("shutdown", Value::Null);
    let answer = session.try_request("workspace/symbol", json!({ "query": "" }));
    // InvalidRequest, as the specification asks (LSP 3.17, "Shutdown Request").
    assert_eq!(
        answer.map_err(|error| error["code"].clone()),
        Err(json!(-32600))
    );
    session.notify("exit", Value::Null);
    assert_eq!(session.wait_exit().code(), Some(0));
}

#[test]
fn requests_before_initialize_are_refused() {
    let folder = folder();
    let mut session = Start::new(folder.path()).spawn();
    let answer = session.try_request("workspace/symbol", json!({ "query": "" }));
    // ServerNotInitialized (LSP 3.17, "Initialize Request").
    assert_eq!(
        answer.map_err(|error| error["code"].clone()),
        Err(json!(-32002))
    );
    session.initialize();
    session.finish();
}

#[test]
fn a_second_initialize_is_refused_and_changes_nothing() {
    let folder = folder();
    let mut session = started(&folder);
    let answer = session.try_request("initialize", json!({ "capabilities": {} }));
    assert_eq!(
        answer.map_err(|error| error["code"].clone()),
        Err(json!(-32600))
    );
    session.finish();
}

#[test]
fn a_closed_input_ends_the_process() {
    let folder = folder();
    let mut session = started(&folder);
    session.close_input();
    assert_eq!(session.wait_exit().code(), Some(1));
}

#[cfg(unix)]
#[test]
fn the_server_does_not_outlive_its_client() {
    let folder = folder();
    let mut client = Command::new("sleep")
        .arg("600")
        .spawn()
        .expect("a process to stand in");
    let mut session = Start::new(folder.path()).process(client.id()).start();
    session.request("workspace/symbol", json!({ "query": "" }));
    client.kill().expect("it is ours to end");
    client.wait().expect("it ends");
    assert_eq!(session.wait_exit().code(), Some(1));
}

#[test]
fn what_is_no_message_is_answered_with_an_error_and_the_session_goes_on() {
    let folder = folder();
    let mut session = started(&folder);
    session.send(&json!("no message"));
    let answer = session.wait("an error", |message| message.get("error").is_some());
    assert_eq!(
        (&answer["id"], &answer["error"]["code"]),
        (&Value::Null, &json!(-32600))
    );
    let unknown = session.try_request("porism/unheardOf", json!({}));
    assert_eq!(
        unknown.map_err(|error| error["code"].clone()),
        Err(json!(-32601))
    );
    session.finish();
}

#[test]
fn the_log_goes_to_standard_error() {
    let folder = folder();
    let session = Start::new(folder.path())
        .environment("PORISM_LOG", "info")
        .start();
    let mut session = session;
    session.request("workspace/symbol", json!({ "query": "" }));
    assert!(
        session.log().contains("session starts"),
        "{}",
        session.log()
    );
    session.finish();
}

#[test]
fn a_file_that_cannot_be_read_is_named_and_the_rest_counts() {
    let folder = folder();
    fs::write(folder.path().join("bad.porism"), b"caf\xe9").expect("written");
    fs::write(folder.path().join("good.porism"), "@topic 1 Sets\n").expect("written");
    let mut session = started(&folder);
    let warning = session.wait_message("window/showMessage");
    let text = warning["message"].as_str().expect("text");
    assert!(
        text.contains("bad.porism") && text.contains("UTF-8"),
        "{text}"
    );
    let found = session.request("workspace/symbol", json!({ "query": "sets" }));
    assert_eq!(found.as_array().map(Vec::len), Some(1), "{found}");
    session.finish();
}
