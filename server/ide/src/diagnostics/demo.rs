//! The demo notebook's planted gaps are found, and nothing grave besides.

use std::collections::{BTreeMap, BTreeSet};

use notes::FilePath;

use super::{Finding, Severity, check_all};
use crate::{Workspace, fixture};

macro_rules! demo {
    ($path:literal) => {
        (
            $path,
            include_str!(concat!("../../../demo/notebook/", $path)),
        )
    };
}
const FILES: [(&str, &str); 13] = [
    demo!("differential-equations/1-first-order.porism"),
    demo!("differential-equations/2-second-order.porism"),
    demo!("differential-equations/course.porism"),
    demo!("differential-equations/papers/2027-02-13-first-midterm.porism"),
    demo!("differential-equations/review-sheet.porism"),
    demo!("linear-algebra/1-systems.porism"),
    demo!("linear-algebra/2-determinants.porism"),
    demo!("linear-algebra/3-eigenvalues.porism"),
    demo!("linear-algebra/course.porism"),
    demo!("real-analysis/1-sequences.porism"),
    demo!("real-analysis/2-series.porism"),
    demo!("real-analysis/3-continuity.porism"),
    demo!("real-analysis/course.porism"),
];

/// A row of the table of planted gaps.
struct Gap<'a> {
    path: FilePath,
    line: &'a str,
    matter: &'a str,
}

fn gaps() -> Vec<Gap<'static>> {
    let rows = include_str!("../../../demo/GAPS.md").lines();
    let cells = rows.filter(|row| row.starts_with("| ")).map(|row| {
        let cells: Vec<&str> = row
            .trim_matches('|')
            .splitn(2, " | ")
            .map(str::trim)
            .collect();
        let (line, matter) = cells[1].rsplit_once(" | ").expect("three cells");
        Gap {
            path: FilePath::new(cells[0]),
            line: line.trim(),
            matter: matter.trim(),
        }
    });
    cells
        .filter(|gap| gap.path.as_str().contains(".porism"))
        .collect()
}

/// The codes of the checks that find a planted matter.
fn codes(matter: &str) -> &'static [&'static str] {
    let known: &[(&str, &[&str])] = &[
        ("problem without a pattern", &["no-pattern"]),
        ("pattern name not defined", &["unknown-name"]),
        ("topic not defined", &["unknown-name"]),
        ("pattern defined twice", &["defined-twice"]),
        ("pattern without a problem", &["unused-pattern"]),
        (
            "topic on an exam with nothing to practise",
            &["nothing-to-practise"],
        ),
        (
            "topic on an exam never tried with notes closed",
            &["never-closed"],
        ),
        ("unknown field", &["unknown-field"]),
        ("field of another kind of block", &["unknown-field"]),
        ("field that stands twice", &["field-twice"]),
        ("unknown kind of block", &["unknown-kind"]),
        ("exam covers a topic that is not defined", &["unknown-name"]),
        ("date that does not exist", &["impossible-date"]),
        ("try before the term", &["before-term"]),
        ("math not closed", &["unclosed-math"]),
        ("TeX that cannot be read", &["broken-tex"]),
        ("wrong answer", &["wrong-answer"]),
        ("past exam without a result", &["no-result"]),
        ("exams collide", &["exams-collide"]),
        ("repeats", &["same-problem", "same-text"]),
    ];
    let codes = known.iter().find(|(start, _)| matter.starts_with(start));
    codes
        .unwrap_or_else(|| panic!("{matter:?} is no known matter"))
        .1
}

#[test]
fn planted_gaps_are_found_and_nothing_grave_besides() {
    let date = include_str!("../../../demo/REFERENCE_DAY").trim();
    let noon = fixture::day(date)
        .and_hms_opt(12, 0, 0)
        .expect("a time of day");
    let workspace = Workspace::from_files(noon, FILES);
    let found = check_all(workspace.analysis());
    let texts: BTreeMap<&str, &str> = FILES.into_iter().collect();
    let line_of = |finding: &Finding| {
        let text = texts[finding.path.as_str()];
        let start = text[..finding.span.start as usize]
            .rfind('\n')
            .map_or(0, |i| i + 1);
        text[start..]
            .lines()
            .next()
            .unwrap_or_default()
            .trim()
            .to_owned()
    };
    let all: Vec<&Finding> = found.values().flatten().collect();
    let mut planted: BTreeSet<usize> = BTreeSet::new();
    let mut missing = Vec::new();
    for gap in &gaps() {
        let codes = codes(gap.matter);
        let skippable = gap.matter.ends_with("skippable");
        let hits = all.iter().enumerate().filter(|(_, finding)| {
            codes.contains(&finding.code)
                && finding.path == gap.path
                && line_of(finding) == gap.line
                && (codes[0] != "same-problem" || finding.unnecessary == skippable)
        });
        let hits: Vec<usize> = hits.map(|(i, _)| i).collect();
        if hits.is_empty() {
            missing.push(format!("{} {:?}: {}", gap.path, gap.line, gap.matter));
        }
        planted.extend(hits);
    }
    let is_grave = |finding: &Finding| finding.severity <= Severity::Warning;
    let besides = all
        .iter()
        .enumerate()
        .filter(|(i, f)| is_grave(f) && !planted.contains(i));
    let besides: Vec<String> = besides
        .map(|(_, f)| format!("{} {:?}: {} {}", f.path, line_of(f), f.code, f.message))
        .collect();
    assert!(
        missing.is_empty() && besides.is_empty(),
        "missing {missing:#?}\nbesides {besides:#?}"
    );
}
