//! The language server: everything that knows the Language Server Protocol.

mod capabilities;
mod checks;
mod client;
mod commands;
mod convert;
mod disk;
mod documents;
mod ending;
mod exam_clock;
mod position;
mod publish;
mod pull;
mod queue;
mod server;
mod service;
mod snapshot;
mod transport;
mod uri;

use tokio::sync::mpsc::channel;
use tower_lsp::LspService;

use ending::Ending;
use server::Server;

/// Serves one client over standard input and output until the session ends. Returns the exit
/// status of the process.
pub(crate) async fn serve() -> u8 {
    let ending = Ending::new();
    // One at a time: a client that reads slowly is not sent what it cannot take in.
    let (to_bodies, bodies) = channel(1);
    let (service, socket) =
        LspService::build(|client| Server::new(client, to_bodies, ending.clone()))
            .custom_method("window/workDoneProgress/cancel", Server::cancel_progress)
            .finish();
    let listener = service.inner().clone();
    let streams = (tokio::io::stdin(), tokio::io::stdout());
    transport::serve(service, socket, listener, ending, bodies, streams).await
}
