"""Plans against the best plan of small problems, a bound that no plan can beat for large ones, and
simple rules of thumb.

The bound is the linear program over all schedules of each pattern (every set of practice days,
every day of relearning), solved with SciPy by column generation: the columns are mixtures of
schedules, so its optimum is at or above that of the best plan. The best plan itself, where it can
be had, is the integer program over the same columns. The value of a schedule is written
down again from the model's words.
"""

import math
import random

import numpy as np
import pytest
from scipy import optimize


def odds_after(odds, days, gap):
    """Odds fade as a power of the time since the last practice, once there was one."""
    slope = np.where(days > 0, 0.15 / np.sqrt(np.maximum(days, 1)), 0.0)
    return odds * np.exp(-slope * np.log1p(gap))


def values_of_all_schedules(number, problem):
    """The value of each set of practice days of a pattern: at index s, of the days whose bits are
    set in s."""
    pattern = problem["patterns"][number]
    horizon = len(problem["minutes"])
    sets = np.arange(1 << horizon)
    odds = np.full(len(sets), pattern["mastery"] / (1 - pattern["mastery"]))
    days = np.full(len(sets), pattern["days"] if pattern["last"] is not None else 0)
    last = np.full(len(sets), pattern["last"] if pattern["last"] is not None else 0)
    practised = np.zeros(len(sets), dtype=bool)
    value = np.zeros(len(sets))
    for day in range(horizon + 1):
        for exam in problem["exams"]:
            if exam["day"] == day:
                weight = exam["weight"] * exam["shares"].get(str(number), 0.0)
                now = odds_after(odds, days, day - last)
                value += weight * now / (1 + now)
        if day == horizon:
            break
        today = (sets >> day & 1).astype(bool)
        now = odds_after(odds, days, day - last)
        missing = 1 / (1 + now)
        if pattern["relearn"] is not None:
            missing = np.where(practised, missing, missing / 2)
        missing = missing * 0.85
        odds = np.where(today, (1 - missing) / missing, odds)
        days = days + today
        last = np.where(today, day, last)
        practised |= today
    return value


def bound(problem):
    """The optimum of the linear program over mixtures of schedules."""
    minutes = np.array(problem["minutes"], dtype=float)
    horizon = len(minutes)
    sets = np.arange(1 << horizon)
    on_day = (sets[:, None] >> np.arange(horizon) & 1).astype(float)
    first = np.argmax(on_day, axis=1)
    patterns = problem["patterns"]
    values = [values_of_all_schedules(n, problem) for n in range(len(patterns))]
    columns = [(n, 0, np.zeros(horizon)) for n in range(len(patterns))]
    while True:
        gains = -np.array([values[n][s] for n, s, _ in columns])
        needed = np.array([use for _, _, use in columns]).T
        one_each = np.zeros((len(patterns), len(columns)))
        for at, (n, _, _) in enumerate(columns):
            one_each[n, at] = 1
        found = optimize.linprog(
            gains, A_ub=needed, b_ub=minutes, A_eq=one_each, b_eq=np.ones(len(patterns))
        )
        assert found.status == 0, found.message
        price = -found.ineqlin.marginals
        worth = -found.eqlin.marginals
        added = False
        for n, pattern in enumerate(patterns):
            cost = on_day @ (price * pattern["block"])
            if pattern["relearn"]:
                # The relearning goes to the cheapest day up to the first practice.
                cheapest = np.minimum.accumulate(price)[first] * pattern["relearn"]
                cost = cost + np.where(sets > 0, cheapest, 0.0)
            reduced = values[n] - cost
            best = int(np.argmax(reduced))
            if reduced[best] > worth[n] + 1e-7:
                use = on_day[best] * pattern["block"]
                if pattern["relearn"] and best:
                    use[int(np.argmin(price[: first[best] + 1]))] += pattern["relearn"]
                columns.append((n, best, use))
                added = True
        if not added:
            return -found.fun


def optimum(problem):
    """The value of the best plan: the integer program over all schedules."""
    horizon = len(problem["minutes"])
    columns, uses, owners = [], [], []
    for number, pattern in enumerate(problem["patterns"]):
        values = values_of_all_schedules(number, problem)
        for s, value in enumerate(values):
            days = [day for day in range(horizon) if s >> day & 1]
            relearning_days = range(days[0] + 1) if days and pattern["relearn"] else [None]
            for relearning_day in relearning_days:
                use = np.zeros(horizon)
                use[days] = pattern["block"]
                if relearning_day is not None:
                    use[relearning_day] += pattern["relearn"]
                columns.append(value)
                uses.append(use)
                owners.append(number)
    one_each = np.zeros((len(problem["patterns"]), len(columns)))
    one_each[owners, np.arange(len(columns))] = 1
    found = optimize.milp(
        -np.array(columns),
        constraints=[
            optimize.LinearConstraint(np.array(uses).T, -np.inf, problem["minutes"]),
            optimize.LinearConstraint(one_each, 1, 1),
        ],
        integrality=np.ones(len(columns)),
        bounds=optimize.Bounds(0, 1),
        options={"mip_rel_gap": 1e-6},
    )
    assert found.status == 0, found.message
    return -found.fun


def random_problem(seed, patterns, days, exams):
    """A term's end: most patterns practised a little, some never learned, the exams overlapping."""
    chance = random.Random(seed)
    problem = {"order": "gain", "patterns": [], "exams": []}
    problem["minutes"] = [chance.choice([30, 45, 60, 90]) for _ in range(days)]
    for _ in range(patterns):
        never = chance.random() < 0.2
        problem["patterns"].append(
            {
                "mastery": round(chance.uniform(0.05, 0.3) if never else chance.betavariate(3, 2), 3),
                "days": 0 if never else chance.randint(1, 4),
                "last": None if never else -chance.randint(1, 40),
                "block": chance.choice([8, 10, 12, 15]),
                "relearn": chance.choice([15, 20, 30]) if never else None,
            }
        )
    # The last exam right after the last day, the others in between.
    for at in range(exams):
        day = math.ceil(days * (at + 1) / exams)
        covered = chance.sample(range(patterns), max(1, patterns // 2))
        shares = {str(p): 1 / len(covered) for p in covered}
        problem["exams"].append({"day": day, "weight": chance.choice([20, 30, 50]), "shares": shares})
    return problem


def value_of(problem, blocks):
    """The value of a plan's blocks, after checking that they keep to the rules."""
    used = [0] * len(problem["minutes"])
    chosen = [0] * len(problem["patterns"])
    relearned = {}
    for block in blocks:
        pattern = problem["patterns"][block["pattern"]]
        used[block["day"]] += block["minutes"]
        if block["relearn"]:
            assert block["minutes"] == pattern["relearn"]
            relearned[block["pattern"]] = block["day"]
        else:
            assert block["minutes"] == pattern["block"]
            assert not chosen[block["pattern"]] >> block["day"] & 1, "twice on a day"
            chosen[block["pattern"]] |= 1 << block["day"]
    assert all(u <= m for u, m in zip(used, problem["minutes"], strict=True))
    for number, days in enumerate(chosen):
        if days and problem["patterns"][number]["relearn"]:
            first = (days & -days).bit_length() - 1
            assert relearned[number] <= first
    return sum(values_of_all_schedules(n, problem)[s] for n, s in enumerate(chosen))


def rule_of_thumb(problem, key):
    """Day by day, the open patterns in the order of `key(number, day)`."""
    blocks, relearned = [], set()
    for day, minutes in enumerate(problem["minutes"]):
        for number in sorted(range(len(problem["patterns"])), key=lambda n: key(n, day)):
            pattern = problem["patterns"][number]
            extra = 0 if number in relearned else pattern["relearn"] or 0
            if pattern["block"] + extra > minutes:
                continue
            if extra:
                relearned.add(number)
                block = {"day": day, "pattern": number, "relearn": True, "minutes": extra}
                blocks.append(block)
            block = {"day": day, "pattern": number, "relearn": False, "minutes": pattern["block"]}
            blocks.append(block)
            minutes -= pattern["block"] + extra
    return value_of(problem, blocks)


SMALL = [(9, 5, 2)] * 8
LARGE = [(25, 10, 2)] * 6 + [(60, 14, 3)] * 3
SIZES = SMALL + LARGE


@pytest.fixture(scope="module")
def problems():
    return [random_problem(seed, *size) for seed, size in enumerate(SIZES)]


@pytest.fixture(scope="module")
def plans(problems, run_example):
    return run_example("plan_jsonl", problems)


def test_the_value_is_that_of_the_blocks(problems, plans):
    for problem, plan in zip(problems, plans, strict=True):
        assert plan["value"] == pytest.approx(value_of(problem, plan["blocks"]), abs=1e-9)
        assert plan["nothing"] == pytest.approx(value_of(problem, []), abs=1e-9)


def test_within_one_percent_of_the_best_plan(problems, plans):
    for number, problem in enumerate(problems[: len(SMALL)]):
        plan, most = plans[number], optimum(problem)
        share = (plan["value"] - plan["nothing"]) / (most - plan["nothing"])
        print(f"problem {number} {SIZES[number]}: {share:.4f} of the gain of the best plan")
        assert plan["value"] <= most + 1e-4
        assert plan["value"] >= 0.99 * most


def test_within_two_percent_of_the_bound(problems, plans):
    """The bound mixes schedules, so that not even the best plan reaches it."""
    for number in range(len(SMALL), len(SIZES)):
        plan, most = plans[number], bound(problems[number])
        share = (plan["value"] - plan["nothing"]) / (most - plan["nothing"])
        print(f"problem {number} {SIZES[number]}: {plan['value'] / most:.4f} of the bound,")
        print(f"  {share:.4f} of its gain")
        assert plan["value"] <= most + 1e-6
        assert plan["value"] >= 0.98 * most
        # Of the gain, where rounding to whole blocks weighs least.
        assert SIZES[number] != (60, 14, 3) or share >= 0.975


def test_better_than_rules_of_thumb(problems, plans):
    def next_exam(problem, number, day):
        days = [
            exam["day"]
            for exam in problem["exams"]
            if str(number) in exam["shares"] and exam["day"] > day
        ]
        return min(days, default=math.inf)

    for number, (problem, plan) in enumerate(zip(problems, plans, strict=True)):
        patterns = problem["patterns"]
        weakest = rule_of_thumb(problem, lambda n, day: patterns[n]["mastery"])
        nearest = rule_of_thumb(
            problem, lambda n, day: (next_exam(problem, n, day), patterns[n]["mastery"])
        )
        for rule, value in (("weakest first", weakest), ("nearest exam first", nearest)):
            lost = 1 - (value - plan["nothing"]) / (plan["value"] - plan["nothing"])
            print(f"problem {number} {SIZES[number]}: {rule} loses {lost:.0%} of the gain")
            assert value <= plan["value"] + 1e-9
            assert number < len(SMALL) or value < plan["value"]


def test_relearning_everything_first_never_gains(problems, run_example, plans):
    first = run_example("plan_jsonl", [{**p, "order": "relearn_first"} for p in problems])
    for problem, best, other in zip(problems, plans, first, strict=True):
        assert other["value"] == pytest.approx(value_of(problem, other["blocks"]), abs=1e-9)
        print(f"relearning first costs {best['value'] - other['value']:.2f}")
        assert other["value"] <= best["value"] + 1e-9
