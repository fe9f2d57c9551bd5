"""Watchdogs: time-out = prescaler * reload / clock, with a part of it closed to refreshes where there is a window.

Worked value: of one second with half of it closed, an oscillator of ±30 % leaves 714 to 769 ms for the refresh
(0.5 / 0.7 and 1 / 1.3 s; reference list of this project, WDT-WIN-1); with three quarters closed nothing is left.

>>> round(0.5 / 0.7, 3), round(1 / 1.3, 3)
(0.714, 0.769)

Best first: the least time-out that is not below the one asked for, since an early reset is worse than a late one
(common practice, no source); then those below, the longest first. Among equals the smaller prescaler, which is finer.
Where the clock's tolerance leaves no moment for the refresh, the best that a time-out can be is tight.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from wheelwork.findings import Unreadable, quote
from wheelwork.links.allowances import read_allowance
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Feed,
    LinkAnswer,
    Remark,
    best_verdict,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.products import nearest_products
from wheelwork.links.two_factors import Factors, TwoFactors, errors_as_asked, hold_to_clock
from wheelwork.quantities.units import SHARE, TIME, read_quantity, say_quantity

USUAL = Allowance(Fraction(-1, 10), Fraction(1, 2), "common practice, no source")


@dataclass(frozen=True, slots=True)
class Ask:
    """The time-out wanted (seconds), the share of it that is closed to refreshes, how far it may be off."""

    time_out: Fraction
    closed: Fraction
    allowance: Allowance


class Watchdog(TwoFactors[Ask]):
    """A watchdog. The rate is that of its time-outs, in hertz; the error is that of the time-out."""

    name = "watchdog"
    title = "watchdog"
    rule = "time-out = prescaler × reload / clock"
    sources = ("published watchdog chapter: closed shares of 25 to 75 %; arithmetic: common practice, no source",)
    rate_unit = "Hz"
    measured = "Stop refreshing; from the last refresh to the reset."

    def read_ask(self, fields: Fields) -> Ask:
        """`time_out`, `closed` (share), `allowance`."""
        if "time_out" not in fields.raw:
            fields.need("time_out", lambda raw: raw, 'a time such as "1 s"')
        time_out, closed = fields.quantity("time_out", TIME), fields.take("closed", _read_closed, Fraction(0))
        own = read_allowance(fields)
        fields.finish()
        assert time_out is not None
        return Ask(time_out, closed, own or USUAL)

    def answer(self, feed: Feed, generator: Factors, ask: Ask) -> LinkAnswer:
        """The time-outs nearest to the one asked for on either side (`products.py`).

        Raises Refused for one below the clock's period.
        """
        hold_to_clock(feed, 1 / ask.time_out, "time_out", generator.first, generator.second)
        pairs = nearest_products(generator.first, generator.second, feed.nominal * ask.time_out, MOST_CHOICES)
        made = [self.choice(feed, ask, *pair) for pair in pairs]
        made.sort(key=_order)
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices), _remarks(choices[0], ask) if choices else ())

    def choice(self, feed: Feed, ask: Ask, first: int, second: int) -> Choice:
        """What a prescaler and a reload make of a clock."""
        time_out = first * second / feed.nominal
        error, lowest, highest = errors_as_asked(1 / time_out, 1 / ask.time_out, True, feed.tolerance)
        verdict = verdict_of(error, lowest, highest, ask.allowance)
        earliest, latest = ask.closed * time_out / (1 + feed.tolerance.lowest), time_out / (1 + feed.tolerance.highest)
        return Choice(
            settings={"prescaler": first, "reload": second},
            rate=1 / time_out,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict="tight" if verdict == "inside" and earliest >= latest else verdict,
            missed=("no moment is safe for the refresh",) if earliest >= latest else (),
            told={"time_out": time_out, "earliest": earliest, "latest": latest},
        )


def refresh_window(time_out: Fraction, closed: Fraction, tolerance: Fraction) -> tuple[Fraction, Fraction]:
    """Earliest and latest safe refresh (seconds) on an oscillator that may be off by a share either way.

    `closed` is the nominal end of the closed part in seconds. Nothing is left where the first is not below the second.

    >>> [str(each) for each in refresh_window(Fraction(1), Fraction(1, 2), Fraction(3, 10))]
    ['5/7', '10/13']
    """
    return closed / (1 - tolerance), time_out / (1 + tolerance)


def _read_closed(raw: object) -> Fraction:
    share = read_quantity(raw, SHARE)
    if not 0 <= share < 1:
        raise Unreadable(f"{quote(raw)} leaves nothing open or less than nothing", "write one from 0 % to below 100 %")
    return share


def _remarks(choice: Choice, ask: Ask) -> tuple[Remark, ...]:
    earliest, latest = choice.told["earliest"], choice.told["latest"]
    assert isinstance(earliest, Fraction)
    assert isinstance(latest, Fraction)
    if not ask.closed or earliest < latest:
        return ()
    what = f"A refresh is safe not before {say_quantity(earliest, TIME)} and not after {say_quantity(latest, TIME)}."
    return (Remark("note", what, "A smaller closed part or a more accurate clock leaves a moment."),)


def _order(choice: Choice) -> tuple[bool, Fraction, int]:
    prescaler = choice.settings["prescaler"]
    assert isinstance(prescaler, int)
    error = choice.error or Fraction(0)
    return error < 0, abs(error), prescaler


FAMILY = Watchdog()
