"""The lanes: window, mark and whisker of each row, and the way down that threads them.

All x are percent of the lane's width; y is by the row (a thread enters at the top, turns 8 px below it, and drops to
the middle). Marks and brackets are drawn in pixels at their x, so that nothing stretches.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import log10
from typing import Literal

from wheelwork.charts.axis import Axis

Mark = Literal["inside", "tight-upper", "tight-lower", "outside", "stopped", "ring"]

NARROWEST = 0.9
"""A window narrower than this (percent) is drawn this wide, round its middle."""
WHISKER_FROM = Fraction(1, 200)
"""Tolerances beyond 0.5 % are drawn on the lane; finer ones are seen in the room to the limit."""
SHORT_RUN, SHORT_RUN_IN_PRINT = Fraction(5, 2), 10


@dataclass(frozen=True, slots=True)
class Band:
    """A window: from x over a width, with a bracket at each stated limit."""

    x: float
    width: float
    left: float | None
    right: float | None


@dataclass(frozen=True, slots=True)
class Turn:
    """A thread's end in the row it leads to: from the feeder's x across to the own x; `label` is the ratio.

    `run` says how long it is: `short` labels move aside on a narrow lane, `shortish` ones in print.
    """

    start: float
    end: float
    label: str = ""
    run: Literal["long", "shortish", "short"] = "long"

    @property
    def middle(self) -> float:
        """The middle of the run across."""
        return round((self.start + self.end) / 2, 2)

    @property
    def right(self) -> float:
        """The right end of the run across."""
        return max(self.start, self.end)

    @property
    def patch(self) -> int:
        """The width of the label's patch: 8 px for each sign and 4."""
        return 8 * len(self.label) + 4


@dataclass(frozen=True, slots=True)
class Threads:
    """What of the way down crosses one row: threads that pass, one that starts at its mark, one that ends at it."""

    passing: tuple[float, ...] = ()
    leaves: float | None = None
    turn: Turn | None = None

    @property
    def below(self) -> tuple[float, ...]:
        """The threads that go on below this row."""
        return self.passing if self.leaves is None else (*self.passing, self.leaves)


@dataclass(frozen=True, slots=True)
class Lane:
    """One row's picture. `whisker` spans the tolerance where it is wide enough to be seen."""

    mark: Mark | None = None
    x: float = 0.0
    band: Band | None = None
    whisker: tuple[float, float] | None = None


def draw_band(axis: Axis, lowest: Fraction | None, highest: Fraction | None) -> Band:
    """A window on the axis; no limit on a side runs to the edge and has no bracket.

    >>> draw_band(Axis(4.0, 8.0), None, Fraction(10**6))
    Band(x=0.0, width=50.0, left=None, right=50.0)
    """
    left = 0.0 if lowest is None else axis.x(lowest)
    right = 100.0 if highest is None else axis.x(highest)
    if right - left < NARROWEST:
        middle = (left + right) / 2
        left, right = middle - NARROWEST / 2, middle + NARROWEST / 2
    left, right = round(left, 2), round(right, 2)
    return Band(left, round(right - left, 2), None if lowest is None else left, None if highest is None else right)


def draw_whisker(axis: Axis, nominal: Fraction, lowest: Fraction, highest: Fraction) -> tuple[float, float] | None:
    """The tolerance at true scale, where it is over 0.5 % to one side."""
    if max(highest - nominal, nominal - lowest) <= WHISKER_FROM * nominal:
        return None
    return axis.x(lowest), axis.x(highest)


@dataclass(frozen=True, slots=True)
class Stop:
    """A row on the way down: its clock, the row that feeds it (by key), and the ratio as a label."""

    key: str
    frequency: Fraction | None
    feeder: str | None
    label: str
    ratio: Fraction = Fraction(1)


def thread_rows(axis: Axis, stops: Sequence[Stop | None]) -> list[Threads]:
    """The threads of each row from top to bottom; None stands for a row without a clock (a group's head).

    A thread leaves its feeder's mark downwards, passes every row between, and turns into its own.
    """
    index = {stop.key: i for i, stop in enumerate(stops) if stop is not None}
    xs = [None if stop is None or stop.frequency is None else axis.x(stop.frequency) for stop in stops]
    last = _last_rows_fed(stops, index, xs)
    rows = []
    hanging: dict[int, float] = {}
    for i, stop in enumerate(stops):
        hanging = {above: x for above, x in hanging.items() if last[above] > i}
        turn = None if stop is None else _turn(stop, index, xs, i)
        x = xs[i] if i in last else None
        rows.append(Threads(tuple(sorted(set(hanging.values()))), x, turn))
        if x is not None:
            hanging[i] = x
    return rows


def _last_rows_fed(
    stops: Sequence[Stop | None], index: Mapping[str, int], xs: Sequence[float | None]
) -> dict[int, int]:
    """For each row that feeds others, the last row it feeds."""
    last: dict[int, int] = {}
    for i, stop in enumerate(stops):
        if stop is None or stop.feeder is None or xs[i] is None:
            continue
        above = index.get(stop.feeder, i)
        if above < i and xs[above] is not None:
            last[above] = i
    return last


def _turn(stop: Stop, index: Mapping[str, int], xs: Sequence[float | None], row: int) -> Turn | None:
    if stop.feeder is None or stop.feeder not in index or index[stop.feeder] >= row:
        return None
    start, end = xs[index[stop.feeder]], xs[row]
    if start is None or end is None:
        return None
    return Turn(start, end, stop.label, run_length(stop.ratio) if stop.label else "long")


def run_length(ratio: Fraction) -> Literal["long", "shortish", "short"]:
    """How long the run of a ratio is, in the widths at which labels move aside.

    >>> run_length(Fraction(2)), run_length(Fraction(1, 4)), run_length(Fraction(29))
    ('short', 'shortish', 'long')
    """
    less, more = sorted((ratio.numerator, ratio.denominator))
    if more * SHORT_RUN.denominator < less * SHORT_RUN.numerator:
        return "short"
    return "shortish" if more < less * SHORT_RUN_IN_PRINT else "long"


@dataclass(frozen=True, slots=True)
class Room:
    """The room to the nearest limit on its own scale: mark at x, the wall at 68, whisker and overrun where drawn."""

    x: float
    mark: Mark
    whisker: tuple[float, float] | None = None
    overrun: float | None = None


WALL = 68.0
LEAST_SEEN = 1e-5


def draw_room(
    mark: Mark,
    nominal: Fraction,
    lowest: Fraction,
    highest: Fraction,
    floor: Fraction | None,
    ceiling: Fraction | None,
) -> Room:
    """The room to the limit: `q = sign(d) log10(1 + |d| / 1e-5) / 5`, x = 68 + 66 q inside, 68 + 32 q beyond.

    >>> draw_room("tight-upper", Fraction(58), Fraction(58), Fraction(58), None, Fraction(58)).x
    68.0
    """
    depth, at_floor = _depth(nominal, floor, ceiling)
    below, above = -share_past(lowest, nominal), share_past(highest, nominal)
    toward, away = (below, above) if at_floor else (above, below)
    x, left, right = _room_x(depth), _room_x(depth - away), _room_x(depth + toward)
    whisker = (left, right) if right - left > 3 else None
    return Room(x, mark, whisker, x if depth > 0 else None)


def _depth(frequency: Fraction, floor: Fraction | None, ceiling: Fraction | None) -> tuple[float, bool]:
    """How far past the nearer limit, as a share, negative inside; and whether that limit is the floor."""
    past_floor = -1.0 if floor is None else share_past(floor, frequency)
    past_ceiling = -1.0 if ceiling is None else share_past(frequency, ceiling)
    return max(past_floor, past_ceiling), past_floor > past_ceiling


def share_past(one: Fraction, other: Fraction) -> float:
    """By which share of the other one is larger, at most 1; from whole numbers, so that no size is too large.

    >>> share_past(Fraction(29), Fraction(27)), share_past(Fraction(10**400), Fraction(1))
    (0.07407407407407407, 1.0)
    """
    above, below = one.numerator * other.denominator, other.numerator * one.denominator
    return 1.0 if above >= 2 * below else (above - below) / below


def _room_x(depth: float) -> float:
    depth = max(-1.0, min(1.0, depth))
    q = log10(1 + abs(depth) / LEAST_SEEN) / 5
    return round(WALL - 66 * q if depth <= 0 else WALL + 32 * q, 2)


ROOM_TICKS: tuple[tuple[float, str], ...] = tuple(
    (_room_x(-share), label)
    for share, label in ((1.0, ""), (0.1, "10\u00a0%"), (0.01, ""), (0.001, "0.1\u00a0%"), (0.0001, ""))
)


def rule_ticks() -> tuple[tuple[float, int], ...]:
    """The page's logarithmic rule: six decades, ticks 1 to 9, as (x in percent, height in px)."""
    heights = {1: 11, 5: 8}
    return tuple(
        (round(100 * (power + log10(digit)) / 6, 3), heights.get(digit, 5))
        for power in range(6)
        for digit in range(1, 10)
    )
