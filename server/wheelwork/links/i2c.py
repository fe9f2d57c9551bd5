"""Two-wire buses (I2C): period = prescaler * (low + high) / clock + rise + fall, low and high long enough for the mode.

Worked value: 8 MHz with 13 low and 7 high counts and no edges is 400 kHz, 1.625 µs low and 0.875 µs high, which fast
mode bears (at least 1.3 and 0.6 µs); an even split would leave 1.25 µs low, too short (minima: UM10204, Table 10).

>>> str(Fraction(8_000_000) / (13 + 7)), str(Fraction(13, 8)), str(Fraction(7, 8))
('400000', '13/8', '7/8')

Best first: the highest rate not above the mode's at which low and high keep their minima. Preference among equal rates:
the smaller prescaler, then the longer low (common practice, no source). A clock at the fast end of its tolerance makes
low and high shorter; where only then a minimum is missed the choice is tight. A system management bus may not rest: its
clock has a slowest rate and a longest high as well. `standard` names a mode as `mode` does.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem, quote
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
)
from wheelwork.links.fields import Fields
from wheelwork.links.two_wire import MODES, STANDARDS, TWO_WIRE, Mode
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.units import TIME, say_quantity


@dataclass(frozen=True, slots=True)
class Generator:
    """Prescaler and counts that the hardware offers, and the spikes that its filter holds back (seconds)."""

    prescaler: RatioSet
    low: RatioSet
    high: RatioSet
    filter: Fraction


@dataclass(frozen=True, slots=True)
class Ask:
    """The mode, and the edges of the bus as built (seconds)."""

    mode: Mode
    rise: Fraction
    fall: Fraction


class I2c(Family[Generator, Ask]):
    """A two-wire bus. The rate is that of its clock line, in hertz; the error is against the mode's highest."""

    name = "i2c"
    title = "two-wire bus"
    rule = "rate = 1 / (prescaler × (low + high) / clock + rise + fall)"
    sources = (TWO_WIRE,)
    rate_unit = "Hz"
    standards = tuple(each.name for each in STANDARDS)
    measured = "Transfer a byte; from one rising edge of the clock line to the next, the edges of the bus included."

    def read_generator(self, fields: Fields) -> Generator:
        """`prescaler`, `low`, `high`, `filter`."""
        prescaler = fields.counts("prescaler", read_ratios([1]))
        low, high = fields.counts("low"), fields.counts("high")
        held_back = fields.quantity("filter", TIME, Fraction(0))
        fields.finish()
        assert prescaler is not None
        assert low is not None
        assert high is not None
        return Generator(prescaler, low, high, held_back or Fraction(0))

    def read_ask(self, fields: Fields) -> Ask:
        """`mode` or `standard`, `rise`, `fall` (the mode's longest where they are left out)."""
        mode = _mode(fields)
        rise, fall = fields.quantity("rise", TIME, mode.rise), fields.quantity("fall", TIME, mode.fall)
        for key, given, most in (("rise", rise, mode.rise), ("fall", fall, mode.fall)):
            if given is not None and given > most:
                what = f"{say_quantity(given, TIME)} is longer than {mode.name} mode bears"
                fields.problems.append(Problem(f"{fields.where}.{key}", what, f"at most {say_quantity(most, TIME)} is"))
        fields.finish()
        return Ask(mode, rise or mode.rise, fall or mode.fall)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """For each prescaler the shortest counts that keep every minimum; a longer one is only slower."""
        made = [self._choice(feed, ask, *setting) for setting in self._settings(feed, generator, ask)]
        made.sort(key=_order)
        choices = tuple(made[:MOST_CHOICES])
        allowance = Allowance(None, Fraction(0), ask.mode.source)
        return LinkAnswer(choices, allowance, best_verdict(choices), _remarks(generator, ask))

    def _settings(self, feed: Feed, generator: Generator, ask: Ask) -> Iterator[tuple[int, int, int]]:
        found = False
        for prescaler in generator.prescaler:
            tick = prescaler / feed.nominal
            for low, high in _shortest(generator, ask, tick):
                found = True
                yield int(prescaler), low, high
        if not found:  # the nearest miss
            yield self._miss(feed, generator, ask)

    def _miss(self, feed: Feed, generator: Generator, ask: Ask) -> tuple[int, int, int]:
        """The longest counts there are; the shortest where the longest are too long."""
        offered = (generator.prescaler, generator.low, generator.high)
        prescaler, low, high = (int(each.highest) for each in offered)
        if self._choice(feed, ask, prescaler, low, high).verdict == "over":
            return prescaler, low, high
        prescaler, low, high = (int(each.lowest) for each in offered)
        return prescaler, low, high

    def _choice(self, feed: Feed, ask: Ask, prescaler: int, low: int, high: int) -> Choice:
        fastest, slowest = feed.nominal * (1 + feed.tolerance.highest), feed.nominal * (1 + feed.tolerance.lowest)
        nominal, quick, slow = (
            _Times(prescaler * low / clock, prescaler * high / clock, ask) for clock in (feed.nominal, fastest, slowest)
        )
        verdict: Verdict = "inside"
        missed: tuple[str, ...] = ()
        if nominal.faults:
            verdict, missed = "under" if nominal.faults <= {"slow", "long"} else "over", nominal.missed
        elif quick.faults or slow.faults:
            verdict, missed = "tight", tuple(dict.fromkeys(quick.missed + slow.missed))
        return Choice(
            settings={"prescaler": prescaler, "low": low, "high": high},
            rate=nominal.rate,
            error=nominal.rate / ask.mode.rate - 1,
            error_lowest=slow.rate / ask.mode.rate - 1,
            error_highest=quick.rate / ask.mode.rate - 1,
            verdict=verdict,
            missed=missed,
            told={
                "low_time": nominal.low,
                "low_least": ask.mode.low,
                "high_time": nominal.high,
                "high_least": ask.mode.high,
                **({} if ask.mode.longest_high is None else {"high_most": ask.mode.longest_high}),
            },
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """What a plan has chosen; a single prescaler may be left out. Raises Refused where it is not offered."""
        fields = Fields(chosen, where)
        if "prescaler" in fields.raw or generator.prescaler.size > 1:
            prescaler = fields.pick("prescaler", generator.prescaler, "1")
        else:
            prescaler = int(generator.prescaler.first)
        low = fields.pick("low", generator.low, "13")
        high = fields.pick("high", generator.high, "7")
        fields.finish()
        assert prescaler is not None
        assert low is not None
        assert high is not None
        return self._choice(feed, ask, prescaler, low, high)


@dataclass(frozen=True, slots=True)
class _Times:
    """Low and high at one frequency of the clock (seconds)."""

    low: Fraction
    high: Fraction
    ask: Ask

    @property
    def rate(self) -> Fraction:
        return 1 / (self.low + self.high + self.ask.rise + self.ask.fall)

    @property
    def faults(self) -> set[str]:
        """What of it the mode does not bear."""
        return set(self.ask.mode.faults(self.low, self.high, self.rate))

    @property
    def missed(self) -> tuple[str, ...]:
        """The same in words, but for the rate."""
        return tuple(self.ask.mode.say_faults(self.low, self.high, self.rate))


def _shortest(generator: Generator, ask: Ask, tick: Fraction) -> Iterator[tuple[int, int]]:
    """The pairs of low and high with the fewest counts together at a length of a count; the longer low first.

    A low that leaves no more than the shortest high to the period is looked at, then each shorter one; where both
    together are exactly the period none is better.
    """
    least_low, least_high = _ceil(ask.mode.low / tick), _ceil(ask.mode.high / tick)
    most_high = None if ask.mode.longest_high is None else ask.mode.longest_high / tick
    together = _ceil((1 / ask.mode.rate - ask.rise - ask.fall) / tick)
    best: list[tuple[int, int]] = []
    low = generator.low.at_least(Fraction(max(least_low, together - least_high))) or generator.low.at_most(
        generator.low.highest
    )
    while low is not None and low >= least_low:
        high = generator.high.at_least(Fraction(max(least_high, together - int(low))))
        if high is not None and (most_high is None or high <= most_high):
            pair = (int(low), int(high))
            if not best or sum(pair) < sum(best[0]):
                best = [pair]
            elif sum(pair) == sum(best[0]):
                best.append(pair)
        if best and sum(best[0]) <= together:
            break
        low = generator.low.below(low)
    yield from best[:2]


def _ceil(value: Fraction) -> int:
    return -(-value.numerator // value.denominator)


def _order(choice: Choice) -> tuple[bool, Fraction, int, int]:
    assert choice.rate is not None
    prescaler, low = choice.settings["prescaler"], choice.settings["low"]
    assert isinstance(prescaler, int)
    assert isinstance(low, int)
    return choice.verdict in ("over", "under"), -choice.rate, prescaler, -low


def _mode(fields: Fields) -> Mode:
    """The mode that `mode` or `standard` names. Where both do they have to agree."""
    named = {key: fields.word(key, tuple(MODES)) for key in ("mode", "standard")}
    if not any(key in fields.raw for key in named):
        fields.need("mode", lambda raw: raw, "standard, fast or fast-plus")
    mode, standard = named["mode"], named["standard"]
    if mode and standard and mode != standard:
        what, allowed = f"{quote(mode)} is not the {quote(standard)} of standard", "leave one of the two out"
        fields.problems.append(Problem(f"{fields.where}.mode", what, allowed))
    return MODES[mode or standard or "fast"]


def _remarks(generator: Generator, ask: Ask) -> tuple[Remark, ...]:
    spike = ask.mode.spike
    if spike is None or generator.filter >= spike:
        return ()
    what = f"{ask.mode.name.capitalize()} mode asks for a filter of spikes up to {say_quantity(spike, TIME)}; "
    stated = say_quantity(generator.filter, TIME) if generator.filter else "none"
    return (Remark("note", f"{what}the sheet states {stated}.", ask.mode.source),)


FAMILY = I2c()
