"""The examples of tests/reference/electrical.toml on timers, pulse width, converters, watchdogs and calendars."""

from __future__ import annotations

import math
from fractions import Fraction
from typing import Any

import pytest

from tests.links.test_dividing import answer, settle
from tests.published import exact, examples, label
from wheelwork.links.adc import largest_source, settles, settling_time
from wheelwork.links.family import Choice, Feed
from wheelwork.links.watchdog import refresh_window
from wheelwork.quantities.spans import EXACT, Span

PPM = Fraction(1, 10**6)


def feed(case: Any, key: str = "f") -> Feed:
    return Feed(exact(case["given"][key]), EXACT)


def having(formula: str, key: str, table: str = "expect") -> list[Any]:
    """The examples of a formula that state a figure."""
    return [case for case in examples(formula) if key in case[table]]


@pytest.mark.parametrize("case", examples("TIM-PERIOD"), ids=label)
def test_the_best_pair_of_a_timer_is_the_exhaustive_one(case: Any) -> None:
    """Periods that no decimal writes (1/440 s) are asked for as rates; the error is then turned to the period's."""
    given, expect = case["given"], case["expect"]
    offered = {"prescaler": f"1..{given['p_max']}", "reload": f"1..{given['a_max']}"}
    period = exact(given["t_target"])
    choice = answer("timer", feed(case), offered, {"rate": f"{1 / period} Hz"}).choices[0]
    assert choice.settings == {"prescaler": expect["p_plus_1"], "reload": expect["a_plus_1"]}
    assert choice.rate is not None
    assert float((1 / choice.rate / period - 1) / PPM) == pytest.approx(float(expect["error_ppm_period"]), rel=1e-12)


@pytest.mark.parametrize("case", having("PWM-BITS", "whole_bits"), ids=label)
def test_a_pulse_has_the_steps_and_bits_of_its_rate(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    offered = {"prescaler": [1], "reload": "1..65536", "aligned": given["aligned"]}
    told = answer("pwm", feed(case), offered, {"rate": f"{given['f_pwm']} Hz"}).choices[0].told
    assert (told["steps"], told["bits"]) == (expect["steps"], expect["whole_bits"])
    assert math.log2(expect["steps"]) == pytest.approx(float(expect["bits"]), rel=1e-12)


@pytest.mark.parametrize("case", having("PWM-BITS", "f_pwm_floor"), ids=label)
def test_the_highest_rate_of_so_many_bits_is_published(case: Any) -> None:
    """Printed cut to whole hertz."""
    offered = {"prescaler": [1], "reload": "1..1048576"}
    for bits, hertz in zip(case["given"]["bits"], case["expect"]["f_pwm_floor"], strict=True):
        made = settle("pwm", feed(case), offered, {"rate": f"{hertz} Hz"}, {"prescaler": 1, "reload": 2**bits})
        assert made.rate is not None
        assert (made.rate // 1, made.told["bits"]) == (hertz, bits)


@pytest.mark.parametrize("case", having("ADC-SAMPLE", "k"), ids=label)
def test_settling_takes_so_many_time_constants(case: Any) -> None:
    """ADC-SAMPLE-2 is printed with two digits changed over; the exact figure is held. `m` is one over the part."""
    given, expect = case["given"], case["expect"]
    part, one = 1 / exact(given["m"]), Fraction(1)
    bits, constants = (each if isinstance(each, list) else [each] for each in (given["n"], expect["k"]))
    for number, factor in zip(bits, constants, strict=True):
        assert float(settling_time(number, part, one, one)) == pytest.approx(float(factor), rel=1e-14)
    if "t" in expect:
        took = settling_time(given["n"], part, exact(given["r"]), exact(given["c"]))
        assert float(took) == pytest.approx(float(expect["t"]), rel=1e-13)


@pytest.mark.parametrize("case", having("ADC-SAMPLE", "rs_max"), ids=label)
def test_the_largest_source_that_settles_is_the_reckoned_one(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    time, part, inside, farads = exact(given["t"]), 1 / exact(given["m"]), exact(given["r_in"]), exact(given["c"])
    most = largest_source(time, given["n"], part, inside, farads)
    assert float(most) == pytest.approx(float(expect["rs_max"]), rel=1e-13)
    assert settles(time, given["n"], part, (most + inside) * farads)
    assert not settles(time, given["n"], part, (most + inside + PPM) * farads)


@pytest.mark.parametrize("case", examples("ADC-RATE"), ids=label)
def test_a_converter_has_the_rate_that_its_cycles_leave(case: Any) -> None:
    """A sampling time is asked for as the source that needs it: with 1 pF and half a bit of 12."""
    given, expect = case["given"], case["expect"]
    offered: dict[str, Any] = {"conversion_cycles": str(given["n_convert"])}
    if "sample_list" not in given:
        cycles = exact(given["n_sample"]) or Fraction(1, 10**9)
        offered["sample_cycles"] = [str(cycles)]
        made = answer("adc", feed(case, "f_adc"), offered, {}).choices[0]
        assert made.rate is not None
        assert abs(made.rate / exact(expect["f_s"]) - 1) < Fraction(1, 10**9)
        return
    offered |= {"sample_cycles": given["sample_list"], "capacitance": "1 pF"}
    ohm = int(largest_source(exact(given["t_sample"]), 12, Fraction(1, 2), Fraction(0), Fraction(1, 10**12)))
    made = answer("adc", feed(case, "f_adc"), offered, {"source_resistance": f"{ohm} Ω"}).choices[0]
    assert (made.settings["sample_cycles"], made.rate) == (expect["n_sample"], exact(expect["f_s"]))


@pytest.mark.parametrize("case", having("WDT-WIN", "feasible"), ids=label)
def test_a_window_leaves_the_reckoned_time_for_a_refresh(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    closed, time_out, share = exact(given["t_closed"]), exact(given["t_out"]), exact(given["r"])
    assert refresh_window(time_out, closed, share) == (exact(expect["lo_s"]), exact(expect["hi_s"]))
    ask = {"time_out": f"{time_out} s", "closed": f"{100 * closed / time_out} %", "allowance": "±50 %"}
    offered = {"prescaler": [1], "reload": "1..65536"}
    found = answer("watchdog", Feed(Fraction(37_000), Span(-share, share)), offered, ask)
    told = found.choices[0].told
    assert (told["earliest"], told["latest"]) == (exact(expect["lo_s"]), exact(expect["hi_s"]))
    assert (found.verdict == "inside") is expect["feasible"]


@pytest.mark.parametrize("case", having("WDT-WIN", "refresh_before_ms"), ids=label)
def test_published_ends_of_a_time_out_give_the_last_moment(case: Any) -> None:
    """A time-out of half the nominal is a clock of twice its own."""
    given, expect = case["given"], case["expect"]
    nominal, shortest, longest = (exact(given[f"t_{key}_ms"]) for key in ("nom", "min", "max"))
    clock = Feed(Fraction(1000), Span(nominal / longest - 1, nominal / shortest - 1))
    found = answer("watchdog", clock, {"prescaler": [1], "reload": "1..99"}, {"time_out": f"{nominal} ms"})
    assert found.choices[0].told["latest"] == exact(expect["refresh_before_ms"]) / 1000


@pytest.mark.parametrize("case", examples("RTC-DIV"), ids=label)
def test_a_calendar_is_divided_as_its_manual_says(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    offered = {"first": f"1..{given['a_max']}", "second": f"1..{given['s_max']}"}
    choice: Choice = answer("rtc", feed(case), offered, {}).choices[0]
    assert (choice.error == 0) is expect["exact"]
    if expect["exact"]:
        assert choice.settings == {"first": expect["a"], "second": expect["s"]}
