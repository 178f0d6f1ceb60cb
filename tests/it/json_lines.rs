//! Whole collections of problems through the command line, as JSON Lines.

use std::io::{BufRead, BufReader, Write};
use std::process::{Command, Stdio};

use porism_tests::program::program;
use serde_json::{Value, json};

/// Runs a command on lines of standard input. Each line is sent after the answer to the one before
/// it has come, so that a result that is held back never comes.
fn answers(arguments: &[&str], lines: &[&str]) -> Vec<Value> {
    let mut child = Command::new(program())
        .args(arguments)
        .env("PORISM_NOW", "2027-02-15 10:00")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .expect("the program runs");
    let mut input = child.stdin.take().expect("standard input");
    let mut output = BufReader::new(child.stdout.take().expect("standard output"));
    let mut answers = Vec::new();
    for line in lines {
        writeln!(input, "{line}").expect("the program reads");
        input.flush().expect("the program reads");
        let mut answer = String::new();
        output.read_line(&mut answer).expect("an answer");
        answers.push(serde_json::from_str(&answer).expect("a line of JSON"));
    }
    drop(input);
    let mut rest = String::new();
    assert_eq!(output.read_line(&mut rest).expect("the end"), 0, "{rest}");
    assert!(child.wait().expect("the program ends").success());
    answers
}

/// A line of input that is no item.
const BROKEN: &str = "{\"id\": 3, \"tex\": ";

#[test]
fn classify_says_the_kind_of_each() {
    let found = answers(
        &["classify", "--jsonl"],
        &[
            r#"{"id": "a", "tex": "x^2 - 5x + 6 = 0", "more": true}"#,
            BROKEN,
            r#"{"id": 7, "tex": "\\frac{1}{2"}"#,
            r#"{"id": "b", "tex": "x^2 \\sin x", "prompt": "Find the derivative."}"#,
            r#"{"id": "c", "tex": "Solve $x^2 - 7x + 12 = 0$."}"#,
        ],
    );
    assert_eq!(found[0]["id"], "a");
    assert_eq!(found[0]["read"], true);
    assert_eq!(found[0]["kind"], "equation");
    assert_eq!(found[0]["matches"][0]["pattern"], "quadratic by factoring");
    assert_eq!(found[0]["matches"][0]["laws"], json!([]));
    assert_eq!(found[0]["matches"][0]["holes"]["c"], "6");
    assert_eq!(found[0]["diagnostics"], json!([]));
    assert!(found[1]["reason"].is_string(), "{}", found[1]);
    assert_eq!(
        (&found[2]["id"], &found[2]["read"]),
        (&json!(7), &json!(false))
    );
    assert!(
        found[2]["diagnostics"][0]["message"].is_string(),
        "{}",
        found[2]
    );
    assert_eq!(found[3]["kind"], "differentiate");
    // The same problem with other numbers.
    assert_eq!(found[4]["fingerprint"], found[0]["fingerprint"]);
}

#[test]
fn verify_says_whether_each_holds() {
    let found = answers(
        &["verify", "--jsonl"],
        &[
            r#"{"id": 1, "tex": "x^2 - 5x + 6 = 0", "answer": "x = 2, x = 3"}"#,
            r#"{"id": 2, "tex": "x^2 - 5x + 6 = 0", "answer": "x = 2, x = 4"}"#,
            BROKEN,
            r#"{"id": 4, "tex": "x^2"}"#,
            r#"{"id": 5, "tex": "x^3", "answer": "3x^2", "prompt": "Find the derivative."}"#,
            r#"{"id": 6, "tex": "x^3", "answer": "3x^2", "kind": "differentiate"}"#,
            r#"{"id": 7, "tex": "Prove that $1 < 2$.", "answer": "clear"}"#,
        ],
    );
    let verdicts: Vec<&str> = found
        .iter()
        .map(|line| line["verdict"].as_str().expect("a verdict"))
        .collect();
    let expected = [
        "holds",
        "fails",
        "cannot-tell",
        "cannot-tell",
        "holds",
        "holds",
        "cannot-tell",
    ];
    assert_eq!(verdicts, expected);
    assert!(found.iter().all(|line| line["reason"].is_string()));
    assert!(found[1]["witness"].is_string(), "{}", found[1]);
    assert_eq!(found[3]["id"], 4);
}

#[test]
fn siblings_of_each_hold() {
    let lines = [
        r#"{"id": 1, "tex": "x^2 - 5x + 6 = 0", "n": 2, "seed": 5}"#,
        r#"{"id": 2, "tex": "Prove it."}"#,
        BROKEN,
    ];
    let found = answers(&["siblings", "--jsonl", "-n", "4"], &lines);
    assert_eq!(found, answers(&["siblings", "--jsonl", "-n", "4"], &lines));
    let siblings = found[0]["siblings"].as_array().expect("siblings");
    assert_eq!(siblings.len(), 2);
    for sibling in siblings {
        let line = json!({"id": 0, "tex": sibling["tex"], "answer": sibling["answer"]});
        let verdict = answers(&["verify", "--jsonl"], &[&line.to_string()]);
        assert_eq!(verdict[0]["verdict"], "holds", "{sibling}");
    }
    for none in &found[1..] {
        assert_eq!(none["siblings"], json!([]));
        assert!(none["reason"].is_string(), "{none}");
    }
}
