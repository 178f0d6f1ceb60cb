use std::collections::{BTreeMap, BTreeSet};

use notes::name::nearest;
use notes::value::{Coverage, Value};
use notes::{
    Block, BlockKind, Delta, Key, Label, Located, NameKey, NamedThing, Notebook, Span, UnitId,
};

use super::Severity;
use super::check::check;
use super::mark::{Change, Mark};
use super::scope::{CourseScope, UnitScope, thing};
use super::watch::Watch;

check! {
    /// A name is mentioned that no block of the course defines.
    ///
    /// A pattern, topic, exam or course is known by its name, so a slip makes a second one: the
    /// tries of a problem count for a pattern that nobody else has, an exam loses a topic.
    ///
    /// ```porism
    /// @pattern integrating factor
    ///   cue: linear and of first order
    ///
    /// @problem 1.4.7
    ///   pattern: integrating facter
    ///   Solve $y' + 3y = x$.
    /// ```
    ///
    /// Correct the name, or define it in a block of its own. Case and spacing make no difference.
    /// Where no name is near, or the name may still be on the way to one, the finding is for
    /// information only.
    UNKNOWN_NAME = "unknown-name", Warning | Information
}

/// A defined name that is near to a mentioned one.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Suggestion {
    key: NameKey,
    /// What to write for it.
    text: String,
}

/// The mentioned names that nothing defines, and who asked for what, so that a definition that
/// comes or goes brings just the units it concerns.
#[derive(Debug, Default)]
pub(super) struct Names {
    undefined: BTreeMap<NamedThing, Option<Suggestion>>,
    /// Names that units asked for apart from the ones the index says they mention.
    asked: Watch<NamedThing>,
}

impl Names {
    /// Takes in what an edit changed; gives the units that mention a name of which something else
    /// is to be said now.
    pub(super) fn touched(&mut self, notebook: &Notebook, delta: &Delta) -> BTreeSet<UnitId> {
        let mut again: BTreeSet<UnitId> = BTreeSet::new();
        let mentions = |thing: &NamedThing| -> Vec<UnitId> {
            notebook
                .references(thing)
                .map(|site| site.unit.clone())
                .collect()
        };
        let mut groups: BTreeSet<(NameKey, BlockKind)> = BTreeSet::new();
        for thing in &delta.defined {
            groups.insert((thing.course.clone(), thing.kind));
            if is_defined(notebook, thing) {
                if self.undefined.remove(thing).is_some() {
                    again.extend(mentions(thing));
                }
            } else if !self.undefined.contains_key(thing) {
                again.extend(mentions(thing));
            }
            again.extend(self.asked.askers(thing).cloned());
        }
        for thing in &delta.used {
            if notebook.references(thing).next().is_none() {
                self.undefined.remove(thing);
            }
        }
        if !self.undefined.is_empty() {
            for at in delta.units.iter().filter_map(|id| notebook.block(id)) {
                groups.extend(self.suggested_group(notebook, &at));
            }
        }
        for (course, kind) in groups {
            let first = thing(&course, kind, &NameKey::default());
            let same = |thing: &NamedThing| thing.course == first.course && thing.kind == kind;
            let in_group = self.undefined.range_mut(first.clone()..);
            for (thing, old) in in_group.take_while(|(thing, _)| same(thing)) {
                let new = suggestion(notebook, thing);
                if *old != new {
                    *old = new;
                    again.extend(mentions(thing));
                }
            }
        }
        again
    }

    /// The names among which the block's is suggested for some undefined one: what is suggested
    /// may be written otherwise now.
    fn suggested_group(
        &self,
        notebook: &Notebook,
        at: &Located<'_>,
    ) -> Option<(NameKey, BlockKind)> {
        let kind = at.block.kind?;
        let first = thing(
            &notebook.course_of(at.path, at.entry),
            kind,
            &NameKey::default(),
        );
        let mut undefined = self.undefined.range(first.clone()..);
        let topic = notebook.topic_key(at).filter(|_| kind == BlockKind::Topic);
        let own = [
            Some(&at.block.name),
            Some(&at.block.bare_name),
            topic.as_ref(),
        ];
        let is_own = |key: &NameKey| own.into_iter().flatten().any(|name| name == key);
        undefined
            .by_ref()
            .take_while(|(thing, _)| thing.course == first.course && thing.kind == kind)
            .any(|(_, suggestion)| suggestion.as_ref().is_some_and(|s| is_own(&s.key)))
            .then_some((first.course, kind))
    }

    /// Forgets what a unit asked for.
    pub(super) fn forget(&mut self, unit: &UnitId) {
        self.asked.set(unit, []);
    }

    fn suggestion(&mut self, notebook: &Notebook, thing: &NamedThing) -> Option<Suggestion> {
        let known = self.undefined.entry(thing.clone());
        known.or_insert_with(|| suggestion(notebook, thing)).clone()
    }
}

fn is_defined(notebook: &Notebook, thing: &NamedThing) -> bool {
    notebook.definitions(thing).next().is_some()
}

/// The defined name nearest to an undefined one. A label is near to every other, so none is
/// suggested for it.
fn suggestion(notebook: &Notebook, undefined: &NamedThing) -> Option<Suggestion> {
    if Label::read(undefined.name.as_str()).is_some() {
        return None;
    }
    let names = notebook
        .names(&undefined.course, undefined.kind)
        .map(NameKey::as_str);
    let names = names.filter(|name| Label::read(name).is_none());
    let key = NameKey::new(nearest(undefined.name.as_str(), names)?);
    let at = notebook.definition(&thing(&undefined.course, undefined.kind, &key))?;
    let text = match &at.block.label {
        Some(label) => label.to_string(),
        None => at.title(),
    };
    // A list of names is cut at its commas.
    (!text.contains(',')).then_some(Suggestion { key, text })
}

pub(super) fn check(unit: &UnitScope<'_>, names: &mut Names, marks: &mut Vec<Mark>) {
    // The index does not file what a block of an unknown kind mentions.
    let Some((_, at)) = unit.known() else {
        names.forget(unit.id);
        return;
    };
    let block = at.block;
    let notebook = unit.notebook();
    let mut asked = Vec::new();
    for field in &block.fields {
        let Value::Names(kind, mentioned) = &field.value else {
            continue;
        };
        // Where a question comes from is looked up in more than one way.
        if *kind == BlockKind::Problem {
            continue;
        }
        let mut undefined = Vec::new();
        for named in mentioned {
            let own = thing(&unit.course, *kind, &named.key);
            if is_defined(notebook, &own) {
                continue;
            }
            // "1.4 Linear equations" is found by its label whatever stands behind it.
            let label = Label::split(named.key.as_str())
                .0
                .map(|label| label.to_string());
            if let (BlockKind::Topic, Some(label)) = (*kind, label) {
                let by_label = thing(&unit.course, *kind, &NameKey::new(&label));
                let is_defined = is_defined(notebook, &by_label);
                asked.push(by_label);
                if is_defined {
                    continue;
                }
            }
            undefined.push((own, named.span));
        }
        // A title may hold a comma, at which a list of names is cut.
        if mentioned.len() > 1 && !undefined.is_empty() {
            let whole = NameKey::new(&unit.text(field.value_span));
            let whole = thing(&unit.course, *kind, &whole);
            let is_defined = is_defined(notebook, &whole);
            asked.push(whole);
            if is_defined {
                continue;
            }
        }
        for (thing, span) in undefined {
            let suggestion = names.suggestion(notebook, &thing);
            let typed = one_line(&unit.text(span));
            let mark = unit.mark(&UNKNOWN_NAME, span, message(&thing, &typed, &suggestion));
            let mark = with_suggestion(mark, &thing, span, suggestion);
            marks.push(with_definition(mark, unit, block, *kind, &typed));
        }
    }
    names.asked.set(unit.id, asked);
}

fn message(thing: &NamedThing, typed: &str, suggestion: &Option<Suggestion>) -> String {
    let place = if thing.course.is_empty() {
        ""
    } else {
        " in this course"
    };
    let typed = crate::words::cut(typed, 60);
    let none = format!("No @{} is called `{typed}`{place}", thing.kind.word());
    match suggestion {
        Some(suggestion) => format!("{none}. Do you mean `{}`?", suggestion.text),
        None => format!("{none} yet."),
    }
}

/// A near name makes the finding grave, unless the name is on the way to it.
fn with_suggestion(
    mark: Mark,
    thing: &NamedThing,
    span: Span,
    suggestion: Option<Suggestion>,
) -> Mark {
    let Some(Suggestion { key, text }) = suggestion else {
        return mark.severity(Severity::Information);
    };
    let on_the_way = key.as_str().starts_with(thing.name.as_str());
    let mark = match on_the_way {
        true => mark.severity(Severity::Information),
        false => mark,
    };
    mark.fix(format!("Write `{text}`"), vec![Change::Replace(span, text)])
}

/// Adds the way out of defining what is mentioned.
fn with_definition(
    mark: Mark,
    unit: &UnitScope<'_>,
    block: &Block,
    kind: BlockKind,
    typed: &str,
) -> Mark {
    let title = format!("Define `@{} {typed}`", kind.word());
    match kind {
        // A pattern belongs to the topic above it; a problem may belong to another.
        BlockKind::Pattern if block.kind != Some(BlockKind::Question) => {
            let topic = block
                .field(Key::Topic)
                .map(|field| one_line(&unit.text(field.value_span)));
            let topic = topic.filter(|topic| !topic.is_empty());
            let topic = topic.map_or(String::new(), |topic| format!("  topic: {topic}\n"));
            let text = format!("@pattern {typed}\n{topic}\n");
            let before = Span::at(block.header.start as usize);
            mark.fix(title, vec![Change::Replace(before, text)])
        }
        // A topic sets the context of what follows it, so it goes behind everything.
        BlockKind::Topic | BlockKind::Exam => {
            let text = format!("@{} {typed}\n", kind.word());
            mark.fix(title, vec![Change::Append(text)])
        }
        _ => mark,
    }
}

fn one_line(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Checks what the exams of a course cover.
pub(super) fn check_coverage(scope: &CourseScope<'_>, marks: &mut Vec<Mark>) {
    let notebook = scope.notebook();
    let topics = notebook.topics(scope.course);
    for exam in &scope.exams {
        let fields = [Key::Covers, Key::Points].map(|key| exam.at.block.field(key));
        let items = fields.into_iter().flatten();
        for item in items.flat_map(|field| field.value.covered()) {
            let is_covered = |(key, at): &(NameKey, Located<'_>)| item.what.holds(key, at.block);
            if topics.iter().any(is_covered) {
                continue;
            }
            let typed = one_line(&exam.at.text(item.span));
            let name = match &item.what {
                Coverage::Name(name) => name.clone(),
                Coverage::Label(label) => NameKey::new(&label.to_string()),
                Coverage::Range(..) => {
                    let message = format!(
                        "No @topic of this course has a label from {typed} yet, so this part of \
                         the exam is empty."
                    );
                    let id = exam.at.id();
                    let mark = UNKNOWN_NAME.mark(&id, item.span, message);
                    marks.push(mark.severity(Severity::Information));
                    continue;
                }
            };
            let thing = thing(scope.course, BlockKind::Topic, &name);
            let suggestion = suggestion(notebook, &thing);
            let message = message(&thing, &typed, &suggestion);
            let mark = UNKNOWN_NAME.mark(&exam.at.id(), item.span, message);
            let mark = with_suggestion(mark, &thing, item.span, suggestion);
            let block = vec![Change::Append(format!("@topic {typed}\n"))];
            marks.push(mark.fix(format!("Define `@topic {typed}`"), block));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::{check, fixed};

    #[test]
    fn a_slip_of_a_defined_name_is_a_warning() {
        let text = "
@course ODE

@pattern Integrating factor
  confused with: seperable
                 ^^^^^^^^^ warning: No @pattern is called `seperable` in this course. Do you mean `separable`?

@pattern separable

@problem 1
  pattern: integrating facter, separable
           ^^^^^^^^^^^^^^^^^^ warning: No @pattern is called `integrating facter` in this course. Do you mean `Integrating factor`?
";
        check(&UNKNOWN_NAME, text);
        let text = "@pattern  separable\n\n@problem 1\n  pattern: seperable\n";
        assert_eq!(
            fixed(&UNKNOWN_NAME, "Write `separable`", text),
            "@pattern  separable\n\n@problem 1\n  pattern: separable\n"
        );
    }

    #[test]
    fn a_name_without_a_near_one_or_on_the_way_to_one_is_mild() {
        check(
            &UNKNOWN_NAME,
            "
@pattern separable

@problem 1
  pattern: separab
           ^^^^^^^ information: No @pattern is called `separab`. Do you mean `separable`?
  topic: 1.9
         ^^^ information: No @topic is called `1.9` yet.

@paper P
  for: Final
       ^^^^^ information: No @exam is called `Final` yet.
",
        );
    }

    #[test]
    fn what_an_exam_covers_is_looked_up_as_labels_are() {
        check(
            &UNKNOWN_NAME,
            "
@topic 1.1 Lines

@topic Complex numbers

@exam Final
  covers: 1, 1.1 .. 1.9, 2, 3.1 .. 3.4, lines, complex numbrs
                         ^ information: No @topic is called `2` yet.
                            ^^^^^^^^^^ information: No @topic of this course has a label from 3.1 .. 3.4 yet, so this part of the exam is empty.
                                               ^^^^^^^^^^^^^^ warning: No @topic is called `complex numbrs`. Do you mean `Complex numbers`?
",
        );
    }

    #[test]
    fn a_definition_is_one_fix_away() {
        let text = "@problem 1\n  topic: 1.3\n  pattern: separable\n";
        assert_eq!(
            fixed(&UNKNOWN_NAME, "Define `@pattern separable`", text),
            "@pattern separable\n  topic: 1.3\n\n@problem 1\n  topic: 1.3\n  pattern: separable\n"
        );
        assert_eq!(
            fixed(&UNKNOWN_NAME, "Define `@topic 1.3`", text),
            format!("{text}\n@topic 1.3\n")
        );
        assert_eq!(
            fixed(
                &UNKNOWN_NAME,
                "Define `@exam Final`",
                "@paper P\r\n  for: Final"
            ),
            "@paper P\r\n  for: Final\r\n\r\n@exam Final\r\n"
        );
    }

    #[test]
    fn names_that_are_defined_anywhere_in_the_course_are_not_marked() {
        check(
            &UNKNOWN_NAME,
            "
=== a/course.porism
@course A

@topic 2.2 Determinants, Cramer's rule
=== a/one.porism
@problem 1
  topic: Determinants, Cramer's rule
  pattern: $f(x, y)$ form

@problem 2
  topic: 2.2 Something else
=== a/two.porism
@pattern $F(x, y)$ form
",
        );
    }
}
