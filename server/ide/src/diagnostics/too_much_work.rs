use notes::value::Minutes;
use study::ExamId;
use study::collisions::{Collision, Window, collisions};

use super::check::check;
use super::mark::{Mark, Part};
use crate::commands::course_title;
use crate::exams::{Exam, all_exams};
use crate::plan::{MOST_EXAMS, named_exam, work_left};
use crate::standing::{date, day};
use crate::study_time::StudyTimes;
use crate::{Analysis, words};

check! {
    /// The days before an exam, or before several, hold less study time than there is work.
    ///
    /// The work is what the way to each exam still takes: mock tests of its length, relearning what
    /// was not learned, and practice of every kind below the target (common practice, no published
    /// source for the minutes). It is counted against `minutes:` and `off:` of the courses.
    ///
    /// ```porism
    /// @course Waves
    ///   minutes: 20 min
    ///
    /// @exam Midterm
    ///   on: 2027-02-20
    ///   length: 75 min
    ///   covers: 1
    ///
    /// @topic 1 Waves
    ///
    /// @problem 1
    ///   pattern: standing
    ///   Decide.
    /// ```
    ///
    /// Start earlier with one of them (`start: 14 days before`), find more minutes, or let
    /// `porism plan` choose what is worth most.
    TOO_MUCH_WORK = "too-much-work", Information
}

/// Checks the exams of all courses. Where no course says its minutes there is nothing to hold the
/// work against.
pub(super) fn check(analysis: &Analysis, marks: &mut Vec<Mark>) {
    let today = analysis.today();
    let mut ahead = all_exams(analysis);
    ahead.retain(|exam| exam.days_left(today).is_some_and(|days| days > 0));
    ahead.truncate(MOST_EXAMS);
    let times = StudyTimes::of(analysis, ahead.iter().map(|exam| &exam.course));
    if times.is_assumed() {
        return;
    }
    let window = |(number, exam): (u32, &Exam<'_>)| {
        let on = exam.on?.date;
        Some(Window {
            exam: ExamId(number),
            from: day(exam.window_start?.clamp(today, on)),
            until: day(on),
            work: work_left(analysis, exam),
        })
    };
    let windows: Vec<Window> = (0..).zip(&ahead).filter_map(window).collect();
    let minutes = |on| study::Minutes(times.on(date(on)));
    for collision in collisions(&windows, minutes) {
        let exams: Vec<&Exam<'_>> = collision
            .exams
            .iter()
            .filter_map(|id| ahead.get(id.0 as usize))
            .collect();
        for exam in &exams {
            let message = message(analysis, exam, &exams, &collision);
            let mark = TOO_MUCH_WORK.mark(&exam.at.id(), Part::Header, message);
            let others = exams.iter().filter(|other| other.at.id() != exam.at.id());
            marks.push(others.fold(mark, |mark, other| {
                mark.related(&other.at.id(), Part::Header, "the other exam")
            }));
        }
    }
}

fn message(
    analysis: &Analysis,
    exam: &Exam<'_>,
    exams: &[&Exam<'_>],
    collision: &Collision,
) -> String {
    let others: Vec<String> = exams
        .iter()
        .filter(|other| other.at.id() != exam.at.id())
        .map(|other| named_exam(&other.name(), &course_title(analysis, &other.course)))
        .collect();
    let with = match others.is_empty() {
        true => "This exam asks".to_owned(),
        false => format!("This exam and {} ask", others.join(", ")),
    };
    let span = |minutes: u64| Minutes(u32::try_from(minutes).unwrap_or(u32::MAX));
    let days = collision.until.since(collision.from);
    format!(
        "{with} for about {} of work in the {} before {}, which hold {} of study time.",
        span(collision.needed),
        words::count(usize::try_from(days).unwrap_or_default(), "day"),
        date(collision.until),
        span(collision.available),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn more_work_than_minutes_is_marked_on_each_exam() {
        check(
            &TOO_MUCH_WORK,
            "
=== a.porism
@course Algebra
  minutes: 30 min

@exam Midterm
^^^^^^^^^^^^^ information: This exam and Midterm of Waves ask for about 6 h 40 min of work in the 6 days before 2027-02-21, which hold 6 h of study time. [b.porism \"@exam Midterm\": the other exam]
  on: 2027-02-21
  length: 60 min

@topic 1 Sets

@problem 1
  pattern: union
  Decide.
=== b.porism
@course Waves
  minutes: 30 min

@exam Midterm
^^^^^^^^^^^^^ information: This exam and Midterm of Algebra ask for about 6 h 40 min of work in the 6 days before 2027-02-21, which hold 6 h of study time. [a.porism \"@exam Midterm\": the other exam]
  on: 2027-02-20
  length: 60 min

@topic 1 Waves

@problem 1
  pattern: standing
  Decide.
",
        );
    }

    #[test]
    fn enough_minutes_and_assumed_ones_are_not() {
        let notes = "@course Algebra\n  minutes: 60 min\n\n@exam Midterm\n  on: 2027-02-21\n\n\
                     @topic 1 Sets\n\n@problem 1\n  pattern: union\n  Decide.\n";
        check(&TOO_MUCH_WORK, notes);
        check(
            &TOO_MUCH_WORK,
            &notes
                .replace("  minutes: 60 min\n", "")
                .replace("02-21", "02-16"),
        );
    }
}
