"""Synchronous serial ports: rate = clock / ratio, never above what the device at the other end bears.

Worked value: 48 MHz and a device for at most 10 MHz ask for the ratio 5, which makes 9.6 MHz; where only 2, 4, 8 … are
offered it is 8 and 6 MHz (common practice, no source: the clock follows the port, so only its highest rate counts).

>>> str(Fraction(48_000_000) / 5), str(Fraction(48_000_000) / 8)
('9600000', '6000000')

Of the ratios that stay at or below the most the fastest comes first; then the nearest of those above it. Memory cards
have their rates by standard: a card is identified at 400 kHz at most, which from 48 MHz takes 120.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, islice
from typing import Any

from wheelwork.findings import Problem
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.nearest import Ordered, values_above, values_below
from wheelwork.links.standards import Standard, take_standard
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.units import FREQUENCY, say_quantity

OWN = "the device's own data sheet: at most this rate"
CARDS = "SD Specifications, Part 1, Physical Layer, bus timing"
MEMORY = "figure not confirmed"

STANDARDS = (
    Standard(
        name="memory-card-identification",
        family="spi",
        title="Memory card, while it is identified",
        slowest=Fraction(100_000),
        fastest=Fraction(400_000),
        allowance=Allowance(Fraction(-3, 4), Fraction(0), f"{CARDS}: at most 400 kHz; at least 100 kHz, {MEMORY}"),
        line="100 to 400 kHz",
    ),
    *(
        Standard(
            name=f"memory-card-{name}",
            family="spi",
            title=f"Memory card, {title}",
            fastest=Fraction(most * 10**6),
            allowance=Allowance(None, Fraction(0), source),
            line=f"at most {most} MHz",
        )
        for name, title, most, source in (
            ("default-speed", "default speed", 25, CARDS),
            ("high-speed", "high speed", 50, CARDS),
            ("multimedia", "MultiMediaCard at high speed", 52, f"MultiMediaCard bus timing, {MEMORY}"),
            (
                "multimedia-compatible",
                "MultiMediaCard, backward compatible",
                20,
                f"MultiMediaCard bus timing, {MEMORY}",
            ),
        )
    ),
)


@dataclass(frozen=True, slots=True)
class Ask:
    """The highest rate (hertz) that the device at the other end bears, and how far the rate may be from it."""

    at_most: Fraction
    allowance: Allowance


class Spi(Family[RatioSet, Ask]):
    """Synchronous serial. The rate is that of its clock line, in hertz; the error is against the most allowed."""

    name = "spi"
    title = "synchronous serial"
    rule = "rate = clock / ratio"
    sources = ("common practice, no source", CARDS)
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)
    measured = "Send a byte; the clock line within it."

    def read_generator(self, fields: Fields) -> RatioSet:
        """`ratios`."""
        ratios = fields.counts("ratios")
        fields.finish()
        assert ratios is not None
        return ratios

    def read_ask(self, fields: Fields) -> Ask:
        """`at_most`, or a `standard` that says it; a lower `at_most` may stand beside a standard."""
        standard = take_standard(fields, STANDARDS)
        if standard is None and "at_most" not in fields.raw and "standard" not in fields.raw:
            fields.need("at_most", lambda raw: raw, 'the highest rate the device bears, such as "10 MHz"')
        most = None if standard is None else standard.fastest
        at_most = fields.quantity("at_most", FREQUENCY, most)
        if standard is not None and most is not None and at_most is not None and not _bears(standard, at_most):
            slowest = f" and at least {say_quantity(standard.slowest, FREQUENCY)}" if standard.slowest else ""
            what = f"{say_quantity(at_most, FREQUENCY)} is not what {standard.title} bears"
            allowed = f"at most {say_quantity(most, FREQUENCY)}{slowest} is"
            fields.problems.append(Problem(f"{fields.where}.at_most", what, allowed))
        fields.finish()
        assert at_most is not None
        return Ask(at_most, _allowance(standard, at_most))

    def answer(self, feed: Feed, generator: RatioSet, ask: Ask) -> LinkAnswer:
        """The ratios at or below the most, the fastest first; a ratio beyond a neighbour is only further off."""
        aim, offered = feed.nominal / ask.at_most, Ordered(generator)
        on_it = [aim] if aim in offered else []
        too_fast = values_below(offered, 1, Fraction(-(-aim // 1) - 1))
        ratios = islice(chain(on_it, values_above(offered, 1, aim), too_fast), MOST_CHOICES)
        choices = tuple(self._choice(feed, ask, ratio) for ratio in ratios)
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def _choice(self, feed: Feed, ask: Ask, ratio: Fraction) -> Choice:
        rate = feed.nominal / ratio
        error, lowest, highest = errors_of(rate, ask.at_most, feed.tolerance)
        return Choice(
            settings={"ratio": int(ratio)},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
        )

    def settle(self, feed: Feed, generator: RatioSet, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The ratio that a plan has chosen. Raises Refused where it is not offered."""
        fields = Fields(chosen, where)
        ratio = fields.pick("ratio", generator, "8")
        fields.finish()
        assert ratio is not None
        return self._choice(feed, ask, Fraction(ratio))


def _bears(standard: Standard, rate: Fraction) -> bool:
    slowest, fastest = standard.slowest or 0, standard.fastest
    return slowest <= rate and (fastest is None or rate <= fastest)


def _allowance(standard: Standard | None, at_most: Fraction) -> Allowance:
    """From the slowest rate of a standard, where it has one, to the most."""
    if standard is None or standard.allowance is None:
        return Allowance(None, Fraction(0), OWN)
    lowest = None if standard.slowest is None else standard.slowest / at_most - 1
    return Allowance(lowest, Fraction(0), standard.allowance.source)


FAMILY = Spi()
