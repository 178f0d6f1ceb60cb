use notes::Key;

use super::check::check;
use super::mark::Mark;
use super::scope::CourseScope;
use crate::zone::{course_zone, instant};

check! {
    /// An exam is at a time that does not exist in the course's zone.
    ///
    /// Where clocks are put forward, an hour of that night is skipped.
    ///
    /// ```porism
    /// @course Waves
    ///   zone: Europe/Berlin
    ///
    /// @exam Midterm
    ///   on: 2027-03-28 02:30
    ///   covers: 1
    /// ```
    ///
    /// Correct the date, the time or the zone.
    SKIPPED_HOUR = "skipped-hour", Warning
}

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    let Some((name, Some(zone))) = course_zone(scope.analysis, scope.course) else {
        return;
    };
    for exam in &scope.exams {
        let Some((on, time)) = exam.on.and_then(|on| Some((on, on.time?))) else {
            continue;
        };
        let Some(field) = exam.at.block.field(Key::On) else {
            continue;
        };
        if instant(zone, on.date.and_time(time)).is_none() {
            let message = format!("There is no {on} in {name}: the clocks skip that hour.");
            marks.push(SKIPPED_HOUR.mark(&exam.at.id(), field.value_span, message));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_skipped_hour_is_marked() {
        check(
            &SKIPPED_HOUR,
            "@course Waves
  zone: Europe/Berlin

@exam Midterm
  on: 2027-03-28 02:30
      ^^^^^^^^^^^^^^^^ warning: There is no 2027-03-28 02:30 in Europe/Berlin: the clocks skip that hour.
",
        );
    }

    #[test]
    fn the_hours_beside_it_are_not() {
        let notes =
            "@course Waves\n  zone: Europe/Berlin\n\n@exam Midterm\n  on: 2027-03-28 03:00\n";
        check(&SKIPPED_HOUR, notes);
        check(&SKIPPED_HOUR, &notes.replace("03:00", "01:59"));
        check(&SKIPPED_HOUR, &notes.replace("  zone: Europe/Berlin\n", ""));
    }
}
