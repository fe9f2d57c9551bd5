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

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction
from math import prod
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
    verdict_of,
)
from wheelwork.links.fields import Fields, Refused, read_number_of
from wheelwork.links.products import nearest_products
from wheelwork.quantities.ratios import RatioSet
from wheelwork.quantities.spans import Span
from wheelwork.quantities.units import FREQUENCY, TIME, say_frequency, say_quantity

USUAL = Allowance(Fraction(-1, 1000), Fraction(1, 1000), "common practice, no source")
MOST_TRIED = 2**16
"""Of two factors the shorter set may be this long, since all of it is tried."""


@dataclass(frozen=True, slots=True)
class Generator:
    """The prescaler and the reload that the hardware offers, as factors."""

    prescaler: RatioSet
    reload: RatioSet


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (hertz), whether it was asked for as a period, and how far it may be off."""

    rate: Fraction
    as_period: bool
    allowance: Allowance


class Timer(Family[Generator, Ask]):
    """A timer's overflow. The rate is in hertz."""

    name = "timer"
    title = "timer"
    rule = "rate = clock / (prescaler × reload)"
    sources = ("generic relation, common practice, no source",)
    rate_unit = "Hz"

    def read_generator(self, fields: Fields) -> Generator:
        """`prescaler`, `reload`."""
        prescaler, reload = read_factors(fields, "prescaler", "reload")
        fields.finish()
        assert prescaler is not None
        assert reload is not None
        return Generator(prescaler, reload)

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

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest of all pairs (`products.py`). Raises Refused for a rate above the clock."""
        hold_to_clock(feed, ask.rate, "period" if ask.as_period else "rate", generator.prescaler, generator.reload)
        pairs = nearest_products(generator.prescaler, generator.reload, feed.nominal / ask.rate, MOST_CHOICES)
        made = [self._choice(feed, ask, *pair) for pair in pairs]
        made.sort(key=lambda choice: (abs(choice.error or Fraction(0)), -_reload(choice)))
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices))

    def _choice(self, feed: Feed, ask: Ask, prescaler: int, reload: int) -> Choice:
        rate = feed.nominal / (prescaler * reload)
        error, lowest, highest = errors_as_asked(rate, ask.rate, ask.as_period, feed.tolerance)
        return Choice(
            settings={"prescaler": prescaler, "reload": reload},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, ask.allowance),
            told={"period": 1 / rate},
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The prescaler and reload that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        prescaler = fields.need("prescaler", lambda raw: read_offered(raw, generator.prescaler), "8")
        reload = fields.need("reload", lambda raw: read_offered(raw, generator.reload), "1000")
        fields.finish()
        assert prescaler is not None
        assert reload is not None
        return self._choice(feed, ask, prescaler, reload)


def errors_as_asked(
    rate: Fraction, wanted: Fraction, as_period: bool, tolerance: Span
) -> tuple[Fraction, Fraction, Fraction]:
    """Error as a share of what was asked for, with its span: of the rate, or of the period, which moves the other way.

    >>> [str(each) for each in errors_as_asked(Fraction(100), Fraction(101), True, Span(Fraction(0), Fraction(1, 99)))]
    ['1/100', '-1/10000', '1/100']
    """
    if not as_period:
        share = rate / wanted
        return share - 1, share * (1 + tolerance.lowest) - 1, share * (1 + tolerance.highest) - 1
    share = wanted / rate
    return share - 1, share / (1 + tolerance.highest) - 1, share / (1 + tolerance.lowest) - 1


def read_factors(fields: Fields, first: str, second: str) -> tuple[RatioSet | None, RatioSet | None]:
    """Two factors of a generator; a problem where both offer so many that they cannot be tried."""
    one, other = fields.counts(first), fields.counts(second)
    if one is not None and other is not None and min(one.size, other.size) > MOST_TRIED:
        what = f"offers {one.size} numbers, and {second} {other.size}"
        fields.problems.append(Problem(f"{fields.where}.{first}", what, f"one of the two may offer {MOST_TRIED}"))
    return one, other


def hold_to_clock(feed: Feed, rate: Fraction, key: str, *factors: RatioSet) -> None:
    """Nothing counted is faster than what it counts. Raises Refused for a rate above the clock, or such a time.

    `key` is what was asked for, a `rate` or a time; `factors` are those that divide the clock.
    """
    if rate <= feed.nominal:
        return
    most = feed.nominal / prod(offered.lowest for offered in factors)
    what = f"{say_frequency(rate)} is above its clock, {say_frequency(feed.nominal)}"
    allowed = f"at most {say_frequency(most)} comes of that clock"
    if key != "rate":
        what = f"{say_quantity(1 / rate, TIME)} is shorter than its clock's period, "
        what += say_quantity(1 / feed.nominal, TIME)
        allowed = f"at least {say_quantity(1 / most, TIME)} comes of that clock"
    raise Refused([Problem(f"ask.{key}", what, allowed)])


def read_offered(raw: object, offered: RatioSet) -> int:
    """A factor that a plan has chosen. Raises Unreadable where it is not among those offered."""
    value = read_number_of(raw)
    if value not in offered:
        raise Unreadable(f"{quote(raw)} is not offered", f"{offered.words()} are")
    return int(value)


def _reload(choice: Choice) -> int:
    reload = choice.settings["reload"]
    assert isinstance(reload, int)
    return reload


FAMILY = Timer()
