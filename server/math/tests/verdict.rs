//! Right keys hold, wrong ones are caught: problems and keys as textbooks print them.
//!
//! A line of `verdict/*.txt` is a prompt, the TeX of a problem, its right keys and wrong ones,
//! separated by `||`; keys are separated by `;;`. A line that begins with `#` names the kind of the
//! problems that follow. The problems are invented.

#![expect(
    clippy::print_stdout,
    reason = "the counts are printed when a test asks for them"
)]

use std::collections::BTreeMap;

use porism_math::problem::Part;
use porism_math::verdict::{Verdict, verify};

#[derive(Default)]
struct Counts {
    right: usize,
    wrong: usize,
    false_alarms: Vec<String>,
    missed: Vec<String>,
    cannot_tell: Vec<String>,
}

fn parts(text: &str, is_formula: bool) -> Vec<Part<'_>> {
    if is_formula && !text.contains('$') {
        return vec![Part::Tex(text)];
    }
    let pieces = text.split('$').enumerate();
    pieces
        .filter(|(_, piece)| !piece.trim().is_empty())
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect()
}

fn check(corpus: &str) {
    let mut kinds: BTreeMap<String, Counts> = BTreeMap::new();
    let mut kind = String::new();
    for line in corpus
        .lines()
        .map(str::trim)
        .filter(|line| !line.is_empty())
    {
        if let Some(name) = line.strip_prefix('#') {
            kind = name.trim().to_owned();
            continue;
        }
        let fields: Vec<&str> = line.split("||").map(str::trim).collect();
        let [prompt, tex, right, wrong] = fields.as_slice() else {
            panic!("four fields: {line}");
        };
        let counts = kinds.entry(kind.clone()).or_default();
        let mut statement = parts(prompt, false);
        if !tex.is_empty() {
            statement.extend(parts(tex, true));
        }
        let keys = |list: &str| -> Vec<String> {
            let keys = list.split(";;").map(|key| key.trim().to_owned());
            keys.filter(|key| !key.is_empty()).collect()
        };
        for (keys, is_right) in [(keys(right), true), (keys(wrong), false)] {
            for key in keys {
                let verdict = verify(&statement, &parts(&key, true));
                let told = format!("{prompt} {tex}: {key}: {verdict:?}");
                match is_right {
                    true => counts.right += 1,
                    false => counts.wrong += 1,
                }
                match (verdict, is_right) {
                    (Verdict::Holds, true) | (Verdict::Fails { .. }, false) => {}
                    (Verdict::Fails { .. }, true) => counts.false_alarms.push(told),
                    (Verdict::Holds, false) => counts.missed.push(told),
                    (Verdict::CannotTell { .. }, _) => counts.cannot_tell.push(told),
                }
            }
        }
    }
    let (mut right, mut wrong, mut false_alarms, mut missed, mut unknown) = (0, 0, 0, 0, 0);
    let mut faults = Vec::new();
    for (kind, counts) in &kinds {
        println!(
            "{kind}: {} right, {} wrong keys; {} false alarms, {} missed, {} cannot tell",
            counts.right,
            counts.wrong,
            counts.false_alarms.len(),
            counts.missed.len(),
            counts.cannot_tell.len()
        );
        right += counts.right;
        wrong += counts.wrong;
        false_alarms += counts.false_alarms.len();
        missed += counts.missed.len();
        unknown += counts.cannot_tell.len();
        faults.extend(
            counts
                .false_alarms
                .iter()
                .map(|told| format!("false alarm: {told}")),
        );
        faults.extend(counts.missed.iter().map(|told| format!("missed: {told}")));
        faults.extend(
            counts
                .cannot_tell
                .iter()
                .map(|told| format!("cannot tell: {told}")),
        );
    }
    println!("{}", faults.join("\n"));
    println!(
        "{right} right, {wrong} wrong keys; {false_alarms} false alarms, {missed} missed, {unknown} cannot tell"
    );
    assert!(right > 0 && wrong > 0);
    // The figures that the whole project is held to: 0.5%, 95% and 5%.
    assert!(false_alarms * 200 <= right, "{}", faults.join("\n"));
    assert!(
        (wrong - missed) * 100 >= wrong * 95,
        "{}",
        faults.join("\n")
    );
    assert!(
        unknown * 100 <= (right + wrong) * 5,
        "{}",
        faults.join("\n")
    );
}

#[test]
fn equations() {
    check(include_str!("verdict/equations.txt"));
}

#[test]
fn expressions() {
    check(include_str!("verdict/expressions.txt"));
}

#[test]
fn functions() {
    check(include_str!("verdict/functions.txt"));
}

#[test]
fn vectors() {
    check(include_str!("verdict/vectors.txt"));
}

#[test]
fn drawn_problems() {
    check(include_str!("verdict/drawn.txt"));
}
