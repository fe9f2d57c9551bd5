"""Verdicts: edges, tolerance, accuracy; examples by hand and laws of carrying a span through a divider."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.clocks.propagate import Clock
from wheelwork.clocks.verdicts import fits, judge_clock
from wheelwork.quantities.spans import Span, Window, read_tolerance, read_window


def clock(hertz: int, tolerance: str = "±0 ppm") -> Clock:
    return Clock(Fraction(hertz), read_tolerance(tolerance), "source")


TABLE = [
    (58_000_000, "±0 ppm", "up to 58 MHz", False, "inside", 0),
    (58_000_000, "±30 ppm", "up to 58 MHz", False, "tight", -1740),  # 58 MHz * 30e-6
    (58_000_000, "±30 ppm", "up to 58 MHz", True, "over", -1740),
    (58_000_001, "±0 ppm", "up to 58 MHz", False, "over", -1),
    (4_000_000, "±1 %", "from 4 MHz", False, "tight", -40_000),
    (3_999_999, "±0 ppm", "from 4 MHz", False, "under", -1),
    (48_000_000, "±0.25 %", "48 MHz ± 0.25 %", False, "inside", 0),
    (48_000_000, "±0.26 %", "48 MHz ± 0.25 %", False, "over", -4_800),
    (47_990_000, "±0.25 %", "48 MHz ± 0.25 %", False, "under", -9_975),  # 47.990 * 0.9975 = 47.870025
    (10_000_000, "-2 % .. +1 %", "9.9 MHz .. 10.2 MHz", False, "tight", -100_000),
    (10_000_000, "±1 %", "2 MHz .. 20 MHz", True, "inside", 7_900_000),
]


@pytest.mark.parametrize(("hertz", "tolerance", "window", "strict", "verdict", "margin"), TABLE)
def test_a_clock_is_judged_against_its_window(
    hertz: int, tolerance: str, window: str, strict: bool, verdict: str, margin: int
) -> None:
    judged = judge_clock(clock(hertz, tolerance), read_window(window), strict)
    assert (judged.verdict, judged.margin) == (verdict, margin)


def test_without_a_window_a_clock_is_inside_and_has_no_margin() -> None:
    judged = judge_clock(clock(1), None)
    assert (judged.verdict, judged.margin, judged.window) == ("inside", None, None)


hertz = st.fractions(min_value=1, max_value=10**9, max_denominator=1000)
shares = st.fractions(min_value=Fraction(-1, 10), max_value=Fraction(1, 10), max_denominator=10**5)
ratios = st.fractions(min_value=Fraction(1, 100), max_value=1000, max_denominator=100)


@given(hertz, shares, shares, ratios)
def test_a_span_carried_through_a_divider_and_back_is_itself(
    f: Fraction, one: Fraction, other: Fraction, ratio: Fraction
) -> None:
    start = Clock(f, Span(min(one, other), max(one, other)), "source")
    assert start.over(ratio).times(ratio) == start
    divided = start.over(ratio)
    assert divided.lowest * ratio == start.lowest
    assert divided.highest * ratio == start.highest


@given(hertz, shares, shares, hertz, hertz, st.booleans(), st.booleans())
def test_the_quick_answer_is_that_of_the_whole_verdict(
    f: Fraction, one: Fraction, other: Fraction, low: Fraction, high: Fraction, accuracy: bool, strict: bool
) -> None:
    tested = Clock(f, Span(min(one, other, Fraction(0)), max(one, other, Fraction(0))), "source")
    window = Window(min(low, high), max(low, high), accuracy)
    judged = judge_clock(tested, window, strict)
    assert fits(tested, window, strict) == (not judged.outside)
    margin = min(tested.lowest - min(low, high), max(low, high) - tested.highest)
    assert judged.margin == margin
    assert (judged.verdict == "inside") == (margin >= 0 and not judged.outside)
