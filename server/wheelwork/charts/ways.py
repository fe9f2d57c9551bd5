"""The little way down: a clock's path in one row of a table, 170 × 30 px, a ratio as a step sideways.

Stops stand evenly below each other, feeders first, on an axis that all rows of the table share. From a stop a thread
drops to half a step above each stop that it feeds, runs across, and drops to it.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.axis import Axis

WIDTH, HEIGHT, MARGIN = 170, 30, 4
"""Pixels: the picture, and what stays free above the first stop and below the last."""

Point = tuple[float, float]


@dataclass(frozen=True, slots=True)
class WayStop:
    """A clock on the way: its frequency, and the place in the list of the stop that feeds it."""

    frequency: Fraction
    feeder: int | None = None


@dataclass(frozen=True, slots=True)
class WayDown:
    """Marks at their (x, y) in pixels, and the threads between them as lines of four points."""

    marks: tuple[Point, ...]
    threads: tuple[tuple[Point, ...], ...]

    @property
    def lines(self) -> tuple[str, ...]:
        """The threads as SVG's polylines take them.

        >>> WayDown((), (((0.0, 4.0), (85.0, 4.0)),)).lines
        ('0.0,4.0 85.0,4.0',)
        """
        return tuple(" ".join(f"{x},{y}" for x, y in thread) for thread in self.threads)

    @property
    def diamonds(self) -> str:
        """The marks as one SVG path: a diamond for each.

        >>> WayDown(((0.0, 4.0), (85.0, 26.0)), ()).diamonds
        'M0.0 -1.0l2.4 5-2.4 5-2.4-5zM85.0 21.0l2.4 5-2.4 5-2.4-5z'
        """
        return "".join(f"M{x} {y - 5}l2.4 5-2.4 5-2.4-5z" for x, y in self.marks)


def draw_way(axis: Axis, stops: Sequence[WayStop]) -> WayDown:
    """The little way down of some stops, feeders first.

    >>> draw_way(Axis(6.0, 8.0), [WayStop(Fraction(10**6)), WayStop(Fraction(10**7), 0)]).threads
    (((0.0, 4.0), (0.0, 15.0), (85.0, 15.0), (85.0, 26.0)),)
    """
    step = (HEIGHT - 2 * MARGIN) / max(len(stops) - 1, 1)
    first = MARGIN if len(stops) > 1 else HEIGHT / 2
    marks = tuple(
        (round(axis.x(stop.frequency) * WIDTH / 100, 1), first + step * place) for place, stop in enumerate(stops)
    )
    fed = ((marks[stop.feeder], mark) for stop, mark in zip(stops, marks, strict=True) if stop.feeder is not None)
    return WayDown(marks, tuple(_thread(above, own, step / 2) for above, own in fed))


def _thread(above: Point, own: Point, drop: float) -> tuple[Point, ...]:
    turn = own[1] - drop
    return above, (above[0], turn), (own[0], turn), own
