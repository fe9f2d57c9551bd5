"""The picture of charge for a piece of work against core clock: one curve for each core-voltage step, 660 × 300 px.

The clock runs on a logarithmic axis, the charge on a straight one from zero. What costs more than three times the least
is not drawn: there every curve only climbs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import ceil, floor, log10

WIDTH, HEIGHT = 660, 300
LEFT, RIGHT, TOP, BOTTOM = 64, 76, 26, 44
MOST = 3
"""Times the least charge that is still drawn."""
DASHES = ("solid", "dashed", "dotted", "dashdot")

Point = tuple[Fraction, Fraction]
"""A core clock (Hz) and a charge (C)."""
Place = tuple[float, float]


@dataclass(frozen=True, slots=True)
class Curve:
    """The curve of a step: its line, the end of the step's span, and how it is drawn."""

    label: str
    dash: str
    line: tuple[Place, ...]
    end: Place


@dataclass(frozen=True, slots=True)
class Tick:
    """A place on an axis with what it stands for."""

    at: float
    value: Fraction


@dataclass(frozen=True, slots=True)
class ChargePicture:
    """The picture: curves, ticks of both axes, and the places of marks (None: outside of it)."""

    curves: tuple[Curve, ...]
    across: tuple[Tick, ...]
    up: tuple[Tick, ...]
    marks: tuple[Place | None, ...]


def draw_charges(steps: Sequence[tuple[str, Sequence[Point]]], marks: Sequence[Point]) -> ChargePicture | None:
    """The picture of some steps, each with its points from the slowest clock on, and of marks; None without any."""
    least = min((charge for _, points in steps for _, charge in points), default=None)
    if least is None:
        return None
    shown = [(label, [each for each in points if each[1] <= MOST * least]) for label, points in steps]
    near = [mark for mark in marks if mark[1] <= MOST * least]
    drawn = [point for _, points in shown for point in points] + near
    low, high = min(clock for clock, _ in drawn), max(clock for clock, _ in drawn)
    if low == high:
        low, high = low / 2, high * 2
    top = _round_up(max(charge for _, charge in drawn))

    def place(point: Point) -> Place:
        across = (log10(point[0]) - log10(low)) / (log10(high) - log10(low))
        up = float(point[1] / top)
        return round(LEFT + across * (WIDTH - LEFT - RIGHT), 1), round(
            HEIGHT - BOTTOM - up * (HEIGHT - TOP - BOTTOM), 1
        )

    curves = []
    for number, (label, points) in enumerate(shown):
        if points:
            line = tuple(place(point) for point in points)
            curves.append(Curve(label, DASHES[number % len(DASHES)], line, line[-1]))
    across = tuple(Tick(place((value, Fraction(0)))[0], value) for value in _clock_ticks(low, high))
    up = tuple(Tick(place((low, value))[1], value) for value in (top * part / 4 for part in range(5)))
    inside = tuple(place(mark) if mark in near else None for mark in marks)
    return ChargePicture(tuple(curves), across, up, inside)


def _round_up(charge: Fraction) -> Fraction:
    """The next charge that four even ticks divide well: 1, 2, 4 or 8 times a power of ten.

    >>> str(_round_up(Fraction(66)))
    '80'
    """
    power = Fraction(10) ** floor(log10(charge))
    return next(power * step for step in (1, 2, 4, 8, 10) if power * step >= charge)


def _clock_ticks(low: Fraction, high: Fraction) -> list[Fraction]:
    """The 1, 2 and 5 of each power of ten between two clocks."""
    powers = range(floor(log10(low)), ceil(log10(high)) + 1)
    found = [Fraction(10) ** power * step for power in powers for step in (1, 2, 5)]
    return [value for value in found if low <= value <= high]
