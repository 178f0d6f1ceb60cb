//! What the client can do, and how it is asked.
//!
//! A handler never waits for the client: with every handler waiting, nobody would read the
//! replies. So requests to the client are possible in a [`Conversation`] only, and that runs in
//! a task of its own.

use std::future::Future;
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};
use std::time::Duration;

use serde::{Deserialize, Serialize};
use serde_json::Value;
use tokio::runtime::Handle;
use tokio::sync::mpsc::Sender;
use tokio::sync::oneshot;
use tower_lsp::Client;
use tower_lsp::jsonrpc;
use tower_lsp::lsp_types::notification::{Notification, ShowMessage};
use tower_lsp::lsp_types::request::Request;
use tower_lsp::lsp_types::{
    MessageType, PositionEncodingKind, ShowMessageParams, Url, WorkspaceFolder,
};
use tracing::{error, warn};

use super::position::Encoding;
use super::uri::Uri;

/// What `initialize` says of the client. Capabilities are hints: some clients do what they do
/// not announce, so a feature is withheld only where sending it would do harm.
#[derive(Clone, Debug, Default)]
pub(crate) struct ClientFacts {
    /// Name and version, for the log.
    pub(crate) name: String,
    /// The process that the server must not outlive.
    pub(crate) process_id: Option<u32>,
    /// The folders of the workspace.
    pub(crate) folders: Vec<Uri>,
    /// How positions are counted.
    pub(crate) encoding: Encoding,
    /// Takes a workspace edit that creates a file.
    pub(crate) creates_files: bool,
    /// Takes edits of a document at a given version.
    pub(crate) versioned_edits: bool,
    /// Shows a document when asked.
    pub(crate) shows_documents: bool,
    /// Shows Markdown in a hover.
    pub(crate) hover_markdown: bool,
    /// Asks for diagnostics by itself, and again when told to. A client that cannot be told to
    /// would go on showing what an edit of another file has mended; it is sent them instead.
    pub(crate) pulls_diagnostics: bool,
    /// Asks for code lenses again when told to.
    pub(crate) refreshes_lenses: bool,
    /// Reports changes of files that the server names.
    pub(crate) watches_files: bool,
    /// Shows the progress of what the server does by itself.
    pub(crate) shows_progress: bool,
}

impl ClientFacts {
    /// Reads the parameters of `initialize`, from JSON rather than from the framework's types:
    /// those read `workspace.diagnostics` under another name, as one of the clients writes it,
    /// and refuse the whole for one value that they do not know.
    pub(crate) fn read(params: &Value) -> Self {
        let at = |path: &str| params.pointer(path);
        let says = |path: &str| at(path).and_then(Value::as_bool).unwrap_or(false);
        let lists = |path: &str, item: &str| {
            let list = at(path).and_then(Value::as_array);
            list.is_some_and(|list| list.iter().any(|value| value == item))
        };
        let text = |path: &str| at(path).and_then(Value::as_str).unwrap_or_default();
        let offered: Option<Vec<PositionEncodingKind>> =
            at("/capabilities/general/positionEncodings")
                .and_then(|list| Deserialize::deserialize(list).ok());
        let name = format!(
            "{} {}",
            text("/clientInfo/name"),
            text("/clientInfo/version")
        );
        Self {
            name: name.trim().to_owned(),
            process_id: at("/processId")
                .and_then(Value::as_u64)
                .and_then(|id| id.try_into().ok()),
            folders: folders(params),
            encoding: Encoding::negotiate(offered.as_deref()),
            creates_files: lists(
                "/capabilities/workspace/workspaceEdit/resourceOperations",
                "create",
            ),
            versioned_edits: says("/capabilities/workspace/workspaceEdit/documentChanges"),
            shows_documents: says("/capabilities/window/showDocument/support"),
            hover_markdown: lists("/capabilities/textDocument/hover/contentFormat", "markdown"),
            pulls_diagnostics: at("/capabilities/textDocument/diagnostic")
                .is_some_and(Value::is_object)
                && (says("/capabilities/workspace/diagnostics/refreshSupport")
                    || says("/capabilities/workspace/diagnostic/refreshSupport")),
            refreshes_lenses: says("/capabilities/workspace/codeLens/refreshSupport"),
            shows_progress: says("/capabilities/window/workDoneProgress"),
            watches_files: says(
                "/capabilities/workspace/didChangeWatchedFiles/dynamicRegistration",
            ),
        }
    }

    /// How a file that the server wrote or drew comes before the user.
    pub(crate) fn opening(&self) -> Opening {
        if self.creates_files {
            Opening::CreateInEditor
        } else if self.shows_documents {
            Opening::WriteAndShow
        } else {
            Opening::EditInEditor
        }
    }
}

/// The folders of the workspace, from the newest of the three fields that name them.
fn folders(params: &Value) -> Vec<Uri> {
    let listed: Option<Vec<WorkspaceFolder>> = params
        .get("workspaceFolders")
        .and_then(|list| Deserialize::deserialize(list).ok());
    if let Some(listed) = listed.filter(|listed| !listed.is_empty()) {
        return listed.into_iter().map(|folder| folder.uri.into()).collect();
    }
    let root = params
        .get("rootUri")
        .and_then(Value::as_str)
        .and_then(|uri| Url::parse(uri).ok());
    let path = || {
        params
            .get("rootPath")
            .and_then(Value::as_str)
            .map(PathBuf::from)
    };
    let root = root.map(Uri::from).or_else(|| Uri::from_path(&path()?));
    root.into_iter().collect()
}

/// The way to bring a new file before the user. No single way works in every client.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Opening {
    /// One edit that creates the file and fills it: the text stays unsaved and can be undone.
    CreateInEditor,
    /// The server writes the file and asks the client to show it: for clients that reject an
    /// edit with a file in it.
    WriteAndShow,
    /// An edit of a file that is not there yet, for clients that know nothing else.
    EditInEditor,
}

/// The client, as handlers see it.
#[derive(Clone)]
pub(crate) struct Editor {
    client: Client,
    /// The way past the framework, for long notifications.
    bodies: Sender<String>,
    /// Where conversations run: the thread that starts one may be any.
    runtime: Handle,
    facts: Arc<OnceLock<ClientFacts>>,
}

impl Editor {
    /// A client of which nothing is known yet, and where the transport takes messages that are JSON
    /// already. Conversations run where this is called.
    pub(crate) fn new(client: Client, bodies: Sender<String>) -> Self {
        Self {
            client,
            bodies,
            runtime: Handle::current(),
            facts: Arc::default(),
        }
    }

    /// Keeps what `initialize` says. A second `initialize` is refused and changes nothing.
    pub(crate) fn introduce(&self, params: &Value) {
        self.facts.get_or_init(|| ClientFacts::read(params));
    }

    /// What the client can do: nothing before `initialize`.
    pub(crate) fn facts(&self) -> &ClientFacts {
        static NOTHING: OnceLock<ClientFacts> = OnceLock::new();
        self.facts
            .get()
            .unwrap_or_else(|| NOTHING.get_or_init(ClientFacts::default))
    }

    /// Starts a conversation with the client beside the handlers.
    pub(crate) fn converse<F, C>(&self, conversation: C)
    where
        C: FnOnce(Conversation) -> F,
        F: Future<Output = ()> + Send + 'static,
    {
        self.runtime
            .spawn(conversation(Conversation(self.client.clone())));
    }

    /// Sends notifications in this order, and waits until they are under way: not for handlers, and
    /// only after `initialized`.
    ///
    /// The framework would make a tree of each before it writes it, which takes several times as
    /// long as to write it when it has a thousand findings.
    pub(crate) async fn tell_all<N: Notification>(&self, all: Vec<N::Params>) {
        for params in &all {
            let body = Body {
                jsonrpc: "2.0",
                method: N::METHOD,
                params,
            };
            match serde_json::to_string(&body) {
                // The session may be over: nobody reads it then.
                Ok(body) => drop(self.bodies.send(body).await),
                Err(problem) => error!(%problem, "a notification that is no JSON"),
            }
        }
    }

    /// Shows a message to the user.
    pub(crate) fn show(&self, kind: MessageType, message: impl Into<String>) {
        let message = message.into();
        self.converse(|client| async move { client.show(kind, message).await });
    }
}

/// A notification as it is written (JSON-RPC 2.0, section 4.1).
#[derive(Serialize)]
struct Body<'a, P> {
    jsonrpc: &'static str,
    method: &'static str,
    params: &'a P,
}

/// Why a question to the client has no answer.
#[derive(Debug, PartialEq)]
pub(crate) enum NoAnswer {
    /// The client refused.
    Refused(jsonrpc::Error),
    /// The client said nothing for as long as it was given.
    Silent,
}

impl std::fmt::Display for NoAnswer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Refused(error) => write!(f, "the editor refused: {}", error.message),
            Self::Silent => f.write_str("the editor did not answer"),
        }
    }
}

/// The client, as a background task sees it.
#[derive(Clone)]
pub(crate) struct Conversation(Client);

impl Conversation {
    /// Sends a request and waits for its answer, but not longer than `patience`.
    pub(crate) async fn ask<R>(
        &self,
        params: R::Params,
        patience: Duration,
    ) -> Result<R::Result, NoAnswer>
    where
        R: Request,
        R::Params: Send + 'static,
        R::Result: Send + 'static,
    {
        let (answer, arrival) = oneshot::channel();
        let client = self.0.clone();
        // The framework panics on a reply for which nobody waits, so this task waits on, however
        // late the reply is.
        tokio::spawn(async move {
            // Nobody listens any more when the reply is late.
            let _ = answer.send(client.send_request::<R>(params).await);
        });
        let outcome = match tokio::time::timeout(patience, arrival).await {
            Ok(Ok(answer)) => answer.map_err(NoAnswer::Refused),
            Ok(Err(_)) | Err(_) => Err(NoAnswer::Silent),
        };
        if let Err(problem) = &outcome {
            warn!(method = R::METHOD, %problem, "no answer");
        }
        outcome
    }

    /// Sends a notification.
    pub(crate) async fn tell<N: Notification>(&self, params: N::Params) {
        self.0.send_notification::<N>(params).await;
    }

    /// Shows a message to the user.
    pub(crate) async fn show(&self, typ: MessageType, message: String) {
        self.tell::<ShowMessage>(ShowMessageParams { typ, message })
            .await;
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;
    use tower_lsp::lsp_types::request::WorkspaceConfiguration;
    use tower_lsp::lsp_types::{
        ConfigurationItem, ConfigurationParams, InitializeParams, InitializeResult,
    };
    use tower_lsp::{LanguageServer, LspService};

    use super::*;

    /// The parameters with which a real client introduced itself.
    fn profile(name: &str) -> ClientFacts {
        let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../tests/clients");
        let text = std::fs::read_to_string(format!("{folder}/{name}.json")).unwrap();
        ClientFacts::read(&serde_json::from_str(&text).unwrap())
    }

    /// One line: encoding, opening, and the abilities that are there.
    fn check(name: &str, expected: &str) {
        let facts = profile(name);
        let abilities = [
            ("show", facts.shows_documents),
            ("hover", facts.hover_markdown),
            ("pull", facts.pulls_diagnostics),
            ("lenses", facts.refreshes_lenses),
            ("watch", facts.watches_files),
            ("versions", facts.versioned_edits),
        ];
        let mut line = format!("{:?} {:?}", facts.encoding, facts.opening());
        for (ability, there) in abilities {
            if there {
                line.push(' ');
                line.push_str(ability);
            }
        }
        assert_eq!(line, expected, "{name}");
        assert_eq!(
            facts.folders,
            [Uri::from(Url::parse("file:///notes").unwrap())],
            "{name}"
        );
        assert!(facts.process_id.is_some(), "{name}");
    }

    #[test]
    fn real_clients_are_known_for_what_they_can_do() {
        check("emacs28.2-eglot1.9", "Utf16 EditInEditor watch versions");
        check(
            "emacs30.1-eglot1.17",
            "Utf8 WriteAndShow show watch versions",
        );
        check("helix-25.01.1", "Utf8 CreateInEditor hover watch versions");
        check(
            "helix-25.07.1",
            "Utf8 CreateInEditor show hover pull watch versions",
        );
        check(
            "kakoune-kaklsp22",
            "Utf8 CreateInEditor hover lenses versions",
        );
        check("kate-22.12.3", "Utf16 EditInEditor hover");
        check("neovim-0.7.2", "Utf16 CreateInEditor hover");
        check("neovim-0.10.4", "Utf16 CreateInEditor show hover");
        check("neovim-0.12-dev", "Utf8 CreateInEditor show hover");
        check(
            "neovim-0.12.4",
            "Utf8 CreateInEditor show hover pull lenses",
        );
        let code = "Utf16 CreateInEditor show hover pull lenses watch versions";
        check("vscode-1.100.3", code);
        check("vscode-1.139.1", code);
    }

    #[test]
    fn a_client_that_says_nothing_can_do_nothing() {
        let facts = ClientFacts::read(&Value::Null);
        assert_eq!(
            (facts.encoding, facts.opening()),
            (Encoding::Utf16, Opening::EditInEditor)
        );
        assert!(facts.folders.is_empty() && facts.process_id.is_none());
    }

    #[test]
    fn values_of_the_wrong_type_count_as_unsaid() {
        let facts = ClientFacts::read(&json!({
            "processId": -4,
            "workspaceFolders": [{"uri": "no uri"}],
            "rootUri": "file:///home/ada/notes",
            "capabilities": {"general": {"positionEncodings": 8}, "window": []},
        }));
        assert_eq!((facts.process_id, facts.encoding), (None, Encoding::Utf16));
        assert_eq!(
            facts.folders,
            [Uri::from(Url::parse("file:///home/ada/notes").unwrap())]
        );
    }

    #[cfg(unix)]
    #[test]
    fn the_root_path_counts_where_nothing_else_is_said() {
        let facts = ClientFacts::read(&json!({"rootPath": "/my notes", "rootUri": null}));
        assert_eq!(facts.folders[0].as_str(), "file:///my%20notes");
    }

    struct Idle(Client);

    #[tower_lsp::async_trait]
    impl LanguageServer for Idle {
        async fn initialize(&self, _: InitializeParams) -> jsonrpc::Result<InitializeResult> {
            Ok(InitializeResult::default())
        }

        async fn shutdown(&self) -> jsonrpc::Result<()> {
            Ok(())
        }
    }

    #[tokio::test(start_paused = true)]
    async fn a_late_reply_harms_nothing() {
        use super::super::ending::Ending;
        use super::super::transport::serve;
        use tokio::io::{AsyncReadExt, AsyncWriteExt};

        struct Deaf;
        impl super::super::service::Listener for Deaf {
            fn initialize(&self, _: &Value) {}
            fn document_lost(&self, _: &str) {}
        }
        let frame = |message: Value| {
            let body = message.to_string();
            format!("Content-Length: {}\r\n\r\n{body}", body.len())
        };
        let (mut input, server_input) = tokio::io::duplex(1 << 16);
        let (server_output, mut output) = tokio::io::duplex(1 << 16);
        let (keep_open, bodies) = tokio::sync::mpsc::channel(1);
        let (service, socket) = LspService::new(Idle);
        let client = service.inner().0.clone();
        let server = tokio::spawn(serve(
            service,
            socket,
            Deaf,
            Ending::new(),
            bodies,
            (server_input, server_output),
        ));
        let start = json!({"jsonrpc": "2.0", "id": 0, "method": "initialize", "params": {}});
        input.write_all(frame(start).as_bytes()).await.unwrap();
        let mut buffer = [0; 4096];
        let _ = output.read(&mut buffer).await.unwrap();

        let editor = Editor::new(client, keep_open);
        let (tell, told) = oneshot::channel();
        editor.converse(|client| async move {
            let items = vec![ConfigurationItem::default()];
            let params = ConfigurationParams { items };
            let answer = client
                .ask::<WorkspaceConfiguration>(params, Duration::from_secs(5))
                .await;
            tell.send(answer).unwrap();
        });
        assert_eq!(told.await.unwrap(), Err(NoAnswer::Silent));
        let reply = json!({"jsonrpc": "2.0", "id": 0, "result": [null]});
        input.write_all(frame(reply).as_bytes()).await.unwrap();
        let stop = json!({"jsonrpc": "2.0", "id": 1, "method": "shutdown"});
        input.write_all(frame(stop).as_bytes()).await.unwrap();
        input
            .write_all(frame(json!({"jsonrpc": "2.0", "method": "exit"})).as_bytes())
            .await
            .unwrap();
        assert_eq!(server.await.unwrap(), 0);
    }
}
