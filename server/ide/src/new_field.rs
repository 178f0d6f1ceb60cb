//! Where a new field of a block goes, in the block's own indentation and line ends. Nothing that
//! stands in the file is replaced: every edit is an insertion.

use notes::{Field, File, Key, Located, Span};

use crate::edit::NotebookEdit;

/// The indentation of a field in a block that has no line yet.
const INDENTATION: &str = "  ";
/// What the further lines of a value are indented by, beyond the field's own indentation.
const DEEPER: &str = "    ";
/// Columns from which on no line counts as deeper than another.
const DEEPEST: usize = 8;
/// Columns to which a tab fills up.
const TAB_STOP: usize = 4;

/// Adds a field to a block: below the last field of its key, else at the end of the block. Further
/// lines of the value are put below it, indented so that they belong to it.
pub fn add_field(edit: &mut NotebookEdit, at: &Located<'_>, key: Key, value: &str) {
    let last_of_key = at.block.fields_of(key).last();
    let (after, beside) = match last_of_key {
        Some(field) => (field_end(field), Some(field.key_span.start)),
        None => (at.block.extent.end as usize, last_line_start(at)),
    };
    let start = at.entry.start as usize;
    let place = line_end(at.file, start + after);
    let indentation = match beside {
        Some(line) => indentation(at.file, start + line as usize),
        None => INDENTATION.to_owned(),
    };
    let text = field_text(&indentation, key, value, &line_ending(at.file, place));
    edit.replace(at.path, Span::at(place), text);
}

/// Adds a field to a block above all that stands in it, for what is to be seen first.
pub fn add_field_on_top(edit: &mut NotebookEdit, at: &Located<'_>, key: Key, value: &str) {
    let start = at.entry.start as usize;
    let place = line_end(at.file, start + at.block.header.end as usize);
    let fields = at.block.fields.iter().map(|field| field.key_span.start);
    let lines = at.block.statement.iter().map(|line| line.start);
    let indentation = match fields.chain(lines).min() {
        Some(line) => indentation(at.file, start + line as usize),
        None => INDENTATION.to_owned(),
    };
    let text = field_text(&indentation, key, value, &line_ending(at.file, place));
    edit.replace(at.path, Span::at(place), text);
}

/// Adds a comment of one line to a block above all that stands in it.
pub fn add_comment_on_top(edit: &mut NotebookEdit, at: &Located<'_>, text: &str) {
    let start = at.entry.start as usize;
    let place = line_end(at.file, start + at.block.header.end as usize);
    let line_ending = line_ending(at.file, place);
    let text = text.split_whitespace().collect::<Vec<_>>().join(" ");
    edit.replace(
        at.path,
        Span::at(place),
        format!("{line_ending}{INDENTATION}% {text}"),
    );
}

/// Gives a field its value: fills the first that is there and empty, else adds one.
pub fn set_field(edit: &mut NotebookEdit, at: &Located<'_>, key: Key, value: &str) {
    let Some(field) = at
        .block
        .fields_of(key)
        .find(|field| field.value_span.is_empty())
    else {
        return add_field(edit, at, key, value);
    };
    let colon = at.entry.start as usize + field.key_span.end as usize + 1;
    let rest = at.file.slice(colon..line_end(at.file, colon));
    // A blank that was typed behind the colon is used, unless a comment leans on it.
    let typed = rest.starts_with([' ', '\t']) && rest.trim().is_empty();
    if typed {
        edit.replace(at.path, Span::at(colon + 1), value);
    } else {
        edit.replace(at.path, Span::at(colon), format!(" {value}"));
    }
}

/// The text of a new line with a field, with the line end before it.
fn field_text(indentation: &str, key: Key, value: &str, line_ending: &str) -> String {
    let mut lines = value.lines();
    let first = lines.next().unwrap_or_default();
    let mut text = format!("{line_ending}{indentation}{}: {first}", key.word());
    for line in lines.map(str::trim).filter(|line| !line.is_empty()) {
        if columns(indentation) < DEEPEST {
            text.push_str(&format!("{line_ending}{indentation}{DEEPER}{line}"));
        } else {
            // No line can be deeper than this one, so that the value has to stay on it.
            text.push(' ');
            text.push_str(line);
        }
    }
    text
}

fn field_end(field: &Field) -> usize {
    field.value_span.end.max(field.key_span.end) as usize
}

/// Where the block's last field or line of its statement starts, counted from the unit.
fn last_line_start(at: &Located<'_>) -> Option<u32> {
    let field = at.block.fields.last().map(|field| field.key_span.start);
    field.max(at.block.statement.last().map(|line| line.start))
}

/// The end of the line that holds a byte, without its line end.
fn line_end(file: &File, offset: usize) -> usize {
    let text = file.text();
    let offset = offset.min(text.len_bytes());
    offset
        + text
            .bytes_at(offset)
            .take_while(|b| *b != b'\n' && *b != b'\r')
            .count()
}

/// The line end at a byte, or the file's first one where the file ends there.
pub fn line_ending(file: &File, offset: usize) -> String {
    let text = file.text();
    let at = |offset: usize| {
        let mut bytes = text.bytes_at(offset.min(text.len_bytes()));
        match (bytes.next(), bytes.next()) {
            (Some(b'\r'), Some(b'\n')) => Some("\r\n"),
            (Some(b'\r'), _) => Some("\r"),
            (Some(b'\n'), _) => Some("\n"),
            _ => None,
        }
    };
    at(offset)
        .or_else(|| at(line_end(file, 0)))
        .unwrap_or("\n")
        .to_owned()
}

/// The blanks between the start of a line and a byte of it.
fn indentation(file: &File, offset: usize) -> String {
    let text = file.text();
    let mut before = text.bytes_at(offset.min(text.len_bytes()));
    before.reverse();
    let blanks = before.take_while(|b| *b == b' ' || *b == b'\t').count();
    file.slice(offset - blanks..offset)
}

/// How far an indentation reaches.
fn columns(indentation: &str) -> usize {
    indentation.bytes().fold(0, |column, blank| match blank {
        b'\t' => (column / TAB_STOP + 1) * TAB_STOP,
        _ => column + 1,
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;
    use notes::FilePath;

    /// Adds `tried: x` to the first block of the notes.
    fn check(text: &str, expected: &str) {
        let fixture = fixture::notebook(text);
        let path = FilePath::new("notes.porism");
        let at = fixture
            .analysis()
            .notebook
            .blocks_in(&path)
            .next()
            .expect("a block");
        let mut edit = NotebookEdit::default();
        add_field(&mut edit, &at, Key::Tried, "x");
        assert_eq!(fixture.after(&edit), expected);
    }

    #[test]
    fn a_field_goes_below_the_last_of_its_key() {
        check(
            "@problem 1\n  Solve.\n  tried: a % b\n  spotted: c\n\nMore.\n",
            "@problem 1\n  Solve.\n  tried: a % b\n  tried: x\n  spotted: c\n\nMore.\n",
        );
    }

    #[test]
    fn a_field_goes_below_the_whole_of_a_value() {
        check(
            "@problem 1\n  tried: 2027-02-01 open right,\n    a long\n\n    remark\n  Solve.\n",
            "@problem 1\n  tried: 2027-02-01 open right,\n    a long\n\n    remark\n  tried: x\n  Solve.\n",
        );
    }

    #[test]
    fn else_at_the_end_of_the_block_in_the_indentation_of_its_last_line() {
        check(
            "@problem 1\n\tSolve.\n\n\n@topic 2\n",
            "@problem 1\n\tSolve.\n\ttried: x\n\n\n@topic 2\n",
        );
        // Deeper than the field above it, the new line would continue that field.
        check(
            "@problem 1\n    Solve.\n  answer: 3\n",
            "@problem 1\n    Solve.\n  answer: 3\n  tried: x\n",
        );
        check("@problem 1", "@problem 1\n  tried: x");
        check("@problem 1 % later\n", "@problem 1 % later\n  tried: x\n");
    }

    #[test]
    fn line_ends_are_kept() {
        check(
            "@problem 1\r\n  Solve.\r\n",
            "@problem 1\r\n  Solve.\r\n  tried: x\r\n",
        );
        check(
            "@problem 1\r\n  Solve.",
            "@problem 1\r\n  Solve.\r\n  tried: x",
        );
    }

    #[test]
    fn further_lines_of_a_value_belong_to_it() {
        for (indentation, expected) in [
            ("  ", "  answer: a\n      b"),
            ("    ", "    answer: a\n        b"),
            ("\t\t", "\t\tanswer: a b"),
        ] {
            let text = format!("@problem 1\n{indentation}Solve.\n");
            let fixture = fixture::notebook(&text);
            let path = FilePath::new("notes.porism");
            let at = fixture
                .analysis()
                .notebook
                .blocks_in(&path)
                .next()
                .expect("a block");
            let mut edit = NotebookEdit::default();
            add_field(&mut edit, &at, Key::Answer, "a\n  b");
            assert_eq!(fixture.after(&edit), format!("{text}{expected}\n"));
            let after = fixture::notebook(&fixture.after(&edit));
            let at = after
                .analysis()
                .notebook
                .blocks_in(&path)
                .next()
                .expect("a block");
            assert_eq!(at.block.statement.len(), 1, "{indentation:?}");
        }
    }

    #[test]
    fn an_empty_field_is_filled() {
        for (text, expected) in [
            ("@question 1\n  mark:\n", "@question 1\n  mark: right\n"),
            (
                "@question 1\n  mark: \n  mine: 3\n",
                "@question 1\n  mark: right\n  mine: 3\n",
            ),
            (
                "@question 1\n  mark: % how?\n",
                "@question 1\n  mark: right % how?\n",
            ),
            (
                "@question 1\n  Solve.\n",
                "@question 1\n  Solve.\n  mark: right\n",
            ),
        ] {
            let fixture = fixture::notebook(text);
            let path = FilePath::new("notes.porism");
            let at = fixture
                .analysis()
                .notebook
                .blocks_in(&path)
                .next()
                .expect("a block");
            let mut edit = NotebookEdit::default();
            set_field(&mut edit, &at, Key::Mark, "right");
            assert_eq!(fixture.after(&edit), expected);
        }
    }
}
