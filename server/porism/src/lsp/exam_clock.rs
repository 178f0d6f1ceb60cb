//! The clock of a paper that is being sat, as work-done progress in the editor: how much time is left,
//! and a message at half time, five minutes before the end and at the end.
//!
//! It is worked out anew from the stamps in the notes at every tick, so a server that is started
//! again goes on where the last one was.

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use chrono::NaiveDateTime;
use ide::exam_clock::{Running, running};
use tower_lsp::lsp_types::notification::Progress;
use tower_lsp::lsp_types::request::WorkDoneProgressCreate;
use tower_lsp::lsp_types::{
    MessageType, NumberOrString, ProgressParams, ProgressParamsValue, WorkDoneProgress,
    WorkDoneProgressBegin, WorkDoneProgressCreateParams, WorkDoneProgressEnd,
    WorkDoneProgressReport,
};

use super::client::{Conversation, Editor};
use super::queue::Queue;

/// How often the notes are looked at.
const TICK: Duration = Duration::from_secs(2);

/// How long the client may take to make room for a progress.
const PATIENCE: Duration = Duration::from_secs(10);

/// The progress that the user does not want to see any more, by token.
#[derive(Clone, Default)]
pub(crate) struct Cancelled(Arc<Mutex<BTreeSet<String>>>);

impl Cancelled {
    /// Adds one.
    pub(crate) fn add(&self, token: String) {
        self.tokens().insert(token);
    }

    fn take(&self, token: &str) -> bool {
        self.tokens().remove(token)
    }

    fn tokens(&self) -> std::sync::MutexGuard<'_, BTreeSet<String>> {
        // A set is whole at every instant.
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// The clocks of one session.
pub(crate) struct ExamClock {
    editor: Editor,
    queue: Queue,
    cancelled: Cancelled,
    shown: Vec<Shown>,
    /// How many were begun.
    count: u32,
}

/// A paper whose clock runs.
struct Shown {
    clock: Running,
    /// The instant of the last tick.
    last: NaiveDateTime,
    /// The minutes that were told last.
    minutes: i64,
    /// The token of its progress, while there is one.
    token: Option<String>,
}

impl ExamClock {
    /// The clocks of a session: none yet.
    pub(crate) fn new(editor: Editor, queue: Queue, cancelled: Cancelled) -> Self {
        Self {
            editor,
            queue,
            cancelled,
            shown: Vec::new(),
            count: 0,
        }
    }

    /// Ticks for as long as the session lasts.
    pub(crate) async fn run(mut self) {
        loop {
            let Ok(snapshot) = self.queue.look().await else {
                return;
            };
            let now = snapshot.analysis.now;
            let clocks = running(&snapshot.analysis);
            drop(snapshot);
            if !clocks.is_empty() || !self.shown.is_empty() {
                let (tell, told) = tokio::sync::oneshot::channel();
                // Only a task beside the handlers may talk to the client.
                let editor = self.editor.clone();
                editor.converse(move |client| async move {
                    self.tick(&client, clocks, now).await;
                    // The session is over when nobody waits any more.
                    let _ = tell.send(self);
                });
                let Ok(back) = told.await else { return };
                self = back;
            }
            tokio::time::sleep(TICK).await;
        }
    }

    async fn tick(&mut self, client: &Conversation, clocks: Vec<Running>, now: NaiveDateTime) {
        let shown = std::mem::take(&mut self.shown);
        for mut one in shown {
            let message = one.clock.message(one.last, now);
            let goes_on = clocks.contains(&one.clock);
            // One that was finished, or whose stamps were changed, has nothing more to say.
            if let Some(message) = message.filter(|_| goes_on || now >= one.clock.ends) {
                client.show(MessageType::INFO, message).await;
            }
            one.last = now;
            if goes_on {
                self.report(client, &mut one, now).await;
                self.shown.push(one);
            } else if let Some(token) = one.token.take() {
                end(client, token).await;
            }
        }
        for clock in clocks {
            if self.shown.iter().all(|one| one.clock != clock) {
                let one = self.begin(client, clock, now).await;
                self.shown.push(one);
            }
        }
    }

    async fn begin(&mut self, client: &Conversation, clock: Running, now: NaiveDateTime) -> Shown {
        let minutes = clock.minutes_left(now);
        let mut one = Shown {
            last: now,
            minutes,
            token: None,
            clock,
        };
        if !self.editor.facts().shows_progress {
            return one;
        }
        self.count += 1;
        let token = format!("porism-exam-clock-{}", self.count);
        let params = WorkDoneProgressCreateParams {
            token: NumberOrString::String(token.clone()),
        };
        // A client that refuses still gets the messages.
        if client
            .ask::<WorkDoneProgressCreate>(params, PATIENCE)
            .await
            .is_ok()
        {
            let begin = WorkDoneProgressBegin {
                title: one.clock.title.clone(),
                cancellable: Some(true),
                message: Some(one.clock.left_in_words(now)),
                percentage: Some(one.clock.percent(now)),
            };
            tell(client, &token, WorkDoneProgress::Begin(begin)).await;
            one.token = Some(token);
        }
        one
    }

    async fn report(&self, client: &Conversation, one: &mut Shown, now: NaiveDateTime) {
        let Some(token) = &one.token else { return };
        if self.cancelled.take(token) {
            let token = token.clone();
            one.token = None;
            return end(client, token).await;
        }
        let minutes = one.clock.minutes_left(now);
        if minutes == one.minutes {
            return;
        }
        one.minutes = minutes;
        let report = WorkDoneProgressReport {
            cancellable: Some(true),
            message: Some(one.clock.left_in_words(now)),
            percentage: Some(one.clock.percent(now)),
        };
        tell(client, token, WorkDoneProgress::Report(report)).await;
    }
}

async fn end(client: &Conversation, token: String) {
    let end = WorkDoneProgressEnd { message: None };
    tell(client, &token, WorkDoneProgress::End(end)).await;
}

async fn tell(client: &Conversation, token: &str, progress: WorkDoneProgress) {
    let params = ProgressParams {
        token: NumberOrString::String(token.to_owned()),
        value: ProgressParamsValue::WorkDone(progress),
    };
    client.tell::<Progress>(params).await;
}
