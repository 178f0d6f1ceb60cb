//! What is written to a terminal: as wide as the terminal is, coloured only where it shows.

use std::io::{self, IsTerminal, Write};

use anstyle::{AnsiColor, Style};

/// The width that text is set to where the output is no terminal.
const WIDTH: usize = 80;

/// A narrower terminal gets lines of this width, which it breaks itself.
const NARROWEST: usize = 30;

/// What stands out.
pub(crate) const STRONG: Style = Style::new().bold();

/// Standard output, without colours where they do not show or are not wanted (`NO_COLOR`,
/// `CLICOLOR`).
pub(crate) fn output() -> anstream::AutoStream<io::Stdout> {
    anstream::stdout()
}

/// Number of columns to fill.
pub(crate) fn width() -> usize {
    if !io::stdout().is_terminal() {
        return WIDTH;
    }
    let columns = terminal_size::terminal_size().map_or(WIDTH, |(width, _)| width.0.into());
    columns.clamp(NARROWEST, 100)
}

/// Prints why a command failed.
pub(crate) fn complain(message: &str) {
    let style = Style::new().bold().fg_color(Some(AnsiColor::Red.into()));
    // Nothing is left to be done where even this cannot be written.
    let _ = writeln!(anstream::stderr(), "{style}error:{style:#} {message}");
}

/// Prints something that the user should know and that is no failure.
pub(crate) fn warn(message: &str) {
    let style = Style::new().bold().fg_color(Some(AnsiColor::Yellow.into()));
    let _ = writeln!(anstream::stderr(), "{style}warning:{style:#} {message}");
}

/// Text broken into lines that fit the terminal. Words are never broken.
pub(crate) fn filled(text: &str) -> String {
    filled_to(text, width())
}

/// A word as a shell takes it (POSIX.1-2017, Shell Command Language, 2.2).
pub(crate) fn quoted(text: &str) -> String {
    let plain = |c: char| c.is_ascii_alphanumeric() || "-_./,:@+".contains(c);
    if !text.is_empty() && text.chars().all(plain) {
        return text.to_owned();
    }
    format!("'{}'", text.replace('\'', "'\\''"))
}

/// Text broken into lines of a width.
pub(crate) fn filled_to(text: &str, width: usize) -> String {
    let mut out = String::new();
    let mut column = 0;
    for word in text.split_whitespace() {
        let length = word.chars().count();
        if column > 0 && column + 1 + length > width {
            out.push('\n');
            column = 0;
        } else if column > 0 {
            out.push(' ');
            column += 1;
        }
        out.push_str(word);
        column += length;
    }
    out
}
