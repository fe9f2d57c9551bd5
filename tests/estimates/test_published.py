"""Every example of tests/reference/electrical.toml on crystals, RC oscillators and calibration, by the calculators.

The source of each stands in its id. What is compared is `expect`, never `published`, to the nine figures that the file
promises; a whole or rational figure exactly.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from fractions import Fraction
from typing import Any

import pytest

from tests.published import REFERENCE, exact, label
from wheelwork.estimates.calculator import Figure
from wheelwork.estimates.calculators import calculators, estimate
from wheelwork.estimates.load_capacitors import load_of

PPM, PF = Fraction(1, 10**6), Fraction(1, 10**12)
MEANT = ("XTAL-", "RC-TRIM", "CAL-SWALLOW")
EXAMPLES = {each["id"]: each for each in REFERENCE["example"] if each["formula"].startswith(MEANT)}

Given = Mapping[str, Any]
Compared = dict[str, Any]
"""What the file expects of an example, by its keys, as we reckon it."""
Case = Callable[[Given], Compared]
ASKED: set[str] = set()
"""The calculators that the cases have asked."""


def ask(calculator: str, **raw: str | int) -> dict[str, Figure]:
    """The figures of a calculator by their keys."""
    ASKED.add(calculator)
    outcome = estimate(calculators()[calculator], raw)
    return {figure.key: figure for figure in outcome.figures}


def value(figure: Figure) -> Any:
    assert figure.value is not None
    return figure.value


def pair(g: Given) -> Compared:
    return {"cl_pf": load_of((exact(g["c1_pf"]), exact(g["c2_pf"])), exact(g["c_stray_pf"]))}


def nearest(g: Given) -> Compared:
    f = ask("load_capacitors", load_capacitance=f"{g['cl_pf']} pF", board_capacitance=f"{g['c_stray_pf']} pF")
    return {
        "c_ideal": value(f["ideal"]) / PF,
        "c_equal_e24": value(f["equal"]) / PF,
        "cl_equal": value(f["equal_load"]) / PF,
        "pair_e24": [value(f["first"]) / PF, value(f["second"]) / PF],
        "cl_pair": value(f["load"]) / PF,
    }


def pulling(g: Given) -> Compared:
    f = ask(
        "pulling",
        motional_capacitance=f"{g['cm_ff']} fF",
        shunt_capacitance=f"{g['c0_pf']} pF",
        nominal_load=f"{g['cl_nom_pf']} pF",
        real_load=f"{g['cl_real_pf']} pF",
    )
    return {"ppm": value(f["pulling"]) / PPM, "slope_ppm_per_pf": value(f["slope"]) / (PPM / PF)}


def resonance(g: Given) -> Compared:
    ends = {"series_resonance": f"{g['f_s']} Hz", "parallel_resonance": f"{g['f_p']} Hz"}
    return {"c0_pf": value(ask("resonance", **ends, motional_capacitance=f"{g['cm_ff']} fF")["shunt"]) / PF}


def crystal(g: Given) -> dict[str, str]:
    return {
        "frequency": f"{g['f']} Hz",
        "series_resistance": f"{g['esr']} ohm",
        "shunt_capacitance": f"{g['c0_pf']} pF",
        "load_capacitance": f"{g['cl_pf']} pF",
    }


def gain(g: Given) -> Compared:
    micro = exact(g["gm"]) * 10**6
    f = ask("gain_margin", **crystal(g), transconductance=f"{micro} µA/V")
    return {"gm_crit": value(f["critical"]), "margin": value(f["margin"])}


def drive(g: Given) -> Compared:
    f = ask("drive_level", **crystal(g), voltage=f"{g['v_pp']} V")
    return {"i_rms": value(f["current"]), "dl": value(f["drive"])}


def start(g: Given) -> Compared:
    coil = {"motional_inductance": f"{g['lm_h']} H"} if "lm_h" in g else {}
    if not coil:
        coil = {"frequency": f"{g['f']} Hz", "motional_capacitance": f"{g['cm_ff']} fF"}
    swing = {"negative_resistance": f"{g['r_neg']} ohm", "motional_resistance": f"{g['rm']} ohm", "growth": g["ratio"]}
    f = ask("start_up", **coil, **swing)
    told = {"tau": value(f["constant"]), "t_start": value(f["start_up"])}
    return told if "lm_h" in g else {**told, "lm_h": value(f["inductance"])}


def month(g: Given) -> Compared:
    """The terms of the FAQ are of one rank; those above nothing stand for initial, load and circuit."""
    terms = zip(("initial", "load", "circuit"), (each for each in g["terms_ppm"] if each), strict=True)
    f = ask("ppm_budget", **{key: f"±{ppm} ppm" for key, ppm in terms}, during=f"{g['days']} d")
    assert f["worst"].lowest == -(f["worst"].highest or 0)
    return {"worst_ppm": (f["worst"].highest or 0) / PPM, "seconds": f["seconds_during"].highest}


def life(g: Given) -> Compared:
    f = ask(
        "ppm_budget",
        initial=f"±{g['initial_ppm']} ppm",
        temperature=f"±{g['temperature_ppm']} ppm",
        ageing=f"±{g['ageing_ppm_per_year']} ppm",
        years=g["years"],
        load=f"±{g['load_ppm']} ppm",
    )
    return {
        f"{name}_ppm": (f[key].highest or 0) / PPM
        for name, key in (("worst", "worst"), ("rss", "statistical"), ("mixed", "mixed"))
    }


def clock_error(g: Given) -> Compared:
    f = ask("ppm_budget", initial=f"±{g['ppm']} ppm")
    return {"s_per_day": f["seconds_a_day"].highest, "min_per_year": (f["seconds_a_year"].highest or 0) / 60}


def fork_at(g: Given) -> Compared:
    f = ask(
        "tuning_fork",
        coefficient=f"{g['b']} ppm/K²",
        coefficient_spread="0 ppm/K²",
        turnover=f"{g['t0']} °C",
        turnover_spread="0 K",
        temperatures=f"{g['t']} °C",
    )
    assert f["deviation"].lowest == f["deviation"].highest == f["deviation"].value
    return {"ppm": value(f["deviation"]) / PPM, "min_per_year": value(f["seconds_a_year"]) / 60}


def fork_over(g: Given) -> Compared:
    f = ask(
        "tuning_fork",
        coefficient=f"{g['b_nom']} ppm/K²",
        coefficient_spread=f"{g['b_tol']} ppm/K²",
        turnover=f"{g['t0_nom']} °C",
        turnover_spread=f"{g['t0_tol']} K",
        temperatures=f"{g['t_min']} °C .. {g['t_max']} °C",
    )["deviation"]
    assert f.lowest is not None
    assert f.highest is not None
    return {"ppm_min": f.lowest / PPM, "ppm_max": f.highest / PPM, "ppm_min_nominal": value(f) / PPM}


def share(ratio: str) -> str:
    return f"{exact(ratio) * 100} %"


def rc_span(g: Given) -> Compared:
    f = ask("rc_trim", frequency=f"{g['f_nom']} Hz", tolerance=f"-{share(g['t_lo'])} .. +{share(g['t_hi'])}")
    return {"f_min": f["frequency"].lowest, "f_max": f["frequency"].highest}


def rc_steps(g: Given) -> Compared:
    """The file names no frequency, and none is needed for steps and residual."""
    f = ask("rc_trim", frequency="16 MHz", tolerance=f"±{share(g['span'])}", trim_step=share(g["s"]))
    return {"residual": value(f["residual"]), "steps_each_side": value(f["steps"])}


def masking(g: Given) -> Compared:
    error = f"{g.get('error_ppm', 0)} ppm"
    f = ask("pulse_masking", frequency=f"{g['f']} Hz", window=f"{g['t_window']} s", error=error)
    return {
        "step_ppm": value(f["step"]) / PPM,
        "m": value(f["pulses"]),
        "residual_ppm": value(f["left"]) / PPM,
    }


CASES: dict[str, Case] = {
    "XTAL-CL-1": pair,
    "XTAL-CL-2": nearest,
    "XTAL-CL-3": nearest,
    "XTAL-CL-4": nearest,
    "XTAL-PULL-1": pulling,
    "XTAL-PULL-2": pulling,
    "XTAL-RES-1": resonance,
    "XTAL-GM-1": gain,
    "XTAL-GM-3": gain,
    "XTAL-GM-4": gain,
    "XTAL-GM-5": gain,
    "XTAL-DRIVE-1": drive,
    "XTAL-PPM-1": month,
    "XTAL-PPM-2": life,
    "XTAL-TIME-1": clock_error,
    "XTAL-TIME-2": clock_error,
    "XTAL-FORK-1": fork_at,
    "XTAL-FORK-2": fork_at,
    "XTAL-FORK-3": fork_over,
    "RC-TRIM-1": rc_span,
    "RC-TRIM-2": rc_steps,
    "CAL-SWALLOW-1": masking,
    "CAL-SWALLOW-2": masking,
    "XTAL-START-1": start,
    "XTAL-START-2": start,
}


def test_no_example_of_these_fields_is_left_out() -> None:
    assert sorted(CASES) == sorted(EXAMPLES)
    formulas = {each["id"] for each in REFERENCE["formula"] if each["id"].startswith(MEANT)}
    assert {each["formula"] for each in EXAMPLES.values()} == formulas


def test_every_calculator_is_held_to_an_example() -> None:
    ASKED.clear()
    for name, case in CASES.items():
        case(EXAMPLES[name]["given"])
    assert set(calculators()) == ASKED


@pytest.mark.parametrize("name", CASES, ids=lambda name: label(EXAMPLES[name]))
def test_an_example_comes_out_as_expected(name: str) -> None:
    example = EXAMPLES[name]
    found = CASES[name](example["given"])
    assert set(example["expect"]) <= set(found)
    for key, wanted in example["expect"].items():
        hold(found[key], wanted)


def hold(found: Any, wanted: Any) -> None:
    """Exactly where both are rational and the file writes the figure out, else to nine figures."""
    if isinstance(wanted, list):
        for one, other in zip(found, wanted, strict=True):
            hold(one, other)
    elif isinstance(found, Fraction) and len(str(wanted).strip("-0.").replace(".", "")) < 12:
        assert found == exact(wanted)
    else:
        assert float(found) == pytest.approx(float(exact(wanted)), rel=1e-9)
