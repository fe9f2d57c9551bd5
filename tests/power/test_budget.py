"""Supply and battery against the reference list: every example of these formulas, compared with what it expects."""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from wheelwork.power import battery, budget, regulator
from wheelwork.power.battery import YEAR

FILE = Path(__file__).parents[1] / "reference" / "electrical.toml"
REFERENCE: dict[str, Any] = tomllib.loads(FILE.read_text(encoding="utf-8"), parse_float=Decimal)
EXAMPLES = {each["id"]: each for each in REFERENCE["example"]}
PLAIN = Fraction(0)


def exact(value: Any) -> Fraction:
    return Fraction(str(value))


def numbers(given: dict[str, Any]) -> dict[str, Any]:
    return {
        key: [exact(each) for each in value] if isinstance(value, list) else exact(value)
        for key, value in given.items()
    }


def linear(g: dict[str, Any]) -> dict[str, Any]:
    supply = regulator.linear_current(g["i_core"], g["i_q"])
    power, core = g["v_dd"] * supply, g["v_core"] * g["i_core"]
    return {"i_supply": supply, "p_supply": power, "p_core": core, "efficiency": core / power}


def buck(g: dict[str, Any]) -> dict[str, Any]:
    if "i_q_buck" in g:
        return {"i_x": regulator.equal_core_current(g["v_core"], g["v_dd"], g["eta"], g["i_q_buck"], g["i_q_lin"])}
    return {"i_supply": regulator.buck_current(g["i_core"], g["v_core"], g["v_dd"], g["eta"], g["i_q"])}


def run(g: dict[str, Any]) -> dict[str, Any]:
    if "f1" in g:
        slope, offset = budget.fit_line((g["f1"], g["i1"]), (g["f2"], g["i2"]))
        return {"k": slope, "i_0": offset, "i": budget.run_current(slope, g["f"], offset)}
    return {"i": budget.run_current(g["k_ref"] * g["v"] / g["v_ref"], g["f"], g["i_0"])}


def mean(g: dict[str, Any]) -> dict[str, Any]:
    phases = list(zip(g["i"], g["t"], strict=True))
    return {
        "q_cycle": budget.cycle_charge(phases),
        "t_cycle": sum(g["t"], PLAIN),
        "i_mean": budget.mean_current(phases),
    }


def race(g: dict[str, Any]) -> dict[str, Any]:
    if "n" not in g:
        return {"i_0_equal": budget.equal_offset((g["k_fast"], g["f_fast"]), (g["k_slow"], g["f_slow"]), g["i_s"])}
    fast, slow = (
        budget.charge_for_work(g[f"k_{way}"], g[f"f_{way}"], g["i_0"], g["n"], g["i_s"], g["t"], g["q_wake"])
        for way in ("fast", "slow")
    )
    return {"q_fast": fast, "q_slow": slow, "winner": "fast" if fast < slow else "slow"}


def life(g: dict[str, Any]) -> dict[str, Any]:
    capacity = g["c_ah"] * 3600
    straight = battery.life_linear(capacity, g["d"], g["s"], g["i"])
    bent = battery.life_exponential(*(float(each) for each in (capacity, g["d"], g["s"], g["i"])))
    return {"hours_linear": straight / 3600, "years_linear": straight / YEAR, "years_exponential": bent / YEAR}


def pulse(g: dict[str, Any]) -> dict[str, Any]:
    if "dv_max" in g:
        return {"c_min": battery.least_capacitor(g["i"], g["t"], g["dv_max"], g["esr_c"])}
    if "v_min" in g:
        return {"i_max": battery.largest_pulse(g["v_oc"], g["v_min"], g["r_int"])}
    return {"v_load": [battery.loaded_voltage(g["v_oc"], g["i"], each) for each in g["r_int"]]}


def rate(g: dict[str, Any]) -> dict[str, Any]:
    currents = g.get("table_i_ma", g["i_ma"])
    capacities = g.get("table_c_mah", [Fraction(each) for each in (3000, 2600, 1600, 1000)])
    points = list(zip(currents, capacities, strict=True))
    return {"c_mah": [battery.capacity_at(each, points) for each in g["i_ma"]]}


def cycle(g: dict[str, Any]) -> dict[str, Any]:
    per_volt = g["k_ref"] / g["v_ref"]
    supply = budget.run_current(per_volt * g["v"], g["f"], g["i_static"])
    return {
        "i_supply": supply,
        "e_cycle_supply": g["v_dd"] * supply / g["f"],
        "e_cycle_core": g["v"] * supply / g["f"],
    }


CHECKS: dict[str, Callable[[dict[str, Any]], dict[str, Any]]] = {
    "REG-LIN": linear,
    "REG-BUCK": buck,
    "RUN-I": run,
    "FLASH-THRU": lambda g: {"f_eff": budget.effective_speed(g["f"], int(g["w"]), g["m"])},
    "BUD-MEAN": mean,
    "BUD-SLEEP": lambda g: {"t_be": budget.break_even_time(g["p_idle"], g["p_low"], g["t_tr"], g["p_tr"])},
    "BUD-RACE": race,
    "BAT-LIFE": life,
    "BAT-PULSE": pulse,
    "BAT-RATE": rate,
    "PWR-LEAK": lambda g: {"i": battery.leakage_at(*(float(g[key]) for key in ("i0", "t0", "t", "t_double")))},
    "PWR-EOP": cycle,
}
CASES = [each for each in EXAMPLES.values() if each["formula"] in CHECKS]


def close(ours: Any, expected: Any) -> bool:
    if isinstance(expected, list):
        return all(close(one, other) for one, other in zip(ours, expected, strict=True))
    if isinstance(expected, str) and not expected[0].isdigit():
        return bool(ours == expected)
    want = exact(expected)
    return abs(Fraction(ours) - want) <= abs(want) * Fraction(1, 10**9)


@pytest.mark.parametrize("example", CASES, ids=lambda each: f"{each['id']}: {each['source'][:40]}")
def test_an_example_of_the_reference_list_comes_out(example: dict[str, Any]) -> None:
    """Held to `expect`, reckoned again there; `published` may be rounded or wrong. Its source is in the name."""
    ours = CHECKS[example["formula"]](numbers(example["given"]))
    for key, expected in example["expect"].items():
        assert close(ours[key], expected), (key, ours[key], expected)


def test_no_example_of_these_formulas_is_left_out() -> None:
    assert {each["formula"] for each in CASES} == set(CHECKS)
    assert len(CASES) == sum(each["formula"] in CHECKS for each in REFERENCE["example"]) >= 29


POSITIVE = st.fractions(min_value=Fraction(1, 1000), max_value=1000)


@given(POSITIVE, POSITIVE, POSITIVE, POSITIVE)
def test_the_charge_of_a_job_falls_with_the_clock_at_one_step(
    k: Fraction, i: Fraction, f: Fraction, more: Fraction
) -> None:
    """I n / f = k n + I_0 n / f; common practice, no source."""
    slow, fast = (budget.run_current(k, clock, i) / clock for clock in (f, f + more))
    assert fast < slow


def test_a_linear_regulator_s_current_does_not_depend_on_the_supply() -> None:
    assert regulator.linear_current(Fraction(1, 100)) == Fraction(1, 100)


def test_a_hundred_microamperes_a_megahertz_at_64_megahertz_are_6_4_milliamperes() -> None:
    """Common practice, no source."""
    assert budget.run_current(Fraction(1, 10**10), Fraction(64 * 10**6), PLAIN) == Fraction("0.0064")


def test_what_cannot_be_reckoned_is_said() -> None:
    with pytest.raises(ValueError, match="own resistance"):
        battery.least_capacitor(Fraction(1), Fraction(1), Fraction(1), Fraction(2))
    with pytest.raises(ValueError, match="so large a drain"):
        battery.capacity_at(Fraction(2), [(Fraction(1), Fraction(1))])
