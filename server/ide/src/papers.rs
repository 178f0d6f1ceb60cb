//! The papers of a course: which exam each prepares for, and whether it was sat.

use std::collections::BTreeMap;

use chrono::NaiveDate;
use notes::value::{Moment, NotesRule, NotesUse, Value};
use notes::{BlockKind, FilePath, Key, Located, NameKey, Notebook};

use crate::exams::Exam;

/// A practice paper or a drawn mock test.
#[derive(Clone, Debug)]
pub struct Paper<'a> {
    /// The block.
    pub at: Located<'a>,
    /// Its course.
    pub course: NameKey,
    /// Whether the instructor made it.
    pub by_instructor: bool,
    /// When it was drawn.
    pub drawn: Option<Moment>,
    /// Whether it is to be sat with notes closed. A paper that does not say is closed-notes, and
    /// what an exam allows in words (one sheet of formulas) counts as closed.
    pub closed_notes: bool,
    /// Its questions or problems, in order.
    pub items: Vec<Located<'a>>,
}

/// That a paper was sat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sitting {
    /// The day.
    pub date: NaiveDate,
    /// Whether notes were closed.
    pub closed_notes: bool,
}

/// What a paper is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PaperUse {
    /// To be sat like an exam: a practice paper or a mock test.
    MockTest,
    /// A drill sheet: drawn, and for no exam.
    Drill,
    /// A spotting round: its questions ask only for the pattern.
    Spotting,
}

/// Whether a question asks only for the pattern.
pub fn is_spotting(question: &Located<'_>) -> bool {
    let has = |key| question.block.field(key).is_some();
    question.block.kind == Some(BlockKind::Question)
        && has(Key::Pattern)
        && !has(Key::Mark)
        && !has(Key::Mine)
}

impl Paper<'_> {
    /// What it is for.
    pub fn purpose(&self) -> PaperUse {
        if self.questions().any(is_spotting) {
            PaperUse::Spotting
        } else if self.drawn.is_some() && self.at.block.field(Key::For).is_none() {
            PaperUse::Drill
        } else {
            PaperUse::MockTest
        }
    }

    /// Whether the paper prepares for an exam.
    pub fn is_for(&self, exam: &Exam<'_>) -> bool {
        // An exam's title may hold a comma, at which a list of names is cut.
        let whole = self.at.field_text(Key::For).map(|text| NameKey::new(&text));
        self.course == exam.course
            && !exam.at.block.name.is_empty()
            && (self
                .at
                .block
                .names(Key::For)
                .iter()
                .any(|named| named.key == exam.at.block.name)
                || whole.as_ref() == Some(&exam.at.block.name))
    }

    /// The paper's questions.
    pub fn questions(&self) -> impl Iterator<Item = &Located<'_>> {
        self.items
            .iter()
            .filter(|item| item.block.kind == Some(BlockKind::Question))
    }

    /// Whether its marks were written back to the problems.
    pub fn is_recorded(&self) -> bool {
        let recorded = self.at.block.field(Key::Recorded).map(|field| &field.value);
        recorded.is_some_and(|value| *value != Value::Empty)
    }

    /// The day on which it was sat, as far as the paper says: when it was finished, else when it
    /// was started.
    pub fn stated_day(&self) -> Option<NaiveDate> {
        let moment = |key| self.at.block.moment(key);
        Some(moment(Key::Finished).or_else(|| moment(Key::Started))?.date)
    }

    /// When the paper was sat, if it was. A paper of questions was sat once its marks are
    /// recorded. A paper of problems was sat when it says so, or when at least half of its
    /// problems have a try on one day.
    pub fn sitting(&self) -> Option<Sitting> {
        let stated = self.stated_day();
        let as_stated = |date| Sitting {
            date,
            closed_notes: self.closed_notes,
        };
        if self.questions().next().is_some() {
            let recorded = self.at.block.moment(Key::Recorded)?;
            return Some(as_stated(stated.unwrap_or(recorded.date)));
        }
        if let Some(date) = stated {
            return Some(as_stated(date));
        }
        // For each day: problems with a try, and those with a try with notes closed.
        let mut days: BTreeMap<NaiveDate, (usize, usize)> = BTreeMap::new();
        for item in &self.items {
            let mut of_item: BTreeMap<NaiveDate, bool> = BTreeMap::new();
            for attempt in item.block.attempts() {
                *of_item.entry(attempt.date).or_default() |= attempt.notes == NotesUse::Closed;
            }
            for (date, closed) in of_item {
                let (tried, tried_closed) = days.entry(date).or_default();
                *tried += 1;
                *tried_closed += usize::from(closed);
            }
        }
        let enough = |tried: usize| 2 * tried >= self.items.len();
        let (date, (_, closed)) = days.into_iter().rfind(|(_, (tried, _))| enough(*tried))?;
        Some(Sitting {
            date,
            closed_notes: enough(closed),
        })
    }
}

/// Reads a paper's block.
pub fn paper<'a>(notebook: &'a Notebook, at: Located<'a>) -> Paper<'a> {
    let by = at.field_text(Key::By).map(|by| NameKey::new(&by));
    Paper {
        course: notebook.course_of(at.path, at.entry),
        by_instructor: by.is_some_and(|by| by.as_str() == "instructor"),
        drawn: at.block.moment(Key::Drawn),
        closed_notes: at.block.notes_rule() != Some(NotesRule::Open),
        items: notebook.items_of(&at),
        at,
    }
}

/// The papers of a course, in reading order.
pub fn papers<'a>(notebook: &'a Notebook, course: &NameKey) -> Vec<Paper<'a>> {
    let all = notebook.of_kind(course, BlockKind::Paper);
    all.map(|at| paper(notebook, at)).collect()
}

/// The papers that prepare for an exam, in reading order.
pub fn papers_for<'a>(notebook: &'a Notebook, exam: &Exam<'_>) -> Vec<Paper<'a>> {
    let mut papers = papers(notebook, &exam.course);
    papers.retain(|paper| paper.is_for(exam));
    papers
}

/// The paper that a byte of a file belongs to: in its own block or in one of its questions.
pub fn paper_at<'a>(notebook: &'a Notebook, path: &FilePath, offset: usize) -> Option<Paper<'a>> {
    let at = notebook.block_at(path, offset);
    let own = at.filter(|at| at.block.kind == Some(BlockKind::Paper));
    let at = match own {
        Some(at) => at,
        None => {
            // Prose below a paper belongs to it, too.
            let file = notebook.file(path)?;
            let order = file.entries().get(file.index_at(offset)?)?.context.paper?;
            notebook.block(&notes::UnitId {
                file: path.clone(),
                order,
            })?
        }
    };
    Some(paper(notebook, at))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Prints when each paper of the notes was sat.
    fn check(text: &str, expected: &[&str]) {
        let fixture = fixture::notebook(text);
        let notebook = &fixture.analysis().notebook;
        let mut said = Vec::new();
        for course in notebook.courses() {
            for paper in papers(notebook, &course) {
                let sat = match paper.sitting() {
                    Some(Sitting {
                        date,
                        closed_notes: true,
                    }) => format!("{date} closed"),
                    Some(Sitting {
                        date,
                        closed_notes: false,
                    }) => format!("{date} open"),
                    None => "not sat".to_owned(),
                };
                said.push(format!("{}: {sat}", paper.at.title()));
            }
        }
        assert_eq!(said, expected);
    }

    #[test]
    fn a_paper_of_questions_was_sat_once_it_is_recorded() {
        check(
            "@course Logic\n\n@paper A\n  notes: closed\n  started: 2027-02-10 09:00\n\n@question 1\n  Decide.\n\n\
             @paper B\n  notes: one sheet\n  started: 2027-02-10\n  finished: 2027-02-11\n  recorded: 2027-02-12\n\n\
             @question 1\n  Decide.\n\n@paper C\n  notes: open\n  recorded: 2027-02-12\n\n@question 1\n  Decide.\n",
            &["A: not sat", "B: 2027-02-11 closed", "C: 2027-02-12 open"],
        );
    }

    #[test]
    fn a_paper_of_problems_was_sat_when_half_of_it_was_tried_on_one_day() {
        let problem = |tried: &str| format!("@problem\n  Decide {tried}.\n  tried: {tried}\n\n");
        let paper = |title: &str, tries: [&str; 3]| {
            format!(
                "@paper {title}\n  by: instructor\n\n{}",
                tries.map(problem).concat()
            )
        };
        check(
            &format!(
                "@course Logic\n\n{}{}{}@paper D\n  finished: 2027-02-14\n",
                paper(
                    "A",
                    [
                        "2027-02-10 closed right",
                        "2027-02-10 closed wrong",
                        "2027-02-11 open right"
                    ]
                ),
                paper(
                    "B",
                    [
                        "2027-02-10 open right",
                        "2027-02-10 closed wrong",
                        "2027-02-11 open right"
                    ]
                ),
                paper(
                    "C",
                    [
                        "2027-02-10 closed right",
                        "2027-02-12 closed wrong",
                        "2027-02-11 open right"
                    ]
                ),
            ),
            &[
                "A: 2027-02-10 closed",
                "B: 2027-02-10 open",
                "C: not sat",
                "D: 2027-02-14 closed",
            ],
        );
    }

    #[test]
    fn a_paper_is_found_from_anywhere_in_it() {
        let fixture = fixture::notebook(
            "@course Logic\n<|>\n@paper A\n  for:<|> Final, part 1\n\nLibr<|>ary.\n\n@question 1\n  Dec<|>ide.\n\n# Af<|>ter\n",
        );
        let notebook = &fixture.analysis().notebook;
        let found = fixture.cursors.iter().map(|(path, offset)| {
            paper_at(notebook, path, *offset).map_or_else(|| "none".to_owned(), |p| p.at.title())
        });
        assert_eq!(found.collect::<Vec<_>>(), ["none", "A", "A", "A", "A"]);
    }

    #[test]
    fn a_paper_is_for_the_exams_it_names() {
        let fixture = fixture::notebook(
            "@course Logic\n@exam Final, part 1\n@exam Midterm\n@exam Quiz\n\n@paper A\n  for: final,  part 1\n\n\
             @paper B\n  for: Midterm, Quiz\n\n@paper C\n",
        );
        let notebook = &fixture.analysis().notebook;
        let exams = crate::exams::exams(fixture.analysis(), &NameKey::new("Logic"));
        let papers = exams.iter().map(|exam| {
            papers_for(notebook, exam)
                .iter()
                .map(|p| p.at.title())
                .collect::<Vec<_>>()
                .join(" ")
        });
        assert_eq!(papers.collect::<Vec<_>>(), ["A", "B", "B"]);
    }
}
