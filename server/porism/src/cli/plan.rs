//! `porism plan`: what to do on each day until the last exam.

use std::io::Write;

use ide::plan::{Plan, PlannedBlock, PlannedDay, PlannedExam, PlannedMock};
use ide::{NotesUse, words};
use serde::Serialize;

use super::arguments::{self, Format};
use super::{Failure, Outcome, json, notebook, terminal};

/// Prints the plan of the days left, worked out from the notes as they are now.
pub(crate) fn plan(arguments: &arguments::Plan) -> Result<Outcome, Failure> {
    let notebook = notebook::read(&arguments.notes.folder)?;
    let plan = ide::plan::plan(notebook.workspace.analysis(), arguments.relearn_first);
    match arguments.format {
        Format::Text => write!(terminal::output(), "{}", plan.to_text(arguments.why))?,
        Format::Json => json::print(&plan_json(&plan))?,
    }
    Ok(Outcome::Clean)
}

/// What `--format json` prints; JSON.md says what each field means.
#[derive(Serialize)]
struct PlanJson<'a> {
    on: String,
    note: &'static str,
    relearn_first: bool,
    relearn_first_costs: Option<f64>,
    exams: Vec<ExamJson<'a>>,
    days: Vec<DayJson<'a>>,
    remarks: &'a [String],
}

#[derive(Serialize)]
struct ExamJson<'a> {
    course: &'a str,
    exam: &'a str,
    date: String,
    time: Option<String>,
    weight: f64,
    expected: f64,
    expected_with_plan: f64,
}

#[derive(Serialize)]
struct DayJson<'a> {
    date: String,
    minutes: u32,
    mock: Option<MockJson<'a>>,
    blocks: Vec<BlockJson<'a>>,
}

#[derive(Serialize)]
struct MockJson<'a> {
    course: &'a str,
    exam: &'a str,
    number: usize,
    instructor: Option<&'a str>,
    notes: &'static str,
    minutes: u32,
}

#[derive(Serialize)]
struct BlockJson<'a> {
    course: &'a str,
    topic: &'a str,
    pattern: &'a str,
    activity: &'static str,
    minutes: u32,
    problem: Option<&'a str>,
    exam: &'a str,
    gain: f64,
    gain_per_minute: f64,
    why: &'a str,
}

fn plan_json(plan: &Plan) -> PlanJson<'_> {
    PlanJson {
        on: plan.from.to_string(),
        note: words::ESTIMATE,
        relearn_first: plan.relearn_first,
        relearn_first_costs: plan.relearn_first_costs,
        exams: plan.exams.iter().map(exam_json).collect(),
        days: plan.days.iter().map(day_json).collect(),
        remarks: &plan.remarks,
    }
}

fn exam_json(exam: &PlannedExam) -> ExamJson<'_> {
    ExamJson {
        course: &exam.course,
        exam: &exam.exam,
        date: exam.on.date.to_string(),
        time: exam.on.time.map(|time| time.format("%H:%M").to_string()),
        weight: exam.weight,
        expected: exam.without,
        expected_with_plan: exam.with,
    }
}

fn day_json(day: &PlannedDay) -> DayJson<'_> {
    DayJson {
        date: day.date.to_string(),
        minutes: day.minutes,
        mock: day.mock.as_ref().map(mock_json),
        blocks: day.blocks.iter().map(block_json).collect(),
    }
}

fn mock_json(mock: &PlannedMock) -> MockJson<'_> {
    MockJson {
        course: &mock.course,
        exam: &mock.exam,
        number: mock.number,
        instructor: mock.instructor.as_deref(),
        notes: match mock.notes {
            NotesUse::Open => "open",
            NotesUse::Closed => "closed",
        },
        minutes: mock.minutes,
    }
}

fn block_json(block: &PlannedBlock) -> BlockJson<'_> {
    BlockJson {
        course: &block.course,
        topic: &block.topic,
        pattern: &block.pattern,
        activity: if block.relearn { "relearn" } else { "practise" },
        minutes: block.minutes,
        problem: block.problem.as_deref(),
        exam: &block.exam,
        gain: block.gain,
        gain_per_minute: block.gain_per_minute,
        why: &block.why,
    }
}
