//! The plan as text.

use notes::value::NotesUse;

use super::{Plan, PlannedBlock, PlannedDay, PlannedMock, named_exam};
use crate::report::Lines;
use crate::words;

impl Plan {
    /// The plan as text, at most 80 characters wide; with the reasons for each block, if wanted.
    pub fn to_text(&self, why: bool) -> String {
        let mut out = Lines::default();
        out.line(0, &format!("Plan from {}", self.from));
        self.body("", why, &mut out);
        out.into_text()
    }

    /// The plan as notes, with a heading for each day; with the reasons for each block, if wanted.
    pub fn to_notes(&self, why: bool) -> String {
        let mut out = Lines::default();
        out.line(0, &format!("# Plan from {}", self.from));
        self.body("## ", why, &mut out);
        out.into_text()
    }

    fn body(&self, heading: &str, why: bool, out: &mut Lines) {
        if self.exams.is_empty() {
            out.line(0, "");
            out.line(
                0,
                "There is no exam ahead that can be planned for: write @exam with on: and covers:.",
            );
        }
        for exam in &self.exams {
            out.line(0, "");
            let name = named_exam(&exam.exam, &exam.course);
            let when = words::day_from(self.from, exam.on.date);
            out.line(0, &format!("{name}: {}, {when}", exam.on));
            out.line(
                2,
                &format!(
                    "expected score {}, with this plan {}",
                    words::percent(exam.without),
                    words::percent(exam.with)
                ),
            );
        }
        if !self.days.is_empty() {
            out.line(0, "");
        }
        if self.days.iter().any(|day| !day.blocks.is_empty()) {
            out.exact(&format!(
                "    {:<8} {:TITLE$} {:>6} {:>5} {}",
                "", "", "", "gain", "a min"
            ));
        }
        for (i, day) in self.days.iter().enumerate() {
            if i > 0 {
                out.line(0, "");
            }
            self.day(day, heading, why, out);
        }
        out.line(0, "");
        if let Some(costs) = self.relearn_first_costs {
            let costs = match costs {
                costs if costs < 0.005 => "costs nothing".to_owned(),
                costs => format!("costs {costs:.2} points"),
            };
            out.line(
                0,
                &match self.relearn_first {
                    true => format!("Relearning everything first {costs} against the best plan."),
                    false if heading.is_empty() => {
                        format!("Relearning everything first {costs}: --relearn-first.")
                    }
                    // An editor takes no options.
                    false => format!("Relearning everything first {costs}."),
                },
            );
        }
        for remark in &self.remarks {
            out.line(0, remark);
        }
        if !self.exams.is_empty() {
            out.line(0, ASSUMED);
        }
        out.line(0, &format!("{} {}", words::ESTIMATE, words::COURSE_RULES));
    }

    fn day(&self, day: &PlannedDay, heading: &str, why: bool, out: &mut Lines) {
        let planned: u32 = day.blocks.iter().map(|block| block.minutes).sum::<u32>()
            + day.mock.as_ref().map_or(0, |mock| mock.minutes);
        let weekday = day.date.format("%A");
        let of = match (planned, day.minutes) {
            (planned, minutes) if planned > minutes => format!("{planned} min, of {minutes}"),
            (planned, minutes) => format!("{planned} of {minutes} min"),
        };
        out.line(0, &format!("{heading}{weekday} {}: {of}", day.date));
        if let Some(mock) = &day.mock {
            out.line(2, &mock_line(mock));
        }
        let mut course = None;
        for block in &day.blocks {
            if course != Some(&block.course) && !block.course.is_empty() {
                out.line(2, &block.course);
            }
            course = Some(&block.course);
            out.exact(&block_row(block));
            if why {
                out.line(13, &block.why);
            }
        }
    }
}

/// The width of a pattern's title.
const TITLE: usize = 34;

/// A block as a row of a table.
fn block_row(block: &PlannedBlock) -> String {
    let activity = if block.relearn { "relearn" } else { "practise" };
    let title = words::cut(&block.pattern, TITLE);
    let fill = TITLE.saturating_sub(title.chars().count());
    let problem = match &block.problem {
        Some(problem) => format!("from {}", words::cut(problem, 10)),
        None => String::new(),
    };
    let row = format!(
        "    {activity:<8} {title}{:fill$} {:>2} min {:+5.2} {:.3}  {problem}",
        "", block.minutes, block.gain, block.gain_per_minute
    );
    row.trim_end().to_owned()
}

/// What the plan takes for granted.
const ASSUMED: &str = "Assumed: a practice block takes away 15% of what is missing to full mastery, \
    relearning half of it, once; in between it fades. Gains are points of 100 of the course's mark.";

/// A mock test in one line.
pub(crate) fn mock_line(mock: &PlannedMock) -> String {
    let notes = match mock.notes {
        NotesUse::Open => "notes open",
        NotesUse::Closed => "notes closed and timed",
    };
    let exam = named_exam(&mock.exam, &mock.course);
    match &mock.instructor {
        Some(paper) => format!("{} min: sit {paper} for {exam}, {notes}", mock.minutes),
        None => format!(
            "{} min: mock test {} for {exam}, {notes}",
            mock.minutes, mock.number
        ),
    }
}
