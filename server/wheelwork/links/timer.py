"""Timers: period = prescaler * reload / clock, both as factors from 1 up.

Worked value: 64 MHz to one second are 64 000 000 counts, 1000 * 64 000 with 16 bits for each (own numbers, every pair
tried; reference list of this project, TIM-PERIOD-1).

>>> from wheelwork.links.products import nearest_products
>>> from wheelwork.quantities.ratios import read_ratios
>>> nearest_products(read_ratios("1..65536"), read_ratios("1..65536"), Fraction(64_000_000), 1)[0]
(1000, 64000)

Least error first. Preference among equal errors: the larger reload, which leaves finer steps (common practice, no
source). `rate` is told in hertz; of a wanted period the error is that of the period.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.findings import Problem
from wheelwork.links.allowances import read_allowance
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Feed,
    LinkAnswer,
    best_verdict,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.products import nearest_products
from wheelwork.links.two_factors import Factors, TwoFactors, errors_as_asked, hold_to_clock
from wheelwork.quantities.units import FREQUENCY, TIME

USUAL = Allowance(Fraction(-1, 1000), Fraction(1, 1000), "common practice, no source")


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (hertz), whether it was asked for as a period, and how far it may be off."""

    rate: Fraction
    as_period: bool
    allowance: Allowance


class Timer(TwoFactors[Ask]):
    """A timer's overflow. The rate is in hertz."""

    name = "timer"
    title = "timer"
    rule = "rate = clock / (prescaler × reload)"
    sources = ("generic relation, common practice, no source",)
    rate_unit = "Hz"
    measured = "Toggle a pin at every overflow: it shows half the rate, or twice the period."
    shown = Fraction(1, 2)

    def read_ask(self, fields: Fields) -> Ask:
        """`period` or `rate`, `allowance`."""
        period, rate = fields.quantity("period", TIME), fields.quantity("rate", FREQUENCY)
        if "period" in fields.raw and "rate" in fields.raw:
            fields.problems.append(Problem(f"{fields.where}.rate", "stands beside a period", "write one of the two"))
        elif "period" not in fields.raw and "rate" not in fields.raw:
            fields.need("period", lambda raw: raw, 'a period such as "1 ms", or a rate such as "1 kHz"')
        own = read_allowance(fields)
        fields.finish()
        wanted = rate if period is None else 1 / period
        assert wanted is not None
        return Ask(wanted, period is not None, own or USUAL)

    def answer(self, feed: Feed, generator: Factors, ask: Ask) -> LinkAnswer:
        """The nearest of all pairs (`products.py`). Raises Refused for a rate above the clock."""
        hold_to_clock(feed, ask.rate, "period" if ask.as_period else "rate", generator.first, generator.second)
        pairs = nearest_products(generator.first, generator.second, feed.nominal / ask.rate, MOST_CHOICES)
        made = [self.choice(feed, ask, *pair) for pair in pairs]
        made.sort(key=lambda choice: (abs(choice.error or Fraction(0)), -_reload(choice)))
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def choice(self, feed: Feed, ask: Ask, first: int, second: int) -> Choice:
        """What a prescaler and a reload make of a clock."""
        rate = feed.nominal / (first * second)
        error, lowest, highest = errors_as_asked(rate, ask.rate, ask.as_period, feed.tolerance)
        return Choice(
            settings={"prescaler": first, "reload": second},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
            told={"period": 1 / rate},
        )


def _reload(choice: Choice) -> int:
    reload = choice.settings["reload"]
    assert isinstance(reload, int)
    return reload


FAMILY = Timer()
