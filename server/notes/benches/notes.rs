//! How fast notes are read, and what a keystroke costs.

#![allow(
    missing_docs,
    reason = "the macro makes a function that cannot have one"
)]

use std::hint::black_box;

use criterion::{BatchSize, Criterion, Throughput, criterion_group, criterion_main};
use porism_notes::{File, FilePath, Notebook, UnitReader};
use porism_tests::generate;
use ropey::Rope;

fn built(problems: usize) -> Notebook {
    let mut reader = UnitReader::default();
    let mut notebook = Notebook::default();
    for (path, text) in generate::notebook(problems, 1) {
        let file = File::new(Rope::from_str(&text), &mut reader);
        notebook.insert(&FilePath::new(&path), file);
    }
    notebook
}

fn reading(c: &mut Criterion) {
    let text = generate::file(1 << 20, 1);
    let mut group = c.benchmark_group("read");
    group.sample_size(20);
    group.throughput(Throughput::Bytes(text.len() as u64));
    group.bench_function("1 MB to facts", |b| {
        let mut reader = UnitReader::default();
        b.iter(|| File::new(Rope::from_str(black_box(&text)), &mut reader));
    });
    group.finish();
}

fn keystroke(c: &mut Criterion) {
    let text = generate::file(1 << 20, 1);
    let at = text[..text.len() / 2]
        .rfind("Solve")
        .expect("a problem asks to solve");
    let path = FilePath::new("course-00/open.porism");
    let mut group = c.benchmark_group("keystroke to facts in 1 MB");
    for problems in [0, 10_000] {
        let mut notebook = built(problems);
        let mut reader = UnitReader::default();
        notebook.insert(&path, File::new(Rope::from_str(&text), &mut reader));
        group.bench_function(format!("among {problems} problems"), |b| {
            b.iter(|| {
                notebook.edit(&path, at..at, "a", &mut reader);
                notebook.edit(&path, at..at + 1, "", &mut reader)
            });
        });
        group.bench_function(
            format!("among {problems} problems, with a snapshot held"),
            |b| {
                b.iter_batched(
                    || notebook.clone(),
                    |mut notebook| notebook.edit(&path, at..at, "a", &mut reader),
                    BatchSize::SmallInput,
                );
            },
        );
    }
    group.finish();
}

fn indexing(c: &mut Criterion) {
    let mut group = c.benchmark_group("index from nothing");
    group.sample_size(10);
    let files = generate::notebook(100_000, 1);
    group.bench_function("100,000 problems", |b| {
        b.iter(|| {
            let mut reader = UnitReader::default();
            let mut notebook = Notebook::default();
            for (path, text) in &files {
                let file = File::new(Rope::from_str(text), &mut reader);
                notebook.insert(&FilePath::new(path), file);
            }
            notebook
        });
    });
    group.finish();
}

criterion_group!(benches, reading, keystroke, indexing);
criterion_main!(benches);
