//! What a check looks for, why, and what to do: the page behind each code, and the reference page
//! with all of them.

use std::fmt::Write as _;

use crate::diagnostics::{CHECKS, Check};

/// The check with this code.
pub fn check_of(code: &str) -> Option<&'static Check> {
    CHECKS.into_iter().find(|check| check.code == code)
}

/// The page of a check, in Markdown: its code, how grave its findings are, and what there is to say
/// about it. `None` if no check has the code.
pub fn explain(code: &str) -> Option<String> {
    check_of(code).map(page)
}

/// The code nearest to one that no check has, if it is a slip of the fingers away.
pub fn nearest_code(code: &str) -> Option<&'static str> {
    notes::name::nearest(code, CHECKS.into_iter().map(|check| check.code))
}

/// The reference page of all checks, in Markdown.
pub fn reference() -> String {
    let mut out = String::from(
        "# Checks\n\n\
         What Porism says of notes, by code. Each code has a page of its own below: what is found, \
         why it matters, an example that shows it (read on 2027-02-15), and what to do. In an \
         editor the code stands beside the message; `porism explain CODE` shows the same page.\n\n\
         | code | severity | what is found |\n| --- | --- | --- |\n",
    );
    for check in CHECKS {
        let code = check.code;
        writeln!(
            out,
            "| [{code}](#{code}) | {} | {} |",
            severities(check),
            check.summary()
        )
        .expect("strings take text");
    }
    for check in CHECKS {
        write!(out, "\n{}", page(check)).expect("strings take text");
    }
    out
}

fn page(check: &'static Check) -> String {
    format!(
        "## {}\n\n*{}*\n\n{}",
        check.code,
        severities(check),
        check.markdown()
    )
}

fn severities(check: &Check) -> String {
    let words: Vec<String> = check.severities.iter().map(ToString::to_string).collect();
    words.join(" or ")
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::check_all;
    use crate::fixture;

    /// The committed page. After a change of a check's documentation, write it anew with
    /// `cargo run -p porism-ide --example checks > server/ide/CHECKS.md`.
    const COMMITTED: &str = include_str!("../CHECKS.md");

    #[test]
    fn the_reference_page_is_up_to_date() {
        assert!(
            COMMITTED == reference(),
            "server/ide/CHECKS.md differs from the checks' documentation; write it anew with \
             `cargo run -p porism-ide --example checks > server/ide/CHECKS.md`"
        );
    }

    #[test]
    fn codes_are_short_words_in_lower_case_and_stand_once() {
        for (i, check) in CHECKS.iter().enumerate() {
            let fits = |c: char| c.is_ascii_lowercase() || c == '-';
            assert!(check.code.chars().all(fits), "{}", check.code);
            assert!(!CHECKS[i + 1..].iter().any(|other| other.code == check.code));
            assert!(!check.severities.is_empty(), "{}", check.code);
        }
    }

    /// Every check's documentation has one example, and the check finds it.
    #[test]
    fn the_example_of_each_page_shows_what_the_page_is_about() {
        for check in CHECKS {
            let page = check.markdown();
            let examples: Vec<&str> = page.split("```porism\n").skip(1).collect();
            let [example] = examples[..] else {
                panic!("{}: one example is expected", check.code)
            };
            let (example, _) = example.split_once("```").expect("a fence that closes");
            let fixture = fixture::notebook(example);
            let found = check_all(fixture.analysis());
            let codes: Vec<&str> = found.values().flatten().map(|f| f.code).collect();
            assert!(
                codes.contains(&check.code),
                "{}: found {codes:?}",
                check.code
            );
        }
    }

    #[test]
    fn a_code_is_explained_and_a_slip_is_answered() {
        let page = explain("no-date").expect("a check");
        assert!(
            page.starts_with("## no-date\n\n*information*\n\nAn exam does not say"),
            "{page}"
        );
        assert_eq!(explain("no-dat"), None);
        assert_eq!(nearest_code("no-dat"), Some("no-date"));
        assert_eq!(nearest_code("everything"), None);
    }
}
