//! Writes the reference page of the checks to standard output.

use std::io::Write as _;

fn main() -> std::io::Result<()> {
    std::io::stdout().write_all(porism_ide::explain::reference().as_bytes())
}
