"""The families of rates: the `FAMILY` of every module in this folder, so that a new one registers nowhere."""

from __future__ import annotations

import importlib
import pkgutil
from collections.abc import Mapping
from functools import cache
from typing import Any

from wheelwork import links
from wheelwork.links.family import Choice, Family, Feed, LinkAnswer
from wheelwork.links.fields import Fields, Refused
from wheelwork.links.standards import Standard


@cache
def families() -> Mapping[str, Family[Any, Any]]:
    """Every family by its name."""
    found = {}
    for module in sorted(pkgutil.iter_modules(links.__path__), key=lambda module: module.name):
        family = getattr(importlib.import_module(f"{links.__name__}.{module.name}"), "FAMILY", None)
        if isinstance(family, Family):
            found[family.name] = family
    return found


@cache
def standards_of(name: str) -> Mapping[str, Standard]:
    """The standards that a family of this name knows, from the `STANDARDS` of every module in this folder."""
    found = {}
    for module in sorted(pkgutil.iter_modules(links.__path__), key=lambda module: module.name):
        known = getattr(importlib.import_module(f"{links.__name__}.{module.name}"), "STANDARDS", ())
        found.update({each.name: each for each in known if isinstance(each, Standard) and each.family == name})
    return found


def answer_link(
    family: Family[Any, Any], feed: Feed, generator: object, ask: object, chosen: object = None, where: str = "ask"
) -> tuple[LinkAnswer, Choice | None]:
    """A family's answer at a clock, and what the plan has chosen, judged (None where it has chosen nothing).

    Raises Refused with every problem of generator, ask and choice.
    """
    offered, asked = _read_both(family, Fields(generator, "generator"), Fields(ask, where))
    answer = family.answer(feed, offered, asked)
    if not chosen:
        return answer, None
    return answer, family.settle(feed, offered, asked, chosen, "chosen")  # type: ignore[arg-type]  # read there


def _read_both(family: Family[Any, Any], generator: Fields, ask: Fields) -> tuple[Any, Any]:
    """Generator and asking. Raises Refused with the problems of both."""
    problems, read = [], []
    for reading, given in ((family.read_generator, generator), (family.read_ask, ask)):
        try:
            read.append(reading(given))
        except Refused as refused:
            problems += refused.problems
    if problems:
        raise Refused(problems)
    return read[0], read[1]
