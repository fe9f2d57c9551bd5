"""Asynchronous serial ports: rate = clock / (oversampling * divisor), the divisor whole or in parts of one.

Worked value: 1.8432 MHz, oversampling 16, divisor 12 gives 1 843 200 / (16 * 12) = 9600 Bd (TL16C550C data sheet
SLLS177I, Table 7-9). Preference among equal errors: the larger oversampling, which samples the bit more finely
(common practice, no source).
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Unreadable, quote
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
from wheelwork.links.fields import Fields, read_number_of
from wheelwork.links.nearest import values_near
from wheelwork.links.standards import Standard
from wheelwork.quantities.ratios import RatioSet, read_ratios

STANDARDS = (
    Standard(
        name="midi",
        family="uart",
        title="MIDI 1.0",
        rate=Fraction(31250),
        allowance=within("1", "IEC 63035:2017 (MIDI 1.0), clause 4.1"),
        line="31 250 Bd within 1 %, 8 data bits, no parity, 1 stop bit",
    ),
)


@dataclass(frozen=True, slots=True)
class Generator:
    """Samples a bit that the hardware offers, its divisor's whole part, and in how many parts the divisor goes on."""

    oversampling: RatioSet
    divisor: RatioSet
    fraction_of: int


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (Bd), the character's data and parity bits, and how far the rate may be off."""

    rate: Fraction
    bits: int
    allowance: Allowance


class Uart(Family[Generator, Ask]):
    """Asynchronous serial. The rate is in baud."""

    name = "uart"
    title = "asynchronous serial"
    rule = "rate = clock / (oversampling × divisor)"
    sources = ("TL16C550C data sheet SLLS177I, Table 7-9",)
    rate_unit = "Bd"
    standards = tuple(each.name for each in STANDARDS)

    def read_generator(self, fields: Fields) -> Generator:
        """`oversampling`, `divisor`, `fraction_of`."""
        oversampling = fields.ratios("oversampling", read_ratios([16]))
        divisor = fields.ratios("divisor")
        fraction_of = fields.whole("fraction_of", 1, 2**16, 1)
        fields.finish()
        assert oversampling is not None
        assert divisor is not None
        return Generator(oversampling, divisor, fraction_of or 1)

    def read_ask(self, fields: Fields) -> Ask:
        """`rate` or `standard`, `frame` (`8N1`), `allowance`."""
        known = {each.name: each for each in STANDARDS}
        standard = known.get(fields.word("standard", tuple(known)) or "")
        rate = fields.rate("rate", standard.rate if standard else None)
        bits = fields.take("frame", _read_frame, 8)
        own = read_allowance(fields)
        if rate is None and "rate" not in fields.raw:
            fields.need("rate", lambda raw: raw, 'a rate such as "115200 Bd", or a standard')
        fields.finish()
        assert rate is not None
        return Ask(rate, bits, own or (standard.allowance if standard else None) or common_allowance(bits))

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest divisors; beyond a neighbour none is nearer, so the neighbours of each oversampling suffice."""
        made = [self._choice(feed, ask, *pair) for pair in self._pairs(feed, generator, ask)]
        made.sort(key=_order)
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def _pairs(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[Fraction, Fraction]]:
        for oversampling in generator.oversampling:
            aim = feed.nominal / (oversampling * ask.rate)
            for divisor in values_near(generator.divisor, generator.fraction_of, aim, MOST_CHOICES):
                yield oversampling, divisor

    def _choice(self, feed: Feed, ask: Ask, oversampling: Fraction, divisor: Fraction) -> Choice:
        rate = feed.nominal / (oversampling * divisor)
        error, lowest, highest = errors_of(rate, ask.rate, feed.tolerance)
        return Choice(
            settings={"oversampling": int(oversampling), "divisor": divisor},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The oversampling and divisor that a plan has chosen."""
        fields = Fields(chosen, where)
        oversampling = fields.need("oversampling", lambda raw: _offered(raw, generator.oversampling, 1), "16")
        divisor = fields.need("divisor", lambda raw: _offered(raw, generator.divisor, generator.fraction_of), '"139/8"')
        fields.finish()
        assert oversampling is not None
        assert divisor is not None
        return self._choice(feed, ask, oversampling, divisor)


def common_allowance(bits: int) -> Allowance:
    """What one end may be off where no standard speaks: by the bits of a character, data and parity."""
    percent = {5: "3", 6: "2.5", 7: "2", 8: "2", 9: "1.5"}.get(bits, "1.5")
    return within(percent, "own half of a receiver's window, 16 samples a bit (published tables, see uart.py)")


def _order(choice: Choice) -> tuple[Fraction, int, Fraction]:
    oversampling, divisor = choice.settings["oversampling"], choice.settings["divisor"]
    assert isinstance(oversampling, int)
    assert isinstance(divisor, Fraction)
    return abs(choice.error or Fraction(0)), -oversampling, divisor


def _read_frame(raw: object) -> int:
    found = re.fullmatch(r"([5-9])([NEO])(1|1\.5|2)", raw, re.ASCII) if isinstance(raw, str) else None
    if found is None:
        raise Unreadable(f"{quote(raw)} is no frame", "write data bits, parity, stop bits, such as 8N1 or 7E1")
    return int(found[1]) + (found[2] != "N")


def _offered(raw: object, offered: RatioSet, parts: int) -> Fraction:
    value = read_number_of(raw)
    if Fraction(value // 1) not in offered or (value * parts).denominator != 1:
        steps = f" in steps of 1/{parts}" if parts > 1 else ""
        raise Unreadable(f"{quote(raw)} is not offered", f"{offered.words()}{steps} are")
    return value


FAMILY = Uart()
