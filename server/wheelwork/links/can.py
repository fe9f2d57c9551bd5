"""Field buses (CAN): rate = clock / (prescaler * quanta), quanta = 1 + segment_1 + segment_2.

The sample is taken before segment 2. Worked value: 10 MHz, prescaler 1, segments 7 (6 of propagation, 1 of phase) and
2, jump 1 are 1 Mbit/s with the sample at 80 % and bear an oscillator that is off by 0.39 % (Bosch TTCAN User's Manual
Rev 1.6, section 4.2.1.7; exactly 1/256).

>>> str(oscillator_tolerance(Timing(1, 7, 2, 1), phase_1=1))
'1/256'

How far each node's clock may be off (Hartwich and Bassemir, The Configuration of the CAN Bit Timing, 1999): the least
of min(phase_1, phase_2) / (2 * (13 * quanta - phase_2)) and jump / (20 * quanta); with a data phase also of three more
conditions (`_data_conditions`; published with an open library, python-can 4.6.1). Segment 1 is propagation and phase 1
together; of it one quantum at least is propagation.

Best first: least rate error, then the sample point nearest to the one wanted, then the more quanta, then the smaller
prescaler; the jump is the largest that the segments allow, which bears the most. That order is ours; the sample points
where none is asked for are those of CAN in Automation: 75 % above 800 kbit/s, 80 % above 500 kbit/s, else 87.5 %.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    Told,
    best_verdict,
    errors_of,
    verdict_of,
)
from wheelwork.links.fields import Fields, Refused
from wheelwork.links.timer import read_offered
from wheelwork.quantities.ratios import RatioSet, read_ratios

SOURCE = "Hartwich and Bassemir 1999: what the setting bears of each node's clock"
FASTEST = Fraction(1_000_000)
FASTEST_DATA = Fraction(8_000_000)


@dataclass(frozen=True, slots=True)
class Timing:
    """One bit: prescaler, the two segments and the jump, in quanta."""

    prescaler: int
    segment_1: int
    segment_2: int
    jump: int

    @property
    def quanta(self) -> int:
        """Quanta a bit, the synchronization quantum included."""
        return 1 + self.segment_1 + self.segment_2

    @property
    def sample_point(self) -> Fraction:
        """Where in the bit it is sampled."""
        return Fraction(1 + self.segment_1, self.quanta)

    def settings(self) -> dict[str, Told]:
        """The four settings by their keys."""
        return {
            "prescaler": self.prescaler,
            "segment_1": self.segment_1,
            "segment_2": self.segment_2,
            "jump": self.jump,
        }


@dataclass(frozen=True, slots=True)
class Ranges:
    """What the hardware offers of one bit timing."""

    prescaler: RatioSet
    segment_1: RatioSet
    segment_2: RatioSet
    jump: RatioSet


@dataclass(frozen=True, slots=True)
class Generator:
    """The bit timing of the arbitration, and that of the data phase where there is one."""

    nominal: Ranges
    data: Ranges | None


@dataclass(frozen=True, slots=True)
class Wish:
    """A bit rate (bit/s) and where to sample."""

    rate: Fraction
    sample_point: Fraction


@dataclass(frozen=True, slots=True)
class Ask:
    """What is wanted of arbitration and data phase."""

    nominal: Wish
    data: Wish | None


class Can(Family[Generator, Ask]):
    """A field bus. The rate is the bit rate of the arbitration, in bit/s."""

    name = "can"
    title = "field bus"
    rule = "rate = clock / (prescaler × (1 + segment 1 + segment 2))"
    sources = ("Bosch, CAN Specification 2.0", "Hartwich and Bassemir 1999")
    rate_unit = "bit/s"

    def read_generator(self, fields: Fields) -> Generator:
        """`prescaler`, `segment_1`, `segment_2`, `jump`, and `data` with the same keys."""
        nominal = _read_ranges(fields)
        data = None
        if "data" in fields.raw:
            fields.known.append("data")
            inner = Fields(fields.raw["data"], f"{fields.where}.data")
            data = _read_ranges(inner)
            _finish_into(inner, fields)
        fields.finish()
        assert nominal is not None
        return Generator(nominal, data)

    def read_ask(self, fields: Fields) -> Ask:
        """`rate`, `sample_point`, `data_rate`, `data_sample_point`."""
        if "rate" not in fields.raw:
            fields.need("rate", lambda raw: raw, 'a bit rate such as "500 kbit/s"')
        rate, data_rate = fields.rate("rate"), fields.rate("data_rate")
        point, data_point = fields.share("sample_point"), fields.share("data_sample_point")
        for key, given, most in (("rate", rate, FASTEST), ("data_rate", data_rate, FASTEST_DATA)):
            if given is not None and given > most:
                what = f"{fields.raw[key]} is above {int(most) // 1000} kbit/s"
                fields.problems.append(Problem(f"{fields.where}.{key}", what, "the bus knows no faster one"))
        if data_rate is not None and rate is not None and data_rate < rate:
            what = "is slower than the rate of the arbitration"
            fields.problems.append(Problem(f"{fields.where}.data_rate", what, "write the same rate or a faster one"))
        fields.finish()
        assert rate is not None
        data = None if data_rate is None else Wish(data_rate, data_point or usual_sample_point(data_rate))
        return Ask(Wish(rate, point or usual_sample_point(rate)), data)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """Every prescaler, segments and jump considered: prescaler and quanta by their product, then segments."""
        data = None
        if ask.data is not None and generator.data is not None:
            data = next(iter(_best_timings(feed, generator.data, ask.data)), None)
        nominal = _best_timings(feed, generator.nominal, ask.nominal)
        choices = tuple(self._choice(feed, ask, timing, data) for timing in nominal[:MOST_CHOICES])
        allowance = choices[0].allowance if choices else None
        return LinkAnswer(choices, allowance, best_verdict(choices))

    def _choice(self, feed: Feed, ask: Ask, timing: Timing, data: Timing | None) -> Choice:
        bears = oscillator_tolerance(timing, data=data)
        allowance = Allowance(-bears, bears, SOURCE)
        rate = feed.nominal / (timing.prescaler * timing.quanta)
        error, lowest, highest = errors_of(rate, ask.nominal.rate, feed.tolerance)
        told: dict[str, Told] = {
            "quanta": timing.quanta,
            "sample_point": timing.sample_point,
            "oscillator_tolerance": bears,
        }
        settings = timing.settings()
        if data is not None:
            settings |= {f"data_{key}": value for key, value in data.settings().items()}
            told |= {
                "data_rate": feed.nominal / (data.prescaler * data.quanta),
                "data_quanta": data.quanta,
                "data_sample_point": data.sample_point,
            }
        return Choice(
            settings=settings,
            rate=rate,
            error=error,
            error_lowest=lowest,
            error_highest=highest,
            verdict=verdict_of(error, lowest, highest, allowance),
            told=told,
            allowance=allowance,
        )

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The settings that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        nominal = _read_timing(fields, generator.nominal, "")
        data = None
        if generator.data is not None and any(str(key).startswith("data_") for key in fields.raw):
            data = _read_timing(fields, generator.data, "data_")
        fields.finish()
        assert nominal is not None
        return self._choice(feed, ask, nominal, data)


def usual_sample_point(rate: Fraction) -> Fraction:
    """Where to sample if nobody says: CAN in Automation's recommendation (as coded in an open kernel).

    >>> str(usual_sample_point(Fraction(500_000)))
    '7/8'
    """
    if rate > 800_000:
        return Fraction(3, 4)
    return Fraction(4, 5) if rate > 500_000 else Fraction(7, 8)


def oscillator_tolerance(timing: Timing, phase_1: int | None = None, data: Timing | None = None) -> Fraction:
    """How far each node's clock may be off, as a share, by every condition.

    `phase_1` is what of segment 1 is no propagation; left out: all but one quantum.
    """
    first = timing.segment_1 - 1 if phase_1 is None else phase_1
    quanta, second = timing.quanta, timing.segment_2
    bears = [
        Fraction(min(first, second), 2 * (13 * quanta - second)),
        Fraction(timing.jump, 20 * quanta),
    ]
    if data is not None:
        bears += _data_conditions(timing, first, data)
    return max(min(bears), Fraction(0))


def _data_conditions(timing: Timing, phase_1: int, data: Timing) -> list[Fraction]:
    """The three conditions of a data phase: its own jump, and both crossings between the two timings."""
    slower = Fraction(timing.prescaler, data.prescaler)
    return [
        Fraction(data.jump, 20 * data.quanta),
        min(phase_1, timing.segment_2) / (2 * ((6 * data.quanta - data.segment_2) / slower + 7 * timing.quanta)),
        (data.jump - max(Fraction(0), slower - 1))
        / (2 * ((2 * timing.quanta - timing.segment_2) * slower + data.segment_2 + 4 * data.quanta)),
    ]


def _best_timings(feed: Feed, offered: Ranges, wish: Wish) -> list[Timing]:
    """The best timings, as the module says what is best; complete, since all pairs of one product are looked at."""
    found: list[Timing] = []
    for alike in _by_error(offered, feed.nominal / wish.rate):
        found += (timing for pair in alike for timing in _timings(offered, wish, *pair))
        if len(found) >= MOST_CHOICES:
            break
    found.sort(key=lambda timing: _worth(timing, feed, wish))
    return found[:MOST_CHOICES]


def _by_error(offered: Ranges, wanted: Fraction) -> Iterator[list[tuple[int, int]]]:
    """Pairs of prescaler and quanta, those of one product together, the product nearest to the wanted one first.

    Of each prescaler only the numbers of quanta next to wanted / prescaler can be nearest; a few more fill the list.
    """
    fewest, most = _quanta(offered)
    pairs: dict[int, list[tuple[int, int]]] = {}
    for value in offered.prescaler:
        prescaler = int(value)
        middle = min(max(int(wanted // prescaler), fewest), most)
        for quanta in range(max(middle - 1, fewest), min(middle + 2, most) + 1):
            pairs.setdefault(prescaler * quanta, []).append((prescaler, quanta))
    products = sorted(pairs)
    above = bisect_right(products, wanted)
    below = above - 1
    while below >= 0 or above < len(products):
        low = abs(wanted / products[below] - 1) if below >= 0 else None
        high = abs(wanted / products[above] - 1) if above < len(products) else None
        if high is None or (low is not None and low < high):
            yield pairs[products[below]]
            below -= 1
        elif low is None or high < low:
            yield pairs[products[above]]
            above += 1
        else:
            yield pairs[products[below]] + pairs[products[above]]
            below, above = below - 1, above + 1


def _worth(timing: Timing, feed: Feed, wish: Wish) -> tuple[Fraction, Fraction, int, int]:
    error = abs(feed.nominal / (timing.prescaler * timing.quanta) / wish.rate - 1)
    return error, abs(timing.sample_point - wish.sample_point), -timing.quanta, timing.prescaler


def _quanta(offered: Ranges) -> tuple[int, int]:
    """The fewest and the most quanta that the segments can make."""
    ends = (
        [(run.first, run.last) for run in offered.segment_1.runs],
        [(r.first, r.last) for r in offered.segment_2.runs],
    )
    fewest = 1 + sum(min(first for first, _ in each) for each in ends)
    return int(fewest), int(1 + sum(max(last for _, last in each) for each in ends))


def _timings(offered: Ranges, wish: Wish, prescaler: int, quanta: int) -> Iterator[Timing]:
    """The splits of a bit into segments, outwards from the sample point wanted, so many as can be among the best."""
    aim = wish.sample_point * quanta - 1
    below = int(aim // 1)
    given = 0
    for step in range(quanta):
        for segment_1 in sorted({below - step, below + 1 + step}, key=lambda value: abs(value - aim)):
            segment_2 = quanta - 1 - segment_1
            if segment_1 in offered.segment_1 and segment_2 in offered.segment_2:
                jump = offered.jump.at_most(Fraction(min(segment_1, segment_2)))
                if jump is not None:
                    yield Timing(prescaler, segment_1, segment_2, int(jump))
                    given += 1
        if given >= MOST_CHOICES:
            return


def _read_ranges(fields: Fields) -> Ranges | None:
    prescaler, jump = fields.counts("prescaler"), fields.counts("jump", read_ratios("1..4"))
    first, second = fields.counts("segment_1", None, 4096), fields.counts("segment_2", None, 4096)
    if prescaler is None or first is None or second is None or jump is None:
        return None
    return Ranges(prescaler, first, second, jump)


def _finish_into(inner: Fields, outer: Fields) -> None:
    """The problems of a table inside another one."""
    try:
        inner.finish()
    except Refused as refused:
        outer.problems += refused.problems


def _read_timing(fields: Fields, offered: Ranges, prefix: str) -> Timing | None:
    def need(key: str, among: RatioSet, example: str) -> int | None:
        return fields.need(f"{prefix}{key}", lambda raw: read_offered(raw, among), example)

    prescaler, first = need("prescaler", offered.prescaler, "2"), need("segment_1", offered.segment_1, "13")
    second, jump = need("segment_2", offered.segment_2, "2"), need("jump", offered.jump, "1")
    if prescaler is None or first is None or second is None or jump is None:
        return None
    if jump > min(first, second):
        what = f"{jump} is larger than a segment"
        fields.problems.append(Problem(f"{fields.where}.{prefix}jump", what, f"at most {min(first, second)} is"))
    return Timing(prescaler, first, second, jump)


FAMILY = Can()
