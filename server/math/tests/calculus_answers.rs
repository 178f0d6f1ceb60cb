//! Are right answers to problems of calculus let pass, and wrong ones caught?
//!
//! `calculus/*.txt` hold problems as textbooks print them, with invented numbers: a heading
//! `# kind`; a problem's instruction; its formula; right answers after `+`, in several forms; wrong
//! answers after `-`. The counts are held against the limits for each kind.

use std::collections::BTreeMap;

use porism_math::problem::Part;
use porism_math::verdict::{Verdict, verify};

#[derive(Default)]
struct Counts {
    right: usize,
    false_alarms: usize,
    right_unknown: usize,
    wrong: usize,
    caught: usize,
    wrong_unknown: usize,
}

/// Prose with formulas between dollar signs or `\(` and `\)`.
fn prose(text: &str) -> Vec<Part<'_>> {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some((before, open)) = ["$", "\\("]
        .iter()
        .filter_map(|open| Some((rest.find(open)?, *open)))
        .min()
    {
        let after = &rest[before + open.len()..];
        let close = if open == "$" { "$" } else { "\\)" };
        let end = after.find(close).unwrap_or(after.len());
        parts.push(Part::Words(&rest[..before]));
        parts.push(Part::Tex(&after[..end]));
        rest = after.get(end + close.len()..).unwrap_or_default();
    }
    parts.push(Part::Words(rest));
    parts
}

/// Prose, or the bare TeX of one formula.
fn parts(text: &str) -> Vec<Part<'_>> {
    match text.contains('$') || text.contains("\\(") {
        true => prose(text),
        false => vec![Part::Tex(text)],
    }
}

fn check(prompt: &str, tex: &str, answer: &str) -> Verdict {
    let mut statement = prose(prompt);
    statement.extend(parts(tex));
    verify(&statement, &parts(answer))
}

fn count(text: &str, counts: &mut BTreeMap<String, Counts>, told: &mut String) {
    let (mut kind, mut prompt, mut tex) = ("", "", "");
    let mut lines = text.lines().filter(|line| !line.trim().is_empty());
    while let Some(line) = lines.next() {
        if let Some(heading) = line.strip_prefix("# ") {
            kind = heading;
        } else if let Some(answer) = line.strip_prefix("+ ") {
            let counts = counts.entry(kind.to_owned()).or_default();
            counts.right += 1;
            match check(prompt, tex, answer) {
                Verdict::Holds => {}
                verdict @ Verdict::Fails { .. } => {
                    counts.false_alarms += 1;
                    told.push_str(&format!(
                        "FALSE ALARM {prompt} {tex} + {answer}: {verdict:?}\n"
                    ));
                }
                Verdict::CannotTell { reason } => {
                    counts.right_unknown += 1;
                    told.push_str(&format!(
                        "cannot tell {prompt} {tex} + {answer}: {reason}\n"
                    ));
                }
            }
        } else if let Some(answer) = line.strip_prefix("- ") {
            let counts = counts.entry(kind.to_owned()).or_default();
            counts.wrong += 1;
            match check(prompt, tex, answer) {
                Verdict::Holds => {
                    told.push_str(&format!("MISSED {prompt} {tex} - {answer}\n"));
                }
                Verdict::Fails { .. } => counts.caught += 1,
                Verdict::CannotTell { reason } => {
                    counts.wrong_unknown += 1;
                    told.push_str(&format!(
                        "cannot tell {prompt} {tex} - {answer}: {reason}\n"
                    ));
                }
            }
        } else {
            prompt = line;
            tex = lines.next().expect("a formula after the instruction");
        }
    }
}

#[test]
fn right_answers_pass_and_wrong_ones_are_caught() {
    let mut counts = BTreeMap::new();
    let mut told = String::new();
    for text in [
        include_str!("calculus/derivatives.txt"),
        include_str!("calculus/integrals.txt"),
        include_str!("calculus/differential_equations.txt"),
        include_str!("calculus/limits.txt"),
        include_str!("calculus/applications.txt"),
        include_str!("calculus/textbook.txt"),
    ] {
        count(text, &mut counts, &mut told);
    }
    let mut too_many = Vec::new();
    for (kind, counts) in &counts {
        let line = format!(
            "{kind:24} right {:4}: {} false alarms, {} cannot tell; wrong {:4}: {} caught, {} cannot tell",
            counts.right,
            counts.false_alarms,
            counts.right_unknown,
            counts.wrong,
            counts.caught,
            counts.wrong_unknown,
        );
        let unknown = counts.right_unknown * 20 > counts.right;
        let missed = counts.caught * 20 < counts.wrong * 19;
        if counts.false_alarms > 0 || unknown || missed {
            too_many.push(line.clone());
        }
        told.push_str(&line);
        told.push('\n');
    }
    assert!(too_many.is_empty(), "{told}");
}
