//! Tests of the whole program, and of how the project is laid out.

mod command_line;
mod commands;
mod documents;
mod exam_clock;
mod features;
mod json_lines;
mod lifecycle;
mod storm;
mod structure;
