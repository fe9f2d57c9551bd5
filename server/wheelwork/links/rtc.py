"""Calendars: rate = clock / (first * second), one tick a second as a rule.

Worked value: 32 768 Hz are 128 * 256 (published reference manual of a microcontroller, calendar chapter; figures
confirmed there), 40 000 Hz are 125 * 320.

>>> 128 * 256, 125 * 320
(32768, 40000)

Least error first. Preference among equal errors: the largest first divider, behind which everything runs slowly and
needs less current (common practice, no source). 1 ppm is 0.0864 s a day, since a day has 86 400 s.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.links.allowances import read_allowance
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Feed,
    LinkAnswer,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.products import nearest_products
from wheelwork.links.time_keeping import SECONDS_A_DAY, seconds_gained
from wheelwork.links.two_factors import Factors, TwoFactors, hold_to_clock
from wheelwork.quantities.units import FREQUENCY

USUAL = Allowance(Fraction(-2, SECONDS_A_DAY), Fraction(2, SECONDS_A_DAY), "2 s a day, common practice, no source")


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (hertz) and how far it may be off."""

    rate: Fraction
    allowance: Allowance


class Rtc(TwoFactors[Ask]):
    """A calendar's tick. The rate is in hertz."""

    name = "rtc"
    title = "calendar"
    rule = "rate = clock / (first × second)"
    sources = ("published reference manual, calendar chapter: 128 and 256 from 32 768 Hz",)
    rate_unit = "Hz"
    measured = "Give the tick to a pin, or compare with a time signal over a day."
    keys = ("first", "second")
    examples = ("128", "256")

    def read_ask(self, fields: Fields) -> Ask:
        """`rate` (1 Hz where it is left out), `allowance`."""
        rate, own = fields.quantity("rate", FREQUENCY, Fraction(1)), read_allowance(fields)
        fields.finish()
        assert rate is not None
        return Ask(rate, own or USUAL)

    def answer(self, feed: Feed, generator: Factors, ask: Ask) -> LinkAnswer:
        """The nearest of all pairs (`products.py`, asked with the second divider first, so that a large first wins).

        Raises Refused for a rate above the clock.
        """
        hold_to_clock(feed, ask.rate, "rate", generator.first, generator.second)
        pairs = nearest_products(generator.second, generator.first, feed.nominal / ask.rate, MOST_CHOICES)
        made = [self.choice(feed, ask, first, second) for second, first in pairs]
        made.sort(key=lambda choice: (abs(choice.error or Fraction(0)), -_first(choice)))
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def choice(self, feed: Feed, ask: Ask, first: int, second: int) -> Choice:
        """What the two dividers make of a clock."""
        rate = feed.nominal / (first * second)
        error, lowest, highest = errors_of(rate, ask.rate, feed.tolerance)
        worst = max(lowest, highest, key=abs)
        return Choice(
            settings={"first": first, "second": second},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
            told={"seconds_a_day": seconds_gained(worst)},
        )


def _first(choice: Choice) -> int:
    first = choice.settings["first"]
    assert isinstance(first, int)
    return first


FAMILY = Rtc()
