"""A PLL's lattice: how many of its factors put the VCO into each piece of the axis, without listing them.

With f at the phase detector the VCO stands at f * t / m, where t = feedback * m + fraction is whole; the t inside a
piece are counted by exact floor division.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from wheelwork.find.pieces import Pieces
from wheelwork.find.tables import Key
from wheelwork.quantities.ratios import Run


@dataclass(frozen=True, slots=True)
class Feedbacks:
    """The feedback factors offered in one run, each with every fraction of m, or with the one that is pinned."""

    run: Run
    parts: int
    pinned: int | None = None

    @property
    def lowest(self) -> int:
        """The smallest t."""
        return int(self.run.first) * self.parts

    @property
    def highest(self) -> int:
        """The largest t."""
        return int(self.run.last) * self.parts + self.parts - 1

    def count(self, first: int, last: int) -> int:
        """How many t from first to last are offered."""
        first, last = max(first, self.lowest), min(last, self.highest)
        if first > last:
            return 0
        if self.run.step == 1 and self.pinned is None:
            return last - first + 1
        return self._up_to(last) - self._up_to(first - 1)

    def at_least(self, place: int) -> int | None:
        """The smallest t offered that is not below a place."""
        whole, part = divmod(max(place, self.lowest), self.parts)
        if self.pinned is not None:
            whole, part = whole + (part > self.pinned), self.pinned
        start, last, step = int(self.run.first), int(self.run.last), self.run.step
        if (whole - start) % step:
            whole += step - (whole - start) % step
            part = 0 if self.pinned is None else self.pinned
        return whole * self.parts + part if whole <= last else None

    def at_most(self, place: int) -> int | None:
        """The largest t offered that is not above a place."""
        whole, part = divmod(min(place, self.highest), self.parts)
        if self.pinned is not None:
            whole, part = whole - (part < self.pinned), self.pinned
        start, step = int(self.run.first), self.run.step
        if (whole - start) % step:
            whole -= (whole - start) % step
            part = self.parts - 1 if self.pinned is None else self.pinned
        return whole * self.parts + part if whole >= start else None

    def _up_to(self, last: int) -> int:
        """How many t not above this one are offered."""
        whole, part = divmod(last, self.parts)
        each = self.parts if self.pinned is None else 1
        start, step = int(self.run.first), self.run.step
        if whole < start:
            return 0
        whole = min(whole, int(self.run.last))
        full = (whole - start) // step + 1
        if (whole - start) % step or last // self.parts > whole:
            return full * each
        inside = part + 1 if self.pinned is None else int(part >= self.pinned)
        return (full - 1) * each + inside


@dataclass(frozen=True, slots=True)
class Point:
    """A point of a PLL's lattice: the VCO's frequency (hertz) and the factors that are shown for it."""

    frequency: Fraction
    divider: Fraction
    place: int


@dataclass(frozen=True, slots=True)
class _Ray:
    """The points of one reference divider and run of factors: t * weight in the lattice's unit."""

    divider: Fraction
    weight: int
    run: Feedbacks
    lowest: int
    highest: int

    @property
    def is_whole(self) -> bool:
        """Whether every t from the lowest to the highest is offered."""
        return self.run.run.step == 1 and self.run.pinned is None


Edge = tuple[int, int, bool]
"""An edge in hertz: numerator, denominator, whether it belongs."""


class Lattice:
    """All points that a PLL has at one input frequency, asked for by edges in whole numbers."""

    def __init__(
        self,
        detectors: Iterable[tuple[Fraction, Fraction]],
        feedbacks: Iterable[Feedbacks],
        whole: Lattice | None = None,
        own: tuple[Fraction, int] | None = None,
    ) -> None:
        """`detectors` are reference dividers, the smallest first, with the phase detector's frequency (hertz).

        Of a lattice that is part of a `whole` one only the points count that the whole shows for their frequency: those
        with the smallest divider, or the plan's `own` factors (reference divider and t) where they are among them.
        """
        self.whole = whole
        pairs, runs = tuple(detectors), tuple(feedbacks)
        self.common = lcm(*(detector.denominator for _, detector in pairs)) * (runs[0].parts if runs else 1)
        """The VCO stands at t * weight / common."""
        self.rays = [
            _Ray(divider, int(detector * self.common / run.parts), run, run.lowest, run.highest)
            for divider, detector in pairs
            for run in runs
        ]
        self.own = self._point_of(*own) if own else None

    def _point_of(self, divider: Fraction, place: int) -> Point | None:
        for ray in self.rays:
            if ray.divider == divider and ray.run.count(place, place):
                return Point(Fraction(place * ray.weight, self.common), divider, place)
        return None

    def _shown(self, frequency: Fraction, divider: Fraction, place: int) -> Point:
        if self.own is not None and self.own.frequency == frequency:
            return self.own
        return Point(frequency, divider, place)

    @property
    def size(self) -> int:
        """How many points there are, equal ones counted each."""
        return sum(ray.run.count(ray.lowest, ray.highest) for ray in self.rays)

    def first(self, low: Edge | None, high: Edge | None) -> Point | None:
        """The lowest point between two edges."""
        point = self._first(low, high)
        while point is not None and not self._counts(point):
            point = self._first(beside(point), high)
        return point

    def last(self, low: Edge | None, high: Edge | None) -> Point | None:
        """The highest point between two edges."""
        point = self._last(low, high)
        while point is not None and not self._counts(point):
            point = self._last(low, beside(point))
        return point

    def _counts(self, point: Point) -> bool:
        return self.whole is None or self.whole.at(point.frequency) == point

    def _first(self, low: Edge | None, high: Edge | None) -> Point | None:
        best, found = 0, None
        for ray in self.rays:
            first, last = self._places(ray, low, high)
            place = first if ray.is_whole else ray.run.at_least(first)
            if place is not None and place <= last and (found is None or place * ray.weight < best):
                best, found = place * ray.weight, (ray.divider, place)
        return None if found is None else self._shown(Fraction(best, self.common), *found)

    def _last(self, low: Edge | None, high: Edge | None) -> Point | None:
        best, found = 0, None
        for ray in self.rays:
            first, last = self._places(ray, low, high)
            place = last if ray.is_whole else ray.run.at_most(last)
            if place is not None and first <= place and (found is None or place * ray.weight > best):
                best, found = place * ray.weight, (ray.divider, place)
        return None if found is None else self._shown(Fraction(best, self.common), *found)

    def _places(self, ray: _Ray, low: Edge | None, high: Edge | None) -> tuple[int, int]:
        """Between which t the VCO lies between two edges; the first above the last where there are none."""
        first, last = ray.lowest, ray.highest
        if low is not None:
            reach, rest = divmod(low[0] * self.common, low[1] * ray.weight)
            if rest or not low[2]:
                reach += 1
            if reach > first:
                first = reach
        if high is not None:
            reach, rest = divmod(high[0] * self.common, high[1] * ray.weight)
            if not rest and not high[2]:
                reach -= 1
            if reach < last:
                last = reach
        return first, last

    def at(self, frequency: Fraction) -> Point | None:
        """The point that is shown for a frequency; None where there is none."""
        for ray in self.rays:
            place = frequency * self.common / ray.weight
            if place.denominator == 1 and ray.run.count(int(place), int(place)):
                return self._shown(frequency, ray.divider, int(place))
        return None

    def alike(self, frequency: Fraction) -> int:
        """How many of the PLL's factors give a frequency."""
        places = ((frequency * self.common / ray.weight, ray.run) for ray in self.rays)
        return sum(run.count(int(place), int(place)) for place, run in places if place.denominator == 1)

    def walk(self) -> Iterator[Point]:
        """Every point by frequency, each frequency once."""
        made: dict[int, tuple[Fraction, int]] = {}
        for ray in self.rays:
            place = ray.run.at_least(ray.lowest)
            while place is not None:
                made.setdefault(place * ray.weight, (ray.divider, place))
                place = ray.run.at_least(place + 1)
        points = (self._shown(Fraction(spot, self.common), *made[spot]) for spot in sorted(made))
        return (point for point in points if self._counts(point))


def beside(point: Point) -> Edge:
    """The edge that leaves a point out."""
    return point.frequency.numerator, point.frequency.denominator, False


def count_in_pieces(pieces: Pieces, detector: Fraction, feedbacks: Feedbacks, none: Key) -> Iterator[tuple[Key, int]]:
    """For each piece that holds any: its table and how many t put the VCO there. `detector` is in units."""
    above, below = feedbacks.parts * detector.denominator, detector.numerator
    place = bisect_left(pieces.points, feedbacks.lowest * below // above)
    done = feedbacks.lowest - 1
    for index in range(place, len(pieces.points) + 1):
        if index == len(pieces.points):
            yield from _told(pieces.keys[2 * index], feedbacks.count(done + 1, feedbacks.highest), none)
            return
        reach, left_over = divmod(pieces.points[index] * above, below)
        before = reach if left_over else reach - 1
        yield from _told(pieces.keys[2 * index], feedbacks.count(done + 1, before), none)
        if not left_over:
            yield from _told(pieces.keys[2 * index + 1], feedbacks.count(reach, reach), none)
        done = max(done, reach)
        if done >= feedbacks.highest:
            return


def _told(key: Key, count: int, none: Key) -> Iterator[tuple[Key, int]]:
    if count > 0 and key != none:
        yield key, count
