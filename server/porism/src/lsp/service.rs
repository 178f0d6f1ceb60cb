//! A layer around the protocol framework's service that mends what the framework leaves open.
//!
//! - Every message is handled up to its first pause at the moment it is read, in the order of
//!   arrival; the loop lets what is left go on in a task of its own. So changes and requests keep
//!   their order, a `$/cancelRequest` never waits behind busy handlers, and no handler holds up
//!   the reader.
//! - A panic costs the request in which it happens: the client gets an internal error.
//! - `exit` ends the session even while standard input stays open.
//! - A document notification that cannot be read is reported instead of dropped in silence.
//! - `initialize` is read leniently, from the client's own JSON.

use std::any::Any;
use std::convert::Infallible;
use std::future::{self, Future};
use std::panic::{self, AssertUnwindSafe};
use std::pin::{Pin, pin};
use std::task::{Context, Poll, Waker};

use serde::Deserialize;
use serde_json::{Value, json};
use tower::Service;
use tower_lsp::jsonrpc::{Error, Id, Request, Response};
use tower_lsp::lsp_types::{
    DidChangeTextDocumentParams, DidCloseTextDocumentParams, DidOpenTextDocumentParams,
    DidSaveTextDocumentParams,
};
use tracing::{error, warn};

use super::ending::{Ending, Reason};

/// What the layer tells the server of messages that do not reach a handler whole.
pub(crate) trait Listener: Send + 'static {
    /// The parameters of `initialize`, before the framework's handler runs.
    fn initialize(&self, params: &Value);
    /// A notification about a document could not be read: the server's text of the document with
    /// this URI no longer is the client's.
    fn document_lost(&self, uri: &str);
}

/// The layer.
pub(crate) struct Guarded<S, L> {
    inner: S,
    listener: L,
    ending: Ending,
}

impl<S, L> Guarded<S, L> {
    /// Wraps a service.
    pub(crate) fn new(inner: S, listener: L, ending: Ending) -> Self {
        Self {
            inner,
            listener,
            ending,
        }
    }
}

type Answer = Pin<Box<dyn Future<Output = Result<Option<Response>, Infallible>> + Send>>;

impl<S, L> Service<Request> for Guarded<S, L>
where
    S: Service<Request, Response = Option<Response>>,
    S::Future: Send + 'static,
    S::Error: Send + 'static,
    L: Listener,
{
    type Response = Option<Response>;
    type Error = Infallible;
    type Future = Answer;

    fn poll_ready(&mut self, _: &mut Context<'_>) -> Poll<Result<(), Infallible>> {
        // The inner service is always ready but after `exit`, which never reaches it. An error
        // here would stop the framework's reading loop for good.
        Poll::Ready(Ok(()))
    }

    fn call(&mut self, request: Request) -> Answer {
        if self.ending.has_ended() {
            return nothing();
        }
        let request = match request.method() {
            "exit" => {
                self.ending.end(Reason::Exit);
                return nothing();
            }
            "initialize" => {
                self.read_initialize(request.params());
                with_params(request, Some(json!({ "capabilities": {} })))
            }
            // Clients send null, an empty object or nothing with these two; the framework takes
            // one form each.
            "initialized" => with_params(request, Some(json!({}))),
            "shutdown" => {
                self.ending.shutdown_received();
                with_params(request, None)
            }
            _ => {
                self.report_unreadable_document(&request);
                request
            }
        };
        let id = request.id().cloned();
        let method = request.method().to_owned();
        let handler = match catch(|| self.inner.call(request)) {
            Ok(handler) => handler,
            Err(panic) => return Box::pin(future::ready(Ok(failed(id, &method, &*panic)))),
        };
        let mut handler = Box::pin(contained(handler, id, method));
        match handler
            .as_mut()
            .poll(&mut Context::from_waker(Waker::noop()))
        {
            Poll::Ready(response) => Box::pin(future::ready(Ok(response))),
            Poll::Pending => Box::pin(async { Ok(handler.await) }),
        }
    }
}

impl<S, L: Listener> Guarded<S, L> {
    /// Hands the client's own JSON to the listener. The framework gets a plain request instead,
    /// because its types refuse a whole `initialize` for one value that they do not know, and
    /// read `workspace.diagnostics` under another name.
    fn read_initialize(&self, params: Option<&Value>) {
        if let Err(panic) = catch(|| self.listener.initialize(params.unwrap_or(&Value::Null))) {
            error!(
                reason = message(&*panic),
                "reading the client's capabilities failed"
            );
        }
    }

    fn report_unreadable_document(&self, request: &Request) {
        let params = request.params().unwrap_or(&Value::Null);
        let problem = match request.method() {
            "textDocument/didOpen" => DidOpenTextDocumentParams::deserialize(params).err(),
            "textDocument/didChange" => DidChangeTextDocumentParams::deserialize(params).err(),
            "textDocument/didClose" => DidCloseTextDocumentParams::deserialize(params).err(),
            "textDocument/didSave" => DidSaveTextDocumentParams::deserialize(params).err(),
            _ => None,
        };
        let Some(problem) = problem else { return };
        warn!(method = request.method(), %problem, "cannot read a notification");
        if let Some(uri) = params.pointer("/textDocument/uri").and_then(Value::as_str)
            && let Err(panic) = catch(|| self.listener.document_lost(uri))
        {
            error!(
                reason = message(&*panic),
                "marking a document as lost failed"
            );
        }
    }
}

/// The same request with other parameters.
pub(crate) fn with_params(request: Request, params: Option<Value>) -> Request {
    let (method, id, _) = request.into_parts();
    let mut changed = Request::build(method);
    if let Some(params) = params {
        changed = changed.params(params);
    }
    if let Some(id) = id {
        changed = changed.id(id);
    }
    changed.finish()
}

fn nothing() -> Answer {
    Box::pin(future::ready(Ok(None)))
}

/// What a panic leaves behind.
pub(crate) type Panic = Box<dyn Any + Send>;

fn catch<T>(f: impl FnOnce() -> T) -> Result<T, Panic> {
    panic::catch_unwind(AssertUnwindSafe(f))
}

/// Runs a handler; a panic in it becomes its answer.
async fn contained<F, E>(handler: F, id: Option<Id>, method: String) -> Option<Response>
where
    F: Future<Output = Result<Option<Response>, E>>,
{
    match catch_async(handler).await {
        Ok(answer) => answer.ok().flatten(),
        Err(panic) => failed(id, &method, &*panic),
    }
}

/// Runs a future; a panic in it is an error.
pub(crate) async fn catch_async<F: Future>(future: F) -> Result<F::Output, Panic> {
    let mut future = pin!(future);
    std::future::poll_fn(|context| match catch(|| future.as_mut().poll(context)) {
        Ok(polled) => polled.map(Ok),
        Err(panic) => Poll::Ready(Err(panic)),
    })
    .await
}

/// Logs a panic and answers the request, if it was one, with an internal error.
fn failed(id: Option<Id>, method: &str, panic: &(dyn Any + Send)) -> Option<Response> {
    let reason = message(panic);
    error!(method, reason, "a handler panicked");
    let mut error = Error::internal_error();
    error.message =
        format!("{method} failed in the server ({reason}); the notes are unchanged").into();
    id.map(|id| Response::from_error(id, error))
}

/// What a panic said.
pub(crate) fn message(panic: &(dyn Any + Send)) -> &str {
    let owned = panic.downcast_ref::<String>().map(String::as_str);
    owned
        .or_else(|| panic.downcast_ref::<&str>().copied())
        .unwrap_or("no message")
}
