"""Limits and what does not go together: gain margin, drive level, start-up, resonances, trim."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.estimates.calculator import Figure
from wheelwork.estimates.calculators import calculators, estimate
from wheelwork.links.fields import Refused


def figures(calculator: str, **raw: str | int) -> dict[str, Figure]:
    return {figure.key: figure for figure in estimate(calculators()[calculator], raw).figures}


GAIN = {"frequency": "16 MHz", "shunt_capacitance": "7 pF", "load_capacitance": "9 pF"}


def test_the_resistance_at_the_load_is_never_corrected_twice() -> None:
    """R_m × (1 + 7/9)² = 80 Ω for R_m = 80 × 81/256; given as ESR the same, and both together are refused."""
    at_load = figures("gain_margin", **GAIN, series_resistance="80 Ω")
    motional = figures("gain_margin", **GAIN, motional_resistance="405/16 Ω")
    assert motional["series_resistance"].value == 80
    assert motional["critical"].value == at_load["critical"].value
    with pytest.raises(Refused) as refused:
        figures("gain_margin", **GAIN, series_resistance="80 Ω", motional_resistance="30 Ω")
    assert [each.where for each in refused.value.problems] == ["motional_resistance"]


@pytest.mark.parametrize(
    ("stated", "verdict"),
    [
        ({"transconductance": "17 mA/V"}, "inside"),
        ({"transconductance": "4 mA/V"}, "under"),
        ({"transconductance": "0.8 mA/V"}, "under"),
        ({"critical_most": "0.9 mA/V"}, "inside"),
        ({"critical_most": "0.8 mA/V"}, "under"),
        ({"resistance_most": "80 Ω"}, "inside"),  # the edges belong to it
        ({"resistance_most": "79 Ω"}, "under"),
        ({"transconductance": "17 mA/V", "resistance_most": "79 Ω"}, "under"),
        ({}, None),
    ],
)
def test_whatever_the_sheet_states_is_judged(stated: dict[str, str], verdict: str | None) -> None:
    """XTAL-GM-1 needs 0.828 mA/V."""
    outcome = estimate(calculators()["gain_margin"], {**GAIN, "series_resistance": "80 Ω", **stated})
    assert outcome.verdict == verdict
    assert bool(outcome.notes) == (verdict is None)


def test_a_resistor_in_series_costs_margin() -> None:
    plain, with_resistor = (
        figures("gain_margin", **GAIN, series_resistance="80 Ω", added_resistance=added, transconductance="17 mA/V")
        for added in ("0 Ω", "80 Ω")
    )
    assert float(plain["margin"].value or 0) == pytest.approx(2 * float(with_resistor["margin"].value or 0))


DRIVE = {"frequency": "16 MHz", "series_resistance": "60 Ω", "shunt_capacitance": "3 pF", "load_capacitance": "8 pF"}


@pytest.mark.parametrize(("limit", "verdict"), [("10 µW", "inside"), ("9 µW", "over")])
def test_a_drive_level_is_judged_on_the_crystals_limit(limit: str, verdict: str) -> None:
    """XTAL-DRIVE-1 has 9.17 µW."""
    assert estimate(calculators()["drive_level"], {**DRIVE, "voltage": "1 V", "drive_limit": limit}).verdict == verdict


def test_a_measured_current_counts_in_place_of_the_voltage() -> None:
    """60 Ω × (1 mA)² = 60 µW."""
    assert figures("drive_level", **DRIVE, current="1 mA")["drive"].value == Fraction(6, 10**5)
    for raw in (DRIVE, {**DRIVE, "current": "1 mA", "voltage": "1 V"}):
        with pytest.raises(Refused):
            figures("drive_level", **raw)


def test_a_crystal_that_loses_more_than_it_gets_does_not_start() -> None:
    outcome = estimate(
        calculators()["start_up"],
        {"motional_inductance": "8.4 mH", "negative_resistance": "40 Ω", "motional_resistance": "40 Ω"},
    )
    assert outcome.verdict == "under"
    assert outcome.what.startswith("It does not start")
    assert [figure.key for figure in outcome.figures] == ["inductance"]


def test_a_parallel_resonance_lies_above_the_series_one() -> None:
    with pytest.raises(Refused) as refused:
        figures("resonance", series_resonance="8 MHz", parallel_resonance="8 MHz", motional_capacitance="10 fF")
    assert refused.value.problems[0].sentence() == (
        "parallel_resonance: '8 MHz' is not above the series resonance; write one above 8 MHz"
    )


@given(st.integers(1, 400), st.integers(0, 300), st.integers(0, 300))
def test_steps_of_a_trim_reach_both_ends_and_one_fewer_do_not(step: int, low: int, high: int) -> None:
    raw = {"frequency": "8 MHz", "tolerance": f"-{low}/1000 % .. +{high}/1000 %", "trim_step": f"{step}/1000 %"}
    steps = figures("rc_trim", **raw)["steps"].value
    assert steps is not None
    assert steps * step >= max(low, high) > (steps - 1) * step or max(low, high) == 0


def test_what_a_trim_leaves_and_a_count_resolves_widen_the_drift() -> None:
    """0.4 % / 2 + 1 / (16 MHz × 1 ms) = 0.2 % + 62.5 ppm beside ±1 %."""
    raw = {"frequency": "16 MHz", "tolerance": "±10 %", "trim_step": "0.4 %", "drift": "±1 %", "gate": "1 ms"}
    after = figures("rc_trim", **raw)["after"]
    assert (after.lowest, after.highest) == (Fraction("-0.0120625"), Fraction("0.0120625"))
