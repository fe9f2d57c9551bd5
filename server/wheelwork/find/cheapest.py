"""The least cost of each part of the whole, at one core-voltage step: the walk of `forest.py` over tables of offers.

At a PLL each set that can be served takes the lattice point at which it costs least. Within a piece of the axis the
least cost is the least of some lines, so it lies at the first or last lattice point of the piece (a least of lines is
concave); pieces are tried in the order of what they can cost at least, and left once that is more than what is found.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import inf

from wheelwork.find.forest import Forest
from wheelwork.find.lattice import Feedbacks
from wheelwork.find.offers import Lines, Offers, cost_at
from wheelwork.find.pieces import Pieces
from wheelwork.find.prices import Number, Prices, factors_of_pll
from wheelwork.find.problem import MOST_POINTS, Problem
from wheelwork.find.question import StillTime
from wheelwork.find.tables import Key, Undecided
from wheelwork.part.nodes import Pll, Selector
from wheelwork.quantities.spans import Span

GUARD = 1e-9


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a PLL's lattice: the VCO's frequency and the factors with the smallest reference divider."""

    frequency: Fraction
    divider: Fraction
    place: int


@dataclass(frozen=True, slots=True)
class _Input:
    """What a PLL can do at one input frequency: detectors inside, and feedback factors."""

    detectors: tuple[tuple[Fraction, Fraction], ...]
    feedbacks: tuple[Feedbacks, ...]


class Cheapest(Forest[Offers]):
    """Tables of least costs of a problem. With `listing` all selectors are exact, so that settings can be listed."""

    def __init__(self, problem: Problem, prices: Prices, still_time: StillTime, listing: bool = False) -> None:
        exact = sum(problem.bits.values())
        if not listing:
            exact -= sum(bit for name, bit in problem.bits.items() if _is_free(problem, prices, name))
        super().__init__(problem, Offers(exact, prices, still_time))
        self.prices = prices
        self._ranked: dict[tuple[str, Span], dict[int, list[tuple[float, int, Lines]]]] = {}
        self._inputs: dict[tuple[str, Fraction, Span], _Input] = {}
        self._ends: dict[tuple[str, Fraction, Span, int], tuple[Point, Point] | None] = {}
        self._plls: dict[tuple[str, Fraction, Span], tuple[Key, dict[int, Point]]] = {}

    def pll_value(self, node: Pll, frequency: Fraction, tolerance: Span) -> Key:
        """The table of a PLL at the frequency that feeds it: constants, each from its best lattice point."""
        return self.pll_points(node, frequency, tolerance)[0]

    def pll_points(self, node: Pll, frequency: Fraction, tolerance: Span) -> tuple[Key, dict[int, Point]]:
        """The table of a PLL at its input frequency, and the lattice point for each set in it."""
        key = (node.id, frequency, tolerance)
        if key not in self._plls:
            self.tables.tick()
            tried = self._walked if self.problem.pll_below[node.id] else self._ranked_best
            best = tried(node, frequency, tolerance)
            row = self.tables.pruned({mask: ((cost, 0),) for mask, (cost, _) in best.items()})
            points = {mask: point for mask, (_, point) in best.items()}
            self._plls[key] = (self.tables.keep(row), points)
        return self._plls[key]

    def _walked(self, node: Pll, frequency: Fraction, tolerance: Span) -> dict[int, tuple[Number, Point]]:
        """Every lattice point tried: a PLL that feeds a PLL has no pieces."""
        best: dict[int, tuple[Number, Point]] = {}
        for point in self.walk(node, frequency, tolerance):
            self._take(best, self.value(node.id, point.frequency, tolerance), node, point)
        return best

    def walk(self, node: Pll, frequency: Fraction, tolerance: Span) -> Iterator[Point]:
        """Every lattice point by frequency, once each. Raises Undecided where there are more than MOST_POINTS."""
        made: dict[Fraction, Point] = {}
        given = self.input(node, frequency, tolerance)
        if sum(each.count(each.lowest, each.highest) for each in given.feedbacks) > MOST_POINTS:
            raise Undecided
        for divider, detector in given.detectors:
            for feedbacks in given.feedbacks:
                place = feedbacks.at_least(feedbacks.lowest)
                while place is not None:
                    self.tables.tick()
                    vco = detector * place / feedbacks.parts
                    made.setdefault(vco, Point(vco, divider, place))
                    place = feedbacks.at_least(place + 1)
        return (made[vco] for vco in sorted(made))

    def _take(self, best: dict[int, tuple[Number, Point]], key: Key, node: Pll, point: Point) -> None:
        extra = self.prices.factors(node.id, factors_of_pll(node, point.divider, point.place))
        for mask, cost in self.tables.at(key, point.frequency).items():
            old = best.get(mask)
            if old is None or cost + extra < old[0]:
                best[mask] = (cost + extra, point)

    def _ranked_best(self, node: Pll, frequency: Fraction, tolerance: Span) -> dict[int, tuple[Number, Point]]:
        best: dict[int, tuple[Number, Point]] = {}
        own = self.own_point(node, frequency, tolerance)
        if own is not None:
            self._take(best, self.value(node.id, own.frequency, tolerance), node, own)
        changed = self.prices.changed
        for mask, places in self.ranked(node, tolerance).items():
            self.tables.tick()
            found = best.get(mask)
            for bound, place, lines in places:
                if found is not None and bound + float(changed) > float(found[0]) + GUARD * abs(float(found[0])):
                    break
                for point in dict.fromkeys(self.ends(node, frequency, tolerance, place) or ()):
                    cost = cost_at(lines, point.frequency) + changed
                    if found is None or cost < found[0]:
                        found = (cost, point)
            if found is not None:
                best[mask] = found
        return best

    def ranked(self, node: Pll, tolerance: Span) -> dict[int, list[tuple[float, int, Lines]]]:
        """For each set the pieces in which it can be served: least cost there (rounded down), piece, lines."""
        key = (node.id, tolerance)
        if key not in self._ranked:
            pieces = self.body(node.id, tolerance)
            ranked: dict[int, list[tuple[float, int, Lines]]] = {}
            for place, table in enumerate(pieces.keys):
                if table != self.tables.none:
                    low, high = self._edges_of(pieces, place)
                    for mask, lines in self.tables.rows[table].items():
                        ranked.setdefault(mask, []).append((_floor(lines, low, high), place, lines))
            for places in ranked.values():
                places.sort(key=lambda each: each[:2])
            self._ranked[key] = ranked
        return self._ranked[key]

    def _edges_of(self, pieces: Pieces, place: int) -> tuple[float, float]:
        """Lowest and highest frequency of a piece (in hertz, rounded)."""
        index = place // 2
        if place % 2:
            return pieces.points[index] / self.unit, pieces.points[index] / self.unit
        low = pieces.points[index - 1] / self.unit if index else 0.0
        return low, pieces.points[index] / self.unit if index < len(pieces.points) else inf

    def input(self, node: Pll, frequency: Fraction, tolerance: Span) -> _Input:
        """What a PLL can do at an input frequency."""
        key = (node.id, frequency, tolerance)
        if key not in self._inputs:
            detectors = tuple(self.problem.detectors(node, frequency, tolerance))
            self._inputs[key] = _Input(detectors, tuple(self.problem.feedbacks(node)))
        return self._inputs[key]

    def own_point(self, node: Pll, frequency: Fraction, tolerance: Span) -> Point | None:
        """The plan's own factors as a lattice point, where changes cost and no smaller divider gives the same."""
        if not self.prices.changed:
            return None
        divider, feedback, fraction = self.prices.own_factors(node.id)
        place = int(feedback * node.fraction_of + fraction)
        for tried, detector in self.input(node, frequency, tolerance).detectors:
            if tried == divider and any(
                f.count(place, place) for f in self.input(node, frequency, tolerance).feedbacks
            ):
                vco = detector * place / node.fraction_of
                return self.point_at(node, frequency, tolerance, vco, Point(vco, divider, place))
        return None

    def point_at(self, node: Pll, frequency: Fraction, tolerance: Span, vco: Fraction, own: Point) -> Point | None:
        """The plan's own point if it is the one shown for its frequency: that with the smallest reference divider."""
        for divider, detector in self.input(node, frequency, tolerance).detectors:
            place = vco * node.fraction_of / detector
            if place.denominator == 1 and any(
                f.count(int(place), int(place)) for f in self.input(node, frequency, tolerance).feedbacks
            ):
                return own if divider == own.divider else None
        return None

    def ends(self, node: Pll, frequency: Fraction, tolerance: Span, place: int) -> tuple[Point, Point] | None:
        """The first and the last lattice point in a piece of the VCO's axis; None where there is none."""
        key = (node.id, frequency, tolerance, place)
        if key not in self._ends:
            points = [
                point
                for point in (
                    self.next_point(node, frequency, tolerance, place, None, upward) for upward in (True, False)
                )
                if point is not None
            ]
            self._ends[key] = (points[0], points[-1]) if points else None
        return self._ends[key]

    def next_point(
        self, node: Pll, frequency: Fraction, tolerance: Span, place: int, after: Fraction | None, upward: bool
    ) -> Point | None:
        """The lattice point next above (or below) a VCO frequency within a piece; from the piece's edge where None."""
        low, high = self._span_of(self.body(node.id, tolerance), place)
        if after is not None:
            low, high = ((after, False), high) if upward else (low, (after, False))
        best: Point | None = None
        given = self.input(node, frequency, tolerance)
        for divider, detector in given.detectors:
            for feedbacks in given.feedbacks:
                spot = _nearest_place(feedbacks, detector, low, high, upward)
                if spot is not None:
                    vco = detector * spot / feedbacks.parts
                    if best is None or (vco < best.frequency if upward else vco > best.frequency):
                        best = Point(vco, divider, spot)
        return best

    def _span_of(self, pieces: Pieces, place: int) -> tuple[tuple[Fraction, bool] | None, tuple[Fraction, bool] | None]:
        """The edges of a piece in hertz, each with whether it belongs."""
        index = place // 2
        if place % 2:
            edge = (Fraction(pieces.points[index], self.unit), True)
            return edge, edge
        low = (Fraction(pieces.points[index - 1], self.unit), False) if index else None
        return low, (Fraction(pieces.points[index], self.unit), False) if index < len(pieces.points) else None

    def piece_of(self, node: Pll, tolerance: Span, frequency: Fraction) -> int:
        """The piece of the VCO's axis in which a frequency stands."""
        points = self.body(node.id, tolerance).points
        spot = frequency * self.unit
        above = -(-spot.numerator // spot.denominator)
        index = bisect_left(points, above)
        on_it = spot.denominator == 1 and index < len(points) and points[index] == above
        return 2 * index + (1 if on_it else 0)


def _nearest_place(
    feedbacks: Feedbacks,
    detector: Fraction,
    low: tuple[Fraction, bool] | None,
    high: tuple[Fraction, bool] | None,
    upward: bool,
) -> int | None:
    """The first (or last) t whose VCO frequency lies between two edges."""
    first, last = feedbacks.lowest, feedbacks.highest
    if low is not None:
        reach = low[0] * feedbacks.parts / detector
        up = -(-reach.numerator // reach.denominator)
        first = max(first, up + 1 if not low[1] and reach == up else up)
    if high is not None:
        reach = high[0] * feedbacks.parts / detector
        down = reach.numerator // reach.denominator
        last = min(last, down - 1 if not high[1] and reach == down else down)
    if first > last:
        return None
    spot = feedbacks.at_least(first) if upward else feedbacks.at_most(last)
    return None if spot is None or not first <= spot <= last else spot


def _floor(lines: Lines, low: float, high: float) -> float:
    """What a set costs at least on a piece, rounded down."""
    least = inf
    for base, slope in lines:
        ends = [float(base) + float(slope) * low]
        if slope:
            ends.append(float(base) + float(slope) * high)
        least = min(least, *ends)
    return least - GUARD * abs(least) if abs(least) != inf else least


def _is_free(problem: Problem, prices: Prices, name: str) -> bool:
    """Whether nothing below a selector costs anything and no selector hangs there."""
    if not prices.is_free(problem.part.nodes[name]):
        return False
    return all(
        not isinstance(problem.part.nodes[below], Selector) and _is_free(problem, prices, below)
        for below in problem.consumers[name]
    )
