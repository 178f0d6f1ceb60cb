//! `porism standing`: where the student stands.

use std::io::Write;

use ide::report::{self, CourseReport, ExamReport, PatternReport, Report, TopicReport};
use ide::{readiness, words};
use serde::Serialize;

use super::arguments::{Format, Standing};
use super::{Failure, Outcome, json, notebook, terminal};

/// Prints each exam and each pattern, as they stand today or stood on a past day.
pub(crate) fn standing(arguments: &Standing) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let analysis = notebook.workspace.analysis();
    let on = arguments.on.unwrap_or(analysis.today());
    let report =
        report::standing(analysis, on, arguments.course.as_deref()).map_err(Failure::new)?;
    match arguments.format {
        Format::Text => write!(terminal::output(), "{}", report.to_text())?,
        Format::Json => json::print(&json(&report))?,
    }
    Ok(Outcome::Clean)
}

/// What `--format json` prints; JSON.md says what each field means.
#[derive(Serialize)]
struct StandingJson<'a> {
    on: String,
    note: &'static str,
    courses: Vec<CourseJson<'a>>,
    exams: Vec<ExamJson<'a>>,
    patterns: Vec<PatternJson<'a>>,
    calibration: Option<CalibrationJson>,
}

#[derive(Serialize)]
struct CalibrationJson {
    past_exams: u32,
    bias: f64,
    mean_error: f64,
    brier: f64,
    log_score: f64,
    within: u32,
    coverage: (f64, f64),
    enough_exams: bool,
}

#[derive(Serialize)]
struct EstimatedJson {
    readiness: f64,
    expected: f64,
    low: f64,
    high: f64,
}

#[derive(Serialize)]
struct CourseJson<'a> {
    name: &'a str,
    tries: u32,
    enough_evidence: bool,
}

#[derive(Serialize)]
struct ExamJson<'a> {
    course: &'a str,
    name: &'a str,
    date: Option<String>,
    time: Option<String>,
    days_left: Option<i64>,
    window_start: Option<String>,
    target: f64,
    result: Option<f64>,
    estimated: Option<EstimatedJson>,
    readiness: Option<f64>,
    label: Option<&'static str>,
    reason: &'a str,
    expected: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    questions: Option<u32>,
    distribution: Option<&'a [f64]>,
    closed_paper_days: Option<u32>,
    enough_evidence: bool,
    costs: Vec<CostJson<'a>>,
}

#[derive(Serialize)]
struct CostJson<'a> {
    topic: &'a str,
    lost: f64,
}

#[derive(Serialize)]
struct PatternJson<'a> {
    course: &'a str,
    topic: &'a str,
    name: &'a str,
    mastery: f64,
    low: f64,
    high: f64,
    tries: usize,
    days: u32,
    last: Option<String>,
}

fn json(report: &Report) -> StandingJson<'_> {
    let courses = || report.courses.iter();
    let calibration = report.calibration.map(|of| CalibrationJson {
        past_exams: of.exams,
        bias: of.bias,
        mean_error: of.mean_error,
        brier: of.brier,
        log_score: of.log_score,
        within: of.within,
        coverage: of.coverage,
        enough_exams: of.enough_exams,
    });
    StandingJson {
        on: report.on.to_string(),
        note: words::ESTIMATE,
        courses: courses()
            .map(|course| CourseJson {
                name: &course.title,
                tries: course.tries,
                enough_evidence: course.enough_evidence,
            })
            .collect(),
        exams: courses()
            .flat_map(|course| {
                course
                    .exams
                    .iter()
                    .map(|exam| exam_json(report, course, exam))
            })
            .collect(),
        patterns: courses()
            .flat_map(|course| course.topics.iter().map(move |topic| (course, topic)))
            .flat_map(|(course, topic)| {
                let patterns = topic.patterns.iter();
                patterns.map(move |pattern| pattern_json(course, topic, pattern))
            })
            .collect(),
        calibration,
    }
}

fn exam_json<'a>(report: &Report, course: &'a CourseReport, exam: &'a ExamReport) -> ExamJson<'a> {
    let of = exam.readiness.as_ref().ok();
    let estimate = of.map(|of| &of.estimate);
    let cost = |(topic, lost): &'a (String, f64)| CostJson { topic, lost: *lost };
    ExamJson {
        course: &course.title,
        name: &exam.title,
        date: exam.on.map(|on| on.date.to_string()),
        time: exam
            .on
            .and_then(|on| on.time)
            .map(|time| time.format("%H:%M").to_string()),
        days_left: exam
            .on
            .map(|on| on.date.signed_duration_since(report.on).num_days()),
        window_start: exam.window_start.map(|start| start.to_string()),
        target: exam.target,
        result: exam.result.map(|result| result.fraction()),
        estimated: exam.past.as_ref().map(|past| {
            let estimate = &past.estimated.estimate;
            EstimatedJson {
                readiness: estimate.chance,
                expected: estimate.expected,
                low: estimate.low,
                high: estimate.high,
            }
        }),
        readiness: estimate.map(|e| e.chance),
        label: estimate.map(|e| readiness::label(e.label)),
        reason: &exam.reason,
        expected: estimate.map(|e| e.expected),
        low: estimate.map(|e| e.low),
        high: estimate.map(|e| e.high),
        questions: of.map(|of| of.questions),
        distribution: estimate.map(|e| e.distribution.as_slice()),
        closed_paper_days: estimate.map(|e| e.closed_paper_days),
        enough_evidence: course.enough_evidence,
        costs: exam.costs.iter().map(cost).collect(),
    }
}

fn pattern_json<'a>(
    course: &'a CourseReport,
    topic: &'a TopicReport,
    pattern: &'a PatternReport,
) -> PatternJson<'a> {
    PatternJson {
        course: &course.title,
        topic: &topic.title,
        name: &pattern.title,
        mastery: pattern.mastery,
        low: pattern.between.0,
        high: pattern.between.1,
        tries: pattern.tries,
        days: pattern.days,
        last: pattern.last.map(|day| day.to_string()),
    }
}
