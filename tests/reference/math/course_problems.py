"""Problems for which the words name what is asked, with keys that SymPy has computed.

Terms of sequences, rates of change, rules for integrals, waves, conic sections, greatest values,
ranges, planes, fields, curves in polar coordinates, matrices with a letter, systems of differential
equations. A maker gives a prompt, the TeX of a problem, right keys and wrong ones.
"""

import sympy as sp
from sympy import Rational, latex, pi

from algebra_problems import nonzero

x, y, z, n, t, k = sp.symbols("x y z n t k")


def apart(right, wrong):
    """Wrong keys that are not by chance the right ones."""
    return right, [key for key in wrong if key not in right]


def average_rate(rng):
    a, b = nonzero(rng, -4, 4), rng.randint(-6, 6)
    low, high = sorted(rng.sample(range(-3, 6), 2))
    f = a * x**2 + b * x + rng.randint(-5, 5)
    value = (f.subs(x, high) - f.subs(x, low)) / (high - low)
    slope = sp.diff(f, x).subs(x, high)
    right, wrong = apart([latex(value)], [latex(value + 1), latex(-value), latex(slope), latex(value * (high - low + 1))])
    return f"Find the average rate of change of the function on the interval $[{low}, {high}]$.", f"f(x) = {latex(f)}", right, wrong


def numerical_rule(rng):
    f = rng.choice([x**2 + 1, 1 / (x + 1), sp.sqrt(x + 1), x**3, sp.exp(x)])
    steps = rng.choice([2, 4, 6])
    width = Rational(2, steps)
    at = [f.subs(x, width * place) for place in range(steps + 1)]
    rules = {
        "the trapezoidal rule": width / 2 * (at[0] + at[-1] + 2 * sum(at[1:-1])),
        "Simpson's rule": width / 3 * (at[0] + at[-1] + 4 * sum(at[1:-1:2]) + 2 * sum(at[2:-1:2])),
        "left endpoints": width * sum(at[:-1]),
        "right endpoints": width * sum(at[1:]),
    }
    name = rng.choice(list(rules))
    value = float(rules[name])
    right = [f"{value:.4f}", rf"\approx {value:.3f}"]
    wrong = [f"{value + 0.01:.4f}", f"{value * 2:.4f}", f"{value - 0.1:.3f}"]
    return f"Approximate the integral using {name} with $n = {steps}$.", rf"\int_0^2 {latex(f)} \, dx", right, wrong


def terms(rng):
    a, b = nonzero(rng, -4, 4), rng.randint(-6, 6)
    f = rng.choice([a * n + b, n**2 + b, a * 2**n, Rational(1, 1) / (n + abs(b)), (-1) ** n * n])
    values = [f.subs(n, place) for place in range(1, 6)]
    changed = values.copy()
    changed[rng.randrange(5)] += 1
    shifted = [f.subs(n, place) for place in range(2, 7)]
    show = lambda list_: ", ".join(latex(v) for v in list_)
    right, wrong = apart([show(values)], [show(changed), show(shifted), show(values[:4])])
    return "Write the first five terms of the sequence.", f"a_n = {latex(f)}", right, wrong


def general_term(rng):
    a, d = rng.randint(-6, 9), nonzero(rng, -5, 6)
    shown = ", ".join(str(a + d * place) for place in range(4))
    f = sp.expand(a + d * (n - 1))
    right = [f"a_n = {latex(f)}", f"a_n = {a} + {d}(n - 1)" if d > 0 else f"a_n = {a} - {-d}(n - 1)"]
    wrong = [f"a_n = {latex(f + d)}", f"a_n = {latex(f - 1)}", f"a_n = {latex(sp.expand(-f))}" if f else "a_n = 1"]
    return "Write an explicit formula for the arithmetic sequence.", rf"{shown}, \ldots", *apart(right, wrong)


def wave(rng):
    a, b, c, d = nonzero(rng, -4, 4), rng.randint(2, 5), rng.randint(1, 3), rng.randint(1, 4)
    f = rf"f(x) = {a} \sin\left({b} x - \frac{{\pi}}{{{c + 1}}}\right) + {d}"
    amplitude, period, shift = abs(a), 2 * pi / b, pi / (b * (c + 1))
    text = lambda p, q, r: rf"\text{{amplitude }} {latex(p)}, \text{{ period }} {latex(q)}, \text{{ phase shift }} {latex(r)}"
    right = [text(amplitude, period, shift)]
    wrong = [text(amplitude + 1, period, shift), text(amplitude, pi / b, shift), text(amplitude, period, -shift), text(amplitude, period, pi / (c + 1))]
    return "Find the amplitude, period, and phase shift.", f, right, wrong


def foci(rng):
    a, b, c = rng.choice([(5, 4, 3), (5, 3, 4), (13, 12, 5), (10, 8, 6)])
    h, m = rng.randint(-3, 3), rng.randint(-3, 3)
    upright = rng.random() < 0.5
    left = (x - h) ** 2 / (b**2 if upright else a**2) + (y - m) ** 2 / (a**2 if upright else b**2)
    points = [(h, m - c), (h, m + c)] if upright else [(h - c, m), (h + c, m)]
    turned = [(h - c, m), (h + c, m)] if upright else [(h, m - c), (h, m + c)]
    ends = [(h, m - a), (h, m + a)] if upright else [(h - a, m), (h + a, m)]
    show = lambda list_: ", ".join(f"({p}, {q})" for p, q in list_)
    return "Find the foci of the ellipse.", f"{latex(left)} = 1", [show(points), show(points[::-1])], [show(turned), show(ends), show(points[:1])]


def greatest_value(rng):
    p, q = sorted(rng.sample(range(-3, 4), 2))
    f = sp.expand(sp.integrate(6 * (x - p) * (x - q), x))
    low, high = p - rng.randint(1, 3), q + rng.randint(1, 3)
    places = [low, high, p, q]
    best = max(places, key=lambda place: f.subs(x, place))
    value = f.subs(x, best)
    least = min(f.subs(x, place) for place in places)
    right = [latex(value), rf"{latex(value)} \text{{ at }} x = {best}" if sum(f.subs(x, v) == value for v in set(places)) == 1 else latex(value)]
    wrong = [latex(value + 1), latex(least), latex(-value) if value else "2"]
    return f"Find the absolute maximum of the function on $[{low}, {high}]$.", f"f(x) = {latex(f)}", *apart(right, wrong)


def value_range(rng):
    a, h, m = nonzero(rng, -3, 3), rng.randint(-4, 4), rng.randint(-6, 6)
    kind = rng.choice(["parabola", "exponential", "root", "sine", "absolute"])
    if kind == "exponential":
        f = a * sp.exp(x) + m
        right = [rf"({m}, \infty)" if a > 0 else rf"(-\infty, {m})"]
        wrong = [rf"[{m}, \infty)" if a > 0 else rf"(-\infty, {m}]", rf"({m + 1}, \infty)", r"(-\infty, \infty)"]
    elif kind == "sine":
        f = abs(a) * sp.sin(x) + m
        right = [f"[{m - abs(a)}, {m + abs(a)}]"]
        wrong = [f"({m - abs(a)}, {m + abs(a)})", f"[{-abs(a)}, {abs(a) + 1}]", r"(-\infty, \infty)"]
    else:
        f = {"parabola": a * (x - h) ** 2 + m, "root": a * sp.sqrt(x - h) + m, "absolute": a * sp.Abs(x - h) + m}[kind]
        right = [rf"[{m}, \infty)" if a > 0 else rf"(-\infty, {m}]"]
        wrong = [rf"({m}, \infty)" if a > 0 else rf"(-\infty, {m})", rf"(-\infty, {m}]" if a > 0 else rf"[{m}, \infty)", rf"[{m + 1}, \infty)"]
    return "Find the range.", f"f(x) = {latex(f)}", *apart(right, wrong)


def tangent_plane(rng):
    f = rng.choice([x**2 + y**2, x * y, x**2 * y, x**2 - y**2 + x])
    p, q = nonzero(rng, -3, 3), nonzero(rng, -3, 3)
    at = {x: p, y: q}
    value, a, b = f.subs(at), sp.diff(f, x).subs(at), sp.diff(f, y).subs(at)
    plane = lambda u, v, w: f"z = {latex(sp.expand(w + u * (x - p) + v * (y - q)))}"
    right, wrong = apart([plane(a, b, value)], [plane(a, b, value + 1), plane(b, a, value) if a != b else plane(a + 1, b, value), plane(-a, b, value) if a else plane(1, b, value)])
    return "Find an equation of the tangent plane to the surface at the given point.", rf"z = {latex(f)}, \ ({p}, {q}, {value})", right, wrong


def curl_and_divergence(rng):
    field = [rng.choice([x * y, y**2, z * x, x**2]), rng.choice([y * z, x**2, z, x * y]), rng.choice([x * z, y, z**2, x * y * z])]
    divergence = sum(sp.diff(part, letter) for part, letter in zip(field, (x, y, z)))
    curl = [
        sp.diff(field[2], y) - sp.diff(field[1], z),
        sp.diff(field[0], z) - sp.diff(field[2], x),
        sp.diff(field[1], x) - sp.diff(field[0], y),
    ]
    show = lambda parts: r"\left\langle " + ", ".join(latex(part) for part in parts) + r"\right\rangle"
    tex = r"\mathbf{F}(x, y, z) = " + show(field)
    if rng.random() < 0.5:
        right, wrong = apart([latex(divergence)], [latex(divergence + 1), latex(divergence + x), latex(sp.diff(field[0], x) - 3)])
        return "Find the divergence of the vector field.", tex, right, wrong
    right, wrong = apart([show(curl)], [show([-part for part in curl]), show([curl[0] + 1, *curl[1:]]), show(curl[::-1])])
    return "Find the curl of the vector field.", tex, right, wrong


def polar_equation(rng):
    a = nonzero(rng, -5, 5)
    tex, right, wrong = rng.choice(
        [
            (rf"r = {2 * abs(a)} \cos\theta", [f"x^2 + y^2 = {2 * abs(a)} x", f"(x - {abs(a)})^2 + y^2 = {a * a}"], [f"x^2 + y^2 = {2 * abs(a)} y", f"x^2 + y^2 = {a * a + 30}"]),
            (rf"r = {abs(a)}", [f"x^2 + y^2 = {a * a}"], [f"x^2 + y^2 = {a * a + 1}", f"x + y = {abs(a)}"]),
            (rf"r \sin\theta = {a}", [f"y = {a}"], [f"x = {a}", f"y = {-a}"]),
            (rf"r = \frac{{{abs(a)}}}{{\sin\theta + \cos\theta}}", [f"x + y = {abs(a)}"], [f"x - y = {abs(a)}", f"x + y = {abs(a) + 1}"]),
        ]
    )
    return "Convert the polar equation to a rectangular equation.", tex, right, wrong


def singular(rng):
    a, b = nonzero(rng, 1, 6), nonzero(rng, 1, 6)
    matrix = sp.Matrix([[k, a], [b, k + rng.randint(-3, 3)]])
    roots = sorted(sp.solve(matrix.det(), k), key=lambda root: root.evalf())
    rows = r" \\ ".join(" & ".join(latex(entry) for entry in matrix.row(row)) for row in range(2))
    show = lambda list_: ", ".join(f"k = {latex(root)}" for root in list_)
    wrong = [show(roots[:1]), show([roots[0], roots[1] + 1]), show([root + 1 for root in roots])]
    return "For which values of $k$ is the matrix singular?", rf"\begin{{pmatrix}} {rows} \end{{pmatrix}}", [show(roots)], wrong


def diagonalised(rng):
    p, q = rng.sample([-3, -2, -1, 1, 2, 3, 4, 5], 2)
    base = sp.Matrix(rng.choice([[[1, 1], [1, -1]], [[1, 2], [1, 1]], [[2, 1], [1, 1]], [[1, 1], [1, 2]]]))
    matrix = base * sp.diag(p, q) * base.inv()
    show = lambda m: r"\begin{pmatrix} " + r" \\ ".join(" & ".join(latex(entry) for entry in m.row(row)) for row in range(2)) + r" \end{pmatrix}"
    text = lambda b, d: f"P = {show(b)}, D = {show(d)}"
    swapped = sp.Matrix([base.col(1).T, base.col(0).T]).T
    right = [text(base, sp.diag(p, q)), text(swapped, sp.diag(q, p))]
    wrong = [text(base, sp.diag(q, p)), text(base, sp.diag(p, q + 1)), text(base + sp.Matrix([[0, 3], [0, 0]]), sp.diag(p, q))]
    return "Diagonalize the matrix: find $P$ and $D$ such that $A = PDP^{-1}$.", f"A = {show(matrix)}", right, wrong


def vector_system(rng):
    p, q = rng.sample([-3, -2, -1, 1, 2, 3, 4], 2)
    base = sp.Matrix(rng.choice([[[1, 1], [1, -1]], [[1, 2], [1, 1]], [[2, 1], [1, 1]]]))
    matrix = base * sp.diag(p, q) * base.inv()
    show = lambda m: r"\begin{pmatrix} " + r" \\ ".join(" & ".join(latex(entry) for entry in m.row(row)) for row in range(2)) + r" \end{pmatrix}"
    term = lambda name, rate, vector: rf"{name} {latex(sp.exp(rate * t))} {show(vector)}"
    text = lambda u, v, r, s: rf"\mathbf{{x}} = {term('c_1', r, u)} + {term('c_2', s, v)}"
    u, v = base.col(0), base.col(1)
    right = [text(u, v, p, q), text(v, 2 * u, q, p)]
    wrong = [text(v, u, p, q), text(u, v, p, q + 1), rf"\mathbf{{x}} = {term('c_1', p, u)}"]
    return "Find the general solution of the system.", rf"\mathbf{{x}}' = {show(matrix)} \mathbf{{x}}", right, wrong


def mean_value_place(rng):
    a, b = nonzero(rng, -3, 3), rng.randint(-5, 5)
    low, high = sorted(rng.sample(range(-3, 6), 2))
    f = a * x**2 + b * x
    place = Rational(low + high, 2)
    right = [f"c = {latex(place)}", latex(place)]
    wrong = [f"c = {latex(place + 1)}", f"c = {low}", f"c = {latex(place + Rational(1, 4))}"]
    return f"Find the value of $c$ guaranteed by the Mean Value Theorem for the function on $[{low}, {high}]$.", f"f(x) = {latex(f)}", right, wrong


def continuous(rng):
    a, b, p = nonzero(rng, -4, 4), rng.randint(-5, 5), nonzero(rng, -3, 3)
    value = (a * p**2 + b - 1) / sp.Integer(p)
    tex = rf"f(x) = \begin{{cases}} {latex(k * x + 1)}, & x < {p} \\ {latex(a * x**2 + b)}, & x \ge {p} \end{{cases}}"
    right = [f"k = {latex(value)}"]
    wrong = [f"k = {latex(value + 1)}", f"k = {latex(-value)}" if value else "k = 2", f"k = {latex(value * p + 2)}"]
    return "For what value of $k$ is $f$ continuous?", tex, *apart(right, wrong)


KINDS = [
    average_rate, numerical_rule, terms, general_term, wave, foci, greatest_value, value_range,
    tangent_plane, curl_and_divergence, polar_equation, singular, diagonalised, vector_system,
    mean_value_place, continuous,
]
