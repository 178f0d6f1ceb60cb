use std::collections::BTreeSet;

use notes::value::NotesUse;
use notes::{BlockKind, Key, Located, NameKey};

use super::check::check;
use super::mark::{Mark, Part};
use super::scope::{CourseScope, find_practised, thing};

check! {
    /// Revision for an exam has begun, and a topic on it was never tried with notes closed.
    ///
    /// Work that looks easy with notes open may not be there without them. Until the first
    /// closed-notes try nobody can tell.
    ///
    /// ```porism
    /// @exam Midterm
    ///   on: 2027-02-20
    ///   covers: 2.2
    ///
    /// @topic 2.2 Cramer's rule
    ///
    /// @problem 2.2.1
    ///   pattern: Cramer's rule
    ///   Solve $\begin{cases} x + y = 3 \\ x - y = 1 \end{cases}$.
    ///   tried: 2027-02-11 open right 4 min
    /// ```
    ///
    /// Close the notes and try one problem of the topic. A quiz of the topic counts as well. For an
    /// open-notes exam nothing is said.
    NEVER_CLOSED = "never-closed", Warning
}

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    let mut seen: BTreeSet<&NameKey> = BTreeSet::new();
    for exam in &scope.exams {
        if !exam.closed_notes || !exam.window_open(scope.today) {
            continue;
        }
        for key in &exam.topics {
            if !seen.insert(key) || !is_only_tried_open(scope, key) {
                continue;
            }
            let Some(topic) = scope.topic(key) else {
                continue;
            };
            let message = format!(
                "{} is near, and nothing of this topic was ever tried with notes closed.",
                exam.name()
            );
            let mark = NEVER_CLOSED.mark(&topic.id(), Part::Header, message);
            marks.push(mark.related(&exam.at.id(), Part::Header, "the exam"));
        }
    }
}

/// Whether there is something to practise of a topic, and no closed-notes evidence of it.
fn is_only_tried_open(scope: &CourseScope<'_>, key: &NameKey) -> bool {
    let notebook = scope.notebook();
    let closed = |at: &Located<'_>| {
        at.block
            .attempts()
            .any(|attempt| attempt.notes == NotesUse::Closed)
    };
    let topic = thing(scope.course, BlockKind::Topic, key);
    let mut topics = notebook.definitions(&topic);
    find_practised(notebook, scope.course, key, |_| true).is_some()
        && find_practised(notebook, scope.course, key, closed).is_none()
        && !topics.any(|topic| topic.block.fields_of(Key::Quiz).next().is_some())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, check_on};

    const NOTES: &str = "
@exam Midterm
  on: 2027-02-22
  covers: 1, 2

@topic 1 Lines
^^^^^^^^^^^^^^ warning: Midterm is near, and nothing of this topic was ever tried with notes closed. [notes.porism \"@exam Midterm\": the exam]

@problem 1
  tried: 2027-02-11 open right

@topic 2 Planes

@problem 2
  tried: 2027-02-11 closed wrong

@topic 3 Spheres

@problem 3
";

    #[test]
    fn a_topic_tried_with_open_notes_only_is_marked_once_the_window_is_open() {
        check(&NEVER_CLOSED, NOTES);
        let lines = NOTES.lines().filter(|line| !line.starts_with('^'));
        let silent: String = lines.map(|line| format!("{line}\n")).collect();
        check_on("2027-02-14", &NEVER_CLOSED, &silent);
        let open = silent.replace("  covers", "  notes: open\n  covers");
        check(&NEVER_CLOSED, &open);
        let quiz = silent.replace(
            "@topic 1 Lines\n",
            "@topic 1 Lines\n  quiz: 2027-02-03 4/10\n",
        );
        check(&NEVER_CLOSED, &quiz);
    }
}
