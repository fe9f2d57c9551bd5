"""Tables along the frequency axis: constant between points, since only window edges and ratios tell frequencies apart.

A piece function has points p0 < p1 < … in whole units and one table for each gap and each point in turn, so that an
edge, which belongs to its window, is told from what lies beside it.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from heapq import merge

from wheelwork.find.tables import Algebra, Key, Undecided

MOST_EVENTS = 200_000
"""More edges, seen through all ratios of a divider, are not sorted: that alone would take a second."""


Edge = tuple[int, bool]
"""An edge in units and whether it belongs to its span."""


@dataclass(frozen=True, slots=True)
class Pieces:
    """Tables by frequency: `keys[2 i]` stands before point i, `keys[2 i + 1]` at it, the last after all."""

    points: tuple[int, ...]
    keys: tuple[Key, ...]

    def at(self, frequency: Fraction) -> Key:
        """The table at a frequency (in units)."""
        above = -(-frequency.numerator // frequency.denominator)
        place = bisect_left(self.points, above)
        on_it = frequency.denominator == 1 and place < len(self.points) and self.points[place] == above
        return self.keys[2 * place + (1 if on_it else 0)]


def everywhere(key: Key) -> Pieces:
    """The same table at every frequency."""
    return Pieces((), (key,))


def between(tables: Algebra, low: Edge | None, high: Edge | None) -> Pieces:
    """One within a span, nothing outside; an edge says whether it belongs."""
    none, one = tables.none, tables.one
    if low is not None and high is not None and (low[0] > high[0] or (low[0] == high[0] and not (low[1] and high[1]))):
        return everywhere(none)
    points: list[int] = []
    keys = [one if low is None else none]
    for edge, after in ((low, one), (high, none)):
        if edge is not None and edge[0] not in points:
            points.append(edge[0])
            keys += [one if edge[1] else none, after]
        elif edge is not None:
            keys[-1] = after
    return Pieces(tuple(points), tuple(keys))


def squeeze(points: list[int], keys: list[Key]) -> Pieces:
    """The same function without the points at which nothing changes."""
    kept, left = [], [keys[0]]
    for place, point in enumerate(points):
        at, after = keys[2 * place + 1], keys[2 * place + 2]
        if not left[-1] == at == after:
            kept.append(point)
            left += [at, after]
    return Pieces(tuple(kept), tuple(left))


def multiply(tables: Algebra, one: Pieces, other: Pieces) -> Pieces:
    """Both at once, at each frequency."""
    points: list[int] = list(dict.fromkeys(merge(one.points, other.points)))
    keys = [tables.product(one.keys[0], other.keys[0])]
    i = j = 0
    for point in points:
        tables.tick()
        on_one = i < len(one.points) and one.points[i] == point
        on_other = j < len(other.points) and other.points[j] == point
        keys.append(tables.product(one.keys[2 * i + on_one], other.keys[2 * j + on_other]))
        i, j = i + on_one, j + on_other
        keys.append(tables.product(one.keys[2 * i], other.keys[2 * j]))
    return squeeze(points, keys)


def stretched(tables: Algebra, pieces: Pieces, ratio: Fraction) -> Pieces:
    """Seen from before a divider: what stood at f stands at ratio * f. The unit is so small that points stay whole."""
    above, below = ratio.numerator, ratio.denominator
    points = tuple([point * above // below for point in pieces.points])
    return Pieces(points, tuple([tables.scaled(key, ratio) for key in pieces.keys]))


def over_ratios(tables: Algebra, pieces: Pieces, ratios: list[Fraction], setting: str) -> Pieces:
    """Seen from before a divider with several ratios: the union over all, kept up to date from point to point."""
    if len(ratios) * len(pieces.points) > MOST_EVENTS:
        raise Undecided
    views = [_chosen(tables, stretched(tables, pieces, ratio), setting, ratio) for ratio in ratios]
    if len(views) == 1:
        return views[0]
    events = sorted((point, view, place) for view, seen in enumerate(views) for place, point in enumerate(seen.points))
    running = tables.running([seen.keys[0] for seen in views])
    points: list[int] = []
    keys = [running.key()]
    start = 0
    while start < len(events):
        tables.tick()
        end = start
        while end < len(events) and events[end][0] == events[start][0]:
            end += 1
        points.append(events[start][0])
        for offset in (1, 2):
            for _, view, place in events[start:end]:
                running.turn(view, views[view].keys[2 * place + offset])
            keys.append(running.key())
        start = end
    return squeeze(points, keys)


def _chosen(tables: Algebra, pieces: Pieces, setting: str, value: Fraction) -> Pieces:
    if not tables.choices_cost:
        return pieces
    return Pieces(pieces.points, tuple([tables.chosen(key, setting, value) for key in pieces.keys]))


def union(tables: Algebra, one: Pieces, other: Pieces) -> Pieces:
    """One way or the other, at each frequency."""
    points = sorted({*one.points, *other.points})
    keys = []
    for place in range(2 * len(points) + 1):
        spot = Fraction(points[place // 2]) if place % 2 else _inside(points, place // 2)
        keys.append(tables.total(((one.at(spot), 1), (other.at(spot), 1))))
    return Pieces(tuple(points), tuple(keys))


def _inside(points: list[int], gap: int) -> Fraction:
    """A place inside a gap between points."""
    if not points:
        return Fraction(0)
    if gap == 0:
        return Fraction(points[0] - 1)
    return Fraction(points[-1] + 1) if gap == len(points) else Fraction(points[gap - 1] + points[gap], 2)
