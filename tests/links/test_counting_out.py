"""Pulse width, watchdogs and audio ports; worked by hand or from the reference list, and against trying all."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction
from typing import Any

import pytest

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.links.family import Choice
from wheelwork.links.watchdog import refresh_window
from wheelwork.quantities.ratios import read_ratios

PULSES = {"prescaler": "1..65536", "reload": "2..65536", "aligned": ["edge", "centre"]}


def error_of(choice: Choice) -> Fraction:
    assert choice.error is not None
    return abs(choice.error)


def test_a_pulse_of_20_khz_has_3200_steps_or_1600_centred() -> None:
    """PWM-BITS-2 and 3: 64 MHz / 20 kHz = 3200, half of it centred; log2 3200 = 11.6, so 11 whole bits."""
    edge = answer("pwm", feed(64_000_000), {**PULSES, "aligned": "edge"}, {"rate": "20 kHz"}).choices[0]
    centre = answer("pwm", feed(64_000_000), {**PULSES, "aligned": "centre"}, {"rate": "20 kHz"}).choices[0]
    assert (edge.settings["reload"], edge.told["bits"], edge.error) == (3200, 11, 0)
    assert (centre.settings["reload"], centre.told["bits"], centre.error) == (1600, 10, 0)


def test_steps_that_are_asked_for_come_before_a_nearer_rate() -> None:
    """From 1 MHz, 3 kHz are 333.3 counts; with 400 steps at least the nearest is 2.5 kHz."""
    found = answer("pwm", feed(1_000_000), {**PULSES, "aligned": "edge"}, {"rate": "3 kHz", "steps": 400})
    assert found.choices[0].settings["reload"] == 400
    assert found.verdict == "none fits"
    assert (
        settle(
            "pwm",
            feed(1_000_000),
            PULSES,
            {"rate": "3 kHz", "steps": 400},
            {"prescaler": 1, "reload": 333, "aligned": "edge"},
        ).verdict
        == "under"
    )


@pytest.mark.parametrize("seed", range(20))
def test_the_best_pulse_is_that_of_trying_all(seed: int) -> None:
    dice = random.Random(seed)
    offered = {"prescaler": dice.choice(["1..6", [1, 2, 4]]), "reload": dice.choice(["2..40", [3, 5, 8, 30]])}
    wanted, steps = dice.randint(1, 400), dice.randint(1, 12)
    ask = {"rate": f"{wanted} kHz", "steps": steps}
    found = answer("pwm", feed(12_000_000), {**offered, "aligned": ["edge", "centre"]}, ask)
    every = [
        (int(b) < steps, abs(Fraction(12_000) / (a * b * way) / wanted - 1))
        for a, b, way in itertools.product(read_ratios(offered["prescaler"]), read_ratios(offered["reload"]), (1, 2))
    ]
    reload = found.choices[0].settings["reload"]
    assert isinstance(reload, int)
    assert (reload < steps, error_of(found.choices[0])) == min(every)


def test_no_setting_of_a_pulse_is_given_twice() -> None:
    """Where steps are asked for, two searches meet in the same settings."""
    found = answer("pwm", feed(64_000_000), PULSES, {"rate": "7 Hz", "steps": 1000})
    given = [tuple(choice.settings.values()) for choice in found.choices]
    assert len(set(given)) == len(given) == 8


def test_a_pulse_that_cannot_have_its_steps_is_told_so() -> None:
    offered = {"prescaler": [1], "reload": [50, 100]}
    found = answer("pwm", feed(1_000_000), offered, {"rate": "10 kHz", "steps": 400})
    assert (found.verdict, found.choices[0].error) == ("none fits", 0)
    assert found.choices[0].missed == ("the pulse has 100 steps, 300 short of 400",)
    assert found.remarks[0].what == "The longest reload has 100 steps."


def test_a_window_watchdog_on_a_loose_oscillator_leaves_a_narrow_refresh() -> None:
    """WDT-WIN-1: ±30 %, half of 1 s closed: 5/7 to 10/13 s; WDT-WIN-2: three quarters closed leave nothing."""
    assert refresh_window(Fraction(1), Fraction(1, 2), Fraction(3, 10)) == (Fraction(5, 7), Fraction(10, 13))
    earliest, latest = refresh_window(Fraction(1), Fraction(3, 4), Fraction(3, 10))
    assert earliest > latest


def test_a_watchdog_tells_when_to_refresh_and_when_no_moment_is_safe() -> None:
    """1 s of 37 kHz is 37 000 counts."""
    offered = {"prescaler": [1, 8], "reload": "1..65535"}
    ask = {"time_out": "1 s", "closed": "50 %", "allowance": "±40 %"}
    found = answer("watchdog", feed(37_000, 70_000), offered, ask)
    choice = found.choices[0]
    assert choice.settings == {"prescaler": 1, "reload": 37_000}
    assert choice.told["earliest"] == Fraction(1, 2) / Fraction(93, 100)
    assert choice.told["latest"] == 1 / Fraction(107, 100)
    assert not found.remarks
    loose = answer("watchdog", feed(37_000, 300_000), offered, {**ask, "closed": "75 %"})
    assert loose.choices[0].missed == ("no moment is safe for the refresh",)
    assert loose.remarks[0].what == "A refresh is safe not before 1.07\u00a0s and not after 769\u00a0ms."


@pytest.mark.parametrize(("closed", "verdict"), [("0 %", "inside"), ("53 %", "inside"), ("54 %", "tight")])
def test_a_time_out_that_leaves_no_moment_for_the_refresh_is_tight(closed: str, verdict: str) -> None:
    """WDT-WIN: at ±30 % a moment is left while the closed share is below 0.7 / 1.3 = 53.8 %."""
    ask = {"time_out": "1 s", "closed": closed, "allowance": "±50 %"}
    found = answer("watchdog", feed(37_000, 300_000), {"prescaler": [1, 8], "reload": "1..65535"}, ask)
    assert (found.verdict, len(found.remarks)) == (verdict, verdict == "tight")


def test_a_watchdog_rather_comes_late_than_early() -> None:
    """From 1 kHz by eights: 16 ms is nearer to 17 ms than 24 ms is, yet it would come too early."""
    found = answer("watchdog", feed(1000), {"prescaler": [8], "reload": "1..9"}, {"time_out": "17 ms"})
    assert [choice.told["time_out"] for choice in found.choices[:2]] == [Fraction(3, 125), Fraction(4, 125)]


def test_a_master_clock_of_12_288_mhz_makes_48_khz_exactly() -> None:
    """24.576 MHz / 2 = 12.288 MHz = 256 * 48 kHz."""
    found = answer("audio", feed(24_576_000), {"master": [256, 384], "divisor": "1..64"}, {"sample_rate": "48 kHz"})
    assert found.choices[0].settings == {"master": 256, "divisor": 2}
    assert (found.choices[0].error, found.choices[0].told["master_clock"]) == (0, 12_288_000)


def test_a_family_of_44_1_khz_is_missed_from_a_clock_of_the_other_family() -> None:
    """24.576 MHz / (256 * 2) = 48 kHz is 8.84 % fast, / 384 is 64 kHz; 147 to 160 is no ratio of these."""
    found = answer("audio", feed(24_576_000), {"master": [256, 384], "divisor": "1..4"}, {"sample_rate": "44.1 kHz"})
    assert found.verdict == "none fits"
    assert error_of(found.choices[0]) > Fraction(1, 50)


def test_what_cannot_be_taken_is_named_at_its_place() -> None:
    assert refused_at("pwm", {**PULSES, "aligned": "middle"}, {"rate": "1 kHz"}) == ["generator.aligned"]
    assert refused_at("pwm", PULSES, {}) == ["ask.rate"]
    assert refused_at("pwm", PULSES, {"rate": "1 kHz", "steps": 0}) == ["ask.steps"]
    assert refused_at("watchdog", {"prescaler": [1], "reload": "1..9"}, {"time_out": "1 s", "closed": "100 %"}) == [
        "ask.closed"
    ]
    assert refused_at("audio", {}, {"sample_rate": "0 Hz"}) == ["ask.sample_rate"]
    bad: Any = {"master": 100, "divisor": 1}
    assert refused_at("audio", {"master": [256]}, {"sample_rate": "48 kHz"}, bad) == ["chosen.master"]
