//! Commands: what is drawn, recorded and shown reaches each real client the way it takes it.

use std::fs;
use std::path::{Path, PathBuf};

use porism_tests::session::{Session, Start};
use serde_json::{Value, json};

const NOTES: &str = "\
@course Waves

@exam First midterm
  on: 2027-02-26 10:00
  covers: 1.1
  questions: 2

@topic 1.1 Separable equations

@pattern separable
  cue: a product

@problem 1.1.1
  pattern: separable
  Solve $y' = x y$ with $y(0) = 2$.
  answer: $y = 2 e^{x^2/2}$

@problem 1.1.2
  pattern: separable
  Solve $y' = \\frac{x}{y}$.
  answer: $y^2 = x^2 + C$
";

const CLIENTS: [&str; 12] = [
    "emacs28.2-eglot1.9",
    "emacs30.1-eglot1.17",
    "helix-25.01.1",
    "helix-25.07.1",
    "kakoune-kaklsp22",
    "kate-22.12.3",
    "neovim-0.10.4",
    "neovim-0.12-dev",
    "neovim-0.12.4",
    "neovim-0.7.2",
    "vscode-1.100.3",
    "vscode-1.139.1",
];

fn folder() -> tempfile::TempDir {
    let folder = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    fs::write(folder.path().join("waves.porism"), NOTES).expect("written");
    folder
}

fn draw(session: &mut Session) {
    let arguments = json!(["Waves", "First midterm", "closed"]);
    let params = json!({ "command": "porism.drawPaper", "arguments": arguments });
    assert_eq!(
        session.request("workspace/executeCommand", params),
        Value::Null
    );
}

/// The note files below a folder, but for the notes themselves.
fn papers(folder: &Path) -> Vec<PathBuf> {
    let Ok(entries) = fs::read_dir(folder.join("papers")) else {
        return Vec::new();
    };
    entries
        .map(|entry| entry.expect("readable").path())
        .collect()
}

/// What the server did to bring a paper before the user, one word each.
fn way(session: &mut Session, folder: &Path) -> String {
    let message = session.wait_message("window/showMessage");
    let text = message["message"].as_str().expect("text");
    assert!(
        text.contains("/papers/"),
        "the message names the file: {text}"
    );
    let mut words = Vec::new();
    for message in session.heard() {
        let params = &message["params"];
        match message["method"].as_str() {
            Some("workspace/applyEdit") => {
                let edit = &params["edit"];
                let operations = edit["documentChanges"]
                    .as_array()
                    .map_or(&[][..], Vec::as_slice);
                let kinds: Vec<_> = operations.iter().map(|one| one["kind"].as_str()).collect();
                words.push(match (edit.get("changes"), &kinds[..]) {
                    (None, [Some("create"), None]) => "create-and-edit",
                    (None, [None]) => "edit",
                    (Some(_), []) => "plain-edit",
                    _ => panic!("{edit}"),
                });
                for operation in operations.iter().filter(|one| one.get("edits").is_some()) {
                    assert_eq!(operation["textDocument"]["version"], Value::Null);
                    let text = operation["edits"][0]["newText"].as_str().expect("text");
                    assert!(text.contains("@question"), "{text}");
                }
            }
            Some("window/showDocument") => words.push("show"),
            _ => {}
        }
    }
    match papers(folder).as_slice() {
        [] => {}
        [path] => {
            assert!(
                fs::read_to_string(path)
                    .expect("readable")
                    .contains("@question")
            );
            words.push("on-disk");
        }
        more => panic!("{more:?}"),
    }
    words.join(" ")
}

#[test]
fn each_client_gets_its_paper_the_way_it_takes_it() {
    for client in CLIENTS {
        let folder = folder();
        let mut session = Start::new(folder.path()).client(client).start();
        session.open("waves.porism", NOTES);
        draw(&mut session);
        let expected = match client {
            "emacs30.1-eglot1.17" => "show on-disk",
            "emacs28.2-eglot1.9" => "edit",
            "kate-22.12.3" => "plain-edit",
            "neovim-0.7.2" | "helix-25.01.1" | "kakoune-kaklsp22" => "create-and-edit",
            _ => "create-and-edit show",
        };
        assert_eq!(way(&mut session, folder.path()), expected, "{client}");
        session.finish();
    }
}

#[test]
fn a_paper_that_the_editor_refuses_is_written_to_disk() {
    let folder = folder();
    let mut session = Start::new(folder.path())
        .client("neovim-0.12.4")
        .refusing("workspace/applyEdit")
        .start();
    session.open("waves.porism", NOTES);
    draw(&mut session);
    assert_eq!(
        way(&mut session, folder.path()),
        "create-and-edit show on-disk"
    );
    session.request("shutdown", Value::Null);
}

#[test]
fn the_answer_to_a_command_comes_before_its_edit() {
    let folder = folder();
    let mut session = Start::new(folder.path())
        .client("emacs28.2-eglot1.9")
        .start();
    session.open("waves.porism", NOTES);
    draw(&mut session);
    session.wait_message("window/showMessage");
    let heard = session.heard();
    let edit = heard
        .iter()
        .position(|message| message["method"] == "workspace/applyEdit");
    let answer = heard
        .iter()
        .rposition(|message| message.get("result").is_some());
    assert!(answer < edit, "{answer:?} {edit:?}");
    session.finish();
}

#[test]
fn what_cannot_be_done_is_said_and_changes_nothing() {
    let folder = folder();
    let mut session = Start::new(folder.path()).client("vscode-1.139.1").start();
    session.open("waves.porism", NOTES);
    let params = json!({ "command": "porism.drawPaper", "arguments": ["Waves", "Second midterm"] });
    session.request("workspace/executeCommand", params);
    let said = session.wait_message("window/showMessage");
    let text = said["message"].as_str().expect("text");
    assert!(
        text.contains("First midterm"),
        "it names the exam there is: {text}"
    );
    let params = json!({ "command": "porism.dance" });
    let error = session
        .try_request("workspace/executeCommand", params)
        .expect_err("unknown");
    assert_eq!(error["code"], -32602);
    assert!(
        !session
            .heard()
            .iter()
            .any(|message| message["method"] == "workspace/applyEdit")
    );
    session.finish();
}

/// A paper with its marks, as it is before they are recorded.
const PAPER: &str = "\
@paper Mock
  for: First midterm
  drawn: 2027-02-14
  notes: closed

@question 1
  of: 1.1.1
  Solve $y' = x y$ with $y(0) = 2$.
  mark: right
";

#[test]
fn marks_are_written_back_in_one_edit_of_the_versions_they_were_made_for() {
    let folder = folder();
    fs::create_dir(folder.path().join("papers")).expect("made");
    let mut session = Start::new(folder.path()).client("vscode-1.139.1").start();
    session.open("waves.porism", NOTES);
    session.edit("waves.porism", 0..0, "\n");
    session.open("papers/mock.porism", PAPER);
    let paper = session.uri("papers/mock.porism");
    let params = json!({ "command": "porism.recordMarks", "arguments": [paper] });
    session.request("workspace/executeCommand", params);
    let params = session.wait_message("workspace/applyEdit");
    let changes = params["edit"]["documentChanges"]
        .as_array()
        .expect("a list")
        .clone();
    let mut changed: Vec<_> = changes
        .iter()
        .map(|change| {
            let text = change["edits"][0]["newText"]
                .as_str()
                .expect("text")
                .trim()
                .to_owned();
            (
                change["textDocument"]["uri"].clone(),
                change["textDocument"]["version"].clone(),
                text,
            )
        })
        .collect();
    changed.sort_by_key(|(uri, ..)| uri.to_string());
    let recorded = "recorded: 2027-02-15 10:00".to_owned();
    let tried = "tried: 2027-02-15 closed mock right".to_owned();
    assert_eq!(
        changed,
        [
            (json!(paper), json!(1), recorded),
            (json!(session.uri("waves.porism")), json!(2), tried),
        ]
    );
    session.finish();
}

#[test]
fn a_drill_sheet_and_a_spotting_round_open_in_the_editor() {
    let folder = folder();
    let mut session = Start::new(folder.path()).client("neovim-0.12.4").start();
    session.open("waves.porism", NOTES);
    let nothing = Value::Null;
    for (command, arguments, expected) in [
        (
            "porism.drawDrill",
            json!(["Waves", "separable", nothing, "blocked"]),
            "  mine: \n",
        ),
        (
            "porism.drawSpotting",
            json!(["Waves", nothing, nothing, "1.1"]),
            "  pattern: \n",
        ),
    ] {
        let params = json!({ "command": command, "arguments": arguments });
        session.request("workspace/executeCommand", params);
        let asked = session.wait_message("workspace/applyEdit");
        let operations = asked["edit"]["documentChanges"].as_array().expect("a list");
        assert_eq!(operations[0]["kind"], "create");
        let text = operations[1]["edits"][0]["newText"].as_str().expect("text");
        assert!(text.contains(expected), "{text}");
        session.wait_message("window/showDocument");
        session.wait_message("window/showMessage");
    }
    session.finish();
}

#[test]
fn another_problem_like_this_is_offered_added_and_never_the_same_twice() {
    let folder = folder();
    let mut session = Start::new(folder.path()).client("vscode-1.139.1").start();
    session.open("waves.porism", NOTES);
    let line = NOTES
        .lines()
        .position(|line| line == "@problem 1.1.1")
        .expect("a problem");
    let here = json!({ "line": line, "character": 3 });
    let mut added = Vec::new();
    for _ in 0..2 {
        let actions = session.request(
            "textDocument/codeAction",
            json!({
                "textDocument": { "uri": session.uri("waves.porism") },
                "range": { "start": here, "end": here },
                "context": { "diagnostics": [], "only": ["refactor.porism"] },
            }),
        );
        let [action] = &actions.as_array().expect("a list")[..] else {
            panic!("{actions}")
        };
        assert_eq!(action["title"], "Another like this");
        assert_eq!(action["kind"], "refactor.porism.another");
        let command = &action["command"];
        let params = json!({ "command": command["command"], "arguments": command["arguments"] });
        session.request("workspace/executeCommand", params);
        let asked = session.wait_message("workspace/applyEdit");
        let change = &asked["edit"]["documentChanges"][0]["edits"][0];
        let new = change["newText"].as_str().expect("text").to_owned();
        assert!(new.contains("  pattern: separable\n"), "{new}");
        assert!(new.contains("  answer: $y = "), "{new}");
        let text = session.text("waves.porism");
        let end = text.find("\n\n@problem 1.1.2");
        let end = end.expect("the next one");
        session.edit("waves.porism", end..end, &new);
        added.push(new);
        let said = session.wait_message("window/showMessage");
        let said = said["message"].as_str().expect("text");
        assert!(said.contains(": 1.1.1 with other numbers."), "{said}");
    }
    assert!(added[0].contains("@problem 1.1.1b\n") && added[1].contains("@problem 1.1.1c\n"));
    let statement = |new: &str| {
        let line = new.lines().find(|line| line.starts_with("  Solve"));
        line.expect("a statement").to_owned()
    };
    assert_ne!(statement(&added[0]), statement(&added[1]));
    session.finish();
}

#[test]
fn the_plan_is_written_beside_the_notes_and_then_brought_up_to_date() {
    let folder = folder();
    let mut session = Start::new(folder.path())
        .client("vscode-1.100.3")
        .environment("PORISM_NOW", "2027-02-20 10:00")
        .start();
    session.open("waves.porism", NOTES);
    let command = json!({ "command": "porism.showPlan", "arguments": [] });
    session.request("workspace/executeCommand", command.clone());
    let asked = session.wait_message("workspace/applyEdit");
    let operations = asked["edit"]["documentChanges"]
        .as_array()
        .expect("operations");
    assert_eq!(operations[0]["kind"], "create");
    assert!(
        operations[0]["uri"]
            .as_str()
            .expect("a URI")
            .ends_with("/plan.porism")
    );
    let text = operations[1]["edits"][0]["newText"]
        .as_str()
        .expect("text")
        .to_owned();
    assert!(text.starts_with("# Plan from 2027-02-20\n"), "{text}");
    assert!(text.contains("practise separable"), "{text}");
    assert!(!text.contains(" gains "), "{text}");
    session.wait_message("window/showDocument");

    session.open("plan.porism", "# Plan from 2027-02-19\n");
    session.request("workspace/executeCommand", command);
    let asked = session.wait_message("workspace/applyEdit");
    let change = &asked["edit"]["documentChanges"][0];
    assert_eq!(change["edits"][0]["newText"], text);

    // The same plan with a reason below each block.
    let command = json!({ "command": "porism.showPlan", "arguments": [false, true] });
    session.request("workspace/executeCommand", command);
    let asked = session.wait_message("workspace/applyEdit");
    let with = asked["edit"]["documentChanges"][0]["edits"][0]["newText"]
        .as_str()
        .expect("text");
    let blocks = text.matches("    practise ").count() + text.matches("    relearn ").count();
    assert!(blocks > 0, "{text}");
    assert_eq!(with.matches("; about ").count(), blocks, "{with}");
    assert_eq!(with.matches(" a minute").count(), blocks, "{with}");
    session.finish();
}

#[test]
fn the_calendar_is_written_and_another_file_is_not_written_over() {
    let folder = folder();
    let mut session = Start::new(folder.path())
        .client("neovim-0.10.4")
        .environment("PORISM_NOW", "2027-02-20 10:00")
        .environment("TZ", "Europe/Berlin")
        .start();
    session.open("waves.porism", NOTES);
    let command = json!({ "command": "porism.writeCalendar", "arguments": [] });
    session.request("workspace/executeCommand", command.clone());
    let said = session.wait_message("window/showMessage");
    assert!(
        said["message"]
            .as_str()
            .expect("text")
            .contains("porism.ics: 1 exam"),
        "{said}"
    );
    let path = folder.path().join("porism.ics");
    let text = fs::read_to_string(&path).expect("it is written");
    assert!(
        text.contains("DTSTART;TZID=Europe/Berlin:20270226T100000\r\n"),
        "{text}"
    );

    fs::write(&path, "bread").expect("written");
    session.request("workspace/executeCommand", command);
    let said = session.wait_message("window/showMessage");
    assert!(
        said["message"]
            .as_str()
            .expect("text")
            .contains("left as it is"),
        "{said}"
    );
    let outside = json!({ "command": "porism.writeCalendar", "arguments": ["/no-such/a.ics"] });
    session.request("workspace/executeCommand", outside);
    let said = session.wait_message("window/showMessage");
    assert!(
        said["message"]
            .as_str()
            .expect("text")
            .contains("in no folder of the notes"),
        "{said}"
    );
    assert_eq!(fs::read_to_string(&path).expect("readable"), "bread");
    session.finish();
}
