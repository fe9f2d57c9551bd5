"""Field buses: worked examples of the specification's authors, an open library's results, and trying all."""

from __future__ import annotations

import itertools
import random
from fractions import Fraction

import pytest

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.links.bit_timing import Timing, oscillator_tolerance, usual_sample_point
from wheelwork.quantities.ratios import read_ratios

CLASSIC = {"prescaler": "1..64", "segment_1": "1..16", "segment_2": "1..8", "jump": "1..4"}


@pytest.mark.parametrize(
    ("timing", "phase_1", "percent"),
    [
        (Timing(1, 7, 2, 1), 1, 0.390625),  # Bosch TTCAN User's Manual Rev 1.6, section 4.2.1.7
        (Timing(2, 5, 4, 4), 4, 1.58730159),  # Bosch CAN Specification 2.0, Part B section 9: printed 1.58
        (Timing(2, 5, 2, 1), 2, 0.625),  # ATmega16M1 data sheet 7647F, Table 16-2, 1 Mbit/s
        (Timing(2, 11, 4, 1), 4, 0.3125),  # the same, 500 kbit/s
    ],
)
def test_a_setting_bears_what_is_published(timing: Timing, phase_1: int, percent: float) -> None:
    assert float(100 * oscillator_tolerance(timing, phase_1)) == pytest.approx(percent, rel=1e-8)


@pytest.mark.parametrize(
    ("nominal", "data", "percent"),
    [
        (Timing(2, 63, 16, 16), Timing(2, 15, 4, 4), 0.78125),  # python-can 4.6.1, 250 ns loop, 10 m
        (Timing(1, 63, 16, 16), Timing(1, 11, 4, 4), 0.634765625),
    ],
)
def test_a_data_phase_adds_its_conditions(nominal: Timing, data: Timing, percent: float) -> None:
    """Propagation of 2 * (250 + 50) ns in quanta; the library cuts a quantum to whole nanoseconds (12.5 to 12)."""
    quantum = nominal.prescaler * 10**9 // 80_000_000
    phase_1 = nominal.segment_1 - -(-600 // quantum)
    assert float(100 * oscillator_tolerance(nominal, phase_1, data)) == pytest.approx(percent, rel=1e-9)


@pytest.mark.parametrize(("rate", "point"), [(1_000_000, "3/4"), (800_000, "4/5"), (500_000, "7/8"), (125_000, "7/8")])
def test_where_to_sample_if_nobody_says(rate: int, point: str) -> None:
    assert usual_sample_point(Fraction(rate)) == Fraction(point)


def test_sixteen_quanta_at_half_a_megabit_sample_at_seven_eighths() -> None:
    """16 MHz / 2 / 16 = 500 kbit/s; (1 + 13) / 16 = 87.5 %."""
    best = answer("can", feed(16_000_000, 100), CLASSIC, {"rate": "500 kbit/s"}).choices[0]
    assert best.settings == {"prescaler": 2, "segment_1": 13, "segment_2": 2, "jump": 2}
    assert (best.error, best.told["quanta"], best.told["sample_point"]) == (0, 16, Fraction(7, 8))
    assert best.verdict == "inside"


def test_a_clock_that_is_off_by_more_than_the_setting_bears_is_tight() -> None:
    assert answer("can", feed(16_000_000, 20_000), CLASSIC, {"rate": "500 kbit/s"}).verdict == "tight"


@pytest.mark.parametrize("seed", range(25))
def test_the_best_setting_is_that_of_trying_all(seed: int) -> None:
    dice = random.Random(seed)
    offered = {
        "prescaler": dice.choice(["1..8", [1, 2, 4, 8], "2..16 step 2"]),
        "segment_1": dice.choice(["1..16", "2..9"]),
        "segment_2": dice.choice(["1..8", "2..4"]),
        "jump": "1..4",
    }
    clock, rate = dice.choice([8, 10, 12, 16, 20]) * 10**6, dice.choice([1000, 500, 300, 125, 83])
    point = dice.choice(["87.5 %", "75 %", "60 %"])
    best = answer("can", feed(clock), offered, {"rate": f"{rate} kbit/s", "sample_point": point}).choices[0]
    wanted = {"87.5 %": Fraction(7, 8), "75 %": Fraction(3, 4), "60 %": Fraction(3, 5)}[point]
    every = []
    for p, one, two in itertools.product(*(read_ratios(offered[k]) for k in ("prescaler", "segment_1", "segment_2"))):
        quanta = 1 + one + two
        error = abs(clock / (p * quanta) / (rate * 1000) - 1)
        every.append((error, abs((1 + one) / quanta - wanted), -quanta, p))
    sample, told_quanta, prescaler = best.told["sample_point"], best.told["quanta"], best.settings["prescaler"]
    assert isinstance(sample, Fraction)
    assert isinstance(told_quanta, int)
    assert best.error is not None
    assert (abs(best.error), abs(sample - wanted), -told_quanta, prescaler) == min(every)


def test_what_cannot_be_taken_is_named_at_its_place() -> None:
    assert refused_at("can", CLASSIC, {}) == ["ask.rate"]
    assert refused_at("can", CLASSIC, {"rate": "2 Mbit/s"}) == ["ask.rate"]
    assert refused_at("can", CLASSIC, {"rate": "500 kbit/s", "sample_point": "120 %"}) == ["ask.sample_point"]
    assert refused_at("can", CLASSIC, {"rate": "500 kbit/s", "data_rate": "250 kbit/s"}) == ["ask.data_rate"]
    assert refused_at("can", {**CLASSIC, "data": {"prescaler": "1..9"}}, {"rate": "500 kbit/s"}) == [
        "generator.data.segment_1",
        "generator.data.segment_2",
    ]
    chosen = {"prescaler": 2, "segment_1": 13, "segment_2": 2, "jump": 4}
    assert refused_at("can", CLASSIC, {"rate": "500 kbit/s"}, chosen) == ["chosen.jump"]


def test_a_chosen_setting_is_judged_as_it_stands() -> None:
    chosen = {"prescaler": 2, "segment_1": 11, "segment_2": 4, "jump": 1}
    assert settle("can", feed(16_000_000), CLASSIC, {"rate": "500 kbit/s"}, chosen).told["sample_point"] == Fraction(
        3, 4
    )
