"""Core clocks of one core-voltage step and the least supply current at each: the questions that operating points ask.

Along a trail (`trails.py`) and between two points at which its tables change the least current is the least of some
lines over the core clock, a + b * f. So the charge of a clock, b + a / f, is least at the last core clock there is on
it, or, where a is less than 0, at the first; a PLL's lattice says which that is. Stretches are tried in the order of
what they promise and left once that is worse than what is found. Floats order, with a guard; rationals decide.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from functools import cached_property
from math import inf

from wheelwork.find.cover import Coverings
from wheelwork.find.lattice import Edge
from wheelwork.find.lattice import beside as just_beside
from wheelwork.find.offers import Lines, cheapest, cost_at
from wheelwork.find.prices import Number, current_prices, plain
from wheelwork.find.problem import Problem
from wheelwork.find.question import StillTime
from wheelwork.find.surroundings import Rest, settle
from wheelwork.find.tables import Key
from wheelwork.find.trails import Head, Trail, Trails
from wheelwork.part.nodes import Value

GUARD = 1e-9
MOST_WALKED = 400
"""So many core clocks are gone through, equal ones counted each, to see whether there are few."""


@dataclass(frozen=True, slots=True)
class Stretch:
    """Core clocks on one trail over which the least current is the least of the same lines.

    `lines` are over the frequency of the head's node, `low` and `high` its edges; where there is no PLL, it stands at
    one frequency. `first`, `last` and `rough` are edges and lines over the core clock as floats; stretches that cost
    the same at every core clock have the same number as `alike`.
    """

    head: Head
    trail: Trail
    lines: Lines
    low: Edge | None
    high: Edge | None
    first: float
    last: float
    rough: tuple[tuple[float, float], ...]
    alike: int

    def cost(self, core: Fraction) -> Number:
        """The least cost at a core clock."""
        return cost_at(self.lines, core * self.trail.ratio)


@dataclass(frozen=True, slots=True)
class Reached:
    """A core clock (Hz) that can be reached on a stretch, and the least current (A) that it costs there."""

    core: Fraction
    current: Fraction
    stretch: Stretch


@dataclass(frozen=True, slots=True)
class _Above:
    """What is known below one head: of each set served on a trail what all else costs, and of each table the lines."""

    others: dict[int, Number | None] = field(default_factory=dict)
    lines: dict[Key, Lines] = field(default_factory=dict)


class Speeds:
    """The core clocks of a problem, by the least typical supply current. Raises Undecided where time is over."""

    def __init__(self, problem: Problem, still_time: StillTime) -> None:
        prices = current_prices(problem.part, problem.plan, problem.step)
        self.problem = problem
        self.trails = Trails(problem, prices, still_time)
        self.tables, self.unit, self.scale = self.trails.tables, self.trails.unit, self.trails.scale
        self.coverings = Coverings(self.trails)
        self._rests: dict[tuple[str, str, Fraction], Rest] = {}
        self._alike: dict[Lines, int] = {}
        self._above: dict[tuple[str, str, Fraction, Key], _Above] = {}

    @cached_property
    def stretches(self) -> list[Stretch]:
        """Every stretch there is."""
        found: list[Stretch] = []
        for head in self.trails.heads():
            above = self._above.setdefault((head.item, head.source.id, head.stops[0].frequency, head.table), _Above())
            for trail in head.trails:
                self.tables.tick()
                found += self._cut(head, trail, above)
        return found

    def _cut(self, head: Head, trail: Trail, above: _Above) -> Iterator[Stretch]:
        """The stretches of a trail: pieces side by side with the same lines are one."""
        if head.pll is None:
            place = trail.pieces.at(head.frequency * self.unit)
            lines = self._lines_of(head, self.trails.constant(place, head.frequency), above)
            if lines:
                core = float(head.frequency / trail.ratio)
                yield self._stretch(head, trail, lines, (None, None), (core, core))
            return
        keys = trail.pieces.keys
        known = {key: self._lines_of(head, key, above) for key in dict.fromkeys(keys)}
        start = 0
        for place in range(1, len(keys) + 1):
            if place == len(keys) or (keys[place] != keys[start] and known[keys[place]] != known[keys[start]]):
                if known[keys[start]]:
                    yield self._between(head, trail, known[keys[start]], start, place - 1)
                start = place

    def _between(self, head: Head, trail: Trail, lines: Lines, first: int, last: int) -> Stretch:
        """The stretch of some pieces side by side."""
        points, ratio = trail.pieces.points, float(trail.ratio) * self.unit
        low = high = None
        if first:
            low = (points[(first - 1) // 2], self.unit, first % 2 == 1)
        if last // 2 < len(points):
            high = (points[last // 2], self.unit, last % 2 == 1)
        ends = (0.0 if low is None else low[0] / ratio, inf if high is None else high[0] / ratio)
        return self._stretch(head, trail, lines, (low, high), ends)

    def _stretch(
        self,
        head: Head,
        trail: Trail,
        lines: Lines,
        edges: tuple[Edge | None, Edge | None],
        ends: tuple[float, float],
    ) -> Stretch:
        ratio = plain(trail.ratio)
        over_core = tuple([(base, slope * ratio if slope else 0) for base, slope in lines])
        rough = tuple([(float(base), float(slope)) for base, slope in over_core])
        return Stretch(head, trail, lines, *edges, *ends, rough, self._alike.setdefault(over_core, len(self._alike)))

    def _lines_of(self, head: Head, key: Key, above: _Above) -> Lines:
        """What all costs at least where a trail has a table, by the head's frequency; nothing where none is legal."""
        if key not in above.lines:
            found, others = [], above.others
            for mask, lines in self.tables.rows[key].items():
                if mask not in others:
                    others[mask] = self._others(head, mask)
                more = others[mask]
                if more is not None:
                    found += [(base + more, slope) for base, slope in lines]
            above.lines[key] = cheapest(tuple(found))
        return above.lines[key]

    def _others(self, head: Head, mask: int) -> Number | None:
        """What all costs at least that hangs above a trail, or on no way, where the trail serves a set."""
        rest, rows = self.rest(head), self.tables.at(head.table, head.frequency)
        ways = [
            cost + others
            for above, cost in rows.items()
            if not mask & above & self.tables.exact and (others := rest.cost(mask | above)) is not None
        ]
        return min(ways, default=None)

    def rest(self, head: Head) -> Rest:
        """What everything costs that does not hang on a way."""
        key = (head.item, head.source.id, head.stops[0].frequency)
        if key not in self._rests:
            self._rests[key] = Rest(self.coverings, *key)
        return self._rests[key]

    def _reached(self, core: Fraction, stretch: Stretch) -> Reached:
        return Reached(core, Fraction(stretch.cost(core)) / self.scale, stretch)

    def highest(self) -> Reached | None:
        """The highest core clock, at the least current it can have; None is the proof that no setting is legal."""
        best: Fraction | None = None
        for stretch in sorted(self.stretches, key=lambda each: -each.last):
            if best is not None and stretch.last < float(best) * (1 - GUARD):
                break
            core = self._end(stretch, False)
            if core is not None and (best is None or core > best):
                best = core
        return None if best is None else self.least_at(best)

    def least_at(
        self, core: Fraction, among: Iterable[Stretch] | None = None, known: Stretch | None = None
    ) -> Reached | None:
        """The least current at a core clock; None is the proof that no legal setting has it.

        `among` are stretches that leave out none that has it, `known` is one that has.
        """
        near, rough = self.stretches if among is None else among, float(core)
        down, up = rough * (1 - GUARD), rough * (1 + GUARD)
        there = [
            (min([base + slope * rough for base, slope in each.rough]), place, each)
            for place, each in enumerate(near)
            if each.first <= up and each.last >= down
        ]
        there.sort(key=_first_two)
        best, least = known, None if known is None else known.cost(core)
        for cost, _, stretch in there:
            if least is not None and cost > float(least) * (1 + GUARD):
                break
            if best is None or stretch.alike != best.alike:
                exact = stretch.cost(core)
                if (least is None or exact < least) and _holds(stretch, core):
                    best, least = stretch, exact
        return None if best is None else self._reached(core, best)

    def best(self, beside: Fraction, slowest: Fraction | None) -> Reached | None:
        """The core clock of least charge with a further current beside (A), from a slowest core clock on."""
        best: tuple[Fraction, Fraction, Stretch] | None = None
        for bound, stretch in self._promising(self.stretches, beside, slowest):
            if best is not None and bound > float(best[0]) + GUARD * abs(float(best[0])):
                break
            for upward in (False, True) if beside < 0 else (False,):
                core = self._end(stretch, upward, slowest)
                if core is not None:
                    charge = (stretch.cost(core) + beside * self.scale) / core
                    if best is None or charge < best[0]:
                        best = (charge, core, stretch)
        return None if best is None else self._reached(best[1], best[2])

    def _promising(
        self, stretches: Iterable[Stretch], beside: Fraction, slowest: Fraction | None, fastest: Fraction | None = None
    ) -> list[tuple[float, Stretch]]:
        """Stretches with what a clock costs there at least (rounded down), the least first."""
        start, end = 0.0 if slowest is None else float(slowest), inf if fastest is None else float(fastest)
        more = float(beside * self.scale)
        found = [
            (_least_charge(stretch, more, max(stretch.first, start), min(stretch.last, end)), place, stretch)
            for place, stretch in enumerate(stretches)
            if stretch.last >= start * (1 - GUARD) and stretch.first <= end * (1 + GUARD)
        ]
        found.sort(key=_first_two)
        return [(bound, stretch) for bound, _, stretch in found]

    def _end(
        self, stretch: Stretch, upward: bool, slowest: Fraction | None = None, fastest: Fraction | None = None
    ) -> Fraction | None:
        """The first (upward) or last core clock on a stretch, between two core clocks; None where there is none."""
        self.tables.tick()
        ratio, low, high = stretch.trail.ratio, stretch.low, stretch.high
        if stretch.head.lattice is None:
            core = stretch.head.frequency / ratio
            inside = (slowest is None or core >= slowest) and (fastest is None or core <= fastest)
            return core if inside else None
        if slowest is not None and float(slowest) >= stretch.first * (1 - GUARD):
            low = _tighter(low, slowest * ratio, -1)
        if fastest is not None and float(fastest) <= stretch.last * (1 + GUARD):
            high = _tighter(high, fastest * ratio, 1)
        point = stretch.head.lattice.first(low, high) if upward else stretch.head.lattice.last(low, high)
        return None if point is None else point.frequency / ratio

    def all_cores(self, most: int) -> list[Fraction] | None:
        """Every core clock; None where there are more than so many."""
        found: set[Fraction] = set()
        for walked, core in enumerate(self._walk()):
            found.add(core)
            if len(found) > most or walked > MOST_WALKED:
                return None
        return sorted(found)

    def _walk(self) -> Iterator[Fraction]:
        for stretch in self.stretches:
            if stretch.head.lattice is None:
                yield stretch.head.frequency / stretch.trail.ratio
                continue
            point = stretch.head.lattice.first(stretch.low, stretch.high)
            while point is not None:
                self.tables.tick()
                yield point.frequency / stretch.trail.ratio
                point = stretch.head.lattice.first(just_beside(point), stretch.high)

    def in_band(self, beside: Fraction, slowest: Fraction, fastest: Fraction) -> Reached | None:
        """Of the core clocks between two the last one where the least charge is promised, at its least current."""
        start, end = float(slowest) * (1 - GUARD), float(fastest) * (1 + GUARD)
        near = [each for each in self.stretches if each.first <= end and each.last >= start]
        for _, stretch in self._promising(near, beside, slowest, fastest):
            core = self._end(stretch, False, slowest, fastest)
            if core is not None:
                return self.least_at(core, near, stretch)
        return None

    def settings_at(self, reached: Reached) -> dict[str, Value]:
        """Every setting of the nodes that matter with which a core clock has its least current."""
        head = reached.stretch.head
        way = self.trails.whole_way(head, reached.stretch.trail, reached.core)
        return settle(self.rest(head), self.trails, way)

    def lowest(self) -> Reached | None:
        """The lowest core clock, at the least current it can have."""
        best: Fraction | None = None
        for stretch in sorted(self.stretches, key=lambda each: each.first):
            if best is not None and stretch.first > float(best) * (1 + GUARD):
                break
            core = self._end(stretch, True)
            if core is not None and (best is None or core < best):
                best = core
        return None if best is None else self.least_at(best)


def _holds(stretch: Stretch, core: Fraction) -> bool:
    """Whether a core clock can be reached on a stretch."""
    if stretch.head.lattice is None:
        return core * stretch.trail.ratio == stretch.head.frequency
    node = core * stretch.trail.ratio
    for edge, sign in ((stretch.low, 1), (stretch.high, -1)):
        if edge is not None:
            beyond = (node * edge[1] - edge[0]) * sign
            if beyond < 0 or (beyond == 0 and not edge[2]):
                return False
    return stretch.head.lattice.at(node) is not None


def _tighter(edge: Edge | None, node: Fraction, sign: int) -> Edge:
    """The tighter of an edge and a frequency that belongs; sign 1 for an upper edge."""
    if edge is not None and (edge[0] - node * edge[1]) * sign <= 0:
        return edge
    return node.numerator, node.denominator, True


def _least_charge(stretch: Stretch, more: float, low: float, high: float) -> float:
    """What a clock costs at least between two core clocks, rounded down."""
    least = inf
    for base, slope in stretch.rough:
        fixed = base + more - GUARD * (base + abs(more))
        at = high if fixed >= 0 else low
        least = min(least, slope * (1 - GUARD) + (fixed / at if at else -inf))
    return least


def _first_two(each: tuple[float, int, Stretch]) -> tuple[float, int]:
    return each[:2]
