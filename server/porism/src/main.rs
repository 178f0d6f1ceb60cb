//! The `porism` program: the command line, and the language server behind `porism serve`.

mod calendar;
mod cli;
mod clock;
mod files;
mod lsp;

use std::process::ExitCode;

fn main() -> ExitCode {
    cli::run()
}
