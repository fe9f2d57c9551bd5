"""Preferred values: the E24 series of IEC 60063, 24 values a decade, and the pairs of neighbours in it.

>>> [str(value) for value in E24[:3]], len(E24)
(['1', '11/10', '6/5'], 24)
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

SOURCE = "IEC 60063, series E24"
E24 = tuple(
    Fraction(value, 10)
    for value in (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)
)


def decades(unit: Fraction, count: int) -> tuple[Fraction, ...]:
    """The series over so many decades from a unit up."""
    return tuple(value * unit * 10**decade for decade in range(count) for value in E24)


def neighbours(values: tuple[Fraction, ...], apart: int) -> Iterator[tuple[Fraction, Fraction]]:
    """Every pair, the smaller first, whose two values are at most so many steps of the series apart."""
    for place, first in enumerate(values):
        for second in values[place : place + apart + 1]:
            yield first, second
