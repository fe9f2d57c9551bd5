"""What is to blame, in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from wheelwork.find.question import Blame, Question
from wheelwork.find.saying import say_blame
from wheelwork.part.reading import read_sheet
from wheelwork.plan.reading import read_plan

SHEET = Path(__file__).resolve().parents[2] / "scenarios" / "parts" / "turnstone-58.toml"


def question() -> Question:
    part, _ = read_sheet(SHEET.read_text("utf-8"))
    assert part is not None
    raw = {
        "in_use": ["processor"],
        "core_voltage": "full",
        "set": {"main": {"reference_divider": 2, "feedback": 29}, "core_source": "main_core", "slow_bus": 4},
        "target": [{"node": "usb_link", "frequency": "48 MHz"}, {"node": "core", "at_least": "30 MHz"}],
    }
    plan, problems = read_plan(raw, part)
    assert plan is not None, problems
    return Question(part=part, plan=plan, targets=plan.targets)


@pytest.mark.parametrize(
    ("blame", "said"),
    [
        (Blame(target=0), "USB, full speed: 48\u00a0MHz, and it is not in use"),
        (Blame(target=1), "Core clock: at least 30\u00a0MHz"),
        (Blame(pinned="slow_bus"), "Slow bus stays ÷4"),
        (Blame(pinned="core_source"), "Core source stays PLL core tap"),
        (Blame(pinned="main"), "Main PLL stays ÷2, ×29"),
        (Blame(pinned="main.feedback"), "Main PLL feedback stays ×29"),
        (Blame(pinned="core_voltage"), "core voltage stays 1.15\u00a0V"),
        (Blame(pinned="usb_link"), "USB, full speed stays as it is"),
        (Blame(load="processor"), "Processor is in use"),
        (Blame(load="core"), "Core clock always runs"),
    ],
)
def test_a_blame_says_what_stays_or_is_wanted(blame: Blame, said: str) -> None:
    assert say_blame(blame, question()) == said
