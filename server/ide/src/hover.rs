//! What is known of the thing under the cursor (LSP `textDocument/hover`).

use notes::value::{Attempt, Learned, NotesUse, Value};
use notes::{
    BlockKind, FilePath, Formula, Key, Located, NameKey, NamedThing, Place, ShapeKey, Span,
};
use study::mastery::Mastery;

use crate::diagnostics::answer_of;
use crate::exams::{self, Exam};
use crate::kinds::{Catalogue, Kind, kinds_of};
use crate::marked_at_once::{AtOnce, at_once, marks_at_once};
use crate::named::named_at;
use crate::papers::paper as read_paper;
use crate::past_estimates::past_estimate;
use crate::question_source::Sources;
use crate::standing::{PatternKey, pattern_keys};
use crate::verify::{Verdict, objection};
use crate::wording::Wording;
use crate::{Analysis, Doc, exam_clock, next_step, readiness, words};

/// What to show, and for which bytes of the file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hover {
    /// The thing that is explained, counted from the start of the file.
    pub span: Span,
    /// What is known of it.
    pub doc: Doc,
}

/// Patterns and siblings listed before the rest is only counted.
const LISTED: usize = 6;

/// Explains what stands at a byte of a file: a formula, a name in a field, a field's key, or the
/// block.
pub fn hover(analysis: &Analysis, path: &FilePath, offset: usize) -> Option<Hover> {
    let notebook = &analysis.notebook;
    if let Some(named) = named_at(notebook, path, offset)
        && !named.is_title
    {
        let doc = match notebook.definition(&named.thing) {
            Some(at) => block_doc(analysis, &at)?,
            None => undefined(&named.thing),
        };
        return Some(Hover {
            span: named.span,
            doc,
        });
    }
    let file = notebook.file(path)?;
    let entry = file.entries().get(file.index_at(offset)?)?;
    let start = entry.start as usize;
    if offset >= file.text().len_bytes() && offset > 0 && offset > start + entry.unit.len as usize {
        return None;
    }
    if let Some(formula) = entry.unit.formula_at(offset - start) {
        let tex = file.slice(formula.tex.shifted(start).range());
        let mut doc = Doc::new();
        doc.text(math::readable(&tex));
        formula_kinds(analysis, path, offset, formula, &tex, &mut doc);
        return (!tex.trim().is_empty()).then_some(Hover {
            span: formula.whole.shifted(start),
            doc,
        });
    }
    let at = notebook.block_at(path, offset)?;
    if let Some(field) = at
        .block
        .fields
        .iter()
        .find(|field| at.in_file(field.key_span).touches(offset))
    {
        let rule = at.block.kind?.field(field.key)?;
        let mut doc = Doc::new();
        doc.heading(field.key.word());
        doc.text(rule.summary);
        doc.fact("expected", rule.value.expected());
        return Some(Hover {
            span: at.in_file(field.key_span),
            doc,
        });
    }
    let span = at.in_file(at.block.extent);
    if !span.touches(offset) {
        return None;
    }
    Some(Hover {
        span: at.in_file(at.block.header),
        doc: block_doc(analysis, &at)?,
    })
}

/// Adds of which kind a formula is: of a problem's statement, the problem; of prose, the formula by
/// itself.
fn formula_kinds(
    analysis: &Analysis,
    path: &FilePath,
    offset: usize,
    formula: &Formula,
    tex: &str,
    doc: &mut Doc,
) {
    let notebook = &analysis.notebook;
    match (formula.place, notebook.block_at(path, offset)) {
        (Place::Statement, Some(at)) if at.block.kind == Some(BlockKind::Problem) => {
            kind_facts(&kinds_of(analysis, &at), doc);
        }
        (Place::Prose, _) => {
            let course = notebook.course_at(path, offset);
            let catalogue = Catalogue::of_course(notebook, &course);
            let statement = Wording::of_formula(tex);
            let problem = math::problem::read(&statement.parts());
            kind_facts(
                &catalogue.kinds(&analysis.mathematics, &statement, &problem),
                doc,
            );
        }
        (Place::Field(field), Some(at))
            if at.block.kind == Some(BlockKind::Problem)
                && at.block.fields.get(field).map(|field| field.key) == Some(Key::Answer) =>
        {
            verdict_fact(analysis, &at, doc);
        }
        _ => {}
    }
}

/// Adds whether the answer of a problem holds.
fn verdict_fact(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let Some(answer) = answer_of(at) else { return };
    let verdict = analysis
        .mathematics
        .verdict(&Wording::of_statement(at), &answer);
    let why = objection(&verdict).unwrap_or_default();
    doc.fact(
        "answer",
        match verdict {
            Verdict::Holds => "checked, it holds".to_owned(),
            Verdict::Fails { .. } => format!("it does not hold: {why}"),
            Verdict::CannotTell { .. } => format!("not checked: {why}"),
        },
    );
}

/// Adds which kind a problem is of, and why, in at most three lines.
fn kind_facts(kinds: &[Kind<'_>], doc: &mut Doc) {
    let Some(best) = kinds.first() else { return };
    let title = words::cut(&best.title(), 60);
    doc.fact(
        "kind",
        match best.steps() {
            Some(steps) => format!("after {steps}: {title}"),
            None => title,
        },
    );
    doc.fact("because it fits", words::cut(&best.fit(), 160));
    if kinds.len() > 1 {
        let others = kinds[1..].iter().map(Kind::title).collect();
        doc.fact("also", listed(others));
    }
}

fn undefined(thing: &NamedThing) -> Doc {
    let mut doc = Doc::new();
    doc.heading(format!("{} “{}”", thing.kind.word(), thing.name));
    doc.text(format!(
        "Not defined yet. Write @{} {} to define it.",
        thing.kind.word(),
        thing.name
    ));
    doc
}

/// What is known of a block; `None` for one of no known kind.
pub fn block_doc(analysis: &Analysis, at: &Located<'_>) -> Option<Doc> {
    let mut doc = Doc::new();
    let kind = at.block.kind?;
    doc.heading(format!("{} {}", capitalised(kind.word()), words::title(at)));
    match kind {
        BlockKind::Course => course_doc(analysis, at, &mut doc),
        BlockKind::Exam => exam_doc(analysis, at, &mut doc),
        BlockKind::Topic => topic_doc(analysis, at, &mut doc),
        BlockKind::Pattern => pattern_doc(analysis, at, &mut doc),
        BlockKind::Problem | BlockKind::Theorem | BlockKind::Definition => {
            practised_doc(analysis, at, &mut doc);
        }
        BlockKind::Paper => paper_doc(analysis, at, &mut doc),
        BlockKind::Question => question_doc(analysis, at, &mut doc),
    }
    Some(doc)
}

fn capitalised(word: &str) -> String {
    let mut letters = word.chars();
    match letters.next() {
        Some(first) => first.to_uppercase().chain(letters).collect(),
        None => String::new(),
    }
}

fn named(course: &NameKey, kind: BlockKind, name: &NameKey) -> NamedThing {
    NamedThing {
        course: course.clone(),
        kind,
        name: name.clone(),
    }
}

/// The title of a pattern as its definition writes it, else the name as it is compared.
fn pattern_title(analysis: &Analysis, course: &NameKey, name: &NameKey) -> String {
    let definition = analysis
        .notebook
        .definition(&named(course, BlockKind::Pattern, name));
    definition.map_or_else(|| name.to_string(), |at| words::title(&at))
}

fn statement(at: &Located<'_>, doc: &mut Doc) {
    let lines: Vec<String> = at
        .block
        .statement
        .iter()
        .map(|line| words::readable(at, *line))
        .collect();
    let text = lines.join(" ");
    if !text.trim().is_empty() {
        doc.text(words::cut(&text, 300));
    }
}

fn practised_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    let standing = analysis.standings.course(&course, analysis.today());
    statement(at, doc);
    let patterns = at.block.names(Key::Pattern);
    if patterns.is_empty() {
        doc.fact("pattern", "none yet; add pattern: and its kind");
    }
    for key in pattern_keys(at) {
        let said = standing.mastery(&key).map(words::mastery);
        match (&key, said) {
            (PatternKey::Named(name), said) => {
                let title = pattern_title(analysis, &course, name);
                let said = said.unwrap_or_else(|| "nothing known yet".to_owned());
                doc.fact("pattern", format!("{title}. {}", capitalised(&said)));
            }
            (PatternKey::Own(_), Some(said)) => doc.fact("mastery", said),
            (PatternKey::Own(_), None) => {}
        }
    }
    if !standing.standing.enough_evidence {
        doc.text(TOO_LITTLE);
    }
    if at.block.kind == Some(BlockKind::Problem) {
        kind_facts(&kinds_of(analysis, at), doc);
        verdict_fact(analysis, at, doc);
    }
    doc.fact("tries", tries(analysis, at));
    if let Some(said) = spotted(analysis, std::slice::from_ref(at)) {
        doc.fact("named at sight", said);
    }
    let siblings = siblings(analysis, at, &course);
    if !siblings.is_empty() {
        doc.fact("same with other numbers", listed(siblings));
    }
}

/// Said beside every estimate of a course with fewer than five tries.
const TOO_LITTLE: &str = "Too little evidence yet: fewer than five tries in this course.";

fn tries(analysis: &Analysis, at: &Located<'_>) -> String {
    let mut attempts: Vec<&Attempt> = at.block.attempts().collect();
    attempts.sort_by_key(|attempt| attempt.date);
    let Some(last) = attempts.last() else {
        return "none yet".to_owned();
    };
    let how = |attempt: &&Attempt| {
        let open = if attempt.notes == NotesUse::Open {
            " (notes open)"
        } else {
            ""
        };
        format!("{}{open}", attempt.outcome)
    };
    let shown = attempts
        .iter()
        .rev()
        .take(LISTED)
        .rev()
        .map(how)
        .collect::<Vec<_>>()
        .join(", ");
    let earlier = match attempts.len().saturating_sub(LISTED) {
        0 => String::new(),
        n => format!("{n} earlier, then "),
    };
    format!(
        "{earlier}{shown}; last {}",
        words::day_from(analysis.today(), last.date)
    )
}

/// How often the kind of some problems was named rightly at sight; `None` if it never was asked.
fn spotted(analysis: &Analysis, problems: &[Located<'_>]) -> Option<String> {
    let spottings = problems.iter().flat_map(|at| at.block.spottings());
    let spottings: Vec<_> = spottings.collect();
    let last = spottings.iter().map(|spotting| spotting.date).max()?;
    let right = spottings.iter().filter(|spotting| spotting.right).count();
    let when = words::day_from(analysis.today(), last);
    let all = words::count(spottings.len(), "time");
    Some(format!("right {right} of {all}, last {when}"))
}

/// The other problems of the same shape, each with how it stands.
fn siblings(analysis: &Analysis, at: &Located<'_>, course: &NameKey) -> Vec<String> {
    let Some(fingerprint) = at
        .block
        .reading
        .as_ref()
        .and_then(|reading| reading.fingerprint)
    else {
        return Vec::new();
    };
    if at.block.kind != Some(BlockKind::Problem) {
        return Vec::new();
    }
    let key = ShapeKey {
        course: course.clone(),
        fingerprint,
    };
    let others = analysis
        .notebook
        .same_shape(&key)
        .filter(|other| other.id() != at.id());
    others
        .map(|other| {
            let how = if other.block.done_right_closed() {
                "right with notes closed"
            } else if other.block.attempts().next().is_some() {
                "tried"
            } else {
                "not tried"
            };
            format!("{} ({how})", words::title(&other))
        })
        .collect()
}

fn listed(mut items: Vec<String>) -> String {
    let more = items.len().saturating_sub(LISTED);
    items.truncate(LISTED);
    let mut text = items.join(", ");
    if more > 0 {
        text.push_str(&format!(" and {more} more"));
    }
    text
}

fn field_fact(at: &Located<'_>, key: Key, doc: &mut Doc) {
    for field in at.block.fields_of(key) {
        let text = words::readable(at, field.value_span);
        if !text.is_empty() {
            doc.fact(key.word(), words::cut(&text, 300));
        }
    }
}

fn pattern_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    let standing = analysis.standings.course(&course, analysis.today());
    field_fact(at, Key::Cue, doc);
    field_fact(at, Key::Method, doc);
    field_fact(at, Key::Shape, doc);
    statement(at, doc);
    let key = PatternKey::Named(at.block.name.clone());
    if let Some(mastery) = standing.mastery(&key) {
        doc.fact("mastery", words::mastery(mastery));
        if let Some(fading) = fading(mastery) {
            doc.fact("fading", fading);
        }
        if !standing.standing.enough_evidence {
            doc.text(TOO_LITTLE);
        }
    }
    let problems = notebook.problems_of(&course, &at.block.name);
    let untried = problems
        .iter()
        .filter(|p| p.block.attempts().next().is_none())
        .count();
    let closed = problems
        .iter()
        .filter(|p| p.block.done_right_closed())
        .count();
    doc.fact(
        "problems",
        match problems.len() {
            0 => "none yet".to_owned(),
            n => format!("{n}: {closed} done right with notes closed, {untried} not tried"),
        },
    );
    if let Some(said) = spotted(analysis, &problems) {
        doc.fact("named at sight", said);
    }
    for (key, label) in [
        (Key::ReducesTo, "reduces to"),
        (Key::ConfusedWith, "confused with"),
    ] {
        let partners = at.block.names(key).iter().map(|partner| {
            let title = pattern_title(analysis, &course, &partner.key);
            match standing.mastery(&PatternKey::Named(partner.key.clone())) {
                Some(mastery) => format!("{title} ({})", words::probability(mastery.mean)),
                None => title,
            }
        });
        let partners: Vec<String> = partners.collect();
        if !partners.is_empty() {
            doc.fact(label, listed(partners));
        }
    }
}

/// What a week without practice would do to a tried pattern.
fn fading(mastery: &Mastery) -> Option<String> {
    mastery.gap?;
    Some(format!(
        "a week without practice brings it to {}",
        words::probability(mastery.after(7))
    ))
}

fn topic_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let notebook = &analysis.notebook;
    let course = notebook.course_of(at.path, at.entry);
    let Some(topic) = notebook.topic_key(at) else {
        return;
    };
    let standing = analysis.standings.course(&course, analysis.today());
    let main = notebook.definition(&named(&course, BlockKind::Topic, &topic));
    let learned = main
        .as_ref()
        .and_then(|at| at.block.field(Key::Learned))
        .map(|f| &f.value);
    match learned {
        Some(Value::Learned(Learned::No)) => doc.text("Never learned: it comes first in a plan."),
        Some(Value::Learned(Learned::Partly)) => doc.text("Partly learned."),
        _ => {}
    }
    if let Some(level) = standing.topic(&topic) {
        doc.fact("level", words::probability(level));
    }
    let mut patterns: Vec<(f64, String)> = Vec::new();
    for pattern in exams::patterns_of(notebook, &course, &topic) {
        let key = PatternKey::Named(pattern.block.name.clone());
        if let Some(mastery) = standing.mastery(&key) {
            patterns.push((mastery.mean, words::title(&pattern)));
        }
    }
    patterns.sort_by(|(a, x), (b, y)| a.total_cmp(b).then_with(|| x.cmp(y)));
    let patterns: Vec<String> = patterns
        .into_iter()
        .map(|(mean, title)| format!("{title} ({})", words::probability(mean)))
        .collect();
    if !patterns.is_empty() {
        doc.fact("patterns, weakest first", listed(patterns));
    }
    let practised = exams::practised_of(notebook, &course, &topic);
    let untried = practised
        .iter()
        .filter(|at| at.block.attempts().next().is_none())
        .count();
    doc.fact(
        "to practise",
        match practised.len() {
            0 => "nothing yet".to_owned(),
            n => format!("{}, {untried} not tried", words::count(n, "problem")),
        },
    );
    for exam in exams::exams(analysis, &course) {
        if exam.covers(&topic) && !exam.is_past(analysis.today()) {
            doc.fact("on", exam_when(analysis, &exam));
        }
    }
}

fn exam_when(analysis: &Analysis, exam: &Exam<'_>) -> String {
    match exam.on {
        Some(on) => format!(
            "{}, {}",
            exam.name(),
            words::day_from(analysis.today(), on.date)
        ),
        None => format!("{}, no date yet", exam.name()),
    }
}

fn exam_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let notebook = &analysis.notebook;
    let today = analysis.today();
    let exam = exams::exam(notebook, *at);
    match exam.on {
        Some(on) => doc.fact("on", format!("{on}, {}", words::day_from(today, on.date))),
        None => doc.fact("on", "no date yet"),
    }
    if let Some(score) = at.block.score(Key::Result) {
        doc.fact("result", score.to_string());
        if let Some(past) = past_estimate(analysis, &exam, today) {
            doc.fact("estimated", past.in_words());
        }
    }
    if let Some(start) = exam.window_start
        && !exam.is_past(today)
    {
        let when = words::day_from(today, start);
        let verb = if start <= today {
            "revision began"
        } else {
            "revision begins"
        };
        doc.fact("window", format!("{verb} {when}, on {start}"));
    }
    if let Some(next) = next_step::next(analysis, &exam) {
        doc.fact("next", next.to_string());
    }
    let topics = exam
        .topics
        .iter()
        .map(|topic| topic.to_string())
        .collect::<Vec<_>>();
    doc.fact(
        "covers",
        if topics.is_empty() {
            "no topic that is defined".to_owned()
        } else {
            topics.join(", ")
        },
    );
    let given = if exam.target_given {
        ""
    } else {
        ", as none is given"
    };
    doc.fact("target", format!("{}{given}", words::percent(exam.target)));
    match readiness::of_exam(analysis, &exam) {
        Ok(readiness) => {
            doc.fact("readiness", readiness::in_words(&readiness, &exam));
            doc.fact("score", readiness::score_in_words(&readiness));
            if let Some(costs) = readiness::costs_in_words(analysis, &exam, &readiness) {
                doc.text(capitalised(&costs));
            }
            doc.text("An estimate, not a promise.");
        }
        Err(reason) => doc.fact("readiness", reason.to_string()),
    }
    let standing = analysis.standings.course(&exam.course, today);
    if !standing.standing.enough_evidence {
        doc.text(TOO_LITTLE);
    }
    let mut weak: Vec<(f64, &PatternKey)> = standing
        .patterns()
        .filter(|(_, topic, _)| exam.covers(topic))
        .map(|(key, _, mastery)| (mastery.mean, key))
        .collect();
    weak.sort_by(|(a, x), (b, y)| a.total_cmp(b).then_with(|| x.cmp(y)));
    let weak: Vec<String> = weak
        .into_iter()
        .filter(|(mean, _)| *mean < exam.target)
        .map(|(mean, key)| {
            let title = match key {
                PatternKey::Named(name) => pattern_title(analysis, &exam.course, name),
                PatternKey::Own(id) => notebook
                    .block(id)
                    .map_or_else(String::new, |at| words::title(&at)),
            };
            format!("{title} ({})", words::probability(mean))
        })
        .collect();
    if !weak.is_empty() {
        doc.fact("weak", listed(weak));
    }
    let carried: Vec<String> = next_step::carried_over(analysis, &exam)
        .into_iter()
        .map(|(pattern, from)| format!("{pattern} (from {from})"))
        .collect();
    if !carried.is_empty() {
        doc.fact("holes carried over", listed(carried));
    }
}

fn course_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let notebook = &analysis.notebook;
    let course = &at.block.name;
    let counted = |kind: BlockKind| words::count(notebook.count_of(course, kind), kind.word());
    let counts = [
        BlockKind::Pattern,
        BlockKind::Problem,
        BlockKind::Theorem,
        BlockKind::Definition,
    ];
    let topics = words::count(notebook.topics(course).len(), "topic");
    let counts: Vec<String> = counts.into_iter().map(counted).collect();
    doc.text(format!("{topics}, {}.", counts.join(", ")));
    for exam in exams::exams(analysis, course) {
        if !exam.is_past(analysis.today()) {
            doc.item(exam_when(analysis, &exam));
        }
    }
}

fn paper_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    let items = analysis.notebook.items_of(at);
    for key in [
        Key::For,
        Key::By,
        Key::Drawn,
        Key::Length,
        Key::Notes,
        Key::Recorded,
    ] {
        field_fact(at, key, doc);
    }
    let questions = items
        .iter()
        .filter(|item| item.block.kind == Some(BlockKind::Question))
        .count();
    if questions > 0 {
        let marked = items.iter().filter(|item| {
            let mark = item.block.field(Key::Mark).map(|field| &field.value);
            matches!(mark, Some(Value::Mark(_)))
        });
        doc.fact(
            "questions",
            format!("{questions}, {} marked", marked.count()),
        );
    } else {
        doc.fact("problems", items.len().to_string());
    }
    let paper = crate::papers::paper(&analysis.notebook, *at);
    if exam_clock::can_finish(&paper)
        && let Some(pace) = exam_clock::pace(analysis, &paper)
    {
        doc.fact("pace", pace);
    }
}

fn question_doc(analysis: &Analysis, at: &Located<'_>, doc: &mut Doc) {
    // The pattern and the tries of the source would give the approach away: before the paper is
    // recorded, only the question is shown.
    statement(at, doc);
    for key in [Key::Points, Key::Mine, Key::Mark] {
        field_fact(at, key, doc);
    }
    let paper = analysis.notebook.paper_of(at);
    let Some(paper) = paper.map(|at| read_paper(&analysis.notebook, at)) else {
        return;
    };
    if marks_at_once(&paper) {
        let sources = Sources::of(&analysis.notebook, &paper.course);
        let said = at_once(analysis, &paper, &sources, at);
        if let Some(said) = said {
            doc.fact(
                "what you wrote",
                match said {
                    AtOnce::Right => "right".to_owned(),
                    AtOnce::Wrong(why) => format!("wrong: {why}"),
                    AtOnce::Unclear(why) => format!("mark it yourself: {why}"),
                },
            );
        }
    }
    if paper.is_recorded() {
        for key in [Key::Of, Key::Answer] {
            field_fact(at, key, doc);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    /// Prints what is explained and the explanation.
    fn check(text: &str) -> String {
        let fixture = notebook(text);
        let (path, offset) = fixture.cursor();
        match hover(fixture.analysis(), path, offset) {
            Some(found) => {
                let span = &fixture.files[path][found.span.range()];
                format!("[{span}]\n{}", found.doc.to_plain())
            }
            None => "nothing".to_owned(),
        }
    }

    #[test]
    fn kinds_that_were_named_at_sight_are_counted() {
        let notes = "@course C\n@pattern separable<|>\n\
            @problem a\n  pattern: separable\n  Decide.\n  spotted: 2027-02-10 right\n  \
            spotted: 2027-02-12 wrong\n@problem b\n  pattern: separable\n  Say.\n  spotted: 2027-02-14 right\n";
        let said = check(notes);
        assert!(
            said.contains("named at sight: right 2 of 3 times, last yesterday\n"),
            "{said}"
        );
        let said = check(
            &notes
                .replace("<|>", "")
                .replace("@problem b", "@problem b<|>"),
        );
        assert!(
            said.contains("named at sight: right 1 of 1 time, last yesterday\n"),
            "{said}"
        );
    }

    #[test]
    fn a_problem_shows_its_pattern_tries_and_siblings() {
        assert_eq!(
            check(
                "@course C\n@topic 1 T\n@pattern separable\n  cue: x apart\n\
                 @problem a\n  pattern: separable\n  Solve $y' = x y$.\n  \
                 tried: 2027-02-10 closed right\n  tried: 2027-02-11 open wrong\n\
                 @problem b<|>\n  pattern: separable\n  Solve $y' = 3 x y$.\n"
            ),
            "[@problem b]\nProblem b\nSolve y′ = 3xy.\n\
             pattern: separable. Right on the one closed-notes try, last tried 4 days ago: \
             0.45, between 0.12 and 0.80\n\
             Too little evidence yet: fewer than five tries in this course.\n\
             tries: none yet\nsame with other numbers: a (right with notes closed)\n"
        );
    }

    #[test]
    fn a_problem_and_a_formula_say_which_kind_they_are_and_why() {
        let pattern = "@pattern by factors\n  shape: $a x^2 + b x + c = 0$ where a, b, c are numbers; \
                       a is not 0; b^2 - 4 a c is a perfect square\n\n";
        let said = check(&format!(
            "{pattern}@problem 1<|>\n  Solve $\\frac{{6}}{{x}} = 5 - x$.\n"
        ));
        let kind = "kind: after clearing denominators: by factors\n\
                    because it fits: ax² + bx + c = 0 with a = 1, b = −5, c = 6; b² − 4ac = 1 is a perfect square\n";
        assert!(said.contains(kind), "{said}");
        let said = check(&format!("{pattern}Try $x^2 = 4<|>$.\n"));
        assert_eq!(
            said,
            "[$x^2 = 4$]\nx² = 4\nkind: by factors\n\
             because it fits: ax² + bx + c = 0 with a = 1, b = 0, c = −4; b² − 4ac = 16 is a perfect square\n"
        );
        let said = check(&format!(
            "{pattern}@paper P\n@question 1\n  Solve $x^2 = 4<|>$.\n"
        ));
        assert_eq!(said, "[$x^2 = 4$]\nx² = 4\n");
    }

    #[test]
    fn a_pattern_shows_how_to_tell_it_and_how_it_stands() {
        let said = check(
            "@pattern sep<|>arable\n  cue: $y'$ is a product\n  method: divide\n  \
             confused with: linear\n@pattern linear\n@problem a\n  pattern: separable\n  \
             tried: 2027-02-10 closed right\n",
        );
        assert!(
            said.starts_with("[@pattern separable]\nPattern separable\ncue: y′ is a product\n"),
            "{said}"
        );
        assert!(said.contains("method: divide\n"), "{said}");
        assert!(
            said.contains("fading: a week without practice brings it to 0."),
            "{said}"
        );
        assert!(
            said.contains("problems: 1: 1 done right with notes closed, 0 not tried\n"),
            "{said}"
        );
        assert!(said.contains("confused with: linear (0."), "{said}");
    }

    #[test]
    fn an_exam_shows_the_days_left_and_what_is_weak() {
        let said = check(
            "@course C\n@topic 1 T\n@pattern p\n@problem a\n  pattern: p\n  \
             tried: 2027-02-14 closed wrong\n@exam Fi<|>nal\n  on: 2027-02-20 10:00\n  covers: 1\n",
        );
        assert!(said.contains("on: 2027-02-20 10:00, in 5 days\n"), "{said}");
        assert!(
            said.contains("window: revision began 2 days ago, on 2027-02-13\n"),
            "{said}"
        );
        assert!(said.contains("target: 70%, as none is given\n"), "{said}");
        assert!(said.contains("weak: p (0."), "{said}");
        assert!(said.contains("An estimate, not a promise.\n"), "{said}");
    }

    #[test]
    fn a_reference_shows_what_it_names_and_a_key_what_it_says() {
        assert_eq!(
            check("@problem a\n  pattern: no<|>ne\n"),
            "[none]\npattern “none”\nNot defined yet. Write @pattern none to define it.\n"
        );
        assert_eq!(
            check("@exam E\n  cov<|>ers: 1\n"),
            "[covers]\ncovers\nthe topics it covers\n\
             expected: topic labels, ranges or names, such as 1.1 .. 1.5, 2.1\n"
        );
        let topic =
            check("@topic 1.1 A\n  learned: no\n@exam E\n  on: 2027-02-16\n  covers: 1<|>.1\n");
        assert!(
            topic.contains("Topic 1.1 A\nNever learned: it comes first in a plan.\n"),
            "{topic}"
        );
        assert!(topic.contains("on: E, tomorrow\n"), "{topic}");
    }

    #[test]
    fn a_formula_is_shown_in_readable_characters() {
        assert_eq!(
            check("Thus $\\frac{x^2}<|>{2}$.\n"),
            "[$\\frac{x^2}{2}$]\nx²/2\n"
        );
    }

    #[test]
    fn a_question_gives_no_approach_away_before_it_is_recorded() {
        let said = check(
            "@problem a\n  pattern: p\n  Solve it.\n  answer: 7\n@paper P\n@question 1<|>\n  of: a\n  Solve it.\n",
        );
        assert_eq!(said, "[@question 1]\nQuestion 1\nSolve it.\n");
    }

    #[test]
    fn nothing_is_known_of_prose() {
        assert_eq!(check("some <|>prose\n"), "nothing");
        assert_eq!(check("<|>"), "nothing");
        assert_eq!(check("@<|>\n"), "nothing");
    }
}
