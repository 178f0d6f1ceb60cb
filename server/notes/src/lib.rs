//! What a notebook says: the facts of one file, and the index of them all.
//!
//! In reading order: a [`Span`] is a range of bytes; the [`vocabulary`] lists the kinds of block
//! and their fields; a [`name`] is what blocks call each other by; a [`value`] is what a field
//! says; a [`Unit`] holds the facts of one piece of a file, a pure function of its text; a
//! [`File`] is a text cut into units, of which an edit re-reads only those it touched; a
//! [`Notebook`] holds the files and an index patched by the difference between a file's old and
//! new facts.

#![cfg_attr(not(test), deny(clippy::unwrap_used))]

pub mod name;
pub mod value;
pub mod vocabulary;

mod delta;
mod file;
mod formulas;
mod index;
mod notebook;
mod span;
mod unit;

pub use delta::{Delta, NamedThing, ShapeKey};
pub use file::{Context, Entry, File};
pub use formulas::{ShapeFact, TexFault};
pub use name::{Label, NameKey};
pub use notebook::{FilePath, Located, Notebook, Site, UnitId};
pub use span::Span;
pub use unit::{
    Block, Content, Fault, FaultKind, Field, Formula, Place, Unit, UnitReader, UnknownField,
};
pub use value::Value;
pub use vocabulary::{BlockKind, Key, ValueKind};
