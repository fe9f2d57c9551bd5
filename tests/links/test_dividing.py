"""Families that only divide: synchronous serial, timers, calendars, reference clocks; worked by hand or published."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from wheelwork.links.families import answer_link, families
from wheelwork.links.family import Choice, Feed, LinkAnswer
from wheelwork.links.fields import Refused
from wheelwork.quantities.spans import EXACT, Span

PPM = Fraction(1, 10**6)


def feed(hertz: int | Fraction, ppm: int = 0) -> Feed:
    return Feed(Fraction(hertz), Span(-ppm * PPM, ppm * PPM) if ppm else EXACT)


def answer(family: str, clock: Feed, generator: dict[str, Any], ask: dict[str, Any]) -> LinkAnswer:
    return answer_link(families()[family], clock, generator, ask)[0]


def settle(family: str, clock: Feed, generator: dict[str, Any], ask: dict[str, Any], chosen: dict[str, Any]) -> Choice:
    choice = answer_link(families()[family], clock, generator, ask, chosen)[1]
    assert choice is not None
    return choice


def refused_at(family: str, generator: dict[str, Any], ask: dict[str, Any], chosen: Any = None) -> list[str]:
    with pytest.raises(Refused) as fault:
        answer_link(families()[family], feed(48_000_000), generator, ask, chosen)
    return [problem.where for problem in fault.value.problems]


def test_a_synchronous_port_takes_the_fastest_clock_that_the_device_bears() -> None:
    """48 MHz / 4 = 12 MHz is above 10 MHz, / 8 = 6 MHz is not."""
    found = answer("spi", feed(48_000_000), {"ratios": [2, 4, 8, 16]}, {"at_most": "10 MHz"})
    assert [choice.settings["ratio"] for choice in found.choices] == [8, 16, 4, 2]
    assert (found.verdict, found.choices[0].rate, found.choices[2].verdict) == ("inside", 6_000_000, "over")


def test_a_synchronous_clock_on_the_edge_is_tight_with_its_tolerance() -> None:
    found = answer("spi", feed(48_000_000, 30), {"ratios": "1..8"}, {"at_most": "12 MHz"})
    assert (found.choices[0].settings, found.verdict) == ({"ratio": 4}, "tight")


def test_a_synchronous_port_that_is_too_fast_at_its_slowest_does_not_fit() -> None:
    assert answer("spi", feed(48_000_000), {"ratios": [2, 4]}, {"at_most": "10 MHz"}).verdict == "none fits"


def test_a_timer_of_two_16_bit_factors_makes_a_second_exactly() -> None:
    """TIM-PERIOD-1: 64 MHz to 1 s is 1000 * 64 000."""
    offered = {"prescaler": "1..65536", "reload": "1..65536"}
    found = answer("timer", feed(64_000_000), offered, {"period": "1 s"})
    assert found.choices[0].settings == {"prescaler": 1000, "reload": 64000}
    assert found.choices[0].error == 0


def test_a_missed_period_is_off_the_other_way_than_its_rate() -> None:
    """TIM-PERIOD-3: 16 MHz to 1/440 s, 36 364 counts: the period is 10 ppm long, the rate 10 ppm slow."""
    offered = {"prescaler": "1..65536", "reload": "1..65536"}
    rate = answer("timer", feed(16_000_000), offered, {"rate": "440 Hz"}).choices[0]
    assert rate.settings == {"prescaler": 1, "reload": 36364}
    assert rate.error == Fraction(16_000_000, 36364 * 440) - 1
    assert rate.error is not None
    assert -Fraction(11, 10**6) < rate.error < 0


def test_a_timer_asks_for_one_of_period_and_rate() -> None:
    offered = {"prescaler": "1..8", "reload": "1..8"}
    assert refused_at("timer", offered, {}) == ["ask.period"]
    assert refused_at("timer", offered, {"period": "1 ms", "rate": "1 kHz"}) == ["ask.rate"]
    assert refused_at("timer", offered, {"rate": "0 Hz"}) == ["ask.rate"]
    assert refused_at("timer", {"prescaler": "1..8"}, {"rate": "1 Hz"}) == ["generator.reload"]
    assert refused_at("timer", offered, {"rate": "1 kHz"}, {"prescaler": 9, "reload": 1}) == ["chosen.prescaler"]


def test_nothing_counted_is_faster_than_its_clock() -> None:
    """The clock is 48 MHz, its period 20.8 ns."""
    offered = {"prescaler": "1..8", "reload": "1..8"}
    assert refused_at("timer", offered, {"rate": "48.1 MHz"}) == ["ask.rate"]
    assert refused_at("timer", offered, {"period": "20 ns"}) == ["ask.period"]
    assert refused_at("pwm", offered, {"rate": "1 GHz"}) == ["ask.rate"]
    assert refused_at("rtc", {"first": "1..8", "second": "1..8"}, {"rate": "49 MHz"}) == ["ask.rate"]
    assert refused_at("watchdog", offered, {"time_out": "20 ns"}) == ["ask.time_out"]
    assert refused_at("adc", {"sample_cycles": [3], "conversion_cycles": 9}, {"rate": "49 MHz"}) == ["ask.rate"]
    assert answer("timer", feed(48_000_000), offered, {"rate": "48 MHz"}).verdict == "inside"


@pytest.mark.parametrize(
    ("family", "offered", "ask"),
    [
        ("timer", {"prescaler": "1..65537", "reload": "1..10000000000"}, {"rate": "1 Hz"}),
        ("pwm", {"prescaler": "1..65537", "reload": "1..65537"}, {"rate": "1 Hz"}),
        ("watchdog", {"prescaler": "1..65537", "reload": "1..65537"}, {"time_out": "1 s"}),
        ("rtc", {"first": "1..65537", "second": "1..65537"}, {}),
    ],
)
def test_two_factors_too_many_to_try_are_named(family: str, offered: dict[str, Any], ask: dict[str, Any]) -> None:
    """One of the two may be as long as it likes, such as 32 bits."""
    first, second = offered
    assert refused_at(family, offered, ask) == [f"generator.{first}"]
    assert answer(family, feed(48_000_000), {first: "1..65536", second: "1..4294967296"}, ask).choices


@pytest.mark.parametrize(("hertz", "first", "second"), [(32_768, 128, 256), (32_000, 128, 250), (40_000, 125, 320)])
def test_a_calendar_takes_the_largest_first_divider(hertz: int, first: int, second: int) -> None:
    """RTC-DIV: published reference manual for 32 768 Hz, the other two own numbers."""
    found = answer("rtc", feed(hertz), {"first": "1..128", "second": "1..32768"}, {})
    assert found.choices[0].settings == {"first": first, "second": second}
    assert found.choices[0].error == 0


def test_twenty_parts_in_a_million_are_1_73_seconds_a_day() -> None:
    """20 * 0.0864 s = 1.728 s."""
    choice = answer("rtc", feed(32_768, 20), {"first": "1..128", "second": "1..32768"}, {}).choices[0]
    seconds = choice.told["seconds_a_day"]
    assert isinstance(seconds, Fraction)
    assert abs(seconds) == Fraction("1.728")
    assert choice.verdict == "inside"


def test_a_calendar_on_an_rc_oscillator_drifts_past_two_seconds_a_day() -> None:
    choice = settle(
        "rtc", feed(32_768, 200), {"first": "1..128", "second": "1..32768"}, {}, {"first": 64, "second": 512}
    )
    assert choice.verdict == "tight"


def test_a_reference_clock_is_held_to_its_standard() -> None:
    """48 MHz ± 0.25 %: 48.1 MHz is 0.208 % fast, 48.2 MHz is 0.417 % fast (USB 2.0, section 7.1.11)."""
    asked = {"standard": "usb-full-speed"}
    assert answer("reference", feed(48_100_000), {}, asked).verdict == "inside"
    assert answer("reference", feed(48_100_000, 1000), {}, asked).verdict == "tight"
    assert answer("reference", feed(48_200_000), {}, asked).verdict == "none fits"


def test_a_standard_without_a_frequency_asks_for_the_clock_s_accuracy_alone() -> None:
    assert answer("reference", feed(32_768, 40), {}, {"standard": "bluetooth-le-active"}).verdict == "inside"
    assert answer("reference", feed(32_768, 60), {}, {"standard": "bluetooth-le-active"}).verdict == "tight"


def test_what_a_reference_clock_is_asked_is_named_where_it_cannot_be_taken() -> None:
    assert refused_at("reference", {}, {"standard": "usb-ful-speed"}) == ["ask.standard"]
    assert "ask.standard" in refused_at("reference", {}, {})
    assert refused_at("reference", {"ratios": [1]}, {"standard": "usb-full-speed"}) == ["generator.ratios"]
