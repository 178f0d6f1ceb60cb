//! What mock tests, drill sheets and spotting rounds have in common: a new file of the notes in which
//! questions stand, its name, its title and its seed.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use notes::{BlockKind, FilePath, NameKey, NamedThing, UnitId};

use crate::edit::NotebookEdit;
use crate::papers::papers;
use crate::{Analysis, words};

/// The longest part of a file name that is taken from a title, in characters.
const SLUG_LENGTH: usize = 40;
/// Seeds that nobody chose are below this, short enough to type again.
const SEEDS: u64 = 1_000_000;

/// A drawn paper.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnPaper {
    /// The new file; there is none of this name in the notebook.
    pub path: FilePath,
    /// Its text.
    pub text: String,
    /// The paper's title.
    pub title: String,
    /// The seed it was drawn with.
    pub seed: u32,
    /// Its questions, in order.
    pub questions: Vec<DrawnQuestion>,
    /// What could not be had, each in a sentence.
    pub shortfalls: Vec<String>,
}

/// One question of a drawn paper.
#[derive(Clone, Debug, PartialEq)]
pub struct DrawnQuestion {
    /// The problem, theorem or definition it was drawn from.
    pub source: UnitId,
    /// What it asks, in lines joined by line feeds.
    pub text: String,
    /// The number that its numbers were drawn with, where they are not those of the notes.
    pub seed: Option<u32>,
    /// Why it was chosen, in words.
    pub why: String,
}

impl DrawnPaper {
    /// How many questions have other numbers than the notes, in a sentence.
    pub fn varied_in_words(&self) -> Option<String> {
        let varied = self.questions.iter().filter(|q| q.seed.is_some()).count();
        let verb = if varied == 1 { "has" } else { "have" };
        (varied > 0).then(|| {
            format!(
                "{} {verb} other numbers than in your notes.",
                words::count(varied, "question")
            )
        })
    }

    /// The paper as a change of the notebook.
    pub fn edit(&self) -> NotebookEdit {
        let mut edit = NotebookEdit::default();
        edit.created.insert(self.path.clone(), self.text.clone());
        edit
    }
}

/// The first free file name among the papers of a course, and its number. `otherwise` is a file of
/// the course, for one that nothing defines; `what` is the beginning of the name.
pub(crate) fn new_path(
    analysis: &Analysis,
    course: &NameKey,
    otherwise: &FilePath,
    what: &str,
    today: NaiveDate,
) -> (FilePath, u32) {
    let home = analysis.notebook.definition(&course_thing(course));
    let folder = home.map_or(otherwise.folder(), |at| at.path.folder());
    let folder = if folder.is_empty() {
        String::new()
    } else {
        format!("{folder}/")
    };
    let slug = slug(what);
    let mut number = 1;
    loop {
        let path = FilePath::new(&format!("{folder}papers/{slug}-{today}-{number}.porism"));
        if analysis.notebook.file(&path).is_none() {
            return (path, number);
        }
        number += 1;
    }
}

/// A title as a part of a file name: its letters and digits, in lower case.
fn slug(title: &str) -> String {
    let mut slug = String::new();
    for c in title.chars().flat_map(char::to_lowercase) {
        if c.is_alphanumeric() {
            slug.push(c);
        } else if !slug.is_empty() && !slug.ends_with('-') {
            slug.push('-');
        }
    }
    let slug: String = slug.chars().take(SLUG_LENGTH).collect();
    match slug.trim_end_matches('-') {
        "" => "exam".to_owned(),
        slug => slug.to_owned(),
    }
}

/// A title that no paper of the course has yet: `stem` and a number, from `first` on.
pub(crate) fn new_title(analysis: &Analysis, course: &NameKey, stem: &str, first: usize) -> String {
    let titles: BTreeSet<NameKey> = papers(&analysis.notebook, course)
        .iter()
        .map(|p| p.at.block.name.clone())
        .collect();
    let mut number = first;
    loop {
        let title = format!("{stem} {number}");
        if !titles.contains(&NameKey::new(&title)) {
            return title;
        }
        number += 1;
    }
}

/// The seed of a paper for which none is asked: it follows from the date, what the paper is for and
/// its number.
pub(crate) fn default_seed(today: NaiveDate, course: &NameKey, what: &str, number: u32) -> u32 {
    let text = format!("{today}\n{course}\n{what}\n{number}");
    seed_of(&text)
}

/// A seed that follows from a text.
pub(crate) fn seed_of(text: &str) -> u32 {
    (fnv_1a(text) % SEEDS) as u32
}

/// The 64-bit FNV-1a hash of Fowler, Noll and Vo: the same on every platform.
pub(crate) fn fnv_1a(text: &str) -> u64 {
    const OFFSET: u64 = 0xcbf2_9ce4_8422_2325;
    const PRIME: u64 = 0x0000_0100_0000_01b3;
    text.bytes().fold(OFFSET, |hash, byte| {
        (hash ^ u64::from(byte)).wrapping_mul(PRIME)
    })
}

/// The course that a paper in this file has to name, where its folder does not tell.
pub(crate) fn course_to_name(
    analysis: &Analysis,
    path: &FilePath,
    course: &NameKey,
) -> Option<String> {
    (analysis.notebook.course_at(path, 0) != *course).then(|| {
        let definition = analysis.notebook.definition(&course_thing(course));
        definition.map_or_else(|| course.to_string(), |at| at.title())
    })
}

fn course_thing(course: &NameKey) -> NamedThing {
    NamedThing {
        course: NameKey::default(),
        kind: BlockKind::Course,
        name: course.clone(),
    }
}

/// Items as a list in a sentence: `a, b and c`.
pub(crate) fn list(items: &[String], last: &str) -> String {
    match items {
        [] => String::new(),
        [only] => only.clone(),
        [first @ .., end] => format!("{} {last} {end}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fnv_1a_gives_the_published_values() {
        // Test vectors of the algorithm's authors for 64 bits (values from memory).
        assert_eq!(fnv_1a(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(fnv_1a("a"), 0xaf63_dc4c_8601_ec8c);
        assert_eq!(fnv_1a("foobar"), 0x8594_4171_f739_67e8);
    }

    #[test]
    fn a_title_becomes_a_part_of_a_file_name() {
        assert_eq!(slug("Midterm: 1.1 & Über"), "midterm-1-1-über");
        assert_eq!(slug("$?"), "exam");
    }
}
