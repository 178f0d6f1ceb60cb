//! `porism explain`: what a check is about.

use std::io::Write;

use ide::explain;

use super::arguments::Explain;
use super::{Failure, Outcome, terminal};

/// Prints a check's page, or the list of checks.
pub(crate) fn explain(arguments: &Explain) -> Result<Outcome, Failure> {
    let mut out = terminal::output();
    let Some(code) = &arguments.code else {
        let checks = ide::diagnostics::CHECKS;
        let widest = checks
            .iter()
            .map(|check| check.code.len())
            .max()
            .unwrap_or(0);
        for check in checks {
            let style = terminal::STRONG;
            writeln!(
                out,
                "{style}{:widest$}{style:#}  {}",
                check.code,
                check.summary()
            )?;
        }
        return Ok(Outcome::Clean);
    };
    match explain::explain(code) {
        Some(page) => {
            write!(out, "{page}")?;
            Ok(Outcome::Clean)
        }
        None => {
            let near = match explain::nearest_code(code) {
                Some(near) => format!("; did you mean {near}?"),
                None => "; porism explain lists them all".to_owned(),
            };
            Err(Failure::new(format_args!(
                "no check has the code {code}{near}"
            )))
        }
    }
}
