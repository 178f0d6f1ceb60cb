//! Writing a spotting round back to the problems it was drawn from, as one edit over all files that
//! the editor can undo: each gets a line `spotted: <date> right`, or `wrong` with what it was taken
//! for. The round is stamped `recorded:`, so that nothing is counted twice.

use std::fmt;

use chrono::NaiveDate;
use notes::{Key, UnitId};

use crate::edit::NotebookEdit;
use crate::new_field::{add_field, set_field};
use crate::own_kinds::{OwnKind, own_kind};
use crate::papers::{Paper, is_spotting};
use crate::question_source::Sources;
use crate::record_marks::{Unmarked, title};
use crate::{Analysis, words};

/// The edit that records a round, and what to say about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RecordedSpotting {
    /// The change: a `spotted:` line for each problem and the round's stamp.
    pub edit: NotebookEdit,
    /// The day of the spottings.
    pub date: NaiveDate,
    /// The problems that got a line, and whether their kind was named rightly.
    pub spotted: Vec<(UnitId, bool)>,
    /// What was taken for what: the kind that was said, the kind that it is.
    pub taken: Vec<(String, String)>,
    /// The questions whose problem is no longer in the notes, or says no kind any more.
    pub lost: Vec<String>,
    /// How many questions were passed over; nothing is written for them.
    pub passed_over: usize,
}

/// Why nothing was recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum NoSpotting {
    /// The round was recorded before.
    AlreadyRecorded {
        /// What `recorded:` says.
        when: String,
    },
    /// No kind is named yet.
    NothingNamed,
    /// Some questions have no kind.
    SomeUnnamed(Vec<String>),
    /// Some names are those of no pattern: each question with the name.
    Unknown(Vec<(String, String)>),
}

impl fmt::Display for NoSpotting {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::AlreadyRecorded { when } => write!(
                f,
                "This round was recorded before ({when}). To correct one, change the spotted: line of \
                 its problem."
            ),
            Self::NothingNamed => f.write_str(
                "No kind is named yet: behind pattern: write what kind of problem each question is.",
            ),
            Self::SomeUnnamed(questions) => write!(
                f,
                "No kind yet: {}. Name them, or record the round without them.",
                questions.join(", ")
            ),
            Self::Unknown(names) => {
                let said: Vec<String> = names
                    .iter()
                    .map(|(question, name)| format!("{question} has {name}"))
                    .collect();
                write!(
                    f,
                    "There is no pattern of this name: {}. Correct it first.",
                    said.join(", ")
                )
            }
        }
    }
}

impl RecordedSpotting {
    /// What was recorded, in a few sentences.
    pub fn summary(&self) -> String {
        let right = self.spotted.iter().filter(|(_, right)| *right).count();
        let mut said = format!(
            "Recorded a spotting round of {}: {right} of {} right.",
            self.date,
            words::count(self.spotted.len(), "kind"),
        );
        if !self.taken.is_empty() {
            let taken: Vec<String> = self
                .taken
                .iter()
                .map(|(said, is)| format!("{is} for {said}"))
                .collect();
            said.push_str(&format!(" Taken: {}.", taken.join(", ")));
        }
        if self.passed_over > 0 {
            said.push_str(&format!(
                " Passed over, nothing written: {}.",
                words::count(self.passed_over, "question")
            ));
        }
        if !self.lost.is_empty() {
            said.push_str(&format!(
                " No problem with a kind found in the notes: {}.",
                self.lost.join(", ")
            ));
        }
        said
    }
}

/// The edit that writes a round back to its problems. Questions without a kind are refused, or with
/// [`Unmarked::Skipped`] passed over.
pub fn record_spotting(
    analysis: &Analysis,
    round: &Paper<'_>,
    unmarked: Unmarked,
) -> Result<RecordedSpotting, NoSpotting> {
    if round.is_recorded() {
        let when = round.at.field_text(Key::Recorded).unwrap_or_default();
        return Err(NoSpotting::AlreadyRecorded { when });
    }
    let today = analysis.today();
    let mut done = RecordedSpotting {
        edit: NotebookEdit::default(),
        date: today,
        spotted: Vec::new(),
        taken: Vec::new(),
        lost: Vec::new(),
        passed_over: 0,
    };
    let sources = Sources::of(&analysis.notebook, &round.course);
    let (mut unnamed, mut unknown, mut named) = (Vec::new(), Vec::new(), 0);
    for question in round.questions().filter(|question| is_spotting(question)) {
        if question.block.names(Key::Pattern).is_empty() {
            unnamed.push(title(question));
            continue;
        }
        named += 1;
        let Ok(source) = sources.find(question) else {
            done.lost.push(title(question));
            continue;
        };
        let line = match own_kind(analysis, &round.course, question, &source) {
            None | Some(OwnKind::NoKind) => {
                done.lost.push(title(question));
                continue;
            }
            Some(OwnKind::Unknown(name)) => {
                unknown.push((title(question), name));
                continue;
            }
            Some(OwnKind::Right) => format!("{today} right"),
            Some(OwnKind::Wrong { said, is }) => {
                let line = format!("{today} wrong, taken for {said}");
                done.taken.push((said, is));
                line
            }
        };
        add_field(&mut done.edit, &source, Key::Spotted, &line);
        done.spotted.push((source.id(), !line.contains(" wrong,")));
    }
    if !unknown.is_empty() {
        return Err(NoSpotting::Unknown(unknown));
    }
    if named == 0 {
        return Err(NoSpotting::NothingNamed);
    }
    if !unnamed.is_empty() && unmarked == Unmarked::Refuse {
        return Err(NoSpotting::SomeUnnamed(unnamed));
    }
    done.passed_over = unnamed.len();
    let now = analysis.now.format("%Y-%m-%d %H:%M").to_string();
    set_field(&mut done.edit, &round.at, Key::Recorded, &now);
    Ok(done)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use crate::papers::papers;
    use notes::NameKey;

    const NOTES: &str = "\
@pattern separable

@pattern linear

@problem 1
  pattern: separable
  Decide one.
  spotted: 2027-02-01 wrong

@problem 2
  pattern: linear
  Decide two.
=== papers/r.porism
@paper Round
  drawn: 2027-02-15

";

    fn recorded(questions: &str, unmarked: Unmarked) -> Result<(String, String), String> {
        let fixture = fixture::notebook(&format!("{NOTES}{questions}"));
        let round = papers(&fixture.analysis().notebook, &NameKey::default()).remove(0);
        let done = record_spotting(fixture.analysis(), &round, unmarked);
        let done = done.map_err(|why| why.to_string())?;
        Ok((fixture.after(&done.edit), done.summary()))
    }

    fn question(number: u32, text: &str, pattern: &str) -> String {
        format!("@question {number}\n  of: {number}\n  Decide {text}.\n\n  pattern: {pattern}\n\n")
    }

    #[test]
    fn each_problem_gets_a_line() {
        let questions = question(1, "one", "Separable") + &question(2, "two", "separable");
        let (after, said) = recorded(&questions, Unmarked::Refuse).expect("recorded");
        assert!(
            after.contains("  spotted: 2027-02-01 wrong\n  spotted: 2027-02-15 right\n"),
            "{after}"
        );
        assert!(
            after.contains("  Decide two.\n  spotted: 2027-02-15 wrong, taken for separable\n"),
            "{after}"
        );
        assert!(
            after.contains("  drawn: 2027-02-15\n  recorded: 2027-02-15 12:00\n"),
            "{after}"
        );
        assert_eq!(
            said,
            "Recorded a spotting round of 2027-02-15: 1 of 2 kinds right. Taken: linear for separable."
        );
        let fixture = fixture::notebook(&after);
        let notebook = &fixture.analysis().notebook;
        let spotted: Vec<bool> = notebook
            .of_kind(&NameKey::default(), notes::BlockKind::Problem)
            .flat_map(|at| at.block.spottings().map(|s| s.right).collect::<Vec<_>>())
            .collect();
        assert_eq!(spotted, [false, true, false], "what was written is read");
    }

    #[test]
    fn a_round_is_recorded_once_and_only_when_it_can_be() {
        let first = question(1, "one", "separable");
        let refused = |questions: &str| recorded(questions, Unmarked::Refuse).expect_err("refused");
        assert_eq!(
            refused(&format!("{first}{}", question(2, "two", ""))),
            "No kind yet: question 2. Name them, or record the round without them."
        );
        assert_eq!(
            refused(&format!("{first}{}", question(2, "two", "lnear"))),
            "There is no pattern of this name: question 2 has lnear. Correct it first."
        );
        assert_eq!(
            refused(&question(1, "one", "")),
            "No kind is named yet: behind pattern: write what kind of problem each question is."
        );
        let rest = format!("{first}{}", question(2, "two", ""));
        let (after, said) = recorded(&rest, Unmarked::Skipped).expect("recorded");
        assert_eq!(
            said,
            "Recorded a spotting round of 2027-02-15: 1 of 1 kind right. Passed over, nothing written: \
             1 question."
        );
        let fixture = fixture::notebook(&after);
        let round = papers(&fixture.analysis().notebook, &NameKey::default()).remove(0);
        let again = record_spotting(fixture.analysis(), &round, Unmarked::Skipped);
        assert_eq!(
            again.expect_err("refused").to_string(),
            "This round was recorded before (2027-02-15 12:00). To correct one, change the spotted: line \
             of its problem."
        );
    }

    #[test]
    fn a_problem_that_is_gone_is_named() {
        let gone = "@question 1\n  of: 7\n  Decide seven.\n\n  pattern: linear\n";
        let (_, said) = recorded(gone, Unmarked::Refuse).expect("recorded");
        assert_eq!(
            said,
            "Recorded a spotting round of 2027-02-15: 0 of 0 kinds right. No problem with a kind found \
             in the notes: question 1."
        );
    }
}
