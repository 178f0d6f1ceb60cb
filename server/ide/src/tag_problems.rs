//! Tagging problems without a pattern with the one whose shape they have, many at once.

use std::collections::BTreeMap;
use std::fmt;

use notes::value::Value;
use notes::{BlockKind, FilePath, Key, Located, NameKey};

use crate::edit::NotebookEdit;
use crate::kinds::{Catalogue, Kind};
use crate::new_field::{add_field_on_top, set_field};
use crate::wording::Wording;
use crate::{Analysis, words};

/// Which problems to tag.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Untagged {
    /// Those of a file, each with the pattern that fits best.
    InFile(FilePath),
    /// Those of a course that have a shape of one pattern.
    Matching {
        /// The course; empty for notes of no course.
        course: NameKey,
        /// The pattern.
        pattern: NameKey,
    },
}

/// What was tagged.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TaggedProblems {
    /// The change.
    pub edit: NotebookEdit,
    /// The problems that were tagged, each with its pattern.
    pub tagged: Vec<(String, String)>,
    /// The problems that two patterns fit equally well, which are left to the student.
    pub unclear: Vec<String>,
}

/// Nothing was to be tagged.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NothingToTag;

impl fmt::Display for NothingToTag {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(
            "No problem without a pattern has a shape of one: give patterns a shape: line, or \
             insert starter patterns.",
        )
    }
}

impl TaggedProblems {
    /// What was done, in a few sentences.
    pub fn summary(&self) -> String {
        let list = |items: &[String]| {
            let shown: Vec<&str> = items.iter().take(LISTED).map(String::as_str).collect();
            let more = items.len().saturating_sub(LISTED);
            match more {
                0 => shown.join(", "),
                more => format!("{} and {more} more", shown.join(", ")),
            }
        };
        let pairs = self.tagged.iter();
        let pairs: Vec<String> = pairs
            .map(|(problem, p)| format!("{problem} as {p}"))
            .collect();
        let mut said = format!(
            "Tagged {}: {}.",
            words::count(pairs.len(), "problem"),
            list(&pairs)
        );
        if !self.unclear.is_empty() {
            said.push_str(&format!(
                " Two patterns fit equally well, so that these are left to you: {}.",
                list(&self.unclear)
            ));
        }
        said
    }
}

/// So many problems are named in a message.
const LISTED: usize = 6;

/// Tags problems that have no pattern yet.
pub fn tag_problems(analysis: &Analysis, which: &Untagged) -> Result<TaggedProblems, NothingToTag> {
    let notebook = &analysis.notebook;
    let problems: Vec<Located<'_>> = match which {
        Untagged::InFile(path) => notebook.blocks_in(path).collect(),
        Untagged::Matching { course, .. } => notebook.of_kind(course, BlockKind::Problem).collect(),
    };
    let mut done = TaggedProblems {
        edit: NotebookEdit::default(),
        tagged: Vec::new(),
        unclear: Vec::new(),
    };
    let mut catalogue: Option<(NameKey, Catalogue<'_>)> = None;
    for at in problems.iter().filter(|at| is_untagged(at)) {
        let Some(problem) = &at.block.reading else {
            continue;
        };
        let course = notebook.course_of(at.path, at.entry);
        let (_, catalogue) = match &mut catalogue {
            Some(known) if known.0 == course => known,
            other => {
                let new = Catalogue::of_course(notebook, &course);
                other.insert((course, new))
            }
        };
        let mut kinds = catalogue.kinds(&analysis.mathematics, &Wording::of_statement(at), problem);
        if let Untagged::Matching { pattern, .. } = which {
            kinds.retain(|kind| kind.pattern.name == *pattern);
        }
        let Some(best) = kinds.first() else { continue };
        if kinds
            .get(1)
            .is_some_and(|second| best.fits_no_better_than(second))
        {
            done.unclear.push(words::title(at));
            continue;
        }
        set_pattern(&mut done.edit, at, &best.pattern.at.title());
        done.tagged.push((words::title(at), best.title()));
    }
    match done.tagged.is_empty() {
        true => Err(NothingToTag),
        false => Ok(done),
    }
}

/// Whether a block is a problem that names no pattern.
pub(crate) fn is_untagged(at: &Located<'_>) -> bool {
    let field = at.block.field(Key::Pattern);
    at.block.kind == Some(BlockKind::Problem)
        && field.is_none_or(|field| field.value == Value::Empty)
}

/// Names the pattern of a block: behind the `pattern:` that waits for it, or on a line of its own
/// below the header.
pub(crate) fn set_pattern(edit: &mut NotebookEdit, at: &Located<'_>, pattern: &str) {
    match at.block.field(Key::Pattern) {
        Some(_) => set_field(edit, at, Key::Pattern, pattern),
        None => add_field_on_top(edit, at, Key::Pattern, pattern),
    }
}

/// How many problems without a pattern have a shape of each pattern of a course, as far as that
/// is known.
pub(crate) fn count_matching(analysis: &Analysis, course: &NameKey) -> BTreeMap<NameKey, usize> {
    let mut counts = BTreeMap::new();
    let catalogue = Catalogue::of_course(&analysis.notebook, course);
    if catalogue.patterns().is_empty() {
        return counts;
    }
    for at in analysis.notebook.of_kind(course, BlockKind::Problem) {
        if !is_untagged(&at) {
            continue;
        }
        let statement = Wording::of_statement(&at);
        let kinds = catalogue.known_kinds(&analysis.mathematics, &statement);
        for kind in kinds.into_iter().flatten() {
            *counts.entry(kind.pattern.name).or_insert(0) += 1;
        }
    }
    counts
}

impl Kind<'_> {
    /// Whether nothing but the order of the notes puts this kind before another.
    fn fits_no_better_than(&self, other: &Kind<'_>) -> bool {
        self.shape.rank(&self.found) == other.shape.rank(&other.found)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    const PATTERNS: &str = "\
@pattern linear equation
  shape: $a x + b = 0$ where a, b are numbers; a is not 0

@pattern quadratic equation
  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0

@pattern second degree
  shape: $a u^2 + b u + c = 0$ where a, b, c are numbers; a is not 0; u is linear in x

";

    /// Tags the problems below [`PATTERNS`]; gives them as they are afterwards and the summary.
    fn check(problems: &str, which: &Untagged) -> (String, String) {
        let fixture = fixture::notebook(&format!("{PATTERNS}{problems}"));
        match tag_problems(fixture.analysis(), which) {
            Ok(done) => {
                let after = fixture.after(&done.edit);
                let after = after.strip_prefix(PATTERNS).expect("the patterns stay");
                (after.to_owned(), done.summary())
            }
            Err(nothing) => (String::new(), nothing.to_string()),
        }
    }

    fn in_file() -> Untagged {
        Untagged::InFile(FilePath::new("notes.porism"))
    }

    #[test]
    fn each_problem_gets_the_pattern_that_fits_best() {
        let (after, said) = check(
            "@problem 1\n  Solve $2x + 3 = 0$.\n\n@problem 2\n  pattern: mine\n  Solve $x = 1$.\n\n\
             @problem 3\n  Say why.\n\n@problem 4\n  pattern:\n  Solve $5 - 3x = x$.\n",
            &in_file(),
        );
        assert_eq!(
            after,
            "@problem 1\n  pattern: linear equation\n  Solve $2x + 3 = 0$.\n\n\
             @problem 2\n  pattern: mine\n  Solve $x = 1$.\n\n@problem 3\n  Say why.\n\n\
             @problem 4\n  pattern: linear equation\n  Solve $5 - 3x = x$.\n"
        );
        assert_eq!(
            said,
            "Tagged 2 problems: 1 as linear equation, 4 as linear equation."
        );
    }

    #[test]
    fn nothing_to_tag_is_said() {
        let (after, said) = check("@problem 1\n  Say why.\n", &in_file());
        assert_eq!(after, "");
        assert!(said.contains("No problem without a pattern"), "{said}");
    }

    #[test]
    fn the_problems_that_match_one_pattern_can_be_tagged() {
        let which = Untagged::Matching {
            course: NameKey::default(),
            pattern: NameKey::new("quadratic equation"),
        };
        let (after, said) = check(
            "@problem 1\n  Solve $2x + 3 = 0$.\n\n@problem 2\n  Solve $x^2 - 5x + 6 = 0$.\n",
            &which,
        );
        assert_eq!(
            after,
            "@problem 1\n  Solve $2x + 3 = 0$.\n\n\
             @problem 2\n  pattern: quadratic equation\n  Solve $x^2 - 5x + 6 = 0$.\n"
        );
        assert_eq!(said, "Tagged 1 problem: 2 as quadratic equation.");
    }
}
