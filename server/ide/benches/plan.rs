//! How long it takes to plan the days left from the notes of a whole term, and to report the
//! standing from very many tries; both from notes that are read already.

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use porism_ide::{Workspace, plan, report};
use porism_tests::generate::Term;

fn built(term: Term) -> Workspace {
    let (path, text) = term.notes(1);
    let noon = NaiveDate::from_ymd_opt(2027, 2, 15).and_then(|day| day.and_hms_opt(12, 0, 0));
    let files = [(path.as_str(), text.as_str())];
    Workspace::from_files(noon.expect("a time of day"), files)
}

fn plans(c: &mut Criterion) {
    for (patterns, days, exams) in [(60, 14, 3), (400, 60, 8)] {
        let workspace = built(Term {
            patterns,
            days,
            exams,
            tries: 20 * patterns,
        });
        let analysis = workspace.analysis();
        assert_eq!(plan::plan(analysis, false).exams.len(), exams);
        let mut group = c.benchmark_group(format!("{patterns} patterns x {days} days x {exams}"));
        group.sample_size(10);
        group.bench_function("plan", |b| {
            b.iter(|| black_box(plan::plan(analysis, false)));
        });
        group.finish();
    }
}

fn standings(c: &mut Criterion) {
    let mut group = c.benchmark_group("100,000 tries of 400 patterns");
    group.sample_size(10);
    let term = Term {
        patterns: 400,
        days: 60,
        exams: 8,
        tries: 100_000,
    };
    let workspace = built(term);
    let analysis = workspace.analysis();
    // Today's estimates are kept with the notes; those of a past day are worked out each time.
    let today = analysis.today();
    group.bench_function("standing today", |b| {
        b.iter(|| black_box(report::standing(analysis, today, None)));
    });
    let past = NaiveDate::from_ymd_opt(2027, 2, 1).expect("a date");
    group.bench_function("standing of a past day", |b| {
        b.iter(|| black_box(report::standing(analysis, past, None)));
    });
    group.bench_function("read the notes, then the standing", |b| {
        b.iter(|| {
            let workspace = built(term);
            black_box(report::standing(workspace.analysis(), today, None))
        });
    });
    group.finish();
}

criterion_group!(benches, plans, standings);
criterion_main!(benches);
