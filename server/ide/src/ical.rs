//! The lines of iCalendar (RFC 5545, section 3.1): written, folded and escaped; unfolded and read.

use std::borrow::Cow;

/// The most octets of a line, without its line end.
const LONGEST: usize = 75;

/// Lines under construction.
#[derive(Debug, Default)]
pub(crate) struct Writer {
    text: String,
}

impl Writer {
    /// Appends a content line, folded so that no line is longer than 75 octets and no character is
    /// split.
    pub(crate) fn line(&mut self, line: &str) {
        let mut length = 0;
        for c in line.chars() {
            if length + c.len_utf8() > LONGEST {
                // The blank that marks the rest of a line counts, too.
                self.text.push_str("\r\n ");
                length = 1;
            }
            self.text.push(c);
            length += c.len_utf8();
        }
        self.text.push_str("\r\n");
    }

    /// The text so far.
    pub(crate) fn into_text(self) -> String {
        self.text
    }
}

/// Text as a value of type TEXT (section 3.3.11). Control characters, which no value may hold, are
/// left out.
pub(crate) fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | ';' | ',' => {
                out.push('\\');
                out.push(c);
            }
            '\n' => out.push_str("\\n"),
            '\t' => out.push(' '),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// The text behind a value of type TEXT.
pub(crate) fn unescaped(value: &str) -> String {
    let mut out = String::with_capacity(value.len());
    let mut chars = value.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => match chars.next() {
                Some('n' | 'N') => out.push('\n'),
                Some(c) => out.push(c),
                None => {}
            },
            c => out.push(c),
        }
    }
    out
}

/// The content lines of a text, unfolded, each with the number of its first line, from 1. Lines
/// end with CR LF, as they should, or with either alone, as they do.
pub(crate) fn content_lines(text: &str) -> Vec<(usize, Cow<'_, str>)> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let mut lines: Vec<(usize, Cow<'_, str>)> = Vec::new();
    let mut rest = text;
    let mut number = 0;
    while !rest.is_empty() {
        number += 1;
        let end = rest.find(['\r', '\n']).unwrap_or(rest.len());
        let line = &rest[..end];
        rest = &rest[end..];
        rest = rest
            .strip_prefix("\r\n")
            .or_else(|| rest.strip_prefix(['\r', '\n']))
            .unwrap_or(rest);
        match (line.strip_prefix([' ', '\t']), lines.last_mut()) {
            (Some(more), Some((_, before))) => before.to_mut().push_str(more),
            _ if line.trim().is_empty() => {}
            _ => lines.push((number, Cow::Borrowed(line))),
        }
    }
    lines
}

/// A property: its name, parameters and value.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Property<'a> {
    /// The name, in upper case.
    pub(crate) name: String,
    /// The parameters, each with its name in upper case and its value without quotes.
    pub(crate) parameters: Vec<(String, &'a str)>,
    /// The value, as it stands there.
    pub(crate) value: &'a str,
}

impl<'a> Property<'a> {
    /// Reads a content line; `None` if it has no value.
    pub(crate) fn read(line: &'a str) -> Option<Self> {
        let name_end = line.find([';', ':'])?;
        let name = line[..name_end].trim().to_ascii_uppercase();
        let mut rest = &line[name_end..];
        let mut parameters = Vec::new();
        while let Some(parameter) = rest.strip_prefix(';') {
            let equals = parameter.find('=')?;
            let name = parameter[..equals].trim().to_ascii_uppercase();
            let behind = &parameter[equals + 1..];
            let (value, after) = match behind.strip_prefix('"') {
                Some(quoted) => {
                    let end = quoted.find('"')?;
                    let after = &quoted[end + 1..];
                    // Of a list of values the first counts.
                    (&quoted[..end], &after[after.find([';', ':'])?..])
                }
                None => behind.split_at(behind.find([';', ':'])?),
            };
            parameters.push((name, value));
            rest = after;
        }
        Some(Self {
            name,
            parameters,
            value: rest.strip_prefix(':')?,
        })
    }

    /// The value of a parameter.
    pub(crate) fn parameter(&self, name: &str) -> Option<&'a str> {
        let found = self.parameters.iter().find(|(own, _)| own == name);
        found.map(|(_, value)| *value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn written(line: &str) -> String {
        let mut writer = Writer::default();
        writer.line(line);
        writer.into_text()
    }

    /// RFC 5545, section 3.3.11, the example of a TEXT value (from memory).
    #[test]
    fn text_is_escaped_as_in_the_standard() {
        let text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        let value = r"Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(escaped(text), value);
        assert_eq!(unescaped(value), text);
        assert_eq!(escaped("a, b; c\\d\u{7}"), r"a\, b\; c\\d");
        assert_eq!(unescaped(r"a\, b\; c\\d\N"), "a, b; c\\d\n");
    }

    /// RFC 5545, section 3.1, the example of a folded line (from memory).
    #[test]
    fn folded_lines_are_put_together_as_in_the_standard() {
        let folded =
            "DESCRIPTION:This is a lo\r\n ng description\r\n  that exists on a long line.\r\n";
        assert_eq!(
            content_lines(folded),
            [(
                1,
                "DESCRIPTION:This is a long description that exists on a long line.".into()
            )]
        );
    }

    #[test]
    fn lines_end_with_any_line_end() {
        let found = content_lines("A:1\rB:2\n\r\nC:3\r\n 4");
        assert_eq!(
            found,
            [(1, "A:1".into()), (2, "B:2".into()), (4, "C:34".into())]
        );
        assert!(content_lines(" \n\n").is_empty());
    }

    /// RFC 5545, sections 3.1 and 3.2: quoted values of parameters hold colons and semicolons.
    #[test]
    fn properties_have_parameters() {
        let line = "Attendee;RSVP=TRUE;dir=\"ldap://a:1/;b\",\"c\":mailto:x@example.org";
        let read = Property::read(line).expect("a property");
        assert_eq!(read.name, "ATTENDEE");
        assert_eq!(read.parameter("DIR"), Some("ldap://a:1/;b"));
        assert_eq!(read.value, "mailto:x@example.org");
        for bad in ["", "X", "X;A", "X;A=", "X;A=\"b", "X;A=b"] {
            assert_eq!(Property::read(bad), None, "{bad}");
        }
    }

    proptest! {
        #[test]
        fn what_is_written_is_read_again(text in "[^\\x00-\\x1f]{0,300}") {
            let line = format!("SUMMARY:{}", escaped(&text));
            let folded = written(&line);
            for one in folded.split("\r\n") {
                prop_assert!(one.len() <= 75);
            }
            let lines = content_lines(&folded);
            prop_assert_eq!(lines.len(), 1);
            let read = Property::read(&lines[0].1).expect("a property");
            let expected: String = text.chars().filter(|c| !c.is_control()).collect();
            prop_assert_eq!(unescaped(read.value), expected);
        }

        #[test]
        fn any_text_is_read(text in "(?s).{0,200}") {
            for (_, line) in content_lines(&text) {
                let _ = Property::read(&line);
            }
        }
    }
}
