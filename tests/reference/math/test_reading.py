"""What the reader reads, against SymPy and against published examples.

`formulas.jsonl` holds formulas of our own and, for each, the same thing as an expression of SymPy,
written by hand. `open_examples.jsonl` holds published problems and answers with their citations.
"""

import cmath
import collections
import json
import pathlib
import random
import re

import pytest
import sympy as sp

from structure import GREEK, parse, sympify

HERE = pathlib.Path(__file__).resolve().parent


def rows(name):
    """The lines of a file of JSON beside this one."""
    return [json.loads(line) for line in (HERE / name).read_text().splitlines()]


FORMULAS = rows("formulas.jsonl")
EXAMPLES = rows("open_examples.jsonl")

# In the file, a single letter before a bracket is a function that is only named.
CALL = re.compile(r"(?<![A-Za-z_])([a-zA-Z]|phi|Gamma)\(")
CAPITALS = (
    "AT PR DN DD PD DX INV COMP GIVEN IDX LIM LIMR LIML PM MP EVAL INT2 INT3 INTC SUMC SB IN "
)
CAPITALS += "UNION INTER DIFF DOT CROSS GRAD DIV CURL LAP TRACE TR RATIO MOD CONG APPROX PROP MAP "
CAPITALS += "SUBSET FORALL DET"


def names():
    """What the words of the file mean: letters are symbols, capital words undefined functions."""
    letters = {letter: sp.Symbol(letter) for letter in "abcdfghijklmnopqrstuvwxyz"}
    letters |= {letter: sp.Symbol(letter) for letter in "ABCDFGHJKLMNOPQRSTUVWXYZ"}
    letters |= {name: sp.Symbol(name) for name in [*GREEK.values(), "Gamma"] if name != "pi"}
    letters |= {word: sp.Function(word) for word in CAPITALS.split()}
    letters |= {"E_": sp.Symbol("E"), "I_": sp.Symbol("I")}
    return letters | {
        "Reals": sp.S.Reals,
        "Integers": sp.S.Integers,
        "Naturals": sp.S.Naturals,
        "EmptySet": sp.S.EmptySet,
        "Matrix": sp.ImmutableMatrix,
    } | {
        name: (lambda kind: lambda *sides: kind(*sides, evaluate=False))(getattr(sp, name))
        for name in "Eq Ne Lt Le Gt Ge And Or Implies Equivalent".split()
    }  # fmt: skip


NAMES = names()


def expected(text):
    return sp.sympify(CALL.sub(r"AT(\1,", text), locals=NAMES)


def at_random(symbols, seed):
    """Values for symbols, away from zero, one, and every branch cut; the same in every formula."""
    return {symbol: random.Random(f"{symbol} {seed}").uniform(1.1, 2.7) for symbol in symbols}


def same(found, wanted):
    """Equal as SymPy sees it, part by part, or in value at several points."""
    if found == wanted:
        return True
    if isinstance(found, (sp.Sum, sp.Product)) and not isinstance(wanted, (sp.Sum, sp.Product)):
        found = found.doit()
    if isinstance(found, sp.Expr) and isinstance(wanted, sp.Expr) and is_numeric(found - wanted):
        symbols = found.free_symbols | wanted.free_symbols
        return all(
            close(value(found, point), value(wanted, point))
            for point in (at_random(symbols, seed) for seed in range(4))
        )
    return (
        found.func == wanted.func
        and len(found.args) == len(wanted.args)
        and len(found.args) > 0
        and all(map(same, found.args, wanted.args))
    )


def is_numeric(expression):
    """Every part has a number for its value once the symbols have one."""
    opaque = (sp.Integral, sp.Derivative, sp.Sum, sp.Product, sp.core.function.AppliedUndef)
    return expression.is_commutative and not expression.has(*opaque)


def value(expression, point):
    return complex(sp.N(expression.subs(point), 20))


def close(left, right):
    return cmath.isclose(left, right, rel_tol=1e-9, abs_tol=1e-12)


@pytest.fixture(scope="module")
def readings(read_formulas):
    inputs = [{"tex": row["tex"], "at": points(row)} for row in FORMULAS]
    return read_formulas(inputs)


def points(row):
    """Values for every letter there is: what cancels in SymPy still needs one."""
    greek = {name: letter for letter, name in GREEK.items()}
    letters = [str(symbol) for symbol in NAMES.values() if isinstance(symbol, sp.Symbol)]
    letters += [str(symbol) for symbol in expected(row["sympy"]).free_symbols]
    return [
        {greek.get(name, name): number for name, number in at_random(letters, seed).items()}
        for seed in range(3)
    ]


def test_enough_formulas_of_every_kind():
    kinds = collections.Counter(row["kind"] for row in FORMULAS)
    assert sum(kinds.values()) >= 300
    assert len({row["tex"] for row in FORMULAS}) == len(FORMULAS)
    assert min(kinds.values()) >= 15, kinds


def test_every_formula_is_read_without_doubt(readings):
    doubtful = [
        (row["tex"], reading["diagnostics"])
        for row, reading in zip(FORMULAS, readings, strict=True)
        if not reading["certain"]
    ]
    assert doubtful == []


def test_every_formula_is_read_as_what_it_says(readings):
    wrong = []
    for row, reading in zip(FORMULAS, readings, strict=True):
        found, wanted = sympify(parse(reading["structure"])), expected(row["sympy"])
        if not same(found, wanted):
            wrong.append((row["tex"], found, wanted))
    assert wrong == []


def test_values_are_those_of_sympy(readings):
    wrong, compared = [], 0
    for row, reading in zip(FORMULAS, readings, strict=True):
        wanted = expected(row["sympy"])
        named = {"TEXT"} | {f"{mark}_{letter}" for mark in ("b", "v", "bar") for letter in "uvabFz"}
        if not isinstance(wanted, sp.Expr) or not is_numeric(wanted) or wanted.has(sp.oo):
            continue
        if named & {str(symbol) for symbol in wanted.free_symbols}:
            continue
        for seed, found in enumerate(reading["values"]):
            reference = value(wanted, at_random(wanted.free_symbols, seed))
            compared += 1
            if found is None or not close(complex(*found), reference):
                wrong.append((row["tex"], found, reference))
    assert wrong == []
    assert compared >= 450


def test_what_is_printed_reads_back(readings, read_formulas):
    again = read_formulas([{"tex": reading["printed"]} for reading in readings])
    changed = [
        (first["printed"], first["structure"], second["structure"])
        for first, second in zip(readings, again, strict=True)
        if first["structure"] != second["structure"]
    ]
    assert changed == []
    assert all(reading["plain"].strip() for reading in readings)


def test_published_examples_are_read_without_doubt(read_formulas):
    texts = [row[key] for row in EXAMPLES for key in ("tex", "answer_tex")]
    assert len(texts) == 88
    for text, reading in zip(texts, read_formulas([{"tex": text} for text in texts]), strict=True):
        assert reading["certain"], (text, reading["diagnostics"])


# Published examples whose answer is the same number or function as the problem: reading both and
# comparing them in SymPy checks the reading of each against the book.
EQUAL = [
    "open-05", "open-06", "open-07", "open-11", "open-17", "open-18", "open-22", "open-24",
    "open-25", "open-26", "open-27", "open-29", "open-31", "open-33", "open-34", "open-35",
]  # fmt: skip


@pytest.mark.parametrize("name", EQUAL)
def test_published_simplifications_hold_as_read(name, read_formulas):
    row = next(row for row in EXAMPLES if row["id"] == name)
    problem, answer = (
        sympify(parse(reading["structure"])).doit()
        for reading in read_formulas([{"tex": row["tex"]}, {"tex": row["answer_tex"]}])
    )
    assert same(problem, answer), row["citation"]


# Published equations with their solutions: every solution satisfies the equation as read.
SOLVED = ["open-02", "open-03", "open-12", "open-13", "open-14", "open-15", "open-19", "open-21"]
SOLVED += ["open-30", "open-32"]


@pytest.mark.parametrize("name", SOLVED)
def test_published_solutions_satisfy_the_equation_as_read(name, read_formulas):
    row = next(row for row in EXAMPLES if row["id"] == name)
    equation, solutions = (
        sympify(parse(reading["structure"]))
        for reading in read_formulas([{"tex": row["tex"]}, {"tex": row["answer_tex"]}])
    )
    solutions = solutions.args if isinstance(solutions, sp.Tuple) else [solutions]
    for solution in solutions:
        residual = (equation.lhs - equation.rhs).subs(solution.lhs, solution.rhs)
        assert abs(complex(sp.N(residual, 30))) < 1e-12, row["citation"]
