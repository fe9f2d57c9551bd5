"""Asynchronous serial ports: rate = clock / (oversampling * divisor), the divisor whole or in parts of one.

Worked value: 1.8432 MHz, 16 samples a bit and the divisor 12 make 9600 Bd exactly; 134.5 Bd are missed by 0.058 %
(TL16C550C data sheet SLLS177I, Table 7-9).

>>> str(rate_of(Fraction(1843200), Fraction(16), Fraction(12)))
'9600'
>>> float(round(100 * (rate_of(Fraction(1843200), Fraction(16), Fraction(857)) / Fraction("134.5") - 1), 3))
-0.058

Least error first. Preference among equal errors: the larger oversampling, which samples the bit more finely (common
practice, no source), then the smaller divisor.

Where neither the link nor a standard says how far the rate may be off, the receiver does. It takes the majority of
three samples about the middle of each bit, counted from the edge of the start bit, so it bears a rate from

    slowest = S * (D + 1) / (S - 1 + D * S + first),  fastest = S * (D + 2) / ((D + 1) * S + middle)

of its own, S samples a bit, D data and parity bits, the samples beginning at `first` = S / 2 with `middle` = first + 1
(error tolerance tables in data sheets of 8-bit microcontrollers: Microchip (Atmel) ATmega48/88/168 data sheet 2545D,
section Asynchronous Operational Range). Each end of a line gets half of that: the narrower side halved, less an eighth
of a percent, down to half percents. That last rule is ours; it gives every recommendation of those tables.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from functools import cache
from heapq import merge
from itertools import islice
from typing import Any

from wheelwork.findings import Problem, Unreadable, quote
from wheelwork.links.allowances import read_allowance
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
from wheelwork.links.fields import Fields, Refused, read_number_of
from wheelwork.links.nearest import Ordered, values_above, values_below
from wheelwork.links.serial_standards import STANDARDS
from wheelwork.links.standards import hold_frame, take_rate, take_standard
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import RATE, say_frequency, write_quantity

MOST_OVERSAMPLINGS = 64
FEWEST_SAMPLES = 4
"""With fewer samples a bit there is no vote of three about its middle."""
USUAL_SAMPLES = 16
HALF_PERCENT = Fraction(1, 200)
RESERVE = Fraction(1, 800)
FRAMES = "write data bits, parity (N, E or O), stop bits, such as 8N1 or 7E1"


@dataclass(frozen=True, slots=True)
class Generator:
    """Samples a bit that the hardware offers, its divisor's whole part, and in how many parts the divisor goes on."""

    oversampling: RatioSet
    divisor: RatioSet
    fraction_of: int


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (Bd), the character's data and parity bits, how far the rate may be off (None: the receiver)."""

    rate: Fraction
    bits: int
    allowance: Allowance | None


class Uart(Family[Generator, Ask]):
    """Asynchronous serial. The rate is in baud."""

    name = "uart"
    title = "asynchronous serial"
    rule = "rate = clock / (oversampling × divisor)"
    sources = ("TL16C550C data sheet SLLS177I, Table 7-9", "ATmega48/88/168 data sheet 2545D, Tables 82 to 84")
    rate_unit = "Bd"
    standards = tuple(each.name for each in STANDARDS)
    measured = "Send the character U (55 hex) without a pause, 8N1: the line is a square wave of half the rate."
    shown = Fraction(1, 2)

    def read_generator(self, fields: Fields) -> Generator:
        """`oversampling`, `divisor`, `fraction_of`."""
        oversampling = fields.counts("oversampling", read_ratios([USUAL_SAMPLES]), MOST_OVERSAMPLINGS)
        divisor = fields.counts("divisor")
        fraction_of = fields.whole("fraction_of", 1, 2**16, 1)
        fields.finish()
        assert oversampling is not None
        assert divisor is not None
        return Generator(oversampling, divisor, fraction_of or 1)

    def read_ask(self, fields: Fields) -> Ask:
        """`rate` or a `standard` that has one, `frame` (`8N1`; one that the standard knows), `allowance`."""
        standard = take_standard(fields, STANDARDS)
        rate = take_rate(fields, standard)

        def read(raw: object) -> int:
            bits = read_frame(raw)
            hold_frame(standard, str(raw))
            return bits

        bits = fields.take("frame", read, read_frame((standard and standard.frame) or "8N1"))
        own = read_allowance(fields)
        fields.finish()
        assert rate is not None
        return Ask(rate, bits, own or (standard.allowance if standard else None))

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest of all settings. Raises Refused for a rate above the clock."""
        if ask.rate > feed.nominal:
            most = feed.nominal / (generator.oversampling.lowest * generator.divisor.lowest)
            what = f"{write_quantity(ask.rate, RATE)} is above its clock, {say_frequency(feed.nominal)}"
            raise Refused([Problem("ask.rate", what, f"at most {write_quantity(most, RATE)} comes of that clock")])
        nearest = islice(self._by_error(feed, generator, ask), MOST_CHOICES)
        choices = tuple(self._choice(feed, ask, oversampling, divisor) for oversampling, divisor in nearest)
        return LinkAnswer(choices, choices[0].allowance or ask.allowance, best_verdict(choices))

    def _by_error(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[Fraction, Fraction]]:
        """All settings (oversampling, divisor), the best first.

        From the exact divisor outwards the error only grows, on either side; so each oversampling gives two rows in
        order, and merging the rows leaves nothing out.
        """

        def key(pair: tuple[Fraction, Fraction]) -> tuple[Fraction, Fraction, Fraction]:
            oversampling, divisor = pair
            return abs(rate_of(feed.nominal, oversampling, divisor) / ask.rate - 1), -oversampling, divisor

        def row(oversampling: Fraction, side: Iterator[Fraction]) -> Iterator[tuple[Fraction, Fraction]]:
            return ((oversampling, divisor) for divisor in side)

        rows, divisors = [], Ordered(generator.divisor)
        for oversampling in generator.oversampling:
            aim = feed.nominal / (oversampling * ask.rate)
            for values in (values_below, values_above):
                rows.append(row(oversampling, values(divisors, generator.fraction_of, aim)))
        return merge(*rows, key=key)

    def _choice(self, feed: Feed, ask: Ask, oversampling: Fraction, divisor: Fraction) -> Choice:
        rate = rate_of(feed.nominal, oversampling, divisor)
        error, lowest, highest = errors_of(rate, ask.rate, feed.tolerance)
        own = None if ask.allowance else common_allowance(ask.bits, int(oversampling))
        return Choice(
            settings={"oversampling": int(oversampling), "divisor": divisor},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, own or ask.allowance),
            allowance=own,
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The oversampling and divisor that a plan has chosen; the oversampling may be left out where one is offered.

        Raises Refused where they are not offered.
        """
        fields = Fields(chosen, where)
        only = generator.oversampling.first if generator.oversampling.size == 1 else None

        def read(raw: object) -> Fraction:
            return _offered(raw, generator.oversampling, 1)

        oversampling = fields.take("oversampling", read, only) if only else fields.need("oversampling", read, "16")
        divisor = fields.need("divisor", lambda raw: _offered(raw, generator.divisor, generator.fraction_of), '"139/8"')
        fields.finish()
        assert oversampling is not None
        assert divisor is not None
        return self._choice(feed, ask, oversampling, divisor)


def rate_of(clock: Fraction, oversampling: Fraction, divisor: Fraction) -> Fraction:
    """The rate that a divisor makes: clock / (oversampling * divisor)."""
    return clock / (oversampling * divisor)


def receiver_window(bits: int, samples: int) -> Span:
    """How far a sender may be off for a receiver that takes so many samples a bit, as shares; the formulas above.

    >>> window = receiver_window(8, 16)
    >>> float(round(100 * window.lowest, 2)), float(round(100 * window.highest, 2))
    (-4.64, 4.58)
    """
    first = samples // 2
    slowest = Fraction(samples * (bits + 1), samples - 1 + bits * samples + first)
    fastest = Fraction(samples * (bits + 2), (bits + 1) * samples + first + 1)
    return Span(slowest - 1, fastest - 1)


def recommended_share(bits: int, samples: int) -> Fraction:
    """What each end of a line may be off by itself: half of the receiver's window, with a reserve, in half percents.

    >>> str(recommended_share(8, 16)), str(recommended_share(8, 8))
    ('1/50', '3/200')
    """
    window = receiver_window(bits, samples)
    half = min(-window.lowest, window.highest) / 2
    return (half - RESERVE) // HALF_PERCENT * HALF_PERCENT


def half_bit_budget(span_bits: Fraction, start_uncertainty: Fraction = Fraction(0)) -> Fraction:
    """What both ends together may be off, so that the last bit is still read: half a bit over the bits up to there.

    `start_uncertainty` is how late the start is seen, in bits; 1/16 at 16 samples a bit. 8 data bits without parity
    are read to the middle of the stop bit, 9.5 bits on.

    >>> float(round(100 * half_bit_budget(Fraction("9.5")), 2))
    5.26
    """
    return (Fraction(1, 2) - start_uncertainty) / span_bits


@cache
def common_allowance(bits: int, samples: int = USUAL_SAMPLES) -> Allowance:
    """What one end may be off where no standard speaks: by data and parity bits, and samples a bit."""
    assumed = "" if samples >= FEWEST_SAMPLES else ", assumed"
    counted = samples if samples >= FEWEST_SAMPLES else USUAL_SAMPLES
    share = recommended_share(bits, counted)
    source = f"own half of a receiver's window, {counted} samples a bit{assumed} (microcontroller data sheets)"
    return Allowance(-share, share, source)


def read_frame(raw: object) -> int:
    """The data and parity bits of a character such as `8N1`, `7E1`, `8O2`. Raises Unreadable."""
    found = re.fullmatch(r"([5-9])([NEO])(1|1\.5|2)", raw.strip().upper(), re.ASCII) if isinstance(raw, str) else None
    if found is None:
        raise Unreadable(f"{quote(raw)} is no frame", FRAMES)
    return int(found[1]) + (found[2] != "N")


def _offered(raw: object, offered: RatioSet, parts: int) -> Fraction:
    value = read_number_of(raw)
    if Fraction(value // 1) not in offered or (value * parts).denominator != 1:
        steps = f" in steps of 1/{parts}" if parts > 1 else ""
        raise Unreadable(f"{quote(raw)} is not offered", f"{offered.words()}{steps} are")
    return value


FAMILY = Uart()
