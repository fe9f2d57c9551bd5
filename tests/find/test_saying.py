"""What is to blame, in words."""

from __future__ import annotations

from pathlib import Path

import pytest

from wheelwork.find.question import Answer, Blame, Question
from wheelwork.find.saying import head_count, say_blame, say_proof
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


def answer(fits: bool | None, complete: bool, admissible: int | None, searched: int | None = None) -> Answer:
    return Answer(question=question(), fits=fits, complete=complete, admissible=admissible, searched=searched)


@pytest.mark.parametrize(
    ("given", "head", "proof"),
    [
        (
            answer(True, True, 10, 7_983_360),
            "10 settings fit",
            "All 7\u2009983\u2009360 were searched in 0.4\u00a0s, so there are no others.",
        ),
        (
            answer(True, True, 1),
            "1 setting fits",
            "Every setting was searched in 0.4\u00a0s, so there are no others.",
        ),
        (answer(False, True, 0, 64), "Nothing fits", "All 64 settings were searched in 0.4\u00a0s."),
        (answer(False, True, None), "Nothing fits", "Every setting was searched in 0.4\u00a0s."),
        (
            answer(True, True, None),
            "At least 1 setting fits",
            "The best were searched out in 0.4\u00a0s; how many fit was not asked.",
        ),
        (
            answer(True, False, 12),
            "At least 12 settings fit",
            "Not decided within 0.4\u00a0s: there may be more, and better ones.",
        ),
        (
            answer(None, False, None),
            "Not decided",
            "Time ended after 0.4\u00a0s: whether any setting fits is open.",
        ),
    ],
)
def test_a_count_claims_no_more_than_was_searched(given: Answer, head: str, proof: str) -> None:
    assert (head_count(given), say_proof(given, 0.4)) == (head, proof)


def test_a_search_that_was_stopped_says_so() -> None:
    said = say_proof(answer(True, False, 12), 31.4, stopped=True)
    assert said == "Stopped after 31\u00a0s: there may be more, and better ones."
