//! Which kind of problem is this?

use crate::Diagnostic;

/// A pattern's shape: a template and conditions on its holes.
#[derive(Clone, Debug, PartialEq)]
pub struct Shape {
    text: String,
}

impl Shape {
    /// The shape as it was written.
    pub fn text(&self) -> &str {
        &self.text
    }
}

/// Reads `$template$ where condition; condition`. Never fails; the diagnostics' ranges are bytes
/// of `text`.
pub fn read(text: &str) -> (Shape, Vec<Diagnostic>) {
    (Shape { text: text.into() }, Vec::new())
}
