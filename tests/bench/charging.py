"""Operating points: the curve of every step, the best point proven, on each demo part; and what is kept of them."""

from __future__ import annotations

import gc
import tracemalloc
from collections.abc import Iterator
from fractions import Fraction
from time import monotonic

from tests.bench.measure import median_ms
from tests.demo import load_demo
from wheelwork.find.operating import OperatingPoints, Work, find_operating_points
from wheelwork.find.question import StillTime
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan

Line = tuple[str, str, str]
WORK = Work(Fraction(232_000))
PLANS = (
    ("01-skerry-3-steady-running", 60),
    ("03-fog-signal-44k1", 60),
    ("04-harbour-lamp", 60),
    ("05-pier-head-logging", None),
)
LIMIT = 1.0
"""Seconds for the large part; what is not known by then is said."""


def measure() -> Iterator[Line]:
    """The lines of this part of the table."""
    for name, goal in PLANS:
        part, plan = load_demo(name)
        found = points_of(part, plan)
        shown = sum(len(curve.points) for curve in found.steps)
        took = median_ms(lambda part=part, plan=plan: points_of(part, plan), rounds=5, inner=1)  # type: ignore[misc]  # bound
        what = f"operating points, {part.name}, {len(found.steps)} steps, {shown} points"
        yield what, f"{took:.0f} ms", "" if goal is None else f"{goal} ms"
    started = monotonic()
    stopped = points_of(part, plan, lambda: monotonic() < started + LIMIT)
    took = (monotonic() - started) * 1000
    known = sum(curve.proven for curve in stopped.steps)
    yield (
        f"  the last one, stopped after {LIMIT:.0f} s: {known} of {len(stopped.steps)} steps proven",
        f"{took:.0f} ms",
        "",
    )
    yield "  memory that 20 answers more leave behind", f"{left_behind(20):.0f} kB", ""


def points_of(part: Part, plan: Plan, still_time: StillTime = lambda: True) -> OperatingPoints:
    """The operating points of a plan."""
    return find_operating_points(part, plan, WORK, still_time)


def left_behind(rounds: int) -> float:
    """By how much memory grows over so many answers that are thrown away (kB)."""
    part, plan = load_demo(PLANS[1][0])
    for _ in range(3):
        points_of(part, plan)
    gc.collect()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for _ in range(rounds):
        points_of(part, plan)
    gc.collect()
    after = tracemalloc.get_traced_memory()[0]
    tracemalloc.stop()
    return (after - before) / 1024
