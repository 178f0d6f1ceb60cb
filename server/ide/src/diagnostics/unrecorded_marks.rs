use notes::Key;
use notes::value::Value;

use super::check::check;
use super::mark::{Mark, Part};
use crate::papers::Paper;

check! {
    /// Every question of a drawn paper has its mark, and the marks are not recorded.
    ///
    /// Until they are written back to the problems as tries, the paper counts for nothing: not for
    /// the estimates, not for the readiness, not for the next draw.
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
    let mut questions = paper.questions().peekable();
    if !is_drawn || paper.is_recorded() || questions.peek().is_none() {
        return;
    }
    let is_marked = |mark: Option<&notes::Field>| {
        mark.is_some_and(|field| matches!(field.value, Value::Mark(_)))
    };
    if questions.all(|question| is_marked(question.block.field(Key::Mark))) {
        let message = "Every question has its mark. Record them, so that they count.";
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
