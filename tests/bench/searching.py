"""The search over every setting beside two solvers made elsewhere, on the problems of tests/cases/find, in turn.

`python -m tests.bench searching [a b …]`. The solvers are for this table only (extra `bench`); their answers are no
proof of ours (`outside.py`), so where they differ the table says so. Our time is that of the whole question; theirs is
that of solving alone and, in brackets, with their model built. Z3 is asked once; all else is the median of five.
"""

from __future__ import annotations

import importlib.util
import statistics
import time
from collections.abc import Callable, Iterator
from dataclasses import replace
from fractions import Fraction

from tests.bench.outside import Z3, CpSat, Goal, Outcome, quickest, solve
from tests.find.known import read_known
from wheelwork.find.conflicts import find_conflict
from wheelwork.find.ordering import Ordering
from wheelwork.find.question import Preference, Question
from wheelwork.find.search import find_settings
from wheelwork.find.seeking import Seeker
from wheelwork.find.tables import Undecided

Line = tuple[str, str, str]
PROBLEMS = ("a", "b", "c", "d")
ROUNDS = 5
LIMIT = 10.0
"""Seconds for one question to a solver."""


def measure(problems: tuple[str, ...] = PROBLEMS) -> Iterator[Line]:
    """The lines of this part of the table."""
    there = all(importlib.util.find_spec(name) for name in ("ortools", "z3"))
    if not there:
        yield "OR-Tools and Z3 are not installed (extra `bench`): no comparison", "", ""
    for name in problems:
        question = read_known(name).question
        goal = "0.8" if name == "a" else "0.5"
        yield from _against(f"{name}: verdict", question, "verdict", goal, there)
        yield from _against(f"{name}: highest core, the best alone", question, "highest core", goal, there)
        if name != "d":
            yield from _against(f"{name}: least current, the best alone", question, "least current", goal, there)
        yield from _whole(name, question)
        nothing = read_known(f"{name}-nothing-fits").question
        yield from _against(f"{name}, nothing fits: verdict", nothing, "verdict", goal, there)
        took = _median(lambda asked=nothing: find_conflict(asked, lambda: True), 3)  # type: ignore[misc]  # bound
        yield f"{name}, nothing fits: smallest conflict", f"{took * 1000:.0f} ms", CONFLICT_GOALS[name]


CONFLICT_GOALS = {"a": "200 ms", "b": "2000 ms", "c": "2000 ms", "d": "5000 ms"}
WHOLE_GOALS = {"a": "100 ms", "b": "600 ms", "c": "1500 ms", "d": ""}


def _whole(name: str, question: Question) -> Iterator[Line]:
    """Ten best with and without the count, by the highest core clock."""
    asked = replace(question, prefer=(Preference("highest", question.part.core_clock),), top=10)
    if name != "d":
        took = _median(lambda: find_settings(asked, lambda: True))
        yield f"{name}: count and ten best", f"{took * 1000:.0f} ms", WHOLE_GOALS[name]
    uncounted = replace(asked, count=False)
    took = _median(lambda: find_settings(uncounted, lambda: True))
    yield f"{name}: ten best without the count", f"{took * 1000:.0f} ms", "300 ms" if name == "d" else ""
    if name == "d":
        ends = time.perf_counter() + LIMIT
        answer = find_settings(asked, lambda: time.perf_counter() < ends)
        said = "not decided" if not answer.complete else "complete"
        yield f"d: with the count, after at most {LIMIT:.0f} s", said, "not decided"


def _against(what: str, question: Question, goal: Goal, wanted: str, there: bool) -> Iterator[Line]:
    """Our time, and as a share of each solver's; in turn, so that the machine is the same."""
    own: list[float] = []
    others: dict[str, list[Outcome]] = {"CP-SAT": [], "Z3": []}
    value: Fraction | None = None
    form = quickest(question, goal, LIMIT) if there else CpSat
    for round_ in range(ROUNDS):
        started = time.perf_counter()
        value = _ours(question, goal)
        own.append(time.perf_counter() - started)
        if there:
            others["CP-SAT"].append(solve(form, question, goal, LIMIT))
            if round_ < 1:
                others["Z3"].append(solve(Z3, question, goal, LIMIT))
    yield what, f"{statistics.median(own) * 1000:.1f} ms", ""
    for name, outcomes in others.items():
        if outcomes:
            yield _beside(name, outcomes, own, value, goal, wanted if name == "CP-SAT" else "")


def _beside(
    name: str, outcomes: list[Outcome], own: list[float], value: Fraction | None, goal: Goal, wanted: str
) -> Line:
    took = statistics.median(outcome.seconds for outcome in outcomes)
    with_model = statistics.median(outcome.seconds + outcome.building for outcome in outcomes)
    ratios = [statistics.median(own) / each for each in (took, with_model)]
    last = outcomes[-1]
    said = "" if last.proven else f", no proof within {LIMIT:.0f} s"
    if last.proven and (last.fits is not (value is not None)):
        said = f", says {last.fits}"
    elif last.proven and goal != "verdict" and value is not None and last.value is not None:
        off = abs(float(last.value / value) - 1)
        said = f", differs by {off:.1e}" if off > 1e-9 else ""
    times = f"{took * 1000:.0f} ms ({with_model * 1000:.0f} ms with its model built)"
    return f"    as a share of {name}'s {times}{said}", "{:.2f} ({:.2f})".format(*ratios), wanted


def _ours(question: Question, goal: Goal) -> Fraction | None:
    """Our best value (1 for a verdict), None where nothing fits."""
    seeker = Seeker(question.part, question.plan, question.targets, frozenset(question.pinned), lambda: True)
    core = question.part.core_clock
    kind = {"highest core": Preference("highest", core), "least current": Preference("least current")}.get(goal)
    try:
        found = Ordering(question, seeker, 1).best((kind,) if kind else ())
    except Undecided:
        return None
    if found is None:
        return None
    if goal == "verdict":
        return Fraction(1)
    return found.judgement.clocks[core].nominal if goal == "highest core" else found.judgement.current.typical


def _median(run: Callable[[], object], rounds: int = ROUNDS) -> float:
    times = []
    for _ in range(rounds):
        started = time.perf_counter()
        run()
        times.append(time.perf_counter() - started)
    return statistics.median(times)
