"""From a sheet's text or JSON to a part, or to all its problems at once."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from wheelwork.findings import Problem, quote
from wheelwork.part.building import build_part, find_id_problems
from wheelwork.part.faults import EXAMPLES, MOST_PROBLEMS, Path, tell_faults, tell_most
from wheelwork.part.lines import find_lines, line_of
from wheelwork.part.nodes import Part
from wheelwork.part.salvage import salvage
from wheelwork.part.schema import SheetTable
from wheelwork.part.text import find_excess, read_toml

LARGEST_SHEET = 512 * 1024
MOST_VALUES = 20_000
"""The largest part there is room for has 600 nodes; this is 33 values for each."""


def read_sheet(text: str) -> tuple[Part | None, list[Problem]]:
    """A part from the TOML text of a sheet; else every problem, each with its line.

    >>> read_sheet('format = "wheelwork-part/1"')[1][0].sentence()
    "line 1, name: is missing; every sheet has it, such as 'Turnstone 58'"
    """
    raw, problems = read_toml(text, "sheet", LARGEST_SHEET)
    if raw is None:
        return None, problems
    part, problems = read_sheet_json(raw)
    if not problems:
        return part, []
    return part, in_order_of_lines(problems, text)


def in_order_of_lines(problems: list[Problem], text: str) -> list[Problem]:
    """The problems of a text, each with its line, from the first line to the last; that there are more stays last."""
    lines = find_lines(text)
    placed = [replace(problem, line=line_of(lines, path_of(problem.where))) for problem in problems]
    return sorted(placed[:MOST_PROBLEMS], key=lambda problem: problem.line or 0) + placed[MOST_PROBLEMS:]


def path_of(where: str) -> Path:
    """A problem's place as a path of keys and list positions."""
    return tuple(int(piece) if piece.isdecimal() else piece for piece in where.split("."))


def read_sheet_json(raw: object) -> tuple[Part | None, list[Problem]]:
    """A part from a sheet in JSON's shape (what TOML reads into); else every problem."""
    if not isinstance(raw, dict):
        return None, [Problem("part", f"{quote(raw)} is no table", "a sheet is a table with format, name, core, …")]
    excess = find_excess(raw, "part", MOST_VALUES)
    if excess is not None:
        return None, [excess]
    problems = list(find_id_problems(raw))
    try:
        sheet = SheetTable.model_validate(raw)
    except ValidationError as fault:
        problems += tell_faults(fault, SheetTable, EXAMPLES)
        problems += _faults_of_the_rest(raw, fault)
        return None, tell_most(problems, "part")
    part, unfit = build_part(sheet, raw)
    problems += unfit
    return (None, tell_most(problems, "part")) if problems else (part, [])


def _faults_of_the_rest(raw: dict[str, Any], fault: ValidationError) -> list[Problem]:
    """What does not hold between the values that could be read, while others could not."""
    left = salvage(raw, [error["loc"] for error in fault.errors(include_url=False, include_context=False)])
    try:
        return [] if left is None else build_part(SheetTable.model_validate(left), left)[1]
    except ValidationError:
        return []
