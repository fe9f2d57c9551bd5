"""Mends: every one makes the whole plan legal, and none nearer was missed (against trying everything)."""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.find.listing import all_values
from wheelwork.clocks.propagate import unfitted
from wheelwork.find.mends import apply_mend, find_mends, with_mends
from wheelwork.judge import judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet, read_sheet_json
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, read_plan_text


def random_sheet(dice: random.Random) -> dict[str, Any]:
    """A small sheet with two sources, a PLL, selectors that meet again, steps, a rule and a condition."""
    top = dice.choice([40, 60, 90])
    tolerant = dice.random() < 0.3
    sheet: dict[str, Any] = {
        "format": "wheelwork-part/1",
        "name": "Small",
        "judged_on": "with tolerance" if tolerant else "nominal",
        "core": {"clock": "core", "always": ["bus"]},
        "core_voltage": {
            "high": {
                "volts": "1.2 V",
                "flash": [{"up_to": f"{top // 3} MHz", "wait_states": 0}, {"up_to": f"{top} MHz", "wait_states": 1}],
            },
            "low": {"volts": "1.0 V", "flash": [{"up_to": f"{top // 4} MHz", "wait_states": 0}]},
        },
        "oscillator": {
            "rc": {"kind": "rc", "frequency": ["8 MHz", "16 MHz"], "tolerance": "-2 % .. +1 %"},
            "crystal": {"kind": "crystal", "frequency": "12 MHz", "tolerance": "±50 ppm"},
        },
        "selector": {
            "reference": {"inputs": ["rc", "crystal"]},
            "source": {"inputs": ["rc", "crystal", "tap"]},
            "port_source": {"inputs": ["bus", "rc", "tap"]},
        },
        "pll": {
            "pll": {
                "input": "reference",
                "reference_divider": "1..3",
                "feedback": "4..12",
                "fraction_of": dice.choice([1, 1, 4]),
                "phase_detector": "4 MHz .. 12 MHz",
                "vco": f"60 MHz .. {dice.choice([120, 160])} MHz",
                "vco_at": {"low": "60 MHz .. 100 MHz"},
            }
        },
        "divider": {
            "tap": {"input": "pll", "ratios": "1..4", "limits": f"up to {top} MHz"},
            "core": {
                "input": "source",
                "ratios": [1, 2, 3, 4],
                "limits": f"2 MHz .. {top} MHz",
                "limits_at": {"low": f"up to {top // 4} MHz"},
            },
            "bus": {"input": "core", "ratios": [1, 2, 4], "limits": f"up to {dice.choice([20, 30])} MHz"},
        },
        "scaler": {"timer_kernel": {"input": "bus", "multiply": 2, "when": {"divider": "bus", "ratio_above": 1}}},
        "load": {
            "port": {"input": "port_source", "limits": f"{dice.choice([5, 9])} MHz .. {dice.choice([10, 25])} MHz"},
            "timer": {"input": "timer_kernel", "limits": "up to 40 MHz"},
        },
    }
    if dice.random() < 0.5:
        sheet["rule"] = [{"node": "port_source", "at_most": "1/2", "of": "core"}]
    return sheet


def neighbours(part: Part, plan: Plan, count: int) -> Iterator[Plan]:
    """Every plan that differs in exactly `count` settings, the wait states among them where the plan names them."""
    values = all_values(part)
    if plan.wait_states is not None:
        values["wait_states"] = [0, 1]
    settings = {**plan.complete(part), "core_voltage": plan.core_voltage, "wait_states": plan.wait_states}
    for keys in itertools.combinations(values, count):
        for chosen in itertools.product(*([v for v in values[key] if v != settings[key]] for key in keys)):
            changes = dict(zip(keys, chosen, strict=True))
            step = changes.pop("core_voltage", plan.core_voltage)
            waits = changes.pop("wait_states", plan.wait_states)
            yield replace(plan.with_settings(changes), core_voltage=step, wait_states=waits)


def change(part: Part, before: Plan, after: Plan) -> tuple[Fraction, Fraction]:
    """The change of the core clock and of all clocks, as the page on the model orders them."""
    old, new = judge(part, before).clocks, judge(part, after).clocks
    product = Fraction(1)
    for name in old.keys() & new.keys():
        ratio = new[name].nominal / old[name].nominal
        product *= max(ratio, 1 / ratio)
    core = new[part.core_clock].nominal / old[part.core_clock].nominal
    return max(core, 1 / core), product


def nearest_by_trying_all(part: Part, plan: Plan) -> tuple[int, Fraction, Fraction] | None:
    """The nearest legal plan within two changes, found by judging every one."""
    for count in (1, 2):
        legal = [p for p in neighbours(part, plan, count) if not unfitted(part, p) and judge(part, p).legal]
        if legal:
            return min((count, *change(part, plan, p)) for p in legal)
    return None


def random_plan(dice: random.Random, part: Part) -> Plan:
    """Settings drawn at random, two loads in use or one."""
    plan, problems = read_plan({"in_use": dice.sample(["port", "timer"], dice.randint(1, 2))}, part)
    assert plan is not None, problems
    drawn = {key: dice.choice(options) for key, options in all_values(part).items()}
    step = drawn.pop("core_voltage")
    return replace(plan.with_settings(drawn), core_voltage=step, wait_states=dice.choice([None, None, 0, 1]))


@pytest.mark.parametrize("seed", range(14))
def test_no_nearer_mend_exists_than_the_one_offered(seed: int) -> None:
    dice = random.Random(seed)
    part, problems = read_sheet_json(random_sheet(dice))
    assert part is not None, problems
    plan = random_plan(dice, part)
    while judge(part, plan).legal:
        plan = random_plan(dice, part)
    mends, finished = find_mends(part, plan, lambda: True)
    assert finished
    for mend in mends:
        assert judge(part, apply_mend(plan, mend)).legal, mend
    best = nearest_by_trying_all(part, plan)
    if best is None:
        assert mends == ()
    else:
        first = mends[0]
        count = len(first.set) + (first.core_voltage is not None) + (first.wait_states is not None)
        assert (count, *change(part, plan, apply_mend(plan, first))) == best, (mends, best)


def test_a_search_without_time_says_that_it_is_unfinished() -> None:
    part, _ = read_sheet_json(random_sheet(random.Random(3)))
    assert part is not None
    plan = next(p for p in iter(lambda: random_plan(random.Random(), part), None) if not judge(part, p).legal)
    mends, finished = find_mends(part, plan, lambda: False)
    assert not finished
    assert all(judge(part, apply_mend(plan, mend)).legal for mend in mends)


def test_where_no_mend_is_found_it_is_said_whether_any_setting_would_do() -> None:
    """USB from an RC oscillator of -1.5 % to +1.2 % is never within 0.25 %; with a crystal fitted it can be."""
    cases = Path(__file__).parent.parent / "cases"
    part, problems = read_sheet((cases / "parts" / "turnstone-58.toml").read_text())
    assert part is not None, problems
    raw, _ = read_plan_text((cases / "plans" / "turnstone-usb-from-rc.toml").read_text())
    assert raw is not None
    hopeless = with_mends(judge(part, read_plan(raw, part)[0] or Plan(core_voltage="full")), lambda: True)
    assert hopeless.findings[0].tried.endswith("No setting of this part is legal with these loads and this board.")
    fitted = {**raw, "board": {"crystal": {"frequency": "8 MHz", "tolerance": "±30 ppm"}}}
    hopeful = with_mends(judge(part, read_plan(fitted, part)[0] or Plan(core_voltage="full")), lambda: True)
    tried = hopeful.findings[0].tried
    assert "settings of this part are legal" in tried or hopeful.findings[0].mend
