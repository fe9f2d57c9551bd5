"""The oscillators that run: what the board has, how far they may be off, how long they take to start."""

from __future__ import annotations

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.handover.report import Chapter, Table
from wheelwork.judge import Judgement
from wheelwork.part.nodes import Oscillator
from wheelwork.quantities.spans import say_tolerance, say_window
from wheelwork.quantities.units import TIME, say_frequency, say_quantity

ORDER = 30
HEAD = ("Oscillator", "Kind", "Frequency", "Tolerance", "Tolerance from", "Takes", "Starts in", "Sheet")
KINDS = {"rc": "RC, on the chip", "crystal": "crystal", "resonator": "resonator", "external": "from outside"}


def write_chapter(judgement: Judgement) -> Chapter:
    """A table of the oscillators that matter."""
    running = [judgement.part.nodes[name] for name in judgement.way.order]
    rows = tuple(_row(judgement, node) for node in running if isinstance(node, Oscillator))
    return Chapter("Oscillators", (Table(HEAD, rows, right=(2,)),))


def _row(judgement: Judgement, node: Oscillator) -> tuple[str, ...]:
    tolerance, fitted = tolerance_of(node, judgement.plan), judgement.plan.fitted.get(node.id)
    stated_by = "board" if fitted is not None and fitted.tolerance is not None else "sheet"
    window = node.window(judgement.plan.core_voltage)
    return (
        node.title,
        KINDS[node.source],
        say_frequency(judgement.clocks[node.id].nominal),
        "not stated, counted as exact" if tolerance is None else say_tolerance(tolerance),
        "–" if tolerance is None else stated_by,
        "–" if window is None else say_window(window),
        "not stated" if node.start_up is None else say_quantity(node.start_up, TIME),
        node.see or "–",
    )
