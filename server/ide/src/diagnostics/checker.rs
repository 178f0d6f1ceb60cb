//! Checking that follows the edits: what an edit may have changed is checked again, and nothing
//! else.
//!
//! Findings are kept by what was checked, and in terms of their units, so a unit that only moved is
//! not checked again. What is checked is one of these:
//!
//! * the mathematics of a problem, when it changes, or the shape of a pattern of its course does;
//! * a unit, when it changes, or a name that it mentions comes or goes, or its course's term
//!   changes;
//! * a paper with its questions, when one of them changes, or the name of a problem that one of
//!   them was drawn from comes or goes;
//! * a name, when a block that defines it changes, or a mention of it comes or goes;
//! * a problem among those of its shape, when it changes, or the one does that the others repeat;
//! * a course, when something changes that its exams or standing depend on;
//! * the calendar of all exams, when some course does.
//!
//! On another day everything is checked again.
//!
//! What the mathematics is asked takes longer than a keystroke may. So a check takes only what is
//! known already; the problems of which something is not known are those that [`Checker::waiting`]
//! lists. Whoever has [worked it out](super::work_out) comes back with [`Checker::resume`].

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use notes::{BlockKind, Delta, FilePath, Key, Located, NameKey, NamedThing, Notebook, UnitId};

use super::before_term::term_of;
use super::mark::Mark;
use super::overlapping_patterns::Crossings;
use super::problem::{Catalogues, ProblemScope, work_out};
use super::same_problem::Repeats;
use super::scope::{CourseScope, UnitScope, own_name};
use super::unknown_name::Names;
use super::watch::Watch;
use super::{
    Finding, ambiguous_tex, before_term, broken_shape, broken_tex, defined_twice, empty_value,
    exams_collide, field_twice, future_date, idle_window, impossible_date, lost_source,
    never_closed, no_coverage, no_date, no_pattern, no_result, not_ready, nothing_to_practise,
    other_kind, overlapping_patterns, points_disagree, same_problem, skipped_hour, too_much_work,
    unclosed_math, unknown_field, unknown_kind, unknown_name, unknown_zone, unread_tex,
    unreadable_value, unrecorded_marks, unused_pattern, wrong_answer,
};
use crate::Analysis;
use crate::papers::paper;

/// The checks of one unit that need nothing besides.
const UNIT_CHECKS: [fn(&UnitScope<'_>, &mut Vec<Mark>); 17] = [
    unknown_kind::check,
    unknown_field::check,
    field_twice::check,
    empty_value::check,
    unreadable_value::check,
    impossible_date::check,
    unclosed_math::check,
    broken_tex::check,
    unread_tex::check,
    ambiguous_tex::check,
    broken_shape::check,
    future_date::check,
    before_term::check,
    no_date::check,
    no_coverage::check,
    no_result::check,
    unknown_zone::check,
];

/// The findings of a notebook, kept up to date with its edits.
#[derive(Debug, Default)]
pub struct Checker {
    day: Option<NaiveDate>,
    /// The findings by file and subject.
    marks: BTreeMap<FilePath, BTreeMap<Subject, Vec<Mark>>>,
    /// The files in which a subject has findings.
    files_of: BTreeMap<Subject, BTreeSet<FilePath>>,
    /// For each file, the files with a finding that points to it, and how many do.
    pointers: BTreeMap<FilePath, BTreeMap<FilePath, usize>>,
    names: Names,
    repeats: Repeats,
    /// The first day of each course, and the block that says so.
    terms: BTreeMap<NameKey, (UnitId, NaiveDate)>,
    /// The units of each paper.
    paper_items: Watch<UnitId>,
    /// The names by which each paper's questions look for their source.
    paper_names: Watch<NamedThing>,
    /// What each block that is a pattern with shapes says of them.
    shapes: BTreeMap<UnitId, PatternShapes>,
    crossings: Crossings,
    /// The problems of which not everything is known yet.
    waiting: BTreeSet<UnitId>,
}

/// What the kinds of a course's problems depend on.
#[derive(Debug, PartialEq, Eq)]
struct PatternShapes {
    course: NameKey,
    title: String,
    reduces_to: Vec<NameKey>,
    shapes: Vec<Box<str>>,
}

/// What is checked as a whole.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Subject {
    /// Before the names, of which it decides whether two patterns overlap.
    Problem(UnitId),
    Unit(UnitId),
    Paper(UnitId),
    Name(NamedThing),
    Repeat(UnitId),
    Course(NameKey),
    Calendar,
}

/// What an update came to.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Updated {
    /// The files whose findings changed, or stand at other places now.
    pub files: BTreeSet<FilePath>,
    /// Those whose findings may point to other bytes of another file now, and are else the same.
    pub pointing: BTreeSet<FilePath>,
    /// Of how many problems the mathematics was checked.
    pub problems_checked: usize,
    /// How many units were checked.
    pub units_checked: usize,
    /// How many papers were checked.
    pub papers_checked: usize,
    /// How many names were checked.
    pub names_checked: usize,
    /// How many problems were compared with those of their shape.
    pub repeats_checked: usize,
    /// How many courses were checked.
    pub courses_checked: usize,
}

/// The findings of a notebook, checked from nothing: those of each file that has some, by place.
pub fn check_all(analysis: &Analysis) -> BTreeMap<FilePath, Vec<Finding>> {
    let mut checker = Checker::default();
    checker.update(analysis, &Delta::default());
    checker.finish(analysis);
    let files = checker.files();
    files
        .map(|path| (path.clone(), checker.findings(analysis, path)))
        .collect()
}

impl Checker {
    /// Takes in what changed since the last update, `delta`, and the day of `analysis`. The first
    /// update, and the first on another day, check everything.
    pub fn update(&mut self, analysis: &Analysis, delta: &Delta) -> Updated {
        let today = analysis.today();
        let work = if self.day == Some(today) {
            self.touched(analysis, delta)
        } else {
            self.day = Some(today);
            self.everything(analysis)
        };
        let mut updated = Updated::default();
        self.check_all(analysis, work, &mut updated);
        for path in &delta.files {
            if self.marks.contains_key(path) {
                updated.files.insert(path.clone());
            }
            // What points into a file points to other bytes after an edit.
            let pointing = self.pointers.get(path).into_iter().flatten();
            updated
                .pointing
                .extend(pointing.map(|(from, _)| from.clone()));
        }
        let Updated {
            files, pointing, ..
        } = &mut updated;
        pointing.retain(|path| !files.contains(path));
        updated
    }

    /// The problems of which something is to be worked out before all can be said.
    pub fn waiting(&self) -> &BTreeSet<UnitId> {
        &self.waiting
    }

    /// Takes in what was worked out of these problems. `analysis` may be a later one than that of
    /// the work, but is that of the last update.
    pub fn resume(
        &mut self,
        analysis: &Analysis,
        units: impl IntoIterator<Item = UnitId>,
    ) -> Updated {
        let mut updated = Updated::default();
        let work = units.into_iter().map(Subject::Problem).collect();
        self.check_all(analysis, work, &mut updated);
        updated
    }

    /// Works out what is waited for, here and now.
    pub fn finish(&mut self, analysis: &Analysis) -> Updated {
        let mut updated = Updated::default();
        while !self.waiting.is_empty() {
            // In parts, so that no result is forgotten before it is taken in.
            let units: Vec<UnitId> = self.waiting.iter().take(PART).cloned().collect();
            work_out(analysis, units.iter().cloned());
            let resumed = self.resume(analysis, units);
            updated.problems_checked += resumed.problems_checked;
            updated.names_checked += resumed.names_checked;
            updated.files.extend(resumed.files);
        }
        updated
    }

    fn check_all(
        &mut self,
        analysis: &Analysis,
        mut work: BTreeSet<Subject>,
        updated: &mut Updated,
    ) {
        let mut catalogues = Catalogues::default();
        while let Some(subject) = work.pop_first() {
            let marks = match &subject {
                Subject::Problem(id) => {
                    let problem = ProblemScope::new(analysis, id, &mut catalogues);
                    self.check_problem(id, problem.as_ref(), &mut work, updated)
                }
                other => self.check(analysis, other, updated),
            };
            self.keep(subject, marks, &mut updated.files);
        }
    }

    /// What the mathematics says of a problem; adds to `work` the patterns of which that decides.
    fn check_problem(
        &mut self,
        id: &UnitId,
        problem: Option<&ProblemScope<'_, '_>>,
        work: &mut BTreeSet<Subject>,
        updated: &mut Updated,
    ) -> Vec<Mark> {
        let mut marks = Vec::new();
        self.waiting.remove(id);
        let Some(problem) = problem else {
            let names = self.crossings.set(id, None);
            work.extend(names.into_iter().map(Subject::Name));
            return marks;
        };
        updated.problems_checked += 1;
        let mathematics = &problem.analysis.mathematics;
        let known = problem
            .catalogue
            .known_kinds(mathematics, &problem.statement);
        let kinds = known.as_deref().unwrap_or_default();
        no_pattern::check(problem, kinds, &mut marks);
        other_kind::check(problem, kinds, &mut marks);
        let names = self.crossings.set(id, Some((problem, kinds)));
        work.extend(names.into_iter().map(Subject::Name));
        let answer = problem.answer.as_ref();
        let verdict = answer.map(|answer| mathematics.known_verdict(&problem.statement, answer));
        if let Some(Some(verdict)) = &verdict {
            wrong_answer::check(problem, verdict, &mut marks);
        }
        if known.is_none() || verdict == Some(None) {
            self.waiting.insert(id.clone());
        }
        marks
    }

    /// The findings of a file by place, gravest first at the same place. `analysis` is the one of
    /// the last update.
    pub fn findings(&self, analysis: &Analysis, path: &FilePath) -> Vec<Finding> {
        self.findings_by(path, |mark| mark.resolved(&analysis.notebook))
    }

    /// As [`Checker::findings`], but without the ways out, for showing many at once.
    pub fn findings_without_fixes(&self, analysis: &Analysis, path: &FilePath) -> Vec<Finding> {
        self.findings_by(path, |mark| mark.resolved_without_fixes(&analysis.notebook))
    }

    fn findings_by(
        &self,
        path: &FilePath,
        resolved: impl Fn(&Mark) -> Option<Finding>,
    ) -> Vec<Finding> {
        let subjects = self.marks.get(path).into_iter().flatten();
        let marks = subjects.flat_map(|(_, marks)| marks);
        let mut findings: Vec<Finding> = marks.filter_map(resolved).collect();
        findings.sort_by(|a, b| {
            let key = |f: &Finding| (f.span.start, f.severity, f.code, f.span.end);
            key(a).cmp(&key(b)).then_with(|| a.message.cmp(&b.message))
        });
        findings
    }

    /// The files that have findings.
    pub fn files(&self) -> impl Iterator<Item = &FilePath> {
        self.marks.keys()
    }

    /// What has to be checked again after an edit.
    fn touched(&mut self, analysis: &Analysis, delta: &Delta) -> BTreeSet<Subject> {
        let notebook = &analysis.notebook;
        let mut work = BTreeSet::new();
        let mut courses = delta.courses.clone();
        for id in &delta.units {
            work.insert(Subject::Unit(id.clone()));
            work.insert(Subject::Problem(id.clone()));
            work.extend(self.shapes_touched(notebook, id));
            let repeats = self.repeats.update(notebook, id);
            work.extend(repeats.into_iter().map(Subject::Repeat));
            let papers = self.paper_items.askers(id).cloned();
            work.extend(papers.map(Subject::Paper));
            if let Some(at) = notebook.block(id) {
                courses.extend(named_course(&at));
                work.extend(subjects_of(analysis, &at));
                // The message of an overlap names both patterns.
                let own = own_name(notebook, &at);
                let partners = own.iter().flat_map(|thing| self.crossings.partners(thing));
                work.extend(partners.map(Subject::Name));
            }
        }
        for thing in &delta.defined {
            let partners = self.crossings.partners(thing);
            work.extend(partners.into_iter().map(Subject::Name));
            let papers = self.paper_names.askers(thing).cloned();
            work.extend(papers.map(Subject::Paper));
            if thing.kind == BlockKind::Course {
                courses.insert(thing.name.clone());
            }
            work.insert(Subject::Name(thing.clone()));
        }
        for thing in &delta.used {
            // A mention of a problem, theorem or definition is filed as one of a problem.
            if thing.kind == BlockKind::Problem {
                let kinds = [BlockKind::Theorem, BlockKind::Definition];
                let alike = kinds.map(|kind| NamedThing {
                    kind,
                    ..thing.clone()
                });
                work.extend(alike.map(Subject::Name));
            }
            work.insert(Subject::Name(thing.clone()));
        }
        work.extend(
            self.names
                .touched(notebook, delta)
                .into_iter()
                .map(Subject::Unit),
        );
        for course in &courses {
            let term = term_of(notebook, course);
            if self.terms.get(course) != term.as_ref() {
                work.extend(dated_units(analysis, course));
                self.set_term(course, term);
            }
        }
        if !courses.is_empty() {
            work.insert(Subject::Calendar);
        }
        work.extend(courses.into_iter().map(Subject::Course));
        work
    }

    /// Everything there is to check, and what was there to check before.
    fn everything(&mut self, analysis: &Analysis) -> BTreeSet<Subject> {
        let notebook = &analysis.notebook;
        let mut work: BTreeSet<Subject> = self.files_of.keys().cloned().collect();
        self.names = Names::default();
        self.repeats = Repeats::default();
        self.terms.clear();
        self.shapes.clear();
        self.crossings = Crossings::default();
        self.waiting.clear();
        work.insert(Subject::Calendar);
        let mut courses: BTreeSet<NameKey> = notebook.courses().into_iter().collect();
        for (path, file) in notebook.files() {
            for entry in file.entries() {
                let id = UnitId {
                    file: path.clone(),
                    order: entry.order,
                };
                work.insert(Subject::Unit(id));
            }
            for at in notebook.blocks_in(path) {
                courses.extend(named_course(&at));
                work.extend(subjects_of(analysis, &at));
                self.repeats.update(notebook, &at.id());
                if at.block.kind == Some(BlockKind::Problem) {
                    work.insert(Subject::Problem(at.id()));
                }
                if let Some(shapes) = pattern_shapes(notebook, &at.id()) {
                    self.shapes.insert(at.id(), shapes);
                }
            }
        }
        work.extend(self.repeats.problems().cloned().map(Subject::Repeat));
        for course in &courses {
            self.set_term(course, term_of(notebook, course));
        }
        work.extend(courses.into_iter().map(Subject::Course));
        work
    }

    /// The problems whose kinds depend on what a unit says of shapes, if that is another thing now.
    fn shapes_touched(&mut self, notebook: &Notebook, id: &UnitId) -> Vec<Subject> {
        let new = pattern_shapes(notebook, id);
        let old = self.shapes.get(id);
        if old == new.as_ref() {
            return Vec::new();
        }
        let courses: BTreeSet<NameKey> = old
            .into_iter()
            .chain(&new)
            .map(|pattern| pattern.course.clone())
            .collect();
        match new {
            Some(new) => self.shapes.insert(id.clone(), new),
            None => self.shapes.remove(id),
        };
        let problems = courses
            .iter()
            .flat_map(|course| notebook.of_kind(course, BlockKind::Problem));
        problems.map(|at| Subject::Problem(at.id())).collect()
    }

    fn set_term(&mut self, course: &NameKey, term: Option<(UnitId, NaiveDate)>) {
        match term {
            Some(term) => self.terms.insert(course.clone(), term),
            None => self.terms.remove(course),
        };
    }

    fn check(
        &mut self,
        analysis: &Analysis,
        subject: &Subject,
        updated: &mut Updated,
    ) -> Vec<Mark> {
        let notebook = &analysis.notebook;
        let mut marks = Vec::new();
        match subject {
            Subject::Unit(id) => {
                let Some(unit) = UnitScope::new(analysis, id) else {
                    self.names.forget(id);
                    return marks;
                };
                updated.units_checked += 1;
                for check in UNIT_CHECKS {
                    check(&unit, &mut marks);
                }
                unknown_name::check(&unit, &mut self.names, &mut marks);
            }
            Subject::Paper(id) => {
                let at = notebook.block(id);
                let at = at.filter(|at| at.block.kind == Some(BlockKind::Paper));
                let Some(at) = at else {
                    self.paper_items.set(id, []);
                    self.paper_names.set(id, []);
                    return marks;
                };
                updated.papers_checked += 1;
                let paper = paper(notebook, at);
                self.paper_items
                    .set(id, paper.items.iter().map(Located::id));
                self.paper_names.set(id, lost_source::asked_for(&paper));
                unrecorded_marks::check(&paper, &mut marks);
                lost_source::check(analysis, &paper, &mut marks);
            }
            Subject::Name(name) => {
                updated.names_checked += 1;
                defined_twice::check(notebook, name, &mut marks);
                unused_pattern::check(notebook, name, &mut marks);
                overlapping_patterns::check(notebook, &self.crossings, name, &mut marks);
            }
            Subject::Repeat(id) => {
                updated.repeats_checked += 1;
                same_problem::check(&self.repeats, id, &mut marks);
            }
            Subject::Course(course) => {
                updated.courses_checked += 1;
                let scope = CourseScope::new(analysis, course);
                unknown_name::check_coverage(&scope, &mut marks);
                points_disagree::check(&scope, &mut marks);
                nothing_to_practise::check(&scope, &mut marks);
                never_closed::check(&scope, &mut marks);
                idle_window::check(&scope, &mut marks);
                not_ready::check(&scope, &mut marks);
                skipped_hour::check(&scope, &mut marks);
            }
            Subject::Calendar => {
                exams_collide::check(analysis, &mut marks);
                too_much_work::check(analysis, &mut marks);
            }
            // Checked by itself, with what its course has in common.
            Subject::Problem(_) => {}
        }
        marks
    }

    /// Puts the findings of a subject in place of those it had; adds to `changed` the files whose
    /// findings that changes.
    fn keep(&mut self, subject: Subject, marks: Vec<Mark>, changed: &mut BTreeSet<FilePath>) {
        let mut by_file: BTreeMap<FilePath, Vec<Mark>> = BTreeMap::new();
        for mark in marks {
            by_file
                .entry(mark.spot.unit.file.clone())
                .or_default()
                .push(mark);
        }
        let mut files = self.files_of.get(&subject).cloned().unwrap_or_default();
        files.extend(by_file.keys().cloned());
        for file in files {
            let new = by_file.remove(&file).unwrap_or_default();
            let of_file = self.marks.entry(file.clone()).or_default();
            let old = of_file.remove(&subject).unwrap_or_default();
            let is_changed = old != new;
            if is_changed {
                self.point(&file, &old, &new);
            }
            let of_file = self.marks.entry(file.clone()).or_default();
            if new.is_empty() {
                if of_file.is_empty() {
                    self.marks.remove(&file);
                }
                if let Some(files) = self.files_of.get_mut(&subject) {
                    files.remove(&file);
                    if files.is_empty() {
                        self.files_of.remove(&subject);
                    }
                }
            } else {
                of_file.insert(subject.clone(), new);
                if old.is_empty() {
                    self.files_of
                        .entry(subject.clone())
                        .or_default()
                        .insert(file.clone());
                }
            }
            if is_changed {
                changed.insert(file);
            }
        }
    }

    /// Counts the pointers from a file into others anew, where its findings change.
    fn point(&mut self, file: &FilePath, old: &[Mark], new: &[Mark]) {
        let targets = |marks: &[Mark]| -> Vec<FilePath> {
            let files = marks.iter().flat_map(Mark::files);
            files.filter(|target| *target != file).cloned().collect()
        };
        for target in targets(new) {
            let sources = self.pointers.entry(target).or_default();
            *sources.entry(file.clone()).or_default() += 1;
        }
        for target in targets(old) {
            let Some(sources) = self.pointers.get_mut(&target) else {
                continue;
            };
            if let Some(count) = sources.get_mut(file) {
                *count -= 1;
                if *count == 0 {
                    sources.remove(file);
                }
            }
            if sources.is_empty() {
                self.pointers.remove(&target);
            }
        }
    }
}

/// So many problems are worked out at a time.
const PART: usize = 1_024;

/// What a unit says of shapes, if it is a pattern that has one.
fn pattern_shapes(notebook: &Notebook, id: &UnitId) -> Option<PatternShapes> {
    let at = notebook.block(id)?;
    if at.block.kind != Some(BlockKind::Pattern) || at.block.shapes.is_empty() {
        return None;
    }
    let shapes = at.block.shapes.iter();
    let reduces_to = at.block.names(Key::ReducesTo).iter();
    Some(PatternShapes {
        course: notebook.course_of(at.path, at.entry),
        title: at.title(),
        reduces_to: reduces_to.map(|named| named.key.clone()).collect(),
        shapes: shapes.map(|fact| fact.shape.text().into()).collect(),
    })
}

/// The course that a block names, if it is a `@course`.
fn named_course(at: &Located<'_>) -> Option<NameKey> {
    let is_course = at.block.kind == Some(BlockKind::Course) && !at.block.name.is_empty();
    is_course.then(|| at.block.name.clone())
}

/// What a block is part of, besides its unit.
fn subjects_of(analysis: &Analysis, at: &Located<'_>) -> Vec<Subject> {
    let notebook = &analysis.notebook;
    let mut subjects = Vec::new();
    subjects.extend(own_name(notebook, at).map(Subject::Name));
    if at.block.kind == Some(BlockKind::Paper) {
        subjects.push(Subject::Paper(at.id()));
    }
    if let Some(order) = at.entry.context.paper {
        subjects.push(Subject::Paper(UnitId {
            file: at.path.clone(),
            order,
        }));
    }
    subjects
}

/// The units of a course with dated records.
fn dated_units(analysis: &Analysis, course: &NameKey) -> Vec<Subject> {
    let notebook = &analysis.notebook;
    let kinds = [
        BlockKind::Problem,
        BlockKind::Theorem,
        BlockKind::Definition,
        BlockKind::Topic,
    ];
    let blocks = kinds
        .into_iter()
        .flat_map(|kind| notebook.of_kind(course, kind));
    let dated = blocks.filter(|at| future_date::records(at.block).next().is_some());
    dated.map(|at| Subject::Unit(at.id())).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Workspace;
    use crate::diagnostics::Severity;
    use crate::fixture::{day, now};
    use proptest::prelude::*;

    /// A course of `problems` problems in one file, checked, with what is found of it.
    fn course_of(problems: usize) -> (Workspace, Checker, FilePath, String) {
        let mut text = String::from(
            "@course Linear algebra\n  term: 2027-01-04\n\n@exam Midterm\n  on: 2027-02-18\n\
             \x20 covers: 1\n\n@topic 1 Lines\n\nSome prose about lines.\n\n@pattern distance\n\n",
        );
        for i in 0..problems {
            text.push_str(&format!(
                "@problem 1.{i}\n  pattern: distance, slope\n  Find the distance of {i} words.\n\
                 \x20 tried: 2027-02-10 closed right\n\n"
            ));
        }
        let path = FilePath::new("a.porism");
        let workspace = Workspace::from_files(now(), [(path.as_str(), text.as_str())]);
        let mut checker = Checker::default();
        checker.update(workspace.analysis(), &Delta::default());
        (workspace, checker, path, text)
    }

    /// Types `typed` behind the first `place` and gives what the update came to.
    fn type_at(problems: usize, place: &str, typed: &str) -> Updated {
        let (mut workspace, mut checker, path, text) = course_of(problems);
        workspace.take_delta();
        let at = text.find(place).expect("the place is there") + place.len();
        workspace.edit(&path, at..at, typed);
        let delta = workspace.take_delta();
        checker.update(workspace.analysis(), &delta)
    }

    #[test]
    fn a_key_typed_in_prose_costs_the_same_in_any_notebook() {
        for problems in [10, 1000] {
            let updated = type_at(problems, "Some prose", "x");
            let files = BTreeSet::from([FilePath::new("a.porism")]);
            let expected = Updated {
                files,
                units_checked: 1,
                ..Updated::default()
            };
            assert_eq!(updated, expected, "{problems} problems");
        }
    }

    #[test]
    fn the_mathematics_is_asked_once_for_each_problem() {
        let mut text = String::from(
            "@pattern square\n  shape: $x^2 = c$ where c is a number\n\nSome prose about $x$.\n\n",
        );
        for i in 0..100 {
            text.push_str(&format!(
                "@problem 1.{i}\n  Solve $x^2 = {i}$.\n  answer: ${i}$\n\n"
            ));
        }
        let path = FilePath::new("a.porism");
        let mut workspace = Workspace::from_files(now(), [(path.as_str(), text.as_str())]);
        let mut checker = Checker::default();
        checker.update(workspace.analysis(), &Delta::default());
        assert_eq!(checker.waiting().len(), 100);
        let finished = checker.finish(workspace.analysis());
        assert_eq!(finished.problems_checked, 100);
        assert!(checker.waiting().is_empty());
        workspace.take_delta();
        let classified = |workspace: &Workspace| {
            let mathematics = &workspace.analysis().mathematics;
            mathematics.problems_classified()
        };
        assert_eq!(classified(&workspace), 100);

        let verified = |workspace: &Workspace| workspace.analysis().mathematics.answers_verified();
        assert_eq!(verified(&workspace), 100);

        // What is typed, how many problems are checked, how many formulas classified and how many
        // answers verified.
        for (place, typed, checked, new, answers) in [
            ("Some prose about $x", "^2", 0, 0, 0),
            ("Some prose", "x", 0, 0, 0),
            ("@problem 1.7", "b", 1, 0, 0),
            ("Solve $x^2 = 7", "00", 1, 1, 1),
            ("answer: $8", "00", 1, 0, 1),
            ("c is a number", "; c is not 0", 100, 100, 0),
        ] {
            let before = classified(&workspace);
            let verified_before = verified(&workspace);
            let text = workspace.analysis().notebook.file(&path).expect("a file");
            let at = text.text().to_string().find(place).expect("a place") + place.len();
            workspace.edit(&path, at..at, typed);
            let delta = workspace.take_delta();
            let updated = checker.update(workspace.analysis(), &delta);
            assert_eq!(updated.problems_checked, checked, "{typed} behind {place}");
            checker.finish(workspace.analysis());
            let classified = classified(&workspace) - before;
            let verified = verified(&workspace) - verified_before;
            assert_eq!(
                (classified, verified),
                (new, answers),
                "{typed} behind {place}"
            );
        }
    }

    #[test]
    fn a_key_typed_in_a_try_costs_its_problem_and_its_course() {
        for problems in [10, 1000] {
            let updated = type_at(problems, "tried: 2027-02-1", "1");
            // The names are those of the problem and of its two patterns.
            let counts = (
                updated.units_checked,
                updated.names_checked,
                updated.courses_checked,
            );
            assert_eq!(counts, (1, 3, 1), "{problems} problems");
        }
    }

    #[test]
    fn a_definition_that_comes_brings_the_units_that_mention_it() {
        for problems in [10, 100] {
            let updated = type_at(
                problems,
                "Some prose about lines.\n\n",
                "@pattern slope\n\n",
            );
            // The new pattern, and what it cut the text around into, are units of their own.
            let own = updated.units_checked - problems;
            assert!((1..=3).contains(&own), "{problems} problems: {updated:?}");
            let again = type_at(
                problems,
                "Some prose about lines.\n\n",
                "@pattern distance\n\n",
            );
            assert!(again.units_checked <= 3, "{problems} problems: {again:?}");
        }
    }

    #[test]
    fn another_day_is_checked_anew() {
        let (mut workspace, mut checker, path, _) = course_of(3);
        let before = checker.findings(workspace.analysis(), &path);
        workspace.set_now(
            day("2027-02-20")
                .and_hms_opt(8, 0, 0)
                .expect("a time of day"),
        );
        let updated = checker.update(workspace.analysis(), &Delta::default());
        let after = checker.findings(workspace.analysis(), &path);
        assert_ne!(before, after);
        assert!(updated.files.contains(&path));
        let again = checker.update(workspace.analysis(), &Delta::default());
        assert_eq!(again, Updated::default());
    }

    /// What a student may type in a lecture and after it, below the notes of [`course_of`].
    const TYPED: &str = "\
@exam Final
  on: 2027-04-26 10:00
  length: 1 h 15 min
  covers: 1.1 .. 1.5, 2.1, lines
  notes: one sheet
  target: 85%
  weight: 20%
  start: 7 days before
  questions: 12

@topic 2.1 First-order equations
  learned: partly
  quiz: 2027-02-03 4/10

# Notes of the day

The trick is $r(x) = e^{\\int p(x)\\,dx}$, because
$$ (ry)' = rq $$
holds.

@pattern trick
  shape: $y' + p y = q$ where p, q depend only on x; p is not 0
  cue: y' to the first power
  reduces to: distance
  confused with: slope

@problem 2.1.7
  from: p. 52
  pattern: distance
  Solve $y' + 3y = e^{x}$ with $y(0) = 1$.
  answer: $y = \\frac{1}{4} e^{x} + \\frac{3}{4} e^{-3x}$
  tried: 2027-02-14 open right 11 min
  tried: 2027-02-15 closed wrong 9 min, lost the constant
  spotted: 2027-02-15 right

@theorem Existence
  If $f$ is continuous, there is a solution.
  proof:
    By $\\varepsilon$.
";

    #[test]
    fn nothing_grave_is_said_while_notes_are_typed() {
        let (mut workspace, mut checker, path, text) = course_of(2);
        let grave = |checker: &Checker, workspace: &Workspace| -> BTreeSet<&'static str> {
            let findings = checker.findings(workspace.analysis(), &path).into_iter();
            let grave = findings.filter(|finding| finding.severity <= Severity::Warning);
            grave.map(|finding| finding.code).collect()
        };
        let before = grave(&checker, &workspace);
        workspace.take_delta();
        let mut at = text.len();
        for (i, letter) in TYPED.char_indices() {
            let letter = letter.to_string();
            workspace.edit(&path, at..at, &letter);
            at += letter.len();
            let delta = workspace.take_delta();
            checker.update(workspace.analysis(), &delta);
            let now = grave(&checker, &workspace);
            assert!(now.is_subset(&before), "{now:?} at {}<|>", &TYPED[..=i]);
        }
    }

    /// Pieces of notes that an edit may put anywhere.
    const PIECES: &[&str] = &[
        "@course C\n  term: 2027-02-01\n",
        "@course C\n",
        "@course D\n  target: 85%\n  term: 2027-02-05\n",
        "@topic 1.1 A\n",
        "@topic 1 Whole\n",
        "@topic 1.2 Part, second\n  quiz: 2027-02-02 4/10\n",
        "@topic 2 Ble\n  learned: no\n",
        "@topic Able\n",
        "@pattern pattr\n  cue: c\n",
        "@pattern pattern q\n  confused with: pattr, pattern p\n  topic: 2\n",
        "@pattern pattern p\n",
        "@pattern pattern p\n  shape: $a x + b = c$ where a, b, c are numbers; a is not 0\n",
        "@pattern pattern q\n  shape: $a x + b = c$ where a, b, c are numbers\n  reduces to: pattern p\n",
        "  shape: $x^2 = c$ where c is a number\n",
        "@problem v\n  pattern: pattern p\n  Solve $x^2 = 4$.\n  answer: $x = 2$\n",
        "@problem w\n  pattern:\n  Solve $2 x = 4$.\n",
        "@pattern Pattern  P\n  method: m\n",
        "@problem x\n  pattern: pattern p, pattern q\n  Solve $x + 1 = 2$.\n",
        "@problem x\n  topic: able\n  Solve $x + 3 = 7$.\n",
        "@problem y\n  topic: 1.2 Whatever\n  pattern: patern p\n  Solve $x + 1 = 2$.\n",
        "@problem\n  topic: part, second\n  pattern: pattern q\n",
        "  tried: 2027-02-03 closed right\n",
        "  tried: 2027-02-17 open wrong\n",
        "  tried: 2027-02-30 open wrong\n",
        "  tried: 2027-02-1",
        "@theorem x\n  pattern: pattern q\n",
        "@definition z\n  topic: 1\n",
        "@exam E\n  on: 2027-02-17\n  covers: 1 .. 2\n",
        "@exam F\n  on: 2027-02-20\n  covers: 1, abel, 7\n",
        "@exam F\n",
        "@paper P\n  for: E\n  drawn: 2027-02-01\n",
        "@paper Q\n  for: G\n  drawn: 2027-02-01\n  recorded: 2027-02-02\n",
        "@question 1\n  of: x\n  mark: right\n",
        "@question 2\n  of: z\n  mark: wrong\n",
        "@question 3\n  of: w\n",
        "prose $a$\n",
        "# Heading\n",
        "% comment\n",
        "$$\n",
        "$",
        "\n",
        "\r\n",
        "  ",
        "@",
        "é",
        "topic: A",
        "pattern: ",
        "  pattern: patter q\n",
        ", ",
    ];

    fn piece() -> impl Strategy<Value = String> {
        prop::collection::vec(prop::sample::select(PIECES), 0..8).prop_map(|p| p.concat())
    }

    #[derive(Clone, Debug)]
    enum Change {
        Edit(usize, usize, usize, String),
        Text(usize, String),
        Remove(usize),
        Day(u32),
    }

    fn change() -> impl Strategy<Value = Change> {
        prop_oneof![
            12 => (0..4usize, 0..400usize, 0..40usize, piece())
                .prop_map(|(f, at, len, text)| Change::Edit(f, at, len, text)),
            3 => (0..4usize, piece()).prop_map(|(f, text)| Change::Text(f, text)),
            1 => (0..4usize).prop_map(Change::Remove),
            1 => (10..22u32).prop_map(Change::Day),
        ]
    }

    fn floor(text: &str, at: usize) -> usize {
        let mut at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    /// The findings of a file without the bytes of other files that they point to.
    fn without_places_elsewhere(findings: &[Finding]) -> Vec<Finding> {
        let mut findings = findings.to_vec();
        for finding in &mut findings {
            for related in &mut finding.related {
                if related.path != finding.path {
                    related.span = notes::Span::at(0);
                }
            }
        }
        findings
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(128))]
        #[test]
        fn after_any_edits_the_findings_equal_those_from_nothing(
            changes in prop::collection::vec(change(), 1..20)
        ) {
            let paths = ["a.porism", "b/c.porism", "b/d.porism", "b/e/f.porism"].map(FilePath::new);
            let mut texts: [String; 4] = Default::default();
            let mut workspace = Workspace::new(now());
            let mut checker = Checker::default();
            checker.update(workspace.analysis(), &Delta::default());
            let mut shown: BTreeMap<FilePath, Vec<Finding>> = BTreeMap::new();
            for change in changes {
                match change {
                    Change::Edit(f, at, len, new) => {
                        let start = floor(&texts[f], at);
                        let end = floor(&texts[f], start + len);
                        texts[f].replace_range(start..end, &new);
                        workspace.edit(&paths[f], start..end, &new);
                    }
                    Change::Text(f, new) => {
                        workspace.set_text(&paths[f], &new);
                        texts[f] = new;
                    }
                    Change::Remove(f) => {
                        workspace.remove(&paths[f]);
                        texts[f].clear();
                    }
                    Change::Day(date) => {
                        let date = NaiveDate::from_ymd_opt(2027, 2, date).expect("a day");
                        workspace.set_now(date.and_hms_opt(9, 0, 0).expect("a time of day"));
                    }
                }
                let delta = workspace.take_delta();
                let analysis = workspace.analysis();
                let mut updated = checker.update(analysis, &delta);
                updated.files.extend(checker.finish(analysis).files);
                let fresh = check_all(analysis);
                for path in &paths {
                    let found = checker.findings(analysis, path);
                    prop_assert_eq!(&found, &fresh.get(path).cloned().unwrap_or_default());
                    let before = shown.insert(path.clone(), found.clone()).unwrap_or_default();
                    let told = updated.files.contains(path);
                    let same_but_pointers = updated.pointing.contains(path)
                        && without_places_elsewhere(&before) == without_places_elsewhere(&found);
                    prop_assert!(before == found || told || same_but_pointers, "{}", path);
                    let len = texts[paths.iter().position(|p| p == path).expect("a path")].len();
                    for finding in &found {
                        prop_assert!(finding.span.end as usize <= len);
                        for fix in &finding.fixes {
                            for (path, edits) in &fix.edit.files {
                                let text = &texts[paths.iter().position(|p| p == path).expect("a path")];
                                prop_assert!(crate::edit::applied(text, edits).is_some());
                            }
                        }
                    }
                }
            }
        }
    }
}
