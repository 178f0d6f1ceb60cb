//! The one queue through which everything reaches the notebook, in the order of arrival.
//!
//! A thread of its own owns the documents and the notebook. What changes them and what asks about
//! them go through the same channel, so a request sees every change that the client sent before
//! it and none that it sent after, and reading the client's messages never waits for the notes.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, RecvTimeoutError, Sender, channel};
use std::time::{Duration, Instant};

use chrono::NaiveDate;
use ide::{Delta, Workspace};
use tokio::sync::{Notify, oneshot};
use tower_lsp::lsp_types::{MessageType, TextDocumentContentChangeEvent};
use tracing::{debug, error, warn};

use super::client::Editor;
use super::disk::Disk;
use super::documents::Documents;
use super::service::message;
use super::snapshot::{Snapshot, path_of};
use super::uri::Uri;
use crate::clock;
use crate::files::Found;

/// How long everything waits for new folders to be read. After that, requests are answered from
/// what has been read so far.
const READING: Duration = Duration::from_secs(5);

/// How often the date is looked at.
const DATE_CHECK: Duration = Duration::from_secs(60);

/// What may happen to the notebook.
pub(crate) enum Command {
    /// The client opened a document.
    Open {
        uri: Uri,
        version: i32,
        text: String,
    },
    /// The client changed a document.
    Change {
        uri: Uri,
        version: i32,
        changes: Vec<TextDocumentContentChangeEvent>,
    },
    /// The client saved a document, with this text.
    Save { uri: Uri, text: Option<String> },
    /// The client closed a document.
    Close { uri: Uri },
    /// A notification about a document could not be read.
    Lose { uri: Uri },
    /// The workspace has these folders more and those folders less.
    Folders { added: Vec<Uri>, removed: Vec<Uri> },
    /// Files appeared, changed or went on disk.
    Disk { uris: Vec<Uri> },
    /// A walk came upon something.
    Found { found: Found },
    /// A walk through these folders is over.
    Walked { folders: Vec<PathBuf> },
    /// Somebody asks for the present state.
    Look { answer: oneshot::Sender<Snapshot> },
    /// The checks ask for the present state and for what was touched since they last asked.
    Check {
        answer: oneshot::Sender<(Snapshot, Delta)>,
    },
}

/// The near end of the queue.
#[derive(Clone)]
pub(crate) struct Queue(Sender<Command>);

impl Queue {
    /// Starts the thread that owns the notebook. `changed` is notified whenever there is
    /// something to check again.
    pub(crate) fn start(editor: Editor, changed: Arc<Notify>) -> std::io::Result<Self> {
        let (sender, commands) = channel();
        let queue = Self(sender);
        let own = queue.clone();
        std::thread::Builder::new()
            .name("notebook".to_owned())
            .spawn(move || Keeper::new(editor, changed, own).run(&commands))?;
        Ok(queue)
    }

    /// Puts something into the queue.
    pub(crate) fn put(&self, command: Command) {
        // The thread lives as long as the process.
        if self.0.send(command).is_err() {
            error!("the notebook's thread is gone");
        }
    }

    /// Asks for the state after all that has been put into the queue. The question takes its
    /// place in the queue at once.
    pub(crate) fn look(&self) -> oneshot::Receiver<Snapshot> {
        let (answer, receiver) = oneshot::channel();
        self.put(Command::Look { answer });
        receiver
    }

    /// Asks for the state and for what was touched since this was last asked.
    pub(crate) fn check(&self) -> oneshot::Receiver<(Snapshot, Delta)> {
        let (answer, receiver) = oneshot::channel();
        self.put(Command::Check { answer });
        receiver
    }
}

/// The far end: the owner of the notebook.
struct Keeper {
    documents: Documents,
    disk: Disk,
    editor: Editor,
    changed: Arc<Notify>,
    queue: Queue,
    /// Until when commands wait for new folders to be read, and those that do.
    held: Option<(Instant, VecDeque<Command>)>,
    date: NaiveDate,
}

impl Keeper {
    fn new(editor: Editor, changed: Arc<Notify>, queue: Queue) -> Self {
        let now = clock::now();
        let documents = Documents::new(Workspace::new(now), editor.facts().encoding);
        let (disk, held, date) = (Disk::default(), None, now.date());
        Self {
            documents,
            disk,
            editor,
            changed,
            queue,
            held,
            date,
        }
    }

    fn run(mut self, commands: &Receiver<Command>) {
        loop {
            let wait = match &self.held {
                Some((until, _)) => until.saturating_duration_since(Instant::now()),
                None => DATE_CHECK,
            };
            match commands.recv_timeout(wait) {
                Ok(command) => self.take(command),
                Err(RecvTimeoutError::Timeout) if self.held.is_some() => {
                    warn!("reading the notebook takes long; answering from what was read so far");
                    self.release();
                }
                Err(RecvTimeoutError::Timeout) => self.look_at(clock::now().date()),
                Err(RecvTimeoutError::Disconnected) => return,
            }
        }
    }

    fn take(&mut self, command: Command) {
        let of_walk = matches!(command, Command::Found { .. } | Command::Walked { .. });
        match &mut self.held {
            Some((_, held)) if !of_walk => held.push_back(command),
            _ => self.contain(command),
        }
        if self.held.is_some() && !self.disk.is_walking() {
            self.release();
        }
    }

    fn release(&mut self) {
        let Some((_, held)) = self.held.take() else {
            return;
        };
        for command in held {
            self.take(command);
        }
    }

    /// Runs a command. A panic costs the file it is about, not the session.
    fn contain(&mut self, command: Command) {
        let about = match &command {
            Command::Open { uri, .. } | Command::Change { uri, .. } | Command::Save { uri, .. } => {
                Some(uri.clone())
            }
            _ => None,
        };
        if let Err(panic) = catch_unwind(AssertUnwindSafe(|| self.handle(command))) {
            error!(reason = message(&*panic), ?about, "reading notes panicked");
            self.rebuild(about.as_ref());
        }
    }

    /// Reads everything into a fresh notebook, for the old one may be half patched.
    fn rebuild(&mut self, culprit: Option<&Uri>) {
        if let Some(uri) = culprit {
            self.documents.fail(uri);
        }
        for path in self.documents.rebuild(Workspace::new(clock::now())) {
            error!(%path, "left out, because reading it panics");
        }
        self.changed.notify_one();
    }

    fn handle(&mut self, command: Command) {
        let documents = &mut self.documents;
        match command {
            Command::Open { uri, version, text } => {
                if !documents.open(uri.clone(), path_of(&uri), version, &text) {
                    let message = format!(
                        "{uri} is open already under another name; only that one is checked."
                    );
                    self.editor.show(MessageType::WARNING, message);
                }
                if self.editor.facts().folders.is_empty() {
                    self.adopt_folder_of(&uri);
                }
                self.disk.suspect();
            }
            Command::Change {
                uri,
                version,
                changes,
            } => documents.change(&uri, version, &changes),
            Command::Save { uri, text } => {
                if let Some(text) = text {
                    documents.save(&uri, &text);
                }
                self.disk.suspect();
            }
            Command::Close { uri } => {
                if let Some(path) = documents.close(&uri) {
                    self.disk.read(documents, &path);
                }
            }
            Command::Lose { uri } => documents.lose(&uri),
            Command::Folders { added, removed } => self.set_folders(&added, &removed),
            Command::Disk { uris } => {
                for uri in &uris {
                    self.disk.read(documents, &path_of(uri));
                }
            }
            Command::Found { found } => {
                self.disk.found(documents, found);
                // What changed is checked when the walk is over.
                return;
            }
            Command::Walked { folders } => self.disk.walk_ended(documents, &folders),
            Command::Look { answer } => {
                // A request that was cancelled does not wait any longer.
                let _ = answer.send(self.snapshot());
                return;
            }
            Command::Check { answer } => {
                let delta = documents.workspace.take_delta();
                let _ = answer.send((self.snapshot(), delta));
                return;
            }
        }
        self.start_walk();
        if !self.disk.is_walking()
            && let Some(warning) = self.disk.take_warning()
        {
            self.editor.show(MessageType::WARNING, warning);
        }
        self.changed.notify_one();
    }

    /// Takes the folder of a document for the notebook, for a client that names none: notes stand
    /// beside those that they speak of.
    fn adopt_folder_of(&mut self, uri: &Uri) {
        let file = uri.to_path();
        let folder = file
            .as_deref()
            .and_then(Path::parent)
            .and_then(Uri::from_path);
        if let Some(folder) = folder
            && !self.disk.is_inside(&path_of(uri))
        {
            self.set_folders(&[folder], &[]);
        }
    }

    /// Changes the folders of the notebook. What is asked while new ones are read waits.
    fn set_folders(&mut self, added: &[Uri], removed: &[Uri]) {
        self.disk.set_folders(&mut self.documents, added, removed);
        if self.disk.is_walking() {
            self.held = Some((Instant::now() + READING, VecDeque::new()));
        }
    }

    fn snapshot(&mut self) -> Snapshot {
        let now = clock::now();
        self.documents.workspace.set_now(now);
        self.look_at(now.date());
        Snapshot {
            analysis: self.documents.workspace.analysis().clone(),
            documents: self.documents.open_documents().clone(),
            folders: self.disk.folders().clone(),
            encoding: self.editor.facts().encoding,
        }
    }

    /// On another day other things are amiss.
    fn look_at(&mut self, date: NaiveDate) {
        if date != self.date {
            debug!(%date, "a new day");
            self.date = date;
            self.changed.notify_one();
        }
    }

    /// Walks through the folders on a thread of its own, if a walk is due.
    fn start_walk(&mut self) {
        let Some(walk) = self.disk.start_walk() else {
            return;
        };
        let queue = self.queue.clone();
        let folders = walk.folders().to_vec();
        let started = std::thread::Builder::new()
            .name("walk".to_owned())
            .spawn(move || {
                let found = &mut |found| queue.put(Command::Found { found });
                if let Err(panic) = catch_unwind(AssertUnwindSafe(|| walk.run(found))) {
                    error!(
                        reason = message(&*panic),
                        "walking through the folders panicked"
                    );
                }
                queue.put(Command::Walked {
                    folders: walk.folders().to_vec(),
                });
            });
        if let Err(problem) = started {
            error!(%problem, "cannot read the notebook");
            self.disk.walk_ended(&mut self.documents, &folders);
        }
    }
}
