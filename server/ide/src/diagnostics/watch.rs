//! Who asked for what: so that a change brings just those it concerns.

use std::collections::{BTreeMap, BTreeSet};

use notes::UnitId;

/// What each unit asked for, and by whom each thing was asked for.
#[derive(Debug)]
pub(super) struct Watch<T> {
    asked: BTreeMap<UnitId, BTreeSet<T>>,
    askers: BTreeMap<T, BTreeSet<UnitId>>,
}

impl<T> Default for Watch<T> {
    fn default() -> Self {
        Self {
            asked: BTreeMap::new(),
            askers: BTreeMap::new(),
        }
    }
}

impl<T: Ord + Clone> Watch<T> {
    /// Sets what a unit asks for, in place of what it asked for before.
    pub(super) fn set(&mut self, unit: &UnitId, things: impl IntoIterator<Item = T>) {
        for thing in self.asked.remove(unit).into_iter().flatten() {
            if let Some(units) = self.askers.get_mut(&thing) {
                units.remove(unit);
                if units.is_empty() {
                    self.askers.remove(&thing);
                }
            }
        }
        let things: BTreeSet<T> = things.into_iter().collect();
        for thing in &things {
            self.askers
                .entry(thing.clone())
                .or_default()
                .insert(unit.clone());
        }
        if !things.is_empty() {
            self.asked.insert(unit.clone(), things);
        }
    }

    /// The units that asked for a thing.
    pub(super) fn askers(&self, thing: &T) -> impl Iterator<Item = &UnitId> {
        self.askers.get(thing).into_iter().flatten()
    }
}
