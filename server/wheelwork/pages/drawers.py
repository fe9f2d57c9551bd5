"""Drawers: a clock's formula with its values, where its window stands, and the question turned round."""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction

from markupsafe import Markup

from wheelwork.findings import Unreadable
from wheelwork.formulas import Chain, draw, solve_for_source
from wheelwork.judge import Judgement
from wheelwork.judge.chains import chain_of, detector_chain_of
from wheelwork.part.nodes import Oscillator, Pll
from wheelwork.part.outline import OutlineRow
from wheelwork.quantities.spans import say_window
from wheelwork.quantities.units import FREQUENCY, read_frequency, say_frequency, write_quantity


@dataclass(frozen=True, slots=True)
class DrawerView:
    """What an open drawer shows: formulas, one line on letters and window, the wish and its answer."""

    local: Markup
    whole: Markup | None
    line: str
    source: str
    wish: str = ""
    answer: str = ""
    fault: str = ""


def open_drawer(judgement: Judgement, row: OutlineRow, wish: str = "") -> DrawerView | None:
    """The drawer of a row whose clock runs, with the answer to a wish where one was typed."""
    if row.node not in judgement.clocks or row.role in ("oscillator", "fraction"):
        return None
    chain = _chain(judgement, row)
    drawn = draw(chain)
    line = " ".join(filter(None, (drawn.exact, drawn.letters, _window_line(judgement, row))))
    source = judgement.part.nodes[judgement.clocks[row.node].source].title
    answer, fault = _answer(judgement, row, chain, wish) if wish else ("", "")
    whole = None if drawn.whole is None else Markup(drawn.whole)
    return DrawerView(Markup(drawn.local), whole, line, source, wish, answer, fault)


def _chain(judgement: Judgement, row: OutlineRow) -> Chain:
    return (detector_chain_of if row.role == "reference_divider" else chain_of)(judgement, row.node)


def _window_line(judgement: Judgement, row: OutlineRow) -> str:
    """Where a row's window stands: `Window 84 to 276 MHz from sheet page 63, row 8.`"""
    node, step = judgement.part.nodes[row.node], judgement.plan.core_voltage
    detector = row.role == "reference_divider" and isinstance(node, Pll)
    window = node.phase_detector_window(step) if detector and isinstance(node, Pll) else node.window(step)
    if window is None:
        return ""
    see = f" from sheet {node.see}" if node.see else ""
    return f"Window {say_window(window)}{see}."


def _answer(judgement: Judgement, row: OutlineRow, chain: Chain, wish: str) -> tuple[str, str]:
    """Which source would make the clock exactly what was wished for with these factors, or why the wish is none."""
    try:
        wanted = read_frequency(wish)
    except Unreadable as unreadable:
        return "", f"{unreadable.what}; {unreadable.allowed}"
    source = judgement.clocks[row.node].source
    needed = solve_for_source(chain, wanted)
    node = judgement.part.nodes[source]
    said = say_frequency(needed)
    exact = f" (exactly {write_quantity(needed, FREQUENCY)})" if "…" in said else ""
    made = f"makes it exactly {say_frequency(wanted)} with these factors."
    return f"{node.title} at {said}{exact} {made}{_fits(node, needed)}", ""


def _fits(node: object, needed: Fraction) -> str:
    if not isinstance(node, Oscillator):
        return ""
    if node.fitted is None:
        offered = needed in node.choices
        return "" if offered else " This source has a frequency of its own."
    if node.fits and needed not in node.fits:
        return " That is none of those that fit."
    return "" if needed in node.fitted else f" That is outside what it takes, {say_window(node.fitted)}."
