//! How long does it take to classify a problem against a student's patterns?

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use criterion::{Criterion, criterion_group, criterion_main};
use porism_math::problem::{self, Part, Problem};
use porism_math::shape::{self, Shape};
use std::hint::black_box;

const TABLE: &str = include_str!("../tests/shape/table.txt");

/// The number of patterns.
const PATTERNS: usize = 60;

fn shapes() -> Vec<Shape> {
    let lines = TABLE.lines().filter(|line| line.starts_with('$'));
    let shapes: Vec<Shape> = lines.map(|line| shape::read(line).0).collect();
    // Not every table has as many: the first ones stand twice then.
    shapes.iter().cycle().take(PATTERNS).cloned().collect()
}

fn problems() -> Vec<Problem> {
    let lines = TABLE.lines().filter_map(|line| line.strip_prefix("  "));
    let statements = lines.filter_map(|line| line.split_once(" => ").map(|(left, _)| left));
    let tables = [
        include_str!("../tests/fingerprint/disguises.txt"),
        include_str!("../tests/fingerprint/near_misses.txt"),
    ];
    let pairs = tables
        .iter()
        .flat_map(|table| table.lines())
        .filter(|line| !line.starts_with('%'));
    let pairs = pairs.filter_map(|line| line.split_once(" | "));
    let all = statements.chain(pairs.flat_map(|(left, right)| [left, right]));
    all.map(|statement| {
        let pieces = statement.split('$').enumerate();
        let parts: Vec<Part<'_>> = pieces
            .map(|(place, piece)| match place % 2 {
                0 => Part::Words(piece),
                _ => Part::Tex(piece),
            })
            .collect();
        problem::read(&parts)
    })
    .collect()
}

/// The percentiles of single calls: criterion reports the mean of many.
#[expect(
    clippy::print_stderr,
    clippy::disallowed_methods,
    reason = "a benchmark measures and prints"
)]
fn percentiles(shapes: &[Shape], problems: &[Problem]) {
    let mut times: Vec<(u128, usize)> = Vec::new();
    for (place, problem) in problems.iter().enumerate() {
        let mut best = u128::MAX;
        for _ in 0..5 {
            let start = std::time::Instant::now();
            black_box(shape::classify(shapes, black_box(problem)));
            best = best.min(start.elapsed().as_nanos());
        }
        times.push((best, place));
    }
    times.sort_unstable();
    let at = |share: usize| times[(times.len() - 1) * share / 100].0 as f64 / 1_000_000.0;
    eprintln!(
        "classify against {} shapes: {} problems, p50 {:.3} ms, p90 {:.3} ms, p99 {:.3} ms, slowest {:.3} ms",
        shapes.len(),
        times.len(),
        at(50),
        at(90),
        at(99),
        at(100)
    );
    for (time, place) in times.iter().rev().take(8) {
        eprintln!("  {:.2} ms {:?}", *time as f64 / 1e6, problems[*place].main);
    }
}

fn benches(c: &mut Criterion) {
    let (shapes, problems) = (shapes(), problems());
    percentiles(&shapes, &problems);
    c.bench_function("classify all problems of the tables", |b| {
        b.iter(|| {
            for problem in &problems {
                black_box(shape::classify(&shapes, black_box(problem)));
            }
        });
    });
}

criterion_group!(all, benches);
criterion_main!(all);
