"""A rate's error between its walls. Figures are hand sums of x = 50 + v / 1.5 * 50, v at most 1.36 to either side."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.charts.errors import LEFT_WALL, RIGHT_WALL, draw_error

SHARES = st.fractions(min_value=-5, max_value=5, max_denominator=1000)


@pytest.mark.parametrize(
    ("used", "x"),
    [
        ("0", 50.0),
        ("3/4", 75.0),  # 50 + 0.75 / 1.5 * 50
        ("-1/2", 33.33),
        ("1", 83.33),
        ("-1", 16.67),
        ("1.36", 95.33),  # 50 + 1.36 / 1.5 * 50
        ("9", 95.33),
        ("-9", 4.67),
    ],
)
def test_an_error_stands_where_its_share_of_the_allowance_puts_it(used: str, x: float) -> None:
    assert draw_error(Fraction(used)).mark == x


def test_the_walls_stand_where_the_allowance_is_used_up() -> None:
    assert (draw_error(Fraction(-1)).mark, draw_error(Fraction(1)).mark) == (LEFT_WALL, RIGHT_WALL)


def test_an_error_on_its_wall_is_not_past_it() -> None:
    assert draw_error(Fraction(1)).overrun is None
    assert draw_error(Fraction(-1)).overrun is None


def test_an_overrun_goes_from_the_wall_to_the_mark() -> None:
    assert draw_error(Fraction(5, 4)).overrun == (83.33, 91.67)
    assert draw_error(Fraction(-5, 4)).overrun == (8.33, 16.67)


def test_a_rule_of_one_side_has_one_wall_and_its_band_is_open() -> None:
    at_most = draw_error(Fraction(69, 100), left_wall=False)
    assert (at_most.left_wall, at_most.right_wall, at_most.band) == (False, True, (0.0, RIGHT_WALL))
    at_least = draw_error(Fraction(0), right_wall=False)
    assert (at_least.left_wall, at_least.right_wall, at_least.band) == (True, False, (LEFT_WALL, 100.0))


def test_nothing_is_past_a_wall_that_is_not_there() -> None:
    assert draw_error(Fraction(-4), left_wall=False).overrun is None
    assert draw_error(Fraction(4), right_wall=False).overrun is None


def test_a_whisker_reaches_as_far_as_the_tolerance_over_the_allowance() -> None:
    """±20 ppm of ±100 ppm: a fifth of the way to each wall, 50 ± 0.2 / 1.5 * 50."""
    assert draw_error(Fraction(0), Fraction(-1, 5), Fraction(1, 5)).whisker == (43.33, 56.67)


def test_a_whisker_that_would_hide_under_its_mark_is_not_drawn() -> None:
    """±30 ppm of ±2 %: 0.0015 of the way, 0.1 % of the width."""
    assert draw_error(Fraction(0), Fraction(-15, 10000), Fraction(15, 10000)).whisker is None


@given(SHARES, SHARES, SHARES)
def test_nothing_leaves_the_picture_and_left_is_slow(used: Fraction, one: Fraction, other: Fraction) -> None:
    lowest, highest = min(one, other), max(one, other)
    drawn = draw_error(used, lowest, highest)
    places = [drawn.mark, *(drawn.whisker or ()), *(drawn.overrun or ())]
    assert all(0 <= place <= 100 for place in places)
    assert (drawn.mark < 50) == (round(used, 4) < 0) or abs(used) < Fraction(1, 1000)
    assert drawn.whisker is None or drawn.whisker[0] < drawn.whisker[1]


@given(SHARES)
def test_what_is_past_the_allowance_is_drawn_past_the_wall_and_nothing_else_is(used: Fraction) -> None:
    drawn = draw_error(used)
    assert (drawn.overrun is not None) == (abs(used) > 1)
    assert (LEFT_WALL <= drawn.mark <= RIGHT_WALL) == (abs(used) <= Fraction(10001, 10000))
