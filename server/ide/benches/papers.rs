//! How long it takes to draw a mock test and a drill sheet, to record its marks, to show the lenses of an exam's file
//! and to report the standing.

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use porism_ide::commands::{find_exam, find_paper};
use porism_ide::draw_drill::{DrillRequest, draw_drill};
use porism_ide::draw_paper::{DrawRequest, draw_paper};
use porism_ide::drawn_paper::DrawnPaper;
use porism_ide::record_marks::{Unmarked, record_marks};
use porism_ide::sheet_scope::Scope;
use porism_ide::{Analysis, FilePath, NotesUse, Workspace, code_lenses, report};
use porism_tests::generate;
use study::drill::Arrangement;

/// A notebook of so many problems.
fn built(problems: usize) -> Workspace {
    let files = generate::notebook(problems, 1);
    let texts = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()));
    let noon = NaiveDate::from_ymd_opt(2027, 2, 15).and_then(|day| day.and_hms_opt(12, 0, 0));
    Workspace::from_files(noon.expect("a time of day"), texts)
}

fn draw(analysis: &Analysis, seed: u32) -> DrawnPaper {
    let exam = find_exam(analysis, Some("Course 0"), Some("Midterm")).expect("the exam");
    let request = DrawRequest {
        seed: Some(seed),
        ..DrawRequest::with_notes(NotesUse::Closed)
    };
    draw_paper(analysis, &exam, request).expect("a paper")
}

fn drill(analysis: &Analysis, seed: u32) -> DrawnPaper {
    let topics = ["1.1".to_owned(), "1.2".to_owned()];
    let scope = Scope::find(analysis, Some("Course 0"), &[], &topics).expect("the topics");
    let request = DrillRequest {
        arrangement: Arrangement::Mixed,
        questions: Some(20),
        seed: Some(seed),
    };
    draw_drill(analysis, &scope, request).expect("a sheet")
}

fn papers(c: &mut Criterion) {
    for problems in [100, 1_000, 5_000] {
        let mut workspace = built(problems);
        let mut group = c.benchmark_group(format!("{problems} problems"));
        group.sample_size(20);
        // Each with other numbers, for these are made once for each seed.
        let mut seed = 0;
        group.bench_function("draw a mock test", |b| {
            b.iter(|| {
                seed += 1;
                black_box(draw(workspace.analysis(), seed))
            });
        });
        group.bench_function("draw a drill sheet", |b| {
            b.iter(|| {
                seed += 1;
                black_box(drill(workspace.analysis(), seed))
            });
        });
        let course = FilePath::new("course-00/course.porism");
        group.bench_function("lenses of the exam's file", |b| {
            b.iter(|| black_box(code_lenses::code_lenses(workspace.analysis(), &course)));
        });
        group.bench_function("report the standing", |b| {
            let analysis = workspace.analysis();
            b.iter(|| black_box(report::standing(analysis, analysis.today(), None)));
        });
        let paper = draw(workspace.analysis(), 0);
        let marked = paper.text.replace("  mark: ", "  mark: right");
        workspace.set_text(&paper.path, &marked);
        group.bench_function("record the marks", |b| {
            let analysis = workspace.analysis();
            let paper = find_paper(analysis, &paper.path, "").expect("the paper");
            b.iter(|| black_box(record_marks(analysis, &paper, Unmarked::Refuse)).expect("marks"));
        });
        group.finish();
    }
}

criterion_group!(benches, papers);
criterion_main!(benches);
