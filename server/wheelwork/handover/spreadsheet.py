"""The values as CSV (RFC 4180), one line for each constant, with how its clock stands beside it.

A cell that a spreadsheet would take for a formula or a date begins with an apostrophe, and then it does not (OWASP, CSV
Injection). Frequencies are exact hertz: a decimal where one is exact, else a fraction.
"""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator
from fractions import Fraction

from wheelwork.handover.constants import Block, Constant
from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.safe import show_unseen
from wheelwork.handover.values import take_values
from wheelwork.judge import Judgement
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.plain import write_plainly

HEAD = (
    "constant",
    "value",
    "kind",
    "note",
    "of",
    "title",
    "verdict",
    "nominal_hz",
    "lowest_hz",
    "highest_hz",
    "allowed_from_hz",
    "allowed_to_hz",
    "room_hz",
    "outside",
)
_NUMBER = re.compile(r"-?\d+(?:\.\d+)?", re.ASCII)
_TAKEN_AMISS = re.compile(r"[-+=@\t\r＝＋－＠]|\d{1,4}[-/.]\d{1,2}(?:[-/.]\d{1,4})?$")


def _write(judgement: Judgement, wish: Wish) -> str:
    handed = take_values(judgement)
    head = (*HEAD, "reason") if wish.reasons else HEAD
    text = io.StringIO(newline="")
    writer = csv.writer(text, lineterminator="\r\n")
    writer.writerow(head)
    for block in handed.blocks:
        for constant in block.constants:
            writer.writerow([cell(each) for each in _row(block, constant, wish)])
        for told in (*block.notices, *(wish.prefix + each for each in block.left_out)):
            row = ["", "", "", told, block.of, block.title]
            writer.writerow([cell(each) for each in row] + [""] * (len(head) - len(row)))
    return text.getvalue()


def _row(block: Block, constant: Constant, wish: Wish) -> Iterator[str]:
    yield from (wish.prefix + constant.name, str(constant.value), constant.kind, constant.note, block.of, block.title)
    judged = block.judged
    clock, window = (None, None) if judged is None else (judged.clock, judged.window)
    yield block.verdict or ("" if judged is None else judged.verdict)
    yield from map(_exact, (None, None, None) if clock is None else (clock.nominal, clock.lowest, clock.highest))
    yield from map(_exact, (None, None) if window is None else (window.lowest, window.highest))
    yield _exact(None if judged is None else judged.margin)
    yield constant.notice
    if wish.reasons:
        yield " ".join(block.reasons)


def cell(text: str) -> str:
    """A cell that a spreadsheet shows as it is.

    >>> cell("=1+1"), cell("-1740"), cell("3/2"), cell("Crystal")
    ("'=1+1", '-1740', "'3/2", 'Crystal')
    """
    shown = write_plainly(show_unseen(text))
    return f"'{shown}" if _TAKEN_AMISS.match(shown) and not _NUMBER.fullmatch(shown) else shown


def _exact(value: Fraction | None) -> str:
    return "" if value is None else write_exact(value)


FORM = Form(
    name="csv",
    title="CSV",
    about="one line for each constant, with its clock and window",
    media_type="text/csv; charset=utf-8; header=present",
    ending="csv",
    place=50,
    write=_write,
    named=True,
    reasoned=True,
)
