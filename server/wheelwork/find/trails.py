"""Every way from an oscillator down to the core clock at one core-voltage step, with what a setting on it costs.

The tables of `cheapest.py` know what a node costs at its own frequency, whatever the core clock. Here the way to the
core is kept apart: a *trail* is a choice of every selector and divider from a node down to the core, so that the core
clock is the node's frequency over one ratio, and its tables hold what hangs beside the way too. A trail ends, upward,
at the PLL next to the core or at an oscillator; above a PLL the frequencies are few and gone through one by one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from fractions import Fraction

from wheelwork.find.cheapest import Cheapest
from wheelwork.find.lattice import Lattice, Point
from wheelwork.find.pieces import Pieces, between, multiply, stretched
from wheelwork.find.prices import Prices, factors_of_pll
from wheelwork.find.problem import Problem, Regimes, factor_under, holds
from wheelwork.find.question import StillTime
from wheelwork.find.tables import Key, Undecided
from wheelwork.part.nodes import FACTORS, Divider, Oscillator, Pll, Scaler, Selector, Value

MOST_TRAILS = 5000
"""More trails below a node are not made; a search that would need them says that it is not decided."""


@dataclass(frozen=True, slots=True)
class Stop:
    """A node on the way at its frequency (Hz), fed by a trail's node before it; `settings` are what led here."""

    name: str
    frequency: Fraction
    regimes: Regimes
    settings: tuple[tuple[str, Value], ...]


@dataclass(frozen=True, slots=True)
class Trail:
    """The way from a node to the core: each node below with its setting; node over core clock; tables by frequency."""

    steps: tuple[tuple[str, Value | None], ...]
    ratio: Fraction
    pieces: Pieces


@dataclass(frozen=True, slots=True)
class Head:
    """The upper end of a way: an oscillator at a frequency and what was passed down to a node.

    `table` holds what is served and paid above the trails (constants). Below a PLL `lattice` has its frequencies; else
    the node stands at `frequency` and there is one trail.
    """

    source: Oscillator
    stops: tuple[Stop, ...]
    table: Key
    frequency: Fraction
    pll: Pll | None
    lattice: Lattice | None
    trails: tuple[Trail, ...]

    @property
    def item(self) -> str:
        """What hangs directly below the oscillator on this way; nothing where the oscillator is the core clock."""
        if len(self.stops) > 1:
            return self.stops[1].name
        return "" if self.pll is None else self.pll.id


class Trails(Cheapest):
    """The tables of a problem, with those along every way to the core clock."""

    def __init__(self, problem: Problem, prices: Prices, still_time: StillTime) -> None:
        self.core = problem.part.core_clock
        self.above = _upstream(problem, self.core)
        super().__init__(problem, prices, still_time, exactly=self.above)
        rules = [rule for rule in problem.part.rules if rule.at_most is not None]
        fast = [_upstream(problem, rule.of) for rule in rules]
        self.slow = frozenset().union(*(_upstream(problem, rule.node) for rule in rules)) - self.above.union(*fast)
        """What had better run slowly, where that costs the same: a rule between clocks holds it down."""
        self._trails: dict[tuple[str, int, Regimes], tuple[Trail, ...]] = {}

    def heads(self) -> Iterator[Head]:
        """Every way, from each oscillator at each of its frequencies. Raises Undecided."""
        for source in self.problem.sources:
            if source.id in self.above:
                kind = self.problem.kind_of[source.id]
                for frequency in self.problem.frequencies(source):
                    if holds(self.problem.span(source, kind), frequency):
                        own = ((source.id, frequency),) if len(source.choices) > 1 else ()
                        start = Stop(source.id, frequency, (), own)
                        yield from self._from_oscillator(source, start, kind)

    def _from_oscillator(self, source: Oscillator, start: Stop, kind: int) -> Iterator[Head]:
        """The ways of an oscillator; its own cost and what else hangs on it is no part of them."""
        if source.id == self.core:
            trail = Trail((), Fraction(1), Pieces((), (self.tables.one,)))
            yield Head(source, (start,), self.tables.one, start.frequency, None, None, (trail,))
            return
        for child in self._on_way(source.id):
            yield from self._into(source, (start,), self.tables.one, child, kind)

    def _on_way(self, name: str) -> list[str]:
        return [each for each in self.problem.consumers[name] if each in self.above]

    def _from(self, source: Oscillator, stops: tuple[Stop, ...], table: Key, kind: int) -> Iterator[Head]:
        """The ways on from a node at a frequency; `table` is what was passed."""
        at = stops[-1]
        if not self.problem.pll_below[at.name]:
            for trail in self.trails(at.name, kind, at.regimes):
                if trail.pieces.at(at.frequency * self.unit) != self.tables.none:
                    yield Head(source, stops, table, at.frequency, None, None, (trail,))
            return
        if not holds(self.problem.span(self.nodes[at.name], kind), at.frequency):
            return
        if at.name == self.core:
            end = Trail((), Fraction(1), Pieces((), (self.value(self.core, at.frequency, kind, at.regimes),)))
            yield Head(source, stops, table, at.frequency, None, None, (end,))
            return
        for child in self._on_way(at.name):
            passed = self.tables.product(table, self.beside(at, child, kind))
            if passed != self.tables.none:
                yield from self._into(source, stops, passed, child, kind)

    def beside(self, at: Stop, child: str, kind: int) -> Key:
        """What hangs on a node of the way beside the next one, and the node itself, as constants."""
        table = self.tables.one
        for other in self.problem.consumers[at.name]:
            if other != child:
                table = self.tables.product(table, self.child_value(other, at.name, at.frequency, kind, at.regimes))
        return self.constant(self.passed(self.tables.charged(table, at.name), at.name), at.frequency)

    def passed(self, table: Key, name: str) -> Key:
        """A table with the mark of a node that is on."""
        mark = self.problem.marks.get(name)
        return table if mark is None else self.with_bit(table, mark)

    def with_bit(self, table: Key, bit: int) -> Key:
        """A table in which a further bit is served here, and by nothing else."""
        rows = self.tables.rows[table].items()
        return self.tables.keep({mask | bit: lines for mask, lines in rows if not mask & bit})

    def constant(self, table: Key, frequency: Fraction) -> Key:
        """A table as it is at one frequency."""
        costs = self.tables.at(table, frequency).items()
        return self.tables.keep({mask: ((cost, 0),) for mask, cost in costs})

    def _into(self, source: Oscillator, stops: tuple[Stop, ...], table: Key, name: str, kind: int) -> Iterator[Head]:
        """The ways on through a consumer."""
        self.tables.tick()
        node, at, problem = self.nodes[name], stops[-1], self.problem
        match node:
            case Selector():
                if not problem.held_elsewhere(node, at.name):
                    chosen = self.with_bit(table, problem.bits[name])
                    stop = Stop(name, at.frequency, at.regimes, ((name, at.name),))
                    yield from self._from(source, (*stops, stop), chosen, kind)
            case Divider():
                for regimes, ratios in problem.split(node, at.regimes):
                    for ratio in ratios:
                        stop = Stop(name, at.frequency / ratio, regimes, ((name, ratio),))
                        yield from self._from(source, (*stops, stop), table, kind)
            case Scaler():
                stop = Stop(name, at.frequency * factor_under(node, at.regimes), at.regimes, ())
                yield from self._from(source, (*stops, stop), table, kind)
            case Pll() if problem.pll_below[name]:
                for point in self.walk(node, at.frequency, kind):
                    yield from self._from(source, (*stops, stop_at(node, point)), table, kind)
            case Pll():
                trails = self.trails(name, kind, ())
                if trails:
                    lattice = self.lattice(node, at.frequency, kind)
                    yield Head(source, stops, table, at.frequency, node, lattice, trails)
            case _:
                yield from self._from(source, (*stops, replace(at, name=name, settings=())), table, kind)

    def trails(self, name: str, kind: int, regimes: Regimes) -> tuple[Trail, ...]:
        """The ways from a node without a PLL below down to the core, by the node's own frequency."""
        kind = self.problem.kin(name, kind)
        key = (name, kind, regimes)
        if key not in self._trails:
            self._trails[key] = tuple(self._make_trails(name, kind, regimes))
        return self._trails[key]

    def _make_trails(self, name: str, kind: int, regimes: Regimes) -> Iterator[Trail]:
        if name == self.core:
            yield Trail((), Fraction(1), self.body(name, kind, regimes))
            return
        made = 0
        for child in self._on_way(name):
            around = between(self.tables, *self._edges(self.problem.span(self.nodes[name], kind)))
            for other in self.problem.consumers[name]:
                if other != child:
                    around = multiply(self.tables, around, self._child(other, name, kind, regimes))
            seen: set[tuple[Fraction, Pieces]] = set()
            for trail in self._below(child, name, kind, regimes):
                self.tables.tick()
                whole = multiply(self.tables, around, trail.pieces)
                pieces = Pieces(whole.points, tuple(self._on(each, name) for each in whole.keys))
                if any(key != self.tables.none for key in pieces.keys) and (trail.ratio, pieces) not in seen:
                    seen.add((trail.ratio, pieces))
                    made += 1
                    if made > MOST_TRAILS:
                        raise Undecided
                    yield replace(trail, pieces=pieces)

    def _below(self, name: str, above: str, kind: int, regimes: Regimes) -> Iterator[Trail]:
        """The ways through a consumer, by the frequency that feeds it."""
        node, problem = self.nodes[name], self.problem
        match node:
            case Selector():
                if not problem.held_elsewhere(node, above):
                    bit = problem.bits[name]
                    for trail in self.trails(name, kind, regimes):
                        keys = tuple(self.with_bit(key, bit) for key in trail.pieces.keys)
                        yield Trail(((name, above), *trail.steps), trail.ratio, Pieces(trail.pieces.points, keys))
            case Divider():
                for inner, ratios in problem.split(node, regimes):
                    for ratio in ratios:
                        for trail in self.trails(name, kind, inner):
                            pieces = stretched(self.tables, trail.pieces, ratio)
                            yield Trail(((name, ratio), *trail.steps), trail.ratio * ratio, pieces)
            case Scaler():
                ratio = 1 / factor_under(node, regimes)
                for trail in self.trails(name, kind, regimes):
                    pieces = stretched(self.tables, trail.pieces, ratio)
                    yield Trail(((name, None), *trail.steps), trail.ratio * ratio, pieces)
            case _:
                for trail in self.trails(name, kind, regimes):
                    yield replace(trail, steps=((name, None), *trail.steps))

    def whole_way(self, head: Head, trail: Trail, core: Fraction) -> tuple[Stop, ...]:
        """Every node from the oscillator down to the core, where that stands at a frequency."""
        stops = list(head.stops)
        if head.pll is not None and head.lattice is not None:
            point = head.lattice.at(core * trail.ratio)
            assert point is not None  # the core clock was reached by one
            stops.append(stop_at(head.pll, point))
        for name, value in trail.steps:
            stops.append(self._stop_below(stops[-1], name, value))
        return tuple(stops)

    def _stop_below(self, at: Stop, name: str, value: Value | None) -> Stop:
        node = self.nodes[name]
        settings = () if value is None else ((name, value),)
        match node:
            case Divider():
                ratio = Fraction(value or 1)
                regimes = next(inner for inner, ratios in self.problem.split(node, at.regimes) if ratio in ratios)
                return Stop(name, at.frequency / ratio, regimes, settings)
            case Scaler():
                return Stop(name, at.frequency * factor_under(node, at.regimes), at.regimes, settings)
        return Stop(name, at.frequency, at.regimes, settings)


def stop_at(pll: Pll, point: Point) -> Stop:
    """A PLL at a point of its lattice."""
    factors = factors_of_pll(pll, point.divider, point.place)
    settings = tuple((f"{pll.id}.{key}", value) for key, value in zip(FACTORS, factors, strict=True))
    return Stop(pll.id, point.frequency, (), settings)


def _upstream(problem: Problem, name: str) -> frozenset[str]:
    """A node and everything that can feed it."""
    above = {name}
    for each in reversed(problem.part.order):
        if each in above:
            above.update(problem.part.nodes[each].feeders)
    return frozenset(above)
