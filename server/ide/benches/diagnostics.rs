//! How long the checks take from nothing, and after two keystrokes: one letter typed and taken out
//! again, with the file's findings after each.

#![allow(
    missing_docs,
    reason = "the macro makes a function that cannot have one"
)]

use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use porism_ide::diagnostics::{Checker, check_all};
use porism_ide::{FilePath, Workspace};
use porism_tests::generate;

/// A notebook of so many problems.
fn built(problems: usize) -> (Workspace, Vec<(String, String)>) {
    let files = generate::notebook(problems, 1);
    let texts = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()));
    let noon = NaiveDate::from_ymd_opt(2027, 2, 15).and_then(|day| day.and_hms_opt(12, 0, 0));
    (
        Workspace::from_files(noon.expect("a time of day"), texts),
        files,
    )
}

fn from_nothing(c: &mut Criterion) {
    let mut group = c.benchmark_group("check from nothing");
    group.sample_size(10);
    for problems in [1_000, 10_000] {
        let (workspace, _) = built(problems);
        group.bench_function(format!("{problems} problems"), |b| {
            b.iter(|| check_all(black_box(workspace.analysis())));
        });
    }
    group.finish();
}

fn keystroke(c: &mut Criterion) {
    let mut group = c.benchmark_group("two keystrokes to findings");
    for problems in [100, 1_000, 10_000] {
        for (place, marker) in [
            ("a statement", "Solve"),
            ("a try", "tried: "),
            ("prose", "plain prose"),
        ] {
            let (mut workspace, files) = built(problems);
            let mut checker = Checker::default();
            let delta = workspace.take_delta();
            checker.update(workspace.analysis(), &delta);
            let of_marker = |(path, text): &(String, String)| {
                let at = text[..text.len() / 2].rfind(marker)?;
                Some((FilePath::new(path), at + marker.len()))
            };
            let (path, at) = files
                .iter()
                .rev()
                .find_map(of_marker)
                .expect("the marker is there");
            group.bench_function(format!("in {place} among {problems} problems"), |b| {
                b.iter(|| {
                    for (range, typed) in [(at..at, "a"), (at..at + 1, "")] {
                        workspace.edit(&path, range, typed);
                        let delta = workspace.take_delta();
                        black_box(checker.update(workspace.analysis(), &delta));
                        black_box(checker.findings(workspace.analysis(), &path));
                    }
                });
            });
        }
    }
    group.finish();
}

criterion_group!(benches, from_nothing, keystroke);
criterion_main!(benches);
