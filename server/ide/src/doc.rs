//! Text to show a person: in a hover, a message or a terminal.

use std::fmt::Write as _;

/// Text in lines, to be shown as Markdown or as plain text.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Doc {
    /// The lines, in order.
    pub lines: Vec<DocLine>,
}

/// One line of text to show.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum DocLine {
    /// The name of what is shown.
    Heading(String),
    /// A sentence or two.
    Text(String),
    /// A fact: what it is about, and what it says.
    Fact(String, String),
    /// An item of a list.
    Item(String),
    /// A break between parts.
    Gap,
}

impl Doc {
    /// An empty text.
    pub fn new() -> Self {
        Self::default()
    }

    /// Appends the name of what is shown.
    pub fn heading(&mut self, text: impl Into<String>) {
        self.lines.push(DocLine::Heading(text.into()));
    }

    /// Appends a sentence or two.
    pub fn text(&mut self, text: impl Into<String>) {
        self.lines.push(DocLine::Text(text.into()));
    }

    /// Appends a fact.
    pub fn fact(&mut self, label: impl Into<String>, text: impl Into<String>) {
        self.lines.push(DocLine::Fact(label.into(), text.into()));
    }

    /// Appends an item of a list.
    pub fn item(&mut self, text: impl Into<String>) {
        self.lines.push(DocLine::Item(text.into()));
    }

    /// Appends a break between parts.
    pub fn gap(&mut self) {
        self.lines.push(DocLine::Gap);
    }

    /// The text as Markdown. Whatever a note contains is escaped.
    pub fn to_markdown(&self) -> String {
        let mut out = String::new();
        for (i, line) in self.lines.iter().enumerate() {
            // Two spaces at a line's end are CommonMark's hard line break (0.31.2, section 6.7).
            let ending = match self.lines.get(i + 1) {
                None | Some(DocLine::Gap) => "\n",
                Some(DocLine::Item(_)) if !matches!(line, DocLine::Item(_)) => "\n\n",
                Some(_) if matches!(line, DocLine::Gap | DocLine::Item(_)) => "\n",
                Some(_) => "  \n",
            };
            let written = match line {
                DocLine::Heading(text) => write!(out, "**{}**", escaped(text)),
                DocLine::Text(text) => write!(out, "{}", escaped(text)),
                DocLine::Fact(label, text) => {
                    write!(out, "*{}:* {}", escaped(label), escaped(text))
                }
                DocLine::Item(text) => write!(out, "- {}", escaped(text)),
                DocLine::Gap => Ok(()),
            };
            written.expect("strings take any text");
            out.push_str(ending);
        }
        out
    }

    /// The text without markup.
    pub fn to_plain(&self) -> String {
        let mut out = String::new();
        for line in &self.lines {
            let written = match line {
                DocLine::Heading(text) | DocLine::Text(text) => writeln!(out, "{text}"),
                DocLine::Fact(label, text) => writeln!(out, "{label}: {text}"),
                DocLine::Item(text) => writeln!(out, "- {text}"),
                DocLine::Gap => writeln!(out),
            };
            written.expect("strings take any text");
        }
        out
    }
}

/// Escapes what Markdown would take as markup (CommonMark 0.31.2, section 2.4: any ASCII
/// punctuation may be escaped).
fn escaped(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\\' | '`' | '*' | '_' | '[' | ']' | '<' | '>' | '#' | '|' | '~' | '&' | '$' => {
                out.push('\\');
                out.push(c);
            }
            '\n' | '\r' => out.push(' '),
            _ => out.push(c),
        }
    }
    out
}
