use std::collections::BTreeMap;

use notes::value::Value;
use notes::{Key, Located, NameKey, Span};

use super::Severity;
use super::check::check;
use super::mark::{Mark, Part};
use super::scope::{CourseScope, find_practised};
use crate::exams::Exam;
use crate::words;

check! {
    /// A topic is on an exam, and there is nothing to practise it with.
    ///
    /// No problem, theorem or definition belongs to it. No mock test can ask of it, and the
    /// readiness for the exam leaves it out.
    ///
    /// ```porism
    /// @exam Final
    ///   on: 2027-04-19
    ///   covers: 2
    ///
    /// @topic 2.4 Variation of parameters
    /// ```
    ///
    /// Mark a problem or two of the topic. The topic's own line is marked, gravely when revision for
    /// the exam has begun, and the exam's `covers:` shows a hint.
    NOTHING_TO_PRACTISE = "nothing-to-practise", Information | Warning | Hint
}

pub(super) fn check(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    let mut bare: BTreeMap<&NameKey, Option<Located<'_>>> = BTreeMap::new();
    let mut exams_of: BTreeMap<&NameKey, Vec<&Exam<'_>>> = BTreeMap::new();
    let coming = scope.exams.iter().filter(|exam| !exam.is_past(scope.today));
    for exam in coming {
        for key in &exam.topics {
            let topic = bare.entry(key).or_insert_with(|| bare_topic(scope, key));
            if topic.is_some() {
                exams_of.entry(key).or_default().push(exam);
            }
        }
    }
    for (key, exams) in &exams_of {
        let Some(Some(topic)) = bare.get(key) else {
            continue;
        };
        let is_open = exams.iter().any(|exam| exam.window_open(scope.today));
        let names: Vec<String> = exams.iter().map(|exam| exam.name()).collect();
        let message = format!(
            "This topic is on {}, and there is nothing to practise it with.",
            words::cut(&names.join(" and "), 80)
        );
        let mut mark = NOTHING_TO_PRACTISE.mark(&topic.id(), Part::Header, message);
        if is_open {
            mark = mark.severity(Severity::Warning);
        }
        for exam in exams {
            let part = covering_item(exam, key, topic).map_or(Part::Header, Part::Bytes);
            mark = mark.related(&exam.at.id(), part, "covered here");
        }
        marks.push(mark);
    }
    for exam in &scope.exams {
        let mut by_item: BTreeMap<Span, Vec<Located<'_>>> = BTreeMap::new();
        for key in &exam.topics {
            let is_coming = exams_of
                .get(key)
                .is_some_and(|of| of.iter().any(|e| e.at.id() == exam.at.id()));
            let Some(Some(topic)) = bare.get(key).filter(|_| is_coming) else {
                continue;
            };
            if let Some(span) = covering_item(exam, key, topic) {
                by_item.entry(span).or_default().push(*topic);
            }
        }
        for (span, topics) in by_item {
            let titles: Vec<String> = topics.iter().map(words::title).collect();
            let message = format!(
                "There is nothing to practise yet of {}.",
                words::cut(&titles.join(" and "), 80)
            );
            let mark = NOTHING_TO_PRACTISE.mark(&exam.at.id(), span, message);
            let mark = mark.severity(Severity::Hint);
            marks.push(topics.iter().fold(mark, |mark, topic| {
                mark.related(&topic.id(), Part::Header, "nothing belongs to it")
            }));
        }
    }
}

/// The topic's block, if nothing belongs to it, nor to a topic below it.
fn bare_topic<'a>(scope: &CourseScope<'a>, key: &NameKey) -> Option<Located<'a>> {
    let topic = scope.topic(key)?;
    if find_practised(scope.notebook(), scope.course, key, |_| true).is_some() {
        return None;
    }
    let label = topic.block.label.as_ref();
    let has_parts = label.is_some_and(|label| {
        scope
            .exams
            .iter()
            .flat_map(|exam| &exam.topics)
            .any(|other| {
                let other = notes::Label::read(other.as_str());
                other.is_some_and(|other| label.holds(&other) && *label != other)
            })
    });
    // The parts speak for themselves.
    (!has_parts).then_some(topic)
}

/// The item of `covers:` that takes a topic in.
fn covering_item(exam: &Exam<'_>, key: &NameKey, topic: &Located<'_>) -> Option<Span> {
    let Value::Coverage(items) = &exam.at.block.field(Key::Covers)?.value else {
        return None;
    };
    let item = items
        .iter()
        .find(|item| item.what.holds(key, topic.block))?;
    Some(item.span)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, check_on};

    #[test]
    fn a_bare_topic_on_an_exam_is_marked_on_both_sides() {
        let text = "
@exam Final
  on: 2027-04-19
  covers: 1 .. 2
          ^^^^^^ hint: There is nothing to practise yet of 2.4 Variation. [notes.porism \"@topic 2.4 Variation\": nothing belongs to it]

@topic 1 First part

@topic 1.1 Lines

@problem 1

@topic 2.4 Variation
^^^^^^^^^^^^^^^^^^^^ information: This topic is on Final, and there is nothing to practise it with. [notes.porism \"1 .. 2\": covered here]
  learned: no

@topic 3 Not on it
";
        check(&NOTHING_TO_PRACTISE, text);
        let open = text.replace("information: This", "warning: This");
        check_on("2027-04-15", &NOTHING_TO_PRACTISE, &open);
    }

    #[test]
    fn a_problem_of_a_pattern_of_the_topic_is_enough() {
        check(
            &NOTHING_TO_PRACTISE,
            "
@exam Final

@topic 1

@pattern p

@topic 2

@definition D

@paper P

@problem x
  pattern: p
",
        );
        check_on(
            "2027-04-20",
            &NOTHING_TO_PRACTISE,
            "@exam Final\n  on: 2027-04-19\n  covers: 1\n\n@topic 1\n",
        );
    }
}
