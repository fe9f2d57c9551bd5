"""Operating points against every setting of small random parts, judged one by one.

More parts than the gate has time for: `python -m tests.find.many 500` (DEVELOPERS.md).
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction

import pytest

from tests.find.brute import Name, Setting, count_all, fitting, list_legal, name_of
from tests.find.chance import small_part
from wheelwork.find.operating import Point, StepCurve, Work, find_operating_points, with_point
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Part
from wheelwork.plan.plan import Plan


def core_of(setting: Setting) -> Fraction:
    return setting.judged.clocks[setting.judged.part.core_clock].nominal


def charge_of(setting: Setting, work: Work) -> Fraction:
    """The current, and what is drawn beside it, for as long as the work takes."""
    return (setting.judged.current.typical + work.beside) * (work.clocks / core_of(setting))


def draw_work(dice: random.Random, legal: list[Setting]) -> Work:
    """Work with or without something beside it, with or without a limit, at times just met by a setting."""
    clocks = Fraction(dice.choice([1, 1000, 232_000]))
    beside = dice.choice([Fraction(0), Fraction(0), Fraction(29, 1000), Fraction(-1, 10_000), Fraction(-1, 1000)])
    within = None
    if legal and dice.random() < 0.4:
        within = clocks / core_of(dice.choice(legal)) * dice.choice([Fraction(1), Fraction(2), Fraction(99, 100)])
    return Work(clocks, beside, within)


def disagreements(part: Part, plan: Plan, work: Work, legal: list[Setting]) -> Iterator[str]:
    """Everything in which operating points and the listing of all legal settings do not agree."""
    found = find_operating_points(part, plan, work, lambda: True)
    if not found.proven:
        yield "not proven"
    if found.tried != count_all(part, plan, ()):
        yield f"tried {found.tried}, {count_all(part, plan, ())} there are"
    if not all(curve.drawn for curve in found.steps):
        yield "not drawn"
    for curve in found.steps:
        here = [each for each in legal if each.step == curve.step.id]
        yield from (f"{curve.step.id}: {fault}" for fault in of_a_curve(part, plan, curve, here, work))
    in_time = [each for each in legal if work.within is None or work.clocks / core_of(each) <= work.within]
    least = min((charge_of(each, work) for each in in_time if stated(each)), default=None)
    if (None if found.best is None else found.best.charge) != least:
        yield f"best {found.best}, {least} is the least"


def stated(setting: Setting) -> bool:
    return setting.judged.part.step(setting.step).run_current is not None


def of_a_curve(part: Part, plan: Plan, curve: StepCurve, here: list[Setting], work: Work) -> Iterator[str]:
    cores = {core_of(each) for each in here}
    least = {core: min(each.judged.current.typical for each in here if core_of(each) == core) for core in cores}
    shown = {point.core: point.current for point in curve.points}
    if curve.whole and shown != least:
        yield f"all are {shown}, {least} there are"
    if any(least.get(core) != current for core, current in shown.items()):
        yield f"shown {shown}, {least} there are"
    if list(shown) != sorted(shown) or len(shown) != len(curve.points):
        yield "not in order"
    if (None if curve.top is None else (curve.top.core, curve.top.current)) != max(least.items(), default=None):
        yield f"top {curve.top}"
    in_time = [each for each in here if work.within is None or work.clocks / core_of(each) <= work.within]
    best = min((charge_of(each, work) for each in in_time), default=None)
    if (None if curve.best is None else curve.best.charge) != best:
        yield f"best {curve.best}, {best} is the least"
    known = {each.name for each in here}
    for point in (*curve.points, *(each for each in (curve.top, curve.best) if each is not None)):
        yield from of_a_point(part, plan, point, known)


def of_a_point(part: Part, plan: Plan, point: Point, known: set[Name]) -> Iterator[str]:
    judged = reckon(part, with_point(plan, point))
    if not judged.legal or name_of(point.step, point.settings) not in known:
        yield f"not legal: {point.settings}"
    told = (point.core, point.current, point.wait_states)
    if told != (judged.clocks[part.core_clock].nominal, judged.current.typical, judged.wait_states_needed):
        yield f"told {told} of {point.settings}"


def faults_of(seed: int) -> list[str]:
    """What is wrong with the operating points of the part of a number."""
    small = small_part(seed)
    plan = replace(small.plan, held=tuple(pin for pin in small.plan.held if pin != "core_voltage"))
    legal = fitting(list_legal(small.part, plan), plan, plan.targets, ())
    dice = random.Random(seed)
    works = [draw_work(dice, legal) for _ in range(2)]
    return [f"part {seed}: {fault}" for work in works for fault in disagreements(small.part, plan, work, legal)]


@pytest.mark.parametrize("seed", range(60))
def test_operating_points_are_those_of_listing_and_judging_all(seed: int) -> None:
    assert faults_of(seed) == []
