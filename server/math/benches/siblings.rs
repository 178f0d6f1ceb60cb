//! How long does it take to draw three problems of a kind with their keys?

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use porism_math::problem::Part;
use porism_math::sibling::siblings;

const PROBLEMS: [(&str, &str, &str); 8] = [
    ("quadratic equation", "Solve", "x^2 - 5x + 6 = 0"),
    ("quadratic inequality", "Solve", "x^2 - x - 6 > 0"),
    (
        "system of three equations",
        "Solve",
        r"\begin{cases} x + y + z = 6 \\ 2x - y + z = 3 \\ x + 2y - z = 2 \end{cases}",
    ),
    (
        "eigenvalues",
        "Find the eigenvalues of",
        r"\begin{bmatrix} 4 & 1 \\ 2 & 3 \end{bmatrix}",
    ),
    ("derivative", "Differentiate", "x^2 e^{3x}"),
    ("antiderivative", "Find", r"\int x e^{2x}\,dx"),
    ("limit", "Find", r"\lim_{x \to 3} \frac{x^2 - 9}{x - 3}"),
    (
        "differential equation",
        "Solve",
        "y'' - 3y' + 2y = 4 e^{3x}",
    ),
];

fn three_siblings(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("three siblings");
    group.sample_size(10);
    for (kind, words, tex) in PROBLEMS {
        let statement = [Part::Words(words), Part::Tex(tex)];
        assert_eq!(siblings(&statement, 1, 3).found.len(), 3, "{kind}");
        group.bench_function(kind, |bencher| {
            bencher.iter(|| siblings(black_box(&statement), 1, 3));
        });
    }
    group.finish();
}

criterion_group!(benches, three_siblings);
criterion_main!(benches);
