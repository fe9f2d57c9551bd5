"""Combs: where along one clock's window each of two wishes could be met, teeth from above and from below.

The axis is logarithmic over the window and all teeth, with a margin on each side; x is in percent.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from fractions import Fraction
from math import floor, log10

from wheelwork.charts.axis import Axis, decades
from wheelwork.charts.lanes import Band, draw_band
from wheelwork.quantities.numbers import write_cut
from wheelwork.quantities.units import FREQUENCY, pick_unit, say_frequency

MARGIN = 0.12
"""What stays free on each side, as a share of the length from the first to the last edge or tooth."""
WIDTH_OF_SIGN = 2.0
"""A label takes so much of the picture, in percent for each sign: 12 px type on a phone's 350 px."""
MOST_TICKS = 6


@dataclass(frozen=True, slots=True)
class Tooth:
    """One place where a wish could be met: x in percent, and its figure where there is room for one."""

    x: float
    label: str


@dataclass(frozen=True, slots=True)
class CombTick:
    """A tick with its label; `close`: on a phone the label would run into the one before it."""

    x: float
    label: str
    close: bool


@dataclass(frozen=True, slots=True)
class CombsPicture:
    """The window, the teeth of each comb from left to right, and the ticks below them."""

    band: Band
    combs: tuple[tuple[Tooth, ...], ...]
    ticks: tuple[CombTick, ...]
    unit: str


def draw_combs(
    lowest: Fraction | None, highest: Fraction | None, teeth: Sequence[Sequence[Fraction]]
) -> CombsPicture | None:
    """The picture of some combs over a window (an edge may be open); None where there is nothing to place."""
    edges = [edge for edge in (lowest, highest) if edge is not None]
    places = sorted({*edges, *(tooth for comb in teeth for tooth in comb)})
    if not places:
        return None
    axis = _axis(places)
    unit = pick_unit(places[-1], FREQUENCY)
    combs = tuple(tuple(_label(axis, sorted(comb), FREQUENCY.units[unit])) for comb in teeth)
    return CombsPicture(draw_band(axis, lowest, highest), combs, tuple(_spread(_ticks(axis))), unit)


def _axis(places: Sequence[Fraction]) -> Axis:
    low, high = decades(places[0]), decades(places[-1])
    margin = MARGIN * (high - low) or MARGIN
    return Axis(low - margin, high + margin)


def _label(axis: Axis, comb: Iterable[Fraction], unit: Fraction) -> Iterable[Tooth]:
    """The teeth, labelled from the left as long as a label does not run into the one before it."""
    free = 0.0
    for tooth in comb:
        x, label = axis.x(tooth), write_cut(tooth / unit, 3)
        half = WIDTH_OF_SIGN * len(label) / 2
        fits = x - half >= free
        free = x + half + WIDTH_OF_SIGN / 2 if fits else free
        yield Tooth(x, label if fits else "")


def _ticks(axis: Axis) -> Iterable[tuple[float, str]]:
    """Round frequencies along the axis: powers of ten where it is long, else even steps of 1, 2 or 5."""
    if axis.high - axis.low > 1:
        return [(tick.x, tick.label) for tick in axis.ticks() if tick.size == "ten"]
    low, high = Fraction(10**axis.low), Fraction(10**axis.high)
    step = _step((high - low) / MOST_TICKS)
    first = -(-low // step)
    steps = (step * place for place in range(int(first), int(high // step) + 1))
    return [(axis.x(place), say_frequency(place)) for place in steps if place > 0]


def _spread(ticks: Iterable[tuple[float, str]]) -> Iterable[CombTick]:
    free = 0.0
    for x, label in ticks:
        half = WIDTH_OF_SIGN * len(label) / 2
        close = x - half < free
        free = free if close else x + half
        yield CombTick(x, label, close)


def _step(least: Fraction) -> Fraction:
    """The smallest step of 1, 2, 5 times a power of ten that is not below this."""
    power = Fraction(10) ** floor(log10(least))
    return next(step * power for step in (1, 2, 5, 10, 20) if step * power >= least)
