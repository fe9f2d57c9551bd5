"""The outline of a part: its settings as numbered rows in groups, each below what feeds it.

1 Oscillators, 2 PLL (one group for each), 3 Core, 4 Buses, 5 Loads; a sheet's `group` key overrides. Where the way of
the clock and a group clash, the way of the clock wins. A selector that feeds one node stands in that node's row.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from typing import Literal

from wheelwork.part.graph import upstream
from wheelwork.part.nodes import Divider, Load, Node, Oscillator, Part, Pll, Scaler, Selector

Role = Literal["oscillator", "selector", "reference_divider", "feedback", "fraction", "divider", "scaler", "load"]


@dataclass(frozen=True, slots=True)
class OutlineRow:
    """One row: `key` names its place (`main.feedback`, `core`), `chooser` the selector whose choice stands in it."""

    key: str
    node: str
    role: Role
    number: str
    indent: int
    chooser: str | None = None


@dataclass(frozen=True, slots=True)
class Group:
    """A numbered group of rows."""

    number: int
    title: str
    rows: tuple[OutlineRow, ...]


@dataclass(frozen=True, slots=True, eq=False)
class Outline:
    """All groups; `row_of` gives the row of a node or a setting. A part has one outline, which may stand in a key."""

    groups: tuple[Group, ...]
    row_of: Mapping[str, OutlineRow]

    @property
    def rows(self) -> list[OutlineRow]:
        """All rows from top to bottom."""
        return [row for group in self.groups for row in group.rows]


_KNOWN: dict[int, tuple[Part, Outline]] = {}
MOST_KNOWN = 64


def outline_of(part: Part) -> Outline:
    """The outline of a part, worked out once for each sheet that was read."""
    known = _KNOWN.get(id(part))
    if known is None or known[0] is not part:
        if len(_KNOWN) >= MOST_KNOWN:
            _KNOWN.clear()
        known = (part, _derive(part))
        _KNOWN[id(part)] = known
    return known[1]


def _derive(part: Part) -> Outline:
    choosers = _choosers(part)
    groups: list[Group] = []
    for number, (title, nodes) in enumerate(_group_nodes(part, choosers).items(), 1):
        groups.append(Group(number, title, tuple(_rows(part, number, nodes, choosers))))
    row_of = {key: row for group in groups for row in group.rows for key in _keys_of(row)}
    return Outline(tuple(groups), row_of)


def _keys_of(row: OutlineRow) -> Iterable[str]:
    yield row.key
    if row.role == "feedback":
        yield row.node
    if row.chooser is not None:
        yield row.chooser


def _consumers(part: Part) -> dict[str, list[str]]:
    consumers: dict[str, list[str]] = {name: [] for name in part.nodes}
    for node in part.nodes.values():
        for feeder in node.feeders:
            consumers[feeder].append(node.id)
    return consumers


def _choosers(part: Part) -> dict[str, str]:
    """For each node the selector that stands in its row: one that feeds this node alone."""
    consumers = _consumers(part)
    found = {}
    for node in part.nodes.values():
        fed = consumers[node.id]
        if isinstance(node, Selector) and len(fed) == 1 and isinstance(part.nodes[fed[0]], Pll | Divider | Load):
            found[fed[0]] = node.id
    return found


def _group_nodes(part: Part, choosers: Mapping[str, str]) -> dict[str, list[Node]]:
    """The nodes that have rows, by the title of their group, groups in the order of the page."""
    titles = _titles(part)
    order = {title: place for place, title in enumerate(_group_order(part, titles))}
    inside = set(choosers.values())
    for name in part.order:  # the way of the clock wins: never above a feeder
        if name in inside:
            continue
        feeders = part.nodes[choosers.get(name, name)].feeders
        if feeders:
            latest = max((titles[feeder] for feeder in feeders), key=lambda title: order[title])
            if order[titles[name]] < order[latest]:
                titles[name] = latest
    groups: dict[str, list[Node]] = {title: [] for title in order}
    for name in part.order:
        if name not in inside:
            groups[titles[name]].append(part.nodes[name])
    place = _places(part)
    return {title: sorted(nodes, key=lambda node: place[node.id]) for title, nodes in groups.items() if nodes}


def _places(part: Part) -> dict[str, tuple[int, int]]:
    """Where a node stands among its like: loads in the sheet's order, what feeds them before the first of them."""
    sheet_order = {name: place for place, name in enumerate(part.nodes)}
    places = {name: (place, place) for name, place in sheet_order.items()}
    consumers = _consumers(part)
    for name in reversed(part.order):
        node, fed = part.nodes[name], consumers[name]
        if isinstance(node, Selector | Divider | Scaler) and fed:
            places[name] = (min(places[consumer][0] for consumer in fed), sheet_order[name])
    return places


def _group_order(part: Part, titles: Mapping[str, str]) -> list[str]:
    plls = [titles[name] for name in _pll_order(part)]
    own = [titles[name] for name in part.nodes if titles[name] not in ("Oscillators", "Core", "Buses", "Loads")]
    own = [title for title in own if title not in plls]
    return list(dict.fromkeys(["Oscillators", *plls, "Core", "Buses", *own, "Loads"]))


def _pll_order(part: Part) -> list[str]:
    """The PLLs in the sheet's order; feeders first where one feeds another."""
    plls = [node.id for node in part.nodes.values() if isinstance(node, Pll)]
    feeds = {name: set(upstream(part.nodes, name)) for name in plls}
    sheet_order_does = not any(later in feeds[name] for i, name in enumerate(plls) for later in plls[i + 1 :])
    return plls if sheet_order_does else [name for name in part.order if name in feeds]


def _titles(part: Part) -> dict[str, str]:
    """The group of each node by the rules above, a sheet's own `group` first."""
    plls = [node for node in part.nodes.values() if isinstance(node, Pll)]
    pll_title = {pll.id: "PLL" if len(plls) == 1 else pll.title for pll in plls}
    titles: dict[str, str] = {}
    for pll in plls:
        for name in upstream(part.nodes, pll.id):
            if not isinstance(part.nodes[name], Pll | Oscillator):
                titles.setdefault(name, pll_title[pll.id])
    before_core = {part.core_clock, *upstream(part.nodes, part.core_clock)}
    for name in part.order:
        node = part.nodes[name]
        if isinstance(node, Oscillator):
            titles[name] = "Oscillators"
        elif isinstance(node, Pll):
            titles[name] = pll_title[name]
        elif isinstance(node, Divider | Scaler) and node.feeders[0] in pll_title:
            titles[name] = pll_title[node.feeders[0]]
        elif name not in titles:
            titles[name] = _other_title(part, node, before_core, titles)
    return {name: part.nodes[name].group or title for name, title in titles.items()}


def _other_title(part: Part, node: Node, before_core: set[str], titles: Mapping[str, str]) -> str:
    if node.id in before_core:
        return "Core"
    if isinstance(node, Divider | Scaler):
        feeder = node.feeders[0]
        if feeder == part.core_clock or (titles.get(feeder) == "Buses" and _lone_load(part, node) is None):
            return "Buses"
    load = _lone_load(part, node)
    return "Loads" if load is None else load.group or "Loads"


def _lone_load(part: Part, node: Node) -> Node | None:
    """The load that is all a node feeds; such a node stands with it."""
    fed = [part.nodes[name] for name in _consumers(part)[node.id]]
    return fed[0] if len(fed) == 1 and isinstance(fed[0], Load) else None


def _rows(part: Part, number: int, nodes: list[Node], choosers: Mapping[str, str]) -> Iterable[OutlineRow]:
    """The rows of one group: what feeds others first, and right below it what it feeds, one step in."""
    ordered = _order_rows(part, nodes, choosers)
    count = 0
    for node, indent in ordered:
        for key, role in _parts_of(node):
            count += 1
            chooser = choosers.get(node.id) if role != "feedback" and role != "fraction" else None
            yield OutlineRow(key, node.id, role, f"{number}.{count}", indent, chooser)


def _order_rows(part: Part, nodes: list[Node], choosers: Mapping[str, str]) -> list[tuple[Node, int]]:
    here = {node.id for node in nodes}
    placed: dict[str, int] = {}
    order: list[tuple[Node, int]] = []

    def feeders(node: Node) -> list[str]:
        row_feeders = part.nodes[choosers[node.id]].feeders if node.id in choosers else node.feeders
        return [feeder for feeder in row_feeders if feeder in here]

    def place(node: Node, indent: int) -> None:
        placed[node.id] = indent
        order.append((node, indent))
        for child in nodes:
            if child.id not in placed and feeders(child) == [node.id]:
                place(child, min(indent + 1, 4))

    waiting = list(nodes)
    while waiting:
        ready = next((n for n in waiting if all(f in placed for f in feeders(n))), waiting[0])
        place(ready, 0)
        waiting = [node for node in waiting if node.id not in placed]
    return order


def _parts_of(node: Node) -> Iterable[tuple[str, Role]]:
    if isinstance(node, Pll):
        yield f"{node.id}.reference_divider", "reference_divider"
        yield f"{node.id}.feedback", "feedback"
        if node.fraction_of > 1:
            yield f"{node.id}.fraction", "fraction"
    elif node.kind != "pll":
        yield node.id, node.kind


def row_title(part: Part, row: OutlineRow) -> str:
    """A row's name: its node's title; the parts of a PLL are named by what they do."""
    titles = {"reference_divider": "Reference divider", "feedback": "Feedback multiplier", "fraction": "Fraction"}
    return titles.get(row.role, part.nodes[row.node].title)
