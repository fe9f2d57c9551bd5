"""How many rows of the published tables are checked, and why the others are not: `pytest -rP` on this file shows it."""

from __future__ import annotations

import importlib
from pathlib import Path

import pytest

from tests.links.published import CHECKED, ENTRIES, REASONS, REFERENCE

FOLDER = Path(__file__).parents[1]
ROOT = FOLDER.parents[1]
FILES = sorted(FOLDER.rglob("test_*.py"))
GROUPS = [group for group in REFERENCE if group != "meta"]
ROWS = 598
LEAST = 590


@pytest.fixture(scope="module", autouse=True)
def _every_test_of_rows_is_read() -> None:
    """Reading a test's file names the rows that it takes; the file need not be among those that are run."""
    for file in FILES:
        importlib.import_module(".".join(file.relative_to(ROOT).with_suffix("").parts))


def rows_of(group: str) -> list[tuple[str, int]]:
    return [(each["id"], index) for each in REFERENCE[group] for index in range(len(each.get("rows", ())))]


def table() -> str:
    """Rows, rows checked and rows left of each group, then each row left with its reason."""
    lines = [f"{'group':<8}{'rows':>6}{'checked':>9}{'left':>6}"]
    for group in [*GROUPS, "all"]:
        rows = rows_of(group) if group != "all" else [row for each in GROUPS for row in rows_of(each)]
        checked = sum(row in CHECKED for row in rows)
        lines.append(f"{group:<8}{len(rows):>6}{checked:>9}{len(rows) - checked:>6}")
    left = [row for group in GROUPS for row in rows_of(group) if row not in CHECKED]
    return "\n".join([*lines, *(f"{key} {index}: {REASONS.get((key, index), 'no reason')}" for key, index in left)])


def test_nearly_all_published_rows_are_checked() -> None:
    print(table())
    assert sum(len(rows_of(group)) for group in GROUPS) == ROWS
    assert len(CHECKED) >= LEAST


@pytest.mark.parametrize("group", GROUPS)
def test_a_row_is_checked_or_its_reason_is_told(group: str) -> None:
    silent = [row for row in rows_of(group) if row not in CHECKED and not REASONS.get(row)]
    assert silent == []


@pytest.mark.parametrize("group", GROUPS)
def test_an_entry_is_spoken_of_by_a_test(group: str) -> None:
    """Entries that are limits and no rows are asked for by their id."""
    written = "\n".join(file.read_text(encoding="utf-8") for file in FILES)
    assert [each["id"] for each in REFERENCE[group] if f'"{each["id"]}"' not in written] == []


def test_a_row_that_is_checked_is_a_row_of_the_file() -> None:
    assert all(index < len(ENTRIES[key]["rows"]) for key, index in CHECKED)
