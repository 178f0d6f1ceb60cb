use chrono::NaiveDate;
use notes::{BlockKind, Located, NameKey, Notebook};

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::thing;
use crate::exams::{exam_name, window};
use crate::{Analysis, words};

check! {
    /// The days set aside for two exams overlap.
    ///
    /// What is left for each is less than it seems. It is best seen on the day the dates are
    /// announced, when there is still time to begin earlier with one of the two.
    ///
    /// ```porism
    /// @exam First midterm
    ///   on: 2027-02-20
    ///   covers: 1
    ///
    /// @exam Second midterm
    ///   on: 2027-02-22
    ///   covers: 2
    /// ```
    ///
    /// Start earlier with one of them: `start: 14 days before`. The plan shares the minutes of each
    /// day among all exams whose time has come.
    EXAMS_COLLIDE = "exams-collide", Information
}

/// An exam that is not past, with the days set aside for it.
struct Window<'a> {
    at: Located<'a>,
    course: NameKey,
    first: NaiveDate,
    last: NaiveDate,
}

/// Checks the exams of all courses.
pub(super) fn check(analysis: &Analysis, marks: &mut Vec<Mark>) {
    let notebook = &analysis.notebook;
    let today = analysis.today();
    let mut windows: Vec<Window<'_>> = Vec::new();
    for course in notebook.courses() {
        for at in notebook.of_kind(&course, BlockKind::Exam) {
            let (Some(on), Some(first)) = window(at.block) else {
                continue;
            };
            if on.date >= today {
                let course = course.clone();
                windows.push(Window {
                    at,
                    course,
                    first: first.min(on.date),
                    last: on.date,
                });
            }
        }
    }
    windows.sort_by_key(|window| (window.first, window.last, window.at.id()));
    let mut others: Vec<Vec<usize>> = vec![Vec::new(); windows.len()];
    for (i, window) in windows.iter().enumerate() {
        let behind = windows.iter().enumerate().skip(i + 1);
        for (j, _) in behind.take_while(|(_, other)| other.first <= window.last) {
            others[i].push(j);
            others[j].push(i);
        }
    }
    for (window, others) in windows.iter().zip(others) {
        if others.is_empty() {
            continue;
        }
        let others: Vec<&Window<'_>> = others.into_iter().map(|i| &windows[i]).collect();
        let said = |other: &&Window<'_>| {
            format!(
                "{} ({} to {})",
                name_beside(notebook, other, window),
                other.first,
                other.last
            )
        };
        let named: Vec<String> = others.iter().take(MOST_NAMED).map(said).collect();
        let more = match others.len().saturating_sub(MOST_NAMED) {
            0 => String::new(),
            n => format!(" and {}", words::count(n, "more exam")),
        };
        let message = format!(
            "The days set aside for this exam ({} to {}) overlap with those for {}{more}.",
            window.first,
            window.last,
            named.join(", ")
        );
        let mark = EXAMS_COLLIDE.mark(&window.at.id(), Part::Header, message);
        marks.push(others.iter().fold(mark, |mark, other| {
            mark.related(&other.at.id(), Part::Header, "the other exam")
        }));
    }
}

/// How many exams are named in one message.
const MOST_NAMED: usize = 3;

/// The name of an exam, with its course when that is another.
fn name_beside(notebook: &Notebook, exam: &Window<'_>, of: &Window<'_>) -> String {
    let name = exam_name(&exam.at);
    if exam.course == of.course || exam.course.is_empty() {
        return name;
    }
    let course = notebook.definition(&thing(&exam.course, BlockKind::Course, &exam.course));
    let course = course.map_or_else(|| exam.course.to_string(), |at| at.title());
    format!("{name} of {course}")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, check_on};

    #[test]
    fn windows_that_overlap_are_marked_on_both_exams() {
        check(
            &EXAMS_COLLIDE,
            "
=== a.porism
@course Algebra

@exam Midterm
^^^^^^^^^^^^^ information: The days set aside for this exam (2027-02-18 to 2027-02-25) overlap with those for Midterm of Ordinary DE (2027-02-25 to 2027-03-04). [b.porism \"@exam Midterm\": the other exam]
  on: 2027-02-25
=== b.porism
@course Ordinary DE

@exam Midterm
^^^^^^^^^^^^^ information: The days set aside for this exam (2027-02-25 to 2027-03-04) overlap with those for Midterm of Algebra (2027-02-18 to 2027-02-25). [a.porism \"@exam Midterm\": the other exam]
  on: 2027-03-04
",
        );
    }

    #[test]
    fn exams_apart_and_past_exams_are_not_marked() {
        let text = "@exam One\n  on: 2027-02-25\n\n@exam Two\n  on: 2027-03-05\n";
        check(&EXAMS_COLLIDE, text);
        let text = "@exam One\n  on: 2027-02-25\n\n@exam Two\n  on: 2027-03-01\n";
        check_on("2027-02-26", &EXAMS_COLLIDE, text);
    }
}
