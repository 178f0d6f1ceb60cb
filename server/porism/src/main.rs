//! The `porism` program: the language server and the command line.

mod clock;
mod files;
mod lsp;

use std::process::ExitCode;

use clap::{Parser, Subcommand, ValueEnum};
use tracing::level_filters::LevelFilter;

/// Plain-text mathematics notes that can be drilled.
#[derive(Parser)]
#[command(name = "porism", version, about)]
struct Arguments {
    /// How much to log on standard error.
    #[arg(
        long,
        value_enum,
        env = "PORISM_LOG",
        default_value = "warn",
        global = true
    )]
    log: Log,

    #[command(subcommand)]
    command: Command,
}

#[derive(Subcommand)]
enum Command {
    /// Serves an editor over standard input and output (Language Server Protocol).
    Server,
}

/// What is logged: messages of this weight and weightier ones.
#[derive(Clone, Copy, ValueEnum)]
enum Log {
    Off,
    Error,
    Warn,
    Info,
    Debug,
    /// With every message of the protocol.
    Trace,
}

fn main() -> ExitCode {
    let arguments = Arguments::parse();
    tracing_subscriber::fmt()
        .with_max_level(LevelFilter::from(arguments.log))
        .with_writer(std::io::stderr)
        .with_ansi(false)
        .init();
    match arguments.command {
        Command::Server => server(),
    }
}

fn server() -> ExitCode {
    let runtime = match tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
    {
        Ok(runtime) => runtime,
        Err(problem) => {
            tracing::error!(%problem, "cannot start the server");
            return ExitCode::FAILURE;
        }
    };
    let status = runtime.block_on(lsp::serve());
    // A thread may be reading a standard input that stays open: nobody waits for it.
    runtime.shutdown_background();
    ExitCode::from(status)
}

impl From<Log> for LevelFilter {
    fn from(log: Log) -> Self {
        match log {
            Log::Off => Self::OFF,
            Log::Error => Self::ERROR,
            Log::Warn => Self::WARN,
            Log::Info => Self::INFO,
            Log::Debug => Self::DEBUG,
            Log::Trace => Self::TRACE,
        }
    }
}
