//! A range of bytes in a text.

use std::ops::Range;

/// A range of UTF-8 bytes, `start..end`. Within a [`crate::Unit`] it counts from the unit's first
/// byte, so that the facts of a unit do not change when the unit moves; within a [`crate::File`],
/// from the file's.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Span {
    /// The first byte.
    pub start: u32,
    /// One past the last byte.
    pub end: u32,
}

impl Span {
    /// The span `start..end`.
    pub fn new(start: usize, end: usize) -> Self {
        // Files over 16 MiB are refused before they are read, so an offset fits.
        Self {
            start: start as u32,
            end: end.max(start) as u32,
        }
    }

    /// The empty span at `offset`.
    pub fn at(offset: usize) -> Self {
        Self::new(offset, offset)
    }

    /// The same bytes, counted from a place `by` bytes earlier.
    pub fn shifted(self, by: usize) -> Self {
        Self {
            start: self.start + by as u32,
            end: self.end + by as u32,
        }
    }

    /// Number of bytes.
    pub fn len(self) -> usize {
        (self.end - self.start) as usize
    }

    /// Whether the span holds no byte.
    pub fn is_empty(self) -> bool {
        self.start == self.end
    }

    /// Whether `offset` lies in the span or at its end, as a cursor does that stands just behind
    /// a word.
    pub fn touches(self, offset: usize) -> bool {
        self.start as usize <= offset && offset <= self.end as usize
    }

    /// The smallest span that holds both.
    pub fn joined(self, other: Self) -> Self {
        Self {
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }

    /// The span as a range for slicing.
    pub fn range(self) -> Range<usize> {
        self.start as usize..self.end as usize
    }
}

impl From<Range<usize>> for Span {
    fn from(range: Range<usize>) -> Self {
        Self::new(range.start, range.end)
    }
}
