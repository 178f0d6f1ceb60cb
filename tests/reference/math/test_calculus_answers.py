"""Verdicts about generated problems of calculus, against SymPy.

Keys are computed by SymPy and written in several forms. Wrong keys are right ones with a sign, a
number or a term changed, and are kept only where SymPy finds another value. The seed is fixed.
"""

import cmath
import collections
import json
import math
import pathlib
import random
import subprocess

import sympy as sp
from sympy.printing.latex import LatexPrinter

ROOT = pathlib.Path(__file__).resolve().parents[3]
x, y, t, s, n, C = sp.symbols("x y t s n C")
C1, C2 = sp.symbols("C_1 C_2")


class Textbook(LatexPrinter):
    """Prints the power of a logarithm so that it cannot be taken for the logarithm of a power."""

    def _print_log(self, expr, exp=None):
        inner = rf"\ln\left({self._print(expr.args[0])}\right)"
        return inner if exp is None else rf"\left({inner}\right)^{{{exp}}}"

    def _print_atan(self, expr, exp=None):
        inner = rf"\tan^{{-1}}\left({self._print(expr.args[0])}\right)"
        return inner if exp is None else rf"\left({inner}\right)^{{{exp}}}"


def tex(expression):
    """The TeX of an expression, with the names of functions that textbooks use."""
    return Textbook().doprint(expression)


def has_pole(expression, low, high):
    """The denominator vanishes between two numbers."""
    below = sp.lambdify(x, sp.denom(sp.together(expression)), "math")
    values = [below(low + (high - low) * step / 300) for step in range(301)]
    return any(left * right <= 0 for left, right in zip(values, values[1:], strict=False))


def atoms(rng, v=x):
    """A simple function of one letter."""
    a, b, k = rng.randint(2, 6), rng.randint(1, 7), rng.randint(2, 4)
    return rng.choice(
        [
            a * v**k, v**k + b, sp.sin(a * v), sp.cos(a * v), sp.exp(a * v), sp.exp(-b * v),
            sp.log(v), sp.sqrt(a * v + b), 1 / (v + b), sp.atan(a * v), sp.tan(v), v**2 - b * v,
            sp.sinh(v), sp.log(a * v + b), (v + b) ** k, sp.sin(v) ** 2, v ** sp.Rational(a, 3),
        ]
    )  # fmt: skip


def functions(rng, v=x):
    """A function as an exercise has it: a sum, product, quotient or composition."""
    f, g, h = atoms(rng, v), atoms(rng, v), atoms(rng, v)
    return rng.choice([f + g, f * g, f / g, f + g * h, f.subs(v, v**2 + 1), f * g - 3 * h])


def forms(rng, expression):
    """The same expression in other forms."""
    yield expression
    yield rng.choice([sp.expand, sp.together, sp.factor, sp.factor_terms])(expression)


def mistakes(rng, expression):
    """Expressions with one thing changed."""
    nodes = [e for e in sp.preorder_traversal(expression) if e.is_Integer and abs(e) > 0]
    for _ in range(3):
        kind = rng.randrange(3)
        if kind == 0 and nodes:
            chosen = rng.choice(nodes)
            yield expression.xreplace({chosen: chosen + rng.choice([1, 2])})
        elif kind == 1 and expression.is_Add:
            term = rng.choice(expression.args)
            yield expression - 2 * term
        elif kind == 2 and expression.is_Add:
            yield expression - rng.choice(expression.args)
        else:
            yield 2 * expression if rng.random() < 0.5 else -expression


FUNCTIONS = {
    sp.sin: cmath.sin, sp.cos: cmath.cos, sp.tan: cmath.tan, sp.exp: cmath.exp,
    sp.log: cmath.log, sp.atan: cmath.atan, sp.sinh: cmath.sinh, sp.cosh: cmath.cosh,
    sp.tanh: cmath.tanh,
}  # fmt: skip


def number(expression, place):
    """The value of an expression; by plain floating-point numbers, which SymPy's own way is not."""
    if expression.is_Symbol:
        return place[expression]
    if expression.is_Add:
        return sum(number(term, place) for term in expression.args)
    if expression.is_Mul:
        return math.prod(number(factor, place) for factor in expression.args)
    if expression.is_Pow:
        base, exponent = expression.args
        return number(base, place) ** number(exponent, place)
    if expression.is_number:
        return complex(expression)
    if expression.func in FUNCTIONS:
        return FUNCTIONS[expression.func](number(expression.args[0], place))
    return complex(expression.subs(place).evalf())


def differs(one, other):
    """Two expressions have clearly different values at places where both are real."""
    letters = sorted((one.free_symbols | other.free_symbols), key=str)
    seen = 0
    for shift in (0.31, 0.77, 1.43, 2.3):
        place = {letter: shift + 0.17 * rank for rank, letter in enumerate(letters)}
        try:
            left, right = complex(number(one, place)), complex(number(other, place))
        except (TypeError, ValueError, ZeroDivisionError, OverflowError):
            continue
        if abs(left.imag) > 1e-9 or abs(right.imag) > 1e-9 or left != left or right != right:
            continue
        if abs(left) > 1e8 or abs(left - right) < 1e-4 * max(abs(left), abs(right), 1e-3):
            return False
        seen += 1
    return seen >= 2


def problems(count=60):
    """Items `(kind, prompt, tex, right answers, wrong answers)`."""
    rng = random.Random(20270219)
    for _ in range(2 * count):
        f = functions(rng)
        slope = sp.diff(f, x)
        wrong = [w for w in mistakes(rng, slope) if differs(w, slope)]
        name = rng.choice(["f'(x) = ", "y' = ", r"\frac{dy}{dx} = ", ""])
        yield (
            "derivative",
            rng.choice(["Find the derivative.", "Differentiate.", "Find dy/dx."]),
            rng.choice(["f(x) = ", "y = "]) + tex(f),
            [name + tex(form) for form in forms(rng, slope)],
            [name + tex(w) for w in wrong],
        )
    for _ in range(count // 2):
        f = functions(rng)
        slope = sp.diff(f, x, 2)
        wrong = [w for w in mistakes(rng, slope) if differs(w, slope)]
        yield (
            "second derivative",
            "Find the second derivative.",
            "f(x) = " + tex(f),
            ["f''(x) = " + tex(slope)],
            [tex(w) for w in wrong],
        )
    for _ in range(2 * count):
        whole = functions(rng)
        integrand = sp.diff(whole, x)
        if integrand.is_number:
            continue
        wrong = [w for w in mistakes(rng, whole) if differs(sp.diff(w, x), integrand)]
        shown = rng.choice([integrand, sp.expand(integrand), sp.together(integrand)])
        yield (
            "indefinite integral",
            rng.choice(["Evaluate the integral.", "Integrate.", "Find the indefinite integral."]),
            rf"\int \left({tex(shown)}\right)\,dx",
            [tex(form) + " + C" for form in forms(rng, whole)],
            [tex(w) + " + C" for w in wrong],
        )
    for _ in range(count):
        whole = functions(rng)
        integrand = sp.diff(whole, x)
        low, high = sorted(rng.sample(range(1, 5), 2))
        value = whole.subs(x, high) - whole.subs(x, low)
        if whole.has(sp.tan) or not value.is_finite or has_pole(whole, low, high):
            continue
        wrong = [w for w in mistakes(rng, value) if differs(w, value)]
        yield (
            "definite integral",
            "Evaluate the definite integral.",
            rf"\int_{{{low}}}^{{{high}}} \left({tex(integrand)}\right)\,dx",
            [tex(value), tex(sp.simplify(value)) if rng.random() < 0.1 else tex(value)],
            [tex(w) for w in wrong],
        )
    for _ in range(count):
        a, b, c, d = (rng.randint(1, 7) for _ in range(4))
        f, place = rng.choice(
            [
                ((x**2 - a**2) / (x - a), a), (sp.sin(a * x) / (b * x), 0),
                ((sp.exp(a * x) - 1) / x, 0), ((1 - sp.cos(a * x)) / x**2, 0),
                ((sp.sqrt(x + a**2) - a) / x, 0), ((a * x**2 + b) / (c * x**2 + d * x), sp.oo),
                ((1 + sp.Rational(a, b) / x) ** (c * x), sp.oo), (sp.log(1 + a * x) / (b * x), 0),
                (sp.sqrt(x**2 + a * x) - x, sp.oo), ((x**3 - a**3) / (x**2 - a**2), a),
                (sp.tan(a * x) / sp.sin(b * x), 0), (x**a * sp.exp(-b * x), sp.oo),
                ((sp.exp(a * x) - 1 - a * x) / x**2, 0), (sp.log(x) / x**a, sp.oo),
                ((sp.sin(a * x) - a * x) / x**3, 0), (x * sp.sin(sp.Rational(a, b) / x), sp.oo),
                ((2 * x**2 + a * x - 1) / (x + b), -a - b), (sp.atan(a * x) / x, 0),
            ]
        )  # fmt: skip
        value = sp.limit(f, x, place)
        wrong = [w for w in (value + 1, -value, 2 * value, sp.oo) if w != value]
        yield (
            "limit",
            "Evaluate the limit, or say that it does not exist.",
            rf"\lim_{{x \to {tex(sp.sympify(place))}}} {tex(f)}",
            [tex(value)],
            [tex(w) for w in wrong] + [r"\text{does not exist}"],
        )
    for _ in range(count):
        p, q = rng.sample([-4, -3, -2, -1, 1, 2, 3, 4, 5], 2)
        if rng.random() < 0.5:
            solution = C1 * sp.exp(p * x) + C2 * sp.exp(q * x)
            other = C1 * sp.exp(p * x) + C2 * sp.exp((q + 7) * x)
            poly = sp.expand((t - p) * (t - q))
        else:
            w = abs(q)
            solution = sp.exp(p * x) * (C1 * sp.cos(w * x) + C2 * sp.sin(w * x))
            other = sp.exp(-p * x) * (C1 * sp.cos(w * x) + C2 * sp.sin(w * x))
            poly = sp.expand((t - p) ** 2 + w**2)
        b, c = poly.coeff(t, 1), poly.coeff(t, 0)
        forcing = rng.choice([sp.Integer(0), sp.exp(7 * x), x, sp.Integer(4)])
        particular = sp.Integer(0)
        if forcing == sp.exp(7 * x):
            particular = forcing / poly.subs(t, 7)
        elif forcing == x:
            particular = x / c - b / c**2
        elif forcing == 4:
            particular = 4 / c
        left = "y'' " + f"{'+' if b >= 0 else '-'} {abs(b)} y' {'+' if c >= 0 else '-'} {abs(c)} y"
        wrong = [other + particular, solution.subs(C2, 0) + particular]
        if particular != 0:
            wrong += [solution + 2 * particular, solution - particular, solution]
        yield (
            "differential equation",
            rng.choice(["Find the general solution.", "Solve the differential equation."]),
            f"{left} = {tex(forcing)}",
            ["y = " + tex(solution + particular), "y(x) = " + tex(sp.expand(solution + particular))],
            ["y = " + tex(w) for w in wrong],
        )
    for _ in range(count // 2):
        a, b = rng.randint(1, 5), rng.randint(1, 6)
        rate, start = rng.choice([-3, -2, -1, 1, 2, 3]), rng.randint(1, 9)
        solution = (start - sp.Rational(b, -rate)) * sp.exp(rate * x) + sp.Rational(b, -rate)
        sign = "+" if rate < 0 else "-"
        wrong = [w for w in mistakes(rng, solution) if differs(w, solution)]
        yield (
            "initial value problem",
            "Solve the initial value problem.",
            f"y' {sign} {abs(rate)} y = {b}, \\quad y(0) = {start}",
            ["y = " + tex(solution)],
            ["y = " + tex(w) for w in wrong],
        )
        yield (
            "implicit derivative",
            "Find dy/dx by implicit differentiation.",
            f"{a} x^2 + {b} x y + y^3 = {start}",
            [tex(-(2 * a * x + b * y) / (b * x + 3 * y**2))],
            [tex((2 * a * x + b * y) / (b * x + 3 * y**2)), tex(-(2 * a * x) / (b * x + 3 * y**2))],
        )
    for _ in range(count):
        a, b, c = rng.randint(1, 4), rng.randint(2, 6), rng.randint(1, 5)
        term, total = rng.choice(
            [
                ((sp.Rational(a, a + b)) ** n * c, None), (1 / ((n + c) * (n + c + 1)), None),
                (sp.Integer(a) ** n / sp.factorial(n), sp.exp(a)),
                ((-1) ** n * sp.Integer(c) / sp.Integer(b) ** n, None),
                (n * sp.Rational(1, b) ** n, None),
            ]
        )  # fmt: skip
        value = total if total is not None else sp.summation(term, (n, 0, sp.oo))
        wrong = [value + 1, -value, value * 2, 1 / (value + 3)]
        yield (
            "sum of a series",
            "Find the sum of the series.",
            rf"\sum_{{n=0}}^{{\infty}} {tex(term)}",
            [tex(value)],
            [tex(w) for w in wrong if differs(w, value)] + [r"\text{diverges}"],
        )
    for _ in range(count):
        a, b, k = rng.randint(1, 5), rng.randint(1, 6), rng.randint(1, 4)
        term, converges = rng.choice(
            [
                (1 / n**k, k > 1), (1 / sp.sqrt(n**k + a), k > 2), (n**k / sp.Integer(b + 1) ** n, True),
                (sp.factorial(n) / sp.Integer(a) ** n, False), ((n + a) / (b * n + 1), False),
                (sp.Integer(a) ** n / sp.factorial(n), True), (n / (n**3 + a), True),
                (sp.log(n) / n, False), ((-1) ** n / sp.sqrt(n + a), True), (sp.sin(1 / n**2), True),
            ]
        )  # fmt: skip
        right, other = r"\text{converges}", r"\text{diverges}"
        yield (
            "convergence",
            "Determine whether the series converges or diverges.",
            rf"\sum_{{n=1}}^{{\infty}} {tex(term)}",
            [right if converges else other],
            [other if converges else right],
        )
    for _ in range(count // 2):
        f = rng.choice([sp.exp(2 * x), sp.sin(3 * x), sp.cos(x), sp.log(1 + x), 1 / (1 - x), sp.sqrt(1 + x)])
        degree = rng.randint(3, 5)
        poly = sp.series(f, x, 0, degree + 1).removeO()
        wrong = [w for w in mistakes(rng, poly) if sp.expand(w - poly) != 0]
        yield (
            "Taylor polynomial",
            f"Find the Maclaurin polynomial of degree {degree}.",
            "f(x) = " + tex(f),
            [tex(poly)],
            [tex(w) for w in wrong if sp.degree(w, x) <= degree],
        )
    for _ in range(count // 2):
        a, b, k = rng.randint(1, 5), rng.randint(1, 5), rng.randint(1, 3)
        f = rng.choice([t**k, sp.exp(-a * t), sp.sin(b * t), sp.cos(b * t), t * sp.exp(a * t), sp.exp(a * t) * sp.sin(b * t)])
        image = sp.laplace_transform(f, t, s, noconds=True)
        wrong = [w for w in mistakes(rng, sp.together(image)) if differs(w.subs(s, s + 9), image.subs(s, s + 9))]
        yield (
            "Laplace transform",
            "Find the Laplace transform.",
            "f(t) = " + tex(f),
            [tex(image)],
            [tex(w) for w in wrong],
        )


def verdicts(items):
    """The verdict for each item, from the example program."""
    command = ["cargo", "run", "--quiet", "-p", "porism-math", "--example", "verify_jsonl"]
    lines = "".join(json.dumps(item) + "\n" for item in items)
    done = subprocess.run(command, input=lines, capture_output=True, text=True, cwd=ROOT, check=False)
    assert done.returncode == 0, done.stderr
    found = [json.loads(line) for line in done.stdout.splitlines()]
    assert len(found) == len(items)
    return found


def test_right_keys_pass_and_wrong_ones_are_caught():
    """Few false alarms, most wrong keys caught, few that cannot be told, for each kind."""
    items = []
    for kind, prompt, formula, right, wrong in problems():
        for answers, is_right in ((right, True), (wrong, False)):
            for answer in answers:
                item = {"prompt": prompt, "tex": formula, "answer": answer}
                items.append((kind, is_right, item))
    found = verdicts([item for _, _, item in items])
    counts = collections.defaultdict(collections.Counter)
    told = []
    for (kind, is_right, item), verdict in zip(items, found, strict=True):
        counts[kind][is_right, verdict["verdict"]] += 1
        if verdict["verdict"] != ("holds" if is_right else "fails"):
            told.append(f"{kind}: {is_right} {verdict} {item}")
    for kind, count in sorted(counts.items()):
        right = sum(number for (is_right, _), number in count.items() if is_right)
        wrong = sum(number for (is_right, _), number in count.items() if not is_right)
        told.append(f"{kind:24} right {right:4} wrong {wrong:4} {dict(count)}")
    report = "\n".join(told)
    print(report)
    assert sum(sum(count.values()) for count in counts.values()) > 2_500
    for kind, count in counts.items():
        right = sum(number for (is_right, _), number in count.items() if is_right)
        wrong = sum(number for (is_right, _), number in count.items() if not is_right)
        assert count[True, "fails"] * 200 <= right, report
        assert count[True, "cannot-tell"] * 20 <= right, report
        assert count[False, "fails"] * 20 >= wrong * 19, report
