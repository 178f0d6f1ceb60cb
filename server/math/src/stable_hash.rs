//! What is a hash that is the same on every platform and in every run?

use std::hash::Hasher;

/// A hash of 128 bits.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub(crate) struct Digest(pub(crate) u128);

impl Digest {
    /// The hash of a word that stands for itself.
    pub(crate) fn tag(word: u64) -> Self {
        Self(u128::from(word)).then(Self(0x5eed))
    }

    /// The hash of this followed by another.
    pub(crate) fn then(self, next: Self) -> Self {
        let (a, b) = ((self.0 >> 64) as u64, self.0 as u64);
        let (c, d) = ((next.0 >> 64) as u64, next.0 as u64);
        // Each half is the folded product of two words that depend on both operands; the
        // constants are digits of the golden ratio and of pi, which have no pattern of their own.
        let high = fold(
            a ^ 0x9e37_79b9_7f4a_7c15 ^ d.rotate_left(17),
            c ^ 0x243f_6a88_85a3_08d3 ^ b,
        );
        let low = fold(
            b ^ 0x1319_8a2e_0370_7344 ^ c.rotate_left(41),
            d ^ 0xa409_3822_299f_31d1 ^ a,
        );
        let high = high.wrapping_add(b).rotate_left(29) ^ d;
        let low = low.wrapping_add(a) ^ c.rotate_left(7);
        Self(u128::from(high) << 64 | u128::from(low))
    }

    /// The hash of this followed by a word.
    pub(crate) fn with(self, word: u64) -> Self {
        self.then(Self(u128::from(word)))
    }

    /// The hash of a collection whose order does not count. Sorts it.
    pub(crate) fn of_bag(items: &mut [Self]) -> Self {
        items.sort_unstable();
        let start = Self::tag(items.len() as u64);
        items.iter().fold(start, |hash, item| hash.then(*item))
    }

    /// The hash of anything hashable. Its `Hash` must not depend on addresses.
    pub(crate) fn of(value: &impl std::hash::Hash) -> Self {
        let mut hasher = DigestHasher(Self::tag(1));
        value.hash(&mut hasher);
        hasher.0
    }
}

fn fold(a: u64, b: u64) -> u64 {
    let product = u128::from(a) * u128::from(b);
    (product >> 64) as u64 ^ product as u64
}

struct DigestHasher(Digest);

impl Hasher for DigestHasher {
    fn write(&mut self, bytes: &[u8]) {
        for chunk in bytes.chunks(8) {
            let mut word = [0; 8];
            word[..chunk.len()].copy_from_slice(chunk);
            self.0 = self.0.with(u64::from_le_bytes(word));
        }
    }

    fn write_u8(&mut self, value: u8) {
        self.0 = self.0.with(value.into());
    }

    fn write_u32(&mut self, value: u32) {
        self.0 = self.0.with(value.into());
    }

    fn write_u64(&mut self, value: u64) {
        self.0 = self.0.with(value);
    }

    fn write_i64(&mut self, value: i64) {
        self.0 = self.0.with(value as u64);
    }

    fn write_usize(&mut self, value: usize) {
        self.0 = self.0.with(value as u64);
    }

    fn write_isize(&mut self, value: isize) {
        self.0 = self.0.with(value as u64);
    }

    fn finish(&self) -> u64 {
        self.0.0 as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeSet;

    #[test]
    fn small_inputs_do_not_collide() {
        let mut seen = BTreeSet::new();
        for a in 0..60 {
            for b in 0..60 {
                let hash = Digest::tag(a).with(b);
                assert!(seen.insert(hash), "{a} {b}");
                // Each half must be a good hash on its own.
                assert!(seen.insert(Digest(hash.0 >> 64)) && seen.insert(Digest(hash.0 << 64)));
            }
        }
    }

    #[test]
    fn a_bag_has_no_order() {
        let (a, b) = (Digest::tag(1), Digest::tag(2));
        assert_eq!(Digest::of_bag(&mut [a, b]), Digest::of_bag(&mut [b, a]));
        assert_ne!(Digest::of_bag(&mut [a, b]), Digest::of_bag(&mut [a, b, b]));
        assert_ne!(a.then(b), b.then(a));
    }
}
