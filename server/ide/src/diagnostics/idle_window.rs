use std::collections::BTreeSet;

use notes::NameKey;

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::CourseScope;
use crate::standing::date;
use crate::words;

check! {
    /// Revision for an exam should have begun, and nothing it covers was tried since.
    ///
    /// The days before an exam were set aside for it, by its `start:` or the seven days that hold
    /// when it has none.
    ///
    /// ```porism
    /// @exam Midterm
    ///   on: 2027-02-18
    ///   covers: 1
    ///
    /// @topic 1 Lines
    ///
    /// @problem 1.1
    ///   pattern: distance to a line
    ///   Find the distance of $(1, 2)$ to $x + y = 0$.
    ///   tried: 2027-01-20 closed right 4 min
    /// ```
    ///
    /// Begin with one closed-notes problem today, or move `start:` to the day on which you mean to
    /// begin.
    IDLE_WINDOW = "idle-window", Warning
}

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    for exam in scope
        .exams
        .iter()
        .filter(|exam| exam.window_open(scope.today))
    {
        // On its first day nobody is late.
        let Some(start) = exam.window_start.filter(|start| *start < scope.today) else {
            continue;
        };
        let standing = scope.analysis.standings.course(scope.course, scope.today);
        let topics: BTreeSet<&NameKey> = exam.topics.iter().collect();
        let covered = standing
            .patterns()
            .filter(|(_, topic, _)| topics.contains(topic));
        let mut last = None;
        let mut is_any = false;
        for (_, _, mastery) in covered {
            is_any = true;
            last = last.max(mastery.last);
        }
        let is_idle = last.is_none_or(|last| date(last) < start);
        if is_any && is_idle {
            let message = format!(
                "Revision for this exam was to start on {start}, {}, and nothing it covers was \
                 tried since.",
                words::day_from(scope.today, start)
            );
            marks.push(IDLE_WINDOW.mark(&exam.at.id(), Part::Header, message));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn an_open_window_without_a_try_is_marked() {
        check(
            &IDLE_WINDOW,
            "
@exam Midterm
^^^^^^^^^^^^^ warning: Revision for this exam was to start on 2027-02-11, 4 days ago, and nothing it covers was tried since.
  on: 2027-02-18
  covers: 1

@topic 1 Lines

@problem 1
  tried: 2027-02-10 closed right

@topic 2 Planes

@problem 2
  tried: 2027-02-14 closed right
",
        );
    }

    #[test]
    fn a_try_in_the_window_its_first_day_and_an_exam_of_nothing_are_not_marked() {
        check(
            &IDLE_WINDOW,
            "
@topic 1 Lines

@problem 1
  tried: 2027-02-11 open wrong

@topic 2 Planes

@problem 2

@exam One
  on: 2027-02-18
  covers: 1

@exam Two
  on: 2027-02-22
  covers: 2

@exam Three
  on: 2027-02-18
  covers: 3
",
        );
    }
}
