"""Operating points on the Charge page: the picture, the best point in a sentence, and the plan of it."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from time import monotonic
from urllib.parse import urlencode

from wheelwork.charts.charges import ChargePicture, draw_charges
from wheelwork.clocks.propagate import Clock
from wheelwork.find.operating import OperatingPoints, Point, Work, find_operating_points, with_point
from wheelwork.findings import lower_first
from wheelwork.judge.charge import Charge, PhaseCharge, work_of
from wheelwork.judge.charge_words import say_coulombs, say_while
from wheelwork.pages.kept import Kept
from wheelwork.part.outline import outline_of
from wheelwork.plan.permalink import write_permalink
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.numbers import group
from wheelwork.quantities.units import TIME, VOLTAGE, say_frequency, say_quantity

SECONDS = 0.8
MOST_KEPT = 100


@dataclass(frozen=True, slots=True)
class PointsView:
    """The picture with its words; `address` opens the plan of the best point, where that is not the present one."""

    what: str
    picture: ChargePicture | None
    present: str
    best: str
    present_glyph: str
    sentence: str
    proof: str
    address: str
    steps: tuple[tuple[str, str, str, str, str], ...]


_POINTS: Kept[OperatingPoints] = Kept(MOST_KEPT)


def view_points(charge: Charge, permalink: str) -> PointsView:
    """The operating points for the work of a plan's first working phase."""
    judgement = charge.judgement
    phase, clocks, within = work_of(charge)
    work = Work(clocks, within=within)
    key = (outline_of(judgement.part), permalink, work.clocks, work.within)
    points = _POINTS.find(key)
    if points is None:
        ends = monotonic() + SECONDS
        points = find_operating_points(judgement.part, judgement.plan, work, lambda: monotonic() < ends)
        _POINTS.keep(key, points)
    return _view(charge, points, phase)


def _view(charge: Charge, points: OperatingPoints, phase: PhaseCharge | None) -> PointsView:
    part = charge.judgement.part
    steps = [
        (say_quantity(curve.step.volts, VOLTAGE), [(point.core, point.charge) for point in curve.points])
        for curve in points.steps
    ]
    present, best = points.present, points.best
    marks = [(point.core, point.charge) for point in (present, best) if point is not None]
    picture = draw_charges(steps, marks)
    name = phase.name if phase is not None else "work"
    clocks = group(str(points.work.clocks.__ceil__()))
    tops = [(curve.step.volts, curve.top) for curve in points.steps]
    rows = tuple(_row(volts, top) for volts, top in tops if top is not None)
    better = present is None or (best is not None and best.charge < present.charge)
    raw = None if best is None else write_plan(with_point(charge.judgement.plan, best), part)
    return PointsView(
        what=f"Charge for {lower_first(name)}, {clocks} core clocks, against core clock.",
        picture=picture,
        present="" if present is None else f"this plan, {say_coulombs(present.charge)}",
        best="" if best is None or not better else say_coulombs(best.charge),
        present_glyph="inside" if charge.judgement.legal else "outside",
        sentence=_say(charge, points, best, phase),
        proof=_say_proof(points),
        address="" if raw is None or not better else "/plan?" + urlencode({"plan": write_permalink(raw)}),
        steps=rows,
    )


def _row(volts: Fraction, top: Point) -> tuple[str, str, str, str, str]:
    """The highest legal core clock of a step: what it needs and costs."""
    slow, fast = (say_frequency(end, 1) for end in (top.speed.lowest, top.speed.highest))
    speed = fast if slow == fast else f"{slow} to {fast}"
    waits = f"{top.wait_states} wait {'state' if top.wait_states == 1 else 'states'}"
    return say_quantity(volts, VOLTAGE), say_frequency(top.core, 3), waits, speed, say_coulombs(top.charge)


def _say(charge: Charge, points: OperatingPoints, best: Point | None, phase: PhaseCharge | None) -> str:
    """The best point against the plan's own, in a sentence or two."""
    present = points.present
    if best is None:
        return "No legal setting does this work in time." if points.proven else "No operating point was found yet."
    part = charge.judgement.part
    clock: Clock = best.judgement.clocks[part.core_clock]
    at = f"At {say_frequency(best.core, 3)} and {say_quantity(part.step(best.step).volts, VOLTAGE)}"
    source = lower_first(part.nodes[clock.source].title)
    costs = f"{at} from the {source} it costs {say_coulombs(best.charge)}"
    if present is not None and best.charge < present.charge:
        less = round(100 * (1 - best.charge / present.charge))
        costs += f", {less} % less than now" if less else ", a little less than now"
    elif present is not None:
        return f"This plan's {say_coulombs(present.charge)} are the least that this work can cost."
    takes = f"takes {say_quantity(best.seconds, TIME)}"
    if phase is not None and phase.every > best.seconds:
        takes += f" and still ends {say_while(phase.every - best.seconds)} before the next"
    return f"{costs}, {takes}."


def _say_proof(points: OperatingPoints) -> str:
    if points.proven:
        return "Every legal setting of every step was counted: none costs less."
    return "There was not time to count every setting; another may cost less still."
