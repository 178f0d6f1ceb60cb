"""The program under test."""

import functools
import json
import os
import subprocess
from pathlib import Path

PROJECT = Path(__file__).resolve().parents[2]


@functools.cache
def program() -> str:
    """The path of the `porism` program: the one that `PORISM_PROGRAM` names, else one built from
    the sources as they are now."""
    if path := os.environ.get("PORISM_PROGRAM"):
        return path
    command = ["build", "--quiet", "--package", "porism", "--message-format", "json"]
    cargo = os.environ.get("CARGO", "cargo")
    out = subprocess.run(
        [cargo, *command], cwd=PROJECT, check=True, stdout=subprocess.PIPE, text=True
    )
    messages = (json.loads(line) for line in out.stdout.splitlines())
    return [message["executable"] for message in messages if message.get("executable")][-1]
