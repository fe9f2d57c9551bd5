"""The board's oscillators as Devicetree nodes `fixed-clock`, to be included into a board's own source.

Only what the board has is written; an RC oscillator belongs to the description of the part. Sources:
Devicetree Specification v0.4, sections 2.2.1 (node names of at most 31 signs) and 6.2 (labels); devicetree.org schema
`clock/fixed-clock.yaml`: `clock-frequency` in hertz, `clock-accuracy` in parts per billion.
"""

from __future__ import annotations

from collections.abc import Iterator
from fractions import Fraction

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.handover.constants import HandedOver
from wheelwork.handover.forms import Form, Wish
from wheelwork.handover.names import Names
from wheelwork.handover.safe import cut, in_comment, wrapped
from wheelwork.handover.values import take_values
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Oscillator
from wheelwork.quantities.numbers import write_exact

LONGEST = 28
"""Of names and labels, with room for what tells one from another."""
LARGEST_CELL = 2**32 - 1
ROUNDED = "the frequency is rounded"


def _write(judgement: Judgement, wish: Wish) -> str:
    names, running = Names("-"), [judgement.part.nodes[name] for name in judgement.way.order]
    board = [node for node in running if isinstance(node, Oscillator) and node.source != "rc"]
    lines = [*_head(take_values(judgement)), "", "/ {"]
    for node in board:
        lines += [f"\t{line}" if line else "" for line in _node(judgement, node, names, wish)]
    if not board:
        lines.append("\t/* No oscillator of the board runs under this plan. */")
    return "\n".join([*lines, "};"]) + "\n"


def _head(handed: HandedOver) -> Iterator[str]:
    notices = [f"NOTICE: {notice}" for notice in handed.notices]
    told = [
        cut(handed.title),
        *handed.about,
        *notices,
        "Made by Wheelwork from the plan: the oscillators of the board.",
    ]
    lines = [line for text in told for line in wrapped(cut(text, 400))]
    for place, line in enumerate(lines):
        yield f"{'   ' if place else '/* '}{line}{' */' if place == len(lines) - 1 else ''}"


def _node(judgement: Judgement, node: Oscillator, names: Names, wish: Wish) -> Iterator[str]:
    frequency, tolerance = judgement.clocks[node.id].nominal, tolerance_of(node, judgement.plan)
    hertz = (frequency + Fraction(1, 2)).__floor__()
    told = [in_comment(cut(node.title))] if wish.reasons else []
    if frequency.denominator != 1:
        told.append(f"exactly {write_exact(frequency)} Hz, {ROUNDED}")
    if tolerance is None:
        told.append("no tolerance stated")
    if hertz > LARGEST_CELL:
        yield f"/* {node.id} is left out: {hertz} Hz do not fit into a cell of 32 bits. */"
        return
    if told:
        yield f"/* {'; '.join(told)} */"
    label = names.take(f"{wish.prefix.lower()}{node.id}"[:LONGEST])
    yield f"{label.replace('-', '_')}: {names.take(node_name(node.id))} {{"
    yield '\tcompatible = "fixed-clock";'
    yield "\t#clock-cells = <0>;"
    yield f"\tclock-frequency = <{hertz}>;"
    if tolerance is not None:
        yield f"\tclock-accuracy = <{parts_per_billion(max(abs(tolerance.lowest), abs(tolerance.highest)))}>;"
    yield f'\tclock-output-names = "{node.id}";'
    yield "};"


def node_name(id: str) -> str:
    """A node's name, of small letters, digits and hyphens.

    >>> node_name("watch_crystal")
    'clock-watch-crystal'
    """
    return f"clock-{id.replace('_', '-')}"[:LONGEST].rstrip("-")


def parts_per_billion(share: Fraction) -> int:
    """A share in parts per billion, taken to the larger side where it is not whole.

    >>> parts_per_billion(Fraction(30, 10**6))
    30000
    """
    return -(-(share * 10**9) // 1)


FORM = Form(
    name="devicetree",
    title="Devicetree",
    about="the board's oscillators as fixed clocks",
    media_type="text/plain; charset=utf-8",
    ending="dtsi",
    place=30,
    write=_write,
    named=True,
    reasoned=True,
)
