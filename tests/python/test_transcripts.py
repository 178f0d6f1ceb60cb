"""Every message that the server sent in the whole-process tests is one of the protocol's.

`PORISM_TRANSCRIPTS` names the folder in which those tests left what the server said.
"""

import json
import os
from pathlib import Path

import pytest
from validate import problems


def messages():
    folder = os.environ.get("PORISM_TRANSCRIPTS")
    if folder is None:
        pytest.skip("PORISM_TRANSCRIPTS is not set: run tests/run")
    for path in sorted(Path(folder).glob("*.jsonl")):
        lines = path.read_text(encoding="utf-8").splitlines()
        for number, line in enumerate(lines, start=1):
            entry = json.loads(line)
            yield f"{path.name}:{number}", entry["method"], entry["message"]


def test_every_message_is_one_of_the_protocol():
    wrong, methods = [], set()
    for place, method, message in messages():
        methods.add(method)
        for problem in problems(method, message):
            wrong.append(f"{place}: {method}: {problem}\n{json.dumps(message)[:2000]}")
    assert not wrong, "\n".join(wrong[:20])
    expected = {
        "initialize",
        "shutdown",
        "client/registerCapability",
        "textDocument/codeAction",
        "textDocument/codeLens",
        "textDocument/completion",
        "textDocument/definition",
        "textDocument/diagnostic",
        "textDocument/documentSymbol",
        "textDocument/foldingRange",
        "textDocument/hover",
        "textDocument/publishDiagnostics",
        "textDocument/references",
        "window/showDocument",
        "window/showMessage",
        "workspace/applyEdit",
        "workspace/diagnostic",
        "workspace/diagnostic/refresh",
        "workspace/executeCommand",
        "workspace/symbol",
    }
    assert expected <= methods, f"never said: {expected - methods}"


RANGE = {"start": {"line": 0, "character": 0}, "end": {"line": 0, "character": 1}}


def answer(result):
    return {"jsonrpc": "2.0", "id": 1, "result": result}


def call(method, params):
    return {"jsonrpc": "2.0", "method": method, "params": params}


@pytest.mark.parametrize(
    ("method", "message"),
    [
        ("textDocument/hover", answer({"contents": {"kind": "markdown", "value": "x"}, "range": RANGE})),
        ("textDocument/hover", answer(None)),
        ("textDocument/hover", {"jsonrpc": "2.0", "id": 1, "error": {"code": -32603, "message": "x"}}),
        (
            "textDocument/publishDiagnostics",
            call(
                "textDocument/publishDiagnostics",
                {"uri": "file:///a", "version": 3, "diagnostics": [{"range": RANGE, "message": "x"}]},
            ),
        ),
    ],
)
def test_what_is_well_formed_passes(method, message):
    assert problems(method, message) == []


@pytest.mark.parametrize(
    ("method", "message"),
    [
        # A kind of markup that is none, a range without an end, a name that nobody knows.
        ("textDocument/hover", answer({"contents": {"kind": "latex", "value": "x"}})),
        ("textDocument/hover", answer({"contents": "x", "range": {"start": RANGE["start"]}})),
        ("textDocument/hover", answer({"contents": "x", "colour": "red"})),
        # Numbers that are text, or negative.
        (
            "textDocument/foldingRange",
            answer([{"startLine": "1", "endLine": 2}]),
        ),
        ("textDocument/foldingRange", answer([{"startLine": -1, "endLine": 2}])),
        # Null where it may not be.
        ("textDocument/completion", answer([{"label": "x", "detail": None}])),
        # Neither result nor error; both; an error without a code.
        ("textDocument/hover", {"jsonrpc": "2.0", "id": 1}),
        ("textDocument/hover", {**answer(None), "error": {"code": 1, "message": "x"}}),
        ("textDocument/hover", {"jsonrpc": "2.0", "id": 1, "error": {"message": "x"}}),
        # A request that only a client sends; one without a number; a method of no protocol.
        ("textDocument/hover", call("textDocument/hover", {})),
        ("workspace/applyEdit", call("workspace/applyEdit", {"edit": {}})),
        ("porism/dance", call("porism/dance", {})),
    ],
)
def test_what_is_wrong_is_found(method, message):
    assert problems(method, message) != []
