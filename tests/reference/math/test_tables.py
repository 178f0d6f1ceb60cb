"""Entries of published tables hold, and the same entries with a slip fail.

Source of every entry: M. Abramowitz and I. A. Stegun (eds.), Handbook of Mathematical Functions,
National Bureau of Standards, Applied Mathematics Series 55 (1964). `equation` is the number there,
written down from memory, with the letters of a first course and, where the table has a parameter
in a transform, one value of it.
"""

import json
import pathlib
import subprocess

ROOT = pathlib.Path(__file__).resolve().parents[3]
ENTRIES = [
    json.loads(line)
    for line in (pathlib.Path(__file__).parent / "table_entries.jsonl").read_text().splitlines()
]


def verdicts(items):
    """What is said of each problem and answer, in order."""
    command = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "verify_jsonl"]
    lines = "".join(json.dumps(item) + "\n" for item in items)
    done = subprocess.run(
        command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False
    )
    assert done.returncode == 0, done.stderr
    said = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(said) == len(items)
    return said


def told(which):
    """The verdicts about one of the two answers of each entry, by its number."""
    keys = ("prompt", "tex")
    items = [{key: entry[key] for key in keys} | {"answer": entry[which]} for entry in ENTRIES]
    numbers = [entry["equation"] for entry in ENTRIES]
    return dict(zip(numbers, verdicts(items), strict=True))


def test_published_entries_hold():
    others = {n: said for n, said in told("answer").items() if said["verdict"] != "holds"}
    assert not others


def test_entries_with_a_slip_fail():
    others = {n: said for n, said in told("wrong").items() if said["verdict"] != "fails"}
    assert not others
