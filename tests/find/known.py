"""The problems of tests/cases/find with what is known of their answers; they were not made with this code."""

from __future__ import annotations

import json
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from time import monotonic
from typing import Any

from wheelwork.find.question import Preference, Question
from wheelwork.part.reading import read_sheet_json
from wheelwork.plan.reading import read_plan

FOLDER = Path(__file__).parent.parent / "cases" / "find"
NAMES = tuple(path.stem for path in sorted(FOLDER.glob("*.json")))
HIGHEST_CORE = Preference("highest", "core")
LEAST_CURRENT = Preference("least current")


@dataclass(frozen=True)
class Known:
    """A problem as a question, nothing preferred, with what is known of its answer."""

    question: Question
    expected: dict[str, Any]


def read_known(name: str) -> Known:
    """The problem of a name."""
    raw = json.loads((FOLDER / f"{name}.json").read_text())
    part, problems = read_sheet_json(raw["part"])
    assert part is not None, problems
    plan, problems = read_plan({**raw["plan"], "target": raw["targets"]}, part)
    assert plan is not None, problems
    question = Question(part=part, plan=plan, targets=plan.targets, pinned=tuple(raw["pinned"]))
    return Known(question, raw["expected"])


def within(seconds: float) -> Callable[[], bool]:
    """Whether there is still time, from now on."""
    ends = monotonic() + seconds
    return lambda: monotonic() < ends
