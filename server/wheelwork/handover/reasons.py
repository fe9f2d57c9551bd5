"""Why a value is what it is, in sentences: the formula with its numbers, the window, the room left, the source."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.clocks.propagate import tolerance_of
from wheelwork.clocks.verdicts import Judged
from wheelwork.clocks.words import say_verdict
from wheelwork.findings import lower_first
from wheelwork.formulas.lines import write_chain
from wheelwork.judge import JudgedLink, Judgement
from wheelwork.judge.chains import chain_of, detector_chain_of
from wheelwork.judge.rate_words import say_allowance, say_off, say_rate
from wheelwork.part.nodes import Oscillator
from wheelwork.quantities.spans import say_tolerance, say_window
from wheelwork.quantities.units import say_frequency


def reasons_of(judgement: Judgement, name: str) -> Iterator[str]:
    """The sentences on a clock that runs: how it comes about, what is allowed and how it stands, where that is from."""
    node, judged = judgement.part.nodes[name], judgement.nodes[name]
    if name in judgement.phase_detectors:
        detector = write_chain(detector_chain_of(judgement, name))
        yield f"Phase detector {detector}{_limits(judgement.phase_detectors[name])}"
        yield f"VCO {write_chain(chain_of(judgement, name))}{_limits(judged)}"
    elif isinstance(node, Oscillator):
        yield f"{_say_source(judgement, node)}{_limits(judged)}"
    else:
        yield f"{write_chain(chain_of(judgement, name))}{_limits(judged)}"
    if node.see:
        yield f"Sheet: {node.see}."


def _say_source(judgement: Judgement, node: Oscillator) -> str:
    tolerance = tolerance_of(node, judgement.plan)
    origin = "as fitted" if node.fitted is not None else "chosen" if len(node.choices) > 1 else "the part's own"
    exact = "no tolerance stated" if tolerance is None else say_tolerance(tolerance)
    return f"{say_frequency(judgement.clocks[node.id].nominal)}, {origin}, {exact}"


def _limits(judged: Judged) -> str:
    """What is allowed and the room left; the end of the sentence where nothing limits it."""
    if judged.window is None:
        return "."
    return f"; allowed {say_window(judged.window)}: {lower_first(say_verdict(judged))}."


def reasons_of_link(link: JudgedLink, feed: str) -> Iterator[str]:
    """The sentences on a link: what is wanted, of which clock, what it gets, what is allowed and who says so."""
    if link.clock is None:
        return  # its finding says why
    choice, made = link.choice, "chosen" if link.chosen is not None else "the best"
    wanted = f"{link.wanted} wanted of {feed} {say_frequency(link.clock.nominal)}"
    if choice is None or choice.rate is None:
        yield f"{wanted}."
    else:
        off = "" if choice.error is None else f", {say_off(choice.error, link.link.ask)}"
        yield f"{wanted}; {made} gives {say_rate(choice.rate, link.family, link.link.ask)}{off}."
    if link.allowance is not None:
        yield f"Allowed {say_allowance(link.allowance)}: {link.allowance.source}."
