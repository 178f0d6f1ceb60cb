//! The loop between the client and the service, over any pair of streams.
//!
//! The framework's loop ends well in one case only: when its input ends. So every other end (an
//! `exit`, a client that is gone, an output that nobody reads) is made to look like that one.

use std::future::Future;
use std::io;
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::io::{AsyncRead, AsyncWrite, ReadBuf};
use tower_lsp::{ClientSocket, LanguageServer, LspService, Server};
use tracing::{error, warn};

use super::ending::{Ending, Reason};
use super::service::{Guarded, Listener};

/// How long answers that are under way may still be written after the session's end.
const GRACE: Duration = Duration::from_secs(1);

/// Handlers that may run at a time. Each is a task of its own and long work takes turns
/// elsewhere, so this only has to be more than a client ever leaves open.
const CONCURRENCY: usize = 4096;

/// Serves one client until the session ends. Returns the exit status of the process.
pub(crate) async fn serve<S, L, I, O>(
    service: LspService<S>,
    socket: ClientSocket,
    listener: L,
    ending: Ending,
    (input, output): (I, O),
) -> u8
where
    S: LanguageServer,
    L: Listener,
    I: AsyncRead + Send + Unpin,
    O: AsyncWrite + Send + Unpin,
{
    let input = EndingInput::new(input, ending.clone());
    let output = EndingOutput {
        stream: output,
        ending: ending.clone(),
    };
    let serving = Server::new(input, output, socket)
        .concurrency_level(CONCURRENCY)
        .serve(Guarded::new(service, listener, ending.clone()));
    let mut serving = std::pin::pin!(serving);
    tokio::select! {
        () = &mut serving => {}
        () = ending.ended() => {
            if tokio::time::timeout(GRACE, serving).await.is_err() {
                warn!("answers were still under way at the end");
            }
        }
    }
    ending.status()
}

/// An input that ends when the session does, and ends the session when it does.
struct EndingInput<I> {
    stream: I,
    ending: Ending,
    ended: Pin<Box<dyn Future<Output = ()> + Send>>,
    at_end: bool,
}

impl<I> EndingInput<I> {
    fn new(stream: I, ending: Ending) -> Self {
        let watched = ending.clone();
        let ended = Box::pin(async move { watched.ended().await });
        Self {
            stream,
            ending,
            ended,
            at_end: false,
        }
    }
}

impl<I: AsyncRead + Unpin> AsyncRead for EndingInput<I> {
    fn poll_read(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        buffer: &mut ReadBuf<'_>,
    ) -> Poll<io::Result<()>> {
        // Reading nothing is how a stream says that it is at its end.
        if self.at_end || self.ended.as_mut().poll(context).is_ready() {
            self.at_end = true;
            return Poll::Ready(Ok(()));
        }
        let before = buffer.filled().len();
        match Pin::new(&mut self.stream).poll_read(context, buffer) {
            Poll::Pending => return Poll::Pending,
            Poll::Ready(Ok(())) if buffer.filled().len() > before => return Poll::Ready(Ok(())),
            Poll::Ready(Ok(())) => {}
            Poll::Ready(Err(problem)) => error!(%problem, "cannot read standard input"),
        }
        self.at_end = true;
        self.ending.end(Reason::InputClosed);
        Poll::Ready(Ok(()))
    }
}

/// An output whose failure ends the session. What is written later goes nowhere; the framework
/// panics on an output that says so.
struct EndingOutput<O> {
    stream: O,
    ending: Ending,
}

impl<O> EndingOutput<O> {
    fn swallow<T>(&self, result: Poll<io::Result<T>>, otherwise: T) -> Poll<io::Result<T>> {
        match result {
            Poll::Ready(Err(problem)) => {
                if !self.ending.has_ended() {
                    error!(%problem, "cannot write standard output");
                }
                self.ending.end(Reason::OutputClosed);
                Poll::Ready(Ok(otherwise))
            }
            other => other,
        }
    }
}

impl<O: AsyncWrite + Unpin> AsyncWrite for EndingOutput<O> {
    fn poll_write(
        mut self: Pin<&mut Self>,
        context: &mut Context<'_>,
        bytes: &[u8],
    ) -> Poll<io::Result<usize>> {
        let result = Pin::new(&mut self.stream).poll_write(context, bytes);
        self.swallow(result, bytes.len())
    }

    fn poll_flush(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_flush(context);
        self.swallow(result, ())
    }

    fn poll_shutdown(mut self: Pin<&mut Self>, context: &mut Context<'_>) -> Poll<io::Result<()>> {
        let result = Pin::new(&mut self.stream).poll_shutdown(context);
        self.swallow(result, ())
    }
}

#[cfg(test)]
mod tests {
    use std::sync::{Arc, Mutex};

    use serde_json::{Value, json};
    use tokio::io::{AsyncBufReadExt, AsyncReadExt, AsyncWriteExt, BufReader, DuplexStream};
    use tokio::sync::Semaphore;
    use tokio::task::JoinHandle;
    use tower_lsp::jsonrpc::Result;
    use tower_lsp::lsp_types::{DidChangeTextDocumentParams, InitializeParams, InitializeResult};

    use super::*;

    /// A server that records what it is told and whose requests do what the tests need.
    #[derive(Clone, Default)]
    struct Recorder(Arc<Mutex<Vec<String>>>);

    impl Recorder {
        fn note(&self, what: impl Into<String>) {
            self.0.lock().unwrap().push(what.into());
        }

        async fn panics_at_once(&self, _: Value) -> Result<Value> {
            panic!("at once")
        }

        async fn panics_later(&self, _: Value) -> Result<Value> {
            tokio::task::yield_now().await;
            panic!("later")
        }

        async fn panics_in_a_notification(&self, _: Value) {
            tokio::task::yield_now().await;
            panic!("in a notification")
        }

        async fn never_answers(&self, _: Value) -> Result<Value> {
            Semaphore::new(0).acquire().await.unwrap();
            unreachable!("nobody adds a permit")
        }

        async fn said(&self, _: Value) -> Result<Value> {
            Ok(json!(*self.0.lock().unwrap()))
        }
    }

    #[tower_lsp::async_trait]
    impl LanguageServer for Recorder {
        async fn initialize(&self, _: InitializeParams) -> Result<InitializeResult> {
            Ok(InitializeResult::default())
        }

        async fn shutdown(&self) -> Result<()> {
            Ok(())
        }

        async fn did_change(&self, params: DidChangeTextDocumentParams) {
            self.note(format!("version {}", params.text_document.version));
        }
    }

    impl Listener for Recorder {
        fn initialize(&self, params: &Value) {
            self.note(format!("client {}", params["clientInfo"]["name"]));
        }

        fn document_lost(&self, uri: &str) {
            self.note(format!("lost {uri}"));
        }
    }

    /// The other end of the streams.
    struct Peer {
        input: Option<DuplexStream>,
        output: Option<BufReader<DuplexStream>>,
        server: JoinHandle<u8>,
        ending: Ending,
    }

    fn start() -> Peer {
        let (input, server_input) = tokio::io::duplex(1 << 16);
        let (server_output, output) = tokio::io::duplex(1 << 16);
        let recorder = Recorder::default();
        let (service, socket) = LspService::build(|_| recorder.clone())
            .custom_method("test/panicsAtOnce", Recorder::panics_at_once)
            .custom_method("test/panicsLater", Recorder::panics_later)
            .custom_method(
                "test/panicsInANotification",
                Recorder::panics_in_a_notification,
            )
            .custom_method("test/neverAnswers", Recorder::never_answers)
            .custom_method("test/said", Recorder::said)
            .finish();
        let ending = Ending::new();
        let streams = (server_input, server_output);
        let server = tokio::spawn(serve(service, socket, recorder, ending.clone(), streams));
        Peer {
            input: Some(input),
            output: Some(BufReader::new(output)),
            server,
            ending,
        }
    }

    impl Peer {
        async fn send(&mut self, message: Value) {
            let body = message.to_string();
            let text = format!("Content-Length: {}\r\n\r\n{body}", body.len());
            self.input
                .as_mut()
                .unwrap()
                .write_all(text.as_bytes())
                .await
                .unwrap();
        }

        async fn request(&mut self, id: i64, method: &str) {
            let message = json!({"jsonrpc": "2.0", "id": id, "method": method, "params": {}});
            self.send(message).await;
        }

        async fn notify(&mut self, method: &str, params: Value) {
            self.send(json!({"jsonrpc": "2.0", "method": method, "params": params}))
                .await;
        }

        async fn receive(&mut self) -> Value {
            let output = self.output.as_mut().unwrap();
            let mut header = String::new();
            output.read_line(&mut header).await.unwrap();
            let length = header.trim().strip_prefix("Content-Length: ").unwrap();
            let mut body = vec![0; 2 + length.parse::<usize>().unwrap()];
            output.read_exact(&mut body).await.unwrap();
            serde_json::from_slice(&body).unwrap()
        }

        /// Starts a session in which `initialize` has been answered.
        async fn initialized() -> Self {
            let mut peer = start();
            // An encoding list of the wrong type: the framework's own types would refuse it.
            let params = json!({
                "clientInfo": {"name": "Editor"},
                "capabilities": {"general": {"positionEncodings": "utf-8"}},
            });
            let message =
                json!({"jsonrpc": "2.0", "id": 0, "method": "initialize", "params": params});
            peer.send(message).await;
            assert_eq!(peer.receive().await["result"], json!({"capabilities": {}}));
            peer
        }

        async fn said(&mut self) -> Value {
            self.request(-1, "test/said").await;
            self.receive().await["result"].take()
        }
    }

    #[tokio::test]
    async fn a_panic_costs_the_request_in_which_it_happens() {
        let mut peer = Peer::initialized().await;
        for (id, method, why) in [
            (1, "test/panicsAtOnce", "at once"),
            (2, "test/panicsLater", "later"),
        ] {
            peer.request(id, method).await;
            let answer = peer.receive().await;
            assert_eq!(answer["id"], id);
            assert_eq!(answer["error"]["code"], -32603);
            let text = answer["error"]["message"].as_str().unwrap();
            assert!(text.contains(method) && text.contains(why), "{text}");
        }
        peer.notify("test/panicsInANotification", json!({})).await;
        assert_eq!(peer.said().await, json!(["client \"Editor\""]));
    }

    #[tokio::test]
    async fn a_cancellation_overtakes_busy_handlers() {
        let mut peer = Peer::initialized().await;
        for id in 1..=300 {
            peer.request(id, "test/neverAnswers").await;
        }
        peer.notify("$/cancelRequest", json!({"id": 250})).await;
        let answer = peer.receive().await;
        assert_eq!(
            (&answer["id"], &answer["error"]["code"]),
            (&json!(250), &json!(-32800))
        );
        assert_eq!(peer.said().await, json!(["client \"Editor\""]));
    }

    #[tokio::test]
    async fn changes_are_seen_in_the_order_in_which_they_were_sent() {
        let mut peer = Peer::initialized().await;
        let mut expected = vec!["client \"Editor\"".to_owned()];
        for version in 1..=200 {
            let document = json!({"uri": "file:///a.porism", "version": version});
            let params = json!({"textDocument": document, "contentChanges": []});
            peer.notify("textDocument/didChange", params).await;
            peer.request(1000 + version, "test/neverAnswers").await;
            expected.push(format!("version {version}"));
        }
        assert_eq!(peer.said().await, json!(expected));
    }

    #[tokio::test]
    async fn a_change_that_cannot_be_read_is_reported() {
        let mut peer = Peer::initialized().await;
        let document = json!({"uri": "file:///a.porism", "version": "three"});
        let params = json!({"textDocument": document, "contentChanges": []});
        peer.notify("textDocument/didChange", params).await;
        assert_eq!(
            peer.said().await,
            json!(["client \"Editor\"", "lost file:///a.porism"])
        );
    }

    #[tokio::test]
    async fn a_reply_without_a_result_is_not_answered() {
        let mut peer = Peer::initialized().await;
        peer.send(json!({"jsonrpc": "2.0", "id": 7})).await;
        assert_eq!(peer.said().await, json!(["client \"Editor\""]));
    }

    #[tokio::test]
    async fn exit_after_shutdown_ends_with_0_while_the_input_stays_open() {
        let mut peer = Peer::initialized().await;
        let message = json!({"jsonrpc": "2.0", "id": 1, "method": "shutdown", "params": null});
        peer.send(message).await;
        peer.notify("exit", Value::Null).await;
        assert_eq!(
            peer.receive().await,
            json!({"jsonrpc": "2.0", "id": 1, "result": null})
        );
        assert_eq!(peer.server.await.unwrap(), 0);
    }

    #[tokio::test]
    async fn exit_without_shutdown_ends_with_1() {
        let mut peer = Peer::initialized().await;
        peer.notify("exit", Value::Null).await;
        assert_eq!(peer.server.await.unwrap(), 1);
    }

    #[tokio::test]
    async fn a_closed_input_ends_the_session_even_with_a_request_under_way() {
        let mut peer = Peer::initialized().await;
        peer.request(1, "test/neverAnswers").await;
        peer.input = None;
        assert_eq!(peer.server.await.unwrap(), 1);
    }

    #[tokio::test]
    async fn an_output_that_nobody_reads_ends_the_session() {
        let mut peer = Peer::initialized().await;
        peer.output = None;
        peer.request(1, "test/said").await;
        assert_eq!(peer.server.await.unwrap(), 1);
    }

    #[tokio::test]
    async fn a_client_that_is_gone_ends_the_session() {
        let peer = Peer::initialized().await;
        peer.ending.end(Reason::ClientGone);
        assert_eq!(peer.server.await.unwrap(), 1);
    }
}
