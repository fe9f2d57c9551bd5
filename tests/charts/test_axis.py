"""The axis of the lanes. Every figure is a hand sum of `x = 100 * ln(f / f0) / ln(f1 / f0)`, shown beside the check."""

from fractions import Fraction
from math import log10

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.charts.axis import Axis, Tick, axis_over, decades, label_of_power

KHZ, MHZ = Fraction(10**3), Fraction(10**6)
FREQUENCIES = st.fractions(min_value=Fraction(1, 10**6), max_value=10**12).filter(lambda frequency: frequency > 0)


@pytest.mark.parametrize(
    ("lowest", "highest", "f0", "f1"),
    [
        (Fraction(32768), 276 * MHZ, 2e4, 5e8),  # 32.768 kHz down to 20 kHz, 276 MHz up to 500 MHz
        (20 * KHZ, 500 * MHZ, 2e4, 5e8),  # a step of 1, 2, 5 stays where it is
        (Fraction(20001), 200 * MHZ + 1, 2e4, 5e8),
        (Fraction(19999), 200 * MHZ, 1e4, 2e8),
    ],
)
def test_the_ends_move_out_to_the_next_step_of_1_2_5(lowest: Fraction, highest: Fraction, f0: float, f1: float) -> None:
    axis = axis_over([lowest, highest])
    assert (10**axis.low, 10**axis.high) == pytest.approx((f0, f1), rel=1e-9)


def test_an_axis_has_three_decades_at_least() -> None:
    axis = axis_over([8 * MHZ, 9 * MHZ])
    assert axis.high - axis.low >= 3 - 1e-9
    assert axis.low <= log10(8e6)
    assert axis.high >= log10(9e6)


def test_a_plan_without_any_frequency_still_has_an_axis() -> None:
    axis = axis_over([])
    assert axis.high - axis.low >= 3 - 1e-9


@pytest.mark.parametrize(
    ("frequency", "x"),
    [
        (20 * KHZ, 0.0),
        (8 * MHZ, 59.17),  # log10(8e6 / 2e4) = 2.60206; the axis is log10(25000) = 4.39794 long; 59.166 %
        (232 * MHZ, 92.42),  # log10(11600) = 4.06446
        (Fraction(232_000_000, 9), 70.72),  # log10(1288.888...) = 3.11022
        (500 * MHZ, 100.0),
    ],
)
def test_a_frequency_stands_at_its_share_of_the_logarithm(frequency: Fraction, x: float) -> None:
    assert axis_over([20 * KHZ, 500 * MHZ]).x(frequency) == pytest.approx(x, abs=0.011)


@given(FREQUENCIES, FREQUENCIES, st.integers(min_value=2, max_value=64))
def test_a_ratio_is_the_same_step_sideways_everywhere(one: Fraction, other: Fraction, ratio: int) -> None:
    axis = axis_over([one, other, one / ratio, other / ratio])
    assert axis.x(one) - axis.x(one / ratio) == pytest.approx(axis.x(other) - axis.x(other / ratio), abs=0.021)


@given(st.lists(FREQUENCIES, min_size=1, max_size=8))
def test_everything_shown_finds_room_on_the_axis(frequencies: list[Fraction]) -> None:
    axis = axis_over(frequencies)
    assert all(0 <= axis.x(frequency) <= 100 for frequency in frequencies)


def test_terms_too_large_for_a_float_still_have_a_place() -> None:
    huge = Fraction(10**500 + 1, 10**494)
    assert decades(huge) == pytest.approx(6.0)
    assert axis_over([huge]).x(huge) == axis_over([MHZ]).x(MHZ)


def test_ticks_stand_at_1_to_9_of_each_decade_and_tens_are_labelled() -> None:
    ticks = axis_over([10 * KHZ, 10 * MHZ]).ticks()
    assert ticks[0] == Tick(0.0, "ten", "10\u00a0kHz")
    assert [tick.label for tick in ticks if tick.label] == ["10\u00a0kHz", "100\u00a0kHz", "1\u00a0MHz", "10\u00a0MHz"]
    assert [tick.size for tick in ticks[:10]] == ["ten", "one", "one", "one", "five", "one", "one", "one", "one", "ten"]
    assert len(ticks) == 3 * 9 + 1


def test_grid_lines_stand_under_the_powers_of_ten_only() -> None:
    grid = axis_over([20 * KHZ, 500 * MHZ]).grid()
    # log10(1e5 / 2e4) = 0.69897 of 4.39794, then one decade (22.738 %) apart
    assert grid == pytest.approx((15.89, 38.63, 61.37, 84.11), abs=0.011)


def test_a_very_long_axis_keeps_to_a_dozen_grid_lines() -> None:
    axis = axis_over([Fraction(1, 10**150), Fraction(10**9)])
    assert 6 <= len(axis.grid()) <= 13
    assert len(axis.ticks()) < 120


@pytest.mark.parametrize(
    ("power", "label"),
    [(-2, "0.01\u00a0Hz"), (0, "1\u00a0Hz"), (4, "10\u00a0kHz"), (8, "100\u00a0MHz"), (9, "1\u00a0GHz")],
)
def test_a_power_of_ten_is_labelled_in_its_unit(power: int, label: str) -> None:
    assert label_of_power(power) == label


def test_an_axis_tells_where_a_frequency_stands_without_rounding_it_away() -> None:
    assert Axis(4.0, 8.0).x(Fraction(10**6)) == 50.0
