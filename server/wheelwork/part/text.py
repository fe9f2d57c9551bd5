"""TOML text of sheets and plans, read with bounds on its size and depth."""

from __future__ import annotations

import re
import tomllib
from typing import Any

from wheelwork.findings import Problem
from wheelwork.part.lines import line_of_fault

DEEPEST = 24

_DEEP_KEY = re.compile(r"""(?<![\w\-"'])(?:[\w\-"']++[ \t]*+\.[ \t]*+){32}""")
"""A dotted key far deeper than any sheet has: tomllib takes quadratic time over those, so they are not given to it."""


def read_toml(text: str, what: str, largest: int) -> tuple[dict[str, Any] | None, list[Problem]]:
    """The tables of a TOML text (numbers with a point stay text), or why it is none; `what` names it in a sentence."""
    if len(text) > largest:
        return None, [Problem(what, f"it is {len(text) // 1024} kB long", f"at most {largest // 1024} kB are read")]
    deep = Problem(what, "tables or lists are nested too deeply", f"at most {DEEPEST} levels")
    if _DEEP_KEY.search(text):
        return None, [deep]
    try:
        return tomllib.loads(text, parse_float=str), []
    except tomllib.TOMLDecodeError as fault:
        said = str(fault).split(" (at")[0]
        return None, [Problem(what, f"this is not TOML: {said}", "see toml.io for its rules", line_of_fault(fault))]
    except RecursionError:
        return None, [deep]
    except ValueError:
        return None, [Problem(what, "it holds a whole number of thousands of digits", "write numbers a part can have")]


def nested_deeper(raw: object, most: int = DEEPEST) -> bool:
    """Whether tables and lists are nested more deeply than that (without recursion)."""
    level: list[object] = [raw]
    for _ in range(most):
        level = [
            inner
            for item in level
            if isinstance(item, dict | list)
            for inner in (item.values() if isinstance(item, dict) else item)
        ]
        if not level:
            return False
    return True
