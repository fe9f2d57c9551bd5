"""A PLL's lattice: how many of its factors put the VCO into each piece of the axis, without listing them.

With f at the phase detector the VCO stands at f * t / m, where t = feedback * m + fraction is whole; the t inside a
piece are counted by exact floor division.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

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
