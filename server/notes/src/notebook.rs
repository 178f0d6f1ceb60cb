//! The notebook: files by path, and an index patched by what each edit changed.

use std::fmt;
use std::ops::Range;
use std::sync::Arc;

use imbl::{OrdMap, OrdSet};
use ropey::Rope;

use crate::delta::{Delta, NamedThing, ShapeKey};
use crate::file::{Entry, File, FileChange};
use crate::index::{Index, own_topic};
use crate::unit::UnitReader;
use crate::vocabulary::{BlockKind, Key};
use crate::{Block, NameKey};

#[cfg(test)]
use crate::file::Context;

/// The path of a file in the notebook, with `/` between folders. Paths sort as text, which is the
/// reading order of the notebook.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FilePath(Arc<str>);

impl FilePath {
    /// The path as given.
    pub fn new(path: &str) -> Self {
        Self(path.into())
    }

    /// The path as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }

    /// The folder: everything before the last `/`, or nothing.
    pub fn folder(&self) -> &str {
        self.0.rfind('/').map_or("", |slash| &self.0[..slash])
    }
}

impl fmt::Display for FilePath {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// A unit of the notebook. Units sort in reading order.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct UnitId {
    /// The file.
    pub file: FilePath,
    /// The identity in the file.
    pub order: u64,
}

/// A place where a block is named: an item of a field of a unit.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Site {
    /// The unit.
    pub unit: UnitId,
    /// The field, as an index into [`Block::fields`].
    pub field: usize,
    /// The item in the field's list.
    pub item: usize,
}

/// All files of a student and the index over them. A clone is a snapshot and costs nothing to
/// speak of.
#[derive(Clone, Debug, Default)]
pub struct Notebook {
    files: OrdMap<FilePath, Arc<File>>,
    /// The course of each file that names none itself.
    inherited: OrdMap<FilePath, NameKey>,
    /// The courses named in the files of each folder, with the number of files.
    folders: OrdMap<Box<str>, OrdMap<NameKey, usize>>,
    index: Index,
}

/// A block in its place.
#[derive(Clone, Copy, Debug)]
pub struct Located<'a> {
    /// Its unit's identity.
    pub order: u64,
    /// Its file's path.
    pub path: &'a FilePath,
    /// Its file.
    pub file: &'a File,
    /// Its unit in the file.
    pub entry: &'a Entry,
    /// The block.
    pub block: &'a Block,
}

impl<'a> Located<'a> {
    /// The unit's identity in the notebook.
    pub fn id(&self) -> UnitId {
        UnitId {
            file: self.path.clone(),
            order: self.order,
        }
    }

    /// A span of the unit, counted from the start of the file.
    pub fn in_file(&self, span: crate::Span) -> crate::Span {
        span.shifted(self.entry.start as usize)
    }

    /// The text of a span of the unit.
    pub fn text(&self, span: crate::Span) -> String {
        self.file.slice(self.in_file(span).range())
    }

    /// The title as it was typed.
    pub fn title(&self) -> String {
        self.text(self.block.title)
    }

    /// The text of the first field with this key, if it says anything.
    pub fn field_text(&self, key: Key) -> Option<String> {
        let field = self.block.field(key)?;
        (!field.value_span.is_empty()).then(|| self.text(field.value_span))
    }

    /// The statement's lines, joined by line feeds.
    pub fn statement(&self) -> String {
        let lines: Vec<String> = self
            .block
            .statement
            .iter()
            .map(|line| self.text(*line))
            .collect();
        lines.join("\n")
    }
}

impl Notebook {
    /// Adds a file, or replaces one as a whole.
    pub fn insert(&mut self, path: &FilePath, file: File) -> Delta {
        let mut delta = Delta {
            units_read: file.entries().len(),
            ..Delta::default()
        };
        self.put(path, Some(Arc::new(file)), &mut delta);
        delta
    }

    /// Gives a file this text. Where it has an older one, only the part that differs is read.
    pub fn set_text(&mut self, path: &FilePath, text: &str, reader: &mut UnitReader) -> Delta {
        let Some(file) = self.files.get(path) else {
            return self.insert(path, File::new(Rope::from_str(text), reader));
        };
        let (range, replacement) = difference(file.text(), text);
        self.edit(path, range, &text[replacement], reader)
    }

    /// Replaces bytes of a file; both ends must lie on character boundaries. A file that is not
    /// in the notebook is taken as empty.
    pub fn edit(
        &mut self,
        path: &FilePath,
        range: Range<usize>,
        replacement: &str,
        reader: &mut UnitReader,
    ) -> Delta {
        let Some(slot) = self.files.get_mut(path) else {
            return self.insert(path, File::new(Rope::from_str(replacement), reader));
        };
        let FileChange {
            old,
            new,
            old_courses,
            units_read,
        } = Arc::make_mut(slot).edit(range, replacement, reader);
        let file = slot.clone();
        let mut delta = Delta {
            units_read,
            ..Delta::default()
        };
        delta.files.insert(path.clone());
        let inherited = self.inherited.get(path).cloned();
        let new = &file.entries()[new];
        match old_courses {
            None => {
                let scope = Scope {
                    own: file.courses().first(),
                    inherited: inherited.as_ref(),
                };
                self.reindex(path, (&old, scope), (new, scope), &mut delta);
            }
            Some(courses) => {
                let folders = self.recount(path, &courses, file.courses());
                let now = self.inherit(path, &file);
                let before = Scope {
                    own: courses.first(),
                    inherited: inherited.as_ref(),
                };
                let after = Scope {
                    own: file.courses().first(),
                    inherited: now.as_ref(),
                };
                self.reindex(path, (&old, before), (new, after), &mut delta);
                if folders {
                    self.rescope_below(path.folder(), &mut delta);
                }
            }
        }
        delta
    }

    /// Takes a file out of the notebook.
    pub fn remove(&mut self, path: &FilePath) -> Delta {
        let mut delta = Delta::default();
        self.put(path, None, &mut delta);
        delta
    }

    fn put(&mut self, path: &FilePath, new: Option<Arc<File>>, delta: &mut Delta) {
        let old = self.files.get(path).cloned();
        let old_inherited = self.inherited.get(path).cloned();
        delta.files.insert(path.clone());
        match &new {
            Some(file) => self.files.insert(path.clone(), file.clone()),
            None => self.files.remove(path),
        };
        let courses = |file: &Option<Arc<File>>| match file {
            Some(file) => file.courses().to_vec(),
            None => Vec::new(),
        };
        let (old_courses, new_courses) = (courses(&old), courses(&new));
        let folders = self.recount(path, &old_courses, &new_courses);
        let inherited = match &new {
            Some(file) => self.inherit(path, file),
            None => self.inherited.remove(path).and(None),
        };
        let entries = |file: &Option<Arc<File>>| match file {
            Some(file) => file.entries().to_vec(),
            None => Vec::new(),
        };
        let before = Scope {
            own: old_courses.first(),
            inherited: old_inherited.as_ref(),
        };
        let after = Scope {
            own: new_courses.first(),
            inherited: inherited.as_ref(),
        };
        self.reindex(
            path,
            (&entries(&old), before),
            (&entries(&new), after),
            delta,
        );
        if folders {
            self.rescope_below(path.folder(), delta);
        }
    }

    /// Replaces the rows of a run of units. Both runs rise by identity.
    fn reindex(
        &mut self,
        path: &FilePath,
        (old, old_scope): (&[Entry], Scope<'_>),
        (new, new_scope): (&[Entry], Scope<'_>),
        delta: &mut Delta,
    ) {
        let (mut old, mut new) = (old.iter().peekable(), new.iter().peekable());
        loop {
            let order = match (old.peek(), new.peek()) {
                (Some(a), Some(b)) => a.order.min(b.order),
                (Some(a), None) => a.order,
                (None, Some(b)) => b.order,
                (None, None) => return,
            };
            let before = old.next_if(|entry| entry.order == order);
            let after = new.next_if(|entry| entry.order == order);
            let id = UnitId {
                file: path.clone(),
                order,
            };
            self.index.replace(
                &id,
                before.map(|entry| (entry, old_scope.course_of(entry))),
                after.map(|entry| (entry, new_scope.course_of(entry))),
                delta,
            );
        }
    }

    /// Updates the folder's table of courses; tells whether its set of courses changed.
    fn recount(&mut self, path: &FilePath, old: &[NameKey], new: &[NameKey]) -> bool {
        if old == new {
            return false;
        }
        let folder: Box<str> = path.folder().into();
        let table = self.folders.entry(folder.clone()).or_default();
        let before: Vec<NameKey> = table.keys().cloned().collect();
        for course in old {
            if let Some(count) = table.get_mut(course) {
                *count -= 1;
                if *count == 0 {
                    table.remove(course);
                }
            }
        }
        for course in new {
            *table.entry(course.clone()).or_default() += 1;
        }
        let changed = !table.keys().eq(before.iter());
        if table.is_empty() {
            self.folders.remove(&folder);
        }
        changed
    }

    /// Works out the course that a file inherits from the folders above it.
    fn inherit(&mut self, path: &FilePath, file: &File) -> Option<NameKey> {
        let inherited = if file.courses().is_empty() {
            self.folder_course(path)
        } else {
            None
        };
        match &inherited {
            Some(course) => self.inherited.insert(path.clone(), course.clone()),
            None => self.inherited.remove(path),
        };
        inherited
    }

    /// The course of the nearest folder that names exactly one.
    fn folder_course(&self, path: &FilePath) -> Option<NameKey> {
        let mut folder = path.folder();
        loop {
            if let Some(table) = self.folders.get(folder)
                && table.len() == 1
            {
                return table.keys().next().cloned();
            }
            if folder.is_empty() {
                return None;
            }
            folder = folder.rfind('/').map_or("", |slash| &folder[..slash]);
        }
    }

    /// Gives every file below a folder the course it inherits now.
    fn rescope_below(&mut self, folder: &str, delta: &mut Delta) {
        let below = |path: &FilePath| {
            let rest = path.as_str().strip_prefix(folder);
            rest.is_some_and(|rest| folder.is_empty() || rest.starts_with('/'))
        };
        let files: Vec<(FilePath, Arc<File>)> = self
            .files
            .range(FilePath::new(folder)..)
            .take_while(|(path, _)| path.as_str().starts_with(folder))
            .filter(|(path, file)| below(path) && file.courses().is_empty())
            .map(|(path, file)| (path.clone(), file.clone()))
            .collect();
        for (path, file) in files {
            let before = self.inherited.get(&path).cloned();
            let now = self.inherit(&path, &file);
            if before != now {
                let scope = |inherited| Scope {
                    own: None,
                    inherited,
                };
                let entries = file.entries();
                let (old, new) = (scope(before.as_ref()), scope(now.as_ref()));
                self.reindex(&path, (entries, old), (entries, new), delta);
            }
        }
    }

    /// Every file, in reading order.
    pub fn files(&self) -> impl Iterator<Item = (&FilePath, &File)> {
        self.files.iter().map(|(path, file)| (path, &**file))
    }

    /// One file.
    pub fn file(&self, path: &FilePath) -> Option<&File> {
        self.files.get(path).map(|file| &**file)
    }

    /// The course of a unit; empty if it belongs to none.
    pub fn course_of(&self, path: &FilePath, entry: &Entry) -> NameKey {
        let own = self.file(path).and_then(|file| file.courses().first());
        Scope {
            own,
            inherited: self.inherited.get(path),
        }
        .course_of(entry)
        .clone()
    }

    /// The course that holds at the end of a file, where a new block would stand.
    pub fn course_at(&self, path: &FilePath, offset: usize) -> NameKey {
        let file = self.file(path);
        match file.and_then(|file| Some(&file.entries()[file.index_at(offset)?])) {
            Some(entry) => match entry.unit.block() {
                Some(block) if block.kind == Some(BlockKind::Course) && !block.name.is_empty() => {
                    block.name.clone()
                }
                _ => self.course_of(path, entry),
            },
            None => self.folder_course(path).unwrap_or_default(),
        }
    }

    /// The block of a unit, if it is there and is one.
    pub fn block(&self, id: &UnitId) -> Option<Located<'_>> {
        let (path, file) = self.files.get_key_value(&id.file)?;
        let entry = &file.entries()[file.index_of(id.order)?];
        Some(Located {
            order: id.order,
            path,
            file,
            entry,
            block: entry.unit.block()?,
        })
    }

    /// The blocks of a file, in order.
    pub fn blocks_in(&self, path: &FilePath) -> impl Iterator<Item = Located<'_>> {
        let found = self.files.get_key_value(path);
        found.into_iter().flat_map(|(path, file)| {
            file.entries().iter().filter_map(move |entry| {
                let block = entry.unit.block()?;
                Some(Located {
                    order: entry.order,
                    path,
                    file,
                    entry,
                    block,
                })
            })
        })
    }

    /// The block at a byte of a file.
    pub fn block_at(&self, path: &FilePath, offset: usize) -> Option<Located<'_>> {
        let (path, file) = self.files.get_key_value(path)?;
        let entry = &file.entries()[file.index_at(offset)?];
        Some(Located {
            order: entry.order,
            path,
            file,
            entry,
            block: entry.unit.block()?,
        })
    }

    /// The courses to which some block belongs, with the empty name for blocks of none.
    pub fn courses(&self) -> Vec<NameKey> {
        let mut courses: Vec<NameKey> = Vec::new();
        for (course, _) in self.index.kinds.keys() {
            if courses.last() != Some(course) {
                courses.push(course.clone());
            }
        }
        courses
    }

    /// The blocks of a kind in a course, in reading order.
    pub fn of_kind(&self, course: &NameKey, kind: BlockKind) -> impl Iterator<Item = Located<'_>> {
        let row = self.index.kinds.get(&(course.clone(), kind));
        row.into_iter().flatten().filter_map(|id| self.block(id))
    }

    /// How many blocks of a kind a course has.
    pub fn count_of(&self, course: &NameKey, kind: BlockKind) -> usize {
        self.index
            .kinds
            .get(&(course.clone(), kind))
            .map_or(0, OrdSet::len)
    }

    /// The blocks that define a name, in reading order.
    pub fn definitions(&self, thing: &NamedThing) -> impl Iterator<Item = Located<'_>> {
        let row = self.index.definitions.get(thing);
        row.into_iter().flatten().filter_map(|id| self.block(id))
    }

    /// The block that defines a name: the first with fields or a statement, else the first.
    pub fn definition(&self, thing: &NamedThing) -> Option<Located<'_>> {
        let says = |at: &Located<'_>| !at.block.fields.is_empty() || !at.block.statement.is_empty();
        self.definitions(thing)
            .find(says)
            .or_else(|| self.definitions(thing).next())
    }

    /// The names of a kind defined in a course.
    pub fn names(&self, course: &NameKey, kind: BlockKind) -> impl Iterator<Item = &NameKey> {
        let course = if kind == BlockKind::Course {
            NameKey::default()
        } else {
            course.clone()
        };
        let first = NamedThing {
            course,
            kind,
            name: NameKey::default(),
        };
        self.index
            .definitions
            .range(first.clone()..)
            .map(|(thing, _)| thing)
            .take_while(move |thing| thing.course == first.course && thing.kind == kind)
            .map(|thing| &thing.name)
    }

    /// The places where a name is mentioned, in reading order.
    pub fn references(&self, thing: &NamedThing) -> impl Iterator<Item = &Site> {
        self.index.references.get(thing).into_iter().flatten()
    }

    /// The problems, theorems and definitions of a pattern, in reading order.
    pub fn problems_of(&self, course: &NameKey, pattern: &NameKey) -> Vec<Located<'_>> {
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Pattern,
            name: pattern.clone(),
        };
        let mut found: Vec<Located<'_>> = Vec::new();
        for site in self.references(&thing) {
            let Some(at) = self.block(&site.unit) else {
                continue;
            };
            let names_it = at
                .block
                .fields
                .get(site.field)
                .is_some_and(|f| f.key == Key::Pattern);
            let practised = at.block.kind.is_some_and(BlockKind::is_practised);
            let repeated = found.last().is_some_and(|last| last.id() == site.unit);
            if names_it && practised && !repeated {
                found.push(at);
            }
        }
        found
    }

    /// The problems with this shape, in reading order.
    pub fn same_shape(&self, key: &ShapeKey) -> impl Iterator<Item = Located<'_>> {
        let row = self.index.shapes.get(key);
        row.into_iter().flatten().filter_map(|id| self.block(id))
    }

    /// The topic that a block belongs to, as [`Notebook::topics`] names it: the one it names, or
    /// stands under, or that its first pattern belongs to.
    pub fn topic_of(&self, at: &Located<'_>) -> Option<NameKey> {
        let course = self.course_of(at.path, at.entry);
        if let Some(topic) = own_topic(at.block, at.entry) {
            return Some(self.canonical_topic(&course, topic));
        }
        let named = at.block.names(Key::Pattern).first()?;
        let pattern = self.definition(&NamedThing {
            course: course.clone(),
            kind: BlockKind::Pattern,
            name: named.key.clone(),
        })?;
        own_topic(pattern.block, pattern.entry).map(|topic| self.canonical_topic(&course, topic))
    }

    /// The one key of a topic that may be mentioned by label, by name or by both.
    pub fn canonical_topic(&self, course: &NameKey, mentioned: NameKey) -> NameKey {
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Topic,
            name: mentioned.clone(),
        };
        let key = self
            .definition(&thing)
            .and_then(|at| crate::file::topic_key(at.block));
        key.unwrap_or(mentioned)
    }

    /// What a topic is known by: its label if it has one, else its name.
    pub fn topic_key(&self, topic: &Located<'_>) -> Option<NameKey> {
        crate::file::topic_key(topic.block)
    }

    /// The topics of a course in the order of their labels, those without a label last by name:
    /// key and defining block.
    pub fn topics(&self, course: &NameKey) -> Vec<(NameKey, Located<'_>)> {
        let mut topics: Vec<(NameKey, Located<'_>)> = Vec::new();
        let mut seen = std::collections::BTreeSet::new();
        for at in self.of_kind(course, BlockKind::Topic) {
            let Some(key) = crate::file::topic_key(at.block) else {
                continue;
            };
            if !seen.insert(key.clone()) {
                continue;
            }
            let thing = NamedThing {
                course: course.clone(),
                kind: BlockKind::Topic,
                name: key.clone(),
            };
            topics.push((key, self.definition(&thing).unwrap_or(at)));
        }
        topics.sort_by(|(a, at_a), (b, at_b)| {
            let label = |at: &Located<'_>| at.block.label.clone();
            let (la, lb) = (label(at_a), label(at_b));
            la.is_none()
                .cmp(&lb.is_none())
                .then(la.cmp(&lb))
                .then(a.cmp(b))
        });
        topics
    }

    /// The blocks of a topic, of any practised kind and patterns, that name it or stand under it,
    /// in reading order.
    pub fn members_of(&self, course: &NameKey, topic: &NameKey) -> Vec<Located<'_>> {
        let mut members: Vec<Located<'_>> = self.members(course, topic).collect();
        members.sort_by_key(Located::id);
        members
    }

    /// The same blocks one after the other, for callers that need not see them all: those that
    /// name the topic in one way, in reading order, then those that name it in another.
    pub fn members<'a>(
        &'a self,
        course: &NameKey,
        topic: &NameKey,
    ) -> impl Iterator<Item = Located<'a>> + use<'a> {
        let mut keys = vec![topic.clone()];
        let thing = NamedThing {
            course: course.clone(),
            kind: BlockKind::Topic,
            name: topic.clone(),
        };
        for at in self.definitions(&thing) {
            for key in [&at.block.name, &at.block.bare_name] {
                if !key.is_empty() && !keys.contains(key) {
                    keys.push(key.clone());
                }
            }
        }
        let course = course.clone();
        keys.into_iter()
            .flat_map(move |key| {
                self.index
                    .members
                    .get(&(course.clone(), key))
                    .into_iter()
                    .flatten()
            })
            .filter_map(|id| self.block(id))
    }

    /// The paper that a block belongs to.
    pub fn paper_of(&self, at: &Located<'_>) -> Option<Located<'_>> {
        let order = at.entry.context.paper?;
        self.block(&UnitId {
            file: at.path.clone(),
            order,
        })
    }

    /// The questions or problems of a paper, in order.
    pub fn items_of<'a>(&'a self, paper: &Located<'a>) -> Vec<Located<'a>> {
        let order = paper.order;
        let Some(start) = paper.file.index_of(order) else {
            return Vec::new();
        };
        paper.file.entries()[start + 1..]
            .iter()
            .take_while(|entry| entry.context.paper == Some(order))
            .filter_map(|entry| {
                let block = entry.unit.block()?;
                let item = block
                    .kind
                    .is_some_and(|kind| kind.is_practised() || kind == BlockKind::Question);
                item.then_some(Located {
                    order: entry.order,
                    path: paper.path,
                    file: paper.file,
                    entry,
                    block,
                })
            })
            .collect()
    }

    /// The index with identities replaced by positions, so that two notebooks of the same text
    /// compare equal however they came to it.
    #[cfg(test)]
    pub(crate) fn canonical(&self) -> String {
        use std::fmt::Write as _;
        let place = |id: &UnitId| {
            let index = self
                .files
                .get(&id.file)
                .and_then(|file| file.index_of(id.order));
            format!("{}#{index:?}", id.file)
        };
        let mut out = String::new();
        let index = &self.index;
        for (thing, ids) in &index.definitions {
            let ids: Vec<_> = ids.iter().map(place).collect();
            writeln!(out, "define {thing:?} {ids:?}").expect("strings take text");
        }
        for (thing, sites) in &index.references {
            let sites: Vec<_> = sites
                .iter()
                .map(|s| format!("{}.{}.{}", place(&s.unit), s.field, s.item))
                .collect();
            writeln!(out, "refer {thing:?} {sites:?}").expect("strings take text");
        }
        for (key, ids) in &index.kinds {
            writeln!(
                out,
                "kind {key:?} {:?}",
                ids.iter().map(place).collect::<Vec<_>>()
            )
            .expect("strings take text");
        }
        for (key, ids) in &index.members {
            writeln!(
                out,
                "member {key:?} {:?}",
                ids.iter().map(place).collect::<Vec<_>>()
            )
            .expect("strings take text");
        }
        for (key, ids) in &index.shapes {
            writeln!(
                out,
                "shape {key:?} {:?}",
                ids.iter().map(place).collect::<Vec<_>>()
            )
            .expect("strings take text");
        }
        writeln!(out, "{:?} {:?}", self.inherited, self.folders).expect("strings take text");
        for (path, file) in &self.files {
            for entry in file.entries() {
                let paper = entry.context.paper.and_then(|order| file.index_of(order));
                let Context { course, topic, .. } = &*entry.context;
                writeln!(
                    out,
                    "{path} {} {course:?} {topic:?} {paper:?} {:?}",
                    entry.start, entry.unit
                )
                .expect("strings take text");
            }
        }
        out
    }
}

/// Where a unit's course comes from when no `@course` stands above it.
#[derive(Clone, Copy)]
struct Scope<'a> {
    own: Option<&'a NameKey>,
    inherited: Option<&'a NameKey>,
}

impl<'a> Scope<'a> {
    fn course_of(self, entry: &'a Entry) -> &'a NameKey {
        static NONE: std::sync::LazyLock<NameKey> = std::sync::LazyLock::new(NameKey::default);
        entry
            .context
            .course
            .as_ref()
            .or(self.own)
            .or(self.inherited)
            .unwrap_or(&NONE)
    }
}

/// The bytes of `old` and of `new` that differ, between a common beginning and a common end.
fn difference(old: &Rope, new: &str) -> (Range<usize>, Range<usize>) {
    let mut start = old
        .bytes()
        .zip(new.bytes())
        .take_while(|(a, b)| a == b)
        .count();
    while !new.is_char_boundary(start) {
        start -= 1;
    }
    let longest = old.len_bytes().min(new.len()) - start;
    let mut backward = old.bytes_at(old.len_bytes());
    backward.reverse();
    let mut end = backward
        .zip(new.bytes().rev())
        .take(longest)
        .take_while(|(a, b)| a == b)
        .count();
    while !new.is_char_boundary(new.len() - end) {
        end -= 1;
    }
    (start..old.len_bytes() - end, start..new.len() - end)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn notebook(files: &[(&str, &str)]) -> Notebook {
        let mut reader = UnitReader::default();
        let mut notebook = Notebook::default();
        for (path, text) in files {
            let file = File::new(Rope::from_str(text), &mut reader);
            notebook.insert(&FilePath::new(path), file);
        }
        notebook
    }

    fn named(course: &str, kind: BlockKind, name: &str) -> NamedThing {
        NamedThing {
            course: NameKey::new(course),
            kind,
            name: NameKey::new(name),
        }
    }

    #[test]
    fn a_file_takes_its_course_from_the_nearest_folder_that_names_one() {
        let book = notebook(&[
            ("a.porism", "@pattern none\n"),
            (
                "ode/course.porism",
                "@course Differential equations\n  target: 85%\n",
            ),
            ("ode/week/1.porism", "@pattern separable\n"),
            ("two/a.porism", "@course One\n"),
            ("two/b.porism", "@course Two\n"),
            ("two/c.porism", "@pattern lost\n"),
        ]);
        let course = |path: &str| {
            let at = book
                .blocks_in(&FilePath::new(path))
                .next()
                .expect("a block");
            book.course_of(at.path, at.entry).to_string()
        };
        assert_eq!(course("ode/week/1.porism"), "differential equations");
        assert_eq!(course("a.porism"), "");
        assert_eq!(course("two/c.porism"), "");
        let found = book.definition(&named(
            "differential equations",
            BlockKind::Pattern,
            "separable",
        ));
        assert!(found.is_some());
    }

    #[test]
    fn a_topic_is_found_by_label_by_name_and_by_both() {
        let book = notebook(&[("a.porism", "@topic 1.4 Linear equations\n  learned: no\n")]);
        for name in ["1.4", "linear equations", "1.4 Linear  equations"] {
            let found = book.definition(&named("", BlockKind::Topic, name));
            assert!(found.is_some(), "{name}");
        }
    }

    #[test]
    fn a_paper_ends_a_topic_and_a_topic_ends_a_paper() {
        let book = notebook(&[(
            "a.porism",
            "@topic 1\n@problem a\n@paper P\n@problem b\n@topic 2\n@problem c\n",
        )]);
        let blocks: Vec<_> = book.blocks_in(&FilePath::new("a.porism")).collect();
        let topic = |i: usize| book.topic_of(&blocks[i]).map(|t| t.to_string());
        assert_eq!(
            (topic(1), topic(3), topic(5)),
            (Some("1".into()), None, Some("2".into()))
        );
        assert_eq!(book.items_of(&blocks[2]).len(), 1);
    }

    #[test]
    fn an_edit_reads_only_the_units_it_touched() {
        for problems in [10, 1000] {
            let text: String = (0..problems)
                .map(|i| format!("@problem {i}\n  Solve $x = {i}$.\n\n"))
                .collect();
            let mut reader = UnitReader::default();
            let mut book = notebook(&[("a.porism", &text)]);
            let path = FilePath::new("a.porism");
            let at = text.find("Solve $x = 7$").expect("problem 7 is there");
            let delta = book.edit(&path, at..at, "Please ", &mut reader);
            assert_eq!(
                (delta.units_read, delta.units.len()),
                (1, 1),
                "{problems} problems"
            );
        }
    }

    #[test]
    fn a_problem_that_changes_its_topic_touches_its_course() {
        let mut reader = UnitReader::default();
        let text = "@topic 1 A\n@topic 2 B\n@problem x\n  topic: 1\n";
        let mut book = notebook(&[("a.porism", text)]);
        let at = text.len() - 2;
        let delta = book.edit(&FilePath::new("a.porism"), at..at + 1, "2", &mut reader);
        assert_eq!(delta.courses.len(), 1);
    }

    #[test]
    fn a_letter_typed_above_a_try_touches_no_course() {
        let mut reader = UnitReader::default();
        let text = "@problem x\n  Solve.\n  pattern: p\n  tried: 2027-02-10 closed right\n";
        let mut book = notebook(&[("a.porism", text)]);
        let at = text.find("Solve").expect("the statement");
        let delta = book.edit(&FilePath::new("a.porism"), at..at, "Now ", &mut reader);
        assert_eq!((delta.courses.len(), delta.used.len()), (0, 0));
        assert_eq!(delta.units.len(), 1);
    }

    #[test]
    fn many_insertions_in_one_place_keep_the_order() {
        let mut reader = UnitReader::default();
        let mut book = notebook(&[("a.porism", "@problem first\n@problem last\n")]);
        let path = FilePath::new("a.porism");
        for i in 0..200 {
            book.edit(&path, 15..15, &format!("@problem {i}\n"), &mut reader);
        }
        let text = book.file(&path).expect("the file").text().to_string();
        assert_eq!(
            book.canonical(),
            notebook(&[("a.porism", &text)]).canonical()
        );
    }

    /// Pieces of notes that an edit may put anywhere.
    const PIECES: &[&str] = &[
        "@course C\n",
        "@course D\n  target: 85%\n",
        "@topic 1.1 A\n",
        "@topic 2 B\n  learned: no\n",
        "@pattern p\n  cue: c\n",
        "@pattern q\n  confused with: p\n  topic: 2\n",
        "@problem x\n  pattern: p, q\n  Solve $x + 1 = 2$.\n",
        "  tried: 2027-02-01 closed right\n",
        "@exam E\n  on: 2027-02-26\n  covers: 1 .. 2\n",
        "@paper P\n",
        "@question 1\n  of: x\n",
        "prose $a$\n",
        "# Heading\n",
        "% comment\n",
        "$$\n",
        "$",
        "\n",
        "\r\n",
        "\r",
        "  ",
        "@",
        "é",
        "\u{0}",
        "topic: A",
        "pattern: ",
        ", ",
    ];

    fn piece() -> impl Strategy<Value = String> {
        prop::collection::vec(prop::sample::select(PIECES), 0..8).prop_map(|p| p.concat())
    }

    #[derive(Clone, Debug)]
    enum Change {
        Edit(usize, usize, usize, String),
        Text(usize, String),
        Remove(usize),
    }

    fn change() -> impl Strategy<Value = Change> {
        prop_oneof![
            8 => (0..4usize, 0..400usize, 0..40usize, piece())
                .prop_map(|(f, at, len, text)| Change::Edit(f, at, len, text)),
            2 => (0..4usize, piece()).prop_map(|(f, text)| Change::Text(f, text)),
            1 => (0..4usize).prop_map(Change::Remove),
        ]
    }

    fn floor(text: &str, at: usize) -> usize {
        let mut at = at.min(text.len());
        while !text.is_char_boundary(at) {
            at -= 1;
        }
        at
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]
        #[test]
        fn after_any_edits_the_index_equals_one_built_from_nothing(
            changes in prop::collection::vec(change(), 1..20)
        ) {
            let paths = ["a.porism", "b/c.porism", "b/d.porism", "b/e/f.porism"].map(FilePath::new);
            let mut texts: [Option<String>; 4] = [const { None }; 4];
            let mut reader = UnitReader::default();
            let mut book = Notebook::default();
            for change in changes {
                match change {
                    Change::Edit(f, at, len, new) => {
                        let text = texts[f].get_or_insert_default();
                        let start = floor(text, at);
                        let end = floor(text, start + len);
                        text.replace_range(start..end, &new);
                        book.edit(&paths[f], start..end, &new, &mut reader);
                    }
                    Change::Text(f, new) => {
                        book.set_text(&paths[f], &new, &mut reader);
                        texts[f] = Some(new);
                    }
                    Change::Remove(f) => {
                        book.remove(&paths[f]);
                        texts[f] = None;
                    }
                }
                let files: Vec<_> = paths
                    .iter()
                    .zip(&texts)
                    .filter_map(|(path, text)| Some((path.as_str(), text.as_deref()?)))
                    .collect();
                for (path, text) in &files {
                    let file = book.file(&FilePath::new(path)).expect("the file");
                    prop_assert_eq!(file.text().to_string(), *text);
                }
                prop_assert_eq!(book.canonical(), notebook(&files).canonical());
            }
        }
    }
}
