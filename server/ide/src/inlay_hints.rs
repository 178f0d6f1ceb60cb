//! What stands behind a line without being written there (LSP `textDocument/inlayHint`): behind an
//! exam's header, what to do next.

use notes::{BlockKind, FilePath, Span};

use crate::exams::exam;
use crate::next_step::{Step, next};
use crate::{Analysis, words};

/// A hint behind a place of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InlayHint {
    /// The byte of the file behind which it stands.
    pub offset: usize,
    /// What it says.
    pub label: String,
}

/// The hints for a part of a file, from top to bottom.
pub fn inlay_hints(analysis: &Analysis, path: &FilePath, part: Span) -> Vec<InlayHint> {
    let notebook = &analysis.notebook;
    let mut hints = Vec::new();
    for at in notebook.blocks_in(path) {
        let header = at.in_file(at.block.header);
        if at.block.kind != Some(BlockKind::Exam)
            || header.end < part.start
            || part.end < header.start
        {
            continue;
        }
        let Some(next) = next(analysis, &exam(notebook, at)) else {
            continue;
        };
        let days = match next.step {
            Step::Over | Step::NotYet | Step::Today => String::new(),
            _ => {
                let days = usize::try_from(next.days_left).unwrap_or_default();
                format!("{}: ", words::count(days, "day"))
            }
        };
        hints.push(InlayHint {
            offset: header.end as usize,
            label: format!("{days}{next}"),
        });
    }
    hints
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Prints the hints of the whole notes in place, each between ‹ and ›.
    fn check(text: &str, expected: &str) {
        let fixture = fixture::notebook(text);
        let mut shown = String::new();
        for (path, text) in &fixture.files {
            let mut from = 0;
            for hint in inlay_hints(fixture.analysis(), path, Span::new(0, text.len())) {
                shown.push_str(&text[from..hint.offset]);
                shown.push_str(&format!("‹{}›", hint.label));
                from = hint.offset;
            }
            shown.push_str(&text[from..]);
        }
        assert_eq!(shown, expected);
    }

    #[test]
    fn the_next_step_stands_behind_the_exam() {
        check(
            "@exam Midterm\n  on: 2027-02-20\n@exam Final\n  on: 2027-04-20\n@exam Oral\n",
            "@exam Midterm‹5 days: Sit a first mock test, notes open›\n  on: 2027-02-20\n\
             @exam Final‹Revision begins in 57 days, 2027-04-13›\n  on: 2027-04-20\n@exam Oral\n",
        );
        check(
            "@exam Midterm\n  on: 2027-02-17\n",
            "@exam Midterm‹2 days: Sit a first mock test, notes open. Only 2 days left, and the rest \
             of the way takes 4›\n  on: 2027-02-17\n",
        );
    }

    #[test]
    fn only_the_part_asked_about_has_hints() {
        let fixture = fixture::notebook("@exam A\n  on: 2027-02-20\n\n@exam B\n  on: 2027-02-20\n");
        let (path, text) = fixture.files.iter().next().expect("a file");
        let from = text.find("@exam B").expect("it is there");
        let hints = inlay_hints(fixture.analysis(), path, Span::new(from, text.len()));
        assert_eq!(hints.len(), 1);
        assert!(hints[0].offset > from);
    }
}
