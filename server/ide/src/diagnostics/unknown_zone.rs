use notes::{BlockKind, Key};

use super::check::check;
use super::mark::Mark;
use super::scope::UnitScope;
use crate::zone::zone;

check! {
    /// A course names a time zone that does not exist.
    ///
    /// A calendar needs the zone, or an exam at 10:00 is shown at another hour.
    ///
    /// ```porism
    /// @course Waves
    ///   zone: Berlin
    /// ```
    ///
    /// Write a name of the IANA database: `Europe/Berlin`, `America/New_York`.
    UNKNOWN_ZONE = "unknown-zone", Warning
}

pub(super) fn check(unit: &UnitScope<'_>, marks: &mut Vec<Mark>) {
    let Some((BlockKind::Course, at)) = unit.known() else {
        return;
    };
    for field in at.block.fields_of(Key::Zone) {
        let name = unit.text(field.value_span);
        if !name.trim().is_empty() && zone(&name).is_none() {
            let message = format!(
                "There is no time zone {}. Zones are named as Europe/Berlin or America/New_York.",
                crate::words::cut(name.trim(), 40)
            );
            marks.push(unit.mark(&UNKNOWN_ZONE, field.value_span, message));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::diagnostics::testing::check;

    #[test]
    fn a_zone_that_does_not_exist_is_marked() {
        check(
            &UNKNOWN_ZONE,
            "@course Waves
  zone: Berlin
        ^^^^^^ warning: There is no time zone Berlin. Zones are named as Europe/Berlin or America/New_York.
",
        );
    }

    #[test]
    fn a_zone_that_exists_is_not() {
        check(&UNKNOWN_ZONE, "@course Waves\n  zone: Europe/Berlin\n");
    }
}
