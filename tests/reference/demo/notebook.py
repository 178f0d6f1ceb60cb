"""Reads the demo notebook's blocks, for checking what they claim. Only as much of the format as
the notebook uses: header, fields with continuation lines, statement."""

import pathlib
import re
from dataclasses import dataclass, field

ROOT = pathlib.Path(__file__).resolve().parents[3] / "server" / "demo"
NOTEBOOK = ROOT / "notebook"
REPEATED = {"tried", "spotted", "shape", "quiz", "homework"}
FIELDS = {
    "course": "text, term, minutes, target",
    "exam": "on, length, covers, notes, target, weight, questions, points, start, room, result",
    "topic": "learned, quiz, homework, pages",
    "pattern": "topic, shape, cue, method, reduces to, confused with, fresh",
    "problem": "pattern, topic, from, points, hint, answer, solution, tried, spotted",
    "theorem": "pattern, topic, from, points, proof, tried",
    "definition": "pattern, topic, from, points, tried",
    "paper": "course, for, by, drawn, seed, length, notes, started, finished, recorded",
    "question": "of, seed, points, mark, mine, pattern, answer",
}
FIELDS = {kind: set(keys.split(", ")) for kind, keys in FIELDS.items()}
KEYS = set().union(*FIELDS.values())


@dataclass
class Block:
    """One block of a file."""

    file: str
    course: str
    kind: str
    title: str
    topic: str | None
    fields: dict = field(default_factory=dict)
    statement: str = ""

    def __str__(self):
        return f"{self.file}: @{self.kind} {self.title}"

    def get(self, key):
        """The one value of a field, or None."""
        values = self.fields.get(key, [])
        assert len(values) <= 1, f"{self}: {key} stands {len(values)} times"
        return values[0] if values else None

    def all(self, key):
        """Every value of a field."""
        return self.fields.get(key, [])

    def names(self, key):
        """The names in a field, split at commas."""
        return [name.strip().lower() for value in self.all(key) for name in value.split(",")]


def blocks_of(path, root=NOTEBOOK):
    """The blocks of one file below a root."""
    relative = path.relative_to(root)
    found, block, last, topic, open_ = [], None, None, None, False
    for line in path.read_text(encoding="utf-8").splitlines():
        if re.match(r"\s*%", line) or not line.strip():
            continue
        header = re.match(r"@([a-z]+)\s*(.*)", line)
        if header:
            kind, title = header.group(1), header.group(2).strip()
            if kind == "topic":
                topic = title.split()[0]
            block = Block(str(relative), relative.parts[0], kind, title, topic)
            found.append(block)
            last, open_ = None, True
        elif not line[0].isspace():
            open_ = False
        elif open_:
            depth = len(line) - len(line.lstrip())
            key, colon, value = line.strip().partition(":")
            if depth > 2 and last:
                block.fields[last][-1] += " " + line.strip()
            elif colon and key in KEYS:
                block.fields.setdefault(key, []).append(value.strip())
                last = key
            else:
                block.statement = (block.statement + " " + line.strip()).strip()
                last = None
    for block in found:
        if block.get("topic"):
            block.topic = block.get("topic")
    return found


def files():
    """Every file of the notebook, in order."""
    return sorted(NOTEBOOK.rglob("*.porism"))


def blocks(kind=None):
    """Every block, or those of a kind."""
    every = [block for path in files() for block in blocks_of(path)]
    return [block for block in every if kind in (None, block.kind)]


def formulas(text):
    """The formulas between dollar signs."""
    return re.findall(r"\$([^$]+)\$", text)


def gaps():
    """The rows of the index of gaps: file, line, what is the matter."""
    rows = []
    for line in (ROOT / "GAPS.md").read_text(encoding="utf-8").splitlines():
        cells = [cell.strip() for cell in line.strip().strip("|").split(" | ")]
        if line.startswith("| ") and len(cells) == 3 and cells[0] != "file" and "---" not in cells[0]:
            rows.append(cells)
    return rows
