"""Time keeping: published examples of tests/reference/electrical.toml, and laws of the watch crystal's curve."""

from __future__ import annotations

import random
from fractions import Fraction
from typing import Any

import pytest

from tests.published import exact, examples, label
from wheelwork.links.time_keeping import (
    PARABOLAS,
    Parabola,
    deviation,
    deviation_span,
    pulse_share,
    pulses_to_leave_out,
    seconds_gained,
)
from wheelwork.quantities.spans import Span

PPM = Fraction(1, 10**6)
YEAR = Fraction(1461, 4)


def minutes_a_year(share: Fraction) -> Fraction:
    return seconds_gained(share, YEAR) / 60


@pytest.mark.parametrize("case", examples("XTAL-TIME"), ids=label)
def test_an_error_is_so_much_a_day_and_a_year(case: Any) -> None:
    """A year of 365.25 days."""
    share, expect = exact(case["given"]["ppm"]) * PPM, case["expect"]
    assert seconds_gained(share) == exact(expect["s_per_day"])
    assert minutes_a_year(share) == exact(expect["min_per_year"])


@pytest.mark.parametrize("case", [each for each in examples("XTAL-FORK") if "b" in each["given"]], ids=label)
def test_a_fork_at_one_temperature_is_as_slow_as_published(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    share = deviation(exact(given["t"]), exact(given["b"]) * PPM, exact(given.get("t0", 25)))
    assert share == exact(expect["ppm"]) * PPM
    if "min_per_year" in expect:
        assert minutes_a_year(share) == exact(expect["min_per_year"])


def spread(given: Any, name: str) -> Span:
    centre, off = exact(given[f"{name}_nom"]), exact(given[f"{name}_tol"])
    return Span(centre - off, centre + off)


@pytest.mark.parametrize("case", [each for each in examples("XTAL-FORK") if "b_nom" in each["given"]], ids=label)
def test_a_fork_in_a_span_of_temperatures_is_between_published_ends(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    factor, span = spread(given, "b"), Span(exact(given["t_min"]), exact(given["t_max"]))
    curve = Parabola(Span(factor.lowest * PPM, factor.highest * PPM), spread(given, "t0"), "")
    found = deviation_span(curve, span)
    assert (found.lowest / PPM, found.highest / PPM) == (exact(expect["ppm_min"]), exact(expect["ppm_max"]))
    middle = exact(given["b_nom"]) * PPM
    nominal = min(deviation(end, middle, exact(given["t0_nom"])) for end in (span.lowest, span.highest))
    assert nominal / PPM == exact(expect["ppm_min_nominal"])


@pytest.mark.parametrize("curve", PARABOLAS, ids=lambda curve: curve.source)
def test_no_crystal_of_a_curve_is_outside_its_span(curve: Parabola) -> None:
    """Against crystals and temperatures by chance, the corners among them; the ends are reached."""
    dice = random.Random(curve.source)
    for _ in range(50):
        low = Fraction(dice.randint(-40, 85))
        span = Span(low, low + dice.randint(0, 40))
        found = deviation_span(curve, span)
        seen = [
            deviation(at, factor, top)
            for at in [span.lowest, span.highest, *(low + Fraction(dice.random()) * (span.highest - low),)]
            for factor in (curve.coefficient.lowest, curve.coefficient.highest)
            for top in (curve.turnover.lowest, Fraction(25), curve.turnover.highest)
        ]
        assert all(share in found for share in seen)
        assert min(seen) == found.lowest
        assert found.highest <= 0


@pytest.mark.parametrize("case", examples("CAL-SWALLOW"), ids=label)
def test_pulses_left_out_mend_an_error_as_reckoned(case: Any) -> None:
    given, expect = case["given"], case["expect"]
    clock, window = exact(given["f"]), exact(given["t_window"])
    if "step_ppm" in expect:
        assert pulse_share(clock, window) == exact(expect["step_ppm"]) * PPM
    else:
        pulses, left = pulses_to_leave_out(exact(given["error_ppm"]) * PPM, clock, window)
        assert (pulses, left / PPM) == (expect["m"], exact(expect["residual_ppm"]))


def test_a_clock_that_loses_has_pulses_added() -> None:
    """30 ppm slow: 30 / 0.95367 = 31.46 pulses of 32 s."""
    pulses, left = pulses_to_leave_out(-30 * PPM, Fraction(32_768), Fraction(32))
    assert pulses == -31
    assert abs(left) <= pulse_share(Fraction(32_768), Fraction(32)) / 2
