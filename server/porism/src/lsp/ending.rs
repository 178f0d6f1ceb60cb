//! Why and with which status the server ends: one cell that whoever notices first fills.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

use tokio::sync::watch;
use tracing::{debug, info};

/// How often the client's process is looked for.
const CLIENT_CHECK: Duration = Duration::from_secs(3);

/// What ended the session.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reason {
    /// The client sent `exit`.
    Exit,
    /// Standard input ended.
    InputClosed,
    /// Nobody reads standard output any longer.
    OutputClosed,
    /// The client's process is gone.
    ClientGone,
}

/// Shared by all who may end the session and all who must know.
#[derive(Clone, Debug)]
pub(crate) struct Ending {
    reason: Arc<watch::Sender<Option<Reason>>>,
    shutdown_received: Arc<AtomicBool>,
}

impl Ending {
    /// A session that goes on.
    pub(crate) fn new() -> Self {
        Self {
            reason: Arc::new(watch::Sender::new(None)),
            shutdown_received: Arc::new(AtomicBool::new(false)),
        }
    }

    /// Notes that the client asked for `shutdown`.
    pub(crate) fn shutdown_received(&self) {
        self.shutdown_received.store(true, Ordering::SeqCst);
    }

    /// Ends the session. The first reason stays.
    pub(crate) fn end(&self, reason: Reason) {
        self.reason.send_if_modified(|current| {
            let first = current.is_none();
            if first {
                info!(?reason, "session ends");
                *current = Some(reason);
            }
            first
        });
    }

    /// Whether the session has ended.
    pub(crate) fn has_ended(&self) -> bool {
        self.reason.borrow().is_some()
    }

    /// Waits for the end.
    pub(crate) async fn ended(&self) {
        let mut reason = self.reason.subscribe();
        // The sender lives in `self`, so the channel cannot close first.
        let _ = reason.wait_for(Option::is_some).await;
    }

    /// The exit status that LSP 3.17 asks for ("Exit Notification"): 0 after `shutdown`, else 1.
    pub(crate) fn status(&self) -> u8 {
        u8::from(!self.shutdown_received.load(Ordering::SeqCst))
    }

    /// Ends the session when the process `id` is gone, as `InitializeParams.processId` asks.
    ///
    /// A process that cannot be seen at the start (the client runs in another container, or this
    /// system offers no way to look) is not waited for: standard input closes when it dies.
    pub(crate) async fn watch_client(self, id: u32) {
        if !is_alive(id) {
            debug!(id, "the client's process cannot be seen from here");
            return;
        }
        while is_alive(id) {
            tokio::time::sleep(CLIENT_CHECK).await;
        }
        self.end(Reason::ClientGone);
    }
}

#[cfg(unix)]
fn is_alive(id: u32) -> bool {
    use rustix::{io::Errno, process};
    let Some(pid) = i32::try_from(id).ok().and_then(process::Pid::from_raw) else {
        return false;
    };
    // "Not permitted" is said of a process that exists.
    !matches!(process::test_kill_process(pid), Err(Errno::SRCH))
}

#[cfg(not(unix))]
fn is_alive(_id: u32) -> bool {
    false
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_status_says_whether_the_client_shut_down_first() {
        let ending = Ending::new();
        assert_eq!(ending.status(), 1);
        ending.shutdown_received();
        assert_eq!(ending.status(), 0);
    }

    #[tokio::test]
    async fn the_first_reason_stays() {
        let ending = Ending::new();
        assert!(!ending.has_ended());
        ending.end(Reason::Exit);
        ending.end(Reason::InputClosed);
        ending.ended().await;
        assert_eq!(*ending.reason.borrow(), Some(Reason::Exit));
    }

    #[cfg(unix)]
    #[test]
    fn this_process_is_alive_and_an_impossible_one_is_not() {
        assert!(is_alive(std::process::id()));
        assert!(!is_alive(0));
        assert!(!is_alive(u32::MAX));
    }
}
