"""Operating points: the core-voltage step and core clock at which work costs the least charge, over all settings.

Work is a number of core clocks n. At a core clock f it takes n / f seconds and, at a supply current I, the charge
I * n / f. At one step the part of it that grows with f costs the same at every f, the rest less the higher f is, so it
falls along a step (source: energy per clock cycle C * V^2 + V * I_static / f, Mudge, Technologies for Reducing Power,
2010; here as charge at the supply pin).

Worked value: 6.8 mA at 64 MHz are 106.25 pC a clock, a million clocks 106.25 µC.

>>> float(charge_of(Fraction("0.0068"), Fraction(64_000_000), Fraction(1_000_000)))
0.00010625
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import suppress
from dataclasses import dataclass, field, replace
from fractions import Fraction
from functools import cached_property, partial

from wheelwork.clocks.propagate import unfitted
from wheelwork.find.counting import count_settings
from wheelwork.find.problem import ANYWHERE
from wheelwork.find.question import StillTime
from wheelwork.find.scores import settings_that_matter
from wheelwork.find.seeking import Found, Seeker
from wheelwork.find.step_speeds import Speed, StepSpeeds, settle_at
from wheelwork.find.tables import Undecided
from wheelwork.judge.judgement import Judgement, reckon
from wheelwork.part.nodes import Part, Step, Value
from wheelwork.plan.plan import Plan, Target
from wheelwork.power.budget import effective_speed
from wheelwork.quantities.spans import Span

MOST_POINTS = 60
"""So many core clocks of a step are shown where there are more of them."""


@dataclass(frozen=True)
class Work:
    """A piece of work: its core clocks, what is drawn beside the part's own current (A), seconds it may take.

    `beside` counts into the charge, not into the current: a lamp or a radio that is on until the work is done, or, less
    than 0, the current of the rest that follows, which is not drawn as long as the work lasts.
    """

    clocks: Fraction
    beside: Fraction = Fraction(0)
    within: Fraction | None = None

    @property
    def slowest(self) -> Fraction | None:
        """The slowest core clock (Hz) at which the work ends in time; None without a limit."""
        return None if self.within is None else self.clocks / self.within


@dataclass(frozen=True)
class Point:
    """A core clock (Hz) at a core-voltage step, with the setting that has it at the least supply current.

    `current` is the typical supply current (A), `charge` what the work costs with it (C), `seconds` how long it takes.
    """

    step: str
    core: Fraction
    current: Fraction
    work: Work
    make: Callable[[], Found] = field(repr=False, compare=False)

    @property
    def charge(self) -> Fraction:
        """The charge (C) for the work, typical."""
        return charge_of(self.current + self.work.beside, self.core, self.work.clocks)

    @property
    def per_clock(self) -> Fraction:
        """The charge (C) for one core clock, typical."""
        return (self.current + self.work.beside) / self.core

    @property
    def seconds(self) -> Fraction:
        """How long the work takes."""
        return self.work.clocks / self.core

    @cached_property
    def found(self) -> Found:
        """The plan of it and its judgement; made when it is first asked for."""
        return self.make()

    @property
    def judgement(self) -> Judgement:
        """The plan's own reckoning of the setting."""
        return self.found.judgement

    @property
    def settings(self) -> dict[str, Value]:
        """Every setting of the nodes that matter."""
        return settings_that_matter(self.judgement)

    @property
    def wait_states(self) -> int:
        """The flash wait states; 0 where not even the last row of the table suffices, which no legal setting has."""
        return self.judgement.wait_states_chosen or 0

    @property
    def speed(self) -> Span:
        """Clock cycles that get on with the work, per second: where all wait for flash, and where none does.

        A span, since the share of cycles that wait hangs on the program and a sheet does not know it.
        """
        slowest, fastest = (effective_speed(self.core, self.wait_states, Fraction(share)) for share in (1, 0))
        return Span(slowest, fastest)

    @property
    def highest(self) -> Fraction | None:
        """The highest supply current (A); None where the sheet states no highest figure at all."""
        return self.judgement.current.highest

    @property
    def highest_charge(self) -> Fraction | None:
        """The charge (C) for the work at the highest supply current."""
        if self.highest is None:
            return None
        return charge_of(self.highest + self.work.beside, self.core, self.work.clocks)

    @property
    def not_stated(self) -> tuple[str, ...]:
        """What the sheet is silent about, so that it is not counted in the current."""
        return self.judgement.current.not_stated


@dataclass(frozen=True)
class StepCurve:
    """What a core-voltage step offers: core clocks, the slowest first, each with its least supply current.

    `points` are all core clocks there are where `whole`; else one in each of `MOST_POINTS` bands evenly on a
    logarithmic axis that has any, the lowest, and `top` and `best`. `top` is the highest legal core clock, `best` the
    point of least charge for the work in time. No `top`: the step has no legal setting; no `best`: none in time.
    `proven` False: the time was over before these two were known; `drawn` False: before all points were.
    """

    step: Step
    points: tuple[Point, ...] = ()
    whole: bool = False
    top: Point | None = None
    best: Point | None = None
    proven: bool = False
    drawn: bool = False


@dataclass(frozen=True)
class OperatingPoints:
    """The answer: each step's curve in the sheet's order, the best point of all, the plan's own.

    `best` leaves out steps whose current is not stated. `present` is there whenever the plan can be reckoned, legal or
    not. `proven`: no legal setting costs less than `best`; False where the time was over before that was known.
    `tried` is how many settings there are at all, windows left aside (None: not counted in time). `not_stated` is what
    the sheet is silent about at `best`, `present` or any step's `top`.
    """

    work: Work
    steps: tuple[StepCurve, ...]
    best: Point | None
    present: Point | None
    tried: int | None
    proven: bool
    not_stated: tuple[str, ...]


def charge_of(current: Fraction, core: Fraction, clocks: Fraction) -> Fraction:
    """The charge (C) that so many core clocks take: current * clocks / core clock."""
    return current * clocks / core


def find_operating_points(
    part: Part, plan: Plan, work: Work, still_time: StillTime, targets: tuple[Target, ...] | None = None
) -> OperatingPoints:
    """The operating points of a part for a piece of work, over every legal setting of every step.

    The plan gives loads in use, supply, board and what is held; but a held core voltage is let go, since steps are what
    is compared. `targets` are to be met too: the plan's, where none are given. Nothing is raised where time is over;
    `proven` and `drawn` say what was left. The settings of `best` and of each `top` are made, those of the points
    between are searched when they are looked at.
    """
    wanted = plan.targets if targets is None else targets
    held = frozenset(plan.held) - {"core_voltage"}
    seeker = Seeker(part, replace(plan, wait_states=None), wanted, held, still_time)
    drawing = [_Curve(StepSpeeds(seeker, step), work) for step in part.steps]
    for each in reversed(drawing):  # the lower steps have less to search
        each.find_ends()
    for each in drawing:
        each.draw()
    curves = tuple(each.curve() for each in drawing)
    stated = [curve.best for curve in curves if curve.step.run_current is not None and curve.best is not None]
    best = min(stated, key=lambda point: point.charge, default=None)
    present = _present(part, plan, work)
    told = [point for point in (present, best, *(curve.top for curve in curves)) if point is not None]
    proven = all(curve.proven for curve in curves)
    return OperatingPoints(
        work=work,
        steps=curves,
        best=best,
        present=present,
        tried=count_settings(part, plan, still_time, (), held, ANYWHERE) if proven else None,
        proven=proven,
        not_stated=tuple(dict.fromkeys(name for point in told for name in point.not_stated)),
    )


def with_point(plan: Plan, point: Point) -> Plan:
    """The plan at an operating point, wait states following the table."""
    return replace(plan.with_settings(point.settings), core_voltage=point.step, wait_states=None)


def _present(part: Part, plan: Plan, work: Work) -> Point | None:
    if unfitted(part, plan):
        return None
    judgement = reckon(part, plan)
    current = judgement.current.typical
    found = Found(current, plan, judgement)
    return Point(plan.core_voltage, judgement.clocks[part.core_clock].nominal, current, work, lambda: found)


@dataclass
class _Curve:
    """Draws the curve of one step: first its ends and its best point, then what lies between."""

    speeds: StepSpeeds
    work: Work
    points: dict[Fraction, Point] = field(default_factory=dict)
    top: Point | None = None
    best: Point | None = None
    proven: bool = False
    whole: bool = False
    drawn: bool = False

    def find_ends(self) -> None:
        """Find the highest core clock and the point of least charge, where there is time."""
        with suppress(Undecided):
            self.top = self._settled(self.speeds.highest())
            self.best = self._settled(self.speeds.best(self.work.beside, self.work.slowest))
            self.proven = True

    def draw(self) -> None:
        """Add the core clocks to show, the fastest first, where there is time."""
        self.points |= {each.core: each for each in (self.top, self.best) if each is not None}
        if self.proven:
            with suppress(Undecided):
                cores = self.speeds.all_cores(MOST_POINTS)
                self.whole = cores is not None
                for point in map(self._point, self._spread() if cores is None else map(self.speeds.least_at, cores)):
                    if point is not None:
                        self.points.setdefault(point.core, point)
                self.drawn = True

    def curve(self) -> StepCurve:
        """The curve as far as it is drawn."""
        points = tuple(self.points[core] for core in sorted(self.points))
        return StepCurve(
            self.speeds.step, points, self.whole and self.drawn, self.top, self.best, self.proven, self.drawn
        )

    def _spread(self) -> Iterator[Speed | None]:
        """One in each of so many bands evenly on a logarithmic axis, the fastest first; the lowest core clock."""
        lowest = self.speeds.lowest()
        if lowest is None or self.top is None:
            return
        share = (float(self.top.core) / float(lowest.core)) ** (1 / MOST_POINTS)
        fast = self.top.core
        for place in range(1, MOST_POINTS + 1):
            slow = Fraction(round(float(self.top.core) / share**place * 1000), 1000)
            yield self.speeds.in_band(self.work.beside, slow, fast)
            fast = slow
        yield lowest

    def _settled(self, speed: Speed | None) -> Point | None:
        """A point with its setting made already, while there is time."""
        if speed is None:
            return None
        found = speed.make()
        return Point(self.speeds.step.id, speed.core, speed.current, self.work, lambda: found)

    def _point(self, speed: Speed | None) -> Point | None:
        """A point whose setting is made when it is looked at; it holds on to no table."""
        if speed is None:
            return None
        make = partial(settle_at, self.speeds.seeker, speed.core, speed.current)
        return Point(self.speeds.step.id, speed.core, speed.current, self.work, make)
