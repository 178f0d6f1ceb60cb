//! What may be typed at a place (LSP `textDocument/completion`).

use chrono::{Datelike, Days, NaiveDate};
use notes::{BlockKind, Content, FilePath, Key, Located, NamedThing, Span, ValueKind};

use crate::{Analysis, words};

/// One proposal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct CompletionItem {
    /// What the list shows.
    pub label: String,
    /// A few words beside it; may be empty.
    pub detail: String,
    /// More about it, for a panel; may be empty.
    pub documentation: String,
    /// What it is.
    pub kind: CompletionKind,
    /// The bytes it replaces, counted from the start of the file.
    pub span: Span,
    /// What is put there.
    pub text: String,
}

/// What a proposal is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum CompletionKind {
    /// A kind of block.
    BlockKind,
    /// A field's key.
    Field,
    /// The name of a block.
    Name(BlockKind),
    /// A date.
    Date,
    /// A word of a value.
    Word,
}

/// Proposes what fits at a byte of a file, best first.
pub fn completion(analysis: &Analysis, path: &FilePath, offset: usize) -> Vec<CompletionItem> {
    let Some(file) = analysis.notebook.file(path) else {
        return Vec::new();
    };
    let text = file.text();
    let offset = offset.min(text.len_bytes());
    let line_start = text.line_to_byte(text.byte_to_line(offset));
    let line = file.slice(line_start..offset);
    if let Some(word) = line.strip_prefix('@') {
        let plain = word.chars().all(|c| c.is_ascii_alphabetic());
        return if plain {
            block_kinds(Span::new(line_start, offset))
        } else {
            title(analysis, path, line_start, &line)
        };
    }
    // Inside a formula nothing of the format may stand.
    let in_formula = file.index_at(offset).is_some_and(|i| {
        let entry = &file.entries()[i];
        entry.unit.formulas.iter().any(|formula| {
            let whole = formula.whole.shifted(entry.start as usize);
            (whole.start as usize) < offset && offset < whole.end as usize
        })
    });
    let indent = line.len() - line.trim_start_matches([' ', '\t']).len();
    if in_formula || indent == 0 {
        return Vec::new();
    }
    let Some(at) = block_above(analysis, path, line_start) else {
        return Vec::new();
    };
    let typed = &line[indent..];
    if let Some((key, value)) = typed.split_once(':')
        && let Some(key) = Key::from_word(key)
    {
        let value_start = offset - value.len();
        return values(analysis, &at, key, value, value_start, offset);
    }
    // A line that continues a field: the field above it says what fits.
    if let Some(field) = at.block.fields.iter().find(|field| {
        let span = at.in_file(field.value_span);
        (span.start as usize) < line_start && offset <= span.end as usize
    }) {
        let start = at.in_file(field.value_span).start as usize;
        let value = file.slice(start..offset);
        return values(analysis, &at, field.key, &value, start, offset);
    }
    let key_like = typed.chars().all(|c| c.is_ascii_lowercase() || c == ' ');
    if key_like {
        fields(&at, Span::new(line_start + indent, offset))
    } else {
        Vec::new()
    }
}

/// The block to which an indented line belongs.
fn block_above<'a>(
    analysis: &'a Analysis,
    path: &FilePath,
    line_start: usize,
) -> Option<Located<'a>> {
    let (path, file) = analysis.notebook.files().find(|(p, _)| *p == path)?;
    let entry = &file.entries()[file.index_at(line_start)?];
    match &entry.unit.content {
        Content::Block(block) => Some(Located {
            order: entry.order,
            path,
            file,
            entry,
            block,
        }),
        _ => None,
    }
}

fn block_kinds(span: Span) -> Vec<CompletionItem> {
    let item = |kind: BlockKind| CompletionItem {
        label: format!("@{}", kind.word()),
        detail: kind.summary().to_owned(),
        documentation: String::new(),
        kind: CompletionKind::BlockKind,
        span,
        text: format!("@{} ", kind.word()),
    };
    BlockKind::ALL.into_iter().map(item).collect()
}

/// Titles of headers that set a context: courses and topics that are defined elsewhere.
fn title(
    analysis: &Analysis,
    path: &FilePath,
    line_start: usize,
    line: &str,
) -> Vec<CompletionItem> {
    let Some((word, typed)) = line[1..].split_once(' ') else {
        return Vec::new();
    };
    let Some(kind @ (BlockKind::Course | BlockKind::Topic)) = BlockKind::from_word(word) else {
        return Vec::new();
    };
    let start = line_start + line.len() - typed.trim_start().len();
    let span = Span::new(start, line_start + line.len());
    let course = analysis.notebook.course_at(path, line_start);
    names(analysis, &course, kind, span, Some(line_start))
}

fn fields(at: &Located<'_>, span: Span) -> Vec<CompletionItem> {
    let Some(kind) = at.block.kind else {
        return Vec::new();
    };
    let here = |field: &notes::Field| at.in_file(field.key_span).touches(span.end as usize);
    let missing = |key: Key| !at.block.fields.iter().any(|f| f.key == key && !here(f));
    kind.fields()
        .filter(|rule| rule.repeats || missing(rule.key))
        .map(|rule| CompletionItem {
            label: format!("{}:", rule.key.word()),
            detail: rule.summary.to_owned(),
            documentation: format!("Expected: {}.", rule.value.expected()),
            kind: CompletionKind::Field,
            span,
            text: format!("{}: ", rule.key.word()),
        })
        .collect()
}

fn values(
    analysis: &Analysis,
    at: &Located<'_>,
    key: Key,
    value: &str,
    start: usize,
    offset: usize,
) -> Vec<CompletionItem> {
    let Some(rule) = at.block.kind.and_then(|kind| kind.field(key)) else {
        return Vec::new();
    };
    let course = analysis.notebook.course_of(at.path, at.entry);
    let item_start = start + value.rfind(',').map_or(0, |comma| comma + 1);
    let item = &value[item_start - start..];
    let item_span = Span::new(item_start + (item.len() - item.trim_start().len()), offset);
    let word_len = value
        .chars()
        .rev()
        .take_while(|c| !c.is_whitespace())
        .map(char::len_utf8)
        .sum::<usize>();
    let word_span = Span::new(offset - word_len, offset);
    let earlier = value[..value.len() - word_len].trim();
    match rule.value {
        ValueKind::Names(kind) => {
            let mut items = names(analysis, &course, kind, item_span, None);
            // A pattern on its own line of partners is no partner of itself.
            items.retain(|item| {
                kind != BlockKind::Pattern
                    || at.block.kind != Some(BlockKind::Pattern)
                    || notes::NameKey::new(&item.label) != at.block.name
            });
            items
        }
        ValueKind::Coverage | ValueKind::TopicPoints => {
            names(analysis, &course, BlockKind::Topic, word_span, None)
                .into_iter()
                .map(|item| match notes::Label::split(&item.label).0 {
                    Some(label) => CompletionItem {
                        text: label.to_string(),
                        ..item
                    },
                    None => item,
                })
                .collect()
        }
        ValueKind::Moment | ValueKind::Start if earlier.is_empty() => {
            let mut items = dates(analysis.today(), word_span, false);
            if rule.value == ValueKind::Start {
                items.insert(0, word("7 days before", "the usual start", word_span));
            }
            items
        }
        ValueKind::Attempt => match earlier.split_whitespace().count() {
            0 => dates(analysis.today(), word_span, true),
            _ => record_words(earlier, word_span),
        },
        ValueKind::Spotting => match earlier.split_whitespace().count() {
            0 => dates(analysis.today(), word_span, true),
            1 => vec![
                word("right", "the kind was named rightly", word_span),
                word("wrong", "the kind was not named rightly", word_span),
            ],
            _ => Vec::new(),
        },
        ValueKind::OutsideMark if earlier.is_empty() => dates(analysis.today(), word_span, true),
        ValueKind::Learned => vec![
            word("no", "never learned: comes first in every plan", word_span),
            word("partly", "half of it", word_span),
            word("yes", "learned", word_span),
        ],
        ValueKind::Mark => outcomes(word_span),
        ValueKind::NotesRule if earlier.is_empty() => vec![
            word("closed", "no notes", word_span),
            word("open", "notes open", word_span),
        ],
        ValueKind::Text if key == Key::By && earlier.is_empty() => {
            vec![word(
                "instructor",
                "handed out by the instructor",
                word_span,
            )]
        }
        _ => Vec::new(),
    }
}

fn names(
    analysis: &Analysis,
    course: &notes::NameKey,
    kind: BlockKind,
    span: Span,
    except: Option<usize>,
) -> Vec<CompletionItem> {
    let notebook = &analysis.notebook;
    let mut items: Vec<CompletionItem> = Vec::new();
    let mut seen = std::collections::BTreeSet::new();
    let kinds: &[BlockKind] = match kind {
        BlockKind::Problem => &[
            BlockKind::Problem,
            BlockKind::Theorem,
            BlockKind::Definition,
        ],
        _ => std::slice::from_ref(&kind),
    };
    for kind in kinds {
        let names: Vec<_> = notebook.names(course, *kind).cloned().collect();
        for name in names {
            let thing = NamedThing {
                course: if *kind == BlockKind::Course {
                    notes::NameKey::default()
                } else {
                    course.clone()
                },
                kind: *kind,
                name,
            };
            let Some(at) = notebook.definition(&thing) else {
                continue;
            };
            let here = except.is_some_and(|offset| at.in_file(at.block.header).touches(offset));
            if here || !seen.insert(at.id()) {
                continue;
            }
            let about = [Key::Cue, Key::On, Key::Learned]
                .into_iter()
                .find_map(|key| {
                    at.block
                        .field(key)
                        .map(|field| words::readable(&at, field.value_span))
                });
            let method = at.block.field(Key::Method);
            let method = method.map(|field| words::readable(&at, field.value_span));
            items.push(CompletionItem {
                label: at.title(),
                detail: words::cut(&about.unwrap_or_default(), 80),
                documentation: method.unwrap_or_default(),
                kind: CompletionKind::Name(*kind),
                span,
                text: at.title(),
            });
        }
    }
    items
}

/// Today first for a record of the past, then the days before it; for what is to come, the days
/// ahead, so that a weekday is one keystroke away.
fn dates(today: NaiveDate, span: Span, past: bool) -> Vec<CompletionItem> {
    let mut items = Vec::new();
    for days in 0..=7u64 {
        let day = match past {
            true => today.checked_sub_days(Days::new(days)),
            false => today.checked_add_days(Days::new(days)),
        };
        let Some(day) = day else { continue };
        let weekday = weekday(day);
        let label = match (days, past) {
            (0, _) => "today".to_owned(),
            (1, true) => "yesterday".to_owned(),
            (1, false) => "tomorrow".to_owned(),
            (7, true) => format!("a week ago, {weekday}"),
            (7, false) => format!("in a week, {weekday}"),
            (_, true) => format!("last {weekday}"),
            (_, false) => format!("next {weekday}"),
        };
        let text = day.format("%Y-%m-%d").to_string();
        items.push(CompletionItem {
            label,
            detail: text.clone(),
            documentation: String::new(),
            kind: CompletionKind::Date,
            span,
            text,
        });
    }
    items
}

fn weekday(day: NaiveDate) -> &'static str {
    match day.weekday() {
        chrono::Weekday::Mon => "Monday",
        chrono::Weekday::Tue => "Tuesday",
        chrono::Weekday::Wed => "Wednesday",
        chrono::Weekday::Thu => "Thursday",
        chrono::Weekday::Fri => "Friday",
        chrono::Weekday::Sat => "Saturday",
        chrono::Weekday::Sun => "Sunday",
    }
}

fn word(label: &str, detail: &str, span: Span) -> CompletionItem {
    CompletionItem {
        label: label.to_owned(),
        detail: detail.to_owned(),
        documentation: String::new(),
        kind: CompletionKind::Word,
        span,
        text: label.to_owned(),
    }
}

fn outcomes(span: Span) -> Vec<CompletionItem> {
    vec![
        word("right", "all of it", span),
        word("partly", "part of it", span),
        word("wrong", "none of it", span),
        word("skipped", "passed over", span),
    ]
}

/// The words of a record that are still missing.
fn record_words(earlier: &str, span: Span) -> Vec<CompletionItem> {
    if earlier.contains(',') {
        return Vec::new();
    }
    let has = |words: &[&str]| earlier.split_whitespace().any(|w| words.contains(&w));
    let mut items = Vec::new();
    if !has(&["open", "closed"]) {
        items.push(word("closed", "notes closed", span));
        items.push(word("open", "notes open", span));
    }
    if !has(&["right", "partly", "wrong", "skipped"]) && !earlier.contains('/') {
        items.extend(outcomes(span));
    }
    if !has(&["mock"]) {
        items.push(word("mock", "a question of a mock test", span));
    }
    items
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture::notebook;

    /// Prints the first proposals, each with the text it gives.
    fn check(text: &str) -> Vec<String> {
        let fixture = notebook(text);
        let (path, offset) = fixture.cursor();
        let items = completion(fixture.analysis(), path, offset);
        let line = |item: CompletionItem| {
            let replaced = &fixture.files[path][item.span.range()];
            if item.label == item.text {
                format!("{} for {replaced:?}", item.label)
            } else {
                format!("{} = {:?} for {replaced:?}", item.label, item.text)
            }
        };
        items.into_iter().map(line).collect()
    }

    #[test]
    fn a_sign_at_the_margin_offers_the_kinds_of_block() {
        let offered = check("@pr<|>");
        assert_eq!(offered.len(), BlockKind::ALL.len());
        assert!(
            offered.contains(&"@problem = \"@problem \" for \"@pr\"".to_owned()),
            "{offered:?}"
        );
        assert_eq!(check("pr<|>"), [""; 0]);
    }

    #[test]
    fn a_body_line_offers_the_fields_that_are_missing() {
        let offered = check("@exam E\n  on: 2027-02-20\n  co<|>\n");
        assert!(
            offered.contains(&"covers: = \"covers: \" for \"co\"".to_owned()),
            "{offered:?}"
        );
        assert!(
            !offered.iter().any(|item| item.starts_with("on:")),
            "{offered:?}"
        );
        assert_eq!(check("@problem 1\n  Solve it. <|>\n"), [""; 0]);
    }

    #[test]
    fn a_field_of_names_offers_the_names_of_the_course() {
        let notes = "@pattern separable\n  cue: apart\n@pattern exact\n@topic 1.2 Waves\n";
        assert_eq!(
            check(&format!("{notes}@problem a\n  pattern: exact, se<|>\n")),
            ["exact for \"se\"", "separable for \"se\""]
        );
        assert_eq!(
            check(&format!("{notes}@pattern linear\n  confused with: <|>\n")),
            ["exact for \"\"", "separable for \"\""]
        );
        assert_eq!(
            check(&format!("{notes}@exam E\n  covers: 1.1 .. <|>\n")),
            ["1.2 Waves = \"1.2\" for \"\""]
        );
    }

    #[test]
    fn a_record_offers_days_then_words() {
        // 2027-02-15 is a Monday.
        let days = check("@problem a\n  tried: <|>\n");
        assert_eq!(days[0], "today = \"2027-02-15\" for \"\"");
        assert_eq!(days[2], "last Saturday = \"2027-02-13\" for \"\"");
        assert_eq!(
            check("@exam E\n  on: <|>\n")[1],
            "tomorrow = \"2027-02-16\" for \"\""
        );
        assert_eq!(
            check("@problem a\n  tried: 2027-02-15 closed r<|>\n"),
            [
                "right for \"r\"",
                "partly for \"r\"",
                "wrong for \"r\"",
                "skipped for \"r\"",
                "mock for \"r\""
            ]
        );
        assert_eq!(
            check("@problem a\n  tried: 2027-02-15 closed right, lo<|>\n"),
            [""; 0]
        );
    }

    #[test]
    fn nothing_is_offered_inside_a_formula() {
        assert_eq!(check("@problem a\n  $co<|>s x$\n"), [""; 0]);
    }
}
