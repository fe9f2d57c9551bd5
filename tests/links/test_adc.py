"""Converters: settling from a public note and the reference list, rates by hand."""

from __future__ import annotations

import math
import random
from fractions import Fraction
from typing import Any

import pytest

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.links.adc import settles, settling_time

CONVERTER = {
    "bits": 12,
    "sample_cycles": [3, 6, 12, 24, 48, 96],
    "conversion_cycles": 14,
    "resistance": "2.2 kΩ",
    "capacitance": "5 pF",
}


TIME_CONSTANTS = "9.010913347279289022424017578956295384981501746683318303568840123414117085606031302876223250953442938"
"""13 times the natural logarithm of 2 (OEIS A002162)."""


@pytest.mark.parametrize(
    ("bits", "part", "ohm", "picofarad", "microseconds"),
    [
        (12, Fraction(1, 8), 100_000, 10, 10.3972077083992),  # ADC-SAMPLE-1, printed 10.4
        (12, Fraction(1, 4), 10_000, 12, 1.16448726334071),  # ADC-SAMPLE-2
    ],
)
def test_settling_takes_as_long_as_published(
    bits: int, part: Fraction, ohm: int, picofarad: int, microseconds: float
) -> None:
    took = settling_time(bits, part, Fraction(ohm), Fraction(picofarad, 10**12))
    assert float(took * 10**6) == pytest.approx(microseconds, rel=1e-12)


def test_a_source_decides_how_long_the_sample_is() -> None:
    """(47 kΩ + 2.2 kΩ) * 5 pF * 9.011 = 2.217 µs; at 8 MHz that is 17.7 cycles, so 24; 8 MHz / 38 = 210.5 kHz."""
    found = answer("adc", feed(8_000_000), CONVERTER, {"source_resistance": "47 kΩ"})
    assert found.choices[0].settings == {"sample_cycles": 24}
    assert found.choices[0].rate == Fraction(8_000_000, 38)
    assert found.verdict == "inside"


def test_half_a_cycle_counts() -> None:
    """ADC-RATE-1: 14 MHz over 1.5 and 12.5 cycles is 1 MHz."""
    offered = {**CONVERTER, "sample_cycles": ["3/2", "15/2"], "conversion_cycles": "25/2"}
    assert answer("adc", feed(14_000_000), offered, {}).choices[0].rate == 1_000_000


def test_a_rate_that_is_asked_for_is_held_to_its_allowance() -> None:
    """29 MHz / (15 + 15) is 966 666.7 Hz, 3.33 % below 1 MHz."""
    offered = {**CONVERTER, "sample_cycles": [3, 15], "conversion_cycles": 15}
    choice = settle("adc", feed(29_000_000), offered, {"rate": "1 MHz", "allowance": "±1 %"}, {"sample_cycles": 15})
    assert (choice.verdict, choice.error) == ("under", Fraction(-1, 30))


def test_a_source_that_is_too_high_is_told() -> None:
    found = answer("adc", feed(36_000_000), CONVERTER, {"source_resistance": "1 MΩ"})
    assert found.verdict == "none fits"
    assert found.choices[0].settings == {"sample_cycles": 96}
    assert found.choices[0].missed[0].endswith("short of 45.2\u00a0µs, which the source needs to settle")


def test_a_sample_that_is_too_short_is_told_beside_an_exact_rate() -> None:
    """20 MHz / (6 + 14) is 1 MHz; 6 cycles of 300 ns bear 300 ns / (5 pF * 9.011) - 2.2 kΩ = 4.46 kΩ."""
    found = answer(
        "adc",
        feed(20_000_000),
        {**CONVERTER, "sample_cycles": [6]},
        {"source_resistance": "1 MΩ", "rate": "1 MHz"},
    )
    assert (found.verdict, found.choices[0].error) == ("none fits", 0)
    assert found.remarks[0].what == "Sources up to about 4.46\u00a0kΩ settle in the longest sample, 300\u00a0ns."


@pytest.mark.parametrize("digits", [15, 29, 45, 90])
def test_settling_is_decided_however_near_the_edge(digits: int) -> None:
    """ln(2^13), half a bit of 12, cut after so many digits is too short, with its last digit one higher long enough."""
    cut = Fraction(int(TIME_CONSTANTS.replace(".", "")[:digits]), 10 ** (digits - 1))
    assert not settles(cut, 12, Fraction(1, 2), Fraction(1))
    assert settles(cut + Fraction(1, 10 ** (digits - 1)), 12, Fraction(1, 2), Fraction(1))


def test_what_needs_no_time_to_settle_is_settled() -> None:
    assert settles(Fraction(0), 12, Fraction(1, 2), Fraction(0))


@pytest.mark.parametrize("seed", range(30))
def test_the_best_sample_is_that_of_sorting_all(seed: int) -> None:
    """Long enough at both ends first, then on nominal, then by rate; too short ones the longest first."""
    dice = random.Random(seed)
    cycles, ohm, hertz = dice.sample(range(1, 200), 12), dice.randint(1, 200), dice.randint(2, 60) * 10**6
    rate = dice.choice([None, dice.randint(20, 900)])
    ask: dict[str, Any] = {"source_resistance": f"{ohm} kΩ", **({"rate": f"{rate} kHz"} if rate else {})}
    needed = 5e-12 * (ohm * 1000 + 2200) * math.log(2**13)

    def order(count: int) -> tuple[int, float, int]:
        short = sum(count / (hertz * fast) < needed for fast in (1, 1.05))
        off = abs(hertz / (count + 14) / (rate * 1000) - 1) if rate else 0.0
        return (short, off, count) if short < 2 else (short, 0.0, -count)

    found = answer("adc", feed(hertz, 50_000), {**CONVERTER, "sample_cycles": cycles}, ask)
    assert [choice.settings["sample_cycles"] for choice in found.choices] == sorted(cycles, key=order)[:8]


def test_what_cannot_be_taken_is_named_at_its_place() -> None:
    assert refused_at("adc", {**CONVERTER, "bits": 0}, {}) == ["generator.bits"]
    assert refused_at("adc", {"sample_cycles": [3]}, {}) == ["generator.conversion_cycles"]
    assert refused_at("adc", CONVERTER, {"settle_to": "2"}) == ["ask.settle_to"]
    assert refused_at("adc", CONVERTER, {"source_resistance": "-1 kΩ"}) == ["ask.source_resistance"]
    assert refused_at("adc", CONVERTER, {}, {"sample_cycles": 4}) == ["chosen.sample_cycles"]
