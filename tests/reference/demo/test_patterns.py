"""Checks the patterns of the starter set and of the demo notebook for form: names, references,
shapes and the wording of their conditions."""

import re

import pytest

from notebook import ROOT, blocks, blocks_of, formulas

STARTER = [b for path in sorted((ROOT / "starter").glob("*.porism")) for b in blocks_of(path, ROOT / "starter")]
SHAPES = [(b, s) for b in [*STARTER, *blocks("pattern")] if b.kind == "pattern" for s in b.all("shape")]

LETTERS = r"[a-zA-Z](?:, [a-zA-Z])*"
NUMBER = r"-?\d+"
CONDITIONS = [
    rf"{LETTERS} (?:is a|are) (?:number|integer)s?",
    rf"{LETTERS} is an integer",
    r".+ is (?:not )?(?:positive|negative|0)",
    rf".+ is (?:not )?a perfect square",
    rf".+ is (?:not )?{NUMBER}",
    r"[a-z] (?:depends|depends only) on [a-z]",
    r"[a-z] is (?:not )?linear in [a-z]",
    r"[a-z] is a polynomial in [a-z] of degree \d(?: \.\. \d)?",
    rf".+ at [a-z] is (?:not )?(?:{NUMBER}|infinite|a number)",
    r"[a-z] is (?:not )?[a-z]",
    r"[a-z] is (?:not )?infinite(?: between [a-z] and [a-z])?",
    rf"{LETTERS} (?:is|are) (?:odd|even)",
    r".+ is a perfect cube",
    r".+ is (?:not )?an integer",
    rf"{LETTERS} (?:is|are) (?:an )?expressions?",
    r".+ is a number",
    rf"{LETTERS} depend(?:s only|s| only)? on [a-z]",
    r"[a-z] is a sum of (?:powers of|basic functions of|basic integrands in) [a-z]",
    r"[a-z] is (?:not )?an exponential polynomial in [a-z]",
    r"[a-z] is a product of different factors in [a-z]",
    r".+ depends on [a-z]",
    rf".+ (?:<|>|=) {NUMBER}",
    r".+ = .+",
]

# Conditions on the problem itself rather than on what fills a letter.
ABOUT_THE_PROBLEM = [
    r"(?:asks|does not ask) (?:to|for|about) .+",
    r"the formula (?:contains|does not contain|has|is|is written as|is not written as) .+",
]


def letters(tex):
    """The letters of a formula that are not part of a command or environment."""
    tex = re.sub(r"\\(?:begin|end)\{\w+\}|\\[a-zA-Z]+", " ", tex)
    return set(re.findall(r"[a-zA-Z]", tex))


def test_starter_is_patterns_only_and_large_enough():
    assert {b.kind for b in STARTER} == {"pattern"}
    assert len(STARTER) >= 60
    assert sum(bool(b.all("shape")) for b in STARTER) >= 60


def test_starter_names_are_unique_and_references_defined():
    names = [b.title.lower() for b in STARTER]
    assert len(names) == len(set(names))
    for block in STARTER:
        for field in ("reduces to", "confused with"):
            for name in block.names(field):
                assert name in names and name != block.title.lower(), f"{block}: {name}"


def test_every_starter_pattern_has_cue_and_method():
    for block in STARTER:
        assert block.get("cue") and block.get("method"), str(block)
        assert not block.statement, f"{block}: {block.statement}"


@pytest.mark.parametrize("block, shape", SHAPES, ids=[f"{b.title}-{i}" for i, (b, _) in enumerate(SHAPES)])
def test_shape_is_in_the_form_of_the_format(block, shape):
    if not shape.startswith("$"):
        for condition in shape.split("; "):
            assert any(re.fullmatch(c, condition) for c in ABOUT_THE_PROBLEM), condition
        return
    form = re.fullmatch(r"\$([^$]+)\$(?: where ([^$]+))?", shape)
    assert form, shape
    template, conditions = form.groups()
    assert template.count("{") == template.count("}")
    held = letters(template)
    for condition in (conditions or "").split("; "):
        if any(re.fullmatch(c, condition) for c in ABOUT_THE_PROBLEM):
            continue
        assert any(re.fullmatch(c, condition) for c in CONDITIONS), condition
        # What is spoken of stands in the template; x, y and n may be hidden in a hole.
        left = re.split(r" (?:is|are|depends?|at|<|>|=) ", condition)[0]
        assert letters(left) <= held | set("xyn"), (condition, held)


def test_formulas_of_cues_and_methods_are_closed():
    for block in [*STARTER, *blocks("pattern")]:
        for field in ("cue", "method"):
            for value in block.all(field):
                assert value.count("$") % 2 == 0, f"{block}: {value}"
                assert all(f.count("{") == f.count("}") for f in formulas(value))
