"""Bands, whiskers and the room to the limit. Figures are hand sums of the formulas, shown beside the checks."""

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.charts.axis import Axis, axis_over
from wheelwork.charts.lanes import ROOM_TICKS, WALL, draw_band, draw_room, draw_whisker, rule_ticks, run_length

MHZ = Fraction(10**6)
PPM = Fraction(1, 10**6)
AXIS = axis_over([Fraction(20_000), 500 * MHZ])


def room(
    nominal: Fraction,
    floor: Fraction | None,
    ceiling: Fraction | None,
    below: Fraction = 0 * PPM,
    above: Fraction = 0 * PPM,
) -> tuple[float, tuple[float, float] | None, float | None]:
    drawn = draw_room("inside", nominal, nominal * (1 - below), nominal * (1 + above), floor, ceiling)
    return drawn.x, drawn.whisker, drawn.overrun


def test_a_window_has_a_bracket_at_each_stated_limit() -> None:
    band = draw_band(Axis(4.0, 8.0), Fraction(10**5), Fraction(10**7))
    assert (band.x, band.width, band.left, band.right) == (25.0, 50.0, 25.0, 75.0)


@pytest.mark.parametrize(
    ("lowest", "highest", "x", "width", "left", "right"),
    [
        (None, 10**6, 0.0, 50.0, None, 50.0),
        (10**6, None, 50.0, 50.0, 50.0, None),
        (None, None, 0.0, 100.0, None, None),
    ],
)
def test_a_side_without_limit_runs_to_the_edge_without_bracket(
    lowest: int | None, highest: int | None, x: float, width: float, left: float | None, right: float | None
) -> None:
    low = None if lowest is None else Fraction(lowest)
    high = None if highest is None else Fraction(highest)
    band = draw_band(Axis(4.0, 8.0), low, high)
    assert (band.x, band.width, band.left, band.right) == (x, width, left, right)


def test_a_window_too_narrow_to_see_is_drawn_0_9_percent_wide_round_its_middle() -> None:
    # 48 MHz ± 0.25 %: log10(2400) / log10(25000) = 3.38021 / 4.39794 = 76.86 %
    band = draw_band(AXIS, Fraction(47_880_000), Fraction(48_120_000))
    assert band.width == pytest.approx(0.9, abs=0.011)
    assert band.x + band.width / 2 == pytest.approx(76.86, abs=0.011)


def test_a_tolerance_of_half_a_percent_is_too_fine_for_the_lane() -> None:
    assert draw_whisker(AXIS, 8 * MHZ, Fraction(7_960_000), Fraction(8_040_000)) is None


def test_a_wide_tolerance_is_drawn_at_true_scale() -> None:
    # 11 MHz -1.5 % to +1.2 %: log10(541.75) and log10(556.6) over log10(25000): 62.16 and 62.43 %
    drawn = draw_whisker(AXIS, 11 * MHZ, Fraction(10_835_000), Fraction(11_132_000))
    assert drawn == pytest.approx((62.16, 62.43), abs=0.011)


@pytest.mark.parametrize(
    ("nominal", "floor", "ceiling", "x"),
    [
        (58, None, 58, 68.0),  # on the limit: the wall
        (29, None, 31, 17.71),  # d = -2/31 = -0.064516; q = -log10(1 + 6451.6) / 5 = -0.761947; 68 - 66 * 0.761947
        (8, 3, 38, 4.69),  # d = max(-5/8, -30/38) = -0.625; log10(62501) = 4.795887; 68 - 66 * 0.959177
        (29, None, 27, 92.77),  # d = 2/27 = 0.074074; log10(7408.4) = 3.869725; 68 + 32 * 0.773945
        (2, 3, None, 98.07),  # d = 1/2: the floor is missed by half of what there is; log10(50001) = 4.698979
        (1, 9, None, 100.0),  # d = 8 is drawn as 1
        (1, None, 10**9, 2.0),  # d = -0.999999999; log10(100001) = 5.000004
    ],
)
def test_room_is_drawn_on_its_own_logarithm(nominal: int, floor: int | None, ceiling: int | None, x: float) -> None:
    low = None if floor is None else floor * MHZ
    high = None if ceiling is None else ceiling * MHZ
    assert room(nominal * MHZ, low, high)[0] == pytest.approx(x, abs=0.011)


def test_an_overrun_reaches_from_the_wall_to_the_mark() -> None:
    x, _, overrun = room(29 * MHZ, None, 27 * MHZ)
    assert overrun == x > WALL
    assert room(27 * MHZ, None, 27 * MHZ)[2] is None


def test_a_tolerance_at_the_wall_is_seen_in_the_room() -> None:
    # d = 0 ± 3e-5: log10(4) / 5 = 0.120412; 68 - 66 * 0.120412 and 68 + 32 * 0.120412
    assert room(58 * MHZ, None, 58 * MHZ, 30 * PPM, 30 * PPM)[1] == pytest.approx((60.05, 71.85), abs=0.011)


def test_unlike_sides_of_a_tolerance_are_drawn_unlike() -> None:
    """At the upper limit the upper side reaches past the wall, at the lower limit the lower side does."""
    # log10(1 + 1500) / 5 = 0.635276, log10(1 + 1200) / 5 = 0.615909 for -0.015 and +0.012
    below, above = Fraction(15, 1000), Fraction(12, 1000)
    at_the_top = room(58 * MHZ, None, 58 * MHZ, below, above)[1]
    assert at_the_top == pytest.approx((68 - 66 * 0.635276, 68 + 32 * 0.615909), abs=0.011)
    at_the_bottom = room(58 * MHZ, 58 * MHZ, None, below, above)[1]
    assert at_the_bottom == pytest.approx((68 - 66 * 0.615909, 68 + 32 * 0.635276), abs=0.011)


def test_a_tolerance_far_from_the_wall_is_too_fine_to_draw() -> None:
    assert room(29 * MHZ, None, 31 * MHZ, 30 * PPM, 30 * PPM)[1] is None


SIZES = st.builds(lambda digits, power: digits * Fraction(10) ** power, st.integers(1, 999), st.integers(-400, 400))


@given(SIZES, SIZES)
def test_a_mark_stays_in_its_column_and_on_its_side_of_the_wall(frequency: Fraction, edge: Fraction) -> None:
    x, _, overrun = room(frequency, None, edge)
    assert 2.0 <= x <= 100.0
    assert (overrun is not None) == (frequency > edge)


def test_ticks_of_the_room_stand_at_100_10_1_01_and_001_percent() -> None:
    # log10(1 + share / 1e-5) / 5 of 66, from the wall: 5.000004, 4.000043, 3.000434, 2.004321, 1.041393
    assert [x for x, _ in ROOM_TICKS] == pytest.approx([2.0, 15.2, 28.39, 41.54, 54.25], abs=0.011)
    assert [label for _, label in ROOM_TICKS] == ["", "10\u00a0%", "", "0.1\u00a0%", ""]


@pytest.mark.parametrize(
    ("ratio", "run"),
    [
        (Fraction(2), "short"),
        (Fraction(1, 2), "short"),
        (Fraction(5, 2), "shortish"),
        (Fraction(1, 8), "shortish"),
        (Fraction(10), "long"),
        (Fraction(29), "long"),
    ],
)
def test_labels_move_aside_where_the_run_is_short(ratio: Fraction, run: str) -> None:
    assert run_length(ratio) == run


def test_the_rule_has_six_decades_of_nine_ticks() -> None:
    ticks = rule_ticks()
    assert len(ticks) == 54
    assert [height for _, height in ticks[:9]] == [11, 5, 5, 5, 8, 5, 5, 5, 5]
    # log10(2) / 6 = 5.017 %, log10(5) / 6 = 11.650 %, one decade 16.667 %
    assert [ticks[i][0] for i in (0, 1, 4, 9)] == pytest.approx([0.0, 5.017, 11.65, 16.667], abs=0.001)
