"""The geometry of combs. The axis runs 12 % of its length past both ends; every x is a hand sum beside its check."""

from fractions import Fraction
from math import log

import pytest

from wheelwork.charts.combs import draw_combs

MHZ = Fraction(10**6)
CORE, LINK = [116 * MHZ, 174 * MHZ, 232 * MHZ], [96 * MHZ, 144 * MHZ, 192 * MHZ, 240 * MHZ]


def at(frequency: float) -> float:
    """x in the window 84 to 276 MHz: 100 * (0.12 + ln(f / 84) / ln(276 / 84)) / 1.24."""
    return 100 * (0.12 + log(frequency / 84) / log(276 / 84)) / 1.24


def test_teeth_stand_on_the_logarithmic_axis_of_the_window() -> None:
    """116 MHz: ln(116/84) = 0.3228, ln(276/84) = 1.1896; 100 * (0.12 + 0.2713) / 1.24 = 31.56 %."""
    picture = draw_combs(84 * MHZ, 276 * MHZ, [CORE, LINK])
    assert picture is not None
    above, below = picture.combs
    assert above[0].x == pytest.approx(31.56, abs=0.01)
    assert [tooth.x for tooth in above] == pytest.approx([at(116), at(174), at(232)], abs=0.01)
    assert [tooth.x for tooth in below] == pytest.approx([at(96), at(144), at(192), at(240)], abs=0.01)
    assert [tooth.label for tooth in above] == ["116", "174", "232"]
    assert picture.unit == "MHz"


def test_the_window_has_a_bracket_at_each_stated_edge() -> None:
    """0.12 / 1.24 = 9.68 %, 1.12 / 1.24 = 90.32 %."""
    picture = draw_combs(84 * MHZ, 276 * MHZ, [CORE, LINK])
    assert picture is not None
    assert (picture.band.left, picture.band.right) == (9.68, 90.32)
    open_above = draw_combs(84 * MHZ, None, [CORE, LINK])
    assert open_above is not None
    assert open_above.band.right is None


def test_ticks_are_round() -> None:
    """From 84 / 3.286^0.12 = 72.8 to 276 * 1.153 = 318.4 MHz: 245.5 / 6 = 40.9, so steps of 50."""
    picture = draw_combs(84 * MHZ, 276 * MHZ, [CORE, LINK])
    assert picture is not None
    assert [tick.label for tick in picture.ticks] == [f"{n}\u00a0MHz" for n in (100, 150, 200, 250, 300)]
    assert picture.ticks[0].x == pytest.approx(at(100), abs=0.01)


def test_a_tick_that_stands_close_to_the_one_before_is_told() -> None:
    """Seven signs take 14 %; 200 MHz stands 19.5 % right of 150 MHz, 250 MHz 15.1 % right of that, 300 MHz 12.4 %."""
    picture = draw_combs(84 * MHZ, 276 * MHZ, [CORE, LINK])
    assert picture is not None
    assert [tick.close for tick in picture.ticks] == [False, False, False, False, True]


def test_a_label_that_would_run_into_the_last_one_is_left_out() -> None:
    """100 and 101 MHz stand 0.7 % apart on this axis, three signs take 6 %."""
    picture = draw_combs(84 * MHZ, 276 * MHZ, [[100 * MHZ, 101 * MHZ, 200 * MHZ]])
    assert picture is not None
    assert [tooth.label for tooth in picture.combs[0]] == ["100", "", "200"]


def test_a_long_axis_has_its_powers_of_ten_for_ticks() -> None:
    """From 1 to 1000 MHz, 12 % of three decades past each end: 0.437 MHz to 2291 MHz."""
    picture = draw_combs(MHZ, 1000 * MHZ, [[10 * MHZ]])
    assert picture is not None
    assert [tick.label for tick in picture.ticks] == ["1\u00a0MHz", "10\u00a0MHz", "100\u00a0MHz", "1\u00a0GHz"]


def test_one_frequency_alone_stands_in_the_middle() -> None:
    picture = draw_combs(None, None, [[48 * MHZ]])
    assert picture is not None
    assert picture.combs[0][0].x == 50.0


def test_nothing_to_place_is_no_picture() -> None:
    assert draw_combs(None, None, [[], []]) is None
