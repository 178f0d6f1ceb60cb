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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check_on, findings_on};

    const NOTES: &str = "
@exam Midterm
  on: 2027-02-18
  covers: 1

@topic 1 Lines

@problem 1
  tried: 2027-02-10 closed wrong
";

    #[test]
    fn three_days_before_the_exam_the_readiness_is_said() {
        let found = findings_on("2027-02-15", NOTES);
        let own: Vec<_> = found.iter().filter(|f| f.code == NOT_READY.code).collect();
        let [finding] = own[..] else {
            panic!("one finding is expected: {found:?}")
        };
        let message = &finding.message;
        assert!(
            message.starts_with("This exam is in 3 days. Not ready: "),
            "{message}"
        );
        assert!(
            message.ends_with("(an estimate, not a promise)."),
            "{message}"
        );
        assert_eq!(&NOTES[finding.span.range()], "@exam Midterm");
    }

    #[test]
    fn earlier_later_and_with_nothing_to_practise_nothing_is_said() {
        check_on("2027-02-14", &NOT_READY, NOTES);
        check_on("2027-02-19", &NOT_READY, NOTES);
        check_on(
            "2027-02-17",
            &NOT_READY,
            "@exam Midterm\n  on: 2027-02-18\n",
        );
    }

    #[test]
    fn who_is_ready_hears_nothing() {
        let mut text = String::from(
            "@exam Midterm\n  on: 2027-02-18\n  covers: 1\n  target: 50%\n  questions: 2\n\n@topic 1\n\n",
        );
        for day in 1..=14 {
            let tries = format!("  tried: 2027-02-{day:02} closed right\n").repeat(2);
            text.push_str(&format!("@problem {day}\n  pattern: p\n{tries}\n"));
        }
        for day in [11, 13] {
            text.push_str(&format!(
                "@paper P{day}\n  for: Midterm\n  notes: closed\n  drawn: 2027-02-{day}\n  \
                 finished: 2027-02-{day}\n  recorded: 2027-02-{day}\n\n@question 1\n  of: 1\n  \
                 mark: right\n\n"
            ));
        }
        check_on("2027-02-15", &NOT_READY, &text);
    }
}
