//! Putting questions in an order where no two consecutive ones share a pattern, when there is
//! such an order.

use crate::PatternId;
use crate::random::SplitMix64;
use std::collections::BTreeSet;

/// How many steps the search for an order may take once the two quick ways have failed.
const STEPS: u32 = 20_000;

/// A random order of `items` in which no two neighbours share a pattern when one is found: always
/// for items of one pattern each, when there is one; for items of several patterns unless
/// the search of 20,000 steps misses it. Otherwise few neighbours share one.
///
/// Mixed practice makes the student choose the approach as an exam does, and gave higher test
/// scores than practice in blocks (Rohrer, Dedrick and Stershic 2015).
pub(crate) fn interleave<T>(
    mut items: Vec<T>,
    patterns: impl Fn(&T) -> &[PatternId],
    random: &mut SplitMix64,
) -> Vec<T> {
    random.shuffle(&mut items);
    let sets: Vec<BTreeSet<PatternId>> = items
        .iter()
        .map(|item| patterns(item).iter().copied().collect())
        .collect();
    let clash: Vec<Vec<bool>> = sets
        .iter()
        .map(|a| sets.iter().map(|b| !a.is_disjoint(b)).collect())
        .collect();
    let mut order = one_by_one(&clash);
    if clashes(&order, &clash) > 0 {
        exchange(&mut order, &clash);
    }
    if clashes(&order, &clash) > 0
        && let Some(found) = search(&clash)
    {
        order = found;
    }
    let mut items: Vec<Option<T>> = items.into_iter().map(Some).collect();
    order
        .into_iter()
        .filter_map(|at| items[at].take())
        .collect()
}

/// The first item that does not clash with the one before, unless one clashes with so many of
/// those still to come that it has to be next. For items of one pattern each this finds an order
/// without clashes whenever there is one: it keeps the most frequent pattern at no more than
/// every other place.
fn one_by_one(clash: &[Vec<bool>]) -> Vec<usize> {
    let mut left: Vec<usize> = (0..clash.len()).collect();
    let mut order: Vec<usize> = Vec::with_capacity(left.len());
    while !left.is_empty() {
        let alike = |&item: &usize| left.iter().filter(|&&other| clash[item][other]).count();
        let free = |&item: &usize| order.last().is_none_or(|&last| !clash[last][item]);
        let urgent = |item: &usize| alike(item) > (left.len() - 1).div_ceil(2);
        let next = left
            .iter()
            .position(|item| free(item) && urgent(item))
            .or_else(|| left.iter().position(free))
            .or_else(|| (0..left.len()).max_by_key(|&at| alike(&left[at])))
            .unwrap_or(0);
        order.push(left.remove(next));
    }
    order
}

/// How many neighbours clash.
fn clashes(order: &[usize], clash: &[Vec<bool>]) -> usize {
    order
        .windows(2)
        .filter(|pair| clash[pair[0]][pair[1]])
        .count()
}

/// Exchanges two items as long as that leaves fewer clashes.
fn exchange(order: &mut [usize], clash: &[Vec<bool>]) {
    let mut now = clashes(order, clash);
    let mut better = true;
    while better && now > 0 {
        better = false;
        for a in 0..order.len() {
            for b in a + 1..order.len() {
                order.swap(a, b);
                let then = clashes(order, clash);
                if then < now {
                    (now, better) = (then, true);
                } else {
                    order.swap(a, b);
                }
            }
        }
    }
}

/// An order without clashes by trying all of them, those with the most clashing items first, for
/// at most [`STEPS`] steps.
fn search(clash: &[Vec<bool>]) -> Option<Vec<usize>> {
    let mut by_clashes: Vec<usize> = (0..clash.len()).collect();
    by_clashes.sort_by_key(|&item| std::cmp::Reverse(clash[item].iter().filter(|&&c| c).count()));
    let mut order = Vec::with_capacity(clash.len());
    let mut steps = STEPS;
    extend(&mut order, &by_clashes, clash, &mut steps).then_some(order)
}

fn extend(order: &mut Vec<usize>, items: &[usize], clash: &[Vec<bool>], steps: &mut u32) -> bool {
    if order.len() == items.len() {
        return true;
    }
    for &item in items {
        let fits = order.last().is_none_or(|&last| !clash[last][item]);
        if !fits || order.contains(&item) {
            continue;
        }
        if *steps == 0 {
            return false;
        }
        *steps -= 1;
        order.push(item);
        if extend(order, items, clash, steps) {
            return true;
        }
        order.pop();
    }
    false
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn neighbours_alike(items: &[Vec<PatternId>]) -> usize {
        items
            .windows(2)
            .filter(|w| w[0].iter().any(|p| w[1].contains(p)))
            .count()
    }

    fn ordered(items: Vec<Vec<PatternId>>, seed: u64) -> Vec<Vec<PatternId>> {
        interleave(items, |item| item, &mut SplitMix64::new(seed))
    }

    /// Whether any order has no two neighbours alike, by trying all.
    fn avoidable(items: &mut Vec<Vec<PatternId>>, from: usize) -> bool {
        if from == items.len() {
            return neighbours_alike(items) == 0;
        }
        (from..items.len()).any(|at| {
            items.swap(from, at);
            let found = avoidable(items, from + 1);
            items.swap(from, at);
            found
        })
    }

    #[test]
    fn another_seed_gives_another_order() {
        let items: Vec<Vec<PatternId>> = (0..8).map(|n| vec![PatternId(n % 4)]).collect();
        assert_ne!(ordered(items.clone(), 1), ordered(items, 2));
    }

    proptest! {
        #[test]
        fn one_pattern_each(patterns in prop::collection::vec(0u32..6, 0..40), seed: u64) {
            let most = (0..6).map(|p| patterns.iter().filter(|&&q| q == p).count()).max();
            let avoidable = most.unwrap_or(0) <= patterns.len().div_ceil(2);
            let mut items: Vec<Vec<PatternId>> =
                patterns.iter().map(|&p| vec![PatternId(p)]).collect();
            let mut found = ordered(items.clone(), seed);
            if avoidable {
                prop_assert_eq!(neighbours_alike(&found), 0);
            }
            found.sort();
            items.sort();
            prop_assert_eq!(found, items);
        }

        #[test]
        fn several_patterns_each(
            items in prop::collection::vec(prop::collection::vec((0u32..5).prop_map(PatternId), 0..3), 0..7),
            seed: u64,
        ) {
            let found = ordered(items.clone(), seed);
            prop_assert_eq!(neighbours_alike(&found) == 0, avoidable(&mut items.clone(), 0));
        }
    }
}
