"""A clock that is itself what a standard speaks of: its frequency and how far it may be off.

Worked value: 8 MHz · 12 / 2 is 48 MHz, four times the 12 Mbit/s of USB full speed, without an error of its own; a
function bears 0.25 % (USB 2.0, section 7.1.11), 48 MHz ± 120 kHz.

>>> str(Fraction(8_000_000) * 12 / 2), str(Fraction(48_000_000) * Fraction(25, 10_000))
('48000000', '120000')

There is nothing to set, so there is one choice: the clock as it is.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem
from wheelwork.links.allowances import read_allowance
from wheelwork.links.clock_standards import STANDARDS, USB
from wheelwork.links.family import (
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
from wheelwork.links.standards import take_rate, take_standard
from wheelwork.quantities.units import FREQUENCY


@dataclass(frozen=True, slots=True)
class Ask:
    """The frequency wanted (hertz; None: the clock's own nominal) and how far it may be off."""

    rate: Fraction | None
    allowance: Allowance


class Reference(Family[None, Ask]):
    """A reference clock. The rate is the clock's own frequency in hertz."""

    name = "reference"
    title = "reference clock"
    rule = "rate = clock"
    sources = (USB, "RMII Specification rev. 1.2", "Bluetooth Core Specification 5.2")
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)
    measured = "The clock at its pin."

    def read_generator(self, fields: Fields) -> None:
        """Nothing: the load takes the clock as it is."""
        fields.finish()

    def read_ask(self, fields: Fields) -> Ask:
        """`standard`, or `rate` with `allowance`; either may stand beside a standard that leaves it open."""
        standard = take_standard(fields, STANDARDS)
        any_rate = standard is not None and standard.rate is None
        rate = None if any_rate and "rate" not in fields.raw else take_rate(fields, standard, kind=FREQUENCY)
        fields.known.append("rate")
        own = read_allowance(fields) or (standard.allowance if standard else None)
        if own is None and "standard" not in fields.raw and "allowance" not in fields.raw:
            fields.problems.append(
                Problem(
                    f"{fields.where}.standard", "is missing", "name a standard, or write an allowance such as ±50 ppm"
                )
            )
        fields.finish()
        assert own is not None
        return Ask(rate, own)

    def answer(self, feed: Feed, generator: None, ask: Ask) -> LinkAnswer:
        """The clock against what is asked of it."""
        wanted = ask.rate or feed.nominal
        error, lowest, highest = errors_of(feed.nominal, wanted, feed.tolerance)
        choice = Choice(
            settings={},
            rate=feed.nominal,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
        )
        return LinkAnswer((choice,), ask.allowance, best_verdict((choice,)))

    def settle(self, feed: Feed, generator: None, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """There is nothing to choose. Raises Refused where something is."""
        Fields(chosen, where).finish()
        return self.answer(feed, generator, ask).choices[0]


FAMILY = Reference()
