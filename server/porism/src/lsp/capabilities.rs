//! What the server offers, and what it asks the client to report.

use ide::commands::Command;
use serde_json::json;
use tower_lsp::lsp_types::{
    CodeActionKind, CodeActionOptions, CodeActionProviderCapability, CodeLensOptions,
    CompletionOptions, DiagnosticOptions, DiagnosticServerCapabilities, ExecuteCommandOptions,
    FoldingRangeProviderCapability, HoverProviderCapability, InitializeResult, OneOf, Registration,
    SaveOptions, ServerCapabilities, ServerInfo, TextDocumentSyncCapability, TextDocumentSyncKind,
    TextDocumentSyncOptions, TextDocumentSyncSaveOptions, WorkspaceFoldersServerCapabilities,
    WorkspaceServerCapabilities,
};

use super::client::ClientFacts;
use crate::files::EXTENSION;

/// The name under which findings appear in the client.
pub(crate) const NAME: &str = "porism";

/// The answer to `initialize`.
pub(crate) fn answer(client: &ClientFacts) -> InitializeResult {
    let info = ServerInfo {
        name: NAME.to_owned(),
        version: Some(env!("CARGO_PKG_VERSION").to_owned()),
    };
    InitializeResult {
        capabilities: capabilities(client),
        server_info: Some(info),
    }
}

fn capabilities(client: &ClientFacts) -> ServerCapabilities {
    let sync = TextDocumentSyncOptions {
        open_close: Some(true),
        change: Some(TextDocumentSyncKind::INCREMENTAL),
        // With every save comes the text: a document that went out of step is mended.
        save: Some(TextDocumentSyncSaveOptions::SaveOptions(SaveOptions {
            include_text: Some(true),
        })),
        ..TextDocumentSyncOptions::default()
    };
    // `@` opens a block, `:` ends a field's key, `,` and a space come before a name in a list.
    let triggers = ["@", ":", ",", " "].map(str::to_owned).to_vec();
    // A client that asks for diagnostics is not sent any: it would show them twice.
    let diagnostics = client.pulls_diagnostics.then(|| {
        DiagnosticServerCapabilities::Options(DiagnosticOptions {
            identifier: Some(NAME.to_owned()),
            inter_file_dependencies: true,
            workspace_diagnostics: true,
            ..DiagnosticOptions::default()
        })
    });
    ServerCapabilities {
        position_encoding: Some(client.encoding.kind()),
        text_document_sync: Some(TextDocumentSyncCapability::Options(sync)),
        hover_provider: Some(HoverProviderCapability::Simple(true)),
        completion_provider: Some(CompletionOptions {
            trigger_characters: Some(triggers),
            ..CompletionOptions::default()
        }),
        definition_provider: Some(OneOf::Left(true)),
        references_provider: Some(OneOf::Left(true)),
        document_symbol_provider: Some(OneOf::Left(true)),
        workspace_symbol_provider: Some(OneOf::Left(true)),
        folding_range_provider: Some(FoldingRangeProviderCapability::Simple(true)),
        code_lens_provider: Some(CodeLensOptions {
            resolve_provider: Some(false),
        }),
        inlay_hint_provider: Some(OneOf::Left(true)),
        execute_command_provider: Some(ExecuteCommandOptions {
            commands: Command::NAMES.map(str::to_owned).to_vec(),
            ..ExecuteCommandOptions::default()
        }),
        code_action_provider: Some(CodeActionProviderCapability::Options(CodeActionOptions {
            code_action_kinds: Some(vec![CodeActionKind::QUICKFIX, CodeActionKind::REFACTOR]),
            ..CodeActionOptions::default()
        })),
        diagnostic_provider: diagnostics,
        workspace: Some(WorkspaceServerCapabilities {
            workspace_folders: Some(WorkspaceFoldersServerCapabilities {
                supported: Some(true),
                change_notifications: Some(OneOf::Left(true)),
            }),
            file_operations: None,
        }),
        ..ServerCapabilities::default()
    }
}

/// What the client is asked to report, where it takes such wishes.
pub(crate) fn registrations(client: &ClientFacts) -> Vec<Registration> {
    let mut wishes = Vec::new();
    if client.watches_files {
        wishes.push(Registration {
            id: "note-files".to_owned(),
            method: "workspace/didChangeWatchedFiles".to_owned(),
            register_options: Some(json!({
                "watchers": [{ "globPattern": format!("**/*.{EXTENSION}") }],
            })),
        });
    }
    wishes
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn diagnostics_are_pulled_or_pushed_but_never_both() {
        let mut client = ClientFacts::default();
        assert!(capabilities(&client).diagnostic_provider.is_none());
        client.pulls_diagnostics = true;
        assert!(capabilities(&client).diagnostic_provider.is_some());
    }

    #[test]
    fn only_a_client_that_takes_wishes_is_asked() {
        let mut client = ClientFacts::default();
        assert!(registrations(&client).is_empty());
        client.watches_files = true;
        let [wish] = registrations(&client).try_into().unwrap();
        let glob = &wish.register_options.unwrap()["watchers"][0]["globPattern"];
        assert_eq!(glob, "**/*.porism");
    }
}
