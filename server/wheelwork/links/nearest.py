"""The offered values nearest to a wanted one, proven: a value beyond a neighbour is never nearer than the neighbour."""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.quantities.ratios import RatioSet


def values_near(offered: RatioSet, parts: int, aim: Fraction, count: int) -> Iterator[Fraction]:
    """Values n + k / parts, n offered and k from 0 to parts - 1: so many below the aim (or on it), as many above.

    From the aim outwards on each side.

    >>> from wheelwork.quantities.ratios import read_ratios
    >>> [str(each) for each in values_near(read_ratios("1..65535"), 16, Fraction("15.73"), 2)]
    ['251/16', '125/8', '63/4', '253/16']
    """
    below: Fraction | None = aim
    for _ in range(count):
        below = None if below is None else _at_most(offered, parts, below)
        if below is None:
            break
        yield below
        below -= Fraction(1, parts)
    above: Fraction | None = _after(aim, parts)
    for _ in range(count):
        above = None if above is None else _at_least(offered, parts, above)
        if above is None:
            break
        yield above
        above += Fraction(1, parts)


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
