"""The walk over the nodes that both the count and the search for the best take.

Once every selector that matters has chosen, the nodes that matter form a forest; what can hang below a node depends on
its frequency and on which selectors are served there. So each node has a table by frequency (`pieces.py`), tables of
children multiply over disjoint sets of selectors, own choices are united. What a table holds is the algebra's matter:
counts (`tables.py`) or least costs (`offers.py`).
"""

from __future__ import annotations

from fractions import Fraction
from typing import Generic, TypeVar

from wheelwork.find.pieces import Edge, Pieces, between, everywhere, multiply, over_ratios, stretched, union
from wheelwork.find.problem import Problem, Reach, Regimes, factor_under, holds
from wheelwork.find.tables import Algebra, Key
from wheelwork.part.nodes import Divider, Pll, Scaler, Selector

A = TypeVar("A", bound=Algebra)


class Forest(Generic[A]):
    """Tables of every node of a problem, by frequency; `tables` combines them."""

    def __init__(self, problem: Problem, tables: A, pointwise: bool = False) -> None:
        """`pointwise`: reckon at single frequencies only, as suits a problem whose PLLs are pinned."""
        self.problem, self.tables, self.pointwise = problem, tables, pointwise
        self.nodes = problem.part.nodes
        self.unit = problem.smallest_unit()
        self._bodies: dict[tuple[str, int, Regimes], Pieces] = {}
        self._values: dict[tuple[str, Fraction, int, Regimes], Key] = {}

    def value(self, name: str, frequency: Fraction, kind: int, regimes: Regimes = ()) -> Key:
        """The table of a node at one frequency, its own cost included."""
        if not self.pointwise and not self.problem.pll_below[name]:
            return self.body(name, kind, regimes).at(frequency * self.unit)
        key = (name, frequency, kind, regimes)
        if key not in self._values:
            self.tables.tick()
            inside = holds(self.problem.span(self.nodes[name], kind), frequency)
            table = self._children(name, frequency, kind, regimes) if inside else self.tables.none
            self._values[key] = self._on(table, name)
        return self._values[key]

    def _on(self, key: Key, name: str) -> Key:
        """The table of a node that is on: with its own cost, and marked where it has to be known that it is on."""
        key = self.tables.charged(key, name)
        mark = self.problem.marks.get(name)
        return key if mark is None else self.tables.marked(key, mark)

    def _children(self, name: str, frequency: Fraction, kind: int, regimes: Regimes) -> Key:
        table = self.tables.one
        for consumer in self.problem.consumers[name]:
            if table != self.tables.none:
                table = self.tables.product(table, self.child_value(consumer, name, frequency, kind, regimes))
        return table

    def child_value(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes) -> Key:
        """The table of a consumer at the frequency that feeds it: on, or off where that may be."""
        node, tables, problem = self.nodes[name], self.tables, self.problem
        match node:
            case Selector():
                if problem.held_elsewhere(node, above):
                    return tables.one
                inner = tables.chosen(self.value(name, frequency, kind, regimes), name, above)
                return tables.or_not_chosen(inner, problem.bits[name], problem.needed[name])
            case Divider():
                ways = [
                    (tables.chosen(self._over(name, frequency, ratio, kind, inner), name, ratio), 1)
                    for inner, ratios in problem.split(node, regimes)
                    for ratio in ratios
                ]
                table = tables.total(ways)
            case Scaler():
                factor = factor_under(node, regimes)
                table = self._over(name, frequency, 1 / factor, kind, regimes)
            case Pll():
                table = self.pll_value(node, frequency, kind)
            case _:
                table = self.value(name, frequency, kind, regimes)
        return table if problem.needed[name] else tables.or_off(table)

    def _over(self, name: str, frequency: Fraction, ratio: Fraction, kind: int, regimes: Regimes) -> Key:
        return self.tables.scaled(self.value(name, frequency / ratio, kind, regimes), ratio)

    def pll_value(self, node: Pll, frequency: Fraction, kind: int) -> Key:
        """The table of a PLL at the frequency that feeds it."""
        raise NotImplementedError

    def body(self, name: str, kind: int, regimes: Regimes = ()) -> Pieces:
        """The tables of a node without a PLL below, by its own frequency, its own cost included."""
        kind = self.problem.kin(name, kind)
        key = (name, kind, regimes)
        if key not in self._bodies:
            self.tables.tick()
            pieces = between(self.tables, *self._edges(self.problem.span(self.nodes[name], kind)))
            for consumer in self.problem.consumers[name]:
                pieces = multiply(self.tables, pieces, self._child(consumer, name, kind, regimes))
            self._bodies[key] = Pieces(pieces.points, tuple(self._on(each, name) for each in pieces.keys))
        return self._bodies[key]

    def _edges(self, reach: Reach) -> tuple[Edge | None, Edge | None]:
        low, high = reach
        return (
            None if low is None else (int(low[0] * self.unit), not low[1]),
            None if high is None else (int(high[0] * self.unit), high[1]),
        )

    def _child(self, name: str, above: str, kind: int, regimes: Regimes) -> Pieces:
        """The tables of a consumer, by the frequency that feeds it."""
        node, tables, problem = self.nodes[name], self.tables, self.problem
        match node:
            case Selector():
                if problem.held_elsewhere(node, above):
                    return everywhere(tables.one)
                inner = self.body(name, kind, regimes)
                bit, needed = problem.bits[name], problem.needed[name]
                keys = (tables.or_not_chosen(tables.chosen(key, name, above), bit, needed) for key in inner.keys)
                return Pieces(inner.points, tuple(keys))
            case Divider():
                pieces = self._divided(node, kind, regimes)
            case Scaler():
                pieces = stretched(tables, self.body(name, kind, regimes), 1 / factor_under(node, regimes))
            case _:
                pieces = self.body(name, kind, regimes)
        return pieces if problem.needed[name] else Pieces(pieces.points, tuple(map(tables.or_off, pieces.keys)))

    def _divided(self, node: Divider, kind: int, regimes: Regimes) -> Pieces:
        parts = [
            over_ratios(self.tables, self.body(node.id, kind, inner), ratios, node.id)
            for inner, ratios in self.problem.split(node, regimes)
        ]
        whole = parts[0] if parts else everywhere(self.tables.none)
        for other in parts[1:]:
            whole = union(self.tables, whole, other)
        return whole
