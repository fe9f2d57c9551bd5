"""The least cost of each part of the whole, at one core-voltage step: the walk of `forest.py` over tables of offers.

At a PLL each set that can be served takes the lattice point at which it costs least. Within a piece of the axis the
least cost is the least of some lines, so it lies at the first or last lattice point of the piece (a least of lines is
concave); pieces are tried in the order of what they can cost at least, and left once that is more than what is found.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from fractions import Fraction
from math import inf

from wheelwork.find.forest import Forest
from wheelwork.find.lattice import Edge, Lattice, Point, beside
from wheelwork.find.offers import Lines, Offers, cost_at
from wheelwork.find.prices import Number, Prices, factors_of_pll
from wheelwork.find.problem import MOST_POINTS, Problem
from wheelwork.find.question import StillTime
from wheelwork.find.tables import Key, Undecided
from wheelwork.part.nodes import Pll, Selector

GUARD = 1e-9
MOST_LISTED = 14
"""With more selectors than this below one PLL settings are not listed: their sets would be too many."""
Stretch = tuple[int, int]
"""The first and the last of some pieces of the axis that stand side by side."""
Place = tuple[float, Stretch, Lines]
"""Where a set can be served: what that costs at least (rounded down), the stretch, the cost as lines."""


class Cheapest(Forest[Offers]):
    """Tables of least costs of a problem. With `listing` all selectors are exact, so that settings can be listed."""

    def __init__(
        self,
        problem: Problem,
        prices: Prices,
        still_time: StillTime,
        listing: bool = False,
        pointwise: bool = False,
        exactly: Iterable[str] = (),
    ) -> None:
        """`exactly` are nodes whose selectors are exact whatever they cost."""
        exact = problem.all_bits
        if not listing:
            marked = {*_below_marks(problem), *exactly}
            free = (name for name in problem.bits if name not in marked and _is_free(problem, prices, name))
            exact -= sum(problem.bits[name] for name in free)
        self.scale = prices.scale(problem)
        self.prices = prices.times(self.scale)
        """All costs here are so many times too large, so that they are whole numbers where they can be."""
        super().__init__(problem, Offers(exact, self.prices, still_time), pointwise)
        if listing and not pointwise and _most_below(problem) > MOST_LISTED:
            raise Undecided
        self._ranked: dict[tuple[str, int], list[tuple[int, list[Place]]]] = {}
        self._lattices: dict[tuple[str, Fraction, int], Lattice] = {}
        self._points: dict[tuple[str, Fraction, int, Stretch, bool], Point | None] = {}
        self._plls: dict[tuple[str, Fraction, int], tuple[Key, dict[int, Point]]] = {}

    def pll_value(self, node: Pll, frequency: Fraction, kind: int) -> Key:
        """The table of a PLL at the frequency that feeds it: constants, each from its best lattice point."""
        return self.pll_points(node, frequency, kind)[0]

    def pll_points(self, node: Pll, frequency: Fraction, kind: int) -> tuple[Key, dict[int, Point]]:
        """The table of a PLL at its input frequency, and the lattice point for each set in it."""
        key = (node.id, frequency, kind)
        if key not in self._plls:
            self.tables.tick()
            tried = self._walked if self.walks(node) else self._ranked_best
            best = tried(node, frequency, kind)
            row = self.tables.pruned({mask: ((cost, 0),) for mask, (cost, _) in best.items()})
            points = {mask: point for mask, (_, point) in best.items()}
            self._plls[key] = (self.tables.keep(row), points)
        return self._plls[key]

    def lattice(self, node: Pll, frequency: Fraction, kind: int) -> Lattice:
        """The points of a PLL at an input frequency."""
        key = (node.id, frequency, kind)
        if key not in self._lattices:
            self._lattices[key] = self.problem.lattice(node, frequency, kind)
        return self._lattices[key]

    def _walked(self, node: Pll, frequency: Fraction, kind: int) -> dict[int, tuple[Number, Point]]:
        """Every lattice point tried: a PLL that feeds a PLL has no pieces."""
        best: dict[int, tuple[Number, Point]] = {}
        for point in self.walk(node, frequency, kind):
            self._take(best, node, point, kind)
        return best

    def walks(self, node: Pll) -> bool:
        """Whether every point of a PLL is tried: where it feeds a PLL, and where all is reckoned pointwise."""
        return self.pointwise or self.problem.pll_below[node.id]

    def walk(self, node: Pll, frequency: Fraction, kind: int) -> Iterator[Point]:
        """Every lattice point, once each. Raises Undecided where there are more than MOST_POINTS."""
        lattice = self.lattice(node, frequency, kind)
        if lattice.size > MOST_POINTS:
            raise Undecided
        for point in lattice.walk():
            self.tables.tick()
            yield point

    def _take(self, best: dict[int, tuple[Number, Point]], node: Pll, point: Point, kind: int) -> None:
        """Note what each set costs at a point, where that is less than before."""
        extra = self.prices.factors(node.id, factors_of_pll(node, point.divider, point.place))
        key = self.value(node.id, point.frequency, kind)
        for mask, cost in self.tables.at(key, point.frequency).items():
            old = best.get(mask)
            if old is None or cost + extra < old[0]:
                best[mask] = (cost + extra, point)

    def _ranked_best(self, node: Pll, frequency: Fraction, kind: int) -> dict[int, tuple[Number, Point]]:
        best: dict[int, tuple[Number, Point]] = {}
        own = self.own_point(node, frequency, kind)
        if own is not None:
            self._take(best, node, own, kind)
        for mask, places in self.ranked(node, kind):
            self.tables.tick()
            if not self._is_beaten(mask, places[0][0], best):
                found = self._best_place(node, frequency, kind, places, best.get(mask))
                if found is not None:
                    best[mask] = found
        return best

    def _is_beaten(self, mask: int, bound: float, best: Mapping[int, tuple[Number, Point]]) -> bool:
        """Whether a set found before serves all of this, and surely no dearer."""
        exact = self.tables.exact
        if not mask & ~exact:
            return False
        bound += float(self.prices.changed)
        return any(
            not mask & ~larger and mask & exact == larger & exact and cost <= bound
            for larger, (cost, _) in best.items()
        )

    def _best_place(
        self, node: Pll, frequency: Fraction, kind: int, places: list[Place], found: tuple[Number, Point] | None
    ) -> tuple[Number, Point] | None:
        """The lattice point at which a set costs least, piece by piece from the cheapest on."""
        changed = self.prices.changed
        for bound, stretch, lines in places:
            if found is not None and bound + float(changed) > float(found[0]) + GUARD * abs(float(found[0])):
                break
            for upward in (True, False):
                if any(slope > 0 if upward else slope < 0 for _, slope in lines) or upward:
                    point = self.end(node, frequency, kind, stretch, upward)
                    cost = None if point is None else cost_at(lines, point.frequency) + changed
                    if point is not None and cost is not None and (found is None or cost < found[0]):
                        found = (cost, point)
        return found

    def ranked(self, node: Pll, kind: int) -> list[tuple[int, list[Place]]]:
        """For each set the stretches of the axis in which it can be served, the cheapest first; larger sets first.

        Of stretches that cost the same the widest comes first, since there a lattice point is most likely.
        """
        key = (node.id, kind)
        if key not in self._ranked:
            stretches: dict[int, list[tuple[int, int, Lines]]] = {}
            for place, table in enumerate(self.body(node.id, kind).keys):
                for mask, lines in self.tables.rows[table].items():
                    known = stretches.setdefault(mask, [])
                    if known and known[-1][1] == place - 1 and known[-1][2] == lines:
                        known[-1] = (known[-1][0], place, lines)
                    else:
                        known.append((place, place, lines))
            ranked = {mask: self._by_cost(node, kind, known) for mask, known in stretches.items()}
            self._ranked[key] = sorted(ranked.items(), key=lambda each: (-each[0].bit_count(), each[0]))
        return self._ranked[key]

    def _by_cost(self, node: Pll, kind: int, stretches: list[tuple[int, int, Lines]]) -> list[Place]:
        found = []
        for first, last, lines in stretches:
            low, high = self.edges_of(node, kind, (first, last))
            bottom, top = 0.0 if low is None else low[0] / low[1], inf if high is None else high[0] / high[1]
            found.append((_floor(lines, bottom, top), bottom - top, (first, last), lines))
        found.sort(key=lambda each: each[:3])
        return [(bound, stretch, lines) for bound, _, stretch, lines in found]

    def edges_of(self, node: Pll, kind: int, stretch: Stretch) -> tuple[Edge | None, Edge | None]:
        """The edges of a stretch of the VCO's axis, from one piece to another."""
        points = self.body(node.id, kind).points
        first, last = stretch
        low = high = None
        if first % 2:
            low = (points[first // 2], self.unit, True)
        elif first:
            low = (points[first // 2 - 1], self.unit, False)
        if last % 2:
            high = (points[last // 2], self.unit, True)
        elif last // 2 < len(points):
            high = (points[last // 2], self.unit, False)
        return low, high

    def own_point(self, node: Pll, frequency: Fraction, kind: int) -> Point | None:
        """The plan's own factors as a lattice point, where changes cost."""
        lattice = self.lattice(node, frequency, kind)
        own = lattice.own if self.prices.changed else None
        return own if own is not None and lattice.at(own.frequency) == own else None

    def end(self, node: Pll, frequency: Fraction, kind: int, stretch: Stretch, upward: bool) -> Point | None:
        """The first (upward) or last lattice point in a stretch of the VCO's axis; None where there is none."""
        key = (node.id, frequency, kind, stretch, upward)
        if key not in self._points:
            low, high = self.edges_of(node, kind, stretch)
            lattice = self.lattice(node, frequency, kind)
            self._points[key] = lattice.first(low, high) if upward else lattice.last(low, high)
        return self._points[key]

    def next_point(
        self, node: Pll, frequency: Fraction, kind: int, stretch: Stretch, after: Point, upward: bool
    ) -> Point | None:
        """The lattice point next to one within a stretch, upward or down."""
        low, high = self.edges_of(node, kind, stretch)
        lattice = self.lattice(node, frequency, kind)
        return lattice.first(beside(after), high) if upward else lattice.last(low, beside(after))


def _floor(lines: Lines, low: float, high: float) -> float:
    """What a set costs at least on a piece, rounded down."""
    least = inf
    for base, slope in lines:
        ends = [float(base) + float(slope) * low]
        if slope:
            ends.append(float(base) + float(slope) * high)
        least = min(least, *ends)
    return least - GUARD * abs(least) if abs(least) != inf else least


def _most_below(problem: Problem) -> int:
    """How many selectors stand below the PLL with the most of them."""
    below: dict[str, int] = {}
    for name in reversed(problem.part.order):
        below[name] = problem.bits.get(name, 0) if problem.useful[name] else 0
        for each in problem.consumers[name]:
            below[name] |= below[each]
    plls = [name for name, node in problem.part.nodes.items() if isinstance(node, Pll)]
    return max((below[name].bit_count() for name in plls), default=0)


def _below_marks(problem: Problem) -> set[str]:
    """What hangs below a node that has to be known to be on: there each selector counts, since it keeps the node on."""
    below = {name for name in problem.required if not problem.needed[name]}
    for name in problem.part.order:
        if name in below:
            below.update(problem.consumers[name])
    return below


def _is_free(problem: Problem, prices: Prices, name: str) -> bool:
    """Whether nothing below a selector costs anything and no selector hangs there."""
    if not prices.is_free(problem.part.nodes[name]):
        return False
    return all(
        not isinstance(problem.part.nodes[below], Selector) and _is_free(problem, prices, below)
        for below in problem.consumers[name]
    )
