"""Families that count by two factors, each from 1 up: what they offer, what is chosen, rates above the clock."""

from __future__ import annotations

from abc import abstractmethod
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import prod
from typing import Any, ClassVar, TypeVar

from wheelwork.findings import Problem
from wheelwork.links.family import Choice, Family, Feed
from wheelwork.links.fields import Fields, Refused
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import TIME, say_frequency, say_quantity

MOST_TRIED = 2**16
"""Of two factors the shorter set may be this long, since all of it is tried."""

A = TypeVar("A")


@dataclass(frozen=True, slots=True)
class Factors:
    """The two factors that the hardware offers."""

    first: RatioSet
    second: RatioSet


class TwoFactors(Family[Factors, A]):
    """A family that offers two factors and nothing else. `keys` are their names, `examples` a number for each."""

    keys: ClassVar[tuple[str, str]] = ("prescaler", "reload")
    examples: ClassVar[tuple[str, str]] = ("8", "1000")

    def read_generator(self, fields: Fields) -> Factors:
        """The two factors by their names."""
        first, second = read_factors(fields, *self.keys)
        fields.finish()
        assert first is not None
        assert second is not None
        return Factors(first, second)

    @abstractmethod
    def choice(self, feed: Feed, ask: A, first: int, second: int) -> Choice:
        """What two factors make of a clock."""

    def settle(self, feed: Feed, generator: Factors, ask: A, chosen: Mapping[str, Any], where: str) -> Choice:
        """The two factors that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        first, second = (
            fields.pick(key, offered, example)
            for key, offered, example in zip(self.keys, (generator.first, generator.second), self.examples, strict=True)
        )
        fields.finish()
        assert first is not None
        assert second is not None
        return self.choice(feed, ask, first, second)


def read_factors(fields: Fields, first: str, second: str) -> tuple[RatioSet | None, RatioSet | None]:
    """Two factors of a generator; a problem where both offer so many that they cannot be tried."""
    one, other = fields.counts(first), fields.counts(second)
    if one is not None and other is not None and min(one.size, other.size) > MOST_TRIED:
        what = f"offers {one.size} numbers, and {second} {other.size}"
        fields.problems.append(Problem(f"{fields.where}.{first}", what, f"one of the two may offer {MOST_TRIED}"))
    return one, other


def hold_to_clock(feed: Feed, rate: Fraction, key: str, *factors: RatioSet) -> None:
    """Nothing counted is faster than what it counts. Raises Refused for a rate above the clock, or such a time.

    `key` is what was asked for, a `rate` or a time; `factors` are those that divide the clock.
    """
    if rate <= feed.nominal:
        return
    most = feed.nominal / prod(offered.lowest for offered in factors)
    what = f"{say_frequency(rate)} is above its clock, {say_frequency(feed.nominal)}"
    allowed = f"at most {say_frequency(most)} comes of that clock"
    if key != "rate":
        what = f"{say_quantity(1 / rate, TIME)} is shorter than its clock's period, "
        what += say_quantity(1 / feed.nominal, TIME)
        allowed = f"at least {say_quantity(1 / most, TIME)} comes of that clock"
    raise Refused([Problem(f"ask.{key}", what, allowed)])


def errors_as_asked(
    rate: Fraction, wanted: Fraction, as_period: bool, tolerance: Span
) -> tuple[Fraction, Fraction, Fraction]:
    """Error as a share of what was asked for, with its span: of the rate, or of the period, which moves the other way.

    >>> [str(each) for each in errors_as_asked(Fraction(100), Fraction(101), True, Span(Fraction(0), Fraction(1, 99)))]
    ['1/100', '-1/10000', '1/100']
    """
    if not as_period:
        share = rate / wanted
        return share - 1, share * (1 + tolerance.lowest) - 1, share * (1 + tolerance.highest) - 1
    share = wanted / rate
    return share - 1, share / (1 + tolerance.highest) - 1, share / (1 + tolerance.lowest) - 1
