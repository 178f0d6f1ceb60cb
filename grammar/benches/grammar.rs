//! How long a parse, the parse of one unit and the scan for unit starts take.

use std::hint::black_box;

use criterion::{Criterion, Throughput};
use porism_grammar::{LANGUAGE, next_unit_start, unit_starts};
use tree_sitter::{InputEdit, Parser, Point};

const SAMPLE: &str = include_str!("../test/samples/integrals.porism");

/// The block of `SAMPLE` that a student edits.
const EDITED: &str = "@problem";

const TEXT_SIZE: usize = 1 << 20;

/// The size of a rope's chunks.
const CHUNK_SIZE: usize = 1000;

fn parser() -> Parser {
    let mut parser = Parser::new();
    parser
        .set_language(&LANGUAGE.into())
        .expect("the ABI of the language is one that the library reads");
    parser
}

fn text() -> String {
    SAMPLE.repeat(TEXT_SIZE.div_ceil(SAMPLE.len()))
}

fn whole_text(criterion: &mut Criterion) {
    let text = text();
    let mut group = criterion.benchmark_group("text");
    group.throughput(Throughput::Bytes(text.len() as u64));
    let mut parser = parser();
    group.bench_function("parse", |bencher| {
        bencher.iter(|| parser.parse(black_box(&text), None));
    });
    group.bench_function("unit starts", |bencher| {
        bencher.iter(|| unit_starts(black_box(text.as_bytes())));
    });
    group.bench_function("unit starts in chunks", |bencher| {
        let chunk = |byte: usize| {
            let end = (byte / CHUNK_SIZE + 1) * CHUNK_SIZE;
            &text.as_bytes()[byte..end.min(text.len())]
        };
        bencher.iter(|| {
            let mut from = 0;
            while let Some(start) = next_unit_start(chunk, black_box(from)) {
                from = start;
            }
            from
        });
    });
    group.finish();
}

fn one_unit(criterion: &mut Criterion) {
    let start = SAMPLE.find(EDITED).expect("the sample has the block");
    let end = next_unit_start(|byte| &SAMPLE.as_bytes()[byte..], start).unwrap_or(SAMPLE.len());
    let unit = &SAMPLE[start..end];
    let typed = unit.find("right").expect("the block has an attempt");
    let edited = format!("{}x{}", &unit[..typed], &unit[typed..]);
    let row = unit[..typed].matches('\n').count();
    let column = typed - unit[..typed].rfind('\n').map_or(0, |end| end + 1);
    let edit = InputEdit {
        start_byte: typed,
        old_end_byte: typed,
        new_end_byte: typed + 1,
        start_position: Point { row, column },
        old_end_position: Point { row, column },
        new_end_position: Point {
            row,
            column: column + 1,
        },
    };
    let mut parser = parser();
    let tree = parser.parse(unit, None).expect("no parse is cancelled");
    let mut group = criterion.benchmark_group("unit");
    group.throughput(Throughput::Bytes(unit.len() as u64));
    group.bench_function("parse", |bencher| {
        bencher.iter(|| parser.parse(black_box(unit), None));
    });
    group.bench_function("parse after a keystroke", |bencher| {
        bencher.iter(|| {
            let mut tree = tree.clone();
            tree.edit(&edit);
            parser.parse(black_box(&edited), Some(&tree))
        });
    });
    group.finish();
}

fn main() {
    let mut criterion = Criterion::default().configure_from_args();
    whole_text(&mut criterion);
    one_unit(&mut criterion);
    criterion.final_summary();
}
