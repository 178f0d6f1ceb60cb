//! The features of Porism: one file each, free functions over plain data, bytes in and values
//! out. The command line and the language server both call them, so they offer the same things.
//!
//! First what every feature stands on: an [`Analysis`] is a snapshot of a notebook with the
//! student's standing; a [`Doc`] is text to show; an [`edit::NotebookEdit`] is a change to make.
//! Then the features, each named after the LSP method or the command that offers it.

pub mod drawn_paper;
pub mod edit;
pub mod exams;
pub mod kinds;
mod marked_at_once;
pub mod mathematics;
pub mod named;
pub mod new_field;
pub mod own_answers;
pub mod own_kinds;
pub mod papers;
pub mod question_source;
pub mod readiness;
pub mod record_marks;
pub mod record_spotting;
pub mod sheet;
pub mod sheet_scope;
pub mod standing;
pub mod starter;
pub mod study_time;
pub mod wording;
pub mod words;
pub mod zone;

mod analysis;
mod doc;
#[cfg(test)]
mod fixture;
mod fresh_numbers;
mod ical;
mod memo;
mod page;
mod question_pool;
mod reasons;

pub mod another_like_this;
pub mod calendar;
pub mod classify;
pub mod code_actions;
pub mod code_lenses;
pub mod commands;
pub mod completion;
pub mod dates;
pub mod definition;
pub mod demo;
pub mod diagnostics;
pub mod document_symbols;
pub mod draw_drill;
pub mod draw_paper;
pub mod draw_spotting;
pub mod exam_clock;
pub mod explain;
pub mod folding_ranges;
pub mod fresh_problems;
pub mod hover;
pub mod inlay_hints;
pub mod insert_starter_patterns;
pub mod next_step;
pub mod past_estimates;
pub mod plan;
pub mod references;
pub mod report;
pub mod show_answers;
pub mod show_reasons;
pub mod tag_problems;
pub mod verify;
pub mod workspace_symbols;

pub use analysis::{Analysis, Workspace};
pub use doc::{Doc, DocLine};
pub use notes::value::NotesUse;
pub use notes::{BlockKind, Delta, FilePath, Span, UnitId};
pub use study::drill::Arrangement;
pub use study::paper::Kind as PaperKind;
