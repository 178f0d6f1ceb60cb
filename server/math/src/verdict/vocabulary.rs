//! Is what a statement asks for by name among the things that are known here?
//!
//! A formula can be judged in many ways, and a statement may ask for something that none of them
//! knows: "find the permanent of the matrix". An answer to such a question may look wrong to a
//! judge who took it for another one, so that it is not called wrong unless every word of the name
//! is known.

use crate::problem::Part;

/// Words after which the name of something stands.
const ASKING: [&str; 8] = [
    "find",
    "determine",
    "compute",
    "state",
    "give",
    "identify",
    "calculate",
    "list",
];

/// Words that end a name.
const ENDING: [&str; 51] = [
    "of",
    "for",
    "that",
    "if",
    "when",
    "on",
    "in",
    "at",
    "to",
    "with",
    "which",
    "whose",
    "by",
    "using",
    "from",
    "where",
    "such",
    "is",
    "are",
    "so",
    "as",
    "through",
    "between",
    "over",
    "given",
    "then",
    "whether",
    "how",
    "without",
    "about",
    "after",
    "along",
    "does",
    "do",
    "exists",
    "exist",
    "it",
    "they",
    "them",
    "find",
    "not",
    "your",
    "bounded",
    "enclosed",
    "determined",
    "formed",
    "inside",
    "outside",
    "intercepted",
    "subtended",
    "up",
];

/// Words that say nothing of what is named.
const EMPTY: [&str; 9] = [
    "the",
    "all",
    "each",
    "its",
    "and",
    "any",
    "following",
    "both",
    "every",
];

/// The words of names that are known, without an s at the end, in order.
const KNOWN: [&str; 250] = [
    "absolute",
    "acceleration",
    "amplitude",
    "angle",
    "answer",
    "antiderivative",
    "approximate",
    "approximation",
    "arc",
    "area",
    "arithmetic",
    "asymptote",
    "average",
    "axe",
    "axi",
    "base",
    "basi",
    "center",
    "centre",
    "characteristic",
    "circle",
    "closed",
    "coefficient",
    "common",
    "complete",
    "complex",
    "component",
    "composition",
    "constant",
    "convergence",
    "coordinate",
    "corresponding",
    "cosine",
    "coterminal",
    "critical",
    "cro",
    "cube",
    "curl",
    "curvature",
    "curve",
    "decimal",
    "decomposition",
    "definite",
    "degree",
    "derivative",
    "determinant",
    "difference",
    "differential",
    "dimension",
    "direction",
    "directional",
    "directrix",
    "discriminant",
    "distance",
    "divergence",
    "domain",
    "dot",
    "double",
    "echelon",
    "eigenvalue",
    "eigenvector",
    "eight",
    "eighth",
    "equation",
    "equilibrium",
    "exact",
    "expansion",
    "explicit",
    "expression",
    "extrema",
    "extreme",
    "factor",
    "factored",
    "fifth",
    "first",
    "five",
    "foci",
    "focu",
    "form",
    "formula",
    "four",
    "fourth",
    "fraction",
    "function",
    "gcd",
    "gcf",
    "general",
    "generated",
    "geometric",
    "global",
    "gradient",
    "graph",
    "greater",
    "greatest",
    "horizontal",
    "implicit",
    "indefinite",
    "indicated",
    "infinite",
    "inflection",
    "initial",
    "instantaneou",
    "integer",
    "integral",
    "integrating",
    "intercept",
    "interval",
    "inverse",
    "laplace",
    "largest",
    "lcd",
    "lcm",
    "leading",
    "least",
    "least-square",
    "length",
    "limit",
    "line",
    "linear",
    "linearization",
    "local",
    "loop",
    "maclaurin",
    "magnitude",
    "matrix",
    "maxima",
    "maximum",
    "midline",
    "midpoint",
    "minima",
    "minimum",
    "modulu",
    "most",
    "multiple",
    "multiplicity",
    "negative",
    "nine",
    "nonnegative",
    "nonzero",
    "norm",
    "normal",
    "nth",
    "null",
    "nullity",
    "number",
    "oblique",
    "one-sided",
    "open",
    "orthogonal",
    "orthonormal",
    "parametric",
    "partial",
    "particular",
    "percent",
    "perimeter",
    "period",
    "petal",
    "phase",
    "plane",
    "point",
    "polar",
    "polynomial",
    "position",
    "positive",
    "possible",
    "power",
    "product",
    "projection",
    "quotient",
    "radical",
    "radii",
    "radiu",
    "range",
    "rank",
    "rate",
    "ratio",
    "rational",
    "real",
    "rectangular",
    "recursive",
    "reduced",
    "reduction",
    "reference",
    "region",
    "relative",
    "remainder",
    "remaining",
    "representation",
    "root",
    "row",
    "saddle",
    "scalar",
    "second",
    "sequence",
    "serie",
    "set",
    "seven",
    "seventh",
    "shift",
    "simplest",
    "simplified",
    "simplify",
    "six",
    "sixth",
    "slant",
    "slope",
    "slope-intercept",
    "smallest",
    "solid",
    "solution",
    "space",
    "speed",
    "sphere",
    "square",
    "standard",
    "sum",
    "surface",
    "symmetry",
    "tangent",
    "taylor",
    "ten",
    "tenth",
    "term",
    "third",
    "three",
    "total",
    "trace",
    "trajectorie",
    "transform",
    "transpose",
    "trapezoidal",
    "trigonometric",
    "twelfth",
    "two",
    "type",
    "under",
    "unit",
    "unknown",
    "value",
    "variable",
    "vector",
    "velocity",
    "vertex",
    "vertical",
    "vertice",
    "volume",
    "wronskian",
    "x-intercept",
    "y-intercept",
    "zero",
];

/// Every word of what the statement asks for by name is known.
pub(super) fn is_understood(statement: &[Part<'_>]) -> bool {
    let mut is_name = false;
    for part in statement {
        let words = match part {
            Part::Words(words) => words,
            Part::Tex(_) => {
                is_name = false;
                continue;
            }
        };
        let is_letter = |c: char| c.is_alphabetic() || matches!(c, '\'' | '’' | '-');
        let mut rest: &str = words;
        while let Some(first) = rest.chars().next() {
            let length = match rest.find(|c: char| !is_letter(c)) {
                Some(0) => {
                    is_name &= first.is_whitespace() || first == ',';
                    rest = &rest[first.len_utf8()..];
                    continue;
                }
                Some(length) => length,
                None => rest.len(),
            };
            let word = rest[..length].to_lowercase();
            let word = word.trim_matches(['\'', '’', '-']);
            rest = &rest[length..];
            if ASKING.contains(&word) {
                is_name = true;
            } else if ENDING.contains(&word) {
                is_name = false;
            } else if is_name && word.chars().count() > 2 && !EMPTY.contains(&word) {
                let stem = word.trim_end_matches('s');
                if KNOWN.binary_search(&stem).is_err() && !word.ends_with("-degree") {
                    return false;
                }
            }
        }
    }
    true
}

#[cfg(test)]
mod tests {
    use super::*;

    fn check(words: &str, is_known: bool) {
        let pieces: Vec<Part<'_>> = words
            .split('$')
            .enumerate()
            .map(|(place, piece)| match place % 2 {
                0 => Part::Words(piece),
                _ => Part::Tex(piece),
            })
            .collect();
        assert_eq!(is_understood(&pieces), is_known, "{words}");
    }

    #[test]
    fn names_are_known_or_not() {
        check("Find the slope of the tangent line.", true);
        check("Find all real zeros of the polynomial.", true);
        check("Find the vertices and foci.", true);
        check("Solve.", true);
        check("Find $f(2)$ and the domain.", true);
        check("Find the permanent of the matrix.", false);
        check("Simplify. Then determine the adjoint.", false);
        check("Determine whether it converges.", true);
    }
}
