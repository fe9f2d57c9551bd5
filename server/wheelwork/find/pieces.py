"""Tables along the frequency axis: constant between points, since only window edges and ratios tell frequencies apart.

A piece function has points p0 < p1 < … in whole units and one table for each gap and each point in turn, so that an
edge, which belongs to its window, is told from what lies beside it.
"""

from __future__ import annotations

from bisect import bisect_left
from dataclasses import dataclass
from fractions import Fraction
from heapq import merge

from wheelwork.find.tables import Key, Tables, Undecided

MOST_EVENTS = 200_000
"""More edges, seen through all ratios of a divider, are not sorted: that alone would take a second."""


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


def between(tables: Tables, low: int | None, high: int | None) -> Pieces:
    """One within a span whose edges belong to it, nothing outside."""
    none, one = tables.none, tables.one
    if low is not None and high is not None and low > high:
        return everywhere(none)
    points = [edge for edge in (low, high) if edge is not None]
    keys = [none, one] if low is not None else []
    if high is None:
        keys.append(one)
    else:
        keys += [one, one, none] if low != high else [none]
    return Pieces(tuple(dict.fromkeys(points)), tuple(keys))


def squeeze(points: list[int], keys: list[Key]) -> Pieces:
    """The same function without the points at which nothing changes."""
    kept, left = [], [keys[0]]
    for place, point in enumerate(points):
        at, after = keys[2 * place + 1], keys[2 * place + 2]
        if not left[-1] == at == after:
            kept.append(point)
            left += [at, after]
    return Pieces(tuple(kept), tuple(left))


def multiply(tables: Tables, one: Pieces, other: Pieces) -> Pieces:
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


def stretched(pieces: Pieces, ratio: Fraction) -> Pieces:
    """Seen from before a divider: what stood at f stands at ratio * f. The unit is so small that points stay whole."""
    return Pieces(tuple(point * ratio.numerator // ratio.denominator for point in pieces.points), pieces.keys)


def over_ratios(tables: Tables, pieces: Pieces, ratios: list[Fraction]) -> Pieces:
    """Seen from before a divider with several ratios: the sum over all, kept up to date from point to point."""
    if len(ratios) == 1:
        return stretched(pieces, ratios[0])
    if len(ratios) * len(pieces.points) > MOST_EVENTS:
        raise Undecided
    views = [stretched(pieces, ratio) for ratio in ratios]
    events = sorted((point, view, place) for view, seen in enumerate(views) for place, point in enumerate(seen.points))
    running = _Running(tables, [seen.keys[0] for seen in views])
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
                running.turn(view, pieces.keys[2 * place + offset])
            keys.append(running.key())
        start = end
    return squeeze(points, keys)


class _Running:
    """A sum of tables in which one after another is exchanged."""

    def __init__(self, tables: Tables, parts: list[Key]) -> None:
        self.tables = tables
        self.parts = parts
        self.row: dict[int, int] = {}
        for part in parts:
            self._add(part, 1)

    def turn(self, place: int, key: Key) -> None:
        """Exchange the part at a place."""
        if self.parts[place] != key:
            self._add(self.parts[place], -1)
            self._add(key, 1)
            self.parts[place] = key

    def key(self) -> Key:
        """The table of the sum."""
        return self.tables.keep(self.row)

    def _add(self, key: Key, sign: int) -> None:
        for mask, count in self.tables.rows[key].items():
            total = self.row.get(mask, 0) + sign * count
            if total:
                self.row[mask] = total
            else:
                self.row.pop(mask, None)
