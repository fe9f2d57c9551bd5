"""The offered values nearest to a wanted one, proven: a value beyond a neighbour is never nearer than the neighbour."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction
from itertools import islice

from wheelwork.quantities.ratios import RatioSet


def values_near(offered: RatioSet, parts: int, aim: Fraction, count: int) -> Iterator[Fraction]:
    """Values n + k / parts: so many below the aim (or on it), as many above, from the aim outwards on each side.

    n is one of the whole numbers offered, k goes from 0 to parts - 1.

    >>> from wheelwork.quantities.ratios import read_ratios
    >>> [str(each) for each in values_near(read_ratios("1..65535"), 16, Fraction("15.73"), 2)]
    ['251/16', '125/8', '63/4', '253/16']
    """
    yield from islice(values_below(offered, parts, aim), count)
    yield from islice(values_above(offered, parts, aim), count)


def values_below(offered: RatioSet, parts: int, aim: Fraction) -> Iterator[Fraction]:
    """Every such value that is not above the aim, from the aim downwards."""
    below = _at_most(offered, parts, aim)
    while below is not None:
        yield below
        below = _at_most(offered, parts, below - Fraction(1, parts))


def values_above(offered: RatioSet, parts: int, aim: Fraction) -> Iterator[Fraction]:
    """Every such value above the aim, from the aim upwards."""
    above = _at_least(offered, parts, _after(aim, parts))
    while above is not None:
        yield above
        above = _at_least(offered, parts, above + Fraction(1, parts))


def _after(aim: Fraction, parts: int) -> Fraction:
    """The first multiple of 1 / parts above the aim."""
    return Fraction(aim * parts // 1 + 1, parts)


def _at_most(offered: RatioSet, parts: int, bound: Fraction) -> Fraction | None:
    whole = Fraction(bound // 1)
    if whole in offered:
        return Fraction(bound * parts // 1, parts)
    lower = offered.at_most(whole)
    return None if lower is None else lower + Fraction(parts - 1, parts)


def _at_least(offered: RatioSet, parts: int, bound: Fraction) -> Fraction | None:
    whole = Fraction(bound // 1)
    if whole in offered:
        return Fraction(-(-bound * parts // 1), parts)
    return offered.at_least(bound)
