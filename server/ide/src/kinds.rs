//! Which kinds is a problem of? Its patterns, by their shapes, with the laws that show it.

use std::collections::BTreeMap;
use std::sync::Arc;

use math::problem::Problem;
use math::shape::{Match, Shape};
use math::{Declared, Expression, Operator, print};
use notes::{BlockKind, Located, NameKey, Notebook};

use crate::mathematics::Mathematics;
use crate::wording::Wording;
use crate::{Analysis, words};

/// The patterns that have shapes, in reading order.
#[derive(Clone, Debug, Default)]
pub struct Catalogue<'a> {
    patterns: Vec<CataloguedPattern<'a>>,
}

/// A pattern with its shapes.
#[derive(Clone, Debug)]
pub struct CataloguedPattern<'a> {
    /// The first block of its name that has a shape.
    pub at: Located<'a>,
    /// Its name.
    pub name: NameKey,
    /// Every shape that a block of this name has.
    pub shapes: Vec<&'a Shape>,
}

/// That a problem is of a kind.
#[derive(Clone, Debug)]
pub struct Kind<'a> {
    /// The pattern.
    pub pattern: CataloguedPattern<'a>,
    /// The shape that fits.
    pub shape: &'a Shape,
    /// How it fits.
    pub found: Arc<Match>,
}

impl<'a> Catalogue<'a> {
    /// The patterns of a course.
    pub fn of_course(notebook: &'a Notebook, course: &NameKey) -> Self {
        let mut catalogue = Self::default();
        catalogue.add(notebook, course);
        catalogue
    }

    /// The patterns of every course.
    pub fn of_all(notebook: &'a Notebook) -> Self {
        let mut catalogue = Self::default();
        for course in notebook.courses() {
            catalogue.add(notebook, &course);
        }
        catalogue
    }

    /// Adds a course; patterns of one name in it are one.
    fn add(&mut self, notebook: &'a Notebook, course: &NameKey) {
        let mut places: BTreeMap<NameKey, usize> = BTreeMap::new();
        for at in notebook.of_kind(course, BlockKind::Pattern) {
            // A name with a comma cannot be listed, so that no problem can be tagged with it.
            if at.block.name.is_empty() || at.block.name.as_str().contains(',') {
                continue;
            }
            let shapes = at.block.shapes.iter().map(|fact| &fact.shape);
            let shapes = shapes.filter(|shape| !shape.is_empty());
            let mut shapes = shapes.peekable();
            if shapes.peek().is_none() {
                continue;
            }
            let place = *places.entry(at.block.name.clone()).or_insert_with(|| {
                self.patterns.push(CataloguedPattern {
                    at,
                    name: at.block.name.clone(),
                    shapes: Vec::new(),
                });
                self.patterns.len() - 1
            });
            self.patterns[place].shapes.extend(shapes);
        }
    }

    /// The patterns, in reading order.
    pub fn patterns(&self) -> &[CataloguedPattern<'a>] {
        &self.patterns
    }

    /// The pattern of this name, if it has a shape.
    pub fn get(&self, name: &NameKey) -> Option<&CataloguedPattern<'a>> {
        self.patterns.iter().find(|pattern| pattern.name == *name)
    }

    /// The kinds that a problem is of, the likeliest first, those that are as likely in reading
    /// order.
    pub fn kinds(
        &self,
        mathematics: &Mathematics,
        statement: &Wording,
        problem: &Problem,
    ) -> Vec<Kind<'a>> {
        let shapes: Vec<&Shape> = self.shapes().collect();
        self.chosen(mathematics.matches(statement, problem, &shapes))
    }

    /// The same, if all of it has been worked out before.
    pub fn known_kinds(
        &self,
        mathematics: &Mathematics,
        statement: &Wording,
    ) -> Option<Vec<Kind<'a>>> {
        let found = mathematics.known_matches(statement, self.shapes())?;
        Some(self.chosen(found))
    }

    fn shapes(&self) -> impl Iterator<Item = &'a Shape> {
        let patterns = self.patterns.iter();
        patterns.flat_map(|pattern| pattern.shapes.iter().copied())
    }

    /// Of each pattern the best match, the best pattern first.
    fn chosen(&self, found: Vec<Option<Arc<Match>>>) -> Vec<Kind<'a>> {
        let mut found = found.into_iter();
        let mut kinds: Vec<Kind<'a>> = Vec::new();
        for pattern in &self.patterns {
            let own = pattern.shapes.iter().zip(found.by_ref());
            let own = own.filter_map(|(shape, found)| Some((*shape, found?)));
            let best = own.min_by_key(|(shape, found)| shape.rank(found));
            kinds.extend(best.map(|(shape, found)| Kind {
                pattern: pattern.clone(),
                shape,
                found,
            }));
        }
        kinds.sort_by_key(|kind| kind.shape.rank(&kind.found));
        kinds
    }
}

impl Kind<'_> {
    /// The pattern's title as it was typed.
    pub fn title(&self) -> String {
        words::title(&self.pattern.at)
    }

    /// What must be done to see it, as in "after clearing denominators"; none if the problem has the
    /// shape as it stands.
    pub fn steps(&self) -> Option<String> {
        let steps: Vec<String> = self.found.laws.iter().map(|law| law.step()).collect();
        (!steps.is_empty()).then(|| steps.join(", then "))
    }

    /// How the shape fits: its formula, what fills its holes, and the conditions that tell the
    /// kind from others, with the numbers that they speak of.
    pub fn fit(&self) -> String {
        let Some(template) = self.shape.template() else {
            let conditions = self.shape.text().split(';').map(str::trim);
            let conditions: Vec<&str> = conditions.filter(|one| is_telling(one)).collect();
            return conditions.join("; ");
        };
        let holes = self.found.holes.iter();
        let filled: Vec<String> = holes
            .map(|(letter, filling)| {
                let letter = Expression::new(Operator::Symbol(letter.clone()), []);
                format!("{} = {}", print::plain(&letter), print::plain(filling))
            })
            .collect();
        let mut said = print::plain(template);
        if !filled.is_empty() {
            said.push_str(&format!(" with {}", filled.join(", ")));
        }
        let conditions = self.shape.text().split_once(" where ");
        let conditions = conditions.iter().flat_map(|(_, all)| all.split(';'));
        for condition in conditions.map(str::trim).filter(|one| is_telling(one)) {
            said.push_str(&format!("; {}", self.with_value(condition)));
        }
        said
    }

    /// A condition with the value of what it speaks of: "b² − 4ac = 49 is a perfect square".
    fn with_value(&self, condition: &str) -> String {
        let said = [" is ", " > ", " < "].iter();
        let said = said.filter_map(|sign| condition.find(sign)).min();
        let value = said.and_then(|end| {
            let written = math::read(&condition[..end], &Declared::new()).expression;
            written.as_symbol().is_none().then_some(())?;
            let mut subject = written.clone();
            for (letter, filling) in &self.found.holes {
                subject = subject.substitute(letter, filling);
            }
            let value = math::normal_form::normal(&subject).ok()?.as_constant()?;
            let value = print::plain(&Expression::rational(&value.to_big()));
            Some(format!(
                "{} = {value}{}",
                print::plain(&written),
                &condition[end..]
            ))
        });
        match value {
            Some(said) => said,
            None => condition.to_owned(),
        }
    }
}

/// Whether a condition says more than which kind of thing a hole holds.
fn is_telling(condition: &str) -> bool {
    let plain = [" number", " numbers", " is not 0", " are not 0"];
    !condition.is_empty()
        && !plain.iter().any(|end| condition.ends_with(end))
        && !condition.contains(" depend")
        && !condition.contains(" does not ")
}

/// The kinds that a block's statement is of, among the patterns of its course.
pub fn kinds_of<'a>(analysis: &'a Analysis, at: &Located<'_>) -> Vec<Kind<'a>> {
    let Some(problem) = &at.block.reading else {
        return Vec::new();
    };
    let course = analysis.notebook.course_of(at.path, at.entry);
    let catalogue = Catalogue::of_course(&analysis.notebook, &course);
    catalogue.kinds(&analysis.mathematics, &Wording::of_statement(at), problem)
}
