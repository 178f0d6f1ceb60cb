//! What one unit contributes to the index of the notebook, and the index itself.

use std::collections::BTreeSet;

use chrono::NaiveDate;
use imbl::{OrdMap, OrdSet};

use crate::delta::{Delta, NamedThing, ShapeKey};
use crate::file::{Entry, topic_key};
use crate::value::{Attempt, Coverage, Minutes, NotesUse, Outcome, Value};
use crate::vocabulary::{BlockKind, Key};
use crate::{Block, NameKey, Site, Unit, UnitId};

/// The tables by which blocks find each other. Each is a persistent map, so that a snapshot
/// costs nothing.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Index {
    pub(crate) definitions: OrdMap<NamedThing, OrdSet<UnitId>>,
    pub(crate) references: OrdMap<NamedThing, OrdSet<Site>>,
    pub(crate) kinds: OrdMap<(NameKey, BlockKind), OrdSet<UnitId>>,
    pub(crate) members: OrdMap<(NameKey, NameKey), OrdSet<UnitId>>,
    pub(crate) shapes: OrdMap<ShapeKey, OrdSet<UnitId>>,
}

/// One unit's rows in the tables.
#[derive(Debug, Default, PartialEq, Eq)]
struct Rows {
    definitions: BTreeSet<NamedThing>,
    references: BTreeSet<(NamedThing, Site)>,
    kind: Option<(NameKey, BlockKind)>,
    /// The topic a practised block or pattern belongs to.
    member: Option<(NameKey, NameKey)>,
    shape: Option<ShapeKey>,
}

impl Rows {
    fn of(id: &UnitId, entry: &Entry, course: &NameKey) -> Self {
        let mut rows = Self::default();
        let Some(block) = entry.unit.block() else {
            return rows;
        };
        let Some(kind) = block.kind else { return rows };
        let thing = |kind, name: &NameKey| NamedThing {
            course: if kind == BlockKind::Course {
                NameKey::default()
            } else {
                course.clone()
            },
            kind,
            name: name.clone(),
        };
        rows.kind = Some((course.clone(), kind));
        let keys = [Some(block.name.clone()), Some(block.bare_name.clone()), {
            (kind == BlockKind::Topic)
                .then(|| topic_key(block))
                .flatten()
        }];
        for key in keys.into_iter().flatten().filter(|key| !key.is_empty()) {
            rows.definitions.insert(thing(kind, &key));
        }
        for (field_index, field) in block.fields.iter().enumerate() {
            let mut refer = |kind, name: &NameKey, item| {
                let site = Site {
                    unit: id.clone(),
                    field: field_index,
                    item,
                };
                rows.references.insert((thing(kind, name), site));
            };
            match &field.value {
                Value::Names(kind, names) => {
                    for (item, named) in names.iter().enumerate() {
                        refer(*kind, &named.key, item);
                    }
                }
                value => {
                    for (item, covered) in value.covered().enumerate() {
                        match &covered.what {
                            Coverage::Label(label) => {
                                refer(BlockKind::Topic, &NameKey::new(&label.to_string()), item);
                            }
                            Coverage::Name(name) => refer(BlockKind::Topic, name, item),
                            Coverage::Range(..) => {}
                        }
                    }
                }
            }
        }
        if kind.is_practised() || kind == BlockKind::Pattern {
            rows.member = own_topic(block, entry).map(|topic| (course.clone(), topic));
        }
        if kind == BlockKind::Problem {
            let fingerprint = block
                .reading
                .as_ref()
                .and_then(|reading| reading.fingerprint);
            rows.shape = fingerprint.map(|fingerprint| ShapeKey {
                course: course.clone(),
                fingerprint,
            });
        }
        rows
    }
}

/// The topic that a block names itself or stands under.
pub(crate) fn own_topic(block: &Block, entry: &Entry) -> Option<NameKey> {
    match block.names(Key::Topic).first() {
        Some(named) => Some(match crate::Label::split(&named.key.to_string()).0 {
            Some(label) => NameKey::new(&label.to_string()),
            None => named.key.clone(),
        }),
        None => entry.context.topic.clone(),
    }
}

impl Index {
    /// Replaces a unit's rows, and notes in `delta` what that touched.
    pub(crate) fn replace(
        &mut self,
        id: &UnitId,
        old: Option<(&Entry, &NameKey)>,
        new: Option<(&Entry, &NameKey)>,
        delta: &mut Delta,
    ) {
        let same_rows = match (old, new) {
            (Some((a, course_a)), Some((b, course_b))) => {
                if std::sync::Arc::ptr_eq(&a.unit, &b.unit)
                    && a.context == b.context
                    && course_a == course_b
                {
                    return;
                }
                a.context == b.context && course_a == course_b
            }
            (None, None) => return,
            _ => false,
        };
        delta.units.insert(id.clone());
        let before = old
            .map(|(entry, course)| Rows::of(id, entry, course))
            .unwrap_or_default();
        let after = new
            .map(|(entry, course)| Rows::of(id, entry, course))
            .unwrap_or_default();
        let standing_same = same_rows
            && standing_facts(old.map(|(e, _)| &*e.unit))
                == standing_facts(new.map(|(e, _)| &*e.unit));
        if !standing_same {
            for (_, course) in old.iter().chain(new.iter()) {
                delta.courses.insert((*course).clone());
            }
            for (thing, _) in before.references.iter().chain(&after.references) {
                delta.used.insert(thing.clone());
            }
            delta
                .shapes
                .extend(before.shape.iter().chain(&after.shape).cloned());
        }
        if before == after {
            return;
        }
        for thing in before.definitions.difference(&after.definitions) {
            remove(&mut self.definitions, thing, id);
            delta.defined.insert(thing.clone());
        }
        for thing in after.definitions.difference(&before.definitions) {
            self.definitions
                .entry(thing.clone())
                .or_default()
                .insert(id.clone());
            delta.defined.insert(thing.clone());
        }
        for (thing, site) in before.references.difference(&after.references) {
            remove(&mut self.references, thing, site);
            delta.used.insert(thing.clone());
        }
        for (thing, site) in after.references.difference(&before.references) {
            self.references
                .entry(thing.clone())
                .or_default()
                .insert(site.clone());
            delta.used.insert(thing.clone());
        }
        swap_row(&mut self.kinds, &before.kind, &after.kind, id);
        swap_row(&mut self.members, &before.member, &after.member, id);
        if swap_row(&mut self.shapes, &before.shape, &after.shape, id) {
            delta
                .shapes
                .extend(before.shape.into_iter().chain(after.shape));
        }
    }
}

/// Moves a unit from one row of a table to another; tells whether it moved.
fn swap_row<K: Ord + Clone>(
    table: &mut OrdMap<K, OrdSet<UnitId>>,
    before: &Option<K>,
    after: &Option<K>,
    id: &UnitId,
) -> bool {
    if before == after {
        return false;
    }
    if let Some(key) = before {
        remove(table, key, id);
    }
    if let Some(key) = after {
        table.entry(key.clone()).or_default().insert(id.clone());
    }
    true
}

fn remove<K: Ord + Clone, V: Ord + Clone>(table: &mut OrdMap<K, OrdSet<V>>, key: &K, value: &V) {
    let Some(row) = table.get_mut(key) else {
        return;
    };
    row.remove(value);
    if row.is_empty() {
        table.remove(key);
    }
}

/// What a standing or an exam takes from a unit.
fn standing_facts(unit: Option<&Unit>) -> Option<StandingFacts<'_>> {
    let block = unit?.block()?;
    let kind = block.kind?;
    Some(match kind {
        BlockKind::Problem | BlockKind::Theorem | BlockKind::Definition => {
            // Without their spans, which move when something is typed above them.
            let fact = |attempt: &Attempt| {
                let Attempt {
                    date,
                    notes,
                    mock,
                    outcome,
                    duration,
                    ..
                } = *attempt;
                (date, notes, mock, outcome, duration)
            };
            StandingFacts::Practised {
                kind,
                tries: block.attempts().map(fact).collect(),
                patterns: block.names(Key::Pattern).iter().map(|n| &n.key).collect(),
                topics: block.names(Key::Topic).iter().map(|n| &n.key).collect(),
            }
        }
        BlockKind::Question => StandingFacts::Nothing,
        _ => StandingFacts::Whole(block),
    })
}

/// The facts of one try.
type TryFacts = (NaiveDate, NotesUse, bool, Outcome, Option<Minutes>);

#[derive(PartialEq)]
enum StandingFacts<'a> {
    Nothing,
    Practised {
        kind: BlockKind,
        tries: Vec<TryFacts>,
        patterns: Vec<&'a NameKey>,
        topics: Vec<&'a NameKey>,
    },
    Whole(&'a Block),
}
