"""The demo's parts and plans, read for tests and benchmarks."""

from __future__ import annotations

from pathlib import Path

from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, read_plan_text

SCENARIOS = Path(__file__).resolve().parents[1] / "scenarios"
PLANS = sorted((SCENARIOS / "plans").glob("*.toml"))


def load_demo(name: str) -> tuple[Part, Plan]:
    """Part and plan of a demo's plan, by the name of its file."""
    raw, problems = read_plan_text((SCENARIOS / "plans" / f"{name}.toml").read_text())
    assert raw is not None, problems
    part, problems = read_sheet((SCENARIOS / "parts" / f"{raw['part']}.toml").read_text())
    assert part is not None, problems
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    return part, plan
