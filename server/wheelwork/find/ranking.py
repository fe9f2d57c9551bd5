"""Settings in the order of their cost, as many as are asked for: the best first, each made only when it is wanted.

Every part of the whole is a stream of ways, the cheapest first, and a stream opens its parts only as far as they are
read. The tables of least costs say what a part costs at its best before it is opened. Enough is read of each part,
since costs of parts add. Source: lazy enumeration of the k best derivations, Huang and Chiang, Better k-best Parsing,
2005 (from memory); the order along a PLL's lattice is our own.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from fractions import Fraction
from heapq import heapify, heappop, heappush

from wheelwork.find.cheapest import Cheapest, Stretch
from wheelwork.find.cover import Cover, Coverings, Item
from wheelwork.find.lattice import Point
from wheelwork.find.offers import cost_at
from wheelwork.find.prices import Number, factors_of_pll
from wheelwork.find.problem import Regimes, factor_under
from wheelwork.part.nodes import FACTORS, Divider, Pll, Scaler, Selector, Value

Chosen = tuple["Chosen | None", "Chosen | None", tuple[tuple[str, Value], ...]]
"""Settings of two parts and own ones."""
Way = tuple[Number, Chosen | None]


class Stream:
    """Ways in the order of their cost, read as far as they are wanted and kept."""

    def __init__(self, ways: Iterator[Way]) -> None:
        self._ways = ways
        self._read: list[Way] = []

    def __getitem__(self, rank: int) -> Way | None:
        while len(self._read) <= rank:
            way = next(self._ways, None)
            if way is None:
                return None
            self._read.append(way)
        return self._read[rank]


Opener = Callable[[], Stream]


def merged(parts: Iterable[tuple[Number, Opener]]) -> Iterator[Way]:
    """The ways of several streams in one order. Each is given with its least cost and opened only when it is due."""
    heap: list[tuple[Number, int, int]] = []
    openers: list[Opener] = []
    for least, opener in parts:
        heap.append((least, 0, len(openers)))
        openers.append(opener)
    heapify(heap)
    while heap:
        _, rank, index = heappop(heap)
        stream = openers[index]()
        way = stream[rank]
        if way is not None:
            yield way
        after = stream[rank + 1]
        if after is not None:
            heappush(heap, (after[0], rank + 1, index))


def paired(one: Stream, other: Stream) -> Iterator[Way]:
    """Every pair of a way of one and a way of the other, in the order of their sums."""
    first, second = one[0], other[0]
    if first is None or second is None:
        return
    heap = [(first[0] + second[0], 0, 0)]
    while heap:
        cost, i, j = heappop(heap)
        left, right = one[i], other[j]
        if left is None or right is None:
            continue
        yield cost, (left[1], right[1], ())
        following = other[j + 1]
        if following is not None:
            heappush(heap, (left[0] + following[0], i, j + 1))
        below = one[i + 1] if j == 0 else None
        if below is not None:
            heappush(heap, (below[0] + right[0], i + 1, 0))


def priced(stream: Stream, extra: Number, own: tuple[tuple[str, Value], ...] = ()) -> Iterator[Way]:
    """The ways of a stream, each dearer by the same, with settings of its own."""
    rank = 0
    while (way := stream[rank]) is not None:
        yield way[0] + extra, (way[1], None, own) if own else way[1]
        rank += 1


NOTHING: Way = (0, None)


@dataclass
class Ranking:
    """The settings of one problem in the order of their cost; `cheapest` and `coverings` must be made for listing."""

    cheapest: Cheapest
    coverings: Coverings
    _streams: dict[object, Stream] = field(default_factory=dict)
    _prefixes: dict[tuple[str, Fraction, int, Regimes], list[Mapping[int, Number]]] = field(default_factory=dict)

    def ways(self) -> Iterator[tuple[Number, dict[str, Value]]]:
        """Cost and settings, the cheapest first."""
        ends = [(cost, cover, mask) for cover in self.coverings for mask, cost in cover.ends.items()]
        scale = self.cheapest.scale
        parts = [(cost * scale, self._opener(self._end, cover, mask)) for cost, cover, mask in ends]
        for cost, chosen in merged(parts):
            yield Fraction(cost) / scale, dict(_flat(chosen))

    def _opener(self, make: Callable[..., Iterator[Way]], *given: object) -> Opener:
        """Opens a stream at most once."""
        key = (make.__name__, *(id(each) if isinstance(each, Cover | Item) else each for each in given))

        def opened() -> Stream:
            if key not in self._streams:
                self.cheapest.tables.tick()
                self._streams[key] = Stream(make(*given))
            return self._streams[key]

        return opened

    def _end(self, cover: Cover, mask: int) -> Iterator[Way]:
        last = len(cover.items) - 1
        least = cover.levels[last][mask].cost if cover.items else 0
        extra = cover.ends[mask] * self.cheapest.scale - least
        own = tuple(self.coverings.settings_of(cover, mask).items())
        return priced(self._opener(self._level, cover, last, mask)(), extra, own)

    def _level(self, cover: Cover, index: int, mask: int) -> Iterator[Way]:
        """The items up to one, in a state."""
        if index < 0:
            return iter([NOTHING])
        item = cover.items[index]
        parts = [
            (cost, self._opener(self._pair, cover, index, before, row))
            for cost, before, row in cover.levels[index][mask].pairs
        ]
        return merged(parts) if item.rows else iter(())

    def _pair(self, cover: Cover, index: int, before: int, row: int) -> Iterator[Way]:
        one = self._opener(self._level, cover, index - 1, before)()
        return paired(one, self._opener(self._row, cover, index, row)())

    def _row(self, cover: Cover, index: int, row: int) -> Iterator[Way]:
        """An item's row: any of its offers."""
        item, frequencies = cover.items[index], dict(cover.frequencies)
        parts: list[tuple[Number, Opener]] = []
        for cost, offer in item.rows[row]:
            if offer.source is None:
                parts.append((0, lambda: Stream(iter([NOTHING]))))
            else:
                kind = self.cheapest.problem.kind_of[offer.source]
                given = (item.name, offer.source, frequencies[offer.source], kind, (), offer.mask)
                parts.append((cost, self._opener(self._child, *given)))
        return merged(parts)

    def _child(
        self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes, mask: int
    ) -> Iterator[Way]:
        """A consumer that serves exactly these selectors, at the frequency that feeds it."""
        node, prices, problem = self.cheapest.nodes[name], self.cheapest.prices, self.cheapest.problem
        must_run = problem.needed[name] and not isinstance(node, Selector)
        if not mask and not must_run:
            return iter([NOTHING])
        match node:
            case Selector():
                inner = self._opener(self._node, name, frequency, kind, regimes, mask & ~problem.bits[name])()
                return priced(inner, prices.choice(name, above), ((name, above),))
            case Divider():
                return merged(self._ratios(node, frequency, kind, regimes, mask))
            case Scaler():
                return self._node(name, frequency * factor_under(node, regimes), kind, regimes, mask)
            case Pll():
                return self._lattice(node, frequency, kind, mask)
        return self._node(name, frequency, kind, regimes, mask)

    def _ratios(
        self, node: Divider, frequency: Fraction, kind: int, regimes: Regimes, mask: int
    ) -> Iterator[tuple[Number, Opener]]:
        for inner, ratios in self.cheapest.problem.split(node, regimes):
            for ratio in ratios:
                least = self._least(node.id, frequency / ratio, kind, inner, mask)
                if least is not None:
                    price = self.cheapest.prices.choice(node.id, ratio)
                    given = (node.id, frequency / ratio, kind, inner, mask, price, ((node.id, ratio),))
                    yield least + price, self._opener(self._set, *given)

    def _set(
        self,
        name: str,
        frequency: Fraction,
        kind: int,
        regimes: Regimes,
        mask: int,
        price: Number,
        own: tuple[tuple[str, Value], ...],
    ) -> Iterator[Way]:
        return priced(self._opener(self._node, name, frequency, kind, regimes, mask)(), price, own)

    def _least(self, name: str, frequency: Fraction, kind: int, regimes: Regimes, mask: int) -> Number | None:
        """What a node costs at least when it serves a set; None where it cannot."""
        lines = self.cheapest.tables.rows[self.cheapest.value(name, frequency, kind, regimes)].get(mask)
        return None if lines is None else cost_at(lines, frequency)

    def _node(self, name: str, frequency: Fraction, kind: int, regimes: Regimes, mask: int) -> Iterator[Way]:
        """A node that is on, serving exactly these selectors."""
        base, slope = self.cheapest.prices.node(name)
        last = len(self.cheapest.problem.consumers[name])
        mask &= ~self.cheapest.problem.marks.get(name, 0)
        return priced(
            self._opener(self._prefix, name, frequency, kind, regimes, mask, last)(), base + slope * frequency
        )

    def _prefix(
        self, name: str, frequency: Fraction, kind: int, regimes: Regimes, mask: int, count: int
    ) -> Iterator[Way]:
        """The first consumers of a node, serving exactly these selectors."""
        if count == 0:
            return iter([NOTHING])
        tables = self._prefix_tables(name, frequency, kind, regimes)
        consumer = self.cheapest.problem.consumers[name][count - 1]
        rows = self._rows(consumer, name, frequency, kind, regimes)
        parts = []
        for row, cost in rows.items():
            before = tables[count - 1].get(mask & ~row) if not row & ~mask else None
            if before is not None:
                given = (name, frequency, kind, regimes, mask & ~row, count - 1, consumer, row)
                parts.append((before + cost, self._opener(self._joined, *given)))
        return merged(parts)

    def _joined(
        self,
        name: str,
        frequency: Fraction,
        kind: int,
        regimes: Regimes,
        mask: int,
        count: int,
        consumer: str,
        row: int,
    ) -> Iterator[Way]:
        one = self._opener(self._prefix, name, frequency, kind, regimes, mask, count)()
        return paired(one, self._opener(self._child, consumer, name, frequency, kind, regimes, row)())

    def _rows(self, name: str, above: str, frequency: Fraction, kind: int, regimes: Regimes) -> Mapping[int, Number]:
        table = self.cheapest.child_value(name, above, frequency, kind, regimes)
        return self.cheapest.tables.at(table, frequency)

    def _prefix_tables(self, name: str, frequency: Fraction, kind: int, regimes: Regimes) -> list[Mapping[int, Number]]:
        """The least costs of the first none, one, two … consumers of a node, for each set."""
        key = (name, frequency, kind, regimes)
        if key not in self._prefixes:
            tables: list[Mapping[int, Number]] = [{0: 0}]
            for consumer in self.cheapest.problem.consumers[name]:
                rows = self._rows(consumer, name, frequency, kind, regimes)
                made: dict[int, Number] = {}
                for before, cost in tables[-1].items():
                    for row, more in rows.items():
                        if not before & row:
                            both = cost + more
                            if before | row not in made or both < made[before | row]:
                                made[before | row] = both
                tables.append(made)
            self._prefixes[key] = tables
        return self._prefixes[key]

    def _lattice(self, node: Pll, frequency: Fraction, kind: int, mask: int) -> Iterator[Way]:
        """The points of a PLL, serving exactly these selectors."""
        walk = _Walk(self, node, frequency, kind, mask)
        return walk.everywhere() if self.cheapest.walks(node) else walk.in_pieces()

    def at_point(self, node: Pll, kind: int, mask: int, point: Point) -> tuple[Number, Opener] | None:
        """A PLL at one point of its lattice; None where the set cannot be served there."""
        least = self._least(node.id, point.frequency, kind, (), mask)
        if least is None:
            return None
        factors = factors_of_pll(node, point.divider, point.place)
        price = self.cheapest.prices.factors(node.id, factors)
        own = tuple((f"{node.id}.{key}", value) for key, value in zip(FACTORS, factors, strict=True))
        return least + price, self._opener(self._set, node.id, point.frequency, kind, (), mask, price, own)


class _Walk:
    """The points of a PLL at one input frequency in the order of what they cost at least.

    In a stretch the least cost is concave along the axis, so that of the points not yet read the cheapest is the first
    or the last: points are opened from both ends inward, the next one when its neighbour has been read.
    """

    def __init__(self, ranking: Ranking, node: Pll, frequency: Fraction, kind: int, mask: int) -> None:
        self.ranking, self.node, self.frequency, self.kind, self.mask = ranking, node, frequency, kind, mask
        self.cheapest = ranking.cheapest
        self.heap: list[tuple[Number | float, int, int]] = []
        self.stretches: list[Stretch] = []
        self.open: list[tuple[Opener, Callable[[], None]]] = []
        self.own = self.cheapest.own_point(node, frequency, kind)

    def everywhere(self) -> Iterator[Way]:
        """Every point."""
        found = (
            self.ranking.at_point(self.node, self.kind, self.mask, point)
            for point in self.cheapest.walk(self.node, self.frequency, self.kind)
        )
        return merged([each for each in found if each is not None])

    def in_pieces(self) -> Iterator[Way]:
        """Stretch by stretch, each from both ends."""
        if self.own is not None:
            self._open(self.own, lambda: None)
        changed = self.cheapest.prices.changed
        places = dict(self.cheapest.ranked(self.node, self.kind)).get(self.mask, [])
        for bound, stretch, _ in places:
            heappush(self.heap, (bound + float(changed), -1, len(self.stretches)))
            self.stretches.append(stretch)
        while self.heap:
            _, rank, index = heappop(self.heap)
            if rank < 0:
                self._enter(self.stretches[index])
                continue
            opener, go_on = self.open[index]
            stream = opener()
            way = stream[rank]
            if way is not None:
                yield way
            after = stream[rank + 1]
            if after is not None:
                heappush(self.heap, (after[0], rank + 1, index))
            if rank == 0:
                go_on()

    def _enter(self, stretch: Stretch) -> None:
        """Open a stretch at both ends."""
        low, high = (
            self.cheapest.end(self.node, self.frequency, self.kind, stretch, upward) for upward in (True, False)
        )
        if low is not None and high is not None:
            ends = [low.frequency, high.frequency]
            self._reach(stretch, low, True, ends)
            if high != low:
                self._reach(stretch, high, False, ends)

    def _reach(self, stretch: Stretch, point: Point, upward: bool, ends: list[Fraction]) -> None:
        """Open a point; when it has been read, the next one on its side, until both sides meet."""
        ends[0 if upward else 1] = point.frequency

        def go_on() -> None:
            following = self.cheapest.next_point(self.node, self.frequency, self.kind, stretch, point, upward)
            if following is not None and ends[0] < following.frequency < ends[1]:
                self._reach(stretch, following, upward, ends)

        if point == self.own:
            go_on()
        else:
            self._open(point, go_on)

    def _open(self, point: Point, go_on: Callable[[], None]) -> None:
        found = self.ranking.at_point(self.node, self.kind, self.mask, point)
        if found is None:
            go_on()
            return
        least, opener = found
        heappush(self.heap, (least, 0, len(self.open)))
        self.open.append((opener, go_on))


def _flat(chosen: Chosen | None) -> Iterator[tuple[str, Value]]:
    left = [chosen]
    while left:
        each = left.pop()
        if each is not None:
            yield from each[2]
            left += [each[0], each[1]]
