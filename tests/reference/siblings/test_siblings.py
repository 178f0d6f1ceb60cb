"""Every problem that is drawn has the right key: solved or substituted again with SymPy.

`problems.jsonl` holds problems of a first university year, one or more of each kind. Of each,
siblings are drawn, and `checks.py` decides on every key from the structure of the formulas.
"""

import collections
import concurrent.futures
import json
import pathlib
import re
import subprocess

import pytest
from checks import check

HERE = pathlib.Path(__file__).parent
ROOT = HERE.parents[2]
PROBLEMS = [json.loads(line) for line in (HERE / "problems.jsonl").read_text().splitlines()]
COUNT = 2
SEED = 1
COMMAND = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "siblings_jsonl"]
WORKERS = 2


def run(inputs):
    lines = "".join(json.dumps(one) + "\n" for one in inputs)
    done = subprocess.run(COMMAND, input=lines, capture_output=True, text=True, cwd=ROOT)
    assert done.returncode == 0, done.stderr
    outputs = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(outputs) == len(inputs)
    return outputs


@pytest.fixture(scope="module")
def drawn():
    """For each problem, what was drawn."""
    inputs = [
        {
            "statement": problem.get("statement", ""),
            **({"tex": problem["tex"]} if "tex" in problem else {}),
            "n": COUNT,
            "seed": SEED,
        }
        for problem in PROBLEMS
    ]
    run([])
    with concurrent.futures.ThreadPoolExecutor(WORKERS) as pool:
        parts = list(pool.map(run, [inputs[place::WORKERS] for place in range(WORKERS)]))
    outputs = [None] * len(inputs)
    for place, part in enumerate(parts):
        outputs[place::WORKERS] = part
    return list(zip(PROBLEMS, inputs, outputs, strict=True))


def verdict(case):
    """What is wrong with a sibling; nothing, if its key is right."""
    told, task, sibling = case
    try:
        check(task, sibling)
    except AssertionError as error:
        return f"wrong: {told}: {error}"
    except Exception as error:
        return f"not checked: {told}: {type(error).__name__}: {error}"
    return None


def test_every_key_is_right(drawn):
    cases = []
    for problem, given, output in drawn:
        for sibling in output["siblings"]:
            told = f"{problem['kind']}: {sibling['statement']} => {sibling['answer']} (of {given})"
            cases.append((told, output["task"], sibling))
    with concurrent.futures.ProcessPoolExecutor(WORKERS) as pool:
        faults = [fault for fault in pool.map(verdict, cases, chunksize=8) if fault]
    assert not faults, "\n".join(faults)
    checked = collections.Counter(task for _, task, _ in cases)
    assert sum(checked.values()) >= 600 and len(checked) == 11, checked


# What a textbook never prints.
CLUMSY = re.compile(
    r"(?<![\d._])[01][a-z](?![a-z])|\+ ?-|- ?-|(?<=[a-z)}])\^[01](?!\d)|\^\{[01]\}"
    r"|\\frac\{\d+\}\{1\}|\\frac\{0\}|\\ln 1(?!\d)|\\sqrt\{[149]\}"
)


def test_formulas_look_like_those_of_a_textbook(drawn):
    for _, given, output in drawn:
        for sibling in output["siblings"]:
            for text in (sibling["statement"], sibling["answer"]):
                assert not CLUMSY.search(text), (text, given)


def test_siblings_differ(drawn):
    for problem, _, output in drawn:
        original = problem.get("statement", "") + (
            f" ${problem['tex']}$" if "tex" in problem else ""
        )
        statements = [sibling["statement"] for sibling in output["siblings"]]
        assert len({original, *statements}) == 1 + len(statements), statements


def test_same_seed_same_siblings(drawn):
    some = drawn[::12]
    again = run([given for _, given, _ in some])
    assert again == [output for _, _, output in some]


def test_nearly_every_problem_has_siblings(drawn):
    without = [given for _, given, output in drawn if len(output["siblings"]) < COUNT]
    assert len(without) <= len(drawn) // 20, without
