"""Problems of one generator with other numbers share a fingerprint, or the difference is explained.

What an exercise looks like is told here from its source and with SymPy, without Porism: the degrees
of its terms, and the properties of its numbers in `EXPLANATIONS`. Exercises that look alike in all
of these have one fingerprint, and those that need another method have another."""

import ast
import collections
import functools
import itertools
import json
import os
import pathlib
import subprocess
import sys

import pytest
import sympy as sp

import questions

HERE = pathlib.Path(__file__).resolve().parent
ROOT = HERE.parents[2]

# The generator, and how many of its exercises are looked at.
COUNTS = {
    "algebra__linear_1d": 60,
    "algebra__linear_2d": 40,
    "algebra__polynomial_roots": 24,
    "polynomials__collect": 60,
    "arithmetic__add_or_sub": 60,
    "arithmetic__mul": 40,
}


def terms(node, sign=1):
    """The terms of a sum with their signs."""
    if isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Add, ast.Sub)):
        right = sign if isinstance(node.op, ast.Add) else -sign
        return terms(node.left, sign) + terms(node.right, right)
    if isinstance(node, ast.UnaryOp):
        return terms(node.operand, -sign)
    return [(sign, node)]


def value(node):
    return number(ast.unparse(node))


@functools.cache
def number(text):
    return questions.sympified(text)


def sides(exercise):
    """Each side of each equation, or the expression."""
    return [
        [terms(ast.parse(side.strip(), mode="eval").body) for side in equation.split("=")]
        for equation in exercise["source"].split(",")
    ]


def degree(node):
    powers = value(node).as_powers_dict()
    return tuple(sorted(power for base, power in powers.items() if base.is_Symbol))


def structure(exercise):
    """The instruction, and the degrees of the terms on each side; sides and equations may be
    swapped."""
    prompt = exercise["prompt"].split(" for ")[0]
    equations = (
        tuple(sorted(tuple(sorted(degree(node) for _, node in side)) for side in equation))
        for equation in sides(exercise)
    )
    return prompt, tuple(sorted(equations))


def zero_side(exercise):
    """A side that is 0: nothing has to be moved."""
    return sorted(
        sum(len(side) == 1 and value(side[0][1]) == 0 for side in equation)
        for equation in sides(exercise)
    )


def like_terms(exercise):
    """What is left of the like terms of one side when they are collected: nothing, one, or more."""
    found = []
    for side in itertools.chain.from_iterable(sides(exercise)):
        sums = collections.defaultdict(list)
        for sign, node in side:
            number, letters = value(node).as_coeff_Mul()
            sums[letters].append(sign * number)
        for letters, numbers in sums.items():
            if len(numbers) > 1:
                opposite = any(a == -b for a, b in itertools.combinations(numbers, 2))
                total = sum(numbers)
                found.append((str(letters != 1), opposite, total == 0, abs(total) == 1))
    return sorted(found)


def ones_and_zeros(exercise):
    """Coefficients of 0 and 1, and terms of 0: as good as not there."""
    found = []
    for side in itertools.chain.from_iterable(sides(exercise)):
        for _, node in side:
            number, letters = value(node).as_coeff_Mul()
            if abs(number) in (0, 1):
                found.append((str(abs(number)), str(letters != 1)))
    return sorted(found)


def arithmetic(exercise):
    """In arithmetic the signs of the numbers, whether they are whole, and two signs in a row."""
    if not exercise["module"].startswith("arithmetic"):
        return None
    tree = ast.parse(exercise["source"].strip(), mode="eval").body
    numbers = []
    for node in (tree.left, tree.right):
        number = value(node)
        kind = "decimal" if "." in ast.unparse(node) else "whole"
        numbers.append((kind, str(abs(number)) if abs(number) in (0, 1) else "", bool(number < 0)))
    if isinstance(tree.op, ast.Mult):
        # A minus sign may stand before either factor.
        return sorted(number[:2] for number in numbers), sum(number[2] for number in numbers)
    double = isinstance(tree.op, ast.Sub) and isinstance(tree.right, ast.UnaryOp)
    if isinstance(tree.op, ast.Sub):
        *rest, negative = numbers[1]
        numbers[1] = (*rest, not negative)
    # Two signs in a row belong to the second number.
    return numbers if double else sorted(numbers), double


def roots(exercise):
    """The kinds of the roots of a polynomial: the degrees and powers of its factors, roots of 0,
    and real or not."""
    if exercise["module"] != "algebra__polynomial_roots":
        return None
    whole = questions.sympified(exercise["source"].split("=")[0])
    (letter,) = whole.free_symbols
    _, factors = sp.factor_list(whole, letter)
    found = []
    for factor, power in factors:
        real = sp.Poly(factor, letter).count_roots()
        found.append((sp.degree(factor, letter), power, real, factor == letter))
    return sorted(found)


# Properties of the numbers on which the method depends, or which make one exercise easier than
# another.
EXPLANATIONS = [zero_side, like_terms, ones_and_zeros, arithmetic, roots]


@pytest.fixture(scope="module")
def exercises():
    """Exercises of all generators, each with its fingerprint."""
    # The generators depend on the order of sets.
    asked = [str(word) for pair in COUNTS.items() for word in pair]
    made = subprocess.run(
        [sys.executable, HERE / "questions.py", "7", *asked],
        capture_output=True,
        text=True,
        check=False,
        env={**os.environ, "PYTHONHASHSEED": "0"},
    )
    assert made.returncode == 0, made.stderr
    found = [json.loads(line) for line in made.stdout.splitlines()]
    command = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "read_jsonl"]
    lines = "".join(
        json.dumps({"tex": one["tex"], "prompt": one["prompt"]}) + "\n" for one in found
    )
    done = subprocess.run(
        command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False, env=os.environ
    )
    assert done.returncode == 0, done.stderr
    for exercise, line in zip(found, done.stdout.splitlines(), strict=True):
        exercise["fingerprint"] = json.loads(line)["fingerprint"]
        exercise["structure"] = exercise["module"], structure(exercise)
        exercise["said"] = {one.__name__: repr(one(exercise)) for one in EXPLANATIONS}
    return found


def grouped(exercises, key):
    groups = collections.defaultdict(list)
    for exercise in exercises:
        groups[key(exercise)].append(exercise)
    return groups


def everything(exercise):
    return exercise["structure"], tuple(exercise["said"].values())


def test_every_exercise_is_read(exercises):
    counts = collections.Counter(exercise["module"] for exercise in exercises)
    assert counts == COUNTS
    assert [one["tex"] for one in exercises if one["fingerprint"] is None] == []


def test_exercises_that_look_alike_share_a_fingerprint(exercises):
    unexplained = []
    shared = 0
    for group in grouped(exercises, everything).values():
        prints = grouped(group, lambda one: one["fingerprint"])
        shared += len(group) - len(prints)
        if len(prints) > 1:
            unexplained.append([[one["source"] for one in ones] for ones in prints.values()])
    assert unexplained == [], "\n".join(map(str, unexplained))
    assert shared > 100, shared


def test_every_explanation_is_needed(exercises):
    """Without any one of them, some exercises that look alike have different fingerprints."""
    for explanation in EXPLANATIONS:
        name = explanation.__name__

        def rest(exercise, name=name):
            said = exercise["said"].items()
            return exercise["structure"], tuple(text for other, text in said if other != name)

        groups = grouped(exercises, rest).values()
        split = sum(len({one["fingerprint"] for one in group}) > 1 for group in groups)
        print(f"{name}: {split} structures")
        assert split > 0, name


def test_fingerprints_tell_methods_apart(exercises):
    """One fingerprint, one instruction, one degree, and roots of one kind."""
    wrong = []
    for group in grouped(exercises, lambda one: one["fingerprint"]).values():
        methods = {
            (one["module"].split("__")[0], one["prompt"].split(" for ")[0], one["said"]["roots"])
            for one in group
        }
        if len(methods) > 1:
            wrong.append([one["source"] for one in group])
    assert wrong == []
