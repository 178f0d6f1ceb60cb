//! From the values of the features to those of the protocol.

use ide::code_actions::{ActionKind, CodeAction, Deed};
use ide::code_lenses::CodeLens;
use ide::completion::{CompletionItem, CompletionKind};
use ide::definition::Definition;
use ide::diagnostics::{Finding, Related, Severity};
use ide::document_symbols::{Symbol, SymbolKind};
use ide::edit::NotebookEdit;
use ide::folding_ranges::{Fold, FoldKind};
use ide::hover::Hover;
use ide::inlay_hints::InlayHint;
use ide::workspace_symbols::FoundSymbol;
use ide::{BlockKind, Doc, FilePath, Span};
use tower_lsp::lsp_types::{
    self as lsp, CodeActionKind, CodeActionOrCommand, CompletionItemKind, CompletionTextEdit,
    CreateFile, CreateFileOptions, Diagnostic, DiagnosticRelatedInformation, DiagnosticSeverity,
    DiagnosticTag, DocumentChangeOperation, DocumentChanges, DocumentSymbol, Documentation,
    FoldingRange, FoldingRangeKind, HoverContents, Location, MarkupContent, MarkupKind,
    NumberOrString, OneOf, OptionalVersionedTextDocumentIdentifier, ResourceOp, SymbolInformation,
    TextDocumentEdit, TextEdit, WorkspaceEdit,
};

use super::capabilities::NAME;
use super::client::ClientFacts;
use super::commands;
use super::snapshot::{Places, Snapshot};

/// Text to show, as Markdown where the client renders it.
pub(crate) fn markup(doc: &Doc, markdown: bool) -> MarkupContent {
    match markdown {
        true => MarkupContent {
            kind: MarkupKind::Markdown,
            value: doc.to_markdown(),
        },
        false => MarkupContent {
            kind: MarkupKind::PlainText,
            value: doc.to_plain(),
        },
    }
}

/// A hover.
pub(crate) fn hover(
    snapshot: &Snapshot,
    client: &ClientFacts,
    path: &FilePath,
    hover: &Hover,
) -> lsp::Hover {
    lsp::Hover {
        contents: HoverContents::Markup(markup(&hover.doc, client.hover_markdown)),
        range: Some(snapshot.range(path, hover.span)),
    }
}

/// Hints behind places of a file.
pub(crate) fn inlay_hints(
    snapshot: &Snapshot,
    path: &FilePath,
    hints: Vec<InlayHint>,
) -> Vec<lsp::InlayHint> {
    let hint = |hint: InlayHint| lsp::InlayHint {
        position: snapshot.range(path, Span::at(hint.offset)).start,
        label: lsp::InlayHintLabel::String(hint.label),
        kind: None,
        text_edits: None,
        tooltip: Some(lsp::InlayHintTooltip::String(hint.whole)),
        padding_left: Some(true),
        padding_right: None,
        data: None,
    };
    hints.into_iter().map(hint).collect()
}

/// A list of proposals, best first.
pub(crate) fn completions(
    snapshot: &Snapshot,
    path: &FilePath,
    items: Vec<CompletionItem>,
) -> Vec<lsp::CompletionItem> {
    let item = |(rank, item): (usize, CompletionItem)| lsp::CompletionItem {
        kind: Some(completion_kind(item.kind)),
        detail: some(item.detail),
        documentation: some(item.documentation).map(Documentation::String),
        // Clients sort by this text, so it carries our order.
        sort_text: Some(format!("{rank:05}")),
        // Without the space after a key: once that is typed, the list has served.
        filter_text: Some(item.text.trim_end().to_owned()),
        text_edit: Some(CompletionTextEdit::Edit(TextEdit {
            range: snapshot.range(path, item.span),
            new_text: item.text,
        })),
        label: item.label,
        ..lsp::CompletionItem::default()
    };
    items.into_iter().enumerate().map(item).collect()
}

fn completion_kind(kind: CompletionKind) -> CompletionItemKind {
    match kind {
        CompletionKind::BlockKind => CompletionItemKind::KEYWORD,
        CompletionKind::Field => CompletionItemKind::FIELD,
        CompletionKind::Name(_) => CompletionItemKind::REFERENCE,
        CompletionKind::Date => CompletionItemKind::VALUE,
        CompletionKind::Word => CompletionItemKind::ENUM_MEMBER,
    }
}

fn some(text: String) -> Option<String> {
    (!text.is_empty()).then_some(text)
}

/// A finding.
pub(crate) fn diagnostic(places: &mut Places<'_>, finding: &Finding) -> Diagnostic {
    let related = |related: &Related| {
        let location = places.location(&related.path, related.span)?;
        let message = related.message.clone();
        Some(DiagnosticRelatedInformation { location, message })
    };
    let related: Vec<_> = finding.related.iter().filter_map(related).collect();
    Diagnostic {
        range: places.range(&finding.path, finding.span),
        severity: Some(match finding.severity {
            Severity::Error => DiagnosticSeverity::ERROR,
            Severity::Warning => DiagnosticSeverity::WARNING,
            Severity::Information => DiagnosticSeverity::INFORMATION,
            Severity::Hint => DiagnosticSeverity::HINT,
        }),
        code: Some(NumberOrString::String(finding.code.to_owned())),
        source: Some(NAME.to_owned()),
        message: finding.message.clone(),
        related_information: (!related.is_empty()).then_some(related),
        tags: finding
            .unnecessary
            .then(|| vec![DiagnosticTag::UNNECESSARY]),
        ..Diagnostic::default()
    }
}

/// What can be done at a place. `None` for an edit of a file that has no URI.
pub(crate) fn code_action(
    snapshot: &Snapshot,
    client: &ClientFacts,
    action: &CodeAction,
    findings: &[Finding],
) -> Option<CodeActionOrCommand> {
    let (edit, command) = match &action.deed {
        Deed::Edit(edit) => (Some(workspace_edit(snapshot, client, edit)?), None),
        Deed::Command(command) => (None, Some(commands::to_lsp(&action.title, command))),
    };
    let finding = action.finding.and_then(|index| findings.get(index));
    Some(CodeActionOrCommand::CodeAction(lsp::CodeAction {
        title: action.title.clone(),
        kind: Some(action_kind(action.kind)),
        diagnostics: finding.map(|finding| vec![diagnostic(&mut Places::new(snapshot), finding)]),
        edit,
        command,
        is_preferred: action.preferred.then_some(true),
        ..lsp::CodeAction::default()
    }))
}

/// The kind of *another like this*, by which an editor's command asks for it.
const ANOTHER: &str = "refactor.porism.another";

/// Where an editor lists an action.
pub(crate) fn action_kind(kind: ActionKind) -> CodeActionKind {
    match kind {
        ActionKind::QuickFix => CodeActionKind::QUICKFIX,
        ActionKind::Refactor => CodeActionKind::REFACTOR,
        ActionKind::Another => CodeActionKind::new(ANOTHER),
    }
}

/// Whether a client that asks for actions of some kinds `only` wants this one: a kind stands for
/// all below it (LSP 3.17, `CodeActionKind`).
pub(crate) fn is_wanted(only: Option<&[CodeActionKind]>, kind: ActionKind) -> bool {
    let kind = action_kind(kind);
    only.is_none_or(|only| {
        only.iter().any(|wanted| {
            let below = kind.as_str().strip_prefix(wanted.as_str());
            *wanted == CodeActionKind::EMPTY
                || below.is_some_and(|below| below.is_empty() || below.starts_with('.'))
        })
    })
}

/// The lines above a file's blocks.
pub(crate) fn code_lenses(
    snapshot: &Snapshot,
    path: &FilePath,
    lenses: &[CodeLens],
) -> Vec<lsp::CodeLens> {
    let lens = |lens: &CodeLens| lsp::CodeLens {
        range: snapshot.range(path, lens.span),
        command: Some(match &lens.command {
            Some(command) => commands::to_lsp(&lens.title, command),
            None => commands::telling(&lens.title),
        }),
        data: None,
    };
    lenses.iter().map(lens).collect()
}

/// The places of a definition.
pub(crate) fn definition(snapshot: &Snapshot, definition: &Definition) -> Vec<Location> {
    let places = definition.places.iter();
    places
        .filter_map(|place| snapshot.location(&place.path, place.name))
        .collect()
}

/// The outline of a file.
pub(crate) fn document_symbols(
    snapshot: &Snapshot,
    path: &FilePath,
    symbols: Vec<Symbol>,
) -> Vec<DocumentSymbol> {
    let symbol = |symbol: Symbol| {
        #[expect(
            deprecated,
            reason = "the structure cannot be made without the old field"
        )]
        DocumentSymbol {
            name: named(symbol.name),
            detail: some(symbol.detail),
            kind: match symbol.kind {
                SymbolKind::Block(kind) => symbol_kind(kind),
                SymbolKind::Heading => lsp::SymbolKind::STRING,
            },
            tags: None,
            deprecated: None,
            range: snapshot.range(path, symbol.span),
            selection_range: snapshot.range(path, symbol.selection),
            children: (!symbol.children.is_empty())
                .then(|| document_symbols(snapshot, path, symbol.children)),
        }
    };
    symbols.into_iter().map(symbol).collect()
}

/// A symbol's name, which must not be empty (LSP 3.17, `DocumentSymbol.name`).
fn named(name: String) -> String {
    if name.trim().is_empty() {
        "(no name)".to_owned()
    } else {
        name
    }
}

/// Blocks found by name.
pub(crate) fn workspace_symbols(
    snapshot: &Snapshot,
    symbols: Vec<FoundSymbol>,
) -> Vec<SymbolInformation> {
    let symbol = |symbol: FoundSymbol| {
        #[expect(
            deprecated,
            reason = "the structure cannot be made without the old field"
        )]
        Some(SymbolInformation {
            name: named(symbol.name),
            kind: symbol_kind(symbol.kind),
            tags: None,
            deprecated: None,
            location: snapshot.location(&symbol.path, symbol.span)?,
            container_name: some(symbol.container),
        })
    };
    symbols.into_iter().filter_map(symbol).collect()
}

/// The protocol's kinds are those of programs; these are the nearest, so that each kind of block
/// has an icon of its own.
fn symbol_kind(kind: BlockKind) -> lsp::SymbolKind {
    match kind {
        BlockKind::Course => lsp::SymbolKind::MODULE,
        BlockKind::Exam => lsp::SymbolKind::EVENT,
        BlockKind::Topic => lsp::SymbolKind::NAMESPACE,
        BlockKind::Pattern => lsp::SymbolKind::CLASS,
        BlockKind::Problem => lsp::SymbolKind::METHOD,
        BlockKind::Theorem => lsp::SymbolKind::INTERFACE,
        BlockKind::Definition => lsp::SymbolKind::CONSTANT,
        BlockKind::Paper => lsp::SymbolKind::FILE,
        BlockKind::Question => lsp::SymbolKind::FIELD,
    }
}

/// The folds of a file. They end with the last folded line, before its line break.
pub(crate) fn folding_ranges(
    snapshot: &Snapshot,
    path: &FilePath,
    folds: &[Fold],
) -> Vec<FoldingRange> {
    let fold = |fold: &Fold| {
        let range = snapshot.range(path, fold.span);
        FoldingRange {
            start_line: range.start.line,
            start_character: Some(range.start.character),
            end_line: range.end.line,
            end_character: Some(range.end.character),
            kind: Some(match fold.kind {
                FoldKind::Region => FoldingRangeKind::Region,
                FoldKind::Comment => FoldingRangeKind::Comment,
            }),
            collapsed_text: None,
        }
    };
    folds.iter().map(fold).collect()
}

/// A change of the notebook, as an edit of the client's. The edits of a file that the client has
/// open hold for its version only. `None` if a file has no URI.
pub(crate) fn workspace_edit(
    snapshot: &Snapshot,
    client: &ClientFacts,
    edit: &NotebookEdit,
) -> Option<WorkspaceEdit> {
    let mut edits = Vec::new();
    for (path, changes) in &edit.files {
        let change = |change: &ide::edit::TextEdit| TextEdit {
            range: snapshot.range(path, change.span),
            new_text: change.text.clone(),
        };
        edits.push((
            snapshot.url(path)?,
            snapshot.version(path),
            changes.iter().map(change).collect(),
        ));
    }
    let mut created = Vec::new();
    for (path, text) in &edit.created {
        let insertion = TextEdit {
            range: lsp::Range::default(),
            new_text: text.clone(),
        };
        created.push((snapshot.url(path)?, insertion));
    }
    if !client.versioned_edits && !client.creates_files {
        let created = created
            .into_iter()
            .map(|(url, insertion)| (url, vec![insertion]));
        let changed = edits.into_iter().map(|(url, _, edits)| (url, edits));
        return Some(WorkspaceEdit::new(changed.chain(created).collect()));
    }
    let text_edit = |uri, version, edits: Vec<TextEdit>| {
        DocumentChangeOperation::Edit(TextDocumentEdit {
            text_document: OptionalVersionedTextDocumentIdentifier { uri, version },
            edits: edits.into_iter().map(OneOf::Left).collect(),
        })
    };
    let mut operations = Vec::new();
    for (url, insertion) in created {
        if client.creates_files {
            operations.push(DocumentChangeOperation::Op(ResourceOp::Create(
                CreateFile {
                    uri: url.clone(),
                    options: Some(CreateFileOptions {
                        overwrite: Some(false),
                        ignore_if_exists: Some(false),
                    }),
                    annotation_id: None,
                },
            )));
        }
        operations.push(text_edit(url, None, vec![insertion]));
    }
    operations.extend(
        edits
            .into_iter()
            .map(|(url, version, edits)| text_edit(url, version, edits)),
    );
    Some(WorkspaceEdit {
        document_changes: Some(DocumentChanges::Operations(operations)),
        ..WorkspaceEdit::default()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_kind_that_is_asked_for_stands_for_all_below_it() {
        let wanted = |only: &[CodeActionKind]| {
            let kinds = [
                ActionKind::QuickFix,
                ActionKind::Refactor,
                ActionKind::Another,
            ];
            kinds.map(|kind| is_wanted(Some(only), kind))
        };
        assert!(is_wanted(None, ActionKind::Refactor));
        assert_eq!(wanted(&[CodeActionKind::QUICKFIX]), [true, false, false]);
        assert_eq!(wanted(&[CodeActionKind::REFACTOR_EXTRACT]), [false; 3]);
        assert_eq!(wanted(&[CodeActionKind::REFACTOR]), [false, true, true]);
        assert_eq!(
            wanted(&[CodeActionKind::new("refactor.porism")]),
            [false, false, true]
        );
        assert_eq!(wanted(&[CodeActionKind::new("refactor.por")]), [false; 3]);
        assert_eq!(wanted(&[CodeActionKind::EMPTY]), [true; 3]);
    }
}
