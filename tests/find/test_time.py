"""Sheets on which a search could go on for ever: it keeps to its time, and says that it has not tried everything."""

from __future__ import annotations

from fractions import Fraction
from time import monotonic
from typing import Any

import pytest

from wheelwork.find.counting import count_settings
from wheelwork.find.mends import with_mends
from wheelwork.find.operating import Work, find_operating_points
from wheelwork.judge import judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan

TIME = 0.1
pytestmark = pytest.mark.timeout(3)  # a bound on what hangs: alone the answers are there after 0.1 to 0.2 s

Sheet = dict[str, Any]


def hopeless(always: list[str], **more: Any) -> Sheet:
    """A sheet whose core clock of 8 MHz is over by 7 MHz, with nothing that could change it but what is given."""
    core = {"input": "rc", "ratios": [1], "limits": "up to 1 MHz"}
    return {
        "format": "wheelwork-part/1",
        "name": "Hopeless",
        "core": {"clock": "core", "always": always},
        "core_voltage": {"only": {"volts": "1.2 V"}},
        "oscillator": {"rc": {"frequency": "8 MHz"}, **more.pop("oscillator", {})},
        "divider": {"core": core, **more.pop("divider", {})},
        **more,
    }


def selectors(count: int, inputs: list[str]) -> Sheet:
    sources = {name: {"frequency": "9 MHz"} for name in inputs if name != "rc"}
    names = [f"s{i}" for i in range(count)]
    return hopeless(names, oscillator=sources, selector={name: {"inputs": inputs} for name in names})


def conditions() -> Sheet:
    dividers = {f"d{i}": {"input": "core", "ratios": "1..64", "limits": "up to 100 Hz"} for i in range(200)}
    when = [{"divider": name, "ratio_above": 1} for name in dividers]
    scalers = {f"k{i}": {"input": f"d{i}", "multiply": 2, "when": when[i]} for i in range(200)}
    return hopeless(list(scalers), divider=dividers, scaler=scalers)


def long_lists() -> Sheet:
    ratios: list[Any] = [f"{3000 * i + 1}..{3000 * i + 1000}" for i in range(16)]
    ratios += [f"{p}/7" for p in range(1000, 2000) if p % 7]
    dividers = {f"d{i}": {"input": f"d{i - 1}" if i else "rc", "ratios": ratios} for i in range(10)}
    return hopeless([], divider={**dividers, "core": {"input": "d9", "ratios": ratios, "limits": "up to 2 Hz"}})


def long_ways() -> Sheet:
    dividers = {
        f"d{way}n{i}": {"input": f"d{way}n{i - 1}" if i else "rc", "ratios": "1..999", "limits": "up to 1 MHz"}
        for way in range(6)
        for i in range(78)
    }
    return hopeless([f"d{way}n77" for way in range(6)], divider=dividers)


def choices() -> Sheet:
    oscillators = {
        f"o{i}": {"frequency": [f"{j + 1} kHz" for j in range(256)], "limits": "up to 1 Hz"} for i in range(50)
    }
    return hopeless(list(oscillators), oscillator=oscillators)


def huge_factors() -> Sheet:
    pll = {
        "input": "rc",
        "reference_divider": "1..1000000000",
        "feedback": "1..1000000000",
        "fraction_of": 2**40,
        "phase_detector": "1.1 MHz .. 1.2 MHz",
        "vco": "100 MHz .. 100.000001 MHz",
    }
    tap = {"input": "pll", "ratios": "1..1000000000", "limits": "0.9999999 MHz .. 1 MHz"}
    return hopeless(["tap"], pll={"pll": pll}, divider={"core": tap, "tap": tap})


def odd_parts() -> Sheet:
    dividers = {
        f"d{i}": {
            "input": "rc",
            "ratios": [f"{9999999967 - 2 * i}/{9999999929 - 4 * i}"],
            "limits": f"from {i + 1}.7 Hz",
        }
        for i in range(400)
    }
    return hopeless(list(dividers), divider=dividers)


SHEETS: dict[str, Sheet] = {
    "300 selectors of 50": selectors(300, ["rc", *(f"o{i}" for i in range(49))]),
    "40 selectors of 2": selectors(40, ["rc", "other"]),
    "200 conditions": conditions(),
    "long lists": long_lists(),
    "long ways": long_ways(),
    "50 oscillators of 256": choices(),
    "huge factors": huge_factors(),
    "ratios with large parts": odd_parts(),
}


def part_of(sheet: Sheet) -> Part:
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    return part


@pytest.mark.parametrize("name", SHEETS)
def test_a_search_for_mends_keeps_to_its_time(name: str) -> None:
    part = part_of(SHEETS[name])
    judgement = judge(part, Plan(core_voltage="only"))
    assert not judgement.legal
    started = monotonic()
    mended = with_mends(judgement, lambda: monotonic() < started + TIME)
    first = mended.findings[0]
    assert first.mend or first.tried


@pytest.mark.parametrize("name", SHEETS)
def test_a_count_keeps_to_its_time_and_is_none_where_it_is_not_decided(name: str) -> None:
    part = part_of(SHEETS[name])
    started = monotonic()
    count = count_settings(part, Plan(core_voltage="only"), lambda: monotonic() < started + TIME)
    assert count in (None, 0)


@pytest.mark.parametrize("name", SHEETS)
def test_operating_points_keep_to_their_time(name: str) -> None:
    part, started = part_of(SHEETS[name]), monotonic()
    work = Work(Fraction(1000))
    found = find_operating_points(part, Plan(core_voltage="only"), work, lambda: monotonic() < started + TIME)
    assert found.best is None
    assert found.tried is None or found.proven


@pytest.mark.parametrize("asked", [0, 1, 10, 100])
def test_a_search_that_is_stopped_says_so(asked: int) -> None:
    part = part_of(SHEETS["300 selectors of 50"])
    left = iter(range(asked))
    mended = with_mends(judge(part, Plan(core_voltage="only")), lambda: next(left, None) is not None)
    assert "the time for it ended before" in mended.findings[0].tried
