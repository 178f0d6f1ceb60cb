//! Results for programs.

use std::io::Write;

use serde::Serialize;

use super::{Failure, terminal};

/// Prints a value as JSON.
pub(crate) fn print(value: &impl Serialize) -> Result<(), Failure> {
    let text = serde_json::to_string_pretty(value).map_err(Failure::new)?;
    writeln!(terminal::output(), "{text}")?;
    Ok(())
}
