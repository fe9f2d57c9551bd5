"""The report of a plan: chapters of facts, tables and sentences, for a reviewer who has only the paper.

A chapter is a module of the folder `chapters` with an `ORDER` and a function `write_chapter(judgement)`, which gives
None where there is nothing to say. The report becomes Markdown or the print sheet; it holds no sums of its own.
"""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache

from wheelwork.handover import chapters
from wheelwork.judge import Judgement


@dataclass(frozen=True, slots=True)
class Facts:
    """Pairs of a label and what is so."""

    pairs: tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Table:
    """A table; `right` are the columns of figures, `loud` the rows of what is outside."""

    head: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    right: tuple[int, ...] = ()
    loud: frozenset[int] = frozenset()


@dataclass(frozen=True, slots=True)
class Bullets:
    """Sentences below each other."""

    lines: tuple[str, ...]


Block = str | Facts | Table | Bullets


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: its title and what stands in it."""

    title: str
    blocks: tuple[Block, ...]


@dataclass(frozen=True, slots=True)
class Report:
    """A whole report."""

    title: str
    chapters: tuple[Chapter, ...]


def write_report(judgement: Judgement) -> Report:
    """The report of a judged plan, chapter by chapter."""
    written = (write(judgement) for write in _writers())
    return Report(judgement.plan.name or "Plan", tuple(chapter for chapter in written if chapter is not None))


@cache
def _writers() -> tuple[Callable[[Judgement], Chapter | None], ...]:
    """What writes each chapter, in order."""
    found = [
        importlib.import_module(f"{chapters.__name__}.{each.name}") for each in pkgutil.iter_modules(chapters.__path__)
    ]
    return tuple(module.write_chapter for module in sorted(found, key=lambda module: module.ORDER))
