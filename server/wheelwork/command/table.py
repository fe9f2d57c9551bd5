"""Plain tables for the terminal."""

from __future__ import annotations

from collections.abc import Iterable, Sequence


def write_table(head: Sequence[str], rows: Iterable[Sequence[str]], right: Sequence[int] = ()) -> list[str]:
    """Rows in columns as wide as their widest cell, two spaces apart; the columns of `right` end at the right.

    >>> write_table(("clock", "MHz"), [("core", "8")], right=(1,))
    ['clock  MHz', 'core     8']
    """
    table = [list(head), *(list(row) for row in rows)]
    widths = [max(len(row[column]) for row in table) for column in range(len(head))]
    return ["  ".join(_pad(cell, widths[i], i in right) for i, cell in enumerate(row)).rstrip() for row in table]


def _pad(cell: str, width: int, right: bool) -> str:
    return cell.rjust(width) if right else cell.ljust(width)
