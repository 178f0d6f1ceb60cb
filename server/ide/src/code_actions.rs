//! What can be done at a place (LSP `textDocument/codeAction`): the ways out of findings, and what
//! the block under the cursor offers. Anything that needs the whole notebook is a command, so that
//! asking stays cheap: some editors ask at every pause.

use notes::value::{NotesUse, Outcome};
use notes::{BlockKind, FilePath, Key, Located, Span};

use crate::another_like_this::offers_another;
use crate::code_lenses::{paper_lines, sheet_lines};
use crate::commands::Command;
use crate::diagnostics::{Finding, NO_PATTERN, UNRECORDED_MARKS};
use crate::edit::NotebookEdit;
use crate::insert_starter_patterns::subjects_to_insert;
use crate::new_field::add_field;
use crate::papers::paper_at;
use crate::starter::Subject;
use crate::tag_problems::Untagged;
use crate::{Analysis, words};

/// An offer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CodeAction {
    /// What it does, as an order.
    pub title: String,
    /// Where an editor lists it.
    pub kind: ActionKind,
    /// What it does.
    pub deed: Deed,
    /// The finding it is a way out of, by its index in the findings given.
    pub finding: Option<usize>,
    /// Whether it is the only way out of its finding.
    pub preferred: bool,
}

/// Where an editor lists an action.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ActionKind {
    /// With the ways out of findings.
    QuickFix,
    /// With the other changes.
    Refactor,
    /// With the other changes; an editor's command *another like this* asks for this kind alone.
    Another,
}

/// What an action does.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// Makes an edit.
    Edit(NotebookEdit),
    /// Runs a command.
    Command(Command),
}

/// What can be done in a range of a file; `findings` are those of the file.
pub fn code_actions(
    analysis: &Analysis,
    path: &FilePath,
    range: Span,
    findings: &[Finding],
) -> Vec<CodeAction> {
    let touched = |finding: &Finding| {
        finding.path == *path && finding.span.start <= range.end && range.start <= finding.span.end
    };
    let mut actions = Vec::new();
    for (i, finding) in findings
        .iter()
        .enumerate()
        .filter(|(_, finding)| touched(finding))
    {
        for fix in &finding.fixes {
            actions.push(CodeAction {
                title: fix.title.clone(),
                kind: ActionKind::QuickFix,
                deed: Deed::Edit(fix.edit.clone()),
                finding: Some(i),
                preferred: finding.fixes.len() == 1,
            });
        }
        if finding.code == NO_PATTERN.code {
            actions.extend(tag_all(path, i, findings));
        }
    }
    if let Some(at) = analysis.notebook.block_at(path, range.start as usize) {
        match at.block.kind {
            Some(BlockKind::Exam) => actions.extend(of_exam(analysis, &at)),
            Some(BlockKind::Course) => actions.extend(of_course(analysis, &at)),
            Some(kind) if kind.is_practised() => actions.extend(of_practised(analysis, &at)),
            _ => {}
        }
        let title = words::title(&at);
        for (what, command) in sheet_lines(analysis, &at) {
            let preposition = match &command {
                Some(Command::DrawDrill { .. }) => "on",
                _ => "for",
            };
            let action = |command| {
                refactor(
                    format!("{what} {preposition} {title}"),
                    Deed::Command(command),
                )
            };
            actions.extend(command.map(action));
        }
        if offers_another(analysis, &at) {
            let byte = at.in_file(at.block.header).start;
            let path = path.clone();
            let deed = Deed::Command(Command::AnotherLikeThis { path, byte });
            actions.push(CodeAction {
                kind: ActionKind::Another,
                ..refactor("Another like this".to_owned(), deed)
            });
        }
    }
    actions.extend(of_paper(analysis, path, range, findings));
    actions
}

fn refactor(title: String, deed: Deed) -> CodeAction {
    CodeAction {
        title,
        kind: ActionKind::Refactor,
        deed,
        finding: None,
        preferred: false,
    }
}

/// Where several problems of the file have no pattern and match one, all of them can be tagged.
fn tag_all(path: &FilePath, finding: usize, findings: &[Finding]) -> Option<CodeAction> {
    let can_be_tagged = |finding: &&Finding| {
        finding.code == NO_PATTERN.code && finding.path == *path && !finding.fixes.is_empty()
    };
    let count = findings.iter().filter(can_be_tagged).count();
    if count < 2 || findings[finding].fixes.is_empty() {
        return None;
    }
    let which = Untagged::InFile(path.clone());
    Some(CodeAction {
        title: format!("Tag all {count} problems of this file that match a pattern"),
        kind: ActionKind::QuickFix,
        deed: Deed::Command(Command::TagProblems { which }),
        finding: Some(finding),
        preferred: false,
    })
}

fn of_course(analysis: &Analysis, at: &Located<'_>) -> Vec<CodeAction> {
    if at.block.name.is_empty() {
        return Vec::new();
    }
    let subjects = subjects_to_insert(&analysis.notebook, &at.block.name);
    let action = |subject: &Subject| {
        let command = Command::InsertStarterPatterns {
            course: at.title(),
            subject: subject.name.to_owned(),
        };
        let title = format!(
            "Insert starter patterns: {}",
            subject.name.replace('-', " ")
        );
        refactor(title, Deed::Command(command))
    };
    subjects.into_iter().map(action).collect()
}

fn of_exam(analysis: &Analysis, at: &Located<'_>) -> Vec<CodeAction> {
    if at.block.name.is_empty() {
        return Vec::new();
    }
    let course = analysis.notebook.course_of(at.path, at.entry).to_string();
    let exam = words::title(at);
    let draw = |title: String, notes| {
        let command = Command::DrawPaper {
            course: course.clone(),
            exam: at.title(),
            notes,
            questions: None,
            seed: None,
            kind: None,
        };
        refactor(title, Deed::Command(command))
    };
    vec![
        draw(format!("Draw a mock test for {exam}"), NotesUse::Closed),
        draw(
            format!("Draw a mock test for {exam}, notes open"),
            NotesUse::Open,
        ),
    ]
}

/// A record of a try today, for a problem, theorem or definition.
fn of_practised(analysis: &Analysis, at: &Located<'_>) -> Vec<CodeAction> {
    let today = analysis.today();
    [Outcome::Right, Outcome::Partly, Outcome::Wrong]
        .map(|outcome| {
            let mut edit = NotebookEdit::default();
            add_field(
                &mut edit,
                at,
                Key::Tried,
                &format!("{today} closed {outcome}"),
            );
            refactor(
                format!("Tried today, notes closed: {outcome}"),
                Deed::Edit(edit),
            )
        })
        .to_vec()
}

/// What the paper at the place offers.
fn of_paper(
    analysis: &Analysis,
    path: &FilePath,
    range: Span,
    findings: &[Finding],
) -> Vec<CodeAction> {
    let Some(paper) = paper_at(&analysis.notebook, path, range.start as usize) else {
        return Vec::new();
    };
    let header = paper.at.in_file(paper.at.block.header);
    let is_unrecorded = |finding: &Finding| {
        finding.code == UNRECORDED_MARKS.code
            && finding.path == *path
            && finding.span.start <= header.end
            && header.start <= finding.span.end
    };
    let unrecorded = findings.iter().position(is_unrecorded);
    paper_lines(&paper)
        .into_iter()
        .filter_map(|(title, command)| {
            let command = command?;
            let way_out = unrecorded.filter(|_| matches!(command, Command::RecordMarks { .. }));
            let action = refactor(title, Deed::Command(command));
            Some(match way_out {
                Some(_) => CodeAction {
                    kind: ActionKind::QuickFix,
                    finding: way_out,
                    preferred: true,
                    ..action
                },
                None => action,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::{Fix, check_all};
    use crate::fixture;

    /// Prints what is offered at the cursor: `kind: title` and what comes of it.
    fn check(text: &str, expected: &[&str]) {
        let fixture = fixture::notebook(text);
        let (path, offset) = fixture.cursor();
        let findings = check_all(fixture.analysis())
            .remove(path)
            .unwrap_or_default();
        let actions = code_actions(fixture.analysis(), path, Span::at(offset), &findings);
        let said = actions.into_iter().map(|action| {
            let kind = match action.kind {
                ActionKind::QuickFix => "quick fix",
                ActionKind::Refactor => "refactor",
                ActionKind::Another => "another",
            };
            let of = action
                .finding
                .map_or_else(String::new, |i| format!(" of {}", findings[i].code));
            let deed = match action.deed {
                Deed::Edit(edit) => fixture.after(&edit),
                Deed::Command(command) => command.name().to_owned(),
            };
            format!("{kind}{of}: {}: {deed}", action.title)
        });
        assert_eq!(said.collect::<Vec<_>>(), expected);
    }

    #[test]
    fn an_exam_offers_mock_tests() {
        check(
            "@course Logic\n@exam Midterm\n  on: 2027-0<|>2-20\n  covers: 1\n@topic 1 Sets\n",
            &[
                "refactor: Draw a mock test for Midterm: porism.drawPaper",
                "refactor: Draw a mock test for Midterm, notes open: porism.drawPaper",
            ],
        );
    }

    #[test]
    fn a_problem_offers_to_record_a_try() {
        check(
            "@problem 1\n  pattern: a\n  De<|>cide.\n\n@pattern a\n",
            &[
                "refactor: Tried today, notes closed: right: @problem 1\n  pattern: a\n  Decide.\n  tried: 2027-02-15 closed right\n\n@pattern a\n",
                "refactor: Tried today, notes closed: partly: @problem 1\n  pattern: a\n  Decide.\n  tried: 2027-02-15 closed partly\n\n@pattern a\n",
                "refactor: Tried today, notes closed: wrong: @problem 1\n  pattern: a\n  Decide.\n  tried: 2027-02-15 closed wrong\n\n@pattern a\n",
            ],
        );
    }

    #[test]
    fn problems_without_a_pattern_can_be_tagged_one_by_one_or_all() {
        let notes =
            "@pattern p\n  shape: $x^2 = c$ where c is a number\n@problem 1\n  Solve $x^2 = 4$.\n";
        let tries = |text: &str| {
            let outcomes = ["right", "partly", "wrong"];
            outcomes.map(|outcome| {
                let after = text.replacen(
                    "= 4$.\n",
                    &format!("= 4$.\n  tried: 2027-02-15 closed {outcome}\n"),
                    1,
                );
                format!("refactor: Tried today, notes closed: {outcome}: {after}")
            })
        };
        let tagged = |text: &str| {
            let after = text.replacen("1\n  Solve", "1\n  pattern: p\n  Solve", 1);
            format!("quick fix of no-pattern: Tag it as p: {after}")
        };
        let check_at = |text: &str, more: &[&str]| {
            let tries = tries(text);
            let mut expected = vec![tagged(text)];
            expected.extend(more.iter().map(|more| (*more).to_owned()));
            expected.extend(tries);
            expected.push("another: Another like this: porism.anotherLikeThis".to_owned());
            let expected: Vec<&str> = expected.iter().map(String::as_str).collect();
            check(&text.replacen("@problem 1", "@prob<|>lem 1", 1), &expected);
        };
        check_at(notes, &[]);
        check_at(
            &format!("{notes}@problem 2\n  Solve $x^2 = 5$.\n"),
            &[
                "quick fix of no-pattern: Tag all 2 problems of this file that match a pattern: porism.tagProblems",
            ],
        );
    }

    #[test]
    fn a_course_offers_starter_patterns() {
        check(
            "@course Lo<|>gic\n",
            &[
                "refactor: Insert starter patterns: algebra: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: equations: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: inequalities and systems: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: limits: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: derivatives: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: integrals: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: series: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: differential equations: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: matrices: porism.insertStarterPatterns",
                "refactor: Insert starter patterns: proofs: porism.insertStarterPatterns",
            ],
        );
    }

    #[test]
    fn a_paper_offers_what_its_lenses_do_from_every_question() {
        check(
            "@paper A\n  drawn: 2027-02-14\n\n@question 1\n  Dec<|>ide.\n  mark: right\n",
            &[
                "quick fix of unrecorded-marks: Record the marks: porism.recordMarks",
                "refactor: Show the answers: porism.showAnswers",
            ],
        );
        check(
            "@paper Sheet\n  by: instructor\n\n<|>Prose.\n\n@problem 1\n",
            &[],
        );
    }

    #[test]
    fn ways_out_of_findings_come_first() {
        let fixture = fixture::notebook("Some <|>prose.\n");
        let (path, offset) = fixture.cursor();
        let fix = |title: &str| {
            let mut edit = NotebookEdit::default();
            edit.replace(path, Span::new(0, 4), title);
            Fix {
                title: title.to_owned(),
                edit,
            }
        };
        let finding = |span: Span, fixes: Vec<Fix>| Finding {
            code: "test",
            severity: crate::diagnostics::Severity::Hint,
            path: path.clone(),
            span,
            message: String::new(),
            related: Vec::new(),
            unnecessary: false,
            fixes,
        };
        let findings = [
            finding(Span::new(0, 2), vec![fix("Elsewhere")]),
            finding(Span::new(3, 5), vec![fix("One"), fix("Two")]),
            finding(Span::new(5, 9), vec![fix("Only")]),
        ];
        let actions = code_actions(fixture.analysis(), path, Span::at(offset), &findings);
        let said: Vec<_> = actions
            .iter()
            .map(|a| (a.title.as_str(), a.kind, a.finding, a.preferred))
            .collect();
        let quick = ActionKind::QuickFix;
        assert_eq!(
            said,
            [
                ("One", quick, Some(1), false),
                ("Two", quick, Some(1), false),
                ("Only", quick, Some(2), true),
            ]
        );
    }
}
