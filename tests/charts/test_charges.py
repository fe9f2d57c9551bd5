from __future__ import annotations

from fractions import Fraction

from wheelwork.charts.charges import HEIGHT, LEFT, TOP, WIDTH, draw_charges

MEGA = 10**6


def test_a_clock_ten_times_as_fast_is_as_far_again() -> None:
    points = [(Fraction(clock * MEGA), Fraction(10)) for clock in (1, 10, 100)]
    picture = draw_charges([("1 V", points)], [])
    assert picture is not None
    (first, _), (middle, _), (last, _) = picture.curves[0].line
    assert round(middle - first - (last - middle), 1) == 0
    assert first == LEFT


def test_twice_the_charge_is_twice_as_high() -> None:
    picture = draw_charges([("1 V", [(Fraction(MEGA), Fraction(20)), (Fraction(2 * MEGA), Fraction(10))])], [])
    assert picture is not None
    floor = picture.up[0].at
    (_, high), (_, low) = picture.curves[0].line
    assert round((floor - high) / (floor - low), 2) == 2


def test_what_costs_more_than_three_times_the_least_is_not_drawn() -> None:
    points = [(Fraction(MEGA), Fraction(31)), (Fraction(2 * MEGA), Fraction(30)), (Fraction(4 * MEGA), Fraction(10))]
    picture = draw_charges([("1 V", points)], [(Fraction(MEGA), Fraction(31)), (Fraction(4 * MEGA), Fraction(10))])
    assert picture is not None
    assert len(picture.curves[0].line) == 2
    assert [mark is None for mark in picture.marks] == [True, False]


def test_all_of_it_lies_inside_the_picture_and_nothing_gives_none() -> None:
    picture = draw_charges([("a", [(Fraction(MEGA), Fraction(1, 10**5))]), ("b", [])], [])
    assert picture is not None
    assert all(LEFT <= x <= WIDTH and TOP <= y <= HEIGHT for curve in picture.curves for x, y in curve.line)
    assert draw_charges([("a", [])], []) is None
