"""Converters: rate = clock / (sample cycles + conversion cycles), and long enough a sample for the source's resistance.

The sampling capacitor has to charge through the source's and the switch's resistance until it is within a part of the
last bit: t >= (R_source + R) * C * ln(2^bits / part) (public note on settling, t = ln(2^N * M) * R * C; full step).

Worked value: 12 bits to 1/8 of the last bit over 100 kΩ and 10 pF take 10.4 µs (the note's example); 14 MHz over
1.5 + 12.5 cycles is 1 MHz.

>>> float(round(settling_time(12, Fraction(1, 8), Fraction(100_000), Fraction(10, 10**12)) * 10**6, 1))
10.4
>>> str(Fraction(14_000_000) / (Fraction(3, 2) + Fraction(25, 2)))
'1000000'

Best first: samples that are long enough before those that are not; then the least error where a rate is asked for, else
the fastest. The logarithm is no rational: it is taken to 60 digits, which no cycle count comes near by chance.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Context, Decimal
from fractions import Fraction
from functools import cache
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
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.units import CAPACITANCE, FREQUENCY, RESISTANCE, TIME, say_quantity

USUAL = within("1", "1 %: common practice, no source")
HALF = Fraction(1, 2)
MOST_SAMPLES = 1024
PRECISE = Context(prec=60)


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
        """Every sample length that is offered, judged."""
        made = [self._choice(feed, generator, ask, cycles) for cycles in generator.sample_cycles]
        needed = _needed(generator, ask)
        made.sort(key=lambda choice: _order(choice, needed))
        choices = tuple(made[:MOST_CHOICES])
        allowance = ask.allowance if ask.rate is not None else None
        return LinkAnswer(choices, allowance, best_verdict(choices), _remarks(feed, generator, ask, choices))

    def _choice(self, feed: Feed, generator: Generator, ask: Ask, cycles: Fraction) -> Choice:
        rate = feed.nominal / (cycles + generator.conversion_cycles)
        wanted = ask.rate if ask.rate is not None else rate
        error, lowest, highest = errors_of(rate, wanted, feed.tolerance)
        verdict = verdict_of(error, lowest, highest, ask.allowance if ask.rate is not None else None)
        needed = _needed(generator, ask)
        if needed is not None and cycles / feed.nominal < needed:
            verdict = "under"
        elif needed is not None and cycles / (feed.nominal * (1 + feed.tolerance.highest)) < needed:
            verdict = "tight" if verdict == "inside" else verdict
        return Choice(
            settings={"sample_cycles": int(cycles) if cycles.denominator == 1 else cycles},
            rate=rate,
            error=error if ask.rate is not None else None,
            error_lowest=lowest if ask.rate is not None else None,
            error_highest=highest if ask.rate is not None else None,
            verdict=verdict,
            told={"sampling_time": cycles / feed.nominal},
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


def settling_time(bits: int, part: Fraction, resistance: Fraction, capacitance: Fraction) -> Fraction:
    """How long a sampling capacitor takes to be within a part of the last bit (seconds), to 60 digits."""
    return resistance * capacitance * _constants(bits, part)


@cache
def _constants(bits: int, part: Fraction) -> Fraction:
    """ln(2^bits / part): how many time constants that is.

    >>> float(round(_constants(12, Fraction(1, 2)), 3)), float(round(_constants(12, Fraction(1, 4)), 3))
    (9.011, 9.704)
    """
    number = 2**bits / part
    return Fraction(PRECISE.divide(Decimal(number.numerator), Decimal(number.denominator)).ln(PRECISE))


def _needed(generator: Generator, ask: Ask) -> Fraction | None:
    if ask.source_resistance is None:
        return None
    through = ask.source_resistance + generator.resistance
    return settling_time(generator.bits, ask.settle_to, through, generator.capacitance)


def _remarks(feed: Feed, generator: Generator, ask: Ask, choices: tuple[Choice, ...]) -> tuple[Remark, ...]:
    needed = _needed(generator, ask)
    if needed is None or not choices or choices[0].verdict != "under" or ask.rate is not None:
        return ()
    longest = max(generator.sample_cycles) / feed.nominal
    what = f"The source needs {say_quantity(needed, TIME)}; the longest sample takes {say_quantity(longest, TIME)}."
    return (Remark("caution", what, "a slower clock or a smaller source resistance leaves time"),)


def _order(choice: Choice, needed: Fraction | None) -> tuple[bool, Fraction, Fraction]:
    sampled = choice.told["sampling_time"]
    assert isinstance(sampled, Fraction)
    assert choice.rate is not None
    short = needed is not None and sampled < needed
    return short, abs(choice.error or Fraction(0)), choice.rate if short else -choice.rate


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
