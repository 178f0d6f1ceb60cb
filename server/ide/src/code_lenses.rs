//! Lines shown above blocks (LSP `textDocument/codeLens`): what can be done with an exam or a
//! paper, and how a topic or pattern stands.

use std::collections::{BTreeMap, BTreeSet};

use notes::value::{NotesUse, Value};
use notes::{BlockKind, FilePath, Key, Located, NameKey, NamedThing, Span};
use study::drill::Arrangement;
use study::paper::Kind;

use crate::commands::{Command, PaperName};
use crate::draw_paper::offered_first;
use crate::exam_clock::{can_finish, can_start};
use crate::exams::{Exam, exam, practised_of};
use crate::next_step::next;
use crate::papers::{Paper, PaperUse, paper};
use crate::record_marks::Unmarked;
use crate::show_reasons::offers_reasons;
use crate::standing::{CourseStanding, PatternKey};
use crate::tag_problems::{Untagged, count_matching};
use crate::{Analysis, readiness, words};

/// A line above a block.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CodeLens {
    /// The block's header, counted from the start of the file.
    pub span: Span,
    /// What the line says.
    pub title: String,
    /// What it does when it is chosen; nothing where it only tells.
    pub command: Option<Command>,
}

/// The lines above a file's blocks, from top to bottom.
pub fn code_lenses(analysis: &Analysis, path: &FilePath) -> Vec<CodeLens> {
    let mut lenses = Vec::new();
    let mut untagged = UntaggedCounts::default();
    for at in analysis.notebook.blocks_in(path) {
        let lines = match at.block.kind {
            Some(BlockKind::Exam) => exam_lines(analysis, &at),
            Some(BlockKind::Paper) => paper_lines(&paper(&analysis.notebook, at)),
            Some(BlockKind::Topic) => match topic_line(analysis, &at) {
                Some(standing) => {
                    let sheets = sheet_lines(analysis, &at);
                    std::iter::once(standing).chain(sheets).collect()
                }
                None => Vec::new(),
            },
            Some(BlockKind::Pattern) => {
                let standing = pattern_line(analysis, &at);
                let matching = untagged.line(analysis, &at);
                let sheets = sheet_lines(analysis, &at);
                standing.into_iter().chain(sheets).chain(matching).collect()
            }
            _ => Vec::new(),
        };
        let span = at.in_file(at.block.header);
        lenses.extend(lines.into_iter().map(|(title, command)| CodeLens {
            span,
            title,
            command,
        }));
    }
    lenses
}

/// What a line says and does.
type Line = (String, Option<Command>);

fn exam_lines(analysis: &Analysis, at: &Located<'_>) -> Vec<Line> {
    let exam = exam(&analysis.notebook, *at);
    let today = analysis.today();
    if exam.is_past(today) || at.block.name.is_empty() {
        return Vec::new();
    }
    let mut lines = Vec::new();
    let mut standing: Vec<String> = exam
        .on
        .map(|on| words::day_from(today, on.date))
        .into_iter()
        .collect();
    match readiness::of_exam(analysis, &exam) {
        Ok(readiness) => standing.push(readiness::short(&readiness)),
        Err(reason) => standing.push(reason.to_string()),
    }
    lines.push((standing.join(" · "), None));
    let next = next(analysis, &exam).filter(|_| exam.window_open(today));
    let next_shows = |command: &Command| {
        let action = next.as_ref().and_then(|next| next.action.as_ref());
        action.is_some_and(|(_, does)| does == command)
    };
    if let Some(next) = &next {
        let does = next.action.as_ref().map(|(_, command)| command.clone());
        lines.push((format!("Next: {next}"), does));
    }
    if let Some(first) = offered_first(analysis, &exam) {
        let title = format!("Sit {} first", words::title(&first.at));
        let show = Command::ShowPlace {
            path: first.at.path.clone(),
            span: first.at.in_file(first.at.block.header),
        };
        if !next_shows(&show) {
            lines.push((title, Some(show)));
        }
    }
    let draw = |notes, kind| {
        Some(Command::DrawPaper {
            course: exam.course.to_string(),
            exam: at.title(),
            notes,
            questions: None,
            seed: None,
            kind,
        })
    };
    lines.push(("Draw a mock test".to_owned(), draw(NotesUse::Closed, None)));
    lines.push((
        "Draw one with notes open".to_owned(),
        draw(NotesUse::Open, None),
    ));
    if has_both(analysis, &exam) {
        let round = draw(NotesUse::Closed, Some(Kind::Theorems));
        lines.push(("Draw a round of theorems".to_owned(), round));
    }
    lines.extend(sheet_lines(analysis, at));
    lines
}

/// The drill sheets and spotting rounds that can be drawn for a pattern, a topic or an exam.
pub(crate) fn sheet_lines(analysis: &Analysis, at: &Located<'_>) -> Vec<Line> {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    let drill = |patterns: String, topics: String| {
        let drill = Command::DrawDrill {
            course: course.to_string(),
            patterns,
            topics,
            arrangement: Arrangement::Mixed,
            questions: None,
            seed: None,
        };
        ("Draw a drill sheet".to_owned(), Some(drill))
    };
    let spotting = |exam: String, patterns: String, topics: String| {
        let round = Command::DrawSpotting {
            course: course.to_string(),
            exam,
            patterns,
            topics,
            questions: None,
            seed: None,
        };
        ("Draw a spotting round".to_owned(), Some(round))
    };
    let has_problems =
        |name: &NameKey| !name.is_empty() && !notebook.problems_of(&course, name).is_empty();
    let mut lines = Vec::new();
    match at.block.kind {
        Some(BlockKind::Pattern) if has_problems(&at.block.name) => {
            lines.push(drill(at.title(), String::new()));
            // Telling it from those that it is taken for.
            let partners = at.block.names(Key::ConfusedWith).iter();
            let partners = partners.filter(|partner| has_problems(&partner.key));
            let mut names: Vec<String> = partners.map(|partner| partner.key.to_string()).collect();
            if !names.is_empty() && !at.title().contains(',') {
                names.insert(0, at.title());
                lines.push(spotting(String::new(), names.join(", "), String::new()));
            }
        }
        Some(BlockKind::Topic) => {
            let Some(topic) = notebook.topic_key(at) else {
                return lines;
            };
            let kinds = kinds(practised_of(notebook, &course, &topic));
            let about = || (String::new(), topic.to_string());
            if kinds.has_problem {
                let (none, topic) = about();
                lines.push(drill(none, topic));
            }
            if kinds.names.len() > 1 {
                let (none, topic) = about();
                lines.push(spotting(String::new(), none, topic));
            }
        }
        Some(BlockKind::Exam) => {
            let exam = exam(notebook, *at);
            let mut names = BTreeSet::new();
            for topic in &exam.topics {
                names.extend(kinds(practised_of(notebook, &course, topic)).names);
                if names.len() > 1 {
                    lines.push(spotting(at.title(), String::new(), String::new()));
                    break;
                }
            }
        }
        _ => {}
    }
    lines
}

/// What there is among some blocks: problems, and kinds of them.
struct Kinds {
    has_problem: bool,
    names: BTreeSet<NameKey>,
}

fn kinds(blocks: Vec<Located<'_>>) -> Kinds {
    let mut problems = blocks;
    problems.retain(|at| at.block.kind == Some(BlockKind::Problem));
    let patterns = problems.iter().flat_map(|at| at.block.names(Key::Pattern));
    Kinds {
        names: patterns.map(|named| named.key.clone()).collect(),
        has_problem: !problems.is_empty(),
    }
}

/// Whether the exam covers problems as well as theorems or definitions.
fn has_both(analysis: &Analysis, exam: &Exam<'_>) -> bool {
    let notebook = &analysis.notebook;
    let covers = |kind| {
        let mut all = notebook.of_kind(&exam.course, kind);
        all.any(|at| {
            notebook
                .topic_of(&at)
                .is_some_and(|topic| exam.covers(&topic))
        })
    };
    // The rarer kinds first: most courses end here.
    (covers(BlockKind::Theorem) || covers(BlockKind::Definition)) && covers(BlockKind::Problem)
}

/// What can be done with a drawn paper: also what its code actions offer.
pub(crate) fn paper_lines(paper: &Paper<'_>) -> Vec<Line> {
    let name = || PaperName {
        path: paper.at.path.clone(),
        title: paper.at.title(),
    };
    let mut lines = Vec::new();
    if paper.purpose() == PaperUse::Spotting {
        return spotting_lines(paper, name());
    }
    let is_drill = paper.purpose() == PaperUse::Drill;
    let (mut marked, mut answered, mut unmarked, mut without_answer) = (0, 0, 0, 0);
    for question in paper.questions() {
        match question.block.field(Key::Mark).map(|field| &field.value) {
            // An answer is marked when the marks are recorded.
            None | Some(Value::Empty) if question.field_text(Key::Mine).is_none() => unmarked += 1,
            None | Some(Value::Empty) => answered += 1,
            Some(_) => marked += 1,
        }
        without_answer += usize::from(question.field_text(Key::Answer).is_none());
    }
    let timed = paper.at.block.duration(Key::Length).is_some();
    // A drill sheet has no clock unless it says so.
    let is_sat = timed || (unmarked > 0 && !is_drill);
    if marked == 0 && is_sat && !paper.items.is_empty() && can_start(paper) {
        let start = Command::StartPaper { paper: name() };
        lines.push(("Start the paper".to_owned(), Some(start)));
    }
    if can_finish(paper) {
        let finish = Command::FinishPaper { paper: name() };
        lines.push(("Finish the paper".to_owned(), Some(finish)));
        if timed {
            let pace = Command::ShowPace { paper: name() };
            lines.push(("Show the pace".to_owned(), Some(pace)));
        }
    }
    if marked + answered > 0 && !paper.is_recorded() {
        let what = match answered {
            0 => "Record the marks",
            _ => "Mark the answers and record",
        };
        let record = |unmarked| {
            Some(Command::RecordMarks {
                paper: name(),
                unmarked,
            })
        };
        if unmarked == 0 {
            lines.push((what.to_owned(), record(Unmarked::Refuse)));
        } else {
            let rest = format!("{what}, {unmarked} without one as skipped");
            lines.push((rest, record(Unmarked::Skipped)));
        }
    }
    if without_answer > 0 {
        let show = Command::ShowAnswers { paper: name() };
        lines.push(("Show the answers".to_owned(), Some(show)));
    }
    if offers_reasons(paper) {
        let reasons = Command::ShowReasons { paper: name() };
        lines.push(("Why these questions".to_owned(), Some(reasons)));
    }
    lines
}

/// What can be done with a spotting round.
fn spotting_lines(round: &Paper<'_>, name: PaperName) -> Vec<Line> {
    let named = |question: &&Located<'_>| !question.block.names(Key::Pattern).is_empty();
    let all = round.questions().count();
    let named = round.questions().filter(named).count();
    if named == 0 || round.is_recorded() {
        return Vec::new();
    }
    let (title, unmarked) = match all - named {
        0 => ("Record the round".to_owned(), Unmarked::Refuse),
        open => (
            format!("Record the round without the {open} left open"),
            Unmarked::Skipped,
        ),
    };
    let record = Command::RecordMarks {
        paper: name,
        unmarked,
    };
    vec![(title, Some(record))]
}

/// Said where a course has fewer than five tries.
fn evidence(standing: &CourseStanding) -> &'static str {
    match standing.standing.enough_evidence {
        true => "",
        false => " · too little evidence yet",
    }
}

fn pattern_line(analysis: &Analysis, at: &Located<'_>) -> Option<Line> {
    let course = analysis.notebook.course_of(at.path, at.entry);
    let standing = analysis.standings.course(&course, analysis.today());
    let mastery = standing.mastery(&PatternKey::Named(at.block.name.clone()))?;
    let tried = match mastery.last {
        Some(last) => {
            let when = words::day_from(analysis.today(), crate::standing::date(last));
            format!("last tried {when}")
        }
        None => "never tried".to_owned(),
    };
    let said = format!(
        "mastery {} · {tried}{}",
        words::probability(mastery.mean),
        evidence(&standing)
    );
    Some((said, None))
}

/// For each course that was asked about, how many problems without a pattern match each pattern.
#[derive(Default)]
struct UntaggedCounts(BTreeMap<NameKey, BTreeMap<NameKey, usize>>);

impl UntaggedCounts {
    fn line(&mut self, analysis: &Analysis, at: &Located<'_>) -> Option<Line> {
        if at.block.shapes.is_empty() {
            return None;
        }
        let course = analysis.notebook.course_of(at.path, at.entry);
        let counts = self
            .0
            .entry(course.clone())
            .or_insert_with(|| count_matching(analysis, &course));
        let said = match counts.get(&at.block.name)? {
            1 => "1 problem without a pattern matches: tag it".to_owned(),
            n => format!("{n} problems without a pattern match: tag them"),
        };
        let which = Untagged::Matching {
            course,
            pattern: at.block.name.clone(),
        };
        Some((said, Some(Command::TagProblems { which })))
    }
}

fn topic_line(analysis: &Analysis, at: &Located<'_>) -> Option<Line> {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    let topic = notebook.topic_key(at)?;
    let thing = NamedThing {
        course: course.clone(),
        kind: BlockKind::Topic,
        name: topic.clone(),
    };
    // A header alone sets the context again; the line stands above the topic itself.
    if notebook.definition(&thing)?.id() != at.id() {
        return None;
    }
    let standing = analysis.standings.course(&course, analysis.today());
    let (mut kinds, mut tried) = (0, 0);
    for (key, of, mastery) in standing.patterns() {
        if *of == topic && matches!(key, PatternKey::Named(_)) {
            kinds += 1;
            tried += usize::from(mastery.last.is_some());
        }
    }
    let level = standing.topic(&topic).filter(|_| kinds > 0)?;
    let said = format!(
        "mastery {} · {tried} of {} tried{}",
        words::probability(level),
        words::count(kinds, "kind"),
        evidence(&standing)
    );
    Some((said, None))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    /// Prints the lenses of the notes, each as `line: what it says [what it does]`.
    fn check(text: &str, expected: &[&str]) {
        let fixture = fixture::notebook(text);
        let mut said = Vec::new();
        for (path, text) in &fixture.files {
            for lens in code_lenses(fixture.analysis(), path) {
                let command = lens.command.map_or_else(String::new, |command| {
                    format!(" [{} {:?}]", command.name(), command.arguments())
                        .replace("Text(", "")
                        .replace("Count(", "")
                        .replace("Flag(", "")
                        .replace(')', "")
                });
                let line = text[lens.span.range()].to_owned();
                said.push(format!("{line}: {}{command}", lens.title));
            }
        }
        assert_eq!(said, expected);
    }

    #[test]
    fn an_exam_can_be_drawn_for() {
        check(
            "@course Logic\n@exam Midterm\n  on: 2027-02-20\n  covers: 1\n@exam Old one\n  on: 2027-01-20\n\n\
             @problem 1\n  topic: 1\n  Decide.\n\n@topic 1 Sets\n\n@paper Sheet\n  for: Midterm\n  by: instructor\n\n\
             @problem S1\n  topic: 1\n  Decide S1.\n\n@theorem Bound\n  topic: 1\n",
            &[
                "@exam Midterm: in 5 days · not ready (a 10% chance) · too little evidence yet",
                "@exam Midterm: Next: Sit Sheet, notes open: it is the instructor's [porism.showPlace [\"notes.porism\", 137, 149]]",
                "@exam Midterm: Draw a mock test [porism.drawPaper [\"logic\", \"Midterm\", \"closed\", Nothing, Nothing, Nothing]]",
                "@exam Midterm: Draw one with notes open [porism.drawPaper [\"logic\", \"Midterm\", \"open\", Nothing, Nothing, Nothing]]",
                "@exam Midterm: Draw a round of theorems [porism.drawPaper [\"logic\", \"Midterm\", \"closed\", Nothing, Nothing, \"theorems\"]]",
            ],
        );
    }

    #[test]
    fn a_paper_can_be_recorded_and_its_answers_shown() {
        check(
            "@paper A\n\n@question 1\n  Decide.\n  mark: right\n\n@question 2\n  Decide 2.\n  mark:\n  answer: yes\n",
            &[
                "@paper A: Record the marks, 1 without one as skipped [porism.recordMarks [\"notes.porism\", \"A\", true]]",
                "@paper A: Show the answers [porism.showAnswers [\"notes.porism\", \"A\"]]",
            ],
        );
        check(
            "@paper A\n\n@question 1\n  Decide.\n  mark: right\n  answer: yes\n",
            &["@paper A: Record the marks [porism.recordMarks [\"notes.porism\", \"A\", false]]"],
        );
        check(
            "@paper A\n  recorded: 2027-02-14\n\n@question 1\n  mark: right\n  answer: yes\n",
            &[],
        );
        check("@paper Sheet\n\n@problem 1\n", &[]);
        check(
            "@paper A\n  drawn: 2027-02-14\n  seed: 7\n\n@question 1\n  Decide.\n  mark: right\n  answer: yes\n",
            &[
                "@paper A: Record the marks [porism.recordMarks [\"notes.porism\", \"A\", false]]",
                "@paper A: Why these questions [porism.showReasons [\"notes.porism\", \"A\"]]",
            ],
        );
    }

    #[test]
    fn a_paper_can_be_started_and_finished() {
        let questions = "\n@question 1\n  Decide.\n  mark:\n  answer: yes\n";
        check(
            &format!("@paper A\n{questions}"),
            &["@paper A: Start the paper [porism.startPaper [\"notes.porism\", \"A\"]]"],
        );
        check(
            &format!("@paper A\n  length: 75 min\n  started: 2027-02-15 11:00\n{questions}"),
            &[
                "@paper A: Finish the paper [porism.finishPaper [\"notes.porism\", \"A\"]]",
                "@paper A: Show the pace [porism.showPace [\"notes.porism\", \"A\"]]",
            ],
        );
        check(
            "@paper Sheet\n  by: instructor\n  length: 75 min\n\n@problem 1\n  Decide.\n",
            &["@paper Sheet: Start the paper [porism.startPaper [\"notes.porism\", \"Sheet\"]]"],
        );
    }

    #[test]
    fn topics_and_patterns_say_how_they_stand() {
        let notes = "@topic 1 Sets\n\n@pattern union\n\n@pattern limit\n\n@problem 1\n  pattern: union\n  Decide.\n";
        check(
            notes,
            &[
                "@topic 1 Sets: mastery 0.50 · 0 of 2 kinds tried · too little evidence yet",
                "@topic 1 Sets: Draw a drill sheet [porism.drawDrill [\"\", Nothing, \"1\", \"mixed\", Nothing, Nothing]]",
                "@pattern union: mastery 0.44 · never tried · too little evidence yet",
                "@pattern union: Draw a drill sheet [porism.drawDrill [\"\", \"union\", Nothing, \"mixed\", Nothing, Nothing]]",
                "@pattern limit: mastery 0.44 · never tried · too little evidence yet",
            ],
        );
        let tries = "  tried: 2027-02-06 closed right\n".repeat(5);
        check(
            &format!("{notes}{tries}\n@topic 1\n"),
            &[
                "@topic 1 Sets: mastery 0.70 · 1 of 2 kinds tried",
                "@topic 1 Sets: Draw a drill sheet [porism.drawDrill [\"\", Nothing, \"1\", \"mixed\", Nothing, Nothing]]",
                "@pattern union: mastery 0.62 · last tried 9 days ago",
                "@pattern union: Draw a drill sheet [porism.drawDrill [\"\", \"union\", Nothing, \"mixed\", Nothing, Nothing]]",
                "@pattern limit: mastery 0.65 · never tried",
            ],
        );
    }

    #[test]
    fn sheets_can_be_drawn_where_there_is_something_to_ask() {
        check(
            "@exam Quiz\n  covers: 1\n\n@topic 1\n\n@pattern a\n  confused with: b\n\n@pattern b\n\n\
             @problem 1\n  pattern: a\n  Decide.\n\n@problem 2\n  pattern: b\n  Decide 2.\n",
            &[
                "@exam Quiz: not ready (a 10% chance) · too little evidence yet",
                "@exam Quiz: Draw a mock test [porism.drawPaper [\"\", \"Quiz\", \"closed\", Nothing, Nothing, Nothing]]",
                "@exam Quiz: Draw one with notes open [porism.drawPaper [\"\", \"Quiz\", \"open\", Nothing, Nothing, Nothing]]",
                "@exam Quiz: Draw a spotting round [porism.drawSpotting [\"\", \"Quiz\", Nothing, Nothing, Nothing, Nothing]]",
                "@topic 1: mastery 0.50 · 0 of 2 kinds tried · too little evidence yet",
                "@topic 1: Draw a drill sheet [porism.drawDrill [\"\", Nothing, \"1\", \"mixed\", Nothing, Nothing]]",
                "@topic 1: Draw a spotting round [porism.drawSpotting [\"\", Nothing, Nothing, \"1\", Nothing, Nothing]]",
                "@pattern a: mastery 0.44 · never tried · too little evidence yet",
                "@pattern a: Draw a drill sheet [porism.drawDrill [\"\", \"a\", Nothing, \"mixed\", Nothing, Nothing]]",
                "@pattern a: Draw a spotting round [porism.drawSpotting [\"\", Nothing, \"a, b\", Nothing, Nothing, Nothing]]",
                "@pattern b: mastery 0.44 · never tried · too little evidence yet",
                "@pattern b: Draw a drill sheet [porism.drawDrill [\"\", \"b\", Nothing, \"mixed\", Nothing, Nothing]]",
            ],
        );
    }

    #[test]
    fn a_round_or_a_sheet_has_no_clock_and_can_be_recorded() {
        check(
            "@paper R\n  drawn: 2027-02-15\n\n@question 1\n  Decide.\n  pattern: a\n\n@question 2\n  Decide.\n  pattern:\n",
            &[
                "@paper R: Record the round without the 1 left open [porism.recordMarks [\"notes.porism\", \"R\", true]]",
            ],
        );
        check(
            "@paper D\n  drawn: 2027-02-15\n\n@question 1\n  Decide.\n  mine:\n  mark:\n  answer: yes\n",
            &[],
        );
    }
}
