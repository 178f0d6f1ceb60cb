"""Decides with SymPy whether the key of a problem is right.

Each check takes the problem as SymPy's expressions, as `structure.py` of the neighbouring tests
reads them, and knows nothing of how the key was found: solutions are substituted and counted,
derivatives and integrals are compared at points, limits and sums are SymPy's own.
"""

import math
import pathlib
import random
import sys

import mpmath
import sympy as sp

sys.path.insert(0, str(pathlib.Path(__file__).parent.parent / "math"))

from structure import parse, sympify  # noqa: E402

X, Y, C = sp.symbols("x y C", real=True)
# What is asked there may have complex answers, or has no letter that must be real.
PLAIN = ("Equation", "Inequality", "System", "Matrix", "Sum")
POINTS = [
    float(point)
    for point in "0.37 0.83 1.29 2.11 3.7 5.3 7.7 11.3 19.1 -0.41 -1.77 -3.1 -7.3".split()
]


def check(task, sibling):
    """Fails if the key of a sibling is wrong."""
    read = sibling["read"]
    main = in_reals(read["main"], task)
    conditions = [
        condition
        for condition in (in_reals(one, task) for one in read["conditions"])
        if not condition.is_Symbol
    ]
    words = None if "$" in sibling["answer"] else sibling["answer"]
    answer = None if words else in_reals(read["answer"][0], task)
    CHECKS[task](Problem(main, conditions, answer, words, set(read["instructions"])))


class Problem:
    """A problem and its key."""

    def __init__(self, main, conditions, answer, words, asked):
        self.main, self.conditions = main, conditions
        self.answer, self.words, self.asked = answer, words, asked


def in_reals(structure, task):
    """The expression of SymPy, with real letters where the task is one of calculus."""
    read = sympify(parse(structure))
    if task in PLAIN:
        return read
    letters = {letter: sp.Symbol(letter.name, real=True) for letter in read.atoms(sp.Symbol)}
    return read.xreplace(letters)


def number(value):
    return complex(sp.N(value, 30))


def near(left, right, scale=1.0):
    return abs(number(left) - number(right)) < 1e-8 * (1 + abs(scale))


def items(answer):
    return list(answer.args) if isinstance(answer, sp.Tuple) else [answer]


def value(answer):
    return answer.rhs if isinstance(answer, sp.Eq) else answer


def values_of(answer, letter):
    """The values in `x = 1, x = 2`."""
    values = []
    for item in items(answer):
        assert isinstance(item, sp.Eq) and item.lhs == letter, item
        values.append(item.rhs)
    return values


def real_power(base, numerator, denominator):
    """The real power where the denominator of the exponent is odd."""
    root = mpmath.root(abs(base), denominator) * (1 if mpmath.re(base) >= 0 else -1)
    return root**numerator


def function_of(expression, letters, real_roots=False):
    """The expression as a function of numbers; None where it has no finite value."""
    named = {}
    if real_roots:
        expression = sp.sympify(expression).replace(
            lambda e: e.is_Pow and e.exp.is_Rational and e.exp.q > 1 and e.exp.q % 2 == 1,
            lambda e: sp.Function("real_power")(e.base, e.exp.p, e.exp.q),
        )
        named = {"real_power": real_power}
    inner = sp.lambdify(letters, expression, [named, "mpmath"])

    def at(*values):
        try:
            found = complex(inner(*map(mpmath.mpmathify, values)))
        except (TypeError, ValueError, ZeroDivisionError, OverflowError):
            return None
        return found if math.isfinite(found.real) and math.isfinite(found.imag) else None

    return at


def agree(left, right, letters, least=2, points=POINTS):
    """Two expressions are equal at points where both are real numbers."""
    agreed = 0
    left_at, right_at = (function_of(side, letters) for side in (left, right))
    for start in range(len(points)):
        point = [points[(start + 4 * at) % len(points)] for at in range(len(letters))]
        a, b = left_at(*point), right_at(*point)
        if a is None or b is None or abs(a.imag) > 1e-9 or abs(b.imag) > 1e-9:
            continue
        assert abs(a - b) < 1e-7 * (1 + abs(a) + abs(b)), (left, right, point)
        agreed += 1
    if agreed >= least:
        return
    # Functions such as the arcsine are real on a small interval only.
    scaled = [(0.013 + 0.021 * at) for at in range(12)]
    for start in range(len(scaled)):
        point = [scaled[(start + 5 * at) % len(scaled)] for at in range(len(letters))]
        a, b = left_at(*point), right_at(*point)
        if a is None or b is None or abs(a.imag) > 1e-9 or abs(b.imag) > 1e-9:
            continue
        assert abs(a - b) < 1e-7 * (1 + abs(a) + abs(b)), (left, right, point)
        agreed += 1
    assert agreed >= least, (left, right)


def scanned_roots(function, low, high):
    """Where a function changes its sign, by bisection."""

    def at(x):
        found = function(x)
        return None if found is None or abs(found.imag) > 1e-9 else found.real

    roots, step = [], 0.0531
    x, last = low + 0.00123, None
    while x < high:
        here = at(x)
        if last is not None and here is not None and last * here < 0:
            a, b = x - step, x
            for _ in range(60):
                middle = (a + b) / 2
                m = at(middle)
                if m is None:
                    break
                a, b = (middle, b) if m * last > 0 else (a, middle)
            residual = at(a)
            if residual is not None and abs(residual) < 1e-6:
                roots.append(a)
        last = here
        x += step
    return roots


def equation(given):
    main, answer = given.main, given.answer
    letters = sorted(main.free_symbols, key=str)
    if len(letters) > 1:
        letter = items(answer)[0].lhs
        (found,) = values_of(answer, letter)
        agree(main.lhs.subs(letter, found), main.rhs.subs(letter, found), letters)
        return
    (letter,) = letters
    difference = main.lhs - main.rhs
    if given.words == "all real numbers":
        assert sp.simplify(difference) == 0
        return
    values = [] if given.words else values_of(answer, letter)
    n = sp.Symbol("n")
    is_family = any(found.has(n) for found in values)
    residual = function_of(difference, [letter], real_roots=True)
    for found in values:
        for at in [found.subs(n, k) for k in (-2, 0, 3)] if is_family else [found]:
            at = number(at)
            at = at.real if abs(at.imag) < 1e-12 else at
            there = residual(at)
            assert there is not None and abs(there) < 1e-7 * (1 + abs(at)), at
    polynomial = difference.is_polynomial(letter)
    if polynomial and not given.conditions:
        # The number of real solutions is exact; complex ones are given or not.
        real = {at for at in values if abs(number(at).imag) < 1e-12}
        assert len(real) == len(set(sp.real_roots(sp.Poly(difference, letter)))), main
        return
    # None is missing.
    if is_family:
        low, high = -7.0, 7.0
        values = [found.subs(n, k) for found in values for k in range(-40, 41)]
    elif given.conditions:
        interval = given.conditions[0]
        low, high = (float(sp.N(bound)) for bound in (interval.inf, interval.sup))
    else:
        low, high = -40.0, 130.0
    known = [number(found).real for found in values if abs(number(found).imag) < 1e-9]
    for root in scanned_roots(residual, low, high):
        assert any(abs(root - at) < 1e-5 * (1 + abs(root)) for at in known), (main, root)


def as_relational(answer, letter):
    if isinstance(answer, sp.Tuple):
        if not isinstance(answer.args[0], sp.core.relational.Relational):
            # (a, b) is read as a point.
            return sp.Interval.open(*answer.args).contains(letter)
        if all(isinstance(item, sp.Eq) for item in answer.args):
            return sp.Or(*answer.args)
        return sp.And(*answer.args)
    if isinstance(answer, sp.Set):
        return answer.contains(letter)
    if str(getattr(answer, "func", None)) == "UNION":
        return sp.Or(*(as_relational(part, letter) for part in answer.args))
    return answer


def agree_as_sets(truth, claimed, letter):
    """Two statements hold for the same values of a letter."""
    chance = random.Random(1)
    for _ in range(60):
        at = sp.Rational(chance.randint(-1500, 1500), 97)
        holds = truth(at)
        if holds is not None:
            assert holds == bool(claimed.subs(letter, at)), (claimed, at)
    # At whole numbers, where the bounds are.
    for at in range(-15, 16):
        holds = truth(sp.Integer(at))
        if holds is not None:
            assert holds == bool(claimed.subs(letter, at)), (claimed, at)


# At a bound the two sides are equal but for rounding.
COMPARED = {
    sp.StrictLessThan: lambda a, b: a < b - 1e-12,
    sp.LessThan: lambda a, b: a <= b + 1e-12,
    sp.StrictGreaterThan: lambda a, b: a > b + 1e-12,
    sp.GreaterThan: lambda a, b: a >= b - 1e-12,
}


def inequality(given):
    main = given.main
    letters = main.free_symbols
    assert len(letters) == 1, "the unknown must occur"
    (letter,) = letters
    claimed = {None: None, "no solution": sp.false, "all real numbers": sp.true}[given.words]
    claimed = as_relational(given.answer, letter) if claimed is None else claimed

    def truth(at):
        holds = True
        for part in main.args if isinstance(main, sp.Tuple) else [main]:
            sides = [side.subs(letter, at) for side in part.args]
            if any(side.has(sp.zoo, sp.nan, sp.oo) for side in sides):
                return False
            if not all(abs(number(side).imag) < 1e-12 for side in sides):
                return False
            left, right = (number(side).real for side in sides)
            holds = holds and COMPARED[part.func](left, right)
        return holds

    agree_as_sets(truth, claimed, letter)


def system(given):
    main, answer = given.main, given.answer
    letters = sorted(main.free_symbols, key=str)
    rows = [row.lhs - row.rhs for row in main.args]
    if not all(sp.Poly(row, *letters).total_degree() <= 1 for row in rows):
        found = [] if given.words else items(answer)
        if found and not isinstance(found[0], sp.Tuple):
            found = [answer]
        for point in found:
            values = dict(zip(letters, point.args, strict=True))
            assert all(sp.simplify(row.subs(values)) == 0 for row in rows), point
        solved = sp.solve(rows, letters)
        real = [one for one in solved if all(abs(number(part).imag) < 1e-12 for part in one)]
        assert len(real) == len(found), solved
        return
    found = sp.linsolve(rows, letters)
    if given.words:
        assert given.words == "no solution" and found == sp.EmptySet
        return
    claimed = dict((item.lhs, item.rhs) for item in items(answer))
    for row in rows:
        assert sp.expand(row.subs(claimed, simultaneous=True)) == 0
    (general,) = found
    parameters = set().union(*(one.free_symbols for one in claimed.values()))
    assert len(parameters) == len(set().union(*(one.free_symbols for one in general)))


def derivative(given):
    main, answer = given.main, given.answer
    if isinstance(main, sp.Eq):
        slope = -sp.diff(main.lhs - main.rhs, X) / sp.diff(main.lhs - main.rhs, Y)
        agree(slope, value(answer), [X, Y])
        return
    if str(main.func) == "PD":
        body, *by = main.args
        main = sp.diff(body, *by)
    slope = main.doit()
    for condition in given.conditions:
        if isinstance(condition, sp.Eq):
            slope = slope.subs(condition.lhs, condition.rhs)
        elif str(condition.func) == "AT":
            slope = slope.subs(X, condition.args[-1])
    letters = sorted(slope.free_symbols, key=str)
    if not letters:
        assert near(slope, value(answer))
        return
    agree(slope, value(answer), letters)


def integral(given):
    variable, *bounds = given.main.limits[0]
    body, answer = given.main.function, given.answer
    if bounds:
        inner = sp.lambdify(variable, body, "mpmath")
        low, high = (
            mpmath.mpf(str(sp.N(b))) if b.is_finite else mpmath.inf * (1 if b > 0 else -1)
            for b in bounds
        )
        if given.words:
            exact = sp.integrate(body, (variable, *bounds))
            converges = exact.is_finite
            assert {"converges": True, "diverges": False}[given.words] == converges, exact
            return
        found = mpmath.quad(inner, [low, high])
        assert near(found, answer, float(found)), found
        return
    assert answer.has(C)
    agree(sp.diff(answer, variable), body, [variable])


def limit(given):
    body, variable, point = given.main.args
    side = {"LIMR": "+", "LIML": "-"}.get(str(given.main.func), "+-")
    side = "+" if not point.is_finite else side
    if given.words:
        assert given.words == "does not exist"
        sides = [sp.limit(body, variable, point, one) for one in "+-"]
        assert sides[0] != sides[1] or isinstance(sides[0], sp.AccumBounds)
        return
    found = sp.limit(body, variable, point, side)
    assert found == given.answer or sp.simplify(found - given.answer) == 0, found


FAR = mpmath.mpf(10) ** 8


def converges(term, index):
    """Whether a series of positive terms converges, by the tests of d'Alembert, Raabe and Bertrand
    (Fichtenholz, Differential and Integral Calculus II, 368 to 370), far out with many digits."""
    at = sp.lambdify(index, term, "mpmath")
    with mpmath.workdps(80):
        ratio = at(FAR + 1) / at(FAR)
        if abs(ratio - 1) > 1e-3:
            return bool(ratio < 1)
        raabe = FAR * (1 - ratio)
        if abs(raabe - 1) > 0.2:
            return bool(raabe > 1)
        return bool(mpmath.log(FAR) * (raabe - 1) > 1.2)


def vanishes(term, index):
    """Whether positive terms tend to 0."""
    at = sp.lambdify(index, term, "mpmath")
    with mpmath.workdps(80):
        return bool(at(FAR**3) < at(FAR) / 2 < at(mpmath.mpf(100)) / 3)


def without_sign(body, index):
    """The size of an alternating term, and whether it alternates."""
    size = body
    for power in body.atoms(sp.Pow):
        if power.base == -1 and power.exp.has(index):
            size = size.xreplace({power: sp.Integer(1)})
    return size, size != body


def series_converges(body, index):
    """Whether a series converges, and whether it does absolutely."""
    whole = sp.Symbol("n", positive=True, integer=True)
    size, alternates = without_sign(body.subs(index, whole), whole)
    # A bounded factor beside terms that converge by themselves.
    waves = [part for part in size.atoms(sp.Pow) if isinstance(part.base, (sp.sin, sp.cos))]
    size = size.subs({wave: 1 for wave in waves})
    size = size * sp.sign(size.subs(whole, 1000))
    absolutely = converges(size, whole)
    return absolutely or (alternates and vanishes(size, whole)), absolutely


def series(given):
    body, (index, low, high) = given.main.function, given.main.limits[0]
    if "radius" in given.asked:
        if "radius and interval" in given.asked:
            radius, interval = given.answer.args
            power_series(Problem(given.main, [], radius, None, given.asked), body, index, low)
            given.answer = interval
        power_series(given, body, index, low)
        return
    if given.words:
        found, absolutely = series_converges(body, index)
        claimed = {
            "converges": (True, None),
            "diverges": (False, None),
            "converges absolutely": (True, True),
            "converges conditionally": (True, False),
        }[given.words]
        assert claimed[0] == found and claimed[1] in (None, absolutely), (found, absolutely)
        # Each term exists.
        assert all(body.subs(index, n).is_finite for n in range(int(low), int(low) + 12))
        return
    inner = sp.lambdify(index, body, "mpmath")
    top = mpmath.inf if high == sp.oo else int(high)
    total = mpmath.nsum(inner, [int(low), top])
    assert near(total, given.answer, float(total)), total


def power_series(given, body, index, low):
    (letter,) = body.free_symbols - {index}
    inner = sp.lambdify((index, letter), body, "mpmath")
    claims, ends = given.answer, None
    if isinstance(claims, sp.Eq):
        radius = claims.rhs
    else:
        ends = sp.Interval.open(*claims.args) if isinstance(claims, sp.Tuple) else claims
        radius = (ends.sup - ends.inf) / 2
    # The centre is where all terms beyond the first vanish.
    (base,) = [p.base for p in body.atoms(sp.Pow) if p.base.has(letter)]
    (centre,) = sp.solve(base, letter)

    def root(at, n=400):
        size = abs(inner(mpmath.mpf(n), mpmath.mpf(at)))
        return size ** (mpmath.mpf(1) / n)

    if radius == sp.oo:
        assert root(float(centre) + 9.0, 4000) < 0.9
        assert ends is None or (ends.inf, ends.sup) == (-sp.oo, sp.oo)
        return
    inside, outside = float(centre + radius * 0.9), float(centre + radius * 1.1)
    assert root(inside) < 1 < root(outside)
    if ends is not None:
        assert (ends.sup + ends.inf) / 2 == centre
        for end, is_open in ((ends.inf, ends.left_open), (ends.sup, ends.right_open)):
            there = sp.powsimp(sp.simplify(body.subs(letter, end)))
            assert series_converges(there, index)[0] == (not is_open), end


def differential_equation(given):
    main, conditions, answer = given.main, given.conditions, given.answer
    slopes = [sp.Symbol(f"y{k}", real=True) for k in range(1, 5)]
    orders = {}
    for call in main.atoms(sp.core.function.AppliedUndef):
        if str(call.func) == "PR":
            orders[call] = int(call.args[1])
        elif str(call.func) == "DD":
            orders[call] = int(call.args[2])
    function = next(iter(orders)).args[0] if orders else Y
    letters = main.free_symbols - {function}
    named = [call.args[1] for call in orders if str(call.func) == "DD"]
    usual = [letter for letter in letters if letter.name in "xt"]
    x = (named or usual or [X])[0]
    residual = (main.lhs - main.rhs).subs({c: slopes[k - 1] for c, k in orders.items()})
    dx, dy = (sp.Function("DX")(letter) for letter in (X, Y))
    if residual.has(dx):
        residual = sp.expand(residual)
        residual = residual.coeff(dx) + residual.coeff(dy) * slopes[0]
    order = max([k for k in range(1, 5) if residual.has(slopes[k - 1])])
    if not letters and answer.free_symbols - {function}:
        names = {letter.name: letter for letter in answer.free_symbols}
        x = names.get("x") or names.get("t") or X
    assert isinstance(answer, sp.Eq)
    constants = sorted(
        (s for s in answer.free_symbols - {x, function} if s.name.startswith("C")), key=str
    )
    assert len(constants) == (0 if conditions else order), (main, answer)
    chance = random.Random(2)
    fixed = {constant: sp.Rational(chance.randint(11, 40), 10) for constant in constants}
    if answer.lhs == function:
        solution = answer.rhs.subs(fixed)
        filled = {slopes[k - 1]: sp.diff(solution, x, k) for k in range(1, order + 1)}
        # Near 0 the terms are small, so that their rounding is.
        near_zero = [0.13 * at for at in range(-9, 10) if at]
        zero = residual.subs(filled).subs(function, solution)
        constant = sorted(zero.free_symbols - {x}, key=str)
        zero = sp.simplify(zero.subs({letter: sp.Rational(7, 10) for letter in constant}))
        agree(zero, sp.Integer(0), [x], points=near_zero)
        # The constants are independent: no combination of them gives the same function.
        basis = [sp.diff(answer.rhs, constant) for constant in constants]
        if len(basis) > 1 and not any(b.free_symbols & set(constants) for b in basis):
            rows = [[number(b.subs(x, at)) for b in basis] for at in (0.3, 0.9, 1.7, 2.3)]
            assert sp.Matrix(len(rows), len(basis), lambda i, j: sp.Float(rows[i][j].real)).rank(
                iszerofunc=lambda v: abs(v) < 1e-9
            ) == len(basis)
        for condition in conditions:
            left = condition.lhs
            steps = 0
            for call in left.atoms(sp.core.function.AppliedUndef):
                if str(call.func) == "PR":
                    steps = int(call.args[1])
            assert near(sp.diff(answer.rhs, x, steps).subs(x, left.args[-1]), condition.rhs), (
                main,
                condition,
            )
        return
    # An implicit solution: its slope, at points that satisfy it for some constant.
    zero = answer.lhs - answer.rhs
    slope = -sp.diff(zero, x) / sp.diff(zero, function)
    for a, b in ((0.7, 1.3), (1.9, 0.6), (2.3, 2.2)):
        point = {x: a, function: b}
        if constants:
            (constant,) = constants
            (fit,) = sp.solve(zero.subs(point), constant)
            at = residual.subs(slopes[0], slope).subs(constant, fit).subs(point)
        else:
            at = residual.subs(slopes[0], slope).subs(point)
        assert abs(number(at)) < 1e-8, (main, answer)
    for condition in conditions:
        assert near(zero.subs({x: condition.lhs.args[-1], function: condition.rhs}), 0)


def vector(expression):
    return sp.Matrix([list(expression.args)]) if isinstance(expression, sp.Tuple) else expression


def calculated(expression):
    """A formula with vectors as rows, and their products."""
    if isinstance(expression, sp.Tuple):
        return vector(expression)
    name = str(getattr(expression, "func", ""))
    if name in ("DOT", "CROSS"):
        left, right = (calculated(part) for part in expression.args)
        return left.dot(right) if name == "DOT" else left.cross(right)
    return expression


def matrix(given):
    main, answer, asked = given.main, given.answer, given.asked
    if isinstance(main, sp.Eq):
        equation(given)
    elif "rank" in asked:
        assert main.rank() == answer
    elif "eigenvectors" in asked and not given.conditions:
        pairs = [item.rhs.args for item in items(answer)]
        for at, of in pairs:
            column = vector(of).T
            assert column != sp.zeros(*column.shape)
            assert main * column == at * column
        together = sp.Matrix.vstack(*(vector(of) for _, of in pairs))
        wanted = sum(len(basis) for _, _, basis in main.eigenvects())
        assert together.rank() == wanted == len(pairs)
    elif "eigenvectors" in asked:
        column = vector(answer).T
        assert column != sp.zeros(*column.shape)
        assert main * column == given.conditions[0].rhs * column
    elif "eigenvalues" in asked:
        claimed = [item.rhs for item in items(answer)]
        known = main.eigenvals()
        assert all(any(sp.simplify(a - b) == 0 for b in known) for a in claimed)
        assert len(claimed) == len(known)
    elif "independent" in asked and answer is not None:
        # For which value of a letter they are dependent.
        rows = sp.Matrix([list(v.args) for v in main.args])
        (letter,) = rows.free_symbols
        assert set(sp.solve(rows.det(), letter)) == set(values_of(answer, letter))
    elif "independent" in asked:
        rows = sp.Matrix([list(v.args if isinstance(v, sp.Tuple) else v) for v in main.args])
        assert (given.words == "independent") == (rows.rank() == rows.rows)
        assert given.words in ("independent", "dependent")
    elif "diagonalise" in asked:
        assert {"yes": True, "no": False}[given.words] == main.is_diagonalizable(reals_only=True)
    elif "null space" in asked:
        vectors = [vector(answer)] if not isinstance(answer.args[0], sp.Tuple) else [
            vector(one) for one in answer.args
        ]
        for one in vectors:
            assert main * one.T == sp.zeros(main.rows, 1)
        assert sp.Matrix.vstack(*vectors).rank() == len(vectors) == len(main.nullspace())
    elif "row reduce" in asked:
        assert main.rref()[0] == answer
    elif "angle" in asked:
        a, b = map(vector, main.args)
        assert near(sp.acos(a.dot(b) / (a.norm() * b.norm())), answer)
    elif "magnitude" in asked:
        assert near(vector(main).norm(), answer)
    elif "dot product" in asked and isinstance(main, sp.Tuple):
        a, b = map(vector, main.args)
        assert a.dot(b) == answer
    elif "cross product" in asked and isinstance(main, sp.Tuple):
        a, b = map(vector, main.args)
        assert a.cross(b) == vector(answer)
    else:
        found = calculated(main)
        if "determinant" in asked and found.is_Matrix:
            found = found.det()
        elif "inverse" in asked and found.is_Matrix and not main.has(sp.Pow):
            found = found.inv()
        elif "trace" in asked:
            found = found.trace()
        left, right = sp.sympify(found), calculated(answer)
        if getattr(left, "is_Matrix", False):
            assert left.shape == right.shape and sp.simplify(left - right) == sp.zeros(*left.shape)
        else:
            assert sp.simplify(left - right) == 0


def simplification(given):
    main, answer = given.main, given.answer
    if main.has(sp.Tuple) or isinstance(main, sp.Tuple):
        matrix(given)
        return
    main = main.rhs if isinstance(main, sp.Eq) else main
    answer = value(answer)
    letters = sorted(main.free_symbols | answer.free_symbols, key=str)
    if not letters:
        assert near(main, answer)
        return
    agree(main, answer, letters)


def definition(formula):
    """The letter and the formula of a function."""
    body = formula.rhs if isinstance(formula, sp.Eq) else formula
    if isinstance(formula, sp.Eq) and str(formula.lhs.func) == "AT":
        return formula.lhs.args[-1], body
    (letter,) = body.free_symbols
    return letter, body


def other(given):
    main = given.main
    if isinstance(main, sp.Tuple) and any(isinstance(one, sp.Tuple) for one in main.args):
        # A curve and a point, written as one formula.
        given.main, *more = given.main.args
        given.conditions = [*given.conditions, *more]
    main, asked, answer = given.main, given.asked, given.answer
    if "tangent line" in asked or "normal line" in asked:
        tangent(given)
    elif "Laplace" in asked:
        letter, body = definition(main)
        s, t = sp.symbols("s t", positive=True)
        if "inverse" in asked:
            # The transform of the key is what was given.
            (of,) = value(answer).free_symbols or {sp.Symbol("t", real=True)}
            image = sp.laplace_transform(value(answer).subs(of, t), t, s, noconds=True)
            agree(image, body.subs(letter, s), [s])
        else:
            image = sp.laplace_transform(body.subs(letter, t), t, s, noconds=True)
            claimed = value(answer)
            agree(image, claimed.subs({one: s for one in claimed.free_symbols}), [s])
    elif "inverse function" in asked:
        letter, body = definition(main)
        found = value(answer)
        (of,) = found.free_symbols
        at = function_of(body.subs(letter, found), [of], real_roots=True)
        known = [(here, at(here)) for here in POINTS]
        known = [(here, there) for here, there in known if there is not None]
        assert len(known) > 3 and all(near(here, there, here) for here, there in known), known
    elif "domain" in asked:
        letter, body = definition(main)
        claimed = sp.true if given.words else as_relational(answer, letter)

        def truth(at):
            there = body.subs(letter, at)
            if there.has(sp.zoo, sp.nan, sp.oo):
                return False
            return abs(number(there).imag) < 1e-12

        agree_as_sets(truth, claimed, letter)
    elif "area" in asked:
        if isinstance(main, sp.Tuple):
            (letter, first), (_, second) = (definition(part) for part in main.args)
            low, high = sorted(sp.solve(first - second, letter))
            difference = first - second
        else:
            letter, difference = definition(main)
            low, high = bounds_of(given.conditions)
        assert near(abs(sp.integrate(difference, (letter, low, high))), answer)
    elif "average" in asked:
        letter, body = definition(main)
        low, high = bounds_of(given.conditions)
        assert near(sp.integrate(body, (letter, low, high)) / (high - low), answer)
    elif "critical points" in asked or "inflection" in asked:
        letter, body = definition(main)
        order = 1 if "critical points" in asked else 2
        found = sp.solveset(sp.diff(body, letter, order), letter, sp.S.Reals)
        assert found == sp.FiniteSet(*(values_of(answer, letter) if answer else []))
    elif "monotonic" in asked or "concavity" in asked:
        letter, body = definition(main)
        slope = sp.diff(body, letter, 1 if "monotonic" in asked else 2)
        claimed = sp.true if given.words else as_relational(answer, letter)
        signs = {sp.sign(slope.subs(letter, at)) for at in POINTS if claimed.subs(letter, at)}
        assert len(signs) == 1
        (sign,) = signs
        for at in POINTS:
            assert (sp.sign(slope.subs(letter, at)) == sign) == bool(claimed.subs(letter, at))
    elif "vertex" in asked:
        letter, body = definition(main)
        (at,) = sp.solve(sp.diff(body, letter), letter)
        assert tuple(answer.args) == (at, body.subs(letter, at))
    elif "slope" in asked:
        assert sp.diff(sp.solve(main, Y)[0], X) == answer
    elif "intercepts" in asked:
        letter, body = definition(main)
        points = items(answer) if isinstance(answer.args[0], sp.Tuple) else [answer]
        across = {(root, 0) for root in sp.solveset(body, letter, sp.S.Reals)}
        up = {(0, body.subs(letter, 0))}
        if "x-intercepts" in asked and "y-intercepts" not in asked:
            up = set()
        elif "y-intercepts" in asked and "x-intercepts" not in asked:
            across = set()
        assert {tuple(point.args) for point in points} == across | up
    elif "asymptotes" in asked:
        letter, body = definition(main)
        claimed = items(answer)
        vertical = {line.rhs for line in claimed if line.lhs == letter}
        horizontal = {line.rhs for line in claimed if line.lhs != letter}
        if vertical or "vertical asymptotes" in asked:
            assert vertical == set(sp.solveset(sp.denom(sp.cancel(body)), letter, sp.S.Reals))
        if horizontal:
            assert horizontal == {sp.limit(body, letter, sp.oo)}
    else:
        function_value(given)


def bounds_of(conditions):
    (interval,) = [one for one in conditions if isinstance(one, (sp.Interval, sp.Tuple))]
    if isinstance(interval, sp.Interval):
        return interval.inf, interval.sup
    return interval.args


def tangent(given):
    x, y = X, Y
    if isinstance(given.main, sp.Eq) and given.main.lhs != Y and str(given.main.lhs.func) != "AT":
        curve = given.main.lhs - given.main.rhs
    else:
        x, body = definition(given.main)
        curve = Y - body
    (at,) = given.conditions
    if isinstance(at, sp.Eq):
        a = at.rhs
        (b,) = sp.solve(curve.subs(x, a), y)
    else:
        a, b = at.args
    assert curve.subs({x: a, y: b}) == 0
    slope = (-sp.diff(curve, x) / sp.diff(curve, y)).subs({x: a, y: b})
    slope = -1 / slope if "normal line" in given.asked else slope
    assert sp.simplify(given.answer.rhs - (b + slope * (x - a))) == 0


def function_value(given):
    known = {}
    formulas = [given.main, *given.conditions]
    formulas = [part for one in formulas for part in items(one)]
    wanted = None
    for formula in formulas:
        if isinstance(formula, sp.Eq) and str(formula.lhs.func) == "AT":
            known[formula.lhs.args[0]] = (formula.lhs.args[-1], formula.rhs)
        else:
            wanted = formula

    def unfold(expression):
        if str(getattr(expression, "func", "")) != "AT":
            if not expression.args:
                return expression
            return expression.func(*map(unfold, expression.args))
        function, at = expression.args[0], unfold(expression.args[-1])
        names = function.args if str(function.func) == "COMP" else [function]
        for name in reversed(names):
            order = 0
            if str(name.func) == "PR":
                name, order = name.args
            letter, body = known[name]
            at = sp.diff(body, letter, int(order)).subs(letter, at)
        return at

    assert sp.simplify(unfold(wanted) - value(given.answer)) == 0


CHECKS = {
    "Equation": equation,
    "Inequality": inequality,
    "System": system,
    "Differentiate": derivative,
    "Integrate": integral,
    "Limit": limit,
    "Sum": series,
    "Ode": differential_equation,
    "Simplify": simplification,
    "Matrix": matrix,
    "Other": other,
}
