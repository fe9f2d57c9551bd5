"""TOML text of sheets and plans, read with bounds on its size and depth."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterable
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


def find_excess(raw: object, what: str, most: int) -> Problem | None:
    """Why tables are more than can be read while one waits: nested too deeply, or too many values; else None.

    They are walked level by level, without recursion; `what` names them in a sentence, `most` is the number of values.
    """
    level, count = [raw], 0
    for _ in range(DEEPEST):
        level = [inner for item in level for inner in _inside(item)]
        count += len(level)
        if not level:
            return None
        if count > most:
            return Problem(
                what, f"it holds more than {most} values", f"at most {most} are read; write ranges, not lists"
            )
    return Problem(what, "tables or lists are nested too deeply", f"at most {DEEPEST} levels")


def _inside(item: object) -> Iterable[object]:
    return item.values() if isinstance(item, dict) else item if isinstance(item, list) else ()
