"""Spans and windows: forms of model.md, edges that belong to them, round trips."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.findings import Unreadable
from wheelwork.quantities.spans import (
    Span,
    Window,
    read_temperatures,
    read_tolerance,
    read_window,
    say_tolerance,
    write_temperatures,
    write_tolerance,
    write_window,
)

MEGA = 10**6


@pytest.mark.parametrize(
    ("text", "lowest", "highest"),
    [
        ("up to 64 MHz", None, 64 * MEGA),
        ("from 4 MHz", 4 * MEGA, None),
        ("4 MHz .. 48 MHz", 4 * MEGA, 48 * MEGA),
        ("4 to 48 MHz", 4 * MEGA, 48 * MEGA),
        ("from 4 MHz to 48 MHz", 4 * MEGA, 48 * MEGA),
        ("48 MHz ± 0.25 %", 47_880_000, 48_120_000),
        ("48 MHz +- 2500 ppm", 47_880_000, 48_120_000),
    ],
)
def test_a_window_is_read(text: str, lowest: int | None, highest: int | None) -> None:
    window = read_window(text)
    assert (window.lowest, window.highest) == (lowest, highest)
    assert window.accuracy == ("±" in text or "+-" in text)


@pytest.mark.parametrize(
    "text", ["4 MHz", "48 MHz .. 4 MHz", "1 MHz .. 2 MHz .. 3 MHz", "up to 5", "5 MHz ± 100 %", ""]
)
def test_what_is_no_window_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        read_window(text)


@pytest.mark.parametrize(
    ("hertz", "inside"), [(4 * MEGA, True), (48 * MEGA, True), (4 * MEGA - 1, False), (48 * MEGA + 1, False)]
)
def test_an_edge_belongs_to_its_window(hertz: int, inside: bool) -> None:
    assert (hertz in read_window("4 MHz .. 48 MHz")) is inside


@pytest.mark.parametrize(
    ("text", "lowest", "highest"),
    [
        ("±20 ppm", Fraction(-1, 50_000), Fraction(1, 50_000)),
        ("+-20 ppm", Fraction(-1, 50_000), Fraction(1, 50_000)),
        ("-1 % .. +1.5 %", Fraction(-1, 100), Fraction(3, 200)),
        ("\u22121.5\u00a0% to +1.2\u00a0%", Fraction(-3, 200), Fraction(3, 250)),
        ("±0 %", Fraction(0), Fraction(0)),
    ],
)
def test_a_tolerance_is_read(text: str, lowest: Fraction, highest: Fraction) -> None:
    assert read_tolerance(text) == Span(lowest, highest)


@pytest.mark.parametrize("text", ["20 ppm", "±20", "-100 % .. 1 %", "±150 %", "+1 % .. -1 %"])
def test_what_is_no_tolerance_is_refused(text: str) -> None:
    with pytest.raises(Unreadable):
        read_tolerance(text)


@pytest.mark.parametrize(
    ("text", "what", "allowed"),
    [
        ("30 ppm", "'30 ppm' has no sign on both sides", "write ±30 ppm, or two ends: -1 % .. +1.5 %"),
        ("-2 %", "'-2 %' has no sign on both sides", "write ±2 %, or two ends: -1 % .. +1.5 %"),
        ("±30", "'±30' has no unit", "write it as ±30 ppm"),
        ("30", "'30' has no unit", "write it as ±30 ppm"),
    ],
)
def test_a_tolerance_is_refused_with_what_was_meant(text: str, what: str, allowed: str) -> None:
    with pytest.raises(Unreadable) as refused:
        read_tolerance(text)
    assert (refused.value.what, refused.value.allowed) == (what, allowed)


def test_temperatures_are_read_as_they_are_shown() -> None:
    assert read_temperatures("\u221220 to 50 °C") == Span(Fraction(-20), Fraction(50))
    assert read_temperatures("25 °C") == Span(Fraction(25), Fraction(25))


shares = st.fractions(min_value=Fraction(-9, 10), max_value=Fraction(9, 10), max_denominator=10**6)
hertz = st.fractions(min_value=1, max_value=10**9, max_denominator=10**4)


@given(shares, shares)
def test_a_tolerance_reads_back(one: Fraction, other: Fraction) -> None:
    span = Span(min(one, other), max(one, other))
    assert read_tolerance(write_tolerance(span)) == span


@given(st.integers(-40, 125), st.integers(-40, 125))
def test_temperatures_read_back(one: int, other: int) -> None:
    span = Span(Fraction(min(one, other)), Fraction(max(one, other)))
    assert read_temperatures(write_temperatures(span)) == span


@given(hertz, hertz, st.sampled_from(["both", "low", "high"]))
def test_a_window_reads_back(one: Fraction, other: Fraction, sides: str) -> None:
    low, high = min(one, other), max(one, other)
    window = Window(None if sides == "high" else low, None if sides == "low" else high)
    assert read_window(write_window(window)) == window


@given(hertz, st.fractions(min_value=0, max_value=Fraction(1, 2), max_denominator=10**6))
def test_an_accuracy_reads_back(centre: Fraction, share: Fraction) -> None:
    window = Window(centre * (1 - share), centre * (1 + share), True, centre, share)
    assert read_window(write_window(window)) == window


def test_what_is_said_of_a_tolerance_can_be_read() -> None:
    for text in ("±30 ppm", "-1.5 % .. +1.2 %", "±7 %"):
        assert read_tolerance(say_tolerance(read_tolerance(text))) == read_tolerance(text)
