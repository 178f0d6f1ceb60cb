//! How good past estimates were: what was estimated of an exam on the day before it, as the tries
//! up to then tell it, against what was scored.

use chrono::NaiveDate;
use study::Fraction;
use study::calibration::{Calibration, Forecast, calibration};

use crate::exams::{Exam, all_exams};
use crate::readiness::{ExamReadiness, chance, on_day, score_in_words};
use crate::standing::fraction;
use crate::{Analysis, words};
use notes::Key;

/// The estimate for a past exam, and its result.
#[derive(Clone, Debug, PartialEq)]
pub struct PastEstimate {
    /// What was estimated on the day before the exam.
    pub estimated: ExamReadiness,
    /// What was scored, as a part of 1; extra credit counts as full marks.
    pub scored: f64,
}

/// The estimate for an exam that is past on a day and has its result; `None` for any other, and
/// where nothing could be told.
pub fn past_estimate(analysis: &Analysis, exam: &Exam<'_>, on: NaiveDate) -> Option<PastEstimate> {
    let result = exam.at.block.score(Key::Result)?;
    let date = exam.on.filter(|_| exam.is_past(on))?.date;
    Some(PastEstimate {
        estimated: on_day(analysis, exam, date.pred_opt()?).ok()?,
        scored: fraction(result).get(),
    })
}

impl PastEstimate {
    /// The estimate beside the result, in words.
    pub fn in_words(&self) -> String {
        let estimate = &self.estimated.estimate;
        let within = estimate.low - 1e-9 <= self.scored && self.scored <= estimate.high + 1e-9;
        let verdict = if within { "inside" } else { "outside" };
        format!(
            "the day before: {}, {} for {} or more; {} lies {verdict}",
            score_in_words(&self.estimated),
            chance(estimate),
            words::percent(estimate.target.get()),
            words::percent(self.scored)
        )
    }

    fn forecast(&self) -> Option<Forecast> {
        let estimate = &self.estimated.estimate;
        Some(Forecast {
            expected: Fraction::new(estimate.expected)?,
            low: Fraction::new(estimate.low)?,
            high: Fraction::new(estimate.high)?,
            chance: Fraction::new(estimate.chance)?,
            target: estimate.target,
            scored: Fraction::new(self.scored)?,
        })
    }
}

/// How the estimates of all exams fared that are past on a day and have their result; `None`
/// without any.
pub fn past_estimates(analysis: &Analysis, on: NaiveDate) -> Option<Calibration> {
    let exams = all_exams(analysis);
    let past = exams
        .iter()
        .filter_map(|exam| past_estimate(analysis, exam, on));
    let forecasts: Vec<Forecast> = past.filter_map(|past| past.forecast()).collect();
    calibration(&forecasts)
}

/// How past estimates fared, in words.
pub fn calibration_in_words(calibration: &Calibration) -> String {
    let exams = words::count(calibration.exams as usize, "exam");
    let bias = match (100.0 * calibration.bias).round() {
        0.0 => "neither too high nor too low on average".to_owned(),
        points if points > 0.0 => format!("{points} points of 100 too high on average"),
        points => format!("{} points of 100 too low on average", -points),
    };
    let mut said = format!(
        "Past estimates, {exams}: {bias}, off by {:.0}; {} of {} scores inside the interval",
        100.0 * calibration.mean_error,
        calibration.within,
        calibration.exams
    );
    if !calibration.enough_exams {
        said.push_str(" (fewer than five exams: too little to tell)");
    }
    said.push('.');
    said
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::{self, day};

    /// A course whose exam was on 2027-02-10, with this result, and tries around it.
    fn notes(result: &str) -> String {
        format!(
            "@course Logic\n@exam Midterm\n  on: 2027-02-10\n{result}\n@topic 1 Sets\n\n@problem 1\n  pattern: union\n  \
             Decide.\n  tried: 2027-02-08 closed right\n  tried: 2027-02-09 closed right\n  \
             tried: 2027-02-12 closed wrong\n"
        )
    }

    fn check(notes: &str, on: &str, expected: Option<&str>) {
        let fixture = fixture::notebook(notes);
        let exam = all_exams(fixture.analysis()).remove(0);
        let past = past_estimate(fixture.analysis(), &exam, day(on));
        assert_eq!(past.map(|past| past.in_words()).as_deref(), expected);
    }

    #[test]
    fn the_estimate_of_the_day_before_stands_beside_the_result() {
        check(
            &notes("  result: 7/10"),
            "2027-02-15",
            Some(
                "the day before: expected score 69%, between 25% and 100%, a 50% chance for 70% or \
                 more; 70% lies inside",
            ),
        );
        check(&notes(""), "2027-02-15", None);
        check(&notes("  result: 7/10"), "2027-02-10", None);
        // What was tried after the exam changes nothing.
        check(
            &notes("  result: 7/10").replace("12 closed wrong", "14 closed right"),
            "2027-02-15",
            Some(
                "the day before: expected score 69%, between 25% and 100%, a 50% chance for 70% or \
                 more; 70% lies inside",
            ),
        );
    }

    #[test]
    fn past_estimates_are_weighed_together() {
        let fixture = fixture::notebook(&notes("  result: 4/10"));
        let found = past_estimates(fixture.analysis(), day("2027-02-15")).expect("one exam");
        assert_eq!(
            calibration_in_words(&found),
            "Past estimates, 1 exam: 29 points of 100 too high on average, off by 29; 1 of 1 scores \
             inside the interval (fewer than five exams: too little to tell)."
        );
        assert_eq!(past_estimates(fixture.analysis(), day("2027-02-09")), None);
    }
}
