"""Runs an example of the crate under test on lines of JSON."""

import json
import pathlib
import subprocess

import pytest

ROOT = pathlib.Path(__file__).resolve().parents[3]


@pytest.fixture(scope="session")
def run_example():
    """A function from an example's name and a list of inputs to the list of its outputs."""

    def run(example, inputs):
        command = ["cargo", "run", "--quiet", "-p", "porism-study", "--example", example]
        lines = "".join(json.dumps(one) + "\n" for one in inputs)
        done = subprocess.run(
            command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False
        )
        assert done.returncode == 0, done.stderr
        outputs = [json.loads(line) for line in done.stdout.splitlines()]
        assert len(outputs) == len(inputs)
        return outputs

    return run
