//! From the values of the features to those of the protocol.

use ide::completion::{CompletionItem, CompletionKind};
use ide::definition::Definition;
use ide::document_symbols::{Symbol, SymbolKind};
use ide::edit::NotebookEdit;
use ide::folding_ranges::{Fold, FoldKind};
use ide::hover::Hover;
use ide::workspace_symbols::FoundSymbol;
use ide::{BlockKind, Doc, FilePath};
use tower_lsp::lsp_types::{
    self as lsp, CompletionItemKind, CompletionTextEdit, CreateFile, CreateFileOptions,
    DocumentChangeOperation, DocumentChanges, DocumentSymbol, Documentation, FoldingRange,
    FoldingRangeKind, HoverContents, Location, MarkupContent, MarkupKind, OneOf,
    OptionalVersionedTextDocumentIdentifier, ResourceOp, SymbolInformation, TextDocumentEdit,
    TextEdit, WorkspaceEdit,
};

use super::client::ClientFacts;
use super::snapshot::Snapshot;

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
        filter_text: Some(item.text.clone()),
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
