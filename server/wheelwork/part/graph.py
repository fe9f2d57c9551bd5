"""The graph of a sheet's nodes: an order with feeders first, circles, what lies upstream, the longest way."""

from __future__ import annotations

from collections.abc import Mapping
from graphlib import CycleError, TopologicalSorter

from wheelwork.part.nodes import Node

LONGEST_WAY = 80
"""More nodes than this one behind the other are refused: exact frequencies would grow beyond reading."""


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


def longest_way(nodes: Mapping[str, Node], order: tuple[str, ...]) -> tuple[str, int]:
    """The node at the end of the longest way from an oscillator, and how many nodes that way has."""
    length: dict[str, int] = {}
    for name in order:
        length[name] = 1 + max((length[feeder] for feeder in nodes[name].feeders if feeder in length), default=0)
    longest = max(length, key=lambda name: length[name])
    return longest, length[longest]
