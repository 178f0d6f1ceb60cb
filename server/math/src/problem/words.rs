//! What do the words of a statement ask, and how do they introduce each formula?

use std::collections::BTreeSet;

use super::{Part, Task};
use crate::stable_hash::Digest;

/// How a formula is introduced.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Position {
    /// It is what the sentence is about: "Solve `$...$`".
    Asked,
    /// It was introduced before the question: "Let `$...$`".
    Given,
    /// It restricts or completes another formula: "with `$...$`", "on `$...$`".
    Condition,
}

/// The words of a statement, in small letters, in order.
pub(super) struct Words<'a> {
    items: Vec<Item<'a>>,
    positions: Vec<Position>,
}

enum Item<'a> {
    Word(std::borrow::Cow<'a, str>),
    Formula,
    Stop,
    Comma,
}

/// Phrases and the instruction that each gives. A phrase is a run of words; each need only begin
/// as written, so that "eigenvalue" finds "eigenvalues".
const PHRASES: &[(&[&str], &str)] = &[
    (&["show", "that"], "prove"),
    (&["prove"], "prove"),
    (&["verify"], "prove"),
    (&["justify"], "prove"),
    (&["explain"], "prove"),
    (&["derive"], "prove"),
    (&["disprove"], "prove"),
    (&["give", "a", "proof"], "prove"),
    (&["show"], "prove"),
    (&["state"], "state"),
    (&["define"], "state"),
    (&["from", "the", "definition"], "by definition"),
    (&["from", "first", "principles"], "by definition"),
    (&["using", "the", "definition"], "by definition"),
    (&["use", "the", "definition"], "by definition"),
    (&["limit", "definition"], "by definition"),
    (&["by", "induction"], "by induction"),
    (&["by", "contradiction"], "by contradiction"),
    (&["solve"], "solve"),
    (&["find", "all", "solution"], "solve"),
    (&["find", "the", "solution"], "solve"),
    (&["find", "solution"], "solve"),
    (&["find", "all", "real", "solution"], "solve"),
    (&["find", "all", "root"], "solve"),
    (&["find", "the", "root"], "solve"),
    (&["find", "the", "zero"], "solve"),
    (&["find", "all", "zero"], "solve"),
    (&["find", "all", "value"], "solve"),
    (&["find", "the", "value", "of", "x"], "solve"),
    (&["find", "every"], "solve"),
    (&["find", "all"], "solve"),
    (&["find", "x"], "solve"),
    (&["determine", "all"], "solve"),
    (&["determine", "the", "solution"], "solve"),
    (&["for", "which"], "for which"),
    (&["for", "what"], "for which"),
    (&["general", "solution"], "general solution"),
    (&["complete", "solution"], "general solution"),
    (&["particular", "solution"], "particular solution"),
    (&["initial", "value"], "solve"),
    (&["differentiate"], "differentiate"),
    (&["derivative", "of"], "differentiate"),
    (&["find", "the", "derivative"], "differentiate"),
    (&["first", "derivative"], "differentiate"),
    (&["second", "derivative"], "second derivative"),
    (&["third", "derivative"], "third derivative"),
    (&["partial", "derivative"], "partial derivative"),
    (&["implicit"], "implicit"),
    (
        &["logarithmic", "differentiation"],
        "logarithmic differentiation",
    ),
    (&["integrate"], "integrate"),
    (&["antiderivative"], "integrate"),
    (&["anti-derivative"], "integrate"),
    (&["primitive", "of"], "integrate"),
    (&["indefinite", "integral"], "integrate"),
    (&["integral", "of"], "integrate"),
    (&["by", "parts"], "by parts"),
    (&["partial", "fraction"], "partial fractions"),
    (
        &["trigonometric", "substitution"],
        "trigonometric substitution",
    ),
    (&["limit"], "limit"),
    (&["squeeze"], "squeeze"),
    (&["converge"], "converge"),
    (&["diverge"], "converge"),
    (&["convergen"], "converge"),
    (&["absolutely"], "absolutely"),
    (&["conditionally"], "absolutely"),
    (&["radius", "of", "convergence"], "radius"),
    (&["interval", "of", "convergence"], "radius"),
    (&["sum", "of", "the", "series"], "sum"),
    (&["find", "the", "sum"], "sum"),
    (&["partial", "sum"], "partial sum"),
    (&["taylor"], "Taylor"),
    (&["maclaurin"], "Taylor"),
    (&["power", "series"], "power series"),
    (&["laplace"], "Laplace"),
    (&["fourier"], "Fourier"),
    (&["wronskian"], "Wronskian"),
    (&["cramer"], "Cramer"),
    (&["eliminat"], "eliminate"),
    (&["by", "substitution"], "substitute"),
    (&["gauss"], "eliminate"),
    (&["row", "reduc"], "row reduce"),
    (&["reduced", "row"], "row reduce"),
    (&["echelon"], "row reduce"),
    (&["eigenvalue"], "eigenvalues"),
    (&["eigenvector"], "eigenvectors"),
    (&["eigenspace"], "eigenvectors"),
    (
        &["characteristic", "polynomial"],
        "characteristic polynomial",
    ),
    (&["diagonal"], "diagonalise"),
    (&["determinant"], "determinant"),
    (&["invers"], "inverse"),
    (&["invertible"], "invertible"),
    (&["singular"], "invertible"),
    (&["rank"], "rank"),
    (&["null", "space"], "null space"),
    (&["kernel"], "null space"),
    (&["column", "space"], "column space"),
    (&["row", "space"], "row space"),
    (&["linearly", "independent"], "independent"),
    (&["linearly", "dependent"], "independent"),
    (&["linear", "independence"], "independent"),
    (&["linear", "combination"], "linear combination"),
    (&["span"], "span"),
    (&["basis"], "basis"),
    (&["dimension"], "dimension"),
    (&["trace"], "trace"),
    (&["orthogonal"], "orthogonal"),
    (&["orthonormal"], "orthonormal"),
    (&["projection"], "projection"),
    (&["dot", "product"], "dot product"),
    (&["cross", "product"], "cross product"),
    (&["angle", "between"], "angle"),
    (&["simplify"], "simplify"),
    (&["evaluate"], "compute"),
    (&["compute"], "compute"),
    (&["calculate"], "compute"),
    (&["work", "out"], "compute"),
    (&["what", "is"], "compute"),
    (&["find", "the", "exact", "value"], "compute"),
    (&["find", "the", "value", "of"], "compute"),
    (&["expand"], "expand"),
    (&["multiply", "out"], "expand"),
    (&["factor"], "factor"),
    (&["rationali"], "rationalise"),
    (&["complet", "the", "square"], "complete the square"),
    (&["single", "logarithm"], "combine"),
    (&["single", "fraction"], "combine"),
    (&["combine"], "combine"),
    (&["approximat"], "approximate"),
    (&["decimal"], "approximate"),
    (&["newton"], "Newton"),
    (&["domain"], "domain"),
    (&["range"], "range"),
    (&["sketch"], "graph"),
    (&["graph"], "graph"),
    (&["asymptote"], "asymptotes"),
    (&["intercept"], "intercepts"),
    (&["vertex"], "vertex"),
    (&["slope"], "slope"),
    (&["tangent", "line"], "tangent line"),
    (&["tangent", "plane"], "tangent plane"),
    (&["normal", "line"], "normal line"),
    (&["critical", "point"], "critical points"),
    (&["stationary"], "critical points"),
    (&["maxim"], "extrema"),
    (&["minim"], "extrema"),
    (&["extrem"], "extrema"),
    (&["inflection"], "inflection"),
    (&["increasing"], "monotonic"),
    (&["decreasing"], "monotonic"),
    (&["concav"], "concavity"),
    (&["convex"], "concavity"),
    (&["continuous"], "continuous"),
    (&["continuity"], "continuous"),
    (&["differentiable"], "differentiable"),
    (&["area"], "area"),
    (&["volume"], "volume"),
    (&["arc", "length"], "arc length"),
    (&["average", "value"], "average"),
    (&["supremum"], "supremum"),
    (&["infimum"], "infimum"),
    (&["least", "upper"], "supremum"),
    (&["greatest", "lower"], "infimum"),
    (&["cauchy", "sequence"], "Cauchy"),
    (&["uniform"], "uniform"),
    (&["inverse", "function"], "inverse function"),
    (&["composition"], "composition"),
    (&["integrating", "factor"], "integrating factor"),
    (&["separat"], "separate"),
    (&["undetermined"], "undetermined coefficients"),
    (&["variation", "of", "parameter"], "variation of parameters"),
    (&["equilibri"], "equilibria"),
    (&["stable"], "stability"),
    (&["stability"], "stability"),
    (&["long", "run"], "long run"),
    (&["real", "solution"], "real"),
    (&["complex"], "complex"),
    (&["modulus"], "modulus"),
    (&["argument"], "argument"),
    (&["polar"], "polar"),
    (&["gcd"], "gcd"),
    (&["greatest", "common"], "gcd"),
    (&["least", "common"], "lcm"),
    (&["remainder"], "remainder"),
    (&["probability"], "probability"),
    (&["expected", "value"], "expectation"),
    (&["variance"], "variance"),
    (&["how", "many"], "count"),
    (&["number", "of"], "count"),
    (&["estimate"], "estimate"),
    (&["both", "variables"], "both"),
];

/// Words that introduce a condition on another formula.
const CONDITION: [&str; 22] = [
    "with",
    "where",
    "on",
    "in",
    "for",
    "when",
    "at",
    "near",
    "around",
    "about",
    "subject",
    "satisfying",
    "satisfies",
    "assuming",
    "provided",
    "between",
    "from",
    "given",
    "initial",
    "through",
    "over",
    "respect",
];

/// Words that introduce what is given.
const GIVEN: [&str; 9] = [
    "let", "suppose", "consider", "if", "assume", "define", "sequence", "function", "such",
];

/// Words that start a question.
const ASKING: [&str; 22] = [
    "find",
    "solve",
    "compute",
    "evaluate",
    "calculate",
    "determine",
    "simplify",
    "show",
    "prove",
    "differentiate",
    "integrate",
    "is",
    "are",
    "does",
    "do",
    "can",
    "which",
    "what",
    "factor",
    "expand",
    "verify",
    "give",
];

/// Words that say nothing about what is asked.
const SILENT: [&str; 40] = [
    "a",
    "an",
    "the",
    "of",
    "and",
    "or",
    "to",
    "by",
    "it",
    "its",
    "this",
    "these",
    "that",
    "all",
    "each",
    "every",
    "please",
    "following",
    "equation",
    "equations",
    "system",
    "exactly",
    "value",
    "values",
    "find",
    "determine",
    "give",
    "answer",
    "your",
    "then",
    "problem",
    "with",
    "where",
    "for",
    "on",
    "in",
    "x",
    "y",
    "t",
    "using",
];

impl<'a> Words<'a> {
    pub(super) fn read(parts: &[Part<'a>]) -> Self {
        let mut items = Vec::new();
        for part in parts {
            match part {
                Part::Words(text) => split(text, &mut items),
                Part::Tex(_) => items.push(Item::Formula),
            }
        }
        let positions = positions(&items);
        Self { items, positions }
    }

    /// How each formula is introduced, in order.
    pub(super) fn positions(&self) -> &[Position] {
        &self.positions
    }

    fn words(&self) -> Vec<&str> {
        self.items
            .iter()
            .map(|item| match item {
                Item::Word(word) => word,
                Item::Formula | Item::Stop | Item::Comma => "",
            })
            .collect()
    }

    /// What the words ask.
    pub(super) fn instructions(&self) -> BTreeSet<&'static str> {
        let words = self.words();
        let mut found = BTreeSet::new();
        for start in 0..words.len() {
            for (phrase, instruction) in PHRASES {
                let rest = words[start..].iter();
                if phrase.len() <= rest.len()
                    && phrase
                        .iter()
                        .zip(rest)
                        .all(|(stem, word)| word.starts_with(stem))
                {
                    found.insert(*instruction);
                }
            }
        }
        found
    }

    /// No word says what to do.
    pub(super) fn are_silent(&self) -> bool {
        self.words()
            .iter()
            .all(|word| word.is_empty() || SILENT.contains(word))
    }

    /// A hash of the words that the instructions do not account for. For a task that is known
    /// from the words, what else they say is taken to be manner of speaking.
    pub(super) fn remainder(&self, task: Task) -> Option<Digest> {
        if !matches!(task, Task::Statement | Task::Other) || self.are_silent() {
            return None;
        }
        let words = self.words();
        let telling = words
            .iter()
            .filter(|word| !word.is_empty() && !SILENT.contains(word));
        Some(telling.fold(Digest::tag(0), |hash, word| hash.then(Digest::of(word))))
    }
}

fn split<'a>(text: &'a str, items: &mut Vec<Item<'a>>) {
    let mut rest = text;
    while let Some(start) = rest.find(|c: char| !c.is_whitespace()) {
        rest = &rest[start..];
        let length = rest
            .find(|c: char| !(c.is_alphabetic() || c == '\'' || c == '-'))
            .unwrap_or(rest.len());
        let (word, after) = match length {
            0 => {
                let length = rest.chars().next().map_or(1, char::len_utf8);
                rest.split_at(length)
            }
            _ => rest.split_at(length),
        };
        rest = after;
        match word {
            "." | ";" | ":" | "?" | "!" => items.push(Item::Stop),
            "," => items.push(Item::Comma),
            _ if length == 0 => {}
            _ => items.push(Item::Word(match word.chars().any(char::is_uppercase) {
                true => word.to_lowercase().into(),
                false => word.into(),
            })),
        }
    }
}

fn positions(items: &[Item<'_>]) -> Vec<Position> {
    let mut positions = Vec::new();
    // How the sentence went on so far, and the last word that introduces something.
    let mut sentence = None;
    let mut current = None;
    for item in items {
        match item {
            Item::Stop => (sentence, current) = (None, None),
            Item::Comma => {}
            Item::Word(word) => {
                let word = &**word;
                if ASKING.contains(&word) {
                    sentence = Some(Position::Asked);
                    current = Some(Position::Asked);
                } else if CONDITION.contains(&word) && !positions.is_empty() {
                    current = Some(Position::Condition);
                } else if GIVEN.contains(&word) && sentence.is_none() {
                    sentence = Some(Position::Given);
                    current = Some(Position::Given);
                } else if word == "if" {
                    current = Some(Position::Given);
                }
            }
            Item::Formula => positions.push(current.or(sentence).unwrap_or(Position::Asked)),
        }
    }
    positions
}
