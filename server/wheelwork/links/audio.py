"""Audio ports: sample rate = clock / (divisor * master), the master clock being 256, 384 or 512 times the sample rate.

Worked value: 24.576 MHz / 2 is a master clock of 12.288 MHz, 256 times 48 kHz (AES5 for the rate; master clocks by
ratio: tables in converter data sheets).

>>> 24_576_000 // 2, 256 * 48_000
(12288000, 12288000)

Least error first. Preference among equal errors: the larger ratio of master clock to sample rate, on which converters
filter better (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Any

from wheelwork.links.allowances import read_allowance, within
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
from wheelwork.links.timer import read_offered
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.units import FREQUENCY

STANDARDS = (
    Standard(
        name="iec-60958-high-accuracy",
        family="audio",
        title="Digital audio interface, high accuracy",
        allowance=within("0.005", "IEC 60958-3, level I: 50 ppm"),
        line="any sample rate within 50 ppm",
    ),
    Standard(
        name="iec-60958-normal",
        family="audio",
        title="Digital audio interface, normal accuracy",
        allowance=within("0.1", "IEC 60958-3, level II: 1000 ppm"),
        line="any sample rate within 1000 ppm",
    ),
)
USUAL = STANDARDS[1].allowance
MOST_MASTERS = 64


@dataclass(frozen=True, slots=True)
class Generator:
    """Ratios of master clock to sample rate that the converter takes, and the divisor before the master clock."""

    master: RatioSet
    divisor: RatioSet


@dataclass(frozen=True, slots=True)
class Ask:
    """The sample rate wanted (hertz) and how far it may be off."""

    sample_rate: Fraction
    allowance: Allowance


class Audio(Family[Generator, Ask]):
    """An audio port. The rate is the sample rate in hertz."""

    name = "audio"
    title = "audio"
    rule = "sample rate = clock / (divisor × master)"
    sources = ("AES5", "IEC 60958-3")
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)

    def read_generator(self, fields: Fields) -> Generator:
        """`master`, `divisor`."""
        master = fields.counts("master", read_ratios([256]), MOST_MASTERS)
        divisor = fields.counts("divisor", read_ratios([1]))
        fields.finish()
        assert master is not None
        assert divisor is not None
        return Generator(master, divisor)

    def read_ask(self, fields: Fields) -> Ask:
        """`sample_rate`, `standard`, `allowance`."""
        standard = take_standard(fields, STANDARDS)
        if "sample_rate" not in fields.raw:
            fields.need("sample_rate", lambda raw: raw, 'a sample rate such as "48 kHz"')
        rate, own = fields.quantity("sample_rate", FREQUENCY), read_allowance(fields)
        fields.finish()
        allowance = own or (standard.allowance if standard else USUAL)
        assert rate is not None
        assert allowance is not None
        return Ask(rate, allowance)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest divisors of each ratio on both sides: beyond a neighbour none is nearer."""
        made = [self._choice(feed, ask, *pair) for pair in self._pairs(feed, generator, ask)]
        made.sort(key=_order)
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def _pairs(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[int, int]]:
        divisors = Ordered(generator.divisor)
        for master in generator.master:
            aim = feed.nominal / (master * ask.sample_rate)
            for values in (values_below, values_above):
                yield from ((int(master), int(value)) for value in islice(values(divisors, 1, aim), MOST_CHOICES))

    def _choice(self, feed: Feed, ask: Ask, master: int, divisor: int) -> Choice:
        rate = feed.nominal / (master * divisor)
        error, lowest, highest = errors_of(rate, ask.sample_rate, feed.tolerance)
        return Choice(
            settings={"master": master, "divisor": divisor},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
            told={"master_clock": feed.nominal / divisor},
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The ratio and divisor that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        master = fields.need("master", lambda raw: read_offered(raw, generator.master), "256")
        divisor = fields.need("divisor", lambda raw: read_offered(raw, generator.divisor), "2")
        fields.finish()
        assert master is not None
        assert divisor is not None
        return self._choice(feed, ask, master, divisor)


def _order(choice: Choice) -> tuple[Fraction, int]:
    master = choice.settings["master"]
    assert isinstance(master, int)
    return abs(choice.error or Fraction(0)), -master


FAMILY = Audio()
