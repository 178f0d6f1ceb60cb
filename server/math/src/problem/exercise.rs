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

/// How many formulas stand in the instruction above an exercise; none if the last sentence is no
/// exercise, which has nothing but formulas and words that join them.
pub(super) fn introduced(parts: &[Part<'_>]) -> Option<usize> {
    let is_formula = |part: &&Part<'_>| matches!(part, Part::Tex(_));
    let end = parts.iter().rposition(|part| is_formula(&part))?;
    let stop = parts[..end].iter().rposition(|part| match part {
        Part::Words(words) => ends_sentence(words),
        Part::Tex(_) => false,
    });
    let start = stop.map_or(0, |stop| stop + 1);
    let is_exercise = parts[start..].iter().all(|part| match part {
        Part::Words(words) => is_joining(words),
        Part::Tex(_) => true,
    });
    let says = |part: &&Part<'_>| match part {
        Part::Words(words) => words.contains(char::is_alphanumeric),
        Part::Tex(_) => true,
    };
    let begins = parts[start..]
        .iter()
        .find(says)
        .is_some_and(|part| is_formula(&part));
    (is_exercise && begins).then(|| parts[..start].iter().filter(is_formula).count())
}

/// The words end with a stop, or with a stop and the number of an exercise: "Solve. (a)"
fn ends_sentence(words: &str) -> bool {
    let Some(stop) = words.rfind(['.', ':', ';', '?', '!']) else {
        return false;
    };
    let rest = words[stop + 1..].trim();
    rest.is_empty() || (rest.ends_with(')') && rest.chars().count() <= 4)
}

/// There is no word that says more than how formulas belong together.
fn is_joining(words: &str) -> bool {
    let mut words = words
        .split(|c: char| !c.is_alphanumeric())
        .filter(|word| !word.is_empty());
    words.all(|word| JOINING.contains(&word))
}

/// Words that join the formulas of one exercise.
const JOINING: [&str; 12] = [
    "and", "or", "for", "with", "where", "when", "on", "at", "over", "from", "to", "if",
];

/// Words that stand inside a formula, such as `\text{ for }`, as words of their own.
pub(super) fn split<'a>(parts: &[Part<'a>]) -> Vec<Part<'a>> {
    let mut split = Vec::with_capacity(parts.len());
    for part in parts {
        match part {
            Part::Words(_) => split.push(*part),
            Part::Tex(tex) => formula_parts(tex, &mut split),
        }
    }
    split
}

/// The text marks its formulas.
pub(super) fn has_formula_marks(text: &str) -> bool {
    next_opening(text)
        .is_some_and(|(open, close, start)| find(&text[start + open.len()..], close).is_some())
}

/// A formula without marks; words between its parts, such as `\text{ for }`, are words.
pub(super) fn formula_parts<'a>(tex: &'a str, parts: &mut Vec<Part<'a>>) {
    if !tex.contains(r"\text{") {
        parts.push(Part::Tex(tex));
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
pub(super) fn is_prose(text: &str) -> bool {
    let mut words = 0;
    for piece in text.split_whitespace() {
        if piece.contains(['\\', '^', '_', '=', '{', '}', '<', '>']) {
            return false;
        }
        let letters = piece.chars().filter(|c| c.is_alphabetic()).count();
        words += usize::from(letters >= 2);
    }
    let is_command = || {
        let first = text.split_whitespace().next().unwrap_or_default();
        first.starts_with(char::is_uppercase) && super::words::is_command(&first.to_lowercase())
    };
    words >= 3 || words == 2 && is_command()
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
    fn finds_an_exercise_below_an_instruction() {
        let check = |text: &str| introduced(&parts(text));
        assert_eq!(check("Factor. $x^2 - 4$"), Some(0));
        assert_eq!(check("Solve on $[0, 2\\pi)$: $\\sin x = 1$."), Some(1));
        assert_eq!(check("Solve. (b) $x = 1$, $y = 2$"), Some(0));
        assert_eq!(check("Solve for $x$. $y = x$ with $y = 1$"), Some(1));
        assert_eq!(check("$x = 1$"), Some(0));
        assert_eq!(check("Solve $x = 1$."), None);
        assert_eq!(
            check("Let $f(x) = x$. $f$ is one-to-one on $[0, 1]$."),
            None
        );
        assert_eq!(check("Let $f(x) = x$. $f(2)$ is what?"), None);
        assert_eq!(check("Prove it."), None);
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
        assert_eq!(check_formula("x y z"), "<x y z>");
        assert!(is_prose("Sketch the curve") && !is_prose("x y z"));
    }
}
