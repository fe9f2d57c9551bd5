"""Pulse width: rate = clock / (prescaler * reload), half of that where the count runs up and down (`centre`).

Worked value: 64 MHz to 20 kHz are 3200 steps, 1600 where the pulse is centred, 11.64 and 10.64 bits (own numbers;
reference list of this project, PWM-BITS-2 and 3; R = log2 of the steps, published chapter of a small controller).

>>> 64_000_000 // 20_000, 64_000_000 // (2 * 20_000)
(3200, 1600)

Least error first. Preference among equal errors: the larger reload, which leaves finer steps of the pulse (common
practice, no source). Where `steps` are asked for, settings with fewer come after all others.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Unreadable, name_list, quote
from wheelwork.links.allowances import read_allowance
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    Remark,
    Verdict,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields
from wheelwork.links.products import nearest_products
from wheelwork.links.timer import USUAL
from wheelwork.links.two_factors import hold_to_clock, read_factors
from wheelwork.quantities.ratios import RatioSet, Run, read_ratios
from wheelwork.quantities.units import FREQUENCY

WAYS = ("edge", "centre")
USUAL_WAYS: tuple[str, ...] = ("edge",)
MOST_STEPS = 2**32
TWICE = read_ratios([2])
"""What counting up and down costs."""


@dataclass(frozen=True, slots=True)
class Generator:
    """Prescaler and reload that the hardware offers, and the ways in which it counts."""

    prescaler: RatioSet
    reload: RatioSet
    aligned: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Ask:
    """The rate wanted (hertz), the steps that the pulse needs at least, how far the rate may be off."""

    rate: Fraction
    steps: int
    allowance: Allowance


class Pwm(Family[Generator, Ask]):
    """Pulse width. The rate is in hertz."""

    name = "pwm"
    title = "pulse width"
    rule = "rate = clock / (prescaler × reload), half of it centred"
    sources = ("published chapter on pulse width of a small controller: R = log2(steps)",)
    rate_unit = "Hz"
    measured = "The pin itself."

    def read_generator(self, fields: Fields) -> Generator:
        """`prescaler`, `reload`, `aligned` (one way or a list)."""
        prescaler, reload = read_factors(fields, "prescaler", "reload")
        aligned = fields.take("aligned", _read_ways, USUAL_WAYS)
        fields.finish()
        assert prescaler is not None
        assert reload is not None
        return Generator(prescaler, reload, aligned)

    def read_ask(self, fields: Fields) -> Ask:
        """`rate`, `steps`, `allowance`."""
        if "rate" not in fields.raw:
            fields.need("rate", lambda raw: raw, 'a rate such as "20 kHz"')
        rate = fields.quantity("rate", FREQUENCY)
        steps = fields.whole("steps", 1, MOST_STEPS, 1)
        own = read_allowance(fields)
        fields.finish()
        assert rate is not None
        return Ask(rate, steps or 1, own or USUAL)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest of all settings that have the steps; then the nearest that have fewer.

        Raises Refused for a rate above the clock.
        """
        twice = () if "edge" in generator.aligned else (TWICE,)
        hold_to_clock(feed, ask.rate, "rate", generator.prescaler, generator.reload, *twice)
        settings = dict.fromkeys(self._settings(feed, generator, ask))
        made = [self._choice(feed, ask, *setting) for setting in settings]
        made.sort(key=lambda choice: (_steps(choice) < ask.steps, abs(choice.error or Fraction(0)), -_steps(choice)))
        choices = tuple(made[:MOST_CHOICES])
        return LinkAnswer(choices, ask.allowance, best_verdict(choices), _remarks(generator, ask))

    def _settings(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[int, int, str]]:
        enough = _from(generator.reload, ask.steps)
        for way in generator.aligned:
            wanted = feed.nominal / ask.rate / (2 if way == "centre" else 1)
            for reload in dict.fromkeys((enough, generator.reload)):
                if reload is not None:
                    for pair in nearest_products(generator.prescaler, reload, wanted, MOST_CHOICES):
                        yield *pair, way

    def _choice(self, feed: Feed, ask: Ask, prescaler: int, reload: int, way: str) -> Choice:
        rate = feed.nominal / (prescaler * reload * (2 if way == "centre" else 1))
        error, lowest, highest = errors_of(rate, ask.rate, feed.tolerance)
        verdict: Verdict = verdict_of(error, lowest, highest, ask.allowance)
        return Choice(
            settings={"prescaler": prescaler, "reload": reload, "aligned": way},
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict="under" if reload < ask.steps else verdict,
            missed=_say_steps(reload, ask.steps),
            told={"steps": reload, "bits": reload.bit_length() - 1},
        )

    def rule_of(self, choice: Choice) -> str:
        """Counting up and down again takes twice as long."""
        twice = "2 × " if choice.settings["aligned"] == "centre" else ""
        return f"rate = clock / ({twice}prescaler × reload)"

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """What a plan has chosen; the way may be left out where one is offered. Raises Refused where it is not."""
        fields = Fields(chosen, where)
        prescaler = fields.pick("prescaler", generator.prescaler, "1")
        reload = fields.pick("reload", generator.reload, "3200")
        way = fields.word("aligned", generator.aligned, generator.aligned[0])
        fields.finish()
        assert prescaler is not None
        assert reload is not None
        return self._choice(feed, ask, prescaler, reload, way or generator.aligned[0])


def _remarks(generator: Generator, ask: Ask) -> tuple[Remark, ...]:
    if ask.steps <= generator.reload.highest:
        return ()
    what = f"The longest reload has {generator.reload.highest} steps."
    return (Remark("note", what, "A generator whose reload goes further has more."),)


def _say_steps(steps: int, least: int) -> tuple[str, ...]:
    """What the pulse misses of its steps."""
    return (f"the pulse has {steps} steps, {least - steps} short of {least}",) if steps < least else ()


def _from(offered: RatioSet, least: int) -> RatioSet | None:
    """The factors from a number on; None where none is that large."""
    runs = []
    for run in offered.runs:
        first = run.at_least(Fraction(least))
        if first is not None:
            runs.append(Run(first, run.last, run.step if first != run.last else 1))
    return RatioSet(tuple(runs)) if runs else None


def _read_ways(raw: object) -> tuple[str, ...]:
    given = (raw,) if isinstance(raw, str) else tuple(raw) if isinstance(raw, list | tuple) else ()
    ways = tuple(way for way in given if isinstance(way, str) and way in WAYS)
    if not ways or len(ways) != len(given) or len(set(ways)) != len(ways):
        raise Unreadable(f"{quote(raw)} is not allowed here", f"{name_list(list(WAYS))} are, one or both in a list")
    return ways


def _steps(choice: Choice) -> int:
    reload = choice.settings["reload"]
    assert isinstance(reload, int)
    return reload


FAMILY = Pwm()
