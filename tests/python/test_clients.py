"""A session with the introduction of each real client, driven by an independent client library.

`pytest-lsp` reads every message by its own types, and warns of what a client did not ask for.
"""

import asyncio
import json
import os
import warnings
from pathlib import Path

import pytest
import pytest_asyncio
from lsprotocol import converters, types
from program import PROJECT, program
from pygls.protocol import default_converter
from pytest_lsp import ClientServerConfig, LanguageClient, LspSpecificationWarning
from pytest_lsp.client import DEFAULT_CLIENT_FEATURES, register_lsp_features

PROFILES = sorted(path.stem for path in (PROJECT / "tests/clients").glob("*.json"))

NOTES = """\
@course Waves

@exam First midterm
  on: 2027-02-26 10:00
  covers: 1.1

@topic 1.1 Separable equations

@pattern separable
  cue: a product, \N{MATHEMATICAL DOUBLE-STRUCK CAPITAL G}

@problem 1.1.1
  pattern: seperable
  Solve $y' = x y$.
  answer: $y = C e^{x^2/2}$
"""

# Where `seperable` stands, and how it is mended.
LINE, START, END = 12, 11, 20


class Session:
    """A client in a folder of its own."""

    def __init__(self, client: LanguageClient, folder: Path):
        self.client = client
        self.uri = (folder / "waves.porism").as_uri()
        self.document = types.TextDocumentIdentifier(self.uri)
        self.published: list[types.PublishDiagnosticsParams] = []
        self.pulls = False

    async def diagnostics(self, version: int) -> list[types.Diagnostic]:
        """What the server finds in this version of the document."""
        if self.pulls:
            params = types.DocumentDiagnosticParams(self.document)
            report = await self.client.text_document_diagnostic_async(params)
            return list(report.items)
        async with asyncio.timeout(60):
            while True:
                for params in self.published:
                    if params.uri == self.uri and params.version == version:
                        return list(params.diagnostics)
                await asyncio.sleep(0.01)


def make_client() -> LanguageClient:
    """A client that leaves published diagnostics, with their versions, to the session."""
    client = LanguageClient(converter_factory=default_converter)
    own = types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS
    usual = {method: deed for method, deed in DEFAULT_CLIENT_FEATURES.items() if method != own}
    register_lsp_features(client, usual)
    return client


@pytest_asyncio.fixture(params=PROFILES)
async def session(request, tmp_path):
    profile = json.loads((PROJECT / f"tests/clients/{request.param}.json").read_text())
    params = converters.get_converter().structure(profile, types.InitializeParams)
    params.process_id = os.getpid()
    params.root_uri, params.root_path = tmp_path.as_uri(), str(tmp_path)
    if params.workspace_folders:
        params.workspace_folders = [types.WorkspaceFolder(tmp_path.as_uri(), "notes")]
    (tmp_path / "waves.porism").write_text(NOTES, encoding="utf-8")
    environment = {**os.environ, "PORISM_NOW": "2027-02-15 10:00"}
    config = ClientServerConfig([program(), "serve"], make_client, environment)
    client = await config.start()
    session = Session(client, tmp_path)

    @client.feature(types.TEXT_DOCUMENT_PUBLISH_DIAGNOSTICS)
    def publish(params: types.PublishDiagnosticsParams):
        session.published.append(params)

    @client.feature(types.CLIENT_REGISTER_CAPABILITY)
    def register(params: types.RegistrationParams):
        return None

    @client.feature(types.WORKSPACE_CODE_LENS_REFRESH)
    def refresh(params: None):
        return None

    result = await client.initialize_session(params)
    session.pulls = result.capabilities.diagnostic_provider is not None
    yield session
    await client.shutdown_session()
    assert client._server.returncode == 0
    await client.stop()


def at(line: int, character: int) -> types.Position:
    return types.Position(line, character)


@pytest.mark.asyncio
async def test_a_student_takes_notes(session):
    client, document = session.client, session.document
    # What a client did not ask for is an error here.
    warnings.simplefilter("error", LspSpecificationWarning)
    item = types.TextDocumentItem(session.uri, "porism", 1, NOTES)
    client.text_document_did_open(types.DidOpenTextDocumentParams(item))
    found = {one.code for one in await session.diagnostics(1)}
    assert "unknown-name" in found

    items = await client.text_document_completion_async(
        types.CompletionParams(document, at(LINE, START + 3))
    )
    assert items[0].label == "separable"

    actions = await client.text_document_code_action_async(
        types.CodeActionParams(
            document,
            types.Range(at(LINE, START), at(LINE, END)),
            types.CodeActionContext([]),
        )
    )
    # The types take every action that carries a command for a bare command, which has no kind.
    actions = [one for one in actions if isinstance(one, types.CodeAction)]
    quick = [one for one in actions if one.kind == types.CodeActionKind.QuickFix]
    assert "separable" in quick[0].title

    change = types.TextDocumentContentChangePartial(
        types.Range(at(LINE, START), at(LINE, END)), "separable"
    )
    client.text_document_did_change(
        types.DidChangeTextDocumentParams(
            types.VersionedTextDocumentIdentifier(2, session.uri), [change]
        )
    )
    found = {one.code for one in await session.diagnostics(2)}
    assert "unknown-name" not in found

    hover = await client.text_document_hover_async(
        types.HoverParams(document, at(LINE, START + 3))
    )
    assert "a product" in hover.contents.value
    definition = await client.text_document_definition_async(
        types.DefinitionParams(document, at(LINE, START + 3))
    )
    assert definition[0].range.start == at(8, 9)
    references = await client.text_document_references_async(
        types.ReferenceParams(types.ReferenceContext(True), document, at(8, 10))
    )
    assert [one.range.start.line for one in references] == [8, LINE]
    symbols = await client.text_document_document_symbol_async(
        types.DocumentSymbolParams(document)
    )
    assert [one.name for one in symbols] == ["Waves"]
    found = await client.workspace_symbol_async(types.WorkspaceSymbolParams("separable"))
    assert "separable" in [one.name for one in found]
    folds = await client.text_document_folding_range_async(types.FoldingRangeParams(document))
    assert (11, 14) in [(one.start_line, one.end_line) for one in folds]
    lenses = await client.text_document_code_lens_async(types.CodeLensParams(document))
    assert "porism.drawPaper" in [one.command.command for one in lenses]
    client.text_document_did_close(types.DidCloseTextDocumentParams(document))
