"""The graph of a sheet's nodes: an order with feeders first, circles, what lies upstream, the longest ways."""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter
from math import log10

from wheelwork.part.nodes import Divider, Node, Pll, Scaler

LONGEST_WAY = 80
"""More nodes than this one behind the other are refused: nobody would read such a page."""

MOST_DIGITS = 240
"""More digits than this, above and below the stroke, are refused: such numbers take long and fit no float."""


def _feeders(nodes: Mapping[str, Node]) -> dict[str, list[str]]:
    return {name: [feeder for feeder in node.feeders if feeder in nodes] for name, node in nodes.items()}


def order_nodes(nodes: Mapping[str, Node]) -> tuple[str, ...] | None:
    """All ids so that none stands before a node that can feed it; None where clocks go round in a circle."""
    try:
        return tuple(TopologicalSorter(_feeders(nodes)).static_order())
    except CycleError:
        return None


def find_circle(nodes: Mapping[str, Node]) -> list[str]:
    """The ids of one circle, first and last the same; empty where there is none."""
    try:
        TopologicalSorter(_feeders(nodes)).prepare()
    except CycleError as fault:
        return [str(name) for name in fault.args[1]]
    return []


def upstream(nodes: Mapping[str, Node], name: str) -> list[str]:
    """Every node that can feed this one, directly or through others, whatever the selectors choose."""
    seen: dict[str, None] = {}
    waiting = list(nodes[name].feeders)
    while waiting:
        current = waiting.pop()
        if current in nodes and current not in seen:
            seen[current] = None
            waiting.extend(nodes[current].feeders)
    return list(seen)


def all_upstream(nodes: Mapping[str, Node], order: tuple[str, ...]) -> dict[str, int]:
    """For every node the same as bits: bit i is set where node i of the order can feed it."""
    bit = {name: 1 << place for place, name in enumerate(order)}
    above: dict[str, int] = {}
    for name in order:
        above[name] = 0
        for feeder in nodes[name].feeders:
            if feeder in above:
                above[name] |= above[feeder] | bit[feeder]
    return above


def longest_way(nodes: Mapping[str, Node], order: tuple[str, ...]) -> tuple[str, int]:
    """The node at the end of the longest way from an oscillator, and how many nodes that way has."""
    length: dict[str, int] = {}
    for name in order:
        length[name] = 1 + max((length[feeder] for feeder in nodes[name].feeders if feeder in length), default=0)
    longest = max(length, key=lambda name: length[name])
    return longest, length[longest]


def longest_number(nodes: Mapping[str, Node], order: tuple[str, ...]) -> tuple[str, int]:
    """The node at the end of the way on which the most digits can come together, and how many those are."""
    digits: dict[str, float] = {}
    for name in order:
        above = max((digits[feeder] for feeder in nodes[name].feeders if feeder in digits), default=0.0)
        digits[name] = above + _digits_added(nodes[name])
    longest = max(digits, key=lambda name: digits[name])
    return longest, round(digits[longest])


def _digits_added(node: Node) -> float:
    """How many digits a node can add to the exact frequency that feeds it."""
    match node:
        case Divider():
            return max(log10(run.last.numerator) + log10(run.last.denominator) for run in node.ratios.runs)
        case Scaler():
            return log10(node.factor.numerator) + log10(node.factor.denominator)
        case Pll():
            factors = log10(node.reference_divider.highest) + log10(node.feedback.highest + 1)
            return factors + 2 * log10(node.fraction_of)
    return 0.0
