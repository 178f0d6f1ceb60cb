use math::Class;

use super::Severity;
use super::broken_tex::sentence;
use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;

check! {
    /// The shape of a pattern cannot be read.
    ///
    /// A shape is a formula whose letters are holes, then perhaps `where` and conditions. Without it
    /// the pattern is still a pattern, but a problem that does not name it is not recognised as one
    /// of the kind.
    ///
    /// ```porism
    /// @pattern separable
    ///   shape: $y' = f g$ where f depends only on
    /// ```
    ///
    /// The message says which part does not fit. Conditions are separated by semicolons.
    BROKEN_SHAPE = "broken-shape", Warning | Information
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some(block) = unit.block() else { return };
    for fault in block.shapes.iter().flat_map(|shape| &shape.faults) {
        let mark = unit.mark(&BROKEN_SHAPE, fault.span, sentence(&fault.message));
        marks.push(match fault.class {
            Class::Malformed => mark,
            Class::Unsupported | Class::Ambiguous => mark.severity(Severity::Information),
        });
    }
}
