"""Problems of algebra with keys that SymPy has computed, right ones and wrong ones.

Each maker takes a random number generator and gives a prompt, the TeX of a problem, right keys in
the forms that textbooks print, and wrong keys: a changed sign or number, a solution that is left
out or added, a wrong end of an interval.
"""

import sympy as sp
from sympy import I, Rational, latex, oo, pi, sqrt

x, y, z, n = sp.symbols("x y z n")
theta = sp.Symbol("theta")


def nonzero(rng, low, high):
    """A whole number that is not 0."""
    while True:
        value = rng.randint(low, high)
        if value:
            return value


def fraction(rng):
    """A short fraction that is not 0."""
    return Rational(nonzero(rng, -9, 9), rng.choice([1, 1, 1, 2, 3, 4, 5]))


def moved(rng, value):
    """A number near a value, as a slip of the pen makes it."""
    choices = [-value, value + 1, value - 1, value * 2, value + 10, value / 2]
    return rng.choice([c for c in choices if c != value])


def listed(rng, values, name):
    """A list of solutions as a textbook prints it."""
    texts = [latex(v) for v in values]
    form = rng.randint(0, 4)
    if form == 0:
        return ", ".join(texts)
    if form == 1:
        return ", ".join(f"{name} = {t}" for t in texts)
    if form == 2:
        return r"\left\{" + ", ".join(texts) + r"\right\}"
    if form == 3:
        return r" \text{ or } ".join(f"{name} = {t}" for t in texts)
    return f"{name} = " + ", ".join(texts)


def without_one_or_changed(rng, values, name, none=r"\text{no solution}"):
    """Wrong lists of solutions."""
    values = list(values)
    wrong = []
    if len(values) > 1:
        kept = values.copy()
        kept.pop(rng.randrange(len(kept)))
        wrong.append(listed(rng, kept, name))
    elif none:
        wrong.append(none)
    place = rng.randrange(len(values))
    for _ in range(20):
        changed = values.copy()
        changed[place] = moved(rng, changed[place])
        if not any(abs((changed[place] - v).evalf()) < 1e-9 for v in values):
            wrong.append(listed(rng, changed, name))
            break
    extra = values + [max([abs(sp.re(v.evalf())) for v in values]).round() + 3]
    wrong.append(listed(rng, extra, name))
    return wrong


def linear_equation(rng):
    root = fraction(rng)
    a, b, c = nonzero(rng, -7, 7), rng.randint(-9, 9), rng.randint(-7, 7)
    if a == c:
        c += 1
    d = (a - c) * root + b
    left, right = a * x + b, c * x + d
    if rng.random() < 0.4:
        k = nonzero(rng, 2, 5)
        tex = f"{k}({latex(left)}) = {latex(sp.expand(k * right))}"
    else:
        tex = f"{latex(left)} = {latex(right)}"
    right_keys = [listed(rng, [root], "x"), latex(root)]
    return "Solve.", tex, right_keys, without_one_or_changed(rng, [root], "x")


def quadratic_rational(rng):
    r, s = fraction(rng), fraction(rng)
    roots = sorted({r, s})
    polynomial = sp.expand(r.q * s.q * (x - r) * (x - s))
    tex = f"{latex(polynomial)} = 0"
    if rng.random() < 0.3:
        shift = nonzero(rng, -9, 9)
        tex = f"{latex(sp.expand(polynomial + shift))} = {shift}"
    return "Solve by factoring.", tex, [listed(rng, roots, "x")], without_one_or_changed(rng, roots, "x")


def quadratic_formula(rng):
    while True:
        a, b, c = nonzero(rng, -4, 5), nonzero(rng, -9, 9), nonzero(rng, -9, 9)
        d = b * b - 4 * a * c
        if d and not (d > 0 and sp.sqrt(d).is_rational):
            break
    tex = f"{latex(a * x**2 + b * x + c)} = 0"
    roots = [(-b + sign * sp.sqrt(d)) / (2 * a) for sign in (1, -1)]
    root = latex(sp.sqrt(d)) if d > 0 else latex(sp.sqrt(-d)) + " i"
    short = rf"\frac{{{-b} \pm {root}}}{{{2 * a}}}"
    wrong = [
        rf"\frac{{{b} \pm {root}}}{{{2 * a}}}",
        rf"\frac{{{-b} \pm {latex(sp.sqrt(abs(d) + 1))}}}{{{2 * a}}}",
        rf"\frac{{{-b} + {root}}}{{{2 * a}}}",
    ]
    right = [short, f"x = {short}", listed(rng, roots, "x")]
    if d < 0:
        right.append(r"\text{no real solutions}")
    else:
        wrong.append(r"\text{no real solutions}")
        values = sorted(float(r) for r in roots)
        right.append(r"x \approx " + f"{values[0]:.2f}, {values[1]:.2f}")
        wrong.append(r"x \approx " + f"{values[0] + 0.3:.2f}, {values[1]:.2f}")
    return "Solve.", tex, right, wrong


def polynomial_equation(rng):
    roots = sorted({fraction(rng) if rng.random() < 0.3 else sp.Integer(rng.randint(-5, 5)) for _ in range(3)})
    factors = [(r.q * x - r.p) for r in roots]
    polynomial = sp.expand(sp.prod(factors) * (factors[0] if rng.random() < 0.3 else 1))
    return "Find all real solutions.", f"{latex(polynomial)} = 0", [listed(rng, roots, "x")], without_one_or_changed(rng, roots, "x")


def radical_equation(rng):
    root = sp.Integer(rng.randint(1, 9))
    b = rng.randint(-5, 3)
    # sqrt(a x + c) = x + b, with root + b >= 0.
    if root + b < 0:
        b = -b
    a = nonzero(rng, -5, 6)
    c = (root + b) ** 2 - a * root
    left, right = a * x + c, x + b
    other = a - 2 * b - root
    assert sp.expand(right**2 - left - (x - root) * (x - other)) == 0
    both = sorted({root, other})
    solutions = [r for r in both if r + b >= 0]
    others = [r for r in both if r not in solutions]
    tex = rf"\sqrt{{{latex(left)}}} = {latex(right)}"
    wrong = without_one_or_changed(rng, solutions, "x")
    if others:
        wrong.append(listed(rng, solutions + others, "x"))
    return "Solve, and check for extraneous solutions.", tex, [listed(rng, solutions, "x")], wrong


def rational_equation(rng):
    p, q = rng.sample([-5, -4, -3, -2, -1, 1, 2, 3, 4, 5], 2)
    a, b, c = nonzero(rng, -6, 6), nonzero(rng, -6, 6), nonzero(rng, -9, 9)
    equation = a * (x - q) + b * (x - p) - c
    if a + b == 0:
        return rational_equation(rng)
    root = sp.solve(equation, x)
    tex = rf"\frac{{{a}}}{{{latex(x - p)}}} + \frac{{{b}}}{{{latex(x - q)}}} = \frac{{{c}}}{{{latex(sp.expand((x - p) * (x - q)))}}}"
    solutions = [r for r in root if r not in (p, q)]
    if not solutions:
        return "Solve.", tex, [r"\text{no solution}", r"\varnothing"], [latex(root[0]), latex(root[0] + 1)]
    return "Solve.", tex, [listed(rng, solutions, "x")], without_one_or_changed(rng, solutions, "x")


def absolute_equation(rng):
    a, b, c = nonzero(rng, -4, 4), rng.randint(-9, 9), rng.randint(-3, 12)
    tex = rf"|{latex(a * x + b)}| = {c}"
    if c < 0:
        return "Solve.", tex, [r"\text{no solution}"], [listed(rng, [Rational(c - b, a)], "x"), "0"]
    roots = sorted({Rational(c - b, a), Rational(-c - b, a)})
    return "Solve.", tex, [listed(rng, roots, "x")], without_one_or_changed(rng, roots, "x")


def exponential_equation(rng):
    base, k, m, value = rng.choice([3, 5, 7, 10]), rng.choice([1, 2, 3]), rng.randint(-3, 3), rng.randint(11, 90)
    root = (sp.log(value) / sp.log(base) - m) / k
    tex = f"{base}^{{{latex(k * x + m)}}} = {value}"
    right = [
        f"x = {latex(root)}",
        rf"x = \frac{{\log_{{{base}}} {value} - {m}}}{{{k}}}".replace("- -", "+ "),
        rf"x \approx {float(root):.3f}",
    ]
    wrong = [
        rf"x \approx {float(root) + 0.1:.3f}",
        rf"x = \frac{{\ln {value}}}{{\ln {base + 1}}}",
        rf"x = \frac{{\ln {value + 1} - {m}\ln {base}}}{{{k}\ln {base}}}".replace("- -", "+ "),
        r"\text{no solution}",
    ]
    return "Solve.", tex, right, wrong


def logarithmic_equation(rng):
    base, root, shift = rng.choice([2, 3, 5]), rng.randint(2, 8), rng.randint(1, 6)
    power = rng.randint(1, 3)
    # log_b(x) + log_b(x + s) = p.
    distance = sqrt(shift**2 + 4 * base**power)
    solutions, false = [(-shift + distance) / 2], [(-shift - distance) / 2]
    tex = rf"\log_{{{base}}} x + \log_{{{base}}}({latex(x + shift)}) = {power}"
    wrong = [listed(rng, solutions + false, "x"), listed(rng, false, "x"), latex(moved(rng, solutions[0]))]
    return "Solve.", tex, [listed(rng, solutions, "x")], wrong


def trigonometric_family(rng):
    values = {
        sp.sin: [Rational(1, 2), -Rational(1, 2), sqrt(2) / 2, -sqrt(3) / 2, sqrt(3) / 2],
        sp.cos: [Rational(1, 2), -Rational(1, 2), -sqrt(2) / 2, sqrt(3) / 2, sqrt(2) / 2],
        sp.tan: [sp.Integer(1), -sp.Integer(1), sqrt(3), -sqrt(3) / 3],
    }
    function = rng.choice([sp.sin, sp.cos, sp.tan])
    value = rng.choice(values[function])
    letter = rng.choice([x, theta])
    name = latex(letter)
    left = {sp.sin: r"\sin", sp.cos: r"\cos", sp.tan: r"\tan"}[function] + " " + name
    k = rng.choice([1, 2, 3])
    if k > 1:
        tex = f"{k} {left} = {latex(k * value)}"
    else:
        tex = f"{left} = {latex(value)}"
    period = pi if function == sp.tan else 2 * pi
    if function == sp.sin:
        base = [sp.asin(value) % (2 * pi), (pi - sp.asin(value)) % (2 * pi)]
    elif function == sp.cos:
        base = [sp.acos(value), 2 * pi - sp.acos(value)]
    else:
        base = [sp.atan(value) % pi]
    integer = rng.choice(["n", "k"])
    step = rf" + {latex(period)} {integer}".replace(r"\pi " + integer, rf"\pi {integer}")
    turn = [b for b in base] if function != sp.tan else [base[0], base[0] + pi]
    if rng.random() < 0.5:
        right = [", ".join(f"{name} = {latex(b)}{step}" for b in base), ", ".join(f"{latex(b)}{step}" for b in base) + rf", {integer} \in \mathbb{{Z}}"]
        wrong = [
            ", ".join(f"{name} = {latex(b + pi / 6)}{step}" for b in base),
            ", ".join(f"{latex(b)} + {latex(3 * pi / 2)} {integer}" for b in base),
        ]
        if len(base) > 1:
            wrong.append(f"{latex(base[0])}{step}")
            wrong.append(", ".join(f"{latex(b)} + \\pi {integer}" for b in base))
        return "Find all solutions.", tex, right, wrong
    wrong = [", ".join(latex(b) for b in turn[:1]), ", ".join(latex(b + pi / 12) for b in turn), ", ".join(latex(b) for b in turn + [pi / 7])]
    degrees = ", ".join(latex(b * 180 / pi) + r"^\circ" for b in turn)
    if rng.random() < 0.3:
        return rf"Solve for $0^\circ \le {name} < 360^\circ$.", tex, [degrees], [latex(turn[0] * 180 / pi) + r"^\circ", degrees.replace("0", "5", 1)]
    return r"Find all solutions on $[0, 2\pi)$.", tex, [listed(rng, turn, name)], wrong


def solve_for(rng):
    letters = sp.symbols("a b c m p q r t")
    first, second, third, wanted = rng.sample(letters, 4)
    k = nonzero(rng, 2, 6)
    formula = rng.choice(
        [
            (first, k * second * wanted + third),
            (first, second * (wanted + third) / k),
            (first * wanted, second * wanted + third),
            (1 / first, 1 / second + 1 / wanted),
            (first, second + third * wanted / k),
        ]
    )
    solution = sp.solve(sp.Eq(*formula), wanted)[0]
    tex = f"{latex(formula[0])} = {latex(formula[1])}"
    wrong = []
    for other in (solution + 1, -solution, solution.subs(first, -first), solution * 2):
        if sp.cancel(other - solution) != 0:
            wrong.append(f"{wanted} = {latex(other)}")
    right = [f"{wanted} = {latex(solution)}", f"{wanted} = {latex(sp.together(solution))}"]
    return f"Solve for ${wanted}$.", tex, right, wrong


def interval_text(rng, low, high, low_closed, high_closed):
    """An interval in brackets or as inequalities."""
    if rng.random() < 0.5:
        left = "[" if low_closed and low != -oo else "("
        right = "]" if high_closed and high != oo else ")"
        low_text, high_text = latex(low), latex(high)
        return rf"\left{left}{low_text}, {high_text}\right{right}"
    less = r"\le" if low_closed else "<"
    upper = r"\le" if high_closed else "<"
    if low == -oo:
        return rf"x {upper} {latex(high)}"
    if high == oo:
        return rf"x {less.replace('le', 'ge').replace('<', '>')} {latex(low)}"
    return rf"{latex(low)} {less} x {upper} {latex(high)}"


def linear_inequality(rng):
    a, b, c = nonzero(rng, -6, 6), rng.randint(-9, 9), rng.randint(-9, 9)
    relation, is_closed = rng.choice([("<", False), (r"\le", True), (">", False), (r"\ge", True)])
    end = Rational(c - b, a)
    is_less = (relation in ("<", r"\le")) == (a > 0)
    low, high = (-oo, end) if is_less else (end, oo)
    tex = f"{latex(a * x + b)} {relation} {c}"
    right = [interval_text(rng, low, high, is_closed, is_closed) for _ in range(2)]
    other = (end, oo) if is_less else (-oo, end)
    wrong = [
        interval_text(rng, *other, is_closed, is_closed),
        interval_text(rng, low, high, not is_closed, not is_closed),
        interval_text(rng, *[v + 1 if v == end else v for v in (low, high)], is_closed, is_closed),
    ]
    return "Solve.", tex, right, wrong


def quadratic_inequality(rng):
    r, s = sorted(rng.sample(range(-6, 7), 2))
    relation, is_closed, is_inside = rng.choice([("<", False, True), (r"\le", True, True), (">", False, False), (r"\ge", True, False)])
    kind = rng.choice(["quadratic", "absolute", "rational"])
    low_closed = high_closed = is_closed
    if kind == "quadratic":
        tex = f"{latex(sp.expand((x - r) * (x - s)))} {relation} 0"
    elif kind == "absolute":
        tex = rf"|{latex(2 * x - (r + s))}| {relation} {s - r}"
    else:
        tex = rf"\frac{{{latex(x - r)}}}{{{latex(x - s)}}} {relation} 0"
        high_closed = False
    def union(low_closed, high_closed, r=r, s=s):
        left = "]" if low_closed else ")"
        right = "[" if high_closed else "("
        if rng.random() < 0.5:
            return rf"(-\infty, {r}{left} \cup {right}{s}, \infty)"
        below = r"\le" if low_closed else "<"
        above = r"\ge" if high_closed else ">"
        return rf"x {below} {r} \text{{ or }} x {above} {s}"
    if is_inside:
        right = [interval_text(rng, sp.Integer(r), sp.Integer(s), low_closed, high_closed)]
        wrong = [
            interval_text(rng, sp.Integer(r), sp.Integer(s), not low_closed, high_closed),
            interval_text(rng, sp.Integer(r), sp.Integer(s) + 1, low_closed, high_closed),
            union(low_closed, high_closed),
        ]
    else:
        right = [union(low_closed, high_closed)]
        wrong = [union(not low_closed, high_closed), union(low_closed, high_closed, r=r - 1), interval_text(rng, sp.Integer(r), sp.Integer(s), low_closed, high_closed), rf"({s}, \infty)"]
    return "Solve. Write your answer in interval notation.", tex, right, wrong


def linear_system(rng):
    size = rng.choice([2, 2, 3])
    letters = [x, y, z][:size]
    while True:
        matrix = sp.Matrix(size, size, lambda *_: rng.randint(-4, 5))
        if matrix.det() != 0:
            break
    point = sp.Matrix([fraction(rng) if rng.random() < 0.3 else sp.Integer(rng.randint(-5, 5)) for _ in letters])
    sides = matrix * point
    rows = [f"{latex(sum(matrix[i, j] * letters[j] for j in range(size)))} = {latex(sides[i])}" for i in range(size)]
    tex = r"\begin{cases} " + r" \\ ".join(rows) + r" \end{cases}"
    values = list(point)
    def tuple_text(values):
        if rng.random() < 0.5:
            return r"\left(" + ", ".join(latex(v) for v in values) + r"\right)"
        return ", ".join(f"{latex(a)} = {latex(v)}" for a, v in zip(letters, values))
    wrong = [r"\text{no solution}", r"\text{infinitely many solutions}"]
    place = rng.randrange(size)
    changed = values.copy()
    changed[place] = changed[place] + rng.choice([1, -1, 2])
    wrong.append(tuple_text(changed))
    if values[0] != values[1]:
        wrong.append(tuple_text([values[1], values[0]] + values[2:]))
    return "Solve the system.", tex, [tuple_text(values), tuple_text(values)], wrong


def singular_system(rng):
    a, b, c, k = nonzero(rng, -4, 4), nonzero(rng, -4, 4), rng.randint(-9, 9), nonzero(rng, 2, 4)
    is_dependent = rng.random() < 0.5
    d = k * c if is_dependent else k * c + nonzero(rng, -5, 5)
    tex = rf"\begin{{cases}} {latex(a * x + b * y)} = {c} \\ {latex(k * a * x + k * b * y)} = {d} \end{{cases}}"
    solved = sp.expand((c - a * x) / sp.Integer(b))
    family = rf"\left(x, {latex(solved)}\right)"
    if is_dependent:
        right = [r"\text{infinitely many solutions}", family, r"\text{dependent}"]
        wrong = [r"\text{no solution}", rf"\left(0, {latex(Rational(c, b))}\right)", rf"\left(x, {latex(solved + 1)}\right)"]
    else:
        right = [r"\text{no solution}", r"\text{inconsistent}", r"\varnothing"]
        wrong = [r"\text{infinitely many solutions}", family, "(0, 0)"]
    return "Solve the system.", tex, right, wrong


def nonlinear_system(rng):
    r, s = rng.sample(range(-4, 5), 2)
    a = nonzero(rng, -2, 3)
    line = sp.expand(a * (r + s) * x - a * r * s)
    kind = rng.choice(["parabola", "circle"])
    if kind == "parabola":
        tex = rf"\begin{{cases}} y = {latex(a * x**2)} \\ y = {latex(line)} \end{{cases}}"
        points = [(sp.Integer(v), a * sp.Integer(v) ** 2) for v in (r, s)]
    else:
        p, q = nonzero(rng, 1, 4), nonzero(rng, 1, 4)
        tex = rf"\begin{{cases}} x^2 + y^2 = {p * p + q * q} \\ {latex(x**2 - y**2)} = {p * p - q * q} \end{{cases}}"
        points = sorted({(sp.Integer(i * p), sp.Integer(j * q)) for i in (1, -1) for j in (1, -1)})
    def text(points):
        return ", ".join(f"({latex(u)}, {latex(v)})" for u, v in points)
    wrong = [text(points[:-1]), text(points[:-1] + [(points[-1][0], points[-1][1] + 1)]), text(points + [(sp.Integer(9), sp.Integer(7))])]
    return "Solve the system.", tex, [text(points)], wrong


def expand_product(rng):
    a, b, c, d = (nonzero(rng, -5, 5) for _ in range(4))
    p = rng.choice([(a * x + b, c * x + d), (a * x + b * y, c * x + d * y), (a * x**2 + b, c * x + d), (a * x + b, a * x + b)])
    tex = f"({latex(p[0])})({latex(p[1])})" if p[0] != p[1] else f"({latex(p[0])})^2"
    exact = sp.expand(p[0] * p[1])
    wrong = [latex(exact + nonzero(rng, -3, 3)), latex(sp.expand((p[0]) * (p[1] + 1))), latex(exact.subs(x, -x) + (x if exact.subs(x, -x) == exact else 0))]
    return "Multiply.", tex, [latex(exact)], wrong


def factor_polynomial(rng):
    r, s = fraction(rng), fraction(rng)
    k = rng.choice([1, 1, 2, 3])
    polynomial = rng.choice(
        [
            sp.expand(k * r.q * s.q * (x - r) * (x - s)),
            sp.expand(k * (x**2 - rng.randint(1, 9) ** 2)),
            sp.expand(k * x * (x - sp.Integer(rng.randint(1, 6))) * (x + rng.randint(1, 6))),
            sp.expand((rng.randint(1, 4) * x + nonzero(rng, -5, 5) * y) ** 2),
            sp.expand(x**3 + sp.Integer(nonzero(rng, -4, 4)) ** 3),
        ]
    )
    exact = sp.factor(polynomial)
    wrong = [latex(sp.factor(polynomial.subs(x, -x))) if polynomial.subs(x, -x) != polynomial else latex(exact * 2), latex(exact * 3), latex(polynomial)]
    other = sp.factor(polynomial + x * nonzero(rng, -2, 2))
    wrong.append(latex(other))
    return "Factor completely.", latex(polynomial), [latex(exact)], wrong


def simplify_rational(rng):
    p, q, r = (rng.randint(-6, 6) for _ in range(3))
    if len({p, q, r}) < 3:
        return simplify_rational(rng)
    above, below = sp.expand((x - p) * (x - q)), sp.expand((x - p) * (x - r))
    tex = rf"\frac{{{latex(above)}}}{{{latex(below)}}}"
    exact = (x - q) / (x - r)
    right = [latex(exact), rf"{latex(exact)}, x \ne {p}"]
    wrong = [latex((x + q) / (x - r)) if q else latex(1 / (x - r)), latex((x - r) / (x - q)), latex(exact + 1)]
    return "Simplify.", tex, right, wrong


def add_fractions(rng):
    p, q = rng.sample(range(-5, 6), 2)
    a, b = nonzero(rng, -6, 6), nonzero(rng, -6, 6)
    sign = rng.choice(["+", "-"])
    tex = rf"\frac{{{a}}}{{{latex(x - p)}}} {sign} \frac{{{abs(b)}}}{{{latex(x - q)}}}"
    exact = sp.together(a / (x - p) + (abs(b) if sign == "+" else -abs(b)) / (x - q))
    wrong = [latex(exact + 1), latex(-exact), latex(sp.together(exact * (x - p) / (x + p + 1)))]
    return "Perform the indicated operation and simplify.", tex, [latex(exact), latex(sp.factor(exact))], wrong


def simplify_radical(rng):
    a, b, c, d = nonzero(rng, -6, 6), rng.randint(2, 5), nonzero(rng, -6, 6), rng.randint(2, 5)
    k = rng.choice([2, 3, 5, 7])
    tex = rf"{a}\sqrt{{{b * b * k}}} + {c}\sqrt{{{d * d * k}}}".replace("+ -", "- ")
    exact = (a * b + c * d) * sqrt(k)
    wrong = [latex((a * b + c * d + 1) * sqrt(k)), latex((a + c) * sqrt(b * b * k + d * d * k)), latex((a * b + c * d + 2) * sqrt(k + 1))]
    wrong = [w for w in wrong if sp.simplify(sp.sympify(exact)) != 0 or w != "0"]
    right = [latex(exact)]
    if exact != 0:
        right.append(rf"\approx {float(exact):.3f}")
        wrong.append(rf"\approx {float(exact) + 0.2:.3f}")
    return "Simplify.", tex, right, [w for w in wrong if w != latex(exact)]


def simplify_powers(rng):
    i, j, k, m = (rng.randint(-4, 5) for _ in range(4))
    a = rng.randint(2, 4)
    e = rng.choice([2, 3, -1, -2])
    tex = rf"\left(\frac{{{a}x^{{{i}}}y^{{{j}}}}}{{x^{{{k}}}y^{{{m}}}}}\right)^{{{e}}}"
    exact = sp.Integer(a) ** e * x ** ((i - k) * e) * y ** ((j - m) * e)
    wrong = [latex(exact * x), latex(exact / y), latex(a * e * x ** ((i - k) * e) * y ** ((j - m) * e)) if sp.Integer(a) ** e != a * e else latex(exact * 2)]
    return "Simplify. Assume all variables are positive.", tex, [latex(exact)], wrong


def complex_arithmetic(rng):
    a, b, c, d = (nonzero(rng, -6, 6) for _ in range(4))
    u, v = a + b * I, c + d * I
    if rng.random() < 0.5:
        tex = f"({latex(u)})({latex(v)})"
        exact = sp.expand(u * v)
    else:
        tex = rf"\frac{{{latex(u)}}}{{{latex(v)}}}"
        exact = sp.expand(u * sp.conjugate(v)) / (c * c + d * d)
    exact = sp.expand(exact)
    wrong = [latex(exact + 1), latex(exact - 2 * I), latex(sp.expand(exact * I))]
    return "Write in the form $a + bi$.", tex, [latex(exact)], wrong


def exact_value(rng):
    function = rng.choice([sp.sin, sp.cos, sp.tan])
    angle = pi * Rational(rng.randint(-12, 24), rng.choice([3, 4, 6]))
    exact = function(angle)
    name = {sp.sin: r"\sin", sp.cos: r"\cos", sp.tan: r"\tan"}[function]
    in_degrees = rng.random() < 0.4
    shown = latex(angle * 180 / pi) + r"^\circ" if in_degrees else latex(angle)
    tex = rf"{name}\left({shown}\right)"
    if exact in (sp.zoo, oo, -oo, sp.nan):
        return "Find the exact value.", tex, [r"\text{undefined}"], ["0", "1"]
    wrong = [latex(-exact) if exact != 0 else "1", latex(exact + 1), latex(exact / 2) if exact != 0 else r"\frac12"]
    return "Find the exact value.", tex, [latex(exact)], wrong


def logarithm_laws(rng):
    i, j, k = (nonzero(rng, 1, 5) for _ in range(3))
    tex = rf"{i}\ln x + {j}\ln y - {k}\ln z"
    right = [rf"\ln\frac{{x^{{{i}}}y^{{{j}}}}}{{z^{{{k}}}}}", rf"\ln(x^{{{i}}}y^{{{j}}}z^{{{-k}}})"]
    wrong = [rf"\ln(x^{{{i}}}y^{{{j}}}z^{{{k}}})", rf"\ln\frac{{x^{{{i + 1}}}y^{{{j}}}}}{{z^{{{k}}}}}", rf"\ln({i}x + {j}y - {k}z)"]
    return "Write as a single logarithm.", tex, right, wrong


def determinant(rng):
    size = rng.choice([2, 3])
    matrix = sp.Matrix(size, size, lambda *_: rng.randint(-5, 6))
    value = matrix.det()
    body = r" \\ ".join(" & ".join(latex(e) for e in matrix.row(i)) for i in range(size))
    tex = rf"\begin{{vmatrix}} {body} \end{{vmatrix}}"
    return "Find the determinant.", tex, [latex(value)], [latex(-value) if value else "1", latex(value + 2), latex(value - 1)]


def matrix_text(matrix, kind="bmatrix"):
    """The TeX of a matrix."""
    body = r" \\ ".join(" & ".join(latex(e) for e in matrix.row(i)) for i in range(matrix.rows))
    return rf"\begin{{{kind}}} {body} \end{{{kind}}}"


def matrix_product(rng):
    a = sp.Matrix(2, rng.choice([2, 3]), lambda *_: rng.randint(-4, 5))
    b = sp.Matrix(a.cols, rng.choice([1, 2]), lambda *_: rng.randint(-4, 5))
    product = a * b
    wrong = product.copy()
    wrong[rng.randrange(len(wrong))] += rng.choice([1, -1, 3])
    return "Find the product.", matrix_text(a) + matrix_text(b), [matrix_text(product), matrix_text(product, "pmatrix")], [matrix_text(wrong), matrix_text(-product) if product != -product else matrix_text(wrong)]


def matrix_inverse(rng):
    size = rng.choice([2, 2, 3])
    matrix = sp.Matrix(size, size, lambda *_: rng.randint(-3, 4))
    if matrix.det() == 0:
        return "Find the inverse, if it exists.", matrix_text(matrix), [r"\text{does not exist}", r"\text{not invertible}"], [matrix_text(matrix.T), matrix_text(sp.eye(size))]
    inverse = matrix.inv()
    wrong = inverse.copy()
    wrong[rng.randrange(len(wrong))] += 1
    scaled = (inverse * matrix.det()).applyfunc(sp.simplify)
    right = [matrix_text(inverse), latex(1 / matrix.det()) + matrix_text(scaled)]
    return "Find the inverse.", matrix_text(matrix), right, [matrix_text(wrong), r"\text{does not exist}", matrix_text(-inverse)]


def eigenvalues(rng):
    matrix = sp.Matrix(2, 2, lambda *_: rng.randint(-4, 5))
    values = list(matrix.eigenvals())
    texts = ", ".join(latex(v) for v in values)
    named = ", ".join(rf"\lambda_{i + 1} = {latex(v)}" for i, v in enumerate(values))
    wrong = [", ".join(latex(v + 1) for v in values), ", ".join(latex(v) for v in values[:-1] + [values[-1] + 2])]
    if len(values) > 1:
        wrong.append(latex(values[0]))
    return "Find the eigenvalues.", matrix_text(matrix), [texts, named], wrong


def row_reduction(rng):
    matrix = sp.Matrix(rng.choice([2, 3]), rng.choice([3, 4]), lambda *_: rng.randint(-3, 4))
    reduced = matrix.rref()[0]
    wrong = reduced.copy()
    wrong[rng.randrange(len(wrong))] += 1
    return "Find the reduced row echelon form.", matrix_text(matrix), [matrix_text(reduced)], [matrix_text(wrong)] + ([matrix_text(matrix)] if matrix != reduced else [])


def inverse_function(rng):
    a, b, c, d = nonzero(rng, -5, 5), rng.randint(-6, 6), rng.randint(-3, 3), nonzero(rng, -5, 5)
    if a * d - b * c == 0:
        return inverse_function(rng)
    body = (a * x + b) / (c * x + d)
    exact = sp.cancel((d * x - b) / (a - c * x))
    assert sp.cancel(body.subs(x, exact) - x) == 0
    wrong = [sp.cancel(exact + 1), sp.cancel(-exact), sp.cancel(1 / body)]
    wrong = [f"f^{{-1}}(x) = {latex(w)}" for w in wrong if sp.cancel(w - exact) != 0]
    return "Find the inverse function.", f"f(x) = {latex(body)}", [f"f^{{-1}}(x) = {latex(exact)}", f"y = {latex(exact)}"], wrong


def line_through(rng):
    (a, b), (c, d) = (rng.randint(-6, 6), rng.randint(-6, 6)), (rng.randint(-6, 6), rng.randint(-6, 6))
    if a == c:
        return line_through(rng)
    slope = Rational(d - b, c - a)
    line = sp.expand(slope * (x - a) + b)
    standard = sp.expand((line - y) * slope.q)
    right = [f"y = {latex(line)}", f"{latex(standard - standard.subs({x: 0, y: 0}))} = {latex(-standard.subs({x: 0, y: 0}))}"]
    wrong = [f"y = {latex(line + 1)}", f"y = {latex(sp.expand(line + x * (a + c + 7)))}", f"y = {latex(-line)}" if line != 0 else "y = x"]
    return f"Find the equation of the line through $({a}, {b})$ and $({c}, {d})$.", "", right, wrong


def vertex(rng):
    a, h, k = nonzero(rng, -3, 3), rng.randint(-5, 5), rng.randint(-8, 8)
    body = sp.expand(a * (x - h) ** 2 + k)
    wrong = [f"({-h}, {k})" if h else f"(1, {k})", f"({h}, {-k})" if k else f"({h}, 1)", f"({h + 1}, {k})"]
    return "Find the vertex.", f"f(x) = {latex(body)}", [f"({h}, {k})"], wrong


def domain(rng):
    r, s = sorted(rng.sample(range(-5, 6), 2))
    kind = rng.choice(["poles", "root", "logarithm"])
    if kind == "poles":
        tex = rf"f(x) = \frac{{{latex(x + 7)}}}{{{latex(sp.expand((x - r) * (x - s)))}}}"
        right = [rf"(-\infty, {r}) \cup ({r}, {s}) \cup ({s}, \infty)", rf"x \ne {r}, {s}", rf"x \ne {r}, x \ne {s}"]
        wrong = [rf"(-\infty, {s}) \cup ({s}, \infty)", rf"x \ne {r}", rf"(-\infty, {r}] \cup ({r}, {s}) \cup ({s}, \infty)", r"\text{all real numbers}"]
    elif kind == "root":
        a = nonzero(rng, -4, 4)
        end = Rational(-r, a)
        tex = rf"f(x) = \sqrt{{{latex(a * x + r)}}}"
        low, high = (end, oo) if a > 0 else (-oo, end)
        right = [interval_text(rng, low, high, True, True)]
        wrong = [interval_text(rng, low, high, False, False), interval_text(rng, *((-oo, end) if a > 0 else (end, oo)), True, True)]
    else:
        tex = rf"f(x) = \ln({latex(x - r)})"
        right = [rf"({r}, \infty)", f"x > {r}"]
        wrong = [rf"[{r}, \infty)", rf"({r + 1}, \infty)", f"x < {r}"]
    return "Find the domain.", tex, right, wrong


def composition(rng):
    a, b, c = nonzero(rng, -4, 4), rng.randint(-5, 5), rng.randint(-5, 5)
    f, g = a * x + b, x**2 + c
    if rng.random() < 0.5:
        exact = sp.expand(f.subs(x, g))
        asked = r"(f \circ g)(x)"
        other = sp.expand(g.subs(x, f))
    else:
        exact = sp.expand(g.subs(x, f))
        asked = "g(f(x))"
        other = sp.expand(f.subs(x, g))
    wrong = [latex(exact + 1), latex(-exact)]
    if other != exact:
        wrong.append(latex(other))
    return f"Let $f(x) = {latex(f)}$ and $g(x) = {latex(g)}$. Find ${asked}$.", "", [latex(exact), f"{asked} = {latex(exact)}"], wrong


KINDS = [
    linear_equation, quadratic_rational, quadratic_formula, polynomial_equation, radical_equation,
    rational_equation, absolute_equation, exponential_equation, logarithmic_equation,
    trigonometric_family, solve_for, linear_inequality, quadratic_inequality, linear_system,
    singular_system, nonlinear_system, expand_product, factor_polynomial, simplify_rational,
    add_fractions, simplify_radical, simplify_powers, complex_arithmetic, exact_value,
    logarithm_laws, determinant, matrix_product, matrix_inverse, eigenvalues, row_reduction,
    inverse_function, line_through, vertex, domain, composition,
]
