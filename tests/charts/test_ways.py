"""The little way down. x = 100 * log10(f / f0) / log10(f1 / f0) by hand; y from 4 to 26 in even steps."""

from fractions import Fraction
from math import log10

import pytest

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.ways import Thread, WayStop, draw_way

MHZ = Fraction(10**6)
DECADE = Axis(6.0, 8.0)  # 1 MHz to 100 MHz


def test_stops_stand_evenly_from_top_to_bottom() -> None:
    """Five stops over 22 px: one each 5.5 px."""
    way = draw_way(DECADE, [WayStop(MHZ), *(WayStop(MHZ, place) for place in range(4))])
    assert [y for _, y in way.marks] == [4.0, 9.5, 15.0, 20.5, 26.0]


def test_a_lone_stop_stands_in_the_middle() -> None:
    assert draw_way(DECADE, [WayStop(10 * MHZ)]).marks == ((50.0, 15.0),)


def test_a_ratio_is_a_step_sideways() -> None:
    """8 MHz up to 80 MHz is a decade, half of this axis; log10(8) / 2 = 45.15 %."""
    way = draw_way(DECADE, [WayStop(8 * MHZ), WayStop(80 * MHZ, 0)])
    assert [x for x, _ in way.marks] == [45.15, 95.15]


def test_a_thread_drops_from_its_feeder_and_runs_across() -> None:
    """Two stops hang on the first: both threads start at its mark (25 %, 4 px)."""
    ten = Fraction(10) ** Fraction(1, 2)
    stops = [WayStop(Fraction(ten) * MHZ), WayStop(MHZ, 0), WayStop(100 * MHZ, 0)]
    way = draw_way(DECADE, stops)
    assert way.threads == (Thread(25.0, 4.0, 15.0, 0.0), Thread(25.0, 4.0, 26.0, 100.0))


@pytest.mark.parametrize(
    ("frequencies", "low", "high"),
    [
        ([4 * MHZ, 232 * MHZ], 2, 500),
        ([8 * MHZ], 2, 20),  # widened by a step below and above until it is a decade long
    ],
)
def test_the_axis_of_a_table_is_as_short_as_its_clocks_allow(
    frequencies: list[Fraction], low: float, high: float
) -> None:
    axis = axis_over(frequencies, least=1)
    assert (axis.low, axis.high) == pytest.approx((log10(low * 1e6), log10(high * 1e6)))
