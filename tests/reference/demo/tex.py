"""Reads the small part of TeX in which the demo notebook's problems and keys are written.

This reader shares nothing with the project's own: it turns a formula straight into SymPy objects,
so that the keys are judged by a second pair of eyes. It raises `TexError` for whatever it does not
know, and never guesses.
"""

import re

import sympy as sp

TOKEN = re.compile(
    r"\\begin\{\w+\}|\\end\{\w+\}|\\operatorname\{\w+\}|\\mathbb\{\w\}|\\[a-zA-Z]+|\\\\|\\[,;:! ]"
    r"|\d+(?:\.\d+)?|[a-zA-Z]|'+|[-+*/^_=<>!(){}\[\]|&,.:]"
)
SPACING = {r"\,", r"\;", r"\:", r"\!", r"\ ", r"\left", r"\right", r"\quad"}
FUNCTIONS = {r"\sin": sp.sin, r"\cos": sp.cos, r"\tan": sp.tan, r"\ln": sp.log}
GREEK = {r"\lambda", r"\varepsilon", r"\delta"}
RELATIONS = {"=": sp.Eq, "<": sp.Lt, ">": sp.Gt, r"\ne": sp.Ne, r"\le": sp.Le, r"\ge": sp.Ge}


class TexError(ValueError):
    """A formula that cannot be read."""


def symbol(name):
    """The real symbol of a name; derivatives of y are the symbols y' and y''."""
    return sp.Symbol(name, real=True)


def tokens(tex):
    """The tokens of a formula without spacing commands."""
    found, at = [], 0
    while at < len(tex):
        if tex[at].isspace():
            at += 1
            continue
        match = TOKEN.match(tex, at)
        if not match:
            raise TexError(f"cannot read {tex[at:at + 12]!r} in {tex!r}")
        if match.group() not in SPACING:
            found.append(match.group())
        at = match.end()
    return found


class Reader:
    """A recursive-descent reader over the tokens of one formula."""

    def __init__(self, tex):
        self.tex = tex
        self.tokens = tokens(tex)
        self.at = 0

    def peek(self):
        return self.tokens[self.at] if self.at < len(self.tokens) else None

    def next(self):
        token = self.peek()
        if token is None:
            raise TexError(f"unexpected end of {self.tex!r}")
        self.at += 1
        return token

    def expect(self, token):
        found = self.next()
        if found != token:
            raise TexError(f"expected {token!r}, found {found!r} in {self.tex!r}")

    def accept(self, token):
        if self.peek() == token:
            self.at += 1
            return True
        return False

    def group(self):
        """What stands between braces, or a single token."""
        if self.accept("{"):
            value = self.sum()
            self.expect("}")
            return value
        token = self.next()
        if token.isdigit():
            # TeX takes one digit only.
            if len(token) > 1:
                raise TexError(f"a bare argument of two digits in {self.tex!r}")
            return sp.Integer(token)
        if len(token) == 1 and token.isalpha():
            return symbol(token)
        raise TexError(f"cannot read the argument {token!r} in {self.tex!r}")

    def raw_group(self):
        """The tokens between braces as text, or a single token."""
        if not self.accept("{"):
            return self.next()
        depth, parts = 1, []
        while True:
            token = self.next()
            depth += (token == "{") - (token == "}")
            if depth == 0:
                return "".join(parts)
            parts.append(token)

    def relation(self):
        left = self.sum()
        token = self.peek()
        if token in RELATIONS:
            self.at += 1
            return RELATIONS[token](left, self.sum(), evaluate=False)
        return left

    def sum(self):
        sign = -1 if self.accept("-") else 1
        value = sign * self.product()
        while self.peek() in ("+", "-"):
            sign = 1 if self.next() == "+" else -1
            value = value + sign * self.product()
        return value

    def starts_factor(self):
        token = self.peek()
        return token is not None and (
            token[0].isalnum()
            or token in ("(", "{", "|") and not (token == "|" and self.bars)
            or token in FUNCTIONS
            or token in GREEK
            or token in (r"\frac", r"\sqrt", r"\pi", r"\infty", r"\det", r"\begin{bmatrix}")
        )

    bars = 0

    def product(self):
        value = self.factor()
        while True:
            if self.accept("/"):
                value = value / self.factor()
            elif self.starts_factor():
                value = value * self.factor()
            else:
                return value

    def factor(self):
        base = self.base()
        while self.peek() in ("^", "!"):
            if self.next() == "!":
                base = sp.factorial(base)
                continue
            base = base ** self.group()
        return base

    def name(self, token):
        name = token
        if self.accept("_"):
            name += "_" + self.raw_group()
        if self.peek() and set(self.peek()) == {"'"}:
            name += self.next()
        return name

    def base(self):
        token = self.next()
        if token[0].isdigit():
            return sp.Rational(token)
        if len(token) == 1 and token.isalpha():
            name = self.name(token)
            return {"e": sp.E, "i": sp.I}.get(name) or symbol(name)
        if token in GREEK:
            return symbol(self.name(token[1:]))
        if token == r"\pi":
            return sp.pi
        if token == r"\infty":
            return sp.oo
        if token == r"\frac":
            top = self.group()
            return top / self.group()
        if token == r"\sqrt":
            return sp.sqrt(self.group())
        if token == r"\det":
            return self.base().det()
        if token == r"\begin{bmatrix}":
            return sp.Matrix(self.rows("bmatrix"))
        if token in FUNCTIONS:
            return self.function(FUNCTIONS[token])
        if token == "(":
            bars, self.bars = self.bars, 0
            value = self.sum()
            self.bars = bars
            self.expect(")")
            return value
        if token == "{":
            value = self.sum()
            self.expect("}")
            return value
        if token == "|":
            self.bars += 1
            value = self.sum()
            self.expect("|")
            self.bars -= 1
            return sp.Abs(value)
        raise TexError(f"cannot read {token!r} in {self.tex!r}")

    def function(self, function):
        power = self.group() if self.accept("^") else 1
        if self.peek() in ("(", "|", r"\frac", r"\sqrt"):
            argument = self.base()
        else:
            # Without parentheses the argument is a product of numbers and letters.
            argument = self.factor()
            while self.peek() and self.peek()[0].isalnum():
                argument = argument * self.factor()
        return function(argument) ** power

    def rows(self, environment, cell=None):
        """The rows of an environment whose opening has been read."""
        cell = cell or self.sum
        rows, row = [], []
        while True:
            row.append(cell())
            token = self.next()
            if token == "&":
                continue
            rows.append(row)
            row = []
            if token == "\\end{" + environment + "}":
                return rows
            if token != "\\\\":
                raise TexError(f"expected a row, found {token!r} in {self.tex!r}")

    def end(self, value):
        if self.peek() is not None:
            raise TexError(f"{self.peek()!r} is left over in {self.tex!r}")
        return value


def read(tex):
    """An expression or a relation."""
    reader = Reader(tex)
    return reader.end(reader.relation())


def read_list(tex):
    """Expressions or relations between commas."""
    reader = Reader(tex)
    values = [reader.relation()]
    while reader.accept(","):
        values.append(reader.relation())
    return reader.end(values)


def read_vector(tex):
    """A vector written as (1, 2, 3)."""
    reader = Reader(tex)
    reader.expect("(")
    entries = [reader.sum()]
    while reader.accept(","):
        entries.append(reader.sum())
    reader.expect(")")
    return reader.end(sp.Matrix(entries))


def read_cases(tex):
    """The rows of a cases environment, each a list of expressions or relations."""
    reader = Reader(tex)
    reader.expect(r"\begin{cases}")
    return reader.end(reader.rows("cases", reader.relation))


def read_matrix_power(tex):
    """A matrix, a product of matrices or a power of a matrix."""
    reader = Reader(tex)
    return reader.end(reader.product())
