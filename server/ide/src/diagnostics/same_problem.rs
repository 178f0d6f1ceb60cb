use std::collections::BTreeMap;

use notes::{Located, Notebook, ShapeKey};

use super::Severity;
use super::check::check;
use super::mark::{Mark, Part};
use super::same_text::SAME_TEXT;

check! {
    /// A problem is an earlier one of the course with other numbers.
    ///
    /// Numbers and letters are seen through: what is left is the same task. Practice on it is
    /// practice of the same thing, and when the earlier one was done right with notes closed the
    /// later one can be skipped (it is then shown faded).
    ///
    /// ```porism
    /// @problem 2.1
    ///   pattern: characteristic equation
    ///   Solve $y'' + 5y' + 6y = 0$.
    ///   tried: 2027-02-10 closed right 4 min
    ///
    /// @problem 2.2
    ///   pattern: characteristic equation
    ///   Solve $y'' + 7y' + 12y = 0$.
    /// ```
    ///
    /// Nothing has to be done. Take the time for a problem that is another one. The comparison is of
    /// the formulas; whether the numbers make it harder is for you to see.
    SAME_PROBLEM = "same-problem", Information | Hint
}

/// Marks the problems of one shape that repeat an earlier one, in reading order.
pub(super) fn check(notebook: &Notebook, key: &ShapeKey, marks: &mut Vec<Mark>) {
    let mut done: Option<Located<'_>> = None;
    let mut first: Option<Located<'_>> = None;
    let mut by_text: BTreeMap<String, Located<'_>> = BTreeMap::new();
    for at in notebook.same_shape(key) {
        let text = at
            .statement()
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let is_done = at.block.done_right_closed();
        if let Some(earlier) = done.or(first) {
            let mark = match by_text.get(&text) {
                Some(twin) => SAME_TEXT.mark(
                    &at.id(),
                    Part::Header,
                    format!("This says the same as {}, word for word.", name(twin)),
                ),
                None => {
                    let skip = match done.is_some() && !is_done {
                        true => {
                            ", and you did that one right with notes closed: skip this one when \
                             time is short"
                        }
                        false => "",
                    };
                    let message = format!("This is {} with other numbers{skip}.", name(&earlier));
                    SAME_PROBLEM.mark(&at.id(), Part::Header, message)
                }
            };
            let earlier = by_text.get(&text).copied().unwrap_or(earlier);
            let mark = mark.related(&earlier.id(), Part::Header, "the earlier one");
            marks.push(match (done.is_some(), is_done) {
                (_, true) => mark.severity(Severity::Hint),
                (true, false) => mark.severity(Severity::Hint).unnecessary(),
                (false, false) => mark,
            });
        }
        if is_done && done.is_none() {
            done = Some(at);
        }
        first = first.or(Some(at));
        by_text.entry(text).or_insert(at);
    }
}

fn name(at: &Located<'_>) -> String {
    match at.block.title.is_empty() {
        true => "an earlier problem".to_owned(),
        false => crate::words::cut(&crate::words::title(at), 40),
    }
}
