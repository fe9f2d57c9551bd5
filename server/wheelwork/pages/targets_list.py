"""The list of what a search found, as CSV: a line for each setting, exact figures, one column for each setting."""

from __future__ import annotations

import csv
from io import StringIO

from wheelwork.find.question import Answer, Solution
from wheelwork.part.nodes import Value
from wheelwork.quantities.numbers import write_exact

HEAD = ("rank", "core_voltage", "wait_states", "core_hertz", "current_ampere", "changes", "alike")


def write_list(answer: Answer) -> str:
    """The solutions of an answer; settings that do not matter under one of them stay empty there."""
    keys = list(dict.fromkeys(key for solution in answer.solutions for key in solution.settings))
    text = StringIO()
    writer = csv.writer(text)
    writer.writerow((*HEAD, *keys))
    for place, solution in enumerate(answer.solutions):
        writer.writerow((place + 1, *_figures(solution), *(_write(solution.settings.get(key)) for key in keys)))
    return text.getvalue()


def _figures(solution: Solution) -> tuple[str, ...]:
    core, current = write_exact(solution.core), write_exact(solution.current)
    counts = (solution.changes, solution.alike)
    return (solution.core_voltage, str(solution.wait_states), core, current, *map(str, counts))


def _write(value: Value | None) -> str:
    return "" if value is None else value if isinstance(value, str) else write_exact(value)
