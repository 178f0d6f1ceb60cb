//! The clock of a paper that is being sat, as an editor sees it.

use std::path::Path;

use porism_tests::session::{Session, Start};
use serde_json::{Value, json};

/// A paper of two minutes.
const PAPER: &str = "\
@course Waves
@paper Mock
  length: 2 min
  started:
  finished:

@question 1
  Decide.
  mark:
";

fn folder() -> tempfile::TempDir {
    tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder")
}

fn session(folder: &Path, now: &str) -> Session {
    let capabilities = json!({
        "window": { "workDoneProgress": true },
        "workspace": { "workspaceEdit": { "documentChanges": true } },
    });
    Start::new(folder)
        .capabilities(capabilities)
        .environment("PORISM_NOW", now)
        .start()
}

fn run(session: &mut Session, command: &str, name: &str) {
    let uri = session.uri(name);
    let params = json!({ "command": command, "arguments": [uri, "Mock"] });
    session.request("workspace/executeCommand", params);
}

/// Waits for a progress of this kind.
fn progress(session: &mut Session, kind: &str) -> Value {
    let message = session.wait(kind, |message| {
        message["method"] == "$/progress" && message["params"]["value"]["kind"] == kind
    });
    message["params"].clone()
}

fn said(session: &mut Session) -> String {
    let message = session.wait_message("window/showMessage");
    message["message"].as_str().expect("text").to_owned()
}

#[test]
fn a_paper_is_started_timed_and_finished() {
    let folder = folder();
    let mut session = session(folder.path(), "2027-02-15 10:00");
    session.open("a.porism", PAPER);
    run(&mut session, "porism.startPaper", "a.porism");
    let edit = session.wait_message("workspace/applyEdit");
    assert!(edit.to_string().contains("2027-02-15 10:00"), "{edit}");
    assert_eq!(
        said(&mut session),
        "Mock: 2 min, until 10:02; notes closed."
    );
    let started = PAPER.replace("started:", "started: 2027-02-15 10:00");
    session.replace("a.porism", &started);
    let begun = progress(&mut session, "begin");
    assert_eq!(begun["value"]["title"], "Mock");
    assert_eq!(begun["value"]["cancellable"], true);
    assert_eq!(begun["value"]["message"], "2 min left");

    run(&mut session, "porism.showPace", "a.porism");
    assert!(said(&mut session).starts_with("2 min left; an even pace is at question 1 of 1"));
    run(&mut session, "porism.finishPaper", "a.porism");
    session.wait_message("workspace/applyEdit");
    assert!(said(&mut session).starts_with("Mock: finished after 0 min of 2."));
    let finished = started.replace("finished:", "finished: 2027-02-15 10:00");
    session.replace("a.porism", &finished);
    assert_eq!(progress(&mut session, "end")["token"], begun["token"]);
    session.finish();
}

#[test]
fn the_clock_goes_on_after_a_restart_and_says_when_time_is_up() {
    let folder = folder();
    let text = PAPER.replace("started:", "started: 2027-02-15 09:59");
    std::fs::write(folder.path().join("a.porism"), text).expect("written");
    let mut first = session(folder.path(), "2027-02-15 09:59:30");
    assert_eq!(
        progress(&mut first, "begin")["value"]["message"],
        "2 min left"
    );
    first.finish();
    let mut second = session(folder.path(), "2027-02-15 10:00:52");
    let begun = progress(&mut second, "begin");
    assert_eq!(begun["value"]["message"], "1 min left");
    assert!(said(&mut second).starts_with("Mock: time is up."));
    assert_eq!(progress(&mut second, "end")["token"], begun["token"]);
    second.finish();
}

#[test]
fn a_progress_that_is_cancelled_ends() {
    let folder = folder();
    let text = PAPER.replace("started:", "started: 2027-02-15 10:00");
    std::fs::write(folder.path().join("a.porism"), text).expect("written");
    let mut session = session(folder.path(), "2027-02-15 10:00");
    let begun = progress(&mut session, "begin");
    let token = json!({ "token": begun["token"] });
    session.notify("window/workDoneProgress/cancel", token);
    assert_eq!(progress(&mut session, "end")["token"], begun["token"]);
    session.finish();
}
