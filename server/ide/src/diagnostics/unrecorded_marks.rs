use notes::value::Value;
use notes::{Key, Located};

use super::check::check;
use super::mark::{Mark, Part};
use crate::marked_at_once::{answered, marks_at_once};
use crate::papers::{Paper, PaperUse};

check! {
    /// Every question of a drawn paper has its mark or can be marked by its answer, and the marks are
    /// not recorded.
    ///
    /// Until they are written back to the problems, the paper counts for nothing: not for the
    /// estimates, not for the readiness, not for the next draw. A spotting round is full when every
    /// question says a kind.
    ///
    /// ```porism
    /// @paper Mock test 1
    ///   drawn: 2027-02-13
    ///
    /// @question 1
    ///   Solve $y' = y^2 \cos x$.
    ///   mark: right
    /// ```
    ///
    /// Record the paper. The tries are written in one edit that can be undone.
    UNRECORDED_MARKS = "unrecorded-marks", Hint
}

pub(super) fn check(paper: &Paper<'_>, marks: &mut Vec<Mark>) {
    let is_drawn = paper.at.block.field(Key::Drawn).is_some();
    let questions: Vec<_> = paper.questions().collect();
    if !is_drawn || paper.is_recorded() || questions.is_empty() {
        return;
    }
    let mut questions = questions.into_iter();
    let is_marked = |question: &Located<'_>| {
        let mark = question.block.field(Key::Mark);
        mark.is_some_and(|field| matches!(field.value, Value::Mark(_)))
    };
    let message = if paper.purpose() == PaperUse::Spotting {
        let is_full = questions.all(|question| answered(question).is_some());
        is_full.then_some("Every question says a kind. Record the round, so that it counts.")
    } else if questions.clone().all(is_marked) {
        Some("Every question has its mark. Record them, so that they count.")
    } else {
        let is_done = |question: &Located<'_>| is_marked(question) || answered(question).is_some();
        let is_over = marks_at_once(paper);
        (is_over && questions.all(is_done))
            .then_some("Every question has a mark or an answer. Record them, so that they count.")
    };
    if let Some(message) = message {
        marks.push(UNRECORDED_MARKS.mark(&paper.at.id(), Part::Header, message));
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_marked_paper_is_to_be_recorded() {
        check(
            &UNRECORDED_MARKS,
            "
@paper Mock test
^^^^^^^^^^^^^^^^ hint: Every question has its mark. Record them, so that they count.
  drawn: 2027-02-13

@question 1
  mark: right

@question 2
  mark: 3/4
",
        );
    }

    #[test]
    fn a_full_sheet_is_to_be_recorded() {
        check(
            &UNRECORDED_MARKS,
            "
@paper Drill
^^^^^^^^^^^^ hint: Every question has a mark or an answer. Record them, so that they count.
  drawn: 2027-02-13

@question 1
  mine: $x = 2$
  mark:

@question 2
  mark: 3/4

@paper Round
^^^^^^^^^^^^ hint: Every question says a kind. Record the round, so that it counts.
  drawn: 2027-02-13

@question 1
  pattern: linear

@paper Still being sat
  for: Midterm
  drawn: 2027-02-13
  started: 2027-02-13 10:00
  finished:

@question 1
  mine: $x = 2$
  mark:

@paper Not full
  drawn: 2027-02-13

@question 1
  pattern: linear

@question 2
  pattern:
",
        );
    }

    #[test]
    fn a_paper_half_marked_recorded_or_handed_out_is_not_marked() {
        check(
            &UNRECORDED_MARKS,
            "
@paper Half
  drawn: 2027-02-13

@question 1
  mark: right

@question 2
  mark:

@paper Done
  drawn: 2027-02-13
  recorded: 2027-02-14

@question 1
  mark: right

@paper Review sheet
  by: instructor

@problem 1

@paper Empty
  drawn: 2027-02-13
",
        );
    }
}
