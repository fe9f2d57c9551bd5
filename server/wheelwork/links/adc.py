"""Converters: rate = clock / (sample cycles + conversion cycles), and long enough a sample for the source's resistance.

The sampling capacitor has to charge through the source's and the switch's resistance until it is within a part of the
last bit: t >= (R_source + R) * C * ln(2^bits / part) (public note on settling, t = ln(2^N * M) * R * C; full step).

Worked value: 12 bits to 1/8 of the last bit over 100 kΩ and 10 pF take 10.4 µs (the note's example); 14 MHz over
1.5 + 12.5 cycles is 1 MHz.

>>> float(round(settling_time(12, Fraction(1, 8), Fraction(100_000), Fraction(10, 10**12)) * 10**6, 1))
10.4
>>> str(Fraction(14_000_000) / (Fraction(3, 2) + Fraction(25, 2)))
'1000000'

Best first: samples that are long enough with the clock at its fastest, then those that are on nominal alone, then the
others; among them the least error where a rate is asked for, else the fastest, of too short ones the longest.
"""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from functools import lru_cache
from itertools import islice
from typing import Any

from wheelwork.findings import Problem, Unreadable, quote
from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    Remark,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields, read_number_of
from wheelwork.links.misses import say_short
from wheelwork.links.two_factors import hold_to_clock
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.units import CAPACITANCE, FREQUENCY, RESISTANCE, TIME, say_quantity

USUAL = within("1", "common practice, no source")
HALF = Fraction(1, 2)
MOST_SAMPLES = 1024
FEWEST_DIGITS = 30
"""Of a logarithm, to begin with."""


@dataclass(frozen=True, slots=True)
class Generator:
    """Bits, sample and conversion cycles of the converter's clock, resistance (ohm) and capacitance (farad) inside."""

    bits: int
    sample_cycles: RatioSet
    conversion_cycles: Fraction
    resistance: Fraction
    capacitance: Fraction


@dataclass(frozen=True, slots=True)
class Ask:
    """The source's resistance (ohm; None: not judged), the part of the last bit, the rate (Hz; None: the fastest)."""

    source_resistance: Fraction | None
    settle_to: Fraction
    rate: Fraction | None
    allowance: Allowance


class Adc(Family[Generator, Ask]):
    """A converter. The rate is in conversions a second, hertz."""

    name = "adc"
    title = "converter"
    rule = "rate = clock / (sample cycles + conversion cycles)"
    sources = ("public note on converter settling: t = ln(2^N · M) · R · C",)
    rate_unit = "Hz"
    measured = "Toggle a pin at the end of every conversion: it shows half the rate."
    shown = Fraction(1, 2)

    def read_generator(self, fields: Fields) -> Generator:
        """`bits`, `sample_cycles`, `conversion_cycles`, `resistance`, `capacitance`."""
        bits = fields.whole("bits", 1, 32, 12)
        samples = fields.ratios("sample_cycles")
        if samples is not None and samples.size > MOST_SAMPLES:
            where, what = f"{fields.where}.sample_cycles", f"offers {samples.size} numbers"
            fields.problems.append(Problem(where, what, f"at most {MOST_SAMPLES} may be offered here"))
        conversion = fields.need("conversion_cycles", _read_cycles, "14")
        resistance = fields.quantity("resistance", RESISTANCE, Fraction(0))
        capacitance = fields.quantity("capacitance", CAPACITANCE, Fraction(0))
        fields.finish()
        assert samples is not None
        assert conversion is not None
        return Generator(bits or 12, samples, conversion, resistance or Fraction(0), capacitance or Fraction(0))

    def read_ask(self, fields: Fields) -> Ask:
        """`source_resistance`, `settle_to` (part of the last bit, `1/2`), `rate`, `allowance`."""
        source = fields.quantity("source_resistance", RESISTANCE)
        settle_to = fields.take("settle_to", _read_part, HALF)
        rate, own = fields.quantity("rate", FREQUENCY), read_allowance(fields)
        fields.finish()
        return Ask(source, settle_to, rate, own or USUAL)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The best of every sample length that is offered. Raises Refused for a rate above the clock."""
        if ask.rate is not None:
            hold_to_clock(feed, ask.rate, "rate")
        best = islice(_by_preference(feed, generator, ask), MOST_CHOICES)
        choices = tuple(self._choice(feed, generator, ask, cycles) for cycles in best)
        allowance = ask.allowance if ask.rate is not None else None
        return LinkAnswer(choices, allowance, best_verdict(choices), _remarks(feed, generator, ask))

    def _choice(self, feed: Feed, generator: Generator, ask: Ask, cycles: Fraction) -> Choice:
        rate = feed.nominal / (cycles + generator.conversion_cycles)
        wanted = ask.rate if ask.rate is not None else rate
        error, lowest, highest = errors_of(rate, wanted, feed.tolerance)
        verdict = verdict_of(error, lowest, highest, ask.allowance if ask.rate is not None else None)
        nominal, shortest = (cycles / clock for clock in (feed.nominal, feed.nominal * (1 + feed.tolerance.highest)))
        missed: tuple[str, ...] = ()
        if not _is_settled(generator, ask, nominal):
            verdict, missed = "under", (_say_sample(generator, ask, nominal),)
        elif verdict in ("inside", "tight") and not _is_settled(generator, ask, shortest):
            verdict, missed = "tight", (_say_sample(generator, ask, shortest),)
        return Choice(
            settings={"sample_cycles": int(cycles) if cycles.denominator == 1 else cycles},
            rate=rate,
            error=error if ask.rate is not None else None,
            error_lowest=lowest if ask.rate is not None else None,
            error_highest=highest if ask.rate is not None else None,
            verdict=verdict,
            missed=missed,
            told={"sampling_time": nominal},
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The sample cycles that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)

        def read(raw: object) -> Fraction:
            value = read_number_of(raw)
            if value not in generator.sample_cycles:
                raise Unreadable(f"{quote(raw)} is not offered", f"{generator.sample_cycles.words()} are")
            return value

        cycles = fields.need("sample_cycles", read, "12")
        fields.finish()
        assert cycles is not None
        return self._choice(feed, generator, ask, cycles)


def settles(time: Fraction, bits: int, part: Fraction, constant: Fraction) -> bool:
    """Whether a time is long enough to be within a part of the last bit; `constant` is resistance times capacitance.

    Decided exactly: the logarithm of a rational number other than 1 is none, so that no time lies on the edge, and the
    bounds on both sides of it are drawn closer until the time lies outside.

    >>> settles(Fraction("9.0109133"), 12, Fraction(1, 2), Fraction(1))
    False
    """
    digits = FEWEST_DIGITS
    while constant:
        least, most = _constants(bits, part, digits)
        if not least * constant < time < most * constant:
            return time >= most * constant
        digits *= 2
    return True


def settling_time(bits: int, part: Fraction, resistance: Fraction, capacitance: Fraction) -> Fraction:
    """How long a sampling capacitor takes to be within a part of the last bit (seconds): the upper bound, to be told.

    >>> float(round(settling_time(12, Fraction(1, 4), Fraction(1), Fraction(1)), 3))
    9.704
    """
    return resistance * capacitance * _constants(bits, part, FEWEST_DIGITS)[1]


def largest_source(time: Fraction, bits: int, part: Fraction, resistance: Fraction, capacitance: Fraction) -> Fraction:
    """The largest source resistance (ohm) that settles in a time, beside the converter's own; below 0 where none does.

    >>> float(round(largest_source(Fraction(1, 10**6), 12, Fraction(1, 2), Fraction(1000), Fraction(8, 10**12))))
    12872.0
    """
    return time / (capacitance * _constants(bits, part, FEWEST_DIGITS)[1]) - resistance


@lru_cache(maxsize=256)
def _constants(bits: int, part: Fraction, digits: int) -> tuple[Fraction, Fraction]:
    """ln(2^bits / part), how many time constants that is, from below and from above.

    >>> [float(round(each, 3)) for each in _constants(12, Fraction(1, 2), 30)]
    [9.011, 9.011]
    """
    (over_least, over_most), (under_least, under_most) = (
        _logarithm(number, digits) for number in (2**bits * part.denominator, part.numerator)
    )
    return over_least - under_most, over_most - under_least


def _logarithm(number: int, digits: int) -> tuple[Fraction, Fraction]:
    """The natural logarithm of a whole number from both sides: it is rounded correctly, to half of the last digit."""
    if number == 1:
        return Fraction(0), Fraction(0)
    context = Context(prec=digits)
    rounded = Decimal(number).ln(context)
    return Fraction(context.next_minus(rounded)), Fraction(context.next_plus(rounded))


def _is_settled(generator: Generator, ask: Ask, time: Fraction) -> bool:
    if ask.source_resistance is None:
        return True
    constant = (ask.source_resistance + generator.resistance) * generator.capacitance
    return settles(time, generator.bits, ask.settle_to, constant)


def _settling_time(generator: Generator, ask: Ask) -> Fraction:
    resistance = (ask.source_resistance or Fraction(0)) + generator.resistance
    return settling_time(generator.bits, ask.settle_to, resistance, generator.capacitance)


def _say_sample(generator: Generator, ask: Ask, time: Fraction) -> str:
    """By how much a sample is too short."""
    short = say_short("the sample lasts", time, _settling_time(generator, ask), TIME)
    return f"{short}, which the source needs to settle"


def _by_preference(feed: Feed, generator: Generator, ask: Ask) -> Iterator[Fraction]:
    """All sample cycles, the best first; what is long enough stays so when it gets longer."""

    def shortest(clock: Fraction) -> int:
        return bisect_left(ordered, True, key=lambda cycles: _is_settled(generator, ask, cycles / clock))

    def off(cycles: Fraction) -> Fraction:
        rate = feed.nominal / (cycles + generator.conversion_cycles)
        return Fraction(0) if ask.rate is None else abs(rate / ask.rate - 1)

    ordered = sorted(generator.sample_cycles)
    nominal = shortest(feed.nominal)
    always = max(nominal, shortest(feed.nominal * (1 + feed.tolerance.highest)))
    yield from sorted(ordered[always:], key=off)
    yield from sorted(ordered[nominal:always], key=off)
    yield from reversed(ordered[:nominal])


def _remarks(feed: Feed, generator: Generator, ask: Ask) -> tuple[Remark, ...]:
    longest = generator.sample_cycles.highest / feed.nominal
    if ask.source_resistance is None or _is_settled(generator, ask, longest):
        return ()
    most = largest_source(longest, generator.bits, ask.settle_to, generator.resistance, generator.capacitance)
    sources = f"Sources up to about {say_quantity(most, RESISTANCE)} settle" if most > 0 else "No source settles"
    what = f"{sources} in the longest sample, {say_quantity(longest, TIME)}."
    return (Remark("note", what, "A slower clock leaves more time."),)


def _read_cycles(raw: object) -> Fraction:
    value = read_number_of(raw)
    if value < 0:
        raise Unreadable(f"{quote(raw)} is below zero", "write cycles from 0 up, such as 14")
    return value


def _read_part(raw: object) -> Fraction:
    value = read_number_of(raw)
    if not 0 < value <= 1:
        raise Unreadable(f"{quote(raw)} is no part of the last bit", 'write one above 0 up to 1, such as "1/2"')
    return value


FAMILY = Adc()
