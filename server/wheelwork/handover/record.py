"""The plan and what came of it as JSON (RFC 8259): `plan` reads back as the same plan.

Exact values are strings, as in the interface. A constant is a whole number as long as every reader keeps it exactly,
that is below 2^53 (RFC 8259, section 6); a larger one is a string too.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

from wheelwork.clocks.verdicts import Judged
from wheelwork.handover.constants import Block, Constant
from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.plan_file import settled
from wheelwork.handover.values import take_values
from wheelwork.judge import Judgement
from wheelwork.plan.writing import write_plan
from wheelwork.quantities.plain import UNSEEN
from wheelwork.quantities.spans import Window

FORMAT = "wheelwork-handover/1"
EVERYWHERE_EXACT = 2**53


def _write(judgement: Judgement, wish: Wish) -> str:
    handed, part = take_values(judgement), judgement.part
    told = {
        "format": FORMAT,
        "plan": write_plan(settled(judgement), part),
        "part": {"name": part.name, "revision": part.revision, "figures_from": part.figures_from},
        "legal": judgement.legal,
        "notices": list(handed.notices),
        "values": [dict(_tell_block(block, wish)) for block in handed.blocks],
    }
    text = json.dumps(told, ensure_ascii=False, indent=2)
    return "\n".join(UNSEEN.sub(_escape, line) for line in text.split("\n")) + "\n"


def _escape(found: re.Match[str]) -> str:
    """A sign that cannot be seen, as JSON escapes it."""
    return json.dumps(found[0])[1:-1]


def _tell_block(block: Block, wish: Wish) -> Iterator[tuple[str, Any]]:
    yield from (("of", block.of), ("title", block.title), ("kind", block.kind))
    if block.judged is not None:
        yield from _tell_judged(block.judged)
    if block.verdict:
        yield "verdict", block.verdict
    yield "constants", {wish.prefix + each.name: _tell_value(each) for each in block.constants}
    notices = [*block.notices, *(each.notice for each in block.constants if each.notice)]
    for key, told in (("notices", notices), ("left_out", [wish.prefix + each for each in block.left_out])):
        if told:
            yield key, told
    if wish.reasons:
        yield "reasons", list(block.reasons)


def _tell_value(constant: Constant) -> int | str:
    return constant.value if constant.value < EVERYWHERE_EXACT else str(constant.value)


def _tell_judged(judged: Judged) -> Iterator[tuple[str, Any]]:
    clock = judged.clock
    if clock is not None:
        yield from (("nominal", str(clock.nominal)), ("lowest", str(clock.lowest)), ("highest", str(clock.highest)))
    yield "window", _tell_window(judged.window)
    yield "margin", None if judged.margin is None else str(judged.margin)
    yield "verdict", judged.verdict


def _tell_window(window: Window | None) -> dict[str, str | None] | None:
    if window is None:
        return None
    lowest, highest = (None if edge is None else str(edge) for edge in (window.lowest, window.highest))
    return {"lowest": lowest, "highest": highest}


FORM = Form(
    name="json",
    title="JSON",
    about="plan and results, to read back in",
    media_type="application/json",
    ending="json",
    place=60,
    write=_write,
    named=True,
    reasoned=True,
)
