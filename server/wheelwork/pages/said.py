"""What is said to those who hear the page: one sentence for each answer."""

from __future__ import annotations

from wheelwork.judge import Judgement
from wheelwork.pages.form import FormRead
from wheelwork.pages.plan_view import FACTS
from wheelwork.part.nodes import Part
from wheelwork.part.outline import OutlineRow, outline_of, row_title
from wheelwork.quantities.units import say_frequency


def say_answer(judgement: Judgement, changed: list[str], read: FormRead) -> str:
    """One sentence for those who hear the page: what changed, and how many clocks stand inside.

    Where nothing changed, and something typed cannot be taken, that is said with the name of its field.
    """
    if changed or not read.faults.told:
        return say_changed(judgement, changed)
    field, fault = next(iter(read.faults.told.items()))
    name = _name_field(judgement.part, field)
    return f"{name}{': ' if name else ''}{fault}{'' if fault.endswith('?') else '.'} {_say_inside(judgement)}"


def say_changed(judgement: Judgement, changed: list[str]) -> str:
    """What a change makes, and how many clocks stand inside; nothing where nothing changed."""
    said = (_say_clock(judgement, place) for place in changed)
    return f"{next(filter(None, said), '')} {_say_inside(judgement)}".strip() if changed else ""


def _say_inside(judgement: Judgement) -> str:
    return f"{judgement.inside} of {len(judgement.windows)} clocks inside."


def _name_field(part: Part, field: str) -> str:
    """A field by what it is called on the page; nothing where it has no name of its own."""
    row = _row_of(part, field)
    return FACTS.get(field, "") if row is None else row_title(part, row)


def _row_of(part: Part, place: str) -> OutlineRow | None:
    """The row in which a place of the form stands: `set.core`, `use.usb_link`, `board.crystal.tolerance`."""
    key, row_of = place.partition(".")[2], outline_of(part).row_of
    return row_of.get(key) or row_of.get(key.partition(".")[0])


def _say_clock(judgement: Judgement, place: str) -> str:
    """What a changed place makes: `PLL converter tap 25.777777… MHz.`; nothing where it makes no clock."""
    row = _row_of(judgement.part, place)
    if row is None:
        return ""
    clock, title = judgement.clocks.get(row.node), judgement.part.nodes[row.node].title
    return f"{title} not running." if clock is None else f"{title} {say_frequency(clock.nominal)}."
