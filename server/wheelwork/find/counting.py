"""How many settings of a part are legal and meet their targets: counted exactly, without listing them.

Once every selector that matters has chosen, the nodes that matter form a forest; what can hang below a node depends on
its frequency and on which selectors are served there. So each node has a table by frequency (`pieces.py`), tables of
children multiply over disjoint sets of selectors, own choices add up. Every legal setting is met exactly once: a count
of 0 is the proof that none is legal.

Not decided (None): rules between clocks, conditions that a selector can lead around, a PLL that feeds a PLL through
more points than can be walked, or time that ran out.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from fractions import Fraction
from math import lcm

from wheelwork.clocks.propagate import roots, tolerance_of
from wheelwork.find.lattice import Feedbacks, count_in_pieces
from wheelwork.find.pieces import Pieces, between, everywhere, multiply, over_ratios, stretched
from wheelwork.find.tables import Key, Tables, Undecided
from wheelwork.judge.judgement import supply_suits
from wheelwork.part.nodes import Divider, Node, Oscillator, Part, Pll, Scaler, Selector, Step
from wheelwork.plan.plan import Plan, Target
from wheelwork.power.wait_states import last_row
from wheelwork.quantities.ratios import Run
from wheelwork.quantities.spans import EXACT, Span, Window

StillTime = Callable[[], bool]
Regimes = tuple[tuple[str, bool], ...]
"""Conditional dividers above a node, each with whether its ratio is above the number that its scalers ask for."""

MOST_POINTS = 20_000
MOST_BITS = 4000
"""Finer units than this are left alone: whole numbers of a thousand digits take too long."""


def count_settings(
    part: Part,
    plan: Plan,
    still_time: StillTime,
    targets: Iterable[Target] = (),
    pinned: Iterable[str] = (),
) -> int | None:
    """How many settings are legal and meet the targets, over all core-voltage steps; None where it is not decided.

    Loads in use, what is kept running and the board are the plan's; `pinned` settings keep the plan's value.
    """
    held, wanted = frozenset(pinned), tuple(targets)
    steps = [part.step(plan.core_voltage)] if "core_voltage" in held else part.steps
    try:
        return sum(_Count(part, plan, step, wanted, held, still_time).total() for step in steps)
    except Undecided:
        return None


@dataclass
class _Count:
    """The count at one core-voltage step."""

    part: Part
    plan: Plan
    step: Step
    targets: tuple[Target, ...]
    held: frozenset[str]
    still_time: StillTime

    def __post_init__(self) -> None:
        self.tables = Tables(self.still_time)
        if self.part.rules:
            raise Undecided
        self.settings = self.plan.complete(self.part)
        self.roots = {*roots(self.part, self.plan), *(target.node for target in self.targets)}
        self._spans: dict[tuple[str, str, bool], tuple[Fraction | None, Fraction | None]] = {}
        self._bodies: dict[tuple[str, str, Regimes], Pieces] = {}
        self._values: dict[tuple[str, Fraction, str, Regimes], Key] = {}
        self._look_down()
        self._conditions = self._find_conditions()
        self.unit = self._smallest_unit()

    def _look_down(self) -> None:
        """What hangs below each node: whether it must be on, can serve anything, has a PLL below."""
        nodes = self.part.nodes
        self.consumers: dict[str, list[str]] = {name: [] for name in nodes}
        for node in nodes.values():
            for feeder in node.feeders:
                self.consumers[feeder].append(node.id)
        self.needed: dict[str, bool] = {}
        self.useful: dict[str, bool] = {}
        self.pll_below: dict[str, bool] = {}
        for name in reversed(self.part.order):
            below = self.consumers[name]
            plain = [each for each in below if not isinstance(nodes[each], Selector)]
            self.needed[name] = name in self.roots or any(self.needed[each] for each in plain)
            self.useful[name] = name in self.roots or any(self.useful[each] for each in below)
            self.pll_below[name] = any(isinstance(nodes[each], Pll) or self.pll_below[each] for each in below)
        selectors = [name for name, node in nodes.items() if isinstance(node, Selector) and self.useful[name]]
        self.bits = {name: 1 << place for place, name in enumerate(selectors)}
        self.must = sum(bit for name, bit in self.bits.items() if self.needed[name])

    def _find_conditions(self) -> dict[str, Fraction]:
        """The dividers on which scalers depend, each with its number; no selector may stand between the two."""
        found: dict[str, Fraction] = {}
        for name, node in self.part.nodes.items():
            if isinstance(node, Scaler) and node.when_divider is not None and self.useful[name]:
                above = node.input
                while above != node.when_divider:
                    feeders = self.part.nodes[above].feeders
                    if len(feeders) != 1 or isinstance(self.part.nodes[above], Pll):
                        raise Undecided
                    above = feeders[0]
                if found.setdefault(node.when_divider, node.ratio_above) != node.ratio_above:
                    raise Undecided
        return found

    def _smallest_unit(self) -> int:
        """Units to the hertz, so that every edge, seen through every ratio on its way, is whole."""
        edges = _common_multiple(edge.denominator for source in self._sources() for edge in self._edges(source))
        ratios = _common_multiple(ratio for node in self.part.nodes.values() for ratio in _parts_of_ratios(node))
        if (ratios.bit_length() - 1) * len(self.part.nodes) > MOST_BITS:
            raise Undecided
        return edges * int(ratios ** len(self.part.nodes))

    def _sources(self) -> list[Oscillator]:
        return [node for node in self.part.nodes.values() if isinstance(node, Oscillator)]

    def _edges(self, source: Oscillator) -> Iterator[Fraction]:
        self.tables.tick()
        for node in self.part.nodes.values():
            yield from (edge for edge in self.span(node, source) if edge is not None)

    def tolerance(self, source: Oscillator) -> Span:
        """The tolerance of a source, none counted as exact."""
        return tolerance_of(source, self.plan) or EXACT

    def span(self, node: Node, source: Oscillator) -> tuple[Fraction | None, Fraction | None]:
        """Between which nominal frequencies a node may stand when fed from a source: window, flash, targets."""
        key = (node.id, source.id, False)
        if key not in self._spans:
            tolerance = self.tolerance(source)
            spans = [self._nominal(node.window(self.step.id), tolerance)]
            if node.id == self.part.flash_clock and self.step.flash:
                spans.append((None, self._flash_reach(tolerance)))
            spans += [_target_span(target, tolerance) for target in self.targets if target.node == node.id]
            self._spans[key] = _intersect(spans)
        return self._spans[key]

    def detector_span(self, node: Pll, source: Oscillator) -> tuple[Fraction | None, Fraction | None]:
        """The same for a PLL's phase detector."""
        key = (node.id, source.id, True)
        if key not in self._spans:
            self._spans[key] = self._nominal(node.phase_detector_window(self.step.id), self.tolerance(source))
        return self._spans[key]

    def _nominal(self, window: Window | None, tolerance: Span) -> tuple[Fraction | None, Fraction | None]:
        """A window as a span of the nominal frequency: where the tolerance counts, both edges are drawn in by it."""
        if window is None:
            return None, None
        if not (window.accuracy or self.part.with_tolerance):
            return window.lowest, window.highest
        low = None if window.lowest is None else window.lowest / (1 + tolerance.lowest)
        return low, None if window.highest is None else window.highest / (1 + tolerance.highest)

    def _flash_reach(self, tolerance: Span) -> Fraction:
        row = last_row(self.step, self.plan.supply)
        reach = Fraction(0) if row is None else row.up_to
        return reach / (1 + tolerance.highest) if self.part.with_tolerance else reach

    def total(self) -> int:
        """The count: each oscillator on at one of its frequencies or off, each selector that must be on served."""
        if not supply_suits(self.part, self.step, self.plan):
            return 0
        state = {0: 1}
        for source in self._sources():
            if self.useful[source.id]:
                state = self.tables.joined(state, self.tables.rows[self._source_table(source)])
        return sum(count for mask, count in state.items() if mask & self.must == self.must)

    def _source_table(self, source: Oscillator) -> Key:
        tried = self._frequencies(source)
        table = self.tables.total((self.value(source.id, frequency, source, ()), 1) for frequency in tried)
        return table if self.needed[source.id] else self.tables.or_off(table)

    def _frequencies(self, source: Oscillator) -> tuple[Fraction, ...]:
        fitted = self.plan.fitted.get(source.id)
        if source.fitted is not None:
            return () if fitted is None or fitted.frequency is None else (fitted.frequency,)
        if source.id in self.held and source.id in self.settings:
            return (Fraction(self.settings[source.id]),)
        return source.choices

    def value(self, name: str, frequency: Fraction, source: Oscillator, regimes: Regimes) -> Key:
        """The table of a node at one frequency."""
        if not self.pll_below[name]:
            return self.body(name, source, regimes).at(frequency * self.unit)
        key = (name, frequency, source.id, regimes)
        if key not in self._values:
            self.tables.tick()
            low, high = self.span(self.part.nodes[name], source)
            outside = (low is not None and frequency < low) or (high is not None and frequency > high)
            self._values[key] = self.tables.none if outside else self._children(name, frequency, source, regimes)
        return self._values[key]

    def _children(self, name: str, frequency: Fraction, source: Oscillator, regimes: Regimes) -> Key:
        table = self.tables.one
        for consumer in self.consumers[name]:
            if self.useful[consumer] and table != self.tables.none:
                table = self.tables.product(table, self._child_value(consumer, name, frequency, source, regimes))
        return table

    def _child_value(self, name: str, above: str, frequency: Fraction, source: Oscillator, regimes: Regimes) -> Key:
        node = self.part.nodes[name]
        match node:
            case Selector():
                if self._held_elsewhere(node, above):
                    return self.tables.one
                inner = self.value(name, frequency, source, regimes)
                return self.tables.or_not_chosen(inner, self.bits[name], self.needed[name])
            case Divider():
                ways = [
                    (self.value(name, frequency / ratio, source, inner), 1)
                    for inner, ratios in self._split(node, regimes)
                    for ratio in ratios
                ]
                table = self.tables.total(ways)
            case Scaler():
                table = self.value(name, frequency * _factor(node, regimes), source, regimes)
            case Pll():
                table = self.tables.total(self._lattice(node, frequency, source))
            case _:
                table = self.value(name, frequency, source, regimes)
        return table if self.needed[name] else self.tables.or_off(table)

    def _held_elsewhere(self, node: Selector, above: str) -> bool:
        return node.id in self.held and self.settings[node.id] != above

    def _split(self, node: Divider, regimes: Regimes) -> list[tuple[Regimes, list[Fraction]]]:
        """The ratios of a divider, apart by the condition that depends on them."""
        ratios = [Fraction(self.settings[node.id])] if node.id in self.held else list(self._listed(node))
        bound = self._conditions.get(node.id)
        if bound is None:
            return [(regimes, ratios)]
        parts = [(True, [r for r in ratios if r > bound]), (False, [r for r in ratios if r <= bound])]
        return [((*regimes, (node.id, above)), some) for above, some in parts if some]

    def _listed(self, node: Divider) -> Iterable[Fraction]:
        if node.ratios.size > MOST_POINTS:
            raise Undecided
        return node.ratios

    def body(self, name: str, source: Oscillator, regimes: Regimes) -> Pieces:
        """The tables of a node without a PLL below, by its own frequency."""
        key = (name, source.id, regimes)
        if key not in self._bodies:
            self.tables.tick()
            low, high = self.span(self.part.nodes[name], source)
            pieces = between(self.tables, self._whole(low), self._whole(high))
            for consumer in self.consumers[name]:
                if self.useful[consumer]:
                    pieces = multiply(self.tables, pieces, self._child(consumer, name, source, regimes))
            self._bodies[key] = pieces
        return self._bodies[key]

    def _whole(self, edge: Fraction | None) -> int | None:
        return None if edge is None else int(edge * self.unit)

    def _child(self, name: str, above: str, source: Oscillator, regimes: Regimes) -> Pieces:
        """The tables of a consumer, by the frequency that feeds it."""
        node, tables = self.part.nodes[name], self.tables
        match node:
            case Selector():
                if self._held_elsewhere(node, above):
                    return everywhere(tables.one)
                inner = self.body(name, source, regimes)
                keys = (tables.or_not_chosen(key, self.bits[name], self.needed[name]) for key in inner.keys)
                return Pieces(inner.points, tuple(keys))
            case Divider():
                pieces = self._divided(node, source, regimes)
            case Scaler():
                pieces = stretched(self.body(name, source, regimes), 1 / _factor(node, regimes))
            case _:
                pieces = self.body(name, source, regimes)
        return pieces if self.needed[name] else Pieces(pieces.points, tuple(tables.or_off(key) for key in pieces.keys))

    def _divided(self, node: Divider, source: Oscillator, regimes: Regimes) -> Pieces:
        parts = [
            over_ratios(self.tables, self.body(node.id, source, inner), ratios)
            for inner, ratios in self._split(node, regimes)
        ]
        return parts[0] if len(parts) == 1 else _both(self.tables, parts[0], parts[1])

    def _lattice(self, node: Pll, frequency: Fraction, source: Oscillator) -> Iterator[tuple[Key, int]]:
        """The tables of a PLL's VCO with how many of its factors lead to each."""
        low, high = self.detector_span(node, source)
        for divider in self._reference_dividers(node):
            detector = frequency / divider
            if (low is None or detector >= low) and (high is None or detector <= high):
                self.tables.tick()
                for feedbacks in self._feedbacks(node):
                    yield from self._points(node, detector, feedbacks, source)

    def _points(
        self, node: Pll, detector: Fraction, feedbacks: Feedbacks, source: Oscillator
    ) -> Iterator[tuple[Key, int]]:
        if not self.pll_below[node.id]:
            pieces = self.body(node.id, source, ())
            yield from count_in_pieces(pieces, detector * self.unit, feedbacks, self.tables.none)
            return
        if feedbacks.count(feedbacks.lowest, feedbacks.highest) > MOST_POINTS:
            raise Undecided
        for place in range(feedbacks.lowest, feedbacks.highest + 1):
            if feedbacks.count(place, place):
                yield self.value(node.id, detector * place / feedbacks.parts, source, ()), 1

    def _reference_dividers(self, node: Pll) -> Iterable[Fraction]:
        key = f"{node.id}.reference_divider"
        return (Fraction(self.settings[key]),) if self._is_held(node, key) else node.reference_divider

    def _feedbacks(self, node: Pll) -> list[Feedbacks]:
        fraction, feedback = f"{node.id}.fraction", f"{node.id}.feedback"
        pinned = int(Fraction(self.settings[fraction])) if self._is_held(node, fraction) else None
        runs: tuple[Run, ...] = node.feedback.runs
        if self._is_held(node, feedback):
            value = Fraction(self.settings[feedback])
            runs = (Run(value, value),)
        return [Feedbacks(run, node.fraction_of, pinned) for run in runs]

    def _is_held(self, node: Pll, key: str) -> bool:
        return key in self.held or node.id in self.held


def _both(tables: Tables, one: Pieces, other: Pieces) -> Pieces:
    """The sum of two piece functions: one way or the other."""
    points = sorted({*one.points, *other.points})
    keys = []
    for place in range(2 * len(points) + 1):
        spot = Fraction(points[place // 2]) if place % 2 else _inside(points, place // 2)
        keys.append(tables.total(((one.at(spot), 1), (other.at(spot), 1))))
    return Pieces(tuple(points), tuple(keys))


def _inside(points: list[int], gap: int) -> Fraction:
    """A place inside a gap between points."""
    if not points:
        return Fraction(0)
    if gap == 0:
        return Fraction(points[0] - 1)
    return Fraction(points[-1] + 1) if gap == len(points) else Fraction(points[gap - 1] + points[gap], 2)


def _factor(node: Scaler, regimes: Regimes) -> Fraction:
    if node.when_divider is None:
        return node.factor
    return node.factor if dict(regimes)[node.when_divider] else Fraction(1)


def _common_multiple(numbers: Iterable[int]) -> int:
    """The least common multiple. Raises Undecided where it grows beyond what can be reckoned with."""
    common = 1
    for number in numbers:
        common = lcm(common, number)
        if common.bit_length() > MOST_BITS:
            raise Undecided
    return common


def _parts_of_ratios(node: Node) -> Iterator[int]:
    """Numbers by which an edge may have to be divided on its way up."""
    if isinstance(node, Divider):
        yield from (run.first.denominator for run in node.ratios.runs)
    elif isinstance(node, Scaler):
        yield node.factor.numerator


def _intersect(
    spans: Iterable[tuple[Fraction | None, Fraction | None]],
) -> tuple[Fraction | None, Fraction | None]:
    low: Fraction | None = None
    high: Fraction | None = None
    for lowest, highest in spans:
        low = lowest if low is None else low if lowest is None else max(low, lowest)
        high = highest if high is None else high if highest is None else min(high, highest)
    return low, high


def _target_span(target: Target, tolerance: Span) -> tuple[Fraction | None, Fraction | None]:
    """Between which nominal frequencies a target is met; with a share, lowest and highest have to lie in the span."""
    spans = [(target.at_least, target.at_most)]
    if target.frequency is not None and target.within is None:
        spans.append((target.frequency, target.frequency))
    elif target.frequency is not None and target.within is not None:
        low = target.frequency * (1 - target.within) / (1 + tolerance.lowest)
        spans.append((low, target.frequency * (1 + target.within) / (1 + tolerance.highest)))
    return _intersect(spans)
