"""The little way down: a clock's path in one row of a table, 30 px high, a ratio as a step sideways.

Stops stand below each other, feeders first, x in percent on an axis that all rows share. From a stop a thread drops
to the height of each stop it feeds and runs across to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.axis import Axis

HEIGHT, MARGIN = 30, 4
"""Pixels: the height of the picture, and what stays free above the first stop and below the last."""


@dataclass(frozen=True, slots=True)
class WayStop:
    """A clock on the way: its frequency, and the place in the list of the stop that feeds it."""

    frequency: Fraction
    feeder: int | None = None


@dataclass(frozen=True, slots=True)
class Thread:
    """From a stop down to the height of one that it feeds, and across to it: x in percent, y in pixels."""

    x: float
    top: float
    bottom: float
    end: float


@dataclass(frozen=True, slots=True)
class WayDown:
    """Marks at (x in percent, y in pixels), and the threads between them."""

    marks: tuple[tuple[float, float], ...]
    threads: tuple[Thread, ...]


def draw_way(axis: Axis, stops: Sequence[WayStop]) -> WayDown:
    """The little way down of some stops, feeders first.

    >>> draw_way(Axis(6.0, 8.0), [WayStop(Fraction(10**6)), WayStop(Fraction(10**7), 0)])
    WayDown(marks=((0.0, 4.0), (50.0, 26.0)), threads=(Thread(x=0.0, top=4.0, bottom=26.0, end=50.0),))
    """
    marks = tuple((axis.x(stop.frequency), _height(place, len(stops))) for place, stop in enumerate(stops))
    fed = ((marks[stop.feeder], mark) for stop, mark in zip(stops, marks, strict=True) if stop.feeder is not None)
    return WayDown(marks, tuple(Thread(above[0], above[1], own[1], own[0]) for above, own in fed))


def _height(place: int, count: int) -> float:
    """Stops stand evenly between the margins; a lone one in the middle."""
    return HEIGHT / 2 if count == 1 else round(MARGIN + (HEIGHT - 2 * MARGIN) * place / (count - 1), 2)
