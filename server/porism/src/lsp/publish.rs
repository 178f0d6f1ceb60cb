//! Telling the client what is amiss: in the background, once for a burst of changes.
//!
//! A client that can is left to ask for diagnostics, and told when to ask again; any other is
//! sent them. Never both, or it would show them twice.

use std::collections::hash_map::DefaultHasher;
use std::collections::{BTreeMap, BTreeSet};
use std::hash::{Hash, Hasher};
use std::sync::Arc;
use std::time::Duration;

use ide::FilePath;
use tokio::sync::Notify;
use tokio::time::Instant;
use tower_lsp::lsp_types::notification::PublishDiagnostics;
use tower_lsp::lsp_types::request::{CodeLensRefresh, WorkspaceDiagnosticRefresh};
use tower_lsp::lsp_types::{Diagnostic, PublishDiagnosticsParams, Range, Url};
use tracing::{debug, error};

use super::checks::{Checked, Checks};
use super::client::{Conversation, Editor};
use super::documents::OpenDocuments;
use super::queue::Queue;
use super::service::{catch_async, message};

/// The least time between two calls to ask again.
const REFRESH: Duration = Duration::from_secs(1);

/// How long nothing is to change before findings are sent again that only point to other bytes of
/// a file in which somebody types.
const PAUSE: Duration = Duration::from_millis(300);

/// How long the client may take to answer such a call.
const PATIENCE: Duration = Duration::from_secs(20);

/// Publishes for as long as the session lasts.
pub(crate) async fn run(editor: Editor, queue: Queue, checks: Checks, changed: Arc<Notify>) {
    let mut publisher = Publisher::default();
    let mut lenses_due: Option<Instant> = None;
    let mut diagnostics_due: Option<Instant> = None;
    // When the files are due that wait for a pause.
    let mut pause_over: Option<Instant> = None;
    loop {
        let dues = [lenses_due, diagnostics_due, pause_over];
        let due = dues.into_iter().flatten().min();
        let in_pause = tokio::select! {
            () = changed.notified() => false,
            () = sleep_until(due) => {
                let now = Instant::now();
                let lenses = lenses_due.take_if(|due| *due <= now).is_some();
                let diagnostics = diagnostics_due.take_if(|due| *due <= now).is_some();
                if lenses || diagnostics {
                    editor.converse(move |client| refresh(client, lenses, diagnostics));
                }
                if pause_over.take_if(|due| *due <= now).is_none() {
                    continue;
                }
                true
            }
        };
        match catch_async(checks.catch_up(&queue)).await {
            Ok(Ok(mut checked)) => {
                let refresh = publisher.round(&editor, &mut checked, in_pause).await;
                let now = Instant::now();
                if refresh.lenses {
                    lenses_due.get_or_insert(now + REFRESH);
                }
                if refresh.diagnostics {
                    diagnostics_due.get_or_insert(now + REFRESH);
                }
                pause_over = (!publisher.waiting.is_empty()).then(|| now + PAUSE);
            }
            Ok(Err(_)) => error!("the notebook does not answer"),
            Err(panic) => error!(reason = message(&*panic), "checking panicked"),
        }
    }
}

async fn sleep_until(due: Option<Instant>) {
    match due {
        Some(due) => tokio::time::sleep_until(due).await,
        None => std::future::pending().await,
    }
}

async fn refresh(client: Conversation, lenses: bool, diagnostics: bool) {
    // What the client does not refresh it shows as it was: nothing to mend here.
    if lenses {
        let _ = client.ask::<CodeLensRefresh>((), PATIENCE).await;
    }
    if diagnostics {
        let _ = client.ask::<WorkspaceDiagnosticRefresh>((), PATIENCE).await;
    }
}

/// What the client is to ask for again.
#[derive(Debug, PartialEq)]
struct Refresh {
    lenses: bool,
    diagnostics: bool,
}

/// What the client was told.
#[derive(Default)]
struct Publisher {
    /// The open documents at the last round.
    documents: OpenDocuments,
    /// What was last sent of each file.
    sent: BTreeMap<FilePath, Sent>,
    /// Files whose findings only point to other bytes of a file. While somebody types in that one
    /// they wait for a pause: there may be many, and what they say is the same.
    waiting: BTreeSet<FilePath>,
}

struct Sent {
    url: Url,
    version: Option<i32>,
    empty: bool,
    hash: u64,
}

impl Publisher {
    /// One round, from one state of the notebook.
    async fn round(&mut self, editor: &Editor, checked: &mut Checked, in_pause: bool) -> Refresh {
        let facts = editor.facts();
        let lenses = checked.take_standing_touched() && facts.refreshes_lenses;
        let mut files = checked.take_touched();
        self.waiting.extend(checked.take_pointing());
        if in_pause {
            files.append(&mut self.waiting);
        } else {
            self.waiting.retain(|path| !files.contains(path));
        }
        let documents = checked.snapshot.documents.clone();
        let before = std::mem::replace(&mut self.documents, documents.clone());
        if facts.pulls_diagnostics {
            for (path, document) in documents.iter() {
                let before = before.get(path);
                if before.is_none_or(|before| before.version != document.version) {
                    // The client asks by itself about a document that it changed.
                    files.remove(path);
                } else if before.is_some_and(|before| before.step != document.step) {
                    files.insert(path.clone());
                }
            }
            return Refresh {
                lenses,
                diagnostics: !files.is_empty(),
            };
        }
        // Documents that were opened, changed, set aside or closed.
        let changed = |path: &&FilePath| documents.get(*path) != before.get(*path);
        files.extend(
            documents
                .keys()
                .chain(before.keys())
                .filter(changed)
                .cloned(),
        );
        let mut messages = Vec::new();
        for path in files {
            self.collect(checked, &path, &mut messages);
        }
        debug!(messages = messages.len(), "publishing");
        editor.tell_all::<PublishDiagnostics>(messages).await;
        Refresh {
            lenses,
            diagnostics: false,
        }
    }

    /// Adds the messages that bring the client up to date with a file. Of an open document it is
    /// always told, so that it knows that the version was checked.
    fn collect(
        &mut self,
        checked: &Checked,
        path: &FilePath,
        messages: &mut Vec<PublishDiagnosticsParams>,
    ) {
        let Some(url) = checked.snapshot.url(path) else {
            return;
        };
        let version = checked.snapshot.version(path);
        let diagnostics = checked.diagnostics(path);
        let (empty, hash) = (diagnostics.is_empty(), fingerprint(&diagnostics));
        let new = Sent {
            url: url.clone(),
            version,
            empty,
            hash,
        };
        let (mut told_empty, mut told) = (true, None);
        match self.sent.insert(path.clone(), new) {
            // The file has another name now than when the client was told of it.
            Some(old) if old.url != url && !old.empty => {
                messages.push(PublishDiagnosticsParams::new(old.url, Vec::new(), None));
            }
            Some(old) if old.url == url => (told_empty, told) = (old.empty, Some(old)),
            _ => {}
        }
        let known = told.is_some_and(|old| old.hash == hash && old.version == version);
        if known || (version.is_none() && empty && told_empty) {
            return;
        }
        messages.push(PublishDiagnosticsParams::new(url, diagnostics, version));
    }
}

/// Tells lists of diagnostics from each other: hashes all that [`super::convert::diagnostic`]
/// fills in.
pub(crate) fn fingerprint(diagnostics: &[Diagnostic]) -> u64 {
    let mut hasher = DefaultHasher::new();
    for diagnostic in diagnostics {
        hash_range(diagnostic.range, &mut hasher);
        diagnostic.message.hash(&mut hasher);
        let plain = (&diagnostic.severity, &diagnostic.code, &diagnostic.tags);
        format!("{plain:?}").hash(&mut hasher);
        let related = diagnostic.related_information.iter().flatten();
        for related in related {
            related.location.uri.hash(&mut hasher);
            hash_range(related.location.range, &mut hasher);
            related.message.hash(&mut hasher);
        }
    }
    hasher.finish()
}

fn hash_range(range: Range, hasher: &mut DefaultHasher) {
    for place in [range.start, range.end] {
        (place.line, place.character).hash(hasher);
    }
}
