//! Is this the right answer about matrices and vectors?

use super::Verdict;
use super::answer::Answer;
use super::question::Question;

/// The verdict for a problem about matrices and vectors.
pub(super) fn judge(_question: &Question, _answer: &Answer) -> Verdict {
    Verdict::cannot_tell("problems of this kind are not checked")
}
