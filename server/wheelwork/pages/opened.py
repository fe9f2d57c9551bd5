"""Opening the plan that an address carries: its part sheet, the plan, or why it cannot be opened."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from wheelwork.clocks.propagate import unfitted
from wheelwork.findings import Problem
from wheelwork.pages.kept import Kept
from wheelwork.part.nodes import Part
from wheelwork.plan.permalink import read_permalink
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan, sheet_in
from wheelwork.shelf.library import Library

MOST_KEPT = 100
LONGEST_KEPT = 2000
"""Longer addresses, and such as open nothing, are read anew each time: what is kept must not fill the memory."""


@dataclass(frozen=True, slots=True)
class Opened:
    """A plan that was asked for. `raw` is None where the address is broken, `part` where its sheet is not to be had."""

    raw: Mapping[str, Any] | None
    part: Part | None = None
    plan: Plan | None = None
    problems: list[Problem] = field(default_factory=list)


_OPENED: Kept[Opened] = Kept(MOST_KEPT)


def open_link(library: Library, link: str) -> Opened:
    """The plan that a permalink carries; one that was opened before is kept while its part sheet stays the same."""
    opened = _OPENED.find(link)
    if opened is None or opened.part is not _part_of(library, opened.raw or {}):
        opened = _open_link(library, link)
        if opened.plan is not None and len(link) <= LONGEST_KEPT:
            _OPENED.keep(link, opened)
    return opened


def _open_link(library: Library, link: str) -> Opened:
    raw, problems = read_permalink(link)
    return Opened(None, problems=problems) if raw is None else open_raw(library, raw)


def open_raw(library: Library, raw: dict[str, Any]) -> Opened:
    """The plan in a raw one, read against its part sheet; an oscillator that runs without being fitted is a problem."""
    part = _part_of(library, raw)
    if part is None:
        return Opened(raw)
    plan, problems = read_plan(raw, part)
    if plan is not None:
        problems = unfitted(part, plan)
    return Opened(raw, part, plan if not problems else None, problems)


def _part_of(library: Library, raw: Mapping[str, Any]) -> Part | None:
    sheet = library.sheet(sheet_in(dict(raw)))
    return None if sheet is None else sheet.part
