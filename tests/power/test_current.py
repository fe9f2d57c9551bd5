"""Supply current: I = k * f + I_0 and every node that is on (common practice, no single source)."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.published import exact, examples, label
from wheelwork.judge import judge
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan

MICRO = Fraction(1, 10**6)


def sheet(slope: str, base: str, frequency: str, **nodes: Any) -> dict[str, Any]:
    return {
        "format": "wheelwork-part/1",
        "name": "Small",
        "core": {"clock": "core"},
        "core_voltage": {"only": {"volts": "1.2 V", "run_current": slope, "base_current": base}},
        "oscillator": {"rc": {"frequency": frequency, "current": "0 µA"}},
        "divider": {"core": {"input": "rc", "ratios": "1..4"}},
        **nodes,
    }


def current_of(raw: dict[str, Any], **plan: Any) -> Any:
    part, problems = read_sheet_json(raw)
    assert part is not None, problems
    read, problems = read_plan(plan, part)
    assert read is not None, problems
    return judge(part, read).current


@pytest.mark.parametrize("example", [e for e in examples("RUN-I") if e["id"] == "RUN-I-1"], ids=label)
def test_a_hundred_microampere_per_megahertz_at_64_mhz_is_6_4_milliampere(example: Any) -> None:
    assert current_of(sheet("100 µA/MHz", "0 µA", "64 MHz")).typical == exact(example["expect"]["i"])


def test_slope_and_offset_stay_apart() -> None:
    """The two-point fit of RUN-I-3 in tests/reference/electrical.toml: 90 µA/MHz and 0.64 mA give 2.08 mA at 16 MHz."""
    assert current_of(sheet("90 µA/MHz", "640 µA", "16 MHz")).typical == Fraction(208, 10**5)


def test_every_node_that_is_on_adds_its_own() -> None:
    """1 mA core (10 µA/MHz * 100 MHz) + 50 µA PLL + 25 MHz * 2 µA/MHz; the load that is not in use adds nothing."""
    raw = sheet("10 µA/MHz", "0 µA", "100 MHz")
    raw["divider"]["tap"] = {"input": "rc", "ratios": [4], "current": "50 µA"}
    raw["load"] = {
        "port": {"input": "tap", "current_per_mhz": "2 µA/MHz"},
        "idle": {"input": "tap", "current": "9 mA"},
    }
    assert current_of(raw, in_use=["port"]).typical == 1000 * MICRO + 50 * MICRO + 50 * MICRO


def test_a_step_replaces_a_node_s_current() -> None:
    raw = sheet("0 µA/MHz", "0 µA", "8 MHz")
    raw["oscillator"]["rc"] |= {"current": "80 µA", "current_at": {"only": "60 µA"}}
    assert current_of(raw).typical == 60 * MICRO


def test_what_is_not_stated_is_named_and_not_counted() -> None:
    raw = sheet("10 µA/MHz", "0 µA", "8 MHz")
    del raw["core_voltage"]["only"]["base_current"]
    del raw["oscillator"]["rc"]["current"]
    found = current_of(raw)
    assert found.not_stated == ("base_current", "rc")
    assert found.typical == 80 * MICRO


def test_the_highest_figures_make_the_span() -> None:
    raw = sheet("10 µA/MHz", "0 µA", "8 MHz")
    raw["core_voltage"]["only"]["base_current"] = {"typical": "20 µA", "highest": "90 µA", "highest_at": "85 °C"}
    found = current_of(raw)
    assert (found.typical, found.highest) == (100 * MICRO, 170 * MICRO)
    assert current_of(sheet("10 µA/MHz", "0 µA", "8 MHz")).highest is None
