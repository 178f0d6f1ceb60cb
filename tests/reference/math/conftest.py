"""Runs the examples that read formulas and check answers, on lines of JSON."""

import json
import pathlib
import subprocess

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[3]


@pytest.fixture(scope="session")
def read_formulas():
    """A function from inputs `{"tex", "at"}` to what the reader says of each."""

    def run(inputs):
        command = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "read_jsonl"]
        lines = "".join(json.dumps(one) + "\n" for one in inputs)
        done = subprocess.run(
            command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False
        )
        assert done.returncode == 0, done.stderr
        outputs = [json.loads(line) for line in done.stdout.splitlines()]
        assert len(outputs) == len(inputs)
        return outputs

    return run


@pytest.fixture(scope="session")
def verify_answers():
    """A function from inputs `{"tex", "answer", "prompt"}` to the verdict on each."""
    command = ["cargo", "build", "--quiet", "-p", "porism-math", "--example", "verify_jsonl"]
    subprocess.run(command, cwd=ROOT, check=True)

    def run(inputs):
        command = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "verify_jsonl"]
        lines = "".join(json.dumps(one) + "\n" for one in inputs)
        done = subprocess.run(
            command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False
        )
        assert done.returncode == 0, done.stderr
        outputs = [json.loads(line) for line in done.stdout.splitlines()]
        assert len(outputs) == len(inputs)
        return outputs

    return run
