"""The offered values nearest to a wanted one, proven: a value beyond a neighbour is never nearer than the neighbour."""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator
from fractions import Fraction
from itertools import islice
from typing import Protocol

from wheelwork.quantities.ratios import RatioSet


class Offered(Protocol):
    """Whole numbers that are offered: a RatioSet, or one put in order."""

    def __contains__(self, value: object, /) -> bool: ...

    def at_most(self, bound: Fraction, /) -> Fraction | None:
        """The highest one not above the bound."""

    def at_least(self, bound: Fraction, /) -> Fraction | None:
        """The lowest one not below the bound."""


class Ordered:
    """A ratio set put in order once, so that a long list of single numbers is not walked at every question."""

    def __init__(self, offered: RatioSet) -> None:
        self._ranges = RatioSet(tuple(run for run in offered.runs if run.first != run.last))
        self._singles = sorted(run.first for run in offered.runs if run.first == run.last)

    def __contains__(self, value: object) -> bool:
        if value in self._ranges:
            return True
        return isinstance(value, Fraction | int) and self._single(bisect_left(self._singles, value)) == value

    def at_most(self, bound: Fraction) -> Fraction | None:
        """The highest one not above the bound."""
        found = self._single(bisect_right(self._singles, bound) - 1), self._ranges.at_most(bound)
        return max((each for each in found if each is not None), default=None)

    def at_least(self, bound: Fraction) -> Fraction | None:
        """The lowest one not below the bound."""
        found = self._single(bisect_left(self._singles, bound)), self._ranges.at_least(bound)
        return min((each for each in found if each is not None), default=None)

    def _single(self, place: int) -> Fraction | None:
        return self._singles[place] if 0 <= place < len(self._singles) else None


def values_near(offered: Offered, parts: int, aim: Fraction, count: int) -> Iterator[Fraction]:
    """Values n + k / parts: so many below the aim (or on it), as many above, from the aim outwards on each side.

    n is one of the whole numbers offered, k goes from 0 to parts - 1.

    >>> from wheelwork.quantities.ratios import read_ratios
    >>> [str(each) for each in values_near(read_ratios("1..65535"), 16, Fraction("15.73"), 2)]
    ['251/16', '125/8', '63/4', '253/16']
    """
    yield from islice(values_below(offered, parts, aim), count)
    yield from islice(values_above(offered, parts, aim), count)


def values_below(offered: Offered, parts: int, aim: Fraction) -> Iterator[Fraction]:
    """Every such value that is not above the aim, from the aim downwards."""
    below = _at_most(offered, parts, aim)
    while below is not None:
        yield below
        below = _at_most(offered, parts, below - Fraction(1, parts))


def values_above(offered: Offered, parts: int, aim: Fraction) -> Iterator[Fraction]:
    """Every such value above the aim, from the aim upwards."""
    above = _at_least(offered, parts, _after(aim, parts))
    while above is not None:
        yield above
        above = _at_least(offered, parts, above + Fraction(1, parts))


def _after(aim: Fraction, parts: int) -> Fraction:
    """The first multiple of 1 / parts above the aim."""
    return Fraction(aim * parts // 1 + 1, parts)


def _at_most(offered: Offered, parts: int, bound: Fraction) -> Fraction | None:
    whole = Fraction(bound // 1)
    if whole in offered:
        return Fraction(bound * parts // 1, parts)
    lower = offered.at_most(whole)
    return None if lower is None else lower + Fraction(parts - 1, parts)


def _at_least(offered: Offered, parts: int, bound: Fraction) -> Fraction | None:
    whole = Fraction(bound // 1)
    if whole in offered:
        return Fraction(-(-bound * parts // 1), parts)
    return offered.at_least(bound)
