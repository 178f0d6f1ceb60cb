//! Another problem like one of the notes: a new `@problem` with other numbers and its key, below the
//! problem, or below the last one of a pattern.

use std::fmt;

use notes::{BlockKind, Key, Located, NameKey, NamedThing, Span};

use crate::drawn_paper::seed_of;
use crate::edit::NotebookEdit;
use crate::fresh_numbers::{FreshNumbers, fresh_numbers, may_vary, numbers_of};
use crate::new_field::line_ending;
use crate::{Analysis, words};

/// A problem that was added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AddedProblem {
    /// The change.
    pub edit: NotebookEdit,
    /// Its title; empty where the one that it is like has none.
    pub title: String,
    /// The problem that it is like.
    pub like: String,
    /// The end of that problem, below which it stands.
    pub place: (notes::FilePath, Span),
}

/// Why no problem was added.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoOther {
    /// The block is neither a problem nor a pattern.
    NotAProblem,
    /// The pattern has no problem in the notes.
    NoProblem(String),
    /// The problem stands in a paper, which would grow by it.
    InPaper {
        /// The problem.
        problem: String,
        /// The paper.
        paper: String,
    },
    /// None can be made, and why.
    NoneMade {
        /// The problem.
        problem: String,
        /// The reason, in one sentence without its final stop.
        reason: String,
    },
}

impl fmt::Display for NoOther {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::NotAProblem => f.write_str(
                "There is no @problem or @pattern here to make another problem like it.",
            ),
            Self::NoProblem(pattern) => write!(
                f,
                "There is no problem of the kind {pattern} in the notes to make another one like it: \
                 write @problem and pattern: {pattern} below a first one."
            ),
            Self::InPaper { problem, paper } => write!(
                f,
                "{problem} belongs to {paper}, which would grow by another one: copy it to your notes \
                 first."
            ),
            Self::NoneMade { problem, reason } => {
                write!(f, "No other problem like {problem} can be made: {reason}.")
            }
        }
    }
}

impl AddedProblem {
    /// What was done, in a sentence.
    pub fn summary(&self) -> String {
        match self.title.as_str() {
            "" => format!("Added a problem like {}, with other numbers.", self.like),
            title => format!("Added {title}: {} with other numbers.", self.like),
        }
    }
}

/// Whether a block may have another like it, as far as can be told at a glance.
pub(crate) fn offers_another(analysis: &Analysis, at: &Located<'_>) -> bool {
    match at.block.kind {
        Some(BlockKind::Problem) => may_vary(at) && at.entry.context.paper.is_none(),
        Some(BlockKind::Pattern) => {
            let course = analysis.notebook.course_of(at.path, at.entry);
            let problems = analysis.notebook.problems_of(&course, &at.block.name);
            problems.iter().any(may_vary)
        }
        _ => false,
    }
}

/// Adds a problem like the one at hand, or like one of the pattern at hand, the last first. The same
/// notes give the same problem, and after it was added another one.
pub fn another_like_this(analysis: &Analysis, at: &Located<'_>) -> Result<AddedProblem, NoOther> {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    match at.block.kind {
        Some(BlockKind::Problem) => {
            if let Some(paper) = notebook.paper_of(at) {
                return Err(NoOther::InPaper {
                    problem: words::title(at),
                    paper: words::title(&paper),
                });
            }
            let fresh = made(analysis, &course, at)?;
            Ok(added(analysis, &course, at, at, &fresh))
        }
        Some(BlockKind::Pattern) => {
            let mut problems = notebook.problems_of(&course, &at.block.name);
            problems.retain(|problem| {
                problem.block.kind == Some(BlockKind::Problem)
                    && problem.entry.context.paper.is_none()
            });
            let Some(last) = problems.last() else {
                return Err(NoOther::NoProblem(words::title(at)));
            };
            let mut refusal = None;
            for problem in problems.iter().rev().take(TRIED) {
                match made(analysis, &course, problem) {
                    Ok(fresh) => return Ok(added(analysis, &course, problem, last, &fresh)),
                    Err(why) => refusal = refusal.or(Some(why)),
                }
            }
            Err(refusal.unwrap_or_else(|| NoOther::NoProblem(words::title(at))))
        }
        _ => Err(NoOther::NotAProblem),
    }
}

/// So many problems of a pattern are tried.
const TRIED: usize = 8;

fn made(analysis: &Analysis, course: &NameKey, at: &Located<'_>) -> Result<FreshNumbers, NoOther> {
    let taken = numbers_of(analysis, course, at);
    // Each problem that is there already takes the next seed.
    let seed = seed_of(at.block.name.as_str()) + taken.len() as u32;
    fresh_numbers(analysis, at, seed, &taken).map_err(|reason| NoOther::NoneMade {
        problem: words::title(at),
        reason,
    })
}

/// The new block behind `last`.
fn added<'a>(
    analysis: &'a Analysis,
    course: &NameKey,
    like: &Located<'a>,
    last: &Located<'a>,
    fresh: &FreshNumbers,
) -> AddedProblem {
    let (title, before) = new_title(analysis, course, like);
    let last = match before {
        // Below those that were added before.
        Some(before) if last.id() == like.id() => before,
        _ => *last,
    };
    let mut lines = vec![format!("@problem {title}").trim_end().to_owned()];
    let field = |key: Key| {
        let field = like.block.field(key)?;
        let text = like.text(field.value_span);
        let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
        (!text.is_empty()).then(|| format!("  {}: {text}", key.word()))
    };
    lines.extend([Key::Topic, Key::Pattern].into_iter().filter_map(field));
    if !title.is_empty() {
        lines.push(format!(
            "  {}: {}, with other numbers",
            Key::From.word(),
            like.title()
        ));
    }
    lines.extend(
        fresh
            .text
            .lines()
            .map(|line| format!("  {line}").trim_end().to_owned()),
    );
    lines.push(format!("  {}: {}", Key::Answer.word(), fresh.answer));

    let place = last.in_file(last.block.extent).end as usize;
    let line_ending = line_ending(last.file, place);
    let mut text = String::new();
    for line in std::iter::once("").chain(lines.iter().map(String::as_str)) {
        text.push_str(&line_ending);
        text.push_str(line);
    }
    let mut edit = NotebookEdit::default();
    edit.replace(last.path, Span::at(place), text);
    AddedProblem {
        edit,
        title,
        like: words::title(like),
        place: (last.path.clone(), Span::at(place)),
    }
}

/// The title of a problem with a letter behind it that no other problem of the course has, and the
/// problem with the letter before it, if that stands in the same file. A problem that was added so
/// itself is one of its original.
fn new_title<'a>(
    analysis: &'a Analysis,
    course: &NameKey,
    like: &Located<'a>,
) -> (String, Option<Located<'a>>) {
    let title = like.title();
    if title.is_empty() {
        return (title, None);
    }
    let called = |title: &str| {
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Problem,
            name: NameKey::new(title),
        };
        analysis.notebook.definition(&thing)
    };
    let shorter = title.strip_suffix(|c: char| c.is_ascii_lowercase());
    let base = shorter.map(str::trim_end);
    let base = base.filter(|base| called(base).is_some());
    let base = base.unwrap_or(&title);
    let gap = if base.ends_with(|c: char| c.is_ascii_digit()) {
        ""
    } else {
        " "
    };
    let letters = ('b'..='z').map(|letter| format!("{base}{gap}{letter}"));
    let numbers = (27..).map(|number: u32| format!("{base}{gap}z{number}"));
    let mut before = None;
    for title in letters.chain(numbers) {
        match called(&title) {
            Some(there) => before = Some(there),
            None => return (title, before.filter(|at| at.path == like.path)),
        }
    }
    (String::new(), before)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::edit::applied;
    use crate::fixture;

    /// Adds a problem like the block at the cursor, and gives the file afterwards and the message.
    fn check(text: &str) -> Result<(String, String), String> {
        let fixture = fixture::notebook(text);
        let (path, offset) = fixture.cursor();
        let at = fixture.analysis().notebook.block_at(path, offset);
        let at = at.expect("a block");
        let added = another_like_this(fixture.analysis(), &at).map_err(|no| no.to_string())?;
        let before = &fixture.files[path];
        let edits = &added.edit.files[path];
        Ok((
            applied(before, edits).expect("edits that fit"),
            added.summary(),
        ))
    }

    const NOTES: &str = "@topic 1 Equations\n\n@pattern factoring\n  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; a is not 0\n\n\
         @problem 1.1\n  pattern: factoring\n  Solve\n  $$ x^2 - 5x + 6 = 0 $$\n  by hand.\n  answer: $x = 2$, $x = 3$\n\nProse.\n";

    #[test]
    fn a_problem_with_other_numbers_stands_below() {
        let (after, said) = check(&NOTES.replace("by hand", "by<|> hand")).expect("another");
        assert_eq!(said, "Added 1.1b: 1.1 with other numbers.");
        let (head, new) = after
            .split_once("\n\n@problem 1.1b\n")
            .expect("it stands there");
        assert!(NOTES.starts_with(head), "{after}");
        assert!(
            new.starts_with(
                "  pattern: factoring\n  from: 1.1, with other numbers\n  Solve\n  $$ "
            ),
            "{new}"
        );
        assert!(new.contains("\n  by hand.\n  answer: $x = "), "{new}");
        assert!(new.ends_with("\n\nProse.\n"), "{new}");
        assert!(!new.contains("x^2 - 5x + 6"), "{new}");
    }

    #[test]
    fn a_second_one_is_another_again_and_its_key_holds() {
        let mut notes = NOTES.replace("by hand", "by<|> hand");
        let mut seen = BTreeSet::new();
        for expected in ["1.1b", "1.1c", "1.1d"] {
            let (after, said) = check(&notes).expect("another");
            assert!(said.starts_with(&format!("Added {expected}:")), "{said}");
            let fixture = fixture::notebook(&after);
            let analysis = fixture.analysis();
            let path = notes::FilePath::new("notes.porism");
            for at in analysis.notebook.blocks_in(&path) {
                if at.block.kind == Some(BlockKind::Problem) && at.title() == expected {
                    assert!(seen.insert(at.statement()), "{after}");
                }
            }
            let found = crate::diagnostics::check_all(analysis);
            let found: Vec<&str> = found.values().flatten().map(|f| f.code).collect();
            assert!(!found.contains(&"wrong-answer"), "{found:?}");
            assert!(!found.contains(&"same-text"), "{found:?}");
            assert!(after.ends_with("\n\nProse.\n"), "{after}");
            let headers: Vec<&str> = after
                .lines()
                .filter(|l| l.starts_with("@problem"))
                .collect();
            assert_eq!(
                headers.last(),
                Some(&format!("@problem {expected}").as_str())
            );
            notes = after.replace(
                "by hand.\n  answer: $x = 2$,",
                "by<|> hand.\n  answer: $x = 2$,",
            );
        }
        assert_eq!(seen.len(), 3);
    }

    #[test]
    fn a_pattern_gets_one_below_its_last_problem() {
        let notes = NOTES.replace("@pattern fac", "@pattern fa<|>c")
            + "\n@problem\n  pattern: factoring\n  Solve $x^2 - 9 = 0$.\n\n@problem 7\n  Say why.\n";
        let (after, said) = check(&notes).expect("another");
        assert_eq!(
            said,
            "Added a problem like unnamed problem, with other numbers."
        );
        let (_, new) = after
            .split_once("$x^2 - 9 = 0$.\n\n@problem\n")
            .expect("it stands there");
        assert!(new.starts_with("  pattern: factoring\n  Solve $"), "{new}");
    }

    #[test]
    fn what_cannot_be_made_is_said() {
        let refused = |text: &str| check(text).expect_err("a refusal");
        assert_eq!(
            refused("@problem 1\n  Prove<|> that there is one.\n"),
            "No other problem like 1 can be made: there is no formula in it that is understood."
        );
        assert_eq!(
            refused("@pattern fac<|>toring\n"),
            "There is no problem of the kind factoring in the notes to make another one like it: write \
             @problem and pattern: factoring below a first one."
        );
        assert_eq!(
            refused("@paper Sheet\n\n@problem 1\n  Solve<|> $x^2 = 4$.\n"),
            "1 belongs to Sheet, which would grow by another one: copy it to your notes first."
        );
        let said = refused("@problem 1\n  Prove<|> that $x = x$.\n");
        assert!(
            said.starts_with("No other problem like 1 can be made: "),
            "{said}"
        );
        assert_eq!(
            refused("@topic 1 Se<|>ts\n"),
            "There is no @problem or @pattern here to make another problem like it."
        );
    }
}
