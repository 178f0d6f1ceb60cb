//! The loop between the client and the service, over any pair of streams.
//!
//! The framework has a loop of its own, which ends the session at the first message that it cannot
//! read, keeps the process alive after `exit`, reads and writes and handles on one task, and
//! panics when nobody reads what it writes. This one reads on one task, writes on another and
//! handles on as many as there are messages; what it cannot read costs that message.

use std::io;
use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use serde::Serialize;
use serde_json::Value;
use tokio::io::{
    AsyncBufRead, AsyncBufReadExt, AsyncRead, AsyncReadExt, AsyncWrite, AsyncWriteExt, BufReader,
};
use tokio::sync::mpsc::{Receiver, UnboundedReceiver, UnboundedSender, unbounded_channel};
use tower::Service;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};
use tower_lsp::{ClientSocket, LanguageServer, LspService};
use tracing::{error, trace, warn};

use super::ending::{Ending, Reason};
use super::service::{Guarded, Listener, catch_async, message, with_params};

/// How long answers that are under way may still be written after the session's end.
const GRACE: Duration = Duration::from_secs(1);

/// Serves one client until the session ends. `bodies` are notifications of the server's that are
/// JSON already. Returns the exit status of the process.
pub(crate) async fn serve<S, L, I, O>(
    service: LspService<S>,
    socket: ClientSocket,
    listener: L,
    ending: Ending,
    bodies: Receiver<String>,
    (input, output): (I, O),
) -> u8
where
    S: LanguageServer,
    L: Listener,
    I: AsyncRead + Send + Unpin,
    O: AsyncWrite + Send + Unpin + 'static,
{
    let (requests, replies) = socket.split();
    let (answers, to_write) = unbounded_channel();
    let writer = tokio::spawn(write(output, to_write, requests, bodies, ending.clone()));
    let mut reader = Reader {
        service: Guarded::new(service, listener, ending.clone()),
        replies,
        answers,
    };
    let mut input = BufReader::new(input);
    loop {
        let frame = tokio::select! {
            biased;
            () = ending.ended() => break,
            frame = read_frame(&mut input) => frame,
        };
        match frame {
            Ok(Some(Ok(body))) => reader.take(&body).await,
            Ok(Some(Err(problem))) => reader.complain(Error::parse_error(), problem),
            Ok(None) => ending.end(Reason::InputClosed),
            Err(problem) => {
                error!(%problem, "cannot read standard input");
                ending.end(Reason::InputClosed);
            }
        }
    }
    // The writer ends when the last handler has answered.
    drop(reader);
    if tokio::time::timeout(GRACE, writer).await.is_err() {
        warn!("answers were still under way at the end");
    }
    ending.status()
}

/// Whoever takes in the client's messages.
struct Reader<S, L, R> {
    service: Guarded<S, L>,
    /// Where the client's replies go.
    replies: R,
    answers: UnboundedSender<Response>,
}

impl<S, L, R> Reader<S, L, R>
where
    Guarded<S, L>: Service<Request, Response = Option<Response>>,
    <Guarded<S, L> as Service<Request>>::Future: Send + 'static,
    <Guarded<S, L> as Service<Request>>::Error: Send,
    R: SinkExt<Response> + Unpin,
{
    /// Takes in a message: up to the handler's first pause before anything else is read.
    async fn take(&mut self, body: &[u8]) {
        trace!("from the client: {}", String::from_utf8_lossy(body));
        match Incoming::read(body) {
            Ok(Incoming::Request(request)) => {
                let answer = self.service.call(request);
                let answers = self.answers.clone();
                tokio::spawn(async move {
                    if let Ok(Some(response)) = answer.await {
                        // Nobody listens any more to an answer after the end.
                        let _ = answers.send(response);
                    }
                });
            }
            Ok(Incoming::Reply(reply)) => {
                if let Err(panic) = catch_async(self.replies.send(reply)).await {
                    error!(reason = message(&*panic), "a reply reached nobody");
                }
            }
            Err((error, problem)) => self.complain(error, problem),
        }
    }

    /// Tells the client of a message that cannot be read, whose number is unknown (JSON-RPC 2.0,
    /// section 5).
    fn complain(&self, error: Error, problem: String) {
        warn!(problem, "cannot read a message");
        let _ = self.answers.send(Response::from_error(Id::Null, error));
    }
}

/// A message of the client's.
enum Incoming {
    /// A request or a notification.
    Request(Request),
    /// The reply to a request of the server's.
    Reply(Response),
}

impl Incoming {
    #[allow(
        clippy::result_large_err,
        reason = "a message that cannot be read is rare, and its error is answered at once; how \
                  large it is depends on the features of a dependency"
    )]
    fn read(body: &[u8]) -> Result<Self, (Error, String)> {
        let no_json = |problem: serde_json::Error| (Error::parse_error(), problem.to_string());
        let no_message =
            |problem: serde_json::Error| (Error::invalid_request(), problem.to_string());
        let mut message: Value = serde_json::from_slice(body).map_err(no_json)?;
        if message.get("method").is_some() {
            return serde_json::from_value(message)
                .map(Self::Request)
                .map_err(no_message);
        }
        // Some clients leave out a result that is nothing.
        if let Some(message) = message.as_object_mut()
            && message.contains_key("id")
            && !message.contains_key("error")
        {
            message.entry("result").or_insert(Value::Null);
        }
        serde_json::from_value(message)
            .map(Self::Reply)
            .map_err(no_message)
    }
}

/// Reads a message: its header lines and its body (LSP 3.17, "Base Protocol"). `None` at the end
/// of the input, an inner error for a header without a length.
///
/// Lines that are no header are passed by, so that reading finds the next message after anything.
async fn read_frame<I>(input: &mut I) -> io::Result<Option<Result<Vec<u8>, String>>>
where
    I: AsyncBufRead + Unpin,
{
    let mut length = None;
    let mut line = Vec::new();
    let mut seen = false;
    loop {
        line.clear();
        if input.read_until(b'\n', &mut line).await? == 0 {
            return Ok(None);
        }
        let text = String::from_utf8_lossy(&line).to_ascii_lowercase();
        let text = text.trim();
        if !text.is_empty() {
            seen = true;
            if let Some((_, value)) = text.split_once("content-length:") {
                length = value.trim().parse::<u64>().ok();
            }
        } else if let Some(length) = length {
            let mut body = Vec::new();
            // Grows with what arrives: a length that is wrong costs no memory.
            let read = input.take(length).read_to_end(&mut body).await?;
            return Ok((read as u64 == length).then_some(Ok(body)));
        } else if seen {
            return Ok(Some(Err("a header without a Content-Length".to_owned())));
        }
    }
}

/// Writes answers, and the server's own requests and notifications, until the last who may answer
/// is gone.
async fn write<O, R>(
    mut output: O,
    mut answers: UnboundedReceiver<Response>,
    mut requests: R,
    mut bodies: Receiver<String>,
    ending: Ending,
) where
    O: AsyncWrite + Unpin,
    R: StreamExt<Item = Request> + Unpin,
{
    loop {
        let written = tokio::select! {
            answer = answers.recv() => match answer {
                Some(answer) => write_frame(&mut output, &answer).await,
                None => return,
            },
            Some(request) = requests.next() => {
                write_frame(&mut output, &without_null(request)).await
            }
            Some(body) = bodies.recv() => write_body(&mut output, &body).await,
        };
        if let Err(problem) = written {
            if !ending.has_ended() {
                error!(%problem, "cannot write standard output");
            }
            ending.end(Reason::OutputClosed);
            return;
        }
    }
}

/// The same request, with parameters that are nothing left out (JSON-RPC 2.0, section 4.2: they
/// are an array or an object, if there are any).
fn without_null(request: Request) -> Request {
    if request.params().is_some_and(Value::is_null) {
        with_params(request, None)
    } else {
        request
    }
}

async fn write_frame<O>(output: &mut O, message: &impl Serialize) -> io::Result<()>
where
    O: AsyncWrite + Unpin,
{
    write_body(output, &serde_json::to_string(message)?).await
}

async fn write_body<O>(output: &mut O, body: &str) -> io::Result<()>
where
    O: AsyncWrite + Unpin,
{
    trace!("to the client: {body}");
    let header = format!("Content-Length: {}\r\n\r\n", body.len());
    output.write_all(header.as_bytes()).await?;
    output.write_all(body.as_bytes()).await?;
    output.flush().await
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use std::sync::{Arc, Mutex};

    use tokio::io::DuplexStream;
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
            std::future::pending().await
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
        let (_, bodies) = tokio::sync::mpsc::channel(1);
        let server = tokio::spawn(serve(
            service,
            socket,
            recorder,
            ending.clone(),
            bodies,
            streams,
        ));
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
    async fn a_reply_to_nobody_is_passed_by() {
        let mut peer = Peer::initialized().await;
        peer.send(json!({"jsonrpc": "2.0", "id": 7})).await;
        peer.send(json!({"jsonrpc": "2.0", "id": "x", "result": 3}))
            .await;
        assert_eq!(peer.said().await, json!(["client \"Editor\""]));
    }

    #[tokio::test]
    async fn what_cannot_be_read_costs_that_message_only() {
        let mut peer = Peer::initialized().await;
        let bad = [
            ("Content-Length: 3\r\n\r\n{]}", -32700),
            ("Content-Length: 2\r\n\r\n[]", -32600),
            ("Content-Length: 14\r\n\r\n{\"method\":\"x\"}", -32600),
            ("Content-Type: text/plain\r\n\r\n", -32700),
            ("Content-Length: many\r\n\r\n", -32700),
        ];
        for (text, code) in bad {
            peer.input
                .as_mut()
                .unwrap()
                .write_all(text.as_bytes())
                .await
                .unwrap();
            let answer = peer.receive().await;
            assert_eq!(
                (&answer["id"], &answer["error"]["code"]),
                (&Value::Null, &json!(code)),
                "{text}"
            );
        }
        assert_eq!(peer.said().await, json!(["client \"Editor\""]));
    }

    #[tokio::test]
    async fn headers_may_be_written_in_any_case_and_with_a_type() {
        let mut peer = Peer::initialized().await;
        let body =
            json!({"jsonrpc": "2.0", "id": 5, "method": "test/said", "params": {}}).to_string();
        let text = format!(
            "content-type: application/vscode-jsonrpc\r\ncontent-length:{}\r\n\r\n{body}",
            body.len()
        );
        peer.input
            .as_mut()
            .unwrap()
            .write_all(text.as_bytes())
            .await
            .unwrap();
        assert_eq!(peer.receive().await["id"], 5);
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
