//! How long does a verdict about calculus take, by kind of problem?
//!
//! The problems are those of the tests; each measure is of one pass over a kind.

#![expect(
    missing_docs,
    reason = "the macros of the harness define public functions"
)]

use std::collections::BTreeMap;
use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use porism_math::problem::Part;
use porism_math::verdict::verify;

fn parts(text: &str, is_prose: bool) -> Vec<Part<'_>> {
    if !is_prose && !text.contains('$') {
        return vec![Part::Tex(text)];
    }
    let pieces = text.split('$').enumerate();
    let parts = pieces.map(|(place, piece)| match place % 2 {
        0 => Part::Words(piece),
        _ => Part::Tex(piece),
    });
    parts.collect()
}

type Text = Vec<Part<'static>>;

/// Statement and answer for each kind.
fn items() -> BTreeMap<&'static str, Vec<(Text, Text)>> {
    let mut found: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for text in [
        include_str!("../tests/calculus/derivatives.txt"),
        include_str!("../tests/calculus/integrals.txt"),
        include_str!("../tests/calculus/differential_equations.txt"),
        include_str!("../tests/calculus/limits.txt"),
        include_str!("../tests/calculus/applications.txt"),
        include_str!("../tests/calculus/textbook.txt"),
    ] {
        let (mut kind, mut prompt, mut tex) = ("", "", "");
        let mut lines = text.lines().filter(|line| !line.trim().is_empty());
        while let Some(line) = lines.next() {
            if let Some(heading) = line.strip_prefix("# ") {
                kind = heading;
            } else if let Some(answer) = line.strip_prefix("+ ").or(line.strip_prefix("- ")) {
                let mut statement = parts(prompt, true);
                statement.extend(parts(tex, false));
                found
                    .entry(kind)
                    .or_default()
                    .push((statement, parts(answer, false)));
            } else {
                prompt = line;
                tex = lines.next().unwrap_or_default();
            }
        }
    }
    found
}

fn verdicts(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("verdict");
    group.sample_size(10);
    for (kind, items) in items() {
        group.throughput(Throughput::Elements(items.len() as u64));
        group.bench_function(kind, |bencher| {
            bencher.iter(|| {
                for (statement, answer) in &items {
                    black_box(verify(statement, answer));
                }
            });
        });
    }
    group.finish();
}

criterion_group!(benches, verdicts);
criterion_main!(benches);
