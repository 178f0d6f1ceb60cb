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
/// as written, so that "eigenvalue" finds "eigenvalues", but for those with a `$` at the end.
const PHRASES: &[(&[&str], &str)] = &[
    (&["show", "that"], "prove"),
    (&["prove"], "prove"),
    (&["verify", "the"], "prove"),
    (&["verify", "that"], "prove"),
    (&["verify", "each"], "prove"),
    (&["verify", "identit"], "prove"),
    (&["delta", "proof"], "prove"),
    (&["epsilon-delta", "proof"], "prove"),
    (&["verify"], "justify"),
    (&["justify"], "justify"),
    (&["explain"], "justify"),
    (&["true", "or", "false"], "justify"),
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
    (&["definition", "of", "the", "derivative"], "by definition"),
    (&["definition", "of", "the", "limit"], "by definition"),
    (&["definition", "of", "limit"], "by definition"),
    (&["definition", "of", "a", "limit"], "by definition"),
    (&["epsilon-delta"], "by definition"),
    (&["definition", "of", "the", "derivative"], "differentiate"),
    (&["definition", "of", "derivative"], "by definition"),
    (&["definition", "of", "derivative"], "differentiate"),
    (&["by", "induction"], "by induction"),
    (&["induction", "to", "prove"], "by induction"),
    (&["mathematical", "induction"], "by induction"),
    (&["by", "contradiction"], "by contradiction"),
    (&["solve"], "solve"),
    (&["solving"], "solve"),
    (&["express", "the", "solution"], "solve"),
    (&["give", "the", "solution"], "solve"),
    (&["write", "the", "solution"], "solve"),
    (&["state", "the", "solution"], "solve"),
    (&["find", "all", "solution"], "solve"),
    (&["find", "the", "solution"], "solve"),
    (&["find", "solution"], "solve"),
    (&["find", "all", "real", "solution"], "solve"),
    (&["find", "the", "real", "solution"], "solve"),
    (&["find", "the", "exact", "solution"], "solve"),
    (&["find", "the", "solution", "set"], "solve"),
    (&["find", "the", "value", "of", "the", "variable"], "solve"),
    (&["quadratic", "formula"], "quadratic formula"),
    (&["square", "root", "property"], "square roots"),
    (&["square", "root", "method"], "square roots"),
    (&["extract", "square", "root"], "square roots"),
    (&["extract", "the", "square", "root"], "square roots"),
    (&["taking", "square", "root"], "square roots"),
    (&["taking", "the", "square", "root"], "square roots"),
    (&["by", "square", "root"], "square roots"),
    (&["zero-product", "property"], "factor"),
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
    (&["find", "dy", "dx"], "differentiate"),
    (&["dy", "dx"], "differentiate"),
    (&["differentiation"], "differentiate"),
    (&["product", "rule"], "product rule"),
    (&["quotient", "rule"], "quotient rule"),
    (&["chain", "rule"], "chain rule"),
    (&["power", "rule"], "power rule"),
    (&["second", "derivative"], "second derivative"),
    (&["second-order", "partial"], "partial derivative"),
    (&["first", "partial"], "partial derivative"),
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
    (&["u-substitution"], "substitute"),
    (&["substitution"], "substitute"),
    (&["change", "of", "variable"], "substitute"),
    (&["trig", "substitution"], "trigonometric substitution"),
    (&["hôpital"], "l'Hôpital"),
    (&["l'hôpital"], "l'Hôpital"),
    (&["l'hopital"], "l'Hôpital"),
    (&["l'hospital"], "l'Hôpital"),
    (&["comparison", "test"], "comparison test"),
    (&["ratio", "test"], "ratio test"),
    (&["root", "test"], "root test"),
    (&["integral", "test"], "integral test"),
    (&["sequence"], "sequence"),
    (&["geometric", "series"], "geometric"),
    (&["p-series"], "p-series"),
    (&["alternating", "series"], "alternating series test"),
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
    (
        &["interval", "of", "convergence"],
        "interval of convergence",
    ),
    (&["radius", "and", "interval"], "radius and interval"),
    (
        &["radius", "of", "convergence", "and", "interval"],
        "radius and interval",
    ),
    (
        &["radius", "of", "convergence", "and", "the", "interval"],
        "radius and interval",
    ),
    (&["sum", "of", "the", "series"], "sum"),
    (&["find", "the", "sum"], "sum"),
    (&["partial", "sum"], "partial sum"),
    (&["telescoping"], "telescoping"),
    (&["taylor"], "Taylor"),
    (&["maclaurin"], "Taylor"),
    (&["power", "series"], "power series"),
    (&["laplace"], "Laplace"),
    (&["fourier"], "Fourier"),
    (&["wronskian"], "Wronskian"),
    (&["cramer"], "Cramer"),
    (&["eliminat"], "eliminate"),
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
    (&["inverse", "of", "the", "function"], "inverse function"),
    (&["inverse", "of", "each", "function"], "inverse function"),
    (
        &["inverse", "of", "the", "given", "function"],
        "inverse function",
    ),
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
    (&["magnitude"], "magnitude"),
    (&["length", "of", "the", "vector"], "magnitude"),
    (&["unit", "vector"], "unit vector"),
    (&["angle", "between"], "angle"),
    (&["simplif"], "simplify"),
    (&["simplest", "form"], "simplify"),
    (&["lowest", "terms"], "simplify"),
    (&["reduce", "the"], "simplify"),
    (&["reduce", "to"], "simplify"),
    (&["perform", "the"], "simplify"),
    (&["perform", "each"], "simplify"),
    (&["add$"], "compute"),
    (&["subtract$"], "compute"),
    (&["multiply$"], "compute"),
    (&["divide$"], "compute"),
    (&["long", "division"], "divide"),
    (&["synthetic", "division"], "divide"),
    (&["find", "the", "quotient", "and", "remainder"], "divide"),
    (&["find", "the", "product"], "compute"),
    (&["find", "the", "quotient"], "compute"),
    (&["find", "the", "difference"], "compute"),
    (&["find", "each", "product"], "compute"),
    (&["find", "each", "sum"], "compute"),
    (&["find", "the", "indicated"], "compute"),
    (&["rewrite"], "rewrite"),
    (&["write", "as"], "rewrite"),
    (&["write", "each"], "rewrite"),
    (&["write", "in"], "rewrite"),
    (&["write", "the", "expression"], "rewrite"),
    (&["write", "the", "number"], "rewrite"),
    (&["write", "the", "logarithm"], "rewrite"),
    (&["express"], "rewrite"),
    (&["convert"], "rewrite"),
    (&["standard", "form"], "standard form"),
    (&["evaluate"], "compute"),
    (&["compute"], "compute"),
    (&["calculate"], "compute"),
    (&["work", "out"], "compute"),
    (&["what", "is"], "compute"),
    (&["find", "the", "exact", "value"], "compute"),
    (&["find", "the", "value", "of"], "compute"),
    (&["find", "its", "value"], "compute"),
    (&["exact", "value"], "compute"),
    (&["expand"], "expand"),
    (&["multiply", "out"], "expand"),
    (&["factor"], "factor"),
    (&["rationali"], "rationalise"),
    (&["complet", "the", "square"], "complete the square"),
    (&["single", "logarithm"], "combine"),
    (&["single", "fraction"], "combine"),
    (&["combine"], "combine"),
    (&["condens"], "combine"),
    (&["approximat"], "approximate"),
    (&["decimal"], "approximate"),
    (&["newton"], "Newton"),
    (&["find", "the", "domain"], "domain"),
    (&["find", "its", "domain"], "domain"),
    (&["find", "the", "implied", "domain"], "domain"),
    (&["find", "the", "natural", "domain"], "domain"),
    (&["find", "the", "largest", "domain"], "domain"),
    (&["for", "the", "domain"], "domain"),
    (&["state", "the", "domain"], "domain"),
    (&["state", "its", "domain"], "domain"),
    (&["give", "the", "domain"], "domain"),
    (&["write", "the", "domain"], "domain"),
    (&["determine", "the", "domain"], "domain"),
    (&["identify", "the", "domain"], "domain"),
    (&["specify", "the", "domain"], "domain"),
    (&["describe", "the", "domain"], "domain"),
    (&["what", "is", "the", "domain"], "domain"),
    (&["domain", "and"], "domain"),
    (&["and", "domain"], "domain"),
    (&["range"], "range"),
    (&["sketch"], "graph"),
    (&["graph"], "graph"),
    (&["asymptote"], "asymptotes"),
    (&["vertical", "asymptote"], "vertical asymptotes"),
    (&["horizontal", "asymptote"], "horizontal asymptotes"),
    (&["intermediate", "value"], "existence"),
    (&["has", "a", "root"], "existence"),
    (&["has", "a", "solution"], "existence"),
    (&["has", "a", "zero"], "existence"),
    (&["has", "at", "least", "one"], "existence"),
    (&["intercept"], "intercepts"),
    (&["x-intercept"], "intercepts"),
    (&["x-intercept"], "x-intercepts"),
    (&["y-intercept"], "intercepts"),
    (&["y-intercept"], "y-intercepts"),
    (&["vertex"], "vertex"),
    (&["slope"], "slope"),
    (&["equation", "of", "the", "line"], "line"),
    (&["equation", "of", "a", "line"], "line"),
    (&["equation", "for", "the", "line"], "line"),
    (&["equation", "for", "a", "line"], "line"),
    (&["find", "the", "value", "of", "the", "function"], "value"),
    (&["evaluate", "the", "function"], "value"),
    (&["evaluate", "each", "function"], "value"),
    (&["evaluate", "the", "given", "function"], "value"),
    (&["function", "value"], "value"),
    (&["difference", "quotient"], "difference quotient"),
    (&["linear", "approximation"], "linear approximation"),
    (&["linearization"], "linear approximation"),
    (&["linearisation"], "linear approximation"),
    (
        &["tangent", "line", "approximation"],
        "linear approximation",
    ),
    (&["gradient"], "gradient"),
    (&["directional", "derivative"], "directional derivative"),
    (&["length", "of", "the", "curve"], "arc length"),
    (&["length", "of", "each", "curve"], "arc length"),
    (&["length", "of", "the", "arc"], "arc length"),
    (&["terms", "of", "the", "sequence"], "terms"),
    (&["terms", "of", "each", "sequence"], "terms"),
    (&["terms", "of", "the", "given", "sequence"], "terms"),
    (&["discriminant"], "discriminant"),
    (&["tangent", "line"], "tangent line"),
    (&["tangent", "plane"], "tangent plane"),
    (&["normal", "line"], "normal line"),
    (&["critical", "point"], "critical points"),
    (&["tangent", "is", "horizontal"], "critical points"),
    (&["tangent", "line", "is", "horizontal"], "critical points"),
    (&["horizontal", "tangent"], "critical points"),
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
    (&["revolv"], "volume"),
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
    (&["composite", "function"], "composition"),
    (&["compose"], "composition"),
    (&["integrating", "factor"], "integrating factor"),
    (&["separat"], "separate"),
    (&["bernoulli"], "Bernoulli"),
    (&["cauchy-euler"], "Cauchy-Euler"),
    (&["cauchy", "euler"], "Cauchy-Euler"),
    (&["euler", "equation"], "Cauchy-Euler"),
    (&["exact", "equation"], "exact equation"),
    (&["is", "exact"], "exact equation"),
    (&["are", "exact"], "exact equation"),
    (&["exact", "differential"], "exact equation"),
    (&["particular", "solution"], "particular solution"),
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

/// Manners of speaking that ask for nothing.
const IGNORED: &[&[&str]] = &[
    &["show", "your"],
    &["show", "all"],
    &["show", "the", "work"],
    &["show", "the", "steps"],
    &["show", "work"],
    &["verify", "your"],
    &["verify", "the", "answer"],
    &["verify", "the", "solution"],
    &["verify", "the", "result"],
    &["explain", "your"],
    &["justify", "your"],
    &["state", "your"],
    &["evaluate", "your"],
    &["or", "show", "that"],
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

/// More words that tell a reader to do something; a sentence may have one and not begin with it.
const COMMANDS: [&str; 29] = [
    "apply",
    "approximate",
    "assume",
    "check",
    "choose",
    "classify",
    "compare",
    "complete",
    "convert",
    "decide",
    "describe",
    "draw",
    "express",
    "graph",
    "how",
    "identify",
    "indicate",
    "list",
    "match",
    "name",
    "order",
    "plot",
    "rewrite",
    "sketch",
    "state",
    "tell",
    "use",
    "why",
    "write",
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

/// The word tells a reader to do something.
pub(super) fn is_command(word: &str) -> bool {
    ASKING.contains(&word) || COMMANDS.contains(&word)
}

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
        let mut start = 0;
        while start < words.len() {
            let ignored = IGNORED
                .iter()
                .find(|phrase| begins(&words[start..], phrase));
            if let Some(phrase) = ignored {
                start += phrase.len();
                continue;
            }
            for (phrase, instruction) in PHRASES {
                if begins(&words[start..], phrase) {
                    found.insert(*instruction);
                }
            }
            start += 1;
        }
        if found.contains("prove") {
            found.remove("justify");
        }
        found
    }

    /// The instructions in a text without formulas.
    pub(super) fn instructions_in(text: &str) -> BTreeSet<&'static str> {
        Words::read(&[Part::Words(text)]).instructions()
    }

    /// No word says what to do.
    pub(super) fn are_silent(&self) -> bool {
        self.words()
            .iter()
            .all(|word| word.is_empty() || SILENT.contains(word))
    }

    /// Some word says that something is to be done, known or not.
    pub(super) fn ask_for_something(&self) -> bool {
        let words = self.words();
        let mut words = words.iter();
        words.any(|word| ASKING.contains(word) || COMMANDS.contains(word))
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

/// The words begin with a phrase.
fn begins(words: &[&str], phrase: &[&str]) -> bool {
    phrase.len() <= words.len()
        && phrase
            .iter()
            .zip(words)
            .all(|(stem, word)| match stem.strip_suffix('$') {
                Some(whole) => *word == whole,
                None => word.starts_with(stem),
            })
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
