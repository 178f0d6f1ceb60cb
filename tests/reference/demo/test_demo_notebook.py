"""Checks the demo notebook against SymPy and against its own index of gaps.

Every key of every problem is judged by SymPy through a TeX reader that shares nothing with the
project's. The gaps that a machine can find here are found again and compared with the index in both
directions, so that the notebook holds the mistakes it says and no others of these kinds.
"""

import datetime
import re
from collections import Counter

import pytest

from keys import CannotTell, judge
from notebook import FIELDS, KEYS, NOTEBOOK, REPEATED, ROOT, blocks, files, gaps
from tex import TexError

TODAY = datetime.date.fromisoformat((ROOT / "REFERENCE_DAY").read_text().strip())
PROBLEMS = blocks("problem")


def listed(gap):
    """The (file, line) pairs of a kind of gap."""
    return {(file, line) for file, line, what in gaps() if what.startswith(gap)}


def line_of(block):
    return (block.file, f"@{block.kind} {block.title}")


def by_name(kind, course):
    return {block.title.lower(): block for block in blocks(kind) if block.course == course}


def label(text):
    return tuple(int(part) for part in text.split("."))


def covered(exam, topics):
    """The labels of the topics that an exam covers, and whether some item covers none."""
    found, nothing = set(), False
    for item in exam.get("covers").split(","):
        ends = [label(end.strip()) for end in item.split("..")]
        those = {t for t in topics if ends[0] <= label(t) <= ends[-1]}
        found |= those
        nothing |= not those
    return found, nothing


def topics_of(course):
    return {b.title.split()[0]: b for b in blocks("topic") if b.course == course}


@pytest.mark.parametrize("problem", PROBLEMS, ids=str)
def test_key(problem):
    answer = problem.get("answer")
    assert answer, f"{problem} has no key"
    if any(f == problem.file and line in problem.statement for f, line in listed("TeX that cannot")):
        with pytest.raises(TexError):
            judge(problem.statement, answer)
        return
    wrong = any(
        (f, line) == (problem.file, f"answer: {answer}") for f, line in listed("wrong answer")
    )
    assert judge(problem.statement, answer) is not wrong


def slip(answer):
    """The answer with one digit changed, outside the names of constants; None if it has none."""
    match = re.search(r"(?<!_)\d", answer)
    if not match:
        return None
    return answer[: match.start()] + str((int(match.group()) + 1) % 10) + answer[match.end() :]


# In a proof from the definition a larger N and a smaller delta are right as well.
SLIPS = [p for p in PROBLEMS if slip(p.get("answer")) and "definition" not in p.statement]


@pytest.mark.parametrize("problem", SLIPS, ids=str)
def test_judge_rejects_a_slip(problem):
    """The judges can say no: a key with one digit changed is never called right."""
    try:
        assert judge(problem.statement, slip(problem.get("answer"))) is False
    except (TexError, CannotTell):
        pass


def test_one_wrong_key_is_listed():
    assert len(listed("wrong answer")) == 1


@pytest.mark.parametrize("question", blocks("question"), ids=str)
def test_mock_test_was_marked_rightly(question):
    """The student's answers: right ones hold, the others do not, and the marks were recorded."""
    problem = by_name("problem", question.course)[question.get("of")]
    paper = next(b for b in blocks("paper") if b.file == question.file)
    mark, mine = question.get("mark"), question.get("mine")
    assert question.statement == problem.statement
    if mine:
        assert judge(question.statement, mine) is (mark == "right")
    else:
        assert mark == "skipped"
    record = f"{paper.get('started')[:10]} closed mock {mark}"
    assert any(t.startswith(record) for t in problem.all("tried"))


def test_every_mock_record_belongs_to_the_paper():
    recorded = sum("mock" in t for p in PROBLEMS for t in p.all("tried"))
    assert recorded == len(blocks("question")) == 14


def test_lines_of_the_index_stand_once():
    for file, line, _ in gaps():
        lines = [text.strip() for text in (NOTEBOOK / file).read_text().splitlines()]
        assert lines.count(line) == 1, (file, line)


def test_size():
    count = Counter(block.kind for block in blocks())
    assert count["topic"] >= 12 and count["pattern"] >= 25 and count["problem"] >= 120
    assert count["theorem"] + count["definition"] >= 10
    assert {b.course for b in blocks("course")} == {path.relative_to(NOTEBOOK).parts[0] for path in files()}


def test_problem_numbers_are_unique_in_a_course():
    count = Counter((p.course, p.title) for p in PROBLEMS)
    assert max(count.values()) == 1


def test_patterns():
    defined = Counter((b.course, b.title.lower()) for b in blocks("pattern"))
    seen, twice = set(), set()
    for block in blocks("pattern"):
        key = (block.course, block.title.lower())
        if key in seen:
            twice.add(line_of(block))
        seen.add(key)
    assert twice == listed("pattern defined twice")

    named, undefined = set(), set()
    for block in blocks():
        for field in ("pattern", "reduces to", "confused with"):
            for name in block.names(field):
                if (block.course, name) not in defined:
                    undefined.add((block.file, f"{field}: {name}"))
                elif field == "pattern":
                    named.add((block.course, name))
    assert undefined == listed("pattern name not defined")
    unused = {line_of(b) for b in blocks("pattern") if (b.course, b.title.lower()) not in named}
    assert unused == listed("pattern without a problem")
    assert {line_of(p) for p in PROBLEMS if not p.all("pattern")} == listed("problem without a pattern")


def test_topics():
    undefined = {
        (block.file, f"topic: {block.get('topic')}")
        for block in blocks()
        if block.get("topic") and block.get("topic") not in topics_of(block.course)
    }
    assert undefined == listed("topic not defined")


def test_what_exams_cover():
    empty, never_closed, undefined = set(), set(), set()
    for exam in blocks("exam"):
        topics = topics_of(exam.course)
        names, nothing = covered(exam, topics)
        if nothing:
            undefined.add((exam.file, f"covers: {exam.get('covers')}"))
        for name in names:
            work = [
                b
                for b in blocks()
                if b.kind in ("problem", "theorem", "definition")
                and (b.course, b.topic) == (exam.course, name)
            ]
            if not work:
                empty.add(line_of(topics[name]))
            elif not any(" closed " in t for b in work for t in b.all("tried")):
                never_closed.add(line_of(topics[name]))
    assert undefined == listed("exam covers a topic")
    assert empty == listed("topic on an exam with nothing")
    assert never_closed == listed("topic on an exam never")


def test_dates():
    bad, early = set(), set()
    term = {b.course: datetime.date.fromisoformat(b.get("term")) for b in blocks("course")}
    for block in blocks():
        for field in ("tried", "spotted", "quiz", "homework"):
            for value in block.all(field):
                line = (block.file, f"{field}: {value}")
                try:
                    day = datetime.date.fromisoformat(value[:10])
                except ValueError:
                    bad.add(line)
                    continue
                assert day <= TODAY, line
                if day < term[block.course]:
                    early.add(line)
    assert bad == listed("date that does not exist")
    assert early == listed("try before the term")


def test_tries_are_in_the_form_of_the_format():
    form = re.compile(
        r"\d{4}-\d\d-\d\d (open|closed)( mock)? (right|partly|wrong|skipped)( \d+ min)?(, .+)?"
    )
    for block in blocks():
        for value in block.all("tried"):
            assert form.fullmatch(value), f"{block}: {value}"


def test_exams():
    day = {line_of(b): datetime.date.fromisoformat(b.get("on")[:10]) for b in blocks("exam")}
    past = {line_of(b) for b in blocks("exam") if day[line_of(b)] < TODAY and not b.get("result")}
    assert past == listed("past exam without a result")
    soon = sorted((d - TODAY).days for d in day.values() if 0 <= (d - TODAY).days <= 14)
    assert soon == [5, 7]
    week = datetime.timedelta(days=7)
    collide = {
        line
        for line, d in day.items()
        if d >= TODAY and any(other != line and abs(e - d) < week for other, e in day.items())
    }
    assert collide == listed("exams collide")


def test_unclosed_math():
    odd = set()
    for path in files():
        text = path.read_text(encoding="utf-8")
        text = re.sub(r"\$\$.*?\$\$", "", text, flags=re.DOTALL)
        for line in text.splitlines():
            if line.count("$") % 2:
                odd.add((str(path.relative_to(NOTEBOOK)), line.strip()))
    assert odd == listed("math not closed")


def test_kinds_and_fields():
    unknown, elsewhere, twice = set(), set(), set()
    for block in blocks():
        if block.kind not in FIELDS:
            unknown.add(line_of(block))
            continue
        for key, values in block.fields.items():
            if key not in FIELDS[block.kind]:
                elsewhere |= {(block.file, f"{key}: {value}") for value in values}
            elif key not in REPEATED:
                twice |= {(block.file, f"{key}: {value}") for value in values[1:]}
    assert unknown == listed("unknown kind of block")
    assert elsewhere == listed("field of another kind")
    assert twice == listed("field that stands twice")


def test_unknown_fields():
    """A body line that looks like a field but has no known key."""
    found = set()
    for path in files():
        for line in path.read_text(encoding="utf-8").splitlines():
            match = re.match(r"  ([a-z]+(?: [a-z]+)?): ", line)
            if match and match.group(1) not in KEYS:
                found.add((str(path.relative_to(NOTEBOOK)), line.strip()))
    assert found == listed("unknown field")


def test_repeats_are_done_where_they_are_skippable():
    """A listed repeat names an earlier problem of the same patterns; "skippable" means that its last
    try with notes closed was right."""
    for file, line, what in gaps():
        match = re.fullmatch(r"repeats (\S+?)(, skippable)?", what)
        if not match:
            continue
        later = next(p for p in PROBLEMS if line_of(p) == (file, line))
        earlier = by_name("problem", later.course)[match.group(1)]
        assert later.names("pattern") == earlier.names("pattern")
        closed = [t for t in earlier.all("tried") if " closed " in t]
        assert (bool(closed) and " right" in closed[-1]) is bool(match.group(2)), (file, line)
        assert later.all("tried") == []
