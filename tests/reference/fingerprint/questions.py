"""School problems from the generators of the package mathematics-dataset (Saxton, Grefenstette,
Hill and Kohli, Analysing Mathematical Reasoning Abilities of Neural Models, 2019), as exercises in
TeX."""

import json
import random
import re
import sys
import warnings

import numpy as np
import sympy as sp
import sympy.solvers.diophantine
from sympy.solvers.diophantine.diophantine import base_solution_linear


class Writable(np.ndarray):
    """An array with the method `itemset`, which NumPy 2 has no more."""

    def itemset(self, place, value):
        self[place] = value


class Numpy:
    """NumPy as the generators know it: with the names and the method that NumPy 2 dropped."""

    object = object

    def __getattr__(self, name):
        return getattr(np, name)

    def empty(self, *given, **named):
        return np.empty(*given, **named).view(Writable)

    def zeros(self, *given, **named):
        return np.zeros(*given, **named).view(Writable)


def generators():
    """The generators by name. They were written for older SymPy and NumPy."""
    sys.modules["sympy.solvers.diophantine"].base_solution_linear = base_solution_linear
    from mathematics_dataset.modules import modules
    from mathematics_dataset.sample import polynomials

    polynomials.np = Numpy()
    found = {}

    def walk(tree, prefix=""):
        for name, below in tree.items():
            if isinstance(below, dict):
                walk(below, prefix + name + "__")
            else:
                found[prefix + name] = below

    walk(modules.train(lambda low_and_high: low_and_high))
    return found


# A question as the generator words it, and the instruction of the exercise.
WORDINGS = {
    "algebra__linear_1d": [(r"Solve (?P<tex>.+) for (?P<letter>\w)\.", "Solve for ${letter}$.")],
    "algebra__linear_2d": [
        (r"Solve (?P<tex>.+) for (?P<letter>\w)\.", "Solve the system of equations.")
    ],
    "algebra__polynomial_roots": [
        (r"(?:Let|Suppose) (?P<tex>.+ = 0)\. (?:What is|Calculate) \w[.?]", "Solve."),
        (r"(?:Determine|Find|Calculate) \w,? (?:given that|such that|so that|if|where) (?P<tex>.+ = 0)\.", "Solve."),
        (r"Solve (?P<tex>.+ = 0)(?: for \w)?\.", "Solve."),
        (r"What is \w in (?P<tex>.+ = 0)\?", "Solve."),
        (r"Factor (?P<tex>.+)\.", "Factor completely."),
    ],
    "calculus__differentiate": [
        (r"(?:What is|Find) the derivative of (?P<tex>[^;=]+?) (?:wrt|with respect to) \w[.?]", "Find the derivative."),
        (r"(?:What is|Find) the second derivative of (?P<tex>[^;=]+?) (?:wrt|with respect to) \w[.?]", "Find the second derivative."),
        (r"Differentiate (?P<tex>[^;=]+?) (?:wrt|with respect to) \w\.", "Differentiate."),
    ],
    "polynomials__expand": [(r"Expand (?P<tex>.+)\.", "Expand.")],
    "polynomials__collect": [(r"Collect the terms in (?P<tex>.+)\.", "Simplify.")],
    "arithmetic__add_or_sub": [
        (r"(?:Work out|Calculate|What is) (?P<tex>[-+.\d ]+)[.?]", "Evaluate.")
    ],
    "arithmetic__mul": [(r"(?:Calculate|What is|Work out) (?P<tex>[-.\d* ]+)[.?]", "Evaluate.")],
    "arithmetic__simplify_surd": [(r"Simplify (?P<tex>.+)\.", "Simplify.")],
    "polynomials__simplify_power": [
        (r"Simplify (?P<tex>.+) assuming \w is positive\.", "Simplify.")
    ],
}  # fmt: skip


def in_tex(text):
    """The generators' notation, which is Python's, as TeX."""
    text = re.sub(r"\*\*\((-?\d+(?:/\d+)?)\)", r"^{\1}", text)
    text = re.sub(r"\*\*(\d+)", r"^{\1}", text)
    text = re.sub(r"sqrt\(([^()]*)\)", r"\\sqrt{\1}", text)
    text = re.sub(r"(?<=[\da-z}])\*(?=[a-z(\\])", " ", text)
    return text.replace("*", r" \cdot ")


def questions(module, make, count, seed):
    """Exercises `{"module", "prompt", "tex", "source"}` of one generator."""
    random.seed(seed)
    np.random.seed(seed)
    found = []
    for _ in range(20 * count):
        if len(found) == count:
            break
        question = str(make().question)
        for wording, prompt in WORDINGS[module]:
            # In TeX e and i are numbers.
            question = re.sub(r"(?<![a-z])[ei](?![a-z])", "x", question) if "x" not in question else question
            match = re.fullmatch(wording, question)
            if match and len(match["tex"]) <= 120:
                letter = match.groupdict().get("letter", "")
                found.append(
                    {
                        "module": module,
                        "prompt": prompt.replace("{letter}", letter),
                        "tex": in_tex(match["tex"]),
                        "source": match["tex"],
                        "letter": letter,
                    }
                )
                break
    return found


def sympified(text):
    letters = {letter: sp.Symbol(letter) for letter in "abcdefghijklmnopqrstuvwxyz"}
    return sp.sympify(text, locals=letters, rational=True)


def main():
    """Prints exercises as lines of JSON: `questions.py SEED MODULE COUNT MODULE COUNT ...`."""
    warnings.simplefilter("ignore")
    seed, *rest = sys.argv[1:]
    make = generators()
    for module, count in zip(rest[::2], rest[1::2], strict=True):
        for exercise in questions(module, make[module], int(count), int(seed)):
            print(json.dumps(exercise))


if __name__ == "__main__":
    main()
