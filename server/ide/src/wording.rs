//! What a statement or an answer says: words and formulas in turn.
//!
//! A wording is a text cut at its formulas. It is what the mathematics is asked about, and the key
//! under which its answers are kept: equal wordings have equal answers.

use math::problem::Part;
use math::{Class, Declared};
use notes::{Field, Formula, Located, Place, Span};

/// Words and formulas in turn.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Wording(Vec<Piece>);

/// A piece of a wording.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
enum Piece {
    Words(String),
    /// The TeX of a formula, without its dollar signs.
    Tex(String),
}

/// Something in a text that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Unread {
    /// The bytes of the text.
    pub span: Span,
    /// What was found and what to do.
    pub message: String,
    /// Whether the formula is broken or beyond what is understood, rather than to be read in two
    /// ways.
    pub is_grave: bool,
}

impl Wording {
    /// What a block's statement says.
    pub fn of_statement(at: &Located<'_>) -> Self {
        let mut wording = Self::default();
        for line in &at.block.statement {
            wording.add(at, *line, Place::Statement);
        }
        wording
    }

    /// What the value of a block's field says. `field` is one of the block's.
    pub fn of_field(at: &Located<'_>, field: &Field) -> Self {
        let mut wording = Self::default();
        let index = at
            .block
            .fields
            .iter()
            .position(|own| own.key_span == field.key_span);
        if let Some(index) = index {
            wording.add(at, field.value_span, Place::Field(index));
        }
        wording
    }

    /// What a text says in which formulas stand between dollar signs, as in notes, or between
    /// `\(` and `\)` or `\[` and `\]`. A text without any of these is one formula.
    pub fn of_text(text: &str) -> Self {
        let mut wording = Self::default();
        for (piece, is_formula) in cut(text) {
            let piece = text[piece.range()].to_owned();
            wording.push(match is_formula {
                true => Piece::Tex(piece),
                false => Piece::Words(piece),
            });
        }
        wording
    }

    /// A formula by itself, without dollar signs.
    pub fn of_formula(tex: &str) -> Self {
        Self(vec![Piece::Tex(tex.to_owned())])
    }

    /// The same below an instruction, which may hold formulas between dollar signs, too.
    #[must_use]
    pub fn after(self, words: &str) -> Self {
        if words.trim().is_empty() {
            return self;
        }
        let mut pieces = match cut(words)[..] {
            // An instruction is words, even if it is but one.
            _ if !has_signs(words) => with_plain_formulas(words),
            _ => Self::of_text(words).0,
        };
        // An instruction need not end with a full stop.
        let has_stop = words.trim_end().ends_with(['.', ':', ';', '?', '!']);
        let stop = if has_stop { " " } else { ". " };
        pieces.push(Piece::Words(stop.to_owned()));
        pieces.extend(self.0);
        Self(pieces)
    }

    /// The pieces of a fresh problem or its key.
    pub fn of_pieces(pieces: &[math::sibling::Piece]) -> Self {
        let piece = |piece: &math::sibling::Piece| match piece {
            math::sibling::Piece::Words(words) => Piece::Words(words.clone()),
            math::sibling::Piece::Tex(tex) => Piece::Tex(tex.clone()),
        };
        Self(pieces.iter().map(piece).collect())
    }

    /// The pieces as notes write them: formulas between dollar signs. What is but one formula is
    /// written without them where `bare` is asked for.
    pub fn text(&self, bare: bool) -> String {
        match &self.0[..] {
            [Piece::Tex(tex)] if bare => tex.clone(),
            pieces => {
                let pieces = pieces.iter().map(|piece| match piece {
                    Piece::Words(words) => words.clone(),
                    Piece::Tex(tex) => format!("${tex}$"),
                });
                pieces.collect()
            }
        }
    }

    /// The pieces, as the mathematics takes them.
    pub fn parts(&self) -> Vec<Part<'_>> {
        let pieces = self.0.iter();
        pieces
            .map(|piece| match piece {
                Piece::Words(words) => Part::Words(words),
                Piece::Tex(tex) => Part::Tex(tex),
            })
            .collect()
    }

    /// Whether it has a formula.
    pub fn has_formula(&self) -> bool {
        self.0.iter().any(|piece| matches!(piece, Piece::Tex(_)))
    }

    fn add(&mut self, at: &Located<'_>, span: Span, place: Place) {
        let mut from = span.start;
        let inside = |formula: &&Formula| {
            formula.place == place
                && span.start <= formula.whole.start
                && formula.whole.end <= span.end
        };
        for formula in at.entry.unit.formulas.iter().filter(inside) {
            let words = Span {
                start: from,
                end: formula.whole.start.max(from),
            };
            self.push(Piece::Words(at.text(words)));
            self.push(Piece::Tex(at.text(formula.tex)));
            from = formula.whole.end;
        }
        let words = Span {
            start: from,
            end: span.end.max(from),
        };
        self.push(Piece::Words(at.text(words)));
    }

    fn push(&mut self, piece: Piece) {
        match piece {
            Piece::Words(words) if words.is_empty() => {}
            piece => self.0.push(piece),
        }
    }
}

/// A text with its formulas replaced by those of `pieces`, in order; what stands around them stays.
pub(crate) fn with_formulas(text: &str, pieces: &[math::sibling::Piece]) -> String {
    let mut new = pieces.iter().filter_map(|piece| match piece {
        math::sibling::Piece::Tex(tex) => Some(tex.as_str()),
        math::sibling::Piece::Words(_) => None,
    });
    let (mut out, mut from) = (String::new(), 0);
    for (span, is_formula) in cut(text) {
        let Some(tex) = is_formula.then(|| new.next()).flatten() else {
            continue;
        };
        let old = &text[span.range()];
        let inner = old.trim();
        // The blanks inside the signs are the writer's.
        let start = span.start as usize + (old.len() - old.trim_start().len());
        out.push_str(&text[from..start]);
        out.push_str(tex.trim());
        from = start + inner.len();
    }
    out.push_str(&text[from..]);
    out
}

/// What cannot be read in a text, as [`Wording::of_text`] cuts it. What one formula says of its
/// letters holds for the others.
pub fn unread(text: &str) -> Vec<Unread> {
    let pieces = cut(text);
    let formulas = || pieces.iter().filter(|(_, is_formula)| *is_formula);
    let mut declared = Declared::new();
    for (span, _) in formulas() {
        declared.learn(&math::read(&text[span.range()], &declared).expression);
    }
    let mut unread = Vec::new();
    for (span, _) in formulas() {
        let reading = math::read(&text[span.range()], &declared);
        unread.extend(reading.diagnostics.into_iter().map(|diagnostic| Unread {
            span: Span::from(diagnostic.range).shifted(span.start as usize),
            message: diagnostic.message,
            is_grave: diagnostic.class != Class::Ambiguous,
        }));
    }
    unread
}

/// The signs around formulas, the longer before those that they begin with.
const SIGNS: [(&str, &str); 4] = [("$$", "$$"), ("$", "$"), ("\\(", "\\)"), ("\\[", "\\]")];

fn has_signs(text: &str) -> bool {
    find_sign(text).is_some()
}

/// The first sign that opens a formula, and its place. A sign behind a backslash opens none.
fn find_sign(text: &str) -> Option<(usize, (&'static str, &'static str))> {
    let mut at = 0;
    while let Some(found) = text[at..].find(['$', '\\']) {
        let here = at + found;
        let rest = &text[here..];
        if let Some(signs) = SIGNS.into_iter().find(|(open, _)| rest.starts_with(open)) {
            return Some((here, signs));
        }
        // A backslash takes the next character with it.
        let skipped = rest.chars().take(2).map(char::len_utf8).sum::<usize>();
        at = here + skipped;
    }
    None
}

/// The end of a formula before the sign that closes it.
fn find_close(text: &str, close: &str) -> Option<usize> {
    let mut at = 0;
    while at < text.len() {
        let rest = &text[at..];
        if rest.starts_with(close) {
            return Some(at);
        }
        let taken = if rest.starts_with('\\') { 2 } else { 1 };
        at += rest.chars().take(taken).map(char::len_utf8).sum::<usize>();
    }
    None
}

/// The pieces of an instruction in which formulas stand without signs: a function of something, such
/// as f'(2) or (f o g)(x), a point, and a letter with a number, as in a = 4 or x - 3. The rest is words.
fn with_plain_formulas(text: &str) -> Vec<Piece> {
    let mut pieces = Vec::new();
    let mut words = String::new();
    let mut rest = text;
    while let Some(first) = rest.chars().next() {
        let is_begun = words
            .chars()
            .next_back()
            .is_some_and(|c| c.is_alphanumeric() || "'’_^\\{".contains(c));
        let found = Some(rest).filter(|_| !is_begun).and_then(plain_formula);
        match found {
            Some(length) => {
                let (formula, after) = rest.split_at(length);
                if !words.is_empty() {
                    pieces.push(Piece::Words(std::mem::take(&mut words)));
                }
                pieces.push(Piece::Tex(
                    formula.replace(" o ", " \\circ ").replace('∘', "\\circ "),
                ));
                rest = after;
            }
            None => {
                words.push(first);
                rest = &rest[first.len_utf8()..];
            }
        }
    }
    if !words.is_empty() {
        pieces.push(Piece::Words(words));
    }
    pieces
}

/// The length of the formula without signs with which a text begins.
fn plain_formula(text: &str) -> Option<usize> {
    let close = |text: &str| text.find(')').filter(|end| !text[1..*end].contains('('));
    let is_math = |inside: &str| {
        let mut words = inside.split(|c: char| !c.is_alphabetic());
        words.all(|word| word.chars().count() < 2) && !inside.trim().is_empty()
    };
    // (f o g)(x)
    if text.starts_with('(') {
        let end = close(text)?;
        let inside = &text[1..end];
        let behind = &text[end + 1..];
        let is_composed = inside.contains(" o ") || inside.contains('∘');
        if is_composed && is_math(inside) && behind.starts_with('(') {
            let argument = close(behind)?;
            return is_math(&behind[1..argument]).then_some(end + 1 + argument + 1);
        }
        // (1, 5)
        let is_point = inside.contains(',') && inside.contains(|c: char| c.is_ascii_digit());
        return (is_point && is_math(inside)).then_some(end + 1);
    }
    let first = text.chars().next().filter(char::is_ascii_alphabetic)?;
    let behind = &text[first.len_utf8()..];
    let primes = behind.len() - behind.trim_start_matches(['\'', '’']).len();
    // f'(2)
    if behind[primes..].starts_with('(') {
        let end = close(&behind[primes..])?;
        let inside = &behind[primes + 1..primes + end];
        return is_math(inside).then_some(first.len_utf8() + primes + end + 1);
    }
    // a = 4, x_1 = 1, x - 3
    let index = behind.strip_prefix('_').map_or(0, |name| {
        1 + name.chars().take_while(char::is_ascii_digit).count()
    });
    let spaced = behind[index..].trim_start();
    let value = match spaced.strip_prefix('=') {
        Some(value) => value.trim_start().trim_start_matches('-'),
        // x - 3; but a and I are words.
        None => {
            let value = spaced.strip_prefix(['+', '-', '−']);
            value.filter(|_| !"aAI".contains(first))?.trim_start()
        }
    };
    let digits = value
        .find(|c: char| !c.is_ascii_digit() && c != '/')
        .unwrap_or(value.len());
    (digits > 0).then(|| text.len() - value.len() + digits)
}

/// Words without any sign of a formula, with a stop at the end: "Prove it."
fn is_sentence(text: &str) -> bool {
    let plain = |c: char| c.is_alphabetic() || c.is_whitespace() || ".,;:'’?!-".contains(c);
    let mut words = text.split(|c: char| !c.is_alphabetic());
    text.trim_end().ends_with(['.', '?', '!'])
        && text.chars().all(plain)
        && words.any(|word| word.chars().count() > 3)
}

/// The pieces of a text, and whether each is a formula.
fn cut(text: &str) -> Vec<(Span, bool)> {
    let mut pieces = Vec::new();
    if !has_signs(text) {
        if !text.trim().is_empty() {
            pieces.push((Span::new(0, text.len()), !is_sentence(text)));
        }
        return pieces;
    }
    let mut at = 0;
    while let Some((found, (open, close))) = find_sign(&text[at..]) {
        let start = at + found;
        if start > at {
            pieces.push((Span::new(at, start), false));
        }
        let inner = start + open.len();
        let (end, next) = match find_close(&text[inner..], close) {
            Some(length) => (inner + length, inner + length + close.len()),
            // A formula that is not closed runs to the end.
            None => (text.len(), text.len()),
        };
        pieces.push((Span::new(inner, end), true));
        at = next;
    }
    if at < text.len() {
        pieces.push((Span::new(at, text.len()), false));
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::fixture;

    fn said(wording: &Wording) -> Vec<String> {
        let piece = |piece: &Piece| match piece {
            Piece::Words(words) => format!("words {words:?}"),
            Piece::Tex(tex) => format!("tex {tex:?}"),
        };
        wording.0.iter().map(piece).collect()
    }

    fn check(text: &str, expected: &[&str]) {
        assert_eq!(said(&Wording::of_text(text)), expected, "{text}");
    }

    #[test]
    fn a_bare_formula_is_one_piece() {
        check("x^2 = 4", &["tex \"x^2 = 4\""]);
        check(r"\frac{1}{2}\$", &[r#"tex "\\frac{1}{2}\\$""#]);
        check("", &[]);
        check("  ", &[]);
        check("Prove it.", &["words \"Prove it.\""]);
        check("xy.", &["tex \"xy.\""]);
    }

    #[test]
    fn formulas_stand_between_signs() {
        check(
            "Solve $x = 1$ and $$y = 2$$.",
            &[
                "words \"Solve \"",
                "tex \"x = 1\"",
                "words \" and \"",
                "tex \"y = 2\"",
                "words \".\"",
            ],
        );
        check(
            r"Solve \(x\) at 5\$ or \[y\]",
            &[
                "words \"Solve \"",
                "tex \"x\"",
                r#"words " at 5\\$ or ""#,
                "tex \"y\"",
            ],
        );
        check("so $x", &["words \"so \"", "tex \"x\""]);
        check("$", &["tex \"\""]);
    }

    #[test]
    fn an_instruction_stands_in_front() {
        let wording = Wording::of_text("x^2").after("Factor.");
        assert_eq!(
            said(&wording),
            ["words \"Factor.\"", "words \" \"", "tex \"x^2\""]
        );
        let plain = |words: &str| said(&Wording::of_text("").after(words));
        for (words, expected) in [
            (
                "Find f'(2).",
                vec!["words \"Find \"", "tex \"f'(2)\"", "words \".\""],
            ),
            (
                "Find (f o g)(x)",
                vec!["words \"Find \"", "tex \"(f \\\\circ g)(x)\""],
            ),
            (
                "Through (1, -5) at a = -1/2:",
                vec![
                    "words \"Through \"",
                    "tex \"(1, -5)\"",
                    "words \" at \"",
                    "tex \"a = -1/2\"",
                    "words \":\"",
                ],
            ),
            (
                "Solve (if you can) and say why (see p. 3, too).",
                vec!["words \"Solve (if you can) and say why (see p. 3, too).\""],
            ),
        ] {
            let mut found = plain(words);
            found.retain(|piece| piece != "words \". \"" && piece != "words \" \"");
            assert_eq!(found, expected);
        }
        let wording = Wording::of_text("x^2").after("At $x = 1$.");
        assert_eq!(
            said(&wording),
            [
                "words \"At \"",
                "tex \"x = 1\"",
                "words \".\"",
                "words \" \"",
                "tex \"x^2\""
            ]
        );
    }

    #[test]
    fn statements_and_answers_are_cut_alike() {
        let fixture =
            fixture::notebook("@problem 1\n  Solve $x = 1$\n  and $y = 2$.\n  answer: it is $3$\n");
        let notebook = &fixture.analysis().notebook;
        let path = notes::FilePath::new("notes.porism");
        let at = notebook.blocks_in(&path).next().expect("a block");
        assert_eq!(
            said(&Wording::of_statement(&at)),
            [
                "words \"Solve \"",
                "tex \"x = 1\"",
                "words \"and \"",
                "tex \"y = 2\"",
                "words \".\""
            ]
        );
        let answer = at.block.field(notes::Key::Answer).expect("an answer");
        assert_eq!(
            said(&Wording::of_field(&at, answer)),
            ["words \"it is \"", "tex \"3\""]
        );
    }

    #[test]
    fn formulas_are_replaced_where_they_stand() {
        let text = "Solve\n$$ x = 1,\n   y = 2 $$ and $z$, \\$5.";
        let new = ["x = 3, y = 4", " w "].map(|tex| math::sibling::Piece::Tex(tex.to_owned()));
        assert_eq!(
            with_formulas(text, &new),
            "Solve\n$$ x = 3, y = 4 $$ and $w$, \\$5."
        );
        assert_eq!(with_formulas(text, &[]), text);
    }

    #[test]
    fn faults_stand_where_they_are_in_the_text() {
        let text = r"Solve $x = 1$ with $\frac{1}{2$.";
        let found = unread(text);
        assert!(!found.is_empty());
        for one in &found {
            assert!(one.is_grave, "{one:?}");
            assert!(
                one.span.start >= 20 && one.span.end <= 31,
                "{one:?} in {text}"
            );
        }
        assert_eq!(unread("x + 1"), []);
    }
}
