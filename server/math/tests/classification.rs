//! Textbook problems of every kind, and the starter patterns that they match: each one that is
//! listed, the first before all others, and none that is not.

#![expect(
    clippy::disallowed_methods,
    reason = "the starter patterns are read from their files"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use porism_math::problem::{self, Problem, Task};
use porism_math::shape::{self, Match, Shape};

const TABLES: [(&str, &str); 2] = [
    (
        "algebra and equations",
        include_str!("classification/algebra-and-equations.txt"),
    ),
    ("calculus", include_str!("classification/calculus.txt")),
];

/// The starter patterns: a name for each shape.
struct Patterns {
    names: Vec<String>,
    shapes: Vec<Shape>,
}

impl Patterns {
    fn starter() -> Self {
        let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../demo/starter");
        let mut files: Vec<_> = std::fs::read_dir(folder)
            .expect("the starter patterns")
            .map(|entry| entry.expect("a file").path())
            .collect();
        files.sort();
        let (mut names, mut shapes) = (Vec::new(), Vec::new());
        for file in files {
            let text = std::fs::read_to_string(&file).expect("a file of starter patterns");
            let mut name = "";
            for line in text.lines() {
                if let Some(title) = line.strip_prefix("@pattern ") {
                    name = title;
                } else if let Some(written) = line.trim_start().strip_prefix("shape: ") {
                    let (shape, diagnostics) = shape::read(written);
                    assert!(diagnostics.is_empty(), "{name}: {written}: {diagnostics:?}");
                    names.push(name.to_owned());
                    shapes.push(shape);
                }
            }
        }
        Self { names, shapes }
    }

    /// The patterns that a problem matches, best first, each with its match.
    fn of(&self, problem: &Problem) -> Vec<(&str, Match)> {
        let found = shape::classify(&self.shapes, problem);
        let mut patterns: Vec<(&str, Match)> = Vec::new();
        for place in shape::best_first(&self.shapes, &found) {
            let name = self.names[place].as_str();
            if let Some(found) = &found[place]
                && patterns.iter().all(|(known, _)| *known != name)
            {
                patterns.push((name, found.clone()));
            }
        }
        patterns
    }
}

/// One line of a table.
struct Case<'t> {
    kind: &'t str,
    instruction: &'t str,
    exercise: &'t str,
    expected: Vec<&'t str>,
}

fn cases() -> Vec<Case<'static>> {
    let mut cases = Vec::new();
    for (_, table) in TABLES {
        let (mut kind, mut instruction) = ("", "");
        for line in table.lines() {
            if line.is_empty() || line.starts_with('%') {
                continue;
            }
            if let Some(new) = line.strip_prefix("# ") {
                kind = new;
            } else if let Some(new) = line.strip_prefix("> ") {
                instruction = new;
            } else {
                let (exercise, expected) = line.rsplit_once(" => ").expect("a line with =>");
                let expected = match expected {
                    "none" => Vec::new(),
                    names => names.split(", ").collect(),
                };
                cases.push(Case {
                    kind,
                    instruction,
                    exercise,
                    expected,
                });
            }
        }
    }
    cases
}

fn kind(task: Task) -> &'static str {
    match task {
        Task::Equation => "equation",
        Task::Inequality => "inequality",
        Task::System => "system",
        Task::Simplify => "simplify",
        Task::Differentiate => "differentiate",
        Task::Integrate => "integrate",
        Task::Limit => "limit",
        Task::Sum => "sum",
        Task::Ode => "ode",
        Task::Matrix => "matrix",
        Task::Statement => "statement",
        Task::Other => "other",
    }
}

#[test]
fn problems_are_of_the_kinds_that_a_teacher_would_name() {
    let patterns = Patterns::starter();
    let known: BTreeSet<&str> = patterns.names.iter().map(String::as_str).collect();
    let cases = cases();
    // For each pattern: found and listed, listed and not found, found and not listed.
    let mut confusion: BTreeMap<&str, [usize; 3]> = BTreeMap::new();
    let mut wrong = Vec::new();
    for case in &cases {
        let problem = problem::read_exercise(case.instruction, case.exercise);
        for name in &case.expected {
            assert!(known.contains(name), "there is no pattern `{name}`");
        }
        let found = patterns.of(&problem);
        let names: Vec<&str> = found.iter().map(|(name, _)| *name).collect();
        for name in &case.expected {
            let row = confusion.entry(name).or_default();
            row[usize::from(!names.contains(name))] += 1;
        }
        for name in &names {
            if !case.expected.contains(name)
                && let Some(known) = known.get(name)
            {
                confusion.entry(known).or_default()[2] += 1;
            }
        }
        let is_same_set = names.len() == case.expected.len()
            && case.expected.iter().all(|name| names.contains(name));
        let is_right = is_same_set
            && names.first() == case.expected.first()
            && kind(problem.task) == case.kind;
        if !is_right {
            let shown: Vec<String> = found
                .iter()
                .map(|(name, found)| match found.laws.is_empty() {
                    true => (*name).to_owned(),
                    false => format!("{name} {:?}", found.laws),
                })
                .collect();
            wrong.push(format!(
                "{} {}\n    expected {}: {}\n    found    {}: {}",
                case.instruction,
                case.exercise,
                case.kind,
                case.expected.join(", "),
                kind(problem.task),
                shown.join(", ")
            ));
        }
    }
    for (name, [right, missing, extra]) in &confusion {
        if missing + extra > 0 {
            eprintln!("{name}: {right} right, {missing} missing, {extra} too many");
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {}:\n{}",
        wrong.len(),
        cases.len(),
        wrong.join("\n")
    );
    assert!(cases.len() > 500, "{}", cases.len());
}

/// Exercises in groups below one instruction: read, of the right kind of task, and the pattern that a
/// teacher would name comes first.
#[test]
fn a_group_is_of_the_kind_that_its_instruction_says() {
    let patterns = Patterns::starter();
    let (mut kind_of_task, mut instruction, mut expected) = ("", "", "");
    let mut wrong = Vec::new();
    let (mut groups, mut exercises) = (0, 0);
    for line in include_str!("classification/groups.txt").lines() {
        match line.split_once(' ') {
            _ if line.is_empty() || line.starts_with('%') => continue,
            Some(("#", new)) => kind_of_task = new,
            Some((">", new)) => instruction = new,
            Some(("=", new)) => (expected, groups) = (new, groups + 1),
            _ => {
                exercises += 1;
                let (exercise, expected) = line.rsplit_once(" => ").unwrap_or((line, expected));
                let problem = problem::read_exercise(instruction, exercise);
                let found = patterns.of(&problem);
                let first = found.first().map_or("none", |(name, _)| *name);
                let is_first = expected.split(" | ").any(|name| name == first);
                let task = kind(problem.task);
                if !is_first || task != kind_of_task || problem.fingerprint.is_none() {
                    wrong.push(format!(
                        "{instruction} {exercise}\n    expected {kind_of_task}: {expected}\n    \
                         found    {task}: {first}, {:?}",
                        problem.fingerprint
                    ));
                }
            }
        }
    }
    assert!(
        wrong.is_empty(),
        "{} of {exercises}:\n{}",
        wrong.len(),
        wrong.join("\n")
    );
    assert!(groups > 150 && exercises > 600, "{groups} {exercises}");
}
