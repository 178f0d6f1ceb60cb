//! `porism completions`: a script for a shell.

use clap::CommandFactory;

use super::arguments::{Arguments, Completions};
use super::{Failure, Outcome};

/// Prints the completion script of a shell.
pub(crate) fn completions(arguments: &Completions) -> Result<Outcome, Failure> {
    let mut command = Arguments::command();
    let mut script = Vec::new();
    clap_complete::generate(arguments.shell, &mut command, "porism", &mut script);
    std::io::Write::write_all(&mut std::io::stdout(), &script)?;
    Ok(Outcome::Clean)
}
