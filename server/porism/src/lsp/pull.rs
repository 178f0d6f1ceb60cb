//! Answers to a client that asks for diagnostics by itself.

use std::collections::BTreeMap;

use ide::FilePath;
use tower_lsp::lsp_types::{
    Diagnostic, DocumentDiagnosticReport, FullDocumentDiagnosticReport, PreviousResultId,
    RelatedFullDocumentDiagnosticReport, RelatedUnchangedDocumentDiagnosticReport,
    UnchangedDocumentDiagnosticReport, Url, WorkspaceDiagnosticReport,
    WorkspaceDocumentDiagnosticReport, WorkspaceFullDocumentDiagnosticReport,
    WorkspaceUnchangedDocumentDiagnosticReport,
};

use super::checks::Checked;
use super::publish::fingerprint;
use super::snapshot::path_of;

/// What there is to say of one file. A result is known by its content, so the client is told
/// "unchanged" after any edits that led back to the same findings.
pub(crate) enum Report {
    /// The client knows it already.
    Unchanged(UnchangedDocumentDiagnosticReport),
    /// All there is to say.
    Full(FullDocumentDiagnosticReport),
}

impl Report {
    /// The report of a file to a client that knows an earlier one.
    pub(crate) fn of(checked: &Checked, path: &FilePath, previous: Option<String>) -> Self {
        Self::new(checked.diagnostics(path), previous)
    }

    fn new(items: Vec<Diagnostic>, previous: Option<String>) -> Self {
        let result_id = format!("{:016x}", fingerprint(&items));
        if previous.as_ref() == Some(&result_id) {
            Self::Unchanged(UnchangedDocumentDiagnosticReport { result_id })
        } else {
            Self::Full(FullDocumentDiagnosticReport {
                result_id: Some(result_id),
                items,
            })
        }
    }

    /// As the answer about one document.
    pub(crate) fn of_document(self) -> DocumentDiagnosticReport {
        let related_documents = None;
        match self {
            Self::Unchanged(unchanged_document_diagnostic_report) => {
                DocumentDiagnosticReport::Unchanged(RelatedUnchangedDocumentDiagnosticReport {
                    related_documents,
                    unchanged_document_diagnostic_report,
                })
            }
            Self::Full(full_document_diagnostic_report) => {
                DocumentDiagnosticReport::Full(RelatedFullDocumentDiagnosticReport {
                    related_documents,
                    full_document_diagnostic_report,
                })
            }
        }
    }

    fn of_file(self, uri: Url, version: Option<i64>) -> WorkspaceDocumentDiagnosticReport {
        match self {
            Self::Unchanged(unchanged_document_diagnostic_report) => {
                WorkspaceDocumentDiagnosticReport::Unchanged(
                    WorkspaceUnchangedDocumentDiagnosticReport {
                        uri,
                        version,
                        unchanged_document_diagnostic_report,
                    },
                )
            }
            Self::Full(full_document_diagnostic_report) => {
                WorkspaceDocumentDiagnosticReport::Full(WorkspaceFullDocumentDiagnosticReport {
                    uri,
                    version,
                    full_document_diagnostic_report,
                })
            }
        }
    }
}

/// The reports of the whole notebook: of the files with findings, and of those of which the
/// client knows an earlier report.
pub(crate) fn of_workspace(
    checked: &Checked,
    previous: Vec<PreviousResultId>,
) -> WorkspaceDiagnosticReport {
    let snapshot = &checked.snapshot;
    let mut known: BTreeMap<FilePath, (Url, String)> = BTreeMap::new();
    for PreviousResultId { uri, value } in previous {
        known.insert(path_of(&uri.clone().into()), (uri, value));
    }
    let mut items = Vec::new();
    for (path, _) in snapshot.analysis.notebook.files() {
        let Some(url) = snapshot.url(path) else {
            continue;
        };
        let previous = known.remove(path).map(|(_, value)| value);
        let diagnostics = checked.diagnostics(path);
        if diagnostics.is_empty() && previous.is_none() {
            continue;
        }
        let version = snapshot.version(path).map(i64::from);
        items.push(Report::new(diagnostics, previous).of_file(url, version));
    }
    // Files that left the notebook.
    for (url, value) in known.into_values() {
        items.push(Report::new(Vec::new(), Some(value)).of_file(url, None));
    }
    WorkspaceDiagnosticReport { items }
}
