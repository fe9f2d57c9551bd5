"""Small questions written by hand: a sheet of a few nodes, one step, and what is asked of it."""

from __future__ import annotations

from fractions import Fraction
from typing import Any

from wheelwork.find.question import Answer, Preference, Question
from wheelwork.find.search import find_settings
from wheelwork.part.nodes import Part
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.plan import Target
from wheelwork.plan.reading import read_plan

Table = dict[str, Any]


def part_of(oscillator: Table, core: Table, **kinds: Any) -> Part:
    """A part with these oscillators, a core clock, and further kinds of nodes."""
    sheet = {
        "format": "wheelwork-part/1",
        "name": "By hand",
        "figures_from": "invented",
        "core": {"clock": "core"},
        "core_voltage": {"only": {"volts": "1.2 V"}},
        "oscillator": oscillator,
        "divider": {"core": core, **kinds.pop("divider", {})},
        **kinds,
    }
    part, problems = read_sheet_json(sheet)
    assert part is not None, problems
    return part


def question_of(part: Part, *targets: Target, in_use: tuple[str, ...] = (), **more: Any) -> Question:
    """A question about it; the plan is the one after reset."""
    plan, problems = read_plan({"core_voltage": "only", "in_use": list(in_use)}, part)
    assert plan is not None, problems
    return Question(part=part, plan=plan, targets=targets, **more)


def ask(question: Question) -> Answer:
    """The answer, given with time enough."""
    answer = find_settings(question, lambda: True)
    assert answer.complete, answer.remarks
    return answer


def hertz(frequency: Any) -> str:
    """A whole number of hertz as a sheet has it."""
    assert Fraction(frequency).denominator == 1
    return f"{int(frequency)} Hz"


def exactly(node: str, frequency: Any) -> Target:
    """A target met by one frequency only (hertz)."""
    return Target(node, Fraction(frequency))


LEAST_ERROR = (Preference("least error"),)
