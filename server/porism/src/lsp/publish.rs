//! Telling the client what is amiss: in the background, once for a burst of changes.
//!
//! A client that can is left to ask for diagnostics, and told when to ask again; any other is
//! sent them. Never both, or it would show them twice.

use std::collections::BTreeMap;
use std::collections::hash_map::DefaultHasher;
use std::hash::{Hash, Hasher};
use std::sync::Arc;
use std::time::Duration;

use ide::FilePath;
use tokio::sync::Notify;
use tokio::time::Instant;
use tower_lsp::lsp_types::notification::PublishDiagnostics;
use tower_lsp::lsp_types::request::{CodeLensRefresh, WorkspaceDiagnosticRefresh};
use tower_lsp::lsp_types::{Diagnostic, PublishDiagnosticsParams, Url};
use tracing::{debug, error};

use super::checks::{Checked, Checks};
use super::client::{Conversation, Editor};
use super::queue::Queue;
use super::service::{catch_async, message};

/// The least time between two calls to ask again.
const REFRESH: Duration = Duration::from_secs(1);

/// How long the client may take to answer such a call.
const PATIENCE: Duration = Duration::from_secs(20);

/// What was last sent of a file.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Sent {
    url: Url,
    version: Option<i32>,
    empty: bool,
    hash: u64,
}

/// Publishes for as long as the session lasts.
pub(crate) async fn run(editor: Editor, queue: Queue, checks: Checks, changed: Arc<Notify>) {
    let mut sent = BTreeMap::new();
    let mut lenses_due: Option<Instant> = None;
    let mut diagnostics_due: Option<Instant> = None;
    loop {
        let due = [lenses_due, diagnostics_due].into_iter().flatten().min();
        tokio::select! {
            () = changed.notified() => {
                match catch_async(checks.catch_up(&queue)).await {
                    Ok(Ok(mut checked)) => {
                        let refresh = round(&editor, &mut checked, &mut sent).await;
                        let due = Instant::now() + REFRESH;
                        if refresh.lenses { lenses_due.get_or_insert(due); }
                        if refresh.diagnostics { diagnostics_due.get_or_insert(due); }
                    }
                    Ok(Err(_)) => error!("the notebook does not answer"),
                    Err(panic) => error!(reason = message(&*panic), "checking panicked"),
                }
            }
            () = sleep_until(due) => {
                let now = Instant::now();
                let lenses = lenses_due.take_if(|due| *due <= now).is_some();
                let diagnostics = diagnostics_due.take_if(|due| *due <= now).is_some();
                editor.converse(move |client| refresh(client, lenses, diagnostics));
            }
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
struct Refresh {
    lenses: bool,
    diagnostics: bool,
}

/// One round of publishing, from one state of the notebook.
async fn round(
    editor: &Editor,
    checked: &mut Checked,
    sent: &mut BTreeMap<FilePath, Sent>,
) -> Refresh {
    let facts = editor.facts();
    let lenses = checked.take_standing_touched() && facts.refreshes_lenses;
    let mut files = checked.take_touched();
    if facts.pulls_diagnostics {
        // The client asks by itself about a document that it changed; not about the others.
        let snapshot = &checked.snapshot;
        for (path, document) in snapshot.documents.iter() {
            let version = Some(document.version);
            let new = Sent {
                url: document.uri.clone().into(),
                version,
                empty: false,
                hash: 0,
            };
            if sent.get(path) != Some(&new) {
                sent.insert(path.clone(), new);
                files.remove(path);
            }
        }
        return Refresh {
            lenses,
            diagnostics: !files.is_empty(),
        };
    }
    let snapshot = &checked.snapshot;
    for (path, document) in snapshot.documents.iter() {
        if sent
            .get(path)
            .is_none_or(|sent| sent.version != Some(document.version))
        {
            files.insert(path.clone());
        }
    }
    // A document that was closed may be without a file, and then without findings.
    let closed = |(path, sent): (&FilePath, &Sent)| {
        (sent.version.is_some() && !snapshot.documents.contains_key(path)).then(|| path.clone())
    };
    files.extend(sent.iter().filter_map(closed));
    let mut messages = Vec::new();
    for path in files {
        collect(checked, &path, sent, &mut messages);
    }
    debug!(files = messages.len(), "publishing");
    editor.tell_all::<PublishDiagnostics>(messages).await;
    Refresh {
        lenses,
        diagnostics: false,
    }
}

/// Adds the messages that bring the client up to date with a file.
fn collect(
    checked: &Checked,
    path: &FilePath,
    sent: &mut BTreeMap<FilePath, Sent>,
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
    let old = sent.insert(path.clone(), new.clone());
    if let Some(old) = &old
        && old.url != url
        && !old.empty
    {
        messages.push(PublishDiagnosticsParams::new(
            old.url.clone(),
            Vec::new(),
            None,
        ));
    }
    let shown = old.filter(|old| old.url == url);
    let nothing_new = match &shown {
        Some(old) => *old == new || (version.is_none() && old.hash == hash),
        None => version.is_none() && empty,
    };
    if !nothing_new {
        messages.push(PublishDiagnosticsParams::new(url, diagnostics, version));
    }
}

/// Tells lists of diagnostics from each other.
pub(crate) fn fingerprint(diagnostics: &[Diagnostic]) -> u64 {
    let mut hasher = DefaultHasher::new();
    // Diagnostics are plain data, so they have a JSON form.
    serde_json::to_string(diagnostics)
        .unwrap_or_default()
        .hash(&mut hasher);
    hasher.finish()
}
