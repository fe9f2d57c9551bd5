"""The judgement against every value of `tests/cases/expected.json`, which was made by an independent reading.

Source of the expected values: handed in with the formats, computed without this code. Compared as text, exactly.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from fractions import Fraction
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from wheelwork.clocks.verdicts import Judged
from wheelwork.judge import Judgement, judge
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan, read_plan_text

CASES = Path(__file__).resolve().parent.parent / "cases"
EXPECTED: dict[str, Any] = json.loads((CASES / "expected.json").read_text("utf-8"))
NODES = [(case, node) for case, expected in EXPECTED.items() for node in expected["nodes"]]
DETECTORS = [(case, node) for case, node in NODES if "phase_detector" in EXPECTED[case]["nodes"][node]]


@cache
def sheet(name: str) -> Part:
    part, problems = read_sheet((CASES / "parts" / f"{name}.toml").read_text("utf-8"))
    assert part is not None, [problem.sentence() for problem in problems]
    return part


@cache
def judged(case: str) -> Judgement:
    raw, problems = read_plan_text((CASES / "plans" / f"{case}.toml").read_text("utf-8"))
    assert raw is not None, problems
    plan, problems = read_plan(raw, sheet(raw["part"]))
    assert plan is not None, [problem.sentence() for problem in problems]
    return judge(sheet(raw["part"]), plan)


def said(value: Fraction | None) -> str | None:
    """Hertz as the cases write them: an integer, or p/q in lowest terms."""
    return None if value is None else str(value)


def as_case(found: Judged) -> Mapping[str, Any]:
    """A judged clock in the shape of the cases."""
    window = found.window
    return {
        "nominal": said(found.clock.nominal if found.clock else None),
        "lowest": said(found.clock.lowest if found.clock else None),
        "highest": said(found.clock.highest if found.clock else None),
        "verdict": found.verdict,
        "window": window and {"lowest": said(window.lowest), "highest": said(window.highest)},
        "margin": said(found.margin),
    }


def test_every_case_has_a_plan_and_every_plan_a_case() -> None:
    assert sorted(EXPECTED) == sorted(path.stem for path in (CASES / "plans").glob("*.toml"))


@pytest.mark.parametrize("case", EXPECTED)
def test_a_plan_is_legal_as_expected(case: str) -> None:
    assert judged(case).legal is EXPECTED[case]["legal"]


@pytest.mark.parametrize("case", EXPECTED)
def test_wait_states_needed_are_as_expected(case: str) -> None:
    assert judged(case).wait_states_needed == EXPECTED[case]["wait_states_needed"]


@pytest.mark.parametrize("case", EXPECTED)
def test_the_lowest_step_that_does_is_as_expected(case: str) -> None:
    assert judged(case).lowest_that_does == EXPECTED[case]["lowest_that_does"]


@pytest.mark.parametrize(("case", "node"), NODES)
def test_a_node_stands_as_expected(case: str, node: str) -> None:
    expected = {key: value for key, value in EXPECTED[case]["nodes"][node].items() if key != "phase_detector"}
    assert as_case(judged(case).nodes[node]) == expected


@pytest.mark.parametrize(("case", "node"), DETECTORS)
def test_a_phase_detector_stands_as_expected(case: str, node: str) -> None:
    assert as_case(judged(case).phase_detectors[node]) == EXPECTED[case]["nodes"][node]["phase_detector"]


@pytest.mark.parametrize("case", EXPECTED)
def test_no_other_phase_detector_is_judged(case: str) -> None:
    assert set(judged(case).phase_detectors) == {node for name, node in DETECTORS if name == case}


@pytest.mark.parametrize("case", EXPECTED)
def test_nodes_not_named_are_stopped(case: str) -> None:
    running = {name for name, node in judged(case).nodes.items() if node.verdict != "stopped"}
    assert running == set(EXPECTED[case]["nodes"])
