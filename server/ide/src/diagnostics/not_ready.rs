use study::readiness::Label;

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::CourseScope;
use crate::readiness::{in_words, of_exam};
use crate::words;

check! {
    /// An exam is three days away or less, and the notes do not say that you are ready.
    ///
    /// *Ready* is a chance of 80% or more to reach the target on a fresh closed-notes paper, shown
    /// on two such papers on different days. From not ready to ready takes about four days (common
    /// practice, no published source), so this is the time to choose what matters most.
    ///
    /// ```porism
    /// @exam Midterm
    ///   on: 2027-02-17
    ///   covers: 1
    ///
    /// @topic 1 Lines
    ///
    /// @problem 1.1
    ///   pattern: distance to a line
    ///   Find the distance of $(1, 2)$ to $x + y = 0$.
    ///   tried: 2027-02-14 closed wrong 4 min
    /// ```
    ///
    /// Sit a closed-notes paper and work on what it shows. The figure is an estimate from the tries
    /// in the notes, not a promise.
    NOT_READY = "not-ready", Warning
}

/// Days before an exam from which being not ready is said (common practice, no published source).
const ALARM_DAYS: i64 = 3;

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    for exam in &scope.exams {
        let days = exam
            .days_left(scope.today)
            .filter(|days| (0..=ALARM_DAYS).contains(days));
        let (Some(_), Some(on)) = (days, exam.on) else {
            continue;
        };
        let Ok(readiness) = of_exam(scope.analysis, exam) else {
            continue;
        };
        if readiness.estimate.label == Label::Ready {
            continue;
        }
        let message = format!(
            "This exam is {}. {} (an estimate, not a promise).",
            words::day_from(scope.today, on.date),
            capitalised(&in_words(&readiness, exam)),
        );
        marks.push(NOT_READY.mark(&exam.at.id(), Part::Header, message));
    }
}

fn capitalised(text: &str) -> String {
    let mut letters = text.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}
