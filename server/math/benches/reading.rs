//! How long does reading and printing a formula take?
//!
//! The formulas are of the kinds and lengths that notes hold, from arithmetic to integrals and
//! matrices; each measurement goes through all of them once, and the throughput counts formulas.

#![expect(
    missing_docs,
    reason = "the macros of the harness define public functions"
)]

use std::hint::black_box;

use criterion::{Criterion, Throughput, criterion_group, criterion_main};
use porism_math::print::{plain, tex};
use porism_math::read::{Declared, read};

const FORMULAS: &[&str] = &[
    r"x^2 - 5x + 6 = 0",
    r"\frac{2}{x} - \frac{3}{2} = \frac{7}{2x}",
    r"C = \frac{5}{9}(F - 32)",
    r"5\sqrt{12} + 2\sqrt{3}",
    r"(2x - 3y)^4",
    r"|x - 1| \le 3",
    r"(-\infty, -3) \cup [1, \infty)",
    r"\cos^2\theta + 3\cos\theta - 1 = 0",
    r"x = \frac{3 + \sqrt{29}}{2}, x = \frac{3 - \sqrt{29}}{2}",
    r"y'' - 6y' + 13y = 0,\quad y(0) = 0,\quad y'(0) = 10",
    r"y = C_1 e^{4x} + C_2 x e^{4x}",
    r"\frac{d^2y}{dx^2} + 3\frac{dy}{dx} + 2y = e^{-x}",
    r"\lim_{x \to 2} \frac{x^2 - 6x + 8}{x - 2}",
    r"\int_0^{\pi} x \sin x \, dx",
    r"\sum_{m=1}^{\infty} \frac{1}{m^2}",
    r"\begin{vmatrix}0 & 2 & 1 \\ 3 & -1 & 1 \\ 4 & 0 & 1\end{vmatrix}",
    r"\begin{cases}3x + 4y = 12 \\ 6x + 8y = 24\end{cases}",
    r"\log_2 (x + 1) + \ln \sqrt{x} = 3",
    r"f'(x) = \lim_{h \to 0} \frac{f(x+h) - f(x)}{h}",
    r"\mathcal{L}^{-1}\left\{\frac{s^2 + s + 1}{s^3 + s}\right\}",
];

fn reading(criterion: &mut Criterion) {
    let declared = Declared::new();
    let mut group = criterion.benchmark_group("formulas");
    group.throughput(Throughput::Elements(FORMULAS.len() as u64));
    group.bench_function("read", |bencher| {
        bencher.iter(|| {
            for formula in FORMULAS {
                black_box(read(black_box(formula), &declared));
            }
        });
    });
    let expressions: Vec<_> = FORMULAS
        .iter()
        .map(|f| read(f, &declared).expression)
        .collect();
    group.bench_function("print plain text", |bencher| {
        bencher.iter(|| {
            for expression in &expressions {
                black_box(plain(black_box(expression)));
            }
        });
    });
    group.bench_function("print TeX and read it back", |bencher| {
        bencher.iter(|| {
            for expression in &expressions {
                black_box(tex(black_box(expression), &declared));
            }
        });
    });
    group.finish();
    let sum = vec!["x^2"; 10_000].join(" + ");
    let mut group = criterion.benchmark_group("sum of 10,000 terms");
    group.throughput(Throughput::Bytes(sum.len() as u64));
    group.bench_function("read", |bencher| {
        bencher.iter(|| black_box(read(black_box(&sum), &declared)));
    });
    group.finish();
}

criterion_group!(benches, reading);
criterion_main!(benches);
