"""What stands around the way to the core clock: everything else that hangs on oscillators, and the settings of all."""

from __future__ import annotations

from collections.abc import Mapping
from fractions import Fraction
from itertools import pairwise

from wheelwork.find.building import Builder, Need, build_best
from wheelwork.find.cover import Cover, Coverings, Item, Offer
from wheelwork.find.prices import Number, plain
from wheelwork.find.problem import Regimes
from wheelwork.find.tables import Key
from wheelwork.find.trails import Stop, Trails
from wheelwork.part.nodes import Value


class Rest:
    """All that hangs on oscillators but one item, which is fed by one oscillator at a frequency."""

    def __init__(self, coverings: Coverings, item: str, source: str, frequency: Fraction) -> None:
        self.coverings, self.item, self.source = coverings, item, source
        self.bits = coverings.selectors if item else 0
        self.open = list(coverings.without(item, self.bits, source, frequency))
        self._found: dict[int, tuple[Number, Cover, int] | None] = {}
        self._costs: dict[int, Number | None] = {}

    def _best(self, mask: int) -> tuple[Number, Cover, int] | None:
        if mask not in self._found:
            offer = Offer(self.source if self.item else None, mask)
            row = Item(self.item, {mask | self.coverings.used.get(self.source, 0): ((0, offer),)})
            closed = (self.coverings.closed(cover, row, self.bits) for cover in self.open)
            ends = [(cost, cover, end) for cover in closed if cover is not None for end, cost in cover.ends.items()]
            self._found[mask] = min(ends, key=lambda each: each[0], default=None)
        return self._found[mask]

    def cost(self, mask: int) -> Number | None:
        """What the rest costs at least where the item serves a set, oscillators counted; None where it cannot be."""
        if mask not in self._costs:
            best = self._best(mask)
            self._costs[mask] = None if best is None else plain(best[0] * self.coverings.cheapest.scale)
        return self._costs[mask]

    def cover(self, mask: int) -> tuple[Cover, int]:
        """The cover of least cost where the item serves a set, and its end."""
        best = self._best(mask)
        assert best is not None  # asked only where it has a cost
        return best[1], best[2]


class WayBuilder(Builder):
    """Gathers settings where the way to the core is given; what hangs beside it is asked of the tables."""

    def __init__(self, trails: Trails, way: tuple[Stop, ...]) -> None:
        super().__init__(trails)
        self.way = {(above.name, below.name): below for above, below in pairwise(way)}
        self.own = {key: value for stop in way for key, value in stop.settings}
        self.slow = trails.slow
        self._tables: dict[str, Key] = {}
        kind = trails.problem.kind_of[way[0].name]
        last = way[-1]
        table = trails.constant(trails.value(last.name, last.frequency, kind, last.regimes), last.frequency)
        for above, below in reversed(list(pairwise(way))):
            bit = trails.problem.bits.get(below.name)
            self._tables[below.name] = table if bit is None else trails.with_bit(table, bit)
            table = self._tables[below.name]
            if above != way[0]:
                table = trails.tables.product(table, trails.beside(above, below.name, kind))
        self.top = table if len(way) > 1 else trails.tables.one

    def child(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes, need: Need) -> None:
        """A consumer that is on: one on the way as it is given."""
        stop = self.way.get((above, name))
        if stop is None:
            super().child(name, above, frequency, kind, regimes, need)
        else:
            bit = self.problem.bits.get(name, 0)
            self.node(name, stop.frequency, kind, stop.regimes, Need(need.exact & ~bit, need.free & ~bit))

    def rows(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes) -> Mapping[int, Number]:
        """What each set that a consumer can serve costs; of one on the way, with the core clock as it is given."""
        if (above, name) in self.way:
            return self.tables.at(self._tables[name], Fraction(0))
        return super().rows(name, above, frequency, kind, regimes)


def settle(rest: Rest, trails: Trails, way: tuple[Stop, ...]) -> dict[str, Value]:
    """Every setting of the nodes that matter at the least cost, the way to the core given."""
    builder = WayBuilder(trails, way)
    costs = {mask: (cost, rest.cost(mask)) for mask, cost in trails.tables.at(builder.top, way[0].frequency).items()}
    _, mask = min((cost + others, mask) for mask, (cost, others) in costs.items() if others is not None)
    cover, end = rest.cover(mask)
    return build_best(rest.coverings, cover, end, builder) | builder.own
