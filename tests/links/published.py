"""The published tables of tests/reference/links.toml: rows for tests, and a record of which rows a test takes.

    @each_row("audio.bit_clock")
    def test_a_bit_clock_is_rate_times_slots_times_bits(entry, row): ...

A row that no test can take is named with its reason: `each_row("…", but={4: "…"})`, or `no_check("…", "…")` for a whole
entry. Rows count from 0. `tests/links/rows/test_tally.py` counts.
"""

from __future__ import annotations

import tomllib
from collections.abc import Collection, Mapping
from decimal import Decimal
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

FILE = Path(__file__).parents[1] / "reference" / "links.toml"
REFERENCE: dict[str, Any] = tomllib.loads(FILE.read_text(encoding="utf-8"), parse_float=Decimal)
ENTRIES: dict[str, Any] = {
    each["id"]: each for group, entries in REFERENCE.items() if group != "meta" for each in entries
}

CHECKED: set[tuple[str, int]] = set()
"""Rows that a test takes: (entry id, index)."""
REASONS: dict[tuple[str, int], str] = {}
"""Why no test takes a row."""


def entry(key: str) -> Any:
    """An entry by its id."""
    return ENTRIES[key]


def rows(key: str) -> list[tuple[Any, Any]]:
    """(entry, row) for every row of an entry."""
    return [(ENTRIES[key], row) for row in ENTRIES[key]["rows"]]


def each_row(
    *keys: str, but: Mapping[int, str] | None = None, only: Collection[int] | None = None
) -> pytest.MarkDecorator:
    """Give a test every row of these entries as `entry` and `row`.

    `but` names rows left out, with the reason; `only` those taken, where another test takes the rest.
    """
    cases = []
    for key in keys:
        for index, pair in enumerate(rows(key)):
            if but and index in but:
                REASONS[key, index] = but[index]
            elif only is None or index in only:
                CHECKED.add((key, index))
                cases.append(pytest.param(*pair, id=f"{key}-{index}"))
    return pytest.mark.parametrize(("entry", "row"), cases)


def no_check(key: str, reason: str) -> None:
    """Say why no row of an entry is a check."""
    REASONS.update({(key, index): reason for index in range(len(ENTRIES[key]["rows"]))})


def exact(value: Any) -> Fraction:
    """A figure of the file as a rational; "115200/857" is an exact ratio."""
    return Fraction(str(value))


def agrees(ours: Fraction, derived: Any, digits: int = 9) -> bool:
    """Whether our exact value is the file's, which is written to nine significant digits or as an exact ratio."""
    theirs = exact(derived)
    if isinstance(derived, str) and "/" in derived:
        return ours == theirs
    return ours == theirs or abs(ours - theirs) <= abs(ours) * Fraction(6, 10**digits)


def printed(ours: Fraction, figure: str) -> bool:
    """Whether our exact value, rounded to a printed figure's digits, is that figure (a half may go either way)."""
    decimals = len(figure.partition(".")[2])
    return abs(ours - Fraction(figure)) <= Fraction(1, 2 * 10**decimals)
