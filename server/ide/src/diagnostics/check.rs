//! What a check is: a code, how grave its findings are, and what there is to say about it.

use std::fmt;

use super::mark::{Mark, Part, Spot};
use notes::UnitId;

/// How grave a finding is, gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Severity {
    /// A contradiction: what is written cannot be meant.
    Error,
    /// Something that is lost or goes wrong as it stands.
    Warning,
    /// Something to know.
    Information,
    /// Something to see when one looks.
    Hint,
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Error => "error",
            Self::Warning => "warning",
            Self::Information => "information",
            Self::Hint => "hint",
        })
    }
}

/// A check. Its documentation comment is also its page in the reference and what the command line
/// explains, so it is written in Markdown and for people who write notes.
#[derive(Debug, PartialEq, Eq)]
pub struct Check {
    /// The code: short words in lower case, joined by hyphens. A code never changes its meaning.
    pub code: &'static str,
    /// How grave its findings may be; the first is the usual one.
    pub severities: &'static [Severity],
    /// The lines of the documentation comment, each behind the space that follows `///`.
    pub(super) comment: &'static str,
}

impl Check {
    /// The documentation as Markdown.
    pub fn markdown(&self) -> String {
        let lines = self.comment.lines();
        let lines: Vec<&str> = lines.map(|l| l.strip_prefix(' ').unwrap_or(l)).collect();
        format!("{}\n", lines.join("\n").trim_end())
    }

    /// The first sentence of the documentation.
    pub fn summary(&self) -> &'static str {
        self.comment.lines().next().unwrap_or_default().trim()
    }

    /// A finding of this check, with its usual severity.
    pub(super) fn mark(
        &'static self,
        unit: &UnitId,
        part: impl Into<Part>,
        message: impl Into<String>,
    ) -> Mark {
        Mark {
            check: self,
            severity: self.severities[0],
            spot: Spot {
                unit: unit.clone(),
                part: part.into(),
            },
            message: message.into(),
            related: Vec::new(),
            unnecessary: false,
            fixes: Vec::new(),
        }
    }
}

/// Declares a check from its documentation comment, its code and its severities.
macro_rules! check {
    ($(#[doc = $line:literal])+ $name:ident = $code:literal, $($severity:ident)|+) => {
        $(#[doc = $line])+
        pub static $name: $crate::diagnostics::Check = $crate::diagnostics::Check {
            code: $code,
            severities: &[$($crate::diagnostics::Severity::$severity),+],
            comment: concat!($($line, "\n"),+),
        };
    };
}
pub(super) use check;
