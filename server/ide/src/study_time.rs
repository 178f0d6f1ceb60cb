//! The study time of each day, as the courses' `minutes:` and `off:` say.

use chrono::NaiveDate;
use notes::value::{Days, StudyTime, Value};
use notes::{BlockKind, Key, NameKey, NamedThing};

use crate::Analysis;

/// Minutes a day that are assumed where no course says (common practice, no published source).
pub const DEFAULT_MINUTES: u32 = 60;

/// The study time of each day: the sum over some courses.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct StudyTimes {
    /// What each course that says it brings to a day, and its days off.
    courses: Vec<(StudyTime, Vec<Days>)>,
    /// The days off of courses that do not say their minutes.
    others_off: Vec<Days>,
}

impl StudyTimes {
    /// The study time that these courses have together.
    pub fn of<'a>(analysis: &Analysis, courses: impl IntoIterator<Item = &'a NameKey>) -> Self {
        let mut times = Self::default();
        for course in courses {
            let thing = NamedThing {
                course: NameKey::default(),
                kind: BlockKind::Course,
                name: course.clone(),
            };
            let mut minutes = None;
            let mut off = Vec::new();
            for at in analysis.notebook.definitions(&thing) {
                if let (None, Some(field)) = (&minutes, at.block.field(Key::Minutes))
                    && let Value::StudyTime(time) = &field.value
                {
                    minutes = Some(time.clone());
                }
                for field in at.block.fields_of(Key::Off) {
                    if let Value::DaysOff(days) = &field.value {
                        off.extend(days);
                    }
                }
            }
            match minutes {
                Some(minutes) => times.courses.push((minutes, off)),
                None => times.others_off.extend(off),
            }
        }
        times
    }

    /// Whether no course says, so that [`DEFAULT_MINUTES`] are assumed.
    pub fn is_assumed(&self) -> bool {
        self.courses.is_empty()
    }

    /// The minutes of a day, at most those of a whole day.
    pub fn on(&self, day: NaiveDate) -> u32 {
        let is_off = |off: &[Days]| off.iter().any(|days| days.holds(day));
        if self.is_assumed() {
            return if is_off(&self.others_off) {
                0
            } else {
                DEFAULT_MINUTES
            };
        }
        let open = self.courses.iter().filter(|(_, off)| !is_off(off));
        let minutes: u64 = open.map(|(time, _)| u64::from(time.on(day).0)).sum();
        u32::try_from(minutes).unwrap_or(u32::MAX).min(24 * 60)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{self, day};

    /// The minutes of Monday, Saturday and Sunday of one week, over all courses.
    fn check(notes: &str, expected: [u32; 3]) {
        let fixture = fixture::notebook(notes);
        let courses = fixture.analysis().notebook.courses();
        let times = StudyTimes::of(fixture.analysis(), &courses);
        let days = ["2027-02-15", "2027-02-20", "2027-02-21"];
        assert_eq!(days.map(|date| times.on(day(date))), expected, "{notes}");
    }

    #[test]
    fn the_courses_add_up() {
        let waves = "=== a.porism\n@course Waves\n  minutes: 45 min, sat 2 h\n  off: sun\n";
        check(waves, [45, 120, 0]);
        let both =
            format!("{waves}=== b.porism\n@course Logic\n  minutes: 30\n  off: 2027-02-20\n");
        check(&both, [75, 120, 30]);
        let silent = format!("{waves}=== b.porism\n@course Logic\n  off: 2027-02-15\n");
        check(&silent, [45, 120, 0]);
    }

    #[test]
    fn an_hour_is_assumed_where_nobody_says() {
        check("@course Waves\n", [60, 60, 60]);
        check("@course Waves\n  off: sat .. sun\n", [60, 0, 0]);
        check("@course Waves\n  minutes: 0\n", [0, 0, 0]);
        check("@course Waves\n  minutes: 99999 min\n", [1440, 1440, 1440]);
    }

    #[test]
    fn a_course_may_be_said_in_two_places() {
        check(
            "=== a.porism\n@course Waves\n  off: sat\n=== b.porism\n@course Waves\n  minutes: 20\n  off: sun\n",
            [20, 0, 0],
        );
    }
}
