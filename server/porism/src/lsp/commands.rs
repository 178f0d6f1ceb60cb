//! Running a command that a lens, an action or a key binding names.
//!
//! The request is answered at once and the outcome follows in requests of the server's own, for
//! some clients wait for the answer before they do anything else.

use std::collections::BTreeMap;
use std::path::PathBuf;
use std::time::Duration;

use ide::commands::{Argument, BadCommand, Command, Done, run};
use ide::edit::NotebookEdit;
use ide::{FilePath, Span};
use ropey::Rope;
use serde_json::Value;
use tokio::sync::oneshot;
use tower_lsp::lsp_types::request::{ApplyWorkspaceEdit, ShowDocument};
use tower_lsp::lsp_types::{
    self as lsp, ApplyWorkspaceEditParams, ExecuteCommandParams, MessageType, Range,
    ShowDocumentParams,
};

use super::client::{ClientFacts, Conversation, Editor, NoAnswer, Opening};
use super::snapshot::{Snapshot, path_of};
use super::uri::Uri;
use super::{convert, position};
use crate::{calendar, files};

/// How long a person may take to agree to an edit.
const PATIENCE_FOR_EDIT: Duration = Duration::from_secs(600);

/// How long the client may take to show a document.
const PATIENCE_FOR_SHOWING: Duration = Duration::from_secs(30);

/// What leaves time for the answer to the request to go out first.
const PAUSE: Duration = Duration::from_millis(10);

/// A command, as the client is told to send it.
pub(crate) fn to_lsp(title: &str, command: &Command) -> lsp::Command {
    let argument = |argument: Argument| match argument {
        Argument::Nothing => Value::Null,
        Argument::Text(text) => Value::from(text),
        Argument::Count(count) => Value::from(count),
        Argument::Flag(flag) => Value::from(flag),
    };
    let arguments = command.arguments().into_iter().map(argument).collect();
    lsp::Command::new(title.to_owned(), command.name().to_owned(), Some(arguments))
}

/// A command that does nothing: a lens that only tells has no other way to say something.
pub(crate) fn telling(title: &str) -> lsp::Command {
    lsp::Command::new(title.to_owned(), String::new(), None)
}

/// Reads a command that the client sends; `None` for one that does nothing.
pub(crate) fn from_lsp(params: &ExecuteCommandParams) -> Result<Option<Command>, BadCommand> {
    if params.command.is_empty() {
        return Ok(None);
    }
    let arguments: Vec<Argument> = params.arguments.iter().map(argument).collect();
    Command::read(&params.command, &arguments).map(Some)
}

fn argument(value: &Value) -> Argument {
    match value {
        Value::Null => Argument::Nothing,
        Value::Bool(flag) => Argument::Flag(*flag),
        // A key binding knows its file by URI, a lens by the notebook's path.
        Value::String(text) => match Uri::parse(text).filter(|uri| uri.to_path().is_some()) {
            Some(uri) => Argument::Text(path_of(&uri).as_str().to_owned()),
            None => Argument::Text(text.clone()),
        },
        Value::Number(number) => {
            // Some clients have one type for all numbers.
            let whole = number.as_f64().filter(|number| number.fract() == 0.0);
            match whole.filter(|number| (0.0..=f64::from(u32::MAX)).contains(number)) {
                Some(number) => Argument::Count(number as u32),
                None => Argument::Text(number.to_string()),
            }
        }
        // Text of no use, so that the message says what is expected here.
        other => Argument::Text(other.to_string()),
    }
}

/// Works out a command and carries out what comes of it.
pub(crate) async fn carry_out(
    client: Conversation,
    editor: Editor,
    arriving: oneshot::Receiver<Snapshot>,
    command: Command,
) {
    let Ok(snapshot) = arriving.await else { return };
    let worked_out = tokio::task::spawn_blocking(move || {
        let done = run(&snapshot.analysis, &command);
        (snapshot, done)
    });
    match worked_out.await {
        Ok((snapshot, Ok(done))) => {
            tokio::time::sleep(PAUSE).await;
            finish(&client, editor.facts(), &snapshot, done).await;
        }
        Ok((_, Err(refusal))) => client.show(MessageType::WARNING, refusal).await,
        Err(_) => {
            let message = "The command failed in the server; the notes are unchanged.";
            client.show(MessageType::ERROR, message.to_owned()).await;
        }
    }
}

/// Makes the edit, shows the place, tells what was done.
async fn finish(client: &Conversation, facts: &ClientFacts, snapshot: &Snapshot, done: Done) {
    if let Err(problem) = apply(client, facts, snapshot, &done.edit).await {
        client.show(MessageType::ERROR, problem).await;
        return;
    }
    let mut message = done.message;
    if let Some(path) = &done.calendar {
        match write_calendar(snapshot, path) {
            Ok(said) => message = said,
            Err(problem) => return client.show(MessageType::ERROR, problem).await,
        }
    }
    let shown = match &done.show {
        Some((path, span)) => show(client, facts, snapshot, &done.edit, path, *span).await,
        None => true,
    };
    if let (false, Some((path, span))) = (shown, &done.show)
        && !message.contains(path.as_str())
    {
        let line = range(snapshot, &done.edit, path, *span).start.line + 1;
        let place = format!("{path}, line {line}");
        message = if message.is_empty() {
            place
        } else {
            format!("{message} {place}")
        };
    }
    if !message.is_empty() {
        client.show(MessageType::INFO, message).await;
    }
}

/// Makes an edit in the editor. New files are written by the server where the editor would refuse
/// them.
async fn apply(
    client: &Conversation,
    facts: &ClientFacts,
    snapshot: &Snapshot,
    edit: &NotebookEdit,
) -> Result<(), String> {
    let mut left = edit.clone();
    if facts.opening() == Opening::WriteAndShow {
        create(snapshot, &left.created)?;
        left.created.clear();
    }
    if left.is_empty() {
        return Ok(());
    }
    let unsaved =
        || "Save the notes to a file first: nothing can be written beside them yet.".to_owned();
    let edit = convert::workspace_edit(snapshot, facts, &left).ok_or_else(unsaved)?;
    let params = ApplyWorkspaceEditParams { label: None, edit };
    match client
        .ask::<ApplyWorkspaceEdit>(params, PATIENCE_FOR_EDIT)
        .await
    {
        Ok(answer) if answer.applied => Ok(()),
        // Nothing was changed, so a new file may still be written another way.
        Ok(_) | Err(NoAnswer::Refused(_)) if left.files.is_empty() => {
            create(snapshot, &left.created)
        }
        Ok(answer) => {
            let reason = answer
                .failure_reason
                .unwrap_or_else(|| "no reason given".to_owned());
            Err(format!(
                "The editor did not make the edit ({reason}); the notes are unchanged. Try again."
            ))
        }
        Err(problem) => Err(format!("Nothing was changed: {problem}.")),
    }
}

/// Writes the calendar into a file in a folder of the workspace, and says what it holds.
fn write_calendar(snapshot: &Snapshot, path: &FilePath) -> Result<String, String> {
    let target = files::system_path(path);
    let inside = snapshot
        .folders
        .iter()
        .any(|folder| target.starts_with(&folder.resolved));
    if !inside {
        return Err(format!(
            "{path} is in no folder of the notes; porism calendar --to writes elsewhere."
        ));
    }
    let zone = calendar::own_zone();
    let made = calendar::write(&snapshot.analysis, &target, zone.as_deref())?;
    let mut said = format!("{path}: {}.", made.summary());
    for remark in &made.remarks {
        said.push(' ');
        said.push_str(remark);
    }
    Ok(said)
}

/// Writes new files.
fn create(snapshot: &Snapshot, created: &BTreeMap<FilePath, String>) -> Result<(), String> {
    let folders: Vec<PathBuf> = snapshot
        .folders
        .iter()
        .map(|folder| folder.resolved.clone())
        .collect();
    for (path, text) in created {
        files::create(&files::system_path(path), text, &folders)
            .map_err(|problem| format!("Cannot write {path}: {problem}."))?;
    }
    Ok(())
}

/// Shows a place, and tells whether it is shown.
async fn show(
    client: &Conversation,
    facts: &ClientFacts,
    snapshot: &Snapshot,
    edit: &NotebookEdit,
    path: &FilePath,
    span: Span,
) -> bool {
    if !facts.shows_documents {
        return false;
    }
    let Some(uri) = snapshot.url(path) else {
        return false;
    };
    let params = ShowDocumentParams {
        uri,
        external: Some(false),
        take_focus: Some(true),
        selection: Some(range(snapshot, edit, path, span)),
    };
    let answer = client
        .ask::<ShowDocument>(params, PATIENCE_FOR_SHOWING)
        .await;
    answer.is_ok_and(|answer| answer.success)
}

/// The range of a span, of a new file perhaps.
fn range(snapshot: &Snapshot, edit: &NotebookEdit, path: &FilePath, span: Span) -> Range {
    match edit.created.get(path) {
        Some(text) => position::range(&Rope::from_str(text), span.range(), snapshot.encoding),
        None => snapshot.range(path, span),
    }
}

#[cfg(test)]
mod tests {
    use ide::NotesUse;
    use serde_json::json;

    use super::*;

    fn params(command: &str, arguments: Value) -> ExecuteCommandParams {
        let arguments = arguments.as_array().unwrap().clone();
        ExecuteCommandParams {
            command: command.to_owned(),
            arguments,
            ..Default::default()
        }
    }

    #[test]
    fn a_command_comes_back_from_the_client() {
        let command = Command::DrawPaper {
            course: "Ordinary differential equations".to_owned(),
            exam: "First midterm".to_owned(),
            notes: NotesUse::Closed,
            questions: Some(12),
            seed: None,
            kind: None,
        };
        let sent = to_lsp("Draw", &command);
        assert_eq!(
            (sent.title.as_str(), sent.command.as_str()),
            ("Draw", "porism.drawPaper")
        );
        let back = params(&sent.command, sent.arguments.unwrap().into());
        assert_eq!(from_lsp(&back), Ok(Some(command)));
    }

    #[test]
    fn whole_numbers_may_be_written_as_fractions() {
        assert_eq!(argument(&json!(12.0)), Argument::Count(12));
        assert_eq!(argument(&json!(12.5)), Argument::Text("12.5".to_owned()));
        assert_eq!(argument(&json!(-1)), Argument::Text("-1".to_owned()));
    }

    #[cfg(unix)]
    #[test]
    fn a_file_may_be_named_by_its_uri() {
        let by_uri = argument(&json!("file:///no%20such/a.porism"));
        assert_eq!(by_uri, Argument::Text("/no such/a.porism".to_owned()));
        assert_eq!(
            argument(&json!("Exam: one")),
            Argument::Text("Exam: one".to_owned())
        );
    }

    #[test]
    fn what_cannot_be_read_is_said() {
        let said = |name, arguments| from_lsp(&params(name, arguments)).map_err(|e| e.to_string());
        assert_eq!(said("", json!([])), Ok(None));
        assert!(
            said("porism.dance", json!([]))
                .unwrap_err()
                .contains("porism.dance")
        );
        assert!(
            said("porism.recordMarks", json!([{}, 3]))
                .unwrap_err()
                .contains("argument")
        );
    }
}
