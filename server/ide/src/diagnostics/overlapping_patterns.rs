use std::collections::{BTreeMap, BTreeSet};

use notes::{BlockKind, Key, NameKey, NamedThing, Notebook, UnitId};

use super::check::check;
use super::mark::{Mark, Part};
use super::problem::ProblemScope;
use crate::kinds::Kind;
use crate::words;

check! {
    /// Two patterns have shapes that fit each other's problems.
    ///
    /// A problem of the one is of the other as well, so the shapes do not tell the kinds apart: which
    /// of them a new problem is offered is chance. It is said once, at the later pattern, with a
    /// problem of each as the witness.
    ///
    /// ```porism
    /// @pattern quadratic by factoring
    ///   shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0
    ///
    /// @pattern quadratic formula
    ///   shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0
    ///
    /// @problem 1.1
    ///   pattern: quadratic by factoring
    ///   Solve $x^2 - 5x + 6 = 0$.
    ///
    /// @problem 1.2
    ///   pattern: quadratic formula
    ///   Solve $x^2 - 5x + 3 = 0$.
    /// ```
    ///
    /// Add to the shapes what tells the kinds apart (here: `b^2 - 4 a c is a perfect square`, and
    /// that it is not), or make one pattern of the two. Where problems can be done either way, tag
    /// them with both: then nothing is said.
    OVERLAPPING_PATTERNS = "overlapping-patterns", Information
}

/// Two patterns: the one that problems are tagged with, and another whose shape they have.
type Pair = (NamedThing, NamedThing);

/// The problems that have the shape of a pattern that they are not tagged with.
#[derive(Debug, Default)]
pub(super) struct Crossings {
    of: BTreeMap<UnitId, BTreeSet<Pair>>,
    /// The problems of each pair, with their names.
    problems: BTreeMap<Pair, BTreeMap<UnitId, String>>,
}

impl Crossings {
    /// Takes in the kinds of a problem; none if it is gone or not known yet. Gives the patterns of
    /// which something else may be to be said.
    pub(super) fn set(
        &mut self,
        id: &UnitId,
        problem: Option<(&ProblemScope<'_, '_>, &[Kind<'_>])>,
    ) -> BTreeSet<NamedThing> {
        let (pairs, name) = match problem {
            Some((problem, kinds)) => (pairs(problem, kinds), words::title(&problem.at)),
            None => (BTreeSet::new(), String::new()),
        };
        let old = self.of.remove(id).unwrap_or_default();
        let mut touched = BTreeSet::new();
        for pair in old.union(&pairs) {
            let before = self.witness(pair);
            if pairs.contains(pair) {
                let problems = self.problems.entry(pair.clone()).or_default();
                problems.insert(id.clone(), name.clone());
            } else if let Some(problems) = self.problems.get_mut(pair) {
                problems.remove(id);
                if problems.is_empty() {
                    self.problems.remove(pair);
                }
            }
            if before != self.witness(pair) {
                touched.extend([pair.0.clone(), pair.1.clone()]);
            }
        }
        if !pairs.is_empty() {
            self.of.insert(id.clone(), pairs);
        }
        touched
    }

    /// The first problem of a pair, and its name.
    fn witness(&self, pair: &Pair) -> Option<(UnitId, String)> {
        let (id, name) = self.problems.get(pair)?.first_key_value()?;
        Some((id.clone(), name.clone()))
    }

    /// The patterns whose problems have the shape of this one, or the other way round.
    pub(super) fn partners(&self, thing: &NamedThing) -> BTreeSet<NamedThing> {
        let pairs = self.problems.keys().filter(|(tagged, _)| tagged == thing);
        pairs.map(|(_, matched)| matched.clone()).collect()
    }
}

/// The pairs to which a problem bears witness: only what it is as it stands counts, for a law may
/// turn a problem of one kind into one of another.
fn pairs(problem: &ProblemScope<'_, '_>, kinds: &[Kind<'_>]) -> BTreeSet<Pair> {
    let tags = problem.at.block.names(Key::Pattern);
    let fits = |name: &NameKey| {
        let mut kinds = kinds.iter();
        kinds.any(|kind| kind.pattern.name == *name && kind.found.laws.is_empty())
    };
    let mut pairs = BTreeSet::new();
    for kind in kinds.iter().filter(|kind| kind.found.laws.is_empty()) {
        let other = &kind.pattern.name;
        if tags.iter().any(|tag| tag.key == *other) {
            continue;
        }
        for tag in tags.iter().filter(|tag| fits(&tag.key)) {
            pairs.insert((
                problem.pattern_thing(&tag.key),
                problem.pattern_thing(other),
            ));
        }
    }
    pairs
}

/// Marks a pattern that overlaps with an earlier one.
pub(super) fn check(
    notebook: &Notebook,
    crossings: &Crossings,
    thing: &NamedThing,
    marks: &mut Vec<Mark>,
) {
    if thing.kind != BlockKind::Pattern {
        return;
    }
    let Some(at) = notebook.definition(thing) else {
        return;
    };
    for other in crossings.partners(thing) {
        let there = crossings.witness(&(thing.clone(), other.clone()));
        let back = crossings.witness(&(other.clone(), thing.clone()));
        let (Some((own, own_name)), Some((others, others_name))) = (there, back) else {
            continue;
        };
        let Some(partner) = notebook.definition(&other) else {
            continue;
        };
        if partner.id() > at.id() {
            continue;
        }
        let title = words::cut(&words::title(&partner), 40);
        let message = format!(
            "The shapes of this pattern and of `{title}` fit each other's problems: {} and {}. Say \
             in them what tells the two apart, or make one pattern of them.",
            words::cut(&own_name, 40),
            words::cut(&others_name, 40)
        );
        let mark = OVERLAPPING_PATTERNS.mark(&at.id(), Part::Header, message);
        marks.push(
            mark.related(&partner.id(), Part::Header, "the other pattern")
                .related(&own, Part::Header, "a problem of this pattern")
                .related(&others, Part::Header, "a problem of the other"),
        );
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn two_patterns_of_one_shape_are_reported_once() {
        check(
            &OVERLAPPING_PATTERNS,
            "
@pattern factors
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

@pattern formula
^^^^^^^^^^^^^^^^ information: The shapes of this pattern and of `factors` fit each other's problems: 2 and 1. Say in them what tells the two apart, or make one pattern of them. [notes.porism \"@pattern factors\": the other pattern] [notes.porism \"@problem 2\": a problem of this pattern] [notes.porism \"@problem 1\": a problem of the other]
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

@problem 1
  pattern: factors
  Solve $x^2 - 5x + 6 = 0$.

@problem 2
  pattern: formula
  Solve $x^2 - 5x + 5 = 0$.
",
        );
    }

    #[test]
    fn a_special_case_and_what_is_tagged_with_both_are_no_overlap() {
        check(
            &OVERLAPPING_PATTERNS,
            "
@pattern quadratic
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

@pattern pure quadratic
  shape: $a x^2 + c = 0$ where a, c are numbers; a is not 0

@problem 1
  pattern: quadratic
  Solve $x^2 - 5x + 6 = 0$.

@problem 2
  pattern: pure quadratic
  Solve $x^2 = 4$.

@problem 3
  pattern: pure quadratic, quadratic
  Solve $x^2 = 5$.
",
        );
    }
}
