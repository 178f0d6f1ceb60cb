//! Results that are worked out once, a bounded number of them.

use std::collections::BTreeMap;

/// A table of results in two halves: what was asked for lately, and what was asked for before
/// that. When the younger half is full it becomes the older one, and what nobody asked for since
/// is forgotten.
#[derive(Debug)]
pub(crate) struct Memo<K, V> {
    young: BTreeMap<K, V>,
    old: BTreeMap<K, V>,
}

/// The most results in one half.
const HALF: usize = 16_384;

impl<K, V> Default for Memo<K, V> {
    fn default() -> Self {
        Self {
            young: BTreeMap::new(),
            old: BTreeMap::new(),
        }
    }
}

impl<K: Ord + Clone, V: Clone> Memo<K, V> {
    /// The result for a key, if it is known.
    pub(crate) fn get(&mut self, key: &K) -> Option<V> {
        if let Some(value) = self.young.get(key) {
            return Some(value.clone());
        }
        let (key, value) = self.old.remove_entry(key)?;
        self.put(key, value.clone());
        Some(value)
    }

    /// Keeps a result, in place of an earlier one for the same key.
    pub(crate) fn put(&mut self, key: K, value: V) {
        if self.young.len() >= HALF && !self.young.contains_key(&key) {
            self.old = std::mem::take(&mut self.young);
        }
        self.young.insert(key, value);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_asked_for_is_kept_and_the_rest_is_bounded() {
        let mut memo = Memo::default();
        memo.put(usize::MAX, 7);
        for key in 0..5 * HALF {
            memo.put(key, key);
            if key % (HALF / 2) == 0 {
                assert_eq!(memo.get(&usize::MAX), Some(7), "{key}");
            }
        }
        assert_eq!(memo.get(&0), None);
        assert_eq!(memo.get(&(5 * HALF - 1)), Some(5 * HALF - 1));
        assert!(memo.young.len() + memo.old.len() <= 2 * HALF);
    }
}
