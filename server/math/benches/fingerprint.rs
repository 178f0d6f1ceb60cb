//! How long does it take to fingerprint a problem, and to read one?

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use criterion::{Criterion, criterion_group, criterion_main};
use porism_math::fingerprint;
use porism_math::problem::{self, Part};
use std::hint::black_box;

fn parts(statement: &str) -> Vec<Part<'_>> {
    let pieces = statement.split('$').enumerate();
    pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect()
}

/// The problems of the tests' tables.
fn statements() -> Vec<&'static str> {
    let tables = concat!(
        include_str!("../tests/fingerprint/disguises.txt"),
        include_str!("../tests/fingerprint/near_misses.txt"),
    );
    let lines = tables.lines().filter(|line| !line.starts_with('%'));
    lines
        .filter_map(|line| line.split_once(" | "))
        .flat_map(|(left, right)| [left, right])
        .collect()
}

/// The percentiles of single calls: criterion reports the mean of many.
#[expect(
    clippy::print_stderr,
    clippy::disallowed_methods,
    reason = "a benchmark measures and prints"
)]
fn percentiles<T>(name: &str, items: &[T], mut call: impl FnMut(&T)) {
    let mut times = Vec::new();
    for item in items {
        let mut best = u128::MAX;
        for _ in 0..20 {
            let start = std::time::Instant::now();
            call(item);
            best = best.min(start.elapsed().as_nanos());
        }
        times.push(best);
    }
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100] as f64 / 1_000.0;
    eprintln!(
        "{name}: {} problems, p50 {:.2} µs, p99 {:.2} µs, slowest {:.2} µs",
        times.len(),
        at(50),
        at(99),
        at(100)
    );
}

fn benches(c: &mut Criterion) {
    let statements = statements();
    let problems: Vec<_> = statements
        .iter()
        .map(|s| problem::read(&parts(s)))
        .collect();
    percentiles("fingerprint", &problems, |problem| {
        black_box(fingerprint::of(black_box(problem)));
    });
    percentiles("read a problem", &statements, |statement| {
        black_box(problem::read(&parts(black_box(statement))));
    });
    c.bench_function("fingerprint all problems of the tables", |b| {
        b.iter(|| {
            for problem in &problems {
                black_box(fingerprint::of(black_box(problem)));
            }
        });
    });
}

criterion_group!(all, benches);
criterion_main!(all);
