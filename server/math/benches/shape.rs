//! How long does it take to classify a problem against a student's patterns, and against all starter
//! patterns?

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use criterion::{Criterion, criterion_group, criterion_main};
use porism_math::problem::{self, Part, Problem};
use porism_math::shape::{self, Shape};
use std::hint::black_box;
use std::path::Path;

const TABLE: &str = include_str!("../tests/shape/table.txt");

/// The number of patterns.
const PATTERNS: usize = 60;

fn shapes() -> Vec<Shape> {
    let lines = TABLE.lines().filter(|line| line.starts_with('$'));
    let shapes: Vec<Shape> = lines.map(|line| shape::read(line).0).collect();
    // Not every table has as many: the first ones stand twice then.
    shapes.iter().cycle().take(PATTERNS).cloned().collect()
}

/// Every shape of the starter patterns.
#[expect(
    clippy::disallowed_methods,
    reason = "the starter patterns are read from their files"
)]
fn starter_shapes() -> Vec<Shape> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/starter");
    let files = std::fs::read_dir(folder).expect("the starter patterns");
    let mut files: Vec<_> = files.map(|entry| entry.expect("a file").path()).collect();
    files.sort();
    let mut shapes = Vec::new();
    for file in files {
        let text = std::fs::read_to_string(&file).expect("a file of starter patterns");
        let lines = text.lines();
        let written = lines.filter_map(|line| line.trim_start().strip_prefix("shape: "));
        shapes.extend(written.map(|written| shape::read(written).0));
    }
    shapes
}

/// Exercises as textbooks print them, with the instruction.
fn exercises() -> Vec<Problem> {
    let tables = concat!(
        include_str!("../tests/classification/algebra-and-equations.txt"),
        include_str!("../tests/classification/calculus.txt"),
    );
    let mut instruction = "";
    let mut exercises = Vec::new();
    for line in tables.lines() {
        if let Some(new) = line.strip_prefix("> ") {
            instruction = new;
        } else if let Some((exercise, _)) = line.rsplit_once(" => ") {
            exercises.push(problem::read_exercise(instruction, exercise));
        }
    }
    exercises
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
    let (starter, exercises) = (starter_shapes(), exercises());
    percentiles(&starter, &exercises);
    c.bench_function("classify all exercises against the starter patterns", |b| {
        b.iter(|| {
            for exercise in &exercises {
                black_box(shape::classify(&starter, black_box(exercise)));
            }
        });
    });
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
