//! Where are the formulas of a textbook's exercise?

use super::Part;

/// Words and formulas in turn, where formulas stand between dollar signs or `\(` and `\)`.
pub(super) fn parts(text: &str) -> Vec<Part<'_>> {
    let mut parts = Vec::new();
    let mut rest = text;
    while let Some((open, close, start)) = next_opening(rest) {
        let after = &rest[start + open.len()..];
        let Some(end) = find(after, close) else {
            break;
        };
        push_words(&rest[..start], &mut parts);
        parts.push(Part::Tex(&after[..end]));
        rest = &after[end + close.len()..];
    }
    push_words(rest, &mut parts);
    parts
}

/// The text marks its formulas.
pub(super) fn has_formula_marks(text: &str) -> bool {
    next_opening(text)
        .is_some_and(|(open, close, start)| find(&text[start + open.len()..], close).is_some())
}

/// A formula without marks; words between its parts, such as `\text{ for }`, and a sentence without
/// any formula are words.
pub(super) fn formula_parts<'a>(tex: &'a str, parts: &mut Vec<Part<'a>>) {
    if is_prose(tex) {
        parts.push(Part::Words(tex));
        return;
    }
    let mut rest = tex;
    let mut from = 0;
    while let Some(place) = rest[from..].find(r"\text{").map(|place| place + from) {
        let words = &rest[place + r"\text{".len()..];
        let Some(end) = words.find('}') else { break };
        let (inside, after) = (&words[..end], &words[end + 1..]);
        if is_connective(inside) && is_outside(&rest[..place]) {
            push_formula(&rest[..place], parts);
            parts.push(Part::Words(inside));
            rest = after;
            from = 0;
        } else {
            from = place + r"\text{".len();
        }
    }
    push_formula(rest, parts);
}

fn push_words<'a>(text: &'a str, parts: &mut Vec<Part<'a>>) {
    if !text.trim().is_empty() {
        parts.push(Part::Words(text));
    }
}

fn push_formula<'a>(tex: &'a str, parts: &mut Vec<Part<'a>>) {
    let space = [' ', ',', ';', '\\', '.'];
    let bare = tex.replace(r"\quad", "").replace(r"\qquad", "");
    if !bare.trim_matches(space).is_empty() {
        parts.push(Part::Tex(tex));
    }
}

/// The earliest mark that opens a formula, the one that closes it, and where it stands.
fn next_opening(text: &str) -> Option<(&'static str, &'static str, usize)> {
    let mut escaped = false;
    for (place, c) in text.char_indices() {
        if escaped {
            escaped = false;
            match c {
                '(' => return Some((r"\(", r"\)", place - 1)),
                '[' => return Some((r"\[", r"\]", place - 1)),
                _ => continue,
            }
        }
        match c {
            '\\' => escaped = true,
            '$' if text[place..].starts_with("$$") => return Some(("$$", "$$", place)),
            '$' => return Some(("$", "$", place)),
            _ => {}
        }
    }
    None
}

/// Where the mark stands that closes a formula.
fn find(text: &str, close: &str) -> Option<usize> {
    let mut escaped = false;
    for (place, c) in text.char_indices() {
        if text[place..].starts_with(close) && !escaped {
            return Some(place);
        }
        escaped = c == '\\' && !escaped;
    }
    None
}

/// A sentence of words, without anything that only formulas have.
fn is_prose(text: &str) -> bool {
    let mut words = 0;
    for piece in text.split_whitespace() {
        if piece.contains(['\\', '^', '_', '=', '{', '}', '<', '>']) {
            return false;
        }
        let letters = piece.chars().filter(|c| c.is_alphabetic()).count();
        words += usize::from(letters >= 2);
    }
    words >= 3
}

/// Words that join a formula with a condition, or say what to do with it.
fn is_connective(words: &str) -> bool {
    let first = words.split_whitespace().next().unwrap_or_default();
    let first = first
        .trim_matches(|c: char| !c.is_alphabetic())
        .to_lowercase();
    matches!(
        first.as_str(),
        "for"
            | "where"
            | "with"
            | "when"
            | "on"
            | "over"
            | "at"
            | "given"
            | "from"
            | "between"
            | "about"
            | "centered"
            | "centred"
            | "subject"
            | "solve"
            | "find"
            | "the"
            | "using"
    )
}

/// Not inside braces, an environment, or brackets that grow.
fn is_outside(before: &str) -> bool {
    let marks = |what: &str| before.matches(what).count();
    let commands = |wanted: &str| {
        let names = before.split('\\').skip(1);
        names
            .filter(|rest| {
                rest.strip_prefix(wanted)
                    .is_some_and(|after| !after.starts_with(|c: char| c.is_alphabetic()))
            })
            .count()
    };
    marks("{") == marks("}")
        && commands("begin") == commands("end")
        && commands("left") == commands("right")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(text: &str) -> String {
        shown(&parts(text))
    }

    fn check_formula(tex: &str) -> String {
        let mut parts = Vec::new();
        formula_parts(tex, &mut parts);
        shown(&parts)
    }

    fn shown(parts: &[Part<'_>]) -> String {
        let shown = parts.iter().map(|part| match part {
            Part::Words(words) => format!("[{}]", words.trim()),
            Part::Tex(tex) => format!("<{}>", tex.trim()),
        });
        shown.collect()
    }

    #[test]
    fn finds_formulas_between_marks() {
        assert_eq!(check("Solve on $[0, 2\\pi)$."), "[Solve on]<[0, 2\\pi)>[.]");
        assert_eq!(
            check(r"Let \(a = 1\) and \[b = 2\]"),
            "[Let]<a = 1>[and]<b = 2>"
        );
        assert_eq!(check("costs \\$5, $$x$$"), "[costs \\$5,]<x>");
        assert_eq!(check("open $x"), "[open $x]");
        assert!(!has_formula_marks("open $x") && has_formula_marks("an $x$"));
    }

    #[test]
    fn finds_words_between_formulas() {
        assert_eq!(
            check_formula(r"A = bh, \text{ for } h"),
            "<A = bh,>[for]<h>"
        );
        assert_eq!(
            check_formula(r"\begin{cases} 1 & \text{ for } x > 0 \end{cases}"),
            r"<\begin{cases} 1 & \text{ for } x > 0 \end{cases}>"
        );
        assert_eq!(check_formula(r"5 \text{ cm}"), r"<5 \text{ cm}>");
        assert_eq!(check_formula("Sketch the curve"), "[Sketch the curve]");
        assert_eq!(check_formula("x y z"), "<x y z>");
    }
}
