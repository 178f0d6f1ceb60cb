"""Turns the structure that the reader prints into an expression of SymPy.

The structure is nested lists, `(+ x (^ y 2))`. What SymPy has no word for (a derivative with
primes, a call of a function that is only named, an index) becomes an undefined function of capital
letters, the same as in `formulas.jsonl`:

    PR(y, n)          the derivative of order n, written with primes; DN for a symbolic order
    DD(y, x, n), PD   dy/dx and partial derivatives, with the variables and their orders
    AT(f, x)          a value of a named function; f(x) in the file is short for it
    IDX(a, n)         an entry of a sequence
    LIM, LIMR, LIML   limits from both sides, from above and from below
"""

import re

import sympy as sp

GREEK = dict(
    zip(
        "αβγδεζηθικλμνξπρστυφχψω",
        "alpha beta gamma delta epsilon zeta eta theta iota kappa lamda mu nu xi pi rho sigma tau "
        "upsilon phi chi psi omega".split(),
        strict=True,
    )
)
TOKEN = re.compile(r'"(?:[^"\\]|\\.)*"|\d+(?:\.\d*(?:\(\d+\))?)?|[()]|[^\s()"]+')
WORD = {"[]": "closed", "[)": "left-closed", "(]": "right-closed", "()": "open"}
NUMBER = re.compile(r"(\d+)(?:\.(\d*)(?:\((\d+)\))?)?$")

FUNCTIONS = {
    "sin": sp.sin, "cos": sp.cos, "tan": sp.tan, "cot": sp.cot, "sec": sp.sec, "csc": sp.csc,
    "arcsin": sp.asin, "arccos": sp.acos, "arctan": sp.atan, "arccot": sp.acot,
    "arcsec": sp.asec, "arccsc": sp.acsc, "sinh": sp.sinh, "cosh": sp.cosh, "tanh": sp.tanh,
    "coth": sp.coth, "sech": sp.sech, "csch": sp.csch, "arsinh": sp.asinh, "arcosh": sp.acosh,
    "artanh": sp.atanh, "exp": sp.exp, "ln": sp.log, "abs": sp.Abs, "factorial": sp.factorial,
    "doublefactorial": sp.factorial2, "binomial": sp.binomial, "floor": sp.floor,
    "ceiling": sp.ceiling, "gcd": sp.gcd, "lcm": sp.lcm, "max": sp.Max, "min": sp.Min,
    "remainder": sp.Mod, "sign": sp.sign, "realpart": sp.re, "imaginarypart": sp.im,
    "conjugate": sp.conjugate, "erf": sp.erf,
}  # fmt: skip
CONSTANTS = {
    "Pi": sp.pi, "E": sp.E, "I": sp.I, "Infinity": sp.oo, "EmptySet": sp.S.EmptySet,
    "Reals": sp.S.Reals, "Integers": sp.S.Integers, "Naturals": sp.S.Naturals,
    "Rationals": sp.S.Rationals, "Complexes": sp.S.Complexes,
}  # fmt: skip
RELATIONS = {
    "=": sp.Eq, "≠": sp.Ne, "<": sp.Lt, "≤": sp.Le, ">": sp.Gt, "≥": sp.Ge,
}  # fmt: skip
WORDS = {
    "+-": "PM", "-+": "MP", "composition": "COMP", "inversefunction": "INV", "apply": "AT",
    "indexed": "IDX", "differential": "DX", "evaluatedat": "EVAL", "given": "GIVEN",
    "setbuilder": "SB", "union": "UNION", "intersection": "INTER", "difference": "DIFF",
    "dot": "DOT", "cross": "CROSS", "gradient": "GRAD", "divergence": "DIV", "curl": "CURL",
    "laplacian": "LAP", "trace": "TRACE", "transpose": "TR", "ratio": "RATIO", "modulo": "MOD",
    "∈": "IN", "⊆": "SUBSET", "≈": "APPROX", "≡": "CONG", "∝": "PROP", "forall": "FORALL",
    "exists": "EXISTS", "nthprime": "DN", "log": None, "limit": "LIM", "limit:above": "LIMR",
    "limit:below": "LIML", "series:sum:where": "SUMC", ": →": "MAP",
}  # fmt: skip


def undefined(name, *arguments):
    return sp.Function(name)(*arguments)


def parse(text):
    """The nested lists, as Python lists of strings."""
    # The brackets of an interval are none of a list.
    text = re.sub(r"interval:([\[(])([\])])", lambda ends: "interval:" + WORD[ends[0][-2:]], text)
    stack = [[]]
    for token in TOKEN.findall(text):
        if token == "(":
            stack.append([])
        elif token == ")":
            done = stack.pop()
            stack[-1].append(done)
        else:
            stack[-1].append(token)
    (tree,) = stack[0]
    return tree


def number(text):
    """An exact number: an integer, a decimal, or one with repeating digits in brackets."""
    whole, fixed, repeating = NUMBER.match(text).groups()
    fixed = fixed or ""
    value = sp.Rational(int(whole + fixed), 10 ** len(fixed))
    if repeating:
        value += sp.Rational(int(repeating), (10 ** len(repeating) - 1) * 10 ** len(fixed))
    return value


def leaf(text):
    if text.startswith('"'):
        return sp.Symbol("TEXT")
    if NUMBER.match(text):
        return number(text)
    if text in CONSTANTS:
        return CONSTANTS[text]
    text = text.removeprefix("letter:")
    for prefix, short in (("bold:", "b_"), ("vec:", "v_"), ("bar:", "bar_")):
        if text.startswith(prefix):
            return sp.Symbol(short + text.removeprefix(prefix))
    base, _, subscript = text.partition("_")
    name = GREEK.get(base, base) + (f"_{subscript}" if subscript else "")
    return sp.Symbol({"Γ": "Gamma"}.get(name, name))


def relation(sign, left, right):
    if sign in RELATIONS:
        return RELATIONS[sign](left, right, evaluate=False)
    return undefined(WORDS[sign], left, right)


def sympify(tree):
    """The expression of SymPy for nested lists."""
    if isinstance(tree, str):
        return leaf(tree)
    words = []
    operands = list(tree)
    while operands and isinstance(operands[0], str) and (not words or is_sign(operands[0])):
        words.append(operands.pop(0))
    head = " ".join(words)
    if head == "list" or head == "system" or head.startswith("tuple"):
        return sp.Tuple(*map(sympify, operands))
    if head == "piecewise":
        pairs = zip(operands[::2], operands[1::2], strict=True)
        return sp.Piecewise(*((sympify(value), condition(of)) for value, of in pairs))
    arguments = [sympify(operand) for operand in operands]
    if all(is_sign(word) for word in words) and head not in ("+-", "-+", ": →"):
        chain = [relation(sign, *arguments[place : place + 2]) for place, sign in enumerate(words)]
        return chain[0] if len(chain) == 1 else sp.Tuple(*chain)
    return built(head, arguments)


def is_sign(word):
    return word in RELATIONS or word in ("∈", "⊆", "≈", "≡", "∝", ":", "→")


def condition(tree):
    """A condition of a piecewise function; a chain of relations means all of them."""
    if isinstance(tree, str):
        return sp.true
    found = sympify(tree)
    return sp.And(*found.args) if isinstance(found, sp.Tuple) else found


def built(head, arguments):
    match head, arguments:
        case "+", _:
            return sum(arguments[1:], arguments[0])
        case "*", _:
            return product(arguments)
        case "-", [operand]:
            return -operand
        case "/", [numerator, denominator]:
            return numerator / denominator
        case "mixed", [whole, numerator, denominator]:
            return whole + numerator / denominator
        case "^", [base, exponent]:
            return base**exponent
        case "root", [radicand]:
            return sp.sqrt(radicand)
        case "nthroot", [radicand, degree]:
            return radicand ** (1 / degree)
        case "percent", [operand]:
            return operand / 100
        case "degrees", [operand]:
            return operand * sp.pi / 180
        case "log", [argument]:
            return sp.log(argument, 10)
        case "logbase", [argument, base]:
            return sp.log(argument, base)
        case "norm", [sp.Tuple() as vector]:
            return sp.sqrt(sum(component**2 for component in vector))
        case "determinant", [operand]:
            return operand.det() if operand.is_Matrix else undefined("DET", operand)
        case "or", _:
            return sp.Or(*arguments, evaluate=False)
        case "and", _:
            return sp.And(*arguments, evaluate=False)
        case "implies", _:
            return sp.Implies(*arguments, evaluate=False)
        case "iff", _:
            return sp.Equivalent(*arguments, evaluate=False)
        case "set", _:
            return sp.FiniteSet(*arguments)
        case "union", _ if all(isinstance(one, sp.Interval) for one in arguments):
            return sp.Union(*arguments)
        case (("series:sum" | "series:product"), [body, index, lower, upper]):
            kind = sp.Sum if head == "series:sum" else sp.Product
            return kind(body, (index, lower, upper))
        case _ if head.startswith("'"):
            return undefined("PR", arguments[0], len(head))
        case _ if head.startswith("interval:"):
            kind = head.removeprefix("interval:")
            return sp.Interval(
                *arguments, kind in ("right-closed", "open"), kind in ("left-closed", "open")
            )
        case _ if head.startswith("matrix:"):
            columns = int(head.removeprefix("matrix:").split("|")[0])
            rows = [arguments[at : at + columns] for at in range(0, len(arguments), columns)]
            return sp.ImmutableMatrix(rows)
        case _ if head.startswith(("d:", "partial:")):
            return derivative(head, arguments)
        case _ if head.startswith("integral"):
            return integral(head, arguments)
    if head in FUNCTIONS:
        return FUNCTIONS[head](*arguments)
    return undefined(WORDS.get(head, head.upper()), *arguments)


def product(factors):
    result = factors[0]
    for factor in factors[1:]:
        result = result * factor
    return result


def derivative(head, arguments):
    sign, _, orders = head.partition(":")
    operand, *variables = arguments
    orders = [int(order) for order in orders.split(",")]
    pairs = list(zip(variables, orders, strict=True))
    if sign == "d" and not operand.is_Symbol:
        return sp.Derivative(operand, *pairs, evaluate=False)
    flat = [part for pair in pairs for part in pair]
    return undefined("DD" if sign == "d" else "PD", operand, *flat)


def integral(head, arguments):
    marks = head.split(":")[1:]
    count = next((int(mark[2:]) for mark in marks if mark.startswith("by")), 1)
    signs = next((int(mark) for mark in marks if mark.isdigit()), 1)
    body, rest = arguments[0], arguments[1:]
    variables, bounds = rest[:count], rest[count:]
    if signs > 1:
        return undefined(f"INT{signs}", body, *variables, *bounds)
    if not variables:
        return undefined("INTC", body, *bounds)
    return sp.Integral(body, (variables[0], *bounds))
