"""The little way down. x = 170 * log10(f / f0) / log10(f1 / f0) by hand; y from 4 to 26 in even steps."""

from fractions import Fraction
from math import log10

import pytest

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.ways import WayStop, draw_way

MHZ = Fraction(10**6)
TWO_DECADES = Axis(6.0, 8.0)  # 1 MHz to 100 MHz


def test_stops_stand_evenly_from_top_to_bottom() -> None:
    """Five stops over 22 px: one each 5.5 px."""
    way = draw_way(TWO_DECADES, [WayStop(MHZ), *(WayStop(MHZ, place) for place in range(4))])
    assert [y for _, y in way.marks] == [4.0, 9.5, 15.0, 20.5, 26.0]


def test_a_lone_stop_stands_in_the_middle() -> None:
    assert draw_way(TWO_DECADES, [WayStop(10 * MHZ)]).marks == ((85.0, 15.0),)


def test_a_ratio_is_a_step_sideways() -> None:
    """From 8 to 80 MHz is a decade, half of this axis: 85 px. log10(8) / 2 = 45.15 % of 170 px is 76.8 px."""
    way = draw_way(TWO_DECADES, [WayStop(8 * MHZ), WayStop(80 * MHZ, 0)])
    assert [x for x, _ in way.marks] == pytest.approx([76.8, 76.8 + 85], abs=0.06)


def test_a_thread_turns_half_a_step_above_what_it_leads_to() -> None:
    """Two stops hang on the first one, at 10 MHz; stops are 11 px apart, so threads turn at 9.5 and 20.5 px."""
    way = draw_way(TWO_DECADES, [WayStop(10 * MHZ), WayStop(MHZ, 0), WayStop(100 * MHZ, 0)])
    assert way.threads == (
        ((85.0, 4.0), (85.0, 9.5), (0.0, 9.5), (0.0, 15.0)),
        ((85.0, 4.0), (85.0, 20.5), (170.0, 20.5), (170.0, 26.0)),
    )


@pytest.mark.parametrize(
    ("frequencies", "low", "high"),
    [
        ([4 * MHZ, 232 * MHZ], 2, 500),
        ([8 * MHZ], 2, 20),  # moved out to 5 and 10 MHz, then by a step on each side until it is a decade long
    ],
)
def test_the_axis_of_a_table_is_as_short_as_its_clocks_allow(
    frequencies: list[Fraction], low: float, high: float
) -> None:
    axis = axis_over(frequencies, least=1)
    assert (axis.low, axis.high) == pytest.approx((log10(low * 1e6), log10(high * 1e6)))
