"""Converters: settling from a public note and the reference list, rates by hand."""

from __future__ import annotations

from fractions import Fraction

import pytest

from tests.links.test_dividing import answer, feed, refused_at, settle
from wheelwork.links.adc import settling_time

CONVERTER = {
    "bits": 12,
    "sample_cycles": [3, 6, 12, 24, 48, 96],
    "conversion_cycles": 14,
    "resistance": "2.2 kΩ",
    "capacitance": "5 pF",
}


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
    assert found.remarks[0].what.startswith("The source needs 45.2")


def test_what_cannot_be_taken_is_named_at_its_place() -> None:
    assert refused_at("adc", {**CONVERTER, "bits": 0}, {}) == ["generator.bits"]
    assert refused_at("adc", {"sample_cycles": [3]}, {}) == ["generator.conversion_cycles"]
    assert refused_at("adc", CONVERTER, {"settle_to": "2"}) == ["ask.settle_to"]
    assert refused_at("adc", CONVERTER, {"source_resistance": "-1 kΩ"}) == ["ask.source_resistance"]
    assert refused_at("adc", CONVERTER, {}, {"sample_cycles": 4}) == ["chosen.sample_cycles"]
