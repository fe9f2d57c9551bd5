"""Wait states and core-voltage steps against the published rule and the examples of tests/reference/electrical.toml."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.published import exact, examples, label
from wheelwork.clocks.propagate import Clock
from wheelwork.clocks.verdicts import fits
from wheelwork.part.nodes import FlashRow, Step
from wheelwork.power.wait_states import needed_wait_states
from wheelwork.quantities.spans import EXACT, SUPPLY_WINDOW, Span, Window, read_window

MEGA = 10**6


def clock(hertz: Fraction | int, share: Fraction | int = 0) -> Clock:
    return Clock(Fraction(hertz), Span(-Fraction(share), Fraction(share)) if share else EXACT, "source")


def step(*rows: FlashRow) -> Step:
    return Step("only", Fraction(1), flash=rows)


@pytest.mark.parametrize("example", [e for e in examples("FLASH-W") if "t_access" in e["given"]], ids=label)
def test_a_table_made_from_an_access_time_gives_the_published_wait_states(example: Any) -> None:
    """W = max(0, ceil(f * t_access) - 1): row w of the table reaches up to (w + 1) / t_access."""
    access = exact(example["given"]["t_access"])
    table = step(*(FlashRow((waits + 1) / access, waits) for waits in range(12)))
    assert needed_wait_states(table, clock(exact(example["given"]["f"])), None) == example["expect"]["w"]


@pytest.mark.parametrize("example", [e for e in examples("FLASH-W") if "limits_mhz" in e["given"]], ids=label)
def test_a_printed_table_rules_and_its_edges_belong_to_its_rows(example: Any) -> None:
    limits = example["given"]["limits_mhz"]
    table = step(*(FlashRow(Fraction(limit * MEGA), waits) for waits, limit in enumerate(limits)))
    for waits, limit in enumerate(limits):
        assert needed_wait_states(table, clock(limit * MEGA), None) == waits
        past = needed_wait_states(table, clock(limit * MEGA + 1), None)
        assert past == (waits + 1 if waits + 1 < len(limits) else None)


def test_without_a_table_none_are_needed() -> None:
    assert needed_wait_states(step(), clock(10**9), None) == 0


def test_a_row_with_a_supply_counts_only_at_such_a_supply() -> None:
    high = read_window("from 2.7 V", SUPPLY_WINDOW)
    table = step(
        FlashRow(Fraction(10 * MEGA), 0), FlashRow(Fraction(20 * MEGA), 0, high), FlashRow(Fraction(20 * MEGA), 1)
    )
    fast = clock(15 * MEGA)
    assert needed_wait_states(table, fast, Fraction(3)) == 0
    assert needed_wait_states(table, fast, Fraction(27, 10)) == 0
    assert needed_wait_states(table, fast, Fraction(2)) == 1
    assert needed_wait_states(table, fast, None) == 1


def test_a_sheet_judged_with_tolerance_counts_the_highest() -> None:
    """24 MHz + 1 % = 24.24 MHz."""
    table = step(FlashRow(Fraction(24 * MEGA), 0), FlashRow(Fraction(48 * MEGA), 1))
    assert needed_wait_states(table, clock(24 * MEGA, Fraction(1, 100)), None) == 0
    assert needed_wait_states(table, clock(24 * MEGA, Fraction(1, 100)), None, with_tolerance=True) == 1


@pytest.mark.parametrize("example", examples("STEP-TABLE"), ids=label)
def test_the_lowest_step_is_the_published_one_when_limits_include_the_tolerance(example: Any) -> None:
    given = example["given"]
    tested = clock(exact(given["f"]), exact(given["tolerance_ppm"]) / MEGA)
    steps = zip(given["steps_v"], given["steps_f_max"], strict=True)
    suits = (volts for volts, limit in steps if fits(tested, Window(None, Fraction(limit)), with_tolerance=True))
    assert next(suits, "none") == example["expect"]["step_v"]
