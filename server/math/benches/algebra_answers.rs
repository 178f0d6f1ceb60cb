//! How long does the verdict on an answer about algebra take, by kind?

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use std::collections::BTreeMap;
use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use porism_math::problem::Part;
use porism_math::verdict::verify;

/// The problems of the tests' tables by kind, with every key, right and wrong.
fn questions() -> BTreeMap<&'static str, Vec<[&'static str; 3]>> {
    let tables = [
        include_str!("../tests/verdict/equations.txt"),
        include_str!("../tests/verdict/expressions.txt"),
        include_str!("../tests/verdict/functions.txt"),
        include_str!("../tests/verdict/vectors.txt"),
        include_str!("../tests/verdict/drawn.txt"),
        include_str!("../tests/verdict/courses.txt"),
    ];
    let mut questions: BTreeMap<&str, Vec<_>> = BTreeMap::new();
    let mut kind = "";
    for line in tables.into_iter().flat_map(str::lines) {
        match (
            line.strip_prefix("# "),
            line.split("||").collect::<Vec<_>>().as_slice(),
        ) {
            (Some(name), _) => kind = name,
            (None, [prompt, tex, right, wrong]) => {
                for key in right.split(";;").chain(wrong.split(";;")) {
                    let question = [prompt.trim(), tex.trim(), key.trim()];
                    questions.entry(kind).or_default().push(question);
                }
            }
            _ => {}
        }
    }
    questions
}

fn parts(text: &str, is_formula: bool) -> Vec<Part<'_>> {
    if is_formula && !text.contains('$') {
        return vec![Part::Tex(text)];
    }
    let pieces = text.split('$').enumerate();
    pieces
        .map(|(place, piece)| match place % 2 {
            0 => Part::Words(piece),
            _ => Part::Tex(piece),
        })
        .collect()
}

fn answer(question: &[&str; 3]) {
    let [prompt, tex, key] = question;
    let mut statement = parts(prompt, false);
    if !tex.is_empty() {
        statement.extend(parts(tex, true));
    }
    black_box(verify(&statement, &parts(key, true)));
}

#[expect(
    clippy::print_stderr,
    clippy::disallowed_methods,
    reason = "a benchmark measures and prints"
)]
fn verdicts(criterion: &mut Criterion) {
    let questions = questions();
    let mut all = Vec::new();
    for (kind, list) in &questions {
        let mut times: Vec<u128> = list
            .iter()
            .map(|question| {
                let measure = || {
                    let start = std::time::Instant::now();
                    answer(question);
                    start.elapsed().as_nanos()
                };
                (0..5).map(|_| measure()).min().unwrap_or(0)
            })
            .collect();
        times.sort_unstable();
        let at = |part: usize| times[(times.len() - 1) * part / 100] as f64 / 1e6;
        eprintln!("{kind}: p50 {:.3} ms, p99 {:.2} ms", at(50), at(99));
        all.extend(times);
    }
    all.sort_unstable();
    let at = |part: usize| all[(all.len() - 1) * part / 100] as f64 / 1e6;
    eprintln!(
        "all {} keys: p50 {:.3} ms, p90 {:.2} ms, p99 {:.2} ms, largest {:.1} ms",
        all.len(),
        at(50),
        at(90),
        at(99),
        at(100)
    );
    criterion.bench_function("verdict, quadratic equation", |bencher| {
        bencher.iter(|| answer(&["Solve.", "x^2 - 3x - 10 = 0", "x = 5, x = -2"]));
    });
}

criterion_group!(benches, verdicts);
criterion_main!(benches);
