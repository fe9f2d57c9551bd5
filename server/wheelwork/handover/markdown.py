"""The report as Markdown: tables as GitHub Flavored Markdown has them, everything else CommonMark 0.31."""

from __future__ import annotations

import re
from collections.abc import Iterator

from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.report import Block, Bullets, Facts, Report, Table, write_report
from wheelwork.handover.safe import show_unseen
from wheelwork.judge import Judgement

_MARKS = re.compile(r"([\\`*_\[\]<>&|~#!])")
_START = re.compile(r"^(\s*)([-+=]|\d+[.)])(?=\s|$)")


def write_markdown(report: Report) -> str:
    """The report, chapter by chapter; what titles hold is shown as it is and marks nothing up.

    >>> print(write_markdown(Report("A *plan*", ())), end="")
    # A \\*plan\\*
    """
    return "\n".join(_lines(report)) + "\n"


def _lines(report: Report) -> Iterator[str]:
    yield f"# {plain(report.title)}"
    for chapter in report.chapters:
        yield ""
        yield f"## {plain(chapter.title)}"
        for block in chapter.blocks:
            yield ""
            yield from _block(block)


def _block(block: Block) -> Iterator[str]:
    match block:
        case str():
            yield plain(block)
        case Bullets(lines):
            yield from (f"- {plain(line)}" for line in lines)
        case Facts(pairs):
            yield from (f"- **{plain(label)}:** {plain(text)}" for label, text in pairs)
        case Table(head, rows, right, loud):
            yield _row(head)
            yield _row(tuple("---:" if place in right else "---" for place in range(len(head))), as_is=True)
            for number, row in enumerate(rows):
                yield _row(row, loud=number in loud)


def _row(cells: tuple[str, ...], as_is: bool = False, loud: bool = False) -> str:
    shown = cells if as_is else tuple(f"**{plain(cell)}**" if loud and cell else plain(cell) for cell in cells)
    return f"| {' | '.join(shown)} |"


def plain(text: str) -> str:
    """A text in one line that marks nothing up.

    >>> plain("1. a|b <i>_x_</i>")
    '1\\\\. a\\\\|b \\\\<i\\\\>\\\\_x\\\\_\\\\</i\\\\>'
    """
    shown = _MARKS.sub(r"\\\1", show_unseen(text))
    return _START.sub(lambda found: f"{found[1]}{found[2][:-1]}\\{found[2][-1]}", shown)


def _write(judgement: Judgement, wish: Wish) -> str:
    return write_markdown(write_report(judgement))


FORM = Form(
    name="markdown",
    title="Report",
    about="every value with its source and its window",
    media_type="text/markdown; charset=utf-8",
    ending="md",
    place=40,
    write=_write,
)
