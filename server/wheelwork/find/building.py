"""From a cover to the settings it stands for: each table is asked again, top down, for the row that was counted on."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from wheelwork.find.cheapest import Cheapest
from wheelwork.find.cover import Cover, Coverings, Offer
from wheelwork.find.lattice import Point
from wheelwork.find.offers import cost_at
from wheelwork.find.prices import Number, factors_of_pll
from wheelwork.find.problem import Regimes, factor_under
from wheelwork.find.tables import Key
from wheelwork.part.nodes import FACTORS, Divider, Pll, Scaler, Selector, Value


@dataclass(frozen=True, slots=True)
class Need:
    """What has to be served below a node: exact selectors, all of them; free ones, each here and nowhere else."""

    exact: int
    free: int

    def met_by(self, mask: int, exact: int) -> bool:
        """Whether a row serves it."""
        return mask & exact == self.exact and not self.free & ~mask


def build_best(coverings: Coverings, cover: Cover, end: int, builder: Builder | None = None) -> dict[str, Value]:
    """Every setting of the nodes that matter at an end of a cover, each selector served once."""
    builder = Builder(coverings.cheapest) if builder is None else builder
    served = 0
    chosen: list[tuple[str, Offer]] = []
    mask = end
    for item, level in zip(reversed(cover.items), reversed(cover.levels), strict=True):
        _, mask, row = level[mask].pairs[0]
        chosen.append((item.name, item.rows[row][0][1]))
    frequencies = dict(cover.frequencies)
    for name, offer in reversed(chosen):
        free = offer.mask & ~builder.exact & coverings.problem.must & ~served
        need = Need(offer.mask & builder.exact, free)
        served |= free
        if offer.source is not None and (need.exact or need.free or builder.must_run(name)):
            kind = coverings.problem.kind_of[offer.source]
            builder.sources.add(offer.source)
            builder.child(name, offer.source, frequencies[offer.source], kind, (), need)
    for source in coverings.problem.sources:
        on = source.id in builder.sources or coverings.problem.needed[source.id]
        if on and len(source.choices) > 1:
            builder.settings[source.id] = frequencies[source.id]
    return builder.settings


class Builder:
    """Gathers settings on the way down."""

    def __init__(self, cheapest: Cheapest) -> None:
        self.cheapest, self.problem, self.tables = cheapest, cheapest.problem, cheapest.tables
        self.exact = self.tables.exact
        self.settings: dict[str, Value] = {}
        self.sources: set[str] = set()
        self.slow: frozenset[str] = frozenset()
        """Dividers that take the largest ratio where several cost the same; all others take the smallest."""

    def must_run(self, name: str) -> bool:
        """Whether a consumer is on even where it serves nothing; a selector is only where it takes this input."""
        return self.problem.needed[name] and not isinstance(self.cheapest.nodes[name], Selector)

    def child(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes, need: Need) -> None:
        """A consumer that is on, at the frequency that feeds it."""
        node = self.cheapest.nodes[name]
        match node:
            case Selector():
                self.settings[name] = above
                bit = self.problem.bits[name]
                self.node(name, frequency, kind, regimes, Need(need.exact & ~bit, need.free & ~bit))
            case Divider():
                ratio, inner = self._ratio(node, frequency, kind, regimes, need)
                self.settings[name] = ratio
                self.node(name, frequency / ratio, kind, inner, need)
            case Scaler():
                self.node(name, frequency * factor_under(node, regimes), kind, regimes, need)
            case Pll():
                point = self._point(node, frequency, kind, need)
                factors = factors_of_pll(node, point.divider, point.place)
                self.settings |= {f"{name}.{key}": value for key, value in zip(FACTORS, factors, strict=True)}
                self.node(name, point.frequency, kind, (), need)
            case _:
                self.node(name, frequency, kind, regimes, need)

    def _ratio(
        self, node: Divider, frequency: Fraction, kind: int, regimes: Regimes, need: Need
    ) -> tuple[Fraction, Regimes]:
        ways = []
        for inner, ratios in self.problem.split(node, regimes):
            for ratio in ratios:
                cost = self._cost(self.cheapest.value(node.id, frequency / ratio, kind, inner), frequency / ratio, need)
                if cost is not None:
                    ways.append((cost + self.cheapest.prices.choice(node.id, ratio), ratio, inner))
        sign = -1 if node.id in self.slow else 1
        _, ratio, inner = min(ways, key=lambda way: (way[0], sign * way[1]))
        return ratio, inner

    def _point(self, node: Pll, frequency: Fraction, kind: int, need: Need) -> Point:
        table, points = self.cheapest.pll_points(node, frequency, kind)
        costs = self.tables.at(table, frequency)
        fitting = [(cost, mask) for mask, cost in costs.items() if need.met_by(mask, self.exact)]
        return points[min(fitting)[1]]

    def _cost(self, table: Key, frequency: Fraction, need: Need) -> Number | None:
        """The least cost at which a table serves what is needed."""
        rows = self.tables.rows[table].items()
        return min((cost_at(lines, frequency) for mask, lines in rows if need.met_by(mask, self.exact)), default=None)

    def node(self, name: str, frequency: Fraction, kind: int, regimes: Regimes, need: Need) -> None:
        """What hangs below a node that is on: a row for each consumer, at the least cost together."""
        need = Need(need.exact & ~self.problem.marks.get(name, 0), need.free)
        consumers = self.problem.consumers[name]
        rows = [self.rows(each, name, frequency, kind, regimes) for each in consumers]
        states: dict[tuple[int, int], tuple[Number, tuple[int, ...]]] = {(0, 0): (0, ())}
        for row in rows:
            states = self._joined(states, row, need)
        _, masks = states[need.exact, need.free]
        free = need.free
        for each, mask in zip(consumers, masks, strict=True):
            mine = Need(mask & self.exact, mask & free)
            free &= ~mask
            if mine.exact or mine.free or self.must_run(each):
                self.child(each, name, frequency, kind, regimes, mine)

    def rows(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes) -> Mapping[int, Number]:
        """What each set that a consumer can serve costs, at the frequency that feeds it."""
        table = self.cheapest.child_value(name, above, frequency, kind, regimes)
        return self.tables.at(table, frequency)

    def _joined(
        self,
        states: Mapping[tuple[int, int], tuple[Number, tuple[int, ...]]],
        row: Mapping[int, Number],
        need: Need,
    ) -> dict[tuple[int, int], tuple[Number, tuple[int, ...]]]:
        made: dict[tuple[int, int], tuple[Number, tuple[int, ...]]] = {}
        for (exact, free), (cost, masks) in states.items():
            for mask, more in row.items():
                taken = mask & self.exact
                if taken & ~need.exact or taken & exact:
                    continue
                key = (exact | taken, free | (mask & need.free))
                old = made.get(key)
                if old is None or cost + more < old[0]:
                    made[key] = (cost + more, (*masks, mask))
        return made
