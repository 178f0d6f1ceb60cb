//! Is this the same expression in another form?

use super::Verdict;
use super::answer::Answer;
use super::equivalence::{self, Equivalence};
use super::question::Question;

/// The verdict for an expression that is to be brought into another form or computed.
pub(super) fn judge(question: &Question, answer: &Answer) -> Verdict {
    let (Some(main), [given]) = (&question.problem.main, answer.formulas.as_slice()) else {
        return Verdict::cannot_tell("the answer is not one formula");
    };
    match equivalence::compare(main, given) {
        Equivalence::Equal => Verdict::Holds,
        Equivalence::Different(witness) => {
            Verdict::fails_at("it is not equal to what is given", witness)
        }
        Equivalence::Unknown(reason) => Verdict::cannot_tell(reason),
    }
}
