//! The command line: the same features as in the editor, on the files of a folder.
//!
//! In reading order: the [`arguments`]; a [`notebook`] read from disk; the [`terminal`] to write
//! to; many items at once as [`jsonl`]; then a file for each command.

mod arguments;
mod jsonl;
mod notebook;
mod terminal;

mod calendar;
mod check;
mod classify;
mod completions;
mod dates;
mod demo;
mod drill;
mod explain;
mod json;
mod mock;
mod next;
mod plan;
mod record;
mod serve;
mod siblings;
mod standing;
mod starter;
mod verify;

use std::fmt;
use std::process::ExitCode;

use clap::Parser;

use arguments::{Arguments, Command};

/// Why a command cannot do what it was asked to, in the user's words.
#[derive(Debug)]
pub(crate) struct Failure(String);

impl Failure {
    pub(crate) fn new(message: impl fmt::Display) -> Self {
        Self(message.to_string())
    }
}

impl From<std::io::Error> for Failure {
    fn from(problem: std::io::Error) -> Self {
        Self::new(problem)
    }
}

/// What a command found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Outcome {
    /// Nothing to complain of: exit status 0.
    Clean,
    /// Errors in the notes: exit status 1.
    Findings,
}

/// Runs the program. The exit status is 0 when all is well, 1 when the notes hold errors, 2 when
/// the command could not be carried out.
pub(crate) fn run() -> ExitCode {
    let arguments = Arguments::parse();
    let result = match &arguments.command {
        Command::Serve(serve) => return serve::serve(serve),
        Command::Check(check) => check::check(check),
        Command::Next(next) => next::next(next),
        Command::Plan(plan) => plan::plan(plan),
        Command::Calendar(calendar) => calendar::calendar(calendar),
        Command::Dates(dates) => dates::dates(dates),
        Command::Mock(mock) => mock::mock(mock),
        Command::Drill(drill) => drill::drill(drill),
        Command::Spotting(spotting) => drill::spotting(spotting),
        Command::Record(record) => record::record(record),
        Command::Answers(answers) => record::answers(answers),
        Command::Standing(standing) => standing::standing(standing),
        Command::Classify(classify) => classify::classify(classify),
        Command::Verify(verify) => verify::verify(verify),
        Command::Siblings(siblings) => siblings::siblings(siblings),
        Command::Starter(starter) => starter::starter(starter),
        Command::Explain(explain) => explain::explain(explain),
        Command::Demo(demo) => demo::demo(demo),
        Command::Completions(completions) => completions::completions(completions),
    };
    match result {
        Ok(Outcome::Clean) => ExitCode::SUCCESS,
        Ok(Outcome::Findings) => ExitCode::from(1),
        Err(Failure(message)) => {
            terminal::complain(&message);
            ExitCode::from(2)
        }
    }
}
