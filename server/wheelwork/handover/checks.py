"""Checks that a compiler makes: a frequency is recomputed from what feeds it, in whole numbers, without rounding.

f = n / d made of f_in = n_in / d_in by f = f_in / R holds exactly when n · d_in · R = n_in · d. Both sides must stay
below 2^64 / 10, so that they also do with any one digit of a constant changed, and the compiler sees every such change:
where they would not, both are divided by numbers that divide a constant on either side, and that they do so without
rest is part of the check.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from fractions import Fraction
from itertools import product
from math import gcd, prod

from wheelwork.handover.constants import LARGEST, Balance, Part, Rounding, Term, Written, value_of

ROOM = (LARGEST + 1) // 10


def plain(number: int) -> Term:
    """A number as a term."""
    return Term((Part(number),))


def named(name: str) -> Term:
    """A constant as a term."""
    return Term((Part(1, name),))


class Sides:
    """The two sides of an equation of fractions, gathered as products of whole numbers."""

    def __init__(self) -> None:
        self.left: list[Term] = []
        self.right: list[Term] = []

    def put_left(self, value: Written | Fraction) -> None:
        """Multiply the left side by a value: what is below its stroke goes to the right."""
        above, below = _terms(value)
        self.left += above
        self.right += below

    def put_right(self, value: Written | Fraction) -> None:
        """Multiply the right side by a value."""
        above, below = _terms(value)
        self.right += above
        self.left += below

    def put(self, other: Sides) -> None:
        """Multiply both sides by those of another equation."""
        self.left += other.left
        self.right += other.right

    def balance(self, name: str, says: str, values: Mapping[str, int]) -> Balance | None:
        """The check that both sides are equal; None where it does not hold or does not fit."""
        left, right = _fit(self.left, self.right, values)
        if _product(left, values) != _product(right, values) or not _has_room(left, values):
            return None
        return Balance(name, says, tuple(left), tuple(right))


def round_check(written: Written, rounded: str, says: str, values: Mapping[str, int]) -> Rounding | None:
    """The check that a constant is a fraction rounded half up; None where it does not fit."""
    if values[written.above] + values[written.below] >= ROOM:
        return None
    return Rounding(rounded, says, written.above, written.below)


def _terms(value: Written | Fraction) -> tuple[list[Term], list[Term]]:
    if isinstance(value, Fraction):
        above, below = plain(value.numerator), plain(value.denominator)
        return [above] if value.numerator != 1 else [], [below] if value.denominator != 1 else []
    return [named(value.above)], [named(value.below)] if value.below else []


def _product(terms: list[Term], values: Mapping[str, int]) -> Fraction:
    return prod((value_of(term, values) for term in terms), start=Fraction(1))


def _has_room(terms: list[Term], values: Mapping[str, int]) -> bool:
    return _product(terms, values) < ROOM and all(value_of(replace(t, divisor=1), values) < ROOM for t in terms)


def _fit(left: list[Term], right: list[Term], values: Mapping[str, int]) -> tuple[list[Term], list[Term]]:
    """Both sides divided by what divides a term on either, the largest first, until their product has room."""
    left, right = list(left), list(right)
    while _product(left, values) >= ROOM:
        pairs = product(range(len(left)), range(len(right)))
        found = [(gcd(_whole(left[i], values), _whole(right[j], values)), -i, -j) for i, j in pairs]
        common, i, j = max(found, default=(1, 0, 0))
        if common == 1:
            break
        left[-i], right[-j] = _divide(left[-i], common), _divide(right[-j], common)
    return left, right


def _whole(term: Term, values: Mapping[str, int]) -> int:
    return int(value_of(term, values))


def _divide(term: Term, by: int) -> Term:
    """A term divided by a number; a plain number is divided at once."""
    if len(term.parts) == 1 and not term.parts[0].name:
        return plain(term.parts[0].number // by)
    return replace(term, divisor=term.divisor * by)
