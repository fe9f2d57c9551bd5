"""Sheets that are more than a part can be: refused with their place, before anyone has to wait for them."""

from __future__ import annotations

from collections.abc import Callable
from math import log10
from typing import Any

import pytest

from wheelwork.part.faults import MOST_PROBLEMS
from wheelwork.part.graph import MOST_DIGITS
from wheelwork.part.reading import MOST_VALUES, read_sheet, read_sheet_json

pytestmark = pytest.mark.timeout(3)  # a bound on what hangs: alone all of these take at most half a second

Sheet = dict[str, Any]


def smallest(**more: Any) -> Sheet:
    return {
        "format": "wheelwork-part/1",
        "name": "Smallest",
        "core": {"clock": "core"},
        "core_voltage": {"only": {"volts": "1.2 V"}},
        "oscillator": {"rc": {"frequency": "8 MHz"}},
        "divider": {"core": {"input": "rc", "ratios": "1..4"}},
        **more,
    }


def deep(levels: int) -> Sheet:
    inner: Any = []
    for _ in range(levels):
        inner = [inner]
    return smallest(load={"port": {"input": "core", "uart": {"a": inner}}})


def in_a_row(count: int, **factor: int) -> dict[str, Any]:
    """Scalers one behind the other, the last one last."""
    return {f"s{i}": {"input": f"s{i - 1}" if i else "rc", **factor} for i in range(count)}


def below(scalers: dict[str, Any]) -> Sheet:
    return smallest(scaler=scalers, divider={"core": {"input": list(scalers)[-1], "ratios": [1]}})


LONG = "aab" * 18
EXCESSES: list[tuple[str, Callable[[], Sheet], str, str]] = [
    ("values", lambda: smallest(rule=[[0] * 1000] * 30), "part", f"more than {MOST_VALUES} values"),
    ("keys", lambda: smallest(**{f"key{i}": i for i in range(100_000)}), "part", f"more than {MOST_VALUES} values"),
    ("levels", lambda: deep(40), "part", "nested too deeply"),
    ("digits above", lambda: below(in_a_row(60, multiply=10**10)), "scaler.s59", "600 digits"),
    ("digits below", lambda: below(in_a_row(60, divide=10**10)), "scaler.s59", "600 digits"),
    ("nodes in a row", lambda: below(in_a_row(81)), "divider.core", "83 nodes stand one behind the other"),
    ("a date", lambda: smallest(load={"port": {"input": "core", "rtc": {"from": 0.1}}}), "load.port.rtc", "'0.1' is"),
    (
        "names that are all alike and unknown",
        lambda: smallest(
            selector={f"{LONG}{i:04d}": {"inputs": [f"{LONG}x{j}" for j in range(50)]} for i in range(300)}
        ),
        f"selector.{LONG}0000.inputs",
        "is no node of this sheet",
    ),
    (
        "ranges that meet nowhere",
        lambda: smallest(
            divider={
                f"d{i}": {"input": "rc", "ratios": [f"{j + 1}..{10**9 + j} step {10**6 + 17 * j}" for j in range(16)]}
                for i in range(400)
            }
        ),
        "core.clock",
        "is no node",
    ),
    (
        "ranges",
        lambda: smallest(divider={"core": {"input": "rc", "ratios": [f"{9 * i + 1}..{9 * i + 3}" for i in range(17)]}}),
        "divider.core.ratios",
        "17 ranges are too many",
    ),
]


@pytest.mark.parametrize(("make", "where", "what"), [case[1:] for case in EXCESSES], ids=[case[0] for case in EXCESSES])
def test_a_sheet_that_is_too_much_is_refused_soon(make: Callable[[], Sheet], where: str, what: str) -> None:
    part, problems = read_sheet_json(make())
    assert part is None
    assert len(problems) <= MOST_PROBLEMS + 1
    assert [problem for problem in problems if problem.where == where and what in problem.what], problems[:3]


def test_a_sheet_of_hundreds_of_faults_says_that_more_may_follow() -> None:
    faulty = smallest(divider={f"d{i}": {"input": "nowhere", "ratios": "1..4"} for i in range(300)})
    part, problems = read_sheet_json(faulty)
    assert part is None
    assert len(problems) == MOST_PROBLEMS + 1
    assert "there may be more problems" in problems[-1].what


def test_a_date_in_a_free_table_is_refused_with_its_line() -> None:
    """TOML has dates; JSON, in which sheets are served and plans ride in addresses, has none."""
    text = """format = "wheelwork-part/1"
name = "Smallest"
core.clock = "rc"
core_voltage.only.volts = "1.2 V"
oscillator.rc.frequency = "8 MHz"
[load.port]
input = "rc"
rtc = { from = 2024-02-29 }
"""
    part, problems = read_sheet(text)
    assert part is None
    assert [(problem.line, problem.where) for problem in problems] == [(8, "load.port.rtc")]
    assert "in quotes" in problems[0].allowed


def test_the_longest_way_that_is_read_has_a_clock_in_floats() -> None:
    """Each scaler by 10^10 adds ten digits; 24 of them are 240, and 10^12 Hz times 10^240 is below 1.8e308."""
    assert MOST_DIGITS + log10(10**12) < 308
    part, problems = read_sheet_json(below(in_a_row(MOST_DIGITS // 10, multiply=10**10)))
    assert part is not None, problems


@pytest.mark.parametrize(
    "codes", [[], "", "0x10", "1_000", "1in ratio", "ratio if 1 else 2", "ratio ** 2", "()", "ratio\x00"]
)
def test_codes_that_are_no_sum_of_ratio_are_refused_without_a_warning(codes: object) -> None:
    """The parser of expressions warns of `1in`; warnings are errors here and noise on a server."""
    part, problems = read_sheet_json(smallest(divider={"core": {"input": "rc", "ratios": "1..4", "codes": codes}}))
    assert part is None
    assert [problem.where for problem in problems] == ["divider.core.codes"]
