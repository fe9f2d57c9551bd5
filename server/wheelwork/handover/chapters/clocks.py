"""Every clock that runs, group by group: its setting with its code, how it comes about, its window and its room."""

from __future__ import annotations

from collections.abc import Iterator

from wheelwork.clocks.words import say_verdict
from wheelwork.findings import Unreadable
from wheelwork.formulas.lines import write_chain
from wheelwork.handover.codes import code_of
from wheelwork.handover.report import Chapter, Table
from wheelwork.judge import Judgement
from wheelwork.judge.chains import chain_of, detector_chain_of
from wheelwork.judge.places import Place, place_rows
from wheelwork.part.nodes import Pll, Scaler, Selector
from wheelwork.part.outline import outline_of, row_title
from wheelwork.quantities.numbers import write_exact
from wheelwork.quantities.spans import say_window

ORDER = 40
HEAD = ("No.", "Clock", "Setting", "Comes from", "Allowed", "Sheet", "Room")
LINE = (
    "Each line gives the whole way from the oscillator, every number exact; / divides, × multiplies. The room is to "
    "the nearest limit, with the tolerance of the oscillator."
)


def write_chapter(judgement: Judgement) -> Chapter:
    """A table of all clocks that run, numbered as on the page of the plan."""
    shown = list(running_rows(judgement))
    loud = frozenset(number for number, place in enumerate(shown) if place.judged.outside)
    table = Table(HEAD, tuple(_row(judgement, place) for place in shown), loud=loud)
    return Chapter("Clocks", (LINE, table))


def running_rows(judgement: Judgement) -> Iterator[Place]:
    """The rows of the outline that have a clock which runs."""
    for place in place_rows(judgement, outline_of(judgement.part)):
        if place.judged.clock is not None and place.row.role != "fraction":
            yield place


def say_title(judgement: Judgement, place: Place) -> str:
    """A row's clock by name; the two of a PLL by what they are."""
    node = judgement.part.nodes[place.row.node]
    return f"{node.title}, {row_title(judgement.part, place.row).lower()}" if isinstance(node, Pll) else node.title


def _row(judgement: Judgement, place: Place) -> tuple[str, ...]:
    row = place.row
    node = judgement.part.nodes[row.node]
    detector = row.role == "reference_divider"
    return (
        row.number,
        say_title(judgement, place),
        "; ".join(_settings(judgement, place)) or "–",
        write_chain((detector_chain_of if detector else chain_of)(judgement, row.node)),
        "–" if place.window is None else say_window(place.window),
        node.see or "–",
        say_verdict(place.judged),
    )


def _settings(judgement: Judgement, place: Place) -> Iterator[str]:
    """The settings of a row in words, each with the code that firmware writes where the sheet has one."""
    row, part = place.row, judgement.part
    node = part.nodes[row.node]
    if row.chooser is not None and row.chooser in judgement.clocks:
        yield _with_code(judgement, row.chooser, f"input {_feeder(judgement, row.chooser)}")
    if isinstance(node, Selector):
        yield _with_code(judgement, node.id, f"input {_feeder(judgement, node.id)}")
    elif isinstance(node, Pll) and row.role == "feedback" and node.fraction_of > 1:
        fraction = judgement.settings[f"{node.id}.fraction"]
        yield _with_code(judgement, row.key, f"× {judgement.settings[row.key]} and {fraction}/{node.fraction_of}")
    elif isinstance(node, Scaler):
        return
    elif row.key in judgement.settings and row.role in ("divider", "reference_divider", "feedback"):
        sign = "×" if row.role == "feedback" else "÷"
        value = judgement.settings[row.key]
        yield _with_code(judgement, row.key, f"{sign} {value if isinstance(value, str) else write_exact(value)}")


def _feeder(judgement: Judgement, name: str) -> str:
    return judgement.part.nodes[judgement.way.feeder[name]].title


def _with_code(judgement: Judgement, key: str, words: str) -> str:
    try:
        code = code_of(judgement, key)
    except Unreadable:
        return f"{words} (the sheet’s codes have no whole number for it)"
    return words if code is None else f"{words} (code {code})"
