//! On which days to sit mock tests: those that the way to each exam still takes, on distinct days.

use std::collections::BTreeMap;

use chrono::{Days, NaiveDate};
use notes::Key;
use notes::value::NotesUse;

use super::{PlannedMock, named_exam};
use crate::commands::course_title;
use crate::exams::Exam;
use crate::next_step::Prepared;
use crate::{Analysis, words};

/// Minutes of a mock test for an exam that does not say how long it is.
const MOCK_MINUTES: u32 = 60;

/// Mock tests take up to one part in so many of the study time before an exam, or one test (common
/// practice, no published source): the rest fills the holes that they show.
const MOST_OF_THE_TIME: u32 = 2;

/// The mock tests for all exams, nearest first, and what could not be placed. `minutes` is the
/// study time of each day from today on.
pub(super) fn place_mocks(
    analysis: &Analysis,
    today: NaiveDate,
    exams: &[Exam<'_>],
    minutes: &[u32],
) -> (BTreeMap<NaiveDate, PlannedMock>, Vec<String>) {
    let mut placed = BTreeMap::new();
    let mut remarks = Vec::new();
    for exam in exams {
        let prepared = Prepared::of(analysis, exam);
        let wanted = mocks(analysis, exam, &prepared);
        let days = days_before(today, exam);
        // Whether a whole paper fits into the study time of some day of the window.
        let fits = |mock: &PlannedMock, date: &NaiveDate| {
            study_time(today, *date, minutes) >= mock.minutes
        };
        let Some(longest) = wanted.iter().max_by_key(|mock| mock.minutes) else {
            continue;
        };
        let free: Vec<NaiveDate> = days
            .iter()
            .filter(|date| !placed.contains_key(*date) && study_time(today, **date, minutes) > 0)
            .copied()
            .collect();
        let mut roomy: Vec<NaiveDate> = free.iter().filter(|d| fits(longest, d)).copied().collect();
        if roomy.is_empty() && !free.is_empty() {
            // A whole paper in one sitting is the point of it: it takes longer on that day.
            let most = free.iter().map(|d| study_time(today, *d, minutes)).max();
            roomy = free
                .iter()
                .filter(|d| Some(study_time(today, **d, minutes)) == most)
                .copied()
                .collect();
            remarks.push(format!(
                "A mock test for {} takes {} min, longer than the study time of any day before it.",
                named_exam(&exam.name(), &course_title(analysis, &exam.course)),
                longest.minutes
            ));
        }
        let whole: u32 = days.iter().map(|d| study_time(today, *d, minutes)).sum();
        let affordable = (whole / MOST_OF_THE_TIME / longest.minutes.max(1)).max(1);
        let count = wanted.len().min(roomy.len()).min(affordable as usize);
        if count < wanted.len() && whole > 0 {
            remarks.push(format!(
                "Only {} of {} mock tests for {} fit on days of their own and into half of the \
                 study time before it.",
                count,
                wanted.len(),
                named_exam(&exam.name(), &course_title(analysis, &exam.course))
            ));
        }
        // The last ones are kept: a paper with notes closed shows more than one with notes open.
        let kept = wanted.into_iter().rev().take(count).rev();
        for (place, mut mock) in kept.enumerate() {
            mock.number = prepared.papers_sat() + place + 1;
            // Evenly over the days there are, with room before the exam for what the last shows.
            let at = (2 * place + 1) * roomy.len() / (2 * count);
            placed.insert(roomy[at], mock);
        }
    }
    (placed, remarks)
}

/// The days of an exam's window from today on, the exam's own left out.
fn days_before(today: NaiveDate, exam: &Exam<'_>) -> Vec<NaiveDate> {
    let Some(on) = exam.on else {
        return Vec::new();
    };
    let start = exam.window_start.unwrap_or(on.date).max(today);
    let count = on.date.signed_duration_since(start).num_days().max(0);
    let dates = (0..count.unsigned_abs()).map_while(|n| start.checked_add_days(Days::new(n)));
    dates.take(study::plan::MOST_DAYS).collect()
}

fn study_time(today: NaiveDate, date: NaiveDate, minutes: &[u32]) -> u32 {
    let offset = date.signed_duration_since(today).num_days();
    let at = usize::try_from(offset).ok();
    at.and_then(|at| minutes.get(at))
        .copied()
        .unwrap_or_default()
}

/// The mock tests that the way to an exam still takes, in order.
fn mocks(analysis: &Analysis, exam: &Exam<'_>, prepared: &Prepared<'_>) -> Vec<PlannedMock> {
    let length = exam.at.block.duration(Key::Length);
    let of_exam = length.map_or(MOCK_MINUTES, |minutes| minutes.0);
    let papers = prepared.papers_left().into_iter().enumerate();
    let mock = |(i, notes): (usize, NotesUse)| {
        let instructor = prepared.instructor().filter(|_| i == 0);
        let own = instructor.and_then(|paper| paper.at.block.duration(Key::Length));
        PlannedMock {
            exam: exam.name(),
            course: course_title(analysis, &exam.course),
            instructor: instructor.map(|paper| words::title(&paper.at)),
            notes,
            minutes: own.map_or(of_exam, |minutes| minutes.0),
            number: i + 1,
        }
    };
    papers.map(mock).collect()
}

/// The minutes of the mock tests that the way to an exam still takes.
pub(super) fn minutes_of_mocks(analysis: &Analysis, exam: &Exam<'_>) -> u32 {
    let mocks = mocks(analysis, exam, &Prepared::of(analysis, exam));
    let minutes = mocks.iter().map(|mock| mock.minutes);
    minutes.fold(0, u32::saturating_add)
}
