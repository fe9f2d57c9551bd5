"""Synchronous serial ports: rate = clock / ratio, never above what the device at the other end bears.

Worked value: 48 MHz and a device for at most 10 MHz ask for the ratio 5, which makes 9.6 MHz; where only 2, 4, 8 … are
offered it is 8 and 6 MHz (common practice, no source: the clock follows the port, so only its highest rate counts).

>>> str(Fraction(48_000_000) / 5), str(Fraction(48_000_000) / 8)
('9600000', '6000000')

Of the ratios that stay at or below the most the fastest comes first; then the nearest of those above it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import chain, islice
from typing import Any

from wheelwork.findings import Unreadable, quote
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
from wheelwork.links.fields import Fields, read_number_of
from wheelwork.links.nearest import Ordered, values_above, values_below
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.units import FREQUENCY

MOST = Allowance(None, Fraction(0), "the device's own data sheet: at most this rate")


@dataclass(frozen=True, slots=True)
class Ask:
    """The highest rate (hertz) that the device at the other end bears."""

    at_most: Fraction


class Spi(Family[RatioSet, Ask]):
    """Synchronous serial. The rate is that of its clock line, in hertz; the error is against the most allowed."""

    name = "spi"
    title = "synchronous serial"
    rule = "rate = clock / ratio"
    sources = ("common practice, no source",)
    rate_unit = "Hz"

    def read_generator(self, fields: Fields) -> RatioSet:
        """`ratios`."""
        ratios = fields.counts("ratios")
        fields.finish()
        assert ratios is not None
        return ratios

    def read_ask(self, fields: Fields) -> Ask:
        """`at_most`."""
        if "at_most" not in fields.raw:
            fields.need("at_most", lambda raw: raw, 'the highest rate the device bears, such as "10 MHz"')
        at_most = fields.quantity("at_most", FREQUENCY)
        fields.finish()
        assert at_most is not None
        return Ask(at_most)

    def answer(self, feed: Feed, generator: RatioSet, ask: Ask) -> LinkAnswer:
        """The ratios at or below the most, the fastest first; a ratio beyond a neighbour is only further off."""
        aim, offered = feed.nominal / ask.at_most, Ordered(generator)
        on_it = [aim] if aim in offered else []
        too_fast = values_below(offered, 1, Fraction(-(-aim // 1) - 1))
        ratios = islice(chain(on_it, values_above(offered, 1, aim), too_fast), MOST_CHOICES)
        choices = tuple(self._choice(feed, ask, ratio) for ratio in ratios)
        return LinkAnswer(choices, MOST, best_verdict(choices))

    def _choice(self, feed: Feed, ask: Ask, ratio: Fraction) -> Choice:
        rate = feed.nominal / ratio
        error, lowest, highest = errors_of(rate, ask.at_most, feed.tolerance)
        return Choice(
            settings={"ratio": int(ratio)},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, MOST),
        )

    def settle(self, feed: Feed, generator: RatioSet, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The ratio that a plan has chosen. Raises Refused where it is not offered."""
        fields = Fields(chosen, where)

        def read(raw: object) -> Fraction:
            value = read_number_of(raw)
            if value not in generator:
                raise Unreadable(f"{quote(raw)} is not offered", f"{generator.words()} are")
            return value

        ratio = fields.need("ratio", read, "8")
        fields.finish()
        assert ratio is not None
        return self._choice(feed, ask, ratio)


FAMILY = Spi()
