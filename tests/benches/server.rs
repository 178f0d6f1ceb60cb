//! How long a keystroke waits for its findings, and how much memory the server takes, through the
//! protocol: `cargo bench -p porism-tests --bench server`.
//!
//! A letter is typed into the prose in the middle of a file, for each size of file, alone and in a
//! folder with a whole notebook beside it. The time runs from the sending of the edit to the
//! arrival of the findings of that version. Nearly every problem of the made-up notes is another
//! one with other numbers, so that a message with the findings of 1 MB is itself over 1 MB long; in
//! the second half of the table the file's problems are told in words, each another one.

use std::fs;
use std::time::{Duration, Instant};

use porism_tests::generate;
use porism_tests::session::{Session, Start};
use serde_json::json;

const KEYSTROKES: usize = 300;

/// Where the letters are typed.
const MARK: &str = "here: ";

fn main() {
    let mut lines = vec![row([
        "file", "notebook", "findings", "p50", "p95", "worst", "opening", "memory",
    ])];
    for has_repeats in [true, false] {
        for problems in [0, 10_000] {
            for size in [10_000, 100_000, 1_000_000] {
                lines.push(measured(size, problems, has_repeats));
            }
        }
    }
    for line in lines {
        print_line(&line);
    }
}

/// One row of the table, for a file of `size` bytes beside a notebook of so many problems.
fn measured(size: usize, problems: usize, has_repeats: bool) -> String {
    let folder = tempfile::Builder::new()
        .prefix("notes")
        .tempdir()
        .expect("a folder");
    for (path, text) in generate::notebook(problems, 1) {
        let path = folder.path().join(path);
        fs::create_dir_all(path.parent().expect("a folder")).expect("made");
        fs::write(path, text).expect("written");
    }
    let name = "course-00/mine.porism";
    let mut text = generate::file(size, 2);
    if !has_repeats {
        text = in_words(&text);
    }
    let middle = text[..text.len() / 2]
        .rfind("plain prose")
        .expect("there is prose");
    text.insert_str(middle, MARK);
    let mut session = Start::new(folder.path()).forgetful().start();
    let start = Instant::now();
    session.open(name, &text);
    let findings = session.wait_diagnostics(name);
    let opening = session.last_arrival() - start;
    let place = session.at(name, MARK)["position"].clone();
    let mut times: Vec<Duration> = (2..2 + KEYSTROKES)
        .map(|version| {
            let params = json!({
                "textDocument": { "uri": session.uri(name), "version": version },
                "contentChanges": [{ "range": { "start": place, "end": place }, "text": "x" }],
            });
            let start = Instant::now();
            session.notify("textDocument/didChange", params);
            session.wait_published(name, "findings", |params| params["version"] == version);
            session.last_arrival() - start
        })
        .collect();
    times.sort();
    let memory = peak_memory(&session);
    session.finish();
    let at = |share: usize| milliseconds(times[(times.len() - 1) * share / 100]);
    row([
        &format!("{} KB", text.len() / 1000),
        &format!("{problems} problems"),
        &findings.len().to_string(),
        &at(50),
        &at(95),
        &at(100),
        &milliseconds(opening),
        &memory,
    ])
}

/// Each problem's statement as one in words that no other has.
fn in_words(text: &str) -> String {
    let is_statement = |line: &str| {
        let mut begins = ["  Solve ", "  Find ", "  Evaluate "].into_iter();
        begins.any(|begin| line.starts_with(begin))
    };
    let mut claims = 0;
    let mut out = String::new();
    for line in text.lines() {
        if is_statement(line) {
            claims += 1;
            out.push_str(&format!(
                "  Decide whether claim {claims} holds, and say why.\n"
            ));
        } else {
            out.push_str(line);
            out.push('\n');
        }
    }
    out
}

fn milliseconds(time: Duration) -> String {
    format!("{:.2} ms", time.as_secs_f64() * 1000.0)
}

/// The most memory that the server held at a time, where the system tells.
fn peak_memory(session: &Session) -> String {
    let status = fs::read_to_string(format!("/proc/{}/status", session.process()));
    let peak = status.ok().and_then(|status| {
        let line = status
            .lines()
            .find_map(|line| line.strip_prefix("VmHWM:"))?
            .trim()
            .to_owned();
        line.strip_suffix(" kB")?.parse::<u64>().ok()
    });
    peak.map_or("unknown".to_owned(), |kilobytes| {
        format!("{} MB", kilobytes / 1024)
    })
}

fn row(cells: [&str; 8]) -> String {
    let mut line = String::new();
    for cell in cells {
        line.push_str(&format!("{cell:>15}"));
    }
    line
}

#[expect(
    clippy::print_stdout,
    reason = "the result of a benchmark is what it prints"
)]
fn print_line(line: &str) {
    println!("{line}");
}
