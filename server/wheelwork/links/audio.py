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
from itertools import islice, product
from typing import Any

from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.audio_clocks import BIT_MICROPHONE, STANDARDS, Window
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    Verdict,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.misses import say_over, say_short
from wheelwork.links.nearest import Ordered, values_above, values_below
from wheelwork.links.standards import take_rate, take_standard
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.units import FREQUENCY

USUAL = within("0.1", "IEC 60958-3, level II")
WINDOWS = {"bit-microphone": BIT_MICROPHONE}
MOST_MASTERS = 64


@dataclass(frozen=True, slots=True)
class Generator:
    """Ratios of master clock to sample rate that the converter takes, and the divisor before the master clock."""

    master: RatioSet
    divisor: RatioSet


@dataclass(frozen=True, slots=True)
class Ask:
    """The sample rate wanted (hertz), how far it may be off, and what the device bears of the master clock."""

    sample_rate: Fraction
    allowance: Allowance
    window: Window | None = None


class Audio(Family[Generator, Ask]):
    """An audio port. The rate is the sample rate in hertz."""

    name = "audio"
    title = "audio"
    rule = "sample rate = clock / (divisor × master)"
    sources = ("AES5", "IEC 60958-3")
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)
    measured = "The line that tells left from right has the sample rate."

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
        rate, own = take_rate(fields, standard, "sample_rate", FREQUENCY), read_allowance(fields)
        fields.finish()
        assert rate is not None
        allowance = own or (standard.allowance if standard else None) or USUAL
        return Ask(rate, allowance, WINDOWS.get(standard.name) if standard else None)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest divisors of each ratio on both sides: beyond a neighbour none is nearer.

        Where a device bears only some master clocks, the nearest of these come first.
        """
        made = {pair: self._choice(feed, ask, *pair) for pair in self._pairs(feed, generator, ask)}
        choices = tuple(sorted(made.values(), key=lambda choice: _order(choice, ask))[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def _pairs(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[int, int]]:
        divisors = Ordered(generator.divisor)
        for master in generator.master:
            aims = {aim := feed.nominal / (master * ask.sample_rate)}
            if ask.window is not None:
                aims.add(min(max(aim, feed.nominal / ask.window.highest), feed.nominal / ask.window.lowest))
            for aim, values in product(aims, (values_below, values_above)):
                yield from ((int(master), int(value)) for value in islice(values(divisors, 1, aim), MOST_CHOICES))

    def _choice(self, feed: Feed, ask: Ask, master: int, divisor: int) -> Choice:
        rate = feed.nominal / (master * divisor)
        error, lowest, highest = errors_of(rate, ask.sample_rate, feed.tolerance)
        of_rate = verdict_of(error, lowest, highest, ask.allowance)
        verdict, missed = _verdict(of_rate, feed, feed.nominal / divisor, ask)
        return Choice(
            settings={"master": master, "divisor": divisor},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict,
            missed=missed,
            told={"master_clock": feed.nominal / divisor},
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The ratio and divisor that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        master = fields.pick("master", generator.master, "256")
        divisor = fields.pick("divisor", generator.divisor, "2")
        fields.finish()
        assert master is not None
        assert divisor is not None
        return self._choice(feed, ask, master, divisor)


def _verdict(of_rate: Verdict, feed: Feed, master_clock: Fraction, ask: Ask) -> tuple[Verdict, tuple[str, ...]]:
    """The verdict on the rate, and on the master clock where the device bears only some; what the clock misses."""
    if ask.window is None or of_rate in ("over", "under"):
        return of_rate, ()
    if not ask.window.holds(master_clock):
        return "over" if master_clock > ask.window.highest else "under", _say_missed(ask.window, master_clock)
    ends = (master_clock * (1 + share) for share in (feed.tolerance.lowest, feed.tolerance.highest))
    missed = tuple(words for end in ends for words in _say_missed(ask.window, end))
    return ("tight", missed) if missed else (of_rate, ())


def _say_missed(window: Window, clock: Fraction) -> tuple[str, ...]:
    """By how much a master clock is outside what the device bears."""
    if clock > window.highest:
        return (say_over("the master clock is", clock, window.highest, FREQUENCY),)
    return (say_short("the master clock is", clock, window.lowest, FREQUENCY),) if clock < window.lowest else ()


def _order(choice: Choice, ask: Ask) -> tuple[bool, Fraction, int]:
    master, clock = choice.settings["master"], choice.told["master_clock"]
    assert isinstance(master, int)
    assert isinstance(clock, Fraction)
    borne = ask.window is None or ask.window.holds(clock)
    return not borne, abs(choice.error or Fraction(0)), -master


FAMILY = Audio()
