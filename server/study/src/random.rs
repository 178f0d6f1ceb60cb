//! Seeded choices that are the same on every platform: the SplitMix64 generator of Steele, Lea
//! and Flood, "Fast splittable pseudorandom number generators" (OOPSLA 2014).

/// The generator's increment, 2⁶⁴ divided by the golden ratio, made odd.
const INCREMENT: u64 = 0x9e37_79b9_7f4a_7c15;

#[derive(Clone, Debug)]
pub(crate) struct SplitMix64(u64);

impl SplitMix64 {
    pub(crate) fn new(seed: u64) -> SplitMix64 {
        SplitMix64(seed)
    }

    pub(crate) fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(INCREMENT);
        mix(self.0)
    }

    /// A number below `bound`, which is at least 1. Takes the high half of the product instead of
    /// a remainder; the bias is below bound/2⁶⁴.
    pub(crate) fn below(&mut self, bound: usize) -> usize {
        ((u128::from(self.next()) * bound as u128) >> 64) as usize
    }

    /// A number from 0 up to, but not including, 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Puts `items` in random order (Fisher and Yates, as in Durstenfeld 1964).
    pub(crate) fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }
}

/// The generator's output function: spreads the bits of `z`.
fn mix(z: u64) -> u64 {
    let z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

/// A number for `item` under `seed`, so that items can be put in a random order which does not
/// depend on the order in which they come.
pub(crate) fn rank(seed: u64, item: u64) -> u64 {
    mix(mix(seed.wrapping_add(INCREMENT)) ^ mix(item.wrapping_mul(INCREMENT).wrapping_add(1)))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The first outputs for the seed 1234567, as printed in the test of many published
    /// implementations of the algorithm (values from memory).
    #[test]
    fn known_outputs() {
        let mut random = SplitMix64::new(1_234_567);
        let found = [random.next(), random.next(), random.next()];
        let expected = [
            6_457_827_717_110_365_317,
            3_203_168_211_198_807_973,
            9_817_491_932_198_370_423,
        ];
        assert_eq!(found, expected);
    }

    #[test]
    fn a_shuffle_keeps_every_item() {
        let mut items: Vec<u32> = (0..50).collect();
        SplitMix64::new(9).shuffle(&mut items);
        assert_ne!(items, (0..50).collect::<Vec<u32>>());
        items.sort_unstable();
        assert_eq!(items, (0..50).collect::<Vec<u32>>());
    }

    #[test]
    fn every_number_below_the_bound_comes_up() {
        let mut random = SplitMix64::new(0);
        let mut seen = [0u32; 7];
        for _ in 0..7_000 {
            seen[random.below(7)] += 1;
        }
        assert!(seen.iter().all(|&n| (850..1150).contains(&n)), "{seen:?}");
    }
}
