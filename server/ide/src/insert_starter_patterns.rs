//! Inserting patterns of the starter set into a course, those of a subject that it does not have.
//!
//! They go into a file `patterns.porism` beside the course, behind what stands there already. What
//! a pattern reduces to or is confused with is kept where the course has it.

use std::collections::BTreeSet;
use std::fmt;

use notes::{BlockKind, FilePath, Key, Located, NameKey, NamedThing, Notebook, Span};

use crate::edit::NotebookEdit;
use crate::new_field::line_ending;
use crate::starter::{SUBJECTS, Subject};
use crate::{Analysis, Workspace, commands, words};

/// What was inserted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InsertedPatterns {
    /// The change.
    pub edit: NotebookEdit,
    /// The file, and where the new patterns begin in it.
    pub place: (FilePath, Span),
    /// The new patterns' titles.
    pub inserted: Vec<String>,
    /// The titles of those that the course has already.
    pub already: Vec<String>,
}

/// Why nothing was inserted.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum InsertRefusal {
    /// There is no such subject.
    UnknownSubject(String),
    /// There is no such course.
    UnknownCourse(String),
    /// The course has all patterns of the subject.
    AllThere(&'static str),
}

impl fmt::Display for InsertRefusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::UnknownSubject(asked) => {
                let names: Vec<&str> = SUBJECTS.iter().map(|subject| subject.name).collect();
                write!(
                    f,
                    "No starter patterns are called {asked}. There are: {}.",
                    names.join(", ")
                )
            }
            Self::UnknownCourse(asked) => write!(
                f,
                "No course is called {asked} in these notes: write @course and its name first."
            ),
            Self::AllThere(subject) => write!(
                f,
                "The course has every starter pattern of {subject} already."
            ),
        }
    }
}

impl InsertedPatterns {
    /// What was done, in a few sentences.
    pub fn summary(&self) -> String {
        let mut said = format!(
            "Inserted {} into {}.",
            words::count(self.inserted.len(), "pattern"),
            self.place.0
        );
        if !self.already.is_empty() {
            said.push_str(&format!(
                " The course has these already: {}.",
                self.already.join(", ")
            ));
        }
        said
    }
}

/// The subject of this name.
pub fn subject(name: &str) -> Result<&'static Subject, InsertRefusal> {
    let key = NameKey::new(&name.replace('-', " "));
    let found = SUBJECTS
        .iter()
        .find(|subject| NameKey::new(&subject.name.replace('-', " ")) == key);
    found.ok_or_else(|| InsertRefusal::UnknownSubject(name.to_owned()))
}

/// The subjects of which a course does not have every pattern by name.
pub fn subjects_to_insert(notebook: &Notebook, course: &NameKey) -> Vec<&'static Subject> {
    let has: BTreeSet<&NameKey> = notebook.names(course, BlockKind::Pattern).collect();
    let lacks = |subject: &&Subject| subject.names().any(|name| !has.contains(&name));
    SUBJECTS.iter().filter(lacks).collect()
}

/// Inserts the patterns of a subject that a course does not have, by name or by shape.
pub fn insert_starter_patterns(
    analysis: &Analysis,
    course: &NameKey,
    subject: &'static Subject,
) -> Result<InsertedPatterns, InsertRefusal> {
    let notebook = &analysis.notebook;
    let own: Vec<Located<'_>> = notebook.of_kind(course, BlockKind::Pattern).collect();
    let mut names: BTreeSet<NameKey> = own.iter().map(|at| at.block.name.clone()).collect();
    let shapes: BTreeSet<String> = own.iter().flat_map(shapes_of).collect();

    let source_path = FilePath::new("starter");
    let source = Workspace::from_files(analysis.now, [(source_path.as_str(), subject.text)]);
    let patterns = source.analysis().notebook.blocks_in(&source_path);
    let patterns = patterns.filter(|at| at.block.kind == Some(BlockKind::Pattern));
    let is_there = |at: &Located<'_>| {
        names.contains(&at.block.name) || shapes_of(at).iter().any(|shape| shapes.contains(shape))
    };
    let (already, new): (Vec<Located<'_>>, Vec<Located<'_>>) = patterns.partition(is_there);
    if new.is_empty() {
        return Err(InsertRefusal::AllThere(subject.name));
    }
    names.extend(new.iter().map(|at| at.block.name.clone()));
    let blocks: Vec<String> = new.iter().map(|at| pattern_text(at, &names)).collect();
    let block_text = blocks.join("\n");

    let path = file_of(analysis, course)?;
    let mut edit = NotebookEdit::default();
    let start = match notebook.file(&path) {
        Some(file) => {
            let text = file.text();
            let end = text.len_bytes();
            let last = text.chars_at(text.len_chars()).reversed().next();
            let gap = match last {
                None => "",
                Some('\n' | '\r') => "\n",
                Some(_) => "\n\n",
            };
            let new = format!("{gap}{block_text}").replace('\n', &line_ending(file, 0));
            edit.replace(&path, Span::at(end), new);
            end
        }
        None => {
            // What the folder does not tell.
            let is_told = notebook.course_at(&path, 0) == *course;
            let head = match is_told {
                true => String::new(),
                false => format!("@course {}\n\n", commands::course_title(analysis, course)),
            };
            let start = head.len();
            edit.created
                .insert(path.clone(), format!("{head}{block_text}"));
            start
        }
    };
    let titles = |all: &[Located<'_>]| all.iter().map(words::title).collect();
    Ok(InsertedPatterns {
        edit,
        place: (path, Span::at(start)),
        inserted: titles(&new),
        already: titles(&already),
    })
}

/// The shapes of a pattern, as they are compared.
fn shapes_of(at: &Located<'_>) -> Vec<String> {
    let fields = at.block.fields_of(Key::Shape);
    let text = |span| {
        at.text(span)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
    };
    let texts = fields.map(|field| text(field.value_span));
    texts.filter(|text| !text.is_empty()).collect()
}

/// A pattern's text, with those of the patterns that it mentions that are there.
fn pattern_text(at: &Located<'_>, names: &BTreeSet<NameKey>) -> String {
    let mut lines: Vec<String> = Vec::new();
    for line in at.text(at.block.extent).lines() {
        let list = [Key::ReducesTo, Key::ConfusedWith]
            .into_iter()
            .find_map(|key| {
                let prefix = format!("  {}: ", key.word());
                Some((line.strip_prefix(&prefix)?, prefix))
            });
        let Some((list, prefix)) = list else {
            lines.push(line.to_owned());
            continue;
        };
        let kept: Vec<&str> = list
            .split(',')
            .map(str::trim)
            .filter(|name| names.contains(&NameKey::new(name)))
            .collect();
        if !kept.is_empty() {
            lines.push(format!("{prefix}{}", kept.join(", ")));
        }
    }
    lines.push(String::new());
    lines.join("\n")
}

/// The file for a course's patterns: `patterns.porism` beside the course, if that is free or
/// belongs to the course.
fn file_of(analysis: &Analysis, course: &NameKey) -> Result<FilePath, InsertRefusal> {
    let notebook = &analysis.notebook;
    let thing = NamedThing {
        course: NameKey::default(),
        kind: BlockKind::Course,
        name: course.clone(),
    };
    let home = match notebook.definition(&thing) {
        Some(at) => at.path.folder().to_owned(),
        // Notes of no course.
        None if course.is_empty() => {
            let first = notebook.files().next();
            first.map_or_else(String::new, |(path, _)| path.folder().to_owned())
        }
        None => return Err(InsertRefusal::UnknownCourse(course.to_string())),
    };
    let folder = match home.as_str() {
        "" => String::new(),
        home => format!("{home}/"),
    };
    let mut number = 1;
    loop {
        let name = match number {
            1 => "patterns".to_owned(),
            n => format!("patterns-{n}"),
        };
        let path = FilePath::new(&format!("{folder}{name}.porism"));
        let belongs = match notebook.file(&path) {
            Some(file) => notebook.course_at(&path, file.text().len_bytes()) == *course,
            None => true,
        };
        if belongs {
            return Ok(path);
        }
        number += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::{Severity, check_all};
    use crate::fixture;

    fn insert(text: &str, course: &str, name: &str) -> Result<(String, String), String> {
        let fixture = fixture::notebook(text);
        let subject = subject(name).map_err(|refusal| refusal.to_string())?;
        let done = insert_starter_patterns(fixture.analysis(), &NameKey::new(course), subject)
            .map_err(|refusal| refusal.to_string())?;
        Ok((fixture.after(&done.edit), done.summary()))
    }

    #[test]
    fn a_subject_is_inserted_beside_its_course() {
        let (after, said) = insert("=== a/course.porism\n@course A\n", "A", "series").unwrap();
        assert!(after.starts_with("@pattern "), "{after}");
        assert!(after.matches("@pattern ").count() >= 8, "{after}");
        assert!(
            said.starts_with("Inserted ") && said.ends_with("a/patterns.porism."),
            "{said}"
        );
        let (after, _) = insert(
            "=== course.porism\n@course A\n=== b.porism\n@course B\n",
            "B",
            "series",
        )
        .unwrap();
        assert!(after.starts_with("@course B\n\n@pattern "), "{after}");
    }

    #[test]
    fn what_the_course_has_by_name_or_shape_is_not_inserted_again() {
        let text = "@course A\n\n@pattern Linear  Equation\n\n@pattern mine\n  shape: $a x^2 + b x + c = 0$ where \
                    a, b, c are numbers; a is not 0; b^2 - 4 a c is a perfect square\n";
        let (after, said) = insert(text, "A", "equations").unwrap();
        let lines: Vec<&str> = after.lines().collect();
        assert!(!lines.contains(&"@pattern linear equation"), "{after}");
        assert!(
            !lines.contains(&"@pattern quadratic by factoring"),
            "{after}"
        );
        assert!(lines.contains(&"@pattern quadratic formula"), "{after}");
        assert!(
            said.ends_with(
                "The course has these already: linear equation, quadratic by factoring."
            ),
            "{said}"
        );
    }

    #[test]
    fn every_subject_is_inserted_once_and_leaves_no_name_undefined() {
        let course = NameKey::new("A");
        let mut files = vec![("course.porism".to_owned(), "@course A\n".to_owned())];
        for subject in &SUBJECTS {
            let texts = files
                .iter()
                .map(|(path, text)| (path.as_str(), text.as_str()));
            let workspace = Workspace::from_files(fixture::now(), texts);
            let done = insert_starter_patterns(workspace.analysis(), &course, subject).unwrap();
            assert_eq!(done.already, Vec::<String>::new(), "{}", subject.name);
            let (path, _) = &done.place;
            let text = match done.edit.created.get(path) {
                Some(text) => text.clone(),
                None => {
                    let before = &files.last().expect("the patterns").1;
                    crate::edit::applied(before, &done.edit.files[path]).expect("it fits")
                }
            };
            files.retain(|(name, _)| name != path.as_str());
            files.push((path.as_str().to_owned(), text));

            let texts = files
                .iter()
                .map(|(path, text)| (path.as_str(), text.as_str()));
            let workspace = Workspace::from_files(fixture::now(), texts);
            let found = check_all(workspace.analysis());
            let grave: Vec<_> = found
                .values()
                .flatten()
                .filter(|finding| finding.severity <= Severity::Information)
                .collect();
            assert!(grave.is_empty(), "{}: {grave:#?}", subject.name);
            let again = insert_starter_patterns(workspace.analysis(), &course, subject);
            assert_eq!(again, Err(InsertRefusal::AllThere(subject.name)));
        }
    }

    #[test]
    fn what_is_not_there_is_said() {
        let said = insert("@course A\n", "A", "cooking").unwrap_err();
        assert!(
            said.contains("equations, inequalities-and-systems"),
            "{said}"
        );
        let said = insert("@course A\n", "B", "series").unwrap_err();
        assert!(said.contains("No course is called b"), "{said}");
    }
}
