//! Checks under test: notes as text, findings as lines of carets below what they mark.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use notes::FilePath;

use super::{Check, Finding, check_all};
use crate::fixture::{self, Fixture};

/// Checks that the findings of one check are those that the text shows. A line below the marked
/// one has carets below what is marked, then the severity and the message, and in square brackets
/// the file and text of each related place.
pub(super) fn check(check: &Check, text: &str) {
    check_on("2027-02-15", check, text);
}

/// The same on a day.
pub(super) fn check_on(date: &str, check: &Check, text: &str) {
    let text = text.strip_prefix('\n').unwrap_or(text);
    let fixture = read(date, text);
    let found = check_all(fixture.analysis());
    let mut out = String::new();
    let several = text.starts_with("=== ");
    for (path, content) in &fixture.files {
        if several {
            writeln!(out, "=== {path}").expect("strings take text");
        }
        let own = found.get(path).into_iter().flatten();
        let own: Vec<&Finding> = own.filter(|finding| finding.code == check.code).collect();
        out.push_str(&marked(&fixture.files, content, &own));
    }
    assert_eq!(out, text);
}

/// The findings of every check, in a notebook of one file.
pub(super) fn findings(text: &str) -> Vec<Finding> {
    findings_on("2027-02-15", text)
}

/// The same on a day.
pub(super) fn findings_on(date: &str, text: &str) -> Vec<Finding> {
    let fixture = read(date, text);
    check_all(fixture.analysis())
        .into_values()
        .flatten()
        .collect()
}

/// The first file that has a finding of the check, after the fix with this title.
pub(super) fn fixed(check: &Check, title: &str, text: &str) -> String {
    let fixture = read("2027-02-15", text);
    let found: Vec<Finding> = check_all(fixture.analysis())
        .into_values()
        .flatten()
        .collect();
    let own = found.iter().filter(|finding| finding.code == check.code);
    let fixes: Vec<_> = own.flat_map(|finding| &finding.fixes).collect();
    let fix = fixes.iter().find(|fix| fix.title == title);
    let titles = || {
        fixes
            .iter()
            .map(|fix| fix.title.as_str())
            .collect::<Vec<_>>()
    };
    let fix = fix.unwrap_or_else(|| panic!("no fix {title:?} among {:?}", titles()));
    fixture.after(&fix.edit)
}

fn read(date: &str, text: &str) -> Fixture {
    let is_caret_line = |line: &&str| line.trim_start().starts_with('^');
    let lines = text
        .split_inclusive('\n')
        .filter(|line| !is_caret_line(line));
    let mut fixture = fixture::notebook(&lines.collect::<String>());
    let noon = fixture::day(date).and_hms_opt(12, 0, 0);
    fixture
        .workspace
        .set_now(noon.expect("noon is a time of day"));
    fixture
}

/// A text with a line of carets below each line that has a finding.
fn marked(files: &BTreeMap<FilePath, String>, text: &str, findings: &[&Finding]) -> String {
    let mut out = String::new();
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        out.push_str(line);
        let end = start + line.len();
        for finding in findings {
            let span = finding.span.range();
            if !(start..end).contains(&span.start) {
                continue;
            }
            let stop = span
                .end
                .min(start + line.trim_end_matches(['\n', '\r']).len());
            let indent = text[start..span.start].chars().count();
            let carets = text[span.start..stop].chars().count().max(1);
            let (severity, message) = (finding.severity, &finding.message);
            let carets = "^".repeat(carets);
            write!(out, "{:indent$}{carets} {severity}: {message}", "").expect("strings take text");
            for related in &finding.related {
                let at = &files[&related.path][related.span.range()];
                write!(out, " [{} {at:?}: {}]", related.path, related.message)
                    .expect("strings take text");
            }
            out.push_str(if finding.unnecessary {
                " (unnecessary)\n"
            } else {
                "\n"
            });
        }
        start = end;
    }
    out
}
