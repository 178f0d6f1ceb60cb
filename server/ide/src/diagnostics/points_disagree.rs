use notes::value::Value;
use notes::{Key, Located, NameKey};

use super::Severity;
use super::check::check;
use super::mark::Mark;
use super::scope::CourseScope;
use crate::exams::Exam;
use crate::words;

check! {
    /// What an exam's topics count for does not agree with what it covers.
    ///
    /// Points of a topic that is not covered are lost, and a covered topic without points is never
    /// asked: readiness, plan and mock tests follow the points.
    ///
    /// ```porism
    /// @topic 1.1 Lines
    ///
    /// @topic 2.1 Waves
    ///
    /// @exam First midterm
    ///   on: 2027-03-12
    ///   covers: 1.1
    ///   points: 1.1 40, 2.1 60
    /// ```
    ///
    /// Give each covered topic its points, or leave out `covers:`; the topics with points are then
    /// what is covered.
    POINTS_DISAGREE = "points-disagree", Warning | Information
}

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    let topics = scope.notebook().topics(scope.course);
    for exam in &scope.exams {
        let Some(field) = exam.at.block.field(Key::Points) else {
            continue;
        };
        let Value::TopicPoints(items) = &field.value else {
            continue;
        };
        let id = exam.at.id();
        for item in items {
            let holds =
                |(key, at): &&(NameKey, Located<'_>)| item.covered.what.holds(key, at.block);
            let mut held = topics.iter().filter(holds).peekable();
            // That nothing of this name is defined is said elsewhere.
            if item.points == 0 || held.peek().is_none() || held.any(|(key, _)| exam.covers(key)) {
                continue;
            }
            let message = format!(
                "The exam does not cover {}, so these points count for nothing.",
                words::cut(exam.at.text(item.covered.span).trim(), 40)
            );
            marks.push(POINTS_DISAGREE.mark(&id, item.covered.span, message));
        }
        let left_out = without_points(exam, &topics);
        if !left_out.is_empty() {
            let message = format!(
                "No points for {}, though the exam covers {}: nothing of it will be asked.",
                words::cut(&left_out.join(" and "), 80),
                if left_out.len() == 1 { "it" } else { "them" }
            );
            let mark = POINTS_DISAGREE.mark(&id, field.key_span, message);
            marks.push(mark.severity(Severity::Information));
        }
    }
}

/// The covered topics that count for nothing, though neither do they stand above others that do.
fn without_points(exam: &Exam<'_>, topics: &[(NameKey, Located<'_>)]) -> Vec<String> {
    let counts = |topic: &NameKey| exam.covers(topic) && !exam.is_without_points(topic);
    let is_above_others = |at: &Located<'_>| {
        at.block.label.as_ref().is_some_and(|label| {
            topics.iter().any(|(key, other)| {
                let other = other.block.label.as_ref();
                counts(key) && other.is_some_and(|other| label.holds(other) && label != other)
            })
        })
    };
    topics
        .iter()
        .filter(|(key, at)| exam.covers(key) && !counts(key) && !is_above_others(at))
        .map(|(_, at)| words::title(at))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn points_of_a_topic_that_is_not_covered_are_marked() {
        check(
            &POINTS_DISAGREE,
            "@topic 1.1 Lines

@topic 1.2 Planes

@topic 2 Waves

@exam First
  covers: 1.1 .. 1.2
  points: 1.1 40, 2 60
  ^^^^^^ information: No points for 1.2 Planes, though the exam covers it: nothing of it will be asked.
                  ^ warning: The exam does not cover 2, so these points count for nothing.
",
        );
    }

    #[test]
    fn points_that_agree_are_not() {
        check(
            &POINTS_DISAGREE,
            "@topic 1 Space

@topic 1.1 Lines

@topic 1.2 Planes

@topic 2 Waves

@exam First
  covers: 1
  points: 1.1 40, 1.2 60

@exam Second
  points: 1 30, Waves 70

@exam Third
  points: 7.7 30
",
        );
    }
}
