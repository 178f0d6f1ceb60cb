//! How long it takes to draw a mock test, to record its marks, to show the lenses of an exam's file
//! and to report the standing.

#![expect(missing_docs, reason = "criterion's macro writes a public function")]

use std::hint::black_box;

use chrono::NaiveDate;
use criterion::{Criterion, criterion_group, criterion_main};
use porism_ide::commands::{find_exam, find_paper};
use porism_ide::draw_paper::{DrawRequest, draw_paper};
use porism_ide::record_marks::{Unmarked, record_marks};
use porism_ide::{Analysis, FilePath, NotesUse, Workspace, code_lenses, report};
use porism_tests::generate;

/// A notebook of so many problems.
fn built(problems: usize) -> Workspace {
    let files = generate::notebook(problems, 1);
    let texts = files
        .iter()
        .map(|(path, text)| (path.as_str(), text.as_str()));
    let noon = NaiveDate::from_ymd_opt(2027, 2, 15).and_then(|day| day.and_hms_opt(12, 0, 0));
    Workspace::from_files(noon.expect("a time of day"), texts)
}

fn draw(analysis: &Analysis) -> porism_ide::drawn_paper::DrawnPaper {
    let exam = find_exam(analysis, Some("Course 0"), Some("Midterm")).expect("the exam");
    let request = DrawRequest::with_notes(NotesUse::Closed);
    draw_paper(analysis, &exam, request).expect("a paper")
}

fn papers(c: &mut Criterion) {
    for problems in [100, 1_000, 5_000] {
        let mut workspace = built(problems);
        let mut group = c.benchmark_group(format!("{problems} problems"));
        group.sample_size(20);
        group.bench_function("draw a mock test", |b| {
            b.iter(|| black_box(draw(workspace.analysis())));
        });
        let course = FilePath::new("course-00/course.porism");
        group.bench_function("lenses of the exam's file", |b| {
            b.iter(|| black_box(code_lenses::code_lenses(workspace.analysis(), &course)));
        });
        group.bench_function("report the standing", |b| {
            let analysis = workspace.analysis();
            b.iter(|| black_box(report::standing(analysis, analysis.today(), None)));
        });
        let paper = draw(workspace.analysis());
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
