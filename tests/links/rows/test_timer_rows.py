"""Published timer settings, pulse widths, watch crystals and notes, each held to the families and their functions."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.links.published import agrees, each_row, entry, exact, printed
from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Choice, Feed
from wheelwork.links.nearest import values_near
from wheelwork.links.notes import cents_off, nearest_note_division, note_frequency, steps_to
from wheelwork.links.time_keeping import PARABOLAS, SECONDS_A_DAY, deviation, deviation_span, seconds_gained
from wheelwork.quantities.ratios import read_ratios
from wheelwork.quantities.spans import EXACT, Span

SIXTEEN_BITS = {"prescaler": "1..65536", "reload": "1..65536"}
PPM = Fraction(1, 10**6)
SIZES = {"s": Fraction(1), "min": Fraction(60), "us": PPM}


def answered(family: str, clock: Any, generator: dict[str, Any], ask: dict[str, Any], **chosen: int) -> Choice:
    """What a plan has chosen, judged; the best choice where it has chosen nothing."""
    found, choice = answer_link(families()[family], Feed(exact(clock), EXACT), generator, ask, chosen or None)
    return choice or found.choices[0]


def off(choice: Choice) -> Fraction:
    assert choice.error is not None
    return choice.error


def rate(choice: Choice) -> Fraction:
    assert choice.rate is not None
    return choice.rate


WANTED = {
    "1 kHz tick": "1 kHz",
    "1 s tick": "1 Hz",
    "10 ms tick": "100 Hz",
    "200 Hz": "200 Hz",
    "300 Hz wanted": "300 Hz",
}


@each_row("timer.periods", only=range(1, 8))
def test_a_timer_makes_the_published_rate_and_finds_none_farther_off(entry: Any, row: Any) -> None:
    """For 300 Hz from 100 MHz the table's 100 * 3333 is 100 ppm fast.

    7 * 47619 = 333333 is 1 ppm fast, and 7 is the least divisor of 333333 = 9 * 7 * 11 * 13 * 37 that leaves 16 bits.
    """
    ask = {"rate": WANTED[row["case"]]}
    chosen = {"prescaler": row["prescaler"], "reload": row["period_counts"]}
    made = answered("timer", row["clock_hz"], SIXTEEN_BITS, ask, **chosen)
    assert rate(made) == exact(row["derived_rate_hz"])
    assert agrees(rate(made), row["derived_rate_value_hz"])
    best = answered("timer", row["clock_hz"], SIXTEEN_BITS, ask)
    assert abs(off(best)) <= abs(off(made))
    if row["case"] == "300 Hz wanted":
        assert (best.settings["prescaler"], best.settings["reload"]) == (7, 47619)


@each_row("timer.periods", only=[0])
def test_a_count_in_two_hundred_and_fifty_sixths_comes_nearest_to_the_note(entry: Any, row: Any) -> None:
    """A7 is 3520 Hz: 1 MHz / (284 + 23/256), where the count is dithered."""
    a7 = note_frequency(steps_to("A7"))
    near = values_near(read_ratios("1..65535"), 256, 10**6 / a7, 1)
    division = min(near, key=lambda each: abs(10**6 / each - a7))
    assert division == 284 + Fraction(23, 256)
    assert printed(10**6 / division, row["published"])
    assert agrees(10**6 / division, row["derived_value"])


@each_row("timer.pwm_controller")
def test_a_controller_of_many_lamps_has_the_setting_that_is_nearest(entry: Any, row: Any) -> None:
    """The prescaler is the setting and one; 200 Hz lies between two settings, 196.9 and 203.5 Hz."""
    offered = {"prescaler": "4..256", "reload": [4096]}
    found = answered("pwm", 25_000_000, offered, {"rate": f"{row['published']} Hz"})
    assert found.settings["prescaler"] == row["prescale_setting"] + 1
    assert agrees(rate(found), row["derived_rate_hz"])


@each_row("servo.timers")
def test_a_servo_has_fifty_pulses_a_second_from_its_settings(entry: Any, row: Any) -> None:
    chosen = {"prescaler": row["prescaler"], "reload": row["period_counts"]}
    made = answered("pwm", row["clock_hz"], SIXTEEN_BITS, {"rate": "50 Hz"}, **chosen)
    assert agrees(rate(made), row["derived_rate_hz"])
    assert agrees(100 * off(made), row["derived_error_percent"], 6)
    count = 1 / (rate(made) * exact(made.told["steps"]))
    assert agrees(count / PPM, row["derived_resolution_us"])
    assert agrees(Fraction(1500) * PPM / count, row["derived_counts_for_1500us"])


def test_a_watch_crystal_is_halved_fifteen_times_to_a_second() -> None:
    published = entry("timer.watch_crystal")
    offered = {"first": "1..128", "second": "1..32768"}
    choice = answered("rtc", published["frequency_hz"], offered, {"rate": f"{published['divided_rate_hz']} Hz"})
    assert off(choice) == 0
    first, second = exact(choice.settings["first"]), exact(choice.settings["second"])
    assert first * second == 2 ** published["power_of_two"]


NOT_CURVES = {
    3: "from memory, no document stands behind it",
    4: "from memory, no document stands behind it",
    5: "a coefficient without limits; its worked example is held by timer.parabola.examples",
    6: "a coefficient without limits; its worked examples are held by timer.parabola.examples and XTAL-FORK-2",
}


@each_row("timer.parabola", but=NOT_CURVES)
def test_the_curve_of_a_tuning_fork_has_the_limits_of_its_data_sheet(entry: Any, row: Any) -> None:
    """By hand: 35 °C are 15 K beyond the lowest turnover and 5 K beyond the highest: 225 and 25 square kelvin."""
    coefficient, spread = exact(row["coefficient_ppm_per_c2"]) * PPM, exact(row["spread"]) * PPM
    steepest = Span(coefficient - spread, coefficient + spread)
    turnover = Span(
        exact(row["turnover_c"] - row["turnover_spread_c"]), exact(row["turnover_c"] + row["turnover_spread_c"])
    )
    curve = next(each for each in PARABOLAS if each.coefficient == steepest and each.turnover == turnover)
    hot = deviation_span(curve, Span(Fraction(35), Fraction(35)))
    assert hot.lowest == 225 * steepest.lowest
    assert hot.highest == 25 * steepest.highest
    assert deviation_span(curve, Span(Fraction(20), Fraction(30))).highest == 0


@each_row("timer.parabola.examples")
def test_a_tuning_fork_is_as_slow_as_published(entry: Any, row: Any) -> None:
    share = deviation(exact(row["temperature_c"]), exact(row["coefficient_ppm_per_c2"]) * PPM)
    assert share / PPM == exact(row["derived_ppm"])
    assert seconds_gained(share) == exact(row["derived_s_per_day"])
    if "published_ppm" in row:
        assert printed(share / PPM, row["published_ppm"])


@each_row("timer.ppm_time")
def test_an_error_is_so_many_seconds_in_some_days(entry: Any, row: Any) -> None:
    gained = seconds_gained(exact(row["ppm"]) * PPM, exact(row["days"])) / SIZES[row["unit"]]
    assert agrees(gained, row["derived_value"])
    assert printed(gained, row["published"])


def test_a_millionth_is_so_many_seconds_a_day() -> None:
    assert exact(entry("timer.ppm_time")["seconds_per_day_per_ppm"]) == SECONDS_A_DAY * PPM


@each_row("timer.notes")
def test_a_note_is_divided_from_a_megahertz_as_near_as_can_be(entry: Any, row: Any) -> None:
    """The source lists digits of each frequency, so that its figures are cut and not rounded."""
    steps, clock = steps_to(row["note_name"]), exact(row["clock_hz"])
    assert 0 <= note_frequency(steps) - exact(row["published_hz"]) < Fraction(1, 10**10)
    division = nearest_note_division(clock, steps)
    assert division == row["derived_nearest_division"]
    assert agrees(clock / division, row["derived_hz"])
    assert cents_off(clock / division, steps) == pytest.approx(float(row["derived_cents"]), rel=1e-7)
