"""Mastery and readiness, computed again from the model's definition.

Everything is written down anew: the evidence as one closed sum instead of a fold over days, the
quantiles and the beta-binomial distribution from SciPy, the Gauss-Hermite rule from NumPy, the
draws of leftover questions one by one, and one course in 40-digit arithmetic with mpmath.
"""

import itertools
import math
import random

import mpmath
import numpy as np
import pytest
from scipy import special, stats

EVIDENCE = {
    ("closed", "right"): (1.0, 0.0),
    ("closed", "partly"): (0.5, 0.5),
    ("closed", "wrong"): (0.0, 1.0),
    ("closed", "skipped"): (0.0, 0.5),
    ("open", "right"): (0.25, 0.0),
    ("open", "partly"): (0.125, 0.5),
    ("open", "wrong"): (0.0, 1.0),
    ("open", "skipped"): (0.0, 0.0),
}


def evidence_of(entry):
    """Success and failure of one try of one pattern."""
    outcome, notes = entry["outcome"], entry["notes"]
    if not isinstance(outcome, str):
        success, failure = outcome * (0.25 if notes == "open" else 1.0), 1.0 - outcome
    elif (notes, entry["setting"], outcome) == ("closed", "mock", "skipped"):
        success, failure = 0.0, 1.0
    else:
        success, failure = EVIDENCE[notes, outcome]
    share = len(set(entry["patterns"]))
    return success / share, failure / share


def decayed(sums, today, number=float, power=pow):
    """The evidence of one pattern today: a day's sum, weighed down by the evidence of each later
    day and by the days since.

    `sums` maps a day to its success and failure; `number` makes the numbers to compute with.
    """
    scaled = {}
    for day, (success, failure) in sums.items():
        n = success + failure
        if n > 0 and day <= today:
            scale = power(n, -number(1) / 2) if n > 1 else number(1)
            scaled[day] = (success * scale, failure * scale)
    totals = [number(0), number(0)]
    for day, both in scaled.items():
        later = sum(sum(scaled[d]) for d in scaled if d > day)
        weight = power(number(9) / 10, later) * power(number(2), -number(today - day) / 60)
        for side in (0, 1):
            totals[side] += both[side] * weight
    days = sorted(scaled)
    return totals[0], totals[1], len(days), (days[-1] if days else None)


def logit(p):
    return math.log(p / (1 - p))


def expected_standing(course):
    today = course["day"]
    sums = {int(p): {} for p in course["patterns"]}
    marks = {}
    for entry in course["log"]:
        for pattern in set(entry["patterns"]):
            success, failure = evidence_of(entry)
            s, f = sums[pattern].get(entry["day"], (0.0, 0.0))
            sums[pattern][entry["day"]] = (s + success, f + failure)
    for mark in course["marks"]:
        of_topic = marks.setdefault(mark["topic"], {})
        s, f = of_topic.get(mark["day"], (0.0, 0.0))
        of_topic[mark["day"]] = (s + mark["score"], f + 1 - mark["score"])

    topic_of = {int(p): t for p, t in course["patterns"].items()}
    now = {p: decayed(days, today) for p, days in sums.items()}
    mark_now = {t: decayed(days, today) for t, days in marks.items()}

    def total(side, keep_topic, without=None):
        of_patterns = sum(
            v[side] for p, v in now.items() if keep_topic(topic_of[p]) and p != without
        )
        return of_patterns + sum(v[side] for t, v in mark_now.items() if keep_topic(t))

    def level(prior, weight, keep_topic, without=None):
        success = total(0, keep_topic, without)
        failure = total(1, keep_topic, without)
        return (weight * prior + success) / (weight + success + failure)

    patterns = {}
    for p, (success, failure, days, last) in now.items():
        topic = topic_of[p]
        student = level(0.5, 10, lambda t: t != topic)
        prior = level(student, 3, lambda t: t == topic, without=p)
        alpha, beta = 3 * prior + success, 3 * (1 - prior) + failure
        concentration = alpha + beta
        if days:
            slope = 0.15 / math.sqrt(days)
            mean = special.expit(logit(alpha / concentration) - slope * math.log(1 + today - last))
        else:
            mean = special.expit(logit(prior) - 0.25)
        shape = (mean * concentration, (1 - mean) * concentration)
        patterns[str(p)] = {
            "success": success,
            "failure": failure,
            "days": days,
            "gap": None if last is None else today - last,
            "prior": prior,
            "concentration": concentration,
            "mean": mean,
            "low": stats.beta.ppf(0.05, *shape),
            "high": stats.beta.ppf(0.95, *shape),
        }
    topics = {
        str(topic): level(level(0.5, 10, lambda t: t != topic), 3, lambda t: t == topic)
        for topic in set(topic_of.values()) | set(marks)
    }
    return {"student": level(0.5, 10, lambda t: True), "topics": topics, "patterns": patterns}


def expected_distribution(parts, patterns):
    """The score distribution of an exam with these parts."""
    nodes, weights = np.polynomial.hermite_e.hermegauss(21)
    weights = weights / weights.sum()
    sigma = 0.5
    steeper = math.sqrt(1 + (16 * math.sqrt(3) / (15 * math.pi)) ** 2 * sigma**2)
    whole = 0.0
    for x, w in zip(nodes, weights, strict=True):
        paper = np.array([1.0])
        for part in parts:
            questions, of = part["questions"], part["patterns"]
            each, extra = divmod(questions, len(of))
            draws = list(itertools.combinations(of, extra))
            mixture = np.zeros(questions + 1)
            for draw in draws:
                one = np.array([1.0])
                for p in of:
                    n = each + (p in draw)
                    c = patterns[str(p)]["concentration"]
                    q = special.expit(logit(patterns[str(p)]["mean"]) * steeper + sigma * x)
                    if n:
                        one = np.convolve(
                            one, stats.betabinom.pmf(np.arange(n + 1), n, q * c, (1 - q) * c)
                        )
                mixture += one / len(draws)
            paper = np.convolve(paper, mixture)
        whole = whole + w * paper
    return whole


def random_course(seed):
    chance = random.Random(seed)
    count = chance.choice([1, 2, 5, 9])
    topics = chance.randint(1, 4)
    patterns = {str(p): chance.randrange(topics) for p in range(count)}
    days = chance.choice([1, 12, 90, 40_000])
    log = []
    for _ in range(chance.choice([0, 1, 8, 60, 200])):
        outcomes = ["right", "right", "partly", "wrong", "skipped", round(chance.random(), 3)]
        log.append(
            {
                "patterns": chance.sample(range(count), chance.randint(1, min(3, count))),
                "day": chance.randrange(days),
                "notes": chance.choice(["open", "closed", "closed"]),
                "setting": chance.choice(["practice", "mock"]),
                "outcome": chance.choice(outcomes),
            }
        )
    marks = [
        {"topic": chance.randrange(topics), "day": chance.randrange(days), "score": chance.random()}
        for _ in range(chance.randint(0, 3))
    ]
    exam = {
        "questions": chance.randint(1, 15),
        "covers": sorted(set(chance.choices(range(topics), k=3))),
        "target": chance.choice([0.5, 0.6, 0.7, 0.85]),
    }
    # Now and then a day before the last tries, which must not count then.
    day = chance.choice([days, days + 9, days // 2])
    return {"day": day, "patterns": patterns, "log": log, "marks": marks, "exam": exam}


@pytest.fixture(scope="module")
def courses():
    return [random_course(seed) for seed in range(120)]


@pytest.fixture(scope="module")
def answers(courses, run_example):
    return run_example("estimate_jsonl", courses)


def assert_near(found, expected, what, tolerance=1e-9):
    if isinstance(expected, dict):
        for key, value in expected.items():
            assert_near(found[key], value, f"{what}.{key}", tolerance)
    elif expected is None:
        assert found is None, what
    else:
        assert abs(found - expected) < tolerance, f"{what}: {found}, expected {expected}"


def test_standing(courses, answers):
    for number, (course, answer) in enumerate(zip(courses, answers, strict=True)):
        expected = expected_standing(course)
        assert answer["patterns"].keys() == expected["patterns"].keys()
        assert answer["topics"].keys() == expected["topics"].keys()
        assert_near(answer, expected, f"course {number}")


def test_recent_closed_notes_tries(courses, answers):
    for course, answer in zip(courses, answers, strict=True):
        for pattern, estimate in answer["patterns"].items():
            closed = [
                entry
                for entry in sorted(course["log"], key=lambda entry: entry["day"])
                if int(pattern) in entry["patterns"]
                and entry["notes"] == "closed"
                and entry["day"] <= course["day"]
            ][-8:]
            right = sum(entry["outcome"] in ("right", 1.0) for entry in closed)
            assert (estimate["recent_right"], estimate["recent_of"]) == (right, len(closed))


def test_readiness(courses, answers):
    estimated = 0
    for number, (course, answer) in enumerate(zip(courses, answers, strict=True)):
        exam, found = course["exam"], answer["exam"]
        if "nothing" in found:
            assert not any(t in exam["covers"] for t in course["patterns"].values())
            continue
        estimated += 1
        questions = exam["questions"]
        assert sum(part["questions"] for part in found["parts"]) == questions
        pmf = expected_distribution(found["parts"], expected_standing(course)["patterns"])
        scores = np.arange(questions + 1) / questions
        for got, expected in zip(found["distribution"], pmf, strict=True):
            assert_near(got, expected, f"exam {number}")
        chance = pmf[scores >= exam["target"] - 1e-9].sum()
        assert_near(found["chance"], chance, f"chance of exam {number}")
        assert_near(found["expected"], (scores * pmf).sum(), f"expected score of exam {number}")
        cumulative = pmf.cumsum()
        for side, p in (("low", 0.05), ("high", 0.95)):
            # A step within rounding of p could fall on either side.
            if np.abs(cumulative - p).min() > 1e-9:
                assert_near(found[side], scores[np.argmax(cumulative >= p)], side)
    assert estimated > 60


def test_spread_of_questions(courses, answers):
    """Each topic's questions are its share of the patterns, rounded down or up."""
    for course, answer in zip(courses, answers, strict=True):
        exam, found = course["exam"], answer["exam"]
        if "nothing" in found:
            continue
        sizes = {}
        for topic in course["patterns"].values():
            if topic in exam["covers"]:
                sizes[topic] = sizes.get(topic, 0) + 1
        if exam["questions"] < len(sizes):
            assert len(found["parts"]) == 1
            continue
        for part in found["parts"]:
            share = exam["questions"] * len(part["patterns"]) / sum(sizes.values())
            assert math.floor(share) <= part["questions"] <= math.ceil(share)


def test_one_course_in_40_digits(run_example):
    log = [
        {"patterns": [0], "day": day, "notes": "closed", "setting": "practice", "outcome": outcome}
        for day, outcome in [(0, "right"), (0, "right"), (0, "wrong"), (5, "right"), (6, "partly")]
    ]
    course = {"day": 20, "patterns": {"0": 0}, "log": log, "marks": []}
    [answer] = run_example("estimate_jsonl", [course])
    with mpmath.workdps(40):
        one = mpmath.mpf(1)
        sums = {0: (2 * one, one), 5: (one, 0 * one), 6: (one / 2, one / 2)}
        success, failure, days, last = decayed(sums, 20, mpmath.mpf, mpmath.power)
        alpha, beta = 3 * one / 2 + success, 3 * one / 2 + failure
        slope = one * 3 / 20 / mpmath.sqrt(days)
        odds = alpha / beta * mpmath.power(1 + 20 - last, -slope)
        mean, c = odds / (1 + odds), alpha + beta

        def quantile(p):
            below = lambda x: mpmath.betainc(mean * c, (1 - mean) * c, 0, x, regularized=True) - p
            return mpmath.findroot(below, (one / 100, one * 99 / 100), solver="anderson")

        expected = {
            "success": success,
            "failure": failure,
            "mean": mean,
            "low": quantile(one / 20),
            "high": quantile(one * 19 / 20),
        }
    assert_near(answer["patterns"]["0"], {k: float(v) for k, v in expected.items()}, "40 digits", 1e-13)
