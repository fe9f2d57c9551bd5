"""Counting legal settings: against listing and judging every one, and against known answers of larger problems.

The problems in tests/cases/find are invented; their counts were made by another program (tests/cases/README.md).
"""

from __future__ import annotations

import itertools
import json
import random
from collections.abc import Iterator
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from tests.find.listing import all_values
from wheelwork.clocks.propagate import find_way, unfitted
from wheelwork.find.counting import count_settings
from wheelwork.find.lattice import Feedbacks
from wheelwork.judge.judgement import reckon
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.quantities.ratios import Run

NOT_COUNTED = {"d", "d-nothing-fits"}  # too large to be counted; tests/find/test_known_problems.py asks them for less
KNOWN = sorted((Path(__file__).parent.parent / "cases" / "find").glob("*.json"))
PROBLEMS = [path for path in KNOWN if path.stem not in NOT_COUNTED]


@pytest.mark.parametrize("path", PROBLEMS, ids=lambda path: path.stem)
def test_the_count_is_the_known_one(path: Path) -> None:
    problem = json.loads(path.read_text())
    part, problems = read_sheet_json(problem["part"])
    assert part is not None, problems
    plan, problems = read_plan({**problem["plan"], "target": problem["targets"]}, part)
    assert plan is not None, problems
    counted = count_settings(part, plan, lambda: True, plan.targets, problem["pinned"])
    assert str(counted) == problem["expected"]["admissible"]


def small_sheet(dice: random.Random) -> dict[str, Any]:
    """Two sources, one with choices, a PLL, selectors that meet again, a condition, two steps."""
    return {
        "format": "wheelwork-part/1",
        "name": "Small",
        "judged_on": dice.choice(["nominal", "with tolerance"]),
        "core": {"clock": "core", "always": ["bus"]},
        "core_voltage": {
            "high": {"volts": "1.2 V", "flash": [{"up_to": f"{dice.choice([20, 40])} MHz", "wait_states": 1}]},
            "low": {"volts": "1.0 V", "supply": dice.choice(["1.8 V .. 3.6 V", "3.2 V .. 3.6 V"])},
        },
        "oscillator": {
            "rc": {"frequency": ["8 MHz", "12 MHz"], "tolerance": "-2 % .. +1 %"},
            "crystal": {"kind": "crystal", "frequency": "4 MHz .. 16 MHz"},
        },
        "selector": {
            "reference": {"inputs": ["rc", "crystal"]},
            "source": {"inputs": ["rc", "tap", "crystal"]},
            "port_source": {"inputs": ["bus", "rc", "tap"]},
        },
        "pll": {
            "pll": {
                "input": "reference",
                "reference_divider": "1..2",
                "feedback": dice.choice(["4..6", [3, 5, 6], "3..7 step 2"]),
                "fraction_of": dice.choice([1, 1, 2]),
                "phase_detector": "4 MHz .. 12 MHz",
                "vco": f"{dice.choice([24, 40])} MHz .. 70 MHz",
                "vco_at": {"low": "24 MHz .. 50 MHz"},
            }
        },
        "divider": {
            "tap": {"input": "pll", "ratios": [1, dice.choice([2, "3/2"])]},
            "core": {"input": "source", "ratios": [1, 2, 4], "limits": f"2 MHz .. {dice.choice([12, 30])} MHz"},
            "bus": {"input": "core", "ratios": [1, 2], "limits": "up to 16 MHz"},
        },
        "scaler": {"kernel": {"input": "bus", "multiply": 2, "when": {"divider": "bus", "ratio_above": 1}}},
        "load": {
            "port": {"input": "port_source", "limits": f"5 MHz .. {dice.choice([9, 25])} MHz"},
            "timer": {"input": "kernel", "limits": "up to 20 MHz"},
            "link": {"input": "tap", "limits": "48 MHz ± 1 %"},
        },
    }


def all_settings(part: Part) -> Iterator[dict[str, Any]]:
    """Every choice of every setting."""
    values = all_values(part)
    for chosen in itertools.product(*values.values()):
        yield dict(zip(values, chosen, strict=True))


def listed(part: Part, plan: Plan, pinned: list[str]) -> int:
    """The count by judging every setting: those of nodes that do not matter are left out and so not counted twice."""
    found = set()
    kept = {**plan.complete(part), "core_voltage": plan.core_voltage}
    for chosen in all_settings(part):
        step = chosen["core_voltage"]
        tried = replace(plan.with_settings({k: v for k, v in chosen.items() if k != "core_voltage"}), core_voltage=step)
        way = find_way(part, tried, tried.complete(part))
        own = {key: value for key, value in chosen.items() if key.partition(".")[0] in (*way.order, "core_voltage")}
        bound = [key for key in own if key in pinned or key.partition(".")[0] in pinned]
        if any(own[key] != kept[key] for key in bound):
            continue
        key = tuple(sorted(own.items(), key=lambda item: item[0]))
        if key not in found and not unfitted(part, tried) and reckon(part, tried).legal:
            found.add(key)
    return len(found)


@pytest.mark.parametrize("seed", range(12))
def test_the_count_is_that_of_listing_and_judging_all(seed: int) -> None:
    dice = random.Random(seed)
    part, problems = read_sheet_json(small_sheet(dice))
    assert part is not None, problems
    board = {"crystal": {"frequency": "8 MHz", "tolerance": "±50 ppm"}} if dice.random() < 0.6 else {}
    raw = {"in_use": dice.sample(["port", "timer", "link"], dice.randint(0, 3)), "supply": "3.0 V", "board": board}
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    pinned = dice.sample(["core_voltage", "source", "bus", "pll.feedback", "pll.fraction", "rc"], dice.randint(0, 2))
    assert count_settings(part, plan, lambda: True, (), pinned) == listed(part, plan, pinned)


def test_a_count_without_time_is_not_decided() -> None:
    part, _ = read_sheet_json(small_sheet(random.Random(1)))
    assert part is not None
    plan, _ = read_plan({}, part)
    assert plan is not None
    assert count_settings(part, plan, lambda: False) is None


@pytest.mark.parametrize("seed", range(8))
def test_a_count_under_rules_is_that_of_listing_and_judging_all(seed: int) -> None:
    dice = random.Random(seed)
    rules = [
        {"node": "port", dice.choice(["at_most", "at_least"]): dice.choice(["1/2", "1", "2"]), "of": "core"},
        {"node": "bus", "at_most": "1/2", "of": "tap"},
    ]
    part, problems = read_sheet_json({**small_sheet(dice), "rule": rules[: dice.randint(1, 2)]})
    assert part is not None, problems
    board = {"crystal": {"frequency": "8 MHz"}} if dice.random() < 0.6 else {}
    raw = {"in_use": dice.sample(["port", "timer", "link"], dice.randint(0, 3)), "supply": "3.3 V", "board": board}
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    assert count_settings(part, plan, lambda: True, (), ()) == listed(part, plan, [])


@pytest.mark.parametrize("seed", range(40))
def test_lattice_points_are_counted_as_if_listed(seed: int) -> None:
    dice = random.Random(seed)
    first, step, parts = dice.randint(1, 9), dice.randint(1, 3), dice.randint(1, 5)
    last = first + step * dice.randint(0, 6)
    pinned = dice.choice([None, dice.randrange(parts)])
    feedbacks = Feedbacks(Run(Fraction(first), Fraction(last), step), parts, pinned)
    points = [
        n * parts + k for n in range(first, last + 1, step) for k in (range(parts) if pinned is None else [pinned])
    ]
    for low in range(0, last * parts + 8):
        for high in range(low - 1, last * parts + 9):
            assert feedbacks.count(low, high) == sum(low <= point <= high for point in points)
