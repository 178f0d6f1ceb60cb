//! Where the notes meet the mathematics: formulas, statements and shapes are handed to `math`
//! with their place in the unit.

use crate::Span;
use crate::unit::{Block, Formula, Place};

/// Something in a formula that cannot be read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TexFault {
    /// Where it stands in the unit.
    pub span: Span,
    /// What was found and what to do.
    pub message: String,
    /// Whether the TeX is broken, beyond what is understood, or to be read in two ways.
    pub class: math::Class,
}

/// A pattern's shape as it was read.
#[derive(Clone, Debug, PartialEq)]
pub struct ShapeFact {
    /// Where it stands in the unit.
    pub span: Span,
    /// The shape.
    pub shape: math::shape::Shape,
    /// What could not be read.
    pub faults: Vec<TexFault>,
}

/// What cannot be read in `tex`, which stands at `at` in its unit.
pub(crate) fn faults(tex: &str, at: usize) -> Vec<TexFault> {
    located(math::read(tex, &math::Declared::default()).diagnostics, at)
}

fn located(diagnostics: Vec<math::Diagnostic>, at: usize) -> Vec<TexFault> {
    let fault = |diagnostic: math::Diagnostic| TexFault {
        span: Span::from(diagnostic.range).shifted(at),
        message: diagnostic.message,
        class: diagnostic.class,
    };
    diagnostics.into_iter().map(fault).collect()
}

/// Reads what the block's statement asks.
pub(crate) fn read_problem(
    text: &str,
    block: &Block,
    formulas: &[Formula],
) -> math::problem::Problem {
    let mut parts = Vec::new();
    for line in &block.statement {
        let mut at = line.start;
        let inside = formulas.iter().filter(|formula| {
            formula.place == Place::Statement
                && line.start <= formula.whole.start
                && formula.whole.end <= line.end
        });
        for formula in inside {
            parts.push(math::problem::Part::Words(
                &text[at as usize..formula.whole.start as usize],
            ));
            parts.push(math::problem::Part::Tex(&text[formula.tex.range()]));
            at = formula.whole.end;
        }
        parts.push(math::problem::Part::Words(
            &text[at as usize..line.end as usize],
        ));
    }
    math::problem::read(&parts)
}

/// Reads a pattern's shape.
pub(crate) fn read_shape(text: &str, span: Span) -> ShapeFact {
    let (shape, diagnostics) = math::shape::read(&text[span.range()]);
    ShapeFact {
        span,
        shape,
        faults: located(diagnostics, span.start as usize),
    }
}
