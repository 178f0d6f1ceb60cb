//! The program under test, built once.

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::sync::OnceLock;

/// The folder of the project.
pub fn project() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .parent()
        .expect("the project holds the tests")
}

/// The path of the `porism` program: the one that `PORISM_PROGRAM` names, else one built from the
/// sources as they are now, as benchmarks are for a benchmark and as tests are for a test.
pub fn program() -> &'static Path {
    static PROGRAM: OnceLock<PathBuf> = OnceLock::new();
    PROGRAM.get_or_init(|| {
        if let Some(path) = std::env::var_os("PORISM_PROGRAM") {
            return path.into();
        }
        let cargo = std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into());
        let mut arguments = vec!["build", "--quiet", "--package", "porism"];
        arguments.extend(["--message-format", "json"]);
        if !cfg!(debug_assertions) {
            arguments.push("--release");
        }
        let out = Command::new(cargo)
            .args(arguments)
            .current_dir(project())
            .stderr(Stdio::inherit())
            .output()
            .expect("cargo runs");
        assert!(out.status.success(), "the program does not build");
        let messages = String::from_utf8_lossy(&out.stdout);
        let mut executables = messages.lines().filter_map(|line| {
            let message: serde_json::Value = serde_json::from_str(line).ok()?;
            Some(PathBuf::from(message.get("executable")?.as_str()?))
        });
        executables
            .next_back()
            .expect("cargo says where the program is")
    })
}
