"""Field buses (CAN): rate = clock / (prescaler * quanta), quanta = 1 + segment_1 + segment_2.

Worked value: 16 MHz, prescaler 2 and segments 13 and 2 are 500 kbit/s with the sample at 87.5 % (16 quanta, sample at
the 14th: CAN in Automation, CiA Draft Standard 102 V2.0).

>>> timing = Timing(2, 13, 2, 2)
>>> str(timing.rate(Fraction(16_000_000))), str(timing.sample_point)
('500000', '7/8')

Best first: least error of the rate, then the sample point nearest to the one wanted, then what bears the most of each
node's clock (`bit_timing.py`), then the more quanta. With a data phase its timing is the one nearest in rate and sample
point; where several are, the one that bears the most beside each choice. That order is ours. The rate of the data phase
counts as well: a choice is only as good as the worse of its two rates.

A rate may be off as far as its setting bears, and no farther than its standard or the link itself allows.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Any

from wheelwork.findings import Problem, quote
from wheelwork.links.allowances import read_allowance, within
from wheelwork.links.bit_ranges import LONGEST_SEGMENT, Ranges, nearest_timings, offer
from wheelwork.links.bit_timing import Timing, oscillator_tolerance, usual_sample_point
from wheelwork.links.family import (
    MOST_CHOICES,
    Allowance,
    Choice,
    Family,
    Feed,
    LinkAnswer,
    Remark,
    Setting,
    Told,
    Verdict,
    best_verdict,
    errors_of,
    past_ends,
    verdict_of,
)
from wheelwork.links.fields import Fields, Refused
from wheelwork.links.standards import Standard, take_rate, take_standard
from wheelwork.quantities.ratios import RatioSet, read_ratios
from wheelwork.quantities.units import RATE, SHARE, Unit, say_frequency, say_quantity

SOURCE = "what the setting bears of each node's clock (Hartwich and Bassemir 1999)"
BIT_RATE = Unit("bit rate", RATE.units, "500 kbit/s", ("Mbit/s", "kbit/s", "bit/s"), Fraction(0))
FASTEST = Fraction(1_000_000)
"""Bosch, CAN Specification 2.0; ISO 11898-1."""
FASTEST_DATA = Fraction(8_000_000)
"""Common practice, no source."""
USUAL_JUMP = read_ratios("1..4")
"""Bosch, CAN Specification 2.0: 1 to 4, for a sheet that states none."""
BUS_RATES = tuple(Fraction(kilo * 1000) for kilo in (1000, 800, 500, 250, 125, 50, 20, 10))
WORST_FIRST: tuple[Verdict, ...] = ("none fits", "over", "under", "tight", "inside")

STANDARDS = (
    Standard(
        name="classic",
        family="can",
        title="Classical CAN",
        fastest=FASTEST,
        line="up to 1 Mbit/s, bits of 8 to 25 quanta on every node (Bosch, CAN Specification 2.0; ISO 11898-1)",
    ),
    Standard(
        name="flexible-data-rate",
        family="can",
        title="CAN with flexible data rate",
        fastest=FASTEST,
        line="up to 1 Mbit/s between frames, a data phase with a rate of its own (ISO 11898-1:2015)",
    ),
    Standard(
        name="canopen",
        family="can",
        title="CANopen",
        rates=BUS_RATES,
        allowance=within("0.1", "CAN in Automation, CiA Draft Standard 102 V2.0, oscillators"),
        line="10 kbit/s to 1 Mbit/s in eight rates, sampled at 87.5 %, 80 % at 800 kbit/s and 75 % at 1 Mbit/s",
    ),
)


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
    """What is wanted of arbitration and data phase, and how far a standard or the link lets the rates be off."""

    nominal: Wish
    data: Wish | None
    allowance: Allowance | None


class Can(Family[Generator, Ask]):
    """A field bus. The rate is the bit rate of the arbitration, in bit/s."""

    name = "can"
    title = "field bus"
    rule = "rate = clock / (prescaler × (1 + segment 1 + segment 2))"
    sources = ("Bosch, CAN Specification 2.0", "Hartwich and Bassemir 1999")
    rate_unit = "bit/s"
    standards = tuple(each.name for each in STANDARDS)
    measured = "Send frames; the shortest pulse on the line lasts one bit."

    def read_generator(self, fields: Fields) -> Generator:
        """`prescaler`, `segment_1`, `segment_2`, `jump`, and `data` with the same keys."""
        nominal, data = _read_ranges(fields), None
        if "data" in fields.raw:
            inner = _inner(fields, "data")
            data = _read_ranges(inner)
            _finish_into(inner, fields)
        fields.finish()
        assert nominal is not None
        return Generator(nominal, data)

    def read_ask(self, fields: Fields) -> Ask:
        """`rate`, `sample_point`, `data_rate`, `data_sample_point`, `standard`, `allowance`."""
        standard = take_standard(fields, STANDARDS)
        rate, point = take_rate(fields, standard, kind=BIT_RATE), fields.share("sample_point")
        data_rate, data_point = fields.quantity("data_rate", BIT_RATE), fields.share("data_sample_point")
        own = read_allowance(fields)
        fields.problems += _misfits(fields, standard, rate, data_rate)
        fields.finish()
        assert rate is not None
        data = None if data_rate is None else Wish(data_rate, data_point or usual_sample_point(data_rate))
        allowance = own or (None if standard is None else standard.allowance)
        return Ask(Wish(rate, point or usual_sample_point(rate)), data, allowance)

    def answer(self, feed: Feed, generator: Generator, ask: Ask) -> LinkAnswer:
        """The nearest timings of both phases (`bit_ranges.py`). Raises Refused for a rate out of reach."""
        _hold(feed, generator, ask)
        ranks = _nearest(feed, generator.nominal, ask.nominal, MOST_CHOICES)
        datas: Sequence[Timing | None] = (None,)
        if ask.data is not None and generator.data is not None:
            datas = _nearest(feed, generator.data, ask.data, 1)[0]
        pairs = [pair for rank in ranks for pair in _paired(rank, datas)][:MOST_CHOICES]
        choices = tuple(_choice(feed, ask, *pair) for pair in pairs)
        return LinkAnswer(choices, choices[0].allowance, best_verdict(choices), _remarks(choices[0]))

    def settle(self, feed: Feed, generator: Generator, ask: Ask, chosen: Mapping[str, Any], where: str) -> Choice:
        """The settings that a plan has chosen. Raises Refused where they are not offered."""
        fields = Fields(chosen, where)
        timing, data = _read_timing(fields, generator.nominal), None
        if ask.data is not None and generator.data is not None:
            inner = _inner(fields, "data")
            data = _read_timing(inner, generator.data)
            _finish_into(inner, fields)
        fields.finish()
        assert timing is not None
        return _choice(feed, ask, timing, data)


def _misfits(
    fields: Fields, standard: Standard | None, rate: Fraction | None, data_rate: Fraction | None
) -> Iterable[Problem]:
    """What does not go together in what is asked."""
    where, raw = f"{fields.where}.data_rate", quote(fields.raw.get("data_rate"))
    if rate is not None and rate > FASTEST:
        what, allowed = f"{quote(fields.raw.get('rate'))} is too fast", "up to 1 Mbit/s; a data phase has its data_rate"
        yield Problem(f"{fields.where}.rate", what, allowed)
    if data_rate is not None and data_rate > FASTEST_DATA:
        yield Problem(where, f"{raw} is too fast", "up to 8 Mbit/s")
    if data_rate is not None and rate is not None and data_rate < rate:
        yield Problem(where, f"{raw} is slower than the rate", f"{quote(fields.raw.get('rate'))} or faster")
    kind = None if standard is None else standard.name
    if kind == "classic" and "data_rate" in fields.raw:
        yield Problem(
            where, "Classical CAN has no data phase", 'leave it out, or write standard = "flexible-data-rate"'
        )
    if "data_rate" not in fields.raw and (kind == "flexible-data-rate" or "data_sample_point" in fields.raw):
        yield Problem(where, "is missing", 'write a bit rate such as "2 Mbit/s"')


def _hold(feed: Feed, generator: Generator, ask: Ask) -> None:
    """No bit is shorter than a period of the clock, and a data phase needs its hardware. Raises Refused."""
    wishes = [("rate", ask.nominal), *([("data_rate", ask.data)] if ask.data else [])]
    problems = [
        Problem(
            f"ask.{key}",
            f"{say_quantity(wish.rate, BIT_RATE)} is above its clock, {say_frequency(feed.nominal)}",
            "a bit is several periods of the clock",
        )
        for key, wish in wishes
        if wish.rate > feed.nominal
    ]
    if ask.data is not None and generator.data is None:
        problems.append(Problem("ask.data_rate", "the hardware states no data phase", "leave it out"))
    if problems:
        raise Refused(problems)


def _nearest(feed: Feed, offered: Ranges, wish: Wish, count: int) -> list[list[Timing]]:
    return nearest_timings(offered, feed.nominal / wish.rate, wish.sample_point, count)


def _paired(rank: list[Timing], datas: Sequence[Timing | None]) -> list[tuple[Timing, Timing | None]]:
    """Timings that are alike, each with the data phase beside which it bears the most, the best first."""

    def worth(timing: Timing, data: Timing | None) -> tuple[Fraction, int]:
        return oscillator_tolerance(timing, data=data), 0 if data is None else data.quanta

    pairs = [(timing, max(datas, key=lambda data: worth(timing, data))) for timing in rank]
    return sorted(pairs, key=lambda pair: (worth(*pair), pair[0].quanta, pair[0].sample_point), reverse=True)


def _choice(feed: Feed, ask: Ask, timing: Timing, data: Timing | None) -> Choice:
    """A timing, with its data phase's, judged."""
    bears = oscillator_tolerance(timing, data=data)
    allowance = _narrower(Allowance(-bears, bears, SOURCE), ask.allowance)
    rate = timing.rate(feed.nominal)
    errors = errors_of(rate, ask.nominal.rate, feed.tolerance)
    verdict = verdict_of(*errors, allowance)
    missed: tuple[str, ...] = ()
    settings: dict[str, Setting] = {**timing.settings()}
    told: dict[str, Told] = {
        "quanta": timing.quanta,
        "sample_point": timing.sample_point,
        "oscillator_tolerance": bears,
        "propagation": timing.free_propagation * timing.prescaler / feed.nominal,
    }
    if data is not None and ask.data is not None:
        data_errors = errors_of(data.rate(feed.nominal), ask.data.rate, feed.tolerance)
        of_data = verdict_of(*data_errors, allowance)
        missed = _say_data(data_errors, of_data, verdict, allowance)
        verdict = min(verdict, of_data, key=WORST_FIRST.index)
        settings["data"] = data.settings()
        told |= {
            "data_rate": data.rate(feed.nominal),
            "data_error": data_errors[0],
            "data_quanta": data.quanta,
            "data_sample_point": data.sample_point,
        }
    return Choice(
        settings=settings,
        rate=rate,
        error=errors[0],
        error_lowest=errors[1],
        error_highest=errors[2],
        verdict=verdict,
        allowance=allowance,
        missed=missed,
        told=told,
    )


def _say_data(
    errors: tuple[Fraction, Fraction, Fraction], verdict: Verdict, of_rate: Verdict, allowance: Allowance
) -> tuple[str, ...]:
    """What the data phase misses, where the rate does not miss as much itself."""
    if verdict in ("over", "under"):
        return (f"the data phase is {_say_off(errors[0])}",)
    if verdict == "tight" and of_rate == "inside":
        ends = (_say_off(end, "up to ") for end in past_ends(*errors[1:], allowance))
        return (f"the data phase is {' or '.join(ends)}",)
    return ()


def _say_off(error: Fraction, reach: str = "") -> str:
    return f"{'fast' if error > 0 else 'slow'} by {reach}{say_quantity(abs(error), SHARE)}"


def _narrower(bears: Allowance, allowed: Allowance | None) -> Allowance:
    """What the setting bears, and no more than is allowed, with the sources of the ends that count."""
    if allowed is None:
        return bears
    assert bears.lowest is not None
    assert bears.highest is not None
    lowest = bears.lowest if allowed.lowest is None else max(bears.lowest, allowed.lowest)
    highest = bears.highest if allowed.highest is None else min(bears.highest, allowed.highest)
    sources = [each.source for each in (allowed, bears) if lowest == each.lowest or highest == each.highest]
    return Allowance(lowest, highest, "; ".join(sources))


def _remarks(choice: Choice) -> tuple[Remark, ...]:
    error = choice.told.get("data_error")
    if not isinstance(error, Fraction) or error == 0 or choice.missed:
        return ()
    return (Remark("note", f"the data phase is {_say_off(error)}.", "It counts as the rate does."),)


def _inner(fields: Fields, key: str) -> Fields:
    """The table inside a table."""
    inner: object = fields.need(key, lambda raw: raw, "a table with the keys of the arbitration")
    return Fields({} if inner is None else inner, f"{fields.where}.{key}")


def _finish_into(inner: Fields, outer: Fields) -> None:
    """The problems of a table inside another one, unless the whole of it is missing."""
    try:
        inner.finish()
    except Refused as refused:
        outer.problems += refused.problems if inner.where.rpartition(".")[2] in outer.raw else []


def _read_ranges(fields: Fields) -> Ranges | None:
    prescaler, jump = fields.counts("prescaler"), fields.counts("jump", USUAL_JUMP)
    first, second = _read_segment(fields, "segment_1"), _read_segment(fields, "segment_2")
    if prescaler is None or first is None or second is None or jump is None:
        return None
    if jump.lowest > min(first.highest, second.highest):
        what = f"the shortest, {jump.lowest}, is longer than a segment"
        fields.problems.append(Problem(f"{fields.where}.jump", what, "a jump is no longer than either segment"))
        return None
    return offer(prescaler, first, second, jump)


def _read_segment(fields: Fields, key: str) -> RatioSet | None:
    offered = fields.counts(key)
    if offered is not None and offered.highest > LONGEST_SEGMENT:
        what = f"{offered.highest} quanta are too many"
        fields.problems.append(Problem(f"{fields.where}.{key}", what, f"up to {LONGEST_SEGMENT}"))
        return None
    return offered


def _read_timing(fields: Fields, offered: Ranges) -> Timing | None:
    """The four settings, each among those offered, the jump no longer than either segment."""

    def need(key: str, among: RatioSet, example: str) -> int | None:
        return fields.pick(key, among, example)

    prescaler, first = need("prescaler", offered.prescaler, "2"), need("segment_1", offered.segment_1, "13")
    second, jump = need("segment_2", offered.segment_2, "2"), need("jump", offered.jump, "1")
    if prescaler is None or first is None or second is None or jump is None:
        return None
    if jump > min(first, second):
        allowed = f"at most {min(first, second)}, the shorter segment"
        fields.problems.append(Problem(f"{fields.where}.jump", f"{jump} is longer than a segment", allowed))
    return Timing(prescaler, first, second, jump)


FAMILY = Can()
