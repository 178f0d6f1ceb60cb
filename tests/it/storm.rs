//! Thousands of edits, questions and cancellations at once, with a client that is slow to answer.

use std::time::Duration;

use porism_tests::session::Start;
use serde_json::{Value, json};

/// Numbers that look like chance but are the same every time: a linear congruential generator
/// (Knuth, The Art of Computer Programming 2, section 3.3.4, line 26; constants from memory).
struct Numbers(u64);

impl Numbers {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 33) % n as u64) as usize
    }
}

const PIECES: [&str; 10] = [
    "@problem 1\n  pattern: a\n",
    "@pattern a\n  cue: it\n",
    "@exam Final\n  on: 2027-02-30\n",
    "$x^{2",
    "$",
    "\n",
    "𝔾é",
    "  answer: $1/2$\n",
    "@",
    "prose ",
];

const QUESTIONS: [&str; 5] = [
    "textDocument/hover",
    "textDocument/completion",
    "textDocument/definition",
    "textDocument/documentSymbol",
    "textDocument/codeAction",
];

#[test]
fn a_storm_of_edits_ends_with_the_findings_of_the_final_text() {
    let folder = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    let capabilities = json!({
        "workspace": {
            "codeLens": { "refreshSupport": true },
            "didChangeWatchedFiles": { "dynamicRegistration": true },
        },
    });
    let mut session = Start::new(folder.path())
        .capabilities(capabilities)
        .slow(Duration::from_millis(300))
        .start();
    session.open("a.porism", "@course Storms\n");
    let mut numbers = Numbers(2027);
    let mut asked = Vec::new();
    for round in 0..2000 {
        let text = session.text("a.porism");
        let mut ends = [numbers.below(text.len() + 1), numbers.below(text.len() + 1)];
        for end in &mut ends {
            while !text.is_char_boundary(*end) {
                *end -= 1;
            }
        }
        ends.sort_unstable();
        // Mostly insertions, so that the text grows.
        let end = if numbers.below(8) == 0 {
            ends[1].min(ends[0] + 40)
        } else {
            ends[0]
        };
        let end = (end..=ends[1])
            .find(|end| text.is_char_boundary(*end))
            .unwrap_or(ends[0]);
        session.edit(
            "a.porism",
            ends[0]..end,
            PIECES[numbers.below(PIECES.len())],
        );
        if round % 2 == 0 {
            let place = json!({ "line": numbers.below(200), "character": numbers.below(20) });
            let question = QUESTIONS[numbers.below(QUESTIONS.len())];
            let more = match question {
                "textDocument/codeAction" => json!({
                    "range": { "start": place, "end": place },
                    "context": { "diagnostics": [] },
                }),
                _ => json!({ "position": place }),
            };
            let params = session.about("a.porism", more);
            asked.push(session.send_request(question, params));
        }
        if round % 3 == 0
            && let Some(id) = asked.last()
        {
            session.notify("$/cancelRequest", json!({ "id": id }));
        }
    }
    let last = session.wait_diagnostics("a.porism");
    for id in asked {
        if let Err(error) = session.answer(id) {
            assert_eq!(
                error["code"], -32800,
                "only a cancelled request fails: {error}"
            );
        }
    }

    // A fresh session reads the final text at once and must find the same.
    let text = session.text("a.porism").to_owned();
    let other = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    let mut fresh = Start::new(other.path()).start();
    fresh.open("a.porism", &text);
    let expected = fresh.wait_diagnostics("a.porism");
    let neutral = |diagnostics: Vec<Value>, uri: String| {
        json!(diagnostics)
            .to_string()
            .replace(&uri, "file:///a.porism")
    };
    assert!(!expected.is_empty(), "the storm leaves something to find");
    assert_eq!(
        neutral(last, session.uri("a.porism")),
        neutral(expected, fresh.uri("a.porism"))
    );
    session.finish();
    fresh.finish();
}

/// A client that asks for diagnostics cancels its question whenever typing goes on. What a
/// cancelled question was about to check must be found by the next.
#[test]
fn cancelled_questions_lose_no_findings() {
    let folder = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    let capabilities = json!({
        "textDocument": { "diagnostic": { "dynamicRegistration": false } },
        "workspace": { "diagnostics": { "refreshSupport": true } },
    });
    let mut session = Start::new(folder.path()).capabilities(capabilities).start();
    let problem = "@pattern separable\n\n@problem 1\n  pattern: ";
    session.open("a.porism", problem);
    for round in 0..200 {
        let name = format!("name {round}");
        let params = session.about("a.porism", json!({}));
        let mut asked = Vec::new();
        let end = session.text("a.porism").len();
        session.edit("a.porism", problem.len()..end, &name);
        for _ in 0..3 {
            let id = session.send_request("textDocument/diagnostic", params.clone());
            session.notify("$/cancelRequest", json!({ "id": id }));
            asked.push(id);
        }
        let report = session.request("textDocument/diagnostic", params);
        let messages = report["items"].to_string();
        assert!(messages.contains(&name), "round {round}: {report}");
        for id in asked {
            if let Err(error) = session.answer(id) {
                assert_eq!(error["code"], -32800, "{error}");
            }
        }
    }
    session.finish();
}
