//! The layout that DEVELOPERS.md promises.

use std::collections::BTreeMap;
use std::fs;
use std::path::PathBuf;

use porism_tests::program::project;

/// Each crate and the crates of ours that it may import.
const ARROWS: [(&str, &[&str]); 7] = [
    ("grammar", &[]),
    ("server/math", &[]),
    ("server/study", &[]),
    ("server/notes", &["grammar", "math"]),
    ("server/ide", &["grammar", "math", "notes", "study"]),
    ("server/porism", &["ide"]),
    ("tests", &[]),
];

const OURS: [&str; 5] = ["grammar", "math", "study", "notes", "ide"];

/// Crates that a pure crate may not import.
const FORBIDDEN: [(&str, &[&str]); 4] = [
    (
        "server/math",
        &[
            "serde",
            "serde_json",
            "chrono",
            "ropey",
            "tokio",
            "tower-lsp",
        ],
    ),
    (
        "server/study",
        &[
            "serde",
            "serde_json",
            "chrono",
            "ropey",
            "tokio",
            "tower-lsp",
        ],
    ),
    (
        "server/notes",
        &["serde", "serde_json", "tokio", "tower-lsp"],
    ),
    ("server/ide", &["serde", "serde_json", "tokio", "tower-lsp"]),
];

/// The names under `[dependencies]` of a crate's manifest.
fn dependencies(folder: &str) -> Vec<String> {
    let path = project().join(folder).join("Cargo.toml");
    let manifest = fs::read_to_string(path).expect("the manifest is there");
    let mut inside = false;
    let mut names = Vec::new();
    for line in manifest.lines() {
        if let Some(section) = line.strip_prefix('[') {
            inside = section.starts_with("dependencies]");
        } else if inside && let Some(end) = line.find(['.', ' ', '=']) {
            names.push(line[..end].to_owned());
        }
    }
    names
}

#[test]
fn crates_import_what_they_may() {
    for (folder, allowed) in ARROWS {
        for name in dependencies(folder) {
            if OURS.contains(&name.as_str()) {
                assert!(
                    allowed.contains(&name.as_str()),
                    "{folder} may not import {name}"
                );
            }
        }
    }
    for (folder, forbidden) in FORBIDDEN {
        for name in dependencies(folder) {
            assert!(
                !forbidden.contains(&name.as_str()),
                "{folder} may not import {name}"
            );
        }
    }
    assert!(
        dependencies("server/ide").contains(&"notes".to_owned()),
        "manifests are read"
    );
}

#[test]
fn crates_take_the_lints_of_the_workspace() {
    for (folder, _) in ARROWS {
        let path = project().join(folder).join("Cargo.toml");
        let manifest = fs::read_to_string(path).expect("the manifest is there");
        assert!(
            manifest.contains("[lints]\nworkspace = true")
                || manifest.contains("[lints.rust]") && folder == "grammar",
            "{folder} has lints of its own"
        );
    }
}

/// Every file of the project as git sees it.
fn files() -> Vec<PathBuf> {
    let out = std::process::Command::new("git")
        .args(["ls-files", "-z"])
        .current_dir(project())
        .output()
        .expect("git runs");
    let names = String::from_utf8_lossy(&out.stdout).into_owned();
    names
        .split('\0')
        .filter(|name| !name.is_empty())
        .map(PathBuf::from)
        .collect()
}

#[test]
fn the_top_level_holds_what_the_readme_promises() {
    let mut top: BTreeMap<String, usize> = BTreeMap::new();
    for file in files() {
        let first = file.components().next().expect("a path has a part");
        *top.entry(first.as_os_str().to_string_lossy().into_owned())
            .or_default() += 1;
    }
    let allowed = [
        "Cargo.lock",
        "Cargo.toml",
        "DEVELOPERS.md",
        "LICENSE-APACHE",
        "LICENSE-MIT",
        "README.md",
        "editors",
        "grammar",
        "rustfmt.toml",
        "server",
        "tests",
    ];
    for name in top.keys() {
        assert!(
            name.starts_with('.') || allowed.contains(&name.as_str()),
            "{name} stands at the top level"
        );
    }
}

#[test]
fn links_between_pages_lead_somewhere() {
    let pages = files()
        .into_iter()
        .filter(|file| file.extension().is_some_and(|e| e == "md"));
    for page in pages {
        let text = fs::read_to_string(project().join(&page)).expect("the page is there");
        for link in text
            .split("](")
            .skip(1)
            .filter_map(|rest| rest.split(')').next())
        {
            let target = link.split('#').next().unwrap_or_default();
            if target.is_empty() || target.contains("://") || target.contains(' ') {
                continue;
            }
            let path = project()
                .join(&page)
                .parent()
                .expect("a page has a folder")
                .join(target);
            assert!(path.exists(), "{}: {link} leads nowhere", page.display());
        }
    }
}
