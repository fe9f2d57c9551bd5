"""Where the clock of each row of the outline stands: what it is judged on, and its verdict."""

from __future__ import annotations

from dataclasses import dataclass

from wheelwork.clocks.propagate import Clock, source_clock
from wheelwork.clocks.verdicts import STOPPED, Judged
from wheelwork.judge.judgement import Judgement
from wheelwork.part.nodes import Node, Oscillator, Pll
from wheelwork.part.outline import Outline, OutlineRow
from wheelwork.quantities.spans import Window


@dataclass(frozen=True, slots=True)
class Place:
    """A row with what it is judged on: its clock (also of a stopped oscillator, for the picture) and its verdict."""

    row: OutlineRow
    judged: Judged
    shown: Clock | None
    window: Window | None


def place_rows(judgement: Judgement, outline: Outline) -> list[Place]:
    """Each row with its verdict: a PLL's reference divider is judged by its phase detector, its feedback by the VCO."""
    return [_place(judgement, row) for row in outline.rows]


def _place(judgement: Judgement, row: OutlineRow) -> Place:
    node, step = judgement.part.nodes[row.node], judgement.plan.core_voltage
    if row.role == "reference_divider" and isinstance(node, Pll):
        judged = judgement.phase_detectors.get(row.node, STOPPED)
        return Place(row, judged, judged.clock, node.phase_detector_window(step))
    if row.role == "fraction":
        return Place(row, STOPPED, None, None)
    judged = judgement.nodes[row.node]
    shown = judged.clock or _stopped_source(judgement, node)
    return Place(row, judged, shown, node.window(step))


def _stopped_source(judgement: Judgement, node: Node) -> Clock | None:
    """The frequency a stopped oscillator would have, where it has one."""
    if not isinstance(node, Oscillator):
        return None
    fitted = judgement.plan.fitted.get(node.id)
    if node.fitted is not None and (fitted is None or fitted.frequency is None):
        return None
    return source_clock(node, judgement.plan, judgement.settings)
