//! `porism serve`: the language server on standard input and output.

use std::process::ExitCode;

use tracing::level_filters::LevelFilter;

use super::arguments::{Log, Serve};
use crate::lsp;

/// Serves one client until the session ends.
pub(crate) fn serve(arguments: &Serve) -> ExitCode {
    tracing_subscriber::fmt()
        .with_max_level(LevelFilter::from(arguments.log))
        .with_writer(std::io::stderr)
        .with_ansi(false)
        .init();
    let runtime = match tokio::runtime::Builder::new_multi_thread()
        .enable_all()
        .build()
    {
        Ok(runtime) => runtime,
        Err(problem) => {
            tracing::error!(%problem, "cannot start the server");
            return ExitCode::from(2);
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
