//! One file: its text, cut into units, of which an edit re-reads only those it touched.

use std::ops::Range;
use std::sync::Arc;

use ropey::Rope;

use crate::unit::UnitReader;
use crate::vocabulary::BlockKind;
use crate::{Block, NameKey, Unit};

/// A file of notes: its text and its facts.
#[derive(Clone, Debug)]
pub struct File {
    text: Rope,
    entries: Vec<Entry>,
    courses: Vec<NameKey>,
}

/// A unit in its place.
#[derive(Clone, Debug)]
pub struct Entry {
    /// Byte offset of the unit's first byte in the file.
    pub start: u32,
    /// The unit's identity in its file. Identities rise from unit to unit, and a unit keeps its
    /// own while others come and go around it.
    pub order: u64,
    /// What the unit says.
    pub unit: Arc<Unit>,
    /// What the blocks above set.
    pub context: Arc<Context>,
}

/// What `@course`, `@topic` and `@paper` set for what follows them.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Context {
    /// The course, by name.
    pub course: Option<NameKey>,
    /// The topic: its label if it has one, else its name. A paper ends it.
    pub topic: Option<NameKey>,
    /// The identity of the paper's unit. A topic ends it.
    pub paper: Option<u64>,
}

/// What an edit changed: the entries in `old` of the file before became those in `new`. Entries
/// whose identity stands in both and whose unit and context are the same did not change.
pub(crate) struct FileChange {
    pub(crate) old: Vec<Entry>,
    pub(crate) new: Range<usize>,
    /// The courses that the file named before, if it names others now.
    pub(crate) old_courses: Option<Vec<NameKey>>,
    pub(crate) units_read: usize,
}

/// Distance between the identities of neighbours in a file read afresh.
const ORDER_STEP: u64 = 1 << 32;

impl File {
    /// Reads a whole file.
    pub fn new(text: Rope, reader: &mut UnitReader) -> Self {
        let mut file = Self {
            text,
            entries: Vec::new(),
            courses: Vec::new(),
        };
        file.reread(0..0, 0, file.text.len_bytes(), 0, reader);
        file
    }

    /// The text.
    pub fn text(&self) -> &Rope {
        &self.text
    }

    /// The units, in order.
    pub fn entries(&self) -> &[Entry] {
        &self.entries
    }

    /// The courses named in the file, in order of first mention. The first also holds for what
    /// stands above it.
    pub fn courses(&self) -> &[NameKey] {
        &self.courses
    }

    /// The index of the unit that holds the byte `offset`, or the last one.
    pub fn index_at(&self, offset: usize) -> Option<usize> {
        let after = self
            .entries
            .partition_point(|entry| entry.start as usize <= offset);
        after.checked_sub(1)
    }

    /// The index of the unit with this identity.
    pub fn index_of(&self, order: u64) -> Option<usize> {
        self.entries
            .binary_search_by_key(&order, |entry| entry.order)
            .ok()
    }

    /// The bytes of a range of the file, as a string.
    pub fn slice(&self, range: Range<usize>) -> String {
        let end = range.end.min(self.text.len_bytes());
        let start = range.start.min(end);
        self.text.byte_slice(start..end).to_string()
    }

    /// Replaces the bytes in `range`, which must lie on character boundaries, by `replacement`.
    pub(crate) fn edit(
        &mut self,
        range: Range<usize>,
        replacement: &str,
        reader: &mut UnitReader,
    ) -> FileChange {
        let end = range.end.min(self.text.len_bytes());
        let start = range.start.min(end);
        let chars = self.text.byte_to_char(start)..self.text.byte_to_char(end);
        self.text.remove(chars.clone());
        self.text.insert(chars.start, replacement);
        // The unit before the one that is touched may take in its neighbour's first line.
        let first = self.index_at(start).unwrap_or(0).saturating_sub(1);
        let edited_end = start + replacement.len();
        let shift = edited_end as i64 - end as i64;
        self.reread(start..end, first, edited_end, shift, reader)
    }

    /// Cuts and reads anew from the unit `first` on, until a boundary behind `edited_end` meets
    /// one that stood there before. `edited` is the replaced range of the text before the edit,
    /// `shift` what is added to offsets behind it.
    fn reread(
        &mut self,
        edited: Range<usize>,
        first: usize,
        edited_end: usize,
        shift: i64,
        reader: &mut UnitReader,
    ) -> FileChange {
        let total = self.text.len_bytes();
        let mut at = self
            .entries
            .get(first)
            .map_or(0, |entry| entry.start as usize);
        let mut last = first;
        let mut cuts = vec![at];
        loop {
            at = self.next_unit_start(at);
            if at >= total {
                last = self.entries.len();
                break;
            }
            if at >= edited_end {
                let before = at as i64 - shift;
                while self
                    .entries
                    .get(last)
                    .is_some_and(|e| i64::from(e.start) < before)
                {
                    last += 1;
                }
                if self
                    .entries
                    .get(last)
                    .is_some_and(|e| i64::from(e.start) == before)
                {
                    break;
                }
            }
            cuts.push(at);
        }
        let end = at.min(total);
        let old: Vec<Entry> = self.entries[first..last].to_vec();
        let mut units_read = 0;
        let mut units: Vec<(usize, Arc<Unit>)> = Vec::with_capacity(cuts.len());
        for (i, &start) in cuts.iter().enumerate() {
            let stop = cuts.get(i + 1).copied().unwrap_or(end);
            let kept = unchanged_unit(&old, start..stop, &edited, edited_end, shift);
            let unit = kept.unwrap_or_else(|| {
                units_read += 1;
                let text = self.text.byte_slice(start..stop);
                Arc::new(match text.as_str() {
                    Some(text) => reader.read(text),
                    None => reader.read(&text.to_string()),
                })
            });
            units.push((start, unit));
        }
        for entry in &mut self.entries[last..] {
            entry.start = (i64::from(entry.start) + shift) as u32;
        }
        let orders = self.orders(&old, first, last, units.len());
        let new: Vec<Entry> = units
            .into_iter()
            .zip(orders.unwrap_or_else(|| vec![0; cuts.len()]))
            .map(|((start, unit), order)| Entry {
                start: start as u32,
                order,
                unit,
                context: Arc::default(),
            })
            .collect();
        let count = new.len();
        let names_course = old
            .iter()
            .chain(&new)
            .any(|entry| course_name(entry).is_some());
        self.entries.splice(first..last, new);
        let crowded = self.entries[first..first + count]
            .iter()
            .any(|entry| entry.order == 0);
        let ahead = if crowded {
            self.entries[..first].to_vec()
        } else {
            Vec::new()
        };
        let behind: Vec<Entry>;
        let touched = if crowded {
            // No room is left between two identities: the whole file gets new ones, and counts
            // as replaced. Typing in one place needs dozens of halvings to come to this.
            behind = self.entries[first + count..].to_vec();
            for (i, entry) in self.entries.iter_mut().enumerate() {
                entry.order = (i as u64 + 1) * ORDER_STEP;
            }
            self.set_contexts(first, self.entries.len())
        } else {
            let behind_all = &self.entries[first + count..];
            let spread = context_spread(&old, &self.entries[first..first + count]);
            behind = if spread {
                behind_all.to_vec()
            } else {
                Vec::new()
            };
            self.set_contexts(first, first + count)
        };
        let old_courses = if names_course {
            self.recount_courses()
        } else {
            None
        };
        // Where the file's courses changed, what stands outside the window may have moved too.
        let whole_file = crowded || old_courses.is_some();
        let mut all_old = Vec::new();
        if crowded {
            all_old.extend(ahead);
        } else if whole_file {
            all_old.extend_from_slice(&self.entries[..first]);
        }
        all_old.extend(old);
        let behind_end = if whole_file {
            self.entries.len()
        } else {
            touched
        };
        let behind_new = &self.entries[first + count..behind_end];
        if behind.is_empty() {
            all_old.extend_from_slice(behind_new);
        } else {
            all_old.extend(behind.into_iter().take(behind_new.len()));
        }
        let start = if whole_file { 0 } else { first };
        FileChange {
            old: all_old,
            new: start..behind_end,
            old_courses,
            units_read,
        }
    }

    /// The boundary behind the unit that starts at `from`.
    fn next_unit_start(&self, from: usize) -> usize {
        let total = self.text.len_bytes();
        let chunk_at = |at: usize| {
            let (chunk, start, ..) = self.text.chunk_at_byte(at.min(total));
            &chunk.as_bytes()[at.min(total) - start..]
        };
        grammar::next_unit_start(chunk_at, from).unwrap_or(total)
    }

    /// Identities for `count` units that replace the entries `first..last`: those of the units
    /// they replace, then new ones. `None` if there is no room.
    fn orders(&self, old: &[Entry], first: usize, last: usize, count: usize) -> Option<Vec<u64>> {
        let mut orders: Vec<u64> = old.iter().take(count).map(|entry| entry.order).collect();
        let missing = (count - orders.len()) as u64;
        if missing > 0 {
            let low = orders.last().copied();
            let low = low.or_else(|| first.checked_sub(1).map(|i| self.entries[i].order));
            let low = low.unwrap_or(0);
            let step = match self.entries.get(last) {
                Some(next) => ((next.order - low) / (missing + 1)).min(ORDER_STEP),
                None => ORDER_STEP,
            };
            if step == 0 {
                return None;
            }
            orders.extend((1..=missing).map(|i| low + i * step));
        }
        Some(orders)
    }

    /// Sets the contexts of the entries from `first` on, at least up to `at_least`, and stops
    /// where nothing changes any more. Gives the end of what it set.
    fn set_contexts(&mut self, first: usize, at_least: usize) -> usize {
        let mut context = match first.checked_sub(1).map(|i| &self.entries[i]) {
            Some(entry) => context_after(entry),
            None => Arc::default(),
        };
        let mut end = first;
        while let Some(entry) = self.entries.get_mut(end) {
            if *entry.context == *context && end >= at_least {
                break;
            }
            entry.context = context;
            context = context_after(entry);
            end += 1;
        }
        end
    }

    /// Lists the file's courses anew; gives the old list if it was another.
    fn recount_courses(&mut self) -> Option<Vec<NameKey>> {
        let mut courses: Vec<NameKey> = Vec::new();
        for name in self.entries.iter().filter_map(course_name) {
            if !courses.contains(name) {
                courses.push(name.clone());
            }
        }
        (courses != self.courses).then(|| std::mem::replace(&mut self.courses, courses))
    }
}

/// The course that an entry names, if it is a `@course`.
fn course_name(entry: &Entry) -> Option<&NameKey> {
    let block = entry.unit.block()?;
    (block.kind == Some(BlockKind::Course) && !block.name.is_empty()).then_some(&block.name)
}

/// Whether some entry sets a context for what follows it.
fn context_spread(old: &[Entry], new: &[Entry]) -> bool {
    old.iter().chain(new).any(|entry| {
        entry.unit.block().is_some_and(|block| {
            matches!(
                block.kind,
                Some(BlockKind::Course | BlockKind::Topic | BlockKind::Paper)
            )
        })
    })
}

/// The old unit that stood where a new one stands, if the edit did not reach it.
fn unchanged_unit(
    old: &[Entry],
    place: Range<usize>,
    edited: &Range<usize>,
    edited_end: usize,
    shift: i64,
) -> Option<Arc<Unit>> {
    let before = if place.end <= edited.start {
        place.start as i64
    } else if place.start >= edited_end {
        place.start as i64 - shift
    } else {
        return None;
    };
    let i = old
        .binary_search_by_key(&before, |entry| i64::from(entry.start))
        .ok()?;
    let unit = &old[i].unit;
    (unit.len as usize == place.len()).then(|| unit.clone())
}

/// What holds behind an entry.
fn context_after(entry: &Entry) -> Arc<Context> {
    let Some(block) = entry.unit.block() else {
        return entry.context.clone();
    };
    let mut context = Context::clone(&entry.context);
    match block.kind {
        Some(BlockKind::Course) if !block.name.is_empty() => {
            context = Context {
                course: Some(block.name.clone()),
                topic: None,
                paper: None,
            };
        }
        Some(BlockKind::Topic) => {
            context.topic = topic_key(block);
            context.paper = None;
        }
        Some(BlockKind::Paper) => {
            context.topic = None;
            context.paper = Some(entry.order);
        }
        _ => return entry.context.clone(),
    }
    Arc::new(context)
}

/// What a topic is known by: its label if it has one, else its name.
pub(crate) fn topic_key(topic: &Block) -> Option<NameKey> {
    match &topic.label {
        Some(label) => Some(NameKey::new(&label.to_string())),
        None => (!topic.name.is_empty()).then(|| topic.name.clone()),
    }
}
