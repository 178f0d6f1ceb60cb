use std::collections::{BTreeMap, BTreeSet};

use notes::{BlockKind, Notebook, ShapeKey, UnitId};

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

/// The problems by shape, with what decides of each whether it repeats another.
#[derive(Debug, Default)]
pub(super) struct Repeats {
    shapes: BTreeMap<ShapeKey, Alike>,
    shape_of: BTreeMap<UnitId, ShapeKey>,
}

/// The problems of one shape, in reading order.
#[derive(Debug, Default)]
struct Alike {
    problems: BTreeMap<UnitId, Alikeness>,
    /// Those done right with notes closed.
    done: BTreeSet<UnitId>,
    by_text: BTreeMap<Box<str>, BTreeSet<UnitId>>,
}

/// What decides of one problem.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Alikeness {
    /// How a message names it.
    name: String,
    /// The statement, with its spacing seen through.
    text: Box<str>,
    is_done: bool,
}

impl Repeats {
    /// Takes in a unit as it is now. Gives the problems of which something else may be to be said:
    /// mostly itself alone, and all of its shape when it is the one that the others point to.
    pub(super) fn update(&mut self, notebook: &Notebook, id: &UnitId) -> BTreeSet<UnitId> {
        let new = alikeness(notebook, id);
        let old = self.shape_of.get(id).and_then(|key| {
            let alike = self.shapes.get(key)?;
            Some((key.clone(), alike.problems.get(id)?.clone()))
        });
        let mut touched = BTreeSet::new();
        if old == new {
            return touched;
        }
        touched.insert(id.clone());
        let sides = || old.iter().chain(&new);
        let keys: BTreeSet<ShapeKey> = sides().map(|(key, _)| key.clone()).collect();
        let texts: BTreeSet<Box<str>> = sides().map(|(_, own)| own.text.clone()).collect();
        let before: Vec<PointedTo> = keys
            .iter()
            .map(|key| self.pointed_to(key, &texts))
            .collect();
        if let Some((key, _)) = &old {
            self.remove(key, id);
        }
        if let Some((key, alikeness)) = new {
            self.insert(key, id, alikeness);
        }
        for (key, before) in keys.iter().zip(before) {
            let after = self.pointed_to(key, &texts);
            let Some(alike) = self.shapes.get(key) else {
                continue;
            };
            if before.by_all != after.by_all {
                touched.extend(alike.problems.keys().cloned());
            }
            for text in &texts {
                if before.by_text.get(text) != after.by_text.get(text) {
                    touched.extend(alike.by_text.get(text).into_iter().flatten().cloned());
                }
            }
        }
        touched
    }

    fn insert(&mut self, key: ShapeKey, id: &UnitId, alikeness: Alikeness) {
        let alike = self.shapes.entry(key.clone()).or_default();
        if alikeness.is_done {
            alike.done.insert(id.clone());
        }
        alike
            .by_text
            .entry(alikeness.text.clone())
            .or_default()
            .insert(id.clone());
        alike.problems.insert(id.clone(), alikeness);
        self.shape_of.insert(id.clone(), key);
    }

    fn remove(&mut self, key: &ShapeKey, id: &UnitId) {
        self.shape_of.remove(id);
        let Some(alike) = self.shapes.get_mut(key) else {
            return;
        };
        let removed = alike.problems.remove(id);
        alike.done.remove(id);
        let text = removed.map(|alikeness| alikeness.text).unwrap_or_default();
        if let Some(twins) = alike.by_text.get_mut(&text) {
            twins.remove(id);
            if twins.is_empty() {
                alike.by_text.remove(&text);
            }
        }
        if alike.problems.is_empty() {
            self.shapes.remove(key);
        }
    }

    fn pointed_to(&self, key: &ShapeKey, texts: &BTreeSet<Box<str>>) -> PointedTo {
        let Some(alike) = self.shapes.get(key) else {
            return PointedTo::default();
        };
        let named = |id: &UnitId| Some((id.clone(), alike.problems.get(id)?.name.clone()));
        let first = alike.problems.keys().next();
        let twins = texts.iter().filter_map(|text| {
            let first = alike.by_text.get(text)?.first()?;
            Some((text.clone(), named(first)?))
        });
        PointedTo {
            by_all: [first, alike.done.first()].map(|id| id.and_then(named)),
            by_text: twins.collect(),
        }
    }

    /// The problems that have a shape.
    pub(super) fn problems(&self) -> impl Iterator<Item = &UnitId> {
        self.shape_of.keys()
    }
}

impl Alike {
    /// The problem that a later one repeats: the first done right with notes closed if it is
    /// earlier, else the first.
    fn earlier(&self, id: &UnitId) -> Option<(&UnitId, &Alikeness)> {
        let done = self.done.first().filter(|done| *done < id);
        let first = self.problems.keys().next().filter(|first| *first < id);
        self.problems.get_key_value(done.or(first)?)
    }

    /// The first problem with the same text, if it is earlier.
    fn twin(&self, id: &UnitId, text: &str) -> Option<(&UnitId, &Alikeness)> {
        let first = self
            .by_text
            .get(text)?
            .first()
            .filter(|first| *first < id)?;
        self.problems.get_key_value(first)
    }
}

/// The problems to which others point, with their names.
#[derive(Debug, Default, PartialEq, Eq)]
struct PointedTo {
    /// The first of the shape, and the first done.
    by_all: [Option<(UnitId, String)>; 2],
    /// The first with each text.
    by_text: BTreeMap<Box<str>, (UnitId, String)>,
}

/// What a problem's block says of its likeness; `None` for anything without a shape.
fn alikeness(notebook: &Notebook, id: &UnitId) -> Option<(ShapeKey, Alikeness)> {
    let at = notebook
        .block(id)
        .filter(|at| at.block.kind == Some(BlockKind::Problem))?;
    let fingerprint = at.block.reading.as_ref()?.fingerprint?;
    let course = notebook.course_of(at.path, at.entry);
    let words: Vec<String> = at
        .block
        .statement
        .iter()
        .map(|line| at.text(*line))
        .collect();
    let words = words.iter().flat_map(|line| line.split_whitespace());
    let name = match at.block.title.is_empty() {
        true => "an earlier problem".to_owned(),
        false => crate::words::cut(&crate::words::title(&at), 40),
    };
    let alikeness = Alikeness {
        name,
        text: words.collect::<Vec<_>>().join(" ").into(),
        is_done: at.block.done_right_closed(),
    };
    Some((
        ShapeKey {
            course,
            fingerprint,
        },
        alikeness,
    ))
}

/// Marks a problem that repeats an earlier one.
pub(super) fn check(repeats: &Repeats, id: &UnitId, marks: &mut Vec<Mark>) {
    let alike = repeats
        .shape_of
        .get(id)
        .and_then(|key| repeats.shapes.get(key));
    let Some((alike, own)) = alike.and_then(|alike| Some((alike, alike.problems.get(id)?))) else {
        return;
    };
    let Some((earlier, of)) = alike.earlier(id) else {
        return;
    };
    let can_skip = of.is_done && !own.is_done;
    let (earlier, mark) = match alike.twin(id, &own.text) {
        Some((twin, of)) => {
            let message = format!("This says the same as {}, word for word.", of.name);
            (twin, SAME_TEXT.mark(id, Part::Header, message))
        }
        None => {
            let skip = match can_skip {
                true => {
                    ", and you did that one right with notes closed: skip this one when time is \
                     short"
                }
                false => "",
            };
            let message = format!("This is {} with other numbers{skip}.", of.name);
            (earlier, SAME_PROBLEM.mark(id, Part::Header, message))
        }
    };
    let mark = mark.related(earlier, Part::Header, "the earlier one");
    marks.push(match can_skip {
        true => mark.severity(Severity::Hint).unnecessary(),
        false if own.is_done => mark.severity(Severity::Hint),
        false => mark,
    });
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_problem_with_other_numbers_can_be_skipped_once_the_earlier_one_is_done() {
        check(
            &SAME_PROBLEM,
            "
=== a.porism
@problem 2.1
  Solve $y'' + 5y' + 6y = 0$.
  tried: 2027-02-10 open right

@problem 2.2
^^^^^^^^^^^^ hint: This is 2.1 with other numbers. [a.porism \"@problem 2.1\": the earlier one]
  Solve $y'' + 7y' + 12y = 0$.
  tried: 2027-02-11 closed right

@problem 2.3
^^^^^^^^^^^^ hint: This is 2.2 with other numbers, and you did that one right with notes closed: skip this one when time is short. [a.porism \"@problem 2.2\": the earlier one] (unnecessary)
  Solve $y'' + 3y' + 2y = 0$.
=== b.porism
@problem
^^^^^^^^ hint: This is 2.2 with other numbers, and you did that one right with notes closed: skip this one when time is short. [a.porism \"@problem 2.2\": the earlier one] (unnecessary)
  Solve $u'' + 9u' + 20u = 0$.
",
        );
    }

    #[test]
    fn a_repeat_of_a_problem_not_yet_done_is_for_information() {
        check(
            &SAME_PROBLEM,
            "
@problem
  Solve $y'' + 5y' + 6y = 0$.

@problem 2
^^^^^^^^^^ information: This is an earlier problem with other numbers. [notes.porism \"@problem\": the earlier one]
  Solve $y'' + 7y' + 12y = 0$.
",
        );
    }

    #[test]
    fn other_problems_other_courses_and_the_same_text_are_not_marked() {
        check(
            &SAME_PROBLEM,
            "
=== a.porism
@course A

@problem 1
  Solve $y'' + 5y' + 6y = 0$.

@problem 2
  Solve $y'' + 5y' + 6y = x$.

@problem 3
  Solve  $y'' + 5y' + 6y = 0$.

@problem 4
  Say why.

@problem 5
  Say why.
=== b.porism
@course B

@problem 1
  Solve $y'' + 7y' + 12y = 0$.
",
        );
    }
}
