"""A round of work, its mean and the battery, by hand; what stops it is told."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

import pytest

from tests.demo import PLANS, load_demo
from wheelwork.judge import judge
from wheelwork.judge.charge import Charge, reckon_charge
from wheelwork.judge.charge_words import say_charge, say_span
from wheelwork.plan.reading import read_plan
from wheelwork.plan.writing import write_plan
from wheelwork.power.battery import YEAR

PART, PLAN = load_demo("01-skerry-3-steady-running")
HOLD = Fraction("1.3e-6")
SAMPLE = {"name": "Sample", "cycles": 232_000, "every": "125 ms"}
REST = {"name": "Rest", "mode": "hold"}


def charged(phases: list[dict[str, Any]], battery: dict[str, Any] | None = None, **more: Any) -> Charge:
    raw = {**write_plan(PLAN, PART), "phase": phases, "battery": battery or {}, **more}
    plan, problems = read_plan(raw, PART)
    assert plan is not None, problems
    return reckon_charge(judge(PART, plan))


def refused(phases: list[dict[str, Any]], battery: dict[str, Any] | None = None) -> list[str]:
    plan, problems = read_plan({**write_plan(PLAN, PART), "phase": phases, "battery": battery or {}}, PART)
    assert plan is None
    return [problem.where for problem in problems]


def test_a_round_of_work_by_hand() -> None:
    """232 000 clocks of 58 MHz are 4 ms; 45 µs of waking; the rest of 125 ms is held."""
    charge = charged([SAMPLE, REST])
    sample, rest, waking = charge.phases
    run = charge.judgement.current.typical
    assert (sample.lasts, sample.current.typical, sample.charge.typical) == (Fraction(4, 1000), run, run * 4 / 1000)
    assert (waking.lasts, waking.derived, waking.current.typical) == (Fraction(45, 10**6), True, Fraction("225e-6"))
    assert rest.lasts == Fraction(125, 1000) - sample.lasts - waking.lasts
    by_hand = (run * sample.lasts + HOLD * rest.lasts + waking.current.typical * waking.lasts) / Fraction(125, 1000)
    assert charge.mean is not None
    assert charge.mean.typical == by_hand
    assert charge.round == Fraction(1, 8)


def test_a_phase_that_comes_less_often_counts_by_its_share() -> None:
    radio = {"name": "Radio", "lasts": "60 ms", "every": "10 min", "draws": [{"of": "radio", "current": "29 mA"}]}
    with_it, without = charged([SAMPLE, radio, REST]), charged([SAMPLE, REST])
    assert with_it.mean is not None
    assert without.mean is not None
    more = (Fraction("0.029") + with_it.judgement.current.typical - HOLD) * Fraction("0.06") / 600
    assert with_it.mean.typical == without.mean.typical + more


def test_a_phase_may_run_otherwise() -> None:
    slow = {
        "name": "Slow",
        "lasts": "30 ms",
        "plan": {"core_voltage": "low", "in_use": ["processor"], "set": {"core_source": "fast_rc", "slow_bus": 1}},
    }
    charge = charged([{**SAMPLE, "every": "200 ms"}, slow, REST])
    about = charge.phases[1].about.replace("\u00a0", " ")
    assert about == "run, 11 MHz, 950 mV"
    assert charge.phases[1].current.typical < charge.phases[0].current.typical
    assert not charge.findings
    bad = charged([{"name": "Slow", "lasts": "30 ms", "plan": {"core_voltage": "low"}}, REST], None)
    assert any("runs outside what the sheet allows" in finding.what for finding in bad.findings)


def test_phases_that_take_more_time_than_there_is_stop() -> None:
    charge = charged([{"name": "Long", "lasts": "100 ms"}, {"name": "Longer", "lasts": "60 ms", "every": "125 ms"}])
    assert charge.findings[0].severity == "stop"
    assert "35" in charge.findings[0].what


def test_time_that_no_phase_speaks_of_is_counted_as_running() -> None:
    charge = charged([SAMPLE])
    assert charge.phases[-1].name == "The rest"
    assert charge.mean is not None
    assert charge.mean.typical == charge.judgement.current.typical
    assert charge.findings[0].severity == "caution"


def test_a_load_that_a_mode_stops_is_found() -> None:
    charge = charged([SAMPLE, {**REST, "needs": ["serial_port"]}])
    assert "Serial port (UART) stops in Rest: Hold stops Fast crystal oscillator." in charge.findings[0].what
    assert not charged([SAMPLE, REST]).findings, "the calendar's crystal runs on in Hold"


@pytest.mark.parametrize(
    ("current", "pin", "stops"),
    [("6 mA", "each", 0), ("7 mA", "each", 1), ("15 mA", "strong", 0), ("16 mA", "strong", 1)],
)
def test_a_pin_gives_no_more_than_the_sheet_says(current: str, pin: str, stops: int) -> None:
    """6 mA each, 15 mA strong, 85 mA together."""
    draws = [{"of": "lamp", "current": current, "pin": pin}]
    assert len(charged([{**SAMPLE, "draws": draws}, REST]).findings) == stops
    many = [{"of": f"lamp {number}", "current": "6 mA", "pin": "each"} for number in range(15)]
    assert "90 mA" in charged([{**SAMPLE, "draws": many}, REST]).findings[0].what.replace("\u00a0", " ")


def test_a_life_is_a_span_and_ends_with_the_shelf() -> None:
    charge = charged(
        [{"name": "Rest", "mode": "hold", "lasts": "1 h"}], {"cell": "CR2477", "usable": "85 %", "ends_at": "2.0 V"}
    )
    assert charge.life is not None
    assert (charge.life.typical, charge.life.ended_by) == (10 * YEAR, "shelf life")
    assert charge.life.lowest <= charge.life.typical <= charge.life.highest
    assert say_charge(charge).startswith("10\u00a0years on one CR2477 cell, mean 1.3")


def test_a_life_by_hand() -> None:
    """810 C, 85 % of it, nothing lost, at a steady 6.13 mA."""
    charge = charged([], {"capacity": "225 mAh", "usable": "85 %", "self_discharge": "0 %"})
    assert charge.life is not None
    by_hand = 810 * 0.85 / float(charge.judgement.current.typical)
    assert charge.life.typical == pytest.approx(by_hand)
    assert "225" in say_span(charge)


@pytest.mark.parametrize(
    ("peak", "ended"),
    [
        ("2 mA", "the charge is used up"),
        ("12 mA", "droop under the peak, before the charge is gone"),
        ("120 mA", "droop under the peak"),
    ],
)
def test_a_peak_may_end_it_before_the_charge_is_gone(peak: str, ended: str) -> None:
    """10 Ω fresh and 60 Ω worn from 3 V: 12 mA leave 2.88 V and 2.28 V, 120 mA 1.8 V and less, against 2.4 V."""
    battery = {"cell": "CR2032", "ends_at": "2.4 V", "resistance": "10 Ω", "peak": peak}
    charge = charged([SAMPLE, REST], battery)
    assert charge.life is not None
    assert charge.life.ended_by == ended
    carried = charged([SAMPLE, REST], {**battery, "pulse": "20 ms", "capacitor": "22 mF"})
    assert carried.life is not None
    assert carried.life.ended_by == "the charge is used up"


@pytest.mark.parametrize(
    ("peak", "told"),
    [
        ("12 mA", ("about 10 mA at most", "about 400 µF or more")),
        ("120 mA", ("about 60 mA at most", "about 4 mF or more")),
    ],
)
def test_a_droop_says_what_would_keep_the_voltage(peak: str, told: tuple[str, str]) -> None:
    """0.6 V to spare: over 60 Ω worn 10 mA, over 10 Ω 60 mA; 12 mA · 20 ms / 0.6 V = 400 µF. A fresh cell bears no
    120 mA, so it is spoken of: 120 mA · 20 ms / 0.6 V = 4 mF."""
    battery = {"cell": "CR2032", "ends_at": "2.4 V", "resistance": "10 Ω", "peak": peak}
    short = charged([SAMPLE, REST], battery).findings[-1].detail.replace("\u00a0", " ")
    assert told[0] in short
    assert "say how long it lasts" in short
    small = {**battery, "pulse": "20 ms", "capacitor": "1 µF"}
    long = charged([SAMPLE, REST], small).findings[-1].detail.replace("\u00a0", " ")
    assert told[0] in long
    assert f"for 20 ms put {told[1]}" in long


def test_a_battery_never_ends_below_what_the_part_needs() -> None:
    charge = charged([SAMPLE, REST], {"cell": "LR6", "ends_at": "0.8 V"})
    assert "1.5 V are below the 1.6 V" in charge.findings[0].what.replace("\u00a0", " ")


def test_what_cannot_be_read_is_named_at_its_place() -> None:
    assert refused([{"lasts": "1 s"}]) == ["phase.0.name"]
    assert refused([{"name": "x", "mode": "holt"}]) == ["phase.0.mode"]
    assert refused([{"name": "x", "lasts": "1 s", "cycles": 3}]) == ["phase.0.cycles"]
    assert refused([{"name": "x", "lasts": "2 s", "every": "1 s"}]) == ["phase.0.lasts"]
    assert refused([{"name": "x", "mode": "hold", "cycles": 3}]) == ["phase.0.cycles"]
    assert refused([{"name": "x", "plan": {"part": "other"}}]) == ["phase.0.plan"]
    assert refused([{"name": "x", "draws": [{"of": "lamp"}]}]) == ["phase.0.draws"]
    assert refused([], {"cell": "CR2033"}) == ["battery.cell"]
    assert refused([], {"usable": "85 %"}) == ["battery"]
    assert refused([], {"capacity": "0 mAh"}) == ["battery.capacity"]
    assert refused([], {"capacity": "1 Ah", "usable": "120 %"}) == ["battery.usable"]
    assert refused([], {"cell": "LR6", "capacitor": "1 mF"}) == ["battery.pulse"]


@pytest.mark.parametrize("name", [path.stem for path in PLANS])
def test_every_plan_of_the_demo_says_how_long_its_battery_lasts(name: str) -> None:
    part, plan = load_demo(name)
    charge = reckon_charge(judge(part, plan))
    assert charge.life is not None
    assert len(charge.phases) >= 3
    assert not any(finding.severity == "stop" for finding in charge.findings)
    again, problems = read_plan(write_plan(plan, part), part)
    assert (again, problems) == (plan, [])
