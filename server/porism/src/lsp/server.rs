//! The handlers, one for each message of the protocol that the server understands.
//!
//! A handler puts its question into the queue before its first pause, and works out the answer
//! from a snapshot on a thread beside those that read and write.

use std::sync::{Arc, OnceLock};
use std::time::Duration;

use serde_json::Value;
use tokio::sync::mpsc::Sender;
use tokio::sync::{Notify, Semaphore};
use tower_lsp::jsonrpc::{Error, Result};
use tower_lsp::lsp_types::request::RegisterCapability;
use tower_lsp::lsp_types::{
    CodeActionParams, CodeActionResponse, CodeLens, CodeLensParams, CompletionParams,
    CompletionResponse, DidChangeConfigurationParams, DidChangeTextDocumentParams,
    DidChangeWatchedFilesParams, DidChangeWorkspaceFoldersParams, DidCloseTextDocumentParams,
    DidOpenTextDocumentParams, DidSaveTextDocumentParams, DocumentDiagnosticParams,
    DocumentDiagnosticReportResult, DocumentSymbolParams, DocumentSymbolResponse,
    ExecuteCommandParams, FoldingRange, FoldingRangeParams, GotoDefinitionParams,
    GotoDefinitionResponse, Hover, HoverParams, InitializeParams, InitializeResult,
    InitializedParams, InlayHint, InlayHintParams, Location, NumberOrString, ReferenceParams,
    RegistrationParams, SymbolInformation, WorkDoneProgressCancelParams, WorkspaceDiagnosticParams,
    WorkspaceDiagnosticReportResult, WorkspaceSymbolParams,
};
use tower_lsp::{Client, LanguageServer};
use tracing::{error, info};

use super::checks::{Checked, Checks, work_in_background};
use super::client::{ClientFacts, Editor};
use super::ending::Ending;
use super::exam_clock::{Cancelled, ExamClock};
use super::pull::Report;
use super::queue::{Command, Queue};
use super::service::Listener;
use super::snapshot::{Snapshot, path_of};
use super::uri::Uri;
use super::{capabilities, commands, convert, publish, pull};

/// How long the client may take to answer what needs no person.
const PATIENCE: Duration = Duration::from_secs(20);

/// The server. A clone is the same server.
#[derive(Clone)]
pub(crate) struct Server {
    editor: Editor,
    ending: Ending,
    /// There from `initialize` on.
    queue: Arc<OnceLock<Queue>>,
    checks: Checks,
    changed: Arc<Notify>,
    cancelled: Cancelled,
    /// How many answers are worked out at a time.
    turns: Arc<Semaphore>,
}

impl Server {
    /// A server for this client; `bodies` as for [`Editor::new`].
    pub(crate) fn new(client: Client, bodies: Sender<String>, ending: Ending) -> Self {
        let cores = std::thread::available_parallelism().map_or(2, usize::from);
        Self {
            editor: Editor::new(client, bodies),
            ending,
            queue: Arc::default(),
            checks: Checks::default(),
            changed: Arc::default(),
            cancelled: Cancelled::default(),
            turns: Arc::new(Semaphore::new(cores.max(2))),
        }
    }

    /// Shows the progress of a clock no longer: the client's user does not want to see it.
    pub(crate) async fn cancel_progress(&self, params: WorkDoneProgressCancelParams) {
        if let NumberOrString::String(token) = params.token {
            self.cancelled.add(token);
        }
    }

    fn put(&self, command: Command) {
        match self.queue.get() {
            Some(queue) => queue.put(command),
            None => error!("a message before `initialize`"),
        }
    }

    fn queue(&self) -> Result<&Queue> {
        self.queue.get().ok_or_else(Error::internal_error)
    }

    /// Works out an answer from the state after all messages that came before.
    async fn answer<T, W>(&self, work: W) -> Result<T>
    where
        T: Send + 'static,
        W: FnOnce(&Snapshot, &ClientFacts) -> T + Send + 'static,
    {
        let snapshot = self
            .queue()?
            .look()
            .await
            .map_err(|_| Error::internal_error())?;
        self.work(snapshot, work).await
    }

    /// Works out an answer that needs findings.
    async fn answer_checked<T, W>(&self, work: W) -> Result<T>
    where
        T: Send + 'static,
        W: FnOnce(&Checked, &ClientFacts) -> T + Send + 'static,
    {
        let checked = self.checks.catch_up(self.queue()?).await?;
        self.work(checked, work).await
    }

    /// Works on a thread beside those that read and write.
    async fn work<S, T, W>(&self, state: S, work: W) -> Result<T>
    where
        S: Send + 'static,
        T: Send + 'static,
        W: FnOnce(&S, &ClientFacts) -> T + Send + 'static,
    {
        let _turn = self
            .turns
            .acquire()
            .await
            .map_err(|_| Error::internal_error())?;
        let editor = self.editor.clone();
        match tokio::task::spawn_blocking(move || work(&state, editor.facts())).await {
            Ok(answer) => Ok(answer),
            Err(failed) => match failed.try_into_panic() {
                // The layer around the handlers makes an answer of it.
                Ok(panic) => std::panic::resume_unwind(panic),
                Err(_) => Err(Error::internal_error()),
            },
        }
    }
}

impl Listener for Server {
    fn initialize(&self, params: &Value) {
        self.editor.introduce(params);
    }

    fn document_lost(&self, uri: &str) {
        if let Some(uri) = Uri::parse(uri) {
            self.put(Command::Lose { uri });
        }
    }
}

#[tower_lsp::async_trait]
impl LanguageServer for Server {
    async fn initialize(&self, _: InitializeParams) -> Result<InitializeResult> {
        let facts = self.editor.facts();
        info!(client = facts.name, encoding = ?facts.encoding, "session starts");
        if self.queue.get().is_none() {
            let queue = Queue::start(self.editor.clone(), self.changed.clone());
            let queue = queue.map_err(|problem| {
                error!(%problem, "cannot start the notebook's thread");
                Error::internal_error()
            })?;
            let (editor, checks) = (self.editor.clone(), self.checks.clone());
            tokio::spawn(work_in_background(checks.clone(), self.changed.clone()));
            tokio::spawn(publish::run(
                editor,
                queue.clone(),
                checks,
                self.changed.clone(),
            ));
            let clock = ExamClock::new(self.editor.clone(), queue.clone(), self.cancelled.clone());
            tokio::spawn(clock.run());
            // `initialize` succeeds once.
            let _ = self.queue.set(queue);
        }
        if let Some(id) = facts.process_id {
            tokio::spawn(self.ending.clone().watch_client(id));
        }
        Ok(capabilities::answer(facts))
    }

    async fn initialized(&self, _: InitializedParams) {
        let facts = self.editor.facts();
        self.put(Command::Folders {
            added: facts.folders.clone(),
            removed: Vec::new(),
        });
        let registrations = capabilities::registrations(facts);
        if !registrations.is_empty() {
            self.editor.converse(|client| async move {
                let params = RegistrationParams { registrations };
                // The client says in the log what it refuses; the server does without.
                let _ = client.ask::<RegisterCapability>(params, PATIENCE).await;
            });
        }
    }

    async fn shutdown(&self) -> Result<()> {
        Ok(())
    }

    async fn did_open(&self, params: DidOpenTextDocumentParams) {
        let document = params.text_document;
        let (uri, version) = (document.uri.into(), document.version);
        self.put(Command::Open {
            uri,
            version,
            text: document.text,
        });
    }

    async fn did_change(&self, params: DidChangeTextDocumentParams) {
        let (document, changes) = (params.text_document, params.content_changes);
        let (uri, version) = (document.uri.into(), document.version);
        self.put(Command::Change {
            uri,
            version,
            changes,
        });
    }

    async fn did_save(&self, params: DidSaveTextDocumentParams) {
        self.put(Command::Save {
            uri: params.text_document.uri.into(),
            text: params.text,
        });
    }

    async fn did_close(&self, params: DidCloseTextDocumentParams) {
        self.put(Command::Close {
            uri: params.text_document.uri.into(),
        });
    }

    async fn did_change_watched_files(&self, params: DidChangeWatchedFilesParams) {
        let uris = params
            .changes
            .into_iter()
            .map(|change| change.uri.into())
            .collect();
        self.put(Command::Disk { uris });
    }

    async fn did_change_workspace_folders(&self, params: DidChangeWorkspaceFoldersParams) {
        let uris = |folders: Vec<tower_lsp::lsp_types::WorkspaceFolder>| {
            folders
                .into_iter()
                .map(|folder| folder.uri.into())
                .collect()
        };
        let (added, removed) = (uris(params.event.added), uris(params.event.removed));
        self.put(Command::Folders { added, removed });
    }

    async fn did_change_configuration(&self, _: DidChangeConfigurationParams) {
        // There is nothing to set, but clients tell of their settings anyway.
    }

    async fn hover(&self, params: HoverParams) -> Result<Option<Hover>> {
        let at = params.text_document_position_params;
        self.answer(move |snapshot, client| {
            let (path, offset) = snapshot.place(&at)?;
            let hover = ide::hover::hover(&snapshot.analysis, &path, offset)?;
            Some(convert::hover(snapshot, client, &path, &hover))
        })
        .await
    }

    async fn completion(&self, params: CompletionParams) -> Result<Option<CompletionResponse>> {
        let at = params.text_document_position;
        self.answer(move |snapshot, _| {
            let (path, offset) = snapshot.place(&at)?;
            let items = ide::completion::completion(&snapshot.analysis, &path, offset);
            Some(CompletionResponse::Array(convert::completions(
                snapshot, &path, items,
            )))
        })
        .await
    }

    async fn goto_definition(
        &self,
        params: GotoDefinitionParams,
    ) -> Result<Option<GotoDefinitionResponse>> {
        let at = params.text_document_position_params;
        self.answer(move |snapshot, _| {
            let (path, offset) = snapshot.place(&at)?;
            let found = ide::definition::definition(&snapshot.analysis, &path, offset)?;
            Some(GotoDefinitionResponse::Array(convert::definition(
                snapshot, &found,
            )))
        })
        .await
    }

    async fn references(&self, params: ReferenceParams) -> Result<Option<Vec<Location>>> {
        let at = params.text_document_position;
        let with_definitions = params.context.include_declaration;
        self.answer(move |snapshot, _| {
            let (path, offset) = snapshot.place(&at)?;
            let analysis = &snapshot.analysis;
            let found = ide::references::references(analysis, &path, offset, with_definitions);
            let location = |one: &ide::references::Mention| snapshot.location(&one.path, one.span);
            Some(found.iter().filter_map(location).collect())
        })
        .await
    }

    async fn document_symbol(
        &self,
        params: DocumentSymbolParams,
    ) -> Result<Option<DocumentSymbolResponse>> {
        let url = params.text_document.uri;
        self.answer(move |snapshot, _| {
            let path = snapshot.path(&url)?;
            let symbols = ide::document_symbols::document_symbols(&snapshot.analysis, &path);
            let symbols = convert::document_symbols(snapshot, &path, symbols);
            Some(DocumentSymbolResponse::Nested(symbols))
        })
        .await
    }

    async fn symbol(
        &self,
        params: WorkspaceSymbolParams,
    ) -> Result<Option<Vec<SymbolInformation>>> {
        self.answer(move |snapshot, _| {
            let found =
                ide::workspace_symbols::workspace_symbols(&snapshot.analysis, &params.query);
            Some(convert::workspace_symbols(snapshot, found))
        })
        .await
    }

    async fn folding_range(&self, params: FoldingRangeParams) -> Result<Option<Vec<FoldingRange>>> {
        let url = params.text_document.uri;
        self.answer(move |snapshot, _| {
            let path = snapshot.path(&url)?;
            let folds = ide::folding_ranges::folding_ranges(&snapshot.analysis, &path);
            Some(convert::folding_ranges(snapshot, &path, &folds))
        })
        .await
    }

    async fn code_action(&self, params: CodeActionParams) -> Result<Option<CodeActionResponse>> {
        let (url, range, only) = (params.text_document.uri, params.range, params.context.only);
        self.answer_checked(move |checked, client| {
            let snapshot = &checked.snapshot;
            let path = snapshot.path(&url)?;
            let span = snapshot.span(&path, range)?;
            let findings = checked.findings(&path);
            let actions =
                ide::code_actions::code_actions(&snapshot.analysis, &path, span, &findings);
            let wanted = actions
                .iter()
                .filter(|one| convert::is_wanted(only.as_deref(), one.kind));
            let action = |one| convert::code_action(snapshot, client, one, &findings);
            Some(wanted.filter_map(action).collect())
        })
        .await
    }

    async fn code_lens(&self, params: CodeLensParams) -> Result<Option<Vec<CodeLens>>> {
        let url = params.text_document.uri;
        self.answer(move |snapshot, _| {
            let path = snapshot.path(&url)?;
            let lenses = ide::code_lenses::code_lenses(&snapshot.analysis, &path);
            Some(convert::code_lenses(snapshot, &path, &lenses))
        })
        .await
    }

    async fn inlay_hint(&self, params: InlayHintParams) -> Result<Option<Vec<InlayHint>>> {
        let (url, range) = (params.text_document.uri, params.range);
        self.answer(move |snapshot, _| {
            let path = snapshot.path(&url)?;
            let part = snapshot.span(&path, range)?;
            let hints = ide::inlay_hints::inlay_hints(&snapshot.analysis, &path, part);
            Some(convert::inlay_hints(snapshot, &path, hints))
        })
        .await
    }

    async fn execute_command(&self, params: ExecuteCommandParams) -> Result<Option<Value>> {
        let command = commands::from_lsp(&params);
        if let Some(command) = command.map_err(|bad| Error::invalid_params(bad.to_string()))? {
            let (editor, arriving) = (self.editor.clone(), self.queue()?.look());
            self.editor
                .converse(|client| commands::carry_out(client, editor, arriving, command));
        }
        Ok(None)
    }

    async fn diagnostic(
        &self,
        params: DocumentDiagnosticParams,
    ) -> Result<DocumentDiagnosticReportResult> {
        let url = params.text_document.uri;
        self.answer_checked(move |checked, _| {
            let report = Report::of(checked, &path_of(&url.into()), params.previous_result_id);
            DocumentDiagnosticReportResult::Report(report.of_document())
        })
        .await
    }

    async fn workspace_diagnostic(
        &self,
        params: WorkspaceDiagnosticParams,
    ) -> Result<WorkspaceDiagnosticReportResult> {
        self.answer_checked(move |checked, _| {
            let report = pull::of_workspace(checked, params.previous_result_ids);
            WorkspaceDiagnosticReportResult::Report(report)
        })
        .await
    }
}
