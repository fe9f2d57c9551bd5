"""Places of a plan and what stands there, in words: for two plans side by side, and for two people who kept at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from wheelwork.find.mends import say_value
from wheelwork.findings import lower_first
from wheelwork.part.nodes import Part, Pll, Selector
from wheelwork.part.outline import outline_of, row_title
from wheelwork.plan.difference import Differing
from wheelwork.plan.plan import Plan
from wheelwork.plan.reading import read_plan
from wheelwork.quantities.numbers import NO_BREAK_SPACE, write_exact

LABELS = {
    "name": "Name",
    "owner": "Owner",
    "board_name": "Board",
    "board_revision": "Board revision",
    "part": "Part sheet",
    "core_voltage": "Core voltage",
    "wait_states": "Flash wait states",
    "supply": "Supply",
    "temperature": "Temperature span",
    "in_use": "Loads in use",
    "keep_running": "Kept running",
    "held": "Held for the search",
    "target": "Target",
    "link": "Link",
    "phase": "Phase",
    "battery": "Battery",
}
NOTHING = "–"


def label_of(part: Part | None, where: str) -> str:
    """A place in words: `set.core` by the row's title, `board.crystal.tolerance` by the oscillator's."""
    head, _, rest = where.partition(".")
    if head == "set" and part is not None:
        return _say_setting(part, rest)
    if head == "board" and part is not None:
        node, _, what = rest.partition(".")
        title = part.nodes[node].title if node in part.nodes else node
        return f"{title}, {'fitted' if what == 'frequency' else what}"
    number, _, key = rest.partition(".")
    more = f" {int(number) + 1}" if number.isdecimal() else ""
    if not more and head in ("link", "target", "phase"):
        return f"{LABELS[head]} {part.nodes[rest].title if part is not None and rest in part.nodes else rest}"
    words = key.replace("_", " ").replace(".", " ")
    return f"{LABELS.get(head, head)}{more}{f', {words}' if words else ''}"


def _say_setting(part: Part, key: str) -> str:
    node = part.nodes.get(key.partition(".")[0])
    row = outline_of(part).row_of.get(key)
    if isinstance(node, Selector):
        fed = next((each for each in outline_of(part).rows if each.chooser == node.id), None)
        return f"{part.nodes[fed.node].title} taken from" if fed is not None else f"{node.title} taken from"
    if node is None or row is None:
        return key
    return f"{node.title}, {lower_first(row_title(part, row))}" if isinstance(node, Pll) else node.title


def say_at(part: Part | None, where: str, value: Any, reset: bool = True) -> str:
    """What stands at a place, in words; a setting that a plan leaves out has its reset value."""
    head, _, rest = where.partition(".")
    if head == "set" and part is not None:
        return _say_set(part, rest, value, reset)
    if value is None:
        return NOTHING
    if head == "core_voltage" and part is not None:
        step = next((each for each in part.steps if each.id == value), None)
        return str(value) if step is None else f"{write_exact(step.volts)}{NO_BREAK_SPACE}V"
    if isinstance(value, list):
        titles = [part.nodes[each].title if part is not None and each in part.nodes else str(each) for each in value]
        return ", ".join(titles) or NOTHING
    return str(value)


def _say_set(part: Part, key: str, value: Any, reset: bool) -> str:
    if value is None:
        told = say_value(part, key, part.resets[key]) if key in part.resets else NOTHING
        return f"{told}, as after reset" if reset and key in part.resets else told
    raw: Mapping[str, Any] = {"set": {key: value}}
    plan, _ = read_plan(dict(raw), part)
    read = None if plan is None else plan.settings.get(key)
    return str(value) if read is None else say_value(part, key, read)


def tell_differing(part: Part | None, differs: list[Differing]) -> list[tuple[str, str, str]]:
    """Each place that differs in words: its label, what stands there in the one and in the other."""
    return [
        (label_of(part, each.where), say_at(part, each.where, each.before), say_at(part, each.where, each.after))
        for each in differs
    ]


def name_of(plan: Plan) -> str:
    """A plan by name."""
    return plan.name or "A plan without a name"
