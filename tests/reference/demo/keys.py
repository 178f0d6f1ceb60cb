"""Judges the keys of the demo notebook with SymPy: `judge(statement, answer)` is True where the
answer is right, False where it is wrong, and raises where it cannot tell."""

import random
import re

import sympy as sp

from notebook import formulas
from tex import Reader, read, read_cases, read_list, read_matrix_power, read_vector, symbol

x, y, yp, ypp = symbol("x"), symbol("y"), symbol("y'"), symbol("y''")
n, k, lam, eps = symbol("n"), symbol("k"), symbol("lambda"), symbol("varepsilon")
POINTS = 12
DIGITS = 40


class CannotTell(Exception):
    """A question or an answer of a form that no judge here knows."""


def is_zero(expression):
    """Whether an expression without free symbols is zero."""
    value = sp.nsimplify(sp.simplify(expression)) if expression.is_number else expression
    return abs(sp.N(value, DIGITS)) < sp.Float(10) ** (-DIGITS // 2)


def vanishes(expression, letters, seed=7):
    """Whether an expression is zero at random points of its domain (it is analytic there, so
    twelve points at forty digits leave no reasonable doubt)."""
    source = random.Random(seed)
    seen = 0
    for _ in range(400):
        point = {v: sp.Rational(source.randint(1, 400), 211) for v in letters}
        value = sp.N(expression.subs(point), DIGITS)
        if not value.is_number or value.has(sp.nan, sp.oo, sp.zoo) or abs(sp.im(value)) > 1e-30:
            continue
        if abs(value) > sp.Float(10) ** (-20):
            return False
        seen += 1
        if seen == POINTS:
            return True
    raise CannotTell(f"too few points of the domain of {expression}")


def difference(relation):
    """An equation as left side minus right side."""
    if not isinstance(relation, sp.Eq):
        raise CannotTell(f"not an equation: {relation}")
    return relation.lhs - relation.rhs


def differential_equation(tex):
    """The equation as an expression in x, y, y', y'' that is zero."""
    form = re.fullmatch(r"\((.+)\)\\,dx \+ \((.+)\)\\,dy = 0", tex)
    if form:
        return read(form.group(1)) + read(form.group(2)) * yp
    return difference(read(tex))


def initial_values(texts):
    """The initial values as (order of the derivative, point, value)."""
    found = []
    for tex in texts:
        match = re.fullmatch(r"y('*)\((.+?)\) = (.+)", tex)
        if not match:
            raise CannotTell(f"not an initial value: {tex}")
        found.append((len(match.group(1)), read(match.group(2)), read(match.group(3))))
    return found


def judge_differential_equation(tex, conditions, answer):
    equation = differential_equation(tex)
    order = 2 if equation.has(ypp) else 1
    conditions = initial_values(conditions)
    solution = read(answer)
    constants = sorted(solution.free_symbols - {x, y}, key=str)
    if len(constants) + len(conditions) != order:
        return False
    if solution.lhs == y and not solution.rhs.has(y):
        function = solution.rhs
        residual = equation.subs({ypp: function.diff(x, 2), yp: function.diff(x), y: function})
        if not vanishes(residual, [x, *constants]):
            return False
        if constants:
            # Every constant must count: the derivatives by the constants are independent.
            rows = [[function.diff(x, j).diff(c) for c in constants] for j in range(len(constants))]
            point = {v: sp.Rational(7 + 3 * j, 5) for j, v in enumerate([x, *constants])}
            if is_zero(sp.Matrix(rows).det().subs(point)):
                return False
        return all(
            is_zero(function.diff(x, j).subs(x, point) - value) for j, point, value in conditions
        )
    if len(constants) != 1 or conditions:
        raise CannotTell(f"an implicit answer with {constants}: {answer}")
    level = sp.solve(difference(solution), constants[0])
    if len(level) != 1:
        raise CannotTell(f"the constant is not determined by {answer}")
    level = level[0]
    if not (level.has(x) and level.has(y)):
        return False
    slope = -level.diff(x) / level.diff(y)
    return vanishes(equation.subs(yp, slope), [x, y])


def assignments(answer):
    """`x = 1, y = 2` as a dictionary."""
    return {relation.lhs: relation.rhs for relation in read_list(answer)}


def values_of(letter, answer):
    """The values in `k = 6, k = -6` as a set."""
    relations = read_list(answer)
    if any(relation.lhs != letter for relation in relations):
        raise CannotTell(f"another letter than {letter} in {answer}")
    return {sp.simplify(relation.rhs) for relation in relations}


def judge_system(tex, answer_text):
    equations = [difference(row[0]) for row in read_cases(tex)]
    unknowns = sorted(set().union(*(e.free_symbols for e in equations)), key=str)
    solutions = sp.linsolve(equations, *unknowns)
    if answer_text == "no solution":
        return solutions == sp.S.EmptySet
    found = assignments(formulas(answer_text)[0])
    if sorted(found, key=str) != unknowns:
        return False
    matrix, _ = sp.linear_eq_to_matrix(equations, *unknowns)
    values = sp.Matrix([found[u] for u in unknowns])
    parameters = sorted(values.free_symbols, key=str)
    independent = values.jacobian(parameters).rank() if parameters else 0
    return (
        all(sp.expand(e.subs(found, simultaneous=True)) == 0 for e in equations)
        and len(parameters) == independent == len(unknowns) - matrix.rank()
    )


def judge_limit(tex, answer):
    match = re.fullmatch(r"\\lim_\{(\w) \\to (.+?)\} (.+)", tex)
    letter, point, body = symbol(match.group(1)), read(match.group(2)), read(match.group(3))
    return sp.simplify(sp.limit(body, letter, point) - read(answer)) == 0


def series(tex):
    match = re.fullmatch(r"\\sum_\{n=(\d)\}\^\{\\infty\} (.+)", tex)
    index = sp.Symbol("n", integer=True, positive=True)
    body = read(match.group(2)).subs(n, index)
    return sp.Sum(body, (index, int(match.group(1)), sp.oo))


def judge_convergence(tex, answer_text):
    total = series(tex)
    convergent = total.is_convergent()
    if answer_text == "converges absolutely":
        return convergent == sp.true and total.is_absolutely_convergent() == sp.true
    if answer_text not in ("converges", "diverges"):
        raise CannotTell(answer_text)
    return (answer_text == "converges") == bool(convergent)


def judge_bound(statement, tex, answer):
    upper = "supremum" in statement
    claimed = read(answer)
    terms = re.fullmatch(r"\\\{ (.+) : n \\in \\mathbb\{N\} \\\}", tex)
    if terms:
        body = read(terms.group(1))
        step = sp.factor(body.subs(n, n + 1) - body)
        positive = sp.Symbol("m", positive=True)
        rises = sp.simplify(step.subs(n, positive)).is_positive
        if rises is None:
            raise CannotTell(f"not seen to be monotone: {body}")
        first, limit = body.subs(n, 1), sp.limit(body, n, sp.oo)
        return (limit if rises == upper else first) == claimed
    condition = re.fullmatch(r"\\\{ x \\in \\mathbb\{R\} : (.+) \\\}", tex)
    solution = sp.solve_univariate_inequality(read(condition.group(1)), x, relational=False)
    return sp.simplify((solution.sup if upper else solution.inf) - claimed) == 0


def judge_from_definition(tex, answer):
    """Checks the limit, then the claimed N or delta on a grid of epsilons and points."""
    match = re.fullmatch(r"\\lim_\{(\w) \\to (.+?)\} (.+) = (.+)", tex)
    letter, point = symbol(match.group(1)), read(match.group(2))
    body, value = read(match.group(3)), read(match.group(4))
    if sp.limit(body, letter, point) != value:
        return False
    claim = read(answer)
    for e in (sp.Rational(1, 1000), sp.Rational(1, 7), sp.Integer(1), sp.Integer(30)):
        bound = claim.rhs.subs(eps, e)
        for j in range(1, 60):
            if point == sp.oo:
                places = [bound * (1 + sp.Rational(j**3, 1000))]
            else:
                places = [point + s * bound * (1 - sp.Rational(1, 2**j)) for s in (1, -1)]
            if any(abs(body.subs(letter, p) - value) >= e for p in places):
                return False
    return True


def judge_recursion(texts, answer):
    first = read(texts[0])
    rule = read(texts[1])
    if str(first.lhs) != "a_1" or str(rule.lhs) != "a_n+1":
        raise CannotTell(texts)
    value = sp.Float(first.rhs, DIGITS)
    for _ in range(300):
        value = sp.N(rule.rhs.subs(symbol("a_n"), value), DIGITS)
    return abs(value - sp.N(read(answer), DIGITS)) < sp.Float(10) ** (-DIGITS // 2)


def judge_gluing(tex, answer):
    rows = read_cases(re.fullmatch(r"f\(x\) = (.+)", tex).group(1))
    (left, _), (right, where) = rows
    seam = where.rhs
    gap = sp.limit(left, x, seam) - right.subs(x, seam)
    return set(sp.solve(gap, k)) == values_of(k, answer)


def judge_signs(statement, answer_text):
    """`$-1$ at $0$ and $1$ at $1$`: the values at the two ends, of opposite signs."""
    left = difference(read(formulas(statement)[0]))
    ends = [read(tex) for tex in formulas(statement)[1:]]
    claims = [(read(v), read(p)) for v, p in re.findall(r"\$([^$]+)\$ at \$([^$]+)\$", answer_text)]
    return (
        [p for _, p in claims] == ends
        and all(left.subs(x, p) == v for v, p in claims)
        and claims[0][0] * claims[1][0] < 0
    )


def judge(statement, answer_text):
    """Whether `answer_text` answers what `statement` asks."""
    return bool(verdict(statement, answer_text))


def verdict(statement, answer_text):
    """The verdict, as Python's or SymPy's truth value; the wording decides who judges."""
    asked, given = formulas(statement), formulas(answer_text)
    answer = given[0] if given else None
    first = asked[0]
    if statement.startswith("Show that"):
        return judge_signs(statement, answer_text)
    if first.startswith(r"\begin{cases}"):
        return judge_system(first, answer_text)
    if "y'" in first or r"\,dx" in first:
        return judge_differential_equation(first, asked[1:], answer)
    if "from the definition" in statement:
        return judge_from_definition(first, answer)
    if first.startswith(r"\lim"):
        return judge_limit(first, answer)
    if first.startswith(r"\sum") and "converge" in statement:
        return judge_convergence(first, answer_text)
    if first.startswith(r"\sum"):
        return sp.simplify(series(first).doit() - read(answer)) == 0
    if first.startswith("a_1"):
        return judge_recursion(asked, answer)
    if first.startswith(r"\{"):
        return judge_bound(statement, first, answer)
    if "continuous" in statement:
        return judge_gluing(asked[1], answer)
    if "linearly independent" in statement:
        vectors = sp.Matrix.hstack(*(read_vector(tex) for tex in asked))
        return answer_text == ("independent" if vectors.rank() == vectors.cols else "dependent")
    if "linearly dependent" in statement:
        vectors = sp.Matrix.hstack(*(read_vector(tex) for tex in asked[1:]))
        return set(sp.solve(vectors.det(), k)) == values_of(k, answer)
    if "rank" in statement:
        return read_matrix_power(first).rank() == read(answer)
    if "eigenvalues" in statement:
        return set(read_matrix_power(first).eigenvals()) == values_of(lam, answer)
    if "eigenvector" in statement:
        matrix, vector = read_matrix_power(first), read_vector(answer)
        (value,) = values_of(lam, asked[1])
        return not vector.is_zero_matrix and matrix * vector == value * vector
    if "diagonalised" in statement:
        return answer_text == ("yes" if read_matrix_power(first).is_diagonalizable() else "no")
    if first.startswith(r"\det") and "=" in first:
        return set(sp.solve(difference(read(first)), lam)) == values_of(lam, answer)
    if statement.startswith("For which") and r"\det" in asked[1]:
        return set(sp.solve(difference(read(asked[1])), k)) == values_of(k, answer)
    if statement.startswith("For which") and "bmatrix" in asked[1]:
        letter = symbol(first)
        left, right = (read_matrix_power(side) for side in asked[1].split("="))
        return {s[0] for s in sp.solve(list(left - right), [letter])} == values_of(letter, answer)
    if statement.startswith("Compute"):
        return sp.simplify(read_matrix_power(first) - read_matrix_power(answer)) in (
            0,
            sp.zeros(*getattr(read_matrix_power(first), "shape", (0, 0))),
        )
    raise CannotTell(f"no judge for: {statement}")
