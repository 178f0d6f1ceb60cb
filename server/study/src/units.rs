//! The identities and units that every part of the crate speaks in.

/// A kind of problem. The caller numbers patterns as it likes; the crate only compares numbers.
///
/// A problem without a pattern counts as a pattern of its own, so the caller gives it a number too.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PatternId(pub u32);

/// A topic (a section of the course), numbered by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TopicId(pub u32);

/// A problem or theorem of the notes, numbered by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ProblemId(pub u32);

/// An exam, numbered by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct ExamId(pub u32);

/// A whole paper of the notes (handed out by the instructor, or drawn), numbered by the caller.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PaperId(pub u32);

/// A calendar day, as a number of days from an origin of the caller's choice.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Day(pub i32);

impl Day {
    /// Whole days from `earlier` to this day; negative when this day comes first.
    #[must_use]
    pub fn since(self, earlier: Day) -> i64 {
        i64::from(self.0) - i64::from(earlier.0)
    }

    /// The day `days` later, or the last day that a number can hold.
    #[must_use]
    pub fn plus(self, days: u32) -> Day {
        Day(self.0.saturating_add_unsigned(days))
    }
}

/// A length of study time in minutes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Minutes(pub u32);

/// A number from 0 to 1: a score, a target, a chance.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Fraction(f64);

impl Fraction {
    /// Nothing.
    pub const ZERO: Fraction = Fraction(0.0);
    /// The whole.
    pub const ONE: Fraction = Fraction(1.0);

    /// `value` when it lies from 0 to 1, else `None`; so never a NaN.
    #[must_use]
    pub fn new(value: f64) -> Option<Fraction> {
        // `+ 0.0` turns -0 into 0, so that equal fractions have equal bits.
        (0.0..=1.0)
            .contains(&value)
            .then_some(Fraction(value + 0.0))
    }

    /// `points` out of `of`, or `None` when `of` is 0 or less than `points`.
    #[must_use]
    pub fn ratio(points: u32, of: u32) -> Option<Fraction> {
        if of == 0 {
            None
        } else {
            Fraction::new(f64::from(points) / f64::from(of))
        }
    }

    /// The number itself, from 0 to 1.
    #[must_use]
    pub fn get(self) -> f64 {
        self.0
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_fraction_is_never_outside_0_to_1() {
        for bad in [-0.001, 1.001, f64::NAN, f64::INFINITY, f64::NEG_INFINITY] {
            assert_eq!(Fraction::new(bad), None, "{bad}");
        }
        assert_eq!(Fraction::new(-0.0).map(|f| f.get().to_bits()), Some(0));
        assert_eq!(Fraction::ratio(3, 4).map(Fraction::get), Some(0.75));
        assert_eq!(Fraction::ratio(5, 4), None);
        assert_eq!(Fraction::ratio(0, 0), None);
    }

    #[test]
    fn the_first_and_the_last_day_are_a_whole_range_apart() {
        assert_eq!(Day(i32::MAX).since(Day(i32::MIN)), i64::from(u32::MAX));
        assert_eq!(Day(i32::MAX).plus(7), Day(i32::MAX));
    }
}
