"""The little way down of a kept plan, as it stood when it was kept: written with the revision, so that a list is drawn
without judging every plan in it again.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.charts.ways import WayStop
from wheelwork.judge import Judgement
from wheelwork.judge.little_way import stops_towards


@dataclass(frozen=True, slots=True)
class KeptWay:
    """The stops of the little way down, the core's frequency, and whether a clock was within its window by a hair."""

    stops: tuple[WayStop, ...]
    core: Fraction
    tight: bool


def way_of(judgement: Judgement) -> KeptWay | None:
    """The way to the core's clock, then to those of the loads in use; None where the core has none."""
    core = judgement.clocks.get(judgement.part.core_clock)
    if core is None:
        return None
    stops = stops_towards(judgement, [judgement.part.core_clock, *judgement.plan.in_use])
    return KeptWay(tuple(stops), core.nominal, any(judged.verdict == "tight" for judged in judgement.windows))


def write_way(way: KeptWay) -> str:
    """A way as one line of JSON, its frequencies exact.

    >>> write_way(KeptWay((WayStop(Fraction(8_000_000)), WayStop(Fraction(8_000_000, 3), 0)), Fraction(10), False))
    '{"core":"10","tight":false,"stops":[["8000000",null],["8000000/3",0]]}'
    """
    stops = [[str(stop.frequency), stop.feeder] for stop in way.stops]
    return json.dumps({"core": str(way.core), "tight": way.tight, "stops": stops}, separators=(",", ":"))


def read_way(text: str | None) -> KeptWay | None:
    """A way that was written; None for none, and for what is no way down.

    >>> read_way('{"core":"8000000","tight":true,"stops":[["8000000",null]]}')
    KeptWay(stops=(WayStop(frequency=Fraction(8000000, 1), feeder=None),), core=Fraction(8000000, 1), tight=True)
    >>> read_way('{"core":"8000000","tight":true,"stops":[["8000000",3]]}') is read_way("{}") is read_way(None) is None
    True
    """
    if not text:
        return None
    try:
        raw = json.loads(text)
        stops = tuple(_read_stop(place, *each) for place, each in enumerate(raw["stops"]))
        return KeptWay(stops, _read_frequency(raw["core"]), bool(raw["tight"]))
    except (ValueError, TypeError, KeyError, ZeroDivisionError, RecursionError):
        return None


def _read_stop(place: int, frequency: str, feeder: int | None) -> WayStop:
    if feeder is not None and not 0 <= feeder < place:
        raise ValueError(feeder)
    return WayStop(_read_frequency(frequency), feeder)


def _read_frequency(text: str) -> Fraction:
    whole, _, below = text.partition("/")
    frequency = Fraction(int(whole), int(below or 1))
    if frequency <= 0:
        raise ValueError(text)
    return frequency
